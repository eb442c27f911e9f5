"""Rain: the opening rains of the growing season, dry spells.

Rain is in mm day-1, so a day's value is its depth in mm.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from sowcal.climate.growing_years import MOST_MISSING, calendar_day, reduce_spans
from sowcal.climate.runs import longest_run, run_lengths
from sowcal.errors import InputError

__all__ = ["dry_spells", "longest_dry_spell", "opening_rains"]


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
    pr : array_like or xarray.DataArray
        Daily rain, shape (..., time), mm day-1.
    amount : float
        Rain that opens the season, mm.
    days : int
        Days in which it must fall.
    after : (int, int)
        Month and day from which rain counts, written for the north (15 August; 15 February in the south). The
        search ends six months later.
    time, latitude, most_missing
        As in `frost_days`; the share is of the six months.

    Returns
    -------
    numpy.ndarray or xarray.DataArray
        Shape (..., year), with the calendar year in which the search begins. Day of a 365-day year, counted
        on past New Year (370 is 5 January); ``+inf`` where the rains never opened in those six months.

    Notes
    -----
    25 mm in 7 days: from memory of Australian agronomists' 'break of the season', not looked up. The dates
    are common practice, no source.
    """
    if days < 1 or not amount > 0.0:
        raise InputError("amount must be above 0 mm and days 1 or more")
    until = (after[0] + 6, after[1]) if after[0] <= 6 else (after[0] - 6, after[1])

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
        span=(after, until),
        shift=(0, 1) if after[0] > 6 else (0, 0),
        most_missing=most_missing,
    )


def longest_dry_spell(
    pr: Any,
    *,
    threshold: float = 1.0,
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Most days in a row with less rain than a threshold (mm), in each growing year, days.

    A spell is cut at the year's ends and by a missing day. Parameters and shape as in `frost_days`.
    """
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

    A day is dry with less rain than `threshold` (mm). Other parameters and shape as in `frost_days`.
    """
    if least_days < 1:
        raise InputError(f"least_days is {least_days}; it must be 1 or more")
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
