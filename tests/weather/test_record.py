"""The daily record: frozen, cut as a copy, and the same in every fact after it was a dataset or a file."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import FrozenInstanceError, fields, replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from sowcal.errors import InputError
from sowcal.weather.cf_dataset import dataset_of, record_of_labelled
from sowcal.weather.export import export_record
from sowcal.weather.findings import Findings, checked
from sowcal.weather.offset import Offset, OffsetReport, PlotOffset
from sowcal.weather.open_site import open_weather, read_record
from sowcal.weather.quality import Problem
from sowcal.weather.record import FILLED, MISSING, DailyRecord, Felt, Note, StationFacts, daily_record
from sowcal.weather.site_file import bundled_names

sys.path.insert(0, str(Path(__file__).parent))
from records_alike import assert_alike


@pytest.fixture
def full():
    """Two invented years that have every fact a record can have."""
    days = np.arange("2003-01-01", "2005-01-01", dtype="datetime64[D]")
    wave = (8.0 * np.cos(2 * np.pi * np.arange(days.size) / 365.25)).round(1)
    rain = np.where(np.arange(days.size) % 5 == 0, 3.3, 0.0)
    values = {"tasmin": 8.0 - wave, "tasmax": 19.0 - wave, "pr": rain, "tas": 13.5 - wave, "hurs": 60.0 + wave}
    values["tasmin"][40:43] = values["pr"][7] = np.nan
    record = daily_record(days, values, latitude=38.2, longitude=-15.4, elevation=12.0, title="Ness",
                          source="invented", history="made up", licence="CC0")  # fmt: skip
    humid = record.origin["hurs"].copy()
    humid[9] = FILLED
    record = record.with_values({}, {"hurs": humid})
    offsets = (Offset("tasmin", "all year", 90, -1.25, 0.15, 1.5), Offset("tasmax", "all year", 91, 0.5, 0.2, 1.25))
    report = OffsetReport("2003-02-01", "2003-05-02", 91, offsets, ("no days from June to August",))
    found = Problem("spike", "2003-05-01", "2003-05-01", 1, "tasmax: 40.0 degC, far from both", "tasmax", "doubtful")
    return replace(
        record,
        typical_year="months of 1995 to 1999",
        coast=True,
        station=StationFacts("90001", "Long Ness", "an invented service", 38.3, -15.5, 10.0, 5.6, "2021-03-01T12:00:00",
                             "1991-01-01", "2021-02-28"),
        notes=(Note("set to missing", "crossed", "tasmin", "2003-02-10", 40.0, 42), Note("read as mm", column="rain")),
        warnings=("the record is of another place", "and old"),
        findings=Findings("2026-01-15", (found,)),
        offset=PlotOffset(report, {"tasmin": (0.3, 0.3, 1.0, 1.0), "tasmax": (0.4, 0.4, 2.0, 2.0)}),
        plot=("wall south",),
        changes=("fleece", "glass nights"),
        what_ifs="under fleece",
        felt=Felt(0.75, 0.5, 1.5, "mulch"),
        open_range=values["tasmax"] - values["tasmin"] + 1.0,
        hours=np.add.outer(values["tas"], np.sin(np.arange(24.0))),
    )  # fmt: skip


def assert_every_fact(got, wanted):
    assert_alike(got, wanted)
    for field in fields(DailyRecord):
        one, other = getattr(got, field.name), getattr(wanted, field.name)
        if field.name not in ("time", "values", "origin", "open_range", "hours"):
            assert one == other, field.name


def test_the_example_has_no_fact_left_out(full):
    """Else the tests below would not see a fact that is lost."""
    bare = daily_record(full.time, {"tasmin": full["tasmin"], "tasmax": full["tasmax"]})
    for field in fields(DailyRecord):
        one, other = getattr(full, field.name), getattr(bare, field.name)
        if field.name != "time":
            assert not np.array_equal(one, other) if isinstance(one, np.ndarray) else one != other, field.name


def test_it_is_frozen(full):
    for thing, name in ((full, "title"), (full, "values"), (full.station, "fetched"), (full.notes[0], "what"),
                        (full.felt, "light_share"), (full.findings, "problems"), (full.offset, "report")):  # fmt: skip
        with pytest.raises(FrozenInstanceError):
            setattr(thing, name, getattr(thing, name))
    with pytest.raises(FrozenInstanceError):
        del full.coast
    assert not hasattr(full, "attrs")


def test_a_cut_has_some_days_and_every_fact_and_cannot_be_written_to(full):
    days = slice(30, 60)
    part, before = full.cut(days), full.cut(slice(None))
    assert_every_fact(before, full)
    assert (part.size, str(part.time[0]), str(part.time[-1])) == (30, "2003-01-31", "2003-03-01")
    np.testing.assert_array_equal(part["tas"], full["tas"][days])
    np.testing.assert_array_equal(part.origin["tasmin"], full.origin["tasmin"][days])
    np.testing.assert_array_equal(part.open_range, full.open_range[days])
    np.testing.assert_array_equal(part.hours, full.hours[days])
    for field in fields(DailyRecord):
        if field.name not in ("time", "values", "origin", "open_range", "hours", "latitude", "longitude", "elevation"):
            assert getattr(part, field.name) == getattr(full, field.name)
    for array in (*part.values.values(), *part.origin.values(), part.open_range, part.hours, part.time):
        with pytest.raises(ValueError, match="read-only"):
            array[:] = array[0]
    assert_every_fact(full, before)


def test_the_caller_s_own_array_can_still_be_written_to():
    days, warm = np.arange("2003-01-01", "2003-02-01", dtype="datetime64[D]"), np.full(31, 9.0)
    record = daily_record(days, {"tasmin": warm - 5.0, "tasmax": warm}, latitude=38.2).with_values({"tasmax": warm})
    warm[3] = 12.0
    days[0] = days[1]
    with pytest.raises(ValueError, match="read-only"):
        record["tasmax"][3] = 12.0


def test_where_values_come_from_is_said_of_each_and_of_none_that_is_not_there():
    days = np.arange("2003-01-01", "2003-01-04", dtype="datetime64[D]")
    values = {"tasmin": [1.0, 2.0, 3.0], "tasmax": [9.0, 8.0, 7.0]}
    measured = np.zeros(3, dtype=np.int8)
    record = daily_record(days, values, origin={"tasmin": measured, "tasmax": measured}, latitude=40.0)
    assert record.origin["pr"].tolist() == [MISSING] * 3
    with pytest.raises(InputError, match="where the values of tasmax come from"):
        daily_record(days, values, origin={"tasmin": measured}, latitude=40.0)
    assert daily_record(days, values, origin={"tasmin": 2, "tasmax": 0}).origin["tasmin"].tolist() == [2] * 3


@pytest.mark.parametrize("wrong", [None, "observed", 4, -1, 0.5, [0, 0], [0, 1, 300], [[0, 0, 0]], [0, None, 0]])
@pytest.mark.parametrize("of_all", [True, False])
def test_an_origin_that_is_none_is_refused_in_a_sentence(wrong, of_all):
    """Some of them ended in errors of numpy, some were kept as codes that nothing knows."""
    days = np.arange("2003-01-01", "2003-01-04", dtype="datetime64[D]")
    values = {"tasmin": [1.0, 2.0, 3.0], "tasmax": [9.0, 8.0, 7.0]}
    with pytest.raises(InputError, match="the origin of tasmin is not understood; give 0 "):
        daily_record(days, values, origin=wrong if of_all else {"tasmin": wrong, "tasmax": 0})


def test_a_span_holds_both_its_days(full):
    def ends(record):
        return str(record.time[0]), str(record.time[-1]), record.size

    assert ends(full.span("2004-02-28", "2004-03-01")) == ("2004-02-28", "2004-03-01", 3)
    assert ends(full.span(None, "2003-01-01")) == ("2003-01-01", "2003-01-01", 1)
    assert ends(full.span("2004-12-31", None)) == ("2004-12-31", "2004-12-31", 1)
    assert ends(full.span("1990-01-01", "2050-01-01")) == ends(full)
    assert full.span("1990-01-01", "2002-12-31").size == full.span("2005-01-01", None).size == 0
    part = full.span("2003-06-01", "2003-06-30")
    np.testing.assert_array_equal(part["tasmax"], full["tasmax"][151:181])


def test_other_values_leave_the_record_as_it_was(full):
    before = full.cut(slice(None))
    warmer = full.with_values({"tasmax": full["tasmax"] + 1.0}, {"tasmax": np.full(full.size, FILLED, np.int8)})
    np.testing.assert_array_equal(warmer["tasmax"], before["tasmax"] + 1.0)
    assert (warmer.origin["tasmax"] == FILLED).all()
    np.testing.assert_array_equal(warmer["tasmin"], before["tasmin"])
    assert (full.and_then("cut").history, full.history) == ("made up; cut", "made up")
    assert_every_fact(full, before)


def test_every_fact_comes_back_from_a_dataset(full):
    got = record_of_labelled(dataset_of(full))
    assert_every_fact(got, full)
    assert_every_fact(record_of_labelled(dataset_of(got)), full)


def test_every_fact_comes_back_from_a_file_of_a_dataset(tmp_path, full):
    dataset_of(full).to_netcdf(tmp_path / "r.nc", engine="scipy")
    with xr.open_dataset(tmp_path / "r.nc", engine="scipy") as stored:
        assert_every_fact(record_of_labelled(stored.load()), full)


def test_a_record_without_facts_comes_back_without_any(full):
    bare = daily_record(full.time, {"tasmin": full["tasmin"], "tasmax": full["tasmax"]})
    got = record_of_labelled(dataset_of(bare))
    assert_alike(got, bare)
    for field in fields(DailyRecord):
        if field.name not in ("time", "values", "origin", "latitude", "longitude", "elevation"):
            assert getattr(got, field.name) == getattr(bare, field.name)


def test_findings_of_other_days_are_passed_over(full):
    data = dataset_of(full)
    data["tasmax"].values[3] += 1.0
    assert record_of_labelled(data).findings is None


@pytest.mark.parametrize("name", bundled_names())
def test_a_bundled_plot_comes_back_from_its_dataset(name):
    site, record = open_weather(name.upper())
    assert site.name == record.title
    assert "hurs" not in record
    assert_every_fact(record_of_labelled(dataset_of(record)), record)


def test_the_fingerprint_is_the_same_whatever_file_the_days_came_from(tmp_path):
    record = replace(open_weather("wrackhythe", years=3)[1], coast=False)  # a site file tells the coast, no record does
    marks = {record.fingerprint}
    for suffix in (".csv", ".nc"):
        export_record(record, tmp_path / f"r{suffix}")
        got = read_record(tmp_path / f"r{suffix}")
        assert got.history != record.history
        marks.add(got.fingerprint)
    data = dataset_of(record)
    for name in ("tasmin", "tasmax", "pr"):
        data[name] = data[name].astype("float32")
    marks |= {record_of_labelled(data).fingerprint, checked(replace(record, title="x", notes=())).fingerprint}
    assert len(marks) == 1
    assert len(marks.pop()) == 16


def test_the_fingerprint_tells_days_place_and_origins_apart(full):
    def changed(name, by):
        return full.with_values({name: full[name] + by})

    origin = full.origin["tasmin"].copy()
    origin[5] = FILLED
    others = [
        changed("tasmin", 0.01),
        changed("pr", 0.1),
        full.with_values({}, {"tasmin": origin}),
        replace(full, latitude=38.3),
        replace(full, elevation=13.0),
        replace(full, coast=False),
        replace(full, hours=None),
        replace(full, time=full.time + 1),
        full.cut(slice(1, None)),
    ]
    marks = [full.fingerprint, *(r.fingerprint for r in others)]
    assert len(set(marks)) == len(marks)
    assert changed("tasmin", 0.0001).fingerprint == full.fingerprint  # to three digits


def test_a_chart_of_a_bundled_plot_imports_no_tables_and_no_pictures():
    code = (
        "import sys, sowcal; sowcal.sowing_chart('wrackhythe', ['pea']);"
        "print(sorted({'xarray', 'pandas', 'matplotlib', 'meteostat'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
