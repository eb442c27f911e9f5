"""Hold the sowing chart against printed month guides: `python tests/validation/guides.py [--brief]`.

Needs the folder of real records and guides that the environment variable SOWCAL_REFERENCE names. For each
region and crop it prints the guide's months, ours, and for every month missed or too many what the engine says
of it; then strict and tolerant F1 with the interval from resampling crops, beside two calendars that know no
climate: all year, and two classes fitted to that very guide.
"""

from __future__ import annotations

import contextlib
import csv
import importlib.util
import io
import json
import os
import sys
import tempfile
from pathlib import Path

import numpy as np

from sowcal.answers import sowing_chart
from sowcal.outputs.json_form import chart_json
from sowcal.seasons.settings import Settings
from sowcal.suitability.results import SowingChart

# guide, region as it begins there, station, months that the guide covers
PAIRS = (
    ("UC-CA4", "Interior", "five_points_ca", None),
    ("UC-CA4", "South Coast", "san_diego_ca", None),
)
MIDDLE = np.cumsum([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30]) + 14


def reference() -> Path:
    """The folder of real records and guides."""
    folder = os.environ.get("SOWCAL_REFERENCE", "")
    if not folder or not Path(folder).is_dir():
        sys.exit("set SOWCAL_REFERENCE to the folder of real records and guides")
    return Path(folder)


def scorer(folder: Path):
    """The scoring module that stands beside the guides."""
    spec = importlib.util.spec_from_file_location("skill", folder / "tools" / "skill.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def station_record(folder: Path, station: str):
    """A real record through the project's own site file."""
    from sowcal.weather.open_site import open_weather

    with open(folder / "weather" / "stations.csv", newline="", encoding="utf-8") as file:
        row = next(r for r in csv.DictReader(file) if r["station"] == station)
    with tempfile.TemporaryDirectory() as work:
        site = Path(work) / f"{station}.toml"
        site.write_text(
            f'name = "{station}"\nlatitude = {row["latitude"]}\nlongitude = {row["longitude"]}\n'
            f'elevation = {row["elevation_m"]}\n[weather]\nsource = "file"\n'
            f"file = {json.dumps(str(folder / 'weather' / (station + '.csv')))}\n"
            'temperature_unit = "degC"\n',
            encoding="utf-8",
        )
        return open_weather(str(site))[1]


def reasons(chart: SowingChart, crops: list[str], months: set[int]) -> str:
    """What the engine says of the middle of each month, for the best of a crop's ways and types."""
    out = []
    for month in sorted(months):
        day = int(MIDDLE[month - 1])
        best = None
        for line in chart.crops:
            if line.crop.split(" (")[0] not in crops:
                continue
            for start in line.starts:
                if start.reliability is None:
                    continue
                rel, frac = start.reliability[day], start.yield_fraction[day]
                if best is None or rel * frac > best[0]:
                    why = next(
                        (o.hazard for o in start.outside if (day - o.start) % 365 <= (o.end - o.start) % 365),
                        "",
                    )
                    best = (rel * frac, f"{month}: {rel:.2f}/{frac:.2f} {why}".rstrip())
        if best:
            out.append(best[1])
    return "; ".join(out)


def judge(pair: tuple, folder: Path, settings: Settings, brief: bool) -> str:
    """Score one guide and print the crops; returns the scorer's last line."""
    guide, region, station, months = pair
    skill = scorer(folder)
    chart = sowing_chart(station_record(folder, station), (), settings)
    answer = chart_json(chart)
    with tempfile.NamedTemporaryFile("w", suffix=".json", delete=False) as file:
        json.dump(answer, file)
    table = folder / "reference" / "planting_months.csv"
    text = io.StringIO()
    with contextlib.redirect_stdout(text):
        skill.main(file.name, table, guide, region, months)
    os.unlink(file.name)
    lines = text.getvalue().splitlines()
    mine, wanted = skill.ours(answer), skill.guide_months(table, guide, region)
    print(f"\n{guide} {region} on {station}")
    for line in [] if brief else lines[:-3]:
        crop = line[:20].strip()
        names = skill.OURS[crop]
        ours = set().union(*(m for n, m in mine.items() if n.split(" (")[0] in names))
        missed, extra = wanted[crop] - ours, ours - wanted[crop]
        print(line)
        if missed:
            print(f"{'':22}missed    {reasons(chart, names, missed)}")
        if extra:
            print(f"{'':22}too many  {reasons(chart, names, extra)}")
    print("\n".join(lines[-3:]))
    return lines[-1]


def main(arguments: list[str]) -> None:
    """Judge every pair of guide and station."""
    folder = reference()
    for pair in PAIRS:
        judge(pair, folder, Settings(), "--brief" in arguments)


if __name__ == "__main__":
    main(sys.argv[1:])
