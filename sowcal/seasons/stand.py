"""The stand in the bed: emergence, first frost, first heat, and how long it holds the bed."""

from __future__ import annotations

import numpy as np

from sowcal.crops.records import known
from sowcal.seasons.emergence import Emerged
from sowcal.seasons.response import halving, logistic_survival, ramp
from sowcal.seasons.sums import day_reached, prefix, span_mean, span_sum
from sowcal.seasons.walk import Losses, Walk, hardens

__all__ = ["first_flower", "low_light", "slowness", "young_stand"]

_YOUNG_DAYS = 21  # the handbook's limits for young plants speak of the first three weeks


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
        end = np.minimum(up.day + _YOUNG_DAYS, site.size)
        losses.take("heat", halving(span_sum(hot, np.minimum(up.day, site.size), end), heat.young_days_half))
    # of a stand that never comes up no more needs to be known
    return np.where(up.stand > 0, np.maximum(until, up.day + _YOUNG_DAYS), up.settled)


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
