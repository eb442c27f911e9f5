"""Every command says how much of its answer stands on filled days, and refuses what a record cannot carry."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest

from sowcal.__main__ import main
from sowcal.outputs.wording import record_text
from sowcal.suitability.results import Record

CROPS = ["pea (shelling)", "lemon"]
HEAD = 'name = "Ness"\nlatitude = 38.0\n[weather]\nsource = "file"\nfile = "%s"\ntemperature_unit = "degC"\n'
GARDEN = """\
name = "kitchen garden"
site = "%s"
crops = ["pea (shelling)"]
[household]
people = 1
[[beds]]
name = "one"
length = 4
width = 1.2
"""


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """Records of twelve years (with 40 gaps of three days and one of thirty), six, and two years."""
    folder = tmp_path_factory.mktemp("ness")
    days = np.arange("2005-01-01", "2017-01-01", dtype="datetime64[D]")
    rng = np.random.default_rng(5)
    wave = np.cos(2 * np.pi * (np.arange(days.size) - 25) / 365.25)
    low = 8 - 6 * wave + rng.normal(0, 2.5, days.size)
    rows = [f"{d},{a:.1f},{a + 10:.1f}" for d, a in zip(days, low, strict=True)]
    lost = {k + n for k in range(100, 4100, 100) for n in range(3)} | set(range(4200, 4230))
    tables = {
        "gaps": [r for k, r in enumerate(rows) if k not in lost],
        "six": [r for r in rows if r >= "2011"],
        "two": [r for r in rows if r >= "2015"],
    }
    for name, kept in tables.items():
        (folder / f"{name}.csv").write_text("\n".join(["date,tmin,tmax", *kept]) + "\n")
        (folder / f"{name}.toml").write_text(HEAD % f"{name}.csv")
        (folder / f"{name}.garden.toml").write_text(GARDEN % f"{name}.toml")
    return folder


def ask(capsys, *words):
    code = main([str(w) for w in words])
    told = capsys.readouterr()
    return code, told.out, told.err


FILLED, MISSING = 120, 30


@pytest.mark.parametrize(
    "words",
    [
        ("climate", "{site}"),
        ("chart", "{site}", *CROPS),
        ("rate", "{site}", *CROPS),
        ("rate", "{site}", CROPS[0]),
        ("rate", "{site}", CROPS[1]),
        ("week", "{site}", *CROPS),
        ("compare", "{site}", "{site}", *CROPS),
        ("garden", "{garden}"),
    ],
    ids=" ".join,
)
def test_filled_days_are_told(place, capsys, words):
    words = [w.format(site=place / "gaps.toml", garden=place / "gaps.garden.toml") for w in words]
    code, out, _ = ask(capsys, *words)
    assert code == 0
    assert "120 days (2.8 per cent) filled, 30 days missing" in " ".join(out.split())  # 120 of 4383 - 30 days
    code, out, _ = ask(capsys, *words, "--json")
    answer = json.loads(out)
    if words[0] == "climate":
        assert (answer["record_filled_days"], answer["record_missing_days"]) == (FILLED, MISSING)
    else:
        for record in answer.get("records") or [answer["record"]]:
            assert (record["filled_days"], record["missing_days"]) == (FILLED, MISSING)


def test_the_page_tells_them(place, capsys, tmp_path):
    code, _, _ = ask(capsys, "page", place / "gaps.toml", "pea (shelling)", "--out", tmp_path / "p.html")
    assert code == 0
    assert "120 days (2.8 per cent) filled, 30 days missing" in (tmp_path / "p.html").read_text(encoding="utf-8")


def test_a_map_tells_them(capsys, tmp_path):
    """Two cells, one whole, one that lacks three days: half of 3 in 1096."""
    xr = pytest.importorskip("xarray")
    pytest.importorskip("dask")
    pytest.importorskip("h5netcdf")
    days = np.arange("2005-01-01", "2008-01-01", dtype="datetime64[D]")
    low = np.repeat((10 - 6 * np.cos(2 * np.pi * np.arange(days.size) / 365.25))[:, None, None], 2, axis=2)
    low[100:103, 0, 1] = np.nan
    grid = xr.Dataset(
        {
            name: (("time", "lat", "lon"), low + more, {"units": "degC", "standard_name": "air_temperature"})
            for name, more in (("tasmin", 0.0), ("tasmax", 10.0))
        },
        {"time": days.astype("datetime64[ns]"), "lat": [38.0], "lon": [-8.0, -7.0]},
    )
    grid["lat"].attrs = {"units": "degrees_north", "standard_name": "latitude"}
    grid["lon"].attrs = {"units": "degrees_east", "standard_name": "longitude"}
    grid.to_netcdf(tmp_path / "g.nc")
    code, _, err = ask(capsys, "map", tmp_path / "g.nc", "--chill", "--workers", 1, "--out", tmp_path / "m.nc")
    assert code == 0, err
    share = 100 * 3 / (2 * days.size)
    assert f"{share:.2f} per cent of the days are filled, not measured" in err
    with xr.open_dataset(tmp_path / "m.nc") as found:
        assert found.attrs["days_filled_per_cent"] == pytest.approx(share, abs=0.005)


def test_a_whole_record_says_nothing_of_filling(place, capsys):
    for words in (("chart", "sallowdene", "courgette"), ("rate", "sallowdene", "courgette"), ("climate", "sallowdene")):
        assert "filled" not in ask(capsys, *words)[1]
    record = json.loads(ask(capsys, "chart", "sallowdene", "courgette", "--json")[1])["record"]
    assert set(record) == {"first", "last", "years", "findings"}


def test_six_years_show_their_interval_and_a_warning(place, capsys):
    site = place / "six.toml"
    code, out, err = ask(capsys, "chart", site, "pea (shelling)")
    said = " ".join(out.split())
    assert code == 0
    assert "the record is short (6.0 years of days): odds from fewer than 10 years are rough" in err
    told = re.search(r"Works (\d+) years in 10 \(6 years judged; give or take, (\d+)% to (\d+)%\)", said)
    assert told
    assert 0 <= int(told[2]) < 10 * int(told[1]) <= int(told[3]) <= 100
    code, out, err = ask(capsys, "rate", site, *CROPS)
    assert re.search(r"\(\d-10\)", out)  # the same interval in years of ten
    assert "In brackets: how far the odds of few years may lie off (95 per cent)" in " ".join(out.split())
    assert "the record is short" in err
    for crop in CROPS:
        code, out, _ = ask(capsys, "rate", site, crop)
        assert " years only: " in " ".join(out.split())
    for words in (("climate", site), ("compare", site, site, *CROPS), ("garden", place / "six.garden.toml")):
        code, out, err = ask(capsys, *words)
        assert code == 0
        assert "record is short (6.0 years of days)" in " ".join((out + err).split()), words
    assert "little more than the earliest and the latest" in " ".join(ask(capsys, "climate", site)[1].split())


def test_two_years_carry_no_odds(place, capsys):
    site = place / "two.toml"
    answer = json.loads(ask(capsys, "chart", site, *CROPS, "--json")[1])
    assert len(answer["crops"]) == 2
    for crop in answer["crops"]:
        for start in crop["starts"]:
            assert start["windows"] == start["possible"] == []
            assert start["daily"] is None
    for verdict in json.loads(ask(capsys, "rate", site, *CROPS, "--json")[1])["crops"]:
        assert verdict["class"] is None
        assert verdict["word"] == "cannot say"
        assert verdict["reliability"] is None
    climate = json.loads(ask(capsys, "climate", site, "--json")[1])
    for name in ("last_spring_frost", "first_autumn_frost", "frost_free_days", "years_without_frost"):
        assert climate[name] is None
    for words in (("chart", site, *CROPS), ("rate", site, *CROPS), ("week", site, *CROPS), ("climate", site)):
        code, out, err = ask(capsys, *words)
        assert code == 0
        assert "too short for odds (2.0 years of days): at least 3 whole years are needed" in " ".join(
            (out + err).split()
        )
        said = " ".join(out.split())  # lines end where the name of the folder has them end
        assert " in 10" not in said.replace("advised: 8 years in 10", "").replace("works 8 years in 10 or better", "")
    code, out, _ = ask(capsys, "compare", site, site, *CROPS)
    assert "Neither can be called the better plot: the record of Ness" in " ".join(out.split())
    code, out, err = ask(capsys, "garden", place / "two.garden.toml")
    assert code != 0
    assert out == ""
    assert "at least three whole years" in err


def test_the_length_that_counts_is_that_of_the_days_that_are_known():
    record = Record("2001-01-01", "2020-12-31", 20.0, "observed", filled_days=1, missing_days=14 * 365)
    assert record.usable_years == pytest.approx(6.0, abs=0.1)
    assert "1 day (under 0.1 per cent) filled" in record_text(record)
    assert record.to_json()["filled_days"] == 1
