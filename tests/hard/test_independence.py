"""Answers hang on the question alone: not on locale, time zone, hash seed, threads, folder, order, chunks or dtype."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from sowcal.answers import open_record, rate_crops, site_climate, sowing_chart
from sowcal.climate.chill import chill_portions, chilling_hours
from sowcal.climate.degree_days import growing_degree_days
from sowcal.climate.frost import last_spring_frost
from sowcal.outputs.json_form import chart_json, rate_json
from sowcal.weather.cf_dataset import dataset_of

CROPS = ["courgette", "broad bean", "onion (short-day)", "potato (maincrop)", "rhubarb", "spinach"]
SITE = """\
name = "Völgy °C"
latitude = -37.25
longitude = -8.1
elevation = 85.5
[weather]
source = "file"
file = "days.csv"
temperature_unit = "degC"
"""
# Called with words to answer. `setlocale` takes the decimal comma and the names of months of the environment into use,
# which a program that embeds this one may do.
RUN = """
import locale, sys
locale.setlocale(locale.LC_ALL, "")
print(locale.str(0.5), file=sys.stderr)
from sowcal.__main__ import main
site, out = sys.argv[1:]
for words in (
    ["chart", site, "courgette", "broad bean", "--json"],
    ["rate", site, "apple", "rhubarb", "--json"],
    ["climate", site, "--json"],
    ["week", site, "courgette", "--date", "2026-03-10", "--json"],
    ["garden", "--issued", "2026-03-10", "--json"],
    ["climate", site, "--issued", "2026-03-10", "--out", out + ".svg"],
    ["chart", site, "leek", "--issued", "2026-03-10", "--out", out + ".ics"],
    ["page", site, "leek", "--issued", "2026-03-10", "--out", out + ".html"],
    ["weather", "export", site, "--out", out + ".csv"],
):
    assert main(words) == 0
    print()
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A site file with a name beyond ASCII and twelve invented years beside it, a gap among them."""
    where = tmp_path_factory.mktemp("site")
    days = np.arange("2001-01-01", "2013-01-01", dtype="datetime64[D]")
    noise = np.random.default_rng(5).normal(0, 3, days.size)
    mean = 15 - 8 * np.cos(2 * np.pi * (np.arange(days.size) / 365.25 + 0.45)) + noise
    rows = [f"{d},{m - 5:.1f},{m + 6:.1f}" for d, m in zip(days, mean, strict=True)]
    del rows[1000:1003], rows[3000:3040]
    (where / "days.csv").write_text("date,tmin,tmax\n" + "\n".join(rows) + "\n", encoding="utf-8")
    (where / "völgy.toml").write_text(SITE, encoding="utf-8")
    return where


def answers(folder: Path, run: Path, **environment: str) -> tuple[dict[str, bytes], str]:
    """What one process says and writes, and what it told on standard error."""
    run.mkdir()
    kept = {k: v for k, v in os.environ.items() if not k.startswith("LC_") and k not in ("LANG", "TZ")}
    call = [sys.executable, "-c", RUN, str(folder / "völgy.toml"), str(run / "answer")]
    place = Path(__file__).parents[2]
    env = {**kept, "PYTHONPATH": str(place), **environment}
    done = subprocess.run(call, cwd=run, env=env, capture_output=True)
    assert done.returncode == 0, done.stderr.decode("utf-8", "replace")[-2000:]
    files = {p.suffix: p.read_bytes() for p in run.iterdir() if p.is_file()}
    assert set(files) == {".svg", ".ics", ".html", ".csv"}
    return {"said": done.stdout, **files}, done.stderr.decode("utf-8", "replace")


@pytest.fixture(scope="module")
def usual(folder, tmp_path_factory):
    run = tmp_path_factory.mktemp("usual") / "run"
    return answers(folder, run, LC_ALL="C.UTF-8", TZ="UTC", PYTHONHASHSEED="0", OMP_NUM_THREADS="1")[0]


def differing(one: dict[str, bytes], two: dict[str, bytes]) -> list[str]:
    return [name for name in one if one[name] != two[name]]


def test_another_day_line_hash_seed_thread_count_and_folder(folder, usual, tmp_path):
    threads = {f"{name}_NUM_THREADS": "4" for name in ("OMP", "OPENBLAS", "MKL", "NUMEXPR")}
    other, _ = answers(
        folder, tmp_path / "elsewhere", LC_ALL="C.UTF-8", TZ="Pacific/Kiritimati", PYTHONHASHSEED="4711", **threads
    )
    assert differing(usual, other) == []


def test_a_locale_without_utf8(folder, usual, tmp_path):
    """JSON is UTF-8 whatever the screen shows (RFC 8259, section 8.1)."""
    plain = {"LC_ALL": "POSIX", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0", "TZ": "America/St_Johns"}
    other, _ = answers(folder, tmp_path / "run", **plain)
    assert differing(usual, other) == []
    assert json.loads(other["said"].decode("utf-8").split("\n\n")[0])["site"] == "Völgy °C"


def test_a_decimal_comma(folder, usual, tmp_path):
    locales = tmp_path / "locales"
    locales.mkdir()
    if not shutil.which("localedef") or not Path("/usr/share/i18n/locales/de_DE").is_file():
        pytest.skip("no localedef with de_DE here: a decimal comma cannot be set up")
    subprocess.run(["localedef", "-i", "de_DE", "-f", "UTF-8", str(locales / "de_DE.UTF-8")], capture_output=True)
    other, told = answers(folder, tmp_path / "run", LC_ALL="de_DE.UTF-8", LOCPATH=str(locales))
    assert told.startswith("0,5")  # else the locale was not taken into use and this proves nothing
    assert differing(usual, other) == []


def test_what_was_asked_before_does_not_matter():
    """The same questions in two orders, in one process with all that it keeps."""

    def ask(site, crop):
        chart, verdicts = rate_crops(site, [crop])
        return json.dumps([chart_json(chart), rate_json(chart.site, chart.record, verdicts)])

    questions = [(site, crop) for site in ("wrackhythe", "sallowdene") for crop in CROPS[:4]]
    forward = {q: ask(*q) for q in questions}
    backward = {q: ask(*q) for q in reversed(questions)}
    assert forward == backward
    assert len(set(forward.values())) == len(questions)


def test_company_of_other_crops_does_not_matter():
    alone = {c: chart_json(sowing_chart("sallowdene", [c]))["crops"][0] for c in CROPS}
    together = chart_json(sowing_chart("sallowdene", CROPS[::-1]))["crops"]
    assert [c["crop"] for c in together] == CROPS[::-1]
    for line in together:
        assert line == alone[line["crop"]]


@pytest.fixture(scope="module")
def places():
    """Five invented places in an array (site, time)."""
    rng = np.random.default_rng(3)
    days = np.arange("2001-01-01", "2005-01-01", dtype="datetime64[D]")
    latitude = np.array([0.0, 38.0, -38.0, 70.0, -5.0])
    wave = np.cos(2 * np.pi * np.arange(days.size) / 365.25)
    mean = 14 - 0.15 * latitude[:, None] * wave + rng.normal(0, 2, (5, days.size))
    return days, latitude, mean - 5, mean + 6


@pytest.mark.parametrize(
    "index",
    [
        lambda lo, hi, days, lat: growing_degree_days(lo, hi, base_temperature=10.0),
        lambda lo, hi, days, lat: chill_portions(lo, hi, time=days, latitude=lat),
        lambda lo, hi, days, lat: chilling_hours(lo, hi, time=days, latitude=lat),
        lambda lo, hi, days, lat: last_spring_frost(lo, time=days, latitude=lat),
    ],
    ids=["degree days", "chill portions", "chilling hours", "last frost"],
)
def test_order_and_number_of_sites_do_not_matter(places, index):
    days, latitude, low, high = places
    whole = np.asarray(index(low, high, days, latitude))
    order = np.array([3, 0, 4, 2, 1])
    np.testing.assert_array_equal(np.asarray(index(low[order], high[order], days, latitude[order])), whole[order])
    for k in range(5):
        one = np.asarray(index(low[k : k + 1], high[k : k + 1], days, latitude[k : k + 1]))
        shared = whole[k : k + 1]
        if one.shape != shared.shape:  # fewer hemispheres have fewer growing years in common
            shared = shared[..., np.isfinite(shared[0])]
            one = one[..., np.isfinite(one[0])]
        np.testing.assert_array_equal(one, shared)


@pytest.mark.parametrize("chunks", [{"site": 1}, {"site": 2, "time": 500}, {"time": 100}])
def test_chunks_do_not_matter(places, chunks):
    xr = pytest.importorskip("xarray")
    pytest.importorskip("dask")
    days, latitude, low, high = places
    coords = {"time": days.astype("datetime64[ns]"), "latitude": ("site", latitude)}
    arrays = [xr.DataArray(x, dims=("site", "time"), coords=coords, attrs={"units": "degC"}) for x in (low, high)]
    cut = [a.chunk(chunks) for a in arrays]
    for index in (lambda a, b: growing_degree_days(a, b, base_temperature=10.0), chill_portions, chilling_hours):
        np.testing.assert_array_equal(index(*cut).compute().values, index(*arrays).values)


def test_readings_in_single_precision():
    """Tolerance: a float32 holds 30 degC to 2e-6 K, so that only ties of a threshold can turn over.

    Measured on both bundled plots, whose values are no round tenths: every window the same day, every share of years
    the same. A year of thirty may turn over (0.034) before this fails, and a day at an edge.
    """
    for site in ("wrackhythe", "sallowdene"):
        dataset = dataset_of(open_record(site)[1])
        single = dataset.assign({v: dataset[v].astype("float32") for v in ("tasmin", "tasmax", "pr")})
        exact, rough = (chart_json(sowing_chart(d, CROPS)) for d in (dataset, single))
        for a, b in zip(exact["crops"], rough["crops"], strict=True):
            for one, two in zip(a["starts"], b["starts"], strict=True):
                assert len(one["windows"]) == len(two["windows"]), a["crop"]
                if one["daily"]:
                    off = np.abs(np.array(one["daily"], float) - np.array(two["daily"], float))
                    assert off.max() <= 0.034
                    # odds of a drawn sort run smoothly, so that their last digit may turn over anywhere
                    assert np.mean(off > 0.0011) < 0.02
        one, two = (site_climate(d).to_json() for d in (dataset, single))
        for name in ("growing_degree_days", "chill_portions", "frost_days", "chill_hours"):
            assert two[name] == pytest.approx(one[name], rel=1e-3, abs=0.04), name
