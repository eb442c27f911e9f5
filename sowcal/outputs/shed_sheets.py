"""The garden for the shed: beds by month, jobs and purchases in words, lists, and what changes would do."""

from __future__ import annotations

import datetime as dt
import math
import re
import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.garden.beds import Move
from sowcal.garden.diary import IN_TEN, JOBS, STARTS, TENDING, TRAY, Job, Purchase
from sowcal.garden.plan import GardenPlan
from sowcal.garden.quantities import kind_words, tree_words, volume_words
from sowcal.languages import counted, say
from sowcal.outputs.figure_garden import (
    between_notes,
    gravity_notes,
    hand_notes,
    keeping_notes,
    load_notes,
    minutes_text,
    month_axis,
    sheet_notes,
)
from sowcal.outputs.figure_style import A4, FAINT, INK, STYLE, new_figure, shown
from sowcal.outputs.wording import NO_PROMISE, sentence, told_litres
from sowcal.units import amount, converted, told, told_together, unit_word
from sowcal.year import MONTH_STARTS, MONTHS, date_text

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = [
    "BRACKETS",
    "families_text",
    "job_words",
    "looking_words",
    "months_of_diary",
    "purchase_words",
    "shed_figures",
    "weeks_of_diary",
]

_BEDS_A_PAGE = 5
BRACKETS = f"Dates in brackets hold{IN_TEN}."
_FAMILY_COLOURS = (
    "#cfe3c4", "#f6d9a8", "#c6dcf2", "#efc9d5", "#e9e6a8", "#c2e6e2", "#d9cdf0", "#e3c7ae", "#d5d9de", "#f7c3b0",
    "#b9cfa9", "#b5c2e6",
)  # fmt: skip
_HELD = "\u00a0"
_LINES = 70  # of a page of text
_COLUMN, _PAGE = 62, 120  # letters of a line, in two columns and across the page


def shed_figures(plan: GardenPlan) -> list[Figure]:
    """Sheets for the shed: beds by month, jobs by week, shopping, watering, rotation and cautions.

    Parameters
    ----------
    plan : GardenPlan

    Returns
    -------
    list of matplotlib.figure.Figure
        A4, upright; none without beds.
    """
    import matplotlib

    if not plan.garden.beds:
        return []
    with matplotlib.rc_context(STYLE):
        return [*_choice_pages(plan), *_bed_pages(plan), *_job_pages(plan), *_list_pages(plan)]


def _sheet_page(plan: GardenPlan, title: str) -> Figure:
    figure = new_figure(A4)
    figure.text(0.06, 0.962, shown(f"{plan.garden.name}: {title}")[:95], size=13, weight="bold")
    figure.text(0.06, 0.022, shown(f"{NO_PROMISE} {plan.made_by.short()}")[:150], size=6.5)
    return figure


_LABELLED = 25  # days of a block's part over New Year that is named too
_WATER, _CALLS = "#3f6e9e", "#c9682b"


def _choice_pages(plan: GardenPlan) -> list[Figure]:
    """Minutes of carrying and deliveries, as the garden is and with each change."""
    if not plan.choices:
        return []
    figure = _sheet_page(plan, "before any money")
    figure.text(0.06, 0.935, "What each change would do, one at a time; water comes first.", size=9)
    names = [textwrap.fill(shown(say(c.change)), 34) for c in plan.choices]
    rows = np.arange(len(names))
    upper, lower = figure.subplots(2, 1)
    figure.subplots_adjust(left=0.36, right=0.93, top=0.885, bottom=0.08, hspace=0.22)
    upper.barh(rows, [c.minutes for c in plan.choices], color=_WATER, height=0.6)
    upper.set_xlim(0, 1.12 * max(1.0, *(c.minutes for c in plan.choices)))
    upper.set_title("minutes a day with the can, thirstiest week", loc="left", size=9.5)
    for row, c in enumerate(plan.choices):
        upper.text(c.minutes, row, f" {c.minutes:.0f}", va="center", size=8.5)
    tank = [bool(plan.store.capacity or c.tank) for c in plan.choices]
    for place, colour, figures, label in (
        (-0.2, _CALLS, [c.loads for c in plan.choices], "median year"),
        (0.2, FAINT, [c.dry_year_loads for c in plan.choices], "dry year in ten"),
    ):
        lower.barh(
            rows + place, [n if t else 0 for n, t in zip(figures, tank, strict=True)], 0.36, color=colour, label=label
        )
        for row, (n, t) in enumerate(zip(figures, tank, strict=True)):
            lower.text(n if t else 0, row + place, f" {n}" if t else " no tank", va="center", size=7.5)
    most = max(1, *(c.dry_year_loads for c in plan.choices), *(c.loads for c in plan.choices))
    lower.set_xlim(0, 1.12 * most)
    lower.set_title("deliveries a year, each of the tanks that it names", loc="left", size=9.5)
    lower.set_xticks(range(0, most + 1, math.ceil(most / 8)))
    lower.legend(frameon=False, fontsize=8, loc="lower right")
    for axes in (upper, lower):
        axes.set_yticks(rows, names, size=8)
        axes.invert_yaxis()
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
    return [figure]


