"""Between datasets in CF names and the daily record: what comes in from a file or memory, and what goes out again.

Facts of a record stand in the attributes of a dataset only here; lists among them are JSON text there.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.errors import InputError
from sowcal.languages import counted
from sowcal.weather.names_and_units import in_internal_units
from sowcal.weather.record import (
    FILLED,
    GENERATED,
    MISSING,
    OBSERVED,
    VARIABLES,
    DailyRecord,
    Felt,
    Note,
    StationFacts,
)
from sowcal.weather.series import Series, series_record

if TYPE_CHECKING:
    import xarray as xr

    from sowcal.weather.findings import Findings
    from sowcal.weather.offset import PlotOffset

__all__ = [
    "Cell",
    "at_site",
    "attributes_of",
    "coordinate",
    "dataset_of",
    "on_real_calendar",
    "record_of_cell",
    "record_of_labelled",
    "station_attributes",
    "station_of",
    "whole_days",
]

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
) -> DailyRecord:
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
    record = series_record(
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
    said = {k: str(attributes[k]) for k in _CARRIED if k in attributes}
    named = (said.get("station", ""), said.get("station_name", ""), said.get("attribution", ""))
    return replace(
        record,
        typical_year=said.get("typical_year", ""),
        station=StationFacts(*named) if any(named) else None,
        warnings=tuple(w for w in _listed(attributes.get("warnings")) if isinstance(w, str)),
        notes=(*_notes(attributes.get("problems")), *record.notes),
    )


def _listed(text: Any) -> list[Any]:
    """The list that an attribute holds as JSON, as this package writes it; empty where it is anything else."""
    try:
        found = json.loads(text) if isinstance(text, str) else []
    except (ValueError, RecursionError):
        return []
    return found if isinstance(found, list) else []


def _notes(text: Any) -> tuple[Note, ...]:
    """Notes of a reader out of an attribute; what has other keys or kinds of values than these is passed over."""
    kinds: dict[str, Any] = {
        "line": int, "date": str, "column": str, "value": (int, float, type(None)), "what": str, "kind": str,
    }  # fmt: skip

    def sound(entry: Any) -> bool:
        return (
            isinstance(entry, dict)
            and "what" in entry
            and entry.get("date") != ""  # a note of a column has no date at all
            and all(k in kinds and isinstance(v, kinds[k]) for k, v in entry.items())
        )

    return tuple(Note(**entry) for entry in _listed(text) if sound(entry))


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


def attributes_of(record: DailyRecord) -> dict[str, str | float | int]:
    """The facts of a record as attributes, of text and numbers only."""
    out: dict[str, Any] = {
        "title": record.title,
        "source": record.source,
        "history": record.history,
        "Conventions": "CF-1.11",
        "licence": record.licence,
        **(station_attributes(record.station) if record.station else {}),
        "typical_year": record.typical_year,
        "coast": int(record.coast),
        "problems": json.dumps([n.to_json() for n in record.notes]),
        "plot": json.dumps(record.plot),
        "changes": json.dumps(record.changes),
        "what_ifs": record.what_ifs,
    }
    always = ("title", "source", "history", "Conventions")
    out = {k: v for k, v in out.items() if k in always or not (v in ("", "[]", 0) or v != v)}
    if record.warnings:
        out["warnings"] = json.dumps(record.warnings)
    if record.offset:
        out["offset"] = json.dumps(record.offset.report.to_json())
        out["offset_half_width"] = json.dumps(record.offset.half_width)
    if record.changes:
        out |= {k: v for k, v in asdict(record.felt).items() if v != ""}
    if record.findings is not None:
        found = record.findings
        problems = [asdict(p) for p in found.problems]
        out["findings"] = json.dumps({"of": record.fingerprint, "issued": found.issued, "problems": problems})
    return out


def dataset_of(record: DailyRecord) -> xr.Dataset:
    """The record as a dataset in CF names: units, standard names, and the origin of each value beside it.

    Returns
    -------
    xarray.Dataset
        Dimension `time`, coordinates `latitude`, `longitude`, `elevation`; arrays are copies.
    """
    import xarray as xr

    variables: dict[str, Any] = {}
    for name, array in record.values.items():
        variables[name] = ("time", array.copy(), _attributes(name))
        variables[f"{name}_origin"] = ("time", record.origin[name].copy(), _origin_attributes(name))
    if record.open_range is not None:
        variables["open_range"] = ("time", record.open_range.copy(), {"units": "K"})
    coords = {
        "time": ("time", record.time.astype("datetime64[ns]"), {"standard_name": "time"}),
        **_place(record.latitude, record.longitude, record.elevation),
    }
    if record.hours is not None:
        air = {"units": "degC", "standard_name": "air_temperature"}
        variables["tas_hour"] = (("time", "hour"), record.hours.copy(), air)
        coords["hour"] = ("hour", np.arange(24), {"long_name": "hour of local solar time"})
    return xr.Dataset(variables, coords, attributes_of(record))


def record_of_labelled(data: xr.Dataset) -> DailyRecord:
    """The record of a dataset that `dataset_of` made; what its attributes say of other days is passed over."""
    said = data.attrs
    names = [v for v in VARIABLES if v in data]
    values = {v: data[v].values.astype(float) for v in names}
    origin = {
        v: data[f"{v}_origin"].values.astype(np.int8) if f"{v}_origin" in data else np.where(np.isnan(a), MISSING, 0)
        for v, a in values.items()
    }
    latitude, longitude, elevation = (
        float(data[n]) if n in data.coords else np.nan for n in ("latitude", "longitude", "elevation")
    )
    texts: dict[str, Any] = {k: str(said.get(k, "")) for k in ("title", "source", "history", "licence", "typical_year")}
    lists: dict[str, Any] = {k: tuple(map(str, _listed(said.get(k)))) for k in ("warnings", "plot", "changes")}
    record = DailyRecord(
        data["time"].values.astype("datetime64[D]"),
        values,
        origin,
        latitude,
        longitude,
        elevation,
        **texts,
        **lists,
        coast=bool(said.get("coast", 0)),
        station=station_of(said),
        notes=_notes(said.get("problems")),
        offset=_offset(said),
        what_ifs=str(said.get("what_ifs", "")),
        felt=_felt(said),
        open_range=data["open_range"].values.astype(float) if "open_range" in data else None,
        hours=data["tas_hour"].values.astype(float) if "tas_hour" in data else None,
    )
    return replace(record, findings=_findings(said.get("findings"), record.fingerprint))


def _felt(said: Mapping[str, Any]) -> Felt:
    light, sky, crown = (float(said.get(k, v)) for k, v in (("light_share", 1), ("sky_share", 1), ("crown_relief", 0)))
    return Felt(light, sky, crown, str(said.get("seedbed", "")))


_STATION = {
    "id": "station",
    "name": "station_name",
    "attribution": "attribution",
    "latitude": "station_latitude",
    "longitude": "station_longitude",
    "elevation": "station_elevation",
    "distance_km": "station_distance_km",
    "fetched": "fetched",
    "asked_first": "asked_first",
    "asked_last": "asked_last",
}


def station_attributes(station: StationFacts) -> dict[str, str | float]:
    """What is known of a station as attributes."""
    return {key: v for name, key in _STATION.items() if (v := getattr(station, name)) != "" and v == v}


def station_of(said: Mapping[str, Any]) -> StationFacts | None:
    """The station that attributes tell of; None where they name none."""
    if "station" not in said:
        return None
    usual = asdict(StationFacts(""))
    return StationFacts(**{name: type(usual[name])(said.get(key, usual[name])) for name, key in _STATION.items()})


def _offset(said: Mapping[str, Any]) -> PlotOffset | None:
    if "offset" not in said or "offset_half_width" not in said:
        return None
    from sowcal.weather.offset import OffsetReport, PlotOffset

    half = {str(k): tuple(map(float, v)) for k, v in json.loads(said["offset_half_width"]).items()}
    return PlotOffset(OffsetReport.of_json(json.loads(said["offset"])), half)


def _findings(text: Any, fingerprint: str) -> Findings | None:
    """What was found in a record, where it is still of these very days."""
    found = json.loads(text) if text else None
    if found is None or found["of"] != fingerprint:
        return None
    from sowcal.weather.findings import Findings
    from sowcal.weather.quality import Problem

    return Findings(found["issued"], tuple(Problem(**p) for p in found["problems"]))


def _attributes(name: str) -> dict[str, str]:
    units, standard_name, long_name = VARIABLES[name]
    method = {"tasmin": "time: minimum", "tasmax": "time: maximum"}.get(name, "time: mean")
    return {
        "units": units,
        "standard_name": standard_name,
        "long_name": long_name,
        "cell_methods": method,
        "ancillary_variables": f"{name}_origin",
    }


def _origin_attributes(name: str) -> dict[str, Any]:
    return {
        "long_name": f"origin of {name}",
        "standard_name": "status_flag",
        "flag_values": np.array([OBSERVED, FILLED, GENERATED, MISSING], dtype=np.int8),
        "flag_meanings": "observed filled generated missing",
    }


def _place(latitude: float | None, longitude: float | None, elevation: float | None) -> dict[str, Any]:
    given = {
        "latitude": (latitude, "degrees_north", "latitude"),
        "longitude": (longitude, "degrees_east", "longitude"),
        "elevation": (elevation, "m", "surface_altitude"),
    }
    return {
        name: (
            (),
            np.nan if value is None else float(value),
            {"units": units, "standard_name": standard_name},
        )
        for name, (value, units, standard_name) in given.items()
    }
