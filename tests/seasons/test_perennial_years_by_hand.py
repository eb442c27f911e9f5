"""The growing years of a perennial on invented days, part by part, each reckoned beside it, north and south."""

from dataclasses import replace

import numpy as np
import pytest

from sowcal.answers import open_handbook
from sowcal.crops.tables import Blossom, Chill, Perennial
from sowcal.seasons.perennial_years import (
    at_chill_end,
    chill_by_model,
    chill_ends,
    chill_needed,
    perennial_years,
    span_days,
    whole_years,
)
from sowcal.seasons.site_days import SiteDays
from sowcal.seasons.sums import flowers_killed

BOOK = open_handbook()
NORTH, SOUTH = 40.0, -40.0
BOTH = pytest.mark.parametrize("latitude", [NORTH, SOUTH])
BEGIN = np.datetime64("2001-01-01")


def place(low=8.0, high=20.0, latitude=NORTH, days=365 * 5 + 1, **single):
    """Even days; `low_at` and `high_at` set single ones, (date, degC)."""
    tasmin, tasmax = np.full(days, float(low)), np.full(days, float(high))
    for name, array in (("low_at", tasmin), ("high_at", tasmax)):
        for date, degrees in single.get(name, ()):
            array[(np.datetime64(date) - BEGIN).astype(int)] = degrees
    return SiteDays(tasmin, tasmax, BEGIN, latitude)


def plant(chill=(), blossom=None, **perennial):
    """A plant of which nothing is known but what is named."""
    return replace(
        BOOK["lemon"], chill=chill, blossom=blossom, perennial=Perennial(**{"picked_when": "leaf"} | perennial)
    )


def dates(site, days):
    return [str(site.dates[0] + int(d)) for d in days]


SPANS = {  # (north, south) of the year 2003: first day and the day after the last
    "cold": (("2002-09-01", "2003-03-01"), ("2003-03-01", "2003-09-01")),
    "winter": (("2002-12-01", "2003-03-01"), ("2003-06-01", "2003-09-01")),
    "growing": (("2003-03-01", "2003-11-01"), ("2003-09-01", "2004-05-01")),
    "warm": (("2003-04-01", "2003-11-01"), ("2003-10-01", "2004-05-01")),
    "summer": (("2003-06-01", "2003-09-01"), ("2003-12-01", "2004-03-01")),
    "whole": (("2002-09-01", "2004-01-01"), ("2003-03-01", "2004-07-01")),
}


@pytest.mark.parametrize("part", SPANS)
@pytest.mark.parametrize("south", [False, True])
def test_parts_of_the_year(part, south):
    site = place(latitude=SOUTH if south else NORTH)
    begin, end = span_days(site, np.array([2003]), part)
    assert (dates(site, begin)[0], dates(site, end)[0]) == SPANS[part][south]


@pytest.mark.parametrize(("latitude", "south"), [(0.0, False), (0.5, False), (-0.5, True)])
def test_the_southern_year_begins_at_the_equator(latitude, south):
    begin, end = span_days(place(latitude=latitude), np.array([2003]), "growing")
    assert (dates(place(), begin)[0], dates(place(), end)[0]) == SPANS["growing"][south]


@pytest.mark.parametrize(("latitude", "years"), [(NORTH, [2002, 2003, 2004, 2005]), (SOUTH, [2001, 2002, 2003, 2004])])
def test_growing_years_that_lie_whole_within_the_record(latitude, years):
    assert whole_years(place(latitude=latitude)).tolist() == years
    shorter = place(latitude=latitude, days=365 * 5)  # a day less
    assert whole_years(shorter).tolist() == [y for y in years if y != 2005]


NEED = Chill("hours below 7.2", 1000.0, 3000.0, 1200.0, 2000.0, "", "yes", "")


def test_ends_of_a_chill_need():
    assert chill_ends(NEED) == (1200.0, 2000.0)
    assert chill_ends(replace(NEED, judged_low=np.nan)) == (1000.0, 3000.0)
    assert [chill_needed(replace(plant(chill=(NEED,)), chill_end=end)) for end in (0.0, 0.5, 1.0)] == [1200, 1600, 2000]
    little = replace(NEED, judged_low=0.0, judged_high=1.0)  # next to none is still some
    assert chill_needed(replace(plant(chill=(little,)), chill_end=0.5)) == 0.5
    assert np.isnan(chill_needed(plant()))
    assert np.isnan(chill_needed(plant(chill=(replace(NEED, judged_low=0.0, judged_high=0.0),))))
    assert np.isnan(chill_needed(plant(chill=(replace(NEED, used="no"),))))


@BOTH
def test_chill_gathers_from_autumn_to_a_month_into_spring(latitude):
    """At 5 degC every hour counts: 24 a day from September to the end of March, in the south half a year later."""
    site = place(5.0, 5.0, latitude)
    years = whole_years(site)
    days = np.array([181 + 31 + (latitude > 0 and y == 2004) for y in years])
    if latitude < 0:
        days = np.full(years.size, 184 + 31)
    hours = chill_by_model(site, years)
    np.testing.assert_allclose(hours["hours below 7.2"], 24.0 * days)
    assert set(hours) == {"hours below 7.2", "hours 0 to 7.2", "Utah units", "portions"}
    figures = perennial_years(site, plant(chill=(NEED,))).figures
    np.testing.assert_allclose(figures["chill"], 24.0 * days)


