"""A site opened for an answer: its days as the plot has them, what they rest on, and what a reader must be told.

Every command opens its site here, so that each says the same of the same record.
"""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, TypeAlias

from sowcal.errors import InputError, NotJudgedError
from sowcal.microclimate import with_what_ifs
from sowcal.plurals import counted
from sowcal.seasons.site_days import SiteDays
from sowcal.settings import Settings
from sowcal.suitability.results import Record, record_of
from sowcal.weather.findings import checked, refuse_other_hemisphere
from sowcal.weather.generator import FALLS_SHORT
from sowcal.weather.record import DailyRecord, check_place, without_empty_ends
from sowcal.weather.years import chosen_years, years_words

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

__all__ = [
    "Opened",
    "Place",
    "at_the_ends",
    "day_of_issue",
    "days_as_felt",
    "open_for_answer",
    "open_record",
    "record_of",
    "record_warnings",
    "spec_of",
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
            f"the record is too short for odds ({usable:.1f} years of days): at least {_FEWEST} whole years are "
            f"needed, and {_ENOUGH} for odds to lean on"
        )
    elif usable < _ENOUGH:
        out.append(f"the record is short ({usable:.1f} years of days): odds from fewer than {_ENOUGH} years are rough")
    if record.filled_share > _MOSTLY_MEASURED:
        out.append(
            f"{record.filled_share:.0%} of the days are filled, not measured: odds of frost and heat from them are "
            "rough"
        )
    if record.missing_days:
        missing = record.missing_days
        out.append(
            f"{counted(missing, 'day')} {'is' if missing == 1 else 'are'} missing; seasons that touch "
            f"{'it' if missing == 1 else 'them'} are left undecided"
        )
    out += _offset_told(weather)
    return tuple(out)


def _offset_told(weather: DailyRecord) -> list[str]:
    """How the record was moved to the plot, and what that leaves open."""
    if weather.offset is None:
        return []
    report = weather.offset.report
    words = []
    for variable, name in (("tasmin", "nights"), ("tasmax", "days")):
        if o := report.of(variable):
            mean, low, high = (round(x, 2) for x in (o.mean, *o.interval))
            words.append(f"{name} {mean:+.1f} degC (95 per cent interval {low:+.1f} to {high:+.1f})")
    days = counted(report.days, "day")
    return [f"the record is moved to the plot by its own thermometer of {days}: {', '.join(words)}"] + [
        f"own thermometer: {note}" for note in report.notes
    ]


def day_of_issue(issued: dt.date | None = None) -> dt.date:
    """The day of issue as given, else today by the clock, which is read nowhere deeper than here."""
    return issued or dt.date.today()


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
        name, record = f"{name}, {years_words(years, '--years')}", chosen_years(record, years, "--years")
    return name, record


def _at_plot(record: DailyRecord) -> DailyRecord:
    """The days under the changes that the site file says hold on the plot."""
    try:
        return with_what_ifs(record, record.plot)
    except InputError as problem:
        raise InputError(problem.message, where="changes under [plot]") from None


def days_as_felt(weather: DailyRecord, settings: Settings) -> SiteDays:
    """Days of one site, with the seed bed that changes to what the plant feels have left it."""
    seedbed = weather.felt.seedbed or settings.seedbed
    return SiteDays.from_record(weather, replace(settings, seedbed=seedbed))


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
        name = f"{name}, with {weather.what_ifs}"
    return Opened(name, weather, record, settings or Settings(), ends)


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
