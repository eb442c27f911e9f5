"""The handbook's tables, read against their own description into typed, immutable records.

``crop_data/datapackage.json`` (Frictionless Data) is the one place that says which columns a table has, of which type,
unit and bounds, and which column names the source of a value; a test holds the fields here and the columns there
together. A number that is not known is NaN, a word that is not known is ''. What can have no value
(the nursery weeks of what is sown outdoors) stands as `n/a` in the tables and in the rows read, NaN or '' in records.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from math import isnan, nan
from pathlib import Path
from typing import Any

from sowcal.errors import InputError

__all__ = [
    "NOT_APPLICABLE",
    "Blossom",
    "Chill",
    "Cold",
    "Column",
    "Crop",
    "Emergence",
    "Flowering",
    "Garden",
    "Gates",
    "Germination",
    "Growth",
    "Heat",
    "Perennial",
    "Sort",
    "Source",
    "Table",
    "Water",
    "Way",
    "cell_value",
    "crop_data",
    "known",
    "rows_by_crop",
    "table_descriptions",
]


NOT_APPLICABLE = "n/a"


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


def cell_value(text: str, column: Column, where: str, line: int) -> float | str:
    """What a cell of a column says; `InputError` for what may not stand there."""
    text = text.strip()
    if not text:
        if column.required:
            raise InputError("this must not be empty", where=where, line=line, column=column.name)
        return nan if column.number else ""
    if text == NOT_APPLICABLE and not column.required:
        return text
    if column.number:
        return _number(text, column, where, line)
    if column.words and text not in column.words:
        raise InputError(
            f"{text!r} is not one of: {', '.join(column.words)}", where=where, line=line, column=column.name
        )
    return text


def rows_by_crop(rows: Iterable[dict[str, Any]]) -> dict[str, list[dict[str, Any]]]:
    """Rows of one table by the crop that they tell of."""
    out: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for row in rows:
        if "crop" in row:
            out[row["crop"]].append(row)
    return out


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


def known(*values: float) -> bool:
    """Whether the handbook has all these numbers (an unknown one is NaN)."""
    return not any(map(isnan, values))


@dataclass(frozen=True, slots=True)
class Way:
    """One row a crop type and way of starting it: how it is begun and how long it then takes."""

    way: str = ""
    stock: str = ""
    depth: float = nan
    nursery_weeks_least: float = nan
    nursery_weeks_most: float = nan
    nursery_heat: str = ""
    nursery_thermal_time: float = nan
    thermal_time_low: float = nan
    thermal_time_high: float = nan
    stock_rule: str = ""
    stock_rest_days: float = nan


@dataclass(frozen=True, slots=True)
class Germination:
    """Seed and sprouting temperatures in the soil."""

    soil_minimum: float = nan
    soil_optimum_low: float = nan
    soil_optimum_high: float = nan
    soil_maximum: float = nan
    emerges_like: str = ""
    base_temperature: float = nan
    thermal_time: float = nan


@dataclass(frozen=True, slots=True)
class Emergence:
    """Days to emergence and share of normal seedlings by constant soil temperature."""

    seed: str = ""
    temperatures: tuple[float, ...] = ()  # degC
    days: tuple[float, ...] = ()  # inf where nothing comes up, NaN where not tried
    percent: tuple[float, ...] = ()  # NaN where not tried


@dataclass(frozen=True, slots=True)
class Growth:
    """Temperature and growth of annual crops."""

    base_temperature: float = nan
    base_method: str = ""
    upper_threshold: float = nan
    range_minimum: float = nan
    range_optimum_low: float = nan
    range_optimum_high: float = nan
    range_maximum: float = nan
    habit: str = ""
    fraction_establishing: float = nan
    fraction_leafy: float = nan
    fraction_filling: float = nan
    picking_days_low: float = nan
    picking_days_high: float = nan
    stands_days: float = nan
    days_most: float = nan
    light_need: float = nan


@dataclass(frozen=True, slots=True)
class Flowering:
    """Crops that are picked from flush after flush of flowers, fruits or pods."""

    fruit_thermal_time: float = nan
    flowering_thermal_time: float = nan
    aging_thermal_time: float = nan
    day_none_below: float = nan
    day_full_above: float = nan
    day_full_below: float = nan
    day_none_above: float = nan
    night_none_below: float = nan
    night_full_above: float = nan
    night_full_below: float = nan
    night_none_above: float = nan
    flower_days: float = nan


@dataclass(frozen=True, slots=True)
class Cold:
    """Frost and chilling; temperatures of tissue that kill half, whatever the table's figures were measured as."""

    frost_class: str = ""
    killing_young: float = nan
    killing_grown: float = nan
    killing_picked_part: float = nan
    killing_flower: float = nan
    chilling_temperature: float = nan
    chilling_days_half: float = nan


@dataclass(frozen=True, slots=True)
class Heat:
    """Heat and warm nights, by stage."""

    young_limit: float = nan
    young_days_half: float = nan
    young_check: float = nan
    young_check_days_half: float = nan
    filling_limit: float = nan
    filling_share_half: float = nan
    night_limit: float = nan
    night_share_half: float = nan


