"""Shapes of response: how a plant answers one figure with a share between 0 and 1."""

from __future__ import annotations

import numpy as np

from sowcal.crops.records import known

__all__ = ["halving", "logistic_survival", "ramp", "trapezoid"]


def ramp(x: np.ndarray, none: float, full: float) -> np.ndarray:
    """Straight line from 0 at `none` to 1 at `full`, clipped; `full` may lie below `none`."""
    if none == full:
        return (x >= full).astype(float)
    return np.clip((x - none) / (full - none), 0.0, 1.0)


def trapezoid(x: np.ndarray, none_below: float, full_above: float, full_below: float, none_above: float) -> np.ndarray:
    """0 outside the outer limits, 1 between the inner ones, straight between.

    A side whose limits are unknown (NaN) does not limit.
    """
    out = np.ones_like(x, dtype=float)
    if known(none_below, full_above):
        out = ramp(x, none_below, full_above)
    if known(none_above, full_below):
        out = out * ramp(x, none_above, full_below)
    return out


def halving(amount: np.ndarray, half: float) -> np.ndarray:
    """Share left when each `half` of a strain halves what was left before."""
    return np.exp2(-amount / half)


def logistic_survival(coldest: np.ndarray, median_lethal: float, spread: float = 0.5) -> np.ndarray:
    """Share of plants alive after the coldest tissue temperature of a stage (degC).

    Plants of one stand differ: about nine in ten die 1 degC below the temperature that kills half, one in
    ten 1 degC above (`spread`; common practice, no source).
    """
    return 1.0 / (1.0 + np.exp(np.clip((median_lethal - coldest) / spread, -40.0, 40.0)))
