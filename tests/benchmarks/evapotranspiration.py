"""Rows on reference evapotranspiration by Penman and Monteith against refet, and pyet where it is installed."""

from __future__ import annotations

import numpy as np
import pandas as pd
from measure import Row, Size, side_by_side
from record import Days, days_of, named

from sowcal.climate.evapotranspiration import reference_evapotranspiration
from sowcal.climate.sun import extraterrestrial_radiation

__all__ = ["rows"]

_ELEVATION, _WIND = 50.0, 3.0  # m; m s-1 at 2 m, invented as the rest of the record


def rows(size: Size) -> list[Row]:
    """All rows on evapotranspiration."""
    return [row for sites in sorted({min(size.sites), max(size.sites)}) for row in _of(size, sites)]


def _of(size: Size, sites: int) -> list[Row]:
    days = days_of(size.years, (sites,) if sites > 1 else ())
    day = (days.time - days.time.astype("datetime64[Y]").astype("datetime64[D]")).astype(float) + 1
    solar = np.broadcast_to(0.5 * extraterrestrial_radiation(days.latitude, day), days.tasmin.shape)
    dew, wind = days.tasmin - 1.0, np.full(days.tasmin.shape, _WIND)
    given = {"elevation": _ELEVATION, "rsds": solar, "dew_point": dew, "wind": wind, "wind_height": 2.0}

    def ours() -> np.ndarray:
        where = {"latitude": days.latitude, "day_of_year": day}
        return np.asarray(
            reference_evapotranspiration(days.tasmin, days.tasmax, method="penman_monteith", **where, **given)
        )

    work = f"ET0 by Penman and Monteith, {named(sites)}, {size.years} years"
    out = []
    for name, theirs in (("refet", _refet(days, day, solar, dew)), ("pyet", _pyet(days, day, solar, dew))):
        if theirs is None:
            print(f"({name} is not installed: its row is left out)")
            continue
        # one equation; the clear sky and the extraterrestrial radiation are each library's own
        np.testing.assert_allclose(ours(), theirs(), rtol=0.03, atol=0.05)
        here, there = side_by_side(ours, theirs, repeats=size.repeats)
        out.append(Row(work, f"{name}'s", here, there, least=2))
    return out


def _refet(days: Days, day: np.ndarray, solar: np.ndarray, dew: np.ndarray):
    try:
        import refet
    except ImportError:
        return None

    def theirs() -> np.ndarray:
        return refet.Daily(
            tmin=days.tasmin, tmax=days.tasmax, tdew=dew, rs=np.array(solar), uz=np.full(dew.shape, _WIND), zw=2.0,
            elev=_ELEVATION, lat=days.latitude, doy=np.broadcast_to(day, dew.shape), method="asce", input_units={},
        ).eto()  # fmt: skip

    return theirs


def _pyet(days: Days, day: np.ndarray, solar: np.ndarray, dew: np.ndarray):
    """A table of one site a call, as its documentation has it."""
    try:
        import pyet
    except ImportError:
        return None
    time = pd.DatetimeIndex(days.time.astype("datetime64[ns]"))
    low, high, sun, damp = (np.atleast_2d(x) for x in (days.tasmin, days.tasmax, solar, dew))
    vapour = 0.6108 * np.exp(17.27 * damp / (damp + 237.3))  # kPa, FAO-56 eq. 14

    def theirs() -> np.ndarray:
        out = []
        for a, b, s, e in zip(low, high, sun, vapour, strict=True):
            columns = (pd.Series(x, time) for x in (0.5 * (a + b), np.full(a.size, _WIND), s, b, a, e))
            mean, wind, light, most, least, damp = columns
            found = pyet.pm_fao56(
                mean, wind, rs=light, tmax=most, tmin=least, ea=damp, elevation=_ELEVATION,
                lat=np.deg2rad(days.latitude),
            )  # fmt: skip
            out.append(found.to_numpy())
        return np.stack(out).reshape(days.tasmin.shape)

    return theirs
