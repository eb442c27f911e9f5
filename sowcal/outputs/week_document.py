"""The week told once, to be read over breakfast: last and first chances with the reason, the rest in a line a job."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sowcal.outputs.document import Document, Items, Names, Paragraph, Part, Section, screen_text
from sowcal.outputs.wording import NO_PROMISE, odds_text, record_text, three_words
from sowcal.suitability.week import JOBS, Week, WeekJob
from sowcal.year import day_text, span_text

__all__ = ["job_sentence", "week_document", "week_text"]

_MOST = 6  # sentences in a group; the rest of the group is named in one line
_DO = {
    "raise under cover": "sow {} under cover",
    "sow outdoors": "sow {} outdoors",
    "set out": "set out {}",
    "plant": "plant {}",
    "pick": "pick {}",
}


def _why(job: WeekJob) -> str:
    """What waits beyond the edge of a first or last chance, in plain words; empty where nothing is known."""
    when = "earlier" if job.chance == "first" else "later"
    hazard = three_words(job.hazard) if job.hazard else ""
    of_setting_out = " to set out" if job.job == "raise under cover" else ""
    if job.beyond == "hazard":
        return f"{when}{of_setting_out}: {hazard}"
    if job.beyond == "crop":
        return f"{when}{of_setting_out}: poorer or slower" + (f", then {hazard}" if hazard else "")
    if job.beyond == "odds":
        return f"{when}{of_setting_out}: works in too few years"
    if job.beyond == "custom":
        return "the usual planting months " + ("begin" if job.chance == "first" else "end")
    return ""


def job_sentence(job: WeekJob) -> str:
    """A first or last chance as a sentence: 'Last safe week to sow broad bean outdoors, till 24 May; later: ...'."""
    do = _DO[job.job].format(job.crop)
    if job.chance == "first":
        says = f"First safe week to {do}, from {day_text(job.start)}"
        says += f", best about {day_text(job.best)}" if job.best is not None else ""
    else:
        says = f"{'Only' if job.chance == 'only' else 'Last'} safe week to {do}, "
        says += span_text(job.start, job.end) if job.chance == "only" else f"till {day_text(job.end)}"
    parts = [says]
    if why := _why(job):
        parts.append(why)
    if job.chance != "first" and job.again is not None:
        parts.append(f"again from {day_text(job.again)}")
    return "; ".join(parts) + "."


def _group(title: str, jobs: Sequence[WeekJob], key: str) -> Section:
    """First or last chances: the nearest in sentences, the rest named in one line."""
    parts: list[Part] = [Items(tuple(map(job_sentence, jobs[:_MOST])), bullets=False)] if jobs else []
    if rest := jobs[_MOST:]:
        named = [f"{_DO[j.job].format(j.crop)} ({day_text(j.start if j.chance == 'first' else j.end)})" for j in rest]
        parts.append(Names((("and", tuple(named)),)))
    return Section(title, tuple(parts), key)


def _lines(named: Iterable[tuple[str, Iterable[str]]]) -> tuple[Part, ...]:
    """A line a job, each name once; no job, no line."""
    rows = tuple((label, tuple(dict.fromkeys(names))) for label, names in named)
    return (Names(rows),) if any(names for _, names in rows) else ()


def _open(week: Week) -> Section:
    """What else is open: what is at its best, then the rest by what closes soonest, a line a job."""
    rows = []
    for job in JOBS[:-1]:
        mine = [j for j in week.jobs if j.job == job]
        best = [f"{j.crop} (best now)" for j in mine if j.chance == "best"]
        rows.append((job, [*best, *(j.crop for j in mine if j.chance == "open")]))
    picked = [j for j in week.jobs if j.job == "pick"]
    rows.append(("pick, first time", [j.crop for j in picked if j.chance in ("first", "only")]))
    rows.append(("pick, last time", [j.crop for j in picked if j.chance == "last"]))
    rows.append(("pick", [j.crop for j in picked if j.chance in ("best", "open")]))
    return Section("Also this week, what closes soonest first", _lines(rows), "also")


def _coming(week: Week) -> Section:
    rows = [(job, [f"{j.crop} ({day_text(j.start)})" for j in week.coming if j.job == job]) for job in JOBS]
    title = "Opening next" if not week.ahead else f"Opening in the {week.ahead} weeks after"
    return Section("Opening in the week after" if week.ahead == 1 else title, _lines(rows), "coming")


def week_document(week: Week) -> Document:
    """The work of one week: last and first chances with the reason, the rest in a line a job, what opens next."""
    starts = [j for j in week.jobs if j.job != "pick"]
    never = "" if week.coming else " No day of the year is advised; `sowcal rate` says why."
    nothing = Paragraph(f"Nothing to raise, sow, set out, plant or pick this week.{never}")
    not_judged = (f"Not judged: {', '.join(week.not_judged)}.",) if week.not_judged else ()
    return Document(
        f"THE WEEK of {span_text(week.start, week.end)} at {week.site}; {record_text(week.record)}; "
        f"safe: works {odds_text(week.reliability_asked)} or better",
        (
            _group("Last chances", [j for j in starts if j.chance in ("only", "last")], "last"),
            _group("First chances", [j for j in starts if j.chance == "first"], "first"),
            _open(week),
            *(() if week.jobs else (nothing,)),
            _coming(week),
        ),
        foot=(*not_judged, f"{NO_PROMISE} {week.made_by.short()}"),
        spaced=False,
    )


def week_text(week: Week, *, width: int = 100, unicode: bool = True) -> str:
    """The week on a screen of so many columns; `unicode` lets letters beyond ASCII be sent.

    Examples
    --------
    >>> import datetime as dt
    >>> import sowcal
    >>> chart = sowcal.sowing_chart("sallowdene", ["courgette"], issued=dt.date(2026, 1, 15))
    >>> print(week_text(sowcal.sowing_week(chart, dt.date(2026, 5, 4)))[:38])
    THE WEEK of 4 May to 10 May at Sallowd
    """
    return screen_text(week_document(week), width=width, unicode=unicode)
