"""The same record in every format; what a format cannot tell; what is damaged is refused."""

from __future__ import annotations

import gzip
import importlib.util
import json
import sys
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from sowcal.errors import InputError
from sowcal.weather import site_file
from sowcal.weather.csv_file import read_csv
from sowcal.weather.ecad import read_ecad
from sowcal.weather.epw import read_epw
from sowcal.weather.formats import FORMATS, read_record, recognised_format
from sowcal.weather.generator import generate_daily
from sowcal.weather.ghcn import read_dly, read_ghcn_csv
from sowcal.weather.gridded import read_netcdf
from sowcal.weather.open_site import open_weather
from sowcal.weather.quality import quality_report

sys.path.insert(0, str(Path(__file__).parent))
import other_formats as write

NAMES = ("tasmin", "tasmax", "pr")
PLACE = {"latitude": 40.41, "longitude": -3.68, "elevation": 667.0}


@pytest.fixture(scope="module")
def short():
    """Four generated years with some days missing."""
    normals = {"tasmin": [1.0] * 12, "tasmax": [14.0] * 12, "pr": [40.0] * 12, "wet_days": [8] * 12}
    dataset = generate_daily(normals, years=4, seed=3, latitude=40.0, first_year=1999)
    dataset["tasmin"].values[40:43] = np.nan
    dataset["pr"].values[500] = np.nan
    return dataset


@pytest.fixture(scope="module", params=["generated", "palma", "dublin_airport", "irkutsk"])
def record(request, short):
    """Records to 0.1 degC, the real ones with gaps of their own."""
    if request.param == "generated":
        return short
    folder = request.getfixturevalue("reference_folder") / "weather"
    return read_csv(folder / f"{request.param}.csv", temperature_unit="degC", **PLACE)


def same(got, wanted, names=NAMES):
    np.testing.assert_array_equal(got["time"].values, wanted["time"].values)
    for name in names:
        np.testing.assert_array_equal(got[name].values, wanted[name].values, err_msg=name)


def put(path, text):
    path.write_text(text, encoding="utf-8")
    return path


def netcdf(record, path, *, kelvin=False, dtype="float64"):
    out = xr.Dataset(coords={"time": record["time"]})
    for name in NAMES:
        values = record[name].values.copy()
        units = "degC" if name != "pr" else "mm day-1"
        if kelvin:
            values = values + 273.15 if name != "pr" else values / 86400.0
            units = "K" if name != "pr" else "kg m-2 s-1"
        out[name] = ("time", values.astype(dtype), {"units": units})
    out.to_netcdf(path, engine="scipy")
    return path


def test_one_record_in_every_format_is_the_same_to_the_digit(tmp_path, record):
    same(read_dly(put(tmp_path / "r.dly", write.dly(record)), **PLACE), record)
    same(read_ghcn_csv(put(tmp_path / "w.csv", write.ghcn_wide(record))), record)
    same(read_ghcn_csv(put(tmp_path / "l.csv", write.ghcn_long(record))), record)
    same(read_ghcn_csv(put(tmp_path / "h.csv", write.ghcn_long(record, header=True))), record)
    files = [put(tmp_path / f"{e}.txt", write.ecad(record, e)) for e in ("TN", "TX", "RR")]
    same(read_ecad(files), record)
    same(read_netcdf(netcdf(record, tmp_path / "a.nc")), record)
    same(read_netcdf(netcdf(record, tmp_path / "k.nc", kelvin=True)), record)
    same(read_netcdf(netcdf(record, tmp_path / "s.nc", kelvin=True, dtype="float32")), record)


