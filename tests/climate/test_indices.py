"""Indices refuse what cannot be, in a sentence, and give back the kind of thing that they were given."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

from sowcal import indices
from sowcal.errors import InputError

TIME = np.arange("2001-01-01", "2003-01-01", dtype="datetime64[D]")
LOW = 6.0 - 10.0 * np.cos(2 * np.pi * np.arange(TIME.size) / 365.0)
HIGH = LOW + 12.0
DAY = (TIME - TIME.astype("datetime64[Y]").astype("datetime64[D]")).astype(int) + 1
BY = {"time": TIME, "latitude": 38.0}


def call(name, low=LOW, high=HIGH, **changed):
    """One call of each index with two years of days; `changed` goes over its other arguments."""
    where = {"latitude": 38.0, "day_of_year": DAY}
    calls = {
        "growing_degree_days": ((low, high), {"base_temperature": 10.0}),
        "growing_degree_hours": ((low, high), BY),
        "chilling_hours": ((low, high), BY),
        "chill_units": ((low, high), BY),
        "chill_portions": ((low, high), BY),
        "frost_days": ((low,), BY),
        "last_spring_frost": ((low,), BY),
        "first_autumn_frost": ((low,), BY),
        "frost_free_period": ((low,), BY),
        "hot_days": ((high,), BY),
        "tropical_nights": ((low,), BY),
        "heat_stress_days": ((low, high), BY),
        "degree_days_above": ((high,), BY),
        "longest_warm_spell": ((high,), BY),
        "mean_yearly_minimum": ((low,), {**BY, "least_years": 1}),
        "hourly_temperature": ((low, high), where),
        "soil_temperature": ((low, high), {"depth": 5.0}),
        "reference_evapotranspiration": ((low, high), where),
        "opening_rains": ((high,), BY),
        "longest_dry_spell": ((high,), BY),
        "dry_spells": ((high,), BY),
        "by_growing_year": ((low,), BY),
    }
    values, named = calls[name]
    return getattr(indices, name)(*values, **{**named, **changed})


DAILY = [
    "growing_degree_days", "growing_degree_hours", "chilling_hours", "chill_units", "chill_portions", "frost_days",
    "last_spring_frost", "first_autumn_frost", "frost_free_period", "hot_days", "tropical_nights", "heat_stress_days",
    "degree_days_above", "longest_warm_spell", "mean_yearly_minimum", "hourly_temperature", "soil_temperature",
    "reference_evapotranspiration", "opening_rains", "longest_dry_spell", "dry_spells", "by_growing_year",
]  # fmt: skip
OF_TWO = [
    "growing_degree_days", "growing_degree_hours", "chilling_hours", "chill_units", "chill_portions",
    "heat_stress_days", "hourly_temperature", "soil_temperature", "reference_evapotranspiration",
]  # fmt: skip
OF_PLACES = [n for n in DAILY if n not in ("growing_degree_days", "soil_temperature")]


def test_every_index_of_days_is_tried():
    others = {
        "day_length", "extraterrestrial_radiation", "solar_radiation_from_range", "frost_date_odds", "hardiness_zone",
        "heat_zone", "mean_over_years", "growing_years",
    }  # fmt: skip
    assert set(DAILY) | others == set(indices.__all__)


@pytest.mark.parametrize("latitude", [90.5, -91.0, np.inf, "40", "here", True, None, [40.0, 95.0], b"40"])
@pytest.mark.parametrize("index", [indices.day_length, indices.extraterrestrial_radiation])
def test_no_latitude_beyond_the_poles(index, latitude):
    with pytest.raises(InputError, match="latitude"):
        index(latitude, 100)


@pytest.mark.parametrize(
    "day", [400, 0, -1, 366.5, np.inf, "1", "1 May", True, None, [1, 367], {}, [[1], [1, 2]], pd.DataFrame({"d": [1]})]
)
@pytest.mark.parametrize("index", [indices.day_length, indices.extraterrestrial_radiation])
def test_no_day_outside_the_year(index, day):
    with pytest.raises(InputError, match="day_of_year"):
        index(40.0, day)


@given(st.floats(-90.0, 90.0), st.integers(1, 366))
def test_light_of_every_place_and_day(latitude, day):
    light, top = indices.day_length(latitude, day), indices.extraterrestrial_radiation(latitude, day)
    assert 0.0 <= light <= indices.day_length(latitude, day, civil_twilight=True) <= 24.0
    assert -1e-9 <= top < 50.0
    # what one pole gains of the day the other lacks
    assert light + indices.day_length(-latitude, day) == pytest.approx(24.0, abs=1e-6)


@given(
    st.one_of(st.floats(90.0, 1e9, exclude_min=True), st.floats(-1e9, -90.0, exclude_max=True)),
    st.one_of(st.floats(max_value=1.0, exclude_max=True, allow_nan=False), st.floats(366.0, exclude_min=True)),
)
def test_impossible_places_and_days_are_always_refused(latitude, day):
    for place, of_year in ((latitude, 100), (40.0, day)):
        with pytest.raises(InputError):
            indices.day_length(place, of_year)


def test_missing_stays_missing():
    assert np.isnan(indices.day_length([40.0, np.nan], [1, np.nan])).tolist() == [[False, True], [True, True]]


@pytest.mark.parametrize("days", [TIME[:3], pd.DatetimeIndex(TIME[:3]), TIME[:3].astype("datetime64[ns]")])
def test_dates_will_do_for_days(days):
    np.testing.assert_array_equal(indices.day_length(40.0, days), indices.day_length(40.0, [1, 2, 3]))
    assert indices.day_length(40.0, dt.date(2001, 1, 2)) == indices.day_length(40.0, 2)


@pytest.mark.parametrize("name", OF_PLACES)
@pytest.mark.parametrize("latitude", [91.0, "38", [38.0, 38.0, 38.0], None])
def test_indices_of_places_refuse_wrong_latitudes(name, latitude):
    with pytest.raises(InputError, match=r"latitude|place"):
        call(name, latitude=latitude)


@pytest.mark.parametrize("name", DAILY)
@pytest.mark.parametrize(
    "wrong",
    [
        np.full(TIME.size, "8.5"),
        ["8.5", *LOW[1:]],
        TIME,
        np.zeros(TIME.size, dtype=bool),
        8.5,
        None,
        pd.DataFrame({"a": LOW, "b": LOW}),
        LOW * 1j,
    ],
    ids=["words", "one word", "dates", "truths", "one number", "nothing", "frame", "complex"],
)
def test_days_must_be_numbers_along_a_time_axis(name, wrong):
    with pytest.raises(InputError):
        call(name, low=wrong, high=wrong)


@pytest.mark.parametrize("name", OF_TWO)
@pytest.mark.parametrize("other", [HIGH[:-1], HIGH[:1], np.stack([HIGH, HIGH]).T, []], ids=len)
def test_days_must_fit_each_other(name, other):
    with pytest.raises(InputError):
        call(name, high=other)


@pytest.mark.parametrize("name", OF_TWO)
def test_labelled_days_must_be_the_same(name):
    stamps = TIME.astype("datetime64[ns]")
    where = {"time": stamps, "latitude": 38.0}
    low = xr.DataArray(LOW, dims="time", coords=where, name="low")
    late = xr.DataArray(HIGH, dims="time", coords={**where, "time": stamps + np.timedelta64(1, "D")}, name="high")
    for high in (late, late[:-1], low.astype(str)):
        with pytest.raises(InputError):
            call(name, low=low, high=high)


@pytest.mark.parametrize(
    ("name", "changed"),
    [
        ("growing_degree_days", {"base_temperature": "10"}),
        ("growing_degree_days", {"base_temperature": None}),
        ("growing_degree_days", {"base_temperature": np.nan}),
        ("growing_degree_days", {"upper_threshold": "30"}),
        ("frost_days", {"threshold": "0"}),
        ("frost_days", {"threshold": np.nan}),
        ("frost_days", {"most_missing": "0.1"}),
        ("frost_days", {"most_missing": 1.0}),
        ("frost_days", {"time": TIME[:-1]}),
        ("frost_days", {"time": TIME[::-1]}),
        ("frost_days", {"time": DAY}),
        ("frost_days", {"time": [["2001-01-01"], ["2001-01-02", "2001-01-03"]]}),
        ("frost_days", {"time": pd.DatetimeIndex(TIME).tz_localize("Europe/Lisbon")}),
        ("hot_days", {"threshold": [30.0, 35.0]}),
        ("heat_stress_days", {"night_threshold": "20"}),
        ("hot_days", {"by": "week"}),
        ("soil_temperature", {"depth": "5"}),
        ("soil_temperature", {"depth": -1.0}),
        ("soil_temperature", {"averaging_days": 0}),
        ("soil_temperature", {"diffusivity": 0.0}),
        ("chilling_hours", {"season": ((13, 1), (3, 1))}),
        ("chilling_hours", {"season": (11, 3)}),
        ("opening_rains", {"amount": "25"}),
        ("opening_rains", {"after": (8, 32)}),
        ("dry_spells", {"least_days": 0}),
        ("reference_evapotranspiration", {"day_of_year": DAY + 2}),
        ("reference_evapotranspiration", {"day_of_year": DAY[:-1]}),
        ("reference_evapotranspiration", {"method": "penman_monteith", "elevation": "80"}),
        ("reference_evapotranspiration", {"method": "penman_monteith", "elevation": 80.0, "wind": LOW[:-1]}),
        ("hourly_temperature", {"day_of_year": "1"}),
    ],
)
def test_settings_that_cannot_be_are_refused_in_a_sentence(name, changed):
    with pytest.raises(InputError) as told:
        call(name, **changed)
    assert 20 < len(str(told.value)) < 200
    assert "\n" not in str(told.value)


def test_years_and_zones_refuse_what_is_no_number():
    for ask in (
        lambda: indices.growing_years(TIME, "38"),
        lambda: indices.growing_years(TIME[[0, 2]], 38.0),
        lambda: indices.growing_years([], 38.0),
        lambda: indices.hardiness_zone("cold"),
        lambda: indices.heat_zone(["1"]),
        lambda: indices.mean_over_years(["1", "2"]),
        lambda: indices.frost_date_odds(["1"], side="spring"),
        lambda: indices.frost_date_odds([1.0], side="spring", odds="all"),
        lambda: indices.solar_radiation_from_range([1.0, 2.0], [3.0, 4.0], [1.0, 2.0, 3.0]),
        lambda: indices.solar_radiation_from_range("1", 2.0, 3.0),
    ):
        with pytest.raises(InputError):
            ask()


def test_a_masked_day_is_missing():
    low = np.ma.MaskedArray(LOW, mask=np.arange(TIME.size) == 5)
    found = indices.growing_degree_days(low, HIGH, base_temperature=0.0)
    assert np.flatnonzero(np.isnan(found)).tolist() == [5]


@pytest.mark.parametrize("name", DAILY)
def test_a_series_gives_a_series(name):
    index = pd.DatetimeIndex(TIME)
    low, high = pd.Series(LOW, index), pd.Series(HIGH, index)
    dates = {"day_of_year": None} if name in ("hourly_temperature", "reference_evapotranspiration") else {"time": None}
    plain, found = call(name), call(name, low=low, high=high, **(dates if name in OF_PLACES else {}))
    if name == "mean_yearly_minimum":  # one number for the whole record
        assert float(found) == float(plain)
        return
    for one, same in zip(found if isinstance(found, tuple) else (found,), np.atleast_2d(plain), strict=False):
        kind = pd.DataFrame if name == "hourly_temperature" else pd.Series
        assert isinstance(one, kind)
        np.testing.assert_array_equal(one.to_numpy(), plain if kind is pd.DataFrame else same)
        assert one.index.equals(index) or one.index.name == "year"
        assert one.attrs


def test_a_series_of_days_gives_a_series_of_light_and_months_a_frame():
    index = pd.DatetimeIndex(TIME)
    days = pd.Series(DAY, index)
    for given_days in (days, pd.Series(TIME.astype("datetime64[ns]"), index)):
        light = indices.day_length(38.0, given_days)
        assert light.index.equals(index)
        np.testing.assert_array_equal(light.to_numpy(), indices.day_length(38.0, DAY))
    table = indices.hot_days(pd.Series(HIGH, index), by="month")
    assert table.columns.name == "month"
    np.testing.assert_array_equal(table.to_numpy(), indices.hot_days(HIGH, by="month", time=TIME))


def test_series_of_other_days_and_holes_are_refused_or_kept():
    index = pd.DatetimeIndex(TIME)
    low, high = pd.Series(LOW, index), pd.Series(HIGH, index + pd.Timedelta(days=1))
    with pytest.raises(InputError, match="same index"):
        indices.growing_degree_days(low, high, base_temperature=0.0)
    with pytest.raises(InputError, match="without gaps"):
        indices.frost_days(low.drop(index[3]), latitude=38.0)
    holed = low.astype("Float64")
    holed.iloc[3] = pd.NA
    found = indices.growing_degree_days(holed, pd.Series(HIGH, index), base_temperature=0.0)
    assert np.flatnonzero(found.isna()).tolist() == [3]
