"""Dates as tables write them, told apart only where the file itself proves the order of day and month."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

import numpy as np

from sowcal.errors import InputError

__all__ = ["dates_from_parts", "dates_from_text"]

_ISO = re.compile(r"\d{4}-\d\d-\d\d")
_WITH_TIME = re.compile(r"^(\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.]\d{4})[T ]+\d.*$")
_FIRST_YEAR, _LAST_YEAR = 1650, 2200  # no daily thermometer record is older (Manley 1974, from memory)

Place = Callable[[int], InputError]


def dates_from_text(
    texts: Sequence[str], date_format: str | None, error: Callable[[str, int], InputError]
) -> np.ndarray:
    """Dates of a column.

    Parameters
    ----------
    texts : sequence of str
        One a row.
    date_format : str or None
        A pattern such as '%d/%m/%Y', or the order as 'd/m/y', 'm/d/y', 'y-m-d'. Without it: year first, or
        day and month in the order that the file proves by a number above 12.
    error : callable
        Makes the exception for a message and a row number.

    Returns
    -------
    numpy.ndarray, datetime64[D]
    """
    if date_format and "%" in date_format:
        return _by_pattern(texts, date_format, error)
    order = _order_named(date_format, error) if date_format else None
    if order in (None, "ymd") and all(map(_ISO.fullmatch, texts)):
        try:
            dates = np.array(texts, dtype="datetime64[D]")
        except ValueError:
            pass  # a day that does not exist: found below, with its row
        else:
            _check_years(dates.astype("datetime64[Y]").astype(int) + 1970, error)
            return dates
    parts = _numbers(texts, error)
    return _in_order(parts, order or _proved_order(parts, texts, error), error)


def dates_from_parts(
    year: np.ndarray, month: np.ndarray, day: np.ndarray, error: Callable[[str, int], InputError]
) -> np.ndarray:
    """Dates of three columns of whole numbers, each shape (n,)."""
    parts = np.column_stack([year, month, day])
    broken = ~(np.abs(parts) < 1e6).all(axis=1) | (parts != np.round(parts)).any(axis=1)
    if broken.any():
        raise error("year, month and day must be whole numbers", int(np.flatnonzero(broken)[0]))
    return _in_order(parts.astype(int), "ymd", error)


def _order_named(date_format: str, error: Callable[[str, int], InputError]) -> str:
    letters = re.sub(r"[^dmy]", "", date_format.lower())
    order = "".join(dict.fromkeys(letters))
    if order not in ("dmy", "mdy", "ymd"):
        raise error(
            f"date_format {date_format!r} is not understood; give 'd/m/y', 'm/d/y', 'y-m-d' or a pattern "
            "such as '%d/%m/%Y'",
            -1,
        )
    return order


def _numbers(texts: Sequence[str], error: Callable[[str, int], InputError]) -> np.ndarray:
    """Three whole numbers of each date, shape (n, 3)."""
    out = []
    for row, text in enumerate(texts):
        text = text.strip()
        if len(text) == 8 and text.isdigit():
            text = f"{text[:4]}-{text[4:6]}-{text[6:]}"
        else:
            timed = _WITH_TIME.match(text)
            text = timed[1] if timed else text
        pieces = text.replace("/", "-").replace(".", "-").split("-")
        if len(pieces) != 3 or not all(p.isdigit() and p.isascii() and len(p) < 10 for p in pieces):
            what = "the date is missing" if not text else f"{text!r} is not a date that is understood"
            raise error(f"{what}; write it as 2001-12-31 or give date_format", row)
        out.append([int(p) for p in pieces])
    return np.array(out, dtype=np.int64).reshape(-1, 3)


def _proved_order(parts: np.ndarray, texts: Sequence[str], error: Callable[[str, int], InputError]) -> str:
    if (parts[:, 0] > 31).all():
        return "ymd"
    short = parts[:, 2] <= 31
    if short.any():
        row = int(np.flatnonzero(short)[0])
        raise error(f"the year of {texts[row]!r} cannot be told; give date_format, such as '%d/%m/%y'", row)
    day_first, month_first = parts[:, 0] > 12, parts[:, 1] > 12
    if day_first.any() and month_first.any():
        row = int(np.flatnonzero(month_first if day_first[0] else day_first)[0])
        raise error(f"the date {texts[row]!r} is in another order of day and month than the rest", row)
    if not day_first.any() and not month_first.any():
        raise error(
            f"nothing in the file proves whether {texts[0]!r} has the day or the month first; "
            "give date_format = 'd/m/y' or 'm/d/y'",
            0,
        )
    return "dmy" if day_first.any() else "mdy"


def _in_order(parts: np.ndarray, order: str, error: Callable[[str, int], InputError]) -> np.ndarray:
    year, month, day = (parts[:, order.index(letter)] for letter in "ymd")
    _check_years(year, error)
    bad = (month < 1) | (month > 12) | (day < 1) | (day > 31)
    months = (year - 1970).astype("datetime64[Y]").astype("datetime64[M]") + (np.where(bad, 1, month) - 1)
    dates = months.astype("datetime64[D]") + (np.where(bad, 1, day) - 1)
    bad |= dates.astype("datetime64[M]") != months  # 30 February
    if bad.any():
        row = int(np.flatnonzero(bad)[0])
        raise error(f"there is no day {year[row]}-{month[row]:02d}-{day[row]:02d} in the calendar", row)
    return dates


def _check_years(year: np.ndarray, error: Callable[[str, int], InputError]) -> None:
    odd = (year < _FIRST_YEAR) | (year > _LAST_YEAR)
    if odd.any():
        row = int(np.flatnonzero(odd)[0])
        raise error(f"the year {year[row]} cannot be right; write years with four digits or give date_format", row)


def _by_pattern(texts: Sequence[str], pattern: str, error: Callable[[str, int], InputError]) -> np.ndarray:
    import pandas as pd

    try:
        read = pd.to_datetime(pd.Series(texts, dtype=object), format=pattern, errors="coerce")
    except ValueError as problem:
        raise error(f"date_format {pattern!r} is not a pattern that is understood ({problem})", -1) from None
    bad = read.isna().to_numpy()
    if bad.any():
        row = int(np.flatnonzero(bad)[0])
        raise error(f"{texts[row]!r} is not a date of the form {pattern!r}", row)
    dates = read.to_numpy().astype("datetime64[D]")
    _check_years(dates.astype("datetime64[Y]").astype(int) + 1970, error)
    return dates
