"""Rain: the opening rains of the growing season, dry spells.

Rain is in mm day-1, so a day's value is its depth in mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.climate._labelled import check_number
from sowcal.climate.growing_years import MOST_MISSING, calendar_day, growing_years, reduce_spans
from sowcal.climate.heat import longest_run, run_lengths
from sowcal.errors import InputError
from sowcal.languages import phrase

if TYPE_CHECKING:
    from sowcal.weather.record import DailyRecord

__all__ = [
    "OPENING_AFTER",
    "OPENING_AMOUNT",
    "OPENING_DAYS",
    "OPENING_WORDS",
    "OpeningRains",
    "dry_spells",
    "longest_dry_spell",
    "opening_rains",
    "rains_by_year",
]


def opening_rains(
    pr: Any,
    *,
    amount: float = 25.0,
    days: int = 7,
    after: tuple[int, int] = (8, 15),
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Day on which the rains open: the first by which enough has fallen in a few days, after late summer.

    Parameters
    ----------
    pr : array_like, xarray.DataArray or pandas.Series
        Daily rain, shape (..., time), mm day-1.
    amount : float
        Rain that opens the season, mm.
    days : int
        Days in which it must fall.
    after : (int, int)
        Month and day from which rain counts, written for the north (15 August; 15 February in the south). The
        search ends six months later.
    time : array_like of datetime64, optional
        Dates, shape (time,), one a day; not needed for a DataArray, or a Series with dates for its index.
    latitude : float or array_like, optional
        Degrees, south negative, over the leading axes; a DataArray's coordinate `latitude` or `lat` if left out. Its
        sign tells the hemisphere.
    most_missing : float
        Largest share of the six months' days that may be missing; beyond it the result is NaN.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Shape (..., year), with the calendar year in which the search begins. Day of a 365-day year, counted
        on past New Year (370 is 5 January); ``+inf`` where the rains never opened in those six months.

    Raises
    ------
    InputError
        For values that are no numbers, dates that are missing, do not fit or have gaps, a latitude that is not known or
        beyond the poles, a share
        outside 0 to 1, or an amount or number of days that is none.

    Notes
    -----
    25 mm in 7 days: from memory of Australian agronomists' 'break of the season', not looked up. The dates
    are common practice, no source.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2002-03-01", dtype="datetime64[D]")
    >>> pr = np.where(np.arange(time.size) % 20 == 0, 12.0, 0.0)  # 12 mm every twentieth day
    >>> pr[280:283] = 10.0  # 8 to 10 October
    >>> opening_rains(pr, time=time, latitude=38.0)
    array([ nan, 283.])
    """
    if check_number("days", days, unit="days") < 1 or not check_number("amount", amount, unit="mm") > 0.0:
        raise InputError("amount must be above 0 mm and days 1 or more")

    def opening(x: np.ndarray, dates: np.ndarray) -> np.ndarray:
        total = np.cumsum(np.where(np.isfinite(x), x, 0.0), axis=-1)
        # A missing day adds nothing, so a window that holds one can open the rains but not by guesswork.
        fallen = total.copy()
        fallen[..., days:] -= total[..., :-days]
        enough = fallen >= amount - 1e-9
        year = dates.astype("datetime64[Y]").astype(int)
        number = calendar_day(dates) + 365 * (year - year[0])
        return np.where(enough.any(axis=-1), number[np.argmax(enough, axis=-1)], np.inf)

    attrs = {
        "units": "day of a 365-day year, counted on past New Year",
        "long_name": "opening rains (inf: never)",
        "threshold": f"{amount:g} mm in {days} days",
    }
    return reduce_spans(
        opening,
        [pr],
        attrs=attrs,
        time=time,
        latitude=latitude,
        most_missing=most_missing,
        **_search(after),
    )


def _search(after: tuple[int, int]) -> dict[str, Any]:
    """The half year after a day in which the rains may open, and the year that names it."""
    until = (after[0] + 6, after[1]) if after[0] <= 6 else (after[0] - 6, after[1])
    return {"span": (after, until), "shift": (0, 1) if after[0] > 6 else (0, 0)}