def test_one_station_from_three_kinds_of_file_is_one_dataset(tmp_path, record):
    """Table of text, fixed width and NetCDF, each through a site file that says nothing else: alike to the digit."""
    head = 'name = "Ness"\nlatitude = 40.41\nlongitude = -3.68\nelevation = 667\n[weather]\nsource = "file"\nfile = '
    names = ("date", *NAMES)
    rows = [",".join(names)]
    for i, day in enumerate(write.days_of(record)):
        rows.append(
            ",".join([str(day), *("" if np.isnan(v) else f"{v:.1f}" for v in (record[n].values[i] for n in NAMES))])
        )
    put(tmp_path / "r.csv", "\n".join(rows))
    put(tmp_path / "r.dly", write.dly(record))
    netcdf(record, tmp_path / "r.nc", kelvin=True)
    got = {}
    for name, more in (("r.csv", '\ntemperature_unit = "degC"'), ("r.dly", ""), ("r.nc", "")):
        got[name] = open_weather(put(tmp_path / f"{name}.toml", f'{head}"{name}"{more}\n'))[1]  # gaps filled alike
    for name in ("r.dly", "r.nc"):
        xr.testing.assert_identical(got[name].drop_attrs(), got["r.csv"].drop_attrs())
        for v in got[name].variables:
            assert {k: str(x) for k, x in got[name][v].attrs.items()} == {
                k: str(x) for k, x in got["r.csv"][v].attrs.items()
            }


def test_each_is_told_by_its_content(tmp_path, short):
    files = {
        "dly": put(tmp_path / "a", write.dly(short)),
        "ecad": put(tmp_path / "d", write.ecad(short, "TX")),
        "epw": put(tmp_path / "e", write.epw(np.full((365, 24), 10.0))),
        "netcdf": netcdf(short, tmp_path / "f"),
        "csv": put(tmp_path / "g", "date,tmin,tmax\n2001-01-01,1,2\n"),
    }
    for form, path in files.items():
        assert recognised_format(path) == form
    for text in (write.ghcn_wide(short), write.ghcn_long(short), write.ghcn_long(short, header=True)):
        assert recognised_format(put(tmp_path / "b", text)) == "ghcn"
    packed = tmp_path / "a.dly.gz"
    packed.write_bytes(gzip.compress(write.dly(short).encode()))
    assert recognised_format(packed) == "dly"
    same(read_record(packed), short)
    assert "taken for dly" in read_record(packed).attrs["history"]


def test_the_site_file_declares_the_format(tmp_path, short):
    assert site_file._FORMATS == FORMATS
    for element in ("TN", "TX", "RR"):
        put(tmp_path / f"{element}.txt", write.ecad(short, element))
    head = 'name = "Ness"\nlatitude = 40.0\n[weather]\nsource = "file"\n'
    site = put(tmp_path / "a.toml", head + 'format = "ecad"\nfile = ["TN.txt", "TX.txt", "RR.txt"]\n')
    _, dataset = open_weather(site, longest_gap=0)
    same(dataset, short)
    assert float(dataset["latitude"]) == 40.0
    assert dataset.attrs["title"] == "Ness"
    put(tmp_path / "r.csv", write.ghcn_wide(short))
    _, dataset = open_weather(put(tmp_path / "b.toml", head + 'format = "ghcn"\nfile = "r.csv"\n'), longest_gap=0)
    same(dataset, short)
    _, dataset = open_weather(tmp_path / "r.csv", longest_gap=0)  # on its own: the file tells the place
    same(dataset, short)
    assert float(dataset["elevation"]) == 667.0


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ('format = "grib"\nfile = "r.csv"', "format under [weather] is 'grib'"),
        ('format = "dly"\nfile = "r.csv"', "not one of a .dly file"),
        ('format = "netcdf"\nfile = "r.csv"', "no NetCDF file"),
        ('format = "epw"\nfile = "r.csv"', "must begin with LOCATION"),
        ('format = "ecad"\nfile = "r.csv"', "no line 'STAID, SOUID, DATE, TX, Q_TX'"),
        ('format = "ghcn"\nfile = "r.csv"\ndate_format = "d/m/y"', "date_format has no meaning"),
        ('file = ["r.csv", "r.csv"]', "is one file; 2 are named"),
        ("file = []", "a list of such names"),
        ("file = 3", "a list of such names"),
        ('file = "none.csv"', "there is no file"),
    ],
)
def test_what_a_site_file_cannot_say(tmp_path, lines, words):
    put(tmp_path / "r.csv", "date,tmin_degC,tmax_degC\n2001-01-01,1,2\n")
    site = put(tmp_path / "s.toml", f'name = "N"\nlatitude = 40.0\n[weather]\nsource = "file"\n{lines}\n')
    with pytest.raises(InputError, match=r".") as caught:
        open_weather(site)
    assert words in str(caught.value)


