"""Winter chill from measured hourly temperatures, by the models of `chill`, without rebuilding the hours."""

from __future__ import annotations

from typing import Any

import numpy as np

from sowcal.climate._labelled import check_choice
from sowcal.climate.chill import HOURS_SEASON, PORTIONS_SEASON, hourly_chill_units
from sowcal.climate.dynamic_model import fill_seasons
from sowcal.climate.growing_years import MOST_MISSING, Span, growing_years, reduce_spans, span_in_record

__all__ = ["HOURLY_MODELS", "daily_chill_of_hours", "season_chill_of_hours"]

HOURLY_MODELS = ("hours below 7.2", "hours 0 to 7.2", "Utah units", "portions")


class _Measured:
    """Measured hours in the place of a rebuilt curve, for one site."""

    sites = 1

    def __init__(self, hours: np.ndarray):
        self._hours = hours

    def hours(self, days: np.ndarray) -> np.ndarray:
        """Temperatures of some days, shape (24, days, 1), degC."""
        return self._hours[days].T[:, :, None]


def daily_chill_of_hours(
    hours: np.ndarray, *, model: str, time: Any, latitude: float, season: Span | None = None
) -> np.ndarray:
    """Chill of each day.

    Parameters
    ----------
    hours : numpy.ndarray, shape (N, 24)
        Temperature at hours 0 to 23 of local solar time, degC; NaN where missing.
    model : str
        One of `HOURLY_MODELS`, with the sources of `chill`.
    time : array_like of datetime64, shape (N,)
        Days without gaps.
    latitude : float
        Degrees, south negative.
    season : tuple, optional
        Of the portions, which start afresh on its first day.

    Returns
    -------
    numpy.ndarray, shape (N,)
        Hours, units or portions; NaN on days of which an hour is missing.
    """
    check_choice("model", model, HOURLY_MODELS)
    hours = np.asarray(hours, dtype=float)
    if model == "portions":
        return _portions(hours, np.asarray(time).astype("datetime64[D]"), latitude, season or PORTIONS_SEASON)
    if model == "Utah units":
        weight = hourly_chill_units(hours)
    else:
        weight = (hours < 7.2) if model == "hours below 7.2" else (hours >= 0.0) & (hours <= 7.2)
    return np.where(np.isnan(hours).any(axis=1), np.nan, weight.sum(axis=1))


def season_chill_of_hours(
    hours: np.ndarray,
    *,
    model: str,
    time: Any,
    latitude: float,
    season: Span | None = None,
    most_missing: float = MOST_MISSING,
) -> tuple[np.ndarray, np.ndarray]:
    """Chill of each cold season.

    Parameters
    ----------
    hours, model, time, latitude, season
        As for `daily_chill_of_hours`; the season is that of the model's practice where it is left out.
    most_missing : float
        Largest share of a season's days that may lack an hour.

    Returns
    -------
    years : numpy.ndarray of int
        Of the spring that follows.
    chill : numpy.ndarray
        NaN for seasons that are not whole.
    """
    span = season or (PORTIONS_SEASON if model == "portions" else HOURS_SEASON)
    dates = np.asarray(time).astype("datetime64[D]")
    daily = daily_chill_of_hours(hours, model=model, time=dates, latitude=latitude, season=span)
    place = np.asarray(latitude, dtype=float)
    sums = reduce_spans(
        lambda x, _: np.nansum(x, axis=-1),
        [daily],
        attrs={},
        time=dates,
        latitude=place,
        span=span,
        shift=1,
        most_missing=most_missing,
    )
    return growing_years(dates, latitude, span=span, shift=1), np.asarray(sums)


def _portions(hours: np.ndarray, dates: np.ndarray, latitude: float, season: Span) -> np.ndarray:
    southern = latitude < 0.0
    labels = growing_years(dates, latitude, span=season)
    spans = span_in_record(dates, season, southern, labels)
    out = fill_seasons(_Measured(hours), spans.first, spans.last, dates.size)
    return np.where(np.isnan(hours).any(axis=1), np.nan, out[:, 0])
