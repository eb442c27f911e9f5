"""Hourly temperatures rebuilt from daily extremes and day length."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from sowcal.climate._labelled import apply, day_of_year_of, latitude_of
from sowcal.climate.day_length import day_length

__all__ = ["HourlyCurve", "hourly_temperature", "reduce_hours"]

_HOURS = np.arange(24.0)
# Day lengths are held within these: in a shorter day the curve would never reach the maximum, and without a
# night there is nothing to cool down through.
_SHORTEST, _LONGEST = 4.0, 23.0
_BLOCK = 1 << 18  # hourly values built at once: some 2 MB an array, which stays in the processor's cache


class HourlyCurve:
    """The curve of each day, from which any stretch of hours can be built.

    Parameters
    ----------
    tasmin, tasmax : numpy.ndarray
        Daily minimum and maximum temperature, shape (..., N), degC.
    daylight : numpy.ndarray
        Day length, broadcasting against them, h.

    Notes
    -----
    Linvill 1990, HortScience 25:14-16: by day ``Tmin + (Tmax - Tmin) sin(pi t / (D + 4))`` with t hours after
    sunrise and D the day length; by night a fall from the sunset temperature to the next minimum with the
    logarithm of the hours since sunset. That logarithm is taken of one hour more, so that the curve has no
    step at sunset and meets the next minimum at sunrise (the shift a published implementation makes too).
    Hours are solar: noon is at 12.
    """

    def __init__(self, tasmin: np.ndarray, tasmax: np.ndarray, daylight: np.ndarray):
        gap = np.isnan(tasmin) | np.isnan(tasmax)
        self.low = np.where(gap, np.nan, tasmin)
        self.span = np.where(gap, np.nan, tasmax) - self.low
        self.light = np.broadcast_to(np.clip(daylight, _SHORTEST, _LONGEST), self.low.shape)
        self.at_sunset = self.low + self.span * np.sin(np.pi * self.light / (self.light + 4.0))
        # A day whose neighbour is missing, or that has none, takes its own value in its place.
        before = np.concatenate([self.at_sunset[..., :1], self.at_sunset[..., :-1]], axis=-1)
        after = np.concatenate([self.low[..., 1:], self.low[..., -1:]], axis=-1)
        self.evening_before = np.where(np.isnan(before), self.at_sunset, before)
        self.next_low = np.where(np.isnan(after), self.low, after)

    def hours(self, days: Any) -> np.ndarray:
        """Temperatures of some days (a slice or index array), shape (..., days, 24), degC."""
        low, span, light, at_sunset, evening_before, next_low = (
            x[..., days, None]
            for x in (self.low, self.span, self.light, self.at_sunset, self.evening_before, self.next_low)
        )
        sunrise = 12.0 - 0.5 * light
        since_sunrise = _HOURS - sunrise
        by_day = low + span * np.sin(np.pi * since_sunrise / (light + 4.0))
        fall = np.log1p(24.0 - light)
        morning = since_sunrise < 0.0
        evening = since_sunrise > light
        since_sunset = np.where(evening, since_sunrise - light, since_sunrise + 24.0 - light)
        cooled = np.log1p(np.maximum(since_sunset, 0.0)) / fall
        start = np.where(morning, evening_before, at_sunset)
        end = np.where(morning, low, next_low)
        return np.where(morning | evening, start - (start - end) * cooled, by_day)


def hourly_temperature(tasmin: Any, tasmax: Any, latitude: Any = None, day_of_year: Any = None) -> Any:
    """Temperature at each full hour of solar time.

    Parameters
    ----------
    tasmin, tasmax : array_like or xarray.DataArray
        Daily minimum and maximum temperature, shape (..., time), degC.
    latitude : float or array_like, optional
        Degrees, south negative, over the leading axes; a DataArray's own coordinate if left out.
    day_of_year : array_like, optional
        Shape (time,), 1 is 1 January; from the dates of a DataArray if left out.

    Returns
    -------
    numpy.ndarray or xarray.DataArray
        Shape (..., time, 24), degC, at hours 0 to 23. All hours of a missing day are NaN.

    Notes
    -----
    Linvill 1990, see `HourlyCurve`. Day length by FAO-56 eq. 34.
    """
    days = day_of_year_of(tasmin, day_of_year)

    def kernel(low: np.ndarray, high: np.ndarray, where: np.ndarray) -> np.ndarray:
        low, high = np.broadcast_arrays(low, high)
        out = np.empty((*low.shape, 24))

        def store(block: slice, hours: np.ndarray) -> None:
            out[..., block, :] = hours

        _each_block(HourlyCurve(low, high, day_length(where, days)), store)
        return out

    attrs = {
        "units": "degC",
        "standard_name": "air_temperature",
        "long_name": "hourly temperature (Linvill 1990)",
    }
    return apply(
        kernel,
        [tasmin, tasmax],
        places=[latitude_of(tasmin, latitude)],
        attrs=attrs,
        out_dims=("time", "hour"),
        out_coords={"hour": np.arange(24)},
    )


def reduce_hours(
    weight: Callable[[np.ndarray], np.ndarray], tasmin: np.ndarray, tasmax: np.ndarray, daylight: np.ndarray
) -> np.ndarray:
    """Sum over each day of a weight of its hourly temperatures, shape (..., time), on plain arrays.

    The hours are built in blocks and never kept. Missing days are NaN.
    """
    tasmin, tasmax = np.broadcast_arrays(tasmin, tasmax)
    out = np.empty(tasmin.shape)

    def store(block: slice, hours: np.ndarray) -> None:
        out[..., block] = weight(hours).sum(axis=-1)

    curve = HourlyCurve(tasmin, tasmax, daylight)
    _each_block(curve, store)
    out[np.isnan(curve.low)] = np.nan
    return out


def _each_block(curve: HourlyCurve, store: Callable[[slice, np.ndarray], None]) -> None:
    """Hand the hours of a few days at a time to `store`."""
    size = curve.low.shape[-1]
    rows = max(curve.low.size // max(size, 1), 1)
    step = max(_BLOCK // (24 * rows), 1)
    for i in range(0, size, step):
        block = slice(i, min(i + step, size))
        store(block, curve.hours(block))
