"""What each bed is to a plant: its soil, its light and mulch by month, and what its kind does to water and warmth."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sowcal.climate.sun import sun_positions
from sowcal.crops.tables import known
from sowcal.garden.bed_file import SIDES, Bed, Mulch, Tree
from sowcal.garden.beds import is_tall, month_shares
from sowcal.garden.plants import area_of
from sowcal.garden.soil_water import basal_of, soil_of_texture, total_available_water
from sowcal.languages import phrase
from sowcal.units import quantity

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sowcal.garden.beds import BedPlan
    from sowcal.garden.garden_file import Garden
    from sowcal.garden.plants import WayOutcome
    from sowcal.garden.schedule import Sowing

__all__ = [
    "LAPPED",
    "ROOTS_REACH",
    "Between",
    "Ground",
    "between_rows",
    "crown_shade",
    "evaporation_left",
    "fence_length",
    "ground_of",
    "in_tree_shade",
    "neighbour_words",
    "noon_shadow",
    "on_bed",
    "path_area",
    "path_litres",
    "roots_near",
    "usual_ground",
    "water_held",
    "water_of_kind",
]

ROOTS_REACH = 1.5  # times as far as the crown from the trunk, at least: common practice, no source
_ROOTS_DRAW = (1.1, 1.4)  # times the water of a bed into which a tree's roots have grown: common practice, no source
LAPPED = 1.2  # m2 of card for a m2 of bed, so that its edges lap: common practice
_DIRECT = 0.6  # of a sunny day's light comes straight from the sun: from memory
_THROUGH_LEAVES, _THROUGH_TWIGS = 0.15, 0.5  # of direct light that a crown lets through: from memory
_IN_LEAF = (3, 9)  # months from April to October north of the equator; half a year later south of it: common practice
_DRIES = 0.3  # of a bed's water goes from bare soil, as from the sides of an open raised bed: judgement
_MIDDLES = (15, 45, 74, 105, 135, 162, 198, 228, 258, 288, 318, 344)  # days that stand for the months (from memory)


@dataclass(frozen=True, slots=True)
class Ground:
    """One bed.

    Attributes
    ----------
    texture : str
    depth : float
        m that roots may go down.
    light : tuple of float
        Share of open light, by month.
    left : tuple of float
        Share of soil evaporation that mulch leaves, by month.
    more : float
        Times the water of a flat bed that it takes.
    """

    texture: str
    depth: float
    light: tuple[float, ...]
    left: tuple[float, ...]
    more: float = 1.0


def evaporation_left(mulch: Mulch) -> tuple[float, ...]:
    """Share of soil evaporation that mulch leaves, by month.

    Organic mulch takes about 5 per cent for each 10 per cent of soil covered, plastic about 80 (FAO-56 chapter
    10 and Table 25, from memory).
    """
    most = {"none": 0.0, "plastic": 0.8}.get(mulch.kind, 0.5)
    return tuple(1.0 - most * mulch.cover * (not mulch.months or m in mulch.months) for m in range(12))


def water_of_kind(bed: Bed) -> tuple[float, float]:
    """Least and most times the water of a flat bed that a bed of its kind takes; common practice, no source.

    The open sides of a raised bed dry as its surface does (for the share of the water that goes from bare soil);
    boarded ones do not, but it drains sooner. A layer of compost keeps the soil below it moist, as does card.
    """
    if bed.kind == "raised" and bed.height > 0.0:
        sides = 2.0 * (bed.length + bed.width) * bed.height / bed.area
        return 1.05, 1.05 + min(_DRIES * sides, 0.5)
    return {"card": (0.95, 1.0), "compost": (0.9, 1.0)}.get(bed.kind, (1.0, 1.0))


def ground_of(garden: Garden, bed: Bed) -> Ground:
    """A bed's ground: its own soil and mulch, else the garden's; what a range is known of counts by its middle."""
    depth = bed.soil_depth if math.isfinite(bed.soil_depth) else garden.soil_depth
    more = sum(water_of_kind(bed)) / 2.0
    if any(roots_near(tree, bed) for tree in garden.trees):
        more *= sum(_ROOTS_DRAW) / 2.0
    return Ground(
        bed.texture or garden.texture,
        depth + (bed.height if bed.kind != "flat" else 0.0),
        tuple(1.0 - s for s in bed.shades),
        evaporation_left(bed.mulch or garden.mulch),
        more,
    )


def on_bed(garden: Garden, bed: Bed) -> Garden:
    """The garden with the soil and mulch of one bed, as a crop that stands there has them."""
    ground = ground_of(garden, bed)
    return replace(garden, texture=ground.texture, soil_depth=ground.depth, mulch=bed.mulch or garden.mulch)


def usual_ground(garden: Garden) -> Garden:
    """The garden with the soil and mulch that most of its beds have, by area; its own where it has no beds."""
    area: dict[tuple[str, float, Mulch], float] = {}
    for bed in garden.beds:
        there = on_bed(garden, bed)
        key = (there.texture, there.soil_depth, there.mulch)
        area[key] = area.get(key, 0.0) + bed.area
    if not area:
        return garden
    texture, depth, mulch = max(area, key=lambda k: area[k])
    return replace(garden, texture=texture, soil_depth=depth, mulch=mulch)


def water_held(garden: Garden) -> tuple[float, ...]:
    """mm of water that roots can draw from the soil of each bed (FAO-56 eq. 82)."""
    grounds = [ground_of(garden, bed) for bed in garden.beds]
    return tuple(float(total_available_water(soil_of_texture(g.texture), g.depth)) for g in grounds)


def roots_near(tree: Tree, bed: Bed) -> bool:
    """Whether a tree's roots come into a bed."""
    far = dict(tree.beds).get(bed.name)
    return far is not None and far - 0.5 * min(bed.length, bed.width) < ROOTS_REACH * 0.5 * tree.crown


