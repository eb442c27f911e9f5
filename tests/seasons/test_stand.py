"""The stand in the bed against loops over its days, one start after another."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from by_hand import Told, alive, crop_of, line, mean_of, place, reached, starts, walk_on

from sowcal.crops.tables import Cold, Flowering, Germination, Growth, Heat, Way
from sowcal.seasons.establishing import Emerged, first_flower, low_light, slowness, young_stand

GROWTH = Growth(base_temperature=5.0, habit="once", fraction_establishing=0.3, light_need=12.0, days_most=100.0)
SET_OUT = Way(way="set out")
LAG = 9


def came_up(site, *, hot=False):
    """Up after nine days, a stand of 7 in 10, in hot soil or not."""
    size = site.size
    up = np.minimum(site.start + LAG, size)
    return Emerged(up, np.full(size, 0.7), np.full(size, hot), up)


@pytest.mark.parametrize("hot", [False, True])
def test_a_thin_stand_is_laid_to_the_soil(hot):
    site = place(years=1)
    losses = Told(site.size)
    young_stand(walk_on(site, crop_of(growth=GROWTH)), came_up(site, hot=hot), losses)
    assert losses.left["hot soil"].tolist() == [0.7 if hot else 1.0] * site.size
    assert losses.left["cold soil"].tolist() == [1.0 if hot else 0.7] * site.size


@pytest.mark.parametrize(
    ("frost_class", "felt", "establishing"),
    [("hardy", "hardened_minimum", 0.3), ("tender", "tissue_minimum", 0.3), ("tender", "tissue_minimum", np.nan)],
)
def test_frost_on_young_plants(frost_class, felt, establishing):
    """From coming up until, and with, the day that the share of growth named (a quarter, unless told) is met."""
    site = place()
    growth = replace(GROWTH, fraction_establishing=establishing)
    crop = crop_of(growth=growth, cold=Cold(frost_class=frost_class, killing_young=-1.0))
    walk = walk_on(site, crop, horizon=60)
    losses = Told(site.size)
    young_stand(walk, came_up(site), losses)
    daily, cold = np.diff(walk.total), getattr(site, felt)
    expected = {}
    for s in starts(site):
        up = s + LAG
        share = 0.25 if np.isnan(establishing) else 0.3
        until = min(reached(daily, up, share * 900.0), s + 60, site.size)
        expected[s] = alive(min(cold[up : until + 1], default=np.inf), -1.0)
    losses.check("frost", expected)


def test_a_crop_picked_from_its_flowers_is_young_until_it_flowers():
    site = place()
    flowering = Flowering(fruit_thermal_time=500.0)
    growth = replace(GROWTH, habit="flowering")
    crop = crop_of(growth=growth, flowering=flowering, cold=Cold(frost_class="tender", killing_young=0.0))
    walk = walk_on(site, crop, horizon=100)
    losses = Told(site.size)
    young_stand(walk, came_up(site), losses)
    daily = np.diff(walk.total)
    expected = {}
    for s in starts(site):
        until = min(reached(daily, s + LAG, 400.0), s + 100, site.size)
        assert first_flower(walk)[s] == until
        expected[s] = alive(min(site.tissue_minimum[s + LAG : until + 1], default=np.inf), 0.0)
    losses.check("frost", expected)


def test_fruit_that_takes_longer_than_the_crop_flowers_at_once():
    site = place(years=1)
    crop = crop_of(growth=GROWTH, flowering=Flowering(fruit_thermal_time=2000.0))
    flower = first_flower(walk_on(site, crop))
    np.testing.assert_array_equal(flower, np.minimum(site.start + LAG, site.size))


def test_hot_days_of_the_first_three_weeks():
    site = place(mean=20.0)
    crop = crop_of(growth=GROWTH, heat=Heat(young_limit=28.0, young_days_half=6.0))
    losses = Told(site.size)
    young_stand(walk_on(site, crop), came_up(site), losses)
    expected = {}
    for s in starts(site):
        hot = sum(site.tasmax[d] > 28.0 for d in range(s + LAG, min(s + LAG + 21, site.size)))
        expected[s] = 0.5 ** (hot / 6.0)
    losses.check("heat", expected)


def test_when_a_young_stand_is_known():
    """Three weeks after it has come up, or when a quarter has grown; of one that rots, when the last of it has."""
    site = place(years=1)
    crop = crop_of(growth=GROWTH)
    walk = walk_on(site, crop)
    daily = np.diff(walk.total)
    by = young_stand(walk, came_up(site), Told(site.size))
    lost = came_up(site)
    never = Emerged(lost.day, np.zeros(site.size), lost.hot, lost.settled + 4)
    for s in starts(site):
        grown = min(reached(daily, min(s + LAG, site.size), 0.3 * 900.0), s + 250, site.size)
        assert by[s] == max(grown, min(s + LAG, site.size) + 21)
    np.testing.assert_array_equal(young_stand(walk, never, Told(site.size)), lost.settled + 4)


@pytest.mark.parametrize(
    ("frost_class", "base", "full"),
    [("tender", 5.0, 11.0), ("very tender", 5.0, 11.0), ("tender", 10.0, 13.0), ("very tender", 12.0, 16.5)],
)
def test_tender_plants_in_a_cold_bed(frost_class, base, full):
    """All take where the fortnight's bare soil is 13 degC, or 16.5 where very tender, or 6 degrees above the base of
    growth where that is less; none four degrees below that."""
    site = place()
    growth = replace(GROWTH, base_temperature=base)
    crop = crop_of(growth=growth, cold=Cold(frost_class=frost_class), germination=Germination(soil_minimum=16.0))
    losses = Told(site.size)
    young_stand(walk_on(site, crop, SET_OUT), came_up(site), losses)
    soil = site.soil_tenths(10.0, "bare").mean(axis=1) / 10.0
    losses.check(
        "cold soil", {s: line(mean_of(soil, s, min(s + 14, site.size)), full - 4.0, full) for s in starts(site)}
    )
    assert "hot soil" not in losses.left


@pytest.mark.parametrize(("frost_class", "least"), [("half-hardy", 16.0), ("hardy", 16.0), ("hardy", np.nan)])
def test_others_may_be_set_out_into_cold_soil(frost_class, least):
    site = place(years=1)
    crop = crop_of(growth=GROWTH, cold=Cold(frost_class=frost_class), germination=Germination(soil_minimum=least))
    losses = Told(site.size)
    young_stand(walk_on(site, crop, SET_OUT), came_up(site), losses)
    assert losses.left == {}


def test_poor_light_while_it_fills():
    """In proportion to the radiation, in full from a quarter more than growth needs."""
    site = place()
    walk = walk_on(site, crop_of(growth=GROWTH))
    i = np.minimum(site.start + 30, site.size)
    j = np.minimum(site.start + 55, site.size)
    losses = Told(site.size)
    low_light(walk, i, j, losses)
    share = [min(x / 15.0, 1.0) for x in site.solar_radiation]
    losses.check("low light", {s: mean_of(share, i[s], j[s]) for s in starts(site) if i[s] < site.size})


def test_no_light_is_too_little_for_the_least_need():
    site = place(years=1, latitude=75.0)
    assert site.solar_radiation[0] == 0.0  # polar night
    losses = Told(site.size)
    low_light(walk_on(site, crop_of(growth=replace(GROWTH, light_need=0.8))), site.start, site.start + 1, losses)
    assert losses.left["low light"][0] == 0.0


@pytest.mark.parametrize("need", [np.nan, 0.0])
def test_a_crop_without_a_light_need_takes_any(need):
    site = place(years=1)
    losses = Told(site.size)
    low_light(walk_on(site, crop_of(growth=replace(GROWTH, light_need=need))), site.start, site.start + 1, losses)
    assert losses.left == {}


@pytest.mark.parametrize("most", [100.0, np.nan])
def test_a_crop_that_takes_too_long(most):
    """Full worth at the most days (200, unless told), nothing at a quarter more."""
    site = place(years=1)
    losses = Told(site.size)
    took = np.arange(site.size)  # start day s is picked after s days
    slowness(walk_on(site, crop_of(growth=replace(GROWTH, days_most=most))), site.start + took, losses)
    known = 200.0 if np.isnan(most) else most
    losses.check("too slow", {s: line(s, 1.25 * known, known) for s in range(site.size)})


def test_the_worse_of_heat_that_kills_and_heat_that_checks():
    """Days above either limit halve the stand, each by its own count of days; they are not multiplied."""
    kills, checks = Heat(young_limit=28.0, young_days_half=6.0), Heat(young_check=24.0, young_check_days_half=9.0)
    both = Heat(young_limit=28.0, young_days_half=6.0, young_check=24.0, young_check_days_half=9.0)
    site = place()
    left = []
    for heat in (kills, checks, both):
        losses = Told(site.size)
        young_stand(walk_on(site, crop_of(growth=GROWTH, heat=heat), SET_OUT), came_up(site), losses)
        left.append(losses.left["heat"])
    assert left[0].min() < 1
    assert left[1].min() < 1
    np.testing.assert_array_equal(left[2], np.minimum(left[0], left[1]))
    assert (left[0] < left[1]).any() or (left[1] < left[0]).any()
