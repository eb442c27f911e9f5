"""Days of a site as the engine feels them, each figure reckoned beside it."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from sowcal.climate.soil import soil_temperature
from sowcal.climate.sun import extraterrestrial_radiation
from sowcal.seasons import site_days
from sowcal.seasons.site_days import SiteDays, share_chill_portions
from sowcal.settings import Settings

BEGIN = np.datetime64("2019-01-01")


def site(low, high, latitude=40.0, **more):
    low, high = np.broadcast_arrays(np.asarray(low, dtype=float), np.asarray(high, dtype=float))
    return SiteDays(low.copy(), high.copy(), more.pop("begin", BEGIN), latitude, **more)


def test_days_of_the_year_over_a_leap_year():
    there = site(np.full(1000, 5.0), 15.0)
    for date, day in (
        ("2019-12-31", 364),
        ("2020-02-28", 58),
        ("2020-02-29", 58),
        ("2020-03-01", 59),
        ("2020-12-31", 364),
    ):
        assert there.day_of_year[(np.datetime64(date) - BEGIN).astype(int)] == day
    assert there.dates[there.leap_day].tolist() == [dt.date(2020, 2, 29)]
    assert there.year[[0, 364, 365]].tolist() == [2019, 2019, 2020]
    assert not site(np.full(400, 5.0), 15.0, begin=np.datetime64("1900-01-01")).leap_day.any()
    assert site(np.full(400, 5.0), 15.0, begin=np.datetime64("2000-01-01")).leap_day.any()


@pytest.mark.parametrize(("span", "felt"), [(5.0, 0.0), (6.0, 0.0), (11.0, 0.5), (16.0, 1.0), (20.0, 1.0)])
def test_leaves_are_colder_than_the_air_on_clear_nights(span, felt):
    """Nothing at a daily range of 6 degC, the whole offset at 16; half of it under half of the sky."""
    most = Settings().tissue_offset_most
    assert most > 0
    np.testing.assert_allclose(site(np.full(30, 0.0), span).tissue_minimum, -most * felt)
    np.testing.assert_allclose(site(np.full(30, 0.0), span, sky_share=0.5).tissue_minimum, -0.5 * most * felt)
    covered = site(np.full(30, 0.0), 2.0, open_range=np.full(30, span))
    np.testing.assert_allclose(covered.tissue_minimum, -most * felt)  # by the range of the open site


@pytest.mark.parametrize(("mean", "milder"), [(20.0, 0.0), (14.0, 0.0), (10.0, 1.25), (6.0, 2.5), (0.0, 2.5)])
def test_cool_weather_hardens(mean, milder):
    """From 14 to 6 degC of a fortnight's mean up to 2.5 degC (Levitt 1980, from memory)."""
    there = site(np.full(60, mean - 2.0), mean + 2.0)
    np.testing.assert_allclose(there.hardened_minimum - there.tissue_minimum, milder)


def test_means_of_a_month_and_a_fortnight_lie_about_their_day():
    low = np.zeros(101)
    low[50] = 31.0
    there = site(low, low + 2.0)
    month, fortnight = there.month_mean - 1.0, there.fortnight_mean - 1.0
    np.testing.assert_allclose(np.flatnonzero(month > 0.5), np.arange(35, 66))
    np.testing.assert_allclose(month[35:66], 1.0)
    np.testing.assert_allclose(np.flatnonzero(fortnight > 0.5), np.arange(43, 58))
    np.testing.assert_allclose(fortnight[50], 31.0 / 15.0, atol=1e-3)
    np.testing.assert_allclose(there.tas, low + 1.0)