def crown_shade(tree: Tree, far: float, latitude: float) -> tuple[float, ...]:
    """Share of the day's light that a tree takes from a place so many m from its trunk, by month.

    The crown is taken as a box as wide as it is, down to the ground; direct light on a level place, hour by hour of a
    clear day (solar geometry of FAO-56 eq. 22 to 25).

    Examples
    --------
    >>> tree = Tree("ash", 8.0, 6.0, "south", (("bed 1", 5.0),), evergreen=True)
    >>> [round(s, 2) for s in crown_shade(tree, 5.0, 40.0)][::6]  # January and July
    [0.37, 0.1]
    """
    altitude, azimuth = sun_positions(latitude, np.array(_MIDDLES))
    level = np.maximum(np.sin(altitude), 0.0)
    radius = 0.5 * tree.crown
    towards = 2.0 * np.pi * SIDES.index(tree.side) / len(SIDES)
    aside = np.arccos(np.cos(azimuth - towards))  # 0 to pi
    if far >= radius:
        behind = (aside < math.asin(radius / far)) & (altitude < math.atan2(tree.height, far - radius))
    else:
        behind = altitude < np.pi / 2.0
    share = (level * behind).sum(axis=1) / np.maximum(level.sum(axis=1), 1e-9)
    first, last = _IN_LEAF
    leafy = [first <= (m + (6 if latitude < 0.0 else 0)) % 12 <= last for m in range(12)]
    through = [_THROUGH_LEAVES if tree.evergreen or leaf else _THROUGH_TWIGS for leaf in leafy]
    return tuple(float(_DIRECT * s * (1.0 - t)) for s, t in zip(share, through, strict=True))


