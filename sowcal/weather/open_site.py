"""The format of a file: declared, or told from content that cannot be mistaken; then its reader."""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.errors import InputError
from sowcal.files import file_size, first_bytes
from sowcal.kept_files import keeps, remembered
from sowcal.weather.ecad import is_ecad
from sowcal.weather.epw import is_epw
from sowcal.weather.fao_text import is_fao
from sowcal.weather.filling import fill_short_gaps
from sowcal.weather.findings import with_findings
from sowcal.weather.ghcn import is_dly, is_ghcn_csv
from sowcal.weather.netcdf import is_netcdf, is_zarr
from sowcal.weather.record import check_place, record_kinds, without_empty_ends
from sowcal.weather.site_file import EXAMPLE, Site, bundled_names, bundled_site, read_site_file
from sowcal.weather.years import chosen_years

if TYPE_CHECKING:
    from sowcal.weather.record import DailyRecord

__all__ = [
    "FORMATS",
    "looks_like_site",
    "open_weather",
    "own_readings",
    "read_record",
    "recognised_format",
    "site_weather",
]

_NOT_KEPT = ("netcdf", "fao")  # what may be a folder, or read files that are not named
_MOST_KEPT = 20_000_000  # bytes of a file whose days are kept: its digest is reckoned with every question
FORMATS = ("csv", "ghcn", "dly", "ecad", "epw", "fao", "netcdf")
_OF_FILES = ("ecad", "fao")  # formats of which a record may be several files
_OF_CSV = ("temperature_unit", "date_format", "separator", "comment", "columns")
_ALLOWED: dict[str, tuple[str, ...]] = {"csv": _OF_CSV, "netcdf": ("columns",)}
_SHOWN_BY = (("ecad", is_ecad), ("epw", is_epw), ("fao", is_fao), ("ghcn", is_ghcn_csv), ("dly", is_dly))
_NOT_READ = {
    ".grib": "GRIB",
    ".grb": "GRIB",
    ".grib2": "GRIB",
    ".xlsx": "Excel",
    ".xls": "Excel",
    ".ods": "spreadsheet",
}


def recognised_format(path: Path) -> str:
    """The format that the beginning of a file shows; 'csv' where it shows no other.

    Raises
    ------
    InputError
        For kinds of files that are not read.
    """
    if is_zarr(path):
        return "netcdf"
    beginning = first_bytes(path)
    if is_netcdf(beginning):
        return "netcdf"
    if path.suffix.lower() in _NOT_READ or beginning[:4] in (b"PK\x03\x04", b"GRIB", b"\xd0\xcf\x11\xe0"):
        kind = _NOT_READ.get(path.suffix.lower(), "packed or spreadsheet")
        raise InputError(f"{kind} files are not read; save the record as CSV", where=str(path))
    if path.suffix.lower() in (".nc", ".nc4", ".cdf"):
        raise InputError("the file's name says NetCDF but its content is none; it may be damaged", where=str(path))
    text = beginning.decode("utf-8-sig", errors="replace")
    for name, shows in _SHOWN_BY:
        if shows(text):
            return name
    return "csv"


