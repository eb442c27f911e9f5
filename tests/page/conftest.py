"""Pages made once for every test, and a real browser where there is one."""

from __future__ import annotations

import datetime as dt
import os
import shutil
from dataclasses import replace
from pathlib import Path
from typing import NoReturn

import pytest

from sowcal import compare_sites, open_handbook, rate_crops, site_climate
from sowcal.answers import open_record, windows_by_water
from sowcal.climate.frost import days_ahead
from sowcal.outputs.page import Place, page_text
from sowcal.outputs.page_script import steps_for_page
from sowcal.suitability.week import week_of

ISSUED = dt.date(2026, 3, 4)
WEEK = 123  # day of the year with which the week begins: 4 May
HOSTILE = "</title><script>alert('a')</script><img src=x onerror=alert(1)>\" onload=\"x & \x00\u202e'</script>"
ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def without(why: str, mend: str) -> NoReturn:
    """Skip what needs a browser; fail instead where SOWCAL_REQUIRE_BROWSER=1 says that one must be there."""
    said = f"{why}, so the page is not tried in a browser: {mend}"
    if os.environ.get("SOWCAL_REQUIRE_BROWSER", "") not in ("", "0"):
        pytest.fail(f"SOWCAL_REQUIRE_BROWSER is set, but {said}", pytrace=False)
    pytest.skip(said)


RELIABILITIES, LEAST_YIELDS = (0.6, 0.8, 0.9), (0.3, 0.5, 0.7)  # fewer steps than the command has: they take its time
WATERED, WATERS = (
    ("courgette", "leek", "broad bean"),
    (150.0, 0.0),
)  # on litres per m2
ASKED = {"settings": None, "what_ifs": (), "years": "", "issued": ISSUED, "crop_files": ()}


def place_of(site: str, crops: tuple[str, ...] = ()) -> Place:
    chart, verdicts = rate_crops(site, crops)
    asked = {**ASKED, "rain_fed": False, "told": steps_for_page(1)}
    (steps,) = windows_by_water(site, crops, RELIABILITIES, LEAST_YIELDS, (None,), **asked)
    dry = windows_by_water(site, WATERED, RELIABILITIES, LEAST_YIELDS, WATERS, **asked)
    weather = open_record(site)[1]
    ahead = days_ahead(weather["tasmin"], weather["tasmax"], weather.time, WEEK)
    return Place(
        chart,
        tuple(verdicts),
        site_climate(site),
        week=week_of(chart, WEEK, 1),
        ahead=ahead,
        steps=steps,
        water=tuple(zip(WATERS, dry, strict=True)),
    )


def _names_of(crops) -> dict[str, list[str]]:
    """Names of the handbook in all languages, by crop."""
    book = open_handbook()
    rows = book.rows("names")
    return {
        c: sorted(
            {r["name"] for r in rows if r["crop"] in (c, book[c].kind)} | {*book[c].synonyms, book[c].botanical_name}
        )
        for c in crops
    }


@pytest.fixture(scope="session")
def first_place(answers_of_this_run) -> Place:
    """One bundled plot, whole handbook."""
    with answers_of_this_run():
        return place_of("sallowdene")


@pytest.fixture(scope="session")
def places(first_place, answers_of_this_run) -> list[Place]:
    """Both bundled plots, whole handbook."""
    with answers_of_this_run():
        return [first_place, place_of("wrackhythe")]


@pytest.fixture(scope="session")
def comparison(answers_of_this_run):
    """The whole handbook at one plot beside the other."""
    with answers_of_this_run():
        return compare_sites("sallowdene", "wrackhythe")


@pytest.fixture(scope="session")
def both(places, comparison) -> str:
    return page_text(
        places,
        issued=ISSUED,
        comparison=comparison,
        sources=("A. Grower 1999",),
        names=_names_of([line.crop for line in places[0].chart.crops]),
    )


