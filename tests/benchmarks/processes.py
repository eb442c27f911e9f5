"""Rows on whole processes: what a user waits for, against the imports that nobody can do without."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from functools import partial
from pathlib import Path

from measure import Row, Size, side_by_side

import sowcal

__all__ = ["rows", "run_python"]


def rows(size: Size) -> list[Row]:
    """All rows on whole processes."""
    # the smallest size only tries whether the programs run: one crop does
    chosen = ["radish"] if size.processes == 1 else ["--all"]
    named = "radish" if size.processes == 1 else "all crops"
    with tempfile.TemporaryDirectory() as folder:
        page = str(Path(folder) / "plot.html")
        works = {
            "numpy": ["-c", "import numpy"],
            "xarray": ["-c", "import xarray"],
            "import": ["-c", "import sowcal"],
            "help": ["-m", "sowcal", "--help"],
            "chart": ["-m", "sowcal", "chart", *chosen, "--fresh"],
            "again": ["-m", "sowcal", "chart", *chosen],
            "page": ["-m", "sowcal", "page", *chosen, "--out", page, "--fresh"],
        }
        kept = partial(run_python, SOWCAL_CACHE=folder)
        kept(works["again"])  # the first question, whose answer the second finds
        medians = side_by_side(
            *(partial(kept, a) for a in works.values()), repeats=size.processes, warm_up=size.processes > 1
        )
        if not Path(page).stat().st_size:
            raise AssertionError("no page was written")
    taken = dict(zip(works, medians, strict=True))
    return [
        Row("sowcal --help", "python -c 'import numpy'", taken["help"], taken["numpy"], most=1.5),
        Row("import sowcal", "python -c 'import numpy'", taken["import"], taken["numpy"], most=1.5),
        Row(f"sowcal chart, {named}, bundled plot", "python -c 'import xarray'", taken["chart"], taken["xarray"],
            most=2),
        Row(f"sowcal chart, {named}, the second question", "python -c 'import numpy'", taken["again"], taken["numpy"],
            most=2.5),
        Row(f"sowcal page, {named}, bundled plot", "sowcal chart", taken["page"], taken["chart"], most=4),
    ]  # fmt: skip


def run_python(arguments: list[str], **more: str) -> None:
    """Run Python with these arguments and more of an environment; AssertionError where it fails."""
    root = str(Path(sowcal.__file__).parents[1])
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([root, os.environ.get("PYTHONPATH", "")]), **more}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)  # packages are compiled as they are installed, ours too
    done = subprocess.run([sys.executable, *arguments], env=environment, capture_output=True, text=True, check=False)
    if done.returncode:
        raise AssertionError(f"python {' '.join(arguments)} ended with {done.returncode}: {done.stderr[-300:]}")
