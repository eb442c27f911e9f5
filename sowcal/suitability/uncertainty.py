"""How far a verdict hangs on the handbook's numbers: the same crop at the kind and the harsh end of them.

Printed and recalled limits of one crop differ by some 1.5 degC in the handbook's own table of alternatives; that is
how far limits are moved (common practice). Thermal times, cold and chill needs move to the ends of their ranges.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

from sowcal.crops.records import Crop

__all__ = ["within_its_range"]

_STEP = 1.5  # degC

# sign of the change that makes a limit kinder
_KINDER = {
    "cold": {"killing_young": -1, "killing_grown": -1, "killing_picked_part": -1, "killing_flower": -1},
    "heat": {"young_limit": 1, "filling_limit": 1, "night_limit": 1},
    "growth": {"range_minimum": -1, "range_maximum": 1},
    "flowering": {"day_full_below": 1, "day_none_above": 1, "night_none_below": -1, "night_none_above": 1},
    "perennial": {
        "killing_dormant": -1,
        "killing_growing": -1,
        "killing_fruit": -1,
        "winter_mean_most": 1,
        "summer_mean_most": 1,
        "heat_kills": 1,
        "summer_mean_least": -1,
    },
}


def _moved(record: Any, signs: dict[str, int], kinder: bool) -> Any:
    side = _STEP if kinder else -_STEP
    names = {f.name for f in fields(record)}
    return replace(record, **{n: getattr(record, n) + side * s for n, s in signs.items() if n in names})


def within_its_range(crop: Crop, kinder: bool) -> Crop:
    """The crop as the kinder or the harsher end of what is known of it has it."""
    changed = {
        part: _moved(getattr(crop, part), signs, kinder)
        for part, signs in _KINDER.items()
        if getattr(crop, part) is not None
    }
    ways = []
    for way in crop.ways:
        end = way.thermal_time_low if kinder else way.thermal_time_high
        ways.append(replace(way, thermal_time_low=end, thermal_time_high=end))
    needs = []
    for need in crop.chill:
        end = need.need_low if kinder else need.need_high
        needs.append(replace(need, need_low=end, need_high=end))
    return replace(crop, ways=tuple(ways), chill=tuple(needs), **changed)
