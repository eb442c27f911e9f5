"""The store: hand calculations, and water conserved to machine precision."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sowcal.garden.store import (
    chance_dry,
    follow_store,
    lasts_days,
    pond_losses,
    roof_water,
    size_for,
    size_if_full,
    store_years,
    year_begins,
)


def _calendar(years):
    return np.repeat(2000 + np.arange(years), 365), np.tile(np.arange(365), years)


def test_a_millimetre_on_a_square_metre_is_a_litre():
    assert roof_water(np.array([10.0]), 50.0, share=1.0)[0] == 500.0
    assert roof_water(np.array([10.0]), 50.0)[0] == pytest.approx(425.0)
    # open water at 1.05 of the reference (FAO-56 Table 12): (1.05 x 6 + 2) mm over 20 m2
    assert pond_losses(np.array([6.0]), 20.0, 2.0)[0] == pytest.approx(166.0)


def test_five_cubic_metres_at_500_litres_a_day_last_ten_days():
    demand, nothing = np.full(30, 500.0), np.zeros(30)
    run = follow_store(demand, nothing, 5000.0)
    np.testing.assert_allclose(run.level[:11], [4500 - 500 * k for k in range(10)] + [0])
    assert (run.wanting[:10] == 0.0).all()
    assert (run.wanting[10:] == 500.0).all()


def test_refill_serves_the_garden_before_the_tank_and_never_overfills():
    run = follow_store(np.array([0.0, 900.0, 0.0]), np.zeros(3), 500.0, refill=200.0)
    np.testing.assert_allclose(run.level, [500.0, 0.0, 200.0])
    np.testing.assert_allclose(run.drawn, [0.0, 700.0, 0.0])
    np.testing.assert_allclose(run.inflow, [0.0, 200.0, 200.0])


def test_summed_by_year():
    year, day = _calendar(2)
    demand = np.where((day >= 181) & (day < 201), 100.0, 0.0)
    run = follow_store(demand, np.where(day < 10, 150.0, 0.0), 1500.0)
    first, second = store_years(run, year, day, np.array([2000, 2001]))
    assert (first.days_dry, first.first_dry) == (5, 196)
    assert first.spilled == pytest.approx(1500.0)
    assert first.change == pytest.approx(-1500.0)
    assert second.change == pytest.approx(0.0)
    assert chance_dry((first, second)) == 1.0


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 100_000), st.floats(0.0, 20_000.0), st.floats(0.0, 400.0), st.floats(0.0, 1.0))
def test_water_is_conserved_to_machine_precision(seed, capacity, refill, start):
    rng = np.random.default_rng(seed)
    year, day = _calendar(2)
    demand = rng.gamma(0.5, 400.0, year.size)
    run = follow_store(
        demand,
        rng.gamma(0.2, 500.0, year.size),
        capacity,
        losses=rng.uniform(0.0, 30.0, year.size),
        refill=refill,
        start=start,
        filled=day == 0,
    )
    before = np.concatenate([[run.start], run.level[:-1]])
    balance = run.inflow - run.drawn - run.lost - run.spilled - (run.level - before)
    assert np.abs(balance).max() <= 1e-9 * max(capacity, run.inflow.max(), 1.0)
    assert (run.level >= 0.0).all()
    assert (run.level <= capacity).all()
    np.testing.assert_allclose(run.drawn + run.wanting, demand, atol=1e-9)
    for one in store_years(run, year, day, np.array([2000, 2001])):
        assert one.inflow - one.outflow == pytest.approx(one.change, abs=1e-12 * (one.inflow + one.outflow) + 1e-9)


def test_size_that_lasts_nine_years_in_ten():
    # year k asks 1000 (k + 1) litres over ten days of summer, rains fill any tank before: the ninth driest of
    # ten asks 9000
    year, day = _calendar(10)
    demand = np.where((day >= 200) & (day < 210), 100.0 * (year - 1999), 0.0)
    rain = np.where(day < 10, 2000.0, 0.0)
    years = np.unique(year)
    size = size_for(demand, rain, year, years)
    assert size is not None
    assert size == pytest.approx(9000.0, rel=0.011)
    dry = [y.days_dry > 0 for y in store_years(follow_store(demand, rain, size), year, day, years)]
    assert sum(dry) == 1
    assert size_if_full(demand, np.zeros(year.size), day) == pytest.approx(np.quantile(np.arange(1, 11) * 1000, 0.9))
    assert size_for(demand, rain, year, years, odds=1.0) == pytest.approx(10_000.0, rel=0.011)


def test_no_size_helps_where_nothing_runs_in():
    year, day = _calendar(4)
    demand = np.full(year.size, 10.0)
    assert size_for(demand, np.zeros(year.size), year, np.unique(year)) is None
    # filled once a year it must hold the year's 3650 litres
    filled = size_for(demand, np.zeros(year.size), year, np.unique(year), filled=day == 0)
    assert filled == pytest.approx(3650.0, rel=0.011)
    assert size_for(0.0 * demand, np.zeros(year.size), year, np.unique(year)) == 0.0


def test_days_that_a_full_store_lasts():
    year, day = _calendar(3)
    demand = np.full(year.size, 250.0)
    assert lasts_days(demand, np.zeros(year.size), 5000.0, day, 181).tolist() == [20, 20, 20]
    assert lasts_days(demand, np.zeros(year.size), 5000.0, day, 181, refill=150.0).tolist() == [50, 50, 50]
    assert lasts_days(0.0 * demand, np.zeros(year.size), 5000.0, day, 0).tolist() == [365, 365, 365]


def test_a_southern_year_is_counted_from_its_fill():
    # filled on 1 July (day 181) with 5000 litres that 100 a day empty on the 51st day, 20 August: day 231
    days = np.arange(3 * 365)
    year, day = 2000 + days // 365, days % 365
    begins = year_begins(-32.0)
    run = follow_store(np.full(days.size, 100.0), np.zeros(days.size), 5000.0, start=0.0, filled=day == begins)
    found = store_years(run, year - (day < begins), (day - begins) % 365, np.array([2000, 2001]), begins=begins)
    assert [y.first_dry for y in found] == [231, 231]
    assert [y.days_dry for y in found] == [315, 315]
    assert year_begins(32.0) == 0
