"""The page in a real browser: opens, filters, sorts, opens rows by keyboard, prints, fits a phone, asks for nothing."""

from __future__ import annotations

import pytest


def sideways(window) -> int:
    return window.page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")


@pytest.mark.parametrize("width", [360, 1200])
@pytest.mark.parametrize("which", ["both", "hostile"])
def test_opens_without_a_word_or_a_request(opened, which, width):
    window = opened(which, width)
    assert window.page.locator("h1").count() == 1
    assert window.said == []
    assert len(window.asked) == 1
    assert window.asked[0].startswith("file:")
    assert sideways(window) == 0


def test_the_policy_stops_a_request_that_is_tried(opened):
    window = opened()
    tried = "new Promise(done => { const i = new Image(); i.onerror = () => done('stopped');"
    assert window.page.evaluate(tried + "i.src = 'http://127.0.0.1:9/x.png'; document.body.append(i); })") == "stopped"
    assert any("Content Security Policy" in s for s in window.said)


def test_filter_by_name_month_and_family(opened, places):
    page = opened().page
    controls = page.locator("[data-for=p1-rows]")
    rows = page.locator("#p1-rows > .slot:visible")
    names = "all => all.map(r => r.dataset.name)"
    every = len(places[0].chart.crops)
    fits = [c.crop for c in places[0].chart.crops if any(s.windows for s in c.starts)]
    assert sorted(rows.evaluate_all(names)) == sorted(fits)
    controls.get_by_label("Find a crop").fill("TOMATO")
    expected = [c.crop for c in places[0].chart.crops if "tomato" in c.crop]
    assert sorted(rows.evaluate_all(names)) == sorted(expected)
    assert controls.locator("output").text_content() == f"{len(expected)} of {every} crops"
    controls.get_by_label("Find a crop").fill("")
    controls.locator("[data-do=family]").select_option("Fabaceae")
    assert set(rows.evaluate_all("all => all.map(r => r.dataset.family)")) == {"Fabaceae"}
    controls.locator("[data-do=family]").select_option("")
    controls.get_by_label("Something to start in").select_option("8")
    august = rows.evaluate_all("all => all.map(r => r.dataset.months.split(' '))")
    assert august
    assert all("8" in months for months in august)
    controls.get_by_label("Something to start in").select_option("")
    controls.locator("[data-do=show]").select_option("")
    assert rows.count() == every
    controls.get_by_label("Find a crop").fill("no such crop")
    assert rows.count() == 0
    assert "loosen" in controls.locator("output").text_content()


def test_chart_is_put_in_order(opened):
    page = opened().page
    page.locator("[data-for=p1-rows]").get_by_label("Order by").select_option("name")
    names = page.locator("#p1-rows > .slot").evaluate_all("all => all.map(r => r.dataset.name)")
    assert len(names) > 100
    assert names == sorted(names)


def test_table_filters_by_verdict_and_sorts_both_ways(opened, places):
    page = opened().page
    page.locator("#p1-all > summary").click()
    page.locator("[data-for=p1-crops]").get_by_label("Verdict").select_option("fair")
    shown = page.locator("#p1-crops tbody tr:visible").count()
    assert shown == sum(v.word == "fair" for v in places[0].verdicts) > 0
    page.locator("[data-for=p1-crops]").get_by_label("Verdict").select_option("")
    head = page.locator("#p1-crops th", has=page.get_by_role("button", name="years that work"))
    shares = "rows => rows.map(r => Number(r.cells[2].dataset.sort))"
    rows = page.locator("#p1-crops tbody tr")
    for state, down in (("ascending", False), ("descending", True)):
        head.get_by_role("button").press("Enter")
        assert head.get_attribute("aria-sort") == state
        values = rows.evaluate_all(shares)
        assert values == sorted(values, reverse=down)
    page.locator("#p1-crops").get_by_role("button", name="crop", exact=True).press("Space")
    assert head.get_attribute("aria-sort") is None


def test_rows_open_by_keyboard_alone(opened):
    page = opened().page
    page.locator("[data-for=p1-rows]").scroll_into_view_if_needed()
    row = page.locator("#p1-rows > .slot:visible details").first
    row.locator("summary").focus()
    page.keyboard.press("Enter")
    assert row.get_attribute("open") is not None
    for picture in ("share of years that succeed", "first picking in each year"):
        row.get_by_role("img", name=picture).wait_for()
    page.keyboard.press("Space")
    assert row.get_attribute("open") is None
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "star"


def test_open_all_opens_what_is_shown(opened):
    page = opened().page
    controls = page.locator("[data-for=p1-rows]")
    controls.get_by_label("Find a crop").fill("carrot")
    controls.get_by_role("button", name="Open all").click()
    shown = page.locator("#p1-rows > .slot:visible")
    assert page.locator("#p1-rows details[open]").count() == shown.count() > 0
    controls.get_by_role("button", name="Close all").click()
    assert page.locator("#p1-rows details[open]").count() == 0


def test_screen_readers_hear_the_dates(opened):
    page = opened().page
    page.locator("[data-for=p1-rows]").get_by_label("Find a crop").fill("tomato (cherry)")
    tree = page.locator("#p1-tomato-cherry summary").aria_snapshot()
    assert "tomato (cherry)" in tree
    assert "set out" in tree


def test_prints_to_pages(opened, tmp_path):
    window = opened()
    window.page.pdf(path=tmp_path / "p.pdf", format="A4")
    assert (tmp_path / "p.pdf").read_bytes().startswith(b"%PDF-")
    window.page.emulate_media(media="print")
    assert not window.page.locator("nav").is_visible()
    assert not window.page.locator(".controls").first.is_visible()
    assert window.page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    window.page.set_viewport_size({"width": 703, "height": 1000})  # A4 within its margins: nothing is cut off or shrunk
    window.page.evaluate("document.querySelectorAll('.fold').forEach(d => { d.open = true; })")
    assert sideways(window) == 0


def test_dark_where_the_reader_asks_for_it(opened):
    ground = "getComputedStyle(document.body).backgroundColor.match(/\\d+/g).map(Number)"
    assert max(opened(scheme="dark").page.evaluate(ground)) < 60
    assert min(opened(scheme="light").page.evaluate(ground)) > 200


def test_reads_without_a_script(chromium, both, tmp_path):
    path = tmp_path / "p.html"
    path.write_bytes(both.encode("utf-8"))
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(path.as_uri())
    assert not page.locator(".controls").first.is_visible()
    page.locator("#p1-rows .row summary").first.click()
    assert page.locator("#p1-rows .row .opened").first.is_visible()
    assert page.locator("#p1-rows .row").count() > 100
    context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1200])
def test_accessibility_audit_is_clean(opened, axe, width, scheme):
    """axe-core's own rules, with the first rows and every fold open."""
    page = opened(width=width, scheme=scheme).page
    page.evaluate("document.querySelectorAll('.fold, .slot:nth-child(-n+3) details').forEach(d => { d.open = true; })")
    page.wait_for_selector(".fold > noscript", state="detached")
    page.evaluate(axe)
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    faults = [(v["id"], [n["html"][:120] for n in v["nodes"][:3]]) for v in found["violations"]]
    assert len(found["passes"]) > 10
    assert faults == []
