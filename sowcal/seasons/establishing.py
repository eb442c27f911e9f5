"""From the start day to a stand: raising under cover, coming up, first frost, first heat, and how long it stands.

Rate and share of emergence are functions of soil temperature at sowing depth (Harrington & Minges 1954 for
the tabled seeds), added up hour by hour: lettuce, spinach and celery fail in hot soil long before they stop.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sowcal.climate.degree_days import single_sine_horizontal
from sowcal.crops.tables import Crop, Germination, Growth, Way, known
from sowcal.crops.tables import Emergence as EmergenceTable
from sowcal.seasons.site_days import SiteDays
from sowcal.seasons.sums import (
    day_reached,
    halving,
    logistic_survival,
    place_in,
    prefix,
    ramp,
    span_mean,
    span_sum,
    stepped,
)
from sowcal.seasons.walk import Losses, Walk, hardens

__all__ = [
    "YOUNG_DAYS",
    "Emerged",
    "Raised",
    "emerge",
    "first_flower",
    "low_light",
    "raise_seedlings",
    "rate_and_share",
    "slowness",
    "young_stand",
]

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


YOUNG_DAYS = 21  # the handbook's limits for young plants speak of the first three weeks


def young_stand(walk: Walk, up: Emerged, losses: Losses) -> np.ndarray:
    """Losses from the start day to the end of establishment; returns the day by which they are known."""
    site, cold, heat = walk.site, walk.crop.cold, walk.crop.heat
    if walk.way.way == "set out":
        _cold_bed(walk, losses)
    else:
        losses.take_where(up.hot, "hot soil", "cold soil", up.stand)
    # flowering crops are young until they flower; others until they are established
    young = walk.crop.growth.habit != "flowering"
    until = walk.at(_or(walk.crop.growth.fraction_establishing, 0.25)) if young else first_flower(walk)
    if known(cold.killing_young):
        coldest = (site.coldest_hardened if hardens(cold) else site.coldest_tissue)(
            np.minimum(up.day, site.size), np.minimum(until + 1, site.size)
        )
        losses.take("frost", logistic_survival(coldest, cold.killing_young))
    if known(heat.young_limit, heat.young_days_half):
        hot = site.days_above("tasmax", heat.young_limit)
        end = np.minimum(up.day + YOUNG_DAYS, site.size)
        losses.take("heat", halving(span_sum(hot, np.minimum(up.day, site.size), end), heat.young_days_half))
    # of a stand that never comes up no more needs to be known
    return np.where(up.stand > 0, np.maximum(until, up.day + YOUNG_DAYS), up.settled)


def _cold_bed(walk: Walk, losses: Losses) -> None:
    """Tender plants set into cold soil stand still and rot.

    By the mean of the first fortnight 10 cm down all take at the least soil temperature for their seed, none six
    below it (judgement). That is still kinder than the least soil temperatures that W. McLaurin (University of
    Georgia, Garden patience, 18 April 2000) gives for setting out: 60 degF for tomato and cucumber, 70 for pepper
    and squash, 75 for melon, below which plants are stunted.
    """
    site, least = walk.site, walk.crop.germination.soil_minimum
    if walk.crop.cold.frost_class not in ("tender", "very tender") or not known(least):
        return
    soil = site.keep(("bed",), lambda: prefix(site.soil_tenths(10.0, "wet").mean(axis=1) / 10.0))
    mean = span_mean(soil, site.start, np.minimum(site.start + 14, site.size))
    losses.take("cold soil", ramp(mean, least - 6.0, least))


def low_light(walk: Walk, i: np.ndarray, j: np.ndarray, losses: Losses) -> None:
    """What forms in poor light stays small: in proportion to the radiation while it fills.

    A full crop wants a quarter as much again as the light below which growth slows (judgement).
    """
    need = walk.crop.growth.light_need
    if known(need) and need > 0:
        losses.take("low light", span_mean(walk.site.light_share(1.25 * need), i, j))


def first_flower(walk: Walk) -> np.ndarray:
    """Day of first flower of a crop that is picked from its flowers."""
    f = walk.crop.flowering
    assert f is not None
    if "first flower" not in walk.kept:
        day = day_reached(walk.total, walk.emerged, np.maximum(walk.need - f.fruit_thermal_time, 0.0))
        walk.kept["first flower"] = np.minimum(walk.within(day), walk.site.size)
    return walk.kept["first flower"]


def slowness(walk: Walk, first: np.ndarray, losses: Losses) -> None:
    """From full worth at the most days growers allow to nothing at a quarter more."""
    most = _or(walk.crop.growth.days_most, 200.0)
    losses.take("too slow", ramp((first - walk.site.start).astype(float), 1.25 * most, most))


def _or(value: float, other: float) -> float:
    return value if known(value) else other
