"""The program that fetches: `python -m sowcal.weather.fetch_process`, started by `meteostat_client` for each fetch.

meteostat reads its yearly files through urllib without a time limit, is led away by redirections, tells what failed in
its log only, and reads its settings once. Here, in a process that does nothing else, all that is set right, and neither
a program that uses sowcal nor another fetch beside this one finds its own requests, urllib, sockets or logs changed.

Weather may be fetched from the declared hosts over verified TLS, or from what the user names in the environment.
Certificates are checked by requests and urllib as they come. The addresses are checked before anything is asked, and
so is every address that an answer leads on to.

A question is a line of JSON on standard input. An answer is a line of JSON on standard output, with the number of
`bytes` of arrays (npz) that follow it; lines with `progress` may come before it. With standard input ends the process.
"""

from __future__ import annotations

import io
import json
import logging
import os
import queue
import socket
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any, BinaryIO
from urllib.parse import urljoin, urlsplit

import numpy as np

from sowcal.errors import NetworkError, SowcalError
from sowcal.files import write_whole
from sowcal.languages import counted
from sowcal.progress import heard_by, tell_progress

__all__ = [
    "HOSTS",
    "answer",
    "ask_stations",
    "by_year",
    "check_addresses",
    "is_whole_list",
    "main",
    "only_known_hosts",
    "provide_list",
    "service",
]

# Of the yearly files and of the list of stations (its second home). Neither leads elsewhere: the service's own guide
# (dev.meteostat.net) fetches files with a plain `curl`, which follows no redirection.
HOSTS = frozenset({"data.meteostat.net", "raw.githubusercontent.com"})
_LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})  # a server on this computer, as the tests use
_SETTINGS = ("daily_endpoint", "hourly_endpoint", "stations_db_endpoints")


def check_addresses(config: Any) -> None:
    """Raise `NetworkError` for an address that is neither declared nor safe by the user's own setting.

    Parameters
    ----------
    config
        Settings of meteostat. One that the user set (MS_... in the environment) may name any host over https, this
        computer over http, or a folder.
    """
    for setting in _SETTINGS:
        own = _own(setting)
        for address in _said(config, setting):
            parts = urlsplit(address)
            host = parts.hostname or ""
            if parts.scheme == "https" and (own or host in HOSTS):
                continue
            if own and ((parts.scheme == "http" and host in _LOOPBACK) or not parts.scheme):
                continue
            raise NetworkError(
                f"nothing is fetched from {address[:200]!r}: it is not https, or no host that this program knows; mend "
                f"MS_{setting.upper()} in the environment or leave it out"
            )


def _own(setting: str) -> bool:
    return f"MS_{setting.upper()}" in os.environ


def _said(config: Any, setting: str) -> list[str]:
    said = getattr(config, setting)
    return [said] if isinstance(said, str) else list(said)


def _named_hosts(config: Any) -> frozenset[str]:
    """Hosts that are declared or that the user named."""
    named = [urlsplit(a).hostname for setting in _SETTINGS if _own(setting) for a in _said(config, setting)]
    return HOSTS | frozenset(filter(None, named))


def _astray(before: str, after: str, hosts: frozenset[str]) -> str:
    """Why a redirection is not followed, '' where it is; `after` may be without host, or relative."""
    parts = urlsplit(urljoin(before, after))
    if parts.scheme != urlsplit(before).scheme and parts.scheme != "https":
        return f"it leads from https to {parts.scheme}"
    if parts.hostname not in hosts:
        return f"it leads to another host, {str(parts.hostname)[:200]!r}"
    return ""


