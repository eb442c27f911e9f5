"""Sowings allotted to beds by month with linear programming, what does not fit, and rotation by family.

`scipy.optimize.linprog` shares each sowing out over beds so that no bed is fuller than it is large in any
month; the first sowing of each crop goes before its successions. Shares are then made whole plants.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from sowcal.crops.tables import known
from sowcal.garden.garden_file import Bed
from sowcal.garden.plants import area_of
from sowcal.garden.schedule import LeftOut, Sowing, median_span
from sowcal.plurals import counted
from sowcal.year import MONTH_NAMES, long_day_text

__all__ = ["BedPlan", "Placing", "allot_beds", "month_shares", "rotation_notes"]

_MONTH_STARTS = np.array([0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365])
_SUCCESSION = 0.6  # worth of each further sowing of a crop against the one before: common practice
_SHADE_COSTS = 0.8  # of a full crop in full shade, for crops that are not leaves: common practice
_LEAF_SHADE_COSTS = 0.3
_STANDS = 10.0  # what stays for years is given its place before what comes and goes
_PATIENCE = 10.0  # seconds for the best sharing out; then the best found so far
_EARLIER = 1e-3  # beds are filled in their order where nothing else decides
_AT_HOME = 0.03  # more worth in a bed of its own family, so that families can move on together
_TREE = 2.0  # m between plants
_CRUMB = 0.2  # a smaller part of a sowing is put with the rest where there is room, else left out unsaid


@dataclass(frozen=True, slots=True)
class Placing:
    """Plants of one sowing in one bed; `sowing` is its place in the plan's list."""

    sowing: int
    bed: int
    count: int
    area: float


@dataclass(frozen=True, slots=True)
class BedPlan:
    """What stands where.

    Attributes
    ----------
    placings : tuple of Placing
    needed, there : numpy.ndarray
        m2 needed by all sowings wished for, and m2 of bed, by month, shape (12,).
    used : numpy.ndarray
        m2 in use, shape (beds, 12).
    left_out : tuple of LeftOut
    """

    placings: tuple[Placing, ...]
    needed: np.ndarray
    there: float
    used: np.ndarray
    left_out: tuple[LeftOut, ...]

    @property
    def used_in_all(self) -> np.ndarray:
        """m2 in use in all beds together, by month, shape (12,)."""
        return self.used.sum(axis=0)


def month_shares(start: int, end: int) -> np.ndarray:
    """Share of each month's days that a span of the year takes, both ends within, shape (12,)."""
    days = np.zeros(365)
    length = (end - start) % 365 + 1
    days[(start + np.arange(length)) % 365] = 1.0
    return np.add.reduceat(days, _MONTH_STARTS[:-1]) / np.diff(_MONTH_STARTS)


def _wide_enough(sowing: Sowing, bed: Bed) -> bool:
    """Whether a tree or large shrub can stand there: half its spacing must find room across the bed (common
    practice); small plants fit anywhere."""
    spacing = np.sqrt(area_of(sowing.crop.garden, 1))
    return not sowing.stands or spacing < _TREE or min(bed.length, bed.width) >= 0.5 * spacing


def _worths(sowings: list[Sowing]) -> np.ndarray:
    """Worth of placing all of each sowing: 1 for the best of a crop, less for its successions."""
    order = sorted(range(len(sowings)), key=lambda i: -(sowings[i].reliability * sowings[i].yield_fraction))
    rank: dict[str, int] = defaultdict(int)
    out = np.zeros(len(sowings))
    for i in order:
        name = sowings[i].crop.name
        out[i] = _SUCCESSION ** rank[name] * (_STANDS if sowings[i].stands else 1.0)
        rank[name] += 1
    return out


def _at_home(sowings: list[Sowing], beds: tuple[Bed, ...], months: np.ndarray) -> np.ndarray:
    """Whether a bed is one of the sowing's family, shape (sowings, beds).

    Families lie one after the other along the beds, the largest first, each as wide as its fullest month.
    """
    ends = np.cumsum([b.area for b in beds])
    begins, total = ends - [b.area for b in beds], float(ends[-1])
    peak: dict[str, np.ndarray] = defaultdict(lambda: np.zeros(12))
    for sowing, share in zip(sowings, months, strict=True):
        peak[sowing.crop.family] = peak[sowing.crop.family] + sowing.area * share
    home: dict[str, np.ndarray] = {}
    place = 0.0
    for family in sorted(peak, key=lambda f: (-peak[f].max(), f)):
        width = min(float(peak[family].max()), total)
        spans = ((place, place + width), (place - total, place + width - total))
        home[family] = np.logical_or.reduce([(begins < b - 1e-9) & (ends > a + 1e-9) for a, b in spans])
        place = (place + width) % total
    return np.array([home[s.crop.family] for s in sowings])


