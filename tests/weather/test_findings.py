"""How many lines real records are told in, the margin of the other hemisphere, and days that lie in the future."""

from __future__ import annotations

import csv
import datetime as dt
import importlib.util
import json
import re
from dataclasses import replace

import numpy as np
import pytest
import xarray as xr
from records_alike import unlocked

import sowcal
import sowcal.site_weather
from sowcal.errors import InputError
from sowcal.weather.cf_dataset import dataset_of
from sowcal.weather.csv_file import read_csv
from sowcal.weather.findings import (
    Findings,
    checked,
    findings_of,
    other_hemisphere,
    refuse_other_hemisphere,
    summer_excess,
)
from sowcal.weather.from_xarray_and_pandas import as_record
from sowcal.weather.open_site import open_weather
from sowcal.weather.quality import GRADES, KINDS, Problem, quality_report, zeros_for_missing
from sowcal.weather.record import Note, daily_record

ISSUED = dt.date(2026, 1, 15)
# One true fault, or more, of each kind, but for a hot day at Albany that is called wrong; the other sixteen are silent
LINES = {"five_points_ca": ["out of range", "spike"], "san_diego_ca": ["shift"], "albany_wa": ["out of range"]}


@pytest.fixture(scope="module")
def stations(reference_folder):
    with open(reference_folder / "weather" / "stations.csv", encoding="utf-8", newline="") as file:
        return {row["station"]: float(row["latitude"]) for row in csv.DictReader(file)}


def test_sound_records_are_told_in_no_line_and_none_in_more_than_two(reference_folder, stations):
    told = {}
    for name, latitude in stations.items():
        path = reference_folder / "weather" / f"{name}.csv"
        dataset = checked(read_csv(path, temperature_unit="degC", latitude=latitude), ISSUED)
        found = sowcal.site_weather.record_of(dataset).findings
        told[name] = [f.kind for f in found]
        for finding in found:
            print(f"{name}: {finding.line}")
    assert len(told) == 19
    assert {name: kinds for name, kinds in told.items() if kinds} == LINES
    assert max(map(len, told.values())) <= 2


def test_no_station_is_refused_and_each_is_with_the_other_sign(reference_folder, stations):
    least = np.inf
    for name, latitude in stations.items():
        path = reference_folder / "weather" / f"{name}.csv"
        refuse_other_hemisphere(read_csv(path, temperature_unit="degC", latitude=latitude))
        with pytest.raises(InputError, match=re.escape(f"write latitude = {latitude:g} if")):
            refuse_other_hemisphere(read_csv(path, temperature_unit="degC", latitude=-latitude), "there")
        dataset = read_csv(path, temperature_unit="degC")
        days = dataset.time
        swing = float(summer_excess(dataset["tasmin"], dataset["tasmax"], days))
        least = min(least, swing * np.sign(latitude))
    assert least > 5.5  # Albany, beside the sea


@pytest.mark.parametrize(
    ("excess", "latitude", "turned"),
    [
        (4.1, -15.1, True),
        (-4.1, 15.1, True),
        (4.1, 15.1, False),
        (-4.1, -15.1, False),
        (3.9, -40.0, False),
        (-3.9, 40.0, False),
        (-9.0, 14.9, False),
        (9.0, 0.0, False),
        (9.0, np.nan, False),
        (np.nan, -40.0, False),
    ],
)
def test_margins_of_the_other_hemisphere(excess, latitude, turned):
    assert bool(other_hemisphere(excess, latitude)) == turned


def test_the_swing_is_that_of_june_to_august_over_december_to_february():
    """By hand: months of 20, 21, 25 against 10, 9, 5 are 14 apart; a month that is hardly there leaves it unknown."""
    days = np.arange("2001-01-01", "2003-01-01", dtype="datetime64[D]")
    month = days.astype("datetime64[M]").astype(int) % 12
    mean = np.array([9.0, 5.0, 0, 0, 0, 20.0, 21.0, 25.0, 0, 0, 0, 10.0])[month]
    assert summer_excess(mean - 3, mean + 3, days) == pytest.approx(14.0)
    both = np.stack([mean, -mean])
    np.testing.assert_allclose(summer_excess(both - 3, both + 3, days), [14.0, -14.0])
    july = np.flatnonzero(month == 6)
    lacking = mean.copy()
    lacking[july[:-14]] = np.nan
    assert np.isnan(summer_excess(lacking, lacking, days))


def one(**changed):
    return Problem(**{"kind": "spike", "first": "2001-05-01", "last": "2001-05-01", "count": 1, "done": "x", **changed})


def test_a_day_that_two_columns_hold_for_doubtful_is_one_day():
    found = findings_of([one(variable="tasmin"), one(variable="tasmax")], "2000-01-01", "2002-12-31")
    assert [(f.kind, f.days) for f in found] == [("spike", 1)]
    assert found[0].line.startswith("the record has 1 day with a value far from both neighbouring days (2001-05-01); ")


