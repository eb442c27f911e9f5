"""The checks of a record one by one, on days of which the answer can be told beforehand."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from sowcal.weather import quality
from sowcal.weather.quality import _one_column, _rain, zeros_for_missing
from sowcal.weather.quality_checks import (
    _robust,
    _rolling_mean,
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
from sowcal.weather.record import daily_record

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


def alone(off):
    """A day of +8 K in 2005, and in two other years the same `off` days from its date; usual is nothing."""
    values = np.zeros(DAYS.size)
    days = [at("2005-07-15"), *(at(f"{year}-07-15") + off for year in (2002, 2007))]
    values[days] = 8.0
    mark = np.zeros(DAYS.size, dtype=bool)
    mark[days[0]] = True
    return quality.without_precedent(mark, values, np.zeros(DAYS.size), np.full(DAYS.size, 10.0), DAYS).any()


@pytest.mark.parametrize("side", [-1, 1])
def test_precedent_is_of_the_same_season_forty_five_days_either_way(side):
    assert not alone(45 * side)
    assert alone(46 * side)


def test_a_day_of_the_middle_range_asks_for_no_range_of_the_others():
    """Only what widens the day is held against ranges: three quarters of 10 K are 7.5, and the others have 5."""
    days = np.array([f"{year}-07-15" for year in range(2001, 2006)], dtype="datetime64[D]")
    departures, ranges = np.array([8.0, 6.0, 6.0, 0.0, 0.0]), np.array([10.0, 5.0, 5.0, 10.0, 10.0])
    mark = np.arange(5) == 0
    assert not quality.without_precedent(mark, departures, np.zeros(5), ranges, days).any()
    ranges[0] = 10.1
    assert quality.without_precedent(mark, departures, np.zeros(5), ranges, days)[0]


def nights_and_days(years=4):
    """Nights of 10 and days of 20 degC all the time."""
    days = DAYS[np.datetime64(f"{2001 + years}-01-01") > DAYS]
    return np.full(days.size, 10.0), np.full(days.size, 20.0), days


def test_a_night_as_warm_as_the_warmest_day_of_its_month_may_be():
    """Above it, it may not; nor is it told where maxima of that month are known in two years only."""
    low, high, days = nights_and_days()
    low[at("2002-07-10")] = 20.0
    assert not quality.above_every_maximum(low, high, days).any()
    low[at("2002-07-10")] = 20.1
    assert np.flatnonzero(quality.above_every_maximum(low, high, days)).tolist() == [at("2002-07-10")]
    low[at("2002-12-31")] = 20.1  # the last of the months too
    assert quality.above_every_maximum(low, high, days).sum() == 2
    july = days.astype("datetime64[M]").astype(int) % 12 == 6
    high[july & (days >= np.datetime64("2003-01-01"))] = np.nan
    assert np.flatnonzero(quality.above_every_maximum(low, high, days)).tolist() == [at("2002-12-31")]


def report(days, **values):
    return quality.quality_report(daily_record(days, values, latitude=40.0))


def test_coverage_is_told_to_a_tenth_and_by_whole_years():
    days = np.arange("2001-12-30", "2002-01-02", dtype="datetime64[D]")
    told = report(days, tasmin=[1.0, np.nan, 3.0], tasmax=[9.0, 9.0, 9.0])
    assert told.coverage_percent == 66.7
    assert [str(year) for year, _ in told.coverage_by_month] == ["2001", "2002"]
    many = np.arange("2001-01-01", "2007-01-01", dtype="datetime64[D]")
    low = np.sin(np.arange(many.size))
    low[700] = np.nan
    assert report(many, tasmin=low, tasmax=low + 9.0).coverage_percent == 99.9  # never a full hundred


@pytest.mark.parametrize("first", ["2001-03-01", "1951-03-01"])
@pytest.mark.parametrize(("known", "told"), [(9, False), (10, True)])
def test_means_outside_night_and_day_are_told_of_months_with_ten_days(first, known, told):
    """Of April, of whatever year; of it eight days in ten are enough, and half a degree outside is none."""
    days = np.arange(first, np.datetime64(first) + 61, dtype="datetime64[D]")
    low, high = 5.0 + np.arange(61) % 3, 15.0 + np.arange(61) % 4
    for off, inside in ((0.6, 2), (0.6, 3), (0.5, 0)):
        mean = 0.5 * (low + high)
        april = slice(31, 31 + known)
        mean[april] = low[april] - off
        mean[31 : 31 + inside] = low[31 : 31 + inside]
        mean[31 + known :] = np.nan
        found = [p for p in report(days, tasmin=low, tasmax=high, tas=mean).problems if p.kind == "swapped"]
        here = told and off > 0.5 and inside <= 2
        assert [(p.first, p.count) for p in found] == ([(str(days[31]), 30)] if here else [])


def test_a_trace_of_rain_may_come_day_after_day():
    """Drizzle and dew of 0.3 mm are no gauge that is stuck; 0.4 mm ten days on end are."""
    rain = np.where(np.arange(DAYS.size) % 4 == 0, 1.0 + np.arange(DAYS.size) % 37, 0.0)
    for amount, stuck in ((0.3, []), (0.4, [("2005-04-10", 10)])):
        rain[at("2005-04-10") : at("2005-04-20")] = amount
        assert [(p.first, p.count) for p in _rain(rain, DAYS) if p.kind == "stuck"] == stuck


@pytest.mark.parametrize(("each", "known"), [(20, True), (19, False)])
def test_what_is_usual_is_told_from_sixty_days_of_each_month(each, known):
    """Twenty days of each month in three years."""
    three = DAYS[np.datetime64("2004-01-01") > DAYS]
    of_month = (three - three.astype("datetime64[M]").astype("datetime64[D]")).astype(int)
    values = np.where(of_month < 20, 10.0, np.nan)
    march = three.astype("datetime64[M]").astype(int) % 12 == 2
    values[march & (of_month >= each) & (three < np.datetime64("2002-01-01"))] = np.nan
    assert (usual_values(values, three) is not None) == known


def test_days_that_are_as_usual_count_into_the_spread_of_either_side():
    """Of 31 days 19 usual, 6 warmer and 6 colder by 2 K: the middle of what is not below is 0, and 1 K the least
    spread, of which six are allowed, and no hair more."""
    month = (DAYS - DAYS.astype("datetime64[M]").astype("datetime64[D]")).astype(int)
    values = np.where(month < 6, 2.0, np.where(month < 12, -2.0, 0.0))
    for far, marked in ((6.0, False), (6.1, True)):
        for side in (1.0, -1.0):
            odd = values.copy()
            odd[at("2005-04-20")] = side * far
            assert np.flatnonzero(local_outliers(odd, DAYS)).tolist() == ([at("2005-04-20")] if marked else [])


@pytest.mark.parametrize(("bumps", "marked"), [(9, True), (8, False)])
def test_ten_days_that_stand_out_tell_how_far_days_do(bumps, marked):
    """Days of 1 K between others of 0, and one of 30 K: nine of them and that day are ten."""
    values = np.zeros(90)
    values[1 : 1 + 3 * bumps : 3] = 1.0
    values[28] = 30.0
    for first in ("2001-01-01", "2001-12-01"):
        assert spikes(values, np.datetime64(first) + np.arange(90))[28] == marked


@pytest.mark.parametrize(("days", "stuck"), [(50_000, 5), (70_000, 0)])
def test_in_a_long_record_equal_neighbours_are_taken_for_one_in_fifty_at_least(days, stuck):
    """Where no two days are alike, five alike are too many up to 62,500 days: 1 + ln(0.01 / n) / ln(0.02) passes 5."""
    values = np.arange(float(days))
    values[30_000:30_005] = values[30_000]
    time = np.datetime64("1850-01-01") + np.arange(days)
    assert stuck_days(values, time).sum() == stuck


def test_a_record_of_two_weeks_may_repeat_itself():
    low = np.tile([1.0, 2.0, 4.0, 3.0, 5.0, 2.5, 0.5], 2)
    assert repeated_days(low, low + 5.0) == [(7, 13, 0)]


def test_stretches_that_a_sound_day_parts_are_told_one_by_one_and_those_that_overlap_together():
    """A week, a day of its own, and another week of the same original; and seven of its days with one minimum."""
    low = weather()
    high = low + 5.0 + np.random.default_rng(2).uniform(0, 3, DAYS.size).round(2)
    for array in (low, high):
        array[2000:2015] = array[1000:1015]
    low[2007] += 0.7
    assert repeated_days(low, high) == [(2000, 2006, 1000), (2008, 2014, 1008)]
    low[1007] = low[2007]
    low[1001:1008] = low[2001:2008] = 12.3
    assert repeated_days(low, high) == [(2000, 2014, 1000)]


@pytest.mark.parametrize("first", ["2001-01-01", "1951-01-01"])
@pytest.mark.parametrize(
    ("months", "step", "told"), [(48, 1.0, True), (48, 0.99, False), (47, 1.0, False), (48, -1.0, True)]
)
def test_a_step_wants_two_years_before_and_after_it_and_a_whole_degree(first, months, step, told):
    """Two years of 10 degC and two of 11: the first day of the third year, to the degree."""
    begin = np.datetime64(first, "M")
    days = np.arange(begin, begin + months, dtype="datetime64[M]")
    days = np.arange(days[0].astype("datetime64[D]"), (days[-1] + 1).astype("datetime64[D]"))
    moved = (begin + 24).astype("datetime64[D]")
    found = shifts(np.where(days < moved, 10.0, 10.0 + step), days)
    assert found == ([((moved - days[0]).astype(int), pytest.approx(step))] if told else [])


def test_a_rolling_mean_by_hand():
    """Of a value and one either side; at the ends, and beside what is missing, of those that there are."""
    values = np.array([1.0, 2.0, 6.0, np.nan, np.nan, np.nan, 8.0, 4.0])
    wanted = [1.5, 3.0, 4.0, 6.0, np.nan, 8.0, 6.0, 6.0]
    np.testing.assert_allclose(_rolling_mean(values, 1), wanted)
    two_years = _rolling_mean(np.where(np.arange(60) == 30, 25.0, 0.0))
    assert np.flatnonzero(two_years).tolist() == list(range(18, 43))
    assert two_years[30] == pytest.approx(1.0)


def test_a_winter_month_in_fahrenheit_is_seen_against_the_spread_of_what_is_usual():
    """January of 5 degC read as 41: 36 K off, which the change of the seasons does not excuse."""
    values = weather()
    january = slice(at("2005-01-01"), at("2005-02-01"))
    values[january] = values[january] * 1.8 + 32.0
    assert np.flatnonzero(wrong_unit_months(values, DAYS)).tolist() == list(range(january.start, january.stop))


def test_days_from_the_day_of_issue_on():
    """The day of issue itself has been; the next one has not."""
    days = np.arange("2026-01-10", "2026-01-14", dtype="datetime64[D]")
    record = daily_record(days, {"tasmin": [1.0, 2.0, 0.0, 3.0], "tasmax": [9.0, 8.0, 9.0, 7.0]}, latitude=40.0)
    for day, future in ((13, []), (12, [("2026-01-13", 1)]), (9, [("2026-01-10", 4)])):
        told = quality.quality_report(record, dt.date(2026, 1, day)).problems
        assert [(p.first, p.count) for p in told if p.kind == "future"] == future


def test_days_of_a_millimetre_are_wet_and_nineteen_in_twenty_lie_below_the_amount_that_counts():
    """Of 1 to 100 mm and one far day the 96th of 101 is 96 mm: nine times as much is 864."""
    for most, marked in ((864.0, False), (865.0, True)):
        assert rain_outliers(np.append(np.arange(1.0, 101.0), most))[-1] == marked
    fifty = np.r_[np.full(48, 10.0), 1.0, 200.0]
    assert rain_outliers(fifty)[-1]
    assert not rain_outliers(np.where(fifty == 1.0, 0.9, fifty))[-1]  # 49 days tell nothing


@pytest.mark.parametrize(("above", "told"), [(0.6, True), (0.5, False), (-0.3, False)])
def test_a_mean_may_lie_half_a_degree_above_its_day(above, told):
    days = np.arange("2001-04-01", "2001-05-01", dtype="datetime64[D]")
    low, high = 5.0 + np.arange(30) % 3, 15.0 + np.arange(30) % 4
    problems = report(days, tasmin=low, tasmax=high, tas=high + above).problems
    assert ("swapped" in {p.kind for p in problems}) == told
