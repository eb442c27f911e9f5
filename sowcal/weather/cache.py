"""Records that were fetched, kept as ordinary NetCDF files that any program for climate data can read.

One classic file a station, written whole or not at all, with a version and a fingerprint of its values; a file that is
damaged or of another version counts as absent. They lie in the cache folder (`kept_files.cache_folder`).
"""

from __future__ import annotations

import contextlib
import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from sowcal.errors import InputError
from sowcal.files import HALF, alone, file_size, write_whole
from sowcal.kept_files import cache_folder

if TYPE_CHECKING:
    import xarray as xr

    from sowcal.weather.record import DailyRecord

__all__ = [
    "VERSION",
    "Kept",
    "age_in_days",
    "clear",
    "fingerprint",
    "held",
    "keep",
    "keep_hours",
    "kept",
    "kept_hours",
    "kept_records",
]

VERSION = 1
_MOST = 500_000_000  # bytes; 150 years of hours have some 10 MB
_NAME = re.compile(r"(station|hours)-([A-Za-z0-9_.-]+)\.nc")


@dataclass(frozen=True, slots=True)
class Kept:
    """A file of the cache.

    Attributes
    ----------
    station, name : str
        Id and name of the station.
    first, last : str
        First and last day, ISO 8601; empty for a damaged file.
    fetched : str
        When it was last fetched, ISO 8601, UTC.
    size : int
        Bytes.
    sound : bool
        Whether the file can be used.
    path : Path
    what : str
        'days' or 'hours'.
    """

    station: str
    name: str
    first: str
    last: str
    fetched: str
    size: int
    sound: bool
    path: Path
    what: str = "days"


def fingerprint(dataset: xr.Dataset) -> str:
    """SHA-256 of the days and values of a dataset, in hexadecimal; the same on every machine."""
    digest = hashlib.sha256()
    digest.update(dataset["time"].values.astype("datetime64[D]").astype("<i8").tobytes())
    for name in [*sorted(map(str, dataset.data_vars)), "latitude", "longitude", "elevation"]:
        digest.update(name.encode())
        digest.update(dataset[name].values.astype("<f8").tobytes())
    return digest.hexdigest()


def _file(station: str, what: str = "days") -> Path:
    if not re.fullmatch(r"[A-Za-z0-9_.-]+", station) or station.startswith("."):
        raise InputError(f"{station!r} is no id of a station; it has letters and figures only")
    return cache_folder() / f"{'hours' if what == 'hours' else 'station'}-{station}.nc"


def keep(station: str, record: DailyRecord) -> Path | None:
    """Write a record of days to the cache, whole or not at all.

    Returns
    -------
    Path or None
        The file; None where the folder cannot be written to, which must not cost the user the answer.
    """
    from sowcal.weather.cf_dataset import dataset_of

    return _write(_file(station), dataset_of(record))


def keep_hours(station: str, dataset: xr.Dataset) -> Path | None:
    """Write a station's hours to the cache, as `keep` does its days."""
    return _write(_file(station, "hours"), dataset)


def _write(path: Path, dataset: xr.Dataset) -> Path | None:
    marked = dataset.copy()
    marked.attrs = {k: v for k, v in dataset.attrs.items() if isinstance(v, (str, int, float))}
    marked.attrs |= {"sowcal_cache_version": VERSION, "sowcal_fingerprint": fingerprint(dataset)}
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, marked.to_netcdf(engine="scipy"))
        return path
    except OSError:
        return None


@contextlib.contextmanager
def held(station: str) -> Iterator[None]:
    """Within it, no other program keeps records of the station, so that none undoes what another kept meanwhile."""
    path = _file(station)
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
    with alone(path.with_name(f".lock-{station}")):
        yield


def kept(station: str) -> DailyRecord | None:
    """The kept record of a station; None where there is none that can be trusted."""
    from sowcal.weather.cf_dataset import record_of_labelled

    path = _file(station)
    found = _sound(path) if path.is_file() else None
    return None if found is None else record_of_labelled(found)


def kept_hours(station: str) -> xr.Dataset | None:
    """The kept hours of a station; None where there are none that can be trusted."""
    path = _file(station, "hours")
    return _sound(path) if path.is_file() else None


def _sound(path: Path) -> xr.Dataset | None:
    import xarray as xr

    try:
        if file_size(path) > _MOST:
            return None
        with xr.open_dataset(path, engine="scipy", decode_times=True) as stored:
            dataset = stored.load()
        for name in dataset.data_vars:
            dataset[name].encoding = {}
        if dataset.attrs.get("sowcal_cache_version") != VERSION:
            return None
        return dataset if dataset.attrs.get("sowcal_fingerprint") == fingerprint(dataset) else None
    except Exception:  # a damaged file fails in as many ways as there are bytes in it
        return None


def age_in_days(fetched: str, now: datetime | None = None) -> int:
    """Whole days since a kept record was fetched (ISO 8601); 0 where that is not told."""
    try:
        then = datetime.fromisoformat(fetched)
    except ValueError:
        return 0
    if then.tzinfo is None:
        then = then.replace(tzinfo=UTC)
    return max(((now or datetime.now(UTC)) - then).days, 0)


def kept_records() -> list[Kept]:
    """All files of the cache, by station."""
    folder = cache_folder()
    out = []
    for path in sorted(folder.glob("*.nc")) if folder.is_dir() else []:
        named = _NAME.fullmatch(path.name)
        if not named:
            continue
        what, dataset = ("hours" if named[1] == "hours" else "days"), _sound(path)
        size = path.stat().st_size
        if dataset is None:
            out.append(Kept(named[2], "", "", "", "", size, False, path, what))
            continue
        days = dataset["time"].values.astype("datetime64[D]")
        attributes = dataset.attrs
        name, fetched = str(attributes.get("station_name", "")), str(attributes.get("fetched", ""))
        out.append(Kept(named[2], name, str(days[0]), str(days[-1]), fetched, size, True, path, what))
    return sorted(out, key=lambda k: (k.station, k.what))


def clear(station: str | None = None) -> int:
    """Remove the kept record of a station, or all of them; how many were removed.

    Raises
    ------
    InputError
        Where a file cannot be removed, or nothing is kept of the station named.
    """
    folder = cache_folder()
    if station is not None:
        paths = [p for p in (_file(station), _file(station, "hours")) if p.is_file()]
        if not paths:
            raise InputError(f"nothing is kept of station {station!r}; 'sowcal weather list' shows what is")
    else:
        globs = ("station-*.nc", "hours-*.nc", ".lock-*")
        inside = folder.iterdir() if folder.is_dir() else ()
        paths = [p for p in inside if any(p.match(g) for g in globs) or HALF.fullmatch(p.name)]
    for path in paths:
        try:
            path.unlink()
        except OSError as problem:
            raise InputError(f"it cannot be removed ({problem.strerror})", where=str(path)) from None
    return sum(not p.name.startswith(".") for p in paths)