@pytest.mark.parametrize(("share", "left"), [(1.0, 1.0), (0.9, 0.75), (0.8, 0.5), (0.6, 0.0), (0.5, 0.0), (2.0, 1.0)])
def test_part_of_the_chill_gives_part_of_the_crop(share, left):
    """Nothing below 0.6 of what it asks for."""
    asked = 24.0 * 212 / share
    years = perennial_years(place(5.0, 5.0), plant(chill=(replace(NEED, judged_low=asked, judged_high=asked),)))
    np.testing.assert_allclose(years.shares["chill unmet"][[0, 1]], left, atol=1e-9)
    assert years.limits["chill unmet"] == ("chill", "judged_low")
    np.testing.assert_allclose(years.crop, years.shares["chill unmet"])


@pytest.mark.parametrize(("mean", "left"), [(6.0, 1.0), (10.0, 1.0), (13.0, 0.85), (16.0, 0.7), (20.0, 0.7)])
def test_a_winter_too_mild_by_its_mean_takes_three_tenths_at_most(mean, left):
    years = perennial_years(place(mean, mean), plant(winter_mean_best=10.0, winter_mean_most=16.0))
    np.testing.assert_allclose(years.shares["winter too mild"], left)
    np.testing.assert_allclose(years.figures["winter mean"], mean)


def test_of_chill_and_mean_the_harsher_counts_alone():
    crop = plant(chill=(NEED,), winter_mean_best=2.0, winter_mean_most=4.0)
    years = perennial_years(place(5.0, 5.0), crop)  # chill enough, the mean too mild
    np.testing.assert_allclose(years.shares["winter too mild"], 0.7)
    np.testing.assert_allclose(years.shares["chill unmet"], 1.0)
    asked = 24.0 * 212 / 0.7
    lacking = replace(crop, chill=(replace(NEED, judged_low=asked, judged_high=asked),))
    years = perennial_years(place(5.0, 5.0), lacking)
    np.testing.assert_allclose(years.shares["winter too mild"], 1.0)
    np.testing.assert_allclose(years.shares["chill unmet"][:2], 0.25)


def test_where_chill_and_mean_take_the_same_it_is_taken_once():
    """A winter a tenth too mild leaves 0.97; of 5,088 hours 0.988 of what is asked for leave as much of a crop."""
    mild = 1.0 - 0.3 * (1.0 - 0.9)
    near = 5088.0 / (0.6 + 0.4 * mild)
    alike = near + np.arange(-300, 300) * np.spacing(near)  # one at which the two are the same to the bit
    alike = alike[(5088.0 / alike - 0.6) / (1.0 - 0.6) == mild]
    need = replace(NEED, judged_low=alike[0], judged_high=alike[0])
    years = perennial_years(place(5.0, 5.0), plant(chill=(need,), winter_mean_best=4.0, winter_mean_most=14.0))
    assert years.crop[0] == pytest.approx(0.97)
    assert (years.shares["chill unmet"][0], years.shares["winter too mild"][0]) == (pytest.approx(0.97), 1.0)


@BOTH
def test_growth_begins_with_its_warmth_once_rest_ends(latitude):
    """Rest ends two thirds into the cold season where no chill is asked for; 10 degC above the base a day."""
    site = place(10.0, 20.0, latitude)
    years = perennial_years(site, plant(base_temperature=5.0, upper_threshold=30.0, budburst_thermal_time=100.0))
    begin, end = span_days(site, years.years, "cold")
    middle = begin + (2 * (end - begin)) // 3
    assert years.growth.tolist() == (middle + 9).tolist()  # the tenth day ends the sum
    still = perennial_years(site, plant())
    assert still.growth.tolist() == span_days(site, years.years, "growing")[0].tolist()


def test_rest_ends_when_the_sort_that_suits_the_place_has_its_chill():
    """Four fifths of the winter's 5,088 hours are 4,070.4, reached on the 170th day; within the range of the kind."""
    site = place(5.0, 5.0)
    grown = {"base_temperature": 0.0, "upper_threshold": 30.0, "budburst_thermal_time": 5.0}
    begin = span_days(site, whole_years(site), "cold")[0]

    def rest(**need):
        years = perennial_years(site, plant(chill=(replace(NEED, **need),), **grown))
        return (years.growth - begin)[0]  # that very day brings the 5 degree days

    assert rest(need_high=6000.0, judged_low=100.0, judged_high=100.0) == 169
    assert rest(need_high=2400.0, judged_low=100.0, judged_high=100.0) == 99  # no sort asks for more
    assert rest(need_high=9000.0, judged_low=4800.0, judged_high=4800.0) == 199  # and the kind asks for as much


