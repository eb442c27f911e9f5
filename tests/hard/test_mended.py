"""What fuzzing found, in the smallest form that shows it: each ended in a traceback, a warning or a wrong answer."""

from __future__ import annotations

import json
import random
import warnings

import numpy as np
import pytest
import samples
from targets import TARGETS, one

from sowcal.__main__ import main
from sowcal.crops.own_values import own_files_of_user
from sowcal.errors import InputError
from sowcal.garden.garden_file import read_garden_file
from sowcal.weather.cf_dataset import dataset_of
from sowcal.weather.from_xarray_and_pandas import as_record
from sowcal.weather.open_site import open_weather, read_record
from sowcal.weather.record import steps_of

HEAD = "date,tmin_degC,tmax_degC,pr_mm\n"
DLY = samples.write.dly(samples.record())
MANY = "9" * 400
# name: (ending, text, words of the refusal; none where it is read, and the value is told as impossible)
TEXTS = {
    "a quotation mark that swallows a cell": ("csv", HEAD + '2001-01-01,1,2,0\n2001-01-02,1,"2,0\n', "quotation marks"),
    "a date of twenty figures": ("csv", HEAD + f"{'9' * 20}-01-01,1,2,0\n", "date"),
    "a number near the largest": ("csv", HEAD + "2001-01-01,1,2,1e308\n2001-01-02,1,2,0\n", None),
    "a year near the largest": ("csv", "year,month,day,tmin_degC,tmax_degC\n1e300,1,1,1,2\n", "whole numbers"),
    "a cell of 5000 figures": ("csv", HEAD + f"2001-01-01,1,2,{'9' * 5000}x\n", "is not a number"),
    "a number with a stroke": ("Tnx", samples.write.fao(samples.record()).replace("\t", "_0\t", 1), "is not a number"),
    "tenths with a stroke": ("dly", DLY[:29] + "  1_0" + DLY[34:], "whole number"),
    "a latitude of 400 figures": ("toml", samples.SITE_OF_NORMALS.replace("-33.5", MANY), "too many figures"),
    "a normal of 400 figures": ("toml", samples.SITE_OF_NORMALS.replace("[14,", f"[{MANY},"), "too many figures"),
    "normals of a furnace": (
        "toml",
        samples.SITE_OF_NORMALS.replace("[27, 27, 25, 22", "[77, 77, 75, 72"),
        "lies outside -90 to 60",
    ),
    "a million years": ("toml", samples.SITE_OF_NORMALS.replace("years = 2", "years = 1000000"), "between 1 and 200"),
    "a source that is a list": (
        "toml",
        samples.SITE_OF_NORMALS.replace('source = "normals"', "source = []"),
        "source under [weather] is []",
    ),
    "a source that is a table": (
        "toml",
        samples.SITE_OF_FILE.replace('source = "file"', "source = {a = 1}"),
        "source under [weather] is {'a': 1}",
    ),
    "a file name that cannot be": (
        "toml",
        samples.SITE_OF_FILE.replace('"record.csv"', '"a\\u0000b"'),
        "there is no file",
    ),
    "a file name of 5000 letters": (
        "toml",
        samples.SITE_OF_FILE.replace('"record.csv"', f'"{"a" * 3000}"'),
        "there is no file",
    ),
}


@pytest.mark.parametrize("name", TEXTS)
def test_texts(tmp_path, name):
    ending, text, words = TEXTS[name]
    path = tmp_path / f"a.{ending}"
    path.write_text(text)

    def read():
        if ending == "toml":
            return open_weather(path)[1]
        return read_record(path, latitude=40.0)

    if words is None:
        assert any("outside" in note.what for note in read().notes)
        return
    with pytest.raises(InputError) as caught:
        read()
    assert words in str(caught.value)
    assert len(str(caught.value)) < 2000


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [("length = 5", f"length = {MANY}", "too many figures"), ("people = 3", "people = 1e999", "between")],
)
def test_gardens(tmp_path, old, new, words):
    path = tmp_path / "g.toml"
    path.write_text(samples.GARDEN.replace(old, new))
    with pytest.raises(InputError, match=words):
        read_garden_file(path)


def test_a_garden_whose_site_is_a_very_long_word(tmp_path):
    path = tmp_path / "g.toml"
    path.write_text(samples.GARDEN.replace('"sallowdene"', f'"{"a" * 3000}"'))
    assert len(read_garden_file(path).site) == 3000  # no file beside it; it is refused where it is opened


