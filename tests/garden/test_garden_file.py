"""Garden files: what they say, and what is said of a wrong one."""

from __future__ import annotations

import tomllib
from importlib.resources import files

import pytest

from sowcal.errors import InputError
from sowcal.garden.garden_file import Pond, Pump, bundled_garden, bundled_garden_names, parse_garden, read_garden_file
from sowcal.weather.site_file import bundled_names

_LEAST = 'name = "g"\nsite = "sallowdene"\n'


def _parse(text):
    return parse_garden(text, where="my.garden.toml")


def test_least_file_and_its_usual_values():
    garden = _parse(_LEAST)
    assert garden.beds == ()
    assert garden.crops == ()
    assert garden.household.people == 2.0
    assert garden.water.capacity == 0.0


def test_every_table_is_read():
    garden = _parse(
        _LEAST
        + 'crops = ["carrot"]\n[[beds]]\nname = "a"\nlength = 10\nwidth = 1.2\nshade = 0.5\n'
        + 'zone = "tap"\nkind = "raised"\nheight = 0.3\n'
        + '[household]\npeople = 3\n[household.tastes]\ncarrot = "more"\n[counts]\ncarrot = 9\n'
        + '[soil]\ntexture = "clay"\ndepth = 0.4\n[mulch]\nkind = "straw"\ncover = 0.5\n'
        + '[water]\ntanks = [1000, 500]\nheight = 2\nmethod = "hand"\n'
        + "reducer = 150\nprograms = 2\nfirst_flush = 0.5\n[water.laterals]\nspacing = 0.5\n"
        + "[water.pond]\narea = 12\ndepth = 1.5\n[water.pump]\nflow = 900\nhead = 25\nlift = 8\n"
    )
    assert garden.area == 12.0
    assert garden.crops == ("carrot",)
    assert garden.counts == {"carrot": 9}
    assert garden.household.tastes == {"carrot": "more"}
    assert garden.water.capacity == 1500.0
    assert garden.water.lateral_spacing == 0.5
    assert garden.water.pond == Pond(12.0, depth=1.5)
    assert garden.water.pump == Pump(900.0, 25.0, 8.0)
    assert (garden.water.reducer, garden.water.programs, garden.water.first_flush) == (150.0, 2, 0.5)
    assert (garden.beds[0].zone, garden.beds[0].kind, garden.beds[0].height) == ("tap", "raised", 0.3)
    assert garden.texture == "clay"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("name = g", "line 1: not a TOML file"),
        ('site = "x"', "name is missing"),
        (_LEAST + "[watr]\n", "did you mean 'water'"),
        (_LEAST + "[water]\nheigth = 2\n", "did you mean 'height'"),
        (_LEAST + "[water]\nheight = 900\n", "between -50 and 200 m"),
        (_LEAST + '[water]\nheight = "2"\n', "without quotation marks"),
        (_LEAST + "[water]\nroof = nan\n", "must lie between"),
        (_LEAST + '[water]\ntimer = "solenoyd"\n', "did you mean 'solenoid'"),
        (_LEAST + "[water]\ntanks = 1000\n", "list of litres"),
        (_LEAST + "[water]\ntanks = [-5]\n", "tanks"),
        (_LEAST + '[soil]\ntexture = "lome"\n', "did you mean 'loam'"),
        (_LEAST + '[household.tastes]\ncarrot = "lots"\n', "more, usual, less, none"),
        (_LEAST + "[[beds]]\nlength = 3\n", "width is missing under \\[beds, number 1\\]"),
        (_LEAST + '[[beds]]\nname="a"\nlength=1\nwidth=1\n[[beds]]\nname="a"\nlength=1\nwidth=1\n', "two beds 'a'"),
        (_LEAST + "beds = 3\n", "beds must be"),
        (_LEAST + 'crops = "carrot"\n', "suggest"),
        (_LEAST + "[counts]\ncarrot = -1\n", "between 0 and"),
        (_LEAST + "[counts]\nradish = 2.5\n", "2.5 plants of 'radish'; give a whole number"),
        (_LEAST + 'crops = ["carrot", "leek", "carrot"]\n', "crops names 'carrot' twice; name each crop once"),
        (_LEAST + 'rain_fed = ["leek", "leek "]\n', "rain_fed names 'leek' twice"),
    ],
)
def test_a_wrong_file_is_told_in_one_sentence(text, says):
    with pytest.raises(InputError, match=says) as problem:
        _parse(text)
    assert "my.garden.toml" in str(problem.value)
    assert "\n" not in str(problem.value)


def test_whole_plants_may_be_written_with_a_point():
    assert _parse(_LEAST + "[counts]\nradish = 3.0\n").counts == {"radish": 3}


def test_a_missing_file(tmp_path):
    with pytest.raises(InputError, match="no garden file"):
        read_garden_file(tmp_path / "none.toml")
    (tmp_path / "bad.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(InputError, match="UTF-8"):
        read_garden_file(tmp_path / "bad.toml")


def test_a_site_file_is_looked_for_beside_the_garden_file(tmp_path):
    (tmp_path / "plot.toml").write_text("x")
    (tmp_path / "g.toml").write_text('name = "g"\nsite = "plot.toml"\n')
    assert read_garden_file(tmp_path / "g.toml").site == str(tmp_path / "plot.toml")


def test_the_bundled_garden_is_invented_says_so_and_is_no_site():
    garden = bundled_garden()
    assert "invented" in garden.name
    assert 90 <= garden.area <= 110
    assert garden.household.people == 2
    assert garden.water.capacity == 5000.0
    for name in bundled_garden_names():
        text = (files("sowcal") / "plots" / f"{name}.garden.toml").read_text(encoding="utf-8")
        assert tomllib.loads(text)["invented"] is True
    assert bundled_names() == ["sallowdene", "wrackhythe"]
    with pytest.raises(InputError, match="sallowdene"):
        bundled_garden("elsewhere")
