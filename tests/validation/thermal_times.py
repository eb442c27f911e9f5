"""Thermal times to first picking from printed days to harvest: `python tests/validation/thermal_times.py`.

Needs the folder of real records that SOWCAL_REFERENCE names. `tests/data/days_to_harvest.csv` holds days from sowing,
setting out or planting to harvest that somebody printed for a place and a time of planting, and the station whose
record stands for the place (how far off it is; several where a region is named and no place). Each row is reckoned on
every year of the record: coming up by the program's own emergence, then thermal time by the program's own clock until
the printed day. A row gives the lower quartile of the sums at its fewest days and the upper quartile at its most; a
crop and way the mean of its rows. Months told stand at their 15th. Of FAO-56 the fewest days are those until the crop
begins to mature; crops that are picked over, where that is no harvest, are left out, and so are lands that no record
stands for.

The number that decides in the program is the middle of the two. Where the middle reckoned here is within `AGREES` of
the handbook's, the handbook's range stands, and its source says so; where it is not, the range reckoned stands among
the alternatives. No planting window and no trial that judges the program gave a row: leaflets whose windows do
(`uc_seasons.csv`) were left out.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import guides
import numpy as np

from sowcal.crops.handbook import Handbook, handbook
from sowcal.crops.tables import Crop, Way
from sowcal.seasons.establishing import emerge
from sowcal.seasons.site_days import SiteDays
from sowcal.seasons.walk import effective_thermal_time

DAYS = Path(__file__).parents[1] / "data" / "days_to_harvest.csv"
AGREES = 0.15  # of the handbook's middle: days to harvest are printed to a week or two
GAPS = 3  # days missing from a season that are borne: common practice, no source
ROUNDED = 10  # degC d

Row = Mapping[str, str]
Site = Callable[[str], SiteDays]


@dataclass(frozen=True)
class Derived:
    """Range of thermal time of a crop and way reckoned from printed days, degC d, and how many rows gave it."""

    low: float
    high: float
    rows: int

    @property
    def middle(self) -> float:
        """What the program would take of it."""
        return 0.5 * (self.low + self.high)


def printed_days(path: Path = DAYS) -> list[dict[str, str]]:
    """The table's rows."""
    with open(path, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file, strict=True))


def sums(site: SiteDays, crop: Crop, way: Way, start: str, days: int) -> np.ndarray:
    """Thermal time from coming up to so many days after a start (`MM-DD`) in every year of a record, degC d."""
    clock = effective_thermal_time(site, crop.growth)
    up = emerge(site, crop, way, site.settings.seedbed).day
    begun = np.flatnonzero(np.char.endswith(site.dates.astype(str), start))
    begun = begun[begun + days < site.size]
    end = begun + days
    known = site.missing_before[end] - site.missing_before[begun] <= GAPS
    begun, end = begun[known], end[known]
    return clock[end] - clock[np.minimum(up[begun], end)]


def of_row(row: Row, crop: Crop, way: Way, site: Site) -> tuple[float, float]:
    """Lower quartile at the fewest days and upper quartile at the most, over stations, starts and years."""

    def all_sums(days: str) -> np.ndarray:
        found = [
            sums(site(s), crop, way, start, int(days))
            for s in row["stations"].split()
            for start in row["starts"].split()
        ]
        return np.concatenate(found)

    low, high = all_sums(row["days_low"]), all_sums(row["days_high"])
    return float(np.quantile(low, 0.25)), float(np.quantile(high, 0.75))


def derive(rows: Iterable[Row], book: Handbook, site: Site) -> dict[tuple[str, str], Derived]:
    """The range of each crop and way, rounded."""
    found: dict[tuple[str, str], list[tuple[float, float]]] = {}
    for row in rows:
        crop = book[row["crop"]]
        (way,) = [w for w in crop.ways if w.way == row["way"]]
        found.setdefault((crop.name, way.way), []).append(of_row(row, crop, way, site))
    out = {}
    for key, ranges in found.items():
        low, high = (ROUNDED * round(float(np.mean(ends)) / ROUNDED) for ends in zip(*ranges, strict=True))
        out[key] = Derived(low, high, len(ranges))
    return out


def handbooks_middle(book: Handbook, crop: str, way: str) -> float:
    """What the program takes of the handbook's range, degC d."""
    (row,) = [w for w in book[crop].ways if w.way == way]
    return 0.5 * (row.thermal_time_low + row.thermal_time_high)


def agrees(found: Derived, middle: float) -> bool:
    """Whether a range reckoned here and the handbook's middle are the same for the program."""
    return abs(found.middle / middle - 1.0) <= AGREES


def record_days(folder: Path) -> Site:
    """Days of a station's record, each read once."""
    return cache(lambda station: SiteDays.from_record(guides.station_record(folder, station)))


def report(found: Mapping[tuple[str, str], Derived], book: Handbook) -> str:
    """The table as it is printed."""
    lines = [f"{'crop, way':44} handbook     reckoned    rows  middle apart"]
    for (crop, way), one in found.items():
        (row,) = [w for w in book[crop].ways if w.way == way]
        apart = one.middle / handbooks_middle(book, crop, way) - 1.0
        range_ = f"{row.thermal_time_low:.0f}-{row.thermal_time_high:.0f}"
        lines.append(
            f"{crop + ', ' + way:44} {range_:12} {f'{one.low:.0f}-{one.high:.0f}':12} {one.rows:3}  {apart:+.0%}"
            f"{'' if abs(apart) <= AGREES else '  apart'}"
        )
    same = {crop for (crop, way), one in found.items() if agrees(one, handbooks_middle(book, crop, way))}
    lines.append(f"{len({crop for crop, _ in found})} crop types, {len(same)} of them within {AGREES:.0%}")
    return "\n".join(lines)


if __name__ == "__main__":
    named = guides.reference()
    print(report(derive(printed_days(), handbook(), record_days(named)), handbook()))
