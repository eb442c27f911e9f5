"""How many plants of what, how much compost and mulch, and what watering by hand would take."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from sowcal.crops.handbook import Handbook
from sowcal.crops.tables import known
from sowcal.errors import InputError
from sowcal.garden.beds import BedPlan
from sowcal.garden.garden_file import Garden
from sowcal.garden.schedule import Sowing
from sowcal.plurals import counted

__all__ = [
    "REASONABLE",
    "HandWatering",
    "PlantLine",
    "Volumes",
    "bed_volumes",
    "check_names",
    "hand_watering",
    "plant_lines",
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


def check_names(garden: Garden, book: Handbook) -> None:
    """Every crop named in the garden file must be in the handbook (tastes may name a kind: 'tomato')."""
    kinds = {c.kind for c in book.values()}
    for table, names in (
        ("crops", garden.crops),
        ("rain_fed", garden.rain_fed),
        ("counts", garden.counts),
        ("household.tastes", garden.household.tastes),
    ):
        for name in names:
            if name in book or (table == "household.tastes" and name in kinds):
                continue
            try:
                book[name]
            except InputError as problem:
                raise InputError(problem.message, where=f"{garden.name}, {table}") from None


def _people(number: float) -> str:
    words = {1: "one person eats", 2: "two people eat", 3: "three people eat", 4: "four people eat"}
    return words.get(int(number) if number == int(number) else -1, f"{number:g} people eat")


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
        out.append(f"a gamble: succeeds in {counted(int(10 * max(s.reliability for s in sowings)), 'year')} in 10")
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


@dataclass(frozen=True, slots=True)
class Volumes:
    """Litres a year."""

    compost: float
    mulch: float

    @property
    def barrows(self) -> int:
        """Barrow loads of both."""
        return round((self.compost + self.mulch) / BARROW)


def bed_volumes(garden: Garden) -> Volumes:
    """1 mm over 1 m2 is 1 litre; mulch lies on its share of the soil."""
    mulch = garden.mulch
    deep = 0.0 if mulch.kind in ("none", "plastic") else mulch.depth * 1000.0 * mulch.cover
    return Volumes(garden.compost * garden.area, deep * garden.area)


REASONABLE = 30.0  # minutes a day, all summer long: common practice, no source
_CAN = 10.0  # litres, a common watering can
_CAN_MINUTES = 2.5  # to fill, carry and pour out two cans a walk, for each can: common practice, no source


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
    can = daily / _CAN * _CAN_MINUTES
    by_hose = daily / hose
    return HandWatering(can, by_hose, _first(can, limit, first), _first(by_hose, limit, first))
