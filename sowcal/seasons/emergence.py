"""From seed, set or tuber in the soil to shoots above ground.

Rate and share of emergence are functions of soil temperature at sowing depth (Harrington & Minges 1954 for
the tabled seeds), added up hour by hour: lettuce, spinach and celery fail in hot soil long before they stop.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sowcal.crops.records import Crop, Germination, Way, known
from sowcal.crops.records import Emergence as EmergenceTable
from sowcal.seasons.response import ramp
from sowcal.seasons.site_days import SiteDays
from sowcal.seasons.sums import day_reached, prefix, span_mean

__all__ = ["Emerged", "emerge", "rate_and_share"]

_GRID = np.arange(-500, 701) / 10.0  # degC; tenths, as SiteDays.soil_tenths
_FULL_STAND = 0.6  # of the best share still gives a full stand, for growers sow thickly: common practice
_NO_STAND = 0.15  # of the best share leaves no crop worth keeping: common practice
_ROTS_FROM, _ROTTEN = (
    25.0,
    50.0,
)  # days in the ground at which seed begins to be lost, is lost: common practice
_KEEPS = 3.0  # times as long as quick seed do tubers, sets and cloves lie unharmed: common practice


@dataclass(frozen=True, slots=True)
class Emerged:
    """Emergence for every start day: day index, stand left (0 to 1), and whether the soil was too hot.

    `settled` is the day index by which this is known: of emergence, or on which the last of it has rotted.
    """

    day: np.ndarray
    stand: np.ndarray
    hot: np.ndarray
    settled: np.ndarray


def rate_and_share(table: EmergenceTable | None, germination: Germination) -> tuple[np.ndarray, np.ndarray]:
    """Rate of emergence (d-1) and share of the best emerging (0 to 1) on a grid of tenths of a degree.

    Between tabled temperatures the rate runs straight; beyond them to nothing at the least and the greatest
    soil temperature of the crop. Crops without a row emerge by thermal time.
    """
    low, high = germination.soil_minimum, germination.soil_maximum
    if table is None:
        base = germination.base_temperature
        rate = np.clip(_GRID - base, 0.0, None) / max(germination.thermal_time, 1.0)
        if known(high):
            rate = rate * ramp(_GRID, high + 5.0, high)
        return rate, np.ones_like(rate)
    t = np.array(table.temperatures)
    days = np.array(table.days)
    tried = ~np.isnan(days)
    x, y = t[tried], 1.0 / days[tried]  # inf days: rate 0
    growing = y > 0
    if growing[0] and known(low) and low < x[0]:
        x, y = np.insert(x, 0, low), np.insert(y, 0, 0.0)
    if growing[-1]:  # not tried hotter: nothing at the greatest temperature, or five degrees on
        x, y = np.append(x, high if known(high) and high > x[-1] else x[-1] + 5.0), np.append(y, 0.0)
    rate = np.interp(_GRID, x, y, left=0.0, right=0.0)
    percent = np.array(table.percent)
    tried = ~np.isnan(percent)
    if not tried.any():
        return rate, np.ones_like(rate)
    return rate, np.interp(_GRID, t[tried], percent[tried] / np.nanmax(percent))


def emerge(site: SiteDays, crop: Crop, way: Way, surface: str) -> Emerged:
    """Emergence of one crop from every start day, shape (N,) each."""
    start = site.start
    germination = crop.germination
    from_table = crop.emergence if way.stock in ("", "seed") else None
    if way.way == "set out" or (from_table is None and not germination.thermal_time > 0):
        return Emerged(start, np.ones(site.size), np.zeros(site.size, dtype=bool), start)
    depth = way.depth if known(way.depth) else 2.0

    def sums() -> np.ndarray:
        rate, share = rate_and_share(from_table, germination)
        # a row of all days for each share of the day: sums down the rows are quicker than along six columns
        place = site.keep(
            ("soil places", depth, surface),
            lambda: np.ascontiguousarray(site.soil_tenths(depth, surface).T).astype(np.intp) + 500,
        )
        return np.stack([prefix(x.take(place).mean(axis=0)) for x in (rate, rate * share)])

    # shared by crops that come up by one table between the same limits
    limits = (germination.soil_minimum, germination.soil_maximum)
    key = (*((from_table.seed, *limits) if from_table else (crop.name,)), depth, surface)
    total, good = site.keep(("emergence", *key), sums)
    day = site.keep(("emerged", *key), lambda: day_reached(total, start, 1.0))
    # slow seeds (parsley, parsnip) lie long by nature; tubers, sets and cloves keep in cold soil
    patience = max(1.0 if way.stock in ("", "seed") else _KEEPS, _quickest(from_table, germination) / 8.0)
    settled = np.minimum(day, start + int(np.ceil(_ROTTEN * patience)))
    end = np.minimum(settled + 1, site.size)
    share = (good[end] - good[start]) / np.maximum(total[end] - total[start], 1e-9)
    stand = ramp(share, _NO_STAND, _FULL_STAND) * ramp(
        (day - start).astype(float), _ROTTEN * patience, _ROTS_FROM * patience
    )
    best = 0.5 * (germination.soil_optimum_low + germination.soil_optimum_high)
    tas = site.keep(("tas",), lambda: prefix(site.tas))
    hot = span_mean(tas, start, end) > (best if known(best) else 22.0)
    return Emerged(day, stand, hot, np.minimum(settled, site.size))


def _quickest(table: EmergenceTable | None, germination: Germination) -> float:
    """Days to emergence at the best temperature, up to 30 degC where no trial tells it."""
    rate, _ = rate_and_share(table, germination)
    return 1.0 / max(float((rate if table else rate[_GRID <= 30.0]).max()), 1e-9)
