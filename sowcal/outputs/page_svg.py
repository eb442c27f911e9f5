"""Pieces of the page: tags that escape, and pictures drawn as SVG."""

from __future__ import annotations

import html
import math
from collections.abc import Callable, Sequence
from itertools import groupby
from typing import Any

import numpy as np

from sowcal.climate.frost import FrostYear
from sowcal.languages import say
from sowcal.outputs.figure_style import Cells, Ribbon
from sowcal.outputs.terminal import plain
from sowcal.units import converted, measured
from sowcal.year import MONTH_LENGTHS, MONTH_STARTS, MONTHS, YEAR

__all__ = [
    "Html",
    "fortnight_path",
    "frost_free_picture",
    "join",
    "line_path",
    "month_edges",
    "month_heads",
    "months_axis",
    "months_symbol",
    "pickings_picture",
    "rain_picture",
    "reliability_picture",
    "ribbon_key",
    "ribbon_paths",
    "ribbon_picture",
    "tag",
    "temperature_picture",
    "years_axis",
]

_VOID = {"meta", "input", "br", "link"}


class Html(str):
    """Text that is markup already."""

    __slots__ = ()


def _markup(content: object) -> str:
    if isinstance(content, Html):
        return content
    if content is None:
        return ""
    if isinstance(content, (list, tuple)):
        return "".join(map(_markup, content))
    return html.escape(plain(say(content) if isinstance(content, str) else content))


def _attribute(name: str, value: object) -> str:
    if value is None or value is False:
        return ""
    name = name.strip("_").replace("_", "-")
    value = say(value) if name == "aria-label" and isinstance(value, str) else value
    return f" {name}" if value is True else f' {name}="{html.escape(plain(value))}"'


def join(*content: Any) -> Html:
    """Pieces after one another."""
    return Html("".join(map(_markup, content)))


def tag(element: str, *content: Any, **attributes: Any) -> Html:
    """One element.

    Parameters
    ----------
    element : str
        Name of the element.
    *content : Html, text, numbers or sequences of them
        Anything but `Html` is escaped, control characters shown as escapes; None is nothing.
    **attributes : text, numbers or bool
        `class_` is class, `aria_label` is aria-label; True stands bare, None and False are left out.
    """
    opening = f"<{element}{''.join(_attribute(k, v) for k, v in attributes.items())}>"
    return Html(opening) if element in _VOID else Html(f"{opening}{join(*content)}</{element}>")


_STEP = 4  # days between the points of a line: finer than a line on the page can show
_GROUND, _TALL = 12, 11  # units: where a ribbon stands, and how tall it is where every year works


def month_edges(start_month: int) -> list[int]:
    """Days from the start of the drawn year to the start of each of its months."""
    edges = [0]
    for k in range(11):
        edges.append(edges[-1] + MONTH_LENGTHS[(start_month - 1 + k) % 12])
    return edges


def _outline(edges: Sequence[float], heights: Sequence[int], *, about: float | None = None) -> str:
    """Path around steps that stand on the ground or, like a spindle, lie about a middle; '' where there are none."""
    steps = [
        (h, [edges[k] for k in cells], [edges[k + 1] for k in cells])
        for h, run in groupby(range(len(heights)), key=heights.__getitem__)
        for cells in [list(run)]
    ]
    out = ""
    for standing, group in groupby(steps, key=lambda step: step[0] > 0):
        if not standing:
            continue
        run = [(h, lefts[0], rights[-1]) for h, lefts, rights in group]
        ground = _GROUND if about is None else about
        out += f"M{run[0][1]:g} {ground:g}"
        out += "".join(f"V{ground - (h if about is None else h / 2):g}H{right:g}" for h, _, right in run)
        if about is not None:
            out += "".join(f"V{ground + h / 2:g}H{left:g}" for h, left, _ in reversed(run))
        out += f"V{ground:g}z"
    return out


