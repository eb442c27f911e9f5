"""The one door for weather handed over in Python: it passes the checks that files pass, and fails as they do."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.errors import InputError, SowcalError
from sowcal.weather.cf_dataset import at_site, record_of_cell, record_of_labelled, whole_days
from sowcal.weather.filling import fill_short_gaps
from sowcal.weather.names_and_units import (
    TEMPERATURES,
    cf_variables,
    recognised_columns,
    temperature_unit_named,
    to_internal,
)
from sowcal.weather.record import MISSING, POSSIBLE, VARIABLES, DailyRecord, check_place
from sowcal.weather.series import series_record

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

__all__ = [
    "as_record",
    "record_of_dataset",
    "record_of_frame",
]


_NO_PLACE = "the latitude is not known; the length of the day and the seasons hang on it"
_MOST_LETTERS = 80  # of a title or a cell in a refusal


def as_record(given: Any) -> DailyRecord:
    """A dataset or data frame as a daily record, its short gaps filled; what was a record already is one as it is.

    Raises
    ------
    InputError
        As `record_of_dataset` and `record_of_frame`, which take what these do not say of themselves.
    """
    if isinstance(given, DailyRecord):
        return given
    if not hasattr(given, "data_vars"):
        return fill_short_gaps(record_of_frame(given))
    return record_of_labelled(given) if _is_record(given) else fill_short_gaps(record_of_dataset(given))


def record_of_dataset(
    data: xr.Dataset,
    *,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation: float | None = None,
    title: str | None = None,
    columns: Mapping[str, str] | None = None,
) -> DailyRecord:
    """A daily record of a dataset in CF names, checked and converted as a NetCDF file is.

    Parameters
    ----------
    data : xarray.Dataset
        Minimum and maximum of each day along `time`, each with the attribute `units` ('degC', 'K', 'degF'); of a grid,
        the cell nearest to the site is taken.
    latitude, longitude, elevation : float, optional
        Degrees north and east, m; before what the dataset says.
    title : str, optional
        Name of the site.
    columns : mapping of str to str, optional
        Variable (`tasmin`, ...) to its name in the dataset, where CF names do not tell.

    Returns
    -------
    DailyRecord
        degC and mm a day, every day from the first to the last.

    Raises
    ------
    InputError
        For units that are not declared or not known, steps other than days, a day given twice, infinite or too many
        impossible values, no minimum or no maximum, no latitude.
    """
    where = str(title or data.attrs.get("title") or "the dataset")[:_MOST_LETTERS]
    try:
        names = cf_variables(data, columns, where, said_in="columns=")
        cell = at_site(data, names, latitude, longitude, where).load()
        record = record_of_cell(
            cell,
            where=where,
            latitude=latitude,
            longitude=longitude,
            elevation=elevation,
            title=str(title or data.attrs.get("title") or "site"),
            source=str(data.attrs.get("source") or "a dataset"),
            history="handed over as a dataset",
        )
    except SowcalError:
        raise
    except Exception as problem:  # what can be put into a dataset has no end
        raise InputError(f"it cannot be read as daily weather ({_in_short(problem)})", where=where) from None
    if np.isnan(record.latitude):
        raise InputError(f"{_NO_PLACE}: give latitude=, or the dataset a coordinate 'latitude'", where=where)
    return record


def record_of_frame(
    frame: pd.DataFrame,
    *,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation: float | None = None,
    temperature_unit: str | None = None,
    title: str | None = None,
    columns: Mapping[str, str] | None = None,
) -> DailyRecord:
    """A daily record of a data frame, its columns recognised and checked as those of a table in a file are.

    Parameters
    ----------
    frame : pandas.DataFrame
        A row a day; dates in the index or in a column. `frame.attrs` may hold what the other parameters give.
    latitude, longitude, elevation : float, optional
        Degrees north and east, m.
    temperature_unit : str, optional
        'degC', 'degF' or 'K'; needed where the column names ('tmin_degF') do not say it.
    title : str, optional
        Name of the site.
    columns : mapping of str to str, optional
        Variable (`date`, `tasmin`, ...) to column name, where names are not recognised.

    Returns
    -------
    DailyRecord

    Raises
    ------
    InputError
        As `record_of_dataset`, and for dates with a time zone or that are no dates, and cells that are no numbers.
    """
    said = {"latitude": latitude, "longitude": longitude, "elevation": elevation}
    place = {k: frame.attrs.get(k) if v is None else v for k, v in said.items()}
    title = str(title or frame.attrs.get("title") or "site")
    where = title[:_MOST_LETTERS] if title != "site" else "the data frame"
    if place["latitude"] is None:
        raise InputError(f"{_NO_PLACE}: give latitude=", where=where)
    try:
        days, series = _columns_of(frame, temperature_unit or frame.attrs.get("temperature_unit"), columns, where)
        return series_record(
            {name: (days, values) for name, values in series.items()},
            where=where,
            title=title,
            source="a data frame",
            history="handed over as a data frame",
            latitude=float(place["latitude"]),
            longitude=None if place["longitude"] is None else float(place["longitude"]),
            elevation=None if place["elevation"] is None else float(place["elevation"]),
        )
    except SowcalError:
        raise
    except Exception as problem:
        raise InputError(f"it cannot be read as daily weather ({_in_short(problem)})", where=where) from None


def _columns_of(
    frame: pd.DataFrame, unit: str | None, columns: Mapping[str, str] | None, where: str
) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Days, and values of each variable in its internal unit."""
    dated = frame
    if not _names_a_date(frame, columns):
        dated = frame.reset_index(names="date")
    found = recognised_columns([str(c) for c in dated.columns], columns, where)
    if "date" not in found:
        raise InputError("the dates must stand in one column or in the index", where=where)
    days = _days_of(dated.iloc[:, found["date"].index], where)
    stated = temperature_unit_named(unit, where) if unit else None
    out = {}
    for name in (v for v in VARIABLES if v in found):
        column = found[name]
        if name in TEMPERATURES and not (column.unit or stated):
            raise InputError(
                "the unit of the temperatures is not stated; give temperature_unit='degC', 'degF' or 'K'",
                where=where,
                column=column.header,
            )
        if name in TEMPERATURES and column.unit and stated and column.unit != stated:
            raise InputError(
                f"the column says {column.unit} but temperature_unit says {stated}", where=where, column=column.header
            )
        out[name] = to_internal(
            _numbers(dated.iloc[:, column.index], column.header, where),
            column.unit or (stated if name in TEMPERATURES else None),
        )
    return days, out


