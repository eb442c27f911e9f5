"""Names and units of weather variables: headers of tables, CF variables, conversion to degC and mm."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING

import numpy as np

from sowcal.errors import InputError
from sowcal.weather.record import VARIABLES

if TYPE_CHECKING:
    import xarray as xr

__all__ = [
    "Column",
    "Conversion",
    "cf_variables",
    "conversion",
    "in_internal_units",
    "recognised_columns",
    "temperature_unit_named",
    "to_internal",
]

TEMPERATURES = ("tasmin", "tasmax", "tas")

# Without accents and in lower case: English as services write it, then Spanish, Portuguese, French, Italian and German.
_NAMES = {
    "tasmin": "tasmin tmin tmn tn mint mintemp temp_min temperature_min min_temp min_temperature "
    "minimum_temp "
    "minimum_temperature minimum_air_temperature temperature_minimum t_min air_temp_min min_air_temp "
    "minimum min low "
    "minima minimo temp_minima temperatura_minima temperatura_min temp_minimo t_minima minima_temp min_temperatura "
    "temperature_minimale temperature_mini temp_minimale minimale mini tminima "
    "temperatura_minimo temp_mini tiefsttemperatur minimumtemperatur",
    "tasmax": "tasmax tmax tmx tx maxt maxtemp temp_max temperature_max max_temp max_temperature "
    "maximum_temp "
    "maximum_temperature maximum_air_temperature temperature_maximum t_max air_temp_max max_air_temp "
    "maximum max high "
    "maxima maximo temp_maxima temperatura_maxima temperatura_max temp_maximo t_maxima maxima_temp max_temperatura "
    "temperature_maximale temperature_maxi temp_maximale maximale maxi tmaxima "
    "massima massimo temp_massima temperatura_massima t_massima temperatura_massimo "
    "temperatura_maximo temp_maxi hochsttemperatur maximumtemperatur",
    "tas": "tas tmean tavg tmed t_mean t_avg tm meantemp mean_temp mean_temperature avg_temp average_temp "
    "average_temperature temp_mean temp_avg temperature_mean mean_air_temperature temp temperature "
    "media temp_media temperatura_media t_media tmedia temperature_moyenne temp_moyenne t_moy tmoy moyenne temperatura "
    "mitteltemperatur",
    "pr": "pr prcp precip precipitation rain rainfall ppt prec rain_total rainfall_amount "
    "total_precipitation "
    "precipitation_amount precipitation_sum daily_rain daily_rainfall "
    "precipitacion precipitaciones lluvia precipitacao chuva precipitations pluie pluies precipitazione precipitazioni "
    "pioggia niederschlag",
    "hurs": "hurs rh rh_mean rhum rhmean mean_rh humidity relative_humidity mean_relative_humidity avg_rh rh_avg "
    "humedad humedad_relativa umidade humidade umidade_relativa humidite humidite_relative umidita",
    "sfcWind": "sfcwind wind wind_speed windspeed wspd ws mean_wind mean_wind_speed wind_mean "
    "avg_wind wind_avg "
    "average_wind_speed wind_speed_mean viento vento vent",
    "rsds": "rsds srad solar solar_radiation radiation rs global_radiation solar_rad shortwave_radiation",
    "sunshine": "sunshine sun_h sunshine_h sun_hours sunshine_hours hours_of_sunshine bright_sunshine "
    "sunshine_duration heures_de_soleil horas_de_sol sonnenscheindauer",
    "date": "date day time datetime timestamp date_time datum fecha dates data dia jour giorno tag",
    "year": "year yr yyyy ano annee anno jahr",
    "month": "month mon mm mo mes mois mese monat",
    "day": "day dd dy day_of_month dia jour giorno tag",
}
# Words of one language that name something else in another: they count where no other header names the same.
_DOUBTFUL = ("data", "tag", "media")
_BY_NAME = {word: name for name, words in _NAMES.items() if name != "day" for word in words.split()}

# Unit as written in a header: (internal name of the unit). Only these count as a declaration.
_UNITS = {
    "degc": "degC", "c": "degC", "celsius": "degC", "deg_c": "degC", "degrees_c": "degC",
    "degree_c": "degC", "degrees_celsius": "degC", "degree_celsius": "degC", "centigrade": "degC",
    "degf": "degF", "f": "degF", "fahrenheit": "degF", "deg_f": "degF", "degrees_f": "degF",
    "degree_f": "degF", "degrees_fahrenheit": "degF", "degree_fahrenheit": "degF",
    "k": "K", "kelvin": "K", "degk": "K", "deg_k": "K",
    "mm": "mm", "millimetres": "mm", "millimeters": "mm", "mm_day": "mm", "mm_d": "mm",
    "in": "in", "inch": "in", "inches": "in", "cm": "cm",
    "percent": "%", "pct": "%",
    "ms": "m/s", "m_s": "m/s", "mps": "m/s", "m_s_1": "m/s",
    "kmh": "km/h", "km_h": "km/h", "kph": "km/h", "mph": "mph", "kt": "kt", "knots": "kt",
    "mj": "MJ", "mj_m2": "MJ", "mj_m_2": "MJ", "mj_m2_d": "MJ", "mj_m_2_d": "MJ", "mj_m2_day": "MJ",
    "mj_m_2_day": "MJ", "mj_m_2_d_1": "MJ", "mj_m_2_day_1": "MJ",
    "w_m2": "W", "w_m_2": "W", "wm2": "W",
    "h": "h", "hour": "h", "hours": "h", "hr": "h", "hrs": "h",
}  # fmt: skip
_FIT = {
    **dict.fromkeys(TEMPERATURES, ("degC", "degF", "K")),
    "pr": ("mm", "in", "cm"),
    "hurs": ("%",),
    "sfcWind": ("m/s", "km/h", "mph", "kt"),
    "rsds": ("MJ", "W"),
    "sunshine": ("h",),
}
# value * factor + offset gives the internal unit; the factors are definitions (1 in = 25.4 mm, 1 mph =
# 0.44704 m/s, 1 kt = 1852 m/h, 1 W m-2 over a day = 0.0864 MJ m-2)
_CONVERSION = {
    "degF": (5.0 / 9.0, -160.0 / 9.0),
    "K": (1.0, -273.15),
    "in": (25.4, 0.0),
    "cm": (10.0, 0.0),
    "km/h": (1.0 / 3.6, 0.0),
    "mph": (0.44704, 0.0),
    "kt": (1852.0 / 3600.0, 0.0),
    "W": (0.0864, 0.0),
}


@dataclass(frozen=True, slots=True)
class Column:
    """A column that is read: its place, header, what it holds, and the unit its header declares."""

    index: int
    header: str
    name: str
    unit: str | None = None


def temperature_unit_named(word: str, where: str | None = None) -> str:
    """'degC', 'degF' or 'K' for a unit as people write it; `InputError` for any other."""
    found = _UNITS.get(_plain(word))
    if found not in ("degC", "degF", "K"):
        raise InputError(f"temperature_unit is {word!r}; it must be 'degC', 'degF' or 'K'", where=where)
    return found


def to_internal(values, unit: str | None):
    """Values in the internal unit, converted ones to 4 decimals so that equal readings stay equal."""
    if unit not in _CONVERSION:
        return values
    factor, offset = _CONVERSION[unit]
    return (values * factor + offset).round(4)


def recognised_columns(
    headers: Sequence[str], given: Mapping[str, str] | None = None, where: str | None = None
) -> dict[str, Column]:
    """Which column holds what.

    Parameters
    ----------
    headers : sequence of str
        As they stand in the file.
    given : mapping of str to str, optional
        Variable to header, for headers that are not recognised; it goes before recognition.
    where : str, optional
        File named in errors.

    Returns
    -------
    dict of str to Column
        By `date` (or `year`, `month`, `day`) and the names of the variables; other columns are left out.

    Raises
    ------
    InputError
        For a header that is named but absent, two columns for one variable, no date, no tasmin or tasmax.
    """
    headers = [_composed(h.strip().strip('"').strip()) for h in headers]
    found: dict[str, Column] = {}
    for variable, header in (given or {}).items():
        found[variable] = _given_column(variable, _composed(str(header)), headers, where)
    taken = {c.index for c in found.values()}
    parts = [_name_and_unit(h) for h in headers]
    split_date = {"year", "month"} <= {_BY_NAME.get(p[0]) for p in parts}
    for index, (word, unit) in enumerate(parts):
        name: str | None = _BY_NAME.get(word)
        if split_date and word in _NAMES["day"].split():
            name = "day"
        if name is None or index in taken or name in (given or {}):
            continue
        if word in _DOUBTFUL and any(_BY_NAME.get(p[0]) == name and p[0] != word for p in parts):
            continue
        if unit is not None and unit not in _FIT.get(name, ()):
            continue
        if name in found:
            raise InputError(
                f"two columns seem to hold {name}: {found[name].header!r} and {headers[index]!r}; "
                "say which one in [weather.columns]",
                where=where,
            )
        found[name] = Column(index, headers[index], name, unit)
    if split_date and "date" in found and "date" not in (given or {}):
        del found["date"]
    _check_complete(found, headers, where)
    return found


def _given_column(name: str, header: str, headers: list[str], where: str | None) -> Column:
    if name not in _NAMES:
        near = get_close_matches(name, _NAMES, n=1)
        hint = f"; did you mean {near[0]!r}?" if near else f"; it must be one of {', '.join(_NAMES)}"
        raise InputError(f"there is no variable {name!r} to give a column to{hint}", where=where)
    if header not in headers:
        near = get_close_matches(str(header), headers, n=1)
        hint = f"; did you mean {near[0]!r}?" if near else f"; the file has {', '.join(headers)}"
        raise InputError(f"there is no column {header!r}{hint}", where=where)
    unit = _name_and_unit(header)[1]
    return Column(headers.index(header), header, name, unit if unit in _FIT.get(name, ()) else None)


def _check_complete(found: Mapping[str, Column], headers: Sequence[str], where: str | None) -> None:
    lacking = [v for v in ("tasmin", "tasmax") if v not in found]
    if "date" not in found and not {"year", "month", "day"} <= set(found):
        lacking.insert(0, "date")
    if lacking:
        raise InputError(
            f"no column is recognised as {' or '.join(lacking)} (the file has {', '.join(headers)}); "
            "name it in the site file under [weather.columns]",
            where=where,
        )


def _composed(text: str) -> str:
    """Letters with their accents as one sign, so that a header is found however its file writes it."""
    return unicodedata.normalize("NFC", text)


def _plain(text: str) -> str:
    """Lower case without accents, signs of units in letters, anything between words one underscore."""
    text = text.lower().replace("°", "deg_").replace("º", "deg_").replace("²", "2").replace("⁻¹", "_1")
    bare = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return re.sub(r"[^a-z0-9%]+", "_", bare).strip("_")


def _name_and_unit(header: str) -> tuple[str, str | None]:
    """'Tmin (°F)' -> ('tmin', 'degF'); 'wind_ms' -> ('wind', 'm/s'); 'rh_mean' -> ('rh_mean', None)."""
    bracket = re.fullmatch(r"([^(\[]*)[(\[](.*)[)\]]\s*", header)
    if bracket:
        unit = "%" if bracket[2].strip() == "%" else _UNITS.get(_plain(bracket[2]))
        return _plain(bracket[1]), unit
    word = _plain(header)
    if word in _BY_NAME:
        return word, None
    tokens = word.split("_")
    for n in range(1, len(tokens)):
        name, unit = "_".join(tokens[:n]), _UNITS.get("_".join(tokens[n:]))
        if unit and name in _BY_NAME:
            return name, unit
    return word, None


# Names in wide use besides those of CMIP: E-OBS (tn, tx, tg, rr), ERA5 daily statistics, station files
_CF_NAMES = {
    "tasmin": ("tasmin", "tmin", "tn", "mn2t", "t2m_min"),
    "tasmax": ("tasmax", "tmax", "tx", "mx2t", "t2m_max"),
    "tas": ("tas", "tmean", "tavg", "tg", "t2m"),
    "pr": ("pr", "precip", "prcp", "rr", "tp"),
    "hurs": ("hurs", "rh", "hu"),
    "sfcWind": ("sfcwind", "wind_speed", "fg"),
    "rsds": ("rsds", "ssrd", "qq"),
    "sunshine": ("sunshine", "sund"),
}
_STANDARD = {
    "precipitation_flux": "pr",
    "lwe_precipitation_rate": "pr",
    "precipitation_amount": "pr",
    "lwe_thickness_of_precipitation_amount": "pr",
    "relative_humidity": "hurs",
    "wind_speed": "sfcWind",
    "surface_downwelling_shortwave_flux_in_air": "rsds",
    "surface_downwelling_shortwave_flux": "rsds",
    "duration_of_sunshine": "sunshine",
}
# unit: (factor, offset) to the internal unit; units are compared without blanks, '**', '^' and in lower case
_TEMPERATURE = {
    "k": (1.0, -273.15),
    "kelvin": (1.0, -273.15),
    **dict.fromkeys(
        ("degc", "c", "celsius", "degree_celsius", "degrees_celsius", "°c", "deg_c", "degreesc"), (1.0, 0.0)
    ),
    **dict.fromkeys(("degf", "f", "fahrenheit", "degree_fahrenheit", "degrees_fahrenheit", "°f"), (5 / 9, -160 / 9)),
}
_RAIN = {
    **dict.fromkeys(("kgm-2s-1", "kg/m2/s", "kgm-2/s", "mms-1", "mm/s", "kg/(m2s)"), (86400.0, 0.0)),
    **dict.fromkeys(
        ("mm", "mmday-1", "mmd-1", "mm/day", "mm/d", "kgm-2", "kg/m2", "kgm-2day-1", "kgm-2d-1"), (1.0, 0.0)
    ),
    **dict.fromkeys(("m", "mday-1", "md-1", "m/day"), (1000.0, 0.0)),
    **dict.fromkeys(("cm", "cmday-1", "cm/day"), (10.0, 0.0)),
    **dict.fromkeys(("in", "inch", "inches", "inday-1"), (25.4, 0.0)),
}
_CF_UNITS: dict[str, dict[str, tuple[float, float]]] = {
    **dict.fromkeys(("tasmin", "tasmax", "tas"), _TEMPERATURE),
    "pr": _RAIN,
    "hurs": {"%": (1.0, 0.0), "percent": (1.0, 0.0), "1": (100.0, 0.0)},
    "sfcWind": {**dict.fromkeys(("ms-1", "m/s"), (1.0, 0.0)), **dict.fromkeys(("kmh-1", "km/h"), (1 / 3.6, 0.0))},
    "rsds": {
        **dict.fromkeys(("wm-2", "w/m2"), (0.0864, 0.0)),
        **dict.fromkeys(("jm-2", "j/m2", "jm-2day-1"), (1e-6, 0.0)),
        **dict.fromkeys(("mjm-2", "mj/m2", "mjm-2day-1", "mjm-2d-1"), (1.0, 0.0)),
    },
    "sunshine": {
        **dict.fromkeys(("s", "sday-1", "sd-1"), (1.0 / 3600.0, 0.0)),
        **dict.fromkeys(("h", "hour", "hours", "hday-1", "hd-1"), (1.0, 0.0)),
    },
}


def cf_variables(
    data: xr.Dataset,
    given: Mapping[str, str] | None,
    where: str,
    said_in: str = "the site file under [weather.columns]",
) -> dict[str, str]:
    """Name in the file by variable.

    Parameters
    ----------
    data : xarray.Dataset
    given : mapping of str to str, optional
        Goes before recognition.
    where : str
        File named in errors.
    said_in : str
        Where the user may say which variable is which.

    Raises
    ------
    InputError
        For a name that is not there, two candidates, no minimum or no maximum, no time.
    """
    if "time" not in data.variables:
        raise InputError("the file has no time axis named 'time'", where=where)
    found: dict[str, str] = {}
    for variable, name in (given or {}).items():
        if variable not in VARIABLES:
            raise InputError(f"there is no variable {variable!r}; known are {', '.join(VARIABLES)}", where=where)
        if name not in data.data_vars:
            near = get_close_matches(name, list(map(str, data.data_vars)), n=1)
            hint = f"; did you mean {near[0]!r}?" if near else f"; it has {', '.join(map(str, data.data_vars))}"
            raise InputError(f"the file has no variable {name!r}{hint}", where=where)
        found[variable] = name
    timed = [str(n) for n, a in data.data_vars.items() if "time" in a.dims and not str(n).endswith("_origin")]
    for variable in VARIABLES:
        if variable in found:
            continue
        fit = [n for n in timed if n not in found.values() and _is(variable, n, data[n].attrs)]
        exact = [n for n in fit if n == variable]
        if len(fit) > 1 and not exact:
            raise InputError(
                f"both {fit[0]!r} and {fit[1]!r} seem to hold {variable}; say which one in {said_in}",
                where=where,
            )
        if fit:
            found[variable] = (exact or fit)[0]
    lacking = [v for v in ("tasmin", "tasmax") if v not in found]
    if lacking:
        raise InputError(
            f"no variable is recognised as {' or '.join(lacking)} (the file has {', '.join(timed) or 'none in time'}); "
            f"name it in {said_in}",
            where=where,
        )
    return found


def _is(variable: str, name: str, attributes: Mapping) -> bool:
    if name.lower() in _CF_NAMES[variable]:
        return True
    standard, method = str(attributes.get("standard_name", "")), str(attributes.get("cell_methods", ""))
    if standard == "air_temperature":
        kind = "tasmin" if "minimum" in method else "tasmax" if "maximum" in method else "tas"
        return kind == variable and (kind != "tas" or "mean" in method)
    return _STANDARD.get(standard) == variable


@dataclass(frozen=True)
class Conversion:
    """From stored values to the internal unit: times `factor`, plus `offset`, to so many decimals (None: as it is)."""

    factor: float
    offset: float
    decimals: int | None

    def __call__(self, values: np.ndarray) -> np.ndarray:
        """Values in the internal unit, float64, of the same shape."""
        out = np.asarray(values, dtype=float) * self.factor + self.offset
        return out if self.decimals is None else out.round(self.decimals)


def conversion(variable: str, array: xr.DataArray, where: str) -> Conversion:
    """How the values of an array become those of a variable in its internal unit.

    Values kept in single precision, packed or converted are rounded to what they can hold (3 or 4 decimals), so
    that equal readings come out equal whatever they were stored as.

    Raises
    ------
    InputError
        For no unit, or one that is not understood for the variable.
    """
    unit = array.attrs.get("units")
    if unit is None:
        raise InputError(
            f"{array.name} has no units; the file must state them (for example degC, K, kg m-2 s-1)",
            where=where,
            column=variable,
        )
    key = "".join(str(unit).lower().replace("**", "").replace("^", "").split()).replace("m2s-1", "m-2s-1")
    known = _CF_UNITS[variable]
    if key not in known:
        raise InputError(f"the unit {unit!r} of {array.name} is not understood for {variable}", where=where)
    factor, offset = known[key]
    stored = np.dtype(array.encoding.get("dtype", array.dtype))
    if stored.itemsize <= 4 and stored.kind in "iuf":
        return Conversion(factor, offset, 3)
    return Conversion(factor, offset, None if (factor, offset) == (1.0, 0.0) else 4)


def in_internal_units(variable: str, array: xr.DataArray, where: str) -> np.ndarray:
    """Values in the internal unit, shape (n,); see `conversion`."""
    return conversion(variable, array, where)(array.values).reshape(-1)
