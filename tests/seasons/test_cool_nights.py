"""Chilled nights that a warm day makes good, and flowers that wait for a milder night.

The limits are the module's own (judgement); what is checked is that they are used as said, and the way it goes:
chilled fruit of cucumber warmed now and then pits less than fruit held cold (Cabrera & Saltveit, abstract), and
flowers of tomato cling through some cold nights.
"""

from dataclasses import replace

import numpy as np
import pytest

from sowcal.crops.handbook import handbook
from sowcal.seasons.flowering import daily_setting
from sowcal.seasons.season import seasons
from sowcal.seasons.site_days import SiteDays


def site(tasmin, tasmax):
    """A year of days of an invented place."""
    night, day = (np.broadcast_to(np.asarray(x, dtype=float), 365) for x in (tasmin, tasmax))
    return SiteDays(night, day, np.datetime64("2001-01-01"), 38.0)


@pytest.mark.parametrize(("day", "left"), [(15.0, 1.0), (18.0, 1.0), (23.0, 0.5), (28.0, 0.0), (35.0, 0.0)])
def test_a_warm_day_makes_the_night_good(day, left):
    assert site(6.0, day).chilled_nights(9.0)[-1] == pytest.approx(365 * left)


def test_no_night_at_the_limit_counts():
    assert site(9.0, 15.0).chilled_nights(9.0)[-1] == 0


def test_a_flower_waits_for_the_best_of_its_days():
    tomato = handbook()["tomato (large)"]
    assert tomato.flowering.flower_days == 3
    nights = np.full(365, 8.0)
    nights[100] = 14.0
    waiting = daily_setting(site(nights, 24.0), tomato.flowering, tomato.cold.killing_flower).share
    np.testing.assert_array_equal(np.flatnonzero(waiting), [98, 99, 100])
    brief = replace(tomato.flowering, flower_days=float("nan"))
    at_once = daily_setting(site(nights, 24.0), brief, tomato.cold.killing_flower).share
    np.testing.assert_array_equal(np.flatnonzero(at_once), [100])


def test_no_flower_waits_for_a_cooler_day():
    """Heat spoils pollen before a flower opens, so the day itself counts."""
    tomato = handbook()["tomato (large)"]
    tasmax = np.full(365, 42.0)
    tasmax[100] = 28.0
    share = daily_setting(site(18.0, tasmax), tomato.flowering, tomato.cold.killing_flower).share
    np.testing.assert_array_equal(np.flatnonzero(share), [100])


def test_a_courgette_does_not_bear_again_after_a_winter_without_frost():
    """An invented cool coast, means of months from 9 to 17 degC: set out in summer, picked out by winter."""
    day = np.arange(4 * 365)
    mean = 13.0 - 4.5 * np.cos(2 * np.pi * (day - 15) / 365)
    coast = SiteDays(mean - 4.0, mean + 5.0, np.datetime64("2001-01-01"), 43.0)
    crop = handbook()["courgette"]
    found = seasons(coast, crop, next(w for w in crop.ways if w.way == "set out"))
    late = np.flatnonzero((day % 365 == 200) & (found.yield_fraction > 0.3))
    assert late.size >= 2
    assert np.all(found.last[late] - late < 150)
