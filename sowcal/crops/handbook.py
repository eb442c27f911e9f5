"""The handbook: all crop types, read once, immutable, each value traceable to its source."""

from __future__ import annotations

import contextlib
import csv
import difflib
import io
import json
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache, cached_property
from types import MappingProxyType
from typing import Any

import numpy as np

from sowcal.crops import tables as records
from sowcal.crops.tables import NOT_APPLICABLE, Column, Crop, Source, Table, cell_value, crop_data, table_descriptions
from sowcal.errors import InputError, near_words
from sowcal.kept_files import Later, Plain, digest_of, keeps, kinds_of, prepared_folder, read_parts, told, write_parts
from sowcal.languages import SPOKEN, counted, say_crop, speaking
from sowcal.provenance import fingerprint_of, source_digest

__all__ = [
    "KILLING_OFFSETS",
    "Handbook",
    "assemble",
    "crop_words",
    "find_crops",
    "gone_columns",
    "handbook",
    "is_given",
    "named_crops",
    "read_rows",
    "read_tables",
    "sorts_by_chill",
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


def _header(names: list[str], table: Table, where: str, gone: Mapping[str, str]) -> list[Column | None]:
    """Columns of a header line, None for those that older tables had and whose cells say nothing any more."""
    columns: list[Column | None] = []
    for name in names:
        if name in table.columns:
            columns.append(table.columns[name])
        elif name in gone and name.endswith("source"):
            columns.append(None)
        elif gone.get(name):
            raise InputError(f"column {name!r} is now called {gone[name].replace('|', ' and ')}", where=where, line=1)
        else:
            near = difflib.get_close_matches(name, table.columns, 1)
            hint = f"; did you mean {near[0]!r}?" if near else f"; table {table.name} has: {', '.join(table.columns)}"
            raise InputError(f"there is no column {name!r}{hint}", where=where, line=1)
    for name in table.key:
        if name not in names:
            raise InputError(f"column {name!r} is missing", where=where, line=1)
    return columns


def read_rows(
    text: str, table: Table, where: str, gone: Mapping[str, str] = MappingProxyType({})
) -> list[dict[str, float | str]]:
    """Rows of one table, typed and within bounds.

    Parameters
    ----------
    text : str
        The CSV text, comma separated, with a header line.
    table : Table
        What the columns mean.
    where : str
        File name for error messages.
    gone : mapping of str to str
        Columns that older tables had, and what stands for them now: those of sources are passed over.

    Raises
    ------
    InputError
        For an unknown or missing column, a repeated key or a value that is not allowed; with the line.
    """
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff")))
    try:
        columns = _header([h.strip() for h in next(reader, [])], table, where, gone)
        rows: list[dict[str, float | str]] = []
        seen: dict[tuple, int] = {}
        said: list[dict[str, float | str]] = [{} for _ in columns]  # most cells are empty, or say what others say
        for cells in reader:
            if not any(c.strip() for c in cells):
                continue
            line = reader.line_num
            if len(cells) != len(columns):
                found = f"{counted(len(cells), 'cell')} where the header has {len(columns)}"
                raise InputError(found, where=where, line=line)
            row: dict[str, float | str] = {}
            for cell, column, values in zip(cells, columns, said, strict=True):
                if column and cell not in values:
                    values[cell] = cell_value(cell, column, where, line)
                if column:
                    row[column.name] = values[cell]
            key = tuple(row[k] for k in table.key)
            if key in seen:
                again = f"{' / '.join(map(str, key))} stands already in line {seen[key]}"
                raise InputError(again, where=where, line=line)
            seen[key] = line
            rows.append(row)
    except csv.Error as error:
        raise InputError(f"not a readable CSV file ({error})", where=where, line=reader.line_num) from None
    return rows


class Handbook(Mapping[str, Crop]):
    """Crops by name, in the order of the tables.

    ``handbook[name]`` gives a :class:`~sowcal.crops.tables.Crop`; a misspelt name gets the nearest ones.
    """

    def __init__(
        self,
        crops: Mapping[str, Crop],
        rows: Mapping[str, list[dict[str, Any]]],
        sources: Mapping[str, Source],
        **known: Any,
    ):
        self._crops = crops
        self._rows = rows
        self.sources = sources
        self._rows_of: dict[str, dict[str, list[dict[str, Any]]]] = {}
        self.__dict__.update(known)  # what was worked out of the same tables before

    def __getitem__(self, name: str) -> Crop:
        try:
            return self._crops[name]
        except KeyError:
            near = near_words(name, self._crops, 3)
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

    @cached_property
    def words(self) -> set[str]:
        """Every name of a crop in any language, without case, hyphens and accents."""
        rows = self._rows["names"]
        return {_fold(n) for c in self.values() for n in _names(c)} | {_fold(row["name"]) for row in rows}

    @property
    def tables(self) -> tuple[str, ...]:
        """Names of the tables, in their order."""
        return tuple(self._rows)

    def rows(self, table: str, crop: str | None = None) -> list[dict[str, Any]]:
        """Rows of a table as read (values and source keys), of one crop or of all."""
        if crop is None:
            return list(self._rows[table])
        if table not in self._rows_of:
            self._rows_of[table] = records.rows_by_crop(self._rows[table])
        return list(self._rows_of[table].get(crop, ()))

    def source_of(self, row: Mapping[str, Any], table: Table, column: str) -> Source | None:
        """Source of one value of a row, None where the value is unknown."""
        if not is_given(row.get(column, "")):
            return None
        return self.sources.get(row.get(table.columns[column].source_column, ""))


# Figures that were not measured as the field means them (tissue that kills half), and what is added to them, degC.
# The grower who finds a crop dead writes down the air's minimum: tissue was about half a degree colder (the offset of
# `sowcal.settings`), and half of the plants had died at about a degree and a half more (judgement). The middle of a
# printed range of damage is taken as it stands.
KILLING_OFFSETS = {"half, tissue": 0.0, "range, tissue": 0.0, "dead, air": 1.0}


def _record(kind: Any, row: Mapping[str, Any]) -> Any:
    """A row as the engine takes it: what is not applicable as unknown, air minima as tissue."""
    held = kind.__dataclass_fields__  # `fields` makes a new tuple of them for every row
    values = {n: f.default if row[n] == NOT_APPLICABLE else row[n] for n, f in held.items() if n in row}
    for measure in (n for n in row if n.endswith("_measure") and row[n]):
        if (name := measure.removesuffix("_measure")) in values and row[name] != NOT_APPLICABLE:
            values[name] += KILLING_OFFSETS[row[measure]]
    return kind(**values)


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
    by_crop = {table: records.rows_by_crop(rows[table]) for table in rows}
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


def _prepared() -> Handbook:
    """The bundled handbook as it was assembled before; from its files where they, or this program, have changed."""
    folder = crop_data()
    files = sorted((f for f in folder.iterdir() if f.name.endswith((".csv", ".json"))), key=lambda f: f.name)
    digest = digest_of([source_digest().encode(), *(part for f in files for part in (f.name.encode(), f.read_bytes()))])
    path = prepared_folder() / f"handbook-{digest}.kept"
    if (found := read_parts(path)) is not None:
        with contextlib.suppress(KeyError, TypeError, ValueError, IndexError):
            return _of_parts(found[0])
    book, plain = assemble(read_tables()), Plain()
    parts: dict[str, Any] = {f"rows of {table}": _columns(book.rows(table)) for table in book.tables}
    parts["crops"] = {name: plain.of(crop) for name, crop in book.items()}
    parts["sources"] = {name: plain.of(source) for name, source in book.sources.items()}
    parts["known"] = {"fingerprint": book.fingerprint, "words": sorted(book.words)}
    write_parts(path, {name: json.dumps(part, separators=(",", ":")).encode() for name, part in parts.items()})
    return book


def _columns(rows: Sequence[Mapping[str, Any]]) -> list[list[Any]]:
    """Rows with the names of their columns before them; all of a table have the same."""
    return [list(rows[0]), *(list(row.values()) for row in rows)] if rows else []


def _of_parts(parts: Mapping[str, bytes]) -> Handbook:
    """The handbook of what `_prepared` has written."""
    kinds = kinds_of(vars(records).values())

    def of(plain: Any) -> Any:
        return told(plain, np.zeros(0), kinds)

    def rows(part: bytes) -> list[dict[str, Any]]:
        names, *held = json.loads(part) or [[]]
        return [dict(zip(names, row, strict=True)) for row in held]

    tables = {key[len("rows of ") :]: part for key, part in parts.items() if key.startswith("rows of ")}
    crops, sources, known = (json.loads(parts[name]) for name in ("crops", "sources", "known"))
    known["words"] = set(known["words"])
    return Handbook(Later(crops, of), Later(tables, rows), Later(sources, of), **known)


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
    return _prepared() if keeps() else assemble(read_tables())


def is_given(value: Any) -> bool:
    """Whether a cell holds a value: not unknown (empty) and not `n/a`."""
    return value not in ("", NOT_APPLICABLE) and value == value


@cache
def gone_columns(table: str) -> dict[str, str]:
    """Columns that a table had in older versions of the data, and what stands for each now."""
    rows = read_tables(("renamed",))["renamed"]
    return {r["old"]: r["new"] for r in rows if r["kind"] == "column" and r["table"] == table}


def sorts_by_chill(
    book: Handbook, crop: Crop, portions: float
) -> tuple[tuple[dict[str, Any], ...], tuple[dict[str, Any], ...]]:
    """Sorts of the same species whose published need of chill so many portions meet, and those whose not.

    Each is told as `sort`, `portions` (least and most that are given for it) and `source`, by the most of its need.
    Portions are met in whole units, as they are told.
    """
    table = table_descriptions()["sorts"]
    fit: list[dict[str, Any]] = []
    unfit: list[dict[str, Any]] = []
    for row in sorted(book.rows("sorts"), key=lambda r: (r["portions_high"], r["sort"])):
        if book[row["crop"]].botanical_name != crop.botanical_name:
            continue
        source = book.source_of(row, table, "portions_high")
        need = [row["portions_low"], row["portions_high"]]
        told = {"sort": row["sort"], "portions": need, "source": source.citation if source else ""}
        (fit if need[1] <= round(portions) else unfit).append(told)
    return tuple(fit), tuple(unfit)


@cache  # names are few, and each is asked for at every word looked up
def _fold(text: str) -> str:
    """A name without case, hyphens and accents: 'feijão' is found as 'feijao'."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(c))
    return " ".join(plain.replace("-", " ").replace("'", " ").split())


def _names(crop: Crop) -> list[str]:
    return [crop.name, crop.kind, *crop.synonyms, crop.botanical_name]


LANGUAGES = {
    "ar": "Arabic",
    "ca": "Catalan",
    "de": "German",
    "el": "Greek",
    "es": "Spanish",
    "fr": "French",
    "it": "Italian",
    "pt": "Portuguese",
    "tr": "Turkish",
}


def _in_other_languages(book: Handbook, wanted: str, language: str = "") -> list[Crop]:
    """Crops of one name in another language, or in the one given; a name that stands for two crops is asked back."""
    if language in SPOKEN and language != "en":
        with speaking(language):
            if own := [c for c in book.values() if _fold(say_crop(c.name)) == wanted]:
                return own
    meant: dict[str, list[str]] = {}
    for row in book.rows("names"):
        if _fold(row["name"]) == wanted and language in ("", row["language"]):
            meant.setdefault(row["crop"], []).append(row["language"])
    if len(meant) > 1:
        told = " and ".join(f"{crop} in {' and '.join(LANGUAGES[code] for code in of)}" for crop, of in meant.items())
        by = "" if language else f", or the language, such as --language {next(iter(meant.values()))[0]}"
        raise InputError(f"{wanted!r} is {told}; say which one: {' or '.join(meant)}{by}")
    return [c for crop in meant for c in book.values() if crop in (c.name, c.kind)]


def _gone_name(book: Handbook, word: str) -> None:
    """Refuse a name that is no longer taken, with what stands for it."""
    for row in book.rows("renamed"):
        if row["kind"] != "column" and _fold(row["old"]) == _fold(word):
            now = f"say {row['new']!r}" if row["new"] else "`sowcal crops` lists all"
            raise InputError(f"{word!r} is no longer taken, for {row['why']}; {now}")


def find_crops(book: Handbook, word: str, language: str = "") -> list[Crop]:
    """All crops that a word may mean, the closest kind of match only.

    An exact name comes first, then the plain name of several types (`tomato`), synonyms and botanical names,
    names in other languages, families, and last any part of a name.

    Parameters
    ----------
    book : Handbook
    word : str
        In any case, with or without hyphens and accents.
    language : str
        Two letters of the language in which names are given, where that is known: its names come first then, and settle
        what stands for two crops elsewhere.

    Returns
    -------
    list of Crop

    Raises
    ------
    InputError
        Where nothing matches; the message gives the nearest names. Where a name of another language stands for two
        crops, or is no longer taken; the message gives those to choose from.

    Examples
    --------
    >>> [crop.name for crop in find_crops(handbook(), "zucchini")]
    ['courgette']
    >>> [crop.name for crop in find_crops(handbook(), "tomato")]
    ['tomato (large)', 'tomato (cherry)', 'tomato (early)', 'tomato (plum)']
    >>> [crop.name for crop in find_crops(handbook(), "beringela")]
    ['aubergine']
    """
    wanted = _fold(word)
    if not wanted:
        raise InputError("an empty word names no crop; `sowcal crops` lists all")
    if language and language != "en" and (found := _in_other_languages(book, wanted, language)):
        return found
    if found := [book[name] for name in book if _fold(name) == wanted]:
        return found
    either = {wanted, wanted.removesuffix("s")}
    if found := [c for c in book.values() if either & {_fold(n) for n in _names(c)}]:
        return found
    _gone_name(book, word)
    if found := _in_other_languages(book, wanted):
        return found
    for test in (lambda c: _fold(c.family) == wanted, lambda c: any(wanted in _fold(n) for n in _names(c))):
        if found := [c for c in book.values() if test(c)]:
            return found
    pool = {_fold(n): n for c in book.values() for n in _names(c)}
    pool |= {_fold(r["name"]): r["name"] for r in book.rows("names") if _fold(r["name"]) not in pool}
    near = [pool[n] for n in near_words(wanted, pool)]
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


def named_crops(book: Handbook, words: Sequence[str], language: str = "") -> list[Crop]:
    """Crops meant by several words, each once, in the order asked for.

    Names of more than one word need no quotes: the longest run of words that is a name is taken as one. `language` as
    for `find_crops`.
    """
    if not words:
        return []
    whole = book.words
    if language in SPOKEN:
        with speaking(language):
            whole = whole | {_fold(say_crop(name)) for name in book}
    out: dict[str, Crop] = {}
    i = 0
    while i < len(words):
        ends = range(len(words), i + 1, -1)
        j = next((j for j in ends if _fold(" ".join(words[i:j])) in whole), i + 1)
        for crop in find_crops(book, " ".join(words[i:j]), language):
            out[crop.name] = crop
        i = j
    return list(out.values())
