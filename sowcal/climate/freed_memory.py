"""Freed memory is kept for the next array instead of being handed back and asked for anew.

The arrays of one site are some 90 kB each, those of a block of cells some megabytes, and they live for milliseconds.
The C library of Linux (glibc) hands back what lies free at the top of its heap from 128 kB on, and maps larger arrays
one by one, so that the system must clear the same pages again and again. Left alone it learns better in time; a worker
of dask is started with a limit of 64 kB, which it then keeps, and spent two fifths of its time so. Elsewhere nothing
changes.
"""

from __future__ import annotations

import ctypes
import sys

__all__ = ["keep_freed_memory"]

# Parameters of mallopt(3), and the greatest threshold for mapping that it takes on 64 bits.
_M_TRIM_THRESHOLD, _M_MMAP_THRESHOLD = -1, -3
_MAPPED_FROM = 32 * 2**20  # bytes
_KEPT = 64 * 2**20  # bytes that may lie free, in each thread's heap


def keep_freed_memory() -> None:
    """Raise both limits, once for the process."""
    if not sys.platform.startswith("linux"):
        return
    try:
        mallopt = ctypes.CDLL(None).mallopt
    except (AttributeError, OSError):  # another C library than glibc
        return
    mallopt(_M_MMAP_THRESHOLD, _MAPPED_FROM)
    mallopt(_M_TRIM_THRESHOLD, _KEPT)
