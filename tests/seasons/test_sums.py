"""Sums, extremes and sorted search over spans, held against plain loops."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from sowcal.seasons.sums import RangeMinimum, day_reached, next_day_where, place_in, prefix, span_mean, span_sum

DAILY = hnp.arrays(float, st.integers(1, 60), elements=st.floats(0, 30, width=32))


def loop_day_reached(daily, start, need):
    """A practitioner's loop: add day by day until the need is met."""
    total = 0.0
    for day in range(start, daily.size):
        total += daily[day]
        if total >= need * (1 - 1e-9) - 1e-7:
            return day
    return daily.size


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


@given(hnp.arrays(bool, st.integers(1, 50)))
def test_next_day_where(condition):
    found = next_day_where(condition)
    for d in range(condition.size + 1):
        later = [k for k in range(d, condition.size) if condition[k]]
        assert found[d] == (later[0] if later else condition.size)
