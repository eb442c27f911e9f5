"""A site's daily record: plain arrays with typed facts beside them, what a reading can be at all, and short gaps."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, fields, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.errors import InputError
from sowcal.kept_files import kinds_of
from sowcal.provenance import fingerprint_of

if TYPE_CHECKING:
    from sowcal.weather.findings import Findings
    from sowcal.weather.offset import PlotOffset

__all__ = [
    "FILLED",
    "GENERATED",
    "MISSING",
    "OBSERVED",
    "ORIGIN_WORDS",
    "POSSIBLE",
    "VARIABLES",
    "DailyRecord",
    "Felt",
    "Note",
    "StationFacts",
    "check_place",
    "daily_record",
    "encodable",
    "parts_of",
    "record_kinds",
    "steps_of",
    "without_empty_ends",
]

# Values that no thermometer, gauge or sensor on a farm has shown. Temperature: wider than the world's records
# (-89.2 and 56.7 degC); rain: above the world's record day (1825 mm); both from memory. The others are common
# practice, no source.
POSSIBLE: dict[str, tuple[float, float]] = {
    **dict.fromkeys(("tasmin", "tasmax", "tas"), (-90.0, 60.0)),
    "pr": (0.0, 2000.0),
    "hurs": (0.0, 101.0),
    "sfcWind": (0.0, 100.0),
    "rsds": (0.0, 50.0),
    "sunshine": (0.0, 24.0),
}


@dataclass(frozen=True, slots=True)
class Note:
    """What a reader noted of a value: of a day where it has a date, else of a whole column.

    Attributes
    ----------
    what, kind, column, date : str
        Sentence, one of `quality.KINDS`, the column, ISO 8601.
    value : float or None
        As it was read.
    line : int or None
        Of the file.
    """

    what: str
    kind: str = ""
    column: str = ""
    date: str = ""
    value: float | None = None
    line: int | None = None

    def to_json(self) -> dict[str, Any]:
        """What is known of it."""
        return {k: v for k, v in asdict(self).items() if v is not None and v != ""}


@dataclass(frozen=True, slots=True)
class StationFacts:
    """The weather station that a record is of, and when it was asked.

    Attributes
    ----------
    id, name, attribution : str
        At its producer; who is to be named.
    latitude, longitude, elevation : float
        Degrees north and east, m; NaN when not known.
    distance_km : float
        From the site; NaN when not known.
    fetched, asked_first, asked_last : str
        ISO 8601; empty for a file.
    """

    id: str
    name: str = ""
    attribution: str = ""
    latitude: float = np.nan
    longitude: float = np.nan
    elevation: float = np.nan
    distance_km: float = np.nan
    fetched: str = ""
    asked_first: str = ""
    asked_last: str = ""


@dataclass(frozen=True, slots=True)
class Felt:
    """What changes to the plot make of light, night sky and soil, beside the temperatures.

    Attributes
    ----------
    light_share, sky_share : float
        Of the open site's light, and of its open sky at night, 0 to 1.
    crown_relief : float
        degC taken off the heat that reaches crown and roots.
    seedbed : str
        Surface of the seed bed; empty where no change names one.
    """

    light_share: float = 1.0
    sky_share: float = 1.0
    crown_relief: float = 0.0
    seedbed: str = ""


@dataclass(frozen=True, eq=False)
class DailyRecord:
    """One site's days, every one from the first to the last: plain arrays, and typed facts beside them.

    `record["tasmin"]` is the array of a variable, `"pr" in record` whether it has one.

    Attributes
    ----------
    time : numpy.ndarray of datetime64[D], shape (n,)
    values : mapping of str to numpy.ndarray, shape (n,)
        By the names and in the units of `VARIABLES`; NaN where missing.
    origin : mapping of str to numpy.ndarray of int8, shape (n,)
        OBSERVED, FILLED, GENERATED or MISSING, for each variable.
    latitude, longitude, elevation : float
        Degrees north and east, m; NaN when not known.
    title, source, history, licence, typical_year : str
        Name of the site, where the record comes from, what was done to it; of an EPW file the years it is made of.
    coast : bool
        Whether the site lies on a coast.
    station : StationFacts or None
    notes : tuple of Note
        What the reader set to missing or took for granted.
    warnings : tuple of str
        Sentences that every answer tells.
    findings : Findings or None
        What looks wrong, once it has been looked for.
    offset : PlotOffset or None
        How the record was moved to the plot by the grower's own thermometer.
    plot : tuple of str
        Changes that the site file says hold on the plot, not yet made.
    changes : tuple of str
        Changes made, as they were asked for.
    what_ifs : str
        The same in words.
    felt : Felt
    open_range : numpy.ndarray or None, shape (n,)
        Daily range of the open site, K, where changes have moved the temperatures.
    hours : numpy.ndarray or None, shape (n, 24)
        Measured temperatures by hour of local solar time, degC.
    """

    time: np.ndarray
    values: Mapping[str, np.ndarray]
    origin: Mapping[str, np.ndarray]
    latitude: float = np.nan
    longitude: float = np.nan
    elevation: float = np.nan
    title: str = ""
    source: str = ""
    history: str = ""
    licence: str = ""
    typical_year: str = ""
    coast: bool = False
    station: StationFacts | None = None
    notes: tuple[Note, ...] = ()
    warnings: tuple[str, ...] = ()
    findings: Findings | None = None
    offset: PlotOffset | None = None
    plot: tuple[str, ...] = ()
    changes: tuple[str, ...] = ()
    what_ifs: str = ""
    felt: Felt = Felt()
    open_range: np.ndarray | None = None
    hours: np.ndarray | None = None

    def __post_init__(self) -> None:
        """Lock the arrays: a record that could be written to would outlive its own fingerprint and findings."""
        for name in ("values", "origin"):
            object.__setattr__(self, name, {k: _locked(v) for k, v in getattr(self, name).items()})
        for name in ("time", "open_range", "hours"):
            if getattr(self, name) is not None:
                object.__setattr__(self, name, _locked(getattr(self, name)))

    def __contains__(self, name: str) -> bool:
        return name in self.values

    def __getitem__(self, name: str) -> np.ndarray:
        return self.values[name]

    def __repr__(self) -> str:
        return f"<DailyRecord {self.title or 'site'}: {self.time[0]} to {self.time[-1]}, {', '.join(self.values)}>"

    @property
    def size(self) -> int:
        """Days."""
        return int(self.time.size)

    @property
    def daily_range(self) -> np.ndarray:
        """Daily range of the open site, K, shape (n,): sunshine and clear nights are told from it."""
        return self["tasmax"] - self["tasmin"] if self.open_range is None else self.open_range

    def cut(self, days: slice) -> DailyRecord:
        """Some days of it, one after the other."""

        def of(arrays: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
            return {name: array[days] for name, array in arrays.items()}

        return replace(
            self,
            time=self.time[days].copy(),
            values=of(self.values),
            origin=of(self.origin),
            open_range=None if self.open_range is None else self.open_range[days].copy(),
            hours=None if self.hours is None else self.hours[days].copy(),
        )

    def span(self, first: str | None, last: str | None) -> DailyRecord:
        """The days from one date to another, both included, either of which may be left out."""
        begin = 0 if first is None else int(np.searchsorted(self.time, np.datetime64(first, "D")))
        end = self.size if last is None else int(np.searchsorted(self.time, np.datetime64(last, "D"), side="right"))
        return self.cut(slice(begin, end))

    def with_values(
        self, values: Mapping[str, np.ndarray], origin: Mapping[str, np.ndarray] | None = None
    ) -> DailyRecord:
        """The same with some arrays in place of those it has."""
        return replace(self, values={**self.values, **values}, origin={**self.origin, **(origin or {})})

    def and_then(self, words: str) -> DailyRecord:
        """The same with one more step in its history."""
        return replace(self, history="; ".join(x for x in (self.history, words) if x))

    @cached_property
    def fingerprint(self) -> str:
        """A short name of its days: 16 hexadecimal digits, the same whatever file they came from.

        Over dates, latitude, elevation, whether the site lies on a coast, every variable (to three digits, so that
        float32 and float64 of the same readings agree) and whether each value was observed, filled or generated.
        """
        parts = [b"days", self.time.astype("<i8").tobytes()]
        for name in ("latitude", "elevation"):
            parts += [name.encode(), steps_of(np.asarray(getattr(self, name)))]
        for name in (v for v in VARIABLES if v in self):
            parts += [name.encode(), steps_of(self[name]), self.origin[name].astype("<i1").tobytes()]
        if self.hours is not None:
            parts += [b"tas_hour", steps_of(self.hours)]
        parts.append(b"coast" if self.coast else b"")
        return fingerprint_of(parts)


def parts_of(record: DailyRecord) -> Iterator[bytes]:
    """All that a record has, as pieces of bytes: for a digest of it."""
    for field in fields(record):
        value = getattr(record, field.name)
        arrays = value if isinstance(value, Mapping) else {"": value}
        for name, array in arrays.items():
            yield f"{field.name} {name}".encode()
            yield array.tobytes() if isinstance(array, np.ndarray) else repr(array).encode()


def record_kinds() -> dict[str, Any]:
    """The records of which a record of days is made, by their names."""
    return kinds_of((DailyRecord, Felt, Note, StationFacts))


def _locked(array: np.ndarray) -> np.ndarray:
    """A view that cannot be written through."""
    view = np.asarray(array).view()
    view.flags.writeable = False
    return view


_STEPS = 1000.0  # a unit: thermometers read to 0.1 degC, and conversions of units differ far behind the third digit
_BEYOND = 4.0e15  # stands for what is no number; no value of a record comes near it


def steps_of(values: np.ndarray) -> bytes:
    """Values as whole thousandths, so that float32 and float64 of the same readings are the same bytes."""
    scaled = np.nan_to_num(np.clip(values.astype(float), -_BEYOND, _BEYOND) * _STEPS, nan=-_BEYOND)
    return np.rint(np.clip(scaled, -_BEYOND - 1.0, _BEYOND)).astype("<i8").tobytes()


OBSERVED, FILLED, GENERATED, MISSING = 0, 1, 2, 3
ORIGIN_WORDS = {FILLED: "filled", GENERATED: "generated"}  # in tables of text; the rest needs no word

# name: (units, CF standard name, long name)
VARIABLES: dict[str, tuple[str, str, str]] = {
    "tasmin": ("degC", "air_temperature", "daily minimum temperature of air"),
    "tasmax": ("degC", "air_temperature", "daily maximum temperature of air"),
    "pr": ("mm day-1", "lwe_precipitation_rate", "daily precipitation"),
    "tas": ("degC", "air_temperature", "daily mean temperature of air"),
    "hurs": ("%", "relative_humidity", "daily mean relative humidity"),
    "sfcWind": ("m s-1", "wind_speed", "daily mean wind speed at 10 m"),
    "rsds": ("MJ m-2 day-1", "surface_downwelling_shortwave_flux_in_air", "daily solar radiation"),
    "sunshine": ("h day-1", "duration_of_sunshine", "daily hours of bright sunshine"),
}
_NEEDED = ("tasmin", "tasmax")
_EARLIEST, _LATEST = np.datetime64("1678-01-01"), np.datetime64("2261-12-31")
_LONGEST_RECORD = 400  # years; a longer span is a slip in a date


def daily_record(
    time: Any,
    values: Mapping[str, Any],
    *,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation: float | None = None,
    origin: int | Mapping[str, Any] = OBSERVED,
    title: str = "",
    source: str = "",
    history: str = "",
    licence: str | None = None,
    where: str | None = None,
) -> DailyRecord:
    """Build and validate the daily record of one site.

    Parameters
    ----------
    time : array_like, shape (n,)
        Dates in any order; days that are absent become NaN.
    values : mapping of str to array_like, shape (n,)
        `tasmin` and `tasmax`, and any other of `VARIABLES`, in the units given there. `pr` is made up of
        missing values where it is not given.
    latitude, longitude : float, optional
        Degrees north and east; NaN when not known.
    elevation : float, optional
        m above sea level; NaN when not known.
    origin : int or mapping of str to array_like, default OBSERVED
        Where the values come from: one code for all, or one array a variable.
    title, source, history : str
        Name of the site, where the record comes from, what was done to it.
    licence : str, optional
        Licence of the record.
    where : str, optional
        File named in errors.

    Returns
    -------
    DailyRecord

    Raises
    ------
    InputError
        For no days, a date given twice, a needed variable that is absent, a wrong length, a place off the
        globe.
    """
    check_place(latitude, longitude, where, elevation)
    dates = np.asarray(time).astype("datetime64[D]")
    _check_dates(dates, where)
    days = np.arange(dates.min(), dates.max() + np.timedelta64(1, "D"))
    place = (dates - days[0]).astype(int)
    arrays: dict[str, np.ndarray] = {}
    origins: dict[str, np.ndarray] = {}
    for name in [*_NEEDED, "pr", *(v for v in VARIABLES if v in values and v not in (*_NEEDED, "pr"))]:
        if name not in values and name in _NEEDED:
            raise InputError(f"there are no values of {name}; a record needs tasmin and tasmax", where=where)
        given = np.asarray(values.get(name, np.full(dates.size, np.nan)), dtype=float)
        if given.shape != dates.shape:
            raise InputError(f"{name} has {given.size} values but there are {dates.size} dates", where=where)
        array = np.full(days.size, np.nan)
        array[place] = given
        codes = np.full(days.size, MISSING, dtype=np.int8)
        codes[place] = _codes(origin, name, name in values, dates.shape, where)
        codes[np.isnan(array)] = MISSING
        arrays[name], origins[name] = array, codes
    north, east, height = (np.nan if v is None else float(v) for v in (latitude, longitude, elevation))
    return DailyRecord(
        days,
        arrays,
        origins,
        north,
        east,
        height,
        title=encodable(title),
        source=encodable(source),
        history=encodable(history),
        licence=encodable(licence or ""),
    )


def _codes(origin: Any, name: str, needed: bool, shape: tuple[int, ...], where: str | None) -> np.ndarray:
    """Where the values of a variable come from: one code, or one a day."""
    if isinstance(origin, Mapping) and needed and name not in origin:
        raise InputError(f"it is not said where the values of {name} come from; name it in origin", where=where)
    given = np.asarray(origin.get(name, MISSING) if isinstance(origin, Mapping) else origin)
    known = given.dtype.kind in "biuf" and np.isin(given, (OBSERVED, FILLED, GENERATED, MISSING)).all()
    if given.shape not in ((), shape) or not known:
        raise InputError(
            f"the origin of {name} is not understood; give {OBSERVED} (observed), {FILLED} (filled), {GENERATED} "
            f"(generated) or {MISSING} (missing), one for all days or one a day",
            where=where,
        )
    return given.astype(np.int8)


def encodable(text: str) -> str:
    """Text that any file can hold; bytes of a file's name that are no UTF-8 become escapes such as \\udcff."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def check_place(
    latitude: float | None, longitude: float | None, where: str | None = None, elevation: float | None = None
) -> None:
    """Raise `InputError` for a place off the globe; None and NaN mean 'not known' and pass."""
    if latitude is not None and abs(latitude) > 90.0:
        raise InputError(f"latitude {latitude:g} lies outside -90 to 90 (south is negative)", where=where)
    if longitude is not None and not (np.isnan(longitude) or -180.0 <= longitude <= 360.0):
        raise InputError(f"longitude {longitude:g} lies outside -180 to 360 (west is negative)", where=where)
    if elevation is not None and not (np.isnan(elevation) or -500.0 <= elevation <= 9000.0):
        raise InputError(f"the height {elevation:g} m lies outside -500 to 9000 m", where=where)


