"""What is found wrong with a record, one finding a kind, and travels with it; records of the wrong hemisphere."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.errors import InputError
from sowcal.kept_files import kinds_of, remembered
from sowcal.languages import counted_phrase, phrase
from sowcal.units import quantity
from sowcal.weather.record import parts_of

if TYPE_CHECKING:
    from sowcal.weather.quality import Problem
    from sowcal.weather.record import DailyRecord

__all__ = [
    "Finding",
    "Findings",
    "checked",
    "findings_in",
    "findings_of",
    "other_hemisphere",
    "refuse_other_hemisphere",
    "summer_excess",
    "with_findings",
]

# Nearer the equator rains and clouds may turn the year about (Bamako is hottest in April, coolest in August). From
# 15 degrees on the *mean* of day and night is nowhere cooler in high summer than in midwinter by as much as 4 K: in the
# monsoon the days are, by up to 5, but the nights are warmer (from memory; held against nineteen station records).
_TROPICS, _LEAST_SWING = 15.0, 4.0
_LEAST_DAYS = 15  # of a month, with both temperatures, in all years together: common practice, no source
_SUMMER, _WINTER = (5, 6, 7), (11, 0, 1)  # of the north, months from 0


def summer_excess(tasmin: np.ndarray, tasmax: np.ndarray, days: np.ndarray) -> np.ndarray:
    """By how much June to August are warmer than December to February.

    Parameters
    ----------
    tasmin, tasmax : numpy.ndarray, shape (..., n)
        degC; NaN where missing.
    days : numpy.ndarray of datetime64[D], shape (n,)

    Returns
    -------
    numpy.ndarray, shape (...)
        K, from the means of day and night; NaN where one of the six months has less than 15 days.
    """
    month = days.astype("datetime64[M]").astype(int) % 12
    mean = 0.5 * (np.asarray(tasmin, dtype=float) + np.asarray(tasmax, dtype=float))
    known = np.isfinite(mean)
    halves = []
    for months in (_SUMMER, _WINTER):
        sums = []
        for m in months:
            these = month == m
            count = known[..., these].sum(axis=-1)
            total = np.where(known[..., these], mean[..., these], 0.0).sum(axis=-1)
            sums.append(np.where(count >= _LEAST_DAYS, total / np.maximum(count, 1), np.nan))
        halves.append(sum(sums) / 3.0)
    return np.asarray(halves[0] - halves[1])


def other_hemisphere(excess: np.ndarray | float, latitude: np.ndarray | float) -> np.ndarray:
    """Whether the warm season lies where the other hemisphere has it, by more than 4 K and 15 degrees from the equator.

    Parameters
    ----------
    excess : numpy.ndarray or float
        As `summer_excess` gives it, K.
    latitude : numpy.ndarray or float
        Degrees north; where it is not known (NaN) nothing can be said.
    """
    with np.errstate(invalid="ignore"):
        return (np.abs(latitude) > _TROPICS) & (np.asarray(excess) * np.sign(latitude) < -_LEAST_SWING)


def refuse_other_hemisphere(record: DailyRecord, where: str | None = None) -> None:
    """Refuse a record whose latitude lacks its minus sign, or has one too many.

    Parameters
    ----------
    record : DailyRecord
        One without a latitude passes.
    where : str, optional
        What is named in the error.

    Raises
    ------
    InputError
        With the margin, and the latitude to write.
    """
    latitude = record.latitude
    excess = float(summer_excess(record["tasmin"], record["tasmax"], record.time))
    if not other_hemisphere(excess, latitude):
        return
    warm, cool = ("June to August", "December to February")[:: 1 if excess > 0 else -1]
    side, mend = ("north", "south") if latitude > 0 else ("south", "north")
    raise InputError(
        f"the seasons are those of the other hemisphere: {warm} are {abs(excess):.1f} degC warmer than {cool} (more "
        f"than {_LEAST_SWING:g} degC is no chance), but latitude {latitude:g} lies {side} of the equator; write "
        f"latitude = {-latitude:g} if the place lies in the {mend} (south is negative), else mend the dates",
        where=where,
    )


_LOST = "set to missing"  # the one kind that is not of `quality.KINDS`: several kinds in one line
_ZERO, _FAHRENHEIT = "stand for missing", "only if they are degF"  # in the words of a problem
_WORDS = {  # after '12 days with'
    "repeat": phrase("the readings of other days of the record"),
    "crossed": phrase("a minimum above the maximum"),
    "out of range": phrase("values that cannot be, or not here"),
    "stuck": phrase("the same value day after day"),
    "spike": phrase("a value far from both neighbouring days"),
    "swapped": phrase("columns that look swapped"),
}
_MENDS = {
    "repeat": "give these days their own readings, or leave them empty",
    "crossed": "exchange the two, or leave both empty",
    "out of range": "correct them, or leave them empty; a missing reading is no zero",
    "stuck": "leave them empty where the thermometer stood still",
    "spike": "correct them, or leave them empty",
    "swapped": "name the columns under [weather.columns], or exchange them in these days",
    "future": "correct the dates, and their century",
    _LOST: "correct them, or leave them empty",
}


@dataclass(frozen=True, slots=True)
class Finding:
    """What looks wrong in a record, all of one kind.

    Attributes
    ----------
    kind : str
        One of `sowcal.weather.quality.KINDS`, or 'set to missing' for readings that no answer could use.
    days : int
        Days concerned; of a step in the mean, those after it.
    text : str
        What was found.
    mend : str
        What to do.
    """

    kind: str
    days: int
    text: str
    mend: str

    @property
    def line(self) -> str:
        """The finding, and how to see all of it."""
        return phrase("{text}; `sowcal weather check` lists them", text=self.text)

    def to_json(self) -> dict[str, Any]:
        """Plain dict."""
        return asdict(self)


def findings_of(problems: Iterable[Problem], first: str, last: str, issued: str = "") -> tuple[Finding, ...]:
    """One finding a kind, from what is doubtful or lost in the days that an answer rests on.

    Parameters
    ----------
    problems : iterable of Problem
        Of the whole record, in the order of their kinds.
    first, last : str
        Days that the answer rests on, ISO 8601; what lies outside is not told.
    issued : str
        Day of issue, ISO 8601, where days in the future were looked for.
    """
    kinds: dict[str, list[Problem]] = {}
    for problem in problems:
        if problem.grade == "remark" or not (part := _within(problem, first, last)):
            continue
        kinds.setdefault(_LOST if problem.grade == "lost" else problem.kind, []).append(part)
    return tuple(_finding(kind, these, issued) for kind, these in kinds.items())


def _within(problem: Problem, first: str, last: str) -> Problem | None:
    """The part of a problem that lies in a span of days; of a step in the mean both sides must lie there."""
    if problem.last < first or problem.first > last or (problem.kind == "shift" and problem.first <= first):
        return None
    begin, end = max(problem.first, first), min(problem.last, last)
    if (begin, end) == (problem.first, problem.last):
        return problem
    return replace(problem, first=begin, last=end, count=min(problem.count, _length(begin, end)))


def _length(first: str, last: str) -> int:
    return int((np.datetime64(last) - np.datetime64(first)).astype(int)) + 1


def _days_of(problems: Sequence[Problem]) -> int:
    """Days that some problem concerns, each counted once."""
    start = min(p.first for p in problems)
    mark = np.zeros(max(_length(start, p.last) for p in problems), dtype=bool)
    for p in problems:
        mark[_length(start, p.first) - 1 : _length(start, p.last)] = True
    return int(mark.sum())


def _finding(kind: str, problems: Sequence[Problem], issued: str) -> Finding:
    days = _days_of(problems)
    begin, end = min(p.first for p in problems), max(p.last for p in problems)
    span = begin if begin == end else phrase("{start} to {end}", start=begin, end=end)
    of_days = counted_phrase(days, "day")
    mend = _MENDS.get(kind, "")
    if kind == "shift":
        return _shift(problems, days)
    if kind == "unit":
        return _unit(problems, days)
    if kind == _LOST:
        lost = counted_phrase(sum(p.count for p in problems), "value")
        text = phrase("{values} of the record could not be used ({span})", values=lost, span=span)
    elif kind == "future":
        text = phrase(
            "the record has {days} after the day of issue, {issued} ({span})", days=of_days, issued=issued, span=span
        )
    else:
        text = phrase("the record has {days} with {what} ({span})", days=of_days, what=_WORDS[kind], span=span)
        zeros = [p for p in problems if _ZERO in p.done]
        if zeros:
            of_them = _days_of(zeros)
            words = phrase("a zero that seems to stand for missing")
            if of_them == days:
                text = phrase("the record has {days} with {what} ({span})", days=of_days, what=words, span=span)
            else:
                text = phrase("{text}, {count} of them with {what}", text=text, count=of_them, what=words)
    return Finding(kind, days, text, mend)


def _shift(problems: Sequence[Problem], days: int) -> Finding:
    """Steps in the mean; the years since the last of them are the mend."""
    ordered = sorted(problems, key=lambda p: p.first)
    size = ordered[0].done.partition("changes by ")[2].partition(" K")[0]
    text = phrase(
        "the record has {steps} in its mean, the first of {size} on {date}",
        steps=counted_phrase(len(ordered), "step"),
        size=quantity(float(size), "degC apart", "+.1f"),
        date=ordered[0].first,
    )
    last = ordered[-1].first
    year = int(last[:4]) + (last[5:] > "01-01")
    return Finding("shift", days, text, f"where the station moved, keep the years since: --years {year}:")


def _unit(problems: Sequence[Problem], days: int) -> Finding:
    said = []
    if months := [p for p in problems if _FAHRENHEIT in p.done]:
        said.append(
            f"{counted_phrase(_days_of(months), 'day')} from {min(p.first for p in months)} fit only if they are degF"
        )
    said += [p.done.partition("; left")[0] for p in problems if _FAHRENHEIT not in p.done]
    text = phrase("a unit of the record is in doubt: {what}", what=", ".join(dict.fromkeys(said)))
    return Finding(
        "unit", days, text, "state the unit of each column in its header, such as 'precip_in' or 'tmin_degF'"
    )


@dataclass(frozen=True, slots=True)
class Findings:
    """What was found in a record as it was read, before it was moved or cut.

    Attributes
    ----------
    issued : str
        Day of issue, ISO 8601, after which days lie in the future.
    problems : tuple of Problem
        Those that an answer tells.
    """

    issued: str
    problems: tuple[Problem, ...] = ()


def with_findings(record: DailyRecord, issued: dt.date, *, made: bool = False) -> DailyRecord:
    """A record with what looks wrong in it, for whatever is then made of it.

    Parameters
    ----------
    record : DailyRecord
        As it was read; days that are filled may neither be blamed nor hide a fault.
    issued : datetime.date
        Day of issue: days after it are days in the future. The same record, asked with the same day of issue, has the
        same findings.
    made : bool
        Whether the weather generator made the record: it is then sound, and is not looked at.
    """
    if made:
        return replace(record, findings=Findings(str(issued)))

    def looked_for() -> tuple[Problem, ...]:
        from sowcal.weather.quality import quality_report

        return tuple(p for p in quality_report(record, issued).problems if p.grade != "remark")

    def kinds() -> dict[str, Any]:
        from sowcal.weather.quality import Problem as Kind

        return kinds_of((Kind,))

    # days of the future apart, the day of issue decides nothing
    after = str(issued) if record.time[-1] > np.datetime64(issued, "D") else ""
    problems = remembered("findings", (after.encode(), *parts_of(record)), looked_for, kinds)
    return replace(record, findings=Findings(str(issued), problems))


def checked(record: DailyRecord, issued: dt.date | None = None) -> DailyRecord:
    """A record from anywhere with its findings; those that it has stand, where the day of issue is the same.

    Parameters
    ----------
    record : DailyRecord
    issued : datetime.date, optional
        Day of issue; where left out, that of the findings it has, else no day is in the future.
    """
    found = record.findings
    if found is not None and str(issued or found.issued) == found.issued:
        return record
    return with_findings(record, issued or dt.date.max)


def findings_in(record: DailyRecord) -> tuple[Finding, ...]:
    """What was found in a record, as far as it lies in the days that it has."""
    if record.findings is None:
        return ()
    return findings_of(record.findings.problems, str(record.time[0]), str(record.time[-1]), record.findings.issued)
