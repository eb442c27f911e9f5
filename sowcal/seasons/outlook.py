"""A season in progress: what comes of one start in every future, for every sort of its crop, as quantiles of dates.

A future is the season so far with one year of a record behind it; the sorts of a type are spread evenly over its range
of thermal time in the handbook. What a grower's own dates tell of one sort is learnt here too.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from sowcal.crops.tables import Crop, Way
from sowcal.seasons.season import Seasons, Stages, begin, seasons, stages
from sowcal.seasons.site_days import SiteDays

if TYPE_CHECKING:
    from sowcal.weather.years import Futures

__all__ = [
    "FEWEST",
    "NO_CROP",
    "Learnt",
    "Outlook",
    "Spread",
    "as_day",
    "firsts_of_sorts",
    "learnt_of",
    "outlook",
    "quantiles",
    "sort_of",
    "spread_of",
]


@dataclass(frozen=True, slots=True)
class Spread:
    """Days at 10, 50 and 90 per cent of the futures."""

    p10: dt.date
    p50: dt.date
    p90: dt.date


@dataclass(frozen=True, slots=True)
class Learnt:
    """A sort's own thermal time from sowing, setting out or coming up to first picking.

    Attributes
    ----------
    crop, sort, way : str
    seasons : int
        That were followed to the first picking.
    observed, handbook, own : float
        Mean of what those seasons took, what the handbook has, and the first drawn towards the second, degC d.
    low, high : float
        What to put into own values.
    """

    crop: str
    sort: str
    way: str
    seasons: int
    observed: float
    handbook: float
    own: float
    low: float
    high: float


NO_CROP = 0.05  # a season that leaves less of a crop has no picking: common practice, no source
FEWEST = 5  # futures without which no range is told: common practice, no source


def as_day(date: dt.date) -> np.datetime64:
    """A date as arrays have it."""
    return np.datetime64(date, "D")


def quantiles(values: np.ndarray, futures: int | None = None) -> np.ndarray:
    """10, 50 and 90 per cent of some values by the plotting position i / (n + 1) of n futures.

    Where each future has several values, for several sorts, n is still that of the futures: more sorts make no more
    years. Each value has an even share of its future's place; with one a future this is Weibull's rule itself.

    Examples
    --------
    >>> quantiles(np.arange(1.0, 25.0)).tolist()
    [2.5, 12.5, 22.5]
    >>> quantiles(np.repeat(np.arange(1.0, 25.0), 4), 24).tolist()
    [2.5, 12.5, 22.5]
    """
    n = values.size if futures is None else futures
    shares = (np.array([0.1, 0.5, 0.9]) * (n + 1) - 0.5) / n
    return np.quantile(values, np.clip(shares, 0.0, 1.0), method="hazen")


def spread_of(start: dt.date, days: np.ndarray, futures: int | None = None) -> Spread | None:
    """Quantiles of days after a start as dates; None of too few futures."""
    if not days.size or (days.size if futures is None else futures) < FEWEST:
        return None
    return Spread(*(start + dt.timedelta(days=round(float(q))) for q in quantiles(days, futures)))


# Of a type's range of thermal time in the handbook, where its sorts stand: spread evenly, each the middle of a fifth.
# That a packet may hold any of them alike is common practice, no source.
_SORTS = (0.1, 0.3, 0.5, 0.7, 0.9)


def sort_of(way: Way, share: float) -> Way:
    """The way of one sort, so far into its type's range of thermal time."""
    need = way.thermal_time_low + share * (way.thermal_time_high - way.thermal_time_low)
    return replace(way, thermal_time_low=need, thermal_time_high=need)


