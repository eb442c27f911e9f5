"""The walk's own questions, whole seasons on even days and the book of losses, by plain loops and by hand."""

from __future__ import annotations

import numpy as np
import pytest
from by_hand import crop_of, place, reached, starts, walk_on

from sowcal.climate.degree_days import single_sine_horizontal
from sowcal.crops.tables import Cold, Flowering, Growth, Heat, Way
from sowcal.seasons.flowering import flowering_crop
from sowcal.seasons.season import Stages, ready_to_set_out, seasons, stages, strains
from sowcal.seasons.site_days import SiteDays
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


# --- whole seasons: 10 to 20 degC on every day, which is ten degree days a day above 5 ---

EVEN = {"base_temperature": 5.0, "upper_threshold": 30.0}


def even(missing=None, years=2):
    low = np.full(365 * years, 10.0)
    if missing is not None:
        low[missing] = np.nan
    return SiteDays(low, np.full(low.size, 20.0), np.datetime64("2001-01-01"), 40.0)


def set_out(need, **more):
    return Way(way="set out", thermal_time_low=need, thermal_time_high=need, **more)


@pytest.mark.parametrize(("most", "given_up"), [(80.0, 100), (np.nan, 300)])
def test_a_season_is_given_up_a_quarter_after_what_is_too_slow(most, given_up):
    """It needs more than the record has; that nothing comes of it is known with the fortnight after that day."""
    site = even()
    crop = crop_of(growth=Growth(habit="once", days_most=most, **EVEN))
    found = seasons(site, crop, set_out(30_000.0))
    decided = np.flatnonzero(np.isfinite(found.yield_fraction))
    assert (decided[0], decided[-1]) == (15, site.size - 1 - 15 - given_up)
    np.testing.assert_array_equal(found.yield_fraction[decided], 0.0)
    assert HAZARDS[found.hazard[100]] == "too slow"


@pytest.mark.parametrize(
    ("habit", "need", "looks_back"),
    [("once", 500.0, 0), ("flowering", 1000.0, 0), ("flowering", 500.0, 10)],
)
def test_how_far_back_a_season_looks(habit, need, looks_back):
    """Fruit takes 300 degree days: in flower on the 70th or the 20th day, whose month before begins ten days early."""
    fruit = Flowering(fruit_thermal_time=300.0, flowering_thermal_time=200.0)
    crop = crop_of(growth=Growth(habit=habit, days_most=150.0, **EVEN), flowering=fruit)
    found = seasons(even(missing=300), crop, set_out(need))
    unknown = np.flatnonzero(np.isnan(found.yield_fraction[15 + looks_back : 450])) + 15 + looks_back
    assert unknown[-1] == 300 + 15 + looks_back  # with the fortnight on either side that means are made of
    assert (np.diff(unknown) == 1).all()
    assert unknown[0] < 300 - need / 10.0  # and as far forward as the picking
    assert np.isnan(found.yield_fraction[: 15 + looks_back]).all()


@pytest.mark.parametrize(
    ("growth", "established", "fills"),
    [
        ({"fraction_establishing": 0.3, "fraction_filling": 0.5}, 14, 24),
        ({}, 12, 29),  # a quarter, and the last four tenths, where nothing is told
        ({"fraction_establishing": 0.8}, 29, 29),  # it fills before it is said to be established
        ({"habit": "flowering"}, 12, 19),
        ({"habit": "flowering", "fraction_establishing": 0.6}, 19, 19),
    ],
)
def test_stages_of_a_season_by_hand(growth, established, fills):
    site = even()
    crop = crop_of(
        growth=Growth(**{"habit": "once", "days_most": 100.0, **EVEN, **growth}),
        flowering=Flowering(fruit_thermal_time=300.0, flowering_thermal_time=200.0),
    )
    way = set_out(500.0)
    outcome = seasons(site, crop, way)
    at = np.array([100, 200])
    found = stages(site, crop, way, outcome, at)
    assert (found.emerged - at).tolist() == [0, 0]
    assert (found.established - at).tolist() == [established] * 2
    assert (found.fills - at).tolist() == [fills] * 2
    np.testing.assert_array_equal(found.first, outcome.first[at])
    if crop.growth.habit == "once":
        assert (found.first - at).tolist() == [48, 48]  # the 49th day, for that on which it begins to fill counts twice
    np.testing.assert_array_equal(stages(site, crop, way, outcome, np.array([site.size - 1])).fills, site.size)


