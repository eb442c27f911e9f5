"""The handbook against the same values by a second hand: `python tests/validation/second_hand.py [--all]`.

`tests/data/second_hand.csv` was filled blind, for 60 crops, before the handbook's own values were opened. A pair is a
value given by both. Of each field: the share of pairs within tolerance (2 degC, half an hour of day length, a fifth of
days and thermal times); beside it the share that a hand blind to the crop would reach, each value held against the
handbook's of all other crops; the median difference, ours less the second hand's. Then the same by the second hand's
basis, by the handbook's, and the largest differences in tolerances (`--all`: all beyond tolerance).

Killing temperatures are both taken as tissue that kills half, by the offsets that the engine itself uses. Days to
first picking are the handbook's thermal time at the mean that the second hand states, so that they part neither for
another base nor for another mean; thermal times are held against one another as they stand.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import groupby
from pathlib import Path
from statistics import mean, median
from typing import Any

from sowcal.crops.handbook import KILLING_OFFSETS, Handbook, handbook, is_given
from sowcal.crops.tables import table_descriptions

SECOND = Path(__file__).parents[1] / "data" / "second_hand.csv"
TABLES = {  # field: table of the handbook
    **dict.fromkeys(("base_temperature", "upper_threshold"), "growth"),
    **dict.fromkeys(("soil_minimum", "soil_maximum"), "germination"),
    **dict.fromkeys(("killing_young", "killing_grown"), "cold"),
    **dict.fromkeys(("young_limit", "young_check", "filling_limit", "night_limit"), "heat"),
    **{
        f"{time}_{share}_{side}": "flowering"
        for time in ("day", "night")
        for share, side in (("none", "below"), ("full", "above"), ("full", "below"), ("none", "above"))
    },
    **dict.fromkeys(("days_low", "days_high", "thermal_time_low", "thermal_time_high"), "ways"),
    **dict.fromkeys(("bulbing_day_length", "bulbing_thermal_time", "bolting_day_length"), "gates"),
    **dict.fromkeys(("cold_warmest", "cold_days_low", "cold_days_high", "starting_none_above"), "gates"),
}
FIRST_DAYS = ("days_low", "days_high")  # held against the handbook's thermal time at the stated mean
ABSOLUTE = {"degC": 2.0, "h": 0.5}  # tolerance in the unit itself
RELATIVE = 0.2  # of the second hand's value, for days and thermal times
SHOWN = 40  # of the largest differences

Row = Mapping[str, str]


@dataclass(frozen=True)
class Pair:
    """One value by both hands, in the field's unit; `kind` is what was measured or how the crop is started."""

    crop: str
    field: str
    kind: str
    ours: float
    second: float
    unit: str
    basis: str
    our_basis: str

    @property
    def tolerance(self) -> float:
        """What the two may part by and still agree, in the field's unit."""
        return ABSOLUTE[self.unit] if self.unit in ABSOLUTE else RELATIVE * self.second

    @property
    def apart(self) -> float:
        """The difference in tolerances, ours less the second hand's."""
        return (self.ours - self.second) / self.tolerance

    @property
    def agrees(self) -> bool:
        """Whether the two are within tolerance, a rounding left aside."""
        return abs(self.apart) <= 1 + 1e-9


@dataclass(frozen=True)
class Agreement:
    """How far some pairs agree: number, share within tolerance, the same blind to the crop, median difference."""

    pairs: int
    within: float
    blind: float | None
    difference: float


def second_rows(path: Path = SECOND) -> list[dict[str, str]]:
    """The second hand's rows as they stand in the file."""
    with open(path, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file, strict=True))


def days_at(thermal_time: float, at: float, base: float, upper: float) -> float | None:
    """Days that a thermal time takes at a constant mean, degC; none where the crop does not grow at it."""
    rate = min(at, upper) - base
    return thermal_time / rate if rate > 0 else None


_described = cache(table_descriptions)


def _our_row(book: Handbook, crop: str, table: str, way: str) -> dict[str, Any] | None:
    rows = [r for r in book.rows(table, crop) if table != "ways" or r["way"] == way]
    return rows[0] if rows else None


