"""The list of stations that meteostat keeps: fetched beside its place and put there whole, and never used when cut.

meteostat writes the list straight to its place. A stop in the middle would leave half a list that looks fresh for
days, and a second program would read it while it grows.
"""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import Any

from sowcal.weather.written_whole import part_name, write_whole

__all__ = ["is_whole_list", "provide_list"]

_HEAD = 100  # bytes of the header of an SQLite file (its file format, section 1.3)


def is_whole_list(path: Path) -> bool:
    """Whether a file is an SQLite file that is as long as its own header says."""
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            head = file.read(_HEAD)
    except OSError:
        return False
    if len(head) < _HEAD or not head.startswith(b"SQLite format 3\0"):
        return False
    page = int.from_bytes(head[16:18], "big")
    page = 65536 if page == 1 else page
    counted = head[24:28] == head[92:96]  # else an old program wrote it, which keeps no count
    return not counted or size >= page * int.from_bytes(head[28:32], "big")


def provide_list(ms: Any) -> None:
    """See to it that a whole list stands in its place: the fresh one, a newly fetched one, else the old one.

    Raises
    ------
    Exception
        As meteostat, where there is none and none can be fetched.
    """
    if not ms.config.stations_db_file:
        return
    place = Path(ms.config.stations_db_file)
    whole = is_whole_list(place)
    if whole and time.time() - place.stat().st_mtime < ms.config.stations_db_ttl:
        return
    fetched = place.with_name(part_name())  # meteostat's own cache: what a kill leaves there goes with the next fetch
    try:
        ms.config.stations_db_file = str(fetched)  # meteostat fetches what is not there
        ms.stations.meta("00000")
        if not is_whole_list(fetched):
            raise OSError("the list of stations came cut short")
        write_whole(place, fetched.read_bytes())
    except Exception:
        if not whole:
            raise
        os.utime(place)  # an old list is better than none; the next fetch is a list's life away
    finally:
        ms.config.stations_db_file = str(place)
        fetched.unlink(missing_ok=True)
