"""Hourly temperatures of a station, laid on days of local solar time, for what is counted in hours (chill)."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from sowcal.errors import InputError, NetworkError
from sowcal.weather import cache
from sowcal.weather.cf_dataset import station_attributes, station_of
from sowcal.weather.meteostat_client import service, station_facts
from sowcal.weather.stations import LAPSE_RATE, REVISED, span_of_years

if TYPE_CHECKING:
    import xarray as xr

    from sowcal.weather.record import DailyRecord, StationFacts

__all__ = ["StationHours", "get_station_hours", "hours_by_day"]

# Many stations report every third hour: two hours between two reports are interpolated. Common practice.
_LONGEST_GAP = 2


def hours_by_day(hours: np.ndarray, temperature: np.ndarray, longitude: float) -> tuple[np.ndarray, np.ndarray]:
    """Hours of universal time as whole days of local solar time, to the nearest hour.

    Parameters
    ----------
    hours : numpy.ndarray of datetime64[h], shape (n,)
        Universal time, in any order.
    temperature : numpy.ndarray, shape (n,)
        degC.
    longitude : float
        Degrees east; 15 degrees are an hour.

    Returns
    -------
    days : numpy.ndarray of datetime64[D], shape (d,)
        Without gaps.
    values : numpy.ndarray, shape (d, 24)
        degC at hours 0 to 23; up to two missing hours between two readings are interpolated, longer gaps are NaN.
    """
    shifted = hours.astype("datetime64[h]") + np.timedelta64(round(((longitude + 180.0) % 360.0 - 180.0) / 15.0), "h")
    days = np.arange(
        shifted.min().astype("datetime64[D]"), shifted.max().astype("datetime64[D]") + np.timedelta64(1, "D")
    )
    values = np.full(days.size * 24, np.nan)
    values[(shifted - days[0].astype("datetime64[h]")).astype(int)] = temperature
    known = np.flatnonzero(np.isfinite(values))
    if known.size:
        steps = np.diff(known)
        for k in np.flatnonzero((steps > 1) & (steps <= _LONGEST_GAP + 1)):
            inside = np.arange(known[k] + 1, known[k + 1])
            values[inside] = np.interp(inside, known[k : k + 2], values[known[k : k + 2]])
    return days, values.reshape(-1, 24)


@dataclass(frozen=True, eq=False)
class StationHours:
    """Hourly temperatures of a station.

    Attributes
    ----------
    days : numpy.ndarray of datetime64[D], shape (d,)
        Without gaps.
    temperature : numpy.ndarray, shape (d, 24)
        degC at hours 0 to 23 of local solar time, NaN where missing.
    station : StationFacts
    warnings : tuple of str
    """

    days: np.ndarray
    temperature: np.ndarray
    station: StationFacts
    warnings: tuple[str, ...] = ()

    def on(self, days: np.ndarray) -> np.ndarray:
        """The temperatures on other days, shape (n, 24), NaN where there are none."""
        out = np.full((days.size, 24), np.nan)
        _, here, there = np.intersect1d(days, self.days, return_indices=True)
        out[here] = self.temperature[there]
        return out

    def beside(self, record: DailyRecord) -> DailyRecord:
        """The record with these hours on its own days."""
        return replace(record, hours=self.on(record.time), warnings=(*record.warnings, *self.warnings))


def get_station_hours(
    station: str,
    *,
    years: int = 30,
    elevation: float | None = None,
    today: date | None = None,
) -> StationHours:
    """Hourly temperatures of one station, fetched or kept.

    Parameters
    ----------
    station : str
        Its id at Meteostat.
    years : int, default 30
        Whole years before this one; this year's days so far come on top.
    elevation : float, optional
        m; temperatures are adjusted to it, as those of the days are.
    today : datetime.date, optional

    Returns
    -------
    StationHours
        Where a kept record had to do, its `warnings` say so.

    Raises
    ------
    NetworkError
        Where the service cannot be reached and nothing is kept.
    InputError
        For a station without hourly temperatures in these years.
    """
    first, last = span_of_years(years, today)
    record = _kept(station)
    warnings: tuple[str, ...] = ()
    if record is None or not _covers(record, first, last):
        try:
            record = _fetched(station, record, first, last)
        except NetworkError as problem:
            if record is None:
                raise
            words, day = problem.message.split(";")[0], record.station.fetched[:10]
            warnings = (f"{words}: the hourly values of station {station} fetched on {day} are used",)
    inside = (record.days >= np.datetime64(first)) & (record.days <= np.datetime64(last))
    if not inside.any():
        raise InputError(f"station {station} has no hourly temperatures from {first.year} to {last.year}")
    values, height = record.temperature[inside], record.station.elevation
    if elevation is not None and abs(elevation - height) >= 1.0:
        values = values - LAPSE_RATE * (elevation - height) / 1000.0
    return StationHours(record.days[inside], values, record.station, warnings)


def _covers(record: StationHours, first: date, last: date) -> bool:
    return record.station.asked_first <= first.isoformat() and record.station.asked_last >= last.isoformat()


def _fetched(station: str, before: StationHours | None, first: date, last: date) -> StationHours:
    """What is kept with what it lacks fetched and kept."""
    spans = [(first, last)]
    if before is not None:
        begin, end = (date.fromisoformat(day) for day in (before.station.asked_first, before.station.asked_last))
        spans = [(first, begin - timedelta(days=1))] if first < begin else []
        spans += [(max(end - timedelta(days=REVISED), first), last)] if last > end else []
        first, last = min(first, begin), max(last, end)
    with service() as ms:
        found = ms.station(station)
        if found is None:
            raise InputError(f"there is no station {station!r} in the list of Meteostat; check its id")
        pieces = [p for span in spans if (p := ms.hours(found, *span)) is not None]
    record = before
    for hours, temperature, credit in pieces:
        days, values = hours_by_day(hours, temperature, float(found.longitude))
        record = _joined(record, StationHours(days, values, station_facts(found, credit)))
    if record is None:
        raise InputError(
            f"station {station} ({found.name}) has no hourly temperatures from {first.year} to {last.year}; leave "
            "hourly away"
        )
    now = datetime.now(UTC).isoformat(timespec="seconds")
    asked = replace(record.station, fetched=now, asked_first=first.isoformat(), asked_last=last.isoformat())
    record = replace(record, station=asked)
    cache.keep_hours(station, _dataset(record))
    return record


def _joined(old: StationHours | None, new: StationHours) -> StationHours:
    """Two pieces; where both have an hour the new one counts, and days between them are missing."""
    if old is None:
        return new
    ends = [d[k] for d in (old.days, new.days) for k in (0, -1)]
    days = np.arange(min(ends), max(ends) + np.timedelta64(1, "D"))
    before, after = old.on(days), new.on(days)
    return replace(new, days=days, temperature=np.where(np.isfinite(after), after, before))


def _dataset(record: StationHours) -> xr.Dataset:
    """As it is kept: a file that any program for climate data can read."""
    import xarray as xr

    station = record.station
    return xr.Dataset(
        {"tas_hour": (("time", "hour"), record.temperature, {"units": "degC", "standard_name": "air_temperature"})},
        {
            "time": ("time", record.days.astype("datetime64[ns]")),
            "hour": ("hour", np.arange(24), {"long_name": "hour of local solar time"}),
            **{k: getattr(station, k) for k in ("latitude", "longitude", "elevation")},
        },
        station_attributes(station),
    )


def _kept(station: str) -> StationHours | None:
    found = cache.kept_hours(station)
    facts = station_of(found.attrs) if found is not None else None
    if found is None or facts is None:
        return None
    return StationHours(found["time"].values.astype("datetime64[D]"), found["tas_hour"].values, facts)
