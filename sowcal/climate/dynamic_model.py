"""The dynamic model of winter chill, in portions.

Fishman, Erez & Couvillon 1987, J. Theor. Biol. 124:473-483 and 126:309-321; constants as in Erez et al. 1990,
Acta Hort. 276:165-174. A thermally unstable intermediate builds up in cold hours and is undone by warm ones;
once it reaches 1 a part of it is fixed for good as a chill portion. The recursion runs over hours for all
rows (site and season) at once, its hours built a few days at a time.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np

from sowcal.climate.growing_years import Span, growing_years, span_in_record
from sowcal.climate.hourly import HourlyCurve

__all__ = ["dynamic_portions", "fill_seasons", "portions_by_day"]

# Constants of the model (energies in K, rates in h-1). It is defined with 273, not 273.15.
_E0, _E1 = 4153.5, 12888.8
_A0, _A1 = 1.395e5, 2.567e18
_SLOPE, _TRANSITION = 1.6, 277.0
_KELVIN = 273.0

# Rows (site and season) run side by side: enough that numpy's own work for a call does not show, few enough that the
# hours of a day stay in the processor's cache. Where there are fewer rows, more days are built at once.
_ROWS_AT_ONCE = 4096


def _rates(temperature: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Hourly step ``x -> gain + keep x``; still where NaN."""
    inverse = temperature + _KELVIN
    np.reciprocal(inverse, out=inverse)
    keep = np.multiply(inverse, -_E1)
    np.exp(keep, out=keep)
    np.multiply(keep, -_A1, out=keep)
    np.exp(keep, out=keep)
    gain = inverse  # its values are used up in the next line
    np.multiply(inverse, _E1 - _E0, out=gain)
    np.exp(gain, out=gain)
    np.multiply(gain, _A0 / _A1, out=gain)
    np.multiply(gain, 1.0 - keep, out=gain)
    if np.isnan(keep.min()):
        missing = np.isnan(keep)
        gain[missing], keep[missing] = 0.0, 1.0
    return gain, keep


def _fixed(temperature: np.ndarray) -> np.ndarray:
    """Share that is fixed where the intermediate reaches 1; none where NaN."""
    kelvin = temperature + _KELVIN
    share = 1.0 / (1.0 + np.exp(-_SLOPE * _TRANSITION * (kelvin - _TRANSITION) / kelvin))
    share[np.isnan(share)] = 0.0
    return share


def _step_through(temperature: np.ndarray, state: np.ndarray, portions: np.ndarray) -> None:
    """Run hours (H, rows) on; `state` and `portions`, shape (rows,), are changed in place."""
    gain, keep = _rates(temperature)
    for hour in range(temperature.shape[0]):
        np.multiply(state, keep[hour], out=state)
        np.add(state, gain[hour], out=state)
        full = (state >= 1.0).nonzero()[0]
        if full.size:
            part = state[full] * _fixed(temperature[hour, full])
            portions[full] += part
            state[full] -= part


