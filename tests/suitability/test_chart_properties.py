"""Properties of whole charts: hemispheres, leap years, missing days, records that end."""

import numpy as np
import pytest

from sowcal.crops.handbook import handbook
from sowcal.seasons.season import seasons
from sowcal.seasons.site_days import REACH, SiteDays
from sowcal.settings import Settings
from sowcal.suitability.annuals import crop_seasons

BOOK = handbook()
NO_GATES = ["tomato (large)", "courgette", "sweet corn", "pea (shelling)", "french bean (bush)"]
GATES = ["onion (short-day)", "garlic (softneck)", "lettuce (head)", "beetroot"]


def made_up_weather(days=20 * 365 + 5, seed=3):
    """Twenty years of a mild-wintered, hot-summered place, noise and all; midwinter falls on day 10."""
    rng = np.random.default_rng(seed)
    t = np.arange(days)
    mean = 16.5 - 8.5 * np.cos(2 * np.pi * (t - 15) / 365.25)
    noise = np.convolve(rng.normal(size=days + 4), np.ones(5) / 2, "valid")
    spread = 5 + 1.5 * np.sin(2 * np.pi * (t - 100) / 365.25)
    return mean + noise - spread, mean + noise + spread


def windows(tasmin, tasmax, first_day, latitude, names, settings=None):
    site = SiteDays(tasmin, tasmax, np.datetime64(first_day), latitude, settings)
    return crop_seasons(site, [BOOK[n] for n in names])


def apart(a, b):
    """Days between two days of the year, the short way round."""
    return abs((a - b + 182) % 365 - 182)


@pytest.mark.parametrize(("names", "within"), [(NO_GATES, 2), (GATES, 5)], ids=["no gates", "gates"])
def test_a_record_shifted_half_a_year_south_gives_the_shifted_chart(names, within):
    """The same weather half a year later on the other hemisphere.

    Half a year is 182 or 183 days and the day length of the two hemispheres is not quite the same, hence a few
    days' leave.
    """
    tasmin, tasmax = made_up_weather()
    north = windows(tasmin, tasmax, "2000-01-01", 37.0, names)
    south = windows(tasmin, tasmax, "2000-07-02", -37.0, names)
    compared = 0
    for a, b in zip(north, south, strict=True):
        for start_a, start_b in zip(a.starts, b.starts, strict=True):
            assert len(start_a.possible) == len(start_b.possible), (a.crop, start_a.way)
            for x in start_a.possible:
                moved = ((x.start + 182) % 365, (x.end + 182) % 365)
                near = min(start_b.possible, key=lambda w: apart(w.start, moved[0]))
                if (x.end - x.start) % 365 == 364:  # all year has no edges
                    assert (near.end - near.start) % 365 == 364
                    continue
                assert apart(near.start, moved[0]) <= within, (a.crop, start_a.way)
                assert apart(near.end, moved[1]) <= within, (a.crop, start_a.way)
                compared += 1
    assert compared >= 4


def test_the_day_the_record_begins_does_not_matter():
    """Dropping the first hundred days moves no window by more than the years it loses can."""
    tasmin, tasmax = made_up_weather()
    whole = windows(tasmin, tasmax, "2000-01-01", 37.0, ["tomato (large)"])[0].starts[0].possible
    later = windows(tasmin[100:], tasmax[100:], "2000-04-10", 37.0, ["tomato (large)"])[0].starts[0].possible
    assert [abs(a.start - b.start) <= 3 and abs(a.end - b.end) <= 3 for a, b in zip(whole, later, strict=True)]


def test_a_season_that_runs_off_the_record_is_undecided_not_failed():
    tasmin, tasmax = made_up_weather()
    site = SiteDays(tasmin, tasmax, np.datetime64("2000-01-01"), 37.0)
    crop = BOOK["courgette"]
    outcome = seasons(site, crop, crop.ways[0])
    assert np.isnan(outcome.yield_fraction[-20:]).all()
    assert np.isnan(outcome.yield_fraction[:REACH]).all()  # the month about the first days is not known whole
    assert np.isfinite(outcome.yield_fraction[REACH:3000]).all()


def test_a_season_that_touches_a_missing_day_is_undecided():
    tasmin, tasmax = made_up_weather()
    hole = 1000
    tasmin[hole] = np.nan
    site = SiteDays(tasmin, tasmax, np.datetime64("2000-01-01"), 37.0)
    crop = BOOK["radish"]
    outcome = seasons(site, crop, crop.ways[0])
    undecided = REACH + np.flatnonzero(np.isnan(outcome.yield_fraction[REACH:2000]))
    assert undecided.size
    assert undecided.max() == hole + REACH  # the mean of the month about a start looks back so far
    assert (np.diff(undecided) == 1).all()
    assert hole - undecided.min() < 150


def test_a_leap_year_loses_nothing():
    """Starts around 29 February follow one another without a break in any year."""
    tasmin, tasmax = made_up_weather()
    site = SiteDays(tasmin, tasmax, np.datetime64("2000-01-01"), 37.0)
    assert site.leap_day.sum() == 5
    outcome = seasons(site, BOOK["lettuce (leaf)"], BOOK["lettuce (leaf)"].ways[0])
    first = outcome.first[40:80]
    assert (np.diff(first) >= 0).all()
    assert (np.diff(first) <= 3).all()


def test_stricter_odds_never_widen_the_windows():
    tasmin, tasmax = made_up_weather()
    names = NO_GATES + GATES

    def days(reliability):
        lines = windows(
            tasmin, tasmax, "2000-01-01", 37.0, names, Settings(reliability=reliability, near_best=0.01, longest=9.0)
        )
        return sum((w.end - w.start) % 365 + 1 for line in lines for s in line.starts for w in s.windows)

    assert days(0.6) >= days(0.8) >= days(0.95)


def test_first_pickings_by_year_are_those_of_the_seasons():
    """Each year's day is found again by walking that year's start alone; no share is above one."""
    tasmin, tasmax = made_up_weather()
    site = SiteDays(tasmin, tasmax, np.datetime64("2000-01-01"), 37.0)
    crop = BOOK["courgette"]
    outcome = seasons(site, crop, crop.ways[0])
    start = crop_seasons(site, [crop])[0].starts[0]
    assert np.nanmax(start.reliability) <= 1.0
    seen = 0
    for window in start.possible:
        assert window.reliability <= 1.0
        for year, day in window.first_pickings:
            at = np.flatnonzero((site.year == year) & (site.day_of_year == window.best) & ~site.leap_day)[0]
            assert (day is not None) == (outcome.yield_fraction[at] >= site.settings.least_yield)
            if day is not None:
                assert day == (window.best + int(outcome.first[at] - at)) % 365
                seen += 1
    assert seen > 10
