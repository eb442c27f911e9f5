"""Folding a record to days of the year and summing over the years, held against loops over dates and days."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from sowcal.seasons.season import HAZARDS, Seasons
from sowcal.seasons.site_days import SiteDays
from sowcal.settings import Settings
from sowcal.suitability.windows import Fold, by_day, circular_mean, odds_of_yield

FIRST, LAST = date(2003, 11, 20), date(2009, 2, 10)  # two leap years, 2004 and 2008; two years of which some lack
DAYS = [FIRST + timedelta(n) for n in range((LAST - FIRST).days + 1)]


def site(success=0.4):
    t = np.arange(len(DAYS))
    low = 8.0 - 7.0 * np.cos(2 * np.pi * t / 365.25)
    return SiteDays(low, low + 9.0, np.datetime64(FIRST), 40.0, Settings(least_yield=success))


def day_of_year(day):
    """0 to 364 by the calendar of a year without 29 February; None for that day itself."""
    if (day.month, day.day) == (2, 29):
        return None
    return (date(2001, day.month, day.day) - date(2001, 1, 1)).days


def test_each_day_stands_in_its_year_and_place():
    values = np.random.default_rng(1).normal(size=len(DAYS))
    fold = Fold.of(site())
    got = fold(values)
    expected = np.full((7, 365), np.nan)
    for n, day in enumerate(DAYS):
        if day_of_year(day) is not None:
            expected[day.year - 2003, day_of_year(day)] = values[n]
    np.testing.assert_array_equal(got, expected)
    assert fold.years.tolist() == [2003, 2004, 2005, 2006, 2007, 2008, 2009]
    assert np.isnan(got).sum() == (date(2003, 11, 20) - date(2003, 1, 1)).days + (date(2010, 1, 1) - LAST).days - 1


def test_whole_years_lack_nothing():
    plain = SiteDays(np.zeros(730), np.full(730, 9.0), np.datetime64("2005-01-01"), 40.0)
    fold = Fold.of(plain)
    assert fold.lacking is None
    np.testing.assert_array_equal(fold(np.arange(730)), np.arange(730.0).reshape(2, 365))


def plain_mean(x, width):
    """Mean of the values that are not NaN among `width` about each day, round the year."""
    out = []
    for d in range(len(x)):
        near = [x[(d + k) % len(x)] for k in range(-(width // 2), width // 2 + 1)]
        near = [v for v in near if v == v]
        out.append(sum(near) / len(near) if near else np.nan)
    return np.array(out)


@pytest.mark.parametrize("width", [3, 7, 15])
@pytest.mark.parametrize("holes", [(), (0,), (3, 4, 5, 364), range(100, 130)])
def test_running_mean_round_the_year(width, holes):
    x = np.random.default_rng(width).normal(5.0, 2.0, (3, 365))
    x[1, list(holes)] = np.nan
    x[2, list(holes)] = np.inf  # is not known either
    got = circular_mean(x, width)
    known = np.where(np.isinf(x), np.nan, x)
    np.testing.assert_allclose(got, [plain_mean(row.tolist(), width) for row in known], rtol=1e-9)
    for row, values in zip(x, got, strict=True):
        np.testing.assert_allclose(circular_mean(row, width), values, rtol=1e-9)


def random_seasons(seed):
    """Outcomes of every start day, undecided ones and stretches of the year with none, one, two and three years."""
    rng = np.random.default_rng(seed)
    size = len(DAYS)
    fraction = rng.choice([0.0, 0.2, 0.399, 0.4, 0.7, 1.0], size)
    fraction[rng.random(size) < 0.1] = np.nan
    for n, day in enumerate(DAYS):
        place = day_of_year(day) or 0
        if 150 <= place < 190 and day.year >= 2004 + (place - 150) // 10:  # 0 to 3 years are decided
            fraction[n] = np.nan
        if 250 <= place < 265:  # nothing works, so that no day of picking is known
            fraction[n] = 0.2
        if 300 <= place < 320 and day.year < 2009:  # all works
            fraction[n] = 0.7
    hazard = rng.integers(-1, len(HAZARDS), size)
    first = np.arange(size) + rng.integers(20, 90, size)
    return Seasons(fraction, first, first + rng.integers(0, 60, size), hazard, rng.integers(10, 60, size).astype(float))


@pytest.mark.parametrize("seed", range(2))
def test_sums_over_the_years_are_those_of_a_loop(seed):
    here, outcome = site(), random_seasons(seed)
    found = by_day(here, Fold.of(here), outcome)
    share, worth, wait = (np.full(365, np.nan) for _ in range(3))
    lost = np.full((len(HAZARDS), 365), np.nan)
    decided = np.zeros(365, int)
    at = [[] for _ in range(365)]
    for n, day in enumerate(DAYS):
        if day_of_year(day) is not None:
            at[day_of_year(day)].append(n)
    for place in range(365):
        starts = at[place]
        for year in range(2003, 2010):
            (n,) = [n for n in starts if DAYS[n].year == year] or [None]
            row = found.success[year - 2003, place], found.first[year - 2003, place], found.last[year - 2003, place]
            if n is None:
                assert np.isnan(row).all()
                continue
            y = outcome.yield_fraction[n]
            assert row[0] == (y >= 0.4) if y == y else np.isnan(row[0])
            assert row[1:] == (outcome.first[n] - n, outcome.last[n] - n)
            assert found.raised[year - 2003, place] == outcome.raised_days[n]
            np.testing.assert_equal(found.yield_fraction[year - 2003, place], y)
        starts = [n for n in starts if outcome.yield_fraction[n] == outcome.yield_fraction[n]]
        decided[place] = len(starts)
        if not starts:
            continue
        good = [n for n in starts if outcome.yield_fraction[n] >= 0.4]
        # each season's share of sorts and hands: the sixth power of its yield against that of the least
        odds = {
            n: y**6 / (y**6 + 0.4**6) if y >= 0.2 else 0.0 for n in starts for y in [float(outcome.yield_fraction[n])]
        }
        share[place] = sum(odds.values()) / len(starts)
        worth[place] = sum(outcome.yield_fraction[n] for n in starts) / len(starts)
        wait[place] = sum(outcome.first[n] - n for n in good) / len(good) if good else np.nan
        for k in range(len(HAZARDS)):
            by_it = [n for n in starts if outcome.hazard[n] == k and odds[n] < 0.9]
            lost[k, place] = sum(1 - odds[n] for n in by_it) / len(starts)
    assert {0, 1, 2, 3, 4} <= set(decided.tolist())
    assert found.decided.tolist() == decided.tolist()
    assert found.years.tolist() == list(range(2003, 2010))
    enough = decided >= 3
    np.testing.assert_allclose(found.reliability, np.where(enough, plain_mean(share, 7), np.nan), rtol=1e-9)
    np.testing.assert_allclose(found.mean_yield, np.where(enough, plain_mean(worth, 7), np.nan), rtol=1e-9)
    np.testing.assert_allclose(found.duration, plain_mean(wait, 7), rtol=1e-9)
    assert np.isnan(found.duration[253:262]).all()
    for k in range(len(HAZARDS)):
        np.testing.assert_allclose(found.hazard_share[k], plain_mean(lost[k], 7), rtol=1e-9, atol=1e-12)
    assert (found.reliability[303:317] < 1.0).all()  # a full crop of the middle sort is not one of every sort


def test_odds_of_a_season_are_a_drawn_sorts():
    """Half where the middle sort just brings the least yield, alike in ratio above and below, and never quite sure."""
    yields = np.array([0.24, 0.25, 0.3, 0.5, 1.0, np.nan])
    odds = odds_of_yield(yields, 0.5)
    assert odds[3] == 0.5
    assert odds[1] + odds[4] == pytest.approx(1.0)
    assert (np.diff(odds[:5]) > 0).all()
    assert odds[0] == 0.0
    assert 0.98 < odds[4] < 1.0
    assert np.isnan(odds[5])


def test_a_yield_drawn_about_the_middle_meets_the_least_as_often_as_told():
    """Against draws of the curve itself: the logarithm of yield spreads by a logistic law of scale 1/6 (sd 0.30)."""
    draws = np.random.default_rng(5).logistic(0.0, 1.0 / 6.0, 200_000)
    assert np.std(draws) == pytest.approx(0.30, abs=0.01)
    for middle in (0.4, 0.6, 0.9):
        assert odds_of_yield(np.array([middle]), 0.5)[0] == pytest.approx(
            np.mean(middle * np.exp(draws) >= 0.5), abs=0.005
        )


def test_without_a_nursery_nothing_is_raised():
    here = site()
    assert by_day(here, Fold.of(here), replace(random_seasons(0), raised_days=None)).raised is None