@pytest.mark.parametrize(("frost", "known"), [(None, 122), (122, 122), (121, 150)])
def test_a_season_is_known_when_the_fruit_of_its_last_flowers_is_ripe_or_would_have_been(frost, known):
    """In flower on day 58 and full by 92: the fruit of day 93 is ripe on 122. Of plants dead before that it is known
    thirty days after, when fruit that had set on their last day would have been."""
    site = place(years=1)
    site.tasmin, site.tasmax = np.full(365, 15.0), np.full(365, 25.0)
    site.tissue_minimum = np.where(site.start == frost, -5.0, 15.0) if frost else np.full(365, 15.0)
    fruit = Flowering(fruit_thermal_time=300.0, flowering_thermal_time=350.0, aging_thermal_time=600.0)
    crop = crop_of(growth=Growth(habit="flowering"), flowering=fruit, cold=Cold("tender", killing_grown=-0.5))
    walk = walk_on(site, crop, daily=np.full(365, 10.0), need=800.0, lag=9, horizon=140)
    assert flowering_crop(walk, Losses(site.size))[2][0] == known


def test_seedlings_are_ready_when_their_bench_has_brought_them_so_far():
    """A heated bench of 16 to 22 degC brings 14 degree days a day: 360 on the 26th. Of unknown need 24 1/2 days."""
    site = even()
    crop = crop_of(growth=Growth(habit="once", **EVEN))
    bench = {"nursery_heat": "heated", "nursery_weeks_least": 3.0}
    sown = np.array([100, 101, 300])
    told = set_out(500.0, nursery_weeks_most=7.0, nursery_thermal_time=360.0, **bench)
    assert (ready_to_set_out(site, crop, told, sown) - sown).tolist() == [26] * 3
    unknown = set_out(500.0, nursery_weeks_most=4.0, **bench)
    assert (ready_to_set_out(site, crop, unknown, sown) - sown).tolist() == [25] * 3
    assert ready_to_set_out(site, crop, unknown, np.array([site.size])).tolist() == [site.size]


def strained(crop, low, high):
    """Days of a site that strain a crop, by hazard and the stages between which they do, as (from, before)."""
    site = SiteDays(np.array(low, float), np.array(high, float), np.datetime64("2001-01-01"), 40.0)
    at = {name: np.array([k]) for k, name in enumerate(("start", "emerged", "established", "fills", "first", "last"))}
    nothing = np.zeros(1)
    found = Stages(**at, stand=nothing, hot=nothing, settled=nothing)
    return [
        (hazard, np.flatnonzero(days).tolist(), int(begin[0]), int(end[0]))
        for hazard, days, begin, end in strains(site, crop, found)
    ]


def test_a_day_at_a_limit_does_not_strain_and_one_beyond_it_does():
    """Stages begin on days 1 (up), 2 (established), 3 (fills), 4 and 5 (first and last picking)."""
    low = [-1.0, -1.1, -2.0, -2.1, 5.0, 4.9, 0.0, -0.1, 20.0, 20.1]
    high = [3.0, 3.0, 3.0, 3.0, 10.0, 9.0, 5.0, 5.0, 25.0, 25.1]
    cold = Cold(frost_class="tender", killing_young=-1.0, killing_grown=-2.0, chilling_temperature=5.0)
    heat = Heat(young_limit=24.9, filling_limit=25.0, night_limit=20.0)
    below = {limit: [k for k, x in enumerate(low) if x < limit] for limit in (-1.0, -2.0, 0.0, 5.0)}
    assert strained(crop_of(cold=cold, heat=heat), low, high) == [
        ("frost", below[-1.0], 1, 2),
        ("frost", below[-2.0], 2, 6),
        ("chilling", below[5.0], 1, 4),
        ("heat", [8, 9], 1, 4),  # of three weeks no more than until it is picked
        ("heat", [9], 3, 4),
        ("warm nights", [9], 3, 4),
    ]
    flowers = Flowering(day_none_above=25.0, night_none_above=20.0)
    cold = Cold(frost_class="tender", killing_flower=0.0)
    assert strained(crop_of(cold=cold, heat=heat, flowering=flowers), low, high) == [
        ("frost", below[0.0], 3, 6),
        ("heat", [8, 9], 1, 4),
        ("heat", [9], 3, 6),  # while it flowers and sets, to the last picking
        ("warm nights", [9], 3, 6),
    ]


def test_what_hardens_is_strained_by_what_it_feels():
    """At 6 degC in the mean of a fortnight it bears 2.5 degC more, and so -2.0 is no night below -1.0."""
    low, high = [-2.0] * 20, [2.0] * 20
    cold = {"killing_young": -1.0}
    for frost_class, days in (("hardy", 0), ("half-hardy", 0), ("tender", 20), ("", 20)):
        ((_, felt, _, _),) = strained(crop_of(cold=Cold(frost_class=frost_class, **cold)), low, high)
        assert len(felt) == days