def test_at_the_ends_of_a_record_means_are_of_fewer_days():
    """Of 16 days and of 8 at either end; the first day and the last are of them."""
    low = np.zeros(60)
    low[[0, 59]] = 32.0, 64.0
    there = site(low, low + 2.0)
    np.testing.assert_allclose(
        there.month_mean[[0, 15, 16, 43, 44, 59]] - 1.0, [2, 32 / 31, 0, 0, 64 / 31, 4], atol=1e-4
    )
    np.testing.assert_allclose(
        there.fortnight_mean[[0, 7, 8, 51, 52, 59]] - 1.0, [4, 32 / 15, 0, 0, 64 / 15, 8], atol=1e-4
    )


def test_six_points_of_a_day_lie_on_the_sine_of_the_soil():
    """At 15, 45, 75, 105, 135 and 165 degrees of its half turn from the warmest to the coldest, in tenths."""
    there = site(np.full(60, 10.0), 24.0)
    mean, amplitude = (float(x[40]) for x in soil_temperature(there.tasmin, there.tasmax, depth=2.0, surface="bare"))
    assert amplitude > 2.0
    found = there.soil_tenths(2.0, "bare")[40]
    turned = np.cos(np.radians([15, 45, 75, 105, 135, 165]))
    assert np.abs(found / 10.0 - (mean + amplitude * turned)).max() <= 0.05 + 1e-9


def test_counts_of_days_above_and_below():
    there = site(np.array([0.0, 2.0, 4.0, 2.0]), np.array([10.0, 12.0, 14.0, 16.0]))
    assert there.days_above("tasmax", 12.0).tolist() == [0, 0, 0, 1, 2]
    assert there.days_above("tasmin", 1.9).tolist() == [0, 0, 1, 2, 3]
    assert there.days_below("tasmin", 2.0).tolist() == [0, 1, 1, 1, 1]
    assert there.days_below("tas", 9.0).tolist() == [0, 1, 2, 2, 2]


@pytest.mark.parametrize(("after", "counts"), [(17.0, 1.0), (18.0, 1.0), (23.0, 0.5), (28.0, 0.0), (30.0, 0.0)])
def test_a_warm_day_makes_a_chilled_night_good(after, counts):
    there = site(np.array([5.0, 5.0, 8.0]), after)
    assert there.chilled_nights(8.0).tolist() == pytest.approx([0.0, counts, 2 * counts, 2 * counts])


def test_the_next_day_on_which_tissue_falls_below_a_limit():
    low = np.full(60, 5.0)
    low[[20, 40]] = -3.0, -1.0
    there = site(low, low + 4.0)
    assert there.next_tissue_below(-2.0, hardens=False)[[0, 20, 21]].tolist() == [20, 20, 60]
    assert there.next_tissue_below(-1.0, hardens=False)[[0, 21]].tolist() == [20, 60]  # at the limit is not below it
    assert there.next_tissue_below(-2.0, hardens=True)[0] == 60  # at 7 degC in the mean they bear 2.2 degC more


def test_a_week_is_hot_whose_mean_lies_above_a_limit():
    """Of seven days from the tenth on at 37 degC; a week that the record does not hold whole is none."""
    high = np.full(40, 30.0)
    high[10:17] = 37.0
    there = site(high - 10.0, high)
    week = there.next_hot_week(36.0)
    assert week[[0, 10, 11, 39, 40]].tolist() == [10, 10, 40, 40, 40]
    assert there.next_hot_week(35.9)[11] == 11  # six days of 37 and one of 30 are 36 degC
    assert there.next_hot_week(37.0)[0] == 40  # at the limit is not above it
    assert there.next_hot_week(29.0)[[0, 33, 34]].tolist() == [0, 33, 40]  # the last whole week begins on the 34th day
    assert site(high[:5] - 10.0, high[:5]).next_hot_week(29.0).tolist() == [5] * 6


