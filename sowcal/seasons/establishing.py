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
    "rest_begun",
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
    start = site.starts
    least, most = 7.0 * way.nursery_weeks_least, 7.0 * way.nursery_weeks_most
    need = way.nursery_thermal_time
    if not known(need):
        days = np.full(start.size, 0.5 * (least + most))
        return Raised(np.nan_to_num(days, nan=35.0), np.zeros(start.size), start)
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
    """Emergence of one crop from every start, shape (S,) each."""
    start = site.starts
    germination = crop.germination
    from_table = crop.emergence if way.stock in ("", "seed") else None
    if way.way == "set out" or (from_table is None and not germination.thermal_time > 0):
        return Emerged(start, np.ones(start.size), np.zeros(start.size, dtype=bool), start)
    depth = way.depth if known(way.depth) else 2.0

    def sums() -> np.ndarray:
        rate, share = rate_and_share(from_table, germination)
        # a row of all days for each share of the day: sums down the rows are quicker than along six columns
        place = site.keep(
            ("soil places", depth, surface),
            lambda: np.ascontiguousarray(site.soil_tenths(depth, surface).T) + np.int16(500),
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
    if known(way.stock_rest_days) and way.stock in _RESTING:
        stand = stand * _rested(site, depth, surface, way.stock_rest_days)
    best = 0.5 * (germination.soil_optimum_low + germination.soil_optimum_high)
    tas = site.keep(("tas",), lambda: prefix(site.tas))
    hot = span_mean(tas, start, end) > (best if known(best) else 22.0)
    return Emerged(day, stand, hot, np.minimum(settled, site.size))


_RESTING = ("clove", "set")
_LONGEST_DAY, _SHORTEST_DAY = 171, 354  # days of the northern year
_LIFTED_AFTER = 14  # days after the longest day at which such stock was lifted: common practice, no source
_RESTS_WELL, _RESTS_BADLY = 18.0, 28.0  # degC in the soil: rest passes in full, and at the pace of hot soil: judgement
_WARM_REST = 0.4  # pace of rest in hot soil: judgement


def _lifted(site: SiteDays) -> np.ndarray:
    """Day index on which the stock of each start day was lifted; below 0 before the record."""
    lifted = (_LONGEST_DAY if site.latitude >= 0 else _SHORTEST_DAY) + _LIFTED_AFTER
    return site.starts - (site.day_of_year[site.starts] - lifted) % 365


def _rested(site: SiteDays, depth: float, surface: str, rest: float) -> np.ndarray:
    """Stand of cloves and bulbs by how far their rest is over on each start day.

    Stock lifted a fortnight after the longest day rests for some weeks, longer in warm soil; what is planted before
    lies, rots or comes up unevenly: none at half its rest, all at its end (common practice, no source).
    """

    def make() -> np.ndarray:
        soil = site.soil_tenths(depth, surface).mean(axis=1) / 10.0
        passed = prefix(_WARM_REST + (1.0 - _WARM_REST) * ramp(soil, _RESTS_BADLY, _RESTS_WELL))
        # of stock lifted before the record begins it is not known how it rested, and no answer rests on it
        met = ramp(passed[site.starts] - passed[np.maximum(_lifted(site), 0)], 0.5 * rest, rest)
        return np.where(site.starts - _lifted(site) > rest / _WARM_REST, 1.0, met)

    return site.keep(("rested", depth, surface, rest), make)


def rest_begun(site: SiteDays, way: Way) -> np.ndarray:
    """First day index that a start of resting stock looks at: when the stock was lifted, once its rest may matter."""
    if not known(way.stock_rest_days) or way.stock not in _RESTING:
        return site.starts
    # rest is over at the latest when all of it has passed at the pace of hot soil
    resting = site.starts - _lifted(site) <= way.stock_rest_days / _WARM_REST
    return np.where(resting, _lifted(site), site.starts)


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
    # heat that kills in watered soil, or that checks plants until they are not worth keeping: the worse of the two
    end = np.minimum(up.day + YOUNG_DAYS, site.size)
    hot = [
        halving(span_sum(site.days_above("tasmax", limit), np.minimum(up.day, site.size), end), days)
        for limit, days in ((heat.young_limit, heat.young_days_half), (heat.young_check, heat.young_check_days_half))
        if known(limit, days)
    ]
    if hot:
        losses.take("heat", np.min(hot, axis=0))
    # of a stand that never comes up no more needs to be known
    return np.where(up.stand > 0, np.maximum(until, up.day + YOUNG_DAYS), up.settled)


# Mean soil temperature of the first fortnight 10 cm down (degC) from which all plants set out take. B. Upham (Kansas
# State University, read in an excerpt of a newspaper only) gives 55 degF for tomato, corn and bean, 60 for cucumber,
# melon and pepper; W. McLaurin (University of Georgia, Garden patience, 18 April 2000) 60 for tomato and cucumber, 70
# for pepper and squash, 75 for melon, below which plants are stunted. None take 4 degrees below (judgement).
_BED = {"tender": 13.0, "very tender": 16.5}
_BED_ABOVE_BASE = 6.0  # degC above the base of growth at most: squash and courgette grow at less than melon (judgement)
_BED_RAMP = 4.0


def _cold_bed(walk: Walk, losses: Losses) -> None:
    """Tender plants set into cold soil stand still and rot."""
    site, growth = walk.site, walk.crop.growth
    if walk.crop.cold.frost_class not in _BED:
        return
    soil = site.keep(("bed",), lambda: prefix(site.soil_tenths(10.0, "bare").mean(axis=1) / 10.0))
    mean = span_mean(soil, site.starts, np.minimum(site.starts + 14, site.size))
    full = min(_BED[walk.crop.cold.frost_class], growth.base_temperature + _BED_ABOVE_BASE)
    losses.take("cold soil", ramp(mean, full - _BED_RAMP, full))


def low_light(walk: Walk, i: np.ndarray, j: np.ndarray, losses: Losses) -> None:
    """What forms in poor light stays small: by the light, and by the light for each degree day; the worse counts.

    Once the canopy is closed (when heads, roots and ears fill, from first flower on), growth is the light taken in
    (Monteith 1977, from memory), while the days that it lasts are those of a sum of degree days: the same degree
    days of September carry less light than those of May. Their ratio is the photothermal quotient (Nix 1976, from
    memory), of which R. A. Fischer 1985 (doi 10.1017/S0021859600056495) showed that it sets the yield of wheat;
    that vegetables follow it too is a hypothesis of ours.
    """
    need, left = walk.crop.growth.light_need, None
    if known(need) and need > 0:
        # a full crop wants a quarter as much again as the light below which growth slows (judgement)
        left = span_mean(walk.site.light_share(1.25 * need), i, j)
    quotient = light_for_thermal_time(walk, i, j)
    if quotient is not None:
        # hot days shorten the time and spoil what sets: one strain, of which heat has taken its part already
        heat = losses.still_left("heat") * losses.still_left("warm nights")
        quotient = np.minimum(quotient / np.maximum(heat, 1e-9), 1.0)
        left = quotient if left is None else np.minimum(left, quotient)
    if left is not None:
        losses.take("low light", left)


# Daily radiation (MJ m-2 d-1) at its best temperature with which a crop of each kind grows in full, and the power by
# which less costs: tender crops are grown to the full light of summer; hardy ones fill in the light of autumn, winter
# and spring, also where it is cloudy (cabbage, leek, turnip and carrot are sown to fill there in 6 to 10 MJ a day).
# From memory of what each is grown in; a canopy's leaves are partly saturated, so that it loses a little less than in
# proportion (judgement).
_FULL_LIGHT = {"tender": 20.0, "hardy": 9.5}
_LESS_LIGHT = 0.8


def light_for_thermal_time(walk: Walk, i: np.ndarray, j: np.ndarray) -> np.ndarray | None:
    """Share of a full crop by the light for each degree day over days i to j - 1, against that of its kind.

    Below the best temperature growth by light falls as the degree days do, so that cold days do not raise the ratio
    (raw, it is highest in January); above it the degree days run on and the light does not. None where the handbook
    lacks a temperature that it takes.
    """
    site, crop = walk.site, walk.crop
    growth = crop.growth
    base, upper, best = growth.base_temperature, growth.upper_threshold, growth.range_optimum_high
    if not known(base, upper, best):
        return None
    best_day = max(min(best, upper) - base, 1.0)

    def make() -> np.ndarray:
        daily = np.diff(site.thermal_time(base, upper, np.nan))
        return np.stack([prefix(np.minimum(daily, best_day) * site.growing_light), prefix(daily)])

    caught, warmth = site.keep(("light for thermal time", base, upper, best_day), make)
    kind = "tender" if crop.cold.frost_class in ("tender", "very tender") else "hardy"
    full = np.maximum(span_sum(warmth, i, j), 1e-9) * _FULL_LIGHT[kind]
    share = np.minimum(span_sum(caught, i, j) / full, 1.0)
    return np.where(j > i, share, 1.0) ** _LESS_LIGHT


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
    losses.take("too slow", ramp((first - walk.site.starts).astype(float), 1.25 * most, most))


def _or(value: float, other: float) -> float:
    return value if known(value) else other
