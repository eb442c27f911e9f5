"""Perennials of the garden: their bed all year, their picking and their water, by hand and by common practice."""

from __future__ import annotations

from dataclasses import dataclass, replace
from types import SimpleNamespace

import numpy as np
import pytest

from sowcal.crops.handbook import handbook
from sowcal.garden import perennials
from sowcal.garden.beds import allot_beds
from sowcal.garden.garden_file import Bed, Garden, Household, Mulch, bundled_garden
from sowcal.garden.garden_weather import garden_weather
from sowcal.garden.perennials import (
    _in_leaf,
    _orchard,
    _picking,
    _winter_half,
    standing_crop,
    standing_crops,
    with_litres,
)
from sowcal.garden.plan import plan_garden
from sowcal.garden.plants import weeks_for_table
from sowcal.garden.schedule import LeftOut
from sowcal.garden.soil_water import basal_of
from sowcal.garden.water_need import efficiency, garden_need
from sowcal.outputs.garden_document import bed_lines
from sowcal.seasons.perennial_years import PerennialYears, span_days
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.perennials import judge_perennial
from sowcal.suitability.windows import Fold
from sowcal.weather.open_site import open_weather

BOOK = handbook()


@pytest.fixture(scope="module")
def sallowdene():
    _, record = open_weather("sallowdene")
    return record, SiteDays.from_record(record)


def _standing(site, crop, garden=None):
    return standing_crop(site, Fold.of(site), BOOK[crop], BOOK, garden or Garden("g", "s", ()))


@pytest.fixture(scope="module")
def plan(sallowdene):
    crops = ("asparagus", "mint", "pear", "carrot", "lettuce (leaf)", "lemon")
    beds = (Bed("narrow", 20, 1.2), Bed("orchard", 5, 5), Bed("annuals", 10, 1.2))
    garden = replace(bundled_garden(), crops=crops, rain_fed=(), counts={}, beds=beds)
    return plan_garden(garden, "Sallowdene", sallowdene[0])


def test_it_keeps_its_bed_all_year_and_is_told(plan):
    months = plan.beds.used[1]
    pear = next(p for p in plan.plants if p.crop == "pear")
    # one pear at 5 x 4.5 m (the handbook's spacing, common practice)
    assert pear.count == 1
    assert pear.area == pytest.approx(22.5)
    assert (months >= 22.5 - 1e-9).all()
    assert "1 pear all year" in dict(bed_lines(plan))["orchard (25 m2)"]
    assert any("bears from year" in w for w in pear.words)
    bed = plan.to_json()["beds"][1]["crops"]
    assert {"from": "01-01", "to": "12-31"}.items() <= next(c for c in bed if c["crop"] == "pear").items()
    # frost kills a lemon there, and the reason is told
    assert next(left.why for left in plan.left_out if left.crop == "lemon").startswith("it does not live here")


def test_its_water_is_in_the_need_of_week_and_store(plan):
    pear = next(i for i, s in enumerate(plan.sowings) if s.crop.name == "pear")
    drawn = plan.need.by_sowing[pear].irrigation
    assert np.median(drawn) > 100.0
    # what the beds draw is what their crops draw
    total = sum(np.median(plan.need.by_sowing[p.sowing].irrigation) * p.area for p in plan.beds.placings)
    assert total == pytest.approx(plan.need.year(0.5), rel=0.1)
    assert plan.by_crop["pear"] == pytest.approx(np.median(drawn) * 22.5)
    summer = plan.need.bed_weekly[1][24:34].mean()
    assert summer > 5.0 * plan.need.bed_weekly[1][:8].mean()