@BOTH
@pytest.mark.parametrize(("night", "left"), [(-11.0, 0.269), (-10.0, 0.5), (-9.0, 0.731)])
def test_a_winter_night_at_the_limit_kills_half(latitude, night, left):
    date = "2003-01-20" if latitude > 0 else "2003-07-20"
    years = perennial_years(place(latitude=latitude, low_at=[(date, night)]), plant(killing_dormant=-10.0))
    there = years.years.tolist().index(2003)
    assert years.shares["winter kill"][there] == pytest.approx(left, abs=5e-4)  # 1 / (1 + e) a degree below
    assert years.figures["coldest"][there] == night
    assert years.alive[there] == pytest.approx(years.shares["winter kill"][there])
    others = np.delete(np.arange(years.years.size), there)
    np.testing.assert_allclose(years.shares["winter kill"][others], 1.0, atol=1e-3)


@BOTH
def test_a_frost_in_growth_costs_half_at_worst_and_the_plant_lives(latitude):
    date = "2003-05-20" if latitude > 0 else "2003-11-20"
    crop = plant(killing_growing=-2.0)
    years = perennial_years(place(latitude=latitude, low_at=[(date, -2.0)]), crop)
    there = years.years.tolist().index(2003)
    assert years.shares["frost"][there] == pytest.approx(0.75)
    assert perennial_years(place(latitude=latitude, low_at=[(date, -20.0)]), crop).shares["frost"][
        there
    ] == pytest.approx(0.5, abs=1e-3)
    assert years.alive[there] == 1.0
    assert years.limits["frost"] == ("perennials", "killing_growing")
    rest = perennial_years(
        place(latitude=latitude, low_at=[("2003-01-20" if latitude > 0 else "2003-07-20", -20.0)]), crop
    )
    assert rest.shares["frost"][there] == pytest.approx(1.0, abs=1e-3)  # at rest it is not cut back


@BOTH
def test_cold_that_takes_the_top_costs_nine_tenths_at_worst(latitude):
    date = "2003-01-20" if latitude > 0 else "2003-07-20"
    crop = plant(killing_top=-6.0)
    there = 1 if latitude > 0 else 2
    half = perennial_years(place(latitude=latitude, low_at=[(date, -6.0)]), crop)
    assert half.shares["frost"][there] == pytest.approx(0.55)
    worst = perennial_years(place(latitude=latitude, low_at=[(date, -30.0)]), crop)
    assert worst.shares["frost"][there] == pytest.approx(0.1)
    assert worst.limits["frost"] == ("perennials", "killing_top")


@pytest.mark.parametrize(
    ("lowest", "lives"), [(-1.0, 1.0), (-2.0, 0.9), (-4.0, 0.5), (-6.0, 0.1), (-6.5, 0.0), (-1.5, 0.95)]
)
def test_a_night_kills_a_tenth_and_nine_tenths_of_flowers_at_the_two_limits(lowest, lives):
    """Fourteen open flowers in ten that a full crop asks for; so half of them is enough, and less is less."""
    blossom = Blossom(heat_to_bloom=1000.0, bloom_days=4.0, kill_10_bloom=-2.0, kill_90_bloom=-6.0)
    crop = plant(blossom=blossom, picked_when="bloom")
    night = int(perennial_years(place(), crop).growth[1])
    cold = perennial_years(place(low_at=[(str(BEGIN + night), lowest)]), crop)
    assert cold.shares["frost on blossom"][1] == pytest.approx(min(2.0 * lives, 1.0))
    assert cold.limits["frost on blossom"] == ("blossom", "kill_10_bloom")


@BOTH
def test_hot_summers_kill_where_half_of_the_growth_is_lost(latitude):
    """Growth falls from the mean that it likes to the most that it bears; at half of it nothing dies."""
    for mean, kill, heat, winter in (
        (20.0, 1.0, 1.0, 1.0),
        (25.0, 1.0, 0.5, 0.5),
        (27.5, 0.5, 0.25, 0.25),
        (30.0, 0, 0, 0),
    ):
        years = perennial_years(place(mean, mean, latitude), plant(summer_mean_best=20.0, summer_mean_most=30.0))
        np.testing.assert_allclose(years.shares["summer kill"], kill)
        np.testing.assert_allclose(years.shares["heat"], heat)
        np.testing.assert_allclose(years.winter_growth, winter)
        np.testing.assert_allclose(years.figures["summer mean"], mean)
        assert years.limits["summer kill"] == years.limits["heat"] == ("perennials", "summer_mean_most")
        rests = perennial_years(
            place(mean, mean, latitude), plant(summer_mean_best=20.0, summer_mean_most=30.0, summer_rest="yes")
        )
        np.testing.assert_allclose(rests.shares["heat"], 0.5 + 0.5 * heat)
        np.testing.assert_allclose(rests.shares["summer kill"], kill)


@BOTH
def test_crowns_that_are_spared_heat_live_in_hotter_summers(latitude):
    degrees = np.full(365 * 5 + 1, 27.0)
    site = SiteDays(degrees, degrees, BEGIN, latitude, crown_relief=2.0)
    years = perennial_years(site, plant(summer_mean_best=20.0, summer_mean_most=30.0))
    np.testing.assert_allclose(years.shares["heat"], 0.5)
    np.testing.assert_allclose(years.winter_growth, 0.5)


