"""Shapes of response by hand."""

from __future__ import annotations

import numpy as np
import pytest

from sowcal.seasons.sums import halving, logistic_survival, ramp, trapezoid


def test_ramps_rise_and_fall():
    x = np.array([-5.0, 0.0, 2.5, 10.0, 12.0])
    np.testing.assert_allclose(ramp(x, 0.0, 10.0), [0.0, 0.0, 0.25, 1.0, 1.0])
    np.testing.assert_allclose(ramp(x, 10.0, 0.0), [1.0, 1.0, 0.75, 0.0, 0.0])


def test_a_ramp_without_width_is_a_step_that_holds_its_limit():
    assert ramp(np.array([4.9, 5.0, 5.1]), 5.0, 5.0).tolist() == [0.0, 1.0, 1.0]


def test_trapezoid_and_its_unknown_sides():
    x = np.array([0.0, 5.0, 10.0, 20.0, 27.5, 40.0])
    nan = np.nan
    np.testing.assert_allclose(trapezoid(x, 0.0, 10.0, 20.0, 30.0), [0.0, 0.5, 1.0, 1.0, 0.25, 0.0])
    np.testing.assert_allclose(trapezoid(x, nan, 10.0, 20.0, 30.0), [1.0, 1.0, 1.0, 1.0, 0.25, 0.0])
    np.testing.assert_allclose(trapezoid(x, 0.0, 10.0, nan, 30.0), [0.0, 0.5, 1.0, 1.0, 1.0, 1.0])
    np.testing.assert_allclose(trapezoid(x, 0.0, nan, 20.0, nan), np.ones(6))


def test_each_half_of_a_strain_halves():
    np.testing.assert_allclose(halving(np.array([0.0, 3.0, 6.0, 1.5]), 3.0), [1.0, 0.5, 0.25, np.sqrt(0.5)])


@pytest.mark.parametrize("half", [-3.0, 0.0, 4.0])
def test_plants_of_a_stand_differ(half):
    """About nine in ten die a degree below the temperature that kills half, one in ten a degree above."""
    below, at, above = logistic_survival(half + np.array([-1.0, 0.0, 1.0]), half)
    assert at == 0.5
    assert below == pytest.approx(1.0 - 0.88, abs=0.002)  # 1 / (1 + e^2), by hand
    assert above == pytest.approx(0.88, abs=0.002)
    assert logistic_survival(np.array([half + 1.0]), half, 1.0)[0] == pytest.approx(0.731, abs=5e-4)  # 1 / (1 + 1/e)


def test_no_cold_and_the_cold_of_space():
    """No day at all (a coldest of infinity) kills none; warnings are errors here."""
    found = logistic_survival(np.array([np.inf, 1000.0, -1000.0, -np.inf]), -2.0)
    np.testing.assert_allclose(found, [1.0, 1.0, 0.0, 0.0], atol=1e-17)
