"""Maps written as CF NetCDF or Zarr: whole or not at all."""

from __future__ import annotations

import os
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sowcal.errors import InputError
from sowcal.outputs.files import PICTURES, write_beside
from sowcal.weather.gridded import is_zarr
from sowcal.weather.written_whole import written_whole

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
    if not os.path.isdir(path.parent) or not os.access(path.parent, os.W_OK):
        raise InputError("cannot write there; name a folder that exists and may be written to", where=str(path))


def write_map(path: Path, dataset: xr.Dataset) -> list[Path]:
    """Write a map as `.nc` or `.zarr`.

    NetCDF-4 where h5netcdf and h5py are installed, else classic NetCDF.
    """
    if path.suffix.lower() == ".zarr":
        _write_zarr(path, dataset)
        return [path]
    four = bool(find_spec("h5netcdf") and find_spec("h5py"))
    packed: dict[Any, Any] = {n: {"zlib": True, "complevel": 4} for n in dataset.data_vars} if four else {}
    encoding = {n: {**dataset[n].encoding, **packed.get(n, {})} for n in dataset.data_vars}

    def write(beside: Path) -> None:
        dataset.to_netcdf(beside, engine="h5netcdf" if four else "scipy", encoding=encoding)

    write_beside(path, write)
    return [path]


def _write_zarr(path: Path, dataset: xr.Dataset) -> None:
    try:
        with written_whole(path, folder=True) as beside:
            # format 2 is what most readers know
            dataset.to_zarr(beside, mode="w", zarr_format=2, consolidated=True)
    except OSError as problem:
        raise InputError(f"could not be written ({problem.strerror})", where=str(path)) from None
