"""Windows from made-up shares of years: gaps, minima, runs over New Year."""

from dataclasses import replace

import numpy as np
import pytest
from folded import YEARS, bump, found
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from sowcal.crops.handbook import handbook
from sowcal.seasons.season import HAZARDS
from sowcal.settings import Settings
from sowcal.suitability.advice import outside_runs
from sowcal.suitability.annuals import leave
from sowcal.suitability.windows import (
    _edge_intervals,
    _reliability_of_draws,
    _split_at_minima,
    circular_mean,
    possible_windows,
    recommended_windows,
    runs,
    seasons_of_year,
    share_interval,
    start_seasons,
)


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
    possible, windows = possible_windows(f), recommended_windows(f, Settings(reliability=0.9))
    assert len(possible) == len(windows) == 1
    assert possible[0].start <= windows[0].start <= windows[0].best <= windows[0].end <= possible[0].end
    assert f.reliability[windows[0].start] >= 0.9
    assert f.reliability[possible[0].start] >= 0.5


def test_a_start_that_holds_the_bed_too_long_is_not_recommended():
    duration = np.where(np.arange(365) < 120, 150.0, 60.0)
    worth = np.where((np.arange(365) > 90) & (np.arange(365) < 150), 1.0, 0.0)
    (window,) = recommended_windows(found(worth, worth, duration), Settings(longest=1.5))
    assert window.start >= 119


@pytest.mark.parametrize("poor", ["yield", "odds"])
def test_a_quick_start_that_is_not_advised_makes_no_other_too_slow(poor):
    """Ten days of a fifth of the time, which fail the other wish, by yield or by odds; the others take 100 days all."""
    day = np.arange(365)
    quick = (day >= 100) & (day < 110)
    on = (day >= 100) & (day < 150)
    reliability = np.where(on, np.where(quick & (poor == "odds"), 0.7, 1.0), 0.0)
    worth = np.where(on, np.where(quick & (poor == "yield"), 0.5, 1.0), 0.0)
    (window,) = recommended_windows(found(reliability, worth, np.where(quick, 20.0, 100.0)), Settings(longest=3.0))
    assert (window.start, window.end) == (110, 149)


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
    # one of one, by hand: middle (1 + 1.9208) / 4.8416 = 0.6033, half 1.96 x 0.98 / 4.8416 = 0.3967
    assert share_interval(1, 1) == pytest.approx((0.2066, 1.0), abs=1e-4)


