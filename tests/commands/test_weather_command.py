"""`sowcal weather`, called as the command line calls it."""

from __future__ import annotations

import argparse
import json
import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sowcal.commands.weather import weather_command as run
from sowcal.errors import InputError
from sowcal.weather import cache
from sowcal.weather.open_site import open_weather
from sowcal.weather.record import StationFacts


@pytest.fixture(autouse=True)
def own_cache(tmp_path, monkeypatch):
    monkeypatch.setitem(os.environ, "SOWCAL_CACHE", str(tmp_path / "kept"))
    monkeypatch.setitem(os.environ, "TERM", "dumb")


def call(action, *words, **options):
    """The options that the parser makes."""
    given = {"json": False, "out": None, "width": 80, "ascii": True, "years": None, "issued": "2026-01-15", **options}
    return run(argparse.Namespace(action=action, words=list(words), **given))


@pytest.fixture
def station_and_plot(tmp_path):
    """Two tables: a station's year and the first sixty days of a plot, nights 2 K colder."""
    rng = np.random.default_rng(3)
    days = np.arange("2020-01-01", "2021-01-01", dtype="datetime64[D]")
    low = (8 + rng.normal(0, 3, days.size)).round(1)

    def table(name, move, count):
        rows = [f"{d},{a + move:.1f},{a + 9:.1f}" for d, a in zip(days[:count], low, strict=False)]
        path = tmp_path / name
        path.write_text("# latitude: 38.0\ndate,tmin_degC,tmax_degC\n" + "\n".join(rows) + "\n")
        return str(path)

    return table("station.csv", 0.0, days.size), table("own.csv", -2.0, 60)


def test_check(capsys, tmp_path):
    assert call("check") == 0
    shown = capsys.readouterr().out
    assert "THE RECORD OF Sallowdene (invented): 1 Jan 1991 to 31 Dec 2020, 30 years" in shown
    assert "Nothing looks wrong." in shown
    call("check", "sallowdene", json=True)
    answer = json.loads(capsys.readouterr().out)
    assert answer.pop("made_by")["program"] == "sowcal"
    assert answer == {
        "record": {"first": "1991-01-01", "last": "2020-12-31", "years": 30.0},
        "coverage_percent": 100.0,
        "filled_days": 0,
        "problems": [],
    }
    call("check", out=tmp_path / "q.png")
    call("check", out=tmp_path / "q.pdf")
    assert (tmp_path / "q.png").read_bytes()[:4] == b"\x89PNG"
    assert (tmp_path / "q.pdf").read_bytes()[:5] == b"%PDF-"


def test_check_of_a_poor_record(capsys, tmp_path):
    rows = [f"2001-01-{d:02d},{d / 10:.1f},{d / 10 + 8:.1f}" for d in range(1, 32) if d not in range(12, 25)]
    rows[3] = "2001-01-04,12.0,2.0"
    path = tmp_path / "poor.csv"
    path.write_text("# latitude: 38.0\ndate,tmin_degC,tmax_degC\n" + "\n".join(rows) + "\n")
    call("check", str(path))
    shown = capsys.readouterr().out
    assert "GAP (days without a reading)" in shown
    assert "12 Jan 2001 to 24 Jan 2001, 13 days: maximum, minimum: left missing" in shown
    assert "CROSSED (minimum above maximum): once" in shown
    assert max(map(len, shown.splitlines())) <= 80
    call("check", str(path), json=True)
    answer = json.loads(capsys.readouterr().out)
    assert answer["filled_days"] == 1
    assert {p["kind"] for p in answer["problems"]} == {"gap", "crossed"}


@pytest.mark.parametrize("suffix", [".nc", ".csv"])
def test_export_comes_back_as_it_was(tmp_path, suffix):
    call("export", "sallowdene", out=tmp_path / f"x{suffix}")
    _, wanted = open_weather("sallowdene")
    site, got = open_weather(tmp_path / f"x{suffix}")
    for name in ("tasmin", "tasmax", "pr"):
        np.testing.assert_array_equal(got[name], wanted[name])
    assert site.latitude == 38.4
    assert got.title == "Sallowdene (invented)"
    call("export", "sallowdene", out=tmp_path / f"y{suffix}", years=10)
    assert str(open_weather(tmp_path / f"y{suffix}")[1].time[0])[:10] == "2011-01-01"


def test_offset(capsys, tmp_path, station_and_plot):
    call("offset", *station_and_plot, json=True)
    answer = json.loads(capsys.readouterr().out)
    night = next(o for o in answer["offsets"] if (o["variable"], o["season"]) == ("tasmin", "all year"))
    assert (night["mean"], night["days"]) == (-2.0, 60)
    call("offset", *station_and_plot)
    shown = capsys.readouterr().out
    assert "nights  all year" in shown
    assert "-2.0 K" in shown
    call("offset", *station_and_plot, out=tmp_path / "moved.csv")
    moved, base = (open_weather(p)[1]["tasmin"] for p in (tmp_path / "moved.csv", station_and_plot[0]))
    np.testing.assert_allclose(moved - base, -2.0, atol=1e-6)


def test_trend(capsys):
    call("trend", json=True)
    answer = json.loads(capsys.readouterr().out)
    assert len(answer["trends"]) == 10
    call("trend", years=5)
    assert "too short for a trend" in capsys.readouterr().out


def test_list_and_clear(capsys):
    call("list")
    assert "No records are kept" in capsys.readouterr().out
    station = StationFacts("90001", "Long Ness", fetched="2021-03-01T12:00:00+00:00")
    record = replace(open_weather("wrackhythe", years=1)[1], station=station)
    damaged = cache.keep("90002", record)
    cache.keep("90001", record)
    damaged.write_bytes(b"")
    call("list")
    shown = capsys.readouterr().out
    assert "Long Ness" in shown
    assert "damaged" in shown
    call("list", json=True)
    assert [r["sound"] for r in json.loads(capsys.readouterr().out)["records"]] == [True, False]
    call("clear", "90001")
    assert "1 kept record removed" in capsys.readouterr().out
    call("clear")
    assert "1 kept record removed" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("action", "words", "options", "said"),
    [
        ("fetch", [], {}, "name what to fetch"),
        ("fetch", ["wrackhythe"], {}, "nothing to fetch"),
        ("export", [], {}, "--out record.nc"),
        ("export", [], {"out": Path("x.png")}, ".nc or .csv"),
        ("export", [], {"out": Path("/no/such/folder/x.nc")}, "cannot write there"),
        ("offset", ["wrackhythe"], {}, "offset SITE OWN.csv"),
        ("offset", ["wrackhythe", "none.csv"], {}, "there is no file"),
        ("check", ["tomato"], {}, "is no site"),
        ("clear", ["90009"], {}, "nothing is kept"),
        ("clear", ["../x"], {}, "no id of a station"),
        ("list", ["all"], {}, "no further words"),
        ("trend", [], {"years": 99}, "cannot be taken"),
    ],
)
def test_what_is_refused(action, words, options, said):
    with pytest.raises(InputError) as caught:
        call(action, *words, **options)
    assert said in str(caught.value)