def test_a_pear_in_leaf_by_hand(sallowdene):
    # FAO-56 Tables 11 and 17: 30/50/130/30 of 240 days, basal coefficients 0.35, 0.90 and 0.65; their mean over the
    # season is (30 x .35 + 50 x .625 + 130 x .90 + 30 x .775) / 240 = 0.758
    record, site = sallowdene
    weather = garden_weather(record)
    sowing = _standing(site, "pear")
    index, length = sowing.water_days
    assert (length == 240.0).all()
    n = weather.size
    steady = replace(
        weather, reference=np.full(n, 5.0), rain=np.zeros(n), wind=np.full(n, 2.0), humidity=np.full(n, 45.0)
    )
    garden = Garden("g", "s", (Bed("b", 10, 3),), soil_depth=0.6, mulch=Mulch("plastic", 1.0))
    need = garden_need(steady, [sowing], [(0, 0, 1.0)], garden)
    net = need.by_sowing[0].irrigation * efficiency(garden)
    whole = (index >= 0) & (index + 240 < n)
    # under plastic the evaporation adds at most a fifth of what bare soil would
    assert np.median(net[whole[index >= 0]]) == pytest.approx(240 * 5.0 * 0.758, rel=0.10)


def test_roots_stand_from_the_start():
    pear = basal_of(BOOK["pear"].water, 0.6, stands=True)
    assert pear.initial == pytest.approx(0.35)
    assert basal_of(BOOK["asparagus"].water, stands=True).initial == pytest.approx(0.15)  # FAO-56 Table 17
    assert basal_of(BOOK["pear"].water).initial == pytest.approx(0.15)


def test_picking_falls_where_the_years_have_it(sallowdene):
    _, site = sallowdene
    asparagus = _standing(site, "asparagus")
    first = (asparagus.start + np.median(asparagus.first)) % 365
    # common practice: spears come in March and April where winters are mild
    assert 60 <= first <= 130
    assert isinstance(_standing(site, "lemon"), LeftOut)


@pytest.mark.parametrize(
    ("crop", "least", "most"),
    # common practice for two people: one or two bushes of rosemary, one tree of a fruit, 20 to 60 strawberry plants,
    # ten to 25 crowns of asparagus a person
    [
        ("rosemary", 1, 3),
        ("pear", 1, 1),
        ("fig", 1, 1),
        ("strawberry (short-day)", 15, 60),
        ("asparagus", 20, 50),
    ],
)
def test_plants_for_two(sallowdene, crop, least, most):
    sowing = _standing(sallowdene[1], crop, Garden("g", "s", (), household=Household(2)))
    assert least <= sowing.plants.will_do <= most


def test_jars_are_no_store_that_is_eaten_as_in_season():
    assert weeks_for_table(BOOK["strawberry (short-day)"].garden) == 0.0
    assert weeks_for_table(BOOK["onion (long-day)"].garden) > 8.0
    assert weeks_for_table(BOOK["rosemary"].garden) == 52.0


def test_a_tree_wants_a_place_wide_enough(sallowdene):
    pear = _standing(sallowdene[1], "pear")
    narrow = allot_beds([pear], (Bed("narrow", 40, 1.2),))
    assert narrow.placings == ()
    assert "wide enough" in narrow.left_out[0].why
    assert allot_beds([pear], (Bed("wide", 10, 3),)).placings[0].count == 1
    # of three trees the two that find whole places are placed, none by halves
    two = allot_beds(
        [replace(pear, area=67.5, plants=replace(pear.plants, count=3))], (Bed("a", 10, 5), Bed("b", 5, 4))
    )
    assert [p.count for p in two.placings] == [2]
    assert "1 of 3 plants" in two.left_out[0].why


def test_what_grows_from_autumn_to_spring_draws_its_water_then(sallowdene):
    """Saffron's season takes 331 to 357 mm in the dry east of Iran (Scientia Agricola, abstract on irrigation)."""
    record, site = sallowdene
    crops = [BOOK["saffron"], BOOK["rhubarb"], BOOK["mint"]]
    found = [judge_perennial(site, crop, BOOK)[1] for crop in crops]
    saffron, rhubarb, mint = (v.answer["litres_per_m2"] for v in with_litres(site, record, crops, found))
    assert 0 < saffron < 357
    # killed by summers it stands from autumn to spring, and so draws less than half of what stands all year
    assert found[1].word == "grown as a winter annual"
    assert 0 < rhubarb < 0.5 * mint


# --- by hand, north and south ---