def test_what_lies_outside_the_days_is_not_told_and_a_run_over_the_edge_in_part():
    run = one(kind="stuck", first="2001-12-25", last="2002-01-10", count=17)
    step = one(
        kind="shift", first="2005-01-01", last="2010-12-31", count=2191, done="tasmin: the mean changes by -2.0 K"
    )
    (found,) = findings_of([one(), run, step], "2002-01-01", "2004-12-31")
    assert (found.kind, found.days) == ("stuck", 10)
    assert findings_of([one(), run, step], "2005-01-01", "2010-12-31") == ()  # all of these days lie after the step
    kinds = [f.kind for f in findings_of([one(), run, step], "2001-01-01", "2010-12-31")]
    assert kinds == ["spike", "stuck", "shift"]
    assert findings_of([step], "2001-01-01", "2010-12-31")[0].mend.endswith("--years 2005:")


def test_remarks_are_not_told_and_losses_are_counted_together():
    problems = [
        one(kind="gap", grade="remark"),
        one(kind="rounding", grade="remark"),
        one(kind="crossed", grade="lost"),
        one(kind="out of range", grade="lost", first="2001-06-01", last="2001-06-02", count=2),
    ]
    (found,) = findings_of(problems, "2000-01-01", "2002-12-31")
    assert found.kind == "set to missing"
    assert found.text == "3 values of the record could not be used (2001-05-01 to 2001-06-02)"
    assert {"doubtful", "lost", "remark"} == set(GRADES)


def test_each_kind_has_its_words_and_its_mend():
    for kind in KINDS:
        if kind not in ("gap", "rounding"):
            done = {"shift": "tasmin: the mean changes by +2.0 K from this day on"}.get(kind, "pr: doubtful")
            (found,) = findings_of([one(kind=kind, done=done)], "2000-01-01", "2002-12-31", "2001-04-30")
            assert "2001-05-01" in found.text or kind == "unit"
            assert found.mend


def short(first="2020-01-01", last="2027-01-01"):
    days = np.arange(first, last, dtype="datetime64[D]")
    wave = np.cos(2 * np.pi * (np.arange(days.size) - 25) / 365.25)
    noise = np.random.default_rng(3).normal(0, 1, days.size)
    return daily_record(days, {"tasmin": 9 - 6 * wave + noise, "tasmax": 19 - 6 * wave + noise}, latitude=38.0)


def test_days_after_the_day_of_issue():
    dataset = unlocked(short())
    assert [p.kind for p in quality_report(dataset).problems] == []
    (future,) = quality_report(dataset, ISSUED).problems
    assert (future.kind, future.first, future.last, future.count) == ("future", "2026-01-16", "2026-12-31", 350)
    assert quality_report(dataset, dt.date(2026, 12, 31)).problems == ()
    for name in ("tasmin", "tasmax"):  # empty days say nothing, wherever they lie
        dataset[name][-360:] = np.nan
        dataset.origin[name][-360:] = 3
    assert {p.kind for p in quality_report(dataset, ISSUED).problems} == {"gap"}


def test_notes_of_days_that_are_not_in_the_record_mark_none():
    """Notes come with a file's attributes: after a part is cut out, or from another hand, they may name other days."""
    dataset = short()
    dates = ("2019-12-31", "2021-05-01", "2027-01-01", "soon", "NaT")
    noted = replace(dataset, notes=tuple(Note("set to missing", column="x", date=d) for d in dates))
    other_hand = dataset_of(dataset)
    said = [{"date": d, "column": "x", "what": "set to missing"} for d in (*dates, "")]
    other_hand.attrs["problems"] = json.dumps(said)
    for given in (noted, other_hand):
        problems = quality_report(as_record(given)).problems
        assert [(p.first, p.count, p.grade) for p in problems] == [("2021-05-01", 1, "lost")]
        (found,) = sowcal.sowing_chart(given, ["radish"], issued=dt.date(2027, 1, 1)).record.findings
        assert found.text == "1 value of the record could not be used (2021-05-01)"


def test_generated_years_are_not_in_the_future():
    dataset = open_weather("sallowdene")[1]
    assert quality_report(dataset, dt.date(2000, 1, 1)).problems == ()
    assert open_weather("sallowdene", issued=dt.date(2000, 1, 1))[1].findings == Findings("2000-01-01")  # as sound


