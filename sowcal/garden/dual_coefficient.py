"""The dual crop coefficient: what the plant breathes out and what the bare soil loses, apart.

Allen, Pereira, Raes & Smith 1998, FAO Irrigation and Drainage Paper 56, chapters 7 and 8. Drip, mulch and
frequent watering act on the soil's part only, which a single coefficient cannot show. Every function takes
arrays of any one shape.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sowcal.crops.records import Water, known

__all__ = [
    "USUAL_WATER",
    "Basal",
    "basal_of",
    "climate_term",
    "coefficient_curve",
    "covered_fraction",
    "evaporation_coefficient",
    "evaporation_reduction",
    "exposed_wetted_fraction",
    "upper_limit",
]

_BARE = 0.15  # basal coefficient of dry, nearly bare soil (Kc min, eq. 76; FAO-56 gives 0.15 to 0.20)

# Where the handbook has no figures: those of small vegetables in FAO-56 Tables 11, 12 and 22, rounded; common
# practice to fall back on them.
USUAL_WATER = Water(0.7, 1.05, 0.95, 0.4, 25.0, 35.0, 35.0, 15.0, 0.3, 0.6, 0.35)


@dataclass(frozen=True, slots=True)
class Basal:
    """What a crop's water use needs to be laid along a season.

    Attributes
    ----------
    initial, mid, end : float
        Basal coefficients.
    turns : tuple of float
        Ends of initial, development and mid stage as shares of the season.
    height : float
        m.
    rooting_depth : float
        Greatest, m.
    depletion : float
        Share of available water that may go at 5 mm day-1.
    assumed : bool
        Whether figures of small vegetables stand in for unknown ones.
    stands : bool
        Whether it is rooted from the start, as what lives for years is.
    """

    initial: float
    mid: float
    end: float
    turns: tuple[float, float, float]
    height: float
    rooting_depth: float
    depletion: float
    assumed: bool = False
    stands: bool = False


def _basal(single: float) -> float:
    """Basal from single coefficient: 0.05 less for full canopies, 0.10 less for small ones.

    FAO-56 Tables 12 and 17 set side by side (tomato 1.15 and 1.10, small vegetables 1.05 and 0.95), from
    memory.
    """
    return max(single - (0.05 if single >= 1.10 else 0.10), _BARE)


def basal_of(water: Water, soil_depth: float = np.inf, *, rain_fed: bool = False, stands: bool = False) -> Basal:
    """Basal coefficients of a handbook row, roots no deeper than the soil.

    Watered beds are rooted to the lower of the tabled depths, rain-fed ones to the greater (FAO-56 Table 22,
    footnote 1: the smaller for irrigation scheduling, the larger for rain-fed conditions). What stands for years
    has its roots from the start, and trees and shrubs some leaf or shade too: their basal coefficient is 0.10 below
    the single one then (FAO-56 Tables 12 and 17 set side by side, from memory).
    """
    depth = "rooting_depth_high" if rain_fed else "rooting_depth_low"
    names = (
        "coefficient_mid",
        "coefficient_end",
        "days_initial",
        "days_development",
        "days_mid",
        "days_late",
    )
    assumed = not known(*(getattr(water, n) for n in names))
    row = USUAL_WATER if assumed else water

    def value(name: str) -> float:
        given = getattr(row, name)
        return given if known(given) else getattr(USUAL_WATER, name)

    days = np.cumsum([value(f"days_{s}") for s in ("initial", "development", "mid", "late")])
    turns = tuple(float(d / days[-1]) for d in days[:3])
    return Basal(
        initial=max(value("coefficient_initial") - 0.10, _BARE) if stands and value("height") >= 1.0 else _BARE,
        mid=_basal(value("coefficient_mid")),
        end=_basal(value("coefficient_end")),
        turns=(turns[0], turns[1], turns[2]),
        height=max(value("height"), 0.05),
        rooting_depth=min(value(depth), soil_depth),
        depletion=value("depletion_fraction"),
        assumed=assumed,
        stands=stands,
    )


def coefficient_curve(share, basal: Basal, climate=0.0):
    """Basal coefficient at shares of the season from 0 to 1 (FAO-56 figure 37).

    Parameters
    ----------
    share : array_like
        Age over length of the season that the plan really has.
    basal : Basal
    climate : array_like
        `climate_term` of the season, added to mid and end coefficients above 0.45 (eq. 70).
    """
    a, b, c = basal.turns
    mid = basal.mid + climate
    end = basal.end + (climate if basal.end > 0.45 else 0.0)
    up = (share - a) / max(b - a, 1e-9)
    down = (share - c) / max(1.0 - c, 1e-9)
    rising = basal.initial + np.clip(up, 0.0, 1.0) * (mid - basal.initial)
    return rising + np.clip(down, 0.0, 1.0) * (end - mid)


def climate_term(wind, humidity, height):
    """What wind at 2 m (m s-1) and least humidity (per cent) add to a coefficient (eq. 70 and 72)."""
    u = np.clip(wind, 1.0, 6.0)
    r = np.clip(humidity, 20.0, 80.0)
    return (0.04 * (u - 2.0) - 0.004 * (r - 45.0)) * (height / 3.0) ** 0.3


def upper_limit(basal_coefficient, climate):
    """Greatest coefficient that the day's energy allows (Kc max, eq. 72)."""
    return np.maximum(1.2 + climate, basal_coefficient + 0.05)


def covered_fraction(basal_coefficient, limit, height):
    """Share of the ground under leaves (eq. 76), 0 to 0.99."""
    share = np.clip((basal_coefficient - _BARE) / np.maximum(limit - _BARE, 0.01), 0.0, 1.0)
    return np.minimum(share ** (1.0 + 0.5 * height), 0.99)


def exposed_wetted_fraction(covered, wetted, *, drip: bool = False):
    """Share of the ground both wetted and bare to the sun (eq. 75).

    Drip lines lie in the shade of the plants, so their wetted share shrinks with cover by two thirds of it
    (FAO-56 chapter 7, text after eq. 75, from memory).
    """
    wet = wetted * (1.0 - 2.0 / 3.0 * covered) if drip else wetted
    return np.maximum(np.minimum(1.0 - covered, wet), 0.01)


def evaporation_reduction(depletion, evaporable, easy):
    """How far a drying surface still evaporates (Kr, eq. 74), from mm lost, TEW and REW."""
    return np.clip((evaporable - depletion) / (evaporable - easy), 0.0, 1.0)


def evaporation_coefficient(reduction, limit, basal_coefficient, exposed):
    """Soil evaporation coefficient (Ke, eq. 71)."""
    return np.minimum(reduction * (limit - basal_coefficient), exposed * limit)
