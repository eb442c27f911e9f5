"""Grids: one cell of NetCDF classic, NetCDF-4 or Zarr, in any calendar and unit, and no more of it than is needed."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from sowcal.errors import InputError
from sowcal.weather.grid_file import open_grid
from sowcal.weather.netcdf import read_netcdf
from sowcal.weather.open_site import read_record

sys.path.insert(0, str(Path(__file__).parent))
from records_alike import assert_alike

INSIDE = {"latitude": 39.0, "longitude": -15.0}
STORES = ("NetCDF classic", "NetCDF-4", "zarr")


def grid(calendar="standard", units="K", kind="float32"):
    """Four years on 3 by 4 cells, longitudes 0 to 360; each cell's values tell its place."""
    time = xr.date_range("2001-01-01", "2004-12-30", freq="D", calendar=calendar, use_cftime=calendar != "standard")
    lat, lon = [40.0, 39.0, 38.0], [343.0, 344.0, 345.0, 346.0]
    cell = np.array(lat)[:, None] + np.array(lon)[None, :] / 1000.0
    low = np.broadcast_to(cell[None] * 0.25, (time.size, 3, 4)) + (273.15 if units == "K" else 0.0)
    dims = ("time", "lat", "lon")
    air = {"units": units, "standard_name": "air_temperature"}
    rain = {"units": "kg m-2 s-1", "standard_name": "precipitation_flux"}
    data = xr.Dataset(
        {
            "tn": (dims, low.astype(kind), {**air, "cell_methods": "time: minimum"}),
            "hot": (dims, (low + 9).astype(kind), {**air, "cell_methods": "time: maximum"}),
            "flux": (dims, np.full(low.shape, 2.0 / 86400, kind), rain),
        },
        {"time": time, "lat": ("lat", lat, {"units": "degrees_north"}), "lon": ("lon", lon, {"units": "degrees_east"})},
    )
    return data


def stored(data, folder, store):
    """The data in a file or store of some kind, cut into one chunk a cell where the kind has chunks."""
    if store == "zarr":
        pytest.importorskip("zarr")
        path = folder / "g.zarr"
        cells = {v: {"chunks": (data.sizes["time"], 1, 1)} for v in ("tn", "hot", "flux")}
        data.to_zarr(path, encoding=cells)
    elif store == "NetCDF-4":
        pytest.importorskip("h5netcdf")
        pytest.importorskip("h5py")
        path = folder / "g4.nc"
        cells = {v: {"chunksizes": (data.sizes["time"], 1, 1), "zlib": True} for v in ("tn", "hot", "flux")}
        data.to_netcdf(path, engine="h5netcdf", encoding=cells)
    else:
        path = folder / "g.nc"
        data.to_netcdf(path, engine="scipy")
    return path


@pytest.mark.parametrize("store", STORES)
@pytest.mark.parametrize(
    ("calendar", "missing"),
    [
        ("standard", 0),
        ("proleptic_gregorian", 0),
        ("noleap", 1),
        ("all_leap", 0),
        ("julian", 0),
        ("360_day", 21),
    ],
)
def test_one_cell_of_a_grid_in_any_calendar(tmp_path, calendar, missing, store):
    pytest.importorskip("cftime")
    got = read_record(stored(grid(calendar), tmp_path, store), latitude=38.9, longitude=-15.2)
    for values, wanted in (
        (got["tasmin"], (39.0 + 0.345) * 0.25),
        (got["tasmax"] - got["tasmin"], 9.0),
        (got["pr"], 2.0),
    ):
        np.testing.assert_allclose(values[np.isfinite(values)], wanted, atol=1e-3)
    assert "grid cell at 39, 345" in got.history
    assert got["tasmin"].size >= 1456
    # 29 February 2004 is not in a year of 365 days; of 360 days, 5 of each common and 6 of a leap year are missing
    assert abs(int(np.isnan(got["tasmin"]).sum()) - missing) <= (1 if calendar == "360_day" else 0)
    assert (calendar in got.history) == (calendar not in ("standard", "proleptic_gregorian"))


