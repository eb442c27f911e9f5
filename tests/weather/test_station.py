"""Stations through meteostat, against a server on this computer that speaks the layout of the real one."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from sowcal.child_process import start
from sowcal.errors import NetworkError
from sowcal.weather.meteostat_client import Near, service
from sowcal.weather.record import MISSING, OBSERVED, StationFacts, daily_record
from sowcal.weather.stations import _at_site, best_first

sys.path.insert(0, str(Path(__file__).parent))
from local_service import ask, closed_port, low_of


def test_a_station(tmp_path, address, station_list):
    got = ask(
        tmp_path,
        "get_station('90001', years=5, today=today)",
        endpoint=address + "/daily",
        stations=station_list,
    )
    assert got["days"] == ["2016-01-01", "2021-02-28", 1886]
    # the day without a row and the month of a model are missing, nothing else
    assert got["missing"] == ["2020-05-05", *(f"2020-06-{d:02d}" for d in range(1, 31))]
    low = low_of(date(2016, 1, 1))
    assert got["first"] == pytest.approx([low, low + 8, low + 4, 1.5, 5.0])  # 18 km/h are 5 m/s
    assert got["dry"] == 62 + 30  # the ninth of 62 months; 29 other days of June 2020, 5 May
    assert got["origin"] == [0, 3]
    assert got["place"] == [38.2, -15.4, 10.0]
    assert "Meteostat" in got["attrs"]["attribution"]
    assert "licence" in got["attrs"]
    assert got["attrs"]["title"] == "Long Ness"


def test_a_point_takes_the_long_record_and_adjusts_for_height(tmp_path, address, station_list):
    call = "get_point(38.25, -15.4, 210.0, 10, today=today)"
    got = ask(tmp_path, call, endpoint=address + "/daily", stations=station_list)
    assert got["attrs"]["station"] == "90001"
    assert float(got["attrs"]["station_distance_km"]) == pytest.approx(5.6, abs=0.1)  # 0.05 degrees of 111.2 km
    low = low_of(date(2011, 1, 1)) - 1.3  # 200 m at 6.5 K/km
    assert got["first"][:3] == pytest.approx([low, low + 8, low + 4])
    assert "-1.30 K" in got["attrs"]["history"]
    assert got["place"] == [38.25, -15.4, 210.0]


def test_without_a_height_nothing_is_adjusted(tmp_path, address, station_list):
    got = ask(
        tmp_path,
        "get_point(38.25, -15.4, None, 10, today=today)",
        endpoint=address + "/daily",
        stations=station_list,
    )
    assert got["first"][0] == low_of(date(2011, 1, 1))


@pytest.mark.parametrize(
    ("call", "endpoint", "error", "words"),
    [
        ("get_station('90003', years=3, today=today)", "/daily", "InputError", "no daily minima and maxima"),
        ("get_station('12345', years=3, today=today)", "/daily", "InputError", "no station '12345'"),
        ("get_station('90004', years=3, today=today)", "/daily", "NetworkError", "error 503"),
        ("get_station('90001', years=12, today=today)", "/partly", "NetworkError", "1 of 13 yearly files"),
        ("get_point(0.0, 0.0, today=today)", "/daily", "InputError", "no weather station within 75 km"),
        ("get_point(95.0, 0.0, today=today)", "/daily", "InputError", "latitude"),
    ],
)
def test_what_fails_is_told_apart(tmp_path, address, station_list, call, endpoint, error, words):
    got = ask(tmp_path, call, endpoint=address + endpoint, stations=station_list)
    assert got["error"] == error
    assert words in got["text"]


def test_offline_with_and_without_the_list_of_stations(tmp_path, station_list):
    endpoint = closed_port() + "/daily"
    got = ask(tmp_path, "get_station('90001', today=today)", endpoint=endpoint, stations=station_list)
    assert got["error"] == "NetworkError"
    assert "cannot be reached; go online" in got["text"]
    got = ask(tmp_path, "get_point(38.25, -15.4, today=today)", endpoint=endpoint)
    assert got["error"] == "NetworkError"
    assert "list of weather stations cannot be fetched" in got["text"]


def test_the_process_that_fetches_ends_with_its_asker():
    process = start("sowcal.weather.fetch_process")
    process.stdin.close()
    assert process.wait(60) == 0


def test_a_process_that_is_ended_from_outside_is_told():
    with service() as ms:
        ms._process = start("sowcal.weather.fetch_process")
        ms._process.kill()
        with pytest.raises(NetworkError, match="ended from outside"):
            ms.station("90001")


def test_stations_with_a_long_record_come_first_and_then_the_nearest():
    """By hand: ten years want 2,922 days; a metre of height counts ten of distance, an unknown height none."""
    long, short = (date(2000, 1, 1), date(2020, 12, 31)), (date(2015, 1, 1), date(2020, 12, 31))
    near = [
        Near("short", 1000.0, 100.0, short),
        Near("none", 10.0, 100.0, None),
        Near("high", 2000.0, 1100.0, long),  # 10.2 km
        Near("level", 9000.0, 100.0, long),
        Near("unknown", 9500.0, None, long),
    ]
    assert best_first(near, 100.0, 10, date(2021, 1, 1)) == ["level", "unknown", "high", "short", "none"]
    assert best_first(near, None, 10, date(2021, 1, 1))[:3] == ["high", "level", "unknown"]


def at_site(**place):
    days = np.arange("2001-01-01", "2001-01-05", dtype="datetime64[D]")
    values = {"tasmin": [1.0, 5.0, 3.0, np.nan], "tasmax": [9.0, 4.0, 3.0, 8.0], "tas": [5.0, 4.5, 3.0, np.nan]}
    record = daily_record(days, values, latitude=38.2, longitude=-15.4, elevation=10.0)
    station = StationFacts("90001", latitude=38.2, longitude=-15.4, elevation=10.0)
    record = replace(record, station=station, history="made up")
    return _at_site(record, *(place.get(k) for k in ("latitude", "longitude", "elevation")))


def test_a_day_with_its_minimum_above_its_maximum_is_missing_and_told():
    got = at_site()
    np.testing.assert_array_equal(got["tasmin"], [1.0, np.nan, 3.0, np.nan])
    np.testing.assert_array_equal(got["tasmax"], [9.0, np.nan, 3.0, 8.0])
    assert got.origin["tasmax"].tolist() == [OBSERVED, MISSING, OBSERVED, OBSERVED]
    (note,) = [n.to_json() for n in got.notes]
    assert (note["date"], note["kind"]) == ("2001-01-02", "crossed")
    assert got.history == "made up; 1 day with a minimum above the maximum set to missing"
    assert (got.elevation, got.station.distance_km) == (10.0, 0.0)


def test_the_mean_moves_with_height_as_the_others_do():
    """110 m at 6.5 K/km are 0.715 K; less than a metre is no difference."""
    got = at_site(latitude=38.25, longitude=-15.4, elevation=120.0)
    np.testing.assert_allclose(got["tas"][:3], [5.0 - 0.715, 4.5 - 0.715, 3.0 - 0.715])
    assert (got.latitude, got.elevation) == (38.25, 120.0)
    assert got.station.distance_km == 5.6  # 0.05 degrees of 111.2 km
    assert at_site(elevation=10.9)["tas"][0] == 5.0
