"""Short names for what an answer over a grid rests on.

One covers everything that the answer depends on, code and file included, so that finished blocks are never mixed up.
The other covers the days alone and goes with the map, as the fingerprint of a record goes with the chart of a site.
"""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.resources import files
from pathlib import Path

import numpy as np

import sowcal
from sowcal.grids.cells import SEA, Cells
from sowcal.grids.tasks import Task
from sowcal.made_by import fingerprint_of
from sowcal.weather.fingerprint import steps_of
from sowcal.weather.grid_file import Grid

__all__ = ["digests_of_cells", "fingerprint", "grid_record_fingerprint"]

_DIGITS = 13  # hexadecimal; what a double holds to the last digit, as finished blocks are kept as doubles


def fingerprint(grid: Grid, task: Task, longest_gap: int) -> str:
    """Hexadecimal digest of the grid, what is asked of it, and the code that answers.

    A file counts by its place, size and time of last change (a Zarr store by those of all its files), not by its
    bytes: reading a large grid twice would cost more than it saves.
    """
    digest = hashlib.blake2b(digest_size=16)
    for part in (_code(), np.__version__, repr((grid.conversions, longest_gap)), task.fingerprint()):
        digest.update(part.encode())
        digest.update(b"\0")
    for array in (grid.days.astype("int64"), grid.latitude.values, grid.longitude.values):
        digest.update(repr(array.shape).encode() + np.ascontiguousarray(array).tobytes())
    digest.update(_content(grid).encode())
    return digest.hexdigest()


def digests_of_cells(cells: Cells) -> np.ndarray:
    """A digest of the days of each cell as they are judged, the same whatever block it was in; 0 in the sea.

    Returns
    -------
    numpy.ndarray of float
        Whole numbers, shape (cells,).
    """
    days = cells.days.astype("<i8").tobytes()
    out = np.zeros(cells.state.size)
    for k in np.flatnonzero(cells.state != SEA):
        parts = [days, steps_of(cells.latitude[k]), steps_of(cells.tasmin[k]), steps_of(cells.tasmax[k])]
        out[k] = int(fingerprint_of(parts)[:_DIGITS], 16)
    return out


def grid_record_fingerprint(digests: np.ndarray) -> str:
    """Fingerprint of all days of a grid from the digests of its cells, shape (y, x); 16 hexadecimal digits."""
    return fingerprint_of([repr(digests.shape).encode(), digests.astype("<i8").tobytes()])


def _content(grid: Grid) -> str:
    if grid.path is None:
        from dask.base import tokenize

        return tokenize(grid.tasmin.variable, grid.tasmax.variable)
    path = grid.path.resolve()
    names = f"{grid.tasmin.encoding.get('source')}{grid.tasmin.attrs}{grid.tasmax.attrs}"
    inside = sorted(p for p in path.rglob("*") if p.is_file()) if path.is_dir() else [path]
    return names + repr([(str(p), p.stat().st_size, p.stat().st_mtime_ns) for p in inside])


@cache
def _code() -> str:
    """Version and source of the package, so that a changed engine begins anew even under the same version."""
    digest = hashlib.blake2b(sowcal.__version__.encode(), digest_size=16)
    root = files("sowcal")
    if isinstance(root, Path):
        for module in sorted(root.rglob("*.py")):
            digest.update(module.read_bytes())
    return digest.hexdigest()