def ribbon_paths(ribbon: Ribbon, edges: Sequence[float]) -> Html:
    """One line of a crop as on paper: as tall as the share of years, filled where advised, hollow where possible."""
    kind = ribbon.kind.split()[0]
    tall = [[round(v * _TALL) for v in part.tolist()] for part in ribbon.parts()]
    if kind == "picked":
        paths = {kind: _outline(edges, tall[0], about=_GROUND / 2)}
    elif kind == "under":
        paths = {"standing": _outline(edges, [2 * (v > 0) for v in tall[1]]), kind: _outline(edges, tall[0])}
    else:
        paths = {f"maybe {kind}": _outline(edges, tall[1]), kind: _outline(edges, tall[0])}
    return join(*[tag("path", d=d, class_=f"r {name}") for name, d in paths.items() if d])


def fortnight_path(spans: Sequence[tuple[int, int]], start_month: int) -> str:
    """Brackets over the best fortnights: a bar above the ribbon, a foot at either end; '' where there are none."""
    first, out = MONTH_STARTS[start_month - 1], ""
    for start, end in spans:
        a, b = (start - first) % YEAR, (end - first) % YEAR + 1
        out += f"M{a:g} 0V-3H{b:g}V0" if a < b else f"M{a:g} 0V-3H{YEAR}M0 -3H{b:g}V0"
    return out


def ribbon_picture(ribbon: Ribbon, cells: Cells, best: Sequence[tuple[int, int]] = ()) -> Html:
    """One line of a crop over the year, 365 units wide; `best` are first and last days to be marked."""
    months = tag("use", href=f"#lines-{cells.start_month}")
    drawn = ribbon_paths(ribbon, cells.edges)
    mark = fortnight_path(best, cells.start_month)
    return tag(
        "svg",
        months,
        drawn,
        tag("path", d=mark, class_="best") if mark else None,
        viewBox=f"0 -4 365 {_GROUND + 4}",
        preserveAspectRatio="none",
    )


def month_heads(start_month: int) -> Html:
    """Names of the months over the rows of a chart; a narrow screen shows their first letters."""
    order = [(start_month - 1 + k) % 12 for k in range(12)]
    said = [say(MONTHS[m]) for m in order]
    names = [tag("span", month[0], tag("span", month[1:], class_="rest")) for month in said]
    return tag("div", tag("div", *names, class_="months"), class_="heads", aria_hidden="true")


def ribbon_key(asked: str) -> Html:
    """What the ribbons mean, for the odds asked for in words."""
    steps, edges = np.array([0.6, 0.8, 1.0, 0.8]), [1.0, 8.0, 15.0, 22.0, 29.0]

    def key(words: str, kind: str, advised: list[bool]) -> Html:
        drawn = ribbon_paths(Ribbon(kind, steps, np.array(advised)), edges)
        return tag("li", tag("svg", drawn, viewBox="0 0 30 12", aria_hidden="true"), words)

    return join(
        tag("p", "The taller a ribbon, the more years it works; full height is every year."),
        tag(
            "ul",
            key(say("advised: {asked} or better", asked=asked), "set out", [True] * 4),
            key(say("works, less often or poorer"), "set out", [False] * 4),
            key(say("under cover: sown, then seedlings stand there (line)"), "under cover", [True, True, False, False]),
            key(say("picked"), "picked", [True] * 4),
            tag(
                "li",
                tag("svg", tag("path", d="M2 9V4H28V9", class_="best"), viewBox="0 0 30 12", aria_hidden="true"),
                "the best fortnight",
            ),
            class_="legend",
        ),
    )


def months_axis(start_month: int, left: float, width: float, bottom: float, top: float) -> Html:
    """Month lines and the first letters of the months, so many units wide."""
    edges = month_edges(start_month)
    out = []
    for k, edge in enumerate(edges):
        x = left + edge / YEAR * width
        middle = x + MONTH_LENGTHS[(start_month - 1 + k) % 12] / YEAR * width / 2
        out.append(tag("path", d=f"M{x:.1f} {top}V{bottom}", class_="grid"))
        out.append(
            tag("text", say(MONTHS[(start_month - 1 + k) % 12])[0], x=f"{middle:.1f}", y=bottom + 13, class_="mid")
        )
    return join(*out)


