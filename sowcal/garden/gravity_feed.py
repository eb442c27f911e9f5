"""Water that runs by its own weight: friction in pipes, what emitters give, and how evenly a drip line waters.

Friction by Darcy-Weisbach with laminar and smooth turbulent flow, Hazen-Williams beside it.

Heads are in metres of water, flows in m3 s-1, lengths and inner diameters in metres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import reduce

import numpy as np

from sowcal.garden.garden_file import Emitters, Garden, WaterSupply
from sowcal.languages import phrase
from sowcal.units import Form, quantity

__all__ = [
    "DEVICES",
    "KPA_PER_METRE",
    "GravityResult",
    "Line",
    "christiansen_factor",
    "darcy_weisbach",
    "flow_of",
    "friction_factor",
    "gravity_feed",
    "hazen_williams",
    "lines_in",
    "lines_of",
    "many_outlet_loss",
    "most_borne",
    "solve_line",
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
    velocity = flow / (0.25 * math.pi * diameter**2)
    factor = friction_factor(velocity * diameter / _VISCOSITY)  # none where nothing flows
    return factor * max(length, 0.0) / diameter * velocity**2 / (2.0 * _GRAVITY)


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


_EXPONENT = {"turbulent": 0.5, "tape": 0.55, "laminar": 1.0, "compensating": 0.0}  # q = k H^x
# Keller & Karmeli 1974 for the form; exponents as usually given, from memory.
_LEAST_EMITTER = {"turbulent": 5.0, "tape": 10.0, "laminar": 3.0, "compensating": 60.0}  # kPa: common practice
# kPa that lines bear where their sheet is not at hand: thin-walled tape 100 (thick 170), common practice, no source
_MOST_EMITTER = {"turbulent": 300.0, "tape": 100.0, "laminar": 300.0, "compensating": 350.0}
_MOST_PIPE = 600.0  # kPa, of PE pipe of the usual class and what is screwed to it: common practice, no source
_EVEN = 0.85  # least distribution uniformity of the lower quarter that serves a garden: common practice
_MOST_LINES = 400


@dataclass(frozen=True, slots=True)
class Device:
    """A filter, valve or timer: kPa it takes and least kPa at which it works. Common practice, no source."""

    words: str
    loss: float
    least: float


DEVICES: dict[tuple[str, str], Device] = {
    ("filter", "none"): Device("no filter", 0.0, 0.0),
    ("filter", "screen"): Device("a screen filter", 1.0, 0.0),
    ("filter", "disc"): Device("a disc filter", 4.0, 10.0),
    ("valve", "none"): Device("no valve", 0.0, 0.0),
    ("valve", "ball"): Device("a ball valve", 0.2, 0.0),
    ("valve", "solenoid"): Device("a solenoid valve", 10.0, 50.0),
    ("timer", "none"): Device("no timer", 0.0, 0.0),
    ("timer", "gravity"): Device("a timer with a ball valve, made for gravity", 1.0, 0.0),
    ("timer", "solenoid"): Device("a solenoid timer", 10.0, 50.0),
}


@dataclass(frozen=True, slots=True)
class Line:
    """What one drip line does at the head it gets."""

    inlet: float  # m
    last: float  # m, at the last emitter
    flows: np.ndarray  # l h-1 of each emitter, the first at the inlet

    @property
    def flow(self) -> float:
        """Litres an hour of the whole line."""
        return float(self.flows.sum())

    @property
    def uniformity(self) -> float:
        """Mean of the lowest quarter of emitters over the mean of all."""
        ordered = np.sort(self.flows)
        quarter = max(1, round(ordered.size / 4))
        mean = float(ordered.mean())
        return float(ordered[:quarter].mean() / mean) if mean > 0.0 else 0.0


@dataclass(frozen=True, slots=True)
class GravityResult:
    """How gravity feeds the beds.

    Attributes
    ----------
    static_head : float
        m of water at the beds with nothing flowing, tank nearly empty.
    pressure : float
        At the last emitter of the last line, kPa.
    uniformity, hazen_williams : float
        Evenness; loss in the main by the other formula, m, beside `main_loss`.
    static_pressure, most_pressure : float
        kPa at the lowest point with all valves shut, before the valve; and along a line that runs alone, beyond it.
    lines, lines_at_once : int
        Drip lines in all, and how many run together.
    flow : float
        l h-1 of the lines that run together.
    emitter_flow : float
        l h-1 of a mean emitter at the pressure it gets.
    works : bool
    why : str
    would_help : tuple of str
    """

    static_head: float
    pressure: float
    uniformity: float
    main_loss: float
    hazen_williams: float
    lines: int
    lines_at_once: int
    flow: float
    emitter_flow: float
    works: bool
    why: str
    would_help: tuple[str, ...]
    static_pressure: float
    most_pressure: float


def emitter_flow(head: float, emitters: Emitters) -> float:
    """Litres an hour of one emitter at a head in m."""
    pressure = max(head, 0.0) * KPA_PER_METRE
    exponent = _EXPONENT[emitters.kind]
    if exponent == 0.0:  # below its least pressure it no longer regulates
        least = _LEAST_EMITTER["compensating"]
        return emitters.flow * min(1.0, (pressure / least) ** 0.5)
    return emitters.flow * (pressure / emitters.pressure) ** exponent


def _emitters_on(supply: WaterSupply) -> int:
    """Emitters of one line, one at the least."""
    return max(1, int(supply.laterals.length / supply.emitters.spacing + 1e-9))


def _march(last: float, supply: WaterSupply) -> tuple[float, list[float]]:
    """Head at the inlet of a line and flows from the far end, for a head at the last emitter."""
    emitters, pipe = supply.emitters, supply.laterals
    fall = supply.slope / 100.0 * emitters.spacing
    head, total, flows = last, 0.0, []
    for _ in range(_emitters_on(supply)):
        q = emitter_flow(head, emitters)
        flows.append(q)
        total += q
        loss = darcy_weisbach(total / 3.6e6, emitters.spacing, pipe.diameter / 1000.0)
        head += loss - fall
    return head, flows


def _device_loss(supply: WaterSupply) -> float:
    """Head that filter, valve and timer take, m."""
    parts = (("filter", supply.filter), ("valve", supply.valve), ("timer", supply.timer))
    return sum(DEVICES[p].loss for p in parts) / KPA_PER_METRE


def _reduced(supply: WaterSupply) -> float:
    """Greatest head that a reducer lets through, m; no bound where there is none."""
    return supply.reducer / KPA_PER_METRE if supply.reducer > 0.0 else math.inf


def most_borne(emitters: Emitters) -> float:
    """Greatest pressure that drip lines bear, kPa: the product's own where it is told, else that of its kind."""
    return emitters.most if math.isfinite(emitters.most) else _MOST_EMITTER[emitters.kind]


