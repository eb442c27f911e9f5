"""The sun: length of the day, radiation at the top of the air and at the ground, and what a slope makes of it."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

import numpy as np

from sowcal.climate._labelled import (
    as_series,
    check_choice,
    check_latitude,
    day_numbers,
    is_labelled,
    is_series,
    plain_numbers,
)
from sowcal.errors import InputError

__all__ = [
    "beam_ratio",
    "day_length",
    "extraterrestrial_radiation",
    "radiation_ratio",
    "solar_radiation_from_range",
    "solar_radiation_from_sunshine",
    "sun_positions",
]

_SOLAR_CONSTANT = 0.0820  # MJ m-2 min-1, FAO-56 eq. 21
_CIVIL_TWILIGHT = np.deg2rad(-6.0)  # height of the sun's centre at the end of civil twilight, by definition
_RANGE_COEFFICIENT = {"inland": 0.16, "coast": 0.19}  # degC-0.5, FAO-56 eq. 50


def day_length(latitude: Any, day_of_year: Any, *, civil_twilight: bool = False) -> Any:
    """Hours from sunrise to sunset.

    Parameters
    ----------
    latitude : float, array_like, xarray.DataArray or pandas.Series
        Degrees, south negative.
    day_of_year : int, array_like, xarray.DataArray or pandas.Series
        1 is 1 January, up to 366; dates (datetime64, a ``time`` coordinate) will do too.
    civil_twilight : bool
        Count from the beginning to the end of civil twilight, the sun 6 degrees below the horizon: the light
        to which plants that measure day length answer.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Hours, 0 to 24 (polar night and day), shape ``latitude.shape + day_of_year.shape``.

    Raises
    ------
    InputError
        For a latitude beyond the poles, a day outside 1 to 366, or what is no number.

    Notes
    -----
    FAO-56 eq. 24 (declination), 25 (sunset hour angle) and 34 (daylight hours): the sun is a point and air
    does not bend light, so a day measured from upper limb to upper limb is some 7 to 15 minutes longer.
    Twilight puts the sine of the sun's height into eq. 25.

    Examples
    --------
    >>> float(day_length(52.0, 172).round(2)), float(day_length(52.0, 172, civil_twilight=True).round(2))
    (16.49, 18.36)
    >>> day_length([38.0, -38.0], [1, 172]).round(2)
    array([[ 9.42, 14.64],
           [14.58,  9.36]])
    """
    height = _CIVIL_TWILIGHT if civil_twilight else 0.0
    name = "day length with civil twilight" if civil_twilight else "day length"
    return _outer(partial(_day_length, height=height), latitude, day_of_year, {"units": "h", "long_name": name})


def extraterrestrial_radiation(latitude: Any, day_of_year: Any) -> Any:
    """Solar radiation on a level surface above the air.

    Parameters
    ----------
    latitude : float, array_like, xarray.DataArray or pandas.Series
        Degrees, south negative.
    day_of_year : int, array_like, xarray.DataArray or pandas.Series
        1 is 1 January, up to 366; dates will do too.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        MJ m-2 d-1, shape ``latitude.shape + day_of_year.shape``.

    Raises
    ------
    InputError
        For a latitude beyond the poles, a day outside 1 to 366, or what is no number.

    Notes
    -----
    FAO-56 eq. 21 to 25; the example is FAO-56 Example 8 (3 September at 20 degrees south: 32.2 MJ m-2 d-1).

    Examples
    --------
    >>> float(extraterrestrial_radiation(-20.0, 246).round(1))
    32.2
    """
    attrs = {
        "units": "MJ m-2 day-1",
        "standard_name": "toa_incoming_shortwave_flux",
        "long_name": "extraterrestrial radiation",
    }
    return _outer(_extraterrestrial, latitude, day_of_year, attrs)


def solar_radiation_from_range(tasmin: Any, tasmax: Any, extraterrestrial: Any, *, situation: str = "inland") -> Any:
    """Solar radiation at the ground from the day's range of temperature.

    Parameters
    ----------
    tasmin, tasmax : array_like, xarray.DataArray or pandas.Series
        Daily minimum and maximum temperature, shape (..., time), degC.
    extraterrestrial : array_like, xarray.DataArray or pandas.Series
        Extraterrestrial radiation of the same days, MJ m-2 d-1.
    situation : {'inland', 'coast'}
        Where the land, or the sea nearby, rules the air: coefficient 0.16 or 0.19.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        MJ m-2 d-1, at most the clear-sky 0.75 of the extraterrestrial.

    Raises
    ------
    InputError
        For an unknown situation, values that are no numbers, or shapes that do not fit.

    Notes
    -----
    FAO-56 eq. 50 (Hargreaves' radiation formula), limited by eq. 37 at sea level.

    Examples
    --------
    >>> solar_radiation_from_range([10.0, 10.0], [19.0, 40.0], [30.0, 30.0])
    array([14.4, 22.5])
    """
    check_choice("situation", situation, tuple(_RANGE_COEFFICIENT))
    kernel = partial(_from_range, coefficient=_RANGE_COEFFICIENT[situation])
    inputs = (tasmin, tasmax, extraterrestrial)
    if not is_labelled(*inputs):
        names = ("tasmin", "tasmax", "extraterrestrial")
        arrays = [plain_numbers(name, x) for name, x in zip(names, inputs, strict=True)]
        try:
            found = kernel(*arrays)
        except ValueError:
            shapes = ", ".join(str(x.shape) for x in arrays)
            raise InputError(f"{', '.join(names)} have the shapes {shapes}, which do not fit") from None
        return _like(found, inputs, "solar radiation")
    out = sys.modules["xarray"].apply_ufunc(kernel, *inputs, dask="parallelized", output_dtypes=[float])
    out.attrs = {
        "units": "MJ m-2 day-1",
        "standard_name": "surface_downwelling_shortwave_flux_in_air",
        "long_name": "solar radiation estimated from the daily range of temperature (FAO-56 eq. 50)",
    }
    return out


def solar_radiation_from_sunshine(hours: Any, extraterrestrial: Any, longest: Any) -> np.ndarray:
    """Radiation at the ground from hours of bright sunshine (Angstrom's formula), MJ m-2 d-1.

    Parameters
    ----------
    hours : array_like
        Hours of sunshine of the day; more than the day is long counts as all of it.
    extraterrestrial : array_like
        Radiation above the air, MJ m-2 d-1.
    longest : array_like
        Hours from sunrise to sunset.

    Returns
    -------
    numpy.ndarray
        NaN where an input is not known.

    Notes
    -----
    FAO-56 eq. 35 with a = 0.25 and b = 0.50, its values where none were measured.

    Examples
    --------
    >>> solar_radiation_from_sunshine([7.1], [25.1], [10.9]).round(1)  # FAO-56 Example 10, which gives 14.5
    array([14.4])
    """
    hours, longest = np.asarray(hours, dtype=float), np.asarray(longest, dtype=float)
    share = np.clip(hours / np.maximum(longest, 1e-9), 0.0, 1.0)
    return (0.25 + 0.50 * share) * np.asarray(extraterrestrial, dtype=float)


def _from_range(tasmin, tasmax, extraterrestrial, coefficient: float) -> np.ndarray:
    share = coefficient * np.sqrt(np.maximum(tasmax - tasmin, 0.0))
    return np.minimum(share, 0.75) * extraterrestrial


def _declination(day_of_year: np.ndarray) -> np.ndarray:
    """Solar declination, rad (FAO-56 eq. 24)."""
    return 0.409 * np.sin(2.0 * np.pi / 365.0 * day_of_year - 1.39)


def _hour_angle(latitude: np.ndarray, declination: np.ndarray, height: float = 0.0) -> np.ndarray:
    """Hour angle at which the sun stands at a height, rad; 0 in polar night, pi in polar day (eq. 25)."""
    across = np.cos(latitude) * np.cos(declination)
    cosine = (np.sin(height) - np.sin(latitude) * np.sin(declination)) / across
    return np.arccos(np.clip(cosine, -1.0, 1.0))


def _day_length(latitude: np.ndarray, day_of_year: np.ndarray, height: float) -> np.ndarray:
    """Daylight hours (eq. 34); arguments broadcast."""
    return 24.0 / np.pi * _hour_angle(np.deg2rad(latitude), _declination(day_of_year), height)


def _extraterrestrial(latitude: np.ndarray, day_of_year: np.ndarray) -> np.ndarray:
    """Extraterrestrial radiation (eq. 21, 23); arguments broadcast."""
    phi = np.deg2rad(latitude)
    delta = _declination(day_of_year)
    omega = _hour_angle(phi, delta)
    distance = 1.0 + 0.033 * np.cos(2.0 * np.pi / 365.0 * day_of_year)
    sun = omega * np.sin(phi) * np.sin(delta) + np.cos(phi) * np.cos(delta) * np.sin(omega)
    return 24.0 * 60.0 / np.pi * _SOLAR_CONSTANT * distance * sun


def sun_positions(latitude: float, day_of_year: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Altitude of the sun and its direction clockwise from north through days from sunrise to sunset, rad.

    Parameters
    ----------
    latitude : float
        Degrees, north positive.
    day_of_year : numpy.ndarray of int
        From 0.

    Returns
    -------
    tuple of numpy.ndarray
        Each of shape (days, steps), over equal steps of the hour angle; the geometry of FAO-56 eq. 22 to 25.

    Examples
    --------
    >>> altitude, azimuth = sun_positions(40.0, np.array([171]))
    >>> noon = altitude.argmax()
    >>> [round(float(np.rad2deg(a[0, noon]))) for a in (altitude, azimuth)]
    [73, 180]
    """
    phi = np.deg2rad(latitude)
    delta = _declination(np.asarray(day_of_year) + 1)[:, None]
    hour = np.linspace(-1.0, 1.0, _STEPS) * _hour_angle(phi, delta)
    height = np.sin(phi) * np.sin(delta) + np.cos(phi) * np.cos(delta) * np.cos(hour)
    south = np.sin(phi) * np.cos(delta) * np.cos(hour) - np.cos(phi) * np.sin(delta)
    from_south = np.arctan2(np.cos(delta) * np.sin(hour), south)
    return np.arcsin(np.clip(height, -1.0, 1.0)), (from_south + np.pi) % (2.0 * np.pi)


def _outer(kernel: Callable[..., np.ndarray], latitude: Any, day_of_year: Any, attrs: dict[str, str]) -> Any:
    """Kernel for every latitude on every day."""
    places = check_latitude(latitude)
    if not is_labelled(latitude, day_of_year):
        found = _of_days(kernel, places, day_numbers(day_of_year))
        return _like(found, (day_of_year, latitude), attrs["long_name"])
    if is_labelled(day_of_year) and day_of_year.dtype.kind == "M":
        day_of_year = day_of_year.dt.dayofyear
    elif not is_labelled(day_of_year):
        day_of_year = day_numbers(day_of_year)
    elif not day_of_year.chunks:
        day_numbers(day_of_year)
    out = sys.modules["xarray"].apply_ufunc(kernel, latitude, day_of_year, dask="parallelized", output_dtypes=[float])
    out.attrs = dict(attrs)
    return out


def _of_days(kernel: Callable[..., np.ndarray], places: np.ndarray, days: np.ndarray) -> np.ndarray:
    """Kernel for every place on every day, which a record of years asks of each day of the year once."""
    whole = days.ndim == 1 and days.size > _YEAR.size and (days == np.rint(days)).all()  # NaN is no day of a year
    found = kernel(places.reshape(places.shape + (1,) * days.ndim), _YEAR if whole else days)
    return found.take(days.astype(int) - 1, axis=-1) if whole else found


def _like(result: np.ndarray, inputs: Sequence[Any], name: str) -> Any:
    """A result as a pandas Series where one of the same length came in, else as it is."""
    series = [x for x in inputs if is_series(x) and x.shape == np.shape(result)]
    return as_series(result, series[0], attrs={"long_name": name}) if series else result


_YEAR = np.arange(1.0, 367.0)
_STEPS = 289  # hour angles over the day, five minutes apart
_ALBEDO = 0.23  # of the green ground before the slope, FAO-56


def beam_ratio(latitude: float, day_of_year: np.ndarray, slope: float, aspect: float) -> np.ndarray:
    """Direct sunshine of a day on a slope against that on level ground, outside the atmosphere.

    Parameters
    ----------
    latitude : float
        Degrees, north positive.
    day_of_year : numpy.ndarray of int
        From 1.
    slope : float
        Degrees from level.
    aspect : float
        The way the slope faces, degrees clockwise from north.

    Returns
    -------
    numpy.ndarray
        Shape of `day_of_year`.

    Notes
    -----
    Cosine of the angle between sun and slope (Allen, Trezza & Tasumi 2006, Agric. For. Meteorol. 139:55-73, eq. 2;
    Duffie & Beckman, Solar engineering of thermal processes, eq. 1.6.2; both from memory), summed over the hours in
    which the sun is up and shines on the slope. Hills around it are not counted.

    Examples
    --------
    >>> beam_ratio(40.0, np.array([1, 172]), 20.0, 180.0).round(2)  # a slope to the south, winter and summer
    array([1.82, 0.94])
    """
    phi, s = np.deg2rad(latitude), np.deg2rad(slope)
    facing = np.deg2rad(aspect - 180.0)  # from south, west positive
    days, back = np.unique(np.asarray(day_of_year, dtype=int), return_inverse=True)
    delta = _declination(days)[:, None]
    up = _hour_angle(phi, delta)
    hour = np.linspace(-1.0, 1.0, _STEPS) * up
    level = np.sin(phi) * np.sin(delta) + np.cos(phi) * np.cos(delta) * np.cos(hour)
    on_slope = (
        np.sin(delta) * np.sin(phi) * np.cos(s)
        - np.sin(delta) * np.cos(phi) * np.sin(s) * np.cos(facing)
        + np.cos(delta) * np.cos(phi) * np.cos(s) * np.cos(hour)
        + np.cos(delta) * np.sin(phi) * np.sin(s) * np.cos(facing) * np.cos(hour)
        + np.cos(delta) * np.sin(s) * np.sin(facing) * np.sin(hour)
    )
    total, share = (_sum_over_hours(np.maximum(x, 0.0)) for x in (level, on_slope))
    ratio = np.where(total > 1e-6, share / np.maximum(total, 1e-6), 1.0)
    return ratio[back].reshape(np.shape(day_of_year))


def _sum_over_hours(values: np.ndarray) -> np.ndarray:
    """Sum by the rule of trapezia over equal steps, up to a factor."""
    return values.sum(axis=1) - 0.5 * (values[:, 0] + values[:, -1])


def radiation_ratio(clearness: np.ndarray, beam: np.ndarray, slope: float) -> np.ndarray:
    """Solar radiation on a slope against that on level ground, under the sky of each day.

    Parameters
    ----------
    clearness : numpy.ndarray
        Radiation of level ground as a share of the extraterrestrial.
    beam : numpy.ndarray
        `beam_ratio` of the same days.
    slope : float
        Degrees from level.

    Returns
    -------
    numpy.ndarray

    Notes
    -----
    Direct share of the day's radiation from its clearness, diffuse light even over the sky, and what the ground
    before the slope reflects: Allen, Trezza & Tasumi 2006 (Agric. For. Meteorol. 139:55-73), from memory.

    Examples
    --------
    >>> radiation_ratio(np.array([0.2, 0.7]), np.array([1.6, 1.6]), 20.0).round(2)  # a cloudy and a clear day
    array([0.99, 1.46])
    """
    t = np.clip(clearness, 0.01, 0.8)
    direct = np.where(t >= 0.42, 1.56 * t - 0.55, 0.022 - 0.28 * t + 0.828 * t**2 + 0.765 * t**3)
    direct = np.clip(np.where(t <= 0.175, 0.016 * t, direct), 0.0, t)
    sky = 0.5 * (1.0 + np.cos(np.deg2rad(slope)))
    return beam * direct / t + sky * (1.0 - direct / t) + _ALBEDO * (1.0 - sky)
