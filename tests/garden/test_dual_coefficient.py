"""FAO-56 dual crop coefficient against the paper's own ten-day table and its curve."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sowcal.crops.handbook import handbook
from sowcal.crops.tables import Water
from sowcal.errors import InputError
from sowcal.garden.soil_water import (
    TEXTURES,
    Basal,
    Season,
    Soil,
    Watering,
    basal_of,
    climate_term,
    coefficient_curve,
    covered_fraction,
    depletion_share,
    evaporation_coefficient,
    evaporation_reduction,
    exposed_wetted_fraction,
    root_zone_balance,
    soil_of_texture,
    total_available_water,
    total_evaporable_water,
    upper_limit,
)

# Allen et al. 1998, FAO-56, Example 35 (soil evaporation over ten days): sandy loam, 40 mm by irrigation at the
# beginning of day 1 wetting 0.8 of the surface, 6 mm of rain at the beginning of day 6; u2 1.6 m/s, RHmin 35 %.
# Read as quoted in the tests of a public implementation (an app of Patrignani, 2026). Day 3 of E is printed 2.8
# there against its own Ke x ETo = 2.4; day 6 of Kr 0.75 against 0.70 by eq. 74.
_ET0 = np.array([4.5, 5.0, 3.9, 4.2, 4.8, 2.7, 5.8, 5.1, 4.7, 5.2])
_KCB = np.array([0.30, 0.31, 0.32, 0.33, 0.34, 0.36, 0.37, 0.38, 0.39, 0.40])
_BARE = np.array([0.92, 0.91, 0.91, 0.90, 0.89, 0.89, 0.88, 0.87, 0.87, 0.86])
_E = [4.1, 4.5, 2.4, 1.5, 0.8, 1.7, 2.6, 0.9, 0.4, 0.2]
_DEPLETED = [5, 11, 14, 16, 17, 13, 16, 17, 18, 18]
_SANDY_LOAM = Soil("sandy loam of the example", 0.23, 0.10, 8.0)


def _example_35():
    limit = upper_limit(_KCB, climate_term(1.6, 35.0, 0.3))
    season = Season(
        reference=_ET0,
        rain=np.where(np.arange(10) == 5, 6.0, 0.0),
        basal=_KCB,
        limit=limit,
        covered=1.0 - _BARE,
        rooting_depth=np.full(10, 0.5),
        depletion=np.full(10, 0.5),
        irrigated=np.array(True),
        grows=np.full(10, True),
    )
    given_water = np.where(np.arange(10) == 0, 40.0, 0.0)
    return root_zone_balance(season, _SANDY_LOAM, Watering(0.8, False, 1.0), given=given_water)


def test_example_35_first_day_by_its_steps():
    assert total_evaporable_water(_SANDY_LOAM) == pytest.approx(18.0)
    limit = upper_limit(0.30, climate_term(1.6, 35.0, 0.3))
    assert limit == pytest.approx(1.21, abs=0.005)
    exposed = exposed_wetted_fraction(0.08, 0.8)
    assert exposed == pytest.approx(0.80)
    ke = evaporation_coefficient(evaporation_reduction(0.0, 18.0, 8.0), limit, 0.30, exposed)
    assert ke == pytest.approx(0.91, abs=0.005)
    assert ke * 4.5 == pytest.approx(4.1, abs=0.05)


def test_example_35_all_ten_days():
    found = _example_35()
    np.testing.assert_allclose(found.evaporation, _E, atol=0.15)
    np.testing.assert_allclose(found.surface_depletion, _DEPLETED, atol=0.75)


def test_available_water_by_hand():
    # eq. 82: 1000 (0.32 - 0.12) 0.8 m = 160 mm
    assert total_available_water(Soil("x", 0.32, 0.12, 9.0), 0.8) == pytest.approx(160.0)
    # footnote of Table 22: 0.40 at 7 mm/day becomes 0.32, and the share stays between 0.1 and 0.8
    assert depletion_share(0.40, 7.0) == pytest.approx(0.32)
    assert depletion_share(0.7, 0.0) == pytest.approx(0.8)
    assert depletion_share(0.3, 12.0) == pytest.approx(0.1)


def test_heavier_soils_hold_more_than_sand():
    held = {t: total_available_water(s, 1.0) for t, s in TEXTURES.items()}
    assert held["sand"] < held["loamy sand"] < held["sandy loam"] < held["loam"] < held["silt loam"]
    for soil in TEXTURES.values():
        assert 0.0 < soil.wilting_point < soil.field_capacity
        assert soil.readily_evaporable < total_evaporable_water(soil)


def test_a_misspelt_texture_gets_the_nearest():
    with pytest.raises(InputError, match="sandy loam"):
        soil_of_texture("sandy lome")
    with pytest.raises(InputError, match="no soil texture 'grit'; did you mean 'silt'"):
        soil_of_texture("grit")  # half of its letters
    with pytest.raises(InputError, match=r"known are sand, loamy sand, .*, clay$"):
        soil_of_texture("peat")
    assert soil_of_texture(" Loam ").texture == "loam"


def test_curve_has_the_four_stages():
    # tomato of FAO-56 Tables 11 and 12: 30, 40, 45, 30 days; 0.6, 1.15, 0.8 give basal 0.15, 1.10, 0.70 (Table 17)
    basal = basal_of(Water(0.6, 1.15, 0.8, 0.6, 30, 40, 45, 30, 0.7, 1.5, 0.4))
    assert (basal.initial, basal.mid, basal.end) == pytest.approx((0.15, 1.10, 0.70))
    day = np.array([0, 29, 50, 71, 114, 130, 145]) / 145.0
    found = coefficient_curve(day, basal)
    assert found[:2] == pytest.approx([0.15, 0.15])
    assert found[2] == pytest.approx(0.15 + 0.5 * 0.95, abs=1e-9)
    assert found[3:5] == pytest.approx([1.10, 1.10])
    assert found[5] == pytest.approx(0.90)
    assert found[6] == pytest.approx(0.70)


@pytest.mark.parametrize(
    ("crop", "mid", "end"),
    [
        ("sweet pepper (blocky)", 1.00, 0.80),
        ("aubergine", 1.00, 0.80),
        ("cucumber", 0.95, 0.70),
        ("courgette", 0.90, 0.70),
        ("turnip", 1.00, 0.85),
        ("potato (early)", 1.10, 0.65),
        ("lettuce (leaf)", 0.90, 0.90),
        ("strawberry (short-day)", 0.80, 0.70),
        ("kale", 0.95, 0.85),  # not in the table: 0.10 below its single coefficient
    ],
)
def test_basal_coefficients_are_those_printed(crop, mid, end):
    # FAO-56 Table 17, read in a copy of it (source `fao56-1998-basal` of crop_data)
    basal = basal_of(handbook()[crop].water)
    assert (basal.mid, basal.end) == pytest.approx((mid, end))


def test_dry_windy_air_raises_the_coefficient():
    # eq. 70 by hand: 0.04 (4 - 2) - 0.004 (25 - 45) = 0.16; (2 / 3) ** 0.3 = 0.8855
    assert climate_term(4.0, 25.0, 2.0) == pytest.approx(0.16 * 0.8855, abs=1e-4)
    assert climate_term(2.0, 45.0, 2.0) == 0.0
    assert climate_term(6.3, 45.0, 3.0) == pytest.approx(0.04 * 4.0)
    assert climate_term(0.5, 45.0, 3.0) == pytest.approx(-0.04)
    assert climate_term(2.0, 21.0, 3.0) == pytest.approx(0.004 * 24.0)
    assert climate_term(2.0, 19.0, 3.0) == pytest.approx(0.004 * 25.0)
    assert climate_term(2.0, 85.0, 3.0) == pytest.approx(-0.004 * 35.0)
    assert (upper_limit(1.3, 0.0), upper_limit(0.5, 0.1)) == pytest.approx((1.35, 1.3))
    assert climate_term(20.0, 5.0, 1.0) == climate_term(6.0, 20.0, 1.0)  # held to the ranges of eq. 70


def test_unknown_figures_are_those_of_small_vegetables_and_said_so():
    usual = basal_of(Water())
    assert usual.assumed
    # FAO-56 Tables 11, 12 and 22, rounded: 25, 35, 35 and 15 days; 0.7, 1.05 and 0.95; 0.4 m; 0.3 to 0.6 m; 0.35
    assert usual.turns == pytest.approx((25 / 110, 60 / 110, 95 / 110))
    assert (usual.initial, usual.mid, usual.end, usual.height) == pytest.approx((0.15, 0.95, 0.85, 0.4))
    assert (usual.rooting_depth, usual.depletion) == (0.3, 0.35)
    assert basal_of(Water(), rain_fed=True).rooting_depth == 0.6
    assert not basal_of(Water(0.7, 1.05, 0.95, 0.3, 20, 30, 15, 10, 0.3, 0.5, 0.3)).assumed
    assert basal_of(Water(), soil_depth=0.2).rooting_depth == 0.2


@given(st.floats(0.15, 1.3), st.floats(0.05, 3.0), st.floats(0.5, 8.0), st.floats(10.0, 90.0))
def test_cover_and_limit_stay_in_their_bounds(kcb, height, wind, humidity):
    limit = upper_limit(kcb, climate_term(wind, humidity, height))
    cover = covered_fraction(kcb, limit, height)
    assert limit >= kcb + 0.05
    assert 0.0 <= cover <= 0.99
    assert 0.01 <= exposed_wetted_fraction(cover, 0.35, drip=True) <= 0.35


@settings(deadline=None, max_examples=40)
@given(st.integers(0, 10_000), st.sampled_from(sorted(TEXTURES)), st.booleans())
def test_the_root_zone_loses_no_water(seed, texture, drip):
    rng = np.random.default_rng(seed)
    days, shape = 60, (3, 4)
    kcb = rng.uniform(0.15, 1.2, (days, *shape))
    limit = upper_limit(kcb, 0.02)
    season = Season(
        reference=rng.uniform(0.0, 9.0, (days, *shape)),
        rain=np.where(rng.random((days, *shape)) < 0.2, rng.gamma(0.8, 12.0, (days, *shape)), 0.0),
        basal=kcb,
        limit=limit,
        covered=covered_fraction(kcb, limit, 0.4),
        rooting_depth=np.sort(rng.uniform(0.15, 0.9, (days, *shape)), axis=0),
        depletion=np.full(shape, 0.4),
        irrigated=rng.random(shape) < 0.7,
        grows=np.arange(days)[:, None, None] < rng.integers(20, 60, shape),
    )
    start = 3.0
    found = root_zone_balance(season, TEXTURES[texture], Watering(0.35, drip, 0.5), start_depletion=start)
    rain = np.where(season.rain > 0.2 * season.reference, season.rain, 0.0) * season.grows
    gained = rain.sum(axis=0) + found.irrigation.sum(axis=0)
    lost = found.evapotranspiration.sum(axis=0) + found.drained.sum(axis=0)
    np.testing.assert_allclose(gained - lost, start - found.depletion[-1], atol=1e-9)
    assert (found.evaporation <= found.evapotranspiration + 1e-12).all()
    assert (found.irrigation[:, ~season.irrigated] == 0.0).all()
    assert (found.depletion >= 0.0).all()
    assert ((found.stress >= 0.0) & (found.stress <= 1.0)).all()


# --- the parts of the balance by hand ---


@pytest.mark.parametrize(("end", "added"), [(0.45, 0.0), (0.46, 0.1)])
def test_the_climate_moves_end_coefficients_above_045_only(end, added):
    """FAO-56 eq. 81, as eq. 70 for the basal ones."""
    basal = Basal(0.15, 1.1, end, (0.2, 0.4, 0.8), 0.5, 0.5, 0.4, assumed=False, stands=False)
    assert coefficient_curve(np.array([1.0]), basal, 0.1)[0] == pytest.approx(end + added)
    assert coefficient_curve(np.array([0.6]), basal, 0.1)[0] == pytest.approx(1.2)
    assert coefficient_curve(np.array([0.3]), basal, 0.1)[0] == pytest.approx(0.5 * (0.15 + 1.2))
    assert coefficient_curve(np.array([0.9]), basal, 0.0)[0] == pytest.approx(0.5 * (1.1 + end))


def test_figures_of_what_stands_for_years():
    """Shrubs and trees have leaf or shade from the start: 0.10 below the single coefficient, 0.15 at the least."""
    tall = Water(0.6, 1.0, 0.8, 2.0, 30, 40, 45, 30, 0.7, 1.5, 0.4)
    assert basal_of(tall, stands=True).initial == pytest.approx(0.5)
    assert basal_of(tall).initial == 0.15
    assert basal_of(replace(tall, height=0.9), stands=True).initial == 0.15
    assert basal_of(replace(tall, coefficient_initial=0.2), stands=True).initial == 0.15
    printed = replace(tall, basal_initial=0.4, basal_mid=0.95, basal_end=0.1)
    assert (basal_of(printed, stands=True).initial, basal_of(printed).initial) == (0.4, 0.15)
    assert (basal_of(printed).mid, basal_of(printed).end) == (0.95, 0.15)
    assert basal_of(replace(tall, height=0.01)).height == 0.05


@pytest.mark.parametrize(("single", "basal"), [(1.15, 1.10), (1.10, 1.05), (1.05, 0.95), (0.2, 0.15)])
def test_a_basal_coefficient_from_a_single_one(single, basal):
    """0.05 less for full canopies and 0.10 for small ones (FAO-56 Tables 12 and 17 side by side)."""
    water = Water(0.7, single, single, 0.3, 20, 30, 15, 10, 0.3, 0.5, 0.3)
    assert (basal_of(water).mid, basal_of(water).end) == pytest.approx((basal, basal))


def test_cover_wetted_share_and_evaporation_by_hand():
    """Eq. 76 with 0.15 of bare soil: half of the way to the limit at 0.4 m are 0.5 ** 1.2; eq. 75, 74 and 71."""
    assert covered_fraction(0.65, 1.15, 0.4) == pytest.approx(0.5**1.2)
    assert covered_fraction(0.1, 1.15, 0.4) == 0.0
    assert covered_fraction(1.15, 1.15, 0.4) == 0.99
    assert exposed_wetted_fraction(0.3, 0.35) == 0.35
    assert exposed_wetted_fraction(0.8, 0.35) == pytest.approx(0.2)
    assert exposed_wetted_fraction(0.6, 0.35, drip=True) == pytest.approx(0.35 * 0.6)
    assert exposed_wetted_fraction(1.0, 0.35) == 0.01
    assert [float(evaporation_reduction(d, 18.0, 8.0)) for d in (0, 8, 13, 18, 20)] == [1.0, 1.0, 0.5, 0.0, 0.0]
    assert evaporation_coefficient(0.5, 1.2, 0.4, 1.0) == pytest.approx(0.4)
    assert evaporation_coefficient(1.0, 1.2, 0.4, 0.3) == pytest.approx(0.36)


def days_of(rain, roots=0.5, grows=None, **more):
    """Steady days of 5 mm at a coefficient of 1, under leaves and so nearly without evaporation."""
    rain = np.asarray(rain, dtype=float)[:, None]
    made = {
        "reference": np.full(rain.shape, 5.0), "rain": rain, "basal": np.ones(rain.shape),
        "limit": np.full(rain.shape, 1.05), "covered": np.full(rain.shape, 0.99),
        "rooting_depth": np.broadcast_to(np.asarray(roots, dtype=float), rain.shape[0])[:, None],
        "depletion": np.array([0.5]), "irrigated": np.array([False]),
        "grows": np.ones(rain.shape, dtype=bool) if grows is None else np.asarray(grows)[:, None],
    }  # fmt: skip
    return Season(**(made | more))


DRY = Watering(1.0, False, 0.0)
LOAM = TEXTURES["loam"]


def test_a_root_zone_day_by_day():
    """65 mm in half a metre of loam, half of them free; 5 mm a day, 12 mm of rain and, later, 1 that wets nothing."""
    found = root_zone_balance(days_of([0, 0, 0, 12, 0, 1, 0]), LOAM, DRY)
    assert found.depletion[:, 0] == pytest.approx([5, 10, 15, 8, 13, 18, 23])
    assert found.evapotranspiration[:, 0] == pytest.approx([5.0] * 7)
    assert (found.stress == 1.0).all()
    over = root_zone_balance(days_of([0, 20, 0]), LOAM, DRY)
    assert over.drained[:, 0] == pytest.approx([0, 15, 0])
    assert over.depletion[:, 0] == pytest.approx([5, 5, 10])
    late = root_zone_balance(days_of([0] * 3), LOAM, DRY, start_depletion=50.0)
    assert late.stress[0, 0] == pytest.approx(15 / 32.5)  # of the half that is not free 15 of 32.5 mm are left
    assert late.depletion[0, 0] == pytest.approx(50 + 5 * 15 / 32.5)
    rests = root_zone_balance(days_of([0, 20, 0], grows=[True, False, True]), LOAM, DRY)
    assert rests.depletion[:, 0] == pytest.approx([5, 5, 10])  # nothing happens outside the season


def test_water_is_given_when_half_of_what_is_free_is_gone():
    """16.25 of 32.5 mm: after four days of five are 20 gone, which are given the next morning."""
    asked = days_of([0] * 10, irrigated=np.array([True]))
    found = root_zone_balance(asked, LOAM, DRY)
    assert np.flatnonzero(found.irrigation[:, 0]).tolist() == [4, 8]
    assert found.irrigation[[4, 8], 0] == pytest.approx([20.0, 20.0])
    sooner = root_zone_balance(asked, LOAM, DRY, start_depletion=1.5)  # 16.5 are gone after three days
    assert sooner.irrigation[:4, 0] == pytest.approx([0, 0, 0, 16.5])
    assert not root_zone_balance(asked, LOAM, DRY, start_depletion=1.0).irrigation[:4].any()  # and 16
    later = root_zone_balance(asked, LOAM, replace(DRY, watering_share=1.0))
    assert np.flatnonzero(later.irrigation[:, 0]).tolist() == [7]
    given = root_zone_balance(asked, LOAM, DRY, given=np.array([[0.0], [8.0], [0.0]] + [[0.0]] * 7))
    assert given.irrigation[:3, 0] == pytest.approx([0, 8, 0])
    assert given.drained[1, 0] == pytest.approx(3.0)
    assert given.depletion[:3, 0] == pytest.approx([5, 5, 10])


def test_roots_that_go_down_meet_what_is_missing_there():
    """30 mm are missing from 0.2 to 0.5 m; a third of that depth brings a third; what drains fills it first."""
    roots = [0.2, 0.3, 0.3, 0.5]
    found = root_zone_balance(
        days_of([0, 0, 0, 0], roots, basal=np.zeros((4, 1))), LOAM, DRY, below=np.array([30.0]), full_depth=0.5
    )
    assert found.below[:, 0] == pytest.approx([30, 20, 20, 0])
    assert found.depletion[:, 0] == pytest.approx([0, 10, 10, 30])
    wet = root_zone_balance(
        days_of([0, 0, 25, 0], [0.2] * 4, basal=np.zeros((4, 1))), LOAM, DRY, below=np.array([20.0]), full_depth=0.5
    )
    assert wet.below[:, 0] == pytest.approx([20, 20, 0, 0])  # roots that stay where they are meet nothing
    assert wet.drained[:, 0] == pytest.approx([0, 0, 5, 0])


def test_bare_soil_dries_by_its_surface():
    """All that can evaporate is gone at the start; 10 mm wet it whole and 2 mm in 5 days of none do not wet more."""
    bare = days_of([0, 10, 0, 0], basal=np.full((4, 1), 0.15), covered=np.zeros((4, 1)), limit=np.full((4, 1), 1.2))
    found = root_zone_balance(bare, LOAM, Watering(1.0, False, 1.0), start_depletion=20.0)
    assert found.evaporation[0, 0] == 0.0
    assert found.evaporation[1, 0] > 4.0
    assert found.surface_depletion[1, 0] > found.surface_depletion[0, 0] - 10.0
    half = root_zone_balance(bare, LOAM, Watering(1.0, False, 0.5), start_depletion=20.0)
    assert half.evaporation[1, 0] == pytest.approx(0.5 * found.evaporation[1, 0])
    month = replace(bare, left=np.full((4, 1), 0.25))
    assert root_zone_balance(month, LOAM, Watering(1.0, False, 1.0), start_depletion=20.0).evaporation[1, 0] == (
        pytest.approx(0.25 * found.evaporation[1, 0])
    )
    moist = root_zone_balance(bare, LOAM, Watering(1.0, False, 1.0), start_depletion=20.0, start_surface=0.0)
    assert moist.evaporation[0, 0] > 4.0
    soaked = root_zone_balance(days_of([3, 100]), LOAM, DRY, start_surface=5.0)  # nothing evaporates under its mulch
    assert soaked.surface_depletion[:, 0].tolist() == [2.0, 0.0]


@pytest.mark.parametrize(("drip", "wetted"), [(True, 0.35), (False, 1.0)])
@pytest.mark.parametrize("irrigated", [True, False])
def test_the_root_zone_day_by_day_as_its_equations_have_it(drip, wetted, irrigated):
    """FAO-56 eq. 71, 74, 75, 77, 82, 84 and 85 in plain loops: loam holds 130 mm a metre, 19 mm of its surface
    evaporate, nine freely; from 3 mm on rain wets all of it, less than a fifth of the reference nothing (chapters 7
    and 8); drip lies in the shade of the leaves; watered when half of what is free is gone (common practice)."""
    rng = np.random.default_rng(8)
    days = 120
    rain = np.where(rng.random(days) < 0.25, rng.choice([0.9, 2.9, 3.0, 3.2, 8.0, 25.0], days), 0.0)
    reference = rng.uniform(2.0, 6.0, days)
    basal = np.linspace(0.2, 1.1, days)
    roots = np.linspace(0.15, 0.6, days)
    left = np.where(np.arange(days) < 60, 1.0, 0.4)
    limit = upper_limit(basal, 0.02)
    covered = covered_fraction(basal, limit, 0.5)
    grows = np.arange(days) < 115
    season = Season(
        *(x[:, None] for x in (reference, rain, basal, limit, covered, roots)), np.array([0.45]), np.array([irrigated]),
        grows[:, None], left[:, None],
    )  # fmt: skip
    found = root_zone_balance(season, LOAM, Watering(wetted, drip, 1.0), start_depletion=4.0)
    zone, surface, wet = 4.0, 19.0, 1.0
    for t in range(days):
        use, held = basal[t] * reference[t], 130.0 * roots[t]
        falls = rain[t] if rain[t] > 0.2 * reference[t] and grows[t] else 0.0
        drains, zone = max(falls - zone, 0.0), max(zone - falls, 0.0)
        free = min(max(0.45 + 0.04 * (5.0 - use), 0.1), 0.8)
        gives = zone if irrigated and grows[t] and zone > 0.5 * free * held else 0.0
        zone -= gives
        wet = wetted if gives else 1.0 if falls >= 3.0 else wet
        surface = min(max(surface - falls - gives / wet, 0.0), 19.0)
        bare = max(min(1.0 - covered[t], wet * (1.0 - 2.0 / 3.0 * covered[t]) if drip else wet), 0.01)
        dries = min(max((19.0 - surface) / 10.0, 0.0), 1.0)
        air = min(dries * (limit[t] - basal[t]), bare * limit[t]) * reference[t] * left[t] * grows[t]
        thrives = min(max((held - zone) / ((1.0 - free) * held), 0.0), 1.0)
        loses = min(thrives * use * grows[t] + air, max(held - zone, 0.0))
        air = min(air, loses)
        zone, surface = zone + loses, min(surface + air / bare, 19.0)
        one = [x[t, 0] for x in (found.irrigation, found.drained, found.evaporation, found.depletion)]
        assert one == pytest.approx([gives, drains, air, zone]), t
        assert (found.surface_depletion[t, 0], found.stress[t, 0]) == pytest.approx((surface, thrives)), t
    assert (found.irrigation.sum() > 0.0) == irrigated


def test_what_drip_gives_wets_its_share_and_rain_all():
    """After 0.05 mm of drip a third of the surface is wetted, after 2.9 mm of rain still, after 8 mm all of it."""
    rain = [8.0, 0.0, 2.9, 8.0]
    bare = days_of(rain, basal=np.full((4, 1), 0.15), covered=np.zeros((4, 1)), limit=np.full((4, 1), 1.2))
    drip = np.array([[0.0], [0.05], [0.0], [0.0]])
    found = root_zone_balance(bare, LOAM, Watering(0.35, True, 1.0), start_surface=0.0, given=drip).evaporation[:, 0]
    assert found == pytest.approx([5.0 * 1.05, 5.0 * 0.35 * 1.2, 5.0 * 0.35 * 1.2, 5.0 * 1.05])
    none = root_zone_balance(bare, LOAM, Watering(0.35, True, 1.0), start_surface=0.0, given=0 * drip).evaporation[:, 0]
    assert none == pytest.approx([5.0 * 1.05] * 4)


def test_a_crop_in_soil_that_holds_nothing_more_is_wholly_thirsty():
    found = root_zone_balance(days_of([0, 0]), LOAM, DRY, start_depletion=65.0)
    assert found.stress[:, 0].tolist() == [0.0, 0.0]
    assert found.evapotranspiration[:, 0].tolist() == [0.0, 0.0]
    over = root_zone_balance(days_of([0]), LOAM, DRY, start_depletion=80.0)  # of a deeper soil
    assert (over.stress[0, 0], over.depletion[0, 0]) == (0.0, 80.0)
