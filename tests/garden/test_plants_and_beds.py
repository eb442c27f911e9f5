"""Plants for a household, their beds, and what does not fit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sowcal.crops.handbook import handbook
from sowcal.crops.tables import Crop, Growth
from sowcal.crops.tables import Garden as GardenRow
from sowcal.garden.beds import (
    BedPlan,
    Move,
    Placing,
    allot_beds,
    month_shares,
    rotation_moves,
    rotation_notes,
    waits_of_moves,
)
from sowcal.garden.garden_file import Bed, Household
from sowcal.garden.plants import (
    PlantCount,
    area_of,
    brought_by_week,
    eaten_shares,
    plants_for,
    surplus_share,
    wanted_by_week,
    way_outcome,
    weekly_use,
    weeks_for_table,
    yield_per_plant,
)
from sowcal.garden.quantities import hand_watering
from sowcal.garden.schedule import Sowing
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.annuals import way_result
from sowcal.suitability.windows import Fold

_ROW = GardenRow(100, 100, 1.0, 3.0, use_low=0.5, use_high=2.0, keeps="dried", keeps_weeks=0.0, gap_years=3)


def _sowing(crop="a", start=100, days=60, count=10, area=5.0, family="F", keep_out="", reliability=1.0):
    row = GardenRow(100 * area / count, 100, gap_years=3, not_after=keep_out)
    years = np.full(3, float(days))
    curve = np.ones((3, 4)) / 4.0
    plants = plants_for(
        curve, GardenRow(100, 100, 1, 1, use_low=1, use_high=1, keeps_weeks=0), Household(1), crop, count
    )
    return Sowing(
        crop=Crop(crop, family=family, garden=row),
        way="set out",
        start=start,
        first=years / 2,
        last=years,
        index=np.array([start, start + 365, start + 730]),
        reliability=reliability,
        yield_fraction=1.0,
        advised=True,
        plants=plants,
        area=area,
    )


def test_use_by_taste():
    house = Household(2, {"x": "less", "y": "more", "z": "none"})
    assert weekly_use(_ROW, house, "x") == 1.0
    assert weekly_use(_ROW, house, "y") == 4.0
    assert weekly_use(_ROW, house, "w") == pytest.approx(2.0)  # geometric mean of 0.5 and 2 each
    assert weekly_use(_ROW, house, "z") == 0.0
    assert weekly_use(_ROW, Household(1, {"pea": "less"}), "pea (snow)") == 0.5  # a kind stands for its types


def test_picking_against_eating_by_hand():
    # 3, 1, 0 kg picked, 1 kg eaten a week: without keeping 2 kg are lost; a week's keeping saves one of them
    curve = np.array([[3.0, 1.0, 0.0]])
    assert eaten_shares(curve, 1.0, 0.0)[1][0] == pytest.approx(2.0)
    assert eaten_shares(curve, 1.0, 1.0)[1][0] == pytest.approx(2.0 - 1.0 + 0.0 + 0.0, abs=1e-12)
    assert eaten_shares(curve, 1.0, 9.0)[1][0] == 0.0


@given(
    st.lists(st.floats(0.0, 10.0), min_size=1, max_size=20),
    st.floats(0.0, 5.0),
    st.floats(0.0, 30.0),
    st.integers(1, 5),
)
def test_nothing_picked_is_lost_from_sight_and_more_plants_leave_more(curve, use, keeps, times):
    picked = np.array([curve])
    eaten, lost = eaten_shares(picked, use, keeps)
    assert eaten[0] + lost[0] == pytest.approx(picked.sum())
    assert surplus_share(times * picked, use, keeps) >= surplus_share(picked, use, keeps) - 1e-9


def test_six_plants_where_two_will_do():
    # 2 kg a plant in a full season over ten weeks is 0.2 kg a week; two people eat 0.4 kg a week
    row = GardenRow(100, 100, 1.0, 3.0, use_low=0.2, use_high=0.2, keeps_weeks=0.0)
    found = plants_for(np.full((5, 10), 0.1), row, Household(2), "courgette", 6)
    assert found.will_do == 2
    assert found.surplus == pytest.approx(2.0 / 3.0)
    assert found.times_eaten == pytest.approx(3.0)
    assert plants_for(np.full((5, 10), 0.1), row, Household(2), "courgette").count == 2


def test_a_poor_season_takes_more_plants_than_the_book_says():
    row = GardenRow(100, 100, 2.0, 2.0, use_low=1, use_high=1, keeps_weeks=0.0)
    good = plants_for(np.full((5, 10), 0.1), row, Household(4), "x").count
    poor = plants_for(np.full((5, 10), 0.05), row, Household(4), "x").count
    assert poor == pytest.approx(2 * good, abs=2)


def test_a_squash_runs_over_square_metres():
    # common practice: a winter squash takes a square metre and more
    assert area_of(GardenRow(150, 100), 1) == 1.5
    assert area_of(GardenRow(), 10) == pytest.approx(0.9)


def test_months_that_a_span_takes():
    np.testing.assert_allclose(month_shares(0, 30), [1] + [0] * 11)
    over = month_shares(350, 14)
    assert over[11] == pytest.approx(15 / 31)
    assert over[0] == pytest.approx(15 / 31)
    assert month_shares(10, 9) == pytest.approx(np.ones(12))


def test_no_beds_one_bed_a_hundred():
    wished = [_sowing("a"), _sowing("b", start=200)]
    nothing = allot_beds(wished, ())
    assert nothing.placings == ()
    assert {x.why for x in nothing.left_out} == {"there are no beds"}
    assert allot_beds([], (Bed("x", 1, 1),)).placings == ()
    one = allot_beds(wished, (Bed("x", 5, 1),))
    assert sum(p.count for p in one.placings) == 20
    many = allot_beds(wished, tuple(Bed(f"x{k}", 1, 1) for k in range(100)))
    assert sum(p.count for p in many.placings) == 20
    assert not many.left_out


def test_what_does_not_fit_is_told_and_why():
    plan = allot_beds([_sowing("a"), _sowing("b")], (Bed("x", 7, 1),))
    assert sum(p.count for p in plan.placings) == 14
    assert len(plan.left_out) == 1
    assert "do not fit" in plan.left_out[0].why
    assert "full in" in plan.left_out[0].why


def test_the_first_sowing_of_a_crop_goes_before_the_second_of_another():
    rows = [_sowing("a"), _sowing("a", reliability=0.9), _sowing("b", reliability=0.8)]
    plan = allot_beds(rows, (Bed("x", 10, 1),))
    assert sorted(p.sowing for p in plan.placings) == [0, 2]


@settings(deadline=None, max_examples=20)
@given(st.integers(0, 1000))
def test_no_bed_is_overfull_in_any_month(seed):
    rng = np.random.default_rng(seed)
    rows = [
        _sowing(
            f"c{k % 5}",
            int(rng.integers(365)),
            int(rng.integers(20, 200)),
            int(rng.integers(1, 40)),
            rng.uniform(0.5, 9),
        )
        for k in range(12)
    ]
    beds = tuple(Bed(f"b{k}", float(rng.uniform(1, 6)), 1.2, float(rng.random())) for k in range(4))
    plan = allot_beds(rows, beds)
    assert (plan.used <= np.array([b.area for b in beds])[:, None] + 1e-6).all()
    for i, row in enumerate(rows):
        assert sum(p.count for p in plan.placings if p.sowing == i) <= row.plants.count


def test_a_family_that_fills_every_bed_is_told():
    beds = (Bed("x", 5, 1), Bed("y", 5, 1))
    plan = allot_beds([_sowing("a", area=10.0)], beds)
    notes = rotation_notes([_sowing("a", area=10.0)], plan, beds)
    assert "F (2 of 2 beds; 0 of 3 years)" in notes[0]
    wide = tuple(Bed(f"b{k}", 5, 1) for k in range(4))
    small = [_sowing("a", area=5.0)]
    assert rotation_notes(small, allot_beds(small, wide), wide) == []


def test_minutes_by_hand():
    # 400 litres a day: 40 cans of 10 litres at 2.5 minutes, or 400 / 20 by hose
    found = hand_watering(np.array([0.0, 100.0, 400.0]), 20.0)
    assert found.can[2] == pytest.approx(100.0)
    assert found.hose[2] == pytest.approx(20.0)
    assert (found.can_stops, found.hose_stops) == (3, None)


@pytest.mark.parametrize("name", ["onion (short-day)", "carrot", "courgette", "pea (shelling)"])
def test_the_garden_sows_in_the_windows_of_the_chart(name):
    """Day length, succession and time in the bed are judged alike: a bulb, a hardy, a tender and a wintering crop."""
    day = np.arange(8 * 365)
    mean = 15.0 + 8.0 * np.sin(2.0 * np.pi * (day - 110) / 365.0)
    site = SiteDays(mean - 5.0, mean + 5.0, np.datetime64("2001-01-01"), 38.0)
    fold, crop = Fold.of(site), handbook()[name]
    for way in crop.ways:
        chart, garden = way_result(site, fold, crop, way), way_outcome(site, fold, crop, way)
        assert garden.windows == chart.windows
        assert garden.possible == chart.possible
    assert any(way_result(site, fold, crop, way).windows for way in crop.ways)


def test_south_of_the_equator_carrying_stops_before_new_year():
    # weeks 48 to 52 and 1 to 8 ask for 40 cans a day; counted from July the 48th is the first of them, not the first
    daily = np.zeros(52)
    daily[47:] = daily[:8] = 400.0
    assert hand_watering(daily, 20.0, first=26).can_stops == 48
    assert hand_watering(daily, 20.0).can_stops == 1


# --- by hand ---


def test_what_keeps_is_eaten_as_in_its_season_only_where_it_is_a_store():
    def weeks(keeps, n=20.0):
        return weeks_for_table(GardenRow(keeps=keeps, keeps_weeks=n))

    assert weeks("fresh in store") == weeks("in the ground") == weeks("bottled|in the ground") == 20.0
    assert weeks("salted|bottled") == weeks("dried") == weeks("dried|frozen") == 20.0
    assert weeks("dried|bottled") == weeks("bottled") == weeks("frozen|dried") == weeks("") == 0.0
    assert weeks("fresh in store", float("nan")) == 0.0


def test_yield_and_area_of_a_plant():
    assert yield_per_plant(GardenRow(yield_per_plant_low=1.0, yield_per_plant_high=3.0)) == 2.0
    assert np.isnan(yield_per_plant(GardenRow(yield_per_plant_low=1.0)))
    assert area_of(GardenRow(50, 40), 3) == pytest.approx(0.6)
    assert area_of(GardenRow(50, float("nan")), 1) == pytest.approx(0.15)  # 30 cm where it is not known


def test_what_is_left_over_is_the_share_of_all_years():
    """5 kg in one year, 1 kg in the other, of which 1 kg is eaten: 4 of 6 are lost."""
    assert surplus_share(np.array([[5.0], [1.0]]), 1.0, 0.0) == pytest.approx(4 / 6)
    assert surplus_share(np.zeros((2, 3)), 1.0, 0.0) == 0.0
    # eaten in week 1: 1, in week 2: 2 of what has kept
    eaten, lost = eaten_shares(np.array([[4.0, 0.0]]), np.array([1.0, 2.0]), 2.0)
    assert (eaten[0], lost[0]) == (3.0, 1.0)  # of 3 kg left 2 may be kept; 2 are eaten the week after


def test_no_more_plants_than_leave_a_tenth():
    """0.1 kg a week and plant, 1 kg eaten: ten plants, and an eleventh leaves a part in eleven."""
    row = GardenRow(30, 30, 1.0, 1.0, use_low=1.0, use_high=1.0, keeps_weeks=0.0)
    found = plants_for(np.full((2, 10), 0.1), row, Household(1), "x")
    assert found.count == found.will_do == 11
    assert found.surplus == pytest.approx(1 / 11)
    assert found.picked == pytest.approx(11.0)
    assert found.times_eaten == pytest.approx(1.1)


def test_of_large_plants_the_last_is_not_grown_for_a_week_or_two():
    """One brings 0.5 kg a week, and 0.6 of 1.1 kg feeds the house: one does not, two do; small ones may be more."""
    curve = np.full((2, 10), 0.05)
    large = GardenRow(100, 75, 10.0, 10.0, use_low=1.1, use_high=1.1, keeps_weeks=0.0)
    assert plants_for(curve, large, Household(1), "x").will_do == 2
    assert plants_for(curve * 2, large, Household(1), "x").will_do == 1  # a kg a week: the one that feeds
    peaked = np.array([[0.3, 0.3, 0.05, 0.05, 0.05]] * 2)
    assert plants_for(peaked, replace(large, use_low=9.0, use_high=9.0), Household(1), "x").will_do == 2
    small = replace(large, plant_spacing=74)
    assert plants_for(peaked, replace(small, use_low=9.0, use_high=9.0), Household(1), "x").will_do == 3


def test_where_others_bring_enough_nothing_more_is_wanted():
    row = GardenRow(30, 30, 1.0, 1.0, use_low=1.0, use_high=1.0, keeps_weeks=0.0)
    curve = np.full((2, 4), 0.1)
    met = np.zeros(52)
    met[10:14] = 0.49
    assert plants_for(curve, row, Household(1), "x", start=70, met=met).count == 5  # 0.51 kg a week are wanted
    met[10:14] = 0.51
    assert plants_for(curve, row, Household(1), "x", start=70, met=met) == PlantCount(0, 0, 0.0, 0.0, 0.0)
    assert plants_for(curve, row, Household(1), "x", start=140, met=met).count == 11
    assert wanted_by_week(1.0, 76, met, 5).tolist() == pytest.approx([0.49, 0.49, 0.49, 0.49, 1.0])
    met[51], met[0] = 0.2, 3.0
    assert wanted_by_week(1.0, 51 * 7, met, 2).tolist() == [0.8, 0.0]  # over New Year, and no less than nothing


def test_what_a_sowing_brings_is_shared_out_over_the_weeks_that_it_keeps():
    row = GardenRow(yield_per_plant_low=1.0, yield_per_plant_high=3.0, keeps="fresh in store", keeps_weeks=2.0)
    share = np.array([[0.0, 0.6], [0.0, 0.3]])
    out = brought_by_week(share, row, 5, 350)  # week 50, picked in the 51st: 5 plants of 2 kg, 0.45 of it
    assert out[[51, 0, 1]] == pytest.approx([1.5] * 3)
    assert out.sum() == pytest.approx(4.5)
    assert brought_by_week(share, replace(row, keeps=""), 5, 350)[51] == pytest.approx(4.5)
    assert brought_by_week(np.zeros((0, 2)), row, 5, 350).sum() == 0.0
    assert brought_by_week(share, GardenRow(), 5, 350).sum() == 0.0


def test_nothing_picked_is_no_plants():
    row = GardenRow(30, 30, 1.0, 1.0, use_low=1.0, use_high=1.0)
    assert plants_for(np.zeros((2, 4)), row, Household(1), "x", 7) == PlantCount(7, 0, 0.0, 0.0, 0.0)
    assert plants_for(np.zeros((2, 4)), row, Household(1), "x") == PlantCount(0, 0, 0.0, 0.0, 0.0)
    unloved = plants_for(np.full((2, 4), 0.1), row, Household(1, {"x": "none"}), "x", 2)
    assert (unloved.will_do, unloved.surplus, unloved.times_eaten) == (0, 1.0, float("inf"))


def stands(sowing):
    """The same as what lives for years."""
    return replace(sowing, leaf=(np.zeros(3), np.full(3, 200.0)))


def test_two_families_at_most_stand_in_a_bed_at_once():
    rows = [_sowing(n, area=1.0, family=f) for n, f in (("a", "F"), ("b", "G"), ("c", "H"))]
    plan = allot_beds(rows, (Bed("x", 10, 1),))
    assert len(plan.placings) == 2
    assert len(allot_beds(rows, (Bed("x", 10, 1), Bed("y", 10, 1))).placings) == 3
    later = [*rows[:2], replace(rows[2], start=170)]
    assert len(allot_beds(later, (Bed("x", 10, 1),)).placings) == 3  # one after another they may


def test_parts_are_taken_from_the_far_end_by_the_low_and_from_the_near_end_by_the_tall():
    low, tall = _sowing("a", area=2.0), _sowing("b", area=3.0)
    tall = replace(tall, crop=replace(tall.crop, garden=replace(tall.crop.garden, support="poles")))
    plan = allot_beds([low, tall], (Bed("x", 10, 1),))
    found = {p.sowing: (p.begin, p.end) for p in plan.placings}
    assert found == {0: (8.0, 10.0), 1: (0.0, 3.0)}
    assert plan.used[0, 4] == pytest.approx(5.0)  # May
    assert plan.used_in_all[4] == pytest.approx(5.0)
    assert plan.needed[4] == pytest.approx(5.0)
    assert (plan.there, plan.left_out) == (10.0, ())


def test_a_crop_after_another_takes_its_part():
    first, second = _sowing("a", 0, 50, area=8.0), _sowing("b", 60, 50, area=8.0)
    plan = allot_beds([first, second], (Bed("x", 8, 1),))
    assert len(plan.placings) == 2
    at_once = allot_beds([first, replace(second, start=40)], (Bed("x", 8, 1),))
    assert len(at_once.placings) == 1


def test_sun_before_shade_and_leaves_into_the_shade():
    dark, light = Bed("dark", 5, 1, 0.5), Bed("light", 5, 1, 0.0)
    (placing,) = allot_beds([_sowing()], (dark, light)).placings
    assert placing.bed == 1
    (placing,) = allot_beds([_sowing()], (replace(dark, shade=0.0), light)).placings
    assert placing.bed == 0  # the first of two alike


def test_families_keep_together_where_there_is_a_choice():
    rows = [_sowing("a", area=2.0), _sowing("b", area=1.0, family="G"), _sowing("c", area=0.5)]
    plan = allot_beds(rows, (Bed("x", 5, 1), Bed("y", 5, 1)))
    beds = {p.sowing: p.bed for p in plan.placings}
    assert beds[0] == beds[2] != beds[1]


def test_a_tree_wants_half_its_spacing_across_the_bed():
    tree = stands(_sowing("pear", count=1, area=9.0))  # 9 m by 1 m: a square of 3 m
    assert len(allot_beds([tree], (Bed("x", 10, 1.5),)).placings) == 1
    refused = allot_beds([tree], (Bed("x", 10, 1.4),))
    assert refused.placings == ()
    assert "one plant takes 9 m2 and no bed has so much room" in refused.left_out[0].why
    herb = stands(_sowing("mint", count=10, area=9.0))
    assert len(allot_beds([herb], (Bed("x", 20, 0.5),)).placings) == 1


def test_what_lives_for_years_gives_way_to_what_feeds_the_house():
    def of(name, household, area, **more):
        row = _sowing(name, area=area, **more)
        return replace(row, crop=replace(row.crop, garden=replace(row.crop.garden, household=household)))

    staples = [of(n, "most", 2.0, family=f) for n, f in (("a", "F"), ("b", "G"))]
    vine = stands(of("vine", "some", 8.0, family="V"))
    plan = allot_beds([*staples, vine], (Bed("x", 10, 1),))
    assert {p.sowing for p in plan.placings} == {0, 1}
    assert "its 8.0 m2 all year would push out what feeds the house" in plan.left_out[0].why
    assert {p.sowing for p in allot_beds([*staples, vine], (Bed("x", 10, 1), Bed("y", 8, 1))).placings} == {0, 1, 2}


def test_too_few_of_a_sowing_are_not_worth_a_part():
    """A bed with room for a plant or two of many is passed over; what little lacks is not told."""
    plan = allot_beds([_sowing(count=100, area=50.0)], (Bed("x", 0.9, 1),))
    assert sum(p.count for p in plan.placings) in (0, 1)
    assert len(plan.left_out) == 1
    assert "100 plants" in plan.left_out[0].why
    (left,) = allot_beds([_sowing(count=1, area=5.0), _sowing("b", count=1, area=5.0)], (Bed("x", 5, 1),)).left_out
    assert left.why.startswith("the plant of 11 April does not fit")


@pytest.mark.parametrize(("beds", "rest"), [(3, "1 of 3 years"), (4, "2 of 3 years"), (5, None)])
def test_years_that_a_bed_rests_from_a_family(beds, rest):
    """A family in one bed of four comes back after three years, if it moves on every year."""
    there = tuple(Bed(f"b{k}", 5, 1) for k in range(beds))
    rows = [_sowing("a", area=5.0)]
    rows[0] = replace(rows[0], crop=replace(rows[0].crop, garden=replace(rows[0].crop.garden, gap_years=3)))
    notes = rotation_notes(rows, allot_beds(rows, there), there)
    told = f"F (1 of {beds} beds; {beds - 1} of 3 years)"
    assert notes == ([] if beds - 1 >= 3 else [f"moved on every year, beds rest too briefly from families: {told}"])
    assert (rest is None) or beds < 5


@pytest.mark.parametrize(("wait", "told"), [(119, True), (120, False)])
def test_a_bad_follower_within_four_months_is_told(wait, told):
    first, second = _sowing("a", 10, 50, area=5.0), _sowing("b", 60 + wait, 50, area=5.0, keep_out="F | x", family="G")
    beds = tuple(Bed(f"b{k}", 5, 1) for k in range(1))
    rows = [first, second]
    notes = [n for n in rotation_notes(rows, allot_beds(rows, beds), beds) if "follows its own kind" in n]
    assert notes == (
        ["within the year a family follows its own kind; give it the other end of the bed (b0: G)"] if told else []
    )


def test_beds_of_one_size_change_places_so_that_families_rest():
    """Four beds of which two hold the same family: moved on by one or by three it would come back next year."""
    rows = [_sowing("a", area=5.0), _sowing("b", area=5.0, family="G"), _sowing("c", area=5.0, family="H"),
            stands(_sowing("m", area=5.0, family="M"))]  # fmt: skip
    beds = (*(Bed(f"b{k}", 5, 1) for k in range(4)), Bed("large", 6, 1))
    plan = allot_beds(rows, beds)
    moves = rotation_moves(rows, plan, beds)
    where = {p.sowing: p.bed for p in plan.placings}
    for move in moves:
        assert move.takes[0] == move.bed
        if move.bed in (where[3], 4):
            assert set(move.takes) == {move.bed}  # a perennial stays, and a bed of another size
    moving = [m for m in moves if len(set(m.takes)) > 1]
    assert len(moving) == 3 - (where[3] == 4) + (where[3] == 4)
    for year in range(4):
        assert len({m.takes[year] for m in moves}) == len(beds)
    for move in moving:
        met = [set(f) for f in move.families[:3]]
        assert all(not met[a] & met[b] for a in range(3) for b in range(a))


def test_months_of_need_are_those_of_the_sowings():
    """Ten square metres for sixty days from 11 April, and five for thirty from 1 June."""
    rows = [_sowing("a", 100, 60, area=10.0), _sowing("b", 151, 29, area=5.0)]
    plan = allot_beds(rows, (Bed("x", 20, 1),))
    assert plan.needed[[3, 4]] == pytest.approx([10.0 * 20 / 30, 10.0])
    assert plan.needed[5] == pytest.approx(10.0 * 10 / 30 + 5.0, abs=0.2)
    assert plan.daily.shape == (1, 365)
    assert plan.daily[0, 100] == 10.0
    assert plan.daily[0, 99] == 0.0


@pytest.mark.parametrize(("gap", "told"), [(0.5, False), (1.0, True)])
def test_a_family_that_wants_a_year_of_rest_is_told_and_less_is_none(gap, told):
    rows = [_sowing("a", area=5.0)]
    rows[0] = replace(rows[0], crop=replace(rows[0].crop, garden=replace(rows[0].crop.garden, gap_years=gap)))
    beds = (Bed("x", 5, 1),)
    assert bool(rotation_notes(rows, allot_beds(rows, beds), beds)) == told


def test_the_width_that_a_tree_wants_to_the_centimetre():
    """Four metres between trees: two across the bed; a bush of less than the least stands anywhere."""
    tree = stands(_sowing("pear", count=1, area=16.0))
    assert len(allot_beds([tree], (Bed("x", 16, 2.0),)).placings) == 1
    assert allot_beds([tree], (Bed("x", 16, 1.99),)).placings == ()


@pytest.mark.parametrize(("herb", "placed"), [(0.48, 5), (0.53, 0)])
def test_half_a_bed_is_worth_its_place_to_a_large_sowing(herb, placed):
    """Five of a hundred plants are a crumb, but half a square metre of one; 0.45 m2 left are none."""
    rows = [stands(_sowing("herb", count=1, area=herb)), _sowing("big", count=100, area=10.0, family="G")]
    plan = allot_beds(rows, (Bed("x", 1, 1),))
    assert sum(p.count for p in plan.placings if p.sowing == 1) == placed


def test_one_part_in_ten_left_over_to_the_last_bit_is_no_plant_too_many():
    """Two plants bring 20 kg of which 18 are eaten; of twelve plants of a kg 10.8."""
    row = GardenRow(30, 30, 10.0, 10.0, use_low=18.0, use_high=18.0, keeps_weeks=0.0)
    assert plants_for(np.ones((1, 1)), row, Household(1), "x").will_do == 2
    twelve = plants_for(np.ones((1, 1)), replace(row, use_low=108.0, use_high=108.0), Household(1), "x")
    assert (twelve.will_do, twelve.surplus) == (12, pytest.approx(0.1))


def test_no_garden_has_more_plants_of_a_crop_than_can_be_counted():
    """Grains of a milligram each for a house that eats a tonne a week."""
    row = GardenRow(5, 5, 1e-6, 1e-6, use_low=1000.0, use_high=1000.0, keeps_weeks=0.0)
    assert plants_for(np.full((1, 4), 0.25), row, Household(1), "x").will_do == 20_000


def test_a_week_with_half_of_the_best_picking_is_one_of_full_picking():
    """0.9 and 0.45 kg in two weeks in which 2 kg are eaten: 0.6 of 4 kg takes two plants, of 2 kg one would do."""
    large = GardenRow(100, 100, 1.0, 1.0, use_low=2.0, use_high=2.0, keeps_weeks=0.0)
    assert plants_for(np.array([[0.9, 0.45]]), large, Household(1), "x").will_do == 2
    assert plants_for(np.array([[0.9, 0.44]]), large, Household(1), "x").will_do == 1


def test_years_that_are_picked_in_other_weeks_count_alike():
    row = GardenRow(30, 30, 1.0, 1.0, use_low=1.0, use_high=1.0, keeps_weeks=0.0)
    found = plants_for(np.array([[0.0, 0.5, 0.0], [0.0, 0.0, 0.5]]), row, Household(1), "x", 4)
    assert (found.picked, found.surplus) == (2.0, 0.5)  # of two kg in a week of each year one is eaten


def test_a_sowing_takes_its_place_and_its_water_from_its_start_to_its_last_picking():
    """Sixty days on the place is free; what lives for years keeps it, and draws for its days in leaf."""
    row = _sowing(start=340, days=60)
    assert row.place_taken == (340, 35)
    index, length = row.water_days
    assert index.tolist() == [340, 705, 1070]
    assert length.tolist() == [61.0] * 3
    assert stands(row).place_taken == (0, 364)
    assert [x.tolist() for x in stands(row).water_days] == [[0.0] * 3, [200.0] * 3]


# --- parts of a bed by hand ---


def tall(sowing):
    return replace(sowing, crop=replace(sowing.crop, garden=replace(sowing.crop.garden, support="poles")))


def parts_of(*sowings, metres=10):
    return {p.sowing: (p.begin, p.end) for p in allot_beds(list(sowings), (Bed("x", metres, 1),)).placings}


@pytest.mark.parametrize(
    ("begin", "placed"), [(51, 2), (50, 1), (49, 1), (364, 2), (0, 1)],
)  # fmt: skip
def test_a_metre_is_free_from_the_day_after_the_last_picking(begin, placed):
    """One crop stands from day 0 to day 50, both within; another that takes the whole bed follows on day 51."""
    rows = [_sowing("a", 0, 50, area=8.0), _sowing("b", begin, 0 if begin == 364 else 30, area=8.0)]
    assert len(parts_of(*rows, metres=8)) == placed


@pytest.mark.parametrize(("begin", "placed"), [(36, 2), (35, 1), (10, 1), (339, 1), (309, 2), (310, 1)])
def test_a_metre_is_free_after_the_last_picking_over_new_year(begin, placed):
    """One stands from day 340 to day 35 of the next year; another for 31 days."""
    rows = [_sowing("a", 340, 60, area=8.0), _sowing("b", begin, 30, area=8.0)]
    assert len(parts_of(*rows, metres=8)) == placed
    both = [_sowing("a", 340, 60, area=8.0), _sowing("b", 350, 60, area=8.0)]
    assert len(parts_of(*both, metres=8)) == 1


def staple(sowing):
    return replace(sowing, crop=replace(sowing.crop, garden=replace(sowing.crop.garden, household="most")))


def test_the_largest_free_part_takes_a_crop():
    """Three metres at the far end are free again on day 60, five of the near end always."""
    rows = [staple(_sowing("a", 0, 50, area=3.0)), staple(_sowing("b", 0, 200, area=2.0, family="G"))]
    assert parts_of(*rows, _sowing("c", 60, 50, area=4.5)) == {0: (7.0, 10.0), 1: (5.0, 7.0), 2: (0.5, 5.0)}
    assert parts_of(*rows, _sowing("c", 60, 50, area=2.5))[2] == (7.5, 10.0)  # what finds room at the far end


def test_nothing_tall_stands_on_the_sunny_side_of_what_is_not():
    """Metres from the shady end: low crops from 2 to 5 and from 8 to 10, between them three metres free from day 60."""
    low = [_sowing("a", 0, 200, area=2.0), _sowing("b", 0, 50, area=3.1), _sowing("c", 0, 200, area=3.0)]
    low = [replace(staple(one), area=area) for one, area in zip(low, (3.4, 3.2, 3.1), strict=True)]
    assert parts_of(*low) == {0: (8.0, 10.0), 1: (4.9, 8.0), 2: (1.9, 4.9)}
    late = parts_of(*low, tall(_sowing("d", 60, 50, area=2.5, family="G")))
    assert 3 not in late or late[3][1] <= 1.9
    first, after = tall(_sowing("t", 0, 300, area=3.0)), staple(_sowing("u", 10, 100, area=1.5))
    assert parts_of(first, after) == {0: (0.0, 3.0), 1: (8.5, 10.0)}
    # a low crop stands on the sunny side of all that is tall
    two = [tall(staple(_sowing("t", 0, 50, area=3.0))), tall(_sowing("s", 0, 300, area=2.0)), _sowing("u", 60, 50)]
    assert parts_of(*two) == {0: (0.0, 3.0), 1: (3.0, 5.0), 2: (5.0, 10.0)}


def test_of_what_fits_the_large_goes_first_and_of_what_does_not_the_small():
    """The first has the far end."""
    small, large = _sowing("a", area=2.0), _sowing("b", area=5.0)
    assert parts_of(small, large) == {1: (5.0, 10.0), 0: (3.0, 5.0)}
    assert parts_of(small, replace(large, area=9.0), metres=10)[0] == (8.0, 10.0)


def test_parts_are_measured_off_to_five_centimetres_and_told_with_their_area():
    (placing,) = allot_beds([_sowing(count=7, area=2.31)], (Bed("x", 10, 1),)).placings
    assert (placing.begin, placing.end, placing.count) == (pytest.approx(7.65), 10.0, 7)
    assert placing.area == pytest.approx(2.31)
    (whole,) = allot_beds([_sowing(area=2.0)], (Bed("x", 10, 1),)).placings
    assert (whole.begin, whole.end) == (8.0, 10.0)


def test_a_bed_that_takes_all_goes_before_one_that_takes_some_and_of_these_the_roomier():
    beds = (Bed("a", 6, 1), Bed("b", 10, 1))
    assert [p.bed for p in allot_beds([_sowing(area=5.0)], beds).placings] == [0]  # the first that takes all
    assert [p.bed for p in allot_beds([_sowing(area=8.0)], beds).placings] == [1]
    split = allot_beds([_sowing(count=12, area=12.0)], (Bed("a", 3, 1), Bed("b", 7, 1), Bed("c", 4, 1))).placings
    assert {p.bed: p.count for p in split} == {1: 7, 2: 4} or {p.bed: p.count for p in split} == {0: 1, 1: 7, 2: 4}


@pytest.mark.parametrize(("shade", "bed"), [(0.14, 0), (0.16, 1)])
def test_beds_are_alike_whose_shade_is_to_a_tenth(shade, bed):
    dark, light = Bed("a", 5, 1, shade), Bed("b", 5, 1, 0.1)
    (placing,) = allot_beds([_sowing()], (dark, light)).placings
    assert placing.bed == bed
    leaf = _sowing()
    leaf = replace(leaf, crop=replace(leaf.crop, growth=Growth(habit="leaf")))
    (placing,) = allot_beds([leaf], (replace(dark, shade=0.45), replace(light, shade=0.2))).placings
    assert placing.bed == 0  # leaves do as well with three times the shade


@pytest.mark.parametrize(("rain_fed", "bed"), [(True, 1), (False, 0)])
def test_what_lives_on_rain_goes_where_the_soil_holds_most(rain_fed, bed):
    row = replace(_sowing(), rain_fed=rain_fed)
    beds = (Bed("a", 5, 1), Bed("b", 5, 1))
    (placing,) = allot_beds([row], beds, (60.0, 90.0)).placings
    assert placing.bed == bed
    (placing,) = allot_beds([row], beds, (61.0, 64.0)).placings
    assert placing.bed == 0  # alike to ten mm


def test_only_first_sowings_of_staples_make_a_perennial_give_way():
    def of(name, household, area, **more):
        row = _sowing(name, area=area, **more)
        return replace(row, crop=replace(row.crop, garden=replace(row.crop.garden, household=household)))

    vine = stands(of("vine", "some", 8.0, family="V"))
    for others in ([], [of("a", "many", 4.0)], [of("a", "most", 2.0), of("a", "most", 2.0, reliability=0.9)]):
        plan = allot_beds([vine, *others], (Bed("x", 10, 1),))
        assert 0 in {p.sowing for p in plan.placings}, others


@pytest.mark.parametrize(("month", "start", "days"), [(m, s, n) for m, (s, n) in enumerate(
    [(0, 31), (31, 28), (59, 31), (90, 30), (120, 31), (151, 30), (181, 31), (212, 31), (243, 30), (273, 31), (304, 30),
     (334, 31)])])  # fmt: skip
def test_a_crop_that_stands_for_a_month_takes_its_bed_in_that_month_alone(month, start, days):
    plan = allot_beds([_sowing(start=start, days=days - 1, area=5.0)], (Bed("x", 5, 1),))
    assert plan.used[0].tolist() == [5.0 if m == month else 0.0 for m in range(12)]
    assert plan.needed.tolist() == plan.used[0].tolist()


def test_beds_that_are_full_are_told_with_their_month():
    """Four of ten square metres in July; the second would want seven more."""
    first, second = _sowing("a", 181, 30, area=4.0), _sowing("b", 181, 30, area=7.0, reliability=0.9)
    wide = replace(second, plants=replace(second.plants, count=1), area=7.0)
    wide = replace(wide, crop=replace(wide.crop, garden=replace(wide.crop.garden, row_spacing=700.0)))
    (left,) = allot_beds([first, wide], (Bed("x", 10, 1),)).left_out
    assert left.why.startswith("the plant of 1 July does not fit")
    assert left.why.endswith("(all together are 40% full in July)")


def moved(old, new, where=((2.0, 4.0), (2.0, 4.0)), bed=1):
    """What waits in bed x in its second year, when it takes the plan of bed y."""
    rows = [_sowing("old", *old), _sowing("new", *new)]
    placings = tuple(Placing(k, k, 10, 2.0, *span) for k, span in enumerate(where))
    plan = BedPlan(placings, np.zeros(12), 10.0, np.zeros((2, 365)), ())
    moves = (Move(0, (0, bed, 0, 0), ((),) * 4), Move(1, (1, 1, 1, 1), ((),) * 4))
    return waits_of_moves(rows, plan, (Bed("x", 5, 1), Bed("y", 5, 1)), moves)


@pytest.mark.parametrize(
    ("new", "waits"),
    [((10, 60), True), ((34, 60), True), ((35, 60), True), ((36, 60), False), ((300, 60), False), ((300, 20), False)],
)
def test_what_stood_over_new_year_is_waited_for_in_the_second_year(new, waits):
    """From day 340 to day 35, 5 February: what is due before it is gone waits or takes another end."""
    told = moved((340, 60), new)
    day = {10: "11 Jan", 34: "4 Feb", 35: "5 Feb"}.get(new[0])
    assert told == (
        [f"in its second year x holds old to 5 Feb: new of {day} waits for it or takes another end"] if waits else []
    )
    assert moved((340, 60), new, ((2.0, 4.0), (4.0, 6.0))) == []  # beside it
    assert moved((340, 60), new, ((2.0, 4.0), (0.0, 2.0))) == []
    assert bool(moved((340, 60), new, ((2.0, 4.0), (3.9, 6.0)))) == waits
    assert moved((340, 60), new, bed=0) == []  # a bed that stays
    assert moved((100, 60), new) == []  # nothing stood over New Year


def test_two_beds_change_places_and_one_stays():
    rows = [_sowing("a", area=5.0), _sowing("b", area=5.0, family="G")]
    beds = (Bed("x", 5, 1), Bed("y", 5, 1))
    where = {p.sowing: p.bed for p in allot_beds(rows, beds).placings}
    moves = rotation_moves(rows, allot_beds(rows, beds), beds)
    assert [m.takes for m in moves] == [(0, 1, 0, 1), (1, 0, 1, 0)]
    assert moves[where[0]].families == (("F",), ("G",), ("F",), ("G",))
    (alone,) = rotation_moves(rows[:1], allot_beds(rows[:1], beds[:1]), beds[:1])
    assert alone.takes == (0, 0, 0, 0)


def test_what_many_eat_goes_before_what_few_do():
    """Of a bed for one of them."""

    def of(name, household, area):
        row = _sowing(name, area=area)
        return replace(row, crop=replace(row.crop, garden=replace(row.crop.garden, household=household)))

    for first, second in (("most", "many"), ("many", "few"), ("many", "")):
        assert set(parts_of(of("a", second, 5.0), of("b", first, 6.0), metres=6)) == {1}


@pytest.mark.parametrize(("each", "bed"), [(0.9, 0), (1.0, 1), (1.05, 1)])
def test_a_large_plant_that_stands_for_years_keeps_to_the_last_beds(each, bed):
    """From a square metre on; small crops fill the first ones."""
    (placing,) = allot_beds([stands(_sowing("fig", count=1, area=each))], (Bed("a", 5, 1), Bed("b", 5, 1))).placings
    assert placing.bed == bed
