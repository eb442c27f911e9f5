"""What to beware of beside the figures; told whenever the garden has the thing that it speaks of."""

from __future__ import annotations

from sowcal.garden.garden_file import Garden
from sowcal.garden.gravity import GravityResult

__all__ = ["garden_cautions"]

# Ayers & Westcot 1985, FAO-29 Table 1, from memory: below 0.7 dS m-1 no restriction, above 3 severe
_SALTY, _VERY_SALTY = 0.7, 3.0


def garden_cautions(garden: Garden, gravity: GravityResult | None, crop_cautions: list[str]) -> list[str]:
    """Sentences, the gravest first."""
    water = garden.water
    out = []
    if water.tanks:
        tonnes = max(water.tanks) / 1000.0
        out.append(
            f"A full tank of {max(water.tanks):,.0f} litres weighs about {tonnes:g} t and more with its shell: "
            "on a slope or a made-up stand it can slide or topple and kill; have the footing judged by "
            "somebody licensed before it is filled."
        )
        out.append(
            "Never use second-hand containers that held anything but food for water that touches crops eaten "
            "raw; ask what was in them, and do without where nobody knows."
        )
        out.append(
            "Keep tanks lidded, dark and screened with mesh: standing water breeds mosquitoes, and a child "
            "drowns in little water."
        )
    if water.pond:
        out.append("An open pond needs a fence that a child cannot climb, and a shallow way out for animals.")
    if water.tanks or water.pond or water.refill:
        out.append(
            "Do not put untreated surface or roof water on the parts of salad and other crops that are eaten "
            "raw; water the soil, not the leaves, and wash what is picked in drinking water."
        )
    if water.refill or water.pond:
        out.append("Drawing on a stream, spring or well may need leave: ask what the local rules on abstraction say.")
    out.append(
        "A licensed person does what holds pressure, is electric, joins the mains (with a device against "
        "backflow) or moves earth; local codes come first."
    )
    if water.salinity > _VERY_SALTY:
        out.append(
            f"Water of {water.salinity:g} dS/m harms most vegetables; have it tested before anything is planted."
        )
    elif water.salinity > _SALTY:
        out.append(
            f"Water of {water.salinity:g} dS/m lowers the yield of beans, carrot, onion and strawberry; water "
            "more at a time so that some drains."
        )
    if gravity is not None and not gravity.works and garden.beds:
        out.append(f"Gravity will not feed the drip lines: {gravity.why}.")
    return out + list(dict.fromkeys(crop_cautions))
