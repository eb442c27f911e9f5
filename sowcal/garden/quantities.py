"""How many plants of what, how much compost and mulch, what watering by hand would take, and what it may hurt."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from sowcal.crops.tables import known
from sowcal.garden.bed_ground import LAPPED, fence_length, path_area, path_litres, roots_near, water_of_kind
from sowcal.garden.beds import BedPlan
from sowcal.garden.garden_file import Bed, Garden
from sowcal.garden.gravity_feed import GravityResult
from sowcal.garden.schedule import Sowing
from sowcal.languages import counted, phrase, say
from sowcal.units import amount, quantities, quantity, told

__all__ = [
    "CAN",
    "CAN_MINUTES",
    "REASONABLE",
    "HandWatering",
    "PlantLine",
    "Volumes",
    "bed_volumes",
    "garden_cautions",
    "hand_watering",
    "kind_words",
    "plant_lines",
    "spare_words",
    "tree_words",
    "volume_words",
]

_ALL_AT_ONCE = 5.0  # times what is eaten in a week, in the best week: common practice
_GLUT = 1.25  # times what will do


@dataclass(frozen=True, slots=True)
class PlantLine:
    """One crop of the plan.

    Attributes
    ----------
    crop : str
    count : int
        Plants that stand in beds in a year.
    will_do : int
        Plants that the household can use, of all its sowings.
    surplus_share : float
        Share of the picking that is neither eaten nor keeps.
    picked : float
        kg in a mean year.
    area : float
        m2, all sowings.
    starts : tuple of int
        Days of the year.
    ways : tuple of str
        Way of each start.
    words : tuple of str
        Warnings and advice.
    """

    crop: str
    count: int
    will_do: int
    surplus_share: float
    picked: float
    area: float
    starts: tuple[int, ...]
    ways: tuple[str, ...]
    words: tuple[str, ...]


def _people(number: float) -> str:
    words: dict[float, str] = {1: "one person eats", 2: "two people eat", 3: "three people eat", 4: "four people eat"}
    return words.get(number, f"{number:g} people eat")


def _times(value: float) -> str:
    return f"{value:.0f}" if value >= 3 else f"{value:.1f}".removesuffix(".0")


def _words(sowings: list[Sowing], count: int, will_do: int, garden: Garden) -> tuple[str, ...]:
    row = sowings[0].crop.garden
    name = sowings[0].crop.name
    eat = _people(garden.household.people)
    best = max(s.plants.times_eaten for s in sowings)
    ways = [w for w in row.keeps.split("|") if w]
    kept = ", ".join(w for w in ways if w not in ("fresh in store", "in the ground"))
    out = []
    if will_do == 0:
        out.append(f"{count} {name}: nobody here eats it")
    elif count > _GLUT * will_do:
        times = max(count / will_do, 1.0)
        least = f"1 to {will_do}" if will_do <= 3 and will_do > 1 else str(will_do)
        out.append(
            f"{count} plants of {name} are {_times(times)} times what {eat}; {least} will do"
            + (f"; the rest can be {kept}" if kept else "")
        )
    if best > _ALL_AT_ONCE and np.isfinite(best):
        keeps = f", keeps {counted(row.keeps_weeks, 'week')}" if known(row.keeps_weeks) else ""
        food = "a week's food" if _times(best) == "1" else f"{_times(best)} weeks' food"
        out.append(f"comes all at once ({food} in the best week){keeps}")
    if sowings[0].stands:
        out.append(_life(sowings[0]))
    elif not sowings[0].advised:
        out.append(
            f"not an advised date: works in {counted(int(10 * max(s.reliability for s in sowings)), 'year')} in 10"
        )
    return tuple(out)


def _life(sowing: Sowing) -> str:
    """Where a perennial's life stands in words: verdict, first years without a crop, years it lives."""
    p = sowing.crop.perennial
    assert p is not None
    said = [f"stands for years ({sowing.word} here)"]
    if known(p.years_to_crop) and p.years_to_crop >= 1:
        said.append(f"bears from year {p.years_to_crop + 1:.0f} on")
    if known(p.years_of_life):
        said.append(f"lives some {counted(p.years_of_life, 'year')}")
    return ", ".join(said)


