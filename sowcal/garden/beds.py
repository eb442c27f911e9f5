"""Sowings placed in beds: a part of a bed in metres for each, on every day of its stay, and what does not fit.

Two crops never stand on the same metre on the same day, and no more than two families stand in a bed at a time.
Staples go before what few eat, the first sowing of each crop before its successions. Tall crops begin at the end that
is away from the midday sun, so that they shade nothing; the others begin at the other end.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from sowcal.crops.tables import Crop, known
from sowcal.garden.garden_file import Bed
from sowcal.garden.plants import area_of
from sowcal.garden.schedule import LeftOut, Sowing, median_span
from sowcal.languages import counted, phrase
from sowcal.units import quantity
from sowcal.year import MONTH_NAMES, MONTH_STARTS, YEAR, day_text, long_day_text

__all__ = [
    "BedPlan",
    "Move",
    "Placing",
    "allot_beds",
    "is_tall",
    "month_shares",
    "rotation_moves",
    "rotation_notes",
    "waits_of_moves",
]

_MONTH_EDGES = np.array([*MONTH_STARTS, YEAR])
_TREE = 2.0  # m between plants
_TALL = 1.0  # m; what is higher, or climbs, shades its neighbours: common practice
_CRUMB = 0.2  # a smaller part of a sowing is left out unsaid, not given a place of its own
_MUCH = 0.5  # of a bed; a part of so much is worth its place however large the sowing is: common practice
_FAMILIES = 2  # in a bed at a time, so that one can see what belongs together: common practice
_STEP = 0.05  # m to which parts of a bed are measured off
_STAPLES_KEPT = 0.9  # of the staples that would stand without perennials: what stands for years gives way to them
_HOUSEHOLD = {"most": 0, "many": 1, "few": 2}
_YEARS = 4  # of rotation that are planned ahead


@dataclass(frozen=True, slots=True)
class Placing:
    """Plants of one sowing in one part of a bed; `sowing` is its place in the plan's list.

    `begin` and `end` are metres from the end of the bed that is away from the midday sun.
    """

    sowing: int
    bed: int
    count: int
    area: float
    begin: float
    end: float


@dataclass(frozen=True, slots=True)
class BedPlan:
    """What stands where.

    Attributes
    ----------
    placings : tuple of Placing
    needed : numpy.ndarray
        m2 needed by all sowings wished for, mean of each month, shape (12,).
    there : float
        m2 of bed.
    daily : numpy.ndarray
        m2 in use on each day of the year, shape (beds, 365).
    left_out : tuple of LeftOut
    """

    placings: tuple[Placing, ...]
    needed: np.ndarray
    there: float
    daily: np.ndarray
    left_out: tuple[LeftOut, ...]

    @property
    def used(self) -> np.ndarray:
        """m2 in use, mean of each month, shape (beds, 12)."""
        return np.add.reduceat(self.daily, _MONTH_EDGES[:-1], axis=1) / np.diff(_MONTH_EDGES)

    @property
    def used_in_all(self) -> np.ndarray:
        """m2 in use in all beds together, by month, shape (12,)."""
        return self.used.sum(axis=0)


def month_shares(start: int, end: int) -> np.ndarray:
    """Share of each month's days that a span of the year takes, both ends within, shape (12,)."""
    return np.add.reduceat(_taken(start, end), _MONTH_EDGES[:-1]) / np.diff(_MONTH_EDGES)


def _taken(start: int, end: int) -> np.ndarray:
    """1 on the days of a span of the year, both ends within, shape (365,)."""
    days = np.zeros(365)
    days[(start + np.arange((end - start) % 365 + 1)) % 365] = 1.0
    return days


def _bits(start: int, end: int) -> int:
    """The days of a span as bits; what lies beyond the year's end is told on its first days too."""
    length = (end - start) % 365 + 1
    run = ((1 << length) - 1) << start
    return run | run >> 365


def is_tall(crop: Crop) -> bool:
    """Whether it shades what stands beside it: what is high, or is led up stakes, poles, nets or wires."""
    return crop.garden.support in ("stakes", "poles", "net", "wires") or (
        known(crop.water.height) and crop.water.height > _TALL
    )


