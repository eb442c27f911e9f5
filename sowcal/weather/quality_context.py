"""What speaks for or against a far value: other days of the same record.

Hot winds bring single days that stand as far out as any slip of a reading; where a record has such days again
and again they are the place's own. The figures were set on nineteen station records (common practice, no source).
"""

from __future__ import annotations

import numpy as np

__all__ = ["above_every_maximum", "without_precedent", "zeros_for_missing"]

_SEASON = 45  # days before and after, of any year
_AS_FAR = 0.75  # of the day's departure and of its daily range
_FEWEST_YEARS = 2  # that have had such a day
_BELOW_NEIGHBOURS, _NOTHING_BELOW = 4.0, 2.0  # degC
_CLIMATE_YEARS = 3  # of a month, to tell what is its highest


def without_precedent(
    mark: np.ndarray, values: np.ndarray, usual: np.ndarray, daily_range: np.ndarray, days: np.ndarray
) -> np.ndarray:
    """Those of the marked days of whose kind the record has no others, shape (n,).

    A day has precedent where two years or more have an unmarked day of that season with three quarters of its
    departure from the usual value, to the same side, and, where it widens the daily range, three quarters of
    its range. A day that has precedent counts as one for the others.

    Parameters
    ----------
    mark : numpy.ndarray of bool, shape (n,)
    values, usual, daily_range : numpy.ndarray, shape (n,)
        K, or degC.
    days : numpy.ndarray of datetime64[D], shape (n,)
    """
    departure = values - usual
    year = days.astype("datetime64[Y]")
    of_year = (days - year.astype("datetime64[D]")).astype(int)
    middle = np.nanmedian(daily_range) if np.isfinite(daily_range).any() else np.nan
    left = mark.copy()
    while True:  # a day that has precedent is one itself
        before = left.copy()
        for k in np.flatnonzero(before):
            side = np.sign(departure[k])
            with np.errstate(invalid="ignore"):
                like = ~before & (side * departure >= _AS_FAR * abs(departure[k]))
                like &= np.abs((of_year - of_year[k] + 182) % 365 - 182) <= _SEASON
                if daily_range[k] > middle:
                    like &= daily_range >= _AS_FAR * daily_range[k]
            left[k] = np.unique(year[like]).size < _FEWEST_YEARS
        if (left == before).all():
            return left


def above_every_maximum(tasmin: np.ndarray, tasmax: np.ndarray, days: np.ndarray) -> np.ndarray:
    """Days with a minimum above all maxima that this month of the year has had in the record, shape (n,).

    A true minimum cannot be so, as its own day's maximum would be higher; it shows where that maximum is
    missing or was set aside (after Durre et al. 2010, J. Appl. Meteor. Climatol. 49, 1615-1633, from memory).
    """
    month = days.astype("datetime64[M]").astype(int) % 12
    out = np.zeros(days.size, dtype=bool)
    for m in range(12):
        these = month == m
        known = tasmax[these & np.isfinite(tasmax)]
        if np.unique(days[these & np.isfinite(tasmax)].astype("datetime64[Y]")).size >= _CLIMATE_YEARS:
            out |= these & (tasmin > known.max())
    return out


def zeros_for_missing(values: np.ndarray, days: np.ndarray) -> np.ndarray:
    """Days of exactly zero where that fortnight of the year has nothing near zero, shape (n,).

    The day must lie 4 K or more below both neighbours that are known, and the third lowest other value of the
    fortnight before and after, in all years, above 2 degC.
    """
    before, after = np.append(np.nan, values[:-1]), np.append(values[1:], np.nan)
    mark = (values == 0.0) & (np.fmin(before, after) >= _BELOW_NEIGHBOURS)  # NaN where neither is known: no
    of_year = (days - days.astype("datetime64[Y]").astype("datetime64[D]")).astype(int)
    year = days.astype("datetime64[Y]").astype(int)
    known = np.isfinite(values)
    for day in np.unique(of_year[mark]):  # what is usual hangs on the day of the year alone, in a few hundred passes
        near = known & (np.abs((of_year - day + 182) % 365 - 182) <= 14)
        others = np.sort(values[near & (values != 0.0)])
        if np.unique(year[near]).size < _CLIMATE_YEARS or others.size < 3 or others[2] <= _NOTHING_BELOW:
            mark[of_year == day] = False
    return mark
