"""A whole grid of daily weather from NetCDF or Zarr, opened but not read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sowcal.errors import InputError
from sowcal.weather.cf_dataset import coordinate, on_real_calendar, whole_days
from sowcal.weather.names_and_units import Conversion, cf_variables, conversion
from sowcal.weather.netcdf import in_short, opened_file
from sowcal.weather.record import encodable

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["Grid", "open_grid"]

_NEEDED = ("tasmin", "tasmax")
_HEIGHT = ("orog", "elevation", "altitude", "height", "topo", "dem")  # names in wide use besides the CF name


@dataclass(frozen=True)
class Grid:
    """Daily weather over a grid, as it lies in its file.

    Attributes
    ----------
    tasmin, tasmax : xarray.DataArray
        Dimensions ('time', y, x), every day of the record, in the units of the file and not yet read.
    conversions : dict
        How the values of each become degC.
    days : numpy.ndarray
        Dates, shape (N,), without a gap.
    latitude, longitude : xarray.DataArray
        Degrees north and east, dimensions (y,) and (x,) or both (y, x).
    height : xarray.DataArray or None
        m above sea level, dimensions (y, x), where the file tells it.
    title, source, path
        What it is and where it comes from; no path for one that was handed over opened.
    stored_chunks : tuple of int
        Cells that lie together in the file along y and x.
    day_by_day : bool
        Whether the file keeps maps of few days each, so that reading one cell touches many of them.
    notes : tuple of str
        What had to be done to it, in words.
    """

    tasmin: xr.DataArray
    tasmax: xr.DataArray
    conversions: Mapping[str, Conversion]
    days: np.ndarray
    latitude: xr.DataArray
    longitude: xr.DataArray
    height: xr.DataArray | None
    title: str
    source: str
    path: Path | None
    stored_chunks: tuple[int, int]
    day_by_day: bool
    notes: tuple[str, ...] = field(default=())

    @property
    def dims(self) -> tuple[str, str]:
        """Names of the dimensions y and x."""
        return str(self.tasmin.dims[1]), str(self.tasmin.dims[2])

    @property
    def shape(self) -> tuple[int, int]:
        """Cells along y and x."""
        return self.tasmin.shape[1], self.tasmin.shape[2]

    def latitudes(self) -> np.ndarray:
        """Latitude of every cell, shape (y, x)."""
        y, x = self.dims
        return np.array(self.latitude.broadcast_like(self.tasmin.isel(time=0, drop=True)).transpose(y, x).values, float)


def open_grid(given: str | Path | xr.Dataset, columns: Mapping[str, str] | None = None) -> Grid:
    """Open a grid of daily minimum and maximum temperature, by CF names and units.

    Parameters
    ----------
    given : path or xarray.Dataset
        NetCDF file or Zarr store, or a dataset opened already; dimensions time, latitude and longitude.
    columns : mapping of str to str, optional
        Variable (`tasmin`, `tasmax`) to its name in the file, where CF names do not tell.

    Returns
    -------
    Grid

    Raises
    ------
    InputError
        For a file that is not there or is damaged, variables or units that are not recognised, other dimensions,
        steps other than a day.
    """
    import xarray as xr

    if isinstance(given, xr.Dataset):
        return _grid(given, columns, "the dataset", None)
    path = Path(given)
    data = opened_file(path)
    try:
        return _grid(data, columns, str(path), path)
    except InputError:
        data.close()
        raise
    except Exception as problem:  # damage shows itself in as many ways as there are parts of a file
        data.close()
        raise InputError(f"it cannot be read; it may be damaged ({in_short(problem)})", where=str(path)) from None


def _grid(data: xr.Dataset, columns: Mapping[str, str] | None, where: str, path: Path | None) -> Grid:
    names = cf_variables(data, columns, where, "--variable, as in --variable tasmin=NAME")
    chosen = data[[names[v] for v in _NEEDED]]
    lat, lon = coordinate(data, "latitude"), coordinate(data, "longitude")
    y, x = _horizontal(chosen, lat, lon, where)
    assert lat is not None
    assert lon is not None
    chosen = chosen.squeeze([d for d in chosen.dims if d not in ("time", y, x)], drop=True)
    stored = _stored_chunks(chosen[names["tasmin"]].transpose("time", y, x), path is not None)
    chosen, calendar = on_real_calendar(chosen, where)
    conversions = {v: conversion(v, chosen[names[v]], where) for v in _NEEDED}
    days, chosen = _every_day(chosen, whole_days(chosen["time"].values.reshape(-1), where), where)
    tasmin, tasmax = (chosen[names[v]].transpose("time", y, x).rename(v).reset_coords(drop=True) for v in _NEEDED)
    height = _height(data, (y, x))
    return Grid(
        tasmin=tasmin,
        tasmax=tasmax,
        conversions=conversions,
        days=days,
        latitude=_place(lat, (y, x), "latitude", 90.0, where),
        longitude=_place(lon, (y, x), "longitude", 360.0, where),
        height=height,
        title=encodable(str(data.attrs.get("title") or (path.stem if path else "grid"))),
        source=encodable(str(data.attrs.get("source") or (f"file {path.name}" if path else ""))),
        path=path,
        stored_chunks=(stored[1], stored[2]),
        day_by_day=stored[0] < tasmin.sizes["time"] / 4,
        notes=(calendar,) if calendar else (),
    )


def _horizontal(chosen: xr.Dataset, lat: xr.DataArray | None, lon: xr.DataArray | None, where: str) -> tuple[str, str]:
    """Names of the dimensions along which latitude and longitude lie."""
    if lat is None or lon is None:
        raise InputError(
            "no coordinate is recognised as latitude or longitude; give them the units degrees_north and degrees_east",
            where=where,
        )
    extra = [str(d) for d in chosen.dims if d != "time"]
    if lat.ndim == lon.ndim == 1:
        y, x = str(lat.dims[0]), str(lon.dims[0])
    elif lat.ndim == 2 and lat.dims == lon.dims:
        y, x = map(str, lat.dims)
    else:
        raise InputError(
            "this is no grid: latitude and longitude must be axes of it, or tables over both axes", where=where
        )
    if y == x or not {y, x} <= set(extra):
        raise InputError(
            f"the values have the dimensions {', '.join(map(str, chosen.dims))}; a grid has time, latitude, longitude",
            where=where,
        )
    long = [d for d in extra if d not in (y, x) and chosen.sizes[d] > 1]
    if long:
        raise InputError(
            f"the values have a dimension {long[0]!r} of {chosen.sizes[long[0]]} besides time, {y} and {x}; choose one "
            "of it first",
            where=where,
        )
    return y, x


def _place(array: xr.DataArray, dims: tuple[str, str], kind: str, most: float, where: str) -> xr.DataArray:
    import xarray as xr

    values = np.asarray(array.values, dtype=float)
    if not np.isfinite(values).all() or np.abs(values).max(initial=0.0) > most:
        raise InputError(f"a {kind} is missing or lies off the globe", where=where, column=str(array.name))

    units = "degrees_north" if kind == "latitude" else "degrees_east"
    order = [d for d in dims if d in array.dims]
    return xr.DataArray(
        values,
        dims=array.dims,
        attrs={"units": units, "standard_name": kind, "long_name": kind},
        name=str(array.name),
    ).transpose(*order)


def _every_day(chosen: xr.Dataset, days: np.ndarray, where: str) -> tuple[np.ndarray, xr.Dataset]:
    """The record on every day from its first to its last; days that the file leaves out are missing."""
    if days.size == 0:
        raise InputError("there are no days in the record", where=where)
    ordered = np.sort(days)
    twice = ordered[1:] == ordered[:-1]
    if twice.any():
        raise InputError(f"the date {ordered[1:][twice][0]} stands there twice; keep one map a day", where=where)
    whole = np.arange(ordered[0], ordered[-1] + np.timedelta64(1, "D"))
    chosen = chosen.assign_coords(time=days.astype("datetime64[ns]"))
    if not np.array_equal(days, whole):
        chosen = chosen.reindex(time=whole.astype("datetime64[ns]"))
    return whole, chosen


def _stored_chunks(array: xr.DataArray, in_file: bool) -> tuple[int, ...]:
    """Days and cells that lie together in the file, along (time, y, x)."""
    if array.chunks is not None:
        return tuple(max(c) for c in array.chunks)
    if said := array.encoding.get("preferred_chunks"):
        return tuple(int(said.get(d, n)) for d, n in array.sizes.items())
    # without chunks a file lies in the order of its dimensions, day after day; in memory order hardly matters
    return (1, *array.shape[1:]) if in_file else (array.shape[0], 1, 1)


def _height(data: xr.Dataset, dims: tuple[str, str]) -> xr.DataArray | None:
    """Height of the ground over the grid, m, where the file tells it."""
    import xarray as xr

    for name in data.variables:
        array = data[name]
        if set(array.dims) != set(dims) or array.attrs.get("units") not in ("m", "metre", "metres", "meters"):
            continue
        if array.attrs.get("standard_name") == "surface_altitude" or str(name).lower() in _HEIGHT:
            values = np.asarray(array.transpose(*dims).values, dtype=float)
            attributes = {"units": "m", "standard_name": "surface_altitude", "long_name": "height above sea level"}
            return xr.DataArray(values, dims=dims, attrs=attributes, name="height")
    return None