def a_place(latitude=40.0):
    return SiteDays(np.full(1826, 8.0), np.full(1826, 20.0), np.datetime64("2001-01-01"), latitude)


def lived(site, first, last, growth=0, crop=1.0):
    """Years of which picking and new growth lie so many days after the growing half of each begins."""
    years = np.array([2002, 2003, 2004])
    begin = span_days(site, years, "growing")[0]
    crop = np.broadcast_to(crop, 3).astype(float)
    return PerennialYears(
        years, site.dates[0], crop=crop, first=begin + float(first), last=begin + float(last), growth=begin + growth
    )


@pytest.mark.parametrize("latitude", [40.0, -40.0])
def test_picking_by_week_and_its_wait_by_hand(latitude):
    """From day 70 to 83 of the growing half are fourteen days, week 10 and week 11; its years bring 0.8 and 0.4."""
    site = a_place(latitude)
    years = lived(site, 70, 83, crop=[0.8, np.nan, 0.4])
    start = int(site.day_of_year[int(years.first[0])]) - 10
    share, first, last = _picking(site, Fold.of(site), years, start)
    assert share.shape[0] == 2
    np.testing.assert_allclose(share[:, [9, 10, 11, 12]], [[0, 0.4, 0.4, 0], [0, 0.2, 0.2, 0]])
    assert share.sum(axis=1) == pytest.approx([0.8, 0.4])
    assert set(first) <= {10.0, 9.0, 11.0}
    np.testing.assert_allclose(last - first, 13.0)
    # picked before it is planted in the year: the wait runs on to the next
    later = _picking(site, Fold.of(site), years, start + 20)[1]
    assert sorted(set(later)) == sorted({(day - 20) % 365 for day in first})
    nothing = _picking(site, Fold.of(site), lived(site, 70, 83, crop=np.nan), start)
    assert nothing[0].shape[0] == 0
    assert (nothing[1] == 0.0).all()
    assert (nothing[2] == 0.0).all()


def of_stages(*days):
    crop = BOOK["pear"]
    names = ("days_initial", "days_development", "days_mid", "days_late")
    return replace(crop, water=replace(crop.water, **dict(zip(names, days, strict=True))))


@pytest.mark.parametrize("latitude", [40.0, -40.0])
def test_days_in_leaf_begin_with_new_growth(latitude):
    """Growth 20 days into the growing half, and so in years that are not told; for the days of its stages."""
    site = a_place(latitude)
    fold, years = Fold.of(site), lived(site, 70, 83, growth=20)
    index, length = _in_leaf(site, fold, of_stages(20.0, 70.0, 90.0, 30.0), years)
    begin = span_days(site, fold.years, "growing")[0] + 20
    inside = (begin >= 0) & (begin < site.size)
    assert inside.sum() >= 4
    np.testing.assert_array_equal(index, np.where(inside, begin, -1))
    assert set(length) == {210.0}
    index, length = _in_leaf(site, fold, of_stages(50.0, 100.0, 100.0, 100.0), years)
    assert set(length) == {365.0}  # what is in leaf for 350 days never rests
    np.testing.assert_array_equal(index[inside], begin[inside] - 20)
    assert set(_in_leaf(site, fold, of_stages(50.0, 100.0, 100.0, 99.0), years)[1]) == {349.0}
    assert set(_in_leaf(site, fold, of_stages(20.0, float("nan"), 90.0, 30.0), years)[1]) == {365.0}


def test_orchards_go_by_the_single_coefficients():
    """FAO-56 Table 12: those of the soil between the rows are in them."""
    pear = BOOK["pear"]
    basal = _orchard(pear)
    water = pear.water
    assert (basal.initial, basal.mid, basal.end) == (
        water.coefficient_initial,
        water.coefficient_mid,
        water.coefficient_end,
    )
    bare = replace(pear, water=replace(water, coefficient_initial=float("nan")))
    assert _orchard(bare).initial == basal_of(bare.water, stands=True).initial
    unknown = replace(pear, water=replace(water, coefficient_mid=float("nan")))
    assert _orchard(unknown) == basal_of(unknown.water, stands=True)


