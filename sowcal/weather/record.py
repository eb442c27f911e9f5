"""What a reading can be at all: the physical range of each variable, for readers and for quality control."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from sowcal.errors import InputError
from sowcal.plurals import counted

if TYPE_CHECKING:
    import xarray as xr

__all__ = [
    "FILLED",
    "GENERATED",
    "MISSING",
    "OBSERVED",
    "ORIGIN_WORDS",
    "POSSIBLE",
    "VARIABLES",
    "Form",
    "PlainRecord",
    "daily_dataset",
    "daily_record",
    "fill_short_gaps",
    "labelled",
    "without_empty_ends",
]

# Values that no thermometer, gauge or sensor on a farm has shown. Temperature: wider than the world's records
# (-89.2 and 56.7 degC); rain: above the world's record day (1825 mm); both from memory. The others are common
# practice, no source.
POSSIBLE: dict[str, tuple[float, float]] = {
    **dict.fromkeys(("tasmin", "tasmax", "tas"), (-90.0, 60.0)),
    "pr": (0.0, 2000.0),
    "hurs": (0.0, 101.0),
    "sfcWind": (0.0, 100.0),
    "rsds": (0.0, 50.0),
}

Form = TypeVar("Form", "xr.Dataset", "PlainRecord")  # of days: what comes in goes out in the same


@dataclass(frozen=True)
class _Values:
    """Values of one name, as `dataset[name]` gives them."""

    values: np.ndarray

    @property
    def ndim(self) -> int:
        """Number of dimensions."""
        return self.values.ndim

    def __float__(self) -> float:
        return float(self.values)


@dataclass(frozen=True)
class PlainRecord:
    """One site's days, read by name like the dataset that they can be made into.

    Attributes
    ----------
    variables, coords : mapping
        Name to (dimensions, values, attributes), as `xarray.Dataset` takes them.
    attrs : dict
        Attributes of the whole.
    """

    variables: Mapping[str, tuple[Any, Any, dict[str, Any]]]
    coords: Mapping[str, tuple[Any, Any, dict[str, Any]]]
    attrs: dict[str, Any] = field(default_factory=dict)

    def __contains__(self, name: str) -> bool:
        return name in self.variables or name in self.coords

    def __getitem__(self, name: str) -> _Values:
        return _Values(np.asarray((self.variables if name in self.variables else self.coords)[name][1]))

    @property
    def sizes(self) -> dict[str, int]:
        """Days of the record."""
        return {"time": len(self.coords["time"][1])}

    def copy(self, deep: bool = True) -> PlainRecord:
        """A record whose values, and attributes, can be changed for themselves."""
        apart = {n: (d, np.array(v) if deep else v, a) for n, (d, v, a) in self.variables.items()}
        return PlainRecord(apart, self.coords, dict(self.attrs))

    def assign_attrs(self, **more: Any) -> PlainRecord:
        """The same with more attributes."""
        return PlainRecord(self.variables, self.coords, {**self.attrs, **more})

    def isel(self, time: slice) -> PlainRecord:
        """The days of a slice."""

        def cut(of: Mapping[str, tuple[Any, Any, dict[str, Any]]]) -> dict[str, tuple[Any, Any, dict[str, Any]]]:
            return {n: (d, v[time] if d == "time" else v, a) for n, (d, v, a) in of.items()}

        return PlainRecord(cut(self.variables), cut(self.coords), dict(self.attrs))

    def labelled(self) -> xr.Dataset:
        """The dataset."""
        import xarray as xr

        return xr.Dataset(dict(self.variables), dict(self.coords), self.attrs)


def labelled(record: xr.Dataset | PlainRecord) -> xr.Dataset:
    """The dataset of a record, whichever it is."""
    return record.labelled() if isinstance(record, PlainRecord) else record


OBSERVED, FILLED, GENERATED, MISSING = 0, 1, 2, 3
ORIGIN_WORDS = {FILLED: "filled", GENERATED: "generated"}  # in tables of text; the rest needs no word

# name: (units, CF standard name, long name)
VARIABLES: dict[str, tuple[str, str, str]] = {
    "tasmin": ("degC", "air_temperature", "daily minimum temperature of air"),
    "tasmax": ("degC", "air_temperature", "daily maximum temperature of air"),
    "pr": ("mm day-1", "lwe_precipitation_rate", "daily precipitation"),
    "tas": ("degC", "air_temperature", "daily mean temperature of air"),
    "hurs": ("%", "relative_humidity", "daily mean relative humidity"),
    "sfcWind": ("m s-1", "wind_speed", "daily mean wind speed at 10 m"),
    "rsds": ("MJ m-2 day-1", "surface_downwelling_shortwave_flux_in_air", "daily solar radiation"),
}
_NEEDED = ("tasmin", "tasmax")
_EARLIEST, _LATEST = np.datetime64("1678-01-01"), np.datetime64("2261-12-31")
_LONGEST_RECORD = 400  # years; a longer span is a slip in a date


def daily_dataset(
    time: Any,
    values: Mapping[str, Any],
    *,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation: float | None = None,
    origin: int | Mapping[str, Any] = OBSERVED,
    title: str = "",
    source: str = "",
    history: str = "",
    licence: str | None = None,
    where: str | None = None,
) -> xr.Dataset:
    """Build and validate the daily dataset of one site.

    Parameters
    ----------
    time : array_like, shape (n,)
        Dates in any order; days that are absent become NaN.
    values : mapping of str to array_like, shape (n,)
        `tasmin` and `tasmax`, and any other of `VARIABLES`, in the units given there. `pr` is made up of
        missing values where it is not given.
    latitude, longitude : float, optional
        Degrees north and east; NaN when not known.
    elevation : float, optional
        m above sea level; NaN when not known.
    origin : int or mapping of str to array_like, default OBSERVED
        Where the values come from: one code for all, or one array a variable.
    title, source, history : str
        Name of the site, where the record comes from, what was done to it.
    licence : str, optional
        Licence of the record.
    where : str, optional
        File named in errors.

    Returns
    -------
    xarray.Dataset

    Raises
    ------
    InputError
        For no days, a date given twice, a needed variable that is absent, a wrong length, a place off the
        globe.
    """
    return daily_record(
        time,
        values,
        latitude=latitude,
        longitude=longitude,
        elevation=elevation,
        origin=origin,
        title=title,
        source=source,
        history=history,
        licence=licence,
        where=where,
    ).labelled()


def daily_record(
    time: Any,
    values: Mapping[str, Any],
    *,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation: float | None = None,
    origin: int | Mapping[str, Any] = OBSERVED,
    title: str = "",
    source: str = "",
    history: str = "",
    licence: str | None = None,
    where: str | None = None,
) -> PlainRecord:
    """The same as plain arrays; parameters and errors as for `daily_dataset`."""
    check_place(latitude, longitude, where, elevation)
    dates = np.asarray(time).astype("datetime64[D]")
    _check_dates(dates, where)
    days = np.arange(dates.min(), dates.max() + np.timedelta64(1, "D"))
    place = (dates - days[0]).astype(int)
    variables: dict[str, Any] = {}
    for name in [*_NEEDED, "pr", *(v for v in VARIABLES if v in values and v not in (*_NEEDED, "pr"))]:
        if name not in values and name in _NEEDED:
            raise InputError(f"there are no values of {name}; a record needs tasmin and tasmax", where=where)
        given = np.asarray(values.get(name, np.full(dates.size, np.nan)), dtype=float)
        if given.shape != dates.shape:
            raise InputError(f"{name} has {given.size} values but there are {dates.size} dates", where=where)
        array = np.full(days.size, np.nan)
        array[place] = given
        codes = np.full(days.size, MISSING, dtype=np.int8)
        codes[place] = origin if isinstance(origin, int) else np.asarray(origin[name], dtype=np.int8)
        codes[np.isnan(array)] = MISSING
        variables[name] = ("time", array, _attributes(name))
        variables[f"{name}_origin"] = ("time", codes, _origin_attributes(name))
    told = {"title": title, "source": source, "history": history, "Conventions": "CF-1.11"}
    if licence:
        told["licence"] = licence
    attributes = {k: encodable(v) for k, v in told.items()}
    return PlainRecord(
        variables,
        {
            "time": ("time", days.astype("datetime64[ns]"), {"standard_name": "time"}),
            **_place(latitude, longitude, elevation),
        },
        attributes,
    )


def encodable(text: str) -> str:
    """Text that any file can hold; bytes of a file's name that are no UTF-8 become escapes such as \\udcff."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def check_place(
    latitude: float | None, longitude: float | None, where: str | None = None, elevation: float | None = None
) -> None:
    """Raise `InputError` for a place off the globe; None and NaN mean 'not known' and pass."""
    if latitude is not None and abs(latitude) > 90.0:
        raise InputError(f"latitude {latitude:g} lies outside -90 to 90 (south is negative)", where=where)
    if longitude is not None and not (np.isnan(longitude) or -180.0 <= longitude <= 360.0):
        raise InputError(f"longitude {longitude:g} lies outside -180 to 360 (west is negative)", where=where)
    if elevation is not None and not (np.isnan(elevation) or -500.0 <= elevation <= 9000.0):
        raise InputError(f"the height {elevation:g} m lies outside -500 to 9000 m", where=where)


