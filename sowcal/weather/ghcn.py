"""Records of the Global Historical Climatology Network, daily: CSV by station and fixed-width `.dly`.

Units, widths and flags as in the network's readme.txt (NOAA NCEI; widths and the columns of the by-station
files read in programs that repeat it, the meaning of the quality flags from memory).
"""

from __future__ import annotations

import calendar
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np

from sowcal.errors import InputError
from sowcal.files import MOST_DAYS, csv_rows, read_lines
from sowcal.languages import counted
from sowcal.weather.record import DailyRecord, Note, StationFacts
from sowcal.weather.series import Series, note, series_record

__all__ = ["is_dly", "is_ghcn_csv", "read_dly", "read_ghcn_csv"]

# element: (variable, units in one internal unit)
_ELEMENTS = {
    "TMIN": ("tasmin", 10),
    "TMAX": ("tasmax", 10),
    "TAVG": ("tas", 10),
    "PRCP": ("pr", 10),
    "AWND": ("sfcWind", 10),
    "RHAV": ("hurs", 1),
}
# quality flag: (kind of problem, words)
_FLAGS = {
    "D": ("repeat", "duplicate"),
    "G": ("out of range", "gap in the values of the month"),
    "I": ("crossed", "internal consistency"),
    "K": ("stuck", "streak"),
    "L": ("out of range", "sum of several days"),
    "M": ("out of range", "mega-consistency"),
    "N": ("out of range", "naught"),
    "O": ("out of range", "climatological outlier"),
    "R": ("spike", "lagged range"),
    "S": ("out of range", "spatial consistency"),
    "T": ("spike", "temporal consistency"),
    "W": ("out of range", "too warm for snow"),
    "X": ("out of range", "bounds"),
    "Z": ("out of range", "found by hand"),
}
_LICENCE = "public domain (NOAA GHCN-Daily; from memory)"
_DLY = re.compile(r"^[A-Z][A-Z0-9]{2}[A-Z0-9_\-]{8}\d{4}(0[1-9]|1[0-2])[A-Z][A-Z0-9]{3}[ \-\d]{4}\d")
_LONG = re.compile(r"^\"?[A-Z][A-Z0-9]{2}[A-Z0-9_\-]{8}\"?,\d{8},[A-Z][A-Z0-9]{3},-?\d+,")
_WHOLE = re.compile(r"\s*[+-]?\d{1,6}\s*", re.ASCII)
_LONG_HEADER = ("ID", "DATE", "ELEMENT")


@dataclass
class _Values:
    """Values as they are met, by variable."""

    where: str
    days: dict[str, list[np.datetime64]] = field(default_factory=dict)
    numbers: dict[str, list[float]] = field(default_factory=dict)
    met: dict[str, int] = field(default_factory=dict)
    notes: list[Note] = field(default_factory=list)
    stations: set[str] = field(default_factory=set)
    place: dict[str, float] = field(default_factory=dict)
    name: str = ""

    def add(self, element: str, day: np.datetime64, text: str, flag: str, line: int) -> None:
        if element not in _ELEMENTS or not text.strip():
            return
        variable, scale = _ELEMENTS[element]
        met = self.met[variable] = self.met.get(variable, 0) + 1
        if met > MOST_DAYS:
            raise InputError(
                f"there are more than {MOST_DAYS:,} values of {element}, which no record of one station has",
                where=self.where,
                line=line,
            )
        if not _WHOLE.fullmatch(text):
            raise InputError(
                f"{text!r} is not a whole number in tenths, as this format has it",
                where=self.where,
                line=line,
                column=element,
            )
        number = int(text)
        if number == -9999:
            return
        value = number / scale
        if flag.strip():
            kind, words = _FLAGS.get(flag, ("out of range", "unknown flag"))
            what = f"marked {flag} by the producer ({words}); set to missing"
            self.notes.append(note(day, element, value, what, kind, line))
            return
        self.days.setdefault(variable, []).append(day)
        self.numbers.setdefault(variable, []).append(value)

    def record(self, path: Path, place: dict[str, float | None], title: str | None) -> DailyRecord:
        if len(self.stations) > 1:
            raise InputError(
                f"the file holds {len(self.stations)} stations ({', '.join(sorted(self.stations)[:3])}...); "
                "give a file of one station",
                where=self.where,
            )
        station = next(iter(self.stations), path.stem)
        series: dict[str, Series] = {
            v: (np.array(d, dtype="datetime64[D]"), np.array(self.numbers[v])) for v, d in self.days.items()
        }
        here: dict[str, Any] = {k: self.place.get(k) if v is None else v for k, v in place.items()}
        record = series_record(
            series,
            where=self.where,
            notes=self.notes,
            **here,
            title=title or self.name or station,
            source=f"GHCN-Daily, station {station}",
            history=f"read from {path.name} (GHCN-Daily)",
            licence=_LICENCE,
        )
        return replace(record, station=StationFacts(station))


def is_dly(beginning: str) -> bool:
    """Whether a text begins as a `.dly` file does."""
    return bool(_DLY.match(beginning.partition("\n")[0]))


def is_ghcn_csv(beginning: str) -> bool:
    """Whether a text begins as one of the two CSV forms by station does."""
    first, _, rest = beginning.lstrip("\ufeff").partition("\n")
    header = [c.strip().strip('"').upper() for c in first.split(",")]
    if {"STATION", "DATE"} <= set(header) and any(c.endswith("_ATTRIBUTES") for c in header):
        return True
    return bool(_LONG.match(first) or (tuple(header[:3]) == _LONG_HEADER and _LONG.match(rest.partition("\n")[0])))


