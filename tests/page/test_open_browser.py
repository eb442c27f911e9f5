"""`sowcal open` in a real browser: all that a grower does with it, by mouse and by keyboard, on phone and desk."""

from __future__ import annotations

import datetime as dt
import json
import math
import os
import sys
import tomllib
from pathlib import Path

import pytest

pytest.importorskip("starlette")

from sowcal import compare_sites, sowing_chart
from sowcal.outputs.place_document import closing_sentence
from sowcal.saved_settings import UNSAID_CROPS, recall
from sowcal.season_log import SeasonLog, log_path
from sowcal.weather.site_file import read_site_file
from sowcal.year import MONTH_LENGTHS, MONTH_STARTS, day_of_year, span_text

sys.path.insert(0, str(Path(__file__).parent))
from served import CROPS, DAY, Server, few_steps

PICTURES = Path(__file__).parent / "pictures"
LARGE = """[...document.querySelectorAll('a, button, input, select, summary, textarea')]
    .filter(e => e.getClientRects().length && !e.matches('.skip'))
    .map(e => (e.type === 'checkbox' ? e.closest('label') : e))
    .map(e => [e.getBoundingClientRect(), e.outerHTML.slice(0, 90)])
    .filter(([r]) => r.width < 43.9 || r.height < 43.9).map(([r, html]) => [r.width, r.height, html])"""


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    """One server, with settings and a folder of its own."""
    with few_steps():
        one = Server(tmp_path_factory.mktemp("folder"))
        yield one
        one.end()


@pytest.fixture(scope="module")
def browser(chromium, server):
    """One context, which has the cookie; every word of its console is kept."""
    context = chromium.new_context(viewport={"width": 1200, "height": 900})
    page = context.new_page()
    page.said = []
    page.on("console", lambda m: page.said.append(m.text))
    page.on("pageerror", lambda e: page.said.append(str(e)))
    page.goto(server.address)
    page.wait_for_selector("html.unpacked", state="attached", timeout=60_000)
    assert page.url.rstrip("/") == server.here  # the token does not stay in the address
    yield page
    assert [text for text in page.said if "422" not in text] == []  # refusals stand in the console as such
    context.close()


@pytest.fixture
def page(browser, server):
    browser.set_viewport_size({"width": 1200, "height": 900})
    browser.goto(server.here)
    browser.wait_for_selector("html.unpacked", state="attached", timeout=60_000)
    return browser


def answer(page, server, path):
    return json.loads(page.evaluate("path => fetch(path).then(r => r.text())", f"{server.here}/answer/{path}"))


def says(page, where, text):
    """Wait until a text stands somewhere; the policy of the page lets no test run its own in it."""
    page.locator(where).filter(has_text=text).first.wait_for(state="attached", timeout=60_000)


def log():
    return SeasonLog.open(log_path("sallowdene")).entries


def open_beds(page):
    page.evaluate("document.querySelectorAll('.bed details').forEach(d => { d.open = true; })")


def row(page, crop, n=0):
    return page.locator(f'.stay[data-crop="{crop}"]').nth(n)


@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (1200, "dark")])
def test_phone_and_desk_light_and_dark(page, axe, width, scheme):
    """No sideways scroll, 44 px to touch, and no serious finding of axe, with every part open."""
    page.set_viewport_size({"width": width, "height": 900})
    page.emulate_media(color_scheme=scheme)
    page.evaluate("document.querySelectorAll('.bench .fold, .bed details').forEach(d => { d.open = true; })")
    page.locator("[data-change=mulch]").click()
    page.wait_for_selector("#tried > p")
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") == 0
    assert page.evaluate(LARGE) == []
    cut = "all => all.filter(e => e.scrollWidth > e.clientWidth + 1).map(e => e.textContent)"
    assert page.locator(".kind:visible").evaluate_all(cut) == []  # the words beside the ribbons are whole
    page.evaluate(axe)
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    serious = [v for v in found["violations"] if v["impact"] in ("serious", "critical")]
    assert [(v["id"], [n["html"][:160] for n in v["nodes"][:3]]) for v in serious] == []
    page.emulate_media(color_scheme="light")


