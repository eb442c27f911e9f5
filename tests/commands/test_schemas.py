"""Every answer with `--json` has the form that the schemas beside the program describe, and only that form.

The answers are read by `jsonschema`, which knows nothing of this program. That the schemas can fail is shown on the
answers themselves: a key of another name, another word, a date that is none, a share above 1, and so on.
"""

from __future__ import annotations

import contextlib
import copy
import io
import json
import os
import re
import sys
from collections.abc import Iterator
from functools import cache, reduce
from operator import getitem
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from jsonschema import Draft202012Validator

import sowcal
from sowcal.__main__ import main
from sowcal.commands.parser import parse
from sowcal.commands.weather import ACTIONS
from sowcal.crops.tables import table_descriptions
from sowcal.grids.cells import CLASSES, LIMITS, WAYS
from sowcal.outputs.json_form import schema_names
from sowcal.season_log import EVENTS
from sowcal.suitability.results import STAGES
from sowcal.suitability.week import CHANCES, JOBS
from sowcal.weather.quality import KINDS

sys.path.insert(0, str(Path(__file__).parents[1] / "hard"))
from answers_kept import invented_record, real_site

# charts, ratings and weeks of the whole handbook rest on the same answers
pytestmark = pytest.mark.usefixtures("answers_kept_between_tests")

SOME = ["tomato (large)", "broad bean", "garlic (hardneck)", "lettuce (head)", "rhubarb", "olive"]
DRY = ["tomato (large)", "rhubarb", "olive"]  # what would lift a verdict on little water is long to work out
WEEK = ["--date", "2026-03-16"]
REAL = ("seville", "perth", "de_bilt")

PLACE = {  # questions to any place
    "climate": ["climate", "PLACE"],
    "climate of some years": ["climate", "PLACE", "--years", "4"],
    "chart": ["chart", "PLACE", "--all"],
    "chart of some years": ["chart", "PLACE", *SOME, "--years", "6"],
    "chart on rain": ["chart", "PLACE", *SOME, "--rain-fed"],
    "chart on little water": ["chart", "PLACE", *SOME, "--most-water", "120"],
    "chart with changes": ["chart", "PLACE", *SOME, "--with", "mulch", "--with", "warmer@6-8=2"],
    "chart, strict": ["chart", "PLACE", *SOME, "--reliability", "0.95", "--least-yield", "0.7", "--longest", "2"],
    "rate": ["rate", "PLACE", "--all"],
    "rate some": ["rate", "PLACE", *SOME, "cherry", "lemon", "globe artichoke"],
    "rate on rain": ["rate", "PLACE", *DRY, "--rain-fed"],
    "rate on little water": ["rate", "PLACE", *DRY, "--most-water", "60"],
    "rate on two years": ["rate", "PLACE", *SOME, "--years", "2"],
    "week": ["week", "PLACE", "--all", *WEEK],
    "week, weeks ahead": ["week", "PLACE", *SOME, *WEEK, "--ahead", "8"],
    "compare with itself": ["compare", "PLACE", *SOME, "--with", "warmer=2"],
    "weather check": ["weather", "check", "PLACE"],
    "weather trend": ["weather", "trend", "PLACE"],
}
ALONE = {
    "compare": ["compare", "wrackhythe", "sallowdene", "--all"],
    "garden": ["garden"],
    "garden, some years": ["garden", "--years", "5"],
    "crops": ["crops"],
    "crops, one": ["crops", "zucchini"],
    "crops --basis": ["crops", "--basis"],
    "here, nothing said": ["here"],
    "mine, nothing said": ["mine"],
    "log, nothing in it": ["log"],
    "season, nothing sown": ["season"],
}
OF_REAL = ["climate", "chart", "rate", "rate some", "rate on two years", "weather check", "weather trend"]
PLACES = ["wrackhythe", "sallowdene", "a record with gaps", *REAL]


