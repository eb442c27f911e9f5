"""The season in progress told once for screen and page, and as plain dicts for programs; a log; a season reviewed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from sowcal.climate.place_figures import DEGREE_DAY_BASE
from sowcal.climate.so_far import SoFar
from sowcal.languages import counted
from sowcal.outputs.document import Column, Document, Items, Paragraph, Part, Section, Table, screen_text
from sowcal.outputs.terminal import plain
from sowcal.outputs.wording import NO_PROMISE, three_words
from sowcal.provenance import MadeBy
from sowcal.season_log import SeasonLog, Sown
from sowcal.seasons.outlook import Learnt, Spread
from sowcal.suitability.results import Review, Reviewed, SeasonNow, SowingNow, Strain
from sowcal.units import amount, told, unit_word
from sowcal.year import MONTHS, date_text

__all__ = ["log_json", "log_text", "review_text", "season_document", "season_json", "season_text", "so_far_words"]

_MOST_LINES = 40  # of a screen
# sowings, jobs, beds, lines of other lists and notes that are told: the most that a screen of its width holds
_ROOM = (
    (10, 6, 9, 4, 3),
    (9, 5, 8, 2, 3),
    (8, 4, 6, 2, 2),
    (6, 3, 5, 1, 2),
    (5, 2, 4, 1, 1),
    (3, 2, 3, 1, 1),
    (2, 1, 2, 0, 1),
)
_ALL = (10_000,) * 5
_SHOWN_LINES = 24  # of a log
ENGINE = (
    "Ranges are 10 to 90 per cent of the record's years, each as the rest of this season, by the engine of the chart, "
    "for the middle sort of a type"
)
_ANY_SORT = "any sort: of its early and late ones too"


def _short(day: dt.date) -> str:
    return f"{day.day} {MONTHS[day.month - 1]}"


def _range(spread: Spread | None) -> str:
    """'21 Jun (18 to 27 Jun)', a day alone where it is known."""
    if spread is None:
        return ""
    if spread.p10 == spread.p90:
        return _short(spread.p50)
    first = str(spread.p10.day) if spread.p10.month == spread.p90.month else _short(spread.p10)
    return f"{_short(spread.p50)} ({first} to {_short(spread.p90)})"


def _named(sown: Sown) -> str:
    return f"{sown.crop}, {sown.sort}" if sown.sort else sown.crop


def _ahead(days: int | None) -> str:
    if days is None:
        return ""
    return "as usual" if days == 0 else f"{counted(abs(days), 'day')} {'ahead' if days > 0 else 'behind'}"


def _against_best(now: SowingNow) -> str:
    days = now.after_best
    if days is None or now.best is None:
        return ""
    off = f"{counted(abs(days), 'day')} {'after' if days > 0 else 'before'}" if days else "the same day as"
    return f"picked {off} what {_short(now.best[0])} gives"


def _begun(sown: Sown) -> str:
    return f"{sown.entries[0].event} {_short(sown.started)}" if sown.in_bed != sown.started else _short(sown.started)


def _next(now: SowingNow) -> str:
    """What comes next of a sowing."""
    if now.stage in ("cleared", "lost"):
        day = now.sown.ended
        return _short(day) if day else ""
    if now.set_out is not None and now.first_picking is not None:
        return f"set out {_range(now.set_out)}, pick {_range(now.first_picking)}"
    if now.stage in ("picking", "over"):
        return f"till {_range(now.last_picking)}" if now.last_picking else ""
    if now.first_picking is None and now.picked_share is not None:
        none = 1.0 - now.picked_share
        return "nothing to pick, whatever comes" if none == 1.0 else f"nothing to pick in {none:.0%} of the years"
    return f"pick {_range(now.first_picking)}" if now.first_picking else now.note


def _any_sort(now: SowingNow) -> str:
    """'5 Jun to 12 Jul': first pickings of early and late sorts alike; nothing where that is past or not known."""
    if now.any_sort is None or now.stage in ("picking", "over"):
        return ""
    return f"{_short(now.any_sort.p10)} to {_short(now.any_sort.p90)}"


def _table(season: SeasonNow, most: int) -> Table:
    columns = (
        Column("bed"),
        Column("crop"),
        Column("started", least_screen=80),
        Column("stands"),
        Column("next (range)"),
        Column("picked first, any sort", least_screen=100, short="any sort"),
        Column("against the usual", short="usual"),
        Column("against the best start", least_screen=110, short="best start"),
    )
    stands = sorted(season.sowings, key=lambda s: (s.stage in ("cleared", "lost"), s.sown.bed, s.sown.started))
    rows = tuple(
        (
            s.sown.bed or "-",
            _named(s.sown),
            _begun(s.sown),
            s.stage,
            _next(s),
            _any_sort(s),
            _ahead(s.ahead_days),
            _against_best(s),
        )
        for s in stands
    )
    return Table(columns, rows, "what stands, and what comes of it", look="stands", most=most)


def _strain(strain: Strain) -> str:
    if strain.days:
        return f"{strain.hazard} on {counted(len(strain.days), 'day')}, last {_short(strain.days[-1])}"
    fails = f" (costs the crop in {strain.failing:.0%})" if strain.failing >= 0.05 else ""
    return f"{three_words(strain.hazard)} in {strain.share:.0%} of the years{fails}"


def _hazards(season: SeasonNow) -> list[str]:
    out = []
    for s in sorted(season.sowings, key=lambda s: -max((h.failing for h in s.ahead), default=-1.0)):
        met = "; ".join(_strain(h) for h in s.met[:2])
        ahead = "; ".join(_strain(h) for h in s.ahead[:2])
        parts = [f"met {met}" if met else "", f"ahead {ahead}" if ahead else ""]
        if any(parts):
            out.append(f"{_named(s.sown)}: {'; '.join(p for p in parts if p)}.")
    return out


def _water(season: SeasonNow, most: int) -> tuple[Part, ...]:
    said = []
    for bed in season.water[:most]:
        minutes = "" if bed.minutes is None else f", {bed.minutes:.0f} minutes"
        named = bed.bed.lower().startswith("bed") or not bed.bed
        name = (bed.bed or "no bed named") if named else f"bed {bed.bed}"
        dry = amount(bed.dry_year_litres, "litres", ".0f")
        said.append(f"{name}: {told(bed.litres, 'litres', '.0f')}{minutes} ({dry} in a dry year)")
    if len(season.water) > most:
        said.append(f"and {counted(len(season.water) - most, 'more bed')}")
    parts: list[Part] = [Paragraph(f"{'; '.join(said)}.")] if said else []
    if season.tank is not None:
        tank = season.tank
        level = f"{told(tank.litres_told, 'litres', ',.0f')} on {date_text(tank.told)}"
        level += f", about {amount(tank.litres_now, 'litres', ',.0f')} now"
        dry = f"runs dry in {tank.dry_share:.0%} of the years"
        dry += f", {_range(tank.runs_dry)}" if tank.runs_dry else ""
        parts.append(Paragraph(f"{level}; {dry if tank.dry_share > 0 else 'lasts in every year'}.", "Tank"))
    return tuple(parts)


def so_far_words(found: SoFar) -> list[str]:
    """Warmth, frost and rain of a growing year so far against the earlier years, a phrase each."""
    out = []
    for one in found.sums:
        now, low, middle, high = one.at_day
        unit = {"warmth": "degree days", "rain": "mm"}.get(one.name)
        m, a, b = (f"{v:.0f}" if unit is None else amount(v, unit, ".0f") for v in (middle, low, high))
        usual = f"the middle year has {m}, {a} to {b}"
        if one.name == "warmth":
            ahead = "" if found.days_ahead is None else f", {_ahead(found.days_ahead)}"
            out.append(f"{told(now, 'degree days', '.0f')} above {told(DEGREE_DAY_BASE, 'degC')}{ahead} ({usual})")
        elif one.name == "frost":
            nights = counted(round(now), "night") if round(now) else "no night"
            out.append(f"{nights} of frost ({usual if high else 'none in 9 years of 10'})")
        else:
            out.append(f"{told(now, 'mm', '.0f')} of rain ({usual})")
    return out


def _so_far(season: SeasonNow) -> tuple[Part, ...]:
    if season.so_far is None:
        return ()
    days = f"{_short(season.so_far.first)} to {_short(season.so_far.last)}"
    return (Section("The year so far", (Paragraph(f"{days}: {'; '.join(so_far_words(season.so_far))}."),), "so-far"),)


def _learnt(found: Sequence[Learnt]) -> list[str]:
    out = []
    for x in found:
        own, observed, handbook = (amount(v, "degree days", ".0f") for v in (x.own, x.observed, x.handbook))
        out.append(
            f"{x.crop}, {x.sort}: {own} degree days to the first picking after {counted(x.seasons, 'season')} (they "
            f"took {observed}, the handbook has {handbook}); to use it, put `crop,way,thermal_time_low,"
            f"thermal_time_high` and `{x.crop},{x.way},{x.low:.0f},{x.high:.0f}` into a file ways.csv for --crops."
        )
    return out


def season_document(season: SeasonNow, room: tuple[int, ...] = _ALL) -> Document:
    """What stands in which bed, what comes of it, what to do this week, and the water that is due.

    `room` is how many sowings, jobs, beds, lines of other lists and notes are told; the rest is counted.
    """
    sowings, jobs, beds, lines, notes = room
    tasks = [
        f"{t.job[:1].upper()}{t.job[1:]}: {t.crop}{f' (bed {t.bed})' if t.bed else ''}{f'; {t.why}' if t.why else ''}."
        for t in season.tasks
    ]
    instead = [f"In place of {_named(s.sown)}: {', '.join(s.instead)}." for s in season.sowings if s.instead]
    water = Section("Water this week", _water(season, beds), "water")
    nothing = "Nothing that was sown stands in the log. Write it down, for example: sowcal log sown outdoors carrot"
    if season.sowings:
        parts: tuple[Part, ...] = (
            Section("What stands", (_table(season, sowings),), "stands"),
            *_so_far(season),
            *_lines("This week", tasks, "week", jobs),
            water,
            *_lines("Hazards", _hazards(season), "hazards", lines),
            *_lines("In place of what was lost", instead, "instead", lines),
            *_lines("What your dates tell of your sorts", _learnt(season.learnt), "sorts", lines),
        )
    else:
        parts = (Paragraph(nothing), *_so_far(season), water)
    return Document(
        f"THE SEASON at {season.site} on {date_text(season.date)}",
        parts,
        foot=(
            *(f"{n[:1].upper()}{n[1:]}." for n in season.notes[:notes]),
            f"{ENGINE}; {_ANY_SORT}. {NO_PROMISE} {season.made_by.short()}",
        ),
        spaced=False,
    )


def _lines(title: str, items: Sequence[str], key: str, most: int) -> tuple[Part, ...]:
    more = (f"and {len(items) - most} more",) if len(items) > most else ()
    if not items or not most:
        return ()
    return (Section(title, (Items((*items[:most], *more), bullets=False),), key),)


def season_text(season: SeasonNow, *, width: int = 100, unicode: bool = True) -> str:
    """The season on a screen of so many columns; the first line names the log."""
    told = ""
    for room in _ROOM:
        told = _under_its_log(season.log, season_document(season, room), width, unicode)
        if told.count("\n") < _MOST_LINES:
            break
    return told


def _under_its_log(log: SeasonLog, document: Document, width: int, unicode: bool) -> str:
    """A document below the path of the log, which is not broken over lines: it could not be copied then."""
    told = screen_text(document, width=width, unicode=unicode)
    return f"{plain(f'Log: {log.path}', unicode=unicode)}\n{told}"


def _more(days: int) -> str:
    return f"{days:+d} {'day' if abs(days) == 1 else 'days'}"


def _late(r: Reviewed) -> str:
    if r.late_days is None:
        return "" if r.weather_days is None else f"by the weather {_more(r.weather_days)}"
    weather = "" if r.weather_days is None else f", of them the weather's {r.weather_days:+d}"
    return f"{_more(r.late_days)}{weather}"


def review_text(review: Review, *, width: int = 100, unicode: bool = True) -> str:
    """Expected against real, crop by crop, and what to change."""
    columns = tuple(map(Column, ("crop", "started", "expected first picking", "picked", "later by", unit_word("kg"))))
    rows = tuple(
        (
            _named(r.sown),
            _short(r.sown.started),
            _range(r.expected),
            _short(r.picked) if r.picked else ("lost" if r.sown.on("lost") else "-"),
            _late(r),
            "" if r.amount is None else amount(r.amount, "kg"),
        )
        for r in review.sowings
    )
    change = [
        f"{_named(r.sown)} of {_short(r.sown.started)}: {'; '.join(r.change)}." for r in review.sowings if r.change
    ]
    parts: tuple[Part, ...] = (Paragraph("Nothing was started in it."),)
    if rows:
        parts = (Table(columns, rows, "expected and real", most=20), *_lines("What to change", change, "change", 6))
    days = f"{date_text(review.first)} to {date_text(review.last)}"
    document = Document(
        f"THE GROWING YEAR {days} at {review.site}", parts, foot=(f"{ENGINE}. {review.made_by.short()}",), spaced=False
    )
    return _under_its_log(review.log, document, width, unicode)


def log_text(log: SeasonLog, said: str, *, width: int = 100, unicode: bool = True) -> str:
    """The end of a log, with its place."""
    columns = tuple(map(Column, ("date", "event", "crop", "sort", "bed", "plants", "amount", "note")))
    rows = tuple(tuple(e.cells()) for e in log.entries[-_SHOWN_LINES:])
    parts: tuple[Part, ...] = (Table(columns, rows, "lines of the log"),) if rows else ()
    return screen_text(Document(said, parts, spaced=False), width=width, unicode=unicode)


def _dates(spread: Spread | None) -> dict[str, str] | None:
    if spread is None:
        return None
    return {p: getattr(spread, p).isoformat() for p in ("p10", "p50", "p90")}


def _day(day: dt.date | None) -> str | None:
    return None if day is None else day.isoformat()


def _identity(sown: Sown) -> dict[str, Any]:
    return {
        "crop": sown.crop,
        "sort": sown.sort or None,
        "bed": sown.bed or None,
        "way": sown.way,
        "plants": sown.plants,
        "started": sown.started.isoformat(),
    }


def _sowing_json(now: SowingNow) -> dict[str, Any]:
    yields = None
    if now.yield_fraction is not None:
        yields = dict(zip(("p10", "p50", "p90"), (round(y, 3) for y in now.yield_fraction), strict=True))
    best = (
        None
        if now.best is None
        else {"start": _day(now.best[0]), "first_picking": _day(now.best[1]), "picked_after_days": now.after_best}
    )
    return {
        **_identity(now.sown),
        "stage": now.stage,
        "set_out": _dates(now.set_out),
        "emergence": _dates(now.emergence),
        "first_picking": _dates(now.first_picking),
        "first_picking_any_sort": _dates(now.any_sort),
        "last_picking": _dates(now.last_picking),
        "yield_fraction": yields,
        "picked_share": None if now.picked_share is None else round(now.picked_share, 3),
        "years": now.futures,
        "ahead_days": now.ahead_days,
        "best": best,
        "hazards_met": [{"hazard": h.hazard, "days": [d.isoformat() for d in h.days]} for h in now.met],
        "hazards_ahead": [
            {"hazard": h.hazard, "share_of_years": round(h.share, 3), "share_failing": round(h.failing, 3)}
            for h in now.ahead
        ],
        "tasks": [{"job": t.job, "why": t.why} for t in now.tasks],
        "instead": list(now.instead),
        "note": now.note or None,
    }


def _review_json(r: Reviewed) -> dict[str, Any]:
    return {
        **_identity(r.sown),
        "expected": _dates(r.expected),
        "by_weather": _day(r.by_weather),
        "first_picked": _day(r.picked),
        "lost": _day(r.sown.on("lost")),
        "late_days": r.late_days,
        "weather_days": r.weather_days,
        "picked_kg": None if r.amount is None else round(r.amount, 3),
        "hazard": r.hazard,
        "change": list(r.change),
    }


def _learnt_json(found: Learnt) -> dict[str, Any]:
    return {
        "crop": found.crop,
        "sort": found.sort,
        "way": found.way,
        "seasons": found.seasons,
        "observed": round(found.observed, 1),
        "handbook": round(found.handbook, 1),
        "own": round(found.own, 1),
        "thermal_time_low": round(found.low, 1),
        "thermal_time_high": round(found.high, 1),
        "basis": "grower's own",
    }


def _so_far_json(found: SoFar | None) -> dict[str, Any] | None:
    if found is None:
        return None
    sums: dict[str, Any] = {"warmth": None, "frost": None, "rain": None}
    for one in found.sums:
        now, low, middle, high = (round(v, 1) for v in one.at_day)
        told = {"unit": one.unit, "sum": now, "p10": low, "p50": middle, "p90": high, "missing_days": one.filled}
        sums[one.name] = {**told, "years": len(one.years)}
    return {"from": _day(found.first), "to": _day(found.last), **sums, "days_ahead": found.days_ahead}


def season_json(answer: SeasonNow | Review) -> dict[str, Any]:
    """A season in progress, or one reviewed, in one form: of what is not asked the lists are empty."""
    now = answer if isinstance(answer, SeasonNow) else None
    past = answer if isinstance(answer, Review) else None
    tank = now.tank if now else None
    return {
        "site": answer.site,
        "record": answer.record.to_json() if answer.record else None,
        "log": str(answer.log.path),
        "problems": [{"line": p.line, "text": p.text} for p in answer.log.problems],
        "date": _day(now.date) if now else None,
        "year": past.year if past else None,
        "weather_to": _day(now.weather_to) if now else None,
        "forecast_to": _day(now.forecast_to) if now else None,
        "so_far": _so_far_json(now.so_far) if now else None,
        "sowings": [_sowing_json(s) for s in now.sowings] if now else [],
        "water": [
            {
                "bed": w.bed or None,
                "litres_this_week": round(w.litres, 1),
                "dry_year_litres": round(w.dry_year_litres, 1),
                "minutes": None if w.minutes is None else round(w.minutes, 1),
                "assumed": w.assumed,
            }
            for w in (now.water if now else ())
        ],
        "tank": None
        if tank is None
        else {
            "told": _day(tank.told),
            "litres_told": round(tank.litres_told, 1),
            "litres_now": round(tank.litres_now, 1),
            "dry_share": round(tank.dry_share, 3),
            "runs_dry": _dates(tank.runs_dry),
        },
        "learnt": [_learnt_json(x) for x in (now.learnt if now else ())],
        "review": [_review_json(r) for r in past.sowings] if past else [],
        "notes": list(now.notes) if now else [],
        "made_by": answer.made_by.to_json(),
    }


def log_json(log: SeasonLog, added: int = 0, undone: str = "") -> dict[str, Any]:
    """A log, what was added to it, and the line that was taken away."""
    return {
        "log": str(log.path),
        "entries": [e.to_json() for e in log.entries],
        "problems": [{"line": p.line, "text": p.text} for p in log.problems],
        "added": added,
        "undone": undone or None,
        "made_by": MadeBy(log.book.fingerprint).to_json(),
    }
