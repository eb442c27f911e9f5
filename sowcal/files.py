"""Files read whole and with a limit, as text or checked TOML; files written whole or not at all; a lock."""

from __future__ import annotations

import contextlib
import csv
import gzip
import math
import os
import re
import secrets
import stat
import tomllib
import zlib
from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Any, BinaryIO

from sowcal.errors import InputError

__all__ = [
    "GZIP",
    "HALF",
    "MOST_DAYS",
    "MOST_TEXT",
    "StrictTable",
    "alone",
    "append_whole",
    "csv_rows",
    "file_bytes",
    "file_size",
    "first_bytes",
    "opened",
    "part_name",
    "plain_number",
    "read_lines",
    "read_toml_text",
    "size_words",
    "toml_table",
    "unpacked",
    "write_whole",
]


GZIP = b"\x1f\x8b"
# A station's 150 years of every element, one value a row, come to about 50 MB. Common practice, no source.
MOST_TEXT = 100_000_000
_PIECE = 1 << 20


def size_words(size: float) -> str:
    """A number of bytes for people: '12 kB', '340 MB', '10 GB'."""
    for unit in ("bytes", "kB", "MB", "GB"):
        if size < 1000:
            return f"{size:.0f} {unit}"
        size /= 1000
    return f"{size:.0f} TB"


def opened(path: Path, what: str = "file") -> BinaryIO:
    """An ordinary file opened for reading; `what` names its kind in errors.

    Raises
    ------
    InputError
        For a name that is not there, a folder, a pipe, a device, or a file that may not be read.
    """
    try:
        # a pipe without a writer would block here for ever
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except (FileNotFoundError, NotADirectoryError, ValueError):  # ValueError: no name that a file could have
        raise InputError(f"there is no {what} {str(path)!r}; check the name and the folder") from None
    except OSError as problem:
        raise InputError(f"the {what} cannot be read ({problem.strerror})", where=str(path)) from None
    kind = os.fstat(handle).st_mode
    if not stat.S_ISREG(kind):
        os.close(handle)
        is_what = "a folder" if stat.S_ISDIR(kind) else "a pipe or a device"
        raise InputError(f"this is {is_what}, not a {what}; name a file", where=str(path))
    return os.fdopen(handle, "rb")


def file_size(path: Path, what: str = "file") -> int:
    """Bytes of an ordinary file; errors as `opened`."""
    with opened(path, what) as file:
        return os.fstat(file.fileno()).st_size


def file_bytes(path: Path, most: int, what: str = "file") -> bytes:
    """All bytes of a file.

    Parameters
    ----------
    path : Path
    most : int
        Bytes that a file of this kind can have.
    what : str
        Its kind in errors, such as 'site file'.

    Raises
    ------
    InputError
        As `opened`; also for a file that is larger.
    """
    with opened(path, what) as file:
        size = os.fstat(file.fileno()).st_size
        try:
            raw = file.read(most + 1) if size <= most else b""
        except OSError as problem:
            raise InputError(f"the {what} cannot be read ({problem.strerror})", where=str(path)) from None
    size = max(size, len(raw))
    if size > most:
        raise InputError(
            f"the {what} is larger ({size_words(size)}) than any {what} ({size_words(most)} at most); check its name",
            where=str(path),
        )
    return raw


def unpacked(path: Path, most: int) -> bytes:
    """All bytes of a gzip file, unpacked piece by piece and never more than `most`.

    Raises
    ------
    InputError
        As `file_bytes`; also for a damaged file, or one that unpacks to more.
    """
    pieces, size = [], 0
    with opened(path) as file:
        if os.fstat(file.fileno()).st_size > most:
            raise InputError(f"the packed file is larger than {size_words(most)}; check its name", where=str(path))
        try:
            with gzip.GzipFile(fileobj=file) as packed:
                while piece := packed.read(_PIECE):
                    pieces.append(piece)
                    size += len(piece)
                    if size > most:
                        raise InputError(
                            f"the file unpacks to more than {size_words(most)}, which no record does; check its name",
                            where=str(path),
                        )
        except (OSError, EOFError, zlib.error):
            raise InputError("the packed file is damaged or cut short; fetch it again", where=str(path)) from None
    return b"".join(pieces)


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


