"""Drawings of a garden's water on the page: the tank level with its spread, and what the beds draw by week."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sowcal.garden.plan import GardenPlan
from sowcal.outputs.page_chart import scroll_table
from sowcal.outputs.page_svg import Html, join, line_path, months_axis, tag
from sowcal.outputs.text_garden import (
    bed_lines,
    bed_notes,
    garden_facts,
    gravity_notes,
    hand_notes,
    in_short,
    kilograms,
    litres,
    plant_notes,
    starts_words,
    store_notes,
    water_notes,
)
from sowcal.year import MONTH_LENGTHS, MONTH_STARTS, MONTHS, YEAR, day_text

__all__ = [
    "drawn_picture",
    "garden_section",
    "level_picture",
]

_LEFT, _RIGHT, _TOP, _BOTTOM = 44, 354, 10, 158
_STEP = 3  # days between the points of a line: finer than a line on the page can show
_WEEKS = np.append(np.full(51, 7), 8)  # days of the 52 weeks of a year


def _ceiling(value: float) -> float:
    """The next round figure from a value up: 1, 2, 2.5, 4, 5 or 8 times a power of ten."""
    value = max(value, 1.0)
    power = 10.0 ** np.floor(np.log10(value))
    return float(next(k for k in (1.0, 2.0, 2.5, 4.0, 5.0, 8.0, 10.0) if k * power >= value) * power)


def _turned(daily: np.ndarray, start_month: int) -> np.ndarray:
    return np.roll(daily, -sum(MONTH_LENGTHS[: start_month - 1]), axis=-1)


def _x(day: float) -> float:
    return _LEFT + day / YEAR * (_RIGHT - _LEFT)


def _y(value: float, top: float) -> float:
    return round(_BOTTOM - min(max(value / top, 0.0), 1.0) * (_BOTTOM - _TOP), 1)


def _points(daily: np.ndarray, top: float) -> list[tuple[float, float]]:
    return [(_x(d), _y(float(daily[d]), top)) for d in [*range(0, YEAR, _STEP), YEAR - 1]]


def _band(low: np.ndarray, high: np.ndarray, top: float, look: str) -> Html:
    upper, lower = line_path(_points(high, top)), line_path(_points(low, top)[::-1])
    return tag("path", d=f"{upper}L{lower[1:]}Z", class_=look)


def _frame(top: float, start_month: int, parts: Sequence[Html], words: str) -> Html:
    rules = [
        join(
            tag("path", d=f"M{_LEFT} {_y(v, top)}H{_RIGHT}", class_="grid"),
            tag("text", f"{v:,.0f}", x=_LEFT - 4, y=_y(v, top) + 4, class_="end"),
        )
        for v in (0.0, top / 2, top)
    ]
    axis = months_axis(start_month, _LEFT, _RIGHT - _LEFT, _BOTTOM, _TOP)
    return tag("svg", axis, *rules, *parts, viewBox="0 0 360 176", role="img", aria_label=words)


def level_picture(levels: np.ndarray, capacity: float, start_month: int, words: str) -> Html | None:
    """Water in the store through the year: every year, eight years in ten, and the middle year.

    Parameters
    ----------
    levels : numpy.ndarray
        Litres, shape (years, 365); NaN where not known.
    capacity : float
        Litres; drawn as a line.
    start_month : int
        Month, 1 to 12, with which the year is drawn to begin.
    words : str
        What it shows, for those who do not see it.

    Returns
    -------
    Html or None
        None where there is nothing to draw.
    """
    good = np.isfinite(levels).any(axis=1) if levels.size else np.zeros(0, dtype=bool)
    if not good.any() or capacity <= 0.0:
        return None
    least, low, mid, high, most = (
        _turned(q, start_month) for q in np.nanquantile(levels[good], [0.0, 0.1, 0.5, 0.9, 1.0], axis=0)
    )
    top = _ceiling(capacity)
    parts = [
        _band(least, most, top, "water every"),
        _band(low, high, top, "water"),
        tag("path", d=f"M{_LEFT} {_y(capacity, top)}H{_RIGHT}", class_="asked"),
        tag("path", d=line_path(_points(mid, top)), class_="line sown"),
    ]
    return _frame(top, start_month, parts, words)


def drawn_picture(median: np.ndarray, dry: np.ndarray, start_month: int, words: str) -> Html | None:
    """Litres a day that the beds draw: the middle year filled, the dry year in ten as a line.

    Parameters
    ----------
    median, dry : numpy.ndarray
        Litres a week, shape (52,).
    start_month, words
        As in `level_picture`.
    """
    usual, more = (_turned(np.repeat(w / _WEEKS, _WEEKS), start_month) for w in (median, dry))
    if not more.max(initial=0.0) > 0.0:
        return None
    top = _ceiling(float(more.max()))
    parts = [
        _band(np.zeros(YEAR), usual, top, "drawn"),
        tag("path", d=line_path(_points(more, top)), class_="line set"),
    ]
    return _frame(top, start_month, parts, words)


def _list(notes: Sequence[str], look: str | None = None) -> Html | None:
    return tag("ul", *[tag("li", note) for note in notes], class_=look) if notes else None


def _part(title: str, key: str, *content: Html | None) -> list[Html]:
    found = [c for c in content if c is not None]
    return [tag("h3", title, id=f"garden-{key}"), *found] if found else []


def _table(heads: Sequence[str], rows: Sequence[Html], label: str, look: str) -> Html:
    head = tag("tr", *[tag("th", h, scope="col") for h in heads])
    return scroll_table(tag("table", tag("thead", head), tag("tbody", *rows), class_=look), label)


def _row(first: str, cells: Sequence[str]) -> Html:
    return tag("tr", tag("th", first, scope="row"), *[tag("td", c) for c in cells])


def _plants(plan: GardenPlan) -> Html:
    if not plan.plants:
        return tag("p", "Nothing stands in the beds.")
    rows = [
        _row(
            p.crop,
            [
                f"{p.count}",
                f"{p.will_do}",
                f"{p.area:.1f}",
                kilograms(p.picked),
                f"{p.surplus_share:.0%}",
                litres(plan.by_crop.get(p.crop, 0.0)),
                starts_words(p),
            ],
        )
        for p in plan.plants
    ]
    heads = ("Crop", "Plants", "Will do", "m²", "kg a year", "Left over", "Litres a year", "Started")
    return _table(heads, rows, "Plants of the garden", "numbers plants")


def _beds(plan: GardenPlan) -> Html:
    rows = [
        _row(f"{bed.name} ({bed.area:.0f})", [f"{v:.0f}" for v in used])
        for bed, used in zip(plan.garden.beds, plan.beds.used, strict=True)
    ]
    rows.append(_row("all in use", [f"{v:.0f}" for v in plan.beds.used.sum(axis=0)]))
    rows.append(_row("wished for", [f"{v:.0f}" for v in plan.beds.needed]))
    what = [tag("li", tag("b", f"{bed}: "), stands) for bed, stands in bed_lines(plan)]
    return join(
        _table(("m² in use", *MONTHS), rows, "Beds in use by month", "numbers"),
        tag("details", tag("summary", "What stands in each bed"), tag("ul", *what), class_="fold") if what else None,
    )


def _weeks(plan: GardenPlan) -> Html:
    median, dry = plan.need.week(0.5), plan.need.week(0.9)
    rows = [
        _row(day_text(7 * week), [litres(float(median[week])), litres(float(dry[week]))])
        for week in range(52)
        if dry[week] >= 1.0
    ]
    table = _table(("Week from", "Median year", "Dry year in ten"), rows, "Litres by week", "numbers")
    return tag("details", tag("summary", "Litres by week"), table, class_="fold")


def _figure(picture: Html | None, caption: Html) -> Html | None:
    return None if picture is None else tag("figure", picture, tag("figcaption", caption))


def _water(plan: GardenPlan, start_month: int) -> Html:
    median, dry = plan.need.week(0.5), plan.need.week(0.9)
    week = int(median.argmax())
    said = (
        f"Litres a day that the beds draw through the year: most about {day_text(7 * week + 3)}, in the median year "
        f"{litres(float(median[week]) / 7)} and in the dry year in ten {litres(float(dry[week]) / 7)}."
    )
    key = [tag("span", class_="patch drawn"), "litres a day, median year; ", tag("span", class_="dash")]
    picture = drawn_picture(median, dry, start_month, said)
    return join(
        _figure(picture, join(*key, "dry year in ten")), _list(water_notes(plan)), _weeks(plan) if picture else None
    )


def _store(plan: GardenPlan, start_month: int) -> Html:
    store = plan.store
    capacity = store.capacity
    picture = None
    if plan.need.daily.sum() > 0:
        lows = np.nanquantile(store.levels, 0.5, axis=0) if store.levels.size else np.full(365, capacity)
        middle = [f"{MONTHS[m]} {litres(float(lows[MONTH_STARTS[m]]))}" for m in range(0, 12, 2)]
        said = f"Litres in the store of {litres(capacity)} on the first of the month, median: {', '.join(middle)}."
        picture = level_picture(store.levels, capacity, start_month, said)
    key = [
        tag("span", class_="dash sown"),
        "litres in the store, median; ",
        tag("span", class_="patch water"),
        "8 years in 10; ",
        tag("span", class_="patch water every"),
        "every year",
    ]
    return join(_figure(picture, join(*key)), _list(store_notes(plan)))


def garden_section(plan: GardenPlan, start_month: int = 1) -> Html:
    """The garden as a section of the page, under the id `garden`.

    Parameters
    ----------
    plan : GardenPlan
    start_month : int
        Month, 1 to 12, with which the year is drawn to begin.
    """
    parts = [
        tag("h2", plan.garden.name),
        tag("p", f"On the weather of {plan.site}; {garden_facts(plan)}", class_="where"),
        *[tag("p", f"Mind: {finding.line}.", class_="mind") for finding in plan.record.findings],
        _list(in_short(plan), "lead"),
        *_part("How many plants", "plants", _plants(plan), _list(plant_notes(plan))),
        *_part("Beds by month", "beds", _beds(plan), _list(bed_notes(plan))),
        *_part("Water", "water", _water(plan, start_month)),
        *_part("The store", "store", _store(plan, start_month)),
        *_part("Gravity feed", "gravity", _list(gravity_notes(plan))),
        *_part("By hand or by timer", "hand", _list(hand_notes(plan))),
        *_part("Cautions for the garden", "cautions", _list(plan.cautions)),
    ]
    return tag("section", *parts, id="garden", aria_label=plan.garden.name)
