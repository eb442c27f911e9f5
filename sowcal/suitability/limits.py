"""What stops an annual: the hazard that its line and its verdict name, found once for both."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sowcal.seasons.season import HAZARDS
from sowcal.suitability.by_day import ByDay
from sowcal.suitability.results import StoppedStart, WantOfWater, WayResult, Window

__all__ = ["best_of_stopped", "best_possible", "best_stopped", "limiting_factor"]

# A start that never works and leaves less of a crop than this is no better than any other: common practice, no source.
_SOME_YIELD = 0.05


def best_of_stopped(
    found: ByDay, possible: Sequence[Window], watered: ByDay, took: WantOfWater | None
) -> StoppedStart | None:
    """The best start day of a way of starting that is advised on none, and what most often stops it.

    Parameters
    ----------
    found : ByDay
    possible : sequence of Window
        Possible windows; where there are none, the day that works most often is taken.
    watered : ByDay
        The same with all the water that the crop asks for: where no start works with it either, the climate stops it.
    took : WantOfWater or None
        What want of water took; it is then the hazard, also on the day that would be the best.

    Returns
    -------
    StoppedStart or None
        None where no start day works and none leaves some of a crop.
    """
    if possible:
        day = max(possible, key=lambda w: w.reliability * w.yield_fraction).best
    elif took is not None:
        day = took.day
    else:
        found = watered
        works, leaves = np.nan_to_num(found.reliability), np.nan_to_num(found.mean_yield)
        day = int(np.lexsort((leaves, works.round(6)))[-1])
        if works[day] <= 0.0 and leaves[day] < _SOME_YIELD:
            return None
    shares = np.nan_to_num(found.hazard_share[:, day])
    worst = HAZARDS.index("want of water") if took is not None else int(shares.argmax())
    return StoppedStart(
        day=day,
        reliability=float(found.reliability[day]),
        hazard=HAZARDS[worst] if shares[worst] > 0.0 else None,
        share_of_years=float(shares[worst]),
    )


def best_possible(starts: Sequence[WayResult], which: str) -> tuple[WayResult, Window] | None:
    """The best of the 'windows' or the 'possible' windows of some ways of starting, with its way."""
    found = [(s, w) for s in starts for w in getattr(s, which)]
    return max(found, key=lambda p: p[1].reliability * p[1].yield_fraction, default=None)


def best_stopped(starts: Sequence[WayResult]) -> tuple[WayResult, StoppedStart] | None:
    """Of ways of starting of which none is advised, the best start day, with its way."""
    best = best_possible(starts, "possible")
    if best is not None:
        return None if best[0].best_start is None else (best[0], best[0].best_start)
    found = [(s, s.best_start) for s in starts if s.best_start is not None]
    return max(found, key=lambda p: p[1].reliability, default=None)


def _most_of_the_year(starts: Sequence[WayResult]) -> str | None:
    """The hazard that closes most of the year, weighed by the share of years it takes."""
    weight: dict[str, float] = {}
    for start in starts:
        for o in start.outside:
            weight[o.hazard] = weight.get(o.hazard, 0.0) + o.share_of_years * ((o.end - o.start) % 365 + 1)
    return max(weight, key=lambda h: weight[h], default=None)


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
    if not any(s.windows for s in starts):
        if any(s.want_of_water for s in starts):
            return "want of water"
        best = best_stopped(starts)
        if best is not None and best[1].hazard is not None:
            return best[1].hazard
    return _most_of_the_year(starts)
