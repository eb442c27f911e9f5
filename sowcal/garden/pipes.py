"""Friction in pipes: Darcy-Weisbach with laminar and smooth turbulent flow, Hazen-Williams beside it.

Heads are in metres of water, flows in m3 s-1, lengths and inner diameters in metres.
"""

from __future__ import annotations

import math

__all__ = [
    "KPA_PER_METRE",
    "christiansen_factor",
    "darcy_weisbach",
    "friction_factor",
    "hazen_williams",
    "many_outlet_loss",
]

KPA_PER_METRE = 9.80665  # 1 m of water of 1000 kg m-3; 10 m are 0.98 bar
_GRAVITY = 9.80665  # m s-2
_VISCOSITY = 1.004e-6  # m2 s-1, water at 20 degC (from memory of usual tables)
_LAMINAR, _TURBULENT = 2000.0, 4000.0  # Reynolds numbers between which flow is unsteady
_ROUGHER = 1e5  # above it Blasius' curve falls too low


def friction_factor(reynolds: float) -> float:
    """Darcy friction factor of a smooth pipe.

    64 / Re below Re 2000; Blasius' 0.3164 Re^-0.25 from 4000 to 100 000; above, 0.130 Re^-0.172 (Keller &
    Bliesner 1990, from memory); between 2000 and 4000 a straight line.
    """
    if reynolds <= 0.0:
        return 0.0
    if reynolds <= _LAMINAR:
        return 64.0 / reynolds
    if reynolds >= _ROUGHER:
        return 0.130 * reynolds**-0.172
    smooth = 0.3164 * max(reynolds, _TURBULENT) ** -0.25
    if reynolds >= _TURBULENT:
        return smooth
    share = (reynolds - _LAMINAR) / (_TURBULENT - _LAMINAR)
    return (1.0 - share) * 64.0 / _LAMINAR + share * smooth


def darcy_weisbach(flow: float, length: float, diameter: float) -> float:
    """Head lost along a smooth pipe, m."""
    if flow <= 0.0 or length <= 0.0:
        return 0.0
    velocity = flow / (0.25 * math.pi * diameter**2)
    factor = friction_factor(velocity * diameter / _VISCOSITY)
    return factor * length / diameter * velocity**2 / (2.0 * _GRAVITY)


def hazen_williams(flow: float, length: float, diameter: float, coefficient: float = 140.0) -> float:
    """Head lost along a pipe by Hazen-Williams, m.

    10.67 L Q^1.852 / (C^1.852 d^4.87), the standard SI form. C is 140 for PE (Boesch Engineering's friction
    loss table). Meant for turbulent flow in pipes above some 50 mm; a cross-check only.
    """
    return 10.67 * length * flow**1.852 / (coefficient**1.852 * diameter**4.87)


def christiansen_factor(outlets: int, exponent: float = 1.852) -> float:
    """Loss of a pipe with equal outlets over that of the same pipe without, first outlet a full spacing in.

    1 / (m + 1) + 1 / (2 N) + sqrt(m - 1) / (6 N^2): Christiansen 1942, Irrigation by sprinkling, California
    Agricultural Experiment Station Bulletin 670 (from memory).
    """
    if outlets < 1:
        return 0.0
    if outlets == 1:  # one outlet at the end is a plain pipe; the series gives 1.004
        return 1.0
    n = float(outlets)
    root = math.sqrt(max(exponent - 1.0, 0.0))
    return 1.0 / (exponent + 1.0) + 1.0 / (2.0 * n) + root / (6.0 * n * n)


def many_outlet_loss(outlet_flow: float, outlets: int, spacing: float, diameter: float) -> float:
    """Head lost along a line of equal outlets by Christiansen's factor, m; Darcy-Weisbach, exponent 1.75."""
    whole = darcy_weisbach(outlet_flow * outlets, outlets * spacing, diameter)
    return whole * christiansen_factor(outlets, 1.75)
