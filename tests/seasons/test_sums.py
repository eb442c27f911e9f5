"""Sums, extremes and sorted search over spans, held against plain loops."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from sowcal.seasons.sums import (
    RangeMinimum,
    day_reached,
    next_day_where,
    place_in,
    prefix,
    span_mean,
    span_sum,
    survival_of_runs,
)

FEW = settings(max_examples=40, deadline=None)
DAILY = hnp.arrays(float, st.integers(1, 60), elements=st.floats(0, 30, width=32))


def loop_day_reached(daily, start, need):
    """A practitioner's loop: add day by day until the need is met."""
    total = 0.0
    for day in range(start, daily.size):
        total += daily[day]
        if total >= need * (1 - 1e-9) - 1e-7:
            return day
    return daily.size


@FEW
@given(DAILY, st.floats(0.1, 400))
def test_day_reached_is_what_a_loop_finds(daily, need):
    total = prefix(daily)
    starts = np.arange(daily.size)
    found = day_reached(total, starts, need)
    for s in starts:
        slow = loop_day_reached(daily, s, need)
        if slow != found[s]:  # only a rounding tie may part them
            end = min(found[s], slow)
            assert abs(total[end + 1] - total[s] - need) < 1e-5
        assert s <= found[s] <= daily.size


@FEW
@given(
    hnp.arrays(float, st.integers(1, 200), elements=st.integers(0, 40)),
    hnp.arrays(float, st.integers(60, 300), elements=st.integers(-3, 43)),
    st.booleans(),
    st.sampled_from(["left", "right"]),
)
def test_place_in_is_searchsorted(total, target, rising, side):
    """Whole numbers, so that ties and flat stretches abound; targets that rise and targets that do not."""
    total = np.sort(total)
    target = np.sort(target) if rising else target
    np.testing.assert_array_equal(place_in(total, target, side), np.searchsorted(total, target, side=side))


def test_an_exact_requirement_does_not_slip_a_day():
    total = prefix(np.full(3000, 0.1))
    starts = np.arange(2000)
    assert (day_reached(total, starts, 30.0) - starts == 299).all()


def test_a_day_comes_to_the_same_at_either_end_of_three_hundred_years():
    """At 270 degrees a day a double holds the sum of 300 years to a step of 2**-28, and to none that is finer."""
    total = prefix(np.full(300 * 365, 270.0 + 1.5 * 2.0**-28))
    assert {total[i + 1] - total[i] for i in (0, 1, 54_321, 109_498, 109_499)} == {270.0 + 2 * 2.0**-28}
    ends = np.arange(0, 109_500, 365)
    assert np.unique(total[ends + 365] - total[ends]).size == 1


def test_a_years_days_that_all_lose_by_rounding_do_not_slip_a_day():
    """Each day is 1.8e-9 more than the step it is rounded to: 365 of them lack 6.7e-7 of their own sum."""
    daily = 4.0 + 0.49 * 2.0**-28
    found = day_reached(prefix(np.full(700, daily)), np.arange(300), 365 * daily)
    assert (found - np.arange(300) == 364).all()
    found = day_reached(prefix(np.full(700, 4.0)), np.arange(300), 365 * 4.0 + 1e-5)  # what lacks more is not there
    assert (found - np.arange(300) == 365).all()


def test_half_the_plants_alive_is_a_year_lived_and_a_run_is_as_good_as_its_worst_year():
    assert survival_of_runs(np.full(5, 0.5)) == (1.0, 1)
    assert survival_of_runs(np.full(5, 0.499)) == (0.0, 1)
    one_bad = np.array([1, 1, 1, 1, 1, 1, 0.3, 1, 1])  # runs of five from the first to the fifth year: two without it
    assert survival_of_runs(one_bad) == (0.4, 5)
    unknown = np.array([1, 1, 1, 1, 1, 1, np.nan, 1, 1])
    assert survival_of_runs(unknown) == (1.0, 2)
    assert survival_of_runs(np.array([1.0, 0.6, 0.2]), 2) == (0.5, 2)
    assert survival_of_runs(np.array([0.6, 0.7])) == (1.0, 1)  # a record of two years is a run of two
    for nothing in (np.array([]), np.full(6, np.nan)):
        share, runs = survival_of_runs(nothing)
        assert np.isnan(share)
        assert runs == 0


@FEW
@given(DAILY, st.data())
def test_range_minimum_and_sums(daily, data):
    i = data.draw(st.integers(0, daily.size))
    j = data.draw(st.integers(i, daily.size))
    i_, j_ = np.array([i]), np.array([j])
    low = RangeMinimum(daily)(i_, j_)[0]
    assert low == (daily[i:j].min() if j > i else np.inf)
    total = prefix(daily)
    np.testing.assert_allclose(span_sum(total, i_, j_)[0], daily[i:j].sum(), atol=1e-6)
    if j > i:
        np.testing.assert_allclose(span_mean(total, i_, j_)[0], daily[i:j].mean(), atol=1e-6)


@pytest.mark.parametrize("size", [1, 2, 3, 4, 5, 6, 7, 8, 9, 17])
def test_the_least_of_any_span_wherever_it_lies(size):
    for least in range(size):
        daily = np.where(np.arange(size) == least, -1.0, 1.0)
        i, j = (np.ravel(x) for x in np.meshgrid(np.arange(size + 1), np.arange(size + 1)))
        wanted = np.where(j <= i, np.inf, np.where((i <= least) & (least < j), -1.0, 1.0))
        np.testing.assert_array_equal(RangeMinimum(daily)(i, j), wanted)


@FEW
@given(hnp.arrays(bool, st.integers(1, 50)))
def test_next_day_where(condition):
    found = next_day_where(condition)
    for d in range(condition.size + 1):
        later = [k for k in range(d, condition.size) if condition[k]]
        assert found[d] == (later[0] if later else condition.size)
