"""Gates of day length, cold and heat against loops over days, one start after another."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from by_hand import Told, crop_of, first_where, line, place, reached, starts, walk_on

from sowcal.crops.tables import Gates, Growth, Way
from sowcal.seasons.vegetative import bolting_loss, bulbing, cold_for_cropping, starting
from sowcal.seasons.walk import effective_thermal_time

LAG, HORIZON, NEED = 9, 200, 900.0
SOWN, SETS = Way(way="sown outdoors"), Way(way="planted", stock="set")
SEEDLINGS = Way(way="set out", nursery_thermal_time=150.0)
BULB = Gates(
    bulbing_day_length=13.5, bulbing_thermal_time=300.0, full_size_thermal_time=500.0, juvenile_thermal_time=200.0
)


def juvenile_end(walk, s):
    """Size is reached by the crop's own thermal time: less what the nursery gave, half for sets with their reserves."""
    need, way = walk.crop.gates.juvenile_thermal_time, walk.way
    up = min(s + LAG, walk.site.size)
    if np.isnan(need):
        return up
    if way.way == "set out" and not np.isnan(way.nursery_thermal_time):
        need = max(0.0, need - way.nursery_thermal_time)
    if way.way == "planted":
        need = 0.5 * need
    return min(reached(np.diff(walk.total), up, need), s + HORIZON, walk.site.size)


def given_up(walk, day, s):
    return min(day, s + HORIZON, walk.site.size)


WAYS = [SOWN, SETS, SEEDLINGS, replace(SEEDLINGS, nursery_thermal_time=np.nan)]


@pytest.mark.parametrize("juvenile", [200.0, 100.0, np.nan])
@pytest.mark.parametrize("way", WAYS, ids=["sown", "sets", "seedlings", "seedlings of unknown age"])
def test_bulbs_start_in_long_warm_days(way, juvenile):
    site = place()
    gates = replace(BULB, juvenile_thermal_time=juvenile)
    walk = walk_on(site, crop_of(gates=gates), way, horizon=HORIZON)
    daily = np.diff(walk.total)
    losses = Told(site.size)
    begun, lifted = bulbing(walk, losses)
    gate = (site.day_length >= 13.5) & (site.fortnight_mean >= 12.0)
    size = {}
    for s in starts(site):
        start = given_up(walk, first_where(gate, juvenile_end(walk, s)), s)
        assert begun[s] == start
        assert lifted[s] == given_up(walk, reached(daily, start, 300.0), s)
        grown = sum(daily[s + LAG : start])
        if way.way == "set out" and not np.isnan(way.nursery_thermal_time):
            grown += (1.0 if site.day_length[s] < 13.5 else 0.25) * way.nursery_thermal_time
        if way.way == "planted" and not np.isnan(juvenile):
            grown += 0.5 * juvenile
        size[s] = line(grown, 0.0, 500.0)
    losses.check("day length", size)
    assert set(losses.left) == {"day length"}


def test_the_days_must_be_as_long_and_warm_as_said_and_no_more():
    """Days and fortnights that are just at the limit start bulbs; 600 degree days lift them, unless told."""
    site = place(years=1)
    site.day_length = np.full(site.size, 14.0)
    site.fortnight_mean = np.full(site.size, 12.0)
    walk = walk_on(site, crop_of(gates=Gates(bulbing_day_length=14.0)), daily=np.full(site.size, 10.0), horizon=HORIZON)
    losses = Told(site.size)
    begun, lifted = bulbing(walk, losses)
    assert begun[20] == 20 + LAG
    assert lifted[20] == 20 + LAG + 59  # by the end of the sixtieth day
    assert losses.left == {}


def test_seedlings_raised_in_days_at_the_limit_have_begun_in_their_trays():
    """They bring a quarter of what they grew there; a minute less of day and they bring all."""
    gates = Gates(bulbing_day_length=14.0, full_size_thermal_time=1000.0)
    for day_length, brought in ((14.0, 0.25 * 150.0), (13.98, 150.0)):
        site = place(years=1)
        site.day_length = np.full(site.size, 14.0)
        site.day_length[:20] = day_length
        site.fortnight_mean = np.full(site.size, 12.0)
        losses = Told(site.size)
        bulbing(walk_on(site, crop_of(gates=gates), SEEDLINGS, daily=np.zeros(site.size)), losses)
        assert losses.left["day length"][10] == pytest.approx(brought / 1000.0)


def test_bulbs_that_begin_before_they_have_a_leaf_are_nothing():
    site = place(years=1)
    gates = Gates(bulbing_day_length=1.0, full_size_thermal_time=0.8)
    losses = Told(site.size)
    bulbing(walk_on(site, crop_of(gates=gates), SOWN, daily=np.zeros(site.size)), losses)
    assert losses.left["day length"].max() == 0.0


COLD = Gates(
    cold_effect="cropping", cold_warmest=7.0, cold_days_low=10.0, cold_days_high=30.0, juvenile_thermal_time=60.0
)


