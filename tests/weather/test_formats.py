"""The same record in every format; what a format cannot tell; what is damaged is refused."""

from __future__ import annotations

import gzip
import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from sowcal.errors import InputError
from sowcal.weather import site_file
from sowcal.weather.cf_dataset import dataset_of
from sowcal.weather.csv_file import read_csv
from sowcal.weather.ecad import read_ecad
from sowcal.weather.epw import read_epw
from sowcal.weather.generator import generate_daily
from sowcal.weather.ghcn import read_dly, read_ghcn_csv
from sowcal.weather.netcdf import read_netcdf
from sowcal.weather.open_site import FORMATS, open_weather, read_record, recognised_format
from sowcal.weather.quality import quality_report

sys.path.insert(0, str(Path(__file__).parent))
import other_formats as write
from records_alike import assert_alike, unlocked

NAMES = ("tasmin", "tasmax", "pr")
PLACE = {"latitude": 40.41, "longitude": -3.68, "elevation": 667.0}


@pytest.fixture(scope="module")
def short():
    """Four generated years with some days missing."""
    normals = {"tasmin": [1.0] * 12, "tasmax": [14.0] * 12, "pr": [40.0] * 12, "wet_days": [8] * 12}
    dataset = unlocked(generate_daily(normals, years=4, seed=3, latitude=40.0, first_year=1999))
    dataset["tasmin"][40:43] = np.nan
    dataset["pr"][500] = np.nan
    return dataset


@pytest.fixture(scope="module", params=["generated", "palma", "dublin_airport", "irkutsk"])
def record(request, short):
    """Records to 0.1 degC, the real ones with gaps of their own."""
    if request.param == "generated":
        return short
    folder = request.getfixturevalue("reference_folder") / "weather"
    return read_csv(folder / f"{request.param}.csv", temperature_unit="degC", **PLACE)


def same(got, wanted, names=NAMES):
    np.testing.assert_array_equal(got.time, wanted.time)
    for name in names:
        np.testing.assert_array_equal(got[name], wanted[name], err_msg=name)


def put(path, text):
    path.write_text(text, encoding="utf-8")
    return path


def netcdf(record, path, *, kelvin=False, dtype="float64"):
    out = xr.Dataset(coords={"time": record.time.astype("datetime64[ns]")})
    for name in NAMES:
        values = record[name].copy()
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


def test_one_station_from_three_kinds_of_file_is_one_record(tmp_path, record):
    """Table of text, fixed width and NetCDF, each through a site file that says nothing else: alike to the digit."""
    head = 'name = "Ness"\nlatitude = 40.41\nlongitude = -3.68\nelevation = 667\n[weather]\nsource = "file"\nfile = '
    names = ("date", *NAMES)
    rows = [",".join(names)]
    for i, day in enumerate(write.days_of(record)):
        rows.append(",".join([str(day), *("" if np.isnan(v) else f"{v:.1f}" for v in (record[n][i] for n in NAMES))]))
    put(tmp_path / "r.csv", "\n".join(rows))
    put(tmp_path / "r.dly", write.dly(record))
    netcdf(record, tmp_path / "r.nc", kelvin=True)
    got = {}
    for name, more in (("r.csv", '\ntemperature_unit = "degC"'), ("r.dly", ""), ("r.nc", "")):
        got[name] = open_weather(put(tmp_path / f"{name}.toml", f'{head}"{name}"{more}\n'))[1]  # gaps filled alike
    for name in ("r.dly", "r.nc"):
        assert_alike(got[name], got["r.csv"], facts=False)


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
    assert "taken for dly" in read_record(packed).history


