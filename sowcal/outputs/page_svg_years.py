"""Drawings of the page with a line for each year: first pickings, and the span free of frost."""

from __future__ import annotations

import math
from collections.abc import Sequence

from sowcal.climate.frost_years import FrostYear
from sowcal.outputs.days import MONTH_STARTS, YEAR
from sowcal.outputs.page_html import Html, join, tag
from sowcal.outputs.page_svg import months_axis

__all__ = ["frost_free_picture", "pickings_picture", "years_axis"]

_LEFT, _RIGHT, _TOP = 34, 354, 6
_HIGH = 92  # of all years together; a longer record has thinner lines
_TALL = 148  # of the span free of frost, which stands beside the other pictures of a place
_BELOW = 22  # for the letters of the months


def _x(day: float, start_month: int) -> float:
    return round(_LEFT + (day - MONTH_STARTS[start_month - 1]) % YEAR / YEAR * (_RIGHT - _LEFT), 1)


def _rows(years: Sequence[int], high: float = _HIGH) -> tuple[dict[int, float], float]:
    """Height of the middle of each year's line, the first on top, and how far lines stand apart."""
    first, last = min(years), max(years)
    step = high / (last - first + 1)
    if high == _HIGH and step >= 2:
        step = math.floor(2 * step) / 2  # such steps are told in fewer letters, and there are many such drawings
    return {y: _TOP + 1 + (y - first + 0.5) * step for y in range(first, last + 1)}, step


def _labels(rows: dict[int, float]) -> Html:
    """The first and the last year, and the tens between where they leave room."""
    years = sorted(rows)
    ends = {years[0], years[-1]}
    tens = {y for y in years if y % 10 == 0 and all(abs(rows[y] - rows[e]) > 12 for e in ends)}
    return join(*[tag("text", y, x=_LEFT - 4, y=f"{rows[y] + 3.5:.0f}", class_="end") for y in sorted(ends | tens)])


def _frame(start_month: int, *parts: Html, words: str) -> Html:
    axis = tag("use", href=f"#years-{start_month}")
    return tag("svg", axis, *parts, viewBox=f"0 0 360 {_TOP + _HIGH + _BELOW}", role="img", aria_label=words)


def years_axis(start_month: int) -> Html:
    """The months that every drawing here shows, drawn once for the page."""
    axis = months_axis(start_month, _LEFT, _RIGHT - _LEFT, _TOP + _HIGH, _TOP)
    drawn = tag("defs", tag("g", axis, id=f"years-{start_month}"))
    return tag("svg", drawn, class_="store", aria_hidden="true", width="0", height="0")


def _dots(places: Sequence[tuple[float, float]]) -> str:
    """Points as strokes without length, each told by how far it lies from the one before: thousands of them add up."""
    out, x, y = "", 0.0, 0.0
    for a, b in places:
        out += f"m{a - x:g} {b - y:.4g}h0" if out else f"M{a:g} {b:.3g}h0"
        x, y = a, b
    return out


def pickings_picture(
    windows: Sequence[tuple[str, Sequence[tuple[int, int | None]]]], start_month: int, words: str
) -> Html | None:
    """A dot a year where picking begins; a year that fails has none. None where no year is known.

    Parameters
    ----------
    windows : sequence of (way, ((year, day of the year or None), ...))
    start_month : int
        Month, 1 to 12, with which the year is drawn to begin.
    words : str
        What it shows, for those who do not see it.
    """
    years = [year for _, pickings in windows for year, _ in pickings]
    if not years:
        return None
    rows, _ = _rows(years)
    by_way: dict[str, list[tuple[float, float]]] = {}
    for way, pickings in windows:
        places = [(float(round(_x(day + 0.5, start_month))), rows[year]) for year, day in pickings if day is not None]
        by_way.setdefault(way.split()[0], []).extend(places)
    drawn = [tag("path", d=_dots(places), class_=f"dot {way}") for way, places in by_way.items() if places]
    return _frame(start_month, _labels(rows), *drawn, words=words)


def frost_free_picture(years: Sequence[FrostYear], south: bool, start_month: int, words: str) -> Html | None:
    """A bar a year from the last spring frost to the first autumn frost; None where no year is known.

    Parameters
    ----------
    years : sequence of FrostYear
    south : bool
        Whether midwinter, at which a span without frost begins and ends, is in July.
    start_month : int
    words : str
    """
    if not years:
        return None
    rows, step = _rows([y.year for y in years], _TALL)
    path = ""
    for year in years:
        first, last = year.span(south)
        left, right = _x(first, start_month), _x(last, start_month) + (_RIGHT - _LEFT) / YEAR
        pieces = [(left, right)] if left < right else [(left, _RIGHT), (_LEFT, right)]
        path += "".join(f"M{a:g} {rows[year.year]:.4g}H{b:.1f}" for a, b in pieces)
    # the width of a line belongs to the drawing, not to the style sheet: it follows the length of the record
    bars = tag("path", d=path, class_="free", stroke_width=f"{min(0.72 * step, 8):.1f}")
    axis = months_axis(start_month, _LEFT, _RIGHT - _LEFT, _TOP + _TALL, _TOP)
    box = f"0 0 360 {_TOP + _TALL + _BELOW}"
    return tag("svg", axis, _labels(rows), bars, viewBox=box, role="img", aria_label=words)
