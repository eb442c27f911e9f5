"""Every kind of slip is seen where it is put, and sound records raise next to no alarm."""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import replace
from importlib.metadata import PackageNotFoundError, files
from pathlib import Path

import numpy as np
import pytest

from sowcal.weather.csv_file import read_csv
from sowcal.weather.filling import fill_short_gaps
from sowcal.weather.generator import generate_daily
from sowcal.weather.open_site import open_weather
from sowcal.weather.quality import KINDS, quality_report, without_precedent
from sowcal.weather.record import daily_record

sys.path.insert(0, str(Path(__file__).parent))
from records_alike import assert_alike, unlocked

RECORDS = [
    "a_coruna", "albany_wa", "algiers", "alice_springs", "athens_hellinikon", "cordoba_es", "de_bilt",
    "dublin_airport", "five_points_ca", "fort_collins_co", "hobart", "irkutsk", "madrid", "nuriootpa_sa",
    "palma", "perth", "san_diego_ca", "seville", "valencia",
]  # fmt: skip


@pytest.fixture(scope="module")
def clean():
    return open_weather("wrackhythe")[1]


@pytest.fixture(scope="module", params=["generated", "madrid"])
def sound(request, clean):
    """A generated record, and a real one that raises no alarm as it is."""
    if request.param == "generated":
        return clean
    folder = request.getfixturevalue("reference_folder") / "weather"
    return read_csv(folder / "madrid.csv", temperature_unit="degC", latitude=40.41)


def place_of(dataset, day):
    return int((np.datetime64(day, "D") - dataset.time[0]).astype(int))


def found(dataset, kind, variable=None):
    return [p for p in quality_report(dataset).problems if p.kind == kind and variable in (None, p.variable)]


def test_the_json_has_its_keys_and_no_others(clean):
    damaged = unlocked(clean)
    damaged["tasmax"][100] = 99.0
    answer = quality_report(damaged).to_json()
    assert list(answer) == ["record", "coverage_percent", "filled_days", "problems"]
    assert answer["record"] == {"first": "1991-01-01", "last": "2020-12-31", "years": 30.0}
    assert [list(p) for p in answer["problems"]] == [["kind", "from", "to", "count", "done"]]
    assert answer["problems"][0]["kind"] == "out of range"
    assert answer["problems"][0]["from"] == "1991-04-11"


@pytest.mark.parametrize("name", ["wrackhythe", "sallowdene"])
def test_a_generated_record_raises_no_alarm(name):
    report = quality_report(open_weather(name)[1])
    assert report.problems == ()
    assert report.coverage_percent == 100.0


def test_other_generated_years_raise_next_to_none():
    normals = {
        "tasmin": [1, 2, 4, 6, 10, 14, 17, 17, 14, 10, 5, 2], "tasmax": [9, 11, 15, 18, 23, 28, 32, 32, 27, 20, 14, 10],
        "pr": [60] * 12, "wet_days": [8] * 12,
    }  # fmt: skip
    alarms = sum(
        len(quality_report(generate_daily(normals, years=30, seed=s, latitude=40.0)).problems) for s in range(10)
    )
    assert alarms <= 1  # in 300 years


# Days that are wrong by the look of them beside their neighbours (a minimum of 0.0 in July, 33.1 in December with no
# maximum, a maximum of 40 between two Decembers' 11): Five Points' loggers of 1990 to 1992 and zeros for missing
TRUE_FAULTS = {
    "five_points_ca": {
        "1990-09-14", "1990-12-16", "1990-12-25", "1990-12-26", "1991-12-28", "1992-01-09", "1992-01-11", "1992-01-31",
        "2002-05-16", "2005-10-11", "2009-06-26", "2009-06-30", "2009-07-07", "2011-07-14", "2012-06-18",
    },
}  # fmt: skip
FALSE_ALARMS = {"albany_wa": {"2016-11-15"}}  # 39.0 between 31.2 and 18.2: a hot day before a change of wind


@pytest.mark.parametrize("name", RECORDS)
def test_real_records_read_true(reference_folder, name):
    """Each fault that is there is told, and of sound days none but one in 19 records (604 years)."""
    dataset = read_csv(reference_folder / "weather" / f"{name}.csv", temperature_unit="degC")
    report = quality_report(dataset)
    count = Counter(p.kind for p in report.problems)
    assert set(count) <= set(KINDS)
    assert not {"repeat", "crossed", "unit", "swapped", "stuck"} & set(count)
    told = {p.first for p in report.problems if p.kind in ("spike", "out of range")}
    assert told == TRUE_FAULTS.get(name, set()) | FALSE_ALARMS.get(name, set())
    # both are read to whole degF and converted; no other record is
    assert ("rounding" in count) == (name in ("fort_collins_co", "san_diego_ca"))
    assert count["shift"] == 0 or name == "san_diego_ca"  # its mean does change, by up to 2 K, in 1985 and 2013
    given = {"cordoba_es": 86.8, "irkutsk": 90.5, "madrid": 100.0}
    if name in given:  # README of the records: 13.21 and 9.46 per cent missing
        assert report.coverage_percent == pytest.approx(given[name], abs=0.1)


