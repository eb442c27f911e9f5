"""Faults that a reader of the tables found once, each held over all rows."""

import ast
import csv
import io
import re
from dataclasses import fields
from pathlib import Path

import pytest

import sowcal
from sowcal.crops import tables as records
from sowcal.crops.handbook import KILLING_OFFSETS, find_crops, handbook, is_given, read_tables
from sowcal.crops.sheet import basis_counts, deciding_counts, distinct_facts
from sowcal.crops.tables import crop_data, known, table_descriptions
from sowcal.errors import InputError
from sowcal.outputs.reports import basis_text

BOOK = handbook()
ROWS = read_tables()
CROPS = {r["crop"]: r for r in ROWS["crops"]}
TENDER, HARDY = ("tender", "very tender"), ("hardy", "half-hardy")


def cautions(crop):
    return " ".join(BOOK[crop].cautions)


@pytest.mark.parametrize("row", ROWS["garden"], ids=lambda r: r["crop"])
def test_only_what_is_sour_is_bottled(row):
    """Low-acid vegetables only in a pressure canner (Clemson, NC State, Ohio State and UC extension pages)."""
    if "bottled" in row["keeps"].split("|"):
        sour = CROPS[row["crop"]]["use"] == "fruit" or row["crop"].startswith(("tomato", "rhubarb"))
        assert sour
        assert row["crop"] not in ("melon", "watermelon")
        if row["crop"].startswith("tomato") or row["crop"] == "fig":
            assert "citric acid" in cautions(row["crop"])


@pytest.mark.parametrize("crop", ["french bean (bush)", "sweet corn", "okra", "pea (shelling)", "beetroot", "pumpkin"])
def test_what_was_offered_for_bottling_once_has_the_caution(crop):
    assert "botulism" in cautions(crop)


def test_ways_of_keeping_are_not_credited_to_tables_of_storage():
    storage = {"hb66-1954", "uw-storage", "vegetable-storage-factsheet", "iowa-storage-2017"}
    assert {r["keeps_source"] for r in ROWS["garden"]} & storage == set()
    assert {r["keeps_weeks_source"] for r in ROWS["garden"]} & storage


def test_no_cool_crop_bears_more_heat_than_a_warm_one():
    """Young plants of the warm season live through at least what those of the cool one do, and are checked later."""
    food = [c for c in BOOK.values() if c.life == "annual" and c.use != "flower" and known(c.heat.young_limit)]
    warm = [c for c in food if c.cold.frost_class == "very tender"]
    cool = [c for c in food if c.cold.frost_class in HARDY]
    assert len(warm) > 10
    assert len(cool) > 40
    assert min(c.heat.young_limit for c in warm) >= max(c.heat.young_limit for c in cool)
    assert min(c.heat.young_check for c in warm) > max(c.heat.young_check for c in cool)
    assert all(c.heat.young_check < c.heat.young_limit for c in food)
    both = [c for c in BOOK.values() if known(c.heat.young_check, c.heat.young_limit)]
    assert all(c.heat.young_check < c.heat.young_limit for c in both)


def test_a_field_study_of_a_species_stands_for_it():
    for crop in ("french bean (bush)", "french bean (climbing)"):
        (row,) = [r for r in ROWS["growth"] if r["crop"] == crop]
        assert (row["base_temperature"], row["upper_threshold"]) == (6.8, 24)  # central Portugal 1992-93, cv. Alcade
        assert row["base_source"] == row["upper_source"] == "portugal-bean-1992"


def test_small_garlic_bears_more_than_large():
    """Large tops die at 12 degF, small ones at 5 degF (P. Dawling, Alliums all year round, part three)."""
    rows = [r for r in ROWS["cold"] if r["crop"].startswith("garlic")]
    assert {(r["killing_young"], r["killing_grown"]) for r in rows} == {(-15.0, -11.0)}


@pytest.mark.parametrize("part", ["young", "grown", "picked_part", "flower"])
def test_every_killing_temperature_says_what_was_measured(part):
    column = f"killing_{part}"
    source = table_descriptions()["cold"].columns[column].source_column
    seen = set()
    for row in ROWS["cold"]:
        if not is_given(row[column]):
            assert row[f"{column}_measure"] == ""
            continue
        measure = row[f"{column}_measure"]
        seen.add(measure)
        if row[source].startswith("dawling"):
            assert measure == "dead, air", row["crop"]
        if row[source].startswith("frost-resistance"):
            assert measure == "range, tissue", row["crop"]
        assert getattr(BOOK[row["crop"]].cold, column) == row[column] + KILLING_OFFSETS[measure]
    assert seen <= set(KILLING_OFFSETS)
    assert KILLING_OFFSETS["half, tissue"] == 0 < KILLING_OFFSETS["dead, air"]


