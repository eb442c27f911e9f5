"""Finding the handbook's tables and reading them against their own description.

``crop_data/datapackage.json`` (Frictionless Data) is the one place that says which columns a table has, of
which type, within which bounds, and which column names the source of a value.
"""

from __future__ import annotations

import csv
import difflib
import io
import json
from dataclasses import dataclass
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from math import isnan, nan
from pathlib import Path

from sowcal.errors import InputError
from sowcal.plurals import counted

__all__ = ["Column", "Table", "crop_data", "read_rows", "table_descriptions"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table as the data package describes it."""

    name: str
    number: bool
    description: str
    unit: str
    least: float
    greatest: float
    words: tuple[str, ...]
    required: bool
    source_column: str


@dataclass(frozen=True, slots=True)
class Table:
    """One table as the data package describes it."""

    name: str
    path: str
    description: str
    columns: dict[str, Column]
    key: tuple[str, ...]
    source_columns: frozenset[str]

    @property
    def value_columns(self) -> list[Column]:
        """Columns that carry values, without keys and source keys."""
        return [c for c in self.columns.values() if c.name not in self.key and c.name not in self.source_columns]


@cache
def crop_data() -> Traversable:
    """Folder of the tables: inside an installed package, beside it in a checkout."""
    inside = resources.files("sowcal") / "crop_data"
    if (inside / "datapackage.json").is_file():
        return inside
    beside = Path(__file__).resolve().parents[2] / "crop_data"
    if (beside / "datapackage.json").is_file():
        return beside
    raise InputError("the crop tables are missing from this installation; install sowcal again", where="crop_data")


def _column(field: dict) -> Column:
    limits = field.get("constraints", {})
    return Column(
        name=field["name"],
        number=field["type"] == "number",
        description=field.get("description", ""),
        unit=field.get("unit", ""),
        least=limits.get("minimum", nan),
        greatest=limits.get("maximum", nan),
        words=tuple(limits.get("enum", ())),
        required=limits.get("required", False),
        source_column=field.get("sourceField", ""),
    )


@cache
def table_descriptions() -> dict[str, Table]:
    """All tables of the handbook by name."""
    package = json.loads((crop_data() / "datapackage.json").read_text(encoding="utf-8"))
    out = {}
    for resource in package["resources"]:
        schema = resource["schema"]
        foreign = {k["fields"] for k in schema.get("foreignKeys", ()) if k["reference"]["resource"] == "sources"}
        out[resource["name"]] = Table(
            name=resource["name"],
            path=resource["path"],
            description=resource["description"],
            columns={f["name"]: _column(f) for f in schema["fields"]},
            key=tuple(schema["primaryKey"]),
            source_columns=frozenset(foreign),
        )
    return out


def _number(text: str, column: Column, where: str, line: int) -> float:
    try:
        value = float(text)
    except ValueError:
        value = nan
    if isnan(value):
        raise InputError(
            f"{text!r} is not a number; give {column.unit or 'a number'} or leave it empty for unknown",
            where=where,
            line=line,
            column=column.name,
        )
    if value < column.least or value > column.greatest:
        low = "any" if isnan(column.least) else f"{column.least:g}"
        high = "any" if isnan(column.greatest) else f"{column.greatest:g}"
        raise InputError(
            f"{text} is outside what is allowed ({low} to {high} {column.unit})",
            where=where,
            line=line,
            column=column.name,
        )
    return value


def _cell(text: str, column: Column, where: str, line: int) -> float | str:
    text = text.strip()
    if not text:
        if column.required:
            raise InputError("this must not be empty", where=where, line=line, column=column.name)
        return nan if column.number else ""
    if column.number:
        return _number(text, column, where, line)
    if column.words and text not in column.words:
        raise InputError(
            f"{text!r} is not one of: {', '.join(column.words)}", where=where, line=line, column=column.name
        )
    return text


def read_rows(text: str, table: Table, where: str) -> list[dict[str, float | str]]:
    """Rows of one table, typed and within bounds.

    Parameters
    ----------
    text : str
        The CSV text, comma separated, with a header line.
    table : Table
        What the columns mean.
    where : str
        File name for error messages.

    Raises
    ------
    InputError
        For an unknown or missing column, a repeated key or a value that is not allowed; with the line.
    """
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff")))
    try:
        header = [h.strip() for h in next(reader, [])]
        columns = []
        for name in header:
            if name not in table.columns:
                near = difflib.get_close_matches(name, table.columns, 1)
                hint = (
                    f"; did you mean {near[0]!r}?" if near else f"; table {table.name} has: {', '.join(table.columns)}"
                )
                raise InputError(f"there is no column {name!r}{hint}", where=where, line=1)
            columns.append(table.columns[name])
        for name in table.key:
            if name not in header:
                raise InputError(f"column {name!r} is missing", where=where, line=1)
        rows: list[dict[str, float | str]] = []
        seen: dict[tuple, int] = {}
        for cells in reader:
            if not any(c.strip() for c in cells):
                continue
            line = reader.line_num
            if len(cells) != len(columns):
                raise InputError(
                    f"{counted(len(cells), 'cell')} where the header has {len(columns)}", where=where, line=line
                )
            row = {c.name: _cell(t, c, where, line) for t, c in zip(cells, columns, strict=True)}
            key = tuple(row[k] for k in table.key)
            if key in seen:
                raise InputError(
                    f"{' / '.join(map(str, key))} stands already in line {seen[key]}", where=where, line=line
                )
            seen[key] = line
            rows.append(row)
    except csv.Error as error:
        raise InputError(f"not a readable CSV file ({error})", where=where, line=reader.line_num) from None
    return rows
