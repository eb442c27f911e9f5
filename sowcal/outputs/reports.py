"""Reports on a screen: the week's jobs, a record's quality, offset, trend, what is kept, sheets of the handbook."""

from __future__ import annotations

import re
import textwrap
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from sowcal.climate.place_figures import Definition
from sowcal.climate.summary import BothWays
from sowcal.crops.sheet import Deciding, Line
from sowcal.crops.tables import Crop, Source
from sowcal.languages import counted, phrase, say, say_crop
from sowcal.outputs.document import Document, Items, Names, Paragraph, Part, Section, screen_text
from sowcal.outputs.terminal import plain, table, wrap
from sowcal.outputs.wording import JOB_WORDS, foot_text, odds_text, record_text, three_words
from sowcal.suitability.week import JOBS, Week, WeekJob
from sowcal.units import amount, told, unit_word
from sowcal.weather.cache import Kept
from sowcal.weather.offset import OffsetReport
from sowcal.weather.quality import KINDS, Problem, QualityReport
from sowcal.weather.years import Trend
from sowcal.year import day_text, iso_text, span_text, whole_year

__all__ = [
    "basis_text",
    "chill_text",
    "job_line",
    "job_sentence",
    "kept_text",
    "list_text",
    "offset_text",
    "quality_text",
    "record_lines",
    "sheet_text",
    "trend_text",
    "week_document",
    "week_text",
    "week_title",
]


_MOST = 6  # sentences in a group; the rest of the group is named in one line
_DO = {
    "raise under cover": phrase("sow {crop} under cover"),
    "sow outdoors": phrase("sow {crop} outdoors"),
    "set out": phrase("set out {crop}"),
    "plant": phrase("plant {crop}"),
    "pick": phrase("pick {crop}"),
}


def _why(job: WeekJob) -> str:
    """What waits beyond the edge of a first or last chance, in plain words; empty where nothing is known."""
    when = say("earlier") if job.chance == "first" else say("later")
    hazard = three_words(job.hazard) if job.hazard else ""
    what = say(" to set out") if job.job == "raise under cover" else ""
    if job.beyond == "hazard":
        return f"{when}{what}: {hazard}"
    if job.beyond == "crop":
        then = say(", then {hazard}", hazard=hazard) if hazard else ""
        return say("{when}{what}: poorer or slower{then}", when=when, what=what, then=then)
    if job.beyond == "odds":
        return say("{when}{what}: works in too few years", when=when, what=what)
    if job.beyond == "custom":
        begins = job.chance == "first"
        return say("the usual planting months begin") if begins else say("the usual planting months end")
    return ""


def job_told(job: WeekJob) -> str:
    """What is done: 'sow leek under cover'."""
    return say(_DO[job.job], crop=say_crop(job.crop))


def job_sentence(job: WeekJob) -> str:
    """A chance as a sentence: 'Last advised week to sow broad bean outdoors, till 24 May; later: ...'; 'Set out leek,
    best about 20 Mar, till 4 May'."""
    do = job_told(job)
    if job.chance in ("best", "open"):
        best = say(", best about {day}", day=day_text(job.best)) if job.best is not None else ""
        till = "" if whole_year(job.start, job.end) else say(", till {day}", day=day_text(job.end))
        return f"{do[0].upper()}{do[1:]}{best}{till}."
    if job.chance == "first":
        says = say("First advised week to {do}, from {day}", do=do, day=day_text(job.start))
        says += say(", best about {day}", day=day_text(job.best)) if job.best is not None else ""
    else:
        only = job.chance == "only"
        says = say("Only advised week to {do}, " if only else "Last advised week to {do}, ", do=do)
        says += span_text(job.start, job.end) if job.chance == "only" else say("till {day}", day=day_text(job.end))
    parts = [says]
    if why := _why(job):
        parts.append(why)
    if job.chance != "first" and job.again is not None:
        parts.append(say("again from {day}", day=day_text(job.again)))
    return "; ".join(parts) + "."


_NOW = {"best": phrase("; best now"), "first": phrase(" for the first time"), "only": phrase(", this week only")}


def job_line(job: WeekJob) -> str:
    """Any job of the week in one sentence: first and last chances with their reason, others with the day they end."""
    if job.chance in ("only", "last", "first") and job.job != "pick":
        return job_sentence(job)
    do = job_told(job)
    ends = "" if whole_year(job.start, job.end) else say(", till {day}", day=day_text(job.end))
    now = say(_NOW.get(job.chance, ""))
    return f"{do[0].upper()}{do[1:]}{now if job.job == 'pick' else ''}{ends}{'' if job.job == 'pick' else now}."


