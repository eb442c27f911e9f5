"""How a record's seasons change over the years."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.weather.offset import SEASONS

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["Trend", "trends"]

_FEWEST_YEARS = 10  # below which a slope says nothing: common practice
_WHOLE = 0.8  # share of a season's days that must be known: common practice
_LENGTHS = np.array([90, 92, 92, 91])  # days, of `SEASONS`


@dataclass(frozen=True, slots=True)
class Trend:
    """A season's change.

    Attributes
    ----------
    variable, season : str
    years : int
        Years that have the season.
    first, last : int
        First and last of them; December counts to the year after.
    per_decade, low, high : float
        Slope and its 95 per cent interval, K (or mm day-1) in ten years.
    """

    variable: str
    season: str
    years: int
    first: int
    last: int
    per_decade: float
    low: float
    high: float

    @property
    def clear(self) -> bool:
        """Whether the interval leaves out zero."""
        return self.low > 0.0 or self.high < 0.0

    def to_json(self) -> dict[str, Any]:
        """Plain form."""
        return {
            "variable": self.variable,
            "season": self.season,
            "years": self.years,
            "from": self.first,
            "to": self.last,
            "per_decade": round(self.per_decade, 3),
            "interval": [round(self.low, 3), round(self.high, 3)],
        }


def trends(dataset: xr.Dataset, variables: tuple[str, ...] = ("tasmin", "tasmax")) -> list[Trend]:
    """Theil-Sen slopes of the seasonal means.

    Parameters
    ----------
    dataset : xarray.Dataset
        In the form of `daily_dataset`.
    variables : tuple of str

    Returns
    -------
    list of Trend
        Of the four seasons and 'all year'; those with fewer than ten years are left out. Slope and interval by
        `scipy.stats.theilslopes` (Sen 1968, J. Am. Stat. Assoc. 63, 1379-1389).
    """
    from scipy.stats import theilslopes

    days = dataset["time"].values.astype("datetime64[D]")
    number = days.astype("datetime64[M]").astype(int) + 1  # December opens the next year's winter
    season, year = number % 12 // 3, 1970 + number // 12
    years = np.arange(year.min(), year.max() + 1)
    out = []
    for name in variables:
        values = dataset[name].values
        table = np.full((years.size, 5), np.nan)
        for k in range(4):
            these = (season == k) & np.isfinite(values)
            count = np.bincount(year[these] - years[0], minlength=years.size)
            total = np.bincount(year[these] - years[0], values[these], minlength=years.size)
            with np.errstate(invalid="ignore", divide="ignore"):
                table[:, k] = np.where(count >= _WHOLE * _LENGTHS[k], total / count, np.nan)
        table[:, 4] = table[:, :4] @ _LENGTHS / _LENGTHS.sum()
        for k, words in enumerate((*SEASONS, "all year")):
            known = np.isfinite(table[:, k])
            if known.sum() < _FEWEST_YEARS:
                continue
            slope, _, low, high = theilslopes(table[known, k], years[known], alpha=0.95)
            ten = (10.0 * float(v) for v in (slope, low, high))
            out.append(Trend(name, words, int(known.sum()), int(years[known][0]), int(years[known][-1]), *ten))
    return out
