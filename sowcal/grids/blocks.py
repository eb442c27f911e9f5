"""How a grid is cut into blocks of cells: over space only, each with its whole record."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

from sowcal.weather.grid_file import Grid

__all__ = ["Block", "block_size", "blocks_of"]

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