def spell(latitude, days, degrees=41.0):
    first = np.datetime64("2003-07-10" if latitude > 0 else "2004-01-10")
    return place(10.0, 20.0, latitude, high_at=[(str(first + k), degrees) for k in range(days)])


@BOTH
@pytest.mark.parametrize(("days", "kill"), [(5, 1.0), (10, 1.0), (15, 2 / 3), (17, 0.4), (20, 0.0), (30, 0.0)])
def test_a_spell_of_heat_kills(latitude, days, kill):
    """From half of the days told nothing, at twice as many all: 5 to 20 of 10; half of the growth left kills none."""
    crop = plant(heat_kills=40.0, heat_kill_days=10.0)
    years = perennial_years(spell(latitude, days), crop)
    there = years.years.tolist().index(2003)
    assert years.figures["hottest spell"][there] == days
    left = np.clip((20.0 - days) / 15.0, 0.0, 1.0)
    assert years.shares["heat"][there] == pytest.approx(left)
    assert years.shares["summer kill"][there] == pytest.approx(min(2 * left, 1.0))
    assert kill == pytest.approx(min(2 * left, 1.0))
    assert perennial_years(spell(latitude, days, 40.0), crop).figures["hottest spell"][there] == 0
    assert years.figures["hottest spell"].sum() == days  # of no other year
    if left < 1.0:
        assert years.limits["summer kill"] == ("perennials", "heat_kills")


@BOTH
def test_days_too_hot_to_grow_count_while_it_grows(latitude):
    """49 of the 245 growing days from March to October (242 in the south, or 243) are a fifth."""
    crop = plant(heat_stops=35.0)
    site = spell(latitude, 49, 36.0)
    years = perennial_years(site, crop)
    there = years.years.tolist().index(2003)
    begin, end = span_days(site, np.array([2003]), "growing")
    assert years.shares["heat"][there] == pytest.approx(1.0 - 49 / (end - begin)[0])
    assert years.limits["heat"] == ("perennials", "heat_stops")
    assert perennial_years(spell(latitude, 49, 35.0), crop).shares["heat"][there] == 1.0
    resting = perennial_years(site, plant(heat_stops=35.0, summer_rest="yes"))
    assert resting.shares["heat"][there] == 1.0


@pytest.mark.parametrize(("mean", "left"), [(11.0, 0.0), (12.5, 0.5), (14.0, 1.0), (20.0, 1.0)])
def test_a_summer_too_cool_ripens_nothing(mean, left):
    years = perennial_years(place(mean, mean), plant(summer_mean_least=14.0))
    np.testing.assert_allclose(years.shares["too slow"], left)
    assert years.limits["too slow"] == ("perennials", "summer_mean_least")


@BOTH
def test_leaves_are_picked_once_their_warmth_is_reached(latitude):
    """Ten degree days a day from 1 March: 200 are reached on the twentieth day; for 60 days, 30 where none is told."""
    site = place(10.0, 20.0, latitude)
    grown = {"base_temperature": 5.0, "upper_threshold": 30.0, "picking_thermal_time": 200.0}
    years = perennial_years(site, plant(picking_days=60.0, **grown))
    begin = span_days(site, years.years, "growing")[0]
    assert (years.first - begin).tolist() == [19.0] * years.years.size
    assert (years.last - years.first).tolist() == [60.0] * years.years.size
    assert (perennial_years(site, plant(**grown)).last - years.first)[0] == 30.0
    assert perennial_years(site, plant()).first.tolist() == begin.tolist()


def test_shoots_are_cut_until_the_heat_settles_and_a_fortnight_at_least():
    grown = {"base_temperature": 5.0, "upper_threshold": 30.0, "picking_thermal_time": 200.0, "picking_days": 90.0}
    crop = plant(picked_when="shoots", heat_stops=25.0, **grown)
    first = int(perennial_years(place(10.0, 20.0), crop).first[1])

    def cut(from_day):
        hot = [(str(BEGIN + first + from_day + k), 40.0) for k in range(100)]
        years = perennial_years(place(10.0, 20.0, high_at=hot), crop)
        return int(years.last[1] - years.first[1])

    assert int(perennial_years(place(10.0, 20.0), crop).last[1]) == first + 90
    # the week's mean passes 25 degC with the second of seven hot days, five days before they are all hot
    assert cut(40) == 40 - 5
    assert cut(10) == 14
    assert cut(95) == 90


def test_fruit_follows_days_and_warmth_by_half():
    """Printed 100 to 140 days; 120 at 17 degC above 7 are 1,200 degree days. Here 20 degC: 92.3 days of warmth, and so
    the geometric mean of 120 and 92.3: 105. No sooner than 100 and no later than 175."""
    blossom = Blossom(heat_to_bloom=1000.0, bloom_days=4.0, days_to_harvest_low=100.0, days_to_harvest_high=140.0)
    grown = {"base_temperature": 7.0, "upper_threshold": 40.0, "summer_mean_least": 14.0, "summer_mean_best": 20.0}
    crop = plant(blossom=blossom, picked_when="bloom", **grown)

    def days(mean):
        years = perennial_years(place(mean, mean), crop)
        return int(years.first[0] - years.growth[0])

    assert days(20.0) == pytest.approx(np.sqrt(120 * 1200 / 13), abs=1)
    assert days(30.0) == 100
    assert days(17.0) == pytest.approx(120, abs=1)
    assert days(8.0) == 175
    winter = replace(crop, perennial=replace(crop.perennial, picked_when="winter"))
    years = perennial_years(place(20.0, 20.0), winter)
    assert int(years.first[0] - years.growth[0]) == 120  # what hangs into winter goes by the days alone


