"""What would help the store most: each change is tried on every year of the record."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace

import numpy as np

from sowcal.garden.beds import BedPlan
from sowcal.garden.garden_file import Garden, Mulch
from sowcal.garden.garden_weather import GardenWeather
from sowcal.garden.schedule import Sowing
from sowcal.garden.store import store_years
from sowcal.garden.store_result import run_store
from sowcal.garden.water_need import GardenNeed, garden_need

__all__ = ["Help", "litres_by_crop", "what_helps"]

_CLOTH = 0.3  # of the light


@dataclass(frozen=True, slots=True)
class Help:
    """A change, litres saved in the median year, and dry days of the median year with it."""

    change: str
    saves: float
    days_dry: float


def _tried(
    change: str, weather: GardenWeather, need: GardenNeed, garden: Garden, before: float, latitude: float
) -> Help:
    run = run_store(weather, need, garden, latitude)
    years = store_years(run, weather.year, weather.day_of_year, need.years)
    dry = float(np.median([y.days_dry for y in years])) if years else 0.0
    return Help(change, before - need.year(0.5), dry)


def _thirstiest_bed(need: GardenNeed) -> int:
    return int(need.bed_weekly.sum(axis=1).argmax())


def what_helps(
    weather: GardenWeather,
    sowings: list[Sowing],
    plan: BedPlan,
    garden: Garden,
    need: GardenNeed,
    latitude: float,
) -> list[Help]:
    """Mulch, one bed less, earlier starts and shade, the most helpful first."""
    placed = [(p.sowing, p.bed, p.area) for p in plan.placings]
    before = need.year(0.5)
    if not placed or before <= 0.0 or not need.years.size:
        return []
    out = []
    if garden.mulch.kind == "none" or garden.mulch.cover < 1.0:
        kind = "straw" if garden.mulch.kind == "none" else garden.mulch.kind
        mulched = replace(garden, mulch=Mulch(kind, 1.0, garden.mulch.depth))
        changed = garden_need(weather, sowings, placed, mulched)
        out.append(_tried(f"{kind} mulch over all the soil", weather, changed, mulched, before, latitude))
    if len(garden.beds) > 1:
        bed = _thirstiest_bed(need)
        fewer = garden_need(weather, sowings, [p for p in placed if p[1] != bed], garden)
        out.append(_tried(f"one bed less ({garden.beds[bed].name})", weather, fewer, garden, before, latitude))
    moved = [
        s if s.earlier is None or s.rain_fed else replace(s, index=s.earlier[0], last=s.earlier[1]) for s in sowings
    ]
    crops = {s.crop.name for s in sowings if s.earlier is not None and not s.rain_fed}
    if crops:
        changed = garden_need(weather, moved, placed, garden)
        number = f"{len(crops)} {'crop' if len(crops) == 1 else 'crops'}"
        words = f"starting {number} a fortnight earlier (where that serves as well)"
        out.append(_tried(words, weather, changed, garden, before, latitude))
    changed = garden_need(weather, sowings, placed, garden, cloth=_CLOTH)
    out.append(_tried(f"{_CLOTH:.0%} shade cloth over the beds", weather, changed, garden, before, latitude))
    return sorted(out, key=lambda h: -h.saves)


def litres_by_crop(sowings: list[Sowing], plan: BedPlan, need: GardenNeed) -> dict[str, float]:
    """Litres that each crop draws in the median year."""
    out: dict[str, float] = defaultdict(float)
    for p in plan.placings:
        found = need.by_sowing.get(p.sowing)
        if found is not None and found.irrigation.size:
            out[sowings[p.sowing].crop.name] += float(np.median(found.irrigation)) * p.area
    return dict(sorted(out.items(), key=lambda c: -c[1]))
