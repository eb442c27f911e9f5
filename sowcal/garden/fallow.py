"""Water in the soil of a bed that lies unwatered, day by day: what a rain-fed crop finds when it is started.

Two layers: the one that seedlings root in and air dries, and the rest down to where the crop will root.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sowcal.garden.dual_coefficient import covered_fraction
from sowcal.garden.garden_weather import GardenWeather
from sowcal.garden.soil_water import Soil, depletion_share, total_available_water, total_evaporable_water

__all__ = ["Fallow", "fallow_soil"]

_WEEDS = 0.3  # basal coefficient of stubble and thin weeds that are hoed off before a start: common practice
_WEED_HEIGHT = 0.2  # m
_WEED_DEPLETION = 0.5  # share of available water that weeds take freely: common practice
_MOST = 1.2  # greatest coefficient, eq. 72 in still and dry air
_IGNORED = 0.2  # of reference evapotranspiration; less rain evaporates at once (FAO-56 chapter 8, from memory)


@dataclass(frozen=True, slots=True)
class Fallow:
    """Water missing in the morning of each day, before its rain, mm, shape (days,): above and below a depth."""

    upper: np.ndarray
    lower: np.ndarray


def fallow_soil(
    weather: GardenWeather, soil: Soil, upper_depth: float, full_depth: float, *, evaporation_left: float = 1.0
) -> Fallow:
    """Follow the soil of an unwatered bed through the record.

    Parameters
    ----------
    weather : GardenWeather
    soil : Soil
    upper_depth, full_depth : float
        Depth in which seedlings root, and down to which the crop will root, m.
    evaporation_left : float
        Share of soil evaporation that mulch leaves.

    Returns
    -------
    Fallow

    Notes
    -----
    Evaporation as in FAO-56 eq. 71 and 74 from the upper layer; thin weeds draw on both layers in proportion to
    the water that is there (eq. 84). The first year is gone through twice, so that what the soil held when the
    record began does not matter.
    """
    most_upper = float(total_available_water(soil, upper_depth))
    most_lower = max(float(total_available_water(soil, full_depth)) - most_upper, 0.0)
    evaporable = total_evaporable_water(soil)
    easy = min(soil.readily_evaporable, evaporable - 0.1)
    bare = 1.0 - float(covered_fraction(_WEEDS, _MOST, _WEED_HEIGHT))
    most = most_upper + most_lower
    free = (1.0 - depletion_share(_WEED_DEPLETION, _WEEDS * weather.reference)) * most
    rain = np.where(weather.rain > _IGNORED * weather.reference, weather.rain, 0.0).tolist()
    energy, ease = weather.reference.tolist(), free.tolist()
    first = min(365, weather.size)
    upper, lower = 0.5 * most_upper, 0.5 * most_lower
    out = np.empty((2, weather.size))
    for t in (*range(first), *range(weather.size)):
        out[:, t] = upper, lower
        over = max(rain[t] - upper, 0.0)
        upper = max(upper - rain[t], 0.0)
        lower = max(lower - over, 0.0)
        reduction = min(max((evaporable - upper) / (evaporable - easy), 0.0), 1.0)
        air = min(reduction * (_MOST - _WEEDS), bare * _MOST) * energy[t] * evaporation_left
        upper = min(upper + air, most_upper)
        there = most - upper - lower
        if there > 0.0:
            drawn = min(_WEEDS * energy[t] * min(there / max(ease[t], 1e-9), 1.0), there)
            above = drawn * (most_upper - upper) / there
            upper, lower = upper + above, min(lower + drawn - above, most_lower)
    return Fallow(out[0], out[1])
