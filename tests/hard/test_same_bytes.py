"""Same in, same out: every answer says what it was made with, and two runs write the same bytes."""

from __future__ import annotations

import datetime as dt
import json
import os
import re
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

import sowcal
from sowcal.__main__ import main
from sowcal.answers import open_handbook, open_record, record_of, sowing_chart
from sowcal.provenance import MadeBy, fingerprint_of
from sowcal.weather.cf_dataset import dataset_of, record_of_labelled
from sowcal.weather.open_site import open_weather
from sowcal.weather.record import FILLED

DAY = "2026-03-10"
CALLS = [  # a call for each answer for programs, and how many records and whether crops stand behind it
    (["chart", "sallowdene", "courgette", "--json"], 1, True),
    (["rate", "sallowdene", "rhubarb", "--json"], 1, True),
    (["climate", "sallowdene", "--json"], 1, False),
    (["compare", "wrackhythe", "sallowdene", "courgette", "--json"], 2, True),
    (["week", "sallowdene", "courgette", "--date", DAY, "--json"], 1, True),
    (["garden", "--json"], 1, True),
    (["crops", "courgette", "--json"], 0, True),
    (["crops", "--basis", "--json"], 0, True),
    (["weather", "check", "sallowdene", "--json"], 1, False),
    (["weather", "trend", "sallowdene", "--json"], 1, False),
]
FILES = [  # written by both runs; each form of each answer once, pictures of every kind
    (["chart", "sallowdene", "courgette", "leek", "--year", "2027"], (".json", ".png", ".svg", ".pdf", ".ics")),
    (["week", "sallowdene", "courgette", "leek", "--date", DAY], (".ics",)),
    (["page", "sallowdene", "courgette"], (".html",)),
    (["climate", "sallowdene"], (".svg",)),
    (["compare", "sallowdene", "wrackhythe"], (".png",)),
    (["garden"], (".pdf",)),
    (["rate", "sallowdene", "rhubarb"], (".svg",)),
    (["weather", "check", "sallowdene"], (".pdf",)),
    (["weather", "export", "sallowdene"], (".csv", ".nc")),
]
RUN = """
import sys
from sowcal.__main__ import main
folder, date = sys.argv[1:]
for words, suffixes in {files!r}:
    for suffix in suffixes:
        path = folder + "/" + "-".join(words[:2]) + suffix
        assert main([*words, "--issued", date, "--out", path]) == 0
"""


@pytest.fixture(scope="module")
def valley():
    return open_record("sallowdene")[1]


@pytest.mark.parametrize(("words", "records", "crops"), CALLS, ids=lambda v: " ".join(v[:2]) if type(v) is list else "")
def test_an_answer_for_programs_says_what_it_was_made_with(words, records, crops, capsys):
    assert main(words) == 0
    made_by = json.loads(capsys.readouterr().out)["made_by"]
    assert set(made_by) == {"program", "version", "crop_tables", "records"}
    assert (made_by["program"], made_by["version"]) == ("sowcal", sowcal.__version__)
    assert made_by["crop_tables"] == (open_handbook().fingerprint if crops else None)
    assert len(made_by["records"]) == records
    assert all(re.fullmatch("[0-9a-f]{16}", r) for r in made_by["records"])


@pytest.mark.parametrize(
    "words",
    [
        ["chart", "sallowdene", "courgette"],
        ["rate", "sallowdene", "rhubarb"],
        ["rate", "sallowdene", "rhubarb", "leek"],
        ["climate", "sallowdene"],
        ["week", "sallowdene", "courgette", "--date", DAY],
        ["garden"],
        ["weather", "check", "sallowdene"],
        ["compare", "wrackhythe", "sallowdene", "courgette"],
    ],
    ids=lambda words: " ".join(words[:3]),
)
def test_the_foot_of_a_text_says_it_in_short(words, capsys, valley):
    assert main(words) == 0
    foot = " ".join(capsys.readouterr().out.split()[-22:])
    assert f"Made by sowcal {sowcal.__version__} from" in foot
    assert valley.fingerprint[:8] in foot


def test_the_foot_of_the_page_and_the_calendar_say_it(tmp_path, valley):
    short = MadeBy(open_handbook().fingerprint, (valley.fingerprint,)).short()
    for words, name in (
        (["page", "sallowdene", "courgette"], "plot.html"),
        (["chart", "sallowdene", "courgette"], "year.ics"),
    ):
        assert main([*words, "--out", str(tmp_path / name)]) == 0
        text = (tmp_path / name).read_text(encoding="utf-8").replace("\n ", "").replace("\\", "")
        assert short in text


