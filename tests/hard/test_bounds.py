"""Files of absurd size and names that are no file: refused in one sentence, in bounded memory and time.

Each case runs in a process of its own (forked, so that it begins with its work) that the operating system allows 2.5 GB
of memory and 60 s of processor time, so that a reader that takes what a file claims is stopped instead of taking the
machine down.
"""

from __future__ import annotations

import gzip
import io
import json
import os
import pickle
import re
import resource
import sys
import tempfile
import traceback
from pathlib import Path

import numpy as np
import pytest
import samples
import xarray as xr

from sowcal.__main__ import main
from sowcal.errors import InputError
from sowcal.files import plain_number
from sowcal.garden.garden_file import read_garden_file
from sowcal.kept_files import cache_folder, digest_of
from sowcal.outputs.map_file import PartFolder
from sowcal.weather import cache
from sowcal.weather.netcdf import read_netcdf
from sowcal.weather.open_site import read_record
from sowcal.weather.site_file import read_site_file

SITE = 'name = "Plot"\nlatitude = 40.0\nlongitude = -3.0\n[weather]\nsource = "file"\ntemperature_unit = "degC"\n'
MEMORY, SECONDS = 2_500_000_000, 60
LINUX = sys.platform == "linux"
MEGA = int(os.environ.get("SOWCAL_HARD_MEGABYTES", "5"))  # of the large texts; 100 is what is promised


def run(words, memory=MEMORY):
    """Exit code, what was printed and what was said of a call in a limited process."""
    with tempfile.TemporaryDirectory() as folder:
        pid = os.fork()
        if not pid:
            code = 70
            try:
                for stream, name in ((1, "out"), (2, "said")):
                    os.dup2(os.open(f"{folder}/{name}", os.O_WRONLY | os.O_CREAT), stream)
                sys.stdout, sys.stderr = (os.fdopen(stream, "w", closefd=False) for stream in (1, 2))
                held = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize() if LINUX else 0
                resource.setrlimit(resource.RLIMIT_AS, (held + memory, held + memory))
                resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
                code = main([str(w) for w in words])
            except BaseException:
                traceback.print_exc()
            finally:
                sys.stdout.flush()
                sys.stderr.flush()
                os._exit(code)
        code = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
        return code, Path(folder, "out").read_text(), Path(folder, "said").read_text()


def refused(reader, *given):
    """The refusal of a reader; anything else fails the test."""
    with pytest.raises(InputError) as caught:
        reader(*given)
    text = str(caught.value)
    assert len(text) < 600
    return text


def sparse(path, size, beginning=b""):
    with path.open("wb") as file:
        file.write(beginning)
        file.truncate(size)
    return path


NOT_FILES = {"a pipe": os.mkfifo, "a folder": os.mkdir, "a device": lambda p: os.symlink("/dev/zero", p)}


@pytest.mark.parametrize("kind", NOT_FILES)
@pytest.mark.parametrize("name", ["a.toml", "a.csv", "a.dly", "a.nc"])
def test_what_is_no_file_is_refused_by_every_reader(tmp_path, kind, name):
    path = tmp_path / name
    NOT_FILES[kind](path)
    if name.endswith(".toml"):
        assert "not a" in refused(read_site_file, path)
        assert "not a" in refused(read_garden_file, path)
        return
    text = refused(read_record, path)
    assert "not a" in text or "NetCDF" in text
    for form in ("csv", "ghcn", "dly", "ecad", "epw", "fao", "netcdf"):
        assert "not a" in refused(lambda f: read_record(path, form=f), form)


def test_a_pipe_named_in_a_site_file_and_in_the_cache(tmp_path):
    os.mkfifo(tmp_path / "record.csv")
    (tmp_path / "site.toml").write_text(SITE + 'file = "record.csv"\n')
    code, out, said = run(["climate", tmp_path / "site.toml"])
    assert (code, out) == (2, "")
    assert "pipe" in said
    folder = cache_folder()
    folder.mkdir(exist_ok=True)
    os.mkfifo(folder / "station-90001.nc")
    assert cache.kept("90001") is None
    (listed,) = cache.kept_records()
    assert not listed.sound


