"""Crops and winter chill over a whole grid: one call each."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.answers import open_handbook
from sowcal.climate.growing_years import MOST_MISSING
from sowcal.counted import counted
from sowcal.crops.find import named_crops
from sowcal.errors import InputError, NotJudgedError, SowcalError
from sowcal.grids.cells import LAND, OTHER_HALF, REFUSED, SEA
from sowcal.grids.fingerprint import grid_record_fingerprint
from sowcal.grids.labels import labelled
from sowcal.grids.run import DIGEST, FILLED_DAYS, STATE, Kept, Progress, Values, check_dask, run_blocks
from sowcal.grids.tasks import ChillTask, CropTask, Task, chill_years
from sowcal.microclimate.what_ifs import check_together
from sowcal.opened import day_of_issue
from sowcal.seasons.settings import Settings
from sowcal.weather.grid_file import Grid, open_grid

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["chill_map", "crop_map"]

_SIGN = "south is negative: check the sign of the latitudes (more than 4 degC the wrong way is no chance)"
_GAP = 7  # days, the longest gap that is filled, as for a single site


def crop_map(
    grid: str | Path | xr.Dataset | Grid,
    crops: str | Iterable[str],
    settings: Settings | None = None,
    *,
    what_ifs: Iterable[str] = (),
    crop_files: Iterable[str] = (),
    columns: Mapping[str, str] | None = None,
    cells: int | None = None,
    keep: Callable[[str], Kept] | None = None,
    progress: Progress | None = None,
    issued: dt.date | None = None,
) -> xr.Dataset:
    """How far crops suit every cell of a grid, how sure that is, and when they are best started.

    Each cell is judged by the functions that judge a single site, so that it equals the same record as a single site
    to the bit. The work goes to the cluster of an active `dask.distributed` client, else to dask's scheduler (threads
    unless `dask.config` says otherwise).

    Parameters
    ----------
    grid : path, xarray.Dataset or Grid
        NetCDF file or Zarr store, a dataset, or what `open_grid` made of either; `tasmin` and `tasmax` by CF names
        and units, daily, over time, latitude and longitude.
    crops : str or iterable of str
        Names.
    settings : Settings, optional
        Risk, yield and time asked for.
    what_ifs, crop_files
        As for `sowing_chart`.
    columns : mapping of str to str, optional
        Variable to its name in the file, where CF names do not tell.
    cells : int, optional
        Most cells of a block that is worked out at once.
    keep : callable, optional
        From the fingerprint of the run to where finished blocks are kept.
    progress : callable, optional
        Called with the blocks done, all blocks and those taken over from an earlier run.
    issued : datetime.date, optional
        Day of issue: days after it lie in the future and are told; today where left out.

    Returns
    -------
    xarray.Dataset
        `suitability_class`, `reliability` (1), `best_start_day` (day of the year from 1), `window_length` (day),
        `yield_fraction` (1), `way` and `limiting_factor` with dimensions (crop, y, x); NaN in the sea,
        and where the seasons are those of the other hemisphere. Single days are not checked cell by cell as those of a
        station are: grids come out of models, and it would take as long as judging several crops.

    Raises
    ------
    InputError
        For dask not installed, a grid that cannot be read, an unknown crop.
    NotJudgedError
        For a record shorter than a year, or a grid without a cell that can be judged.
    """
    check_dask()
    book = open_handbook(tuple(crop_files))
    words = crops.split() if isinstance(crops, str) else list(crops)
    if not words:
        raise InputError("no crop is named; name one or more, or ask for the winter chill")
    chosen = tuple(named_crops(book, words))
    changes = tuple(what_ifs)
    check_together(changes)
    opened = _opened(grid, columns)
    asked = settings or Settings()
    task = CropTask(chosen, book, asked, changes)
    values, told = _worked_out(opened, task, cells, keep, progress, issued)
    names = [crop.name for crop in chosen]
    told = {
        "title": "crop suitability",
        "crop_tables": book.fingerprint,
        "reliability_asked": asked.risk,
        "least_yield_fraction_of_success": asked.success_yield,
        **({"changes": "; ".join(changes)} if changes else {}),
        **told,
    }
    return labelled(opened, values, {"crop": ("crop", np.array(names), {"long_name": "crop type"})}, told)


def chill_map(
    grid: str | Path | xr.Dataset | Grid,
    *,
    columns: Mapping[str, str] | None = None,
    cells: int | None = None,
    keep: Callable[[str], Kept] | None = None,
    progress: Progress | None = None,
    issued: dt.date | None = None,
) -> xr.Dataset:
    """Chill portions of every winter over a grid.

    Parameters and errors as for `crop_map`.

    Returns
    -------
    xarray.Dataset
        `chill_portions` with dimensions (year, y, x), the year that of the spring after the winter, and over the
        years `chill_portions_low` (10th percentile) and `chill_portions_middle` (median); NaN in the sea.
    """
    check_dask()
    opened = _opened(grid, columns)
    years = chill_years(opened.days, opened.latitudes())
    task = ChillTask(tuple(int(y) for y in years), MOST_MISSING)
    values, told = _worked_out(opened, task, cells, keep, progress, issued)
    attributes = {"long_name": "year of the spring after the winter", "units": "1"}
    return labelled(opened, values, {"year": ("year", years, attributes)}, {"title": "winter chill", **told})


def _opened(grid: str | Path | xr.Dataset | Grid, columns: Mapping[str, str] | None) -> Grid:
    opened = grid if isinstance(grid, Grid) else open_grid(grid, columns)
    if opened.days.size < 365:
        raise NotJudgedError(
            f"{counted(opened.days.size, 'day')} of record cannot be judged; at least 365 are needed, "
            "and three whole years for odds",
            where=str(opened.path) if opened.path else None,
        )
    return opened


def _worked_out(
    grid: Grid,
    task: Task,
    cells: int | None,
    keep: Callable[[str], Kept] | None,
    progress: Progress | None,
    issued: dt.date | None,
) -> tuple[Values, dict[str, Any]]:
    """Values over the grid, and what is to be told of its cells."""
    if cells is not None and cells < 1:
        raise InputError(f"blocks of {cells} cells hold nothing; give 1 or more")
    values = run_blocks(grid, task, longest_gap=_GAP, cells=cells, keep=keep, progress=progress)
    state, filled, digests = (values.pop(name) for name in (STATE, FILLED_DAYS, DIGEST))
    sea, refused, turned = (int((state == s).sum()) for s in (SEA, REFUSED, OTHER_HALF))
    where = str(grid.path) if grid.path else None
    if sea + refused + turned == state.size:
        raise _nothing_to_judge(refused, turned, where)
    notes = [*grid.notes, *_future(grid, day_of_issue(issued))]
    if refused:
        notes.append(f"left out for too many impossible values: {counted(refused, 'cell')}")
    if turned:
        notes.append(f"left out for the seasons of the other hemisphere: {counted(turned, 'cell')}; {_SIGN}")
    days = (state.size - sea - refused - turned) * grid.days.size
    share = round(100.0 * float(filled[state == LAND].sum()) / days, 2)
    if share > 0:
        notes.append(f"{share:g} per cent of the days are filled, not measured")
    told: dict[str, Any] = {"days_filled_per_cent": share, "record_fingerprint": grid_record_fingerprint(digests)}
    return values, {**told, "cells_without_a_record": sea, **({"warnings": "; ".join(notes)} if notes else {})}


def _nothing_to_judge(refused: int, turned: int, where: str | None) -> SowcalError:
    """Why no cell of a grid can be judged."""
    if turned and turned >= refused:
        return InputError(
            f"the seasons of {counted(turned, 'cell')} are those of the other hemisphere; {_SIGN}", where=where
        )
    why = "every cell has too many impossible values; check the unit" if refused else "no cell holds a value"
    return NotJudgedError(why, where=where)


def _future(grid: Grid, issued: dt.date) -> list[str]:
    """Days of the grid after the day of issue, as a station's are told."""
    after = grid.days[grid.days > np.datetime64(issued, "D")]
    if not after.size:
        return []
    return [f"{counted(after.size, 'day')} of the grid after the day of issue, {issued}: {after[0]} to {after[-1]}"]
