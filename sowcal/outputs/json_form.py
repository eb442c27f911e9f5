"""The answers as plain dicts for programs, in the forms that the schemas of `sowcal/schemas` describe.

What is not known is null; NaN never gets out.
"""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.crops.tables import Crop
from sowcal.errors import InputError
from sowcal.provenance import MadeBy
from sowcal.suitability.compare import CompareResult
from sowcal.suitability.results import (
    Advice,
    AgainstWhole,
    CropSeasons,
    CropVerdict,
    FirstPicking,
    Harvest,
    OffsetRange,
    Outside,
    Record,
    SowingChart,
    WantOfWater,
    WayResult,
    Window,
)
from sowcal.suitability.week import Week, WeekJob
from sowcal.year import month_day, span_month_days, whole_year

if TYPE_CHECKING:
    from sowcal.crops.sheet import Deciding, Line

__all__ = [
    "basis_json",
    "chart_json",
    "compare_json",
    "crops_json",
    "json_text",
    "plain_value",
    "rate_json",
    "schema",
    "schema_names",
    "week_json",
]

_DIGITS = 3


def json_text(answer: Any) -> str:
    """The one form of text: indented, in UTF-8, without NaN, ended by a line feed."""
    return json.dumps(answer, allow_nan=False, indent=1, ensure_ascii=False) + "\n"


def _number(value: float | None) -> float | None:
    """A share rounded to 3 digits; None where it is not known."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), _DIGITS)


def plain_value(value: Any) -> Any:
    """Anything that an evidence dict may hold, as JSON holds it; a `Window` takes its dates."""
    if isinstance(value, Window):
        return _window(value)
    if isinstance(value, FirstPicking):
        return _picking(value)
    if isinstance(value, Outside):
        return _outside(value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain_value(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(k): plain_value(v) for k, v in value.items()}
    if isinstance(value, (set, frozenset)):
        return sorted((plain_value(v) for v in value), key=str)
    if isinstance(value, (list, tuple)):
        return [plain_value(v) for v in value]
    if isinstance(value, np.ndarray):
        return [plain_value(v) for v in value.tolist()]
    if isinstance(value, np.generic):
        return plain_value(value.item())
    if isinstance(value, float):
        return _number(value)
    if value is None or isinstance(value, (bool, int, str)):
        return value
    return str(value)


def _span(start: int, end: int) -> dict[str, str]:
    first, last = span_month_days(start, end)
    return {"from": first, "to": last}


def _picking(picking: FirstPicking) -> dict[str, Any]:
    return {
        "p10": month_day(picking.p10),
        "p50": month_day(picking.p50),
        "p90": month_day(picking.p90),
        "days_after_start": int(picking.days_after_start),
    }


def _window(window: Window) -> dict[str, Any]:
    return {
        **_span(window.start, window.end),
        "best": month_day(window.best),
        "reliability": _number(window.reliability),
        "interval": [_number(v) for v in window.interval],
        "years_decided": int(window.years_decided),
        "yield_fraction": _number(window.yield_fraction),
        "raise_under_cover": _span(*window.raise_under_cover) if window.raise_under_cover else None,
        "first_picking": _picking(window.first_picking) if window.first_picking else None,
        **({"own_thermometer": _offset_range(window.offset_range)} if window.offset_range else {}),
    }


def _offset_range(found: OffsetRange) -> dict[str, Any]:
    """What becomes of a window within the error of the plot's own thermometer."""
    return {
        "reliability": [_number(v) for v in found.reliability],
        "if_colder": _span(*found.if_colder) if found.if_colder else None,
        "if_warmer": _span(*found.if_warmer) if found.if_warmer else None,
    }


def _outside(outside: Outside) -> dict[str, Any]:
    return {
        **_span(outside.start, outside.end),
        "hazard": outside.hazard,
        "share_of_years": _number(outside.share_of_years),
    }


