"""Sums and extremes over any span of days, for all start days at once; the shapes of a response; chill asked for.

A *prefix* of N days has N + 1 entries: entry i is the sum of the days before day i, so that days i to j - 1
sum to prefix[j] - prefix[i]. Spans are half-open, [i, j).

Daily values are rounded to a step that is a power of two before they are added up, so that the sums are exact and
a span comes to the same wherever the record begins: a rounding error must not turn a season's answer.
"""

from __future__ import annotations

import numpy as np

from sowcal.crops.tables import Chill, Crop, known

__all__ = [
    "HALF_LIVE",
    "RUN",
    "RangeMinimum",
    "chill_ends",
    "chill_needed",
    "chill_row",
    "day_reached",
    "flowers_killed",
    "halving",
    "logistic_survival",
    "next_day_where",
    "place_in",
    "prefix",
    "ramp",
    "span_mean",
    "span_sum",
    "stepped",
    "survival_of_runs",
    "trapezoid",
]

_STEP = 2.0**-28  # of daily values; sums below 3e7 (300 years of 270 degrees a day) are then exact
RUN = 5  # years in a row that a perennial should live: common practice, no source
HALF_LIVE = 0.5  # share of plants that counts as lived: common practice
_TIE = 2.0**-20  # an exact requirement must not slip a day for the rounding of a year's days to that step


def prefix(daily: np.ndarray) -> np.ndarray:
    """Running sum of daily values (to the next 4e-9) with a leading zero, shape (N + 1,)."""
    out = np.empty(daily.size + 1)
    out[0] = 0.0
    np.multiply(daily, 1.0 / _STEP, out=out[1:])
    np.rint(out[1:], out=out[1:])
    np.cumsum(out[1:], out=out[1:])
    out *= _STEP
    return out


def stepped(amount: float | np.ndarray) -> float | np.ndarray:
    """An amount that a running sum is to grow by, to the same step, so that adding it is exact as well."""
    return np.rint(np.multiply(amount, 1.0 / _STEP)) * _STEP


def place_in(total: np.ndarray, target: np.ndarray, side: str = "left") -> np.ndarray:
    """`numpy.searchsorted`, three times as fast where the targets rise (as start days make them do).

    Two sorted runs are merged in one go by a stable sort (timsort), where a search would halve its way to each
    target anew; targets that do not rise are searched for.
    """
    n = target.size
    if not (target[1:] >= target[:-1]).all():
        return np.searchsorted(total, target, side=side)  # type: ignore[call-overload]
    if side == "left":  # a target comes before the equal entries of the total
        place = np.flatnonzero(np.concatenate([target, total]).argsort(kind="stable") < n)
    else:
        place = np.flatnonzero(np.concatenate([total, target]).argsort(kind="stable") >= total.size)
    return place - np.arange(n)


def day_reached(total: np.ndarray, start: np.ndarray, need: float | np.ndarray) -> np.ndarray:
    """First day by whose end a prefix has grown by `need` since the beginning of day `start`.

    Returns
    -------
    numpy.ndarray of int
        Day index; N (one past the last day) where the record ends first.
    """
    target = total[start] + stepped(np.subtract(need, _TIE))
    return np.maximum(place_in(total, target) - 1, start)


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
        levels = [np.append(daily, np.inf)]
        width = 1
        while 2 * width <= daily.size:
            last = levels[-1]
            level = last.copy()
            np.minimum(last[:-width], last[width:], out=level[: last.size - width])
            levels.append(level)
            width *= 2
        self._table = np.concatenate(levels)
        # for each length of a span: where its level begins in the table, and how long that level's blocks are
        self._level = np.zeros(daily.size + 2, dtype=np.int32)
        self._block = np.ones(daily.size + 2, dtype=np.int32)
        for k in range(1, len(levels)):
            self._level[2**k :] = k * (daily.size + 1)
            self._block[2**k :] = 2**k

    @property
    def nbytes(self) -> int:
        """Bytes held, as arrays tell theirs."""
        return self._table.nbytes + self._level.nbytes + self._block.nbytes

    def __call__(self, i: np.ndarray, j: np.ndarray) -> np.ndarray:
        """Minimum over days i to j - 1; +inf where the span is empty."""
        length = np.maximum(j - i, 0)
        level = self._level.take(length)
        first = self._table.take(level + i)
        second = self._table.take(level + np.maximum(j - self._block.take(length), i))
        return np.where(length > 0, np.minimum(first, second), np.inf)


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


def survival_of_runs(alive: np.ndarray, length: int = RUN) -> tuple[float, int]:
    """Share of runs of consecutive decided years that are survived, and the number of runs.

    Parameters
    ----------
    alive : numpy.ndarray
        Share of plants that live through each year, NaN where undecided.
    length : int
        Years in a row; shortened to the record where that is shorter.
    """
    length = min(length, alive.size)
    if length == 0:
        return float("nan"), 0
    # what lived through the worst year of a run lives through the rest: the same plants meet the same limit each year
    worst = np.minimum.reduce([alive[k : alive.size - length + 1 + k] for k in range(length)])
    worst = worst[np.isfinite(worst)]  # NaN where a year of the run is undecided
    return (float((worst >= HALF_LIVE).mean()), worst.size) if worst.size else (float("nan"), 0)


def flowers_killed(lowest: np.ndarray, kill_10: float, kill_90: float) -> np.ndarray:
    """Share of flowers that a night kills: a tenth and nine tenths at the two limits, none a degree above."""
    killed = np.minimum(0.1 + 0.8 * (kill_10 - lowest) / max(kill_10 - kill_90, 0.1), 1.0)
    return np.where(lowest > kill_10, 0.1 * np.maximum(1.0 - (lowest - kill_10), 0.0), killed)


def chill_row(crop: Crop) -> Chill | None:
    """The requirement that the rating uses; it is judged only in the model it was published in."""
    return next((c for c in crop.chill if c.used == "yes"), None)


def chill_ends(need: Chill) -> tuple[float, float]:
    """Kind and harsh end of what its least demanding sort needs; of a row that does not say, the range of its sorts."""
    return (
        (need.judged_low, need.judged_high)
        if known(need.judged_low, need.judged_high)
        else (need.need_low, need.need_high)
    )


def chill_needed(crop: Crop) -> float:
    """Chill that the crop is judged at, between the ends of what is known of its least demanding sort; NaN for none."""
    need = chill_row(crop)
    if need is None or not chill_ends(need)[1] > 0:
        return float("nan")
    low, high = chill_ends(need)
    return low + crop.chill_end * (high - low)