def test_pictures_carry_it(valley):
    """The words that are drawn, asked of the figures themselves."""
    from sowcal.answers import perennial_record, rate_crops, site_climate
    from sowcal.garden.garden_file import bundled_garden
    from sowcal.garden.plan import plan_garden
    from sowcal.outputs.figure_chart import chart_figures
    from sowcal.outputs.figure_climate import climate_figures, quality_figures
    from sowcal.outputs.figure_garden import garden_figures, years_figures
    from sowcal.weather.quality import quality_report

    chart, (verdict,) = rate_crops(valley, ["rhubarb"])
    plan = plan_garden(bundled_garden(), "sallowdene", valley)
    made_by = MadeBy(records=(valley.fingerprint,))
    years = perennial_record(valley, "rhubarb")
    for figures in (
        chart_figures(chart),
        years_figures("here", "rhubarb", years, verdict, made_by=chart.made_by),
        garden_figures(plan),
        climate_figures([site_climate(valley), site_climate("wrackhythe")]),
        quality_figures(quality_report(valley), made_by),
    ):
        drawn = " ".join(t.get_text().replace("\n", " ") for page in figures for t in page.texts)
        assert made_by.records[0][:8] in drawn
        assert "Made by sowcal" in drawn


def test_two_runs_write_the_same_bytes(tmp_path):
    """Two processes with different hash seeds and one date of issue."""
    code = RUN.format(files=FILES)
    for run in ("1", "2"):
        (tmp_path / run).mkdir()
        env = {**os.environ, "PYTHONHASHSEED": run}
        words = [sys.executable, "-c", code, str(tmp_path / run), "2026-01-15"]
        subprocess.run(words, check=True, capture_output=True, env=env)
    first = {p.name: p.read_bytes() for p in (tmp_path / "1").iterdir()}
    second = {p.name: p.read_bytes() for p in (tmp_path / "2").iterdir()}
    assert len(first) >= sum(len(suffixes) for _, suffixes in FILES)
    assert first.keys() == second.keys()
    assert [name for name in first if first[name] != second[name]] == []
    assert min(map(len, first.values())) > 100


def test_a_date_of_issue_is_an_input(tmp_path, capsys):
    a, b = tmp_path / "a.svg", tmp_path / "b.svg"
    for path, day in ((a, "2026-01-15"), (b, "2026-01-16")):
        assert main(["chart", "courgette", "--issued", day, "--out", str(path)]) == 0
    assert a.read_bytes() != b.read_bytes()
    capsys.readouterr()
    assert main(["chart", "courgette", "--issued", "yesterday", "--out", str(a)]) == 2
    assert "YYYY-MM-DD" in capsys.readouterr().err


def test_a_fingerprint_is_of_the_days(valley):
    name = valley.fingerprint
    assert open_weather("sallowdene", issued=dt.date(2026, 1, 15))[1].fingerprint == name
    assert record_of(valley).fingerprint == name
    labelled = dataset_of(valley)
    assert record_of_labelled(labelled).fingerprint == name
    single = labelled.astype("float32").assign_attrs(labelled.attrs)
    assert single["tasmin"].dtype == np.float32
    assert record_of_labelled(single).fingerprint == name
    assert valley.with_values({v: a.astype("float32") for v, a in valley.values.items()}).fingerprint == name
    assert replace(valley, title="another name", history="another way").fingerprint == name
    one_day = np.arange(valley.size) == 77
    for changed in (
        valley.with_values({"tasmin": np.where(one_day, np.nan, valley["tasmin"])}),
        valley.with_values({"tasmin": valley["tasmin"] + np.where(one_day, 0.1, 0.0)}),
        valley.with_values({}, {"tasmin": np.where(one_day, np.int8(FILLED), valley.origin["tasmin"])}),
        valley.cut(slice(1, None)),
        replace(valley, time=valley.time + np.timedelta64(1, "D")),
        replace(valley, latitude=valley.latitude + 0.5),
        replace(valley, elevation=valley.elevation + 1.0),
        replace(valley, values={v: a for v, a in valley.values.items() if v != "pr"}),
        replace(valley, coast=True),
    ):
        assert changed.fingerprint != name


def test_a_fingerprint_is_of_the_tables_with_own_values(tmp_path):
    own = tmp_path / "cold.csv"
    own.write_text("crop,killing_young\ncourgette,-1\n", encoding="utf-8")
    bundled = sowing_chart("sallowdene", ["courgette"]).made_by.crop_tables
    changed = sowing_chart("sallowdene", ["courgette"], crop_files=[str(own)]).made_by.crop_tables
    assert bundled == open_handbook().fingerprint
    assert changed == open_handbook([str(own)]).fingerprint != bundled
    own.write_text('crop,killing_young\r\n"courgette", -1.0 \r\n', encoding="utf-8")
    copy = tmp_path / "my-cold.csv"
    copy.write_bytes(own.read_bytes())
    assert open_handbook([str(copy)]).fingerprint == changed


def test_pieces_are_told_apart():
    assert fingerprint_of([b"ab", b"c"]) != fingerprint_of([b"a", b"bc"])
    # SHA-256 of nothing (FIPS 180-4 examples, NIST CAVP)
    assert fingerprint_of([]) == "e3b0c44298fc1c14"


def test_a_place_beside_itself_is_one_record():
    pair = MadeBy("0123456789abcdef", ("aaaabbbbcccc", "aaaabbbbcccc"), version="9.9")
    assert pair.short() == "Made by sowcal 9.9 from crop tables 01234567, record aaaabbbb."
    assert MadeBy(version="9.9").short() == "Made by sowcal 9.9."
