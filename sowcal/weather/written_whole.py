"""Files and folders written beside their place and renamed to it, so that nobody ever reads half of one.

A program that is killed cannot tidy up; what it leaves carries the number of its process, and the next write to the
same folder takes it away.
"""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import shutil
import time
from collections.abc import Iterator
from pathlib import Path

__all__ = ["HALF", "written_whole"]

HALF = re.compile(r"\.sowcal-part-(\d+)-[0-9a-f]{8}(\.\w+)?")
# Times without a change, common practice, no source. The number of a process says nothing about another computer
# that writes to the same network folder, hence the hour; numbers are given again, hence the day.
_HOUR = 3600.0
_DAY = 86400.0
_MAY_ASK = os.name == "posix"  # elsewhere there is no harmless way to ask whether a process lives


@contextlib.contextmanager
def written_whole(path: Path, *, folder: bool = False) -> Iterator[Path]:
    """An empty file beside `path`, which takes its place in the end; nothing changes where the block raises.

    Parameters
    ----------
    path : Path
        What stands there is replaced.
    folder : bool, optional
        Whether an empty folder is wanted.

    Raises
    ------
    OSError
        Where the place cannot be written to.
    """
    _sweep(path.parent)
    suffix = path.suffix if re.fullmatch(r"\.\w+", path.suffix) else ""
    beside = path.with_name(f".sowcal-part-{os.getpid()}-{secrets.token_hex(4)}{suffix}")
    if folder:
        beside.mkdir()
    else:
        os.close(os.open(beside, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666))  # less what the user's umask forbids
    try:
        yield beside
        if folder and os.path.lexists(path):
            _exchange(beside, path)
        else:
            beside.replace(path)
    finally:
        _remove(beside)


def _exchange(beside: Path, path: Path) -> None:
    """Put a folder in the place of another, which then stands where the new one stood."""
    old = beside.with_name(f"{beside.name}.old")  # no name that is swept: for a moment it is all that the user has
    path.rename(old)
    try:
        beside.rename(path)
    except BaseException:
        old.rename(path)
        raise
    old.rename(beside)


def _remove(path: Path) -> None:
    with contextlib.suppress(OSError):
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path)
        else:
            path.unlink(missing_ok=True)


def _sweep(folder: Path) -> None:
    """Take away what programs that were killed left half written in a folder."""
    try:
        with os.scandir(folder) as entries:
            ours = [(Path(e.path), int(found[1])) for e in entries if (found := HALF.fullmatch(e.name))]
    except OSError:  # told by the write itself
        return
    for path, process in ours:
        with contextlib.suppress(OSError):
            age = time.time() - path.lstat().st_mtime
            if age > _DAY or (age > _HOUR and not _lives(process)):
                _remove(path)


def _lives(process: int) -> bool:
    """Whether a process of that number may be running here."""
    if not _MAY_ASK:
        return True
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:  # it is another user's
        return True
    return True
