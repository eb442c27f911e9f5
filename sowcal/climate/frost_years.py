"""The span free of frost in each year of a record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from sowcal.climate.growing_years import AUTUMN_HALF, SPRING_HALF, growing_years

__all__ = ["FrostYear", "frost_years"]

_JULY = 181  # day of the year of 1 July


@dataclass(frozen=True)
class FrostYear:
    """Last frost before midsummer and first frost after it, days of the year from 0; None is no frost in that half.

    Attributes
    ----------
    year : int
        Calendar year of the spring; in the south the autumn frost falls in the year after.
    last_spring_frost, first_autumn_frost : int or None
    """

    year: int
    last_spring_frost: int | None
    first_autumn_frost: int | None

    def span(self, south: bool) -> tuple[int, int]:
        """First and last day free of frost, between one midwinter (1 January; 1 July in the south) and the next."""
        winter = _JULY if south else 0
        first = winter if self.last_spring_frost is None else self.last_spring_frost + 1
        last = winter - 1 if self.first_autumn_frost is None else self.first_autumn_frost - 1
        return first % 365, last % 365


def frost_years(spring: np.ndarray, autumn: np.ndarray, *, time: Any, latitude: float) -> tuple[FrostYear, ...]:
    """Years of which both halves are known, in their order.

    Parameters
    ----------
    spring, autumn : numpy.ndarray
        Results of `last_spring_frost` and `first_autumn_frost` of one site.
    time : array_like of datetime64
        Dates of the record.
    latitude : float
        Degrees, south negative.
    """
    labels = (growing_years(time, latitude, span=half) for half in (SPRING_HALF, AUTUMN_HALF))
    last, first = (
        {int(y): float(d) for y, d in zip(years, days, strict=True) if not np.isnan(d)}
        for years, days in zip(labels, (spring, autumn), strict=True)
    )
    return tuple(FrostYear(year, _day(last[year]), _day(first[year])) for year in sorted(last.keys() & first.keys()))


def _day(day: float) -> int | None:
    """From a day counted from 1 to one from 0; None for never."""
    return int(day) - 1 if np.isfinite(day) else None
