"""Hourly temperatures rebuilt from daily extremes and day length."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

from sowcal.climate._labelled import apply, day_of_year_of, latitude_of
from sowcal.climate.sun import day_length

__all__ = ["HourlyCurve", "hourly_temperature", "reduce_hours"]

_HOURS = np.arange(24.0)
# Day lengths are held within these: in a shorter day the curve would never reach the maximum, and without a
# night there is nothing to cool down through.
_SHORTEST, _LONGEST = 4.0, 23.0
_BLOCK = 1 << 16  # hourly values built at once: half a MB an array, so that some of them stay in the processor's cache
_SITES = 64  # sites whose curves are held at once


class _Shapes:
    """What the hours of a day have of its extremes: the same in every year, so reckoned once for a latitude and day.

    Parameters
    ----------
    latitude : numpy.ndarray, shape (L,)
        Degrees, south negative, each once.
    day_of_year : numpy.ndarray, shape (D,)
        1 is 1 January, each once.

    Attributes
    ----------
    weight : numpy.ndarray, shape (24, D, L)
        Each hour's way from where its stretch of the curve begins to where it ends.
    sunrise, sunset : numpy.ndarray of int, shape (D, L)
        First full hour of the day's stretch, and of the evening's.
    top : numpy.ndarray, shape (D, L)
        Share of the range left at sunset.
    """

    def __init__(self, latitude: np.ndarray, day_of_year: np.ndarray):
        light = np.ascontiguousarray(np.clip(day_length(latitude, day_of_year), _SHORTEST, _LONGEST).T)
        since_sunrise = _HOURS[:, None, None] - (12.0 - 0.5 * light)
        morning, evening = since_sunrise < 0.0, since_sunrise > light
        since_sunset = np.where(evening, since_sunrise - light, since_sunrise + 24.0 - light)
        cooled = np.log1p(np.maximum(since_sunset, 0.0)) / np.log1p(24.0 - light)
        by_day = np.sin(np.pi * since_sunrise / (light + 4.0))
        self.weight = np.where(morning | evening, cooled, by_day)
        self.sunrise, self.sunset = morning.sum(axis=0), 24 - evening.sum(axis=0)
        self.top = np.sin(np.pi * light / (light + 4.0))


class HourlyCurve:
    """The curve of each day, from which any stretch of hours can be built.

    Parameters
    ----------
    tasmin, tasmax : numpy.ndarray
        Daily minimum and maximum temperature, shape (sites, N), degC.
    latitude : numpy.ndarray
        Degrees, south negative, shape (sites,).
    day_of_year : numpy.ndarray
        1 is 1 January, shape (N,).

    Notes
    -----
    Linvill 1990, HortScience 25:14-16: by day ``Tmin + (Tmax - Tmin) sin(pi t / (D + 4))`` with t hours after
    sunrise and D the day length (FAO-56 eq. 34); by night a fall from the sunset temperature to the next minimum
    with the logarithm of the hours since sunset. That logarithm is taken of one hour more, so that the curve has
    no step at sunset and meets the next minimum at sunrise (the shift a published implementation makes too).
    Hours are solar: noon is at 12.
    """

    def __init__(self, tasmin: np.ndarray, tasmax: np.ndarray, latitude: np.ndarray, day_of_year: np.ndarray):
        places, place = np.unique(latitude, return_inverse=True)
        days, self._day = np.unique(day_of_year, return_inverse=True)
        self._place = None if np.array_equal(place, np.arange(place.size)) or places.size == 1 else place
        self._shapes = _Shapes(places, days)
        low, high = np.ascontiguousarray(tasmin.T), np.ascontiguousarray(tasmax.T)  # days first: seasons side by side
        low = np.where(np.isnan(high), np.nan, low)
        span = high - low
        at_sunset = low + span * self._of_sites(self._shapes.top[self._day])
        # A day whose neighbour is missing, or that has none, takes its own value in its place.
        before = np.concatenate([at_sunset[:1], at_sunset[:-1]])
        after = np.concatenate([low[1:], low[-1:]])
        before = np.where(np.isnan(before), at_sunset, before)
        after = np.where(np.isnan(after), low, after)
        # Where each stretch begins, and how far it goes: before sunrise, by day, after sunset.
        self._stretches = ((before, low - before), (low, span), (at_sunset, after - at_sunset))
        self.missing = np.isnan(low)
        self.sites = low.shape[1]

    def _of_sites(self, table: np.ndarray) -> np.ndarray:
        """From the last axis over latitudes to one over sites, or one that broadcasts against them."""
        return table if self._place is None else table.take(self._place, axis=-1)

    def hours(self, days: np.ndarray) -> np.ndarray:
        """Temperatures of some days (indices, shape (R,)), shape (24, R, sites), degC."""
        of_year = self._day[days]
        weight, sunrise, sunset = (
            self._of_sites(t[..., of_year, :]) for t in (self._shapes.weight, self._shapes.sunrise, self._shapes.sunset)
        )
        morning, by_day, evening = ((start[days], way[days]) for start, way in self._stretches)
        out = np.empty((24, *morning[0].shape))

        def fill(hours: slice, start: np.ndarray, way: np.ndarray) -> None:
            np.multiply(weight[hours], way, out=out[hours])
            np.add(out[hours], start, out=out[hours])

        # Most hours lie in the same stretch everywhere; only those near sunrise and sunset are chosen one by one.
        (first, second), (third, fourth) = ((int(t.min()), int(t.max())) for t in (sunrise, sunset))
        fill(slice(0, first), *morning)
        for hour in range(first, second):
            dark = hour < sunrise
            fill(slice(hour, hour + 1), *(np.where(dark, a, b) for a, b in zip(morning, by_day, strict=True)))
        fill(slice(second, third), *by_day)
        for hour in range(third, fourth):
            dark = hour >= sunset
            fill(slice(hour, hour + 1), *(np.where(dark, a, b) for a, b in zip(evening, by_day, strict=True)))
        fill(slice(fourth, 24), *evening)
        return out


def hourly_temperature(tasmin: Any, tasmax: Any, latitude: Any = None, day_of_year: Any = None) -> Any:
    """Temperature at each full hour of solar time.

    Parameters
    ----------
    tasmin, tasmax : array_like, xarray.DataArray or pandas.Series
        Daily minimum and maximum temperature, shape (..., time), degC.
    latitude : float or array_like, optional
        Degrees, south negative, over the leading axes; a DataArray's own coordinate if left out.
    day_of_year : array_like, optional
        Shape (time,), 1 is 1 January; from the dates of a DataArray if left out.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Shape (..., time, 24), degC, at hours 0 to 23. All hours of a missing day are NaN.

    Raises
    ------
    InputError
        For values that are no numbers, arrays that do not fit each other, a day outside 1 to 366, or a latitude that is
        not known or beyond the poles.

    Notes
    -----
    Linvill 1990, see `HourlyCurve`. Day length by FAO-56 eq. 34.

    Examples
    --------
    >>> hours = hourly_temperature([8.0, 9.0], [20.0, 22.0], latitude=38.0, day_of_year=[100, 101])
    >>> hours.shape
    (2, 24)
    >>> hours[0, ::6].round(1)  # at 0, 6, 12 and 18 hours
    array([10. ,  8.9, 19.2, 16.8])
    """
    numbers = day_of_year_of(tasmin, day_of_year)

    def kernel(low: np.ndarray, high: np.ndarray, where: np.ndarray) -> np.ndarray:
        low, high = np.broadcast_arrays(low, high)
        out = np.empty((*low.shape, 24))
        flat = out.reshape(-1, low.shape[-1], 24)
        for sites, days, hours, _ in _blocks(low, high, where, numbers):
            flat[sites, days] = hours.transpose(2, 1, 0)
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
    weight: Callable[[np.ndarray], np.ndarray],
    tasmin: np.ndarray,
    tasmax: np.ndarray,
    latitude: np.ndarray,
    day_of_year: np.ndarray,
) -> np.ndarray:
    """Sum over each day of a weight of its hourly temperatures, on plain arrays.

    Parameters
    ----------
    weight : callable
        From temperatures (degC) to numbers of the same shape; small integers (int8) will do.
    tasmin, tasmax : numpy.ndarray
        Shape (..., N), degC.
    latitude : numpy.ndarray
        Degrees, south negative, over the leading axes.
    day_of_year : numpy.ndarray
        Shape (N,).

    Returns
    -------
    numpy.ndarray
        Shape (..., N). The hours are built in blocks and never kept. Missing days are NaN.

    Examples
    --------
    >>> def warm(temperature):
    ...     return (temperature > 15.0).astype(np.int8)
    >>> reduce_hours(warm, np.array([8.0, 9.0]), np.array([20.0, 22.0]), np.array(38.0), np.array([100, 101]))
    array([10., 11.])
    """
    tasmin, tasmax = np.broadcast_arrays(tasmin, tasmax)
    out = np.empty(tasmin.shape)
    flat = out.reshape(-1, tasmin.shape[-1])
    for sites, days, hours, missing in _blocks(tasmin, tasmax, latitude, day_of_year):
        each = weight(hours)
        total = each[0].copy()
        for hour in range(1, 24):  # in this order whatever the shape, so that a cell of a grid equals a single site
            total += each[hour]
        flat[sites, days] = np.where(missing, np.nan, total).T
    return out


def _blocks(
    tasmin: np.ndarray, tasmax: np.ndarray, latitude: np.ndarray, day_of_year: np.ndarray
) -> Iterator[tuple[slice, slice, np.ndarray, np.ndarray]]:
    """Some sites and days at a time, their hours (24, days, sites), and which of the days are missing."""
    size = tasmin.shape[-1]
    where = np.broadcast_to(latitude, tasmin.shape[:-1]).reshape(-1)
    low, high = tasmin.reshape(-1, size), tasmax.reshape(-1, size)
    for begin in range(0, where.size, _SITES):
        sites = slice(begin, min(begin + _SITES, where.size))
        curve = HourlyCurve(low[sites], high[sites], where[sites], day_of_year)
        step = max(_BLOCK // (24 * (sites.stop - begin)), 1)
        for first in range(0, size, step):
            days = slice(first, min(first + step, size))
            yield sites, days, curve.hours(np.arange(days.start, days.stop)), curve.missing[days]
