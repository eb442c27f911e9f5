"""The page as a tool, in a real browser: sliders, stars, ticks, names, address, files, paper, and how much it makes."""

from __future__ import annotations

import csv
import datetime as dt
import json
import os
import random
import re
from pathlib import Path

import pytest

from sowcal import Settings, open_handbook, sowing_chart
from sowcal.outputs.json_form import chart_json
from sowcal.outputs.page import page_text
from sowcal.year import MONTHS

RELIABILITIES, LEAST_YIELDS = (0.6, 0.8, 0.9), (0.3, 0.5, 0.7)  # as `places` has them
WATERED, WATERS = ("courgette", "leek", "broad bean"), (150.0, 0.0)


@pytest.fixture(scope="module")
def one(first_place, names_of):
    """The whole handbook at one place."""
    return page_text(
        [first_place], issued=dt.date(2026, 5, 4), names=names_of([c.crop for c in first_place.chart.crops])
    )


@pytest.fixture(scope="module")
def of_twelve(first_place, names_of):
    """The whole handbook with twelve crops of a kitchen garden starred."""
    mine = ["beetroot", "broad bean", "carrot", "chard", "courgette", "french bean (bush)", "kale", "leek"]
    mine += ["lettuce (head)", "spinach", "sweet pepper (blocky)", "tomato (cherry)"]
    return page_text([first_place], issued=dt.date(2026, 5, 4), mine=mine, names=names_of(mine))


def slide(page, which, place):
    page.locator(f"[data-do={which}]").first.evaluate(
        "(e, v) => { e.value = v; e.dispatchEvent(new Event('input', { bubbles: true })); }", place
    )


def show(page, which):
    page.locator("#p1-rows").locator("xpath=../..").locator("[data-do=show]").first.select_option(which)


def make_all(page):
    """Open and close every row, so that each is made."""
    show(page, "")
    bar = page.locator("[data-for=p1-rows]")
    bar.get_by_role("button", name="Open all").click()
    bar.get_by_role("button", name="Close all").click()


def read_day(text):
    day, month = text.split()
    return f"{MONTHS.index(month) + 1:02d}-{int(day):02d}"


def read_spans(said):
    """Dates in the words of a row: {job: [(from, to)]}."""
    out = {}
    for part in said.split("; "):
        found = re.match(r"(sow outdoors|set out|plant) (.*)", part)
        if found is None:
            continue
        spans = []
        for span in found[2].split(", "):
            ends = ["1 Jan", "31 Dec"] if span == "all year" else span.split(" to ")
            spans.append((read_day(ends[0]), read_day(ends[-1])))
        out[found[1]] = spans
    return out


JOBS = {"sown outdoors": "sow outdoors", "set out": "set out", "planted": "plant"}


def test_dates_under_the_sliders_are_those_of_the_engine_at_ten_settings(opened_text, one):
    """Crops' dates as the page tells them, against charts that are asked with these settings.

    A third of the crops at each setting, another at the next, so that every crop is looked at under three or four. That
    the steps a page is given are those of charts is test_steps_of_settings.py's to say.
    """
    page = opened_text(one).page
    make_all(page)
    settings = [(r, y) for r in range(len(RELIABILITIES)) for y in range(len(LEAST_YIELDS))]
    draw = random.Random(25)
    chosen = [*draw.sample(settings, len(settings)), draw.choice(settings)]
    assert len(chosen) == 10
    told, seen = set(), set()
    for turn, (r, y) in enumerate(chosen):
        slide(page, "reliability", r)
        slide(page, "least", y)
        rows = page.locator("#p1-rows > .slot").evaluate_all(
            "all => all.map(s => [s.dataset.name, s.querySelector('.when').textContent])"
        )
        asked = Settings(reliability=RELIABILITIES[r], least_yield=LEAST_YIELDS[y])
        assert len(rows) == len(open_handbook())
        said_of = dict(rows)
        third = sorted(said_of)[turn % 3 :: 3]
        chart = chart_json(sowing_chart("sallowdene", third, asked))
        lines = {line["crop"]: line["starts"] for line in chart["crops"]}
        assert sorted(lines) == third
        for crop in third:
            said = said_of[crop]
            seen.add(crop)
            if all(way["daily"] is None for way in lines[crop]):
                continue  # a perennial, or a crop that cannot be judged: no slider moves it
            expected = {
                JOBS[way["way"]]: [(w["from"], w["to"]) for w in way["windows"]]
                for way in lines[crop]
                if way["windows"]
            }
            assert read_spans(said) == expected, (crop, asked)
            told.add((crop, said))
    assert seen == set(open_handbook())
    assert len(told) > len(seen)  # the sliders move most of the crops that they can move


