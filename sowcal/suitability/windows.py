"""From reliability and yield by start day to possible and recommended windows (DESIGN section 5)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sowcal.seasons.season import HAZARDS
from sowcal.seasons.settings import Settings
from sowcal.suitability.by_day import ByDay, circular_mean
from sowcal.suitability.quantiles import median, quantiles
from sowcal.suitability.results import FirstPicking, Outside, Window

__all__ = ["outside_runs", "possible_windows", "recommended_windows", "runs", "share_interval"]

_SHORTEST = 5  # days; a shorter run of start days is chance, not a window: common practice
_MEND = 6  # days; a shorter break inside a window is chance too
_CLEAR = 0.8  # a minimum of yield below this share of both its neighbouring peaks parts two seasons


def runs(mask: np.ndarray) -> list[tuple[int, int]]:
    """Runs of True around the year as (first, last) days; the last run may end before it starts."""
    size = mask.size
    days = mask.tobytes()  # a byte a day, searched in a few microseconds
    turn = days.find(0)
    if turn < 0:
        return [(0, size - 1)]
    days = days[turn:] + days[: turn + 1]  # ends on the False day it begins with
    out = []
    a = days.find(1)
    while a != -1:
        b = days.find(0, a)
        out.append(((a + turn) % size, (b - 1 + turn) % size))
        a = days.find(1, b)
    return out


def _days(start: int, end: int, size: int = 365) -> np.ndarray:
    return (start + np.arange((end - start) % size + 1)) % size


def _tidy(mask: np.ndarray) -> np.ndarray:
    """Close short breaks, then drop short runs."""
    out = mask.copy()
    for a, b in runs(~out):
        if (b - a) % mask.size + 1 < _MEND and not mask.all():
            out[_days(a, b)] = True
    for a, b in runs(out):
        if (b - a) % mask.size + 1 < _SHORTEST:
            out[_days(a, b)] = False
    return out


def share_interval(successes: float, decided: float) -> tuple[float, float]:
    """95 per cent interval of a share (Wilson 1927, J. Am. Stat. Assoc. 22:209-212, from memory)."""
    if decided <= 0:
        return 0.0, 1.0
    z = 1.96
    p = successes / decided
    middle = (p + z * z / (2 * decided)) / (1 + z * z / decided)
    half = z * np.sqrt(p * (1 - p) / decided + z * z / (4 * decided**2)) / (1 + z * z / decided)
    # the share itself lies within, also where rounding would put it a hair outside
    return max(0.0, min(float(middle - half), p)), min(1.0, max(float(middle + half), p))


def _split_at_minima(days: np.ndarray, worth: np.ndarray) -> list[np.ndarray]:
    """Part a run of days at clear minima of worth."""
    if days.size < 2 * _SHORTEST:
        return [days]
    y = worth[days]
    before = np.maximum.accumulate(y)
    after = np.maximum.accumulate(y[::-1])[::-1]
    peak = np.minimum(before, after)  # at either end the day itself, whose depth is therefore 1
    depth = np.divide(y, peak, out=np.ones_like(y), where=peak > 0)
    k = int(depth.argmin())
    if depth[k] >= _CLEAR:
        return [days]
    return _split_at_minima(days[:k], worth) + _split_at_minima(days[k:], worth)


def seasons_of_year(possible: np.ndarray, worth: np.ndarray) -> list[np.ndarray]:
    """Possible start days parted into seasons at gaps and clear minima of yield, of which days may be unknown (NaN)."""
    smooth = circular_mean(worth, 15)  # no possible day is in the midst of 15 unknown ones
    if possible.all():  # begin the year at its poorest day
        turn = int(smooth.argmin())
        return _split_at_minima((turn + np.arange(365)) % 365, smooth)
    out = []
    for a, b in runs(possible):
        out += _split_at_minima(_days(a, b), smooth)
    return out


def _by_year(found: ByDay, best: int) -> tuple[tuple[int, int | None], ...]:
    """Each decided year with the day of the year on which picking begins after a start on the best day."""
    worked, first = found.success[:, best], found.first[:, best]
    return tuple(
        (int(year), (best + int(wait)) % 365 if good and wait == wait else None)
        for year, good, wait in zip(found.years.tolist(), worked.tolist(), first.tolist(), strict=True)
        if good == good  # NaN: not decided
    )


def _window(found: ByDay, days: np.ndarray) -> Window:
    worth = found.mean_yield[days] * found.reliability[days]
    worth[np.isnan(worth)] = -np.inf
    # among start days as good as the best, the middle one
    good = days[worth >= worth.max() - 0.02]
    best = int(good[good.size // 2])
    decided = int(found.decided[best])
    reliability = float(found.reliability[best])
    succeeded = found.success[:, best] == 1
    first = found.first[succeeded, best]
    picking = last = None
    if first.size:
        p10, p50, p90 = quantiles(first, (0.1, 0.5, 0.9))
        picking = FirstPicking(int(best + p10) % 365, int(best + p50) % 365, int(best + p90) % 365, round(p50))
        last = int(best + median(found.last[succeeded, best])) % 365
    raising = None
    if found.raised is not None:
        ends = [int(days[0]), int(days[-1])]
        ahead = [median(found.raised[:, d]) for d in ends]
        raising = (int(ends[0] - ahead[0]) % 365, int(ends[1] - ahead[1]) % 365)
    return Window(
        start=int(days[0]),
        end=int(days[-1]),
        best=best,
        reliability=reliability,
        interval=share_interval(reliability * decided, decided),
        years_decided=decided,
        yield_fraction=float(found.mean_yield[best]),
        raise_under_cover=raising,
        first_picking=picking,
        last_picking=last,
        first_pickings=_by_year(found, best),
    )


def _edge_intervals(found: ByDay, window: Window, risk: float, draws: np.ndarray) -> Window:
    """The window with the spread of its edges when the years are drawn again (95 per cent).

    An edge that yield or time sets, not reliability, is left without one.
    """
    reliability = np.nan_to_num(found.reliability)
    spans: list[tuple[int, int] | None] = []
    for edge, step in ((window.start, -1), (window.end, 1)):
        if reliability[(edge + step) % 365] >= risk:
            spans.append(None)
            continue
        # from the best day outward to the last day that still meets the odds
        outward = (window.best + step * np.arange(182)) % 365
        unbroken = np.logical_and.accumulate(draws[:, outward] >= risk, axis=1)
        length = unbroken.sum(axis=1) - 1
        low, high = np.percentile(np.maximum(length, 0), [2.5, 97.5]).round().astype(int)
        a, b = sorted((step * int(low), step * int(high)))
        spans.append(((window.best + a) % 365, (window.best + b) % 365))
    return replace(window, start_interval=spans[0], end_interval=spans[1])


def _reliability_of_draws(found: ByDay, draws: int) -> np.ndarray:
    """Reliability by day for years drawn again with replacement, shape (draws, 365)."""
    years = found.success.shape[0]
    drawn = np.random.default_rng(1).integers(0, years, (draws, years))
    weight = np.stack([np.bincount(row, minlength=years) for row in drawn]).astype(float)
    known = np.isfinite(found.success)
    good = weight @ np.where(known, found.success, 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.nan_to_num(circular_mean(good / (weight @ known), 7))


def possible_mask(found: ByDay) -> np.ndarray:
    """Start days that succeed in at least half of the decided years."""
    return _tidy(found.reliability >= 0.5)  # not where it is NaN


def possible_windows(found: ByDay, possible: np.ndarray | None = None) -> list[Window]:
    """Runs of possible start days; their mask where it is known already."""
    mask = possible_mask(found) if possible is None else possible
    return [_window(found, _days(a, b)) for a, b in runs(mask)]


def recommended_windows(
    found: ByDay,
    settings: Settings,
    timed: bool = True,
    allowed: np.ndarray | None = None,
    possible: np.ndarray | None = None,
) -> list[Window]:
    """Runs of recommended start days: reliable, and near the best of their own season of the year.

    Parameters
    ----------
    found : ByDay
        One crop and way.
    settings : Settings
        Risk, yield and time asked for.
    timed : bool, optional
        Whether time in the bed is held against a start; not where day length sets the date of lifting, for
        there an early start is a larger crop.
    allowed : numpy.ndarray of bool, optional
        Start days that a further wish allows (stored water), shape (365,).
    possible : numpy.ndarray of bool, optional
        From `possible_mask`, where it is known already.
    """
    if possible is None:
        possible = possible_mask(found)
    if not possible.any():
        return []
    mask = np.zeros(365, dtype=bool)
    for days in seasons_of_year(possible, found.mean_yield):
        y = found.mean_yield[days]
        reliable = found.reliability[days] >= settings.risk
        if not reliable.any():
            continue
        best = np.nanmax(np.where(reliable, y, np.nan))
        near = y >= settings.near_best * best
        with np.errstate(invalid="ignore", over="ignore"):  # as many waits as one likes may be allowed
            shortest = np.nanmin(np.where(reliable & near, found.duration[days], np.nan))
            quick = ~(found.duration[days] > settings.longest * shortest) | (not timed)
        mask[days[reliable & near & quick]] = True
    if allowed is not None:
        mask &= allowed
    mask = _tidy(mask) & possible
    windows = [_window(found, _days(a, b)) for a, b in runs(mask)]
    if not settings.edge_draws or not windows:
        return windows
    draws = _reliability_of_draws(found, settings.edge_draws)
    return [_edge_intervals(found, window, settings.risk, draws) for window in windows]


def outside_runs(found: ByDay, possible: np.ndarray | None = None) -> list[Outside]:
    """Start days that are not possible, by the hazard that most often stops them."""
    # a day without odds is not known to be closed, and one that no hazard takes a year from is closed by none
    shut = ~(possible_mask(found) if possible is None else possible)
    shut &= (found.decided > 0) & np.isfinite(found.reliability)
    around = np.nan_to_num(circular_mean(found.hazard_share, 15))
    worst = np.where(around.max(axis=0) > 0.0, around.argmax(axis=0), -1)
    out = []
    for k in range(len(HAZARDS)):
        for a, b in runs(shut & (worst == k)):
            days = _days(a, b)
            out.append(Outside(int(a), int(b), HAZARDS[k], float(found.hazard_share[k, days].mean())))
    return sorted(out, key=lambda o: o.start)
