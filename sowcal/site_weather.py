"""A site opened for an answer: its days as the plot has them, what they rest on, and what a reader must be told.

Every command opens its site here, so that each says the same of the same record.
"""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from sowcal.errors import InputError, NotJudgedError
from sowcal.languages import counted, counted_phrase, phrase, phrase_count
from sowcal.microclimate import with_what_ifs
from sowcal.provenance import MadeBy
from sowcal.seasons.season import missing_values
from sowcal.seasons.site_days import SiteDays, days_as_felt
from sowcal.settings import Settings
from sowcal.suitability.results import Record, Review, SeasonNow, record_of
from sowcal.units import quantity
from sowcal.weather.findings import checked, refuse_other_hemisphere
from sowcal.weather.generator import FALLS_SHORT
from sowcal.weather.record import DailyRecord, check_place, without_empty_ends
from sowcal.weather.years import chosen_years, years_words
from sowcal.year import clock_day, date_text

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from sowcal.crops.handbook import Handbook
    from sowcal.crops.tables import Crop
    from sowcal.garden.garden_file import Garden
    from sowcal.season_log import SeasonLog
    from sowcal.suitability.annuals import WaterRule
__all__ = [
    "Opened",
    "Place",
    "at_the_ends",
    "day_of_issue",
    "days_as_felt",
    "one_wish",
    "open_for_answer",
    "open_record",
    "record_of",
    "record_warnings",
    "season_of_site",
    "spec_of",
    "water_rule",
    "water_rules",
]


# a name, a path or a pair of degrees; or weather handed over
Place: TypeAlias = "str | os.PathLike[str] | tuple[float, float] | DailyRecord | xr.Dataset | pd.DataFrame"


_FEWEST, _ENOUGH = 3, 10  # whole years without which there are no odds, and rough ones: common practice, no source
_LEAST_DAYS = 365  # a year, without which no start day of the year would have been seen
_MOSTLY_MEASURED = 0.05  # share of filled days above which it is said aloud: common practice, no source


def record_warnings(record: Record, weather: DailyRecord) -> tuple[str, ...]:
    """What a reader of any answer must know of the record, a sentence each."""
    out = list(weather.warnings)
    out += [finding.line for finding in record.findings]
    if record.kind == "generated":
        out.append(FALLS_SHORT)
    usable = record.usable_years
    if usable < _FEWEST:
        out.append(
            phrase(
                "the record is too short for odds ({usable:.1f} years of days): at least {fewest} whole years are "
                "needed, and {enough} for odds to lean on",
                usable=usable,
                fewest=_FEWEST,
                enough=_ENOUGH,
            )
        )
    elif usable < _ENOUGH:
        out.append(
            phrase(
                "the record is short ({usable:.1f} years of days): odds from fewer than {enough} years are rough",
                usable=usable,
                enough=_ENOUGH,
            )
        )
    if record.filled_share > _MOSTLY_MEASURED:
        out.append(
            phrase(
                "{share:.0%} of the days are filled, not measured: odds of frost and heat from them are rough",
                share=record.filled_share,
            )
        )
    if record.missing_days:
        missing = record.missing_days
        out.append(
            phrase_count(
                missing,
                "{count} day is missing; seasons that touch it are left undecided",
                "{count} days are missing; seasons that touch them are left undecided",
            )
        )
    out += _offset_told(weather)
    return tuple(out)


def _offset_told(weather: DailyRecord) -> list[str]:
    """How the record was moved to the plot, and what that leaves open."""
    if weather.offset is None:
        return []
    report = weather.offset.report
    words = ""
    for variable, name in (("tasmin", phrase("nights")), ("tasmax", phrase("days"))):
        if o := report.of(variable):
            mean, low, high = (round(x, 2) for x in (o.mean, *o.interval))
            moved = phrase(
                "{name} {mean} (95 per cent interval {span})",
                name=name,
                mean=quantity(mean, "degC apart", "+.1f"),
                span=phrase("{low} to {high}", low=_apart(low), high=_apart(high)),
            )
            words = phrase("{before}, {change}", before=words, change=moved) if words else moved
    moved = phrase(
        "the record is moved to the plot by its own thermometer of {days}: {words}",
        days=counted_phrase(report.days, "day"),
        words=words,
    )
    return [moved, *(f"own thermometer: {note}" for note in report.notes)]


def _apart(degrees: float) -> str:
    return quantity(degrees, "degC apart", "+.1f", "number")


