"""Garden files: a few tables of TOML that say what a household has and wants, read into frozen records.

Units are the grower's: metres, litres, millimetres of pipe and compost; each field names its own.
"""

from __future__ import annotations

import math
import os
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import Any

from sowcal.errors import InputError
from sowcal.files import StrictTable, read_toml_text, toml_table
from sowcal.garden.bed_file import MULCH_KEYS, Bed, Mulch, Paths, Tree, beds_of, mulch_of, paths_of, trees_of
from sowcal.garden.soil_water import TEXTURES
from sowcal.year import day_of_year

__all__ = [
    "Bed",
    "Emitters",
    "Garden",
    "Household",
    "Mulch",
    "Paths",
    "Pipe",
    "Pond",
    "Pump",
    "Start",
    "Tree",
    "WaterSupply",
    "bundled_garden",
    "bundled_garden_names",
    "open_garden",
    "parse_garden",
    "read_garden_file",
]

TASTES = ("more", "usual", "less", "none")
FILTERS = ("none", "screen", "disc")
VALVES = ("none", "ball", "solenoid")
TIMERS = ("none", "gravity", "solenoid")
EMITTER_KINDS = ("turbulent", "tape", "laminar", "compensating")
METHODS = ("drip", "hand")
WAYS = ("sown outdoors", "set out", "planted")
_MOST_STARTS = 1000
_BUNDLED = ("sallowdene",)
_ENDING = ".garden.toml"


@dataclass(frozen=True, slots=True)
class Household:
    """Who eats: `tastes` by crop, 'more', 'usual', 'less' or 'none'."""

    people: float = 2.0
    tastes: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Pipe:
    """A pipe; `diameter` is the inner one, mm."""

    length: float  # m
    diameter: float  # mm


@dataclass(frozen=True, slots=True)
class Emitters:
    """Drip emitters: `flow` in l h-1 at `pressure` in kPa, `spacing` in m.

    `most` is the greatest pressure in kPa that the product bears; NaN where its sheet is not at hand.
    """

    flow: float = 2.0
    pressure: float = 100.0
    spacing: float = 0.30
    kind: str = "turbulent"
    most: float = math.nan


@dataclass(frozen=True, slots=True)
class Pond:
    """An open store: surface in m2, seepage in mm a day, greatest depth in m (NaN where it is not told)."""

    area: float
    seepage: float = 2.0
    depth: float = math.nan


@dataclass(frozen=True, slots=True)
class Pump:
    """A pump that lifts water from pond or well into the tanks: l h-1, the greatest head it makes and the lift, m."""

    flow: float
    head: float
    lift: float


@dataclass(frozen=True, slots=True)
class WaterSupply:
    """Stored water and the way it reaches the beds.

    Attributes
    ----------
    tanks : tuple of float
        Litres each.
    refill : float
        Litres a day from spring or mains, as far as the tanks have room.
    roof : float
        Roof that drains into the tanks, m2.
    height : float
        Tank outlet above the beds, m; the water in the tank is counted from there.
    slope : float
        Fall of the laterals away from their inlets, per cent; uphill is negative.
    salinity : float
        dS m-1.
    method : str
        'drip' or 'hand'.
    laterals : Pipe
        One drip line, `lateral_spacing` m apart.
    hose : float
        l min-1.
    reducer : float
        Pressure behind a reducer in the main, kPa; 0 is none.
    programs : int
        Programs that the timer holds.
    pump : Pump or None
    first_flush : float
        mm of the first rain after dry days that are let run past the tanks.
    """

    tanks: tuple[float, ...] = ()
    refill: float = 0.0
    roof: float = 0.0
    full_at_start: float = 1.0
    height: float = 1.0
    slope: float = 0.0
    salinity: float = 0.5
    method: str = "drip"
    main: Pipe = Pipe(20.0, 21.0)
    laterals: Pipe = Pipe(10.0, 13.6)
    lateral_spacing: float = 0.4
    filter: str = "screen"
    valve: str = "ball"
    timer: str = "none"
    emitters: Emitters = Emitters()
    hose: float = 12.0
    pond: Pond | None = None
    reducer: float = 0.0
    programs: int = 3
    pump: Pump | None = None
    first_flush: float = 0.0

    @property
    def capacity(self) -> float:
        """All tanks, litres."""
        return sum(self.tanks)


@dataclass(frozen=True, slots=True)
class Start:
    """A start day that the grower chose: `way` as the handbook has it, `day` of the year from 0."""

    crop: str
    way: str
    day: int


@dataclass(frozen=True, slots=True)
class Garden:
    """One garden; `crops` is empty where they are to be suggested, `site` a word for `open_weather`.

    A crop that is named in `starts` is started on these days and no others.
    """

    name: str
    site: str
    beds: tuple[Bed, ...]
    household: Household = Household()
    crops: tuple[str, ...] = ()
    counts: dict[str, int] = field(default_factory=dict)
    rain_fed: tuple[str, ...] = ()
    texture: str = "loam"
    soil_depth: float = 0.6  # m
    compost: float = 20.0  # mm a year
    mulch: Mulch = field(default_factory=Mulch)
    water: WaterSupply = WaterSupply()
    paths: Paths = field(default_factory=Paths)
    trees: tuple[Tree, ...] = ()
    starts: tuple[Start, ...] = ()

    @property
    def area(self) -> float:
        """All beds, m2."""
        return sum(b.area for b in self.beds)


