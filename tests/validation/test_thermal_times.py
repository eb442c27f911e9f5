"""Thermal times reckoned from printed days to harvest: the arithmetic, the table, and what the handbook says."""

import csv
from pathlib import Path

import numpy as np
import pytest
import thermal_times as tt

from sowcal.crops.handbook import handbook, read_tables
from sowcal.seasons.site_days import SiteDays

BOOK = handbook()
ROWS = tt.printed_days()


def even_days(temperature: float, years: int = 3) -> SiteDays:
    """Invented: every day alike, and more light than any crop needs."""
    t = np.full(365 * years, temperature)
    return SiteDays(t, t, np.datetime64("2001-01-01"), 40.0, measured_light=np.full(t.size, 40.0))


def pepper_of(days: int, temperature: float) -> np.ndarray:
    crop = BOOK["sweet pepper (blocky)"]
    return tt.sums(even_days(temperature), crop, crop.ways[0], "05-01", days)


@pytest.mark.parametrize(("temperature", "a_day"), [(20.0, 10.0), (30.0, 20.0), (38.0, 20.0), (9.0, 0.0)])
def test_what_is_set_out_counts_from_its_first_day(temperature, a_day):
    """Peppers grow above 10 degC and no faster above 30, as the handbook has it."""
    assert pepper_of(60, temperature) == pytest.approx(np.full(3, 60 * a_day))


def test_what_is_sown_counts_from_coming_up():
    """Radish comes up in 4 days at 20 degC (Harrington & Minges 1954)."""
    crop = BOOK["radish"]
    (way,) = crop.ways
    clock = tt.sums(even_days(16.0), crop, way, "03-01", 30)
    a_day = 16.0 - crop.growth.base_temperature
    assert clock.min() == clock.max()
    assert 30 - clock[0] / a_day == pytest.approx(6, abs=1)  # 6 days at 15 degC, 4 at 20


def test_a_season_that_the_record_does_not_hold_is_left_out():
    assert pepper_of(300, 20.0).size == 2
    whole = even_days(20.0)
    gap = (whole.dates > np.datetime64("2002-05-10")) & (whole.dates < np.datetime64("2002-05-20"))
    t = np.where(gap, np.nan, 20.0)
    days = SiteDays(t, t, whole.dates[0], 40.0)
    crop = BOOK["sweet pepper (blocky)"]
    assert tt.sums(days, crop, crop.ways[0], "05-01", 60).size == 2


def test_a_row_gives_its_quartiles_and_a_crop_the_mean_of_its_rows():
    row = {"crop": "chilli", "way": "set out", "stations": "cool warm", "starts": "05-01", "days_low": "50"}
    row["days_high"] = "70"
    sites = {"cool": even_days(20.0, 5), "warm": even_days(30.0, 5)}
    found = tt.derive([row, row | {"stations": "warm"}], BOOK, sites.__getitem__)
    # of the first row 5 years of 500 and 5 of 1000 at 50 days, 700 and 1400 at 70; of the second 1000 and 1400
    assert found == {("chilli", "set out"): tt.Derived((500 + 1000) / 2, 1400, 2)}


def column_rows(path: Path) -> list[dict[str, str]]:
    with open(path, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_the_table_of_printed_days_hangs_together():
    judges = {r["citation"] for r in column_rows(tt.DAYS.with_name("planting_date_trials.csv"))}
    for row in ROWS:
        assert row["way"] in {w.way for w in BOOK[row["crop"]].ways}, row
        assert 0 < int(row["days_low"]) <= int(row["days_high"]) < 300, row
        assert all(np.datetime64(f"2001-{start}") for start in row["starts"].split()), row
        assert row["as_told"], row
        assert row["where_read"], row
        assert ("no place told" in row["place"]) == (not row["km"]), row  # a region, or a place and its distance
        assert not row["km"] or int(row["km"]) <= 100, row
        assert row["citation"] not in judges, row
        assert "Vegetable Production Series" not in row["citation"], row  # its windows judge the program
    assert len({r["crop"] for r in ROWS}) > 40


@pytest.fixture(scope="module")
def found(reference_folder) -> dict[tuple[str, str], tt.Derived]:
    return tt.derive(ROWS, BOOK, tt.record_days(reference_folder))


def test_what_the_handbook_calls_reckoned_is_reckoned(found):
    """Each range whose source is one of printed days has a middle within reach of the days, and no other has."""
    ways = {(r["crop"], r["way"]): r for r in read_tables()["ways"]}
    said = {k for k, r in ways.items() if r["thermal_time_low_source"].startswith("days-")}
    assert said == {k for k, one in found.items() if tt.agrees(one, tt.handbooks_middle(BOOK, *k))}
    assert len({crop for crop, _ in said}) >= 17


def test_alternatives_print_what_is_reckoned(found):
    printed = {
        (r["crop"], r["value"])
        for r in read_tables()["alternatives"]
        if r["field"] == "thermal_time_low" and r["source"].startswith("days-")
    }
    assert printed == {(crop, f"{one.low:.0f} to {one.high:.0f} degC d") for (crop, _), one in found.items()}


def test_the_report_tells_every_crop(found):
    text = tt.report(found, BOOK)
    assert all(f"{crop}, {way}" in text for crop, way in found)
    assert text.count("  apart") == sum(not tt.agrees(o, tt.handbooks_middle(BOOK, *k)) for k, o in found.items())
