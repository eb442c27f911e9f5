"""A table on disk is read as quickly as a bundled plot is made, and as the slower parser reads it."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sowcal.weather.csv_table import _parsed_values, _plain_values, read_table
from sowcal.weather.names_and_units import Column

CELLS = st.one_of(
    st.decimals(-60, 60, places=1).map(str),
    st.integers(-99, 99).map(str),
    st.sampled_from(["", "-", "NA", "n/a", "-999", "-9999", "+3.5", ".5", "7.", " 8.2", "1e2", "12,5", "warm", "1_0"]),
)


@settings(deadline=None, max_examples=60)
@given(st.lists(st.tuples(CELLS, CELLS), min_size=1, max_size=12), st.sampled_from([",", ";", "\t"]))
def test_both_parsers_read_the_same(tmp_path_factory, rows, separator):
    path = tmp_path_factory.mktemp("t") / "t.csv"
    lines = [separator.join(("date", "tmin", "tmax"))]
    lines += [separator.join((f"2004-01-{k + 1:02d}", *row)) for k, row in enumerate(rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    try:
        table = read_table(path)
    except ValueError:
        return  # a comma that parts cells where another sign is meant to: told, whichever parser would have come next
    texts, numbers = [Column(0, "date", "date")], [Column(1, "tmin", "tasmin"), Column(2, "tmax", "tasmax")]
    body = "\n".join(table.rows)
    quick = _plain_values(body, table.separator, texts, numbers)
    if quick is None:
        return
    slow = _parsed_values(table, body, texts, numbers)
    assert quick["date"].tolist() == slow["date"].tolist()
    for name in ("tasmin", "tasmax"):
        np.testing.assert_allclose(quick[name], slow[name], atol=1e-9)


def test_what_is_not_plain_is_left_to_the_slower_parser():
    number = [Column(0, "tmin", "tasmin")]
    for body in ('"3.5"', "warm", "1_0", "3,5", "1e2", "inf"):
        assert _plain_values(body, ";", [], number) is None, body
    assert _plain_values("3.5\n\n-7", ";", [], number)["tasmin"].tolist()[::2] == [3.5, -7.0]


NORMALS = """name = "an almanac's plot"
latitude = 39.0
longitude = -8.0
elevation = 50
[weather]
source = "normals"
tasmin = [5, 6, 7, 9, 12, 15, 17, 17, 15, 12, 8, 6]
tasmax = [14, 15, 18, 20, 24, 28, 32, 32, 29, 23, 18, 15]
pr = [70, 60, 50, 45, 30, 10, 2, 3, 20, 60, 80, 85]
wet_days = [8, 7, 7, 6, 4, 2, 0, 1, 3, 6, 8, 9]
"""
TABLE = NORMALS.split("[weather]")[0] + '[weather]\nsource = "file"\nfile = "days.csv"\ntemperature_unit = "degC"\n'


@pytest.mark.parametrize("kind", ["normals", "table"])
def test_a_chart_of_a_plot_of_ones_own_loads_neither_xarray_nor_pandas(tmp_path, kind):
    days = np.arange("2001-01-01", "2006-01-01", dtype="datetime64[D]")
    wave = 15.0 - 8.0 * np.cos(2 * np.pi * np.arange(days.size) / 365.25)
    rows = [f"{d},{m - 5:.1f},{m + 5:.1f}" for d, m in zip(days, wave, strict=True)]
    (tmp_path / "days.csv").write_text("date,tmin,tmax\n" + "\n".join(rows) + "\n")
    (tmp_path / "plot.toml").write_text(NORMALS if kind == "normals" else TABLE)
    code = (
        "import sys; from sowcal.__main__ import main; "
        f"assert main(['chart', {str(tmp_path / 'plot.toml')!r}, 'radish']) == 0; "
        "assert not {'xarray', 'pandas', 'dask', 'scipy'} & set(sys.modules), sorted(sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