def bundled_garden_names() -> list[str]:
    """Names of the gardens that come with the package, invented like their plots."""
    return list(_BUNDLED)


def bundled_garden(name: str = _BUNDLED[0]) -> Garden:
    """The bundled garden of that name; `InputError` for any other name."""
    key = name.strip().lower()
    if key not in _BUNDLED:
        raise InputError(f"there is no bundled garden {name!r}; there is {' and '.join(_BUNDLED)}")
    text = (files("sowcal") / "plots" / f"{key}{_ENDING}").read_text(encoding="utf-8")
    return parse_garden(text, where=f"bundled garden {key}")


def read_garden_file(path: str | Path) -> Garden:
    r"""The garden that a TOML file describes.

    A site file named in it is looked for beside it.

    Parameters
    ----------
    path : str or pathlib.Path

    Returns
    -------
    Garden
        Areas in m2, lengths in m, water in litres.

    Raises
    ------
    InputError
        For a file that is missing or not TOML (with the line), an unknown key (with the nearest one), a
        number out of range.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder, "my.garden.toml")
    ...     _ = path.write_text('name = "mine"\nsite = "sallowdene"\n[[beds]]\nname = "a"\nlength = 5\nwidth = 1.2\n')
    ...     garden = read_garden_file(path)
    >>> garden.site, garden.area
    ('sallowdene', 6.0)
    """
    path = Path(path)
    text = read_toml_text(path, "garden file")
    return parse_garden(text, where=str(path), folder=path.parent)


def open_garden(word: str | Path | None = None) -> Garden:
    """A garden by the name of a bundled one or by its file; the first bundled one where none is named.

    Raises
    ------
    InputError
        Where it is neither, or the file is not sound.
    """
    if word is None:
        return bundled_garden()
    name = str(word).strip()
    if name.lower() in bundled_garden_names():
        return bundled_garden(name)
    path = Path(name)
    if path.suffix.lower() == ".toml" or os.path.isfile(path):
        return read_garden_file(path)
    raise InputError(
        f"{name!r} is no garden: neither a bundled one ({', '.join(bundled_garden_names())}) nor an existing file"
    )


def parse_garden(text: str, *, where: str, folder: Path | None = None) -> Garden:
    """The garden of the text of a garden file; `where` names it in errors."""
    raw = toml_table(text, where)
    keys = ("name", "site", "invented", "crops", "rain_fed", "beds", "household", "counts", "soil", "starts")
    top = StrictTable(raw, (*keys, "mulch", "water", "paths", "trees"), where)
    site = top.text("site")
    if folder is not None and os.path.isfile(folder / site):
        site = str(folder / site)
    soil = top.table("soil", ("texture", "depth", "compost"))
    mulch = mulch_of(top.table("mulch", MULCH_KEYS), Mulch())
    beds = beds_of(top, mulch)
    return Garden(
        name=top.text("name"),
        site=site,
        beds=beds,
        household=_household(top),
        crops=_crops(top),
        counts=_counts(top),
        rain_fed=_each_once(top, "rain_fed"),
        texture=soil.word("texture", tuple(TEXTURES), "loam"),
        soil_depth=soil.number("depth", 0.1, 3.0, "m", 0.6),
        compost=soil.number("compost", 0.0, 300.0, "mm a year", 20.0),
        mulch=mulch,
        water=_water(top),
        paths=paths_of(top),
        trees=trees_of(top, beds),
        starts=_starts(top),
    )


def _starts(top: StrictTable) -> tuple[Start, ...]:
    rows = top.raw("starts", [])
    if not isinstance(rows, list) or len(rows) > _MOST_STARTS:
        raise top.fail(f"starts must be [[starts]] tables, at most {_MOST_STARTS}")
    out: list[Start] = []
    for number, row in enumerate(rows, 1):
        table = StrictTable(row, ("crop", "way", "day"), top.where, f"starts, number {number}")
        try:
            day = day_of_year(table.text("day"))
        except InputError as problem:
            raise top.fail(f"starts, number {number}: {problem.message}") from None
        out.append(Start(table.text("crop"), table.word("way", WAYS, WAYS[0]), day))
    return tuple(out)


def _crops(top: StrictTable) -> tuple[str, ...]:
    if top.raw("crops", "suggest") == "suggest":
        return ()
    if isinstance(top.raw("crops"), str):
        raise top.fail(f'crops is {top.raw("crops")!r}; write "suggest" or a list such as ["carrot", "leek"]')
    return _each_once(top, "crops")


def _each_once(top: StrictTable, key: str) -> tuple[str, ...]:
    """A list of crops, none of which is there twice."""
    crops = top.texts(key)
    if twice := [crop for k, crop in enumerate(crops) if crop in crops[:k]]:
        raise top.fail(
            f"{key} names {twice[0]!r} twice; name each crop once (how many plants of it goes under [counts])"
        )
    return crops


