"""The form of the daily record and of its dataset, and the filling of short gaps."""

from __future__ import annotations

import numpy as np
import pytest

from sowcal.errors import InputError
from sowcal.weather.cf_dataset import dataset_of
from sowcal.weather.filling import fill_short_gaps
from sowcal.weather.record import FILLED, GENERATED, MISSING, OBSERVED, VARIABLES, daily_record


def days(first: str, count: int) -> np.ndarray:
    return np.datetime64(first, "D") + np.arange(count)


def seasonal(first: str, count: int, southern: bool = False):
    """Dates and a pure yearly wave: what a record without weather would be."""
    time = days(first, count)
    wave = np.cos(2 * np.pi * (time.astype(float) / 365.2425 - 200 / 365.2425 + (0.5 if southern else 0)))
    return time, 10 + 6 * wave, 20 + 7 * wave


def test_form_of_the_record():
    record = daily_record(days("2001-01-01", 3), {"tasmin": [1, 2, 3], "tasmax": [5, np.nan, 7]}, latitude=40.0)
    assert record.time.dtype == np.dtype("datetime64[D]")
    assert record.time.shape == (3,)
    assert list(record.values) == list(record.origin) == ["tasmin", "tasmax", "pr"]
    for name in ("tasmin", "tasmax", "pr"):
        assert (record[name].dtype, record[name].shape) == (np.float64, (3,))
        assert (record.origin[name].dtype, record.origin[name].shape) == (np.int8, (3,))
    assert record.origin["tasmax"].tolist() == [OBSERVED, MISSING, OBSERVED]
    assert record.origin["pr"].tolist() == [MISSING] * 3
    assert np.isnan(record["pr"]).all()
    assert record.latitude == 40.0
    assert np.isnan(record.longitude)
    assert np.isnan(record.elevation)


def test_form_of_the_dataset():
    record = daily_record(days("2001-01-01", 3), {"tasmin": [1, 2, 3], "tasmax": [5, np.nan, 7]}, latitude=40.0)
    ds = dataset_of(record)
    assert ds["tasmin"].dims == ("time",)
    assert ds["time"].dtype.kind == "M"
    for name in ("tasmin", "tasmax", "pr"):
        assert ds[name].dtype == np.float64
        assert {"units", "standard_name", "long_name"} <= set(ds[name].attrs)
        flags = ds[f"{name}_origin"]
        assert flags.dtype == np.int8
        assert len(flags.attrs["flag_values"]) == len(flags.attrs["flag_meanings"].split())
    assert ds["tasmin"].attrs["units"] == "degC"
    assert ds["pr"].attrs["units"] == "mm day-1"
    assert ds["tasmax_origin"].values.tolist() == [OBSERVED, MISSING, OBSERVED]
    assert ds["pr"].isnull().all()
    assert ds["latitude"] == 40.0
    assert np.isnan(ds["longitude"])
    assert np.isnan(ds["elevation"])
    ds["tasmin"].values[:] = 9.0
    assert record["tasmin"].tolist() == [1.0, 2.0, 3.0]  # its arrays are copies


def test_absent_days_are_missing_and_the_axis_has_no_gap():
    time = np.array(["2004-03-02", "2004-02-27"], dtype="datetime64[D]")
    ds = daily_record(time, {"tasmin": [3, 1], "tasmax": [9, 7]}, latitude=-31.9)
    assert ds.size == 5  # 2004 is a leap year: 27, 28, 29 February, 1, 2 March
    assert (np.diff(ds.time) == np.timedelta64(1, "D")).all()
    np.testing.assert_array_equal(ds["tasmin"], [1, np.nan, np.nan, np.nan, 3])


def test_a_date_given_twice_is_named():
    time = np.array(["2004-03-02", "2004-03-01", "2004-03-02"], dtype="datetime64[D]")
    with pytest.raises(InputError, match="2004-03-02"):
        daily_record(time, {"tasmin": [1, 2, 3], "tasmax": [5, 6, 7]})


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"latitude": 91.0}, "latitude"),
        ({"longitude": -181.0}, "longitude"),
        ({"values": {"tasmin": [1.0, 2.0]}}, "tasmax"),
        ({"values": {"tasmin": [1.0], "tasmax": [2.0]}}, "2 dates"),
        ({"time": []}, "no days"),
        ({"elevation": 9001.0}, "height 9001 m"),
        ({"elevation": -501.0}, "height -501 m"),
        ({"time": np.array(["2001-01-01", "NaT"], "datetime64[D]")}, "a date is missing"),
        ({"time": np.array(["1700-01-01", "2200-01-01"], "datetime64[D]")}, "one of these dates must be wrong"),
        ({"time": days("2261-12-31", 2)}, "1678 to 2261"),  # the clock of the time axis wraps round there
        ({"time": days("1677-12-31", 2)}, "1678 to 2261"),
    ],
)
def test_what_cannot_be_a_record_is_refused(change, words):
    given = {"time": days("2001-01-01", 2), "values": {"tasmin": [1.0, 2.0], "tasmax": [3.0, 4.0]}, **change}
    with pytest.raises(InputError, match=words):
        daily_record(given.pop("time"), given.pop("values"), **given)