def _bed_pages(plan: GardenPlan) -> list[Figure]:
    """Each bed from end to end, month by month from the first of the diary."""
    families = list(dict.fromkeys(plan.sowings[p.sowing].crop.family for p in plan.beds.placings))
    colour = {f: _FAMILY_COLOURS[k % len(_FAMILY_COLOURS)] for k, f in enumerate(families)}
    turn = MONTH_STARTS[plan.begin.month - 1]
    end = "north" if plan.latitude >= 0 else "south"
    pages = []
    used = sorted({p.bed for p in plan.beds.placings})
    for first in range(0, len(used), _BEDS_A_PAGE):
        numbers = used[first : first + _BEDS_A_PAGE]
        figure = _sheet_page(plan, "beds by month")
        figure.text(
            0.06,
            0.946,
            f"{unit_word('metres').capitalize()} from the {end} end, above; blocks stand from start to clearing. What "
            "goes over the right edge stands at the left from the second year on.",
            size=7.5,
        )
        _family_key(figure, colour)
        axes = figure.subplots(_BEDS_A_PAGE, 1, squeeze=False)[:, 0]
        figure.subplots_adjust(left=0.08, right=0.97, top=0.895, bottom=0.06, hspace=0.28)
        for axis, number in zip(axes, numbers, strict=False):
            _bed(axis, plan, number, turn, colour)
        for axis in axes[len(numbers) :]:
            axis.set_visible(False)
        pages.append(figure)
    return pages


def _free_beds(plan: GardenPlan) -> list[str]:
    """Names of the beds in which nothing stands."""
    used = {p.bed for p in plan.beds.placings}
    return [bed.name for number, bed in enumerate(plan.garden.beds) if number not in used]