def line_path(points: Sequence[tuple[float, float] | None]) -> str:
    """A line through the points that are known, without those that lie level between two others."""
    out, pen, before = [], False, None
    for k, point in enumerate(points):
        if point is None:
            pen = False
            continue
        after = points[k + 1] if k + 1 < len(points) else None
        level = pen and before and after and before[1] == point[1] == after[1]
        if not level:
            out.append(f"{'L' if pen else 'M'}{point[0]:.4g} {point[1]:.4g}")
        pen, before = True, point
    return "".join(out)


def reliability_picture(ways: Sequence[tuple[str, np.ndarray]], asked: float, start_month: int, words: str) -> Html:
    """Share of years that succeed by start day, one line a way.

    Parameters
    ----------
    ways : sequence of (way, (365,) shares)
    asked : float
        Reliability asked for, drawn as a line across.
    start_month : int
    words : str
        What it shows, for those who do not see it.
    """
    left, width, top, high = 34, 320, 6, 88
    first = sum(MONTH_LENGTHS[: start_month - 1])

    def y(share: float) -> float:
        return round(top + (1 - min(share, 1.0)) * high, 1)

    parts = [tag("use", href=f"#months-{start_month}")]
    parts.append(tag("path", d=f"M{left} {y(asked)}h{width}", class_="asked"))
    for way, daily in ways:
        days = np.roll(np.asarray(daily, dtype=float), -first).tolist()
        places = [*range(0, YEAR, _STEP), YEAR - 1]
        points = [(left + d / YEAR * width, y(round(days[d], 2))) if math.isfinite(days[d]) else None for d in places]
        parts.append(tag("path", d=line_path(points), class_=f"line {way.split()[0]}"))
    return tag("svg", *parts, viewBox="0 0 360 116", role="img", aria_label=words, class_="reliability")


def months_symbol(start_month: int) -> Html:
    """The axes that every reliability picture shows and the month lines of every ribbon, drawn once."""
    left, width, top, high = 34, 320, 6, 88
    rules = [
        join(
            tag("path", d=f"M{left} {top + (1 - k / 10) * high:.1f}h{width}", class_="grid"),
            tag("text", k, x=left - 5, y=f"{top + (1 - k / 10) * high + 4:.1f}", class_="end"),
        )
        for k in (0, 5, 10)
    ]
    axes = tag("g", *rules, months_axis(start_month, left, width, top + high, top), id=f"months-{start_month}")
    ticks = "".join(f"M{edge} 0V12" for edge in month_edges(start_month)[1:])
    lines = tag("path", d=ticks, class_="tick", id=f"lines-{start_month}")
    return tag("svg", tag("defs", axes, lines), class_="store", aria_hidden="true", width="0", height="0")


def _scale(low: float, high: float, bottom: float, top: float) -> Callable[[float], float]:
    return lambda v: round(bottom - (v - low) / (high - low) * (bottom - top), 1)


def _rules(values: Sequence[float], y: Callable[[float], float], left: float, right: float) -> list[Html]:
    return [
        join(
            tag("path", d=f"M{left} {y(v)}H{right}", class_="grid"),
            tag("text", f"{v:.0f}", x=left - 5, y=y(v) + 4, class_="end"),
        )
        for v in values
    ]


def _ordered(values: Sequence[float | None], start_month: int) -> list[float]:
    turned = [values[(start_month - 1 + k) % 12] for k in range(12)]
    return [math.nan if v is None else float(v) for v in turned]


_STEPS = {"°C": {"si": 10, "us": 20}, "mm": {"si": 50, "us": 2}}  # between the lines of a picture


def _told(values: Sequence[float | None], unit: str, start_month: int) -> list[float]:
    """Twelve months in the units that are told."""
    return [converted(v, unit) for v in _ordered(values, start_month)]


