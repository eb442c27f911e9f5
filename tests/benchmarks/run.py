"""How fast sowcal is, as ratios measured side by side: `python tests/benchmarks/run.py [--quick] [--json FILE]`.

Prints a table with the machine, the versions, medians (of processor time, but for the grid, where it is told
beside time by the clock) and ratios; `--only` keeps to one subject. Where two ways to
the same dates do not give the same dates, it stops without a ratio.
"""

from __future__ import annotations

import argparse
import importlib
import json
import os
import platform
import sys
import warnings
from collections.abc import Callable, Sequence
from importlib.metadata import version
from pathlib import Path

from measure import FULL, QUICK, SMALLEST, Row, Size

SUBJECTS = ("crops", "chill", "degree_days", "evapotranspiration", "processes", "season", "grid")
SIZES = {"full": FULL, "quick": QUICK, "smallest": SMALLEST}


def machine() -> str:
    """The machine and the versions that stand behind the figures."""
    model = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.exists():
        lines = [line for line in info.read_text().splitlines() if line.startswith("model name")]
        model = lines[0].partition(":")[2].strip() if lines else model
    threads = os.environ.get("OMP_NUM_THREADS", "not set")
    packages = ", ".join(f"{name} {version(name)}" for name in ("numpy", "pandas", "xarray", "dask", "xclim"))
    return (
        f"{model}, {os.cpu_count()} cores, {platform.system()}, Python {platform.python_version()}\n"
        f"{packages}; OMP_NUM_THREADS {threads}"
    )


def measured(size: Size, subjects: Sequence[str] = SUBJECTS, told: Callable[[Row], None] | None = None) -> list[Row]:
    """Rows of the subjects asked for, in their order."""
    out: list[Row] = []
    for subject in subjects:
        for row in importlib.import_module(subject).rows(size):
            out.append(row)
            if told:
                told(row)
    return out


def _amount(value: float, unit: str) -> str:
    if unit == "s" and value < 0.1:
        return f"{value * 1000:.3g} ms"
    return f"{value:,.0f} {unit}" if value >= 100 else f"{value:.3g} {unit}"


def line(row: Row) -> str:
    """A row of the table."""
    ratio = f"{row.ratio:,.0f}" if row.ratio >= 100 else f"{row.ratio:.3g}"
    here, there = _amount(row.here, row.unit), _amount(row.there, row.unit)
    met = "yes" if row.met else "no"
    return f"| {row.work} | {row.against} | {here} | {there} | {ratio} | {row.goal} | {met} |"


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure, print the table, write the JSON."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="fewer sites, start days and repetitions")
    parser.add_argument("--size", choices=sorted(SIZES), help=argparse.SUPPRESS)
    parser.add_argument("--only", choices=SUBJECTS, action="append", help="one subject (may be given again)")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write work, against, ratio, goal, met")
    options = parser.parse_args(arguments)
    size = SIZES[options.size or ("quick" if options.quick else "full")]
    warnings.simplefilter("ignore")  # of the other libraries; ours are errors in the tests
    print(machine() + "\n")
    print("| work | against | here | there | ratio | goal | met |\n| --- | --- | --- | --- | --- | --- | --- |")
    rows = measured(size, options.only or SUBJECTS, lambda row: print(line(row), flush=True))
    if options.json:
        beside = options.json.with_name(options.json.name + ".part")
        beside.write_text(json.dumps([row.to_json() for row in rows], indent=1) + "\n", encoding="utf-8")
        beside.replace(options.json)
    return 0


if __name__ == "__main__":
    sys.exit(main())
