"""How a row of the benchmark is measured: medians side by side, added memory, and the form of a row."""

from __future__ import annotations

import gc
import math
import statistics
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

__all__ = ["FULL", "QUICK", "SMALLEST", "Row", "Size", "added_memory", "processor_seconds", "side_by_side"]

_LEAST_SECONDS = 0.05


@dataclass(frozen=True)
class Size:
    """How much is measured.

    Attributes
    ----------
    years : int
        Years of the record, of 30.
    crops : (int, int)
        Many and few crops.
    starts : int
        Start days walked by the practitioner's loop, of 365.
    calls : int
        Calls of the other library that are scaled to all crops and start days.
    sites : tuple of int
        Numbers of sites for chill and degree days.
    memory_sites : int
        Sites for which added memory is taken.
    grid : (int, int, int)
        Rows, columns and years of the grid of degree days.
    chill_grid, crops_grid : (int, int)
        Rows and columns of the grids that are worked out by workers, with all years.
    grid_crops : int
        Crops over the second, of 12.
    repeats : int
        Times that a piece of work is done for its median; the slow ones a third of it.
    processes : int
        Times that a whole process is run for its median.
    """

    years: int
    crops: tuple[int, int]
    starts: int
    calls: int
    sites: tuple[int, ...]
    memory_sites: int
    grid: tuple[int, int, int]
    chill_grid: tuple[int, int]
    crops_grid: tuple[int, int]
    grid_crops: int
    repeats: int
    processes: int


FULL = Size(30, (120, 15), 365, 40, (1, 10, 100), 10, (100, 100, 5), (100, 100), (40, 40), 12, 9, 7)
QUICK = Size(30, (120, 15), 60, 8, (1, 10), 1, (30, 30, 5), (20, 20), (10, 10), 12, 5, 3)
SMALLEST = Size(4, (12, 3), 10, 2, (1,), 1, (2, 3, 2), (4, 6), (4, 6), 2, 1, 1)


@dataclass(frozen=True)
class Row:
    """One line of the table.

    `ratio` is theirs over ours where the goal is a least one (so many times as fast), ours over theirs where it
    is a greatest one.
    """

    work: str
    against: str
    here: float
    there: float
    least: float | None = None
    most: float | None = None
    unit: str = "s"

    @property
    def ratio(self) -> float:
        """How the two compare, in the sense of the goal."""
        return self.there / self.here if self.least is not None else self.here / self.there

    @property
    def goal(self) -> str:
        """The goal in words."""
        return f">= {self.least:,g}" if self.least is not None else f"<= {self.most:,g}"

    @property
    def met(self) -> bool:
        """Whether the goal is reached."""
        return self.ratio >= self.least if self.least is not None else self.ratio <= (self.most or 0.0)

    def to_json(self) -> dict[str, Any]:
        """The row as programs read it."""
        return {
            "work": self.work,
            "against": self.against,
            "ratio": float(f"{self.ratio:.4g}"),
            "goal": self.goal,
            "met": self.met,
        }


def processor_seconds() -> float:
    """Processor time of this process and of those it has started and seen end, where the system tells."""
    try:
        import resource
    except ImportError:
        return time.process_time()
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + ended.ru_utime + ended.ru_stime


def side_by_side(*works: Callable[[], Any], repeats: int, warm_up: bool = True) -> list[float]:
    """Median processor seconds of each work, done in turn so that whatever else the machine does falls on all alike.

    None of the works rests or works in parallel, so that on a machine of its own it takes as long by the clock. A short
    work is done again and again until it has taken `_LEAST_SECONDS`, whichever library does it: of a millisecond one
    would measure what the work before it has left in the processor's cache.
    """
    rounds = [1] * len(works)
    if warm_up:
        for k, work in enumerate(works):
            for _ in range(2):  # the first may load what it needs
                begin = processor_seconds()
                work()
                rounds[k] = math.ceil(_LEAST_SECONDS / max(processor_seconds() - begin, 1e-5))
                if rounds[k] == 1:
                    break
    taken: list[list[float]] = [[] for _ in works]
    for _ in range(max(repeats, 1)):
        for work, times, again in zip(works, taken, rounds, strict=True):
            gc.collect()
            begin = processor_seconds()
            for _ in range(again):
                work()
            times.append((processor_seconds() - begin) / again)
    return [statistics.median(times) for times in taken]


def added_memory(work: Callable[[], Any]) -> float:
    """Greatest memory that a work holds beyond what was held before it, bytes (arrays of numpy are counted)."""
    gc.collect()
    tracemalloc.start()
    try:
        before, _ = tracemalloc.get_traced_memory()
        tracemalloc.reset_peak()
        work()
        return float(tracemalloc.get_traced_memory()[1] - before)
    finally:
        tracemalloc.stop()