def _wide_enough(sowing: Sowing, bed: Bed) -> bool:
    """Whether a tree or large shrub can stand there: half its spacing must find room across the bed (common
    practice); small plants fit anywhere."""
    spacing = np.sqrt(area_of(sowing.crop.garden, 1))
    return not sowing.stands or spacing < _TREE or min(bed.length, bed.width) >= 0.5 * spacing


def _ranks(sowings: Sequence[Sowing]) -> list[int]:
    """Place of each sowing among those of its crop, the best first."""
    order = sorted(range(len(sowings)), key=lambda i: -(sowings[i].reliability * sowings[i].yield_fraction))
    seen: dict[str, int] = defaultdict(int)
    out = [0] * len(sowings)
    for i in order:
        name = sowings[i].crop.name
        out[i], seen[name] = seen[name], seen[name] + 1
    return out


def _is_staple(sowing: Sowing) -> bool:
    return sowing.crop.garden.household == "most" and not sowing.stands


def _order(sowings: Sequence[Sowing], scarce: bool) -> list[int]:
    """The order in which they are given their places.

    What stands for years first, for it needs its place all year; then first sowings, staples before the rest, then
    successions. Where room is scarce small ones go before large ones, so that there is something of each.
    """
    ranks = _ranks(sowings)

    def key(i: int) -> tuple[float, ...]:
        s = sowings[i]
        eaten = 0 if ranks[i] else _HOUSEHOLD.get(s.crop.garden.household, 2)
        return (not s.stands, ranks[i], eaten, s.area if scarce else -s.area, s.start, i)

    return sorted(range(len(sowings)), key=key)


@dataclass(slots=True)
class _Filling:
    """A bed as it fills: parts taken with the days of their stay and whether tall, and the families of each day."""

    bed: Bed
    number: int
    held: float = 0.0  # mm of water that roots can draw from its soil
    parts: list[tuple[float, float, int, bool]] = field(default_factory=list)
    families: dict[str, int] = field(default_factory=dict)

    def takes(self, family: str, days: int) -> bool:
        """Whether no day would see more families than it may."""
        counts = [days] + [0] * _FAMILIES  # days on which at least so many other families stand
        for other, there in self.families.items():
            if other != family:
                for k in range(_FAMILIES, 0, -1):
                    counts[k] |= counts[k - 1] & there
        return not counts[_FAMILIES]

    def gaps(self, days: int, tall: bool) -> list[tuple[float, float]]:
        """Parts that are free on all those days, where nothing tall would stand on the sunny side of what is not."""
        free, at = [], 0.0
        there = sorted(p for p in self.parts if p[2] & days)
        low = max((end for _, end, _, high in there if high and not tall), default=0.0)
        top = min((begin for begin, _, _, high in there if tall and not high), default=self.bed.length)
        for begin, end in (*((p[0], p[1]) for p in there), (self.bed.length, self.bed.length)):
            free.append((max(at, low), min(begin, top)))
            at = max(at, end)
        return [(begin, end) for begin, end in free if end > begin + 1e-9]

    def fits(self, days: int, each: float, tall: bool) -> int:
        """Most plants that one free part has room for."""
        longest = max((end - begin for begin, end in self.gaps(days, tall)), default=0.0)
        return math.floor(longest * self.bed.width / each + 1e-6)

    def place(self, sowing: Sowing, days: int, count: int, each: float) -> tuple[float, float]:
        """Take the part for so many plants: tall ones nearest one end, the others nearest the other."""
        length = count * each / self.bed.width
        tall = is_tall(sowing.crop)
        fitting = [g for g in self.gaps(days, tall) if g[1] - g[0] >= length - 1e-6]
        begin, end = fitting[0] if tall else fitting[-1]
        room = min(math.ceil(length / _STEP - 1e-6) * _STEP, end - begin)
        part = (begin, begin + room) if tall else (end - room, end)
        self.parts.append((*part, days, tall))
        family = sowing.crop.family
        self.families[family] = self.families.get(family, 0) | days
        return part


def _room(filling: _Filling, sowing: Sowing, days: int, each: float) -> int:
    """Most plants that a bed could take in one part, 0 where it does not serve at all."""
    if not _wide_enough(sowing, filling.bed) or not filling.takes(sowing.crop.family, days):
        return 0
    return filling.fits(days, each, is_tall(sowing.crop))