def plant_lines(sowings: list[Sowing], plan: BedPlan, garden: Garden) -> list[PlantLine]:
    """Crops of the plan in the order of their first start; those without a place in a bed are left out."""
    placed: dict[int, int] = defaultdict(int)
    area: dict[int, float] = defaultdict(float)
    for p in plan.placings:
        placed[p.sowing] += p.count
        area[p.sowing] += p.area
    by_crop: dict[str, list[int]] = defaultdict(list)
    for i in sorted(placed, key=lambda i: sowings[i].start):
        by_crop[sowings[i].crop.name].append(i)
    out = []
    for crop, numbers in by_crop.items():
        rows = [sowings[i] for i in numbers]
        count = sum(placed[i] for i in numbers)
        shares = [placed[i] / s.plants.count for i, s in zip(numbers, rows, strict=True)]
        picked = [f * s.plants.picked for f, s in zip(shares, rows, strict=True)]
        surplus = sum(p * s.plants.surplus for p, s in zip(picked, rows, strict=True))
        will_do = sum(s.plants.will_do for s in rows)
        out.append(
            PlantLine(
                crop=crop,
                count=count,
                will_do=will_do,
                surplus_share=surplus / sum(picked) if sum(picked) > 0 else 0.0,
                picked=sum(picked),
                area=sum(area[i] for i in numbers),
                starts=tuple(s.start for s in rows),
                ways=tuple(s.way for s in rows),
                words=_words(rows, count, will_do, garden),
            )
        )
    return out


BARROW = 80.0  # litres of a garden barrow, heaped: common practice
_BALE = (500.0, 800.0)  # loose litres that a small bale of straw (some 15 to 20 kg) shakes out to: common practice


@dataclass(frozen=True, slots=True)
class Volumes:
    """What lies on the soil.

    Attributes
    ----------
    compost, mulch : float
        Litres a year.
    fill : float
        Litres once, that fill raised beds or lie as a layer on ground or card.
    card : float
        m2, edges lapped.
    straw : float
        Litres of the mulch that are straw.
    paths, chips : float
        m2 of paths and litres of wood chips for them.
    """

    compost: float
    mulch: float
    fill: float
    card: float
    straw: float
    paths: float
    chips: float

    @property
    def barrows(self) -> int:
        """Barrow loads of a year's compost and mulch."""
        return round((self.compost + self.mulch) / BARROW)

    @property
    def bales(self) -> tuple[int, int]:
        """Fewest and most small bales of straw; none where there is no straw."""
        few, many = (math.ceil(self.straw / loose - 1e-9) for loose in reversed(_BALE))
        return few, many


def bed_volumes(garden: Garden) -> Volumes:
    """1 mm over 1 m2 is 1 litre; mulch lies on its share of the soil."""
    mulched = [(b, b.mulch or garden.mulch) for b in garden.beds]
    return Volumes(
        compost=garden.compost * garden.area,
        mulch=sum(m.litres(b.area) for b, m in mulched),
        fill=sum(b.area * b.height * 1000.0 for b in garden.beds if b.kind != "flat"),
        card=LAPPED * sum(b.area for b in garden.beds if b.kind == "card"),
        straw=sum(m.litres(b.area) for b, m in mulched if m.kind == "straw"),
        paths=path_area(garden),
        chips=path_litres(garden),
    )


