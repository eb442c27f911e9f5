"""Light that the engine reckons with: measured where the record has it, else by FAO-56 eq. 50."""

from dataclasses import replace

import numpy as np
import pytest
from by_hand import Told, crop_of, mean_of, place, starts, walk_on

from sowcal.crops.tables import Cold, Growth
from sowcal.seasons.establishing import light_for_thermal_time, low_light
from sowcal.seasons.site_days import SiteDays


def days(**more):
    n = 365
    return SiteDays(np.full(n, 14.8), np.full(n, 26.6), np.datetime64("2001-01-01"), 45.72, **more)


def test_range_of_the_day_inland_and_on_the_coast():
    """FAO-56 example 15 (Lyon, July): 22.3 MJ m-2 d-1 by 0.16 inland; 0.19 where the sea rules the air."""
    july = 195
    inland, coast = (days(coast=sea).solar_radiation[july] for sea in (False, True))
    assert inland == pytest.approx(22.3, abs=0.3)
    assert coast / inland == pytest.approx(0.19 / 0.16)


def test_measured_light_stands_before_the_estimate():
    measured = np.full(365, 12.0)
    measured[100:200] = np.nan
    light = days(measured_light=measured).solar_radiation
    assert light[50] == pytest.approx(12.0)
    assert light[150] == pytest.approx(days().solar_radiation[150])


WARM = crop_of(
    growth=Growth(base_temperature=10.0, upper_threshold=30.0, range_optimum_high=24.0, habit="once", light_need=0.0),
    cold=Cold(frost_class="tender"),
)
COOL = crop_of(
    growth=Growth(base_temperature=4.0, upper_threshold=24.0, range_optimum_high=18.0, habit="once"),
    cold=Cold(frost_class="hardy"),
    part="root",
)


def steady(mean, light, latitude=40.0):
    """A year of days alike, with that mean and measured light."""
    air = np.full(365, mean)
    return SiteDays(air - 0.01, air + 0.01, np.datetime64("2001-01-01"), latitude, measured_light=np.full(365, light))


def share(site, crop):
    walk = walk_on(site, crop)
    return light_for_thermal_time(walk, site.start, np.minimum(site.start + 30, site.size))[100]


def test_less_light_for_each_degree_day_costs_and_more_gains_nothing():
    """At the best temperature of a warm crop half of 20 MJ leaves 0.5 to the power 0.8; 20 and 30 MJ leave all."""
    shares = [share(steady(24.0, light), WARM) for light in (5.0, 10.0, 20.0, 30.0)]
    assert shares == pytest.approx([0.25**0.8, 0.5**0.8, 1.0, 1.0], rel=1e-3)


def test_a_hardy_crop_is_content_with_the_light_of_autumn():
    """At its best temperature 9.5 MJ leave all and half of that 0.5 to the power 0.8, in either hemisphere."""
    for latitude in (40.0, -40.0):
        shares = [share(steady(18.0, light, latitude), COOL) for light in (4.75, 9.5, 19.0)]
        assert shares == pytest.approx([0.5**0.8, 1.0, 1.0], rel=1e-3)


def test_days_hotter_than_the_best_carry_less_light_for_each_degree_day():
    """At 29 degC nineteen degree days a day pass where fourteen were enough."""
    assert share(steady(29.0, 20.0), WARM) == pytest.approx((14.0 / 19.0) ** 0.8, rel=1e-3)


def test_a_day_has_a_degree_of_growth_at_least_where_the_best_lies_at_the_base():
    """At two degrees above its base half of the light of each degree day is wasted."""
    crop = replace(WARM, growth=replace(WARM.growth, range_optimum_high=10.5))
    assert share(steady(12.0, 20.0), crop) == pytest.approx(0.5**0.8, rel=1e-3)


@pytest.mark.parametrize("crop", [WARM, COOL], ids=["warm", "cool"])
def test_days_near_the_base_raise_nothing(crop):
    """The raw quotient of cold days is the highest of all; here they count as days at the best temperature do."""
    near, best = crop.growth.base_temperature + 1.0, crop.growth.range_optimum_high
    assert share(steady(near, 10.0), crop) == pytest.approx(share(steady(best, 10.0), crop), rel=1e-3)


def test_light_by_a_loop_over_days():
    site = place(mean=17.0)
    j = np.minimum(site.start + 40, site.size)
    got = light_for_thermal_time(walk_on(site, WARM), site.start, j)
    daily = np.diff(site.thermal_time(10.0, 30.0, np.nan))
    some = [s for s in starts(site) if daily[s : j[s]].sum() > 1.0]
    for s in some:
        caught = sum(min(daily[d], 14.0) * site.growing_light[d] for d in range(s, j[s]))
        assert got[s] == pytest.approx(min(caught / (20.0 * daily[s : j[s]].sum()), 1.0) ** 0.8, rel=1e-6)
    assert np.ptp(got[some]) > 0.2


def test_of_poor_light_and_poor_light_for_warmth_the_worse_counts_and_heat_is_not_counted_twice():
    site = place(mean=17.0)
    i, j = site.start, np.minimum(site.start + 40, site.size)
    needy = replace(WARM, growth=replace(WARM.growth, light_need=12.0))
    walk = walk_on(site, needy)
    quotient = light_for_thermal_time(walk, i, j)
    poor = [min(x / 15.0, 1.0) for x in site.solar_radiation]
    plain, hot = Told(site.size), Told(site.size)
    hot.take("heat", np.full(site.size, 0.6))
    for losses in (plain, hot):
        low_light(walk, i, j, losses)
    for s in starts(site):
        mean = mean_of(poor, i[s], j[s])
        assert plain.left["low light"][s] == pytest.approx(min(mean, quotient[s]), rel=1e-6)
        assert hot.left["low light"][s] == pytest.approx(min(mean, min(quotient[s] / 0.6, 1.0)), rel=1e-6)


def test_estimated_light_is_drawn_half_way_to_the_suns_course_and_measured_light_is_not():
    estimated, measured = days(), days(measured_light=np.full(365, 12.0))
    assert measured.growing_light[100] == pytest.approx(12.0)
    top = 2.0 * (2.0 * estimated.growing_light - estimated.solar_radiation)
    assert top[171] == pytest.approx(41.9, abs=0.6)  # extraterrestrial radiation at 45.7 N in June, FAO-56 table 2.6
