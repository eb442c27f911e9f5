"""Printed planting months, of whatever guide, in one form.

The reference folder holds month guides of Californian regions; `other_guides.csv` beside this file those of other
places, and `uc_seasons.csv` the planting windows that leaflets tell of growers' fields. A perennial is no matter of
a month's sowing and is left out, and so is what is raised under cover: the months are those in which a crop goes
into its bed.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

from sowcal.crops.handbook import handbook

__all__ = ["Guide", "all_guides"]

FOLDER = Path(__file__).parent
YEAR = frozenset(range(1, 13))
UNDER_COVER = {"start under cover", "seedbed"}
REGIONS = {"Interior": "five_points_ca", "South Coast": "san_diego_ca"}


@dataclass(frozen=True)
class Guide:
    """One guide for one station.

    Attributes
    ----------
    name, station : str
        Its key in the table of sources, and the weather record of its region.
    months : dict
        By crop the months in which it is sown, planted or set out.
    covers : frozenset of int
        Months of the year that the guide speaks of.
    whole : bool
        Whether it lists all that goes in, so that a crop it leaves out of a month is left out on purpose.
    south : bool
        Whether the station lies south of the equator.
    """

    name: str
    station: str
    months: dict[str, frozenset[int]]
    covers: frozenset[int]
    whole: bool
    south: bool = False


def all_guides(reference: Path, skill) -> list[Guide]:
    """Every guide with a station, the reference's first."""
    with open(reference / "weather" / "stations.csv", newline="", encoding="utf-8") as file:
        south = {row["station"] for row in csv.DictReader(file) if float(row["latitude"]) < 0}
    found = [*_of_reference(reference, skill), *_of_other_places(), *_of_seasons()]
    return [replace(g, south=g.station in south) for g in found]


def crops_of(word: str, skill) -> list[str]:
    """Handbook names, without their type or with it, that a guide's word for a crop stands for."""
    return skill.OURS.get(word, [word])


def _annual(crop: str) -> bool:
    """Whether a handbook name, or that name with any type, is judged by its start days."""
    return any(c.perennial is None for name, c in handbook().items() if crop in (name, name.split(" (")[0]))


def _rows(name: str) -> list[dict[str, str]]:
    with open(FOLDER / name, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def _of_reference(reference: Path, skill) -> list[Guide]:
    table = reference / "reference" / "planting_months.csv"
    out = []
    for region, station in REGIONS.items():
        months = {
            c: frozenset(m) for c, m in skill.guide_months(table, "UC-CA4", region).items() if c in skill.OURS and m
        }
        out.append(Guide(f"UC-CA4 {region}", station, months, YEAR, True))
    return out


def _of_other_places() -> list[Guide]:
    about = {row["guide"]: row for row in _rows("other_guides_sources.csv")}
    out: dict[str, Guide] = {}
    for row in _rows("other_guides.csv"):
        source = about[row["guide"]]
        covers = frozenset(int(m) for m in source["months_covered"].split())
        guide = out.setdefault(row["guide"], Guide(row["guide"], row["station"], {}, covers, source["list"] == "whole"))
        months = frozenset(int(m) for m in row["months"].split()) & covers
        if row["way_of_starting"] not in UNDER_COVER and months and _annual(row["crop"]):
            guide.months[row["crop"]] = guide.months.get(row["crop"], frozenset()) | months
    return list(out.values())


def _of_seasons() -> list[Guide]:
    """Planting windows of fields, by the scorer's own rule: a month counts with ten days of it."""
    days: dict[str, dict[str, set[tuple[int, int]]]] = {}
    for row in _rows("uc_seasons.csv"):
        if _annual(row["crop"]):
            mine = days.setdefault(row["station"], {}).setdefault(row["crop"], set())
            mine |= set(_days(row["first"], row["last"]))
    out = []
    for station, crops in days.items():
        months = {c: frozenset(m for m in YEAR if sum(a == m for a, _ in d) >= 10) for c, d in crops.items()}
        out.append(Guide(f"fields of {station}", station, months, YEAR, True))
    return out


def _days(first: str, last: str) -> list[tuple[int, int]]:
    day = date(2001, *map(int, first.split("-")))
    end = date(2001, *map(int, last.split("-")))
    end = end.replace(year=2002) if end < day else end
    out = []
    while day <= end:
        out.append((day.month, day.day))
        day += timedelta(1)
    return out
