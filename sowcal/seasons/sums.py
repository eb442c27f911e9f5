"""Sums and extremes over any span of days, for all start days at once.

A *prefix* of N days has N + 1 entries: entry i is the sum of the days before day i, so that days i to j - 1
sum to prefix[j] - prefix[i]. Spans are half-open, [i, j).
"""

from __future__ import annotations

import numpy as np

__all__ = ["RangeMinimum", "day_reached", "next_day_where", "prefix", "span_mean", "span_sum"]

_TIE = 1e-9  # relative; an exact requirement must not slip a day for a rounding error


def prefix(daily: np.ndarray) -> np.ndarray:
    """Running sum of daily values with a leading zero, shape (N + 1,)."""
    out = np.empty(daily.size + 1)
    out[0] = 0.0
    np.cumsum(daily, out=out[1:])
    return out


def day_reached(total: np.ndarray, start: np.ndarray, need: float | np.ndarray) -> np.ndarray:
    """First day by whose end a prefix has grown by `need` since the beginning of day `start`.

    Returns
    -------
    numpy.ndarray of int
        Day index; N (one past the last day) where the record ends first.
    """
    target = total[start] + need
    target -= _TIE * np.abs(target)
    return np.maximum(np.searchsorted(total, target, side="left") - 1, start)


def span_sum(total: np.ndarray, i: np.ndarray, j: np.ndarray) -> np.ndarray:
    """Sum over days i to j - 1."""
    return total[j] - total[i]


def span_mean(total: np.ndarray, i: np.ndarray, j: np.ndarray) -> np.ndarray:
    """Mean over days i to j - 1; of day i alone where the span is empty."""
    j = np.maximum(j, np.minimum(i + 1, total.size - 1))
    return (total[j] - total[i]) / np.maximum(j - i, 1)


def next_day_where(condition: np.ndarray) -> np.ndarray:
    """First day at or after each day on which the condition holds, N for never; shape (N + 1,)."""
    n = condition.size
    out = np.full(n + 1, n)
    out[:n][condition] = np.flatnonzero(condition)
    return np.minimum.accumulate(out[::-1])[::-1]


class RangeMinimum:
    """Minimum over any span of days by doubling blocks (two look-ups a question)."""

    def __init__(self, daily: np.ndarray):
        self._levels = [np.append(daily, np.inf)]
        width = 1
        while 2 * width <= daily.size:
            last = self._levels[-1]
            level = last.copy()
            np.minimum(last[:-width], last[width:], out=level[: last.size - width])
            self._levels.append(level)
            width *= 2
        self._table = np.stack(self._levels)
        self._log = np.zeros(daily.size + 2, dtype=np.int8)
        for k in range(1, len(self._levels)):
            self._log[2**k :] = k

    def __call__(self, i: np.ndarray, j: np.ndarray) -> np.ndarray:
        """Minimum over days i to j - 1; +inf where the span is empty."""
        length = np.maximum(j - i, 0)
        k = self._log[length]
        first = self._table[k, i]
        second = self._table[k, np.maximum(j - (1 << k.astype(np.int64)), i)]
        return np.where(length > 0, np.minimum(first, second), np.inf)
