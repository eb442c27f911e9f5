"""Tanks and roof followed through every year: odds of a dry day, how long the water lasts, what size would do."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sowcal.garden.garden_file import Garden
from sowcal.garden.garden_weather import GardenWeather
from sowcal.garden.water_need import GardenNeed
from sowcal.year import MONTH_NAMES, MONTH_STARTS

__all__ = [
    "StoreResult",
    "chance_dry",
    "filled_days",
    "follow_store",
    "known_levels",
    "lasts_days",
    "level_from_here",
    "level_spread",
    "pond_losses",
    "roof_water",
    "run_store",
    "size_for",
    "size_if_full",
    "store_result",
    "store_years",
    "year_begins",
]


@dataclass(frozen=True, slots=True)
class StoreResult:
    """The store through the record.

    Attributes
    ----------
    capacity : float
        Litres.
    years : tuple of StoreYear
    chance_dry : float or None
        Share of years with a dry day; None where no year is known.
    size_for_9_in_10 : float or None
        Litres; None where what runs in is less than what is drawn, so that no size would do.
    size_if_full : float or None
        Litres that get through 9 years in 10 if the store is full before the dry season.
    thirsty_month : int
        0 to 11, the month that draws most.
    lasts, lasts_dry_year : float or None
        Days that a full store lasts from the first of that month: median and the worst year in ten.
    refill_wanted : float
        Litres a year that are wanting in the median year.
    levels : numpy.ndarray
        Litres by year and day of the year, shape (years, 365).
    """

    capacity: float
    years: tuple[StoreYear, ...]
    chance_dry: float | None
    size_for_9_in_10: float | None
    size_if_full: float | None
    thirsty_month: int
    lasts: float | None
    lasts_dry_year: float | None
    refill_wanted: float
    levels: np.ndarray

    @property
    def month_name(self) -> str:
        """Of the thirstiest month."""
        return MONTH_NAMES[self.thirsty_month]

    @property
    def days_dry(self) -> float:
        """Dry days in the median year."""
        return float(np.median([y.days_dry for y in self.years])) if self.years else 0.0

    @property
    def first_dry(self) -> int | None:
        """Median day of the year on which it is first dry, of the years in which it is."""
        days = [(y.first_dry - y.begins) % 365 for y in self.years if y.first_dry is not None]
        return (int(np.median(days)) + self.years[0].begins) % 365 if days else None

    @property
    def runs_in(self) -> float | None:
        """Litres that roof and refill bring in the median year; None where no year is known."""
        return float(np.median([y.inflow for y in self.years])) if self.years else None


def known_levels(levels: np.ndarray) -> np.ndarray:
    """Of litres by year and day of the year, shape (years, 365), the years in which a level is known."""
    return levels[np.isfinite(levels).any(axis=1)] if levels.size else levels.reshape(0, 365)


def level_spread(levels: np.ndarray) -> np.ndarray | None:
    """Least level, those of 1, 5 and 9 years in 10 and the greatest of each day, litres, shape (5, 365).

    None where no year is known.
    """
    found = known_levels(levels)
    return np.nanquantile(found, [0.0, 0.1, 0.5, 0.9, 1.0], axis=0) if found.size else None


def _flows(weather: GardenWeather, garden: Garden) -> tuple[np.ndarray, np.ndarray]:
    """Roof water and losses, litres a day."""
    water = garden.water
    losses = np.zeros(weather.size)
    if water.pond and water.pump is None:  # a pond that is pumped from is no tank, and loses none of theirs
        losses = pond_losses(weather.reference, water.pond.area, water.pond.seepage)
    return roof_water(weather.rain, water.roof, first_flush=water.first_flush), losses


def filled_days(weather: GardenWeather, garden: Garden, latitude: float) -> np.ndarray:
    """Days on which the store is taken to be filled: where neither roof nor refill is given, once a year at
    midwinter's turn (1 January, south of the equator 1 July), else never."""
    if garden.water.roof > 0.0 or garden.water.refill > 0.0:
        return np.zeros(weather.size, dtype=bool)
    return weather.day_of_year == year_begins(latitude)


def year_begins(latitude: float) -> int:
    """Day of the year on which a store's year begins, before the dry season: 1 January, in the south 1 July."""
    return 0 if latitude >= 0.0 else 181


