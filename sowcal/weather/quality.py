"""What is wrong with a record: every check run, its days graded, and what speaks for or against a far value.

Hot winds bring single days that stand as far out as any slip of a reading; where a record has such days again
and again they are the place's own. The figures were set on nineteen station records (common practice, no source).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.weather import quality_checks as checks
from sowcal.weather.findings import other_hemisphere, summer_excess
from sowcal.weather.names_and_units import TEMPERATURES
from sowcal.weather.record import FILLED, GENERATED, MISSING, POSSIBLE, VARIABLES

if TYPE_CHECKING:
    from sowcal.weather.record import DailyRecord, Note

__all__ = [
    "GRADES",
    "KINDS",
    "Problem",
    "QualityReport",
    "above_every_maximum",
    "quality_report",
    "without_precedent",
    "zeros_for_missing",
]

_SEASON = 45  # days before and after, of any year
_AS_FAR = 0.75  # of the day's departure and of its daily range
_FEWEST_YEARS = 2  # that have had such a day
_BELOW_NEIGHBOURS, _NOTHING_BELOW = 4.0, 2.0  # degC
_CLIMATE_YEARS = 3  # of a month, to tell what is its highest


def without_precedent(
    mark: np.ndarray, values: np.ndarray, usual: np.ndarray, daily_range: np.ndarray, days: np.ndarray
) -> np.ndarray:
    """Those of the marked days of whose kind the record has no others, shape (n,).

    A day has precedent where two years or more have an unmarked day of that season with three quarters of its
    departure from the usual value, to the same side, and, where it widens the daily range, three quarters of
    its range. A day that has precedent counts as one for the others.

    Parameters
    ----------
    mark : numpy.ndarray of bool, shape (n,)
    values, usual, daily_range : numpy.ndarray, shape (n,)
        K, or degC.
    days : numpy.ndarray of datetime64[D], shape (n,)
    """
    departure = values - usual
    year = days.astype("datetime64[Y]")
    of_year = (days - year.astype("datetime64[D]")).astype(int)
    middle = np.nanmedian(daily_range) if np.isfinite(daily_range).any() else np.nan
    left = mark.copy()
    while True:  # a day that has precedent is one itself
        before = left.copy()
        for k in np.flatnonzero(before):
            side = np.sign(departure[k])
            with np.errstate(invalid="ignore"):
                like = ~before & (side * departure >= _AS_FAR * abs(departure[k]))
                like &= np.abs((of_year - of_year[k] + 182) % 365 - 182) <= _SEASON
                if daily_range[k] > middle:
                    like &= daily_range >= _AS_FAR * daily_range[k]
            left[k] = np.unique(year[like]).size < _FEWEST_YEARS
        if (left == before).all():
            return left


def above_every_maximum(tasmin: np.ndarray, tasmax: np.ndarray, days: np.ndarray) -> np.ndarray:
    """Days with a minimum above all maxima that this month of the year has had in the record, shape (n,).

    A true minimum cannot be so, as its own day's maximum would be higher; it shows where that maximum is
    missing or was set aside (after Durre et al. 2010, J. Appl. Meteor. Climatol. 49, 1615-1633, from memory).
    """
    month = days.astype("datetime64[M]").astype(int) % 12
    out = np.zeros(days.size, dtype=bool)
    for m in np.unique(month):
        these = month == m
        known = tasmax[these & np.isfinite(tasmax)]
        if np.unique(days[these & np.isfinite(tasmax)].astype("datetime64[Y]")).size >= _CLIMATE_YEARS:
            out |= these & (tasmin > known.max())
    return out


def zeros_for_missing(values: np.ndarray, days: np.ndarray) -> np.ndarray:
    """Days of exactly zero where that fortnight of the year has nothing near zero, shape (n,).

    The day must lie 4 K or more below both neighbours that are known, and the third lowest other value of the
    fortnight before and after, in all years, above 2 degC.
    """
    before, after = np.append(np.nan, values[:-1]), np.append(values[1:], np.nan)
    mark = (values == 0.0) & (np.fmin(before, after) >= _BELOW_NEIGHBOURS)  # NaN where neither is known: no
    of_year = (days - days.astype("datetime64[Y]").astype("datetime64[D]")).astype(int)
    year = days.astype("datetime64[Y]").astype(int)
    known = np.isfinite(values)
    for day in np.unique(of_year[mark]):  # what is usual hangs on the day of the year alone, in a few hundred passes
        near = known & (np.abs((of_year - day + 182) % 365 - 182) <= 14)
        others = np.sort(values[near & (values != 0.0)])
        if np.unique(year[near]).size < _CLIMATE_YEARS or others.size < 3 or others[2] <= _NOTHING_BELOW:
            mark[of_year == day] = False
    return mark


KINDS = (
    "gap", "repeat", "crossed", "out of range", "stuck", "spike", "shift", "rounding", "unit", "swapped",
    "future",
)  # fmt: skip
# Readings that look wrong and stand; readings that no answer could use; what is no fault, or is told by its own count.
GRADES = ("doubtful", "lost", "remark")
_LEFT = "left as it stands"
_SWAPPED_RUN = 5  # days in a row with the minimum above the maximum: two columns, not a slip of a reading
_SWAPPED_SHARE = 0.8  # of a month's days with the mean outside minimum and maximum
_TRACE = 0.3  # mm
_MEAN_OUTSIDE = 0.5  # K; means of another day's hours may lie a little outside


@dataclass(frozen=True, slots=True)
class Problem:
    """Something that looks wrong.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    first, last : str
        Days, ISO 8601.
    count : int
        Days concerned.
    done : str
        The variable, what was seen, and what was done about it.
    variable : str
        Name of the variable, empty where it concerns several.
    grade : str
        One of `GRADES`; what is doubtful or lost is told by every answer.
    """

    kind: str
    first: str
    last: str
    count: int
    done: str
    variable: str = ""
    grade: str = "doubtful"


@dataclass(frozen=True, slots=True)
class QualityReport:
    """What a record is worth.

    Attributes
    ----------
    title : str
    first, last : str
        First and last day, ISO 8601.
    years : float
        Length.
    coverage_percent : float
        Share of days with an observed (or generated) minimum and maximum.
    filled_days : int
        Days of which the minimum or maximum is filled.
    problems : tuple of Problem
        By kind, then by day.
    coverage_by_month : tuple of (int, tuple of 12 (float or None))
        Year, and the share of its months' days that are covered; None for months outside the record.
    """

    title: str
    first: str
    last: str
    years: float
    coverage_percent: float
    filled_days: int
    problems: tuple[Problem, ...]
    coverage_by_month: tuple[tuple[int, tuple[float | None, ...]], ...]

    def coverage_by_year(self) -> dict[int, float]:
        """Mean coverage of each year's months in the record, 0 to 1."""
        out = {}
        for year, months in self.coverage_by_month:
            known = [m for m in months if m is not None]
            out[year] = sum(known) / len(known)
        return out

    def to_json(self) -> dict[str, Any]:
        """Plain form with the keys of the command's JSON."""
        return {
            "record": {"first": self.first, "last": self.last, "years": self.years},
            "coverage_percent": self.coverage_percent,
            "filled_days": self.filled_days,
            "problems": [
                {"kind": p.kind, "from": p.first, "to": p.last, "count": p.count, "done": p.done} for p in self.problems
            ],
        }


