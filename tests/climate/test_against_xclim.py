"""Indices that xclim has too, on Seattle and Tunis (its import is slow, so these stand together)."""

from __future__ import annotations

import warnings
from types import SimpleNamespace

import numpy as np
import pytest

from sowcal.climate.chill import chilling_hours, hourly_chill_units
from sowcal.climate.degree_days import growing_degree_days
from sowcal.climate.dynamic_model import dynamic_portions
from sowcal.climate.frost import frost_days, last_spring_frost
from sowcal.climate.growing_years import by_growing_year, by_month
from sowcal.climate.heat import hot_days, longest_warm_spell, tropical_nights
from sowcal.climate.hourly import hourly_temperature
from sowcal.climate.rain import longest_dry_spell


@pytest.fixture(scope="module")
def indices():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return pytest.importorskip("xclim.indices")


@pytest.fixture(scope="module", params=["seattle", "tunis"])
def record(request, labelled):
    """A record as plain arrays and as labelled ones."""
    full = request.getfixturevalue(request.param)
    # whole calendar years only: xclim's functions count what there is of a broken one
    n = int(np.searchsorted(full.time, np.datetime64("2002-01-01" if request.param == "tunis" else "2016-01-01")))
    daily = {name: getattr(full, name)[:n] for name in ("time", "tasmin", "tasmax", "pr")}
    plain = SimpleNamespace(latitude=full.latitude, **daily)
    units = {"tasmin": "degC", "tasmax": "degC", "pr": "mm/day"}
    arrays = {n: labelled(getattr(plain, n), plain.time, plain.latitude, u) for n, u in units.items()}
    return plain, arrays


def test_yearly_counts(indices, record):
    plain, x = record
    here = {"time": plain.time, "latitude": plain.latitude}
    same = np.testing.assert_array_equal
    same(frost_days(plain.tasmin, **here), indices.frost_days(x["tasmin"]))
    same(hot_days(plain.tasmax, **here), indices.tx_days_above(x["tasmax"], "30 degC"))
    same(tropical_nights(plain.tasmin, **here), indices.tn_days_above(x["tasmin"], "20 degC"))
    same(longest_warm_spell(plain.tasmax, **here), indices.hot_spell_max_length(x["tasmax"], "30 degC"))
    same(longest_dry_spell(plain.pr, **here), indices.maximum_consecutive_dry_days(x["pr"], "1 mm/day"))
    months = hot_days(plain.tasmax, by="month", time=plain.time).ravel()
    same(months, indices.tx_days_above(x["tasmax"], "30 degC", freq="MS"))


def test_degree_days(indices, record):
    """xclim's are of the daily mean above a base: the simple average."""
    plain, x = record
    mean = (0.5 * (x["tasmin"] + x["tasmax"])).assign_attrs(units="degC")
    daily = growing_degree_days(plain.tasmin, plain.tasmax, base_temperature=10.0, method="average_mean")
    years = by_growing_year(daily, time=plain.time, latitude=plain.latitude)
    np.testing.assert_allclose(years, indices.growing_degree_days(mean, "10 degC"), rtol=1e-9)
    months = by_month(lambda v, _: v.sum(axis=-1), [daily], attrs={}, time=plain.time)
    np.testing.assert_allclose(months.ravel(), indices.growing_degree_days(mean, "10 degC", freq="MS"))


def test_last_spring_frost(indices, record):
    """xclim counts real days of the year: one more after February of a leap year; it gives NaN for never."""
    plain, x = record
    threshold = 0.0 if plain.latitude > 40 else 4.0
    got = last_spring_frost(plain.tasmin, threshold=threshold, time=plain.time, latitude=plain.latitude)
    theirs = indices.last_spring_frost(x["tasmin"], f"{threshold} degC")
    leap = theirs.time.dt.is_leap_year.values & (theirs.values > 59)
    expected = theirs.values - leap
    np.testing.assert_array_equal(np.where(np.isinf(got), np.nan, got), expected)
    assert np.isfinite(got).sum() >= 3


def test_chill_of_the_same_hours(indices, record, labelled):
    """Utah units and dynamic portions of one and the same hourly series of one calendar year."""
    plain, _ = record
    days = (plain.time - plain.time.astype("datetime64[Y]").astype("datetime64[D]")).astype(float) + 1
    one = slice(0, 366 if plain.latitude > 40 else 365)  # 2012 and 1979
    hours = hourly_temperature(plain.tasmin[one], plain.tasmax[one], plain.latitude, days[one]).ravel()
    stamps = plain.time[0].astype("datetime64[h]") + np.arange(hours.size)
    series = labelled(hours, stamps)
    # xclim's last limit but one is 17.9 degC where Richardson's is 18.0
    clear = (hours <= 17.9) | (hours > 18.0)
    units = float(indices.chill_units(series.where(clear))[0])
    assert hourly_chill_units(hours[clear]).sum() == pytest.approx(units)
    # xclim adds 273.15 where the model is defined with 273, and leaves the first hour out
    theirs = indices.chill_portions((series - 0.15).assign_attrs(units="degC"))
    assert float(dynamic_portions(hours[1:])) == pytest.approx(float(theirs[0]), abs=1e-3)


def test_hours_of_the_day(indices, record):
    """xclim's hours after Linvill 1990 begin at sunrise, so only sums can agree: within 3 per cent."""
    from xclim.indices.helpers import make_hourly_temperature

    plain, x = record
    one = slice(0, 730)
    low, high = (x[n][one].rename(n) for n in ("tasmin", "tasmax"))
    theirs = make_hourly_temperature(low, high).values
    days = chilling_hours(plain.tasmin[one], plain.tasmax[one], by="day", time=plain.time[one], latitude=plain.latitude)
    assert days[:-1].sum() == pytest.approx((theirs[:-24] < 7.2).sum(), rel=0.03)
