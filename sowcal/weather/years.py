"""The years of a record: those asked for (the last so many, or from one to another), how its seasons change, and each
of them as what may yet come of a season in progress."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.errors import InputError
from sowcal.languages import phrase, phrase_count
from sowcal.weather.offset import SEASONS
from sowcal.weather.record import MISSING

if TYPE_CHECKING:
    from sowcal.weather.record import DailyRecord

__all__ = [
    "Futures",
    "Trend",
    "chosen_years",
    "futures",
    "last_years",
    "trends",
    "years_words",
]


_SPAN = re.compile(r"\s*(\d{4})?\s*:\s*(\d{4})?\s*")


def _parsed(asked: str | int, where: str | None) -> int | tuple[int | None, int | None]:
    text = str(asked).strip()
    if text.isdecimal() and len(text) <= 3:
        return int(text)
    found = _SPAN.fullmatch(text)
    if found is None or not (found[1] or found[2]):
        raise InputError(
            f"{text!r} names no years; write 15 for the last fifteen, or 1991:2010 (or 2006:) for those years",
            where=where,
        )
    first, last = (int(y) if y else None for y in found.groups())
    if first is not None and last is not None and last < first:
        raise InputError(f"{text!r} ends before it begins; write the earlier year first", where=where)
    return first, last


def years_words(asked: str | int, where: str | None = None) -> str:
    """The years asked for in words: 'the last 15 years', '1991 to 2010', 'from 2006 on'."""
    years = _parsed(asked, where)
    if isinstance(years, int):
        return phrase_count(years, "the last year", "the last {count} years")
    first, last = years
    if first is None:
        return phrase("up to {year}", year=last)
    if last is None:
        return phrase("from {year} on", year=first)
    return phrase("{start} to {end}", start=first, end=last)


def chosen_years(record: DailyRecord, asked: str | int, where: str | None = None) -> DailyRecord:
    """The years of a record that are asked for.

    Parameters
    ----------
    record : DailyRecord
    asked : str or int
        '15' or 15 for the last fifteen years to the day; '1991:2010' for calendar years, both within, either of which
        may be left out.
    where : str, optional
        What is named in errors.

    Returns
    -------
    DailyRecord
        Its `history` says which years were taken.

    Raises
    ------
    InputError
        For what names no years, or years that the record does not have.
    """
    years = _parsed(asked, where)
    if isinstance(years, int):
        return last_years(record, years, where)
    days = record.time
    has = [int(d.astype("datetime64[Y]").astype(int)) + 1970 for d in (days[0], days[-1])]
    first, last = (h if y is None else y for y, h in zip(years, has, strict=True))
    # both ends against both: where only one is asked for, the other is the record's own, which may lie before it
    if not has[0] <= first <= last <= has[1]:
        raise InputError(
            f"{_whose(record)} runs from {has[0]} to {has[1]}; {years_words(asked)} cannot be taken from it",
            where=where,
        )
    return record.span(f"{first}-01-01", f"{last}-12-31").and_then(f"{years_words(asked)} only")


def last_years(record: DailyRecord, years: int, where: str | None = None) -> DailyRecord:
    """The last so many years of a record, to the day.

    Raises
    ------
    InputError
        For less than one year, or more than the record has.
    """
    days = record.time
    length = days.size / 365.2425
    if years < 1:
        raise InputError(f"years is {years}; at least one year must be kept", where=where)
    if years > length + 0.01:
        raise InputError(f"{_whose(record)} has {length:.1f} years; {years} cannot be taken from it", where=where)
    end = days[-1] + np.timedelta64(1, "D")
    month = end.astype("datetime64[M]")
    first = (month - np.timedelta64(12 * years, "M")).astype("datetime64[D]") + (end - month.astype("datetime64[D]"))
    return record.span(str(first), None).and_then(f"{years_words(years)} only")


def _whose(record: DailyRecord) -> str:
    """The record in words, with the site that it is of: of two that are compared only one may be too short."""
    title = record.title.strip()
    return f"the record of {title}" if title else "the record"


_FEWEST_YEARS = 10  # below which a slope says nothing: common practice
_WHOLE = 0.8  # share of a season's days that must be known: common practice
_LENGTHS = np.array([90, 92, 92, 91])  # days, of `SEASONS`


@dataclass(frozen=True, slots=True)
class Trend:
    """A season's change.

    Attributes
    ----------
    variable, season : str
    years : int
        Years that have the season.
    first, last : int
        First and last of them; December counts to the year after.
    per_decade, low, high : float
        Slope and its 95 per cent interval, K (or mm day-1) in ten years.
    """

    variable: str
    season: str
    years: int
    first: int
    last: int
    per_decade: float
    low: float
    high: float

    @property
    def clear(self) -> bool:
        """Whether the interval leaves out zero."""
        return self.low > 0.0 or self.high < 0.0

    def to_json(self) -> dict[str, Any]:
        """Plain form."""
        return {
            "variable": self.variable,
            "season": self.season,
            "years": self.years,
            "from": self.first,
            "to": self.last,
            "per_decade": round(self.per_decade, 3),
            "interval": [round(self.low, 3), round(self.high, 3)],
        }


def trends(record: DailyRecord, variables: tuple[str, ...] = ("tasmin", "tasmax")) -> list[Trend]:
    """Theil-Sen slopes of the seasonal means.

    Parameters
    ----------
    record : DailyRecord
    variables : tuple of str

    Returns
    -------
    list of Trend
        Of the four seasons and 'all year'; those with fewer than ten years are left out. Slope and interval by
        `scipy.stats.theilslopes` (Sen 1968, J. Am. Stat. Assoc. 63, 1379-1389).
    """
    from scipy.stats import theilslopes

    days = record.time
    number = days.astype("datetime64[M]").astype(int) + 1  # December opens the next year's winter
    season, year = number % 12 // 3, 1970 + number // 12
    years = np.arange(year.min(), year.max() + 1)
    out = []
    for name in variables:
        values = record[name]
        table = np.full((years.size, 5), np.nan)
        for k in range(4):
            these = (season == k) & np.isfinite(values)
            count = np.bincount(year[these] - years[0], minlength=years.size)
            total = np.bincount(year[these] - years[0], values[these], minlength=years.size)
            with np.errstate(invalid="ignore", divide="ignore"):
                table[:, k] = np.where(count >= _WHOLE * _LENGTHS[k], total / count, np.nan)
        table[:, 4] = table[:, :4] @ _LENGTHS / _LENGTHS.sum()
        for k, words in enumerate((*SEASONS, "all year")):
            known = np.isfinite(table[:, k])
            if known.sum() < _FEWEST_YEARS:
                continue
            slope, _, low, high = theilslopes(table[known, k], years[known], alpha=0.95)
            ten = (10.0 * float(v) for v in (slope, low, high))
            out.append(Trend(name, words, int(known.sum()), int(years[known][0]), int(years[known][-1]), *ten))
    return out


@dataclass(frozen=True, slots=True)
class Futures:
    """A season so far, with each year of a record as what may come after it.

    Attributes
    ----------
    record : DailyRecord
        All of them one after another, a missing day after each, so that nothing that looks at two is decided. Its
        dates are those of the season in progress, again and again.
    years : numpy.ndarray of int, shape (m,)
        Year of the record that each goes on with; of a rest that runs over New Year the first one.
    first : numpy.datetime64
        First day of each.
    days : int
        Of each, the missing one left out.
    known_to : numpy.datetime64 or None
        Last day of the season's own weather; None where it has none.
    stood_in : int
        Days up to that one which the years of the record had to stand in for.
    """

    record: DailyRecord
    years: np.ndarray
    first: np.datetime64
    days: int
    known_to: np.datetime64 | None
    stood_in: int

    def at(self, day: np.datetime64) -> np.ndarray:
        """Place of a date in each, shape (m,)."""
        return np.arange(self.years.size) * (self.days + 1) + int((day - self.first).astype(int))


def _in_year(days: np.ndarray, shift: int) -> np.ndarray:
    """The same days of the calendar some years on; 29 February is 28 February where a year lacks it."""
    years = days.astype("datetime64[Y]")
    number = (days - years.astype("datetime64[D]")).astype(int)
    leap, leap_then = ((y % 4 == 0) & ((y % 100 != 0) | (y % 400 == 0)) for y in _numbers(years, shift))
    number = np.where(leap & (number >= 59), number - 1, number)
    number = np.where(leap_then & (number >= 59), number + 1, number)
    return (years + shift).astype("datetime64[D]") + number


def _numbers(years: np.ndarray, shift: int) -> tuple[np.ndarray, np.ndarray]:
    number = years.astype(int) + 1970
    return number, number + shift


def futures(history: DailyRecord, so_far: DailyRecord | None, first: np.datetime64, last: np.datetime64) -> Futures:
    """What may come of a season: its own days as far as they are known, then those of each year of a record.

    Parameters
    ----------
    history : DailyRecord
        The years; days without values leave open what would look at them.
    so_far : DailyRecord or None
        Days of the season in progress; those before `first` or after `last`, or without a value, are not used.
    first, last : numpy.datetime64
        Days from and to which each is made.
    """
    days = np.arange(first, last + np.timedelta64(1, "D"))
    own = np.full(days.size, -1)
    if so_far is not None:
        place = (days - so_far.time[0]).astype(int)
        own = np.where((place >= 0) & (place < so_far.size), place, -1)
    known = np.zeros(days.size, dtype=bool)
    if so_far is not None:
        known = (own >= 0) & np.isfinite(so_far["tasmin"][own]) & np.isfinite(so_far["tasmax"][own])
    end = int(np.flatnonzero(known)[-1]) if known.any() else -1
    this = int(days[max(end, 0)].astype("datetime64[Y]").astype(int)) + 1970
    begins, ends = (int(d.astype("datetime64[Y]").astype(int)) + 1970 for d in (history.time[0], history.time[-1]))
    years = np.arange(begins, ends + 1)
    then = np.stack([np.append(_in_year(days, int(y) - this), days[-1]) for y in years])
    place = (then - history.time[0]).astype(int)
    there = (place >= 0) & (place < history.size)
    there[:, -1] = False

    def laid(array: np.ndarray, mine: np.ndarray | None, missing: float) -> np.ndarray:
        out = np.where(there, array[np.where(there, place, 0)], missing)
        if mine is not None:
            out[:, :-1][:, known] = mine[own[known]]
        return out.ravel()

    def all_of(kind: str, missing: float) -> dict[str, np.ndarray]:
        mine = getattr(so_far, kind) if so_far is not None else {}
        nothing = None if so_far is None else np.full(so_far.size, missing)
        return {name: laid(array, mine.get(name, nothing), missing) for name, array in getattr(history, kind).items()}

    open_range = None
    if history.open_range is not None or (so_far is not None and so_far.open_range is not None):
        open_range = laid(history.daily_range, None if so_far is None else so_far.daily_range, np.nan)
    made = replace(
        history,
        time=np.tile(np.append(days, days[-1] + 1), years.size),
        values=all_of("values", np.nan),
        origin={name: codes.astype(np.int8) for name, codes in all_of("origin", MISSING).items()},
        open_range=open_range,
        hours=None,
        findings=None,
    )
    return Futures(made, years, first, days.size, days[end] if end >= 0 else None, int((~known[: end + 1]).sum()))
