"""The page as text: whole, the same each time, small, closed to the network, and safe from what files say."""

from __future__ import annotations

import argparse
import base64
import datetime as dt
import hashlib
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from sowcal.commands.page import run
from sowcal.errors import InputError
from sowcal.outputs.page import page_text
from sowcal.outputs.page_html import tag

VOID = {"meta", "input", "br", "link"}


class Reader(HTMLParser):
    """The standard library's reader: elements in their nesting, ids, links and text."""

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
def read(both):
    return Reader(both)


def test_same_bytes_on_a_second_run(places, both):
    from sowcal import compare_sites

    again = page_text(
        places,
        issued=dt.date(2026, 3, 4),
        comparison=compare_sites("sallowdene", "wrackhythe"),
        sources=("A. Grower 1999",),
    )
    assert again == both
    assert "4 March 2026" in both


def test_two_whole_places_stay_under_two_megabytes(both):
    assert len(both.encode("utf-8")) < 2_000_000


def test_elements_nest_and_ids_are_unique(read):
    assert not read.faults
    assert not read.open
    ids = [a["id"] for _, a in read.elements if "id" in a]
    assert len(ids) == len(set(ids))
    for attrs in [*read.all("a"), *read.all("use")]:
        assert attrs["href"].removeprefix("#") in ids


def test_every_crop_stands_on_the_page(places, read):
    text = "".join(read.words)
    for place in places:
        for line in place.chart.crops:
            assert line.crop in text
        for verdict in place.verdicts:
            assert verdict.word in text


def test_windows_stand_in_words(places, both):
    from sowcal.outputs.days import span_text

    line = next(c for c in places[0].chart.crops if c.crop == "tomato (cherry)")
    (window,) = line.starts[0].windows
    assert f"<b>Set out {span_text(window.start, window.end)}</b>" in both
    assert f"{window.first_picking.days_after_start} days on" in both


def test_nothing_may_be_asked_for(both, read):
    (policy,) = [a["content"] for a in read.all("meta") if a.get("http-equiv") == "Content-Security-Policy"]
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy
    for element in ("style", "script"):
        (inner,) = re.findall(rf"<{element}>(.*?)</{element}>", both, flags=re.S)
        digest = base64.b64encode(hashlib.sha256(inner.encode("utf-8")).digest()).decode("ascii")
        assert f"{element}-src 'sha256-{digest}'" in policy
    assert not [a for _, a in read.elements if "src" in a or "style" in a or any(k.startswith("on") for k in a)]
    assert not re.search(r"url\(|@import", both)


def test_hostile_text_stays_text(hostile):
    read = Reader(hostile)
    assert not read.faults
    assert len(read.all("script")) == 1
    assert not read.all("img")
    assert not [a for _, a in read.elements if any(k.startswith("on") for k in a)]
    assert "\x00" not in hostile
    assert "\u202e" not in hostile
    assert "<script>alert('a')</script>" in "".join(read.words)  # shown, letter by letter, and never run


def test_markup_is_escaped_unless_it_is_markup():
    assert tag("p", "<b>", tag("b", "&"), title='"') == '<p title="&quot;">&lt;b&gt;<b>&amp;</b></p>'


def options(words, out, **more):
    asked = {"odds": 0.8, "least_yield": 0.5, "near_best": 0.75, "longest": 3.0, "what_ifs": [], "crop_files": []}
    more = {"first_month": 1, "tries": [], "issued": None, "garden": None, **more}
    return argparse.Namespace(words=words, out=out, **{**asked, **more})


def test_the_command_writes_one_file(tmp_path, capsys):
    out = tmp_path / "plot.html"
    assert run(options(["rhubarb", "carrot"], out, first_month=7)) == 0
    assert f"wrote {out}" in capsys.readouterr().err
    text = out.read_text(encoding="utf-8")
    assert 'id="months-7"' in text
    assert "rhubarb" in text
    assert [p.name for p in tmp_path.iterdir()] == ["plot.html"]


def test_a_plot_under_a_what_if_is_named_so(tmp_path):
    out = tmp_path / "plot.html"
    run(options(["sallowdene", "rhubarb"], out, what_ifs=["shade-cloth=40"]))
    assert "with 40 per cent shade cloth" in out.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "name", "said"),
    [
        (["sallowdene", "wrackhythe", "sallowdene"], "p.html", "one place or two"),
        (["nowhere.toml"], "p.html", "no file"),
        (["carrot"], "p.txt", ".html"),
        (["carrot"], None, "--out"),
    ],
)
def test_bad_calls_are_named(tmp_path, words, name, said):
    with pytest.raises(InputError, match=re.escape(said)):
        run(options(words, tmp_path / name if name else None))


def test_a_place_of_which_little_is_known(places):
    from sowcal.climate.summary_record import ClimateSummary
    from sowcal.outputs.page import Place
    from sowcal.suitability.results import CropVerdict

    chart = replace(places[0].chart, crops=())
    verdict = CropVerdict("mystery", None, "cannot say", None, None, {"unknown": ["ways of starting"]})
    page = page_text([Place(chart, (verdict,), ClimateSummary("Somewhere"))], issued=dt.date(2026, 3, 4))
    read = Reader(page)
    assert not read.faults
    text = "".join(read.words)
    assert "not known" in text
    assert "No crop fits what you asked for." in text
    assert "nan" not in re.sub(r"<style>.*?</style>|<script>.*?</script>", "", page, flags=re.S).lower().split()


def test_southern_year_begins_in_july(places):
    page = page_text(places[:1], issued=dt.date(2026, 3, 4), start_month=7)
    heads = page[page.index('class="months"') :]
    assert re.findall(r"<span>([A-Z])<span", heads)[:12] == list("JASONDJFMAMJ")
    assert 'data-start="7"' in page


def test_changes_tried_show_what_they_lift(tmp_path):
    """The page names exactly the crops whose word another run of the engine changes."""
    from sowcal import rate_crops

    crops = ["potato (maincrop)", "rhubarb", "runner bean", "carrot", "sweet pepper"]
    now = {v.crop: v.word for v in rate_crops("sallowdene", crops)[1]}
    then = {v.crop: v.word for v in rate_crops("sallowdene", crops, what_ifs=["higher=400"])[1]}
    moved = {c for c in crops if now[c] != then[c]}
    assert moved
    out = tmp_path / "plot.html"
    run(options(["sallowdene", *crops], out, tries=["higher=400"]))
    text = out.read_text(encoding="utf-8")
    section = text[text.index('id="p1-changes"') : text.index('id="sources"')]
    assert set(re.findall(r'<th scope="row">([^<]+)</th>', section)) == moved
