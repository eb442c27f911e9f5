"""Text from files in every output: it may only ever be text.

The names of the site, of crops, of beds and of weather attributes carry what harms where it is not escaped: markup,
entities, formulas, line ends, escape sequences of terminals, marks that turn the direction of writing.
"""

from __future__ import annotations

import csv
import html.parser
import io
import json
import re
import sys
import unicodedata
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import icalendar
import numpy as np
import pytest
import samples
import xarray as xr

from sowcal.__main__ import main
from sowcal.weather.cf_dataset import dataset_of
from sowcal.weather.export import csv_text, export_record
from sowcal.weather.generator import generate_daily
from sowcal.weather.open_site import open_weather
from sowcal.weather.record import StationFacts

HARM = {
    "markup": '</title></script><script>alert(1)</script>" onload="alert(1)" x=\'<img src=x onerror=alert(1)>'
    " &#60; &lt;b&gt; ]]> <![CDATA[ <!-- -->",
    "formula": "=HYPERLINK(1),=1+1;@SUM(1)\t+1+cmd|' /C calc'!A0,-2+3",
    "calendar": "a\r\nEND:VEVENT\r\nBEGIN:VEVENT\nSUMMARY:gift;X=1,2\\n\\",
    "screen": "\x1b[2J\x1b]0;owned\x07\x1b[31mred\x9b31m\x08\x08\x7f\u202eevil\u202d\u2066\u200f\u061c\ufeff\u200b"
    "a\x0bb\x0cc\x1cd\x85e\u2028f\u2029g",
    "template": "$\\frac{1}{$ \\usepackage %s {0} {x!r} %n {{7*7}} ${7*7} <%= 1 %> `id` $(id)",
    "long": "long " * 300,
}


def shown_harm(text: str) -> list[str]:
    """Letters that steer a terminal or turn the writing."""
    return sorted({repr(c) for c in text if c != "\n" and unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp")})


def toml(text: str) -> str:
    return json.dumps(text).replace("\x7f", "\\u007f")


@pytest.fixture
def place(tmp_path):
    """Makes a site file with a harmful name and licence, and a crop file with a harmful crop."""

    def make(harm: str) -> tuple[Path, Path, str]:
        site = tmp_path / "site.toml"
        normals = samples.SITE_OF_NORMALS.replace('"Plot"', toml(f"Plot {harm}")).replace("years = 2", "years = 6")
        site.write_text(normals.replace("[weather]\n", f"[weather]\nlicence = {toml(harm)}\n"), encoding="utf-8")
        crop = " ".join(f"radish {harm}".split())
        crops = tmp_path / "crops.csv"
        rows = io.StringIO()
        csv.writer(rows).writerows([["crop", "like", "botanical_name"], [crop, "radish", harm.replace("\n", " ")]])
        crops.write_text(rows.getvalue(), encoding="utf-8", newline="")
        return site, crops, crop

    return make


def said(capsys, *words) -> str:
    """What a call that answers prints, on both streams."""
    assert main([str(w) for w in words]) == 0
    both = capsys.readouterr()
    return both.out + both.err


@pytest.mark.parametrize("kind", HARM)
def test_the_screen(place, capsys, kind):
    site, crops, crop = place(HARM[kind])
    more = ["--crops", crops]
    for words in (
        ["chart", site, crop, *more],
        ["rate", site, crop, *more],
        ["week", site, crop, "--date", "2021-04-01", *more],
        ["crops", crop, *more],
        ["weather", "check", site],
    ):
        text = said(capsys, *words)
        assert shown_harm(text) == [], words
    assert kind == "long" or crop[:9] in text or words[0] == "weather"


@pytest.mark.parametrize("kind", HARM)
def test_refusals_quote_no_control_characters(tmp_path, capsys, monkeypatch, kind):
    harm = HARM[kind]
    path = tmp_path / "a.csv"
    path.write_text(f"# name: {harm}\ndate,{harm},tmin\n2001-01-01,1,2\n", encoding="utf-8")
    (tmp_path / "b.toml").write_text(f"{toml(harm)} = 1\n", encoding="utf-8")
    (tmp_path / "c.csv").write_text(f"crop,{harm}\n", encoding="utf-8")
    for words in (
        ["climate", path],
        ["climate", tmp_path / "b.toml"],
        ["garden", tmp_path / "b.toml"],
        ["crops", harm],
        ["crops", "--crops", tmp_path / "c.csv"],
        ["chart", "--with", harm],
        ["week", "--date", harm],
        ["climate", "--out", tmp_path / "x" / ("a" + harm.replace("/", "")[:40])],
    ):
        assert main([str(w) for w in words]) == 2
        both = capsys.readouterr()
        assert both.out == ""
        assert shown_harm(both.err) == [], words
    assert main(["chart", "--reliability", harm]) == 2
    assert shown_harm(capsys.readouterr().err) == []


class Page(html.parser.HTMLParser):
    """Elements and attributes of a page as a browser would see them."""

    def __init__(self) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict]] = []
        self.data: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.data.append(data)


