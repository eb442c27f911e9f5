"""Growing degree days: heat above a crop's base temperature, with an optional upper threshold.

Each method draws a curve through the day's minimum and maximum; each cut-off says what warmth above the upper
threshold does to growth. Degree days are the mean over the day of the response to the curve:

==============  ===================================================
cut-off         response at a temperature T above the upper threshold
==============  ===================================================
horizontal      stays at ``upper - base``
intermediate    falls as fast as it rose: ``(upper - base) - (T - upper)``
vertical        nothing
==============  ===================================================
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np

from sowcal.climate._labelled import apply, check_choice, check_number, dates_of, latitude_of
from sowcal.climate.hourly import reduce_hours
from sowcal.errors import InputError

__all__ = [
    "CUTOFFS",
    "METHODS",
    "growing_degree_days",
    "growing_degree_hours",
    "hourly_growing_degrees",
    "single_sine_horizontal",
]

METHODS = (
    "average_mean",
    "average_readings",
    "single_triangle",
    "double_triangle",
    "single_sine",
    "double_sine",
)
CUTOFFS = ("horizontal", "intermediate", "vertical")
_BLOCK = 1 << 15


def growing_degree_days(
    tasmin: Any,
    tasmax: Any,
    *,
    base_temperature: float,
    upper_threshold: float | None = None,
    method: str = "single_sine",
    cutoff: str = "horizontal",
) -> Any:
    """Degree days of each day.

    Parameters
    ----------
    tasmin, tasmax : array_like, xarray.DataArray or pandas.Series
        Daily minimum and maximum temperature, shape (..., time), degC. NaN is missing and stays so.
    base_temperature : float
        Lower threshold, degC.
    upper_threshold : float, optional
        Upper threshold, degC; none unless given.
    method : {'single_sine', 'double_sine', 'single_triangle', 'double_triangle', 'average_mean', 'average_readings'}
        Curve of the day. The double forms take the second half of the day down to the next day's minimum; the
        last day of the record, or one before a missing minimum, falls back to its single form. 'average_mean'
        sets the mean of the two readings to the thresholds, 'average_readings' each reading first.
    cutoff : {'horizontal', 'intermediate', 'vertical'}
        What warmth above the upper threshold does. With 'intermediate' a day never gives less than with
        'vertical' (the UC Statewide IPM Program's published daily values follow that rule).

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Degree days, shape (..., time), degC day (that is, degC times the one day).

    Raises
    ------
    InputError
        For an unknown method or cut-off, an upper threshold not above the base, values without a time axis or that are
        no numbers, or arrays that do not fit each other.

    Notes
    -----
    Single sine: Baskerville & Emin 1969, Ecology 50:514-517. Triangles, double forms and cut-offs: Zalom,
    Goodell, Wilson, Barnett & Bentley 1983, UC Leaflet 21373. Averages: McMaster & Wilhelm 1997, Agric. For.
    Meteorol. 87:291-300, methods 1 and 2; they give the horizontal cut-off only, the other two are the same
    response applied to the mean or to the readings.

    Examples
    --------
    >>> low, high = [8.0, 12.0, np.nan], [20.0, 34.0, 25.0]
    >>> growing_degree_days(low, high, base_temperature=10.0, upper_threshold=30.0).round(2)
    array([ 4.35, 12.26,   nan])
    >>> import pandas as pd
    >>> days = pd.DataFrame({"low": [8.0, 12.0], "high": [20.0, 34.0]}, index=pd.date_range("2001-05-01", periods=2))
    >>> growing_degree_days(days["low"], days["high"], base_temperature=10.0).round(2)
    2001-05-01     4.35
    2001-05-02    13.00
    Freq: D, Name: growing degree days, dtype: float64
    """
    check_choice("method", method, METHODS)
    check_choice("cutoff", cutoff, CUTOFFS)
    base_temperature = check_number("base_temperature", base_temperature)
    unbounded = upper_threshold is None or (isinstance(upper_threshold, float) and upper_threshold == np.inf)
    upper = np.inf if unbounded else check_number("upper_threshold", upper_threshold)
    if not base_temperature < upper:
        raise InputError(f"upper_threshold ({upper:g} degC) must be above base_temperature ({base_temperature:g})")
    if method == "single_sine" and cutoff == "horizontal":
        kernel: Callable[..., np.ndarray] = partial(single_sine_horizontal, base=base_temperature, upper=upper)
    else:
        kernel = partial(_degree_days, base=base_temperature, upper=upper, method=method, cutoff=cutoff)
    top = "none" if upper_threshold is None else f"{upper:g} degC, {cutoff} cut-off"
    attrs = {
        "units": "degC day",
        "long_name": "growing degree days",
        "method": method,
        "base_temperature": f"{base_temperature:g} degC",
        "upper_threshold": top,
    }
    return apply(kernel, [tasmin, tasmax], attrs=attrs)


def single_sine_horizontal(
    tasmin: np.ndarray, tasmax: np.ndarray, base: float, upper: float | None = None
) -> np.ndarray:
    """Single-sine degree days with the horizontal cut-off, on plain arrays.

    Parameters
    ----------
    tasmin, tasmax : numpy.ndarray
        Daily minimum and maximum temperature, of shapes that broadcast, degC.
    base : float
        Lower threshold, degC.
    upper : float, optional
        Upper threshold, degC; None, NaN or infinity for none.

    Returns
    -------
    numpy.ndarray
        Degree days, degC day.

    Notes
    -----
    Baskerville & Emin 1969. A curve that stays on one side of a threshold needs no more than the mean; one
    that crosses it adds `_sine_excess`, so the inverse cosine is taken on those days alone.

    Examples
    --------
    >>> single_sine_horizontal(np.array([8.0, 12.0]), np.array([20.0, 34.0]), 10.0, 30.0).round(2)
    array([ 4.35, 12.26])
    """
    if np.shape(tasmin) != np.shape(tasmax):
        tasmin, tasmax = np.broadcast_arrays(tasmin, tasmax)
    if np.ndim(tasmin) > 1 and np.size(tasmin) > _BLOCK:
        # Place by place: what a row needs stays in the processor's cache.
        rows = np.empty(np.shape(tasmin))
        for row, low, high in zip(rows, tasmin, tasmax, strict=True):
            row[...] = single_sine_horizontal(low, high, base, upper)
        return rows
    top = np.inf if upper is None or np.isnan(upper) else float(upper)
    bounded = np.isfinite(top)
    mean = np.add(tasmin, tasmax, dtype=float)
    mean *= 0.5
    out = np.maximum(mean, base)
    if bounded:
        np.minimum(out, top, out=out)
    out -= base
    for threshold, sign in ((base, 1.0), (top, -1.0)) if bounded else ((base, 1.0),):
        crossed = np.nonzero((tasmin < threshold) & (tasmax > threshold))
        if crossed[0].size:
            middle = mean[crossed]
            excess = _sine_excess(middle - threshold, tasmax[crossed] - middle)
            excess *= sign
            out[crossed] += excess
    return out


def _sine_excess(distance: np.ndarray, amplitude: np.ndarray) -> np.ndarray:
    """What a sine that crosses a threshold gathers beyond ``max(mean - threshold, 0)``, degC day.

    With d the distance of mean and threshold in amplitudes the area above the threshold is
    ``max(mean - threshold, 0) + amplitude (sqrt(1 - d^2) - d arccos d) / pi``, the same on either side.
    """
    d = np.abs(distance)
    d /= amplitude
    np.minimum(d, 1.0, out=d)
    root = (1.0 - d) * (1.0 + d)
    np.sqrt(root, out=root)
    d *= np.arccos(d)
    root -= d
    root *= amplitude / np.pi
    return root


def _of_means(tasmin: np.ndarray, tasmax: np.ndarray, base: float, upper: float, cutoff: str) -> np.ndarray:
    """Response to the daily mean, some places at a time, so that what they need stays in the processor's cache."""
    out = np.empty(tasmin.shape)
    days = tasmin.shape[-1]
    places = (out.size // max(days, 1), days)
    low, high, found = (x.reshape(places) for x in (tasmin, tasmax, out))
    step = max(_BLOCK // max(days, 1), 1)
    for begin in range(0, places[0], step):
        mean = np.add(low[begin : begin + step], high[begin : begin + step])
        mean *= 0.5
        found[begin : begin + step] = _response(mean, base, upper, cutoff)
    return out


def _degree_days(
    tasmin: np.ndarray, tasmax: np.ndarray, base: float, upper: float, method: str, cutoff: str
) -> np.ndarray:
    """Degree days by any method and cut-off, on plain arrays."""
    tasmin, tasmax = np.broadcast_arrays(np.asarray(tasmin, dtype=float), np.asarray(tasmax, dtype=float))
    if method == "average_mean":
        out = _of_means(tasmin, tasmax, base, upper, cutoff)
    elif method == "average_readings":
        out = 0.5 * (_response(tasmin, base, upper, cutoff) + _response(tasmax, base, upper, cutoff))
    else:
        out = _by_curve(tasmin, tasmax, base, upper, method, cutoff)
        if cutoff == "intermediate":
            # Heat far above the threshold does not take away what the day's cooler hours gave.
            out = np.maximum(out, _by_curve(tasmin, tasmax, base, upper, method, "vertical"))
    return np.maximum(out, 0.0, out=out)


def _by_curve(
    tasmin: np.ndarray, tasmax: np.ndarray, base: float, upper: float, method: str, cutoff: str
) -> np.ndarray:
    """Degree days under the sine or triangle, of one curve a day or of two halves."""
    parts = _sine_parts if method.endswith("sine") else _triangle_parts
    out = _curve(tasmin, tasmax, base, upper, cutoff, parts)
    if method.startswith("single"):
        return out
    following = np.concatenate([tasmin[..., 1:], tasmin[..., -1:]], axis=-1)
    following = np.where(np.isnan(following), tasmin, following)
    return 0.5 * (out + _curve(following, tasmax, base, upper, cutoff, parts))


def _response(temperature: np.ndarray, base: float, upper: float, cutoff: str) -> np.ndarray:
    """Response to one temperature, degC."""
    above_base = temperature - base
    np.maximum(above_base, 0.0, out=above_base)
    if upper == np.inf:
        return above_base
    above_upper = np.maximum(temperature - upper, 0.0)
    if cutoff == "horizontal":
        return above_base - above_upper
    if cutoff == "intermediate":
        return np.maximum(above_base - 2.0 * above_upper, 0.0)
    return np.where(temperature > upper, 0.0, above_base)


def _curve(
    low: np.ndarray,
    high: np.ndarray,
    base: float,
    upper: float,
    cutoff: str,
    parts: Callable[..., tuple[np.ndarray, np.ndarray]],
) -> np.ndarray:
    """Degree days under a curve between two temperatures (a whole day of it)."""
    # The next day's minimum may be above today's maximum: the curve then runs between them all the same.
    low, high = np.minimum(low, high), np.maximum(low, high)
    area, _ = parts(low, high, base)
    if not np.isfinite(upper):
        return area
    top, share = parts(low, high, upper)
    if cutoff == "horizontal":
        return area - top
    if cutoff == "intermediate":
        return area - 2.0 * top
    return area - top - (upper - base) * share


def _sine_parts(low: np.ndarray, high: np.ndarray, threshold: float) -> tuple[np.ndarray, np.ndarray]:
    """Area of a sine above a threshold, degC day, and the share of the day it is above."""
    mean = 0.5 * (low + high)
    area = np.maximum(mean - threshold, 0.0)
    share = (mean > threshold).astype(float)
    crossed = np.nonzero((low < threshold) & (high > threshold))
    middle, amplitude = mean[crossed], (high - mean)[crossed]
    area[crossed] += _sine_excess(middle - threshold, amplitude)
    share[crossed] = np.arccos(np.clip((threshold - middle) / amplitude, -1.0, 1.0)) / np.pi
    return area, share


def _triangle_parts(low: np.ndarray, high: np.ndarray, threshold: float) -> tuple[np.ndarray, np.ndarray]:
    """Area of a triangle above a threshold, degC day, and the share of the day it is above."""
    mean = 0.5 * (low + high)
    area = np.maximum(mean - threshold, 0.0)
    share = (mean > threshold).astype(float)
    crossed = np.nonzero((low < threshold) & (high > threshold))
    above = high[crossed] - threshold
    share[crossed] = above / (high - low)[crossed]
    area[crossed] = 0.5 * above * share[crossed]
    return area, share


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

    Examples
    --------
    >>> hourly_growing_degrees(np.array([4.0, 14.5, 25.0, 36.0]))
    array([ 0. , 10.5, 21. ,  0. ])
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
    tasmin, tasmax : array_like, xarray.DataArray or pandas.Series
        Daily minimum and maximum temperature, shape (..., time), degC.
    time : array_like of datetime64, optional
        Dates, shape (time,); not needed for a DataArray.
    latitude : float or array_like, optional
        Degrees, south negative; a DataArray's own coordinate if left out.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        degC h, shape (..., time); NaN on missing days.

    Raises
    ------
    InputError
        For values that are no numbers, dates that are missing or have gaps, or a latitude that is not known.

    Notes
    -----
    Anderson, Richardson & Kesner 1986, Acta Hortic. 184:71-78, without the stress factor.

    Examples
    --------
    >>> time = np.arange("2001-03-01", "2001-03-03", dtype="datetime64[D]")
    >>> growing_degree_hours([2.0, 6.0], [14.0, 20.0], time=time, latitude=38.0).round(1)
    array([ 78.1, 185.5])
    """
    dates = dates_of(tasmin, time)
    days = (dates.astype("datetime64[D]") - dates.astype("datetime64[Y]").astype("datetime64[D]")).astype(int) + 1

    def kernel(low: np.ndarray, high: np.ndarray, where: np.ndarray) -> np.ndarray:
        return reduce_hours(hourly_growing_degrees, low, high, where, days)

    attrs = {"units": "degC h", "long_name": "growing degree hours (Anderson et al. 1986)"}
    return apply(kernel, [tasmin, tasmax], places=[latitude_of(tasmin, latitude)], attrs=attrs)
