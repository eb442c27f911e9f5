"""Stored water that a crop will need from every start day: for the chart's fourth setting."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sowcal.crops.records import Crop, Way
from sowcal.garden.dual_coefficient import basal_of
from sowcal.garden.garden_file import Garden
from sowcal.garden.garden_weather import GardenWeather
from sowcal.garden.picking import season_lengths, way_outcome
from sowcal.garden.water_need import efficiency, season_balance
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.by_day import Fold

__all__ = ["StartDayWater", "start_day_water"]

_STEP = 7  # days between start days that are followed; between them need is nearly straight


@dataclass(frozen=True, slots=True)
class StartDayWater:
    """Litres drawn per m2 of bed; NaN where no season could be followed.

    Attributes
    ----------
    median, dry_year : numpy.ndarray
        By start day of the year, shape (365,): in the median year and in the dry year in ten.
    by_start : numpy.ndarray
        From each start day of the record, shape (N,).
    """

    median: np.ndarray
    dry_year: np.ndarray
    by_start: np.ndarray


def start_day_water(
    site: SiteDays,
    weather: GardenWeather,
    crop: Crop,
    way: Way,
    garden: Garden | None = None,
) -> StartDayWater:
    """Irrigation that one crop needs from each start day of the year.

    Parameters
    ----------
    site : SiteDays
    weather : GardenWeather
        Of the same days.
    crop : Crop
    way : Way
    garden : Garden, optional
        Soil, mulch and way of watering; loam, bare and drip where left out.
    """
    garden = garden or Garden("", "", ())
    fold = Fold.of(site)
    outcome = way_outcome(site, fold, crop, way)
    days = np.arange(0, 365, _STEP)
    lengths = np.array([season_lengths(outcome, int(d))[1] for d in days]).astype(int) + 1
    index = fold.index[:, days].T
    rows = days.size
    balance, _, grows = season_balance(
        weather,
        [basal_of(crop.water, garden.soil_depth)] * rows,
        index,
        lengths,
        np.ones(rows, dtype=bool),
        np.ones(rows),
        garden,
    )
    total = balance.irrigation.sum(axis=0) / efficiency(garden)
    whole = grows.sum(axis=0) >= np.minimum(lengths, balance.irrigation.shape[0])
    total = np.where(whole & (index >= 0), total, np.nan)
    some = np.isfinite(total).any(axis=1)
    quantiles = np.full((2, rows), np.nan)
    quantiles[:, some] = np.nanquantile(total[some], [0.5, 0.9], axis=1)
    if not some.any():
        return StartDayWater(np.full(365, np.nan), np.full(365, np.nan), np.full(site.size, np.nan))
    known = np.isfinite(total)
    order = np.argsort(index[known])
    by_start = np.interp(site.start, index[known][order], total[known][order], left=np.nan, right=np.nan)
    around = [np.interp(np.arange(365), days[some], q[some], period=365) for q in quantiles]
    return StartDayWater(around[0], around[1], by_start)