@contextmanager
def only_known_hosts(config: Any) -> Iterator[None]:
    """Within it, neither urllib (which reads yearly files for pandas) nor requests are led away by a redirection.

    They go on to hosts that are declared or that the user named, and never from TLS to plain text.

    Parameters
    ----------
    config
        Settings of meteostat, as for `check_addresses`.
    """
    import requests

    hosts = _named_hosts(config)

    class Redirects(urllib.request.HTTPRedirectHandler):
        def redirect_request(self, req, fp, code, msg, headers, newurl):
            if why := _astray(req.full_url, newurl, hosts):
                raise urllib.error.HTTPError(req.full_url, code, why, headers, fp)
            return super().redirect_request(req, fp, code, msg, headers, newurl)

    opener = urllib.request._opener  # type: ignore[attr-defined]  # there is no public way to ask which one is in use
    follow = requests.Session.get_redirect_target

    def checked(self: requests.Session, resp: requests.Response) -> str | None:
        target = follow(self, resp)
        if target and (why := _astray(resp.url, target, hosts)):
            raise requests.exceptions.InvalidURL(why)
        return target

    urllib.request.install_opener(urllib.request.build_opener(Redirects))
    requests.Session.get_redirect_target = checked  # type: ignore[method-assign, assignment]
    try:
        yield
    finally:
        urllib.request._opener = opener  # type: ignore[attr-defined]
        requests.Session.get_redirect_target = follow  # type: ignore[method-assign, assignment]


_HEAD = 100  # bytes of the header of an SQLite file (by its own file format)


def is_whole_list(path: Path) -> bool:
    """Whether a file is an SQLite file that is as long as its own header says."""
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            head = file.read(_HEAD)
    except OSError:
        return False
    if len(head) < _HEAD or not head.startswith(b"SQLite format 3\0"):
        return False
    page = int.from_bytes(head[16:18], "big")
    page = 65536 if page == 1 else page
    counted = head[24:28] == head[92:96]  # else an old program wrote it, which keeps no count
    return not counted or size >= page * int.from_bytes(head[28:32], "big")


def provide_list(ms: Any) -> None:
    """See to it that a whole list stands in its place: the fresh one, a newly fetched one, else the old one.

    Raises
    ------
    Exception
        As meteostat, where there is none and none can be fetched.
    """
    if not ms.config.stations_db_file:
        return
    place = Path(ms.config.stations_db_file)
    whole = is_whole_list(place)
    if whole and abs(time.time() - place.stat().st_mtime) < ms.config.stations_db_ttl:  # the clock may have gone back
        return
    try:
        with tempfile.TemporaryDirectory(prefix="sowcal-") as folder:
            fetched = Path(folder, "stations.db")
            ms.config.stations_db_file = str(fetched)  # meteostat fetches what is not there
            ms.stations.meta("00000")
            if not is_whole_list(fetched):
                raise OSError("the list of stations came cut short")
            write_whole(place, fetched.read_bytes())
    except Exception:
        if not whole:
            raise
        os.utime(place)  # an old list is better than none; the next fetch is a list's life away
    finally:
        ms.config.stations_db_file = str(place)


_PROBE_SECONDS = 5.0
_FILE_SECONDS = 20.0


@contextmanager
def service() -> Iterator[Any]:
    """meteostat with this package's settings; what the user set in the environment (MS_...) goes before."""
    import meteostat as ms

    # its own store would answer with files up to a month old, and holds pickles, which are programs when read
    settings: dict[str, Any] = {"block_large_requests": False, "include_model_data": False, "cache_enable": False}
    wait = _FILE_SECONDS  # meteostat reads its yearly files without any time limit
    if "MS_NETWORK_MAX_RETRIES" not in os.environ:
        settings["network_max_retries"] = 0
    if "MS_NETWORK_TIMEOUT" in os.environ:
        wait = float(ms.config.network_timeout)
    else:
        settings["network_timeout"] = 10
    for name, value in settings.items():
        setattr(ms.config, name, value)
    # with folders of the user's own, meteostat expects their parents to be there
    Path(ms.config.stations_db_file).parent.mkdir(parents=True, exist_ok=True)
    socket.setdefaulttimeout(wait)
    check_addresses(ms.config)
    with only_known_hosts(ms.config):
        yield ms