def dynamic_portions(temperature: np.ndarray) -> np.ndarray:
    """Chill portions gathered over hourly temperatures.

    Parameters
    ----------
    temperature : array_like
        Shape (..., hours), degC; the model starts empty. Missing hours (NaN) leave it as it is.

    Returns
    -------
    numpy.ndarray
        Portions, shape (...).

    Notes
    -----
    Fishman, Erez & Couvillon 1987, J. Theor. Biol. 124:473-483 and 126:309-321.

    Examples
    --------
    >>> dynamic_portions(np.full((2, 30 * 24), [[6.0], [20.0]])).round(1)  # thirty days at 6 and at 20 degC
    array([24.4,  0. ])
    """
    x = np.asarray(temperature, dtype=float)
    rows = np.ascontiguousarray(x.reshape(-1, x.shape[-1]).T)
    state, portions = np.zeros(rows.shape[1]), np.zeros(rows.shape[1])
    step = max(24 * _ROWS_AT_ONCE // max(rows.shape[1], 1), 24)
    for i in range(0, rows.shape[0], step):
        _step_through(rows[i : i + step], state, portions)
    return portions.reshape(x.shape[:-1])


def portions_by_day(
    tasmin: np.ndarray,
    tasmax: np.ndarray,
    latitude: np.ndarray,
    *,
    days: np.ndarray,
    dates: np.ndarray,
    season: Span,
) -> np.ndarray:
    """Portions fixed on each day, on plain arrays.

    Parameters
    ----------
    tasmin, tasmax : numpy.ndarray
        Shape (..., N), degC.
    latitude : numpy.ndarray
        Degrees, over the leading axes.
    days, dates : numpy.ndarray
        Day of the year and date, shape (N,).
    season : tuple
        As in `sowcal.climate.growing_years`; the model starts afresh on its first day.

    Returns
    -------
    numpy.ndarray
        Shape (..., N), portions; 0 outside the season, NaN on missing days.

    Examples
    --------
    >>> dates = np.arange("2001-09-01", "2001-12-01", dtype="datetime64[D]")
    >>> days = np.arange(244, 335)
    >>> season = ((9, 1), (4, 1))
    >>> cold = np.full((1, 91), 2.0)
    >>> found = portions_by_day(cold, cold + 8.0, np.array([38.0]), days=days, dates=dates, season=season)
    >>> found.shape, float(found.sum().round(1))
    ((1, 91), 66.6)
    """
    tasmin, tasmax = np.broadcast_arrays(tasmin, tasmax)
    size = tasmin.shape[-1]
    where = np.broadcast_to(latitude, tasmin.shape[:-1]).reshape(-1)
    low, high = tasmin.reshape(-1, size), tasmax.reshape(-1, size)
    out = np.zeros(low.shape)
    for southern in (False, True):
        sites = np.flatnonzero((where < 0.0) == southern)
        if sites.size == 0:
            continue
        labels = growing_years(dates, -1.0 if southern else 1.0, span=season)
        spans = span_in_record(dates, season, southern, labels)
        step = max(_ROWS_AT_ONCE // max(labels.size, 1), 1)
        for i in range(0, sites.size, step):
            some = sites[i : i + step]
            curve = HourlyCurve(low[some], high[some], where[some], days)
            out[some] = fill_seasons(curve, spans.first, spans.last, size).T
    out[np.isnan(low) | np.isnan(high)] = np.nan
    return out.reshape(tasmin.shape)


def fill_seasons(curve: Any, first: np.ndarray, last: np.ndarray, size: int) -> np.ndarray:
    """Run all seasons of some sites side by side.

    Parameters
    ----------
    curve
        An `HourlyCurve`, or measured hours that answer to the same call.
    first, last : numpy.ndarray of int
        Each season's first day and one past its last, shape (S,).
    size : int
        Days of the record.

    Returns
    -------
    numpy.ndarray
        Portions fixed on each day, shape (size, sites), 0 outside the seasons.

    Examples
    --------
    >>> low = np.full((1, 60), 2.0)
    >>> curve = HourlyCurve(low, low + 8.0, np.array([38.0]), np.arange(1, 61))
    >>> float(fill_seasons(curve, np.array([0]), np.array([60]), 60).sum().round(1))
    45.4
    """
    sites = curve.sites
    out = np.zeros((size, sites))
    state = np.zeros((first.size, sites))
    length = last - first
    at_once = max(_ROWS_AT_ONCE // max(state.size, 1), 1)
    # between two ends of seasons the same ones run on
    ends = sorted({0, *length.tolist()})
    for begin, end in pairwise(ends):
        active = np.flatnonzero(length > begin)
        running = state[active].reshape(-1)
        for day in range(begin, end, at_once):
            index = first[active] + np.arange(day, min(day + at_once, end))[:, None]
            hours = curve.hours(index.reshape(-1)).reshape(24, index.shape[0], running.size)
            for k, of_day in enumerate(index):
                portions = np.zeros(running.size)
                _step_through(hours[:, k], running, portions)
                out[of_day] = portions.reshape(active.size, sites)
        state[active] = running.reshape(active.size, sites)
    return out
