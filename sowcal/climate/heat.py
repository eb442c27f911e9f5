"""Unbroken runs of days."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any

import numpy as np

from sowcal.climate._labelled import check_choice, is_labelled
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
    """Length of the longest unbroken run of True along the last axis."""
    return run_lengths(condition).max(axis=-1, initial=0)


def run_lengths(condition: np.ndarray) -> np.ndarray:
    """Length of the run that each day continues, 0 where the condition does not hold; same shape."""
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
    tasmax : array_like or xarray.DataArray
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
    numpy.ndarray or xarray.DataArray
        Shape (..., year), (..., year, 12) or (..., year, 4), days.
    """
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

    Parameters and result as in `hot_days`, with `tasmin` the daily minimum, degC.
    """
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

    The thresholds (degC, both exceeded on the same date) are common practice, no source; crops have their
    own. Other parameters and result as in `hot_days`.
    """
    attrs = {
        "units": "days",
        "long_name": "heat stress days",
        "threshold": f"maximum above {day_threshold:g} and minimum above {night_threshold:g} degC",
    }
    return _over(
        lambda low, high, dates: ((low > night_threshold) & (high > day_threshold)).sum(axis=-1),
        [tasmin, tasmax],
        by,
        time,
        latitude,
        most_missing,
        attrs,
    )


def degree_days_above(
    tasmax: Any,
    *,
    threshold: float = 30.0,
    by: str = "year",
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Sum of what the daily maxima exceed a threshold by, degC day.

    Parameters and result as in `hot_days`.
    """
    attrs = {
        "units": "degC day",
        "long_name": "degree days above",
        "threshold": f"maximum above {threshold:g} degC",
    }
    return _over(
        lambda x, dates: np.nansum(np.maximum(x - threshold, 0.0), axis=-1),
        [tasmax],
        by,
        time,
        latitude,
        most_missing,
        attrs,
    )


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

    A spell is cut at the period's ends, and by a missing day. Parameters and result as in `hot_days`.
    """
    attrs = {
        "units": "days",
        "long_name": "longest warm spell",
        "threshold": f"maximum above {threshold:g} degC",
    }
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
    """Mean of the yearly minima, degC, shape (...).

    Parameters
    ----------
    tasmin : array_like or xarray.DataArray
        Daily minimum temperature, shape (..., time), degC.
    time, latitude, most_missing
        As in `frost_days`; years run from midsummer to midsummer.
    least_years : int
        With fewer whole years the result is NaN (common practice, no source; the published maps use 30).
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
    """Mean over the years decided, NaN where they are fewer than `least_years`."""

    def kernel(x: np.ndarray) -> np.ndarray:
        good = ~np.isnan(x)
        count = good.sum(axis=-1)
        total = np.where(good, x, 0.0).sum(axis=-1)
        return np.where(count >= max(least_years, 1), total / np.maximum(count, 1), np.nan)

    if not is_labelled(yearly):
        return kernel(np.asarray(yearly, dtype=float))
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
    mean_minimum : float, array_like or xarray.DataArray
        Result of `mean_yearly_minimum`, degC.

    Returns
    -------
    numpy.ndarray of str or xarray.DataArray
        '1a' to '13b', of the same shape; an empty word where the minimum is NaN.

    Notes
    -----
    USDA-ARS Plant Hardiness Zone Map (2012, 2023): zone 1a begins at -60 degF and each half zone spans 5
    degF. Colder and warmer places than the scale has are given its ends.
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
    days_above_30 : float, array_like or xarray.DataArray
        Mean over years of `hot_days` with its threshold of 30 degC.

    Returns
    -------
    numpy.ndarray or xarray.DataArray
        1 to 12 as floats, NaN where unknown.

    Notes
    -----
    American Horticultural Society 1997, Plant Heat-Zone Map: fewer than 1 day, 1 to 7, over 7 to 14, ... over
    210.
    """

    def kernel(x: np.ndarray) -> np.ndarray:
        zone = np.where(x < 1.0, 1.0, 2.0 + np.searchsorted(_HEAT_LIMITS, x, side="left"))
        return np.where(np.isnan(x), np.nan, zone)

    return _elementwise(kernel, days_above_30, {"long_name": "AHS heat zone", "units": "1"}, float)


def _elementwise(kernel: Callable[[np.ndarray], np.ndarray], x: Any, attrs: dict[str, str], dtype: Any) -> Any:
    """Kernel on an array or on a DataArray."""
    if not is_labelled(x):
        return kernel(np.asarray(x, dtype=float))
    out = sys.modules["xarray"].apply_ufunc(kernel, x, dask="parallelized", output_dtypes=[dtype])
    out.attrs = attrs
    return out