def test_findings_are_of_the_days_that_they_were_made_from():
    dataset = unlocked(short())
    dataset["tasmax"][500] += 30.0
    noted = checked(dataset, ISSUED)
    assert [f.kind for f in sowcal.site_weather.record_of(noted).findings] == ["spike", "future"]
    assert checked(noted, ISSUED) is noted
    assert checked(noted) is noted
    handed_over = dataset_of(noted)
    assert as_record(handed_over).findings == noted.findings
    assert checked(as_record(handed_over), ISSUED).findings == noted.findings
    handed_over["tasmax"][500] -= 30.0
    mended = as_record(handed_over)
    assert sowcal.site_weather.record_of(mended).findings == ()
    assert [f.kind for f in sowcal.site_weather.record_of(checked(mended, ISSUED)).findings] == ["future"]
    assert mended.fingerprint == short().fingerprint != noted.fingerprint
    assert replace(mended, findings=noted.findings).fingerprint == short().fingerprint  # no part of the days


def test_a_dataset_that_is_not_day_after_day_is_put_in_order_and_looked_at_again():
    dataset = unlocked(short())
    dataset["tasmax"][500] += 30.0
    noted = checked(dataset, ISSUED)
    turned = as_record(dataset_of(replace(noted, findings=Findings(str(ISSUED)))).isel(time=slice(None, None, -1)))
    assert turned.findings is None  # what it says of itself is not believed
    np.testing.assert_array_equal(turned.time, noted.time)
    for name in ("tasmin", "tasmax"):
        np.testing.assert_array_equal(turned[name], noted[name])
    assert checked(turned, ISSUED).findings == noted.findings


def test_zeros_against_a_plain_loop():
    """Every zero judged by itself, as the rule says it."""
    rng = np.random.default_rng(8)
    days = np.arange("2000-01-01", "2007-01-01", dtype="datetime64[D]")
    values = (9 - 8 * np.cos(2 * np.pi * (np.arange(days.size) - 15) / 365.25) + rng.normal(0, 3, days.size)).round(0)
    values[rng.choice(days.size, 300, replace=False)] = 0.0
    values[rng.choice(days.size, 60, replace=False)] = np.nan
    values[[0, -1]] = 0.0
    of_year = (days - days.astype("datetime64[Y]").astype("datetime64[D]")).astype(int)
    want = np.zeros(days.size, dtype=bool)
    for k in np.flatnonzero(values == 0.0):
        beside = [values[j] for j in (k - 1, k + 1) if 0 <= j < days.size and np.isfinite(values[j])]
        near = [j for j in range(days.size) if abs((of_year[j] - of_year[k] + 182) % 365 - 182) <= 14]
        known = [j for j in near if np.isfinite(values[j])]
        others = sorted(values[j] for j in known if values[j] != 0.0)
        years = {str(days[j])[:4] for j in known}
        want[k] = bool(beside) and min(beside) >= 4 and len(years) >= 3 and len(others) > 2 and others[2] > 2
    got = zeros_for_missing(values, days)
    assert want.sum() > 50
    np.testing.assert_array_equal(got, want)


def grid_of(latitudes, first="2020-01-01", last="2023-01-01"):
    dataset = short(first, last)
    fields = {
        name: (
            ("time", "lat", "lon"),
            np.broadcast_to(dataset[name][:, None, None], (dataset.size, len(latitudes), 1)).copy(),
            {"units": "degC", "standard_name": "air_temperature"},
        )
        for name in ("tasmin", "tasmax")
    }
    grid = xr.Dataset(fields, {"time": dataset.time.astype("datetime64[ns]"), "lat": latitudes, "lon": [8.0]})
    grid["lat"].attrs = {"units": "degrees_north", "standard_name": "latitude"}
    grid["lon"].attrs = {"units": "degrees_east", "standard_name": "longitude"}
    return grid


needs_dask = pytest.mark.skipif(importlib.util.find_spec("dask") is None, reason="dask is not installed")


@needs_dask
def test_cells_of_the_other_hemisphere_are_left_out_and_told():
    found = sowcal.map_crop(grid_of([-38.0, 38.0]), "radish", issued=ISSUED)
    assert np.isnan(found["suitability_class"].values[0, 0]).all()
    assert np.isfinite(found["suitability_class"].values[0, 1]).all()
    assert "left out for the seasons of the other hemisphere: 1 cell; south is negative" in found.attrs["warnings"]
    with pytest.raises(InputError, match="the seasons of 2 cells are those of the other hemisphere"):
        sowcal.chill_map(grid_of([-38.0, -38.1]), issued=ISSUED)


@needs_dask
def test_a_map_tells_days_in_the_future():
    said = "1 day of the grid after the day of issue, 2022-12-30: 2022-12-31 to 2022-12-31"
    assert said in sowcal.chill_map(grid_of([38.0]), issued=dt.date(2022, 12, 30)).attrs["warnings"]
    assert "warnings" not in sowcal.chill_map(grid_of([38.0]), issued=ISSUED).attrs
