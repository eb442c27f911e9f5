"""One crop's whole sheet, and how much of the handbook rests on what."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from sowcal.crops.handbook import Handbook
from sowcal.crops.tables import table_descriptions

__all__ = ["Line", "basis_counts", "sheet", "unknown_values"]

BASES = ("published", "practice", "memory", "grower's own")


@dataclass(frozen=True, slots=True)
class Line:
    """One value of the sheet with where it comes from."""

    table: str
    part: str  # way or model where a table has several rows a crop, else ''
    field: str
    value: float | str
    unit: str
    basis: str
    citation: str
    description: str


def _rows(book: Handbook, table: str, crop: str) -> list[dict]:
    if table == "emergence":
        like = {r.get("emerges_like") for r in book.rows("germination", crop)}
        return [r for r in book.rows("emergence") if r["seed"] in like]
    return book.rows(table, crop)


def sheet(book: Handbook, crop: str) -> list[Line]:
    """Every known value of a crop, in the order of the tables."""
    out = []
    for name, table in table_descriptions().items():
        if name == "sources":
            continue
        for row in _rows(book, name, crop):
            part = " ".join(str(row[k]) for k in table.key if k not in ("crop", "table", "field", "source"))
            for column in table.value_columns:
                value = row.get(column.name, "")
                if value == "" or value != value:
                    continue
                source = book.source_of(row, table, column.name)
                out.append(
                    Line(
                        table=name,
                        part=part,
                        field=column.name,
                        value=value,
                        unit=column.unit,
                        basis=source.basis if source else "",
                        citation=source.citation if source else "",
                        description=column.description,
                    )
                )
    return out


def unknown_values(book: Handbook, crop: str) -> list[str]:
    """Numbers that the handbook has no value for, as table.field."""
    out = []
    for name, table in table_descriptions().items():
        for row in book.rows(name, crop) if name not in ("emergence", "sources") else ():
            out += [f"{name}.{c.name}" for c in table.value_columns if c.number and row.get(c.name) != row.get(c.name)]
    return list(dict.fromkeys(out))


def basis_counts(book: Handbook) -> dict[str, Counter]:
    """Values of each table by basis, 'unknown' for empty cells of numbers."""
    out: dict[str, Counter] = {}
    for name, table in table_descriptions().items():
        if name in ("sources", "alternatives"):
            continue
        count: Counter = Counter()
        for row in book.rows(name):
            for column in table.value_columns:
                if not column.source_column:
                    continue
                value = row.get(column.name, "")
                if value == "" or value != value:
                    count["unknown"] += column.number
                    continue
                source = book.source_of(row, table, column.name)
                count[source.basis if source else "unknown"] += 1
        out[name] = count
    return out
