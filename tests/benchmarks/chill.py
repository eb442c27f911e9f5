"""Rows on winter chill: portions and Utah units of one and many sites against xclim, and memory."""

from __future__ import annotations

import numpy as np
from measure import Row, Size, added_memory, side_by_side
from record import Days, days_of, labelled, named, xclim_indices

from sowcal.climate.chill import PORTIONS_SEASON, chill_portions, chill_units
from sowcal.climate.growing_years import by_growing_year

__all__ = ["rows"]

_LEAST = {1: 25.0, 10: 20.0, 100: 10.0}
# xclim lets its hours begin at sunrise and adds 273.15 where the model is defined with 273, so that the two can
# agree only so far (tests/climate holds both on one and the same hourly series)
_AGREE = 0.1


def rows(size: Size) -> list[Row]:
    """All rows on chill."""
    out = []
    for sites in size.sites:
        days = days_of(size.years, (sites,) if sites > 1 else ())
        repeats = max(size.repeats // 3, 1) if sites < 100 else 1
        out.append(_portions(days, sites, size.years, repeats))
    for sites in sorted({min(size.sites), max(size.sites)}):
        days = days_of(size.years, (sites,) if sites > 1 else ())
        repeats = max(size.repeats // 3, 1) if sites < 100 else 1
        out.append(_units(days, sites, size.years, repeats))
    out.append(_memory(days_of(size.years, (size.memory_sites,)), size))
    return out


def _hours(days: Days):
    from xclim.indices.helpers import make_hourly_temperature

    return make_hourly_temperature(labelled(days.tasmin, days, "tasmin"), labelled(days.tasmax, days, "tasmax"))


def _their_portions(days: Days) -> np.ndarray:
    (m, d), (n, e) = PORTIONS_SEASON
    last = str(np.datetime64(f"2001-{n:02d}-{e:02d}") - 1)[5:]
    found = xclim_indices().chill_portions(_hours(days), date_bounds=(f"{m:02d}-{d:02d}", last), freq="YS-JUL")
    return np.moveaxis(found.values, found.get_axis_num("time"), -1)


def _our_portions(days: Days) -> np.ndarray:
    return np.asarray(chill_portions(days.tasmin, days.tasmax, time=days.time, latitude=days.latitude))


def _agree(ours: np.ndarray, theirs: np.ndarray, what: str) -> None:
    """Raise unless the yearly figures agree as far as two ways to draw the hours of a day can."""
    a, b = ours[..., 1:-1], theirs[..., 1:-1]
    if a.shape[-1] != b.shape[-1]:
        raise AssertionError(f"{what}: {a.shape[-1]} whole years here, {b.shape[-1]} there")
    scale = np.abs(b).mean()
    if not np.abs(a - b).mean() <= _AGREE * scale:
        raise AssertionError(f"{what} differ: {np.abs(a - b).mean():.3g} in {scale:.3g} on average")


def _portions(days: Days, sites: int, years: int, repeats: int) -> Row:
    kept: dict[str, np.ndarray] = {}
    here, there = side_by_side(
        lambda: kept.update(ours=_our_portions(days)),
        lambda: kept.update(theirs=_their_portions(days)),
        repeats=repeats,
        warm_up=sites == 1,
    )
    _agree(kept["ours"], kept["theirs"], "chill portions")
    return Row(
        f"chill portions, {named(sites)}, {years} years",
        "xclim's hours and chill portions",
        here,
        there,
        least=_LEAST[sites],
    )


def _units(days: Days, sites: int, years: int, repeats: int) -> Row:
    kept: dict[str, np.ndarray] = {}

    def ours() -> None:
        daily = chill_units(days.tasmin, days.tasmax, by="day", time=days.time, latitude=days.latitude)
        kept["ours"] = by_growing_year(daily, time=days.time, latitude=days.latitude)

    def theirs() -> None:
        found = xclim_indices().chill_units(_hours(days), freq="YS")
        kept["theirs"] = np.moveaxis(found.values, found.get_axis_num("time"), -1)

    here, there = side_by_side(ours, theirs, repeats=repeats, warm_up=sites == 1)
    _agree(kept["ours"], kept["theirs"], "Utah units")
    return Row(f"Utah units, {named(sites)}, {years} years", "xclim's hours and chill units", here, there, least=10)


def _memory(days: Days, size: Size) -> Row:
    _their_portions(days_of(2))  # imports are not counted
    return Row(
        f"added memory of chill portions, {named(size.memory_sites)}, {size.years} years",
        "xclim's",
        added_memory(lambda: _our_portions(days)) / 1e6,
        added_memory(lambda: _their_portions(days)) / 1e6,
        most=0.2,
        unit="MB",
    )
