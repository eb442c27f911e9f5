"""Beds, paths and trees of a garden file: where things grow, what lies on the soil, and what takes their light."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from sowcal.files import StrictTable
from sowcal.garden.soil_water import TEXTURES
from sowcal.year import MONTH_NAMES, MONTHS

__all__ = [
    "BED_KINDS",
    "MULCHES",
    "MULCH_KEYS",
    "SIDES",
    "Bed",
    "Mulch",
    "Paths",
    "Tree",
    "beds_of",
    "mulch_of",
    "paths_of",
    "trees_of",
]

MULCHES = ("none", "straw", "compost", "wood chips", "plastic")
BED_KINDS = ("flat", "raised", "card", "compost")
SIDES = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
_MOST_BEDS, _MOST_TREES = 1000, 50


@dataclass(frozen=True, slots=True)
class Mulch:
    """What lies on the soil; `cover` is the share of the soil that it covers, `depth` in m, `months` (0 to 11) those
    in which it lies, none for all year."""

    kind: str = "none"
    cover: float = 1.0
    depth: float = 0.05
    months: tuple[int, ...] = ()

    @property
    def lies(self) -> bool:
        """Whether there is any."""
        return self.kind != "none" and self.cover > 0.0

    def litres(self, area: float) -> float:
        """Loose litres for a bed of so many m2; none of plastic."""
        return self.depth * 1000.0 * self.cover * area if self.lies and self.kind != "plastic" else 0.0


@dataclass(frozen=True, slots=True)
class Bed:
    """A bed; `shade` is the share of the day's light that it goes without, `zone` the valve that waters it.

    `kind` is 'flat', 'raised' (filled `height` m high), 'card' (on cardboard laid over turf or weeds, `height` m of
    compost on it) or 'compost' (a layer of compost `height` m thick on the ground). `month_shade` has the shade of each
    month where they differ; `texture`, `soil_depth` and `mulch` are those of the garden where they are not told.
    """

    name: str
    length: float  # m
    width: float  # m
    shade: float = 0.0
    zone: str = ""
    kind: str = "flat"
    height: float = 0.0  # m
    month_shade: tuple[float, ...] = ()
    texture: str = ""
    soil_depth: float = math.nan  # m
    mulch: Mulch | None = None

    @property
    def area(self) -> float:
        """Square metres."""
        return self.length * self.width

    @property
    def shades(self) -> tuple[float, ...]:
        """Share of light that it goes without in each month."""
        return self.month_shade or (self.shade,) * 12


@dataclass(frozen=True, slots=True)
class Paths:
    """Paths between the beds: `width` and `depth` of wood chips, m; no width is no paths told."""

    width: float = 0.0
    depth: float = 0.08


@dataclass(frozen=True, slots=True)
class Tree:
    """A tree that stands by the beds: m high, m of crown across, on which `side` of the beds; `beds` by name with the
    m from its trunk to the middle of each."""

    name: str
    height: float
    crown: float
    side: str
    beds: tuple[tuple[str, float], ...]
    evergreen: bool = False


def _month(table: StrictTable, key: str, word: Any) -> int:
    """A month, 0 to 11, of its English name or the first three letters of it."""
    text = str(word).strip().lower()
    for month, (short, name) in enumerate(zip(MONTHS, MONTH_NAMES, strict=True)):
        if text in (short.lower(), name.lower()):
            return month
    raise table.fail(f"{key}{table.inside} names the month {word!r}; write one of {', '.join(MONTHS)}")


def mulch_of(table: StrictTable, usual: Mulch) -> Mulch:
    """The mulch that a table tells; `from` and `to` are its first and last month."""
    months: tuple[int, ...] = usual.months
    if ("from" in table) != ("to" in table):
        raise table.fail(f'from and to{table.inside} go together, such as from = "May" and to = "Sep"')
    if "from" in table:
        first, last = (_month(table, key, table.raw(key)) for key in ("from", "to"))
        months = tuple(sorted((first + k) % 12 for k in range((last - first) % 12 + 1)))
    return Mulch(
        table.word("kind", MULCHES, usual.kind),
        table.number("cover", 0.0, 1.0, "", usual.cover),
        table.number("depth", 0.0, 0.5, "m", usual.depth),
        months,
    )


MULCH_KEYS = ("kind", "cover", "depth", "from", "to")


def _shade(table: StrictTable) -> tuple[float, tuple[float, ...]]:
    """Usual shade, and that of each month where the file tells months apart."""
    told = table.raw("shade", 0.0)
    if not isinstance(told, dict):
        return table.number("shade", 0.0, 1.0, "", 0.0), ()
    by_month = [0.0] * 12
    for word, value in told.items():
        by_month[_month(table, "shade", word)] = table.checked(value, f"shade of {word}", 0.0, 1.0, "")
    return sum(by_month) / 12.0, tuple(by_month)


def beds_of(top: StrictTable, mulch: Mulch) -> tuple[Bed, ...]:
    """The [[beds]] of a garden file, whose usual mulch is given."""
    rows = top.raw("beds", [])
    if not isinstance(rows, list) or len(rows) > _MOST_BEDS:
        raise top.fail(f"beds must be [[beds]] tables, at most {_MOST_BEDS}")
    beds: list[Bed] = []
    keys = ("name", "length", "width", "shade", "zone", "kind", "height", "soil", "mulch")
    for number, row in enumerate(rows, 1):
        table = StrictTable(row, keys, top.where, f"beds, number {number}")
        soil = table.table("soil", ("texture", "depth"))
        own = mulch_of(table.table("mulch", MULCH_KEYS), mulch) if "mulch" in table else None
        shade, by_month = _shade(table)
        bed = Bed(
            table.text("name", f"bed {number}"),
            table.number("length", 0.1, 1000.0, "m"),
            table.number("width", 0.1, 100.0, "m"),
            shade,
            table.text("zone", ""),
            table.word("kind", BED_KINDS, "flat"),
            table.number("height", 0.0, 2.0, "m", 0.0),
            by_month,
            soil.word("texture", tuple(TEXTURES), "loam") if "texture" in soil else "",
            soil.number("depth", 0.1, 3.0, "m", math.nan),
            own,
        )
        if any(b.name == bed.name for b in beds):
            raise top.fail(f"there are two beds {bed.name!r}; give each its own name")
        beds.append(bed)
    return tuple(beds)


def paths_of(top: StrictTable) -> Paths:
    """The [paths] of a garden file."""
    table = top.table("paths", ("width", "depth"))
    return Paths(table.number("width", 0.0, 5.0, "m", 0.0), table.number("depth", 0.0, 0.5, "m", 0.08))


def trees_of(top: StrictTable, beds: tuple[Bed, ...]) -> tuple[Tree, ...]:
    """The [[trees]] of a garden file."""
    rows = top.raw("trees", [])
    if not isinstance(rows, list) or len(rows) > _MOST_TREES:
        raise top.fail(f"trees must be [[trees]] tables, at most {_MOST_TREES}")
    out = []
    names = [b.name for b in beds]
    for number, row in enumerate(rows, 1):
        keys = ("name", "height", "crown", "side", "beds", "evergreen")
        table = StrictTable(row, keys, top.where, f"trees, number {number}")
        near = table.table("beds", names)
        evergreen = table.raw("evergreen", False)
        if not isinstance(evergreen, bool):
            raise table.fail(f"evergreen{table.inside} is {evergreen!r}; it must be true or false")
        out.append(
            Tree(
                table.text("name", f"tree {number}"),
                table.number("height", 0.5, 60.0, "m"),
                table.number("crown", 0.5, 40.0, "m"),
                table.word("side", SIDES, "") if "side" in table else _no_side(table),
                tuple((name, near.number(name, 0.1, 100.0, "m")) for name in names if name in near),
                evergreen,
            )
        )
    return tuple(out)


def _no_side(table: StrictTable) -> str:
    raise table.fail(
        f'side is missing{table.inside}; add a line such as side = "west" (where it stands, from the beds)'
    )
