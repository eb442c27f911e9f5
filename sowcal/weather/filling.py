"""Longer gaps filled from a second station: a regression for each month, each value flagged, the error told; and days
of another record put behind the last of this one."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sowcal.errors import InputError
from sowcal.plurals import counted
from sowcal.weather.record import FILLED, MISSING, OBSERVED, DailyRecord

__all__ = ["MonthFit", "fill_from_station", "followed_by", "month_fits"]

_FILLABLE = ("tasmin", "tasmax", "tas")
# Common practice, no source: fewer shared days or less in common, and a gap is better left a gap.
_FEWEST_DAYS, _LEAST_CORRELATION = 60, 0.7


@dataclass(frozen=True, slots=True)
class MonthFit:
    """Value here = intercept + slope times value there, in one calendar month.

    Attributes
    ----------
    month : int
        From 1.
    days : int
        Days on which both stations have a value.
    intercept, slope : float
    error : float
        Standard deviation of what the fit leaves, K.
    correlation : float
    usable : bool
        Whether there are enough days and enough in common.
    """

    month: int
    days: int
    intercept: float
    slope: float
    error: float
    correlation: float
    usable: bool


def month_fits(here: np.ndarray, there: np.ndarray, month: np.ndarray) -> list[MonthFit]:
    """Least-squares fits of the twelve months, from observed days.

    Parameters
    ----------
    here, there : numpy.ndarray, shape (n,)
        The same days at both stations; NaN where missing.
    month : numpy.ndarray of int, shape (n,)
        From 1.
    """
    out = []
    for m in range(1, 13):
        both = (month == m) & np.isfinite(here) & np.isfinite(there)
        x, y = there[both], here[both]
        if x.size < 3 or np.ptp(x) == 0.0 or np.ptp(y) == 0.0:
            out.append(MonthFit(m, int(x.size), np.nan, np.nan, np.nan, np.nan, False))
            continue
        slope, intercept = np.polyfit(x, y, 1)
        like = float(np.corrcoef(x, y)[0, 1])
        error = float(np.sqrt(np.sum((y - intercept - slope * x) ** 2) / (x.size - 2)))
        usable = x.size >= _FEWEST_DAYS and like >= _LEAST_CORRELATION
        out.append(MonthFit(m, int(x.size), float(intercept), float(slope), error, like, usable))
    return out


def fill_from_station(record: DailyRecord, other: DailyRecord) -> DailyRecord:
    """Fill what is missing from the same days of another station.

    Each calendar month has a linear regression of its own, fitted on the days that both have observed; a month
    with fewer than 60 such days or a correlation below 0.7 is left missing.

    Parameters
    ----------
    record, other : DailyRecord

    Returns
    -------
    DailyRecord
        Filled values carry the origin `FILLED`, and `history` says how many days were filled with what
        error. Rain is never filled, nor a day on which the minimum would come out above the maximum.

    Raises
    ------
    InputError
        Where the two records share no days.
    """
    days, theirs = record.time, other.time
    shared, here_at, there_at = np.intersect1d(days, theirs, return_indices=True)
    if not shared.size:
        raise InputError(
            f"the second record ({theirs[0]} to {theirs[-1]}) shares no day with the first ({days[0]} to {days[-1]})"
        )
    filled: dict[str, np.ndarray] = {}
    codes: dict[str, np.ndarray] = {}
    month = days.astype("datetime64[M]").astype(int) % 12 + 1
    gaps: dict[str, np.ndarray] = {}
    told = []
    for name in (v for v in _FILLABLE if v in record and v in other):
        there = np.full(days.size, np.nan)
        there[here_at] = np.where(other.origin[name][there_at] == FILLED, np.nan, other[name][there_at])
        values = filled[name] = record[name].copy()
        observed = np.where(record.origin[name] == OBSERVED, values, np.nan)
        fits = month_fits(observed, there, month)
        slope = np.array([f.slope if f.usable else np.nan for f in fits])
        intercept = np.array([f.intercept if f.usable else np.nan for f in fits])
        estimate = (intercept[month - 1] + slope[month - 1] * there).round(2)
        gap = np.isnan(values) & np.isfinite(estimate)
        values[gap] = estimate[gap]
        gaps[name] = gap
        errors = [f.error for f in fits if f.usable]
        if gap.any():
            told.append(f"{name} {counted(int(gap.sum()), 'day')}, error {np.mean(errors):.1f} K")
    low, high = (filled.get(v, record[v]) for v in ("tasmin", "tasmax"))
    wrong = low > high
    for name, gap in gaps.items():
        if name != "tas":
            filled[name][gap & wrong] = np.nan
            gap = gap & ~wrong
        codes[name] = np.where(gap, np.int8(FILLED), record.origin[name])
    out = record.with_values(filled, codes)
    if told:
        source = other.source or other.title or "a second station"
        words = f"gaps filled by monthly regression on {source} ({'; '.join(told)})"
        return out.and_then(words)
    return out


def followed_by(record: DailyRecord, more: DailyRecord) -> DailyRecord:
    """The record, and after its last day those of another record of the same place; what only one has is missing there.

    Parameters
    ----------
    record, more : DailyRecord
        Days of `more` up to the last of `record` are not used.

    Returns
    -------
    DailyRecord
    """
    days = int((more.time[-1] - record.time[-1]).astype(int))
    if days <= 0:
        return record
    time = np.arange(record.time[0], more.time[-1] + np.timedelta64(1, "D"))
    place = (time[record.size :] - more.time[0]).astype(int)
    there = place >= 0

    def behind(array: np.ndarray, other: np.ndarray | None, missing: float) -> np.ndarray:
        out = np.full(time.size, missing, dtype=array.dtype)
        out[: record.size] = array
        if other is not None:
            out[record.size :][there] = other[place[there]]
        return out

    values = {name: behind(array, more.values.get(name), np.nan) for name, array in record.values.items()}
    origin = {name: behind(codes, more.origin.get(name), MISSING) for name, codes in record.origin.items()}
    open_range = None if record.open_range is None else behind(record.open_range, more.daily_range, np.nan)
    made = replace(record, time=time, values=values, origin=origin, open_range=open_range, hours=None)
    return made.and_then(f"days from {time[record.size]} on from {more.source or more.title or 'another record'}")
