"""`sowcal map`: files written whole by the CF conventions, pictures, and one clear sentence for what cannot be done."""

import datetime as dt
import importlib.util
import subprocess
import sys
from pathlib import Path

import matplotlib.image
import numpy as np
import pytest
import xarray as xr

import sowcal
from sowcal.__main__ import main
from sowcal.grids.cells import CLASSES, LIMITS, WAYS
from sowcal.outputs.figure_map import coast_segments, map_figures
from sowcal.outputs.figure_style import MONTH_COLOURS
from sowcal.outputs.map_file import PartFolder, parts_of
from sowcal.progress import heard_by

sys.path.insert(0, str(Path(__file__).parents[1] / "outputs"))
from picture_text import drawn, faults

_spec = importlib.util.spec_from_file_location("made_up_grids", Path(__file__).with_name("made_up.py"))
made_up = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(made_up)


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    out = tmp_path_factory.mktemp("grid") / "grid.nc"
    made_up.made_up_grid(ny=4, nx=5, years=4).to_netcdf(out, engine="scipy")
    return out


@pytest.fixture(scope="module")
def expected(path):
    return sowcal.map_crop(path, ["courgette", "fig"])


def run(*words):
    return main(["map", *map(str, words)])


@pytest.mark.parametrize("suffix", [".nc", ".zarr"])
def test_files_come_back_as_they_were(path, expected, tmp_path, suffix, capsys):
    if suffix == ".zarr":
        pytest.importorskip("zarr")
    out = tmp_path / f"map{suffix}"
    for _ in range(2):  # over an earlier map too
        assert run(path, "courgette", "fig", "--out", out) == 0
    assert f"wrote {out}" in capsys.readouterr().err
    assert [p.name for p in tmp_path.iterdir()] == [out.name]
    with xr.open_dataset(out, engine="zarr" if suffix == ".zarr" else None) as got:
        assert got["crop"].values.astype(str).tolist() == ["courgette", "fig"]
        for name in expected.data_vars:
            np.testing.assert_array_equal(got[name], expected[name], err_msg=name)
        assert got.attrs["Conventions"] == "CF-1.11"


def test_the_file_keeps_the_cf_conventions(path, tmp_path):
    """CF 1.11: units or flags for every variable (3.1, 3.5), coordinates by standard name and unit (4.1, 4.2)."""
    run(path, "courgette", "--out", tmp_path / "map.nc")
    with xr.open_dataset(tmp_path / "map.nc", mask_and_scale=False) as raw:
        for name, array in raw.data_vars.items():
            assert array.attrs["long_name"], name
            if "flag_values" in array.attrs:
                values = np.ravel(array.attrs["flag_values"])
                assert values.dtype == array.dtype == np.int8
                assert len(array.attrs["flag_meanings"].split()) == values.size
                assert set(np.unique(array.values)) <= {*values.tolist(), int(array.attrs["_FillValue"])}
                assert int(array.attrs["_FillValue"]) not in values
            else:
                assert array.attrs["units"] in ("1", "day"), name
        for name, unit in (("lat", "degrees_north"), ("lon", "degrees_east")):
            assert raw[name].attrs["units"] == unit
            assert raw[name].attrs["standard_name"] in ("latitude", "longitude")
        assert raw["height"].attrs["standard_name"] == "surface_altitude"
        meanings = raw["suitability_class"].attrs["flag_meanings"].split()
        codes = raw["suitability_class"].values
        assert meanings[int(codes[0, 0, 2]) - 1] == "sound"
    for words in (CLASSES, WAYS, LIMITS):
        assert len(set(words)) == len(words)


def test_every_word_of_the_engine_has_a_code():
    from sowcal.crops.handbook import handbook
    from sowcal.outputs.figure_style import CLASS_LOOKS
    from sowcal.suitability.annuals import GRADES

    assert set(CLASSES) == set(GRADES) == set(CLASS_LOOKS)
    assert {way.way for crop in handbook().values() for way in crop.ways} <= set(WAYS)


