"""Trends by season and the choice of recent years."""

from __future__ import annotations

import numpy as np
import pytest

from sowcal.errors import InputError
from sowcal.weather.csv_file import read_csv
from sowcal.weather.open_site import open_weather
from sowcal.weather.record import daily_record
from sowcal.weather.years import last_years, trends

DAYS = np.arange("1981-01-01", "2021-01-01", dtype="datetime64[D]")


def test_a_known_slope_by_season():
    years = np.arange(DAYS.size) / 365.2425
    month = DAYS.astype("datetime64[M]").astype(int) % 12 + 1
    slope = np.where(np.isin(month, (6, 7, 8)), 0.06, 0.02)  # K a year
    noise = np.random.default_rng(4).normal(0, 2.0, DAYS.size)
    dataset = daily_record(DAYS, {"tasmin": 5 + slope * years + noise, "tasmax": 15 + noise})
    got = {(t.variable, t.season): t for t in trends(dataset)}
    assert got["tasmin", "June to August"].per_decade == pytest.approx(0.6, abs=0.1)
    assert got["tasmin", "March to May"].per_decade == pytest.approx(0.2, abs=0.1)
    summer = got["tasmin", "June to August"]
    assert summer.clear
    assert summer.low < 0.6 < summer.high
    assert (summer.years, summer.first, summer.last) == (40, 1981, 2020)
    assert not got["tasmax", "all year"].clear
    assert got["tasmin", "all year"].per_decade == pytest.approx(0.3, abs=0.08)


def test_a_short_record_has_none(tmp_path):
    short = open_weather("wrackhythe", years=8)[1]
    assert trends(short) == []


def test_spain_has_warmed(reference_folder):
    """Summers of Madrid and Seville, 1981 to 2012, warmed: common knowledge (AEMET), sign only."""
    for name in ("madrid", "seville"):
        dataset = read_csv(reference_folder / "weather" / f"{name}.csv", temperature_unit="degC")
        summer = next(t for t in trends(dataset) if (t.variable, t.season) == ("tasmin", "June to August"))
        assert summer.clear
        assert summer.per_decade > 0.1


@pytest.mark.parametrize("years", [1, 10, 30])
def test_the_last_years_to_the_day(years):
    dataset = open_weather("wrackhythe")[1]
    got = last_years(dataset, years)
    assert str(got.time[0])[:10] == f"{2021 - years}-01-01"
    assert str(got.time[-1])[:10] == "2020-12-31"
    assert dataset.size == 10958  # the argument is left alone
    middle = dataset.span(None, "2015-06-14")
    assert str(last_years(middle, 2).time[0])[:10] == "2013-06-15"


@pytest.mark.parametrize("years", [0, -3, 31])
def test_years_that_are_not_there(years):
    with pytest.raises(InputError):
        last_years(open_weather("wrackhythe")[1], years)
