"""The dates of a table, in whatever order and form the file proves; which local day a stamp in UTC stands for.

A record of local days is often written by machines in UTC: the day that begins at midnight two hours east of Greenwich
is stamped 22:00 of the day before, and taken as written the whole record would move by a day.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

import numpy as np

from sowcal.errors import InputError
from sowcal.weather.month_names import has_month_name, in_english, parts_with_names, whole_years

__all__ = [
    "DATE_WITH_TIME",
    "dates_from_parts",
    "dates_from_text",
    "days_after_the_written",
]

_DATE = r"(?P<date>\d{4}(?P<sign>[-/.])\d{1,2}(?P=sign)\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.]\d{4})"
_TIME = (
    r"(?P<between>[T ]+)(?P<hour>\d{1,2})(?P<rest>(?P<colon>:?)(?P<minute>\d\d)"
    r"(?P<second>:?\d\d(?P<part>\.\d+)?)?)?(?P<half> *[AP]\.?M\.?)?"
)
_ZONE = r"(?P<gap> *)(?P<zone>[+-]\d\d(?::?\d\d)?|[A-Z]{1,5})?"
DATE_WITH_TIME = re.compile(_DATE + _TIME + _ZONE, re.IGNORECASE)

# Hours between a clock and the sun: zones of states and summer time (western China 3): common practice, no source.
_CLOCK_OFF_SUN = 3.0
_NEAR_THE_DATE_LINE = 165.0  # degrees west from which clocks may be a day ahead of the sun (Samoa, Tonga)
_EVENING = 18.0  # local midnight in UTC is often written so; without a zone the date may be another's
_END_OF_DAY = 23.9  # 23:59 is the end of the day as written


def _is_utc(zone: str) -> bool:
    return zone.upper() in ("Z", "UTC", "GMT") or not zone.strip("+-0:")


def _hour(found: re.Match[str]) -> float:
    """Of the day, from 0 to 24."""
    hour = int(found["hour"]) + int(found["minute"] or 0) / 60.0
    if found["half"]:
        return hour % 12.0 + 12.0 * ("P" in found["half"].upper())
    return hour


def _clock(hour: float) -> str:
    return f"{int(hour):02d}:{round(hour % 1 * 60):02d}"


def _pattern(found: re.Match[str]) -> str:
    """The `date_format` that takes the date of a stamp as it is written."""
    sign = found["sign"]
    date = f"%Y{sign}%m{sign}%d" if sign else "%d/%m/%Y"
    minute = "" if found["rest"] is None else f"{found['colon']}%M"
    second = "" if found["second"] is None else f"{found['colon']}%S" + (".%f" if found["part"] else "")
    clock = "%I" + minute + second + " %p" if found["half"] else f"%H{minute}{second}"
    return f"{date}{found['between']}{clock}{found['gap']}{found['zone'] or ''}"


def days_after_the_written(
    texts: Sequence[str], longitude: float | None, error: Callable[[str, int], InputError]
) -> tuple[np.ndarray, list[str]]:
    """By how many days the local day of each stamp lies after the date written in it.

    Parameters
    ----------
    texts : sequence of str
        Dates, with or without a time of day.
    longitude : float or None
        Degrees east; it decides where stamps are in UTC and not at midnight.
    error : callable
        Makes the exception for a message and a row number.

    Returns
    -------
    numpy.ndarray of int, shape (n,)
        -1, 0 or 1. The date stands as it is written where there is no zone, or the zone is not UTC (then it is the
        local one), or the time is 00:00 UTC (a date put into the form of a stamp).
    list of str
        What must be told of it.

    Raises
    ------
    InputError
        Where stamps in UTC do not tell the day, with the line to write.
    """
    still = np.zeros(len(texts), dtype=int)
    if not any(":" in t or "T" in t.upper() for t in texts):
        return still, []
    found = [DATE_WITH_TIME.fullmatch(t.strip()) for t in texts]
    stamped = [m is not None and m["zone"] is not None for m in found]
    if not any(stamped):
        return still, _evening(texts, found)
    if not all(stamped):
        row = stamped.index(not stamped[0])
        raise error(f"{texts[row]!r} is written otherwise than the rest: some rows name a time zone, some none", row)
    if not all(_is_utc(m["zone"]) for m in found if m):
        return still, []  # the date of its own zone is the local one
    hours = np.array([_hour(m) for m in found if m])
    kinds = sorted(set(hours.tolist()))
    if kinds == [0.0]:
        return still, _midnight_utc(texts, longitude)
    first = found[0]
    assert first is not None
    return _by_longitude(texts, hours, kinds, longitude, _pattern(first), error)


def _evening(texts: Sequence[str], found: Sequence[re.Match[str] | None]) -> list[str]:
    """A word where times that name no zone lie in the evening."""
    times = {_hour(m) for m in found if m}
    if len(times) == 1 and None not in found and _EVENING <= min(times) < _END_OF_DAY:
        return [f"the times of day of the record ({_clock(min(times))}) name no time zone: dates are taken as written"]
    return []


def _midnight_utc(texts: Sequence[str], longitude: float | None) -> list[str]:
    if longitude is None or np.isnan(longitude) or longitude / 15.0 >= -_CLOCK_OFF_SUN:
        return []
    return [
        f"the record's times are 00:00 UTC, evening at its longitude: dates such as {texts[0]!r} are taken as written"
    ]


def _by_longitude(
    texts: Sequence[str],
    hours: np.ndarray,
    kinds: list[float],
    longitude: float | None,
    pattern: str,
    error: Callable[[str, int], InputError],
) -> tuple[np.ndarray, list[str]]:
    """The day that begins at the stamp, where that is midnight by a clock there, else the day it lies in."""
    written = f"give date_format = '{pattern}' if the dates are meant as they are written"
    clock = " and ".join(map(_clock, kinds[:2]))
    if len(kinds) > 2 or (len(kinds) == 2 and min(kinds[1] - kinds[0], 24 - kinds[1] + kinds[0]) > 1.0):
        other = int(np.flatnonzero(hours != hours[0])[0])
        raise error(
            f"the time of day of {texts[other]!r} is another than above; a record of days has one time (two with "
            f"summer time), and {written}",
            other,
        )
    if longitude is None or np.isnan(longitude) or longitude < -_NEAR_THE_DATE_LINE:
        lacks = "without a longitude" if longitude is None or np.isnan(longitude) else "so near the date line"
        raise error(
            f"the dates are stamped {clock} UTC, and {lacks} it cannot be told whether {texts[0]!r} stands for that "
            "day or for the next; "
            + ("add longitude = ... to the site file, or " if lacks == "without a longitude" else "")
            + written,
            0,
        )
    sun = longitude / 15.0
    after = {h: _after(h, sun) for h in kinds}
    shift = np.array([after[h] for h in hours.tolist()])
    if not shift.any():
        return shift, []
    row = int(np.flatnonzero(shift)[0])
    day = "next" if shift[row] > 0 else "previous"
    return shift, [
        f"the record's times, {clock} UTC, are those of local days at its longitude: {texts[row]!r} is taken for the "
        f"{day} day; {written}"
    ]


def _after(hour: float, sun: float) -> int:
    """Days from the date in UTC to the local day."""
    zone = min((-hour, 24.0 - hour), key=lambda z: abs(z - sun))  # in which the stamp is midnight
    if abs(zone - sun) <= _CLOCK_OFF_SUN:
        return int(zone > 0)
    return int(np.floor((hour + sun) / 24.0))


_ISO = re.compile(r"\d{4}-\d\d-\d\d")
_FIRST_YEAR, _LAST_YEAR = 1650, 2200  # no daily thermometer record is older (Manley 1974, from memory)

Place = Callable[[int], InputError]


# Day numbers of spreadsheets: counted so that 1 March 1900 is 61 (a 29 February 1900 that never was goes before it), or
# from 1 January 1904 as 0 (common practice of both programs).
_SERIALS = {"excel": np.datetime64("1899-12-30"), "excel1904": np.datetime64("1904-01-01")}
_SERIAL = re.compile(r"\d{4,6}([.,]\d*)?")
_FIRST_SERIAL = 61


def dates_from_text(
    texts: Sequence[str],
    date_format: str | None,
    error: Callable[[str, int], InputError],
    longitude: float | None = None,
) -> tuple[np.ndarray, list[str]]:
    """Dates of a column.

    Parameters
    ----------
    texts : sequence of str
        One a row.
    date_format : str or None
        A pattern such as '%d/%m/%Y', the order as 'd/m/y', 'm/d/y', 'y-m-d', or 'excel' or 'excel 1904' for the day
        numbers of spreadsheets. Without it: year first, or day and month in the order that the file proves by a
        number above 12, or with the month's name.
    error : callable
        Makes the exception for a message and a row number.
    longitude : float, optional
        Degrees east, for stamps in UTC.

    Returns
    -------
    dates : numpy.ndarray, datetime64[D]
    told : list of str
        What was taken for granted, a sentence without a full stop each.
    """
    named = re.sub(r"[\s_-]", "", (date_format or "").lower())
    if named in _SERIALS:
        return _by_serial(texts, named, error), []
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
            return dates, []
    if order is None and has_month_name(texts[0]) and not DATE_WITH_TIME.fullmatch(texts[0].strip()):
        year, month, day, told = parts_with_names(texts, error)
        return _in_order(np.column_stack([year, month, day]), "ymd", error), told
    if order is None:
        _refuse_serials(texts, error)
    after, told = days_after_the_written(texts, longitude, error)
    parts = _numbers(texts, error)
    dates = _in_order(parts, order or _proved_order(parts, texts, error), error)
    return dates + after.astype("timedelta64[D]"), told


def _refuse_serials(texts: Sequence[str], error: Callable[[str, int], InputError]) -> None:
    """Day numbers of spreadsheets count from one of two days, which nothing in the file tells."""
    if not all(_SERIAL.fullmatch(t.strip()) for t in texts):
        return
    first, second = (
        start + np.timedelta64(int(re.split("[.,]", texts[0].strip())[0]), "D") for start in _SERIALS.values()
    )
    raise error(
        f"{texts[0]!r} may be a day number of a spreadsheet: {first} counted from 1900, or {second} counted from 1904; "
        "give date_format = 'excel' or date_format = 'excel 1904'",
        0,
    )


def _by_serial(texts: Sequence[str], system: str, error: Callable[[str, int], InputError]) -> np.ndarray:
    out = []
    for row, text in enumerate(texts):
        if not re.fullmatch(r"\d{1,6}([.,]\d*)?", text.strip()):
            raise error(f"{text!r} is no day number of a spreadsheet", row)
        number = int(re.split("[.,]", text.strip())[0])
        if system == "excel" and number < _FIRST_SERIAL:
            raise error(f"{text!r} lies before March 1900, where spreadsheets part; write dates as 2001-12-31", row)
        out.append(number)
    dates = _SERIALS[system] + np.array(out).astype("timedelta64[D]")
    _check_years(dates.astype("datetime64[Y]").astype(int) + 1970, error)
    return dates


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
            timed = DATE_WITH_TIME.fullmatch(text)
            text = timed["date"] if timed else text
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
        raise error(
            f"the year of {texts[row]!r} cannot be told; give date_format = '%d/%m/%y', '%m/%d/%y' or '%y/%m/%d' (with "
            "the sign that stands between the numbers)",
            row,
        )
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


def _by_pattern(
    texts: Sequence[str], pattern: str, error: Callable[[str, int], InputError]
) -> tuple[np.ndarray, list[str]]:
    import pandas as pd

    if "%z" in pattern or "%Z" in pattern:
        raise error(
            f"date_format {pattern!r} names a time zone, and days have none; write the zone as it stands in the file "
            "(such as 'Z') to take dates as written, or leave date_format out",
            -1,
        )
    named = re.search("%[bB]", pattern) is not None
    read_as = [in_english(t) for t in texts] if named else texts
    try:
        read = pd.to_datetime(pd.Series(read_as, dtype=object), format=pattern.replace("%B", "%b"), errors="coerce")
    except ValueError as problem:
        raise error(f"date_format {pattern!r} is not a pattern that is understood ({problem})", -1) from None
    bad = read.isna().to_numpy()
    if bad.any():
        row = int(np.flatnonzero(bad)[0])
        raise error(f"{texts[row]!r} is not a date of the form {pattern!r}", row)
    dates = read.to_numpy().astype("datetime64[D]")
    told: list[str] = []
    if "%y" in pattern:
        months = dates.astype("datetime64[M]")
        number = months.astype(int)
        year, told = whole_years((number // 12 + 1970) % 100, error)
        turned = ((year - 1970) * 12 + number % 12).astype("datetime64[M]").astype("datetime64[D]")
        dates = turned + (dates - months.astype("datetime64[D]"))
    _check_years(dates.astype("datetime64[Y]").astype(int) + 1970, error)
    return dates, told
