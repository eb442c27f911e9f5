"""Hourly temperatures of a station, laid on days of local solar time, for what is counted in hours (chill)."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from sowcal.errors import InputError, NetworkError
from sowcal.weather import cache
from sowcal.weather.meteostat_client import Station, service
from sowcal.weather.stations import LAPSE_RATE, REVISED, span_of_years

if TYPE_CHECKING:
    import xarray as xr

    from sowcal.weather.record import DailyRecord

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
    temperature : numpy.ndarray, shape (d, 24)
        degC at hours 0 to 23 of local solar time, NaN where missing.
    warnings : tuple of str
    """

    days: np.ndarray
    temperature: np.ndarray
    warnings: tuple[str, ...] = ()

    def beside(self, record: DailyRecord) -> DailyRecord:
        """The record with these hours on its own days."""
        hours = np.full((record.size, 24), np.nan)
        _, here, there = np.intersect1d(record.time, self.days, return_indices=True)
        hours[here] = self.temperature[there]
        return replace(record, hours=hours, warnings=(*record.warnings, *self.warnings))


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
    record = cache.kept_hours(station)
    warnings: list[str] = []
    if record is None or not _covers(record, first, last):
        try:
            record = _fetched(station, record, first, last)
        except NetworkError as problem:
            if record is None:
                raise
            day = str(record.attrs["fetched"])[:10]
            warnings = [
                f"{problem.message.split(';')[0]}: the hourly values of station {station} fetched on {day} are used"
            ]
    out = record.sel(time=slice(first.isoformat(), last.isoformat()))
    if not out.sizes["time"]:
        raise InputError(f"station {station} has no hourly temperatures from {first.year} to {last.year}")
    height = float(record.attrs["station_elevation"])
    values = np.array(out["tas_hour"].values, dtype=float)
    if elevation is not None and abs(elevation - height) >= 1.0:
        values -= LAPSE_RATE * (elevation - height) / 1000.0
    return StationHours(out["time"].values.astype("datetime64[D]"), values, tuple(warnings))


def _covers(record: xr.Dataset, first: date, last: date) -> bool:
    return record.attrs["asked_first"] <= first.isoformat() and record.attrs["asked_last"] >= last.isoformat()


def _fetched(station: str, before: xr.Dataset | None, first: date, last: date) -> xr.Dataset:
    """What is kept with what it lacks fetched and kept."""
    spans = [(first, last)]
    if before is not None:
        begin, end = (date.fromisoformat(before.attrs[k]) for k in ("asked_first", "asked_last"))
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
        record = _joined(record, _dataset(found, hours, temperature, credit))
    if record is None:
        raise InputError(
            f"station {station} ({found.name}) has no hourly temperatures from {first.year} to {last.year}; leave "
            "hourly away"
        )
    record.attrs |= {
        "fetched": datetime.now(UTC).isoformat(timespec="seconds"),
        "asked_first": first.isoformat(),
        "asked_last": last.isoformat(),
    }
    cache.keep_hours(station, record)
    return record


def _dataset(station: Station, hours: np.ndarray, temperature: np.ndarray, credit: str) -> xr.Dataset:
    import xarray as xr

    days, values = hours_by_day(hours, temperature, float(station.longitude))
    out = xr.Dataset(
        {"tas_hour": (("time", "hour"), values, {"units": "degC", "standard_name": "air_temperature"})},
        {
            "time": ("time", days.astype("datetime64[ns]")),
            "hour": ("hour", np.arange(24), {"long_name": "hour of local solar time"}),
            "latitude": float(station.latitude),
            "longitude": float(station.longitude),
            "elevation": float("nan") if station.elevation is None else float(station.elevation),
        },
    )
    out.attrs = {
        "station": station.id,
        "station_name": station.name or "",
        "station_elevation": float("nan") if station.elevation is None else float(station.elevation),
        "attribution": credit,
    }
    return out


def _joined(old: xr.Dataset | None, new: xr.Dataset) -> xr.Dataset:
    """Two pieces; where both have an hour the new one counts, and days between them are missing."""
    if old is None:
        return new
    days = np.arange(
        min(d["time"].values[0] for d in (old, new)).astype("datetime64[D]"),
        max(d["time"].values[-1] for d in (old, new)).astype("datetime64[D]") + np.timedelta64(1, "D"),
    ).astype("datetime64[ns]")
    both = [d.reindex(time=days) for d in (new, old)]
    return both[0].combine_first(both[1]).assign_attrs(new.attrs)