def volume_words(garden: Garden) -> list[str]:
    """Litres, barrows, bales and m2 of what lies on beds and paths."""
    v = bed_volumes(garden)
    barrows = counted(v.barrows, "barrow load")
    bales = f"; the straw is {v.bales[0]} to {v.bales[1]} small bales" if v.straw else ""
    mulch = f" and {amount(v.mulch, 'litres', ',.0f')} of mulch" if v.mulch else ""
    out = [
        f"Spread in a year are {told(v.compost, 'litres', ',.0f')} of compost{mulch}: some {barrows} of "
        f"{told(BARROW, 'litres', '.0f')}{bales}."
    ]
    if v.fill:
        out.append(
            f"Filling the beds takes {told(v.fill, 'litres', ',.0f')} once, "
            f"{counted(round(v.fill / BARROW), 'barrow load')}; order a fifth more, for it settles."
        )
    if v.chips:
        out.append(
            f"The paths are {told(v.paths, 'm2', '.0f')} where the beds lie in one row: "
            f"{told(v.chips, 'litres', ',.0f')} of wood chips, "
            f"{counted(round(v.chips / BARROW), 'barrow load')}, topped up by a third each year; a "
            f"fence round it all is {told(fence_length(garden), 'm', '.0f')}."
        )
    return out


# What a kind does to warmth. What was measured is worth less than a window is unsure of, so that it moves no dates.
# Raised seedbeds: Hoppe, Mehring & Kandel 2017, Open Agriculture Journal 11:46-59 (abstract read). Ground unploughed
# under residue of maize and soybean against ploughed ground, at 10 cm in the month after planting: Shen and others
# 2018, Scientific Reports 8:4500 (abstract read). Of card and compost no measurement was read; the rest is common
# practice.
_WARMTH = {
    "raised": phrase(
        "raised seedbeds were {low} and {high} warmer than flat ones where it was measured, which is worth some days "
        "at most: the dates here are kept; it freezes sooner too",
        low=quantity(0.4, "degC apart", form="number"),
        high=quantity(0.8, "degC apart"),
    ),
    "card": "its soil stays cooler and wetter till the card has rotted (3 to 6 months); by how much was not measured, "
    "and the dates here are kept",
    "compost": "dark compost takes up more sun; by how much was not measured, and the dates here are kept",
}
_COOLED = phrase(
    "What lies on the soil keeps it cooler ({span} at {depth} in the weeks after planting, under crop residue on "
    "unploughed ground) and the nights above it colder: lay it once the soil is warm, draw it aside where seed is "
    "sown, and back when plants are a hand high. No date here is moved for it.",
    span=quantities(0, 1.5, "degC apart"),
    depth=quantity(10, "cm"),
)
_ADVICE = {
    "raised": "boarded sides halve what it dries",
    "card": "set plants through it in the first year and sow nothing fine; wet it well before it is covered",
    "compost": "sow into it once it has settled; it sinks by a third in a year",
}


def kind_words(garden: Garden) -> list[str]:
    """What raised beds, beds on card and on compost, and mulch do to water and warmth, and beds of another soil."""
    kinds: dict[str, list[Bed]] = defaultdict(list)
    for bed in garden.beds:
        kinds[bed.kind].append(bed)
    out = []
    said = {"raised": "Raised", "card": "On card", "compost": "On compost"}
    for kind, beds in kinds.items():
        if kind == "flat":
            continue
        low = min(water_of_kind(b)[0] for b in beds)
        high = max(water_of_kind(b)[1] for b in beds)
        names = ", ".join(b.name for b in beds)
        out.append(
            f"{said[kind]}, {names}: {low:.0%} to {high:.0%} of a flat bed's water (the middle is counted); "
            f"{say(_WARMTH[kind])}; {_ADVICE[kind]}."
        )
    soils = defaultdict(list)
    for bed in garden.beds:
        if bed.texture and bed.texture != garden.texture:
            soils[bed.texture].append(bed.name)
    out += [f"Of {texture}: {', '.join(names)}." for texture, names in soils.items()]
    laid = [m for b in garden.beds if (m := b.mulch or garden.mulch).lies and m.kind != "plastic"]
    return [*out, say(_COOLED)] if laid else out


_SPARE = 0.2  # of the beds; less is no land to speak of


