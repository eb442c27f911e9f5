"""The opening rains of every year of a record, with their median and spread."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sowcal.climate.rain import opening_rains

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["OPENING_AFTER", "OPENING_AMOUNT", "OPENING_DAYS", "OPENING_WORDS", "OpeningRains", "rains_by_year"]

OPENING_AMOUNT = 25.0  # mm
OPENING_DAYS = 7
OPENING_AFTER = (8, 15)  # month and day from which rain counts, in the north
OPENING_WORDS = f"the first {OPENING_AMOUNT:g} mm within {OPENING_DAYS} days after late summer"
_LEAST_YEARS = 3  # fewer carry no odds at all


@dataclass(frozen=True)
class OpeningRains:
    """First soaking rain after late summer, days of the year from 0 (1 January); None is never in six months.

    Attributes
    ----------
    years : tuple of (int, int or None)
        Calendar year in which the search begins, and the day.
    p10, p50, p90 : int or None
        Day by which the rains have opened in 10, 50 and 90 per cent of the years.
    """

    years: tuple[tuple[int, int | None], ...]
    p10: int | None
    p50: int | None
    p90: int | None

    @property
    def definition(self) -> str:
        """What counts as opening rains, in words."""
        return OPENING_WORDS


def rains_by_year(dataset: xr.Dataset) -> OpeningRains | None:
    """Opening rains of each year of one site's record; None where it holds less than three such years.

    Parameters
    ----------
    dataset : xarray.Dataset
        One site in the weather form, with or without `pr`.
    """
    if "pr" not in dataset or not np.isfinite(dataset["pr"].values).any():
        return None
    found = opening_rains(
        dataset["pr"],
        amount=OPENING_AMOUNT,
        days=OPENING_DAYS,
        after=OPENING_AFTER,
        latitude=float(dataset["latitude"]),
    )
    day, year = np.asarray(found.values, dtype=float), found["year"].values
    known = ~np.isnan(day)
    if known.sum() < _LEAST_YEARS:
        return None
    # a year without opening rains comes after all others, so ranks are taken and nothing is averaged with never
    ranked = np.quantile(day[known], [0.1, 0.5, 0.9], method="inverted_cdf")
    p10, p50, p90 = (_day_of_year(d) for d in ranked)
    return OpeningRains(
        tuple((int(y), _day_of_year(d)) for y, d in zip(year[known], day[known], strict=True)), p10, p50, p90
    )


def _day_of_year(day: float) -> int | None:
    """From a day counted from 1 on past New Year to one of a 365-day year from 0."""
    return (int(day) - 1) % 365 if np.isfinite(day) else None