def run_store(weather: GardenWeather, need: GardenNeed, garden: Garden, latitude: float) -> StoreRun:
    """The garden's store under its demand."""
    roof, losses = _flows(weather, garden)
    water = garden.water
    return follow_store(
        need.daily,
        roof,
        water.capacity,
        losses=losses,
        refill=water.refill,
        start=water.full_at_start,
        filled=filled_days(weather, garden, latitude),
    )


def _levels(weather: GardenWeather, run: StoreRun, years: np.ndarray) -> np.ndarray:
    out = np.full((years.size, 365), np.nan)
    place = np.searchsorted(years, weather.year)
    inside = (place < years.size) & np.isin(weather.year, years)
    out[place[inside], weather.day_of_year[inside]] = run.level[inside]
    return out


def store_result(weather: GardenWeather, need: GardenNeed, garden: Garden, latitude: float) -> StoreResult:
    """Everything about the store.

    Parameters
    ----------
    weather : GardenWeather
    need : GardenNeed
    garden : Garden
    latitude : float
        South of the equator the dry season's year begins in July.
    """
    run = run_store(weather, need, garden, latitude)
    roof, losses = _flows(weather, garden)
    begins = year_begins(latitude)
    year, known = weather.years_from(begins)
    years = store_years(run, year, (weather.day_of_year - begins) % 365, known, begins=begins)
    month = np.searchsorted(MONTH_STARTS, weather.day_of_year, side="right") - 1
    thirsty = int(np.bincount(month, need.daily).argmax())
    refill = garden.water.refill
    lasts = lasts_days(
        need.daily, roof - losses, garden.water.capacity, weather.day_of_year, MONTH_STARTS[thirsty], refill
    )
    wants = bool(need.daily.sum() > 0)
    return StoreResult(
        capacity=garden.water.capacity,
        years=years,
        chance_dry=chance_dry(years) if years else None,
        size_for_9_in_10=size_for(
            need.daily,
            roof,
            year,
            known,
            losses=losses,
            refill=refill,
            filled=filled_days(weather, garden, latitude),
        ),
        size_if_full=size_if_full(
            need.daily,
            roof,
            weather.day_of_year,
            first=begins,
            losses=losses,
            refill=refill,
        ),
        thirsty_month=thirsty,
        lasts=float(np.median(lasts)) if lasts.size and wants else None,
        lasts_dry_year=float(np.quantile(lasts, 0.1)) if lasts.size and wants else None,
        refill_wanted=float(np.median([y.wanting for y in years])) if years else 0.0,
        levels=_levels(weather, run, need.years),
    )


ROOF_SHARE = 0.85  # of rain on a hard roof reaches the tank: common practice, no source
OPEN_WATER = 1.05  # evaporation of open water over the reference (FAO-56 Table 12, from memory)
_SHORT = 1e-6  # litres; less than that wanting is rounding
_LARGEST = 1e8  # litres; a store larger than this is none


@dataclass(frozen=True, slots=True)
class StoreRun:
    """Daily results in litres, shape (days,): `level` at the end of the day.

    Each day level rises by inflow less drawn, lost and spilled, to rounding.
    """

    start: float
    level: np.ndarray
    inflow: np.ndarray
    drawn: np.ndarray
    lost: np.ndarray
    spilled: np.ndarray
    wanting: np.ndarray


@dataclass(frozen=True, slots=True)
class StoreYear:
    """One year of the store, litres; `outflow` is all that left it, spill and losses included.

    It begins on the day of the year `begins`: south of the equator year 2010 is that from 1 July 2010 on.
    """

    year: int
    inflow: float
    outflow: float
    change: float
    days_dry: int
    first_dry: int | None  # day of the year
    spilled: float
    wanting: float
    begins: int


def roof_water(rain: np.ndarray, roof: float, share: float = ROOF_SHARE, *, first_flush: float = 0.0) -> np.ndarray:
    """Litres a day from a roof of so many m2, from rain in mm.

    `first_flush` mm run past the tank on the first day of rain after three dry ones.
    """
    fallen = np.asarray(rain, dtype=float)
    if first_flush > 0.0:
        wet = np.convolve(fallen > 0.0, np.ones(4), "full")[: fallen.size]  # wet days of this one and the three before
        fallen = np.where(wet <= 1.0, np.maximum(fallen - first_flush, 0.0), fallen)
    return fallen * roof * share


def pond_losses(reference: np.ndarray, area: float, seepage: float) -> np.ndarray:
    """Litres a day that an open pond loses: seepage in mm a day and evaporation, over its surface in m2."""
    return (OPEN_WATER * np.asarray(reference, dtype=float) + seepage) * area


