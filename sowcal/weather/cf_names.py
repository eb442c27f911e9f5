"""Which variable of a NetCDF file is which, by CF names, and its values in internal units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING

import numpy as np

from sowcal.errors import InputError
from sowcal.weather.dataset import VARIABLES

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["Conversion", "cf_variables", "conversion", "in_internal_units"]

# Names in wide use besides those of CMIP: E-OBS (tn, tx, tg, rr), ERA5 daily statistics, station files
_NAMES = {
    "tasmin": ("tasmin", "tmin", "tn", "mn2t", "t2m_min"),
    "tasmax": ("tasmax", "tmax", "tx", "mx2t", "t2m_max"),
    "tas": ("tas", "tmean", "tavg", "tg", "t2m"),
    "pr": ("pr", "precip", "prcp", "rr", "tp"),
    "hurs": ("hurs", "rh", "hu"),
    "sfcWind": ("sfcwind", "wind_speed", "fg"),
    "rsds": ("rsds", "ssrd", "qq"),
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
_UNITS: dict[str, dict[str, tuple[float, float]]] = {
    **dict.fromkeys(("tasmin", "tasmax", "tas"), _TEMPERATURE),
    "pr": _RAIN,
    "hurs": {"%": (1.0, 0.0), "percent": (1.0, 0.0), "1": (100.0, 0.0)},
    "sfcWind": {**dict.fromkeys(("ms-1", "m/s"), (1.0, 0.0)), **dict.fromkeys(("kmh-1", "km/h"), (1 / 3.6, 0.0))},
    "rsds": {
        **dict.fromkeys(("wm-2", "w/m2"), (0.0864, 0.0)),
        **dict.fromkeys(("jm-2", "j/m2", "jm-2day-1"), (1e-6, 0.0)),
        **dict.fromkeys(("mjm-2", "mj/m2", "mjm-2day-1", "mjm-2d-1"), (1.0, 0.0)),
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
    if name.lower() in _NAMES[variable]:
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
    known = _UNITS[variable]
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
