"""One place in figures: the indices of this package over one site's record."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.climate.day_length import day_length
from sowcal.climate.degree_days import single_sine_horizontal
from sowcal.climate.evapotranspiration import reference_evapotranspiration
from sowcal.climate.frost import (
    first_autumn_frost,
    frost_date_odds,
    frost_days,
    frost_free_period,
    last_spring_frost,
)
from sowcal.climate.frost_years import frost_years
from sowcal.climate.growing_years import by_growing_year, by_month
from sowcal.climate.heat import hot_days, tropical_nights
from sowcal.climate.rain_years import rains_by_year
from sowcal.climate.summary_chill import mean_chill
from sowcal.climate.summary_definitions import (
    DEGREE_DAY_BASE,
    DEGREE_DAY_TOP,
    EVAPOTRANSPIRATION,
    FROST,
    HOT,
    LEAST_YEARS,
    VERY_HOT,
    WARM_NIGHT,
)
from sowcal.climate.summary_record import ClimateSummary, Odds
from sowcal.climate.zones import hardiness_zone, heat_zone, mean_yearly_minimum
from sowcal.made_by import MadeBy
from sowcal.weather.trend import trends

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["climate_summary", "frost_odds"]


def _mean(x: np.ndarray) -> float | None:
    good = x[np.isfinite(x)]
    return float(good.mean()) if good.size else None


def _monthly(x: np.ndarray, time: np.ndarray, statistic: Callable[..., np.ndarray]) -> tuple[float | None, ...]:
    """Mean over the years of a statistic of each calendar month."""
    return _twelve(by_month(lambda v, dates: statistic(v, axis=-1), [x], attrs={}, time=time))


def _twelve(table: np.ndarray) -> tuple[float | None, ...]:
    return tuple(_mean(table[:, k]) for k in range(12))


def _odds(day: np.ndarray, side: str) -> Odds | None:
    if np.isfinite(day).sum() + np.isinf(day).sum() < LEAST_YEARS:
        return None
    # by that day the last frost has passed, or the first has come, in 10, 50 and 90 per cent of years
    odds = (90.0, 50.0, 10.0) if side == "spring" else (10.0, 50.0, 90.0)
    found = frost_date_odds(day, side=side, odds=odds, least_years=LEAST_YEARS)
    p10, p50, p90 = (None if not np.isfinite(d) else int(d) - 1 for d in found)
    return Odds(p10, p50, p90)


def _lengths(days: np.ndarray) -> Odds | None:
    good = days[np.isfinite(days)]
    if good.size < LEAST_YEARS:
        return None
    return Odds(*(round(float(q)) for q in np.percentile(good, [10, 50, 90])))


def _frost(tasmin: np.ndarray, by: dict[str, Any]) -> dict[str, Any]:
    spring = last_spring_frost(tasmin, threshold=FROST, **by)
    autumn = first_autumn_frost(tasmin, threshold=FROST, **by)
    frosts = frost_days(tasmin, threshold=FROST, **by)
    enough = np.isfinite(frosts).sum() >= LEAST_YEARS
    return {
        "last_spring_frost": _odds(spring, "spring"),
        "first_autumn_frost": _odds(autumn, "autumn"),
        "frost_free_days": _lengths(frost_free_period(tasmin, threshold=FROST, **by)),
        "years_without_frost": _mean(np.where(np.isnan(frosts), np.nan, frosts == 0)) if enough else None,
        "frost_days": _mean(frosts),
        "frost_by_year": frost_years(spring, autumn, **by),
    }


def _rain(dataset: xr.Dataset, by: dict[str, Any]) -> dict[str, Any]:
    if "pr" not in dataset or not np.isfinite(dataset["pr"].values).any():
        return {}
    pr = dataset["pr"].values.astype(float)
    found = rains_by_year(dataset)
    return {
        "pr": _monthly(pr, by["time"], np.nansum),
        "opening_rains": found.p50 if found else None,
        "opening_rains_by_year": found,
    }


def _zone(value: Any, name: Callable[[Any], Any]) -> str | None:
    if not np.isfinite(value):
        return None
    zone = np.asarray(name(value)).item()
    return f"{zone:g}" if isinstance(zone, float) else str(zone)


def frost_odds(dataset: xr.Dataset, side: str) -> Odds | None:
    """Dates of the last frost of 'spring' or the first of 'autumn'; None for a record of less than three years."""
    tasmin = dataset["tasmin"].values.astype(float)
    by: dict[str, Any] = {"time": dataset["time"].values, "latitude": float(dataset["latitude"])}
    return _odds((last_spring_frost if side == "spring" else first_autumn_frost)(tasmin, threshold=FROST, **by), side)


def climate_summary(dataset: xr.Dataset, site: str, record: Any) -> ClimateSummary:
    """Figures of one place from its daily dataset.

    Parameters
    ----------
    dataset : xarray.Dataset
        One site in the weather form (DESIGN section 3).
    site : str
        Its name.
    record : object
        With `first`, `last`, `years`, `kind`, `findings` and `fingerprint`, as the record that results carry.
    """
    tasmin = dataset["tasmin"].values.astype(float)
    tasmax = dataset["tasmax"].values.astype(float)
    latitude = float(dataset["latitude"])
    elevation = float(dataset["elevation"]) if "elevation" in dataset.coords else np.nan
    by: dict[str, Any] = {"time": dataset["time"].values, "latitude": latitude}
    degree_days = single_sine_horizontal(tasmin, tasmax, DEGREE_DAY_BASE, DEGREE_DAY_TOP)
    days = np.arange(1, 366)
    light = day_length(latitude, days)
    dates = dataset["time"].values.astype("datetime64[D]")
    of_year = (dates - dates.astype("datetime64[Y]").astype("datetime64[D]")).astype(int) + 1
    water = reference_evapotranspiration(tasmin, tasmax, latitude=latitude, day_of_year=of_year)
    hot = hot_days(tasmax, threshold=HOT, **by)
    hot_mean = _mean(hot)
    chill, notes = mean_chill(dataset)
    return ClimateSummary(
        site=site,
        latitude=latitude,
        elevation=elevation if np.isfinite(elevation) else None,
        record_first=record.first,
        record_last=record.last,
        record_years=record.years,
        record_kind=record.kind,
        record_filled_days=record.filled_days,
        record_missing_days=record.missing_days,
        record_findings=record.findings,
        growing_degree_days=_mean(by_growing_year(degree_days, statistic="sum", **by)),
        tasmin=_monthly(tasmin, dates, np.nanmean),
        tasmax=_monthly(tasmax, dates, np.nanmean),
        reference_evapotranspiration=_monthly(water, dates, np.nansum),
        evapotranspiration_method=EVAPOTRANSPIRATION,
        hot_days_30=_twelve(hot_days(tasmax, threshold=HOT, by="month", **by)),
        hot_days_35=_twelve(hot_days(tasmax, threshold=VERY_HOT, by="month", **by)),
        warm_nights_20=_twelve(tropical_nights(tasmin, threshold=WARM_NIGHT, by="month", **by)),
        chill_portions=chill["portions"],
        chill_hours=chill["hours 0 to 7.2"],
        chill_units=chill["Utah units"],
        hardiness_zone=_zone(mean_yearly_minimum(tasmin, **by), hardiness_zone),
        heat_zone=_zone(hot_mean, heat_zone) if hot_mean is not None else None,
        shortest_day=float(light.min()),
        longest_day=float(light.max()),
        trends=() if record.kind == "generated" else tuple(trends(dataset)),  # a generator's years have no trend
        notes=notes,
        made_by=MadeBy(records=(record.fingerprint,)),
        **_frost(tasmin, by),
        **_rain(dataset, by),
    )
