"""A grid cut into blocks, their work run and kept, and short names for what an answer over a grid rests on.

One name covers everything that the answer depends on, code and file included, so that finished blocks are never mixed
up. The other covers the days alone and goes with the map, as the fingerprint of a record goes with the chart of a site.
"""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import BrokenExecutor
from dataclasses import dataclass
from importlib.util import find_spec
from itertools import product
from typing import Any, Protocol

import numpy as np

from sowcal.errors import InputError, NotJudgedError
from sowcal.grids.cells import SEA, Cells, Task, read_cells
from sowcal.provenance import fingerprint_of, source_digest
from sowcal.weather.grid_file import Grid
from sowcal.weather.names_and_units import Conversion
from sowcal.weather.record import steps_of

__all__ = [
    "Block",
    "Kept",
    "Progress",
    "block_size",
    "blocks_of",
    "check_dask",
    "digests_of_cells",
    "fingerprint",
    "grid_record_fingerprint",
    "run_blocks",
]

_DIGITS = 13  # hexadecimal; what a double holds to the last digit, as finished blocks are kept as doubles


def fingerprint(grid: Grid, task: Task, longest_gap: int) -> str:
    """Hexadecimal digest of the grid, what is asked of it, and the code that answers.

    A file counts by its place, size and time of last change (a Zarr store by those of all its files), not by its
    bytes: reading a large grid twice would cost more than it saves.
    """
    digest = hashlib.blake2b(digest_size=16)
    for part in (source_digest(), np.__version__, repr((grid.conversions, longest_gap)), task.fingerprint()):
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


# Tried on two cores: small enough that an interrupted run loses seconds, large enough that dask's own work for a
# block (some milliseconds) does not show.
_CELLS = 64
_CELLS_BY_DAY = 512  # where each block touches every stored map anew, fewer and larger ones
_MOST_BYTES = 256e6  # of both temperatures in double precision


@dataclass(frozen=True)
class Block:
    """A rectangle of cells, ends left out."""

    y: tuple[int, int]
    x: tuple[int, int]

    @property
    def name(self) -> str:
        """For keys and file names."""
        return f"y{self.y[0]:05d}-{self.y[1]:05d}-x{self.x[0]:05d}-{self.x[1]:05d}"

    @property
    def slices(self) -> tuple[slice, slice]:
        """Along y and x."""
        return slice(*self.y), slice(*self.x)


