"""Whether the seasons of a record are those of the hemisphere that its latitude says."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sowcal.errors import InputError

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["other_hemisphere", "refuse_other_hemisphere", "summer_excess"]

# Nearer the equator rains and clouds may turn the year about (Bamako is hottest in April, coolest in August). From
# 15 degrees on the *mean* of day and night is nowhere cooler in high summer than in midwinter by as much as 4 K: in the
# monsoon the days are, by up to 5, but the nights are warmer (from memory; held against nineteen station records).
_TROPICS, _LEAST_SWING = 15.0, 4.0
_LEAST_DAYS = 15  # of a month, with both temperatures, in all years together: common practice, no source
_SUMMER, _WINTER = (5, 6, 7), (11, 0, 1)  # of the north, months from 0


def summer_excess(tasmin: np.ndarray, tasmax: np.ndarray, days: np.ndarray) -> np.ndarray:
    """By how much June to August are warmer than December to February.

    Parameters
    ----------
    tasmin, tasmax : numpy.ndarray, shape (..., n)
        degC; NaN where missing.
    days : numpy.ndarray of datetime64[D], shape (n,)

    Returns
    -------
    numpy.ndarray, shape (...)
        K, from the means of day and night; NaN where one of the six months has less than 15 days.
    """
    month = days.astype("datetime64[M]").astype(int) % 12
    mean = 0.5 * (np.asarray(tasmin, dtype=float) + np.asarray(tasmax, dtype=float))
    known = np.isfinite(mean)
    halves = []
    for months in (_SUMMER, _WINTER):
        sums = []
        for m in months:
            these = month == m
            count = known[..., these].sum(axis=-1)
            total = np.where(known[..., these], mean[..., these], 0.0).sum(axis=-1)
            sums.append(np.where(count >= _LEAST_DAYS, total / np.maximum(count, 1), np.nan))
        halves.append(sum(sums) / 3.0)
    return np.asarray(halves[0] - halves[1])


def other_hemisphere(excess: np.ndarray | float, latitude: np.ndarray | float) -> np.ndarray:
    """Whether the warm season lies where the other hemisphere has it, by more than 4 K and 15 degrees from the equator.

    Parameters
    ----------
    excess : numpy.ndarray or float
        As `summer_excess` gives it, K.
    latitude : numpy.ndarray or float
        Degrees north; where it is not known (NaN) nothing can be said.
    """
    with np.errstate(invalid="ignore"):
        return (np.abs(latitude) > _TROPICS) & (np.asarray(excess) * np.sign(latitude) < -_LEAST_SWING)


def refuse_other_hemisphere(dataset: xr.Dataset, where: str | None = None) -> None:
    """Refuse a record whose latitude lacks its minus sign, or has one too many.

    Parameters
    ----------
    dataset : xarray.Dataset
        Days of one site; one without a latitude passes.
    where : str, optional
        What is named in the error.

    Raises
    ------
    InputError
        With the margin, and the latitude to write.
    """
    if "latitude" not in dataset or dataset["tasmin"].ndim != 1 or dataset["latitude"].ndim != 0:
        return
    days = dataset["time"].values.astype("datetime64[D]")
    latitude = float(dataset["latitude"])
    excess = float(summer_excess(dataset["tasmin"].values, dataset["tasmax"].values, days))
    if not other_hemisphere(excess, latitude):
        return
    warm, cool = ("June to August", "December to February")[:: 1 if excess > 0 else -1]
    side, mend = ("north", "south") if latitude > 0 else ("south", "north")
    raise InputError(
        f"the seasons are those of the other hemisphere: {warm} are {abs(excess):.1f} degC warmer than {cool} (more "
        f"than {_LEAST_SWING:g} degC is no chance), but latitude {latitude:g} lies {side} of the equator; write "
        f"latitude = {-latitude:g} if the place lies in the {mend} (south is negative), else mend the dates",
        where=where,
    )
