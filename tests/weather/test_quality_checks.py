"""The checks of a record one by one, on days of which the answer can be told beforehand."""

from __future__ import annotations

import numpy as np
import pytest

from sowcal.weather import quality
from sowcal.weather.quality import _one_column, _rain, zeros_for_missing
from sowcal.weather.quality_checks import (
    _robust,
    local_outliers,
    rain_outliers,
    repeated_days,
    rounded_years,
    runs_of,
    shifts,
    spikes,
    stuck_days,
    usual_values,
    wrong_unit_months,
)

DAYS = np.arange("2001-01-01", "2011-01-01", dtype="datetime64[D]")


def weather(seed=1, spread=2.0):
    """Ten years about a yearly wave from 5 to 25 degC."""
    of_year = (DAYS - DAYS.astype("datetime64[Y]").astype("datetime64[D]")).astype(int)
    wave = 15.0 - 10.0 * np.cos(2 * np.pi * (of_year - 15) / 365.25)
    return np.round(wave + np.random.default_rng(seed).normal(0, spread, DAYS.size), 2)


def at(date):
    return int((np.datetime64(date) - DAYS[0]).astype(int))


def test_runs():
    assert runs_of(np.array([True, True, False, True])) == [(0, 1), (3, 3)]
    assert runs_of(np.zeros(3, dtype=bool)) == []


def test_usual_values_follow_the_months_and_want_three_years():
    usual = usual_values(weather(), DAYS)
    assert usual[at("2005-01-15")] == pytest.approx(5.0, abs=0.7)
    assert usual[at("2005-07-15")] == pytest.approx(25.0, abs=0.7)
    three = np.datetime64("2004-01-01") > DAYS
    assert usual_values(weather()[three], DAYS[three]) is not None
    two = np.datetime64("2003-01-01") > DAYS
    assert usual_values(weather()[two], DAYS[two]) is None


@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_days_further_than_six_spreads_are_marked(side):
    values = weather()
    values[at("2005-04-10")] += side * 25.0
    values[at("2005-05-10")] += side * 6.0
    assert np.flatnonzero(local_outliers(values, DAYS)).tolist() == [at("2005-04-10")]


@pytest.mark.parametrize(("most", "marked"), [(90.0, False), (90.1, True)])
def test_rain_of_more_than_nine_times_the_95th_percentile(most, marked):
    rain = np.concatenate([np.full(100, 10.0), np.zeros(50), [most]])
    assert rain_outliers(rain)[-1] == marked
    assert not rain_outliers(rain)[:-1].any()
    assert not rain_outliers(np.array([1.0] * 48 + [99.0])).any()  # fewer than fifty wet days tell nothing


def test_a_day_that_stands_out_from_both_its_neighbours():
    values = weather(spread=0.5)
    for date, by in (("2005-04-10", 15.0), ("2005-05-10", -15.0), ("2005-06-10", 8.0)):
        values[at(date)] += by
    values[at("2005-08-10") :] += 12.0  # a step stands out from one neighbour only
    assert np.flatnonzero(spikes(values, DAYS)).tolist() == [at("2005-04-10"), at("2005-05-10")]
    assert not spikes(values[:59], DAYS[:59]).any()


def test_a_value_that_does_not_move():
    values = weather()
    values[at("2005-04-10") : at("2005-04-20")] = 12.3
    values[at("2005-06-10") : at("2005-06-12")] = 20.0
    assert np.flatnonzero(stuck_days(values, DAYS)).tolist() == list(range(at("2005-04-10"), at("2005-04-20")))


@pytest.mark.parametrize(("known", "stuck"), [(20, []), (19, list(range(31, 37)))])
def test_how_often_a_value_stays_is_asked_of_months_with_twenty_days(known, stuck):
    """In January half the days are as the day before: of 40 days 13 alike are no chance, 1 + ln(0.01 / 40) / ln(0.5).

    Where neither month has twenty days one in ten is taken, and five alike are none: six of February are told.
    """
    values = np.full(59, np.nan)
    values[:known] = np.arange(known) // 2
    values[31 : 31 + known] = 100.0 + np.maximum(np.arange(known), 5)
    assert np.flatnonzero(stuck_days(values, DAYS[:59])).tolist() == stuck