def day_of_issue(issued: dt.date | None = None) -> dt.date:
    """The day of issue as given, else today by the clock, which is read nowhere deeper than here."""
    return issued or clock_day()


def spec_of(site: Any) -> str | None:
    """The word of a site that is named: a name, a path, or a pair of degrees; None for weather handed over.

    Raises
    ------
    InputError
        For what is neither.
    """
    if isinstance(site, str):
        return site
    if isinstance(site, os.PathLike):
        return os.fspath(site)
    if isinstance(site, tuple) and len(site) == 2:
        try:
            latitude, longitude = (float(x) for x in site)
        except (TypeError, ValueError):
            raise InputError(
                f"{site!r} is no pair of degrees; give (latitude, longitude), such as (-31.9, 115.9)"
            ) from None
        check_place(latitude, longitude)
        return f"{latitude:.6f},{longitude:.6f}"
    if isinstance(site, DailyRecord) or hasattr(site, "data_vars") or hasattr(site, "columns"):
        return None
    raise InputError(
        f"{type(site).__name__} is no site; give a bundled plot, a file, (latitude, longitude), an xarray.Dataset or a "
        "pandas.DataFrame"
    )


def open_record(site: Place, years: str = "", issued: dt.date | None = None) -> tuple[str, DailyRecord]:
    """Name and daily record, as the plot has it, of a site given by name, file, 'LAT,LON', or weather handed over.

    Parameters
    ----------
    site : str, path, pair of float, DailyRecord, xarray.Dataset or pandas.DataFrame
    years : str
        Where given, those only are kept: '15' for the last fifteen, '1991:2010' for those.
    issued : datetime.date, optional
        Day of issue, after which days lie in the future; today where left out. With the same one the same record has
        the same findings.

    Returns
    -------
    name : str
    record : DailyRecord
        With what looks wrong in it, as it was read.

    Raises
    ------
    InputError
        Also for a record whose seasons are those of the other hemisphere.
    """
    issued = day_of_issue(issued)
    if (word := spec_of(site)) is not None:
        from sowcal.weather.open_site import open_weather

        found, record = open_weather(word, issued=issued)
        refuse_other_hemisphere(record, word)
        name, record = found.name, _at_plot(record)
    else:
        from sowcal.weather.from_xarray_and_pandas import as_record

        record = as_record(site)
        name = record.title or "site"
        refuse_other_hemisphere(record, name)
        record = checked(record, issued)
    record = without_empty_ends(record)
    if years:
        name = phrase("{site}, {years}", site=name, years=years_words(years, "--years"))
        record = chosen_years(record, years, "--years")
    return name, record


def _at_plot(record: DailyRecord) -> DailyRecord:
    """The days under the changes that the site file says hold on the plot."""
    try:
        return with_what_ifs(record, record.plot)
    except InputError as problem:
        raise InputError(problem.message, where="changes under [plot]") from None


@dataclass(frozen=True)
class Opened:
    """A site opened for an answer.

    Attributes
    ----------
    name : str
    weather : DailyRecord
        Under the changes asked for.
    record : Record
        What it is, for those who read the answer.
    settings : Settings
    ends : tuple of two DailyRecord, or None
        The same at the cold and the warm end of what the plot's own thermometer leaves open.
    """

    name: str
    weather: DailyRecord
    record: Record
    settings: Settings
    ends: tuple[DailyRecord, DailyRecord] | None = None

    def days(self, what_ifs: Sequence[str] = ()) -> SiteDays:
        """The days, under more changes where they are named."""
        return days_as_felt(with_what_ifs(self.weather, what_ifs), self.settings)

    @property
    def warnings(self) -> tuple[str, ...]:
        """What a reader must be told of the record."""
        return record_warnings(self.record, self.weather)


def open_for_answer(
    site: Place,
    settings: Settings | None,
    what_ifs: Sequence[str],
    years: str = "",
    issued: dt.date | None = None,
) -> Opened:
    """A site's days under some changes, with what they rest on; `years` and `issued` as `open_record` has them.

    Raises
    ------
    InputError, NetworkError, NotJudgedError
        Where the site is not known, its seasons are those of the other hemisphere, or its record is shorter than a
        year.
    """
    name, weather = open_record(site, years, issued)
    record = record_of(weather)
    if weather.size < _LEAST_DAYS:
        raise NotJudgedError(
            f"{counted(weather.size, 'day')} of record cannot be judged; at least {_LEAST_DAYS} are needed, "
            "and three whole years for odds",
            where=name,
        )
    ends = at_the_ends(weather, what_ifs)
    weather = with_what_ifs(weather, what_ifs)
    if weather.what_ifs:
        name = phrase("{site}, with {changes}", site=name, changes=weather.what_ifs)
    return Opened(name, weather, record, settings or Settings(), ends)


