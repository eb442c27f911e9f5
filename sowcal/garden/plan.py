"""The plan of one garden from its file and its site's weather: plants, beds, water, store, helps, cautions."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.crops.handbook import Handbook, handbook
from sowcal.errors import NotJudgedError
from sowcal.garden.beds import BedPlan, allot_beds, rotation_notes
from sowcal.garden.garden_file import Garden, Mulch
from sowcal.garden.garden_weather import GardenWeather, garden_weather
from sowcal.garden.gravity_feed import GravityResult, gravity_feed
from sowcal.garden.perennials import standing_crops
from sowcal.garden.quantities import (
    HandWatering,
    PlantLine,
    Volumes,
    bed_volumes,
    check_names,
    hand_watering,
    plant_lines,
)
from sowcal.garden.rain_fed import rain_fed_seasons
from sowcal.garden.schedule import LeftOut, Sowing, chosen_crops, garden_schedule, median_span
from sowcal.garden.store import StoreResult, run_store, store_result, store_years, year_begins
from sowcal.garden.water_need import GardenNeed, garden_need
from sowcal.plurals import counted
from sowcal.provenance import MadeBy
from sowcal.seasons.site_days import SiteDays
from sowcal.settings import Settings
from sowcal.suitability.results import Record, record_of
from sowcal.suitability.windows import Fold
from sowcal.weather.datasets_and_frames import as_record
from sowcal.weather.findings import checked, refuse_other_hemisphere
from sowcal.year import month_day, month_of

if TYPE_CHECKING:
    import xarray as xr

    from sowcal.weather.record import DailyRecord

__all__ = [
    "GardenPlan",
    "Help",
    "Thirst",
    "garden_cautions",
    "litres_by_crop",
    "plan_garden",
    "what_helps",
]

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


_CLOTH = 0.3  # of the light


@dataclass(frozen=True, slots=True)
class Help:
    """A change, litres saved in the median year, and dry days of the median year with it."""

    change: str
    saves: float
    days_dry: float


@dataclass(frozen=True, slots=True)
class Thirst:
    """The week that draws most in the median year: its middle day, litres a day of all beds, m2 in use, litres
    a day and m2."""

    day: int
    litres: float
    used: float
    litres_per_m2: float


def _tried(
    change: str, weather: GardenWeather, need: GardenNeed, garden: Garden, before: float, latitude: float
) -> Help:
    run = run_store(weather, need, garden, latitude)
    begins = year_begins(latitude)
    year, known = weather.years_from(begins)
    years = store_years(run, year, (weather.day_of_year - begins) % 365, known, begins=begins)
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


@dataclass(frozen=True, slots=True)
class GardenPlan:
    """The answer to `sowcal garden`.

    Attributes
    ----------
    garden : Garden
    site : str
    latitude : float
    plants : tuple of PlantLine
        One a crop, in the order of the first start.
    sowings : tuple of Sowing
    beds : BedPlan
    rotation : tuple of str
    left_out : tuple of LeftOut
    need : GardenNeed
    by_crop : dict of str to float
        Litres drawn in the median year.
    rain_alone : dict of str to float
        Share of the watered crop that rain alone leaves of rain-fed annuals, mean of the years, 0 to 1.
    store : StoreResult
    helps : tuple of Help
    gravity : GravityResult or None
        None where water is carried by hand.
    minutes : float or None
        Minutes a day that the drip lines run in the thirstiest week, all groups of lines together.
    hand : HandWatering
    volumes : Volumes
    method : str
        How reference evapotranspiration was found.
    notes, cautions : tuple of str
    made_by : MadeBy
    record : Record
        The weather that it rests on.
    """

    garden: Garden
    site: str
    latitude: float
    plants: tuple[PlantLine, ...]
    sowings: tuple[Sowing, ...]
    beds: BedPlan
    rotation: tuple[str, ...]
    left_out: tuple[LeftOut, ...]
    need: GardenNeed
    by_crop: dict[str, float]
    rain_alone: dict[str, float]
    store: StoreResult
    helps: tuple[Help, ...]
    gravity: GravityResult | None
    minutes: float | None
    hand: HandWatering
    volumes: Volumes
    method: str
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    made_by: MadeBy
    record: Record

    @property
    def thirst(self) -> Thirst | None:
        """The thirstiest week of the median year; None where nothing is drawn."""
        peak = self.need.week_by_day(0.5)
        if not peak.max(initial=0.0) > 0.0:
            return None
        week = self.need.thirstiest_week
        day = week * 7 + 3
        used, daily = float(self.beds.used_in_all[month_of(day)]), float(peak[week])
        return Thirst(day, daily, used, daily / max(used, 1e-9))

    @property
    def worth_while(self) -> tuple[Help, ...]:
        """Changes that save more than a hundredth of what the median year draws."""
        return tuple(h for h in self.helps if h.saves > 0.01 * self.need.year(0.5))

    def to_json(self) -> dict[str, Any]:
        """Plain dict with the keys of the JSON section of the README; litres, kPa, m; unknown is None."""
        return {
            "plants": [
                {"crop": p.crop, "count": p.count, "surplus_share": _number(p.surplus_share, 3)} for p in self.plants
            ],
            "beds": self._beds_json(),
            "water": {
                "weekly_litres": [_number(v) for v in self.need.week(0.5)],
                "dry_year_weekly_litres": [_number(v) for v in self.need.week(0.9)],
            },
            "store": {
                "capacity_litres": _number(self.store.capacity),
                "years": [
                    {
                        "year": y.year,
                        "inflow": y.inflow,
                        "outflow": y.outflow,
                        "change": y.change,
                        "days_dry": y.days_dry,
                    }
                    for y in self.store.years
                ],
                "chance_dry": _number(self.store.chance_dry, 3),
                "size_for_9_in_10": _number(self.store.size_for_9_in_10, 0),
            },
            "gravity": {
                "static_head_m": _number(self.garden.water.height, 2),
                "pressure_kpa": _number(self.gravity.pressure, 1) if self.gravity else None,
                "works": self.gravity.works if self.gravity else None,
                "why": self.gravity.why if self.gravity else "water is carried by hand",
            },
            "cautions": list(self.cautions),
            "record": self.record.to_json(),
            "made_by": self.made_by.to_json(),
        }

    def _beds_json(self) -> list[dict[str, Any]]:
        out = []
        for number, bed in enumerate(self.garden.beds):
            crops = []
            for p in self.beds.placings:
                if p.bed == number:
                    _, first, _ = median_span(self.sowings[p.sowing])
                    start, last = self.sowings[p.sowing].place_taken
                    crops.append(
                        {
                            "crop": self.sowings[p.sowing].crop.name,
                            "way": self.sowings[p.sowing].way,
                            "count": p.count,
                            "area_m2": _number(p.area, 2),
                            "from": month_day(start),
                            "first_picking": month_day(first),
                            "to": month_day(last),
                        }
                    )
            out.append(
                {
                    "name": bed.name,
                    "area_m2": _number(bed.area, 2),
                    "used_m2_by_month": [_number(v, 2) for v in self.beds.used[number]],
                    "weekly_litres": [_number(v) for v in self.need.bed_weekly[number]],
                    "crops": crops,
                }
            )
        return out


def _number(value: float | None, digits: int = 1) -> float | None:
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), digits)


def plan_garden(
    garden: Garden,
    site_name: str,
    record: DailyRecord | xr.Dataset,
    *,
    settings: Settings | None = None,
    book: Handbook | None = None,
) -> GardenPlan:
    """Plan one garden on one site's weather.

    Parameters
    ----------
    garden : Garden
    site_name : str
    record : DailyRecord or xarray.Dataset
        Days of one site; what looks wrong in them stands in the plan's `record`.
    settings : Settings, optional
        Reliability, yield and time asked for.
    book : Handbook, optional
        The bundled one where left out.

    Returns
    -------
    GardenPlan

    Raises
    ------
    InputError
        For a crop that the handbook lacks, or a record whose seasons are those of the other hemisphere.
    NotJudgedError
        For a record of less than three years.

    Examples
    --------
    >>> import sowcal
    >>> from sowcal.garden.garden_file import open_garden
    >>> site, days = sowcal.open_weather("sallowdene")
    >>> plan = plan_garden(open_garden(), site.name, days)
    >>> plan.site, len(plan.plants), len(plan.need.years)
    ('Sallowdene (invented)', 22, 30)
    """
    book = book or handbook()
    check_names(garden, book)
    days = checked(as_record(record))
    refuse_other_hemisphere(days, site_name)
    site = SiteDays.from_record(days, settings)
    _check_length(site.size, site_name)
    fold = Fold.of(site)
    weather = garden_weather(days)
    crops = chosen_crops(site, fold, book, garden)
    knows_rain = weather.rain_known is None or bool(weather.rain_known.any())
    on_rain = rain_fed_seasons(weather, garden, where=site_name) if garden.rain_fed and knows_rain else None
    annuals, left = garden_schedule(site, fold, crops, garden, on_rain)
    perennials, left_too = standing_crops(site, fold, crops, book, garden)
    sowings, left = sorted([*annuals, *perennials], key=lambda s: s.start), [*left, *left_too]
    plan = allot_beds(sowings, garden.beds)
    need = garden_need(weather, sowings, [(p.sowing, p.bed, p.area) for p in plan.placings], garden)
    gravity = gravity_feed(garden) if garden.water.method == "drip" else None
    peak = float(need.week_by_day(0.5).max(initial=0.0))
    return GardenPlan(
        garden=garden,
        site=site_name,
        latitude=site.latitude,
        plants=tuple(plant_lines(sowings, plan, garden)),
        sowings=tuple(sowings),
        beds=plan,
        rotation=tuple(rotation_notes(sowings, plan, garden.beds)),
        left_out=(*left, *plan.left_out),
        need=need,
        by_crop=litres_by_crop(sowings, plan, need),
        rain_alone=_rain_alone(sowings),
        store=store_result(weather, need, garden, site.latitude),
        helps=tuple(what_helps(weather, sowings, plan, garden, need, site.latitude)),
        gravity=gravity,
        minutes=60.0 * peak / gravity.flow if gravity and gravity.works and gravity.flow > 0 else None,
        hand=hand_watering(need.week_by_day(0.5), garden.water.hose, first=year_begins(site.latitude) // 7),
        volumes=bed_volumes(garden),
        method=weather.method,
        notes=(*weather.notes, *_rain_notes(garden, knows_rain), *_store_notes(garden, site.latitude)),
        cautions=tuple(garden_cautions(garden, gravity, _cautions_of_crops(sowings, plan))),
        made_by=MadeBy(book.fingerprint, (days.fingerprint,)),
        record=record_of(days),
    )


def _check_length(days: int, site_name: str) -> None:
    if days < 3 * 365:
        raise NotJudgedError(
            f"the record holds {counted(days, 'day')}; a garden plan needs at least three whole years", where=site_name
        )


def _cautions_of_crops(sowings: list[Sowing], plan: BedPlan) -> list[str]:
    """Each caution of the handbook once, with the crops that it is of."""
    said: dict[str, list[str]] = defaultdict(list)
    grown = {sowings[p.sowing].crop.name: sowings[p.sowing].crop for p in plan.placings}
    for _, crop in sorted(grown.items()):
        for text in crop.cautions:
            said[text].append(crop.name)
    return [f"{', '.join(names)}: {text}" for text, names in said.items()]


def _rain_notes(garden: Garden, knows_rain: bool) -> list[str]:
    if knows_rain or not garden.rain_fed:
        return []
    names = ", ".join(garden.rain_fed)
    return [f"what rain alone leaves of {names} is not known: they are planned as if rain were enough"]


def _store_notes(garden: Garden, latitude: float) -> list[str]:
    water = garden.water
    if not water.tanks or water.roof > 0.0 or water.refill > 0.0:
        return []
    when = "1 January" if latitude >= 0.0 else "1 July"
    return [f"neither roof nor refill is given: the store is taken to be filled once a year, on {when}"]


def _rain_alone(sowings: list[Sowing]) -> dict[str, float]:
    leaves: dict[str, float] = {}
    for sowing in sowings:
        if sowing.rain_leaves is not None:
            leaves[sowing.crop.name] = max(sowing.rain_leaves, leaves.get(sowing.crop.name, 0.0))
    return leaves
