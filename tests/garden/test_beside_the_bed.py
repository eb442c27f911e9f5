"""What reaches beyond its part of a bed, and what finds its time between rows, from made-up placings."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from sowcal.crops.tables import Crop, Growth, Water
from sowcal.crops.tables import Garden as GardenRow
from sowcal.garden.bed_file import Mulch, Tree
from sowcal.garden.bed_ground import (
    between_rows,
    evaporation_left,
    ground_of,
    neighbour_words,
    roots_near,
    water_of_kind,
)
from sowcal.garden.garden_file import Bed, Garden

BEDS = (Bed("b", 10.0, 1.2),)
GARDEN = Garden("g", "s", BEDS)


def sowing(name="x", *, stands=False, taken=(152, 181), height=0.4, habit="once", spacing=(30.0, 30.0), **row):
    crop = Crop(name, family=row.pop("family", "F"), garden=GardenRow(*spacing, **row), growth=Growth(habit=habit),
                water=Water(height=height))  # fmt: skip
    return SimpleNamespace(
        crop=crop, stands=stands, place_taken=taken, start=taken[0], rain_fed=False, last=np.full(3, 90.0)
    )


def placed(*sowings, garden=GARDEN, spans=None, latitude=40.0):
    spans = spans or [(2.0 * k, 2.0 * k + 2.0) for k in range(len(sowings))]
    placings = [SimpleNamespace(sowing=k, bed=0, begin=a, end=b) for k, (a, b) in enumerate(spans)]
    return neighbour_words(garden, sowings, SimpleNamespace(placings=placings), latitude)


def test_small_crops_in_the_sun_reach_nobody():
    assert placed(sowing(), sowing("y")) == []


@pytest.mark.parametrize(("apart", "near"), [(0.45, True), (0.55, False)])
def test_roots_of_a_shrub_reach_half_a_crown_beyond_it(apart, near):
    """Two metres between plants: roots go half as far again as the crown, half a metre beyond it."""
    shrub = sowing("fig", stands=True, spacing=(200.0, 200.0), height=math.nan)
    (told,) = placed(shrub, sowing("beet"), spans=[(2.0, 4.0), (4.0 + apart, 7.0)])
    assert "its roots reach some 0.5 m beyond it" in told
    assert ("(beet)" in told) == near
    (before,) = placed(shrub, sowing("beet"), spans=[(4.0, 6.0), (1.0, 4.0 - apart)])
    assert ("(beet)" in before) == near
    assert "shades" not in told
    tall = placed(replace_height(shrub, 3.0))[0]
    assert "full-grown it shades" in tall
    assert placed(sowing("herb", stands=True, spacing=(99.0, 99.0))) == []


def replace_height(one, metres):
    return SimpleNamespace(**(vars(one) | {"crop": replace(one.crop, water=Water(height=metres))}))


@pytest.mark.parametrize(("shade", "told"), [(0.39, None), (0.4, "40%"), (0.5, "50%")])
def test_what_stands_in_the_dark_is_told(shade, told):
    """June of a bed that is shaded in June; leaves do well there."""
    shades = tuple(shade if m == 5 else 0.0 for m in range(12))
    garden = (
        replace(GARDEN, beds=(replace(BEDS[0], shade_by_month=shades),)) if hasattr(BEDS[0], "shade_by_month") else None
    )
    garden = garden or replace(GARDEN, beds=(replace(BEDS[0], shade=shade),))
    found = placed(sowing(taken=(151, 180)), garden=garden)
    assert [f"goes without {told} of the light" in w for w in found] == ([True] if told else [])
    assert placed(sowing(taken=(151, 180), habit="leaf"), garden=garden) == []
    # over two months half of it counts, for the shade is that of June
    both = placed(
        sowing(taken=(151, 211)),
        garden=replace(GARDEN, beds=(replace(BEDS[0], month_shade=tuple(2 * s for s in shades)),)),
    )
    assert [f"goes without {told} of the light" in w for w in both] == ([True] if told else [])


@pytest.mark.parametrize(("latitude", "away"), [(40.0, "north"), (-40.0, "south")])
def test_tall_crops_stand_away_from_the_sun(latitude, away):
    """1.8 m at the equinox of 40 degrees throw 1.8 / tan 50 = 1.5 m; at midsummer 1.8 / tan 73.4 = 0.5 m."""
    (told,) = placed(sowing(support="poles"), latitude=latitude)
    assert told.startswith(f"tall crops stand at the {away} end of their beds; the tallest, 1.8 m high, shade 1.5 m")
    assert f"1.5 m to the {away} at noon in spring and autumn, 0.5 m in midsummer" in told
    (told,) = placed(sowing(support="poles"), sowing("maize", height=2.5), latitude=latitude)
    assert "the tallest, 2.5 m high" in told
    # as the equinox has it to a day: 30 / tan 50 are 25.2 m, a day later 24.8
    (told,) = placed(sowing("palm", height=30.0), latitude=latitude)
    assert abs(float(told.split(", shade ")[1].split(" m to")[0]) - 30.0 / math.tan(math.radians(50.0))) < 0.2


def test_vines_that_run_want_room():
    assert placed(sowing("squash", support="runs", reach=3.0)) == [
        "squash: its vines run 3 m out of the bed; leave path or rough ground beside it"
    ]


def quick(ready=30.0, odds=0.9, family="Q"):
    first = np.full((10, 365), ready)
    return SimpleNamespace(
        crop=SimpleNamespace(name="radish", family=family),
        found=SimpleNamespace(first=first, reliability=np.full(365, odds)),
    )


def between(slow, what=None, odds=0.8, width=1.2):
    garden = replace(GARDEN, beds=(Bed("b", 10.0, width),))
    plan = SimpleNamespace(placings=[SimpleNamespace(sowing=0, bed=0, begin=1.0, end=5.0)])
    return between_rows(what or quick(), [slow], plan, garden, odds)


def slow(spacing=50.0, last=100.0, **more):
    """Initial 20, development 30, mid 30 and late 20 days of 100: leaves are half way at day 35."""
    one = sowing("leek", spacing=(spacing, 20.0), **more)
    water = Water(0.7, 1.05, 0.95, 0.4, 20.0, 30.0, 30.0, 20.0, 0.3, 0.6, 0.35)
    return SimpleNamespace(**(vars(one) | {"crop": replace(one.crop, water=water), "last": np.full(3, last)}))


def test_between_rows_by_hand():
    """Half a metre between rows: two rows on 1.2 m, so four metres between them; 28 + 7 days are in time."""
    (found,) = between(slow(), quick(28.0))
    assert (found.crop, found.beside, found.bed, found.metres) == ("radish", "leek", "b", 4.0)
    assert (found.sown, found.pulled, found.closes) == (152, 187, 187)
    assert between(slow(), quick(28.1)) == ()
    assert between(slow(last=200.0), quick(60.0))[0].closes == 222
    assert between(slow(spacing=45.0), quick(28.0))[0].metres == 8.0  # three rows
    assert between(slow(spacing=60.0), quick(28.0), width=0.6)[0].metres == 4.0  # one row has its side


def test_no_quick_crop_where_it_has_no_room_time_or_kin():
    assert between(slow(spacing=44.0), quick(28.0)) == ()
    assert between(slow(spacing=math.nan), quick(28.0)) == ()
    assert between(slow(), quick(28.0, family="F")) == ()
    assert between(slow(), quick(28.0, odds=0.79)) == ()
    assert len(between(slow(), quick(28.0, odds=0.8))) == 1
    assert between(slow(), quick(math.nan)) == ()
    assert between(SimpleNamespace(**(vars(slow()) | {"stands": True})), quick(28.0)) == ()
    assert between(SimpleNamespace(**(vars(slow()) | {"rain_fed": True})), quick(28.0)) == ()


@pytest.mark.parametrize(
    ("mulch", "left"),
    [
        (Mulch("none", 1.0), 1.0), (Mulch("straw", 1.0), 0.5), (Mulch("straw", 0.4), 0.8), (Mulch("plastic", 1.0), 0.2),
        (Mulch("plastic", 0.5), 0.6),
    ],
)  # fmt: skip
def test_evaporation_under_mulch(mulch, left):
    """Five per cent for each ten covered, plastic eight tenths (FAO-56 chapter 10, from memory)."""
    assert evaporation_left(mulch) == pytest.approx((left,) * 12)


def test_kinds_of_bed_and_roots_of_trees():
    """A raised bed of 4 by 1 m and 0.3 m has sides of 3 m2, three quarters of its surface."""
    least, most = water_of_kind(Bed("b", 4.0, 1.0, kind="raised", height=0.3))
    assert (least, most) == pytest.approx((1.05, 1.05 + 0.3 * 0.75))
    assert water_of_kind(Bed("b", 4.0, 1.0, kind="raised")) == water_of_kind(Bed("b", 4.0, 1.0)) == (1.0, 1.0)
    assert water_of_kind(Bed("b", 4.0, 1.0, kind="card")) == (0.95, 1.0)
    assert water_of_kind(Bed("b", 4.0, 1.0, kind="compost")) == (0.9, 1.0)
    tree = Tree("ash", 8.0, 6.0, "west", (("b", 3.0),), evergreen=False)
    assert roots_near(tree, BEDS[0])
    assert not roots_near(replace(tree, beds=(("b", 9.0),)), BEDS[0])
    assert not roots_near(replace(tree, beds=(("c", 3.0),)), BEDS[0])
    dry = ground_of(replace(GARDEN, trees=(tree,)), BEDS[0]).more
    assert dry == pytest.approx(1.25)
    assert ground_of(GARDEN, BEDS[0]).more == 1.0
    high = replace(GARDEN, beds=(Bed("b", 4.0, 1.0, kind="raised", height=0.3),))
    assert ground_of(high, high.beds[0]).more == pytest.approx((least + most) / 2)
    assert ground_of(high, high.beds[0]).depth == pytest.approx(GARDEN.soil_depth + 0.3)


@pytest.mark.parametrize(("latitude", "away"), [(0.05, "north"), (0.0, "north"), (-0.05, "south")])
def test_at_the_equator_the_north_is_away_from_the_sun(latitude, away):
    (told,) = placed(sowing(support="poles"), latitude=latitude)
    assert told.startswith(f"tall crops stand at the {away} end of their beds")
    assert f" m to the {away} at noon in spring" in told


def test_what_wants_a_metre_between_plants_is_large():
    assert len(placed(sowing("fig", stands=True, spacing=(100.0, 100.0), height=math.nan))) == 1
    assert placed(sowing("sage", stands=True, spacing=(100.0, 99.0), height=math.nan)) == []
