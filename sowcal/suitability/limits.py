"""What stops an annual: the hazard that its line and its verdict name, found once for both."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sowcal.seasons.season import HAZARDS
from sowcal.suitability.by_day import ByDay
from sowcal.suitability.results import StoppedStart, WayResult, Window

__all__ = ["best_possible", "best_start", "best_stopped", "limiting_factor"]

# A start that never works and leaves less of a crop than this is no better than any other: common practice, no source.
_SOME_YIELD = 0.05


def best_start(found: ByDay, windows: Sequence[Window], watered: ByDay) -> StoppedStart | None:
    """The best start day of one way of starting, and what in the climate most often stops it.

    Parameters
    ----------
    found : ByDay
    windows : sequence of Window
        Advised windows, or else possible ones; where there are none, the day that works most often is taken.
    watered : ByDay
        The same with all the water that the crop asks for, which parts days that are alike without it.

    Returns
    -------
    StoppedStart or None
        None where no start day works and none leaves some of a crop.
    """
    if windows:
        day = max(windows, key=lambda w: w.reliability * w.yield_fraction).best
    else:
        keys = (watered.mean_yield, watered.reliability, found.reliability)
        leaves, might, works = (np.nan_to_num(k).round(6) for k in keys)
        day = int(np.lexsort((leaves, might, works))[-1])
        if might[day] <= 0.0 and leaves[day] < _SOME_YIELD:
            return None
    shares = np.nan_to_num(found.hazard_share[:, day])
    shares[HAZARDS.index("want of water")] = 0.0  # what that took is told by itself
    worst = int(shares.argmax())
    return StoppedStart(
        day=day,
        reliability=float(np.nan_to_num(found.reliability[day])),
        hazard=HAZARDS[worst] if shares[worst] > 0.0 else None,
        share_of_years=float(shares[worst]),
    )


def best_possible(starts: Sequence[WayResult], which: str) -> tuple[WayResult, Window] | None:
    """The best of the 'windows' or the 'possible' windows of some ways of starting, with its way."""
    found = [(s, w) for s in starts for w in getattr(s, which)]
    return max(found, key=lambda p: p[1].reliability * p[1].yield_fraction, default=None)


def best_stopped(starts: Sequence[WayResult]) -> tuple[WayResult, StoppedStart] | None:
    """The best start day of some ways of starting, with its way."""
    best = best_possible(starts, "windows") or best_possible(starts, "possible")
    if best is not None:
        return None if best[0].best_start is None else (best[0], best[0].best_start)
    found = [(s, s.best_start) for s in starts if s.best_start is not None]
    return max(found, key=lambda p: p[1].reliability, default=None)


def _most_of_the_year(starts: Sequence[WayResult], but: str = "") -> str | None:
    """The hazard that closes most of the year, weighed by the share of years it takes; all others before one."""
    weight: dict[str, float] = {}
    for start in starts:
        for o in start.outside:
            weight[o.hazard] = weight.get(o.hazard, 0.0) + o.share_of_years * ((o.end - o.start) % 365 + 1)
    return max(weight, key=lambda h: (h != but, weight[h]), default=None)


def limiting_factor(starts: Sequence[WayResult]) -> str | None:
    """The hazard that limits an annual most.

    Of a crop that has advised dates, what closes most of the rest of the year. Of one that has none, want of water
    where that took them; else what most often stops it from the best start that there is, for a hazard of other
    days is no reason; and where no start is better than any other, what closes most of the year.

    Parameters
    ----------
    starts : sequence of WayResult

    Returns
    -------
    str or None
        None where no day is closed and nothing fails.
    """
    best = best_stopped(starts)
    fails = None if best is None else best[1].hazard
    if any(s.windows for s in starts):
        return _most_of_the_year(starts) or fails
    if any(s.want_of_water for s in starts):
        return "want of water"
    return fails or _most_of_the_year(starts, but="want of water")
