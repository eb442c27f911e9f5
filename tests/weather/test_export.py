"""What is written comes back: values, place, and where each value is from."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sowcal.answers import record_of
from sowcal.errors import InputError
from sowcal.weather.csv_file import read_csv
from sowcal.weather.export import csv_text, export_record
from sowcal.weather.filling import fill_short_gaps
from sowcal.weather.open_site import open_weather, read_record
from sowcal.weather.record import FILLED, GENERATED, MISSING, OBSERVED, daily_record


@pytest.fixture
def gappy():
    """Three years observed, with a gap that is filled, one that is not, and rain with a gap of its own."""
    days = np.arange("2001-01-01", "2004-01-01", dtype="datetime64[D]")
    season = 8.0 * np.sin(2 * np.pi * np.arange(days.size) / 365.25)
    low, high = (10.0 + season).round(1), (20.0 + season).round(1)
    low[100:104], high[102:105] = np.nan, np.nan
    low[400:430] = np.nan
    rain = np.where(np.arange(days.size) % 5 == 0, 3.3, 0.0)
    rain[200] = np.nan
    values = {"tasmin": low, "tasmax": high, "pr": rain}
    return fill_short_gaps(daily_record(days, values, latitude=-31.9, longitude=115.9, elevation=20.0, title="Ness"))


def same(got, wanted):
    np.testing.assert_array_equal(got.time, wanted.time)
    for name in ("tasmin", "tasmax", "pr"):
        codes = wanted.origin[name]
        np.testing.assert_array_equal(got.origin[name], codes, err_msg=name)
        sure = codes == OBSERVED
        np.testing.assert_array_equal(got[name][sure], wanted[name][sure])
        np.testing.assert_allclose(got[name], wanted[name], atol=1e-6)  # six decimals are written
    for name in ("latitude", "longitude", "elevation"):
        assert getattr(got, name) == getattr(wanted, name)


@pytest.mark.parametrize("suffix", [".csv", ".nc"])
def test_filled_values_keep_their_flags(tmp_path, gappy, suffix):
    assert int((gappy.origin["tasmin"] == FILLED).sum()) == 4
    assert int((gappy.origin["tasmin"] == MISSING).sum()) == 30
    export_record(gappy, tmp_path / f"r{suffix}")
    got = read_record(tmp_path / f"r{suffix}")
    same(got, gappy)
    assert record_of(got) == record_of(gappy)
    assert record_of(got).filled_days == 5  # three days of maxima, of which two have filled minima too
    again = fill_short_gaps(got)  # what was filled is not filled again, nor does it count as observed
    same(again, gappy)


@pytest.mark.parametrize("suffix", [".csv", ".nc"])
def test_generated_years_stay_generated(tmp_path, suffix):
    _, dataset = open_weather("wrackhythe", years=3)
    export_record(dataset, tmp_path / f"r{suffix}")
    got = read_record(tmp_path / f"r{suffix}")
    same(got, dataset)
    assert (got.origin["tasmin"] == GENERATED).all()
    assert record_of(got).kind == "generated"


def test_an_observed_record_has_no_more_columns_than_it_needs(gappy):
    plain = gappy.cut(slice(0, 90))
    header = next(line for line in csv_text(plain).splitlines() if not line.startswith("#"))
    assert header == "date,tasmin_degC,tasmax_degC,pr_mm"


def test_a_word_that_is_no_origin_is_told_with_its_place(tmp_path, gappy):
    text = csv_text(gappy).replace(",filled", ",guessed", 1)
    path = tmp_path / "r.csv"
    path.write_text(text)
    with pytest.raises(InputError, match=r"line \d+.*tasmin_origin.*'guessed' is no origin"):
        read_csv(path, temperature_unit="degC")


def test_places_that_cannot_be_written_to(tmp_path, gappy):
    with pytest.raises(InputError, match=r"written as \.nc or \.csv"):
        export_record(gappy, tmp_path / "r.xlsx")
    with pytest.raises(InputError, match="cannot write there"):
        export_record(gappy, tmp_path / "none" / "r.csv")
    assert list(tmp_path.iterdir()) == []


def test_a_place_that_is_not_known_is_not_written(gappy):
    lines = csv_text(replace(gappy, longitude=np.nan)).splitlines()
    assert "# latitude: -31.9" in lines
    assert not any(line.startswith("# longitude") for line in lines)
