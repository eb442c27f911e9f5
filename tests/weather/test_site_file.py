"""Site files and the errors that help to mend them."""

from __future__ import annotations

import sys

import pytest

from sowcal.errors import InputError
from sowcal.weather.site_file import EXAMPLE, parse_site, read_site_file

NORMALS = "[weather]\nsource = 'normals'\n" + "".join(
    f"{name} = {[value] * 12}\n" for name, value in (("tasmin", 8), ("tasmax", 17), ("pr", 40), ("wet_days", 6))
)
HEAD = 'name = "Nowhere"\nlatitude = -36.3\n'


def test_the_example_of_the_messages_is_a_site_file():
    site = parse_site(EXAMPLE, where="example")
    assert len(EXAMPLE.splitlines()) == 6
    assert (site.name, site.latitude, site.longitude, site.elevation) == ("My plot", 36.3, None, None)
    assert site.weather["temperature_unit"] == "degC"


def test_every_key(tmp_path):
    text = HEAD + "longitude = 12.5\nelevation = 40\n" + NORMALS + f"tasmin_sd = {[2.5] * 12}\nseed = 3\nyears = 20\n"
    path = tmp_path / "nowhere.toml"
    path.write_text(text)
    site = read_site_file(path)
    assert (site.latitude, site.longitude, site.elevation, site.path) == (-36.3, 12.5, 40.0, path)
    assert site.weather["seed"] == 3
    with pytest.raises(AttributeError):
        site.latitude = 1.0


@pytest.mark.parametrize(
    ("text", "words", "line"),
    [
        ("name = Nowhere\n", "not a TOML file", 1),
        (HEAD + "elevation = = 3\n", "not a TOML file", 3),
        (HEAD.replace("latitude", "lattitude") + NORMALS, "did you mean 'latitude'", None),
        (HEAD + "color = 3\n" + NORMALS, "known are name, latitude", None),
        (HEAD.replace("-36.3", "136.3") + NORMALS, "between -90 and 90", None),
        (HEAD.replace("-36.3", '"36.3 S"') + NORMALS, "must be a number", None),
        (HEAD.replace("-36.3", "nan") + NORMALS, "between -90 and 90", None),
        ('name = "Nowhere"\n' + NORMALS, "latitude is missing", None),
        ("latitude = 3\n" + NORMALS, "name is missing", None),
        (HEAD, r"no \[weather\] table", None),
        (HEAD + "[weather]\nsource = 'web'\n", "'web'", None),
        (HEAD + "[weather]\nsource = 'file'\n", "file is missing", None),
        (HEAD + "[weather]\nsource = 'file'\nfile = 3\n", "quotation marks", None),
        (HEAD + "[weather]\nsource = 'file'\nfile = 'a.csv'\ncolumns = 'tmin'\n", "weather.columns", None),
        (HEAD + "[weather]\nsource = 'file'\nfiel = 'a.csv'\n", "did you mean 'file'", None),
        (HEAD + "[weather]\nsource = 'station'\nseed = 4\n", "unknown key 'seed'", None),
        (HEAD + NORMALS.replace("wet_days", "#"), "wet_days under .* nothing", None),
        (HEAD + NORMALS.replace("[8, ", "["), "11 values", None),
        (HEAD + NORMALS.replace("[8, ", "['8', "), "twelve numbers", None),
        (HEAD + NORMALS + "years = -3\n", "whole number", None),
        (HEAD + NORMALS + "years = 2.5\n", "whole number", None),
        (HEAD + NORMALS + "years = true\n", "whole number", None),
        (HEAD + NORMALS + "years = 5000\n", "years under .* must lie between", None),
        (HEAD + 'coast = "yes"\n' + NORMALS, "must be true or false", None),
        (HEAD + "[weather]\nsource = 'station'\nhourly = 'yes'\n", "hourly under", None),
        (HEAD + "[weather]\nsource = 'file'\nfile = 'a.csv'\nseparator = 3\n", "separator under", None),
        (HEAD + "[weather]\nsource = 'file'\nfile = 'a.csv'\nyears = '2010-2001'\n", "years", None),
        (HEAD + "plot = 3\n" + NORMALS, "plot must be a table", None),
        (HEAD + NORMALS + "[plot]\nown_readings = 3\n", "own_readings under", None),
        (HEAD + NORMALS + "[plot]\nseparator = ','\n", "separator under .* missing", None),
        (HEAD + NORMALS + "[plot]\nchanges = 'warm-wall'\n", "list of texts", None),
        (HEAD + NORMALS + "seed = 9" + "9" * 30 + "\n", "figures", None),
        (HEAD + NORMALS + "seed = 9" + "9" * 5000 + "\n", "longer than", 9),
        (HEAD + "a = " + "[" * 3000 + "\n", "brackets within brackets", None),
    ],
)
def test_mistakes_are_named(tmp_path, text, words, line):
    path = tmp_path / "site.toml"
    path.write_text(text)
    with pytest.raises(InputError, match=words) as caught:
        read_site_file(path)
    assert caught.value.where == str(path)
    assert caught.value.line == line


def test_a_missing_file_and_other_bytes(tmp_path):
    with pytest.raises(InputError, match=r"none\.toml"):
        read_site_file(tmp_path / "none.toml")
    path = tmp_path / "site.toml"
    path.write_bytes(b'name = "\xff\xfe"\n')
    with pytest.raises(InputError, match="UTF-8"):
        read_site_file(path)
    with pytest.raises(InputError, match="a folder, not a site file"):
        read_site_file(tmp_path)


def test_a_number_of_more_figures_than_this_python_reads():
    before = sys.get_int_max_str_digits()
    sys.set_int_max_str_digits(640)  # the least that may be set; the usual 4300 are more than a line holds
    try:
        with pytest.raises(InputError, match="figures"):
            parse_site(HEAD + "seed = 9" + "9" * 2000 + "\n", where="site.toml")
    finally:
        sys.set_int_max_str_digits(before)
