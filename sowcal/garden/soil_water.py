"""How much water a soil holds for roots and for the air, by texture (FAO-56 Table 19, eq. 73, 82, 83).

Allen, Pereira, Raes & Smith 1998, Crop evapotranspiration, FAO Irrigation and Drainage Paper 56. The ranges
of Table 19 are from memory; the middle of each is used.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from sowcal.errors import InputError

__all__ = [
    "TEXTURES",
    "Soil",
    "depletion_share",
    "soil_of_texture",
    "total_available_water",
    "total_evaporable_water",
]

_EVAPORATING_DEPTH = 0.10  # m, FAO-56 eq. 73 gives 0.10 to 0.15


@dataclass(frozen=True, slots=True)
class Soil:
    """Water constants of a soil.

    Attributes
    ----------
    texture : str
    field_capacity, wilting_point : float
        Water held at each, m3 m-3.
    readily_evaporable : float
        Water that evaporates freely from the surface layer (REW), mm.
    """

    texture: str
    field_capacity: float
    wilting_point: float
    readily_evaporable: float


def _row(texture: str, capacity: tuple[float, float], wilting: tuple[float, float], easy: float) -> Soil:
    return Soil(texture, sum(capacity) / 2, sum(wilting) / 2, easy)


# FAO-56 Table 19, from memory: ranges of water at field capacity and wilting point, middle REW.
TEXTURES: Mapping[str, Soil] = MappingProxyType(
    {
        s.texture: s
        for s in (
            _row("sand", (0.07, 0.17), (0.02, 0.07), 4.5),
            _row("loamy sand", (0.11, 0.19), (0.03, 0.10), 6.0),
            _row("sandy loam", (0.18, 0.28), (0.06, 0.16), 8.0),
            _row("loam", (0.20, 0.30), (0.07, 0.17), 9.0),
            _row("silt loam", (0.22, 0.36), (0.09, 0.21), 9.5),
            _row("silt", (0.28, 0.36), (0.12, 0.22), 9.5),
            _row("silt clay loam", (0.30, 0.37), (0.17, 0.24), 9.5),
            _row("silty clay", (0.30, 0.42), (0.17, 0.29), 10.0),
            _row("clay", (0.32, 0.40), (0.20, 0.24), 10.0),
        )
    }
)


def soil_of_texture(texture: str) -> Soil:
    """Constants of a texture; `InputError` with the nearest ones for any other word."""
    try:
        return TEXTURES[texture.strip().lower()]
    except KeyError:
        near = difflib.get_close_matches(texture.lower(), TEXTURES, 1, 0.5)
        hint = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(TEXTURES)}"
        raise InputError(f"there is no soil texture {texture!r}; {hint}") from None


def total_available_water(soil: Soil, rooting_depth):
    """Water between field capacity and wilting point in a root zone of a depth in m, mm (eq. 82)."""
    return 1000.0 * (soil.field_capacity - soil.wilting_point) * rooting_depth


def total_evaporable_water(soil: Soil, depth: float = _EVAPORATING_DEPTH) -> float:
    """Most water that can evaporate from a wetted surface layer, mm (eq. 73)."""
    return 1000.0 * (soil.field_capacity - 0.5 * soil.wilting_point) * depth


def depletion_share(tabled, evapotranspiration):
    """Share of the available water that may go before the crop suffers (FAO-56 Table 22, footnote 2).

    Parameters
    ----------
    tabled : float or array_like
        Share at 5 mm day-1.
    evapotranspiration : float or array_like
        Crop evapotranspiration, mm day-1.

    Returns
    -------
    numpy.ndarray
        Between 0.1 and 0.8. The form is from memory.
    """
    return np.clip(tabled + 0.04 * (5.0 - evapotranspiration), 0.1, 0.8)
