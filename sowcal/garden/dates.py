"""Days of the garden's year in words: 0 is 1 January of a year of 365 days."""

from __future__ import annotations

import datetime as dt

__all__ = ["MONTHS", "day_text", "month_day"]

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def _date(day: int) -> dt.date:
    return dt.date(2001, 1, 1) + dt.timedelta(days=int(day) % 365)


def day_text(day: int) -> str:
    """A day of the year as '3 March'."""
    date = _date(day)
    return f"{date.day} {MONTHS[date.month - 1]}"


def month_day(day: int) -> str:
    """A day of the year as MM-DD."""
    return _date(day).strftime("%m-%d")