def test_half_a_formula_is_not_credited_to_its_source():
    for row in ROWS["growth"]:
        assert row["upper_source"] not in ("perry-wehner-1996", "zalom-wilson-1999"), row["crop"]
    for row in ROWS["flowering"]:
        for end in ("day_none_below", "day_none_above"):
            assert row[f"{end}_source"] != "purdue-tomato-set", (row["crop"], end)


@pytest.mark.parametrize("row", ROWS["emergence"], ids=lambda r: r["seed"])
def test_days_and_shares_of_emergence_do_not_contradict_each_other(row):
    """Below 5 seedlings in a hundred counts as nothing; where the tables part the days are left open."""
    for t in range(0, 45, 5):
        days, percent = row[f"days_{t}"], row[f"percent_{t}"]
        if days == days and percent == percent:
            comes_up = days < float("inf")
            assert comes_up or percent < 5, f"never at {t} degC, yet {percent:g} in a hundred"
            # 0 of the table of seedlings may mean that it was not tried between temperatures that were
            assert not comes_up or percent > 0 or row[f"percent_{min(t + 5, 40)}"] != 0, f"{days:g} days at {t} degC"


@pytest.mark.parametrize("crop", [c for c in BOOK.values() if c.life == "annual"], ids=lambda c: c.name)
def test_no_base_lies_above_the_least_mean_for_growth(crop):
    assert crop.growth.base_temperature <= crop.growth.range_minimum


@pytest.mark.parametrize("crop", [c for c in BOOK.values() if c.cold.frost_class], ids=lambda c: c.name)
def test_the_frost_class_agrees_with_the_young_plant(crop):
    """A light frost does not harm what is called hardy; what is called tender bears next to none."""
    least = {"hardy": (-40, -3.5), "half-hardy": (-40, -0.9), "tender": (-2.1, 6), "very tender": (-1.1, 6)}
    low, high = least[crop.cold.frost_class]
    assert low <= crop.cold.killing_young <= high


def test_a_class_is_credited_only_where_the_guide_names_the_crop():
    named = {r["crop"] for r in ROWS["cold"] if r["class_source"] == "lazaneo-ucce"}
    assert named & {"runner bean", "dry bean"} == set()


@pytest.mark.parametrize(
    ("word", "botanical"), [("mizuna", "Brassica rapa"), ("sweet bay", "Laurus nobilis"), ("sorrel", "Rumex acetosa")]
)
def test_names_mean_their_own_plant(word, botanical):
    assert {c.botanical_name for c in find_crops(BOOK, word)} == {botanical}


@pytest.mark.parametrize("row", [r for r in ROWS["renamed"] if r["kind"] == "name"], ids=lambda r: r["old"])
def test_a_name_of_another_plant_is_refused_with_the_new_word(row):
    with pytest.raises(InputError, match="no longer taken") as caught:
        find_crops(BOOK, row["old"])
    assert row["new"] in str(caught.value)


@pytest.mark.parametrize("name", sorted(set(table_descriptions()) - {"perennials", "chill", "blossom"}))
def test_no_two_quantities_share_a_source(name):
    """Series of one quantity by temperature have one source, and the two ends of a sort's chill, one printed figure.

    Of the three tables left out some groups still do.
    """
    series = {"portions_low": "portions", "portions_high": "portions"}  # most sorts have one number, told twice
    by_source = {}
    for column in table_descriptions()[name].columns.values():
        if column.source_column and not column.name.endswith(("_measure", "_method")):
            by_source.setdefault(column.source_column, set()).add(
                series.get(column.name, re.sub(r"_\d+$", "", column.name))
            )
    assert {source: columns for source, columns in by_source.items() if len(columns) > 1} == {}


READ_BY_NO_CODE = {  # columns that only people read
    "Chill": {"cultivars"},
    "Growth": {"base_method", "fraction_leafy", "stands_days"},
    "Way": {"stock_rule"},
}


