"""The handbook holds together: schema, classes, keys and the order of its numbers."""

import json
from dataclasses import fields

import pytest

from sowcal.crops import tables as records
from sowcal.crops.handbook import handbook, is_given, read_rows, read_tables
from sowcal.crops.tables import crop_data, known, table_descriptions
from sowcal.errors import InputError

BOOK = handbook()
CLASSES = {
    "ways": records.Way,
    "germination": records.Germination,
    "growth": records.Growth,
    "flowering": records.Flowering,
    "cold": records.Cold,
    "heat": records.Heat,
    "gates": records.Gates,
    "perennials": records.Perennial,
    "chill": records.Chill,
    "sorts": records.Sort,
    "blossom": records.Blossom,
    "water": records.Water,
    "garden": records.Garden,
}


def test_frictionless_finds_nothing_wrong():
    """The tables against their own description, by the reference library of the standard."""
    frictionless = pytest.importorskip("frictionless")
    report = frictionless.validate(str(crop_data() / "datapackage.json"))
    assert report.valid, report.flatten(["rowNumber", "fieldName", "note"])[:10]


@pytest.mark.parametrize("name", sorted(CLASSES))
def test_classes_and_schema_name_the_same_columns(name):
    table = table_descriptions()[name]
    columns = {c for c in table.columns if c not in table.source_columns and not c.endswith("_measure")} - {"crop"}
    assert {f.name for f in fields(CLASSES[name])} == columns


def test_every_value_has_a_source_and_every_source_is_used():
    used = set()
    for name, table in table_descriptions().items():
        for row in BOOK.rows(name):
            for column in table.value_columns:
                value = row.get(column.name, "")
                if not is_given(value) or not column.source_column:
                    continue
                key = row.get(column.source_column)
                assert key, f"{name}: {row.get('crop')}: {column.name} names no source"
                assert key in BOOK.sources, f"{name}: {row.get('crop')}: {key} is not in sources.csv"
            used |= {row[c] for c in table.source_columns if row.get(c)}
    assert set(BOOK.sources) - used <= {"practice", "memory"}


@pytest.mark.parametrize("crop", BOOK.values(), ids=lambda c: c.name)
def test_order_of_temperatures(crop):
    def rising(*values):
        given = [v for v in values if known(v)]
        assert given == sorted(given), (crop.name, values)

    g, c, s = crop.growth, crop.cold, crop.gates
    rising(g.base_temperature, g.upper_threshold)
    rising(g.range_minimum, g.range_optimum_low, g.range_optimum_high, g.range_maximum)
    k = crop.germination
    rising(k.soil_minimum, k.soil_optimum_low, k.soil_optimum_high, k.soil_maximum)
    rising(s.starting_none_below, s.starting_best_low, s.starting_best_high, s.starting_none_above)
    rising(s.cold_days_low, s.cold_days_high)
    if f := crop.flowering:
        rising(f.day_none_below, f.day_full_above, f.day_full_below, f.day_none_above)
        rising(f.night_none_below, f.night_full_above, f.night_full_below, f.night_none_above)
    rising(c.killing_grown, c.chilling_temperature)
    rising(c.killing_young, c.chilling_temperature)
    if b := crop.blossom:
        rising(b.kill_90_bud, b.kill_10_bud)
        rising(b.kill_90_bloom, b.kill_10_bloom)
        rising(b.kill_90_fruitlet, b.kill_10_fruitlet)
        rising(b.days_to_harvest_low, b.days_to_harvest_high)
    if p := crop.perennial:
        rising(p.killing_dormant, p.killing_growing)
        rising(p.killing_dormant, p.killing_top)
        rising(p.winter_mean_best, p.winter_mean_most)
        rising(p.summer_mean_least, p.summer_mean_best, p.summer_mean_most)
        rising(p.heat_stops, p.heat_kills)
    for way in crop.ways:
        rising(way.thermal_time_low, way.thermal_time_high)
        rising(way.nursery_weeks_least, way.nursery_weeks_most)
    for need in crop.chill:
        rising(need.need_low, need.need_high)
        rising(need.judged_low, need.judged_high)


@pytest.mark.parametrize("crop", [c for c in BOOK.values() if c.life == "annual"], ids=lambda c: c.name)
def test_annuals_can_be_walked_through_a_season(crop):
    g = crop.growth
    assert crop.ways
    assert known(g.base_temperature, g.upper_threshold)
    assert g.habit in ("once", "leaf", "flowering")
    assert (g.habit == "flowering") == (crop.flowering is not None)
    if known(g.fraction_establishing, g.fraction_leafy, g.fraction_filling):
        assert g.fraction_establishing + g.fraction_leafy + g.fraction_filling == pytest.approx(1, abs=0.011)
    for way in crop.ways:
        assert known(way.thermal_time_low, way.thermal_time_high), way.way
        if crop.flowering:
            assert crop.flowering.fruit_thermal_time < 0.5 * (way.thermal_time_low + way.thermal_time_high)


def test_every_perennial_has_its_row():
    assert {c.name for c in BOOK.values() if c.life == "perennial"} == {
        c.name for c in BOOK.values() if c.perennial is not None
    }


def test_every_seed_row_is_used():
    assert {r["seed"] for r in BOOK.rows("emergence")} >= {
        r["emerges_like"] for r in BOOK.rows("germination") if is_given(r["emerges_like"])
    }


def test_breadth():
    """At least 120 crop types, among them those that the climate parts into types."""
    assert len(BOOK) >= 120
    for name in (
        "tomato (large)",
        "tomato (cherry)",
        "potato (early)",
        "potato (autumn)",
        "onion (short-day)",
        "garlic (hardneck)",
        "peach (low-chill)",
        "strawberry (day-neutral)",
        "rhubarb",
    ):
        assert name in BOOK


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("crop,killing_yung\nkale,-10\n", "did you mean 'killing_young'"),
        ("crop,killing_young\nkale,-10 C\n", "line 2, column killing_young: '-10 C' is not a number"),
        ("crop,killing_young\nkale,-100\n", "outside what is allowed (-40 to 6 degC)"),
        ("crop,killing_young\nkale,-10\nkale,-9\n", "stands already in line 2"),
        ("crop,killing_young\nkale\n", "1 cell where the header has 2"),
        ("killing_young\n-5\n", "column 'crop' is missing"),
        ("crop,frost_class\nkale,tough\n", "is not one of: hardy"),
    ],
)
def test_a_bad_row_says_what_where_and_what_is_allowed(text, says):
    with pytest.raises(InputError, match=r"my\.csv") as caught:
        read_rows(text, table_descriptions()["cold"], "my.csv")
    assert says in str(caught.value)


def test_tables_are_plain_utf8_without_carriage_returns():
    package = json.loads((crop_data() / "datapackage.json").read_text(encoding="utf-8"))
    for resource in package["resources"]:
        raw = (crop_data() / resource["path"]).read_bytes()
        assert b"\r" not in raw, resource["path"]
        raw.decode("utf-8")
    assert set(read_tables()) == {r["name"] for r in package["resources"]}
