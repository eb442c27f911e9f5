"""Files put in their place whole: nobody ever reads half of one, and a program that is killed leaves nothing behind.

What is written is made in memory first; then it goes into a file that has no name (O_TMPFILE), which the system takes
away with the program that wrote it, and is named when it is whole. What remains possible: where a file stands already,
the new one bears a name of its own between two calls of the system, `link` and `rename`, some microseconds; and where
files without a name are not to be had (other systems than Linux, some network folders), for as long as the bytes take
to be written. What a program killed just then has left goes with the next write to the same folder an hour later.
"""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import time
from pathlib import Path

__all__ = ["HALF", "part_name", "write_whole"]

HALF = re.compile(r"\.sowcal-part-[0-9a-f]{16}")
_HOUR = 3600.0  # s without a change; bytes from memory are written long before. Common practice, no source


def part_name() -> str:
    """A name for what is not whole yet, no other's."""
    return f".sowcal-part-{secrets.token_hex(8)}"


def write_whole(path: Path, data: bytes | memoryview) -> None:
    """Write a file, in the place of what stands there; nothing changes where that fails.

    Raises
    ------
    OSError
        Where the place cannot be written to, or has no room.
    """
    _sweep(path.parent)
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


def _sweep(folder: Path) -> None:
    """Take away what programs that were killed left in a folder."""
    with contextlib.suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if HALF.fullmatch(entry.name) and time.time() - entry.stat(follow_symlinks=False).st_mtime > _HOUR:
                with contextlib.suppress(OSError):
                    os.unlink(entry.path)
