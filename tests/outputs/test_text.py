"""What the screen shows: never too wide, never a control character from input, plain letters where asked."""

import unicodedata
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sowcal.climate.place_figures import Odds
from sowcal.outputs.chart_document import chart_document, overview_document
from sowcal.outputs.climate_document import climate_document
from sowcal.outputs.document import screen_text
from sowcal.outputs.place_document import closing_sentence, compare_document
from sowcal.outputs.terminal import plain, screen_width, wrap
from sowcal.outputs.verdict_document import rate_document, verdict_document
from sowcal.suitability.annuals import best_first, rate_annual
from sowcal.suitability.compare import CompareResult, compare
from sowcal.year import span_days

ODD = "Nook\x1b[31m\x07\n\u202e\u200b Çedilla 北の畑 " + "x" * 90


def _screens(made_up, site, width, unicode):
    chart = made_up.chart(site=site)
    crops = (replace(chart.crops[0], crop=site), *chart.crops[1:])
    chart = replace(chart, crops=crops)
    later = [
        (name, family, hazard, [(w, (a + 9) % 365, (b + 12) % 365, *more) for w, a, b, *more in ways])
        for name, family, hazard, ways in made_up.ROWS
    ]
    other = made_up.chart(site=site + " 2", rows=later)
    other = replace(other, crops=(replace(other.crops[0], crop=site), *other.crops[1:]))
    verdicts = best_first([rate_annual(line) for line in chart.crops])
    others = [rate_annual(line) for line in other.crops]
    pair = compare((chart, other), (verdicts, others), (made_up.summary().to_json(), {}))
    assert pair.moved
    few = replace(chart, crops=chart.crops[:3])
    more = {"width": width, "unicode": unicode}
    yield screen_text(chart_document(chart), **more)
    yield screen_text(overview_document(chart, 300), **more)
    yield screen_text(overview_document(few, 20, start_month=9), **more)
    yield screen_text(chart_document(few, show="possible", start_month=9), **more)
    yield screen_text(rate_document(site, chart.record, verdicts), **more)
    yield from (screen_text(verdict_document(site, chart.record, v), **more) for v in (*verdicts[:2], *verdicts[-4:]))
    yield screen_text(climate_document(made_up.summary(site)), **more)
    yield screen_text(climate_document(type(made_up.summary())(site)), **more)
    yield screen_text(compare_document(pair), **more)


@pytest.mark.parametrize("width", [60, 80, 100, 133])
@pytest.mark.parametrize("unicode", [True, False])
@pytest.mark.parametrize("site", ["Made-up Nook", ODD])
def test_every_screen(made_up, site, width, unicode):
    for text in _screens(made_up, site, width, unicode):
        for line in text.split("\n"):
            assert screen_width(line) <= width, line
            assert not any(unicodedata.category(c) in ("Cc", "Cf") for c in line), repr(line)
        assert unicode or text.isascii()


@given(st.text())
def test_no_text_brings_a_control_character_to_the_screen(text):
    assert not any(unicodedata.category(c)[0] == "C" or c in "\u2028\u2029" for c in plain(text))
    assert plain(text, unicode=False).isascii()


@given(st.text(st.characters(exclude_categories=["C", "Z", "M"]) | st.just(" ")), st.integers(20, 90))
def test_wrapping_loses_nothing_and_keeps_the_width(text, width):
    lines = wrap(text, width, first="* ", later="  ")
    assert all(screen_width(line) <= width for line in lines)
    assert "".join(line[2:] for line in lines).replace(" ", "") == "".join(text.split())


def _row(text, crop, kind):
    lines = text.split("\n")
    at = next(k for k, line in enumerate(lines) if line.startswith(crop))
    return next(line for line in lines[at:] if kind in line[:36])[35:]


def test_marks_stand_in_the_right_weeks(chart):
    # cauliflower is advised from 30 Jul to 18 Sep at 0.84 and slopes to nothing on both sides
    row = _row(screen_text(chart_document(chart), unicode=False), "cauliflower", "set out")
    months = row.strip("|").split("|")
    assert months[8] == "88:."
    assert months[7] == "88888"
    assert set("".join(months[:6] + months[9:])) == {" "}
    assert "▇▇▇▇▇" in _row(screen_text(chart_document(chart)), "cauliflower", "set out")


def test_the_year_can_begin_in_any_month_and_holds_52_weeks(chart):
    for month in (1, 4, 9):
        text = screen_text(chart_document(chart, start_month=month), unicode=False)
        assert text.split("\n")[3].split()[0] == {1: "Jan", 4: "Apr", 9: "Sep"}[month]
        row = _row(text, "radish", "sown outdoors").strip("|")
        assert row.count("|") == 11
        assert len(row.replace("|", "")) == 52


def test_crops_without_dates_are_listed_with_the_reason_in_three_words(chart):
    text = screen_text(chart_document(chart))
    assert "killed by summer: rhubarb" in text
    assert "winter chill unmet: blackcurrant" in text
    assert "handbook lacks figures: sea kale" in text
    assert "parsnip: sown outdoors 4 Feb to 18 Mar, 6 years in 10 (soil too hot)" in text
    assert "odds are odds and no promise" in text.lower()
    assert "Not judged: pests and diseases" in text


