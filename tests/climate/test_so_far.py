"""A growing year beside those before it, on made-up days whose sums can be told beforehand, north and south."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from sowcal.climate.so_far import RunningSum, SoFar, growing_year, so_far_of
from sowcal.weather.record import daily_record


def record(latitude=40.0, begin="2001-01-01", end="2008-12-31", extra=0.0, rain=True, missing=()):
    """Days of 10 to 20 degC, half a degree warmer in each year than in the one before, with 2 mm of rain each."""
    days = np.arange(begin, np.datetime64(end) + 1, dtype="datetime64[D]")
    year = days.astype("datetime64[Y]").astype(int) + 1970
    month = days.astype("datetime64[M]").astype(int) % 12 + 1
    label = year - (month < 7) if latitude < 0 else year
    low = np.full(days.size, 10.0) + (label == label.max()) * extra + 0.5 * (label - label.min())
    low[np.isin(days, np.array(missing, dtype="datetime64[D]"))] = np.nan
    values = {"tasmin": low, "tasmax": low + 10.0}
    if rain:
        values["pr"] = np.full(days.size, 2.0)
    return daily_record(days, values, latitude=latitude)


def of(found, name):
    return next(s for s in found.sums if s.name == name)


@pytest.mark.parametrize(
    ("latitude", "begin", "end", "day", "first"),
    [
        (40.0, "2001-01-01", "2008-12-31", dt.date(2008, 4, 10), dt.date(2008, 1, 1)),
        (-40.0, "2001-07-01", "2009-06-30", dt.date(2008, 10, 8), dt.date(2008, 7, 1)),
        (-40.0, "2001-07-01", "2009-06-30", dt.date(2009, 1, 8), dt.date(2008, 7, 1)),
    ],
)
def test_a_hundred_days_of_rain_and_warmth(latitude, begin, end, day, first):
    found = so_far_of(record(latitude, begin, end), day)
    count = (day - first).days + 1 - (latitude > 0)  # 29 February counts as the 28th
    assert (found.first, found.last) == (first, day)
    assert [s.name for s in found.sums] == ["warmth", "frost", "rain"]
    rain = of(found, "rain")
    assert rain.day == count - 1
    assert rain.own[count - 1] == pytest.approx(2.0 * (day - first).days + 2.0)
    assert np.isnan(rain.own[count:]).all()
    assert rain.years.shape == (7, 365)
    assert rain.years[0, -1] in (730.0, 732.0)
    warmth = of(found, "warmth")
    assert (np.diff(warmth.years[:, 0]) > 0).all()  # each year half a degree warmer than the last
    assert warmth.own[0] > warmth.years[-1, 0]
    assert of(found, "frost").own[count - 1] == 0.0
    assert {s.unit for s in found.sums} == {"degC d", "nights", "mm"}


def test_days_after_the_day_are_not_looked_at_and_five_years_are_wanted():
    whole = record()
    assert so_far_of(whole, dt.date(2006, 3, 1)).sums[0].years.shape[0] == 5
    assert so_far_of(whole, dt.date(2005, 3, 1)) is None
    assert so_far_of(whole, dt.date(2000, 3, 1)) is None
    assert so_far_of(whole, dt.date(2009, 3, 1)) is None  # no day of it is known
    late = so_far_of(whole, dt.date(2008, 12, 31))
    assert late.sums[0].day == 364


def test_a_record_without_rain_tells_none():
    found = so_far_of(record(rain=False), dt.date(2008, 4, 10))
    assert "rain" not in [s.name for s in found.sums if np.isfinite(s.own).any() and s.own[s.day] > 0]


def test_missing_days_of_this_year_take_the_mean_of_the_others():
    plain = so_far_of(record(), dt.date(2008, 4, 10))
    holes = so_far_of(record(missing=("2008-02-01", "2008-02-02")), dt.date(2008, 4, 10))
    warmth = of(holes, "warmth")
    assert (warmth.filled, of(plain, "warmth").filled) == (2, 0)
    usual = np.diff(of(plain, "warmth").years, axis=1)[:, 30:32].mean(axis=0).sum()
    own = np.diff(of(plain, "warmth").own)[30:32].sum()
    lost = of(plain, "warmth").own[99] - warmth.own[99]
    assert lost == pytest.approx(own - usual)
    # the day of which nothing is known is none to end with
    ends = so_far_of(record(missing=("2008-04-10",)), dt.date(2008, 4, 10))
    assert ends.last == dt.date(2008, 4, 9)


def test_growing_years_of_both_hemispheres():
    assert growing_year(2026, 40.0) == (dt.date(2026, 1, 1), dt.date(2026, 12, 31))
    assert growing_year(2026, 0.0) == (dt.date(2026, 1, 1), dt.date(2026, 12, 31))
    assert growing_year(2026, -0.1) == (dt.date(2026, 7, 1), dt.date(2027, 6, 30))


def sums(own, years):
    days = np.arange(1.0, 366.0)
    mine = np.where(np.arange(365) < 100, own * days, np.nan)
    return RunningSum("warmth", "degC d", mine, np.array(years)[:, None] * days, 0)


@pytest.mark.parametrize(("own", "ahead"), [(4.0, 0), (4.4, 10), (3.6, -10), (14.6, 265), (14.61, None), (0.0, None)])
def test_days_ahead_of_the_middle_year(own, ahead):
    """The middle year gathers four a day: 440 by the hundredth day are those of its 110th."""
    found = SoFar(dt.date(2026, 1, 1), dt.date(2026, 4, 10), (sums(own, [2.0, 3.0, 4.0, 5.0, 6.0]),))
    assert found.days_ahead == ahead


def test_at_day_by_plotting_position():
    """Of nine years a tenth lies at the first and nine tenths at the ninth (Weibull's i / (n + 1))."""
    found = sums(4.0, np.arange(1.0, 10.0))
    assert found.day == 99
    assert found.at_day == pytest.approx((400.0, 100.0, 500.0, 900.0))
    assert found.quantiles.shape == (3, 365)


def test_nights_of_frost_are_those_below_freezing():
    days = np.arange("2001-01-01", "2009-01-01", dtype="datetime64[D]")
    low = np.full(days.size, 5.0)
    january = (days.astype("datetime64[M]").astype(int) % 12 == 0) & (days.astype("datetime64[Y]").astype(int) < 38)
    low[january] = 0.0  # at freezing is no frost
    low[np.isin(days, np.array(["2008-01-05", "2008-02-29", "2008-03-01"], dtype="datetime64[D]"))] = -0.1
    found = so_far_of(daily_record(days, {"tasmin": low, "tasmax": low + 10.0}, latitude=40.0), dt.date(2008, 4, 1))
    frost = of(found, "frost")
    assert frost.own[[3, 4, 57, 58, 59, 90]].tolist() == [0, 1, 1, 2, 3, 3]  # 29 February is told with the 28th
    assert frost.years.max() == 0.0


def test_earlier_years_are_those_of_which_no_more_than_a_twentieth_is_missing():
    """Of 2003 eighteen days of 365 are missing, for which the mean of the others stands, of 2004 nineteen."""
    gaps = {2003: 18, 2004: 19}
    missing = [str(np.datetime64(f"{year}-05-01") + k) for year, days in gaps.items() for k in range(days)]
    whole, holes = so_far_of(record(), dt.date(2008, 4, 10)), so_far_of(record(missing=missing), dt.date(2008, 4, 10))
    assert of(whole, "warmth").years.shape[0] == 7
    assert of(holes, "warmth").years.shape[0] == 6
    kept = np.delete(of(whole, "warmth").years, 3, axis=0)  # without 2004
    daily = np.diff(kept, axis=1, prepend=0.0)
    usual = np.delete(daily, 2, axis=0)[:, 120:138].mean(axis=0)
    daily[2, 120:138] = usual
    np.testing.assert_allclose(of(holes, "warmth").years, np.cumsum(daily, axis=1))
    assert of(holes, "warmth").filled == 0
    assert of(holes, "rain").years.shape[0] == 7  # of rain nothing is missing
    many = [str(np.datetime64(f"{year}-05-01") + k) for year in (2003, 2004, 2005) for k in range(19)]
    assert so_far_of(record(missing=many), dt.date(2008, 4, 10)) is None  # four years are too few


def test_a_year_whose_record_begins_late_in_it_is_not_compared_and_one_that_has_not_begun_is_none():
    late = so_far_of(record(begin="2001-02-01"), dt.date(2008, 4, 10))
    assert of(late, "warmth").years.shape[0] == 6
    assert so_far_of(record(end="2007-12-31"), dt.date(2008, 4, 10)) is None
    south = so_far_of(record(-40.0, "2001-07-01", "2009-06-30"), dt.date(2008, 7, 1))
    assert (south.first, south.last, of(south, "rain").own[0]) == (dt.date(2008, 7, 1), dt.date(2008, 7, 1), 2.0)
    before = so_far_of(record(-40.0, "2001-07-01", "2009-06-30"), dt.date(2008, 6, 30))
    assert (before.first, of(before, "rain").day) == (dt.date(2007, 7, 1), 364)


def test_a_day_that_no_year_knows_adds_nothing():
    missing = [f"{year}-02-01" for year in range(2001, 2009)]
    warmth = of(so_far_of(record(missing=missing), dt.date(2008, 4, 10)), "warmth")
    assert np.diff(warmth.own)[30] == 0.0
    assert (np.diff(warmth.years, axis=1)[:, 30] == 0.0).all()
    assert (np.diff(warmth.years, axis=1)[:, [29, 31]] > 0.0).all()
    assert warmth.filled == 1


@pytest.mark.parametrize("lacking", ["2004-02-28", "2004-02-29"])
def test_of_the_28th_and_the_29th_of_february_both_must_be_known(lacking):
    plain, holes = (so_far_of(record(missing=m), dt.date(2008, 4, 10)) for m in ((), (lacking,)))
    before, after = (np.diff(of(x, "warmth").years, axis=1)[:, 57] for x in (plain, holes))
    usual = np.delete(before, 3).mean()
    np.testing.assert_allclose(after, np.where(np.arange(7) == 3, usual, before))
    assert before[3] > 1.5 * usual  # of two days
