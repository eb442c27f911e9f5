"""One program at a time over a file that several may write, as far as the system can tell."""

from __future__ import annotations

import contextlib
import os
import time
from collections.abc import Iterator
from pathlib import Path

__all__ = ["alone"]

_PATIENCE = 10.0  # s; writing a record takes a part of one, and a lock that cannot be had must not cost the answer


@contextlib.contextmanager
def alone(path: Path) -> Iterator[None]:
    """Within it, no other program is within the same; without a system that locks files, or in a read-only folder, it
    does nothing. The system itself frees the lock of a program that dies.

    Parameters
    ----------
    path : Path
        A file of no content beside that which is written.
    """
    try:
        import fcntl
    except ImportError:
        yield
        return
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_NONBLOCK, 0o666)
    except OSError:
        yield
        return
    try:
        end = time.monotonic() + _PATIENCE
        while time.monotonic() < end:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
                break
            except BlockingIOError:
                time.sleep(0.02)
            except OSError:  # some network folders cannot lock
                break
        yield
    finally:
        os.close(handle)
