"""Planting months and seasons from published guides: the tables beside this file hang together.

`other_guides.csv` holds months from guides of places with a real station record, `uc_seasons.csv` planting windows
told by leaflets of the University of California and the like, `other_guides_sources.csv` where each was read. A crop
is a name of the handbook, or that name without its type where the guide does not tell the type. A month belongs to
a guide's list only where `months_covered` has it; where `list` says `examples`, a crop that is absent means nothing.
In `uc_seasons.csv` early, middle and late in a month stand for its first ten days, its 15th, and the 21st on.
"""

import csv
from datetime import date
from pathlib import Path

import pytest

FOLDER = Path(__file__).parent
HANDBOOK = FOLDER.parents[1] / "crop_data" / "crops.csv"
WAYS = {
    "seed",
    "direct",
    "transplant",
    "direct or transplant",
    "cloves",
    "sets",
    "seed tubers",
    "crowns",
    "offsets",
    "start under cover",
    "seedbed",
}
REGIONS = {"interior": "five_points_ca", "south coast": "san_diego_ca"}


def table(path: Path) -> list[dict[str, str]]:
    """The rows of a table; a row with too many or too few cells is a fault of the table."""
    with open(path, newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file, strict=True))
    assert rows
    assert not [r for r in rows if None in r or None in r.values()]
    return rows


def months(text: str) -> list[int]:
    """Months as in the table of planting months: numbers with a blank between, rising."""
    numbers = [int(m) for m in text.split()]
    assert numbers == sorted(set(numbers))
    assert set(numbers) <= set(range(1, 13))
    return numbers


@pytest.fixture(scope="module")
def crops() -> set[str]:
    names = {row["crop"] for row in table(HANDBOOK)}
    return names | {name.split(" (")[0] for name in names}


@pytest.fixture(scope="module")
def sources() -> dict[str, dict[str, str]]:
    rows = table(FOLDER / "other_guides_sources.csv")
    keyed = {row["guide"]: row for row in rows}
    assert len(keyed) == len(rows)
    return keyed


@pytest.fixture(scope="module")
def guide_rows() -> list[dict[str, str]]:
    return table(FOLDER / "other_guides.csv")


@pytest.fixture(scope="module")
def seasons() -> list[dict[str, str]]:
    return table(FOLDER / "uc_seasons.csv")


def test_crops_are_in_the_handbook(guide_rows, seasons, crops):
    assert sorted({r["crop"] for r in [*guide_rows, *seasons]} - crops) == []


def test_ways_are_known_and_rows_are_told_once(guide_rows, seasons):
    assert {r["way_of_starting"] for r in guide_rows} | {r["way"] for r in seasons} <= WAYS
    keys = [(r["guide"], r["station"], r["crop"], r["way_of_starting"]) for r in guide_rows]
    assert len(keys) == len(set(keys))


def test_months_can_be_read(guide_rows):
    assert all(months(r["months"]) for r in guide_rows)


def test_every_guide_has_a_source_and_every_source_is_used(guide_rows, seasons, sources):
    used = {r["guide"] for r in guide_rows} | {r["source"] for r in seasons}
    assert used == set(sources)
    for row in sources.values():
        assert row["title"]
        assert row["author_publisher"]
        assert row["address"].startswith("http")
        assert row["read"] in {"full", "excerpt"}
        assert row["list"] in {"whole", "examples"}


def test_every_covered_month_of_a_guide_names_a_crop(guide_rows, sources):
    for guide in {r["guide"] for r in guide_rows}:
        told = {m for r in guide_rows if r["guide"] == guide for m in months(r["months"])}
        covered = set(months(sources[guide]["months_covered"]))
        assert covered
        if guide == "UCCE-SANDIEGO":  # warm-season crops of a whole year: no month of winter has any
            assert covered == set(range(1, 13))
        else:
            assert covered <= told, guide


def test_seasons_are_dates_of_a_known_region(seasons):
    for row in seasons:
        for end in ("first", "last"):
            date(2001, *map(int, row[end].split("-")))
        assert row["station"] == REGIONS[row["region"]]


def test_stations_have_records(guide_rows, seasons, reference_folder):
    known = {r["station"] for r in table(reference_folder / "weather" / "stations.csv")}
    assert sorted({r["station"] for r in [*guide_rows, *seasons]} - known) == []
