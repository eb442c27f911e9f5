"""Soil temperature against the solution of the heat equation and its own stated rules."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sowcal.climate.soil import SURFACES, damping_depth, soil_temperature
from sowcal.errors import InputError


def test_damping_solves_the_heat_equation():
    """Heat conduction into a half-space under a daily wave, solved numerically (Crank-Nicolson, no formula of
    ours):
    the swing at the damping depth must be 1/e of the surface's."""
    diffusivity = 0.5  # 1e-6 m2 s-1
    dz, dt = 0.005, 600.0
    n = 240
    r = diffusivity * 1e-6 * dt / dz**2 / 2.0
    forward = np.eye(n) * (1 - 2 * r) + np.eye(n, k=1) * r + np.eye(n, k=-1) * r
    backward = np.eye(n) * (1 + 2 * r) - np.eye(n, k=1) * r - np.eye(n, k=-1) * r
    for m, sign in ((forward, 1.0), (backward, 1.0)):
        m[0], m[-1] = 0.0, 0.0
        m[0, 0] = m[-1, -1] = sign
    step = np.linalg.solve(backward, forward)
    surface = np.linalg.solve(backward, np.eye(n)[:, 0])
    state, history = np.zeros(n), []
    for k in range(144 * 6):
        state[0] = np.sin(2 * np.pi * k * dt / 86400.0)
        target = np.sin(2 * np.pi * (k + 1) * dt / 86400.0)
        state = step @ state + surface * (target - state[0])
        history.append(state.copy())
    swing = 0.5 * np.ptp(np.array(history[-144:]), axis=0)
    depth = damping_depth(diffusivity) / 100.0
    assert np.interp(depth, np.arange(n) * dz, swing) == pytest.approx(np.exp(-1.0), abs=0.01)


def test_dampest_soils_of_the_textbook():
    """About 8 cm in dry and 12 cm in moist soil (Campbell & Norman 1998, recalled: a broad check)."""
    assert 6.0 < damping_depth(0.3) < 10.0
    assert 10.0 < damping_depth(0.5) < 13.0


@given(st.floats(-10.0, 30.0), st.floats(0.0, 25.0), st.floats(0.0, 30.0), st.sampled_from(sorted(SURFACES)))
def test_steady_weather(low, span, depth, surface):
    """Mean of air plus warming; the swing falls with depth and the mean does not change with it."""
    tasmin, tasmax = np.full(12, low), np.full(12, low + span)
    mean, swing = soil_temperature(tasmin, tasmax, depth=depth, surface=surface)
    own = SURFACES[surface]
    np.testing.assert_allclose(mean, low + 0.5 * span + own.warming * span, atol=1e-9)
    top = soil_temperature(tasmin, tasmax, depth=0.0, surface=surface)[1]
    np.testing.assert_allclose(top, 0.5 * own.amplitude_factor * span, atol=1e-9)
    deeper = soil_temperature(tasmin, tasmax, depth=depth + 5.0, surface=surface)[1]
    assert (deeper <= swing).all()
    assert (swing <= top).all()


def test_surfaces_in_their_order():
    """Bare and dry soil is hottest at noon, mulched and shaded soil coolest (common practice)."""
    low, high = np.full(10, 18.0), np.full(10, 34.0)
    noon = {s: np.add(*soil_temperature(low, high, depth=1.5, surface=s))[-1] for s in SURFACES}
    assert noon["bare"] > noon["wet"] > noon["mulched"] > noon["shaded"]


def test_running_mean_lags_and_missing_days_stay():
    low = np.array([0.0, 0.0, 0.0, 10.0, np.nan, 10.0])
    mean, swing = soil_temperature(low, low + 10.0, depth=1.0, warming=0.0, averaging_days=3)
    np.testing.assert_allclose(mean, [5.0, 5.0, 5.0, 25.0 / 3.0, np.nan, 15.0])
    assert np.isnan(swing).tolist() == np.isnan(low).tolist()


def test_overrides_and_bad_input():
    low, high = np.full(3, 10.0), np.full(3, 20.0)
    swing = soil_temperature(low, high, depth=10.0, amplitude_factor=1.0, diffusivity=0.5)[1]
    np.testing.assert_allclose(swing, 5.0 * np.exp(-10.0 / damping_depth(0.5)))
    with pytest.raises(InputError, match="surface is 'sand'"):
        soil_temperature(low, high, depth=1.0, surface="sand")
    with pytest.raises(InputError, match="depth is -1 cm"):
        soil_temperature(low, high, depth=-1.0)
    with pytest.raises(InputError, match="averaging_days is 0"):
        soil_temperature(low, high, depth=1.0, averaging_days=0)


def test_two_labelled_results(labelled, seattle):
    low, high = (labelled(x, seattle.time) for x in (seattle.tasmin, seattle.tasmax))
    mean, swing = soil_temperature(low, high, depth=2.0)
    assert mean.attrs["units"] == swing.attrs["units"] == "degC"
    assert mean.attrs["standard_name"] == "soil_temperature"
    plain = soil_temperature(seattle.tasmin, seattle.tasmax, depth=2.0)
    np.testing.assert_array_equal(mean, plain[0])
    np.testing.assert_array_equal(swing, plain[1])
