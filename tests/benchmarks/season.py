"""Rows on a season in progress: what a log of twenty years costs against that of one spring, as whole processes."""

from __future__ import annotations

import datetime as dt
import os
import tempfile
from collections.abc import Iterator
from functools import partial
from pathlib import Path

from measure import Row, Size, side_by_side
from processes import run_python

from sowcal.season_log import COLUMNS

__all__ = ["log_lines", "rows"]

LONG, SHORT = 2_000, 20
DAY = dt.date(2020, 6, 1)
SOWN = (
    ("sown outdoors", "carrot", 75),
    ("set out", "tomato (large)", 110),
    ("sown outdoors", "broad bean", 20),
    ("sown outdoors", "lettuce (leaf)", 60),
    ("planted", "potato (early)", 50),
)  # event, crop and day of the year, invented


def _year(year: int, lines: int) -> Iterator[tuple[dt.date, str]]:
    """So many lines of one year: five sowings, each watered, and picked where the year is over."""
    begins, made = dt.date(year, 1, 1), 0
    for bed, (event, crop, day) in enumerate(SOWN, 1):
        yield begins + dt.timedelta(days=day), f"{event},{crop},an invented sort,{bed},20,,"
        made += 1
        if year < DAY.year:
            yield begins + dt.timedelta(days=day + 90), f"first picked,{crop},,{bed},,1.5,"
            yield begins + dt.timedelta(days=day + 140), f"cleared,{crop},,{bed},,,"
            made += 2
    for k in range(lines - made):
        yield begins + dt.timedelta(days=120 + k % 30), f"watered,,,{k % 5 + 1},,{30 + k % 7},"


def log_lines(count: int) -> list[str]:
    """A log of so many lines whose last twenty are of the spring in progress, and a hundred a year of those before."""
    years = [DAY.year - k for k in range((count - SHORT) // 99 + 1)][::-1]
    dated = [line for year in years for line in _year(year, SHORT if year == DAY.year else 99)]
    return [f"{day},{rest}" for day, rest in dated][-count:]


def rows(size: Size) -> list[Row]:
    """All rows on a season in progress."""
    before = os.environ.get("SOWCAL_HOME")
    with tempfile.TemporaryDirectory() as folder:
        works: dict[str, list[str]] = {"chart": ["-m", "sowcal", "chart", "sallowdene", "radish"]}
        for name, count in (("long", LONG), ("short", SHORT)):
            home = Path(folder) / name / "logs"
            home.mkdir(parents=True)
            lines = log_lines(count)
            if len(lines) != count:
                raise AssertionError(f"{len(lines)} lines where {count} are wanted")
            (home / "sallowdene.log.csv").write_text("\n".join([",".join(COLUMNS), *lines]) + "\n", encoding="utf-8")
            works[f"season {name}"] = ["-m", "sowcal", "season", "sallowdene", "--date", DAY.isoformat()]
            works[f"log {name}"] = ["-m", "sowcal", "log", "watered", "30", "--bed", "1", "--site", "sallowdene"]

        def done(name: str) -> None:
            run_python(works[name], SOWCAL_HOME=str(Path(folder) / name.split()[-1]))

        medians = side_by_side(*(partial(done, n) for n in works), repeats=size.processes, warm_up=size.processes > 1)
    assert os.environ.get("SOWCAL_HOME") == before
    taken = dict(zip(works, medians, strict=True))
    many, few = f"a log of {LONG:,} lines", f"a log of {SHORT} lines"
    return [
        Row(f"sowcal season, {many}", f"the same, {few}", taken["season long"], taken["season short"], most=3),
        Row(
            f"sowcal log, one line more to {many}", f"the same to {few}", taken["log long"], taken["log short"], most=3
        ),
        Row(f"sowcal season, {few}", "sowcal chart, radish", taken["season short"], taken["chart"], most=3),
    ]