def _shares(sowings: list[Sowing], beds: tuple[Bed, ...], months: np.ndarray) -> np.ndarray:
    """Share of each sowing in each bed, shape (sowings, beds), by linear programming."""
    from scipy.optimize import linprog
    from scipy.sparse import coo_matrix, vstack

    n, m = len(sowings), len(beds)
    area = np.array([s.area for s in sowings])
    room = np.array([b.area for b in beds])
    shade = np.array([b.shade for b in beds])
    costs = np.array([_LEAF_SHADE_COSTS if s.crop.growth.habit == "leaf" else _SHADE_COSTS for s in sowings])
    worth = _worths(sowings)[:, None] * (1.0 - costs[:, None] * shade[None, :])
    worth = worth * (1.0 + _AT_HOME * _at_home(sowings, beds, months))
    worth = worth * (1.0 - _EARLIER * np.arange(m)[None, :] / max(m, 1))
    i, j = np.divmod(np.arange(n * m), m)
    whole = coo_matrix((np.ones(n * m), (i, np.arange(n * m))), shape=(n, n * m))
    rows, columns, values = [], [], []
    for month in range(12):
        takes = months[i, month] * area[i]
        on = takes > 0
        rows.append(month * m + j[on])
        columns.append(np.flatnonzero(on))
        values.append(takes[on])
    bounds = coo_matrix(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))), shape=(12 * m, n * m)
    )
    # what stands for years and takes a square metre and more comes as whole plants, or its room would be lost
    large = np.array([s.stands and area_of(s.crop.garden, 1) >= 1.0 for s in sowings])
    whole_ones = np.where(large, [s.plants.count for s in sowings], 1)
    wide = np.array([[_wide_enough(s, b) for b in beds] for s in sowings])
    scale = whole_ones[i].astype(float)
    answer = linprog(
        -worth.ravel() / scale,
        A_ub=vstack([whole, bounds]).tocsr().multiply(1.0 / scale[None, :]).tocsr(),
        b_ub=np.concatenate([np.ones(n), np.tile(room, 12)]),
        bounds=np.stack([np.zeros(n * m), scale * wide.ravel()], axis=1),
        integrality=large[i].astype(int),
        method="highs",
        options={"time_limit": _PATIENCE, "mip_rel_gap": 1e-3},
    )
    return np.zeros((n, m)) if answer.x is None else (answer.x / scale).reshape(n, m)


def _whole_plants(
    sowings: list[Sowing], beds: tuple[Bed, ...], shares: np.ndarray, months: np.ndarray
) -> list[Placing]:
    """Shares as whole plants: rounded down, then all that is left over goes where there is room, the worthiest first,
    to where its kind stands already before it goes among others."""
    used = np.zeros((len(beds), 12))
    counts = np.zeros(shares.shape, dtype=int)
    room = np.array([b.area for b in beds])[:, None]
    each = [area_of(s.crop.garden, 1) for s in sowings]
    for i, sowing in enumerate(sowings):
        counts[i] = np.floor(shares[i] * sowing.plants.count + 1e-6)
        counts[i][(counts[i] < _CRUMB * sowing.plants.count) & (counts[i] < counts[i].max())] = 0
        used += counts[i][:, None] * each[i] * months[i][None, :]
    worths = _worths(sowings)
    for i in sorted(range(len(sowings)), key=lambda i: -worths[i]):
        count = sowings[i].plants.count
        left = count - int(counts[i].sum())
        takes = each[i] * months[i]
        for b in np.argsort(-counts[i], kind="stable"):
            with np.errstate(divide="ignore"):
                fits = np.min(np.where(takes > 0, (room[b] - used[b]) / np.maximum(takes, 1e-12), np.inf))
            more = max(0, min(left, math.floor(fits + 1e-9)))
            if counts[i, b] == 0 and (more < _CRUMB * count or not _wide_enough(sowings[i], beds[b])):
                continue
            counts[i, b] += more
            used[b] += more * takes
            left -= more
    return [
        Placing(i, b, int(counts[i, b]), float(counts[i, b] * each[i]))
        for i, b in zip(*np.nonzero(counts), strict=True)
    ]


def allot_beds(sowings: list[Sowing], beds: tuple[Bed, ...]) -> BedPlan:
    """Share the sowings out over the beds.

    Parameters
    ----------
    sowings : list of Sowing
    beds : tuple of Bed
        May be empty: then nothing fits.

    Returns
    -------
    BedPlan
    """
    there = sum(b.area for b in beds)
    months = np.array([month_shares(*s.place_taken) for s in sowings]).reshape(-1, 12)
    area = np.array([s.area for s in sowings])
    needed = (area[:, None] * months).sum(axis=0) if sowings else np.zeros(12)
    if not sowings or not beds:
        why = "there are no beds" if not beds else ""
        left = tuple(LeftOut(s.crop.name, why) for s in sowings)
        return BedPlan((), needed, there, np.zeros((len(beds), 12)), left)
    placings = _whole_plants(sowings, beds, _shares(sowings, beds, months), months)
    used = np.zeros((len(beds), 12))
    for p in placings:
        used[p.bed] += p.area * months[p.sowing]
    return BedPlan(tuple(placings), needed, there, used, tuple(_left_out(sowings, placings, months, used, there, beds)))


def _left_out(
    sowings: list[Sowing],
    placings: list[Placing],
    months: np.ndarray,
    used: np.ndarray,
    there: float,
    beds: tuple[Bed, ...],
) -> list[LeftOut]:
    placed: dict[int, int] = defaultdict(int)
    for p in placings:
        placed[p.sowing] += p.count
    full = used.sum(axis=0) / max(there, 1e-9)
    out = []
    for i, sowing in enumerate(sowings):
        lacks = sowing.plants.count - placed[i]
        if lacks <= 0 or lacks < _CRUMB * sowing.plants.count:
            continue
        each = area_of(sowing.crop.garden, 1)
        if not any(_wide_enough(sowing, b) and b.area >= each for b in beds):
            why = f"one plant takes {each:.0f} m2 and no bed has so much room, wide enough; give it a bed of its own"
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
                f"{which} of {long_day_text(sowing.start)} {many} not fit: no bed has so much room (all together are "
                f"{min(full[tight], 1.0):.0%} full in {MONTH_NAMES[tight]})",
            )
        )
    return out


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
            gap[crop.family] = max(gap.get(crop.family, 0.0), years)
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
