"""The garden's jobs in the order of their dates: what to buy, sow, set out, tend, pick and clear, where and how much.

Each sowing keeps its jobs together: what is sown under cover in one year is set out and cleared after it, never before.
"""

from __future__ import annotations

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import count
from typing import Any

import numpy as np

from sowcal.crops.tables import known
from sowcal.garden.bed_file import Mulch
from sowcal.garden.bed_ground import LAPPED, path_litres
from sowcal.garden.beds import BedPlan, Placing
from sowcal.garden.garden_file import Bed, Garden
from sowcal.garden.plants import cares_of, cut_words
from sowcal.garden.schedule import Sowing
from sowcal.languages import counted_phrase, phrase
from sowcal.units import quantity
from sowcal.year import MONTH_STARTS, day_of_date, day_text, month_of

__all__ = [
    "IN_TEN",
    "JOBS",
    "STARTS",
    "TENDING",
    "TRAY",
    "BedUse",
    "Job",
    "Purchase",
    "bed_uses",
    "diary_of",
    "share_there",
    "shopping_list",
    "use_of_diary",
]

_SPARE, TRAY = 1.25, 40  # cells sown for each plant that is set out, cells of a tray: common practice
_BUY_AHEAD = 21  # days before a thing is used: common practice
_WAITS = ("seed", "tuber", "set", "clove", "corm")  # stock that can wait; what is in leaf or has bare roots cannot
_BED_AHEAD = 28  # days before its first start in which a bed is filled or covered: common practice
_PICKED_LONG = 10  # days; what is picked in fewer is lifted or cut and cleared at once: common practice
STARTS = {"sown outdoors": "sow outdoors", "set out": "set out", "planted": "plant"}
# kg of one seed tuber, set or clove: common practice, no source
_STOCK_KG = {"tuber": 0.06, "set": 0.006, "clove": 0.006}
_PLURALS = {"bare-root": "bare-root plants", "container": "potted plants", "stock": "rootstocks"}
JOBS = (
    "buy", "have water brought", "prepare bed", "spread compost", "sow under cover", "put up support", "sow outdoors",
    "set out", "plant", "mulch", "take off mulch", "thin", "earth up", "feed", "tie in", "look for pests",
    "begin watering", "first picking", "last picking", "stop watering", "clear",
)  # fmt: skip
IN_TEN = " in 8 years of 10"
TENDING = ("feed", "tie in", "look for pests")  # told together of each bed, in its fortnightly rounds
_COMPOST_AHEAD, _ROUND = 7, 14  # days
_FLUSHED = "clean the filter and flush the lines first"
_DRAINED = "open the ends of the lines where it freezes"
_GROWN = 14  # days after a start, when plants stand above a mulch: common practice


