"""Rows on whole processes: what a user waits for, against what nobody can do without, the import of numpy."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from functools import partial
from itertools import count
from pathlib import Path

from measure import Row, Size, side_by_side

import sowcal
from sowcal.weather.open_site import open_weather

__all__ = ["rows", "run_python"]

PLOT, OTHER = "sallowdene", "wrackhythe"
SITE = """name = "A plot (invented)"
latitude = 38.4
longitude = -15.1
elevation = 210
[weather]
source = "file"
file = "days.csv"
temperature_unit = "degC"
"""


def rows(size: Size) -> list[Row]:
    """All rows on whole processes."""
    # the smallest size only tries whether the programs run: one crop does
    chosen, named = (["radish"], "radish") if size.processes == 1 else (["--all"], "all crops")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        taken = _taken(folder, chosen, size)
        if not (folder / "plot.html").stat().st_size:
            raise AssertionError("no page was written")
    numpy, first, again = "python -c 'import numpy'", "first question", "second question on the same plot"
    return [
        Row("sowcal --help", numpy, taken["help"], taken["numpy"], most=1.5),
        Row("import sowcal", numpy, taken["import"], taken["numpy"], most=1.5),
        Row(f"sowcal chart, radish, CSV record, {first}", numpy, taken["csv"], taken["numpy"], most=3),
        Row(f"sowcal chart, radish, CSV record, {again}", numpy, taken["csv again"], taken["numpy"], most=2.5),
        Row(f"sowcal chart, {named}, {first}", numpy, taken["chart"], taken["numpy"], most=7),
        *(
            Row(f"sowcal {what.split()[0]}, {named}, {again}", numpy, taken[what], taken["numpy"], most=2.5)
            for what in ("chart again", "rate", "week", "compare", "page again")
        ),
        Row(f"sowcal garden, {again}", numpy, taken["garden"], taken["numpy"], most=2.5),
        Row(f"sowcal page, {named}, after a chart of the same plot", numpy, taken["page"], taken["numpy"], most=6),
    ]


def _taken(folder: Path, chosen: list[str], size: Size) -> dict[str, float]:
    """Processor seconds of each program; a first question finds a cache that is empty, a second what the first left."""
    _write_site(folder)
    fresh, charted = count(), count()
    sow, mine, page = ["-m", "sowcal"], str(folder / "my.toml"), str(folder / "plot.html")
    first = {
        "chart": [*sow, "chart", PLOT, *chosen],
        "csv": [*sow, "chart", mine, "radish"],
    }
    second = {
        "csv again": first["csv"],
        "chart again": first["chart"],
        "rate": [*sow, "rate", PLOT, *chosen],
        "week": [*sow, "week", PLOT, *chosen],
        "compare": [*sow, "compare", PLOT, OTHER, *chosen],
        "garden": [*sow, "garden", "--issued", "2026-01-15"],
        "page again": [*sow, "page", PLOT, *chosen, "--out", page],
    }
    after = {"page": [*sow, "page", PLOT, *chosen, "--out", page]}
    bare = {"numpy": ["-c", "import numpy"], "import": ["-c", "import sowcal"], "help": [*sow, "--help"]}

    def asked_first(words: list[str]) -> None:
        run_python(words, SOWCAL_CACHE=str(folder / f"empty {next(fresh)}"))

    def asked_after_a_chart(words: list[str]) -> None:
        run_python(words, SOWCAL_CACHE=str(folder / f"charted {next(charted)}"))

    kept = partial(run_python, SOWCAL_CACHE=str(folder / "kept"))
    kept(first["chart"])
    for k in range(size.processes + 2):
        shutil.copytree(folder / "kept", folder / f"charted {k}")
    for words in second.values():
        kept(words)
    works = {
        **{name: partial(kept, words) for name, words in bare.items()},
        **{name: partial(asked_first, words) for name, words in first.items()},
        **{name: partial(kept, words) for name, words in second.items()},
        **{name: partial(asked_after_a_chart, words) for name, words in after.items()},
    }
    medians = side_by_side(*works.values(), repeats=size.processes, warm_up=size.processes > 1)
    return dict(zip(works, medians, strict=True))


def _write_site(folder: Path) -> None:
    """The bundled plot's days as a grower's own table."""
    record = open_weather(PLOT)[1]
    columns = zip(record.time, record["tasmin"], record["tasmax"], record["pr"], strict=True)
    lines = [f"{day},{low:.1f},{high:.1f},{rain:.1f}" for day, low, high, rain in columns]
    (folder / "days.csv").write_text("\n".join(["date,tmin,tmax,rain", *lines]) + "\n", encoding="utf-8")
    (folder / "my.toml").write_text(SITE, encoding="utf-8")


def run_python(arguments: list[str], **more: str) -> None:
    """Run Python with these arguments and more of an environment; AssertionError where it fails."""
    root = str(Path(sowcal.__file__).parents[1])
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([root, os.environ.get("PYTHONPATH", "")]), **more}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)  # packages are compiled as they are installed, ours too
    done = subprocess.run([sys.executable, *arguments], env=environment, capture_output=True, text=True, check=False)
    if done.returncode:
        raise AssertionError(f"python {' '.join(arguments)} ended with {done.returncode}: {done.stderr[-300:]}")
