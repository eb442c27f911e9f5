"""Crops cut or lifted whole (roots, heads, bulbs, tubers, ears) and leaves picked over and over, with their gates.

Day length starts bulbs, cold brings or spoils a crop, heads and tubers start within their own temperatures.
"""

from __future__ import annotations

import numpy as np

from sowcal.crops.tables import known
from sowcal.seasons.establishing import low_light, slowness
from sowcal.seasons.sums import (
    RangeMinimum,
    day_reached,
    halving,
    logistic_survival,
    next_day_where,
    place_in,
    prefix,
    ramp,
    span_mean,
    span_sum,
    trapezoid,
)
from sowcal.seasons.walk import Losses, Walk, hardens

__all__ = [
    "bolting_loss",
    "bulbing",
    "cold_for_cropping",
    "starting",
    "vegetative_crop",
]

_WARM_ENOUGH_FOR_BULBS = 12.0  # degC; in long days that are cool bulbs wait: memory
_JUDGED_PICKING = 40  # days of picking at most by which leaves cut again and again are judged: common practice
_WAIT_FOR_COOL = 75  # days that a plant stays leafy and sound in the heat: common practice
_WAIT_FOR_COLD = 120  # days that a head waits for its cold before it forms as well as it can: common practice


def _juvenile(walk: Walk) -> np.ndarray:
    """Day on which the plant begins to answer to cold and day length."""
    need = walk.crop.gates.juvenile_thermal_time
    if not known(need):
        return np.minimum(walk.emerged, walk.site.size)
    if walk.way.way == "set out" and known(walk.way.nursery_thermal_time):
        need = max(0.0, need - walk.way.nursery_thermal_time)
    elif walk.way.way == "planted":
        need = 0.5 * need  # sets, cloves and tubers start with their own reserves: common practice
    return np.minimum(walk.after(walk.emerged, need), walk.site.size)


def bulbing(walk: Walk, losses: Losses) -> tuple[np.ndarray, np.ndarray]:
    """Start of bulbing and day of lifting.

    Bulbs start when day length has reached the type's critical value and the fortnight is warm enough; leaf
    growth gathered by then decides their size, so a late start means small bulbs, not a later harvest (Brewster
    2008, memory).
    """
    site, gates = walk.site, walk.crop.gates
    juvenile = _juvenile(walk)
    long = site.keep(
        ("longer", gates.bulbing_day_length),
        lambda: next_day_where(
            (site.day_length >= gates.bulbing_day_length) & (site.fortnight_mean >= _WARM_ENOUGH_FOR_BULBS)
        ),
    )
    gate = walk.within(long[juvenile])
    here = np.minimum(gate, site.size)
    grown = walk.total[here] - walk.total[np.minimum(walk.emerged, site.size)]
    if walk.way.way == "set out" and known(walk.way.nursery_thermal_time):
        # seedlings raised in days that are long already start to bulb in their trays
        short = site.day_length[site.starts] < gates.bulbing_day_length
        grown = grown + np.where(short, 1.0, 0.25) * walk.way.nursery_thermal_time
    if walk.way.way == "planted" and known(gates.juvenile_thermal_time):
        grown = grown + 0.5 * gates.juvenile_thermal_time  # sets and cloves start with their own reserves
    if gates.full_size_thermal_time > 0:
        losses.take("day length", ramp(grown, 0.0, gates.full_size_thermal_time))
    _cold_share(walk, juvenile, here, losses)
    need = gates.bulbing_thermal_time if known(gates.bulbing_thermal_time) else 600.0
    return gate, walk.after(here, need)


def _cold_days(walk: Walk) -> np.ndarray:
    return walk.site.days_below("tas", walk.crop.gates.cold_warmest)


def _cold_need(walk: Walk) -> float:
    """Days of cold that bring half the sorts of a type to crop."""
    gates = walk.crop.gates
    return 0.5 * (gates.cold_days_low + gates.cold_days_high)


def _cold_share(walk: Walk, i: np.ndarray, j: np.ndarray, losses: Losses) -> None:
    """Graded: each cold day up to the full need brings its part of the crop."""
    gates = walk.crop.gates
    if gates.cold_effect != "cropping" or not known(gates.cold_warmest):
        return
    met = ramp(span_sum(_cold_days(walk), i, np.maximum(i, j)), 0.0, max(_cold_need(walk), 1.0))
    without = gates.share_without_cold if known(gates.share_without_cold) else 0.0
    # what fails for want of cold grows on without heading: the trade's word is that it comes too slow
    losses.take("too slow", without + (1.0 - without) * met)


