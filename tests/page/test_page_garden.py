"""The garden on the page: all its parts, safe from what a file says, small, readable by reader and browser."""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from sowcal import garden_plan
from sowcal.commands.page import page_command as run
from sowcal.commands.parser import parse
from sowcal.errors import InputError
from sowcal.garden.garden_file import Bed, WaterSupply, bundled_garden
from sowcal.garden.store import level_spread
from sowcal.outputs.document import page_section
from sowcal.outputs.garden_document import garden_document, garden_text
from sowcal.outputs.garden_pictures import level_picture

VOID = {"meta", "input", "br", "link"}


class Reader(HTMLParser):
    """The standard library's reader: elements, faults of nesting, and text."""

    def __init__(self, text):
        super().__init__()
        self.open, self.elements, self.faults, self.words = [], [], [], []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.faults.append(tag)

    def handle_data(self, data):
        self.words.append(data)

    def all(self, name):
        return [attrs for tag, attrs in self.elements if tag == name]


@pytest.fixture(scope="module")
def plan():
    return garden_plan("sallowdene")


@pytest.fixture(scope="module")
def text(plan, page_with):
    return page_with(plan)


def _section(plan):
    return page_section(garden_document(plan), "garden")


def test_every_part_stands_on_the_page(plan, text):
    read = Reader(text)
    assert not read.faults
    ids = [a["id"] for _, a in read.elements if "id" in a]
    assert len(ids) == len(set(ids))
    for part in ("plants", "beds", "water", "store", "choices", "gravity", "hand", "cautions"):
        assert f"garden-{part}" in ids
    assert {"href": "#garden", "class": "first"} in read.all("a")
    words = "".join(read.words)
    for line in plan.plants:
        assert line.crop in words
    for caution in plan.cautions:
        assert caution in words.replace("°C", "degC")
    pictures = [a for a in read.all("svg") if a.get("role") == "img" and "itre" in a["aria-label"]]
    assert len(pictures) == 3  # water drawn, the level of the tank, and what changes would do


def test_screen_and_page_say_the_same(plan, text):
    words = " ".join("".join(Reader(text).words).split()).replace("m²", "m2")
    for line in garden_text(plan, width=200, everything=True).splitlines():
        said = line.removeprefix("- ").strip()
        if line.startswith("- ") and len(said) < 150:  # a longer one is broken over lines
            assert said in words


def test_the_section_is_small_and_the_same_each_time(plan):
    section = _section(plan)
    assert len(section.encode("utf-8")) < 60_000
    assert section == _section(plan)


def test_no_name_in_a_garden_file_breaks_out(page_with, hostile_word):
    garden = bundled_garden()
    beds = (Bed(hostile_word, 10, 1.2), *garden.beds[1:3])
    found = garden_plan(replace(garden, name=hostile_word, beds=beds))
    read = Reader(page_with(found))
    assert not read.faults
    assert len(read.all("script")) == len(Reader(page_with()).all("script"))
    assert not [a for _, a in read.elements if any(k.startswith("on") for k in a)]


@pytest.mark.parametrize("change", [{"beds": ()}, {"water": WaterSupply()}, {"water": WaterSupply(method="hand")}])
def test_gardens_that_lack_something(change):
    found = garden_plan(replace(bundled_garden(), **change))
    read = Reader(page_section(garden_document(found, 9), "garden"))
    assert not read.faults
    assert "nan" not in "".join(read.words).lower()


def test_the_level_drawn_is_the_level_followed():
    # half full all year: the median runs level half way up between the bottom (158) and the top (10)
    picture = level_picture(level_spread(np.full((3, 365), 500.0)), 1000.0, 1, "half full")
    assert "M44 84L353.2 84" in picture
    assert level_picture(level_spread(np.full((3, 365), np.nan)), 1000.0, 1, "") is None
    assert level_picture(level_spread(np.full((3, 365), 0.0)), 0.0, 1, "") is None


def test_command_takes_the_garden_and_its_site(tmp_path, capsys):
    out = tmp_path / "plot.html"
    assert run(parse(["page", "--garden", "sallowdene", "--out", str(out), "courgette"])) == 0
    page = out.read_text(encoding="utf-8")
    assert "Kitchen garden at Sallowdene (invented)" in page
    assert "What grows at Sallowdene" in page
    with pytest.raises(InputError, match="is no garden"):
        run(parse(["page", "--garden", "nowhere", "--out", str(out)]))
    assert isinstance(parse(["page"]), argparse.Namespace)
    capsys.readouterr()


@pytest.mark.parametrize("width", [360, 1200])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_in_a_browser(opened_text, axe, text, width, scheme):
    window = opened_text(text, width, scheme)
    assert window.page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") == 0
    window.page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    window.page.evaluate(axe)
    found = window.page.evaluate(
        "axe.run('#garden').then(r => r.violations.map(v => [v.id, v.nodes.map(n => n.html)]))"
    )
    assert found == [], json.dumps(found, indent=1)
    assert window.said == []


def test_sowings_of_one_crop_that_are_picked_together_are_a_glut(plan):
    """Set out a week after the other it is picked with it on most days, which are counted here anew; as the plan has
    them, months apart, no sowing is."""
    from sowcal.commands.open_desk import picked_together

    assert [told for s in plan.sowings for told in picked_together(plan.sowings, s)] == []
    one, two = (s for s in plan.sowings if s.crop.name == "basil")
    later = replace(two, start=one.start + 7)
    picked = [np.arange(s.start + np.nanmedian(s.first), s.start + np.nanmedian(s.last) + 1) for s in (one, later)]
    (told,) = picked_together((one, later, plan.sowings[0]), later)
    assert told.startswith(f"For {len(np.intersect1d(*picked))} days")
    assert "24 May" in told
    assert picked_together((one,), one) == []