def _check_dates(dates: np.ndarray, where: str | None) -> None:
    if dates.ndim != 1 or dates.size == 0:
        raise InputError("there are no days in the record", where=where)
    if np.isnat(dates).any():
        raise InputError("a date is missing; every row needs its date", where=where)
    ordered = np.sort(dates)
    twice = ordered[1:] == ordered[:-1]
    if twice.any():
        raise InputError(f"the date {ordered[1:][twice][0]} stands there twice; keep one row a day", where=where)
    if ordered[0] < _EARLIEST or ordered[-1] > _LATEST:  # a clock in nanoseconds holds no more
        raise InputError(
            f"the record runs from {ordered[0]} to {ordered[-1]}; days must lie in the years 1678 to 2261", where=where
        )
    if (ordered[-1] - ordered[0]).astype(int) > _LONGEST_RECORD * 366:
        raise InputError(
            f"the record runs from {ordered[0]} to {ordered[-1]}; one of these dates must be wrong",
            where=where,
        )


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


def fill_short_gaps(dataset: Form, longest: int = 7) -> Form:
    """Fill short gaps between known days; the rest stays missing.

    The departure from the usual value of that day of the year is interpolated linearly over the gap. The
    usual value is a least-squares mean and three yearly harmonics of the record itself; a record of less than
    two years cannot tell it, and there the values themselves are interpolated. Common practice, no source.

    Parameters
    ----------
    dataset : xarray.Dataset
        In the form of `daily_dataset`.
    longest : int, default 7
        Longest gap that is filled, days.

    Returns
    -------
    xarray.Dataset
        A copy; filled values carry the origin `FILLED`. Precipitation is never filled, nor a gap at either
        end of the record, nor a day on which the minimum would come out above the maximum.
    """
    out = dataset.copy(deep=True)
    day = _yearly_angle(dataset["time"].values)
    filled: dict[str, np.ndarray] = {}
    for name in VARIABLES:
        if name == "pr" or name not in out:
            continue
        values = out[name].values
        gap = _short_gaps(np.isnan(values), longest)
        if gap.any():
            filled[name] = gap
            values[gap] = _interpolated(values, day)[gap]
            if name == "hurs":
                values[gap] = np.clip(values[gap], 0.0, 100.0)
            elif name in ("sfcWind", "rsds"):
                values[gap] = np.maximum(values[gap], 0.0)
    wrong = out["tasmin"].values > out["tasmax"].values
    for name, gap in filled.items():
        if name in _NEEDED:
            out[name].values[gap & wrong] = np.nan
            gap = gap & ~wrong
        out[f"{name}_origin"].values[gap] = FILLED
    if filled:
        note = f"gaps of up to {counted(longest, 'day')} filled from neighbouring days"
        out.attrs["history"] = "; ".join(x for x in (dataset.attrs.get("history", ""), note) if x)
    return out


