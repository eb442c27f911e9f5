"""A server on this computer that speaks the layout of the real service, and questions asked of it.

Each question has folders of its own: the key of meteostat's cache does not hold the address. Its address is frozen when
it is first imported, which is in the process that fetches, a new one for each question.
"""

from __future__ import annotations

import contextlib
import functools
import gzip
import io
import json
import math
import os
import socket
import sqlite3
import tempfile
import threading
import time
from datetime import date, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import ClassVar
from unittest import mock

import numpy as np

from sowcal.errors import SowcalError
from sowcal.weather.cf_dataset import attributes_of

TODAY = date(2021, 3, 1)
# id: (name, latitude, longitude, elevation, first year, last day of its holdings)
STATIONS = {
    "90001": ("Long Ness", 38.20, -15.40, 10, 2000, "2021-02-28"),  # long, 5.6 km from the point
    "90002": ("Short Ness", 38.25, -15.40, 10, 2019, "2021-02-28"),  # nearest, but two years only
    "90003": ("Empty Ness", 38.26, -15.40, 10, 2000, "2021-02-28"),  # holdings said, no file there
    "90004": ("Broken Ness", 10.0, 10.0, 10, 2000, "2021-02-28"),  # the server fails
}


def low_of(day: date) -> float:
    return round(10 - 5 * math.cos(2 * math.pi * (day.timetuple().tm_yday - 15) / 365), 1)


def daily_file(station: str, year: int) -> bytes:
    """One year as the service writes it: rows only where data are, each value with its source."""
    rows = ["year,month,day,temp,temp_source,tmin,tmin_source,tmax,tmax_source,prcp,prcp_source,wspd,wspd_source"]
    day = date(year, 1, 1)
    while day.year == year and day < TODAY:
        low = low_of(day)
        if day != date(2020, 5, 5):
            rain = "" if day.day == 9 else "1.5"
            # June 2020 is a forecast model's, not an observation
            source = "metno_forecast" if (day.year, day.month) == (2020, 6) else "ghcnd"
            rows.append(
                f"{day.year},{day.month},{day.day},{low + 4:.1f},{source},{low},{source},"
                f"{low + 8:.1f},{source},"
                f"{rain},{source if rain else ''},18.0,{source}"
            )
        day += timedelta(days=1)
    return gzip.compress("\n".join(rows).encode())


def temperature_of(hour: datetime) -> float:
    """Temperature at an hour of universal time; the stations lie 15.4 degrees west, an hour behind it."""
    solar = hour - timedelta(hours=1)
    return round(low_of(solar.date()) + 4 - 4 * math.cos(2 * math.pi * (solar.hour - 3) / 24), 1)


def hourly_file(station: str, year: int) -> bytes:
    """One year of hours as the service writes it; the second station reports every third hour only."""
    rows = ["year,month,day,hour,temp,temp_source,rhum,rhum_source"]
    hour = datetime(year, 1, 1)
    while hour.year == year and hour.date() < TODAY:
        if hour.date() != date(2020, 5, 5) and (station != "90002" or hour.hour % 3 == 0):
            rows.append(f"{year},{hour.month},{hour.day},{hour.hour},{temperature_of(hour)},isd_lite,70,isd_lite")
        hour += timedelta(hours=1)
    return gzip.compress("\n".join(rows).encode())


@functools.cache
def station_list() -> bytes:
    """The list of stations as a file."""
    with tempfile.TemporaryDirectory() as folder:
        return write_station_list(Path(folder) / "stations.db").read_bytes()