@BOTH
def test_a_missing_day_leaves_its_growing_year_undecided(latitude):
    site = place(latitude=latitude, low_at=[("2003-07-04", np.nan)])
    years = perennial_years(site, plant())
    assert np.isnan(years.crop[years.years == 2003]).all()
    known = np.isfinite(years.crop)
    assert known.sum() >= years.years.size - 2
    assert (np.isnan(years.alive) == np.isnan(years.crop)).all()


@pytest.mark.parametrize(("latitude", "begin", "days"), [(NORTH, "2001-09-01", 212), (SOUTH, "2001-03-01", 215)])
def test_a_record_that_begins_with_a_growing_year_tells_it_whole(latitude, begin, days):
    """Its first day counts as any other: 24 hours of chill a day from then to a month into spring."""
    cold = np.full(365 * 3, 5.0)
    site = SiteDays(cold, cold, np.datetime64(begin), latitude)
    years = whole_years(site)
    assert years[0] == (2002 if latitude > 0 else 2001)
    assert chill_by_model(site, years)["hours below 7.2"][0] == 24.0 * days
    late = SiteDays(cold, cold, np.datetime64(begin) + 1, latitude)
    assert whole_years(late)[0] == years[0] + 1


def test_a_night_kills_a_tenth_at_its_limit_nine_tenths_at_the_other_and_none_a_degree_above():
    nights = np.array([-0.9, -1.0, -1.5, -2.0, -4.0, -6.0, -6.5, -9.0])
    np.testing.assert_allclose(flowers_killed(nights, -2.0, -6.0), [0, 0, 0.05, 0.1, 0.5, 0.9, 1.0, 1.0])
    np.testing.assert_allclose(flowers_killed(np.array([-2.0, -2.1]), -2.0, -2.0), [0.1, 0.9])  # limits that are one


def hangs(night_after_bloom, least=100.0, most=140.0, loss=1.0):
    blossom = Blossom(heat_to_bloom=1000.0, bloom_days=4.0, days_to_harvest_low=least, days_to_harvest_high=most)
    grown = {"base_temperature": 7.0, "upper_threshold": 40.0, "summer_mean_least": 14.0, "summer_mean_best": 20.0}
    crop = plant(blossom=blossom, picked_when="bloom", killing_fruit=-2.0, fruit_loss=loss, picking_days=50.0, **grown)
    bloom = int(perennial_years(place(), crop).growth[1])
    night = str(BEGIN + bloom + night_after_bloom)
    return perennial_years(place(low_at=[(night, -12.0)]), crop).shares["frost"][1]


def test_fruit_is_lost_to_cold_from_a_month_after_bloom_until_it_is_picked():
    """Cold before the 30th day is the blossom's, after it the fruit's; of fruit ready sooner from a month before."""
    assert hangs(20) == pytest.approx(1.0, abs=1e-3)
    assert hangs(40) == pytest.approx(0.0, abs=1e-3)
    assert hangs(40, loss=0.6) == pytest.approx(0.4, abs=1e-3)
    assert hangs(20, 35.0, 35.0) == pytest.approx(0.0, abs=1e-3)  # from the fifth day on
    assert hangs(400) == pytest.approx(1.0, abs=1e-3)


def test_half_of_a_picking_is_lost_to_cold_in_its_middle():
    """Of five parts, a tenth, three, five, seven and nine of ten through the picking: what still hangs is lost."""
    blossom = Blossom(heat_to_bloom=1000.0, bloom_days=4.0, days_to_harvest_low=100.0, days_to_harvest_high=100.0)
    grown = {"base_temperature": 7.0, "upper_threshold": 40.0, "summer_mean_least": 14.0, "summer_mean_best": 20.0}
    crop = plant(blossom=blossom, picked_when="bloom", killing_fruit=-2.0, picking_days=100.0, **grown)
    first = int(perennial_years(place(), crop).first[1])

    def left(day):
        return perennial_years(place(low_at=[(str(BEGIN + first + day), -12.0)]), crop).shares["frost"][1]

    assert [round(float(left(d)), 2) for d in (5, 20, 40, 60, 80, 95)] == [0.0, 0.2, 0.4, 0.6, 0.8, 1.0]


@BOTH
def test_in_cool_days_autumn_flowers_come_two_months_into_summer(latitude):
    """On the 62nd day after 1 June, 2 August; in the south after 1 December, 1 February."""
    years = perennial_years(place(10.0, 16.0, latitude), plant(picked_when="autumn", autumn_mean=17.0))
    wanted = "08-02" if latitude > 0 else "02-01"
    assert {d[5:] for d in dates(place(latitude=latitude), years.first[:-1])} == {wanted}