def spare_words(plan: BedPlan) -> list[str]:
    """Land that nothing stands on even when most does."""
    spare = plan.there - float(plan.daily.sum(axis=0).max())
    if not plan.placings or spare < _SPARE * plan.there:
        return []
    used = plan.there - spare
    return [
        f"On the fullest day {amount(used, 'm2', '.0f')} of {told(plan.there, 'm2', '.0f')} are in use; "
        f"{told(spare, 'm2', '.0f')} are spare all year: "
        "for potatoes, dry beans or grain to store, to sell from, or to rest under green manure or a cover."
    ]


def tree_words(garden: Garden) -> list[str]:
    """Shade and roots of the trees that stand by the beds; the shade is in `garden` already."""
    out = []
    for tree in garden.trees:
        for name, far in tree.beds:
            bed = next(b for b in garden.beds if b.name == name)
            low, high = min(bed.shades), max(bed.shades)
            text = f"{tree.name}, {told(far, 'm')} from the middle of {name}: "
            text += f"with it {low:.0%} to {high:.0%} of the light go"
            if roots_near(tree, bed):
                text += "; its roots come into the bed: a tenth to two fifths more water (the middle is counted)"
            out.append(f"{text}.")
    return out


REASONABLE = 30.0  # minutes a day, all summer long: common practice, no source
CAN = 10.0  # litres, a common watering can
CAN_MINUTES = 2.5  # to fill, carry and pour out two cans a walk, for each can: common practice, no source


@dataclass(frozen=True, slots=True)
class HandWatering:
    """Minutes a day by week of the year, shape (weeks,), and the first week over the limit, from 1."""

    can: np.ndarray
    hose: np.ndarray
    can_stops: int | None
    hose_stops: int | None


def _first(minutes: np.ndarray, limit: float, first: int) -> int | None:
    over = np.flatnonzero(np.roll(minutes, -first) > limit)
    return int(over[0] + first) % minutes.size + 1 if over.size else None


def hand_watering(daily: np.ndarray, hose: float, limit: float = REASONABLE, *, first: int = 0) -> HandWatering:
    """Minutes a day for litres a day.

    Parameters
    ----------
    daily : array_like
        Litres a day, by week of the year.
    hose : float
        Flow of the hose, l min-1.
    limit : float
        Minutes a day that are still reasonable.
    first : int
        Week, from 0, from which the growing year is counted: south of the equator its summer lies over New Year.
    """
    daily = np.asarray(daily, dtype=float)
    can = daily / CAN * CAN_MINUTES
    by_hose = daily / hose
    return HandWatering(can, by_hose, _first(can, limit, first), _first(by_hose, limit, first))


# Ayers & Westcot 1985, FAO-29 Table 1, from memory: below 0.7 dS m-1 no restriction, above 3 severe
_SALTY, _VERY_SALTY = 0.7, 3.0


def _of_tanks(garden: Garden) -> list[str]:
    water = garden.water
    tonnes = max(water.tanks) / 1000.0
    weight = quantity(water.capacity / 1000.0, "t")
    row = phrase(" {count} of them in a row are {weight} on one terrace.", count=len(water.tanks), weight=weight)
    return [
        phrase(
            "A full tank of {water} weighs about {weight} and more with its shell: on a slope or a made-up stand it "
            "can slide or topple and kill; have the footing judged by somebody licensed before it is filled.{row}",
            water=quantity(max(water.tanks), "litres", ",.0f"),
            weight=quantity(tonnes, "t"),
            row=row if len(water.tanks) > 1 else "",
        ),
        "Never use second-hand containers that held anything but food for water that touches crops eaten "
        "raw; ask what was in them, and do without where nobody knows.",
        "Keep tanks lidded, dark and screened with mesh: standing water breeds mosquitoes, and a child "
        "drowns in little water. Nobody climbs on a tank or into it.",
        "A pipe that breaks at night empties the tanks down the slope: close the outlet by hand when nobody is there, "
        "and let pressure off before anything is opened.",
    ]


