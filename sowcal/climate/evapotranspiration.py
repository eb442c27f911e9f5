"""Reference evapotranspiration: FAO-56 Penman-Monteith and Hargreaves-Samani.

Allen, Pereira, Raes & Smith 1998, Crop evapotranspiration, FAO Irrigation and Drainage Paper 56, chapters 2
to 4; the equation of each step stands beside it. Pressures are in kPa, radiation in MJ m-2 d-1, wind in m
s-1.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

import numpy as np

from sowcal.climate._labelled import apply, check_choice, day_of_year_of, latitude_of
from sowcal.climate.sun import extraterrestrial_radiation, solar_radiation_from_range
from sowcal.errors import InputError

__all__ = [
    "METHODS",
    "hargreaves_samani",
    "penman_monteith",
    "reference_evapotranspiration",
]

METHODS = ("hargreaves_samani", "penman_monteith")

_ALBEDO = 0.23  # of the grass reference crop, eq. 38
_STEFAN_BOLTZMANN = 4.903e-9  # MJ K-4 m-2 d-1, eq. 39
_LATENT = 0.408  # 1 / latent heat of vaporization, kg MJ-1, eq. 6 and 20
_USUAL_WIND = 2.0  # m s-1 at 2 m: mean of over 2000 stations, FAO-56 chapter 4 (as quoted in its Example 20)


def reference_evapotranspiration(
    tasmin: Any,
    tasmax: Any,
    *,
    method: str = "hargreaves_samani",
    latitude: Any = None,
    day_of_year: Any = None,
    elevation: Any = None,
    rsds: Any = None,
    hurs: Any = None,
    hursmin: Any = None,
    hursmax: Any = None,
    dew_point: Any = None,
    wind: Any = None,
    wind_height: float = 10.0,
    situation: str = "inland",
) -> Any:
    """Evapotranspiration of well-watered short grass.

    Parameters
    ----------
    tasmin, tasmax : array_like, xarray.DataArray or pandas.Series
        Daily minimum and maximum temperature, shape (..., time), degC.
    method : {'hargreaves_samani', 'penman_monteith'}
        Never chosen by what happens to be given. Hargreaves-Samani needs temperatures and latitude only.
    latitude : float or array_like, optional
        Degrees, south negative, over the leading axes; a DataArray's own coordinate if left out.
    day_of_year : array_like, optional
        Shape (time,), 1 is 1 January; from the dates of a DataArray if left out.
    elevation : float or array_like, optional
        Metres above the sea; needed for Penman-Monteith.
    rsds : array_like, optional
        Solar radiation, MJ m-2 d-1; estimated from the daily range (eq. 50) if left out.
    hurs, hursmin, hursmax : array_like, optional
        Relative humidity, per cent: the mean alone (eq. 19) or both extremes (eq. 17).
    dew_point : array_like, optional
        degC (eq. 14); goes before humidity. With neither, the minimum temperature stands in (eq. 48).
    wind : array_like, optional
        Wind speed, m s-1; 2 m s-1 at 2 m stands in if left out (FAO-56 chapter 4).
    wind_height : float
        Height of its measurement, m; reduced to 2 m by eq. 47.
    situation : {'inland', 'coast'}
        Coefficient of eq. 50 where radiation is estimated.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        mm day-1, never below 0; NaN where any input is. A labelled result names what stood in for missing
        inputs.

    Raises
    ------
    InputError
        For an unknown method, Penman-Monteith without elevation, one of the two extremes of humidity without the other,
        values that are no numbers, arrays that do not fit each other, a day outside 1 to 366, or a latitude that is not
        known or beyond the poles.

    Notes
    -----
    FAO-56 eq. 6 with G = 0 for a day (eq. 42), or eq. 52.

    Examples
    --------
    >>> low, high = [14.8], [26.6]  # FAO-56 Example 20, which gives 5.0 mm
    >>> reference_evapotranspiration(low, high, latitude=45.72, day_of_year=[196]).round(1)
    array([5.])
    >>> low, high = [12.3], [21.5]  # FAO-56 Example 18, which gives 3.9 mm
    >>> where = {"latitude": 50.8, "elevation": 100.0, "day_of_year": [187]}
    >>> given = {"rsds": [22.07], "hursmin": [63.0], "hursmax": [84.0], "wind": [2.78]}
    >>> reference_evapotranspiration(low, high, method="penman_monteith", **where, **given).round(2)
    array([3.88])
    """
    check_choice("method", method, METHODS)
    days = day_of_year_of(tasmin, day_of_year)
    where = latitude_of(tasmin, latitude)
    attrs = {"units": "mm day-1", "long_name": "reference evapotranspiration", "method": method}
    if method == "hargreaves_samani":

        def by_temperature(low: np.ndarray, high: np.ndarray, phi: np.ndarray) -> np.ndarray:
            return hargreaves_samani(low, high, extraterrestrial_radiation(phi, days))

        return apply(by_temperature, [tasmin, tasmax], places=[where], attrs=attrs)
    if elevation is None:
        raise InputError("Penman-Monteith needs elevation= in metres, for the pressure of the air")
    if (hursmin is None) != (hursmax is None):
        raise InputError("hursmin and hursmax are needed together; give hurs if only the mean is known")
    if wind is not None and not wind_height > 0.1:
        raise InputError(f"wind_height is {wind_height:g} m; it must be above 0.1 m")
    given = {
        name: values
        for name, values in {
            "rsds": rsds,
            "hurs": hurs,
            "hursmin": hursmin,
            "hursmax": hursmax,
            "dew_point": dew_point,
            "wind": wind,
        }.items()
        if values is not None
    }
    attrs["stood_in"] = _stood_in(given) or "nothing"
    kernel = partial(_full, days=days, names=tuple(given), wind_height=wind_height, situation=situation)
    return apply(kernel, [tasmin, tasmax, *given.values()], places=[where, elevation], attrs=attrs)


def _stood_in(given: Mapping[str, Any]) -> str:
    """What was put in place of inputs that were not given."""
    words = []
    if "rsds" not in given:
        words.append("radiation from the daily range (eq. 50)")
    if not {"dew_point", "hurs", "hursmin"} & given.keys():
        words.append("dew point from the minimum temperature (eq. 48)")
    if "wind" not in given:
        words.append(f"wind of {_USUAL_WIND:g} m s-1")
    return ", ".join(words)


def _full(
    tasmin: np.ndarray,
    tasmax: np.ndarray,
    *rest: np.ndarray,
    days: np.ndarray,
    names: tuple[str, ...],
    wind_height: float,
    situation: str,
) -> np.ndarray:
    """Penman-Monteith with the chain of its inputs, on plain arrays."""
    *values, latitude, elevation = rest
    given = dict(zip(names, values, strict=True))
    height = np.asarray(elevation)[..., None] if np.ndim(elevation) else elevation
    top = extraterrestrial_radiation(latitude, days)
    solar = given.get("rsds")
    if solar is None:
        solar = solar_radiation_from_range(tasmin, tasmax, top, situation=situation)
    vapour = actual_vapour_pressure(tasmin, tasmax, **{k: v for k, v in given.items() if k not in ("rsds", "wind")})
    speed = wind_at_2m(given["wind"], wind_height) if "wind" in given else np.float64(_USUAL_WIND)
    net = net_shortwave(solar) - net_longwave(tasmin, tasmax, vapour, solar, clear_sky(top, height))
    out = penman_monteith(
        0.5 * (tasmin + tasmax),
        speed,
        mean_saturation_vapour_pressure(tasmin, tasmax),
        vapour,
        net,
        psychrometric_constant(air_pressure(height)),
    )
    return np.maximum(out, 0.0)


def hargreaves_samani(tasmin: np.ndarray, tasmax: np.ndarray, extraterrestrial: np.ndarray) -> np.ndarray:
    """Reference evapotranspiration from temperature and extraterrestrial radiation.

    Parameters
    ----------
    tasmin, tasmax : numpy.ndarray
        Daily minimum and maximum temperature, shape (..., time), degC.
    extraterrestrial : numpy.ndarray
        Radiation above the air, same shape, MJ m-2 d-1.

    Returns
    -------
    numpy.ndarray
        mm day-1, never below 0.

    Notes
    -----
    FAO-56 eq. 52.

    Examples
    --------
    >>> hargreaves_samani(np.array([14.8]), np.array([26.6]), np.array([40.55])).round(1)
    array([5.])
    """
    span = np.maximum(tasmax - tasmin, 0.0)
    out = 0.0023 * (0.5 * (tasmin + tasmax) + 17.8) * np.sqrt(span) * _LATENT * extraterrestrial
    return np.maximum(out, 0.0)


def penman_monteith(tas, wind, saturation, vapour, net_radiation, gamma, soil_heat_flux=0.0) -> np.ndarray:
    """Reference evapotranspiration of short grass from the whole of its inputs.

    Parameters
    ----------
    tas : array_like
        Mean temperature, degC.
    wind : array_like
        At 2 m, m s-1.
    saturation, vapour : array_like
        Mean saturation and actual vapour pressure, kPa.
    net_radiation, soil_heat_flux : array_like
        MJ m-2 d-1.
    gamma : array_like
        Psychrometric constant, kPa degC-1.

    Returns
    -------
    numpy.ndarray
        mm day-1.

    Notes
    -----
    FAO-56 eq. 6; the example has the numbers of FAO-56 Example 18, which gives 3.9 mm.

    Examples
    --------
    >>> round(float(penman_monteith(16.9, 2.078, 1.997, 1.409, 13.28, 0.0666)), 1)
    3.9
    """
    slope = vapour_pressure_slope(tas)
    energy = _LATENT * slope * (net_radiation - soil_heat_flux)
    drying = gamma * 900.0 / (tas + 273.0) * wind * (saturation - vapour)
    return (energy + drying) / (slope + gamma * (1.0 + 0.34 * wind))


def air_pressure(elevation):
    """Mean pressure of the air at an elevation in m, kPa (eq. 7)."""
    return 101.3 * ((293.0 - 0.0065 * elevation) / 293.0) ** 5.26


def psychrometric_constant(pressure):
    """Psychrometric constant at a pressure in kPa, kPa degC-1 (eq. 8)."""
    return 0.665e-3 * pressure


def saturation_vapour_pressure(temperature):
    """Saturation vapour pressure at a temperature in degC, kPa (eq. 11)."""
    return 0.6108 * np.exp(17.27 * temperature / (temperature + 237.3))


def mean_saturation_vapour_pressure(tasmin, tasmax):
    """Mean of the saturation vapour pressures of both extremes, kPa (eq. 12)."""
    return 0.5 * (saturation_vapour_pressure(tasmin) + saturation_vapour_pressure(tasmax))


def vapour_pressure_slope(temperature):
    """Slope of the saturation curve, kPa degC-1 (eq. 13)."""
    return 4098.0 * saturation_vapour_pressure(temperature) / (temperature + 237.3) ** 2


def actual_vapour_pressure(tasmin, tasmax, *, hurs=None, hursmin=None, hursmax=None, dew_point=None):
    """Vapour pressure, kPa: from the dew point (eq. 14), both humidities (eq. 17), the mean humidity (eq.
    19), or the
    minimum temperature taken for the dew point (eq. 48), in that order."""
    if dew_point is not None:
        return saturation_vapour_pressure(dew_point)
    if hursmin is not None and hursmax is not None:
        moist = saturation_vapour_pressure(tasmin) * hursmax + saturation_vapour_pressure(tasmax) * hursmin
        return moist / 200.0
    if hurs is not None:
        return hurs / 100.0 * mean_saturation_vapour_pressure(tasmin, tasmax)
    return saturation_vapour_pressure(tasmin)


def clear_sky(extraterrestrial, elevation):
    """Solar radiation under a clear sky, MJ m-2 d-1 (eq. 37)."""
    return (0.75 + 2e-5 * elevation) * extraterrestrial


def net_shortwave(solar):
    """Solar radiation that the reference crop keeps, MJ m-2 d-1 (eq. 38)."""
    return (1.0 - _ALBEDO) * solar


def net_longwave(tasmin, tasmax, vapour, solar, clear):
    """Net outgoing longwave radiation, MJ m-2 d-1 (eq. 39).

    The ratio of solar to clear-sky radiation is held between 0.3 and 1 (FAO-56 has at most 1; the lower bound
    is that of ASCE-EWRI 2005, from memory) and is 1 where no sun shines, in polar night.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(clear > 0.0, solar / clear, np.where(np.isnan(clear + solar), np.nan, 1.0))
    cloud = 1.35 * np.clip(ratio, 0.3, 1.0) - 0.35
    emission = 0.5 * _STEFAN_BOLTZMANN * ((tasmax + 273.16) ** 4 + (tasmin + 273.16) ** 4)
    return emission * (0.34 - 0.14 * np.sqrt(vapour)) * cloud


def wind_at_2m(speed, height):
    """Wind speed reduced to 2 m above grass, m s-1, from a height in m (eq. 47)."""
    return speed * 4.87 / np.log(67.8 * height - 5.42)
