"""The grower's own readings named in a site file, carried to charts and verdicts.

Checked against charts of tables that are moved here, by plain differences of shared days, before they are read.
"""

from __future__ import annotations

import argparse
import json
import re

import numpy as np
import pytest

from sowcal.answers import rate_crops, site_climate, sowing_chart
from sowcal.commands.weather import weather_command as weather
from sowcal.errors import InputError
from sowcal.outputs.chart_document import chart_document
from sowcal.outputs.document import screen_text
from sowcal.outputs.json_form import chart_json, rate_json
from sowcal.outputs.verdict_document import verdict_document
from sowcal.weather.site_file import parse_site

DAYS = np.arange("2005-01-01", "2017-01-01", dtype="datetime64[D]")
SEASON = (DAYS.astype("datetime64[M]").astype(int) % 12 + 1) % 12 // 3  # December to February is 0
HEAD = 'name = "Ness"\nlatitude = 38.0\n[weather]\nsource = "file"\nfile = "%s"\ntemperature_unit = "degC"\n'
PLOT = '[plot]\nown_readings = "own.csv"\ntemperature_unit = "degC"\n'
CROPS = ["potato (early)", "french bean (bush)"]


def table(path, days, low, high):
    rows = (f"{d},{a:.4f},{b:.4f}" for d, a, b in zip(days, low, high, strict=True))
    path.write_text("date,tmin,tmax\n" + "\n".join(rows) + "\n")


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A station's twelve years, a year of readings on the plot, and site files of both and of hand-moved tables."""
    folder = tmp_path_factory.mktemp("ness")
    rng = np.random.default_rng(5)
    wave = np.cos(2 * np.pi * (np.arange(DAYS.size) - 25) / 365.25)
    low = (9 - 6 * wave + rng.normal(0, 2.5, DAYS.size)).round(1)
    high = (low + 10 - 1.5 * wave + rng.normal(0, 1, DAYS.size)).round(1)
    year = (np.datetime64("2015-12-01") <= DAYS) & (np.datetime64("2016-11-30") >= DAYS)
    own_low = (low + np.array([-2.5, -1.5, -0.5, -1.5])[SEASON] + rng.normal(0, 1.5, DAYS.size)).round(1)
    own_high = (high + 0.5 + rng.normal(0, 1.0, DAYS.size)).round(1)
    table(folder / "station.csv", DAYS, low, high)
    table(folder / "own.csv", DAYS[year], own_low[year], own_high[year])
    moved = [
        np.array([(own - base)[year & (k == SEASON)].mean() for k in range(4)])[SEASON]
        for own, base in ((own_low, low), (own_high, high))
    ]
    table(folder / "moved.csv", DAYS, low + moved[0], high + moved[1])
    (folder / "plain.toml").write_text(HEAD % "station.csv")
    (folder / "plot.toml").write_text(HEAD % "station.csv" + PLOT)
    (folder / "hand.toml").write_text(HEAD % "moved.csv")
    return folder


def windows(answer):
    """Windows of a chart's JSON without what the thermometer adds; shares to a hundredth, for tables are rounded."""
    bare = json.loads(json.dumps(answer), parse_float=lambda number: round(float(number), 2))
    for crop in bare["crops"]:
        for start in crop["starts"]:
            for window in (*start["windows"], *start["possible"]):
                window.pop("own_thermometer", None)
    return bare["crops"]


def test_a_chart_without_own_readings_says_nothing_of_them(place):
    assert "own_thermometer" not in json.dumps(chart_json(sowing_chart(str(place / "plain.toml"), CROPS)))