def test_flags_of_the_producer_set_values_to_missing_and_are_told(tmp_path, short):
    flags = {("TMAX", "1999-06-03"): "O", ("TMIN", "2000-01-05"): "I", ("PRCP", "2001-02-02"): "D"}
    day = [str(d) for d in write.days_of(short)]
    wanted = short.copy(deep=True)
    for (element, when), name in zip(flags, ("tasmax", "tasmin", "pr"), strict=True):
        wanted[name].values[day.index(when)] = np.nan
        del element
    for text, name in (
        (write.dly(short, flags=flags), "a.dly"),
        (write.ghcn_wide(short, flags=flags), "b.csv"),
        (write.ghcn_long(short, flags=flags), "c.csv"),
    ):
        got = read_record(put(tmp_path / name, text))
        same(got, wanted)
        told = {(p["column"], p["date"]): p for p in json.loads(got.attrs["problems"])}
        assert set(told) == set(flags)
        assert told["TMAX", "1999-06-03"]["value"] == short["tasmax"].values[day.index("1999-06-03")]
        kinds = [p.kind for p in quality_report(got).problems if p.kind != "gap"]
        assert kinds == ["repeat", "crossed", "out of range"]
    marks = {"1999-06-03": 1}
    files = [put(tmp_path / f"{e}.txt", write.ecad(short, e, marks=marks if e == "TX" else None)) for e in ("TN", "TX")]
    got = read_ecad(files)
    assert np.isnan(got["tasmax"].values[day.index("1999-06-03")])
    assert [p["what"] for p in json.loads(got.attrs["problems"])] == ["marked suspect by the producer; set to missing"]


def test_a_typical_year_and_what_it_cannot_tell(tmp_path):
    hours = np.arange(24)
    dry = 12 + 5 * np.sin((hours - 9) * np.pi / 12)[None, :] + np.linspace(0, 8, 365)[:, None]
    got = read_epw(put(tmp_path / "t.epw", write.epw(dry)))
    assert got.sizes["time"] == 365
    np.testing.assert_allclose(got["tasmin"].values, dry.min(axis=1), atol=0.051)
    np.testing.assert_allclose(got["tasmax"].values, dry.max(axis=1), atol=0.051)
    np.testing.assert_allclose(got["rsds"].values, 10 * 500 * 0.0036)  # ten hours of 500 Wh m-2
    np.testing.assert_allclose(got["sfcWind"].values, 3.0)
    assert np.isnan(got["pr"].values).all()  # zero all the year round is 'not told', not a desert
    warnings = json.loads(got.attrs["warnings"])
    assert "no odds" in warnings[0]
    assert any("rain is not known" in w for w in warnings)
    assert got.attrs["typical_year"] == "months of 1995 to 1999"
    assert float(got["latitude"]) == 38.2
    wet = read_epw(put(tmp_path / "w.epw", write.epw(np.full((366, 24), 9.0), np.full(366, 2.4), leap=True)))
    np.testing.assert_allclose(wet["pr"].values, 2.4)
    assert str(wet["time"].values[59])[:10] == "2004-02-29"


def test_our_own_export_comes_back_as_it_was(tmp_path):
    _, dataset = open_weather("wrackhythe")
    dataset.to_netcdf(tmp_path / "own.nc", engine="scipy")
    got = read_netcdf(tmp_path / "own.nc")
    for name in dataset.data_vars:
        np.testing.assert_array_equal(got[name].values, dataset[name].values, err_msg=name)
    for name in ("latitude", "longitude", "elevation"):
        assert float(got[name]) == float(dataset[name])


def test_what_needs_another_package_says_so(tmp_path):
    has = importlib.util.find_spec
    path = tmp_path / "four.nc"
    path.write_bytes(b"\x89HDF\r\n\x1a\n" + b"\0" * 100)
    words = (
        "damaged"
        if has("netCDF4") or (has("h5netcdf") and (has("h5py") or has("pyfive")))
        else "pip install h5netcdf h5py"
    )
    with pytest.raises(InputError, match=words):
        read_netcdf(path, latitude=1.0, longitude=1.0)
    store = tmp_path / "s.zarr"
    store.mkdir()
    (store / "zarr.json").write_text("{}")
    words = "no time axis" if has("zarr") else "pip install zarr"
    with pytest.raises(InputError, match=words):
        read_record(store)
