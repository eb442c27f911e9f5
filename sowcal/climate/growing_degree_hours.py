"""Growing degree hours that bring fruit trees from the end of rest to bloom (Anderson et al. 1986)."""

from __future__ import annotations

from typing import Any

import numpy as np

from sowcal.climate._labelled import apply, dates_of, latitude_of
from sowcal.climate.hourly import reduce_hours

__all__ = ["growing_degree_hours", "hourly_growing_degrees"]

# Anderson, Richardson & Kesner 1986, Acta Hortic. 184:71-78 (recalled, the page was not read): base, optimum
# and critical temperature of the asymmetric curve, degC, without stress (F = 1).
BASE, OPTIMUM, CRITICAL = 4.0, 25.0, 36.0


def hourly_growing_degrees(temperature: np.ndarray) -> np.ndarray:
    """Growing degrees of single hours, 0 at the base and beyond the critical temperature, 21 at the optimum.

    Parameters
    ----------
    temperature : numpy.ndarray
        Any shape, degC.

    Returns
    -------
    numpy.ndarray
        Same shape, degC h for each hour; NaN for NaN.
    """
    width = OPTIMUM - BASE
    rising = temperature <= OPTIMUM
    angle = np.where(
        rising,
        np.pi + np.pi * (temperature - BASE) / width,
        np.pi / 2 + np.pi / 2 * (temperature - OPTIMUM) / (CRITICAL - OPTIMUM),
    )
    out = np.where(rising, 0.5 * width, width) * (1 + np.cos(angle))
    out = np.where((temperature <= BASE) | (temperature >= CRITICAL), 0.0, out)
    return np.where(np.isnan(temperature), np.nan, out)


def growing_degree_hours(tasmin: Any, tasmax: Any, *, time: Any = None, latitude: Any = None) -> Any:
    """Growing degree hours of each day.

    Parameters
    ----------
    tasmin, tasmax : array_like or xarray.DataArray
        Daily minimum and maximum temperature, shape (..., time), degC.
    time : array_like of datetime64, optional
        Dates, shape (time,); not needed for a DataArray.
    latitude : float or array_like, optional
        Degrees, south negative; a DataArray's own coordinate if left out.

    Returns
    -------
    numpy.ndarray or xarray.DataArray
        degC h, shape (..., time); NaN on missing days.

    Notes
    -----
    Anderson, Richardson & Kesner 1986, Acta Hortic. 184:71-78, without the stress factor.
    """
    dates = dates_of(tasmin, time)
    days = (dates.astype("datetime64[D]") - dates.astype("datetime64[Y]").astype("datetime64[D]")).astype(int) + 1

    def kernel(low: np.ndarray, high: np.ndarray, where: np.ndarray) -> np.ndarray:
        return reduce_hours(hourly_growing_degrees, low, high, where, days)

    attrs = {"units": "degC h", "long_name": "growing degree hours (Anderson et al. 1986)"}
    return apply(kernel, [tasmin, tasmax], places=[latitude_of(tasmin, latitude)], attrs=attrs)
