"""Sound files of every kind that is read, small and invented, for mutation: name to ending and bytes."""

from __future__ import annotations

import contextlib
import tempfile
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import other_formats as write
import xarray as xr

from sowcal.weather.cf_dataset import dataset_of
from sowcal.weather.export import csv_text
from sowcal.weather.generator import generate_daily

NORMALS = {"tasmin": [4.0] * 12, "tasmax": [16.0] * 12, "pr": [40.0] * 12, "wet_days": [8] * 12}
DAYS = 75

SITE_OF_FILE = """name = "Plot"
latitude = 40.0
longitude = -3.0
elevation = 12
coast = true
[weather]
source = "file"
file = "record.csv"
temperature_unit = "degC"
date_format = "y-m-d"
separator = ","
comment = "#"
[weather.columns]
tasmin = "tmin_degC"
tasmax = "tmax_degC"
"""
SITE_OF_NORMALS = """name = "Plot"
latitude = -33.5
elevation = 120.5
[weather]
source = "normals"
tasmin = [14, 14, 13, 11, 9, 7, 6, 6, 8, 9, 11, 13]
tasmax = [27, 27, 25, 22, 19, 16, 15, 16, 18, 21, 23, 25]
pr = [20, 20, 30, 40, 60, 80, 80, 60, 40, 40, 30, 20]
wet_days = [3, 3, 4, 5, 8, 10, 10, 9, 7, 6, 5, 4]
seed = 3
years = 2
first_year = 2001
"""
GARDEN = """name = "Invented garden"
site = "sallowdene"
crops = ["carrot", "leek", "courgette"]
rain_fed = ["leek"]
[[beds]]
name = "one"
length = 5
width = 1.2
shade = 0.1
[[beds]]
length = 8.5
width = 1
[household]
people = 3
[household.tastes]
"courgette" = "less"
[counts]
"carrot" = 50
[soil]
texture = "loam"
depth = 0.5
compost = 30
[mulch]
kind = "straw"
cover = 0.8
depth = 0.07
[water]
tanks = [1000, 1000.5]
refill = 20
roof = 30
height = 1.5
method = "drip"
main = {length = 20, diameter = 21}
laterals = {length = 10, diameter = 13.6, spacing = 0.5}
filter = "screen"
emitters = {flow = 2, pressure = 100, spacing = 0.3, kind = "tape"}
pond = {area = 20, seepage = 2}
"""
CROPS = {
    "growth.csv": "crop,base_temperature,upper_threshold,habit\ncarrot,3.5,28,once\nleek,4,,\n",
    "crops.csv": "crop,like,botanical_name,family\nskirret,parsnip,Sium sisarum,Apiaceae\n",
    "ways.csv": "crop,way,depth\ncarrot,sown outdoors,2\n",
}
LOG = """date,event,crop,sort,bed,plants,amount,note
2002-02-10,sown under cover,leek,Invented Long,,40,,in trays
2002-02-28,came up,leek,,,,,
2002-03-05,sown outdoors,carrot,,one,,,"first, of two"
2002-03-25,came up,carrot,,,,,
2002-04-20,set out,leek,,one,30,,
2002-05-01,tank,,,,,3200,
2002-05-04,watered,,,one,,40,
2002-06-20,first picked,carrot,,,,0.5,
2002-06-30,picked,carrot,,,,2.5,the last
2002-07-01,cleared,carrot,,one,,,
"""
LEAFLET = """crop,way,months,note
carrot,sown outdoors,3-5,
leek,under cover,Feb-Apr,"raise, then set out"
leek,set out,"May, Jun",
lettuce,,Sep to Oct,
broad bean,sown outdoors,10-12,
"""
SETTINGS = """# what sowcal remembers
version = 1

# the place
here = "sallowdene"
language = "pt"  # as at home
units = "si"

mine = [  # by names
    "leek",  # for soup
    "carrot",
    "broad bean",
]
later = "of another version"
[other]
kept = true
"""
NEW_DAYS = "date,tmin_degC,tmax_degC,rain_mm\n" + "".join(
    f"2003-01-{d:02},{d % 5},{9 + d % 7},{d % 3}\n" for d in range(1, 15)
)


@cache
def record():
    """An invented record of a few months."""
    return generate_daily(NORMALS, years=1, seed=8, latitude=40.0, longitude=-3.0, first_year=2001).cut(slice(DAYS))