def test_records_that_the_checks_were_not_set_on():
    """Eleven records of `aquacrop` (319 years): a week stuck in Nebraska in 1982, and one sound day called wrong."""
    try:
        held = [f for f in files("aquacrop") if f.name.endswith("_climate.txt")]
    except PackageNotFoundError:
        pytest.skip("the package aquacrop is not installed")
    told = set()
    for file in held:
        report = quality_report(read_csv(file.locate(), temperature_unit="degC"))
        daily = [p for p in report.problems if p.kind in ("spike", "out of range", "stuck", "repeat", "unit")]
        told |= {(file.name.split("_")[0], p.kind, p.first, p.variable) for p in daily}
    assert told == {
        ("champion", "stuck", "1982-02-04", "tasmax"),
        ("champion", "stuck", "1982-02-05", "tasmin"),
        ("tunis", "stuck", "1979-11-19", "tasmax"),  # 16.0 eight days on end
        ("hyderabad", "out of range", "2008-03-24", "tasmax"),  # a cool day with 78 mm of rain
    }


@pytest.mark.parametrize(
    ("others", "excused"),
    [
        ({"2004-10-12": 13.0, "2007-09-20": 12.5}, True),
        ({"2004-10-12": 13.0}, False),  # one other year only
        ({"2004-10-12": 13.0, "2004-10-13": 13.0}, False),
        ({"2004-10-12": 11.0, "2007-10-12": 11.0}, False),  # not as far
        ({"2004-12-12": 13.0, "2007-12-12": 13.0}, False),  # another season
        ({"2004-10-12": -13.0, "2007-10-12": -13.0}, False),  # the other side
    ],
)
def test_hot_winds_are_the_places_own(others, excused):
    """A day of +16 K is told unless two other years have had days three quarters as far out in that season."""
    days = np.arange("2000-01-01", "2010-01-01", dtype="datetime64[D]")
    usual = np.full(days.size, 20.0)
    values = usual + np.resize([0.0, 1.0, -1.0], days.size)
    mark = days == np.datetime64("2002-10-10")
    values[mark] += 16.0
    for day, by in others.items():
        values[days == np.datetime64(day)] = 20.0 + by
    got = without_precedent(mark, values, usual, values - 10.0, days)
    assert got.any() != excused
    assert not (got & ~mark).any()


def test_a_zero_for_missing(sound):
    damaged = unlocked(sound)
    for year in (2001, 2003, 2005, 2007):
        damaged["tasmin"][place_of(damaged, f"{year}-07-14")] = 0.0
    hit = quality_report(damaged).problems
    assert [p.first for p in hit] == [f"{y}-07-14" for y in (2001, 2003, 2005, 2007)]
    assert all("stand for missing" in p.done for p in hit)


def test_a_minimum_above_all_maxima(sound):
    damaged = unlocked(sound)
    k = place_of(damaged, "2003-01-15")
    january = damaged.time.astype("datetime64[M]").astype(int) % 12 == 0
    highest = float(np.nanmax(damaged["tasmax"][january]))
    damaged["tasmax"][k] = np.nan
    damaged["tasmin"][k] = highest + 0.5
    hit = [p for p in quality_report(damaged).problems if p.kind in ("out of range", "spike")]
    assert [(p.first, p.variable) for p in hit] == [("2003-01-15", "tasmin")]


def test_a_gap(sound):
    damaged = unlocked(sound)
    k = place_of(damaged, "2003-05-10")
    damaged["tasmin"][k : k + 4] = np.nan
    damaged.origin["tasmin"][k : k + 4] = 3
    (gap,) = found(damaged, "gap")
    assert (gap.first, gap.last, gap.count, gap.variable) == ("2003-05-10", "2003-05-13", 4, "tasmin")
    assert "left missing" in gap.done
    mended = fill_short_gaps(damaged)
    report = quality_report(mended)
    assert report.filled_days == 4
    assert [p.done for p in report.problems] == ["tasmin: filled, and flagged as such"]
    for r in (report, quality_report(damaged)):  # filled days do not count as covered
        assert dict(r.coverage_by_month)[2003][4] == pytest.approx(27 / 31)
        assert r.coverage_by_year()[2003] == pytest.approx((11 + 27 / 31) / 12)


