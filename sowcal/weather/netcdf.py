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

import numpy as np

from sowcal.child import start
from sowcal.counted import counted
from sowcal.errors import InputError
from sowcal.files import file_bytes, opened, size_words
from sowcal.weather.names_and_units import cf_variables, in_internal_units
from sowcal.weather.series import Series, series_dataset

if TYPE_CHECKING:
    import xarray as xr

__all__ = [
    "check_sizes",
    "check_store",
    "coordinate",
    "in_short",
    "is_netcdf",
    "is_zarr",
    "on_real_calendar",
    "opened_file",
    "read_netcdf",
    "whole_days",
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
_REAL_CALENDARS = ("standard", "gregorian", "proleptic_gregorian")


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
            chosen, told, place = _at_site(data[list(names.values())], latitude, longitude, where)
            chosen, calendar = on_real_calendar(chosen, where)
            try:
                loaded = chosen.load()
            except (OSError, ValueError, IndexError, RuntimeError, EOFError) as problem:
                raise InputError(
                    f"its values cannot be read; it may be cut short ({in_short(problem)})", where=where
                ) from None
            origins = {
                v: data[f"{n}_origin"].values
                for v, n in names.items()
                if v == n and f"{n}_origin" in data and data[f"{n}_origin"].dims == data[n].dims == ("time",)
            }
            attributes = dict(data.attrs)
            height = data["elevation"].item() if "elevation" in data and data["elevation"].ndim == 0 else None
    except InputError:
        raise
    except Exception as problem:  # damage shows itself in as many ways as there are parts of a file
        raise InputError(f"it cannot be read; it may be damaged ({in_short(problem)})", where=where) from None
    days = whole_days(loaded, where)
    series: dict[str, Series] = {}
    for variable, name in names.items():
        values = in_internal_units(variable, loaded[name], where)
        if values.shape != days.shape:
            raise InputError(
                f"{name!r} has {counted(values.size, 'value')} for {counted(days.size, 'day')}", where=where
            )
        series[variable] = (days, values)
    if not any(np.isfinite(values).any() for _, values in series.values()):
        raise InputError("there is no value at the site; the cell may lie in the sea or outside", where=where)
    dataset = series_dataset(
        series,
        where=where,
        origin=origins if len(origins) == len(names) else None,
        latitude=place[0] if latitude is None else latitude,
        longitude=place[1] if longitude is None else longitude,
        elevation=height if elevation is None else elevation,
        title=title or str(attributes.get("title") or path.stem),
        source=str(attributes.get("source") or f"file {path.name}"),
        licence=str(attributes.get("licence") or attributes.get("license") or "") or None,
        history="; ".join(
            x for x in (str(attributes.get("history", "")), f"read from {path.name}", told, calendar) if x
        ),
    )
    for key in ("attribution", "station", "station_name", "typical_year"):
        if key in attributes:
            dataset.attrs[key] = str(attributes[key])
    if warnings_before := [w for w in _listed(attributes.get("warnings")) if isinstance(w, str)]:
        dataset.attrs["warnings"] = json.dumps(warnings_before)
    problems_before = [p for p in _listed(attributes.get("problems")) if isinstance(p, dict) and _is_problem(p)]
    dataset.attrs["problems"] = json.dumps([*problems_before, *json.loads(dataset.attrs["problems"])])
    return dataset


def _listed(text: Any) -> list[Any]:
    """The list that an attribute holds as JSON, as this package writes it; empty where it is anything else."""
    try:
        found = json.loads(text) if isinstance(text, str) else []
    except (ValueError, RecursionError):
        return []
    return found if isinstance(found, list) else []


def _is_problem(entry: dict[str, Any]) -> bool:
    """Whether an entry of `problems` has the keys and kinds of values that readers give it."""
    kinds: dict[str, Any] = {
        "line": int, "date": str, "column": str, "value": (int, float, type(None)), "what": str, "kind": str,
    }  # fmt: skip
    return "what" in entry and all(k in kinds and isinstance(v, kinds[k]) for k, v in entry.items())


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


def coordinate(data: xr.Dataset, kind: str) -> xr.DataArray | None:
    """The coordinate that is 'latitude' or 'longitude' by CF name, unit or usual name."""
    short = {"latitude": ("lat", "latitude", "degrees_north"), "longitude": ("lon", "longitude", "degrees_east")}
    for name in (*data.coords, *data.variables):
        array = data[name]
        if array.attrs.get("standard_name") == kind or array.attrs.get("units") == short[kind][2]:
            return array
    return next((data[n] for n in short[kind][:2] if n in data.variables), None)


def _at_site(
    data: xr.Dataset, latitude: float | None, longitude: float | None, where: str
) -> tuple[xr.Dataset, str, tuple[float | None, float | None]]:
    """The variables along time only, what was chosen in words, and the place if the file tells one."""
    lat, lon = coordinate(data, "latitude"), coordinate(data, "longitude")
    extra = [d for d in data.dims if d != "time"]
    if all(data.sizes[d] == 1 for d in extra):
        data = data.squeeze(extra, drop=False)
        one = tuple(
            float(c.values.reshape(-1)[0]) if c is not None and c.size == 1 and np.isfinite(c.values).all() else None
            for c in (lat, lon)
        )
        return data, "", (one[0], one[1])
    if lat is None or lon is None or not {*lat.dims, *lon.dims} >= {d for d in extra if data.sizes[d] > 1}:
        raise InputError(
            f"the values have dimensions {', '.join(map(str, data.dims))}; only time, latitude and longitude are "
            "understood",
            where=where,
        )
    if latitude is None or longitude is None:
        raise InputError("this is a grid; latitude and longitude of the site are needed, in a site file", where=where)
    chosen, at = _nearest(lat, lon, latitude, longitude, where)
    data = data.isel(chosen).squeeze(drop=False)
    return data, f"grid cell at {at[0]:g}, {at[1]:g}", (at[0], at[1])


def _nearest(
    lat: xr.DataArray, lon: xr.DataArray, latitude: float, longitude: float, where: str
) -> tuple[dict[Any, int], tuple[float, float]]:
    import xarray as xr

    lats, lons = xr.broadcast(lat, lon) if set(lat.dims) != set(lon.dims) else (lat, lon)
    aside = np.abs((lons.values - longitude + 180.0) % 360.0 - 180.0)
    away = np.hypot(lats.values - latitude, aside * np.cos(np.radians(latitude)))
    k = np.unravel_index(int(np.nanargmin(away)), away.shape)
    at = float(lats.values[k]), float(lons.values[k])
    for axis, dim in enumerate(lats.dims):
        if lats.sizes[dim] > 1:
            other = list(k)
            other[axis] += 1 if k[axis] + 1 < lats.sizes[dim] else -1
            step = abs(float(lats.values[tuple(other)]) - at[0]), abs(float(lons.values[tuple(other)]) - at[1])
            off = abs(at[0] - latitude), float(aside[k])
            if any(s > 0 and o > 0.75 * s for s, o in zip(step, off, strict=True)):
                raise InputError(
                    f"the site {latitude:g}, {longitude:g} lies outside the grid; its nearest cell is at "
                    f"{at[0]:g}, {at[1]:g}",
                    where=where,
                )
    return dict(zip(lats.dims, map(int, k), strict=True)), at


def on_real_calendar(data: xr.Dataset, where: str) -> tuple[xr.Dataset, str]:
    """The data on the calendar of the real world, and what that took in words."""
    calendar = data["time"].dt.calendar if data["time"].dtype.kind in "MO" else None
    if calendar is None:
        raise InputError("its time axis has no units such as 'days since 1990-01-01'", where=where)
    if calendar in _REAL_CALENDARS and data["time"].dtype.kind == "M":
        return data, ""
    out = data.convert_calendar("standard", align_on="year" if calendar == "360_day" else "date", use_cftime=False)
    return out, f"days of the calendar {calendar} put on the real one"


def whole_days(data: xr.Dataset, where: str) -> np.ndarray:
    """Date of each step; raises `InputError` where the steps are no days."""
    stamps = data["time"].values.reshape(-1)
    days = stamps.astype("datetime64[D]")
    if np.isnat(days).any():
        raise InputError("a time stamp is missing", where=where)
    if days.size > 1:
        step = float(np.median(np.diff(np.sort(stamps)).astype("timedelta64[m]").astype(float))) / 1440.0
        if abs(step - 1.0) > 0.01:
            raise InputError(
                f"its time steps are {step:.3g} days; only daily values are read (minimum and maximum of each day)",
                where=where,
            )
    return days


if __name__ == "__main__":
    with contextlib.suppress(Exception):  # what a file is refused for is told by the process that reads it
        _try(sys.argv[1])
