"""The plan of one garden from its file and its site's weather: plants, beds, water, store, helps, cautions."""

from __future__ import annotations

import datetime as dt
import math
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.crops.handbook import Handbook, handbook
from sowcal.errors import NotJudgedError
from sowcal.garden.bed_ground import Between, between_rows, in_tree_shade, neighbour_words, water_held
from sowcal.garden.beds import BedPlan, Move, allot_beds, rotation_moves, rotation_notes, waits_of_moves
from sowcal.garden.diary import BedUse, Job, Purchase, bed_uses, diary_of, share_there, shopping_list
from sowcal.garden.garden_file import Garden
from sowcal.garden.garden_weather import GardenWeather, garden_weather
from sowcal.garden.gravity_feed import GravityResult, gravity_feed
from sowcal.garden.perennials import standing_crops
from sowcal.garden.plants import way_outcome, weekly_use
from sowcal.garden.quantities import (
    HandWatering,
    PlantLine,
    Volumes,
    bed_volumes,
    garden_cautions,
    hand_watering,
    plant_lines,
)
from sowcal.garden.rain_fed import RainFedBeds
from sowcal.garden.schedule import (
    LeftOut,
    Sowing,
    chosen_crops,
    garden_schedule,
    median_span,
    with_crops_named,
)
from sowcal.garden.store import StoreResult, store_result, year_begins
from sowcal.garden.water_need import GardenNeed, garden_need
from sowcal.garden.watering import (
    Choice,
    Load,
    Program,
    PumpWork,
    Trial,
    ZoneMonth,
    choices_of,
    loads_of,
    programs_of,
    pump_work,
    watering_season,
    watering_sheet,
)
from sowcal.languages import counted
from sowcal.provenance import MadeBy
from sowcal.seasons.season import missing_values
from sowcal.seasons.site_days import SiteDays
from sowcal.settings import Settings
from sowcal.suitability.results import Record, record_of
from sowcal.suitability.windows import Fold
from sowcal.weather.findings import checked, refuse_other_hemisphere
from sowcal.weather.from_xarray_and_pandas import as_record
from sowcal.year import month_day, month_of

if TYPE_CHECKING:
    import xarray as xr

    from sowcal.weather.record import DailyRecord

__all__ = [
    "GardenPlan",
    "Thirst",
    "litres_by_crop",
    "plan_garden",
]


_DRY = 0.25  # of the thirstiest week's draw; soil that is mulched before stays cold and wet: common practice


@dataclass(frozen=True, slots=True)
class Thirst:
    """The week that draws most in the median year: its middle day, litres a day of all beds, m2 in use, litres
    a day and m2."""

    day: int
    litres: float
    used: float
    litres_per_m2: float


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
    choices : tuple of Choice
        The garden as it is, and what other tanks, mulch, shade or fewer beds would change.
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
    begin : datetime.date
        First day of the diary.
    diary : tuple of Job
    sheet : tuple of ZoneMonth
        The watering sheet.
    programs : tuple of Program
    season : tuple of int or None
        First and last day of the year of watering.
    loads, dry_year_loads : tuple of Load
        Water brought in the year from `begin`, of median and of dry years, for what stands in a garden begun then.
    moves : tuple of Move
        Four years of rotation.
    pump : PumpWork or None
    between : tuple of Between
        Radish between the rows of slow crops, where it has its time.
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
    choices: tuple[Choice, ...]
    gravity: GravityResult | None
    minutes: float | None
    hand: HandWatering
    volumes: Volumes
    method: str
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    made_by: MadeBy
    record: Record
    begin: dt.date
    diary: tuple[Job, ...]
    sheet: tuple[ZoneMonth, ...]
    programs: tuple[Program, ...]
    season: tuple[int, int] | None
    loads: tuple[Load, ...]
    dry_year_loads: tuple[Load, ...]
    moves: tuple[Move, ...]
    pump: PumpWork | None
    between: tuple[Between, ...]

    @property
    def uses(self) -> tuple[BedUse, ...]:
        """Size of each bed and its use on the fullest day."""
        return bed_uses(self.garden, self.beds)

    @property
    def neighbours(self) -> tuple[str, ...]:
        """What reaches beyond its own part of a bed."""
        return tuple(neighbour_words(self.garden, self.sowings, self.beds, self.latitude))

    @property
    def shopping(self) -> tuple[Purchase, ...]:
        """What is to be bought."""
        return shopping_list(self.diary)

    @property
    def thirst(self) -> Thirst | None:
        """The thirstiest week of the median year; None where nothing is drawn."""
        peak = self.need.week_by_day(0.5)
        if not peak.max(initial=0.0) > 0.0:
            return None
        week = self.need.thirstiest_week
        day = week * 7 + 3
        used = float(self.beds.daily[:, week * 7 : week * 7 + 7].sum(axis=0).mean())
        daily = float(peak[week])
        return Thirst(day, daily, used, daily / max(used, 1e-9))

    @property
    def helps(self) -> tuple[Choice, ...]:
        """Changes that alter what the beds draw; other tanks are none of them."""
        return tuple(c for c in self.choices[1:] if c.tank is None)

    @property
    def worth_while(self) -> tuple[Choice, ...]:
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
            "diary": [job.to_json() for job in self.diary],
            "watering": [row.to_json() for row in self.sheet],
            "loads": [load.to_json() for load in self.loads],
            "use": [use.to_json() for use in self.uses],
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
    begin: dt.date | None = None,
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
    begin : datetime.date, optional
        First day of the diary; 1 January after the record where left out.

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
    days = checked(as_record(record))
    refuse_other_hemisphere(days, site_name)
    site = SiteDays.from_record(days, settings)
    _check_length(site.size, site_name)
    fold = Fold.of(site)
    garden, named = with_crops_named(in_tree_shade(garden, site.latitude), book, site, fold)
    weather = garden_weather(days)
    crops = chosen_crops(site, fold, book, garden)
    on_rain, knows_rain = _on_rain(weather, garden, site_name)
    annuals, left = garden_schedule(site, fold, crops, garden, on_rain.usual if on_rain else None)
    perennials, left_too = standing_crops(site, fold, crops, book, garden)
    sowings, left = sorted([*annuals, *perennials], key=lambda s: s.start), [*left, *left_too]
    plan = allot_beds(sowings, garden.beds, water_held(garden))
    sowings = sowings if on_rain is None else on_rain.of_sowings(site, fold, sowings, plan)
    need = garden_need(weather, sowings, [(p.sowing, p.bed, p.area) for p in plan.placings], garden)
    begin = begin or dt.date(int(weather.year[-1]) + 1, 1, 1)
    moves = rotation_moves(sowings, plan, garden.beds)
    return GardenPlan(
        garden=garden,
        site=site_name,
        latitude=site.latitude,
        plants=tuple(plant_lines(sowings, plan, garden)),
        sowings=tuple(sowings),
        beds=plan,
        rotation=(*rotation_notes(sowings, plan, garden.beds), *waits_of_moves(sowings, plan, garden.beds, moves)),
        left_out=(*left, *plan.left_out),
        need=need,
        by_crop=litres_by_crop(sowings, plan, need),
        rain_alone=_rain_alone(sowings),
        choices=choices_of(Trial(weather, sowings, plan, garden, need, site.latitude, begin)),
        volumes=bed_volumes(garden),
        method=weather.method,
        notes=(*named, *weather.notes, *_rain_notes(garden, knows_rain), *_store_notes(garden, site.latitude)),
        made_by=MadeBy(book.fingerprint, (days.fingerprint,)),
        record=record_of(days),
        begin=begin,
        moves=moves,
        between=_between(site, fold, book, sowings, plan, garden),
        **_watered(garden, weather, sowings, plan, need, begin, site.latitude),
    )


