"""Verdicts, reasons and chances of annuals, from made-up windows and losses."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from folded import found

from sowcal.crops.handbook import handbook
from sowcal.seasons.season import HAZARDS, Seasons
from sowcal.seasons.site_days import SiteDays
from sowcal.settings import Settings
from sowcal.suitability import annuals
from sowcal.suitability.advice import outside_runs
from sowcal.suitability.annuals import (
    NOT_JUDGED,
    NOT_JUDGED_RAIN_FED,
    NOT_JUDGED_STORED,
    WaterRule,
    _chance_by_day,
    best_first,
    best_start,
    leave,
    limiting_factor,
    rate_annual,
    time_counts,
    told_odds,
    told_windows,
    want_of_water,
)
from sowcal.suitability.results import CropSeasons, CropVerdict, Outside, StoppedStart, WantOfWater, WayResult, Window
from sowcal.suitability.windows import Fold

BOOK = handbook()


def window(start=60, end=100, best=80, works=0.95, brings=0.9):
    return Window(start, end, best, works, (0.5, 1.0), 20, brings)


def way(windows=(), possible=None, outside=(), works=0.0, name="sown outdoors", **more):
    windows = tuple(windows)
    by_day = None if works is None else np.broadcast_to(works, 365).astype(float)
    return WayResult(name, windows, tuple(windows if possible is None else possible), tuple(outside), by_day, **more)


def rated(*ways, limiting="auto"):
    limit = limiting_factor(ways) if limiting == "auto" else limiting
    return rate_annual(CropSeasons("x", "F", tuple(ways), limiting_factor=limit))


@pytest.mark.parametrize(
    ("one", "word"),
    [
        (window(), "sound"),
        (window(brings=0.75), "sound"),
        (window(brings=0.74), "fair"),
        (window(works=0.9), "sound"),
        (window(works=0.89), "fair"),
        (window(end=80), "sound"),  # 21 days
        (window(end=79), "fair"),
        (window(start=355, end=10, best=0), "sound"),  # 21 over New Year
        (window(start=355, end=9, best=0), "fair"),
    ],
)
def test_a_sound_crop_is_sure_full_and_has_three_weeks(one, word):
    verdict = rated(way([one]))
    assert verdict.word == word
    evidence = verdict.evidence
    assert (evidence["way"], evidence["window"], evidence["years_decided"]) == ("sown outdoors", one, 20)
    assert evidence["years_that_succeed"] == round(20 * one.reliability)
    assert evidence["days_recommended"] == (one.end - one.start) % 365 + 1
    assert verdict.reliability == one.reliability


def test_the_verdict_rests_on_the_way_that_brings_most():
    """0.95 x 0.8 is more than 0.9 x 0.8, and less than 0.9 x 0.9."""
    poor, good = way([window(works=0.95, brings=0.8)]), way([window(works=0.9)], name="set out")
    assert rated(poor, good).evidence["way"] == "set out"
    assert rated(good, poor).evidence["way"] == "set out"


def test_what_is_possible_only_is_chancy_and_what_stops_its_best_start_is_told():
    stopped = StoppedStart(80, 0.6, "frost", 0.35)
    chancy = way(possible=[window(works=0.6)], works=0.6, best_start=stopped, outside=[Outside(101, 59, "heat", 1.0)])
    verdict = rated(chancy)
    assert (verdict.word, verdict.suitability, verdict.limiting_factor) == ("chancy", "S3", "frost")
    assert verdict.evidence["best_start"] == {
        "way": "sown outdoors", "date": "03-22", "works_in_share_of_years": 0.6,
    }  # fmt: skip
    assert (verdict.evidence["hazard"], verdict.evidence["share_of_years"]) == ("frost", 0.35)
    nothing = rated(way(outside=[Outside(0, 364, "heat", 0.9)], works=0.1))
    assert (nothing.word, nothing.reliability) == ("not here", pytest.approx(0.1))
    assert nothing.evidence["share_of_years"] == pytest.approx(0.9)


def test_shares_of_what_shuts_the_year_are_weighed_by_days():
    """Heat shuts 100 days at 0.9 and 265 at 0.5."""
    shut = way(outside=[Outside(0, 99, "heat", 0.9), Outside(100, 364, "heat", 0.5)])
    assert rated(shut).evidence["share_of_years"] == pytest.approx((100 * 0.9 + 265 * 0.5) / 365)


def test_what_cannot_be_said():
    unknown = rated(way(works=None, unknown=("growth.base_temperature",)), limiting=None)
    assert (unknown.word, unknown.evidence) == ("cannot say", {"unknown": ["growth.base_temperature"]})
    few = rated(way(works=1.0), limiting=None)
    assert few.evidence == {"unknown": ["whole seasons from more than a few start days of the year"]}
    assert [str(u) for u in rated(limiting=None).evidence["unknown"]] == ["ways of starting"]


def test_a_crop_of_all_year_tells_what_its_best_start_loses():
    all_year = way([window(0, 364)], best_start=StoppedStart(80, 0.95, "frost", 0.05), works=0.95)
    assert rated(all_year).evidence["hazard"] == "frost"
    shut = way([window()], best_start=StoppedStart(80, 0.95, "frost", 0.05), outside=[Outside(101, 59, "heat", 1.0)])
    assert "hazard" not in rated(shut).evidence


def test_the_hazard_that_limits():
    """With dates what closes most days, weighed by its share of years; without, want of water, then the best's."""
    heat, frost = Outside(101, 200, "heat", 0.5), Outside(201, 59, "frost", 0.2)
    assert limiting_factor([way([window()], outside=[heat, frost])]) == "heat"  # 100 x 0.5 against 224 x 0.2
    few, many = Outside(101, 103, "heat", 1.0), Outside(104, 123, "frost", 0.14)  # three days against twenty at 0.14
    assert limiting_factor([way([window()], outside=[few, many])]) == "heat"
    over = Outside(360, 4, "frost", 0.35)  # ten days over New Year
    assert limiting_factor([way([window()], outside=[few, over])]) == "frost"
    stopped = StoppedStart(80, 0.4, "bolting", 0.6)
    assert limiting_factor([way(possible=[window()], outside=[heat], best_start=stopped)]) == "bolting"
    dry = WantOfWater(80, 0.9, 0.5, 120.0, 100.0)
    assert limiting_factor([way(outside=[heat], best_start=stopped, want_of_water=dry)]) == "want of water"
    thirst = Outside(0, 300, "want of water", 1.0)
    assert limiting_factor([way(outside=[thirst, Outside(301, 310, "heat", 0.1)])]) == "heat"  # all others before it
    assert limiting_factor([way(outside=[thirst])]) == "want of water"
    assert limiting_factor([way([window()], best_start=stopped)]) == "bolting"