def _preference(filling: _Filling, sowing: Sowing, each: float, left: int, room: int) -> tuple[float, ...]:
    """How well a bed with room for some plants would serve, the higher the better."""
    stay = month_shares(*sowing.place_taken)
    shade = float(stay @ np.array(filling.bed.shades)) / max(float(stay.sum()), 1e-9)
    if sowing.crop.growth.habit == "leaf":
        shade *= 0.3
    # perennials keep company, so that the other beds stay free for what moves on
    at_home = bool(filling.families) if sowing.stands else sowing.crop.family in filling.families
    # trees keep to the last beds, for small crops fill the first ones
    order = filling.number if sowing.stands and each >= 1.0 else -filling.number
    # what lives on rain alone goes where the soil holds most of it
    held = sowing.rain_fed * round(filling.held, -1)
    return (room >= left, min(room, left), held, -round(shade, 1), at_home, not filling.families, order)


def _filled(
    sowings: Sequence[Sowing], beds: tuple[Bed, ...], held: Sequence[float], without: Iterable[int] = ()
) -> list[Placing]:
    """Places of all sowings but some."""
    fillings = [_Filling(bed, number, water) for number, (bed, water) in enumerate(zip(beds, held, strict=True))]
    peak = _use([(s.area, *s.place_taken) for s in sowings]).max(initial=0.0)
    scarce = peak > sum(b.area for b in beds)
    out = []
    for i in _order(sowings, bool(scarce)):
        sowing, left = sowings[i], sowings[i].plants.count
        if i in without or left <= 0:
            continue
        days, each = _bits(*sowing.place_taken), area_of(sowing.crop.garden, 1)
        least = max(1, math.ceil(_CRUMB * left - 1e-9))
        rooms = {f.number: room for f in fillings if (room := _room(f, sowing, days, each))}
        while left and rooms:
            number = max(rooms, key=lambda n: _preference(fillings[n], sowing, each, left, rooms[n]))
            best, count = fillings[number], min(left, rooms[number])
            if count < least and count * each < _MUCH * best.bed.area:
                break
            begin, end = best.place(sowing, days, count, each)
            out.append(Placing(i, number, count, count * each, round(begin, 6), round(end, 6)))
            left -= count
            rooms[number] = _room(best, sowing, days, each)
            if not rooms[number]:
                del rooms[number]
    return out


def _use(spans: Iterable[tuple[float, int, int]]) -> np.ndarray:
    """m2 in use on each day of areas that each take a span of the year, shape (365,)."""
    total = np.zeros(365)
    for area, start, end in spans:
        total += area * _taken(start, end)
    return total


def _staples(sowings: Sequence[Sowing], placings: Iterable[Placing]) -> float:
    """How many first sowings of staples have their place, parts of one counted as such."""
    ranks = _ranks(sowings)
    return sum(
        p.count / sowings[p.sowing].plants.count
        for p in placings
        if _is_staple(sowings[p.sowing]) and ranks[p.sowing] == 0
    )


def _with_room_for_staples(
    sowings: Sequence[Sowing], beds: tuple[Bed, ...], held: Sequence[float]
) -> tuple[list[Placing], list[int]]:
    """Places, and the perennials that had to give way so that staples have theirs."""
    standing = sorted((i for i, s in enumerate(sowings) if s.stands), key=lambda i: -sowings[i].area)
    placings = _filled(sowings, beds, held)
    if not standing:
        return placings, []
    wanted = _STAPLES_KEPT * _staples(sowings, _filled(sowings, beds, held, standing))
    given_way: list[int] = []
    while standing and _staples(sowings, placings) < wanted - 1e-9:
        # the one without which most staples stand; of several the largest
        tried = [(i, _filled(sowings, beds, held, [*given_way, i])) for i in standing]
        out, placings = max(tried, key=lambda t: _staples(sowings, t[1]))
        standing.remove(out)
        given_way.append(out)
    return placings, given_way