def _way(way: WayResult) -> dict[str, Any]:
    return {
        "way": way.way,
        "windows": [_window(w) for w in way.windows],
        "possible": [_window(w) for w in way.possible],
        "outside": [_outside(o) for o in way.outside],
        "daily": _by_day(way.reliability),
        "daily_yield": _by_day(None if way.reliability is None else way.yield_fraction),
        "daily_days_to_picking": _by_day(way.days_to_picking),
        "advice": [_advice(a) for a in way.advice],
        **({"want_of_water": _want_of_water(way.want_of_water)} if way.want_of_water else {}),
        **_harvest(way.harvest),
    }


def _harvest(harvest: Harvest) -> dict[str, Any]:
    """What a square metre draws and gives."""
    return plain_value(harvest)


def _by_day(values: np.ndarray | None) -> list[float | None] | None:
    """365 values by start day; None as a whole where nothing is known by day."""
    return None if values is None else [_number(v) for v in np.asarray(values).tolist()]


def _day(day: int | None) -> str | None:
    return None if day is None else month_day(day)


def _advice(advice: Advice) -> dict[str, Any]:
    """The five dates of one season."""
    picking, late = advice.first_picking, advice.last_chance
    return {
        "season": advice.season,
        "best_fortnight": {
            **_span(advice.best_start, advice.best_end),
            "first_picking": _picking(picking) if picking else None,
        },
        "earliest_safe": None
        if advice.earliest_safe is None
        else {"date": month_day(advice.earliest_safe), "gains_days": advice.gains_days},
        "last_chance": None
        if late is None
        else {
            "date": month_day(late),
            "yield_fraction": _number(advice.last_yield),
            "picked": _day(advice.last_picked),
        },
        "succession": [month_day(day) for day in advice.succession],
        "not_worth_it": [{**_span(n.start, n.end), "why": n.why} for n in advice.not_worth_it],
    }


def _want_of_water(found: WantOfWater) -> dict[str, Any]:
    """Dates that the water asked for took: the best of them, and the litres that it draws per m2 in a dry year."""
    return {
        "best": month_day(found.day),
        "reliability": _number(found.reliability),
        "litres_per_m2": _number(found.litres),
        "litres_per_m2_allowed": _number(found.most),
    }


def _crop(line: CropSeasons) -> dict[str, Any]:
    return {
        "crop": line.crop,
        "starts": [_way(w) for w in line.starts],
        "cautions": list(line.cautions),
    }


def chart_json(chart: SowingChart) -> dict[str, Any]:
    """The sowing chart.

    Parameters
    ----------
    chart : SowingChart

    Returns
    -------
    dict
        Dates MM-DD on a 365-day year; shares 0 to 1; `daily` 365 shares by start day, null where undecided. Where the
        site file names the grower's own readings, `own_thermometer` says how the record was moved by them, and in
        each window what becomes of it within their error (95 per cent).
    """
    return {
        "site": chart.site,
        "record": chart.record.to_json(),
        "reliability_asked": _number(chart.reliability_asked),
        "not_judged": list(chart.not_judged),
        **({"own_thermometer": plain_value(chart.own_thermometer)} if chart.own_thermometer else {}),
        **({"against_whole_record": _against_whole(chart.against_whole)} if chart.against_whole else {}),
        "crops": [_crop(line) for line in chart.crops],
        "made_by": chart.made_by.to_json(),
    }


def _against_whole(found: AgainstWhole) -> dict[str, Any]:
    """How windows of the years asked for part from those of the whole record, which stands first in each pair."""
    return {
        "record": found.record.to_json(),
        "moved": [_moved(entry) for entry in found.moved],
        "gained": list(found.gained),
        "lost": list(found.lost),
    }


def rate_json(
    site: str, record: Record, verdicts: Iterable[CropVerdict], made_by: MadeBy | None = None
) -> dict[str, Any]:
    """Verdicts in the order given, `class` null where the answer is 'cannot say'."""
    return {
        "site": site,
        "record": record.to_json(),
        "crops": [
            {
                "crop": v.crop,
                "class": v.suitability,
                "word": v.word,
                "reliability": _number(v.reliability),
                "limiting_factor": v.limiting_factor,
                "evidence": plain_value(v.evidence),
                "what_would_change_it": list(v.what_would_change_it),
                "cautions": list(v.cautions),
                **_harvest(v.harvest),
                **(_of_a_perennial(v) if v.answer is not None else {}),
            }
            for v in verdicts
        ],
        "made_by": (made_by or MadeBy()).to_json(),
    }


