"""What is asked of each block of cells, answered by the functions that answer for a single site."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from sowcal.answers import days_as_felt
from sowcal.climate.chill import PORTIONS_SEASON, chill_portions
from sowcal.climate.growing_years import growing_years
from sowcal.crops.handbook import Handbook
from sowcal.crops.records import Crop
from sowcal.errors import NotJudgedError
from sowcal.grids.cells import LAND, Cells
from sowcal.microclimate.what_ifs import with_what_ifs
from sowcal.seasons.settings import Settings
from sowcal.seasons.walk import HAZARDS
from sowcal.suitability.judge import judge_crops
from sowcal.suitability.results import CropSeasons, CropVerdict, WayResult, Window

__all__ = ["CLASSES", "CROP_FACTS", "LIMITS", "WAYS", "ChillTask", "CropTask", "Task", "chill_years"]

# Codes of the flags count from 1 in these orders; the words are those of DESIGN section 14.
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
