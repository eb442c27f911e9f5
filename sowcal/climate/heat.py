"""Heat: hot days, degree days above a limit, spells, warm nights; by growing year, month or season."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from sowcal.climate._labelled import check_choice
from sowcal.climate.growing_years import MOST_MISSING, by_month, by_season, reduce_spans
from sowcal.climate.runs import longest_run

__all__ = [
    "degree_days_above",
    "heat_stress_days",
    "hot_days",
    "longest_warm_spell",
    "tropical_nights",
]

_BY = ("year", "month", "season")


def _over(
    kernel: Callable[..., np.ndarray],
    daily: list[Any],
    by: str,
    time: Any,
    latitude: Any,
    most_missing: float,
    attrs: dict[str, str],
) -> Any:
    """Kernel over growing years, months or seasons."""
    check_choice("by", by, _BY)
    if by == "year":
        return reduce_spans(kernel, daily, attrs=attrs, time=time, latitude=latitude, most_missing=most_missing)
    table = by_month if by == "month" else by_season
    return table(kernel, daily, attrs=attrs, time=time, most_missing=most_missing)


def hot_days(
    tasmax: Any,
    *,
    threshold: float = 30.0,
    by: str = "year",
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Days with a maximum above a threshold.

    Parameters
    ----------
    tasmax : array_like or xarray.DataArray
        Daily maximum temperature, shape (..., time), degC.
    threshold : float
        A day counts when its maximum is above this, degC.
    by : {'year', 'month', 'season'}
        Growing years (`growing_years`); months of calendar years; seasons DJF, MAM, JJA, SON, DJF in the year
        of its January.
    time : array_like of datetime64, optional
        Dates, shape (time,); not needed for a DataArray.
    latitude : float or array_like, optional
        Degrees, south negative, for growing years; a DataArray's own coordinate if left out.
    most_missing : float
        Largest share of a period's days that may be missing; beyond it the result is NaN. Counts are of the
        days present.

    Returns
    -------
    numpy.ndarray or xarray.DataArray
        Shape (..., year), (..., year, 12) or (..., year, 4), days.
    """
    attrs = {"units": "days", "long_name": "hot days", "threshold": f"maximum above {threshold:g} degC"}
    return _over(lambda x, dates: (x > threshold).sum(axis=-1), [tasmax], by, time, latitude, most_missing, attrs)


def tropical_nights(
    tasmin: Any,
    *,
    threshold: float = 20.0,
    by: str = "year",
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Nights that stay above a threshold: days with a minimum above it.

    Parameters and result as in `hot_days`, with `tasmin` the daily minimum, degC.
    """
    attrs = {"units": "days", "long_name": "warm nights", "threshold": f"minimum above {threshold:g} degC"}
    return _over(lambda x, dates: (x > threshold).sum(axis=-1), [tasmin], by, time, latitude, most_missing, attrs)


def heat_stress_days(
    tasmin: Any,
    tasmax: Any,
    *,
    day_threshold: float = 32.0,
    night_threshold: float = 20.0,
    by: str = "year",
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Days that are hot by day and by night: no recovery for fruit set.

    The thresholds (degC, both exceeded on the same date) are common practice, no source; crops have their
    own. Other parameters and result as in `hot_days`.
    """
    attrs = {
        "units": "days",
        "long_name": "heat stress days",
        "threshold": f"maximum above {day_threshold:g} and minimum above {night_threshold:g} degC",
    }
    return _over(
        lambda low, high, dates: ((low > night_threshold) & (high > day_threshold)).sum(axis=-1),
        [tasmin, tasmax],
        by,
        time,
        latitude,
        most_missing,
        attrs,
    )


def degree_days_above(
    tasmax: Any,
    *,
    threshold: float = 30.0,
    by: str = "year",
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Sum of what the daily maxima exceed a threshold by, degC day.

    Parameters and result as in `hot_days`.
    """
    attrs = {
        "units": "degC day",
        "long_name": "degree days above",
        "threshold": f"maximum above {threshold:g} degC",
    }
    return _over(
        lambda x, dates: np.nansum(np.maximum(x - threshold, 0.0), axis=-1),
        [tasmax],
        by,
        time,
        latitude,
        most_missing,
        attrs,
    )


def longest_warm_spell(
    tasmax: Any,
    *,
    threshold: float = 30.0,
    by: str = "year",
    time: Any = None,
    latitude: Any = None,
    most_missing: float = MOST_MISSING,
) -> Any:
    """Most days in a row with a maximum above a threshold.

    A spell is cut at the period's ends, and by a missing day. Parameters and result as in `hot_days`.
    """
    attrs = {
        "units": "days",
        "long_name": "longest warm spell",
        "threshold": f"maximum above {threshold:g} degC",
    }
    return _over(lambda x, dates: longest_run(x > threshold), [tasmax], by, time, latitude, most_missing, attrs)
