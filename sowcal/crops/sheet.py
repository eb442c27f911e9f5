"""What the handbook says of one crop, value by value with its source, and how far all of it is known."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from sowcal.crops.handbook import Handbook, is_given
from sowcal.crops.tables import NOT_APPLICABLE, Column, Source, Table, table_descriptions

__all__ = [
    "Alternative",
    "Deciding",
    "Line",
    "basis_counts",
    "bibtex",
    "cited",
    "deciding_counts",
    "distinct_facts",
    "sheet",
    "unknown_values",
]

_NOT_VALUES = ("sources", "alternatives", "renamed", "changes")
_WITH_ITS_VALUE = re.compile(r"_(measure|method)$")  # columns that tell how the value beside them was measured


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another value that was found for a field, and why it is not the one used."""

    value: str
    basis: str
    source: Source | None
    why: str


@dataclass(frozen=True, slots=True)
class Line:
    """One value of the sheet with where it comes from."""

    table: str
    part: str  # way or model where a table has several rows a crop, else ''
    field: str
    value: float | str
    unit: str
    basis: str
    source: Source | None
    description: str
    alternatives: tuple[Alternative, ...] = ()

    @property
    def citation(self) -> str:
        """The source as one sentence, '' where none is named."""
        return self.source.citation if self.source else ""


def _rows(book: Handbook, table: str, crop: str) -> list[dict]:
    if table == "emergence":
        like = {r.get("emerges_like") for r in book.rows("germination", crop)}
        return [r for r in book.rows("emergence") if r["seed"] in like]
    return book.rows(table, crop)


def _columns(table: Table) -> list[Column]:
    """Columns with values; a key that names a source of its own is one where there is nothing else (a caution)."""
    return table.value_columns or [c for c in table.columns.values() if c.source_column]


def _alternatives(book: Handbook, crop: str) -> dict[tuple[str, str], tuple[Alternative, ...]]:
    found: dict[tuple[str, str], tuple[Alternative, ...]] = {}
    for row in book.rows("alternatives", crop):
        source = book.sources.get(row["source"])
        other = Alternative(row["value"], source.basis if source else "", source, row["why"])
        place = (row["table"], row["field"])
        found[place] = (*found.get(place, ()), other)
    return found


def _cells(book: Handbook) -> Iterator[tuple[str, dict, Column, Any, Source | None]]:
    """Every cell that may hold a value with a source: table, row, column, value, source."""
    for name, table in table_descriptions().items():
        if name not in _NOT_VALUES:
            for row in book.rows(name):
                for column in _columns(table):
                    if column.source_column and not _WITH_ITS_VALUE.search(column.name):
                        yield name, row, column, row.get(column.name, ""), book.source_of(row, table, column.name)


def sheet(book: Handbook, crop: str) -> list[Line]:
    """Every known value of a crop, in the order of the tables."""
    out = []
    others = _alternatives(book, crop)
    for name, table in table_descriptions().items():
        if name in _NOT_VALUES:
            continue
        for row in _rows(book, name, crop):
            part = " ".join(str(row[k]) for k in table.key if k in ("way", "model", "language"))
            for column in _columns(table):
                value = row.get(column.name, "")
                if not is_given(value):
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
                        source=source,
                        description=column.description,
                        alternatives=others.get((name, column.name), ()),
                    )
                )
    return out


def unknown_values(book: Handbook, crop: str) -> list[str]:
    """Numbers that the handbook has no value for, as table.field; what is not applicable is not among them."""
    out = []
    for name, table in table_descriptions().items():
        for row in book.rows(name, crop) if name not in ("emergence", *_NOT_VALUES) else ():
            out += [f"{name}.{c.name}" for c in table.value_columns if c.number and row.get(c.name) != row.get(c.name)]
    return list(dict.fromkeys(out))


def basis_counts(book: Handbook) -> dict[str, Counter]:
    """Values of each table by basis, 'unknown' for empty cells of numbers; what is not applicable is not counted."""
    out: dict[str, Counter] = {name: Counter() for name in table_descriptions() if name not in _NOT_VALUES}
    for name, _, column, value, source in _cells(book):
        if is_given(value):
            out[name][source.basis if source else "unknown"] += 1
        elif column.number and value != NOT_APPLICABLE:
            out[name]["unknown"] += 1
    return out


def distinct_facts(book: Handbook) -> tuple[int, int]:
    """Published facts, and those of them from primary papers and extension services.

    A value that several types of crop share by one source is one fact.
    """
    facts = {
        (name, row.get("crop", row.get("seed", "")).split(" (")[0], row.get("way"), c.name, value, source.key): source
        for name, row, c, value, source in _cells(book)
        if source and source.basis == "published" and is_given(value)
    }
    return len(facts), sum(s.strength in ("primary", "extension") for s in facts.values())


