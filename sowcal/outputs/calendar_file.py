"""Jobs as a calendar file for phone and desk (RFC 5545): whole-day events whose identity stays when imported again.

Nothing here reads the clock: the same chart, year and date of issue give the same bytes.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from sowcal.garden.diary import Job, job_words
from sowcal.garden.plan import GardenPlan
from sowcal.languages import phrase, say, say_crop, spoken
from sowcal.outputs.reports import job_sentence
from sowcal.outputs.terminal import plain
from sowcal.outputs.wording import NO_PROMISE, advice_sentences, odds_text, years_in_ten
from sowcal.suitability.results import Advice, SeasonNow, SowingChart, Window
from sowcal.suitability.week import JOB_OF_WAY, Week, WeekJob, window_jobs
from sowcal.year import MONTH_STARTS, date_text, day_text, month_of, span_text

__all__ = ["chart_calendar", "garden_calendar", "season_calendar", "week_calendar"]

_TITLE = {"tank": "The tank runs dry"}
_JOBS = (phrase("sow under cover"), phrase("sow outdoors"), phrase("pick"), phrase("first picking"))
_ADVICE = {
    "best fortnight": phrase("Best fortnight begins"),
    "earliest safe": phrase("Earliest safe day"),
    "last chance": phrase("Last chance"),
    "succession": phrase("For a later picking"),
}


@dataclass(frozen=True)
class _Event:
    """One whole-day event; `key` is what stays the same from issue to issue."""

    key: tuple[str, ...]
    date: dt.date
    job: str
    crop: str
    text: str
    title: str = ""


def _date(year: int, day: int) -> dt.date:
    """A day of the 365-day year as a date; days beyond it fall in the years after."""
    year, day = year + day // 365, day % 365
    month = month_of(day)
    return dt.date(year, month + 1, day - MONTH_STARTS[month] + 1)


def _odds(share: float) -> str:
    return say("Works {often}.", often=years_in_ten(share))


def _picking_words(window: Window) -> str:
    p = window.first_picking
    if p is None:
        return ""
    return say(
        "First picking about {day} ({day2} to {day3} in 8 years of 10).",
        day=day_text(p.p50),
        day2=day_text(p.p10),
        day3=day_text(p.p90),
    )


def _chart_events(chart: SowingChart, year: int) -> Iterator[_Event]:
    for line in chart.crops:
        for result in line.starts:
            # windows of one way are told apart by their order in the year, which a longer record rarely changes
            ordered = sorted(result.windows, key=lambda w: w.best)
            for number, window in enumerate(ordered, 1):
                for job, start, end, best in window_jobs(result.way, window):
                    words = [
                        say("Advised {span}, best about this day.", span=span_text(start, end)),
                        _odds(window.reliability),
                    ]
                    words.append(_picking_words(window))
                    key = (line.crop, result.way, job, str(number))
                    yield _Event(key, _date(year, best), job, line.crop, " ".join(w for w in words if w))
                if (p := window.first_picking) is not None:
                    begun = say("If {way} about {day}.", way=say(result.way), day=day_text(window.best))
                    text = f"{begun} {_picking_words(window)} {_odds(window.reliability)}"
                    date = _date(year, window.best + p.days_after_start)  # may fall in the year after
                    key = (line.crop, result.way, "first picking", str(number))
                    yield _Event(key, date, "first picking", line.crop, text)


def _advice_days(advice: Advice) -> Iterator[tuple[str, int]]:
    """Each date of a season on which to start, with its kind; a day is told once, by the first that names it."""
    told: set[int] = set()
    days = [("best fortnight", advice.best_start), ("earliest safe", advice.earliest_safe)]
    days += [("last chance", advice.last_chance), *(("succession", day) for day in advice.succession)]
    for kind, day in days:
        if day is not None and day not in told:
            told.add(day)
            yield kind, day


def _advice_events(chart: SowingChart, year: int) -> Iterator[_Event]:
    """The dates of each season; what is not worth it stands in the words of its best fortnight."""
    for line in chart.crops:
        for result in line.starts:
            for number, advice in enumerate(result.advice, 1):
                words = " ".join(advice_sentences(advice))
                for place, (kind, day) in enumerate(_advice_days(advice)):
                    key = (line.crop, result.way, kind, str(number), str(place) if kind == "succession" else "")
                    title = f"{say(_ADVICE[kind])} ({say(JOB_OF_WAY[result.way])})"
                    yield _Event(key, _date(year, day), kind, line.crop, words, title)


def _week_date(job: WeekJob, week: Week, first: dt.date) -> dt.date:
    """Date in the week of a job: the last of a last chance, the first of a first, else the best or the first open."""
    wanted = {"only": job.end, "last": job.end, "first": job.start, "best": job.best}.get(job.chance)
    if wanted is None:
        wanted = job.start if (job.start - week.start) % 365 < 7 else week.start
    # a week begun on 29 February begins on the 28th of the 365-day year
    return max(_date(first.year + (wanted < week.start), wanted), first)


def _week_events(week: Week, first: dt.date) -> Iterator[_Event]:
    for job in week.jobs:
        text = job_sentence(job) if job.chance in ("only", "last", "first") else ""
        odds = say("Advised {span}. {odds}", span=span_text(job.start, job.end), odds=_odds(job.reliability))
        if job.job == "pick":
            odds = say("Likely {span}, if it was started when advised.", span=span_text(job.start, job.end))
        key = (job.crop, job.way, job.job, "week", str(job.start))
        yield _Event(key, _week_date(job, week, first), job.job, job.crop, f"{text} {odds}".strip())


def _identity(site: str, year: int, key: Iterable[str]) -> str:
    """Stable identity of an event, from site, year, crop, way and job, parted so that none runs into another."""
    text = "\x1f".join([site, str(year), *key])
    return f"{hashlib.sha256(text.encode('utf-8', 'surrogatepass')).hexdigest()[:32]}@sowcal"


def _season_events(season: SeasonNow) -> Iterator[_Event]:
    """Setting out, first and last picking of what stands, on the middle day of each range, and the tank."""
    number: dict[tuple[str, ...], int] = {}
    for now in season.sowings:
        sown = now.sown
        key = (sown.crop, sown.sort, sown.bed, sown.started.isoformat())
        number[key] = number.get(key, 0) + 1
        bed = say(" Bed {bed}.", bed=sown.bed) if sown.bed else ""
        for job, spread in (
            ("set out", now.set_out), ("first picking", now.first_picking), ("last picking", now.last_picking)
        ):  # fmt: skip
            if spread is not None and spread.p50 >= season.date:
                span = say("{date} to {date2}", date=date_text(spread.p10), date2=date_text(spread.p90))
                text = say(
                    "{span} in 8 years of 10; started {date}.{bed}", span=span, date=date_text(sown.started), bed=bed
                )
                if job == "first picking" and (any_sort := now.any_sort) is not None:
                    text += say(
                        " Early and late sorts: {date} to {date2}.",
                        date=date_text(any_sort.p10),
                        date2=date_text(any_sort.p90),
                    )
                yield _Event((*key, job, str(number[key])), spread.p50, job, sown.crop, text)
    if season.tank is not None and season.tank.runs_dry is not None:
        share = say(
            "In {dry_share:.0%} of the years, if what stands is watered as it needs.", dry_share=season.tank.dry_share
        )
        yield _Event(
            ("tank",),
            season.tank.runs_dry.p50,
            "tank",
            say("{litres_now:.0f} litres now", litres_now=season.tank.litres_now),
            share,
        )


def season_calendar(season: SeasonNow, issued: dt.date) -> str:
    """What comes of the sowings of a season in progress; the same sowing keeps its events from issue to issue."""
    return _calendar(season, season.date.year, _season_events(season), issued)


def _calendar(of: SowingChart | Week | SeasonNow, year: int, events: Iterable[_Event], issued: dt.date) -> str:
    advised = (
        "" if isinstance(of, SeasonNow) else say("Advised: {odds} or better. ", odds=odds_text(of.reliability_asked))
    )
    words = f"{advised}{say(NO_PROMISE)} {of.made_by.short()}"
    return _written(of.site, say("Sowing at {site}", site=plain(say(of.site))), words, year, events, issued)


def _written(site: str, name: str, words: str, year: int, events: Iterable[_Event], issued: dt.date) -> str:
    import icalendar

    import sowcal

    stamp = dt.datetime(issued.year, issued.month, issued.day, tzinfo=dt.UTC)
    place = plain(say(site))
    calendar = icalendar.Calendar()
    calendar.add("prodid", f"-//sowcal//sowcal {sowcal.__version__}//{spoken().upper()}")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", name)
    calendar.add("x-wr-caldesc", words)
    for e in sorted(events, key=lambda e: (e.date, e.job, e.crop, e.key)):
        event = icalendar.Event()
        event.add("uid", _identity(site, year, e.key))
        event.add("dtstamp", stamp)
        event.add("last-modified", stamp)
        # later issues must count higher for importers to replace what they hold (RFC 5545, 3.8.7.4)
        event.add("sequence", max(issued.toordinal() - dt.date(2000, 1, 1).toordinal(), 0))
        event.add("dtstart", e.date)
        event.add("dtend", e.date + dt.timedelta(days=1))
        title = e.title or _TITLE.get(e.job) or say(e.job.replace("raise", "sow")).capitalize()
        of_none = not e.crop and "garden" in e.key  # compost, mulch, watering
        event.add("summary", title if of_none else f"{title}: {plain(say_crop(e.crop))}")
        event.add("description", plain(f"{e.text} {place}. {say(NO_PROMISE)}"))
        event.add("categories", [e.job])
        event.add("transp", "TRANSPARENT")  # a day to sow on does not make its owner busy
        calendar.add_component(event)
    return calendar.to_ical().decode("utf-8")


def chart_calendar(chart: SowingChart, year: int, issued: dt.date) -> str:
    """A year's jobs: one event for each crop, job and advised window, on the best day; and each season's five dates.

    Parameters
    ----------
    chart : SowingChart
    year : int
        Year, 1 to 9998, in which the jobs are put; a first picking follows its start, if need be into the next.
    issued : datetime.date
        Date of issue: the time stamp of every event, by which importers tell newer from older.

    Returns
    -------
    str
        RFC 5545 text with CRLF line ends. Without any advised window it holds no event.

    Examples
    --------
    >>> import sowcal
    >>> day = dt.date(2026, 1, 15)
    >>> chart = sowcal.sowing_chart("sallowdene", ["courgette"], issued=day)
    >>> text = chart_calendar(chart, 2026, day)
    >>> text.count("BEGIN:VEVENT"), text[:15]
    (16, 'BEGIN:VCALENDAR')
    """
    events = (*_chart_events(chart, year), *_advice_events(chart, year))
    return _calendar(chart, year, events, issued)


def week_calendar(week: Week, first: dt.date, issued: dt.date) -> str:
    """The jobs of one week, each on one of its days; `first` is the date with which the week begins.

    A week's events have identities of their own, so that they stand beside a year's and do not move them.
    """
    return _calendar(week, first.year, _week_events(week, first), issued)


def _garden_events(plan: GardenPlan) -> Iterator[_Event]:
    days: dict[tuple[dt.date, str, str], list[Job]] = {}
    for job in plan.diary:
        days.setdefault((job.date, job.job, job.crop), []).append(job)
    seen: dict[tuple[str, str], int] = {}
    for (date, name, crop), jobs in days.items():
        number = seen[name, crop] = seen.get((name, crop), 0) + 1
        text = "; ".join(map(job_words, jobs)).capitalize()
        yield _Event((crop, name, "garden", str(number)), date, name, crop, f"{text}.")


def garden_calendar(plan: GardenPlan, issued: dt.date) -> str:
    """The diary of a garden: one event for each day, job and crop, with its beds and amounts."""
    name = plan.garden.name
    words = f"{NO_PROMISE} {plan.made_by.short()}"
    return _written(name, plain(name), words, plan.begin.year, _garden_events(plan), issued)
