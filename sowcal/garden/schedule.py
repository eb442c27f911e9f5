"""When each crop is sown, set out or planted, how often, and how many plants: the garden's year."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sowcal.crops.handbook import Handbook
from sowcal.crops.tables import Crop, Way
from sowcal.garden.garden_file import Garden
from sowcal.garden.plants import (
    PlantCount,
    WayOutcome,
    area_of,
    picking_weeks,
    plants_for,
    season_lengths,
    way_outcome,
    weekly_use,
    weeks_for_table,
)
from sowcal.seasons.season import Seasons, missing_values
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.windows import Fold

__all__ = ["LeftOut", "Sowing", "chosen_crops", "garden_schedule", "median_span"]

Changed = Callable[[Crop, Way, Seasons], Seasons]

_STEP = 14  # days between start days that are weighed
_NEW_PICKING = 0.5  # a further sowing is worth it where this share of its food is new: common practice
_MOST_SOWINGS = 4  # of one crop in a year: common practice
_SUGGESTED = 22  # crops


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
    """Start days worth weighing, best first: the best of each window and every fortnight within it."""
    out = []
    for outcome in outcomes:
        for window in outcome.windows if advised else outcome.possible:
            length = (window.end - window.start) % 365
            days = {window.best} | {(window.start + k) % 365 for k in range(0, length + 1, _STEP)}
            # the best of a window before its neighbours: nearly equal worth is no reason to stray
            out += [(_worth(outcome, d) + (0.05 if d == window.best else 0.0), outcome, d) for d in days]
    return sorted(out, key=lambda c: (-c[0], c[2]))


def _food_days(outcome: WayOutcome, start: int, keeps_weeks: float) -> np.ndarray:
    """Days of the year on which the sowing's food is on the table, shape (365,), bool."""
    first, last = season_lengths(outcome, start)
    length = np.median(last) - np.median(first) + 7.0 * keeps_weeks + 1.0
    days = (start + int(np.median(first)) + np.arange(int(min(length, 365)))) % 365
    out = np.zeros(365, dtype=bool)
    out[days] = True
    return out


def _chosen_starts(crop: Crop, outcomes: list[WayOutcome]) -> tuple[list[tuple[WayOutcome, int]], bool]:
    """Start days of a year: the best one, then those that fill weeks without food."""
    advised = any(o.windows for o in outcomes)
    keeps = weeks_for_table(crop.garden)
    covered = np.zeros(365, dtype=bool)
    chosen: list[tuple[WayOutcome, int]] = []
    for _, outcome, day in _candidates(outcomes, advised):
        if len(chosen) == _MOST_SOWINGS or (chosen and not advised):
            break
        food = _food_days(outcome, day, keeps)
        if (food & ~covered).sum() >= _NEW_PICKING * food.sum():
            chosen.append((outcome, day))
            covered |= food
    return sorted(chosen, key=lambda c: c[1]), advised


def _sowings(
    fold: Fold, crop: Crop, outcomes: list[WayOutcome], watered: list[WayOutcome], garden: Garden
) -> list[Sowing]:
    starts, advised = _chosen_starts(crop, outcomes)
    wished = garden.counts.get(crop.name)
    if wished is not None:  # so many plants at one time, as the grower has it in mind
        starts = sorted(starts, key=lambda c: -_worth(*c))[:1]
    out = []
    for outcome, day in starts:
        curve = picking_weeks(fold, outcome, day)
        plants = plants_for(curve, crop.garden, garden.household, crop.name, wished)
        if plants.count == 0:
            continue
        first, last = season_lengths(outcome, day)
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
                advised=advised,
                plants=plants,
                area=area_of(crop.garden, plants.count),
                rain_fed=crop.name in garden.rain_fed,
                earlier=_earlier(fold, outcome, day),
                rain_leaves=_rain_leaves(outcome, watered, day),
            )
        )
    return out


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
    return fold.index[:, before], season_lengths(outcome, before)[1]


def chosen_crops(site: SiteDays, fold: Fold, book: Handbook, garden: Garden) -> list[Crop]:
    """Crops of the garden: those named, or where none is named those that do best here, one of a kind."""
    if garden.crops:
        return [book[name] for name in garden.crops]
    best: dict[str, tuple[float, Crop]] = {}
    for crop in book.values():
        if (
            crop.life != "annual"
            or crop.use != "vegetable"
            or weekly_use(crop.garden, garden.household, crop.name) <= 0
        ):
            continue
        outcomes = _outcomes(site, fold, crop)
        worth = max((_worth(o, w.best) for o in outcomes for w in o.windows), default=0.0)
        if worth > best.get(crop.kind, (0.0, crop))[0]:
            best[crop.kind] = (worth, crop)
    ranked = sorted(
        best.values(), key=lambda c: (-round(c[0], 1), -weekly_use(c[1].garden, garden.household, c[1].name))
    )
    return [crop for _, crop in ranked[:_SUGGESTED]]


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
    for crop in crops:
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
        found = _sowings(fold, crop, outcomes, _outcomes(site, fold, crop) if dry else [], garden)
        if not found:
            why = "no start day succeeds in half of the years here"
            left.append(LeftOut(crop.name, f"{why} on rain alone" if dry else why))
        sowings += found
    return sorted(sowings, key=lambda s: s.start), left