def test_of_two_ways_the_one_that_works_most_often_is_told_to_be_stopped():
    one = way(best_start=StoppedStart(10, 0.2, "heat", 0.8))
    other = way(best_start=StoppedStart(20, 0.3, "frost", 0.7), name="set out")
    assert limiting_factor([one, other]) == "frost"
    assert rated(one, other).evidence["best_start"]["way"] == "set out"


def test_the_best_start_of_windows_is_their_best_day():
    worth = np.full(365, 0.5)
    days = found(np.full(365, 0.6), worth)
    told = best_start(days, [window(best=80, works=0.7), window(best=200, works=0.8)], days, True)
    assert (told.day, told.reliability) == (200, pytest.approx(0.6))
    assert (told.hazard, told.share_of_years) == (HAZARDS[2], pytest.approx(0.4))


def test_the_best_start_without_windows_works_most_then_might_then_leaves_most():
    reliability, worth = np.zeros(365), np.full(365, 0.01)
    nothing = found(reliability, worth)
    assert best_start(nothing, (), nothing, False) is None
    some = found(reliability, np.where(np.arange(365) == 50, 0.06, 0.01))
    assert best_start(nothing, (), some, False).day == 50
    assert best_start(nothing, (), found(reliability, np.full(365, 0.04)), False) is None
    might = found(np.where(np.arange(365) == 90, 0.1, 0.0), worth)
    assert best_start(nothing, (), might, False).day == 90
    works = found(np.where((np.arange(365) >= 120) & (np.arange(365) < 130), 0.3, 0.0), worth)
    told = best_start(works, (), works, False)
    assert 120 <= told.day < 130
    assert told.reliability == pytest.approx(0.3)


def test_want_of_water_is_not_the_climate_s_reason():
    days = found(np.full(365, 0.6), np.full(365, 0.5), hazard=HAZARDS.index("want of water"))
    told = best_start(days, [window()], days, True)
    assert (told.hazard, told.share_of_years) == (None, 0.0)


