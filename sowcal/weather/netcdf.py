"""Damage in an HDF5 file at which the HDF5 library would turn for ever: found before the file is opened.

Texts of varying length lie in global heaps (HDF5 file format, 'Disk Format: Level 1E - Global Heap', from memory):
'GCOL', version 1, three zeros, the size of the heap, then objects of index (2 bytes), references (2), zeros (4) and
size (8). The library steps from object to object by their sizes. Where a size comes to no step at all it never ends,
and neither Python's signals nor a limit of memory reach it (found by fuzzing; the place told by the stack).
"""

from __future__ import annotations

import json
import math
import mmap
import os
import warnings
from collections.abc import Mapping
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sowcal.errors import InputError
from sowcal.files import file_bytes, opened, size_words
from sowcal.weather.cf_dataset import at_site, record_of_cell
from sowcal.weather.names_and_units import cf_variables

if TYPE_CHECKING:
    import xarray as xr

__all__ = [
    "check_claims",
    "check_store",
    "in_short",
    "is_netcdf",
    "is_zarr",
    "opened_file",
    "read_netcdf",
    "turns_for_ever",
]

_MARK = b"GCOL\x01\0\0\0"
_HEAD, _OBJECT = 16, 16  # bytes before the first object and before an object's own
_MOST = 200_000_000  # bytes of a file that is searched; a larger one would take as long to search as to read


def turns_for_ever(path: Path) -> bool:
    """Whether a global heap of the file has an object that leads nowhere."""
    with opened(path) as file:
        size = file.seek(0, 2)
        if not 0 < size <= _MOST:
            return False
        with mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as raw:
            at = raw.find(_MARK)
            while at >= 0:
                if _stuck(raw, at, size):
                    return True
                at = raw.find(_MARK, at + 1)
    return False


def _stuck(raw: mmap.mmap, at: int, size: int) -> bool:
    end = min(at + int.from_bytes(raw[at + 8 : at + 16], "little"), size)
    here = at + _HEAD
    while here + _OBJECT <= end:
        index = int.from_bytes(raw[here : here + 2], "little")
        held = int.from_bytes(raw[here + 8 : here + 16], "little")
        step = held if index == 0 else _OBJECT + (held + 7 & ~7)
        step %= 2**64  # as the library counts
        if step == 0:
            return True
        here += step
    return False


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


_CLASSIC, _HDF = (b"CDF\x01", b"CDF\x02", b"CDF\x05"), b"\x89HDF\r\n\x1a\n"


def is_netcdf(beginning: bytes) -> bool:
    """Whether bytes begin as those of a NetCDF file do, classic or HDF5."""
    return beginning[:4] in _CLASSIC or beginning[:8] == _HDF


def is_zarr(path: Path) -> bool:
    """Whether a folder is a Zarr store; no, of a name that none can have (`Path.is_dir` raises there)."""
    return os.path.isdir(path) and any((path / n).is_file() for n in (".zgroup", ".zmetadata", "zarr.json"))