def test_dates_on_less_stored_water_are_those_of_the_engine(opened_text, one):
    """All three sliders at drawn settings, against charts that are asked with them; else the page says so."""
    page = opened_text(one).page
    make_all(page)
    draw = random.Random(7)
    told = set()
    for water in (1, 2):
        for r, y in draw.sample([(r, y) for r in range(3) for y in range(3)], 3):
            slide(page, "water", water)
            slide(page, "reliability", r)
            slide(page, "least", y)
            asked = Settings(reliability=RELIABILITIES[r], least_yield=LEAST_YIELDS[y])
            chart = chart_json(sowing_chart("sallowdene", WATERED, asked, most_water=WATERS[water - 1]))
            for line in chart["crops"]:
                said = page.locator(f"#p1-{line['crop'].replace(' ', '-')} .when").text_content()
                expected = {
                    JOBS[way["way"]]: [(w["from"], w["to"]) for w in way["windows"]]
                    for way in line["starts"]
                    if way["windows"]
                }
                assert read_spans(said) == expected, (line["crop"], asked, water)
                told.add((line["crop"], said))
    assert len(told) > len(WATERED)  # the slider moves some of them
    assert "not reckoned" in page.locator("#p1-aubergine .when").text_content()
    page.get_by_role("button", name="As the page was made").click()
    assert "not reckoned" not in page.locator("#p1-aubergine .when").text_content()


def test_sliders_back_where_they_were_show_what_the_page_was_made_with(opened_text, one):
    page = opened_text(one).page
    row = page.locator("#p1-courgette")
    page.get_by_label("Find a crop").first.fill("courgette")
    before = row.locator("summary").inner_html()
    slide(page, "reliability", 2)
    slide(page, "least", 0)
    assert row.locator("summary").inner_html() != before
    page.get_by_role("button", name="As the page was made").click()
    assert row.locator("summary").inner_html() == before


@pytest.mark.parametrize(
    ("word", "crop"),
    [
        ("zucchini", "courgette"),
        ("pomodoro", "tomato (cherry)"),
        ("FEIJAO", "french bean (bush)"),
        ("solanum mel", "aubergine"),
    ],
)
def test_a_crop_is_found_by_any_name(opened_text, one, word, crop):
    page = opened_text(one).page
    page.get_by_label("Find a crop").first.fill(word)
    found = page.locator("#p1-rows > .slot:visible").evaluate_all("all => all.map(s => s.dataset.name)")
    assert crop in found
    assert len(found) < 30
    assert "found by" in page.locator("[data-for=p1-rows] output").text_content()


def test_a_view_is_kept_and_stands_in_the_address(opened_text, one, chromium):
    window = opened_text(one)
    page = window.page
    page.get_by_label("Find a crop").first.fill("bean")
    page.locator("#p1-rows > .slot:visible .star").first.click()
    starred = page.locator("#p1-rows > .slot:visible").first.get_attribute("data-name")
    page.get_by_label("Find a crop").first.fill("")
    show(page, "mine")
    page.locator("[data-do=order]").first.select_option("name")
    slide(page, "least", 0)
    address = page.url
    names = "all => all.map(s => s.dataset.name)"
    shown = page.locator("#p1-rows > .slot:visible").evaluate_all(names)
    assert shown == [starred]
    page.goto(address.partition("#")[0])  # without the address: from what the browser keeps
    page.wait_for_selector("html.unpacked", state="attached")
    assert page.locator("#p1-rows > .slot:visible").evaluate_all(names) == shown
    assert page.locator("[data-do=least]").first.input_value() == "0"
    other = chromium.new_context()  # another reader, who is given the address
    there = other.new_page()
    there.goto(address)
    there.wait_for_selector("html.unpacked", state="attached")
    assert there.locator("#p1-rows > .slot:visible").evaluate_all(names) == shown
    assert there.locator("[data-do=order]").first.input_value() == "name"
    assert there.locator("[data-do=least]").first.input_value() == "0"
    there.goto(address.partition("#")[0] + "#view?order=nonsense&least=99&show=%3Cimg%3E&star=%3Cimg%20src%3Dx%3E")
    assert there.locator("img").count() == 0
    other.close()
    assert window.said == []


