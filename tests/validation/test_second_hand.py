"""The check of the handbook by a second hand: its arithmetic on invented rows, its table, and that it runs.

Invented: the crops, values and sources of the first part. No agreement is held here but that the two agree more than
a hand blind to the crop would, so that a value may be corrected; that each field keeps its pairs is held.
"""

import csv
import re
from collections import Counter
from types import SimpleNamespace

import pytest
import second_hand
from second_hand import FIRST_DAYS, TABLES, Pair

from sowcal.crops.handbook import handbook
from sowcal.crops.tables import crop_data, table_descriptions

LEAST = {  # pairs of a field, some below what there are
    **dict.fromkeys(("base_temperature", "upper_threshold", "killing_young", "killing_grown"), 55),
    **dict.fromkeys(("soil_minimum", "soil_maximum", "young_limit", "young_check", "filling_limit"), 50),
    **dict.fromkeys((*FIRST_DAYS, "thermal_time_low", "thermal_time_high"), 50),
    **dict.fromkeys((f for f, table in TABLES.items() if table == "flowering"), 18),
    **dict.fromkeys(("cold_warmest", "cold_days_low", "cold_days_high"), 15),
    "bolting_day_length": 10,
    "night_limit": 6,
    "bulbing_day_length": 4,
    "bulbing_thermal_time": 2,
    "starting_none_above": 2,
}


class InventedBook:
    """As much of a handbook as the comparison asks for: rows by table, and one source for all."""

    def __init__(self, **tables: list[dict]):
        self.tables = tables

    def rows(self, table: str, crop: str) -> list[dict]:
        return [r for r in self.tables.get(table, []) if r["crop"] == crop]

    def source_of(self, row: dict, table: object, column: str) -> SimpleNamespace:
        return SimpleNamespace(basis="published")


def given(crop: str, field: str, value: float, unit: str = "degC", kind: str = "", basis: str = "memory") -> dict:
    return {"crop": crop, "field": field, "kind": kind, "value": str(value), "unit": unit, "basis": basis}


def pair(crop: str, ours: float, second: float, unit: str = "degC", field: str = "base_temperature") -> Pair:
    return Pair(crop, field, "", ours, second, unit, "memory", "published")


@pytest.mark.parametrize(
    ("ours", "second", "unit", "agrees"),
    [
        (7, 5, "degC", True),
        (2.9, 5, "degC", False),
        (13, 12.5, "h", True),
        (13.1, 12.5, "h", False),
        (48, 60, "d", True),  # a fifth of the second hand's
        (47, 60, "d", False),
        (720, 600, "degC d", True),
        (721, 600, "degC d", False),
    ],
)
def test_what_is_within_tolerance(ours, second, unit, agrees):
    assert pair("bean", ours, second, unit).agrees is agrees


def test_share_blind_share_and_median():
    some = [pair("bean", 10, 10), pair("corn", 11, 14), pair("leek", 4, 5)]
    found = second_hand.agreement(some)
    assert found.pairs == 3
    assert found.within == pytest.approx(2 / 3)  # corn is 3 degC apart
    # bean's 10 meets corn's 11, not leek's 4; corn's 14 meets neither 10 nor 4; leek's 5 neither 10 nor 11
    assert found.blind == pytest.approx(1 / 6)
    assert found.difference == -1
    assert second_hand.agreement(some[:1]).blind is None
    assert second_hand.blind_share([*some, pair("leek", 40, 40, field="young_limit")]) == pytest.approx(1 / 6)


def test_a_crop_is_not_its_own_blind_match():
    twice = [pair("bean", 10, 10), pair("bean", 10, 11), pair("corn", 20, 20)]
    assert second_hand.agreement(twice).blind == 0


def test_groups_and_the_largest():
    some = [pair("leek", 4, 5), pair("corn", 11, 14), pair("bean", 8, 2), pair("okra", 40, 45, field="young_limit")]
    groups = second_hand.grouped(some, lambda p: p.field)
    assert {name: a.pairs for name, a in groups.items()} == {"base_temperature": 3, "young_limit": 1}
    assert [p.crop for p in second_hand.largest(some)] == ["bean", "okra", "corn"]  # 3, 2.5 and 1.5 tolerances
    assert [p.apart for p in second_hand.largest(some)] == [3, -2.5, -1.5]


