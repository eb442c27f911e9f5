"""Hourly temperatures and chill."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sowcal.climate.chill import chill_portions, chill_units, chilling_hours, hourly_chill_units
from sowcal.climate.dynamic_model import dynamic_portions
from sowcal.climate.hourly import hourly_temperature
from sowcal.climate.sun import day_length
from sowcal.errors import InputError


def day_numbers(time: np.ndarray) -> np.ndarray:
    return (time - time.astype("datetime64[Y]").astype("datetime64[D]")).astype(float) + 1.0


@given(st.floats(-20, 20), st.floats(0, 20), st.floats(-66, 66), st.integers(1, 365))
def test_the_curve_meets_its_own_figures(low, span, latitude, day):
    """Linvill 1990: never outside the extremes, the minimum at sunrise, the maximum two hours after noon."""
    n = 3
    hours = hourly_temperature(np.full(n, low), np.full(n, low + span), latitude, np.full(n, day))
    assert hours.shape == (n, 24)
    assert (hours >= low - 1e-9).all()
    assert (hours <= low + span + 1e-9).all()
    light = float(day_length(latitude, day))
    if 4.0 < light < 23.0:
        assert hours[1, 14] == pytest.approx(low + span, abs=1e-6)
        sunrise = hours[1, int(np.ceil(12.0 - light / 2.0))]
        assert sunrise <= low + span * np.sin(np.pi / (light + 4.0)) + 1e-9


def test_nights_run_on_into_the_next_day():
    """Cooling slows down from sunset to sunrise without a step at midnight."""
    hours = hourly_temperature([10.0, 2.0, 8.0], [20.0, 16.0, 22.0], 38.0, [80, 81, 82]).ravel()
    night = np.diff(hours[19:30])
    assert (night < 0.0).all()
    assert (np.diff(night) > 0.0).all()
    assert hours[30] == pytest.approx(2.0, abs=0.1)  # sunrise of the second day is near 6 h


def test_hours_of_a_missing_day():
    hours = hourly_temperature([10.0, np.nan, 8.0], [20.0, 16.0, 22.0], 38.0, [80, 81, 82])
    assert np.isnan(hours).all(axis=1).tolist() == [False, True, False]
    assert np.isfinite(hours[[0, 2]]).all()


def test_dynamic_model_at_constant_temperature(published):
    """Portions of 1000 h from the constants of Fishman et al. 1987, written out a second time on its own."""
    table = published("chill_portions_constant.csv")
    assert len(table) == 10
    got = dynamic_portions(np.repeat(table["temperature_degC"].to_numpy(float)[:, None], 1000, axis=1))
    np.testing.assert_allclose(got, table["portions_of_1000_h"], atol=6e-4)
    for row in table[table["first_portion_after_h"].notna()].itertuples():
        hour = int(row.first_portion_after_h)
        assert dynamic_portions(np.full(hour, float(row.temperature_degC))) > 0.0
        assert dynamic_portions(np.full(hour - 1, float(row.temperature_degC))) == 0.0


@pytest.mark.parametrize("cold", [-2.0, 0.0, 2.0, 5.0])
def test_missing_hours_leave_the_model_as_it_is(cold):
    """Also while the intermediate is full, which in the cold takes hours to be fixed."""
    rng = np.random.default_rng(5)
    hours = rng.normal(cold, 2.0, 900)
    gaps = np.insert(hours, np.sort(rng.integers(0, 900, 300)), np.nan)
    assert dynamic_portions(hours) > 5.0
    assert dynamic_portions(gaps) == pytest.approx(float(dynamic_portions(hours)), rel=1e-12)


def test_many_rows_of_hours_are_as_each_alone():
    """More rows and hours than are held at once."""
    hours = np.random.default_rng(6).normal(5.0, 4.0, (100, 1100))
    got = dynamic_portions(hours)
    assert got.shape == (100,)
    for row in (0, 57, 99):
        assert got[row] == dynamic_portions(hours[row])


@pytest.mark.parametrize(("warm", "portions"), [(10, 32.371), (15, 28.206), (20, 19.531), (24, 0.0)])
def test_dynamic_model_in_cycles(warm, portions):
    """16 h at 6 degC, 8 h warm, 40 days: warm spells undo chill (same source, which stops one hour short)."""
    hours = np.tile(np.r_[np.full(16, 6.0), np.full(8, float(warm))], 40)
    assert dynamic_portions(hours[:-1]) == pytest.approx(portions, abs=6e-4)


def test_utah_weights():
    """Richardson, Seeley & Walker 1974, HortScience 9:331-332, in degC as its implementations list them."""
    limits = {
        1.4: 0.0,
        2.4: 0.5,
        9.1: 1.0,
        12.4: 0.5,
        15.9: 0.0,
        18.0: -0.5,
        30.0: -1.0,
        1.41: 0.5,
        2.41: 1.0,
    }
    np.testing.assert_array_equal(hourly_chill_units(np.array(list(limits))), list(limits.values()))
    assert np.isnan(hourly_chill_units(np.array([np.nan])))


@pytest.mark.parametrize(("degrees", "between", "below"), [(0.0, 24, 24), (-0.1, 0, 24), (7.2, 24, 0), (7.3, 0, 0)])
def test_hours_at_the_limits(degrees, between, below):
    """Hours from 0 to 7.2 degC hold both limits, hours below 7.2 degC do not (as the definitions are worded)."""
    days = np.full(3, degrees)
    here = {"time": np.arange("2001-01-10", "2001-01-13", dtype="datetime64[D]"), "latitude": 40.0, "by": "day"}
    assert chilling_hours(days, days, form="0_to_7.2", **here)[1] == between
    assert chilling_hours(days, days, **here)[1] == below


def test_seasons_are_sums_of_their_own_hours(tunis):
    """Each model's season against all its hours laid out at once, 1 November to the end of February."""
    here = {"time": tunis.time, "latitude": tunis.latitude}
    hours = hourly_temperature(tunis.tasmin, tunis.tasmax, tunis.latitude, day_numbers(tunis.time))
    inside = (tunis.time >= np.datetime64("1995-11-01")) & (tunis.time < np.datetime64("1996-03-01"))
    one = hours[inside].ravel()
    assert one.size == 24 * 121  # 1996 is a leap year
    k = 1996 - 1979
    season = ((11, 1), (3, 1))
    got = {
        "below": chilling_hours(tunis.tasmin, tunis.tasmax, **here),
        "between": chilling_hours(tunis.tasmin, tunis.tasmax, form="0_to_7.2", **here),
        "utah": chill_units(tunis.tasmin, tunis.tasmax, **here),
        "portions": chill_portions(tunis.tasmin, tunis.tasmax, season=season, **here),
    }
    assert got["below"][k] == (one < 7.2).sum()
    assert got["between"][k] == ((one >= 0.0) & (one <= 7.2)).sum()
    assert got["utah"][k] == pytest.approx(hourly_chill_units(one).sum())
    assert got["portions"][k] == pytest.approx(float(dynamic_portions(one)))
    for values in got.values():
        assert np.isnan(values[0])  # the season before the record began