def in_tree_shade(garden: Garden, latitude: float) -> Garden:
    """The garden with the shade of its trees laid on its beds."""
    if not garden.trees:
        return garden
    beds = []
    for bed in garden.beds:
        light = np.array([1.0 - s for s in bed.shades])
        for tree in garden.trees:
            if (far := dict(tree.beds).get(bed.name)) is not None:
                light = light * (1.0 - np.array(crown_shade(tree, far, latitude)))
        shades = tuple(float(s) for s in 1.0 - light)
        beds.append(replace(bed, month_shade=shades, shade=sum(shades) / 12.0))
    return replace(garden, beds=tuple(beds))


def path_area(garden: Garden) -> float:
    """m2 of paths where the beds lie side by side in one row: one along each, one more, and one across either end."""
    wide = garden.paths.width
    if not garden.beds or wide <= 0.0:
        return 0.0
    longest = max(b.length for b in garden.beds)
    across = sum(b.width for b in garden.beds) + (len(garden.beds) + 1) * wide
    return wide * (sum(b.length for b in garden.beds) + longest + 2.0 * across)


def fence_length(garden: Garden) -> float:
    """m of fence round beds that lie so, with the paths that run about them; none where no paths are told."""
    wide = garden.paths.width
    if not garden.beds or wide <= 0.0:
        return 0.0
    across = sum(b.width for b in garden.beds) + (len(garden.beds) + 1) * wide
    return 2.0 * (across + max(b.length for b in garden.beds) + 2.0 * wide)


def path_litres(garden: Garden) -> float:
    """Loose litres of wood chips for them."""
    return 1000.0 * garden.paths.depth * path_area(garden)


def noon_shadow(height: float, latitude: float, day: int) -> float:
    """Length in m of the noon shadow of something so many m high on a day of the year; away from the equator.

    Examples
    --------
    >>> round(noon_shadow(2.0, 40.0, 171), 1), round(noon_shadow(2.0, 40.0, 355), 1)
    (0.6, 4.0)
    """
    altitude, _ = sun_positions(latitude, np.array([day]))
    return height / max(math.tan(float(altitude.max())), 0.05)


_LED_UP = 1.8  # m that crops on stakes, poles, nets or wires reach: common practice
_DARK = 0.4  # of the light; with less shade fruit and roots still crop: common practice
_LARGE = 1.0  # m between plants; smaller ones reach no neighbour: common practice
_EQUINOX = 80  # day of the year


def _shadow(height: float, latitude: float) -> str:
    """How far something throws its shadow at noon."""
    away, summer = ("north", 171) if latitude >= 0.0 else ("south", 354)
    spring, least = noon_shadow(height, latitude, _EQUINOX), noon_shadow(height, latitude, summer)
    return phrase(
        "{spring} to the {away} at noon in spring and autumn, {least} in midsummer",
        spring=quantity(spring, "m", ".1f"),
        away=away,
        least=quantity(least, "m", ".1f"),
    )


def _of_perennials(garden: Garden, sowings: Sequence[Sowing], plan: BedPlan, latitude: float) -> list[str]:
    """Roots and shade of what stands for years."""
    out = []
    for p in plan.placings:
        crop = sowings[p.sowing].crop
        across = math.sqrt(area_of(crop.garden, 1))
        if not sowings[p.sowing].stands or across < _LARGE:
            continue
        beyond = (ROOTS_REACH - 1.0) * 0.5 * across
        beside = dict.fromkeys(
            sowings[q.sowing].crop.name
            for q in plan.placings
            if q.bed == p.bed and q is not p and q.begin < p.end + beyond and p.begin - beyond < q.end
        )
        near = f"; what stands there wants more water and food ({', '.join(beside)})" if beside else ""
        has_height = known(crop.water.height)
        shade = phrase("; full-grown it shades {far}", far=_shadow(crop.water.height, latitude)) if has_height else ""
        out.append(
            phrase(
                "{crop} in {bed}: its roots reach some {beyond} beyond it{near}{shade}",
                crop=crop.name,
                bed=garden.beds[p.bed].name,
                beyond=quantity(beyond, "m", ".1f"),
                near=near,
                shade=shade,
            )
        )
    return out