def _group(title: str, jobs: Sequence[WeekJob], key: str, most: int) -> Section:
    """Chances of one sort: so many in sentences, the rest named in one line."""
    parts: list[Part] = [Items(tuple(map(job_sentence, jobs[:most])), bullets=False)] if jobs else []
    if rest := jobs[most:]:
        named = [f"{job_told(j)} ({day_text(j.start if j.chance == 'first' else j.end)})" for j in rest]
        parts.append(Names(((say("and"), tuple(named)),)))
    return Section(title, tuple(parts), key, level=4)


def _lines(named: Iterable[tuple[str, Iterable[str]]]) -> tuple[Part, ...]:
    """A line a job, each name once; no job, no line."""
    rows = tuple((label, tuple(dict.fromkeys(names))) for label, names in named)
    return (Names(rows),) if any(names for _, names in rows) else ()


def _open(week: Week) -> Section:
    """What works and is not at its best, by what closes soonest, a line a job."""
    rows = [
        (JOB_WORDS[job], [say_crop(j.crop) for j in week.jobs if j.job == job and j.chance == "open"])
        for job in JOBS[:-1]
    ]
    return Section("Possible, not the best time; what closes soonest first", _lines(rows), "also", level=4)


def _picked(week: Week) -> Section:
    picked = [j for j in week.jobs if j.job == "pick"]
    rows = (
        (say("for the first time"), [say_crop(j.crop) for j in picked if j.chance in ("first", "only")]),
        (say("for the last time"), [say_crop(j.crop) for j in picked if j.chance == "last"]),
        (say("as before"), [say_crop(j.crop) for j in picked if j.chance in ("best", "open")]),
    )
    return Section("Picked", _lines(rows), "picked", level=4)


def _coming(week: Week) -> Section:
    rows = [
        (JOB_WORDS[job], [f"{say_crop(j.crop)} ({day_text(j.start)})" for j in week.coming if j.job == job])
        for job in JOBS
    ]
    title = say("Opening next") if not week.ahead else say("Opening in the {ahead} weeks after", ahead=week.ahead)
    return Section(say("Opening in the week after") if week.ahead == 1 else title, _lines(rows), "coming", level=4)


def week_title(week: Week) -> str:
    """'The week of 4 May to 10 May'."""
    return say("The week of {span}", span=span_text(week.start, week.end))


def _left_out(week: Week) -> tuple[Paragraph, ...]:
    said = phrase("{jobs} more: possible, but not the best time, or less pressing (--all names them).")
    return (Paragraph(say(said, jobs=counted(week.left_out, "job"))),) if week.left_out else ()


