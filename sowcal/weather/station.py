"""Records of weather stations, through the `meteostat` package: this module is the door to the network.

meteostat tells being offline, a file that is not there and a file without these days alike, as an empty
series; here they become different sentences. A store of what was fetched, in an open format, belongs beside
this module.
"""

from __future__ import annotations

import logging
import os
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.errors import InputError, NetworkError
from sowcal.weather.dataset import check_place, daily_dataset

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

__all__ = ["get_point", "get_station"]

# ICAO standard atmosphere (1993): 6.5 K per km; from memory, and meteostat's own default
_LAPSE_RATE = 6.5
_RADIUS = 75_000.0  # m; how far a station may be: common practice, no source
_HEIGHT_WEIGHT = 10.0  # a metre of height counts as ten of distance: meteostat's default elevation_weight
_LONG_ENOUGH = 0.8  # share of the years asked for that a station must cover to be preferred: common practice
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


def get_station(
    station: str,
    *,
    years: int = 30,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation: float | None = None,
    today: date | None = None,
) -> xr.Dataset:
    """The daily record of one station.

    Parameters
    ----------
    station : str
        Its id at Meteostat.
    years : int, default 30
        Whole years before this one; this year's days so far come on top.
    latitude, longitude, elevation : float, optional
        The site it stands for; the station's own where left out. Temperatures are adjusted to the site's
        height.
    today : datetime.date, optional
        Told by the clock when left out.

    Returns
    -------
    xarray.Dataset
        In the form of `daily_dataset`, observations only; the attributes name the station and the producers.

    Raises
    ------
    NetworkError
        Where the service cannot be reached or answers with an error.
    InputError
        For a station that is not known or has no record in these years.
    """
    with _service() as ms:
        found = _ask_stations(lambda: ms.stations.meta(station))
        if found is None or found.latitude is None:
            raise InputError(f"there is no station {station!r} in the list of Meteostat; check its id")
        return _record(ms, found, years, latitude, longitude, elevation, today)


def get_point(
    latitude: float,
    longitude: float,
    elevation: float | None = None,
    years: int = 30,
    *,
    today: date | None = None,
) -> xr.Dataset:
    """The daily record of the best station near a point, adjusted to its height where that is known.

    Best is the nearest one (a metre of height counts as ten of distance) among those whose list of holdings
    covers four fifths of the years asked for; without any such, the longest record within 75 km. A station
    that proves empty is passed over for the next.

    Parameters
    ----------
    latitude, longitude : float
        Degrees north and east.
    elevation : float, optional
        m; without it temperatures are left as they are at the station.
    years : int, default 30
    today : datetime.date, optional

    Returns
    -------
    xarray.Dataset
        As `get_station`.

    Raises
    ------
    NetworkError, InputError
        As `get_station`; `InputError` also where no station is near.
    """
    check_place(latitude, longitude)
    with _service() as ms:
        near = _ask_stations(lambda: ms.stations.nearby(ms.Point(latitude, longitude), radius=_RADIUS, limit=30))
        if near.empty:
            raise InputError(
                f"there is no weather station within {_RADIUS / 1000:.0f} km of {latitude:g}, "
                f"{longitude:g}; give a "
                "record of your own, or monthly normals, in a site file"
            )
        order = _best_first(near, _holdings(ms, list(near.index)), elevation, years, today or date.today())
        for name in order[:4]:
            try:
                station = _ask_stations(lambda name=name: ms.stations.meta(name))
                dataset = _record(ms, station, years, latitude, longitude, elevation, today)
            except InputError:
                continue
            return dataset
    raise InputError(
        f"no station within {_RADIUS / 1000:.0f} km of {latitude:g}, {longitude:g} has daily minima "
        f"and maxima in the "
        f"last {years} years; give a record of your own, or monthly normals, in a site file"
    )


@contextmanager
def _service() -> Iterator[Any]:
    """meteostat with this package's settings; what the user set in the environment (MS_...) goes before."""
    import meteostat as ms

    settings: dict[str, Any] = {"block_large_requests": False, "include_model_data": False}
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
        yield ms
    finally:
        socket.setdefaulttimeout(wait)
        for name, value in before.items():
            setattr(ms.config, name, value)