def _pressures(supply: WaterSupply) -> tuple[float, float]:
    """kPa at the lowest point with nothing flowing, and the greatest along a line that runs alone.

    What stands before the valve feels the first every night, the line beyond it the second: with one line open the
    main takes least head, so no other case is harder on it.
    """
    fall = max(supply.slope, 0.0) / 100.0 * supply.laterals.length
    static = (min(max(supply.height, 0.0), _reduced(supply)) + fall) * KPA_PER_METRE
    alone = solve_line(supply, 1)
    return static, max(alone.inlet, alone.last) * KPA_PER_METRE


def _kpa(pressure: float, form: Form = "whole") -> str:
    return quantity(pressure, "kPa", ".0f", form)


def _bursting(supply: WaterSupply, static: float, alone: float) -> list[str]:
    """What is under more pressure than it bears."""
    bears = most_borne(supply.emitters)
    out = []
    if alone > bears:
        words = (
            "one line alone would have {alone} and {kind} lines bear about {bears}: emitters pop off or the line bursts"
        )
        out.append(phrase(words, alone=_kpa(alone), kind=supply.emitters.kind, bears=_kpa(bears, "number")))
    most = max(static, supply.height * KPA_PER_METRE)  # before the reducer, where there is one
    if most > _MOST_PIPE:
        words = "with the valve shut the main has {most} and its pipe bears about {bears}"
        out.append(phrase(words, most=_kpa(most), bears=_kpa(_MOST_PIPE, "number")))
    return out


def solve_line(supply: WaterSupply, lines: int) -> Line:
    """One of so many lines that run together, by halving the head at its last emitter."""

    def needed(last: float) -> tuple[float, float, list[float]]:
        inlet, flows = _march(last, supply)
        flow = lines * sum(flows) / 3.6e6
        main = darcy_weisbach(flow, supply.main.length, supply.main.diameter / 1000.0)
        return inlet + main, inlet, flows

    available = min(supply.height, _reduced(supply)) - _device_loss(supply)
    fall = supply.slope / 100.0 * supply.laterals.length
    low, high = 0.0, max(available + max(fall, 0.0), 0.0)
    if available <= 0.0 or needed(0.0)[0] >= available:
        inlet, flows = _march(0.0, supply)
        return Line(min(inlet, max(available, 0.0)), 0.0, np.zeros(len(flows)))
    while high - low >= 1e-5:
        middle = 0.5 * (low + high)
        if needed(middle)[0] > available:
            high = middle
        else:
            low = middle
    _, inlet, flows = needed(low)
    return Line(inlet, low, np.array(flows[::-1]))