def parsed(text: str) -> Page:
    page = Page()
    page.feed(text)
    return page


def test_the_page_has_the_same_elements_whatever_the_names(place, tmp_path, capsys):
    seen = {}
    for kind, harm in {"none": "plain words", **HARM}.items():
        site, crops, crop = place(harm)
        out = tmp_path / f"{kind}.html"
        said(capsys, "page", site, crop, "--crops", crops, "--out", out)
        text = out.read_text(encoding="utf-8")
        page = parsed(text)
        seen[kind] = [(tag, sorted(attributes)) for tag, attributes in page.elements]
        for tag, attributes in page.elements:
            assert not [a for a in attributes if a.startswith("on")], tag
            assert not [v for v in attributes.values() if v and "javascript:" in v.lower()]
            assert tag not in ("img", "iframe", "object", "embed", "base", "form")
        if kind != "none":
            whole = " ".join(" ".join(page.data).split())
            assert harm.split()[0][:5].strip("\x1b") in whole or kind in ("screen", "formula")
        assert not [c for c in shown_harm(text) if c != "'\\xad'"]
    for kind in HARM:
        assert seen[kind] == seen["none"], kind


@pytest.mark.parametrize("kind", HARM)
def test_pictures_as_svg(place, tmp_path, capsys, kind):
    site, crops, crop = place(HARM[kind])
    out = tmp_path / "c.svg"
    said(capsys, "chart", site, crop, "--crops", crops, "--out", out)
    text = out.read_text(encoding="utf-8")
    ET.fromstring(text)  # well formed
    page = parsed(text)
    assert {tag for tag, _ in page.elements} <= {
        "svg", "metadata", "rdf:rdf", "cc:work", "dc:type", "dc:creator", "cc:agent", "dc:title", "defs", "style", "g",
        "path", "pattern", "use", "clippath", "rect", "dc:format", "dc:date", "lineargradient", "stop", "image",
    }  # fmt: skip
    assert not [a for _, attributes in page.elements for a in attributes if a.startswith("on")]


@pytest.mark.parametrize("kind", HARM)
def test_calendar_files(place, tmp_path, capsys, kind):
    site, crops, crop = place(HARM[kind])
    out = tmp_path / "c.ics"
    said(capsys, "chart", site, crop, "--crops", crops, "--out", out, "--year", "2021")
    raw = out.read_bytes()
    lines = raw.split(b"\r\n")
    # RFC 5545, 3.1: lines end in CRLF and hold at most 75 octets
    assert all(len(line) <= 75 for line in lines)
    assert all(b"\n" not in line and b"\r" not in line for line in lines)
    unfolded = re.sub(r"\r\n[ \t]", "", raw.decode("utf-8"))
    assert {line.split(":")[0].split(";")[0] for line in unfolded.split("\r\n") if line} <= {
        "BEGIN", "END", "PRODID", "VERSION", "CALSCALE", "METHOD", "X-WR-CALNAME", "X-WR-CALDESC", "UID", "DTSTAMP",
        "LAST-MODIFIED", "SEQUENCE", "DTSTART", "DTEND", "SUMMARY", "DESCRIPTION", "CATEGORIES", "TRANSP",
    }  # fmt: skip
    assert shown_harm(unfolded.replace("\r\n", "\n")) == []
    calendar = icalendar.Calendar.from_ical(raw)
    summaries = [str(e["summary"]) for e in calendar.walk("VEVENT")]
    assert summaries
    chosen = ("Best fortnight begins", "Earliest safe day", "Last chance", "For a later picking")
    titles = {"Sow outdoors", "First picking", *(f"{words} (sow outdoors)" for words in chosen)}
    assert {s.split(": ")[0] for s in summaries} <= titles
    if kind in ("formula", "template"):
        assert any(crop in s for s in summaries)  # and nothing is lost on the way


