"""The walk of one crop as one loop over its start days, in scalars: what somebody would write for a compiler.

It is the season of a crop that is cut whole, without cold gates, from sown seed (radish): stages, every hazard, yield.
numba compiles it where it is installed; without it Python runs it, for the tests. Running sums, the table of lowest
temperatures and the daily responses are made beforehand for both sides.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from sowcal.crops.tables import Crop, Way
from sowcal.seasons.establishing import rate_and_share
from sowcal.seasons.season import Seasons
from sowcal.seasons.site_days import REACH, SiteDays
from sowcal.seasons.sums import prefix, ramp
from sowcal.seasons.walk import effective_thermal_time

__all__ = ["compiled", "daily_table", "differing", "walk"]

_TIE = 2.0**-20  # as the engine has it: an exact requirement must not slip a day


def _reach(total, start, need):
    """First day by whose end a running sum has grown by a need; N where the record ends first."""
    target = total[start] + need - _TIE
    last = total.size - 1
    if total[last] < target:
        return last
    low, high, step = start, min(start + 8, last), 16
    while total[high] < target:  # seasons are short: the day lies near
        low, high, step = high, min(high + step, last), 2 * step
    while low < high:
        middle = (low + high) // 2
        if total[middle + 1] >= target:
            high = middle
        else:
            low = middle + 1
    return low


def _coldest(table, i, j):
    """Lowest of days i to j - 1, of a table whose row k holds the lowest of 2**k days."""
    if j <= i:
        return np.inf
    k, width = 0, 1
    while 2 * width <= j - i:
        k, width = k + 1, 2 * width
    return min(table[k, i], table[k, j - width])


def _mean(total, i, j):
    j = max(j, min(i + 1, total.size - 1))
    return (total[j] - total[i]) / max(j - i, 1)


def _survive(coldest, half_killed):
    return 1.0 / (1.0 + np.exp(min(max((half_killed - coldest) / 0.5, -40.0), 40.0)))


def _ramp(x, none, full):
    return min(max((x - none) / (full - none), 0.0), 1.0)


def _loop(emerging, good, total, hot_young, hot_filling, cool, warm, light, caught, warmth, long, missing,
          leaves, soil, number, out, first):  # fmt: skip
    """Walk from every start day; yields and first pickings into `out` and `first`."""
    n = out.size
    (need, horizon_days, young, filling, killing_young, killing_grown, killing_root, hot_days_half, hot_share_half,
     full_light, less_light, juvenile, bolting, days_most, reach, rotten, rots_from) = number  # fmt: skip
    for start in range(n):
        day = _reach(emerging, start, 1.0)
        settled = min(day, start + int(np.ceil(rotten)))
        end = min(settled + 1, n)
        share = (good[end] - good[start]) / max(emerging[end] - emerging[start], 1e-9)
        stand = _ramp(share, 0.15, 0.6) * _ramp(float(day - start), rotten, rots_from)
        soil_left = stand
        horizon = min(start + int(horizon_days), n)
        until = min(_reach(total, day, young * need), horizon)
        up = min(day, n)
        frost = _survive(_coldest(leaves, up, min(until + 1, n)), killing_young)
        heat = 2.0 ** (-(hot_young[min(day + 21, n)] - hot_young[up]) / hot_days_half)
        fills = min(_reach(total, day, (1.0 - filling) * need), horizon)
        ready = min(max(_reach(total, min(fills, n), filling * need), fills), horizon)
        stop = min(ready + 1, n)
        fills = min(fills, n)
        slow = _mean(cool, fills, stop)
        left = min(min(_mean(warm, fills, stop), 1.0), 2.0 ** (-_mean(hot_filling, fills, stop) / hot_share_half))
        heat *= left
        established = min(min(_reach(total, day, 0.25 * need), horizon), n)
        frost *= _survive(_coldest(leaves, established, stop), killing_grown)
        frost *= _survive(_coldest(soil, (fills + stop) // 2, stop), killing_root)
        dim = _mean(light, fills, stop)
        quotient = 1.0
        if stop > fills:
            full = max(warmth[stop] - warmth[fills], 1e-9) * full_light
            quotient = min((caught[stop] - caught[fills]) / full, 1.0)
        dim = min(dim, min(quotient**less_light / max(heat, 1e-9), 1.0))
        grown = min(min(_reach(total, day, juvenile), horizon), n)
        stalk = _reach(long, grown, bolting)
        whole = max(total[min(ready, n)] - total[up], 1.0)
        bolts = _ramp((total[min(stalk, min(ready, n))] - total[up]) / whole, 0.5, 1.0)
        slow *= _ramp(float(ready - start), 1.25 * days_most, days_most)
        known = max(until, day + 21) if stand > 0 else min(settled, n)
        judged = max(ready, known) if stand > 0 else known
        a, b = start - int(reach), judged + int(reach) + 1
        if a < 0 or b > n or missing[b] - missing[a] > 0:
            out[start] = np.nan
        else:
            out[start] = soil_left * frost * heat * slow * dim * bolts
        first[start] = ready


def compiled() -> Callable[..., None] | None:
    """The loop as machine code; None where numba is not installed."""
    try:
        from numba import njit
    except ImportError:
        return None
    names: dict[str, Any] = {"np": np, "_TIE": _TIE}
    for part in (_reach, _coldest, _mean, _survive, _ramp, _loop):
        names[part.__name__] = njit(_with(part, names))
    return names["_loop"]


def _with(part: Callable[..., Any], names: dict[str, Any]) -> Callable[..., Any]:
    """The function with other functions under the names that it calls."""
    return type(part)(part.__code__, names, part.__name__)


def _lowest(daily: np.ndarray) -> np.ndarray:
    """Lowest of 1, 2, 4 ... days from each day on, a row each."""
    rows, width = [np.append(daily, np.inf)], 1
    while 2 * width <= daily.size:
        last = rows[-1]
        rows.append(np.minimum(last, np.append(last[width:], np.full(width, np.inf))))
        width *= 2
    return np.stack(rows)


def daily_table(site: SiteDays, crop: Crop, way: Way) -> tuple[Any, ...]:
    """What the loop takes: running sums, tables of lowest temperatures, and the crop's numbers."""
    growth, heat, cold, gates = crop.growth, crop.heat, crop.cold, crop.gates
    rate, share = rate_and_share(crop.emergence, crop.germination)
    tenths = site.soil_tenths(way.depth, site.settings.seedbed).T.astype(int) + 500
    emerging, good = (prefix(x[tenths].mean(axis=0)) for x in (rate, rate * share))
    total = effective_thermal_time(site, growth)
    low, high, most = growth.range_minimum, growth.range_optimum_high, growth.range_maximum
    warmth = np.diff(site.thermal_time(growth.base_temperature, growth.upper_threshold, np.nan))
    best_day = max(min(high, growth.upper_threshold) - growth.base_temperature, 1.0)
    patience = max(1.0, 1.0 / rate.max() / 8.0)
    number = (
        0.5 * (way.thermal_time_low + way.thermal_time_high), 1.25 * growth.days_most, growth.fraction_establishing,
        growth.fraction_filling, cold.killing_young, cold.killing_grown, cold.killing_picked_part, heat.young_days_half,
        heat.filling_share_half, 9.5, 0.8, gates.juvenile_thermal_time, gates.bolting_thermal_time, growth.days_most,
        float(REACH), 50.0 * patience, 25.0 * patience,
    )  # fmt: skip
    return (
        emerging, good, total,
        prefix(site.tasmax > heat.young_limit), prefix(site.tasmax > heat.filling_limit),
        prefix(ramp(site.month_mean, low - 2.0, low + 2.0)), prefix(ramp(site.month_mean, 2.0 * most - high, high)),
        site.light_share(1.25 * growth.light_need),
        prefix(np.minimum(warmth, best_day) * site.growing_light), prefix(warmth),
        prefix(np.diff(total) * (site.day_length > gates.bolting_day_length)), site.missing_before,
        _lowest(site.hardened_minimum), _lowest(site.soil_tenths(3.0, "wet").min(axis=1) / 10.0), number,
    )  # fmt: skip


def walk(table: tuple[Any, ...], size: int, loop: Callable[..., None] | None = None) -> tuple[np.ndarray, np.ndarray]:
    """Yield and day of first picking of every start day, by the loop as it is given, or by Python's own."""
    out, first = np.empty(size), np.empty(size, dtype=np.int64)
    (loop or _loop)(*table, out, first)
    return out, first


def differing(outcome: Seasons, found: tuple[np.ndarray, np.ndarray], size: int) -> list[str]:
    """Start days of which the loop names another yield or another day of picking than the engine."""
    fraction, first = found
    apart = ~np.isclose(outcome.yield_fraction[:size], fraction[:size], rtol=1e-9, atol=1e-12, equal_nan=True)
    apart |= np.isfinite(fraction[:size]) & (outcome.first[:size] != first[:size])
    return [
        f"day {k}: yield {outcome.yield_fraction[k]:.6f} and picked on day {outcome.first[k]} here, "
        f"{fraction[k]:.6f} and {first[k]} by the loop"
        for k in np.flatnonzero(apart)
    ]