def test_an_interval_of_a_share_holds_the_share_and_lies_within_nothing_and_all():
    for decided in range(1, 400):
        for successes in {0, 1, decided // 2, decided}:
            low, high = share_interval(successes, decided)
            assert 0.0 <= low <= successes / decided <= high <= 1.0


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


@pytest.mark.parametrize(("first", "parts"), [(196, [9]), (195, [3, 7]), (195, [3, 8])])
def test_a_season_is_not_parted_into_two_of_which_one_is_too_short_to_be_a_window(first, parts):
    """Worth is 0 on eleven days: its mean over fifteen is lowest, 4/15, on the five in the middle, 7/15 two days on."""
    worth = np.ones(365)
    worth[195:206] = 0.0
    possible = np.zeros(365, bool)
    possible[first : first + sum(parts)] = True
    assert [p.tolist() for p in seasons_of_year(possible, worth)] == [
        list(range(first + sum(parts[:k]), first + sum(parts[: k + 1]))) for k in range(len(parts))
    ]


def test_a_minimum_parts_seasons_where_less_than_95_hundredths_of_the_lower_peak_are_left():
    """The lower peak is 0.5, so that 0.475 is not clear and less is; ends are no minima, nor are days of no worth."""
    days = np.arange(100, 120)
    worth = np.zeros(365)
    worth[100:120] = [0.48] * 3 + [0.5] * 5 + [0.475] + [0.5] + [0.9] * 5 + [1.0] * 5
    assert [p.tolist() for p in _split_at_minima(days, worth)] == [days.tolist()]
    worth[108] = 0.474
    assert [p.tolist() for p in _split_at_minima(days, worth)] == [days[:8].tolist(), days[8:].tolist()]
    worth[[100, 119]] = 0.01, 0.02  # poor ends are ends
    assert [p.tolist() for p in _split_at_minima(days, worth)] == [days[:8].tolist(), days[8:].tolist()]
    worth[100:103] = 0.0
    assert [p.tolist() for p in _split_at_minima(days, worth)] == [days[:8].tolist(), days[8:].tolist()]
    assert len(_split_at_minima(days, np.zeros(365))) == 1


def test_days_of_which_nothing_is_known_part_no_season():
    worth = np.full(365, 0.9)
    worth[200:205] = np.nan
    possible = np.zeros(365, bool)
    possible[150:260] = True
    assert [p.tolist() for p in seasons_of_year(possible, worth)] == [list(range(150, 260))]


def one_window(mean_yield, reliability=1.0, **changed):
    """The window of a crop that is possible on as many days from 350 as yields are given, over New Year."""
    days = (350 + np.arange(len(mean_yield))) % 365
    share, worth = np.zeros(365), np.zeros(365)
    share[days], worth[days] = reliability, mean_yield
    f = replace(found(np.nan_to_num(share), worth), reliability=share, **changed)
    (window,) = possible_windows(f)
    return window


@pytest.mark.parametrize(
    ("mean_yield", "best"),
    [
        ([0.5, 0.5, 1.0, 0.98, 0.98, 0.98, 0.97], 354),  # of 352 to 355, all as good, the third
        ([0.5, 0.5, 1.0, 0.97, 0.97, 0.97, 0.97], 352),
        ([0.9] * 20, 360),
        ([0.9] * 31, 0),
    ],
)
def test_the_best_day_is_the_middle_one_of_those_within_two_hundredths(mean_yield, best):
    assert one_window(mean_yield).best == best


def test_days_without_a_decided_year_are_not_the_best():
    """A gap of three days is closed, but nothing is known of it."""
    reliability = np.array([1.0] * 5 + [np.nan] * 3 + [0.9] * 5)
    window = one_window(np.where(np.isnan(reliability), np.nan, 0.6), reliability)
    assert (window.start, window.end) == (350, 362)
    assert window.best == 352


def test_days_of_picking_are_quantiles_of_the_years_that_work():
    """Eleven years work; their waits are 10, 20, ... 110 days, so that a tenth is 20, half 60, nine tenths 100."""
    first = np.full((YEARS, 365), 999.0)
    first[:11] = np.arange(10.0, 111.0, 10.0)[:, None]
    last = first + np.arange(YEARS)[:, None] % 2 * 3.0  # 0 or 3 days of picking
    success = np.zeros((YEARS, 365))
    success[:11] = 1.0
    success[29] = np.nan
    window = one_window([0.9] * 11, 0.6, first=first, last=last, success=success, decided=np.full(365, 29))
    assert window.best == 355
    picking = window.first_picking
    assert (picking.p10, picking.p50, picking.p90) == ((355 + 20) % 365, (355 + 60) % 365, (355 + 100) % 365)
    assert picking.days_after_start == 60
    assert window.last_picking == (355 + 63) % 365  # 10, 23, 30, 43, 50, 63 is the middle one of eleven
    assert (window.years_decided, window.reliability, window.yield_fraction) == (29, 0.6, 0.9)
    assert window.interval == share_interval(0.6 * 29, 29)
    assert window.raise_under_cover is None
    assert window.first_pickings[0] == (1991, (355 + 10) % 365)
    assert window.first_pickings[11] == (2002, None)


def test_where_no_year_works_on_the_best_day_nothing_is_said_of_picking():
    """The week about a day can lend it odds."""
    window = one_window([0.9] * 11, 0.6, success=np.zeros((YEARS, 365)))
    assert window.first_picking is None
    assert window.last_picking is None


def test_raising_begins_before_either_end_of_the_window():
    """Under cover for 30 days in most years before the first start, for 12 before the last, on day 5."""
    raised = np.full((YEARS, 365), 77.0)
    raised[:20, 350] = 30.0
    raised[:20, 5] = 12.0
    raised[25, [350, 5]] = np.nan
    window = one_window([0.9] * 21, raised=raised)
    assert (window.start, window.end) == (350, 5)
    assert window.raise_under_cover == (320, 358)


def plain_edge(draws, best, step, reliability):
    """Days from the best one outward that meet the odds without a break, of each draw; a year has no more than 181."""
    out = []
    for draw in draws:
        n = 0
        while n < 181 and draw[(best + step * (n + 1)) % 365] >= reliability and draw[best] >= reliability:
            n += 1
        out.append(n)
    return np.round(np.percentile(out, [2.5, 97.5])).astype(int)


def drawn_again(success, draws):
    """Reliability by day of years drawn again, with loops; the same draws as the engine's, for its seed is given."""
    years = success.shape[0]
    out = np.zeros((draws, 365))
    for k, drawn in enumerate(np.random.default_rng(1).integers(0, years, (draws, years))):
        again = success[drawn]
        share = [np.mean(column[~np.isnan(column)]) if (column == column).any() else np.nan for column in again.T]
        for day in range(365):
            week = [share[(day + j) % 365] for j in range(-3, 4)]
            known = [x for x in week if x == x]
            out[k, day] = np.mean(known) if known else 0.0
    return out


def test_years_drawn_again_by_loops():
    rng = np.random.default_rng(2)
    success = (rng.random((8, 365)) < 0.7).astype(float)
    success[rng.random((8, 365)) < 0.1] = np.nan
    success[1:, 100:110] = np.nan  # one year is decided, which some draws lack
    got = _reliability_of_draws(replace(found(np.ones(365), np.ones(365)), success=success), 5)
    np.testing.assert_allclose(got, drawn_again(success, 5), rtol=1e-9)
    assert (got[:, 105] == 0.0).any()


@pytest.mark.parametrize("centre", [20, 180, 355])
@pytest.mark.parametrize("width", [40, 500])
def test_spread_of_the_edges_by_a_loop(centre, width):
    """The first window is short, the second is so wide that some draws meet the odds half a year away."""
    share = np.minimum(bump(centre, width, 1.1), 1.0)
    rng = np.random.default_rng(width)
    success = (rng.random((YEARS, 1)) < share).astype(float)
    f = replace(found(share, np.ones(365)), success=success, reliability=np.where(share >= 0.79, share, 0.1))
    (window,) = recommended_windows(
        f, Settings(reliability=0.79, edge_draws=40)
    )  # no mean of 7 shares of 30 years is 0.79
    draws = drawn_again(success, 40)
    low, high = plain_edge(draws, window.best, -1, 0.79)
    assert window.start_interval == ((window.best - high) % 365, (window.best - low) % 365)
    low, high = plain_edge(draws, window.best, 1, 0.79)
    assert window.end_interval == ((window.best + low) % 365, (window.best + high) % 365)
    if width == 500:
        assert high > 100


def test_days_that_just_meet_the_odds_are_counted():
    """Forty draws: by hand 5 days out in most, none in the three of which the best day falls short."""
    draws = np.full((40, 365), 0.7)
    draws[:, 95:106] = 0.8
    draws[:3, 100] = 0.7
    (window,) = possible_windows(found(np.where(draws[5] == 0.8, 1.0, 0.0), np.ones(365)))
    assert window.best == 100
    window = _edge_intervals(found(draws[5], np.ones(365)), window, 0.8, draws)
    assert window.start_interval == (95, 100)
    assert window.end_interval == (100, 105)
    spread = np.full((41, 365), 0.7)  # of 41 lengths the second and the last but one
    for draw, days in zip(spread, [0, 20, *[40] * 37, 60, 80], strict=True):
        draw[100 - days : 101 + days] = 0.8
    window = _edge_intervals(found(draws[5], np.ones(365)), window, 0.8, spread)
    assert window.start_interval == (40, 80)
    assert window.end_interval == (120, 160)
    window = _edge_intervals(found(draws[5], np.ones(365)), window, 0.8, np.ones((9, 365)))
    assert window.start_interval == (284, 284)  # 181 days out: farther ones are nearer the other way round
    assert window.end_interval == (281, 281)


def test_an_edge_that_yield_sets_has_no_spread():
    """Reliable from day 100 to 200, but poor before 120; the day beside the other edge is just too chancy."""
    share = np.where((np.arange(365) >= 100) & (np.arange(365) <= 200), 0.8, 0.79)
    worth = np.where(np.arange(365) < 120, 0.3, 1.0)
    worth[201:] = 0.3
    (window,) = recommended_windows(found(share, worth), Settings(edge_draws=20))
    assert (window.start, window.end) == (120, 200)
    assert window.start_interval is None
    assert window.end_interval is not None
    share[201] = 0.8
    (window,) = recommended_windows(found(share, worth), Settings(edge_draws=20))
    assert window.end_interval is None
    share[201] = np.nan  # not known is not reliable
    (window,) = recommended_windows(found(share, worth), Settings(edge_draws=20))
    assert window.end_interval is not None


@pytest.mark.parametrize("reliable_beside", [False, True])
def test_the_day_beside_an_edge_may_lie_in_the_other_year(reliable_beside):
    """A window from 1 January, and one to 31 December; the day beside is too chancy, or reliable and poor."""
    for days, beside in ((range(40), 364), (range(325, 365), 0)):
        share, worth = np.full(365, 0.1), np.full(365, 0.3)
        share[list(days)], worth[list(days)] = 0.9, 1.0
        share[beside] = 0.9 if reliable_beside else 0.1
        (window,) = recommended_windows(found(share, worth), Settings(edge_draws=5))
        assert (window.start, window.end) == (days[0], days[-1])
        interval = window.start_interval if beside == 364 else window.end_interval
        assert (interval is None) == reliable_beside


@pytest.mark.parametrize("seed", range(4))
def test_what_stops_it_by_a_loop(seed):
    """The hazard of most years in the fortnight about a day; a day of which no year is decided is not spoken of."""
    rng = np.random.default_rng(seed)
    reliability = np.repeat(rng.choice([0.0, 1.0, 0.3], 73), 5)
    decided = np.repeat(rng.choice([0, 1, 30], 73, p=[0.1, 0.2, 0.7]), 5)
    lost = np.repeat(rng.random((len(HAZARDS), 73)), 5, axis=1) * (1 - reliability)
    lost[:, decided == 0] = np.nan
    f = replace(found(reliability, np.ones(365)), hazard_share=lost, decided=decided)
    possible = np.zeros(365, bool)
    for window in possible_windows(f):
        possible[(window.start + np.arange((window.end - window.start) % 365 + 1)) % 365] = True
    named = []
    for day in range(365):
        near = lost[:, (day + np.arange(-7, 8)) % 365]
        mean = [np.mean(row[row == row]) if (row == row).any() else 0.0 for row in near]
        named.append(None if possible[day] or not decided[day] else HAZARDS[int(np.argmax(mean))])
    expected = []
    for day in range(365):
        if named[day] is None or named[day - 1] == named[day]:
            continue
        days = [day]
        while named[(days[-1] + 1) % 365] == named[day]:
            days.append((days[-1] + 1) % 365)
        share = np.mean(lost[HAZARDS.index(named[day]), days])
        expected.append((day, days[-1], named[day], pytest.approx(share)))
    got = [(o.start, o.end, o.hazard, o.share_of_years) for o in outside_runs(f)]
    assert got == expected
    assert len(got) > 10
    assert len({o.hazard for o in outside_runs(f)}) > 3
    assert outside_runs(f, possible) == outside_runs(f)
    assert outside_runs(f, np.ones(365, bool)) == []


def test_a_start_whose_wait_gains_nothing_is_not_advised():
    """Picked on one day whatever the start to day 130, then a day later a day: earlier starts only hold the bed."""
    days = np.arange(365)
    worth = np.where((days >= 90) & (days < 200), 0.9, 0.0)
    wait = np.where(days < 130, 60.0 + 130 - days, 60.0)
    f = found((worth > 0) * 1.0, worth, duration=wait)
    free = Settings(bed_day=0.0)
    # the fortnight from day 120 on costs 4 days of harvest
    assert [(w.start, w.end) for w in recommended_windows(f, free)] == [(120, 199)]
    assert [(w.start, w.end) for w in recommended_windows(f, free, timed=False)] == [(90, 199)]


def test_waiting_is_no_use_where_the_later_start_is_not_reliable():
    days = np.arange(365)
    worth = np.where((days >= 90) & (days < 200), 0.9, 0.0)
    f = found(np.where(worth > 0, np.where(days < 100, 1.0, 0.6), 0.0), worth, duration=300.0 - days)
    assert [(w.start, w.end) for w in recommended_windows(f, Settings(bed_day=0.0, longest=9.0))] == [(90, 99)]


def test_days_in_the_bed_have_their_price():
    """Of one yield, what takes twenty days more at a hundredth each is worth a fifth of a crop less."""
    days = np.arange(365)
    worth = np.where((days >= 90) & (days < 200), 0.9, 0.0)
    f = found((worth > 0) * 1.0, worth, duration=np.where(days < 150, 60.0, 80.0))
    for price, last in ((0.0, 199), (0.004, 199), (0.01, 149)):
        windows = recommended_windows(f, Settings(bed_day=price, near_best=0.9))
        assert [(w.start, w.end) for w in windows] == [(90, last)]


def test_crops_of_many_sowings_are_allowed_a_greater_loss_than_tender_and_kept_ones():
    """Of one curve of yield the tender crop has the top, the hardy one what is within some times the loss."""
    assert {leave(c) for c in handbook().values() if c.cold.frost_class in ("tender", "very tender")} == {1.0}
    book = handbook()
    assert {leave(book[c]) for c in ("chickpea", "garlic (softneck)", "onion (short-day)", "potato (maincrop)")} == {
        1.0
    }
    (hardy,) = {leave(book[c]) for c in ("carrot", "leek", "lettuce (leaf)", "pea (shelling)")}
    days = np.arange(365)
    worth = np.where((days >= 100) & (days < 200), 1.0 - 0.004 * np.abs(days - 150), 0.0)
    f = found((worth > 0) * 1.0, worth)
    for times, most in ((1.0, 0.1), (hardy, 0.1 * hardy)):
        (part,) = start_seasons(f, Settings(near_best=0.9, bed_day=0.0), True, worth > 0, times)
        assert part.near.tolist() == (worth[part.days] >= 1.0 - most).tolist()
        assert part.near.any()
    assert not (worth[worth > 0] >= 0.9).all()
