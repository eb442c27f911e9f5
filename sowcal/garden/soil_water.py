"""Water in the soil of a bed, day by day: what it holds, what crop and air draw, when it is watered (FAO-56, dual
coefficient).

Allen, Pereira, Raes & Smith 1998, Crop evapotranspiration, FAO Irrigation and Drainage Paper 56. The ranges
of Table 19 are from memory; the middle of each is used.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from sowcal.crops.tables import Water, known
from sowcal.errors import InputError

__all__ = [
    "RESULTS",
    "TEXTURES",
    "USUAL_WATER",
    "Balance",
    "Basal",
    "Season",
    "Soil",
    "Watering",
    "basal_of",
    "climate_term",
    "coefficient_curve",
    "covered_fraction",
    "depletion_share",
    "evaporation_coefficient",
    "evaporation_reduction",
    "exposed_wetted_fraction",
    "rain_that_counts",
    "root_zone_balance",
    "soil_of_texture",
    "total_available_water",
    "total_evaporable_water",
    "upper_limit",
]

_EVAPORATING_DEPTH = 0.10  # m, FAO-56 eq. 73 gives 0.10 to 0.15


def _within(values, least, most):
    """As `numpy.clip`, which spends four fifths of its time on checks where values are the few hundred of a day."""
    return np.minimum(np.maximum(values, least), most)


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
        near = difflib.get_close_matches(texture.lower(), TEXTURES, cutoff=0.5)
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
    assumed: bool
    stands: bool


def _basal(single: float) -> float:
    """Basal from single coefficient where no table has it: 0.05 less for full canopies, 0.10 less for small ones.

    FAO-56 Tables 12 and 17 set side by side: tomato 1.15 and 1.10, small vegetables 1.05 and 0.95.
    """
    return max(single - (0.05 if single >= 1.10 else 0.10), _BARE)


def basal_of(water: Water, soil_depth: float = np.inf, *, rain_fed: bool = False, stands: bool = False) -> Basal:
    """Basal coefficients of a handbook row (FAO-56 Table 17 where it has the crop), roots no deeper than the soil.

    Watered beds are rooted to the lower of the tabled depths, rain-fed ones to the greater (FAO-56 Table 22,
    footnote 1: the smaller for irrigation scheduling, the larger for rain-fed conditions). What stands for years
    has its roots from the start, and trees and shrubs some leaf or shade too: where no table has their basal
    coefficient it is 0.10 below the single one then (FAO-56 Tables 12 and 17 set side by side).
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
    tabled = known(row.basal_initial, row.basal_mid, row.basal_end)
    leafy = max(value("coefficient_initial") - 0.10, _BARE) if stands and value("height") >= 1.0 else _BARE
    return Basal(
        initial=max(row.basal_initial, _BARE) if tabled and stands else leafy,
        mid=row.basal_mid if tabled else _basal(value("coefficient_mid")),
        end=max(row.basal_end, _BARE) if tabled else _basal(value("coefficient_end")),
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
    share = np.maximum((basal_coefficient - _BARE) / (limit - _BARE), 0.0)
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
    return _within((evaporable - depletion) / (evaporable - easy), 0.0, 1.0)


def evaporation_coefficient(reduction, limit, basal_coefficient, exposed):
    """Soil evaporation coefficient (Ke, eq. 71)."""
    return np.minimum(reduction * (limit - basal_coefficient), exposed * limit)


_WETS_ALL = 3.0  # mm; so much rain wets the whole surface (FAO-56 chapter 7, as quoted in a copy)
_IGNORED = 0.2  # of reference evapotranspiration; less rain evaporates at once (FAO-56 chapter 8, from memory)


def rain_that_counts(rain, reference):
    """Rain of each day, mm, without what evaporates at once."""
    return np.where(rain > _IGNORED * reference, rain, 0.0)


@dataclass(frozen=True, slots=True)
class Watering:
    """How water is given.

    Attributes
    ----------
    wetted : float
        Share of the surface that is wetted. Drip 0.3 to 0.4, can, hose and sprinkler 1 (FAO-56 Table 20, from
        memory).
    drip : bool
    evaporation_left : float
        Share of soil evaporation that mulch leaves.
    watering_share : float
        Water is given when this share of the readily available water is gone: common practice.
    """

    wetted: float
    drip: bool
    evaporation_left: float
    watering_share: float = 0.5


@dataclass(frozen=True, slots=True)
class Season:
    """What a balance is driven by; arrays of shape (days, ...), all mm day-1 or shares.

    `grows` is False outside the season: nothing happens on those days. `left` is the share of soil evaporation that
    mulch leaves on each day; that of the watering where it is not told.
    """

    reference: np.ndarray
    rain: np.ndarray
    basal: np.ndarray
    limit: np.ndarray
    covered: np.ndarray
    rooting_depth: np.ndarray
    depletion: np.ndarray
    irrigated: np.ndarray
    grows: np.ndarray
    left: np.ndarray | None = None


@dataclass(frozen=True, slots=True)
class Balance:
    """Daily results, shape (days, ...), mm; `depletion` and `below` at the end of the day."""

    irrigation: np.ndarray
    evapotranspiration: np.ndarray
    evaporation: np.ndarray
    drained: np.ndarray
    depletion: np.ndarray
    surface_depletion: np.ndarray
    stress: np.ndarray  # 1 is none
    wetted: np.ndarray  # share of the surface that the last rain or watering wetted, at the end, shape (...)
    below: np.ndarray | None = None  # water missing below the roots, where that is followed


RESULTS = ("irrigation", "evapotranspiration", "evaporation", "drained", "depletion", "surface_depletion", "stress")


_AT_ONCE = 24  # days of which what does not hang on the day before is reckoned together


def _by_day(season: Season, soil: Soil, watering: Watering) -> Iterator[tuple[np.ndarray, ...]]:
    """Of each day whether it is watered at need, and, mm: rain that counts, use without stress, water between full and
    dry, the part of it on which use falls off, and how much may be gone before it is watered."""
    for first in range(0, season.basal.shape[0], _AT_ONCE):
        some = slice(first, first + _AT_ONCE)
        reference, rain, grows = season.reference[some], season.rain[some], season.grows[some]
        rains = rain_that_counts(rain, reference) * grows
        use = season.basal[some] * reference
        available = total_available_water(soil, season.rooting_depth[some])
        share = depletion_share(season.depletion, use)
        stored, thirst = (1.0 - share) * available, watering.watering_share * (share * available)
        yield from zip(season.irrigated & grows, rains, use, available, stored, thirst, strict=True)


def _below_the_roots(
    season: Season,
    t: int,
    zone: np.ndarray,
    under: np.ndarray,
    drained: np.ndarray,
    full_depth: np.ndarray | float,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Water missing in the root zone and below it, and what drains past both, once roots have gone down on a day."""
    soaked = np.minimum(drained, under)
    under, drained = under - soaked, drained - soaked
    if t:
        deeper = season.rooting_depth[t] - season.rooting_depth[t - 1]
        left = full_depth - season.rooting_depth[t - 1]
        met = under * _within(deeper / np.maximum(left, 1e-9), 0.0, 1.0)
        zone, under = zone + met, under - met
    return zone, under, drained


def _evaporation(season: Season, t: int, reduction: np.ndarray, exposed: np.ndarray, watering: Watering) -> np.ndarray:
    """Water that the air draws from the soil's surface on a day, mm."""
    ke = evaporation_coefficient(reduction, season.limit[t], season.basal[t], exposed)
    left = watering.evaporation_left if season.left is None else season.left[t]
    return ke * season.reference[t] * left * season.grows[t]


def root_zone_balance(
    season: Season,
    soil: Soil,
    watering: Watering,
    *,
    start_depletion: float | np.ndarray = 0.0,
    start_surface: float | np.ndarray | None = None,
    start_wetted: float | np.ndarray = 1.0,
    given: np.ndarray | None = None,
    below: np.ndarray | None = None,
    full_depth: np.ndarray | float = np.inf,
    kept: Sequence[str] = RESULTS,
) -> Balance:
    """Follow the root zone through the days and water it when it needs it.

    Rain and watering come at the beginning of the day (as in FAO-56 Example 35). The soil into which roots
    grow is taken to be moist unless `below` says how dry it is.

    Parameters
    ----------
    season : Season
    soil : Soil
    watering : Watering
    start_depletion : float or array, default 0
        Water missing from the root zone at the start, mm.
    start_surface : float or array, optional
        Water missing from the surface layer, mm; all that can evaporate where left out.
    start_wetted : float or array, default 1
        Share of the surface that the last rain or watering wetted.
    given : array, optional
        Watering given, mm, in place of watering at need.
    below : array, optional
        Water missing at the start between the roots and the depth that they will reach, mm. What drains from
        the root zone fills it, and what is missing there comes to be missing from the root zone as roots go
        down (FAO-56 Example 36, notes to its table).
    full_depth : array
        Depth that roots will reach, m; only with `below`.
    kept : sequence of str, optional
        The daily results that are asked for; the others are left empty.

    Returns
    -------
    Balance
        Rain plus watering equal evapotranspiration plus drainage less the rise in depletion, of the root zone
        and below it, to rounding.
    """
    shape = np.broadcast_shapes(season.reference.shape, season.basal.shape)
    most = total_evaporable_water(soil)
    zone = np.broadcast_to(np.asarray(start_depletion, dtype=float), shape[1:]).copy()
    surface = np.full(shape[1:], most if start_surface is None else start_surface)
    wetted, out = np.broadcast_to(start_wetted, shape[1:]), {name: np.zeros(shape) for name in kept}
    under = None if below is None else np.broadcast_to(np.asarray(below, dtype=float), shape[1:]).copy()
    missing_below = np.zeros(shape if under is not None else (0,))
    for t, (asks, rain, use, available, stored, thirst) in enumerate(_by_day(season, soil, watering)):
        grows = season.grows[t]
        drained = np.maximum(rain - zone, 0.0)
        zone = np.maximum(zone - rain, 0.0)
        if under is not None:
            zone, under, drained = _below_the_roots(season, t, zone, under, drained, full_depth)
            missing_below[t] = under
        wetted = np.where(rain >= _WETS_ALL, 1.0, wetted)
        if given is None:
            water = np.where(asks & (zone > thirst), zone, 0.0)
        else:
            water = given[t] * grows
            drained = drained + np.maximum(water - zone, 0.0)
        zone = np.maximum(zone - water, 0.0)
        wetted = np.where(water > 0.0, watering.wetted, wetted)
        surface = _within(surface - rain - water / wetted, 0.0, most)
        exposed = exposed_wetted_fraction(season.covered[t], wetted, drip=watering.drip)
        drying = evaporation_reduction(surface, most, soil.readily_evaporable)
        evaporation = _evaporation(season, t, drying, exposed, watering)
        left = available - zone
        stress = _within(left / stored, 0.0, 1.0)
        loss = np.minimum(stress * use * grows + evaporation, np.maximum(left, 0.0))
        evaporation = np.minimum(evaporation, loss)
        zone, surface = zone + loss, np.minimum(surface + evaporation / exposed, most)
        today = dict(zip(RESULTS, (water, loss, evaporation, drained, zone, surface, stress), strict=True))
        for name, found in out.items():
            found[t] = today[name]
    every = {name: out.get(name, np.zeros((0,))) for name in RESULTS}
    return Balance(**every, wetted=wetted, below=missing_below if under is not None else None)
