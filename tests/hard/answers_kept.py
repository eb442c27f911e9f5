"""Every answer of every command kept as a digest, so that a change of the house that is to change no answer can say so.

    python tests/hard/answers_kept.py            name the answers that differ from the kept ones
    python tests/hard/answers_kept.py --write    keep the answers as they are now

`goldens.py` beside this keeps fewer answers, in words that a person can read. What differs here is looked at by asking
the same question of the commit before. The program's version and fingerprints of tables and records are left out.
"""

from __future__ import annotations

import contextlib
import csv
import hashlib
import io
import json
import os
import re
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from unittest import mock

import numpy as np

KEPT = Path(__file__).with_name("answers_kept.json")
PLOTS = ("wrackhythe", "sallowdene")
REAL = ("seville", "perth", "de_bilt")
RECORD = "an invented record"
DAY = ["--date", "2026-03-16"]
ISSUED = ["--issued", "2026-01-15"]
SOME = ["tomato (large)", "broad bean", "garlic (hardneck)", "lettuce (head)", "rhubarb", "olive"]
ANY_VERSION = "0.1.0"  # stands in every answer in place of the version, in calendars and drawn letters too
_MADE = re.compile(r"Made by sowcal.*?\.(?=\s*$|\s*<|\n)|sowcal [\d.]+ from|[0-9a-f]{8,64}", re.DOTALL)


def questions(place: str) -> dict[str, list[str]]:
    """Name of each question put to a place, and the words of the call."""
    return {
        "climate": ["climate", place],
        "rate": ["rate", place, "--all"],
        "rate some, with mulch and shade": ["rate", place, *SOME, "--with", "mulch", "--with", "shade-cloth=40"],
        "chart": ["chart", place, "--all", *ISSUED],
        "chart some, of the last years": ["chart", place, *SOME, "--years", "8"],
        "chart some, stricter": [
            "chart",
            place,
            *SOME,
            "--reliability",
            "0.95",
            "--least-yield",
            "0.7",
            "--longest",
            "2",
        ],
        "chart some, little water": ["chart", place, *SOME, "--most-water", "200"],
        "chart some, on rain": ["chart", place, *SOME, "--rain-fed"],
        "week": ["week", place, "--all", *DAY],
        "weather check": ["weather", "check", place],
        "weather trend": ["weather", "trend", place],
    }


COMMON = {
    "compare": ["compare", *PLOTS, "--all"],
    "compare, warmer": ["compare", "sallowdene", "--with", "warmer=2"],
    "garden": ["garden", *ISSUED],
    "crops": ["crops"],
    "crops of one": ["crops", "tomato (large)"],
}
FILES = {  # written, and read again as bytes
    "chart.ics": ["chart", "sallowdene", *SOME, "--year", "2026", *ISSUED],
    "chart.svg": ["chart", "sallowdene", *SOME, *ISSUED],
    "page.html": ["page", "sallowdene", *ISSUED],
    "both.html": ["page", *PLOTS, *SOME, *ISSUED],
}


def invented_record(folder: Path) -> Path:
    """A site file beside nine invented years as a station's table has them: gaps, rain as a trace, a warm last year."""
    rng = np.random.default_rng(11)
    days = np.arange("2009-01-01", "2018-01-01", dtype="datetime64[D]")
    wave = np.cos(2 * np.pi * (days - days[0]).astype(int) / 365.25 - 0.4)
    middle = 15.5 - 7.5 * wave + rng.normal(0.0, 2.6, days.size) + np.where(days >= np.datetime64("2017-01-01"), 0.8, 0)
    half = rng.uniform(3.0, 8.0, days.size)
    rain = np.where(rng.uniform(size=days.size) < 0.18 + 0.15 * wave, rng.exponential(7.0, days.size), 0.0)
    lost = np.zeros(days.size, dtype=bool)
    for begin, length in ((40, 3), (700, 2), (1500, 24), (2600, 6)):
        lost[begin : begin + length] = True
    with (folder / "days.csv").open("w", encoding="utf-8", newline="") as table:
        rows = csv.writer(table)
        rows.writerow(["date", "tmin", "tmax", "precip"])
        for day, m, h, r, gap in zip(days, middle, half, rain, lost, strict=True):
            rows.writerow([day, *(("", "") if gap else (f"{m - h:.1f}", f"{m + h:.1f}")), f"{r:.1f}"])
    site = folder / "invented.toml"
    site.write_text(
        'name = "an invented record"\nlatitude = 38.4\nlongitude = -7.2\nelevation = 140\n[weather]\nsource = "file"\n'
        'file = "days.csv"\ntemperature_unit = "degC"\n',
        encoding="utf-8",
    )
    return site


