"""Dates with the month's name, as spreadsheets write them ('01-Jan-98', '1 de enero de 1998'), and short years."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence

import numpy as np

from sowcal.errors import InputError

__all__ = [
    "LANGUAGES",
    "has_month_name",
    "in_english",
    "month_number",
    "parts_with_names",
    "whole_years",
]

LANGUAGES = "English, Spanish, Portuguese, French, Italian or German"
# In these languages, without accents; a beginning of three letters or more will do where it means one month only.
_MONTHS = (
    "january enero janeiro janvier gennaio januar",
    "february febrero fevereiro fevrier febbraio februar",
    "march marzo marco mars marz maerz",
    "april abril avril aprile",
    "may mayo maio mai maggio",
    "june junio junho juin giugno juni",
    "july julio julho juillet luglio juli",
    "august agosto aout",
    "september septiembre setiembre setembro septembre settembre",
    "october octubre outubro octobre ottobre oktober",
    "november noviembre novembro novembre",
    "december diciembre dezembro decembre dicembre dezember",
)
_ENGLISH = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_OF = {"de", "del", "di", "do", "d"}
_TIME = re.compile(r"[T ]+\d{1,2}:\d\d.*$")
_WORD = re.compile(r"[^\W\d_]{3,}")

# Years of two digits: 30 to 99 are those of 1900, 00 to 29 those of 2000, as spreadsheets have it (common practice).
_TURN = 30
_LONGEST_GAP = 50  # years; a longer one within a column is the turn itself


def _bare(word: str) -> str:
    """Lower case without accents."""
    return "".join(c for c in unicodedata.normalize("NFKD", word.lower()) if not unicodedata.combining(c))


def month_number(word: str) -> int | None:
    """1 to 12 for a month's name or its beginning; None for any other word."""
    bare = _bare(word)
    if len(bare) < 3:
        return None
    fits = {k for k, names in enumerate(_MONTHS, 1) if any(name.startswith(bare) for name in names.split())}
    whole = {k for k, names in enumerate(_MONTHS, 1) if bare in names.split()}
    chosen = whole or fits
    return chosen.pop() if len(chosen) == 1 else None


def has_month_name(text: str) -> bool:
    """Whether a word stands in a date."""
    return bool(_WORD.search(_TIME.sub("", text)))


def in_english(text: str) -> str:
    """The month's name as '%b' understands it."""

    def put(found: re.Match[str]) -> str:
        month = month_number(found[0])
        return found[0] if month is None else _ENGLISH[month - 1]

    return _WORD.sub(put, text)


def _pieces(text: str, row: int, error: Callable[[str, int], InputError]) -> tuple[int, int, list[str]]:
    """Month, its place among the three, and the two numbers."""
    words = [w for w in re.split(r"[\s,./'’-]+", _TIME.sub("", text.strip())) if w and w.lower() not in _OF]
    names = [k for k, w in enumerate(words) if not (w.isdigit() and w.isascii())]
    if not text.strip():
        raise error("the date is missing; write it as 2001-12-31 or give date_format", row)
    if len(words) != 3 or len(names) != 1 or any(len(w) > 4 for k, w in enumerate(words) if k != names[0]):
        raise error(f"{text!r} is not a date that is understood; write it as 2001-12-31 or give date_format", row)
    place = names[0]
    month = month_number(words[place])
    if month is None:
        raise error(
            f"{text!r} is not a date that is understood: {words[place]!r} is no month in {LANGUAGES}; write it as "
            "2001-12-31 or give date_format",
            row,
        )
    return month, place, [w for k, w in enumerate(words) if k != place]


def parts_with_names(
    texts: Sequence[str], error: Callable[[str, int], InputError]
) -> tuple[np.ndarray, np.ndarray, np.ndarray, list[str]]:
    """Year, month and day of dates that name their month.

    Parameters
    ----------
    texts : sequence of str
    error : callable
        Makes the exception for a message and a row number.

    Returns
    -------
    year, month, day : numpy.ndarray of int, shape (n,)
    told : list of str
        How years of two digits were read.

    Raises
    ------
    InputError
        For other words, or where the column does not prove which number is the year.
    """
    known: dict[str, tuple[int, int, list[str]]] = {}
    rows = []
    for row, text in enumerate(texts):
        if text not in known:
            known[text] = _pieces(text, row, error)
        rows.append(known[text])
        if rows[row][1] != rows[0][1]:
            raise error(f"the date {text!r} is in another order of day and month than the rest", row)
    month = np.array([r[0] for r in rows])
    pair = np.array([[int(n) for n in r[2]] for r in rows])
    long = np.array([[len(n) > 2 for n in r[2]] for r in rows])
    if (long.all(axis=0) & ~long[:, ::-1].any(axis=0)).any():
        which = int(np.argmax(long[0]))
        return pair[:, which], month, pair[:, 1 - which], []
    if long.any():
        row = int(np.flatnonzero((long != long[0]).any(axis=1) | long.all(axis=1))[0])
        raise error(
            f"the year of {texts[row]!r} is written otherwise than in the rest; write years with four digits", row
        )
    which = 1 if rows[0][1] == 0 else _year_of_two(pair, month, texts, error)
    year, told = whole_years(pair[:, which], error)
    return year, month, pair[:, 1 - which], told


def _year_of_two(
    pair: np.ndarray, month: np.ndarray, texts: Sequence[str], error: Callable[[str, int], InputError]
) -> int:
    """Which of two short numbers is the year: the other has no day above 31, and the rows are days in a row."""
    fits = [which for which in (1, 0) if ((pair[:, 1 - which] >= 1) & (pair[:, 1 - which] <= 31)).all()]
    if len(fits) == 2:
        fits = [which for which in fits if _in_a_row(pair[:, which], month, pair[:, 1 - which])]
    if len(fits) == 1:
        return fits[0]
    raise error(
        f"nothing in the file proves whether {texts[0]!r} has the day or the year first; give "
        "date_format = '%d-%b-%y' or '%y-%b-%d'",
        0,
    )


def _in_a_row(year: np.ndarray, month: np.ndarray, day: np.ndarray) -> bool:
    """Whether most rows are one day from the row before."""
    months = (year - 70).astype("datetime64[Y]").astype("datetime64[M]").astype(int) + month - 1
    days = months.astype("datetime64[M]").astype("datetime64[D]").astype(int) + day
    return days.size > 1 and bool((np.abs(np.diff(days)) == 1).mean() > 0.5)


def whole_years(short: np.ndarray, error: Callable[[str, int], InputError]) -> tuple[np.ndarray, list[str]]:
    """Years of two digits with their century, and what must be told of it.

    Raises
    ------
    InputError
        Where the column runs over the turn from 29 to 30, so that two readings are possible.
    """
    year = np.where(short >= _TURN, 1900, 2000) + short
    there = np.unique(year)
    if (np.diff(there) > _LONGEST_GAP).any():
        other = np.unique(1900 + short)
        raise error(
            f"years of two digits may be {other[0]} to {other[-1]}, or from {there[0]} on and up to {there[-1]}; write "
            "them with four digits",
            0,
        )
    span = f"{there[0]}" if there.size == 1 else f"{there[0]} to {there[-1]}"
    return year, [
        f"years of two digits are read as {span} (30 to 99 as 1930 to 1999, 00 to 29 as 2000 to 2029); write them with "
        "four digits where that is wrong"
    ]
