"""The text of a table: its comments, header and rows, with the line that each row stands on."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from sowcal.errors import InputError
from sowcal.files import MOST_DAYS, read_lines
from sowcal.languages import counted
from sowcal.weather.names_and_units import Column

__all__ = ["MISSING_CODES", "Table", "read_table", "table_values"]

# What a missing value may look like; nothing else is taken for missing.
_MISSING_WORDS = ("na", "n/a", "#n/a", "nan", "null", "none")
MISSING_CODES = (
    "",
    *("-", "--", "---", "–", "—", "−"),
    *(form for word in _MISSING_WORDS for form in (word, word.upper(), word.capitalize())),
    *("NaN", "-9999", "-999", "-999.9", "-99.9"),
)
_MISSING_NUMBERS = (-9999.0, -999.0, -999.9, -99.9)
_NUMBER = re.compile(r"[+-]?(?:\d{1,12}\.?\d{0,12}|\.\d{1,12})").fullmatch

# The typographic minus and the dash that stands for it; between two digits it is a range, and no number.
_MINUS = re.compile(r"(?<![\w.])[−–](?=[\d.,])")
_REMARK = re.compile(r"\W*([A-Za-z_]+)\s*[:=]\s*(\S.*)")
_MOST_COLUMNS, _LONGEST_HEADER = 1000, 200  # of a table that people make: common practice, no source


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of text and where they stand.

    Attributes
    ----------
    where : str
        File.
    headers : list of str
    rows : list of str
        Lines below the header that hold values.
    lines : numpy.ndarray of int, shape (n,)
        Line of the file of each row, from 1.
    separator : str
    remarks : dict of str to str
        Comment lines above the header of the form `# name: value`, names in lower case.
    """

    where: str
    headers: list[str]
    rows: list[str]
    lines: np.ndarray
    separator: str
    header_line: int
    remarks: dict[str, str] = field(default_factory=dict)

    def error(self, message: str, row: int = -1, column: str | None = None) -> InputError:
        """The exception for a row, counted from 0; -1 stands for the whole file."""
        return InputError(message, where=self.where, line=int(self.lines[row]) if row >= 0 else None, column=column)

    def cells(self, row: int) -> list[str]:
        """Cells of a row as text."""
        return next(csv.reader([self.rows[row]], delimiter=self.separator, skipinitialspace=True))


def read_table(path: str | Path, *, separator: str | None = None, comment: str | None = "#") -> Table:
    """Read a table of text.

    Parameters
    ----------
    path : str or Path
    separator : str, optional
        Told from the header line when left out: semicolon, tab, comma, or blanks.
    comment : str or None, default '#'
        Lines that begin so are comments.

    Raises
    ------
    InputError
        For a file that cannot be read, without rows, without a known separator, or with ragged rows.
    """
    where = str(path)
    lines = read_lines(Path(path))
    first = 0
    remarks: dict[str, str] = {}
    while first < len(lines) and _is_beside(lines[first], comment):
        remark = _REMARK.fullmatch(lines[first].rstrip())
        if remark:
            remarks[remark[1].lower()] = remark[2]
        first += 1
    if first == len(lines):
        raise InputError("there is no header line in the file", where=where)
    header = lines[first]
    separator = _separator(header, separator, where, first + 1)
    rows = lines[first + 1 :]
    if separator == " ":  # columns set apart by blanks, as many as it takes
        header, rows, separator = "\t".join(header.split()), ["\t".join(r.split()) for r in rows], "\t"
    numbers = np.arange(first + 2, len(lines) + 1)
    if any(not r.strip() for r in rows) or (comment and any(r.lstrip().startswith(comment) for r in rows)):
        keep = [not _is_beside(r, comment) for r in rows]
        rows = [r for r, k in zip(rows, keep, strict=True) if k]
        numbers = numbers[np.array(keep, dtype=bool)]
    if not rows:
        raise InputError("there are no rows below the header", where=where, line=first + 1)
    if len(rows) > MOST_DAYS:
        raise InputError(
            f"there are {len(rows):,} rows below the header, and 400 years of one row a day have no more than "
            f"{MOST_DAYS:,}; give a table of days",
            where=where,
        )
    headers = [h.strip() for h in next(csv.reader([header], delimiter=separator, skipinitialspace=True))]
    if len(headers) > _MOST_COLUMNS or max(map(len, headers)) > _LONGEST_HEADER:
        raise InputError(
            f"the first line that is no remark is no header: it has {len(headers)} cells, the longest of "
            f"{max(map(len, headers))} letters",
            where=where,
            line=first + 1,
        )
    table = Table(where, headers, rows, numbers, separator, first + 1, remarks)
    _check_widths(table)
    return table


def _is_beside(line: str, comment: str | None) -> bool:
    text = line.strip()
    return not text or bool(comment and text.startswith(comment))