def _ask_stations(question: Any) -> Any:
    """An answer of the station list; it is fetched first where it is not kept yet."""
    with _complaints():
        try:
            return question()
        except Exception as problem:  # meteostat raises a bare Exception where the list cannot be fetched
            raise NetworkError(
                "the list of weather stations cannot be fetched; go online and try again, or give a "
                "record of your "
                f"own in a site file ({problem})"
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


def _holdings(ms: Any, names: list[str]) -> dict[str, tuple[date, date]]:
    """First and last day with minima of each station, as the list of stations has it."""
    table = _ask_stations(lambda: ms.stations.inventory(names)).df
    if table is None:
        return {}
    table = table.reset_index()
    table = table[table["parameter"].isin(["tmin", "TMIN"])]
    return {
        name: (date.fromisoformat(min(rows["start"])[:10]), date.fromisoformat(max(rows["end"])[:10]))
        for name, rows in table.groupby("station")
    }


def _best_first(
    near: pd.DataFrame, held: dict[str, tuple[date, date]], elevation: float | None, years: int, today: date
) -> list[str]:
    begin = date(today.year - years, 1, 1)
    ranked = []
    for name, row in near.iterrows():
        first, last = held.get(str(name), (today, today))
        covered = max((min(last, today) - max(first, begin)).days, 0) / (365.25 * years)
        height = 0.0 if elevation is None or np.isnan(row["elevation"]) else abs(row["elevation"] - elevation)
        far = float(np.hypot(row["distance"], _HEIGHT_WEIGHT * height))
        long_enough = covered >= _LONG_ENOUGH
        ranked.append((not long_enough, far if long_enough else -covered, far, str(name)))
    return [name for *_, name in sorted(ranked)]


def _record(
    ms: Any,
    station: Any,
    years: int,
    latitude: float | None,
    longitude: float | None,
    elevation: float | None,
    today: date | None,
) -> xr.Dataset:
    today = today or date.today()
    first, last = date(today.year - years, 1, 1), today - timedelta(days=1)
    _probe(ms, station.id, last.year)
    with _complaints() as heard:
        series = ms.daily(ms.Station(**_described(station)), first, last)
        frame = series.fetch()
    if heard:
        raise NetworkError(
            f"{len(heard)} of {last.year - first.year + 1} yearly files of station {station.id} could "
            f"not be fetched "
            f"({heard[0]}); try again later"
        )
    frame = None if frame is None else frame.dropna(axis="rows", how="all")
    if frame is None or not len(frame) or frame[["tmin", "tmax"]].isna().all(axis=None):
        raise InputError(
            f"station {station.id} ({station.name}) has no daily minima and maxima from {first.year} "
            f"to {last.year}; "
            "choose another station"
        )
    return _as_dataset(frame, series, station, latitude, longitude, elevation)


def _described(station: Any) -> dict[str, Any]:
    return {k: getattr(station, k) for k in ("id", "name", "country", "latitude", "longitude", "elevation", "timezone")}


def _probe(ms: Any, station: str, year: int) -> None:
    """Raise `NetworkError` at once where the service is out of reach, before 30 files are asked for "
    "in vain."""
    address = ms.config.daily_endpoint.format(station=station, year=year)
    if not address.startswith("http"):
        return  # a folder of the user's own
    import requests

    try:
        status = requests.head(address, timeout=_PROBE_SECONDS, allow_redirects=True).status_code
    except requests.RequestException:
        raise NetworkError(
            f"the weather service at {address.split('/')[2]} cannot be reached; go online and try "
            f"again, or give a "
            "record of your own in a site file"
        ) from None
    if status >= 500 or status in (401, 403, 429):
        raise NetworkError(
            f"the weather service at {address.split('/')[2]} answers with error {status}; try again later"
        )


def _as_dataset(
    frame: pd.DataFrame,
    series: Any,
    station: Any,
    latitude: float | None,
    longitude: float | None,
    elevation: float | None,
) -> xr.Dataset:
    values = {
        ours: frame[theirs].astype("float64").to_numpy() * factor
        for ours, (theirs, factor) in _PARAMETERS.items()
        if theirs in frame and not frame[theirs].isna().all()
    }
    height = float("nan") if station.elevation is None else float(station.elevation)
    steps = [f"fetched from Meteostat, station {station.id}"]
    if elevation is not None and abs(elevation - height) >= 1.0:
        change = -_LAPSE_RATE * (elevation - height) / 1000.0
        for name in ("tasmin", "tasmax", "tas"):
            if name in values:
                values[name] = values[name] + change
        steps.append(f"temperatures changed by {change:+.2f} K for a height difference of {elevation - height:+.0f} m")
    crossed = values["tasmin"] > values["tasmax"]
    if crossed.any():
        values["tasmin"][crossed] = values["tasmax"][crossed] = np.nan
        steps.append(f"{int(crossed.sum())} days with a minimum above the maximum set to missing")
    at = (station.latitude, station.longitude)
    here = (at[0] if latitude is None else latitude, at[1] if longitude is None else longitude)
    dataset = daily_dataset(
        frame.index.get_level_values("time").to_numpy(),
        values,
        latitude=here[0],
        longitude=here[1],
        elevation=height if elevation is None else elevation,
        title=station.name or f"station {station.id}",
        source=f"Meteostat, station {station.id} ({station.name})",
        licence=_LICENCE,
        history="; ".join(steps),
    )
    dataset.attrs |= {
        "attribution": series.attribution,
        "station": station.id,
        "station_name": station.name or "",
        "station_elevation": height,
        "station_distance_km": round(_distance(*here, *at), 1),
    }
    return dataset


def _distance(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    """Great-circle distance, km (haversine, mean radius 6371 km)."""
    p1, p2, half = np.radians(lat1), np.radians(lat2), np.radians(lon2 - lon1) / 2.0
    h = np.sin((p2 - p1) / 2.0) ** 2 + np.cos(p1) * np.cos(p2) * np.sin(half) ** 2
    return float(2.0 * 6371.0 * np.arcsin(np.sqrt(h)))
