"""What may be done in one week of the year, out of a sowing chart: last and first chances first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from sowcal.provenance import MadeBy
from sowcal.suitability.results import CropSeasons, Record, SeasonNow, SowingChart, SowingNow, WayResult, Window
from sowcal.suitability.windows import runs
from sowcal.year import day_of_date

if TYPE_CHECKING:
    from sowcal.seasons.season import Spread

__all__ = ["CHANCES", "JOBS", "JOB_OF_WAY", "Week", "WeekJob", "week_of", "window_jobs", "with_log"]

JOBS = ("raise under cover", "sow outdoors", "set out", "plant", "pick")
CHANCES = ("only", "last", "first", "best", "open")  # the order in which they are told
_GRAVITY = ("hazard", "odds", "crop", "custom", None)
JOB_OF_WAY = {"sown outdoors": "sow outdoors", "set out": "set out", "planted": "plant"}
_YEAR = 365
_DAYS = 7
_PICKED = 0.5  # chance of picking from which a crop is said to be picked; a custom of ours, no source
_PAUSE = 28  # days; a shorter pause between two windows makes neither a last nor a first chance; ours, no source
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
        'only' (opens and closes within the week), 'last' (closes), 'first' (opens), 'best' (holds the best
        day) or 'open'.
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


def _chance(span: tuple[int, int], others: list[tuple[int, int]], best: int | None, day: int) -> str:
    """How the week from `day` on stands in a span of the year that it touches."""
    start, end = span
    if _after(end, start) == _YEAR - 1:
        return "open"
    opens = _after(start, day) < _DAYS and all(_after(start, e) > _PAUSE for _, e in [*others, span])
    closes = _after(end, day) < _DAYS and all(_after(s, end) > _PAUSE for s, _ in [*others, span])
    if opens and closes:
        return "only"
    if closes or opens:
        return "last" if closes else "first"
    return "best" if best is not None and _after(best, day) < _DAYS else "open"


def _touches(start: int, end: int, day: int) -> bool:
    return _after(day, start) <= _after(end, start) or _after(start, day) < _DAYS


def _next(spans: list[tuple[int, int]], day: int) -> int | None:
    """First day of the next of some spans after a day."""
    return min((s for s, _ in spans), key=lambda s: _after(s, day), default=None)


def _raise_best(window: Window) -> int:
    """Day to sow under cover for setting out on the best day."""
    assert window.raise_under_cover is not None
    first, last = window.raise_under_cover
    length = max(_after(window.end, window.start), 1)
    return (first + round(_after(last, first) * _after(window.best, window.start) / length)) % _YEAR


def window_jobs(way: str, window: Window) -> Iterator[tuple[str, int, int, int]]:
    """Job, first, last and best day of the year of each job that a window asks for, in their order."""
    if window.raise_under_cover is not None:
        yield "raise under cover", *window.raise_under_cover, _raise_best(window)
    yield JOB_OF_WAY[way], window.start, window.end, window.best


def _start_jobs(line: CropSeasons, day: int, asked: float) -> Iterator[WeekJob]:
    """Every job of starting a crop over the year, told as the week from `day` on sees it."""
    for result in line.starts:
        spans = [(*job, window) for window in result.windows for job in window_jobs(result.way, window)]
        for job, start, end, best, window in spans:
            others = [(a, b) for j, a, b, _, _ in spans if j == job and a != start]
            chance = _chance((start, end), others, best, day)
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
    return replace(week, jobs=tuple(now), coming=tuple(left(week.coming)))


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
