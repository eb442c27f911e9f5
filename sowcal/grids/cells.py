"""From the stored values of some cells to days of each, exactly as a single site's record is read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sowcal.errors import InputError
from sowcal.weather.cf_names import Conversion
from sowcal.weather.dataset import FILLED, fill_short_gaps
from sowcal.weather.hemisphere import other_hemisphere, summer_excess
from sowcal.weather.limits import POSSIBLE
from sowcal.weather.series import series_dataset

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["LAND", "OTHER_HALF", "REFUSED", "SEA", "Cells", "read_cells"]

LAND, SEA, REFUSED, OTHER_HALF = 0, 1, 2, 3


@dataclass(frozen=True)
class Cells:
    """Days of some cells.

    Attributes
    ----------
    tasmin, tasmax : numpy.ndarray
        Shape (cells, N), degC, NaN where missing; each row lies together in memory, as that of a single site.
    latitude : numpy.ndarray
        Shape (cells,).
    days : numpy.ndarray
        Dates, shape (N,).
    state : numpy.ndarray of int8
        LAND where there is a record, SEA where there is no value at all, REFUSED where a single site would be
        refused for too many impossible values, OTHER_HALF where it would be as its seasons are those of the other
        hemisphere. Shape (cells,).
    filled : numpy.ndarray of int
        Days of which a temperature was filled, not measured. Shape (cells,).
    """

    tasmin: np.ndarray
    tasmax: np.ndarray
    latitude: np.ndarray
    days: np.ndarray
    state: np.ndarray
    filled: np.ndarray

    def dataset(self) -> xr.Dataset:
        """As a dataset with the dimensions ('cell', 'time'), for changes to what the plant feels."""
        import xarray as xr

        return xr.Dataset(
            {"tasmin": (("cell", "time"), self.tasmin), "tasmax": (("cell", "time"), self.tasmax)},
            {"time": self.days.astype("datetime64[ns]"), "latitude": ("cell", self.latitude)},
        )


def read_cells(
    tasmin: np.ndarray,
    tasmax: np.ndarray,
    latitude: np.ndarray,
    days: np.ndarray,
    conversions: Mapping[str, Conversion],
    longest_gap: int,
) -> Cells:
    """Put stored values in order: internal units, what cannot be set to missing, short gaps filled.

    Parameters
    ----------
    tasmin, tasmax : numpy.ndarray
        As stored, shape (N, y, x).
    latitude : numpy.ndarray
        Shape (y, x).
    days : numpy.ndarray
        Dates, shape (N,).
    conversions : mapping
        To degC, of each variable.
    longest_gap : int
        Gaps of up to so many days are filled; see `fill_short_gaps`.

    Returns
    -------
    Cells
        Row by row of the block.
    """
    size = days.size
    low, high = (
        np.ascontiguousarray(conversions[name](stored.reshape(size, -1).T))
        for name, stored in (("tasmin", tasmin), ("tasmax", tasmax))
    )
    state = np.zeros(low.shape[0], dtype=np.int8)
    state[~(np.isfinite(low).any(axis=1) & np.isfinite(high).any(axis=1))] = SEA
    filled = np.zeros(low.shape[0], dtype=int)
    for cell in np.flatnonzero((state == LAND) & ~_sound(low, high)):
        try:
            low[cell], high[cell], filled[cell] = _mended(low[cell], high[cell], days, longest_gap)
        except InputError:
            state[cell] = REFUSED
    place = latitude.reshape(-1)
    state[(state == LAND) & other_hemisphere(summer_excess(low, high, days), place)] = OTHER_HALF
    return Cells(low, high, place, days, state, filled)


def _sound(low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """Cells whose every value is there and can be; NaN compares as False."""
    out: np.ndarray = np.all(low <= high, axis=1)
    for name, values in (("tasmin", low), ("tasmax", high)):
        least, most = POSSIBLE[name]
        out &= ((values >= least) & (values <= most)).all(axis=1)
    return out


def _mended(
    low: np.ndarray, high: np.ndarray, days: np.ndarray, longest_gap: int
) -> tuple[np.ndarray, np.ndarray, int]:
    """One cell read by the very functions that read a single site, and how many of its days are filled."""
    series = {"tasmin": (days, low.copy()), "tasmax": (days, high.copy())}
    dataset = series_dataset(series, where="cell")
    if longest_gap > 0:
        dataset = fill_short_gaps(dataset, longest_gap)
    filled = (dataset["tasmin_origin"].values == FILLED) | (dataset["tasmax_origin"].values == FILLED)
    return dataset["tasmin"].values, dataset["tasmax"].values, int(filled.sum())