@pytest.mark.parametrize("kind", HARM)
def test_tables_for_spreadsheets(tmp_path, kind):
    harm = HARM[kind]
    data = generate_daily(samples.NORMALS, years=1, seed=3, latitude=-31.9, longitude=115.9, first_year=2001)
    data = replace(data, title=f"Plot {harm}", source=harm, licence=harm)
    text = csv_text(data)
    for separator in ",;\t|":
        for row in csv.reader(io.StringIO(text), delimiter=separator):
            for cell in row:
                number = re.fullmatch(r"[+-]?\d+(\.\d*)?(e-?\d+)?", cell.strip())
                assert number or not cell.strip().startswith(("=", "+", "-", "@", "\t")), cell
    assert shown_harm(text) == []
    (tmp_path / "a.csv").write_text(text, encoding="utf-8")
    again = open_weather(tmp_path / "a.csv")[1]
    np.testing.assert_array_equal(again["tasmin"], data["tasmin"])
    assert again.title.startswith("Plot")


def test_a_pair_of_degrees_keeps_its_signs():
    data = generate_daily(samples.NORMALS, years=1, seed=3, latitude=-31.9, first_year=2001)
    assert "# name: -31.9, -115.9\n" in csv_text(replace(data, title="-31.9, -115.9"))


@pytest.mark.parametrize("kind", HARM)
def test_attributes_of_weather_files(tmp_path, capsys, kind):
    data = generate_daily(samples.NORMALS, years=2, seed=3, latitude=38.0, longitude=1.0, first_year=2001)
    harm = HARM[kind]
    texts = {key: harm for key in ("title", "source", "history", "licence")}
    station = StationFacts(harm, name=harm, attribution=harm)
    data = replace(data, **texts, station=station, warnings=(harm,))
    path = tmp_path / "a.nc"
    export_record(data, path)
    with xr.open_dataset(path, engine="scipy") as stored:  # no door between the record and the file took it away
        held = [*(stored.attrs[k] for k in (*texts, "attribution", "station", "station_name", "warnings"))]
    assert all(held)
    for words in (["climate", path], ["weather", "check", path], ["rate", path, "radish"]):
        assert shown_harm(said(capsys, *words)) == []
    json.loads(said_json(capsys, path))


def said_json(capsys, path) -> str:
    assert main(["climate", str(path), "--json"]) == 0
    return capsys.readouterr().out


@pytest.mark.parametrize("warnings", ["{", '{"a": 1}', "7", '"text"', "[7, null, []]", "\x1b"])
def test_attributes_that_should_be_lists_and_are_none(tmp_path, capsys, warnings):
    data = generate_daily(samples.NORMALS, years=2, seed=3, latitude=38.0, first_year=2001)
    dataset = dataset_of(data)
    dataset.attrs |= {"warnings": warnings, "problems": warnings, "typical_year": warnings, "coast": warnings}
    path = tmp_path / "a.nc"
    dataset.to_netcdf(path, engine="scipy")
    for words in (["climate", path], ["weather", "check", path], ["chart", path, "radish"]):
        assert shown_harm(said(capsys, *words)) == []


@pytest.mark.parametrize("kind", HARM)
def test_a_garden(tmp_path, capsys, kind):
    harm = HARM[kind]
    path = tmp_path / "g.toml"
    text = samples.GARDEN.replace('"Invented garden"', toml("G" + harm)).replace('"one"', toml("B" + harm))
    path.write_text(text, encoding="utf-8")
    if kind not in ("markup", "screen"):  # a plan takes a while
        assert main(["garden", str(tmp_path / "none.toml")]) == 2
        return
    assert shown_harm(said(capsys, "garden", path)) == []
    json.loads(said(capsys, "garden", path, "--json").split("\nsowcal: ")[0])


@pytest.mark.skipif(sys.platform == "win32", reason="names of files are texts there")
def test_a_file_whose_name_is_no_text(tmp_path, capfd):
    data = generate_daily(samples.NORMALS, years=2, seed=3, latitude=38.0, first_year=2001)
    text = "\n".join(line for line in csv_text(data).splitlines() if "name:" not in line)
    path = tmp_path / "pl\udcffot.csv"
    path.write_text(text)
    for words in (["climate", path], ["climate", path, "--json"], ["chart", path, "radish"]):
        assert main([str(w) for w in words]) == 0
    assert main(["climate", str(path), "--out", str(tmp_path / "a.json")]) == 0
    json.loads((tmp_path / "a.json").read_text(encoding="utf-8"))
    for name in ("a.svg", "a.ics"):
        assert main(["chart", str(path), "radish", "--out", str(tmp_path / name)]) == 0
    assert main(["page", str(path), "radish", "--out", str(tmp_path / "a.html")]) == 0
    assert main(["weather", "export", str(path), "--out", str(tmp_path / "b.csv")]) == 0
    assert main(["weather", "export", str(path), "--out", str(tmp_path / "b.nc")]) == 0
    assert "Traceback" not in capfd.readouterr().err
