"""The years of a record: those asked for (the last so many, or from one to another), and how its seasons change."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.errors import InputError
from sowcal.weather.offset import SEASONS

if TYPE_CHECKING:
    from sowcal.weather.record import DailyRecord

__all__ = [
    "Trend",
    "chosen_years",
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
        return "the last year" if years == 1 else f"the last {years} years"
    first, last = years
    if first is None:
        return f"up to {last}"
    return f"from {first} on" if last is None else f"{first} to {last}"


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