@pytest.mark.parametrize("without", [0.3, np.nan])
@pytest.mark.parametrize(("low", "high"), [(10.0, 30.0), (0.0, 0.0)])
@pytest.mark.parametrize("way", [SOWN, SEEDLINGS], ids=["sown", "seedlings past their youth"])
def test_heads_wait_for_their_cold(way, low, high, without):
    """Until half the sorts have had their cold days, 120 days at most; days of cold by then bring their part."""
    site = place()
    gates = replace(COLD, cold_days_low=low, cold_days_high=high, share_without_cold=without)
    walk = walk_on(site, crop_of(gates=gates), way, horizon=HORIZON)
    fills = np.minimum(site.start + 50, site.size)
    losses = Told(site.size)
    waits = cold_for_cropping(walk, fills, losses)
    least = 0.0 if np.isnan(without) else without
    left = {}
    for s in starts(site):
        begin = juvenile_end(walk, s)
        count, met = 0, site.size
        for day in range(begin, site.size):
            count += site.tas[day] < 7.0
            if count >= 0.5 * (low + high):
                met = day
                break
        late = min(max(fills[s], met), max(fills[s], begin + 120))
        if high > 0:
            assert waits[s] == given_up(walk, late, s)
        cold = sum(site.tas[begin : min(waits[s], site.size)] < 7.0)
        left[s] = least + (1.0 - least) * line(cold, 0.0, max(0.5 * (low + high), 1.0))
    losses.check("too slow", left)


@pytest.mark.parametrize("gates", [replace(COLD, cold_effect="bolting"), replace(COLD, cold_warmest=np.nan)])
def test_other_crops_do_not_wait_for_cold(gates):
    site = place(years=1)
    walk = walk_on(site, crop_of(gates=gates), SOWN)
    losses = Told(site.size)
    fills = site.start + 50
    np.testing.assert_array_equal(cold_for_cropping(walk, fills, losses), fills)
    bulbing(walk_on(site, crop_of(gates=replace(gates, bulbing_day_length=13.5)), SOWN), losses)
    assert losses.left == {}


def test_bulbs_that_want_cold_bring_what_their_cold_days_allow():
    site = place()
    gates = replace(BULB, cold_effect="cropping", cold_warmest=9.0, cold_days_low=20.0, cold_days_high=60.0)
    walk = walk_on(site, crop_of(gates=gates), SETS, horizon=HORIZON)
    losses = Told(site.size)
    begun, _ = bulbing(walk, losses)
    left = {}
    for s in starts(site):
        cold = sum(site.tas[juvenile_end(walk, s) : begun[s]] < 9.0)
        left[s] = line(cold, 0.0, 40.0)
    losses.check("too slow", left)


HEADS = Gates(starting_none_below=4.0, starting_best_low=10.0, starting_best_high=16.0, starting_none_above=23.0)


@pytest.mark.parametrize("none_below", [4.0, np.nan])
def test_heads_start_in_the_cool(none_below):
    """At most 75 days' wait for a fortnight at most a degree above the best; starting outside the best costs."""
    site = place(mean=16.0, swing=8.0)
    walk = walk_on(site, crop_of(gates=replace(HEADS, starting_none_below=none_below)), SOWN, horizon=HORIZON)
    fills = np.minimum(site.start + 50, site.size)
    losses = Told(site.size)
    found = starting(walk, fills, losses)
    heat, slow, waited = {}, {}, set()
    for s in starts(site):
        cool = first_where(site.fortnight_mean <= 17.0, fills[s])
        start = given_up(walk, min(cool, fills[s] + 75), s)
        assert found[s] == start
        waited.add(int(start - fills[s]))
        mean = site.fortnight_mean[min(start, site.size - 1)]
        left = line(mean, 23.0, 16.0)
        if not np.isnan(none_below):
            left *= line(mean, 4.0, 10.0)
        heat[s], slow[s] = (left, 1.0) if mean > 16.0 else (1.0, left)
    assert 75 in waited
    assert 0 in waited
    losses.check("heat", heat)
    if not np.isnan(none_below):
        losses.check("too slow", slow)


def test_a_fortnight_a_degree_above_the_best_is_cool_enough():
    site = place(years=1)
    site.fortnight_mean = np.full(site.size, 17.0)
    losses = Told(site.size)
    fills = site.start + 50
    found = starting(walk_on(site, crop_of(gates=HEADS), SOWN), fills, losses)
    np.testing.assert_array_equal(found[:300], fills[:300])
    site = place(years=1)
    site.fortnight_mean = np.full(site.size, 18.0)  # and two above is not
    found = starting(walk_on(site, crop_of(gates=HEADS), SOWN), fills, losses)
    np.testing.assert_array_equal(found[:200], fills[:200] + 75)


def test_a_crop_that_starts_in_any_month():
    site = place(years=1)
    losses = Told(site.size)
    fills = site.start + 50
    walk = walk_on(site, crop_of(gates=replace(HEADS, starting_none_above=np.nan)), SOWN)
    np.testing.assert_array_equal(starting(walk, fills, losses), fills)
    assert losses.left == {}


