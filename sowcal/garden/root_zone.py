"""Water of the root zone day by day, many sowings and years at once (FAO-56 eq. 77, 79 and 84 to 88).

Days run along the first axis; the rest is any shape, for example (sowings, years). Only days are looped over.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sowcal.garden.dual_coefficient import (
    evaporation_coefficient,
    evaporation_reduction,
    exposed_wetted_fraction,
)
from sowcal.garden.soil_water import Soil, depletion_share, total_available_water, total_evaporable_water

__all__ = ["Balance", "Season", "Watering", "root_zone_balance"]

_WETS_ALL = 3.0  # mm; so much rain wets the whole surface (FAO-56 chapter 7, as quoted in a copy)
_IGNORED = 0.2  # of reference evapotranspiration; less rain evaporates at once (FAO-56 chapter 8, from memory)


@dataclass(frozen=True, slots=True)
class Watering:
    """How water is given.

    Attributes
    ----------
    wetted : float
        Share of the surface that is wetted. Drip 0.3 to 0.4, can, hose and sprinkler 1 (FAO-56 Table 20, from
        memory).
    drip : bool
    evaporation_left : float
        Share of soil evaporation that mulch leaves.
    watering_share : float
        Water is given when this share of the readily available water is gone: common practice.
    """

    wetted: float = 0.4
    drip: bool = True
    evaporation_left: float = 1.0
    watering_share: float = 0.5


@dataclass(frozen=True, slots=True)
class Season:
    """What a balance is driven by; arrays of shape (days, ...), all mm day-1 or shares.

    `grows` is False outside the season: nothing happens on those days.
    """

    reference: np.ndarray
    rain: np.ndarray
    basal: np.ndarray
    limit: np.ndarray
    covered: np.ndarray
    rooting_depth: np.ndarray
    depletion: np.ndarray
    irrigated: np.ndarray
    grows: np.ndarray


@dataclass(frozen=True, slots=True)
class Balance:
    """Daily results, shape (days, ...), mm; `depletion` and `below` at the end of the day."""

    irrigation: np.ndarray
    evapotranspiration: np.ndarray
    evaporation: np.ndarray
    drained: np.ndarray
    depletion: np.ndarray
    surface_depletion: np.ndarray
    stress: np.ndarray  # 1 is none
    below: np.ndarray | None = None  # water missing below the roots, where that is followed


def root_zone_balance(
    season: Season,
    soil: Soil,
    watering: Watering,
    *,
    start_depletion: float | np.ndarray = 0.0,
    start_surface: float | np.ndarray | None = None,
    given: np.ndarray | None = None,
    below: np.ndarray | None = None,
    full_depth: np.ndarray | float = np.inf,
) -> Balance:
    """Follow the root zone through the days and water it when it needs it.

    Rain and watering come at the beginning of the day (as in FAO-56 Example 35). The soil into which roots
    grow is taken to be moist unless `below` says how dry it is.

    Parameters
    ----------
    season : Season
    soil : Soil
    watering : Watering
    start_depletion : float or array, default 0
        Water missing from the root zone at the start, mm.
    start_surface : float or array, optional
        Water missing from the surface layer, mm; all that can evaporate where left out.
    given : array, optional
        Watering given, mm, in place of watering at need.
    below : array, optional
        Water missing at the start between the roots and the depth that they will reach, mm. What drains from
        the root zone fills it, and what is missing there comes to be missing from the root zone as roots go
        down (FAO-56 Example 36, notes to its table).
    full_depth : array
        Depth that roots will reach, m; only with `below`.

    Returns
    -------
    Balance
        Rain plus watering equal evapotranspiration plus drainage less the rise in depletion, of the root zone
        and below it, to rounding.
    """
    shape = np.broadcast_shapes(season.reference.shape, season.basal.shape)
    most = total_evaporable_water(soil)
    easy = min(soil.readily_evaporable, most - 0.1)
    zone = np.broadcast_to(np.asarray(start_depletion, dtype=float), shape[1:]).copy()
    surface = np.full(shape[1:], most if start_surface is None else start_surface)
    wetted = np.full(shape[1:], 1.0)
    out = [np.zeros(shape) for _ in range(7)]
    use = season.basal * season.reference
    available = total_available_water(soil, season.rooting_depth)
    share = depletion_share(season.depletion, use)
    under = None if below is None else np.broadcast_to(np.asarray(below, dtype=float), shape[1:]).copy()
    missing_below = np.zeros(shape if under is not None else (0,))
    for t in range(shape[0]):
        et0, grows = season.reference[t], season.grows[t]
        rain = np.where(season.rain[t] > _IGNORED * et0, season.rain[t], 0.0) * grows
        drained = np.maximum(rain - zone, 0.0)
        zone = np.maximum(zone - rain, 0.0)
        if under is not None:
            soaked = np.minimum(drained, under)
            under, drained = under - soaked, drained - soaked
            if t:
                deeper = season.rooting_depth[t] - season.rooting_depth[t - 1]
                left = full_depth - season.rooting_depth[t - 1]
                met = under * np.clip(deeper / np.maximum(left, 1e-9), 0.0, 1.0)
                zone, under = zone + met, under - met
            missing_below[t] = under
        wetted = np.where(rain >= _WETS_ALL, 1.0, wetted)
        easy_water = share[t] * available[t]
        if given is None:
            thirsty = season.irrigated & grows & (zone > watering.watering_share * easy_water)
            water = np.where(thirsty, zone, 0.0)
        else:
            water = given[t] * grows
            drained = drained + np.maximum(water - zone, 0.0)
        zone = np.maximum(zone - water, 0.0)
        wetted = np.where(water > 0.0, watering.wetted, wetted)
        surface = np.clip(surface - rain - water / wetted, 0.0, most)
        exposed = exposed_wetted_fraction(season.covered[t], wetted, drip=watering.drip)
        reduction = evaporation_reduction(surface, most, easy)
        ke = evaporation_coefficient(reduction, season.limit[t], season.basal[t], exposed)
        evaporation = np.maximum(ke, 0.0) * et0 * watering.evaporation_left * grows
        stress = np.clip((available[t] - zone) / ((1.0 - share[t]) * available[t]), 0.0, 1.0)
        loss = np.minimum(stress * use[t] * grows + evaporation, np.maximum(available[t] - zone, 0.0))
        evaporation = np.minimum(evaporation, loss)
        zone = zone + loss
        surface = np.minimum(surface + evaporation / exposed, most)
        for array, value in zip(out, (water, loss, evaporation, drained, zone, surface, stress), strict=True):
            array[t] = value
    return replace(Balance(*out), below=missing_below if under is not None else None)