def test_a_week_that_stands_twice():
    low = weather()
    high = low + 5.0 + np.random.default_rng(2).uniform(0, 3, DAYS.size).round(2)
    for array in (low, high):
        array[2000:2010] = array[1000:1010]
        array[2500:2506] = array[1500:1506]  # six days are chance
    assert repeated_days(low, high) == [(2000, 2009, 1000)]
    gap = low.copy()
    gap[[1004, 2004]] = np.nan  # a week with a day that is not known is none
    assert repeated_days(gap, high) == []
    assert repeated_days(np.full(100, 5.0), np.full(100, 9.0)) == []  # stuck, not repeated
    assert repeated_days(low[:13], high[:13]) == []


@pytest.mark.parametrize("by", [-2.0, 2.0])
def test_a_station_that_moved(by):
    values = weather()
    values[at("2006-01-01") :] += by
    ((place, size),) = shifts(values, DAYS)
    assert abs(place - at("2006-01-01")) <= 31
    assert size == pytest.approx(by, abs=0.3)
    assert shifts(weather(), DAYS) == []
    assert shifts(np.full(DAYS.size, 5.0), DAYS) == []


@pytest.mark.parametrize(
    ("step", "offset", "words"), [(1.0, 0.0, "whole degC"), (0.5, 0.0, "half degC"), (5 / 9, -160 / 9, "whole degF")]
)
def test_years_that_are_rounded(step, offset, words):
    values = weather()
    some = slice(at("2003-01-01"), at("2004-01-01"))
    values[some] = np.round((values[some] - offset) / step) * step + offset
    assert rounded_years(values, DAYS) == [(2003, words)]
    values[some][:40] += 0.21  # a ninth is not
    assert rounded_years(values, DAYS) == []


def test_a_month_in_fahrenheit_and_a_record_that_is_all_of_it():
    values = weather()
    july = slice(at("2005-07-01"), at("2005-08-01"))
    values[july] = values[july] * 1.8 + 32.0
    found = wrong_unit_months(values, DAYS)
    assert np.flatnonzero(found).tolist() == list(range(july.start, july.stop))
    assert not wrong_unit_months(weather(), DAYS).any()
    hot = weather() * 1.8 + 32.0
    assert wrong_unit_months(hot, DAYS).all()
    warm = weather() + 20.0  # 35 degC in the middle is hot and no more
    assert not wrong_unit_months(warm, DAYS).any()
    few = np.full(DAYS.size, np.nan)
    few[:19] = 80.0
    assert not wrong_unit_months(few, DAYS).any()


def problems(array):
    days = np.arange("2001-01-01", np.datetime64("2001-01-01") + array.size, dtype="datetime64[D]")
    return [(p.kind, p.first, p.last, p.count) for p in _rain(array, days) if "inches" in p.done]


def test_rain_in_inches_has_hundredths_and_no_large_amounts():
    """Fifty wet days of which more than half have hundredths, none above 15; told of all the known days."""
    rng = np.random.default_rng(3)
    inches = np.concatenate([np.round(rng.gamma(1.0, 0.4, 80) + 0.011, 2), np.zeros(40), [np.nan]])
    assert problems(inches) == [("unit", "2001-01-01", "2001-05-01", 120)]
    assert problems(inches[:49]) == []
    assert problems(np.round(inches, 1)) == []
    assert problems(np.append(inches, 15.0)) == []
    half = np.array([0.11, 0.2] * 25)
    assert problems(half) == []
    assert len(problems(np.append(half, 0.13))) == 1