def test_days_are_the_thermal_time_at_the_stated_mean():
    growth = [{"crop": "bean", "base_temperature": 10.0, "upper_threshold": 25.0}]
    ways = [
        {"crop": "bean", "way": w, "thermal_time_low": t} for w, t in (("set out", 300.0), ("sown outdoors", 600.0))
    ]
    book = InventedBook(growth=growth, ways=ways)
    rows = [
        given("bean", "mean_temperature", 22, kind="sown outdoors"),
        given("bean", "days_low", 40, "d", "sown outdoors"),
        given("bean", "thermal_time_low", 480, "degC d", "sown outdoors"),
        given("bean", "days_low", 40, "d", "set out"),  # no mean told of this way
    ]
    found = second_hand.pairs(book, rows)
    assert [(p.field, p.ours, p.second) for p in found] == [("days_low", 50, 40), ("thermal_time_low", 600, 480)]
    assert second_hand.days_at(600, 30, 10, 25) == 40  # no faster above the upper threshold
    assert second_hand.days_at(600, 10, 10, 25) is None


def test_killing_temperatures_meet_as_tissue_that_kills_half():
    row = {"crop": "kale", "killing_grown": -9.0, "killing_grown_measure": "dead, air", "killing_young": -6.0}
    book = InventedBook(cold=[row | {"killing_young_measure": "half, tissue"}])
    rows = [
        given("kale", "killing_grown", -8, kind="half, tissue"),
        given("kale", "killing_grown", -9, kind="dead, air", basis="published"),
        given("kale", "killing_young", -7, kind="dead, air"),
    ]
    assert [(p.ours, p.second) for p in second_hand.pairs(book, rows)] == [(-8, -8), (-8, -8), (-6, -6)]


def test_what_one_hand_leaves_empty_is_no_pair():
    growth = [{"crop": "bean", "base_temperature": float("nan"), "upper_threshold": "n/a"}]
    rows = [given(crop, field, 10) for crop in ("bean", "corn") for field in ("base_temperature", "upper_threshold")]
    assert second_hand.pairs(InventedBook(growth=growth), rows) == []


@pytest.fixture(scope="module")
def found() -> list[Pair]:
    return second_hand.pairs(handbook(), second_hand.second_rows())


def test_the_second_hands_table_hangs_together():
    rows, described, book = second_hand.second_rows(), table_descriptions(), handbook()
    assert len({r["crop"] for r in rows}) == 60
    assert {r["crop"] for r in rows} <= set(book)
    assert {r["field"] for r in rows} == {*TABLES, "mean_temperature"}
    assert max(Counter((r["crop"], r["field"], r["kind"], r["basis"]) for r in rows).values()) == 1
    for row in rows:
        assert row["basis"] in ("memory", "published"), row
        assert row["source"], row
        if row["basis"] == "published":
            assert re.search(r"[a-z]\.[a-z]{2,}|doi 10\.", row["source"]), row  # a page that can be gone back to
        if (field := row["field"]) not in ("mean_temperature", *FIRST_DAYS):
            assert row["unit"] == described[TABLES[field]].columns[field].unit, row
        measured = field.startswith("killing_")
        assert (row["kind"] in second_hand.KILLING_OFFSETS) is measured, row
        assert (row["kind"] in ("sown outdoors", "set out", "planted")) is (
            TABLES.get(field, "ways") == "ways"  # the stated mean too
        ), row


def test_ours_are_the_values_of_the_file(found):
    with open(crop_data() / "growth.csv", newline="", encoding="utf-8") as file:
        bases = {r["crop"]: r["base_temperature"] for r in csv.DictReader(file)}
    some = [p for p in found if p.field == "base_temperature"]
    assert {p.crop: p.ours for p in some} == {p.crop: float(bases[p.crop]) for p in some}


@pytest.mark.parametrize("field", TABLES)
def test_each_field_keeps_its_pairs(found, field):
    assert sum(p.field == field for p in found) >= LEAST[field]


def test_two_hands_agree_more_than_one_blind_to_the_crop(found):
    every = second_hand.agreement(found)
    assert every.blind < every.within < 1


def test_the_report_names_every_field_and_counts_every_pair(found):
    text = second_hand.report(found)
    counts = Counter((p.field, p.basis) for p in found)
    lines = {line.split("  ")[0].strip(): line for line in text.splitlines()}
    for (field, basis), pairs in counts.items():
        assert int(lines[f"{field}, {basis}"][34:40]) == pairs
    assert int(lines["all"][34:40]) == len(found) == sum(counts.values())
    listed = text.split("largest differences")[1].splitlines()[1:]
    assert len(listed) == min(second_hand.SHOWN, len(second_hand.largest(found)))
