"""The format of a file: declared, or told from content that cannot be mistaken; then its reader."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sowcal.errors import InputError
from sowcal.weather.ecad import is_ecad
from sowcal.weather.epw import is_epw
from sowcal.weather.fao_text import is_fao
from sowcal.weather.ghcn import is_dly, is_ghcn_csv
from sowcal.weather.gridded import is_netcdf, is_zarr
from sowcal.weather.text_file import first_bytes

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["FORMATS", "read_record", "recognised_format"]

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
) -> xr.Dataset:
    """Read a record in any of `FORMATS`.

    Parameters
    ----------
    paths : path or sequence of path
        More than one only for ECA&D and the climate text of the FAO.
    form : str, optional
        One of `FORMATS`; told from the content when left out, and then said in the attribute `history`.
    latitude, longitude, elevation : float, optional
        Degrees north and east, m.
    title : str, optional
    options : mapping, optional
        What else the reader takes: `temperature_unit`, `date_format`, `separator`, `comment` and `columns` of
        CSV; `columns` of NetCDF.

    Returns
    -------
    xarray.Dataset
        In the form of `daily_dataset`.

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
    dataset = _reader(told)(files if told in _OF_FILES else files[0], **place, **options)
    if form is None and told != "csv":
        dataset.attrs["history"] += f"; taken for {told} by its content"
    return dataset


def _reader(form: str):
    if form == "csv":
        from sowcal.weather.csv_file import read_csv

        return read_csv
    from sowcal.weather import ecad, epw, fao_text, ghcn, gridded

    return {
        "ghcn": ghcn.read_ghcn_csv,
        "dly": ghcn.read_dly,
        "ecad": ecad.read_ecad,
        "epw": epw.read_epw,
        "fao": fao_text.read_fao,
        "netcdf": gridded.read_netcdf,
    }[form]