def cold_for_cropping(walk: Walk, fills: np.ndarray, losses: Losses) -> np.ndarray:
    """Day on which heads start where the crop waits for its cold; unchanged elsewhere."""
    gates = walk.crop.gates
    if gates.cold_effect != "cropping" or not known(gates.cold_warmest):
        return fills
    n = walk.site.size
    juvenile = _juvenile(walk)
    cold = _cold_days(walk)
    met = place_in(cold, cold[juvenile] + _cold_need(walk) - 0.5) - 1
    waits = np.minimum(np.maximum(fills, met), np.maximum(fills, juvenile + _WAIT_FOR_COLD))
    waits = walk.within(waits)
    _cold_share(walk, juvenile, np.minimum(waits, n), losses)
    return waits


def starting(walk: Walk, fills: np.ndarray, losses: Losses) -> np.ndarray:
    """Day on which heads, curds or tubers start.

    They start within their own range of the fortnight's mean temperature. In heat the plant stays leafy and
    waits, so that a crop set out in summer heads in autumn; one that waits too long, or starts outside
    the best range, is poor (Wurr et al. 1990, Bjorkman & Pearson 1998, memory).
    """
    site, g = walk.site, walk.crop.gates
    if not known(g.starting_none_above, g.starting_best_high):
        return fills
    enough = g.starting_best_high + 1.0
    cool = site.keep(("cool enough", enough), lambda: next_day_where(site.fortnight_mean <= enough))
    begin = np.minimum(fills, site.size)
    starts = walk.within(np.minimum(cool[begin], begin + _WAIT_FOR_COOL))
    mean = site.fortnight_mean[np.minimum(starts, site.size - 1)]
    left = trapezoid(mean, g.starting_none_below, g.starting_best_low, g.starting_best_high, g.starting_none_above)
    losses.take_where(mean > g.starting_best_high, "heat", "too slow", left)
    return starts


def bolting_loss(walk: Walk, fills: np.ndarray, judged: np.ndarray, losses: Losses) -> None:
    """Share lost to plants that run to flower before they are picked.

    Cold counts only after the juvenile size; where cold is needed, the share of plants that answer grows
    from the first to the last days of cold. Plants ready to bolt do so after some warmth in long days.
    """
    site, g = walk.site, walk.crop.gates
    if g.cold_effect == "cropping" or not known(g.bolting_thermal_time):
        return
    n = site.size
    ready = _juvenile(walk)
    answering: np.ndarray | float = 1.0
    if g.cold_effect == "bolting" and known(g.cold_warmest):
        cold = _cold_days(walk)
        begin = ready
        until = np.minimum(judged, n)
        answering = ramp(
            span_sum(cold, begin, np.maximum(begin, until)),
            g.cold_days_low,
            max(g.cold_days_high, g.cold_days_low + 1),
        )
        ready = place_in(cold, cold[begin] + g.cold_days_low - 0.5) - 1
        ready = np.minimum(np.maximum(ready, begin), n)

    def make() -> tuple[np.ndarray, np.ndarray]:
        daily = np.diff(walk.total)
        if known(g.bolting_day_length):
            daily = daily * (site.day_length > g.bolting_day_length)
        return prefix(daily), walk.total

    # the sum of thermal time is kept with what is made of it, so that its identity stands for all that has made it
    warm, _ = site.keep(("bolting", id(walk.total), g.bolting_day_length), make)
    stalk = day_reached(warm, ready, g.bolting_thermal_time)
    end = np.minimum(judged, n)
    emerged = np.minimum(walk.emerged, n)
    whole = np.maximum(walk.total[end] - walk.total[emerged], 1.0)
    reached = (walk.total[np.minimum(stalk, end)] - walk.total[emerged]) / whole
    # bolting in the last part of growth spoils part of the crop, before half of it all
    losses.take("bolting", 1.0 - answering * (1.0 - ramp(reached, 0.5, 1.0)))