def _of_a_perennial(verdict: CropVerdict) -> dict[str, Any]:
    """What is told of perennials only: does it live, does it crop, what it needs, and sorts by their chill."""
    return {name: plain_value(getattr(verdict, name)) for name in ("answer", "sorts_that_fit", "sorts_that_do_not")}


def _moved(entry: Mapping[str, Any]) -> dict[str, Any]:
    """A moved window, its days of the year as dates."""
    dated = {
        key: [month_day(day) for day in value] if key in ("from", "to") else plain_value(value)
        for key, value in entry.items()
    }
    return dated


def compare_json(result: CompareResult) -> dict[str, Any]:
    """Two sites beside each other; pairs stand in the order of `sites`."""
    return {
        "sites": list(result.sites),
        "records": [r.to_json() for r in result.records],
        "climates": [plain_value(c) for c in result.climates],
        "gained": list(result.gained),
        "lost": list(result.lost),
        "moved": [_moved(entry) for entry in result.moved],
        "better": plain_value(result.better),
        "crops": [
            {
                "crop": c.crop,
                "words": list(c.words),
                "days_to_start": list(c.days),
                "reliability": [_number(share) for share in c.reliability],
                "longer": None if c.longer is None else result.sites[c.longer],
                "safer": None if c.safer is None else result.sites[c.safer],
                "litres_per_m2": [_number(h.litres_per_m2) for h in c.harvests],
            }
            for c in result.crops
        ],
        "made_by": result.made_by.to_json(),
    }


def _job(job: WeekJob) -> dict[str, Any]:
    first, last = span_month_days(job.start, job.end)
    return {
        "crop": job.crop,
        "job": job.job,
        "way": job.way,
        "from": first,
        "to": last,
        "best": None if job.best is None else month_day(job.best),
        "closes": None if whole_year(job.start, job.end) else last,
        "reliability": round(job.reliability, 3),
        "chance": job.chance,
        "beyond": job.beyond,
        "hazard": job.hazard,
        "again": None if job.again is None else month_day(job.again),
    }


def week_json(week: Week) -> dict[str, Any]:
    """The week in the form of its schema; `left_out` counts the jobs that are not told."""
    return {
        "site": week.site,
        "record": week.record.to_json(),
        "reliability_asked": week.reliability_asked,
        "from": month_day(week.start),
        "to": month_day(week.end),
        "jobs": [_job(j) for j in week.jobs],
        "left_out": week.left_out,
        "coming": [_job(j) for j in week.coming],
        "not_judged": list(week.not_judged),
        "made_by": week.made_by.to_json(),
    }


def _table_value(value: float | str) -> float | str:
    return "never" if isinstance(value, float) and math.isinf(value) else value


def _table_line(line: Line) -> dict[str, Any]:
    return {
        "table": line.table,
        "part": line.part,
        "quantity": line.field,
        "value": _table_value(line.value),
        "unit": line.unit,
        "basis": line.basis,
        "source": line.source.key if line.source else "",
        "alternatives": [
            {"value": a.value, "basis": a.basis, "source": a.source.key if a.source else "", "why": a.why}
            for a in line.alternatives
        ],
    }


def crops_json(
    crops: Iterable[Crop], sheets: Mapping[str, Sequence[Line]], unknown: Mapping[str, Sequence[str]], made_by: MadeBy
) -> dict[str, Any]:
    """Crop types; those that were asked for by name with every value, its source and what was not taken."""
    out: list[dict[str, Any]] = []
    for crop in crops:
        entry: dict[str, Any] = {
            "crop": crop.name,
            "botanical_name": crop.botanical_name,
            "family": crop.family,
            "synonyms": list(crop.synonyms),
        }
        if crop.name in sheets:
            entry["values"] = [_table_line(line) for line in sheets[crop.name]]
            entry["unknown"] = list(unknown[crop.name])
        out.append(entry)
    answer: dict[str, Any] = {"crops": out}
    if sheets:
        lines = [line for of_crop in sheets.values() for line in of_crop]
        found = {
            s.key: s for s in (x for line in lines for x in (line.source, *(a.source for a in line.alternatives))) if s
        }
        answer["sources"] = [dataclasses.asdict(source) for source in found.values()]
    return answer | {"made_by": made_by.to_json()}