def firsts_of_sorts(
    days: SiteDays, crop: Crop, way: Way, at: np.ndarray, place: np.ndarray, middle: Seasons
) -> np.ndarray:
    """Days to the first picking of a crop's sorts in every future, shape (sorts, m); NaN where none can be told.

    There is one row where the handbook's range is one value.

    Parameters
    ----------
    days, crop, way
    at : numpy.ndarray of int, shape (m,)
        Starts that are followed.
    place : numpy.ndarray of int, shape (m,)
        From where days are counted.
    middle : Seasons
        Of the middle sort, which is the way as it stands.
    """
    shares = (0.5,) if way.thermal_time_low == way.thermal_time_high else _SORTS
    rows = []
    for share in shares:
        of = middle if share == 0.5 else seasons(days, crop, sort_of(way, share))
        rows.append(np.where(np.nan_to_num(of.yield_fraction[at]) >= NO_CROP, of.first[at] - place, np.nan))
    return np.array(rows)


@dataclass(frozen=True)
class Outlook:
    """One crop and way of starting in every future, from one start: arrays of shape (m,).

    Attributes
    ----------
    days : SiteDays
    start : datetime.date
    found : Stages
    yield_fraction : numpy.ndarray
        NaN where the future cannot tell. Of the middle sort, as stages and hazards are.
    hazard : numpy.ndarray of int
    sorts : numpy.ndarray
        Days to the first picking of all its sorts, as `firsts_of_sorts` gives them.
    """

    days: SiteDays
    start: dt.date
    place: np.ndarray
    found: Stages
    yield_fraction: np.ndarray
    hazard: np.ndarray
    sorts: np.ndarray

    @property
    def decided(self) -> np.ndarray:
        """Which futures can tell."""
        return np.isfinite(self.yield_fraction)

    @property
    def picked(self) -> np.ndarray:
        """Which of them bring a picking."""
        return self.decided & (np.nan_to_num(self.yield_fraction) >= NO_CROP)

    def after(self, index: np.ndarray) -> np.ndarray:
        """Days from the start to some day of each future."""
        return index - self.place

    @cached_property
    def first(self) -> np.ndarray:
        """Days from the start to the middle sort's first picking in the futures that have one."""
        return self.after(self.found.first)[self.picked]

    @property
    def first_of_sorts(self) -> tuple[np.ndarray, int]:
        """The same of all its sorts one after another, and how many futures they are of."""
        told = np.isfinite(self.sorts)
        return self.sorts[told], int(told.any(axis=0).sum())


def outlook(
    ahead: Futures, days: SiteDays, crop: Crop, way: Way, start: dt.date, came_up: dt.date | None = None
) -> Outlook:
    """What comes of one start in every future.

    Parameters
    ----------
    ahead : Futures
    days : SiteDays
        Of its record.
    crop, way
    start : datetime.date
        Sown outdoors, set out or planted.
    came_up : datetime.date, optional
        Where it was seen to come up, the engine goes on from the start which it would have brought up that day.
    """
    outcome = seasons(days, crop, way)
    place = ahead.at(as_day(start))
    at = place
    if came_up is not None and way.way != "set out":
        at = _start_that_came_up(days, crop, way, place, ahead.at(as_day(came_up)))
    found = stages(days, crop, way, outcome, at)
    if came_up is not None:
        found = replace(found, emerged=ahead.at(as_day(came_up)), start=place)
    sorts = firsts_of_sorts(days, crop, way, at, place, outcome)
    return Outlook(days, start, place, found, outcome.yield_fraction[at], outcome.hazard[at], sorts)


def _start_that_came_up(days: SiteDays, crop: Crop, way: Way, place: np.ndarray, up: np.ndarray) -> np.ndarray:
    """The last start that the engine has up by the day on which it was; the start itself where none is."""
    emerged = begin(days, crop, way)[1].day
    out = place.copy()
    for k, (begun, seen) in enumerate(zip(place, up, strict=True)):
        tried = np.arange(max(int(begun) - 60, 0), int(seen) + 1)
        good = tried[emerged[tried] <= seen]
        if good.size:
            out[k] = good[-1]
    return out


_SCATTER = 0.08  # of its thermal time by which one sort's seasons part from each other: common practice, no source