@cache
def nights() -> str:
    """The minima of the record, as ECA&D has them in a file of their own."""
    return write.ecad(record(), "TN")


@cache
def longer():
    """An invented record of as many days as can be judged at all."""
    made = generate_daily(NORMALS, years=2, seed=8, latitude=40.0, longitude=-3.0, first_year=2001)
    return made.cut(slice(400))


def _table(sep: str, header: str, date=lambda d: d, point: str = ".") -> str:
    data = record()
    days = data.time.astype(str)
    rows = [
        sep.join([date(d), *(f"{v:.1f}".replace(".", point) for v in values)])
        for d, *values in zip(days, *(data[v] for v in ("tasmin", "tasmax", "pr")), strict=True)
    ]
    return "# latitude: 40.0\n# name: Plot\n" + header + "\n" + "\n".join(rows) + "\n"


def _stored(save, name: str) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        save(path)
        return path.read_bytes()


def grid() -> xr.Dataset:
    """Two by two cells, packed as weather services do."""
    days = record().time.astype("datetime64[ns]")
    shape = (days.size, 2, 2)
    values = {"tasmin": 4.0, "tasmax": 16.0}
    data = xr.Dataset(coords={"time": days, "lat": ("lat", [40.0, 40.5]), "lon": ("lon", [-3.0, -2.5])})
    data["lat"].attrs["units"], data["lon"].attrs["units"] = "degrees_north", "degrees_east"
    for name, value in values.items():
        data[name] = (("time", "lat", "lon"), np.full(shape, value) + np.arange(days.size)[:, None, None] % 7)
        data[name].attrs = {"units": "degC", "standard_name": "air_temperature"}
        data[name].encoding = {"dtype": "i2", "scale_factor": 0.1, "add_offset": 5.0, "_FillValue": -32768}
    return data


@cache
def weather() -> dict[str, tuple[str, bytes]]:
    """Weather files: name of the kind to (name of the file, bytes)."""
    data = record()
    hours = np.full((365, 24), 10.0) + 4 * np.sin(np.arange(24) / 24 * 6.28)
    texts = {
        "csv": ("a.csv", csv_text(data)),
        "csv with semicolons": ("a.csv", _table(";", "Datum;tmin_degC;tmax_degC;rain_mm", point=",")),
        "csv with tabs, day first": (
            "a.csv",
            _table("\t", "date\ttmin_degC\ttmax_degC\train_mm", lambda d: f"{d[8:]}/{d[5:7]}/{d[:4]}"),
        ),
        "csv in parts": (
            "a.csv",
            _table(",", "year,month,day,tmin_degC,tmax_degC,rain_mm", lambda d: d.replace("-", ",")),
        ),
        "ghcn by day": ("a.csv", write.ghcn_wide(data)),
        "ghcn by element": ("a.csv", write.ghcn_long(data, header=True)),
        "dly": ("a.dly", write.dly(data)),
        "ecad": ("a.txt", write.ecad(data, "TX")),
        "epw": ("a.epw", write.epw(hours)),
        "fao": ("a.Tnx", write.fao(data)),
    }
    out = {kind: (name, text.encode("utf-8")) for kind, (name, text) in texts.items()}
    out["netcdf, classic"] = ("a.nc", _stored(lambda p: dataset_of(record()).to_netcdf(p, engine="scipy"), "a.nc"))
    out["netcdf grid, classic"] = ("a.nc", _stored(lambda p: grid().to_netcdf(p, engine="scipy"), "a.nc"))
    if find_spec("h5netcdf") and find_spec("h5py"):
        out["netcdf grid, hdf"] = ("a.nc", _stored(lambda p: grid().to_netcdf(p, engine="h5netcdf"), "a.nc"))
    return out


@cache
def zarr() -> dict[str, bytes]:
    """Parts of a Zarr store by path."""
    if not find_spec("zarr"):
        return {}
    with tempfile.TemporaryDirectory() as folder, contextlib.suppress(ImportError):
        path = Path(folder) / "a.zarr"
        grid().to_zarr(path, zarr_format=2, consolidated=True)
        return {str(p.relative_to(path)): p.read_bytes() for p in sorted(path.rglob("*")) if p.is_file()}
    return {}
