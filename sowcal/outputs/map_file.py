"""Maps written as CF NetCDF or Zarr: whole or not at all."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sowcal.errors import InputError
from sowcal.outputs.files import PICTURES, need_place
from sowcal.outputs.part_folder import parts_of, remove
from sowcal.weather.gridded import is_zarr
from sowcal.weather.written_whole import part_name

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["MAP_FORMS", "check_map_place", "write_map"]

MAP_FORMS = (*PICTURES, ".nc", ".zarr")


def check_map_place(path: Path) -> None:
    """Raise `InputError` before any work where a map could not be written to a path in the end."""
    suffix = path.suffix.lower()
    if suffix not in MAP_FORMS:
        ends = f"ends in {path.suffix}" if path.suffix else "has no ending"
        raise InputError(
            f"the file's name {ends}, which a map cannot be written as; it can be written as {', '.join(MAP_FORMS)}",
            where=str(path),
        )
    if suffix == ".zarr" and find_spec("zarr") is None:
        raise InputError("Zarr stores need the package zarr; install it with: pip install 'sowcal[grid]'")
    if os.path.isdir(path) and not (suffix == ".zarr" and is_zarr(path)):
        raise InputError("there is a folder of this name; name another file", where=str(path))
    need_place(path)


def write_map(path: Path, dataset: xr.Dataset) -> list[Path]:
    """Write a map as `.nc` or `.zarr`.

    NetCDF-4 where h5netcdf and h5py are installed, else classic NetCDF.
    """
    if path.suffix.lower() == ".zarr":
        # format 2 is what most readers know
        _moved_there(path, lambda half: dataset.to_zarr(half, mode="w", zarr_format=2, consolidated=True))
        return [path]
    four = bool(find_spec("h5netcdf") and find_spec("h5py"))
    packed: dict[Any, Any] = {n: {"zlib": True, "complevel": 4} for n in dataset.data_vars} if four else {}
    encoding = {n: {**dataset[n].encoding, **packed.get(n, {})} for n in dataset.data_vars}
    engine: Any = "h5netcdf" if four else "scipy"
    _moved_there(path, lambda half: dataset.to_netcdf(half, engine=engine, encoding=encoding))
    return [path]


def _moved_there(path: Path, make: Callable[[Path], object]) -> None:
    """Make a file or a store among the finished blocks of its run, which are there until the whole is, and move it."""
    half = parts_of(path) / part_name()
    try:
        half.parent.mkdir(exist_ok=True)
        make(half)
        if os.path.isdir(path):
            _exchange(half, path)
        else:
            half.replace(path)
    except OSError as problem:
        raise InputError(f"could not be written ({problem.strerror})", where=str(path)) from None
    finally:
        remove(half)
        with contextlib.suppress(OSError):  # the blocks are still in it
            half.parent.rmdir()


def _exchange(half: Path, path: Path) -> None:
    """Put a folder in the place of another, which then stands where the new one stood."""
    old = half.with_name(f"{half.name}.old")  # no name that is cleared: for a moment it is all that the user has
    path.rename(old)
    try:
        half.rename(path)
    except BaseException:
        old.rename(path)
        raise
    old.rename(half)
