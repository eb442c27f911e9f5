"""From the series of single elements, each with days of its own, to the daily record of a site."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from sowcal.errors import InputError
from sowcal.weather.names_and_units import TEMPERATURES
from sowcal.weather.record import POSSIBLE, VARIABLES, DailyRecord, Note, daily_record

__all__ = ["Series", "note", "series_record"]

Series = tuple[np.ndarray, np.ndarray]  # days (datetime64[D]) and values, shape (n,) each
# More than this share of impossible days is a wrong unit or column, no slip: common practice, as for CSV
_MOST_PROBLEMS, _FEW = 0.05, 10


def note(day: Any, column: str, value: float, what: str, kind: str, line: int | None = None) -> Note:
    """What a reader says of one day's value."""
    return Note(what, kind, column, str(day), float(value) if np.isfinite(value) else None, line)


def series_record(
    series: Mapping[str, Series],
    *,
    where: str,
    notes: Sequence[Note] = (),
    origin: Mapping[str, np.ndarray] | None = None,
    **described: Any,
) -> DailyRecord:
    """Join series on their days, set what cannot be to missing, and tell it.

    Parameters
    ----------
    series : mapping of str to Series
        By variable, in internal units.
    where : str
        File named in errors.
    notes : sequence of Note
        What the reader set right already; see `note`.
    origin : mapping of str to numpy.ndarray, optional
        Codes of origin of each value; observed where left out.
    **described
        Place, title, source, history, licence, as for `daily_record`.

    Raises
    ------
    InputError
        For a lacking minimum or maximum, a day given twice, too many impossible values.
    """
    lacking = [v for v in ("tasmin", "tasmax") if v not in series]
    if lacking:
        raise InputError(f"the record has no {' and no '.join(lacking)}; both are needed", where=where)
    days = np.unique(np.concatenate([d for d, _ in series.values()]))
    values, codes = {}, {}
    for name, (dates, array) in series.items():
        if np.unique(dates).size != dates.size:
            twice = np.sort(dates)[1:][np.diff(np.sort(dates)) == np.timedelta64(0, "D")][0]
            raise InputError(f"{name} stands there twice for {twice}; keep one value a day", where=where)
        place = np.searchsorted(days, dates)
        values[name] = np.full(days.size, np.nan)
        values[name][place] = array
        codes[name] = np.zeros(days.size, dtype=np.int8)
        if origin and name in origin:
            codes[name][place] = origin[name]
    problems = [*notes, *_impossible(days, values, where)]
    record = daily_record(days, values, where=where, origin={**codes, "pr": codes.get("pr", 0)}, **described)
    return replace(record, notes=tuple(sorted(problems, key=lambda p: p.date)))


def _impossible(days: np.ndarray, values: Mapping[str, np.ndarray], where: str) -> list[Note]:
    out: list[Note] = []

    def tell(rows: np.ndarray, name: str, what: str, kind: str) -> None:
        known = int(np.isfinite(values[name]).sum())
        if rows.size > max(_FEW, _MOST_PROBLEMS * known):
            raise InputError(
                f"{rows.size} of {known} days have {what}, first on {days[rows[0]]}; check the unit and the file",
                where=where,
                column=name,
            )
        out.extend(note(days[r], name, values[name][r], f"{what}; set to missing", kind) for r in rows)

    for name, array in values.items():
        low, high = POSSIBLE[name]
        rows = np.flatnonzero((array < low) | (array > high))
        tell(rows, name, f"a value outside {low:g} to {high:g} {VARIABLES[name][0]}", "out of range")
        array[rows] = np.nan
    rows = np.flatnonzero(values["tasmin"] > values["tasmax"])
    tell(rows, "tasmin", "a minimum above the maximum", "crossed")
    for name in TEMPERATURES[:2]:
        values[name][rows] = np.nan
    return out