def _names_a_date(frame: pd.DataFrame, columns: Mapping[str, str] | None) -> bool:
    """Whether a column holds the dates, not the index."""
    if columns and "date" in columns:
        return True
    return any(str(c).strip().lower() in ("date", "time", "day", "datetime") for c in frame.columns)


def _days_of(column: pd.Series, where: str) -> np.ndarray:
    """Dates of a column, shape (n,), datetime64[D]."""
    if (zone := getattr(column.dtype, "tz", None)) is not None:
        raise InputError(
            f"the dates carry the time zone {zone}; make them local days without one, such as "
            "index.tz_convert(...).tz_localize(None)",
            where=where,
        )
    if column.size == 0:
        raise InputError("there are no days in the record", where=where)
    if hasattr(column.dtype, "freq"):  # periods of a day
        column = column.dt.to_timestamp()
    stamps = column.to_numpy()
    if stamps.dtype.kind != "M":  # words such as '2004-02-29', or dates of Python
        try:
            stamps = stamps.astype("datetime64[s]")
        except (ValueError, TypeError):
            raise InputError("the dates are no dates; make them so with pandas.to_datetime", where=where) from None
    return whole_days(stamps, where)


def _numbers(column: pd.Series, header: str, where: str) -> np.ndarray:
    import pandas as pd

    numbers = pd.to_numeric(column, errors="coerce")
    lost = np.flatnonzero(numbers.isna().to_numpy() & column.notna().to_numpy())
    if lost.size:
        cell = repr(column.iloc[lost[0]])[:_MOST_LETTERS]
        raise InputError(f"{cell} in row {lost[0]} is no number", where=where, column=header)
    return numbers.to_numpy(dtype=float, na_value=np.nan)


def _is_record(data: xr.Dataset) -> bool:
    """Whether a dataset has the form of a daily record, as this package makes it, whatever was done to it since."""
    needed = ("tasmin", "tasmax")
    if any(n not in data or f"{n}_origin" not in data or data[n].dims != ("time",) for n in needed):
        return False
    time = data["time"].values
    if time.dtype.kind != "M" or time.size == 0 or "latitude" not in data.coords:
        return False
    days = time.astype("datetime64[D]")
    if (days != time).any() or (np.diff(days) != np.timedelta64(1, "D")).any():
        return False
    low, high = (data[n].values for n in needed)
    if any(data[n].attrs.get("units") != "degC" for n in needed):
        return False
    if not all(_as_made(data, n) for n in VARIABLES if n in data):
        return False
    return not (low > high).any() and _on_the_globe(data) and _kept_beside(data)


def _on_the_globe(data: xr.Dataset) -> bool:
    """Whether what a dataset says of its place are single numbers, and such as a place can have."""
    said = {n: data[n] for n in ("latitude", "longitude", "elevation") if n in data.coords}
    if any(one.ndim or one.dtype.kind not in "fiu" for one in said.values()):
        return False
    north, east, height = (float(said[n]) if n in said else None for n in ("latitude", "longitude", "elevation"))
    try:
        check_place(north, east, elevation=height)
    except InputError:
        return False
    return north == north  # no number where it is not known


def _kept_beside(data: xr.Dataset) -> bool:
    """Whether the open site's range and the hours, where a record has them, are of its days and possible."""
    days, (least, most) = data["time"].size, POSSIBLE["tas"]
    for name, shape, low, high in (("open_range", (days,), 0.0, most - least), ("tas_hour", (days, 24), least, most)):
        if name not in data:
            continue
        values = data[name].values
        if values.dtype.kind != "f" or values.shape != shape:
            return False
        if not ((values >= low) & (values <= high) | np.isnan(values)).all():
            return False
    return True


def _as_made(data: xr.Dataset, name: str) -> bool:
    """Whether values are possible ones or missing, and those that are missing are said to be."""
    values, origin = data[name].values, data[f"{name}_origin"].values if f"{name}_origin" in data else None
    least, most = POSSIBLE[name]
    if values.dtype.kind != "f" or not ((values >= least) & (values <= most) | np.isnan(values)).all():
        return False
    if origin is None:
        return True
    return (
        origin.dtype.kind in "iu" and origin.shape == values.shape and bool((origin[np.isnan(values)] == MISSING).all())
    )


def _in_short(problem: Exception) -> str:
    return " ".join(str(problem).split())[:120] or type(problem).__name__
