"""Frost: days, last and first dates, the frost-free period and the odds of dates.

Dates are days of a 365-day calendar year (1 is 1 January, 29 February counts as the 28th). A season without
frost is a result, not a gap: the last spring frost is then ``-inf`` and the first autumn frost ``+inf``,
which sort as they should; NaN means that too much of the season is missing. Use `numpy.isinf` for "never".
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sowcal.climate._labelled import as_series, check_choice, check_number, is_labelled, is_series, plain_numbers
from sowcal.climate.growing_years import (
    AUTUMN_HALF,
    MOST_MISSING,
    SPRING_HALF,
    calendar_day,
    growing_years,
    reduce_spans,
)
from sowcal.errors import InputError

__all__ = [
    "DaysAhead",
    "FrostYear",
    "days_ahead",
    "first_autumn_frost",
    "frost_date_odds",
    "frost_days",
    "frost_free_period",
    "frost_years",
    "last_spring_frost",
]


def _attrs(long_name: str, units: str, threshold: float) -> dict[str, str]:
    check_number("threshold", threshold)
    return {"units": units, "long_name": long_name, "threshold": f"minimum below {threshold:g} degC"}


def frost_days(
    tasmin: Any,
    *,
    threshold: float = 0.0,
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Days of each growing year with a minimum below a threshold.

    Parameters
    ----------
    tasmin : array_like, xarray.DataArray or pandas.Series
        Daily minimum temperature, shape (..., time), degC.
    threshold : float
        A day counts when its minimum is below this, degC.
    time : array_like of datetime64, optional
        Dates, shape (time,); not needed for a DataArray.
    latitude : float or array_like, optional
        Degrees, south negative; a DataArray's coordinate `latitude` or `lat` if left out. Its sign tells the
        hemisphere.
    most_missing : float
        Largest share of the year's days that may be missing; beyond it the result is NaN. Counts are of the
        days present.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Shape (..., year), days. The years are those of `growing_years`.

    Raises
    ------
    InputError
        For values that are no numbers, dates that are missing, do not fit or have gaps, a latitude that is not known or
        beyond the poles, or a share outside 0 to 1.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2003-01-01", dtype="datetime64[D]")
    >>> tasmin = 6.0 - 10.0 * np.cos(2 * np.pi * np.arange(time.size) / 365)
    >>> frost_days(tasmin, time=time, latitude=38.0)  # 2001 and 2002
    array([107., 107.])
    >>> frost_days([tasmin, tasmin + 5.0], time=time, latitude=[38.0, -38.0])  # 2000 to 2002
    array([[ nan, 107., 107.],
           [ nan,   0.,  nan]])
    """
    return reduce_spans(
        lambda x, dates: (x < threshold).sum(axis=-1),
        [tasmin],
        attrs=_attrs("frost days", "days", threshold),
        time=time,
        latitude=latitude,
        most_missing=most_missing,
    )


