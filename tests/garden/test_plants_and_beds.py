"""Plants for a household, their beds, and what does not fit."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sowcal.crops.handbook import handbook
from sowcal.crops.tables import Crop
from sowcal.crops.tables import Garden as GardenRow
from sowcal.garden.beds import allot_beds, month_shares, rotation_notes
from sowcal.garden.garden_file import Bed, Household
from sowcal.garden.plants import area_of, eaten_shares, plants_for, surplus_share, way_outcome, weekly_use
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