def test_a_minimum_is_held_against_maxima_and_a_maximum_is_not():
    """A night above all maxima of Julys, on a day of which no maximum is known, in a place of changing weather."""
    low = weather(spread=4.0)
    high = low + 8.0
    low[at("2005-07-10")], high[at("2005-07-10")] = np.nanmax(high) + 0.5, np.nan
    seen = {"tasmin": low, "tasmax": high}
    told = [(p.variable, p.kind) for p in _one_column(seen, DAYS) if "above every maximum" in p.done]
    assert told == [("tasmin", "out of range")]
    assert list(_one_column({"tasmin": np.full(DAYS.size, np.nan)}, DAYS)) == []
    out = weather()
    out[at("2005-04-10")] = 75.0
    kinds = {p.kind for p in _one_column({"tasmin": out - 8.0, "tasmax": out}, DAYS) if p.variable == "tasmax"}
    assert "out of range" in kinds


@pytest.mark.parametrize("day", ["2003-07-10", "2003-01-05"])
def test_a_zero_is_held_against_the_fortnight_either_side_of_its_day(day):
    """Ten years of 10 degC: three nights of 1 degC fourteen days off excuse a zero, fifteen days off they do not.

    From 5 January fourteen days back is 22 December of the year before. Three other days in three years are enough.
    """
    zero = at(day)
    for off, excused in ((-15, False), (-14, True), (14, True), (15, False)):
        values = np.full(DAYS.size, 10.0)
        values[zero] = 0.0
        for year in (2002, 2006, 2010):  # off the leap years, in which days count one more
            values[at(f"{year}-{day[5:]}") + off] = 1.0
        assert np.flatnonzero(zeros_for_missing(values, DAYS)).tolist() == ([] if excused else [zero])
    few = np.full(DAYS.size, np.nan)
    few[[zero, zero + 1, at(f"2005-{day[5:]}")]] = 0.0, 10.0, 10.0
    assert not zeros_for_missing(few, DAYS).any()  # two years only
    few[at(f"2006-{day[5:]}")] = 10.0
    assert np.flatnonzero(zeros_for_missing(few, DAYS)).tolist() == [zero]
    few[at(f"2006-{day[5:]}")] = 2.0  # the third lowest is 10, 10, 2 in order: 10
    assert np.flatnonzero(zeros_for_missing(few, DAYS)).tolist() == [zero]


def test_a_spike_is_nine_times_what_days_stand_out_by():
    """Days that go 0, 1, 0, 1 stand out by 1 K each: nine times 1.4826 is 13.3 K; other months have their own."""
    for height, marked in ((13.0, []), (14.0, [15])):
        values = np.resize([0.0, 1.0], 90)
        values[31:] *= 3.0
        values[15] = height
        assert np.flatnonzero(spikes(values, DAYS[:90])).tolist() == marked


def test_a_spread_is_reckoned_without_what_lies_beyond_four_of_it():
    """Of departures of 1 K either way four spreads are 4 x 1.4826 = 5.93 K."""
    kept = _robust(np.array([1.0, -1.0, 1.0, -1.0, 1.0, 5.9, -6.0, np.nan]))
    np.testing.assert_array_equal(kept, [1.0, -1.0, 1.0, -1.0, 1.0, 5.9, np.nan, np.nan])


def test_the_least_that_can_be_is_no_fault_and_what_is_less_goes_no_further(monkeypatch):
    """No rain is the most usual of days; what is told of others has the unit."""
    given = []
    monkeypatch.setattr(quality, "_rain", lambda array, days: given.append(array) or [])
    (told,) = _one_column({"pr": np.array([0.0, -0.1, 3.0])}, DAYS[:3])
    assert (told.kind, told.first, told.count) == ("out of range", "2001-01-02", 1)
    assert told.done.startswith("pr: -0.1 mm day-1, outside 0 to 2000 mm day-1;")
    np.testing.assert_array_equal(given[0], [0.0, np.nan, 3.0])