def read_record(
    paths: Path | Sequence[Path],
    *,
    form: str | None = None,
    latitude: float | None = None,
    longitude: float | None = None,
    elevation: float | None = None,
    title: str | None = None,
    options: Mapping[str, Any] | None = None,
) -> DailyRecord:
    """Read a record in any of `FORMATS`.

    Parameters
    ----------
    paths : path or sequence of path
        More than one only for ECA&D and the climate text of the FAO.
    form : str, optional
        One of `FORMATS`; told from the content when left out, and then said in its `history`.
    latitude, longitude, elevation : float, optional
        Degrees north and east, m.
    title : str, optional
    options : mapping, optional
        What else the reader takes: `temperature_unit`, `date_format`, `separator`, `comment` and `columns` of
        CSV; `columns` of NetCDF.

    Returns
    -------
    DailyRecord

    Raises
    ------
    InputError
        As the readers; also for a format that is not known, or options that the format does not have.
    """
    files = [paths] if isinstance(paths, Path) else list(paths)
    where = str(files[0])
    if form is not None and form not in FORMATS:
        raise InputError(f"format {form!r} is not known; it must be one of {', '.join(FORMATS)}", where=where)
    told = form or recognised_format(files[0])
    options = dict(options or {})
    for key in options:
        if key not in _ALLOWED.get(told, ()):
            raise InputError(f"{key} has no meaning for a file of the format {told}; leave it out", where=where)
    if len(files) > 1 and told not in _OF_FILES:
        raise InputError(f"a record of the format {told} is one file; {len(files)} are named", where=where)
    place: dict[str, Any] = {"latitude": latitude, "longitude": longitude, "elevation": elevation, "title": title}

    def read() -> DailyRecord:
        return _reader(told)(files if told in _OF_FILES else files[0], **place, **options)

    record = read() if told in _NOT_KEPT else _kept_days(files, (told, place, options), read)
    return record.and_then(f"taken for {told} by its content") if form is None and told != "csv" else record


def _kept_days(files: Sequence[Path], asked: tuple, read: Callable[[], DailyRecord]) -> DailyRecord:
    """The days of some files of text, read anew where one of them, or how they are read, has changed."""
    if not keeps() or any(not os.path.isfile(f) or file_size(f) > _MOST_KEPT for f in files):
        return read()
    with contextlib.suppress(OSError):
        parts = [f"{[str(f) for f in files]!r} {asked!r}".encode(), *(f.read_bytes() for f in files)]
        return remembered("days", parts, read, record_kinds)
    return read()


def _reader(form: str):
    if form == "csv":
        from sowcal.weather.csv_file import read_csv

        return read_csv
    from sowcal.weather import ecad, epw, fao_text, ghcn, netcdf

    return {
        "ghcn": ghcn.read_ghcn_csv,
        "dly": ghcn.read_dly,
        "ecad": ecad.read_ecad,
        "epw": epw.read_epw,
        "fao": fao_text.read_fao,
        "netcdf": netcdf.read_netcdf,
    }[form]


_PAIR = re.compile(r"\s*([+-]?\d+(?:\.\d*)?)\s*,\s*([+-]?\d+(?:\.\d*)?)\s*")
_GAP = 7  # days, the longest gap that is filled unless told
_READING = ("temperature_unit", "date_format", "separator", "comment", "columns")  # keys for readers
_FEWEST_YEARS, _MOST_YEARS = 1, 200


def looks_like_site(word: str) -> bool:
    """Whether a word names a bundled plot, an existing file or a pair of degrees such as '-31.9,115.9'."""
    if word.strip().lower() in bundled_names() or _PAIR.fullmatch(word):
        return True
    return _is_record(Path(word))


def _is_record(path: Path) -> bool:
    # unlike `Path.is_file`, os.path says no of a name that no file could have
    return os.path.isfile(path) or is_zarr(path)


