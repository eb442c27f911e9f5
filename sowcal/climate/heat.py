"""Heat: hot days, warm nights, spells, degree days above a limit; means over years, and zones of hardiness and heat."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any

import numpy as np

from sowcal.climate._labelled import as_series, check_choice, check_number, is_labelled, is_series, plain_numbers
from sowcal.climate.growing_years import MOST_MISSING, Span, by_growing_year, by_month, by_season, reduce_spans

__all__ = [
    "degree_days_above",
    "hardiness_zone",
    "heat_stress_days",
    "heat_zone",
    "hot_days",
    "longest_run",
    "longest_warm_spell",
    "mean_over_years",
    "mean_yearly_minimum",
    "run_lengths",
    "tropical_nights",
]


def longest_run(condition: np.ndarray) -> np.ndarray:
    """Length of the longest unbroken run of True along the last axis, days: shape (...) of shape (..., days).

    Examples
    --------
    >>> int(longest_run(np.array([True, True, False, True])))
    2
    """
    return run_lengths(condition).max(axis=-1, initial=0)


def run_lengths(condition: np.ndarray) -> np.ndarray:
    """Length of the run that each day continues, days, 0 where the condition does not hold; same shape.

    Examples
    --------
    >>> run_lengths(np.array([True, True, False, True]))
    array([1, 2, 0, 1])
    """
    day = np.arange(1, condition.shape[-1] + 1)
    broken = np.maximum.accumulate(np.where(condition, 0, day), axis=-1)
    return day - broken


_BY = ("year", "month", "season")


def _over(
    kernel: Callable[..., np.ndarray],
    daily: list[Any],
    by: str,
    time: Any,
    latitude: Any,
    most_missing: float,
    attrs: dict[str, str],
) -> Any:
    """Kernel over growing years, months or seasons."""
    check_choice("by", by, _BY)
    if by == "year":
        return reduce_spans(kernel, daily, attrs=attrs, time=time, latitude=latitude, most_missing=most_missing)
    table = by_month if by == "month" else by_season
    return table(kernel, daily, attrs=attrs, time=time, most_missing=most_missing)


def hot_days(
    tasmax: Any,
    *,
    threshold: float = 30.0,
    by: str = "year",
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Days with a maximum above a threshold.

    Parameters
    ----------
    tasmax : array_like, xarray.DataArray or pandas.Series
        Daily maximum temperature, shape (..., time), degC.
    threshold : float
        A day counts when its maximum is above this, degC.
    by : {'year', 'month', 'season'}
        Growing years (`growing_years`); months of calendar years; seasons DJF, MAM, JJA, SON, DJF in the year
        of its January.
    time : array_like of datetime64, optional
        Dates, shape (time,); not needed for a DataArray.
    latitude : float or array_like, optional
        Degrees, south negative, for growing years; a DataArray's own coordinate if left out.
    most_missing : float
        Largest share of a period's days that may be missing; beyond it the result is NaN. Counts are of the
        days present.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Shape (..., year), (..., year, 12) or (..., year, 4), days.

    Raises
    ------
    InputError
        For values that are no numbers, dates that are missing, do not fit or have gaps, a latitude that is not known or
        beyond the poles, a share outside 0 to 1, or an unknown `by`.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2003-01-01", dtype="datetime64[D]")
    >>> tasmax = 20.0 - 12.0 * np.cos(2 * np.pi * np.arange(time.size) / 365)
    >>> hot_days(tasmax, time=time, latitude=38.0)
    array([68., 68.])
    >>> hot_days(tasmax, by="season", time=time)  # DJF, MAM, JJA, SON
    array([[nan,  2., 66.,  0.],
           [ 0.,  2., 66.,  0.],
           [nan, nan, nan, nan]])
    """
    check_number("threshold", threshold)
    attrs = {"units": "days", "long_name": "hot days", "threshold": f"maximum above {threshold:g} degC"}
    return _over(lambda x, dates: (x > threshold).sum(axis=-1), [tasmax], by, time, latitude, most_missing, attrs)