def test_the_site_file_declares_the_format(tmp_path, short):
    assert site_file._FORMATS == FORMATS
    for element in ("TN", "TX", "RR"):
        put(tmp_path / f"{element}.txt", write.ecad(short, element))
    head = 'name = "Ness"\nlatitude = 40.0\n[weather]\nsource = "file"\n'
    site = put(tmp_path / "a.toml", head + 'format = "ecad"\nfile = ["TN.txt", "TX.txt", "RR.txt"]\n')
    _, dataset = open_weather(site, longest_gap=0)
    same(dataset, short)
    assert dataset.latitude == 40.0
    assert dataset.title == "Ness"
    put(tmp_path / "r.csv", write.ghcn_wide(short))
    _, dataset = open_weather(put(tmp_path / "b.toml", head + 'format = "ghcn"\nfile = "r.csv"\n'), longest_gap=0)
    same(dataset, short)
    _, dataset = open_weather(tmp_path / "r.csv", longest_gap=0)  # on its own: the file tells the place
    same(dataset, short)
    assert dataset.elevation == 667.0


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
    wanted = unlocked(short)
    for (element, when), name in zip(flags, ("tasmax", "tasmin", "pr"), strict=True):
        wanted[name][day.index(when)] = np.nan
        del element
    for text, name in (
        (write.dly(short, flags=flags), "a.dly"),
        (write.ghcn_wide(short, flags=flags), "b.csv"),
        (write.ghcn_long(short, flags=flags), "c.csv"),
    ):
        got = read_record(put(tmp_path / name, text))
        same(got, wanted)
        told = {(p["column"], p["date"]): p for p in [n.to_json() for n in got.notes]}
        assert set(told) == set(flags)
        assert told["TMAX", "1999-06-03"]["value"] == short["tasmax"][day.index("1999-06-03")]
        kinds = [p.kind for p in quality_report(got).problems if p.kind != "gap"]
        assert kinds == ["repeat", "crossed", "out of range"]
    marks = {"1999-06-03": 1}
    files = [put(tmp_path / f"{e}.txt", write.ecad(short, e, marks=marks if e == "TX" else None)) for e in ("TN", "TX")]
    got = read_ecad(files)
    assert np.isnan(got["tasmax"][day.index("1999-06-03")])
    assert [p["what"] for p in [n.to_json() for n in got.notes]] == ["marked suspect by the producer; set to missing"]


def test_a_typical_year_and_what_it_cannot_tell(tmp_path):
    hours = np.arange(24)
    dry = 12 + 5 * np.sin((hours - 9) * np.pi / 12)[None, :] + np.linspace(0, 8, 365)[:, None]
    got = read_epw(put(tmp_path / "t.epw", write.epw(dry)))
    assert got.size == 365
    np.testing.assert_allclose(got["tasmin"], dry.min(axis=1), atol=0.051)
    np.testing.assert_allclose(got["tasmax"], dry.max(axis=1), atol=0.051)
    np.testing.assert_allclose(got["rsds"], 10 * 500 * 0.0036)  # ten hours of 500 Wh m-2
    np.testing.assert_allclose(got["sfcWind"], 3.0)
    assert np.isnan(got["pr"]).all()  # zero all the year round is 'not told', not a desert
    warnings = list(got.warnings)
    assert "no odds" in warnings[0]
    assert any("rain is not known" in w for w in warnings)
    assert got.typical_year == "months of 1995 to 1999"
    assert got.latitude == 38.2
    wet = read_epw(put(tmp_path / "w.epw", write.epw(np.full((366, 24), 9.0), np.full(366, 2.4), leap=True)))
    np.testing.assert_allclose(wet["pr"], 2.4)
    assert str(wet.time[59])[:10] == "2004-02-29"


def test_our_own_export_comes_back_as_it_was(tmp_path):
    _, dataset = open_weather("wrackhythe")
    dataset_of(dataset).to_netcdf(tmp_path / "own.nc", engine="scipy")
    assert_alike(read_netcdf(tmp_path / "own.nc"), dataset, facts=False)
    assert np.isfinite([dataset.latitude, dataset.longitude, dataset.elevation]).all()


@pytest.mark.parametrize("way", ["started", "no process can be started"])
def test_the_newer_kind_of_netcdf_is_read_after_a_trial(tmp_path, monkeypatch, way):
    pytest.importorskip("h5netcdf")
    pytest.importorskip("h5py")
    if way != "started":

        def start(*_):
            raise OSError(38, "Function not implemented")

        monkeypatch.setattr("sowcal.weather.netcdf.start", start)
    _, dataset = open_weather("wrackhythe")
    dataset_of(dataset).to_netcdf(tmp_path / "own.nc", engine="h5netcdf")
    np.testing.assert_array_equal(read_netcdf(tmp_path / "own.nc")["tasmin"], dataset["tasmin"])


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


