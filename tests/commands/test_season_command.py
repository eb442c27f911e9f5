"""`sowcal season` and `sowcal week` with a log: the screen, files, JSON and Python, and what a reader must be told."""

from __future__ import annotations

import datetime as dt
import json

import numpy as np
import pytest

import sowcal
from sowcal.__main__ import main
from sowcal.season_log import COLUMNS
from sowcal.year import date_text

HEAD = """name = "Ness"
latitude = 38.0
elevation = 90
[weather]
source = "file"
file = "days.csv"
temperature_unit = "degC"
"""
GARDEN = """name = "x"
site = "ness.toml"
[water]
tanks = [1000]
[[beds]]
name = "bed 2"
length = {}
width = 1.2
"""
DAY = ["--date", "2016-05-10"]
LINES = [
    "2016-02-20,sown under cover,tomato (large),,,12,,",
    "2016-03-01,sown outdoors,carrot,an invented sort,1,200,,",
    "2016-04-10,set out,courgette,,2,4,,",
    "2015-11-01,sown outdoors,broad bean,,3,,,",
    "2016-05-02,tank,,,,,300,",
]


def days(path, first, last, warmer=0.0):
    time = np.arange(first, last, dtype="datetime64[D]")
    rng = np.random.default_rng(int(time[0].astype(int)))
    low = 9 + warmer - 6 * np.cos(2 * np.pi * (time.astype(int) - 25) / 365.25) + rng.normal(0, 2.5, time.size)
    rain = np.where(rng.uniform(size=time.size) < 0.2, 6.0, 0.0)
    lines = [f"{d},{a:.1f},{a + 10:.1f},{r:.1f}" for d, a, r in zip(time, low, rain, strict=True)]
    path.write_text("\n".join(["date,tmin,tmax,precip", *lines]) + "\n", encoding="utf-8")


@pytest.fixture
def site(tmp_path):
    """A site file of an invented record up to 10 May 2016, with a log beside it."""
    days(tmp_path / "days.csv", "2001-01-01", "2016-05-11")
    (tmp_path / "ness.toml").write_text(HEAD, encoding="utf-8")
    written(tmp_path, LINES)
    return tmp_path / "ness.toml"


def written(folder, lines):
    (folder / "ness.log.csv").write_text("\n".join([",".join(COLUMNS), *lines]) + "\n", encoding="utf-8")


@pytest.fixture
def ask(capsys):
    def run(*words):
        code = main([str(w) for w in words])
        told = capsys.readouterr()
        return code, told.out, told.err

    return run


def test_the_first_line_names_the_log_and_the_screen_has_no_more_than_40_lines(site, ask):
    code, out, _ = ask("season", site, *DAY, "--width", "160")
    assert code == 0
    assert out.split("\n")[:2] == [f"Log: {site.with_name('ness.log.csv')}", "THE SEASON at Ness on 10 May 2016"]
    for word in ("tomato (large)", "carrot, an invented sort", "courgette", "broad bean", "bed 2:", "Tank: 300 litres"):
        assert word in out
    crops = ["carrot", "radish", "chard"] * 14
    many = [f"2016-0{2 + k % 3}-{1 + k % 28:02d},sown outdoors,{c},,{k},,," for k, c in enumerate(crops)]
    lost = [f"2016-05-0{1 + k % 9},lost,carrot,,{3 * k},,," for k in range(6)]
    bad = [f"2016-05-01,eaten,carrot,,{k},,," for k in range(9)]
    written(site.parent, [*LINES, *many, *lost, *bad])
    for width in (60, 80, 100, 140):
        _, out, err = ask("season", site, *DAY, "--width", width)
        assert len(out.rstrip("\n").split("\n")) <= 40, width
        assert max(map(len, out.split("\n")[1:])) <= width
    assert err.count("is no event") == 9


