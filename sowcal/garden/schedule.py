"""When each crop is sown, set out or planted, how often, and how many plants: the garden's year."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sowcal.crops.handbook import Handbook, find_crops
from sowcal.crops.tables import Crop, Way
from sowcal.errors import InputError
from sowcal.garden.garden_file import Garden
from sowcal.garden.plants import (
    PlantCount,
    WayOutcome,
    area_of,
    brought_by_week,
    picking_weeks,
    plants_for,
    season_lengths,
    way_outcome,
    weekly_use,
    weeks_for_table,
)
from sowcal.progress import followed
from sowcal.seasons.season import Seasons, missing_values
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.windows import Fold
from sowcal.year import long_day_text

__all__ = ["LeftOut", "Sowing", "chosen_crops", "garden_schedule", "median_span", "with_crops_named"]

Changed = Callable[[Crop, Way, Seasons], Seasons]

_STEP = 14  # days between start days that are weighed
_NEW_PICKING = 0.5  # a further sowing is worth it where this share of its food is new: common practice
_MOST_SOWINGS = 4  # of one crop in a year: common practice
_SUGGESTED = 22  # crops
_SUGGESTED_USES = ("vegetable", "salad")
_APART, _APART_SALAD, _APART_SUMMER = 21, 14, 10  # days between two starts of a crop: common practice
_SUMMER, _SUMMER_DAYS = (151, 333), 92  # first day of high summer, north and south of the equator
_WORTH_SOWING = 0.2  # of the plants of the first sowing; fewer are not sown apart: common practice
_FEW = 3  # plants; where so few feed the house and bear for weeks, one sowing a year is enough: common practice


@dataclass(frozen=True, slots=True)
class Sowing:
    """One sowing, setting out or planting of a crop in every year of the record.

    Attributes
    ----------
    start : int
        Day of the year it takes to its bed.
    first, last : numpy.ndarray
        Days from the start to first and last picking, by year.
    index : numpy.ndarray
        Indices of the start days in the record, -1 where it lacks them, by year.
    advised : bool
        Whether the start lies in a recommended window.
    plants : PlantCount
    area : float
        m2 of bed.
    """

    crop: Crop
    way: str
    start: int
    first: np.ndarray
    last: np.ndarray
    index: np.ndarray
    reliability: float
    yield_fraction: float
    advised: bool
    plants: PlantCount
    area: float
    rain_fed: bool = False
    earlier: tuple[np.ndarray, np.ndarray] | None = None  # index and last of a start a fortnight before
    leaf: tuple[np.ndarray, np.ndarray] | None = (
        None  # of a perennial: day of new growth and days of its water, by year
    )
    word: str = ""  # a perennial's verdict
    rain_leaves: float | None = None  # of a rain-fed crop: share of the watered one, mean of the years
    raised: int | None = None  # days before the start on which it is sown under cover

    @property
    def stands(self) -> bool:
        """Whether it keeps its place all year."""
        return self.leaf is not None

    @property
    def water_days(self) -> tuple[np.ndarray, np.ndarray]:
        """Days of the record from which water is drawn (-1 for none), and for how many days, by year."""
        return self.leaf if self.leaf is not None else (self.index, self.last + 1.0)

    @property
    def place_taken(self) -> tuple[int, int]:
        """First and last day of the year on which it takes its place in a bed, in the median."""
        start, _, last = median_span(self)
        return (0, 364) if self.stands else (start, last)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A crop or sowing that the plan lacks, and why."""

    crop: str
    why: str


def median_span(sowing: Sowing) -> tuple[int, int, int]:
    """Days of the year of the start and, in the median, of first and last picking."""
    first, last = int(np.median(sowing.first)), int(np.median(sowing.last))
    return sowing.start, (sowing.start + first) % 365, (sowing.start + last) % 365


def _outcomes(site: SiteDays, fold: Fold, crop: Crop, changed: Changed | None = None) -> list[WayOutcome]:
    return [way_outcome(site, fold, crop, w, changed) for w in crop.ways if not missing_values(crop, w)]


def _worth(outcome: WayOutcome, day: int) -> float:
    found = outcome.found
    value = found.reliability[day] * found.mean_yield[day]
    return float(value) if np.isfinite(value) else 0.0


