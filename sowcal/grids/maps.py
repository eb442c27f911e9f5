"""Maps of crops and of winter chill over a grid: the two calls, and names, units and flags by the CF conventions."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

import sowcal
from sowcal.answers import open_handbook
from sowcal.climate.growing_years import MOST_MISSING
from sowcal.crops.handbook import crop_words, named_crops
from sowcal.errors import InputError, NotJudgedError, SowcalError
from sowcal.grids.cells import (
    CLASSES,
    LAND,
    LIMITS,
    OTHER_HALF,
    REFUSED,
    SEA,
    WAYS,
    ChillTask,
    CropTask,
    Task,
    chill_years,
)
from sowcal.grids.run import (
    DIGEST,
    FILLED_DAYS,
    STATE,
    Kept,
    Progress,
    Values,
    check_dask,
    grid_record_fingerprint,
    run_blocks,
)
from sowcal.languages import counted
from sowcal.microclimate import check_together, parse_what_if
from sowcal.provenance import FEWER_STARTS
from sowcal.settings import Settings
from sowcal.site_weather import day_of_issue
from sowcal.weather.grid_file import Grid, open_grid

if TYPE_CHECKING:
    import xarray as xr

__all__ = [
    "chill_map",
    "labelled",
    "map_crop",
]


def _flags(words: Sequence[str]) -> dict[str, Any]:
    """Flag values from 1, and the words joined by underscores."""
    meanings = " ".join(w.replace(",", "").replace(" ", "_") for w in words)
    return {"flag_values": np.arange(1, len(words) + 1, dtype=np.int8), "flag_meanings": meanings}


_FLAG_FILE = {"dtype": "int8", "_FillValue": np.int8(-1)}
_DAY_FILE = {"dtype": "int16", "_FillValue": np.int16(-1)}
_FULL_FILE = {"dtype": "float64", "_FillValue": np.nan}
ATTRIBUTES: dict[str, dict[str, Any]] = {
    "suitability_class": {
        "long_name": "how far the crop suits the place",
        **_flags(CLASSES),
        "comment": "sound and thrives: S1; fair and crops with a check: S2; not here: N; cannot say: no class; the "
        "others: S3 (FAO land evaluation framework 1976)",
    },
    "reliability": {
        "units": "1",
        "long_name": "share of the decided years that succeed",
        "comment": "of the best start day of an annual; of a perennial, share of years that crop",
    },
    "best_start_day": {
        "units": "1",
        "long_name": "day of the year on which the crop is best sown, set out or planted",
        "valid_min": np.int16(1),
        "valid_max": np.int16(365),
        "comment": "1 is 1 January and 365 is 31 December of a year in which 29 February counts as the 28th; where no "
        "start is recommended, the best of the possible ones; missing where none is possible",
    },
    "window_length": {
        "units": "day",
        "long_name": "start days recommended in a year, by the best way of starting",
        "comment": "0 where none is recommended",
    },
    "yield_fraction": {
        "units": "1",
        "long_name": "share of the attainable yield from the best start day, mean of the decided years",
    },
    "way": {"long_name": "best way of starting", **_flags(WAYS)},
    "limiting_factor": {"long_name": "what most often stops the crop", **_flags(LIMITS)},
    "chill_portions": {
        "units": "1",
        "long_name": "chill portions of the cold season (dynamic model)",
        "references": "Fishman, Erez & Couvillon 1987, J. Theor. Biol. 124:473-483 and 126:309-321",
    },
    "chill_portions_low": {"units": "1", "long_name": "chill portions had in nine winters of ten (10th percentile)"},
    "chill_portions_middle": {"units": "1", "long_name": "chill portions of the middle winter (median)"},
}
_CODED = ("suitability_class", "way", "limiting_factor")
_COUNTED = ("best_start_day", "window_length")


def labelled(
    grid: Grid, values: Mapping[str, np.ndarray], leading: Mapping[str, Any], attributes: Mapping[str, Any]
) -> xr.Dataset:
    """A CF dataset of values over a grid.

    Parameters
    ----------
    grid : Grid
    values : mapping
        Arrays (..., y, x) by name, with the leading dimensions in the order of `leading`.
    leading : mapping
        Coordinates of dimensions before y and x.
    attributes : mapping
        Of the dataset, besides its conventions and source.
    """
    import xarray as xr

    places = {str(c.name): c for c in (grid.latitude, grid.longitude)}
    coords: dict[str, Any] = dict(leading)
    for name, place in places.items():
        axis = {"Y" if place.attrs["standard_name"] == "latitude" else "X"}
        extra = {"axis": axis.pop()} if place.dims == (name,) else {}
        coords[name] = (place.dims, place.values, {**place.attrs, **extra})
    if grid.height is not None:
        coords["height"] = (grid.height.dims, grid.height.values, grid.height.attrs)
    variables = {}
    for name, array in values.items():
        dims = (*list(leading)[: array.ndim - 2], *grid.dims)
        file = _FLAG_FILE if name in _CODED else _DAY_FILE if name in _COUNTED else _FULL_FILE
        variables[name] = xr.Variable(dims, array, dict(ATTRIBUTES[name]), encoding=dict(file))
    first, last = str(grid.days[0]), str(grid.days[-1])
    came_from = f" ({grid.source})" if grid.source else ""
    told = {
        "Conventions": "CF-1.11",
        "title": f"{attributes.get('title', '')} over {grid.title}".strip(),
        "source": f"sowcal {sowcal.__version__}, from the daily temperatures of {grid.title}{came_from}",
        "record": f"{first} to {last}",
        "comment": "Odds are odds of the record and no promise; local codes and licensed practice come first.",
    }
    return xr.Dataset(variables, coords, {**told, **{k: v for k, v in attributes.items() if k != "title"}})


_SIGN = "south is negative: check the sign of the latitudes (more than 4 degC the wrong way is no chance)"
_GAP = 7  # days, the longest gap that is filled, as for a single site


def map_crop(
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
        Reliability, yield and time asked for.
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

    Examples
    --------
    >>> import numpy as np
    >>> import xarray as xr
    >>> time = np.arange("2001-01-01", "2005-01-01", dtype="datetime64[D]").astype("datetime64[ns]")
    >>> wave = np.cos(2 * np.pi * np.arange(time.size) / 365.25)[:, None, None] * np.ones((1, 2))
    >>> axes = ("time", "lat", "lon")
    >>> grid = xr.Dataset(
    ...     {
    ...         "tasmin": (axes, 9.0 - 7.0 * wave, {"units": "degC", "standard_name": "air_temperature"}),
    ...         "tasmax": (axes, 19.0 - 7.0 * wave, {"units": "degC", "standard_name": "air_temperature"}),
    ...     },
    ...     {"time": time, "lat": [38.0], "lon": [-9.0, -8.9]},
    ... )
    >>> found = map_crop(grid, "courgette", issued=dt.date(2026, 1, 15))
    >>> found["suitability_class"].dims, found["reliability"].shape
    (('crop', 'lat', 'lon'), (1, 1, 2))
    >>> float(found["best_start_day"][0, 0, 0])
    121.0
    """
    check_dask()
    book = open_handbook(tuple(crop_files))
    words = crop_words(crops)
    if not words:
        raise InputError("no crop is named; name one or more, or ask for the winter chill")
    chosen = tuple(named_crops(book, words))
    changes = tuple(what_ifs)
    _check_changes(changes)
    opened = _opened(grid, columns)
    asked = settings or Settings()
    task = CropTask(chosen, book, asked, changes)
    values, told = _worked_out(opened, task, cells, keep, progress, issued)
    names = [crop.name for crop in chosen]
    told = {
        "title": "crop suitability",
        "crop_tables": book.fingerprint,
        "reliability_asked": asked.reliability,
        "least_yield_fraction_of_success": asked.least_yield,
        **({"starts": FEWER_STARTS.format(every=asked.every)} if asked.every > 1 else {}),
        **({"changes": "; ".join(changes)} if changes else {}),
        **told,
    }
    return labelled(opened, values, {"crop": ("crop", np.array(names), {"long_name": "crop type"})}, told)


