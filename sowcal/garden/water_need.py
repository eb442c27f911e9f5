"""Irrigation need of every sowing, day by day, in every year of the record, along the dates it really has."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import fmean

import numpy as np

from sowcal.garden.bed_ground import Ground, evaporation_left, ground_of
from sowcal.garden.garden_file import Garden
from sowcal.garden.garden_weather import GardenWeather
from sowcal.garden.schedule import Sowing
from sowcal.garden.soil_water import (
    RESULTS,
    Balance,
    Basal,
    Season,
    Soil,
    Watering,
    basal_of,
    climate_term,
    coefficient_curve,
    covered_fraction,
    root_zone_balance,
    soil_of_texture,
    upper_limit,
)
from sowcal.year import MONTH_STARTS, YEAR

__all__ = [
    "LEAST_ROOTS",
    "BedWater",
    "GardenNeed",
    "InBed",
    "SowingNeed",
    "efficiency",
    "garden_need",
    "leaching_share",
    "litres_of_seasons",
    "season_balance",
    "season_days",
    "water_from_here",
    "watering_of",
]

LEAST_ROOTS = 0.15  # m, of seedlings: common practice
_SHADE_SHARE = 0.7  # of evapotranspiration that goes with the light: common practice, no source
_GIVEN_TO_ROOTS = {"drip": 0.90, "hand": 0.75}
# drip 0.90: Brouwer, Prins & Heibloem 1989, FAO Training Manual 4, Table 8, from memory; by hand: common practice
_BEARS_SALT = 2.0  # dS m-1 of the soil's extract that common vegetables bear (Ayers & Westcot 1985, from memory)
_MOST_DAYS = 400  # of one season
_WEEK_DAYS = np.append(np.full(51, 7), 8)  # of the 52 weeks of a year


@dataclass(frozen=True, slots=True)
class SowingNeed:
    """Water of one sowing by year, shape (years,): mm drawn for its bed, mm used, and how far its thirst was
    met (1 is wholly), which rain alone may not do. `between` is days from one watering to the next by month, mean of
    the years, shape (12,); NaN where it is not watered."""

    irrigation: np.ndarray
    use: np.ndarray
    met: np.ndarray
    between: np.ndarray


@dataclass(frozen=True, slots=True)
class GardenNeed:
    """Water of the garden.

    Attributes
    ----------
    daily : numpy.ndarray
        Litres drawn from the store, shape (days,).
    by_sowing : dict of int to SowingNeed
        By place of the sowing in the plan's list.
    weekly : numpy.ndarray
        Litres by year and week of the year, shape (years, 52); the last week has the days over.
    bed_weekly : numpy.ndarray
        The same by bed, median over the years, shape (beds, 52).
    years : numpy.ndarray
        Calendar years that are known well enough to count.
    bed_monthly : numpy.ndarray
        Litres by bed, year and month, shape (beds, years, 12).
    """

    daily: np.ndarray
    by_sowing: dict[int, SowingNeed]
    weekly: np.ndarray
    bed_weekly: np.ndarray
    years: np.ndarray
    bed_monthly: np.ndarray

    def week(self, odds: float) -> np.ndarray:
        """Litres by week that suffice in that share of years, shape (52,)."""
        if self.weekly.shape[0] == 0:
            return np.zeros(52)
        return np.quantile(self.weekly, odds, axis=0)

    def by_day(self, odds: float) -> np.ndarray:
        """The same in litres a day through the year, shape (365,)."""
        return np.repeat(self.week_by_day(odds), _WEEK_DAYS)

    def by_month(self, odds: float) -> np.ndarray:
        """The same as mean litres a day of each month, shape (12,)."""
        daily = self.by_day(odds)
        return np.array([daily[a:b].mean() for a, b in pairwise((*MONTH_STARTS, YEAR))])

    def week_by_day(self, odds: float) -> np.ndarray:
        """The same in litres a day of each week, shape (52,); the last week has eight days."""
        return self.week(odds) / _WEEK_DAYS

    @property
    def thirstiest_week(self) -> int:
        """0 to 51, the week that draws most a day in the median year."""
        return int(self.week_by_day(0.5).argmax())

    @property
    def draws(self) -> bool:
        """Whether anything is drawn at all."""
        return bool(self.daily.sum() > 0.0)

    def year(self, odds: float) -> float:
        """Litres a year that suffice in that share of years."""
        return float(np.quantile(self.weekly.sum(axis=1), odds)) if self.weekly.shape[0] else 0.0


def watering_of(garden: Garden) -> Watering:
    """How this garden gives water: by drip 0.35 of the soil is wetted, by hand all of it (FAO-56 Table 20).

    Mulch is that of the garden, in the mean of the months.
    """
    drip = garden.water.method == "drip"
    return Watering(0.35 if drip else 1.0, drip, fmean(evaporation_left(garden.mulch)))


def leaching_share(salinity: float) -> float:
    """Share of the water that must drain to carry salt away (Rhoades' form in Ayers & Westcot 1985, FAO
    Irrigation and Drainage Paper 29, from memory): ECw / (5 ECe - ECw), at most one half."""
    return min(max(salinity, 0.0) / max(5.0 * _BEARS_SALT - salinity, 1e-9), 0.5)


def efficiency(garden: Garden) -> float:
    """Share of the water drawn that roots get and keep, after losses and leaching."""
    share = _GIVEN_TO_ROOTS[garden.water.method]
    # drainage that happens anyway carries salt too, so leaching counts above a tenth only: FAO-29, from memory
    return share * (1.0 - max(leaching_share(garden.water.salinity) - 0.1, 0.0))


def litres_of_seasons(balance: Balance, grows: np.ndarray, length: np.ndarray, garden: Garden) -> np.ndarray:
    """Litres per m2 drawn by each season and year, shape (rows, years); NaN where the record does not hold it whole."""
    whole = grows.sum(axis=0) >= np.minimum(length, grows.shape[0])
    return np.where(whole, balance.irrigation.sum(axis=0) / efficiency(garden), np.nan)


def season_balance(
    weather: GardenWeather,
    basal: list[Basal],
    index: np.ndarray,
    length: np.ndarray,
    irrigated: np.ndarray,
    light: np.ndarray,
    garden: Garden,
    left: np.ndarray | None = None,
    kept: Sequence[str] = RESULTS,
) -> tuple[Balance, np.ndarray, np.ndarray]:
    """Root zone of several seasons and years together, moist at their start.

    Parameters as in `season_days`; `kept` as in `root_zone_balance`.

    Returns
    -------
    Balance
        Shape (days, rows, years).
    days : numpy.ndarray
        Day of the record of each, same shape, clipped to the record.
    grows : numpy.ndarray
        Whether that day is in the season and the record, same shape.
    """
    season, day = season_days(weather, basal, index, length, irrigated, light, left)
    balance = root_zone_balance(season, soil_of_texture(garden.texture), watering_of(garden), kept=kept)
    return balance, day, season.grows


def season_days(
    weather: GardenWeather,
    basal: list[Basal],
    index: np.ndarray,
    length: np.ndarray,
    irrigated: np.ndarray,
    light: np.ndarray,
    left: np.ndarray | None = None,
) -> tuple[Season, np.ndarray]:
    """What drives the root zone of several seasons and years, day by day.

    Parameters
    ----------
    weather : GardenWeather
    basal : list of Basal
        One a row.
    index, length : numpy.ndarray
        Start days in the record (-1 for none) and lengths in days, shape (rows, years).
    irrigated : numpy.ndarray
        Shape (rows,), bool.
    light : numpy.ndarray
        Share of open light, shape (rows,), or (rows, 12) by month.
    left : numpy.ndarray, optional
        Share of soil evaporation that mulch leaves, shape (rows, 12).

    Returns
    -------
    Season
        Arrays of shape (days, rows, years); `grows` is whether that day is in the season and the record.
    days : numpy.ndarray
        Day of the record of each, same shape, clipped to the record.
    """
    length = np.clip(length, 1, _MOST_DAYS)
    span = int(length.max(initial=1))
    age = np.arange(span)[:, None, None]
    day = index[None] + age
    grows = (age < length[None]) & (index[None] >= 0) & (day < weather.size)
    day = np.clip(day, 0, weather.size - 1)
    rows = np.arange(index.shape[0])[None, :, None]
    month = _month(weather)[day] if light.ndim == 2 or left is not None else None
    lit = light[rows, month] if light.ndim == 2 else light[:, None]
    reference = weather.reference[day] * (1.0 - _SHADE_SHARE * (1.0 - lit))
    kcb, limit, covered, roots = _coefficients(weather, basal, index, length, age[:, 0])
    depletion = np.array([b.depletion for b in basal])[:, None]
    season = Season(
        reference=reference,
        rain=weather.rain[day],
        basal=kcb,
        limit=limit,
        covered=covered,
        rooting_depth=roots,
        depletion=depletion,
        irrigated=irrigated[:, None],
        grows=grows,
        left=None if left is None else left[rows, month],
    )
    return season, day


def _coefficients(
    weather: GardenWeather, basal: list[Basal], index: np.ndarray, length: np.ndarray, age: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Basal coefficient, its upper limit, cover and rooting depth, each of shape (days, rows, years).

    Wind and humidity are those of each season's mean (FAO-56 eq. 70).
    """
    kcb, limit, covered, roots = (np.empty((age.shape[0], *index.shape)) for _ in range(4))
    begin = np.clip(index, 0, weather.size - 1)
    end = np.minimum(begin + length, weather.size)

    def mean(daily: np.ndarray) -> np.ndarray:
        total = np.concatenate([[0.0], np.cumsum(daily)])
        return (total[end] - total[begin]) / np.maximum(end - begin, 1)

    wind, humid = mean(weather.wind), mean(weather.humidity)
    for k, b in enumerate(basal):
        climate = climate_term(wind[k], humid[k], b.height)
        share = (age + 0.5) / length[k]
        kcb[:, k] = coefficient_curve(np.clip(share, 0.0, 1.0), b, climate)
        limit[:, k] = upper_limit(kcb[:, k], climate)
        covered[:, k] = covered_fraction(kcb[:, k], limit[:, k], b.height)
        # roots go down as leaves close over (FAO-56 annex 8, from memory) and do not come up again
        deeper = np.maximum.accumulate(np.clip((kcb[:, k] - b.initial) / (b.mid - b.initial), 0.0, 1.0))
        least = min(LEAST_ROOTS, b.rooting_depth)
        if b.stands:
            least = b.rooting_depth
        roots[:, k] = least + deeper * (b.rooting_depth - least)
    return kcb, limit, covered, roots


