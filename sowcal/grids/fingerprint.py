"""One word for everything that an answer over a grid rests on, so that finished blocks are never mixed up."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.resources import files
from pathlib import Path

import numpy as np

import sowcal
from sowcal.grids.tasks import Task
from sowcal.weather.grid_file import Grid

__all__ = ["fingerprint"]


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