def _separator(header: str, asked: str | None, where: str, line: int) -> str:
    names = {"comma": ",", "semicolon": ";", "tab": "\t", "\\t": "\t", "whitespace": " "}
    if asked is not None:
        asked = names.get(asked, asked)
        if len(asked) != 1:
            raise InputError(f"separator {asked!r} must be one character, such as ',' or ';'", where=where)
        found = asked if asked in header else None
    else:
        found = next((s for s in (";", "\t", ",") if s in header), None)
        if found is None and len(header.split()) > 2:
            found = " "
    if found is None:
        what = f"{asked!r}" if asked else "comma, semicolon or tab"
        raise InputError(
            f"the header line has no {what} between its columns; give separator in the site file",
            where=where,
            line=line,
        )
    return found


def _check_widths(table: Table) -> None:
    wanted = len(table.headers)
    widths = np.fromiter((r.count(table.separator) for r in table.rows), dtype=int, count=len(table.rows)) + 1
    for row in np.flatnonzero(widths != wanted):
        cells = table.cells(int(row))  # a separator inside quotation marks is none
        while len(cells) > wanted and not cells[-1].strip():
            cells.pop()  # empty columns to the right, as spreadsheets leave them
        if len(cells) != wanted:
            raise table.error(
                f"the row has {counted(len(cells), 'cell')} but the header {counted(wanted, 'column')}; mend the row",
                int(row),
            )


def table_values(table: Table, texts: Sequence[Column], numbers: Sequence[Column]) -> dict[str, np.ndarray]:
    """Columns as arrays, shape (n,): text as it stands, numbers as float64 with missing codes as NaN.

    Decimal commas are tried where points do not make numbers and the comma does not separate cells.

    Raises
    ------
    InputError
        For a cell that is no number, with its line and column.
    """
    body = _MINUS.sub("-", "\n".join(table.rows))
    found = _plain_values(body, table.separator, texts, numbers) or _parsed_values(table, body, texts, numbers)
    for c in numbers:
        # the fast parser of older pandas is a last binary digit off; no reading has more than 6 decimals
        with np.errstate(over="ignore"):  # a number too large to be true is told of later
            values = found[c.name].round(6)
        values[np.isin(values, _MISSING_NUMBERS)] = np.nan
        found[c.name] = values
    return found


def _plain_values(
    body: str, separator: str, texts: Sequence[Column], numbers: Sequence[Column]
) -> dict[str, np.ndarray] | None:
    """Columns of a table without quotation marks, with decimal points and nothing unusual in it; None of any other.

    The import of pandas takes as long as half a chart, and most tables are as plain as that.
    """
    if '"' in body or "'" in body:
        return None
    missing = frozenset(MISSING_CODES)
    rows = [line.split(separator) for line in body.split("\n")]
    out: dict[str, np.ndarray] = {}
    try:
        for column in texts:
            out[column.name] = np.array([row[column.index].lstrip(" ") for row in rows], dtype=object)
        for column in numbers:
            cells = [row[column.index].strip(" ") for row in rows]
            distinct = set(cells)  # some hundred readings, of ten thousand days
            if not all(cell in missing or _NUMBER(cell) for cell in distinct):
                return None
            number = {cell: np.nan if cell in missing else float(cell) for cell in distinct}
            out[column.name] = np.array([number[cell] for cell in cells])
    except IndexError:
        return None
    return out


def _parsed_values(
    table: Table, body: str, texts: Sequence[Column], numbers: Sequence[Column]
) -> dict[str, np.ndarray]:
    import pandas as pd

    kinds = {c.index: str for c in texts} | {c.index: "float64" for c in numbers}
    missing = {c.index: list(MISSING_CODES) for c in numbers}
    points = [","] if table.separator != "," and "," in body else []
    for decimal in [".", *points]:
        try:
            frame = pd.read_csv(
                io.StringIO(body),
                header=None,
                sep=table.separator,
                decimal=decimal,
                usecols=sorted(kinds),
                dtype=kinds,
                na_values=missing,  # type: ignore[arg-type]  # columns have numbers for names here
                keep_default_na=False,
                skipinitialspace=True,
                index_col=False,
            )
            break
        except ValueError:
            continue
    else:
        _raise_bad_cell(table, numbers, comma=bool(points))
    out = {c.name: frame[c.index].to_numpy(dtype=object) for c in texts}
    return out | {c.name: frame[c.index].to_numpy(dtype=float, copy=True) for c in numbers}


def _raise_bad_cell(table: Table, numbers: Sequence[Column], comma: bool) -> None:
    """Go through the rows one by one, only to say where the mistake stands."""
    commas, points = 0, 0
    for row in range(len(table.rows)):
        cells = table.cells(row)
        if len(cells) <= max(c.index for c in numbers):
            raise table.error("the cells cannot be told apart; check the quotation marks of the row", row)
        for column in numbers:
            text = _MINUS.sub("-", cells[column.index].strip())
            commas, points = commas + ("," in text), points + ("." in text)
            if text in MISSING_CODES:
                continue
            try:
                float(text.replace(",", ".") if comma else text)
            except ValueError:
                raise table.error(
                    f"{text!r} is not a number; leave the cell empty where the value is missing",
                    row,
                    column.header,
                ) from None
            if commas and points:
                raise table.error(
                    f"{text!r} has another decimal sign than the rows above; use one throughout",
                    row,
                    column.header,
                )
    raise table.error("the rows cannot be read as numbers; check quotation marks and separators")
