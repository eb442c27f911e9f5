"""A cell of a grid against the same record asked as a single site, through the site file's own door, to the bit."""

import importlib.util
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import sowcal
from sowcal.grids.cells import CLASSES, LIMITS, WAYS

_spec = importlib.util.spec_from_file_location("made_up_grids", Path(__file__).with_name("made_up.py"))
made_up = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(made_up)

CROPS = ["courgette", "broad bean", "pea (shelling)", "fig", "asparagus"]


def as_site(path, grid, y, x):
    """The cell as a plot of its own: a site file that names the very file of the grid."""
    lat, lon = float(grid["lat"][y]), float(grid["lon"][x])
    site = path.with_name(f"cell-{y}-{x}.toml")
    site.write_text(
        f"name = 'cell'\nlatitude = {lat!r}\nlongitude = {lon!r}\n[weather]\nsource = 'file'\nfile = '{path.name}'\n",
        encoding="utf-8",
    )
    return str(site)


def damaged(grid):
    """Short and long gaps, a value that cannot be, a minimum above its maximum; one cell with far too many of them."""
    out = grid.copy(deep=True)
    low, high = out["tasmin"].values, out["tasmax"].values
    low[100:104, 1, 2] = np.nan
    high[700:760, 1, 3] = np.nan
    low[900, 2, 2], high[1200, 2, 3] = -99.9, 77.0
    low[1300, 0, 1] = high[1300, 0, 1] + 3.0
    high[:, 3, 3] = 99.0
    return out


def southern(grid):
    """The same grid mirrored at the equator, its seasons half a year on."""
    grid = grid.map(lambda v: v.roll(time=182) if "time" in v.dims else v)
    return grid.assign_coords(lat=grid["lat"] - 74.0).assign_coords(
        lat=lambda d: d["lat"].assign_attrs(grid["lat"].attrs)
    )


def in_single_kelvin(grid):
    out = grid.copy()
    for name in ("tasmin", "tasmax"):
        out[name] = (grid[name] + 273.15).astype("float32").assign_attrs({**grid[name].attrs, "units": "K"})
    return out


def without_leap_days(grid):
    out = in_single_kelvin(grid).convert_calendar("noleap", use_cftime=True)
    return out.assign(orog=grid["orog"])


FORMS = {
    "as it is": lambda g: g,
    "damaged": damaged,
    "southern": southern,
    "single precision in K": in_single_kelvin,
    "without leap days": without_leap_days,
}


@pytest.fixture(scope="module", params=FORMS)
def files(request, tmp_path_factory):
    if request.param == "without leap days":
        pytest.importorskip("cftime")
    grid = FORMS[request.param](made_up.made_up_grid(ny=4, nx=4, years=5))
    path = tmp_path_factory.mktemp("grid") / "grid.nc"
    grid.to_netcdf(path, engine="scipy")
    return path, grid, sowcal.map_crop(path, CROPS), sowcal.chill_map(path)


def of_site(verdict, chart):
    """What the map says of a cell, taken afresh from the answer for a single site."""
    line = next(c for c in chart.crops if c.crop == verdict.crop)
    window, way, length = verdict.evidence.get("window"), verdict.evidence.get("way"), 0.0
    if window is None:
        start = next((s for s in line.starts if s.windows or s.possible), None)
        if start:
            way, window = start.way, (*start.windows, *start.possible)[0]
    if way:
        length = sum((w.end - w.start) % 365 + 1 for s in line.starts if s.way == way for w in s.windows)
    nan = float("nan")
    return {
        "suitability_class": CLASSES.index(verdict.word) + 1,
        "reliability": nan if verdict.reliability is None else verdict.reliability,
        "best_start_day": window.best + 1 if window else nan,
        "window_length": length if window or verdict.suitability == "N" else nan,
        "yield_fraction": window.yield_fraction if window else nan,
        "way": WAYS.index(way) + 1 if way else nan,
        "limiting_factor": LIMITS.index(verdict.limiting_factor) + 1 if verdict.limiting_factor else nan,
    }


def test_crops_of_every_land_cell_equal_those_of_the_site(files):
    path, grid, crops, _ = files
    judged = 0
    for y in range(grid.sizes["lat"]):
        for x in range(1, grid.sizes["lon"]):
            site = as_site(path, grid, y, x)
            try:
                chart, verdicts = sowcal.rate_crops(site, CROPS, most_remedies=0)
            except sowcal.SowcalError:
                assert np.isnan(crops["suitability_class"][:, y, x]).all()
                continue
            for verdict in verdicts:
                cell = crops.sel(crop=verdict.crop).isel(lat=y, lon=x)
                for name, value in of_site(verdict, chart).items():
                    assert cell[name].values.tobytes() == np.float64(value).tobytes(), (y, x, verdict.crop, name)
                judged += 1
    assert judged >= 11 * len(CROPS)