def judged(monkeypatch, word="thrives", suitability="S1", possible=True, limiting="frost", unknown=("chill",)):
    site = a_place()
    years = lived(site, 70, 83)
    window = SimpleNamespace(best=40, reliability=0.9, yield_fraction=0.8)
    way = SimpleNamespace(way="planted", possible=(window,) if possible else (), unknown=unknown)
    verdict = SimpleNamespace(suitability=suitability, word=word, limiting_factor=limiting)
    monkeypatch.setattr(perennials, "judge_perennial", lambda *a: (years, verdict))
    monkeypatch.setattr(perennials, "perennial_line", lambda *a: SimpleNamespace(starts=(way,)))
    return _standing(site, "pear", Garden("g", "s", (), counts={"pear": 1}))


def test_why_it_does_not_stand(monkeypatch):
    assert judged(monkeypatch, suitability=None, unknown=("chill", "heat")).why == (
        "nothing can be said of it here: not known is chill, heat"
    )
    assert judged(monkeypatch, possible=False).why == "it does not live here, or crops too seldom (frost)"
    assert "the handbook lacks its way" in judged(monkeypatch, possible=False, limiting=None).why
    assert "planted anew each autumn" in judged(monkeypatch, word="grown as a winter annual", suitability="S3").why


def test_what_stands_carries_its_odds_and_its_way(monkeypatch):
    found = judged(monkeypatch)
    assert (found.start, found.way, found.reliability, found.yield_fraction) == (40, "planted", 0.9, 0.8)
    assert (found.advised, found.rain_fed, found.word) == (True, False, "thrives")
    assert found.stands
    assert found.plants.count == 1
    assert not judged(monkeypatch, suitability="S3", word="lives, crops poorly").advised
    assert judged(monkeypatch, suitability="S2", word="crops with a check").advised


def test_nobody_grows_what_nobody_eats_unless_it_was_asked_for(monkeypatch):
    site = a_place()
    monkeypatch.setattr(perennials, "standing_crop", lambda site, fold, crop, book, garden: f"a {crop.name}")
    crops = [BOOK["pear"], BOOK["carrot"]]
    none = Garden("g", "s", (), household=Household(2, {"pear": "none"}))
    found, left = standing_crops(site, Fold.of(site), crops, BOOK, none)
    assert (found, [(x.crop, x.why) for x in left]) == ([], [("pear", "nobody here eats it")])
    asked = replace(none, counts={"pear": 1})
    assert standing_crops(site, Fold.of(site), crops, BOOK, asked) == (["a pear"], [])


def test_litres_are_told_of_what_has_an_answer_and_rain_only(sallowdene):
    record = sallowdene[0].cut(slice(0, 4 * 365))
    site = SiteDays.from_record(record)
    crops = [BOOK["pear"], BOOK["asparagus"], BOOK["saffron"], BOOK["carrot"]]
    verdicts = [SimpleVerdict({"lives": 1}), SimpleVerdict({"lives": 1}), SimpleVerdict({}), SimpleVerdict(None)]
    found = with_litres(site, record, crops, verdicts)
    litres = [None if v.answer is None else v.answer.get("litres_per_m2") for v in found]
    assert litres[0] > 100
    assert litres[1] > 100
    assert litres[2] > 100  # of a corm that is in leaf in winter
    assert litres[3] is None  # an annual
    assert found[0].answer["lives"] == 1
    dry = record.with_values({"pr": record["pr"] * np.nan})
    assert with_litres(site, dry, crops, verdicts) == verdicts
    assert with_litres(site, record, crops[3:], verdicts[3:]) == verdicts[3:]


@dataclass(frozen=True)
class SimpleVerdict:
    answer: dict | None
    word: str = "thrives"