def test_formats_that_are_none(tmp_path, short):
    path = put(tmp_path / "r.csv", write.ghcn_wide(short))
    with pytest.raises(InputError, match="format 'grib' is not known"):
        read_record(path, form="grib")
    for name, raw, words in (
        ("r.nc", b"date,tmin,tmax\n", "its content is none"),
        ("r.xlsx", b"PK\x03\x04", "not read; save the record as CSV"),
        ("r.dat", b"GRIB\0\0", "packed or spreadsheet files are not read"),
    ):
        (tmp_path / name).write_bytes(raw)
        with pytest.raises(InputError, match=words):
            recognised_format(tmp_path / name)


def test_damage_in_files_of_ghcn_daily_is_told_with_its_line(tmp_path, short):
    few = short.cut(slice(0, 70))
    month = write.dly(few).splitlines()
    for lines, words, number in (
        ([month[0], "", "no line of that kind"], "not one of a .dly file", 3),
        ([month[0], month[1][:100]], "cut short", 2),
    ):
        with pytest.raises(InputError, match=words) as caught:
            read_dly(put(tmp_path / "r.dly", "\n".join(lines)))
        assert caught.value.line == number
    wide = write.ghcn_wide(few).splitlines()
    long = write.ghcn_long(few).splitlines()
    for lines, words, number in (
        ([*wide[:2], "", wide[2].replace("1999-01-02", "1999-13-02")], "'1999-13-02' is not a date", 4),
        ([*wide[:2], wide[2].replace("1999-01-02", "2 January")], "'2 January' is not a date", 3),
        ([*wide[:2], wide[2] + ",5"], "cells but", 3),
        ([long[0], long[1].replace("19990101", "19990132")], "'19990132' is not a date", 2),
        ([long[0].rpartition(",")[0], *long[1:3]], "cells but", 2),
        (["date,tmin,tmax", "1999-01-01,1,2"], "not a by-station file", None),
    ):
        with pytest.raises(InputError, match=words) as caught:
            read_ghcn_csv(put(tmp_path / "r.csv", "\n".join(lines)))
        assert caught.value.line == number


def test_heights_that_stand_for_none_and_elements_that_are_not_read(tmp_path, short):
    """-999.9 is what the producer writes for a height that nobody knows; snow is passed over."""
    few = short.cut(slice(0, 70))
    text = write.ghcn_wide(few).replace('"667.0"', '"-999.9"')
    assert np.isnan(read_ghcn_csv(put(tmp_path / "r.csv", text)).elevation)
    snow = "XX000000001,19990101,SNOW,30,,,S,0700\n"
    same(read_ghcn_csv(put(tmp_path / "l.csv", snow + write.ghcn_long(few)), latitude=40.0), few)


@pytest.mark.parametrize(
    ("change", "words", "line"),
    [
        (lambda t: t.replace("LOCATION,", "PLACE,", 1), "not an EPW file", None),
        (lambda t: "\n".join(t.splitlines()[:-24]), "has 8736 hours but a whole year has 8760", None),
        (lambda t: t + t[t.index("\n1996") :], "more than the hours of a year", None),
        (lambda t: t.replace(",38.20,", ",north,", 1), "latitude, longitude or height is no number", 1),
        (lambda t: t.replace("1996,1,1,2,0,", "1996,1,1,,0,", 1), "no year, month, day or hour", None),
        (lambda t: t.replace("1996,1,1,2,0,?9?9?9?9E0,9.0", "1996,1,1,2,0,?9?9?9?9E0,warm", 1), "'warm' is no", 10),
        (lambda t: t.replace("1996,1,1,2,0,", "1996,1,1,2\n1996,1,1,3,0,", 1), "the row is cut short", 10),
        (lambda t: t.replace("1996,1,2,1,0,", "1996,1,3,1,0,", 1), "do not run from 1 January", None),
    ],
)
def test_damage_in_typical_years_is_told(tmp_path, change, words, line):
    text = write.epw(np.full((365, 24), 9.0))
    with pytest.raises(InputError, match=words) as caught:
        read_epw(put(tmp_path / "t.epw", change(text)))
    assert caught.value.line == line


def test_hours_that_a_typical_year_lacks(tmp_path):
    """A day with four lost hours of 24 still has its minimum and maximum, one with five does not."""
    dry = np.full((365, 24), 9.0)
    dry[10, :4], dry[11, :5] = 99.9, 99.9
    got = read_epw(put(tmp_path / "t.epw", write.epw(dry)))
    assert np.flatnonzero(np.isnan(got["tasmin"])).tolist() == [11]