BOLTS = Gates(
    cold_effect="bolting",
    cold_warmest=12.0,
    cold_days_low=4.0,
    cold_days_high=20.0,
    juvenile_thermal_time=60.0,
    bolting_day_length=12.0,
    bolting_thermal_time=100.0,
)


@pytest.mark.parametrize(
    "gates",
    [
        BOLTS,
        replace(BOLTS, bolting_day_length=np.nan),
        replace(BOLTS, cold_effect=""),
        replace(BOLTS, cold_warmest=np.nan),
        replace(BOLTS, cold_days_low=4.0, cold_days_high=4.0),
        replace(BOLTS, cold_days_high=np.nan, cold_effect="", juvenile_thermal_time=np.nan),
    ],
    ids=["cold and long days", "cold", "long days", "cold unknown", "all plants alike", "no youth"],
)
def test_plants_that_run_to_flower(gates):
    """Cold after youth, then warmth in long days; what bolts before half of its growth is lost whole."""
    site = place()
    walk = walk_on(site, crop_of(gates=gates), SOWN, horizon=HORIZON)
    daily = np.diff(walk.total)
    judged = np.minimum(site.start + 110, site.size)
    losses = Told(site.size)
    bolting_loss(walk, site.start, judged, losses)
    long = np.ones(site.size, bool) if np.isnan(gates.bolting_day_length) else site.day_length > 12.0
    left = {}
    for s in starts(site):
        ready, share = juvenile_end(walk, s), 1.0
        end = min(judged[s], site.size)
        if gates.cold_effect == "bolting" and not np.isnan(gates.cold_warmest):
            cold = site.tas < 12.0
            share = line(sum(cold[ready:end]), 4.0, max(gates.cold_days_high, 5.0))
            count, day = 0, ready
            while day < site.size:
                count += cold[day]
                if count >= 4:
                    break
                day += 1
            ready = day
        stalk = min(reached(daily * long, ready, 100.0), end)
        up = min(s + LAG, site.size)
        whole = max(sum(daily[up:end]), 1.0)
        left[s] = 1.0 - share * (1.0 - line(sum(daily[up:stalk]) / whole, 0.5, 1.0))
    losses.check("bolting", left)


def test_plants_of_one_mind_bolt_within_a_day_of_cold():
    """Four cold days and none does, five and all do, where the first and last days of cold are the same."""
    for cold_days, left in ((4, 1.0), (5, 0.0)):
        site = place(years=1)
        site.tas = np.full(site.size, 20.0)
        site.tas[60 : 60 + cold_days] = 10.0
        gates = replace(BOLTS, cold_days_high=4.0, juvenile_thermal_time=np.nan, bolting_day_length=np.nan)
        walk = walk_on(site, crop_of(gates=gates), SOWN, daily=np.full(site.size, 10.0))
        losses = Told(site.size)
        bolting_loss(walk, site.start, site.start + 110, losses)
        assert losses.left["bolting"][45] == left


def test_a_day_as_long_as_the_limit_is_not_yet_long():
    site = place(years=1)
    site.day_length = np.full(site.size, 12.0)
    losses = Told(site.size)
    walk = walk_on(site, crop_of(gates=replace(BOLTS, cold_effect="")), SOWN)
    bolting_loss(walk, site.start, np.minimum(site.start + 110, site.size), losses)
    np.testing.assert_array_equal(losses.left["bolting"][:200], 1.0)


@pytest.mark.parametrize("gates", [replace(BOLTS, cold_effect="cropping"), replace(BOLTS, bolting_thermal_time=np.nan)])
def test_crops_that_do_not_bolt(gates):
    site = place(years=1)
    losses = Told(site.size)
    bolting_loss(walk_on(site, crop_of(gates=gates), SOWN), site.start, site.start, losses)
    assert losses.left == {}


def test_two_crops_of_one_site_bolt_by_their_own_warmth():
    """Sums kept for a site are told apart by all that makes them."""
    first = Growth(5.0, 25.0, range_optimum_high=15.0, range_maximum=20.0, habit="once", light_need=12.0)
    differing = {
        "base_temperature": 8.0,
        "upper_threshold": 21.0,
        "light_need": 20.0,
        "range_optimum_high": 12.0,
        "range_maximum": 16.5,
    }
    gates = replace(BOLTS, cold_effect="")
    cases = [(first, gates), (first, replace(gates, bolting_day_length=13.0))]
    cases += [(replace(first, **{name: value}), gates) for name, value in differing.items()]
    shared = place(years=1)
    answers = []
    for growth, g in cases:
        of_site = []
        for site in (shared, place(years=1)):
            walk = walk_on(site, crop_of(growth=growth, gates=g), SOWN)
            walk = replace(walk, total=effective_thermal_time(site, growth))
            losses = Told(site.size)
            bolting_loss(walk, site.start, np.minimum(site.start + 110, site.size), losses)
            of_site.append(losses.left["bolting"])
        np.testing.assert_array_equal(*of_site)
        answers.append(of_site[0])
    assert len({a.tobytes() for a in answers}) == len(cases)
