"""The package's own exceptions: each carries what is wrong, where, and what to do; and what a slip may have meant."""

from __future__ import annotations

from collections.abc import Iterable

__all__ = ["InputError", "NetworkError", "NotJudgedError", "SowcalError", "near_words"]


_MOST, _BEGINNING, _END = 1200, 800, 300  # letters of a sentence, and what is left of a longer one


def _in_bounds(text: str) -> str:
    """A text whose middle is left out where it is too long to read: what it quotes may be of any length."""
    return text if len(text) <= _MOST else f"{text[:_BEGINNING]} [...] {text[-_END:]}"


class SowcalError(ValueError):
    """Base of all errors that a user can mend; its text is one clear sentence.

    Parameters
    ----------
    message : str
        What is wrong and what to do, without the place.
    where : str, optional
        File, table or option in which it stands.
    line : int, optional
        Line of that file, counted from 1.
    column : str, optional
        Name (or number) of the column.
    """

    exit_code = 2

    def __init__(self, message: str, *, where: str | None = None, line: int | None = None, column: str | None = None):
        self.message = _in_bounds(message)
        self.where = where
        self.line = line
        self.column = None if column is None else _in_bounds(column)
        super().__init__(str(self))

    def __str__(self) -> str:
        place = []
        if self.where:
            place.append(str(self.where))
        if self.line is not None:
            place.append(f"line {self.line}")
        if self.column is not None:
            place.append(f"column {self.column}")
        return f"{', '.join(place)}: {self.message}" if place else self.message


class InputError(SowcalError):
    """Something that was given (a file, a value, an option) cannot be used as it stands."""


class NetworkError(SowcalError):
    """A service could not be reached or did not answer as it should."""

    exit_code = 3


class NotJudgedError(SowcalError):
    """The record or the handbook does not carry the answer."""

    exit_code = 4


_NEAR = 2  # letters added, left out, changed or exchanged with the next; one for a word of up to four: judgement


def near_words(word: str, words: Iterable[str], most: int = 4) -> list[str]:
    """Words that a mistyped one may mean, those that are nearest first; none that is more than two slips away.

    Parameters
    ----------
    word : str
    words : iterable of str
    most : int
        How many are given at most.

    Examples
    --------
    >>> near_words("tomatto", ["tomato", "potato", "beetroot"]), near_words("sedge", ["sage"])
    (['tomato'], ['sage'])
    """
    allowed = _NEAR if len(word) > 4 else 1
    found = [(apart, other) for other in dict.fromkeys(words) if (apart := _slips(word, other, allowed)) <= allowed]
    return [other for _, other in sorted(found)[:most]]


def _slips(one: str, other: str, allowed: int) -> int:
    """Letters added, left out, changed or exchanged between two words (Damerau's distance); more than allowed counts
    as one more."""
    if abs(len(one) - len(other)) > allowed:
        return allowed + 1
    before: list[int] = []
    row = list(range(len(other) + 1))
    for i, a in enumerate(one, 1):
        last, before, row = before, row, [i]
        for j, b in enumerate(other, 1):
            least = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (a != b))
            if i > 1 and j > 1 and a == other[j - 2] and one[i - 2] == b:
                least = min(least, last[j - 2] + 1)
            row.append(least)
    return row[-1]
