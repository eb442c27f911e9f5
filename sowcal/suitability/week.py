"""What may be done in one week of the year, and how each crop stands on a day, out of a sowing chart."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from sowcal.provenance import MadeBy
from sowcal.suitability.results import CropSeasons, Record, SeasonNow, SowingChart, SowingNow, WayResult, Window
from sowcal.suitability.windows import runs
from sowcal.year import day_of_date

if TYPE_CHECKING:
    from sowcal.seasons.outlook import Spread

__all__ = [
    "CHANCES",
    "GROUPS",
    "JOBS",
    "JOB_OF_WAY",
    "Standing",
    "Week",
    "WeekJob",
    "days_picked",
    "short_week",
    "standings",
    "week_of",
    "window_jobs",
    "with_log",
]

JOBS = ("raise under cover", "sow outdoors", "set out", "plant", "pick")
CHANCES = ("only", "last", "best", "first", "open")  # the order in which they are told
GROUPS = ("now", "soon", "later", "chancy", "not here")  # how crops stand on a day, the nearest first
_GRAVITY = ("hazard", "odds", "crop", "custom", None)
JOB_OF_WAY = {"sown outdoors": "sow outdoors", "set out": "set out", "planted": "plant"}
_YEAR = 365
_DAYS = 7
_PICKED = 0.5  # chance of picking from which a crop is said to be picked; a custom of ours, no source
_PAUSE = 28  # days; a shorter pause between two windows makes neither a last nor a first chance; ours, no source
_OPENS_NEAR_BEST = 31  # days; a span that opens longer before its best day has no first chance; ours, no source
_SOON = 42  # days in which a first job counts as soon; ours, no source
_MOST = 12  # jobs of a week that are told unless all are asked for; ours, no source
_NEAR = 60  # days; a hazard that begins further beyond an edge than this does not explain the edge


@dataclass(frozen=True)
class WeekJob:
    """One job on one crop that is open in the week, or opens soon (days of the year, both ends within).

    Attributes
    ----------
    crop, job : str
        `job` is one of `JOBS`.
    start, end : int
        First and last day on which the job is advised; for picking, on which it is likely.
    best : int or None
        Best day; None for picking.
    reliability : float
        Share of years that succeed from the best day; for picking, the best chance of picking in the week.
    chance : str
        'only' (opens and closes within the week), 'last' (closes), 'best' (holds the best day or a day of the best
        fortnight), 'first' (opens, and the best day is near) or 'open'.
    beyond : str or None
        What lies beyond the edge that makes it a first or last chance: 'hazard' (stops it in too many years),
        'odds' (fewer years work), 'crop' (a poorer or slower crop) or 'custom' (a perennial's planting months).
    hazard : str or None
        The hazard next beyond that edge.
    again : int or None
        First day of the next advised window of the same crop and job, where the year has another.
    way : str
        Way of starting that the job belongs to.
    """

    crop: str
    job: str
    start: int
    end: int
    best: int | None
    reliability: float
    chance: str
    beyond: str | None
    hazard: str | None
    again: int | None
    way: str


@dataclass(frozen=True)
class Week:
    """The week from one day on: `jobs` open in it, best told first, and `coming`, those that open soon after."""

    site: str
    record: Record
    reliability_asked: float
    start: int
    end: int
    ahead: int
    jobs: tuple[WeekJob, ...]
    coming: tuple[WeekJob, ...]
    not_judged: tuple[str, ...] = ()
    made_by: MadeBy = field(default_factory=MadeBy)
    left_out: int = 0  # jobs of the week that are not told
    by_log: bool = False  # whether what is sown is left out of it


def _after(day: int, since: int) -> int:
    """Days from `since` on to the next such day of the year."""
    return (day - since) % _YEAR


def _beyond(result: WayResult, edge: int, step: int, asked: float) -> tuple[str, str | None]:
    """What waits on the far side of an edge of a window: kind and hazard."""
    if result.reliability is None:
        return "custom", None
    near = [(_after(o.start, edge) if step > 0 else _after(edge, o.end), o.hazard) for o in result.outside]
    distance, hazard = min(near, default=(_YEAR, ""))
    told = hazard if distance <= _NEAR else None
    days = (edge + step * np.arange(1, _DAYS + 1)) % _YEAR
    if float(np.nan_to_num(result.reliability[days]).min()) >= asked:
        return "crop", told  # it works there too: yield or time sets the edge
    return ("hazard", told) if told else ("odds", None)


def _chance(
    span: tuple[int, int],
    others: list[tuple[int, int]],
    best: int | None,
    day: int,
    fortnights: Sequence[tuple[int, int]] = (),
) -> str:
    """How the week from `day` on stands in a span of the year that it touches."""
    start, end = span
    at_best = best is not None and _after(best, day) < _DAYS
    at_best = at_best or any(_touches(*fortnight, day) for fortnight in fortnights)
    if _after(end, start) == _YEAR - 1:
        return "best" if at_best else "open"
    opens = _after(start, day) < _DAYS and all(_after(start, e) > _PAUSE for _, e in [*others, span])
    closes = _after(end, day) < _DAYS and all(_after(s, end) > _PAUSE for s, _ in [*others, span])
    if opens and closes:
        return "only"
    if closes:
        return "last"
    if at_best:
        return "best"
    near = best is None or _after(best, start) <= _OPENS_NEAR_BEST
    return "first" if opens and near else "open"


def _touches(start: int, end: int, day: int) -> bool:
    return _after(day, start) <= _after(end, start) or _after(start, day) < _DAYS


def _next(spans: list[tuple[int, int]], day: int) -> int | None:
    """First day of the next of some spans after a day."""
    return min((s for s, _ in spans), key=lambda s: _after(s, day), default=None)


def _raise_day(window: Window, day: int) -> int:
    """Day to sow under cover for setting out on a day of the window."""
    assert window.raise_under_cover is not None
    first, last = window.raise_under_cover
    length = max(_after(window.end, window.start), 1)
    return (first + round(_after(last, first) * _after(day, window.start) / length)) % _YEAR


def _fortnights(result: WayResult, window: Window, job: str) -> list[tuple[int, int]]:
    """Days of a job that belong to the best fortnights within a window."""
    found = []
    for advice in result.advice:
        if _after(advice.best_end, window.start) <= _after(window.end, window.start):
            ends = (advice.best_start, advice.best_end)
            if job == "raise under cover":
                ends = (_raise_day(window, ends[0]), _raise_day(window, ends[1]))
            found.append(ends)
    return found


def window_jobs(way: str, window: Window) -> Iterator[tuple[str, int, int, int]]:
    """Job, first, last and best day of the year of each job that a window asks for, in their order."""
    if window.raise_under_cover is not None:
        yield "raise under cover", *window.raise_under_cover, _raise_day(window, window.best)
    yield JOB_OF_WAY[way], window.start, window.end, window.best


def _start_jobs(line: CropSeasons, day: int, asked: float) -> Iterator[WeekJob]:
    """Every job of starting a crop over the year, told as the week from `day` on sees it."""
    for result in line.starts:
        spans = [(*job, window) for window in result.windows for job in window_jobs(result.way, window)]
        for job, start, end, best, window in spans:
            others = [(a, b) for j, a, b, _, _ in spans if j == job and a != start]
            fortnights = _fortnights(result, window, job)
            if fortnights:  # of several the one that the week lies in, or that comes next
                first, last = min(fortnights, key=lambda ends: _after(ends[1], day))
                best = (first + _after(last, first) // 2) % _YEAR
            chance = _chance((start, end), others, best, day, fortnights)
            beyond, hazard = None, None
            if chance in ("only", "last"):
                beyond, hazard = _beyond(result, window.end, 1, asked)
            elif chance == "first":
                beyond, hazard = _beyond(result, window.start, -1, asked)
            yield WeekJob(
                crop=line.crop,
                job=job,
                start=start,
                end=end,
                best=best,
                reliability=window.reliability,
                chance=chance,
                beyond=beyond,
                hazard=hazard,
                again=_next(others, end),
                way=result.way,
            )


def _picking_jobs(line: CropSeasons, day: int) -> Iterator[WeekJob]:
    """Spans of the year in which a crop started when advised is more likely picked than not."""
    week = (day + np.arange(_DAYS)) % _YEAR
    chances = {s.way: np.nan_to_num(s.picking) for s in line.starts if s.picking is not None and s.windows}
    if not chances:
        return
    chance = np.maximum.reduce(list(chances.values()))
    way = max(chances, key=lambda w: float(chances[w][week].max()))
    found = runs(chance >= _PICKED)
    for start, end in found:
        others = [span for span in found if span[0] != start]
        yield WeekJob(
            crop=line.crop,
            job="pick",
            start=start,
            end=end,
            best=None,
            reliability=float(chance[week].max()),
            chance=_chance((start, end), others, None, day),
            beyond=None,
            hazard=None,
            again=_next(others, end),
            way=way,
        )


def _rank(job: WeekJob, day: int) -> tuple:
    """By chance and what lies beyond; last chances with the longest wait for another first, the rest by what closes."""
    wait = _YEAR if job.again is None else _after(job.again, job.end)
    closes = _YEAR if _after(job.end, job.start) == _YEAR - 1 else _after(job.end, day)
    urgent = job.chance in ("only", "last")
    return (
        CHANCES.index(job.chance),
        _GRAVITY.index(job.beyond),
        JOBS.index(job.job),
        -wait if urgent else closes,
        job.crop,
        job.start,
    )


def week_of(chart: SowingChart, day: int, ahead: int = 0) -> Week:
    """What may be raised, sown, set out, planted and picked in the seven days from one day on.

    Parameters
    ----------
    chart : SowingChart
        Only its advised windows are told.
    day : int
        Day of the year, 0 to 364, with which the week begins.
    ahead : int
        Weeks after this one whose openings are told too, 0 to 51. Where nothing at all is to be told, the soonest
        opening of the year is, whatever this says.

    Returns
    -------
    Week

    Raises
    ------
    ValueError
        Where a day or a number of weeks lies outside the year.
    """
    if not 0 <= day < _YEAR:
        raise ValueError(f"day {day} is no day of the year (0 to 364)")
    if not 0 <= ahead <= 51:
        raise ValueError(f"{ahead} weeks ahead is not between 0 and 51")
    every = [
        job
        for line in chart.crops
        for job in (*_start_jobs(line, day, chart.reliability_asked), *_picking_jobs(line, day))
    ]
    now = sorted((j for j in every if _touches(j.start, j.end, day)), key=lambda j: _rank(j, day))
    later = sorted(
        (j for j in every if not _touches(j.start, j.end, day)),
        key=lambda j: (_after(j.start, day), JOBS.index(j.job), j.crop),
    )
    coming = [j for j in later if _after(j.start, day) < _DAYS * (ahead + 1)]
    if not now and not coming:
        coming = later[:1]
    return Week(
        site=chart.site,
        record=chart.record,
        reliability_asked=chart.reliability_asked,
        start=day,
        end=(day + _DAYS - 1) % _YEAR,
        ahead=ahead,
        jobs=tuple(now),
        coming=tuple(coming),
        not_judged=chart.not_judged,
        made_by=chart.made_by,
    )


def short_week(week: Week) -> Week:
    """The week without what is possible and not at its best, and with no more than a dozen jobs.

    Jobs of starting a crop come first, as they are told; then what begins or ends to be picked, then all else picked.

    Parameters
    ----------
    week : Week
        As `week_of` gives it.

    Returns
    -------
    Week
        What it does not tell is counted in `left_out`.
    """
    started = [j for j in week.jobs if j.job != "pick" and j.chance != "open"]
    picked = sorted((j for j in week.jobs if j.job == "pick"), key=lambda j: j.chance in ("best", "open"))
    told = (started + picked)[:_MOST]
    return replace(week, jobs=tuple(told), left_out=week.left_out + len(week.jobs) - len(told))


@dataclass(frozen=True)
class Standing:
    """How one crop stands on a day: what may be done, and from when or till when (days of the year).

    Attributes
    ----------
    line : CropSeasons
    group : str
        One of `GROUPS`: 'now' (a job is advised in the seven days from the day on), 'soon' (within six weeks), 'later',
        'chancy' (works less often than asked), 'not here' (no dates).
    job : str or None
        First job from the day on, one of `JOBS`; of those open now the one that closes first. None where none is
        advised.
    start, end : int or None
        First and last day on which it is advised.
    """

    line: CropSeasons
    group: str
    job: str | None = None
    start: int | None = None
    end: int | None = None


def _standing(line: CropSeasons, day: int) -> Standing:
    jobs = [job[:3] for way in line.starts for w in way.windows for job in window_jobs(way.way, w)]
    if not jobs:
        return Standing(line, "chancy" if any(way.possible for way in line.starts) else "not here")
    if now := [j for j in jobs if _touches(j[1], j[2], day)]:
        job, start, end = min(now, key=lambda j: _till(j[1], j[2], day))
        return Standing(line, "now", job, start, end)
    job, start, end = min(jobs, key=lambda j: (_after(j[1], day), JOBS.index(j[0])))
    return Standing(line, "soon" if _after(start, day) <= _SOON else "later", job, start, end)


def _till(start: int, end: int, day: int) -> int:
    """Days from a day on to the end of a span that it touches; a year and more where the span never ends."""
    if _after(end, start) == _YEAR - 1:
        return _YEAR
    return _after(end, day)


def _works(line: CropSeasons) -> float:
    return max((w.reliability for way in line.starts for w in way.possible), default=0.0)


def standings(chart: SowingChart, day: int) -> tuple[Standing, ...]:
    """Every crop by what can be done: now by what closes first, then by the first job, chancy crops by their odds.

    Parameters
    ----------
    chart : SowingChart
    day : int
        Day of the year, 0 to 364.

    Raises
    ------
    ValueError
        Where the day lies outside the year.
    """
    if not 0 <= day < _YEAR:
        raise ValueError(f"day {day} is no day of the year (0 to 364)")

    def order(found: Standing) -> tuple:
        group = GROUPS.index(found.group)
        if found.start is None or found.end is None:
            return (group, -_works(found.line), found.line.crop)
        if found.group == "now":
            return (group, _till(found.start, found.end, day), found.line.crop)
        return (group, _after(found.start, day), found.line.crop)

    return tuple(sorted((_standing(line, day) for line in chart.crops), key=order))


def days_picked(line: CropSeasons) -> int:
    """Days of the year on which a crop begun when advised is more likely picked than not."""
    chances = [np.nan_to_num(way.picking) for way in line.starts if way.picking is not None and way.windows]
    return int((np.maximum.reduce(chances) >= _PICKED).sum()) if chances else 0


_SAME_SEASON = 60  # days before a window opens from which a sowing is of its season: common practice, no source


def with_log(week: Week, season: SeasonNow) -> Week:
    """The week for a grower whose sowings are logged: what is sown is not advised, and pickings are of real sowings.

    A crop that stands, or was sown under cover, is left out of the jobs of the season of the year in which it was
    started; seedlings that are due to be set out, and what is picked, are told by their own dates.

    Parameters
    ----------
    week : Week
    season : SeasonNow
        Told for the first day of the week.
    """
    stands = [s for s in season.sowings if s.stage not in ("cleared", "lost")]

    def sown_for(job: WeekJob) -> bool:
        length = _after(job.end, job.start) + _SAME_SEASON
        opens = (job.start - _SAME_SEASON) % _YEAR
        return any(
            s.sown.crop == job.crop and (length >= _YEAR - 1 or _after(day_of_date(s.sown.started), opens) <= length)
            for s in stands
        )

    def left(jobs: tuple[WeekJob, ...]) -> list[WeekJob]:
        return [j for j in jobs if j.job != "pick" and not sown_for(j)]

    own = [job for s in stands for job in _own_jobs(s, week.start)]
    now = sorted([*left(week.jobs), *(j for j in own if _touches(j.start, j.end, week.start))],
                 key=lambda j: _rank(j, week.start))  # fmt: skip
    return replace(week, jobs=tuple(now), coming=tuple(left(week.coming)), by_log=True)


def _own_jobs(now: SowingNow, day: int) -> Iterator[WeekJob]:
    """Setting out and picking of one real sowing, by its own dates."""
    spans: list[tuple[str, Spread, Spread | None]] = []
    if now.set_out is not None:
        spans.append(("set out", now.set_out, now.set_out))
    if now.first_picking is not None and now.sown.in_bed is not None and now.stage != "over":
        spans.append(("pick", now.first_picking, now.last_picking))
    for job, first, last in spans:
        start, best = day_of_date(first.p10 if job == "set out" else first.p50), day_of_date(first.p50)
        end = max(last.p90 if job == "set out" else last.p50, first.p50) if last is not None else first.p90
        span = (start, day_of_date(end))
        yield WeekJob(
            crop=now.sown.crop,
            job=job,
            start=span[0],
            end=span[1],
            best=None if job == "pick" else best,
            reliability=now.picked_share or 0.0,
            chance=_chance(span, [], None, day),
            beyond=None,
            hazard=None,
            again=None,
            way=now.sown.way,
        )