@pytest.mark.parametrize(
    ("kind", "number"),
    [
        ("netcdf grid, hdf", 5000),  # a reader left half-made, of which Python complained on the screen
        ("grid of a map", 5000),
        ("netcdf grid, classic", 30472),  # a time of one day beside values of many
        ("netcdf grid, classic", 200207),  # a warning of a file closed too early
        ("commands on damaged files", 32),
    ],
)
def test_damage_that_was_found_by_chance(tmp_path, kind, number):
    if kind not in TARGETS:
        pytest.skip("h5netcdf and h5py are not installed")
    assert one(kind, tmp_path, random.Random(f"{kind} {number}").randrange) in ("read", "refused")


LONG = "a" * 300  # more letters than a name of a file may have (255 bytes on usual file systems)


@pytest.mark.parametrize(
    "words",
    [
        ["garden", LONG],
        ["map", LONG, "radish", "--out", "m.png"],
        ["map", "g.nc", "radish", "--out", f"{LONG}.png"],
        ["map", "g.nc", "radish", "--out", f"{LONG}/m.zarr"],
        ["chart", f"1,{'2' * 300}", "radish"],
        ["chart", "sallowdene", "radish", "--out", f"{LONG}.json"],
        ["weather", "check", LONG],
        ["weather", "export", f"{LONG}.toml", "--out", "r.csv"],
        ["garden", "a\0b"],
        ["map", "a\0b", "radish", "--out", "m.png"],
        ["chart", "a\0b.toml", "radish"],
    ],
    ids=lambda words: " ".join(w[:12].replace("\0", "0") for w in words),
)
def test_names_that_no_file_can_have(words, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(words) == 2
    out, said = capsys.readouterr()
    assert all(line.startswith("sowcal: ") for line in said.splitlines())
    assert not out
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", [LONG + ".csv", "a\\u0000b"])
@pytest.mark.parametrize("where", ["file", "own_readings"])
def test_site_files_that_name_what_no_file_can_be(where, name, tmp_path):
    text = (
        samples.SITE_OF_FILE if where == "file" else samples.SITE_OF_NORMALS + '[plot]\nown_readings = "record.csv"\n'
    )
    (tmp_path / "site.toml").write_text(text.replace("record.csv", name))
    with pytest.raises(InputError, match="there is no file"):
        open_weather(tmp_path / "site.toml")


def test_a_folder_of_crops_that_none_can_be(monkeypatch):
    monkeypatch.setenv("SOWCAL_CROPS", LONG)
    assert own_files_of_user() == ()


def test_a_wait_as_long_as_a_number_can_be(capsys):
    """Sixty days times the largest number ended in a warning; it is as good as no limit."""
    answers = []
    for longest in ("1.7e308", "1000"):
        assert main(["chart", "sallowdene", "radish", "--longest", longest, "--json"]) == 0
        out, said = capsys.readouterr()
        assert "Warning" not in said
        answers.append(json.loads(out)["crops"])
    assert answers[0] == answers[1]


@pytest.mark.parametrize("number", ["nan", "-1", "1_0", "often"])
@pytest.mark.parametrize(
    ("option", "words"), [("--longest", "times, 1 or more"), ("--most-water", "litres, 0 or more")]
)
def test_a_limit_that_is_none(option, words, number, capsys):
    """All but the last were taken: as no limit, as one that no start can meet, or as ten."""
    assert main(["chart", "sallowdene", "radish", f"{option}={number}"]) == 2
    assert f"{number!r} is not a number of {words}" in capsys.readouterr().err


@pytest.mark.parametrize(("coordinate", "value"), [("elevation", -1e30), ("longitude", 5e9)])
def test_a_dataset_of_the_own_form_from_nowhere(coordinate, value):
    """The height was believed, and numpy warned of it where the digest of the days was made."""
    data = dataset_of(samples.record()).assign_coords({coordinate: value})
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        with pytest.raises(InputError, match="lies outside"):
            as_record(data)


@pytest.mark.parametrize(
    "wrong",
    [
        {"tas_hour": (("time", "hour"), np.full((samples.DAYS, 24), 1e300))},
        {"tas_hour": (("time", "hour"), np.full((samples.DAYS, 23), 9.0))},
        {"open_range": ("time", np.full(samples.DAYS, -3.0))},
        {"open_range": ("time", np.full(samples.DAYS, "warm"))},
    ],
)
def test_what_a_dataset_of_the_own_form_has_beside_its_days_is_looked_at_too(wrong):
    """Hours and ranges that cannot be are those of no record: the days are read alone."""
    data = dataset_of(samples.record())
    data = data.drop_dims("hour", errors="ignore").assign(wrong)
    read = as_record(data)
    assert read.hours is None
    assert read.open_range is None
    np.testing.assert_array_equal(read["tasmin"], samples.record()["tasmin"])


def test_numbers_beyond_any_digest_have_one():
    """The largest numbers are told apart from what is missing, without a warning."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        beyond = {steps_of(np.array([x])) for x in (1e308, -1e308, np.inf, -np.inf, np.nan, 1.0)}
    assert len(beyond) == 4
