"""What a NetCDF file or Zarr store may claim of itself before any of its values is read.

A header of a few bytes can promise any number of cells, and a packed block can unpack to any size. What is promised
is held against what the file could hold, so that a damaged or hostile file costs neither memory nor time.
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sowcal.errors import InputError
from sowcal.weather.whole_file import file_bytes, size_words

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["check_claims", "check_store"]

_MOST_ON_AXIS = 5_000_000  # values of a coordinate, which is read whole: 500 years of hours
_MOST_IN_TABLE = 50_000_000  # values of a coordinate over two axes: a grid of 7000 by 7000
_MOST_OF_BLOCK = 500_000_000  # bytes that are unpacked at once
# Days over a land mask pack some 20 to 60 times smaller; zlib reaches a thousand, unwritten blocks any number.
_CLAIM_IN_VIEW, _MOST_PACKED = 2_000_000_000, 150
# Everything above: common practice, no source.
_MOST_DESCRIPTION, _MOST_FILES = 4_000_000, 200_000
_DESCRIPTIONS = (".zattrs", ".zarray", ".zgroup", ".zmetadata", "zarr.json")


def check_claims(variables: xr.Dataset | Any, size: int, where: str) -> None:
    """Raise `InputError` where a file claims what it cannot hold.

    Parameters
    ----------
    variables : mapping of str to xarray.Variable
        As a store gives them, not read.
    size : int
        Bytes of the file, or of all files of the store.
    where : str
        File named in errors.
    """
    for name, variable in variables.items():
        shape = tuple(int(n) for n in variable.shape)
        cells = math.prod(shape)
        if len(set(variable.dims)) < len(variable.dims):
            raise InputError(f"it cannot be read; {str(name)[:60]!r} has a dimension twice", where=where)
        if min(shape, default=1) < 0:
            raise InputError(f"it cannot be read; the size of {str(name)[:60]!r} is damaged", where=where)
        if variable.dims == (name,) and cells > _MOST_ON_AXIS:
            raise InputError(f"its axis {str(name)[:60]!r} claims {cells:.3g} values, which no record has", where=where)
        if len(shape) < 3 and cells > _MOST_IN_TABLE:
            raise InputError(f"its table {str(name)[:60]!r} claims {cells:.3g} values, which no grid has", where=where)
        width = max(int(getattr(variable.dtype, "itemsize", 8)), 1)
        claimed = cells * width
        if claimed > _CLAIM_IN_VIEW and claimed > _MOST_PACKED * size:
            raise InputError(
                f"{str(name)[:60]!r} claims {cells:.3g} values ({size_words(claimed)}) in a file of "
                f"{size_words(size)}; it is damaged or holds nothing",
                where=where,
            )
        block = _block(variable.encoding, shape) * width
        if block > _MOST_OF_BLOCK:
            raise InputError(
                f"{str(name)[:60]!r} lies in blocks of {size_words(block)}, more than are unpacked at once "
                f"({size_words(_MOST_OF_BLOCK)}); chunk it smaller",
                where=where,
            )


def _block(encoding: dict[str, Any], shape: tuple[int, ...]) -> int:
    """Cells that are unpacked together; 0 where the file lies open."""
    chunks = encoding.get("shards") or encoding.get("chunks") or encoding.get("chunksizes")
    if not chunks or len(chunks) != len(shape):
        return 0
    return math.prod(int(c) for c in chunks)


def check_store(path: Path) -> int:
    """Bytes of a Zarr store; raises `InputError` for one whose description is absurd or asks for unsafe unpacking."""
    size = 0
    for number, one in enumerate(path.rglob("*"), 1):
        if number > _MOST_FILES:
            raise InputError(f"the store has more than {_MOST_FILES:,} files; chunk it larger", where=str(path))
        if not one.is_file():
            if one.is_dir():
                continue
            raise InputError("it holds a pipe, a device or a link to nothing", where=str(one))
        size += one.stat().st_size
        if one.name in _DESCRIPTIONS:
            _check_description(one)
    return size


def _check_description(path: Path) -> None:
    try:
        described = json.loads(file_bytes(path, _MOST_DESCRIPTION, "description of a Zarr store"))
    except (ValueError, RecursionError):
        raise InputError("the description of the Zarr store is damaged", where=str(path)) from None
    waiting = [described]
    while waiting:
        one = waiting.pop()
        if isinstance(one, dict):
            codec = str(one.get("id", one.get("name", "")))
            # such blocks are programs: unpacking one runs it
            if "pickle" in codec.lower():
                raise InputError("its blocks are pickled, which is never unpacked; write it without", where=str(path))
            waiting.extend(one.values())
        elif isinstance(one, list):
            waiting.extend(one)