def test_a_star_is_kept_in_the_settings(page, server):
    star = page.locator("#p1-lettuce-leaf .star")
    page.locator("[data-for=p1-rows] [data-do=show]").select_option("")
    star.wait_for()
    on = star.get_attribute("aria-pressed") == "true"
    with page.expect_response("**/mine"):
        star.click()
    assert ("lettuce (leaf)" in recall().mine) is not on
    other = page.context.new_page()  # a second tab sees what the first has done
    other.goto(server.here)
    other.wait_for_selector("html.unpacked", state="attached")
    other.locator("[data-for=p1-rows] [data-do=show]").select_option("")
    assert other.locator("#p1-lettuce-leaf .star").get_attribute("aria-pressed") == str(not on).lower()
    other.close()
    with page.expect_response("**/mine"):
        star.click()
    assert ("lettuce (leaf)" in recall().mine) is on


def test_a_tick_writes_the_log_and_is_taken_back(page):
    before = log()
    box = page.locator('#p1 .jobs input:not([data-event="picked"])').first
    crop, event = box.get_attribute("data-crop"), box.get_attribute("data-event")
    box.focus()
    with page.expect_response("**/log"):
        page.keyboard.press("Space")
    (new,) = log()[len(before) :]
    assert (new.crop, new.event, new.date.isoformat()) == (crop, event, DAY)
    with page.expect_response("**/log/undo"):
        box.uncheck()
    assert log() == before
    with page.expect_response("**/log"):
        box.check()
    SeasonLog.open(log_path("sallowdene")).append("tank", amount=5, date=DAY)  # another window writes
    with page.expect_response("**/log/undo"):
        box.click()
    says(page, "#bench-said", "another line")
    assert box.is_checked()
    assert len(log()) == len(before) + 2
    for _ in range(2):
        SeasonLog.open(log_path("sallowdene")).undo()


def jobs_shown(page):
    boxes = "all => all.map(b => [b.checked, b.dataset.crop, b.dataset.event])"
    return [tuple(found) for found in page.locator("#p1 .jobs input").evaluate_all(boxes)]


def test_today_follows_a_tick(page, server):
    """Jobs of the crop that is sown go, as in the command's week; the tick stays, can be taken back, has the focus."""
    box = page.locator('#p1 .jobs input[data-crop="courgette"]').first
    ticked = (True, box.get_attribute("data-crop"), box.get_attribute("data-event"))
    others = [one for one in jobs_shown(page) if one[1] == "courgette"]
    assert len(others) > 1
    page.locator("#p1-work > summary").click()
    box.focus()
    with page.expect_response("**/today"):
        page.keyboard.press("Space")
    count = len([j for j in answer(page, server, "week.json")["jobs"] if j["crop"] in CROPS])
    said = f"{count} jobs are" if count > 1 else "1 job is" if count else "Nothing is"
    says(page, "#p1-said", said)
    assert [one for one in jobs_shown(page) if one[1] == "courgette"] == [ticked]
    assert sum(not done for done, *_ in jobs_shown(page)) == count
    assert page.evaluate("document.activeElement.dataset.crop") == "courgette"
    page.locator("#p1-work[open] > :not(summary, noscript)").first.wait_for()  # all of the work is told anew
    with page.expect_response("**/today"):
        page.keyboard.press("Space")
    page.locator('#p1 .jobs input[data-crop="courgette"]').nth(len(others) - 1).wait_for()
    assert [one for one in jobs_shown(page) if one[1] == "courgette"] == others
    assert log() == ()