@dataclass(frozen=True, slots=True)
class Job:
    """One job on one day.

    Attributes
    ----------
    date : datetime.date
    job : str
        One of 'buy', 'have water brought', 'prepare bed', 'spread compost', 'sow under cover', 'put up support',
        'sow outdoors', 'set out', 'plant', 'mulch', 'take off mulch', 'thin', 'earth up', 'feed', 'tie in',
        'look for pests', 'begin watering', 'first picking', 'last picking', 'stop watering' and 'clear'.
    crop : str
        Empty where it is of no one crop.
    bed : str
    part : tuple of float or None
        Metres from the end of the bed that is away from the midday sun.
    amount : float or None
    unit : str
    note : str
        Range of years or what more there is to say.
    sowing : int or None
        Place of the sowing in the plan's list.
    """

    date: dt.date
    job: str
    crop: str = ""
    bed: str = ""
    part: tuple[float, float] | None = None
    amount: float | None = None
    unit: str = ""
    note: str = ""
    sowing: int | None = None

    @property
    def week(self) -> int:
        """Week of the year, 1 to 52; the last has the days over."""
        return min(day_of_date(self.date) // 7, 51) + 1

    def to_json(self) -> dict[str, Any]:
        """Plain dict; what does not apply is None."""
        return {
            "week": self.week,
            "date": self.date.isoformat(),
            "job": self.job,
            "crop": self.crop or None,
            "bed": self.bed or None,
            "part_m": None if self.part is None else [round(m, 2) for m in self.part],
            "amount": None if self.amount is None else round(self.amount, 1),
            "unit": self.unit or None,
        }


@dataclass(frozen=True, slots=True)
class BedUse:
    """A bed's size and its use on the fullest day of the year, m2."""

    bed: str
    size: float
    most: float

    def to_json(self) -> dict[str, Any]:
        """Plain dict."""
        return {"bed": self.bed, "size_m2": round(self.size, 2), "most_m2_any_day": round(self.most, 2)}


@dataclass(frozen=True, slots=True)
class Purchase:
    """A line of the shopping list; `first` is the day by which the first of it is bought."""

    what: str
    amount: float
    unit: str
    first: dt.date


def date_of_day(year: int, day: int) -> dt.date:
    """A day of the 365-day year as a date; days beyond either end fall in the years beside it."""
    year, day = year + day // 365, day % 365
    month = month_of(day)
    return dt.date(year, month + 1, day - MONTH_STARTS[month] + 1)


def bed_uses(garden: Garden, plan: BedPlan) -> tuple[BedUse, ...]:
    """Use of each bed on its fullest day."""
    return tuple(BedUse(b.name, b.area, max(d)) for b, d in zip(garden.beds, plan.daily, strict=True))


def _stock_of(sowing: Sowing) -> str:
    return next((w.stock for w in sowing.crop.ways if w.way == sowing.way), "") or "plant"


def _plural(stock: str) -> str:
    return _PLURALS.get(stock, f"{stock}s")


def _amount(sowing: Sowing, count: int) -> tuple[float, str, str]:
    """How much is started, in which unit, and a word more."""
    if sowing.way == "sown outdoors":
        spacing = sowing.crop.garden.plant_spacing
        metres = count * (spacing if known(spacing) else 30.0) / 100.0
        return round(metres, 1), "m of row", counted_phrase(count, "plant")
    if sowing.way == "planted":
        stock = _stock_of(sowing)
        kilos = _STOCK_KG.get(stock, 0.0) * count
        return (
            float(count),
            _plural(stock) if count > 1 else _plural(stock).removesuffix("s"),
            phrase("about {weight}", weight=quantity(kilos, "kg", ".1f")) if kilos >= 0.05 else "",
        )
    return float(count), "plants", ""


def _first_year(begin: dt.date, first_day: int) -> int:
    """The first year in which a day, counted from 1 January and perhaps before it, is not past."""
    return next(y for y in count(begin.year) if date_of_day(y, first_day) >= begin)


def _range_words(sowing: Sowing, days: np.ndarray, year: int) -> str:
    days = days[np.isfinite(days)]
    if not days.size:
        return ""
    low, high = (date_of_day(year, sowing.start + int(np.quantile(days, q))) for q in (0.1, 0.9))
    return f"{low.day} {low:%b} to {high.day} {high:%b}{IN_TEN}"


def _bought_on(used: dt.date, begin: dt.date, stock: str = "seed") -> dt.date:
    """When a thing is bought: on the first of a month, with all else that is wanted soon; plants the week before."""
    week_before, soon = used - dt.timedelta(days=7), (used - dt.timedelta(days=_BUY_AHEAD)).replace(day=1)
    return max(soon if stock in _WAITS else week_before, begin)


def _bears_words(sowing: Sowing, first: int, last: int) -> str:
    """From which year on a perennial bears, and when it is picked."""
    p = sowing.crop.perennial
    wait = math.ceil(p.years_to_crop) if p is not None and known(p.years_to_crop) else 0
    span = f"picked about {day_text((sowing.start + first) % 365)} to {day_text((sowing.start + last) % 365)}"
    return "; ".join(filter(None, (f"bears from year {wait + 1} on, {span}", cut_words(sowing.crop))))


def _in_round(date: dt.date, begin: dt.date) -> dt.date:
    """The nearest Monday of the fortnightly rounds, which are counted from the week in which the diary begins."""
    monday = begin - dt.timedelta(days=begin.weekday())
    return monday + dt.timedelta(days=_ROUND * round((date - monday).days / _ROUND))


def _picking_jobs(placing: Placing, sowing: Sowing, year: int) -> list[tuple[int, str, float | None, str, str]]:
    """First and last picking and clearing of an annual: day, job, amount, unit and note."""
    first, last = int(np.median(sowing.first)), int(np.median(sowing.last))
    picked = sowing.plants.picked * placing.count / sowing.plants.count
    day = sowing.start + first
    out: list[tuple[int, str, float | None, str, str]] = [
        (day, "first picking", round(picked, 1), "kg", _range_words(sowing, sowing.first, year))
    ]
    if last - first >= _PICKED_LONG:
        note = _range_words(sowing, sowing.last, year)
        out.append((sowing.start + last, "last picking", None, "", note))
    return [*out, (sowing.start + last + 1, "clear", round(placing.end - placing.begin, 2), "m of bed", "")]


def _tending_jobs(placing: Placing, sowing: Sowing, job: Callable[..., Job], begin: dt.date, south: bool) -> list[Job]:
    """What is done to an annual while it stands; what may wait is done in the next round of its bed."""
    first, last = int(np.median(sowing.first)), int(np.median(sowing.last))
    out = []
    for care in cares_of(sowing.crop, sowing.way, sowing.start, first, last, fed=not sowing.rain_fed, south=south):
        litres = round(care.litres * placing.area, 1)
        made = job(sowing.start + care.day, care.job, litres or None, "litres" if litres else "", care.note)
        out.append(replace(made, date=_in_round(made.date, begin)) if care.waits else made)
    return out


def _jobs_of(placing: Placing, sowing: Sowing, garden: Garden, begin: dt.date, south: bool) -> list[Job]:
    """All jobs of one placing, from buying to clearing."""
    crop, count = sowing.crop, placing.count
    raised = sowing.raised if sowing.way == "set out" and sowing.raised else 0
    year = _first_year(begin, sowing.start - raised)
    bed, part = garden.beds[placing.bed].name, (placing.begin, placing.end)

    def job(day: int, what: str, amount: float | None = None, unit: str = "", note: str = "") -> Job:
        return Job(date_of_day(year, day), what, crop.name, bed, part, amount, unit, note, placing.sowing)

    amount, unit, note = _amount(sowing, count)
    out = []
    if raised:
        cells = math.ceil(_SPARE * count)
        trays = math.ceil(cells / TRAY)
        said = f"{trays} {'tray' if trays == 1 else 'trays'} of {TRAY}"
        out.append(job(sowing.start - raised, "sow under cover", float(cells), "cells", said))
        note = "hardened off"
    if (support := crop.garden.support) not in ("", "runs"):
        metres = round(placing.end - placing.begin, 1)
        so_much = (float(count), "stakes") if support == "stakes" else (metres, f"m of {support}")
        out.append(job(sowing.start, "put up support", *so_much, support))
    if crop.garden.support == "runs":
        far = quantity(crop.garden.reach, "m")
        reach = phrase("vines run {far}: let them out over path or rough ground", far=far)
        note = phrase("{note}; {reach}", note=note, reach=reach) if note else reach
    first, last = int(np.median(sowing.first)), int(np.median(sowing.last))
    if sowing.stands:
        note = "; ".join(filter(None, (note, _bears_words(sowing, first, last))))
    out.append(job(sowing.start, STARTS[sowing.way], amount, unit, note))
    if not sowing.stands:
        out += _tending_jobs(placing, sowing, job, begin, south)
        out += [job(*picking) for picking in _picking_jobs(placing, sowing, year)]
    to_buy = out[0] if raised else next(j for j in out if j.job == STARTS[sowing.way])
    if to_buy.job in ("sow under cover", "sow outdoors"):
        what, stock = "cells of seed" if raised else "m of row of seed", "seed"
    else:  # more than one, as it is added to what else is bought of the crop
        stock = _stock_of(sowing)
        what = _plural(stock) if sowing.way == "planted" else unit
    day = _bought_on(to_buy.date, begin, stock)
    return [Job(day, "buy", crop.name, "", None, to_buy.amount, what, "", placing.sowing), *out]


def _materials(jobs: list[Job], begin: dt.date) -> list[Job]:
    """What is bought for the beds: compost, mulch and supports, each once, before it is first used."""
    sums: dict[str, float] = defaultdict(float)
    first: dict[str, dt.date] = {}
    for job in sorted(jobs, key=lambda j: j.date):
        what = {
            "spread compost": "litres of compost",
            "feed": "litres of compost",
            "mulch": f"{job.unit} of {job.note} for mulch",
            "put up support": job.unit,
        }.get(job.job)
        if what is not None and job.amount:
            sums[what] += job.amount
            first.setdefault(what, job.date)
    return [Job(_bought_on(first[w], begin), "buy", "", "the beds", None, sums[w], w) for w in sums]


def _joined(jobs: list[Job]) -> list[Job]:
    """Things to buy of one crop on one day as one job."""
    out: list[Job] = []
    buys: dict[tuple[Any, ...], list[Job]] = defaultdict(list)
    for job in jobs:
        if job.job == "buy":
            buys[job.date, job.crop, job.bed, job.unit].append(job)
        else:
            out.append(job)
    for (date, crop, bed, unit), these in buys.items():
        amount = sum(j.amount or 0.0 for j in these)
        out.append(Job(date, "buy", crop, bed, None, amount, unit, "", these[0].sowing))
    return out


def _of_kind(bed: Bed, date: dt.date, begin: dt.date) -> list[Job]:
    """What a bed of its kind wants once, before anything stands in it."""
    litres = 1000.0 * bed.area * bed.height

    def bought(amount: float, unit: str) -> Job:
        return Job(begin, "buy", "", bed.name, None, amount, unit)

    if bed.kind == "raised" and litres:
        done = Job(date, "prepare bed", "", bed.name, None, litres, "litres", "fill it, let it settle, and fill it up")
        return [bought(litres, "litres of soil and compost"), done]
    out = []
    if bed.kind == "card":
        card = round(LAPPED * bed.area, 1)
        out += [
            bought(card, "m2 of plain card, lapped"),
            Job(date, "prepare bed", "", bed.name, None, card, "m2", "lay wet card, its edges lapped; compost on it"),
        ]
    if bed.kind in ("card", "compost") and litres:
        out.append(bought(litres, "litres of compost"))
    if bed.kind == "compost" and litres:
        out.append(Job(date, "prepare bed", "", bed.name, None, litres, "litres", "lay the compost on the ground"))
    return out


def _laid_on(date: dt.date, stays: list[tuple[dt.date, dt.date]]) -> dt.date:
    """When mulch is laid that may lie from a date on: once what stands has grown above it."""
    grown = sorted((a + dt.timedelta(days=_GROWN), b) for a, b in stays)
    return next((max(a, date) for a, b in grown if b > max(a, date)), date)


def _mulch_jobs(
    mulch: Mulch, bed: Bed, stays: list[tuple[dt.date, dt.date]], begin: dt.date, dry: int, ends: dt.date
) -> list[Job]:
    """Laying mulch, and taking it off where the garden file says till when it lies."""
    for_months = 0 < len(mulch.months) < 12
    # of months on end, of which December may be followed by January, the first
    day = MONTH_STARTS[next(m for m in mulch.months if (m - 1) % 12 not in mulch.months)] if for_months else dry
    first = date_of_day(_first_year(begin, day), day)
    # a garden that is begun in the months in which it lies, or while it is dry, has it once plants stand
    now = _laid_on(begin, stays)
    if for_months:
        date = now if {begin.month - 1, now.month - 1} <= set(mulch.months) else first
    else:
        date = now if now <= ends < first else _laid_on(first, stays)
    amount, unit = (bed.area, "m2") if mulch.kind == "plastic" else (mulch.litres(bed.area), "litres")
    whole = (0.0, bed.length)
    out = [Job(date, "mulch", "", bed.name, whole, amount, unit, mulch.kind)]
    if for_months:
        off = MONTH_STARTS[next(m for m in range(12) if m not in mulch.months and (m - 1) % 12 in mulch.months)]
        out.append(
            Job(date_of_day(_first_year(date, off), off), "take off mulch", "", bed.name, whole, note=mulch.kind)
        )
    return out


def _bed_jobs(garden: Garden, jobs: list[Job], begin: dt.date, dry: int | None, dry_ends: dt.date) -> list[Job]:
    """Compost before a bed's first start, mulch when the dry season begins."""
    out = []
    for bed in garden.beds:
        there = [j for j in jobs if j.bed == bed.name]
        starts = sorted(j.date for j in there if j.job in STARTS.values())
        if not starts:
            continue
        ends = {(j.sowing, j.part): j.date for j in there if j.job == "clear"}
        stays = [(j.date, ends.get((j.sowing, j.part), dt.date.max)) for j in there if j.job in STARTS.values()]
        if garden.compost > 0.0:
            date = max(starts[0] - dt.timedelta(days=_COMPOST_AHEAD), begin)
            spread = garden.compost * bed.area
            out.append(Job(date, "spread compost", "", bed.name, (0.0, bed.length), spread, "litres"))
        out += _of_kind(bed, max(starts[0] - dt.timedelta(days=_BED_AHEAD), begin), begin)
        mulch = bed.mulch or garden.mulch
        if mulch.lies and (dry is not None or mulch.months):
            out += _mulch_jobs(mulch, bed, stays, begin, dry or 0, dry_ends)
    return out


def _season_jobs(season: tuple[int, int], jobs: list[Job], begin: dt.date, *, by_drip: bool) -> list[Job]:
    """Begin and stop of watering; a garden begun within it begins with its first start, else with the next one."""
    first, last = (date_of_day(_first_year(begin, day), day) for day in season)
    if last < first:
        started = min((j.date for j in jobs if j.job in STARTS.values()), default=begin)
        if started <= last:
            first = started
        else:
            last = date_of_day(_first_year(first, season[1]), season[1])
    return [
        Job(first, "begin watering", note=_FLUSHED if by_drip else ""),
        Job(last, "stop watering", note=_DRAINED if by_drip else ""),
    ]


def share_there(sowings: list[Sowing], plan: BedPlan, begin: dt.date) -> np.ndarray:
    """What stands on each of the 365 days from a day on, over what stands then in later years, by area.

    A new garden lacks in its first year what later ones bring over New Year.
    """
    there, usual = np.zeros((2, 365))
    for p in plan.placings:
        sowing = sowings[p.sowing]
        year = _first_year(begin, sowing.start - (sowing.raised or 0 if sowing.way == "set out" else 0))
        start = (date_of_day(year, sowing.start) - begin).days
        first, last = sowing.place_taken
        cleared = date_of_day(year, sowing.start + (last - first) % 365 + 1)
        end = 365 if sowing.stands else (cleared - begin).days
        there[max(start, 0) : max(end, 0)] += p.area
        usual[(first + np.arange((last - first) % 365 + 1)) % 365] += p.area
    usual = usual[[day_of_date(begin + dt.timedelta(days=k)) for k in range(365)]]
    return np.where(usual > 0.0, np.clip(there / np.maximum(usual, 1e-9), 0.0, 1.0), 1.0)


def diary_of(
    garden: Garden,
    sowings: list[Sowing],
    plan: BedPlan,
    begin: dt.date,
    season: tuple[int, int] | None,
    mulched: int | None = None,
    *,
    loads: Sequence[tuple[dt.date, float]] = (),
    south: bool = False,
) -> tuple[Job, ...]:
    """Every job from a day on, in the order of dates.

    Parameters
    ----------
    garden : Garden
    sowings : list of Sowing
    plan : BedPlan
    begin : datetime.date
        No job lies before it; each sowing has its first jobs within a year of it and the others in their course.
    season : tuple of int or None
        First and last day of the year of watering.
    mulched : int or None
        Day of the year on which mulch is laid: not before the soil is warm and dries out.
    loads : sequence of tuple
        Days on which water is brought, and its litres.
    south : bool
        Whether the garden lies south of the equator.

    Returns
    -------
    tuple of Job
        What stands in a bed between its start and its clearing is never more than the bed holds.
    """
    jobs = [job for p in plan.placings for job in _jobs_of(p, sowings[p.sowing], garden, begin, south)]
    watered = season if season != (0, 364) else None
    ends = date_of_day(_first_year(begin, watered[1]), watered[1]) if watered else dt.date.min
    jobs += _bed_jobs(garden, jobs, begin, mulched, ends)
    jobs += _materials(jobs, begin)
    jobs += [Job(date, "have water brought", amount=litres, unit="litres") for date, litres in loads]
    if litres := path_litres(garden):
        jobs.append(Job(begin, "buy", "", "the paths", None, litres, "litres of wood chips"))
    if watered:
        jobs += _season_jobs(watered, jobs, begin, by_drip=garden.water.method == "drip")
    return tuple(sorted(_joined(jobs), key=lambda j: (j.date, JOBS.index(j.job), j.crop, j.bed, j.part or ())))


def use_of_diary(garden: Garden, diary: tuple[Job, ...]) -> dict[str, float]:
    """m2 in use in each bed on its fullest day, reckoned from nothing but the diary's dates and parts."""
    width = {b.name: b.width for b in garden.beds}
    changes: dict[str, list[tuple[dt.date, float]]] = defaultdict(list)
    for job in diary:
        if job.part is not None and (job.job in STARTS.values() or job.job == "clear"):
            area = (job.part[1] - job.part[0]) * width[job.bed]
            changes[job.bed].append((job.date, -area if job.job == "clear" else area))
    out = dict.fromkeys(width, 0.0)
    for bed, steps in changes.items():
        now = 0.0
        for _, step in sorted(steps):  # of one day what is cleared goes before what is started
            now += step
            out[bed] = max(out[bed], now)
    return out


def shopping_list(diary: tuple[Job, ...]) -> tuple[Purchase, ...]:
    """What is to be bought, alike things together, in the order of first buying."""
    sums: dict[tuple[str, str], float] = defaultdict(float)
    first: dict[tuple[str, str], dt.date] = {}
    for job in diary:
        if job.job == "buy" and job.amount:
            wanted = (job.crop or job.bed, job.unit)
            sums[wanted] += job.amount
            first.setdefault(wanted, job.date)
    return tuple(
        Purchase(what, sums[what, unit], unit, first[what, unit])
        for what, unit in sorted(sums, key=lambda k: (first[k], k))
    )
