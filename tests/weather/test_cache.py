"""What was fetched is kept, and stands in where the service does not answer."""

from __future__ import annotations

import json
import os
import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from unittest import mock

import pytest
import xarray as xr

from sowcal.__main__ import main
from sowcal.errors import InputError
from sowcal.weather import cache
from sowcal.weather.open_site import open_weather
from sowcal.weather.record import StationFacts

sys.path.insert(0, str(Path(__file__).parent))
from local_service import Service, ask, closed_port, environment, low_of
from records_alike import assert_alike


@pytest.fixture
def record():
    station = StationFacts("90001", "Ness", fetched="2021-03-01T12:00:00+00:00")
    return replace(open_weather("sallowdene", years=2)[1], station=station)


def years_asked():
    return [int(p.strip("/").split("/")[1]) for p in Service.asked]


def test_what_is_kept_is_ordinary_netcdf_and_comes_back_as_it_was(own_cache, record):
    path = cache.keep("90001", record)
    assert path.parent == own_cache
    got = cache.kept("90001")
    assert_alike(got, record)
    assert (got.title, got.station.name, got.station.fetched) == (record.title, "Ness", "2021-03-01T12:00:00+00:00")
    with xr.open_dataset(path, engine="scipy") as plain:  # any program can read it
        assert plain["tasmin"].attrs["units"] == "degC"
        assert plain.attrs["sowcal_cache_version"] == cache.VERSION
    assert [p.name for p in own_cache.iterdir()] == ["station-90001.nc"]  # no half-written file is left
    assert cache.age_in_days(got.station.fetched, datetime(2021, 3, 11, 13, tzinfo=UTC)) == 10