def _watered(
    garden: Garden,
    weather: GardenWeather,
    sowings: list[Sowing],
    plan: BedPlan,
    need: GardenNeed,
    begin: dt.date,
    latitude: float,
) -> dict[str, Any]:
    """What of a plan follows from its water: store, pipes, sheet, loads, the diary with its mulch, and cautions."""
    gravity = gravity_feed(garden) if garden.water.method == "drip" else None
    sheet = watering_sheet(garden, sowings, plan, need, gravity)
    season, dry = watering_season(need), watering_season(need, _DRY)
    daily = need.week_by_day(0.5)
    crops = _cautions_of_crops(sowings, plan)
    there = share_there(sowings, plan, begin)
    loads, dry_loads = (loads_of(garden, weather, need, begin, odds=q, there=there) for q in (0.5, 0.9))
    mulched, brought = (dry[0] if dry else None), [(load.date, load.litres) for load in loads]
    return {
        "store": store_result(weather, need, garden, latitude),
        "gravity": gravity,
        "minutes": _minutes(sheet, need) if gravity is not None else None,
        "hand": hand_watering(daily, garden.water.hose, first=year_begins(latitude) // 7),
        "sheet": sheet,
        "pump": pump_work(garden, weather, need),
        "programs": programs_of(sheet, garden.water.programs, season),
        "season": season,
        "diary": diary_of(garden, sowings, plan, begin, season, mulched, loads=brought, south=latitude < 0.0),
        "loads": loads,
        "dry_year_loads": dry_loads,
        "cautions": tuple(garden_cautions(garden, gravity, crops, daily=float(daily.max(initial=0.0)))),
    }


def _minutes(sheet: tuple[ZoneMonth, ...], need: GardenNeed) -> float | None:
    """Minutes a day of all zones together in the thirstiest week, at the flow of that month; None without flow."""
    peak = need.week_by_day(0.5).max(initial=0.0)
    rows = [r for r in sheet if r.month == month_of(need.thirstiest_week * 7 + 3) + 1]
    hours = sum(r.litres / r.flow for r in rows if r.flow > 0.0)
    litres = sum(r.litres for r in rows if r.flow > 0.0)
    return 60.0 * float(peak) * hours / litres if litres > 0.0 else None


def _on_rain(weather: GardenWeather, garden: Garden, where: str) -> tuple[RainFedBeds | None, bool]:
    """What rain alone leaves, where anything lives on it and rain is known; and whether it is known."""
    known = weather.rain_known is None or bool(weather.rain_known.any())
    return (RainFedBeds(weather, garden, where=where) if garden.rain_fed and known else None), known


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


_QUICK = "radish"


def _between(
    site: SiteDays, fold: Fold, book: Handbook, sowings: list[Sowing], plan: BedPlan, garden: Garden
) -> tuple[Between, ...]:
    """A quick crop between the rows of slow ones, where anybody eats it."""
    crop = book.get(_QUICK)
    if crop is None or not plan.placings or weekly_use(crop.garden, garden.household, _QUICK) <= 0.0:
        return ()
    outcomes = [way_outcome(site, fold, crop, way) for way in crop.ways if not missing_values(crop, way)]
    return between_rows(outcomes[0], sowings, plan, garden, site.settings.reliability) if outcomes else ()


def _rain_alone(sowings: list[Sowing]) -> dict[str, float]:
    leaves: dict[str, float] = {}
    for sowing in sowings:
        if sowing.rain_leaves is not None:
            leaves[sowing.crop.name] = max(sowing.rain_leaves, leaves.get(sowing.crop.name, 0.0))
    return leaves
