"""A document is told alike by screen and page, whatever stands in it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sowcal import compare_sites, garden_plan, rate_crops, site_climate, sowing_chart, sowing_week
from sowcal.outputs.chart_document import chart_document
from sowcal.outputs.climate_document import climate_document
from sowcal.outputs.document import (
    Beside,
    Caution,
    Cell,
    Column,
    Document,
    Facts,
    Fold,
    Items,
    Names,
    Paragraph,
    Picture,
    Section,
    Table,
    page_section,
    screen_text,
    tag,
)
from sowcal.outputs.garden_document import garden_document
from sowcal.outputs.place_document import compare_document
from sowcal.outputs.reports import week_document
from sowcal.outputs.terminal import bars, plain, screen_width
from sowcal.outputs.verdict_document import rate_document, verdict_document
from sowcal.outputs.wording import windows_in_words
from sowcal.weather.years import Trend
from sowcal.year import day_text, span_text

WORDS = st.text(st.sampled_from("abc d<&\"'é° \x1b\n"), min_size=1, max_size=30).filter(lambda t: bool(t.strip()))


class Reader(HTMLParser):
    """The words of a page, and its tags that are closed wrongly."""

    def __init__(self, text):
        super().__init__()
        self.words, self.open, self.faults, self.tags = [], [], [], []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.open.append(tag)
        self.tags.append(tag)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.faults.append(tag)

    def handle_data(self, data):
        self.words.append(data)


def squeezed(text):
    """Letters and figures only, so that neither wrapping, nor columns, nor the case of a heading counts."""
    return "".join(c for c in text.replace("m²", "m2").replace("°C", "degC").casefold() if c.isalnum())


def sentences(parts, *, screen):
    """Every sentence and cell that a document holds, of those for the screen or for the page."""
    for part in parts:
        if isinstance(part, Section):
            if inner := list(sentences(part.parts, screen=screen)):
                yield from (part.title, *inner)
        elif isinstance(part, Fold):
            if part.on_screen or not screen:
                yield from sentences(part.parts, screen=screen)
        elif isinstance(part, Beside):
            yield from sentences(part.parts, screen=screen)
        elif isinstance(part, Names):
            for label, names in part.rows:
                yield from (label, *names) if names else ()
        elif isinstance(part, Facts):
            for name, value, more in part.facts:
                yield from (name, f"{value} {more}")
        elif isinstance(part, Items):
            for item in part.items if screen or part.on_page else ():
                yield from (item,) if isinstance(item, str) else item
        elif isinstance(part, Table):
            for row in part.rows[: part.most] if screen else part.rows:
                yield from (
                    cell if isinstance(cell, str) else (cell.short or cell.text) if screen else cell.text
                    for cell in row
                )
        elif isinstance(part, Caution):
            yield part.text if part.on_screen or not screen else ""
        elif isinstance(part, Paragraph) and (part.on_screen if screen else part.on_page):
            yield part.text


def _garden():
    return garden_document(garden_plan("sallowdene"))


def _climate():
    return climate_document(site_climate("wrackhythe"))


def _climate_with_a_trend():
    trends = tuple(Trend(v, "all year", 31, 1990, 2020, 0.3, 0.1, 0.5) for v in ("tasmin", "tasmax"))
    return climate_document(replace(site_climate("sallowdene"), trends=trends))


def _compare():
    few = ["carrot", "olive", "tomato (large)"]
    sides = tuple(rate_crops(site, few)[1] for site in ("wrackhythe", "sallowdene"))
    return compare_document(compare_sites("wrackhythe", "sallowdene", few), sides)


def _rate():
    chart, verdicts = rate_crops("sallowdene", ["carrot", "olive", "tomato (large)", "rhubarb"])
    return rate_document(chart.site, chart.record, verdicts, lines=chart.crops, key="p1")


def _verdict():
    chart, verdicts = rate_crops("sallowdene", ["olive"])
    return verdict_document(chart.site, chart.record, verdicts[0])


def _week():
    return week_document(sowing_week(sowing_chart("sallowdene"), dt.date(2026, 3, 16)))


def _chart():
    """Advised crops, gambles, crops without dates, and windows that have moved against the whole record."""
    return chart_document(sowing_chart("sallowdene", years="10"), key="p1")


def _chart_of_few():
    return chart_document(sowing_chart("sallowdene", ["courgette", "parsnip", "fig", "lemon"], years="10"), key="p1")


ANSWERS = [_garden, _climate, _climate_with_a_trend, _compare, _rate, _verdict, _week, _chart, _chart_of_few]


@pytest.mark.parametrize("answer", ANSWERS)
def test_what_is_told_stands_on_screen_and_page(answer):
    made = answer()
    screen = squeezed(screen_text(made, width=10_000))
    page = squeezed(" ".join(Reader(page_section(made, "answer")).words))
    assert len(list(sentences(made.parts, screen=True))) > 10
    for text in sentences(made.parts, screen=True):
        assert squeezed(text) in screen
    for text in sentences(made.parts, screen=False):
        assert squeezed(text) in page


@given(WORDS, WORDS, WORDS, st.integers(60, 120), st.booleans())
def test_any_words_are_kept_within_the_screen_and_within_the_page(title, name, words, width, unicode):
    made = Document(
        title,
        (
            Paragraph(words, name=name),
            Facts(((name, words, words), (name[:20], words, ""))),
            Caution(words),
            Names(((name, (words,) * 9), (words, ()))),
            Section(name, (Items((words, (name, words))), Items((words,), bullets=False))),
            Fold(title, (Table((Column(""), Column(name, right=True)), ((words, Cell(words, "chip")),), words),)),
        ),
        foot=(words,),
    )
    text = screen_text(made, width=width, unicode=unicode)
    assert max(map(screen_width, text.splitlines())) <= width
    assert "\x1b" not in text
    read = Reader(page_section(made, "a"))
    assert not read.faults
    assert not read.open
    known = "section h2 h3 p b ul li details summary div table thead tbody tr th td span dl dt dd"
    assert set(read.tags) <= set(known.split())
    assert squeezed(plain(words)) in squeezed(" ".join(read.words))


def test_a_part_with_nothing_in_it_has_no_heading():
    made = Document("a place", (Section("Notes", (Items(()),)), Fold("More", ()), Section("What", (Paragraph("it"),))))
    assert screen_text(made).split() == ["a", "place", "WHAT", "it"]
    assert Reader(page_section(made, "p")).words == ["a place", "What", "it"]


def test_what_only_one_of_them_can_show_stands_there_only():
    shown = bars(
        ("May", "Jun"), ("usual", "most"), ("usual", "most"), ((1.0, 2.0), (0.0, 0.0)), (("1", "2"), ("0", "0"))
    )
    wide = Table((Column("crop"), Column("wide only", least_screen=90)), (("pea", "green"),), "crops")
    made = Document(
        "one",
        (
            Picture(lambda: tag("svg"), "a caption", shown),
            Fold("Behind it", (Paragraph("by the week"),), on_screen=False),
            wide,
            Paragraph("for the screen", on_page=False),
        ),
        foot=("the end",),
    )
    narrow, page = screen_text(made, width=60), "".join(Reader(page_section(made, "p")).words)
    assert "green" not in narrow
    assert "green" in screen_text(made, width=90)
    assert "green" in page
    assert "█" in narrow
    assert "#" in screen_text(made, width=60, unicode=False)
    assert "by the week" in page
    assert "by the week" not in narrow
    assert "a caption" in page
    assert "a caption" not in narrow
    assert "for the screen" in narrow
    assert "for the screen" not in page
    assert narrow.endswith("\n\nthe end")
    assert "the end" not in page


@pytest.mark.parametrize(("site", "years"), [("sallowdene", ""), ("wrackhythe", "8")])
def test_a_window_is_told_alike_on_screen_and_page(site, years):
    """Each window's words stand in the crop that opens on the page, and in a short chart on a screen."""
    crops = ["courgette", "parsnip", "broad bean"]
    chart = sowing_chart(site, crops, years=years)
    told = [(line.crop, words) for line in chart.crops for words in windows_in_words(line)]
    assert len({crop for crop, _ in told}) == 3
    document = chart_document(chart, key="p1")
    screen, page = squeezed(screen_text(document)), page_section(document, "p1")
    for crop, (window, more) in told:
        assert squeezed(f"{crop}, {window}: {more}") in screen
        opened = page[page.index(f'data-name="{crop}"') :]
        assert squeezed(window + more) in squeezed("".join(Reader(opened[: opened.index("</details>")]).words))