def one_wish(most: float | None, rain_fed: bool) -> None:
    """Refuse water that cannot be, or rain alone with stored water beside it."""
    if rain_fed and most is not None:
        raise InputError("a crop on rain alone draws no stored water; ask for one or the other")
    if most is not None and not most >= 0.0:
        raise InputError(f"{most} is no amount of stored water; give litres per m2, 0 or more")


def water_rule(opened: Opened, most: float | None, rain_fed: bool, what_ifs: Sequence[str] = ()) -> WaterRule | None:
    """What the water there is makes of annuals, under more changes where they are named; None where it is not asked."""
    if most is None and not rain_fed:
        return None
    from sowcal.garden.garden_weather import garden_weather

    weather = garden_weather(with_what_ifs(opened.weather, what_ifs))
    if rain_fed:
        from sowcal.garden.rain_fed import rain_fed_seasons
        from sowcal.suitability.annuals import WaterRule

        return WaterRule(rain_fed_seasons(weather, where=opened.name))
    assert most is not None
    from sowcal.garden.rain_fed import within_stored_water

    return within_stored_water(opened.days(what_ifs), weather, most)


def water_rules(
    opened: Opened,
    days: SiteDays,
    crops: Sequence[Crop],
    least_yields: Sequence[float],
    most_waters: Sequence[float | None],
    rain_fed: bool,
) -> list[list[WaterRule | None]]:
    """For each most of stored water a rule as of `water_rule` for each least yield, on the site's days.

    What the start days of all crops draw hangs on neither: it is followed once, for all of them together.
    """
    if rain_fed or all(most is None for most in most_waters):
        return [[water_rule(opened, None, rain_fed)] * len(least_yields) for _ in most_waters]
    from sowcal.garden.garden_weather import garden_weather
    from sowcal.garden.rain_fed import water_of_start_days, within_stored_water

    weather = garden_weather(opened.weather)
    ways = [
        (crop, way) for crop in crops if crop.perennial is None for way in crop.ways if not missing_values(crop, way)
    ]
    drawn = water_of_start_days(days, weather, ways)
    kept = {(crop.name, way.way): found for (crop, way), found in zip(ways, drawn, strict=True)}

    def rule(most: float | None, least: float) -> WaterRule | None:
        under = copy(days)  # shares what is summed already
        under.settings = replace(days.settings, least_yield=least)
        return None if most is None else within_stored_water(under, weather, most, kept)

    return [[rule(most, least) for least in least_yields] for most in most_waters]


def at_the_ends(weather: DailyRecord, what_ifs: Sequence[str]) -> tuple[DailyRecord, DailyRecord] | None:
    """The same days under the same changes at the two ends of what the plot's own thermometer leaves open."""
    if weather.offset is None:
        return None
    from sowcal.weather.offset import offset_ends

    found = offset_ends(weather)
    if found is None:
        return None
    cold, warm = (with_what_ifs(w, what_ifs) for w in found)
    return cold, warm


def season_of_site(
    site: Place,
    years: str,
    what_ifs: Sequence[str],
    log: SeasonLog | str | os.PathLike[str],
    day: dt.date,
    year: int | None,
    book: Handbook,
    settings: Settings | None,
    *,
    garden: Garden | str | os.PathLike[str] | None = None,
    recent: str | os.PathLike[str] | None = None,
    forecast: str | os.PathLike[str] | None = None,
    offered: Sequence[str] = (),
) -> SeasonNow | Review:
    """How the sowings of a log stand at a site on a day, or what came of those of a growing year.

    Parameters
    ----------
    site, years, what_ifs
        As `open_for_answer` has them.
    log : SeasonLog or path
    day : datetime.date
        Of the record nothing is known after it.
    year : int or None
        The growing year that is to be reviewed instead.
    book : Handbook
    settings : Settings or None
    garden : Garden or path, optional
    recent : path, optional
        Days measured on the plot after the record's last; those of the site file's own readings where left out.
    forecast : path, optional
        Days to come, from elsewhere.
    offered : sequence of str
        Crops among which something in place of a lost one is looked for; none for the whole handbook.
    """
    from sowcal.climate.so_far import growing_year
    from sowcal.season_log import SeasonLog as Log
    from sowcal.season_progress import review_of

    held = log if isinstance(log, Log) else Log.open(log, today=max(day, day_of_issue()), book=book)
    name, weather = open_record(site, years, day)
    weather = _with_own_readings(weather, site) if recent is None else _with_more(weather, recent)
    weather = with_what_ifs(weather, what_ifs)
    made_by = MadeBy(book.fingerprint, (weather.fingerprint,))
    if year is not None:
        first, last = growing_year(year, weather.latitude)
        inside = (weather.time >= np.datetime64(first)) & (weather.time <= np.datetime64(last))
        # what was to be expected is told by the other years
        others = {variable: np.where(inside, np.nan, values) for variable, values in weather.values.items()}
        found = review_of(weather.with_values(others), weather, held, year, settings)
        return Review(name, year, first, last, found, held, record_of(weather), made_by)
    so_far = weather.span(None, str(day))
    if so_far.size < _LEAST_DAYS:
        raise NotJudgedError(
            f"the record has {counted(so_far.size, 'day')} up to {date_text(day)}; at least a year is needed"
        )
    told = so_far if forecast is None else _with_more(so_far, forecast)
    now = _season_now(so_far, told, held, day, settings, garden, offered)
    return replace(now, site=name, record=record_of(weather), made_by=made_by)


