"""Heat counts on made-up days whose answer is plain."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from sowcal.climate.heat import (
    degree_days_above,
    heat_stress_days,
    hot_days,
    longest_run,
    longest_warm_spell,
    tropical_nights,
)
from sowcal.errors import InputError

TIME = np.arange(np.datetime64("2001-01-01"), np.datetime64("2003-01-01"))


def test_counts_of_a_hot_week():
    tasmax = np.full(TIME.size, 25.0)
    week = (np.datetime64("2001-07-30") <= TIME) & (np.datetime64("2001-08-06") > TIME)
    tasmax[week] = 33.0
    tasmin = np.where(week, 21.0, 15.0)
    here = {"time": TIME, "latitude": 38.0}
    assert hot_days(tasmax, **here).tolist() == [7.0, 0.0]
    assert degree_days_above(tasmax, **here).tolist() == [21.0, 0.0]
    assert longest_warm_spell(tasmax, **here).tolist() == [7.0, 0.0]
    assert tropical_nights(tasmin, **here).tolist() == [7.0, 0.0]
    assert heat_stress_days(tasmin, tasmax, **here).tolist() == [7.0, 0.0]
    months = hot_days(tasmax, by="month", time=TIME)
    assert months[0, 6:8].tolist() == [2.0, 5.0]
    assert months.sum() == 7.0
    seasons = hot_days(tasmax, by="season", time=TIME)
    assert seasons.shape == (3, 4)  # December 2002 belongs to the year 2003
    assert seasons[0, 2] == 7.0
    assert np.isnan(seasons[0, 0])  # its December is off the record


def test_a_southern_hot_spell_over_new_year_is_of_one_year():
    tasmax = np.full(TIME.size, 25.0)
    tasmax[(np.datetime64("2001-12-28") <= TIME) & (np.datetime64("2002-01-05") > TIME)] = 35.0
    got = longest_warm_spell(tasmax, time=TIME, latitude=-32.0)
    np.testing.assert_array_equal(got, [np.nan, 8.0, np.nan])


@given(arrays(bool, st.integers(0, 60)))
def test_longest_run_against_splitting_a_string(condition):
    word = "".join("x" if c else " " for c in condition)
    assert longest_run(condition) == max((len(run) for run in word.split()), default=0)


def test_missing_days_break_spells_and_choices_are_named():
    tasmax = np.full(TIME.size, 35.0)
    tasmax[100] = np.nan
    got = longest_warm_spell(tasmax, time=TIME, latitude=38.0)
    assert got.tolist() == [264.0, 365.0]
    with pytest.raises(InputError, match="by is 'week'"):
        hot_days(tasmax, by="week", time=TIME, latitude=38.0)