def vegetative_crop(walk: Walk, losses: Losses) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """First picking, last picking and last day judged, for every start day; losses by hazard on the way."""
    site, growth, gates = walk.site, walk.crop.growth, walk.crop.gates
    n = site.size
    filling = growth.fraction_filling if known(growth.fraction_filling) else 0.4
    if known(gates.bulbing_day_length):
        fills, ready = bulbing(walk, losses)
    else:
        fills = walk.at(1.0 - filling)
        fills = cold_for_cropping(walk, fills, losses)
        fills = starting(walk, fills, losses)
        ready = walk.within(_ready(walk, fills, filling))
    middle = 0.5 * (growth.picking_days_low + growth.picking_days_high)
    picking = int(middle) if known(middle) else 14
    last = ready + picking  # by the calendar, off the record too
    # a leaf crop is worth what its picking is worth, so half of that, or its first forty days, is judged with it
    judged = np.minimum(ready + min(picking // 2, _JUDGED_PICKING), n) if growth.habit == "leaf" else ready
    until = np.minimum(judged + 1, n)
    fills = np.minimum(fills, n)
    quality = _temperature_of_filling(walk, fills, until, losses)
    _heat(walk, fills, until, quality, losses)
    _cold(walk, fills, until, losses)
    low_light(walk, fills, until, losses)
    bolting_loss(walk, fills, judged, losses)
    slowness(walk, ready, losses)
    return ready, last, judged


def _ready(walk: Walk, fills: np.ndarray, filling: float) -> np.ndarray:
    n = walk.site.size
    return np.maximum(day_reached(walk.total, np.minimum(fills, n), filling * walk.need), fills)


def _felt_by_part(walk: Walk) -> RangeMinimum:
    """Cold as the picked part feels it: roots in the soil, leaves that harden, heads and ears that do not."""
    site, part = walk.site, walk.crop.part
    if part in ("root", "tuber", "bulb"):
        return site.coldest_soil
    if part in ("leaf", "stalk", "shoot") and hardens(walk.crop.cold):
        return site.coldest_hardened
    return site.coldest_tissue


def _temperature_of_filling(walk: Walk, fills: np.ndarray, until: np.ndarray, losses: Losses) -> np.ndarray | float:
    """Quality by the running monthly mean against the published monthly ranges; returns the warm side.

    The least and the greatest monthly mean are where a crop is no longer worth growing, not where it dies:
    half is left there. Above, it falls straight from the best mean, to nothing as far again beyond; below, where
    thermal time has slowed growth already, from two degrees above the least to two below. Common practice, no
    source.
    """
    site, g = walk.site, walk.crop.growth
    limits = (g.range_minimum, g.range_optimum_low, g.range_optimum_high, g.range_maximum)
    if not known(*limits):
        return 1.0
    cool, warm = site.keep(
        ("range", *limits),
        lambda: np.stack(
            [
                prefix(ramp(site.month_mean, limits[0] - 2.0, limits[0] + 2.0)),
                prefix(ramp(site.month_mean, 2.0 * limits[3] - limits[2], limits[2])),
            ]
        ),
    )
    losses.take("too slow", span_mean(cool, fills, until))
    return span_mean(warm, fills, until)


def _heat(walk: Walk, fills: np.ndarray, until: np.ndarray, quality: np.ndarray | float, losses: Losses) -> None:
    """Hot days while the picked part forms; with the warm months they are one strain.

    Before that, heat only slows growth: it is in the thermal time, and the plant waits for its season.
    """
    site, heat = walk.site, walk.crop.heat
    left = np.minimum(quality, np.ones(site.starts.size))

    def share(what: str, limit: float, half: float, i: np.ndarray, j: np.ndarray) -> np.ndarray | None:
        if not known(limit, half) or half <= 0:
            return None
        return halving(span_mean(site.days_above(what, limit), i, j), half)

    filling = share("tasmax", heat.filling_limit, heat.filling_share_half, fills, until)
    if filling is not None:
        left = np.minimum(left, filling)
    losses.take("heat", left)
    nights = share("tasmin", heat.night_limit, heat.night_share_half, fills, until)
    if nights is not None:
        losses.take("warm nights", np.minimum(nights / np.maximum(left, 1e-9), 1.0))


def _cold(walk: Walk, fills: np.ndarray, until: np.ndarray, losses: Losses) -> None:
    site, cold = walk.site, walk.crop.cold
    established = np.minimum(walk.at(0.25), site.size)
    if known(cold.killing_grown):
        felt = site.coldest_hardened if hardens(cold) else site.coldest_tissue
        losses.take("frost", logistic_survival(felt(established, until), cold.killing_grown))
    if known(cold.killing_picked_part):
        half_filled = (fills + until) // 2
        losses.take("frost", logistic_survival(_felt_by_part(walk)(half_filled, until), cold.killing_picked_part))
    if known(cold.chilling_temperature) and cold.chilling_days_half > 0:
        nights = span_sum(site.chilled_nights(cold.chilling_temperature), np.minimum(walk.emerged, until), until)
        losses.take("chilling", halving(nights, cold.chilling_days_half))
