"""Days of the year (0 to 364) as MM-DD and as '3 Mar', and spans of them, over New Year too.

The year has 365 days; 29 February counts as 28 February.
"""

from __future__ import annotations

import datetime as dt
import re
from bisect import bisect_right
from itertools import accumulate

from sowcal.errors import InputError
from sowcal.languages import phrase, say

__all__ = [
    "LONG_DAYS",
    "MONTHS",
    "MONTH_LENGTHS",
    "MONTH_NAMES",
    "MONTH_STARTS",
    "YEAR",
    "clock_day",
    "date_text",
    "day_of_date",
    "day_of_year",
    "day_text",
    "iso_text",
    "long_date_text",
    "long_day_text",
    "month_day",
    "month_of",
    "read_when",
    "span_days",
    "span_length",
    "span_month_days",
    "span_text",
    "whole_year",
]

YEAR = 365
MONTHS = (
    phrase("Jan"), phrase("Feb"), phrase("Mar"), phrase("Apr"), phrase("May"), phrase("Jun"), phrase("Jul"),
    phrase("Aug"), phrase("Sep"), phrase("Oct"), phrase("Nov"), phrase("Dec"),
)  # fmt: skip
MONTH_NAMES = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
LONG_DAYS = (
    phrase("{day} January"), phrase("{day} February"), phrase("{day} March"), phrase("{day} April"),
    phrase("{day} May"), phrase("{day} June"), phrase("{day} July"), phrase("{day} August"), phrase("{day} September"),
    phrase("{day} October"), phrase("{day} November"), phrase("{day} December"),
)  # fmt: skip
MONTH_LENGTHS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
MONTH_STARTS = (0, *accumulate(MONTH_LENGTHS[:-1]))


def date_text(date: dt.date) -> str:
    """A date as '3 Mar 2026', in the language that is told, whatever that of the environment is."""
    return f"{date.day} {say(MONTHS[date.month - 1])} {date.year}"


def iso_text(date: str) -> str:
    """An ISO date, with or without its time, as '3 Mar 2026'; what is no such date as it is."""
    try:
        return date_text(dt.date.fromisoformat(date[:10]))
    except ValueError:
        return date


def long_date_text(date: dt.date) -> str:
    """A date as '3 March 2026'."""
    return say("{long_day} {year}", long_day=say(LONG_DAYS[date.month - 1], day=date.day), year=date.year)


def long_day_text(day: int) -> str:
    """A day of the year as '3 March'."""
    month = month_of(day)
    return say(LONG_DAYS[month], day=int(day) % YEAR - MONTH_STARTS[month] + 1)


def month_of(day: int) -> int:
    """Month (0 to 11) of a day of the year; days beyond the year wrap round."""
    return bisect_right(MONTH_STARTS, int(day) % YEAR) - 1


def month_day(day: int) -> str:
    """A day of the year as MM-DD."""
    month = month_of(day)
    return f"{month + 1:02d}-{int(day) % YEAR - MONTH_STARTS[month] + 1:02d}"


def day_of_year(text: str) -> int:
    """The day of the year of MM-DD; 02-29 is taken as 02-28.

    Raises
    ------
    InputError
        Where the text is no such date.
    """
    month, dash, day = text.partition("-")
    if dash and month.isdecimal() and day.isdecimal() and 1 <= int(month) <= 12:
        m, d = int(month) - 1, int(day)
        if (m, d) == (1, 29):
            d = 28
        if 1 <= d <= MONTH_LENGTHS[m]:
            return MONTH_STARTS[m] + d - 1
    raise InputError(f"{text!r} is not a day of the year; write it as MM-DD, for example 03-15")


def day_of_date(date: dt.date) -> int:
    """The day of the year of a date."""
    return day_of_year(f"{date.month:02d}-{date.day:02d}")


def day_text(day: int) -> str:
    """A day of the year as '3 Mar'.

    Parameters
    ----------
    day : int
        From 0 (1 January) to 364; days beyond the year wrap round.

    Returns
    -------
    str

    Examples
    --------
    >>> day_text(61)
    '3 Mar'
    """
    month = month_of(day)
    return f"{int(day) % YEAR - MONTH_STARTS[month] + 1} {say(MONTHS[month])}"


def span_length(start: int, end: int) -> int:
    """Days from start to end, both within."""
    return (int(end) - int(start)) % YEAR + 1


