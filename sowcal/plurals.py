"""A number with its noun: '1 day', '3 days'."""

from __future__ import annotations

from sowcal.languages import phrase_count, say

__all__ = [
    "counted",
    "counted_phrase",
]


def counted(count: float, noun: str) -> str:
    """How many of what, in the number that the count asks for.

    Parameters
    ----------
    count : int or float
        Shown in full where it is whole, else with six figures.
    noun : str
        For one of them ('day', 'cold season'); more are told with an 's'.

    Examples
    --------
    >>> counted(1, "day"), counted(2.0, "cold season"), counted(1.5, "year")
    ('1 day', '2 cold seasons', '1.5 years')
    """
    return say(counted_phrase(count, noun))


def counted_phrase(count: float, noun: str) -> str:
    """The same as a phrase, for a text that is made below the outputs.

    Examples
    --------
    >>> counted_phrase(3, "day")
    '3 days'
    """
    shown = int(count) if float(count).is_integer() else float(f"{count:g}")
    return phrase_count(1 if shown == 1 else 2, f"{{count}} {noun}", f"{{count}} {noun}s", count=shown)