def test_a_repeat(sound):
    damaged = unlocked(sound)
    a, b = place_of(damaged, "2001-03-01"), place_of(damaged, "2004-03-01")
    for name in ("tasmin", "tasmax"):
        damaged[name][b : b + 31] = damaged[name][a : a + 31]
    (repeat,) = found(damaged, "repeat")
    assert (repeat.first, repeat.last, repeat.count) == ("2004-03-01", "2004-03-31", 31)
    assert "2001-03-01" in repeat.done


def test_crossed_and_swapped(sound):
    damaged = unlocked(sound)
    k, m = place_of(damaged, "2002-07-04"), place_of(damaged, "2005-02-01")
    low, high = damaged["tasmin"], damaged["tasmax"]
    low[k], high[k] = high[k], low[k]
    low[m : m + 28], high[m : m + 28] = high[m : m + 28].copy(), low[m : m + 28].copy()
    (crossed,) = found(damaged, "crossed")
    assert (crossed.first, crossed.count) == ("2002-07-04", 1)
    (swapped,) = found(damaged, "swapped")
    assert (swapped.first, swapped.last) == ("2005-02-01", "2005-02-28")


def test_the_mean_in_the_place_of_the_minimum(sound):
    damaged = unlocked(sound)
    mean = 0.5 * (damaged["tasmin"] + damaged["tasmax"])
    k = place_of(damaged, "2002-07-01")
    damaged = unlocked(damaged.with_values({"tas": mean}, {"tas": damaged.origin["tasmin"]}))
    damaged["tas"][k : k + 31] = damaged["tasmin"][k : k + 31]
    damaged["tasmin"][k : k + 31] = mean[k : k + 31]
    swapped = found(damaged, "swapped", "tas")
    assert [(p.first, p.last) for p in swapped] == [("2002-07-01", "2002-07-31")]


@pytest.mark.parametrize(
    ("variable", "value"),
    [("tasmax", 61.0), ("tasmin", -95.0), ("tasmin", -40.0), ("pr", -1.0), ("pr", 900.0)],
)
def test_out_of_range(sound, variable, value):
    damaged = unlocked(sound)
    k = place_of(damaged, "2002-07-04")
    damaged[variable][k] = value
    hit = [p for p in quality_report(damaged).problems if p.kind in ("out of range", "spike")]
    assert [(p.first, p.variable, p.count) for p in hit] == [("2002-07-04", variable, 1)]


@pytest.mark.parametrize("variable", ["tasmin", "tasmax"])
def test_stuck(sound, variable):
    damaged = unlocked(sound)
    k = place_of(damaged, "2002-10-04")
    damaged[variable][k : k + 12] = damaged[variable][k]
    (stuck,) = found(damaged, "stuck")
    assert (stuck.first, stuck.last, stuck.variable) == ("2002-10-04", "2002-10-15", variable)


@pytest.mark.parametrize(("variable", "by"), [("tasmax", 20.0), ("tasmin", -20.0)])
def test_a_spike(sound, variable, by):
    damaged = unlocked(sound)
    k = place_of(damaged, "2002-05-20")
    damaged[variable][k] = damaged[variable][k - 1] + by
    hit = [p for p in quality_report(damaged).problems if p.kind in ("spike", "out of range")]
    assert [p.first for p in hit] == ["2002-05-20"]
    assert f"{damaged[variable][k]:.1f} degC, far " in hit[0].done


@pytest.mark.parametrize("by", [-1.5, 2.0])
def test_a_shift(sound, by):
    damaged = unlocked(sound)
    damaged["tasmin"][place_of(damaged, "2000-01-01") :] += by
    shift = found(damaged, "shift", "tasmin")
    assert len(shift) == 1
    assert abs(np.datetime64(shift[0].first) - np.datetime64("2000-01-01")).astype(int) <= 366
    told = float(shift[0].done.split("changes by ")[1].split(" K")[0])
    assert told == pytest.approx(by, abs=0.6)
    assert not found(damaged, "shift", "tasmax")


@pytest.mark.parametrize("step", [1.0, 0.5, 5.0 / 9.0])
def test_rounding(sound, step):
    damaged = unlocked(sound)
    k, m = place_of(damaged, "2000-01-01"), place_of(damaged, "2005-01-01")
    values = damaged["tasmax"]
    values[k:m] = (np.round((values[k:m] + 160 / 9) / step) * step - 160 / 9 if step not in (1.0, 0.5) else
                   np.round(values[k:m] / step) * step).round(1)  # fmt: skip
    (rounding,) = found(damaged, "rounding")
    assert (rounding.first, rounding.last, rounding.variable) == ("2000-01-01", "2004-12-31", "tasmax")
    assert {1.0: "whole degC", 0.5: "half degC"}.get(step, "whole degF") in rounding.done


