"""The dynamic model of winter chill, in portions.

Fishman, Erez & Couvillon 1987, J. Theor. Biol. 124:473-483 and 126:309-321; constants as in Erez et al. 1990,
Acta Hort. 276:165-174. A thermally unstable intermediate builds up in cold hours and is undone by warm ones;
once it reaches 1 a part of it is fixed for good as a chill portion. The recursion runs over hours for all
rows (site and season) at once, its hours built a few days at a time.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from sowcal.climate.day_length import day_length
from sowcal.climate.growing_years import Span, growing_years, span_in_record
from sowcal.climate.hourly import HourlyCurve

__all__ = ["dynamic_portions", "fill_seasons", "portions_by_day"]

# Constants of the model (energies in K, rates in h-1). It is defined with 273, not 273.15.
_E0, _E1 = 4153.5, 12888.8
_A0, _A1 = 1.395e5, 2.567e18
_SLOPE, _TRANSITION = 1.6, 277.0
_KELVIN = 273.0

_DAYS_AT_ONCE = 8
_ROWS_AT_ONCE = 4096


def _rates(temperature: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Hourly step ``x -> gain + keep x`` and the share fixed when x reaches 1; still where NaN."""
    kelvin = temperature + _KELVIN
    equilibrium = _A0 / _A1 * np.exp((_E1 - _E0) / kelvin)
    keep = np.exp(-_A1 * np.exp(-_E1 / kelvin))
    ratio = np.exp(-_SLOPE * _TRANSITION * (kelvin - _TRANSITION) / kelvin)
    fixed = 1.0 / (1.0 + ratio)
    gain = equilibrium * (1.0 - keep)
    missing = np.isnan(temperature)
    if missing.any():
        gain[missing], keep[missing], fixed[missing] = 0.0, 1.0, 0.0
    return gain, keep, fixed


def _step_through(temperature: np.ndarray, state: np.ndarray, portions: np.ndarray) -> None:
    """Run hours (H, rows) on; `state` and `portions`, shape (rows,), are changed in place."""
    gain, keep, fixed = _rates(temperature)
    for hour in range(temperature.shape[0]):
        np.multiply(state, keep[hour], out=state)
        np.add(state, gain[hour], out=state)
        if state.max() >= 1.0:
            part = np.where(state >= 1.0, state * fixed[hour], 0.0)
            portions += part
            state -= part


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
    """
    x = np.asarray(temperature, dtype=float)
    rows = np.ascontiguousarray(x.reshape(-1, x.shape[-1]).T)
    state, portions = np.zeros(rows.shape[1]), np.zeros(rows.shape[1])
    for i in range(0, rows.shape[0], 24 * _DAYS_AT_ONCE):
        _step_through(rows[i : i + 24 * _DAYS_AT_ONCE], state, portions)
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
            curve = HourlyCurve(low[some], high[some], day_length(where[some], days))
            fill_seasons(curve, spans.first, spans.last, some, out)
    out[np.isnan(low) | np.isnan(high)] = np.nan
    return out.reshape(tasmin.shape)


def fill_seasons(curve: Any, first: np.ndarray, last: np.ndarray, sites: np.ndarray, out: np.ndarray) -> None:
    """Run all seasons of some sites side by side; their daily portions go into rows `sites` of `out`.

    The curve is an `HourlyCurve`, or measured hours that answer to the same call.
    """
    length = int((last - first).max())
    state = np.zeros(sites.size * first.size)
    for begin in range(0, length, _DAYS_AT_ONCE):
        offset = np.arange(begin, min(begin + _DAYS_AT_ONCE, length))
        index = first[:, None] + offset
        inside = index < last[:, None]
        index = np.where(inside, index, 0)
        hours = np.where(inside[..., None], curve.hours(index), np.nan)  # (sites, seasons, days, 24)
        for k in range(offset.size):
            portions = np.zeros(state.size)
            _step_through(hours[:, :, k].reshape(state.size, 24).T.copy(), state, portions)
            use = inside[:, k]
            out[sites[:, None], index[use, k]] = portions.reshape(sites.size, first.size)[:, use]