def week_document(week: Week) -> Document:
    """The work of one week: last chances, what is at its best and first chances in sentences, what is picked, what
    opens next."""
    most = _MOST if len(week.jobs) > 2 * _MOST else 2 * _MOST
    starts = [j for j in week.jobs if j.job != "pick"]
    known = week.coming or week.left_out or week.by_log
    never = "" if known else say(" No day of the year is advised; `sowcal rate` says why.")
    nothing = Paragraph(
        say("Nothing is at its best to sow, set out or plant this week, and nothing is picked.{never}", never=never)
    )
    not_judged = (say("Not judged: {names}.", names=", ".join(map(say, week.not_judged))),) if week.not_judged else ()
    return Document(
        say(
            "THE WEEK of {span} at {site}; {record}; advised: works {odds} or better",
            span=span_text(week.start, week.end),
            site=week.site,
            record=record_text(week.record, brief=True),
            odds=odds_text(week.reliability_asked),
        ),
        (
            _group("Last chances", [j for j in starts if j.chance in ("only", "last")], "last", most),
            _group("Best now", [j for j in starts if j.chance == "best"], "best", most),
            _group("First chances", [j for j in starts if j.chance == "first"], "first", most),
            _picked(week),
            _open(week),
            *(() if week.jobs else (nothing,)),
            *_left_out(week),
            _coming(week),
        ),
        foot=(*not_judged, foot_text(week.record, week.made_by)),
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


_SHOWN = 12  # problems of one kind that are listed one by one; --json has all
_MEANING = {
    "gap": "days without a reading",
    "repeat": "days that stand elsewhere in the record too",
    "crossed": "minimum above maximum",
    "out of range": "values that cannot be, or not here",
    "stuck": "the same value day after day",
    "spike": "single days far from their neighbours",
    "shift": "a step in the mean: a moved station or new thermometer, or a run of warm or cold years",
    "rounding": "readings to whole degrees",
    "unit": "a suspected unit",
    "swapped": "columns that look swapped",
    "future": "days after the day of issue",
}
_PLAIN = {
    "tasmin": "minimum",
    "tasmax": "maximum",
    "tas": "mean temperature",
    "pr": "rain",
    "hurs": "humidity",
    "sfcWind": "wind",
    "rsds": "solar radiation",
    "sunshine": "hours of sunshine",
}
_NAME = re.compile(rf"\b({'|'.join(_PLAIN)})\b")
_NIGHTS = {"tasmin": "nights", "tasmax": "days"}


def _fit(lines: Iterable[str], unicode: bool) -> str:
    return "\n".join(plain(line, unicode=unicode).rstrip() for line in lines)


def _years(report: QualityReport) -> list[str]:
    """Years that are not whole, worst first."""
    poor = sorted((share, year) for year, share in report.coverage_by_year().items() if share < 0.9995)
    return [f"{year} {min(share, 0.999):.1%}" for share, year in poor]


def quality_text(report: QualityReport, *, width: int = 100, unicode: bool = True) -> str:
    """The report of a record.

    Parameters
    ----------
    report : QualityReport
    width : int
        Columns of the screen.
    unicode : bool
        Whether letters beyond ASCII may be sent.
    """
    days = f"{iso_text(report.first)} to {iso_text(report.last)}"
    out = wrap(f"THE RECORD OF {report.title}: {days}, {counted(report.years, 'year')}", width)
    filled = f", {counted(report.filled_days, 'day')} filled" if report.filled_days else ""
    out += [f"Days with minimum and maximum: {report.coverage_percent:g} per cent{filled}"]
    poor = _years(report)
    if poor:
        left = len(poor) - 8
        more = f" and {left} more {'year' if left == 1 else 'years'}" if left > 0 else ""
        out += wrap(f"Least covered years: {', '.join(poor[:8])}{more}", width)
    if not report.problems:
        return _fit([*out, "", "Nothing looks wrong."], unicode)
    for kind in KINDS:
        these = [p for p in report.problems if p.kind == kind]
        if these:
            out += ["", *_kind(kind, these, width)]
    return _fit(out, unicode)


def _together(these: Sequence[Problem]) -> list[tuple[Problem, str]]:
    """Problems of the same days of which the same is said, as one: 'tasmin, tasmax: left missing'."""
    found: dict[tuple[str, str, int, str], list[Problem]] = {}
    for p in these:
        variable, _, rest = p.done.partition(": ")
        same = rest if variable == p.variable else p.done
        found.setdefault((p.first, p.last, p.count, same), []).append(p)
    out = []
    for (_, _, _, same), group in found.items():
        names = ", ".join(p.variable for p in group if p.done != same)
        out.append((group[0], f"{names}: {same}" if names else same))
    return out


def _kind(kind: str, these: Sequence[Problem], width: int) -> list[str]:
    shown = sorted(_together(these), key=lambda p: -p[0].count)
    times = "once" if len(shown) == 1 else f"{len(shown)} times"
    out = wrap(f"{kind.upper()} ({_MEANING[kind]}): {times}", width)
    for p, done in shown[:_SHOWN]:
        span = iso_text(p.first) if p.first == p.last else f"{iso_text(p.first)} to {iso_text(p.last)}"
        words = _NAME.sub(lambda m: _PLAIN[m[0]], done)
        out += wrap(f"{span}, {counted(p.count, 'day')}: {words}", width, first="  ", later="    ")
    if (left := len(shown) - _SHOWN) > 0:
        out.append(f"  and {left} more, none of them longer (--json has all)")
    return out


def kept_text(records: Sequence[Kept], folder: str, *, width: int = 100, unicode: bool = True) -> str:
    """The records that are kept."""
    if not records:
        return _fit(wrap(f"No records are kept (in {folder}).", width), unicode)
    rows = [["station", "", "name", "from", "to", "fetched", "kB"]]
    for r in records:
        if r.sound:
            rows.append(
                [r.station, r.what, r.name, *map(iso_text, (r.first, r.last, r.fetched)), f"{r.size / 1000:.0f}"]
            )
        else:
            rows.append([r.station, r.what, "damaged: fetched anew when needed", "", "", "", f"{r.size / 1000:.0f}"])
    return _fit([*wrap(f"Kept in {folder}:", width), *table(rows, width, right=(6,))], unicode)


def offset_text(report: OffsetReport, site: str, *, width: int = 100, unicode: bool = True) -> str:
    """Plot against station."""
    days = f"{counted(report.days, 'day')}, {iso_text(report.first)} to {iso_text(report.last)}"
    out = wrap(f"THE PLOT MINUS THE STATION OF {site}: {days}", width)
    rows = [["", "season", "days", "difference", "95 per cent", "single days"]]
    for o in report.offsets:
        low, high = (amount(end, "K", "+.1f") for end in o.interval)
        apart = (told(o.mean, "K", "+.1f"), f"{low} to {high}", f"+/- {amount(o.spread, 'K', '.1f')}")
        rows.append([_NIGHTS[o.variable], o.season, str(o.days), *apart])
    out += ["", *table(rows, width, right=(2, 3))]
    for note in report.notes:
        out += ["", *wrap(note[:1].upper() + note[1:] + ".", width)]
    use = (
        "To have every answer for the plot, name the file of your readings in the site file, under [plot]: own_readings"
    )
    return _fit([*out, "", *wrap(f'{use} = "my-readings.csv".', width)], unicode)


def trend_text(found: Sequence[Trend], site: str, *, width: int = 100, unicode: bool = True) -> str:
    """Slopes by season."""
    if not found:
        return _fit(
            wrap(f"The record of {site} is too short for a trend (ten years of a season at least).", width), unicode
        )
    out = wrap(f"TRENDS OF {site} (Theil-Sen slope of seasonal means)", width)
    rows = [["", "season", "years", f"{unit_word('K')} in 10 years", "95 per cent", ""]]
    for t in found:
        rows.append(
            [
                _NIGHTS.get(t.variable, t.variable),
                t.season,
                f"{t.first}-{t.last}",
                amount(t.per_decade, "K", "+.2f"),
                f"{amount(t.low, 'K', '+.2f')} to {amount(t.high, 'K', '+.2f')}",
                "" if t.clear else "not clear of zero",
            ]
        )
    return _fit([*out, "", *table(rows, width, right=(3,))], unicode)


def chill_text(
    found: Sequence[BothWays],
    site: str,
    meant: Mapping[str, Definition],
    *,
    width: int = 100,
    unicode: bool = True,
) -> str:
    """Chill from measured and from rebuilt hours: the middle season, and by how much the two part."""
    out = wrap(f"WINTER CHILL AT {site}, from hourly values and from hours rebuilt out of daily extremes", width)
    rows = [["", "seasons", "hourly, mean", "rebuilt, mean", "rebuilt minus hourly", "in single seasons"]]
    for one in found:
        k = one.both
        if not k.any():
            rows.append([one.model, "0", "not known", "not known", "", ""])
            continue
        apart = (one.rebuilt - one.measured)[k]
        rows.append(
            [
                one.model,
                str(int(k.sum())),
                f"{one.measured[k].mean():.0f}",
                f"{one.rebuilt[k].mean():.0f}",
                f"{apart.mean():+.1f}",
                f"{apart.min():+.1f} to {apart.max():+.1f}",
            ]
        )
    said = "; ".join(f"{one.model}: {meant[one.model].short}" for one in found)
    return _fit([*out, "", *table(rows, width, right=(1, 2, 3)), *wrap(f"Counted: {said}.", width)], unicode)


def record_lines(attributes: dict, first: str, last: str, *, width: int = 100, unicode: bool = True) -> str:
    """Where a fetched record comes from, with the credit that is due."""
    out = wrap(f"{attributes.get('source', 'record')}: {iso_text(first)} to {iso_text(last)}", width)
    if "station_distance_km" in attributes:
        height = float(attributes.get("station_elevation", float("nan")))
        at = f", at {told(height, 'm', '.0f')}" if height == height else ""
        out += wrap(f"Station {told(attributes['station_distance_km'], 'km')} away{at}", width)
    for key in ("history", "licence", "attribution"):
        if attributes.get(key):
            out += wrap(f"{key.capitalize()}: {attributes[key]}", width)
    return _fit(out, unicode)


def list_text(crops: Iterable[Crop], width: int = 100) -> str:
    """Crops with botanical name, family and other names."""
    out = []
    for crop in crops:
        line = f"{crop.name:28} {crop.botanical_name:34} {crop.family:16} {', '.join(crop.synonyms)}".rstrip()
        out.append(line if len(line) <= width else line[: width - 4].rstrip(" ,") + " ...")
    return "\n".join(map(plain, out))


def _value(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:g}"


def _wrapped(text: str, width: int, further: str = "  ") -> list[str]:
    return textwrap.wrap(text, width, initial_indent="  ", subsequent_indent=further)


def _value_lines(line: Line, number: str, width: int) -> list[str]:
    """One value with basis and number of its source, and the values that were not taken."""
    text, name = _value(line.value), line.field.replace("_", " ")
    if isinstance(line.value, str) and len(text) > 40:
        out = _wrapped(f"{name}: {text} ({line.basis})", width, "    ")
    else:
        unit = "" if line.unit == "1" else f" {line.unit}"
        out = [f"  {name:30} {text + unit:22} {line.basis}{number}".rstrip()]
    for other in line.alternatives:
        told = f"{name}, not taken: {other.value} ({other.basis}): {other.why}"
        out += textwrap.wrap(told, width, initial_indent="      ", subsequent_indent="        ")
    return out


def _source_lines(place: int, source: Source, width: int) -> list[str]:
    """A source whole: citation, how strong it is, where it was read, what to know about it."""
    parts = [source.citation + (f" ({source.strength})" if source.strength else "")]
    parts += [f"{word}: {value}" for word, value in (("doi", source.doi), ("at", source.address)) if value]
    if source.read_in and source.read_in != source.address:
        parts.append(f"read in: {source.read_in}")
    parts += [part for part in (source.remark,) if part]
    return _wrapped(f"[{place}] {'; '.join(parts)}", width, "      ")


def sheet_text(crop: Crop, lines: Iterable[Line], unknown: Iterable[str], width: int = 100) -> str:
    """Every value with unit, basis and source, and the values not taken; last what is not known."""
    out = [f"{crop.name}: {crop.botanical_name}, {crop.family}"]
    if crop.synonyms:
        out += textwrap.wrap(f"also: {', '.join(crop.synonyms)}", width, subsequent_indent="  ")
    heading = None
    numbers: dict[str, tuple[int, Source]] = {}
    for line in lines:
        if line.table in ("crops", "cautions", "notes", "names"):
            continue
        if (line.table, line.part) != heading:
            heading = (line.table, line.part)
            out += ["", line.table.upper() + (f", {line.part}" if line.part else "")]
        number = ""
        if line.source and line.basis in ("published", "derived"):
            number = f" [{numbers.setdefault(line.source.key, (len(numbers) + 1, line.source))[0]}]"
        out += _value_lines(line, number, width)
    if crop.cautions:
        out += ["", "CAUTIONS"]
        for caution in crop.cautions:
            out += _wrapped(caution, width)
    if crop.note:
        out += ["", "NOTE", *_wrapped(crop.note, width)]
    unknown = list(unknown)
    if unknown:
        out += ["", "NOT KNOWN, so not judged", *_wrapped(", ".join(u.replace("_", " ") for u in unknown), width)]
    if numbers:
        out += ["", "SOURCES"]
        for place, source in numbers.values():
            out += _source_lines(place, source, width)
    return "\n".join(map(plain, out))


def basis_text(counts: Mapping[str, Counter], facts: tuple[int, int], deciding: Iterable[Deciding]) -> str:
    """Values of each table by basis and their shares, then how far what decides verdicts is published."""
    names = ("published", "derived", "practice", "memory", "grower's own", "unknown")
    total: Counter = Counter()
    out = [f"{'table':14}" + "".join(f"{n:>13}" for n in names) + f"{'published %':>13}"]
    for name, count in [*counts.items(), ("all", total)]:
        known = sum(count[n] for n in names[:-1])
        share = f"{100 * count['published'] / known:.0f}" if known else "-"
        out.append(f"{name:14}" + "".join(f"{count[n]:>13}" for n in names) + f"{share:>13}")
        total.update(count)
    out += [
        "",
        f"{facts[0]} published facts, each counted once however many types share it; {facts[1]} of them from primary",
        "papers and extension services.",
        "",
        f"{'what decides verdicts':32}{'types':>8}{'published':>11}{'facts':>8}{'citations':>11}",
    ]
    out += [f"{d.quantity:32}{d.types:>8}{d.published:>11}{d.distinct:>8}{d.citations:>11}" for d in deciding]
    return "\n".join(out)
