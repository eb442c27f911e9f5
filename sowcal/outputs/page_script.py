"""What the page's script has from here: its words in the language that is told, and the data that it reckons with."""

from __future__ import annotations

import base64
import datetime as dt
import hashlib
import json
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.kept_answers import Telling
from sowcal.kept_files import kinds_of, remembered
from sowcal.languages import phrase, say, say_crop, spoken
from sowcal.outputs.document import Html, tag
from sowcal.outputs.figure_style import Cells, weeks
from sowcal.outputs.reports import job_line
from sowcal.outputs.wording import job_words
from sowcal.suitability.results import SettingsSteps, WaySteps
from sowcal.suitability.week import JOB_OF_WAY, Week
from sowcal.units import measured, unit_word
from sowcal.year import MONTHS, span_days

if TYPE_CHECKING:
    from sowcal.outputs.page import Place

__all__ = [
    "EVENT_OF_JOB",
    "SCRIPTS",
    "StepsTold",
    "asset",
    "digest",
    "in_words",
    "jobs_data",
    "page_data",
    "steps_for_page",
    "steps_told",
    "water_data",
]

SCRIPTS = ("page.js", "board.js")
EVENT_OF_JOB = {  # what a log calls a job that is done
    "raise under cover": "sown under cover",
    "sow outdoors": "sown outdoors",
    "set out": "set out",
    "plant": "planted",
    "pick": "picked",
}


def asset(name: str) -> str:
    """A file of the page: its style sheet or its script."""
    return (files("sowcal") / "outputs" / "page_assets" / name).read_text(encoding="utf-8").strip()


# What the script says, as it stands there, and its words; a template's fields are the script's own.
_OF_SCRIPT: tuple[tuple[str, str | None, dict[str, str]], ...] = (
    ('"Open all"', phrase("Open all"), {}),
    ('"Close all"', phrase("Close all"), {}),
    ('"all year"', phrase("all year"), {}),
    (
        "`${dayText(s[0])} to ${dayText(s[1])}`",
        phrase("{start} to {end}"),
        {"start": "${dayText(s[0])}", "end": "${dayText(s[1])}"},
    ),
    ("`${slot.dataset.name} in my crops`", phrase("{crop} in my crops"), {"crop": "${slot.dataset.said}"}),
    (
        '"As the page was made, not as the sliders stand:"',
        phrase("As the page was made, not as the sliders stand:"),
        {},
    ),
    ('"No dates at these settings."', phrase("No dates at these settings."), {}),
    (
        '"Its stored water is not reckoned here: only that of crops on the list."',
        phrase("Its stored water is not reckoned here: only that of crops on the list."),
        {},
    ),
    (
        '"no crop of your list: star some, or show others"',
        phrase("no crop of your list: star some, or show others"),
        {},
    ),
    ('"no crop fits: loosen a filter"', phrase("no crop fits: loosen a filter"), {}),
    (
        '` (found by ${[...through].slice(0, 3).join(", ")})`',
        phrase(" (found by {names})"),
        {"names": '${[...through].slice(0, 3).join(", ")}'},
    ),
    (
        "`${shown} of ${place.slots.length} crops${by}`",
        phrase("{shown} of {all} crops{by}"),
        {"shown": "${shown}", "all": "${place.slots.length}", "by": "${by}"},
    ),
    (
        "`${shown} of ${rows().length} crops`",
        phrase("{shown} of {all} crops{by}"),
        {"shown": "${shown}", "all": "${rows().length}", "by": ""},
    ),
    ("`advised: ${words}`", phrase("advised: {words}"), {"words": "${words}"}),
    (
        "`Taken in: ${state.mine.length} crops starred.`",
        phrase("Taken in: {count} crops starred."),
        {"count": "${state.mine.length}"},
    ),
    (
        '"That file holds no saved list of this page; choose one that it saved."',
        phrase("That file holds no saved list of this page; choose one that it saved."),
        {},
    ),
    ('["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]', None, {}),
    ('{ "sown outdoors": "sow outdoors", "set out": "set out", planted: "plant" }', None, {}),
    ('{ className: "kind" }, f.way', None, {}),
    ("row.dataset.name.replaceAll", "row.dataset.said.replaceAll", {}),
    ('localeCompare(inOrder(b), "en")', None, {}),
    ('localeCompare(b.dataset.family, "en")', None, {}),
    ('localeCompare(value(b), "en")', None, {}),
)


def _words_of(source: str) -> str:
    """A piece of the script that holds words or a language: lists of months and jobs, the order of letters."""
    if source.startswith("["):
        return json.dumps([say(month) for month in MONTHS], ensure_ascii=False)
    if source.endswith("f.way"):
        ways = json.dumps({way: say(way) for way in JOB_OF_WAY}, ensure_ascii=False)
        return source.replace("f.way", f"{ways}[f.way]")
    if source.startswith("{"):
        return json.dumps({way: job_words(way) for way in JOB_OF_WAY}, ensure_ascii=False)
    return source.replace('"en"', f'"{spoken()}"')


