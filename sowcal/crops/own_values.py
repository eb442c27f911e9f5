"""A grower's own crops and values, laid over the handbook's tables."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

from sowcal.crops.handbook import Handbook, Rows, assemble, gone_columns, read_rows, read_tables
from sowcal.crops.tables import Column, Table, table_descriptions
from sowcal.errors import InputError
from sowcal.files import file_bytes
from sowcal.saved_settings import settings_folder

__all__ = ["OWN", "own_crops", "own_files_of_user", "with_own_values"]

OWN = "grower's own"
_KEY = "growers-own"
_MOST = 4_000_000  # bytes; the handbook's largest table has some 25 kB. Common practice, no source.
_NOT_OF_A_GROWER = ("sources", "alternatives", "emergence", "renamed", "names", "changes")
_LIKE = Column("like", False, "crop to take the rest from", "", float("nan"), float("nan"), (), False, "")


def own_files_of_user() -> tuple[str, ...]:
    """Files that stand in the user's own folder, in order of name."""
    folder = os.environ.get("SOWCAL_CROPS")
    if folder is None:
        folder = str(settings_folder() / "crops")
    if not folder:
        return ()
    path = Path(folder)
    return tuple(str(p) for p in sorted(path.glob("*.csv"))) if os.path.isdir(path) else ()


def _table_of(path: Path, text: str) -> Table:
    tables = {n: t for n, t in table_descriptions().items() if n not in _NOT_OF_A_GROWER}
    for name, table in tables.items():
        if path.stem == name or path.stem.endswith((f"-{name}", f"_{name}")):
            return table
    try:
        header = {h.strip() for h in next(csv.reader(io.StringIO(text)), [])}
    except csv.Error as problem:
        raise InputError(f"not a readable CSV file ({problem})", where=str(path), line=1) from None
    fitting = [
        t
        for n, t in tables.items()
        if header <= set(t.columns) | {"like"} | set(gone_columns(n)) and set(t.key) <= header
    ]
    if len(fitting) == 1:
        return fitting[0]
    names = ", ".join(tables)
    raise InputError(
        f"it is not clear which table these columns are of; name the file after one of: {names}",
        where=str(path),
        line=1,
    )


def _text(path: Path) -> str:
    try:
        return file_bytes(path, _MOST, "crop file").decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError("it cannot be read as UTF-8 text; save it as UTF-8", where=str(path)) from None


def _read(path: Path, text: str) -> tuple[Table, list[dict]]:
    table = _table_of(path, text)
    # a row that only changes values need not repeat what must otherwise be given
    columns = {
        n: c if n in table.key else Column(**{**_fields(c), "required": False}) for n, c in table.columns.items()
    }
    if table.name == "crops":
        columns["like"] = _LIKE
    loose = Table(table.name, table.path, table.description, columns, table.key, table.source_columns)
    return table, read_rows(text, loose, str(path), gone_columns(table.name))


def _fields(column: Column) -> dict:
    return {name: getattr(column, name) for name in column.__slots__}


def _refuse_old_name(rows: Rows, crop: str, where: str) -> None:
    for row in rows["renamed"]:
        if row["kind"] == "crop" and row["old"] == crop:
            raise InputError(f"{crop!r} is now {row['new'].replace('|', ' or ')}; write that name", where=where)


def _lay_over(rows: Rows, table: Table, own: list[dict], where: str) -> None:
    known = {r["crop"] for r in rows["crops"]}
    for new in own:
        like = new.pop("like", "")
        crop = new["crop"]
        if table.name == "crops" and crop not in known:
            if like and like not in known:
                raise InputError(f"there is no crop {like!r} to be like", where=where, column="like")
            if like:
                for name in rows:
                    rows[name] += [{**r, "crop": crop} for r in rows[name] if r.get("crop") == like]
            else:
                rows["crops"].append({c: "" for c in table.columns} | {"crop": crop})
            known.add(crop)
        if crop not in known:
            _refuse_old_name(rows, crop, where)
            raise InputError(
                f"{crop!r} is not in the handbook; add it by a file crops.csv with columns crop and like", where=where
            )
        key = tuple(new[k] for k in table.key)
        row = next((r for r in rows[table.name] if tuple(r[k] for k in table.key) == key), None)
        if row is None:
            row = {c.name: float("nan") if c.number else "" for c in table.columns.values()}
            row.update({k: new[k] for k in table.key})
            rows[table.name].append(row)
        for name, value in new.items():
            if name in table.key or name in table.source_columns or value == "" or value != value:
                continue
            row[name] = value
            if source_column := table.columns[name].source_column:
                row[source_column] = _KEY
            if f"{name}_measure" in row and f"{name}_measure" not in new:
                row[f"{name}_measure"] = "half, tissue"  # what the field means where nothing is said


def with_own_values(files: tuple[str, ...]) -> Handbook:
    """The handbook with a grower's files laid over it, in the order given.

    Raises
    ------
    InputError
        With file, line and column for anything that is not allowed; then nothing is taken over.
    """
    return _laid_over(tuple((file, _text(Path(file))) for file in files))


@lru_cache(maxsize=8)  # by content: a file that was changed since is another one
def _laid_over(files: tuple[tuple[str, str], ...]) -> Handbook:
    rows = read_tables()
    rows["sources"].append(
        {"key": _KEY, "basis": OWN, "citation": "the grower's own value", "read_in": "", "remark": ""}
    )
    for file, text in files:
        table, own = _read(Path(file), text)
        _lay_over(rows, table, own, file)
    return assemble(rows)


def own_crops(book: Handbook) -> Sequence[str]:
    """Crops that carry a value of the grower's own."""
    if _KEY not in book.sources:
        return []
    out = []
    for name, table in table_descriptions().items():
        out += [
            r["crop"] for r in book.rows(name) if any(r.get(c) == _KEY for c in table.source_columns) and "crop" in r
        ]
    return list(dict.fromkeys(out))