def block_size(grid: Grid, cells: int | None = None) -> tuple[int, int]:
    """Cells of a block along y and x.

    Parameters
    ----------
    grid : Grid
    cells : int, optional
        How many a block should hold at the most; unless told, some 64, and more where the file keeps many cells
        together, so that nothing is unpacked twice.
    """
    (ny, nx), (cy, cx) = grid.shape, grid.stored_chunks
    cy, cx = min(cy, ny), min(cx, nx)
    room = max(int(_MOST_BYTES / (16 * grid.days.size)), 1)
    if cells is not None or grid.day_by_day:
        most = cells if cells is not None else min(_CELLS_BY_DAY, room)
        bx = min(nx, most)
        return min(ny, max(most // bx, 1)), bx
    if cy * cx > _CELLS:  # one stored chunk, or as much of it as there is room for
        by = min(cy, max(room // cx, 1))
        return by, min(cx, room)
    bx = cx * max(min(-(-nx // cx), _CELLS // (cy * cx)), 1)
    by = cy * max(_CELLS // (bx * cy), 1)
    return min(by, ny), min(bx, nx)


def blocks_of(grid: Grid, size: tuple[int, int]) -> Iterator[Block]:
    """Blocks row by row."""
    (ny, nx), (by, bx) = grid.shape, size
    for y, x in product(range(0, ny, by), range(0, nx, bx)):
        yield Block((y, min(y + by, ny)), (x, min(x + bx, nx)))


Values = dict[str, np.ndarray]
Progress = Callable[[int, int, int], None]  # blocks done, all blocks, blocks taken over from an earlier run
STATE, FILLED_DAYS, DIGEST = "state", "filled_days", "digest"


class Kept(Protocol):
    """Where finished blocks are kept until the whole is done."""

    def get(self, name: str) -> Values | None:
        """A block finished before, None where there is none."""

    def put(self, name: str, values: Values) -> None:
        """Keep a finished block, whole or not at all."""


@dataclass(frozen=True)
class _Asked:
    """What all blocks of a run share."""

    task: Task
    days: np.ndarray
    conversions: Mapping[str, Conversion]
    longest_gap: int


class _Sheet:
    """Values over the whole grid, filled block by block; NaN where nothing is."""

    def __init__(self, shape: tuple[int, int]):
        self.shape = shape
        self.values: Values = {}

    def put(self, block: Block, values: Values) -> None:
        for name, array in values.items():
            whole = self.values.setdefault(name, np.full((*array.shape[:-2], *self.shape), np.nan))
            whole[(..., *block.slices)] = array


def check_dask() -> None:
    """Raise `InputError` where dask is not installed."""
    if find_spec("dask") is None:
        raise InputError("maps of a grid need the package dask; install it with: pip install 'sowcal[grid]'")


def run_blocks(
    grid: Grid,
    task: Task,
    *,
    longest_gap: int,
    cells: int | None = None,
    keep: Callable[[str], Kept] | None = None,
    progress: Progress | None = None,
) -> Values:
    """Ask something of every cell of a grid.

    Parameters
    ----------
    grid : Grid
    task : Task
    longest_gap : int
        Gaps of up to so many days are filled.
    cells : int, optional
        Most cells of a block; see `block_size`.
    keep : callable, optional
        From the fingerprint of the run to where its blocks are kept; those found there are not worked out again.
    progress : callable, optional
        Told of every finished block.

    Returns
    -------
    dict of str to numpy.ndarray
        Each (..., y, x); `state` and `filled_days` among them, see `read_cells`, and `digest`, see
        `digests_of_cells`.

    Raises
    ------
    InputError
        For a grid whose values cannot be read, or workers that die over the same block again and again.
    """
    check_dask()
    size = block_size(grid, cells)
    kept = keep(fingerprint(grid, task, longest_gap)) if keep else None
    sheet, waiting, total = _Sheet(grid.shape), [], 0
    for block in blocks_of(grid, size):
        total += 1
        before = kept.get(block.name) if kept else None
        if before is None:
            waiting.append(block)
        else:
            sheet.put(block, before)
    reused = done = total - len(waiting)
    if progress:
        progress(done, total, reused)

    def finished(block: Block, values: Values) -> None:
        nonlocal done
        if kept:
            kept.put(block.name, values)
        sheet.put(block, values)
        done += 1
        if progress:
            progress(done, total, reused)

    if waiting:
        asked = _Asked(task, grid.days, grid.conversions, longest_gap)
        try:
            _compute(_nodes(grid, asked, size, waiting), finished)
        except BrokenExecutor:
            raise NotJudgedError("a worker process died before its block was done; it may lack memory") from None
        except (OSError, RuntimeError, EOFError, zlib.error) as problem:
            said = " ".join(str(problem).split())[:120] or type(problem).__name__
            raise InputError(
                f"its values cannot be read; it may be cut short ({said})",
                where=str(grid.path) if grid.path else None,
            ) from None
    return sheet.values


def _block(asked: _Asked, tasmin: np.ndarray, tasmax: np.ndarray, latitude: np.ndarray) -> Values:
    """What is asked, of one block: stored values (N, y, x) in, values (..., y, x) out."""
    cells = read_cells(
        np.asarray(tasmin), np.asarray(tasmax), latitude, asked.days, asked.conversions, asked.longest_gap
    )
    values = asked.task(cells)
    values[STATE] = cells.state.astype(float)
    values[FILLED_DAYS] = cells.filled.astype(float)
    values[DIGEST] = digests_of_cells(cells)
    return {name: array.reshape(*array.shape[:-1], *latitude.shape) for name, array in values.items()}


def _nodes(grid: Grid, asked: _Asked, size: tuple[int, int], blocks: Iterable[Block]) -> dict[str, tuple[Block, Any]]:
    """A lazy result for each block, by its key in dask's graph."""
    from dask import delayed

    (y, x), (by, bx) = grid.dims, size
    pieces = [a.chunk({"time": -1, y: by, x: bx}).data.to_delayed() for a in (grid.tasmin, grid.tasmax)]
    shared = delayed(asked, traverse=False)
    work = delayed(_block, pure=True)
    latitudes = grid.latitudes()
    out = {}
    for block in blocks:
        at = 0, block.y[0] // by, block.x[0] // bx
        node = work(shared, *(p[at] for p in pieces), latitudes[block.slices])
        out[node.key] = block, node
    return out


def _compute(nodes: dict[str, tuple[Block, Any]], finished: Callable[[Block, Values], None]) -> None:
    """Work through the blocks, on the cluster of a client that is active, else by dask's own scheduler."""
    import dask
    from dask.callbacks import Callback

    client = _active_client()
    if client is not None:
        _compute_on(client, nodes, finished)
        return

    def one_done(key: Any, value: Any, *_: Any) -> None:
        if key in nodes:
            finished(nodes[key][0], value)

    with Callback(posttask=one_done):
        dask.compute(*(node for _, node in nodes.values()))


def _active_client() -> Any:
    """The client of a dask cluster in this program, None where there is none."""
    import sys

    if "distributed" not in sys.modules:
        return None
    from distributed import get_client

    try:
        return get_client()
    except ValueError:
        return None


def _compute_on(client: Any, nodes: dict[str, tuple[Block, Any]], finished: Callable[[Block, Values], None]) -> None:
    """The same on a cluster; what a dead worker held, dask works out again on another."""
    from distributed import as_completed
    from distributed.scheduler import KilledWorker

    futures = client.compute([node for _, node in nodes.values()])
    blocks = {future.key: block for future, (block, _) in zip(futures, nodes.values(), strict=True)}
    try:
        for future, values in as_completed(futures, with_results=True):
            finished(blocks[future.key], values)
            future.release()
    except KilledWorker:
        raise NotJudgedError(
            "the workers died again and again over the same block; they may lack memory, so give fewer of them"
        ) from None
    finally:
        client.cancel(futures)