def allot_beds(sowings: list[Sowing], beds: tuple[Bed, ...], held: Sequence[float] = ()) -> BedPlan:
    """Give every sowing its part of a bed.

    Parameters
    ----------
    sowings : list of Sowing
    beds : tuple of Bed
        May be empty: then nothing fits.
    held : sequence of float
        mm of water that the soil of each bed holds for roots; all alike where left out.

    Returns
    -------
    BedPlan
        On no day is a bed fuller than it is large.
    """
    there = sum(b.area for b in beds)
    months = np.array([month_shares(*s.place_taken) for s in sowings])
    area = np.array([s.area for s in sowings])
    needed = (area[:, None] * months).sum(axis=0) if sowings else np.zeros(12)
    if not sowings or not beds:
        why = "there are no beds" if not beds else ""
        left = tuple(LeftOut(s.crop.name, why) for s in sowings)
        return BedPlan((), needed, there, np.zeros((len(beds), 365)), left)
    placings, given_way = _with_room_for_staples(sowings, beds, held or [0.0] * len(beds))
    spans: dict[int, list[tuple[float, int, int]]] = defaultdict(list)
    for p in placings:
        spans[p.bed].append(((p.end - p.begin) * beds[p.bed].width, *sowings[p.sowing].place_taken))
    daily = np.array([_use(spans[b]) for b in range(len(beds))])
    return BedPlan(
        tuple(sorted(placings, key=lambda p: (p.sowing, p.bed, p.begin))),
        needed,
        there,
        daily,
        tuple(_left_out(sowings, placings, months, daily, beds, given_way)),
    )


def _left_out(
    sowings: list[Sowing],
    placings: list[Placing],
    months: np.ndarray,
    daily: np.ndarray,
    beds: tuple[Bed, ...],
    given_way: list[int],
) -> list[LeftOut]:
    placed: dict[int, int] = defaultdict(int)
    for p in placings:
        placed[p.sowing] += p.count
    there = max(sum(b.area for b in beds), 1e-9)
    full = np.add.reduceat(daily.sum(axis=0), _MONTH_EDGES[:-1]) / np.diff(_MONTH_EDGES) / there
    out = []
    for i, sowing in enumerate(sowings):
        lacks = sowing.plants.count - placed[i]
        if lacks <= 0 or lacks < _CRUMB * sowing.plants.count:
            continue
        each = area_of(sowing.crop.garden, 1)
        if not any(_wide_enough(sowing, b) and b.area >= each for b in beds):
            why = phrase(
                "one plant takes {each} and no bed has so much room, wide enough; give it a bed of its own",
                each=quantity(each, "m2", ".0f"),
            )
            out.append(LeftOut(sowing.crop.name, why))
            continue
        if i in given_way:
            why = phrase(
                "its {area} all year would push out what feeds the house; give it ground of its own",
                area=quantity(sowing.area, "m2", ".1f"),
            )
            out.append(LeftOut(sowing.crop.name, why))
            continue
        tight = int(np.argmax(np.where(months[i] > 0, full, -1.0)))
        count = sowing.plants.count
        which = (
            ("the plant" if count == 1 else f"the {count} plants")
            if placed[i] == 0
            else f"{lacks} of {counted(count, 'plant')}"
        )
        many = "does" if count == 1 else "do"
        out.append(
            LeftOut(
                sowing.crop.name,
                f"{which} of {long_day_text(sowing.start)} {many} not fit: no bed has so much room beside at most one "
                f"other family (all together are {full[tight]:.0%} full in {MONTH_NAMES[tight]})",
            )
        )
    return out


@dataclass(frozen=True, slots=True)
class Move:
    """A bed in the years of rotation: of each year the bed whose plan it takes over, and its families."""

    bed: int
    takes: tuple[int, ...]
    families: tuple[tuple[str, ...], ...]


def _families_of(sowings: Sequence[Sowing], plan: BedPlan, bed: int) -> tuple[str, ...]:
    """Families of annuals in a bed, in the order of their start."""
    rows = sorted((p for p in plan.placings if p.bed == bed), key=lambda p: sowings[p.sowing].start)
    return tuple(dict.fromkeys(s.crop.family for p in rows if not (s := sowings[p.sowing]).stands))


