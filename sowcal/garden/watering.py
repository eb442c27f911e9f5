"""The watering sheet: minutes by zone and month, programs of a timer, loads of water, and what would save some.

A zone is what one valve waters. Lines count as far as they lie over what grows: the rest is clamped or plugged.
"""

from __future__ import annotations

import datetime as dt
import math
from collections import defaultdict
from dataclasses import dataclass, replace
from itertools import combinations, pairwise
from typing import Any

import numpy as np

from sowcal.garden.beds import BedPlan, month_shares
from sowcal.garden.garden_file import Garden, Mulch
from sowcal.garden.garden_weather import GardenWeather
from sowcal.garden.gravity_feed import GravityResult, flow_of, lines_in
from sowcal.garden.quantities import hand_watering
from sowcal.garden.schedule import Sowing
from sowcal.garden.store import dry_days, pond_losses, roof_water, run_store, year_begins
from sowcal.garden.water_need import GardenNeed, garden_need
from sowcal.languages import counted, phrase
from sowcal.units import quantity
from sowcal.year import MONTH_LENGTHS, YEAR, day_of_date, month_of

__all__ = [
    "Choice",
    "Load",
    "Program",
    "PumpWork",
    "Trial",
    "ZoneMonth",
    "choices_of",
    "loads_of",
    "programs_of",
    "pump_work",
    "soaks_in",
    "tank_sizes",
    "watering_season",
    "watering_sheet",
    "what_helps",
    "zones_of",
]

