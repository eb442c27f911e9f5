"""Pictures of the garden plan on the page: water drawn by day, the level of the tank, and what changes would do."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sowcal.garden.plan import GardenPlan
from sowcal.languages import say
from sowcal.outputs.document import Column, Html, Items, Part, Picture, Table, join, tag
from sowcal.outputs.page_svg import (
    line_path,
    months_axis,
)
from sowcal.outputs.wording import litres
from sowcal.units import converted, unit_word
from sowcal.year import MONTH_LENGTHS, YEAR

__all__ = ["choices_parts", "drawn_picture", "level_picture"]

_PLOT_LEFT, _PLOT_RIGHT, _PLOT_TOP, _PLOT_BOTTOM = 44, 354, 10, 158
_STEP = 3  # days between the points of a line: finer than a line on the page can show


def _ceiling(value: float) -> float:
    """The next round figure from a value up: 1, 2, 2.5, 4, 5 or 8 times a power of ten."""
    value = max(value, 1.0)
    power = 10.0 ** np.floor(np.log10(value))
    return float(next(k for k in (1.0, 2.0, 2.5, 4.0, 5.0, 8.0, 10.0) if k * power >= value) * power)


def _turned(daily: np.ndarray, start_month: int) -> np.ndarray:
    return np.roll(daily, -sum(MONTH_LENGTHS[: start_month - 1]), axis=-1)


def _x(day: float) -> float:
    return _PLOT_LEFT + day / YEAR * (_PLOT_RIGHT - _PLOT_LEFT)


def _y(value: float, top: float) -> float:
    return round(_PLOT_BOTTOM - min(max(value / top, 0.0), 1.0) * (_PLOT_BOTTOM - _PLOT_TOP), 1)


def _points(daily: np.ndarray, top: float) -> list[tuple[float, float]]:
    return [(_x(d), _y(float(daily[d]), top)) for d in [*range(0, YEAR, _STEP), YEAR - 1]]


def _band(low: np.ndarray, high: np.ndarray, top: float, look: str) -> Html:
    upper, lower = line_path(_points(high, top)), line_path(_points(low, top)[::-1])
    return tag("path", d=f"{upper}L{lower[1:]}Z", class_=look)


def _frame(top: float, start_month: int, parts: Sequence[Html], words: str) -> Html:
    rules = [
        join(
            tag("path", d=f"M{_PLOT_LEFT} {_y(v, top)}H{_PLOT_RIGHT}", class_="grid"),
            tag("text", f"{v:,.0f}", x=_PLOT_LEFT - 4, y=_y(v, top) + 4, class_="end"),
        )
        for v in (0.0, top / 2, top)
    ]
    axis = months_axis(start_month, _PLOT_LEFT, _PLOT_RIGHT - _PLOT_LEFT, _PLOT_BOTTOM, _PLOT_TOP)
    return tag("svg", axis, *rules, *parts, viewBox="0 0 360 176", role="img", aria_label=words)


def level_picture(spread: np.ndarray | None, capacity: float, start_month: int, words: str) -> Html | None:
    """Water in the store through the year: every year, eight years in ten, and the middle year.

    Parameters
    ----------
    spread : numpy.ndarray or None
        Litres, shape (5, 365), as `sowcal.garden.store.level_spread` gives them.
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
    if spread is None or capacity <= 0.0:
        return None
    spread, capacity = converted(spread, "litres"), converted(capacity, "litres")
    least, low, mid, high, most = _turned(spread, start_month)
    top = _ceiling(capacity)
    parts = [
        _band(least, most, top, "water every"),
        _band(low, high, top, "water"),
        tag("path", d=f"M{_PLOT_LEFT} {_y(capacity, top)}H{_PLOT_RIGHT}", class_="asked"),
        tag("path", d=line_path(_points(mid, top)), class_="line sown"),
    ]
    return _frame(top, start_month, parts, words)


def drawn_picture(median: np.ndarray, dry: np.ndarray, start_month: int, words: str) -> Html | None:
    """Litres a day that the beds draw: the middle year filled, the dry year in ten as a line.

    Parameters
    ----------
    median, dry : numpy.ndarray
        Litres a day through the year, shape (365,).
    start_month, words
        As in `level_picture`.
    """
    usual, more = (_turned(converted(daily, "litres"), start_month) for daily in (median, dry))
    if not more.max(initial=0.0) > 0.0:
        return None
    top = _ceiling(float(more.max()))
    parts = [
        _band(np.zeros(YEAR), usual, top, "drawn"),
        tag("path", d=line_path(_points(more, top)), class_="line set"),
    ]
    return _frame(top, start_month, parts, words)


_ROW = 24  # of a bar and its name above it


def _choices_picture(names: Sequence[str], values: Sequence[float], words: str) -> Html | None:
    """A bar for each change, its name above it and its figure at its end.

    Parameters
    ----------
    names : sequence of str
    values : sequence of float
    words : str
        What it shows, for those who do not see it.
    """
    top = max(values, default=0.0)
    if top <= 0.0:
        return None
    parts = []
    for k, (name, value) in enumerate(zip(names, values, strict=True)):
        y, wide = 4 + k * _ROW, round(value / top * 300.0, 1)
        bar = f"M4 {y + 13}h{wide}v7h-{wide}z"
        parts.append(join(tag("text", name, x=4, y=y + 9), tag("path", d=bar, class_="drawn")))
        parts.append(tag("text", f"{value:.0f}", x=8 + wide, y=y + 20))
    return tag("svg", *parts, viewBox=f"0 0 360 {8 + len(names) * _ROW}", role="img", aria_label=words)


def choices_parts(plan: GardenPlan) -> tuple[Part, ...]:
    """What a tank of each size, mulch, shade and fewer beds would change, with the minutes of carrying water."""
    if not plan.choices:
        return ()
    tank = plan.store.capacity > 0
    columns = (
        Column("before any money"),
        Column(f"{unit_word('litres')} a year", right=True, short=unit_word("litres")),
        Column("minutes a day by can", right=True, short="minutes"),
        Column("dry days", right=True),
        Column("deliveries", right=True),
        Column("in a dry year", right=True, short="dry year"),
    )
    rows = tuple(
        (
            say(c.change),
            litres(c.litres),
            f"{c.minutes:.0f}",
            *((f"{c.days_dry:.0f}", f"{c.loads}", f"{c.dry_year_loads}") if tank or c.tank else ("-", "-", "-")),
        )
        for c in plan.choices
    )
    names = [say(c.change).split(" (")[0] for c in plan.choices]
    said = "Minutes a day with the can in the thirstiest week: " + ", ".join(
        f"{say(c.change)} {c.minutes:.0f}" for c in plan.choices
    )
    picture = Picture(
        lambda: _choices_picture(names, [c.minutes for c in plan.choices], f"{said}."), "minutes a day with the can"
    )
    told = Items(
        (
            "Water comes first: what a row saves is saved every summer. Deliveries are of one tank each, a tenth kept "
            "back. Choose the row before pipes, pumps and tanks are bought.",
        )
    )
    return Table(columns, rows, "What other tanks, mulch, shade and fewer beds would change"), picture, told
