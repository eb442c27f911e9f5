"""Heads and friction against handbook values and each other."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sowcal.garden.garden_file import Bed, Emitters, Garden, Pipe, WaterSupply
from sowcal.garden.gravity_feed import (
    KPA_PER_METRE,
    christiansen_factor,
    darcy_weisbach,
    friction_factor,
    gravity_feed,
    hazen_williams,
    lines_of,
    many_outlet_loss,
    solve_line,
)


def test_ten_metres_of_water_are_098_bar():
    # 1 psi = 2.31 ft and 1 m = 9.807 kPa = 0.098 bar (unit conversion, exact)
    assert pytest.approx(0.98, abs=0.001) == 10.0 * KPA_PER_METRE / 100.0
    assert pytest.approx(2.31, abs=0.005) == 6.894757 / KPA_PER_METRE / 0.3048


def test_hazen_williams_is_the_us_form_in_other_units():
    # US form hf(ft) = 4.73 L Q(cfs)^1.852 / (C^1.852 d(ft)^4.87), as quoted on several pages
    feet, cubic = 0.3048, 0.3048**3
    length, flow, diameter = 300.0, 0.05, 0.25  # ft, cfs, ft
    us = 4.73 * length * flow**1.852 / (140.0**1.852 * diameter**4.87)
    si = hazen_williams(flow * cubic, length * feet, diameter * feet, 140.0) / feet
    assert si == pytest.approx(us, rel=0.01)


def test_laminar_flow_is_hagen_poiseuille():
    # h = 32 nu L v / (g d^2), the textbook law of laminar flow, here 10 l/h in 13.6 mm
    flow, length, diameter = 10.0 / 3.6e6, 10.0, 0.0136
    velocity = flow / (math.pi / 4.0 * diameter**2)
    assert velocity * diameter / 1.004e-6 < 2000
    hand = 32.0 * 1.004e-6 * length * velocity / (9.80665 * diameter**2)
    assert darcy_weisbach(flow, length, diameter) == pytest.approx(hand, rel=1e-6)


def test_smooth_friction_factors_of_the_moody_chart():
    # Moody's chart, smooth pipe: 0.0309 at Re 1e4, 0.0178 at 1e5, 0.0117 at 1e6 (as usually tabled, from memory)
    assert friction_factor(1e4) == pytest.approx(0.0309, rel=0.04)
    assert friction_factor(1e5) == pytest.approx(0.0178, rel=0.02)
    assert friction_factor(1e6) == pytest.approx(0.0117, rel=0.06)


def test_both_formulae_agree_where_both_hold():
    # smooth PE of 25 to 63 mm at 0.5 to 1.5 m/s; C 140 as Boesch Engineering's friction loss table has it for PE
    for diameter in (0.025, 0.040, 0.063):
        for velocity in (0.5, 1.0, 1.5):
            flow = velocity * math.pi / 4.0 * diameter**2
            a, b = darcy_weisbach(flow, 100.0, diameter), hazen_williams(flow, 100.0, diameter, 140.0)
            assert a == pytest.approx(b, rel=0.16)  # C 140 allows for some roughness, more so at speed


@pytest.mark.parametrize(("outlets", "printed"), [(1, 1.0), (10, 0.402), (20, 0.376)])
def test_christiansen_factor_as_tabled(outlets, printed):
    # Christiansen 1942, m = 1.852, first outlet a full spacing in: 0.402 at 10 outlets (reference table, from
    # memory there), 0.376 at 20 (his table for m = 1.85 as usually reprinted, from memory)
    assert christiansen_factor(outlets) == pytest.approx(printed, abs=0.001)


def test_christiansen_tends_to_one_over_m_plus_one():
    assert christiansen_factor(100_000) == pytest.approx(1.0 / 2.852, abs=1e-4)


def test_many_outlets_agree_with_the_walk_from_emitter_to_emitter():
    # constant flow emitters, turbulent all along: the sum over pieces is what the factor stands for
    outlets, spacing, diameter, each = 60, 0.5, 0.0136, 8.0 / 3.6e6
    walked = sum(darcy_weisbach(each * k, spacing, diameter) for k in range(1, outlets + 1))
    assert many_outlet_loss(each, outlets, spacing, diameter) == pytest.approx(walked, rel=0.05)


@given(st.floats(1e-7, 1e-3), st.floats(0.008, 0.08))
def test_loss_grows_with_flow_and_shrinks_with_bore(flow, bore):
    assert darcy_weisbach(1.2 * flow, 10.0, bore) > darcy_weisbach(flow, 10.0, bore) > 0.0
    assert darcy_weisbach(flow, 10.0, 1.2 * bore) < darcy_weisbach(flow, 10.0, bore)


def _garden(**supply):
    beds = tuple(Bed(f"b{k}", 10.0, 1.2) for k in range(8))
    return Garden("g", "s", beds, water=WaterSupply(tanks=(1000.0,), **supply))


def test_a_line_balances_head_and_flow():
    supply = _garden(height=2.0, filter="none", valve="none").water
    line = solve_line(supply, 3)
    flow = 3 * line.flow / 3.6e6
    main = darcy_weisbach(flow, supply.main.length, supply.main.diameter / 1000.0)
    assert line.inlet + main == pytest.approx(2.0, abs=1e-3)
    # q = k H^0.5: 2 l/h at 100 kPa
    assert line.flows[-1] == pytest.approx(2.0 * (line.last * KPA_PER_METRE / 100.0) ** 0.5, rel=1e-9)
    assert (np.diff(line.flows) <= 1e-12).all()


def test_uniformity_is_the_lowest_quarter_over_the_mean():
    long = _garden(height=1.0, laterals=Pipe(100.0, 11.0), emitters=Emitters(4.0, 100.0, 0.3)).water
    line = solve_line(long, 1)
    quarter = np.sort(line.flows)[: round(line.flows.size / 4)]
    assert line.uniformity == pytest.approx(quarter.mean() / line.flows.mean())
    assert line.uniformity < 0.9 < solve_line(replace(long, laterals=Pipe(10.0, 11.0)), 1).uniformity


def test_gravity_serves_plain_emitters_and_not_solenoids_or_compensating_ones():
    # common practice: solenoid timers and compensating emitters do not work at 1 to 3 m of head
    assert gravity_feed(_garden(height=2.0)).works
    for change in ({"timer": "solenoid"}, {"valve": "solenoid"}, {"emitters": Emitters(kind="compensating")}):
        for height in (1.0, 3.0):
            found = gravity_feed(_garden(height=height, **change))
            assert not found.works
            assert "kPa" in found.why
            assert found.would_help


def test_what_is_said_to_help_does():
    found = gravity_feed(_garden(height=0.3))
    assert not found.works
    height = float(found.would_help[0].split(" m above")[0].split()[-1])
    assert gravity_feed(_garden(height=height)).works


def test_water_does_not_run_uphill():
    found = gravity_feed(_garden(height=-1.0))
    assert not found.works
    assert "uphill" in found.why
    assert found.flow == 0.0


def test_more_lines_at_once_through_a_wider_main():
    narrow = gravity_feed(_garden(height=1.0, main=Pipe(60.0, 13.0)))
    wide = gravity_feed(_garden(height=1.0, main=Pipe(60.0, 32.0)))
    assert narrow.lines_at_once < wide.lines_at_once == wide.lines


def test_lines_by_hand():
    # 8 beds of 10 m, 1.2 m wide with lines every 0.4 m: three a bed
    assert lines_of(_garden()) == 24
    assert lines_of(Garden("g", "s", ())) == 0
    assert not gravity_feed(Garden("g", "s", ())).works