def test_stored_water_of_a_crop_is_followed_when_its_row_is_seen(page, server):
    page.locator("[data-for=p1-rows] [data-do=show]").select_option("")
    page.locator("#p1-leek .when").wait_for()
    page.locator("[data-do=water]").focus()
    page.keyboard.press("End")
    (line,) = sowing_chart("sallowdene", ["leek"], most_water=100.0).crops
    words = {"sown outdoors": "sow outdoors", "set out": "set out", "planted": "plant"}
    spans = [(words[s.way], [span_text(w.start, w.end) for w in s.windows]) for s in line.starts if s.windows]
    says(page, "#p1-leek .when", "; ".join(f"{way} {', '.join(when)}" for way, when in spans))
    page.locator("[data-do=reset]").click()


def test_a_second_place_is_held_beside(page, server):
    """The sentence is that of the command; it stands first, outlasts a reload, and goes when told to."""
    form = page.locator("form[data-send='place/beside']")
    page.locator("#bench-place > summary").click()
    broken = server.folder / "broken.toml"
    where = 'name = "Broken"\nlatitude = 38.4\nlongitude = -8.1\nelevation = 80\n'
    broken.write_text(f'{where}[weather]\nsource = "file"\nfile = "no.csv"\n', encoding="utf-8")
    page.goto(server.here)
    page.locator("#bench-place > summary").click()
    form.locator("select").select_option("broken.toml")
    form.get_by_role("button").click()
    says(page, "form[data-send='place/beside'] .came.refused", "no.csv")
    form.locator("select").select_option("wrackhythe")
    form.get_by_role("button").click()
    page.locator("main > section:first-child#compare").wait_for(timeout=60_000)
    found = compare_sites("sallowdene", "wrackhythe", recall().mine or UNSAID_CROPS)
    says(page, "#compare .lead", closing_sentence(found))
    page.locator("#compare > details > summary").click()
    page.locator("#compare > details svg").first.wait_for()
    broken.unlink()
    page.goto(server.here)
    assert page.locator("nav a").first.get_attribute("href") == "#compare"
    page.get_by_role("button", name="Leave the second place away").click()
    page.locator("#compare").wait_for(state="detached")


def test_a_sowing_is_logged_and_the_season_told(page, server):
    form = page.locator("#log form")
    form.get_by_label("What was done").select_option("set out")
    form.get_by_label("Crop").fill("courgette")
    form.get_by_label("Day").fill("2019-05-01")
    form.get_by_label("Plants").fill("6")
    form.get_by_role("button", name="Write it down").press("Enter")
    says(page, "#log .came", "Written down")
    assert log()[-1].cells() == ["2019-05-01", "set out", "courgette", "", "", "6", "", ""]
    (now,) = answer(page, server, "season.json")["sowings"]
    told = page.locator("#log").inner_text()
    day = int(now["first_picking"]["p50"][8:])
    assert f"pick {day} " in told
    form.get_by_label("Crop").fill("no such crop")
    form.get_by_role("button", name="Write it down").click()
    says(page, "#log .came", "no such crop")
    assert len(log()) == 1
    page.get_by_role("button", name="Take the last line back").click()
    says(page, "#log", "Nothing is written down")
    assert log() == ()


def test_what_ifs_stand_beside_the_old_answer(page, server):
    """Dates now and then are those of the charts with and without the change."""
    page.locator("[data-change=shade-cloth]").press("Enter")
    page.wait_for_selector("#tried > p")
    crop = "leek"
    told = page.locator("#tried li", has=page.locator("b", has_text=crop)).first.inner_text()
    for word, changes in (("now", ()), ("then", ("shade-cloth",))):
        (line,) = sowing_chart("sallowdene", [crop], what_ifs=changes).crops
        for start in (s for s in line.starts if s.windows):
            dates = ", ".join(span_text(w.start, w.end) for w in start.windows)
            assert f"{start.way} {dates}" in told, word
    page.locator("[data-change=shade-cloth]").click()
    page.locator("#tried > p").wait_for(state="detached")


