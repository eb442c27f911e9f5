"""Records and published tables that the climate tests check against."""

from __future__ import annotations

import importlib.metadata
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

DATA = Path(__file__).parents[1] / "data"


@pytest.fixture(scope="session")
def published():
    """Reader of published values by file name; their sources stand in `tests/data/README.md`."""

    def read(name: str) -> pd.DataFrame:
        return pd.read_csv(DATA / name)

    return read


@pytest.fixture(scope="session")
def seattle():
    """Seattle 2012 to 2015, daily, from the registry package vega_datasets (NOAA data)."""
    from vega_datasets import local_data

    table = local_data.seattle_weather()
    return SimpleNamespace(
        time=table["date"].to_numpy().astype("datetime64[D]"),
        tasmin=table["temp_min"].to_numpy(float),
        tasmax=table["temp_max"].to_numpy(float),
        pr=table["precipitation"].to_numpy(float),
        latitude=47.6,
    )


@pytest.fixture(scope="session")
def tunis():
    """Tunis 1979 to 2002, daily, from the data folder of the registry package aquacrop."""
    files = importlib.metadata.files("aquacrop") or []
    path = next(f for f in files if f.name == "tunis_climate.txt").locate()
    table = pd.read_csv(str(path), sep=r"\s+")
    time = pd.to_datetime(table[["Year", "Month", "Day"]]).to_numpy().astype("datetime64[D]")
    return SimpleNamespace(
        time=time,
        tasmin=table["Tmin(C)"].to_numpy(float),
        tasmax=table["Tmax(C)"].to_numpy(float),
        pr=table["Prcp(mm)"].to_numpy(float),
        et0=table["Et0(mm)"].to_numpy(float),
        latitude=36.8,
    )


@pytest.fixture(scope="session")
def labelled():
    """Maker of a DataArray over time at a latitude, from plain values."""

    def make(values, time, latitude=None, units="degC"):
        import xarray as xr

        out = xr.DataArray(
            np.asarray(values, dtype=float),
            dims=("time",),
            coords={"time": np.asarray(time).astype("datetime64[ns]")},
            attrs={"units": units},
        )
        if latitude is None:
            return out
        out = out.assign_coords(lat=latitude)
        out.lat.attrs["units"] = "degrees_north"
        return out

    return make
