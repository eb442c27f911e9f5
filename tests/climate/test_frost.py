"""Frost dates and odds: never is a result, missing is not never."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from sowcal.climate.frost import (
    FrostYear,
    first_autumn_frost,
    frost_date_odds,
    frost_days,
    frost_free_period,
    frost_years,
    last_spring_frost,
)
from sowcal.errors import InputError


def year_with_frost(*days: str) -> tuple[np.ndarray, np.ndarray]:
    """A year at 5 degC with frost on the days named."""
    first, last = min(d[:4] for d in days), max(d[:4] for d in days)
    time = np.arange(np.datetime64(f"{first}-01-01"), np.datetime64(f"{int(last) + 1}-01-01"))
    x = np.full(time.size, 5.0)
    x[np.isin(time, np.array(days, dtype="M8[D]"))] = -1.0
    return time, x


def test_dates_read_off_a_calendar():
    time, x = year_with_frost("2013-01-05", "2013-04-10", "2013-10-03", "2013-12-01")
    here = {"time": time, "latitude": 45.0}
    assert frost_days(x, **here).tolist() == [4.0]
    assert last_spring_frost(x, **here).tolist() == [100.0]  # 10 April is day 100
    assert first_autumn_frost(x, **here).tolist() == [276.0]  # 3 October is day 276
    assert frost_free_period(x, **here).tolist() == [175.0]  # 11 April to 2 October


def test_southern_dates_cross_new_year():
    time, x = year_with_frost("2012-08-15", "2012-10-20", "2013-04-25", "2013-07-05")
    here = {"time": time, "latitude": -35.0}
    spring, autumn = last_spring_frost(x, **here), first_autumn_frost(x, **here)
    # years 2011 (autumn half only), 2012, 2013 (spring half only)
    np.testing.assert_array_equal(spring, [293.0, 186.0])  # 20 October 2012, 5 July 2013
    np.testing.assert_array_equal(autumn, [np.inf, 115.0])  # never up to midwinter 2012; 25 April 2013
    free = frost_free_period(x, **here)
    assert np.isnan(free[[0, -1]]).all()
    assert free[1] == (np.datetime64("2013-04-25") - np.datetime64("2012-10-20")).astype(int) - 1


def test_never_is_not_missing():
    time = np.arange(np.datetime64("2011-01-01"), np.datetime64("2013-01-01"))
    x = np.full(time.size, 12.0)
    x[:40] = np.nan
    here = {"time": time, "latitude": 36.0}
    np.testing.assert_array_equal(last_spring_frost(x, **here), [np.nan, -np.inf])
    np.testing.assert_array_equal(first_autumn_frost(x, **here), [np.inf, np.inf])
    np.testing.assert_array_equal(frost_free_period(x, **here), [np.nan, 366.0])
    np.testing.assert_array_equal(frost_days(x, **here), [np.nan, 0.0])


def test_odds_with_years_that_never_freeze():
    """Nineteen years, so that rank / 20 is a whole per cent: 12 without frost, 7 with days 10 to 70."""
    day = np.array([-np.inf] * 12 + [10.0, 20, 30, 40, 50, 60, 70])
    got = frost_date_odds(day, side="spring", odds=(10, 20, 30, 50, 90))
    # two years in 20 are later than 60, four than 40, six than 20, half of them never freeze
    np.testing.assert_array_equal(got, [60.0, 40.0, 20.0, -np.inf, -np.inf])
    autumn = frost_date_odds(-day, side="autumn", odds=(10, 50))
    np.testing.assert_array_equal(autumn, [-60.0, np.inf])


def test_odds_leave_missing_years_out_and_need_enough():
    day = np.r_[np.arange(1.0, 20.0), np.nan, np.nan]
    np.testing.assert_allclose(frost_date_odds(day, side="autumn"), [2.0, 10.0, 18.0])
    assert np.isnan(frost_date_odds(day[:9], side="autumn")).all()
    assert np.isnan(frost_date_odds(day[:0], side="autumn")).all()


@given(arrays(float, 25, elements=st.one_of(st.floats(1, 365), st.just(-np.inf), st.just(np.nan))))
def test_odds_keep_their_order(day):
    """The date left behind in nine years of ten comes after the one of five in ten."""
    late, middle, early = frost_date_odds(day, side="spring", least_years=1)
    if np.isfinite(day).any() or np.isinf(day).any():
        assert late >= middle >= early
    else:
        assert np.isnan(late)


@given(arrays(float, 730, elements=st.floats(-5, 20)), st.floats(0, 5))
def test_a_higher_threshold_never_shortens_the_frost(x, more):
    time = np.arange(np.datetime64("2001-01-01"), np.datetime64("2003-01-01"))
    here = {"time": time, "latitude": 50.0}
    assert (frost_days(x, threshold=more, **here) >= frost_days(x, **here)).all()
    assert (last_spring_frost(x, threshold=more, **here) >= last_spring_frost(x, **here)).all()
    assert (first_autumn_frost(x, threshold=more, **here) <= first_autumn_frost(x, **here)).all()
    assert (frost_free_period(x, threshold=more, **here) <= frost_free_period(x, **here)).all()


def test_labelled_odds(labelled, tunis):
    day = last_spring_frost(labelled(tunis.tasmin, tunis.time, tunis.latitude), threshold=4.0)
    got = frost_date_odds(day, side="spring")
    assert got.dims == ("odds",)
    np.testing.assert_array_equal(got, frost_date_odds(day.values, side="spring"))


def test_bad_choices():
    with pytest.raises(InputError, match="side is"):
        frost_date_odds([1.0], side="summer")
    with pytest.raises(InputError, match="odds must be"):
        frost_date_odds([1.0], side="spring", odds=(0.0,))


def test_spans_by_year_pair_a_southern_spring_with_the_autumn_after_it():
    """The calendar of the test above: only the growing year 2012 has both its halves."""
    time, x = year_with_frost("2012-08-15", "2012-10-20", "2013-04-25", "2013-07-05")
    here = {"time": time, "latitude": -35.0}
    found = frost_years(last_spring_frost(x, **here), first_autumn_frost(x, **here), **here)
    assert found == (FrostYear(2012, 292, 114),)  # 20 October and 25 April, counted from 0


def test_a_year_without_frost_is_told_and_a_missing_one_left_out():
    time = np.arange(np.datetime64("2011-01-01"), np.datetime64("2013-01-01"))
    x = np.full(time.size, 12.0)
    x[:40] = np.nan
    x[time == np.datetime64("2012-11-30")] = -2.0
    here = {"time": time, "latitude": 36.0}
    found = frost_years(last_spring_frost(x, **here), first_autumn_frost(x, **here), **here)
    assert found == (FrostYear(2012, None, 333),)