def quality_report(record: DailyRecord, issued: dt.date | None = None) -> QualityReport:
    """Check a daily record.

    Parameters
    ----------
    record : DailyRecord
        What a reader already set right or noted is part of the report.
    issued : datetime.date, optional
        Day of issue: days after it that are not generated lie in the future. The clock is not asked, so that the same
        record and the same day of issue give the same report; without one no day is in the future.

    Returns
    -------
    QualityReport
        The record is left as it is.
    """
    days, values, codes = record.time, record.values, record.origin
    # what was filled is not the station's, and may neither be blamed nor hide a run of equal readings
    seen = {v: np.where(codes[v] == FILLED, np.nan, a) if v in codes else a for v, a in values.items()}
    problems = [
        *_gaps(days, values, codes),
        *_noted(record.notes, days),
        *_between_columns(seen, days),
        *_one_column(seen, days),
        *_future(seen, codes, days, issued),
    ]
    if other_hemisphere(summer_excess(seen["tasmin"], seen["tasmax"], days), record.latitude):
        words = "latitude: the seasons are those of the other hemisphere; south is negative; " + _LEFT
        problems.append(Problem("swapped", str(days[0]), str(days[-1]), days.size, words))
    there = np.isfinite(seen["tasmin"] + seen["tasmax"])
    filled = np.logical_or(*(codes.get(v, np.zeros(days.size)) == FILLED for v in ("tasmin", "tasmax")))
    return QualityReport(
        title=record.title,
        first=str(days[0]),
        last=str(days[-1]),
        years=round(days.size / 365.2425, 1),
        coverage_percent=_percent(there),
        filled_days=int(filled.sum()),
        problems=tuple(sorted(problems, key=lambda p: (KINDS.index(p.kind), p.first, p.variable))),
        coverage_by_month=_coverage(there, days),
    )


def _percent(there: np.ndarray) -> float:
    """Per cent to one decimal, never rounded up to a full hundred."""
    return 100.0 if there.all() else min(round(100.0 * float(there.mean()), 1), 99.9)


