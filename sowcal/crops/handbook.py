"""The handbook: all crop types, read once, immutable, each value traceable to its source."""

from __future__ import annotations

import difflib
import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields
from functools import cache, cached_property
from typing import Any

from sowcal.crops import records
from sowcal.crops.records import Crop, Source
from sowcal.crops.tables import Table, crop_data, read_rows, table_descriptions
from sowcal.errors import InputError
from sowcal.made_by import fingerprint_of

__all__ = ["Handbook", "assemble", "handbook"]

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

    ``handbook[name]`` gives a :class:`~sowcal.crops.records.Crop`; a misspelt name gets the nearest ones.
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
    """The bundled handbook, read once a process."""
    return assemble(read_tables())
