"""The handbook: all crop types, read once, immutable, each value traceable to its source."""

from __future__ import annotations

import csv
import difflib
import io
import json
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cache, cached_property, lru_cache
from pathlib import Path
from typing import Any

from sowcal.crops import tables as records
from sowcal.crops.tables import Column, Crop, Source, Table, crop_data, read_rows, table_descriptions
from sowcal.errors import InputError
from sowcal.files import file_bytes
from sowcal.provenance import fingerprint_of
from sowcal.remembered import settings_folder

__all__ = [
    "OWN",
    "Handbook",
    "Line",
    "assemble",
    "basis_counts",
    "crop_words",
    "find_crops",
    "handbook",
    "named_crops",
    "own_crops",
    "own_files_of_user",
    "sheet",
    "unknown_values",
    "with_own_values",
]

Rows = dict[str, list[dict[str, Any]]]

_SINGLE = {  # tables with at most one row a crop: attribute of Crop, class
    "germination": ("germination", records.Germination),
    "growth": ("growth", records.Growth),
    "flowering": ("flowering", records.Flowering),
    "cold": ("cold", records.Cold),
    "heat": ("heat", records.Heat),
    "gates": ("gates", records.Gates),
    "perennials": ("perennial", records.Perennial),
    "blossom": ("blossom", records.Blossom),
    "water": ("water", records.Water),
    "garden": ("garden", records.Garden),
}


class Handbook(Mapping[str, Crop]):
    """Crops by name, in the order of the tables.

    ``handbook[name]`` gives a :class:`~sowcal.crops.tables.Crop`; a misspelt name gets the nearest ones.
    """

    def __init__(self, crops: dict[str, Crop], rows: Rows, sources: dict[str, Source]):
        self._crops = crops
        self._rows = rows
        self.sources = sources

    def __getitem__(self, name: str) -> Crop:
        try:
            return self._crops[name]
        except KeyError:
            near = difflib.get_close_matches(name, self._crops, 3, 0.6)
            hint = f"; nearest: {', '.join(near)}" if near else "; `sowcal crops` lists all"
            raise InputError(f"there is no crop {name!r} in the handbook{hint}") from None

    def __contains__(self, name: object) -> bool:
        return name in self._crops

    def __iter__(self) -> Iterator[str]:
        return iter(self._crops)

    def __len__(self) -> int:
        return len(self._crops)

    @cached_property
    def fingerprint(self) -> str:
        """Fingerprint of every value and source of the tables, a grower's own values laid over them included."""
        return fingerprint_of(
            part.encode()
            for table in sorted(self._rows)
            for part in (table, json.dumps(self._rows[table], sort_keys=True))
        )

    def rows(self, table: str, crop: str | None = None) -> list[dict[str, Any]]:
        """Rows of a table as read (values and source keys), of one crop or of all."""
        return [r for r in self._rows[table] if crop is None or r.get("crop") == crop]

    def source_of(self, row: Mapping[str, Any], table: Table, column: str) -> Source | None:
        """Source of one value of a row, None where the value is unknown."""
        value = row.get(column, "")
        if value == "" or value != value:
            return None
        return self.sources.get(row.get(table.columns[column].source_column, ""))


def _record(kind: type, row: Mapping[str, Any]) -> Any:
    return kind(**{f.name: row[f.name] for f in fields(kind) if f.name in row})


def _emergence(row: Mapping[str, Any]) -> records.Emergence:
    steps = range(0, 45, 5)
    return records.Emergence(
        seed=row["seed"],
        temperatures=tuple(map(float, steps)),
        days=tuple(row[f"days_{t}"] for t in steps),
        percent=tuple(row[f"percent_{t}"] for t in steps),
    )


def assemble(rows: Rows) -> Handbook:
    """Crops from the rows of all tables."""
    by_crop: dict[str, dict[str, list]] = {t: defaultdict(list) for t in rows}
    for table, table_rows in rows.items():
        for row in table_rows:
            if "crop" in row:
                by_crop[table][row["crop"]].append(row)
    seeds = {r["seed"]: _emergence(r) for r in rows["emergence"]}
    crops = {}
    for row in rows["crops"]:
        name = row["crop"]
        parts: dict[str, Any] = {}
        for table, (attribute, kind) in _SINGLE.items():
            if found := by_crop[table].get(name):
                parts[attribute] = _record(kind, found[0])
        germination = parts.get("germination")
        crops[name] = Crop(
            name=name,
            botanical_name=row["botanical_name"],
            family=row["family"],
            life=row["life"],
            use=row["use"],
            part=row["part"],
            synonyms=tuple(s.strip() for s in row["synonyms"].split("|") if s.strip()),
            ways=tuple(_record(records.Way, r) for r in by_crop["ways"].get(name, ())),
            emergence=seeds.get(germination.emerges_like) if germination else None,
            chill=tuple(_record(records.Chill, r) for r in by_crop["chill"].get(name, ())),
            cautions=tuple(r["caution"] for r in by_crop["cautions"].get(name, ())),
            note=next((r["note"] for r in by_crop["notes"].get(name, ())), ""),
            **parts,
        )
    sources = {r["key"]: _record(Source, r) for r in rows["sources"]}
    return Handbook(crops, rows, sources)