@pytest.mark.parametrize(
    ("name", "beginning"),
    [
        ("a.toml", b"name = 1\n"),
        ("a.csv", b"date,tmin_degC\n"),
        ("a.nc", b"CDF\x01"),
        ("a.csv.gz", b"\x1f\x8b"),
    ],
)
def test_a_file_of_ten_gigabytes(tmp_path, name, beginning):
    code, out, said = run(["climate", sparse(tmp_path / name, 10**10, beginning)])
    assert (code, out) == (2, "")
    assert said.startswith("sowcal: ")
    assert len(said.splitlines()) == 1


def large_text(kind):
    head = b"# latitude: 40\ndate,tmin_degC,tmax_degC\n"
    if kind == "one line":
        return b"a" * (990_000 * MEGA)
    if kind == "one row":
        return head + b"2001-01-01,1,2" + b",3" * (490_000 * MEGA)
    if kind == "empty lines":
        return head + b"\n" * (990_000 * MEGA)
    if kind == "odd line ends":
        return head + b"\x0b" * (990_000 * MEGA)
    if kind == "rows":
        return head + b"2001-01-01,1.5,12.5\n" * (49_000 * MEGA)
    if kind == "remarks":
        return b"# a: b                                 c\n" * (24_000 * MEGA)
    if kind == "open quotation mark":
        return head + b'2001-01-01,"1,2\n' * 140_000
    if kind == "months":
        days = b"".join(b"%5d   " % (k * 3) for k in range(31)) + b"\n"
        lines = (b"XX000000001%04d%02dTMIN" % (1700 + k // 12, k % 12 + 1) + days for k in range(6000))
        return b"".join(lines) * (MEGA * 60 // 100)
    if kind == "stations":
        return b"station " * 2400 + b"\n" + (b"station " * 2400 + b"\n") * 40 + head
    assert kind == "elements"
    return b"XX000000001,20010101,TMIN,35,,,S,0700\n" * (26_000 * MEGA)


@pytest.mark.parametrize(
    "kind",
    ["one line", "one row", "empty lines", "odd line ends", "rows", "remarks", "open quotation mark", "months",
     "elements", "stations"],
)  # fmt: skip
def test_large_texts_cost_no_more_than_their_reading(tmp_path, kind):
    path = tmp_path / "record.csv"
    path.write_bytes(large_text(kind))
    code, out, said = run(["climate", path])
    assert (code, out) == (2, "")
    assert len(said.splitlines()) == 1
    assert len(said) < 600


def test_a_small_packed_file_that_unpacks_to_gigabytes(tmp_path):
    path = tmp_path / "record.csv.gz"
    piece = gzip.compress(b"0" * 40_000_000)
    path.write_bytes(piece * 3)
    code, out, said = run(["climate", path], memory=1_500_000_000)
    assert (code, out) == (2, "")
    assert "unpacks to more than 100 MB" in said


TOMLS = {
    "brackets": "a = " + "[" * 3_000,
    "brackets on lines": "a = " + "[\n" * 50_000,
    "tables": "a = " + "{b = " * 700,
    "dots": "a" + ".a" * 100_000 + " = 1",
    "dots on lines": ("\n" + "b.a" + ".a" * 1_900).join(["", *([" = 1"] * 60)]),
    "figures": "latitude = " + "9" * 3_900 + "\n" + "a = " + "9" * 3_999,
    "a long number": "a = 0x" + "f" * 3_900,
    "a megabyte": "# remark\n" * 200_000,
    "other bytes": "name = '\0'",
}


@pytest.mark.parametrize("kind", TOMLS)
def test_site_and_garden_files_of_absurd_depth_and_size(tmp_path, kind):
    path = tmp_path / "a.toml"
    path.write_text(TOMLS[kind])
    for reader in (read_site_file, read_garden_file):
        assert "Traceback" not in refused(reader, path)


def classic(path, sizes):
    """A classic NetCDF file whose header claims dimensions of these sizes and holds nothing behind it."""
    with xr.Dataset(
        {v: (("time", "lat", "lon"), np.zeros((3, 2, 2), "f4"), {"units": "degC"}) for v in ("tasmin", "tasmax")},
        {"time": np.arange(3).astype("datetime64[D]").astype("datetime64[ns]"), "lat": [1.0, 2.0], "lon": [1.0, 2.0]},
    ) as data:
        data.to_netcdf(path, engine="scipy")
    raw = bytearray(path.read_bytes())
    for name, size in sizes.items():
        at = (
            raw.index(len(name).to_bytes(4, "big") + name.encode().ljust(4, b"\0"))
            + 4
            + len(name.encode().ljust(4, b"\0"))
        )
        raw[at : at + 4] = size.to_bytes(4, "big")
    path.write_bytes(bytes(raw))
    return path


@pytest.mark.parametrize("sizes", [{"time": 2_000_000_000}, {"lat": 100_000, "lon": 100_000}, {"lat": 0xFFFFFFFF}])
def test_a_header_that_claims_more_than_the_file_holds(tmp_path, sizes):
    code, out, said = run(["climate", classic(tmp_path / "grid.nc", sizes)])
    assert (code, out) == (2, "")
    assert len(said.splitlines()) == 1


def hollow(path, shape, chunks, engine):
    """A file of the newer kinds that claims `shape` and holds not one value."""
    dims = ("time", "lat", "lon")
    if engine == "zarr":
        zarr = pytest.importorskip("zarr")
        root = zarr.open_group(str(path), mode="w", zarr_format=2)
        for k, name in enumerate(("time", "lat", "lon", "tasmin", "tasmax")):
            whole = name[:3] == "tas"
            array = root.create_array(
                name,
                shape=shape if whole else (shape[k],),
                chunks=chunks if whole else (min(shape[k], chunks[k]),),
                dtype="f4" if whole else "f8",
            )
            array.attrs["_ARRAY_DIMENSIONS"] = list(dims) if whole else [name]
            array.attrs["units"] = "degC" if whole else "days since 2000-01-01" if name == "time" else "degrees_north"
        return path
    h5py = pytest.importorskip("h5py")
    with h5py.File(path, "w") as file:
        for k, name in enumerate(dims):
            file.create_dataset(name, (shape[k],), "f8", chunks=(min(shape[k], 1000),)).make_scale(name)
            file[name].attrs["units"] = "days since 2000-01-01" if name == "time" else "degrees_north"
        for name in ("tasmin", "tasmax"):
            one = file.create_dataset(name, shape, "f4", chunks=chunks)
            one.attrs["units"] = "degC"
            for k, dim in enumerate(dims):
                one.dims[k].attach_scale(file[dim])
    return path


@pytest.mark.parametrize("engine", ["hdf", "zarr"])
@pytest.mark.parametrize(
    ("shape", "chunks", "words"),
    [
        ((10_000, 10_000, 10_000), (10, 100, 100), "claims 1e+12 values"),
        ((10**9, 2, 2), (1000, 2, 2), "claims"),
        ((400, 1000, 1000), (400, 1000, 500), "blocks of 800 MB"),
    ],
)
def test_hollow_grids_are_refused_before_a_value_is_read(tmp_path, engine, shape, chunks, words):
    path = hollow(tmp_path / ("a.zarr" if engine == "zarr" else "a.nc"), shape, chunks, engine)
    if engine == "hdf":
        pytest.importorskip("h5netcdf")
    text = refused(lambda: read_netcdf(path, latitude=1.0, longitude=1.0))
    assert words in text


def small_zarr(path):
    pytest.importorskip("zarr")
    days = np.arange("2001-01-01", "2001-04-01", dtype="datetime64[D]").astype("datetime64[ns]")
    values = {v: ("time", np.full(days.size, x), {"units": "degC"}) for v, x in (("tasmin", 3.0), ("tasmax", 12.0))}
    xr.Dataset(values, {"time": days, "latitude": 40.0}).to_zarr(path, zarr_format=2, consolidated=False)
    return path


def test_a_store_with_pickled_blocks_runs_nothing(tmp_path):
    path = small_zarr(tmp_path / "a.zarr")
    assert read_netcdf(path).size == 90
    described = json.loads((path / "tasmin" / ".zarray").read_text())
    described |= {"dtype": "|O", "filters": [{"id": "pickle", "protocol": 5}], "compressor": None, "fill_value": None}
    (path / "tasmin" / ".zarray").write_text(json.dumps(described))

    class Harm:
        def __reduce__(self):
            return os.mkdir, (str(tmp_path / "harm"),)

    (path / "tasmin" / "0").write_bytes(pickle.dumps(Harm()))
    assert "pickled" in refused(read_netcdf, path)
    assert not (tmp_path / "harm").exists()


def test_a_store_with_a_pipe_or_an_endless_description(tmp_path):
    path = small_zarr(tmp_path / "a.zarr")
    described = (path / ".zgroup").read_text()
    (path / ".zgroup").write_text("[" * 100_000)
    assert "description" in refused(read_netcdf, path)
    (path / ".zgroup").write_text(described)
    (path / "tasmin" / "0").unlink()
    os.mkfifo(path / "tasmin" / "0")
    assert "pipe" in refused(read_netcdf, path)


def test_a_finished_block_that_is_damaged_or_a_bomb_counts_as_absent(tmp_path, monkeypatch):
    kept = PartFolder(tmp_path / "map.nc", "0" * 32)
    kept.put("y0-1-x0-1", {"a": np.arange(6.0)})
    path = next(kept.folder.iterdir())
    whole = path.read_bytes()
    np.testing.assert_array_equal(kept.get("y0-1-x0-1")["a"], np.arange(6.0))
    monkeypatch.setattr("sowcal.outputs.map_file._MOST_BLOCK", 1_000_000)
    for save, array in ((np.savez_compressed, np.zeros(200_000)), (np.savez, np.array([{}], dtype=object))):
        made = io.BytesIO()
        save(made, a=array)
        path.write_bytes(digest_of((made.getvalue(),)).encode() + b"\n" + made.getvalue())
        assert kept.get("y0-1-x0-1") is None
    for at in range(0, len(whole), 7):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 255]) + whole[at + 1 :])
        assert kept.get("y0-1-x0-1") is None
    # by fuzzing: lengths changed beside a value, so that the archive's own sum of it was not asked
    for at in range(len(whole) - 90, len(whole), 4):
        damaged = bytearray(whole)
        damaged[at] ^= 2
        damaged[-120] ^= 8
        path.write_bytes(damaged)
        assert kept.get("y0-1-x0-1") is None
    path.unlink()
    os.mkfifo(path)
    assert kept.get("y0-1-x0-1") is None