@pytest.mark.parametrize("southern", [False, True])
def test_short_gaps_follow_the_season(southern):
    time, low, high = seasonal("1991-01-01", 5 * 365, southern)
    gap = slice(900, 907)
    holed = low.copy()
    holed[gap] = np.nan
    ds = fill_short_gaps(daily_record(time, {"tasmin": holed, "tasmax": high}, latitude=40.0))
    np.testing.assert_allclose(ds["tasmin"], low, atol=1e-6)
    assert (ds.origin["tasmin"] == FILLED).sum() == 7
    assert "filled" in ds.history


def test_long_gaps_ends_and_rain_stay_missing():
    time, low, high = seasonal("1991-01-01", 3 * 365)
    rain = np.ones(low.size)
    low[:3] = low[500:508] = low[-2:] = np.nan
    rain[100] = np.nan
    ds = fill_short_gaps(daily_record(time, {"tasmin": low, "tasmax": high, "pr": rain}, latitude=40.0))
    assert np.isnan(ds["tasmin"]).sum() == 13
    assert np.isnan(ds["pr"][100])
    assert not (ds.origin["tasmin"] == FILLED).any()


def test_filling_leaves_its_input_and_known_values_alone():
    time, low, high = seasonal("1991-01-01", 800)
    low[50] = np.nan
    before = daily_record(time, {"tasmin": low, "tasmax": high}, latitude=40.0)
    after = fill_short_gaps(before)
    assert np.isnan(before["tasmin"][50])
    known = np.isfinite(low)
    np.testing.assert_array_equal(after["tasmin"][known], low[known])


def test_filling_never_crosses_minimum_and_maximum():
    low = np.array([15.0, np.nan, 15.0, 15.0])
    high = np.array([25.0, 12.0, 25.0, 25.0])
    ds = fill_short_gaps(daily_record(days("2001-01-01", 4), {"tasmin": low, "tasmax": high}))
    assert np.isnan(ds["tasmin"][1])
    assert ds.origin["tasmin"][1] == MISSING


def test_origin_of_generated_values():
    ds = daily_record(days("2001-01-01", 2), {"tasmin": [1, np.nan], "tasmax": [5, 6]}, origin=GENERATED)
    assert ds.origin["tasmin"].tolist() == [GENERATED, MISSING]


def test_units_are_those_of_the_project():
    assert {name: v[0] for name, v in VARIABLES.items()} == {
        "tasmin": "degC",
        "tasmax": "degC",
        "tas": "degC",
        "pr": "mm day-1",
        "hurs": "%",
        "sfcWind": "m s-1",
        "rsds": "MJ m-2 day-1",
        "sunshine": "h day-1",
    }


def test_filled_values_stay_within_what_can_be():
    """A curve through 99, 100 and 100 per cent on either side of a gap goes above 100; light and wind go below 0."""
    time = days("2001-01-01", 400)
    hurs, rsds = np.full(400, 100.0), np.zeros(400)
    season = np.cos(2 * np.pi * np.arange(400) / 365.25)
    hurs[:] = np.minimum(100.0, 100.0 + 30.0 * season)
    rsds[:] = np.maximum(0.0, -10.0 * season)
    gaps = [k for k in range(20, 390) if k % 9 in (0, 1, 2)]
    hurs[gaps], rsds[gaps] = np.nan, np.nan
    values = {"tasmin": 5 + season, "tasmax": 15 + season, "hurs": hurs, "rsds": rsds, "sfcWind": rsds / 5.0}
    got = fill_short_gaps(daily_record(time, values))
    assert (got.origin["hurs"][gaps] == FILLED).all()
    assert got["hurs"].max() <= 100.0
    assert got["rsds"].min() >= 0.0
    assert got["sfcWind"].min() >= 0.0
