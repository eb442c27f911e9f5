"""Soil temperature at sowing depth, from air temperature.

The daily mean follows a running mean of the air's, warmer or cooler by surface; the daily swing dies away
with depth as heat conduction has it (Campbell & Norman 1998, An Introduction to Environmental Biophysics, 2nd
ed., chapter 2: recalled, the page was not read).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from types import MappingProxyType
from typing import Any

import numpy as np

from sowcal.climate._labelled import apply, check_choice, check_number
from sowcal.errors import InputError

__all__ = ["SURFACES", "Surface", "damping_depth", "soil_temperature"]

_DAY = 86400.0  # s


@dataclass(frozen=True)
class Surface:
    """How a surface changes what the soil beneath it feels.

    Attributes
    ----------
    warming : float
        Difference between the daily means of soil and air, degC per degC of daily range. The range stands for
        sunshine: the difference is largest on clear days.
    amplitude_factor : float
        Daily amplitude at the soil's surface, as a multiple of half the air's daily range.
    diffusivity : float
        Thermal diffusivity, 1e-6 m2 s-1.
    averaging_days : int
        Days, the day itself and those before it, over which the air is averaged.
    """

    warming: float
    amplitude_factor: float
    diffusivity: float
    averaging_days: int = 5


# Warming, factors and days: common practice, no source. Diffusivity: from memory of Campbell & Norman 1998
# (dry soil about 0.2 to 0.3, moist loam about 0.5).
SURFACES: Mapping[str, Surface] = MappingProxyType(
    {
        "bare": Surface(warming=0.15, amplitude_factor=1.4, diffusivity=0.30),
        "wet": Surface(warming=-0.05, amplitude_factor=0.8, diffusivity=0.50),
        "mulched": Surface(warming=-0.10, amplitude_factor=0.5, diffusivity=0.50),
        "shaded": Surface(warming=-0.15, amplitude_factor=0.5, diffusivity=0.50),
    }
)


def damping_depth(diffusivity: float) -> float:
    """Depth at which the daily swing has fallen to 1/e, cm.

    Parameters
    ----------
    diffusivity : float
        Thermal diffusivity, 1e-6 m2 s-1.

    Returns
    -------
    float
        cm.

    Notes
    -----
    ``D = sqrt(2 k / w)`` with w the angular frequency of the day (Campbell & Norman 1998, recalled).

    Examples
    --------
    >>> round(damping_depth(0.5), 1)
    11.7
    """
    return 100.0 * float(np.sqrt(2.0 * diffusivity * 1e-6 * _DAY / (2.0 * np.pi)))


def soil_temperature(
    tasmin: Any,
    tasmax: Any,
    *,
    depth: float,
    surface: str = "wet",
    warming: float | None = None,
    amplitude_factor: float | None = None,
    diffusivity: float | None = None,
    averaging_days: int | None = None,
) -> tuple[Any, Any]:
    """Daily mean and daily amplitude of soil temperature at a depth.

    Parameters
    ----------
    tasmin, tasmax : array_like, xarray.DataArray or pandas.Series
        Daily minimum and maximum air temperature, shape (..., time), degC.
    depth : float
        Depth below the surface, cm.
    surface : {'bare', 'wet', 'mulched', 'shaded'}
        Bare and dry; kept wet by frequent watering; under straw; under shade cloth.
    warming, amplitude_factor, diffusivity, averaging_days : float, optional
        Override the surface's own (see `Surface` for meaning and units).

    Returns
    -------
    mean, amplitude : numpy.ndarray, xarray.DataArray or pandas.Series
        Shape (..., time), degC. The soil swings between mean - amplitude and mean + amplitude in the day.
        Both are NaN on a missing day; days missing before it are left out of the running mean.

    Raises
    ------
    InputError
        For an unknown surface, a negative depth, values that are no numbers, or arrays that do not fit each other.

    Examples
    --------
    >>> mean, amplitude = soil_temperature([8.0, 10.0, 12.0], [20.0, 24.0, 26.0], depth=5.0, surface="bare")
    >>> mean.round(2), amplitude.round(2)
    (array([15.8 , 17.45, 18.67]), array([4.84, 5.65, 5.65]))
    """
    check_choice("surface", surface, tuple(SURFACES))
    depth = check_number("depth", depth, least=0.0, unit="cm")
    own = SURFACES[surface]
    days, k, factor, warmer = (
        getattr(own, name) if given is None else check_number(name, given, least=least, unit=unit)
        for name, given, least, unit in (
            ("averaging_days", averaging_days, 1.0, "days"),
            ("diffusivity", diffusivity, None, "1e-6 m2 s-1"),
            ("amplitude_factor", amplitude_factor, None, "1"),
            ("warming", warming, None, "degC per degC"),
        )
    )
    if not k > 0.0:
        raise InputError(f"diffusivity is {k:g}; it must be above 0")
    kernel = partial(
        _soil,
        warming=warmer,
        factor=factor * float(np.exp(-depth / damping_depth(k))),
        days=int(days),
    )
    attrs = {
        "units": "degC",
        "standard_name": "soil_temperature",
        "surface": surface,
        "depth": f"{depth:g} cm",
    }
    mean = {**attrs, "long_name": "daily mean soil temperature"}
    swing = {**attrs, "long_name": "daily amplitude of soil temperature"}
    return apply(kernel, [tasmin, tasmax], attrs=[mean, swing])


def _soil(
    tasmin: np.ndarray, tasmax: np.ndarray, warming: float, factor: float, days: int
) -> tuple[np.ndarray, np.ndarray]:
    """Mean and amplitude on plain arrays."""
    span = tasmax - tasmin
    source = 0.5 * (tasmin + tasmax) + warming * span
    return _trailing_mean(source, days), 0.5 * factor * span


def _trailing_mean(x: np.ndarray, days: int) -> np.ndarray:
    """Mean of each day and the days before it, of those present; NaN where the day itself is missing."""
    present = np.isfinite(x)
    filled = np.where(present, x, 0.0)
    total = np.zeros_like(filled)
    count = np.zeros_like(filled)
    for back in range(min(days, x.shape[-1])):
        total[..., back:] += filled[..., : x.shape[-1] - back]
        count[..., back:] += present[..., : x.shape[-1] - back]
    return np.where(present, total / np.maximum(count, 1.0), np.nan)
