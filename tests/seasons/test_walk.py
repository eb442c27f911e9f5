"""The walk's own questions and the book of losses, by plain loops and by hand."""

from __future__ import annotations

import numpy as np
import pytest
from by_hand import crop_of, place, reached, starts, walk_on

from sowcal.climate.degree_days import single_sine_horizontal
from sowcal.crops.tables import Cold, Growth
from sowcal.seasons.walk import HAZARDS, Losses, effective_thermal_time, hardens


def test_shares_and_sums_of_thermal_time():
    site = place()
    walk = walk_on(site, crop_of(), need=700.0, horizon=120)
    daily = np.diff(walk.total)
    share, gathered, after = walk.at(0.3), walk.gathered(site.start, 260.0), walk.after(site.start, 260.0)
    assert gathered.shape == site.start.shape
    for s in starts(site):
        end = min(s + 120, site.size)
        up = min(s + 9, site.size)
        assert share[s] == min(reached(daily, up, 210.0), end)
        assert gathered[s] == reached(daily, s, 260.0)
        assert after[s] == min(gathered[s], end)
    assert walk.at(0.3) is share  # asked for more than once, found once
    assert walk.at(0.5)[0] > share[0]


def test_growth_slows_in_hot_months_but_not_that_of_flowering_crops():
    """Half the degree days where the month is at the greatest mean, three tenths at the least; all in the best."""
    site = place(mean=22.0, swing=10.0)
    limits = {"base_temperature": 5.0, "upper_threshold": 30.0, "light_need": 15.0}
    head = Growth(habit="once", range_optimum_high=20.0, range_maximum=25.0, **limits)
    fruit = Growth(habit="flowering", range_optimum_high=20.0, range_maximum=25.0, **limits)
    of_head, of_fruit = (np.diff(effective_thermal_time(site, g)) for g in (head, fruit))
    bare = single_sine_horizontal(site.tasmin, site.tasmax, 5.0, 30.0) * np.minimum(site.solar_radiation / 15.0, 1.0)
    np.testing.assert_allclose(of_fruit, bare, atol=1e-6)
    slowed = [min(max(1.0 - (m - 20.0) / 10.0, 0.3), 1.0) for m in site.month_mean]
    np.testing.assert_allclose(of_head, bare * slowed, atol=1e-6)
    assert min(slowed) == 0.3


@pytest.mark.parametrize(
    ("frost_class", "does"),
    [("hardy", True), ("half-hardy", True), ("tender", False), ("very tender", False), ("", False)],
)
def test_who_hardens(frost_class, does):
    assert hardens(Cold(frost_class=frost_class)) is does


def test_losses_multiply_and_the_worst_is_named():
    losses = Losses(4)
    losses.take("frost", np.array([0.5, 1.0, 0.9, 0.9960]))
    losses.take("heat", np.array([0.8, 0.994, 0.9, 0.9951]))
    losses.take("frost", np.array([0.5, 1.0, 1.0, 1.0]))
    fraction, worst = losses.outcome()
    np.testing.assert_allclose(fraction, [0.5 * 0.5 * 0.8, 0.994, 0.81, 0.9960 * 0.9951])
    # what costs the same as another does not take its place; less than half a per cent is no hazard
    assert [HAZARDS[w] if w >= 0 else "" for w in worst] == ["frost", "heat", "frost", ""]
    assert worst[3] == -1
    np.testing.assert_array_equal(losses.cap, 1.0)


def test_one_hazard_here_and_another_there():
    losses = Losses(2)
    losses.take_where(np.array([True, False]), "hot soil", "cold soil", np.array([0.3, 0.6]))
    fraction, worst = losses.outcome()
    np.testing.assert_allclose(fraction, [0.3, 0.6])
    assert [HAZARDS[w] for w in worst] == ["hot soil", "cold soil"]


def test_an_unknown_hazard_is_a_mistake():
    with pytest.raises(ValueError, match="unknown hazard 'hail'"):
        Losses(1).take("hail", np.ones(1))