def test_the_month_shows_what_stands_in_each_bed(page, server):
    plan = answer(page, server, "garden.json")
    for month in (0, 5, 9):
        page.locator(".board .month input").fill(str(month))
        day = MONTH_STARTS[month] + (MONTH_LENGTHS[month] >> 1)
        for number, bed in enumerate(plan["beds"]):
            spans = [(c["crop"], day_of_year(c["from"]), day_of_year(c["to"])) for c in bed["crops"]]
            stand = sorted(crop for crop, a, b in spans if (day - a) % 365 <= (b - a) % 365)
            shown = page.locator(".bed").nth(number).locator(".plot:visible").all_inner_texts()
            assert sorted(shown) == stand, (month, bed["name"])
    box = page.locator(".bed").first.locator(".ground").bounding_box()
    assert box["width"] / box["height"] == pytest.approx(10 / 1.2, rel=0.05)  # to scale


def starts_of(server):
    found = tomllib.loads((server.folder / "sallowdene.garden.toml").read_text(encoding="utf-8"))
    return {(s["crop"], s["day"]) for s in found.get("starts", [])}


def test_a_sowing_is_moved_by_keyboard_and_by_dragging(page, server):
    """The file has the new day, the plan is reckoned anew, and no bed is fuller than it is large."""
    open_beds(page)
    handle = row(page, "courgette").locator(".handle")
    day = int(handle.get_attribute("aria-valuenow"))
    handle.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Escape")
    assert int(handle.get_attribute("aria-valuenow")) == day
    page.keyboard.press("ArrowLeft")
    with page.expect_response("**/garden/move"):
        page.keyboard.press("Enter")
    page.wait_for_selector(".board .answer p")
    assert "courgette" in page.locator(".board .answer").inner_text()
    assert int(row(page, "courgette").get_attribute("data-start")) == day - 7
    assert page.evaluate("document.activeElement.getAttribute('aria-label')").startswith("courgette")
    assert {crop for crop, _ in starts_of(server)} == {"courgette"}

    handle = row(page, "courgette").locator(".handle")
    handle.scroll_into_view_if_needed()
    box, track = handle.bounding_box(), row(page, "courgette").locator(".track").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + track["width"] * 21 / 365, y, steps=4)
    with page.expect_response("**/garden/move"):
        page.mouse.up()
    page.locator(f'.stay[data-crop=courgette][data-start="{day + 14}"]').wait_for(state="attached")
    plan = answer(page, server, "garden.json")
    assert all(bed["most_m2_any_day"] <= bed["size_m2"] + 0.01 for bed in plan["use"])
    froms = {day_of_year(c["from"]) for bed in plan["beds"] for c in bed["crops"] if c["crop"] == "courgette"}
    assert froms == {day + 14}
    with page.expect_response("**/garden/free"):
        page.get_by_role("button", name="courgette: the advised dates again").click()
    page.locator(f'.stay[data-crop=courgette][data-start="{day}"]').wait_for(state="attached")
    assert starts_of(server) == set()


def test_a_day_that_brings_nothing_is_refused_and_nothing_is_written(page, server):
    before = (server.folder / "sallowdene.garden.toml").read_bytes()
    open_beds(page)
    handle = row(page, "courgette").locator(".handle")
    handle.focus()
    for _ in range(26):
        page.keyboard.press("ArrowRight")
    with page.expect_response("**/garden/move") as told:
        page.keyboard.press("Enter")
    assert told.value.status == 422
    says(page, ".board .answer", "in no year")
    assert handle.get_attribute("aria-valuenow") == row(page, "courgette").get_attribute("data-start")
    assert (server.folder / "sallowdene.garden.toml").read_bytes() == before


