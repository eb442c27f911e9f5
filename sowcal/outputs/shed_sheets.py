"""Sheets of the garden for the shed: beds by month, jobs by week, lists, and what changes would do before any money."""

from __future__ import annotations

import math
import re
import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.garden.diary import purchase_words, weeks_of_diary
from sowcal.garden.plan import GardenPlan
from sowcal.garden.quantities import kind_words, tree_words, volume_words
from sowcal.languages import say
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
from sowcal.units import amount, converted, told, unit_word
from sowcal.year import MONTH_STARTS, MONTHS, date_text

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["shed_figures"]

_BEDS_A_PAGE = 5
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
    lower.set_xlim(0, 1.12 * max(1, *(c.dry_year_loads for c in plan.choices), *(c.loads for c in plan.choices)))
    lower.set_title("deliveries a year, each of the tanks that it names", loc="left", size=9.5)
    lower.xaxis.get_major_locator().set_params(integer=True)
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
    for first in range(0, len(plan.garden.beds), _BEDS_A_PAGE):
        numbers = range(first, min(first + _BEDS_A_PAGE, len(plan.garden.beds)))
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
        begin, length = (start - turn) % 365, (last - start) % 365 + 1
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
    lines: list[tuple[str, bool]] = []
    for monday, said in weeks_of_diary(plan.diary):
        block = [(f"Week of {date_text(monday)}", True)]
        for text in said:
            block += _wrapped(_held_together(plan, text), _COLUMN, "\u25a1 ")
        room = _LINES - len(lines) % _LINES
        if len(block) > room and len(block) <= _LINES:  # a week is not torn apart
            lines += [("", False)] * room
        lines += block
    return _flowed(plan, "jobs by week", lines, 2)


def _list_pages(plan: GardenPlan) -> list[Figure]:
    lines: list[tuple[str, bool]] = []

    def part(title: str, texts: list[str]) -> None:
        if texts:
            lines.append((title, True))
            for text in texts:
                lines.extend(_wrapped(text, _PAGE))
            lines.append(("", False))

    part("Watering", _sheet_lines(plan) + sheet_notes(plan) + load_notes(plan))
    part("Pressure", gravity_notes(plan))
    part("Time", hand_notes(plan))
    part("On the soil", volume_words(plan.garden) + kind_words(plan.garden) + tree_words(plan.garden))
    part("Reaching over", list(map(sentence, plan.neighbours)))
    part("Between the rows", between_notes(plan))
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
            out.append(f"{beds[move.bed].name} ({', '.join(move.families[0]) or 'free'}): {years}")
    return out
