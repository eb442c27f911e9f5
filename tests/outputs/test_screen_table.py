"""Tables on narrow screens: nothing is cut, least of all a figure; what is checked is the text that went in."""

from __future__ import annotations

import random
import re

import numpy as np
import pytest

from sowcal.climate.place_figures import chill_definitions
from sowcal.climate.summary import BothWays
from sowcal.outputs.reports import chill_text, quality_text
from sowcal.outputs.terminal import screen_width, table
from sowcal.weather.quality import Problem, QualityReport

CHILL = [
    ["", "seasons", "hourly, mean", "rebuilt, mean", "rebuilt minus hourly", "in single seasons"],
    ["chill portions", "11", "44", "47", "+3.0", "+1.4 to +5.1"],
    ["hours below 7.2", "11", "1034", "1254", "+219.4", "+206.0 to +226.0"],
]


@pytest.mark.parametrize("width", [60, 72, 80])
def test_the_figures_of_the_chill_table_stand_whole(width):
    lines = table(CHILL, width, right=(1, 2, 3))
    assert max(map(screen_width, lines)) <= width
    text = "\n".join(lines)
    assert "~" not in text
    assert all(any(cell in line for line in lines) for row in CHILL[1:] for cell in row[1:])
    words = sorted(re.findall(r"\S+", " ".join(c for row in CHILL for c in row)))
    assert sorted(re.findall(r"\S+", text)) == words


def test_a_table_that_fits_is_one_line_a_row():
    lines = table(CHILL, 100, right=(1, 2, 3))
    assert len(lines) == 3
    assert lines[2].split("  ")[0] == "hours below 7.2"


def test_no_word_is_lost_at_any_width():
    """Random tables: every letter that went in comes out, in its column, within the width."""
    rng = random.Random(4)
    letters = "abcdefgh0123456789.+-"
    for _ in range(200):
        columns = rng.randint(2, 7)
        rows = [
            [
                " ".join(
                    "".join(rng.choice(letters) for _ in range(rng.randint(1, 12))) for _ in range(rng.randint(0, 4))
                )
                for _ in range(columns)
            ]
            for _ in range(rng.randint(2, 6))
        ]
        width = rng.randint(60, 120)
        lines = table(rows, width, right=tuple(k for k in range(columns) if rng.random() < 0.4))
        assert max(map(screen_width, lines), default=0) <= width
        put = sorted("".join(c for row in rows for c in row).replace(" ", ""))
        assert sorted("".join(lines).replace(" ", "")) == put


def test_a_word_too_long_for_the_screen_runs_on():
    lines = table([["crop", "limit"], ["x" * 90, "frost 1.5"]], 60)
    assert sum(line.count("x") for line in lines) == 90
    assert any(line.endswith("frost") for line in lines)


def test_a_name_that_runs_on_stands_in():
    lines = table([["crop and way", "window"], ["globe artichoke set out in the autumn rains", "1 Oct to 9 Nov"]], 40)
    assert lines[1].endswith("1 Oct to 9 Nov")
    assert all(line.startswith("  ") for line in lines[2:])


def test_chill_text_at_eighty_columns():
    found = [
        BothWays(
            model="hours below 7.2",
            years=np.array([2018, 2019]),
            measured=np.array([1034.0, 1001.0]),
            rebuilt=np.array([1254.0, 1227.5]),
        )
    ]
    text = chill_text(found, "Ness", chill_definitions(57.0), width=80)
    assert "+220.0 to +226.5" in text
    assert "~" not in text


def test_the_same_days_are_told_once():
    """Gaps of several columns on the same days are one line, in words a grower uses; others stay apart."""
    gap = "2001-02-01", "2001-02-28", 28
    problems = [Problem("gap", *gap, f"{v}: left missing", v) for v in ("pr", "tasmax", "tasmin")]
    problems += [Problem("gap", "2001-05-01", "2001-05-01", 1, "tasmin: filled, and flagged as such", "tasmin")]
    problems += [Problem("repeat", *gap, "tasmin and tasmax are those of the days from 1999-02-01; left as it stands")]
    report = QualityReport("Ness", "2001-01-01", "2001-12-31", 1.0, 92.1, 1, tuple(problems), ())
    text = quality_text(report, width=100)
    assert "1 day filled" in text
    assert "GAP (days without a reading): 2 times" in text
    assert "1 Feb 2001 to 28 Feb 2001, 28 days: rain, maximum, minimum: left missing" in text
    assert "1 May 2001, 1 day: minimum: filled, and flagged as such" in text
    assert "28 days: minimum and maximum are those of the days from 1999-02-01" in text
