"""Soil, mulch and shade by bed and month, kinds of bed, trees and what reaches over: what each does to water."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest

from sowcal.climate.sun import sun_positions
from sowcal.crops.handbook import handbook
from sowcal.errors import InputError
from sowcal.garden.bed_file import Bed, Mulch, Paths, Tree
from sowcal.garden.bed_ground import (
    between_rows,
    crown_shade,
    fence_length,
    ground_of,
    in_tree_shade,
    noon_shadow,
    roots_near,
    water_of_kind,
)
from sowcal.garden.garden_file import Garden, WaterSupply, bundled_garden, parse_garden
from sowcal.garden.plan import plan_garden
from sowcal.garden.quantities import bed_volumes, kind_words
from sowcal.garden.water_need import garden_need
from sowcal.garden.watering import soaks_in
from sowcal.weather.open_site import open_weather

BEGIN = dt.date(2026, 1, 15)
_TEXT = """
name = "mine"
site = "sallowdene"
crops = ["tomato (large)", "carrot"]
[mulch]
kind = "straw"
cover = 0.5
[paths]
width = 0.5
[[beds]]
name = "a"
length = 8
width = 1
soil = { texture = "clay", depth = 0.4 }
mulch = { from = "Nov", to = "February" }
shade = { Jun = 0.3, july = 0.6 }
[[beds]]
name = "b"
length = 4
width = 1
kind = "raised"
height = 0.3
[[trees]]
name = "ash"
height = 8
crown = 6
side = "west"
beds = { b = 5 }
"""


@cache
def short_record():
    _, record = open_weather("sallowdene")
    return record.cut(slice(0, 5 * 365))


def planned(**change):
    return plan_garden(replace(bundled_garden(), **change), "Sallowdene", short_record(), begin=BEGIN)


def test_a_bed_has_its_own_soil_mulch_and_shade():
    garden = parse_garden(_TEXT, where="here")
    a, b = (ground_of(garden, bed) for bed in garden.beds)
    assert (a.texture, a.depth) == ("clay", 0.4)
    assert (b.texture, b.depth) == ("loam", pytest.approx(0.9))  # 0.6 m of the garden and 0.3 m laid on
    # half of the soil covered leaves three quarters (5 per cent for each 10 of cover), from November to February
    assert a.left == pytest.approx((0.75, 0.75, *(1.0,) * 8, 0.75, 0.75))
    assert b.left == pytest.approx((0.75,) * 12)
    assert a.light == pytest.approx((*(1.0,) * 5, 0.7, 0.4, *(1.0,) * 5))


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('"Nov"', '"Nob"', "names the month 'Nob'"),
        (', to = "February"', "", "go together"),
        ("Jun = 0.3", "Jun = 3", "must lie between 0 and 1"),
        ("beds = { b = 5 }", "beds = { bb = 5 }", "did you mean 'b'"),
        ('side = "west"\n', "", "side is missing"),
        ("crown = 6", "crown = 6\nevergreen = 1", "true or false"),
    ],
)
def test_a_slip_in_the_file_is_one_sentence(old, new, told):
    with pytest.raises(InputError, match=told) as caught:
        parse_garden(_TEXT.replace(old, new), where="here")
    assert "\n" not in str(caught.value)


def test_the_sun_stands_where_it_must():
    # noon of the solstice: 90 - 40 + 23.4 degrees, in the south; sunrise of the equinox due east
    altitude, azimuth = sun_positions(40.0, np.array([171, 80]))
    assert np.rad2deg(altitude[0].max()) == pytest.approx(73.4, abs=0.1)
    assert np.rad2deg(azimuth[0, altitude[0].argmax()]) == pytest.approx(180.0, abs=0.1)
    assert np.rad2deg(azimuth[1, 0]) == pytest.approx(90.0, abs=1.0)
    south, _ = sun_positions(-40.0, np.array([354]))
    assert south.max() == pytest.approx(altitude[0].max(), abs=0.01)
    # a stake of a metre throws cot(50 degrees) at the equinox of 40 degrees
    assert noon_shadow(1.0, 40.0, 80) == pytest.approx(1.0 / math.tan(math.radians(50.0)), abs=0.02)


def test_a_tree_takes_light_where_it_stands_before_the_sun():
    tree = Tree("ash", 8.0, 6.0, "south", (("b", 5.0),), evergreen=True)
    by_month = np.array(crown_shade(tree, 5.0, 40.0))
    assert by_month[11] > by_month[2] > by_month[5] > 0.0  # the lower the sun, the more
    assert max(crown_shade(replace(tree, side="north"), 5.0, 40.0)) < 0.05
    assert crown_shade(tree, 10.0, 40.0) < crown_shade(tree, 5.0, 40.0)
    # east and west are alike, and so are the hemispheres mirrored
    sides = [crown_shade(replace(tree, side=s), 5.0, 40.0) for s in ("east", "west")]
    assert sides[0] == pytest.approx(sides[1], abs=1e-6)
    mirrored = np.array(crown_shade(replace(tree, side="north"), 5.0, -40.0))
    assert mirrored == pytest.approx(np.roll(by_month, 6), abs=0.04)
    bare = crown_shade(replace(tree, evergreen=False), 5.0, 40.0)
    assert bare[6] == pytest.approx(by_month[6])
    assert bare[0] < by_month[0]
    # bare from November to March, in the south from May to September
    for side, latitude, leafless in (("south", 40.0, (10, 11, 0, 1, 2)), ("north", -40.0, (4, 5, 6, 7, 8))):
        ash = replace(tree, side=side)
        ratio = np.divide(*(crown_shade(replace(ash, evergreen=e), 4.0, latitude) for e in (False, True)))
        assert [m for m in range(12) if ratio[m] < 0.99] == sorted(leafless)


@pytest.mark.parametrize(("side", "evergreen"), [("south", True), ("south-west", False), ("north", False)])
@pytest.mark.parametrize(("latitude", "leafy"), [(40.0, range(3, 10)), (-40.0, (9, 10, 11, 0, 1, 2, 3))])
@pytest.mark.parametrize("far", [2.9, 3.0, 5.0])
def test_the_shade_of_a_crown_month_by_month(side, evergreen, latitude, leafy, far):
    """A box 6 m wide and 8 m high before the sun, on days about the middle of each month; 0.6 of the light comes
    straight (from memory), of which leaves let through 0.15 and twigs a half; under the crown all of it is taken."""
    tree = Tree("ash", 8.0, 6.0, side, (("b", far),), evergreen=evergreen)
    middles = (15, 45, 74, 105, 135, 162, 198, 228, 258, 288, 318, 344)
    stands = {"north": 0.0, "south": 180.0, "south-west": 225.0}[side]
    found = crown_shade(tree, far, latitude)
    for month, (height, bearing) in enumerate(zip(*sun_positions(latitude, np.array(middles)), strict=True)):
        taken = there = 0.0
        for high, towards in zip(np.rad2deg(height), np.rad2deg(bearing), strict=True):
            light = max(math.sin(math.radians(high)), 0.0)
            there += light
            aside = min((towards - stands) % 360.0, (stands - towards) % 360.0)
            before = far < 3.0 or (
                aside < math.degrees(math.asin(3.0 / far)) and high < math.degrees(math.atan2(8.0, far - 3.0))
            )
            taken += light * before
        through = 0.15 if evergreen or month in leafy else 0.5
        assert found[month] == pytest.approx(0.6 * (1.0 - through) * taken / there, abs=1e-6)


def test_shades_of_a_bed_and_of_two_trees_come_one_after_another():
    """What the house leaves of the light, the first tree takes its share of, and the second of what is left then."""
    trees = tuple(Tree(name, 8.0, 6.0, "south", (("f", far),)) for name, far in (("ash", 4.0), ("elm", 5.0)))
    bed = Bed("f", 10.0, 1.2, shade=0.2)
    first, second = (np.array(crown_shade(tree, dict(tree.beds)["f"], 40.0)) for tree in trees)
    (found,) = in_tree_shade(Garden("g", "s", (bed,), trees=trees), 40.0).beds
    assert found.month_shade == pytest.approx(1.0 - 0.8 * (1.0 - first) * (1.0 - second))
    assert found.shade == pytest.approx(np.mean(found.month_shade))


@pytest.mark.parametrize(("far", "near"), [(5.05, True), (5.15, False)])
def test_roots_reach_half_as_far_again_as_the_crown(far, near):
    """4.5 m from the trunk of a crown of 6 m; the bed of 10 by 1.2 m begins 0.6 m before its middle."""
    assert roots_near(Tree("ash", 8.0, 6.0, "west", (("f", far),)), Bed("f", 10.0, 1.2)) == near


def test_a_fence_goes_round_beds_and_paths():
    """Beds of 1.2 and 1 m with three paths of half a metre are 3.7 m across; 10 m and a path at either end are 11 m."""
    garden = Garden("g", "s", (Bed("a", 10.0, 1.2), Bed("b", 5.0, 1.0)), paths=Paths(0.5, 0.1))
    assert fence_length(garden) == pytest.approx(2.0 * (3.7 + 11.0))
    assert fence_length(replace(garden, paths=Paths(0.0))) == fence_length(replace(garden, beds=())) == 0.0


def test_shade_mulch_and_soil_of_one_bed_change_its_water_alone():
    supply = WaterSupply(tanks=(5000.0,))
    beds = (Bed("a", 6.0, 1.2), Bed("b", 6.0, 1.2))
    plan = planned(beds=beds, crops=("tomato (large)", "carrot"), counts={}, rain_fed=(), mulch=Mulch(), water=supply)
    placed = [(p.sowing, p.bed, p.area) for p in plan.beds.placings]
    from sowcal.garden.garden_weather import garden_weather

    weather = garden_weather(short_record())

    def monthly(bed):
        garden = replace(plan.garden, beds=(bed, beds[1]))
        need = garden_need(weather, list(plan.sowings), placed, garden)
        return np.median(need.bed_monthly, axis=1)

    before = monthly(beds[0])
    for changed, where in (
        (replace(beds[0], month_shade=(0.0,) * 6 + (0.5,) + (0.0,) * 5), 6),
        (replace(beds[0], mulch=Mulch("straw", 1.0, 0.05, (6,))), 6),
    ):
        after = monthly(changed)
        assert after[0, where] < 0.97 * before[0, where]
        assert after[0, :5] == pytest.approx(before[0, :5])  # what comes before that month is as it was
        assert after[1] == pytest.approx(before[1])
    sandy = monthly(replace(beds[0], texture="sand"))
    assert not np.allclose(sandy[0], before[0], rtol=0.01)
    assert sandy[1] == pytest.approx(before[1])


def test_kinds_of_bed_by_hand():
    raised = Bed("r", 10.0, 1.2, kind="raised", height=0.3)
    # 22.4 m of sides 0.3 m high are 6.72 m2 on 12; three tenths of the water goes from bare soil
    assert water_of_kind(raised) == pytest.approx((1.05, 1.05 + 0.3 * 6.72 / 12.0))
    assert water_of_kind(Bed("f", 10.0, 1.2)) == (1.0, 1.0)
    plain = Garden("g", "s", (Bed("f", 10.0, 1.2),))
    tree = Tree("ash", 8.0, 6.0, "south", (("f", 4.0),))
    # roots reach 4.5 m from the trunk, the bed begins at 3.4; from 7 m on they do not come in
    assert ground_of(replace(plain, trees=(tree,)), plain.beds[0]).more == pytest.approx(1.25)
    far = replace(tree, beds=(("f", 7.0),))
    assert ground_of(replace(plain, trees=(far,)), plain.beds[0]).more == 1.0
    shaded = in_tree_shade(replace(plain, trees=(tree,)), 40.0)
    assert shaded.beds[0].month_shade == pytest.approx(crown_shade(tree, 4.0, 40.0))


def test_volumes_by_hand():
    beds = (Bed("a", 10.0, 1.0), Bed("b", 10.0, 1.0, kind="card", height=0.1))
    garden = Garden("g", "s", beds, compost=20.0, mulch=Mulch("straw", 1.0, 0.06), paths=Paths(0.5, 0.1))
    v = bed_volumes(garden)
    assert (v.compost, v.mulch, v.fill, v.card) == pytest.approx((400.0, 1200.0, 1000.0, 12.0))
    assert v.bales == (2, 3)  # 1,200 litres of 500 to 800 each
    # three paths of 10 m and one of 3.5 m across either end, half a metre wide
    assert v.paths == pytest.approx(0.5 * (30.0 + 7.0))
    assert v.chips == pytest.approx(100.0 * v.paths)
    assert v.barrows == 20
    own = replace(garden, beds=(beds[0], replace(beds[1], mulch=Mulch())))
    assert bed_volumes(own).mulch == pytest.approx(600.0)


def test_what_reaches_beyond_its_part_is_told():
    plan = planned(
        beds=(Bed("a", 6.0, 1.2), Bed("wide", 6.0, 6.0)),
        crops=("fig", "lettuce (leaf)", "sweet corn", "winter squash"),
        counts={"fig": 1, "lettuce (leaf)": 60},
        rain_fed=(),
    )
    told = " ".join(plan.neighbours)
    assert "fig in wide: its roots reach" in told
    assert "vines run 3 m" in told
    assert "tall crops stand at the north end" in told
    fig = next(p for p in plan.beds.placings if plan.sowings[p.sowing].crop.name == "fig")
    near = [p for p in plan.beds.placings if p.bed == fig.bed and p is not fig and p.begin < fig.end + 0.3]
    assert all(plan.sowings[p.sowing].crop.name in told for p in near)


def test_a_quick_crop_between_slow_rows_by_hand():
    plan = planned(beds=(Bed("a", 6.0, 1.2),), crops=("tomato (large)",), counts={"tomato (large)": 10}, rain_fed=())
    (slow,), (placing,) = plan.sowings, plan.beds.placings
    radish = handbook()["radish"]

    def between(days, odds=1.0, crop=radish):
        found = SimpleNamespace(first=np.full((4, 365), float(days)), reliability=np.full(365, odds))
        return between_rows(SimpleNamespace(crop=crop, found=found), plan.sowings, plan.beds, plan.garden, 0.8)

    # FAO-56 Table 11, tomato: 30, 40, 45 and 30 days; the leaves are half way after 50 of 145 days of the plan's stay
    free = 50.0 / 145.0 * np.median(slow.last)
    (one,) = between(int(free) - 7)
    assert (one.sown, one.beside, one.bed) == (slow.start, "tomato (large)", "a")
    assert (one.pulled - one.sown) % 365 == int(free)
    assert (one.closes - one.sown) % 365 == pytest.approx(free, abs=1)
    assert one.metres == pytest.approx(placing.end - placing.begin, abs=0.06)  # one row between, 90 cm apart in 1.2 m
    assert between(int(free) - 5) == ()  # pulled too late
    assert between(20, odds=0.7) == ()
    assert between(20, crop=replace(radish, family=slow.crop.family)) == ()


def test_warmth_of_kinds_is_told_as_measured_and_moves_no_dates():
    """Raised seedbeds 0.4 and 0.8 degC warmer (Hoppe, Mehring & Kandel 2017), ground under residue 0 to 1.5 degC cooler
    (Shen and others 2018): told, and the dates are those of flat and bare ground."""
    few = {"crops": ("carrot", "tomato (large)"), "counts": {}, "rain_fed": ()}
    flat = planned(beds=(Bed("a", 6.0, 1.2),), mulch=Mulch(), **few)
    raised = planned(beds=(Bed("a", 6.0, 1.2, kind="raised", height=0.3),), mulch=Mulch("straw"), **few)
    assert [(s.crop.name, s.way, s.start) for s in raised.sowings] == [
        (s.crop.name, s.way, s.start) for s in flat.sowings
    ]
    assert kind_words(flat.garden) == []
    told = " ".join(kind_words(raised.garden))
    assert "0.4 and 0.8 degC warmer" in told
    assert "0 to 1.5 degC at 10 cm" in told
    assert told.count("No date here is moved") + told.count("the dates here are kept") == 2
    # it is filled once, before its first start, and bought before it is filled
    (done,) = (j for j in raised.diary if j.job == "prepare bed")
    assert done.amount == pytest.approx(6.0 * 1.2 * 300.0)
    assert done.date <= min(j.date for j in raised.diary if j.job in ("sow outdoors", "set out"))
    assert any(j.job == "buy" and j.bed == "a" and j.amount == done.amount for j in raised.diary)


def test_the_rate_of_the_lines_is_held_against_the_tightest_soil_of_the_beds():
    garden = replace(bundled_garden(), beds=(Bed("a", 6.0, 1.2), Bed("b", 6.0, 1.2, texture="clay")))
    # 2 l/h each 0.3 m on lines 0.4 m apart are 16.7 mm an hour
    rate, intake, texture = soaks_in(garden, 2.0)
    assert rate == pytest.approx(2.0 / 0.12)
    assert texture == "clay"
    assert intake < soaks_in(replace(garden, beds=garden.beds[:1]), 2.0)[1]
