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

from sowcal.climate._labelled import apply, check_choice
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

    Notes
    -----
    ``D = sqrt(2 k / w)`` with w the angular frequency of the day (Campbell & Norman 1998, recalled).
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
    tasmin, tasmax : array_like or xarray.DataArray
        Daily minimum and maximum air temperature, shape (..., time), degC.
    depth : float
        Depth below the surface, cm.
    surface : {'bare', 'wet', 'mulched', 'shaded'}
        Bare and dry; kept wet by frequent watering; under straw; under shade cloth.
    warming, amplitude_factor, diffusivity, averaging_days : float, optional
        Override the surface's own (see `Surface` for meaning and units).

    Returns
    -------
    mean, amplitude : numpy.ndarray or xarray.DataArray
        Shape (..., time), degC. The soil swings between mean - amplitude and mean + amplitude in the day.
        Both are NaN on a missing day; days missing before it are left out of the running mean.

    Raises
    ------
    InputError
        For an unknown surface or a negative depth.
    """
    check_choice("surface", surface, tuple(SURFACES))
    if not depth >= 0.0:
        raise InputError(f"depth is {depth:g} cm; it must be 0 or more")
    own = SURFACES[surface]
    days = own.averaging_days if averaging_days is None else int(averaging_days)
    if days < 1:
        raise InputError(f"averaging_days is {days}; it must be 1 or more")
    k = own.diffusivity if diffusivity is None else diffusivity
    factor = own.amplitude_factor if amplitude_factor is None else amplitude_factor
    kernel = partial(
        _soil,
        warming=own.warming if warming is None else warming,
        factor=factor * float(np.exp(-depth / damping_depth(k))),
        days=days,
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