def basis_json(
    counts: Mapping[str, Mapping[str, int]], facts: tuple[int, int], deciding: Iterable[Deciding], made_by: MadeBy
) -> dict[str, Any]:
    """How many values of each table rest on what, and how far what decides verdicts is published."""
    return {
        "tables": {table: dict(count) for table, count in counts.items()},
        "published_facts": facts[0],
        "primary_facts": facts[1],
        "deciding": [dataclasses.asdict(d) for d in deciding],
        "made_by": made_by.to_json(),
    }


_SCHEMAS = "schemas"  # folder of the package
_SHARED = "shared"  # holds definitions only
_OPTIONED = {"crops_basis": "crops --basis", "compare_leaflet": "compare --leaflet"}  # of a command with an option


def schema_names() -> list[str]:
    """Commands whose JSON is described, as `schema` takes them: 'chart', 'weather check' and so on.

    Examples
    --------
    >>> schema_names()[:4]
    ['chart', 'climate', 'compare', 'compare --leaflet']
    """
    folder = files("sowcal") / _SCHEMAS
    stems = sorted(f.name.removesuffix(".json") for f in folder.iterdir() if f.name.endswith(".json"))
    return [_OPTIONED.get(stem, stem).replace("_", " ") for stem in stems if stem != _SHARED]


def schema(command: str) -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of what a command gives with `--json`.

    Parameters
    ----------
    command : str
        'chart', 'rate', 'climate', 'compare', 'compare --leaflet', 'week', 'garden', 'crops', 'crops --basis', or one
        of 'weather check', 'trend', 'chill', 'offset', 'fetch', 'list' and 'clear'; also 'here', 'mine',
        'log' and 'season'.

    Returns
    -------
    dict
        Whole in itself: what several commands share stands under `$defs`. Units stand in the descriptions.

    Raises
    ------
    InputError
        For a command that gives no JSON.

    Examples
    --------
    >>> schema("chart")["properties"]["crops"]["description"]
    'Every crop that was asked for'
    """
    names = schema_names()
    asked = " ".join(str(command).split()).lower()
    if asked not in names:
        near = get_close_matches(asked, names, n=1)
        hint = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(names)}"
        raise InputError(f"{command!r} is no command whose JSON is described; {hint}")
    stem = asked.replace(" --", "_").replace(" ", "_")
    parts: dict[str, Any] = {}
    whole = _drawn_in(_schema_file(stem), stem, parts)
    return {"$schema": _schema_file(stem)["$schema"], **whole, "$defs": dict(sorted(parts.items()))}


@cache
def _schema_file(stem: str) -> dict[str, Any]:
    return json.loads((files("sowcal") / _SCHEMAS / f"{stem}.json").read_text(encoding="utf-8"))


def _drawn_in(part: Any, home: str, parts: dict[str, Any]) -> Any:
    """A part of the file `home` with every reference pointing into `parts`, where what it names is put."""
    if isinstance(part, list):
        return [_drawn_in(entry, home, parts) for entry in part]
    if not isinstance(part, dict):
        return part
    out = {key: _drawn_in(value, home, parts) for key, value in part.items() if key not in ("$schema", "$defs")}
    if isinstance(to := part.get("$ref"), str):
        file, _, name = to.partition("#/$defs/")
        stem = file.removesuffix(".json") or home
        key = name or stem
        if key not in parts:
            parts[key] = {}  # a part that names itself is drawn in once
            there = _schema_file(stem)
            parts[key] = _drawn_in(there["$defs"][name] if name else there, stem, parts)
        out["$ref"] = f"#/$defs/{key}"
    return out