def test_odds_of_a_few_days_are_not_told():
    odds = np.zeros(365)
    odds[100:103] = 1.0
    odds[200:210] = 0.5
    told = told_odds(found(odds, np.ones(365)))
    assert told[101] == 0.0
    assert told[205] == 0.5


def taken(litres=None, most=None, left=((), ()), had=None, still=0.2):
    rule = WaterRule(None, None if litres is None else (lambda crop, way: litres), most)
    had = had or ((window(best=80),), (window(best=80),))
    return want_of_water(rule, litres, had, left, (np.full(365, 0.9), np.full(365, still)))


def test_what_want_of_water_took():
    litres = np.full(365, 150.0)
    assert taken(litres, 100.0) == WantOfWater(80, 0.9, pytest.approx(0.7), 150.0, 100.0)
    assert taken() == WantOfWater(80, 0.9, pytest.approx(0.7), None, None)
    assert taken(litres, 100.0, still=0.95).share_of_years == 0.0
    both = ((window(),), (window(),))
    assert taken(litres, 100.0, left=both) is None
    assert taken(litres, 100.0, left=((), (window(),))) is not None  # advised dates are gone
    possible = ((), (window(best=70),))
    assert taken(litres, 100.0, had=possible).day == 70
    # the best day itself is frugal: the least thirsty of those that draw too much is told
    frugal = litres.copy()
    frugal[80], frugal[90], frugal[95] = 90.0, 110.0, 120.0
    assert (taken(frugal, 100.0).day, taken(frugal, 100.0).litres) == (90, 110.0)
    last = np.full(365, 90.0)
    last[[100, 10]] = 110.0  # both ends of a window belong to it, over New Year too
    assert taken(last, 100.0).day == 100
    winter = (window(start=355, end=10, best=0),)
    assert taken(last, 100.0, had=(winter, winter)).day == 10
    unknown = litres.copy()
    unknown[80] = np.nan
    assert taken(unknown, 100.0).day in range(60, 101)
    assert taken(np.full(365, np.nan), 100.0).litres is None


@pytest.mark.parametrize(("left", "day"), [((), 80), ((window(),), None)])
def test_want_of_water_is_told_of_a_way_whose_dates_are_gone(monkeypatch, left, day):
    """The same start works in nine tenths of the years with all its water and in two tenths with what there is."""
    watered, thirsty = (
        SimpleNamespace(
            decided=np.array([9]),
            reliability=np.full(365, works),
            mean_yield=np.full(365, works),
            duration=np.full(365, 60.0),
        )
        for works in (0.9, 0.2)
    )
    dates = {id(watered): (window(),), id(thirsty): left}
    monkeypatch.setattr(annuals, "missing_values", lambda *a: ())
    monkeypatch.setattr(annuals, "seasons", lambda *a: watered)
    monkeypatch.setattr(annuals, "by_day", lambda site, fold, outcome: outcome)
    monkeypatch.setattr(annuals, "told_windows", lambda found, *a: (dates[id(found)], dates[id(found)], None))
    monkeypatch.setattr(annuals, "outside_runs", lambda found: [])
    monkeypatch.setattr(annuals, "best_start", lambda *a: None)
    rule = WaterRule(lambda *a: thirsty, lambda *a: np.full(365, 150.0), 100.0)
    one = annuals.way_result(None, None, None, SimpleNamespace(way="set out"), rule, calendar=False)
    assert (one.way, one.windows, one.picking, one.reliability[0]) == ("set out", left, None, 0.2)
    wanted = None if day is None else WantOfWater(day, 0.9, pytest.approx(0.7), 150.0, 100.0)
    assert one.want_of_water == wanted


def test_what_may_be_drawn():
    litres = np.array([99.0, 100.0, 100.1, np.nan])
    assert WaterRule(None, None, 100.0).allowed(litres).tolist() == [True, True, False, False]
    assert WaterRule(None).allowed(litres) is None
    assert WaterRule(None, None, 100.0).allowed(None) is None
    assert WaterRule(None).litres(None, None) is None
    assert WaterRule(None, lambda crop, way: litres).litres(None, None) is litres


def test_thirst_in_the_evidence():
    dry = WantOfWater(80, 0.9, 0.5, 120.4, 100.0)
    less = WantOfWater(10, 0.7, 0.6, None, None)
    told = rated(way(want_of_water=less), way(want_of_water=dry, name="set out")).evidence
    assert told["with_water_enough"] == {"way": "set out", "date": "03-22", "works_in_share_of_years": 0.9}
    assert (told["litres_per_m2_in_a_dry_year"], told["litres_per_m2_allowed"]) == (120, 100.0)
    assert (told["hazard"], told["share_of_years"]) == ("want of water", 0.5)
    assert "litres_per_m2_allowed" not in rated(way(want_of_water=less)).evidence


