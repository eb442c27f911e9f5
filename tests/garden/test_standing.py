"""Perennials of the garden: their bed all year, their picking and their water, by hand and by common practice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sowcal.crops.handbook import handbook
from sowcal.garden.beds import allot_beds
from sowcal.garden.garden_file import Bed, Garden, Household, Mulch, bundled_garden
from sowcal.garden.garden_weather import garden_weather
from sowcal.garden.perennials import standing_crop, with_litres
from sowcal.garden.plan import plan_garden
from sowcal.garden.plants import weeks_for_table
from sowcal.garden.schedule import LeftOut
from sowcal.garden.soil_water import basal_of
from sowcal.garden.water_need import efficiency, garden_need
from sowcal.outputs.garden_document import bed_lines
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