def test_orchards_have_no_evaporation_of_their_own(sallowdene, monkeypatch):
    """It is in their single coefficients; a bed of herbs has it all."""
    record = sallowdene[0].cut(slice(0, 2 * 365))
    left = []

    def balance(season, soil, watering, **_):
        left.append(watering.evaporation_left)
        return SimpleNamespace(irrigation=np.zeros(season.grows.shape))

    monkeypatch.setattr(perennials, "root_zone_balance", balance)
    crops = [BOOK["pear"], BOOK["asparagus"]]
    found = with_litres(SiteDays.from_record(record), record, crops, [SimpleVerdict({}), SimpleVerdict({})])
    assert left == [1.0, 0.0]
    assert [v.answer["litres_per_m2"] for v in found] == [0, 0]


def test_what_is_picked_before_growth_begins_stands_in_the_first_week():
    site = a_place()
    share, _, _ = _picking(site, Fold.of(site), lived(site, -3, 3), 100)
    np.testing.assert_allclose(share[:, 0], 1.0)
    assert share[:, 1:].sum() == 0.0


@pytest.mark.parametrize("latitude", [40.0, -40.0])
def test_each_year_has_its_own_wait_and_those_not_told_the_middle_one(latitude):
    """Picking begins 0, 20 and 40 days later in turn, and lasts 13, 14 and 18 days."""
    site = a_place(latitude)
    years = lived(site, 70, 83)
    years.first = years.first + np.array([0.0, 20.0, 40.0])
    years.last = years.last + np.array([0.0, 21.0, 45.0])
    fold = Fold.of(site)
    start = int(site.day_of_year[int(years.first[0])]) - 10
    _, first, last = _picking(site, fold, years, start)
    there = np.isin(fold.years, years.years)
    np.testing.assert_allclose(first[there], [10.0, 30.0, 50.0], atol=1)
    np.testing.assert_allclose((last - first)[there], [13.0, 14.0, 18.0])
    np.testing.assert_allclose(first[~there], 30.0, atol=1)
    np.testing.assert_allclose((last - first)[~there], 14.0)


@pytest.mark.parametrize("latitude", [40.0, -40.0])
def test_years_that_are_picked_within_the_record_count_to_its_last_day(latitude):
    """A crop picked on one day; on the last of the record; and one whose picking begins when it is over."""
    site = a_place(latitude)
    years = lived(site, 70, 70)
    years.first[2] = years.last[2] = site.size - 1.0
    share, first, last = _picking(site, Fold.of(site), years, int(site.day_of_year[-1]))
    assert share.shape[0] == 3
    assert share.sum(axis=1) == pytest.approx([1.0] * 3)
    assert set(last - first) == {0.0}
    assert first[np.searchsorted(Fold.of(site).years, 2004)] == 0.0
    years.first[2] = years.last[2] = float(site.size)
    assert _picking(site, Fold.of(site), years, 0)[0].shape[0] == 2
    years.last[1] = years.first[1] - 1.0  # it was never picked
    assert _picking(site, Fold.of(site), years, 0)[0].shape[0] == 1


@pytest.mark.parametrize("latitude", [40.0, -40.0])
def test_what_its_summers_kill_stands_from_a_month_into_autumn_to_summer(latitude):
    """Common practice: thirty days after the cold half begins; nothing in years that the record does not reach."""
    site = a_place(latitude)
    fold = Fold.of(site)
    index, length = _winter_half(site, fold)
    begins, ends = span_days(site, fold.years, "cold")[0], span_days(site, fold.years, "summer")[0]
    inside = (begins + 30 >= 0) & (begins + 30 < site.size)
    assert 3 <= inside.sum() < inside.size or inside.all()
    np.testing.assert_array_equal(index, np.where(inside, begins + 30, -1))
    np.testing.assert_array_equal(length, ends - begins - 30)
    assert (length > 100).all()