def _coverage(there: np.ndarray, days: np.ndarray) -> tuple[tuple[int, tuple[float | None, ...]], ...]:
    number = days.astype("datetime64[M]").astype(int)
    first = 12 * (int(number[0]) // 12)
    size = 12 * (int(number[-1]) // 12 + 1) - first
    count = np.bincount(number - first, minlength=size)
    known = np.bincount((number - first)[there], minlength=size)
    share = [float(k / c) if c else None for k, c in zip(known, count, strict=True)]
    return tuple((1970 + (first + i) // 12, tuple(share[i : i + 12])) for i in range(0, size, 12))


def _of_runs(
    kind: str,
    mark: np.ndarray,
    days: np.ndarray,
    done: str,
    variable: str,
    values: np.ndarray | None = None,
    grade: str = "doubtful",
) -> Iterable[Problem]:
    """One problem a run of marked days; with `values`, these are told between the variable and what is done."""
    for first, last in checks.runs_of(mark):
        words = done
        if values is not None:
            name, _, rest = done.partition(": ")
            words = f"{name}: {_span(values[first : last + 1])} {VARIABLES[variable][0]}, {rest}"
        yield Problem(kind, str(days[first]), str(days[last]), last - first + 1, words, variable, grade)


def _span(values: np.ndarray) -> str:
    low, high = float(values.min()), float(values.max())
    return f"{low:.1f}" if low == high else f"{low:.1f} to {high:.1f}"


def _gaps(days: np.ndarray, values: Mapping, codes: Mapping) -> Iterable[Problem]:
    for name in ("tasmin", "tasmax", "pr"):
        if name not in values or not np.isfinite(values[name]).any():
            continue
        code = codes.get(name, np.where(np.isnan(values[name]), MISSING, 0))
        yield from _of_runs("gap", code == MISSING, days, f"{name}: left missing", name, grade="remark")
        yield from _of_runs("gap", code == FILLED, days, f"{name}: filled, and flagged as such", name, grade="remark")


def _place(date: object, days: np.ndarray) -> int | None:
    """Where a day stands in the record; None for one that is not in it, as in notes that came with a file of a part."""
    try:
        place = int((np.datetime64(dt.date.fromisoformat(str(date))) - days[0]).astype(int))
    except ValueError:
        return None
    return place if 0 <= place < days.size else None


def _noted(notes: Iterable[Note], days: np.ndarray) -> Iterable[Problem]:
    """What the reader of the file noted, in runs of days."""
    by_words: dict[tuple[str, str, str, str], np.ndarray] = {}
    for note in notes:
        what, column, kind = note.what, note.column, note.kind
        if kind not in KINDS:
            kind = "crossed" if "above the maximum" in what else "out of range" if "outside" in what else "unit"
        place = _place(note.date, days) if note.date else None
        if note.date and place is None:
            continue
        grade = "lost" if note.date else "doubtful"  # of a unit that was taken for granted nothing is lost
        mark = by_words.setdefault((kind, column, what, grade), np.zeros(days.size, dtype=bool))
        if note.date:
            mark[place] = True
        else:
            mark[:] = True
    for (kind, column, what, grade), mark in by_words.items():
        words = f"{column}: {what}"
        for problem in _of_runs(kind, mark, days, words, column, grade=grade):
            if kind == "crossed" and problem.count >= _SWAPPED_RUN:
                words = f"{column}: minimum and maximum look swapped; set to missing"
                problem = Problem("swapped", problem.first, problem.last, problem.count, words, column)
            yield problem


def _future(seen: Mapping, codes: Mapping, days: np.ndarray, issued: dt.date | None) -> Iterable[Problem]:
    """Days with readings after the day of issue; a generator's years have no date of their own."""
    if issued is None:
        return
    there = np.zeros(days.size, dtype=bool)
    for name in ("tasmin", "tasmax"):
        there |= np.isfinite(seen[name]) & (codes.get(name, np.zeros(days.size)) != GENERATED)
    yield from _of_runs("future", there & (days > np.datetime64(issued, "D")), days, f"after {issued}; {_LEFT}", "")


def _between_columns(seen: dict[str, np.ndarray], days: np.ndarray) -> Iterable[Problem]:
    low, high = seen["tasmin"], seen["tasmax"]
    for problem in _of_runs("crossed", low > high, days, f"tasmin is above tasmax; {_LEFT}", ""):
        if problem.count >= _SWAPPED_RUN:
            words = f"tasmin and tasmax look swapped; {_LEFT}"
            problem = Problem("swapped", problem.first, problem.last, problem.count, words)
        yield problem
    for first, last, original in checks.repeated_days(low, high):
        words = f"tasmin and tasmax are those of the days from {days[original]}; {_LEFT}"
        yield Problem("repeat", str(days[first]), str(days[last]), last - first + 1, words)
    if "tas" in seen:
        outside = (seen["tas"] < low - _MEAN_OUTSIDE) | (seen["tas"] > high + _MEAN_OUTSIDE)
        number = days.astype("datetime64[M]").astype(int) - days[0].astype("datetime64[M]").astype(int)
        count = np.bincount(number, np.isfinite(seen["tas"] + low + high))
        share = np.bincount(number, outside) / np.maximum(count, 1)
        bad = (share >= _SWAPPED_SHARE) & (count >= 10)
        words = f"tas lies outside tasmin and tasmax on most days, as if columns were swapped; {_LEFT}"
        yield from _of_runs("swapped", bad[number], days, words, "tas")


def _one_column(seen: dict[str, np.ndarray], days: np.ndarray) -> Iterable[Problem]:
    for name, array in seen.items():
        if not np.isfinite(array).any():
            continue
        if name in TEMPERATURES:
            fahrenheit = checks.wrong_unit_months(array, days)
            words = f"{name}: these months fit only if they are degF; {_LEFT}"
            yield from _of_runs("unit", fahrenheit, days, words, name)
            array = np.where(fahrenheit, np.nan, array)
        low, high = POSSIBLE[name]
        words = f"{name}: outside {low:g} to {high:g} {VARIABLES[name][0]}; {_LEFT}"
        yield from _of_runs("out of range", (array < low) | (array > high), days, words, name, array)
        array = np.where((array < low) | (array > high), np.nan, array)
        if name in TEMPERATURES:
            yield from _temperature(name, array, seen, days)
        elif name == "pr":
            yield from _rain(array, days)


def _far_days(array: np.ndarray, seen: dict[str, np.ndarray], days: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Spikes, and other days far outside the place's own range, but for those whose like the record has."""
    spike, far = checks.spikes(array, days), checks.local_outliers(array, days)
    usual = checks.usual_values(array, days)
    if usual is not None:
        kept = without_precedent(spike | far, array, usual, seen["tasmax"] - seen["tasmin"], days)
        spike, far = spike & kept, far & kept
    return spike, far & ~spike


def _temperature(name: str, array: np.ndarray, seen: dict[str, np.ndarray], days: np.ndarray) -> Iterable[Problem]:
    stuck = checks.stuck_days(array, days)
    yield from _of_runs("stuck", stuck, days, f"{name}: the same value day after day; {_LEFT}", name, array)
    zero = zeros_for_missing(array, days)
    yield from _of_runs("out of range", zero, days, f"{name}: a zero that seems to stand for missing; {_LEFT}", name)
    array = np.where(zero, np.nan, array)
    spike, far = _far_days(array, seen, days)
    yield from _of_runs("spike", spike, days, f"{name}: far from both neighbouring days; {_LEFT}", name, array)
    yield from _of_runs(
        "out of range", far, days, f"{name}: far outside what this month has here; {_LEFT}", name, array
    )
    if name == "tasmin":
        high = seen["tasmax"]
        sound = np.where(np.logical_or(*_far_days(high, seen, days)), np.nan, high)
        above = above_every_maximum(array, sound, days) & ~far & ~spike
        words = f"tasmin: above every maximum that this month has had; {_LEFT}"
        yield from _of_runs("out of range", above, days, words, name, array)
    for place, size in checks.shifts(array, days):
        words = f"{name}: the mean changes by {size:+.1f} K from this day on; {_LEFT}"
        yield Problem("shift", str(days[place]), str(days[-1]), days.size - place, words, name)
    yield from _rounding(name, array, days)


def _rounding(name: str, array: np.ndarray, days: np.ndarray) -> Iterable[Problem]:
    year = days.astype("datetime64[Y]").astype(int) + 1970
    found = checks.rounded_years(array, days)
    for step in dict.fromkeys(w for _, w in found):
        mark = np.isin(year, [y for y, w in found if w == step])
        yield from _of_runs("rounding", mark, days, f"{name}: read to {step}; {_LEFT}", name, grade="remark")


def _rain(array: np.ndarray, days: np.ndarray) -> Iterable[Problem]:
    far = checks.rain_outliers(array)
    yield from _of_runs("out of range", far, days, f"pr: far above any other day; {_LEFT}", "pr", array)
    # dew, fog and drizzle give the same trace day after day
    stuck = checks.stuck_days(np.where(array > _TRACE, array, np.nan), days)
    yield from _of_runs("stuck", stuck, days, f"pr: the same amount day after day; {_LEFT}", "pr", array)
    wet = array[array > 0.0]
    # inches have hundredths
    if wet.size >= 50 and wet.max() < 15.0 and (np.abs(wet * 10 - np.round(wet * 10)) > 0.01).mean() > 0.5:
        words = f"pr: looks like inches, not mm; {_LEFT}"
        yield Problem("unit", str(days[0]), str(days[-1]), int(np.isfinite(array).sum()), words, "pr")