def read_dly(
    path: str | Path,
    *,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation: float | None = None,
    title: str | None = None,
) -> DailyRecord:
    """Read a fixed-width file of one station: one line a month and element, tenths, four flags a day.

    Parameters
    ----------
    path : str or Path
    latitude, longitude, elevation : float, optional
        Degrees north and east, m; the format does not hold them.
    title : str, optional

    Returns
    -------
    DailyRecord
         values that the producer marks as bad are missing, each told in the
        attribute `problems`.

    Raises
    ------
    InputError
        With file and line.
    """
    path = Path(path)
    found = _Values(str(path))
    for number, line in enumerate(read_lines(path), 1):
        if not line.strip():
            continue
        if not _DLY.match(line):
            raise InputError("the line is not one of a .dly file", where=str(path), line=number)
        if len(line) < 21 + 30 * 8 + 5:
            raise InputError("the line is cut short; fetch the file again", where=str(path), line=number)
        year, month, element = int(line[11:15]), int(line[15:17]), line[17:21]
        found.stations.add(line[:11])
        if element not in _ELEMENTS:
            continue
        first = np.datetime64(f"{year:04d}-{month:02d}-01", "D")
        for day in range(calendar.monthrange(max(year, 1), month)[1]):
            cell = line[21 + 8 * day : 29 + 8 * day].ljust(8)
            found.add(element, first + np.timedelta64(day, "D"), cell[:5], cell[6], number)
    return found.record(path, {"latitude": latitude, "longitude": longitude, "elevation": elevation}, title)


def read_ghcn_csv(
    path: str | Path,
    *,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation: float | None = None,
    title: str | None = None,
) -> DailyRecord:
    """Read a CSV by station: one row a day (with `..._ATTRIBUTES` columns), or one row a day and element.

    Parameters, returns and errors as `read_dly`; the form with one row a day holds the place itself.
    """
    path = Path(path)
    lines = read_lines(path)
    if not is_ghcn_csv("\n".join(lines[:2])):
        raise InputError(
            "this is not a by-station file of GHCN-Daily (columns STATION, DATE, TMIN, TMIN_ATTRIBUTES, ..., "
            "or rows 'ID,DATE,ELEMENT,VALUE,flags')",
            where=str(path),
        )
    found = _Values(str(path))
    rows = csv_rows(lines, str(path))  # one by one: such a file may have a million
    first = next(rows)
    if "STATION" in [c.strip().upper() for c in first]:
        _wide(first, rows, found)
    else:
        _long(first, rows, found)
    return found.record(path, {"latitude": latitude, "longitude": longitude, "elevation": elevation}, title)


def _filled_rows(rows: Iterable[list[str]], width: int, where: str, first: int) -> Iterator[tuple[int, list[str]]]:
    for number, row in enumerate(rows, first):
        if not row:
            continue
        if len(row) != width:
            raise InputError(
                f"the row has {counted(len(row), 'cell')} but {width} are expected; the file may be cut short",
                where=where,
                line=number,
            )
        yield number, row


def _day(text: str, where: str, line: int) -> np.datetime64:
    text = text.strip()
    iso = f"{text[:4]}-{text[4:6]}-{text[6:]}" if len(text) == 8 and text.isdigit() else text
    try:
        if not re.fullmatch(r"\d{4}-\d\d-\d\d", iso):
            raise ValueError
        return np.datetime64(iso, "D")
    except ValueError:
        raise InputError(f"{text!r} is not a date of this format", where=where, line=line, column="DATE") from None


def _wide(first: list[str], rows: Iterator[list[str]], found: _Values) -> None:
    header = [c.strip().upper() for c in first]
    at = {name: i for i, name in enumerate(header)}
    elements = [e for e in _ELEMENTS if e in at]
    for line, row in _filled_rows(rows, len(header), found.where, 2):
        found.stations.add(row[at["STATION"]].strip())
        day = _day(row[at["DATE"]], found.where, line)
        for element in elements:
            flags = row[at[f"{element}_ATTRIBUTES"]].split(",") if f"{element}_ATTRIBUTES" in at else []
            found.add(element, day, row[at[element]], flags[1] if len(flags) > 1 else "", line)
        if not found.place:
            found.name = row[at["NAME"]].strip() if "NAME" in at else ""
            for key in ("latitude", "longitude", "elevation"):
                cell = row[at[key.upper()]].strip() if key.upper() in at else ""
                if cell and re.fullmatch(r"[+-]?\d+(\.\d*)?", cell) and cell not in ("-999.9", "-999"):
                    found.place[key] = float(cell)


def _long(first: list[str], rows: Iterator[list[str]], found: _Values) -> None:
    at = 1
    if tuple(c.strip().upper() for c in first[:3]) == _LONG_HEADER:
        first, at = next(rows), 2
    if len(first) < 4:
        raise InputError("the row is cut short; fetch the file again", where=found.where, line=at)
    for line, row in _filled_rows(chain([first], rows), len(first), found.where, at):
        found.stations.add(row[0].strip())
        if row[2] in _ELEMENTS:
            found.add(row[2], _day(row[1], found.where, line), row[3], row[5] if len(row) > 5 else "", line)
