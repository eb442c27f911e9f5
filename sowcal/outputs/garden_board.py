"""The garden on the page: beds to scale under a month that is chosen, and each sowing on the year of its bed.

Markup only says what stands where and when; the script lays it out. Without a script the plan in words is all there is.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sowcal.garden.beds import Placing
from sowcal.garden.plan import GardenPlan
from sowcal.garden.schedule import Sowing, median_span
from sowcal.garden.store import level_spread
from sowcal.languages import counted
from sowcal.outputs.document import Fold, Html, Items, join, page_parts, tag
from sowcal.outputs.garden_document import garden_document, plant_notes
from sowcal.outputs.wording import odds_text
from sowcal.units import amount, converted, told
from sowcal.year import MONTH_LENGTHS, MONTH_NAMES, MONTH_STARTS, MONTHS, day_text

__all__ = ["garden_board", "garden_section"]


def _middles(values: np.ndarray) -> str:
    """A year's values on the middle day of each month, whole, for the script."""
    days = [start + length // 2 for start, length in zip(MONTH_STARTS, MONTH_LENGTHS, strict=True)]
    return " ".join(f"{float(values[day]):.0f}" for day in days)


def _tank(plan: GardenPlan) -> Html | None:
    """The tank's level in the chosen month, middle year and the dry end of eight years in ten."""
    spread = level_spread(plan.store.levels)
    if spread is None or plan.store.capacity <= 0.0:
        return None
    spread, holds = converted(spread, "litres"), converted(plan.store.capacity, "litres")
    return tag(
        "p",
        "Tank in the middle of the month: ",
        tag("b"),
        tag("meter", min="0", max=f"{holds:.0f}", value="0", aria_label="tank, middle year"),
        class_="tank",
        data_usual=_middles(spread[2]),
        data_dry=_middles(spread[1]),
        data_holds=f"{holds:.0f}",
    )


def _stay(placing: Placing, sowing: Sowing, movable: bool) -> Html:
    """One sowing on the year of its bed; where it may be moved, with a handle at its start."""
    start, first, last = median_span(sowing)
    name = sowing.crop.name
    if sowing.stands:
        said = f"{name}: stands all year"
    else:
        odds = "" if np.isnan(sowing.reliability) else f"; works in {odds_text(sowing.reliability)}"
        chosen = "" if sowing.advised else ", not among the advised dates"
        said = (
            f"{sowing.way} {day_text(start)}, picked {day_text(first)} to {day_text(last)}{odds}{chosen}; "
            f"{amount(placing.begin, 'm')} to {told(placing.end, 'm')}"
        )
    handle = None
    if movable and not sowing.stands:
        handle = tag(
            "button",
            type="button",
            class_="handle",
            role="slider",
            aria_label=f"{name}, {sowing.way}",
            aria_valuemin="0",
            aria_valuemax="364",
            aria_valuenow=start,
            aria_valuetext=day_text(start),
            aria_orientation="horizontal",
        )
    return tag(
        "li",
        tag("span", tag("b", counted(placing.count, "plant"), " of ", name), " ", said, class_="told"),
        tag("span", tag("span", class_="bar"), handle, class_="track"),
        class_="stay",
        data_crop=name,
        data_way=sowing.way,
        data_start=start,
        data_first=first,
        data_last=last,
        data_all=sowing.stands,
    )


def _bed(plan: GardenPlan, number: int, movable: bool) -> Html:
    bed = plan.garden.beds[number]
    there = [p for p in plan.beds.placings if p.bed == number]
    there.sort(key=lambda p: (plan.sowings[p.sowing].place_taken[0], p.begin))
    plots = []
    for p in there:
        sowing = plan.sowings[p.sowing]
        start, last = sowing.place_taken
        plots.append(
            tag(
                "span",
                sowing.crop.name,
                class_="plot",
                data_from=start,
                data_to=last,
                data_begin=f"{p.begin:g}",
                data_end=f"{p.end:g}",
                hidden=True,
            )
        )
    rows = [_stay(p, plan.sowings[p.sowing], movable) for p in there]
    title = f"{bed.name}: {amount(bed.length, 'm')} by {told(bed.width, 'm')}"
    stays = tag(
        "details",
        tag("summary", f"The year of {bed.name}, {counted(len(rows), 'sowing')}"),
        tag("span", *[tag("span", m[0]) for m in MONTHS], class_="scale", aria_hidden="true"),
        tag("ul", *rows, class_="stays"),
    )
    return tag(
        "li",
        tag("span", title, class_="name"),
        tag("span", *plots, tag("span", "free", class_="empty", hidden=True), class_="ground"),
        stays if rows else None,
        class_="bed",
        data_length=f"{bed.length:g}",
        data_width=f"{bed.width:g}",
    )


def garden_board(plan: GardenPlan, *, movable: bool = False, said: Sequence[str] = ()) -> Html:
    """Beds to scale, a month to choose, the tank in it, and what to mind.

    Parameters
    ----------
    plan : GardenPlan
    movable : bool
        Whether sowings can be taken to another week, which needs the engine.
    said : sequence of str
        What came of the last change.
    """
    month = tag(
        "label",
        "Month: ",
        tag("b", MONTH_NAMES[4]),
        tag("input", type="range", min="0", max="11", step="1", value="4", aria_valuetext=MONTH_NAMES[4]),
        class_="month",
    )
    how = (
        "Drag the start of a sowing to another week, or step it by week with the arrow keys and press Enter: the whole "
        "garden is planned anew, and kept in its file."
    )
    left = [f"{line.crop}: {line.why}" for line in plan.left_out]
    minded = tuple(text[:1].upper() + text[1:] for text in (*plan.rotation, *plant_notes(plan), *left))
    return tag(
        "div",
        tag("h3", "Beds to scale"),
        tag("div", *[tag("p", line) for line in said], class_="answer", role="status"),
        month,
        _tank(plan),
        tag("ol", *[_bed(plan, number, movable) for number in range(len(plan.garden.beds))], class_="beds"),
        tag("p", how, class_="small") if movable else None,
        page_parts((Fold(f"What to mind in this plan ({len(minded)})", (Items(minded),)),)) if minded else None,
        class_="board",
        hidden=True,
    )


def garden_section(plan: GardenPlan, start_month: int, *, movable: bool = False, tools: Html | None = None) -> Html:
    """The garden as a section of the page: the board, what the served page can do with it, and the plan in words."""
    told = garden_document(plan, start_month)
    return tag(
        "section",
        tag("h2", told.title),
        join(garden_board(plan, movable=movable), tools),
        tag("div", page_parts(told.parts, "garden"), class_="told-garden"),
        id="garden",
        aria_label=told.title,
    )