def test_the_chart_is_that_of_the_moved_record(place):
    chart = sowing_chart(str(place / "plot.toml"), CROPS)
    answer = chart_json(chart)
    by_hand = chart_json(sowing_chart(str(place / "hand.toml"), CROPS))
    assert windows(answer) == windows(by_hand)
    assert windows(answer) != windows(chart_json(sowing_chart(str(place / "plain.toml"), CROPS)))
    assert answer["own_thermometer"]["record"] == {"first": "2015-12-01", "last": "2016-11-30", "days": 366}
    assert [o["season"] for o in answer["own_thermometer"]["offsets"]][:2] == ["all year", "December to February"]
    assert any("moved to the plot by its own thermometer of 366 days: nights -1.5" in w for w in chart.warnings)


def test_windows_range_as_the_record_at_the_ends_of_the_error_says(place, tmp_path):
    """The ends are worked out by hand: offset and 95 per cent half-width of each season, added to the table."""
    chart = chart_json(sowing_chart(str(place / "plot.toml"), CROPS))
    half = {"tasmin": np.zeros(4), "tasmax": np.zeros(4)}
    seasons = ["December to February", "March to May", "June to August", "September to November"]
    for o in chart["own_thermometer"]["offsets"]:
        if o["season"] in seasons:
            half[o["variable"]][seasons.index(o["season"])] = (o["interval"][1] - o["interval"][0]) / 2
    rows = np.genfromtxt(place / "moved.csv", delimiter=",", skip_header=1, usecols=(1, 2))
    at = {}
    for name, side in (("if_colder", -1), ("if_warmer", 1)):
        low, high = (rows[:, k] + side * half[v][SEASON] for k, v in enumerate(("tasmin", "tasmax")))
        table(tmp_path / "end.csv", DAYS, low, high)
        (tmp_path / "end.toml").write_text(HEAD % "end.csv")
        at[name] = chart_json(sowing_chart(str(tmp_path / "end.toml"), CROPS))
    compared = 0
    for k, crop in enumerate(chart["crops"]):
        for n, start in enumerate(crop["starts"]):
            for window in start["windows"]:
                told = window["own_thermometer"]
                shares = [window["reliability"]]
                best = (np.datetime64(f"2001-{window['best']}") - np.datetime64("2001-01-01")).astype(int)
                for name, end in at.items():
                    other = end["crops"][k]["starts"][n]
                    shares.append(other["daily"][best])
                    if told[name]:
                        assert any(abs_days(told[name], w) <= 1 for w in other["windows"])  # half-widths are rounded
                        compared += 1
                assert told["reliability"][0] == pytest.approx(min(shares), abs=0.02)
                assert told["reliability"][1] == pytest.approx(max(shares), abs=0.02)
    assert compared >= 4


def abs_days(a, b):
    """Most days by which the edges of two windows part."""
    return max(abs((np.datetime64(f"2001-{a[e]}") - np.datetime64(f"2001-{b[e]}")).astype(int)) for e in ("from", "to"))


def test_it_is_told_in_words(place):
    chart, verdicts = rate_crops(str(place / "plot.toml"), ["french bean (bush)"])
    said = " ".join(screen_text(chart_document(chart), width=100).split())
    assert re.search(r"Within the error of your thermometer \d+( to \d+)? years in 10; if colder, ", said)
    said = " ".join(screen_text(verdict_document(chart.site, chart.record, verdicts[0]), width=100).split())
    assert "If the plot is colder, within the error of your thermometer: " in said
    assert "Within the error of your thermometer" in said
    answer = rate_json(chart.site, chart.record, verdicts)["crops"][0]["evidence"]
    assert answer["window"]["own_thermometer"]["reliability"][0] <= answer["window"]["reliability"]
    assert {"if_the_plot_is_colder_within_the_error", "if_it_is_warmer_within_the_error"} <= set(answer)


def test_perennials_range_too(place):
    _, verdicts = rate_crops(str(place / "plot.toml"), ["lemon"])
    low, high = verdicts[0].evidence["share_of_years_within_the_error"]
    assert low <= verdicts[0].reliability <= high


