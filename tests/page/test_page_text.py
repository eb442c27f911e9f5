"""The page as text: whole, the same each time, small, closed to the network, and safe from what files say."""

from __future__ import annotations

import argparse
import base64
import datetime as dt
import hashlib
import json
import re
import zlib
from dataclasses import asdict, replace
from html.parser import HTMLParser

import numpy as np
import pytest

from sowcal import Settings, open_handbook, sowing_chart, sowing_week
from sowcal.commands.page import page_command as run
from sowcal.errors import InputError
from sowcal.outputs.document import tag
from sowcal.outputs.page import page_text
from sowcal.outputs.reports import job_sentence

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


def test_same_bytes_on_a_second_run(places, comparison, both, names_of):
    """Of what it is given; that all of it is reckoned alike twice is tests/hard/test_same_bytes.py's to say."""
    again = page_text(
        places,
        issued=dt.date(2026, 3, 4),
        comparison=comparison,
        sources=("A. Grower 1999",),
        names=names_of([line.crop for line in places[0].chart.crops]),
    )
    assert again == both
    assert "4 March 2026" in both


def test_two_whole_places_stay_under_two_megabytes(both):
    assert len(both.encode("utf-8")) < 2_200_000


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
    from sowcal.year import span_text

    line = next(c for c in places[0].chart.crops if c.crop == "tomato (cherry)")
    (window,) = line.starts[0].windows
    assert f"<b>Set out {span_text(window.start, window.end)}: </b>" in both
    assert f"{window.first_picking.days_after_start} days on" in both


def test_nothing_may_be_asked_for(both, read):
    (policy,) = [a["content"] for a in read.all("meta") if a.get("http-equiv") == "Content-Security-Policy"]
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy
    said = dict(part.strip().split(" ", 1) for part in policy.split(";"))
    for element, count in (("style", 1), ("script", 2)):
        found = re.findall(rf"<{element}>(.*?)</{element}>", both, flags=re.S)
        digests = [base64.b64encode(hashlib.sha256(inner.encode("utf-8")).digest()).decode("ascii") for inner in found]
        assert said[f"{element}-src"] == " ".join(f"'sha256-{digest}'" for digest in digests)
        assert len(found) == count
    assert not [a for _, a in read.elements if "src" in a or "style" in a or any(k.startswith("on") for k in a)]
    assert not re.search(r"url\(|@import", both)


def test_hostile_text_stays_text(hostile):
    read = Reader(hostile)
    assert not read.faults
    assert [a for a in read.all("script") if a.get("type") != "application/json"] == [{}, {}]
    assert len(read.all("script")) == 3
    assert not read.all("img")
    assert not [a for _, a in read.elements if any(k.startswith("on") for k in a)]
    assert "\x00" not in hostile
    assert "\u202e" not in hostile
    assert "<script>alert('a')</script>" in "".join(read.words)  # shown, letter by letter, and never run


def test_markup_is_escaped_unless_it_is_markup():
    assert tag("p", "<b>", tag("b", "&"), title='"') == '<p title="&quot;">&lt;b&gt;<b>&amp;</b></p>'


def options(words, out, **more):
    asked = {**asdict(Settings()), "what_ifs": [], "crop_files": []}  # as the parser leaves them
    water = {"most_water": None, "rain_fed": False}
    more = {"first_month": 1, "tries": [], "issued": None, "garden": None, "years": "", "week": None, **water, **more}
    return argparse.Namespace(words=words, out=out, **{**asked, **more})


def test_the_command_writes_one_file(tmp_path, capsys):
    out = tmp_path / "plot.html"
    assert run(options(["rhubarb", "carrot"], out, first_month=7)) == 0
    assert f"wrote {out}" in capsys.readouterr().err
    text = out.read_text(encoding="utf-8")
    assert 'id="months-7"' in text
    assert "rhubarb" in text
    assert [p.name for p in tmp_path.iterdir()] == ["plot.html"]


def _today(text):
    """From the heading of today to that of the year."""
    return text[text.index('id="p1-week">Today: ') : text.index('id="p1-chart"')]


