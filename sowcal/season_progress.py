"""The season in progress: how each sowing stands by the weather so far, and what may come by each year of the record.

The weather so far, and each year of the record as one future, go through the engine that makes the chart. What is
told of a date are quantiles of these futures by the plotting position i / (n + 1) (Weibull's, from memory: the least
and the greatest of n futures are not the ends of what can come, as numpy's usual quantiles take them).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sowcal.climate.so_far import growing_year
from sowcal.crops.handbook import Handbook
from sowcal.crops.tables import Crop, Way
from sowcal.garden.bed_ground import ground_of
from sowcal.garden.garden_file import Garden
from sowcal.garden.garden_weather import GardenWeather, garden_weather
from sowcal.garden.gravity_feed import gravity_feed
from sowcal.garden.plants import area_of
from sowcal.garden.soil_water import basal_of
from sowcal.garden.store import level_from_here
from sowcal.garden.water_need import InBed, water_from_here
from sowcal.kept_answers import windows_alone
from sowcal.season_log import Entry, SeasonLog, Sown, sown_of
from sowcal.seasons.outlook import (
    FEWEST,
    NO_CROP,
    Learnt,
    Outlook,
    Spread,
    as_day,
    firsts_of_sorts,
    learnt_of,
    outlook,
    quantiles,
    spread_of,
)
from sowcal.seasons.season import HAZARDS, missing_values, ready_to_set_out, seasons, stages, strains
from sowcal.seasons.site_days import SiteDays, days_as_felt
from sowcal.seasons.sums import next_day_where, prefix
from sowcal.settings import Settings
from sowcal.suitability.results import (
    BedWeek,
    CropSeasons,
    Reviewed,
    SeasonNow,
    SowingNow,
    Strain,
    Tank,
    Task,
    Window,
)
from sowcal.weather.record import DailyRecord
from sowcal.weather.years import Futures, futures
from sowcal.year import date_text, day_of_date

__all__ = [
    "learnt_sorts",
    "review_of",
    "season_so_far",
]

_AHEAD = (
    600  # days after today that are followed: the slowest annual sown today, and what the engine looks at beyond it
)
_BEFORE = 150  # days before the first start: seedlings' weeks under cover, and the engine's months before flowering
_WEEK = 7
_LIKELY = 0.2  # share of the years from which a strain of the coming week is worth a job: common practice, no source
_LONGEST = 500  # days after its start for which a sowing is followed: more than any annual stands
_OFF_BEST = 14  # days off the best one of which something is said: common practice, no source
_REMEMBERED = 8  # last seasons of a sort that are looked at: common practice, no source
_REPLACED = 30  # days after a loss for which something in its place is looked for: common practice, no source
_FOLLOWED = 210  # days from today on for which water is followed: a dry season. Common practice, no source
_CLEARED_OFF = 120  # days for which what was cleared or lost is still told: common practice, no source


def _seen(day: dt.date) -> Spread:
    return Spread(day, day, day)


@dataclass(frozen=True)
class _Asked:
    """What the sowings of one answer share."""

    today: dt.date
    ahead: Futures
    days: SiteDays
    usual: SiteDays
    lines: dict[str, CropSeasons]
    book: Handbook

    @property
    def known_to(self) -> dt.date | None:
        return None if self.ahead.known_to is None else self.ahead.known_to.astype(object)

    def windows(self, crop: str, way: str) -> tuple[Window, ...]:
        """Advised windows of a way of starting, else those that work."""
        of_way = [s for s in self.lines[crop].starts if s.way == way]
        return (of_way[0].windows or of_way[0].possible) if of_way else ()


def _sowing_now(sown: Sown, asked: _Asked) -> tuple[SowingNow, Outlook | None]:
    """A sowing as it stands, and what comes of it in every future where that is followed."""
    crop = asked.book[sown.crop]
    way = next((w for w in crop.ways if w.way == sown.way), None)
    if sown.ended is not None:
        return SowingNow(sown, "lost" if sown.on("lost") else "cleared"), None
    if crop.perennial is not None:
        return SowingNow(sown, "cannot say", note="it lives for years, and is not followed day by day"), None
    if way is None or missing_values(crop, way):
        return SowingNow(sown, "cannot say", note="the handbook lacks what its season is followed by"), None
    if sown.in_bed is None:
        found, set_out = _under_cover(sown, crop, way, asked)
    else:
        found, set_out = outlook(asked.ahead, asked.days, crop, way, sown.in_bed, sown.on("came up")), None
    if found.decided.sum() < FEWEST:
        told = f"{int(found.decided.sum())} years of the record can tell, and {FEWEST} are needed"
        return SowingNow(sown, "cannot say", note=told), None
    return _as_it_stands(sown, crop, way, found, set_out, asked), found


def _under_cover(sown: Sown, crop: Crop, way: Way, asked: _Asked) -> tuple[Outlook, np.ndarray]:
    """Seedlings still under cover: set out when they are of the size and their dates have come; days until then."""
    place = asked.ahead.at(as_day(sown.started))
    ready = ready_to_set_out(asked.days, crop, way, place)
    ready = np.maximum(ready, asked.ahead.at(as_day(asked.today)))
    open_days = np.zeros(365, dtype=bool)
    for w in asked.windows(crop.name, way.way):
        open_days[(w.start + np.arange((w.end - w.start) % 365 + 1)) % 365] = True
    if open_days.any():
        ready = next_day_where(open_days[asked.days.day_of_year])[np.minimum(ready, asked.days.size)]
    ends = asked.ahead.at(asked.ahead.first) + asked.ahead.days  # the missing day behind each future
    ready = np.minimum(ready, ends)
    outcome = seasons(asked.days, crop, way)
    found = stages(asked.days, crop, way, outcome, ready)
    share = np.where(ready < ends, outcome.yield_fraction[ready], np.nan)
    sorts = firsts_of_sorts(
        asked.days, crop, way, ready, place, outcome
    )  # the missing day behind a future decides nothing
    return Outlook(asked.days, sown.started, place, found, share, outcome.hazard[ready], sorts), ready - place


def _as_it_stands(
    sown: Sown, crop: Crop, way: Way, found: Outlook, set_out: np.ndarray | None, asked: _Asked
) -> SowingNow:
    """What is told of a sowing that the engine can follow."""
    start = found.start
    seen = sown.on("first picked") or sown.on("picked")
    first = _seen(seen) if seen else spread_of(start, found.first)
    last_days = found.after(found.found.last)[found.picked]
    if seen:
        last_days = np.maximum(last_days - found.first + (seen - start).days, (asked.today - start).days)
    up = sown.on("came up")
    emergence = None
    if sown.way != "set out":
        emergence = _seen(up) if up else spread_of(start, found.after(found.found.emerged)[found.decided])
    usual = None if set_out is not None else _usual_days(asked.usual, crop, way, start)
    ahead = round(usual - (first.p50 - start).days) if usual is not None and first else None
    low, middle, high = (float(q) for q in quantiles(found.yield_fraction[found.decided]))
    now = SowingNow(
        sown,
        _stage(sown, crop, found, first, asked.today),
        set_out=None if set_out is None else spread_of(start, set_out),
        emergence=emergence,
        first_picking=first,
        last_picking=spread_of(start, last_days),
        any_sort=None if seen else spread_of(start, *found.first_of_sorts),
        yield_fraction=(low, middle, high),
        picked_share=float(found.picked.sum() / found.decided.sum()),
        futures=int(found.decided.sum()),
        ahead_days=ahead,
        best=_best(sown, asked),
    )
    met, coming, week = _strains(crop, found, asked)
    return replace(now, met=met, ahead=coming, tasks=tuple(_tasks(now, week, asked.today)))


def _usual_days(usual: SiteDays, crop: Crop, way: Way, start: dt.date) -> float | None:
    """Median days from a start on that day of the year to first picking, in the years that have one."""
    outcome = seasons(usual, crop, way)
    with np.errstate(invalid="ignore"):
        had = (usual.day_of_year == day_of_date(start)) & ~usual.leap_day & (outcome.yield_fraction >= NO_CROP)
    return float(np.median((outcome.first - usual.start)[had])) if had.sum() >= FEWEST else None


def _stage(sown: Sown, crop: Crop, found: Outlook, first: Spread | None, today: dt.date) -> str:
    """The stage reached in the middle one of the futures, of which all are alike so far."""
    if sown.in_bed is None:
        return "under cover"
    f, age = found.found, (today - found.start).days
    turns = [float(np.median(found.after(x)[found.decided])) for x in (f.emerged, f.established, f.fills, f.last)]
    if sown.on("first picked") or sown.on("picked"):
        return "picking"
    if sown.way != "set out" and age < turns[0] and sown.on("came up") is None:
        return "sown"
    forming = "flowering" if crop.growth.habit == "flowering" else "filling"
    if first is not None and today >= first.p50:
        return "picking" if age <= turns[3] else "over"
    return next((word for word, t in zip(("young", "growing"), turns[1:3], strict=True) if age < t), forming)


def _best(sown: Sown, asked: _Asked) -> tuple[dt.date, dt.date | None] | None:
    """The best day of the window that holds a start, else the nearest one, and the usual first picking from there."""
    begun = sown.in_bed or asked.today
    day = day_of_date(begun)
    near = [((w.best - day + 182) % 365 - 182, w) for w in asked.windows(sown.crop, sown.way)]
    if not near:
        return None
    within = [(days, w) for days, w in near if (day - w.start) % 365 <= (w.end - w.start) % 365]
    days, window = min(within or near, key=lambda p: (abs(p[0]), p[0]))
    best = begun + dt.timedelta(days=days)
    picking = window.first_picking
    return best, None if picking is None else best + dt.timedelta(days=picking.days_after_start)


def _strains(
    crop: Crop, found: Outlook, asked: _Asked
) -> tuple[tuple[Strain, ...], tuple[Strain, ...], dict[str, float]]:
    """Hazards met with their days, those ahead with their odds, and the odds of a strain within the week."""
    days, ok = found.days, found.decided
    today = asked.ahead.at(as_day(asked.today))
    seen_to = asked.known_to
    told = -1 if seen_to is None else int(asked.ahead.at(as_day(min(seen_to, asked.today)))[ok][0])
    met: dict[str, set[dt.date]] = {}
    odds: dict[str, float] = {}
    week: dict[str, float] = {}
    for hazard, hit, begins, ends in strains(days, crop, found.found):
        i, j = int(begins[ok][0]), min(int(ends[ok][0]), told + 1)
        if j > i:
            met.setdefault(hazard, set()).update(days.dates[i:j][hit[i:j]].astype(object).tolist())
        total = prefix(hit.astype(float))
        for out, until in ((odds, ends), (week, np.minimum(ends, today + _WEEK))):
            a = np.maximum(begins, today + 1)
            share = float((total[np.maximum(until, a)] - total[a] > 0)[ok].mean())
            out[hazard] = max(out.get(hazard, 0.0), share)
    stand, settled = found.found.stand[ok][0], int(found.found.settled[ok][0])
    if stand < 0.995 and settled <= told:
        met["hot soil" if found.found.hot[ok][0] else "cold soil"] = {days.dates[settled].astype(object)}
    fails = ok & (np.nan_to_num(found.yield_fraction) < days.settings.least_yield)
    coming = []
    for k, hazard in enumerate(HAZARDS):
        named = found.hazard == k
        share = odds.get(hazard, float(named[ok].mean()))
        failing = float((named & fails).sum() / ok.sum())
        if share >= 0.1 and not (hazard in ("cold soil", "hot soil") and settled <= told):
            coming.append(Strain(hazard, share=share, failing=failing))
    coming.sort(key=lambda s: (-s.failing, -s.share))
    had = tuple(Strain(h, tuple(sorted(d))) for h, d in met.items() if d)
    return had, tuple(coming), week


def _tasks(now: SowingNow, week: dict[str, float], today: dt.date) -> list[Task]:
    """What to do with one sowing in the seven days from today."""
    sown, end = now.sown, today + dt.timedelta(days=_WEEK - 1)
    begun = sown.on("first picked") or sown.on("picked")
    if now.picked_share == 0.0 and sown.in_bed and not begun:
        why = "by this weather nothing is left of it to pick in any year; log it as lost where it does not"
        return [Task("look whether it lives", sown.crop, sown.bed, why)]
    out: list[tuple[str, str]] = []
    if now.set_out is not None and now.set_out.p50 <= end:
        out.append(("set out", "its seedlings are of the size, and its dates have come"))
    if now.stage == "sown" and now.emergence is not None and now.emergence.p90 < today:
        out.append(
            ("look whether it is up", f"it should have come up by {date_text(now.emergence.p90)}; else sow again")
        )
    if week.get("frost", 0.0) >= _LIKELY:
        out.append(("cover at night", f"frost that harms it falls within the week in {week['frost']:.0%} of the years"))
    if week.get("heat", 0.0) >= 0.5:
        out.append(("shade it", f"heat that harms it comes within the week in {week['heat']:.0%} of the years"))
    if now.stage == "picking" or (now.first_picking and sown.in_bed and today <= now.first_picking.p50 <= end):
        out.append(("pick", "" if begun else "for the first time"))
    if now.stage == "over":
        out.append(("clear", "its pickings are over in most years"))
    return [Task(job, sown.crop, sown.bed, why) for job, why in out]


def season_so_far(
    history: DailyRecord,
    so_far: DailyRecord | None,
    log: SeasonLog,
    today: dt.date,
    settings: Settings | None = None,
    *,
    garden: Garden | None = None,
    offered: Sequence[Crop] = (),
) -> SeasonNow:
    """How every sowing of a log stands on a day, what comes, and what water is due.

    Parameters
    ----------
    history : DailyRecord
        The years, each a future; days of the season itself must not be in them where they are not known yet.
    so_far : DailyRecord or None
        The season's own days, those of a forecast included.
    log : SeasonLog
        What it tells of days after `today` is not looked at.
    today : datetime.date
    settings : Settings, optional
    garden : Garden, optional
        Whose beds, soil and tanks are reckoned with; else beds of loam watered by drip.
    offered : sequence of Crop
        Crops among which what may be sown in place of a lost one is looked for.
    """
    settings, book = settings or Settings(), log.book
    entries = tuple(e for e in log.entries if e.date <= today)
    sown = [s for s in sown_of(entries)[0] if (today - s.started).days <= _LONGEST]
    sown = [s for s in sown if s.ended is None or (today - s.ended).days <= _CLEARED_OFF]
    begun = min((s.started for s in sown), default=today)
    ahead = futures(
        history, so_far, as_day(begun - dt.timedelta(days=_BEFORE)), as_day(today + dt.timedelta(days=_AHEAD))
    )
    usual = days_as_felt(history, settings)
    lost = [s for s in sown if (day := s.on("lost")) and (today - day).days <= _REPLACED]
    crops = {s.crop: book[s.crop] for s in sown} | ({c.name: c for c in offered} if lost else {})
    lines = {line.crop: line for line in windows_alone(history, settings, list(crops.values()), book)}
    asked = _Asked(today, ahead, days_as_felt(ahead.record, settings), usual, lines, book)
    found = [(_sowing_now(s, asked)) for s in sown]
    now = [replace(n[0], instead=_instead(n[0].sown, asked)) if n[0].sown in lost else n[0] for n in found]
    water, tank, notes = _water(found, entries, garden or Garden("", "", ()), asked)
    return SeasonNow(today, log, tuple(now), water, tank, notes=notes)


def _instead(lost: Sown, asked: _Asked) -> tuple[str, ...]:
    """What may be started within the fortnight in place of a sowing that was lost, the same crop first."""
    day = day_of_date(asked.today)
    open_now = [
        (line.crop != lost.crop, -w.reliability * w.yield_fraction, line.crop, s.way)
        for line in asked.lines.values()
        for s in line.starts
        for w in s.windows
        if (day - w.start) % 365 <= (w.end - w.start) % 365 or (w.start - day) % 365 < 14
    ]
    names = [f"{crop} ({way})" for _, _, crop, way in sorted(open_now)]
    return tuple(dict.fromkeys(names))[:3]


def _bed_area(sown: Sown, crop: Crop, beds: dict[str, tuple[float, float]], beside: int) -> tuple[float, float]:
    """m2 of a sowing and its share of open light: of its plants, else its part of the bed, else one m2."""
    area, light = beds.get(_bed_key(sown.bed), (0.0, 1.0))
    if sown.plants:
        wanted = area_of(crop.garden, sown.plants)
        return (min(wanted, area) if area else wanted), light
    return (area / beside if area else 1.0), light


def _bed_key(name: str) -> str:
    return name.casefold().removeprefix("bed").strip()


def _water(
    found: list[tuple[SowingNow, Outlook | None]], entries: tuple[Entry, ...], garden: Garden, asked: _Asked
) -> tuple[tuple[BedWeek, ...], Tank | None, tuple[str, ...]]:
    """Water of this week by bed, the tank from here, and what is taken for granted."""
    today, ahead = asked.today, asked.ahead
    weather = garden_weather(ahead.record)
    place = ahead.at(as_day(today))
    span = np.clip(place[:, None] + np.arange(_FOLLOWED), 0, weather.size - 1)
    sure = np.flatnonzero(weather.known[span].all(axis=1))
    in_bed = [(n, o) for n, o in found if o is not None and n.sown.in_bed is not None and n.stage != "over"]
    told = [e for e in entries if e.event == "tank"]
    if sure.size < FEWEST or not (in_bed or told):
        return (), None, ()
    beds = {_bed_key(b.name): (b.area, 1.0 - b.shade) for b in garden.beds}
    grounds = {_bed_key(b.name): ground_of(garden, b) for b in garden.beds}
    standing = []
    for n, o in in_bed:
        key, start = _bed_key(n.sown.bed), n.sown.in_bed or today
        beside = [m for m, _ in in_bed if _bed_key(m.sown.bed) == key]
        area, light = _bed_area(n.sown, asked.book[n.sown.crop], beds, len(beside))
        given: dict[int, float] = {}
        for e in (e for e in entries if e.event == "watered" and start <= e.date < today):
            if _bed_key(e.bed) == key and (not e.crop or e.crop == n.sown.crop):
                day = (e.date - start).days
                given[day] = given.get(day, 0.0) + (e.amount or 0.0) / (1 if e.crop else len(beside))
        length = np.where(o.picked, o.found.last - o.place + 1, 1)[sure]
        age, fed = (today - start).days, n.sown.crop in garden.rain_fed
        ground = grounds.get(key)
        basal = basal_of(asked.book[n.sown.crop].water, ground.depth if ground else garden.soil_depth, rain_fed=fed)
        standing.append(InBed(n.sown.bed, basal, area, light, o.place[sure], length, age, given, fed, ground))
    back = (today - told[-1].date).days if told and (today - told[-1].date).days < _BEFORE else 0
    week, drawn = water_from_here(weather, standing, garden, back)
    gravity = gravity_feed(garden) if garden.water.method == "drip" and garden.beds else None
    per_minute = gravity.flow / 60.0 if gravity and gravity.works else garden.water.hose
    water = []
    for bed in week:
        middle, dry = np.quantile(bed.litres, [0.5, 0.9], method="weibull")
        minutes = None if gravity and not gravity.works else float(middle) / per_minute
        water.append(BedWeek(bed.bed, float(middle), float(dry), minutes if garden.beds else None, bed.assumed))
    notes = ("beds without logged waterings are taken as watered when they needed it",) * any(w.assumed for w in water)
    if not garden.beds and water:
        notes += ("no garden file is named: beds are loam under drip, sized by their plants, else one m2",)
    tank = _tank(told[-1], drawn, garden, weather, today, place[sure] - back, back) if told else None
    return tuple(water), tank, notes


def _tank(
    told: Entry, drawn: np.ndarray, garden: Garden, weather: GardenWeather, today: dt.date, place: np.ndarray, back: int
) -> Tank:
    if not drawn.shape[0]:  # nothing stands in beds
        drawn = np.zeros((place.size, back + _FOLLOWED))
    levels, dry = level_from_here(weather, garden, place, drawn[:, : back + _FOLLOWED], told.amount or 0.0)
    runs = dry[dry >= back] - back
    now = float(np.median(levels[:, back - 1])) if back else float(told.amount or 0.0)
    return Tank(told.date, told.amount or 0.0, now, float((dry >= back).mean()), spread_of(today, runs))


def review_of(
    history: DailyRecord, own: DailyRecord, log: SeasonLog, year: int, settings: Settings | None = None
) -> tuple[Reviewed, ...]:
    """What was to be expected of the sowings of a growing year, and what came, crop by crop.

    Parameters
    ----------
    history : DailyRecord
        The years that say what was to be expected.
    own : DailyRecord
        Weather that holds that year.
    log : SeasonLog
    year : int
    settings : Settings, optional
    """
    settings, book = settings or Settings(), log.book
    first, last = growing_year(year, history.latitude)
    sown = [s for s in log.sown if first <= s.started <= last]
    usual, days = days_as_felt(history, settings), days_as_felt(own, settings)
    crops = {s.crop: book[s.crop] for s in sown}
    lines = {line.crop: line for line in windows_alone(history, settings, list(crops.values()), book)}
    learnt = {(x.crop, x.sort): x for x in learnt_sorts(own, log, last + dt.timedelta(days=_LONGEST), settings)}
    begun = min((s.started for s in sown), default=first)
    begins, ends = begun - dt.timedelta(days=_BEFORE), last + dt.timedelta(days=_AHEAD)
    ahead = futures(history, None, as_day(begins), as_day(ends))
    asked = _Asked(last, ahead, days_as_felt(ahead.record, settings), usual, lines, book)
    return tuple(_reviewed(s, asked, days, learnt.get((s.crop, s.sort))) for s in sown)


def _reviewed(sown: Sown, asked: _Asked, days: SiteDays, learnt: Learnt | None) -> Reviewed:
    crop, start = asked.book[sown.crop], sown.in_bed
    way = next((w for w in crop.ways if w.way == sown.way), None)
    picked = sown.on("first picked") or sown.on("picked")
    amounts = [e.amount for e in sown.entries if e.event in ("first picked", "picked") and e.amount is not None]
    expected = by_weather = hazard = worth = None
    if start is not None and way is not None and crop.perennial is None and not missing_values(crop, way):
        expected = spread_of(start, outlook(asked.ahead, asked.days, crop, way, start).first)
        place = int((as_day(start) - days.dates[0]).astype(int))
        if 0 <= place < days.size:
            outcome = seasons(days, crop, way)
            if np.nan_to_num(outcome.yield_fraction[place]) >= NO_CROP:
                by_weather = start + dt.timedelta(days=int(outcome.first[place]) - place)
            if np.isfinite(outcome.yield_fraction[place]):
                worth = float(outcome.yield_fraction[place])
                hazard = HAZARDS[outcome.hazard[place]] if outcome.hazard[place] >= 0 else None
    late = (picked - expected.p50).days if picked and expected else None
    weather = (by_weather - expected.p50).days if by_weather and expected else None
    change = []
    poor = worth is not None and worth < days.settings.near_best
    if (best := _best(sown, asked)) and start and poor and abs((start - best[0]).days) > _OFF_BEST:
        off = (start - best[0]).days
        change.append(f"start it {abs(off)} days {'earlier' if off > 0 else 'later'}, about {date_text(best[0])}")
    if late is not None and weather is not None and abs(late - weather) >= _WEEK and learnt is not None:
        change.append(f"take {learnt.own:.0f} degree days for it, where the handbook has {learnt.handbook:.0f}")
    if sown.on("lost") and hazard:
        change.append(f"guard it against {hazard}, which cost it most by this weather")
    amount = sum(amounts) if amounts else None
    return Reviewed(sown, expected, by_weather, picked, late, weather, amount, hazard, tuple(change))


def learnt_sorts(own: DailyRecord, log: SeasonLog, today: dt.date, settings: Settings | None = None) -> list[Learnt]:
    """What first pickings tell of each sort that was named and sown of late, by the weather of its last seasons."""
    lived: dict[tuple[str, str, str], list[Sown]] = {}
    for s in log.sown:
        if s.sort and s.in_bed and (seen := s.on("first picked")) and seen <= today:
            lived.setdefault((s.crop, s.sort, s.way), []).append(s)
    now = {(s.crop, s.sort) for s in log.sown if (today - s.started).days <= _LONGEST}
    out = []
    for (name, sort, of_way), every in lived.items():
        if (name, sort) not in now:
            continue
        sowings = every[-_REMEMBERED:]
        crop = log.book[name]
        way = next((w for w in crop.ways if w.way == of_way), None)
        if way is None or crop.perennial is not None or missing_values(crop, way):
            continue
        spans = [(s.in_bed, s.on("first picked"), s.on("came up")) for s in sowings if s.in_bed]
        first, last = min(a for a, _, _ in spans), max(b for _, b, _ in spans if b)
        ends = (first - dt.timedelta(days=_BEFORE), last + dt.timedelta(days=_LONGEST))
        part = own.span(str(ends[0]), str(ends[1]))
        if part.size < 2 or not np.isfinite(part["tasmin"]).any():
            continue
        said = [(a, b, up) for a, b, up in spans if b is not None]
        if found := learnt_of(days_as_felt(part, settings or Settings()), crop, way, sort, said):
            out.append(found)
    return out