def open_weather(
    spec: str | Path,
    *,
    longest_gap: int = _GAP,
    years: int | None = None,
    at_plot: bool = True,
    issued: dt.date | None = None,
) -> tuple[Site, DailyRecord]:
    """The site that a word stands for, and its daily weather.

    Parameters
    ----------
    spec : str or Path
        Name of a bundled plot, a site file (TOML), a record in any of `formats.FORMATS` or 'LAT,LON' in degrees,
        south and west negative.
    longest_gap : int, default 7
        Gaps of up to so many days are filled (`fill_short_gaps`); 0 leaves every gap.
    years : int, optional
        Length of record that is fetched or generated; as the site says, or 30, when left out.
    at_plot : bool, default True
        Whether the record is moved to the plot where the site file names the grower's own readings.
    issued : datetime.date, optional
        Day of issue of an answer: where given, what looks wrong in the record as it was read, before it is moved,
        stands in its `findings`. A generated record is sound by its making.

    Returns
    -------
    Site
    DailyRecord
        What was wrong in a file stands in its `notes`.

    Raises
    ------
    InputError
        For a word that stands for no site, a file that cannot be used, or a table without a latitude.
    NetworkError
        Where a station's record cannot be fetched.

    Examples
    --------
    >>> site, days = open_weather("sallowdene")
    >>> site.name, days
    ('Sallowdene (invented)', <DailyRecord Sallowdene (invented): 1991-01-01 to 2020-12-31, tasmin, tasmax, pr>)
    """
    if years is not None and not _FEWEST_YEARS <= years <= _MOST_YEARS:
        raise InputError(f"years is {years}; it must lie between {_FEWEST_YEARS} and {_MOST_YEARS}")
    word = str(spec)
    pair = _PAIR.fullmatch(word)
    if word.strip().lower() in bundled_names():
        site = bundled_site(word)
        return site, _noted(_filled(site_weather(site, years=years), longest_gap), issued, made=True)
    if pair and not os.path.isfile(word):
        latitude, longitude = float(pair[1]), float(pair[2])
        check_place(latitude, longitude)
        site = Site(f"{latitude:g}, {longitude:g}", latitude, longitude, weather={"source": "station"})
        return site, _noted(_filled(site_weather(site, years=years), longest_gap), issued)
    path = Path(word)
    if path.suffix.lower() == ".toml":
        site = read_site_file(path)
        record = _filled(site_weather(site, years=years), longest_gap)
        if longest_gap > 0 and "fill_from" in site.weather:
            record = _from_second(site, record, years)
        record = _noted(record, issued, made=site.weather["source"] == "normals")
        if at_plot and site.plot:
            record = _at_plot(site, record)
        if site.weather["source"] == "file" and "years" in site.weather:
            record = chosen_years(without_empty_ends(record), site.weather["years"], str(path))
        return site, record
    if _is_record(path):
        site, record = _open_table(path, longest_gap)
        return site, _noted(record, issued)
    raise InputError(
        f"{word!r} is no site: neither a bundled plot ({', '.join(bundled_names())}) nor an existing "
        f"file nor a pair "
        "such as -31.9,115.9"
    )


def site_weather(site: Site, *, years: int | None = None) -> DailyRecord:
    """The daily weather of a site, as its `weather` says, gaps left as they are.

    Raises
    ------
    InputError, NetworkError
        As `open_weather`.
    """
    weather = site.weather
    if weather["source"] == "file":
        record = _from_file(site)
    elif weather["source"] == "station":
        record = _from_station(site, years or weather.get("years", 30))
    else:
        record = _generated(site, years)
    return replace(record, title=site.name, coast=bool(site.coast), licence=weather.get("licence", record.licence))


def _generated(site: Site, years: int | None) -> DailyRecord:
    weather = site.weather
    normals = {k: v for k, v in weather.items() if isinstance(v, tuple)}
    asked = {
        "years": years or weather.get("years", 30),
        "seed": weather.get("seed", 1),
        "first_year": weather.get("first_year", 1991),
        "latitude": site.latitude,
        "longitude": site.longitude,
        "elevation": site.elevation,
    }

    def made() -> DailyRecord:
        from sowcal.weather.generator import generate_daily

        return generate_daily(normals, **asked)

    try:
        return remembered("generated", [f"{normals!r} {asked!r}".encode()], made, record_kinds)
    except InputError as problem:
        raise InputError(problem.message, where=str(site.path or site.name)) from None


def _from_file(site: Site) -> DailyRecord:

    weather = site.weather
    named = weather["file"] if isinstance(weather["file"], tuple) else (weather["file"],)
    paths = [(site.path.parent if site.path else Path()) / name for name in named]
    for path in paths:
        if not os.path.exists(path):
            raise InputError(
                f"there is no file {str(path)!r}; [weather] file is looked for beside the site file",
                where=str(site.path),
            )
    return read_record(
        paths,
        form=weather.get("format"),
        latitude=site.latitude,
        longitude=site.longitude,
        elevation=site.elevation,
        title=site.name,
        options={k: weather[k] for k in _READING if k in weather},
    )


