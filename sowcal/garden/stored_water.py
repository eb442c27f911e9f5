"""Annuals held to so many litres of stored water: which start days draw more, and in which years."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from sowcal.crops.records import Crop, Way
from sowcal.garden.garden_weather import GardenWeather
from sowcal.garden.rain_fed import StartDayWater, start_day_water
from sowcal.seasons.season import HAZARDS, Seasons
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.annuals import WaterRule

__all__ = ["within_stored_water"]

_WANT = HAZARDS.index("want of water")


def within_stored_water(site: SiteDays, weather: GardenWeather, most: float) -> WaterRule:
    """The rule that a season draws no more than so much stored water.

    A season that succeeds and draws more is lost to want of water; one that fails anyway keeps the hazard that
    costs it most. A start day is advised only where the dry year in ten draws no more either.

    Parameters
    ----------
    site : SiteDays
    weather : GardenWeather
        Of the same days.
    most : float
        Litres per m2 of bed over the season, drip-fed on bare loam.
    """

    @cache
    def need(crop: Crop, way: Way) -> StartDayWater:
        return start_day_water(site, weather, crop, way)

    def changed(crop: Crop, way: Way, outcome: Seasons) -> Seasons:
        drawn = need(crop, way).by_start
        with np.errstate(invalid="ignore"):
            works = outcome.yield_fraction >= site.settings.least_yield
            over = works & (drawn > most)
        fraction = np.where(over, 0.0, np.where(works & np.isnan(drawn), np.nan, outcome.yield_fraction))
        hazard = np.where(over, _WANT, outcome.hazard).astype(outcome.hazard.dtype)
        return replace(outcome, yield_fraction=fraction, hazard=hazard)

    return WaterRule(changed, lambda crop, way: need(crop, way).dry_year, most)
