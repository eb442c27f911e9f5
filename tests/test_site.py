"""The public door: one place opened once, and what its answers can do."""

from __future__ import annotations

import datetime as dt
import json

import numpy as np
import pytest

import sowcal
from sowcal import InputError, Site
from sowcal.__main__ import main

ISSUED = "2026-01-15"


@pytest.fixture(scope="module")
def valley():
    return Site.open("sallowdene", issued=ISSUED)


@pytest.fixture(scope="module")
def as_frame(valley):
    """The valley's first eight years as rows handed over."""
    frame = valley.to_pandas()[["tasmin", "tasmax", "pr"]].iloc[: 8 * 365 + 2]
    frame.index.name = "date"
    return frame


def printed(capsys, *words):
    assert main([*words, "--json"]) == 0
    return capsys.readouterr().out


def test_answers_are_those_of_the_commands(valley, capsys):
    wanted = ("courgette", "broad bean")
    assert valley.chart(*wanted).to_json() == printed(capsys, "chart", "sallowdene", *wanted, "--issued", ISSUED)
    assert valley.rate("melon").to_json() == printed(capsys, "rate", "sallowdene", "melon", "--issued", ISSUED)
    assert valley.climate().to_json() == printed(capsys, "climate", "sallowdene", "--issued", ISSUED)
    asked = ("--reliability", "0.9", "--least-yield", "0.6", "--with", "mulch", "--years", "10")
    site = valley.with_changes("mulch").years(10)
    chart = site.chart("leek", reliability=0.9, least_yield=0.6)
    assert chart.to_json() == printed(capsys, "chart", "sallowdene", "leek", *asked, "--issued", ISSUED)
    both = sowcal.compare(valley, "wrackhythe", "leek", "fig")
    assert both.to_json() == printed(capsys, "compare", "sallowdene", "wrackhythe", "leek", "fig", "--issued", ISSUED)
    week = valley.chart().week("2026-03-16")
    assert week.to_json() == printed(capsys, "week", "sallowdene", "--all", "--date", "2026-03-16", "--issued", ISSUED)
    plan = sowcal.Garden.open().plan(issued=ISSUED)
    assert plan.to_json() == printed(capsys, "garden", "--issued", ISSUED)


def test_what_was_worked_out_is_kept(valley):
    assert valley.chart("leek") is valley.chart(["leek"])
    assert valley.chart("leek", reliability=0.9) is not valley.chart("leek")
    assert valley.climate() is valley.climate()


def test_a_place_does_not_change(valley):
    before = valley.chart("tomato (large)").to_json()
    cooler, late = valley.with_changes("shade-cloth=40"), valley.years(2006, 2015)
    assert "shade" in cooler.name
    assert late.record.first == "2006-01-01"
    valley.to_xarray()["tasmin"][:] = -40.0
    assert valley.chart("tomato (large)").to_json() == before
    with pytest.raises(InputError):
        valley.with_changes("mulch", "mulch")
    with pytest.raises(InputError, match="2090"):
        valley.years("2090:")


def test_frames_files_and_short_forms(valley, tmp_path):
    chart, verdicts = valley.chart("leek", "carrot"), valley.rate("leek", "fig")
    frame = chart.to_pandas()
    assert set(frame["crop"]) == {"leek", "carrot"}
    answer = json.loads(chart.to_json())
    windows = sum(len(s["windows"]) + len(s["possible"]) for c in answer["crops"] for s in c["starts"])
    assert len(frame) == windows
    assert verdicts.to_pandas()["word"].tolist() == [v.word for v in verdicts]
    for answer in (chart, verdicts, valley.climate(), chart.week("2026-03-16"), sowcal.compare(valley, valley, "leek")):
        assert len(repr(answer)) < 120
        assert "<table" in answer._repr_html_()
        assert answer == answer
        assert not answer.to_pandas().empty
    assert len(repr(valley)) < 120
    assert chart != valley.chart("leek")
    for name in ("c.json", "c.csv", "c.ics", "c.svg"):
        assert chart.save(tmp_path / name)[0].stat().st_size > 100
    assert (tmp_path / "c.json").read_text(encoding="utf-8") == chart.to_json()
    with pytest.raises(InputError, match="docx"):
        chart.save(tmp_path / "c.docx")


def test_weather_handed_over(valley, as_frame):
    by_frame = Site.from_pandas(as_frame, latitude=valley.to_xarray()["latitude"].item(), temperature_unit="degC")
    data = as_frame.to_xarray().rename(date="time")
    for name, unit in (("tasmin", "degC"), ("tasmax", "degC"), ("pr", "mm")):
        data[name].attrs["units"] = unit
    by_dataset = Site.from_xarray(data, latitude=valley.to_xarray()["latitude"].item())
    rows = [s.chart("leek").to_pandas() for s in (by_frame, by_dataset)]
    assert rows[0].equals(rows[1])
    assert by_frame.record.years == 8.0
    with pytest.raises(InputError, match="latitude"):
        Site.from_pandas(as_frame, temperature_unit="degC")
    with pytest.raises(InputError, match="unit"):
        Site.from_pandas(as_frame, latitude=39.0)


def test_own_values_reach_the_years_of_a_perennial(valley, tmp_path):
    own = tmp_path / "perennials.csv"
    own.write_text("crop,heat_kills,heat_kill_days\nrhubarb,28,2\n", encoding="utf-8")
    usual, hot = (valley.perennial("rhubarb", own_values=f) for f in ((), [own]))
    assert hot.shares["summer kill"].mean() < usual.shares["summer kill"].mean()


def test_one_real_season(valley):
    season = valley.one_season("melon", way="set out", start="1995-05-10")
    assert 0.0 <= season.yield_fraction <= 1.0
    if season.yield_fraction > 0:
        assert "1995-05-10" < season.first_picking <= season.last_picking
    last = valley.record.last
    late = valley.one_season("melon", way="set out", start=last)
    assert (late.yield_fraction, late.first_picking, late.hazards) == (None, None, ())
    for words, asked in (
        ("may be", {"crop": "tomato"}),
        ("is a perennial", {"crop": "fig"}),
        ("is not planted", {"way": "planted"}),
        ("off the record", {"start": "1890-05-10"}),
        ("is no date", {"start": "in May"}),
    ):
        with pytest.raises(InputError, match=words):
            valley.one_season(**{"crop": "melon", "way": "set out", "start": "1995-05-10", **asked})


def test_one_season_on_a_record_of_any_length(valley, as_frame):
    """A record of seven months, too short for odds, still tells what one sowing came to."""
    latitude = valley.to_xarray()["latitude"].item()
    short = Site.from_pandas(as_frame.iloc[59:270], latitude=latitude, temperature_unit="degC")
    one = short.one_season("radish", way="sown outdoors", start="1991-03-20")
    whole = valley.one_season("radish", way="sown outdoors", start="1991-03-20")
    assert one == whole
    assert one.yield_fraction is not None


def test_settings_are_those_of_the_command_line(valley):
    with pytest.raises(InputError, match="reliability is 2"):
        valley.chart("leek", reliability=2)
    with pytest.raises(InputError, match="no setting 'odds'"):
        valley.chart("leek", odds=0.9)
    with pytest.raises(InputError, match="no setting 'odds'"):
        sowcal.compare(valley, "wrackhythe", "leek", odds=0.9)
    with pytest.raises(InputError, match="names no crop"):
        valley.chart(3)
    assert dt.date.fromisoformat(valley.record.first) < dt.date.fromisoformat(valley.record.last)
    assert np.isfinite(valley.to_pandas()["tasmin"]).all()