def _from_station(site: Site, years: int) -> DailyRecord:
    from sowcal.weather.stations import get_point, get_station

    if "id" in site.weather:
        record = get_station(
            str(site.weather["id"]),
            years=years,
            latitude=site.latitude,
            longitude=site.longitude,
            elevation=site.elevation,
        )
    elif site.longitude is None:
        raise InputError("longitude is missing; the nearest station cannot be found without it", where=str(site.path))
    else:
        record = get_point(site.latitude, site.longitude, site.elevation, years)
    return _with_hours(record, site, years) if site.weather.get("hourly") else record


def _with_hours(record: DailyRecord, site: Site, years: int) -> DailyRecord:
    """The days with the same station's hourly temperatures beside them."""
    from sowcal.weather.station_hours import get_station_hours

    assert record.station is not None
    return get_station_hours(record.station.id, years=years, elevation=site.elevation).beside(record)


def _from_second(site: Site, record: DailyRecord, years: int | None) -> DailyRecord:
    """Gaps that are still there, filled from the record that another site file describes."""
    from sowcal.weather.filling import fill_from_station

    path = (site.path.parent if site.path else Path()) / site.weather["fill_from"]
    if site.path and path.resolve() == site.path.resolve():
        raise InputError("fill_from names the site file itself; name that of a second station", where=str(path))
    second = site_weather(read_site_file(path), years=years)
    try:
        return fill_from_station(record, second)
    except InputError as problem:
        raise InputError(problem.message, where=str(site.path)) from None


def own_readings(site: Site) -> DailyRecord | None:
    """What the plot's own thermometer has shown, as the site file names it; None where it names none.

    Raises
    ------
    InputError
        Where the file is not there, or not sound.
    """
    if "own_readings" not in site.plot:
        return None
    path = (site.path.parent if site.path else Path()) / site.plot["own_readings"]
    if not os.path.exists(path):
        raise InputError(
            f"there is no file {str(path)!r}; [plot] own_readings is looked for beside the site file",
            where=str(site.path),
        )
    return read_record(
        path,
        latitude=site.latitude,
        longitude=site.longitude,
        options={k: site.plot[k] for k in _READING if k in site.plot},
    )


def _at_plot(site: Site, record: DailyRecord) -> DailyRecord:
    """The record moved by the grower's own readings, and with the changes that the site file names noted on it."""
    from sowcal.weather.offset import station_offset, with_offset

    if (own := own_readings(site)) is not None:
        try:
            record = with_offset(record, station_offset(record, own))
        except InputError as problem:
            raise InputError(f"{problem.message} (own_readings under [plot])", where=str(site.path)) from None
        told = (f"own readings: {words}" for words in own.warnings)
        record = replace(record, warnings=(*record.warnings, *told))
    return replace(record, plot=tuple(site.plot.get("changes", ())))


def _open_table(path: Path, longest_gap: int) -> tuple[Site, DailyRecord]:
    """A record on its own: the file itself must say where it is."""

    try:
        record = read_record(path)
    except InputError as problem:
        if "temperature_unit" not in problem.message:
            raise
        raise InputError(
            f"{problem.message}, or a line '# temperature_unit: degC' at its top",
            where=problem.where,
            line=problem.line,
            column=problem.column,
        ) from None
    if np.isnan(record.latitude):
        example = EXAMPLE.replace("my-record.csv", path.name).replace("\n", "\n    ").rstrip()
        raise InputError(
            "the latitude of the record is not known; put '# latitude: 36.3' at its top (CSV), or write a "
            "site file "
            f"beside it, such as my-plot.toml:\n    {example}",
            where=str(path),
        )
    longitude, elevation = (None if np.isnan(v) else v for v in (record.longitude, record.elevation))
    weather = {"source": "file", "file": path.name}
    site = Site(record.title, record.latitude, longitude, elevation, weather=weather, path=path)
    return site, _filled(record, longest_gap)


def _noted(record: DailyRecord, issued: dt.date | None, *, made: bool = False) -> DailyRecord:
    return record if issued is None else with_findings(record, issued, made=made)


def _filled(record: DailyRecord, longest: int) -> DailyRecord:
    return fill_short_gaps(record, longest) if longest > 0 else record