def rotation_moves(sowings: list[Sowing], plan: BedPlan, beds: tuple[Bed, ...]) -> tuple[Move, ...]:
    """Where the plan of each bed goes in four years: on by so many beds a year as lets families rest longest.

    Beds change places with beds of their size; those with perennials stay.
    """
    stays = {p.bed for p in plan.placings if sowings[p.sowing].stands}
    families = [_families_of(sowings, plan, b) for b in range(len(beds))]
    takes = {b: (b,) * _YEARS for b in range(len(beds))}
    alike: dict[tuple[float, float], list[int]] = defaultdict(list)
    for b, bed in enumerate(beds):
        if b not in stays:
            alike[round(bed.length, 2), round(bed.width, 2)].append(b)
    for group in alike.values():
        n = len(group)
        if n == 1:
            continue

        def comes_back(step: int, group: list[int] = group, n: int = n) -> float:
            """How much of its families a bed meets again, the sooner the worse."""
            met = 0.0
            for k in range(n):
                for later in range(1, _YEARS):
                    before = families[group[(k - step * later) % n]]
                    met += len(set(before) & set(families[group[k]])) / later
            return met

        step = min(range(1, n), key=comes_back)
        for k, b in enumerate(group):
            takes[b] = tuple(group[(k - step * year) % n] for year in range(_YEARS))
    return tuple(Move(b, takes[b], tuple(families[s] for s in takes[b])) for b in range(len(beds)))


def waits_of_moves(sowings: list[Sowing], plan: BedPlan, beds: tuple[Bed, ...], moves: tuple[Move, ...]) -> list[str]:
    """What must wait in the second year, until what stood over New Year is cleared."""
    out = []
    by_bed: dict[int, list[Placing]] = defaultdict(list)
    for p in plan.placings:
        by_bed[p.bed].append(p)
    for move in moves:
        if move.takes[1] == move.bed:
            continue
        for old in by_bed[move.bed]:
            start, last = sowings[old.sowing].place_taken
            if last >= start:
                continue
            for new in by_bed[move.takes[1]]:
                begins, ends = sowings[new.sowing].place_taken
                if begins <= last and begins <= ends and new.begin < old.end - 1e-6 and old.begin < new.end - 1e-6:
                    out.append(
                        f"in its second year {beds[move.bed].name} holds {sowings[old.sowing].crop.name} to "
                        f"{day_text(last)}: {sowings[new.sowing].crop.name} of {day_text(begins)} waits for it or "
                        "takes another end"
                    )
    return list(dict.fromkeys(out))


def rotation_notes(sowings: list[Sowing], plan: BedPlan, beds: tuple[Bed, ...]) -> list[str]:
    """What must not follow what: families that come back too soon, and bad followers within the year."""
    beds_of: dict[str, set[int]] = defaultdict(set)
    gap: dict[str, float] = {}
    by_bed: dict[int, list[int]] = defaultdict(list)
    for p in plan.placings:
        if sowings[p.sowing].stands:  # it does not move on
            continue
        crop = sowings[p.sowing].crop
        beds_of[crop.family].add(p.bed)
        by_bed[p.bed].append(p.sowing)
        years = crop.garden.gap_years
        if known(years):
            gap[crop.family] = max(gap.get(crop.family, years), years)
    out: list[str] = []
    short = []
    for family in sorted(gap):
        taken = len(beds_of[family])
        turns = len(beds) // taken - 1  # years a bed rests from the family when it moves on every year
        if gap[family] >= 1 and turns < gap[family]:
            rest = f"{turns} of {counted(gap[family], 'year')}"
            short.append(f"{family} ({taken} of {counted(len(beds), 'bed')}; {rest})")
    if short:
        out.append(f"moved on every year, beds rest too briefly from families: {', '.join(short)}")
    again: dict[str, set[str]] = defaultdict(set)
    for bed, inside in by_bed.items():
        for a in inside:
            for b in inside:
                bad = {w.strip() for w in sowings[b].crop.garden.not_after.split("|")} - {""}
                before, after = sowings[a], sowings[b]
                wait = (after.start - median_span(before)[2]) % 365
                if a != b and wait < 120 and {before.crop.family, before.crop.name, before.crop.kind} & bad:
                    again[beds[bed].name].add(after.crop.family)
    if again:
        where = "; ".join(f"{name}: {', '.join(sorted(again[name]))}" for name in sorted(again))
        out.append(f"within the year a family follows its own kind; give it the other end of the bed ({where})")
    return out
