"""Longer gaps from a second station."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from records_alike import unlocked
from scipy import stats

from sowcal.errors import InputError
from sowcal.weather.csv_file import read_csv
from sowcal.weather.filling import fill_from_station, fill_short_gaps, month_fits
from sowcal.weather.open_site import open_weather
from sowcal.weather.record import FILLED, MISSING, daily_record

DAYS = np.arange("2001-01-01", "2011-01-01", dtype="datetime64[D]")


def two(error=1.0, seed=1):
    """A station and its neighbour: 2 K colder, departures 0.8 as large, and some noise."""
    rng = np.random.default_rng(seed)
    season = 10 - 6 * np.cos(2 * np.pi * np.arange(DAYS.size) / 365.25)
    weather = rng.normal(0, 3, DAYS.size)
    there = {"tasmin": season + weather, "tasmax": season + weather + 9}
    here = {k: 0.8 * v - 2 + rng.normal(0, error, DAYS.size) for k, v in there.items()}
    here["tasmax"] = here["tasmin"] + 7 + rng.normal(0, 0.3, DAYS.size)
    return unlocked(daily_record(DAYS, here, title="here")), unlocked(daily_record(DAYS, there, source="station there"))


def test_the_fits_are_those_of_scipy():
    here, there = two()
    month = DAYS.astype("datetime64[M]").astype(int) % 12 + 1
    fits = month_fits(here["tasmin"], there["tasmin"], month)
    for m in (1, 7):
        wanted = stats.linregress(there["tasmin"][month == m], here["tasmin"][month == m])
        assert fits[m - 1].slope == pytest.approx(wanted.slope)
        assert fits[m - 1].intercept == pytest.approx(wanted.intercept)
        assert fits[m - 1].correlation == pytest.approx(wanted.rvalue)
        assert fits[m - 1].error == pytest.approx(1.0, abs=0.15)


def test_a_month_out_of_a_record():
    here, there = two()
    truth = here["tasmin"].copy()
    gap = slice(1000, 1045)
    here["tasmin"][gap], here.origin["tasmin"][gap] = np.nan, MISSING
    got = fill_from_station(here, there)
    assert (got.origin["tasmin"][gap] == FILLED).all()
    assert np.sqrt(np.mean((got["tasmin"][gap] - truth[gap]) ** 2)) < 1.4
    assert "tasmin 45 days, error 1.0 K" in got.history
    assert "station there" in got.history
    untouched = np.ones(DAYS.size, dtype=bool)
    untouched[gap] = False
    np.testing.assert_array_equal(got["tasmin"][untouched], truth[untouched])
    assert np.isnan(here["tasmin"][gap]).all()  # the argument is left alone


def test_what_has_too_little_in_common_stays_missing():
    here, there = two(error=9.0)
    here["tasmin"][1000:1045], here.origin["tasmin"][1000:1045] = np.nan, MISSING
    got = fill_from_station(here, there)
    assert np.isnan(got["tasmin"][1000:1045]).all()
    assert (got.origin["tasmin"][1000:1045] == MISSING).all()


def test_days_that_the_second_lacks_or_filled_itself_stay_missing():
    here, there = two()
    here["tasmin"][1000:1045], here.origin["tasmin"][1000:1045] = np.nan, MISSING
    there["tasmin"][1003] = np.nan
    there.origin["tasmin"][1007] = FILLED
    got = fill_from_station(here, there)
    assert np.flatnonzero(np.isnan(got["tasmin"])).tolist() == [1003, 1007]


def test_a_month_that_the_two_hardly_share_is_left_missing():
    """The second record lacks every July but two days, and was stuck at one value every August."""
    here, there = two()
    month = DAYS.astype("datetime64[M]").astype(int) % 12 + 1
    july, august = np.flatnonzero(month == 7), np.flatnonzero(month == 8)
    there["tasmin"][july[2:]] = np.nan
    there["tasmin"][august] = 12.0
    fits = month_fits(here["tasmin"], there["tasmin"], month)
    assert [f.usable for f in fits] == [m not in (7, 8) for m in range(1, 13)]
    assert (fits[6].days, fits[7].days) == (2, august.size)
    gap = np.concatenate([july[:2], august[:3], [0]])
    here["tasmin"][gap], here.origin["tasmin"][gap] = np.nan, MISSING
    got = fill_from_station(here, there)
    assert np.flatnonzero(np.isnan(got["tasmin"])).tolist() == [*july[:2], *august[:3]]


def test_mean_temperatures_are_filled_too():
    here, there = (
        unlocked(one.with_values({"tas": 0.5 * (one["tasmin"] + one["tasmax"])}, {"tas": one.origin["tasmin"]}))
        for one in two()
    )
    here["tas"][1000:1045], here.origin["tas"][1000:1045] = np.nan, MISSING
    got = fill_from_station(here, there)
    assert np.isfinite(got["tas"]).all()
    assert (got.origin["tas"][1000:1045] == FILLED).all()
    assert "tas 45 days" in got.history


def test_records_of_other_times_are_refused():
    here, there = two()
    later = replace(there, time=there.time + np.timedelta64(9000, "D"))
    with pytest.raises(InputError, match="shares no day"):
        fill_from_station(here, later)


def test_seville_from_cordoba(reference_folder):
    """Two real stations 120 km apart: the error told is the error made."""
    folder = reference_folder / "weather"
    cordoba = unlocked(read_csv(folder / "cordoba_es.csv", temperature_unit="degC"))
    seville = read_csv(folder / "seville.csv", temperature_unit="degC")
    truth = cordoba["tasmax"].copy()
    known = np.flatnonzero(np.isfinite(truth))
    gap = known[(known > 6000) & (known < 6090)]
    cordoba["tasmax"][gap], cordoba.origin["tasmax"][gap] = np.nan, MISSING
    got = fill_from_station(cordoba, seville)
    left = got["tasmax"][gap] - truth[gap]
    assert np.nanstd(left) < 2.0
    assert abs(np.nanmean(left)) < 1.0


def test_the_site_file_names_the_second_record(tmp_path):
    here, there = two()
    gap = slice(1000, 1045)
    here["tasmin"][gap] = np.nan

    def table(dataset, path):
        rows = [
            f"{d},{'' if np.isnan(a) else f'{a:.2f}'},{b:.2f}"
            for d, a, b in zip(DAYS, dataset["tasmin"], dataset["tasmax"], strict=True)
        ]
        path.write_text("date,tmin_degC,tmax_degC\n" + "\n".join(rows) + "\n")

    table(here, tmp_path / "here.csv")
    table(there, tmp_path / "there.csv")
    head = "latitude = 40.0\n[weather]\nsource = 'file'\n"
    (tmp_path / "there.toml").write_text(f"name = 'there'\n{head}file = 'there.csv'\n")
    (tmp_path / "a.toml").write_text(f"name = 'a'\n{head}file = 'here.csv'\nfill_from = 'there.toml'\n")
    _, got = open_weather(tmp_path / "a.toml")
    assert (got.origin["tasmin"][gap] == FILLED).all()
    assert "monthly regression on" in got.history
    _, bare = open_weather(tmp_path / "a.toml", longest_gap=0)
    assert np.isnan(bare["tasmin"][gap]).all()
    short = fill_short_gaps(bare)
    assert np.isnan(short["tasmin"][gap]).all()
    (tmp_path / "b.toml").write_text(f"name = 'b'\n{head}file = 'here.csv'\nfill_from = 'none.toml'\n")
    with pytest.raises(InputError, match="no site file"):
        open_weather(tmp_path / "b.toml")
    (tmp_path / "c.toml").write_text(f"name = 'c'\n{head}file = 'here.csv'\nfill_from = 'c.toml'\n")
    with pytest.raises(InputError, match="itself"):
        open_weather(tmp_path / "c.toml")
