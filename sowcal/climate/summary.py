"""The figures of a place gathered from the indices, and what a reader must know beside them: few years, the error of
its own thermometer."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.climate.chill import HOURLY_MODELS, chill_portions, chill_units, chilling_hours, season_chill_of_hours
from sowcal.climate.degree_days import single_sine_horizontal
from sowcal.climate.evapotranspiration import reference_evapotranspiration
from sowcal.climate.frost import (
    first_autumn_frost,
    frost_date_odds,
    frost_days,
    frost_free_period,
    frost_years,
    last_spring_frost,
)
from sowcal.climate.growing_years import by_growing_year, by_month
from sowcal.climate.heat import hardiness_zone, heat_zone, hot_days, mean_yearly_minimum, tropical_nights
from sowcal.climate.place_figures import (
    DEGREE_DAY_BASE,
    DEGREE_DAY_TOP,
    EVAPOTRANSPIRATION,
    FROST,
    HOT,
    LEAST_YEARS,
    VERY_HOT,
    WARM_NIGHT,
    ClimateSummary,
    Odds,
)
from sowcal.climate.rain import rains_by_year
from sowcal.climate.sun import day_length
from sowcal.languages import counted_phrase, phrase, sentence_of
from sowcal.provenance import MadeBy
from sowcal.weather.years import trends
from sowcal.year import MONTHS

if TYPE_CHECKING:
    from sowcal.weather.record import DailyRecord

__all__ = [
    "BothWays",
    "as_sentences",
    "chill_both_ways",
    "climate_summary",
    "few_years",
    "frost_odds",
    "frost_range",
    "has_hours",
    "mean_chill",
]

_ENOUGH = 10  # years from which 1 and 9 years in 10 can be told: common practice, no source


def as_sentences(words: Iterable[str]) -> tuple[str, ...]:
    """Each with a capital letter and a full stop.

    Examples
    --------
    >>> as_sentences(["rain is not known", "The years are few."])
    ('Rain is not known.', 'The years are few.')
    """
    return tuple(sentence_of(w) for w in words)


def _day(odds: Odds | None) -> str:
    if odds is None:
        return phrase("not known")
    if odds.p50 is None:
        return phrase("never")
    date = dt.date(2023, 1, 1) + dt.timedelta(days=odds.p50)  # any year without a leap day
    return phrase("{day} {month}", day=date.day, month=MONTHS[date.month - 1])


def frost_range(cold: DailyRecord, warm: DailyRecord) -> list[str]:
    """How far the middle year's frost dates range between two ends of the same record.

    Parameters
    ----------
    cold, warm : DailyRecord
        At either end of an error.

    Returns
    -------
    list of str

    Examples
    --------
    >>> from sowcal.weather.record import daily_record
    >>> time = np.arange("2001-01-01", "2005-01-01", dtype="datetime64[D]")
    >>> low = 6.0 - 10.0 * np.cos(2 * np.pi * np.arange(time.size) / 365.25)
    >>> days = daily_record(time, {"tasmin": low, "tasmax": low + 10.0}, latitude=38.0)
    >>> cold, warm = (daily_record(time, {"tasmin": low + k, "tasmax": low + 10.0}, latitude=38.0) for k in (-1.0, 1.0))
    >>> for sentence in frost_range(cold, warm):
    ...     print(sentence)
    within the error of your thermometer the last spring frost of the middle year: 16 Feb to 2 Mar
    within the error of your thermometer the first autumn frost of the middle year: 2 Nov to 17 Nov
    """
    out = []
    for side, words, ends in (
        ("spring", phrase("last spring frost"), (warm, cold)),
        ("autumn", phrase("first autumn frost"), (cold, warm)),
    ):
        early, late = (_day(frost_odds(d, side)) for d in ends)
        between = early if early == late else phrase("{start} to {end}", start=early, end=late)
        out.append(
            phrase(
                "within the error of your thermometer the {what} of the middle year: {when}", what=words, when=between
            )
        )
    return out


def few_years(summary: ClimateSummary, usable_years: float) -> list[str]:
    """What odds from few years are: 1 and 9 years in 10 cannot be told from six.

    Parameters
    ----------
    summary : ClimateSummary
    usable_years : float
        Length of the record without its missing days, years.

    Returns
    -------
    list of str

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> few_years(SimpleNamespace(last_spring_frost=None), 6.0)
    []
    """
    if usable_years >= _ENOUGH or summary.last_spring_frost is None:
        return []
    return [
        phrase(
            "from {years:.0f} years the dates of 1 and of 9 years in 10 are little more than the earliest and the "
            "latest that were seen; the true ones may lie well outside",
            years=usable_years,
        )
    ]


_REBUILT: dict[str, Any] = {
    "hours below 7.2": lambda *a, **k: chilling_hours(*a, form="below_7.2", **k),
    "hours 0 to 7.2": lambda *a, **k: chilling_hours(*a, form="0_to_7.2", **k),
    "Utah units": chill_units,
    "portions": chill_portions,
}


@dataclass(frozen=True)
class BothWays:
    """One model's chill of each cold season, from measured hours and from rebuilt ones.

    Attributes
    ----------
    model : str
    years : numpy.ndarray of int
        Of the spring that follows.
    measured, rebuilt : numpy.ndarray
        NaN where a season is not whole.
    """

    model: str
    years: np.ndarray
    measured: np.ndarray
    rebuilt: np.ndarray

    @property
    def both(self) -> np.ndarray:
        """Seasons that are known both ways."""
        return np.isfinite(self.measured) & np.isfinite(self.rebuilt)

    def to_json(self) -> dict[str, Any]:
        """Plain form."""

        def plain(values: np.ndarray) -> list[float | None]:
            return [None if np.isnan(v) else round(float(v), 1) for v in values]

        both = self.both
        mean = float((self.rebuilt - self.measured)[both].mean()) if both.any() else None
        return {
            "model": self.model,
            "years": [int(y) for y in self.years],
            "measured": plain(self.measured),
            "rebuilt": plain(self.rebuilt),
            "rebuilt_minus_measured": None if mean is None else round(mean, 1),
        }


def has_hours(weather: DailyRecord) -> bool:
    """Whether a record has measured hours that hold as they are (a what-if changes only the extremes).

    Examples
    --------
    >>> from sowcal.weather.record import daily_record
    >>> time = np.arange("2001-01-01", "2005-01-01", dtype="datetime64[D]")
    >>> low = 6.0 - 10.0 * np.cos(2 * np.pi * np.arange(time.size) / 365.25)
    >>> days = daily_record(time, {"tasmin": low, "tasmax": low + 10.0}, latitude=38.0)
    >>> has_hours(days)
    False
    """
    return weather.hours is not None and not weather.what_ifs


def chill_both_ways(weather: DailyRecord) -> list[BothWays]:
    """Chill by each model from measured and from rebuilt hours.

    Parameters
    ----------
    weather : DailyRecord
        With `hours`.

    Returns
    -------
    list of BothWays
        Hours, units or portions by cold season.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from sowcal.weather.record import daily_record
    >>> time = np.arange("2001-01-01", "2005-01-01", dtype="datetime64[D]")
    >>> low = 6.0 - 10.0 * np.cos(2 * np.pi * np.arange(time.size) / 365.25)
    >>> days = daily_record(time, {"tasmin": low, "tasmax": low + 10.0}, latitude=38.0)
    >>> portions = chill_both_ways(replace(days, hours=np.repeat(low[:, None] + 5.0, 24, axis=1)))[-1]
    >>> portions.model, portions.years.tolist(), portions.measured.round(1)
    ('portions', [2001, 2002, 2003, 2004, 2005], array([  nan, 132.8, 132.1, 133.2,   nan]))
    """
    time, latitude = weather.time, weather.latitude
    assert weather.hours is not None
    out = []
    for model in HOURLY_MODELS:
        years, measured = season_chill_of_hours(weather.hours, model=model, time=time, latitude=latitude)
        rebuilt = _REBUILT[model](weather["tasmin"], weather["tasmax"], time=time, latitude=latitude)
        out.append(BothWays(model, years, measured, np.asarray(rebuilt)))
    return out


def mean_chill(weather: DailyRecord) -> tuple[dict[str, float | None], tuple[str, ...]]:
    """Mean chill of a cold season by model, and what must be known of it.

    A season comes from measured hours where nearly all of them are there, else from rebuilt ones.

    Parameters
    ----------
    weather : DailyRecord
        With or without `hours`.

    Returns
    -------
    dict of str to float or None, tuple of str
        Hours, units or portions by model, None where no season is whole; sentences.

    Examples
    --------
    >>> from sowcal.weather.record import daily_record
    >>> time = np.arange("2001-01-01", "2005-01-01", dtype="datetime64[D]")
    >>> low = 6.0 - 10.0 * np.cos(2 * np.pi * np.arange(time.size) / 365.25)
    >>> days = daily_record(time, {"tasmin": low, "tasmax": low + 10.0}, latitude=38.0)
    >>> chill, notes = mean_chill(days)
    >>> round(chill["portions"], 1), notes
    (134.6, ())
    """
    time, latitude = weather.time, weather.latitude
    low, high = weather["tasmin"], weather["tasmax"]
    if not has_hours(weather):
        plain = {m: _mean(np.asarray(f(low, high, time=time, latitude=latitude))) for m, f in _REBUILT.items()}
        return plain, ()
    out: dict[str, float | None] = {}
    notes: tuple[str, ...] = ()
    for one in chill_both_ways(weather):
        out[one.model] = _mean(np.where(np.isfinite(one.measured), one.measured, one.rebuilt))
        if one.model == "portions":
            known = int(np.isfinite(one.measured).sum())
            seasons = int((np.isfinite(one.measured) | np.isfinite(one.rebuilt)).sum())
            notes = (
                phrase(
                    "Chill is counted from the station's hourly values in {known} of {seasons}.",
                    known=known,
                    seasons=counted_phrase(seasons, "cold season"),
                ),
            )
            if one.both.any():
                by = float((one.rebuilt - one.measured)[one.both].mean())
                notes = (
                    phrase(
                        "Chill is counted from the station's hourly values in {known} of {seasons}; hours rebuilt out "
                        "of the extremes give {by:+.1f} portions there.",
                        known=known,
                        seasons=counted_phrase(seasons, "cold season"),
                        by=by,
                    ),
                )
    return out, notes


def _mean(x: np.ndarray) -> float | None:
    good = x[np.isfinite(x)]
    return float(good.mean()) if good.size else None


def _mean_of(x: np.ndarray) -> float | None:
    good = x[np.isfinite(x)]
    return float(good.mean()) if good.size else None


def _monthly(x: np.ndarray, time: np.ndarray, statistic: Callable[..., np.ndarray]) -> tuple[float | None, ...]:
    """Mean over the years of a statistic of each calendar month."""
    return _twelve(by_month(lambda v, dates: statistic(v, axis=-1), [x], attrs={}, time=time))


def _twelve(table: np.ndarray) -> tuple[float | None, ...]:
    return tuple(_mean_of(table[:, k]) for k in range(12))


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
        "years_without_frost": _mean_of(np.where(np.isnan(frosts), np.nan, frosts == 0)) if enough else None,
        "frost_days": _mean_of(frosts),
        "frost_by_year": frost_years(spring, autumn, **by),
    }


def _rain(weather: DailyRecord, by: dict[str, Any]) -> dict[str, Any]:
    if "pr" not in weather or not np.isfinite(weather["pr"]).any():
        return {}
    pr = weather["pr"]
    found = rains_by_year(weather)
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


def frost_odds(weather: DailyRecord, side: str) -> Odds | None:
    """Dates of the last frost of 'spring' or the first of 'autumn'; None for a record of less than three years.

    Parameters
    ----------
    weather : DailyRecord
    side : {'spring', 'autumn'}

    Returns
    -------
    Odds or None
        Days of the year from 0.

    Examples
    --------
    >>> from sowcal.weather.record import daily_record
    >>> time = np.arange("2001-01-01", "2005-01-01", dtype="datetime64[D]")
    >>> low = 6.0 - 10.0 * np.cos(2 * np.pi * np.arange(time.size) / 365.25)
    >>> days = daily_record(time, {"tasmin": low, "tasmax": low + 10.0}, latitude=38.0)
    >>> frost_odds(days, "spring")
    Odds(p10=53, p50=54, p90=54)
    """
    tasmin = weather["tasmin"]
    by: dict[str, Any] = {"time": weather.time, "latitude": weather.latitude}
    return _odds((last_spring_frost if side == "spring" else first_autumn_frost)(tasmin, threshold=FROST, **by), side)


def climate_summary(weather: DailyRecord, site: str, record: Any) -> ClimateSummary:
    """Figures of one place from its daily record.

    Parameters
    ----------
    weather : DailyRecord
    site : str
        Its name.
    record : object
        With `first`, `last`, `years`, `kind`, `findings` and `fingerprint`, as the record that results carry.

    Returns
    -------
    ClimateSummary
        Temperatures in degC, rain and evapotranspiration in mm, days of the year from 0.

    Examples
    --------
    >>> from sowcal.weather.record import daily_record
    >>> time = np.arange("2001-01-01", "2005-01-01", dtype="datetime64[D]")
    >>> low = 6.0 - 10.0 * np.cos(2 * np.pi * np.arange(time.size) / 365.25)
    >>> days = daily_record(time, {"tasmin": low, "tasmax": low + 10.0}, latitude=38.0)
    >>> from sowcal.suitability.results import Record
    >>> place = climate_summary(days, "mine", Record("2001-01-01", "2004-12-31", 4.0, "generated"))
    >>> place.frost_days, place.hardiness_zone
    (107.75, None)
    """
    tasmin, tasmax, dates = weather["tasmin"], weather["tasmax"], weather.time
    latitude, elevation = weather.latitude, weather.elevation
    by: dict[str, Any] = {"time": dates, "latitude": latitude}
    degree_days = single_sine_horizontal(tasmin, tasmax, DEGREE_DAY_BASE, DEGREE_DAY_TOP)
    days = np.arange(1, 366)
    light = day_length(latitude, days)
    of_year = (dates - dates.astype("datetime64[Y]").astype("datetime64[D]")).astype(int) + 1
    water = reference_evapotranspiration(tasmin, tasmax, latitude=latitude, day_of_year=of_year)
    hot = hot_days(tasmax, threshold=HOT, **by)
    hot_mean = _mean_of(hot)
    chill, notes = mean_chill(weather)
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
        growing_degree_days=_mean_of(by_growing_year(degree_days, statistic="sum", **by)),
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
        trends=() if record.kind == "generated" else tuple(trends(weather)),  # a generator's years have no trend
        notes=notes,
        made_by=MadeBy(records=(record.fingerprint,)),
        **_frost(tasmin, by),
        **_rain(weather, by),
    )