def test_degree_days_less_for_want_of_light_and_in_heat():
    """Ten above the base a day; with half of the light five; above the best less, never below three tenths."""
    there = site(np.full(40, 10.0), 20.0)
    plain = there.thermal_time(5.0, 40.0, np.nan)
    np.testing.assert_allclose(np.diff(plain), 10.0)
    light = there.solar_radiation
    need = 2.0 * light[20]
    np.testing.assert_allclose(np.diff(there.thermal_time(5.0, 40.0, need))[20], 5.0)
    np.testing.assert_allclose(np.diff(there.thermal_time(5.0, 40.0, 0.5 * light.min())), 10.0)
    np.testing.assert_allclose(np.diff(there.light_share(need))[20], 0.5)
    for best, most, left in ((15.0, 20.0, 1.0), (12.0, 15.0, 0.5), (13.0, 17.0, 0.75), (5.0, 8.0, 0.3)):
        np.testing.assert_allclose(np.diff(there.thermal_time(5.0, 40.0, np.nan, best, most)), 10.0 * left)


def test_light_is_measured_where_it_is_and_shared_under_cloth():
    plain = site(np.full(60, 10.0), 22.0)
    cloth = site(np.full(60, 10.0), 22.0, light_share=0.6)
    np.testing.assert_allclose(cloth.solar_radiation, 0.6 * plain.solar_radiation)
    np.testing.assert_allclose(cloth.growing_light, 0.6 * plain.growing_light)
    measured = np.where(np.arange(60) < 30, 20.0, np.nan)
    told = site(np.full(60, 10.0), 22.0, measured_light=measured)
    np.testing.assert_allclose(told.solar_radiation[:22], 20.0)
    np.testing.assert_allclose(told.growing_light[:22], 20.0)
    np.testing.assert_allclose(told.growing_light[40:], plain.growing_light[40:], rtol=1e-6)
    assert (site(np.full(60, 10.0), 22.0, coast=True).solar_radiation > plain.solar_radiation).all()


@pytest.mark.parametrize("latitude", [40.0, -40.0])
def test_light_is_estimated_from_the_range_over_a_fortnight(latitude):
    """0.16 times the root of 9 degC of what reaches the top of the air (FAO-56 eq. 50), seven days to either side; by
    halves with half of that top for what seasons are weighed by."""
    there = site(np.full(365, 10.0), 19.0, latitude)
    top = extraterrestrial_radiation(latitude, np.arange(1, 366))
    for day in (0, 100, 171, 250, 364):
        about = slice(max(day - 7, 0), day + 8)
        estimated = 0.16 * 3.0 * top[about].mean()
        assert there.solar_radiation[day] == pytest.approx(estimated, rel=1e-6)
        assert there.growing_light[day] == pytest.approx(0.5 * (estimated + 0.5 * top[day]), rel=1e-6)


def test_seasons_are_walked_from_every_day_or_from_the_middle_one_of_some():
    for every, first in ((1, [0, 1, 2]), (2, [1, 3, 5]), (3, [1, 4, 7]), (5, [2, 7, 12])):
        there = site(np.full(730, 10.0), 20.0, settings=Settings(every=every))
        assert there.starts[:3].tolist() == first
        assert (there.starts[there.starts >= 365] - 365)[:3].tolist() == first  # the same days in every year
        assert there.every_day.starts.tolist() == list(range(730))
        assert there.every_day.every_day is there.every_day
        nearest = there.of_nearest(there.starts)
        assert np.abs(nearest - np.arange(730))[5:360].max() <= every // 2


def test_a_stretch_of_the_year_that_no_year_covers_stands_in_by_the_mean_of_all_days():
    low = np.where(np.arange(365) < 180, 0.0, 12.0)
    low[100:140] = np.nan
    there = site(low, low + 8.0)
    assert np.isfinite(there.tasmin).all()
    mean = 185 * 12.0 / (365 - 26)  # the seven days at either end of it are known by their fortnight
    assert there.tasmin[[107, 120, 132]].tolist() == pytest.approx([mean] * 3)
    assert there.tasmax[120] == pytest.approx(mean + 8.0)
    assert there.tasmin[[100, 139]].tolist() == [0.0, 0.0]
    assert there.missing.sum() == 40


