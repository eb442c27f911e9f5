"""xarray in, xarray out: dims, units, attributes, dask blocks, the same numbers as plain arrays."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
import xarray as xr

from sowcal.climate.chill import chill_portions, chilling_hours
from sowcal.climate.degree_days import growing_degree_days
from sowcal.climate.evapotranspiration import reference_evapotranspiration
from sowcal.climate.frost import frost_days, last_spring_frost
from sowcal.climate.heat import hardiness_zone, hot_days, mean_yearly_minimum
from sowcal.climate.hourly import hourly_temperature
from sowcal.climate.rain import opening_rains
from sowcal.errors import InputError


@pytest.fixture(scope="module")
def grid():
    """Two years on a grid of both hemispheres, time in the middle; invented."""
    rng = np.random.default_rng(1)
    time = np.arange(np.datetime64("2001-01-01"), np.datetime64("2003-01-01")).astype("datetime64[ns]")
    lat = np.array([-35.0, 5.0, 38.0])
    wave = np.cos(2 * np.pi * np.arange(time.size) / 365.25)
    values = 10.0 - np.sign(lat)[:, None, None] * 8.0 * wave[None, :, None] + rng.normal(0, 3, (3, time.size, 2))
    return xr.DataArray(
        values,
        dims=("lat", "time", "lon"),
        coords={"lat": lat, "time": time, "lon": [10.0, 20.0]},
        attrs={"units": "degC"},
        name="tasmin",
    )


FUNCTIONS = {
    "degree days": (
        lambda x: growing_degree_days(x, x + 10.0, base_temperature=10.0),
        ("lat", "time", "lon"),
    ),
    "frost days": (frost_days, ("lat", "lon", "year")),
    "frost date": (last_spring_frost, ("lat", "lon", "year")),
    "hot by month": (lambda x: hot_days(x + 10.0, by="month"), ("lat", "lon", "year", "month")),
    "hot by season": (lambda x: hot_days(x + 10.0, by="season"), ("lat", "lon", "year", "season")),
    "hours": (lambda x: hourly_temperature(x, x + 10.0), ("lat", "lon", "time", "hour")),
    "chill hours": (lambda x: chilling_hours(x, x + 10.0), ("lat", "lon", "year")),
    "portions": (lambda x: chill_portions(x, x + 10.0), ("lat", "lon", "year")),
    "evapotranspiration": (
        lambda x: reference_evapotranspiration(x, x + 10.0, method="penman_monteith", elevation=10.0),
        ("lat", "time", "lon"),
    ),
    "rains": (lambda x: opening_rains(x.clip(0.0)), ("lat", "lon", "year")),
    "zone": (lambda x: hardiness_zone(mean_yearly_minimum(x, least_years=1)), ("lat", "lon")),
}


@pytest.mark.parametrize("name", list(FUNCTIONS))
def test_grids_and_lazy_blocks(grid, name):
    function, dims = FUNCTIONS[name]
    plain = function(grid)
    assert plain.dims == dims
    assert plain.attrs["long_name"]
    lazy = function(grid.chunk({"lat": 2, "lon": 1, "time": 100}))
    assert lazy.chunks is not None
    xr.testing.assert_identical(lazy.compute(), plain)
    if "year" in dims:  # one place alone gives what it gives in the grid
        alone = function(grid.isel(lat=0, lon=1))
        np.testing.assert_array_equal(alone, plain.isel(lat=0, lon=1).sel(year=alone.year))


def test_numpy_gives_the_same_as_labels(grid):
    values = grid.transpose("lat", "lon", "time").values
    latitude = grid.lat.values[:, None]
    got = chill_portions(values, values + 10.0, time=grid.time.values, latitude=latitude)
    np.testing.assert_array_equal(got, chill_portions(grid, grid + 10.0))
    got = frost_days(values, time=grid.time.values, latitude=latitude)
    np.testing.assert_array_equal(got, frost_days(grid))


def test_units_and_dims_are_checked(grid):
    kelvin = grid.assign_attrs(units="K")
    with pytest.raises(InputError, match="'tasmin' is in K; convert it to degC"):
        growing_degree_days(kelvin, kelvin, base_temperature=10.0)
    with pytest.raises(InputError, match="no dimension 'time'"):
        growing_degree_days(grid.mean("time"), grid.mean("time"), base_temperature=10.0)
    with pytest.raises(InputError, match="latitude is not known"):
        frost_days(grid.rename(lat="y"))


def test_plain_arrays_never_import_xarray():
    code = (
        "import sys, numpy as np\n"
        "from sowcal.climate import chill, degree_days, evapotranspiration, frost, heat, rain, soil, sun\n"
        "degree_days.growing_degree_days(np.zeros(3), np.ones(3), base_temperature=0.0)\n"
        "sun.day_length(38.4, np.arange(1.0, 4.0))\n"
        "assert not {'xarray', 'pandas', 'scipy', 'matplotlib', 'numpy.ma'} & set(sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
