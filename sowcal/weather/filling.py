"""Gaps filled and flagged, short ones from the days around them, longer ones from a second station; records joined."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sowcal.errors import InputError
from sowcal.languages import counted
from sowcal.weather.record import FILLED, MISSING, OBSERVED, DailyRecord

__all__ = ["MonthFit", "fill_from_station", "fill_short_gaps", "followed_by", "month_fits"]

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


def fill_short_gaps(record: DailyRecord, longest: int = 7) -> DailyRecord:
    """Fill short gaps between known days; the rest stays missing.

    The departure from the usual value of that day of the year is interpolated linearly over the gap. The
    usual value is a least-squares mean and three yearly harmonics of the record itself; a record of less than
    two years cannot tell it, and there the values themselves are interpolated. Common practice, no source.

    Parameters
    ----------
    record : DailyRecord
    longest : int, default 7
        Longest gap that is filled, days.

    Returns
    -------
    DailyRecord
        Filled values carry the origin `FILLED`. Precipitation is never filled, nor a gap at either end of the
        record, nor a day on which the minimum would come out above the maximum.
    """
    angle = _yearly_angle(record.time)
    values: dict[str, np.ndarray] = {}
    gaps: dict[str, np.ndarray] = {}
    for name, array in record.values.items():
        gap = np.zeros(0, dtype=bool) if name == "pr" else _short_gaps(np.isnan(array), longest)
        if not gap.any():
            continue
        gaps[name], values[name] = gap, array.copy()
        values[name][gap] = _interpolated(array, angle)[gap]
        if name == "hurs":
            values[name][gap] = np.clip(values[name][gap], 0.0, 100.0)
        elif name in ("sfcWind", "rsds"):
            values[name][gap] = np.maximum(values[name][gap], 0.0)
    if not gaps:
        return record
    low, high = (values.get(name, record[name]) for name in ("tasmin", "tasmax"))
    wrong = low > high
    codes = {}
    for name, gap in gaps.items():
        if name in ("tasmin", "tasmax"):
            values[name][gap & wrong] = np.nan
            gap = gap & ~wrong
        codes[name] = np.where(gap, np.int8(FILLED), record.origin[name])
    said = f"gaps of up to {counted(longest, 'day')} filled from neighbouring days"
    return record.with_values(values, codes).and_then(said)


def _yearly_angle(time: np.ndarray) -> np.ndarray:
    days = time.astype("datetime64[D]")
    return 2.0 * np.pi * days.astype(float) / 365.2425


def _short_gaps(missing: np.ndarray, longest: int) -> np.ndarray:
    """Days in runs of missing days no longer than `longest` with a known day at both ends."""
    edge = np.diff(np.concatenate(([False], missing, [False])).astype(np.int8))
    start, stop = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1)
    keep = (stop - start <= longest) & (start > 0) & (stop < missing.size)
    mark = np.zeros(missing.size + 1, dtype=int)
    np.add.at(mark, start[keep], 1)
    np.add.at(mark, stop[keep], -1)
    return np.cumsum(mark[:-1]).astype(bool)


def _interpolated(values: np.ndarray, angle: np.ndarray) -> np.ndarray:
    known = np.isfinite(values)
    usual = np.zeros(values.size)
    if known.sum() >= 2 * 365:
        waves = [f(k * angle) for k in (1, 2, 3) for f in (np.sin, np.cos)]
        basis = np.column_stack([np.ones(values.size), *waves])
        usual = basis @ np.linalg.lstsq(basis[known], values[known], rcond=None)[0]
    index = np.arange(values.size)
    return usual + np.interp(index, index[known], (values - usual)[known])
