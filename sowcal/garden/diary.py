"""The garden's jobs in the order of their dates: what to buy, sow, set out, plant, pick and clear, where and how much.

Each sowing keeps its jobs together: what is sown under cover in one year is set out and cleared after it, never before.
"""

from __future__ import annotations

import datetime as dt
import math
from collections import defaultdict
from dataclasses import dataclass
from typing import Any

import numpy as np

from sowcal.crops.tables import Crop, known
from sowcal.garden.beds import BedPlan, Placing
from sowcal.garden.garden_file import Bed, Garden
from sowcal.garden.schedule import Sowing
from sowcal.year import MONTH_STARTS, day_of_date, month_of

__all__ = [
    "LAPPED",
    "BedUse",
    "Job",
    "Purchase",
    "bed_uses",
    "diary_of",
    "job_words",
    "keeping_words",
    "path_area",
    "path_litres",
    "purchase_words",
    "shopping_list",
    "use_of_diary",
    "weeks_of_diary",
]

_SPARE = 1.25  # cells sown for each plant that is set out: common practice
_TRAY = 40  # cells of a tray: common practice
_BUY_AHEAD = 21  # days before a thing is used: common practice
_COMPOST_AHEAD = 7
LAPPED = 1.2  # m2 of card for a m2 of bed, so that its edges lap: common practice
_STARTS = {"sown outdoors": "sow outdoors", "set out": "set out", "planted": "plant"}
# kg of one seed tuber, set or clove: common practice, no source
_STOCK_KG = {"tuber": 0.06, "set": 0.006, "clove": 0.006}
_PLURALS = {"bare-root": "bare-root plants", "container": "potted plants", "stock": "rootstocks"}
_JOBS = (
    "buy", "spread compost", "sow under cover", "put up support", "sow outdoors", "set out", "plant", "mulch",
    "thin", "earth up", "begin watering", "first picking", "stop watering", "clear",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Job:
    """One job on one day.

    Attributes
    ----------
    date : datetime.date
    job : str
        'buy', 'spread compost', 'sow under cover', 'put up support', 'sow outdoors', 'set out', 'plant', 'mulch',
        'thin', 'earth up', 'begin watering', 'first picking', 'stop watering' or 'clear'.
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
    """A line of the shopping list; `first` is the day on which it is first used."""

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
    return tuple(
        BedUse(b.name, b.area, float(d.max(initial=0.0))) for b, d in zip(garden.beds, plan.daily, strict=True)
    )


def _stock_of(sowing: Sowing) -> str:
    return next((w.stock for w in sowing.crop.ways if w.way == sowing.way), "") or "plant"


def _plural(stock: str) -> str:
    return _PLURALS.get(stock, f"{stock}s")


def _row_metres(crop: Crop, count: int) -> float:
    spacing = crop.garden.plant_spacing
    return count * (spacing if known(spacing) else 30.0) / 100.0


def _amount(sowing: Sowing, count: int) -> tuple[float, str, str]:
    """How much is started, in which unit, and a word more."""
    if sowing.way == "sown outdoors":
        return round(_row_metres(sowing.crop, count), 1), "m of row", f"{count} plants"
    if sowing.way == "planted":
        stock = _stock_of(sowing)
        kilos = _STOCK_KG.get(stock)
        return (
            float(count),
            _plural(stock) if count > 1 else _plural(stock).removesuffix("s"),
            f"about {kilos * count:.1f} kg" if kilos else "",
        )
    return float(count), "plants", ""


_THINNED_PARTS, _THIN = ("root", "leaf", "bulb"), 21  # days after sowing, two true leaves: common practice
_EARTHED = {"potato": (30, 50), "leek": (45, 75)}  # days after it takes to its bed, by kind: common practice


def _tending(sowing: Sowing) -> list[tuple[int, str, str]]:
    """Days after the start on which a crop is thinned or earthed up before it is picked, the job and a word more."""
    crop, first = sowing.crop, float(np.median(sowing.first))
    spacing = crop.garden.plant_spacing
    out = []
    if sowing.way == "sown outdoors" and crop.part in _THINNED_PARTS and known(spacing):
        out.append((round(min(_THIN, first / 2.0)), "thin", f"to {spacing:g} cm, with two true leaves; water after it"))
    out += [(day, "earth up", "to half its height") for day in _EARTHED.get(crop.kind, ()) if day < first]
    return out


def _first_year(begin: dt.date, first_day: int) -> int:
    """The first year in which a day, counted from 1 January and perhaps before it, is not past."""
    return next(y for y in range(begin.year - 1, begin.year + 3) if date_of_day(y, first_day) >= begin)


def _range_words(sowing: Sowing, year: int) -> str:
    first = sowing.first[np.isfinite(sowing.first)]
    if not first.size:
        return ""
    low, high = (date_of_day(year, sowing.start + int(np.quantile(first, q))) for q in (0.1, 0.9))
    return f"{low.day} {low:%b} to {high.day} {high:%b} in 8 years of 10"


def _jobs_of(placing: Placing, sowing: Sowing, garden: Garden, begin: dt.date) -> list[Job]:
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
        trays = math.ceil(cells / _TRAY)
        said = f"{trays} {'tray' if trays == 1 else 'trays'} of {_TRAY}"
        out.append(job(sowing.start - raised, "sow under cover", float(cells), "cells", said))
        note = "hardened off for a week"
    if crop.garden.support not in ("", "runs"):
        out.append(job(sowing.start, "put up support", round(placing.end - placing.begin, 1), "m", crop.garden.support))
    if crop.garden.support == "runs":
        reach = f"vines run {crop.garden.reach:g} m: let them out over path or rough ground"
        note = f"{note}; {reach}" if note else reach
    out.append(job(sowing.start, _STARTS[sowing.way], amount, unit, note))
    out += [job(sowing.start + day, what, note=more) for day, what, more in _tending(sowing)]
    if not sowing.stands:
        first, last = int(np.median(sowing.first)), int(np.median(sowing.last))
        picked = sowing.plants.picked * count / max(sowing.plants.count, 1)
        out.append(job(sowing.start + first, "first picking", round(picked, 1), "kg", _range_words(sowing, year)))
        out.append(job(sowing.start + last + 1, "clear", round(placing.end - placing.begin, 2), "m of bed"))
    to_buy = out[0] if raised else next(j for j in out if j.job == _STARTS[sowing.way])
    if to_buy.job in ("sow under cover", "sow outdoors"):
        what = "cells of seed" if raised else "m of row of seed"
    else:
        what = unit
    day = max(to_buy.date - dt.timedelta(days=_BUY_AHEAD), begin)
    return [Job(day, "buy", crop.name, "", None, to_buy.amount, what, note if not raised and unit != "m of row" else "",
                placing.sowing), *out]  # fmt: skip


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


def path_area(garden: Garden) -> float:
    """m2 of paths where the beds lie side by side in one row: one along each, one more, and one across either end."""
    wide = garden.paths.width
    if not garden.beds or wide <= 0.0:
        return 0.0
    longest = max(b.length for b in garden.beds)
    across = sum(b.width for b in garden.beds) + (len(garden.beds) + 1) * wide
    return wide * (sum(b.length for b in garden.beds) + longest + 2.0 * across)


def path_litres(garden: Garden) -> float:
    """Loose litres of wood chips for them."""
    return 1000.0 * garden.paths.depth * path_area(garden)


def _of_kind(bed: Bed, begin: dt.date) -> list[Job]:
    """What a bed of its kind wants once, before anything stands in it."""
    litres = 1000.0 * bed.area * bed.height
    if bed.kind == "raised" and litres:
        return [Job(begin, "buy", "", bed.name, None, litres, "litres of soil and compost")]
    out = []
    if bed.kind == "card":
        out.append(Job(begin, "buy", "", bed.name, None, round(LAPPED * bed.area, 1), "m2 of plain card, lapped"))
    if bed.kind in ("card", "compost") and litres:
        out.append(Job(begin, "buy", "", bed.name, None, litres, "litres of compost"))
    return out


def _bed_jobs(garden: Garden, plan: BedPlan, sowings: list[Sowing], begin: dt.date, dry: int | None) -> list[Job]:
    """Compost before a bed's first start, mulch when the dry season begins."""
    out = []
    for number, bed in enumerate(garden.beds):
        starts = [sowings[p.sowing].start for p in plan.placings if p.bed == number]
        if not starts:
            continue
        whole = (0.0, bed.length)
        if garden.compost > 0.0:
            year = {s: _first_year(begin, s - _COMPOST_AHEAD) for s in starts}
            date = min(date_of_day(year[s], s - _COMPOST_AHEAD) for s in starts)
            out.append(Job(date, "spread compost", "", bed.name, whole, garden.compost * bed.area, "litres"))
        out += _of_kind(bed, begin)
        mulch = bed.mulch or garden.mulch
        laid = _first_of(mulch.months) if mulch.months and len(mulch.months) < 12 else dry
        if mulch.lies and laid is not None:
            date = date_of_day(_first_year(begin, laid), laid)
            amount, unit = (bed.area, "m2") if mulch.kind == "plastic" else (mulch.litres(bed.area), "litres")
            out.append(Job(date, "mulch", "", bed.name, whole, amount, unit, mulch.kind))
    return out


def _first_of(months: tuple[int, ...]) -> int:
    """First day of the first of some months on end, of which December may be followed by January."""
    return MONTH_STARTS[next(m for m in months if (m - 1) % 12 not in months)]


def diary_of(
    garden: Garden,
    sowings: list[Sowing],
    plan: BedPlan,
    begin: dt.date,
    season: tuple[int, int] | None,
    mulched: int | None = None,
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

    Returns
    -------
    tuple of Job
        What stands in a bed between its start and its clearing is never more than the bed holds.
    """
    jobs = [job for p in plan.placings for job in _jobs_of(p, sowings[p.sowing], garden, begin)]
    jobs += _bed_jobs(garden, plan, sowings, begin, mulched)
    if litres := path_litres(garden):
        jobs.append(Job(begin, "buy", "", "the paths", None, litres, "litres of wood chips"))
    if season is not None and season != (0, 364):
        year = _first_year(begin, season[0])
        jobs.append(Job(date_of_day(year, season[0]), "begin watering"))
        last = season[1] if season[1] > season[0] else season[1] + 365
        jobs.append(Job(date_of_day(year, last), "stop watering"))
    return tuple(sorted(_joined(jobs), key=lambda j: (j.date, _JOBS.index(j.job), j.crop, j.bed, j.part or ())))


def use_of_diary(garden: Garden, diary: tuple[Job, ...]) -> dict[str, float]:
    """m2 in use in each bed on its fullest day, reckoned from nothing but the diary's dates and parts."""
    width = {b.name: b.width for b in garden.beds}
    changes: dict[str, list[tuple[dt.date, float]]] = defaultdict(list)
    for job in diary:
        if job.part is not None and (job.job in _STARTS.values() or job.job == "clear"):
            area = (job.part[1] - job.part[0]) * width[job.bed]
            changes[job.bed].append((job.date, -area if job.job == "clear" else area))
    out = dict.fromkeys(width, 0.0)
    for bed, steps in changes.items():
        now = 0.0
        for _, step in sorted(steps):  # of one day what is cleared goes before what is started
            now += step
            out[bed] = max(out[bed], now)
    return out


def shopping_list(garden: Garden, diary: tuple[Job, ...]) -> tuple[Purchase, ...]:
    """What is to be bought, alike things together, in the order of first use."""
    sums: dict[tuple[str, str], float] = defaultdict(float)
    first: dict[tuple[str, str], dt.date] = {}
    for job in diary:
        wanted = {
            "buy": (job.crop or job.bed, job.unit),
            "spread compost": ("compost", "litres"),
            "mulch": (f"{job.note} for mulch", job.unit),
            "put up support": (job.note, "m"),
        }.get(job.job)
        if wanted is not None and job.amount:
            sums[wanted] += job.amount
            first.setdefault(wanted, job.date)
    return tuple(
        Purchase(what, sums[what, unit], unit, first[what, unit])
        for what, unit in sorted(sums, key=lambda k: (first[k], k))
    )


def purchase_words(bought: Purchase) -> str:
    """A line of the shopping list."""
    amount = f"{bought.amount:,.0f}" if bought.amount >= 100 else f"{bought.amount:.1f}".removesuffix(".0")
    return f"{bought.what}: {amount} {bought.unit}, by {bought.first.isoformat()}"


_KEPT = {
    "bottled": "in jars (acid food in a boiling bath only; what is not acid wants a pressure canner, a tested recipe "
    "and its full time: botulism cannot be smelt)",
    "frozen": "frozen (blanched first)",
    "dried": "dried till brittle, in closed jars",
    "salted": "salted, 20 g or more to the kg, under its brine",
    "fresh in store": "fresh in a cool dark store",
    "in the ground": "in the ground till it is wanted",
}  # common practice, no source


def keeping_words(crop: Crop) -> list[str]:
    """Ways in which a surplus is kept, with what makes them safe."""
    return [_KEPT[w] for w in crop.garden.keeps.split("|") if w in _KEPT]


def _where(job: Job) -> str:
    if not job.bed:
        return ""
    if job.part is None:
        return f" in {job.bed}"
    return f" in {job.bed}, {job.part[0]:g} to {job.part[1]:g} m"


def job_words(job: Job) -> str:
    """A job as it is told to who does it, without its date."""
    amount = "" if job.amount is None else f"{job.amount:,.0f}" if job.amount >= 10 else f"{job.amount:g}"
    more = f" ({job.note})" if job.note else ""
    if job.job == "buy":
        return f"buy for {job.crop or job.bed}: {amount} {job.unit}{more}"
    if job.job == "sow under cover":
        return f"sow under cover: {job.crop}, {amount} cells{more}, for {job.bed}"
    if job.job == "spread compost":
        return f"spread {amount} litres of compost on {job.bed}"
    if job.job == "mulch":
        return f"lay {amount} {job.unit} of {job.note} on {job.bed}"
    if job.job == "put up support":
        return f"put up {amount} m of {job.note} for {job.crop}{_where(job)}"
    if job.job == "first picking":
        return f"first picking: {job.crop}{_where(job)}, some {amount} kg in all{more}"
    if job.job in ("thin", "earth up"):
        return f"{job.job} {job.crop}{_where(job)}{more}"
    if job.job == "clear":
        return f"clear {job.crop}{_where(job)}"
    if job.job in _STARTS.values():
        unit = "" if job.unit == "plants" else f" {job.unit} of"
        return f"{job.job} {amount}{unit} {job.crop}{_where(job)}{more}"
    return job.job


def weeks_of_diary(diary: tuple[Job, ...]) -> list[tuple[dt.date, list[str]]]:
    """First day of each week with jobs, and their words; what is done to several beds alike is one job."""
    weeks: dict[dt.date, dict[tuple[str, ...], list[Job]]] = {}
    for job in diary:
        monday = job.date - dt.timedelta(days=job.date.weekday())
        alike = (job.job, job.note) if job.job in ("spread compost", "mulch") else (job_words(job),)
        weeks.setdefault(monday, {}).setdefault(alike, []).append(job)
    out = []
    for monday, groups in weeks.items():
        said = []
        for jobs in groups.values():
            first = jobs[0]
            if len(jobs) > 1:
                total = sum(j.amount or 0.0 for j in jobs)
                what = "compost" if first.job == "spread compost" else first.note
                said.append(
                    f"{first.job} on {', '.join(j.bed for j in jobs)}: {total:,.0f} {first.unit} of {what}"
                    if first.job == "mulch"
                    else f"spread compost on {', '.join(j.bed for j in jobs)}: {total:,.0f} {first.unit}"
                )
            else:
                said.append(job_words(first))
        out.append((monday, said))
    return out