_LEFT, _RIGHT, _TOP, _BOTTOM = 34, 354, 10, 158


def _month_middles(start_month: int) -> list[float]:
    return [
        _LEFT + (e + MONTH_LENGTHS[(start_month - 1 + k) % 12] / 2) / YEAR * (_RIGHT - _LEFT)
        for k, e in enumerate(month_edges(start_month))
    ]


def _frame(start_month: int, *parts: Html, words: str) -> Html:
    axis = months_axis(start_month, _LEFT, _RIGHT - _LEFT, _BOTTOM, _TOP)
    return tag("svg", axis, *parts, viewBox="0 0 360 176", role="img", aria_label=words)


def _side(k: int, n: int) -> tuple[float, float, str]:
    """Shift from the month's middle, width and class of the k-th of n bars that share a month."""
    width = 15.0 if n == 1 else 10.0
    return (k - (n - 1) / 2) * (width + 1), width, "" if k == 0 else " second"


def temperature_picture(
    places: Sequence[tuple[Sequence[float | None], Sequence[float | None]]], start_month: int, words: str
) -> Html | None:
    """Mean daily minimum to maximum of each month of one place or two, degC; None where not known.

    Parameters
    ----------
    places : sequence of (12 minima, 12 maxima)
    start_month : int
    words : str
        What it shows, for those who do not see it.
    """
    ordered = [tuple(_told(values, "°C", start_month) for values in pair) for pair in places]
    every = [v for pair in ordered for values in pair for v in values]
    if not all(map(math.isfinite, every)):
        return None
    cold, hot, room, step = (
        converted(0.0, "°C"),
        converted(30.0, "°C"),
        converted(4, "°C apart"),
        _STEPS["°C"][measured()],
    )
    least = step * math.floor((min(*every, cold) - room) / step)
    most = step * math.ceil((max(*every, hot) + room) / step)
    y = _scale(least, most, _BOTTOM, _TOP)
    bars = []
    for k, (low, high) in enumerate(ordered):
        shift, width, second = _side(k, len(ordered))
        for x, a, b in zip(_month_middles(start_month), low, high, strict=True):
            look = {"width": width, "height": round(y(a) - y(b), 1), "rx": 4, "class_": f"warmth{second}"}
            bars.append(tag("rect", x=f"{x + shift - width / 2:.1f}", y=y(b), **look))
            if len(ordered) == 1:
                bars.append(tag("text", f"{b:.0f}", x=f"{x:.1f}", y=y(b) - 4, class_="mid strong"))
                bars.append(tag("text", f"{a:.0f}", x=f"{x:.1f}", y=y(a) + 12, class_="mid strong"))
    lines = [tag("path", d=f"M{_LEFT} {y(v)}H{_RIGHT}", class_=name) for v, name in ((cold, "frost"), (hot, "hot"))]
    rules = _rules(range(least, most + 1, step), y, _LEFT, _RIGHT)
    return _frame(start_month, *rules, *lines, *bars, words=words)


def rain_picture(
    rains: Sequence[Sequence[float | None]], needs: Sequence[Sequence[float | None]], start_month: int, words: str
) -> Html | None:
    """Rain as bars and reference evapotranspiration as dashes over them, mm a month; None where not known."""
    falls = [_told(r, "mm", start_month) for r in rains]
    drinks = [_told(n, "mm", start_month) for n in needs]
    every = [v for values in (*falls, *drinks) for v in values]
    if not all(map(math.isfinite, every)):
        return None
    step = _STEPS["mm"][measured()]
    top = step * max(1, math.ceil(max(every) / step))
    y = _scale(0, top, _BOTTOM, _TOP)
    bars, dashes = [], ""
    for k, values in enumerate(falls):
        shift, width, second = _side(k, len(falls))
        for x, v in zip(_month_middles(start_month), values, strict=True):
            look = {"width": width, "height": round(_BOTTOM - y(v), 1), "class_": f"rain{second}"}
            bars.append(tag("rect", x=f"{x + shift - width / 2:.1f}", y=y(v), **look))
    for k, values in enumerate(drinks):
        shift, width, _ = _side(k, len(drinks))
        dashes += "".join(
            f"M{x + shift - width / 2:.1f} {y(v)}h{width}"
            for x, v in zip(_month_middles(start_month), values, strict=True)
        )
    rules = _rules(range(0, top + 1, step), y, _LEFT, _RIGHT)
    return _frame(start_month, *rules, *bars, tag("path", d=dashes, class_="need"), words=words)