def test_a_place_is_chosen_described_and_brought(page, server, tmp_path):
    """A bundled plot; a place by an almanac's normals; one by a record of its own; a garden begun there."""
    page.locator("#bench-place > summary").click()
    page.locator("form[data-send='place/choose'] select").select_option("wrackhythe")
    page.get_by_role("button", name="Take this place").click()
    page.wait_for_selector("h2:has-text('Wrackhythe')", timeout=60_000)
    assert recall().here == "wrackhythe"

    page.locator("#bench-place > summary").click()
    form = page.locator("form[data-send='place/describe']")
    record = tmp_path / "my days.csv"
    days = [dt.date(2001, 1, 1) + dt.timedelta(days=k) for k in range(4017)]
    warmth = [10 - 6 * math.cos(2 * math.pi * day.timetuple().tm_yday / 365) for day in days]
    lines = ["date,tmin_degC,tmax_degC", *(f"{d},{w:.1f},{w + 11:.1f}" for d, w in zip(days, warmth, strict=True))]
    record.write_text("\n".join(lines) + "\n", encoding="utf-8")
    form.get_by_label("What is it called?").fill("Upper <b>terrace</b>")
    form.get_by_label("Latitude, longitude").fill("38.4; -8.1")
    form.get_by_label("Height above the sea").fill("85")
    dropped = page.evaluate_handle(
        "text => { const held = new DataTransfer(); held.items.add(new File([text], 'my days.csv')); return held; }",
        record.read_text(encoding="utf-8"),
    )
    page.dispatch_event("body", "drop", {"dataTransfer": dropped})
    says(page, "form[data-send='place/describe'] .came", "my days.csv is taken in")
    form.get_by_role("button", name="Write the place").click()
    says(page, "form[data-send='place/describe'] .came", "38.4;")
    form.get_by_label("Latitude, longitude").fill("38.4, -8.1")
    form.get_by_role("button", name="Write the place").click()
    page.wait_for_selector("h2:has-text('Upper <b>terrace</b>')", timeout=60_000)
    site = read_site_file(recall().here)
    assert (site.name, site.latitude, site.weather["file"]) == ("Upper <b>terrace</b>", 38.4, "my days.csv")
    assert (server.folder / "my days.csv").read_bytes() == record.read_bytes()

    tools = page.locator("#garden form")
    tools.get_by_label("What is it called?").fill("Kitchen garden")
    tools.get_by_label("Beds").fill("2")
    tools.get_by_role("button").click()
    page.wait_for_selector(".board .bed", timeout=60_000)
    assert page.locator(".bed").count() == 2
    assert (server.folder / f"{Path(recall().here).stem}.garden.toml").is_file()

    page.locator("#bench-place > summary").click()
    page.locator("form[data-send='place/choose'] select").select_option("sallowdene")
    page.get_by_role("button", name="Take this place").click()
    page.wait_for_selector("h2:has-text('Sallowdene')", timeout=60_000)


def test_one_sheet_is_printed(page, tmp_path):
    page.pdf(path=tmp_path / "p.pdf", format="A4")
    assert (tmp_path / "p.pdf").read_bytes().count(b"/Type /Page\n") == 1
    page.emulate_media(media="print")
    assert not page.locator(".bench").is_visible()
    assert not page.locator("#garden").is_visible()
    page.emulate_media(media="screen")


def test_picture_of_the_garden(page, tmp_path):
    """The picture that the README shows; SOWCAL_PICTURES=1 makes it anew."""
    page.set_viewport_size({"width": 1200, "height": 760})
    page.emulate_media(reduced_motion="reduce")
    page.locator(".board .month input").fill("5")
    page.locator(".bed details summary").first.click()
    page.evaluate("document.querySelector('#garden').scrollIntoView()")
    to = PICTURES if os.environ.get("SOWCAL_PICTURES") == "1" else tmp_path
    page.screenshot(path=to / "garden.png")
    for picture in (to / "garden.png", PICTURES / "garden.png"):
        head = picture.read_bytes()[:24]
        assert (int.from_bytes(head[16:20]), int.from_bytes(head[20:24])) == (1200, 760)


def test_it_is_ended_from_the_page(page, server):
    """The last test here: nothing answers after it."""
    page.get_by_role("button", name="End sowcal").click()
    says(page, "#bench-said", "ended")
    server.thread.join(20)
    assert not server.thread.is_alive()