class Service(BaseHTTPRequestHandler):
    """Folders: /daily and /hourly work; /partly fails for 2010; the others fail as their names say.

    /elsewhere leads to another host.
    """

    asked: ClassVar[list[str]] = []  # paths that were fetched

    def do_GET(self):
        self.answer(with_body=True)

    def do_HEAD(self):
        self.answer(with_body=False)

    def answer(self, with_body: bool):
        parts = self.path.strip("/").split("/")
        station = parts[-1].split(".")[0]
        status, body = 404, b""
        if station == "90004":
            status = 503
        elif parts[-1] == "stations.db":
            status, body = 200, station_list()
        elif parts[0] == "daily" and station in ("90001", "90002") and int(parts[1]) >= STATIONS[station][4]:
            status, body = 200, daily_file(station, int(parts[1]))
        elif parts[0] == "hourly" and station in ("90001", "90002") and int(parts[1]) >= STATIONS[station][4]:
            status, body = 200, hourly_file(station, int(parts[1]))
        elif parts[0] == "partly":
            status, body = (200, daily_file("90001", int(parts[1]))) if parts[1] != "2010" else (500, b"")
        elif parts[0].isdigit():  # /429/... and /500/...
            status = int(parts[0])
        elif parts[0] in ("truncated", "cutoff", "slow", "rubbish", "later500", "late"):
            status, body = 200, daily_file("90001", int(parts[1]))
        if parts[0] == "elsewhere":
            self.send_response(302)
            self.send_header("Location", "https://weather.example.org/daily")
            self.send_header("Content-Length", "0")
            self.end_headers()
            return
        if with_body:
            Service.asked.append(self.path)
            if parts[0] == "truncated":  # whole by its own word, but the packed file is cut
                body = body[: len(body) // 2]
            elif parts[0] == "rubbish":
                body = b"<html>maintenance</html>"
            elif parts[0] == "later500":
                status, body = 500, b""
            elif parts[0] == "slow":
                time.sleep(3)
            elif parts[0] == "late":
                time.sleep(0.4)
        self.send_response(status)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        if with_body:
            with contextlib.suppress(ConnectionError):  # the asker may have given up
                self.wfile.write(body[: len(body) // 2] if parts[0] == "cutoff" else body)

    def log_message(self, *_):
        pass


@contextlib.contextmanager
def running():
    """Address of the server while it runs."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), Service)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    server.server_close()


def write_station_list(path):
    """The SQLite file of stations, as the service has it."""
    with sqlite3.connect(path) as db:
        db.execute(
            "CREATE TABLE stations (id TEXT PRIMARY KEY, country TEXT, region TEXT, latitude REAL, "
            "longitude REAL, "
            "elevation INTEGER, timezone TEXT)"
        )
        db.execute("CREATE TABLE names (station TEXT, language TEXT, name TEXT)")
        db.execute("CREATE TABLE identifiers (station TEXT, key TEXT, value TEXT)")
        db.execute(
            "CREATE TABLE inventory (station TEXT, provider TEXT, parameter TEXT, start TEXT, end "
            "TEXT, completeness REAL)"
        )
        for key, (name, latitude, longitude, elevation, first, last) in STATIONS.items():
            db.execute(
                "INSERT INTO stations VALUES (?,?,?,?,?,?,?)",
                (key, "XX", "", latitude, longitude, elevation, "UTC"),
            )
            db.execute("INSERT INTO names VALUES (?,?,?)", (key, "en", name))
            db.execute(
                "INSERT INTO inventory VALUES (?,?,?,?,?,?)",
                (key, "ghcnd", "tmin", f"{first}-01-01", last, 1.0),
            )
    return path


def environment(tmp_path, endpoint, stations=None):
    """Variables of a process that asks the server, with folders of its own."""
    out = {k: v for k, v in os.environ.items() if not k.startswith("MS_") and "proxy" not in k.lower()}
    out |= {
        "HOME": str(tmp_path),
        "MS_DAILY_ENDPOINT": endpoint + "/{year}/{station}.csv.gz",
        "MS_HOURLY_ENDPOINT": endpoint.replace("/daily", "/hourly") + "/{year}/{station}.csv.gz",
        "MS_STATIONS_DB_FILE": str(stations or tmp_path / "own" / "stations.db"),
        "MS_STATIONS_DB_TTL": str(10**9),
        "MS_STATIONS_DB_ENDPOINTS": json.dumps([endpoint + "/stations.db"]),
        "MS_CACHE_DIRECTORY": str(tmp_path / "cache"),
        "SOWCAL_CACHE": str(tmp_path / "kept"),
    }
    return out


def asked(tmp_path, question, endpoint, stations=None, **more):
    """What a question of no argument comes to in the environment of `environment`, or the error, as JSON has it.

    In this process: meteostat, which reads its settings once, is loaded in the one that fetches only.
    """
    said = io.StringIO()
    variables = environment(tmp_path, endpoint, stations) | more
    with mock.patch.dict(os.environ, variables, clear=True), contextlib.redirect_stderr(said):
        try:
            out = question()
        except SowcalError as problem:
            out = {"error": type(problem).__name__, "text": str(problem)}
    assert said.getvalue() == ""
    return json.loads(json.dumps(out))


def ask(tmp_path, call, *, endpoint, stations=None, **more):
    """What a call comes to: the record in short, or the error. `more`: variables of the environment."""

    def question():
        from sowcal.weather.stations import get_point, get_station

        names = {"date": date, "today": TODAY, "get_point": get_point, "get_station": get_station}
        record = eval(call, names)
        return {
            "attrs": {k: str(v) for k, v in attributes_of(record).items()},
            "place": [record.latitude, record.longitude, record.elevation],
            "days": [str(record.time[0]), str(record.time[-1]), record.size],
            "missing": record.time[np.isnan(record["tasmin"])].astype(str).tolist(),
            "first": [float(record[v][0]) for v in ("tasmin", "tasmax", "tas", "pr", "sfcWind")],
            "dry": int(np.isnan(record["pr"]).sum()),
            "origin": sorted(set(record.origin["tasmin"].tolist())),
        }

    return asked(tmp_path, question, endpoint, stations, **more)


def closed_port() -> str:
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return f"http://127.0.0.1:{s.getsockname()[1]}"
