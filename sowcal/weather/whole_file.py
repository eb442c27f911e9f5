"""The bytes of a file, where it is an ordinary one and no larger than its kind can be.

A name may stand for a folder, a pipe that never ends, a device, or a file of many gigabytes by mistake or by malice.
Each is refused in a sentence before anything is read, so that no file can hang a reader or fill the memory.
"""

from __future__ import annotations

import gzip
import os
import stat
import zlib
from pathlib import Path
from typing import BinaryIO

from sowcal.errors import InputError

__all__ = ["GZIP", "MOST_TEXT", "file_bytes", "file_size", "opened", "size_words", "unpacked"]

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
