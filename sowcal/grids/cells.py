"""Some cells of a grid: their stored values made into days exactly as a single site's record is, and judged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np

from sowcal.answers import days_as_felt
from sowcal.climate.chill import PORTIONS_SEASON, chill_portions
from sowcal.climate.growing_years import growing_years
from sowcal.crops.handbook import Handbook
from sowcal.crops.records import Crop
from sowcal.errors import InputError, NotJudgedError
from sowcal.microclimate.what_ifs import with_what_ifs
from sowcal.seasons.walk import HAZARDS
from sowcal.settings import Settings
from sowcal.suitability.results import CropSeasons, CropVerdict, WayResult, Window
from sowcal.suitability.verdicts import judge_crops
from sowcal.weather.findings import other_hemisphere, summer_excess
from sowcal.weather.names_and_units import Conversion
from sowcal.weather.record import FILLED, POSSIBLE, fill_short_gaps
from sowcal.weather.series import series_dataset

if TYPE_CHECKING:
    import xarray as xr

__all__ = [
    "CLASSES",
    "CROP_FACTS",
    "LAND",
    "LIMITS",
    "OTHER_HALF",
    "REFUSED",
    "SEA",
    "WAYS",
    "Cells",
    "ChillTask",
    "CropTask",
    "Task",
    "chill_years",
    "read_cells",
]

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


# Codes of the flags count from 1 in these orders; the words are those of the verdicts of a single site.
CLASSES = (
    "sound",
    "fair",
    "chancy",
    "thrives",
    "crops with a check",
    "crops, lives briefly",
    "lives, crops poorly",
    "grown as a winter annual",
    "not here",
    "cannot say",
)
WAYS = ("sown outdoors", "set out", "planted")
LIMITS = (*HAZARDS, "chill unmet", "winter too mild", "winter kill", "frost on blossom", "summer kill")
CROP_FACTS = (
    "suitability_class",
    "reliability",
    "best_start_day",
    "window_length",
    "yield_fraction",
    "way",
    "limiting_factor",
)


class Task(Protocol):
    """Something asked of every cell."""

    def __call__(self, cells: Cells) -> dict[str, np.ndarray]:
        """Values by name, the last axis over the cells; NaN in the sea."""

    def fingerprint(self) -> str:
        """Text that differs wherever an answer might."""


@dataclass(frozen=True)
class CropTask:
    """How far some crops suit each cell, and when they are best started."""

    crops: tuple[Crop, ...]
    book: Handbook
    settings: Settings
    what_ifs: tuple[str, ...] = ()

    def __call__(self, cells: Cells) -> dict[str, np.ndarray]:
        """Each of CROP_FACTS, shape (crops, cells)."""
        out = np.full((len(CROP_FACTS), len(self.crops), cells.state.size), np.nan)
        changed = with_what_ifs(cells.dataset(), self.what_ifs)
        for cell in np.flatnonzero(cells.state == LAND):
            try:
                site = days_as_felt(changed.isel(cell=int(cell)), self.settings)
            except NotJudgedError:  # never both temperatures on one day
                continue
            for k, (line, verdict) in enumerate(judge_crops(site, self.crops, self.book, calendar=False)):
                out[:, k, cell] = _facts(line, verdict)
        return dict(zip(CROP_FACTS, out, strict=True))

    def fingerprint(self) -> str:
        """Every value of the crops and of the settings."""
        return repr((self.crops, self.settings, self.what_ifs))


def _facts(line: CropSeasons, verdict: CropVerdict) -> tuple[float, ...]:
    """The figures of one verdict, in the order of CROP_FACTS."""
    found = _best_start(line, verdict)
    day = length = worth = way = np.nan
    if found is not None:
        start, window = found
        day, worth = window.best + 1.0, window.yield_fraction
        way = WAYS.index(start.way) + 1.0 if start.way in WAYS else np.nan
        length = float(sum((w.end - w.start) % 365 + 1 for w in start.windows))
    elif verdict.suitability == "N":
        length = 0.0
    return (
        CLASSES.index(verdict.word) + 1.0,
        np.nan if verdict.reliability is None else verdict.reliability,
        day,
        length,
        worth,
        way,
        LIMITS.index(verdict.limiting_factor) + 1.0 if verdict.limiting_factor else np.nan,
    )


def _best_start(line: CropSeasons, verdict: CropVerdict) -> tuple[WayResult, Window] | None:
    """The window that the verdict rests on and its way; of a perennial, when its stock is planted."""
    window = verdict.evidence.get("window")
    if isinstance(window, Window):
        return next(s for s in line.starts if s.way == verdict.evidence["way"]), window
    return next(((s, w) for s in line.starts for w in (*s.windows, *s.possible)), None)


def chill_years(days: np.ndarray, latitudes: np.ndarray) -> np.ndarray:
    """Years of the springs whose winters a record touches, anywhere on a grid."""
    return growing_years(days, latitudes, span=PORTIONS_SEASON, shift=1)


@dataclass(frozen=True)
class ChillTask:
    """Chill portions of every winter."""

    years: tuple[int, ...]
    most_missing: float

    def __call__(self, cells: Cells) -> dict[str, np.ndarray]:
        """`chill_portions`, shape (years, cells), and their 10th and 50th percentiles over the years, (cells,)."""
        out = np.full((len(self.years), cells.state.size), np.nan)
        land = np.flatnonzero(cells.state == LAND)
        if land.size:
            latitude = cells.latitude[land]
            portions = chill_portions(
                cells.tasmin[land],
                cells.tasmax[land],
                time=cells.days,
                latitude=latitude,
                most_missing=self.most_missing,
            )
            rows = np.searchsorted(self.years, chill_years(cells.days, latitude))
            out[np.ix_(rows, land)] = portions.T
        low, middle = np.full((2, cells.state.size), np.nan)
        some = np.isfinite(out).any(axis=0)
        if some.any():
            low[some], middle[some] = np.nanpercentile(out[:, some], [10, 50], axis=0)
        return {"chill_portions": out, "chill_portions_low": low, "chill_portions_middle": middle}

    def fingerprint(self) -> str:
        """Years and rule on missing days."""
        return repr(self)
