"""What counts as a defect: of a record, and of one call of the command line; the fuzzed targets share it."""

from __future__ import annotations

import contextlib
import io
import json
from pathlib import Path

import numpy as np

from sowcal.__main__ import main
from sowcal.weather.cf_dataset import attributes_of
from sowcal.weather.record import MISSING, POSSIBLE, VARIABLES, DailyRecord, Note

__all__ = ["Defect", "ask", "sound"]


class Defect(Exception):
    """Something that a hostile or damaged input must not bring about."""


def sound(record: DailyRecord) -> None:
    """The promises of a record, whatever it was read from."""
    days = record.time
    if not (np.diff(days) == np.timedelta64(1, "D")).all():
        raise Defect("the days have gaps")
    for name in VARIABLES:
        if name not in record:
            continue
        values = record[name]
        if not ((values >= POSSIBLE[name][0]) & (values <= POSSIBLE[name][1]) | np.isnan(values)).all():
            raise Defect(f"{name} has impossible values")
        if not (record.origin[name][np.isnan(values)] == MISSING).all():
            raise Defect(f"{name} is missing and not said to be")
    if (record["tasmin"] > record["tasmax"]).any():
        raise Defect("a minimum stands above its maximum")
    told = attributes_of(record)
    for key in ("problems", "warnings"):
        if key in told and not isinstance(json.loads(str(told[key])), list):
            raise Defect(f"{key} is no list")
    if not all(isinstance(n, Note) for n in record.notes) or not all(isinstance(w, str) for w in record.warnings):
        raise Defect("a note or a warning is none")


def ask(arguments: list[str], folder: Path) -> None:
    """One call in this process: what it prints, leaves and returns."""
    out, said = io.StringIO(), io.StringIO()
    before = {p: p.stat().st_mtime_ns for p in folder.rglob("*")}
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(said):
            code = main(arguments)
    except SystemExit as end:
        code = end.code
    left = [p for p in folder.rglob("*") if p not in before and not p.name.startswith(".lock-")]
    if code != 0:
        if out.getvalue() or left:
            raise Defect(f"exit code {code}, and yet it answered or left {left}")
        if not said.getvalue().strip():
            raise Defect("it failed without a word")
    elif "--json" in arguments and "--out" not in arguments and "-h" not in arguments and "--help" not in arguments:
        try:
            json.loads(out.getvalue(), parse_constant=lambda word: (_ for _ in ()).throw(Defect(f"{word} in JSON")))
        except ValueError as problem:
            if not out.getvalue().startswith(("usage:", "sowcal ")):
                raise Defect(f"the answer is no JSON: {problem}") from None
    for text in (out.getvalue(), said.getvalue()):
        if any(ord(c) < 32 and c not in "\n\r" for c in text) or "\x7f" in text or "\u202e" in text:
            raise Defect(f"control characters reach the screen: {text[:300]!r}")
        if "Traceback" in text:
            raise Defect("a traceback is shown")
    if any(p.name.startswith(".") for p in left):
        raise Defect(f"left half written: {left}")
