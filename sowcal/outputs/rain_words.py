"""The opening rains of a place in words: middle year, spread, and year by year."""

from __future__ import annotations

from sowcal.climate.rain_years import OpeningRains
from sowcal.outputs.days import day_text

__all__ = ["opening_rains_by_year", "opening_rains_words"]

_ALL_NAMED = 32  # years; of more every fifth is named, so that a screen holds them


def _day(day: int | None) -> str:
    return "never" if day is None else day_text(day)


def opening_rains_words(rains: OpeningRains) -> str:
    """'12 Oct in the middle year; 1 year in 10 by 20 Sep, 9 in 10 by 8 Nov'."""
    if rains.p50 is None:
        return "not within half a year of late summer in the middle year"
    late = "1 year in 10 or more without" if rains.p90 is None else f"9 in 10 by {_day(rains.p90)}"
    return f"{_day(rains.p50)} in the middle year; 1 year in 10 by {_day(rains.p10)}, {late}"


def opening_rains_by_year(rains: OpeningRains) -> str:
    """Every year's day, after what is counted; of many years in a row each fifth is named."""
    few = len(rains.years) <= _ALL_NAMED
    told, before = [], None
    for year, day in rains.years:
        named = few or year % 5 == 0 or before is None or year != before + 1
        told.append(f"{year} {_day(day)}" if named else _day(day))
        before = year
    how = "" if few else ", year by year"
    return f"Opening rains, {rains.definition}{how}: {', '.join(told)}."
