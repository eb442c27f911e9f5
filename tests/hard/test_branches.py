"""Ways through the engine that everyday plots do not take, each with what must come out of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sowcal.answers import open_handbook, rate_crops, sowing_chart
from sowcal.climate.hourly import hourly_temperature
from sowcal.climate.summary import chill_both_ways, mean_chill
from sowcal.crops.own_values import own_files_of_user
from sowcal.errors import InputError
from sowcal.garden.garden_file import bundled_garden
from sowcal.garden.gravity_feed import darcy_weisbach, friction_factor, gravity_feed
from sowcal.garden.plan import garden_cautions
from sowcal.microclimate import parse_what_if
from sowcal.seasons.sums import survival_of_runs
from sowcal.weather.ecad import read_ecad
from sowcal.weather.record import daily_record

DAYS = np.arange("2001-01-01", "2005-01-01", dtype="datetime64[D]")


@pytest.fixture(scope="module")
def cool():
    """An invented cool place whose measured hours are just those rebuilt from its extremes."""
    of_year = (DAYS - DAYS.astype("datetime64[Y]").astype("datetime64[D]")).astype(int) + 1
    mean = 10 - 8 * np.cos(2 * np.pi * of_year / 365.25)
    record = daily_record(DAYS, {"tasmin": mean - 4, "tasmax": mean + 5}, latitude=45.0, title="cool")
    hours = np.asarray(hourly_temperature(mean - 4, mean + 5, 45.0, of_year))
    return record, replace(record, hours=hours)


def test_chill_from_measured_hours_equals_that_from_the_same_hours_rebuilt(cool):
    plain, measured = cool
    for one in chill_both_ways(measured):
        assert one.both.sum() >= 2
        np.testing.assert_allclose(one.measured[one.both], one.rebuilt[one.both], rtol=1e-6, atol=0.05)
        told = one.to_json()
        assert told["rebuilt_minus_measured"] == pytest.approx(0.0, abs=0.05)
        assert len(told["years"]) == len(told["measured"]) == len(told["rebuilt"])
    from_extremes, nothing = mean_chill(plain)
    from_hours, (note,) = mean_chill(measured)
    assert nothing == ()
    assert "hourly values in" in note
    assert "+0.0 portions" in note or "-0.0 portions" in note
    for model, value in from_extremes.items():
        assert from_hours[model] == pytest.approx(value, rel=1e-6), model


def test_hours_do_not_count_under_a_what_if_and_missing_ones_are_rebuilt(cool):
    plain, measured = cool
    changed = replace(measured, what_ifs="mulch")
    assert mean_chill(changed) == mean_chill(plain)
    none = replace(measured, hours=measured.hours * np.nan)
    chill, (note,) = mean_chill(none)
    assert chill == mean_chill(plain)[0]
    assert "in 0 of" in note
    assert chill_both_ways(none)[0].to_json()["rebuilt_minus_measured"] is None


def test_a_crop_without_figures_is_named_and_not_judged(tmp_path):
    own = tmp_path / "crops.csv"
    own.write_text("crop,family\nmoonflower,Convolvulaceae\n", encoding="utf-8")
    with pytest.raises(InputError, match="moonflower"):  # the handbook laid over must know it, the bundled one not
        sowing_chart("sallowdene", ["moonflower"])
    ways = tmp_path / "ways.csv"
    ways.write_text("crop,way\nmoonflower,sown outdoors\n", encoding="utf-8")
    growth = tmp_path / "growth.csv"
    growth.write_text("crop,upper_threshold\nmoonflower,30\n", encoding="utf-8")
    chart, (verdict,) = rate_crops("sallowdene", ["moonflower"], crop_files=[str(f) for f in (own, ways, growth)])
    (start,) = chart.crops[0].starts
    assert (start.windows, start.possible, start.reliability) == ((), (), None)
    assert set(start.unknown) == {"growth.habit", "growth.base_temperature", "ways.thermal_time_low"}
    assert (verdict.suitability, verdict.word) == (None, "cannot say")


def test_own_files_are_looked_for_in_the_users_own_folder(tmp_path, monkeypatch):
    monkeypatch.delenv("SOWCAL_CROPS")
    monkeypatch.delenv("SOWCAL_HOME")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))  # XDG base directory specification
    assert own_files_of_user() == ()
    folder = tmp_path / "sowcal" / "crops"
    folder.mkdir(parents=True)
    (folder / "b-cold.csv").write_text("crop,killing_young\ncourgette,-1\n", encoding="utf-8")
    (folder / "a-cold.csv").write_text("crop,killing_young\ncourgette,-2\n", encoding="utf-8")
    assert [f.rpartition("/")[2] for f in own_files_of_user()] == ["a-cold.csv", "b-cold.csv"]
    assert open_handbook()["courgette"].cold.killing_young == -1.0  # the last file has the last word


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("odd.csv", "crop,colour\npea,green\n", "not clear which table"),
        ("cold.csv", "crop,killing_young\nmoonflower,-1\n", "not in the handbook"),
        ("crops.csv", "crop,like\nmoonflower,sunflower of mars\n", "to be like"),
        ("cold.csv", b"crop,killing_young\ncourg\xe9tte,-1\n", "UTF-8"),
        ("cold.csv", "crop,killing_young\ncourgette\n", "1 cell where the header has 2"),
    ],
)
def test_own_files_that_cannot_be_used(name, text, says, tmp_path):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(InputError, match=says):
        open_handbook([str(path)])
    with pytest.raises(InputError, match="there is no"):
        open_handbook([str(tmp_path / "cold-of-nobody.csv")])


def ecad(element="TX", head="STAID, SOUID, DATE, {0}, Q_{0}", rows=("12, 1, 20010101, 85, 0",), station="12"):
    """A small file as ECA&D describes its blended series."""
    told = f"This is the blended series of station SOMEWHERE, LAND (STAID: {station}).\n\n"
    return told + head.format(element) + "\n" + "\n".join(rows) + "\n"


@pytest.mark.parametrize(
    ("files", "says"),
    [
        ({"TX": ecad(), "TX2": ecad()}, "stands in two of the files"),
        ({"TX": ecad()}, "series of TN is not among the files"),
        ({"TX": ecad(), "TN": ecad("TN", station="13", rows=["13, 1, 20010101, 20, 0"])}, "different stations"),
        ({"TX": ecad(head="STAID, SOUID, DAY, {0}, Q_{0}")}, "no line 'STAID"),
        ({"TX": ecad(rows=["12, 1, 20010101, 85"])}, "damaged or cut short"),
        ({"TX": ecad(rows=["12, 1, 20011301, 85, 0"])}, "20011301"),
        ({"TX": ecad(rows=[])}, "no rows below the header"),
        ({"TX": ecad(rows=["12, 1, 20010101, 85, 0", "14, 1, 20010102, 85, 0"])}, "12 and 14"),
    ],
)
def test_ecad_files_that_are_refused(files, says, tmp_path):
    paths = []
    for name, text in files.items():
        paths.append(tmp_path / f"{name}.txt")
        paths[-1].write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=says):
        read_ecad(paths)


def test_friction_over_all_kinds_of_flow():
    """64 / Re when laminar (Hagen-Poiseuille), Blasius 1913 to Re 100 000, and no jump between."""
    assert friction_factor(0.0) == friction_factor(-1.0) == 0.0
    assert friction_factor(1000.0) == pytest.approx(0.064)
    assert friction_factor(10_000.0) == pytest.approx(0.03164)
    reynolds = np.geomspace(2001, 90_000, 200)
    factor = np.array([friction_factor(r) for r in reynolds])
    assert (np.abs(np.diff(factor)) / factor[1:] < 0.1).all()
    assert friction_factor(200_000.0) < friction_factor(99_000.0)
    assert darcy_weisbach(0.0, 10.0, 0.02) == darcy_weisbach(0.001, 0.0, 0.02) == 0.0


def test_gravity_with_every_hindrance_and_its_remedies():
    garden = bundled_garden()
    hard = replace(
        garden.water,
        height=1.0,
        timer="solenoid",
        valve="solenoid",
        filter="disc",
        emitters=replace(garden.water.emitters, kind="compensating", pressure=100.0),
    )
    feed = gravity_feed(replace(garden, water=hard))
    assert not feed.works
    first = feed.would_help[0]
    for part in ("in place of the solenoid one", "in place of the solenoid valve", "disc filter", "not pressure-comp"):
        assert part in first
    assert "pump" in feed.would_help[-1]
    told = garden_cautions(replace(garden, water=replace(hard, salinity=9.0, refill=100.0)), feed, ["a", "a"])
    assert sum("dS/m" in line for line in told) == 1
    assert any("harms most vegetables" in line for line in told)
    assert any("abstraction" in line for line in told)
    assert any(feed.why in line for line in told)
    assert told.count("a") == 1
    salty = garden_cautions(replace(garden, water=replace(hard, salinity=1.9)), None, [])
    assert any("lowers the yield" in line for line in salty) != any("harms most" in line for line in salty)


@pytest.mark.parametrize("months", ["0", "13", "x", "6-", "3-14"])
def test_a_change_in_months_that_are_none(months):
    if months == "6-":  # an open end is the month itself
        assert parse_what_if("warmer@6=2") is not None
        return
    with pytest.raises(InputError, match="names no months"):
        parse_what_if(f"warmer@{months}=2")


def test_survival_of_runs_of_nothing():
    lives, runs = survival_of_runs(np.zeros(0))
    assert np.isnan(lives)
    assert runs == 0
    lives, runs = survival_of_runs(np.array([1.0, np.nan, 1.0, 1.0]), 2)
    assert (lives, runs) == (1.0, 1)
    assert np.isnan(survival_of_runs(np.array([1.0, np.nan, 1.0]), 2)[0])
    # the same plants meet the same limit each year: the worst year of a run says how many are left, 0.6 and then 0.4
    assert survival_of_runs(np.full(9, 0.6), 7) == (1.0, 3)
    assert survival_of_runs(np.array([1.0, 1.0, 0.4, 1.0, 1.0, 1.0]), 3) == (0.25, 4)