# A garden of a thousand beds has some 100 kB. Reading a key of many dots takes the square of their number, so that
# lines are bounded too. Common practice, no source.
_MOST, _LONGEST_TOML_LINE = 256_000, 4_000
_FIGURES = "a number in the file has too many figures"


def read_toml_text(path: Path, what: str) -> str:
    """Text of a file; `what` names its kind in errors ('site file')."""
    try:
        return file_bytes(path, _MOST, what).decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except UnicodeDecodeError:
        raise InputError(f"the {what} is not UTF-8 text; save it as UTF-8", where=str(path)) from None


def toml_table(text: str, where: str) -> dict[str, Any]:
    """The table of a TOML text; `where` names it in errors, which give the line."""
    for number, one in enumerate(text.split("\n"), 1):
        if len(one) > _LONGEST_TOML_LINE:
            raise InputError(f"the line is longer than {_LONGEST_TOML_LINE} letters; part it", where=where, line=number)
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        line = re.search(r"line (\d+)", str(problem))
        what = re.sub(r"\s*\(at .*\)$", "", str(problem))
        raise InputError(
            f"not a TOML file ({what[:1].lower() + what[1:]}); texts stand in quotation marks",
            where=where,
            line=int(line[1]) if line else None,
        ) from None
    except RecursionError:
        raise InputError("not a TOML file of this kind (brackets within brackets too deep)", where=where) from None
    except ValueError:  # a whole number of thousands of figures
        raise InputError(_FIGURES, where=where) from None
    waiting: list[Any] = [table]
    while waiting:
        one = waiting.pop()
        if isinstance(one, dict):
            waiting.extend(one.values())
        elif isinstance(one, list):
            waiting.extend(one)
        elif isinstance(one, int) and not -(2**63) <= one < 2**63:  # TOML 1.0, "Integer": 64 bits
            raise InputError(_FIGURES, where=where)
    return table


HALF = re.compile(r"\.sowcal-part-[0-9a-f]{16}")


def part_name() -> str:
    """A name for what is not whole yet, no other's."""
    return f".sowcal-part-{secrets.token_hex(8)}"


def write_whole(path: Path, data: bytes | memoryview) -> None:
    """Write a file, in the place of what stands there; nothing changes where that fails.

    A program that is killed leaves at most one `.sowcal-part-*` beside the file: on Linux between two calls only, where
    a file stood there before; elsewhere while it writes, which is from memory and takes a moment. Nothing in the folder
    is looked at or taken away; of the cache, `sowcal weather clear` does that.

    Raises
    ------
    OSError
        Where the place cannot be written to, or has no room.
    """
    half = path.with_name(part_name())
    try:
        named = _without_a_name(path, half, data)
        if named is None:
            with open(half, "xb") as file:
                file.write(data)
        if named != path:
            half.replace(path)
    finally:
        with contextlib.suppress(OSError):
            half.unlink(missing_ok=True)


def _without_a_name(path: Path, half: Path, data: bytes | memoryview) -> Path | None:
    """Write a file without a name, then give it that of `path`, or of `half` where there is a file; None: not here."""
    try:
        handle = os.open(path.parent, os.O_WRONLY | os.O_TMPFILE, 0o666)  # less what the user's umask forbids
    except (AttributeError, OSError):
        return None
    with os.fdopen(handle, "wb") as file:
        file.write(data)
        file.flush()
        for name in (path, half):
            try:
                # a folder's handle, though none is needed, has Python call linkat, which can follow this link
                os.link(f"/proc/self/fd/{handle}", name, src_dir_fd=handle, follow_symlinks=True)
            except FileExistsError:
                continue
            except OSError:
                return None
            return name
    return None


def append_whole(path: Path, data: bytes, head: bytes) -> None:
    """Add lines at the end of a file in one write, after `head` where it is empty; where that fails it stays as it was.

    Raises
    ------
    OSError
        Where the place cannot be written to, or has no room.
    """
    handle = os.open(path, os.O_RDWR | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o666)
    try:
        size = os.fstat(handle).st_size
        if size == 0:
            data = head + data
        elif os.lseek(handle, -1, os.SEEK_END) >= 0 and os.read(handle, 1) not in (b"\n", b"\r"):
            data = b"\n" + data  # a line that a hand, or a failing disk, left without its end
        try:
            if os.write(handle, data) != len(data):
                raise OSError(28, "no room is left")
            os.fsync(handle)
        except OSError:
            with contextlib.suppress(OSError):
                os.ftruncate(handle, size)
            raise
    finally:
        os.close(handle)


