"""Drawings of a garden's water on the page: the tank level with its spread, and what the beds draw by week."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sowcal.outputs.days import MONTH_LENGTHS, YEAR
from sowcal.outputs.page_html import Html, join, tag
from sowcal.outputs.page_svg import line_path, months_axis

__all__ = ["drawn_picture", "level_picture"]

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
