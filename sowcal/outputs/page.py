"""The page: all of one place or two, a garden, and what it rests on, in one file that asks nothing of a network."""

from __future__ import annotations

import base64
import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib.resources import files

from sowcal.climate.place_figures import ClimateSummary
from sowcal.garden.plan import GardenPlan
from sowcal.outputs.chart_document import chart_document
from sowcal.outputs.document import (
    Caution,
    Column,
    Document,
    Fold,
    Html,
    Items,
    Paragraph,
    Part,
    Picture,
    Section,
    Table,
    join,
    page_section,
    tag,
)
from sowcal.outputs.garden_document import garden_document
from sowcal.outputs.page_svg import months_symbol, years_axis
from sowcal.outputs.place_document import climate_document, compare_document
from sowcal.outputs.reports import week_document, week_title
from sowcal.outputs.verdict_document import perennial_table, rate_document, verdict_cell
from sowcal.outputs.wording import NO_PROMISE, odds_text, record_text
from sowcal.plurals import counted
from sowcal.suitability.annuals import GRADES
from sowcal.suitability.results import CompareResult, CropVerdict, SowingChart
from sowcal.suitability.week import Week

__all__ = ["Place", "page_text"]

_CARRIED = ("S1", "S2")
_MONTHS = (  # in English whatever language the environment speaks
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip


@dataclass(frozen=True)
class Place:
    """All that the page says of one site."""

    chart: SowingChart
    verdicts: tuple[CropVerdict, ...]  # best first
    climate: ClimateSummary
    changes: tuple[tuple[str, tuple[CropVerdict, ...]], ...] = ()  # changes tried, each with its verdicts
    week: Week | None = None  # of a date that was named: the page itself knows no day


def _tried(words: str, now: dict[str, CropVerdict], then: Sequence[CropVerdict]) -> Part:
    """One change that was tried: crops whose word becomes another, the lifted ones first."""
    pairs = [(now[v.crop], v) for v in then if v.crop in now and now[v.crop].word != v.word]
    lifted = [p for p in pairs if GRADES.get(p[1].word, 9) < GRADES.get(p[0].word, 9)]
    lowered = [p for p in pairs if p not in lifted]
    said = f"With {words}: better for {counted(len(lifted), 'crop')}, worse for {len(lowered)}"
    if not pairs:
        return Paragraph(f"With {words}: no crop's verdict changes.")
    rows = tuple(
        (b.crop, verdict_cell(a), verdict_cell(b))
        for a, b in (*sorted(lifted, key=lambda p: p[0].crop), *sorted(lowered, key=lambda p: p[0].crop))
    )
    columns = (Column("crop"), Column("now"), Column(f"with {words}"))
    return Fold(said, (Table(columns, rows, f"with {words}", look="beside", hint=False),))


def _asset(name: str) -> str:
    return (files("sowcal") / "outputs" / "page_assets" / name).read_text(encoding="utf-8").strip()


def _digest(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


def _long_date(day: dt.date) -> str:
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def _head(title: str, style: str, script: str) -> Html:
    # Nothing may be asked for, and no style or script but the page's own two may run.
    policy = (
        f"default-src 'none'; style-src '{_digest(style)}'; script-src '{_digest(script)}'; "
        "base-uri 'none'; form-action 'none'"
    )
    return tag(
        "head",
        tag("meta", charset="utf-8"),
        tag("meta", http_equiv="Content-Security-Policy", content=policy),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", name="color-scheme", content="light dark"),
        tag("meta", name="referrer", content="no-referrer"),
        tag("title", title),
        tag("style", Html(style)),
    )


def _where(place: Place) -> str:
    c = place.climate
    out = [] if c.latitude is None else [f"{abs(c.latitude):.2f}° {'north' if c.latitude >= 0 else 'south'}"]
    out += [] if c.elevation is None else [f"{c.elevation:.0f} m above the sea"]
    return ", ".join([*out, f"weather of {record_text(place.chart.record)}"])


def _lead(place: Place) -> str:
    carried = sum(v.suitability in _CARRIED for v in place.verdicts)
    chancy = sum(v.suitability == "S3" for v in place.verdicts)
    away = sum(v.suitability == "N" for v in place.verdicts)
    silent = sum(v.suitability is None for v in place.verdicts)
    asked = odds_text(place.chart.reliability_asked)
    said = f"Carries {carried} of {counted(len(place.verdicts), 'crop')} at {asked}; "
    said += f"{chancy} {'is' if chancy == 1 else 'are'} a gamble and {away} {'does' if away == 1 else 'do'} not fit"
    said += f"; of {silent} nothing can be said." if silent else "."
    return said


def _place(place: Place, key: str, start_month: int) -> Document:
    """All of one place: what it is, when to sow, every crop, perennials by year, changes tried."""
    chart, week = place.chart, place.week
    by_crop = {v.crop: v for v in place.verdicts}
    best_first = "Best first. A verdict says how far a crop suits the place, not how it tastes."
    each_year = "Each year of the record lived through in turn: does it live, does it crop, what checks it."
    rated = rate_document(chart.site, chart.record, place.verdicts, lines=chart.crops, key=key).parts
    drawn = chart_document(chart, by_crop, start_month=start_month, key=key).parts
    perennials = perennial_table(chart.site, place.verdicts)
    tried = tuple(_tried(words, by_crop, then) for words, then in place.changes)
    parts: list[Part] = [
        Paragraph(_where(place), look="where"),
        Paragraph(_lead(place), look="lead"),
        *(Caution(f"{w}.", word="Mind") for w in chart.warnings),
        Section("The place", climate_document(place.climate, start_month).parts, "place"),
        Section("When to sow, set out and pick", drawn, "chart"),
        *((Section(week_title(week), week_document(week).parts, "week"),) if week else ()),
        Section("All crops", (Paragraph(best_first), *rated), "all"),
        *((Section("Perennials", (Paragraph(each_year), perennials), "perennials"),) if perennials else ()),
        Section("What if", tried, "changes"),
    ]
    return Document(chart.site, tuple(parts))


def _navigation(places: Sequence[Place], compared: bool, garden: GardenPlan | None) -> Html:
    items = []
    for n, place in enumerate(places, 1):
        links = [("place", "the place"), ("chart", "when to sow"), ("all", "all crops")]
        links[2:2] = [("week", "the week")] * (place.week is not None)
        links += [("perennials", "perennials")] * any("years_lived" in v.evidence for v in place.verdicts)
        links += [("changes", "what if")] * bool(place.changes)
        more = [join(" ", tag("a", words, href=f"#p{n}-{name}")) for name, words in links]
        items.append(tag("li", tag("a", place.chart.site, href=f"#p{n}", class_="first"), *more))
    if garden is not None:
        items.append(tag("li", tag("a", garden.garden.name, href="#garden", class_="first")))
    if compared:
        items.append(tag("li", tag("a", "Side by side", href="#compare", class_="first")))
    items.append(tag("li", tag("a", "Sources and cautions", href="#sources", class_="first")))
    return tag("nav", tag("ul", *items), aria_label="Contents")


def _sources(places: Sequence[Place], sources: Sequence[str], issued: dt.date) -> Document:
    not_judged = dict.fromkeys(n for p in places for n in p.chart.not_judged)
    by_words: dict[str, list[str]] = {}
    for crop, caution in sorted({(line.crop, c) for p in places for line in p.chart.crops for c in line.cautions}):
        by_words.setdefault(caution, []).append(crop)
    cautions = tuple((", ".join(crops), words) for words, crops in by_words.items())
    how = (
        "Every season of the record is run through day by day for every start day; a year succeeds where the crop "
        "comes through to a picking worth having. A plain word stands for the share of years that succeed and what "
        "they leave: sound, fair, chancy, not here."
    )
    cited = Picture(lambda: tag("ol", *[tag("li", s) for s in sources]) if sources else None)
    made_by = replace(places[0].chart.made_by, records=tuple(r for p in places for r in p.chart.made_by.records))
    parts = (
        Paragraph(NO_PROMISE),
        Paragraph(f"{'; '.join(not_judged)}.", name="Not judged"),
        Paragraph(how),
        Fold(f"Cautions ({len(cautions)})", (Items(cautions),)),
        Fold(f"Published sources of the handbook's numbers ({len(sources)})", (cited,)),
        Paragraph(f"Issued {_long_date(issued)}. {made_by.short()} Works without a network.", look="small"),
    )
    return Document("Sources and cautions", parts)


def page_text(
    places: Sequence[Place],
    *,
    issued: dt.date,
    comparison: CompareResult | None = None,
    sources: Sequence[str] = (),
    start_month: int = 1,
    garden: GardenPlan | None = None,
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
    """
    style, script = _asset("page.css"), _asset("page.js")
    names = " and ".join(p.chart.site for p in places)
    shown = [(_place(p, f"p{n}", start_month), f"p{n}") for n, p in enumerate(places, 1)]
    if garden is not None:
        shown.append((garden_document(garden, start_month), "garden"))
    if comparison is not None:
        told = compare_document(comparison, (places[0].verdicts, places[1].verdicts), start_month)
        shown.append((replace(told, title="Side by side"), "compare"))
    shown.append((_sources(places, sources, issued), "sources"))
    body = tag(
        "body",
        months_symbol(start_month),
        years_axis(start_month),
        tag("a", "To the contents", href="#main", class_="skip"),
        tag(
            "header", tag("h1", f"What grows at {names}, and when"), _navigation(places, comparison is not None, garden)
        ),
        tag("main", *[page_section(document, key) for document, key in shown], id="main"),
        tag("script", Html(script)),
    )
    page = tag("html", _head(f"What grows at {names}", style, script), body, lang="en-GB", data_start=start_month)
    return f"<!doctype html>\n{page}\n"