def read_tables(names: Iterable[str] | None = None) -> Rows:
    """Rows of the bundled tables."""
    folder = crop_data()
    return {
        name: read_rows((folder / table.path).read_text(encoding="utf-8"), table, f"crop_data/{table.path}")
        for name, table in table_descriptions().items()
        if names is None or name in names
    }


@cache
def handbook() -> Handbook:
    """The bundled handbook, read once a process.

    Returns
    -------
    Handbook
        Crops by name; a grower's own values are laid over it by `sowcal.open_handbook`.

    Examples
    --------
    >>> handbook()["courgette"].family
    'Cucurbitaceae'
    """
    return assemble(read_tables())


def _fold(text: str) -> str:
    return " ".join(text.casefold().replace("-", " ").split())


def _names(crop: Crop) -> list[str]:
    return [crop.name, crop.kind, *crop.synonyms, crop.botanical_name]


def find_crops(book: Handbook, word: str) -> list[Crop]:
    """All crops that a word may mean, the closest kind of match only.

    An exact name comes first, then the plain name of several types (`tomato`), synonyms and botanical names,
    families, and last any part of a name.

    Parameters
    ----------
    book : Handbook
    word : str
        In any case, with or without hyphens.

    Returns
    -------
    list of Crop

    Raises
    ------
    InputError
        Where nothing matches; the message gives the nearest names.

    Examples
    --------
    >>> [crop.name for crop in find_crops(handbook(), "zucchini")]
    ['courgette']
    >>> [crop.name for crop in find_crops(handbook(), "tomato")]
    ['tomato (large)', 'tomato (cherry)', 'tomato (plum)']
    """
    wanted = _fold(word)
    if not wanted:
        raise InputError("an empty word names no crop; `sowcal crops` lists all")
    for test in (
        lambda c: _fold(c.name) == wanted,
        lambda c: wanted in {_fold(n) for n in _names(c)} or wanted.removesuffix("s") in {_fold(n) for n in _names(c)},
        lambda c: _fold(c.family) == wanted,
        lambda c: any(wanted in _fold(n) for n in _names(c)),
    ):
        found = [c for c in book.values() if test(c)]
        if found:
            return found
    pool = {_fold(n): n for c in book.values() for n in _names(c)}
    near = [pool[n] for n in difflib.get_close_matches(wanted, pool, 4, 0.6)]
    hint = f"nearest: {', '.join(near)}" if near else "`sowcal crops` lists all"
    raise InputError(f"there is no crop {word!r} in the handbook; {hint}")


def crop_words(crops: str | Iterable[str]) -> list[str]:
    """Words that name crops, of one string ('broad bean') or several.

    Raises
    ------
    InputError
        For what is no string and no list of them.
    """
    if isinstance(crops, str):
        return crops.split()
    words = list(crops) if isinstance(crops, Iterable) else [crops]
    for word in words:
        if not isinstance(word, str) or not word.strip():
            raise InputError(f"{word!r} names no crop; give a name such as 'tomato', or a list of names")
    return words


def named_crops(book: Handbook, words: Sequence[str]) -> list[Crop]:
    """Crops meant by several words, each once, in the order asked for.

    Names of more than one word need no quotes: the longest run of words that is a name is taken as one.
    """
    whole = {_fold(n) for c in book.values() for n in _names(c)}
    out: dict[str, Crop] = {}
    i = 0
    while i < len(words):
        ends = range(len(words), i + 1, -1)
        j = next((j for j in ends if _fold(" ".join(words[i:j])) in whole), i + 1)
        for crop in find_crops(book, " ".join(words[i:j])):
            out[crop.name] = crop
        i = j
    return list(out.values())


OWN = "grower's own"
_KEY = "growers-own"
_MOST = 4_000_000  # bytes; the handbook's largest table has some 25 kB. Common practice, no source.
_LIKE = Column("like", False, "crop to take the rest from", "", float("nan"), float("nan"), (), False, "")


def own_files_of_user() -> tuple[str, ...]:
    """Files that stand in the user's own folder, in order of name."""
    import os

    folder = os.environ.get("SOWCAL_CROPS")
    if folder is None:
        folder = str(settings_folder() / "crops")
    if not folder:
        return ()
    path = Path(folder)
    return tuple(str(p) for p in sorted(path.glob("*.csv"))) if os.path.isdir(path) else ()


def _table_of(path: Path, text: str) -> Table:
    tables = {n: t for n, t in table_descriptions().items() if n not in ("sources", "alternatives", "emergence")}
    for name, table in tables.items():
        if path.stem == name or path.stem.endswith((f"-{name}", f"_{name}")):
            return table
    try:
        header = {h.strip() for h in next(csv.reader(io.StringIO(text)), [])}
    except csv.Error as problem:
        raise InputError(f"not a readable CSV file ({problem})", where=str(path), line=1) from None
    fitting = [t for t in tables.values() if header <= set(t.columns) | {"like"} and set(t.key) <= header]
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
    return table, read_rows(text, loose, str(path))


def _fields(column: Column) -> dict:
    return {name: getattr(column, name) for name in column.__slots__}


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
    out = []
    for name, table in table_descriptions().items():
        out += [
            r["crop"] for r in book.rows(name) if any(r.get(c) == _KEY for c in table.source_columns) and "crop" in r
        ]
    return list(dict.fromkeys(out))


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