def garden_need(
    weather: GardenWeather,
    sowings: list[Sowing],
    placed: list[tuple[int, int, float]],
    garden: Garden,
    *,
    cloth: float = 0.0,
) -> GardenNeed:
    """Litres a day, week and year of everything that stands in beds.

    Parameters
    ----------
    weather : GardenWeather
    sowings : list of Sowing
    placed : list of (sowing, bed, m2)
    garden : Garden
    cloth : float
        Share of the light that a cloth over all beds takes.
    """
    by_bed = np.zeros((len(garden.beds), weather.size))
    needs: dict[int, list[tuple[float, SowingNeed]]] = defaultdict(list)
    grounds = [_under_cloth(ground_of(garden, b), cloth) for b in garden.beds]
    for soil in sorted({(grounds[b].texture, grounds[b].depth) for _, b, _ in placed}):
        here = [(i, b, area) for i, b, area in placed if (grounds[b].texture, grounds[b].depth) == soil]
        # a sowing in beds alike is one calculation
        keys = list(dict.fromkeys((i, grounds[b]) for i, b, _ in here))
        rows = [sowings[i] for i, _ in keys]
        balance, day, grows = season_balance(
            weather,
            [basal_of(s.crop.water, soil[1], stands=s.stands) for s in rows],
            np.stack([s.water_days[0] for s in rows]),
            np.stack([s.water_days[1] for s in rows]).astype(int),
            np.array([not s.rain_fed for s in rows]),
            np.array([g.light for _, g in keys]),
            replace(garden, texture=soil[0]),
            np.array([g.left for _, g in keys]),
        )
        gross = balance.irrigation / efficiency(garden) * np.array([g.more for _, g in keys])[:, None]
        month = _month(weather)[day]
        for i, bed, area in here:
            k = keys.index((i, grounds[bed]))
            by_bed[bed] += np.bincount(day[:, k].ravel(), (gross[:, k] * area).ravel(), weather.size)
            needs[i].append((area, _sowing_need(balance, grows, k, gross, month)))
    return _summed(weather, by_bed.sum(axis=0), by_bed, {i: _mean_need(found) for i, found in needs.items()})


