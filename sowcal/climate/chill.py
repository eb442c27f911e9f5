"""Winter chill by three models, from hourly temperatures rebuilt out of daily extremes.

A requirement is judged only in the model, form and season it was published in; no model's figure is converted
into another's. Chill is labelled with the year of the spring that follows it.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np

from sowcal.climate._labelled import apply, check_choice, dates_of, latitude_of
from sowcal.climate.dynamic_model import fill_seasons, portions_by_day
from sowcal.climate.growing_years import MOST_MISSING, Span, growing_years, reduce_spans, span_in_record
from sowcal.climate.hourly import reduce_hours

__all__ = [
    "FORMS",
    "HOURLY_MODELS",
    "HOURS_SEASON",
    "PORTIONS_SEASON",
    "chill_portions",
    "chill_units",
    "chilling_hours",
    "daily_chill_of_hours",
    "hourly_chill_units",
    "season_chill_of_hours",
]

# The form and season of the University of California's practice: UC Davis Fruit & Nut Research & Information
# Center, chilling accumulation models page: hours below 45 degF from 1 November to the end of February;
# portions from 1 September. The end of the portions' season is common practice, no source.
HOURS_SEASON: Span = ((11, 1), (3, 1))
PORTIONS_SEASON: Span = ((9, 1), (4, 1))

FORMS = ("below_7.2", "0_to_7.2", "below_10")
_BY = ("season", "day")

# Richardson, Seeley & Walker 1974, HortScience 9:331-332: an hour counts 0, 0.5, 1, 0.5, 0, -0.5 and -1 unit between
# these limits (degC, the upper one inclusive): half a unit up at each of the first two, down at the rest.
_UTAH_UP, _UTAH_DOWN = (1.4, 2.4), (9.1, 12.4, 15.9, 18.0)


def chilling_hours(
    tasmin: Any,
    tasmax: Any,
    *,
    form: str = "below_7.2",
    by: str = "season",
    season: Span = HOURS_SEASON,
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Hours of chilling.

    Parameters
    ----------
    tasmin, tasmax : array_like, xarray.DataArray or pandas.Series
        Daily minimum and maximum temperature, shape (..., time), degC.
    form : {'below_7.2', '0_to_7.2', 'below_10'}
        Hours below 7.2 degC (45 degF), from 0 to 7.2 degC, both ends counted, or below 10 degC (50 degF). Figures of
        one form are never compared with those of another.
    by : {'season', 'day'}
        Sums of each season, or each day's own share of every day of the record.
    season : ((month, day), (month, day))
        Its first day and the day after its last, written for the north; six months later in the south.
    time : array_like of datetime64, optional
        Dates, shape (time,); not needed for a DataArray.
    latitude : float or array_like, optional
        Degrees, south negative; a DataArray's own coordinate if left out.
    most_missing : float
        Largest share of a season's days that may be missing; beyond it the result is NaN. Sums are of the
        days present.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Hours, shape (..., year), with the year of the spring that follows, or (..., time).

    Raises
    ------
    InputError
        For values that are no numbers, dates that are missing, do not fit or have gaps, a latitude that is not known or
        beyond the poles, a share outside 0 to 1, or an unknown `form` or `by`.

    Notes
    -----
    Weinberger 1950, Proc. Am. Soc. Hort. Sci. 56:122-128, and Bennett 1949. Hours by `hourly_temperature`.

    Examples
    --------
    >>> time = np.arange("2001-07-01", "2003-07-01", dtype="datetime64[D]")
    >>> tasmin = 6.0 + 6.0 * np.cos(2 * np.pi * np.arange(time.size) / 365)
    >>> chilling_hours(tasmin, tasmin + 10.0, time=time, latitude=38.0).round(1)  # springs of 2002 and 2003
    array([1927., 1927.])
    """
    check_choice("form", form, FORMS)
    weight = {FORMS[0]: _below, FORMS[1]: _between, FORMS[2]: _below_10}[form]
    attrs = {"units": "h", "long_name": "chilling hours", "form": form}
    return _chill(_additive(weight, 1.0), tasmin, tasmax, attrs, by, season, time, latitude, most_missing)


