"""Which station stands best for a point: near in distance and height, with a record that is long enough."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np

from sowcal.errors import InputError, NetworkError
from sowcal.languages import counted
from sowcal.weather import cache
from sowcal.weather.meteostat_client import Near, Service, Station, fetch, merged, service
from sowcal.weather.record import MISSING, DailyRecord, Note, StationFacts, check_place
from sowcal.year import clock_day

__all__ = [
    "LAPSE_RATE",
    "RADIUS",
    "REVISED",
    "best_first",
    "distance",
    "get_point",
    "get_station",
    "nearest_kept",
    "span_of_years",
]

RADIUS = 75_000.0  # m; how far a station may be: common practice, no source
_HEIGHT_WEIGHT = 10.0  # a metre of height counts as ten of distance: meteostat's default elevation_weight
_LONG_ENOUGH = 0.8  # share of the years asked for that a station must cover to be preferred: common practice


def best_first(near: list[Near], elevation: float | None, years: int, today: date) -> list[str]:
    """Ids of the stations, those with a long record first, and of these the nearest; then the longest."""
    begin = date(today.year - years, 1, 1)
    ranked = []
    for one in near:
        first, last = one.held or (today, today)
        covered = max((min(last, today) - max(first, begin)).days, 0) / (365.25 * years)
        height = 0.0 if elevation is None or one.elevation is None else abs(one.elevation - elevation)
        far = float(np.hypot(one.distance, _HEIGHT_WEIGHT * height))
        long_enough = covered >= _LONG_ENOUGH
        ranked.append((not long_enough, far if long_enough else -covered, far, one.id))
    return [name for *_, name in sorted(ranked)]


def nearest_kept(
    records: list[DailyRecord], latitude: float, longitude: float, elevation: float | None
) -> DailyRecord | None:
    """Of the kept records, the one that stands best for a point; None where none is near enough."""
    ranked = []
    for k, record in enumerate(records):
        at = _station(record)
        away = 1000.0 * distance(latitude, longitude, at.latitude, at.longitude)
        height = 0.0 if elevation is None else abs(at.elevation - elevation)
        if away <= RADIUS:
            ranked.append((float(np.hypot(away, _HEIGHT_WEIGHT * np.nan_to_num(height))), k))
    return records[min(ranked)[1]] if ranked else None


def distance(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    """Great-circle distance, km (haversine, mean radius 6371 km)."""
    p1, p2, half = np.radians(lat1), np.radians(lat2), np.radians(lon2 - lon1) / 2.0
    h = np.sin((p2 - p1) / 2.0) ** 2 + np.cos(p1) * np.cos(p2) * np.sin(half) ** 2
    return float(2.0 * 6371.0 * np.arcsin(np.sqrt(h)))


# ICAO standard atmosphere (1993): 6.5 K per km; from memory, and meteostat's own default
LAPSE_RATE = 6.5
REVISED = 30  # days before the last kept one that are fetched again, as late reports come in: common practice
_LATEST = 400  # days; what a station has not reported after so long is not waited for: common practice


def get_station(
    station: str,
    *,
    years: int = 30,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation: float | None = None,
    today: date | None = None,
) -> DailyRecord:
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
    DailyRecord
        Observations only; `station` names it, the producers and when it was fetched. Where a kept record had to do,
        `warnings` says how old it is.

    Raises
    ------
    NetworkError
        Where the service cannot be reached or answers with an error, and nothing is kept of the station.
    InputError
        For a station that is not known or has no record in these years.
    """
    first, last = span_of_years(years, today)
    record = _complete(station, first, last)
    if record is None:
        try:
            with service() as ms:
                found = ms.station(station)
                if found is None:
                    raise InputError(f"there is no station {station!r} in the list of Meteostat; check its id")
                record = _up_to_date(ms, found, first, last)
        except NetworkError as problem:
            record = _fallback(station, problem, first)
    return _at_site(_cut(record, first, last), latitude, longitude, elevation)