def test_json_frame_calendar_and_python_say_the_same(site, ask, tmp_path):
    answer = json.loads(ask("season", site, *DAY, "--json")[1])
    assert answer["weather_to"] == "2016-05-10"
    by_crop = {s["crop"]: s for s in answer["sowings"]}
    assert list(by_crop) == ["broad bean", "tomato (large)", "carrot", "courgette"]
    place = sowcal.Site.open(site, issued=dt.date(2016, 5, 10))
    season = place.season(site.with_name("ness.log.csv"))
    told = json.loads(season.to_json())
    for one in (told, answer):
        one.pop("notes")
        one["water"] = [w["bed"] for w in one["water"]]
    assert told["sowings"] == answer["sowings"]
    frame = season.to_pandas().set_index("crop")
    assert {"set_out_p10", "emergence_p90", "best_start"} <= set(frame.columns)
    assert not {"set_out", "emergence", "best"} & set(frame.columns)  # none of them both whole and in parts
    assert frame.loc["courgette", "first_picking_p50"] == by_crop["courgette"]["first_picking"]["p50"]
    assert ask("season", site, *DAY, "--out", tmp_path / "s.ics", "--issued", "2016-05-10")[0] == 0
    calendar = (tmp_path / "s.ics").read_bytes().decode()
    when = by_crop["courgette"]["first_picking"]["p50"].replace("-", "")
    event = next(e for e in calendar.split("BEGIN:VEVENT") if "First picking: courgette" in e)
    assert f"DTSTART;VALUE=DATE:{when}" in event
    sorts = by_crop["courgette"]["first_picking_any_sort"]
    words = [date_text(dt.date.fromisoformat(sorts[p])) for p in ("p10", "p90")]
    assert f"Early and late sorts: {words[0]} to {words[1]}." in event.replace("\r\n ", "")
    assert ask("season", site, *DAY, "--out", tmp_path / "s.csv")[0] == 0
    assert (tmp_path / "s.csv").read_text().count("\n") == 5


def test_only_what_was_known_on_a_day_is_told(site, ask):
    """An answer for a day in the past does not change with the days after it, in the record or in the log."""
    words = ("season", site, "--date", "2015-05-10", "--json")
    written(site.parent, ["2015-03-01,sown outdoors,carrot,,1,,,"])
    before = json.loads(ask(*words)[1])
    written(site.parent, ["2015-03-01,sown outdoors,carrot,,1,,,", "2015-07-01,lost,carrot,,,,,"])
    whole = (site.parent / "days.csv").read_text().split("\n")
    cut = [line for line in whole if line < "2015-05-11" or line.startswith("date")]
    (site.parent / "days.csv").write_text("\n".join(cut) + "\n")
    after = json.loads(ask(*words)[1])
    assert before["sowings"] == after["sowings"]
    assert before["sowings"][0]["stage"] == "growing"


def test_days_of_the_plot_and_a_forecast_from_files(site, ask, tmp_path):
    days(tmp_path / "own.csv", "2016-05-01", "2016-05-25", warmer=4.0)
    days(tmp_path / "coming.csv", "2016-05-25", "2016-06-08", warmer=8.0)
    day = ["--date", "2016-05-24"]
    stale = json.loads(ask("season", site, *day, "--json")[1])
    assert stale["weather_to"] == "2016-05-10"
    assert any("its years stand in" in n for n in stale["notes"])
    code, _, err = ask("season", site, *day, "--recent", tmp_path / "own.csv", "--json")
    assert code == 2
    assert "temperature_unit" in err
    for name in ("own.csv", "coming.csv"):
        path = tmp_path / name
        path.write_text("# temperature_unit: degC\n" + path.read_text())
    own = json.loads(ask("season", site, *day, "--recent", tmp_path / "own.csv", "--json")[1])
    assert own["weather_to"] == "2016-05-24"
    both = ["--recent", tmp_path / "own.csv", "--forecast", tmp_path / "coming.csv"]
    coming = json.loads(ask("season", site, *day, *both, "--json")[1])
    assert (coming["weather_to"], coming["forecast_to"]) == ("2016-05-24", "2016-06-07")
    assert any("forecast" in n for n in coming["notes"])
    dates = [
        next(s for s in a["sowings"] if s["crop"] == "courgette")["first_picking"]["p50"] for a in (stale, own, coming)
    ]
    assert dates[2] < dates[1] < dates[0]


def test_the_plots_own_readings_go_on_where_the_record_ends(site, ask):
    days(site.parent / "own.csv", "2016-03-01", "2016-05-21", warmer=3.0)
    plot = '[plot]\nown_readings = "own.csv"\ntemperature_unit = "degC"\n'
    site.write_text(HEAD + plot, encoding="utf-8")
    answer = json.loads(ask("season", site, "--date", "2016-05-20", "--json")[1])
    assert answer["weather_to"] == "2016-05-20"
    days(site.parent / "own.csv", "2016-03-01", "2016-05-09", warmer=3.0)
    answer = json.loads(ask("season", site, "--date", "2016-05-20", "--json")[1])
    assert answer["weather_to"] == "2016-05-10"


def test_a_gap_within_the_season_is_told(site, ask):
    path = site.parent / "days.csv"
    lines = [line for line in path.read_text().split("\n") if not "2016-04-05" <= line[:10] <= "2016-04-20"]
    path.write_text("\n".join(lines))
    notes = json.loads(ask("season", site, *DAY, "--json")[1])["notes"]
    assert any(note.startswith("16 days of this season are missing") for note in notes)


