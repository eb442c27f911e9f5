"""Finished blocks of a long run, kept beside its output until the whole is written."""

from __future__ import annotations

import contextlib
import io
import os
import re
import shutil
import zipfile
from pathlib import Path

import numpy as np

from sowcal.errors import InputError
from sowcal.weather.whole_file import opened
from sowcal.weather.written_whole import HALF, write_whole

__all__ = ["PartFolder", "parts_of", "remove"]

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
    """Blocks of one run, each a file of arrays named after the run's fingerprint and the block.

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
            with opened(self._path(name)) as file, zipfile.ZipFile(file) as packed:
                if sum(part.file_size for part in packed.infolist()) > _MOST_BLOCK:
                    return None
                with np.load(file, allow_pickle=False) as held:
                    return {key: held[key] for key in held.files}
        except Exception:  # a damaged block fails in as many ways as there are bytes in it
            return None

    def put(self, name: str, values: dict[str, np.ndarray]) -> None:
        """Keep a block, whole whenever this is stopped."""
        try:
            self.folder.mkdir(exist_ok=True)
            made = io.BytesIO()
            np.savez(made, **values)  # type: ignore[arg-type]
            write_whole(self._path(name), made.getbuffer())
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
