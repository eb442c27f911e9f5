"""A part of the hindcast: what the dates of a season in progress are worth inside the engine."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import hindcast
import numpy as np
import pytest


@pytest.fixture(scope="module")
def told(reference_folder):
    return [
        t
        for name in ("palma", "de_bilt")
        for t in hindcast.hindcast(hindcast.station(reference_folder, name), name, years=6)
    ]


def at(told, share, drawn=False):
    return [t for t in told if t.share == share and t.picked and t.drawn == drawn]


def test_true_dates_lie_within_the_range_as_often_as_it_says(told):
    for drawn in (False, True):
        for share in (0.0, 0.25, 0.5):
            assert 0.7 < np.mean([0.1 <= t.rank <= 0.9 for t in at(told, share, drawn)]) < 0.9


def test_the_middle_sorts_range_is_too_narrow_for_a_drawn_sort_and_that_of_any_sort_is_not(told):
    """What would be told without a spread of sorts: the same ranges, a drawn truth."""
    key = lambda t: (t.station, t.crop, t.year)  # noqa: E731
    middle = {key(t): t for t in at(told, 0.5)}
    both = [(middle[key(t)], t) for t in at(told, 0.5, drawn=True) if key(t) in middle]
    assert np.mean([t.width for _, t in both]) > 1.4 * np.mean([m.width for m, _ in both])
    assert np.mean([t.loss for _, t in both]) > np.mean([m.loss for m, _ in both])
    losses = [np.mean([t.loss for t in at(told, share, drawn=True)]) for share in (0.0, 0.5, 0.75)]
    assert losses == sorted(losses, reverse=True)


def test_the_range_narrows_and_is_worth_more_than_the_years_alone(told):
    losses = [np.mean([t.loss for t in at(told, share)]) for share in hindcast.SHARES]
    usual = np.mean([t.usual_loss for t in at(told, 0.0)])
    assert losses[0] == pytest.approx(usual, rel=0.1)
    assert losses[1] < usual
    assert losses[2] < 0.8 * usual
    assert losses[3] < losses[2]
    widths = [np.mean([t.width for t in at(told, share)]) for share in hindcast.SHARES]
    assert widths == sorted(widths, reverse=True)


def test_a_drawn_rank_is_even_where_truth_and_futures_are_alike():
    """Whole days of few values, so that most are ties: the share within 10 to 90 per cent is 0.80, not more or less."""
    rng = np.random.default_rng(3)
    ranks = [
        hindcast.drawn_rank(rng.integers(0, 4, 29).astype(float), float(rng.integers(0, 4)), rng) for _ in range(4000)
    ]
    assert np.mean([0.1 <= r <= 0.9 for r in ranks]) == pytest.approx(0.8, abs=0.02)


def test_a_rank_among_several_sorts_a_year_is_that_of_the_years():
    """Truth and futures alike in law, each future's value four times over: still 0.80, as the quantiles have it."""
    rng = np.random.default_rng(5)
    some = rng.normal(size=24)  # of which 10 per cent lies half way from the second to the third
    told = hindcast.quantiles(np.repeat(some, 4), 24)
    assert told == pytest.approx(np.quantile(some, [0.1, 0.5, 0.9], method="weibull"))
    assert told != pytest.approx(hindcast.quantiles(np.repeat(some, 4)))
    ranks, inside = [], []
    for _ in range(3000):
        years, truth = rng.normal(size=19), float(rng.normal())
        ranks.append(hindcast.drawn_rank(np.repeat(years, 4), truth, rng, 19))
        low, _, high = hindcast.quantiles(np.repeat(years, 4), 19)
        inside.append(low <= truth <= high)
    assert np.mean([0.1 <= r <= 0.9 for r in ranks]) == pytest.approx(0.8, abs=0.03)
    assert np.mean(inside) == pytest.approx(0.8, abs=0.03)


def outside(crop, error, inside, station="palma"):
    return hindcast.Outside("invented", crop, "2001-03-01", 80.0, station, error, inside)


def test_outside_is_not_measured_on_few_trials_and_told_on_many(reference_folder):
    found = hindcast.judged_outside(Path(reference_folder))
    assert [o.trial for o in found if o.station] == ["BROCCOLI_PAIPORTA_2010"]
    assert "not measured" in hindcast.outside_lines(found)[-1]
    many = [outside(f"crop {k % 5}", (-1) ** k * 6.0, k < 8) for k in range(10)]
    assert "median error 6 days" in hindcast.outside_lines(many)[-1]
    assert "0.80 within" in hindcast.outside_lines(many)[-1]
    assert "not measured" in hindcast.outside_lines([*many[:9], outside("crop 4", 1.0, True, station="")])[-1]
    assert "not measured" in hindcast.outside_lines([outside("one crop", 1.0, True)] * 12)[-1]


def test_the_pinball_loss_is_least_at_the_right_quantile():
    rng = np.random.default_rng(4)
    truth = rng.normal(0.0, 10.0, 4000)
    right = np.quantile(truth, hindcast.LEVELS)
    loss = [np.mean([hindcast.pinball(right + off, t) for t in truth]) for off in (-4.0, 0.0, 4.0)]
    assert loss[1] < min(loss[0], loss[2])


def test_the_interval_is_of_station_years_not_of_seasons(told):
    """The same seasons counted four times over tell no more."""
    some = at(told, 0.5)
    once, often = (hindcast.interval(x) for x in (some, [replace(t) for t in some for _ in range(4)]))
    assert often == pytest.approx(once, abs=0.01)