def _family_key(figure: Figure, colour: dict[str, str]) -> None:
    """Families by their colours, in two lines."""
    from matplotlib.patches import Rectangle

    across = max(math.ceil(len(colour) / 2), 1)
    for k, (family, fill) in enumerate(colour.items()):
        x, y = 0.06 + (k % across) * 0.91 / across, 0.931 - (k // across) * 0.013
        figure.add_artist(Rectangle((x, y), 0.012, 0.008, facecolor=fill, edgecolor=INK, linewidth=0.4))
        figure.text(x + 0.016, y + 0.001, shown(family), size=7)


def _bed(axes: Any, plan: GardenPlan, number: int, turn: int, colour: dict[str, str]) -> None:
    bed = plan.garden.beds[number]
    whole = converted(bed.length, "m")
    axes.set_ylim(whole, 0)
    axes.set_title(shown(f"{bed.name}, {amount(bed.length, 'm')} by {told(bed.width, 'm')}")[:70], loc="left", size=9)
    month_axis(axes, turn)
    axes.tick_params(labelsize=7)
    for start in MONTH_STARTS:
        axes.axvline((start - turn) % 365, color=FAINT, linewidth=0.4, zorder=0)
    for p in (p for p in plan.beds.placings if p.bed == number):
        sowing = plan.sowings[p.sowing]
        start, last = sowing.place_taken
        length = (last - start) % 365 + 1
        begin = 0 if sowing.stands else (start - turn) % 365
        spans = [(begin, min(length, 365 - begin))]
        if begin + length > 365:
            spans.append((0, begin + length - 365))
        top, bottom = converted(p.begin, "m"), converted(p.end, "m")
        for left, days in spans:
            axes.add_patch(_block(left, top, days, bottom - top, colour[sowing.crop.family]))
        longest = max(spans, key=lambda span: span[1])
        for left, days in spans:
            if (left, days) == longest or days >= _LABELLED:
                _label(axes, f"{p.count} {sowing.crop.name}", left, days, top, bottom, whole)


def _block(left: float, top: float, width: float, height: float, colour: str) -> Any:
    from matplotlib.patches import Rectangle

    return Rectangle((left, top), width, height, facecolor=colour, edgecolor=INK, linewidth=0.6)


def _label(axes: Any, text: str, left: float, days: float, top: float, bottom: float, length: float) -> None:
    """What stands there, in as large letters as its block has room for; a very thin block has none."""
    text = shown(text)
    tall = (bottom - top) / length * 120.0  # points of a block's height, of some 120 of a bed
    wide = days / 365.0 * 520.0
    size = min(7.5, 0.85 * tall, wide / (0.6 * max(len(text), 1)))
    if size < 5.5:
        lines = textwrap.wrap(text, max(int(wide / (0.6 * 5.8)), 1))
        if wide < 14.0 or 5.8 * 1.25 * len(lines) > tall:  # beside it, where it has no room within
            beyond = left + days > 300
            place = left - 2 if beyond else left + days + 2
            axes.text(place, (top + bottom) / 2, text, ha="right" if beyond else "left", va="center", size=5.8)
            return
        text, size = "\n".join(lines), 5.8
    axes.text(left + days / 2, (top + bottom) / 2, text, ha="center", va="center", size=size, linespacing=1.05)


def _flowed(plan: GardenPlan, title: str, lines: list[tuple[str, bool]], columns: int) -> list[Figure]:
    """Lines, each with whether it is a heading, over as many pages and columns as they take."""
    pages: list[Figure] = []
    for k, (text, heading) in enumerate(lines):
        place = k % (_LINES * columns)
        if place == 0:
            pages.append(_sheet_page(plan, title))
        column, row = divmod(place, _LINES)
        pages[-1].text(
            0.06 + column * 0.91 / columns,
            0.935 - row * 0.0128,
            shown(text),
            size=7.6 if columns > 1 else 8.0,
            weight="bold" if heading else "normal",
        )
    return pages


def _wrapped(text: str, width: int, lead: str = "- ") -> list[tuple[str, bool]]:
    return [(line, False) for line in textwrap.wrap(text, width, initial_indent=lead, subsequent_indent="   ")]


def _held_together(plan: GardenPlan, text: str) -> str:
    """Names of beds and their metres are not torn apart at the end of a line."""
    for bed in plan.garden.beds:
        text = text.replace(bed.name, bed.name.replace(" ", _HELD))
    return re.sub(r"(\d) (m|kg|litres|ft|lb|gallons)\b", rf"\1{_HELD}\2", text)


def _job_pages(plan: GardenPlan) -> list[Figure]:
    months = [(f"{MONTHS[first.month - 1]} {first.year}", said) for first, said in months_of_diary(plan.diary)]
    weeks = [(BRACKETS, []), *((f"Week of {date_text(monday)}", said) for monday, said in weeks_of_diary(plan.diary))]
    return [*_column_pages(plan, "the year by month", months), *_column_pages(plan, "jobs by week", weeks)]


def _column_pages(plan: GardenPlan, title: str, blocks: list[tuple[str, list[str]]]) -> list[Figure]:
    """Headings with what is to be done, in two columns, each with a box to tick."""
    lines: list[tuple[str, bool]] = []
    for heading, said in blocks:
        block = [(heading, True)]
        for text in said:
            block += _wrapped(_held_together(plan, text), _COLUMN, "\u25a1 ")
        room = _LINES - len(lines) % _LINES
        if len(block) > room and len(block) <= _LINES:  # a week is not torn apart
            lines += [("", False)] * room
        lines += block
    return _flowed(plan, title, lines, 2)


def _list_pages(plan: GardenPlan) -> list[Figure]:
    lines: list[tuple[str, bool]] = []

    def part(title: str, texts: list[str]) -> None:
        if texts:
            lines.append((title, True))
            for text in texts:
                lines.extend(_wrapped(text, _PAGE))
            lines.append(("", False))

    free = _free_beds(plan)
    part("Free all year", [f"{counted(len(free), 'bed')}: {', '.join(free)}"] if free else [])
    part("Watering", _sheet_lines(plan) + sheet_notes(plan) + load_notes(plan))
    part("Pressure", gravity_notes(plan))
    part("Time", hand_notes(plan))
    part("On the soil", volume_words(plan.garden) + kind_words(plan.garden) + tree_words(plan.garden))
    part("Reaching over", list(map(sentence, plan.neighbours)))
    part("Between the rows", between_notes(plan))
    part("To look for", looking_words(plan))
    part("Shopping", [f"{purchase_words(p)}   price ________" for p in plan.shopping])
    part("Keeping", keeping_notes(plan))
    part("Rotation", _rotation_lines(plan) + list(map(sentence, plan.rotation)))
    part("Mind", list(map(say, plan.cautions)))
    return _flowed(plan, "lists", lines, 1)


def _sheet_lines(plan: GardenPlan) -> list[str]:
    """A line a zone and month."""
    out = []
    for r in plan.sheet:
        every = "every day" if r.days_between == 1 else f"every {r.days_between} days"
        turns = f", in {r.turns} turns" if r.turns > 1 else ""
        out.append(
            f"{r.zone}, {MONTHS[r.month - 1]}: {minutes_text(r.minutes)} minutes {every} "
            f"({minutes_text(r.dry_year_minutes)} in a dry year){turns}; {told_litres(r.litres)} a month"
        )
    return out


def _rotation_lines(plan: GardenPlan) -> list[str]:
    beds = plan.garden.beds
    out = []
    for move in plan.moves:
        if len(set(move.takes)) > 1:
            years = ", ".join(f"{plan.begin.year + k} as {beds[s].name} now" for k, s in enumerate(move.takes) if k)
            out.append(f"{beds[move.bed].name} ({families_text(plan, move)}): {years}")
    return out


def families_text(plan: GardenPlan, move: Move) -> str:
    """Families of a bed in the first year of rotation."""
    stays = any(p.bed == move.bed and plan.sowings[p.sowing].stands for p in plan.beds.placings)
    return ", ".join((*move.families[0], *(("perennials",) if stays else ()))) or "free"


def purchase_words(bought: Purchase) -> str:
    """A line of the shopping list."""
    whole = bought.amount >= 100 or f"{bought.amount:.1f}".endswith(".0")
    much = told_together(bought.amount, bought.unit, ",.0f" if whole else ".1f")
    return f"{bought.what}: {much}, by {bought.first.isoformat()}"


def _where(job: Job) -> str:
    if not job.bed:
        return ""
    if job.part is None:
        return f" in {job.bed}"
    return f" in {job.bed}, {amount(job.part[0], 'm')} to {told(job.part[1], 'm')}"


def _much(job: Job) -> str:
    return "" if job.amount is None else told_together(job.amount, job.unit, ",.0f" if job.amount >= 10 else "g")


def job_words(job: Job) -> str:
    """A job as it is told to who does it, without its date."""
    much = _much(job)
    more = f" ({say(job.note)})" if job.note else ""
    if job.job == "buy":
        return f"buy {_bought_words(job)}"
    if job.job in TENDING:
        return f"{_tended_words([job])}{_where(job)}"
    if job.job == "prepare bed":
        return f"prepare {job.bed}: {much}{more}"
    if job.job == "have water brought":
        return f"have {much} of water brought"
    if job.job == "take off mulch":
        return f"take the {job.note} off {job.bed}"
    if job.job == "sow under cover":
        return f"sow under cover: {job.crop}, {much}{more}, for {job.bed}"
    if job.job == "spread compost":
        return f"spread {much} of compost on {job.bed}"
    if job.job == "mulch":
        return f"lay {much} of {job.note} on {job.bed}"
    if job.job == "put up support":
        return f"put up {much} for {job.crop}{_where(job)}"
    if job.job == "first picking":
        return f"first picking: {job.crop}{_where(job)}, some {much} in all{more}"
    if job.job in ("thin", "earth up", "last picking"):
        colon = ":" if job.job == "last picking" else ""
        return f"{job.job}{colon} {job.crop}{_where(job)}{more}"
    if job.job == "clear":
        return f"clear {job.crop}{_where(job)}"
    if job.job in STARTS.values():
        much = much.removesuffix("s").removesuffix(" plant") if job.unit == "plants" else f"{much} of"
        return f"{job.job} {much} {job.crop}{_where(job)}{more}"
    return f"{job.job}{more}"


def _bought_words(job: Job) -> str:
    """A thing that is bought, and what for."""
    much = _much(job)
    if job.unit.endswith(" of seed"):
        return f"seed of {job.crop} for {much.removesuffix(' of seed')}"
    return f"{much} of {job.crop}" if job.crop else f"{much} for {job.bed}"


def _tended_words(jobs: list[Job]) -> str:
    """What is done in a round of a bed: alike things together."""
    out = []
    fed = [j for j in jobs if j.job == "feed"]
    if fed:
        much = max(round(sum(j.amount or 0.0 for j in fed)), 1)
        hungry = ", ".join(dict.fromkeys(j.crop for j in fed))
        out.append(f"feed {hungry} with {told(much, 'litre' if much == 1 else 'litres', '.0f')} of compost")
    alike: dict[str, list[str]] = {}
    for j in jobs:
        if j.job == "tie in":
            alike.setdefault(j.note, []).append(j.crop)
        elif j.job == "look for pests":
            alike.setdefault(f"look for {j.note.partition(':')[0]} on", []).append(j.crop)
    for said, crops in alike.items():
        verb, comma, more = said.partition(",")
        out.append(f"{verb} {', '.join(dict.fromkeys(crops))}{comma}{more}")
    return "; ".join(out)


def looking_words(plan: GardenPlan) -> list[str]:
    """What is done about each pest that the diary says to look for, and on what all of it rests."""
    notes = sorted({j.note for j in plan.diary if j.job == "look for pests"})
    if not notes:
        return []
    return [
        *map(sentence, notes),
        "When to feed, tie in and look, and what then, is common practice without a source, but for the feeding of "
        "tomato, maize and pepper (leaflets of the extension services of Kansas and Georgia).",
    ]


def _alike(job: Job) -> tuple[str, ...]:
    """What is told together in a week: things to buy, loads, what is done to several beds, a round of one bed."""
    if job.job in ("buy", "have water brought", "sow under cover"):
        return (job.job,)
    if job.job in ("spread compost", "mulch", "take off mulch"):
        return (job.job, job.note)
    if job.job in TENDING:
        return ("round", job.bed)
    if job.job in ("last picking", "clear"):
        return ("clear", str(job.sowing), job.bed, str(job.part))
    return (job_words(job),)


def _together(jobs: list[Job]) -> str:
    """Several jobs as one line."""
    first = jobs[0]
    if first.job == "buy":
        return f"buy {', '.join(map(_bought_words, jobs))}"
    if first.job in TENDING:
        return f"{first.bed}: {_tended_words(jobs)}"
    if len(jobs) == 1:
        return job_words(first)
    if first.job == "last picking":
        return f"{job_words(first)}, then clear it"
    if first.job == "sow under cover":
        cells = sum(j.amount or 0.0 for j in jobs)
        each = ", ".join(f"{j.amount:.0f} {j.crop} for {j.bed}" for j in jobs)
        return f"sow under cover {cells:.0f} cells, {counted(math.ceil(cells / TRAY), 'tray')} of {TRAY}: {each}"
    if first.job == "take off mulch":
        return f"take the {first.note} off {', '.join(j.bed for j in jobs)}"
    total = sum(j.amount or 0.0 for j in jobs)
    if first.job == "have water brought":
        return f"have {len(jobs)} loads of water brought, {told(total, 'litres', ',.0f')}"
    what = f" of {first.note}" if first.job == "mulch" else ""
    return f"{first.job} on {', '.join(j.bed for j in jobs)}: {told_together(total, first.unit, ',.0f')}{what}"


def weeks_of_diary(diary: tuple[Job, ...]) -> list[tuple[dt.date, list[str]]]:
    """First day of each week with jobs, and their words; what is done alike or to one bed in a round is one job."""
    weeks: dict[dt.date, dict[tuple[str, ...], list[Job]]] = {}
    for job in diary:
        monday = job.date - dt.timedelta(days=job.date.weekday())
        weeks.setdefault(monday, {}).setdefault(_alike(job), []).append(job)
    order = {job: place for place, job in enumerate(JOBS)}
    return [
        (
            monday,
            [_together(jobs).replace(IN_TEN, "") for jobs in sorted(groups.values(), key=lambda g: order[g[0].job])],
        )
        for monday, groups in weeks.items()
    ]


_OF_A_MONTH = {
    "sow under cover": "sow under cover",
    "sow outdoors": "sow outdoors",
    "set out": "set out",
    "plant": "plant",
    "feed": "feed",
    "first picking": "begin to pick",
    "clear": "clear",
}


def months_of_diary(diary: tuple[Job, ...]) -> list[tuple[dt.date, list[str]]]:
    """First day of each month with jobs on crops, and what is done to which of them."""
    months: dict[dt.date, dict[str, list[str]]] = {}
    for job in diary:
        if job.job in _OF_A_MONTH:
            months.setdefault(job.date.replace(day=1), {}).setdefault(job.job, []).append(job.crop)
    return [
        (first, [f"{said} {', '.join(dict.fromkeys(done[job]))}" for job, said in _OF_A_MONTH.items() if job in done])
        for first, done in sorted(months.items())
    ]