def _whole(lines: float) -> int:
    """Lines made up to whole ones; what is over by rounding alone makes none."""
    return math.ceil(lines - 1e-9)


def lines_of(garden: Garden) -> int:
    """Drip lines that the beds take: each bed as many as fit its width, lengths made up to whole lines."""
    supply = garden.water
    metres = sum(max(1, round(b.width / supply.lateral_spacing)) * b.length for b in garden.beds)
    return min(_whole(metres / supply.laterals.length), _MOST_LINES)


def lines_in(supply: WaterSupply, width: float, length: float) -> float:
    """Whole lines that a part of a bed takes, parts of one counted as such."""
    return max(1, round(width / supply.lateral_spacing)) * length / supply.laterals.length


def flow_of(supply: WaterSupply, lines: float) -> tuple[float, int]:
    """Litres an hour that so many lines give, and in how many turns they run where not all can run together.

    Parameters
    ----------
    supply : WaterSupply
    lines : float
        Lines in use, parts of one counted as such: what lies over bare soil is clamped or plugged.

    Returns
    -------
    tuple of float and int
        Flow of the lines that run together, and turns; no flow where not even one line serves. On the mains all run
        together, at the flow that their emitters are rated for.
    """
    if lines <= 0.0:
        return 0.0, 0
    if not supply.stored:
        return lines * _emitters_on(supply) * supply.emitters.flow, 1
    whole = max(1, _whole(lines))
    at_once, _ = _most_at_once(supply, whole)
    if at_once == 0:
        return 0.0, 0
    turns = math.ceil(whole / at_once)
    together = lines / turns
    return together * solve_line(supply, max(1, _whole(together))).flow, turns


def _serves(line: Line, supply: WaterSupply) -> bool:
    enough = line.last * KPA_PER_METRE >= _LEAST_EMITTER[supply.emitters.kind]
    return enough and line.uniformity >= _EVEN


def _stopping(supply: WaterSupply) -> list[str]:
    """Devices that do not work at the pressure there is."""
    pressure = max(supply.height, 0.0) * KPA_PER_METRE
    out = []
    for part in (("timer", supply.timer), ("valve", supply.valve), ("filter", supply.filter)):
        device = DEVICES[part]
        if pressure < device.least:
            words = "{device} needs about {needs} and there are {there}"
            needs = quantity(device.least, "kPa")
            out.append(phrase(words, device=device.words, needs=needs, there=_kpa(pressure, "number")))
    least = _LEAST_EMITTER[supply.emitters.kind]
    if pressure < least:
        words = "{kind} emitters need about {least} at the last one and there are {there} at the tank"
        needs, there = quantity(least, "kPa"), _kpa(pressure, "number")
        out.append(phrase(words, kind=supply.emitters.kind, least=needs, there=there))
    return out


def _most_at_once(supply: WaterSupply, lines: int) -> tuple[int, Line]:
    """Greatest number of lines that can run together, 0 and a single line where not even one can."""
    one = solve_line(supply, 1)
    if not _serves(one, supply):
        return 0, one
    low, best = 1, one
    high = lines + 1
    while high - low > 1:
        middle = (low + high) // 2
        line = solve_line(supply, middle)
        if _serves(line, supply):
            low, best = middle, line
        else:
            high = middle
    return low, best


def _feeds(supply: WaterSupply) -> bool:
    """Whether one line alone is served; none is from a tank that does not stand above the beds."""
    return _most_at_once(supply, 1)[0] > 0


def gravity_feed(garden: Garden) -> GravityResult:
    """Whether the garden's tank can feed its drip lines, how evenly, and what would make it."""
    supply = garden.water
    lines = lines_of(garden)
    static, alone = _pressures(supply)
    stops = _stopping(supply) or _bursting(supply, static, alone)
    at_once, line = _most_at_once(supply, max(lines, 1))
    flow = max(at_once, 1) * line.flow
    diameter = supply.main.diameter / 1000.0
    works = at_once > 0 and not stops and lines > 0
    return GravityResult(
        static_head=supply.height,
        pressure=line.last * KPA_PER_METRE,
        uniformity=line.uniformity,
        main_loss=darcy_weisbach(flow / 3.6e6, supply.main.length, diameter),
        hazen_williams=hazen_williams(flow / 3.6e6, supply.main.length, diameter),
        lines=lines,
        lines_at_once=at_once if lines else 0,
        flow=flow,
        emitter_flow=float(line.flows.mean()),
        works=works,
        why=_why(supply, works, stops, at_once, line, lines),
        would_help=() if works or not lines else _remedies(garden, static, alone),
        static_pressure=static,
        most_pressure=alone,
    )