def span_days(start: int, end: int) -> list[int]:
    """Days of the year from start to end, both within, in their order."""
    return [(int(start) + k) % YEAR for k in range(span_length(start, end))]


def whole_year(start: int, end: int) -> bool:
    """Whether a span leaves out no day."""
    return span_length(start, end) == YEAR


def span_month_days(start: int, end: int) -> tuple[str, str]:
    """A span as (MM-DD, MM-DD); all year is always 01-01 to 12-31."""
    if whole_year(start, end):
        return "01-01", "12-31"
    return month_day(start), month_day(end)


def span_text(start: int, end: int) -> str:
    """A span as '3 Mar to 9 May', 'all year' or a single day.

    Parameters
    ----------
    start, end : int
        Days of the year from 0, both within; over New Year the end is before the start.

    Returns
    -------
    str

    Examples
    --------
    >>> span_text(61, 128), span_text(350, 20), span_text(0, 364)
    ('3 Mar to 9 May', '17 Dec to 21 Jan', 'all year')
    """
    if whole_year(start, end):
        return say("all year")
    if span_length(start, end) == 1:
        return day_text(start)
    return say("{start} to {end}", start=day_text(start), end=day_text(end))


_EARLIEST, _LATEST = 1900, 9000  # years; others are a slip of the hand, or of a clock


def clock_day() -> dt.date:
    """Today by this computer's clock; `InputError` where that stands in a year that no answer can be told for."""
    day = dt.date.today()
    if not _EARLIEST <= day.year <= _LATEST:
        raise InputError(f"this computer's clock says {date_text(day)}; set it right, or say the day of issue")
    return day


def read_when(text: str, today: dt.date) -> dt.date:
    """The day that a grower means: '2026-03-20', 'today', 'yesterday', '3 days ago', '20 Mar' or '20 Mar 2026'.

    A day without a year is the last such day, today's included. 29 February is meant only where there was one within
    the year.

    Raises
    ------
    InputError
        For what is no day, or might be two.

    Examples
    --------
    >>> read_when("yesterday", dt.date(2026, 3, 1)), read_when("20 Mar", dt.date(2026, 3, 1))
    (datetime.date(2026, 2, 28), datetime.date(2025, 3, 20))
    """
    said = " ".join(text.lower().replace(",", " ").split())
    known = {"today": 0, "yesterday": 1, "day before yesterday": 2, "the day before yesterday": 2}
    if ago := re.fullmatch(r"(\d{1,4}) (day|week)s? ago", said):
        known[said] = int(ago[1]) * (7 if ago[2] == "week" else 1)
    if said in known:
        return _within(text, today - dt.timedelta(days=known[said]))
    if re.fullmatch(r"\d{4}-\d{1,2}-\d{1,2}", said):
        return _day(text, *map(int, said.split("-")))
    found = re.fullmatch(r"(\d{1,2})\.? ([a-z]{3,9})\.?(?: (\d{4}))?", said)
    turned = re.fullmatch(r"([a-z]{3,9})\.? (\d{1,2})(?: (\d{4}))?", said)
    if not found and not turned:
        raise InputError(f"{text!r} is no date; write 2026-03-20, 20 Mar, yesterday or 3 days ago")
    day, name, year = found.groups() if found else (turned[2], turned[1], turned[3])  # type: ignore[index]
    months = [m for m, whole in enumerate(MONTH_NAMES, 1) if whole.lower().startswith(name)]
    if len(months) != 1:
        raise InputError(f"{text!r} names no month; write it as 20 Mar or 2026-03-20")
    if year:
        return _day(text, int(year), months[0], int(day))
    for y in (today.year, today.year - 1):
        if (months[0], int(day)) == (2, 29) and not _leap(y):
            continue
        if (when := _day(text, y, months[0], int(day))) <= today:
            return when
    raise InputError(f"there was no 29 February in the year up to {date_text(today)}; say its year, or another day")


def _leap(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)


def _day(text: str, year: int, month: int, day: int) -> dt.date:
    try:
        when = dt.date(year, month, day)
    except ValueError:
        raise InputError(f"{text!r} is no day of the calendar; check its day and month") from None
    return _within(text, when)


def _within(text: str, when: dt.date) -> dt.date:
    if not _EARLIEST <= when.year <= _LATEST:
        raise InputError(f"{text!r} lies outside the years {_EARLIEST} to {_LATEST}")
    return when
