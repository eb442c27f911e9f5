"""From every start day of a record to windows of the year: days folded by year, odds, possible and recommended windows.

Quantiles of a few values are the same to the bit as numpy's, without its cost of a tenth of a millisecond a call: a
chart asks for some thousands of them, each of no more values than the record has years.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sowcal.seasons.season import HAZARDS, Seasons
from sowcal.seasons.site_days import SiteDays
from sowcal.settings import Settings
from sowcal.suitability.results import FirstPicking, Window

__all__ = [
    "LEAST_YEARS", "ByDay", "Fold", "StartSeason", "by_day", "circular_mean", "in_a_row", "median",
    "odds_of_yield", "possible_mask", "possible_windows", "quantiles", "recommended_mask",
    "recommended_windows", "runs", "seasons_of_year", "share_interval", "start_seasons", "stretches",
]  # fmt: skip


def quantiles(values: np.ndarray, shares: Sequence[float]) -> list[float]:
    """As `numpy.quantile` with its usual straight line between neighbours; values without NaN, one or more."""
    ordered = sorted(values.tolist())
    last = len(ordered) - 1
    out = []
    for share in shares:
        place = last * share
        below = min(int(place), last)
        part = place - below
        a, b = ordered[below], ordered[min(below + 1, last)]
        # numpy goes from the nearer neighbour, and so must this for equal bits
        out.append(b - (b - a) * (1.0 - part) if part >= 0.5 else a + (b - a) * part)
    return out


def median(values: np.ndarray) -> float:
    """As `numpy.nanmedian`: the middle of the values that are known, NaN where there are none."""
    ordered = sorted(values[~np.isnan(values)].tolist())
    if not ordered:
        return float("nan")
    half = len(ordered) // 2
    return ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2.0


LEAST_YEARS = 3  # fewer decided years carry no odds at all: common practice, no source


@dataclass(frozen=True, slots=True)
class Fold:
    """Where each (year, day of year) stands in the record; -1 where the record lacks it."""

    index: np.ndarray  # (years, 365)
    years: np.ndarray  # (years,)
    lacking: np.ndarray | None  # (years, 365), None where nothing is

    @classmethod
    def of(cls, site: SiteDays) -> Fold:
        """Fold of a site's days; a 29 February gives way to the 28th."""
        years = np.arange(site.year.min(), site.year.max() + 1) if site.size else site.year  # days run without gaps
        index = np.full((years.size, 365), -1)
        plain = ~site.leap_day
        index[site.year[plain] - years[0], site.day_of_year[plain]] = np.flatnonzero(plain)
        lacking = index < 0
        return cls(index, years, lacking if lacking.any() else None)

    def __call__(self, daily: np.ndarray) -> np.ndarray:
        """Values by (year, day), NaN where the record lacks the day."""
        values = np.asarray(daily, dtype=float).take(self.index)
        if self.lacking is not None:
            values[self.lacking] = np.nan
        return values


@dataclass(frozen=True, slots=True)
class ByDay:
    """One crop and way by year and start day of the year.

    Attributes
    ----------
    years : numpy.ndarray
        Calendar year of each row.
    yield_fraction : numpy.ndarray
        Shape (years, 365); NaN where undecided.
    success : numpy.ndarray
        Shape (years, 365); whether the middle sort in the middle of hands succeeds, NaN where undecided.
    reliability, mean_yield, duration : numpy.ndarray
        Shape (365,): mean odds, mean yield fraction, mean days to first picking of the years that succeed.
    decided : numpy.ndarray
        Shape (365,): years decided.
    hazard_share : numpy.ndarray
        Shape (hazards, 365): share of decided years lost to each hazard, in whole or for the sorts that fail.
    first, last, raised : numpy.ndarray
        Shape (years, 365): days from start to first and last picking, days under cover.
    odds : numpy.ndarray or None
        Shape (years, 365): share of sorts, seedlings and hands that succeed, NaN where undecided; None where success
        is all that is known.
    """

    years: np.ndarray
    yield_fraction: np.ndarray
    success: np.ndarray
    reliability: np.ndarray
    mean_yield: np.ndarray
    duration: np.ndarray
    decided: np.ndarray
    hazard_share: np.ndarray
    first: np.ndarray
    last: np.ndarray
    raised: np.ndarray | None
    odds: np.ndarray | None = None


