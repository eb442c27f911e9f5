"""The text of a file, whatever it is packed and encoded in."""

from __future__ import annotations

import gzip
import zlib
from pathlib import Path

from sowcal.errors import InputError

__all__ = ["first_bytes", "read_text"]

_GZIP = b"\x1f\x8b"


def first_bytes(path: Path, count: int = 4096) -> bytes:
    """The beginning of a file, unpacked; empty where it cannot be read."""
    try:
        with path.open("rb") as file:
            packed = file.read(2) == _GZIP
        if packed:
            with gzip.open(path) as file:
                return file.read(count)
        with path.open("rb") as file:
            return file.read(count)
    except (OSError, EOFError, zlib.error):
        return b""


def read_text(path: Path) -> str:
    """The text of a file: UTF-8, UTF-16 with its mark, else what older spreadsheets write; .gz is unpacked.

    Raises
    ------
    InputError
        For a file that is not there, cannot be read, is damaged or is no text.
    """
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        raise InputError(f"there is no file {str(path)!r}; check the name and the folder") from None
    except OSError as problem:
        raise InputError(f"the file cannot be read ({problem.strerror})", where=str(path)) from None
    if raw[:2] == _GZIP:
        try:
            raw = gzip.decompress(raw)
        except (OSError, EOFError, zlib.error):
            raise InputError("the packed file is damaged or cut short; fetch it again", where=str(path)) from None
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16", errors="replace")
    if b"\0" in raw:
        raise InputError("the file holds no text; save the record as CSV", where=str(path))
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")  # only headers can differ
