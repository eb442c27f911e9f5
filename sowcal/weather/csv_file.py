"""Daily weather from a table of text (CSV), in whatever dialect it is written, never by silent guessing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from sowcal.errors import InputError
from sowcal.files import plain_number
from sowcal.weather.cf_dataset import whole_days
from sowcal.weather.csv_dates import dates_from_parts, dates_from_text
from sowcal.weather.csv_table import Table, read_table, table_values
from sowcal.weather.names_and_units import (
    TEMPERATURES,
    Column,
    recognised_columns,
    temperature_unit_named,
    to_internal,
)
from sowcal.weather.record import MISSING, OBSERVED, ORIGIN_WORDS, POSSIBLE, VARIABLES, DailyRecord, Note, daily_record

__all__ = ["read_csv"]

# More than this share of impossible days is no slip of a reading but a wrong unit or column: common practice.
_MOST_PROBLEMS, _FEW = 0.05, 10

_TOO_FEW_TO_TELL = 30  # rows; a few with gaps between them have no usual step


def read_csv(
    path: str | Path,
    *,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation: float | None = None,
    title: str | None = None,
    columns: Mapping[str, str] | None = None,
    temperature_unit: str | None = None,
    date_format: str | None = None,
    separator: str | None = None,
    comment: str | None = "#",
) -> DailyRecord:
    """Read a record of daily weather.

    Parameters
    ----------
    path : str or Path
        Table with a header line: a date (or year, month and day), tasmin, tasmax, and what else is
        recognised.
    latitude, longitude : float, optional
        Degrees north and east; else from comment lines `# latitude: 36.3` above the header, else NaN.
    elevation : float, optional
        m; likewise.
    title : str, optional
        Name of the site; else from a comment line `# name: ...`, else the name of the file.
    columns : mapping of str to str, optional
        Variable (`date`, `tasmin`, ...) to header, where headers are not recognised.
    temperature_unit : str, optional
        'degC', 'degF' or 'K'; needed where neither the headers ('tmin_degF', 'Tmin (°C)') nor a comment line
        say it.
    date_format : str, optional
        Needed where the file does not prove the order of day and month: 'd/m/y', 'm/d/y' or '%d/%m/%Y'; 'excel' or
        'excel 1904' for the day numbers of spreadsheets.
    separator : str, optional
        Told from the header line when left out.
    comment : str or None, default '#'
        What comment lines begin with.

    Returns
    -------
    DailyRecord
        Values that cannot be (a minimum above its maximum, a temperature outside -90 to 60 degC, negative rain) are
        set to missing, and each is told in `notes`. How dates were read, where they could be read otherwise, is told
        in `warnings`. Precipitation without a unit is read as mm, wind as m s-1 at 10 m, radiation as MJ m-2 day-1.

    Raises
    ------
    InputError
        With file, line and column where there is one.
    """
    table = read_table(path, separator=separator, comment=comment)
    found = recognised_columns(table.headers, columns, table.where)
    found = _with_temperature_unit(found, table, temperature_unit)
    by_parts = "date" not in found
    names = [v for v in VARIABLES if v in found]
    parts = [found[p] for p in ("year", "month", "day")] if by_parts else []
    raw = table_values(
        table,
        [] if by_parts else [found["date"]],
        [*parts, *(found[v] for v in names)],
    )
    values = {v: to_internal(raw[v], found[v].unit) for v in names}
    origin = _origins(table, names)
    place = {
        key: _remark_number(table, key) if given is None else given
        for key, given in (("latitude", latitude), ("longitude", longitude), ("elevation", elevation))
    }
    dates, told = _dates(table, raw, found, date_format, place["longitude"])
    problems = _impossible(table, dates, values, raw, found) + _remarks(found)
    record = daily_record(
        dates,
        values,
        latitude=place["latitude"],
        longitude=place["longitude"],
        elevation=place["elevation"],
        origin=origin,
        title=title or table.remarks.get("name") or Path(path).stem,
        source=table.remarks.get("source", f"file {Path(path).name}"),
        licence=table.remarks.get("licence") or table.remarks.get("license"),
        history=f"read from {Path(path).name}",
        where=table.where,
    )
    return replace(record, notes=tuple(problems), warnings=tuple(told))


def _with_temperature_unit(found: dict[str, Column], table: Table, asked: str | None) -> dict[str, Column]:
    """Columns with the unit of every temperature known; headers may say it, or the caller, but not "
    "both ways."""
    stated = asked or table.remarks.get("temperature_unit")
    unit = temperature_unit_named(stated, table.where) if stated else None
    out = dict(found)
    for name in TEMPERATURES:
        if name not in found:
            continue
        column = found[name]
        if column.unit is None and unit is None:
            raise InputError(
                'the unit of the temperatures is not stated; give temperature_unit = "degC", "degF" or "K" '
                "under [weather] in the site file, or a header such as 'tmin_degC'",
                where=table.where,
                column=column.header,
            )
        if column.unit and unit and column.unit != unit:
            raise InputError(
                f"the header says {column.unit} but temperature_unit says {unit}; mend one of them",
                where=table.where,
                column=column.header,
            )
        out[name] = replace(column, unit=column.unit or unit)
    return out


