"""Names, units and flags of what is worked out over a grid, by the CF conventions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

import sowcal
from sowcal.grids.tasks import CLASSES, LIMITS, WAYS
from sowcal.weather.grid_file import Grid

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["labelled"]


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