@pytest.mark.parametrize(
    ("change", "place", "words"),
    [
        (lambda d: d, {}, "latitude and longitude of the site are needed"),
        (lambda d: d, {"latitude": 50.0, "longitude": -15.2}, "outside the grid"),
        (lambda d: d, {"latitude": 39.0, "longitude": 20.0}, "outside the grid"),
        (lambda d: d.isel(time=slice(None, None, 30)), INSIDE, "time steps are 30 days"),
        (lambda d: d.drop_vars("hot"), INSIDE, "recognised as tasmax"),
        (lambda d: d.assign(tmin=d["tn"]), INSIDE, "both 'tn' and 'tmin'"),
        (lambda d: d.assign(tn=d["tn"].drop_attrs()), INSIDE, "has no units"),
        (lambda d: d.assign(tn=d["tn"].assign_attrs(units="furlong")), INSIDE, "'furlong'"),
        (lambda d: d.assign(tn=d["tn"].where(d["tn"] < 0)), INSIDE, None),
        (lambda d: d.rename(time="t"), INSIDE, "no time axis"),
        (lambda d: d.expand_dims(level=[1, 2]), INSIDE, "dimensions"),
        (lambda d: d.assign(tn=d["tn"].assign_attrs(units="degC")), INSIDE, "check the unit"),
    ],
)
def test_grids_that_are_refused(tmp_path, change, place, words):
    data = change(grid())
    data.to_netcdf(tmp_path / "g.nc", engine="scipy")
    if words is None:  # one variable empty is a record with it missing throughout
        assert np.isnan(read_netcdf(tmp_path / "g.nc", **place)["tasmin"]).all()
        return
    with pytest.raises(InputError) as caught:
        read_netcdf(tmp_path / "g.nc", **place)
    assert words in str(caught.value)


def _tables(data, dims=("lat", "lon")):
    """The same grid with tables of latitude and longitude over other dimensions."""
    lat, lon = np.meshgrid(data["lat"].values, data["lon"].values, indexing="ij")
    out = data.drop_vars(["lat", "lon"]).rename(lat="y", lon="x")
    return out.assign_coords(
        latitude=(dims, lat, {"units": "degrees_north"}), longitude=(dims, lon, {"units": "degrees_east"})
    )


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda d: d.drop_vars("lat"), "no coordinate is recognised"),
        (lambda d: _tables(d, ("lat", "lon")), "a grid has time, latitude, longitude"),
        (lambda d: _tables(d, ("y", "x")).assign_coords(latitude=("y", [40.0, 39.0, 38.0], {"units": "degrees_north"})),
         "this is no grid"),
        (lambda d: d.expand_dims(member=2), "a dimension 'member' of 2 besides"),
        (lambda d: d.assign_coords(lat=("lat", [95.0, 39.0, 38.0], d["lat"].attrs)), "latitude is missing or lies off"),
        (lambda d: d.isel(time=[0, 1, 1, 2]), "2001-01-02 stands there twice"),
        (lambda d: d.isel(time=[]), "no days in the record"),
        (lambda d: d.isel(time=slice(None, None, 7)), "time steps are 7 days"),
        (lambda d: d.assign_coords(time=np.arange(d.sizes["time"])), "no units such as"),
        (lambda d: d.drop_vars("hot"), "tasmax"),
    ],
)  # fmt: skip
def test_grids_for_maps_that_are_refused(change, words):
    with pytest.raises(InputError, match=words):
        open_grid(change(grid(units="degC")))


def test_a_grid_for_maps_by_tables_with_a_gap_and_heights():
    """Day 5 is left out of the file; members of one are no dimension; only heights over the whole grid count."""
    data = _tables(grid(units="degC"), ("y", "x")).isel(time=[0, 1, 2, 3, 5]).expand_dims(member=1)
    low = data["tn"].values[0].copy()
    data["orog"] = (("x", "y"), np.arange(12.0).reshape(4, 3), {"units": "m"})
    data["depth"] = (("y", "x"), np.ones((3, 4)), {"units": "m"})
    found = open_grid(data)
    assert found.dims == ("y", "x")
    assert found.days.astype(str).tolist() == [f"2001-01-0{k}" for k in range(1, 7)]
    np.testing.assert_array_equal(found.tasmin.values[[0, 1, 2, 3, 5]], low)
    assert np.isnan(found.tasmin.values[4]).all()
    np.testing.assert_array_equal(found.height.values, np.arange(12.0).reshape(4, 3).T)
    assert found.latitudes().tolist() == [[40.0] * 4, [39.0] * 4, [38.0] * 4]
    assert open_grid(data.drop_vars("orog")).height is None


def test_variables_of_no_such_kind():
    with pytest.raises(InputError, match="there is no variable 'heat'"):
        open_grid(grid(), {"heat": "hot"})


def test_named_variables_and_the_sea(tmp_path):
    data = grid().rename(tn="odd").drop_attrs()
    for name, unit in (("odd", "K"), ("hot", "K"), ("flux", "kg m-2 s-1")):
        data[name].attrs["units"] = unit
    data["odd"].values[:, 0, 0] = data["hot"].values[:, 0, 0] = data["flux"].values[:, 0, 0] = np.nan
    data.to_netcdf(tmp_path / "g.nc", engine="scipy")
    names = {"tasmin": "odd", "tasmax": "hot", "pr": "flux"}
    got = read_netcdf(tmp_path / "g.nc", latitude=38.1, longitude=-15.0, columns=names)
    assert float(got["pr"][0]) == pytest.approx(2.0)
    with pytest.raises(InputError, match="may lie in the sea"):
        read_netcdf(tmp_path / "g.nc", latitude=40.0, longitude=-17.0, columns=names)
    with pytest.raises(InputError, match="did you mean 'odd'"):
        read_netcdf(tmp_path / "g.nc", latitude=38.1, longitude=-15.0, columns={"tasmin": "odds"})