def test_of_two_things_that_frost_does_the_worse_counts():
    """A night in winter takes half of the top's nine tenths, one in May half of the growth's half."""
    both = plant(killing_top=-6.0, killing_growing=-2.0)
    site = place(low_at=[("2003-01-20", -6.0), ("2003-05-20", -2.0)])
    assert perennial_years(site, both).shares["frost"][1] == pytest.approx(0.55)
    assert perennial_years(site, both).limits["frost"] == ("perennials", "killing_top")
    late = place(low_at=[("2003-05-20", -20.0)])
    assert perennial_years(late, both).shares["frost"][1] == pytest.approx(0.5, abs=1e-3)
    assert perennial_years(late, both).limits["frost"] == ("perennials", "killing_growing")


def test_crowns_that_are_spared_heat_know_no_spell_of_it():
    high = np.full(365 * 5 + 1, 20.0)
    at = (np.datetime64("2003-07-10") - BEGIN).astype(int)
    high[at : at + 30] = 41.0
    for relief, days in ((0.0, 30), (1.5, 0)):
        site = SiteDays(np.full(high.size, 10.0), high, BEGIN, NORTH, crown_relief=relief)
        assert perennial_years(site, plant(heat_kills=40.0, heat_kill_days=10.0)).figures["hottest spell"][1] == days


@BOTH
def test_winter_kills_until_growth_begins_or_a_month_into_spring(latitude):
    """Leaves come with the first of spring where nothing is told; of a plant that wakes late 30 days more count."""
    late = {"base_temperature": 5.0, "upper_threshold": 30.0, "budburst_thermal_time": 3000.0}
    for grown, before in (({}, 0), (late, 30)):
        crop = plant(killing_dormant=-10.0, **grown)
        spring = int(span_days(place(latitude=latitude), np.array([2003]), "growing")[0][0])
        for day, lives in ((spring + before - 1, 0.0), (spring + before, 1.0)):
            site = place(latitude=latitude, low_at=[(str(BEGIN + day), -30.0)])
            years = perennial_years(site, crop)
            assert years.shares["winter kill"][years.years == 2003] == pytest.approx(lives, abs=1e-6)


@pytest.mark.parametrize(
    ("limit", "date", "most"), [("killing_growing", "2003-05-20", 0.5), ("killing_top", "2003-01-20", 0.9)]
)
@pytest.mark.parametrize(("degrees", "lives"), [(0.7, 0.7311), (-0.7, 0.2689), (-1.4, 0.1192)])
def test_what_frost_takes_falls_off_about_its_limit(limit, date, most, degrees, lives):
    """By a logistic curve of 0.7 degC: 1 / (1 + e) is left that far below, 1 / (1 + e^2) twice as far (judgement)."""
    years = perennial_years(place(low_at=[(date, -5.0 + degrees)]), plant(**{limit: -5.0}))
    assert years.shares["frost"][1] == pytest.approx(1.0 - most * (1.0 - lives), abs=1e-4)


def rainy(mean, rain, loss=0.4):
    """Years of an unsprayed tree on even days; rain in mm a day."""
    even = np.full(365 * 5 + 1, float(mean))
    site = SiteDays(even, even, BEGIN, NORTH, rain=np.broadcast_to(np.asarray(rain, float), even.shape))
    blossom = Blossom(heat_to_bloom=3000.0, bloom_days=4.0, wet_spring_loss=loss)
    return site, perennial_years(site, plant(blossom=blossom, picked_when="bloom"))


