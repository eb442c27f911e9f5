"""A daily record from NetCDF or Zarr, and what such a file must not make the libraries beneath do."""

from __future__ import annotations

import contextlib
import json
import math
import os
import sys
import warnings
from collections.abc import Mapping
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sowcal.child_process import start
from sowcal.errors import InputError
from sowcal.files import file_bytes, opened, size_words
from sowcal.weather.cf_dataset import at_site, record_of_cell
from sowcal.weather.names_and_units import cf_variables

if TYPE_CHECKING:
    import xarray as xr

    from sowcal.weather.record import DailyRecord

__all__ = [
    "check_sizes",
    "check_store",
    "in_short",
    "is_netcdf",
    "is_zarr",
    "opened_file",
    "read_netcdf",
]

# All common practice, no source.
_MOST_ON_AXIS = 5_000_000  # values of a coordinate: 500 years of hours
_MOST_IN_TABLE = 50_000_000  # values of a coordinate over two axes: a grid of 7000 by 7000
_MOST_OF_BLOCK = 500_000_000  # bytes that are unpacked at once, whatever is asked for
# Days over a land mask pack some 20 to 60 times smaller; zlib reaches a thousand, unwritten blocks any number.
_CLAIM_IN_VIEW, _MOST_PACKED = 2_000_000_000, 150
_MOST_DESCRIPTION = 4_000_000  # bytes
_DESCRIPTIONS = (".zattrs", ".zarray", ".zgroup", ".zmetadata", "zarr.json")


def check_sizes(variables: Any, size: int, where: str) -> None:
    """Raise `InputError` where reading or mapping would fill the memory with what the file does not hold.

    Axes and tables are read whole, blocks unpacked whole, and a map has a place for every cell.

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
        cells, short = math.prod(map(int, variable.shape)), repr(str(name)[:60])
        if variable.dims == (name,) and cells > _MOST_ON_AXIS:
            raise InputError(f"its axis {short} claims {cells:.3g} values, which no record has", where=where)
        if variable.ndim < 3 and cells > _MOST_IN_TABLE:
            raise InputError(f"its table {short} claims {cells:.3g} values, which no grid has", where=where)
        claimed = cells * variable.dtype.itemsize
        if claimed > max(_CLAIM_IN_VIEW, _MOST_PACKED * size):
            raise InputError(
                f"{short} claims {cells:.3g} values ({size_words(claimed)}) in a file of {size_words(size)}; it is "
                "damaged or holds nothing",
                where=where,
            )
        told = variable.encoding
        chunks = told.get("shards") or told.get("chunks") or told.get("chunksizes") or (0,)
        block = math.prod(map(int, chunks)) * variable.dtype.itemsize
        if block > _MOST_OF_BLOCK:
            raise InputError(
                f"{short} lies in blocks of {size_words(block)}, more than are unpacked at once "
                f"({size_words(_MOST_OF_BLOCK)}); chunk it smaller",
                where=where,
            )


def check_store(path: Path) -> int:
    """Bytes of a Zarr store; raises `InputError` for one that holds what is no file or asks for unsafe unpacking."""
    size = 0
    for one in path.rglob("*"):
        if one.is_file():
            size += one.stat().st_size
        elif not one.is_dir():
            raise InputError("it holds a pipe, a device or a link to nothing", where=str(one))
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
) -> DailyRecord:
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
    DailyRecord
        Units of temperature and rain must be declared. Days of other calendars
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
        if beginning[:8] == _HDF and not _ends(path):
            raise InputError("it cannot be read; it is damaged so that reading it would not end", where=where)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # what packages beneath mutter about a damaged file; it is told or refused here
        return _opened(path, engine, size)


# s of processor, and of the clock where the system does not count it. Reading the texts of a sound file takes
# hundredths. Common practice, no source.
_TRIAL, _WAIT = 5, 60


def _ends(path: Path) -> bool:
    """Whether the HDF5 library comes to an end with what is read of a file before its values.

    Damage can have it turn for ever in its own code (found by fuzzing, in the heaps of texts; so in 2.0.0 still), where
    neither Python's signals nor a limit of memory reach it. So a process of its own goes first.
    """
    try:
        process = start("sowcal.weather.netcdf", os.path.abspath(path))
    except OSError:  # a system without processes reads on trust
        return True
    with process:
        try:
            process.communicate(timeout=_WAIT)
            return process.returncode >= 0  # less where the system ended it
        except Exception:  # not in time
            return False
        finally:
            process.kill()


def _try(path: str) -> None:
    """Read all attributes of an HDF5 file, and its texts."""
    if sys.platform != "win32":
        import resource

        most = resource.getrlimit(resource.RLIMIT_CPU)[1]
        limit = _TRIAL if most == resource.RLIM_INFINITY else min(_TRIAL, most)
        resource.setrlimit(resource.RLIMIT_CPU, (limit, limit))
    engine = _hdf_engine(path)
    if not find_spec("h5py"):
        _store(Path(path), engine).load()
        return
    import h5py

    def look(_: str, one: Any) -> None:
        dict(one.attrs)
        if isinstance(one, h5py.Dataset) and h5py.check_string_dtype(one.dtype) and one.size <= _MOST_ON_AXIS:
            one[()]

    with h5py.File(path, "r") as file:
        look("", file)
        file.visititems(look)


def _opened(path: Path, engine: str, size: int) -> xr.Dataset:
    import xarray as xr

    where, store = str(path), None
    try:
        store = _store(path, engine)
        check_sizes(store.load()[0], size, where)
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


if __name__ == "__main__":
    with contextlib.suppress(Exception):  # what a file is refused for is told by the process that reads it
        _try(sys.argv[1])
