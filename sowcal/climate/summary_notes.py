"""What a reader must know beside the figures of a place: its record, and the error of its own thermometer."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import TYPE_CHECKING

from sowcal.climate.summary import frost_odds
from sowcal.climate.summary_record import ClimateSummary, Odds

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["as_sentences", "few_years", "frost_range"]

_ENOUGH = 10  # years from which odds are odds (DESIGN section 10)
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def as_sentences(words: Iterable[str]) -> tuple[str, ...]:
    """Each with a capital letter and a full stop."""
    return tuple(f"{w[:1].upper()}{w[1:].rstrip('.')}." for w in words)


def _day(odds: Odds | None) -> str:
    if odds is None:
        return "not known"
    if odds.p50 is None:
        return "never"
    date = dt.date(2023, 1, 1) + dt.timedelta(days=odds.p50)  # any year without a leap day
    return f"{date.day} {_MONTHS[date.month - 1]}"


def frost_range(cold: xr.Dataset, warm: xr.Dataset) -> list[str]:
    """How far the middle year's frost dates range between two ends of the same record."""
    out = []
    for side, words, ends in (
        ("spring", "last spring frost", (warm, cold)),
        ("autumn", "first autumn frost", (cold, warm)),
    ):
        early, late = (_day(frost_odds(d, side)) for d in ends)
        between = early if early == late else f"{early} to {late}"
        out.append(f"within the error of your thermometer the {words} of the middle year: {between}")
    return out


def few_years(summary: ClimateSummary, usable_years: float) -> list[str]:
    """What odds from few years are: 1 and 9 years in 10 cannot be told from six."""
    if usable_years >= _ENOUGH or summary.last_spring_frost is None:
        return []
    return [
        f"from {usable_years:.0f} years the dates of 1 and of 9 years in 10 are little more than the earliest and the "
        "latest that were seen; the true ones may lie well outside"
    ]
