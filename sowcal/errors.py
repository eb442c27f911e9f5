"""The package's own exceptions: each carries what is wrong, where, and what to do."""

from __future__ import annotations

__all__ = ["InputError", "NetworkError", "NotJudgedError", "SowcalError"]


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
