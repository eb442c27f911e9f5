"""How long the same water takes by hand, and from which week on that stops being reasonable."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

__all__ = ["REASONABLE", "HandWatering", "hand_watering"]

REASONABLE = 30.0  # minutes a day, all summer long: common practice, no source
_CAN = 10.0  # litres, a common watering can
_CAN_MINUTES = 2.5  # to fill, carry and pour out two cans a walk, for each can: common practice, no source


@dataclass(frozen=True, slots=True)
class HandWatering:
    """Minutes a day by week of the year, shape (weeks,), and the first week over the limit, from 1."""

    can: np.ndarray
    hose: np.ndarray
    can_stops: int | None
    hose_stops: int | None


def _first(minutes: np.ndarray, limit: float) -> int | None:
    over = np.flatnonzero(minutes > limit)
    return int(over[0]) + 1 if over.size else None


def hand_watering(weekly: np.ndarray, hose: float, limit: float = REASONABLE) -> HandWatering:
    """Minutes a day for weekly litres.

    Parameters
    ----------
    weekly : array_like
        Litres a week.
    hose : float
        Flow of the hose, l min-1.
    limit : float
        Minutes a day that are still reasonable.
    """
    daily = np.asarray(weekly, dtype=float) / 7.0
    can = daily / _CAN * _CAN_MINUTES
    by_hose = daily / hose
    return HandWatering(can, by_hose, _first(can, limit), _first(by_hose, limit))