def _candidates(outcomes: list[WayOutcome], advised: bool) -> list[tuple[float, WayOutcome, int]]:
    """Start days worth weighing, best first: the best of each window, and those whose pickings begin a fortnight apart.

    Where the windows tell no succession, every fortnight within them.
    """
    out = []
    for outcome in outcomes:
        for window in outcome.windows if advised else outcome.possible:
            length = (window.end - window.start) % 365
            told = {d for d in outcome.succession if advised and (d - window.start) % 365 <= length}
            days = {window.best} | (told or {(window.start + k) % 365 for k in range(0, length + 1, _STEP)})
            # the best of a window before its neighbours: nearly equal worth is no reason to stray
            out += [(_worth(outcome, d) + (0.05 if d == window.best else 0.0), outcome, d) for d in days]
    return sorted(out, key=lambda c: (-c[0], c[2]))


def _food_days(outcome: WayOutcome, start: int, keeps_weeks: float) -> np.ndarray:
    """Days of the year on which the sowing's food is on the table, shape (365,), bool."""
    first, last = season_lengths(outcome.found, start)
    length = np.median(last) - np.median(first) + 7.0 * keeps_weeks + 1.0
    days = (start + int(np.median(first)) + np.arange(int(min(length, 365)))) % 365
    out = np.zeros(365, dtype=bool)
    out[days] = True
    return out


def _least_step(crop: Crop, day: int, south: bool) -> int:
    """Days between two starts of a crop: three weeks, of salads two, in high summer ten days (common practice)."""
    if crop.use != "salad":
        return _APART
    summer = (day - (_SUMMER[1] if south else _SUMMER[0])) % 365 < _SUMMER_DAYS
    return _APART_SUMMER if summer else _APART_SALAD


def _apart(a: int, b: int) -> int:
    """Days between two days of the year, the shorter way round."""
    return min((a - b) % 365, (b - a) % 365)


def _chosen_starts(crop: Crop, outcomes: list[WayOutcome], south: bool) -> tuple[list[tuple[WayOutcome, int]], bool]:
    """Start days of a year, the best one first, then those that fill weeks without food."""
    advised = any(o.windows for o in outcomes)
    keeps = weeks_for_table(crop.garden)
    covered = np.zeros(365, dtype=bool)
    chosen: list[tuple[WayOutcome, int]] = []
    for _, outcome, day in _candidates(outcomes, advised):
        if len(chosen) == _MOST_SOWINGS or (chosen and not advised):
            break
        if any(_apart(day, other) < _least_step(crop, day, south) for _, other in chosen):
            continue
        food = _food_days(outcome, day, keeps)
        if (food & ~covered).sum() >= _NEW_PICKING * food.sum():
            chosen.append((outcome, day))
            covered |= food
    return chosen, advised


def _said_starts(
    crop: Crop, outcomes: list[WayOutcome], garden: Garden
) -> tuple[list[tuple[WayOutcome, int]], bool] | None:
    """The start days that the garden file names for a crop, in the order of the year; None where it names none.

    Raises
    ------
    InputError
        For a way that the crop does not have, or a day from which no year comes to a picking.
    """
    out = []
    for start in sorted((s for s in garden.starts if s.crop == crop.name), key=lambda s: s.day):
        outcome = next((o for o in outcomes if o.way.way == start.way), None)
        if outcome is None:
            ways = " or ".join(o.way.way for o in outcomes)
            raise InputError(f"{crop.name} is not {start.way}; it is {ways}", where=f"{garden.name}, starts")
        if not outcome.found.reliability[start.day] > 0.0:
            raise InputError(
                f"{crop.name} {start.way} on {long_day_text(start.day)} comes to a picking worth having in no year; "
                "choose another week",
                where=f"{garden.name}, starts",
            )
        out.append((outcome, start.day))
    return (out, False) if out else None


def _in_window(outcome: WayOutcome, day: int) -> bool:
    """Whether a start day lies in a recommended window."""
    return any((day - w.start) % 365 <= (w.end - w.start) % 365 for w in outcome.windows)