def flip(path):
    raw = bytearray(path.read_bytes())
    raw[len(raw) // 2] ^= 0x40  # one bit of one value
    path.write_bytes(raw)


DAMAGES = {
    "a bit": flip,
    "cut": lambda p: p.write_bytes(p.read_bytes()[:-3000]),
    "cut short": lambda p: p.write_bytes(p.read_bytes()[:40]),
    "empty": lambda p: p.write_bytes(b""),
    "rubbish": lambda p: p.write_bytes(b"not a file" * 99),
    "its head": lambda p: p.write_bytes(b"\0" * 2000 + p.read_bytes()[2000:]),
}


@pytest.mark.parametrize("damage", DAMAGES)
def test_a_damaged_file_counts_as_absent(record, damage):
    path = cache.keep("90001", record)
    DAMAGES[damage](path)
    assert cache.kept("90001") is None
    (listed,) = cache.kept_records()
    assert not listed.sound
    cache.keep("90001", record)
    assert cache.kept("90001") is not None


def test_another_version_counts_as_absent(record, monkeypatch):
    cache.keep("90001", record)
    monkeypatch.setattr(cache, "VERSION", 2)
    assert cache.kept("90001") is None


def test_listing_and_clearing(own_cache, record):
    assert cache.kept_records() == []
    assert cache.clear() == 0
    for station in ("90001", "KXYZ0"):
        cache.keep(station, record)
    (own_cache / "notes.txt").write_text("mine")
    assert [(k.station, k.name, k.first, k.last) for k in cache.kept_records()] == [
        ("90001", "Ness", "1991-01-01", "1992-12-31"),
        ("KXYZ0", "Ness", "1991-01-01", "1992-12-31"),
    ]
    assert cache.clear("90001") == 1
    with pytest.raises(InputError, match="nothing is kept of station '90001'"):
        cache.clear("90001")
    assert cache.clear() == 1
    assert [p.name for p in own_cache.iterdir()] == ["notes.txt"]  # nothing but our own files is removed


@pytest.mark.parametrize("name", ["../x", "a/b", "", ".hidden", "a\0b"])
def test_ids_that_are_no_ids(record, name):
    with pytest.raises(InputError, match="no id of a station"):
        cache.keep(name, record)


def test_a_folder_that_cannot_be_written_to_costs_no_answer(tmp_path, record, monkeypatch):
    (tmp_path / "file").write_text("")
    monkeypatch.setitem(os.environ, "SOWCAL_CACHE", str(tmp_path / "file" / "below"))
    assert cache.keep("90001", record) is None
    assert cache.kept("90001") is None
    assert cache.kept_records() == []


def test_later_runs_fetch_only_what_is_new(tmp_path, address, station_list):
    where = {"endpoint": address + "/daily", "stations": station_list}
    Service.asked.clear()
    first = ask(tmp_path, "get_station('90001', years=5, today=date(2020, 11, 20))", **where)
    assert sorted(set(years_asked())) == list(range(2015, 2021))
    Service.asked.clear()
    again = ask(tmp_path, "get_station('90001', years=5, today=date(2020, 11, 20))", **where)
    assert Service.asked == []  # the same day: the network is not needed
    assert {k: v for k, v in again.items() if k != "attrs"} == {k: v for k, v in first.items() if k != "attrs"}
    later = ask(tmp_path, "get_station('90001', years=5, today=today)", **where)
    assert set(years_asked()) == {2020, 2021}
    assert later["days"] == ["2016-01-01", "2021-02-28", 1886]
    fresh = ask(tmp_path / "other", "get_station('90001', years=5, today=today)", **where)
    for key in ("days", "missing", "first", "dry", "origin", "place"):
        assert later[key] == fresh[key]  # pieces put together are the whole
    Service.asked.clear()
    longer = ask(tmp_path, "get_station('90001', years=8, today=today)", **where)
    assert set(years_asked()) == {2013, 2014}
    assert longer["days"][0] == "2013-01-01"


FAILS = {
    "offline": "cannot be reached",
    "429": "error 429",
    "500": "error 500",
    "later500": "yearly files",
    "truncated": "yearly files",
    "cutoff": "yearly files",
    "rubbish": "yearly files",
    "slow": "yearly files",
}


@pytest.mark.parametrize("way", FAILS)
def test_the_kept_record_stands_in_and_says_how_old_it_is(tmp_path, address, station_list, way):
    bad = {
        "endpoint": closed_port() + "/daily" if way == "offline" else f"{address}/{way}",
        "stations": station_list,
        "MS_NETWORK_TIMEOUT": "1",
    }
    call = "get_station('90001', years=2, today=today)"
    bare = ask(tmp_path / "empty", call, **bad)  # an empty machine
    assert bare["error"] == "NetworkError"
    assert FAILS[way] in bare["text"]
    good = ask(
        tmp_path,
        "get_station('90001', years=2, today=date(2021, 1, 10))",
        endpoint=address + "/daily",
        stations=station_list,
    )
    got = ask(tmp_path, call, **bad)
    (warning,) = json.loads(got["attrs"]["warnings"])
    assert FAILS[way] in warning
    assert "the record of station 90001 fetched today is used" in warning
    assert got["days"] == good["days"]
    assert "warnings" not in good["attrs"]


def test_a_missing_year_does_not_wipe_out_a_kept_one(tmp_path, address, station_list):
    where = {"stations": station_list}
    ask(tmp_path, "get_station('90001', years=2, today=date(2021, 1, 10))", endpoint=address + "/daily", **where)
    got = ask(tmp_path, "get_station('90001', years=2, today=today)", endpoint=address + "/404", **where)
    assert got["days"] == ["2019-01-01", "2021-01-09", 740]


def test_a_point_offline_from_a_filled_cache(tmp_path, address, station_list):
    call = "get_point(38.25, -15.4, 210.0, 3, today=today)"
    good = ask(tmp_path, call, endpoint=address + "/daily", stations=station_list)
    # no service and no list of stations either
    got = ask(tmp_path, call.replace("3, today=today", "4, today=today"), endpoint=closed_port() + "/daily")
    assert got["first"][0] == pytest.approx(low_of(datetime(2018, 1, 1).date()) - 1.3)
    (warning,) = json.loads(got["attrs"]["warnings"])
    assert "list of weather stations cannot be fetched" in warning
    assert "begins in 2018 only" in warning
    assert got["days"] == good["days"]
    far = ask(tmp_path, "get_point(45.0, 9.0, today=today)", endpoint=closed_port() + "/daily")
    assert far["error"] == "NetworkError"


def command(tmp_path, capsys, line, **where):
    """Exit code, output and remarks of a call of the weather command."""
    years = ["--years", "5"] if line.startswith("fetch") else []
    with mock.patch.dict(os.environ, environment(tmp_path, **where), clear=True):
        code = main(["weather", *line.split(), *years, "--ascii", "--width", "100"])
    return code, *capsys.readouterr()


def test_the_command_online_and_offline(tmp_path, capsys, address, station_list):
    online = {"endpoint": address + "/daily", "stations": station_list}
    offline = {"endpoint": closed_port() + "/daily", "stations": station_list}
    exit_code, shown, said = command(tmp_path, capsys, "fetch 90001", **offline)  # an empty machine
    assert (exit_code, shown) == (3, "")
    assert len(said.strip().splitlines()) == 1
    assert "cannot be reached" in said
    exit_code, shown, said = command(tmp_path, capsys, "fetch 90001", **online)
    assert exit_code == 0
    assert shown.count("Attribution:") == 1
    assert "Long Ness" in shown
    assert said == ""
    exit_code, shown, _ = command(tmp_path, capsys, "list", **offline)
    assert exit_code == 0
    assert "90001" in shown
    exit_code, shown, said = command(tmp_path, capsys, "fetch 90001", **offline)  # a filled cache needs no network
    assert exit_code == 0
    assert "Long Ness" in shown
    exit_code, shown, _ = command(tmp_path, capsys, "clear", **offline)
    assert "1 kept record removed" in shown
    assert command(tmp_path, capsys, "fetch 90001", **offline)[0] == 3


def test_ages_that_a_file_does_not_tell():
    for fetched, days in (("yesterday", 0), ("2021-03-01T12:00:00", 10), ("2034-01-01T00:00:00+00:00", 0)):
        assert cache.age_in_days(fetched, datetime(2021, 3, 11, 13, tzinfo=UTC)) == days
    assert cache.age_in_days("") == 0


def test_what_is_not_ours_is_not_listed_and_what_cannot_be_removed_is_named(own_cache, record):
    cache.keep("90001", record)
    (own_cache / "notes.nc").write_bytes(b"mine")
    assert [k.station for k in cache.kept_records()] == ["90001"]
    (own_cache / "station-90002.nc").mkdir()
    with pytest.raises(InputError, match="cannot be removed"):
        cache.clear()
    assert (own_cache / "notes.nc").exists()
