"""Spreads of dates over futures, and what a sort is learnt to take, reckoned beside."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from sowcal.crops.handbook import handbook
from sowcal.crops.tables import Cold, Flowering, Heat, Way
from sowcal.seasons import outlook
from sowcal.seasons.outlook import Outlook, firsts_of_sorts, learnt_of, quantiles, sort_of, spread_of
from sowcal.seasons.season import Seasons, Stages, begin, seasons, strains
from sowcal.seasons.site_days import SiteDays

BOOK = handbook()
START = dt.date(2026, 4, 1)


def test_dates_by_plotting_position():
    """Of nine futures a tenth at the first, the middle at the fifth, nine tenths at the ninth."""
    found = spread_of(START, np.arange(11.0, 20.0))
    assert (found.p10, found.p50, found.p90) == tuple(START + dt.timedelta(d) for d in (11, 15, 19))
    assert spread_of(START, np.arange(4.0)) is None
    assert spread_of(START, np.arange(5.0)) is not None
    assert spread_of(START, np.arange(20.0), 4) is None  # twenty sorts of four futures
    assert spread_of(START, np.arange(20.0), 5) is not None
    assert spread_of(START, np.array([])) is None
    np.testing.assert_allclose(quantiles(np.repeat(np.arange(1.0, 10.0), 3), 9), quantiles(np.arange(1.0, 10.0)))


def test_sorts_stand_within_the_range_of_their_type():
    way = Way(thermal_time_low=400.0, thermal_time_high=600.0)
    for share, need in ((0.0, 400.0), (0.1, 420.0), (0.5, 500.0), (1.0, 600.0)):
        assert (sort_of(way, share).thermal_time_low, sort_of(way, share).thermal_time_high) == (need, need)


def place(mean=18.0, days=900):
    return SiteDays(np.full(days, mean - 5.0), np.full(days, mean + 5.0), np.datetime64("2001-01-01"), 40.0)


def test_first_pickings_of_five_sorts_follow_their_thermal_time():
    site, crop = place(), BOOK["radish"]
    way = replace(crop.ways[0], thermal_time_low=200.0, thermal_time_high=900.0)
    at = np.array([100, 200])
    middle = seasons(site, crop, way)
    rows = firsts_of_sorts(site, crop, way, at, at - 3, middle)
    assert rows.shape == (5, 2)
    assert (np.diff(rows, axis=0) >= 0).all()
    np.testing.assert_array_equal(rows[2], middle.first[at] - at + 3)
    for row, share in zip(rows, (0.1, 0.3, 0.5, 0.7, 0.9), strict=True):  # each the middle of a fifth
        np.testing.assert_array_equal(row, seasons(site, crop, sort_of(way, share)).first[at] - at + 3)
    assert len({tuple(row) for row in rows}) == 5
    one = replace(way, thermal_time_low=400.0, thermal_time_high=400.0)
    assert firsts_of_sorts(site, crop, one, at, at, seasons(site, crop, one)).shape == (1, 2)
    poor = Seasons(np.full(900, 0.04), middle.first, middle.last, middle.hazard)
    assert np.isnan(firsts_of_sorts(site, crop, one, at, at, poor)).all()  # no crop to speak of
    least = Seasons(np.full(900, 0.05), middle.first, middle.last, middle.hazard)
    np.testing.assert_array_equal(firsts_of_sorts(site, crop, one, at, at, least), [middle.first[at] - at])


def futures(yields, first):
    found = type("Found", (), {"first": np.asarray(first)})()
    sorts = np.array([[1.0, np.nan, 3.0], [2.0, np.nan, np.nan]])
    return Outlook(None, START, np.array([100, 100, 100]), found, np.asarray(yields), np.zeros(3), sorts)


def test_futures_that_can_tell_and_that_bring_a_picking():
    one = futures([0.9, np.nan, 0.04], [160, 170, 180])
    assert one.decided.tolist() == [True, False, True]
    assert one.picked.tolist() == [True, False, False]
    assert one.first.tolist() == [60]
    assert futures([0.05, 0.0, 1.0], [160, 170, 180]).picked.tolist() == [True, False, True]
    values, n = one.first_of_sorts
    assert (values.tolist(), n) == ([1.0, 3.0, 2.0], 2)


def told(monkeypatch, shares, low=400.0, high=600.0):
    monkeypatch.setattr(outlook, "_shares_taken", lambda *a: np.asarray(shares, dtype=float))
    way = Way(way="sown outdoors", thermal_time_low=low, thermal_time_high=high)
    return learnt_of(None, BOOK["radish"], way, "red", [])


def test_what_a_sort_takes_is_drawn_towards_the_handbook(monkeypatch):
    """Handbook 500 and sorts 50 apart; one sort's seasons part by 8 per cent, 40: k = 0.64.

    Of one season of 600 its own is (0.64 x 500 + 600) / 1.64, two standard deviations are 100 sqrt(0.64 / 1.64).
    """
    found = told(monkeypatch, [1.2])
    assert (found.crop, found.sort, found.way, found.seasons) == ("radish", "red", "sown outdoors", 1)
    assert (found.observed, found.handbook) == (pytest.approx(600.0), 500.0)
    assert found.own == pytest.approx((0.64 * 500 + 600) / 1.64)
    half = 100.0 * np.sqrt(0.64 / 1.64)
    assert (found.low, found.high) == pytest.approx((found.own - half, found.own + half))
    more = told(monkeypatch, [1.2, 1.0, 1.1, 1.3])
    assert more.own == pytest.approx((0.64 * 500 + 2300) / 4.64)
    assert more.high - more.low < found.high - found.low
    assert told(monkeypatch, []) is None
    assert told(monkeypatch, [1.2], 500.0, 500.0) is None


@pytest.mark.parametrize("share", [0.8, 1.0, 1.3])
def test_the_thermal_time_of_a_season_is_found_again(share):
    """A season walked with so much more or less than the handbook has is told by its date alone."""
    site, crop = place(), BOOK["radish"]
    way = crop.ways[0]
    middle = share * 0.5 * (way.thermal_time_low + way.thermal_time_high)
    real = seasons(site, crop, replace(way, thermal_time_low=middle, thermal_time_high=middle))
    first = dt.date(2001, 1, 1)
    lived = [(first + dt.timedelta(300), first + dt.timedelta(int(real.first[300])), None)]
    (found,) = outlook._shares_taken(site, crop, way, lived)
    assert found == pytest.approx(share, abs=0.04)
    up = first + dt.timedelta(int(begin(site, crop, way)[1].day[300]))
    (seen,) = outlook._shares_taken(site, crop, way, [(*lived[0][:2], up)])
    assert seen == pytest.approx(share, abs=0.04)  # it came up when the engine has it up
    off = [(dt.date(2000, 6, 1), dt.date(2000, 8, 1), None), (dt.date(2003, 6, 1), dt.date(2003, 9, 1), None)]
    assert outlook._shares_taken(site, crop, way, off).size == 0  # before and after the record


def test_each_date_once_with_the_middle_of_its_shares():
    dates, shares = outlook._rising(np.array([10.0, 10.0, 11.0]), np.array([0.9, 1.0, 1.1]))
    assert (dates.tolist(), shares.tolist()) == ([10.0, 11.0], [pytest.approx(0.95), 1.1])


@pytest.mark.parametrize(
    ("flat", "picked", "taken"),
    [(5, 50, [1.1]), (6, 50, []), (1, 35, [0.625]), (1, 34, []), (1, 81, [1.775]), (1, 82, [])],
)
def test_a_date_is_told_within_what_is_tried_and_where_thermal_time_sets_it(monkeypatch, flat, picked, taken):
    """Tried are 0.6 to 1.8 of 400 degC d by twentieths: of five from 1.0 on the middle is 1.1, six are a quarter.

    Where each twentieth is two days, those tried are picked from day 34 to day 82, and the ends tell nothing.
    """
    way = Way(way="set out", thermal_time_low=400.0, thermal_time_high=400.0)

    def walked(days, crop, of):
        step = round((of.thermal_time_low / 400.0 - 1.0) / 0.05)
        day = 50 if 0 <= step < flat else 50 + 2 * (step - (step >= flat) * (flat - 1))
        return Seasons(np.ones(100), np.full(100, float(day)), None, None)

    monkeypatch.setattr(outlook, "seasons", walked)
    monkeypatch.setattr(outlook, "begin", lambda *a: (None, type("Up", (), {"day": np.arange(100)})()))
    site = place(days=100)
    first = dt.date(2001, 1, 1)
    lived = [(first + dt.timedelta(5), first + dt.timedelta(picked), None)]
    assert outlook._shares_taken(site, None, way, lived).tolist() == pytest.approx(taken)


NIGHTS, AFTERNOONS = np.array([-3.0, -1.0, 4.0, 19.0]), np.array([5.0, 12.0, 29.0, 36.0])
LIVED = SimpleNamespace(emerged=[10], established=[40], fills=[60], first=[70], last=[90])


def strained(cold=None, heat=None, flowering=None):
    """Hazards with the days (of four) that have them, and the stages (days of a season) in which they count."""
    crop = SimpleNamespace(cold=Cold(**cold or {}), heat=Heat(**heat or {}), flowering=flowering)
    site = SimpleNamespace(tasmin=NIGHTS, tasmax=AFTERNOONS, tissue_minimum=NIGHTS - 1.0, hardened_minimum=NIGHTS + 1.0)
    found = SimpleNamespace(**{name: np.array(day) for name, day in vars(LIVED).items()})
    return [(h, np.flatnonzero(hit).tolist(), int(a[0]), int(b[0])) for h, hit, a, b in strains(site, crop, found)]


def test_each_hazard_counts_in_its_stage_and_only_where_the_handbook_has_its_limit():
    """Four nights of -3, -1, 4 and 19 degC; plants a degree colder, hardened ones a degree warmer."""
    assert strained() == []
    cold = {"frost_class": "tender", "killing_young": 0.0, "killing_grown": -2.0, "chilling_temperature": 4.0}
    assert strained(cold) == [
        ("frost", [0, 1], 10, 40),  # -4 and -2
        ("frost", [0], 40, 91),
        ("chilling", [0, 1], 10, 70),
    ]
    assert strained(cold | {"frost_class": "hardy"})[:2] == [("frost", [0], 10, 40), ("frost", [], 40, 91)]  # -2 and 0
    assert strained(heat={"young_limit": 29.0}) == [("heat", [3], 10, 31)]  # three weeks from coming up
    assert strained(heat={"filling_limit": 28.0, "night_limit": 18.0}) == [
        ("heat", [2, 3], 60, 70),
        ("warm nights", [3], 60, 70),
    ]
    flowers = Flowering(day_none_above=30.0, night_none_above=20.0)
    hot = {"filling_limit": 28.0, "night_limit": 18.0}
    assert strained({"killing_flower": -2.0}, hot, flowers) == [
        ("frost", [0], 60, 91),
        ("heat", [3], 60, 91),
        ("warm nights", [], 60, 91),
    ]
    assert strained({"killing_flower": -2.0}) == []  # of a crop that does not flower to be picked


def of_starts(monkeypatch, lag):
    """An engine that has every start up so many days later, or as an array tells."""
    day = np.arange(400) + lag
    monkeypatch.setattr(outlook, "begin", lambda *a: (None, SimpleNamespace(day=day)))
    return day


def test_what_was_seen_to_come_up_goes_on_from_the_last_start_that_would_have(monkeypatch):
    """Ten days to come up; seen on day 8 it is followed as if sown two days before, on day 15 as if five after."""
    of_starts(monkeypatch, 10)
    begun = np.array([100, 200, 300])

    def start(*seen):
        return outlook._start_that_came_up(None, None, None, begun, begun + np.array(seen)).tolist()

    assert start(8, 10, 15) == [98, 200, 305]
    of_starts(monkeypatch, 70)  # from 60 days before its own start on
    assert start(10, 9, 11) == [40, 200, 241]
    slow = of_starts(monkeypatch, 10)
    slow[205:] = 999  # those later never come up
    assert start(30, 30, 30) == [120, 204, 300]
    of_starts(monkeypatch, 1)
    assert outlook._start_that_came_up(None, None, None, np.array([20]), np.array([19])).tolist() == [18]


@pytest.mark.parametrize(("way", "follows"), [("sown outdoors", True), ("planted", True), ("set out", False)])
def test_a_start_in_every_future(monkeypatch, way, follows):
    """From the first day of April, up on the ninth in place of the eleventh; what is set out is up at once."""
    crop, made = BOOK["radish"], Way(way=way, thermal_time_low=400.0, thermal_time_high=400.0)
    of_starts(monkeypatch, 10)
    worth = np.arange(400) / 1000.0
    found = Seasons(worth, np.arange(400) + 60, np.arange(400) + 80, np.arange(400))
    monkeypatch.setattr(outlook, "seasons", lambda *a: found)

    def stages(days, crop, way, outcome, at):
        return Stages(at, at + 10, at + 20, at + 30, at + 60, at + 80, at * 0.0, at < 0, at + 10)

    monkeypatch.setattr(outlook, "stages", stages)
    ahead = SimpleNamespace(at=lambda day: np.array([100, 250]) + int((day - np.datetime64(START)).astype(int)))
    for seen in (None, 8):
        up = None if seen is None else START + dt.timedelta(seen)
        one = outlook.outlook(ahead, None, crop, made, START, up)
        sown = np.array([98, 248]) if seen and follows else np.array([100, 250])
        assert one.place.tolist() == [100, 250]
        assert one.yield_fraction.tolist() == worth[sown].tolist()
        assert one.hazard.tolist() == sown.tolist()
        assert one.found.first.tolist() == (sown + 60).tolist()
        assert one.first.tolist() == (sown + 60 - one.place).tolist()
        assert one.found.emerged.tolist() == (one.place + (8 if seen else 10)).tolist()
        assert one.found.start.tolist() == [100, 250]
        assert one.sorts.tolist() == [(sown + 60 - one.place).tolist()]


def test_seasons_that_lie_off_the_record_tell_nothing_of_a_sort(monkeypatch):
    """A hundred days: a start on the first of them and a picking on the last do, a day less or more does not."""
    way = Way(way="sown outdoors", thermal_time_low=400.0, thermal_time_high=400.0)

    def walked(days, crop, of):
        return Seasons(np.ones(100), np.full(100, of.thermal_time_low / 400.0 * 99.0 - 0.5), None, None)

    monkeypatch.setattr(outlook, "seasons", walked)
    of_starts(monkeypatch, 10)
    site, first = place(days=100), dt.date(2001, 1, 1)

    def taken(start, picked, up=None):
        days = [None if d is None else first + dt.timedelta(d) for d in (start, picked, up)]
        return outlook._shares_taken(site, None, way, [tuple(days)]).tolist()

    assert taken(0, 99) == pytest.approx([1.005], abs=0.002)
    assert taken(-1, 99) == taken(0, 100) == taken(99, 99) == []
    assert taken(40, 99, 45) == taken(40, 99)  # a start before its own, or none, which here are all alike


def test_what_came_up_early_is_learnt_from_the_start_that_the_engine_has_up_that_day(monkeypatch):
    """Picked on the day that is told of the start by which it came up: sown on day 40, and up on day 45 of 50."""
    way = Way(way="sown outdoors", thermal_time_low=400.0, thermal_time_high=400.0)

    def walked(days, crop, of):  # a start is picked so many days on as its number, times its share
        return Seasons(np.ones(400), 100.0 + np.arange(400) * of.thermal_time_low / 400.0, None, None)

    monkeypatch.setattr(outlook, "seasons", walked)
    of_starts(monkeypatch, 10)
    first = dt.date(2001, 1, 1)

    def taken(up, of=way):
        lived = [(first + dt.timedelta(40), first + dt.timedelta(142), up and first + dt.timedelta(up))]
        return outlook._shares_taken(place(days=400), None, of, lived).tolist()

    assert taken(None) == pytest.approx([42 / 40])
    assert taken(45) == pytest.approx([42 / 35])
    assert taken(55) == pytest.approx([42 / 45])
    assert taken(45, replace(way, way="set out")) == pytest.approx([42 / 40])
    assert taken(5) == pytest.approx([42 / 40])  # no start is up by then
