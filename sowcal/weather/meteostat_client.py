"""Where weather may be fetched from: the declared hosts over verified TLS, or what the user names in the environment.

Certificates are checked by requests and urllib as they come. Here the addresses are checked before anything is asked,
and so is every address that an answer leads on to.
"""

from __future__ import annotations

import logging
import os
import socket
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urljoin, urlsplit

import numpy as np

from sowcal.counted import counted
from sowcal.errors import NetworkError
from sowcal.files import part_name, write_whole
from sowcal.progress import tell_progress
from sowcal.weather.record import daily_dataset

if TYPE_CHECKING:
    import xarray as xr

__all__ = [
    "HOSTS",
    "ask_stations",
    "check_addresses",
    "fetch",
    "fetch_hours",
    "holdings",
    "is_whole_list",
    "merged",
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


_HEAD = 100  # bytes of the header of an SQLite file ("Database File Format" of sqlite.org, section 1.3)


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
    if whole and time.time() - place.stat().st_mtime < ms.config.stations_db_ttl:
        return
    fetched = place.with_name(part_name())  # meteostat's own cache: what a kill leaves there goes with the next fetch
    try:
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
        fetched.unlink(missing_ok=True)


_PROBE_SECONDS = 5.0
_FILE_SECONDS = 20.0
_LICENCE = "CC BY 4.0 unless the producer says otherwise (Meteostat terms)"

# our name: (meteostat's, factor); its wind is in km/h
_PARAMETERS = {
    "tasmin": ("tmin", 1.0),
    "tasmax": ("tmax", 1.0),
    "tas": ("temp", 1.0),
    "pr": ("prcp", 1.0),
    "hurs": ("rhum", 1.0),
    "sfcWind": ("wspd", 1.0 / 3.6),
}


@contextmanager
def service() -> Iterator[Any]:
    """meteostat with this package's settings; what the user set in the environment (MS_...) goes before."""
    import meteostat as ms

    # its own store would answer with files up to a month old, and holds pickles, which are programs when read
    settings: dict[str, Any] = {"block_large_requests": False, "include_model_data": False, "cache_enable": False}
    for variable, setting, value in (
        ("MS_NETWORK_MAX_RETRIES", "network_max_retries", 0),
        ("MS_NETWORK_TIMEOUT", "network_timeout", 10),
    ):
        if variable not in os.environ:
            settings[setting] = value
    before = {name: getattr(ms.config, name) for name in settings}
    for name, value in settings.items():
        setattr(ms.config, name, value)
    # with folders of the user's own, meteostat expects their parents to be there
    Path(ms.config.stations_db_file).parent.mkdir(parents=True, exist_ok=True)
    wait = socket.getdefaulttimeout()
    socket.setdefaulttimeout(_FILE_SECONDS)  # meteostat reads its yearly files without any time limit
    try:
        check_addresses(ms.config)
        with only_known_hosts(ms.config):
            yield ms
    finally:
        socket.setdefaulttimeout(wait)
        for name, value in before.items():
            setattr(ms.config, name, value)


def ask_stations(question: Any) -> Any:
    """An answer of the station list; it is fetched first where it is not kept yet."""
    with _complaints():
        try:
            import meteostat

            provide_list(meteostat)
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
    ear, propagate = Ear(logging.WARNING), log.propagate
    log.addHandler(ear)
    log.propagate = False
    try:
        yield heard
    finally:
        log.removeHandler(ear)
        log.propagate = propagate


def holdings(ms: Any, names: list[str]) -> dict[str, tuple[date, date]]:
    """First and last day with minima of each station, as the list of stations has it."""
    table = ask_stations(lambda: ms.stations.inventory(names)).df
    if table is None:
        return {}
    table = table.reset_index()
    table = table[table["parameter"].isin(["tmin", "TMIN"])]
    return {
        name: (date.fromisoformat(min(rows["start"])[:10]), date.fromisoformat(max(rows["end"])[:10]))
        for name, rows in table.groupby("station")
    }


def fetch(ms: Any, station: Any, first: date, last: date) -> xr.Dataset | None:
    """Observed days of a station, as they are at its own height; None where there are none.

    Raises
    ------
    NetworkError
        Where the service cannot be reached, or not every yearly file could be read.
    """
    frame, attribution = _by_year(ms, station, first, last, "daily")
    if frame is None or frame[["tmin", "tmax"]].isna().all(axis=None):
        return None
    values = {
        ours: frame[theirs].astype("float64").to_numpy() * factor
        for ours, (theirs, factor) in _PARAMETERS.items()
        if theirs in frame and (ours in ("tasmin", "tasmax") or not frame[theirs].isna().all())
    }
    dataset = daily_dataset(
        frame.index.get_level_values("time").to_numpy(),
        values,
        latitude=station.latitude,
        longitude=station.longitude,
        elevation=station.elevation,
        title=station.name or f"station {station.id}",
        source=f"Meteostat, station {station.id} ({station.name})",
        licence=_LICENCE,
        history=f"fetched from Meteostat, station {station.id}",
    )
    dataset.attrs |= {
        "attribution": attribution,
        "station": station.id,
        "station_name": station.name or "",
        "station_latitude": float(station.latitude),
        "station_longitude": float(station.longitude),
        "station_elevation": float("nan") if station.elevation is None else float(station.elevation),
    }
    return dataset


def fetch_hours(ms: Any, station: Any, first: date, last: date) -> tuple[np.ndarray, np.ndarray, str] | None:
    """Hours (datetime64[h], UTC), temperatures (degC) and the credit due; None where there are none.

    Raises
    ------
    NetworkError
        As `fetch`.
    """
    frame, attribution = _by_year(ms, station, first, last, "hourly")
    if frame is None or "temp" not in frame or frame["temp"].isna().all():
        return None
    hours = frame.index.get_level_values("time").to_numpy().astype("datetime64[h]")
    return hours, frame["temp"].astype("float64").to_numpy(), attribution


def _by_year(ms: Any, station: Any, first: date, last: date, what: str) -> tuple[Any, str]:
    """Rows of the yearly files of a station, one file after the other, and the credit due."""
    import pandas as pd

    _probe(ms, station.id, last.year, what)
    ask = {"daily": ms.daily, "hourly": ms.hourly}[what]
    frames: list[Any] = []
    credits: dict[str, None] = {}
    years = range(first.year, last.year + 1)
    words = f"{station.name or station.id}, {what} values"
    with _complaints() as heard:
        for done, year in enumerate(years):
            tell_progress(words, done, len(years))
            begin, end = max(first, date(year, 1, 1)), min(last, date(year, 12, 31))
            series = ask(ms.Station(**_described(station)), begin, end)
            frame = series.fetch()
            if frame is not None and len(frame := frame.dropna(axis="rows", how="all")):
                frames.append(frame)
                credits |= dict.fromkeys(series.attribution.split(", "))
        tell_progress(words, len(years), len(years))
    if heard:
        raise NetworkError(
            f"{len(heard)} of {counted(len(years), 'yearly file')} of station {station.id} could not be "
            f"fetched ({heard[0]}); try again later"
        )
    return (pd.concat(frames) if frames else None), ", ".join(credits)


def _described(station: Any) -> dict[str, Any]:
    keys = ("id", "name", "country", "latitude", "longitude", "elevation", "timezone")
    return {k: getattr(station, k) for k in keys}


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


def merged(old: xr.Dataset, new: xr.Dataset) -> xr.Dataset:
    """Two pieces of one station's record; where both have a value the new one counts."""
    days = np.unique(np.concatenate([d["time"].values for d in (old, new)])).astype("datetime64[D]")
    values, origins = {}, {}
    names = [v for v in _PARAMETERS if v in old or v in new]
    for name in names:
        values[name], origins[name] = np.full(days.size, np.nan), np.zeros(days.size, dtype=np.int8)
        for piece in (old, new):
            if name in piece:
                at = np.searchsorted(days, piece["time"].values.astype("datetime64[D]"))
                known = np.isfinite(piece[name].values)
                values[name][at[known]] = piece[name].values[known]
    out = daily_dataset(
        days,
        values,
        latitude=float(new["latitude"]),
        longitude=float(new["longitude"]),
        elevation=float(new["elevation"]),
        origin={"pr": 0, **origins},
    )
    out.attrs = dict(new.attrs)
    return out