def real_site(folder: Path, station: str) -> Path:
    weather = Path(os.environ["SOWCAL_REFERENCE"]) / "weather"
    with (weather / "stations.csv").open(encoding="utf-8") as table:
        row = next(r for r in csv.DictReader(table) if r["station"] == station)
    site = folder / f"{station}.toml"
    site.write_text(
        f'name = "{station}"\nlatitude = {row["latitude"]}\nlongitude = {row["longitude"]}\n'
        f'elevation = {row["elevation_m"]}\n[weather]\nsource = "file"\nfile = "{weather / station}.csv"\n'
        'temperature_unit = "degC"\n',
        encoding="utf-8",
    )
    return site


def _asked(words: list[str]) -> str:
    """What a call prints, with what it says beside the answer; a refusal is an answer too."""
    import sowcal
    from sowcal.__main__ import main

    out, err = io.StringIO(), io.StringIO()
    # whatever screen the tests run on, and whatever is remembered of who runs them
    same_screen = mock.patch.dict(os.environ, {"COLUMNS": "100", "LINES": "24", "SOWCAL_HOME": os.devnull})
    same_version = mock.patch.object(sowcal, "__version__", ANY_VERSION)
    try:
        with same_screen, same_version, contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = main(words)
    except SystemExit:
        raise AssertionError(f"the words of {words} are off: {err.getvalue()}") from None
    return f"{out.getvalue()}\n{err.getvalue()}\n{code}" if code or "--json" not in words else out.getvalue()


def _digest(value: Any) -> str:
    text = value if isinstance(value, str) else json.dumps(value, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()[:10]


def _json_digests(text: str, folder: Path) -> dict[str, str]:
    """A digest for each key of an answer, for each crop where there are crops."""
    text = text.replace(str(folder), "")
    if not text.lstrip().startswith("{"):
        return {"refused": _digest(text)}
    answer = json.loads(text)
    answer.pop("made_by", None)
    found = {}
    for key, value in answer.items():
        if isinstance(value, list) and value and isinstance(value[0], dict) and "crop" in value[0]:
            found.update({f"{key}: {line['crop']}": _digest(line) for line in value})
        else:
            found[key] = _digest(value)
    return found


def _place_answers(place: str, folder: Path) -> dict[str, dict[str, str]]:
    found = {}
    for name, words in questions(place).items():
        found[name] = _json_digests(_asked([*words, "--json"]), folder)
        found[name]["text"] = _digest(_MADE.sub("", _asked(words)).replace(str(folder), ""))
    return found


def _common_answers(folder: Path) -> dict[str, dict[str, str]]:
    found = {}
    for name, words in COMMON.items():
        found[name] = _json_digests(_asked([*words, "--json"]), folder)
        found[name]["text"] = _digest(_MADE.sub("", _asked(words)))
    for name, words in FILES.items():
        _asked([*words, "--out", str(folder / name)])
        text = (folder / name).read_text(encoding="utf-8").replace("\r\n ", "")
        found[name] = {"file": _digest(_MADE.sub("", text))}
    return found


def parts(folder: Path) -> dict[str, Callable[[], dict[str, dict[str, str]]]]:
    """What is kept, by place; places of the reference folder only where it is at hand."""
    places = {name: name for name in PLOTS} | {RECORD: str(invented_record(folder))}
    if os.environ.get("SOWCAL_REFERENCE"):
        places |= {name: str(real_site(folder, name)) for name in REAL}
    return {
        **{name: lambda place=place: _place_answers(place, folder) for name, place in places.items()},
        "any place": lambda: _common_answers(folder),
    }


def differences(kept: dict[str, dict[str, str]], now: dict[str, dict[str, str]]) -> Iterator[str]:
    """Name of each answer that differs."""
    for question in dict.fromkeys([*kept, *now]):
        before, after = kept.get(question, {}), now.get(question, {})
        for key in dict.fromkeys([*before, *after]):
            if before.get(key) != after.get(key):
                yield f"{question} / {key}"


def main(words: list[str]) -> int:
    """Name the differences; keep the answers with --write."""
    if words not in ([], ["--write"]):
        print(__doc__)
        return 2
    kept = json.loads(KEPT.read_text(encoding="utf-8")) if KEPT.is_file() else {}
    found = []
    with tempfile.TemporaryDirectory() as folder:
        for name, answers in parts(Path(folder)).items():
            now = answers()
            found += [f"{name} / {line}" for line in differences(kept.get(name, {}), now)]
            kept[name] = now
    print("\n".join(found) if found else "nothing differs from the kept answers")
    if words and found:
        KEPT.write_text(json.dumps(kept, indent=0, ensure_ascii=False) + "\n", encoding="utf-8")
        print(f"{len(found)} answers differ; {KEPT.name} is renewed: give the reason in the commit")
        return 0
    return int(bool(found))


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))
    sys.exit(main(sys.argv[1:]))
