"""Damage in an HDF5 file at which the HDF5 library would turn for ever: found before the file is opened.

Texts of varying length lie in global heaps (HDF5 file format, 'Disk Format: Level 1E - Global Heap', from memory):
'GCOL', version 1, three zeros, the size of the heap, then objects of index (2 bytes), references (2), zeros (4) and
size (8). The library steps from object to object by their sizes. Where a size comes to no step at all it never ends,
and neither Python's signals nor a limit of memory reach it (found by fuzzing; the place told by the stack).
"""

from __future__ import annotations

import mmap
from pathlib import Path

from sowcal.weather.whole_file import opened

__all__ = ["turns_for_ever"]

_MARK = b"GCOL\x01\0\0\0"
_HEAD, _OBJECT = 16, 16  # bytes before the first object and before an object's own
_MOST = 200_000_000  # bytes of a file that is searched; a larger one would take as long to search as to read


def turns_for_ever(path: Path) -> bool:
    """Whether a global heap of the file has an object that leads nowhere."""
    with opened(path) as file:
        size = file.seek(0, 2)
        if not 0 < size <= _MOST:
            return False
        with mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as raw:
            at = raw.find(_MARK)
            while at >= 0:
                if _stuck(raw, at, size):
                    return True
                at = raw.find(_MARK, at + 1)
    return False


def _stuck(raw: mmap.mmap, at: int, size: int) -> bool:
    end = min(at + int.from_bytes(raw[at + 8 : at + 16], "little"), size)
    here = at + _HEAD
    while here + _OBJECT <= end:
        index = int.from_bytes(raw[here : here + 2], "little")
        held = int.from_bytes(raw[here + 8 : here + 16], "little")
        step = held if index == 0 else _OBJECT + (held + 7 & ~7)
        step %= 2**64  # as the library counts
        if step == 0:
            return True
        here += step
    return False