def _of_soil(garden: Garden) -> list[str]:
    out = []
    if garden.compost > 0.0 or any((b.mulch or garden.mulch).kind in ("straw", "compost") for b in garden.beds):
        out.append(
            "Straw, manure and bought compost may hold weedkiller that outlives composting: sow beans in a pot of it, "
            "and use none of it where they come up twisted within three weeks."
        )
    if garden.beds:
        out.append(
            "In town, by old paint, roads or works, have the soil tested for lead and arsenic before roots and leaves "
            "are eaten from it; build beds of no treated timber, and lay no glossy or printed card."
        )
        out.append(
            phrase(
                "Before digging by machine ask where cables and pipes lie; tetanus lives in soil: keep the vaccination "
                "up. A barrow of wet compost weighs {weight}: load less, lift with the legs.",
                weight=quantities(40, 60, "kg", ".0f"),
            )
        )
    return out


def _of_heat(daily: float) -> list[str]:
    if daily <= 0.0:
        return []
    return [
        "Water and dig before 10 or after 18 h in summer, in a hat, with drinking water at hand: who stops sweating, "
        "is giddy or confused has heat stroke; cool them and call for help at once.",
        phrase(
            "Water that stands warm in hose or tank ({span}) can carry Legionella: let the first of it run off, do "
            "not make a mist, and wear a mask when warm compost is turned.",
            span=quantities(20, 45, "degC"),
        ),
    ]


def _of_fire(garden: Garden) -> list[str]:
    last = quantity(1, "thousand litres", form="unit")
    keep = phrase("keep the last {water}, and ", water=last) if garden.water.tanks else ""
    dry = (
        any((b.mulch or garden.mulch).kind in ("straw", "wood chips") for b in garden.beds) or garden.paths.width > 0.0
    )
    said = phrase("Where fires run in summer {keep}lay no dry straw or chips by the house.", keep=keep)
    return [said] if keep or dry else []


def garden_cautions(
    garden: Garden, gravity: GravityResult | None, crop_cautions: list[str], *, daily: float = 0.0
) -> list[str]:
    """Sentences, the gravest first.

    Parameters
    ----------
    garden : Garden
    gravity : GravityResult or None
    crop_cautions : list of str
        Of the crops that stand in the beds.
    daily : float
        Litres a day that the garden draws when it draws most.
    """
    water = garden.water
    out = _of_tanks(garden) if water.tanks else []
    out += [*_of_fire(garden), *_of_heat(daily)]
    if water.roof > 0.0:
        out.append(
            "Roofs shed zinc, lead and soot: let the first rain after a dry time run past the tank, and water soil, "
            "not leaves."
        )
    if water.pond:
        out.append("An open pond needs a fence that a child cannot climb, and a shallow way out for animals.")
    if water.pond or water.pump:
        out.append(
            "A pump in pond or well wants a residual-current device of 30 mA, fitted by a licensed person: water and "
            "current kill together. Nobody goes down a well."
        )
    if water.tanks or water.pond or water.refill:
        out.append(
            "Do not put untreated surface or roof water on the parts of salad and other crops that are eaten "
            "raw; water the soil, not the leaves, and wash what is picked in drinking water."
        )
    if water.refill or water.pond:
        out.append("Drawing on a stream, spring or well may need leave: ask what the local rules on abstraction say.")
    out.append(
        "A licensed person does what holds pressure, is electric, joins the mains (with a device against "
        "backflow) or moves earth; local codes come first."
    )
    if water.salinity > _VERY_SALTY:
        out.append(
            f"Water of {water.salinity:g} dS/m harms most vegetables; have it tested before anything is planted."
        )
    elif water.salinity > _SALTY:
        out.append(
            f"Water of {water.salinity:g} dS/m lowers the yield of beans, carrot, onion and strawberry; water "
            "more at a time so that some drains."
        )
    if gravity is not None and not gravity.works and garden.beds:
        out.append(phrase("Gravity will not feed the drip lines: {why}.", why=gravity.why))
    return out + _of_soil(garden) + list(dict.fromkeys(crop_cautions))
