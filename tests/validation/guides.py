"""Hold the sowing chart against printed month guides: `python tests/validation/guides.py [--brief] [--settings]`.

Needs the folder of real records and guides that the environment variable SOWCAL_REFERENCE names. For each guide
and crop it prints the guide's months, ours, and for every month missed or too many what the engine says of it
(`--brief` leaves that out). Then a table: strict and tolerant F1 with the interval from resampling crops, beside
calendars that know no climate: all year, two rows of months fitted to that very guide, and the two rows fitted to
the other region's guide. Lists of examples are judged by the share of them that is ours. `--settings` fits the
chart's settings to one region and judges them on the other (some minutes).
"""

from __future__ import annotations

import csv
import importlib.util
import json
import os
import sys
import tempfile
from itertools import product
from pathlib import Path

import numpy as np
from printed import Guide, all_guides, crops_of
from scores import hits, judge_months, months_by_crop

from sowcal.answers import sowing_chart
from sowcal.outputs.json_form import chart_json
from sowcal.settings import Settings
from sowcal.suitability.results import SowingChart

SCORED = 3  # months: a list that speaks of fewer holds hardly a crop that is not for sowing in all of them
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
            if not {line.crop, line.crop.split(" (")[0]} & set(crops):
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


def months_of(chart: SowingChart, skill) -> dict[str, set[int]]:
    """Months of recommended starts by crop, as the scorer counts them."""
    return skill.ours(chart_json(chart))


def show(months: frozenset[int] | set[int], covers: frozenset[int]) -> str:
    """A year in twelve signs, blank where a guide is silent."""
    return "".join(("#" if m in months else ".") if m in covers else " " for m in range(1, 13))


def crop_by_crop(guide: Guide, chart: SowingChart, skill) -> list[str]:
    """Lines on each crop of a guide, with the engine's word on what it has otherwise."""
    mine, _ = months_by_crop(guide, months_of(chart, skill), skill)
    out = []
    for crop, wanted in sorted(guide.months.items()):
        ours, names = mine[crop], crops_of(crop, skill)
        tolerant = skill.score([(ours, wanted)])[1]
        out.append(f"{crop:22}guide {show(wanted, guide.covers)}  ours {show(ours, guide.covers)}  {tolerant:.2f}")
        if missed := wanted - ours:
            out.append(f"{'':24}missed    {reasons(chart, names, missed)}")
        if guide.whole and (extra := ours - wanted):
            out.append(f"{'':24}too many  {reasons(chart, names, extra)}")
    return out


def row(guide: Guide, chart: SowingChart, skill, elsewhere: Guide | None = None) -> str:
    """One line of the table of scores."""
    return row_of(guide, months_of(chart, skill), skill, elsewhere)


def row_of(guide: Guide, ours: dict[str, set[int]], skill, elsewhere: Guide | None = None) -> str:
    """The same from months of recommended starts by crop."""
    head = f"{guide.name:24} {guide.station:15} {len(guide.months):3} crops  "
    if is_scored(guide):
        return head + str(judge_months(guide, ours, skill, elsewhere))
    strict, tolerant, blind = hits(guide, ours, skill)
    return head + f"hits {strict:.2f}/{tolerant:.2f} where {blind:.2f} of all crop-months are ours"


def is_scored(guide: Guide) -> bool:
    """Whether too many months can be told in a guide, not only months missed."""
    return guide.whole and len(guide.covers) >= SCORED


def fitted_settings(guides: list[Guide], folder: Path, skill) -> list[str]:
    """The chart's settings fitted to one guide and judged on the other."""
    tried = [
        Settings(near_best=n, reliability=r, longest=t)
        for n, r, t in product((0.7, 0.8, 0.9), (0.7, 0.8, 0.9), (2.0, 3.0))
    ]
    found = []
    for guide in guides:
        record = station_record(folder, guide.station)
        found.append([judge_months(guide, months_of(sowing_chart(record, (), s), skill), skill) for s in tried])
    out = []
    for here, there in ((0, 1), (1, 0)):
        best = max(range(len(tried)), key=lambda k: found[here][k].strict)
        s = tried[best]
        out.append(
            f"near best {s.near_best:g}, reliability {s.reliability:g}, longest {s.longest:g} fitted "
            f"to {guides[here].name}: there "
            f"{found[here][best].strict:.3f}/{found[here][best].tolerant:.3f}, on {guides[there].name} "
            f"{found[there][best].strict:.3f}/{found[there][best].tolerant:.3f}"
        )
    return out


def main(arguments: list[str]) -> None:
    """Judge every guide that has a station."""
    folder = reference()
    skill = scorer(folder)
    guides = all_guides(folder, skill)
    charts = {g.station: sowing_chart(station_record(folder, g.station)) for g in guides}
    if "--brief" not in arguments:
        for guide in guides:
            print(f"\n{guide.name} on {guide.station}")
            print("\n".join(crop_by_crop(guide, charts[guide.station], skill)))
    print("\nstrict/tolerant, 90 per cent interval of the strict score")
    for guide in guides:
        elsewhere = next(g for g in guides[:2] if g is not guide)
        print(row(guide, charts[guide.station], skill, elsewhere))
    if "--settings" in arguments:
        print("\n" + "\n".join(fitted_settings(guides[:2], folder, skill)))


if __name__ == "__main__":
    main(sys.argv[1:])