def in_words(script: str) -> str:
    """The script with its words in the language and the units that are told; in English and SI as it stands."""
    if measured() != "si":
        script = script.replace("} litres; `", f"}} {unit_word('litres')}; `")
    if spoken() == "en":
        return script
    for source, words, fields in _OF_SCRIPT:
        if words is None:
            put = _words_of(source)
        elif source[0] in '"`':
            put = f"{source[0]}{say(words, **fields)}{source[0]}"
        else:
            put = words
        script = script.replace(source, put)
    return script


def digest(text: str) -> str:
    """How the page's policy names the one style or script that may run."""
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


@dataclass(frozen=True)
class StepsTold:
    """Windows under steps of two settings as the page's script reads them, in a year that begins with one month."""

    reliabilities: tuple[float, ...]
    least_yields: tuple[float, ...]
    ways: dict[str, str]  # by crop: JSON of its ways, each under every step


def _step(way: WaySteps, cells: Cells) -> list[Any]:
    """One way under every step, for the script: heights of its ribbon by cell, and spans as days of the year."""
    heights = []
    for reliability, possible in zip(way.reliability, way.possible, strict=True):
        days = {d for span in possible for d in span_days(*span)}
        there = zip(cells.mean(reliability), cells.holding(days, set()), strict=True)
        tall = [round(min(float(v), 1.0) * 11) if s and np.isfinite(v) else 0 for v, s in there]
        heights.append("".join("0123456789AB"[v] for v in tall))
    return [way.way, heights, way.possible, way.windows, way.fortnights]


def _json(value: Any) -> str:
    return json.dumps(value, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def _object(values: Mapping[str, str]) -> str:
    """JSON of an object whose values are JSON already, in the order of its keys."""
    return "{" + ",".join(f"{_json(key)}:{values[key]}" for key in sorted(values)) + "}"


def steps_told(steps: SettingsSteps, start_month: int) -> StepsTold:
    """Windows under every step in the weeks of a year that begins with a month, 1 to 12."""
    cells = weeks(start_month)
    ways: dict[str, list[Any]] = {}
    for way in steps.ways:
        ways.setdefault(way.crop, []).append(_step(way, cells))
    told = {crop: _json(found) for crop, found in ways.items()}
    return StepsTold(steps.reliabilities, steps.least_yields, told)


def steps_for_page(start_month: int) -> Telling[StepsTold]:
    """How windows under steps are told on a page, so that what is told of them can be kept."""
    name = f"on a page, the year from month {start_month}"
    return Telling(name, lambda steps: steps_told(steps, start_month), kinds_of([StepsTold]))


def jobs_data(week: Week | None) -> list[list[str]]:
    """Crop, name in the log, and words of each job of a week."""
    return [] if week is None else [[j.crop, EVENT_OF_JOB[j.job], job_line(j)] for j in week.jobs]


def water_data(steps: StepsTold | None, water: Sequence[StepsTold]) -> list[str]:
    """JSON of the windows under every step, for each most of stored water; 1 stands for what is as with more water.

    Parameters
    ----------
    steps : StepsTold or None
        With what water there is.
    water : sequence of StepsTold
        From much to little.
    """
    told = [{} if steps is None else steps.ways, *(less.ways for less in water)]
    return [
        _object({crop: "1" if ways == before.get(crop) else ways for crop, ways in now.items()})
        for before, now in pairwise(told)
    ]


def _packed(text: str) -> str:
    """A text as small as it gets, in letters."""
    plain = text.encode("utf-8")
    return remembered("packed", [plain], lambda: base64.b64encode(zlib.compress(plain, 9)).decode("ascii"), dict)


def page_data(
    places: Sequence[Place],
    issued: dt.date,
    asked: tuple[float, float],
    mine: Sequence[str],
    names: Mapping[str, Sequence[str]],
    served: Sequence[Sequence[str]] | None,
) -> Html:
    """What the script reckons with, packed: other names of crops, the week's jobs, windows under every step.

    `served` is, where a server stands behind the page, what its log has of this week's jobs: crop, name, whole line.
    """
    told = []
    for place in places:
        steps = {} if place.steps is None else place.steps.ways
        water = ",".join(water_data(place.steps, [less for _, less in place.water]))
        site, jobs = _json(place.chart.site), _json(jobs_data(place.week))
        told.append(_object({"site": site, "jobs": jobs, "steps": _object(steps), "water": f"[{water}]"}))
    own = {crop: [say_crop(crop)] if spoken() != "en" else [] for crop in names}
    called = {crop: _json("|".join((*own[crop], *of))) for crop, of in names.items()}
    packed = _packed(_object({"places": f"[{','.join(told)}]", "names": _object(called)}))
    one = places[0].steps
    at = [one.least_yields.index(asked[1]), one.reliabilities.index(asked[0])] if one else None
    open_ = {
        "issued": issued.isoformat(),
        "sites": [place.chart.site for place in places],
        "week": None if places[0].week is None else places[0].week.start,
        "mine": list(mine),
        "at": at,
        "served": served,
        "packed": packed,
    }
    # a name may hold what would end the element, so that this sign is never written plain
    safe = json.dumps(open_, ensure_ascii=True, sort_keys=True).replace("<", "\\u003c")
    return tag("script", Html(safe), type="application/json", id="data")
