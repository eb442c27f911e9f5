"""A TOML table read key by key: every key known, every number within bounds, every word one of the list."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from typing import Any

from sowcal.errors import InputError

__all__ = [
    "StrictTable",
]


class StrictTable:
    """One table of a file.

    Parameters
    ----------
    table : mapping
        As `tomllib` gives it.
    keys : sequence of str
        Keys it may have; any other is refused with the nearest one named.
    where : str
        File named in errors.
    inside : str
        Name of the table in errors, '' at the top of the file.
    """

    def __init__(self, table: Any, keys: Sequence[str], where: str, inside: str = ""):
        self.where = where
        self.inside = f" under [{inside}]" if inside else ""
        if not isinstance(table, Mapping):
            raise InputError(f"[{inside}] must be a table of lines such as name = value", where=where)
        self._table = table
        for key in table:
            if key not in keys:
                near = get_close_matches(key.lower(), keys, n=1)
                hint = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(keys)}"
                raise InputError(f"unknown key {key!r}{self.inside}; {hint}", where=where)

    def __contains__(self, key: str) -> bool:
        return key in self._table

    def raw(self, key: str, default: Any = None) -> Any:
        """The value as it stands."""
        return self._table.get(key, default)

    def fail(self, message: str) -> InputError:
        """An error that names the file."""
        return InputError(message, where=self.where)

    def number(self, key: str, least: float, most: float, unit: str, default: float | None = None) -> float:
        """A number within bounds; `InputError` where it is missing and has no default."""
        if key not in self._table:
            if default is None:
                raise self.fail(f"{key} is missing{self.inside}; add a line such as {key} = {least or 1:g}")
            return default
        return self.checked(self._table[key], key, least, most, unit)

    def checked(self, value: Any, key: str, least: float, most: float, unit: str) -> float:
        """A value that must be a number within bounds."""
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise self.fail(f"{key}{self.inside} is {value!r}; it must be a number without quotation marks")
        if not math.isfinite(value) or not least <= value <= most:
            unit = f" {unit}" if unit else ""
            raise self.fail(f"{key}{self.inside} is {value:g}; it must lie between {least:g} and {most:g}{unit}")
        return float(value)

    def text(self, key: str, default: str | None = None) -> str:
        """A text that is not empty."""
        value = self._table.get(key, default)
        if value is None:
            raise self.fail(f'{key} is missing{self.inside}; add a line such as {key} = "..."')
        if not isinstance(value, str) or (not value.strip() and key in self._table):
            raise self.fail(f"{key}{self.inside} is {value!r}; it must be a text in quotation marks")
        return value.strip()

    def word(self, key: str, words: Sequence[str], default: str) -> str:
        """One of some words."""
        value = self.text(key, default).lower()
        if value not in words:
            near = get_close_matches(value, words, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(words)}"
            raise self.fail(f"{key}{self.inside} is {value!r}; {hint}")
        return value

    def table(self, key: str, keys: Sequence[str]) -> StrictTable:
        """A table within this one, empty where it is absent."""
        return StrictTable(self._table.get(key, {}), keys, self.where, key)

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts, empty where it is absent."""
        value = self._table.get(key, [])
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            raise self.fail(f'{key}{self.inside} must be a list of texts such as {key} = ["carrot"]')
        return tuple(v.strip() for v in value)
