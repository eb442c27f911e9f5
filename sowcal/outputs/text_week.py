"""The week on a screen, to be read over breakfast: last and first chances with the reason, the rest in a line a job."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterable, Mapping

from sowcal.counted import counted
from sowcal.crops.handbook import Line
from sowcal.crops.records import Crop
from sowcal.outputs.screen import pad, plain, screen_width, wrap
from sowcal.outputs.wording import NO_PROMISE, odds_text, record_text, three_words
from sowcal.suitability.week import JOBS, Week, WeekJob
from sowcal.year import day_text, span_text

__all__ = [
    "basis_text",
    "job_sentence",
    "list_text",
    "sheet_text",
    "week_text",
]

_MOST = 6  # sentences in a group; the rest of the group is named in one line
_DO = {
    "raise under cover": "sow {} under cover",
    "sow outdoors": "sow {} outdoors",
    "set out": "set out {}",
    "plant": "plant {}",
    "pick": "pick {}",
}
_LABEL = 19  # columns of a job's name and the gap after it


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


def _names(names: list[str], room: int) -> str:
    """As many names as fit, and how many more there are."""
    whole = ", ".join(names)
    if screen_width(whole) <= room:
        return whole
    for count in range(len(names) - 1, 0, -1):
        text = f"{', '.join(names[:count])} and {len(names) - count} more"
        if screen_width(text) <= room:
            return text
    return counted(len(names), "crop")


def _group(title: str, jobs: list[WeekJob], width: int, unicode: bool) -> list[str]:
    if not jobs:
        return []
    out = ["", title]
    for job in jobs[:_MOST]:
        out += wrap(plain(job_sentence(job), unicode=unicode), width, first="  ", later="    ")
    if rest := jobs[_MOST:]:
        named = [f"{_DO[j.job].format(j.crop)} ({day_text(j.start if j.chance == 'first' else j.end)})" for j in rest]
        out.append("  and " + _names([plain(n, unicode=unicode) for n in named], width - 6))
    return out


def _line(label: str, names: list[str], width: int, unicode: bool) -> list[str]:
    if not names:
        return []
    clean = [plain(n, unicode=unicode) for n in dict.fromkeys(names)]
    beside = width - _LABEL - 2
    # a narrow screen takes a second line, less what wrapping may waste
    room = beside if width >= 80 else 2 * beside - 22
    return wrap(_names(clean, room), width, first="  " + pad(label, _LABEL), later=" " * (_LABEL + 2))


def _open_lines(week: Week, width: int, unicode: bool) -> list[str]:
    """What else is open: what is at its best, then the rest by what closes soonest, a line a job."""
    out: list[str] = []
    for job in JOBS[:-1]:
        mine = [j for j in week.jobs if j.job == job]
        best = [j.crop for j in mine if j.chance == "best"]
        out += _line(
            f"{job}", [f"{c} (best now)" for c in best] + [j.crop for j in mine if j.chance == "open"], width, unicode
        )
    picked = [j for j in week.jobs if j.job == "pick"]
    out += _line("pick, first time", [j.crop for j in picked if j.chance in ("first", "only")], width, unicode)
    out += _line("pick, last time", [j.crop for j in picked if j.chance == "last"], width, unicode)
    out += _line("pick", [j.crop for j in picked if j.chance in ("best", "open")], width, unicode)
    return ["", "ALSO THIS WEEK (what closes soonest stands first)", *out] if out else []


def _coming_lines(week: Week, width: int, unicode: bool) -> list[str]:
    out: list[str] = []
    for job in JOBS:
        names = [f"{j.crop} ({day_text(j.start)})" for j in week.coming if j.job == job]
        out += _line(job, names, width, unicode)
    if not out:
        return []
    title = "OPENING NEXT" if not week.ahead else f"OPENING IN THE {week.ahead} WEEKS AFTER"
    return ["", "OPENING IN THE WEEK AFTER" if week.ahead == 1 else title, *out]


def week_text(week: Week, *, width: int = 100, unicode: bool = True) -> str:
    """The week as lines of text, none wider than the screen.

    Parameters
    ----------
    week : Week
    width : int
        Columns of the screen, 60 or more (fewer are taken as 60).
    unicode : bool
        Plain letters only where False.

    Returns
    -------
    str

    Examples
    --------
    >>> import datetime as dt
    >>> import sowcal
    >>> chart = sowcal.sowing_chart("sallowdene", ["courgette"], issued=dt.date(2026, 1, 15))
    >>> print(week_text(sowcal.sowing_week(chart, dt.date(2026, 5, 4)))[:38])
    THE WEEK of 4 May to 10 May at Sallowd
    """
    width = max(width, 60)

    def say(text: str) -> list[str]:
        return wrap(plain(text, unicode=unicode), width, later="  ")

    out = say(
        f"THE WEEK of {span_text(week.start, week.end)} at {week.site}; {record_text(week.record)}; "
        f"safe: works {odds_text(week.reliability_asked)} or better"
    )
    starts = [j for j in week.jobs if j.job != "pick"]
    out += _group("LAST CHANCES", [j for j in starts if j.chance in ("only", "last")], width, unicode)
    out += _group("FIRST CHANCES", [j for j in starts if j.chance == "first"], width, unicode)
    out += _open_lines(week, width, unicode)
    if not week.jobs:
        never = "" if week.coming else " No day of the year is advised; `sowcal rate` says why."
        out += ["", *say(f"Nothing to raise, sow, set out, plant or pick this week.{never}")]
    out += _coming_lines(week, width, unicode)
    if week.not_judged:
        out += ["", *say(f"Not judged: {', '.join(week.not_judged)}.")]
    return "\n".join(line.rstrip() for line in [*out, *say(f"{NO_PROMISE} {week.made_by.short()}")])


def list_text(crops: Iterable[Crop], width: int = 100) -> str:
    """Crops with botanical name, family and other names."""
    out = []
    for crop in crops:
        line = f"{crop.name:28} {crop.botanical_name:34} {crop.family:16} {', '.join(crop.synonyms)}".rstrip()
        out.append(line if len(line) <= width else line[: width - 4].rstrip(" ,") + " ...")
    return "\n".join(map(plain, out))


def _value(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:g}"


def sheet_text(crop: Crop, lines: Iterable[Line], unknown: Iterable[str], width: int = 100) -> str:
    """Every value with unit, basis and source; last what is not known."""
    out = [f"{crop.name}: {crop.botanical_name}, {crop.family}"]
    if crop.synonyms:
        out.append(f"also: {', '.join(crop.synonyms)}")
    heading = None
    cited: dict[str, int] = {}
    for line in lines:
        if line.table in ("crops", "cautions", "notes"):
            continue
        if (line.table, line.part) != heading:
            heading = (line.table, line.part)
            out += ["", line.table.upper() + (f", {line.part}" if line.part else "")]
        number = f" [{cited.setdefault(line.citation, len(cited) + 1)}]" if line.basis == "published" else ""
        text = _value(line.value)
        if isinstance(line.value, str) and len(text) > 40:
            out += textwrap.wrap(
                f"{line.field.replace('_', ' ')}: {text} ({line.basis})",
                width,
                initial_indent="  ",
                subsequent_indent="    ",
            )
        else:
            unit = "" if line.unit == "1" else f" {line.unit}"
            out.append(f"  {line.field.replace('_', ' '):30} {text + unit:22} {line.basis}{number}")
    if crop.cautions:
        out += ["", "CAUTIONS"]
        for caution in crop.cautions:
            out += textwrap.wrap(caution, width, initial_indent="  ", subsequent_indent="  ")
    if crop.note:
        out += ["", "NOTE", *textwrap.wrap(crop.note, width, initial_indent="  ", subsequent_indent="  ")]
    unknown = list(unknown)
    if unknown:
        out += ["", "NOT KNOWN, so not judged"]
        words = ", ".join(u.replace("_", " ") for u in unknown)
        out += textwrap.wrap(words, width, initial_indent="  ", subsequent_indent="  ")
    if cited:
        out += ["", "SOURCES"]
        for citation, place in cited.items():
            out += textwrap.wrap(f"[{place}] {citation}", width, initial_indent="  ", subsequent_indent="      ")
    return "\n".join(map(plain, out))


def basis_text(counts: Mapping[str, Counter]) -> str:
    """Values of each table by basis, and their shares."""
    names = ("published", "practice", "memory", "grower's own", "unknown")
    total: Counter = Counter()
    out = [f"{'table':14}" + "".join(f"{n:>14}" for n in names) + f"{'published %':>14}"]
    for table, count in [*counts.items(), ("all", total)]:
        known = sum(count[n] for n in names[:-1])
        share = f"{100 * count['published'] / known:.0f}" if known else "-"
        out.append(f"{table:14}" + "".join(f"{count[n]:>14}" for n in names) + f"{share:>14}")
        total.update(count)
    return "\n".join(out)
