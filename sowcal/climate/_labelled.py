"""The one place where plain arrays, xarray objects and pandas Series meet.

Every public function of `sowcal.climate` is a kernel on numpy arrays whose last axis is time. `apply` calls
the kernel as it is for numpy input and through `xarray.apply_ufunc` (lazily on dask blocks) for DataArrays; what
comes as a Series goes out as one. Neither xarray nor pandas is imported here: a DataArray or a Series can only come
from a caller who has imported them.
"""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from sowcal.errors import InputError
from sowcal.languages import counted

__all__ = [
    "apply",
    "as_series",
    "check_choice",
    "check_latitude",
    "check_number",
    "dates_of",
    "day_numbers",
    "day_of_year_of",
    "is_labelled",
    "is_series",
    "latitude_of",
    "plain_numbers",
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


def is_series(value: Any) -> bool:
    pd = sys.modules.get("pandas")
    return pd is not None and isinstance(value, pd.Series)


def plain_numbers(name: str, value: Any) -> np.ndarray:
    """Values as an array of floats, missing as NaN.

    Raises
    ------
    InputError
        For words (text that looks like a number too), dates, truth values, a whole data frame, or lists of unequal
        lengths.
    """
    pd = sys.modules.get("pandas")
    if pd is not None and isinstance(value, pd.DataFrame):
        raise InputError(f"{name} is a data frame; give one of its columns, or an array with time on its last axis")
    if is_series(value) and value.dtype.kind in "iuf":
        return value.to_numpy(dtype=float, na_value=np.nan)
    masked = sys.modules.get("numpy.ma")  # who has a masked array has loaded it; to ask `numpy.ma` loads it for all
    if masked is not None and isinstance(value, masked.MaskedArray) and value.dtype.kind in "iuf":
        return masked.filled(value.astype(float), np.nan)
    try:
        array = np.asarray(getattr(value, "values", value))
    except ValueError as error:
        raise InputError(f"{name} holds lists of unequal lengths; give an array of numbers") from error
    if array.dtype.kind in "iuf":
        return array.astype(float, copy=False)
    if array.dtype.kind == "O" and array.ndim and not any(isinstance(v, str | bytes | bool) for v in array.flat):
        try:
            return array.astype(float)
        except (TypeError, ValueError):
            pass
    shown = f"{value!r:.60}" if array.ndim == 0 else f"an array of {array.dtype}"
    raise InputError(f"{name} must be numbers, but it is {shown}")


def check_number(name: str, value: Any, *, least: float | None = None, unit: str = "degC") -> float:
    """One finite number as a float; `InputError` for anything else, or below the least."""
    array = plain_numbers(name, value)
    if array.ndim or not np.isfinite(array):
        raise InputError(f"{name} must be one finite number ({unit}), but it is {value!r:.60}")
    if least is not None and array < least:
        raise InputError(f"{name} is {float(array):g} {unit}; it must be {least:g} or more")
    return float(array)


def check_choice(name: str, value: str, choices: Sequence[str]) -> None:
    """Raise `InputError` unless the value is one of the choices."""
    if value not in choices:
        raise InputError(f"{name} is '{value}'; it must be one of {', '.join(choices)}")


def check_latitude(latitude: Any) -> np.ndarray:
    """Latitudes as floats, degrees north; `InputError` beyond the poles and for what is no number."""
    out = plain_numbers("latitude", latitude)
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


def _has_zone(time: Any) -> bool:
    """Whether dates carry a time zone, which could put them on another day."""
    if getattr(getattr(time, "dtype", None), "tz", None) is not None:
        return True
    try:
        dates = np.asarray(time)
    except ValueError:  # lists of unequal lengths, which are told of where the dates are read
        return False
    return dates.dtype.kind == "O" and any(getattr(d, "tzinfo", None) is not None for d in dates.flat)


def dates_of(first: Any, time: Any) -> np.ndarray:
    """Dates of the time axis, shape (N,), datetime64[D], one a day without gaps."""
    if time is None and is_labelled(first) and "time" in first.coords:
        time = first.coords["time"]
    if time is None and is_series(first) and first.index.dtype.kind == "M":
        time = first.index
    if time is None:
        raise InputError("the dates are not known; give time= as an array of dates, one a day")
    if _has_zone(time):
        raise InputError("time has a time zone; give the local dates without one (tz_localize(None) of pandas)")
    try:
        dates = np.asarray(time)
        if dates.dtype.kind not in "MUO":
            raise InputError("time must hold dates (numpy datetime64)")
        dates = dates.astype("datetime64[D]")
    except InputError:
        raise
    except (ValueError, TypeError) as error:
        raise InputError("time must hold dates of the standard calendar (numpy datetime64)") from error
    size = first.sizes.get("time", -1) if is_labelled(first) else _days_of(first)
    if dates.ndim != 1 or dates.size != size:
        raise InputError(
            f"time has {counted(dates.size, 'date')} but the values have {counted(size, 'day')} on their time axis"
        )
    number = dates.view(np.int64)
    if (number[1:] - number[:-1] != 1).any():
        raise InputError("time must run day by day without gaps; put missing days in as NaN")
    return dates


def _days_of(values: Any) -> int:
    """Length of the last axis."""
    shape = np.shape(values)
    if not shape:
        raise InputError("the values have no time axis; give them as arrays, a value a day")
    return shape[-1]


def day_numbers(day_of_year: Any) -> np.ndarray:
    """Days of the year as floats from 1 (1 January) to 366, from numbers or from dates.

    Raises
    ------
    InputError
        Outside 1 to 366, and for what is neither a number nor a date.
    """
    if isinstance(day_of_year, dt.date):
        day_of_year = np.datetime64(day_of_year.strftime("%Y-%m-%d"))
    if _has_zone(day_of_year):
        raise InputError("day_of_year has a time zone; give the local dates without one (tz_localize(None) of pandas)")
    dates = getattr(day_of_year, "values", day_of_year)
    if isinstance(dates, np.ndarray | np.datetime64) and dates.dtype.kind == "M":
        days = dates.astype("datetime64[D]")
        first = days.astype("datetime64[Y]").astype("datetime64[D]")
        return np.where(np.isnat(days), np.nan, (days - first).astype(float) + 1.0)
    numbers = plain_numbers("day_of_year", day_of_year)
    if ((numbers < 1.0) | (numbers > 366.0)).any():
        raise InputError("day_of_year must lie between 1 (1 January) and 366")
    return numbers


def day_of_year_of(first: Any, day_of_year: Any) -> np.ndarray:
    """The days of the year given, or those of the time coordinate of a DataArray or Series (1 is 1 January)."""
    if day_of_year is not None:
        days = day_numbers(day_of_year)
        if not is_labelled(first) and np.ndim(first) and days.shape not in ((), (_days_of(first),)):
            raise InputError(
                f"day_of_year has {counted(days.size, 'day')} but the values have "
                f"{counted(_days_of(first), 'day')} on their time axis"
            )
        return days
    if not is_labelled(first) and not is_series(first):
        raise InputError("day_of_year is not known; give it as an array beside the temperatures")
    return day_numbers(dates_of(first, None))


def as_series(result: Any, first: Any, index: Any = None, columns: Any = None, attrs: Any = None) -> Any:
    """A result as a pandas Series, or a frame where it has columns, like the Series that it was made from.

    Parameters
    ----------
    result : numpy.ndarray
        One axis, or two with `columns`.
    first : pandas.Series
        Its index is taken where `index` is not given.
    index, columns : (name, values), optional
        Of the result's axes.
    attrs : mapping, optional
        `long_name` becomes the name of a Series; all of it goes into its `attrs`.
    """
    pd = sys.modules["pandas"]
    rows = first.index if index is None else pd.Index(index[1], name=index[0])
    if columns is None:
        out = pd.Series(result, index=rows, name=(attrs or {}).get("long_name"))
    else:
        out = pd.DataFrame(result, index=rows, columns=pd.Index(columns[1], name=columns[0]))
    out.attrs = dict(attrs or {})
    return out


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

    Raises
    ------
    InputError
        For values that are no numbers, shapes that do not fit, or a DataArray without time or in another unit.
    """
    each = [attrs] if isinstance(attrs, Mapping) else list(attrs)
    several = not isinstance(attrs, Mapping)
    if not is_labelled(*daily):
        arrays = [plain_numbers("a daily value", x) for x in daily]
        beside = [plain_numbers("a value of the place", p) for p in places]
        _check_shapes(arrays, beside)
        found = kernel(*arrays, *beside)
        series = [x for x in daily if is_series(x)]
        if not series:
            return found
        told = [
            _of_series(r, series, a, out_dims, out_coords)
            for r, a in zip(found if several else [found], each, strict=True)
        ]
        return tuple(told) if several else told[0]
    xr = sys.modules["xarray"]
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


def _check_shapes(daily: Sequence[np.ndarray], places: Sequence[np.ndarray]) -> None:
    """Raise `InputError` where arrays of days do not fit each other, or the values of places do not fit them."""
    days = [x.shape for x in daily if x.ndim]
    if not days:
        raise InputError("the values have no time axis; give them as arrays, a value a day")
    try:
        if len({shape[-1] for shape in days}) > 1:
            raise ValueError
        leading = np.broadcast_shapes(*days)[:-1]
    except ValueError:
        shapes = " and ".join(dict.fromkeys(str(shape) for shape in days))
        raise InputError(f"arrays of days have the shapes {shapes}; give the same days and places to all") from None
    for place in places:
        try:
            if np.broadcast_shapes(place.shape, leading) != leading:
                raise ValueError
        except ValueError:
            raise InputError(
                f"values of the places have the shape {place.shape}, but the days are of places of shape {leading}"
            ) from None


def _of_series(result: np.ndarray, series: Sequence[Any], attrs: Any, out_dims: Any, out_coords: Any) -> Any:
    """A result of one place as the kind in which its days came."""
    first = series[0]
    if not all(first.index.equals(other.index) for other in series[1:]):
        raise InputError("the series of days do not have the same index; bring them to the same dates first")
    if np.ndim(result) != len(out_dims):  # several latitudes over the same days
        return result
    axes = [None if name == "time" else (name, (out_coords or {})[name]) for name in out_dims]
    return as_series(result, first, axes[0], axes[1] if len(axes) > 1 else None, attrs)


def _time_axis(x: Any) -> np.ndarray:
    return np.asarray(x["time"]) if "time" in x.coords else np.arange(x.sizes["time"])


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
        if x.dtype.kind not in "iuf":
            raise InputError(f"'{x.name}' must hold numbers, but it holds {x.dtype}")
    first, *others = (x for x in daily if is_labelled(x))
    for other in others:
        if not np.array_equal(_time_axis(first), _time_axis(other)):
            raise InputError(f"'{first.name}' and '{other.name}' do not have the same dates; align them first")
