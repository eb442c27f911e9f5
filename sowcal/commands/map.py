"""`sowcal map`: a crop, or winter chill, over a whole grid."""

from __future__ import annotations

import argparse
import datetime as dt
import os
from pathlib import Path
from typing import TYPE_CHECKING

from sowcal.answers import open_handbook
from sowcal.commands.common import issued, settings_of, tell
from sowcal.crops.handbook import named_crops
from sowcal.errors import InputError, SowcalError
from sowcal.outputs.map_file import MAP_FORMS, PartFolder, check_map_place, write_map
from sowcal.progress import tell_progress

if TYPE_CHECKING:
    import xarray as xr

    from sowcal.weather.grid_file import Grid

__all__ = ["map_command"]

_WORTH_A_WORKER = 150  # judgements of one crop in one cell: starting a worker takes as long as these


class _Come:
    """How far a map has come: blocks done, all blocks, and those of them taken over from an earlier run."""

    done = total = reused = 0

    def __call__(self, done: int, total: int, reused: int) -> None:
        self.done, self.total, self.reused = done, total, reused
        tell_progress("working out the map", done, total, "block")

    def end(self) -> None:
        """Leave no line of work that was stopped above what is told next."""
        tell_progress("working out the map", self.total, self.total, "block")


def map_command(options: argparse.Namespace) -> int:
    """Work out a map and write it; what an interrupted run had finished is taken over."""
    if options.out is None:
        raise InputError(f"a map is written to a file; add --out map.png (or {' '.join(MAP_FORMS[1:])})")
    out: Path = options.out
    check_map_place(out)
    place, crops = _asked(options)
    columns = _columns(options.variables)
    day = issued(options)

    from sowcal.grids.cells import workers
    from sowcal.grids.run import check_dask
    from sowcal.weather.grid_file import open_grid

    check_dask()
    names = [c.name for c in named_crops(open_handbook(options.crop_files), crops)] if crops else []
    grid = open_grid(place, columns)
    if grid.day_by_day and grid.path and grid.shape[0] * grid.shape[1] > 2000:
        tell(
            "the file keeps its maps day by day, so that every block reads all of it; chunked over space it goes faster"
        )
    come = _Come()
    folders: list[PartFolder] = []

    def keep(fingerprint: str) -> PartFolder:
        folders.append(PartFolder(out, fingerprint))
        return folders[-1]

    try:
        with workers(_workers(options, grid, len(names)), options.cluster):
            dataset = _worked_out(options, grid, names, keep, come, day)
    except (KeyboardInterrupt, SowcalError):
        come.end()
        for folder in folders:
            if come.done == come.total:  # stopped by what came out: going on would come to the same
                folder.clear()
            elif os.path.isdir(folder.folder):
                tell("the blocks that are finished are kept; the same call goes on from them")
        raise
    if come.reused:
        tell(f"{come.reused} of {come.total} blocks were finished by an earlier run")
    if said := dataset.attrs.get("warnings"):
        tell(said)
    for path in _written(out, dataset, day):
        tell(f"wrote {path}")
    for folder in folders:
        folder.clear()
    return 0


def _asked(options: argparse.Namespace) -> tuple[str, list[str]]:
    """The grid and the crops of a call."""
    words = [w.strip() for w in options.words]
    if not words:
        raise InputError("name a grid (a NetCDF file or a Zarr store) and a crop")
    if options.chill and len(words) > 1:
        raise InputError("--chill is a map of its own; leave the crops out")
    if not options.chill and len(words) == 1:
        raise InputError("no crop is named; name one or more after the grid, or give --chill")
    return words[0], words[1:]


def _columns(texts: list[str]) -> dict[str, str]:
    out = {}
    for text in texts:
        variable, equals, name = (t.strip() for t in text.partition("="))
        if not equals or not variable or not name:
            raise InputError(f"{text!r} is not of the form tasmin=NAME", where="--variable")
        out[variable] = name
    return out


def _workers(options: argparse.Namespace, grid: Grid, crops: int) -> int:
    """Processes to work with: as many as there are processors, fewer where the work is small."""
    if options.workers is not None:
        return options.workers
    here = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return max(min(here, grid.shape[0] * grid.shape[1] * max(crops, 1) // _WORTH_A_WORKER), 1)


def _worked_out(
    options: argparse.Namespace, grid: Grid, names: list[str], keep, come: _Come, day: dt.date
) -> xr.Dataset:
    from sowcal.grids.maps import chill_map, map_crop

    if options.chill:
        return chill_map(grid, cells=options.block, keep=keep, progress=come, issued=day)
    return map_crop(
        grid,
        names,
        settings_of(options),
        what_ifs=options.what_ifs,
        crop_files=options.crop_files,
        cells=options.block,
        keep=keep,
        progress=come,
        issued=day,
    )


def _written(out: Path, dataset: xr.Dataset, day: dt.date) -> list[Path]:
    if out.suffix.lower() in (".nc", ".zarr"):
        return write_map(out, dataset)
    from sowcal.outputs.figure_map import map_figures
    from sowcal.outputs.files import write_output

    return write_output(out, figures=lambda: map_figures(dataset, issued=day))