def test_verdict_says_word_and_limit_before_the_evidence(chart):
    rhubarb = next(rate_annual(c) for c in chart.crops if c.crop == "rhubarb")
    head, _, rest = screen_text(verdict_document("Nook", chart.record, rhubarb)).partition("\n\n")
    assert len(head.split("\n")) <= 6
    assert "NOT HERE" in head
    assert "(N)" not in head  # classes are for programs
    assert "killed by summer" in head
    assert "CAUTION: leaf blades are poisonous" in head
    assert rest.startswith("EVIDENCE")


def _pair(carried, sound):
    better = {"crops_carried": carried, "crops_sound": sound, "crops_judged": 40}
    return CompareResult(("A", "B"), ({}, {}), (), (), (), better)


def test_the_closing_sentence_takes_a_side_only_where_the_counts_do():
    assert closing_sentence(_pair((30, 33), (1, 1))).startswith("B is the better plot")
    assert closing_sentence(_pair((33, 30), (1, 1))).startswith("A is the better plot")
    assert "it is sound for 9 of 40 crops, B 8" in closing_sentence(_pair((30, 30), (9, 8)))
    assert closing_sentence(_pair((30, 30), (9, 9))).startswith("Neither")


def test_frost_that_never_comes_is_told_as_such(made_up):
    from sowcal.climate.place_figures import Odds

    summary = replace(made_up.summary(), last_spring_frost=Odds(None, None, 40), frost_free_days=Odds(300, None, None))
    text = screen_text(climate_document(summary))
    assert "none in the middle year" in text
    assert "all year in the middle year" in text
    assert summary.to_json()["last_spring_frost"] == {"p10": None, "p50": None, "p90": "02-10"}


@pytest.mark.parametrize(
    ("days", "said"),
    [
        ((10, 45, 80), "15 Feb in the middle year; 1 year in 10 by 11 Jan, 9 in 10 by 22 Mar"),
        ((None, 45, 80), "15 Feb in the middle year; 9 years in 10 by 22 Mar, none in more than 1 year of 10"),
        ((None, None, 80), "none in the middle year; 9 years in 10 by 22 Mar"),
        ((340, None, None), "none in the middle year; 1 year in 10 by 7 Dec"),
        ((320, 340, None), "7 Dec in the middle year; 1 year in 10 by 17 Nov, none in more than 1 year of 10"),
        ((None, None, None), "none in at least 9 years of 10"),
    ],
)
def test_frost_dates_where_some_years_have_none(made_up, days, said):
    """Years without a frost count before the first day in spring and after the last in autumn; no date is 'never'."""
    summary = replace(made_up.summary(), last_spring_frost=Odds(*days))
    (line,) = (
        x for x in screen_text(climate_document(summary), width=120).splitlines() if x.startswith("last spring frost")
    )
    assert line.split(maxsplit=3)[3] == said


def _year(text, crop, width):
    """The signs of a crop's line in the overview: 36 or 48 cells."""
    row = next(x for x in text.split("\n") if x.startswith(f"{crop} "))
    first = next(x for x in text.split("\n") if x.strip().startswith("J"))
    start = len(first) - len(first.lstrip())
    return row[start : start + (48 if width >= 96 else 36)]


@pytest.mark.parametrize("width", [80, 100])
def test_the_overview_has_a_line_a_crop_and_marks_what_the_answer_holds(made_up, width):
    """Signs stand where the days of the answer lie, whatever order the crops are told in."""
    chart = made_up.chart()
    text = screen_text(overview_document(chart, 20), width=width, unicode=False)
    days_a_cell = 365 / (48 if width >= 96 else 36)
    for line in (c for c in chart.crops if any(s.windows for s in c.starts)):
        assert text.count(f"\n{line.crop} ") == 1
        advised = np.zeros(365, dtype=bool)
        for w in (w for way in line.starts for w in way.windows):
            advised[span_days(w.start, w.end)] = True
        marked = np.array([c in "#=" for c in _year(text, line.crop, width)])
        windows = sum(len(way.windows) for way in line.starts)
        assert abs(marked.sum() * days_a_cell - advised.sum()) <= 2.5 * days_a_cell * windows
        middle = [round((k + 0.5) * days_a_cell) for k in np.flatnonzero(marked)]
        near = np.convolve(np.r_[advised, advised, advised], np.ones(2 * 14 + 1), "same")[365:730] > 0
        assert near[middle].all()
    shut = [line.crop for line in chart.crops if not any(s.possible for s in line.starts)]
    assert shut
    for crop in shut:
        assert f"\n{crop} " not in text
        assert crop in " ".join(text.split("Not here:")[1].split())


def test_the_overview_turns_with_the_day_and_not_with_the_clock(chart):
    texts = [screen_text(overview_document(chart, day)) for day in (20, 110, 230)]
    assert len(set(texts)) == 3
    assert texts[0] == screen_text(overview_document(chart, 20))
    assert "▼ 21 Jan" in texts[0]