@pytest.mark.parametrize("text", ["1_0", "inf", "nan", "1e", "", "0x10", "١", "1" * 50, "--1", "1.2.3"])
def test_numbers_are_plain_figures(text):
    with pytest.raises(ValueError, match=re.escape(text) or "^$"):
        plain_number(text)


@pytest.mark.parametrize(("text", "value"), [("1", 1.0), (" -1.5 ", -1.5), ("+.5", 0.5), ("2e-3", 0.002), ("3.", 3.0)])
def test_and_plain_figures_are_numbers(text, value):
    assert plain_number(text) == value


def test_the_names_of_this_file_do_not_hide_a_reader():
    """Every format that is read stands in the test of what is no file."""
    from sowcal.weather.open_site import FORMATS

    named = Path(__file__).read_text(encoding="utf-8")
    assert all(f'"{form}"' in named for form in FORMATS)


def test_a_heap_of_texts_at_which_the_library_turns_for_ever_is_refused(tmp_path):
    kinds = samples.weather()
    if "netcdf grid, hdf" not in kinds:
        pytest.skip("h5netcdf and h5py are not installed")
    raw = bytearray(kinds["netcdf grid, hdf"][1])
    path = tmp_path / "a.nc"
    at = raw.index(b"GCOL")
    end, here = at + int.from_bytes(raw[at + 8 : at + 16], "little"), at + 16
    while int.from_bytes(raw[here : here + 2], "little"):  # to the free space, object 0
        here += 16 + (int.from_bytes(raw[here + 8 : here + 16], "little") + 7 & ~7)
    assert here < end
    raw[here + 8 : here + 16] = bytes(8)
    path.write_bytes(raw)
    code, out, said = run(["climate", path])
    assert (code, out) == (2, "")
    assert "would not end" in said