_YEARS_LEFT, _YEARS_RIGHT, _YEARS_TOP = 34, 354, 6
_HIGH = 92  # of all years together; a longer record has thinner lines
_YEARS_TALL = 148  # of the span free of frost, which stands beside the other pictures of a place
_BELOW = 22  # for the letters of the months


def _x(day: float, start_month: int) -> float:
    return round(_YEARS_LEFT + (day - MONTH_STARTS[start_month - 1]) % YEAR / YEAR * (_YEARS_RIGHT - _YEARS_LEFT), 1)


def _rows(years: Sequence[int], high: float = _HIGH) -> tuple[dict[int, float], float]:
    """Height of the middle of each year's line, the first on top, and how far lines stand apart."""
    first, last = min(years), max(years)
    step = high / (last - first + 1)
    if high == _HIGH and step >= 2:
        step = math.floor(2 * step) / 2  # such steps are told in fewer letters, and there are many such drawings
    return {y: _YEARS_TOP + 1 + (y - first + 0.5) * step for y in range(first, last + 1)}, step


def _labels(rows: dict[int, float]) -> Html:
    """The first and the last year, and the tens between where they leave room."""
    years = sorted(rows)
    ends = {years[0], years[-1]}
    tens = {y for y in years if y % 10 == 0 and all(abs(rows[y] - rows[e]) > 12 for e in ends)}
    at = {y: f"{rows[y] + 3.5:.0f}" for y in sorted(ends | tens)}
    return join(*[tag("text", y, x=_YEARS_LEFT - 4, y=row, class_="end") for y, row in at.items()])


def _years_frame(start_month: int, *parts: Html, words: str) -> Html:
    axis = tag("use", href=f"#years-{start_month}")
    return tag("svg", axis, *parts, viewBox=f"0 0 360 {_YEARS_TOP + _HIGH + _BELOW}", role="img", aria_label=words)


def years_axis(start_month: int) -> Html:
    """The months that every drawing here shows, drawn once for the page."""
    axis = months_axis(start_month, _YEARS_LEFT, _YEARS_RIGHT - _YEARS_LEFT, _YEARS_TOP + _HIGH, _YEARS_TOP)
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
    return _years_frame(start_month, _labels(rows), *drawn, words=words)


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
    rows, step = _rows([y.year for y in years], _YEARS_TALL)
    path = ""
    for year in years:
        first, last = year.span(south)
        left, right = _x(first, start_month), _x(last, start_month) + (_YEARS_RIGHT - _YEARS_LEFT) / YEAR
        pieces = [(left, right)] if left < right else [(left, _YEARS_RIGHT), (_YEARS_LEFT, right)]
        path += "".join(f"M{a:g} {rows[year.year]:.4g}H{b:.1f}" for a, b in pieces)
    # the width of a line belongs to the drawing, not to the style sheet: it follows the length of the record
    bars = tag("path", d=path, class_="free", stroke_width=f"{min(0.72 * step, 8):.1f}")
    axis = months_axis(start_month, _YEARS_LEFT, _YEARS_RIGHT - _YEARS_LEFT, _YEARS_TOP + _YEARS_TALL, _YEARS_TOP)
    box = f"0 0 360 {_YEARS_TOP + _YEARS_TALL + _BELOW}"
    return tag("svg", axis, _labels(rows), bars, viewBox=box, role="img", aria_label=words)