_ONE_ZONE = "all beds"
_OTHERS = "other beds"
_MOST_BETWEEN = 14  # days; soil that holds longer is watered every fortnight all the same: common practice
_SEASON = 0.05  # of the thirstiest week's draw; below it nobody waters by timer: ours
_KEPT_BACK = 0.1  # of the tank, in which a load is ordered: common practice
_MOST_LOADS = 400
# mm an hour that wet soil takes in for long: FAO Training Manual 5 (Irrigation methods), from memory
_INTAKE = {
    "sand": 30.0, "loamy sand": 25.0, "sandy loam": 20.0, "loam": 10.0, "silt loam": 8.0, "silt": 7.0,
    "silt clay loam": 5.0, "silty clay": 4.0, "clay": 3.0,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class ZoneMonth:
    """One zone in one month.

    Attributes
    ----------
    zone : str
    month : int
        1 to 12.
    litres, dry_year_litres : float
        Of the month, in the median year and in the dry year in ten.
    days_between : int
        Days from one watering to the next.
    lines : float
        Drip lines over what grows.
    flow : float
        l h-1 of the lines that run together, or of the hose.
    turns : int
        In so many turns, where not all lines can run together.
    """

    zone: str
    month: int
    litres: float
    dry_year_litres: float
    days_between: int
    lines: float
    flow: float
    turns: int

    def _minutes(self, litres: float) -> float | None:
        each = litres / MONTH_LENGTHS[self.month - 1] * self.days_between
        return 60.0 * each / self.flow if self.flow > 0.0 else None

    @property
    def minutes(self) -> float | None:
        """Minutes of one watering in the median year, all turns together; None where no water comes."""
        return self._minutes(self.litres)

    @property
    def dry_year_minutes(self) -> float | None:
        """The same in the dry year in ten."""
        return self._minutes(self.dry_year_litres)

    def to_json(self) -> dict[str, Any]:
        """Zone, month, minutes of a watering and days between."""
        return {
            "zone": self.zone,
            "month": self.month,
            "minutes": None if self.minutes is None else round(self.minutes, 1),
            "dry_year_minutes": None if self.dry_year_minutes is None else round(self.dry_year_minutes, 1),
            "days_between": self.days_between,
        }


@dataclass(frozen=True, slots=True)
class Program:
    """What a timer is set to for some months on end: minutes every so many days, enough for the thirstiest of them."""

    zone: str
    months: tuple[int, ...]
    minutes: float
    days_between: int
    too_much: float  # litres a year that go beyond what each month asks for


@dataclass(frozen=True, slots=True)
class Load:
    """Water brought on a day, litres."""

    date: dt.date
    litres: float

    def to_json(self) -> dict[str, Any]:
        """Day and litres."""
        return {"date": self.date.isoformat(), "litres": round(self.litres)}


def zones_of(garden: Garden) -> dict[str, tuple[int, ...]]:
    """Beds of each zone, by the name of its valve; one for all where the garden file names none."""
    named = any(b.zone for b in garden.beds)
    out: dict[str, list[int]] = defaultdict(list)
    for number, bed in enumerate(garden.beds):
        out[bed.zone or (_OTHERS if named else _ONE_ZONE)].append(number)
    return {zone: tuple(beds) for zone, beds in out.items()}


def watering_season(need: GardenNeed, share: float = _SEASON) -> tuple[int, int] | None:
    """First and last day of the year of the weeks that draw more than a share of the thirstiest, median year.

    None where nothing is drawn. By the usual share it is the time in which a timer is worth its while.

    The longest dry pause of the year lies between the last and the first.
    """
    weekly = need.week_by_day(0.5)
    on = weekly > share * weekly.max(initial=0.0)
    if not on.any():
        return None
    if on.all():
        return 0, 364

    def pause(week: int) -> int:
        """Weeks from this one on that draw nothing."""
        return int(np.roll(on, -week).argmax())

    longest = max(range(on.size), key=pause)
    first, last = (longest + pause(longest)) % on.size, (longest - 1) % on.size
    return first * 7, last * 7 + 6 if last < 51 else 364


def _lines(garden: Garden, sowings: list[Sowing], plan: BedPlan, beds: tuple[int, ...]) -> np.ndarray:
    """Drip lines over what is watered in some beds, mean of each month, shape (12,)."""
    out = np.zeros(12)
    for p in plan.placings:
        if p.bed in beds and not sowings[p.sowing].rain_fed:
            lines = lines_in(garden.water, garden.beds[p.bed].width, p.end - p.begin)
            out += lines * month_shares(*sowings[p.sowing].place_taken)
    return out


def _days_between(need: GardenNeed, plan: BedPlan, beds: tuple[int, ...], month: int) -> int:
    """Days after which the thirstiest crop of a zone has used what it may use of the water that its roots reach."""
    found = [need.by_sowing[p.sowing].between[month] for p in plan.placings if p.bed in beds]
    known = [d for d in found if math.isfinite(d)]
    return max(1, min(math.floor(min(known) + 1e-9), _MOST_BETWEEN)) if known else 1


def watering_sheet(
    garden: Garden, sowings: list[Sowing], plan: BedPlan, need: GardenNeed, gravity: GravityResult | None
) -> tuple[ZoneMonth, ...]:
    """Every zone in every month in which it draws.

    Parameters
    ----------
    garden : Garden
    sowings : list of Sowing
    plan : BedPlan
    need : GardenNeed
    gravity : GravityResult or None
        None where water is carried: the minutes are those of the hose then.

    Returns
    -------
    tuple of ZoneMonth
        Minutes times flow over the waterings of a month are its litres.
    """
    out = []
    for zone, beds in zones_of(garden).items():
        lines = _lines(garden, sowings, plan, beds)
        by_year = need.bed_monthly[list(beds)].sum(axis=0)
        for month in range(12):
            if by_year.shape[0] == 0 or not np.quantile(by_year[:, month], 0.9) >= 1.0:
                continue
            if gravity is None:
                flow, turns = 60.0 * garden.water.hose, 1
            else:
                fed = gravity.works or not garden.water.stored
                flow, turns = flow_of(garden.water, float(lines[month])) if fed else (0.0, 0)
            out.append(
                ZoneMonth(
                    zone=zone,
                    month=month + 1,
                    litres=float(np.quantile(by_year[:, month], 0.5)),
                    dry_year_litres=float(np.quantile(by_year[:, month], 0.9)),
                    days_between=_days_between(need, plan, beds, month),
                    lines=float(lines[month]),
                    flow=flow,
                    turns=turns,
                )
            )
    return tuple(out)


def _program(months: list[ZoneMonth]) -> Program:
    between = min(m.days_between for m in months)
    daily = [m.litres / MONTH_LENGTHS[m.month - 1] for m in months]
    minutes = max(60.0 * d * between / m.flow for d, m in zip(daily, months, strict=True))
    given = sum(minutes / 60.0 * m.flow / between * MONTH_LENGTHS[m.month - 1] for m in months)
    return Program(
        months[0].zone, tuple(m.month for m in months), minutes, between, given - sum(m.litres for m in months)
    )


def programs_of(sheet: tuple[ZoneMonth, ...], most: int, season: tuple[int, int] | None) -> tuple[Program, ...]:
    """The months of each zone's season in no more programs than a timer holds, with least water too much.

    Parameters
    ----------
    sheet : tuple of ZoneMonth
    most : int
        Programs of the timer.
    season : tuple of int or None
        As `watering_season` gives it.

    Returns
    -------
    tuple of Program
        Every month gets at least what it asks for in the median year.
    """
    if season is None:
        return ()
    days = (season[0] + np.arange((season[1] - season[0]) % YEAR + 1)) % YEAR
    order = list(dict.fromkeys(month_of(int(d)) + 1 for d in days))
    out: list[Program] = []
    for zone in dict.fromkeys(row.zone for row in sheet):
        rows = {r.month: r for r in sheet if r.zone == zone and r.flow > 0.0 and r.litres > 0.0}
        months = [rows[m] for m in order if m in rows]
        if not months:
            continue
        tried = []
        for cuts in combinations(range(1, len(months)), min(most, len(months)) - 1):
            edges = (0, *cuts, len(months))
            tried.append([_program(months[a:b]) for a, b in pairwise(edges)])
        out += min(tried, key=lambda programs: sum(p.too_much for p in programs))
    return tuple(out)


def soaks_in(garden: Garden, emitter_flow: float) -> tuple[float, float, str]:
    """mm an hour that drip lines bring to the soil, that the tightest soil of the beds takes in for long when wet, and
    the texture of that soil."""
    supply = garden.water
    tightest = min((b.texture or garden.texture for b in garden.beds), key=lambda t: _INTAKE[t], default=garden.texture)
    return emitter_flow / (supply.emitters.spacing * supply.lateral_spacing), _INTAKE[tightest], tightest


def loads_of(
    garden: Garden,
    weather: GardenWeather,
    need: GardenNeed,
    begin: dt.date,
    *,
    odds: float = 0.5,
    there: np.ndarray | None = None,
) -> tuple[Load, ...]:
    """Loads of water that a garden with tanks needs to be brought in the year from a day on.

    Each load fills the tanks, on the day on which the next day's water is no longer in them; a tenth is kept back.

    Parameters
    ----------
    garden : Garden
    weather : GardenWeather
    need : GardenNeed
    begin : datetime.date
        First day; the tanks hold then what the garden file says.
    odds : float
        0.5 for what the median year draws, 0.9 for the dry year in ten.
    there : numpy.ndarray, optional
        Share of what stands in later years that stands already, by day from `begin`, shape (365,); all where left out.

    Returns
    -------
    tuple of Load
        None for a garden without tanks.
    """
    water = garden.water
    draws = need.by_day(odds)
    roof = np.bincount(weather.day_of_year, roof_water(weather.rain, water.roof, first_flush=water.first_flush), 365)
    comes = roof / np.maximum(np.bincount(weather.day_of_year, minlength=365), 1) + water.refill
    level = water.full_at_start * water.capacity
    out: list[Load] = []
    for k in range(365):
        date = begin + dt.timedelta(days=k)
        day = day_of_date(date)
        drawn = float(draws[day]) * (1.0 if there is None else float(there[k]))
        wants = max(drawn - float(comes[day]), 0.0)
        while level - wants < _KEPT_BACK * water.capacity and wants > 0.0 and len(out) < _MOST_LOADS:
            brought = water.capacity - level
            if brought < 1.0:
                break
            out.append(Load(date, brought))
            level = water.capacity
        level = min(max(level - drawn + float(comes[day]), 0.0), water.capacity)
    return tuple(out)


@dataclass(frozen=True, slots=True)
class PumpWork:
    """Hours a day that a pump runs in the thirstiest week, whether it lifts so high, and days that the pond lasts from
    then on at that draw; None where its depth is not told."""

    hours: float
    lifts: bool
    pond_days: float | None


_BOWL = 0.5  # of surface times depth that a pond with sloping sides holds: common practice, no source


def pump_work(garden: Garden, weather: GardenWeather, need: GardenNeed) -> PumpWork | None:
    """What the pump has to do; None without one."""
    pump, pond = garden.water.pump, garden.water.pond
    if pump is None:
        return None
    daily = float(need.week_by_day(0.5).max())
    lasts = None
    if pond is not None and math.isfinite(pond.depth):
        week = np.minimum(weather.day_of_year // 7, 51) == need.thirstiest_week
        lost = float(pond_losses(weather.reference[week], pond.area, pond.seepage).mean())
        lasts = 1000.0 * _BOWL * pond.area * pond.depth / max(daily + lost, 1e-9)
    return PumpWork(daily / pump.flow, pump.head > pump.lift, lasts)


_CLOTH = 0.3  # of the light


@dataclass(frozen=True, slots=True)
class Choice:
    """What the garden would ask for after a change, before any money is spent.

    Attributes
    ----------
    change : str
    litres, saves : float
        Drawn in the median year, and how much less than as it is.
    minutes : float
        A day with the watering can in the thirstiest week.
    days_dry : float
        Dry days of the median year; without a tank all days that want water.
    loads, dry_year_loads : int
        Deliveries in the median year and in the dry year in ten, once all stands; none without a tank to fill.
    tank : float or None
        Litres of the tanks that are tried; None where they stay.
    """

    change: str
    litres: float
    saves: float
    minutes: float
    days_dry: float
    loads: int
    dry_year_loads: int
    tank: float | None = None


@dataclass(frozen=True, slots=True)
class Trial:
    """What changes are tried on."""

    weather: GardenWeather
    sowings: list[Sowing]
    plan: BedPlan
    garden: Garden
    need: GardenNeed
    latitude: float
    begin: dt.date

    def choice(self, change: str, need: GardenNeed, garden: Garden) -> Choice:
        """What comes of a changed garden or need."""
        run = run_store(self.weather, need, garden, self.latitude)
        year, known = self.weather.years_from(year_begins(self.latitude))
        dry = dry_days(run)
        days_dry = [dry[year == y].sum() for y in known]
        litres = need.year(0.5)
        loads, dry_loads = (len(loads_of(garden, self.weather, need, self.begin, odds=q)) for q in (0.5, 0.9))
        return Choice(
            change=change,
            litres=litres,
            saves=self.need.year(0.5) - litres,
            minutes=float(hand_watering(need.week_by_day(0.5), garden.water.hose).can.max()),
            days_dry=float(np.median(days_dry)) if days_dry else 0.0,
            loads=loads,
            dry_year_loads=dry_loads,
        )


def tank_sizes(trial: Trial) -> list[Choice]:
    """Half, twice and four times the tanks that there are; where there are none, some usual sizes."""
    capacity, water = trial.garden.water.capacity, trial.garden.water
    sizes = [capacity * k for k in (0.5, 2.0, 4.0)] if capacity > 0.0 else [1000.0, 2000.0, 5000.0, 10000.0]
    out = []
    for litres in sizes:
        changed = replace(trial.garden, water=replace(water, tanks=(litres,)))
        out.append(
            replace(
                trial.choice(phrase("{water} of tank", water=quantity(litres, "litres", ",.0f")), trial.need, changed),
                tank=litres,
            )
        )
    return out


def choices_of(trial: Trial) -> tuple[Choice, ...]:
    """The garden as it is, with other tanks, and with what would save water, the most helpful first."""
    if not trial.need.draws:
        return ()
    return (trial.choice("as it is", trial.need, trial.garden), *tank_sizes(trial), *what_helps(trial))


def _thirsty_beds(need: GardenNeed) -> list[int]:
    """Beds, the one that draws most first."""
    return [int(b) for b in need.bed_weekly.sum(axis=1).argsort()[::-1]]


def what_helps(trial: Trial) -> list[Choice]:
    """Mulch, fewer beds, earlier starts and shade, the most helpful first."""
    weather, sowings, garden = trial.weather, trial.sowings, trial.garden
    placed = [(p.sowing, p.bed, p.area) for p in trial.plan.placings]
    if not placed or not trial.need.year(0.5):
        return []
    out = []
    mulch = garden.mulch
    if any((b.mulch or mulch).kind == "none" or (b.mulch or mulch).cover < 1.0 for b in garden.beds):
        whole = Mulch("straw" if mulch.kind == "none" else mulch.kind, 1.0, mulch.depth)
        mulched = replace(garden, mulch=whole, beds=tuple(replace(b, mulch=None) for b in garden.beds))
        changed = garden_need(weather, sowings, placed, mulched)
        out.append(trial.choice(f"{whole.kind} mulch over all the soil", changed, mulched))
    thirsty = _thirsty_beds(trial.need)
    fewer_beds = {1: f"one bed less ({garden.beds[thirsty[0]].name})"} if len(thirsty) > 1 else {}
    if len(thirsty) > 3:
        fewer_beds[len(thirsty) // 2] = "the thirstiest half of the beds left fallow"
    for number, words in fewer_beds.items():
        fewer = garden_need(weather, sowings, [p for p in placed if p[1] not in thirsty[:number]], garden)
        out.append(trial.choice(words, fewer, garden))
    moved = [
        s if s.earlier is None or s.rain_fed else replace(s, index=s.earlier[0], last=s.earlier[1]) for s in sowings
    ]
    crops = {s.crop.name for s in sowings if s.earlier is not None and not s.rain_fed}
    if crops:
        changed = garden_need(weather, moved, placed, garden)
        words = f"starting {counted(len(crops), 'crop')} a fortnight earlier (where that serves as well)"
        out.append(trial.choice(words, changed, garden))
    changed = garden_need(weather, sowings, placed, garden, cloth=_CLOTH)
    out.append(trial.choice(f"{_CLOTH:.0%} shade cloth over the beds", changed, garden))
    return sorted(out, key=lambda c: -c.saves)