def _origins(table: Table, names: list[str]) -> dict[str, np.ndarray]:
    """Codes of origin of each variable, from columns such as `tasmin_origin` that this package writes."""
    out = {v: np.full(len(table.rows), OBSERVED, dtype=np.int8) for v in (*names, "pr")}
    codes = {"": OBSERVED, "observed": OBSERVED, "missing": MISSING} | {w: c for c, w in ORIGIN_WORDS.items()}
    for name in names:
        header = f"{name}_origin"
        if header not in table.headers:
            continue
        column = Column(table.headers.index(header), header, header)
        for row, word in enumerate(table_values(table, [column], [])[header]):
            key = "" if word != word else str(word).strip().lower()
            if key not in codes:
                raise table.error(f"{word!r} is no origin; it must be one of {', '.join(codes)[2:]}", row, header)
            out[name][row] = codes[key]
    return out


def _dates(
    table: Table,
    raw: Mapping[str, np.ndarray],
    found: Mapping[str, Column],
    date_format: str | None,
    longitude: float | None,
) -> tuple[np.ndarray, list[str]]:
    header = found["date"].header if "date" in found else None

    def error(message: str, row: int) -> InputError:
        return table.error(message, row, header)

    told: list[str] = []
    if header is None:
        dates = dates_from_parts(raw["year"], raw["month"], raw["day"], error)
    else:
        dates, told = dates_from_text(raw["date"].tolist(), date_format, error, longitude)
    order = np.argsort(dates, kind="stable")
    twice = np.flatnonzero(dates[order][1:] == dates[order][:-1])
    if twice.size:
        first, second = order[twice[0]], order[twice[0] + 1]
        raise error(
            f"the date {dates[first]} stands there twice (first on line {table.lines[first]}); keep one row a day",
            int(second),
        )
    if dates.size > _TOO_FEW_TO_TELL:
        whole_days(dates, table.where)
    return dates, told


def _impossible(
    table: Table,
    dates: np.ndarray,
    values: Mapping[str, np.ndarray],
    raw: Mapping[str, np.ndarray],
    found: Mapping[str, Column],
) -> list[Note]:
    """Set values that cannot be to missing and say which; too many of them raise `InputError`."""
    problems: list[Note] = []

    def note(rows: np.ndarray, name: str, what: str) -> None:
        known = np.isfinite(raw[name]).sum()
        if rows.size > max(_FEW, _MOST_PROBLEMS * known):
            raise table.error(
                f"{rows.size} of {known} days have {what}, first here; check the unit and the columns",
                int(rows[0]),
                found[name].header,
            )
        for row in rows:
            value = float(raw[name][row]) if np.isfinite(raw[name][row]) else None
            header, line = found[name].header, int(table.lines[row])
            problems.append(Note(f"{what}; set to missing", "", header, str(dates[row]), value, line))

    for name, array in values.items():
        low, high = POSSIBLE[name]
        rows = np.flatnonzero((array < low) | (array > high))
        note(rows, name, f"a value outside {low:g} to {high:g} {VARIABLES[name][0]}")
        array[rows] = np.nan
    rows = np.flatnonzero(values["tasmin"] > values["tasmax"])
    note(rows, "tasmin", "a minimum above the maximum")
    for name in ("tasmin", "tasmax"):
        values[name][rows] = np.nan
    return sorted(problems, key=lambda p: p.line or 0)


def _remarks(found: Mapping[str, Column]) -> list[Note]:
    """What was taken for granted about units other than those of temperature, where doubt is in place."""
    out = []
    for name in ("pr", "hurs", "sfcWind", "rsds", "sunshine"):
        column = found.get(name)
        if column is None or column.unit is not None:
            continue
        usual = VARIABLES[name][0]
        if "(" in column.header or "[" in column.header:
            what = f"the unit in the header is not understood: read as {usual}"
        elif name == "pr" and found["tasmin"].unit == "degF":
            what = f"no unit is stated beside temperatures in degF: read as {usual} (inches: 'precip_in')"
        else:
            continue
        out.append(Note(what, column=column.header))
    return out


def _remark_number(table: Table, key: str) -> float | None:
    text = table.remarks.get(key)
    if text is None:
        return None
    try:
        return plain_number(text.split()[0])
    except ValueError:
        raise InputError(f"the comment line says {key} is {text!r}, which is no number", where=table.where) from None
