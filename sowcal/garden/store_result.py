"""All that is told of the store: every year, odds, how long it lasts in high summer, what size would do."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sowcal.garden.dates import MONTHS
from sowcal.garden.garden_file import Garden
from sowcal.garden.garden_weather import GardenWeather
from sowcal.garden.store import (
    StoreRun,
    StoreYear,
    chance_dry,
    follow_store,
    lasts_days,
    pond_losses,
    roof_water,
    size_for,
    size_if_full,
    store_years,
)
from sowcal.garden.water_need import GardenNeed

__all__ = ["StoreResult", "filled_days", "run_store", "store_result"]

_MONTH_STARTS = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334)


@dataclass(frozen=True, slots=True)
class StoreResult:
    """The store through the record.

    Attributes
    ----------
    capacity : float
        Litres.
    years : tuple of StoreYear
    chance_dry : float or None
        Share of years with a dry day; None where no year is known.
    size_for_9_in_10 : float or None
        Litres; None where what runs in is less than what is drawn, so that no size would do.
    size_if_full : float or None
        Litres that get through 9 years in 10 if the store is full before the dry season.
    thirsty_month : int
        0 to 11, the month that draws most.
    lasts, lasts_dry_year : float or None
        Days that a full store lasts from the first of that month: median and the worst year in ten.
    refill_wanted : float
        Litres a year that are wanting in the median year.
    levels : numpy.ndarray
        Litres by year and day of the year, shape (years, 365).
    """

    capacity: float
    years: tuple[StoreYear, ...]
    chance_dry: float | None
    size_for_9_in_10: float | None
    size_if_full: float | None
    thirsty_month: int
    lasts: float | None
    lasts_dry_year: float | None
    refill_wanted: float
    levels: np.ndarray

    @property
    def month_name(self) -> str:
        """Of the thirstiest month."""
        return MONTHS[self.thirsty_month]

    @property
    def days_dry(self) -> float:
        """Dry days in the median year."""
        return float(np.median([y.days_dry for y in self.years])) if self.years else 0.0

    @property
    def first_dry(self) -> int | None:
        """Median day of the year on which it is first dry, of the years in which it is."""
        days = [y.first_dry for y in self.years if y.first_dry is not None]
        return int(np.median(days)) if days else None


def _flows(weather: GardenWeather, garden: Garden) -> tuple[np.ndarray, np.ndarray]:
    """Roof water and losses, litres a day."""
    water = garden.water
    losses = np.zeros(weather.size)
    if water.pond:
        losses = pond_losses(weather.reference, water.pond.area, water.pond.seepage)
    return roof_water(weather.rain, water.roof), losses


def filled_days(weather: GardenWeather, garden: Garden, latitude: float) -> np.ndarray:
    """Days on which the store is taken to be filled: where neither roof nor refill is given, once a year at
    midwinter's turn (1 January, south of the equator 1 July), else never."""
    if garden.water.roof > 0.0 or garden.water.refill > 0.0:
        return np.zeros(weather.size, dtype=bool)
    return weather.day_of_year == _year_begins(latitude)


def _year_begins(latitude: float) -> int:
    return 0 if latitude >= 0.0 else 181


def run_store(weather: GardenWeather, need: GardenNeed, garden: Garden, latitude: float) -> StoreRun:
    """The garden's store under its demand."""
    roof, losses = _flows(weather, garden)
    water = garden.water
    return follow_store(
        need.daily,
        roof,
        water.capacity,
        losses=losses,
        refill=water.refill,
        start=water.full_at_start,
        filled=filled_days(weather, garden, latitude),
    )


def _levels(weather: GardenWeather, run: StoreRun, years: np.ndarray) -> np.ndarray:
    out = np.full((years.size, 365), np.nan)
    place = np.searchsorted(years, weather.year)
    inside = (place < years.size) & np.isin(weather.year, years)
    out[place[inside], weather.day_of_year[inside]] = run.level[inside]
    return out


def store_result(weather: GardenWeather, need: GardenNeed, garden: Garden, latitude: float) -> StoreResult:
    """Everything about the store.

    Parameters
    ----------
    weather : GardenWeather
    need : GardenNeed
    garden : Garden
    latitude : float
        South of the equator the dry season's year begins in July.
    """
    run = run_store(weather, need, garden, latitude)
    roof, losses = _flows(weather, garden)
    years = store_years(run, weather.year, weather.day_of_year, need.years)
    month = np.searchsorted(_MONTH_STARTS, weather.day_of_year, side="right") - 1
    thirsty = int(np.bincount(month, need.daily, 12).argmax())
    refill = garden.water.refill
    lasts = lasts_days(
        need.daily, roof - losses, garden.water.capacity, weather.day_of_year, _MONTH_STARTS[thirsty], refill
    )
    wants = bool(need.daily.sum() > 0)
    return StoreResult(
        capacity=garden.water.capacity,
        years=years,
        chance_dry=chance_dry(years) if years else None,
        size_for_9_in_10=size_for(
            need.daily,
            roof,
            weather.year,
            need.years,
            losses=losses,
            refill=refill,
            filled=filled_days(weather, garden, latitude),
        ),
        size_if_full=size_if_full(
            need.daily,
            roof,
            weather.day_of_year,
            first=_year_begins(latitude),
            losses=losses,
            refill=refill,
        ),
        thirsty_month=thirsty,
        lasts=float(np.median(lasts)) if lasts.size and wants else None,
        lasts_dry_year=float(np.quantile(lasts, 0.1)) if lasts.size and wants else None,
        refill_wanted=float(np.median([y.wanting for y in years])) if years else 0.0,
        levels=_levels(weather, run, need.years),
    )