def test_months_in_fahrenheit(sound):
    damaged = unlocked(sound)
    k, m = place_of(damaged, "2000-01-01"), place_of(damaged, "2000-04-01")
    for name in ("tasmin", "tasmax"):
        damaged[name][k:m] = damaged[name][k:m] * 1.8 + 32
    assert [(p.first, p.last, p.variable) for p in found(damaged, "unit")] == [
        ("2000-01-01", "2000-03-31", "tasmax"),
        ("2000-01-01", "2000-03-31", "tasmin"),
    ]
    assert not found(damaged, "shift")


def test_a_whole_record_in_fahrenheit_said_to_be_celsius(sound):
    damaged = unlocked(sound)
    for name in ("tasmin", "tasmax"):
        damaged[name][:] = (damaged[name] * 1.8 + 32).round(1)
    assert {p.variable for p in found(damaged, "unit")} >= {"tasmax"}


def test_rain_in_inches(sound):
    damaged = unlocked(sound)
    damaged["pr"][:] = (damaged["pr"] / 25.4).round(2)
    (unit,) = found(damaged, "unit", "pr")
    assert "inches" in unit.done


def test_a_latitude_with_the_wrong_sign(sound):
    wrong = replace(sound, latitude=-sound.latitude)
    (swapped,) = found(wrong, "swapped")
    assert "hemisphere" in swapped.done
    assert not found(sound, "swapped")


def test_what_the_reader_noted_is_part_of_the_report(tmp_path):
    rows = [f"2001-01-{d:02d},{d / 10:.1f},{d / 10 + 8:.1f},0.0" for d in range(1, 32)]
    rows[3], rows[9] = "2001-01-04,12.0,2.0,0.0", "2001-01-10,1.0,88.0,0.0"
    rows[11] = "2001-01-12,1.1,9.2,-3"
    path = Path(tmp_path) / "r.csv"
    path.write_text("date,tmin_degC,tmax_degC,rain (buckets)\n" + "\n".join(rows) + "\n")
    problems = [p for p in quality_report(read_csv(path)).problems if p.kind != "gap"]
    assert [(p.kind, p.first) for p in problems] == [
        ("crossed", "2001-01-04"),
        ("out of range", "2001-01-10"),
        ("out of range", "2001-01-12"),
        ("unit", "2001-01-01"),
    ]
    assert all(p.done.endswith("set to missing") for p in problems[:3])
    assert problems[3].done == "rain (buckets): the unit in the header is not understood: read as mm day-1"


def test_a_very_short_record_is_no_trouble():
    days = np.array(["2001-01-01", "2001-01-02"], dtype="datetime64[D]")
    report = quality_report(daily_record(days, {"tasmin": [1.0, 2.0], "tasmax": [5.0, np.nan]}))
    assert report.coverage_percent == 50.0
    assert [p.kind for p in report.problems] == ["gap"]


def test_it_mends_nothing(sound):
    before = unlocked(sound)
    quality_report(sound)
    assert_alike(sound, before)


def precedent(departures, marked, ranges=None):
    """Days of one date in as many years, of so much departure; which of the marked have no precedent."""
    days = np.array([f"{2001 + k}-07-15" for k in range(len(departures))], dtype="datetime64[D]")
    ranges = np.full(days.size, 10.0) if ranges is None else np.array(ranges, dtype=float)
    mark = np.isin(np.arange(days.size), marked)
    return without_precedent(mark, np.array(departures, dtype=float), np.zeros(days.size), ranges, days).tolist()


def test_precedent_by_hand():
    """Two other years with three quarters of the departure, to the same side, and of a wide range as much."""
    assert precedent([8.0, 6.0, 6.0, 0.0], [0]) == [False] * 4
    assert precedent([8.0, 5.9, 6.0, 0.0], [0]) == [True, False, False, False]
    assert precedent([8.0, -6.0, -6.0, 6.0], [0]) == [True, False, False, False]
    assert precedent([-8.0, -6.0, -6.0, 6.0], [0]) == [False] * 4
    # a day that has precedent is one itself
    assert precedent([10.0, 7.5, 6.0, 6.0], [0, 1]) == [True, False, False, False]
    assert precedent([8.0, 7.5, 6.0, 6.0], [0, 1]) == [False] * 4
    # wider than usual: three quarters of its range too; a range that is not known asks for none
    assert precedent([8.0, 6.0, 6.0, 0.0], [0], [20.0, 15.0, 15.0, 10.0]) == [False] * 4
    assert precedent([8.0, 6.0, 6.0, 0.0], [0], [20.0, 15.0, 14.9, 10.0]) == [True, False, False, False]
    assert precedent([8.0, 6.0, 6.0, 0.0], [0], [20.0, 15.0, 14.9, np.nan]) == [True, False, False, False]
    assert precedent([8.0, 6.0, 6.0, 0.0], [0], [np.nan] * 4) == [False] * 4