def test_a_list_goes_to_a_file_and_comes_back(opened_text, one, chromium, tmp_path):
    page = opened_text(one).page
    page.locator("#p1-rows > .slot:visible .star").nth(1).click()
    starred = page.evaluate(
        "[...document.querySelectorAll('[aria-pressed=true]')].map(s => s.closest('.slot').dataset.name)"
    )
    with page.expect_download() as saved:
        page.get_by_role("button", name="Save my list to a file").click()
    file = tmp_path / "mine.json"
    saved.value.save_as(file)
    assert json.loads(file.read_text(encoding="utf-8"))["mine"] == starred
    context = chromium.new_context()
    there = context.new_page()
    there.goto(page.url.partition("#")[0])
    there.wait_for_selector("html.unpacked", state="attached")
    there.get_by_label("Take a saved list in").set_input_files(file)
    there.get_by_text("Taken in: 1 crops starred.").wait_for()
    assert there.locator(".star[aria-pressed=true]").count() == 1
    bad = tmp_path / "bad.json"
    bad.write_text("no list", encoding="utf-8")
    there.get_by_label("Take a saved list in").set_input_files(bad)
    there.get_by_text("That file holds no saved list").wait_for()
    context.close()


def test_jobs_of_today_are_ticked_kept_and_told_as_lines_of_a_log(opened_text, of_twelve, tmp_path):
    page = opened_text(of_twelve).page
    boxes = page.locator("#p1 .jobs input")
    assert 0 < boxes.count() <= 10
    job = boxes.first.evaluate("b => [b.dataset.event, b.dataset.crop]")
    boxes.first.check()
    page.reload()
    page.wait_for_selector("html.unpacked", state="attached")
    assert page.locator("#p1 .jobs input").first.is_checked()
    with page.expect_download() as saved:
        page.get_by_role("button", name="Lines for the log").click()
    file = tmp_path / "lines.csv"
    saved.value.save_as(file)
    (line,) = csv.DictReader(file.read_text(encoding="utf-8").splitlines())
    assert list(line) == ["date", "event", "crop", "sort", "bed", "plants", "amount", "note"]
    assert [line["event"], line["crop"]] == job
    assert line["event"] in {"sown under cover", "sown outdoors", "set out", "planted", "picked"}
    assert line["date"] == page.evaluate("new Date().toLocaleDateString('sv')")  # Swedish dates are ISO dates


def test_stars_choose_the_jobs_of_today(opened_text, one):
    page = opened_text(one).page
    page.get_by_label("Find a crop").first.fill("courgette")
    page.locator("#p1-rows > .slot:visible .star").first.click()
    crops = page.locator("#p1 .jobs input").evaluate_all("all => all.map(b => b.dataset.crop)")
    assert crops
    assert set(crops) == {"courgette"}


def test_little_is_made_before_the_first_scroll(opened_text, one):
    page = opened_text(one, width=390).page
    assert page.evaluate("document.querySelectorAll('*').length") <= 3000
    rows = page.locator("#p1-rows > .slot:not([hidden])")
    made = "all => all.filter(s => s.querySelector('.row')).length"
    first = rows.evaluate_all(made)
    assert first < rows.count() / 2
    page.locator("#p1-rows > .slot:visible").last.scroll_into_view_if_needed()
    page.locator("#p1-rows > .slot:visible").last.locator(".row").wait_for()
    assert rows.evaluate_all(made) > first
    assert rows.evaluate_all(made) < rows.count()  # those passed over at a leap are still not made


@pytest.mark.parametrize("width", [390, 1200])
def test_nothing_moves_under_the_reader(chromium, one, tmp_path, width):
    """Layout shift, as the browser counts it, from the first paint through scrolling."""
    path = tmp_path / "p.html"
    path.write_text(one, encoding="utf-8")
    context = chromium.new_context(viewport={"width": width, "height": 800})
    context.add_init_script(
        "window.moves = []; new PerformanceObserver(l => l.getEntries().forEach(e => moves.push(e.value)))"
        ".observe({type: 'layout-shift', buffered: true});"
    )
    page = context.new_page()
    page.goto(path.as_uri())
    page.wait_for_selector("html.unpacked", state="attached")
    for _ in range(8):
        page.mouse.wheel(0, 600)
        page.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
    moves = page.evaluate("moves")
    context.close()
    assert sum(moves) < 0.01, moves


