"""Perennials of the garden: whether they live here, how many plants, their picking, and their water over the year."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sowcal.crops.handbook import Handbook
from sowcal.crops.tables import Crop, known
from sowcal.garden.garden_file import Garden
from sowcal.garden.garden_weather import GardenWeather, garden_weather
from sowcal.garden.harvest import middle_litres
from sowcal.garden.plants import WEEKS, area_of, plants_for, weekly_use
from sowcal.garden.schedule import LeftOut, Sowing
from sowcal.garden.soil_water import Basal, basal_of, root_zone_balance, soil_of_texture
from sowcal.garden.water_need import litres_of_seasons, season_days, watering_of
from sowcal.seasons.perennial_years import PerennialYears, perennial_years, span_days
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.perennials import PERENNIAL_WORDS, judge_perennial, perennial_line
from sowcal.suitability.results import CropVerdict
from sowcal.suitability.windows import Fold

if TYPE_CHECKING:
    from sowcal.weather.record import DailyRecord

__all__ = [
    "standing_crop",
    "standing_crops",
    "with_litres",
]

_WOODY = ("tree", "shrub", "vine")
_TOGETHER = 8  # perennials followed at once: more of them take more memory and no less time
_ALL_YEAR = 350  # days; a crop with stages of so many is in leaf all year


def standing_crops(
    site: SiteDays, fold: Fold, crops: list[Crop], book: Handbook, garden: Garden
) -> tuple[list[Sowing], list[LeftOut]]:
    """The perennials among some crops, and those left out with their reason."""
    sowings: list[Sowing] = []
    left: list[LeftOut] = []
    for crop in crops:
        if crop.perennial is None:
            continue
        if weekly_use(crop.garden, garden.household, crop.name) <= 0.0 and crop.name not in garden.counts:
            left.append(LeftOut(crop.name, "nobody here eats it"))
            continue
        found = standing_crop(site, fold, crop, book, garden)
        if isinstance(found, LeftOut):
            left.append(found)
        else:
            sowings.append(found)
    return sowings, left


def standing_crop(site: SiteDays, fold: Fold, crop: Crop, book: Handbook, garden: Garden) -> Sowing | LeftOut:
    """One perennial as it stands in a bed all year, full-grown; or why it does not.

    Parameters
    ----------
    site : SiteDays
    fold : Fold
        Of the same days.
    crop : Crop
        With a row in table perennials.
    book : Handbook
    garden : Garden
        Household, tastes and plants wished for.

    Returns
    -------
    Sowing
        Its `start` is a day on which it is planted; water is drawn from new growth to the end of its stages.
    """
    years, verdict = judge_perennial(site, crop, book)
    line = perennial_line(site, crop, verdict, years)
    windows = [(s, w) for s in line.starts for w in s.possible]
    if verdict.suitability is None:
        return LeftOut(crop.name, f"nothing can be said of it here: not known is {', '.join(line.starts[0].unknown)}")
    if not windows:
        why = verdict.limiting_factor or "the handbook lacks its way"
        return LeftOut(crop.name, f"it does not live here, or crops too seldom ({why})")
    if verdict.word == PERENNIAL_WORDS["winter"]:
        return LeftOut(
            crop.name, "its summers kill it: planted anew each autumn it is picked in spring, outside this plan"
        )
    way, window = windows[0]
    share, first, last = _picking(site, fold, years, window.best)
    plants = plants_for(share, crop.garden, garden.household, crop.name, garden.counts.get(crop.name))
    if plants.count == 0:
        return LeftOut(crop.name, "the handbook does not say what one plant bears")
    return Sowing(
        crop=crop,
        way=way.way,
        start=window.best,
        first=first,
        last=last,
        index=fold.index[:, window.best],
        reliability=window.reliability,
        yield_fraction=window.yield_fraction,
        advised=verdict.suitability in ("S1", "S2"),
        plants=plants,
        area=area_of(crop.garden, plants.count),
        rain_fed=crop.name in garden.rain_fed,
        leaf=_in_leaf(site, fold, crop, years),
        word=verdict.word,
    )


def with_litres(
    site: SiteDays, record: DailyRecord, crops: Sequence[Crop], verdicts: Sequence[CropVerdict]
) -> list[CropVerdict]:
    """Verdicts with the water that perennials ask for beyond the rain, litres per m2 of ground in the middle year.

    Full-grown on bare loam, watered by drip; nothing is told where no day has a reading of rain. Trees, shrubs and
    vines go by the single coefficients, which are those of orchards (FAO-56 Table 12: most of the ground between the
    rows is bare, and what little a line of drippers wets is counted in); wetting a bed's share of their ground
    each few days would add nearly a third to it. The m2 are those of their spacing, not of their crown.

    Parameters
    ----------
    site : SiteDays
    record : DailyRecord
        The same days with their rain.
    crops : sequence of Crop
    verdicts : sequence of CropVerdict
        Of the same crops, in the same order.
    """
    out, garden, fold, weather = list(verdicts), Garden("", "", ()), Fold.of(site), garden_weather(record)
    rows = [k for k, v in enumerate(verdicts) if crops[k].perennial is not None and v.answer is not None]
    if not rows or weather.rain_known is None or not weather.rain_known.any():
        return out
    leaf = [
        _winter_half(site, fold)
        if verdicts[k].word == PERENNIAL_WORDS["winter"]
        else _in_leaf(site, fold, crops[k], perennial_years(site, crops[k]))
        for k in rows
    ]
    groups: list[tuple[bool, list[int]]] = []
    for woody in (False, True):
        some = [j for j, k in enumerate(rows) if (crops[k].perennial.habit in _WOODY) == woody]  # type: ignore[union-attr]
        groups += [(woody, some[k : k + _TOGETHER]) for k in range(0, len(some), _TOGETHER)]
    for woody, some in groups:
        there = [crops[rows[j]] for j in some]
        basal = [_orchard(crop) if woody else _in_bed(crop, garden) for crop in there]
        for j, litres in zip(some, _litres(weather, basal, [leaf[j] for j in some], woody, garden), strict=True):
            if litres is not None:
                answer = {**(verdicts[rows[j]].answer or {}), "litres_per_m2": litres}
                out[rows[j]] = replace(verdicts[rows[j]], answer=answer)
    return out


def _litres(
    weather: GardenWeather,
    basal: list[Basal],
    leaf: Sequence[tuple[np.ndarray, np.ndarray]],
    woody: bool,
    garden: Garden,
) -> list[float | None]:
    """Litres per m2 in the middle one of the years that the record holds whole, of some crops followed at once."""
    season = season_days(
        weather,
        basal,
        np.stack([begin for begin, _ in leaf]),
        np.stack([length for _, length in leaf]).astype(int),
        np.ones(len(leaf), dtype=bool),
        np.ones(len(leaf)),
    )[0]
    watering = replace(watering_of(garden), evaporation_left=0.0) if woody else watering_of(garden)
    balance = root_zone_balance(season, soil_of_texture(garden.texture), watering, kept=("irrigation",))
    longest = np.array([length.max() for _, length in leaf])[:, None]
    return middle_litres(litres_of_seasons(balance, season.grows, longest, garden))


def _in_bed(crop: Crop, garden: Garden) -> Basal:
    return basal_of(crop.water, garden.soil_depth, stands=True)


def _orchard(crop: Crop) -> Basal:
    """The single coefficients, which hold the soil's evaporation too, in place of the basal ones."""
    basal, water = basal_of(crop.water, stands=True), crop.water
    if basal.assumed:
        return basal
    first = water.coefficient_initial if known(water.coefficient_initial) else basal.initial
    return replace(basal, initial=first, mid=water.coefficient_mid, end=water.coefficient_end)