def _sowings(
    fold: Fold, crop: Crop, outcomes: list[WayOutcome], watered: list[WayOutcome], garden: Garden, south: bool
) -> list[Sowing]:
    said = _said_starts(crop, outcomes, garden)
    starts, advised = said or _chosen_starts(crop, outcomes, south)
    wished = garden.counts.get(crop.name)
    if wished is not None and not said:  # so many plants at one time, as the grower has it in mind
        starts = sorted(starts, key=lambda c: -_worth(*c))[:1]
    out: list[Sowing] = []
    met = np.zeros(52)
    for outcome, day in starts:
        curve = picking_weeks(fold, outcome, day)
        plants = plants_for(curve, crop.garden, garden.household, crop.name, wished, start=day, met=met)
        if plants.count == 0 or (
            not said and plants.count < _WORTH_SOWING * max((s.plants.count for s in out), default=0)
        ):
            continue
        met = met + brought_by_week(curve, crop.garden, plants.count, day)
        first, last = season_lengths(outcome.found, day)
        out.append(
            Sowing(
                crop=crop,
                way=outcome.way.way,
                start=day,
                first=first,
                last=last,
                index=fold.index[:, day],
                reliability=float(outcome.found.reliability[day]),
                yield_fraction=float(outcome.found.mean_yield[day]),
                advised=_in_window(outcome, day) if said else advised,
                plants=plants,
                area=area_of(crop.garden, plants.count),
                rain_fed=crop.name in garden.rain_fed,
                earlier=_earlier(fold, outcome, day),
                rain_leaves=_rain_leaves(outcome, watered, day),
                raised=_raised(outcome, day),
            )
        )
        if crop.part == "fruit" and plants.count <= _FEW and not said:
            break
    return out


def _raised(outcome: WayOutcome, day: int) -> int | None:
    """Days before a start on which it is sown under cover, median of the years; None where it is not raised."""
    if outcome.found.raised is None:
        return None
    days = outcome.found.raised[:, day]
    days = days[np.isfinite(days)]
    return int(np.median(days)) if days.size else None


def _rain_leaves(outcome: WayOutcome, watered: list[WayOutcome], day: int) -> float | None:
    """Mean crop on rain alone over that of the same start watered; None where it is watered."""
    if not watered:
        return None
    whole = next(w for w in watered if w.way == outcome.way).found.mean_yield[day]
    return float(np.clip(outcome.found.mean_yield[day] / max(whole, 1e-9), 0.0, 1.0))


def _earlier(fold: Fold, outcome: WayOutcome, day: int) -> tuple[np.ndarray, np.ndarray] | None:
    """The start a fortnight before, where it is nearly as good."""
    before = (day - _STEP) % 365
    if _worth(outcome, before) < 0.9 * _worth(outcome, day):
        return None
    return fold.index[:, before], season_lengths(outcome.found, before)[1]


_EATEN = {"most": 0, "many": 1, "few": 2}


def _best_worth(site: SiteDays, fold: Fold, crop: Crop) -> float:
    """Worth of the best advised start of an annual, 0 where none is advised."""
    outcomes = _outcomes(site, fold, crop)
    return max((_worth(o, w.best) for o in outcomes for w in o.windows), default=0.0)


def chosen_crops(site: SiteDays, fold: Fold, book: Handbook, garden: Garden) -> list[Crop]:
    """Crops of the garden: those named, or where none is named what households eat and does well here.

    Of several sorts of a kind the one that does best. What most households eat comes before what few do, whatever
    does a little better.
    """
    if garden.crops:
        return [book[name] for name in garden.crops]
    best: dict[str, tuple[float, Crop]] = {}
    for crop in book.values():
        eaten = weekly_use(crop.garden, garden.household, crop.name) > 0
        if crop.life != "annual" or crop.use not in _SUGGESTED_USES or not eaten:
            continue
        worth = _best_worth(site, fold, crop)
        if worth > best.get(crop.kind, (0.0, crop))[0]:
            best[crop.kind] = (worth, crop)

    def key(found: tuple[float, Crop]) -> tuple[float, ...]:
        row = found[1].garden
        return (_EATEN.get(row.household, 2), -round(found[0], 1), -weekly_use(row, garden.household, found[1].name))

    return [crop for _, crop in sorted(best.values(), key=key)[:_SUGGESTED]]


