"""FAO-56 dual crop coefficient against the paper's own ten-day table and its curve."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sowcal.crops.handbook import handbook
from sowcal.crops.tables import Water
from sowcal.errors import InputError
from sowcal.garden.soil_water import (
    TEXTURES,
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
    return root_zone_balance(season, _SANDY_LOAM, Watering(0.8, drip=False), given=given_water)


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
    assert climate_term(20.0, 5.0, 1.0) == climate_term(6.0, 20.0, 1.0)  # held to the ranges of eq. 70


def test_unknown_figures_are_those_of_small_vegetables_and_said_so():
    assert basal_of(Water()).assumed
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