def test_few_weeks_leave_the_other_seasons_wide_open(place, tmp_path):
    """Six weeks of one winter: the summer's offset is a guess, and the range says so."""
    rows = (place / "own.csv").read_text().splitlines()
    (tmp_path / "own.csv").write_text("\n".join([rows[0], *rows[32:74]]) + "\n")
    (tmp_path / "station.csv").write_text((place / "station.csv").read_text())
    (tmp_path / "few.toml").write_text(HEAD % "station.csv" + PLOT)
    from sowcal.weather.open_site import open_weather

    half = open_weather(tmp_path / "few.toml")[1].offset.half_width["tasmin"]
    assert half[0] < 1.0
    assert min(half[1:]) >= 2.0
    chart = sowing_chart(str(tmp_path / "few.toml"), ["french bean (bush)"])
    assert any("no days from March to May" in w for w in chart.warnings)


def test_check_and_offset_speak_of_the_station_itself(place, capsys):
    def call(action, *words):
        given = {"json": True, "out": None, "width": 80, "ascii": True, "years": None, "issued": None}
        weather(argparse.Namespace(action=action, words=list(words), **given))
        return json.loads(capsys.readouterr().out)

    own = place / "own_named.csv"
    own.write_text((place / "own.csv").read_text().replace("tmin,tmax", "tmin_degC,tmax_degC"))
    told = [call("offset", str(place / f"{name}.toml"), str(own)) for name in ("plain", "plot")]
    assert told[0] == told[1]
    assert told[0]["offsets"][0]["mean"] == pytest.approx(-1.5, abs=0.2)
    assert call("check", str(place / "plot.toml")) == call("check", str(place / "plain.toml"))


def test_the_climate_is_that_of_the_plot(place):
    one, two = (site_climate(str(place / f"{n}.toml")) for n in ("plot", "hand"))
    assert one.tasmin == pytest.approx(two.tasmin, abs=1e-3)
    assert one.last_spring_frost == two.last_spring_frost
    said = " ".join(one.notes)
    assert "moved to the plot by its own thermometer of 366 days" in said
    assert "Within the error of your thermometer the last spring frost of the middle year" in said
    assert not any("thermometer" in note for note in two.notes)


@pytest.mark.parametrize(
    ("plot", "message"),
    [
        ("[plot]\nown_readings = 3\n", "own_readings under .plot. must be a text"),
        ('[plot]\nown_reading = "own.csv"\n', "did you mean 'own_readings'"),
        ('[plot]\ntemperature_unit = "degC"\n', "goes with own_readings"),
        ('[plot]\nchanges = "mulch"\n', "must be a list of texts"),
        ('[plot]\nown_readings = "a.csv"\ncolumns = "tmin"\n', r"\[plot.columns\] must hold"),
    ],
)
def test_faults_of_the_table_are_told(plot, message):
    with pytest.raises(InputError, match=message):
        parse_site(HEAD % "station.csv" + plot, where="x.toml")
    with pytest.raises(InputError, match="plot must be a table"):
        parse_site('plot = "own.csv"\n' + HEAD % "station.csv", where="x.toml")


def test_faults_of_the_readings_are_told(place, tmp_path):
    (tmp_path / "station.csv").write_text((place / "station.csv").read_text())
    site = tmp_path / "x.toml"
    site.write_text(HEAD % "station.csv" + PLOT)
    with pytest.raises(InputError, match="own_readings is looked for beside the site file"):
        sowing_chart(str(site), CROPS)
    (tmp_path / "own.csv").write_text("date,tmin,tmax\n2016-01-01,3.0,9.0\n2016-01-02,4.0,9.0\n")
    with pytest.raises(InputError, match=r"share 2 days.*own_readings under \[plot\]"):
        sowing_chart(str(site), CROPS)
    site.write_text(HEAD % "station.csv" + '[plot]\nown_readings = "own.csv"\n')
    with pytest.raises(InputError, match="temperature_unit"):
        sowing_chart(str(site), CROPS)
