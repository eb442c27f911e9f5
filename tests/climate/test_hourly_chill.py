"""Chill from measured hours: by hand, by the model run straight through, and against the rebuilt hours' own sums."""

from __future__ import annotations

import numpy as np
import pytest

from sowcal.climate.chill import (
    HOURLY_MODELS,
    chill_portions,
    chill_units,
    chilling_hours,
    daily_chill_of_hours,
    season_chill_of_hours,
)
from sowcal.climate.dynamic_model import dynamic_portions
from sowcal.climate.hourly import hourly_temperature

DAYS = np.arange("2001-01-01", "2005-01-01", dtype="datetime64[D]")
OF_YEAR = (DAYS - DAYS.astype("datetime64[Y]").astype("datetime64[D]")).astype(int) + 1


def record(south):
    angle = 2 * np.pi * (OF_YEAR - (200 if south else 20)) / 365.25
    rng = np.random.default_rng(4)
    low = 6.0 - 7.0 * np.cos(angle) + rng.normal(0, 2.5, DAYS.size)
    return low, low + 9.0 + rng.uniform(0, 4, DAYS.size)


@pytest.mark.parametrize("latitude", [38.0, -38.0])
def test_rebuilt_hours_given_as_measured_make_the_same_chill(latitude):
    low, high = record(latitude < 0)
    hours = hourly_temperature(low, high, latitude, OF_YEAR)
    known = {
        "hours below 7.2": lambda *a, **k: chilling_hours(*a, form="below_7.2", **k),
        "hours 0 to 7.2": lambda *a, **k: chilling_hours(*a, form="0_to_7.2", **k),
        "Utah units": chill_units,
        "portions": chill_portions,
    }
    assert set(known) == set(HOURLY_MODELS)
    for model, rebuilt in known.items():
        years, got = season_chill_of_hours(hours, model=model, time=DAYS, latitude=latitude)
        np.testing.assert_allclose(got, rebuilt(low, high, time=DAYS, latitude=latitude), err_msg=model)
        assert np.isfinite(got).sum() >= 3
        assert years.size == got.size


def test_counts_by_hand():
    """Weights of Richardson, Seeley & Walker (1974) and the two forms of hours, for four days of known hours."""
    hours = np.array([[7.1] * 24, [7.2] * 24, [-1.0] * 12 + [10.0] * 12, [20.0] * 23 + [np.nan]])
    days = np.arange("2001-12-01", "2001-12-05", dtype="datetime64[D]")
    got = {m: daily_chill_of_hours(hours, model=m, time=days, latitude=40.0) for m in HOURLY_MODELS}
    np.testing.assert_array_equal(got["hours below 7.2"], [24, 0, 12, np.nan])
    np.testing.assert_array_equal(got["hours 0 to 7.2"], [24, 24, 0, np.nan])
    np.testing.assert_array_equal(got["Utah units"], [24, 24, 6, np.nan])


def test_portions_are_the_model_run_through_the_season():
    """Fishman et al. (1987): all hours from 1 September to 31 March in one run, as `dynamic_portions` has them."""
    rng = np.random.default_rng(1)
    angle = 2 * np.pi * (OF_YEAR - 20) / 365.25
    hours = (9.0 - 6.0 * np.cos(angle))[:, None] + rng.normal(0, 5, (DAYS.size, 24))
    years, got = season_chill_of_hours(hours, model="portions", time=DAYS, latitude=40.0)
    for year in (2002, 2003, 2004):
        season = (np.datetime64(f"{year - 1}-09-01") <= DAYS) & (np.datetime64(f"{year}-04-01") > DAYS)
        wanted = dynamic_portions(hours[season].reshape(-1))
        assert float(got[years == year][0]) == pytest.approx(float(wanted), rel=1e-9)
    assert np.isnan(got[years == 2001]).all()  # begins in January


def test_a_season_with_lost_days_is_not_told():
    low, high = record(False)
    hours = np.asarray(hourly_temperature(low, high, 38.0, OF_YEAR))
    lost = (np.datetime64("2002-12-01") <= DAYS) & (np.datetime64("2002-12-20") > DAYS)
    hours[lost, 5] = np.nan
    years, got = season_chill_of_hours(hours, model="hours below 7.2", time=DAYS, latitude=38.0)
    assert np.isnan(got[years == 2003]).all()
    assert np.isfinite(got[years == 2002]).all()
