"""The page: today, the year of my crops, perennials, the place, a garden and what it rests on, in one file that asks
nothing of a network.

What is not needed before it is looked at stands in `noscript` elements: a reader without a script sees all of it, and
the script makes a row when it comes into view and a fold when it is opened, so that a phone has little to lay out.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sowcal import units
from sowcal.climate.frost import DaysAhead
from sowcal.languages import counted, say, say_count, say_crop, spoken
from sowcal.outputs.chart_document import chart_document
from sowcal.outputs.climate_document import climate_document
from sowcal.outputs.crop_rows import CropRows, sliders
from sowcal.outputs.document import (
    Caution,
    Document,
    Html,
    Items,
    Paragraph,
    Part,
    Picture,
    Section,
    Table,
    join,
    page_parts,
    page_section,
    tag,
)
from sowcal.outputs.figure_style import Cells, weeks
from sowcal.outputs.page_script import EVENT_OF_JOB, SCRIPTS, StepsTold, asset, digest, in_words, page_data
from sowcal.outputs.page_svg import months_symbol, years_axis
from sowcal.outputs.place_document import compare_document
from sowcal.outputs.reports import job_line, job_told, week_document, week_title
from sowcal.outputs.verdict_document import perennial_table, rate_document, tried_fold
from sowcal.outputs.wording import NO_PROMISE, odds_text, record_text
from sowcal.suitability.results import CropVerdict, SowingChart
from sowcal.suitability.week import Week, WeekJob
from sowcal.year import day_text, long_date_text

if TYPE_CHECKING:
    from sowcal.climate.place_figures import ClimateSummary
    from sowcal.garden.plan import GardenPlan
    from sowcal.outputs.page_bench import Bench
    from sowcal.suitability.compare import CompareResult

__all__ = ["Place", "page_text", "side_by_side", "todays_parts"]

_CARRIED = ("S1", "S2")
_CODES = {"en": "en-GB", "pt": "pt-PT"}  # of the page's language, where it says more than the language alone
_MOST_JOBS = 10  # of today; more is no list to work by: judgement


@dataclass(frozen=True)
class Place:
    """All that the page says of one site."""

    chart: SowingChart
    verdicts: tuple[CropVerdict, ...]  # best first
    climate: ClimateSummary
    changes: tuple[tuple[str, tuple[CropVerdict, ...]], ...] = ()  # changes tried, each with its verdicts
    week: Week | None = None  # of the date of issue, or of a date that was named
    ahead: DaysAhead | None = None  # frost and heat in the days from that date on
    steps: StepsTold | None = None  # what the sliders show
    water: tuple[tuple[float, StepsTold], ...] = ()  # the same for no more stored water than so many litres per m2


def _head(title: str, served: bool) -> Html:
    # Nothing may be asked for, and no style or script but the page's own may run; where it is served its head says so.
    style, scripts = asset("page.css"), " ".join(f"'{digest(in_words(asset(name)))}'" for name in SCRIPTS)
    policy = (
        f"default-src 'none'; style-src '{digest(style)}'; script-src {scripts}; base-uri 'none'; form-action 'none'"
    )
    return tag(
        "head",
        tag("meta", charset="utf-8"),
        None if served else tag("meta", http_equiv="Content-Security-Policy", content=policy),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", name="color-scheme", content="light dark"),
        tag("meta", name="referrer", content="no-referrer"),
        tag("title", title),
        tag("link", rel="stylesheet", href="/page.css") if served else tag("style", Html(style)),
    )


def _latitude(degrees: float) -> str:
    north = say("{degrees:.2f}° north", degrees=degrees)
    return north if degrees >= 0 else say("{degrees:.2f}° south", degrees=-degrees)


def _where(place: Place) -> str:
    c = place.climate
    out = [] if c.latitude is None else [_latitude(c.latitude)]
    out += (
        [] if c.elevation is None else [say("{elevation} above the sea", elevation=units.told(c.elevation, "m", ".0f"))]
    )
    return ", ".join([*out, say("weather of {record}", record=record_text(place.chart.record))])


def _lead(place: Place) -> str:
    carried = sum(v.suitability in _CARRIED for v in place.verdicts)
    short = sum(v.suitability == "S3" for v in place.verdicts)  # chancy, or lives and crops poorly
    away = sum(v.suitability == "N" for v in place.verdicts)
    silent = sum(v.suitability is None for v in place.verdicts)
    asked = odds_text(place.chart.reliability_asked)
    said = say(
        "Carries {carried} of {crops} at {asked}; ",
        carried=carried,
        crops=counted(len(place.verdicts), "crop"),
        asked=asked,
    )
    said += say_count(short, "{count} falls short of that", "{count} fall short of that") + say(" and ")
    said += say_count(away, "{count} does not fit", "{count} do not fit")
    said += say("; of {silent} nothing can be said.", silent=silent) if silent else "."
    return said


def _jobs_of(week: Week, mine: Sequence[str]) -> list[WeekJob]:
    return [job for job in week.jobs if not mine or job.crop in mine]


def _today_said(place: Place, mine: Sequence[str]) -> tuple[str, ...]:
    """Three sentences: how much is to be done, frost and heat to come, and what opens next."""
    week, ahead = place.week, place.ahead
    if week is None:
        return ()
    jobs = _jobs_of(week, mine)
    last = sum(job.chance in ("only", "last") and job.job != "pick" for job in jobs)
    whose = say("for your crops") if mine else say("for all crops of this page")
    if last:
        told = say_count(
            len(jobs),
            "{count} job is open {whose}, {last} of them for the last time this season.",
            "{count} jobs are open {whose}, {last} of them for the last time this season.",
            whose=whose,
            last=last,
        )
    else:  # a sentence of its own: the word for none follows the noun in other languages
        told = say_count(
            len(jobs),
            "{count} job is open {whose}, not for the last time this season.",
            "{count} jobs are open {whose}, none of them for the last time this season.",
            whose=whose,
        )
    out = [told] if jobs else [say("Nothing is to be done {whose} this week.", whose=whose)]
    if ahead is not None and ahead.years:
        days = say("In the {length} days from {day}", length=ahead.length, day=day_text(week.start))
        out.append(
            say(
                "{days} there was frost in {frost} of {years}, and a day above {limit} in {hot}.",
                days=days,
                frost=ahead.frost,
                years=counted(ahead.years, "year"),
                limit=units.told(ahead.limit, "°C"),
                hot=ahead.hot or say("no year"),
            )
        )
    coming = [job for job in week.coming if not mine or job.crop in mine]
    named = ", ".join(f"{job_told(job)} ({day_text(job.start)})" for job in coming[:3])
    out.append(say("Next to open: {named}.", named=named) if named else say("Nothing more opens in the week after."))
    return tuple(out)


def _job_item(job: WeekJob) -> Html:
    box = tag("input", type="checkbox", data_crop=job.crop, data_event=EVENT_OF_JOB[job.job])
    return tag("li", tag("label", box, tag("span", job_line(job))))


def _today(place: Place, key: str, mine: Sequence[str]) -> Html | None:
    """The week of the date: three sentences, ten jobs that can be ticked, all of its work behind a fold."""
    week = place.week
    if week is None:
        return None
    title = say("Today: {week}", week=f"{week_title(week)[0].lower()}{week_title(week)[1:]}")
    jobs = _jobs_of(week, mine)
    listed = tag("ul", *map(_job_item, jobs[:_MOST_JOBS]), class_="jobs", data_place=key)
    kept = say("Ticks are kept in this browser. `sowcal log --add FILE` takes the lines that are made of them.")
    words = [tag("code", part) if n % 2 else part for n, part in enumerate(kept.split("`"))]
    tools = tag(
        "div",
        tag("button", "Lines for the log", type="button", data_do="log"),
        tag("p", *words),
        tag("textarea", readonly=True, rows="4", aria_label="Lines for the log", hidden=True),
        class_="ticked",
        hidden=True,
        data_place=key,
    )
    said, work = todays_parts(place, key, mine).values()
    return join(tag("h3", title, id=f"{key}-week"), said, listed, tools, work)


def todays_parts(place: Place, key: str, mine: Sequence[str]) -> dict[str, Html]:
    """What today says, and all of the week's work behind a fold, by their ids: what a line of the log changes."""
    said, work = f"{key}-said", f"{key}-work"
    told = () if place.week is None else week_document(place.week).parts
    return {
        said: tag("div", *[tag("p", s, class_="said") for s in _today_said(place, mine)], id=said),
        work: _later(say("All of this week's work, with reasons"), page_parts(told, f"{key}-week"), work) or Html(""),
    }


