"""Station data of Meteostat: questions to a process of its own that fetches, and records made of its answers.

The package meteostat is loaded in that process only (`fetch_process`), so that nothing of the program that asks is
changed, and fetches side by side do not meet.
"""

from __future__ import annotations

import contextlib
import io
import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.child_process import start
from sowcal.errors import NetworkError
from sowcal.progress import tell_progress
from sowcal.weather.record import DailyRecord, StationFacts, daily_record

if TYPE_CHECKING:
    from sowcal.child_process import Popen

__all__ = ["Near", "Service", "Station", "fetch", "merged", "service", "station_facts"]

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


@dataclass(frozen=True, slots=True)
class Station:
    """A station of the list; degrees north and east, m."""

    id: str
    name: str | None
    country: str | None
    latitude: float
    longitude: float
    elevation: float | None
    timezone: str | None


@dataclass(frozen=True, slots=True)
class Near:
    """A station near a point: metres to it, its height (m), first and last day with minima by the list."""

    id: str
    distance: float
    elevation: float | None
    held: tuple[date, date] | None


class Service:
    """The process that fetches, started at the first question. Every question raises `NetworkError` where it cannot be
    answered."""

    def __init__(self) -> None:
        self._process: Popen[bytes] | None = None

    def station(self, name: str) -> Station | None:
        """The station of an id; None where the list has none, or no place of it."""
        found = self._asked({"ask": "station", "name": name})[0]["station"]
        return Station(**found) if found else None

    def near(self, latitude: float, longitude: float, radius: float, most: int = 30) -> list[Near]:
        """Stations within so many metres of a point, nearest first."""
        asked = {"ask": "near", "latitude": latitude, "longitude": longitude, "radius": radius, "most": most}
        out = []
        for one in self._asked(asked)[0]["stations"]:
            held = tuple(map(date.fromisoformat, one["held"])) if one["held"] else None
            out.append(Near(**{**one, "held": held}))
        return out

    def days(self, station: Station, first: date, last: date) -> tuple[dict[str, np.ndarray], str]:
        """Columns of the daily files, as meteostat has them, and the credit due; no column where there are no rows."""
        return self._rows("daily", station, first, last)

    def hours(self, station: Station, first: date, last: date) -> tuple[np.ndarray, np.ndarray, str] | None:
        """Hours (datetime64[h], UTC), temperatures (degC) and the credit due; None where there are none."""
        columns, credit = self._rows("hourly", station, first, last)
        if "temp" not in columns or np.isnan(columns["temp"]).all():
            return None
        return columns["time"].astype("datetime64[h]"), columns["temp"], credit

    def end(self) -> None:
        """End the process, in the midst of a fetch too."""
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.communicate()

    def _rows(self, ask: str, station: Station, first: date, last: date) -> tuple[dict[str, np.ndarray], str]:
        span = {"first": first.isoformat(), "last": last.isoformat()}
        told, columns = self._asked({"ask": ask, "station": asdict(station), **span})
        return columns, told["credit"]

    def _asked(self, question: dict[str, Any]) -> tuple[dict[str, Any], dict[str, np.ndarray]]:
        if self._process is None:
            try:
                self._process = start("sowcal.weather.fetch_process")
            except OSError as problem:
                raise NetworkError(f"no process to fetch weather could be started ({problem.strerror})") from None
        questions, answers = self._process.stdin, self._process.stdout
        assert questions is not None
        assert answers is not None
        try:
            questions.write(json.dumps(question).encode() + b"\n")
            questions.flush()
            while "progress" in (told := json.loads(answers.readline())):
                tell_progress(*told["progress"])
            raw = answers.read(told.get("bytes", 0))
            columns = dict(np.load(io.BytesIO(raw), allow_pickle=False)) if raw else {}
        except (OSError, ValueError):  # cut off
            self.end()
            raise NetworkError("the process that fetches weather was ended from outside; try again") from None
        if "failed" in told:
            raise NetworkError(f"weather cannot be fetched ({told['failed']}); try again later")
        if "refused" in told:
            raise NetworkError(told["refused"])
        return told, columns


@contextlib.contextmanager
def service() -> Iterator[Service]:
    """A process that fetches, ended when the block is left."""
    made = Service()
    try:
        yield made
    finally:
        made.end()


def fetch(ms: Service, station: Station, first: date, last: date) -> DailyRecord | None:
    """Observed days of a station, as they are at its own height; None where there are none.

    Raises
    ------
    NetworkError
        Where the service cannot be reached, or not every yearly file could be read.
    """
    columns, attribution = ms.days(station, first, last)
    known = {name: bool(np.isfinite(column).any()) for name, column in columns.items() if name != "time"}
    if not known.get("tmin") and not known.get("tmax"):
        return None
    unknown = np.full(columns["time"].shape, np.nan)
    values = {
        ours: columns.get(theirs, unknown) * factor
        for ours, (theirs, factor) in _PARAMETERS.items()
        if ours in ("tasmin", "tasmax") or known.get(theirs)
    }
    record = daily_record(
        columns["time"],
        values,
        latitude=station.latitude,
        longitude=station.longitude,
        elevation=station.elevation,
        title=station.name or f"station {station.id}",
        source=f"Meteostat, station {station.id} ({station.name})",
        licence=_LICENCE,
        history=f"fetched from Meteostat, station {station.id}",
    )
    return replace(record, station=station_facts(station, attribution))


def station_facts(station: Station, attribution: str) -> StationFacts:
    """What a record tells of its station."""
    height = float("nan") if station.elevation is None else float(station.elevation)
    place = float(station.latitude), float(station.longitude), height
    return StationFacts(station.id, station.name or "", attribution, *place)


def merged(old: DailyRecord, new: DailyRecord) -> DailyRecord:
    """Two pieces of one station's record; where both have a value the new one counts."""
    days = np.unique(np.concatenate([old.time, new.time]))
    values, origins = {}, {}
    names = [v for v in _PARAMETERS if v in old or v in new]
    for name in names:
        values[name], origins[name] = np.full(days.size, np.nan), np.zeros(days.size, dtype=np.int8)
        for piece in (old, new):
            if name in piece:
                at = np.searchsorted(days, piece.time)
                known = np.isfinite(piece[name])
                values[name][at[known]] = piece[name][known]
    out = daily_record(
        days,
        values,
        latitude=new.latitude,
        longitude=new.longitude,
        elevation=new.elevation,
        origin={"pr": 0, **origins},
    )
    return replace(new, time=out.time, values=out.values, origin=out.origin)
