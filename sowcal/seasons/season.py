"""One crop, one way of starting it, every start day of the record: what comes of each.

A walk from stage to stage (emergence, raising, growth, picking) without a loop over days: stage ends by sorted
search in running sums of thermal time, hazards by sums over spans. A crop's habit says how its yield forms:
`once` and `leaf` crops through :mod:`sowcal.seasons.vegetative`, `flowering` ones, which are daily cohorts,
through :mod:`sowcal.seasons.flowering`. A season in progress is walked in every future that a record gives it.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from sowcal.crops.tables import Crop, Way, known
from sowcal.seasons.establishing import (
    YOUNG_DAYS,
    Emerged,
    Raised,
    emerge,
    first_flower,
    raise_seedlings,
    rest_begun,
    young_stand,
)
from sowcal.seasons.flowering import MONTH_BEFORE, flowering_crop
from sowcal.seasons.site_days import SiteDays
from sowcal.seasons.vegetative import vegetative_crop
from sowcal.seasons.walk import HAZARDS, Losses, Walk, effective_thermal_time

__all__ = [
    "FEWEST",
    "HAZARDS",
    "NO_CROP",
    "Learnt",
    "Outlook",
    "Seasons",
    "Spread",
    "Stages",
    "as_day",
    "begin",
    "learnt_of",
    "missing_values",
    "outlook",
    "quantiles",
    "ready_to_set_out",
    "seasons",
    "spread_of",
    "stages",
    "strains",
]

if TYPE_CHECKING:
    from sowcal.weather.years import Futures


@dataclass(frozen=True, slots=True)
class Seasons:
    """What comes of every start day, arrays of shape (N,).

    Attributes
    ----------
    yield_fraction : float
        Share of the attainable yield, 0 to 1; NaN where undecided.
    first, last : int
        Day index of first and last picking (meaningful where the yield fraction is above 0).
    hazard : int
        Index into HAZARDS of what cost most, -1 where nothing did.
    raised_days : float or None
        Days under cover before setting out.
    """

    yield_fraction: np.ndarray
    first: np.ndarray
    last: np.ndarray
    hazard: np.ndarray
    raised_days: np.ndarray | None = None


def missing_values(crop: Crop, way: Way) -> list[str]:
    """Names of handbook values without which this crop cannot be walked through its season."""
    lacking = [] if crop.growth.habit else ["growth.habit"]
    if not known(crop.growth.base_temperature):
        lacking.append("growth.base_temperature")
    if not known(way.thermal_time_low):
        lacking.append("ways.thermal_time_low")
    if crop.growth.habit == "flowering" and (crop.flowering is None or not known(crop.flowering.fruit_thermal_time)):
        lacking.append("flowering.fruit_thermal_time")
    return lacking


def seasons(site: SiteDays, crop: Crop, way: Way) -> Seasons:
    """Walk one crop and way from every start day of the record.

    Parameters
    ----------
    site : SiteDays
        The site's days.
    crop : Crop
        From the handbook, with a growth row.
    way : Way
        One of the crop's ways.

    Returns
    -------
    Seasons
    """
    walk, up, raised = begin(site, crop, way)
    growth = crop.growth
    losses = Losses(site.size)
    settled = young_stand(walk, up, losses)
    grow = flowering_crop if growth.habit == "flowering" else vegetative_crop
    first, last, judged = grow(walk, losses)
    judged = np.where(up.stand > 0, np.maximum(judged, settled), settled)
    fraction, hazard = losses.outcome()
    begun = np.minimum(_looks_back(walk), raised.begun if raised else rest_begun(site, way))
    undecided = ~site.whole_between(begun, judged)
    return Seasons(
        yield_fraction=np.where(undecided, np.nan, fraction),
        first=first,
        last=last,
        hazard=hazard,
        raised_days=raised.days if raised else None,
    )


def begin(site: SiteDays, crop: Crop, way: Way) -> tuple[Walk, Emerged, Raised | None]:
    """The walk from every start day as far as the stand, and the seedlings of what is set out."""
    growth = crop.growth
    total = effective_thermal_time(site, growth)
    raised = raise_seedlings(site, growth, way) if way.way == "set out" else None
    up = emerge(site, crop, way, site.settings.seedbed)
    need = 0.5 * (way.thermal_time_low + way.thermal_time_high)
    walk = Walk(
        site=site,
        crop=crop,
        way=way,
        total=total,
        emerged=up.day,
        need=need + (raised.owing if raised else 0.0),
        horizon=np.minimum(site.start + int(_horizon(crop)), site.size),
    )
    return walk, up, raised


def _looks_back(walk: Walk) -> np.ndarray:
    """First day that the walk looks at: the start, or where cold has stopped the setting of tender plants before."""
    if walk.crop.growth.habit == "flowering":
        return np.minimum(walk.site.start, first_flower(walk) - MONTH_BEFORE)
    return walk.site.start


def _horizon(crop: Crop) -> float:
    """Days after which a season is given up: a quarter more than what growers call too slow."""
    most = crop.growth.days_most
    return 1.25 * most if known(most) else 300.0


@dataclass(frozen=True, slots=True)
class Stages:
    """Day index of the beginning of each stage for some start days, shape (m,); N where the record ends first.

    Attributes
    ----------
    start, emerged, established : numpy.ndarray of int
    fills : numpy.ndarray of int
        When what is picked begins to form; of crops that are picked from their flowers the first flower.
    first, last : numpy.ndarray of int
        Pickings.
    stand : numpy.ndarray
        Share of a full stand that comes up, 0 to 1.
    hot : numpy.ndarray of bool
        Whether it is the heat of the soil that the rest is lost to.
    settled : numpy.ndarray of int
        Day by which that is known.
    """

    start: np.ndarray
    emerged: np.ndarray
    established: np.ndarray
    fills: np.ndarray
    first: np.ndarray
    last: np.ndarray
    stand: np.ndarray
    hot: np.ndarray
    settled: np.ndarray


def stages(site: SiteDays, crop: Crop, way: Way, outcome: Seasons, start: np.ndarray) -> Stages:
    """When the stages of some seasons begin; `outcome` is what `seasons` gives for the same site, crop and way."""
    walk, up, _ = begin(site, crop, way)
    growth = crop.growth
    young = growth.fraction_establishing if known(growth.fraction_establishing) else 0.25
    if growth.habit == "flowering":
        fills = first_flower(walk)
    else:
        fills = walk.at(1.0 - (growth.fraction_filling if known(growth.fraction_filling) else 0.4))
    days = (up.day, walk.at(young), fills, outcome.first, outcome.last)
    emerged, established, fills, first, last = (np.minimum(d[start], site.size) for d in days)
    fills = np.minimum(fills, first)
    return Stages(
        start, emerged, np.minimum(established, fills), fills, first, last, up.stand[start], up.hot[start],
        up.settled[start],
    )  # fmt: skip


def ready_to_set_out(site: SiteDays, crop: Crop, way: Way, sown: np.ndarray) -> np.ndarray:
    """First day on which seedlings sown under cover on some days are of the size to set out, N for never.

    The engine asks of each day of setting out when its seedlings were to be sown; here that is read backwards.
    """
    raised = begin(site, crop, way)[2]
    assert raised is not None
    was_sown = np.maximum.accumulate(site.start - np.ceil(raised.days).astype(int))
    return np.searchsorted(was_sown, sown, side="left")


def strains(site: SiteDays, crop: Crop, found: Stages) -> list[tuple[str, np.ndarray, np.ndarray, np.ndarray]]:
    """Days that strain a crop in the stages in which they do: hazard, which days of the site, from and before which.

    Returns
    -------
    list of (str, numpy.ndarray of bool with shape (N,), numpy.ndarray with shape (m,), numpy.ndarray with shape (m,))
    """
    cold, heat, flower = crop.cold, crop.heat, crop.flowering
    felt = site.hardened_minimum if cold.frost_class in ("hardy", "half-hardy") else site.tissue_minimum
    over = np.maximum(found.last + 1, found.first)
    out: list[tuple[str, np.ndarray, np.ndarray, np.ndarray]] = []
    if known(cold.killing_young):
        out.append(("frost", felt < cold.killing_young, found.emerged, found.established))
    if known(cold.killing_grown):
        out.append(("frost", felt < cold.killing_grown, found.established, over))
    if known(cold.killing_flower) and flower is not None:
        out.append(("frost", site.tissue_minimum < cold.killing_flower, found.fills, over))
    if known(cold.chilling_temperature):
        out.append(("chilling", site.tasmin < cold.chilling_temperature, found.emerged, found.first))
    if known(heat.young_limit):
        weeks = np.minimum(found.emerged + YOUNG_DAYS, found.first)
        out.append(("heat", site.tasmax > heat.young_limit, found.emerged, weeks))
    if flower is not None and known(flower.day_none_above):
        out.append(("heat", site.tasmax > flower.day_none_above, found.fills, over))
    elif known(heat.filling_limit):
        out.append(("heat", site.tasmax > heat.filling_limit, found.fills, found.first))
    if flower is not None and known(flower.night_none_above):
        out.append(("warm nights", site.tasmin > flower.night_none_above, found.fills, over))
    elif known(heat.night_limit):
        out.append(("warm nights", site.tasmin > heat.night_limit, found.fills, found.first))
    return out


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


def quantiles(values: np.ndarray) -> np.ndarray:
    """10, 50 and 90 per cent of some futures by the plotting position i / (n + 1)."""
    return np.quantile(values, [0.1, 0.5, 0.9], method="weibull")


def spread_of(start: dt.date, days: np.ndarray) -> Spread | None:
    """Quantiles of days after a start as dates; None of too few."""
    if days.size < FEWEST:
        return None
    return Spread(*(start + dt.timedelta(days=round(float(q))) for q in quantiles(days)))


@dataclass(frozen=True)
class Outlook:
    """One crop and way of starting in every future, from one start: arrays of shape (m,).

    Attributes
    ----------
    days : SiteDays
    start : datetime.date
    found : Stages
    yield_fraction : numpy.ndarray
        NaN where the future cannot tell.
    hazard : numpy.ndarray of int
    """

    days: SiteDays
    start: dt.date
    place: np.ndarray
    found: Stages
    yield_fraction: np.ndarray
    hazard: np.ndarray

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
        """Days from the start to first picking of the futures that have one."""
        return self.after(self.found.first)[self.picked]


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
    return Outlook(days, start, place, found, outcome.yield_fraction[at], outcome.hazard[at])


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