_PATIENCE = 10.0  # s; writing a record takes a part of one, and a lock that cannot be had must not cost the answer


@contextlib.contextmanager
def alone(path: Path) -> Iterator[None]:
    """Within it, no other program is within the same; where the folder is read-only, or the lock cannot be had in ten
    seconds, it does nothing. The system itself frees the lock of a program that dies.

    Parameters
    ----------
    path : Path
        A file of no content beside that which is written.
    """
    from filelock import FileLock

    lock = FileLock(path, timeout=_PATIENCE)
    with contextlib.suppress(OSError, NotImplementedError):  # a lock not had in time is an OSError too
        lock.acquire()
    try:
        yield
    finally:
        lock.release()


class StrictTable:
    """One table of a file.

    Parameters
    ----------
    table : mapping
        As `tomllib` gives it.
    keys : sequence of str
        Keys it may have; any other is refused with the nearest one named.
    where : str
        File named in errors.
    inside : str
        Name of the table in errors, '' at the top of the file.
    """

    def __init__(self, table: Any, keys: Sequence[str], where: str, inside: str = ""):
        self.where = where
        self.inside = f" under [{inside}]" if inside else ""
        if not isinstance(table, Mapping):
            raise InputError(f"[{inside}] must be a table of lines such as name = value", where=where)
        self._table = table
        for key in table:
            if key not in keys:
                near = get_close_matches(key.lower(), keys, n=1)
                hint = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(keys)}"
                raise InputError(f"unknown key {key!r}{self.inside}; {hint}", where=where)

    def __contains__(self, key: str) -> bool:
        return key in self._table

    def raw(self, key: str, default: Any = None) -> Any:
        """The value as it stands."""
        return self._table.get(key, default)

    def fail(self, message: str) -> InputError:
        """An error that names the file."""
        return InputError(message, where=self.where)

    def number(self, key: str, least: float, most: float, unit: str, default: float | None = None) -> float:
        """A number within bounds; `InputError` where it is missing and has no default."""
        if key not in self._table:
            if default is None:
                raise self.fail(f"{key} is missing{self.inside}; add a line such as {key} = {least or 1:g}")
            return default
        return self.checked(self._table[key], key, least, most, unit)

    def checked(self, value: Any, key: str, least: float, most: float, unit: str) -> float:
        """A value that must be a number within bounds."""
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise self.fail(f"{key}{self.inside} is {value!r}; it must be a number without quotation marks")
        if not math.isfinite(value) or not least <= value <= most:
            unit = f" {unit}" if unit else ""
            raise self.fail(f"{key}{self.inside} is {value:g}; it must lie between {least:g} and {most:g}{unit}")
        return float(value)

    def text(self, key: str, default: str | None = None) -> str:
        """A text that is not empty."""
        value = self._table.get(key, default)
        if value is None:
            raise self.fail(f'{key} is missing{self.inside}; add a line such as {key} = "..."')
        if not isinstance(value, str) or (not value.strip() and key in self._table):
            raise self.fail(f"{key}{self.inside} is {value!r}; it must be a text in quotation marks")
        return value.strip()

    def word(self, key: str, words: Sequence[str], default: str) -> str:
        """One of some words."""
        value = self.text(key, default).lower()
        if value not in words:
            near = get_close_matches(value, words, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(words)}"
            raise self.fail(f"{key}{self.inside} is {value!r}; {hint}")
        return value

    def table(self, key: str, keys: Sequence[str]) -> StrictTable:
        """A table within this one, empty where it is absent."""
        return StrictTable(self._table.get(key, {}), keys, self.where, key)

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts, empty where it is absent."""
        value = self._table.get(key, [])
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            raise self.fail(f'{key}{self.inside} must be a list of texts such as {key} = ["carrot"]')
        return tuple(v.strip() for v in value)