def chill_units(
    tasmin: Any,
    tasmax: Any,
    *,
    by: str = "season",
    season: Span = HOURS_SEASON,
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Utah chill units; warm hours take units away, so that a season's sum can be negative.

    Parameters
    ----------
    tasmin, tasmax : array_like, xarray.DataArray or pandas.Series
        Daily minimum and maximum temperature, shape (..., time), degC.
    by : {'season', 'day'}
        Sums of each season, or each day's own share of every day of the record.
    season : ((month, day), (month, day))
        Its first day and the day after its last, written for the north; six months later in the south.
    time : array_like of datetime64, optional
        Dates, shape (time,), one a day; not needed for a DataArray, or a Series with dates for its index.
    latitude : float or array_like, optional
        Degrees, south negative, over the leading axes; a DataArray's coordinate `latitude` or `lat` if left out. Its
        sign tells the hemisphere.
    most_missing : float
        Largest share of the season's days that may be missing; beyond it the result is NaN. Sums
        are of the days present.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Units, shape (..., year), with the year of the spring that follows, or (..., time).

    Raises
    ------
    InputError
        For values that are no numbers, dates that are missing, do not fit or have gaps, a latitude that is not known or
        beyond the poles, a share outside 0 to 1, or an unknown `by`.

    Notes
    -----
    Richardson, Seeley & Walker 1974, HortScience 9:331-332. Hours by `hourly_temperature`.

    Examples
    --------
    >>> time = np.arange("2001-07-01", "2003-07-01", dtype="datetime64[D]")
    >>> tasmin = 6.0 + 6.0 * np.cos(2 * np.pi * np.arange(time.size) / 365)
    >>> chill_units(tasmin, tasmin + 10.0, time=time, latitude=38.0).round(1)  # springs of 2002 and 2003
    array([1998., 1998.])
    """
    attrs = {"units": "1", "long_name": "Utah chill units"}
    kernel = _additive(_halves_of_units, 0.5)
    return _chill(kernel, tasmin, tasmax, attrs, by, season, time, latitude, most_missing)


def chill_portions(
    tasmin: Any,
    tasmax: Any,
    *,
    by: str = "season",
    season: Span = PORTIONS_SEASON,
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Chill portions of the dynamic model.

    Parameters
    ----------
    tasmin, tasmax : array_like, xarray.DataArray or pandas.Series
        Daily minimum and maximum temperature, shape (..., time), degC.
    by : {'season', 'day'}
        Sums of each season, or each day's own share of every day of the record.
    season : ((month, day), (month, day))
        Its first day and the day after its last, written for the north; six months later in the south.
    time : array_like of datetime64, optional
        Dates, shape (time,), one a day; not needed for a DataArray, or a Series with dates for its index.
    latitude : float or array_like, optional
        Degrees, south negative, over the leading axes; a DataArray's coordinate `latitude` or `lat` if left out. Its
        sign tells the hemisphere.
    most_missing : float
        Largest share of the season's days that may be missing; beyond it the result is NaN. Sums
        are of the days present.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Portions, shape (..., year), with the year of the spring that follows, or (..., time). The model starts afresh
        each season; with ``by='day'`` days outside the season have 0. Over a missing day it stands still.

    Raises
    ------
    InputError
        For values that are no numbers, dates that are missing, do not fit or have gaps, a latitude that is not known or
        beyond the poles, a share outside 0 to 1, or an unknown `by`.

    Notes
    -----
    Fishman, Erez & Couvillon 1987, J. Theor. Biol. 124:473-483 and 126:309-321, see `dynamic_model`. Hours by
    `hourly_temperature`.

    Examples
    --------
    >>> time = np.arange("2001-07-01", "2003-07-01", dtype="datetime64[D]")
    >>> tasmin = 6.0 + 6.0 * np.cos(2 * np.pi * np.arange(time.size) / 365)
    >>> chill_portions(tasmin, tasmin + 10.0, time=time, latitude=38.0).round(1)  # springs of 2002 and 2003
    array([144., 144.])
    """
    dates = dates_of(tasmin, time)
    attrs = {"units": "1", "long_name": "chill portions (dynamic model)"}
    kernel = partial(portions_by_day, dates=dates, season=season)
    return _chill(kernel, tasmin, tasmax, attrs, by, season, time, latitude, most_missing)


def hourly_chill_units(temperature: np.ndarray) -> np.ndarray:
    """Utah chill units of single hours.

    Parameters
    ----------
    temperature : numpy.ndarray
        Any shape, degC.

    Returns
    -------
    numpy.ndarray
        Same shape, units: -1 to 1; NaN for NaN.

    Notes
    -----
    Richardson, Seeley & Walker 1974, HortScience 9:331-332.

    Examples
    --------
    >>> hourly_chill_units(np.array([1.0, 2.0, 6.0, 10.0, 14.0, 17.0, 20.0]))
    array([ 0. ,  0.5,  1. ,  0.5,  0. , -0.5, -1. ])
    """
    return np.where(np.isnan(temperature), np.nan, 0.5 * _halves_of_units(np.asarray(temperature)))


def _halves_of_units(temperature: np.ndarray) -> np.ndarray:
    """Utah chill units times 2, as small integers: each limit passed is a step of one up or down."""
    out = np.zeros(np.shape(temperature), dtype=np.int8)
    for limit in _UTAH_UP:
        out += (temperature > limit).view(np.int8)
    for limit in _UTAH_DOWN:
        out -= (temperature > limit).view(np.int8)
    return out


def _below(temperature: np.ndarray) -> np.ndarray:
    return (temperature < 7.2).view(np.int8)


def _below_10(temperature: np.ndarray) -> np.ndarray:
    return (temperature < 10.0).view(np.int8)


def _between(temperature: np.ndarray) -> np.ndarray:
    return ((temperature >= 0.0) & (temperature <= 7.2)).view(np.int8)


def _additive(weight: Callable[[np.ndarray], np.ndarray], unit: float) -> Callable[..., np.ndarray]:
    """Kernel of a model whose hours add up, with weights counted in a unit."""

    def kernel(tasmin: np.ndarray, tasmax: np.ndarray, latitude: np.ndarray, days: np.ndarray) -> np.ndarray:
        return unit * reduce_hours(weight, tasmin, tasmax, latitude, days)

    return kernel


def _chill(
    kernel: Callable[..., np.ndarray],
    tasmin: Any,
    tasmax: Any,
    attrs: dict[str, str],
    by: str,
    season: Span,
    time: Any,
    latitude: Any,
    most_missing: float,
) -> Any:
    """Daily chill, or its sums over seasons."""
    check_choice("by", by, _BY)
    dates = dates_of(tasmin, time)
    where = latitude_of(tasmin, latitude)
    days = (dates - dates.astype("datetime64[Y]").astype("datetime64[D]")).astype(float) + 1.0
    daily = apply(partial(kernel, days=days), [tasmin, tasmax], places=[where], attrs=attrs)
    if by == "day":
        return daily
    return reduce_spans(
        lambda x, _: np.nansum(x, axis=-1),
        [daily],
        attrs=attrs,
        time=dates,
        latitude=where,
        span=season,
        shift=1,
        most_missing=most_missing,
    )


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

    Raises
    ------
    InputError
        For an unknown model.

    Examples
    --------
    >>> hours = np.full((2, 24), 5.0)
    >>> time = np.arange("2001-01-01", "2001-01-03", dtype="datetime64[D]")
    >>> daily_chill_of_hours(hours, model="hours below 7.2", time=time, latitude=38.0)
    array([24., 24.])
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

    Raises
    ------
    InputError
        For an unknown model, or a share outside 0 to 1.

    Examples
    --------
    >>> time = np.arange("2001-11-01", "2002-03-01", dtype="datetime64[D]")
    >>> hours = np.full((time.size, 24), 5.0)
    >>> years, units = season_chill_of_hours(hours, model="Utah units", time=time, latitude=38.0)
    >>> years.tolist(), units.tolist()
    ([2002], [2880.0])
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