def test_netcdf_4_where_it_can_be_written(path, tmp_path):
    pytest.importorskip("h5netcdf")
    pytest.importorskip("h5py")
    four = tmp_path / "four.nc"
    with xr.open_dataset(path) as data:
        data.chunk({"lat": 2, "lon": 2, "time": -1}).to_netcdf(
            four, engine="h5netcdf", encoding={v: {"chunksizes": (1461, 2, 2)} for v in ("tasmin", "tasmax")}
        )
    got, expected = sowcal.map_crop(four, "courgette"), sowcal.map_crop(path, "courgette")
    xr.testing.assert_identical(got, expected.assign_attrs(got.attrs))
    assert run(four, "courgette", "--out", tmp_path / "map.nc") == 0
    assert (tmp_path / "map.nc").read_bytes()[:4] == b"\x89HDF"


@pytest.mark.parametrize("suffix", [".png", ".svg", ".pdf"])
def test_a_picture_for_each_crop(path, tmp_path, suffix):
    assert run(path, "courgette", "fig", "--out", tmp_path / f"map{suffix}") == 0
    pages = sorted(p.name for p in tmp_path.iterdir())
    assert pages == ([f"map{suffix}"] if suffix == ".pdf" else [f"map-2{suffix}", f"map{suffix}"])
    if suffix == ".png":
        picture = matplotlib.image.imread(tmp_path / "map.png")
        assert picture.shape[0] > picture.shape[1] > 1000
        assert len(np.unique((picture[..., :3] * 255).astype(int).reshape(-1, 3), axis=0)) > 50


def test_the_picture_says_what_it_shows(expected):
    page = map_figures(expected)[0]
    words = [t.get_text() for t in page.texts] + [a.get_title(loc="left") for a in page.axes]
    words += [t.get_text() for a in page.axes if a.get_legend() for t in a.get_legend().get_texts()]
    text = "\n".join(words)
    for needed in (
        "courgette over an invented coast",
        "8 years in 10",
        "1991-01-01 to 1994-12-31",
        expected.attrs["record_fingerprint"][:8],
        "no promise",
        "sound",
    ):
        assert needed in text
    page.canvas.draw()
    for axes in page.axes:  # nothing runs off the page
        box = axes.get_tightbbox().transformed(page.transFigure.inverted())
        assert box.x0 > 0
        assert box.x1 < 1.0
        assert box.y0 > 0
        assert box.y1 < 1.0


def test_each_panel_shows_its_own_values(expected):
    page = map_figures(expected)[0]
    maps = [a for a in page.axes if a.get_title(loc="left")]
    drawn = [np.ma.filled(a.collections[0].get_array().astype(float), np.nan) for a in maps[1:]]
    one = expected.isel(crop=0)
    np.testing.assert_array_equal(drawn[0], np.minimum(one["reliability"].values, 1.0 - 1e-9))
    np.testing.assert_array_equal(drawn[1], one["best_start_day"].values - 1.0)
    assert np.nanmax(np.abs(drawn[2] - one["window_length"].values)) < 1e-6


def test_no_text_of_a_map_is_outside_the_page_or_over_other_text(expected):
    long = expected.assign_attrs(title="crop suitability over " + "a coast with a very long name, " * 6)
    for one in (expected, long):
        for page in map_figures(one, issued=dt.date(2026, 2, 1)):
            assert faults(page) == []


def test_one_flat_colour_says_everywhere(expected):
    """The same reliability and day in every cell are told in words; several are not."""
    land = np.isfinite(expected["suitability_class"].values)
    flat = expected.copy(deep=True)
    for name, value in (("reliability", 0.93), ("best_start_day", 125.0), ("suitability_class", None)):
        old = expected[name].values
        new = np.nanmax(old) if value is None else value
        flat[name] = (expected[name].dims, np.where(land, new, np.nan), expected[name].attrs)
    told, usual = ([w for p in map_figures(d) for w in (t.get_text() for t, _ in drawn(p))] for d in (flat, expected))
    assert "everywhere 9 to 10" in told
    assert "everywhere first half of May" in told
    assert any(w.endswith(": everywhere") for w in told)
    assert "everywhere first half of May" not in usual


def test_the_colours_of_the_year_close():
    """1 January and 31 December lie as near as any two half months that follow each other."""
    from matplotlib.colors import LinearSegmentedColormap

    steps = LinearSegmentedColormap.from_list("x", MONTH_COLOURS, N=24)(np.arange(24))[:, :3]
    apart = np.linalg.norm(steps - np.roll(steps, -1, axis=0), axis=1)
    assert apart[-1] <= apart[:-1].max()
    opposite = np.linalg.norm(steps - np.roll(steps, 12, axis=0), axis=1)
    assert opposite.min() > 1.2 * apart.max()