def get_point(
    latitude: float,
    longitude: float,
    elevation: float | None = None,
    years: int = 30,
    *,
    today: date | None = None,
) -> DailyRecord:
    """The daily record of the best station near a point, adjusted to its height where that is known.

    Best is the nearest one (a metre of height counts as ten of distance) among those whose list of holdings
    covers four fifths of the years asked for; without any such, the longest record within 75 km. A station
    that proves empty is passed over for the next. Where the list of stations cannot be had, the best of the
    kept records within 75 km answers, and says so.

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
    DailyRecord
        As `get_station`.

    Raises
    ------
    NetworkError, InputError
        As `get_station`; `InputError` also where no station is near.
    """
    check_place(latitude, longitude)
    first, last = span_of_years(years, today)
    try:
        order = _candidates(latitude, longitude, elevation, years, today or clock_day())
        return _first_with_days(order, latitude, longitude, elevation, years, today)
    except NetworkError as problem:
        records = [
            d for k in cache.kept_records() if k.sound and k.what == "days" and (d := cache.kept(k.station)) is not None
        ]
        best = nearest_kept(records, latitude, longitude, elevation)
        if best is None:
            raise
        record = _fallback(_station(best).id, problem, first)
        return _at_site(_cut(record, first, last), latitude, longitude, elevation)


def _first_with_days(
    order: list[str], latitude: float, longitude: float, elevation: float | None, years: int, today: date | None
) -> DailyRecord:
    for name in order[:4]:
        try:
            return get_station(
                name, years=years, latitude=latitude, longitude=longitude, elevation=elevation, today=today
            )
        except InputError:
            continue
    raise InputError(
        f"no station within {RADIUS / 1000:.0f} km of {latitude:g}, {longitude:g} has daily minima and maxima in "
        f"the last {counted(years, 'year')}; give a record of your own, or monthly normals, in a site file"
    )


def span_of_years(years: int, today: date | None) -> tuple[date, date]:
    """First and last day of so many whole years and of this one so far."""
    today = today or clock_day()
    return date(today.year - years, 1, 1), today - timedelta(days=1)


def _candidates(latitude: float, longitude: float, elevation: float | None, years: int, today: date) -> list[str]:
    with service() as ms:
        near = ms.near(latitude, longitude, RADIUS)
    if not near:
        raise InputError(
            f"there is no weather station within {RADIUS / 1000:.0f} km of {latitude:g}, {longitude:g}; give a "
            "record of your own, or monthly normals, in a site file"
        )
    return best_first(near, elevation, years, today)


def _asked(record: DailyRecord, last: date) -> tuple[date, date]:
    """Span that a kept record was asked for; days in it that it lacks are not to be had.

    Where it was asked for later days than the last that there can be now, a clock was wrong, then or now. Days that it
    lacks may be to be had after all, so that the span ends with the last day that is known.
    """
    station = _station(record)
    begin, end = date.fromisoformat(station.asked_first), date.fromisoformat(station.asked_last)
    known = record.time[np.isfinite(record["tasmin"])]
    if end > last and known.size:
        end = min(end, date.fromisoformat(str(known[-1])))
    return begin, end


def _complete(station: str, first: date, last: date) -> DailyRecord | None:
    """The kept record where it already covers the span, so that the network is not needed at all."""
    record = cache.kept(station)
    if record is None:
        return None
    begin, end = _asked(record, last)
    return record if begin <= first and end >= last else None