def our_value(book: Handbook, crop: str, field: str, kind: str, at: float | None) -> tuple[float, str] | None:
    """The handbook's value and its basis as the second hand's field means it, None where it has none."""
    table, column = TABLES[field], field.replace("days_", "thermal_time_") if TABLES[field] == "ways" else field
    row = _our_row(book, crop, table, kind)
    if row is None or not is_given(row[column]):
        return None
    value = row[column] + KILLING_OFFSETS[row.get(f"{field}_measure") or "half, tissue"]
    if field in FIRST_DAYS:
        growth = book.rows("growth", crop)[0]
        found = None if at is None else days_at(value, at, growth["base_temperature"], growth["upper_threshold"])
        if found is None:
            return None
        value = found
    source = book.source_of(row, _described()[table], column)
    return value, source.basis if source else ""


def pairs(book: Handbook, rows: Iterable[Row]) -> list[Pair]:
    """Every value that both hands give."""
    rows = list(rows)
    means = {(r["crop"], r["kind"]): float(r["value"]) for r in rows if r["field"] == "mean_temperature"}
    found = []
    for row in rows:
        crop, field, kind = row["crop"], row["field"], row["kind"]
        if field == "mean_temperature":
            continue
        if (ours := our_value(book, crop, field, kind, means.get((crop, kind)))) is None:
            continue
        second = float(row["value"]) + (KILLING_OFFSETS[kind] if field.startswith("killing_") else 0)
        found.append(Pair(crop, field, kind, ours[0], second, row["unit"], row["basis"], ours[1]))
    return found


def blind_share(some: list[Pair]) -> float | None:
    """Share within tolerance if each value were held against the handbook's of every other crop, field by field."""
    hits = []
    for one in some:
        tolerance = one.tolerance * (1 + 1e-9)
        others = [other.ours for other in some if other.field == one.field and other.crop != one.crop]
        hits += [abs(ours - one.second) <= tolerance for ours in others]
    return mean(hits) if hits else None


def agreement(some: list[Pair]) -> Agreement:
    """How far some pairs agree; the median difference only means something within a field."""
    within = mean(p.agrees for p in some)
    return Agreement(len(some), within, blind_share(some), median(p.ours - p.second for p in some))


def grouped(found: list[Pair], key: Callable[[Pair], Any]) -> dict[Any, Agreement]:
    """The agreement of each group of pairs, in the order of the groups' names."""
    ordered = sorted(found, key=key)
    return {name: agreement(list(group)) for name, group in groupby(ordered, key)}


def largest(found: list[Pair]) -> list[Pair]:
    """The pairs beyond tolerance, those furthest apart first."""
    return sorted((p for p in found if not p.agrees), key=lambda p: (-abs(p.apart), p.crop, p.field, p.kind))


def _line(name: str, a: Agreement, unit: str = "") -> str:
    blind = "   -" if a.blind is None else f"{a.blind:.2f}"
    middle = f"  {a.difference:+.1f} {unit}" if unit else ""
    return f"{name:34} {a.pairs:5}   {a.within:.2f}   {blind}{middle}"


def report(found: list[Pair], shown: int | None = SHOWN) -> str:
    """The table as it is printed."""
    head = f"{'':34} pairs within  blind"
    units = {p.field: p.unit for p in found}
    lines = [f"{head}  median difference, ours less the second hand's", _line("all", agreement(found)), ""]
    for (field, basis), a in grouped(found, lambda p: (p.field, p.basis)).items():
        lines.append(_line(f"{field}, {basis}", a, units[field]))
    for title, key in (("second hand's", lambda p: p.basis), ("handbook's", lambda p: p.our_basis)):
        lines += ["", f"by the {title} basis"]
        lines += [_line(name or "none", a) for name, a in grouped(found, key).items()]
    lines += ["", "largest differences: crop, field, kind: ours, second hand's (basis of each), in tolerances"]
    lines += [
        f"{p.crop}, {p.field}{', ' + p.kind if p.kind else ''}: {p.ours:.4g}, {p.second:.4g} {p.unit} "
        f"({p.our_basis or 'none'}, {p.basis}) {p.apart:+.1f}"
        for p in largest(found)[:shown]
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    print(report(pairs(handbook(), second_rows()), None if "--all" in sys.argv[1:] else SHOWN))
