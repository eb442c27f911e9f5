"""The data that every row is measured on: the invented record of a bundled plot, and sites made from it."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from functools import cache
from types import ModuleType

import numpy as np
import xarray as xr

from sowcal.weather.open_site import open_weather

__all__ = ["PLOT", "Days", "days_of", "labelled", "named", "with_gaps", "xclim_indices"]

PLOT = "sallowdene"


@dataclass(frozen=True)
class Days:
    """Daily temperatures (degC) of one site, shape (N,), or several, shape (sites, N)."""

    tasmin: np.ndarray
    tasmax: np.ndarray
    time: np.ndarray
    latitude: float

    @property
    def tas(self) -> np.ndarray:
        """Daily mean."""
        return 0.5 * (self.tasmin + self.tasmax)


@cache
def _whole() -> Days:
    dataset = open_weather(PLOT)[1]
    return Days(
        dataset["tasmin"].astype(float),
        dataset["tasmax"].astype(float),
        dataset.time,
        dataset.latitude,
    )


def days_of(years: int, shape: tuple[int, ...] = ()) -> Days:
    """The first years of the record; for several sites each is warmer or colder than the plot by up to 3 degC."""
    whole = _whole()
    end = int(np.searchsorted(whole.time, whole.time[0].astype("datetime64[Y]") + years))
    low, high = whole.tasmin[:end], whole.tasmax[:end]
    if shape:
        shift = np.linspace(-3.0, 3.0, int(np.prod(shape))).reshape(*shape, 1)
        low, high = low + shift, high + shift
    return Days(low, high, whole.time[:end], whole.latitude)


def with_gaps(days: Days, seed: int = 7) -> Days:
    """The same days with some of them missing, as stations miss them: runs of 1 to 20 days, one in ten in all."""
    random = np.random.default_rng(seed)
    lacking = np.zeros(days.time.size, dtype=bool)
    while lacking.mean() < 0.1:
        begin, length = random.integers(0, days.time.size), random.integers(1, 21)
        lacking[begin : begin + length] = True
    return Days(*(np.where(lacking, np.nan, t) for t in (days.tasmin, days.tasmax)), days.time, days.latitude)


def labelled(values: np.ndarray, days: Days, name: str) -> xr.DataArray:
    """Values as xclim wants them: labelled, with a unit and a latitude."""
    dims = {1: ("time",), 2: ("site", "time"), 3: ("y", "x", "time")}[values.ndim]
    out = xr.DataArray(
        values, dims=dims, coords={"time": days.time.astype("datetime64[ns]")}, attrs={"units": "degC"}, name=name
    ).assign_coords(lat=days.latitude)
    out.lat.attrs["units"] = "degrees_north"
    return out


def xclim_indices() -> ModuleType:
    """The indices of xclim, without the warnings of its import."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import xclim.indices
    return xclim.indices


def named(sites: int) -> str:
    """A number of sites in words."""
    return "1 site" if sites == 1 else f"{sites} sites"
