"""The door to the network: what is asked of the `meteostat` package, and what its answers mean.

meteostat tells being offline, a file that is not there and a file without these days alike, as an empty
series; here they become different sentences.
"""

from __future__ import annotations

import logging
import os
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.counted import counted
from sowcal.errors import NetworkError
from sowcal.weather.addresses import check_addresses, only_known_hosts
from sowcal.weather.dataset import daily_dataset
from sowcal.weather.progress import tell_progress
from sowcal.weather.station_list import provide_list

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["ask_stations", "fetch", "fetch_hours", "holdings", "merged", "service"]

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