def asked(*words: str) -> Any:
    """What a call with `--json` gives."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        assert main([*words, "--json"]) == 0
    return json.loads(out.getvalue())


@cache
def validator(command: str) -> Draft202012Validator:
    return Draft202012Validator(sowcal.schema(command))


def of(words: list[str]) -> str:
    """Name of the schema of a call."""
    if words[0] == "weather":
        return " ".join(words[:2])
    if "--leaflet" in words:
        return "compare --leaflet"
    return "crops --basis" if "--basis" in words else words[0]


def faults(command: str, answer: Any) -> list[str]:
    """What is not as described, each with its place in the answer."""
    return [f"{e.json_path}: {e.message[:200]}" for e in validator(command).iter_errors(answer)]


@pytest.fixture(scope="module")
def places(tmp_path_factory):
    folder = tmp_path_factory.mktemp("records")
    found = {name: name for name in PLACES[:2]} | {PLACES[2]: str(invented_record(folder))}
    if os.environ.get("SOWCAL_REFERENCE"):
        found |= {name: str(real_site(folder, name)) for name in REAL}
    return found


@pytest.mark.parametrize(
    ("place", "question"),
    [(place, question) for place in PLACES for question in PLACE if place not in REAL or question in OF_REAL],
)
def test_answers_have_the_form_described(places, place, question):
    if place not in places:
        pytest.skip("SOWCAL_REFERENCE is not set: it names the folder of station records")
    words = [places[place] if w == "PLACE" else w for w in PLACE[question]]
    assert faults(of(words), asked(*words)) == []


@pytest.mark.parametrize("question", ALONE)
def test_answers_about_no_one_place_have_the_form_described(question):
    assert faults(of(ALONE[question]), asked(*ALONE[question])) == []


def rows(path: Path, days: np.ndarray, low: np.ndarray, high: np.ndarray) -> None:
    lines = [f"{d},{a:.1f},{b:.1f}" for d, a, b in zip(days, low, high, strict=True)]
    path.write_text("\n".join(["date,tmin_degC,tmax_degC", *lines]) + "\n", encoding="utf-8")


SOWN = """date,event,crop,sort,bed,plants,amount,note
2015-03-01,sown outdoors,carrot,an invented sort,1,,,
2015-06-25,first picked,carrot,,,,1.5,
2015-08-01,cleared,carrot,,,,,
2016-02-20,sown under cover,tomato (large),,,12,,
2016-03-01,sown outdoors,carrot,an invented sort,1,200,,in rows
2016-03-20,came up,carrot,,,,,
2016-03-30,sown outdoors,french bean (bush),,2,,,
2016-04-28,lost,french bean (bush),,,,,
2016-04-10,set out,courgette,,3,4,,bought
2016-05-01,watered,,,3,,40,
2016-05-02,tank,,,,,300,
2016-05-03,eaten,carrot,,,,,
"""
IN_MAY = ["--date", "2016-05-10", "--years", "8"]


@pytest.fixture(scope="module")
def own_thermometer(tmp_path_factory):
    """A site file of twelve invented years beside sixty days of readings on the plot."""
    folder = tmp_path_factory.mktemp("own")
    days = np.arange("2005-01-01", "2017-01-01", dtype="datetime64[D]")
    rng = np.random.default_rng(5)
    low = 9 - 6 * np.cos(2 * np.pi * (np.arange(days.size) - 25) / 365.25) + rng.normal(0, 2.5, days.size)
    high = low + 10 + rng.normal(0, 1, days.size)
    rows(folder / "station.csv", days, low, high)
    rows(folder / "own.csv", days[-60:], low[-60:] - 2 + rng.normal(0, 1, 60), high[-60:] + 0.5)
    head = (
        'name = "Ness"\nlatitude = 38.0\n[weather]\nsource = "file"\nfile = "station.csv"\ntemperature_unit = "degC"\n'
    )
    plot = '[plot]\nown_readings = "own.csv"\ntemperature_unit = "degC"\nchanges = ["higher=60"]\n'
    (folder / "ness.toml").write_text(head, encoding="utf-8")
    (folder / "plot.toml").write_text(head + plot, encoding="utf-8")
    (folder / "sown.toml").write_text(head, encoding="utf-8")
    (folder / "sown.log.csv").write_text(SOWN, encoding="utf-8")
    return folder


@pytest.mark.parametrize("command", ["chart", "rate", "climate", "week"])
def test_answers_within_the_error_of_a_thermometer(own_thermometer, command):
    crops = [] if command == "climate" else SOME
    answer = asked(command, str(own_thermometer / "plot.toml"), *crops)
    assert faults(command, answer) == []
    told = json.dumps(answer)
    words = {"chart": '"if_colder"', "rate": "within_the_error", "climate": "error of your thermometer", "week": "Ness"}
    assert words[command] in told


def test_a_season_in_progress_and_one_reviewed(own_thermometer):
    site = str(own_thermometer / "sown.toml")
    now = asked("season", site, *IN_MAY)
    assert faults("season", now) == []
    stages = {s["crop"]: s["stage"] for s in now["sowings"]}
    assert (stages["tomato (large)"], stages["french bean (bush)"]) == ("under cover", "lost")
    assert (now["weather_to"], now["tank"]["litres_told"], now["problems"][0]["line"]) == ("2016-05-10", 300, 13)
    assert {w["bed"] for w in now["water"]} == {"1", "3"}
    past = asked("season", site, "--year", "2015")
    assert faults("season", past) == []
    assert [(r["crop"], r["first_picked"], r["picked_kg"]) for r in past["review"]] == [("carrot", "2015-06-25", 1.5)]


def test_the_offset_of_a_thermometer(own_thermometer):
    answer = asked("weather", "offset", str(own_thermometer / "ness.toml"), str(own_thermometer / "own.csv"))
    assert faults("weather offset", answer) == []


def test_a_record_that_is_too_short_or_damaged(tmp_path):
    """Three years with a minimum above its maximum, a run of one value, a reading that cannot be, and a future."""
    days = np.arange("2023-01-01", "2026-03-01", dtype="datetime64[D]")
    low = 9 - 6 * np.cos(2 * np.pi * (np.arange(days.size) - 25) / 365.25)
    high = low + 9.0
    low[400], high[400] = high[400], low[400]
    low[500:520] = 11.1
    low[600] = 71.0
    rows(tmp_path / "short.csv", days, low, high)
    site = tmp_path / "short.toml"
    site.write_text(
        'name = "short"\nlatitude = 38.0\n[weather]\nsource = "file"\nfile = "short.csv"\ntemperature_unit = "degC"\n',
        encoding="utf-8",
    )
    issued = ["--issued", "2026-01-15"]
    check = asked("weather", "check", str(site), *issued)
    assert {p["kind"] for p in check["problems"]} >= {"crossed", "future"}
    assert faults("weather check", check) == []
    for command in ("chart", "rate", "climate"):
        answer = asked(command, str(site), *([] if command == "climate" else SOME), *issued)
        assert faults(command, answer) == []
        assert answer["record_findings" if command == "climate" else "record"]


@pytest.mark.parametrize(
    "words",
    [
        ["chart", "nowhere.toml"],
        ["rate", "sallowdene", "no such crop"],
        ["climate", "sallowdene", "--years", "1950:1960"],
        ["garden", "--years", "1"],
        ["weather", "check", "91,0"],
    ],
)
def test_what_is_refused_gives_no_half_answer(words):
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        assert main([*words, "--json"]) != 0
    assert out.getvalue() == ""
    assert len(err.getvalue().strip().splitlines()) == 1


# ---- that the schemas can fail


def spots(part: Any, at: tuple = ()) -> Iterator[tuple]:
    """Every place in an answer; of a list the first entry and the last."""
    yield at
    if isinstance(part, dict):
        for key, value in part.items():
            yield from spots(value, (*at, key))
    elif isinstance(part, list) and part:
        for k in sorted({0, len(part) - 1}):
            yield from spots(part[k], (*at, k))


def part_of(answer: Any, at: tuple) -> Any:
    return reduce(getitem, at, answer)


def kinds_of_spots(answer: Any) -> list[tuple]:
    """Of spots alike but for their number in a list, with values of one kind, the first."""
    found: dict[tuple, tuple] = {}
    for at in spots(answer):
        where = tuple("" if isinstance(key, int) else key for key in at)
        found.setdefault((where, type(part_of(answer, at))), at)
    return list(found.values())


def changed(answer: Any, at: tuple, value: Any) -> Any:
    out = copy.deepcopy(answer)
    part_of(out, at[:-1])[at[-1]] = value
    return out


def renamed(answer: Any, at: tuple) -> Any:
    out = copy.deepcopy(answer)
    part = part_of(out, at[:-1])
    part[f"{at[-1]}s"] = part.pop(at[-1])
    return out


@pytest.fixture(scope="module")
def small(own_thermometer):
    """An answer of each command, short enough to be damaged everywhere."""
    plot, some = str(own_thermometer / "plot.toml"), ["tomato (large)", "rhubarb"]
    calls = {
        "chart": ["chart", plot, *some, "--years", "8"],
        "rate": ["rate", plot, *some],
        "week": ["week", "sallowdene", *WEEK],
        "climate": ["climate", plot],
        "compare": ["compare", "wrackhythe", "sallowdene", "tomato (large)", "rhubarb", "celery"],
        "garden": ["garden", "--years", "3"],
        "crops": ["crops", "zucchini"],
        "crops --basis": ["crops", "--basis"],
        "weather check": ["weather", "check", str(own_thermometer / "ness.toml")],
        "weather trend": ["weather", "trend", "sallowdene"],
        "weather offset": ["weather", "offset", str(own_thermometer / "ness.toml"), str(own_thermometer / "own.csv")],
        "season": ["season", str(own_thermometer / "sown.toml"), *IN_MAY],
        "log": ["log", "--site", str(own_thermometer / "sown.toml")],
        "compare --leaflet": ["compare", "sallowdene", "--leaflet", str(own_thermometer / "months.csv")],
    }
    (own_thermometer / "months.csv").write_text("crop,way,months\ntomato (large),plant,3-5\n", encoding="utf-8")
    return {name: asked(*words) for name, words in calls.items()}


SMALL = [
    "chart", "rate", "week", "climate", "compare", "garden", "crops", "crops --basis", "weather check", "weather trend",
    "weather offset", "season", "log", "compare --leaflet",
]  # fmt: skip


@pytest.mark.parametrize("command", SMALL)
def test_a_key_of_another_name_is_seen(small, command):
    answer = small[command]
    keys = [at for at in kinds_of_spots(answer) if at and isinstance(at[-1], str)]
    assert len(keys) > 5
    assert [at for at in keys if validator(command).is_valid(renamed(answer, at))] == []


@pytest.mark.parametrize("command", SMALL)
def test_a_value_of_another_kind_is_seen(small, command):
    """A table in the place of a number, a text, a list or null; a list in the place of a table."""
    answer = small[command]
    for at in kinds_of_spots(answer):
        if at:
            other: Any = [] if isinstance(part_of(answer, at), dict) else {"x": 1}
            assert not validator(command).is_valid(changed(answer, at, other)), at


WORDS = {
    "stage", "event", "basis",
    "way", "class", "word", "limiting_factor", "hazard", "job", "chance", "beyond", "kind", "variable", "season",
    "record_kind", "program", "model", "deciding_limit_rests_on", "if_its_limits_are_kinder", "if_they_are_harsher",
}  # fmt: skip
DAYS_OF_YEAR = {
    "from", "to", "best", "again", "p10", "p50", "p90", "last_spring_frost", "first_autumn_frost", "day", "date",
    "first_picking",
}  # fmt: skip
SHARES = {"reliability", "yield_fraction", "share_of_years", "surplus_share", "chance_dry", "years_without_frost"}
DAY, DATE = re.compile(r"\d\d-\d\d"), re.compile(r"\d{4}-\d\d-\d\d")


@pytest.mark.parametrize("command", SMALL)
def test_a_wrong_word_a_date_that_is_none_and_a_share_above_one_are_seen(small, command):
    answer, tried = small[command], 0
    for at in kinds_of_spots(answer):
        if not at:
            continue
        value = part_of(answer, at)
        name = next(k for k in reversed(at) if isinstance(k, str))
        wrong: list[Any] = []
        if name in WORDS and isinstance(value, str):
            wrong = ["sowed", "S4", "poor", ""]
        elif isinstance(value, str) and DAY.fullmatch(value):
            wrong = ["13-45", "02-29", "04-31", "00-10", "4-3", "2021-04-03", "never"]
        elif isinstance(value, str) and DATE.fullmatch(value):
            wrong = ["2021-13-45", "2021-04-31", "21-04-03", "03/04/2021"]
        elif name in SHARES and isinstance(value, float):
            wrong = [1.01, -0.01, "0.5", True]
        elif name == "daily" and isinstance(value, list):
            wrong = [value[:-1], [*value, 0.5]]
        tried += len(wrong)
        assert [w for w in wrong if validator(command).is_valid(changed(answer, at, w))] == [], at
    assert tried or command in ("crops", "crops --basis")


# ---- the schemas themselves


def parts_of(part: Any) -> Iterator[dict]:
    if isinstance(part, dict):
        yield part
        for value in part.values():
            yield from parts_of(value)
    elif isinstance(part, list):
        for value in part:
            yield from parts_of(value)


@pytest.mark.parametrize("command", schema_names())
def test_each_schema_is_one_whole_in_itself_and_says_what_it_means(command):
    schema = sowcal.schema(command)
    Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["title"].startswith(f"sowcal {command}")
    for part in parts_of(schema):
        if "$ref" in part:
            assert part["$ref"].removeprefix("#/$defs/") in schema["$defs"]
        if part.get("type") == "object":
            assert part["description"]
            assert part["additionalProperties"] is False or "propertyNames" in part
        for name, value in part.get("properties", {}).items() if "additionalProperties" in part else ():
            assert value.get("description") or schema["$defs"][value["$ref"].removeprefix("#/$defs/")]["description"], (
                name
            )


def test_every_command_that_answers_programs_has_a_schema():
    """Asked of the command line itself: whatever takes `--json`."""
    found = []
    places = ("climate", "rate", "chart", "compare", "garden", "week", "page", "map")
    for command in (*places, "weather list", "crops", "here", "mine", "start", "log", "season"):
        with contextlib.redirect_stderr(io.StringIO()), contextlib.suppress(SystemExit, sowcal.InputError):
            if parse([*command.split(), "--json"]).json:
                found.append(command)
    assert set(found) == {
        "climate",
        "rate",
        "chart",
        "compare",
        "garden",
        "week",
        "weather list",
        "crops",
        "here",
        "mine",
        "log",
        "season",
    }
    assert {*found, *(f"weather {action}" for action in ACTIONS if action != "export")} <= set(schema_names())
    assert len(schema_names()) == 20


UNITS = re.compile(
    r"\b(degC|degrees|K|mm|m|m2|km|kg|kPa|litres|minutes|hours|days?|nights|years?|bytes|portions|count|0 to 1|"
    r"per cent|units)\b",
    re.IGNORECASE,
)


@pytest.mark.parametrize("command", schema_names())
def test_every_number_tells_its_unit(command):
    for part in parts_of(sowcal.schema(command)):
        kind = part.get("type")
        if "description" in part and ("number" in (kind or ()) or "integer" in (kind or ())):
            assert UNITS.search(part["description"]), part


def test_words_are_those_of_the_engine():
    """A word that the engine has and the schema lacks would be refused; one that it has no longer, overlooked."""
    shared = sowcal.schema("rate")["$defs"]
    assert set(shared["hazard"]["enum"]) == set(LIMITS)
    assert set(shared["verdict"]["enum"]) == set(CLASSES)
    assert set(shared["way"]["enum"]) == set(WAYS)
    assert set(shared["finding"]["properties"]["kind"]["enum"]) == {*KINDS, "set to missing"}
    job = sowcal.schema("week")["$defs"]["job"]["properties"]
    assert set(job["job"]["enum"]) == set(JOBS)
    assert set(job["chance"]["enum"]) == set(CHANCES)
    assert tuple(sowcal.schema("season")["$defs"]["sowing"]["properties"]["stage"]["enum"]) == STAGES
    line = sowcal.schema("log")["properties"]["entries"]["items"]["properties"]
    assert tuple(line["event"]["enum"]) == EVENTS
    tables = sowcal.schema("crops --basis")["properties"]["tables"]["propertyNames"]["enum"]
    assert {*tables, "alternatives", "sources", "renamed", "changes"} == set(table_descriptions())


def test_a_command_without_json_is_refused_and_the_nearest_named():
    assert sowcal.schema("Weather  check") == sowcal.schema("weather check")
    with pytest.raises(sowcal.InputError, match="did you mean 'chart'"):
        sowcal.schema("charts")
    with pytest.raises(sowcal.InputError, match="known are chart, climate"):
        sowcal.schema("page!!")
    one = sowcal.schema("chart")
    one["properties"].clear()  # a copy of the caller's own
    assert sowcal.schema("chart")["properties"]
