"""A part of the hindcast: what the dates of a season in progress are worth inside the engine."""

from __future__ import annotations

from dataclasses import replace

import hindcast
import numpy as np
import pytest


@pytest.fixture(scope="module")
def told(reference_folder):
    return [
        t
        for name in ("palma", "a_coruna", "de_bilt")
        for t in hindcast.hindcast(hindcast.station(reference_folder, name), name, years=10)
    ]


def at(told, share):
    return [t for t in told if t.share == share and t.picked]


def test_true_dates_lie_within_the_range_as_often_as_it_says(told):
    for share in (0.0, 0.25, 0.5):
        assert 0.7 < np.mean([0.1 <= t.rank <= 0.9 for t in at(told, share)]) < 0.9


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