def neighbour_words(garden: Garden, sowings: Sequence[Sowing], plan: BedPlan, latitude: float) -> list[str]:
    """What reaches beyond its own part: roots and shade of perennials, shadows of tall crops, vines that run."""
    away = "north" if latitude >= 0.0 else "south"
    out = _of_perennials(garden, sowings, plan, latitude)
    for p in plan.placings:
        sowing = sowings[p.sowing]
        stay = month_shares(*sowing.place_taken)
        dark = float(stay @ np.array(garden.beds[p.bed].shades)) / max(float(stay.sum()), 1e-9)
        if dark >= _DARK and sowing.crop.growth.habit != "leaf":
            out.append(
                f"{sowing.crop.name} in {garden.beds[p.bed].name} goes without {dark:.0%} of the light while it "
                "stands: expect about as much less"
            )
    tall = [c for p in plan.placings if is_tall(c := sowings[p.sowing].crop) and not sowings[p.sowing].stands]
    led = ("stakes", "poles", "net", "wires")
    heights = [_LED_UP if c.garden.support in led else c.water.height for c in tall]
    if heights:
        out.append(
            phrase(
                "tall crops stand at the {away} end of their beds; the tallest, {height} high, shade {far}: keep a "
                "path there",
                away=away,
                height=quantity(max(heights), "m"),
                far=_shadow(max(heights), latitude),
            )
        )
    runs = {c.name: c.garden.reach for p in plan.placings if (c := sowings[p.sowing].crop).garden.support == "runs"}
    out += [
        phrase(
            "{name}: its vines run {reach} out of the bed; leave path or rough ground beside it",
            name=name,
            reach=quantity(reach, "m"),
        )
        for name, reach in runs.items()
    ]
    return out


_WIDE = 0.45  # m between rows; narrower ones leave no light between them: common practice
_PULLED = 7  # days in which what is ready is pulled: common practice


@dataclass(frozen=True, slots=True)
class Between:
    """A quick crop between the rows of a slow one, sown on the day on which that takes to its bed.

    Attributes
    ----------
    crop, beside, bed : str
    metres : float
        Of row.
    sown, pulled : int
        Days of the year: sown, and pulled by, in nine years of ten.
    closes : int
        Day on which the leaves of the slow crop are half way to closing over.
    """

    crop: str
    beside: str
    bed: str
    metres: float
    sown: int
    pulled: int
    closes: int


def between_rows(
    quick: WayOutcome, sowings: Sequence[Sowing], plan: BedPlan, garden: Garden, odds: float
) -> tuple[Between, ...]:
    """Where a quick crop has its time between the rows of a slow one, at odds that are asked for.

    Leaves are half way to closing over in the middle of the development stage (FAO-56 figure 24 and Table 11, stages as
    shares of the season that the plan has).
    """
    out = []
    for p in plan.placings:
        slow, bed = sowings[p.sowing], garden.beds[p.bed]
        apart = slow.crop.garden.row_spacing / 100.0
        first = quick.found.first[:, slow.start]
        first = first[np.isfinite(first)]
        if slow.stands or slow.rain_fed or slow.crop.family == quick.crop.family or not apart >= _WIDE:
            continue
        if not first.size or not quick.found.reliability[slow.start] >= odds:
            continue
        turns = basal_of(slow.crop.water).turns
        free = 0.5 * (turns[0] + turns[1]) * float(np.median(slow.last))
        ready = float(np.quantile(first, 0.9)) + _PULLED
        if ready <= free:
            rows = round(bed.width / apart)
            metres = round((p.end - p.begin) * max(rows - 1, 1), 1)
            days = (slow.start, (slow.start + int(ready)) % 365, (slow.start + int(free)) % 365)
            out.append(Between(quick.crop.name, slow.crop.name, bed.name, metres, *days))
    return tuple(out)