def tropical_nights(
    tasmin: Any,
    *,
    threshold: float = 20.0,
    by: str = "year",
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Nights that stay above a threshold: days with a minimum above it.

    Parameters
    ----------
    tasmin : array_like, xarray.DataArray or pandas.Series
        Daily minimum temperature, shape (..., time), degC.
    threshold : float
        degC; 20 is common practice, no source.
    by, time, latitude, most_missing
        As in `hot_days`.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Days, shape as in `hot_days`.

    Raises
    ------
    InputError
        As in `hot_days`.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2003-01-01", dtype="datetime64[D]")
    >>> tasmax = 20.0 - 12.0 * np.cos(2 * np.pi * np.arange(time.size) / 365)
    >>> tropical_nights(tasmax - 10.0, time=time, latitude=38.0)
    array([68., 68.])
    """
    check_number("threshold", threshold)
    attrs = {"units": "days", "long_name": "warm nights", "threshold": f"minimum above {threshold:g} degC"}
    return _over(lambda x, dates: (x > threshold).sum(axis=-1), [tasmin], by, time, latitude, most_missing, attrs)


def heat_stress_days(
    tasmin: Any,
    tasmax: Any,
    *,
    day_threshold: float = 32.0,
    night_threshold: float = 20.0,
    by: str = "year",
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Days that are hot by day and by night: no recovery for fruit set.

    Parameters
    ----------
    tasmin, tasmax : array_like, xarray.DataArray or pandas.Series
        Daily minimum and maximum temperature, shape (..., time), degC.
    day_threshold, night_threshold : float
        Exceeded on the same date by the maximum and the minimum, degC. Common practice, no source; crops have
        their own.
    by, time, latitude, most_missing
        As in `hot_days`.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Days, shape as in `hot_days`.

    Raises
    ------
    InputError
        As in `hot_days`.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2003-01-01", dtype="datetime64[D]")
    >>> tasmax = 20.0 - 12.0 * np.cos(2 * np.pi * np.arange(time.size) / 365)
    >>> heat_stress_days(tasmax - 10.0, tasmax, day_threshold=30.0, time=time, latitude=38.0)
    array([68., 68.])
    """
    check_number("day_threshold", day_threshold)
    check_number("night_threshold", night_threshold)
    attrs = {
        "units": "days",
        "long_name": "heat stress days",
        "threshold": f"maximum above {day_threshold:g} and minimum above {night_threshold:g} degC",
    }
    how = (by, time, latitude, most_missing, attrs)
    return _over(lambda a, b, dates: ((a > night_threshold) & (b > day_threshold)).sum(axis=-1), [tasmin, tasmax], *how)


def degree_days_above(
    tasmax: Any,
    *,
    threshold: float = 30.0,
    by: str = "year",
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Sum of what the daily maxima exceed a threshold by.

    Parameters
    ----------
    tasmax : array_like, xarray.DataArray or pandas.Series
        Daily maximum temperature, shape (..., time), degC.
    threshold : float
        degC.
    by, time, latitude, most_missing
        As in `hot_days`.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        degC day, shape as in `hot_days`.

    Raises
    ------
    InputError
        As in `hot_days`.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2003-01-01", dtype="datetime64[D]")
    >>> tasmax = 20.0 - 12.0 * np.cos(2 * np.pi * np.arange(time.size) / 365)
    >>> degree_days_above(tasmax, time=time, latitude=38.0).round(1)
    array([90.2, 90.2])
    """
    check_number("threshold", threshold)
    attrs = {"units": "degC day", "long_name": "degree days above", "threshold": f"maximum above {threshold:g} degC"}
    how = (by, time, latitude, most_missing, attrs)
    return _over(lambda x, dates: np.nansum(np.maximum(x - threshold, 0.0), axis=-1), [tasmax], *how)


def longest_warm_spell(
    tasmax: Any,
    *,
    threshold: float = 30.0,
    by: str = "year",
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Most days in a row with a maximum above a threshold.

    Parameters
    ----------
    tasmax : array_like, xarray.DataArray or pandas.Series
        Daily maximum temperature, shape (..., time), degC.
    threshold : float
        degC.
    by, time, latitude, most_missing
        As in `hot_days`.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Days, shape as in `hot_days`.

    Raises
    ------
    InputError
        As in `hot_days`.

    Notes
    -----
    A spell is cut at the period's ends, and by a missing day.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2003-01-01", dtype="datetime64[D]")
    >>> tasmax = 20.0 - 12.0 * np.cos(2 * np.pi * np.arange(time.size) / 365)
    >>> longest_warm_spell(tasmax, time=time, latitude=38.0)
    array([68., 68.])
    """
    check_number("threshold", threshold)
    attrs = {"units": "days", "long_name": "longest warm spell", "threshold": f"maximum above {threshold:g} degC"}
    return _over(lambda x, dates: longest_run(x > threshold), [tasmax], by, time, latitude, most_missing, attrs)


# From midsummer to midsummer, so that one cold night is not the minimum of two years.
_COLD_YEAR: Span = ((7, 1), (7, 1))
_ZONES = np.array([f"{number}{half}" for number in range(1, 14) for half in "ab"])
# Most days above 30 degC of zones 2 to 11; zone 1 has fewer than one, zone 12 more than the last.
_HEAT_LIMITS = np.array([7.0, 14.0, 30.0, 45.0, 60.0, 90.0, 120.0, 150.0, 180.0, 210.0])


def mean_yearly_minimum(
    tasmin: Any,
    *,
    time: Any = None,
    latitude: Any = None,
    least_years: int = 10,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Mean of the yearly minima, over years from midsummer to midsummer.

    Parameters
    ----------
    tasmin : array_like, xarray.DataArray or pandas.Series
        Daily minimum temperature, shape (..., time), degC.
    time, latitude, most_missing
        As in `hot_days`.
    least_years : int
        With fewer whole years the result is NaN (common practice, no source; the published maps use 30).

    Returns
    -------
    numpy.ndarray or xarray.DataArray
        Shape (...), degC.

    Raises
    ------
    InputError
        As in `hot_days`.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2003-01-01", dtype="datetime64[D]")
    >>> tasmin = 6.0 - 10.0 * np.cos(2 * np.pi * np.arange(time.size) / 365)
    >>> float(mean_yearly_minimum(tasmin, time=time, latitude=38.0, least_years=1))
    -4.0
    """
    lowest = by_growing_year(
        tasmin,
        statistic="min",
        time=time,
        latitude=latitude,
        span=_COLD_YEAR,
        shift=1,
        most_missing=most_missing,
        attrs={"long_name": "yearly minimum temperature", "units": "degC"},
    )
    return mean_over_years(lowest, least_years=least_years)


def mean_over_years(yearly: Any, *, least_years: int = 10) -> Any:
    """Mean over the years decided.

    Parameters
    ----------
    yearly : array_like, xarray.DataArray or pandas.Series
        Shape (..., year), as the yearly indices give it.
    least_years : int
        With fewer decided years the result is NaN (common practice, no source).

    Returns
    -------
    numpy.ndarray or xarray.DataArray
        Shape (...), unit as given.

    Raises
    ------
    InputError
        For values that are no numbers.

    Examples
    --------
    >>> float(mean_over_years([3.0, 5.0, np.nan], least_years=2)), float(mean_over_years([3.0, 5.0, np.nan]))
    (4.0, nan)
    """

    def kernel(x: np.ndarray) -> np.ndarray:
        good = ~np.isnan(x)
        count = good.sum(axis=-1)
        total = np.where(good, x, 0.0).sum(axis=-1)
        return np.where(count >= max(least_years, 1), total / np.maximum(count, 1), np.nan)

    if not is_labelled(yearly):
        return kernel(plain_numbers("yearly", yearly))
    out = sys.modules["xarray"].apply_ufunc(
        kernel,
        yearly.chunk({"year": -1}) if yearly.chunks else yearly,
        input_core_dims=[["year"]],
        dask="parallelized",
        output_dtypes=[float],
    )
    out.attrs = {**yearly.attrs, "long_name": f"mean {yearly.attrs.get('long_name', '')}".strip()}
    return out


def hardiness_zone(mean_minimum: Any) -> Any:
    """USDA hardiness zone of a mean yearly minimum.

    Parameters
    ----------
    mean_minimum : float, array_like, xarray.DataArray or pandas.Series
        Result of `mean_yearly_minimum`, degC.

    Returns
    -------
    numpy.ndarray of str or xarray.DataArray
        '1a' to '13b', of the same shape; an empty word where the minimum is NaN.

    Raises
    ------
    InputError
        For values that are no numbers.

    Notes
    -----
    USDA-ARS Plant Hardiness Zone Map (2012, 2023): zone 1a begins at -60 degF and each half zone spans 5
    degF. Colder and warmer places than the scale has are given its ends.

    Examples
    --------
    >>> hardiness_zone([-4.0, 1.2, np.nan])
    array(['9a', '10a', ''], dtype='<U3')
    """

    def kernel(x: np.ndarray) -> np.ndarray:
        fahrenheit = 1.8 * x + 32.0
        step = np.floor((fahrenheit + 60.0) / 5.0 + 1e-9)
        index = np.clip(np.nan_to_num(step), 0, _ZONES.size - 1).astype(int)
        return np.where(np.isnan(x), "", _ZONES[index])

    return _elementwise(kernel, mean_minimum, {"long_name": "USDA hardiness zone"}, _ZONES.dtype)


def heat_zone(days_above_30: Any) -> Any:
    """Heat zone of a mean number of days a year above 30 degC.

    Parameters
    ----------
    days_above_30 : float, array_like, xarray.DataArray or pandas.Series
        Mean over years of `hot_days` with its threshold of 30 degC.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        1 to 12 as floats, NaN where unknown.

    Raises
    ------
    InputError
        For values that are no numbers.

    Notes
    -----
    American Horticultural Society 1997, Plant Heat-Zone Map: fewer than 1 day, 1 to 7, over 7 to 14, ... over
    210.

    Examples
    --------
    >>> heat_zone([0.4, 21.0, 95.0])
    array([1., 4., 8.])
    """

    def kernel(x: np.ndarray) -> np.ndarray:
        zone = np.where(x < 1.0, 1.0, 2.0 + np.searchsorted(_HEAT_LIMITS, x, side="left"))
        return np.where(np.isnan(x), np.nan, zone)

    return _elementwise(kernel, days_above_30, {"long_name": "AHS heat zone", "units": "1"}, float)


def _elementwise(kernel: Callable[[np.ndarray], np.ndarray], x: Any, attrs: dict[str, str], dtype: Any) -> Any:
    """Kernel on an array or on a DataArray."""
    if not is_labelled(x):
        found = kernel(plain_numbers("a value of the place", x))
        return as_series(found, x, attrs=attrs) if is_series(x) else found
    out = sys.modules["xarray"].apply_ufunc(kernel, x, dask="parallelized", output_dtypes=[dtype])
    out.attrs = attrs
    return out