def test_days_from_swelling_buds_to_set_fruit_are_counted_for_leaf_curl():
    """Buds swell at six tenths of the heat to bloom, fruit is past it thirty days after: of these days an eighth
    or so (0.12) costs nothing, 0.35 or more two fifths."""
    site, years = rainy(12.0, 0.0)
    bloom, begin = int(years.growth[1]), int(span_days(site, years.years, "cold")[0][1])
    rest = begin + (2 * 181) // 3
    a_day = site.growing_degree_hours[1]
    swell = rest + int(np.ceil(1800.0 / a_day)) - 1
    assert bloom == rest + int(np.ceil(3000.0 / a_day)) - 1
    days = np.arange(swell, bloom + 30)
    assert days.size > 30
    for wet in (0, 5, 8, 12, days.size // 3, days.size):
        rain = np.zeros(365 * 5 + 1)
        rain[days[:wet]] = 3.0
        rain[[swell - 1, bloom + 30]] = 3.0  # before and after
        cost = 0.4 * min(max((wet / days.size - 0.12) / 0.23, 0.0), 1.0)
        assert rainy(12.0, rain)[1].shares["wet spring"][1] == pytest.approx(1.0 - cost), wet
    rain = np.zeros(365 * 5 + 1)
    rain[days] = 2.9
    assert rainy(12.0, rain)[1].shares["wet spring"][1] == 1.0
    rain[days] = np.where(np.arange(days.size) % 2, np.nan, np.where(np.arange(days.size) % 8 == 0, 5.0, 0.0))
    known = days.size - days.size // 2  # of days that are known a fourth is wet
    share = np.ceil(known / 4) / known
    assert rainy(12.0, rain)[1].shares["wet spring"][1] == pytest.approx(1.0 - 0.4 * (share - 0.12) / 0.23)
    assert rainy(15.9, 9.0)[1].shares["wet spring"][1] == pytest.approx(0.6)
    assert rainy(16.0, 9.0)[1].shares["wet spring"][1] == 1.0
    assert "wet spring" not in rainy(12.0, 9.0, loss=0.0)[1].shares
    assert rainy(12.0, 9.0)[1].limits["wet spring"] == ("blossom", "wet_spring_loss")


def in_bloom(days, nights, **limits):
    """Share of a crop left by nights of so many degrees on days after the middle of a bloom of so many days.

    The year is too cold to bring heat but for two days, on which buds swell and, twenty days on, the bloom is at its
    middle: so no night that is tried moves it.
    """
    swell, middle = np.datetime64("2002-03-10"), np.datetime64("2002-03-30")
    warm = [(str(day), 24.0) for day in (swell, middle)]
    cold = [(str(middle + day), degrees) for day, degrees in nights]
    site = place(2.0, 3.0, low_at=warm + cold, high_at=[(day, 25.0) for day, _ in warm])
    blossom = Blossom(heat_to_bloom=600.0, bloom_days=float(days), **limits)
    years = perennial_years(site, plant(blossom=blossom, picked_when="bloom"))
    assert BEGIN + int(years.growth[0]) == middle
    return years.shares["frost on blossom"][0]


def test_flowers_open_in_groups_of_four_days_and_more_and_half_of_them_are_enough():
    """Ten days where none are told, and of twelve three groups: only what is open on a night is lost to it."""
    bloom = {"kill_10_bloom": -2.0, "kill_90_bloom": -6.0}
    assert in_bloom(7, [(-3, -9.0)], **bloom) == 0.0  # one group from the third day before to the third after
    assert in_bloom(7, [(3, -9.0)], **bloom) == 0.0
    assert in_bloom(7, [(4, -9.0), (-4, -9.0)], **bloom) == 1.0
    assert in_bloom(8, [(-4, -9.0)], **bloom) == 1.0  # two groups, of which one is enough
    assert in_bloom(8, [(-4, -9.0), (0, -9.0)], **bloom) == 0.0
    assert in_bloom(8, [(-1, -9.0), (3, -4.0)], **bloom) == pytest.approx(0.5)  # of the second half are left
    for days in (10, np.nan):
        assert in_bloom(days, [(-5, -9.0), (4, -4.0)], **bloom) == pytest.approx(0.5)
        assert in_bloom(days, [(-6, -9.0), (5, -9.0)], **bloom) == 1.0
    assert in_bloom(12, [(-6, -9.0), (-2, -9.0)], **bloom) == pytest.approx(2.0 / 3.0)  # one group of three
    assert in_bloom(12, [(-3, -9.0), (1, -9.0), (5, -9.0)], **bloom) == 0.0
    # eight groups at most: of forty days five each
    nights = [(-5 + 5 * k, -9.0) for k in range(5)]
    assert in_bloom(40, nights, **bloom) == pytest.approx(0.75)
    assert in_bloom(40, [(d + 4, t) for d, t in nights], **bloom) == pytest.approx(0.75)


def test_buds_and_young_fruit_have_limits_of_their_own():
    """Of a bloom of four days: buds until it opens two days before its middle, fruit for thirty days from its end."""
    assert in_bloom(4, [(-3, -4.0)], kill_10_bud=-2.0, kill_90_bud=-6.0) == 1.0  # half are enough
    assert in_bloom(4, [(-3, -5.0)], kill_10_bud=-2.0, kill_90_bud=-6.0) == pytest.approx(0.6)
    assert in_bloom(4, [(-2, -9.0)], kill_10_bud=-2.0, kill_90_bud=-6.0) == 1.0
    young = {"kill_10_fruitlet": -2.0, "kill_90_fruitlet": -6.0}
    assert in_bloom(4, [(1, -9.0)], **young) == 1.0
    assert [in_bloom(4, [(d, -9.0)], **young) for d in (2, 31, 32)] == [0.0, 0.0, 1.0]
    both = {"kill_10_bloom": -2.0, "kill_90_bloom": -6.0, **young}
    assert in_bloom(4, [(0, -4.0), (10, -4.0)], **both) == pytest.approx(0.5)  # half of the half


@pytest.mark.parametrize(("habit", "rest"), [("herb", 49), ("tree", 91), ("shrub", 91), ("vine", 91)])
def test_wood_rests_until_winter_begins_and_a_herb_until_it_has_its_chill(habit, rest):
    """1,200 hours are had on the fiftieth day of autumn; winter begins on 1 December, 91 days into it."""
    need = replace(NEED, need_low=100.0, need_high=1200.0, judged_low=100.0, judged_high=100.0)
    grown = {"base_temperature": 0.0, "upper_threshold": 30.0, "budburst_thermal_time": 5.0}
    site = place(5.0, 5.0)
    years = perennial_years(site, plant(chill=(need,), habit=habit, **grown))
    assert (years.growth - span_days(site, years.years, "cold")[0])[0] == rest


@pytest.mark.parametrize("end", [0.0, 0.3, 1.0])
def test_the_years_at_another_end_of_a_chill_need_are_those_of_the_crop_judged_there(end):
    site = place(5.0, 5.0, low_at=[("2003-06-04", np.nan)])
    crop = plant(
        chill=(replace(NEED, judged_low=4500.0, judged_high=9000.0),), winter_mean_best=2.0, winter_mean_most=7
    )
    there = replace(crop, chill_end=end)
    moved, walked = at_chill_end(perennial_years(site, crop), there), perennial_years(site, there)
    assert list(moved.shares) == list(walked.shares)
    for hazard, share in walked.shares.items():
        np.testing.assert_array_equal(moved.shares[hazard], share)
    np.testing.assert_array_equal(moved.crop, walked.crop)
    assert np.isnan(moved.crop[1])
    assert moved.first.tolist() == walked.first.tolist()
    assert (moved.crop[0] != perennial_years(site, crop).crop[0]) == (end != 0.5)


def test_days_to_harvest_are_those_of_a_season_of_22_degrees_at_most():
    """Printed 120 days; a crop that likes 25 degC is thought of at 22: 15 degree days above 7 a day, 1,800 in all."""
    blossom = Blossom(heat_to_bloom=1000.0, bloom_days=4.0, days_to_harvest_low=80.0, days_to_harvest_high=160.0)

    def days(mean, least, best):
        grown = {"base_temperature": 7.0, "upper_threshold": 40.0, "summer_mean_least": least, "summer_mean_best": best}
        years = perennial_years(place(mean, mean), plant(blossom=blossom, picked_when="bloom", **grown))
        return int(years.first[0] - years.growth[0])

    assert days(27.0, 22.0, 28.0) == int(np.sqrt(120 * (1800 / 20 - 1)))  # ripe on the ninetieth day
    assert days(27.0, 20.0, 24.0) == int(np.sqrt(120 * (1800 / 20 - 1)))
    assert days(27.0, 17.0, 23.0) == int(np.sqrt(120 * (np.ceil(1560 / 20) - 1)))


def test_fruit_that_hangs_into_winter_by_its_own_warmth_is_picked_beyond_the_year():
    """Asked for 6,000 degree days of ten a day it takes 600 days, and half of that by the printed 300: 423."""
    blossom = Blossom(heat_to_bloom=1000.0, bloom_days=4.0, days_to_harvest_low=250.0, days_to_harvest_high=350.0)
    grown = {"base_temperature": 5.0, "upper_threshold": 40.0, "picking_thermal_time": 6000.0}
    years = perennial_years(place(15.0, 15.0), plant(blossom=blossom, picked_when="winter", **grown))
    assert int(years.first[0] - years.growth[0]) == int(np.sqrt(300 * 599)) == 423
    assert years.first[0] > span_days(place(), years.years, "whole")[1][0]
    assert np.isnan(years.crop[-1])  # of the last it is not known when it will be ripe
    assert np.isfinite(years.crop[:-1]).all()


def test_fruit_that_hangs_beyond_its_year_is_known_when_nine_tenths_of_it_are_picked():
    """Picked over a hundred days about New Year: of a record that ends the day before, the year is not decided."""
    blossom = Blossom(heat_to_bloom=1000.0, bloom_days=4.0, days_to_harvest_low=300.0, days_to_harvest_high=300.0)
    crop = plant(blossom=blossom, picked_when="winter", picking_days=100.0, killing_fruit=-2.0)
    years = perennial_years(place(), crop)
    first, year_ends = int(years.first[0]), int(span_days(place(), years.years, "whole")[1][0])
    assert (int(years.last[0]) - first, years.first[0] < year_ends < first + 90) == (100, True)
    assert np.isfinite(perennial_years(place(days=first + 90 + 1), crop).crop[0])
    assert np.isnan(perennial_years(place(days=first + 90), crop).crop[0])
    without = replace(crop, perennial=replace(crop.perennial, killing_fruit=np.nan))  # of what no cold takes
    assert np.isfinite(perennial_years(place(days=first + 90), without).crop[0])


@pytest.mark.parametrize(("mean", "gathered"), [(5.0, 0.0), (10.0, 0.0), (10.5, 107.0), (15.0, 1070.0)])
def test_heat_is_summed_above_ten_degrees_from_april_to_october(mean, gathered):
    years = perennial_years(place(mean, mean), plant(heat_sum_least=100.0, heat_sum_best=1000.0))
    np.testing.assert_allclose(years.figures["heat sum"], gathered)
    np.testing.assert_allclose(years.shares["too slow"], np.clip((gathered - 100.0) / 900.0, 0.0, 1.0))


def test_where_neither_a_spell_nor_a_mean_of_heat_takes_anything_the_mean_is_the_limit():
    crop = plant(summer_mean_best=20.0, summer_mean_most=30.0, heat_kills=40.0, heat_kill_days=10.0, heat_stops=35.0)
    limits = perennial_years(place(), crop).limits
    assert limits["summer kill"] == limits["heat"] == ("perennials", "summer_mean_most")
