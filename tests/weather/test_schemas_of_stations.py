"""The JSON of what fetches, lists and clears stations' days, and of chill by measured hours, has the form described."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from unittest import mock

import pytest
from jsonschema import Draft202012Validator

import sowcal
from sowcal.__main__ import main

sys.path.insert(0, str(Path(__file__).parent))
from local_service import environment

SITE = 'name = "Ness"\nlatitude = 38.2\nlongitude = -15.4\n[weather]\nsource = "station"\nid = "90001"\nyears = 12\n'


@pytest.fixture
def answer(tmp_path, address, station_list, capsys):
    """What a call with `--json` gives, from a service on this machine."""
    env = environment(tmp_path, address + "/daily", station_list)

    def ask(*words: str):
        with mock.patch.dict(os.environ, env, clear=True):
            assert main([*words, "--json"]) == 0
        return json.loads(capsys.readouterr().out)

    return ask


def faults(command, found):
    return [f"{e.json_path}: {e.message}" for e in Draft202012Validator(sowcal.schema(command)).iter_errors(found)]


def test_stations_and_their_hours(tmp_path, answer):
    site = tmp_path / "ness.toml"
    site.write_text(SITE, encoding="utf-8")
    for words in (["90001"], [str(site)], ["38.25,-15.4"]):
        found = answer("weather", "fetch", *words, "--years", "12")
        assert faults("weather fetch", found) == []
        assert faults("weather fetch", {**found, "record": {**found["record"], "first": "2021-13-45"}})
    found = answer("weather", "chill", str(site))
    assert faults("weather chill", found) == []
    found["chill"][0]["model"] = "hours"
    assert faults("weather chill", found)
    asking = tmp_path / "hourly.toml"
    asking.write_text(SITE + "hourly = true\n", encoding="utf-8")
    assert faults("climate", answer("climate", str(asking))) == []
    assert faults("weather check", answer("weather", "check", str(site))) == []
    assert faults("chart", answer("chart", str(site), "pea", "apple")) == []
    kept = answer("weather", "list")
    assert {k["what"] for k in kept["records"]} == {"days", "hours"}
    assert faults("weather list", kept) == []
    kept["records"][0]["what"] = "minutes"
    assert faults("weather list", kept)
    removed = answer("weather", "clear")
    assert removed["removed"] >= 2
    assert faults("weather clear", removed) == []
    assert faults("weather clear", {**removed, "removed": "all"})