def last_spring_frost(
    tasmin: Any,
    *,
    threshold: float = 0.0,
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Day of the last frost between midwinter and midsummer of each growing year.

    Parameters
    ----------
    tasmin : array_like, xarray.DataArray or pandas.Series
        Daily minimum temperature, shape (..., time), degC.
    threshold : float
        A day has frost when its minimum is below this, degC.
    time : array_like of datetime64, optional
        Dates, shape (time,), one a day; not needed for a DataArray, or a Series with dates for its index.
    latitude : float or array_like, optional
        Degrees, south negative, over the leading axes; a DataArray's coordinate `latitude` or `lat` if left out. Its
        sign tells the hemisphere.
    most_missing : float
        Largest share of the half-year's days that may be missing; beyond it the result is NaN.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Shape (..., year), day of a 365-day calendar year; ``-inf`` where the half-year had no frost.

    Raises
    ------
    InputError
        For values that are no numbers, dates that are missing, do not fit or have gaps, a latitude that is not known or
        beyond the poles, or a share outside 0 to 1.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2003-01-01", dtype="datetime64[D]")
    >>> tasmin = 6.0 - 10.0 * np.cos(2 * np.pi * np.arange(time.size) / 365)
    >>> last_spring_frost(tasmin, time=time, latitude=38.0)
    array([54., 54.])
    >>> last_spring_frost(tasmin, threshold=-5.0, time=time, latitude=38.0)
    array([-inf, -inf])
    """

    def last(x: np.ndarray, dates: np.ndarray) -> np.ndarray:
        frost = x < threshold
        where = x.shape[-1] - 1 - np.argmax(frost[..., ::-1], axis=-1)
        return np.where(frost.any(axis=-1), calendar_day(dates)[where], -np.inf)

    return reduce_spans(
        last,
        [tasmin],
        attrs=_attrs("last spring frost (-inf: never)", "day of a 365-day year", threshold),
        time=time,
        latitude=latitude,
        span=SPRING_HALF,
        most_missing=most_missing,
    )


def first_autumn_frost(
    tasmin: Any,
    *,
    threshold: float = 0.0,
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Day of the first frost between midsummer and midwinter of each growing year.

    Parameters
    ----------
    tasmin : array_like, xarray.DataArray or pandas.Series
        Daily minimum temperature, shape (..., time), degC.
    threshold : float
        A day has frost when its minimum is below this, degC.
    time : array_like of datetime64, optional
        Dates, shape (time,), one a day; not needed for a DataArray, or a Series with dates for its index.
    latitude : float or array_like, optional
        Degrees, south negative, over the leading axes; a DataArray's coordinate `latitude` or `lat` if left out. Its
        sign tells the hemisphere.
    most_missing : float
        Largest share of the half-year's days that may be missing; beyond it the result is NaN.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Shape (..., year), day of a 365-day calendar year (of the calendar year after the label in the south);
        ``+inf`` where the half-year had no frost.

    Raises
    ------
    InputError
        For values that are no numbers, dates that are missing, do not fit or have gaps, a latitude that is not known or
        beyond the poles, or a share outside 0 to 1.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2003-01-01", dtype="datetime64[D]")
    >>> tasmin = 6.0 - 10.0 * np.cos(2 * np.pi * np.arange(time.size) / 365)
    >>> first_autumn_frost(tasmin, time=time, latitude=38.0)
    array([313., 313.])
    """

    def first(x: np.ndarray, dates: np.ndarray) -> np.ndarray:
        frost = x < threshold
        return np.where(frost.any(axis=-1), calendar_day(dates)[np.argmax(frost, axis=-1)], np.inf)

    return reduce_spans(
        first,
        [tasmin],
        attrs=_attrs("first autumn frost (inf: never)", "day of a 365-day year", threshold),
        time=time,
        latitude=latitude,
        span=AUTUMN_HALF,
        most_missing=most_missing,
    )


def frost_free_period(
    tasmin: Any,
    *,
    threshold: float = 0.0,
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Days between the last spring frost and the first autumn frost of each growing year, neither counted.

    Parameters
    ----------
    tasmin : array_like, xarray.DataArray or pandas.Series
        Daily minimum temperature, shape (..., time), degC.
    threshold : float
        A day has frost when its minimum is below this, degC.
    time : array_like of datetime64, optional
        Dates, shape (time,), one a day; not needed for a DataArray, or a Series with dates for its index.
    latitude : float or array_like, optional
        Degrees, south negative, over the leading axes; a DataArray's coordinate `latitude` or `lat` if left out. Its
        sign tells the hemisphere.
    most_missing : float
        Largest share of the growing year's days that may be missing; beyond it the result is NaN.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Shape (..., year), days; the whole growing year (365 or 366) where there was no frost.

    Raises
    ------
    InputError
        For values that are no numbers, dates that are missing, do not fit or have gaps, a latitude that is not known or
        beyond the poles, or a share outside 0 to 1.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2003-01-01", dtype="datetime64[D]")
    >>> tasmin = 6.0 - 10.0 * np.cos(2 * np.pi * np.arange(time.size) / 365)
    >>> frost_free_period(tasmin, time=time, latitude=38.0)
    array([258., 258.])
    """

    def free(x: np.ndarray, dates: np.ndarray) -> np.ndarray:
        n = x.shape[-1]
        months = dates.astype("datetime64[M]").astype(int)
        half = int(np.argmax(months >= months[0] + 6))
        frost = x < threshold
        spring, autumn = frost[..., :half], frost[..., half:]
        last = np.where(spring.any(axis=-1), half - 1 - np.argmax(spring[..., ::-1], axis=-1), -1)
        first = np.where(autumn.any(axis=-1), half + np.argmax(autumn, axis=-1), n)
        return first - last - 1

    return reduce_spans(
        free,
        [tasmin],
        attrs=_attrs("frost-free period", "days", threshold),
        time=time,
        latitude=latitude,
        most_missing=most_missing,
    )


def frost_date_odds(day: Any, *, side: str, odds: Sequence[float] = (10.0, 50.0, 90.0), least_years: int = 10) -> Any:
    """Dates by which frost is left behind, or before which it comes, at given odds.

    Parameters
    ----------
    day : array_like, xarray.DataArray or pandas.Series
        Result of `last_spring_frost` or `first_autumn_frost`, shape (..., year).
    side : {'spring', 'autumn'}
        'spring': the date after which frost still comes in that per cent of years. 'autumn': the date before
        which frost has already come in that per cent of years.
    odds : sequence of float
        Per cent of years, above 0 and below 100.
    least_years : int
        Fewer decided years than this give NaN (common practice, no source).

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Shape (..., odds), day of a 365-day year; infinite where the answer is never.

    Raises
    ------
    InputError
        For an unknown side, odds outside 0 to 100, or days that are no numbers.

    Notes
    -----
    Order statistics at the plotting position rank / (n + 1) (Weibull). Between a date and never the nearer of
    the two is taken, for nothing lies between them.

    Examples
    --------
    >>> last = np.array([70.0, 75.0, 80.0, 85.0, 90.0, 95.0, 100.0, 105.0, 110.0, -np.inf])
    >>> frost_date_odds(last, side="spring")
    array([109.5,  87.5,  -inf])
    """
    check_choice("side", side, ("spring", "autumn"))
    chances = plain_numbers("odds", odds)
    if chances.ndim != 1 or ((chances <= 0.0) | (chances >= 100.0)).any():
        raise InputError("odds must be a list of per cent above 0 and below 100")
    shares = chances / 100.0 if side == "autumn" else 1.0 - chances / 100.0
    if not is_labelled(day):
        found = _quantiles(plain_numbers("day", day), shares, least_years)
        return as_series(found, day, ("odds", chances)) if is_series(day) else found
    out = sys.modules["xarray"].apply_ufunc(
        _quantiles,
        day.chunk({"year": -1}) if day.chunks else day,
        kwargs={"shares": shares, "least": least_years},
        input_core_dims=[["year"]],
        output_core_dims=[["odds"]],
        dask="parallelized",
        output_dtypes=[float],
        dask_gufunc_kwargs={"output_sizes": {"odds": chances.size}},
    )
    out = out.assign_coords(odds=("odds", chances, {"units": "percent"}))
    out.attrs = {"units": "day of a 365-day year", "long_name": f"{side} frost date at given odds"}
    return out


def _quantiles(day: np.ndarray, shares: np.ndarray, least: int) -> np.ndarray:
    """Quantiles along the last axis that know infinity and leave NaN out, shape (..., shares)."""
    if day.shape[-1] == 0:
        return np.full((*day.shape[:-1], shares.size), np.nan)
    ordered = np.sort(day, axis=-1)  # NaN goes last
    n = np.isfinite(day) | np.isinf(day)
    count = n.sum(axis=-1)[..., None]
    top = np.maximum(count - 1, 0)
    rank = np.clip(shares * (count + 1) - 1.0, 0, top)
    low = np.floor(rank).astype(int)
    high = np.minimum(low + 1, top)
    below, above = (np.take_along_axis(ordered, k, axis=-1) for k in (low, high))
    part = rank - low
    nearer = np.where(part < 0.5, below, above)
    with np.errstate(invalid="ignore"):
        between = below + part * (above - below)
    out = np.where(np.isfinite(below) & np.isfinite(above), between, nearer)
    return np.where(count >= max(least, 1), out, np.nan)


_JULY = 181  # day of the year of 1 July


@dataclass(frozen=True)
class FrostYear:
    """Last frost before midsummer and first frost after it, days of the year from 0; None is no frost in that half.

    Attributes
    ----------
    year : int
        Calendar year of the spring; in the south the autumn frost falls in the year after.
    last_spring_frost, first_autumn_frost : int or None
    """

    year: int
    last_spring_frost: int | None
    first_autumn_frost: int | None

    def span(self, south: bool) -> tuple[int, int]:
        """First and last day free of frost, between one midwinter (1 January; 1 July in the south) and the next."""
        winter = _JULY if south else 0
        first = winter if self.last_spring_frost is None else self.last_spring_frost + 1
        last = winter - 1 if self.first_autumn_frost is None else self.first_autumn_frost - 1
        return first % 365, last % 365


def frost_years(spring: np.ndarray, autumn: np.ndarray, *, time: Any, latitude: float) -> tuple[FrostYear, ...]:
    """Years of which both halves are known, in their order.

    Parameters
    ----------
    spring, autumn : numpy.ndarray
        Results of `last_spring_frost` and `first_autumn_frost` of one site.
    time : array_like of datetime64
        Dates of the record.
    latitude : float
        Degrees, south negative.

    Returns
    -------
    tuple of FrostYear
        Days of the year from 0.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2003-01-01", dtype="datetime64[D]")
    >>> tasmin = 6.0 - 10.0 * np.cos(2 * np.pi * np.arange(time.size) / 365)
    >>> by = {"time": time, "latitude": 38.0}
    >>> frost_years(last_spring_frost(tasmin, **by), first_autumn_frost(tasmin, **by), **by)[0]
    FrostYear(year=2001, last_spring_frost=53, first_autumn_frost=312)
    """
    labels = (growing_years(time, latitude, span=half) for half in (SPRING_HALF, AUTUMN_HALF))
    last, first = (
        {int(y): float(d) for y, d in zip(years, days, strict=True) if not np.isnan(d)}
        for years, days in zip(labels, (spring, autumn), strict=True)
    )
    return tuple(FrostYear(year, _day(last[year]), _day(first[year])) for year in sorted(last.keys() & first.keys()))


def _day(day: float) -> int | None:
    """From a day counted from 1 to one from 0; None for never."""
    return int(day) - 1 if np.isfinite(day) else None


@dataclass(frozen=True, slots=True)
class DaysAhead:
    """In how many years some days of the year brought frost (a minimum below 0 degC) and heat."""

    length: int  # days
    years: int  # of which every one of these days is known
    frost: int
    hot: int
    limit: float  # degC, above which a maximum is hot


def days_ahead(
    tasmin: np.ndarray, tasmax: np.ndarray, time: Any, day: int, *, length: int = 14, limit: float = 30.0
) -> DaysAhead:
    """Years with frost and with heat in the days from one day of the year on.

    Parameters
    ----------
    tasmin, tasmax : numpy.ndarray
        Daily extremes, degC, shape (N,); NaN is missing.
    time : array_like of datetime64
        Dates, one a value, without gaps.
    day : int
        Day of the year, from 0, on which they begin.
    length : int
        How many days.
    limit : float
        Maximum above which a day is hot, degC.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2004-01-01", dtype="datetime64[D]")
    >>> tasmin = np.where(time == np.datetime64("2002-04-10"), -1.0, 4.0)
    >>> days_ahead(tasmin, tasmin + 10.0, time, 95)
    DaysAhead(length=14, years=3, frost=1, hot=0, limit=30.0)
    """
    dates = np.asarray(time, dtype="datetime64[D]")
    years = dates.astype("datetime64[Y]")
    first = np.flatnonzero(years.astype("datetime64[D]") + _day_in(years, day) == dates)
    known = frost = hot = 0
    for start in first[first + length <= dates.size]:
        cold, warm = tasmin[start : start + length], tasmax[start : start + length]
        if np.isnan(cold).any() or np.isnan(warm).any():
            continue
        known += 1
        frost += bool((cold < 0.0).any())
        hot += bool((warm > limit).any())
    return DaysAhead(length, known, frost, hot, limit)


def _day_in(years: np.ndarray, day: int) -> np.ndarray:
    """Days from 1 January to a day of the 365-day year, in leap years one more after February."""
    number = years.astype(int) + 1970
    leap = (number % 4 == 0) & ((number % 100 != 0) | (number % 400 == 0))
    return (day + (leap & (day >= 59))).astype("timedelta64[D]")