@pytest.mark.parametrize("function", [chilling_hours, chill_units, chill_portions])
def test_a_season_has_the_year_of_the_spring_after_it(labelled, function):
    """Only the winter of 2001 to 2002 is cold, and only it lies whole in the record."""
    time = np.arange("2001-08-01", "2002-08-01", dtype="datetime64[D]")
    cold = (time >= np.datetime64("2001-11-15")) & (time < np.datetime64("2002-02-15"))
    low = labelled(np.where(cold, 3.0, 22.0), time, latitude=40.0)
    got = function(low, low + 3.0)
    assert got.sel(year=2002).item() > 20.0
    assert got.dropna("year").year.values.tolist() == [2002]


@pytest.mark.parametrize("function", [chilling_hours, chill_units, chill_portions])
def test_sites_of_both_hemispheres_are_as_each_alone(function):
    rng = np.random.default_rng(7)
    time = np.arange("2001-03-01", "2003-11-15", dtype="datetime64[D]")
    latitude = np.array([[50.0, -1.0, 0.0], [-45.0, 28.0, -30.0]])
    low = rng.normal(4.0, 4.0, (2, 3, time.size))
    low[1, 2, 300:310] = np.nan
    high = low + rng.uniform(2.0, 12.0, low.shape)
    daily = function(low, high, time=time, latitude=latitude, by="day")
    assert daily.shape == low.shape
    for place in np.ndindex(2, 3):
        here = {"time": time, "latitude": latitude[place]}
        np.testing.assert_array_equal(daily[place], function(low[place], high[place], by="day", **here))
    if function is chill_portions:  # the equator goes with the north, whose season ends with March
        july = (time >= np.datetime64("2002-07-01")) & (time < np.datetime64("2002-08-01"))
        assert (daily[0, 2][july] == 0.0).all()
        assert daily[0, 1][july].sum() > 5.0
    pair = function(low[1, ::2], high[1, ::2], time=time, latitude=latitude[1, ::2])
    for k in (0, 1):
        here = {"time": time, "latitude": latitude[1, 2 * k]}
        np.testing.assert_array_equal(pair[k], function(low[1, 2 * k], high[1, 2 * k], **here))