def _check_dates(dates: np.ndarray, where: str | None) -> None:
    if dates.ndim != 1 or dates.size == 0:
        raise InputError("there are no days in the record", where=where)
    if np.isnat(dates).any():
        raise InputError("a date is missing; every row needs its date", where=where)
    ordered = np.sort(dates)
    twice = ordered[1:] == ordered[:-1]
    if twice.any():
        raise InputError(f"the date {ordered[1:][twice][0]} stands there twice; keep one row a day", where=where)
    if ordered[0] < _EARLIEST or ordered[-1] > _LATEST:  # a clock in nanoseconds holds no more
        raise InputError(
            f"the record runs from {ordered[0]} to {ordered[-1]}; days must lie in the years 1678 to 2261", where=where
        )
    if (ordered[-1] - ordered[0]).astype(int) > _LONGEST_RECORD * 366:
        raise InputError(
            f"the record runs from {ordered[0]} to {ordered[-1]}; one of these dates must be wrong",
            where=where,
        )


def without_empty_ends(record: DailyRecord) -> DailyRecord:
    """The days from the first to the last that hold any value: empty rows around a record are no part of it."""
    known = np.logical_or.reduce([np.isfinite(array) for array in record.values.values()])
    if known.all() or not known.any():
        return record
    days = np.flatnonzero(known)
    return record.cut(slice(int(days[0]), int(days[-1]) + 1))
