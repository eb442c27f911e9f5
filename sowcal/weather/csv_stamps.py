"""Dates with a time of day and a time zone: which local day a stamp in UTC stands for.

A record of local days is often written by machines in UTC: the day that begins at midnight two hours east of Greenwich
is stamped 22:00 of the day before, and taken as written the whole record would move by a day.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

import numpy as np

from sowcal.errors import InputError

__all__ = ["DATE_WITH_TIME", "days_after_the_written"]

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