def follow_store(
    demand: np.ndarray,
    inflow: np.ndarray,
    capacity: float,
    *,
    losses: np.ndarray | float = 0.0,
    refill: float = 0.0,
    start: float = 1.0,
    filled: np.ndarray | None = None,
) -> StoreRun:
    """Follow a store through the days.

    Within a day water runs in, losses and the garden draw on it, the refill serves what is still wanting and
    then tops the store up, and what is above capacity spills.

    Parameters
    ----------
    demand, inflow : numpy.ndarray
        Litres a day, shape (days,).
    capacity : float
        Litres.
    losses : array or float
        Seepage and evaporation, litres a day.
    refill : float
        Litres a day at most.
    start : float
        Share of capacity at the start.
    filled : numpy.ndarray of bool, optional
        Days on which it is filled to the brim from elsewhere, shape (days,).
    """
    days = demand.size
    lose = np.broadcast_to(np.asarray(losses, dtype=float), (days,)).tolist()
    brim = (np.zeros(days, dtype=bool) if filled is None else filled).tolist()
    out = np.empty((6, days))
    now = first = float(start * capacity)
    for t, (need, comes) in enumerate(zip(demand.tolist(), inflow.tolist(), strict=True)):
        if brim[t]:
            comes = max(comes, capacity - now)
        now += comes
        gone = min(lose[t], now)
        now -= gone
        taken = min(need, now)
        now -= taken
        direct = min(need - taken, refill)
        top = min(refill - direct, max(capacity - now, 0.0))
        now += top
        over = max(now - capacity, 0.0)
        now = min(now, capacity)
        out[:, t] = (now, comes + direct + top, taken + direct, gone, over, need - taken - direct)
    return StoreRun(first, *out)


def dry_days(run: StoreRun) -> np.ndarray:
    """Days on which the garden got less than it asked for."""
    return run.wanting > _SHORT


def store_years(
    run: StoreRun, year: np.ndarray, day: np.ndarray, years: np.ndarray, *, begins: int = 0
) -> tuple[StoreYear, ...]:
    """The run summed by the store's year, of the years given.

    Parameters
    ----------
    run : StoreRun
    year : numpy.ndarray
        Of each day, the year of the store that it is in, shape (days,).
    day : numpy.ndarray
        Day of that year, from 0, shape (days,).
    years : numpy.ndarray
        Those wanted.
    begins : int
        Day of the calendar year on which they begin.
    """
    dry = dry_days(run)
    before = np.concatenate([[run.start], run.level[:-1]])
    out = []
    for y in years:
        on = np.flatnonzero(year == y)
        short = on[dry[on]]
        outflow = run.drawn[on].sum() + run.lost[on].sum() + run.spilled[on].sum()
        out.append(
            StoreYear(
                year=int(y),
                inflow=float(run.inflow[on].sum()),
                outflow=float(outflow),
                change=float(run.level[on[-1]] - before[on[0]]),
                days_dry=int(short.size),
                first_dry=int(day[short[0]] + begins) % 365 if short.size else None,
                spilled=float(run.spilled[on].sum()),
                wanting=float(run.wanting[on].sum()),
                begins=begins,
            )
        )
    return tuple(out)


def chance_dry(years: tuple[StoreYear, ...]) -> float:
    """Share of the years with at least one dry day; NaN of none."""
    return float(np.mean([y.days_dry > 0 for y in years])) if years else float("nan")


def _chance_by_size(
    demand: np.ndarray,
    inflow: np.ndarray,
    sizes: np.ndarray,
    year: np.ndarray,
    years: np.ndarray,
    losses: np.ndarray,
    refill: float,
    filled: np.ndarray,
) -> np.ndarray:
    """Share of the years with a dry day, for several sizes at once, full at the start."""
    brim = filled.tolist()
    place = np.searchsorted(years, year)
    place = np.where(years[np.minimum(place, years.size - 1)] == year, place, years.size)
    dry = np.zeros((years.size + 1, sizes.size), dtype=bool)
    now = sizes.copy()
    for t in range(demand.size):
        if brim[t]:
            now = np.maximum(now, sizes)
        now += inflow[t] - losses[t]
        np.maximum(now, 0.0, out=now)
        now += refill - demand[t]
        if demand[t]:
            short = now < -_SHORT
            if short.any():
                dry[place[t]] |= short
                np.maximum(now, 0.0, out=now)
        np.minimum(now, sizes, out=now)
    return dry[: years.size].mean(axis=0)