@dataclass(frozen=True, slots=True)
class Gates:
    """Day length, cold that vernalizes, and what starts heads, curds, bulbs and tubers."""

    bulbing_day_length: float = nan
    bulbing_thermal_time: float = nan
    full_size_thermal_time: float = nan
    juvenile_thermal_time: float = nan
    cold_effect: str = ""
    cold_warmest: float = nan
    cold_days_low: float = nan
    cold_days_high: float = nan
    share_without_cold: float = nan
    bolting_day_length: float = nan
    bolting_thermal_time: float = nan
    starting_none_below: float = nan
    starting_best_low: float = nan
    starting_best_high: float = nan
    starting_none_above: float = nan


@dataclass(frozen=True, slots=True)
class Perennial:
    """Perennials: life, hardiness, heat, picking season."""

    years_to_crop: float = nan
    years_of_life: float = nan
    killing_dormant: float = nan
    killing_growing: float = nan
    killing_top: float = nan
    killing_fruit: float = nan
    fruit_loss: float = nan
    winter_mean_best: float = nan
    winter_mean_most: float = nan
    summer_mean_least: float = nan
    heat_sum_least: float = nan
    heat_sum_best: float = nan
    summer_mean_best: float = nan
    summer_mean_most: float = nan
    heat_stops: float = nan
    heat_kills: float = nan
    heat_kill_days: float = nan
    base_temperature: float = nan
    upper_threshold: float = nan
    budburst_thermal_time: float = nan
    picking_thermal_time: float = nan
    picking_days: float = nan
    autumn_mean: float = nan
    autumn_day_length: float = nan
    picked_when: str = ""
    summer_rest: str = ""
    winter_annual: str = ""
    habit: str = ""


@dataclass(frozen=True, slots=True)
class Chill:
    """Winter chill that a perennial needs, in the model in which it was published."""

    model: str = ""
    need_low: float = nan
    need_high: float = nan
    judged_low: float = nan
    judged_high: float = nan
    cultivars: str = ""
    used: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class Sort:
    """One sort of a perennial with its chill in portions of the dynamic model."""

    sort: str = ""
    portions_low: float = nan
    portions_high: float = nan


@dataclass(frozen=True, slots=True)
class Blossom:
    """From chill to bloom to picking, and the frost that blossom bears."""

    heat_to_bloom: float = nan
    bloom_days: float = nan
    kill_10_bud: float = nan
    kill_90_bud: float = nan
    kill_10_bloom: float = nan
    kill_90_bloom: float = nan
    kill_10_fruitlet: float = nan
    kill_90_fruitlet: float = nan
    wet_spring_loss: float = nan
    days_to_harvest_low: float = nan
    days_to_harvest_high: float = nan


@dataclass(frozen=True, slots=True)
class Water:
    """Crop coefficients single and basal, stage lengths, rooting depth (FAO-56), yield response to water (FAO-33)."""

    coefficient_initial: float = nan
    coefficient_mid: float = nan
    coefficient_end: float = nan
    height: float = nan
    days_initial: float = nan
    days_development: float = nan
    days_mid: float = nan
    days_late: float = nan
    rooting_depth_low: float = nan
    rooting_depth_high: float = nan
    depletion_fraction: float = nan
    yield_response: float = nan
    basal_initial: float = nan
    basal_mid: float = nan
    basal_end: float = nan


@dataclass(frozen=True, slots=True)
class Garden:
    """Spacing, yield, use, keeping, rotation, and what holds the crop up (`reach` of vines in m)."""

    row_spacing: float = nan
    plant_spacing: float = nan
    yield_per_plant_low: float = nan
    yield_per_plant_high: float = nan
    yield_per_area_low: float = nan
    yield_per_area_high: float = nan
    use_low: float = nan
    use_high: float = nan
    keeps: str = ""
    keeps_weeks: float = nan
    gap_years: float = nan
    not_after: str = ""
    household: str = ""
    support: str = ""
    reach: float = nan


@dataclass(frozen=True, slots=True)
class Source:
    """One row of the bibliography; ``basis`` is published, derived, practice, memory or grower's own."""

    key: str
    basis: str
    citation: str
    authors: str = ""
    year: str = ""
    title: str = ""
    container: str = ""
    volume: str = ""
    pages: str = ""
    doi: str = ""
    address: str = ""
    accessed: str = ""
    strength: str = ""
    read_in: str = ""
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Crop:
    """All that the handbook knows of one crop type."""

    name: str
    botanical_name: str = ""
    family: str = ""
    life: str = ""
    use: str = ""
    part: str = ""
    synonyms: tuple[str, ...] = ()
    ways: tuple[Way, ...] = ()
    germination: Germination = Germination()
    emergence: Emergence | None = None
    growth: Growth = Growth()
    flowering: Flowering | None = None
    cold: Cold = Cold()
    heat: Heat = Heat()
    gates: Gates = Gates()
    perennial: Perennial | None = None
    chill: tuple[Chill, ...] = ()
    chill_end: float = 0.5  # where it is judged between the kind end (0) and the harsh end (1) of its chill
    blossom: Blossom | None = None
    water: Water = Water()
    garden: Garden = Garden()
    cautions: tuple[str, ...] = ()
    note: str = ""

    @property
    def kind(self) -> str:
        """The crop without its type: 'tomato' of 'tomato (cherry)'."""
        return self.name.split(" (")[0]