def test_the_words_of_a_window_hold_its_dates_and_days(chart):
    """Both ends, the best day, first and last picking and the edges give or take, each as the answer has it."""
    (line,) = (c for c in chart.crops if c.crop == "cauliflower")
    (way,) = line.starts
    window = replace(way.windows[0], start_interval=(1, 9), end_interval=(300, 300), raise_under_cover=(20, 40))
    (said,) = windows_in_words(replace(line, starts=(replace(way, windows=(window,)),)))
    assert said[0] == f"Set out {span_text(window.start, window.end)}"
    assert said[1].startswith(f"best about {day_text(window.best)}. Works 8 years in 10 (")
    assert "Its edges, give or take: opens between 2 Jan and 10 Jan. Sow under cover 21 Jan to 10 Feb. " in said[1]
    assert f"{window.first_picking.days_after_start} days on" in said[1]
    (gamble,) = windows_in_words(replace(line, starts=(replace(way, windows=(), possible=(window,)),)))
    assert gamble == (said[0], f"chancy, {said[1]}")


def test_units_are_plain_on_a_screen_and_set_on_the_page():
    made = Document("heat", (Paragraph("30 degC on 96 m2, vitamin Xm2"),))
    assert "30 degC on 96 m2, vitamin Xm2" in screen_text(made)
    assert "30 °C on 96 m², vitamin Xm2" in page_section(made, "p")
