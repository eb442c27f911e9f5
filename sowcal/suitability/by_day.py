"""Start days of a whole record folded to years and days of a 365-day year, and summed over the years."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sowcal.seasons.season import HAZARDS, Seasons
from sowcal.seasons.site_days import SiteDays

__all__ = ["LEAST_YEARS", "ByDay", "Fold", "by_day", "circular_mean"]

LEAST_YEARS = 3  # fewer decided years carry no odds at all (DESIGN section 10)


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
    reliability, mean_yield, duration : numpy.ndarray
        Shape (365,): share of decided years that succeed, mean yield fraction, mean days to first picking
        of the years that succeed.
    decided : numpy.ndarray
        Shape (365,): years decided.
    hazard_share : numpy.ndarray
        Shape (hazards, 365): share of decided years lost to each hazard.
    first, last, raised : numpy.ndarray
        Shape (years, 365): days from start to first and last picking, days under cover.
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


def by_day(site: SiteDays, fold: Fold, outcome: Seasons) -> ByDay:
    """Fold the outcome of every start day and sum it over the years.

    Neighbouring start days meet nearly the same weather, so the shares are smoothed over a week: 30 years
    speak through 30 x 7 starts, not 30.
    """
    fraction = fold(outcome.yield_fraction)
    known = np.isfinite(fraction)
    worked = fraction >= site.settings.success_yield  # not where it is NaN
    success = np.where(known, worked, np.nan)
    decided = known.sum(axis=0)
    failed = known & ~worked
    lost_to = outcome.hazard[fold.index[failed]].astype(int)
    day = np.nonzero(failed)[1]
    some = lost_to >= 0
    counts = np.bincount(lost_to[some] * 365 + day[some], minlength=len(HAZARDS) * 365).reshape(len(HAZARDS), 365)
    with np.errstate(invalid="ignore", divide="ignore"):
        reliability = np.where(decided > 0, worked.sum(axis=0) / decided, np.nan)
        mean_yield = np.where(decided > 0, np.where(known, fraction, 0.0).sum(axis=0) / decided, np.nan)
        first = fold(outcome.first - site.start)
        duration = np.where(worked, first, 0.0).sum(axis=0) / worked.sum(axis=0)
        hazard_share = np.where(decided > 0, counts / decided, np.nan)
    enough = decided >= LEAST_YEARS  # the week about a day must not lend it odds of which it has no years
    return ByDay(
        years=fold.years,
        yield_fraction=fraction,
        success=success,
        reliability=np.where(enough, np.minimum(circular_mean(reliability, 7), 1.0), np.nan),
        mean_yield=np.where(enough, circular_mean(mean_yield, 7), np.nan),
        duration=circular_mean(duration, 7),
        decided=decided,
        hazard_share=circular_mean(hazard_share, 7),
        first=first,
        last=fold(outcome.last - site.start),
        raised=None if outcome.raised_days is None else fold(outcome.raised_days),
    )