@dataclass(frozen=True, slots=True)
class Deciding:
    """How far a quantity that decides answers is published: crop types, distinct values and distinct citations.

    `lacking` names the types that have it from practice or memory only.
    """

    quantity: str
    types: int
    published: int
    distinct: int
    citations: int
    lacking: tuple[str, ...] = ()


_DECIDING = {
    "base temperature": (("growth", "base_temperature"),),
    "heat limits": (
        ("heat", "young_check"),
        ("heat", "filling_limit"),
        ("heat", "night_limit"),
        ("flowering", "day_full_below"),
        ("flowering", "day_none_above"),
        ("flowering", "night_full_below"),
        ("flowering", "night_none_above"),
    ),
    "thermal time to first picking": (("ways", "thermal_time_low"), ("ways", "thermal_time_high")),
    "limits of fruit set": tuple(
        ("flowering", f"{time}_{end}")
        for time in ("day", "night")
        for end in ("none_below", "full_above", "full_below", "none_above")
    ),
    "bolting": (
        ("gates", "bolting_day_length"),
        ("gates", "bolting_thermal_time"),
        ("gates", "cold_warmest"),
        ("gates", "cold_days_low"),
        ("gates", "cold_days_high"),
    ),
}


def deciding_counts(book: Handbook) -> list[Deciding]:
    """For each quantity on which verdicts hang: types that have it, and types with one published or derived value."""
    types: dict[str, dict[str, None]] = {q: {} for q in _DECIDING}  # in the order of the tables
    published: dict[str, dict] = {q: {} for q in _DECIDING}
    for name, row, column, value, source in _cells(book):
        for quantity in (q for q, places in _DECIDING.items() if (name, column.name) in places and is_given(value)):
            types[quantity][row["crop"]] = None
            if source and source.basis in ("published", "derived"):
                published[quantity].setdefault(row["crop"], set()).add((column.name, value, source.key))
    out = []
    for quantity, by_crop in published.items():
        facts = set().union(*by_crop.values())
        keys = {key for *_, key in facts}
        lacking = tuple(crop for crop in types[quantity] if crop not in by_crop)
        out.append(Deciding(quantity, len(types[quantity]), len(by_crop), len(facts), len(keys), lacking))
    return out


def cited(lines: Iterable[Line]) -> list[Source]:
    """Sources that were read, of values and of alternatives, each once, in the order of the sheet."""
    found: dict[str, Source] = {}
    for line in lines:
        for source in (line.source, *(a.source for a in line.alternatives)):
            if source and source.basis in ("published", "derived"):
                found.setdefault(source.key, source)
    return list(found.values())


def _escaped(text: str) -> str:
    return re.sub(r"([&%$#_{}])", r"\\\1", text)


def bibtex(sources: Iterable[Source]) -> str:
    """BibTeX entries of sources; what is not in print as an article stands as `misc` with its address.

    Parameters
    ----------
    sources : iterable of Source

    Returns
    -------
    str
        One entry a source, parted by empty lines.

    Examples
    --------
    >>> from sowcal.crops.tables import Source
    >>> made_up = Source("doe", "published", "Doe, Of leeks", "Doe, J.", "2001", "Of leeks", "Invented Journal", "3")
    >>> print(bibtex([made_up]))
    @article{doe,
      author = {Doe, J.},
      year = {2001},
      title = {Of leeks},
      journal = {Invented Journal},
      volume = {3},
    }
    """
    entries = []
    for s in sources:
        article = bool(s.container and s.volume) or (s.strength == "primary" and bool(s.container))
        named = {
            "author": s.authors.replace("; ", " and "),
            "year": s.year,
            "title": s.title or s.citation,
            "journal" if article else "howpublished": s.container,
            "volume": s.volume,
            "pages": s.pages,
            "doi": s.doi,
            "url": s.address,
            "note": "; ".join(
                part for part in (f"read in: {s.read_in}" if s.read_in else "", f"basis: {s.basis}", s.remark) if part
            )
            if s.read_in or s.remark or s.basis != "published"
            else "",
        }
        body = "".join(
            f"  {key} = {{{value if key in ('url', 'doi') else _escaped(value)}}},\n"
            for key, value in named.items()
            if value
        )
        entries.append(f"@{'article' if article else 'misc'}{{{s.key},\n{body}}}")
    return "\n\n".join(entries)
