"""Crops cut or lifted whole (roots, heads, bulbs, tubers, ears) and leaves picked over and over."""

from __future__ import annotations

import numpy as np

from sowcal.crops.records import known
from sowcal.seasons.gates import bolting_loss, bulbing, cold_for_cropping, starting
from sowcal.seasons.response import halving, logistic_survival, ramp
from sowcal.seasons.stand import low_light, slowness
from sowcal.seasons.sums import RangeMinimum, day_reached, prefix, span_mean, span_sum
from sowcal.seasons.walk import Losses, Walk, hardens

__all__ = ["vegetative_crop"]


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
    # a leaf crop is worth what its picking is worth, so half of that is judged with it
    judged = np.minimum(ready + picking // 2, n) if growth.habit == "leaf" else ready
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
    left = np.minimum(quality, np.ones(site.size))

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