def _later(title: str, inner: Html, name: str | None = None) -> Html | None:
    """A fold whose inside is made when it is opened; None where there is nothing in it."""
    if not inner:
        return None
    return tag("details", tag("summary", title), tag("noscript", inner), class_="fold", id=name)


def _year(place: Place, key: str, cells: Cells, asked: tuple[float, float], served: bool) -> Html:
    """One row a crop, under what narrows and moves them."""
    rows = CropRows(place.chart.reliability_asked, {v.crop: v for v in place.verdicts}, cells, key)
    how = say(
        "Each crop opens to show the five dates to choose from, its odds day by day, its years, and what fails. "
        "Stars make your list."
    )
    return join(
        tag("h3", "The year of my crops", id=f"{key}-chart"),
        page_parts((Paragraph(_lead(place), look="lead"), Paragraph(how))),
        sliders(place.steps, place.water, asked, served) if place.steps else None,
        rows.sought(place.chart.crops),
    )


def _place(
    place: Place, key: str, cells: Cells, asked: tuple[float, float], mine: Sequence[str], what_if: Html | None
) -> Html:
    """All of one place: today, the year, perennials, what it is like."""
    chart = place.chart
    each_year = say("Each year of the record lived through in turn: does it live, does it crop, what checks it.")
    perennials = perennial_table(chart.site, place.verdicts)
    told: tuple[Part, ...] = (
        Paragraph(_where(place), look="where"),
        *climate_document(place.climate, cells.start_month).parts,
    )
    after = (
        *((Section("Perennials", (Paragraph(each_year), perennials), "perennials"),) if perennials else ()),
        Section("The place", told, "place"),
    )
    return tag(
        "section",
        tag("h2", chart.site),
        _today(place, key, mine),
        page_parts(tuple(Caution(f"{say(w)}.", word="Mind") for w in chart.warnings)),
        _year(place, key, cells, asked, what_if is not None),
        what_if,
        tag("div", page_parts(after, key), class_="rest"),
        id=key,
        aria_label=chart.site,
    )