def test_the_week_stands_first_as_the_command_tells_it(tmp_path):
    """Three sentences, the ten foremost jobs to tick, and every job behind a fold, as a chart asked apart has them."""
    crops = ["courgette", "broad bean", "tomato (large)", "carrot", "leek", "kale", "beetroot"]
    chart = sowing_chart("sallowdene", crops)  # under the settings that `options` asks for
    week = sowing_week(chart, dt.date(2026, 5, 4), ahead=1)
    assert len({j.job for j in week.jobs}) > 2
    out = tmp_path / "plot.html"
    run(options(["sallowdene", *crops], out, week="2026-05-04"))
    told = _today(out.read_text(encoding="utf-8"))
    assert told.count('class="said"') == 3
    assert 'id="p1-week">Today: the week of 4 May to 10 May</h3>' in told
    ticked = re.findall(r'<input type="checkbox" data-crop="([^"]+)" data-event="([^"]+)">', told)
    assert [crop for crop, _ in ticked] == [j.crop for j in week.jobs[:10]]
    assert f">{len(week.jobs)} jobs are open for your crops" in told
    for job in week.jobs:
        assert job.crop in told
        if job.chance in ("only", "last", "first") and job.job != "pick":
            assert job_sentence(job) in told
    assert not {c for c in crops if c in told} - {j.crop for j in (*week.jobs, *week.coming)}
    with pytest.raises(InputError, match="--week 'May' is no date"):
        run(options(["sallowdene"], out, week="May"))


def test_without_a_date_today_is_the_day_of_issue(tmp_path):
    out = tmp_path / "plot.html"
    run(options(["sallowdene", "carrot", "kale"], out, issued="2026-09-07"))
    assert 'id="p1-week">Today: the week of 7 Sep to 13 Sep</h3>' in out.read_text(encoding="utf-8")


def test_frost_and_heat_ahead_are_those_of_the_record(tmp_path):
    """Counted again, year by year, from the days that the site's record holds."""
    from sowcal.answers import open_record

    record = open_record("sallowdene")[1]
    frost = hot = years = 0
    for year in range(1991, 2021):
        first = np.flatnonzero(record.time == np.datetime64(f"{year}-03-20"))[0]
        low, high = (record[name][first : first + 14] for name in ("tasmin", "tasmax"))
        years, frost, hot = years + 1, frost + bool((low < 0).any()), hot + bool((high > 30).any())
    assert 0 < frost < years
    out = tmp_path / "plot.html"
    run(options(["sallowdene", "carrot"], out, week="2026-03-20"))
    above = hot or "no year"
    said = f"In the 14 days from 20 Mar there was frost in {frost} of {years} years, and a day above 30 °C in {above}."
    assert said in out.read_text(encoding="utf-8")


def test_the_page_stands_in_the_order_in_which_it_is_used(both, tmp_path):
    marks = ['id="compare"', 'id="p1"', 'id="p1-week"', 'id="p1-chart"', 'id="p1-perennials"', 'id="p1-place"']
    marks += ['id="p2"', 'id="p2-week"', 'id="else"', 'id="p1-all"', 'id="sources"']
    body = both[both.index("<main") :]
    places = [body.index(mark) for mark in marks]
    assert places == sorted(places)


def test_named_crops_are_all_there_is_and_remembered_ones_starred_among_all(tmp_path, monkeypatch):
    from sowcal.commands import common
    from sowcal.saved_settings import UNSAID_CROPS, Remembered

    out = tmp_path / "plot.html"
    run(options(["sallowdene", "carrot", "kale"], out))
    text = out.read_text(encoding="utf-8")
    assert _data(text)["mine"] == ["carrot", "kale"]
    assert text.count("<noscript data-name=") == 2
    mine = UNSAID_CROPS[::-1]  # a list as long as the usual one, for stored water of its crops stands in the file
    kept = Remembered(here="", mine=mine, path=tmp_path / "settings.toml")
    monkeypatch.setattr(common, "_recalled", lambda _: kept)
    run(options(["sallowdene"], out, all=False))
    text = out.read_text(encoding="utf-8")
    assert _data(text)["mine"] == list(mine)
    assert text.count("<noscript data-name=") == len(open_handbook())
    assert len(text.encode("utf-8")) <= 1_200_000


def _data(text):
    """What the script is given, unpacked as it unpacks it."""
    (inner,) = re.findall(r'<script type="application/json" id="data">(.*?)</script>', text, flags=re.S)
    given = json.loads(inner)
    return given | {"packed": json.loads(zlib.decompress(base64.b64decode(given["packed"])))}