@pytest.mark.parametrize("latitude", [40.0, -40.0])
def test_days_picked_are_those_of_advised_starts_that_work(latitude):
    """Ten starts, picked from the thirtieth to the fortieth day on: twenty days in all; half of the years fail."""
    n = 365 * 4
    site = SiteDays(np.full(n, 5.0), np.full(n, 15.0), np.datetime64("2001-01-01"), latitude)
    start = np.arange(n)
    fails = (start // 365 == 1) | (start // 365 == 3)
    outcome = Seasons(np.where(fails, 0.0, 0.9), start + 30, start + 40, np.zeros(n, dtype=np.int8))
    spans = [SimpleNamespace(start=100, end=109)]
    chance = _chance_by_day(site, Fold.of(site), outcome, spans, start + 30, start + 40)
    assert np.flatnonzero(chance).tolist() == list(range(130, 150))
    assert (chance[130:150] <= 1.0).all()
    assert len(set(chance[130:150])) == 1
    assert _chance_by_day(site, Fold.of(site), outcome, (), start, start).sum() == 0.0


def test_what_is_sown_in_succession_is_allowed_more():
    tomato, lettuce, garlic = BOOK["tomato (large)"], BOOK["lettuce (leaf)"], BOOK["garlic (softneck)"]
    assert (leave(tomato), leave(lettuce), leave(garlic)) == (1.0, 3.5, 1.0)
    kept = replace(lettuce, garden=replace(lettuce.garden, keeps_weeks=10, keeps="fresh in store"))
    assert leave(kept) == 1.0
    assert leave(replace(kept, garden=replace(kept.garden, keeps_weeks=9.9))) == 3.5
    assert leave(replace(kept, garden=replace(kept.garden, keeps="in the ground"))) == 3.5


def test_time_in_the_bed_counts_but_for_bulbs_and_winter_flowers():
    for name in ("onion (short-day)", "pea (shelling)", "broad bean"):
        assert not time_counts(BOOK[name])
    for name in ("tomato (large)", "carrot"):
        assert time_counts(BOOK[name])


def test_the_best_verdict_comes_first():
    def verdict(name, grade, works, brings):
        return CropVerdict(name, grade, "", works, None, {} if brings is None else {"yield_fraction": brings})

    some = [verdict("e", None, None, None), verdict("d", "S2", 0.9, 0.8), verdict("c", "S1", 0.9, 0.8),
            verdict("b", "S1", 0.95, 0.1), verdict("a", "S1", 0.9, 0.7), verdict("f", "N", 0.05, None),
            verdict("aa", "S1", 0.9, 0.8), verdict("ff", "N", None, None)]  # fmt: skip
    assert [v.crop for v in best_first(some)] == ["b", "aa", "c", "a", "d", "f", "ff", "e"]


def test_what_is_not_judged_beside_water_is_the_same_however_it_is_watered():
    """Of a bed on rain alone, or on stored water, want of water is judged, and no more and no less than else."""
    (thirst,) = [what for what in NOT_JUDGED if what.startswith("want of water")]
    others = set(NOT_JUDGED) - {thirst}
    assert {"pests and diseases", "pollination", "variety within a type"} < others
    for told in (NOT_JUDGED_RAIN_FED, NOT_JUDGED_STORED):
        assert others < set(told)
        assert thirst not in told
        assert "want of water of perennials" in told
    on_rain = WaterRule(lambda crop, way, outcome: outcome)
    assert on_rain.litres(BOOK["carrot"], BOOK["carrot"].ways[0]) is None  # nor is anything drawn from a tank


def test_days_under_cover_are_those_from_the_sowing_to_the_day_before_setting_out(monkeypatch):
    """Set out on days 100 to 109 after twenty days under cover: from day 80 to 108."""
    n = 365 * 4
    site = SiteDays(np.full(n, 5.0), np.full(n, 15.0), np.datetime64("2001-01-01"), 40.0)
    start = np.arange(n)
    outcome = Seasons(np.full(n, 0.9), start + 30, start + 40, np.full(n, -1, dtype=np.int8), np.full(n, 20.0))
    spans = (window(start=100, end=109, best=105),)
    monkeypatch.setattr(annuals, "missing_values", lambda *a: ())
    monkeypatch.setattr(annuals, "seasons", lambda *a: outcome)
    monkeypatch.setattr(annuals, "told_windows", lambda *a: (spans, spans, ()))
    crop = BOOK["tomato (large)"]
    one = annuals.way_result(site, Fold.of(site), crop, SimpleNamespace(way="set out"))
    assert np.flatnonzero(one.raising).tolist() == list(range(80, 109))
    assert np.flatnonzero(one.picking).tolist() == list(range(130, 150))


def test_what_works_nowhere_works_as_often_as_its_best_way():
    poor, less = way(outside=[Outside(0, 364, "heat", 0.9)], works=0.3), way(works=0.1, name="set out")
    assert rated(poor, less).reliability == pytest.approx(0.3)
    assert rated(less, poor).reliability == pytest.approx(0.3)


def test_the_best_start_is_an_advised_one_where_there_is_one_and_else_a_possible_one(monkeypatch):
    days = found(np.full(365, 0.6), np.full(365, 0.5))
    monkeypatch.setattr(annuals, "missing_values", lambda *a: ())
    monkeypatch.setattr(annuals, "seasons", lambda *a: SimpleNamespace(raised_days=None))
    monkeypatch.setattr(annuals, "by_day", lambda *a: days)
    advised, possible = (window(best=80),), (window(start=150, end=250, best=200, works=1.0, brings=1.0),)
    for windows, day in ((advised, 80), ((), 200)):
        monkeypatch.setattr(annuals, "told_windows", lambda *a, w=windows: (w, possible, ()))
        told = annuals.way_result(None, None, None, SimpleNamespace(way="sown outdoors"), calendar=False)
        assert told.best_start.day == day
        assert (told.windows, told.possible, told.want_of_water) == (windows, possible, None)


@pytest.mark.parametrize("first", [100, 340])
def test_what_is_not_worth_it_begins_the_day_after_the_last_advised_one(first):
    """Thirty days of a full crop and thirty of a poorer one behind them, over New Year too."""
    worth = np.zeros(365)
    worth[(first + np.arange(30)) % 365] = 0.9
    worth[(first + 30 + np.arange(30)) % 365] = 0.7
    site = SimpleNamespace(settings=Settings(bed_day=0.0), latitude=40.0)
    told, possible, (advice,) = told_windows(found((worth > 0) * 1.0, worth), site, BOOK["tomato (large)"], None)
    assert [(w.start, w.end) for w in told] == [(first, (first + 29) % 365)]
    assert [(w.start, w.end) for w in possible] == [(first, (first + 59) % 365)]
    poorer = ((first + 30) % 365, (first + 59) % 365, "poorer crop")
    assert [(n.start, n.end, n.why) for n in advice.not_worth_it] == [poorer]
    assert advice.succession[0] == first


def test_what_works_as_often_as_asked_on_fewer_days_than_a_window_has_is_not_told_to():
    """Thirty days that work in six years of ten and three of them in 95 of a hundred: with dates of another season
    the best of them keep their odds, and alone they have those of five days in a row."""
    day = np.arange(365)
    odds = np.where((day >= 100) & (day < 130), 0.6, 0.0)
    odds[113:116] = 0.95
    site, crop = SimpleNamespace(settings=Settings(), latitude=40.0), BOOK["tomato (large)"]
    told, (alone,), _ = told_windows(found(odds, (odds > 0) * 0.9), site, crop, None)
    assert (told, alone.best, alone.reliability) == ((), 114, 0.6)
    odds[240:280] = 0.9
    (other,), possible, _ = told_windows(found(odds, (odds > 0) * 0.9), site, crop, None)
    assert (other.start, other.end) == (240, 279)
    assert [(w.best, w.reliability) for w in possible] == [(114, 0.95), (260, 0.9)]


def test_days_that_are_closed_by_no_hazard_are_laid_to_none():
    """A day fails in all years, and of no year is it known what took it."""
    day = np.arange(365)
    odds = np.where((day >= 100) & (day < 200), 1.0, 0.0)
    told = outside_runs(found(odds, odds))
    assert [(o.start, o.end, o.hazard) for o in told] == [(200, 99, HAZARDS[2])]
    unknown = found(odds, odds)
    assert outside_runs(replace(unknown, hazard_share=np.zeros_like(unknown.hazard_share))) == []
