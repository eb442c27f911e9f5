"""The years of a record that are asked for: the last so many, or from one year to another."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from sowcal.errors import InputError

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["chosen_years", "last_years", "years_words"]

_SPAN = re.compile(r"\s*(\d{4})?\s*:\s*(\d{4})?\s*")


def _parsed(asked: str | int, where: str | None) -> int | tuple[int | None, int | None]:
    text = str(asked).strip()
    if text.isdecimal() and len(text) <= 3:
        return int(text)
    found = _SPAN.fullmatch(text)
    if found is None or not (found[1] or found[2]):
        raise InputError(
            f"{text!r} names no years; write 15 for the last fifteen, or 1991:2010 (or 2006:) for those years",
            where=where,
        )
    first, last = (int(y) if y else None for y in found.groups())
    if first is not None and last is not None and last < first:
        raise InputError(f"{text!r} ends before it begins; write the earlier year first", where=where)
    return first, last


def years_words(asked: str | int, where: str | None = None) -> str:
    """The years asked for in words: 'the last 15 years', '1991 to 2010', 'from 2006 on'."""
    years = _parsed(asked, where)
    if isinstance(years, int):
        return "the last year" if years == 1 else f"the last {years} years"
    first, last = years
    if first is None:
        return f"up to {last}"
    return f"from {first} on" if last is None else f"{first} to {last}"


def chosen_years(dataset: xr.Dataset, asked: str | int, where: str | None = None) -> xr.Dataset:
    """The years of a record that are asked for.

    Parameters
    ----------
    dataset : xarray.Dataset
        In the form of `daily_dataset`.
    asked : str or int
        '15' or 15 for the last fifteen years to the day; '1991:2010' for calendar years, both within, either of which
        may be left out.
    where : str, optional
        What is named in errors.

    Returns
    -------
    xarray.Dataset
        A copy; `history` says which years were taken.

    Raises
    ------
    InputError
        For what names no years, or years that the record does not have.
    """
    years = _parsed(asked, where)
    if isinstance(years, int):
        return last_years(dataset, years, where)
    days = dataset["time"].values.astype("datetime64[D]")
    has = [int(d.astype("datetime64[Y]").astype(int)) + 1970 for d in (days[0], days[-1])]
    first, last = (h if y is None else y for y, h in zip(years, has, strict=True))
    # both ends against both: where only one is asked for, the other is the record's own, which may lie before it
    if not has[0] <= first <= last <= has[1]:
        raise InputError(
            f"{_whose(dataset)} runs from {has[0]} to {has[1]}; {years_words(asked)} cannot be taken from it",
            where=where,
        )
    out = dataset.sel(time=slice(f"{first}-01-01", f"{last}-12-31")).copy(deep=True)
    return _noted(out, dataset, f"{years_words(asked)} only")


def last_years(dataset: xr.Dataset, years: int, where: str | None = None) -> xr.Dataset:
    """The last so many years of a record, to the day.

    Raises
    ------
    InputError
        For less than one year, or more than the record has.
    """
    days = dataset["time"].values.astype("datetime64[D]")
    length = days.size / 365.2425
    if years < 1:
        raise InputError(f"years is {years}; at least one year must be kept", where=where)
    if years > length + 0.01:
        raise InputError(f"{_whose(dataset)} has {length:.1f} years; {years} cannot be taken from it", where=where)
    end = days[-1] + np.timedelta64(1, "D")
    month = end.astype("datetime64[M]")
    first = (month - np.timedelta64(12 * years, "M")).astype("datetime64[D]") + (end - month.astype("datetime64[D]"))
    out = dataset.sel(time=slice(str(first), None)).copy(deep=True)
    return _noted(out, dataset, f"{years_words(years)} only")


def _whose(dataset: xr.Dataset) -> str:
    """The record in words, with the site that it is of: of two that are compared only one may be too short."""
    title = str(dataset.attrs.get("title", "")).strip()
    return f"the record of {title}" if title else "the record"


def _noted(out: xr.Dataset, before: xr.Dataset, words: str) -> xr.Dataset:
    out.attrs["history"] = "; ".join(x for x in (before.attrs.get("history", ""), words) if x)
    return out