def without_empty_ends(dataset: Form) -> Form:
    """The days from the first to the last that hold any value: empty rows around a record are no part of it."""
    known = np.zeros(dataset.sizes["time"], dtype=bool)
    for name in VARIABLES:
        if name in dataset:
            known |= np.isfinite(dataset[name].values)
    if known.all() or not known.any():
        return dataset
    days = np.flatnonzero(known)
    return dataset.isel(time=slice(int(days[0]), int(days[-1]) + 1))


def _yearly_angle(time: np.ndarray) -> np.ndarray:
    days = time.astype("datetime64[D]")
    return 2.0 * np.pi * days.astype(float) / 365.2425


def _short_gaps(missing: np.ndarray, longest: int) -> np.ndarray:
    """Days in runs of missing days no longer than `longest` with a known day at both ends."""
    edge = np.diff(np.concatenate(([False], missing, [False])).astype(np.int8))
    start, stop = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1)
    keep = (stop - start <= longest) & (start > 0) & (stop < missing.size)
    mark = np.zeros(missing.size + 1, dtype=int)
    np.add.at(mark, start[keep], 1)
    np.add.at(mark, stop[keep], -1)
    return np.cumsum(mark[:-1]).astype(bool)


def _interpolated(values: np.ndarray, angle: np.ndarray) -> np.ndarray:
    known = np.isfinite(values)
    usual = np.zeros(values.size)
    if known.sum() >= 2 * 365:
        waves = [f(k * angle) for k in (1, 2, 3) for f in (np.sin, np.cos)]
        basis = np.column_stack([np.ones(values.size), *waves])
        usual = basis @ np.linalg.lstsq(basis[known], values[known], rcond=None)[0]
    index = np.arange(values.size)
    return usual + np.interp(index, index[known], (values - usual)[known])
