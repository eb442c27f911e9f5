"""Finished blocks of a long run, kept beside its output until the whole is written."""

from __future__ import annotations

import contextlib
import io
import os
import re
import shutil
import zipfile
from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.errors import InputError
from sowcal.files import HALF, file_bytes, part_name, write_whole
from sowcal.kept_files import with_digest, without_digest
from sowcal.outputs.files import PICTURES, need_place
from sowcal.weather.netcdf import is_zarr

if TYPE_CHECKING:
    import xarray as xr

__all__ = [
    "MAP_FORMS",
    "PartFolder",
    "check_map_place",
    "parts_of",
    "remove",
    "write_map",
]

_MOST_BLOCK = 500_000_000  # bytes of one block unpacked; blocks of 64 cells have a few MB
_OURS = re.compile(r"[0-9a-f]{32}-y\d+-\d+-x\d+-\d+\.npz")


def parts_of(out: Path) -> Path:
    """Folder of the finished blocks of an output: `.map.nc.parts` beside `map.nc`."""
    return out.with_name(f".{out.name}.parts")


def remove(path: Path) -> None:
    """Take away a file, or a folder with all that is in it, where there is one."""
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path, ignore_errors=True)
    else:
        path.unlink(missing_ok=True)


class PartFolder:
    """Blocks of one run, each a file of arrays under their digest, named after the run's fingerprint and the block.

    Parameters
    ----------
    out : Path
        The output that the blocks will make up.
    fingerprint : str
        Blocks of a run with another one are never taken over.
    """

    def __init__(self, out: Path, fingerprint: str):
        self.folder = parts_of(out)
        self.fingerprint = fingerprint

    def _path(self, name: str) -> Path:
        return self.folder / f"{self.fingerprint}-{name}.npz"

    def get(self, name: str) -> dict[str, np.ndarray] | None:
        """A block finished before, None where there is none or it cannot be read."""
        try:
            # the archive's own sums are asked only where its lengths are sound
            raw = without_digest(file_bytes(self._path(name), _MOST_BLOCK, "finished block"))
            if raw is None:
                return None
            with zipfile.ZipFile(io.BytesIO(raw)) as packed:
                if sum(part.file_size for part in packed.infolist()) > _MOST_BLOCK:
                    return None
            with np.load(io.BytesIO(raw), allow_pickle=False) as held:
                return {key: held[key] for key in held.files}
        except Exception:  # a damaged block fails in as many ways as there are bytes in it
            return None

    def put(self, name: str, values: dict[str, np.ndarray]) -> None:
        """Keep a block, whole whenever this is stopped."""
        try:
            self.folder.mkdir(exist_ok=True)
            made = io.BytesIO()
            np.savez(made, **values)  # type: ignore[arg-type]
            write_whole(self._path(name), with_digest(made.getvalue()))
        except OSError as problem:
            raise InputError(
                f"a finished block could not be kept ({problem.strerror})", where=str(self.folder)
            ) from None

    def clear(self) -> None:
        """Take away the blocks, those of earlier runs for the same output too, and nothing that is not ours."""
        if not os.path.isdir(self.folder):
            return
        for path in self.folder.iterdir():
            if _OURS.fullmatch(path.name) or HALF.fullmatch(path.name):
                remove(path)
        with contextlib.suppress(OSError):
            self.folder.rmdir()


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
