"""Freed memory is kept for the next array instead of being handed back and asked for anew.

The arrays of one site are some 90 kB each and live for microseconds. The C library of Linux (glibc) hands back what
lies free at the top of its heap from 128 kB on, so that every few calls the system must clear the same pages again. It
raises both of its limits, to the size of a block and to twice as much, when a block as large as this one is freed
(mallopt(3), M_MMAP_THRESHOLD, "dynamic"). Elsewhere nothing changes.
"""

from __future__ import annotations

import numpy as np

__all__ = ["keep_freed_memory"]

_BYTES = 1 << 24  # the block is never touched, so that it costs no memory; up to twice as much may lie free


def keep_freed_memory() -> None:
    """Raise the limits, once for the process."""
    np.empty(_BYTES, dtype=np.uint8)
