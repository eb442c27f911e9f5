"""A grid's cells in blocks: how they are cut, judged one by one, and shared out among worker processes."""

from __future__ import annotations

import logging
import os
import signal
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from sowcal.answers import days_as_felt
from sowcal.climate.chill import PORTIONS_SEASON, chill_portions
from sowcal.climate.growing_years import growing_years
from sowcal.crops.handbook import Handbook
from sowcal.crops.tables import Crop
from sowcal.errors import InputError, NetworkError, NotJudgedError
from sowcal.microclimate import with_what_ifs
from sowcal.seasons.walk import HAZARDS
from sowcal.settings import Settings
from sowcal.suitability.results import CropSeasons, CropVerdict, WayResult, Window
from sowcal.suitability.verdicts import judge_crops
from sowcal.weather.filling import fill_short_gaps
from sowcal.weather.findings import other_hemisphere, summer_excess
from sowcal.weather.names_and_units import Conversion
from sowcal.weather.record import FILLED, MISSING, OBSERVED, POSSIBLE, DailyRecord
from sowcal.weather.series import series_record

if TYPE_CHECKING:
    pass

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
    "workers",
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

    def record(self, cell: int) -> DailyRecord:
        """One cell's days, as a single site's."""
        values = {"tasmin": self.tasmin[cell], "tasmax": self.tasmax[cell]}
        origin = {name: np.where(np.isnan(a), MISSING, OBSERVED) for name, a in values.items()}
        return DailyRecord(self.days, values, origin, float(self.latitude[cell]))


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
    record = series_record(series, where="cell")
    if longest_gap > 0:
        record = fill_short_gaps(record, longest_gap)
    filled = (record.origin["tasmin"] == FILLED) | (record.origin["tasmax"] == FILLED)
    return record["tasmin"], record["tasmax"], int(filled.sum())


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
LIMITS = (*HAZARDS, "chill unmet", "winter too mild", "winter kill", "frost on blossom", "summer kill", "wet spring")
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
        for cell in np.flatnonzero(cells.state == LAND):
            try:
                site = days_as_felt(with_what_ifs(cells.record(int(cell)), self.what_ifs), self.settings)
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


_PATIENCE = 15  # seconds until a cluster that does not answer is given up

# What the C library of Linux (glibc) reads as a process begins, bytes; elsewhere they change nothing. The arrays of one
# site are some 90 kB each, those of a block of cells some megabytes, and they live for milliseconds. Left to itself the
# library maps large ones one by one and hands back what lies free, and `distributed` starts its workers with 64 kB that
# may lie free: they spent two fifths of their time on having the same pages cleared again. 32 MiB is the most that the
# first takes (mallopt(3)); common practice, no source.
_ALLOCATOR = {"MALLOC_MMAP_THRESHOLD_": 32 * 2**20, "MALLOC_TRIM_THRESHOLD_": 64 * 2**20}
_SPAWNED_WITH = "distributed.nanny.pre-spawn-environ"


@contextmanager
def workers(count: int, address: str | None = None) -> Iterator[None]:
    """Within it, grids are worked out by so many processes, or by the cluster at an address.

    Parameters
    ----------
    count : int
        1 works in this process. With more, a worker that dies is replaced and its blocks are worked out again, where
        `distributed` is installed.
    address : str, optional
        Of a dask scheduler, such as 'tcp://10.0.0.5:8786'.

    Raises
    ------
    InputError
        For fewer than one worker, or an address without `distributed` installed.
    NetworkError
        For a cluster that does not answer.
    """
    import dask

    if count < 1:
        raise InputError(f"{count} workers do nothing; give 1 or more", where="--workers")
    if address is not None:
        if find_spec("distributed") is None:
            raise InputError("a cluster needs the package distributed; install it with: pip install 'sowcal[grid]'")
        with _cluster(address):
            yield
    elif count == 1:
        with dask.config.set(scheduler="synchronous"):
            yield
    elif find_spec("distributed") is None:
        from concurrent.futures import ProcessPoolExecutor
        from multiprocessing import get_context

        with (
            ProcessPoolExecutor(count, mp_context=get_context("spawn"), initializer=_leave_interrupts) as pool,
            dask.config.set(scheduler="processes", pool=pool),
        ):
            yield
    else:
        with _own_cluster(count):
            yield


@contextmanager
def _own_cluster(count: int) -> Iterator[None]:
    """So many processes on this computer, started with an environment of their own."""
    import dask
    from distributed import Client, LocalCluster, WorkerPlugin

    class Quiet(WorkerPlugin):
        """Workers started later, in the place of dead ones, are set up by it too."""

        def setup(self, worker: Any) -> None:
            _leave_interrupts()

    given = {**dask.config.get(_SPAWNED_WITH, {}), **_ALLOCATOR}  # what the user set in the environment goes before
    before = dict(os.environ)  # `distributed` writes all of it into the environment of this process too, and leaves it
    try:
        with (  # port 0: any that is free, so that two maps can be worked out at once
            dask.config.set({_SPAWNED_WITH: given}),
            LocalCluster(
                n_workers=count, threads_per_worker=1, dashboard_address="127.0.0.1:0", silence_logs=logging.CRITICAL
            ) as cluster,
            Client(cluster) as client,
        ):
            client.register_plugin(Quiet(), name="quiet")
            yield
    finally:
        for name in os.environ.keys() - before.keys():
            del os.environ[name]
        os.environ.update(before)


def _leave_interrupts() -> None:
    """Leave Ctrl-C, which reaches every process of a terminal, to the one that was started from it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


@contextmanager
def _cluster(address: str) -> Iterator[None]:
    from distributed import Client

    try:
        client = Client(address, timeout=_PATIENCE)
    except (OSError, TimeoutError, ValueError) as problem:
        said = " ".join(str(problem).split())[:120] or type(problem).__name__
        raise NetworkError(f"no dask cluster answers at {address!r} ({said})", where="--cluster") from None
    with client:
        yield
