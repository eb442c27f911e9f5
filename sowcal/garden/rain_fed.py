"""Crops on rain alone: water in the soil from the fallow before a start to the last picking, and the yield it leaves.

Two layers: the one that seedlings root in and air dries, and the rest down to where the crop will root.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from sowcal.crops.tables import Crop, Way, known
from sowcal.errors import NotJudgedError
from sowcal.garden.bed_ground import on_bed, usual_ground
from sowcal.garden.beds import BedPlan
from sowcal.garden.garden_file import Garden
from sowcal.garden.garden_weather import GardenWeather
from sowcal.garden.plants import season_lengths, way_outcome
from sowcal.garden.schedule import Changed, Sowing
from sowcal.garden.soil_water import (
    Soil,
    basal_of,
    depletion_share,
    rain_that_counts,
    root_zone_balance,
    soil_of_texture,
    total_available_water,
    total_evaporable_water,
)
from sowcal.garden.water_need import LEAST_ROOTS, litres_of_seasons, season_balance, season_days, watering_of
from sowcal.seasons.season import HAZARDS, Seasons, seasons
from sowcal.seasons.site_days import SiteDays
from sowcal.seasons.sums import ramp
from sowcal.suitability.annuals import WaterRule
from sowcal.suitability.windows import Fold, by_day

__all__ = [
    "Fallow",
    "RainFedBeds",
    "StartDayWater",
    "WaterLeft",
    "fallow_soil",
    "on_rain_alone",
    "rain_fed_seasons",
    "start_day_water",
    "water_of_start_days",
    "within_stored_water",
    "yield_left",
]

_WEEDS = 0.3  # basal coefficient of stubble and thin weeds that are hoed off before a start: common practice
_WEED_DEPLETION = 0.5  # share of available water that weeds take freely: common practice
_MOST = 1.2  # greatest coefficient, eq. 72 in still and dry air


@dataclass(frozen=True, slots=True)
class Fallow:
    """Water missing in the morning of each day, before its rain, mm, shape (days,): above and below a depth."""

    upper: np.ndarray
    lower: np.ndarray


def fallow_soil(
    weather: GardenWeather, soil: Soil, upper_depth: float, full_depth: float, *, evaporation_left: float = 1.0
) -> Fallow:
    """Follow the soil of an unwatered bed through the record.

    Parameters
    ----------
    weather : GardenWeather
    soil : Soil
    upper_depth, full_depth : float
        Depth in which seedlings root, and down to which the crop will root, m.
    evaporation_left : float
        Share of soil evaporation that mulch leaves.

    Returns
    -------
    Fallow

    Notes
    -----
    Evaporation as in FAO-56 eq. 71 and 74 from the upper layer; thin weeds draw on both layers in proportion to
    the water that is there (eq. 84). The first year is gone through twice, so that what the soil held when the
    record began does not matter.
    """
    most_upper = float(total_available_water(soil, upper_depth))
    most_lower = max(float(total_available_water(soil, full_depth)) - most_upper, 0.0)
    evaporable = total_evaporable_water(soil)
    easy = soil.readily_evaporable
    most = most_upper + most_lower
    free = (1.0 - depletion_share(_WEED_DEPLETION, _WEEDS * weather.reference)) * most
    rain = rain_that_counts(weather.rain, weather.reference).tolist()
    energy, ease = weather.reference.tolist(), free.tolist()
    first = min(365, weather.size)
    upper, lower = 0.5 * most_upper, 0.5 * most_lower
    out = np.empty((2, weather.size))
    for t in (*range(first), *range(weather.size)):
        out[:, t] = upper, lower
        over = max(rain[t] - upper, 0.0)
        upper = max(upper - rain[t], 0.0)
        lower = max(lower - over, 0.0)
        reduction = min(max((evaporable - upper) / (evaporable - easy), 0.0), 1.0)
        # thin weeds leave enough soil bare for all of this
        air = reduction * (_MOST - _WEEDS) * energy[t] * evaporation_left
        upper = min(upper + air, most_upper)
        there = most - upper - lower
        if there > 0.0:
            drawn = min(_WEEDS * energy[t] * min(there / ease[t], 1.0), there)
            above = drawn * (most_upper - upper) / there
            upper, lower = upper + above, min(lower + drawn - above, most_lower)
    return Fallow(out[0], out[1])


_STEP = 7  # days between start days that are followed; between them want of water is nearly straight
_WANT = HAZARDS.index("want of water")
_UNKNOWN = 0.05  # of a season's days may lack a reading of rain
# Bulbs that ripen in drying soil: Ky of onion in its ripening stage over that of its whole season (0.3 and 1.1 in
# FAO-33, from memory).
_RIPENING = 0.3 / 1.1
# A seed bed in which water runs short for most of the first stage loses its stand: common practice, no source.
# Shares of full water use of the seedlings, mean of the stage, that leave none and all of the stand.
_STAND = (0.15, 0.6)


@dataclass(frozen=True, slots=True)
class WaterLeft:
    """What rain alone leaves from some start days, shape (starts,).

    Attributes
    ----------
    used : numpy.ndarray
        Water used over water that a watered crop would have used, 0 to 1; want of it while bulbs ripen counts
        for less.
    stand : numpy.ndarray
        Share of the stand that comes through its first stage.
    left : numpy.ndarray
        Share of the crop left.
    """

    used: np.ndarray
    stand: np.ndarray
    left: np.ndarray


def yield_left(used, response):
    """Share of the yield that is left (FAO-56 eq. 90), 0 to 1.

    Parameters
    ----------
    used : array_like
        Evapotranspiration over that of a crop without want of water.
    response : float
        Yield response factor Ky of the whole season.
    """
    return np.clip(1.0 - response * (1.0 - np.asarray(used, dtype=float)), 0.0, 1.0)


def on_rain_alone(
    weather: GardenWeather, crop: Crop, index: np.ndarray, length: np.ndarray, garden: Garden, fallow: Fallow
) -> WaterLeft:
    """Follow one crop from some start days on the water that the soil holds and rain brings.

    Parameters
    ----------
    weather : GardenWeather
    crop : Crop
    index, length : numpy.ndarray
        Start days in the record and days in the ground, shape (starts,).
    garden : Garden
        Soil and mulch.
    fallow : Fallow
        Of this soil, as deep as the crop roots.
    """
    basal = basal_of(crop.water, garden.soil_depth, rain_fed=True)
    soil = soil_of_texture(garden.texture)
    season, _ = season_days(weather, [basal], index[None], length[None], np.array([False]), np.ones(1))
    upper, lower = fallow.upper[index][None], fallow.lower[index][None]
    balance = root_zone_balance(
        season,
        soil,
        watering_of(garden),
        start_depletion=upper,
        start_surface=np.minimum(upper, total_evaporable_water(soil)),
        below=lower,
        full_depth=basal.rooting_depth,
    )
    age = np.arange(season.basal.shape[0])[:, None]
    wanted = (season.basal * season.reference * season.grows + balance.evaporation)[:, 0]
    wanting = wanted - balance.evapotranspiration[:, 0]
    if known(crop.gates.bulbing_day_length):
        wanting = np.where(age > basal.turns[2] * length[None], _RIPENING * wanting, wanting)
    used = 1.0 - wanting.sum(axis=0) / np.maximum(wanted.sum(axis=0), 1e-9)
    first = (age < np.maximum(basal.turns[0] * length[None], 7.0)) & season.grows[:, 0]
    stand = ramp((balance.stress[:, 0] * first).sum(axis=0) / np.maximum(first.sum(axis=0), 1), *_STAND)
    response = crop.water.yield_response if known(crop.water.yield_response) else 1.0  # FAO-56 p. 177
    return WaterLeft(used, stand, yield_left(used, response) * stand)


def rain_fed_seasons(
    weather: GardenWeather, garden: Garden | None = None, *, where: str = ""
) -> Callable[[Crop, Way, Seasons], Seasons]:
    """A change to the seasons of any crop: what comes of them on rain alone.

    Parameters
    ----------
    weather : GardenWeather
        Of the same days as the seasons.
    garden : Garden, optional
        Soil and mulch; bare loam of 0.6 m where left out.
    where : str
        Name of the record in the error.

    Returns
    -------
    callable
        From crop, way and seasons to seasons: yield fractions times the share that want of water leaves, NaN
        where rain is not known; hazard 'want of water' where it cost more than all the rest.

    Raises
    ------
    NotJudgedError
        Where no day has a reading of rain.
    """
    garden = garden or Garden("", "", ())
    soil = soil_of_texture(garden.texture)
    dry = watering_of(garden).evaporation_left
    no_rain = ~weather.rain_known if weather.rain_known is not None else np.zeros(weather.size, dtype=bool)
    if no_rain.all():
        raise NotJudgedError("the record has no rain; what lives on rain alone cannot be judged from it", where=where)
    gaps = np.concatenate([[0], np.cumsum(no_rain)])

    @cache
    def fallow(depth: float) -> Fallow:
        return fallow_soil(weather, soil, min(LEAST_ROOTS, depth), depth, evaporation_left=dry)

    def changed(crop: Crop, way: Way, outcome: Seasons) -> Seasons:
        fraction = outcome.yield_fraction
        start = np.arange(fraction.size)
        # what is picked once is grown by its first picking: that it stands longer takes nothing from it
        grown = outcome.first if crop.growth.habit == "once" else outcome.last
        last = np.clip(grown, start, fraction.size - 1).astype(int)
        followed = start[::_STEP][np.nan_to_num(fraction[::_STEP]) > 0.0]
        if not followed.size:
            return outcome
        depth = basal_of(crop.water, garden.soil_depth, rain_fed=True).rooting_depth
        found = on_rain_alone(weather, crop, followed, last[followed] - followed + 1, garden, fallow(depth))
        left = np.interp(start, followed, found.left)
        unknown = (grown >= fraction.size) | (gaps[last + 1] - gaps[start] > _UNKNOWN * (last - start + 1))
        worse = (1.0 - left) > np.maximum(1.0 - fraction, 0.005)  # False where undecided
        return replace(
            outcome,
            yield_fraction=np.where(unknown, np.nan, fraction * left),
            hazard=np.where(worse, _WANT, outcome.hazard).astype(outcome.hazard.dtype),
        )

    return changed


class RainFedBeds:
    """What becomes of seasons on rain alone in each bed of a garden, by the bed's own soil and mulch.

    Parameters
    ----------
    weather : GardenWeather
        Of the same days as the seasons.
    garden : Garden
    where : str
        Name of the record in the error.

    Raises
    ------
    NotJudgedError
        Where no day has a reading of rain.
    """

    def __init__(self, weather: GardenWeather, garden: Garden, *, where: str = "") -> None:
        self._weather, self._garden, self._where = weather, garden, where
        self._found: dict[tuple[object, ...], Changed] = {}
        self.usual = self._of(usual_ground(garden))

    def _of(self, ground: Garden) -> Changed:
        key = (ground.texture, ground.soil_depth, ground.mulch)
        if key not in self._found:
            self._found[key] = rain_fed_seasons(self._weather, ground, where=self._where)
        return self._found[key]

    def of_sowings(self, site: SiteDays, fold: Fold, sowings: Sequence[Sowing], plan: BedPlan) -> list[Sowing]:
        """The sowings with what the beds leave of them in which they stand, by area; dates stay as they were chosen
        for the soil that most beds have."""
        out = list(sowings)
        for i, sowing in enumerate(sowings):
            there = [(self._of(on_bed(self._garden, self._garden.beds[p.bed])), p.area) for p in plan.placings
                     if p.sowing == i]  # fmt: skip
            if sowing.stands or not sowing.rain_fed or not there or all(c is self.usual for c, _ in there):
                continue
            way = next(w for w in sowing.crop.ways if w.way == sowing.way)
            found = [(way_outcome(site, fold, sowing.crop, way, c).found, area) for c, area in there]
            out[i] = _on_ground(
                sowing, [(f.mean_yield[sowing.start], f.reliability[sowing.start], a) for f, a in found]
            )
        return out


def _on_ground(sowing: Sowing, found: Sequence[tuple[float, float, float]]) -> Sowing:
    """A sowing with the mean yield and reliability of its beds; what is picked of it goes with the yield."""
    area = sum(a for _, _, a in found)
    crop, odds = (float(np.nansum([row[k] * row[2] for row in found])) / area for k in (0, 1))
    times = crop / max(sowing.yield_fraction, 1e-9)
    leaves = None if sowing.rain_leaves is None else min(sowing.rain_leaves * times, 1.0)
    plants = replace(sowing.plants, picked=sowing.plants.picked * times, times_eaten=sowing.plants.times_eaten * times)
    return replace(sowing, yield_fraction=crop, reliability=odds, rain_leaves=leaves, plants=plants)


_FOLLOWED = 7  # days between start days that are followed; between them need is nearly straight
_TOGETHER = 64  # start days followed at once: more of them take more memory and no less time


@dataclass(frozen=True, slots=True)
class StartDayWater:
    """Litres drawn per m2 of bed; NaN where no season could be followed.

    Attributes
    ----------
    median, dry_year : numpy.ndarray
        By start day of the year, shape (365,): in the median year and in the dry year in ten.
    by_start : numpy.ndarray
        From each start day of the record, shape (N,).
    """

    median: np.ndarray
    dry_year: np.ndarray
    by_start: np.ndarray


def start_day_water(
    site: SiteDays,
    weather: GardenWeather,
    crop: Crop,
    way: Way,
    garden: Garden | None = None,
) -> StartDayWater:
    """Irrigation that one crop needs from each start day of the year, as `water_of_start_days` has it of several."""
    return water_of_start_days(site, weather, [(crop, way)], garden)[0]


def water_of_start_days(
    site: SiteDays,
    weather: GardenWeather,
    ways: Sequence[tuple[Crop, Way]],
    garden: Garden | None = None,
) -> list[StartDayWater]:
    """Irrigation that crops need from each start day of the year, all of them followed together.

    Parameters
    ----------
    site : SiteDays
    weather : GardenWeather
        Of the same days.
    ways : sequence of pairs of Crop and Way
    garden : Garden, optional
        Soil, mulch and way of watering; loam, bare and drip where left out.
    """
    if not ways:
        return []
    garden = garden or Garden("", "", ())
    fold = Fold.of(site)
    days = np.arange(0, 365, _FOLLOWED)
    index = fold.index[:, days].T
    basal = [basal_of(crop.water, garden.soil_depth) for crop, _ in ways]
    by_way = (by_day(site, fold, seasons(site, crop, way)) for crop, way in ways)
    lengths = np.array([season_lengths(found, int(d))[1] for found in by_way for d in days]).astype(int) + 1
    total = np.full(lengths.shape, np.nan)
    # seasons of like length go together: all are followed for as long as the longest of them
    order = np.argsort(lengths.max(axis=1), kind="stable")
    for rows in (order[k : k + _TOGETHER] for k in range(0, order.size, _TOGETHER)):
        begun = index[rows % days.size]
        balance, _, grows = season_balance(
            weather,
            [basal[k] for k in rows // days.size],
            begun,
            lengths[rows],
            np.ones(rows.size, dtype=bool),
            np.ones(rows.size),
            garden,
            kept=("irrigation",),
        )
        drawn = litres_of_seasons(balance, grows, lengths[rows], garden)
        total[rows] = np.where(begun >= 0, drawn, np.nan)
    return [_by_start_day(site, days, index, of_way) for of_way in total.reshape(-1, *index.shape)]


def _by_start_day(site: SiteDays, days: np.ndarray, index: np.ndarray, total: np.ndarray) -> StartDayWater:
    """Litres drawn from every start day, from those (shape (rows, years)) of the start days that are followed."""
    some = np.isfinite(total).any(axis=1)
    if not some.any():
        return StartDayWater(np.full(365, np.nan), np.full(365, np.nan), np.full(site.size, np.nan))
    known = np.isfinite(total)
    quantiles, years = np.empty((2, days.size)), known.sum(axis=1)
    for count in np.unique(years[some]):  # rows of as many known years at once
        rows = years == count
        quantiles[:, rows] = np.quantile(np.sort(total[rows], axis=1)[:, :count], [0.5, 0.9], axis=1)
    order = np.argsort(index[known])
    by_start = np.interp(site.start, index[known][order], total[known][order], left=np.nan, right=np.nan)
    around = [np.interp(np.arange(365), days[some], q[some], period=365) for q in quantiles]
    return StartDayWater(around[0], around[1], by_start)


def within_stored_water(
    site: SiteDays, weather: GardenWeather, most: float, kept: dict[tuple[str, str], StartDayWater] | None = None
) -> WaterRule:
    """The rule that a season draws no more than so much stored water.

    A season that succeeds and draws more is lost to want of water; one that fails anyway keeps the hazard that
    costs it most. A start day is advised only where the dry year in ten draws no more either.

    Parameters
    ----------
    site : SiteDays
    weather : GardenWeather
        Of the same days.
    most : float
        Litres per m2 of bed over the season, drip-fed on bare loam.
    kept : dict, optional
        What start days draw, by crop and way, which hangs on the days alone: shared by the rules of other settings.
    """
    drawn_by = {} if kept is None else kept

    def need(crop: Crop, way: Way) -> StartDayWater:
        key = (crop.name, way.way)
        if key not in drawn_by:
            drawn_by[key] = start_day_water(site, weather, crop, way)
        return drawn_by[key]

    def changed(crop: Crop, way: Way, outcome: Seasons) -> Seasons:
        drawn = need(crop, way).by_start
        with np.errstate(invalid="ignore"):
            works = outcome.yield_fraction >= site.settings.least_yield
            over = works & (drawn > most)
        fraction = np.where(over, 0.0, np.where(works & np.isnan(drawn), np.nan, outcome.yield_fraction))
        hazard = np.where(over, _WANT, outcome.hazard).astype(outcome.hazard.dtype)
        return replace(outcome, yield_fraction=fraction, hazard=hazard)

    return WaterRule(changed, lambda crop, way: need(crop, way).dry_year, most)