def _check_changes(changes: Sequence[str]) -> None:
    """Raise `InputError` for changes that cannot be, or that belong to one plot."""
    check_together(changes)
    if any(parse_what_if(text)[0].name == "slope" for text in changes):
        raise InputError("a slope is that of one plot; it cannot be laid over a grid", where="--with slope")


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

    Parameters and errors as for `map_crop`.

    Returns
    -------
    xarray.Dataset
        `chill_portions` with dimensions (year, y, x), the year that of the spring after the winter, and over the
        years `chill_portions_low` (10th percentile) and `chill_portions_middle` (median); NaN in the sea.

    Examples
    --------
    >>> import numpy as np
    >>> import xarray as xr
    >>> time = np.arange("2001-01-01", "2005-01-01", dtype="datetime64[D]").astype("datetime64[ns]")
    >>> wave = np.cos(2 * np.pi * np.arange(time.size) / 365.25)[:, None, None] * np.ones((1, 2))
    >>> axes = ("time", "lat", "lon")
    >>> grid = xr.Dataset(
    ...     {
    ...         "tasmin": (axes, 9.0 - 7.0 * wave, {"units": "degC", "standard_name": "air_temperature"}),
    ...         "tasmax": (axes, 19.0 - 7.0 * wave, {"units": "degC", "standard_name": "air_temperature"}),
    ...     },
    ...     {"time": time, "lat": [38.0], "lon": [-9.0, -8.9]},
    ... )
    >>> found = chill_map(grid, issued=dt.date(2026, 1, 15))
    >>> found["chill_portions"].dims, found["chill_portions_middle"].values.round(1)
    (('year', 'lat', 'lon'), array([[118.8, 118.8]]))
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
