"""Raising under cover: how long before setting out the seed is sown, and how far seedlings have come."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sowcal.climate.degree_days import single_sine_horizontal
from sowcal.crops.records import Growth, Way, known
from sowcal.seasons.site_days import SiteDays
from sowcal.seasons.sums import place_in, prefix, stepped

__all__ = ["Raised", "raise_seedlings"]

# A heated bench is kept at 18 to 22 degC; an unheated house or frame is some degrees warmer than outdoors by
# day and a little by night: common practice, no source.
HEATED_LEAST, HEATED_MOST = 16.0, 22.0
UNHEATED_NIGHT, UNHEATED_DAY = 2.0, 5.0


@dataclass(frozen=True, slots=True)
class Raised:
    """Seedlings for every setting-out day: days under cover and thermal time still owing (degC d).

    `begun` is the first day index that this rests on; below 0 it lies before the record.
    """

    days: np.ndarray
    owing: np.ndarray
    begun: np.ndarray


def raise_seedlings(site: SiteDays, growth: Growth, way: Way) -> Raised:
    """Time under cover before each setting-out day, within the least and most weeks of the crop.

    Seed is sown so that the thermal time of the crop's seedlings is met on the day of setting out; where the
    most weeks do not suffice the seedlings go out small and owe the rest.
    """
    heated = way.nursery_heat == "heated"

    def make() -> np.ndarray:
        if heated:
            low = np.maximum(site.tasmin, HEATED_LEAST)
            high = np.maximum(site.tasmax, HEATED_MOST)
        else:
            low, high = site.tasmin + UNHEATED_NIGHT, site.tasmax + UNHEATED_DAY
        return prefix(single_sine_horizontal(low, high, growth.base_temperature, growth.upper_threshold))

    total = site.keep(("nursery", heated, growth.base_temperature, growth.upper_threshold), make)
    start = site.start
    least, most = 7.0 * way.nursery_weeks_least, 7.0 * way.nursery_weeks_most
    need = way.nursery_thermal_time
    if not known(need):
        days = np.full(site.size, 0.5 * (least + most))
        return Raised(np.nan_to_num(days, nan=35.0), np.zeros(site.size), start)
    sown = place_in(total, total[start] - stepped(need), "right") - 1
    days = np.clip((start - sown).astype(float), least, most)
    got = total[start] - total[np.maximum(start - days.astype(int), 0)]
    # before a record's first day there may have been the warmth that seems to be owing
    begun = np.where(sown >= 0, np.maximum(sown, start - int(most)), start - int(most))
    return Raised(days, np.maximum(need - got, 0.0), begun)
