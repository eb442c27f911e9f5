"""Crops on rain alone: what want of water leaves of the crop from every start day of the record.

Doorenbos & Kassam 1979, Yield response to water, FAO Irrigation and Drainage Paper 33, as FAO-56 eq. 90 (p. 176)
gives it: 1 - Ya / Ym = Ky (1 - ETc adj / ETc).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from sowcal.crops.records import Crop, Way, known
from sowcal.errors import NotJudgedError
from sowcal.garden.dual_coefficient import basal_of
from sowcal.garden.fallow import Fallow, fallow_soil
from sowcal.garden.garden_file import Garden
from sowcal.garden.garden_weather import GardenWeather
from sowcal.garden.root_zone import root_zone_balance
from sowcal.garden.soil_water import soil_of_texture, total_evaporable_water
from sowcal.garden.water_need import LEAST_ROOTS, season_days, watering_of
from sowcal.seasons.response import ramp
from sowcal.seasons.season import HAZARDS, Seasons

__all__ = ["WaterLeft", "on_rain_alone", "rain_fed_seasons", "yield_left"]

_STEP = 7  # days between start days that are followed; between them want of water is nearly straight
_WANT = HAZARDS.index("want of water")
_UNKNOWN = 0.05  # of a season's days may lack a reading of rain
# Bulbs that ripen in drying soil: Ky of onion in its ripening stage over that of its whole season (0.3 and 1.1 in
# FAO-33, from memory).
_RIPENING = 0.3 / 1.1
# A seed bed in which water runs short for most of the first stage loses its stand: common practice, no source.
# Shares of full water use of the seedlings, mean of the stage, that leave none and all of the stand.
_STAND = (0.15, 0.6)


@dataclass(frozen=True, slots=True)
class WaterLeft:
    """What rain alone leaves from some start days, shape (starts,).

    Attributes
    ----------
    used : numpy.ndarray
        Water used over water that a watered crop would have used, 0 to 1; want of it while bulbs ripen counts
        for less.
    stand : numpy.ndarray
        Share of the stand that comes through its first stage.
    left : numpy.ndarray
        Share of the crop left.
    """

    used: np.ndarray
    stand: np.ndarray
    left: np.ndarray


def yield_left(used, response):
    """Share of the yield that is left (FAO-56 eq. 90), 0 to 1.

    Parameters
    ----------
    used : array_like
        Evapotranspiration over that of a crop without want of water.
    response : float
        Yield response factor Ky of the whole season.
    """
    return np.clip(1.0 - response * (1.0 - np.asarray(used, dtype=float)), 0.0, 1.0)


def on_rain_alone(
    weather: GardenWeather, crop: Crop, index: np.ndarray, length: np.ndarray, garden: Garden, fallow: Fallow
) -> WaterLeft:
    """Follow one crop from some start days on the water that the soil holds and rain brings.

    Parameters
    ----------
    weather : GardenWeather
    crop : Crop
    index, length : numpy.ndarray
        Start days in the record and days in the ground, shape (starts,).
    garden : Garden
        Soil and mulch.
    fallow : Fallow
        Of this soil, as deep as the crop roots.
    """
    basal = basal_of(crop.water, garden.soil_depth, rain_fed=True)
    soil = soil_of_texture(garden.texture)
    season, _ = season_days(weather, [basal], index[None], length[None], np.array([False]), np.ones(1))
    upper, lower = fallow.upper[index][None], fallow.lower[index][None]
    balance = root_zone_balance(
        season,
        soil,
        watering_of(garden),
        start_depletion=upper,
        start_surface=np.minimum(upper, total_evaporable_water(soil)),
        below=lower,
        full_depth=basal.rooting_depth,
    )
    age = np.arange(season.basal.shape[0])[:, None]
    wanted = (season.basal * season.reference * season.grows + balance.evaporation)[:, 0]
    wanting = wanted - balance.evapotranspiration[:, 0]
    if known(crop.gates.bulbing_day_length):
        wanting = np.where(age > basal.turns[2] * length[None], _RIPENING * wanting, wanting)
    used = np.clip(1.0 - wanting.sum(axis=0) / np.maximum(wanted.sum(axis=0), 1e-9), 0.0, 1.0)
    first = (age < np.maximum(basal.turns[0] * length[None], 7.0)) & season.grows[:, 0]
    stand = ramp((balance.stress[:, 0] * first).sum(axis=0) / np.maximum(first.sum(axis=0), 1), *_STAND)
    response = crop.water.yield_response if known(crop.water.yield_response) else 1.0  # FAO-56 p. 177
    return WaterLeft(used, stand, yield_left(used, response) * stand)


def rain_fed_seasons(
    weather: GardenWeather, garden: Garden | None = None, *, where: str = ""
) -> Callable[[Crop, Way, Seasons], Seasons]:
    """A change to the seasons of any crop: what comes of them on rain alone.

    Parameters
    ----------
    weather : GardenWeather
        Of the same days as the seasons.
    garden : Garden, optional
        Soil and mulch; bare loam of 0.6 m where left out.
    where : str
        Name of the record in the error.

    Returns
    -------
    callable
        From crop, way and seasons to seasons: yield fractions times the share that want of water leaves, NaN
        where rain is not known; hazard 'want of water' where it cost more than all the rest.

    Raises
    ------
    NotJudgedError
        Where no day has a reading of rain.
    """
    garden = garden or Garden("", "", ())
    soil = soil_of_texture(garden.texture)
    dry = watering_of(garden).evaporation_left
    no_rain = ~weather.rain_known if weather.rain_known is not None else np.zeros(weather.size, dtype=bool)
    if no_rain.all():
        raise NotJudgedError("the record has no rain; what lives on rain alone cannot be judged from it", where=where)
    gaps = np.concatenate([[0], np.cumsum(no_rain)])

    @cache
    def fallow(depth: float) -> Fallow:
        return fallow_soil(weather, soil, min(LEAST_ROOTS, depth), depth, evaporation_left=dry)

    def changed(crop: Crop, way: Way, outcome: Seasons) -> Seasons:
        fraction = outcome.yield_fraction
        start = np.arange(fraction.size)
        # what is picked once is grown by its first picking: that it stands longer takes nothing from it
        grown = outcome.first if crop.growth.habit == "once" else outcome.last
        last = np.clip(grown, start, fraction.size - 1).astype(int)
        followed = start[::_STEP][np.nan_to_num(fraction[::_STEP]) > 0.0]
        if not followed.size:
            return outcome
        depth = basal_of(crop.water, garden.soil_depth, rain_fed=True).rooting_depth
        found = on_rain_alone(weather, crop, followed, last[followed] - followed + 1, garden, fallow(depth))
        left = np.interp(start, followed, found.left)
        unknown = (grown >= fraction.size) | (gaps[last + 1] - gaps[start] > _UNKNOWN * (last - start + 1))
        worse = (1.0 - left) > np.maximum(1.0 - fraction, 0.005)  # False where undecided
        return replace(
            outcome,
            yield_fraction=np.where(unknown, np.nan, fraction * left),
            hazard=np.where(worse, _WANT, outcome.hazard).astype(outcome.hazard.dtype),
        )

    return changed