def read_netcdf(
    path: str | Path,
    *,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation: float | None = None,
    title: str | None = None,
    columns: Mapping[str, str] | None = None,
) -> xr.Dataset:
    """Read a daily record from NetCDF or Zarr; of a grid, only the cell nearest to the site is read.

    Parameters
    ----------
    path : str or Path
        NetCDF file (classic ones need nothing; NetCDF-4 needs h5netcdf or netCDF4) or Zarr store (needs zarr).
    latitude, longitude, elevation : float, optional
        Degrees north and east, m; needed where the file is a grid.
    title : str, optional
    columns : mapping of str to str, optional
        Variable (`tasmin`, ...) to its name in the file, where CF names do not tell.

    Returns
    -------
    xarray.Dataset
        In the form of `daily_dataset`. Units of temperature and rain must be declared. Days of other calendars
        are put on the real one: of 360 days, spread over the year, with 5 or 6 days a year missing.

    Raises
    ------
    InputError
        For a file that cannot be read, no or two candidates for a variable, an unknown unit, steps other than
        a day, a site outside the grid, a cell without values.
    """
    path = Path(path)
    where = str(path)
    opened = opened_file(path)
    try:
        with opened as data:
            names = cf_variables(data, columns, where)
            chosen = at_site(data, names, latitude, longitude, where)
            try:
                loaded = chosen.load()
            except (OSError, ValueError, IndexError, RuntimeError, EOFError) as problem:
                raise InputError(
                    f"its values cannot be read; it may be cut short ({in_short(problem)})", where=where
                ) from None
    except InputError:
        raise
    except Exception as problem:  # damage shows itself in as many ways as there are parts of a file
        raise InputError(f"it cannot be read; it may be damaged ({in_short(problem)})", where=where) from None
    return record_of_cell(
        loaded,
        where=where,
        latitude=latitude,
        longitude=longitude,
        elevation=elevation,
        title=title or str(loaded.data.attrs.get("title") or path.stem),
        source=str(loaded.data.attrs.get("source") or f"file {path.name}"),
        history=f"read from {path.name}",
    )


def in_short(problem: Exception) -> str:
    """What a reader of files complains of, on one line."""
    return " ".join(str(problem).split())[:120] or type(problem).__name__


def opened_file(path: Path) -> xr.Dataset:
    """A NetCDF file or Zarr store opened, its values still unread.

    Raises
    ------
    InputError
        For a path that is not there or no such file, a lacking package, damage.
    """
    where = str(path)
    if is_zarr(path):
        if find_spec("zarr") is None:
            raise InputError("Zarr stores need the package zarr; install it with pip install zarr", where=where)
        engine, size = "zarr", check_store(path)
    else:
        with opened(path) as file:
            beginning, size = file.read(8), os.fstat(file.fileno()).st_size
        if not is_netcdf(beginning):
            raise InputError("this is no NetCDF file", where=where)
        engine = "scipy" if beginning[:4] in _CLASSIC[:2] else _hdf_engine(where)
        if beginning[:8] == _HDF and turns_for_ever(path):
            raise InputError("it cannot be read; its texts are damaged", where=where)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # what packages beneath mutter about a damaged file; it is told or refused here
        return _opened(path, engine, size)


def _opened(path: Path, engine: str, size: int) -> xr.Dataset:
    import xarray as xr

    where, store = str(path), None
    try:
        store = _store(path, engine)
        check_claims(store.load()[0], size, where)
        return xr.open_dataset(store)
    except Exception as problem:  # each engine has exceptions of its own
        if store is not None:
            store.close()
        if isinstance(problem, InputError):
            raise
        if "cftime" in str(problem) and find_spec("cftime") is None:
            raise InputError("its calendar needs the package cftime; install it with pip", where=where) from None
        raise InputError(f"it cannot be read; it may be damaged ({in_short(problem)})", where=where) from None


def _store(path: Path, engine: str) -> Any:
    """A file opened so that its claims can be looked at before xarray reads its axes."""
    from xarray import backends

    if engine == "zarr":
        return backends.ZarrStore.open_group(str(path), mode="r", consolidated=None)
    if engine == "scipy":
        return backends.ScipyDataStore(str(path), mode="r")
    if engine == "h5netcdf":
        # h5netcdf leaves a half-made object behind where this fails, and Python complains of it on the screen
        if find_spec("h5py"):
            import h5py

            with h5py.File(path, "r") as file:
                file.attrs.get("_nc3_strict")
        return backends.H5NetCDFStore.open(str(path), mode="r")
    return backends.NetCDF4DataStore.open(str(path), mode="r")


def _hdf_engine(where: str) -> str:
    # h5netcdf reads through one of two packages and, of late, brings neither along
    if find_spec("h5netcdf") and (find_spec("h5py") or find_spec("pyfive")):
        return "h5netcdf"
    if find_spec("netCDF4"):
        return "netcdf4"
    raise InputError(
        "this is a NetCDF-4 file; reading it needs pip install h5netcdf h5py, or save it as classic NetCDF",
        where=where,
    )