def side_by_side(
    comparison: CompareResult,
    verdicts: tuple[Sequence[CropVerdict], Sequence[CropVerdict]],
    start_month: int,
    tools: Html | None = None,
) -> Html:
    """Which place carries more and both in figures; all that goes crop by crop and month by month behind a fold."""
    told = compare_document(comparison, verdicts, start_month).parts
    first = next(k for k, part in enumerate(told) if isinstance(part, Table)) + 1
    return tag(
        "section",
        tag("h2", "Side by side"),
        page_parts(told[:first]),
        tools,
        _later(say("What only one carries, both crop by crop, and by month"), page_parts(told[first:])),
        id="compare",
        aria_label="Side by side",
    )


def _navigation(places: Sequence[Place], compared: bool, garden: GardenPlan | None, log: bool) -> Html:
    items = []
    if compared:
        items.append(tag("li", tag("a", "Side by side", href="#compare", class_="first")))
    for n, place in enumerate(places, 1):
        links = [("week", say("today"))] * (place.week is not None) + [("chart", say("the year"))]
        links += [("perennials", say("perennials"))] * any("years_lived" in v.evidence for v in place.verdicts)
        more = [
            join(" ", tag("a", words, href=f"#p{n}-{name}")) for name, words in (*links, ("place", say("the place")))
        ]
        items.append(tag("li", tag("a", place.chart.site, href=f"#p{n}", class_="first"), *more))
    if garden is not None:
        items.append(tag("li", tag("a", garden.garden.name, href="#garden", class_="first")))
    if log:
        items.append(tag("li", tag("a", "Log and season", href="#log", class_="first")))
    items.append(tag("li", tag("a", "Everything else", href="#else", class_="first")))
    return tag("nav", tag("ul", *items), aria_label="Contents")


