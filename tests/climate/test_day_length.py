"""Day length and radiation against astral and their own definitions; FAO-56's examples: test_evapotranspiration.py."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sowcal.climate.sun import day_length, extraterrestrial_radiation, solar_radiation_from_range
from sowcal.errors import InputError


def test_radiation_from_the_range_by_the_sea_and_under_a_clear_sky():
    """FAO-56 eq. 50: 0.19 by the sea for 0.16 inland."""
    got = solar_radiation_from_range(14.8, 26.6, 40.6)
    coast = solar_radiation_from_range(14.8, 26.6, 40.6, situation="coast")
    assert coast == pytest.approx(got * 0.19 / 0.16)
    assert solar_radiation_from_range(0.0, 40.0, 40.0) == pytest.approx(30.0)  # clear sky, eq. 37


@pytest.mark.parametrize("latitude", [-45.0, -32.0, 0.0, 38.0, 55.0])
@pytest.mark.parametrize(("twilight", "height"), [(False, 0.0), (True, -6.0)])
def test_against_astral(latitude, twilight, height):
    """astral's ephemeris: the sun's centre at the horizon or 6 degrees below it, air not bending light.

    FAO-56's simple declination (eq. 24) is off by up to one degree near the equinoxes: that is allowed.
    """
    from astral import Observer, SunDirection
    from astral.sun import time_at_elevation

    allowed = 0.05 + 2.0 * np.tan(np.deg2rad(abs(latitude))) / 15.0
    place = Observer(latitude, 0.0)
    for month in (1, 3, 6, 9, 12):
        date = dt.date(2023, month, 15)
        rising, setting = (
            time_at_elevation(place, height, date, direction, with_refraction=False)
            for direction in (SunDirection.RISING, SunDirection.SETTING)
        )
        hours = (setting - rising).total_seconds() / 3600.0 % 24.0
        got = day_length(latitude, date.timetuple().tm_yday, civil_twilight=twilight)
        assert got == pytest.approx(hours, abs=allowed)


def test_polar_day_and_night():
    got = day_length(np.array([80.0, -80.0]), np.array([1, 172]))
    np.testing.assert_array_equal(got, [[0.0, 24.0], [24.0, 0.0]])
    assert extraterrestrial_radiation(80.0, 1) == 0.0


@given(st.floats(0.0, 66.0), st.integers(1, 365))
def test_the_other_hemisphere_has_the_rest_of_the_day(latitude, day):
    assert day_length(latitude, day) + day_length(-latitude, day) == pytest.approx(24.0)
    assert day_length(latitude, day, civil_twilight=True) > day_length(latitude, day)


def test_shapes_and_labels(labelled, seattle):
    assert day_length([10.0, 20.0, 30.0], np.arange(1, 8)).shape == (3, 7)
    assert day_length(10.0, np.arange(1, 8)).shape == (7,)
    import xarray as xr

    times = labelled(seattle.tasmin, seattle.time).time
    got = day_length(xr.DataArray([10.0, 20.0], dims="lat"), times)
    assert got.dims == ("lat", "time")
    assert got.attrs["units"] == "h"
    assert float(got[1, 0]) == pytest.approx(float(day_length(20.0, 1)))


def test_missing_and_bad_input():
    assert np.isnan(solar_radiation_from_range(np.nan, 20.0, 30.0))
    assert np.isnan(day_length(np.nan, 10))
    with pytest.raises(InputError, match="latitude must lie between"):
        day_length(91.0, 1)
    with pytest.raises(InputError, match="situation is"):
        solar_radiation_from_range(1.0, 2.0, 30.0, situation="island")


@pytest.mark.parametrize("asked", [day_length, extraterrestrial_radiation])
def test_a_day_of_a_long_record_is_that_day_asked_alone(asked):
    """The sun's course is asked of each day of the year once: of 31 December of a leap year too, of no part day."""
    dates = np.arange("2003-07-01", "2005-03-01", dtype="datetime64[D]")
    year = np.concatenate([np.arange(1.0, 366.0), np.arange(1.0, 367.0)])
    places = np.array([-66.0, 38.4])
    for days in (year, year[::-1] + 0.25 * (year[::-1] < 366.0)):
        alone = np.stack([asked(places, days[k : k + 1])[:, 0] for k in range(0, days.size, 61)], axis=1)
        np.testing.assert_array_equal(asked(places, days)[:, ::61], alone)
    numbers = (dates - dates.astype("datetime64[Y]").astype("datetime64[D]")).astype(int) + 1
    np.testing.assert_array_equal(asked(places, dates), asked(places, numbers))
    lost = np.where(np.arange(dates.size) == 400, np.datetime64("NaT"), dates)
    assert np.flatnonzero(np.isnan(asked(38.4, lost))).tolist() == [400]
