"""Edges of the kernels that slips were found to pass (see `mutants.py`): each figure is worked out by hand here."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sowcal.seasons.season import HAZARDS
from sowcal.settings import Settings
from sowcal.suitability.windows import (
    ByDay,
    circular_mean,
    possible_windows,
    recommended_windows,
    runs,
    seasons_of_year,
    share_interval,
)

YEARS = 10


def folded(reliability, worth=None, wait=60.0, picked=30.0):
    """A crop's outcome folded by day of the year, of which each day has that reliability and mean yield."""
    reliability = np.asarray(reliability, float)
    worth = np.where(reliability > 0, 1.0, 0.0) if worth is None else np.asarray(worth, float)
    success = ((np.arange(YEARS)[:, None] + 0.5) / YEARS < reliability).astype(float)
    lost = np.zeros((len(HAZARDS), 365))
    lost[1] = 1 - reliability
    return ByDay(
        years=2001 + np.arange(YEARS),
        yield_fraction=success * worth,
        success=success,
        reliability=reliability,
        mean_yield=worth,
        duration=np.full(365, wait),
        decided=np.full(365, YEARS),
        hazard_share=lost,
        first=np.full((YEARS, 365), wait),
        last=np.full((YEARS, 365), wait + picked),
        raised=None,
    )


def on(*spans):
    """1 on the days of the spans (both ends within), 0 elsewhere."""
    out = np.zeros(365)
    for a, b in spans:
        out[(a + np.arange((b - a) % 365 + 1)) % 365] = 1.0
    return out


@pytest.mark.parametrize("first", [40, 200, 330, 362])
def test_the_shortest_run_and_the_longest_break(first):
    """A run of five start days is a window and one of four is not; five days' break is closed and six days' is not."""
    last = (first + 4) % 365
    (window,) = possible_windows(folded(on((first, last))))
    assert (window.start, window.end) == (first, last)
    assert possible_windows(folded(on((first, (first + 3) % 365)))) == []
    one = on((first, (first + 9) % 365), ((first + 15) % 365, (first + 30) % 365))  # out on five days between
    (window,) = possible_windows(folded(one))
    assert (window.start, window.end) == (first, (first + 30) % 365)
    two = on((first, (first + 9) % 365), ((first + 16) % 365, (first + 30) % 365))  # out on six
    assert len(possible_windows(folded(two))) == 2


def test_half_of_the_years_is_possible_and_less_is_not():
    (window,) = possible_windows(folded(0.5 * on((100, 120))))
    assert (window.start, window.end, window.reliability) == (100, 120, 0.5)
    assert possible_windows(folded(0.49 * on((100, 120)))) == []


def test_a_window_tells_its_middle_day_and_what_follows():
    (window,) = possible_windows(folded(on((300, 20)), wait=60.0, picked=30.0))
    # 300 to 20 are 86 days of one worth; the middle one of them is the 44th, day 343
    assert window.best == 343
    assert (window.first_picking.p50, window.first_picking.days_after_start) == ((343 + 60) % 365, 60)
    assert window.last_picking == (343 + 90) % 365
    assert window.years_decided == YEARS
    assert len(window.first_pickings) == YEARS


def test_the_best_day_is_that_of_most_years_times_yield():
    reliability, worth = on((100, 140)), 0.7 * on((100, 140))
    worth[120] = 1.0
    (window,) = possible_windows(folded(reliability, worth))
    assert window.best == 120
    reliability[120] = 0.6  # 0.6 x 1.0 is less than 1 x 0.7
    (window,) = possible_windows(folded(reliability, worth))
    assert window.best != 120


def test_recommended_days_meet_the_odds_and_are_near_the_best_of_their_season():
    settings = Settings(reliability=0.8, near_best=0.75)
    reliability, worth = on((100, 160)), on((100, 160))
    reliability[140:161] = 0.79  # too chancy
    worth[100:110] = 0.74  # too poor against the best, 1.0
    worth[110:115] = 0.75  # just near enough
    (window,) = recommended_windows(folded(reliability, worth), settings)
    assert (window.start, window.end) == (110, 139)


def test_days_that_take_too_long_are_not_recommended_unless_time_does_not_count():
    found = folded(on((100, 160)))
    found.duration[130:161] = 60.0 * 3.01
    found.duration[120:130] = 60.0 * 3.0
    settings = Settings(longest=3.0, bed_day=0.0)  # what the wait itself costs is another rule
    (window,) = recommended_windows(found, settings)
    assert (window.start, window.end) == (100, 129)
    (window,) = recommended_windows(found, settings, timed=False)
    assert (window.start, window.end) == (100, 160)


def test_a_further_wish_shortens_the_window():
    allowed = on((120, 200)).astype(bool)
    (window,) = recommended_windows(folded(on((100, 160))), Settings(), allowed=allowed)
    assert (window.start, window.end) == (120, 160)


