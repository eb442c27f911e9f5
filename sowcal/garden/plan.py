"""The whole garden: plants, beds, water by week, the store, gravity, hand or timer, cautions."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sowcal.counted import counted
from sowcal.crops.handbook import Handbook, handbook
from sowcal.errors import NotJudgedError
from sowcal.garden.beds import BedPlan, allot_beds, rotation_notes
from sowcal.garden.cautions import garden_cautions
from sowcal.garden.dates import month_day
from sowcal.garden.garden_file import Garden
from sowcal.garden.garden_weather import garden_weather
from sowcal.garden.gravity import GravityResult, gravity_feed
from sowcal.garden.hand_watering import HandWatering, hand_watering
from sowcal.garden.helps import Help, litres_by_crop, what_helps
from sowcal.garden.plant_lines import PlantLine, check_names, plant_lines
from sowcal.garden.rain_fed import rain_fed_seasons
from sowcal.garden.schedule import LeftOut, Sowing, chosen_crops, garden_schedule, median_span
from sowcal.garden.standing import standing_crops
from sowcal.garden.store_result import StoreResult, store_result
from sowcal.garden.volumes import Volumes, bed_volumes
from sowcal.garden.water_need import GardenNeed, garden_need
from sowcal.made_by import MadeBy
from sowcal.seasons.settings import Settings
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.by_day import Fold
from sowcal.suitability.record import record_of
from sowcal.suitability.results import Record
from sowcal.weather.findings import checked
from sowcal.weather.fingerprint import record_fingerprint
from sowcal.weather.hemisphere import refuse_other_hemisphere

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["GardenPlan", "plan_garden"]


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
    dataset: xr.Dataset,
    *,
    settings: Settings | None = None,
    book: Handbook | None = None,
) -> GardenPlan:
    """Plan one garden on one site's weather.

    Parameters
    ----------
    garden : Garden
    site_name : str
    dataset : xarray.Dataset
        One site, in the form of `sowcal.weather.dataset.daily_dataset`; what looks wrong in it stands in the plan's
        `record`.
    settings : Settings, optional
        Risk, yield and time asked for.
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
    """
    book = book or handbook()
    check_names(garden, book)
    refuse_other_hemisphere(dataset, site_name)
    dataset = checked(dataset)
    site = SiteDays.from_dataset(dataset, settings)
    if site.size < 3 * 365:
        raise NotJudgedError(
            f"the record holds {counted(site.size, 'day')}; a garden plan needs at least three whole years",
            where=site_name,
        )
    fold = Fold.of(site)
    weather = garden_weather(dataset)
    crops = chosen_crops(site, fold, book, garden)
    knows_rain = weather.rain_known is None or bool(weather.rain_known.any())
    on_rain = rain_fed_seasons(weather, garden, where=site_name) if garden.rain_fed and knows_rain else None
    annuals, left = garden_schedule(site, fold, crops, garden, on_rain)
    perennials, left_too = standing_crops(site, fold, crops, book, garden)
    sowings, left = sorted([*annuals, *perennials], key=lambda s: s.start), [*left, *left_too]
    plan = allot_beds(sowings, garden.beds)
    need = garden_need(weather, sowings, [(p.sowing, p.bed, p.area) for p in plan.placings], garden)
    gravity = gravity_feed(garden) if garden.water.method == "drip" else None
    peak = float(need.week(0.5).max(initial=0.0)) / 7.0
    grown = {sowings[p.sowing].crop.name: sowings[p.sowing].crop for p in plan.placings}.values()
    said: dict[str, list[str]] = defaultdict(list)
    for crop in sorted(grown, key=lambda c: c.name):
        for text in crop.cautions:
            said[text].append(crop.name)
    crop_cautions = [f"{', '.join(names)}: {text}" for text, names in said.items()]
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
        hand=hand_watering(need.week(0.5), garden.water.hose),
        volumes=bed_volumes(garden),
        method=weather.method,
        notes=(*weather.notes, *_rain_notes(garden, knows_rain), *_store_notes(garden, site.latitude)),
        cautions=tuple(garden_cautions(garden, gravity, crop_cautions)),
        made_by=MadeBy(book.fingerprint, (record_fingerprint(dataset),)),
        record=record_of(dataset),
    )


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
