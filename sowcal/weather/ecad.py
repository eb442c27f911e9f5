"""Series of the European Climate Assessment & Dataset: one file an element, joined.

The form is told in the head of each file (blended and unblended series; from memory): tenths, -9999 for missing,
quality 0 valid, 1 suspect, 9 missing.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from sowcal.errors import InputError
from sowcal.files import MOST_DAYS, read_lines
from sowcal.weather.record import DailyRecord, Note, StationFacts
from sowcal.weather.series import Series, note, series_record

__all__ = ["is_ecad", "read_ecad"]

# element: (variable, factor as a divisor); QQ is W m-2
_ELEMENTS = {
    "TN": ("tasmin", 10.0),
    "TX": ("tasmax", 10.0),
    "TG": ("tas", 10.0),
    "RR": ("pr", 10.0),
    "FG": ("sfcWind", 10.0),
    "HU": ("hurs", 1.0),
    "QQ": ("rsds", 1.0 / 0.0864),
    "SS": ("sunshine", 10.0),
}
_STATION = re.compile(r"\(STAID:?\s*(\d{1,9})\)", re.IGNORECASE | re.ASCII)
_WHOLE = re.compile(r"-?\d{1,9}", re.ASCII)
_HEAD = 100  # lines in which the names of the columns must stand; the real head has some 20
_LICENCE = "free for non-commercial use with acknowledgement (ECA&D; from memory)"


def is_ecad(beginning: str) -> bool:
    """Whether a text begins as a file of ECA&D does."""
    return "EUROPEAN CLIMATE ASSESSMENT" in beginning[:400].upper() or "ECA&D" in beginning[:400].upper()


def read_ecad(
    paths: str | Path | Sequence[str | Path],
    *,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation: float | None = None,
    title: str | None = None,
) -> DailyRecord:
    """Read two or more files of one station, one an element (TN and TX at least), and join them.

    Parameters
    ----------
    paths : path or sequence of path
    latitude, longitude, elevation : float, optional
        Degrees north and east, m; the files do not hold them.
    title : str, optional
        The station's name in the files when left out.

    Returns
    -------
    DailyRecord
         suspect values are missing, each told in `notes`.

    Raises
    ------
    InputError
        With file and line; also where the files are of different stations, or TN or TX is lacking.
    """
    files = [Path(p) for p in ([paths] if isinstance(paths, (str, Path)) else paths)]
    series: dict[str, Series] = {}
    notes: list[Note] = []
    names: dict[str, str] = {}
    for path in files:
        variable, one, told, station, name = _one(path)
        if variable in series:
            raise InputError(f"{variable} stands in two of the files; give each element once", where=str(path))
        series[variable] = one
        notes += told
        names[station] = name or names.get(station, "")
    if len(names) > 1:
        raise InputError(
            f"the files are of different stations ({' and '.join(sorted(names))}); give those of one",
            where=str(files[0].parent),
        )
    lacking = [e for e in ("TN", "TX") if _ELEMENTS[e][0] not in series]
    if lacking:
        raise InputError(
            f"the series of {' and '.join(lacking)} is not among the files; name all of them in the site file, "
            'such as file = ["TN.txt", "TX.txt", "RR.txt"]',
            where=str(files[0]),
        )
    station, name = next(iter(names.items()))
    record = series_record(
        series,
        where=str(files[0]),
        notes=notes,
        latitude=latitude,
        longitude=longitude,
        elevation=elevation,
        title=title or name or f"station {station}",
        source=f"ECA&D, station {station}",
        history=f"read from {', '.join(p.name for p in files)} (ECA&D)",
        licence=_LICENCE,
    )
    return replace(record, station=StationFacts(station))


def _header(lines: Sequence[str], where: str) -> tuple[int, str]:
    """Place of the line that names the columns, and the element."""
    for at, line in enumerate(lines[:_HEAD]):
        cells = [c.strip().upper() for c in line.split(",")]
        element = next((c for c in cells if c in _ELEMENTS), None)
        if "DATE" in cells and element and f"Q_{element}" in cells:
            return at, element
    known = ", ".join(_ELEMENTS)
    raise InputError(f"no line 'STAID, SOUID, DATE, TX, Q_TX' with one of {known} is in the file", where=where)


def _described(head: Sequence[str]) -> tuple[str, str]:
    """Number and name of the station as the head tells them: '... of station NAME, PLACE (STAID: 12).'"""
    text = " ".join(head)
    found = _STATION.search(text)
    if not found:
        return "", ""
    before = text[: found.start()]
    at = before.lower().rfind("station ")
    return found[1], before[at + len("station ") :].strip() if at >= 0 else ""


def _one(path: Path) -> tuple[str, Series, list[Note], str, str]:
    """Variable, series, notes, station's number and name of one file."""
    where = str(path)
    lines = read_lines(path)
    at, element = _header(lines, where)
    header = [c.strip().upper() for c in lines[at].split(",")]
    if len(lines) - at > MOST_DAYS:
        raise InputError(f"there are {len(lines) - at:,} rows, which no series of one station has", where=where)
    number_of, name = _described(lines[:at])
    dates, values, marks, numbers, stations = [], [], [], [], set()
    places = [header.index(c) for c in ("DATE", element, f"Q_{element}")]
    for number, line in enumerate(lines[at + 1 :], at + 2):
        if not line.strip():
            continue
        cells = [c.strip() for c in line.split(",")]
        if len(cells) != len(header) or not all(_WHOLE.fullmatch(cells[p]) for p in places):
            raise InputError("the row is damaged or cut short; fetch the file again", where=where, line=number)
        date, value, mark = (cells[p] for p in places)
        try:
            dates.append(np.datetime64(f"{date[:4]}-{date[4:6]}-{date[6:]}", "D"))
        except ValueError:
            raise InputError(f"{date!r} is not a date of this format", where=where, line=number) from None
        values.append(int(value))
        marks.append(int(mark))
        numbers.append(number)
        if "STAID" in header:
            stations.add(cells[header.index("STAID")])
    if not dates:
        raise InputError("there are no rows below the header", where=where, line=at + 1)
    if number_of:
        stations.add(number_of)
    if len(stations) > 1:
        raise InputError(f"the file holds stations {' and '.join(sorted(stations))}; give one", where=where)
    days, raw, mark_of = np.array(dates), np.array(values, dtype=float), np.array(marks)
    variable, divisor = _ELEMENTS[element]
    values_of = np.where((raw == -9999) | (mark_of == 9), np.nan, raw / divisor)
    what = "marked suspect by the producer; set to missing"
    notes = [
        note(days[i], element, values_of[i], what, "out of range", numbers[i])
        for i in np.flatnonzero((mark_of == 1) & np.isfinite(values_of))
    ]
    values_of[mark_of == 1] = np.nan
    return variable, (days, values_of), notes, next(iter(stations), ""), name
