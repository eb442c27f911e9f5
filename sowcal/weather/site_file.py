"""Site files: a few lines of TOML that say where a site is and where its weather comes from."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from pathlib import Path
from types import MappingProxyType
from typing import Any

from sowcal.errors import InputError
from sowcal.files import read_toml_text, toml_table
from sowcal.languages import counted
from sowcal.weather.years import years_words

__all__ = [
    "EXAMPLE",
    "Site",
    "bundled_names",
    "bundled_site",
    "parse_site",
    "read_site_file",
]

EXAMPLE = """\
name = "My plot"
latitude = 36.3
[weather]
source = "file"
file = "my-record.csv"
temperature_unit = "degC"
"""

_KEYS = ("name", "latitude", "longitude", "elevation", "coast", "invented", "garden", "weather", "plot")
_WEATHER_KEYS = {
    "file": (
        "file",
        "format",
        "temperature_unit",
        "date_format",
        "separator",
        "comment",
        "columns",
        "years",
        "fill_from",
    ),
    "station": ("id", "years", "hourly", "fill_from"),
    "normals": (
        "tasmin",
        "tasmax",
        "pr",
        "wet_days",
        "tasmin_sd",
        "tasmax_sd",
        "seed",
        "years",
        "first_year",
    ),
}
_PLOT_KEYS = ("own_readings", "temperature_unit", "date_format", "separator", "comment", "columns", "changes")
_FORMATS = ("csv", "ghcn", "dly", "ecad", "epw", "fao", "netcdf")  # those of `formats`, held alike by a test
_WHOLE = {"seed": (0, 2**63 - 1), "years": (1, 200), "first_year": (1678, 2261)}  # days count in nanoseconds
_TWELVE = ("tasmin", "tasmax", "pr", "wet_days", "tasmin_sd", "tasmax_sd")


@dataclass(frozen=True, slots=True)
class Site:
    """A place and where its weather comes from.

    Attributes
    ----------
    name : str
    latitude : float
        Degrees north.
    longitude : float or None
        Degrees east.
    elevation : float or None
        m above sea level.
    coast : bool
        Whether air from the sea nearby rules the days.
    weather : mapping
        The `[weather]` table of the site file.
    path : Path or None
        The file it was read from.
    plot : mapping
        The `[plot]` table: what is known of how the plot parts from its record.
    garden : str
        The garden file of the place, named from the folder of the site file; empty where there is none.
    """

    name: str
    latitude: float
    longitude: float | None = None
    elevation: float | None = None
    coast: bool = False
    weather: Mapping[str, Any] = field(default_factory=dict)
    path: Path | None = None
    plot: Mapping[str, Any] = field(default_factory=dict)
    garden: str = ""


def read_site_file(path: str | Path) -> Site:
    """The site that a TOML file describes.

    Raises
    ------
    InputError
        For a file that is missing or not TOML (with the line), an unknown key (with the nearest one), a value
        out of range, a source without what it needs.
    """
    path = Path(path)
    text = read_toml_text(path, "site file")
    return parse_site(text, where=str(path), path=path)


def parse_site(text: str, *, where: str, path: Path | None = None) -> Site:
    """The site of the text of a site file; `where` names it in errors."""
    table = toml_table(text, where)
    _check_keys(table, _KEYS, where)
    weather = table.get("weather")
    if not isinstance(weather, dict):
        raise InputError(
            'there is no [weather] table; add [weather] and source = "file", "station" or "normals"',
            where=where,
        )
    name = table.get("name")
    if not isinstance(name, str) or not name.strip():
        raise InputError('name is missing; add a line such as name = "My plot"', where=where)
    latitude = _number(table, "latitude", where, (-90.0, 90.0), "south negative")
    if latitude is None:
        raise InputError("latitude is missing; add a line such as latitude = 36.3 (south negative)", where=where)
    coast = table.get("coast", False)
    if not isinstance(coast, bool):
        raise InputError(f"coast is {coast!r}; it must be true or false", where=where)
    garden = table.get("garden", "")
    if not isinstance(garden, str):
        raise InputError(f'garden is {garden!r}; it must name a file, such as garden = "my.garden.toml"', where=where)
    _check_weather(weather, where)
    plot = table.get("plot", {})
    _check_plot(plot, where)
    return Site(
        name=name.strip(),
        latitude=latitude,
        longitude=_number(table, "longitude", where, (-180.0, 180.0), "west negative"),
        elevation=_number(table, "elevation", where, (-500.0, 9000.0), "in metres"),
        coast=coast,
        weather=MappingProxyType({k: tuple(v) if isinstance(v, list) else v for k, v in weather.items()}),
        path=path,
        plot=MappingProxyType({k: tuple(v) if isinstance(v, list) else v for k, v in plot.items()}),
        garden=garden.strip(),
    )


def _check_plot(plot: Any, where: str) -> None:
    if not isinstance(plot, dict):
        raise InputError(
            'plot must be a table: a line [plot], then lines such as own_readings = "own.csv"', where=where
        )
    _check_keys(plot, _PLOT_KEYS, where, " under [plot]")
    for key in _PLOT_KEYS[:5]:
        if key in plot and not isinstance(plot[key], str):
            raise InputError(f"{key} under [plot] must be a text in quotation marks", where=where)
    if "own_readings" not in plot and (loose := [k for k in _PLOT_KEYS[1:6] if k in plot]):
        raise InputError(f'{loose[0]} under [plot] goes with own_readings = "own.csv", which is missing', where=where)
    _check_columns(plot, "plot", where)
    changes = plot.get("changes", [])
    if not isinstance(changes, list) or not all(isinstance(c, str) for c in changes):
        raise InputError(
            'changes under [plot] must be a list of texts such as ["frost-hollow=2", "warm-wall"]', where=where
        )


def _check_columns(table: Mapping[str, Any], name: str, where: str) -> None:
    columns = table.get("columns", {})
    if not isinstance(columns, dict) or not all(isinstance(v, str) for v in columns.values()):
        raise InputError(f'[{name}.columns] must hold lines such as tasmin = "Minimum"', where=where)


def _number(table: Mapping[str, Any], key: str, where: str, bounds: tuple[float, float], hint: str) -> float | None:
    value = table.get(key)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise InputError(f"{key} is {value!r}; it must be a number without quotation marks", where=where)
    if not math.isfinite(value) or not bounds[0] <= value <= bounds[1]:
        raise InputError(
            f"{key} is {value:g}; it must lie between {bounds[0]:g} and {bounds[1]:g} ({hint})", where=where
        )
    return float(value)


def _check_keys(table: Mapping[str, Any], known: tuple[str, ...], where: str, inside: str = "") -> None:
    for key in table:
        if key not in known:
            near = get_close_matches(key.lower(), known, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(known)}"
            raise InputError(f"unknown key {key!r}{inside}; {hint}", where=where)


def _check_weather(weather: Mapping[str, Any], where: str) -> None:
    source = weather.get("source")
    if not isinstance(source, str) or source not in _WEATHER_KEYS:
        raise InputError(
            f'source under [weather] is {source!r}; it must be "file", "station" or "normals"', where=where
        )
    _check_keys(
        weather,
        ("source", "licence", *_WEATHER_KEYS[source]),
        where,
        f" under [weather] with source {source!r}",
    )
    texts = ("temperature_unit", "date_format", "separator", "comment", "licence", "format", "fill_from")
    for key in texts:
        if key in weather and not isinstance(weather[key], str):
            raise InputError(f"{key} under [weather] must be a text in quotation marks", where=where)
    if source == "file" and isinstance(weather.get("years"), str):
        years_words(weather["years"], where)
    for key, (least, most) in _WHOLE.items():
        value = weather.get(key, least)
        if key == "years" and source == "file" and isinstance(value, str):
            continue
        if isinstance(value, bool) or not isinstance(value, int) or value < 0:
            raise InputError(f"{key} under [weather] is {value!r}; it must be a whole number", where=where)
        if not least <= value <= most:
            raise InputError(f"{key} under [weather] is {value}; it must lie between {least} and {most}", where=where)
    if not isinstance(weather.get("hourly", False), bool):
        raise InputError("hourly under [weather] must be true or false, without quotation marks", where=where)
    if source == "file":
        if "file" not in weather:
            raise InputError('file is missing under [weather]; add file = "my-record.csv"', where=where)
        named = weather["file"]
        if not isinstance(named, str) and not (
            isinstance(named, list) and named and all(isinstance(n, str) for n in named)
        ):
            raise InputError(
                "file under [weather] must be a name in quotation marks, or a list of such names", where=where
            )
        if weather.get("format", "csv") not in _FORMATS:
            raise InputError(
                f"format under [weather] is {weather['format']!r}; it must be one of {', '.join(_FORMATS)}",
                where=where,
            )
        _check_columns(weather, "weather", where)
    if source == "normals":
        for key in _TWELVE:
            if key in weather or not key.endswith("_sd"):
                _check_twelve(weather.get(key), key, where)


def _check_twelve(values: Any, key: str, where: str) -> None:
    if not isinstance(values, list) or len(values) != 12:
        count = (
            counted(len(values), "value") if isinstance(values, list) else "nothing" if values is None else repr(values)
        )
        raise InputError(f"{key} under [weather] has {count}; it needs twelve, January first", where=where)
    for value in values:
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
            raise InputError(f"{key} under [weather] holds {value!r}; it needs twelve numbers", where=where)


_ORDER = ("sallowdene", "wrackhythe")  # in the order in which they are told


def bundled_names() -> list[str]:
    """Names of the bundled plots, the usual one first."""
    return list(_ORDER)


@cache
def bundled_site(name: str) -> Site:
    """The bundled plot of that name, capital letters or not; `InputError` for any other name."""
    key = name.strip().lower()
    if key not in _ORDER:
        raise InputError(f"there is no bundled plot {name!r}; there are {' and '.join(_ORDER)}")
    text = (files("sowcal") / "plots" / f"{key}.toml").read_text(encoding="utf-8")
    return parse_site(text, where=f"bundled plot {key}")
