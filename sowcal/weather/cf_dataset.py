"""A dataset in CF names, of one place or a grid, made a daily record: the same for a file and for one in memory."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.errors import InputError
from sowcal.plurals import counted
from sowcal.weather.names_and_units import in_internal_units
from sowcal.weather.series import Series, series_dataset

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["Cell", "at_site", "coordinate", "on_real_calendar", "record_of_cell", "whole_days"]

_REAL_CALENDARS = ("standard", "gregorian", "proleptic_gregorian")
_CARRIED = ("attribution", "station", "station_name", "typical_year")  # attributes that stay with a record


@dataclass(frozen=True)
class Cell:
    """The variables of one place along time, what they are called, and what was done to come by them.

    Attributes
    ----------
    data : xarray.Dataset
    names : mapping of str to str
        Name in the dataset by variable.
    origins : mapping of str to numpy.ndarray
        Codes of origin where the dataset has them for every variable.
    told : tuple of str
        Sentences for the history.
    latitude, longitude, elevation : float or None
        As the dataset tells them.
    """

    data: xr.Dataset
    names: Mapping[str, str]
    origins: Mapping[str, np.ndarray]
    told: tuple[str, ...]
    latitude: float | None
    longitude: float | None
    elevation: float | None

    def load(self) -> Cell:
        """The same with its values read."""
        self.data.load()
        return self


def at_site(
    data: xr.Dataset, names: Mapping[str, str], latitude: float | None, longitude: float | None, where: str
) -> Cell:
    """One place of a dataset, on the calendar of the real world.

    Parameters
    ----------
    data : xarray.Dataset
        With a coordinate `time`; of a grid, the cell nearest to the site is taken.
    names : mapping of str to str
        Name in the dataset by variable, as `cf_variables` finds them.
    latitude, longitude : float, optional
        Of the site, degrees; needed where the dataset is a grid.
    where : str
        What is named in errors.

    Raises
    ------
    InputError
        For a site outside the grid, dimensions that are not understood, a time axis without units.
    """
    origins = {
        v: data[f"{n}_origin"].values
        for v, n in names.items()
        if v == n and f"{n}_origin" in data and data[f"{n}_origin"].dims == data[n].dims == ("time",)
    }
    height = data["elevation"].item() if "elevation" in data and data["elevation"].ndim == 0 else None
    chosen, told, place = _at_place(data[list(names.values())], latitude, longitude, where)
    chosen, calendar = on_real_calendar(chosen, where)
    chosen.attrs = dict(data.attrs)
    return Cell(
        data=chosen,
        names=names,
        origins=origins if len(origins) == len(names) else {},
        told=tuple(x for x in (told, calendar) if x),
        latitude=place[0],
        longitude=place[1],
        elevation=height,
    )


def record_of_cell(
    cell: Cell,
    *,
    where: str,
    latitude: float | None,
    longitude: float | None,
    elevation: float | None,
    title: str,
    source: str,
    history: str,
) -> xr.Dataset:
    """The daily record of one place: units converted, days whole and in order, what cannot be set to missing and told.

    Raises
    ------
    InputError
        For an unknown unit, steps other than a day, a day given twice, no value, too many impossible ones.
    """
    attributes = cell.data.attrs
    days = whole_days(cell.data["time"].values.reshape(-1), where)
    series: dict[str, Series] = {}
    for variable, name in cell.names.items():
        values = in_internal_units(variable, cell.data[name], where)
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
        origin=cell.origins or None,
        latitude=cell.latitude if latitude is None else latitude,
        longitude=cell.longitude if longitude is None else longitude,
        elevation=cell.elevation if elevation is None else elevation,
        title=title,
        source=source,
        licence=str(attributes.get("licence") or attributes.get("license") or "") or None,
        history="; ".join(x for x in (str(attributes.get("history", "")), history, *cell.told) if x),
    )
    for key in _CARRIED:
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


def coordinate(data: xr.Dataset, kind: str) -> xr.DataArray | None:
    """The coordinate that is 'latitude' or 'longitude' by CF name, unit or usual name."""
    short = {"latitude": ("lat", "latitude", "degrees_north"), "longitude": ("lon", "longitude", "degrees_east")}
    for name in (*data.coords, *data.variables):
        array = data[name]
        if array.attrs.get("standard_name") == kind or array.attrs.get("units") == short[kind][2]:
            return array
    return next((data[n] for n in short[kind][:2] if n in data.variables), None)


def _at_place(
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
    try:
        calendar = data["time"].dt.calendar if data["time"].dtype.kind in "MO" else None
    except (AttributeError, TypeError):  # stamps with a time zone, words, anything else that is no date
        calendar = None
    if calendar is None:
        raise InputError("its time axis has no units such as 'days since 1990-01-01'", where=where)
    if calendar in _REAL_CALENDARS and data["time"].dtype.kind == "M":
        return data, ""
    out = data.convert_calendar("standard", align_on="year" if calendar == "360_day" else "date", use_cftime=False)
    return out, f"days of the calendar {calendar} put on the real one"


def whole_days(stamps: np.ndarray, where: str) -> np.ndarray:
    """Date of each time stamp, datetime64[D]; raises `InputError` where the steps are no days."""
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