def size_for(
    demand: np.ndarray,
    inflow: np.ndarray,
    year: np.ndarray,
    years: np.ndarray,
    *,
    losses: np.ndarray | float = 0.0,
    refill: float = 0.0,
    odds: float = 0.9,
    filled: np.ndarray | None = None,
) -> float | None:
    """Smallest store that does not run dry in that share of the years, litres, to one per cent.

    None where no size would do: what runs in over the years is less than what is drawn.
    """
    if years.size == 0:
        return None
    lose = np.broadcast_to(np.asarray(losses, dtype=float), demand.shape)
    brim = np.zeros(demand.size, dtype=bool) if filled is None else filled
    # a year's greatest demand in store for the worst year and the next is as much as anybody builds
    totals = [demand[year == y].sum() for y in years]
    low, high = 0.0, min(2.0 * float(max(totals)) + 1.0, _LARGEST)
    if sum(totals) <= 0.0:
        return 0.0
    while high - low > max(0.01 * high, 1.0):
        sizes = np.linspace(low, high, 33)[1:]
        chance = _chance_by_size(demand, inflow, sizes, year, years, lose, refill, brim)
        good = np.flatnonzero(chance <= 1.0 - odds + 1e-9)
        if good.size == 0:
            return None
        k = int(good[0])
        low, high = (float(sizes[k - 1]) if k else low), float(sizes[k])
    return high


def size_if_full(
    demand: np.ndarray,
    inflow: np.ndarray,
    day: np.ndarray,
    *,
    first: int = 0,
    losses: np.ndarray | float = 0.0,
    refill: float = 0.0,
    odds: float = 0.9,
) -> float | None:
    """Smallest store that, full on a day of the year, gets through the year in that share of years, litres.

    How it comes to be full is not asked.
    """
    net = demand - inflow - refill + np.broadcast_to(np.asarray(losses, dtype=float), demand.shape)
    starts = np.flatnonzero((day == first) & np.append(day[1:] != first, True))
    starts = starts[starts + 365 <= demand.size]
    if starts.size == 0:
        return None
    lacking, most = np.zeros(starts.size), np.zeros(starts.size)
    for t in range(365):
        lacking = np.maximum(lacking + net[starts + t], 0.0)
        most = np.maximum(most, lacking)
    return float(np.quantile(most, odds))


def lasts_days(
    demand: np.ndarray, inflow: np.ndarray, capacity: float, day: np.ndarray, first: int, refill: float = 0.0
) -> np.ndarray:
    """Days that a store full on a day of the year lasts, in every year of the record; 365 at most."""
    starts = np.flatnonzero((day == first) & np.append(day[1:] != first, True))
    out = []
    for start in starts:
        days = slice(int(start), min(int(start) + 365, demand.size))
        level, count = capacity, 0
        for need, comes in zip(demand[days].tolist(), inflow[days].tolist(), strict=True):
            level = min(level + comes, capacity) + refill - need
            if level < -_SHORT:
                break
            count += 1
        else:
            if count < 60:  # the record ends too soon to tell
                continue
        out.append(count)
    return np.array(out)


def level_from_here(
    weather: GardenWeather, garden: Garden, place: np.ndarray, drawn: np.ndarray, level: float
) -> tuple[np.ndarray, np.ndarray]:
    """The store from a told level on (litres), in each of m futures.

    Of each, days from its `place` in the weather on; `drawn` is litres a day, shape (m, days).

    Returns
    -------
    levels : numpy.ndarray, shape (m, days)
        Litres at the end of each day.
    dry : numpy.ndarray of int, shape (m,)
        First day on which the garden gets less than it asks for; -1 for none.
    """
    roof, losses = _flows(weather, garden)
    capacity = max(garden.water.capacity, level, 1.0)
    levels, dry = np.empty(drawn.shape), np.empty(place.size, dtype=int)
    for k, begins in enumerate(place):
        days = np.clip(np.arange(begins, begins + drawn.shape[1]), 0, weather.size - 1)
        run = follow_store(
            drawn[k], roof[days], capacity, losses=losses[days], refill=garden.water.refill, start=level / capacity
        )
        levels[k] = run.level
        short = np.flatnonzero(dry_days(run))
        dry[k] = short[0] if short.size else -1
    return levels, dry