def _household(top: StrictTable) -> Household:
    table = top.table("household", ("people", "tastes"))
    tastes = table.raw("tastes", {})
    if not isinstance(tastes, dict):
        raise top.fail('[household.tastes] must hold lines such as "courgette" = "less"')
    for crop, taste in tastes.items():
        if taste not in TASTES:
            raise top.fail(f"the taste for {crop!r} is {taste!r}; it must be one of {', '.join(TASTES)}")
    return Household(table.number("people", 0.0, 1000.0, "", 2.0), dict(tastes))


def _counts(top: StrictTable) -> dict[str, int]:
    table = top.raw("counts", {})
    if not isinstance(table, dict):
        raise top.fail('[counts] must hold lines such as "courgette" = 6')
    for crop, n in table.items():
        if top.checked(n, crop, 0, 100_000, "plants") % 1:
            raise top.fail(f"[counts] has {n:g} plants of {crop!r}; give a whole number")
    return {crop: int(n) for crop, n in table.items()}


def _pipe(water: StrictTable, key: str, usual: Pipe, extra: tuple[str, ...] = ()) -> Pipe:
    table = water.table(key, ("length", "diameter", *extra))
    return Pipe(
        table.number("length", 0.1, 2000.0, "m", usual.length),
        table.number("diameter", 2.0, 200.0, "mm (inner)", usual.diameter),
    )


def _tanks(water: StrictTable) -> tuple[float, ...]:
    value: Any = water.raw("tanks", [])
    if not isinstance(value, list):
        raise water.fail("tanks under [water] must be a list of litres such as tanks = [1000, 1000]")
    return tuple(water.checked(v, "tanks", 1.0, 10_000_000.0, "litres") for v in value)


def _emitters(water: StrictTable) -> Emitters:
    usual = Emitters()
    table = water.table("emitters", ("flow", "pressure", "spacing", "kind", "most"))
    return Emitters(
        table.number("flow", 0.1, 100.0, "l/h", usual.flow),
        table.number("pressure", 1.0, 1000.0, "kPa", usual.pressure),
        table.number("spacing", 0.05, 5.0, "m", usual.spacing),
        table.word("kind", EMITTER_KINDS, usual.kind),
        table.number("most", 1.0, 2000.0, "kPa", math.nan),
    )


def _pond(water: StrictTable) -> Pond | None:
    if "pond" not in water:
        return None
    table = water.table("pond", ("area", "seepage", "depth"))
    return Pond(
        table.number("area", 0.1, 1e5, "m2"),
        table.number("seepage", 0.0, 500.0, "mm a day", 2.0),
        table.number("depth", 0.1, 50.0, "m", math.nan),
    )


def _pump(water: StrictTable) -> Pump | None:
    if "pump" not in water:
        return None
    table = water.table("pump", ("flow", "head", "lift"))
    return Pump(
        table.number("flow", 1.0, 1e6, "l/h"),
        table.number("head", 0.1, 500.0, "m"),
        table.number("lift", 0.0, 500.0, "m"),
    )


def _water(top: StrictTable) -> WaterSupply:
    usual = WaterSupply()
    keys = ("tanks", "refill", "roof", "full_at_start", "height", "slope", "salinity", "method", "main")
    more = ("laterals", "filter", "valve", "timer", "emitters", "hose", "pond")
    water = top.table("water", (*keys, *more, "reducer", "programs", "pump", "first_flush"))
    laterals = water.table("laterals", ("length", "diameter", "spacing"))
    return WaterSupply(
        tanks=_tanks(water),
        refill=water.number("refill", 0.0, 1e6, "litres a day", 0.0),
        roof=water.number("roof", 0.0, 1e5, "m2", 0.0),
        full_at_start=water.number("full_at_start", 0.0, 1.0, "(1 is full)", 1.0),
        height=water.number("height", -50.0, 200.0, "m", usual.height),
        slope=water.number("slope", -30.0, 30.0, "per cent", 0.0),
        salinity=water.number("salinity", 0.0, 20.0, "dS/m", usual.salinity),
        method=water.word("method", METHODS, "drip"),
        main=_pipe(water, "main", usual.main),
        laterals=_pipe(water, "laterals", usual.laterals, ("spacing",)),
        lateral_spacing=laterals.number("spacing", 0.1, 5.0, "m", usual.lateral_spacing),
        filter=water.word("filter", FILTERS, usual.filter),
        valve=water.word("valve", VALVES, usual.valve),
        timer=water.word("timer", TIMERS, usual.timer),
        emitters=_emitters(water),
        hose=water.number("hose", 0.5, 200.0, "l/min", usual.hose),
        pond=_pond(water),
        reducer=water.number("reducer", 0.0, 1000.0, "kPa (0 is none)", 0.0),
        programs=int(water.number("programs", 1.0, 52.0, "programs", usual.programs)),
        pump=_pump(water),
        first_flush=water.number("first_flush", 0.0, 10.0, "mm", 0.0),
    )