def _picking(
    site: SiteDays, fold: Fold, years: PerennialYears, start: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Share of the attainable crop by year and week of its growing year, and days from `start` to first and last
    picking by calendar year (the median where a year is not decided)."""
    good = np.isfinite(years.crop) & (years.first < site.size) & (years.last >= years.first)
    begin, _ = span_days(site, years.years, "growing")
    share = np.zeros((int(good.sum()), WEEKS))
    for row, k in enumerate(np.flatnonzero(good)):
        days = np.arange(int(years.first[k]), int(years.last[k]) + 1) - begin[k]
        share[row] = years.crop[k] * np.bincount(np.clip(days // 7, 0, WEEKS - 1), minlength=WEEKS) / days.size
    # the day of the year on which picking begins, turned so that it comes after the start
    day = site.day_of_year[np.minimum(years.first[good].astype(int), site.size - 1)]
    wait = (day - start) % 365
    length = years.last[good] - years.first[good]
    first, last = np.full(fold.years.size, 0.0), np.full(fold.years.size, 0.0)
    if wait.size:
        first[:], last[:] = np.median(wait), np.median(wait) + np.median(length)
        place = np.searchsorted(fold.years, years.years[good])
        inside = place < fold.years.size
        first[place[inside]], last[place[inside]] = wait[inside], (wait + length)[inside]
    return share, first, last


def _winter_half(site: SiteDays, fold: Fold) -> tuple[np.ndarray, np.ndarray]:
    """As `_in_leaf`, of what is planted a month into autumn and done when summer begins: common practice."""
    begin, end = span_days(site, fold.years, "cold")[0] + 30, span_days(site, fold.years, "summer")[0]
    return np.where((begin >= 0) & (begin < site.size), begin, -1), (end - begin).astype(float)


def _in_leaf(site: SiteDays, fold: Fold, crop: Crop, years: PerennialYears) -> tuple[np.ndarray, np.ndarray]:
    """Day of the record from which water is drawn, and for how many days, by calendar year.

    What rests in summer and flowers in autumn comes into leaf with its flowers, and dies down in spring.
    """
    water = crop.water
    stages = (water.days_initial, water.days_development, water.days_mid, water.days_late)
    length = sum(stages) if known(*stages) else _ALL_YEAR
    begin, _ = span_days(site, fold.years, "growing")
    if length >= _ALL_YEAR:
        length = 365.0  # what never rests draws from one spring to the next
    else:
        autumn = crop.perennial is not None and crop.perennial.picked_when == "autumn"
        wait = (years.first if autumn else years.growth) - span_days(site, years.years, "growing")[0]
        usual = np.median(wait) if wait.size else 0
        by_year = dict(zip(years.years.tolist(), wait.tolist(), strict=True))
        begin = begin + np.array([by_year.get(y, usual) for y in fold.years.tolist()]).astype(int)
    index = np.where((begin >= 0) & (begin < site.size), begin, -1)
    return index, np.full(fold.years.size, length)