def _up_to_date(ms: Service, station: Station, first: date, last: date) -> DailyRecord:
    """The kept record with what it lacks fetched and kept."""
    record = cache.kept(station.id)
    begin, end = _asked(record, last) if record is not None else (last, first)
    spans = [(first, last)]
    if record is not None:
        earlier = [(first, begin - timedelta(days=1))] if first < begin else []
        later = [(_begin_again(record, end), last)] if last > end else []
        spans = [*earlier, *later]
    for span in spans:
        piece = fetch(ms, station, *span)
        if piece is not None:
            record = piece if record is None else merged(record, piece)
    if record is None:
        raise InputError(
            f"station {station.id} ({station.name}) has no daily minima and maxima from {first.year} to "
            f"{last.year}; choose another station"
        )
    first, last = min(first, begin), max(last, end)
    with cache.held(station.id):
        other = cache.kept(station.id)  # another program may have kept more meanwhile
        if other is not None:
            begin, end = _asked(other, last)
            if begin < first or end > last:
                record = merged(other, record)
                first, last = min(first, begin), max(last, end)
        now = datetime.now(UTC).isoformat(timespec="seconds")
        asked = replace(_station(record), fetched=now, asked_first=first.isoformat(), asked_last=last.isoformat())
        record = replace(record, station=asked)
        cache.keep(station.id, record)
    return record


def _begin_again(record: DailyRecord, end: date) -> date:
    """First day to fetch again: a while before the last day that is known, but not years of a closed station."""
    known = record.time[np.isfinite(record["tasmin"])]
    last_known = date.fromisoformat(str(known[-1])) if known.size else end
    return max(min(last_known, end) - timedelta(days=REVISED), end - timedelta(days=_LATEST))


def _fallback(station: str, problem: NetworkError, first: date) -> DailyRecord:
    """The kept record of a station in place of a fresh one; the problem itself where nothing is kept."""
    record = cache.kept(station)
    if record is None:
        raise problem
    days = cache.age_in_days(_station(record).fetched)
    age = "today" if days == 0 else "yesterday" if days == 1 else f"{days} days ago"
    words = f"{problem.message.split(';')[0]}: the record of station {station} fetched {age} is used"
    begin = date.fromisoformat(_station(record).asked_first)
    if begin > first:
        words += f", which begins in {begin.year} only"
    return replace(record, warnings=(words,))


def _cut(record: DailyRecord, first: date, last: date) -> DailyRecord:
    out = record.span(first.isoformat(), last.isoformat())
    if not out.size or not np.isfinite(out["tasmin"] + out["tasmax"]).any():
        station = _station(record)
        raise InputError(
            f"station {station.id} ({station.name}) has no daily minima and maxima from "
            f"{first.year} to {last.year}; choose another station"
        )
    return out


def _station(record: DailyRecord) -> StationFacts:
    assert record.station is not None  # what was fetched or kept has one
    return record.station


def _at_site(
    record: DailyRecord, latitude: float | None, longitude: float | None, elevation: float | None
) -> DailyRecord:
    """A station's record for a site: temperatures at the site's height, impossible days missing."""
    station = _station(record)
    values = {name: record[name] for name in ("tasmin", "tasmax", "tas") if name in record}
    codes: dict[str, np.ndarray] = {}
    steps: list[str] = []
    notes = record.notes
    if elevation is not None and abs(elevation - station.elevation) >= 1.0:
        change = -LAPSE_RATE * (elevation - station.elevation) / 1000.0
        values = {name: array + change for name, array in values.items()}
        apart = elevation - station.elevation
        steps.append(f"temperatures changed by {change:+.2f} K for a height difference of {apart:+.0f} m")
    crossed = values["tasmin"] > values["tasmax"]
    if crossed.any():
        for name in ("tasmin", "tasmax"):
            values[name] = np.where(crossed, np.nan, values[name])
            codes[name] = np.where(crossed, np.int8(MISSING), record.origin[name])
        steps.append(f"{counted(int(crossed.sum()), 'day')} with a minimum above the maximum set to missing")
        what = "a minimum above the maximum; set to missing"
        notes = tuple(Note(what, "crossed", "tasmin", str(d)) for d in record.time[crossed])
    here = (
        station.latitude if latitude is None else latitude,
        station.longitude if longitude is None else longitude,
    )
    away = round(distance(*here, station.latitude, station.longitude), 1)
    return replace(
        record.with_values(values, codes),
        latitude=here[0],
        longitude=here[1],
        elevation=station.elevation if elevation is None else elevation,
        notes=notes,
        history="; ".join(x for x in (record.history, *steps) if x),
        station=replace(station, distance_km=away),
    )