def test_chill_is_written_and_drawn(path, tmp_path):
    for name in ("chill.png", "chill.nc"):
        assert run(path, "--chill", "--out", tmp_path / name) == 0
    with xr.open_dataset(tmp_path / "chill.nc") as got:
        assert got["chill_portions"].dims == ("year", "lat", "lon")
        xr.testing.assert_equal(got["chill_portions"].load(), sowcal.chill_map(path)["chill_portions"])


def test_the_coast_runs_between_land_and_sea():
    land = np.array([[False, True], [False, False]])
    segments = coast_segments(land, np.array([0.0, 1.0, 2.0]), np.array([10.0, 11.0, 12.0]))
    assert sorted(map(sorted, segments)) == [[(1.0, 10.0), (1.0, 11.0)], [(1.0, 11.0), (2.0, 11.0)]]


def without(name, monkeypatch):
    real = importlib.util.find_spec
    monkeypatch.setattr("importlib.util.find_spec", lambda n, *a: None if n == name else real(n, *a))
    for module in ("sowcal.grids.run", "sowcal.outputs.map_file", "sowcal.weather.netcdf"):
        monkeypatch.setattr(f"{module}.find_spec", lambda n, *a: None if n == name else real(n, *a))


def refusals(tmp_path, path):
    """What is asked, and words of the sentence that must come back."""
    text = tmp_path / "text.nc"
    text.write_text("no NetCDF at all")
    nameless = tmp_path / "nameless.nc"
    grid = made_up.made_up_grid(ny=2, nx=2, years=1)
    unnamed = grid.rename(tasmin="low", tasmax="high")
    for name in ("low", "high"):
        unnamed[name].attrs = {"units": "degC"}
    unnamed.to_netcdf(nameless, engine="scipy")
    unitless = tmp_path / "unitless.nc"
    bare = grid.copy()
    bare["tasmin"].attrs = {}
    bare.to_netcdf(unitless, engine="scipy")
    placeless = tmp_path / "placeless.nc"
    grid.drop_vars(["lat", "lon"]).to_netcdf(placeless, engine="scipy")
    deep = tmp_path / "deep.nc"
    grid.expand_dims(member=2).to_netcdf(deep, engine="scipy")
    monthly = tmp_path / "monthly.nc"
    grid.isel(time=slice(None, None, 30)).to_netcdf(monthly, engine="scipy")
    short = tmp_path / "short.nc"
    grid.isel(time=slice(100)).to_netcdf(short, engine="scipy")
    sea = tmp_path / "sea.nc"
    grid.where(grid["lat"] < 0).to_netcdf(sea, engine="scipy")
    out = ("--out", tmp_path / "map.nc")
    return {
        "no ending to write": ((path, "courgette", "--out", tmp_path / "map.gif"), "end the name in .png"),
        "no out": ((path, "courgette"), "add --out map.png"),
        "no folder": ((path, "courgette", "--out", tmp_path / "none" / "map.nc"), "name a folder that exists"),
        "no words": (out, "name a grid"),
        "no crop": ((path, *out), "no crop is named"),
        "chill and a crop": ((path, "courgette", "--chill", *out), "leave the crops out"),
        "no such crop": ((path, "courgete", *out), "there is no crop 'courgete'"),
        "no such file": ((tmp_path / "none.nc", "courgette", *out), "there is no file"),
        "no NetCDF": ((text, "courgette", *out), "this is no NetCDF file"),
        "no CF names": ((nameless, "courgette", *out), "no variable is recognised as tasmin or tasmax"),
        "wrong name given": ((nameless, "courgette", "--variable", "tasmin=lo", *out), "did you mean 'low'"),
        "no name given": ((nameless, "courgette", "--variable", "tasmin", *out), "not of the form tasmin=NAME"),
        "no unit": ((unitless, "courgette", *out), "has no units"),
        "no places": ((placeless, "courgette", *out), "latitude or longitude"),
        "another dimension": ((deep, "courgette", *out), "a dimension 'member' of 2"),
        "monthly": ((monthly, "courgette", *out), "only daily values"),
        "short": ((short, "courgette", *out), "at least 365 are needed"),
        "all sea": ((sea, "courgette", *out), "no cell holds a value"),
        "no such change": ((path, "courgette", "--with", "mulsh", *out), "did you mean 'mulch'"),
        "no workers": ((path, "courgette", "--workers", "0", *out), "give 1 or more"),
        "no block": ((path, "courgette", "--block", "0", *out), "give 1 or more"),
    }


