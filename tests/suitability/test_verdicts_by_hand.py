"""How far a verdict hangs on its numbers, what lifts it, and how windows range, from made-up answers."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from types import SimpleNamespace

import numpy as np
import pytest
from folded import found

from sowcal.crops.handbook import handbook
from sowcal.errors import InputError
from sowcal.microclimate import WHAT_IFS
from sowcal.seasons.site_days import SiteDays
from sowcal.settings import Settings
from sowcal.suitability import verdicts
from sowcal.suitability.annuals import WaterRule, best_first
from sowcal.suitability.results import CropSeasons, CropVerdict, WayResult, Window
from sowcal.suitability.verdicts import (
    _same_window,
    hangs_on_its_numbers,
    helps_for,
    lines_with_range,
    perennials_lifted,
    remedies,
    steps_of_settings,
    verdict_with_range,
    within_its_range,
)

BOOK = handbook()
ANNUAL, TREE, HERB = BOOK["tomato (large)"], BOOK["olive"], BOOK["strawberry (short-day)"]
# 1.5 degC each way: printed and recalled limits of one crop differ by about that in the handbook's alternatives
KINDER = {
    "cold": {"killing_young": -1.5, "killing_grown": -1.5, "killing_picked_part": -1.5, "killing_flower": -1.5},
    "heat": {"young_limit": 1.5, "young_check": 1.5, "filling_limit": 1.5, "night_limit": 1.5},
    "growth": {"range_minimum": -1.5, "range_maximum": 1.5},
    "flowering": {"day_full_below": 1.5, "day_none_above": 1.5, "night_none_below": -1.5, "night_none_above": 1.5},
    "perennial": {"killing_dormant": -1.5, "killing_growing": -1.5, "killing_top": -1.5, "killing_fruit": -1.5,
                  "winter_mean_most": 1.5, "summer_mean_most": 1.5, "heat_kills": 1.5, "summer_mean_least": -1.5},
}  # fmt: skip


CROPS = ("tomato (large)", "potato (early)", "pea (shelling)", "olive", "globe artichoke (seed-grown)", "rhubarb")


def test_every_limit_that_moves_is_known_of_one_of_the_crops_that_are_looked_at():
    for part, moves in KINDER.items():
        for limit in moves:
            assert any(np.isfinite(getattr(getattr(BOOK[c], part), limit, np.nan)) for c in CROPS), limit


@pytest.mark.parametrize("name", CROPS)
@pytest.mark.parametrize("kinder", [True, False])
def test_the_ends_of_what_is_known_of_a_crop(name, kinder):
    """Each limit of temperature moves to its side and nothing else moves, but thermal times and chill to their ends."""
    crop = BOOK[name]
    end = within_its_range(crop, kinder)
    for part, moves in KINDER.items():
        before, after = getattr(crop, part), getattr(end, part)
        if before is None:
            assert after is None
            continue
        assert is_dataclass(before)
        for field in fields(before):
            old, new = getattr(before, field.name), getattr(after, field.name)
            if isinstance(old, float) and np.isfinite(old):
                by = moves.get(field.name, 0.0)
                assert new - old == pytest.approx(by if kinder else -by), field.name
    for old, new in zip(crop.ways, end.ways, strict=True):
        ends = (old.thermal_time_low, old.thermal_time_high)
        wanted = ends[0] if kinder else ends[1]
        assert (new.thermal_time_low, new.thermal_time_high) == pytest.approx((wanted, wanted), nan_ok=True)
    assert end.chill_end == (0.0 if kinder else 1.0)


def verdict(word, suitability="S2", hazard="heat", **evidence):
    return CropVerdict("x", suitability, word, 0.7, hazard, evidence)


def judging(monkeypatch, words, usual="chancy"):
    """Let each set of changes bring the word that is told of it, or the one that stands; tells what was tried."""
    tried = []

    def judge_crops(site, crops, book, water=None, *, calendar=True):
        tried.append(tuple(site))
        word = words.get(tuple(site), usual)
        return [(None, verdict(word, None if word == "cannot say" else "S2"))]

    def perennial_word(site, crop):
        return judge_crops(site, [crop], BOOK)[0][1].word

    monkeypatch.setattr(verdicts, "judge_crops", judge_crops)
    monkeypatch.setattr(verdicts, "perennial_word", perennial_word)
    return tried


def lifted(monkeypatch, words, crop=ANNUAL, standing=None, **more):
    tried = judging(monkeypatch, words, (standing or verdict("chancy")).word)
    return remedies(lambda names: names, crop, standing or verdict("chancy"), BOOK, **more), tried


def test_single_changes_that_lift_it_to_the_best_word_are_told(monkeypatch):
    told, tried = lifted(monkeypatch, {("mulch",): "fair", ("fleece",): "sound", ("tunnel",): "sound"})
    assert [str(t) for t in told] == ["fleece: sound", "a walk-in tunnel: sound"]
    assert all(len(names) == 1 for names in tried)
    assert len(tried) == sum(w.lifts for w in WHAT_IFS.values())


def test_no_more_than_three_are_told(monkeypatch):
    told, _ = lifted(monkeypatch, {(n,): "fair" for n in WHAT_IFS})
    assert len(told) == 3


def test_pairs_are_tried_where_no_single_change_lifts_it(monkeypatch):
    told, tried = lifted(monkeypatch, {("mulch", "fleece"): "fair"})
    assert [str(t) for t in told] == ["straw mulch and fleece: fair"]
    assert {len(names) for names in tried} == {1, 2}
    told, tried = lifted(monkeypatch, {("mulch", "fleece"): "fair"}, most=1)
    assert [str(t) for t in told] == ["none of the known changes alone"]
    assert {len(names) for names in tried} == {1}


def test_a_word_that_is_no_better_lifts_nothing(monkeypatch):
    told, _ = lifted(monkeypatch, {("mulch",): "chancy", ("fleece",): "not here", ("tunnel",): "cannot say"})
    assert [str(t) for t in told] == ["none of the known changes, alone or in pairs"]


# each word beside its like on the other scale, annuals and perennials, from the best down
SCALE = (
    ("sound", "thrives"), ("fair", "crops with a check"), ("chancy", "crops, lives briefly"),
    ("lives, crops poorly", "grown as a winter annual"), ("not here",),
)  # fmt: skip


@pytest.mark.parametrize(("grade", "standing"), [(g, word) for g, words in enumerate(SCALE) for word in words])
def test_a_word_is_lifted_by_every_better_one_and_by_none_that_is_its_like(monkeypatch, grade, standing):
    classes = ("S1", "S2", "S3", None, "N")  # an annual's words stand in the order of its classes
    annuals = [verdict(words[0], made) for words, made in zip(SCALE, classes, strict=True) if made]
    assert best_first(annuals[::-1]) == annuals
    for other, words in enumerate(SCALE):
        for word in words:
            told, _ = lifted(monkeypatch, {("mulch",): word}, standing=verdict(standing), most=1)
            assert (f"straw mulch: {word}" in [str(t) for t in told]) == (other < grade), word


def test_changes_that_the_plot_is_under_are_passed_over(monkeypatch):
    judging(monkeypatch, {})

    def site(names):
        if "mulch" in names:
            raise InputError("mulch is there twice")
        return names

    told = remedies(site, ANNUAL, verdict("chancy"), BOOK)
    assert [str(t) for t in told] == ["none of the changes that may be added, alone or in pairs"]


@pytest.mark.parametrize("standing", [verdict("sound", "S1"), verdict("thrives", "S1"), verdict("cannot say", None)])
def test_nothing_lifts_what_is_best_or_not_known(monkeypatch, standing):
    assert lifted(monkeypatch, {("mulch",): "sound"}, standing=standing) == ((), [])


def test_a_perennial_is_helped_against_what_it_suffers_from(monkeypatch):
    cold = verdict("lives, crops poorly", "S3", "frost", takes_of_a_full_crop={"frost": 0.3})
    told, tried = lifted(monkeypatch, {("fleece",): "thrives"}, HERB, cold)
    assert {n.partition("@")[0] for names in tried for n in names} == {"fleece", "cold-frame", "tunnel", "warm-wall"}
    assert str(told[0]).startswith("fleece (not at the weak end of what is known of it, nights 0.3 to 1.8 degC warmer")
    told, _ = lifted(monkeypatch, {("fleece",): "thrives", ("fleece@weak",): "crops with a check"}, HERB, cold)
    assert str(told[0]) == "fleece: thrives"
    two, _ = lifted(monkeypatch, {("fleece", "tunnel"): "thrives"}, HERB, cold)
    assert str(two[0]) == "fleece and a walk-in tunnel (not at the weak end of what is known of it): thrives"
    mild = verdict("lives, crops poorly", "S3", "winter too mild")
    assert [str(t) for t in lifted(monkeypatch, {}, HERB, mild)[0]] == [
        "nothing that a grower can lay over it or do about it is known"
    ]


def test_what_helps_by_hazard_and_habit():
    against = {
        "summer kill": {"shade-cloth", "afternoon-shade", "mulch", "irrigation"},
        "heat": {"shade-cloth", "afternoon-shade", "mulch", "irrigation"},
        "winter kill": {"fleece", "cold-frame", "tunnel", "warm-wall"},
        "frost": {"fleece", "cold-frame", "tunnel", "warm-wall"},
        "frost on blossom": {"fleece", "cold-frame", "tunnel", "warm-wall"},
        "too slow": {"cold-frame", "tunnel", "warm-wall"},
        "chill unmet": set(),
    }
    for hazard, names in against.items():
        assert set(helps_for(HERB, [hazard])) == names
        assert set(helps_for(TREE, [hazard])) == names & {"warm-wall"}
    assert set(helps_for(ANNUAL, [])) == {w.name for w in WHAT_IFS.values() if w.lifts}


def test_a_verdict_that_hangs_on_its_numbers_says_so(monkeypatch):
    ends = iter(["sound", "not here", "chancy", "chancy"])
    monkeypatch.setattr(verdicts, "judge_crops", lambda *a, **k: [(None, verdict(next(ends)))])
    told = hangs_on_its_numbers(None, ANNUAL, verdict("chancy"), BOOK).evidence
    assert (told["if_its_limits_are_kinder"], told["if_they_are_harsher"]) == ("sound", "not here")
    assert hangs_on_its_numbers(None, ANNUAL, verdict("chancy"), BOOK).evidence == {}
    unknown = verdict("cannot say", None)
    assert hangs_on_its_numbers(None, ANNUAL, unknown, BOOK) is unknown


def test_the_kinder_end_is_judged_first_and_the_harsher_one_after_it(monkeypatch):
    """What kills at 2 degC does at 0.5 where its limits are kinder and at 3.5 where they are harsher."""
    crop = replace(ANNUAL, cold=replace(ANNUAL.cold, killing_grown=2.0))
    monkeypatch.setattr(
        verdicts, "judge_crops", lambda site, crops, *a, **k: [(None, verdict(f"{crops[0].cold.killing_grown:g}"))]
    )
    told = hangs_on_its_numbers(None, crop, verdict("2"), BOOK).evidence
    assert (told["if_its_limits_are_kinder"], told["if_they_are_harsher"]) == ("0.5", "3.5")


def line(*windows, way="sown outdoors", by_day=None):
    spans = tuple(Window(a, c, b, r, (0.5, 1.0), 30, 0.9) for a, b, c, r in windows)
    shares = None if by_day is None else np.full(365, by_day)
    return CropSeasons("x", "F", (WayResult(way, spans, spans, (), shares),))


def ranged(middle, cold, warm):
    (out,) = lines_with_range([middle], [cold], [warm])
    return [w.offset_range for w in out.starts[0].windows]


def test_a_window_ranges_between_the_cold_and_the_warm_end():
    (told,) = ranged(
        line((60, 80, 100, 0.9)), line((70, 90, 100, 0.8), by_day=0.6), line((50, 70, 95, 0.95), by_day=0.97)
    )
    assert told.reliability == (0.6, 0.97)  # of the best day of the window, 80
    assert (told.if_colder, told.if_warmer) == ((70, 100), (50, 95))
    (told,) = ranged(line((60, 80, 100, 0.9)), line(), line((50, 70, 95, 0.95)))
    assert told.reliability == (0.0, 0.95)  # no odds by day: those of the season, and none where there is none
    assert told.if_colder is None
    (told,) = ranged(line((60, 80, 100, 0.9)), line(by_day=np.nan), line(by_day=np.nan))
    assert told.reliability == (0.9, 0.9)


@pytest.mark.parametrize(
    ("other", "same"),
    [
        ((110, 125, 140, 0.9), True),  # 45 days from best to best are one season
        ((110, 126, 140, 0.9), False),
        ((20, 35, 50, 0.9), True),
        ((70, 200, 210, 0.9), True),  # holds the best day
        ((81, 200, 210, 0.9), False),
        ((340, 1, 90, 0.9), True),  # over New Year
        ((340, 1, 79, 0.9), False),
    ],
)
def test_the_same_window_at_the_other_end(other, same):
    (told,) = ranged(line((60, 80, 100, 0.9)), line(other, by_day=0.5), line((60, 80, 100, 0.9), by_day=0.5))
    assert told.if_colder == ((other[0], other[2]) if same else None)


def test_of_two_near_windows_the_nearest_is_meant_and_other_ways_are_none():
    both = line((100, 110, 120, 0.9), (50, 60, 70, 0.9), by_day=0.5)
    (told,) = ranged(line((60, 80, 100, 0.9)), both, both)
    assert told.if_colder == (50, 70)
    (out,) = lines_with_range([line((60, 80, 100, 0.9))], [line(way="set out")], [line((60, 80, 100, 0.9))])
    assert out.starts[0].windows[0].offset_range is None


def test_a_verdict_within_the_error_of_a_thermometer():
    middle = line((60, 80, 100, 0.9))
    (with_range,) = lines_with_range([middle], [line(by_day=0.5)], [line(by_day=0.95)])
    cold, warm = verdict("chancy"), replace(verdict("sound"), reliability=0.95)
    resting = verdict("fair", way="sown outdoors", window=middle.starts[0].windows[0])
    told = verdict_with_range(resting, cold, warm, with_range).evidence
    assert told["window"].offset_range.reliability == (0.5, 0.95)
    assert told["if_the_plot_is_colder_within_the_error"] == "chancy"
    assert told["if_it_is_warmer_within_the_error"] == "sound"
    assert "share_of_years_within_the_error" not in told
    bare = verdict_with_range(verdict("fair", way="set out"), cold, warm, with_range).evidence
    assert bare["share_of_years_within_the_error"] == (0.7, 0.95)
    unknown = replace(cold, reliability=None)
    assert "share_of_years_within_the_error" not in verdict_with_range(unknown, unknown, unknown, with_range).evidence


@pytest.mark.parametrize("latitude", [40.0, -40.0])
def test_what_other_models_make_of_the_same_winters_stands_beside(latitude, monkeypatch):
    """At 5 degC all winter long both sums of hours have every hour; of what wants no chill nothing is said."""
    cold = np.full(365 * 5 + 1, 5.0)
    site = SiteDays(cold, cold, np.datetime64("2001-01-01"), latitude)
    monkeypatch.setattr(verdicts, "judge_crops", lambda *a, **k: [(None, verdict("chancy"))])
    peach = hangs_on_its_numbers(site, BOOK["peach (low-chill)"], verdict("chancy"), BOOK).evidence
    models = peach["chill_by_each_model_in_the_middle_year"]
    days = (181 if latitude > 0 else 184) + 31
    assert models["hours below 7.2"] == models["hours 0 to 7.2"] == 24 * days
    assert set(models) == {"hours below 7.2", "hours 0 to 7.2", "Utah units", "portions"}
    assert str(peach["chill_judged_in"]).startswith("portions")
    for name in ("lemon", "asparagus", "carrot"):
        assert hangs_on_its_numbers(site, BOOK[name], verdict("chancy"), BOOK).evidence == {}


def test_what_limits_a_perennial_is_helped_where_nothing_is_told_of_what_it_takes(monkeypatch):
    told, tried = lifted(monkeypatch, {("warm-wall",): "thrives"}, TREE, verdict("lives, crops poorly", "S3", "frost"))
    assert str(told[0]).startswith("a warm wall")
    assert tried[0] == ("warm-wall",)


def test_a_window_belongs_to_a_season_from_its_first_day_to_its_last():
    """Best days further than 45 apart: a long window over New Year still holds both its ends, and no day beyond."""
    long = Window(300, 40, 200, 0.9, (0.7, 1.0), 30, 0.9)
    for best, same in ((299, None), (300, long), (40, long), (41, None)):
        assert _same_window(Window(best, best, best, 0.9, (0.7, 1.0), 30, 0.9), [long]) is same


def test_of_many_crops_each_perennial_is_tried_with_one_change_at_a_time(monkeypatch):
    asked = []
    monkeypatch.setattr(
        verdicts, "remedies", lambda site, crop, v, book, *, most: asked.append((crop.name, most)) or ("mulch",)
    )
    found = perennials_lifted(None, [ANNUAL, TREE], [verdict("chancy"), verdict("not here")], BOOK)
    assert asked == [("olive", 1)]
    assert [v.what_would_change_it for v in found] == [verdict("chancy").what_would_change_it, ("mulch",)]


def stepped(monkeypatch, crops=(ANNUAL,), waters=((None, None),), decided=3):
    """Steps of a crop that works from day 90 to 149 in 85 years of 100 where half a crop is asked for, and in 40 where
    four fifths are; what rain-fed seasons leave works in ten days less."""
    day = np.arange(365)

    def by_day(site, fold, outcome, reasons):
        on = (day >= 90) & (day < 150 - outcome.dry)
        odds = np.where(on, 0.85 if site.settings.least_yield < 0.8 else 0.4, 0.0)
        return replace(found(odds, np.where(on, 0.9, 0.0)), decided=np.full(365, decided))

    monkeypatch.setattr(verdicts, "Fold", SimpleNamespace(of=lambda site: None))
    monkeypatch.setattr(verdicts, "seasons", lambda *a: SimpleNamespace(yield_fraction=np.zeros(3), dry=0))
    monkeypatch.setattr(verdicts, "missing_values", lambda crop, way: ["x"] if way.way == "sown outdoors" else [])
    monkeypatch.setattr(verdicts, "by_day", by_day)
    site = SimpleNamespace(settings=Settings(), latitude=40.0)
    return steps_of_settings(site, crops, (0.8, 0.9), (0.5, 0.8), waters)


def test_steps_of_settings_tell_the_windows_of_each_pair(monkeypatch):
    (steps,) = stepped(monkeypatch)
    assert (steps.reliabilities, steps.least_yields) == ((0.8, 0.9), (0.5, 0.8))
    ways = {way.way for way in ANNUAL.ways} - {"sown outdoors"}  # of which the handbook has all that a season takes
    assert ways
    assert {w.way for w in steps.ways} == ways
    for way in steps.ways:
        assert way.crop == ANNUAL.name
        assert way.windows == ((((90, 149),), ()), ((), ()))  # as often as nine years in ten never
        assert way.possible == (((90, 149),), ())
        assert [row[95] for row in way.reliability] == [0.85, 0.4]
        assert [len(row) for row in way.fortnights[0]] == [1, 0]
    assert stepped(monkeypatch, decided=2)[0].ways == ()  # too few years for odds
    assert stepped(monkeypatch, crops=(TREE, HERB))[0].ways == ()


def test_steps_of_settings_for_each_water_there_is(monkeypatch):
    """On rain ten days less work; of stored water the litres that may be drawn close the days from 120 on."""
    drier = SimpleNamespace(yield_fraction=np.ones(3), dry=10)
    rain = WaterRule(lambda crop, way, outcome: drier)
    litres = np.where(np.arange(365) < 120, 50.0, 150.0)
    stored = WaterRule(lambda crop, way, outcome: outcome, lambda crop, way: litres, 100.0)
    watered, dry, spared = stepped(monkeypatch, waters=((None, None), (rain, rain), (stored, stored)))
    assert [s.ways[0].windows[0][0] for s in (watered, dry, spared)] == [((90, 149),), ((90, 139),), ((90, 119),)]
    assert [s.ways[0].possible[0] for s in (watered, dry, spared)] == [((90, 149),), ((90, 139),), ((90, 149),)]


def test_the_model_that_chill_is_judged_in_is_told_with_why_where_that_is_known(monkeypatch):
    cold = np.full(365 * 5 + 1, 5.0)
    site = SiteDays(cold, cold, np.datetime64("2001-01-01"), 40.0)
    monkeypatch.setattr(verdicts, "judge_crops", lambda *a, **k: [(None, verdict("chancy"))])
    peach = BOOK["peach (low-chill)"]
    for why, told in (("it was tried there", "portions: it was tried there"), ("", "portions")):
        crop = replace(peach, chill=tuple(replace(c, why=why) for c in peach.chill))
        assert hangs_on_its_numbers(site, crop, verdict("chancy"), BOOK).evidence["chill_judged_in"] == told


def test_a_verdict_on_an_advised_window_tells_what_becomes_of_its_advice_and_not_of_what_is_possible():
    """In the cold nothing is advised any more, though the same days are possible still."""
    middle, cold = line((60, 80, 100, 0.9)), line((70, 90, 100, 0.6))
    cold = replace(cold, starts=(replace(cold.starts[0], windows=()),))
    (with_range,) = lines_with_range([middle], [cold], [middle])
    resting = verdict("fair", way="sown outdoors", window=middle.starts[0].windows[0])
    told = verdict_with_range(resting, verdict("chancy"), verdict("fair"), with_range).evidence["window"]
    assert told.offset_range.if_colder is None
    assert told.offset_range.if_warmer == (60, 100)
    assert with_range.starts[0].possible[0].offset_range.if_colder == (70, 100)


def test_lines_and_verdicts_that_do_not_belong_together_are_no_pair():
    one = line((60, 80, 100, 0.9))
    with pytest.raises(ValueError, match=r"shorter|longer"):
        lines_with_range([one], [one], [one, one])
    with pytest.raises(ValueError, match=r"shorter|longer"):
        perennials_lifted(None, [ANNUAL, ANNUAL], [verdict("chancy")], BOOK)