def _why(supply: WaterSupply, works: bool, stops: list[str], at_once: int, line: Line, lines: int) -> str:
    pressure = line.last * KPA_PER_METRE
    if supply.height <= 0:
        return "the tank does not stand above the beds: water does not run uphill"
    if stops:
        return reduce(lambda before, more: phrase("{before}; {more}", before=before, more=more), stops)
    if lines == 0:
        return "there are no beds to water"
    if works:
        return phrase(
            "{some} of {lines} lines can run together; the last emitter then has {pressure} and the driest quarter "
            "gets {share:.0%} of the mean",
            **{"some": at_once, "lines": lines, "pressure": _kpa(pressure), "share": line.uniformity},
        )
    least = _LEAST_EMITTER[supply.emitters.kind]
    if pressure < least:
        words = "even one line alone leaves {pressure} at its last emitter, which needs about {least}"
        return phrase(words, pressure=quantity(pressure, "kPa", ".1f"), least=quantity(least, "kPa", form="number"))
    return f"even one line alone waters its driest quarter at {line.uniformity:.0%} of the mean only"


def _eased(supply: WaterSupply, static: float, alone: float) -> tuple[str, ...]:
    """What takes the pressure off, tried out."""
    bears = most_borne(supply.emitters)
    out = []
    if alone > bears:
        for kpa in (150.0, 100.0, 80.0, 60.0, 40.0):
            eased = replace(supply, reducer=kpa)
            if kpa <= bears and _pressures(eased)[1] <= bears and _feeds(eased):
                out.append(phrase("a pressure reducer of {kpa} before the lines would do", kpa=quantity(kpa, "kPa")))
                break
    head = math.ceil(supply.height - min(bears, _MOST_PIPE) / KPA_PER_METRE)  # a metre too little would not do
    if head > 0:
        out.append(
            phrase(
                "a break tank (a small open tank with a float valve) at least {head} below the outlet would do, and "
                "takes the load off the pipe with it",
                head=quantity(head, "m", ".0f"),
            )
        )
    return tuple(out)


def _remedies(garden: Garden, static: float, alone: float) -> tuple[str, ...]:
    """Changes that make it work, each tried out."""
    supply = garden.water
    if not _stopping(supply) and _bursting(supply, static, alone):
        return _eased(supply, static, alone)
    plain = replace(
        supply,
        timer="gravity" if supply.timer == "solenoid" else supply.timer,
        valve="ball" if supply.valve == "solenoid" else supply.valve,
        filter="screen" if supply.filter == "disc" else supply.filter,
        emitters=replace(supply.emitters, kind="turbulent", pressure=100.0)
        if supply.emitters.kind == "compensating"
        else supply.emitters,
    )
    out = []
    if plain != supply:
        words = []
        if plain.timer != supply.timer:
            words.append("a timer with a ball valve in place of the solenoid one")
        if plain.valve != supply.valve:
            words.append("a ball valve in place of the solenoid valve")
        if plain.filter != supply.filter:
            words.append("a screen filter, large and often rinsed, in place of the disc filter")
        if plain.emitters != supply.emitters:
            words.append("emitters that are not pressure-compensating")
        enough = _feeds(plain)
        out.append(" and ".join(words) + (" would do" if enough else " would be a beginning"))
    for height in (1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 15.0):
        raised = replace(supply, height=height)
        fits = not _stopping(raised) and not _bursting(raised, *_pressures(raised))
        if height > supply.height and fits and _feeds(raised):
            out.append(phrase("a tank {height} above the beds would do", height=quantity(height, "m")))
            break
    shorter = replace(plain, laterals=replace(plain.laterals, length=plain.laterals.length / 2.0))
    if not _feeds(plain) and _feeds(shorter):
        out.append(
            phrase("lines of {length}, fed from their middle, would do", length=quantity(shorter.laterals.length, "m"))
        )
    out.append("a small pump would do, installed by a licensed person where it meets the mains")
    return tuple(out)
