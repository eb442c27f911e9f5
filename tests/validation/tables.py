"""The engine against two printed tables: `python tests/validation/tables.py`.

Needs the folder that the environment variable SOWCAL_REFERENCE names. First the days to emergence by constant soil
temperature (Harrington & Minges 1954), mean error in days by crop; then the monthly means of air temperature that
suit each crop (Maynard & Hochmuth 1997) against the months in which the engine has it swell, head or ripen, on six
stations of different kinds.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import guides
import numpy as np

from sowcal.answers import sowing_chart
from sowcal.crops.handbook import handbook
from sowcal.crops.tables import Way
from sowcal.seasons.establishing import emerge
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.results import SowingChart
from sowcal.weather.record import DailyRecord

STATIONS = ("five_points_ca", "san_diego_ca", "seville", "hobart", "de_bilt", "fort_collins_co")
# the printed name, where it is not ours; crops that stand for a whole row are those with seed of the same kind
PRINTED = {
    "beet": "beetroot",
    "cabbage": "cabbage (white)",
    "cauliflower": "cauliflower (summer)",
    "eggplant": "aubergine",
    "lettuce": "lettuce (head)",
    "muskmelon": "melon",
    "onion": "onion (short-day)",
    "pea": "pea (shelling)",
    "pepper": "sweet pepper (blocky)",
    "snap bean": "french bean (bush)",
    "tomato": "tomato (large)",
}
RANGES = {
    "beet": "beetroot",
    "Brussels sprouts": "brussels sprout",
    "Chinese cabbage": "chinese cabbage",
    "Florence fennel": "florence fennel",
    "eggplant": "aubergine",
    "muskmelon": "melon",
    "rutabaga": "swede",
    "snap bean": "french bean",
    "southern pea": "cowpea",
    "squash": "winter squash",
}


@dataclass(frozen=True)
class Emergence:
    """Errors of one crop's days to emergence, ours less the printed ones, by soil temperature (degC)."""

    crop: str
    errors: dict[int, float]

    @property
    def mean(self) -> float:
        """Mean error (d)."""
        return float(np.mean(list(self.errors.values())))

    @property
    def mean_size(self) -> float:
        """Mean size of the error (d)."""
        return float(np.mean(np.abs(list(self.errors.values()))))


def _rows(folder: Path, name: str) -> list[dict[str, str]]:
    with open(folder / "reference" / name, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def _constant_site(temperature: float, days: int = 400) -> SiteDays:
    air = np.full(days, float(temperature))
    return SiteDays(air, air.copy(), np.datetime64("2001-01-01"), 38.0)


def emergence_errors(folder: Path) -> list[Emergence]:
    """Every printed crop that the handbook raises from seed."""
    out, crops = [], dict(handbook().items())
    for row in _rows(folder, "germination_days_by_soil_temp.csv"):
        crop = crops.get(PRINTED.get(row["crop"], row["crop"]))
        way = next((w for w in crop.ways if w.stock in ("seed", "seedling")), None) if crop else None
        if crop is None or way is None or crop.emergence is None:
            continue
        sown = Way(way="sown outdoors", stock="seed", depth=way.depth)
        errors = {}
        for celsius in (5, 10, 15, 20, 25, 30, 35):
            cell = next(v for k, v in row.items() if k.startswith(f"d_at_{celsius}C"))
            if cell and cell != "NG":
                day = emerge(_constant_site(celsius), crop, sown, "wet").day[30]
                errors[celsius] = float(day - 30 + 1) - float(cell)
        if errors:
            out.append(Emergence(row["crop"], errors))
    return out


def _months_of_filling(chart: SowingChart, name: str) -> list[int]:
    """Months in which the last two fifths of a recommended season fall, for the best start of each window."""
    months: set[int] = set()
    for line in chart.crops:
        if name not in (line.crop, line.crop.split(" (")[0]):
            continue
        for window in (w for s in line.starts for w in s.windows if w.first_picking):
            length = window.first_picking.days_after_start
            days = (window.best + np.arange(round(0.6 * length), length)) % 365
            months |= set((np.searchsorted(_ENDS, days, "right") + 1).tolist())
    return sorted(months)


_ENDS = np.cumsum([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30])


def monthly_means(record: DailyRecord) -> np.ndarray:
    """Mean air temperature of each month of the year (degC), shape (12,)."""
    mean = 0.5 * (record["tasmin"] + record["tasmax"])
    month = record.time.astype("datetime64[M]").astype(int) % 12
    return np.array([np.nanmean(mean[month == m]) for m in range(12)])


@dataclass(frozen=True)
class RangeCheck:
    """Months in which one crop fills at one station, and how far those outside the printed range are (degC).

    `any_month` is the same of all twelve, for comparison with a calendar that knows no climate.
    """

    crop: str
    station: str
    months: list[int]
    outside: dict[int, float]
    any_month: dict[int, float]


def range_checks(folder: Path, stations: tuple[str, ...] = STATIONS) -> list[RangeCheck]:
    """Every printed crop at every station that recommends it."""
    out = []
    for station in stations:
        record = guides.station_record(folder, station)
        chart, means = sowing_chart(record), monthly_means(record)
        for row in _rows(folder, "knott_monthly_mean_temperature_ranges.csv"):
            months = _months_of_filling(chart, RANGES.get(row["crop"], row["crop"]))
            least, greatest = float(row["min_C"]), float(row["max_C"])
            off = np.minimum(means - least, 0.0) + np.maximum(means - greatest, 0.0)
            year = {m: round(float(off[m - 1]), 1) for m in range(1, 13) if off[m - 1]}
            if months:
                out.append(RangeCheck(row["crop"], station, months, {m: year[m] for m in months if m in year}, year))
    return out


def share_outside(checks: list[RangeCheck], slack: float) -> float:
    """Share of crop-months that lie further than `slack` degC outside the printed range."""
    months = sum(len(c.months) for c in checks)
    return sum(abs(d) > slack for c in checks for d in c.outside.values()) / months


def share_outside_at_random(checks: list[RangeCheck], slack: float) -> float:
    """The same share if the crops filled in every month of the year."""
    return sum(abs(d) > slack for c in checks for d in c.any_month.values()) / (12 * len(checks))


def main() -> None:
    """Print both tables."""
    folder = guides.reference()
    print("days to emergence at constant soil temperature, ours less the printed ones\n")
    found = emergence_errors(folder)
    for one in found:
        cells = "  ".join(f"{t} degC {e:+.0f}" for t, e in one.errors.items())
        print(f"{one.crop:16} mean {one.mean:+5.2f} d, mean size {one.mean_size:4.2f} d   {cells}")
    print("\nmonths of filling outside the printed monthly means\n")
    checks = range_checks(folder)
    for check in checks:
        if check.outside:
            cells = ", ".join(f"month {m} by {d:+.1f}" for m, d in check.outside.items())
            print(f"{check.crop:18} {check.station:16} {len(check.months):2} months, outside: {cells}")
    print(
        f"\n{sum(len(c.months) for c in checks)} crop-months; outside {share_outside(checks, 0.0):.1%}, "
        f"by more than 2 degC {share_outside(checks, 2.0):.1%}; if they filled all year "
        f"{share_outside_at_random(checks, 0.0):.1%} and {share_outside_at_random(checks, 2.0):.1%}"
    )


if __name__ == "__main__":
    main()
