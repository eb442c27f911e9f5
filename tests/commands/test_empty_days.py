"""Empty rows before or after a record are no part of it: no answer moves."""

from __future__ import annotations

import json

import numpy as np
import pytest

from sowcal.__main__ import main

SITE = """name = "an invented plot"
latitude = 39.0
longitude = -8.0
elevation = 60

[weather]
source = "file"
file = "days.csv"
temperature_unit = "degC"
"""
QUESTIONS = {
    "climate": ["climate", "SITE", "--json"],
    "chart": ["chart", "SITE", "broad bean", "tomato (large)", "lettuce (head)", "--json"],
    "rate": ["rate", "SITE", "olive", "orange", "courgette", "--json"],
    "week": ["week", "SITE", "--date", "2026-03-16", "--json"],
    "last years": ["chart", "SITE", "broad bean", "--years", "4", "--json"],
}


def written(folder, before, after):
    """Seven invented years with so many empty days before and after them."""
    rng = np.random.default_rng(5)
    days = np.datetime64("2011-03-10") + np.arange(7 * 365 + 40)
    wave = np.cos(2 * np.pi * (days.astype(int) - days[0].astype(int) + 50) / 365.25)
    middle = 16.5 - 8.0 * wave + rng.normal(0.0, 2.5, days.size)
    half = rng.uniform(3.5, 7.0, days.size)
    rain = np.where(rng.uniform(size=days.size) < 0.15 + 0.15 * wave, rng.exponential(8.0, days.size), 0.0)
    rows = [f"{days[0] - k},,," for k in range(before, 0, -1)]
    rows += [f"{d},{m - h:.1f},{m + h:.1f},{r:.1f}" for d, m, h, r in zip(days, middle, half, rain, strict=True)]
    rows += [f"{days[-1] + k},,," for k in range(1, after + 1)]
    folder.mkdir()
    (folder / "days.csv").write_text("date,tasmin,tasmax,pr\n" + "\n".join(rows) + "\n")
    (folder / "site.toml").write_text(SITE)
    return str(folder / "site.toml")


def answered(capsys, site, words):
    assert main([site if w == "SITE" else w for w in words]) == 0
    answer = json.loads(capsys.readouterr().out)
    answer.pop("made_by", None)
    for key in ("last", "missing_days"):
        answer.get("record", {}).pop(key, None)
    return answer


@pytest.mark.parametrize("question", QUESTIONS)
@pytest.mark.parametrize(("before", "after"), [(0, 400), (35, 0), (500, 9)])
def test_no_answer_moves(capsys, tmp_path, question, before, after):
    plain = written(tmp_path / "plain", 0, 0)
    padded = written(tmp_path / "padded", before, after)
    assert answered(capsys, padded, QUESTIONS[question]) == answered(capsys, plain, QUESTIONS[question])