def test_other_names_of_every_language_are_packed(both, places):
    names = _data(both)["packed"]["names"]
    assert set(names) == {line.crop for line in places[0].chart.crops}
    assert "Zucchini" in names["courgette"].split("|")
    assert "pomodoro" in names["tomato (cherry)"].split("|")


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
    from sowcal.climate.place_figures import ClimateSummary
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

    crops = ["potato (maincrop)", "rhubarb", "runner bean", "carrot", "sweet pepper (blocky)"]
    now = {v.crop: v.word for v in rate_crops("sallowdene", crops)[1]}
    then = {v.crop: v.word for v in rate_crops("sallowdene", crops, what_ifs=["higher=400"])[1]}
    moved = {c for c in crops if now[c] != then[c]}
    assert moved
    out = tmp_path / "plot.html"
    run(options(["sallowdene", *crops], out, tries=["higher=400"]))
    text = out.read_text(encoding="utf-8")
    section = text[text.index('id="p1-changes"') : text.index('id="sources"')]
    assert set(re.findall(r'<th scope="row">([^<]+)</th>', section)) == moved


def _drawn(page, crop):
    """Inside of one crop's row of the first place."""
    start = page.index(f'id="p1-{crop}"')
    return page[start : page.index("</details>", start)]


def test_a_dot_a_year_that_brings_a_crop(places, both):
    """Every year's picking is a stroke without length; each lies on the day that the engine gives."""
    line = next(c for c in places[0].chart.crops if c.crop == "tomato (cherry)")
    (window,) = line.starts[0].windows
    (path,) = re.findall(r'd="([^"]+)" class="dot set"', _drawn(both, "tomato-cherry"))
    steps = [tuple(map(float, step.split())) for step in re.findall(r"[Mm]([-\d. ]+)h0", path)]
    x = [sum(dx for dx, _ in steps[: k + 1]) for k in range(len(steps))]
    days = [day for _, day in window.first_pickings if day is not None]
    assert len(x) == len(days) > 20
    for at, day in zip(x, days, strict=True):
        assert abs((at - 34) / 320 * 365 - day) < 1.5


def test_a_bar_a_year_free_of_frost(places, both):
    bars = re.findall(r'd="([^"]+)" class="free" stroke-width', both)
    assert len(bars) == len(places)
    for bar, place in zip(bars, places, strict=True):
        spans = [(float(a), float(b)) for a, b in re.findall(r"M([\d.]+) [\d.]+H([\d.]+)", bar)]
        years = place.climate.frost_by_year
        assert len(spans) == len(years) == 30
        for (left, right), year in zip(spans, years, strict=True):
            spring = -1 if year.last_spring_frost is None else year.last_spring_frost
            autumn = 365 if year.first_autumn_frost is None else year.first_autumn_frost
            assert abs((right - left) / 320 * 365 - (autumn - spring - 1)) < 1.5


@pytest.mark.parametrize(("south", "start_month"), [(True, 7), (True, 1), (False, 7)])
def test_spans_free_of_frost_keep_their_length_in_any_year(south, start_month):
    """A bar that runs over the edge of the drawn year is drawn in two pieces; a year of no frost is the whole width."""
    from sowcal.climate.frost import FrostYear
    from sowcal.outputs.page_svg import frost_free_picture

    spring, autumn = (292, 114) if south else (100, 300)  # 20 October to 25 April; 11 April to 28 October
    years = [FrostYear(2000, spring, autumn), FrostYear(2001, None, None)]
    picture = frost_free_picture(years, south, start_month, "words")
    pieces = re.findall(r"M([\d.]+) ([\d.]+)H([\d.]+)", picture)
    width = {}
    for left, y, right in pieces:
        width[y] = width.get(y, 0.0) + (float(right) - float(left)) / 320 * 365
    assert sorted(map(round, width.values())) == [(autumn - spring - 1) % 365, 365]


def test_ribbons_stand_as_tall_as_the_share_of_years():
    from sowcal.outputs.figure_style import Ribbon
    from sowcal.outputs.page_svg import ribbon_paths

    ribbon = Ribbon("set out", np.array([0.0, 0.55, 1.0, 1.0]), np.array([False, False, True, True]))
    assert ribbon_paths(ribbon, [0, 7, 14, 21, 29]) == (
        '<path d="M7 12V6H14V12z" class="r maybe set"></path><path d="M14 12V1H29V12z" class="r set"></path>'
    )
    picked = Ribbon("picked", np.array([0.0, 0.0, 1.0, 0.4]), np.ones(4, bool))
    assert ribbon_paths(picked, [0, 7, 14, 21, 29]) == (
        '<path d="M14 6V0.5H21V4H29V8H21V11.5H14V6z" class="r picked"></path>'
    )
    unseen = Ribbon("picked", np.array([0.05, np.nan, 0.0, 0.0]), np.ones(4, bool))
    assert ribbon_paths(unseen, [0, 7, 14, 21, 29]) == ""
