"""Hourly temperatures of a station, against a server on this computer that speaks the layout of the real one."""

from __future__ import annotations

import json
import os
import sys
from datetime import date, datetime
from pathlib import Path
from unittest import mock

import numpy as np
import pytest
import xarray as xr

from sowcal.__main__ import main
from sowcal.errors import InputError
from sowcal.weather import cache
from sowcal.weather.station_hours import get_station_hours, hours_by_day

sys.path.insert(0, str(Path(__file__).parent))
from local_service import TODAY, asked, closed_port, environment, temperature_of


def ask(tmp_path, call, endpoint, stations):
    """The hours that a call gives, in short, or the error."""

    def question():
        h = eval(call, {"get_station_hours": get_station_hours, "today": TODAY})
        return {
            "first": h.temperature[h.days == np.datetime64("2020-07-01")][0].tolist(),
            "lost": np.isnan(h.temperature).sum(axis=1).tolist(),
            "days": [str(h.days[k]) for k in (0, -1)],
            "warnings": list(h.warnings),
            "attribution": h.station.attribution,
        }

    return asked(tmp_path, question, endpoint, stations)


SHORT = "get_station_hours({0}, years=1, today=today)"


def test_hours_lie_on_solar_days(tmp_path, address, station_list):
    got = ask(tmp_path, SHORT.format("'90001'"), address + "/daily", station_list)
    # 15.4 degrees west: hour 0 of the solar day is hour 1 of universal time
    wanted = [temperature_of(datetime(2020, 7, 1, h + 1)) for h in range(23)] + [temperature_of(datetime(2020, 7, 2))]
    assert got["first"] == wanted
    assert np.argmin(wanted) == 3  # as the service was told
    assert got["days"] == ["2020-01-01", "2021-02-28"]
    lost = {k for k, n in enumerate(got["lost"]) if n}
    day = (datetime(2020, 5, 5) - datetime(2020, 1, 1)).days
    assert lost == {day - 1, day, len(got["lost"]) - 1}  # the lost day reaches into two; the last day is not over
    assert "Meteostat" in got["attribution"]


def test_three_hourly_reports_are_interpolated(tmp_path, address, station_list):
    got = ask(tmp_path, SHORT.format("'90002'"), address + "/daily", station_list)
    true = [temperature_of(datetime(2020, 7, 1, h + 1)) for h in range(23)]
    np.testing.assert_array_equal(np.array(got["first"])[2:23:3], np.array(true)[2:23:3])  # 3, 6, ... o'clock
    a, b = true[2], true[5]
    assert got["first"][3:5] == pytest.approx([a + (b - a) / 3, a + 2 * (b - a) / 3])


def test_what_is_kept_answers_offline_and_only_new_files_are_fetched(tmp_path, address, station_list):
    from local_service import Service

    Service.asked.clear()
    first = ask(tmp_path, SHORT.format("'90001'"), address + "/daily", station_list)
    assert sum("/hourly/" in p for p in Service.asked) == 2
    offline = closed_port() + "/daily"
    again = ask(tmp_path, SHORT.format("'90001'"), offline, station_list)
    assert again["first"] == first["first"]
    assert again["warnings"] == []  # nothing new to ask for
    Service.asked.clear()
    longer = SHORT.format("'90001'").replace("years=1", "years=3")
    old = ask(tmp_path, longer, offline, station_list)
    (warning,) = old["warnings"]
    assert "cannot be reached" in warning
    ask(tmp_path, longer, address + "/daily", station_list)
    assert sorted(p.split("/")[2] for p in Service.asked if "/hourly/" in p) == ["2018", "2019"]


@pytest.mark.parametrize(
    ("station", "endpoint", "error", "words"),
    [
        ("'90003'", "/daily", "InputError", "no hourly temperatures"),
        ("'12345'", "/daily", "InputError", "no station '12345'"),
        ("'90004'", "/daily", "NetworkError", "error 503"),
        ("'90001'", "/429", "NetworkError", "error 429"),
    ],
)
def test_what_fails_is_told_apart(tmp_path, address, station_list, station, endpoint, error, words):
    got = ask(tmp_path, SHORT.format(station), address + endpoint, station_list)
    assert got["error"] == error
    assert words in got["text"]


def test_hours_by_day_at_the_other_end_of_the_world():
    """Auckland, 174.8 degrees east: noon of universal time is midnight there, twelve hours on."""
    hours = np.arange("2020-07-01T00", "2020-07-04T00", dtype="datetime64[h]")
    days, values = hours_by_day(hours, np.arange(72.0), 174.8)
    assert str(days[0]) == "2020-07-01"
    assert values[0, 12] == 0.0
    assert np.isnan(values[0, :12]).all()
    assert values[1, 0] == 12.0


def test_hours_are_kept_at_the_height_of_the_site(own_cache):
    """100 m above the station at 6.5 K/km are 0.65 K; years of which nothing is kept are refused."""
    days = np.arange("2019-01-01", "2021-03-01", dtype="datetime64[D]")
    record = xr.Dataset(
        {"tas_hour": (("time", "hour"), np.full((days.size, 24), 8.0))}, {"time": days.astype("datetime64[ns]")}
    )
    record = record.assign_coords(latitude=38.2, longitude=-15.4, elevation=10.0)
    record.attrs |= {"station": "90001", "station_elevation": 10.0, "asked_first": "1990-01-01",
                     "asked_last": "2030-01-01", "fetched": "2021-03-01T00:00:00+00:00"}  # fmt: skip
    assert cache.keep_hours("90001", record)
    got = get_station_hours("90001", years=1, elevation=110.0, today=date(2021, 3, 1))
    np.testing.assert_allclose(got.temperature, 8.0 - 0.65)
    with pytest.raises(InputError, match="no hourly temperatures from 1999 to 2000"):
        get_station_hours("90001", years=1, today=date(2000, 3, 1))


def test_the_command_and_the_site_file(tmp_path, address, station_list, capsys):
    """Both ways side by side, and the climate's chill counted from the hours where the site file asks for them."""
    site = tmp_path / "n.toml"
    head = (
        'name = "Ness"\nlatitude = 38.2\nlongitude = -15.4\n[weather]\nsource = "station"\nid = "90001"\nyears = 12\n'
    )
    site.write_text(head)
    asking = tmp_path / "h.toml"
    asking.write_text(head + "hourly = true\n")
    env = environment(tmp_path, address + "/daily", station_list)

    def call(*words):
        with mock.patch.dict(os.environ, env, clear=True):
            assert main(list(words)) == 0
        return capsys.readouterr().out

    told = json.loads(call("weather", "chill", str(site), "--json"))
    below = next(c for c in told["chill"] if c["model"] == "hours below 7.2")
    at = below["years"].index(2018)
    season = np.arange("2017-11-01T00", "2018-03-01T00", dtype="datetime64[h]").astype(object)
    from datetime import timedelta

    wanted = sum(temperature_of(h + timedelta(hours=1)) < 7.2 for h in season)
    assert below["measured"][at] == wanted
    assert below["rebuilt"][at] != below["measured"][at]
    narrow = call("weather", "chill", str(site), "--width", "80")
    assert "~" not in narrow
    assert "rebuilt minus hourly" in call("weather", "chill", str(site), "--width", "120")
    plain, hourly = (json.loads(call("climate", str(s), "--json")) for s in (site, asking))
    assert not any("hourly" in note for note in plain["notes"])
    assert "hourly values in" in hourly["notes"][0]
    assert hourly["chill_portions"] != plain["chill_portions"]
    assert hourly["tasmin"] == plain["tasmin"]