def _season_now(
    so_far: DailyRecord,
    told: DailyRecord,
    log: SeasonLog,
    day: dt.date,
    settings: Settings | None,
    garden: Garden | str | os.PathLike[str] | None,
    offered: Sequence[str],
) -> SeasonNow:
    """The season by the days so far and those of a forecast behind them, with what is said of these days."""
    from sowcal.climate.so_far import so_far_of
    from sowcal.crops.handbook import named_crops
    from sowcal.garden.garden_file import Garden as Plot
    from sowcal.garden.garden_file import open_garden
    from sowcal.season_progress import learnt_sorts, season_so_far

    plot = None if garden is None else garden if isinstance(garden, Plot) else open_garden(os.fspath(garden))
    crops = named_crops(log.book, offered) if offered else list(log.book.values())
    found = season_so_far(so_far, told, log, day, settings, garden=plot, offered=crops)
    notes = [f"log, line {p.line}: {p.text}" for p in log.problems]
    known = so_far.time[np.isfinite(so_far["tasmin"]) & np.isfinite(so_far["tasmax"])]
    to = known[-1].astype(object) if known.size else None
    begun = min((s.sown.started for s in found.sowings), default=day)
    if to is None or to < begun:
        notes.append(f"the record ends on {date_text(to) if to else 'no day'}: all of this season is by its years")
        to = None
    elif lacking := (to - begun).days + 1 - int((known >= np.datetime64(begun)).sum()):
        notes.append(f"{counted(lacking, 'day')} of this season are missing in the record: its years stand in for them")
    if to is not None and (day - to).days > 1:
        notes.append(f"the record ends on {date_text(to)}: from there its years stand in for this season's days")
    ahead = told.time[-1].astype(object) if told.size > so_far.size else None
    if ahead is not None:
        notes.append(f"days up to {date_text(ahead)} are of the forecast that was given, not measured")
    return replace(
        found,
        weather_to=to,
        forecast_to=ahead,
        learnt=tuple(learnt_sorts(so_far, log, day, settings)),
        so_far=so_far_of(so_far, day),
        notes=(*notes, *found.notes),
    )


def _with_own_readings(record: DailyRecord, site: Place) -> DailyRecord:
    """The record, and behind it what the plot's own thermometer has shown since; to that plot the record is moved."""
    word = spec_of(site)
    if word is None or not word.lower().endswith(".toml"):
        return record
    from sowcal.weather.filling import followed_by
    from sowcal.weather.open_site import own_readings
    from sowcal.weather.site_file import read_site_file

    found = own_readings(read_site_file(word))
    return record if found is None else followed_by(record, found)


def _with_more(record: DailyRecord, path: str | os.PathLike[str]) -> DailyRecord:
    """The record, and behind it the days of the same place from another file, which need not say where it is."""
    from sowcal.weather.filling import followed_by
    from sowcal.weather.open_site import read_record

    north, east, height = (None if np.isnan(v) else v for v in (record.latitude, record.longitude, record.elevation))
    try:
        more = read_record(Path(path), latitude=north, longitude=east, elevation=height, title=record.title)
    except InputError as problem:
        if "temperature_unit" not in problem.message:
            raise
        said = f"{problem.message}, or a line '# temperature_unit: degC' at its top"
        raise InputError(said, where=problem.where, line=problem.line, column=problem.column) from None
    return followed_by(record, more)
