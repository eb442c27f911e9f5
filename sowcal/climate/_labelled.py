"""The one place where plain arrays and xarray objects meet.

Every public function of `sowcal.climate` is a kernel on numpy arrays whose last axis is time. `apply` calls
the kernel as it is for numpy input and through `xarray.apply_ufunc` (lazily on dask blocks) for DataArrays.
xarray is never imported here: a DataArray can only come from a caller who has imported it.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from sowcal.counted import counted
from sowcal.errors import InputError

__all__ = [
    "apply",
    "check_choice",
    "check_latitude",
    "dates_of",
    "day_of_year_of",
    "is_labelled",
    "latitude_of",
]

# The package has one unit for each quantity; these are mistakes to be mended at the door.
_WRONG_UNITS = {
    **dict.fromkeys(("K", "kelvin", "Kelvin", "degK"), "degC"),
    **dict.fromkeys(("degF", "F", "°F", "fahrenheit", "degree_fahrenheit"), "degC"),
    **dict.fromkeys(("kg m-2 s-1", "mm s-1", "inch", "in", "inch day-1"), "mm day-1"),
    "W m-2": "MJ m-2 day-1",
}


def is_labelled(*values: Any) -> bool:
    """Whether any of the values is an xarray DataArray."""
    xr = sys.modules.get("xarray")
    return xr is not None and any(isinstance(v, xr.DataArray) for v in values)


def check_choice(name: str, value: str, choices: Sequence[str]) -> None:
    """Raise `InputError` unless the value is one of the choices."""
    if value not in choices:
        raise InputError(f"{name} is '{value}'; it must be one of {', '.join(choices)}")


def check_latitude(latitude: Any) -> np.ndarray:
    """Latitudes as floats, degrees north; `InputError` beyond the poles."""
    out = np.asarray(latitude, dtype=float)
    if (np.abs(out) > 90.0).any():
        raise InputError("latitude must lie between -90 and 90 degrees, south negative")
    return out


def latitude_of(first: Any, latitude: Any) -> Any:
    """The latitude given, or the coordinate `latitude` or `lat` of a DataArray."""
    if latitude is None and is_labelled(first):
        for name in ("latitude", "lat"):
            if name in first.coords:
                latitude = first.coords[name]
                break
    if latitude is None:
        raise InputError("latitude is not known; give latitude= in degrees (south negative)")
    check_latitude(latitude)
    return latitude


def dates_of(first: Any, time: Any) -> np.ndarray:
    """Dates of the time axis, shape (N,), datetime64[D], one a day without gaps."""
    if time is None and is_labelled(first) and "time" in first.coords:
        time = first.coords["time"]
    if time is None:
        raise InputError("the dates are not known; give time= as an array of dates, one a day")
    dates = np.asarray(time)
    if dates.dtype.kind not in "MUO":
        raise InputError("time must hold dates (numpy datetime64)")
    try:
        dates = dates.astype("datetime64[D]")
    except (ValueError, TypeError) as error:
        raise InputError("time must hold dates of the standard calendar (numpy datetime64)") from error
    size = first.sizes.get("time", -1) if is_labelled(first) else np.shape(first)[-1]
    if dates.ndim != 1 or dates.size != size:
        raise InputError(
            f"time has {counted(dates.size, 'date')} but the values have {counted(size, 'day')} on their time axis"
        )
    number = dates.view(np.int64)
    if (number[1:] - number[:-1] != 1).any():
        raise InputError("time must run day by day without gaps; put missing days in as NaN")
    return dates


def day_of_year_of(first: Any, day_of_year: Any) -> np.ndarray:
    """The days of the year given, or those of the time coordinate of a DataArray (1 is 1 January)."""
    if day_of_year is not None:
        return np.asarray(day_of_year, dtype=float)
    if not is_labelled(first):
        raise InputError("day_of_year is not known; give it as an array beside the temperatures")
    dates = dates_of(first, None)
    return (dates - dates.astype("datetime64[Y]").astype("datetime64[D]")).astype(float) + 1.0


def apply(
    kernel: Callable[..., Any],
    daily: Sequence[Any],
    *,
    attrs: Mapping[str, str] | Sequence[Mapping[str, str]],
    places: Sequence[Any] = (),
    out_dims: tuple[str, ...] = ("time",),
    out_coords: Mapping[str, Any] | None = None,
    dtype: Any = float,
) -> Any:
    """Run a kernel on arrays with time last, whatever holds them.

    Parameters
    ----------
    kernel : callable
        Called as ``kernel(*daily, *places)`` with numpy arrays.
    daily : sequence
        Arrays with a time axis (last in numpy, named ``time`` in a DataArray).
    attrs : mapping, or a sequence of them for a kernel with several results
        Attributes of a labelled result, `units` among them.
    places : sequence
        Values without a time axis (latitude, elevation), scalars or over the leading axes.
    out_dims : tuple of str
        Dimensions that the kernel puts last in its result.
    out_coords : mapping, optional
        Coordinates of new dimensions; their lengths size lazy results.
    dtype : dtype
        Of the result.
    """
    if not is_labelled(*daily):
        arrays = [np.asarray(getattr(x, "values", x), dtype=float) for x in daily]
        return kernel(*arrays, *(np.asarray(p, dtype=float) for p in places))
    xr = sys.modules["xarray"]
    each = [attrs] if isinstance(attrs, Mapping) else list(attrs)
    several = not isinstance(attrs, Mapping)
    first = next(x for x in daily if is_labelled(x))
    _check_labelled(daily)
    sizes = {name: len(values) for name, values in (out_coords or {}).items()}
    result = xr.apply_ufunc(
        kernel,
        *[x.chunk({"time": -1}) if getattr(x, "chunks", None) else x for x in daily],
        *places,
        input_core_dims=[["time"] if np.ndim(x) else [] for x in daily] + [[]] * len(places),
        output_core_dims=[list(out_dims)] * len(each),
        dask="parallelized",
        output_dtypes=[dtype] * len(each),
        dask_gufunc_kwargs={"output_sizes": sizes} if sizes else None,
    )
    finished = []
    for array, attributes in zip(result if several else [result], each, strict=True):
        array = array.assign_coords(out_coords) if out_coords else array
        if out_dims == ("time",):
            array = array.transpose(*first.dims, ...)
        array.attrs = dict(attributes)
        finished.append(array)
    return tuple(finished) if several else finished[0]


def _check_labelled(daily: Sequence[Any]) -> None:
    """Raise `InputError` for a DataArray without a time dimension or in a unit not used here."""
    for x in daily:
        if not is_labelled(x):
            continue
        if "time" not in x.dims:
            raise InputError(f"'{x.name}' has no dimension 'time' (it has {', '.join(map(str, x.dims))})")
        unit = x.attrs.get("units")
        if unit in _WRONG_UNITS:
            raise InputError(f"'{x.name}' is in {unit}; convert it to {_WRONG_UNITS[unit]} first")