def test_chill_of_every_land_cell_equals_that_of_the_site(files):
    path, grid, _, chill = files
    for y in range(grid.sizes["lat"]):
        for x in range(1, grid.sizes["lon"]):
            try:
                _, days = sowcal.open_weather(as_site(path, grid, y, x))
            except sowcal.SowcalError:
                assert np.isnan(chill["chill_portions"][:, y, x]).all()
                continue
            alone = sowcal.chill_portions(
                days["tasmin"],
                days["tasmax"],
                time=days.time,
                latitude=days.latitude,
            )
            assert chill["chill_portions"].values[:, y, x].tobytes() == alone.tobytes()


def test_the_sea_is_left_empty_and_told(files):
    _, _, crops, chill = files
    for dataset in (crops, chill):
        assert dataset.attrs["cells_without_a_record"] == 4
        for array in dataset.data_vars.values():
            assert np.isnan(array.isel(lon=0)).all()
    assert np.isfinite(crops["reliability"].isel(lon=1)).all()


def test_cells_that_a_site_would_refuse_are_told(tmp_path):
    grid = damaged(made_up.made_up_grid(ny=4, nx=4, years=5))
    out = sowcal.map_crop(grid, "courgette")
    assert out.attrs["warnings"].startswith("left out for too many impossible values: 1 cell")


def test_a_wrong_unit_is_refused_as_a_whole():
    grid = made_up.made_up_grid(ny=2, nx=3, years=2)
    for name in ("tasmin", "tasmax"):
        grid[name].values[:] += 273.15
    with pytest.raises(sowcal.SowcalError, match="check the unit"):
        sowcal.map_crop(grid, "courgette")


def test_the_map_names_the_days_it_was_made_from():
    """The same in single precision and in kelvin; another for a tenth of a degree on one day, or days changed about."""
    grid = made_up.made_up_grid(ny=2, nx=3, years=3)

    def named(changed):
        return sowcal.chill_map(changed).attrs["record_fingerprint"]

    whole = named(grid)
    assert len(whole) == 16
    assert named(in_single_kelvin(grid)) == whole
    cooler, turned = grid.copy(deep=True), grid.copy(deep=True)
    cooler["tasmin"].values[500, 1, 2] -= 0.1
    for name in ("tasmin", "tasmax"):
        turned[name].values[[10, 11], 1, 2] = turned[name].values[[11, 10], 1, 2]
    north = grid.assign_coords(lat=("lat", grid["lat"].values + 0.5, grid["lat"].attrs))
    assert len({whole, *map(named, (cooler, turned, north, grid.isel(lat=[0]), grid.isel(lon=[2, 1, 0])))}) == 6


def test_both_hemispheres_on_one_grid():
    """Winters are named by their spring in each hemisphere, whatever cells lie beside each other."""
    grid = made_up.made_up_grid(ny=2, nx=3, years=4)
    grid = grid.assign_coords(lat=("lat", [-37.0, 37.0], grid["lat"].attrs))
    for name in ("tasmin", "tasmax"):
        grid[name].values[:, 0] = np.roll(grid[name].values[:, 0], 182, axis=0)
    both = sowcal.chill_map(grid)
    for y in (0, 1):
        alone = sowcal.chill_map(grid.isel(lat=[y]))
        shared = both["chill_portions"].isel(lat=[y]).sel(year=alone["year"])
        xr.testing.assert_identical(shared.drop_vars("height"), alone["chill_portions"].drop_vars("height"))


def test_changes_and_settings_reach_the_cells():
    grid = made_up.made_up_grid(ny=1, nx=3, years=4)
    plain = sowcal.map_crop(grid, "courgette")
    warmer = sowcal.map_crop(grid, "courgette", what_ifs=["warmer=3"])
    strict = sowcal.map_crop(grid, "courgette", sowcal.Settings(reliability=0.95, near_best=0.95))
    assert (warmer["best_start_day"][0, 0, 1:] < plain["best_start_day"][0, 0, 1:]).all()
    assert (strict["window_length"][0, 0, 1:] < plain["window_length"][0, 0, 1:]).all()
    cell = grid.isel(lat=0, lon=2).drop_vars("orog").rename(lat="latitude", lon="longitude")
    _, (verdict,) = sowcal.rate_crops(cell, ["courgette"], what_ifs=["warmer=3"], most_remedies=0)
    assert float(warmer["best_start_day"][0, 0, 2]) == verdict.evidence["window"].best + 1
