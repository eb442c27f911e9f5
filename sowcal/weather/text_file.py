"""The text of a file, whatever it is packed and encoded in, in lines that a table of days can have."""

from __future__ import annotations

import csv
import gzip
import re
import zlib
from collections.abc import Iterator, Sequence
from pathlib import Path

from sowcal.errors import InputError
from sowcal.weather.whole_file import GZIP, MOST_TEXT, file_bytes, opened, unpacked

__all__ = ["MOST_DAYS", "csv_rows", "first_bytes", "plain_number", "read_lines"]

# Room for 150 years of 50 elements, one value a line; the longest lines known are by-station tables of some 4,000
# letters. Common practice, no source.
_MOST_LINES, _LONGEST_LINE = 3_000_000, 20_000
MOST_DAYS = 400 * 366  # rows of one a day; a longer record is a slip in a date or no daily one
_LINE_ENDS = "\n\r\v\f\x1c\x1d\x1e\x85\u2028\u2029"  # what `splitlines` parts at
_NUMBER = re.compile(r"[+-]?(?:\d{1,40}(?:\.\d{0,40})?|\.\d{1,40})(?:[eE][+-]?\d{1,3})?", re.ASCII)


def first_bytes(path: Path, count: int = 4096) -> bytes:
    """The beginning of a file, unpacked; empty where it cannot be read."""
    try:
        with opened(path) as file:
            beginning = file.read(count)
            if beginning[:2] != GZIP:
                return beginning
            file.seek(0)
            with gzip.GzipFile(fileobj=file) as packed:
                return packed.read(count)
    except (InputError, OSError, EOFError, zlib.error):
        return b""


def read_lines(path: Path) -> list[str]:
    """The lines of a text: UTF-8, UTF-16 with its mark, else what older spreadsheets write; .gz is unpacked.

    Raises
    ------
    InputError
        For a file that is not there, cannot be read, is damaged, is no text, is larger than any record, or has more or
        longer lines than a table of days can have.
    """
    raw = file_bytes(path, MOST_TEXT)
    if raw[:2] == GZIP:
        raw = unpacked(path, MOST_TEXT)
    return _lines(_decoded(raw, str(path)), str(path))


def csv_rows(lines: Sequence[str], where: str) -> Iterator[list[str]]:
    """Rows of comma-separated lines, one by one; `InputError` for quotation marks that never close."""
    reader = csv.reader(lines)
    try:
        yield from reader
    except csv.Error as problem:
        raise InputError(
            f"the rows cannot be parted ({problem}); a quotation mark may be left open",
            where=where,
            line=reader.line_num,
        ) from None


def _decoded(raw: bytes, where: str) -> str:
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16", errors="replace")
    if b"\0" in raw:
        raise InputError("the file holds no text; save the record as CSV", where=where)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")  # only headers can differ


def _lines(text: str, where: str) -> list[str]:
    if sum(text.count(end) for end in _LINE_ENDS) > _MOST_LINES:
        raise InputError(
            f"the file has more than {_MOST_LINES:,} lines, which no record of a station has; check its name",
            where=where,
        )
    lines = text.splitlines()
    longest = max(map(len, lines), default=0)
    if longest > _LONGEST_LINE:
        raise InputError(
            f"the line has {longest:,} letters, which no table of days has; check what the file is",
            where=where,
            line=next(k for k, line in enumerate(lines, 1) if len(line) == longest),
        )
    return lines


def plain_number(text: str) -> float:
    """A number in plain figures such as -1.5 or 2e-3; ValueError for all else that Python takes ('1_0', 'inf')."""
    if not _NUMBER.fullmatch(text.strip()):
        raise ValueError(text)
    return float(text)