def test_the_week_advises_nothing_that_is_sown_and_picks_what_stands(site, ask):
    words = ("week", site, "carrot", "courgette", "leek", *DAY, "--json")
    told = {(j["job"], j["crop"]) for j in json.loads(ask(*words)[1])["jobs"]}
    site.with_name("ness.log.csv").unlink()
    usual = {(j["job"], j["crop"]) for j in json.loads(ask(*words)[1])["jobs"]}
    assert ("set out", "courgette") in usual
    assert not {j for j in told if j[1] == "courgette" and j[0] != "pick"}
    assert ("set out", "leek") in usual & told  # not in the log


def test_beds_and_tank_of_a_garden_file_are_reckoned_with(site, ask):
    (site.parent / "ness.garden.toml").write_text(GARDEN.format(10), encoding="utf-8")
    litres = []
    for named in (None, 10, 20):
        if named:
            (site.parent / "ness.garden.toml").write_text(GARDEN.format(named), encoding="utf-8")
            site.write_text('garden = "ness.garden.toml"\n' + HEAD, encoding="utf-8")
        written(site.parent, ["2016-04-10,set out,courgette,,2,,,"])
        answer = json.loads(ask("season", site, *DAY, "--json")[1])
        litres.append(answer["water"][0]["litres_this_week"])
    assert litres[1] == pytest.approx(12.0 * litres[0], rel=0.01)  # 12 m2 in the place of one
    assert litres[2] == pytest.approx(2.0 * litres[1], rel=0.01)


def test_a_year_afterwards(site, ask):
    written(site.parent, ["2015-03-01,sown outdoors,carrot,,1,,,", "2015-06-20,first picked,carrot,,,,2,"])
    code, out, _ = ask("season", site, "--year", "2015")
    assert code == 0
    assert "THE GROWING YEAR 1 Jan 2015 to 31 Dec 2015" in out
    assert "20 Jun" in out
    code, out, _ = ask("season", site, "--year", "2014")
    assert "Nothing was started" in out


def test_what_the_weather_has_taken_is_told_to_be_looked_at(site, ask):
    """Frost of -15 degC on every plant of the bed: nothing is left to pick, whatever comes."""
    path = site.parent / "days.csv"
    killed = [f"{d[:10]},-15.0,2.0,0.0" if d.startswith("2016-04-25") else d for d in path.read_text().split("\n")]
    path.write_text("\n".join(killed), encoding="utf-8")
    written(site.parent, ["2016-04-10,set out,courgette,,2,4,,"])
    (now,) = json.loads(ask("season", site, *DAY, "--json")[1])["sowings"]
    assert (now["picked_share"], now["first_picking"], now["first_picking_any_sort"]) == (0.0, None, None)
    assert [t["job"] for t in now["tasks"]] == ["look whether it lives"]
    assert "nothing to pick, whatever comes" in ask("season", site, *DAY, "--width", "120")[1]
    lines = ["2016-04-10,set out,courgette,,2,4,,", "2016-05-08,first picked,courgette,,2,,,"]
    written(site.parent, lines)  # what was seen goes before what is reckoned
    (now,) = json.loads(ask("season", site, *DAY, "--json")[1])["sowings"]
    assert [t["job"] for t in now["tasks"]] == ["pick"]
    assert " till \n" not in ask("season", site, *DAY, "--width", "120")[1]
    written(site.parent, ["2016-04-10,sown under cover,courgette,,,4,,"])  # under cover no frost has come to it
    (now,) = json.loads(ask("season", site, *DAY, "--json")[1])["sowings"]
    assert "look whether it lives" not in [t["job"] for t in now["tasks"]]


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (["carrot"], "carrot"),
        (["--date", "2016-02-30"], "no date"),
        (["--forecast", "none.csv"], "there is no"),
        (["--garden", "none.toml"], "there is no"),
        (["--date", "2001-03-01"], "at least a year"),
    ],
)
def test_what_cannot_be_told_is_refused_in_one_sentence(site, ask, words, why):
    code, _, err = ask("season", site, *words)
    assert code in (2, 4)
    assert why in err
    assert err.rstrip("\n").count("\n") == 0


def test_perennials_and_unknown_values_cannot_be_told(site, ask):
    written(site.parent, ["2016-03-01,planted,rhubarb,,9,,,"])
    (now,) = json.loads(ask("season", site, *DAY, "--json")[1])["sowings"]
    assert (now["stage"], now["first_picking"]) == ("cannot say", None)
    assert "lives for years" in now["note"]
