"""Pages made once for every test, and a real browser where there is one."""

from __future__ import annotations

import datetime as dt
import os
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from sowcal import compare_sites, rate_crops, site_climate
from sowcal.outputs.page import Place, page_text

ISSUED = dt.date(2026, 3, 4)
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


def place_of(site: str, crops: tuple[str, ...] = ()) -> Place:
    chart, verdicts = rate_crops(site, crops)
    return Place(chart, tuple(verdicts), site_climate(site))


@pytest.fixture(scope="session")
def places() -> list[Place]:
    """Both bundled plots, whole handbook."""
    return [place_of("sallowdene"), place_of("wrackhythe")]


@pytest.fixture(scope="session")
def both(places) -> str:
    return page_text(
        places, issued=ISSUED, comparison=compare_sites("sallowdene", "wrackhythe"), sources=("A. Grower 1999",)
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
    return page_text([Place(chart, (verdict,), climate)], issued=ISSUED, sources=(HOSTILE,))


@pytest.fixture(scope="session")
def chromium():
    """Headless Chromium, driven by Playwright."""
    api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: no browser tests")
    found = os.environ.get("SOWCAL_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    if not found:
        pytest.skip("no Chromium found (Debian's package chromium, or SOWCAL_CHROMIUM): no browser tests")
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
        pytest.skip(f"axe-core is not at {named or 'node_modules'}: `npm install axe-core`, or set SOWCAL_AXE")
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
