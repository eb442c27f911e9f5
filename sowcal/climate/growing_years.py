"""Growing years and other spans of the year, the same in both hemispheres, and reductions over them.

A growing year begins in midwinter of its hemisphere: on 1 January in the north, on 1 July in the south. Year
g is the one whose spring falls in calendar year g, so the southern growing year 2010 runs from 1 July 2010 to
30 June 2011. A *span* is written for the north, as ((month, day), (month, day)) with its end left out, and
lies six months later in the south.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sowcal.climate._labelled import (
    apply,
    check_choice,
    check_latitude,
    check_number,
    dates_of,
    is_labelled,
    latitude_of,
)
from sowcal.errors import InputError
from sowcal.year import MONTH_LENGTHS

__all__ = [
    "AUTUMN_HALF",
    "MOST_MISSING",
    "SPRING_HALF",
    "WHOLE_YEAR",
    "Periods",
    "Span",
    "by_growing_year",
    "by_month",
    "by_season",
    "calendar_day",
    "growing_years",
    "reduce_spans",
    "span_in_record",
]

MonthDay = tuple[int, int]
Span = tuple[MonthDay, MonthDay]
Shift = int | tuple[int, int]

WHOLE_YEAR: Span = ((1, 1), (1, 1))
SPRING_HALF: Span = ((1, 1), (7, 1))
AUTUMN_HALF: Span = ((7, 1), (1, 1))

# A period that lacks more than this share of its days gives NaN. Common practice, no source.
MOST_MISSING = 0.05

SEASONS = ("DJF", "MAM", "JJA", "SON")


def _mean(x: np.ndarray) -> np.ndarray:
    present = np.isfinite(x)
    return np.where(present, x, 0.0).sum(axis=-1) / np.maximum(present.sum(axis=-1), 1)


def _sum(x: np.ndarray) -> np.ndarray:
    total = np.add.reduce(x, axis=-1)
    return np.nansum(x, axis=-1) if np.isnan(np.add.reduce(total, axis=None)) else total


# Of the days present; rows without any are NaN by the rule on missing days.
_REDUCERS: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "sum": _sum,
    "mean": _mean,
    "min": lambda x: np.fmin.reduce(x, axis=-1),
    "max": lambda x: np.fmax.reduce(x, axis=-1),
}


@dataclass(frozen=True)
class Periods:
    """Stretches of days in a record.

    Attributes
    ----------
    labels : numpy.ndarray of int
        Growing year of each, shape (P,).
    first, last : numpy.ndarray of int
        Index of the first day and one past the last one, cut to the record.
    length : numpy.ndarray of int
        Days of the whole period, in the record or not.
    """

    labels: np.ndarray
    first: np.ndarray
    last: np.ndarray
    length: np.ndarray


def calendar_day(dates: np.ndarray) -> np.ndarray:
    """Day of a 365-day year, 1 for 1 January; 29 February counts as the 28th.

    Parameters
    ----------
    dates : numpy.ndarray of datetime64[D]

    Returns
    -------
    numpy.ndarray of int
        Same shape.

    Examples
    --------
    >>> calendar_day(np.array(["2004-01-01", "2004-02-29", "2004-12-31"], dtype="datetime64[D]"))
    array([  1,  59, 365])
    """
    months = dates.astype("datetime64[M]")
    number = months.astype(int) % 12
    before = np.array([0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334])[number]
    day = (dates - months.astype("datetime64[D]")).astype(int) + 1
    return before + np.where((number == 1) & (day == 29), 28, day)


def _edge(year: np.ndarray, when: MonthDay, southern: bool, later: int = 0) -> np.ndarray:
    """Dates on which a span begins or ends, of each growing year."""
    months = (year - 1970 + later) * 12 + (when[0] - 1) + 6 * southern
    return months.astype("datetime64[M]").astype("datetime64[D]") + np.timedelta64(when[1] - 1, "D")


def span_in_record(dates: np.ndarray, span: Span, southern: bool, labels: np.ndarray, shift: Shift = 0) -> Periods:
    """Where each labelled span lies in the record.

    Parameters
    ----------
    dates : numpy.ndarray of datetime64[D]
        Of the record, shape (N,).
    span : ((month, day), (month, day))
        Written for the north, its end left out.
    southern : bool
        Whether it lies six months later.
    labels : numpy.ndarray of int
        Growing years, shape (P,).
    shift : int or (int, int)
        As in `growing_years`.

    Returns
    -------
    Periods
        Indices into the record, days.

    Examples
    --------
    >>> dates = np.arange("2001-01-01", "2002-01-01", dtype="datetime64[D]")
    >>> spring = span_in_record(dates, SPRING_HALF, False, np.array([2001]))
    >>> int(spring.first[0]), int(spring.last[0]), int(spring.length[0])
    (0, 181, 181)
    """
    start, end = span
    year = labels - (shift if isinstance(shift, int) else shift[int(southern)])
    first = _edge(year, start, southern)
    last = _edge(year, end, southern, later=int(end <= start))
    n = dates.size
    i = np.clip((first - dates[0]).astype(int), 0, n)
    j = np.clip((last - dates[0]).astype(int), 0, n)
    return Periods(labels, i, j, (last - first).astype(int))


def growing_years(time: Any, latitude: Any, *, span: Span = WHOLE_YEAR, shift: Shift = 0) -> np.ndarray:
    """Labels of the years that a yearly result has, shape (Y,).

    Parameters
    ----------
    time : array_like of datetime64, shape (N,)
        Dates of the record.
    latitude : float or array_like
        Degrees, south negative. With sites of both hemispheres the labels cover both.
    span : tuple, optional
        Part of the year, written for the north.
    shift : int or (int, int)
        Added to the label (in the north, in the south): 1 for spans, such as the chilling season, that are
        named by the spring after them.

    Returns
    -------
    numpy.ndarray of int
        Shape (Y,).

    Raises
    ------
    InputError
        For dates that are none or have gaps, or a latitude beyond the poles.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2003-01-01", dtype="datetime64[D]")
    >>> growing_years(time, 38.0), growing_years(time, -38.0)
    (array([2001, 2002]), array([2000, 2001, 2002]))
    """
    return _spans(dates_of(time, time), check_latitude(latitude), span, shift)[0]


def _spans(dates: np.ndarray, latitude: Any, span: Span, shift: Shift) -> tuple[np.ndarray, dict[bool, Periods]]:
    """Labels of the years that touch the record, and where they lie in each hemisphere that has a place."""
    if not dates.size:
        raise InputError("the values hold no day")
    _check_span(span)
    year = dates[[0, -1]].astype("datetime64[Y]").astype(int) + 1970
    candidates = np.arange(year[0] - 2, year[1] + 3)
    south = np.asarray(latitude, dtype=float) < 0.0
    # of no place at all both, so that an empty grid has years too
    sides = [side for side in (False, True) if not south.size or (south == side).any()]
    wide = {southern: span_in_record(dates, span, southern, candidates, shift) for southern in sides}
    present = np.zeros(candidates.size, dtype=bool)
    for p in wide.values():
        present |= p.last > p.first
    cut = {
        southern: Periods(candidates[present], p.first[present], p.last[present], p.length[present])
        for southern, p in wide.items()
    }
    return candidates[present], cut


def _check_span(span: Span) -> None:
    """Raise `InputError` unless both ends are days that every year has."""
    try:
        (m, d), (n, e) = span
        sound = all(1 <= month <= 12 and 1 <= day <= MONTH_LENGTHS[month - 1] for month, day in ((m, d), (n, e)))
    except (TypeError, ValueError):
        sound = False
    if not sound:
        raise InputError(f"{span!r:.60} is no part of a year; give ((month, day), (month, day)), its end left out")


def reduce_spans(
    kernel: Callable[..., np.ndarray],
    daily: Sequence[Any],
    *,
    attrs: Mapping[str, str],
    time: Any = None,
    latitude: Any = None,
    span: Span = WHOLE_YEAR,
    shift: Shift = 0,
    most_missing: float = MOST_MISSING,
) -> Any:
    """One value a growing year.

    Parameters
    ----------
    kernel : callable
        Called as ``kernel(*slices, dates)`` with the days of one period, shape (..., days), and their dates;
        gives shape (...).
    daily : sequence of array_like, xarray.DataArray or pandas.Series
        Shape (..., time).
    attrs : mapping
        Attributes of a labelled result.
    time : array_like, optional
        Dates; taken from the DataArray if it is one.
    latitude : float or array_like, optional
        Degrees, south negative, over the leading axes; a DataArray's own coordinate if left out.
    span, shift
        As in `growing_years`.
    most_missing : float
        Largest share of a period's days that may be missing (or lie off the record); beyond it the result is
        NaN.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Shape (..., year).

    Raises
    ------
    InputError
        For values that are no numbers, dates that are missing, do not fit or have gaps, a latitude that is not known or
        beyond the poles, or a share outside 0 to 1.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2003-01-01", dtype="datetime64[D]")
    >>> def days(x, dates):
    ...     return np.isfinite(x).sum(axis=-1)
    >>> reduce_spans(days, [np.zeros(time.size)], attrs={"units": "days"}, time=time, latitude=38.0)
    array([365., 365.])
    """
    _check_share(most_missing)
    dates = dates_of(daily[0], time)
    latitude = latitude_of(daily[0], latitude)
    labels, both = _spans(dates, latitude, span, shift)

    def run(*arrays: np.ndarray) -> np.ndarray:
        *values, where = arrays
        southern = np.asarray(where) < 0.0
        if southern.all() or not southern.any():
            return _reduce(kernel, values, dates, both[bool(southern.all())], most_missing)
        sides = [_reduce(kernel, values, dates, both[s], most_missing) for s in (True, False)]
        return np.where(southern[..., None], *sides)

    return apply(run, daily, places=[latitude], attrs=attrs, out_dims=("year",), out_coords={"year": labels})


def _reduce(
    kernel: Callable[..., np.ndarray],
    values: Sequence[np.ndarray],
    dates: np.ndarray,
    periods: Periods,
    most_missing: float,
) -> np.ndarray:
    """Kernel over each period; NaN where too much of it is missing."""
    shape = np.broadcast_shapes(*(v.shape for v in values))
    out = np.full((*shape[:-1], periods.labels.size), np.nan)
    whole = all(np.isfinite(v).all() for v in values)
    edges = (periods.first.tolist(), periods.last.tolist(), periods.length.tolist())
    for k, (i, j, length) in enumerate(zip(*edges, strict=True)):
        # A small tolerance: 5 per cent of 20 days is one day.
        if (length - (j - i)) > most_missing * length + 1e-9:
            continue
        slices = [v[..., i:j] for v in values]
        if whole:
            out[..., k] = kernel(*slices, dates[i:j])
            continue
        present = np.isfinite(slices[0])
        for other in slices[1:]:
            present = present & np.isfinite(other)
        enough = length - present.sum(axis=-1) <= most_missing * length + 1e-9
        if enough.any():
            out[..., k] = np.where(enough, kernel(*slices, dates[i:j]), np.nan)
    return out


def _check_share(most_missing: float) -> None:
    if not 0.0 <= check_number("most_missing", most_missing, unit="a share") < 1.0:
        raise InputError(f"most_missing is {most_missing:g}; it must be a share from 0 to less than 1")


def by_growing_year(
    values: Any,
    *,
    statistic: str = "sum",
    time: Any = None,
    latitude: Any = None,
    span: Span = WHOLE_YEAR,
    shift: Shift = 0,
    most_missing: float = MOST_MISSING,
    attrs: Mapping[str, str] | None = None,
) -> Any:
    """Sum, mean, least or largest value of the days present in each growing year.

    Parameters
    ----------
    values : array_like, xarray.DataArray or pandas.Series
        Daily values of any unit, shape (..., time).
    statistic : {'sum', 'mean', 'min', 'max'}
    time, latitude, span, shift, most_missing
        As in `reduce_spans`.
    attrs : mapping, optional
        Laid over the attributes of a labelled result.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Shape (..., year), unit as given.

    Raises
    ------
    InputError
        For an unknown statistic, and as in `reduce_spans`.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2003-01-01", dtype="datetime64[D]")
    >>> by_growing_year(np.full(time.size, 2.0), statistic="sum", time=time, latitude=38.0)
    array([730., 730.])
    """
    check_choice("statistic", statistic, tuple(_REDUCERS))
    reducer = _REDUCERS[statistic]
    own = dict(values.attrs) if is_labelled(values) else {}
    return reduce_spans(
        lambda x, dates: reducer(x),
        [values],
        attrs={**own, "cell_methods": f"time: {statistic} over growing years", **(attrs or {})},
        time=time,
        latitude=latitude,
        span=span,
        shift=shift,
        most_missing=most_missing,
    )


def by_month(
    kernel: Callable[..., np.ndarray],
    daily: Sequence[Any],
    *,
    attrs: Mapping[str, str],
    time: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """One value a calendar month; calendar years in both hemispheres.

    Parameters
    ----------
    kernel, daily, attrs, time, most_missing
        As in `reduce_spans`.

    Returns
    -------
    numpy.ndarray or xarray.DataArray
        Shape (..., year, 12); a frame for a Series.

    Raises
    ------
    InputError
        As in `reduce_spans`.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2002-01-01", dtype="datetime64[D]")
    >>> by_month(lambda x, dates: x.sum(axis=-1), [np.ones(365)], attrs={}, time=time)[0, :3]
    array([31., 28., 31.])
    """
    starts = [(m, 1) for m in range(1, 13)]
    return _table(kernel, daily, attrs, time, most_missing, starts, 1, "month", np.arange(1, 13), 0)


def by_season(
    kernel: Callable[..., np.ndarray],
    daily: Sequence[Any],
    *,
    attrs: Mapping[str, str],
    time: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """One value a season DJF, MAM, JJA, SON; DJF has the year of its January.

    Parameters
    ----------
    kernel, daily, attrs, time, most_missing
        As in `reduce_spans`.

    Returns
    -------
    numpy.ndarray or xarray.DataArray
        Shape (..., year, 4); a frame for a Series.

    Raises
    ------
    InputError
        As in `reduce_spans`.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2002-01-01", dtype="datetime64[D]")
    >>> by_season(lambda x, dates: x.sum(axis=-1), [np.ones(365)], attrs={}, time=time)
    array([[nan, 92., 92., 91.],
           [nan, nan, nan, nan]])
    """
    starts = [(m, 1) for m in (0, 3, 6, 9)]
    return _table(kernel, daily, attrs, time, most_missing, starts, 3, "season", np.array(SEASONS), 1)


def _table(kernel, daily, attrs, time, most_missing, starts, months, name, columns, before) -> Any:
    """Kernel over calendar stretches of some months, as a table of years by stretches."""
    _check_share(most_missing)
    dates = dates_of(daily[0], time)
    month = dates[[0, -1]].astype("datetime64[M]").astype(int)
    first, last = (month + before) // 12 + 1970
    labels = np.arange(first, last + 1)
    edges = ((labels - 1970) * 12)[:, None] + np.array([m - 1 for m, _ in starts])
    begin = edges.ravel().astype("datetime64[M]").astype("datetime64[D]")
    end = (edges.ravel() + months).astype("datetime64[M]").astype("datetime64[D]")
    i, j = (np.clip((e - dates[0]).astype(int), 0, dates.size) for e in (begin, end))
    periods = Periods(np.repeat(labels, len(starts)), i, j, (end - begin).astype(int))

    def run(*values: np.ndarray) -> np.ndarray:
        out = _reduce(kernel, values, dates, periods, most_missing)
        return out.reshape(*out.shape[:-1], labels.size, len(starts))

    coords = {"year": labels, name: columns}
    return apply(run, daily, attrs=attrs, out_dims=("year", name), out_coords=coords)
