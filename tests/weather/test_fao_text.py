"""Climate text of the FAO: against days of the FAO's own test case, against another package's file, and damage."""

from __future__ import annotations

import sys
from importlib.metadata import PackageNotFoundError, files
from pathlib import Path

import numpy as np
import pytest
from records_alike import unlocked

from sowcal.errors import InputError
from sowcal.weather.csv_file import read_csv
from sowcal.weather.fao_text import is_fao, read_fao
from sowcal.weather.generator import generate_daily
from sowcal.weather.open_site import open_weather, read_record, recognised_format

sys.path.insert(0, str(Path(__file__).parent))
import other_formats as write

# The head, five days and the layout of Ottawa.Tnx, and Ottawa.CLI, of KUL-RSDA/AquaCrop, testcase/DATA (read there)
OTTAWA = (
    "Ottawa, Canada\n"
    "     1  : Daily records (1=daily, 2=10-daily and 3=monthly data)\n"
    "     1  : First day of record (1, 11 or 21 for 10-day or 1 for months)\n"
    "     1  : First month of record\n"
    "  2014  : First year of record (1901 if not linked to a specific year)\n"
    "\n  Tmin (C)   TMax (C)\n========================\n"
    "-31.3\t-21.4\n-29.9\t-23.4\n-32.3\t-24.1\n-29.8\t-4.2\n-6.1\t-3.7\n"
)
INDEX = "Ottawa, Canada\n 7.2   : AquaCrop Version (August 2024)\nOttawa.Tnx\nOttawa.ETo\nOttawa.PLU\nMaunaLoa.CO2\n"


@pytest.fixture(scope="module")
def short():
    normals = {"tasmin": [1.0] * 12, "tasmax": [14.0] * 12, "pr": [40.0] * 12, "wet_days": [8] * 12}
    return generate_daily(normals, years=3, seed=3, latitude=40.0, first_year=1999)


def put(path, text):
    path.write_text(text, encoding="utf-8")
    return path


def test_days_of_the_test_case_of_the_fao_model(tmp_path):
    path = put(tmp_path / "Ottawa.Tnx", OTTAWA)
    assert recognised_format(path) == "fao"
    got = read_record(path, latitude=45.4)
    assert got.time.astype(str).tolist() == [f"2014-01-0{d}" for d in range(1, 6)]
    assert got["tasmin"].tolist() == [-31.3, -29.9, -32.3, -29.8, -6.1]
    assert got["tasmax"].tolist() == [-21.4, -23.4, -24.1, -4.2, -3.7]
    assert got.title == "Ottawa, Canada"
    assert "taken for fao" in got.history
    assert np.isnan(got["pr"]).all()


def test_the_index_names_both(tmp_path):
    index = put(tmp_path / "Ottawa.CLI", INDEX)
    assert is_fao(INDEX)
    put(tmp_path / "Ottawa.Tnx", OTTAWA)
    with pytest.raises(InputError, match=r"line 5.*'Ottawa.PLU', which is not beside it"):
        read_fao(index)
    head = OTTAWA.split("  Tmin")[0]
    put(tmp_path / "Ottawa.PLU", head + "  Total Rain (mm)\n=======================\n0.0\n1.5\n0.0\n16.6\n0.2\n")
    assert read_fao(index)["pr"].tolist() == [0.0, 1.5, 0.0, 16.6, 0.2]


def test_the_same_record_as_another_package_holds_it(tmp_path):
    """Tunis 1979 to 2002 of `aquacrop`: its table read as CSV, and written in both files and read again."""
    try:
        table = next(f for f in files("aquacrop") if f.name == "tunis_climate.txt").locate()
    except PackageNotFoundError:
        pytest.skip("the package aquacrop is not installed")
    wanted = read_csv(table, temperature_unit="degC", latitude=36.8)
    assert wanted.size == 8552
    put(tmp_path / "Tunis.Tnx", write.fao(wanted))
    put(tmp_path / "Tunis.PLU", write.fao(wanted, ("pr",)))
    site = 'name = "Tunis"\nlatitude = 36.8\n[weather]\nsource = "file"\nformat = "fao"\n'
    _, got = open_weather(put(tmp_path / "t.toml", site + 'file = ["Tunis.Tnx", "Tunis.PLU"]\n'), longest_gap=0)
    np.testing.assert_array_equal(got.time, wanted.time)
    for name in ("tasmin", "tasmax", "pr"):
        np.testing.assert_array_equal(got[name], wanted[name])


def test_missing_days_and_columns_the_other_way_round(tmp_path, short):
    short = unlocked(short)
    short["tasmin"][40:43] = np.nan
    got = read_fao(put(tmp_path / "a.Tnx", write.fao(short)))
    np.testing.assert_array_equal(got["tasmin"], short["tasmin"])
    turned = write.fao(short, ("tasmax", "tasmin"), header="  TMax (C)   Tmin (C)")
    np.testing.assert_array_equal(read_fao(put(tmp_path / "b.Tnx", turned))["tasmax"], short["tasmax"])


def test_days_of_no_year_are_told(tmp_path):
    got = read_fao(put(tmp_path / "a.Tnx", OTTAWA.replace("2014", "1901")))
    (warning,) = got.warnings
    assert "no specific years" in warning
    assert read_fao(put(tmp_path / "b.Tnx", OTTAWA)).warnings == ()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda t: t.replace("     1  : Daily", "     2  : Daily"), "holds 10-day values"),
        (lambda t: t.replace("     1  : Daily", "     3  : Daily"), "source = 'normals'"),
        (lambda t: t.replace("-29.9\t-23.4", "-29.9"), "line 10.*has 1 numbers, not 2"),
        (lambda t: t.replace("-29.9\t-23.4", ""), "line 10.*is empty"),
        (lambda t: t.replace("-29.9", "cold"), "line 10.*'cold' is not a number"),
        (lambda t: t.replace("(C)", "(F)"), "line 7.*says 'F'"),
        (lambda t: t.replace("  Tmin (C)   TMax (C)", "  one   two"), "line 7.*are understood"),
        (lambda t: t.replace("     1  : First month", "    13  : First month"), "is no date"),
        (lambda t: t.replace("     1  : First month", "  May  : First month"), "line 4.*number and a colon"),
        (lambda t: t.replace("====", "----"), "line ===== must stand"),
        (lambda t: t.split("-31.3")[0], "no days below"),
        (lambda t: t.replace("  Tmin (C)   TMax (C)", "  Average ETo (mm/day)"), "no temperature file"),
    ],
)
def test_damage_is_told_with_its_line(tmp_path, change, words):
    with pytest.raises(InputError, match=words):
        read_fao(put(tmp_path / "a.Tnx", change(OTTAWA)))


def test_the_same_file_twice_is_refused(tmp_path):
    path = put(tmp_path / "a.Tnx", OTTAWA)
    with pytest.raises(InputError, match="in two of the files"):
        read_fao([path, path])
