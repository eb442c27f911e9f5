"""Reading a TOML file so that what is wrong with it is said in one sentence."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from sowcal.errors import InputError

__all__ = ["read_toml_text", "toml_table"]


def read_toml_text(path: Path, what: str) -> str:
    """Text of a file; `what` names its kind in errors ('site file')."""
    try:
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise InputError(f"there is no {what} {str(path)!r}; check the name and the folder") from None
    except UnicodeDecodeError:
        raise InputError(f"the {what} is not UTF-8 text; save it as UTF-8", where=str(path)) from None
    except OSError as problem:
        raise InputError(f"the {what} cannot be read ({problem.strerror})", where=str(path)) from None


def toml_table(text: str, where: str) -> dict[str, Any]:
    """The table of a TOML text; `where` names it in errors, which give the line."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        line = re.search(r"line (\d+)", str(problem))
        what = re.sub(r"\s*\(at .*\)$", "", str(problem))
        raise InputError(
            f"not a TOML file ({what[:1].lower() + what[1:]}); texts stand in quotation marks",
            where=where,
            line=int(line[1]) if line else None,
        ) from None