def _under_cloth(ground: Ground, cloth: float) -> Ground:
    return replace(ground, light=tuple((1.0 - cloth) * share for share in ground.light))


def _mean_need(found: list[tuple[float, SowingNeed]]) -> SowingNeed:
    """One sowing in several beds: its water by area, watered as often as the thirstiest of them."""
    if len(found) == 1:
        return found[0][1]
    share = np.array([area for area, _ in found]) / max(sum(area for area, _ in found), 1e-9)

    def mean(name: str) -> np.ndarray:
        return np.tensordot(share, np.array([getattr(need, name) for _, need in found]), 1)

    between = np.fmin.reduce(np.array([need.between for _, need in found]))
    return SowingNeed(mean("irrigation"), mean("use"), mean("met"), between)


def _summed(weather: GardenWeather, daily: np.ndarray, by_bed: np.ndarray, needs: dict[int, SowingNeed]) -> GardenNeed:
    """Litres a day, in all and by bed, summed by week and month of the years that are known."""
    years = weather.years()
    count = np.unique(weather.year).size
    keep = np.isin(np.unique(weather.year), years)
    order = weather.year - weather.year[0]

    def by(part: np.ndarray, parts: int, litres: np.ndarray) -> np.ndarray:
        return np.bincount(order * parts + part, litres, count * parts).reshape(count, parts)[keep]

    week, month = np.minimum(weather.day_of_year // 7, 51), _month(weather)
    bed_weekly = [np.median(by(week, 52, one), axis=0) if keep.any() else np.zeros(52) for one in by_bed]
    bed_monthly = np.array([by(month, 12, one) for one in by_bed])
    return GardenNeed(
        daily,
        needs,
        by(week, 52, daily),
        np.array(bed_weekly).reshape(len(by_bed), 52),
        years,
        bed_monthly.reshape(len(by_bed), int(keep.sum()), 12),
    )


def _month(weather: GardenWeather) -> np.ndarray:
    """Month of each day, from 0, shape (days,)."""
    return np.searchsorted(MONTH_STARTS, weather.day_of_year, side="right") - 1


def _sowing_need(balance: Balance, grows: np.ndarray, k: int, gross: np.ndarray, month: np.ndarray) -> SowingNeed:
    whole = grows[:, k].sum(axis=0) > 0
    days = np.bincount(month[:, k].ravel(), grows[:, k].ravel(), 12)
    times = np.bincount(month[:, k].ravel(), (balance.irrigation[:, k] > 0.0).ravel(), 12)
    return SowingNeed(
        irrigation=gross[:, k].sum(axis=0)[whole],
        use=balance.evapotranspiration[:, k].sum(axis=0)[whole],
        met=((balance.stress[:, k] * grows[:, k]).sum(axis=0) / np.maximum(grows[:, k].sum(axis=0), 1))[whole],
        between=np.where(times > 0, days / np.maximum(times, 1.0), np.nan),
    )


@dataclass(frozen=True, slots=True)
class InBed:
    """One sowing that stands in a bed, in each of m futures.

    Attributes
    ----------
    bed : str
    basal : Basal
    area : float
        m2.
    light : float
        Share of open light, where its ground is not told.
    index, length : numpy.ndarray of int, shape (m,)
        Place of its first day in the bed in the weather, and days that it stands.
    age : int
        Days that it has stood until today.
    given : dict of int to float
        Litres that were given by days since the start; empty where nothing was logged of it.
    rain_fed : bool
    ground : Ground or None
        Soil, light and mulch of its bed; those of the garden where it is in none that the garden file names.
    """

    bed: str
    basal: Basal
    area: float
    light: float
    index: np.ndarray
    length: np.ndarray
    age: int
    given: dict[int, float]
    rain_fed: bool = False
    ground: Ground | None = None


@dataclass(frozen=True, slots=True)
class BedWater:
    """Litres that a bed is to be given in the seven days from today, in each of m futures; `assumed` is whether what
    it got so far was taken for granted."""

    bed: str
    litres: np.ndarray
    assumed: bool


def water_from_here(
    weather: GardenWeather, standing: list[InBed], garden: Garden, back: int = 0
) -> tuple[list[BedWater], np.ndarray]:
    """Water of this week by bed, and litres a day drawn from so many days `back` on, shape (m, back + days).

    The root zone is followed from the first day of each sowing by the days so far, with what was given from where that
    was logged on, else watered at need; from today on it is watered at need.
    """
    watering, mulched = watering_of(garden), evaporation_left(garden.mulch)
    by_bed: dict[str, BedWater] = {}
    drawn = np.zeros((standing[0].index.size if standing else 0, back + _MOST_DAYS))
    for one in standing:
        length = np.maximum(one.length, one.age + 1)[None]
        ground = one.ground or Ground(garden.texture, garden.soil_depth, (one.light,) * 12, mulched)
        soil, kept = soil_of_texture(ground.texture), efficiency(garden) / ground.more
        light, left = np.array([ground.light]), np.array([ground.left])
        season, _ = season_days(
            weather, [one.basal], one.index[None], length, np.array([not one.rain_fed]), light, left
        )
        zone, surface, wetted, had = _so_far(season, one, soil, watering, kept)
        late = min(back, one.age)
        drawn[:, back - late : back] += had[:, one.age - late :] / kept * one.area
        rest = _of_days(season, slice(one.age, None))
        after = root_zone_balance(
            rest, soil, watering, start_depletion=zone, start_surface=surface, start_wetted=wetted
        )
        litres_a_day = (after.irrigation[:, 0] / kept * one.area).T
        drawn[:, back : back + litres_a_day.shape[1]] += litres_a_day[:, :_MOST_DAYS]
        week = litres_a_day[:, :7].sum(axis=1)
        beside = by_bed.get(one.bed)
        assumed = not one.given or bool(beside and beside.assumed)
        by_bed[one.bed] = BedWater(one.bed, week + (beside.litres if beside else 0.0), assumed)
    return list(by_bed.values()), drawn


def _so_far(
    season: Season, one: InBed, soil: Soil, watering: Watering, kept: float
) -> tuple[np.ndarray, np.ndarray | None, np.ndarray, np.ndarray]:
    """Water missing in the root zone and at its surface today and the share of it that was wetted last, shape (1, m),
    and mm that it got by day, (m, age).

    Up to the first logged watering it is taken as watered at need, from there on as it was logged.
    """
    zone, surface = np.zeros(season.reference.shape[1:]), None
    wetted = np.ones(zone.shape)
    got = np.zeros((one.index.size, one.age))
    logged = min((d for d in one.given if 0 <= d < one.age), default=one.age)
    for days in (slice(0, logged), slice(logged, one.age)):
        if days.start == days.stop:
            continue
        part, given = _of_days(season, days), None
        if days.start == logged:
            given = np.zeros(part.reference.shape)
            for day, litres in one.given.items():
                if logged <= day < one.age:
                    given[day - logged] += litres / one.area * kept
        found = root_zone_balance(
            part, soil, watering, start_depletion=zone, start_surface=surface, start_wetted=wetted, given=given
        )
        zone, surface, wetted = found.depletion[-1], found.surface_depletion[-1], found.wetted
        got[:, days] = found.irrigation[:, 0].T
    return zone, surface, wetted, got


def _of_days(season: Season, days: slice) -> Season:
    """Some days of a season."""
    cut = ("reference", "rain", "basal", "limit", "covered", "rooting_depth", "grows", "left")
    return replace(season, **{name: part[days] for name in cut if (part := getattr(season, name)) is not None})