def _found(book: Handbook, word: str, where: str) -> list[Crop]:
    if word in book:
        return [book[word]]
    try:
        return find_crops(book, word)
    except InputError as problem:
        raise InputError(problem.message, where=where) from None


def with_crops_named(garden: Garden, book: Handbook, site: SiteDays, fold: Fold) -> tuple[Garden, list[str]]:
    """The garden with its crops by the names of the handbook, and what was taken for words that name several.

    A word may be any that `find_crops` understands. Of several sorts of a kind that does best here which ripens most
    surely; a taste and a wish for rain alone hold for all of them.

    Raises
    ------
    InputError
        For a word that names no crop, or a crop named twice.
    """
    where = f"{garden.name}, "
    notes: list[str] = []
    crops: list[str] = []
    for word in garden.crops:
        kinds: dict[str, list[Crop]] = {}
        for crop in _found(book, word, where + "crops"):
            kinds.setdefault(crop.kind, []).append(crop)
        for kind, sorts in kinds.items():
            best = sorts[0]
            if len(sorts) > 1:
                best = max(sorts, key=lambda c: _best_worth(site, fold, c))
                notes.append(f"of {kind} the sort that does best here is planned: {best.name}")
            if best.name in crops:
                raise InputError(
                    f"{word!r} names {best.name} a second time; name each crop once", where=where + "crops"
                )
            crops.append(best.name)
    counts: dict[str, int] = {}
    for word, count in garden.counts.items():
        sorts = _found(book, word, where + "counts")
        wished = [c.name for c in sorts if c.name in crops] or [sorts[0].name]
        counts[wished[0]] = count
    tastes = {
        name: taste
        for word, taste in garden.household.tastes.items()
        for name in (c.name for c in _found(book, word, where + "household.tastes"))
    }
    starts = [replace(s, crop=_found(book, s.crop, where + "starts")[0].name) for s in garden.starts]
    if strange := next((s.crop for s in starts if garden.crops and s.crop not in crops), None):
        raise InputError(f"{strange} has a start day and is not among the crops", where=where + "starts")
    rain_fed = [c.name for word in garden.rain_fed for c in _found(book, word, where + "rain_fed")]
    named = replace(
        garden,
        crops=tuple(crops),
        counts=counts,
        rain_fed=tuple(rain_fed),
        starts=tuple(starts),
        household=replace(garden.household, tastes=tastes),
    )
    return named, notes


def garden_schedule(
    site: SiteDays, fold: Fold, crops: list[Crop], garden: Garden, on_rain: Changed | None = None
) -> tuple[list[Sowing], list[LeftOut]]:
    """Every sowing of annuals in the order of its start, and what is left out with its reason.

    Parameters
    ----------
    site : SiteDays
    fold : Fold
    crops : list of Crop
        Perennials among them are passed over.
    garden : Garden
    on_rain : callable, optional
        What becomes of seasons on rain alone, for the crops that the garden names rain-fed.
    """
    sowings: list[Sowing] = []
    left: list[LeftOut] = []
    for crop in followed(crops, "planning", "crop"):
        if crop.perennial is not None:
            continue
        dry = on_rain if crop.name in garden.rain_fed else None
        outcomes = _outcomes(site, fold, crop, dry)
        if not outcomes:
            left.append(LeftOut(crop.name, "the handbook lacks figures"))
            continue
        if weekly_use(crop.garden, garden.household, crop.name) <= 0.0 and crop.name not in garden.counts:
            left.append(LeftOut(crop.name, "nobody here eats it"))
            continue
        found = _sowings(fold, crop, outcomes, _outcomes(site, fold, crop) if dry else [], garden, site.latitude < 0.0)
        if not found:
            why = "no start day succeeds in half of the years here"
            left.append(LeftOut(crop.name, f"{why} on rain alone" if dry else why))
        there = {(s.way, s.start) for s in found}
        left += [
            LeftOut(crop.name, f"none {s.way} on {long_day_text(s.day)}: other sowings bring what the house eats then")
            for s in garden.starts
            if found and s.crop == crop.name and (s.way, s.day) not in there
        ]
        sowings += found
    return sorted(sowings, key=lambda s: s.start), left
