"""Heads and friction against handbook values and each other."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sowcal.garden import gravity_feed as gravity
from sowcal.garden.garden_file import Bed, Emitters, Garden, Pipe, WaterSupply
from sowcal.garden.gravity_feed import (
    KPA_PER_METRE,
    Line,
    _serves,
    christiansen_factor,
    darcy_weisbach,
    emitter_flow,
    flow_of,
    friction_factor,
    gravity_feed,
    hazen_williams,
    lines_in,
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


# --- figures by hand ---


def test_the_friction_factor_at_the_ends_of_its_ranges():
    """64 / Re up to 2000, a straight line to Blasius at 4000, and his curve up to 100,000."""
    blasius = 0.3164 * 4000**-0.25
    assert friction_factor(0.0) == friction_factor(-5.0) == 0.0
    assert friction_factor(0.5) == 128.0
    assert friction_factor(0.05) == 1280.0  # a trickle
    assert friction_factor(1000.0) == pytest.approx(0.064)
    assert friction_factor(2000.0) == pytest.approx(0.032)
    assert friction_factor(2001.0) == pytest.approx(0.032, rel=1e-3)
    assert friction_factor(3000.0) == pytest.approx(0.5 * (0.032 + blasius))
    assert friction_factor(4000.0) == pytest.approx(blasius)
    assert friction_factor(50_000.0) == pytest.approx(0.3164 * 50_000**-0.25)
    assert friction_factor(100_000.0) == pytest.approx(0.130 * 100_000**-0.172)


def test_nothing_that_flows_or_no_pipe_loses_nothing():
    assert darcy_weisbach(0.0, 10.0, 0.02) == darcy_weisbach(1e-5, 0.0, 0.02) == 0.0
    assert darcy_weisbach(1e-5, -1.0, 0.02) == darcy_weisbach(-1e-5, 10.0, 0.02) == 0.0
    assert darcy_weisbach(1e-5, 0.5, 0.02) == pytest.approx(0.5 * darcy_weisbach(1e-5, 1.0, 0.02))
    assert christiansen_factor(0) == 0.0
    assert christiansen_factor(2) == pytest.approx(1 / 2.852 + 1 / 4 + math.sqrt(0.852) / 24)
    # of laminar flow each piece loses as much as flows in it: (1 + 2 + ... + 4) of 4 x 4
    assert christiansen_factor(4, 1.0) == pytest.approx(10 / 16)


@pytest.mark.parametrize(
    ("kind", "pressure", "flow"),
    [
        ("turbulent", 25.0, 1.0),  # a quarter of the pressure, half of the flow
        ("tape", 25.0, 2.0 * 0.25**0.55),
        ("laminar", 25.0, 0.5),
        ("compensating", 15.0, 1.0),  # a quarter of the 60 kPa from which it regulates
        ("compensating", 60.0, 2.0),
        ("compensating", 300.0, 2.0),
        ("turbulent", -5.0, 0.0),
    ],
)
def test_an_emitter_of_two_litres_at_100_kpa(kind, pressure, flow):
    assert emitter_flow(pressure / KPA_PER_METRE, Emitters(2.0, 100.0, 0.3, kind)) == pytest.approx(flow)


def _plain(**more):
    """One bed with one line of four emitters, no devices, a main in which next to nothing is lost."""
    supply = {"filter": "none", "valve": "none", "timer": "none", "laterals": Pipe(2.0, 16.0), "main": Pipe(1.0, 50.0),
              "emitters": Emitters(2.0, 100.0, 0.5), "lateral_spacing": 0.4, "height": 2.0}  # fmt: skip
    return Garden("g", "s", (Bed("b", 2.0, 0.4),), water=WaterSupply(tanks=(1000.0,), **(supply | more)))


def test_a_short_line_gives_what_its_emitters_give_at_the_head_of_the_tank():
    line = solve_line(_plain().water, 1)
    each = 2.0 * math.sqrt(2.0 * KPA_PER_METRE / 100.0)
    assert line.flows == pytest.approx([each] * 4, rel=1e-3)
    assert line.flow == pytest.approx(4 * each, rel=1e-3)
    assert (line.inlet, line.last) == pytest.approx((2.0, 2.0), abs=1e-3)
    found = gravity_feed(_plain())
    assert (found.works, found.lines, found.lines_at_once) == (True, 1, 1)
    assert found.flow == pytest.approx(4 * each, rel=1e-3)
    assert found.emitter_flow == pytest.approx(each, rel=1e-3)
    assert found.static_pressure == pytest.approx(2.0 * KPA_PER_METRE)
    assert found.most_pressure == pytest.approx(2.0 * KPA_PER_METRE, rel=1e-3)


@pytest.mark.parametrize(
    ("device", "metres"),
    [
        ({"filter": "screen"}, 0.1020),
        ({"valve": "ball"}, 0.0204),
        ({"timer": "gravity"}, 0.1020),
        ({"filter": "disc"}, 0.4079),
        ({"valve": "solenoid"}, 1.0197),
        ({"timer": "solenoid"}, 1.0197),
    ],
)
def test_devices_take_their_head(device, metres):
    assert solve_line(_plain(**device).water, 1).inlet == pytest.approx(2.0 - metres, abs=2e-3)
    both = {"valve": "ball", "filter": "screen"}
    assert solve_line(_plain(**(both | device)).water, 1).inlet == pytest.approx(
        2.0 - metres - (0.0204 if "valve" not in device else 0.0) - (0.1020 if "filter" not in device else 0.0),
        abs=3e-3,
    )


def test_a_fall_of_the_line_brings_head_to_its_end():
    """Ten per cent over two metres are 0.2 m, half a metre between emitters; uphill takes as much."""
    down, up = (solve_line(_plain(slope=s).water, 1) for s in (10.0, -10.0))
    assert down.last - down.inlet == pytest.approx(0.2, abs=1e-3)
    assert up.inlet - up.last == pytest.approx(0.2, abs=1e-3)
    assert (down.inlet, down.last, up.last) == pytest.approx((2.0, 2.2, 1.8), abs=2e-3)
    assert gravity_feed(_plain(slope=10.0)).static_pressure == pytest.approx(2.2 * KPA_PER_METRE)
    assert gravity_feed(_plain(slope=-10.0)).static_pressure == pytest.approx(2.0 * KPA_PER_METRE)


def test_a_reducer_bounds_what_stands_and_what_flows():
    reduced = gravity_feed(_plain(height=30.0, reducer=50.0))
    assert reduced.static_pressure == pytest.approx(50.0)
    assert reduced.most_pressure == pytest.approx(50.0, rel=1e-3)
    assert gravity_feed(_plain(height=2.0, reducer=50.0)).static_pressure == pytest.approx(2 * KPA_PER_METRE)


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"timer": "solenoid"}, "a solenoid timer needs about 50 kPa and there are 20"),
        ({"valve": "solenoid"}, "a solenoid valve needs about 50 kPa and there are 20"),
        ({"filter": "disc", "height": 0.9}, "a disc filter needs about 10 kPa and there are 9"),
        ({"emitters": Emitters(kind="tape"), "height": 1.0}, "tape emitters need about 10 kPa at the last one"),
        ({"emitters": Emitters(kind="laminar"), "height": 0.3}, "laminar emitters need about 3 kPa"),
        ({"emitters": Emitters(kind="tape"), "height": 12.0}, "would have 118 kPa and tape lines bear about 100"),
        ({"height": 31.0}, "one line alone would have 304 kPa and turbulent lines bear about 300"),
        ({"height": 62.0, "reducer": 100.0}, "with the valve shut the main has 608 kPa and its pipe bears about 600"),
        ({"height": 0.0}, "uphill"),
    ],
)  # fmt: skip
def test_why_it_does_not_work(more, why):
    found = gravity_feed(_plain(**more))
    assert not found.works
    assert why in found.why


@pytest.mark.parametrize(
    "more",
    [
        {"filter": "disc", "height": 1.5}, {"emitters": Emitters(kind="tape"), "height": 1.1}, {"height": 30.0},
        {"emitters": Emitters(kind="tape"), "height": 10.0}, {"height": 60.0, "reducer": 100.0},
        {"emitters": Emitters(kind="compensating"), "height": 6.5}, {"timer": "solenoid", "height": 7.0},
        {"emitters": Emitters(most=50.0), "height": 5.0},
    ],
)  # fmt: skip
def test_within_its_bounds_it_works(more):
    found = gravity_feed(_plain(**more))
    assert found.works, found.why
    assert found.would_help == ()


def test_what_eases_too_much_pressure_is_tried_out():
    """The greatest of the usual reducers that the lines bear, or a break tank so far below that the rest is borne."""
    tape = gravity_feed(_plain(emitters=Emitters(kind="tape"), height=15.0))
    assert tape.would_help[0] == "a pressure reducer of 100 kPa before the lines would do"
    assert "at least 5 m below the outlet" in tape.would_help[1]  # 15 - 100 / 9.81
    assert gravity_feed(_plain(emitters=Emitters(kind="tape"), height=15.0, reducer=100.0)).works
    weak = gravity_feed(_plain(emitters=Emitters(most=70.0), height=15.0))
    assert weak.would_help[0] == "a pressure reducer of 60 kPa before the lines would do"


def test_flow_of_some_lines_and_their_turns():
    supply = _plain().water
    one = solve_line(supply, 1).flow
    assert flow_of(supply, 0.0) == (0.0, 0)
    assert flow_of(supply, 1.0) == (pytest.approx(one), 1)
    half, turns = flow_of(supply, 0.5)
    assert (half, turns) == (pytest.approx(0.5 * one), 1)
    assert flow_of(replace(supply, height=-1.0), 1.0) == (0.0, 0)
    thin = replace(supply, main=Pipe(80.0, 10.0), emitters=Emitters(8.0, 100.0, 0.5))
    together, turns = flow_of(thin, 20.0)
    assert turns > 1
    assert together == pytest.approx(20.0 / turns * solve_line(thin, math.ceil(20.0 / turns)).flow)


def test_lines_that_can_all_run_at_once_take_one_turn_and_a_part_of_one_more_takes_two():
    thin = replace(_plain().water, main=Pipe(80.0, 10.0), emitters=Emitters(8.0, 100.0, 0.5))
    most = next(n for n in range(1, 50) if flow_of(thin, n + 1.0)[1] == 2)
    assert flow_of(thin, float(most))[1] == 1
    flow, turns = flow_of(thin, most + 0.5)
    together = 0.5 * (most + 0.5)
    assert turns == 2
    assert flow == pytest.approx(together * solve_line(thin, math.ceil(together)).flow)
    assert flow_of(thin, most - 0.5)[1] == 1


def test_lines_as_even_as_asked_for_serve():
    """The driest of four at 17 where the mean is 20: 0.85 to the last bit; five kPa at the last emitter."""
    supply = _plain().water
    even = Line(1.0, 0.6, np.array([21.0, 21.0, 17.0, 21.0]))
    assert even.uniformity == 0.85
    assert _serves(even, supply)
    assert not _serves(replace(even, flows=np.array([21.0, 21.0, 16.9, 21.1])), supply)
    assert not _serves(replace(even, last=4.9 / KPA_PER_METRE), supply)


def test_lines_of_beds_by_width_and_length():
    supply = _plain().water
    assert lines_in(supply, 0.4, 2.0) == 1.0
    assert lines_in(supply, 1.2, 3.0) == 4.5  # three across, one and a half along
    assert lines_in(supply, 0.1, 1.0) == 0.5  # never fewer than one across
    beds = (Bed("a", 3.0, 1.2), Bed("b", 2.0, 0.1))
    assert lines_of(replace(_plain(), beds=beds)) == 6  # 9 m and 2 m make five lines and a half
    assert lines_of(replace(_plain(), beds=(Bed("a", 2000.0, 1.2),))) == 400


def test_the_lowest_quarter_of_a_few_emitters():
    assert Line(1.0, 1.0, np.array([4.0, 2.0, 3.0, 3.0])).uniformity == pytest.approx(2.0 / 3.0)
    assert Line(1.0, 1.0, np.array([4.0, 2.0])).uniformity == pytest.approx(2.0 / 3.0)  # one at the least
    assert Line(1.0, 1.0, np.array([1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0])).uniformity == pytest.approx(1.5 / 4.5)
    assert Line(1.0, 1.0, np.zeros(4)).uniformity == 0.0
    trickle = np.array([0.04, 0.02, 0.03, 0.03])
    assert Line(1.0, 1.0, trickle).uniformity == pytest.approx(2.0 / 3.0)  # however little it is


@pytest.mark.parametrize(
    ("more", "height"),
    [
        ({"timer": "solenoid"}, 6), ({"filter": "disc", "height": 0.5}, 1.5),
        ({"emitters": Emitters(kind="compensating")}, 8),
        ({"height": 0.2}, 1), ({"height": -3.0}, 1), ({"emitters": Emitters(kind="tape"), "height": 0.9}, 1.5),
    ],
)  # fmt: skip
def test_the_least_of_the_usual_heights_that_would_do(more, height):
    found = gravity_feed(_plain(**more))
    assert f"a tank {height} m above the beds would do" in found.would_help
    assert gravity_feed(_plain(**(more | {"height": float(height)}))).works
    assert found.would_help[-1].startswith("a small pump would do")


def test_simpler_parts_would_do_or_be_a_beginning():
    helped = gravity_feed(_plain(timer="solenoid", valve="solenoid", filter="disc")).would_help
    assert helped[0] == (
        "a timer with a ball valve in place of the solenoid one and a ball valve in place of the solenoid valve and "
        "a screen filter, large and often rinsed, in place of the disc filter would do"
    )
    low = gravity_feed(_plain(timer="solenoid", height=0.3)).would_help
    assert low[0] == "a timer with a ball valve in place of the solenoid one would be a beginning"
    plain = gravity_feed(_plain(emitters=Emitters(kind="compensating"))).would_help
    assert plain[0] == "emitters that are not pressure-compensating would do"
    assert not any("in place of" in words for words in gravity_feed(_plain(height=0.2)).would_help)


def test_long_lines_are_fed_from_their_middle_where_that_helps():
    long = {"laterals": Pipe(80.0, 10.0), "emitters": Emitters(2.0, 100.0, 0.3), "height": 2.0}
    uneven = gravity_feed(_plain(**long))
    assert not uneven.works
    halved = _plain(**(long | {"laterals": Pipe(40.0, 10.0)}))
    told = "lines of 40 m, fed from their middle, would do" in uneven.would_help
    assert told == gravity_feed(halved).works
    fine = _plain(**(long | {"laterals": Pipe(60.0, 13.6), "height": 1.0}))
    assert gravity_feed(fine).works == (gravity_feed(fine).would_help == ())
    short = gravity_feed(_plain(timer="solenoid"))
    assert not any("fed from their middle" in words for words in short.would_help)


def test_a_reducer_that_would_leave_too_little_is_not_advised():
    """Lines that bear 45 kPa and want 60: no reducer serves them."""
    found = gravity_feed(_plain(emitters=Emitters(kind="compensating", most=45.0), height=15.0))
    assert not found.works
    assert not any("reducer" in words for words in found.would_help)


def test_garden_without_beds_or_height_is_told_as_that():
    assert gravity_feed(replace(_plain(), beds=())).why == "there are no beds to water"
    assert gravity_feed(replace(_plain(), beds=())).would_help == ()
    uneven = gravity_feed(_plain(laterals=Pipe(200.0, 10.0), height=3.0))
    assert "even one line alone" in uneven.why


def test_loss_in_the_main_is_that_of_the_flow_that_is_told():
    found = gravity_feed(_garden(height=2.0))
    supply = _garden(height=2.0).water
    assert found.main_loss == pytest.approx(
        darcy_weisbach(found.flow / 3.6e6, supply.main.length, supply.main.diameter / 1e3)
    )
    assert found.hazen_williams == pytest.approx(
        hazen_williams(found.flow / 3.6e6, supply.main.length, supply.main.diameter / 1e3)
    )


@pytest.mark.parametrize(("lines", "turns", "together"), [(2.0, 1, 2.0), (2.5, 2, 1.25), (4.0, 2, 2.0), (4.5, 3, 1.5)])
def test_a_part_of_a_line_takes_the_place_of_a_whole_one(monkeypatch, lines, turns, together):
    """Where two lines run at once: 4.5 lines are five, in three turns of 1.5; of two lines each gives 10 litres."""
    monkeypatch.setattr(gravity, "_most_at_once", lambda supply, most: (min(most, 2), None))
    monkeypatch.setattr(gravity, "solve_line", lambda supply, n: SimpleNamespace(flow=20.0 / n))
    assert flow_of(_plain().water, lines) == (pytest.approx(together * 10.0), turns)


def test_emitters_in_place_of_compensating_ones_are_tried_as_they_are_rated(monkeypatch):
    """At 100 kPa, as of the others that are sold (common practice, no source)."""
    tried = []
    real = gravity._most_at_once
    monkeypatch.setattr(gravity, "_most_at_once", lambda supply, n: tried.append(supply.emitters) or real(supply, n))
    found = gravity_feed(_plain(emitters=Emitters(kind="compensating", pressure=60.0), height=1.5))
    assert "not pressure-compensating" in found.would_help[0]
    assert {(e.kind, e.pressure) for e in tried} == {("compensating", 60.0), ("turbulent", 100.0)}


@pytest.mark.parametrize("height", [-0.1, 0.0])
@pytest.mark.parametrize("slope", [-5.0, 0.0, 5.0])
def test_of_a_tank_below_its_lines_nothing_comes(slope, height):
    line = solve_line(_plain(height=height, slope=slope).water, 1)
    assert (line.last, line.flow, line.flows.tolist()) == (0.0, 0.0, [0.0] * 4)
    assert line.inlet <= 0.0


def test_without_beds_there_are_no_lines_to_run():
    found = gravity_feed(replace(_plain(), beds=()))
    assert (found.lines, found.lines_at_once, found.works, found.would_help) == (0, 0, False, ())
    assert found.why == "there are no beds to water"


@pytest.mark.parametrize("enough", [1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 15.0])
def test_the_least_height_of_a_stand_that_would_do_is_told(monkeypatch, enough):
    """Where lines serve from so high on: stands are told at these heights, which a person may build or find."""
    real = gravity._most_at_once
    monkeypatch.setattr(gravity, "_bursting", lambda *a: [])
    monkeypatch.setattr(gravity, "_most_at_once", lambda supply, n: (int(supply.height >= enough), real(supply, n)[1]))
    assert gravity_feed(_plain(height=0.5)).would_help[0] == f"a tank {enough:g} m above the beds would do"
    assert gravity_feed(_plain(height=0.5, slope=1.0)).would_help[-1].startswith("a small pump")


def at(kpa, **more):
    """The plain garden with its tank at the height that gives so many kPa."""
    return gravity_feed(_plain(height=kpa / KPA_PER_METRE, **more))


@pytest.mark.parametrize(("kind", "least", "most"), [("turbulent", 5, 300), ("tape", 10, 100), ("laminar", 3, 300),
                                                     ("compensating", 60, 350)])  # fmt: skip
def test_each_kind_of_emitter_works_between_its_pressures(kind, least, most):
    """Common practice, no source; one line of four loses next to nothing."""
    emitters = {"emitters": Emitters(2.0, 100.0, 0.5, kind)}
    assert [at(least * k, **emitters).works for k in (0.98, 1.02)] == [False, True]
    assert [at(most * k, **emitters).works for k in (0.98, 1.02)] == [True, False]
    assert at(1.02 * most, **(emitters | {"reducer": 0.95 * most})).works
    own = {"emitters": Emitters(2.0, 100.0, 0.5, kind, most=90.0)}  # the sheet goes before what is usual
    assert [at(kpa, **own).works for kpa in (88.0, 92.0)] == [True, False]


@pytest.mark.parametrize(("device", "least"), [({"timer": "solenoid"}, 50.0), ({"valve": "solenoid"}, 50.0),
                                               ({"filter": "disc"}, 10.0)])  # fmt: skip
def test_a_device_works_from_its_least_pressure_on(device, least):
    assert "needs about" in at(0.999 * least, **device).why
    assert "needs about" not in at(least, **device).why
    assert at(least + 20.0, **device).works


@pytest.mark.parametrize("device", [{}, {"timer": "gravity"}, {"valve": "ball"}, {"filter": "screen"}])
def test_a_plain_device_works_at_any_pressure(device):
    assert at(0.05, **device).why == ("turbulent emitters need about 5 kPa at the last one and there are 0 at the tank")


def test_all_that_stops_it_is_told():
    assert at(9.0, timer="solenoid", filter="disc", emitters=Emitters(kind="tape")).why == (
        "a solenoid timer needs about 50 kPa and there are 9; a disc filter needs about 10 kPa and there are 9; "
        "tape emitters need about 10 kPa at the last one and there are 9 at the tank"
    )


def test_why_it_works_and_why_one_line_is_too_much():
    assert gravity_feed(_plain()).why == (
        "1 of 1 lines can run together; the last emitter then has 20 kPa and the driest quarter gets 100% of the mean"
    )
    three = replace(_plain(), beds=(Bed("b", 2.0, 1.2),))
    assert gravity_feed(three).why.startswith("3 of 3 lines can run together")
    few = gravity_feed(_plain(height=1.0, main=Pipe(80.0, 4.0)))
    assert not few.works
    assert few.why.startswith("even one line alone leaves ")
    assert few.why.endswith(" kPa at its last emitter, which needs about 5")
    uneven = gravity_feed(_plain(laterals=Pipe(200.0, 13.6), height=5.0))
    assert uneven.pressure > 5.0
    assert uneven.why == f"even one line alone waters its driest quarter at {uneven.uniformity:.0%} of the mean only"


def test_lines_that_run_at_once_are_no_more_than_there_are_and_their_flow_is_told():
    narrow = gravity_feed(_garden(height=1.0, main=Pipe(60.0, 13.0)))
    supply = _garden(height=1.0, main=Pipe(60.0, 13.0)).water
    assert narrow.lines_at_once == next(n for n in range(1, 24) if not _serves(solve_line(supply, n + 1), supply))
    assert 1 < narrow.lines_at_once < narrow.lines
    assert narrow.flow == pytest.approx(narrow.lines_at_once * solve_line(supply, narrow.lines_at_once).flow)
    assert narrow.static_head == 1.0


@pytest.mark.parametrize(("bears", "kpa"), [(155.0, 150), (105.0, 100), (85.0, 80), (80.0, 80), (65.0, 60), (43.0, 40)])
def test_the_greatest_of_the_usual_reducers_that_lines_bear(bears, kpa):
    """150, 100, 80, 60 and 40 kPa (common practice); of 80 that are borne to the last the reducer of 80 serves."""
    found = gravity_feed(_plain(emitters=Emitters(most=bears, spacing=0.5), height=20.0))
    assert found.would_help[0] == f"a pressure reducer of {kpa} kPa before the lines would do"


def test_a_reducer_leaves_room_for_the_fall_of_the_line():
    """Ten per cent of two metres are 2 kPa more at its end: of 81 kPa a reducer of 80 would be too much."""
    fall = gravity_feed(_plain(emitters=Emitters(most=81.0, spacing=0.5), height=20.0, slope=10.0))
    assert fall.would_help[0] == "a pressure reducer of 60 kPa before the lines would do"


@pytest.mark.parametrize(
    ("more", "metres"),
    [
        ({"emitters": Emitters(most=100.0), "height": 14.6}, 5),  # 14.6 less 10.2: four would leave 104 kPa
        ({"emitters": Emitters(most=100.0), "height": 10.3}, 1),
        ({"emitters": Emitters(most=700.0), "height": 65.0}, 4),  # the main bears 600: 61.2 m
        ({"emitters": Emitters(most=100.0), "height": 10.1, "slope": 10.0}, None),  # what falls in the line is too much
    ],
)  # fmt: skip
def test_a_break_tank_is_low_enough(more, metres):
    found = gravity_feed(_plain(**more))
    assert not found.works
    words = [w for w in found.would_help if w.startswith("a break tank")]
    assert [w.partition("at least ")[2].partition(" below")[0] for w in words] == [f"{metres} m"] * (metres is not None)
    if metres:
        assert gravity_feed(_plain(**(more | {"height": more["height"] - metres}))).works


def test_what_stands_in_a_main_below_its_tank_and_before_a_reducer():
    assert gravity_feed(_plain(height=-1.0)).static_pressure == 0.0
    assert gravity_feed(_plain(height=-1.0, slope=10.0)).static_pressure == pytest.approx(0.2 * KPA_PER_METRE)
    assert at(590.0, reducer=100.0).works
    assert "with the valve shut the main has 612 kPa" in at(612.0, reducer=100.0).why


def test_a_line_shorter_than_its_spacing_has_one_emitter():
    supply = _plain(laterals=Pipe(0.3, 16.0)).water
    assert solve_line(supply, 1).flows.size == 1
    assert solve_line(_plain(laterals=Pipe(1.9, 16.0)).water, 1).flows.size == 3


def test_on_the_mains_all_lines_run_as_they_are_rated():
    """Four emitters of two litres each; of a line shorter than the spacing the one that it has."""
    mains = replace(_plain().water, tanks=())
    assert flow_of(mains, 2.5) == (20.0, 1)
    assert flow_of(replace(mains, laterals=Pipe(0.3, 16.0)), 3.0) == (6.0, 1)
    assert flow_of(mains, 0.0) == (0.0, 0)


def test_lines_that_get_their_least_to_the_last_bit_serve():
    supply = _plain().water
    line = Line(1.0, 5.0 / KPA_PER_METRE, np.full(4, 2.0))
    assert line.last * KPA_PER_METRE == 5.0
    assert _serves(line, supply)


@pytest.mark.parametrize(("lines", "turns"), [(0.5, 1), (1.0, 1), (1.5, 2), (2.0, 2)])
def test_where_one_line_runs_at_a_time_there_are_as_many_turns_as_lines(lines, turns):
    """A long thin main, through which a second line would leave the emitters of both too little."""
    supply = _plain(height=1.0, main=Pipe(80.0, 5.0)).water
    assert [_serves(solve_line(supply, n), supply) for n in (1, 2)] == [True, False]
    assert flow_of(supply, lines) == (pytest.approx(lines / turns * solve_line(supply, 1).flow), turns)