def test_seasons_part_at_a_clear_minimum_only():
    days = np.arange(365)
    deep = 1.0 - 0.5 * np.exp(-(((days - 180) / 20.0) ** 2))  # half is left at day 180
    possible = on((60, 300)).astype(bool)
    one, two = seasons_of_year(possible, deep)
    assert abs(int(two[0]) - 180) <= 1
    assert (one[0], two[-1]) == (60, 300)
    shallow = 1.0 - 0.04 * np.exp(-(((days - 180) / 20.0) ** 2))  # more than 19 parts of 20 are left
    assert len(seasons_of_year(possible, shallow)) == 1


@pytest.mark.parametrize(
    ("good", "decided", "low", "high"),
    [(15, 20, 0.531, 0.888), (0, 10, 0.0, 0.278), (10, 10, 0.722, 1.0), (5, 10, 0.237, 0.763)],
)
def test_wilsons_interval(good, decided, low, high):
    """Worked out by hand from Wilson 1927 (from memory) with z = 1.96."""
    found = share_interval(good, decided)
    assert found == pytest.approx((low, high), abs=6e-4)
    assert found[0] <= good / decided <= found[1]


def test_the_mean_round_the_year_by_hand():
    x = np.zeros(365)
    x[0] = 7.0
    mean = circular_mean(x, 7)
    assert mean[[362, 363, 364, 0, 1, 2, 3]] == pytest.approx(1.0)
    assert mean[[361, 4, 180]] == pytest.approx(0.0)
    x[1] = np.nan  # is left out of the mean, which is then of six
    mean = circular_mean(x, 7)
    assert mean[[363, 0, 3]] == pytest.approx(7.0 / 6.0)
    assert mean[362] == pytest.approx(1.0)  # 359 to 0: the day that is missing lies outside


def test_runs_by_hand():
    assert runs(np.ones(365, bool)) == [(0, 364)]
    assert runs(np.zeros(365, bool)) == []
    mask = on((10, 12), (360, 3)).astype(bool)
    assert sorted(runs(mask)) == [(10, 12), (360, 3)]


def test_labels_of_degree_days_tell_the_cut_off():
    xr = pytest.importorskip("xarray")
    from sowcal.climate.degree_days import growing_degree_days

    day = xr.DataArray([10.0], dims="time", attrs={"units": "degC"})
    without = growing_degree_days(day, day + 10, base_temperature=10.0)
    assert without.attrs["upper_threshold"] == "none"
    cut = growing_degree_days(day, day + 10, base_temperature=10.0, upper_threshold=30.0, cutoff="vertical")
    assert cut.attrs["upper_threshold"] == "30 degC, vertical cut-off"


def test_a_year_without_a_gap_is_parted_forwards_from_its_poorest_day():
    days = np.arange(365)
    worth = 1.0 - 0.5 * np.exp(-(((days - 180) / 20.0) ** 2)) - 0.6 * np.exp(-(((days - 20) / 20.0) ** 2))
    parts = seasons_of_year(np.ones(365, bool), worth)
    joined = np.concatenate(parts)
    assert joined[0] == 20
    assert ((np.diff(joined) % 365) == 1).all()
    assert sorted(joined) == list(days)
    assert any(abs(int(part[0]) - 180) <= 1 for part in parts)


def test_early_and_late_pickings_are_days_of_the_year():
    found = folded(on((340, 364)))
    found.first[:] = np.linspace(50, 68, YEARS)[
        :, None
    ]  # the tenth and the ninetieth of a hundred lie at 51.8 and 66.2
    (window,) = possible_windows(found)
    p = window.first_picking
    assert p.p10 == (window.best + 51) % 365
    assert p.p90 == (window.best + 66) % 365
    assert p.days_after_start == 59


def test_raising_under_cover_counts_back_from_both_edges():
    raised = np.full((YEARS, 365), 42.0)
    raised[:, 160] = 21.0
    (window,) = possible_windows(replace(folded(on((20, 160))), raised=raised))
    assert window.raise_under_cover == ((20 - 42) % 365, 160 - 21)


def test_a_windows_interval_is_that_of_its_years():
    """Wilson's interval of nine in ten, 0.596 to 0.982, by hand."""
    (window,) = possible_windows(folded(0.9 * on((100, 160))))
    assert window.interval == pytest.approx((0.596, 0.982), abs=6e-4)


def test_edges_of_years_that_all_agree_have_no_spread():
    """In each drawing the week's mean is 6/7 two days inside an edge and 5/7 one day inside: 0.8 lies between."""
    settings = Settings(reliability=0.8, edge_draws=50)
    (window,) = recommended_windows(folded(on((100, 160))), settings)
    assert (window.start_interval, window.end_interval) == ((102, 102), (158, 158))
    (window,) = recommended_windows(folded(on((340, 20))), settings)
    assert (window.start_interval, window.end_interval) == ((342, 342), (18, 18))


def test_an_edge_that_yield_sets_has_no_interval():
    worth = on((100, 180))
    worth[161:181] = 0.5
    (window,) = recommended_windows(folded(0.8 * on((100, 180)), worth), Settings(reliability=0.8, edge_draws=50))
    assert (window.start, window.end, window.end_interval) == (100, 160, None)
    assert window.start_interval is not None