def test_columns_that_no_code_reads_are_counted():
    used = set()
    for path in Path(sowcal.__file__).parent.rglob("*.py"):
        if path.parent.name != "crops":
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Attribute):
                    used.add(node.attr)
                elif isinstance(node, ast.Constant) and isinstance(node.value, str):
                    used.add(node.value)
    kinds = ["Way", "Growth", "Flowering", "Cold", "Heat", "Gates", "Perennial", "Chill", "Blossom", "Water", "Garden"]
    unread = {k: {f.name for f in fields(getattr(records, k))} - used for k in kinds}
    assert {k: names for k, names in unread.items() if names} == READ_BY_NO_CODE


def test_the_log_of_changes_ends_in_what_stands():
    texts = {t: (crop_data() / f"{t}.csv").read_text(encoding="utf-8") for t in {r["table"] for r in ROWS["changes"]}}
    raw = {table: list(csv.DictReader(io.StringIO(text))) for table, text in texts.items()}
    for row in ROWS["changes"]:
        crop, _, second = row["row"].partition(" / ")
        key = "seed" if row["table"] == "emergence" else "crop"
        of_many = "model" if row["table"] == "chill" else "way"  # a crop has several rows there
        found = [r for r in raw[row["table"]] if r[key] == crop and (not second or r[of_many] == second)]
        assert [r[row["field"]] for r in found] == [row["new"]], row
        assert row["old"] != row["new"], row
    assert len(ROWS["changes"]) > 500


def test_alternatives_name_fields_that_are_there():
    for row in ROWS["alternatives"]:
        assert row["field"] in table_descriptions()[row["table"]].columns, row


@pytest.mark.parametrize(
    "source", [s for s in BOOK.sources.values() if s.basis in ("published", "derived")], ids=lambda s: s.key
)
def test_what_was_read_can_be_found_again(source):
    assert source.strength
    assert source.title or source.remark
    assert source.address or source.read_in
    assert re.fullmatch(r"(\d{4})?", source.year)
    assert re.fullmatch(r"(10\.\d{4,}/\S+)?", source.doi)
    assert re.fullmatch(r"(\d{4}-\d\d-\d\d)?", source.accessed)


def test_what_is_recalled_claims_no_strength_of_a_paper():
    assert {s.strength for s in BOOK.sources.values() if s.basis in ("practice", "memory")} <= {""}


def test_days_of_cold_of_the_carrot_are_reckoned_from_the_paper():
    """Atherton, Craigon & Basher 1990: base -1, best 6.5, most 16 degC; first at 126 degC d, nine tenths at 336."""
    base, best, most, mean = -1.0, 6.5, 16.0, 10.0
    a_day = (best - base) * (most - mean) / (most - best)
    row = BOOK["carrot"].gates
    assert row.cold_days_low == 5 * round(126 / a_day / 5)
    assert row.cold_days_high == 5 * round(336 / a_day / 5)


def test_lentil_and_chickpea_are_sums_of_printed_stages():
    """McKenzie & Hill 1989, above 2 degC; phenology of chickpea in Canterbury, above 4 degC."""
    lentil, chickpea = BOOK["lentil"], BOOK["chickpea"]
    assert (lentil.ways[0].thermal_time_low, lentil.ways[0].thermal_time_high) == (509 + 565 + 293, 1165 + 565 + 293)
    assert lentil.flowering.fruit_thermal_time == 565 + 293
    assert lentil.growth.base_temperature == 2
    assert (chickpea.ways[0].thermal_time_low, chickpea.ways[0].thermal_time_high) == (447 + 761, 447 + 761 + 377)
    assert chickpea.growth.base_temperature == 4


def test_the_readme_prints_what_the_program_counts():
    text = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    counts = basis_text(basis_counts(BOOK), distinct_facts(BOOK), deciding_counts(BOOK))
    assert f"```\n{len(BOOK)} crop types\n\n{counts}\n```" in text


def test_every_caution_is_counted():
    assert basis_counts(BOOK)["cautions"].total() == len(ROWS["cautions"]) > 100


def test_what_decides_is_published_as_far_as_was_reached():
    """Numbers reached; they must not fall."""
    reached = {d.quantity: (d.published, d.citations) for d in deciding_counts(BOOK)}
    floors = {
        "base temperature": (35, 22),
        "heat limits": (19, 13),
        "thermal time to first picking": (3, 3),
        "limits of fruit set": (11, 12),
        "bolting": (10, 8),
    }
    for quantity, (types, citations) in floors.items():
        assert reached[quantity][0] >= types, quantity
        assert reached[quantity][1] >= citations, quantity
    facts, strong = distinct_facts(BOOK)
    assert facts > strong > 0.7 * facts
