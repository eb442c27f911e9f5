"""Climate text of the FAO: a temperature file (.Tnx, .TMP) and a rain file (.PLU), or the .CLI that names them.

The head is five lines (what it is; 1 for daily; first day, month and year), then the names of the columns, a rule of
equals signs, and one line a day. Layout: files of the FAO's own open model (KUL-RSDA/AquaCrop, testcase/DATA), read.
Neither a place nor a code for missing is part of it; what a table of text takes for missing is missing here too.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from sowcal.errors import InputError
from sowcal.files import MOST_DAYS, plain_number, read_lines
from sowcal.weather.csv_table import MISSING_CODES
from sowcal.weather.record import DailyRecord
from sowcal.weather.series import Series, series_record

__all__ = ["is_fao", "read_fao"]

_HEAD_NUMBER = re.compile(r"\s*(-?\d{1,9})\s*:", re.ASCII)
_KINDS = {1: "daily", 2: "10-day", 3: "monthly"}
_NO_YEAR = 1901  # stands for 'not linked to a specific year', as the head says of itself
_NO_YEARS = (
    "the file says that its days belong to no specific years (first year 1901): dates of frost and odds hold only if "
    "they were real days one after the other"
)


def is_fao(beginning: str) -> bool:
    """Whether a text begins as one of these files does (or as the .CLI that names them)."""
    lines = beginning.splitlines()
    if len(lines) < 5:
        return False
    return _is_index(lines) or ("1=daily" in lines[1].lower().replace(" ", "") and bool(_HEAD_NUMBER.match(lines[1])))


def _is_index(lines: Sequence[str]) -> bool:
    """Whether lines are those of a .CLI: a title, a version, then names of files."""
    return len(lines) >= 5 and bool(re.match(r"\s*[\d.]+\s*:\s*AquaCrop Version", lines[1], re.IGNORECASE))


def read_fao(
    paths: str | Path | Sequence[str | Path],
    *,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation: float | None = None,
    title: str | None = None,
) -> DailyRecord:
    """Read a temperature file, with its rain file where there is one, or the .CLI that names both.

    Parameters
    ----------
    paths : path or sequence of path
        One .CLI, or the temperature file and, where it is known, the rain file; files of reference
        evapotranspiration are passed over, as it is worked out anew.
    latitude, longitude, elevation : float, optional
        Degrees north and east, m; the files do not hold them.
    title : str, optional
        The first line of the temperature file when left out.

    Returns
    -------
    DailyRecord
        Where the first year is 1901, the attribute `warnings` says what that
        means.

    Raises
    ------
    InputError
        With file and line; also for 10-day and monthly files, and where there is no temperature file.
    """
    files = [Path(p) for p in ([paths] if isinstance(paths, (str, Path)) else paths)]
    if len(files) == 1:
        files = _named_in(files[0])
    series: dict[str, Series] = {}
    first_lines: dict[str, str] = {}
    for path in files:
        found, described = _one(path)
        for name, one in found.items():
            if name in series:
                raise InputError(f"{name} stands in two of the files; give each once", where=str(path))
            series[name] = one
            first_lines[name] = described
    if "tasmin" not in series:
        raise InputError(
            "there is no temperature file (.Tnx) among the files; name it in the site file, such as "
            'file = ["my.Tnx", "my.PLU"]',
            where=str(files[0]),
        )
    record = series_record(
        series,
        where=str(files[0]),
        latitude=latitude,
        longitude=longitude,
        elevation=elevation,
        title=title or first_lines["tasmin"] or files[0].stem,
        source=f"file {files[0].name}",
        history=f"read from {', '.join(p.name for p in files)} (FAO climate text)",
    )
    if int(str(series["tasmin"][0][0])[:4]) == _NO_YEAR:
        return replace(record, warnings=(_NO_YEARS,))
    return record


def _named_in(path: Path) -> list[Path]:
    """The temperature and rain files that a .CLI names; any other file stands for itself."""
    lines = read_lines(path)
    if not _is_index(lines):
        return [path]
    found = []
    for number, name in ((3, lines[2].strip()), (5, lines[4].strip())):
        if not name or name.lower() in ("(none)", "none"):
            continue
        one = path.parent / name
        # a name with a folder could lead anywhere
        if name != Path(name).name or "\\" in name or len(name) > 255 or not one.is_file():
            raise InputError(f"it names the file {name!r}, which is not beside it", where=str(path), line=number)
        found.append(one)
    return found or [path]


def _one(path: Path) -> tuple[dict[str, Series], str]:
    """Series of one file by variable, and its first line; none for reference evapotranspiration."""
    where = str(path)
    lines = read_lines(path)
    rule = next((k for k, line in enumerate(lines[:20]) if re.fullmatch(r"\s*={5,}\s*", line)), None)
    if rule is None or rule < 6:
        raise InputError(
            "this is no climate text of the FAO: five lines, the names of the columns and a line ===== must stand "
            "above the days",
            where=where,
        )
    kind, day, month, year = (_head_number(lines, k, where) for k in range(1, 5))
    if kind != 1:
        hint = "; monthly means can stand in a site file with source = 'normals'" if kind == 3 else ""
        raise InputError(
            f"the file holds {_KINDS.get(kind, 'unknown')} values; only daily ones are read{hint}", where=where, line=2
        )
    try:
        start = np.datetime64(f"{year:04d}-{month:02d}-{day:02d}", "D")
    except ValueError:
        raise InputError(f"{day}.{month}.{year} is no date to begin with", where=where, line=3) from None
    header = lines[rule - 1]
    columns = _columns(header, where, rule)
    if not columns:
        return {}, ""
    values = _values(lines[rule + 1 :], len(columns), where, rule + 2)
    days = start + np.arange(len(values))
    return {name: (days, values[:, k]) for k, name in enumerate(columns)}, lines[0].strip()


def _head_number(lines: Sequence[str], k: int, where: str) -> int:
    found = _HEAD_NUMBER.match(lines[k])
    if not found:
        raise InputError("the line must begin with a number and a colon", where=where, line=k + 1)
    return int(found[1])


def _columns(header: str, where: str, line: int) -> list[str]:
    """Variables by column, told from the line above the rule."""
    words = header.lower()
    if "rain" in words:
        return ["pr"]
    if "eto" in words or "et0" in words:
        return []
    low, high = words.find("min"), words.find("max")
    if low < 0 or high < 0:
        raise InputError(
            f"the columns are named {header.strip()!r}; Tmin and Tmax, total rain or ETo are understood",
            where=where,
            line=line,
        )
    units = re.findall(r"\(([^)]*)\)", header)
    if any(u.strip().lower().lstrip("°") not in ("c", "degc", "oc") for u in units):
        raise InputError(
            f"temperatures of this format are in degC, but the file says {units[0]!r}", where=where, line=line
        )
    return ["tasmin", "tasmax"] if low < high else ["tasmax", "tasmin"]


def _values(lines: Sequence[str], columns: int, where: str, first: int) -> np.ndarray:
    """Numbers below the rule, shape (days, columns)."""
    last = len(lines)
    while last and not lines[last - 1].strip():
        last -= 1
    if last > MOST_DAYS:
        raise InputError(f"there are {last:,} days, which no record of a station has", where=where)
    out = np.full((last, columns), np.nan)
    for k, line in enumerate(lines[:last]):
        cells = line.split()
        if len(cells) != columns:
            what = "is empty, and no line says its date" if not cells else f"has {len(cells)} numbers, not {columns}"
            raise InputError(f"the line {what}; mend it", where=where, line=first + k)
        for c, cell in enumerate(cells):
            if cell in MISSING_CODES or cell.removesuffix(".0") in MISSING_CODES:
                continue
            try:
                out[k, c] = plain_number(cell)
            except ValueError:
                raise InputError(f"{cell!r} is not a number", where=where, line=first + k) from None
    if not last:
        raise InputError("there are no days below the line =====", where=where)
    return out