def _of_place(place: Place, key: str, several: bool) -> tuple[Html | None, ...]:
    """What of one place is folded away: every crop in a table, those without dates and why, changes tried."""
    chart, by_crop = place.chart, {v.crop: v for v in place.verdicts}
    where = say(" at {site}", site=chart.site) if several else ""
    best_first = say("Best first. A verdict says how far a crop suits the place, not how it tastes.")
    rated = rate_document(chart.site, chart.record, place.verdicts, lines=chart.crops, key=key).parts
    tried = tuple(tried_fold(words, by_crop, then) for words, then in place.changes)
    told = chart_document(chart, by_crop, key=key).parts
    without = tuple(replace(p, level=3) for p in told if isinstance(p, Section))
    return (
        _later(
            say("All crops{where} in one table", where=where),
            page_parts((Paragraph(best_first), *rated), key),
            f"{key}-all",
        ),
        _later(
            say("Chancy crops{where}, and crops without dates", where=where),
            page_parts(without, key),
            f"{key}-without",
        ),
        _later(say("What if{where}", where=where), page_parts(tried, key), f"{key}-changes"),
    )


def _sources(places: Sequence[Place], sources: Sequence[str]) -> tuple[Html | None, ...]:
    by_words: dict[str, list[str]] = {}
    for crop, caution in sorted({(line.crop, c) for p in places for line in p.chart.crops for c in line.cautions}):
        by_words.setdefault(caution, []).append(crop)
    cautions = tuple((", ".join(map(say_crop, crops)), words) for words, crops in by_words.items())
    cited = Picture(lambda: tag("ol", *[tag("li", s) for s in sources]) if sources else None)
    return (
        _later(
            say("Cautions ({count})", count=len(cautions)), page_parts((Items(cautions),)) if cautions else Html("")
        ),
        _later(
            say("Published sources of the handbook's numbers ({count})", count=len(sources)),
            page_parts((cited,)),
            "sources",
        ),
    )


def _kept() -> tuple[Html, ...]:
    """Where the reader's choices are, and how they go to another browser."""
    return (
        tag("p", "Stars, ticks, what is shown and the sliders are kept in this browser and stand in the address."),
        tag("button", "Save my list to a file", type="button", data_do="export"),
        tag("label", "Take a saved list in ", tag("input", type="file", accept=".json", data_do="import")),
    )


def _kept_served() -> tuple[Html, ...]:
    kept = "Stars are your list for every command, ticks lines of the log. What is shown stands in the address."
    return (tag("p", kept),)


def _everything_else(places: Sequence[Place], sources: Sequence[str], issued: dt.date, served: bool) -> Html:
    not_judged = dict.fromkeys(n for p in places for n in p.chart.not_judged)
    how = say(
        "Every season of the record is run through day by day for every start day; a year succeeds where the crop "
        "comes through to a picking worth having. A plain word stands for the share of years that succeed and what "
        "they leave: sound, fair, chancy, not here."
    )
    made_by = replace(places[0].chart.made_by, records=tuple(r for p in places for r in p.chart.made_by.records))
    foot = (
        Paragraph(NO_PROMISE),
        Paragraph(f"{'; '.join(map(say, not_judged))}.", name="Not judged"),
        Paragraph(how),
        Paragraph(
            say(
                "Issued {long_date}. {made_by} Works without a network.",
                long_date=long_date_text(issued),
                made_by=made_by.short(),
            ),
            look="small",
        ),
    )
    several = len(places) > 1
    mine = tag(
        "div",
        *(_kept_served() if served else _kept()),
        tag("button", "Print one sheet: today and the year", type="button", data_do="print"),
        tag("button", "Print all that is open", type="button", data_do="print", data_whole=True),
        tag("output", aria_live="polite"),
        class_="mine",
        hidden=True,
    )
    return tag(
        "section",
        tag("h2", "Everything else"),
        mine,
        *[fold for n, place in enumerate(places, 1) for fold in _of_place(place, f"p{n}", several)],
        *_sources(places, sources),
        page_parts(foot),
        id="else",
        aria_label="Everything else",
    )


