"""The water store, day by day through every year: what runs in, what is drawn, when it runs dry.

1 mm on 1 m2 is 1 litre. Several stores are followed at once: capacities may be an array.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

__all__ = [
    "StoreRun",
    "StoreYear",
    "follow_store",
    "lasts_days",
    "pond_losses",
    "roof_water",
    "size_for",
    "store_years",
]

ROOF_SHARE = 0.85  # of rain on a hard roof reaches the tank: common practice, no source
OPEN_WATER = 1.05  # evaporation of open water over the reference (FAO-56 Table 12, from memory)
_SHORT = 1e-9  # of the day's demand; less than that wanting is rounding
_LARGEST = 1e8  # litres; a store larger than this is none


@dataclass(frozen=True, slots=True)
class StoreRun:
    """Daily results in litres, shape (days, ...): `level` at the end of the day.

    Each day level rises by inflow less drawn, lost and spilled, to rounding.
    """

    start: np.ndarray
    level: np.ndarray
    inflow: np.ndarray
    drawn: np.ndarray
    lost: np.ndarray
    spilled: np.ndarray
    wanting: np.ndarray


@dataclass(frozen=True, slots=True)
class StoreYear:
    """One calendar year of the store, litres; `outflow` is all that left it, spill and losses included."""

    year: int
    inflow: float
    outflow: float
    change: float
    days_dry: int
    first_dry: int | None  # day of the year
    spilled: float
    wanting: float


def roof_water(rain: np.ndarray, roof: float, share: float = ROOF_SHARE) -> np.ndarray:
    """Litres a day from a roof of so many m2, from rain in mm."""
    return np.asarray(rain, dtype=float) * roof * share


def pond_losses(reference: np.ndarray, area: float, seepage: float) -> np.ndarray:
    """Litres a day that an open pond loses: seepage in mm a day and evaporation, over its surface in m2."""
    return (OPEN_WATER * np.asarray(reference, dtype=float) + seepage) * area


def follow_store(
    demand: np.ndarray,
    inflow: np.ndarray,
    capacity: float | np.ndarray,
    *,
    losses: np.ndarray | float = 0.0,
    refill: float = 0.0,
    start: float = 1.0,
) -> StoreRun:
    """Follow a store through the days.

    Within a day: water runs in, losses and the garden draw on it, the refill tops it up as far as there is
    room, and what is above capacity spills.

    Parameters
    ----------
    demand, inflow : numpy.ndarray
        Litres a day, shape (days,).
    capacity : float or array
        Litres; an array follows several stores.
    losses : array or float
        Seepage and evaporation, litres a day.
    refill : float
        Litres a day at most.
    start : float
        Share of capacity at the start.
    """
    size = np.asarray(capacity, dtype=float)
    days = demand.size
    lose = np.broadcast_to(np.asarray(losses, dtype=float), (days,))
    shape = (days, *size.shape)
    level, drawn, lost, spilled, filled = (np.empty(shape) for _ in range(5))
    now = start * size
    first = now.copy()
    for t in range(days):
        now = now + inflow[t]
        gone = np.minimum(lose[t], now)
        now = now - gone
        take = np.minimum(demand[t], now)
        now = now - take
        top = np.minimum(refill, np.maximum(size - now, 0.0))
        late = (
            np.minimum(demand[t] - take, top) if refill else 0.0
        )  # the refill serves a thirsty garden first
        take = take + late
        extra = np.minimum(refill - top, demand[t] - take) if refill else 0.0
        take, top = take + extra, top + extra
        now = now + top - late - extra
        over = np.maximum(now - size, 0.0)
        now = now - over
        level[t], drawn[t], lost[t], spilled[t], filled[t] = now, take, gone, over, top
    wide = (slice(None), *([None] * size.ndim))
    return StoreRun(
        start=first,
        level=level,
        inflow=np.asarray(inflow, dtype=float)[wide] + filled,
        drawn=drawn,
        lost=lost,
        spilled=spilled,
        wanting=np.maximum(np.asarray(demand, dtype=float)[wide] - drawn, 0.0),
    )


def dry_days(run: StoreRun, demand: np.ndarray) -> np.ndarray:
    """Days on which the store gave less than was asked."""
    wide = (slice(None), *([None] * (run.wanting.ndim - 1)))
    return run.wanting > np.maximum(_SHORT * demand, 1e-6)[wide]


def store_years(
    run: StoreRun, demand: np.ndarray, year: np.ndarray, day_of_year: np.ndarray, years: np.ndarray
) -> tuple[StoreYear, ...]:
    """The run of one store summed by calendar year, of the years given."""
    dry = dry_days(run, demand)
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
                first_dry=int(day_of_year[short[0]]) if short.size else None,
                spilled=float(run.spilled[on].sum()),
                wanting=float(run.wanting[on].sum()),
            )
        )
    return tuple(out)


def chance_dry(run: StoreRun, demand: np.ndarray, year: np.ndarray, years: np.ndarray) -> np.ndarray:
    """Share of the years given with at least one dry day, shape of the capacity."""
    dry = dry_days(run, demand)
    some = [dry[year == y].any(axis=0) for y in years]
    return np.mean(some, axis=0) if some else np.full(run.start.shape, np.nan)


def size_for(
    demand: np.ndarray,
    inflow: np.ndarray,
    year: np.ndarray,
    years: np.ndarray,
    *,
    losses: np.ndarray | float = 0.0,
    refill: float = 0.0,
    odds: float = 0.9,
) -> float | None:
    """Smallest store that does not run dry in that share of the years, litres, to half a per cent.

    None where no size would do: what runs in over the years is less than what is drawn.
    """
    if years.size == 0:
        return None
    total = float(demand.sum())
    if total <= 0.0:
        return 0.0
    low, high = 0.0, min(max(total, 1.0), _LARGEST)
    step = 24
    while high - low > max(0.005 * high, 1.0):
        sizes = np.linspace(low, high, step + 1)[1:]
        run = follow_store(demand, inflow, sizes, losses=losses, refill=refill)
        good = np.flatnonzero(chance_dry(run, demand, year, years) <= 1.0 - odds + 1e-9)
        if good.size == 0:
            return None
        k = int(good[0])
        low, high = (float(sizes[k - 1]) if k else low), float(sizes[k])
    return high


def lasts_days(
    demand: np.ndarray, inflow: np.ndarray, capacity: float, year: np.ndarray, day: np.ndarray, first: int
) -> np.ndarray:
    """Days that a full store lasts from a day of the year, in every year of the record, to 365 at most."""
    out = []
    for y in np.unique(year):
        on = np.flatnonzero((year == y) & (day == first))
        if on.size == 0 or on[0] + 60 > demand.size:
            continue
        days = slice(int(on[0]), min(int(on[0]) + 365, demand.size))
        level = capacity
        count = 0
        for need, comes in zip(demand[days], inflow[days], strict=True):
            level = min(level + comes, capacity) - need
            if level < -1e-6:
                break
            count += 1
        out.append(count)
    return np.array(out)