def circular_mean(x: np.ndarray, width: int) -> np.ndarray:
    """Running mean around the year over the last axis, of the values that are not NaN."""
    half, n = width // 2, x.shape[-1]
    good = np.isfinite(x)
    wide = np.concatenate([x[..., -half:], x, x[..., :half]], axis=-1)
    if good.all():
        total = np.zeros((*x.shape[:-1], n + 2 * half + 1))
        np.cumsum(wide, axis=-1, out=total[..., 1:])
        return (total[..., width:][..., :n] - total[..., :n]) / width
    ok = np.concatenate([good[..., -half:], good, good[..., :half]], axis=-1)
    total = np.cumsum(np.where(ok, wide, 0.0), axis=-1)
    count = np.cumsum(ok, axis=-1).astype(float)
    zero = np.zeros((*x.shape[:-1], 1))
    total = np.concatenate([zero, total], axis=-1)
    count = np.concatenate([zero, count], axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        return (total[..., width:][..., :n] - total[..., :n]) / (count[..., width:][..., :n] - count[..., :n])


# Plots of one season part by about three tenths of their yield, by sort, seedling and hand (from memory of trials in
# growers' fields): by the logistic curve in the logarithm of yield that is the sixth power of the ratio.
_NO_SORT = 0.5  # no sort brings twice what the middle one does: judgement
_SURE = 0.9  # odds of a season from which what is lost of them is chance of sort and hand, and no hazard's


def odds_of_yield(fraction: np.ndarray, least: float) -> np.ndarray:
    """Share of sorts, seedlings and hands that bring the least yield in a season of which the middle is known.

    Examples
    --------
    >>> odds_of_yield(np.array([0.4, 0.5, 0.75, 1.0]), 0.5).round(2).tolist()
    [0.21, 0.5, 0.92, 0.98]
    """
    ratio = fraction / least
    cube = ratio * ratio * ratio  # its square is the sixth power
    odds = cube * cube / (1.0 + cube * cube)
    odds[ratio < _NO_SORT] = 0.0
    return odds


def by_day(site: SiteDays, fold: Fold, outcome: Seasons, *, reasons: bool = True) -> ByDay:
    """Fold the outcome of every start day and sum it over the years.

    Neighbouring start days meet nearly the same weather, so the shares are smoothed over a week: 30 years
    speak through 30 x 7 starts, not 30. Without `reasons` hazards, last pickings and raising are left out.
    """
    fraction = fold(outcome.yield_fraction)
    known = np.isfinite(fraction)
    worked = fraction >= site.settings.least_yield  # not where it is NaN
    success = np.where(known, worked, np.nan)
    odds = odds_of_yield(fraction, site.settings.least_yield)
    decided = known.sum(axis=0)
    poor = known & (odds < _SURE) & reasons
    lost_to = outcome.hazard[fold.index[poor]].astype(int)
    day, part = np.nonzero(poor)[1], 1.0 - odds[poor]
    some = lost_to >= 0
    place = lost_to[some] * 365 + day[some]
    lost = np.bincount(place, part[some], minlength=len(HAZARDS) * 365).reshape(len(HAZARDS), 365)
    with np.errstate(invalid="ignore", divide="ignore"):
        reliability = np.where(decided > 0, np.where(known, odds, 0.0).sum(axis=0) / decided, np.nan)
        mean_yield = np.where(decided > 0, np.where(known, fraction, 0.0).sum(axis=0) / decided, np.nan)
        first = fold(outcome.first - site.start)
        duration = np.where(worked, first, 0.0).sum(axis=0) / worked.sum(axis=0)
        hazard_share = np.where(decided > 0, lost / decided, np.nan)
    enough = decided >= LEAST_YEARS  # the week about a day must not lend it odds of which it has no years
    return ByDay(
        years=fold.years,
        yield_fraction=fraction,
        success=success,
        reliability=np.where(enough, np.minimum(circular_mean(reliability, 7), 1.0), np.nan),
        mean_yield=np.where(enough, circular_mean(mean_yield, 7), np.nan),
        duration=circular_mean(duration, 7),
        decided=decided,
        hazard_share=circular_mean(hazard_share, 7) if reasons else lost,
        first=first,
        last=fold(outcome.last - site.start) if reasons else first[:0],
        raised=fold(outcome.raised_days) if reasons and outcome.raised_days is not None else None,
        odds=odds,
    )


_SHORTEST = 5  # days; a shorter run of start days is chance, not a window: common practice
_MEND = 6  # days; a shorter break inside a window is chance too
_CLEAR = 0.95


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


def stretches(mask: np.ndarray) -> list[tuple[int, int]]:
    """Runs of True in a row of days that has two ends, as (first place, the one past the last)."""
    walled = np.concatenate([[False], mask, [False]])
    return [(a, b) for a, b in np.flatnonzero(walled[1:] != walled[:-1]).reshape(-1, 2).tolist()]


def _days(start: int, end: int, size: int = 365) -> np.ndarray:
    return (start + np.arange((end - start) % size + 1)) % size


def _tidy(mask: np.ndarray) -> np.ndarray:
    """Close short breaks, then drop short runs."""
    out = mask.copy()
    for a, b in runs(~out):
        if (b - a) % mask.size + 1 < _MEND and not mask.all():
            out[_days(a, b)] = True
    return _without_short_runs(out)


def _without_short_runs(mask: np.ndarray) -> np.ndarray:
    """Without the runs that are chance."""
    out = mask.copy()
    for a, b in runs(mask):
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
    decided = np.isfinite(worked)
    told = (worked == 1) & np.isfinite(first)
    day = (best + np.where(told, first, 0).astype(int)) % 365
    rows = (column[decided].tolist() for column in (found.years, day, told))
    return tuple([(year, picked if good else None) for year, picked, good in zip(*rows, strict=True)])


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


def _edge_intervals(found: ByDay, window: Window, asked: float, draws: np.ndarray) -> Window:
    """The window with the spread of its edges when the years are drawn again (95 per cent).

    An edge that yield or time sets, not reliability, is left without one.
    """
    reliability = np.nan_to_num(found.reliability)
    spans: list[tuple[int, int] | None] = []
    for edge, step in ((window.start, -1), (window.end, 1)):
        if reliability[(edge + step) % 365] >= asked:
            spans.append(None)
            continue
        # from the best day outward to the last day that still meets the odds
        outward = (window.best + step * np.arange(182)) % 365
        unbroken = np.logical_and.accumulate(draws[:, outward] >= asked, axis=1)
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
    odds = found.success if found.odds is None else found.odds
    known = np.isfinite(odds)
    good = weight @ np.where(known, odds, 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.nan_to_num(circular_mean(good / (weight @ known), 7))


def possible_mask(found: ByDay) -> np.ndarray:
    """Start days that succeed in at least half of the decided years."""
    return _tidy(found.reliability >= 0.5)  # not where it is NaN


def in_a_row(odds: np.ndarray) -> np.ndarray:
    """Of each day of the year the odds that the best run of five days which holds it keeps; fewer days are chance."""
    turned = np.nan_to_num(np.concatenate([odds[1 - _SHORTEST :], odds, odds[: _SHORTEST - 1]]))
    least = np.lib.stride_tricks.sliding_window_view(turned, _SHORTEST).min(axis=1)
    return np.lib.stride_tricks.sliding_window_view(least, _SHORTEST).max(axis=1)


def possible_windows(found: ByDay, possible: np.ndarray | None = None) -> list[Window]:
    """Runs of possible start days; their mask where it is known already."""
    mask = possible_mask(found) if possible is None else possible
    return [_window(found, _days(a, b)) for a, b in runs(mask)]


_FORTNIGHT = 14
_HARVEST_GAINED = 4  # days of harvest that a fortnight must gain for an earlier start to be worth it: judgement


@dataclass(frozen=True, slots=True)
class StartSeason:
    """Possible start days of one season of the year, and what is held against each; arrays of shape (days,).

    Attributes
    ----------
    days : numpy.ndarray of int
        Days of the year in their order.
    worth : numpy.ndarray
        Mean yield less the price of the days in the bed.
    reliable, near, quick, gains : numpy.ndarray of bool
        Whether the start meets the odds asked for, is worth nearly as much as the best, takes not too long, and
        would lose days of harvest by waiting a fortnight.
    """

    days: np.ndarray
    worth: np.ndarray
    reliable: np.ndarray
    near: np.ndarray
    quick: np.ndarray
    gains: np.ndarray

    @property
    def advised(self) -> np.ndarray:
        """Start days with nothing against them."""
        return self.reliable & self.near & self.quick & self.gains


def _lasting(mask: np.ndarray) -> np.ndarray:
    """Without the runs shorter than the fortnight over which each day is judged: they are chance."""
    out = mask.copy()
    for a, b in stretches(mask):
        out[a:b] = b - a >= _FORTNIGHT
    return out


def start_seasons(
    found: ByDay,
    settings: Settings,
    timed: bool,
    possible: np.ndarray,
    leave: float = 1.0,
    parted: Sequence[np.ndarray] | None = None,
) -> list[StartSeason]:
    """The seasons of the year that have reliable start days.

    `timed` is whether time in the bed is held against a start; `possible` is from `possible_mask`, `leave` times the
    loss that `Settings.near_best` allows; `parted` is from `seasons_of_year`, where it is known already.
    """
    least = 1.0 - leave * (1.0 - settings.near_best)
    out = []
    for days in seasons_of_year(possible, found.mean_yield) if parted is None else parted:
        worth, wait = found.mean_yield[days], found.duration[days]
        reliable = found.reliability[days] >= settings.reliability
        if not reliable.any():
            continue
        quick = gains = np.ones(days.size, dtype=bool)
        with np.errstate(invalid="ignore", over="ignore"):  # as many waits as one likes may be allowed
            if timed:
                worth = worth - settings.bed_day * (wait - np.fmin.reduce(wait, where=reliable, initial=np.nan))
            near = worth >= least * np.fmax.reduce(worth, where=reliable, initial=np.nan)
            if timed:
                later = (days + _FORTNIGHT) % 365
                saved = wait - found.duration[later] > _FORTNIGHT - _HARVEST_GAINED
                gains = ~_lasting(saved & (found.reliability[later] >= settings.reliability))
                quick = ~(wait > settings.longest * np.fmin.reduce(wait, where=reliable & near, initial=np.nan))
        out.append(StartSeason(days, worth, reliable, near, quick, gains))
    return out


def recommended_mask(
    found: ByDay, settings: Settings, allowed: np.ndarray | None, possible: np.ndarray, seasons: Sequence[StartSeason]
) -> np.ndarray:
    """Start days of the year that `recommended_windows` has in its runs, shape (365,)."""
    mask = np.zeros(365, dtype=bool)
    for season in seasons:
        mask[season.days[season.advised]] = True
    if allowed is not None:
        mask &= allowed
    # a mended break may not hold days that work less often than asked
    return _without_short_runs(_tidy(mask) & possible & (found.reliability >= settings.reliability))


def recommended_windows(
    found: ByDay,
    settings: Settings,
    timed: bool = True,
    allowed: np.ndarray | None = None,
    possible: np.ndarray | None = None,
    seasons: Sequence[StartSeason] | None = None,
) -> list[Window]:
    """Runs of recommended start days: reliable, and near the best of their own season of the year.

    `allowed` are start days that a further wish allows (stored water), shape (365,); `possible` and `seasons` are from
    `possible_mask` and `start_seasons`, where they are known already.
    """
    possible = possible_mask(found) if possible is None else possible
    seasons = start_seasons(found, settings, timed, possible) if seasons is None else seasons
    mask = recommended_mask(found, settings, allowed, possible, seasons)
    windows = [_window(found, _days(a, b)) for a, b in runs(mask)]
    if not settings.edge_draws or not windows:
        return windows
    draws = _reliability_of_draws(found, settings.edge_draws)
    return [_edge_intervals(found, window, settings.reliability, draws) for window in windows]