def _garden(garden: GardenPlan | None, start_month: int, bench: Bench | None) -> Html:
    """The plan of a garden, or what a served page has in place of one."""
    if garden is None:
        return join(bench.garden if bench else None)
    from sowcal.outputs.garden_board import garden_section  # which loads a garden's rooms

    tools = bench.garden if bench else None
    return garden_section(garden, start_month, movable=bench is not None, tools=tools)


def page_text(
    places: Sequence[Place],
    *,
    issued: dt.date,
    comparison: CompareResult | None = None,
    sources: Sequence[str] = (),
    start_month: int = 1,
    garden: GardenPlan | None = None,
    mine: Sequence[str] = (),
    names: Mapping[str, Sequence[str]] | None = None,
    asked: tuple[float, float] = (0.8, 0.5),
    season: Document | None = None,
    bench: Bench | None = None,
) -> str:
    """The page as HTML; the same bytes for the same answers and date.

    Parameters
    ----------
    places : sequence of Place
        One or two.
    issued : datetime.date
        Date of issue, in the foot.
    comparison : CompareResult, optional
        Of two places.
    sources : sequence of str
        Citations to list.
    start_month : int
        Month, 1 to 12, with which the year is drawn to begin.
    garden : GardenPlan, optional
        Shown as a section after the places.
    mine : sequence of str
        Crops that are starred until the reader stars others.
    names : mapping of str to sequence of str, optional
        Other names by which each crop is found.
    asked : pair of float
        Reliability and least yield of the charts; where a place has steps they are among them.
    season : Document, optional
        How what is sown stands.
    bench : Bench, optional
        What the page has beside where it is served; its scripts and style are then the server's.
    """
    title, cells, shown = say(" and ").join(say(p.chart.site) for p in places), weeks(start_month), []
    beside = bench.beside if bench else None
    if comparison is not None:
        beside = side_by_side(comparison, (places[0].verdicts, places[1].verdicts), start_month)
    shown += [beside] if beside else []
    tries = bench.what_if if bench else None
    shown += [_place(place, f"p{n}", cells, asked, mine, tries) for n, place in enumerate(places, 1)]
    shown.append(_garden(garden, start_month, bench))
    if bench is not None:
        shown.append(bench.log)
    elif season is not None:
        shown.append(page_section(season, "log"))
    navigation = _navigation(places, beside is not None, garden, season is not None or bench is not None)
    body = tag(
        "body",
        months_symbol(start_month),
        years_axis(start_month),
        tag("a", "To the contents", href="#main", class_="skip"),
        tag(
            "header",
            tag("h1", say("What grows at {title}, and when", title=title)),
            bench.top if bench else None,
            navigation,
        ),
        tag("main", *shown, _everything_else(places, sources, issued, bench is not None), id="main"),
        page_data(places, issued, asked, mine, names or {}, None if bench is None else bench.done),
        *[tag("script", src=f"/{n}") if bench else tag("script", Html(in_words(asset(n)))) for n in SCRIPTS],
        tag("script", src="/served.js") if bench else None,
    )
    head = _head(say("What grows at {title}", title=title), bench is not None)
    page = tag("html", head, body, lang=_CODES.get(spoken(), spoken()), data_start=start_month)
    return f"<!doctype html>\n{page}\n"