@pytest.mark.parametrize("width", [390, 1200])
def test_what_is_touched_is_large_enough(opened_text, one, width):
    """44 px either way: WCAG 2.1, success criterion 2.5.5 (from memory)."""
    page = opened_text(one, width=width).page
    page.evaluate("document.querySelectorAll('.fold, .slot:nth-child(-n+3) details').forEach(d => { d.open = true; })")
    page.wait_for_selector(".fold > noscript", state="detached")
    small = page.evaluate(
        """[...document.querySelectorAll('a, button, input, select, summary, textarea')]
        .filter(e => e.getClientRects().length && !e.matches('.skip'))
        .map(e => (e.type === 'checkbox' ? e.closest('label') : e))
        .map(e => [e.getBoundingClientRect(), e.outerHTML.slice(0, 90)])
        .filter(([r]) => r.width < 43.9 || r.height < 43.9).map(([r, html]) => [r.width, r.height, html])"""
    )
    assert small == []


def test_all_of_it_by_keyboard(opened_text, one):
    page = opened_text(one).page
    page.get_by_label("Find a crop").first.focus()
    page.keyboard.type("courgette")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.dataset.do") == "show"
    page.locator("#p1-courgette summary").focus()
    page.keyboard.press("Enter")
    page.locator("#p1-courgette .opened").wait_for(state="visible")
    page.locator("#p1-courgette .star").focus()
    page.keyboard.press("Space")
    assert page.locator("#p1-courgette .star").get_attribute("aria-pressed") == "true"
    page.locator("[data-do=reliability]").first.focus()
    before = page.locator("#p1-courgette .when").text_content()
    page.keyboard.press("End")
    assert page.locator("[data-do=reliability]").first.get_attribute("aria-valuetext") == "9 years in 10 or better"
    page.locator("[data-do=least]").first.focus()
    page.keyboard.press("End")
    assert page.locator("#p1-courgette .when").text_content() != before
    page.locator("#p1 .jobs input").first.focus()
    page.keyboard.press("Space")
    assert page.locator("#p1 .jobs input").first.is_checked()


def test_twelve_crops_print_on_one_sheet(opened_text, of_twelve, tmp_path):
    window = opened_text(of_twelve)
    assert window.page.locator("#p1-rows > .slot:visible").count() == 12
    window.page.pdf(path=tmp_path / "p.pdf", format="A4")
    pages = re.findall(rb"/Type\s*/Page\b", (tmp_path / "p.pdf").read_bytes())
    assert len(pages) == 1
    window.page.emulate_media(media="print")
    window.page.set_viewport_size({"width": 703, "height": 1000})  # A4 within its margins
    cut = "all => all.filter(e => e.scrollWidth > e.clientWidth + 1).map(e => e.textContent)"
    assert window.page.locator("#p1-rows .kind").evaluate_all(cut) == []
    for crop in window.page.locator("#p1-rows > .slot:not([hidden])").all():
        assert crop.locator("summary").is_visible()
    assert window.page.locator("#p1 .jobs li").first.is_visible()


PICTURES = Path(__file__).parent / "pictures"


@pytest.mark.parametrize(
    ("name", "width", "high", "at"),
    [("phone", 390, 844, "#p1-week"), ("desk", 1200, 900, "#p1 .legend")],
)
def test_pictures_of_the_page(opened_text, of_twelve, tmp_path, name, width, high, at):
    """The pictures that the README shows; SOWCAL_PICTURES=1 makes them anew. They must show what they are said to."""
    window = opened_text(of_twelve, width=width)
    window.page.set_viewport_size({"width": width, "height": high})
    window.page.emulate_media(reduced_motion="reduce")
    window.page.evaluate("at => document.querySelector(at).scrollIntoView()", at)
    if name == "desk":
        window.page.wait_for_selector("#p1-rows > .slot.waits:not([hidden])", state="detached")
    assert window.page.locator(at).is_visible()
    to = PICTURES if os.environ.get("SOWCAL_PICTURES") == "1" else tmp_path
    window.page.screenshot(path=to / f"{name}.png")
    for picture in (to / f"{name}.png", PICTURES / f"{name}.png"):
        head = picture.read_bytes()[:24]
        assert head.startswith(b"\x89PNG")
        assert (int.from_bytes(head[16:20]), int.from_bytes(head[20:24])) == (width, high)