def test_north_and_south_have_the_same_day_half_a_year_apart():
    north = site(np.full(365, 10.0), 20.0)
    south = site(np.full(365, 10.0), 20.0, -40.0)
    assert north.day_length[171] == pytest.approx(south.day_length[354], abs=0.01)
    assert north.day_length[171] > 14.5 > 9.8 > south.day_length[171]


def test_a_month_about_a_span_must_be_known_whole():
    low = np.full(200, 5.0)
    low[100] = np.nan
    there = site(low, 15.0)
    i = np.array([0, 15 - 1, 15, 60, 100 - 15, 100 - 15 - 6, 100 + 15, 100 + 15 + 1, 150])
    j = i + 5
    assert there.whole_between(i, j).tolist() == [False, False, True, True, False, True, False, True, True]
    first = site(np.where(np.arange(200) == 0, np.nan, 5.0), 15.0)
    assert first.whole_between(np.array([15, 16]), np.array([20, 20])).tolist() == [False, True]  # its first day lacks
    end = np.array([200 - 15 - 1, 200 - 15])
    assert there.whole_between(np.array([150, 150]), end).tolist() == [True, False]
    assert there.touches_missing(np.array([95, 100, 101, 99]), np.array([100, 101, 105, 100])).tolist() == [
        False, True, False, False,
    ]  # fmt: skip


def test_what_is_missing_stands_in_by_its_day_of_the_year():
    low = np.tile(np.arange(365.0) / 10.0, 3)
    low[365 + 100] = np.nan
    there = site(low, low + 10.0)
    assert there.missing.sum() == 1
    assert there.tasmin[365 + 100] == pytest.approx(10.0, abs=0.6)
    assert there.missing_before[[465, 466]].tolist() == [0.0, 1.0]


def test_soil_is_held_to_what_can_be_and_told_in_tenths():
    there = site(np.full(60, 10.0), 20.0)
    tenths = there.soil_tenths(3.0, "wet")
    assert tenths.shape == (60, 6)
    assert 100 <= tenths.min() < tenths.max() <= 200
    assert there.coldest_soil(np.array([5]), np.array([20]))[0] == pytest.approx(tenths.min() / 10.0)
    assert site(np.full(60, 90.0), 95.0).soil_tenths(3.0, "wet").max() == 690
    assert site(np.full(60, -90.0), -80.0).soil_tenths(3.0, "wet").min() == -490


def test_the_coldest_night_of_a_span():
    low = np.arange(30.0)
    there = site(low, low + 4.0)
    assert there.coldest_air(np.array([3, 10]), np.array([5, 20])).tolist() == [3.0, 10.0]
    assert there.coldest_tissue(np.array([3]), np.array([5]))[0] == there.tissue_minimum[3]
    assert there.coldest_hardened(np.array([3]), np.array([5]))[0] == there.hardened_minimum[3:5].min()


def test_chill_of_sites_side_by_side_is_that_of_each(monkeypatch):
    wave = np.cos(2 * np.pi * np.arange(1100) / 365.25)
    lows = [6.0 - (7.0 + k) * wave + k for k in range(3)]
    lows[1] = np.where(np.arange(1100) % 97 == 0, np.nan, lows[1])

    def sites():
        return [SiteDays(low, low + 9.0 + k, np.datetime64("2001-01-01"), -38.0) for k, low in enumerate(lows)]

    alone, beside = [site.chill("portions") for site in sites()], sites()
    share_chill_portions(beside)
    monkeypatch.setattr(site_days, "chill_portions", lambda *a, **k: pytest.fail("it is kept"))
    for one, site in zip(alone, beside, strict=True):
        np.testing.assert_array_equal(site.chill("portions"), one)
    assert len({one[-1] for one in alone}) == 3
    assert min(one[-1] for one in alone) > 50.0