def ask_stations(ms: Any, question: Callable[[], Any]) -> Any:
    """An answer of the station list; it is fetched first where it is not kept yet.

    Raises
    ------
    NetworkError
        Where there is no list and none can be fetched.
    """
    with _complaints():
        try:
            provide_list(ms)
            return question()
        except Exception as problem:  # meteostat raises a bare Exception where the list cannot be fetched
            raise NetworkError(
                "the list of weather stations cannot be fetched; go online and try again, or give a record of "
                f"your own in a site file ({problem})"
            ) from None


@contextmanager
def _complaints() -> Iterator[list[str]]:
    """Collect what meteostat logs as a warning or worse, and keep it off the screen."""
    heard: list[str] = []

    class Ear(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            heard.append(record.getMessage())

    log = logging.getLogger("meteostat")
    ear, log.propagate = Ear(logging.WARNING), False
    log.addHandler(ear)
    try:
        yield heard
    finally:
        log.removeHandler(ear)


def _station(ms: Any, name: str) -> dict[str, Any] | None:
    found = ask_stations(ms, lambda: ms.stations.meta(name))
    if found is None or found.latitude is None or found.longitude is None:
        return None
    keys = ("id", "name", "country", "latitude", "longitude", "elevation", "timezone")
    return {k: _plain(getattr(found, k)) for k in keys}


def _plain(value: Any) -> Any:
    """A text, number or None for JSON; what is not known is None."""
    if value is None or value != value:
        return None
    return value if isinstance(value, str) else float(value)


def _near(ms: Any, latitude: float, longitude: float, radius: float, most: int) -> list[dict[str, Any]]:
    """Stations about a point, nearest first, with the first and last day with minima that the list has of each."""
    near = ask_stations(ms, lambda: ms.stations.nearby(ms.Point(latitude, longitude), radius=radius, limit=most))
    names = [str(name) for name in near.index]
    table = ask_stations(ms, lambda: ms.stations.inventory(names)).df if names else None
    held: dict[str, tuple[str, str]] = {}
    if table is not None:
        table = table.reset_index()
        table = table[table["parameter"].isin(["tmin", "TMIN"])]
        held = {str(n): (min(rows["start"])[:10], max(rows["end"])[:10]) for n, rows in table.groupby("station")}
    places = zip(names, near["distance"], near["elevation"], strict=True)
    return [{"id": n, "distance": float(d), "elevation": _plain(e), "held": held.get(n)} for n, d, e in places]


def by_year(
    ms: Any, station: dict[str, Any], first: date, last: date, what: str
) -> tuple[dict[str, np.ndarray] | None, str]:
    """Columns of the yearly files of a station, one file after the other, and the credit due.

    Parameters
    ----------
    ms
        meteostat, within `service`.
    station : dict
        As `sowcal.weather.meteostat_client.Station`.
    first, last : datetime.date
    what : str
        'daily' or 'hourly'.

    Returns
    -------
    columns : dict of numpy.ndarray or None
        `time` (datetime64[ns]) and the columns of meteostat in its units; None where there are no rows.
    credit : str

    Raises
    ------
    NetworkError
        Where the service cannot be reached, or not every yearly file could be read.
    """
    import pandas as pd

    _probe(ms, station["id"], last.year, what)
    ask = {"daily": ms.daily, "hourly": ms.hourly}[what]
    frames: list[Any] = []
    credits: dict[str, None] = {}
    years = range(first.year, last.year + 1)
    words = f"fetching {station['name'] or station['id']}, {what} values"
    with _complaints() as heard:
        for done, year in enumerate(years):
            tell_progress(words, done, len(years), "year")
            begin, end = max(first, date(year, 1, 1)), min(last, date(year, 12, 31))
            series = ask(ms.Station(**station), begin, end)
            frame = series.fetch()
            if frame is not None and len(frame := frame.dropna(axis="rows", how="all")):
                frames.append(frame)
                credits |= dict.fromkeys(series.attribution.split(", "))
        tell_progress(words, len(years), len(years), "year")
    if heard:
        raise NetworkError(
            f"{len(heard)} of {counted(len(years), 'yearly file')} of station {station['id']} could not be "
            f"fetched ({heard[0]}); try again later"
        )
    credit = ", ".join(credits)
    if not frames:
        return None, credit
    frame = pd.concat(frames)
    columns = {"time": frame.index.get_level_values("time").to_numpy().astype("datetime64[ns]")}
    return columns | {str(c): frame[c].astype("float64").to_numpy() for c in frame}, credit


def _probe(ms: Any, station: str, year: int, what: str) -> None:
    """Raise `NetworkError` at once where the service is out of reach, before 30 files are asked for in vain."""
    endpoint = ms.config.hourly_endpoint if what == "hourly" else ms.config.daily_endpoint
    address = endpoint.format(station=station, year=year)
    if not address.startswith("http"):
        return  # a folder of the user's own
    import requests

    name = address.split("/")[2]
    try:
        status = requests.head(address, timeout=_PROBE_SECONDS, allow_redirects=True).status_code
    except requests.exceptions.InvalidURL as problem:  # see `only_known_hosts`
        raise NetworkError(
            f"the weather service at {name} cannot be used ({problem}); try again later, or name the host that serves "
            f"the files now in MS_{what.upper()}_ENDPOINT in the environment"
        ) from None
    except requests.RequestException:
        raise NetworkError(
            f"the weather service at {name} cannot be reached; go online and try again, or give a record of "
            "your own in a site file"
        ) from None
    if status >= 500 or status in (401, 403, 429):
        raise NetworkError(f"the weather service at {name} answers with error {status}; try again later")


def answer(ms: Any, question: dict[str, Any]) -> tuple[dict[str, Any], dict[str, np.ndarray]]:
    """What is told in JSON to a question, and the arrays that go with it.

    Parameters
    ----------
    ms
        meteostat, within `service`.
    question : dict
        `ask` is 'station' (with `name`), 'near' (`latitude`, `longitude`, `radius`, `most`), 'daily' or 'hourly'
        (`station`, and `first` and `last` in ISO 8601).
    """
    ask, given = question["ask"], {k: v for k, v in question.items() if k != "ask"}
    if ask == "station":
        return {"station": _station(ms, given["name"])}, {}
    if ask == "near":
        return {"stations": _near(ms, **given)}, {}
    first, last = (date.fromisoformat(given[k]) for k in ("first", "last"))
    columns, credit = by_year(ms, given["station"], first, last, ask)
    return {"found": columns is not None, "credit": credit}, columns or {}


def _send(out: BinaryIO, told: dict[str, Any], arrays: dict[str, np.ndarray] | None = None) -> None:
    made = io.BytesIO()
    if arrays:
        np.savez(made, **arrays)  # type: ignore[arg-type]
        told["bytes"] = made.tell()
    out.write(json.dumps(told).encode() + b"\n" + made.getbuffer())
    out.flush()


def _questions(asked: queue.SimpleQueue[dict[str, Any]]) -> None:
    """Hand on what is asked; where the asker is gone, so is this, in the midst of a fetch too."""
    for line in sys.stdin.buffer:
        asked.put(json.loads(line))
    os._exit(0)


def main() -> None:
    """Answer questions until the asker goes."""
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a library prints is no answer
    asked: queue.SimpleQueue[dict[str, Any]] = queue.SimpleQueue()
    threading.Thread(target=_questions, args=(asked,), daemon=True).start()
    with heard_by(lambda *step: _send(out, {"progress": step})):
        while True:
            question = asked.get()
            try:
                with service() as ms:
                    _send(out, *answer(ms, question))
            except SowcalError as problem:
                _send(out, {"refused": problem.message})
            except Exception as problem:  # of another library; it is told as what it is
                _send(out, {"failed": f"{type(problem).__name__}: {problem}"})


if __name__ == "__main__":
    main()
