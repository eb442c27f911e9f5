"""Reading a TOML file so that what is wrong with it is said in one sentence."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from sowcal.errors import InputError
from sowcal.weather.whole_file import file_bytes

__all__ = ["read_toml_text", "toml_table"]

# A garden of a thousand beds has some 100 kB. Reading a key of many dots takes the square of their number, so that
# lines are bounded too. Common practice, no source.
_MOST, _LONGEST_LINE = 256_000, 4_000
_FIGURES = "a number in the file has too many figures"


def read_toml_text(path: Path, what: str) -> str:
    """Text of a file; `what` names its kind in errors ('site file')."""
    try:
        return file_bytes(path, _MOST, what).decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except UnicodeDecodeError:
        raise InputError(f"the {what} is not UTF-8 text; save it as UTF-8", where=str(path)) from None


def toml_table(text: str, where: str) -> dict[str, Any]:
    """The table of a TOML text; `where` names it in errors, which give the line."""
    for number, one in enumerate(text.split("\n"), 1):
        if len(one) > _LONGEST_LINE:
            raise InputError(f"the line is longer than {_LONGEST_LINE} letters; part it", where=where, line=number)
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        line = re.search(r"line (\d+)", str(problem))
        what = re.sub(r"\s*\(at .*\)$", "", str(problem))
        raise InputError(
            f"not a TOML file ({what[:1].lower() + what[1:]}); texts stand in quotation marks",
            where=where,
            line=int(line[1]) if line else None,
        ) from None
    except RecursionError:
        raise InputError("not a TOML file of this kind (brackets within brackets too deep)", where=where) from None
    except ValueError:  # a whole number of thousands of figures
        raise InputError(_FIGURES, where=where) from None
    waiting: list[Any] = [table]
    while waiting:
        one = waiting.pop()
        if isinstance(one, dict):
            waiting.extend(one.values())
        elif isinstance(one, list):
            waiting.extend(one)
        elif isinstance(one, int) and not -(2**63) <= one < 2**63:  # TOML 1.0, "Integer": 64 bits
            raise InputError(_FIGURES, where=where)
    return table
