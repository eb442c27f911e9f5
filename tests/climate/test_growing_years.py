"""Growing years: their edges, their labels, the complete-year rule, both hemispheres."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from sowcal.climate.frost import first_autumn_frost, frost_days, frost_free_period, last_spring_frost
from sowcal.climate.growing_years import by_growing_year, by_month, calendar_day, growing_years
from sowcal.climate.heat import hot_days
from sowcal.errors import InputError


def dates(first: str, last: str) -> np.ndarray:
    return np.arange(np.datetime64(first), np.datetime64(last) + 1)


def test_days_are_counted_from_midwinter_of_each_hemisphere():
    """Three calendar years hold three northern growing years and two whole southern ones."""
    time = dates("2010-01-01", "2012-12-31")
    ones = np.ones(time.size)
    north = by_growing_year(ones, time=time, latitude=40.0)
    np.testing.assert_array_equal(growing_years(time, 40.0), [2010, 2011, 2012])
    np.testing.assert_array_equal(north, [365, 365, 366])  # a leap year loses nothing
    south = by_growing_year(ones, time=time, latitude=-40.0)
    np.testing.assert_array_equal(growing_years(time, -40.0), [2009, 2010, 2011, 2012])
    np.testing.assert_array_equal(south, [np.nan, 365, 366, np.nan])
    both = by_growing_year(np.stack([ones, ones]), time=time, latitude=np.array([40.0, -40.0]))
    np.testing.assert_array_equal(both, [[np.nan, 365, 365, 366], [np.nan, 365, 366, np.nan]])


def test_a_year_with_too_many_missing_days_is_missing():
    time = dates("2011-01-01", "2012-12-31")
    x = np.ones(time.size)
    x[:18] = np.nan  # 18 of 365 days are 4.9 per cent
    assert by_growing_year(x, time=time, latitude=40.0).tolist() == [347.0, 366.0]
    x[18] = np.nan  # 19 are 5.2 per cent
    got = by_growing_year(x, time=time, latitude=40.0)
    assert np.isnan(got[0])
    assert got[1] == 366.0
    loose = by_growing_year(x, time=time, latitude=40.0, most_missing=0.1, statistic="mean")
    assert loose.tolist() == [1.0, 1.0]
    assert np.isnan(by_growing_year(x * np.nan, time=time, latitude=40.0, most_missing=0.9)).all()


def test_months_keep_leap_days():
    time = dates("2011-12-01", "2012-03-31")
    got = by_month(lambda x, _: x.sum(axis=-1), [np.ones(time.size)], attrs={}, time=time)
    assert got.shape == (2, 12)
    assert got[0, 11] == 31
    assert got[1, :3].tolist() == [31, 29, 31]
    assert np.isnan(got[1, 3:]).all()


def test_calendar_day_is_of_a_365_day_year():
    """29 February counts as the 28th, so that a day of the year is the same date in every year."""
    leap, plain = (
        calendar_day(dates("2012-01-01", "2012-12-31")),
        calendar_day(dates("2013-01-01", "2013-12-31")),
    )
    np.testing.assert_array_equal(plain, np.arange(1, 366))
    np.testing.assert_array_equal(np.delete(leap, 59), plain)
    assert leap[58] == leap[59] == 59


@given(st.integers(0, 2**32 - 1))
@example(8063)  # has a frost on 1 July
def test_half_a_year_later_in_the_other_hemisphere(seed):
    """The same weather from 1 July in the south gives the same counts and the dates half a year on."""
    rng = np.random.default_rng(seed)
    n = 730
    season = np.cos(2 * np.pi * np.arange(n) / 365.0)
    tasmin = 6.0 - 7.0 * season + rng.normal(0.0, 3.0, n)
    north, south = dates("2001-01-01", "2002-12-31"), dates("2001-07-01", "2003-06-30")
    for function in (frost_days, hot_days):
        a = function(tasmin, time=north, latitude=38.0)
        b = function(tasmin, time=south, latitude=-38.0)
        np.testing.assert_array_equal(a, b)
    # The halves of a growing year are 181 and 184 days in the north, 184 and 181 in the south: a frost on the days
    # between belongs to spring in the one and to autumn in the other.
    clear = (tasmin.reshape(2, 365)[:, 178:187] >= 0.0).all(axis=1)
    a = frost_free_period(tasmin, time=north, latitude=38.0)
    b = frost_free_period(tasmin, time=south, latitude=-38.0)
    np.testing.assert_allclose(a[clear], b[clear], atol=3)
    for function in (last_spring_frost, first_autumn_frost):
        a = function(tasmin, time=north, latitude=38.0)
        b = function(tasmin, time=south, latitude=-38.0)
        a_index, b_index = a - 1, (b - 182) % 365
        midsummer = (np.abs(a_index - 182) < 5) | (np.abs(b_index - 182) < 5) | np.isinf(a) | np.isinf(b)
        np.testing.assert_array_equal(a_index[~midsummer], b_index[~midsummer])


def test_bad_time_axes_are_told():
    x = np.ones(3)
    with pytest.raises(InputError, match="give time="):
        frost_days(x, latitude=40.0)
    with pytest.raises(InputError, match="without gaps"):
        frost_days(x, latitude=40.0, time=np.array(["2001-01-01", "2001-01-02", "2001-01-04"], "M8[D]"))
    with pytest.raises(InputError, match="2 dates but the values have 3"):
        frost_days(x, latitude=40.0, time=dates("2001-01-01", "2001-01-02"))
    with pytest.raises(InputError, match="latitude is not known"):
        frost_days(x, time=dates("2001-01-01", "2001-01-03"))
    with pytest.raises(InputError, match="most_missing is 2"):
        frost_days(x, time=dates("2001-01-01", "2001-01-03"), latitude=1.0, most_missing=2.0)
    with pytest.raises(InputError, match="must hold dates"):
        frost_days(x, time=np.arange(3), latitude=1.0)