def longest_dry_spell(
    pr: Any,
    *,
    threshold: float = 1.0,
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Most days in a row with less rain than a threshold, in each growing year.

    Parameters
    ----------
    pr : array_like, xarray.DataArray or pandas.Series
        Daily rain, shape (..., time), mm day-1.
    threshold : float
        A day with less is dry, mm.
    time : array_like of datetime64, optional
        Dates, shape (time,), one a day; not needed for a DataArray, or a Series with dates for its index.
    latitude : float or array_like, optional
        Degrees, south negative, over the leading axes; a DataArray's coordinate `latitude` or `lat` if left out. Its
        sign tells the hemisphere.
    most_missing : float
        Largest share of the growing year's days that may be missing; beyond it the result is NaN.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Shape (..., year), days. A spell is cut at the year's ends and by a missing day.

    Raises
    ------
    InputError
        For values that are no numbers, dates that are missing, do not fit or have gaps, a latitude that is not known or
        beyond the poles, or a share outside 0 to 1.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2002-01-01", dtype="datetime64[D]")
    >>> pr = np.where(np.arange(365) % 20 == 0, 12.0, 0.0)  # 12 mm every twentieth day
    >>> longest_dry_spell(pr, time=time, latitude=38.0)
    array([19.])
    """
    check_number("threshold", threshold, unit="mm")
    attrs = {"units": "days", "long_name": "longest dry spell", "threshold": f"rain below {threshold:g} mm"}
    return reduce_spans(
        lambda x, dates: longest_run(x < threshold),
        [pr],
        attrs=attrs,
        time=time,
        latitude=latitude,
        most_missing=most_missing,
    )


def dry_spells(
    pr: Any,
    *,
    least_days: int = 14,
    threshold: float = 1.0,
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Number of dry spells of at least so many days that end, or reach that length, in each growing year.

    Parameters
    ----------
    pr : array_like, xarray.DataArray or pandas.Series
        Daily rain, shape (..., time), mm day-1.
    least_days : int
        Length from which a spell counts, days.
    threshold : float
        A day with less is dry, mm.
    time : array_like of datetime64, optional
        Dates, shape (time,), one a day; not needed for a DataArray, or a Series with dates for its index.
    latitude : float or array_like, optional
        Degrees, south negative, over the leading axes; a DataArray's coordinate `latitude` or `lat` if left out. Its
        sign tells the hemisphere.
    most_missing : float
        Largest share of the growing year's days that may be missing; beyond it the result is NaN.

    Returns
    -------
    numpy.ndarray, xarray.DataArray or pandas.Series
        Shape (..., year), a count.

    Raises
    ------
    InputError
        For values that are no numbers, dates that are missing, do not fit or have gaps, a latitude that is not known or
        beyond the poles, a share
        outside 0 to 1, or a length below 1 day.

    Examples
    --------
    >>> time = np.arange("2001-01-01", "2002-01-01", dtype="datetime64[D]")
    >>> pr = np.where(np.arange(365) % 20 == 0, 12.0, 0.0)  # 12 mm every twentieth day
    >>> dry_spells(pr, time=time, latitude=38.0)
    array([18.])
    """
    check_number("least_days", least_days, least=1.0, unit="days")
    check_number("threshold", threshold, unit="mm")
    attrs = {
        "units": "1",
        "long_name": "dry spells",
        "threshold": f"at least {least_days} days with rain below {threshold:g} mm",
    }
    return reduce_spans(
        lambda x, dates: (run_lengths(x < threshold) == least_days).sum(axis=-1),
        [pr],
        attrs=attrs,
        time=time,
        latitude=latitude,
        most_missing=most_missing,
    )


OPENING_AMOUNT = 25.0  # mm
OPENING_DAYS = 7
OPENING_AFTER = (8, 15)  # month and day from which rain counts, in the north
OPENING_WORDS = phrase(
    "the first {amount:g} mm within {days} days after late summer", amount=OPENING_AMOUNT, days=OPENING_DAYS
)
_LEAST_YEARS = 3  # fewer carry no odds at all


@dataclass(frozen=True)
class OpeningRains:
    """First soaking rain after late summer, days of the year from 0 (1 January); None is never in six months.

    Attributes
    ----------
    years : tuple of (int, int or None)
        Calendar year in which the search begins, and the day.
    p10, p50, p90 : int or None
        Day by which the rains have opened in 10, 50 and 90 per cent of the years.
    """

    years: tuple[tuple[int, int | None], ...]
    p10: int | None
    p50: int | None
    p90: int | None

    @property
    def definition(self) -> str:
        """What counts as opening rains, in words."""
        return OPENING_WORDS


def rains_by_year(weather: DailyRecord) -> OpeningRains | None:
    """Opening rains of each year of one site's record; None where it holds less than three such years.

    Parameters
    ----------
    weather : DailyRecord
        With or without `pr`.

    Returns
    -------
    OpeningRains or None
        Days of the year from 0.

    Examples
    --------
    >>> from sowcal.weather.record import daily_record
    >>> time = np.arange("2001-01-01", "2005-03-01", dtype="datetime64[D]")
    >>> rain = np.where(np.arange(time.size) % 60 == 0, 30.0, 0.0)  # 30 mm every sixtieth day
    >>> air = {"tasmin": 10.0 + 0.0 * rain, "tasmax": 20.0 + 0.0 * rain}
    >>> rains = rains_by_year(daily_record(time, {**air, "pr": rain}, latitude=38.0))
    >>> rains.years, rains.p50
    (((2001, 240), (2002, 235), (2003, 230), (2004, 284)), 235)
    """
    if "pr" not in weather or not np.isfinite(weather["pr"]).any():
        return None
    place: dict[str, Any] = {"time": weather.time, "latitude": weather.latitude}
    day = opening_rains(weather["pr"], amount=OPENING_AMOUNT, days=OPENING_DAYS, after=OPENING_AFTER, **place)
    year = growing_years(**place, **_search(OPENING_AFTER))
    known = ~np.isnan(day)
    if known.sum() < _LEAST_YEARS:
        return None
    # a year without opening rains comes after all others, so ranks are taken and nothing is averaged with never
    ranked = np.quantile(day[known], [0.1, 0.5, 0.9], method="inverted_cdf")
    p10, p50, p90 = (_day_of_year(d) for d in ranked)
    return OpeningRains(
        tuple((int(y), _day_of_year(d)) for y, d in zip(year[known], day[known], strict=True)), p10, p50, p90
    )


def _day_of_year(day: float) -> int | None:
    """From a day counted from 1 on past New Year to one of a 365-day year from 0."""
    return (int(day) - 1) % 365 if np.isfinite(day) else None
