"""Typical years of EnergyPlus (EPW): hours in, days out, and a plain word on what such a year cannot tell.

Order of the fields: EnergyPlus Auxiliary Programs, "EPW Data Dictionary".
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from sowcal.errors import InputError
from sowcal.files import csv_rows, plain_number, read_lines
from sowcal.languages import counted
from sowcal.weather.record import DailyRecord
from sowcal.weather.series import Series, series_record

__all__ = ["CANNOT_TELL", "is_epw", "read_epw"]

CANNOT_TELL = (
    "a typical year is put together from months of different years: it tells means, but no odds, no extremes, "
    "no last frosts and no trend"
)
_HEAD = 8  # lines
# variable: (field from 0, least value that means missing)
_DRY_BULB, _HUMIDITY, _RADIATION, _WIND, _RAIN = (6, 99.9), (8, 999.0), (13, 9999.0), (21, 999.0), (33, 999.0)
_FEWEST_HOURS = 20  # of 24, for a minimum and a maximum: common practice


def is_epw(beginning: str) -> bool:
    """Whether a text begins as an EPW file does."""
    lines = beginning.splitlines()
    return len(lines) > 1 and lines[0].startswith("LOCATION,") and lines[1].startswith("DESIGN CONDITIONS")


def read_epw(
    path: str | Path,
    *,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation: float | None = None,
    title: str | None = None,
) -> DailyRecord:
    """Read a typical year of hours as days.

    Parameters
    ----------
    path : str or Path
    latitude, longitude, elevation : float, optional
        Degrees north and east, m; those of the file when left out.
    title : str, optional

    Returns
    -------
    DailyRecord
        dated 2001 (2004 with a 29 February), as the days have no common year.
        Minimum and maximum are those of the hourly values, a little inside the true ones. The attributes
        `typical_year` and `warnings` (JSON list) say what it cannot tell.

    Raises
    ------
    InputError
        With file and line.
    """
    path = Path(path)
    where = str(path)
    rows = list(csv_rows(_few(read_lines(path), where), where))
    if not rows or not rows[0] or rows[0][0] != "LOCATION" or len(rows) <= _HEAD or len(rows[0]) < 10:
        raise InputError("this is not an EPW file (its first line must begin with LOCATION)", where=where)
    table = _table(rows, where)
    leap = bool(((table[:, 1] == 2) & (table[:, 2] == 29)).any())
    year = 2004 if leap else 2001
    hours = (366 if leap else 365) * 24
    if len(table) != hours:
        raise InputError(
            f"the file has {counted(len(table), 'hour')} but a whole year has {hours}; it is cut short or not hourly",
            where=where,
        )
    days = np.datetime64(f"{year}-01-01", "D") + np.arange(hours // 24)
    month_day = table[::24, 1:3].astype(int)
    wanted = np.array([[int(str(d)[5:7]), int(str(d)[8:10])] for d in days])
    if (month_day != wanted).any():
        raise InputError("the days of the file do not run from 1 January to 31 December", where=where)
    series, warnings = _daily(table, days)
    place = _place(rows[0], where)
    given = {"latitude": latitude, "longitude": longitude, "elevation": elevation}
    here: dict[str, Any] = {k: place[k] if v is None else v for k, v in given.items()}
    record = series_record(
        series,
        where=where,
        **here,
        title=title or rows[0][1].strip() or path.stem,
        source=f"typical year (EPW) of {rows[0][1].strip()}, {rows[0][4].strip()}",
        history=f"read from {path.name} (EPW); days from hours; dated {year} throughout",
    )
    years = sorted({int(y) for y in table[:, 0]})
    return replace(record, typical_year=f"months of {years[0]} to {years[-1]}", warnings=(CANNOT_TELL, *warnings))


def _few(lines: list[str], where: str) -> list[str]:
    """The lines, where there are no more than a year of hours has."""
    if len(lines) > _HEAD + 367 * 24:
        raise InputError(f"the file has {len(lines):,} lines, more than the hours of a year", where=where)
    return lines


def _table(rows: list[list[str]], where: str) -> np.ndarray:
    """Numbers of the hourly rows, shape (hours, 35); texts and absent fields as NaN."""
    out = np.full((len(rows) - _HEAD, 35), np.nan)
    for k, row in enumerate(rows[_HEAD:]):
        if len(row) < 22:
            raise InputError("the row is cut short; fetch the file again", where=where, line=k + _HEAD + 1)
        for field in (0, 1, 2, 3, *(f for f, _ in (_DRY_BULB, _HUMIDITY, _RADIATION, _WIND, _RAIN))):
            if field >= len(row) or not row[field].strip():
                continue
            try:
                out[k, field] = plain_number(row[field])
            except ValueError:
                raise InputError(
                    f"{row[field]!r} is not a number", where=where, line=k + _HEAD + 1, column=str(field + 1)
                ) from None
    if not np.isfinite(out[:, :4]).all():
        raise InputError("an hour has no year, month, day or hour", where=where)
    return out


def _daily(table: np.ndarray, days: np.ndarray) -> tuple[dict[str, Series], list[str]]:
    def hours(field: tuple[int, float]) -> np.ndarray:
        values = table[:, field[0]].reshape(-1, 24).copy()
        values[values >= field[1]] = np.nan
        return values

    def of_day(values: np.ndarray, function, least: int = _FEWEST_HOURS) -> np.ndarray:
        enough = np.isfinite(values).sum(axis=1) >= least
        out = np.full(days.size, np.nan)
        out[enough] = function(values[enough], axis=1)
        return out

    dry = hours(_DRY_BULB)
    series = {
        "tasmin": of_day(dry, np.nanmin),
        "tasmax": of_day(dry, np.nanmax),
        "tas": of_day(dry, np.nanmean).round(2),
        "hurs": of_day(hours(_HUMIDITY), np.nanmean).round(2),
        "sfcWind": of_day(hours(_WIND), np.nanmean).round(3),
        "rsds": (of_day(hours(_RADIATION), np.nansum, 24) * 0.0036).round(3),  # Wh m-2 to MJ m-2
    }
    warnings = ["minimum and maximum are those of hourly values, a little inside the true ones"]
    rain = of_day(hours(_RAIN), np.nansum, 24)
    if np.nansum(rain) > 0.0:
        series["pr"] = rain.round(2)
    else:
        warnings.append("the file tells no rain (a typical year often leaves it out): rain is not known")
    return {v: (days, a) for v, a in series.items() if np.isfinite(a).any() or v in ("tasmin", "tasmax")}, warnings


def _place(head: list[str], where: str) -> dict[str, float]:
    try:
        return {k: plain_number(head[at]) for k, at in (("latitude", 6), ("longitude", 7), ("elevation", 9))}
    except ValueError:
        raise InputError("latitude, longitude or height is no number", where=where, line=1) from None