def test_only_the_cell_is_read(tmp_path, monkeypatch):
    grid().to_netcdf(tmp_path / "g.nc", engine="scipy")
    sizes = []
    load = xr.Dataset.load

    def seen(self, **keywords):
        sizes.append(dict(self.sizes))
        return load(self, **keywords)

    monkeypatch.setattr(xr.Dataset, "load", seen)
    read_netcdf(tmp_path / "g.nc", latitude=38.1, longitude=-15.0)
    assert sizes == [{"time": 1460}]


def test_the_days_of_a_calendar_come_to_the_days_of_the_real_one(tmp_path):
    """Each day's value tells its place in the model's year; xarray's own conversion is not asked again.

    A year of 365 days has no 29 February: all other dates keep their value. Of a year of 360 days the days are
    spread over the real year: day k (from 1) of 360 comes to day round(k * 365 / 360) (of 366 in a leap year), as
    xarray describes `align_on="year"`.
    """
    pytest.importorskip("cftime")
    for calendar in ("noleap", "360_day"):
        time = xr.date_range("2001-01-01", "2004-12-30", freq="D", calendar=calendar, use_cftime=True)
        day = np.array([t.timetuple().tm_yday for t in time], dtype=float)
        air = {"units": "degC", "standard_name": "air_temperature"}
        data = xr.Dataset(
            {
                "tasmin": ("time", day / 10.0 - 20.0, {**air, "cell_methods": "time: minimum"}),
                "tasmax": ("time", day / 10.0, {**air, "cell_methods": "time: maximum"}),
            },
            {"time": time},
        )
        path = tmp_path / f"{calendar}.nc"
        data.to_netcdf(path, engine="scipy")
        got = read_netcdf(path, latitude=38.0)
        of_day = dict(zip(got.time.astype(str).tolist(), got["tasmax"].tolist(), strict=True))
        if calendar == "noleap":
            for date, value in (("2001-03-01", 6.0), ("2004-02-28", 5.9), ("2004-03-01", 6.0), ("2004-12-30", 36.4)):
                assert of_day[date] == value
            assert np.isnan(of_day["2004-02-29"])
            continue
        for year, length in ((2001, 365), (2004, 366)):
            for k in (1, 30, 100, 250, 359):
                date = np.datetime64(f"{year}-01-01") + (round(k * length / 360) - 1)
                assert abs(of_day[str(date)] - k / 10.0) < 0.01, (year, k)
            known = np.isfinite([value for day, value in of_day.items() if day.startswith(f"{year}-")])
            assert int(known.sum()) in (359, 360)


def test_other_cells_are_not_touched(tmp_path):
    """All chunks but those of the cell are made rubbish: the cell is read as before, another one cannot be."""
    h5py = pytest.importorskip("h5py")
    pytest.importorskip("h5netcdf")
    path = stored(grid(), tmp_path, "NetCDF-4")
    sound = read_netcdf(path, latitude=38.1, longitude=-15.0)
    with h5py.File(path) as file:
        chunks = [file[v].id.get_chunk_info(k) for v in ("tn", "hot", "flux") for k in range(12)]
    raw = bytearray(path.read_bytes())
    for chunk in chunks:
        if chunk.chunk_offset[1:] != (2, 2):
            raw[chunk.byte_offset : chunk.byte_offset + chunk.size] = b"\x55" * chunk.size
    path.write_bytes(raw)
    assert_alike(read_netcdf(path, latitude=38.1, longitude=-15.0), sound)
    with pytest.raises(InputError, match=r"cut short|damaged"):
        read_netcdf(path, latitude=40.0, longitude=-17.0)


def test_other_chunks_of_a_store_are_not_touched(tmp_path):
    pytest.importorskip("zarr")
    path = stored(grid(), tmp_path, "zarr")
    sound = read_record(path, latitude=38.1, longitude=-15.0)
    spoilt = 0
    for name in ("tn", "hot", "flux"):
        for chunk in (
            p for p in (path / name).rglob("*") if p.is_file() and p.name not in ("zarr.json", ".zarray", ".zattrs")
        ):
            place = chunk.relative_to(path / name).as_posix().removeprefix("c/").replace(".", "/")
            if place != "0/2/2":
                chunk.write_bytes(b"\x55" * 40)
                spoilt += 1
    assert spoilt == 33
    assert_alike(read_record(path, latitude=38.1, longitude=-15.0), sound)
    with pytest.raises(InputError, match=r"cut short|damaged"):
        read_record(path, latitude=40.0, longitude=-17.0)
