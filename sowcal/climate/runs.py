"""Unbroken runs of days."""

from __future__ import annotations

import numpy as np

__all__ = ["longest_run", "run_lengths"]


def longest_run(condition: np.ndarray) -> np.ndarray:
    """Length of the longest unbroken run of True along the last axis."""
    return run_lengths(condition).max(axis=-1, initial=0)


def run_lengths(condition: np.ndarray) -> np.ndarray:
    """Length of the run that each day continues, 0 where the condition does not hold; same shape."""
    day = np.arange(1, condition.shape[-1] + 1)
    broken = np.maximum.accumulate(np.where(condition, 0, day), axis=-1)
    return day - broken
