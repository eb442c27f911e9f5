"""Rain and zones."""

from __future__ import annotations

import numpy as np
import pytest

from sowcal.climate.heat import hardiness_zone, heat_zone, mean_over_years, mean_yearly_minimum
from sowcal.climate.rain import dry_spells, longest_dry_spell, opening_rains
from sowcal.errors import InputError

TIME = np.arange(np.datetime64("2001-01-01"), np.datetime64("2003-07-01"))


def rain_on(**amounts: float) -> np.ndarray:
    pr = np.zeros(TIME.size)
    for day, amount in amounts.items():
        pr[np.datetime64(day.strip("d").replace("_", "-")) == TIME] = amount
    return pr


def test_opening_rains_need_enough_in_a_week():
    pr = rain_on(
        d2001_08_10=50,  # before the search begins
        d2001_09_01=20,
        d2001_09_09=20,  # eight days later: not one week
        d2001_10_01=15,
        d2001_10_07=10,  # seven days, 25 mm
        d2003_01_05=30,
    )
    got = opening_rains(pr, time=TIME, latitude=36.0)
    # 7 October is day 280; in 2002 nothing until 5 January, day 370
    np.testing.assert_array_equal(got, [np.nan, 280.0, 370.0])
    never = opening_rains(rain_on(), time=TIME, latitude=36.0)
    np.testing.assert_array_equal(never, [np.nan, np.inf, np.inf])


def test_opening_rains_of_the_south_come_half_a_year_later():
    pr = rain_on(d2001_04_25=30, d2002_02_14=40, d2002_05_10=25)
    got = opening_rains(pr, time=TIME, latitude=-32.0)
    # 25 April is day 115; 14 February 2002 lies before the search; 10 May is day 130
    np.testing.assert_array_equal(got, [115.0, 130.0, np.nan])


def test_dry_spells():
    pr = np.full(TIME.size, 2.0)
    pr[10:30] = 0.5
    pr[40:50] = 0.0
    here = {"time": TIME, "latitude": 36.0}
    assert longest_dry_spell(pr, **here)[:2].tolist() == [20.0, 0.0]
    assert dry_spells(pr, least_days=10, **here)[:2].tolist() == [2.0, 0.0]
    assert dry_spells(pr, least_days=14, **here)[:2].tolist() == [1.0, 0.0]
    with pytest.raises(InputError, match="least_days"):
        dry_spells(pr, least_days=0, **here)
    with pytest.raises(InputError, match="amount must be"):
        opening_rains(pr, amount=0.0, **here)


def test_hardiness_zones_as_published(published):
    """USDA-ARS Plant Hardiness Zone Map 2012/2023: thirteen zones from -60 degF on, each in halves of 5 degF."""
    table = published("zones_usda.csv")
    assert len(table) == 16
    least = table["least_degF"].to_numpy(float)
    assert hardiness_zone((least + 2.5 - 32.0) / 1.8).tolist() == table["zone"].tolist()
    assert hardiness_zone((least - 32.0) / 1.8).tolist() == table["zone"].tolist()
    whole = least[table["zone"].str.endswith("a")]
    halves = [zone.replace("a", "b") for zone in table["zone"] if zone.endswith("a")]
    assert hardiness_zone((whole + 5.0 - 32.0) / 1.8).tolist() == halves


def test_heat_zones_as_published(published):
    """American Horticultural Society 1997: twelve zones by days above 30 degC."""
    most = published("zones_ahs.csv")["most_days_above_30_degC"].to_numpy(float)
    np.testing.assert_array_equal(heat_zone(most[1:-1]), np.arange(2, 12))
    np.testing.assert_array_equal(heat_zone([0.0, 0.99, 1.0, 210.5]), [1, 1, 2, 12])
    assert np.isnan(heat_zone(np.nan))


def test_mean_yearly_minimum_counts_each_cold_night_once(tunis):
    got = mean_yearly_minimum(tunis.tasmin, time=tunis.time, latitude=tunis.latitude)
    first = tunis.time.astype("datetime64[M]").astype(int)  # the record ends in May 2002: no whole cold year
    lows = [
        tunis.tasmin[(first >= 12 * (y - 1970) + 6) & (first < 12 * (y - 1970) + 18)].min() for y in range(1979, 2001)
    ]
    assert got == pytest.approx(np.mean(lows))
    assert hardiness_zone(got) == "10a"


def test_too_few_years_give_no_zone():
    assert np.isnan(mean_over_years(np.ones(9)))
    assert mean_over_years(np.r_[np.ones(10), np.nan]) == 1.0
    assert hardiness_zone(np.array([np.nan])).tolist() == [""]
