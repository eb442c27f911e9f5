"""Windows from made-up shares of years: gaps, minima, runs over New Year."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from sowcal.seasons.season import HAZARDS
from sowcal.seasons.settings import Settings
from sowcal.suitability.by_day import ByDay, circular_mean
from sowcal.suitability.windows import (
    outside_runs,
    possible_windows,
    recommended_windows,
    runs,
    seasons_of_year,
    share_interval,
)

YEARS = 30


def found(reliability, worth, duration=None, hazard=2):
    """A crop's folded outcome of which each day has that reliability and mean yield."""
    reliability = np.asarray(reliability, float)
    order = (np.arange(YEARS)[:, None] + 0.5) / YEARS
    success = (order < reliability).astype(float)
    lost = np.zeros((len(HAZARDS), 365))
    lost[hazard] = 1 - reliability
    return ByDay(
        years=1991 + np.arange(YEARS),
        yield_fraction=success * worth,
        success=success,
        reliability=reliability,
        mean_yield=np.asarray(worth, float),
        duration=np.full(365, 60.0) if duration is None else duration,
        decided=np.full(365, YEARS),
        hazard_share=lost,
        first=np.full((YEARS, 365), 60.0),
        last=np.full((YEARS, 365), 90.0),
        raised=None,
    )


def bump(centre, width, height):
    away = np.abs((np.arange(365) - centre + 182) % 365 - 182)
    return height * np.clip(1 - away / width, 0, 1)


@given(hnp.arrays(bool, 365))
def test_runs_cover_the_mask_and_nothing_else(mask):
    back = np.zeros(365, bool)
    for a, b in runs(mask):
        back[(a + np.arange((b - a) % 365 + 1)) % 365] = True
    assert (back == mask).all()


def test_a_run_over_new_year_ends_before_it_starts():
    mask = np.zeros(365, bool)
    mask[350:] = mask[:10] = True
    assert runs(mask) == [(350, 9)]


def test_an_autumn_season_is_not_lost_because_spring_is_better():
    worth = bump(80, 40, 1.0) + bump(240, 40, 0.62)
    f = found(np.where(worth > 0.45, 1.0, 0.0), worth)
    windows = recommended_windows(f, Settings())
    assert len(windows) == 2
    assert abs(windows[0].best - 80) < 5
    assert abs(windows[1].best - 240) < 5
    assert windows[1].yield_fraction == pytest.approx(0.62, abs=0.03)


def test_two_seasons_that_touch_are_parted_at_their_minimum():
    worth = np.maximum(bump(80, 120, 1.0), bump(240, 120, 0.9))
    parts = seasons_of_year(worth > 0.1, worth)
    assert len(parts) == 2
    assert abs(parts[0][-1] - 160) < 10


def test_recommended_starts_lie_within_possible_ones_and_meet_the_odds():
    worth = bump(100, 60, 1.0)
    f = found(np.clip(worth * 1.5, 0, 1), worth)
    possible, windows = possible_windows(f), recommended_windows(f, Settings(risk=0.9))
    assert len(possible) == len(windows) == 1
    assert possible[0].start <= windows[0].start <= windows[0].best <= windows[0].end <= possible[0].end
    assert f.reliability[windows[0].start] >= 0.9
    assert f.reliability[possible[0].start] >= 0.5


def test_a_start_that_holds_the_bed_too_long_is_not_recommended():
    duration = np.where(np.arange(365) < 120, 150.0, 60.0)
    worth = np.where((np.arange(365) > 90) & (np.arange(365) < 150), 1.0, 0.0)
    (window,) = recommended_windows(found(worth, worth, duration), Settings(longest=1.5))
    assert window.start >= 119


def test_what_stops_it_elsewhere_is_named():
    worth = bump(100, 60, 1.0)
    (outside,) = outside_runs(found(np.where(worth > 0, 1.0, 0.1), worth, hazard=HAZARDS.index("heat")))
    assert outside.hazard == "heat"
    assert outside.share_of_years == pytest.approx(0.9, abs=0.02)


def test_interval_of_a_share():
    """Wilson interval: 24 of 30 gives 0.63 to 0.90 (hand calculation from the formula)."""
    low, high = share_interval(24, 30)
    assert low == pytest.approx(0.627, abs=0.002)
    assert high == pytest.approx(0.905, abs=0.002)
    assert share_interval(0, 0) == (0.0, 1.0)


@given(hnp.arrays(float, 365, elements=st.floats(0, 1)), st.integers(0, 364))
def test_the_year_has_no_beginning(x, turn):
    np.testing.assert_allclose(circular_mean(np.roll(x, turn), 7), np.roll(circular_mean(x, 7), turn), atol=1e-9)


def test_edges_carry_the_spread_of_the_years():
    """With 30 years a share of 0.8 is known to about 0.14 either way (binomial), and the edge moves with it."""
    share = np.clip(1.4 * bump(150, 90, 1.0), 0, 1)
    rng = np.random.default_rng(5)
    f = found(share, np.where(share > 0, 1.0, 0.0))
    f = replace(f, success=(rng.random((YEARS, 1)) < share).astype(float))
    f = replace(f, reliability=f.success.mean(axis=0))
    (window,) = recommended_windows(f, Settings(longest=99, edge_draws=200))
    low, high = window.start_interval
    assert low <= window.start <= high
    assert 3 <= (high - low) % 365 <= 40
    low, high = window.end_interval
    assert low <= window.end <= high
    assert recommended_windows(f, Settings(longest=99))[0].start_interval is None


def test_first_pickings_name_every_decided_year_once():
    """Twenty years of thirty work; 60 days after day 340 is day 35 of the year; two years are not decided."""
    f = found(np.full(365, 2 / 3), bump(340, 20, 1.0) + 0.01)
    success = f.success.copy()
    success[[3, 29]] = np.nan
    (window,) = possible_windows(replace(f, success=success))
    assert window.best == 340
    years = dict(window.first_pickings)
    assert len(window.first_pickings) == len(years) == 28
    assert not years.keys() & {1994, 2020}
    assert [y for y, day in years.items() if day is not None] == [y for y in range(1991, 2011) if y != 1994]
    assert {day for day in years.values() if day is not None} == {35}