@pytest.fixture(scope="session")
def hostile(places) -> str:
    """A page on which every text that a file may bring tries to break out."""
    place = places[0]
    lines = [
        replace(line, crop=HOSTILE, family=HOSTILE, cautions=(HOSTILE,), notes=(HOSTILE,))
        for line in place.chart.crops[:1]
    ]
    verdict = replace(
        next(v for v in place.verdicts if v.crop == place.chart.crops[0].crop), crop=HOSTILE, cautions=(HOSTILE,)
    )
    chart = replace(place.chart, site=HOSTILE, crops=tuple(lines), warnings=(HOSTILE,), not_judged=(HOSTILE,))
    climate = replace(place.climate, site=HOSTILE, notes=(HOSTILE,), hardiness_zone=HOSTILE)
    names = {HOSTILE: (HOSTILE,)}
    steps = replace(place.steps, ways={HOSTILE: next(iter(place.steps.ways.values()))})
    week = replace(place.week, jobs=tuple(replace(j, crop=HOSTILE) for j in place.week.jobs[:3]))
    shown = Place(chart, (verdict,), climate, week=week, steps=steps)
    return page_text([shown], issued=ISSUED, sources=(HOSTILE,), mine=(HOSTILE,), names=names)


@pytest.fixture(scope="session")
def chromium():
    """Headless Chromium, driven by Playwright."""
    try:
        from playwright import sync_api as api
    except ImportError:
        without("the package playwright is not installed", "python -m pip install playwright")
    named = os.environ.get("SOWCAL_CHROMIUM")
    found = shutil.which(named) if named else shutil.which("chromium") or shutil.which("chromium-browser")
    if not found:
        where = f"SOWCAL_CHROMIUM names {named}, which is no program" if named else "no Chromium is on the path"
        without(where, "install Debian's package chromium, or name a browser in SOWCAL_CHROMIUM")
    with api.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=found, args=list(ARGUMENTS))
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def axe() -> str:
    """The script of axe-core, from the npm package of that name."""
    root = Path(__file__).parents[2]
    named = os.environ.get("SOWCAL_AXE")
    path = Path(named) if named else root / "node_modules" / "axe-core" / "axe.min.js"
    if not path.is_file():
        without(f"there is no axe-core at {path}", "npm install axe-core, or name its axe.min.js in SOWCAL_AXE")
    return path.read_text(encoding="utf-8")


class Opened:
    """One page in one window, with all that it said and asked for."""

    def __init__(self, browser, path: Path, width: int, scheme: str = "light"):
        self.said: list[str] = []
        self.asked: list[str] = []
        self.context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
        self.page = self.context.new_page()
        self.page.on("console", lambda m: self.said.append(m.text))
        self.page.on("pageerror", lambda e: self.said.append(str(e)))
        self.page.on("dialog", lambda d: (self.said.append(d.message), d.dismiss()))
        self.page.on("request", lambda r: self.asked.append(r.url))
        self.page.goto(path.as_uri())
        if "data-start" in path.read_text(encoding="utf-8")[:50_000]:
            self.page.wait_for_selector("html.unpacked", state="attached")


@pytest.fixture
def opened(chromium, both, hostile, tmp_path):
    """A function that opens a page by name at a width."""
    windows = []

    def one(which: str = "both", width: int = 1200, scheme: str = "light") -> Opened:
        path = tmp_path / f"{which}.html"
        path.write_bytes({"both": both, "hostile": hostile}[which].encode("utf-8"))
        windows.append(Opened(chromium, path, width, scheme))
        return windows[-1]

    yield one
    for window in windows:
        window.context.close()


@pytest.fixture
def opened_text(chromium, tmp_path):
    """A function that opens any page's text at a width."""
    windows = []

    def one(text: str, width: int = 1200, scheme: str = "light") -> Opened:
        path = tmp_path / "page.html"
        path.write_bytes(text.encode("utf-8"))
        windows.append(Opened(chromium, path, width, scheme))
        return windows[-1]

    yield one
    for window in windows:
        window.context.close()


@pytest.fixture(scope="session")
def page_with():
    """A function that makes the page of one crop at one plot with a garden."""
    place = place_of("sallowdene", ("courgette",))
    return lambda garden=None: page_text([place], issued=ISSUED, garden=garden)


@pytest.fixture(scope="session")
def hostile_word() -> str:
    return HOSTILE


@pytest.fixture(scope="session")
def names_of():
    return _names_of