@pytest.mark.parametrize("latitude", [40.0, -40.0])
def test_what_begins_with_the_record_has_its_water_and_what_begins_after_it_has_none(latitude):
    whole = a_place(latitude)
    for what, of, wait in (("growing", _in_leaf, 20), ("cold", _winter_half, 30)):
        begins = span_days(whole, np.array([2002, 2004]), what)[0] + wait
        cut = SiteDays(
            np.full(begins[1] - begins[0], 8.0), np.full(begins[1] - begins[0], 20.0), whole.dates[begins[0]], latitude
        )
        fold = SimpleNamespace(years=np.array([2002, 2003, 2004]))
        if of is _in_leaf:
            years = np.array([2002, 2003])
            start = span_days(cut, years, "growing")[0]
            told = PerennialYears(years, cut.dates[0], crop=np.ones(2), first=start + 70.0, last=start + 83.0,
                                  growth=start + wait)  # fmt: skip
            index = of(cut, fold, of_stages(20.0, 70.0, 90.0, 30.0), told)[0]
        else:
            index = of(cut, fold)[0]
        assert index.tolist() == [0, 365, -1], what  # of the last year it begins on the day after the record


def test_without_a_year_that_is_told_growth_begins_with_the_growing_half():
    site = a_place()
    none = PerennialYears(
        np.array([], dtype=int), site.dates[0], crop=np.array([]), first=np.array([]), last=np.array([]),
        growth=np.array([]),
    )  # fmt: skip
    fold = Fold.of(site)
    index, _ = _in_leaf(site, fold, of_stages(20.0, 70.0, 90.0, 30.0), none)
    begin = span_days(site, fold.years, "growing")[0]
    np.testing.assert_array_equal(index, np.where((begin >= 0) & (begin < site.size), begin, -1))


def test_what_flowers_in_autumn_comes_into_leaf_with_its_flowers():
    site = a_place()
    crop = of_stages(20.0, 70.0, 90.0, 30.0)
    autumn = replace(crop, perennial=replace(crop.perennial, picked_when="autumn"))
    spring = replace(crop, perennial=replace(crop.perennial, picked_when="summer"))
    years = lived(site, 200, 220, growth=10)
    fold = Fold.of(site)
    late, early = (_in_leaf(site, fold, one, years)[0] for one in (autumn, spring))
    both = (late >= 0) & (early >= 0)
    assert set((late - early)[both]) == {190}


def test_a_herb_of_which_little_is_eaten_is_eaten(monkeypatch):
    """Fifty grams a week for a household are no reason to leave it out."""
    site = a_place()
    monkeypatch.setattr(perennials, "standing_crop", lambda site, fold, crop, book, garden: f"a {crop.name}")
    herb = replace(BOOK["rosemary"], garden=replace(BOOK["rosemary"].garden, use_low=0.05, use_high=0.05))
    one = Garden("g", "s", (), household=Household(1))
    assert standing_crops(site, Fold.of(site), [herb], BOOK, one) == (["a rosemary"], [])


def test_litres_are_told_where_rain_is_known_of_some_days_and_of_any_number_of_crops(sallowdene, monkeypatch):
    """Of what is rooted from the start, in beds and orchards, each draws its own."""
    record = sallowdene[0].cut(slice(0, 3 * 365))
    rain = record["pr"].copy()
    rain[5] = np.nan
    some = record.with_values({"pr": rain})
    site = SiteDays.from_record(record)
    seen = []
    real = perennials.season_days
    monkeypatch.setattr(perennials, "season_days", lambda w, basal, *a: seen.extend(basal) or real(w, basal, *a))
    found = with_litres(site, some, [BOOK["asparagus"]], [SimpleVerdict({"lives": 1})])
    assert found[0].answer["litres_per_m2"] > 100
    assert found[0].answer["lives"] == 1
    found = with_litres(site, record, [BOOK["pear"]], [SimpleVerdict({})])
    assert found[0].answer["litres_per_m2"] > 100
    assert [b.stands for b in seen] == [True, True]
    # of a perennial of which nothing can be said no litres are told
    assert with_litres(site, record, [BOOK["pear"]], [SimpleVerdict(None)]) == [SimpleVerdict(None)]
    # a herb by its basal coefficients in a bed, a tree by the single ones of orchards
    assert seen[0].mid == basal_of(BOOK["asparagus"].water, stands=True).mid < BOOK["asparagus"].water.coefficient_mid
    assert seen[1].mid == BOOK["pear"].water.coefficient_mid > basal_of(BOOK["pear"].water, stands=True).mid