def test_one_sentence_for_what_cannot_be_done(tmp_path, path, capsys):
    for name, (words, said) in refusals(tmp_path, path).items():
        before = set(tmp_path.iterdir())
        assert run(*words) in (2, 3, 4), name
        err = capsys.readouterr().err
        assert said in err, name
        assert err.count("\n") == 1, name
        assert "Traceback" not in err
        assert set(tmp_path.iterdir()) == before, f"{name} left something behind"


def test_nothing_is_reckoned_before_the_ending_is_known(tmp_path, path, monkeypatch):
    def read(*_):
        raise AssertionError("the grid was opened")

    monkeypatch.setattr("sowcal.weather.grid_file.open_grid", read)
    assert run(path, "courgette", "--out", tmp_path / "map.gif") == 2


def test_without_dask_it_says_how_to_install_it(path, tmp_path, monkeypatch, capsys):
    without("dask", monkeypatch)
    assert run(path, "courgette", "--out", tmp_path / "map.nc") == 2
    assert "pip install 'sowcal[grid]'" in capsys.readouterr().err
    with pytest.raises(sowcal.SowcalError, match=r"pip install 'sowcal\[grid\]'"):
        sowcal.map_crop(path, "courgette")


def test_a_cluster_that_does_not_answer(path, tmp_path, monkeypatch, capsys):
    pytest.importorskip("distributed")
    monkeypatch.setattr("sowcal.grids.cells._PATIENCE", 1)
    assert run(path, "courgette", "--cluster", "tcp://127.0.0.1:9", "--out", tmp_path / "map.nc") == 3
    assert "no dask cluster answers" in capsys.readouterr().err.splitlines()[-1]


def test_names_of_variables_can_be_told(tmp_path):
    grid = made_up.made_up_grid(ny=2, nx=3, years=4).rename(tasmin="low", tasmax="high")
    for name in ("low", "high"):
        grid[name].attrs = {"units": "degC"}
    grid.to_netcdf(tmp_path / "grid.nc", engine="scipy")
    told = ("--variable", "tasmin=low", "--variable", "tasmax=high")
    assert run(tmp_path / "grid.nc", "courgette", *told, "--out", tmp_path / "map.nc") == 0


def test_a_file_cut_short_is_told(path, tmp_path, capsys):
    cut = tmp_path / "cut.nc"
    cut.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    assert run(cut, "courgette", "--out", tmp_path / "map.nc") == 2
    err = capsys.readouterr().err
    assert "cut short" in err or "damaged" in err
    assert not (tmp_path / "map.nc").exists()


def test_a_folder_of_the_user_is_never_overwritten(path, tmp_path, capsys):
    mine = tmp_path / "map.zarr"
    mine.mkdir()
    (mine / "letter.txt").write_text("mine")
    assert run(path, "courgette", "--out", mine) == 2
    assert (mine / "letter.txt").read_text() == "mine"


def test_only_our_own_parts_are_cleared(tmp_path):
    parts = PartFolder(tmp_path / "map.nc", "0" * 32)
    parts.put("y00000-00001-x00000-00001", {"a": np.ones(1)})
    (parts.folder / "letter.txt").write_text("mine")
    parts.clear()
    assert [p.name for p in parts_of(tmp_path / "map.nc").iterdir()] == ["letter.txt"]


def test_every_block_is_told_to_who_listens_and_nothing_to_a_pipe(path, tmp_path):
    told = []
    with heard_by(lambda *step: told.append(step)):
        assert run(path, "courgette", "--block", 5, "--out", tmp_path / "a.nc") == 0
    assert told == [("working out the map", done, 4, "block") for done in range(5)]
    call = [sys.executable, "-m", "sowcal", "map", str(path), "courgette", "--block", "5", "--out"]
    plain = subprocess.run([*call, str(tmp_path / "b.nc")], capture_output=True, text=True, check=True)
    assert "blocks" not in plain.stderr + plain.stdout