@pytest.mark.parametrize("latitude", [42.0, -42.0])
@pytest.mark.parametrize(("begin", "end"), [("2001-01-10", "2002-11-20"), ("2001-05-10", "2003-05-20")])
def test_portions_of_seasons_that_the_record_cuts(latitude, begin, end):
    """Each season's days in the record are one run of the model, also where it begins or ends in the middle."""
    rng = np.random.default_rng(8)
    time = np.arange(begin, end, dtype="datetime64[D]")
    low = rng.normal(4.0, 4.0, time.size)
    high = low + rng.uniform(2.0, 12.0, time.size)
    daily = chill_portions(low, high, time=time, latitude=latitude, by="day")
    hours = hourly_temperature(low, high, latitude, day_numbers(time))
    first, last = ("09-01", "04-01") if latitude > 0 else ("03-01", "10-01")
    inside, compared = np.zeros(time.size, bool), 0
    for year in range(2000, 2004):
        until = np.datetime64(f"{year + (latitude > 0)}-{last}")
        season = (time >= np.datetime64(f"{year}-{first}")) & (time < until)
        if season.any():
            inside |= season
            assert daily[season].sum() == pytest.approx(float(dynamic_portions(hours[season].ravel())), rel=1e-9)
            compared += 1
    assert compared >= 2
    assert (daily[~inside] == 0.0).all()


def test_portions_by_day_add_up_to_the_season(tunis):
    here = {"time": tunis.time, "latitude": tunis.latitude}
    daily = chill_portions(tunis.tasmin, tunis.tasmax, by="day", **here)
    season = chill_portions(tunis.tasmin, tunis.tasmax, **here)
    inside = (tunis.time >= np.datetime64("1990-09-01")) & (tunis.time < np.datetime64("1991-04-01"))
    assert daily[inside].sum() == pytest.approx(season[1991 - 1979])
    assert (daily[tunis.time.astype("datetime64[M]").astype(int) % 12 == 6] == 0.0).all()


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_southern_season_is_the_northern_one_half_a_year_on(seed):
    """The same days from May on in the south as from November on in the north, day length held."""
    rng = np.random.default_rng(seed)
    low = rng.uniform(-3.0, 8.0, 120)
    north = np.arange(np.datetime64("2001-11-01"), np.datetime64("2002-03-01"))
    south = np.arange(np.datetime64("2002-05-01"), np.datetime64("2002-08-29"))
    season = ((11, 1), (2, 26))  # 117 days in the north, 1 May to 25 August in the south
    for function in (chilling_hours, chill_units, chill_portions):
        # just off the equator the day has 12 hours all year
        a = function(low, low + 10.0, time=north, latitude=1e-9, season=season)
        b = function(low, low + 10.0, time=south, latitude=-1e-9, season=season)
        assert a.shape == b.shape == (1,)
        assert a[0] == pytest.approx(b[0])


def test_missing_days_and_bad_choices(tunis):
    low = tunis.tasmin.copy()
    inside = (tunis.time >= np.datetime64("1990-12-01")) & (tunis.time < np.datetime64("1990-12-15"))
    low[inside] = np.nan
    here = {"time": tunis.time, "latitude": tunis.latitude}
    full = chill_portions(tunis.tasmin, tunis.tasmax, **here)
    got = chill_portions(low, tunis.tasmax, **here)
    assert np.isnan(got[1991 - 1979])
    np.testing.assert_allclose(np.delete(got, 1991 - 1979), np.delete(full, 1991 - 1979))
    allowed = chill_portions(low, tunis.tasmax, most_missing=0.1, **here)[1991 - 1979]
    assert 0.5 * full[1991 - 1979] < allowed < full[1991 - 1979]
    with pytest.raises(InputError, match="form is"):
        chilling_hours(low, low, form="any", **here)
    with pytest.raises(InputError, match="by is"):
        chill_units(low, low, by="week", **here)