def learnt_of(
    days: SiteDays, crop: Crop, way: Way, sort: str, lived: list[tuple[dt.date, dt.date, dt.date | None]]
) -> Learnt | None:
    """A sort's own thermal time, from seasons that were lived through on the days of a site.

    Of each season the thermal time is sought by which the engine has its first picking on the day on which it was.
    With n seasons and k = (scatter of one sort's seasons / scatter of sorts)^2 the sort's own is
    (k handbook + sum of seasons) / (k + n): drawn towards the handbook as n is small. The handbook's range is taken
    for four standard deviations of sorts; what is left of the sort's own after n seasons is the scatter of sorts times
    sqrt(k / (k + n)), of which two either way are given.

    Parameters
    ----------
    days : SiteDays
    crop, way, sort
    lived : list of (start, first picking, day it came up or None)

    Returns
    -------
    Learnt or None
        None where no season tells it: off the record, or picked at a date that day length or cold sets.
    """
    handbook = 0.5 * (way.thermal_time_low + way.thermal_time_high)
    took = handbook * _shares_taken(days, crop, way, lived)
    sorts = 0.25 * (way.thermal_time_high - way.thermal_time_low)
    if not took.size or not sorts > 0.0:
        return None
    k = (_SCATTER * handbook / sorts) ** 2
    n, total = int(took.size), float(took.sum())
    own = (k * handbook + total) / (k + n)
    left = 2.0 * sorts * (k / (k + n)) ** 0.5
    return Learnt(crop.name, sort, way.way, n, total / n, handbook, own, own - left, own + left)


# of the handbook's thermal time, where a sort's own is sought: sorts of a type do not part further (judgement)
_TRIED = np.linspace(0.6, 1.8, 25)


def _shares_taken(
    days: SiteDays, crop: Crop, way: Way, lived: list[tuple[dt.date, dt.date, dt.date | None]]
) -> np.ndarray:
    """Share of the handbook's thermal time by which the engine picks on the day that it was, of seasons that tell it.

    All are walked together by some shares; between these the date runs straight.
    """
    emerged = begin(days, crop, way)[1].day
    at, wanted = [], []
    for start, picked, up in lived:
        place, seen = (int((as_day(d) - days.dates[0]).astype(int)) for d in (start, picked))
        if not 0 <= place < seen < days.size:
            continue
        if up is not None and way.way != "set out":
            came = int((as_day(up) - days.dates[0]).astype(int))
            good = np.flatnonzero(emerged[max(place - 60, 0) : came + 1] <= came)
            place = max(place - 60, 0) + int(good[-1]) if good.size else place
        at.append(place)
        wanted.append(seen)
    if not at:
        return np.zeros(0)
    first = np.empty((_TRIED.size, len(at)))
    low, high = way.thermal_time_low, way.thermal_time_high
    for k, share in enumerate(_TRIED):
        need = share * 0.5 * (low + high)
        outcome = seasons(days, crop, replace(way, thermal_time_low=need, thermal_time_high=need))
        first[k] = np.where(np.isfinite(outcome.yield_fraction[at]), outcome.first[at], np.nan)
    out = []
    for dates, day in zip(first.T, wanted, strict=True):
        known_ones = np.isfinite(dates)
        dates, shares = dates[known_ones], _TRIED[known_ones]
        # the date must answer to it: not where day length or cold sets it, nor where it lies beyond what is tried
        if dates.size > 1 and dates[0] < day < dates[-1] and (np.diff(dates) >= 0).all():
            near = (dates >= day - _FLAT) & (dates <= day + _FLAT)
            if np.ptp(shares[near]) < 0.25 if near.any() else True:
                out.append(float(np.interp(day, *_rising(dates, shares))))
    return np.array(out)


_FLAT = 1.0  # days within which a quarter of the thermal time must make a difference, else something else sets the date


def _rising(dates: np.ndarray, shares: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Each date once, with the middle of the shares that give it."""
    once = np.unique(dates)
    return once, np.array([shares[dates == d].mean() for d in once])
