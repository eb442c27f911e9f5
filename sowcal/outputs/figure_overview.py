"""The year of a list of crops on one A4 sheet for the shed wall: a line a crop, best fortnights marked.

Names are set in 15 points where there is room and never below 11: capitals of 15 points stand 4 mm high, which is some
9 minutes of arc at a metre and a half, where a sound eye tells letters of 5 (Snellen; from memory).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sowcal.languages import phrase, say, say_crop
from sowcal.outputs.figure_style import (
    A4,
    FAINT,
    INK,
    KINDS,
    STYLE,
    apart,
    draw_foot,
    first_job,
    heading,
    new_figure,
    shown,
)
from sowcal.outputs.terminal import cut
from sowcal.outputs.wording import NO_PROMISE, family_name, odds_text, record_text, three_words
from sowcal.suitability.results import CropSeasons, SowingChart
from sowcal.year import MONTH_LENGTHS, MONTH_STARTS, MONTHS, YEAR, date_text, day_of_date, span_length

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["LARGEST", "SMALLEST", "overview_figures"]

LARGEST, SMALLEST = 15.0, 11.0  # points of a crop's name
# Inches: tried on paper, common practice.
_MARGIN, _HEAD, _FOOT, _ROW, _NAME = 0.45, 0.98, 0.5, 0.31, 2.45
_BAR, _PICK = 0.125, 0.07  # height of the work, and of the picking below it
_ADVISED = "#efc79f"
_LETTER = 0.0087  # inches that a letter of bold print takes for each of its points

_KEY_LETTER = 0.069  # and one of the key, at 9 points


@dataclass(frozen=True)
class _Sheet:
    chart: SowingChart
    size: tuple[float, float]
    start_month: int
    issued: dt.date | None
    today: dt.date | None

    @property
    def rows(self) -> int:
        """Crops that one sheet holds."""
        return int((self.size[1] - 2 * _MARGIN - _HEAD - _FOOT) / _ROW + 1e-9)

    @property
    def across(self) -> float:
        return self.size[0] - 2 * _MARGIN

    def x(self, day: float) -> float:
        """Inches from the left margin of a day of the year; days from the start of the drawn year on."""
        return _NAME + day / YEAR * (self.across - _NAME)

    def since(self, day: int) -> int:
        return (day - MONTH_STARTS[self.start_month - 1]) % YEAR


def _spans(sheet: _Sheet, start: int, end: int) -> list[tuple[float, float]]:
    """Left edge and width of a span of days, in two pieces where it runs over the end of the drawn year."""
    first, length = sheet.since(start), span_length(start, end)
    pieces = [(first, min(length, YEAR - first))]
    if first + length > YEAR:
        pieces.append((0, first + length - YEAR))
    return [(sheet.x(a), sheet.x(a + n) - sheet.x(a)) for a, n in pieces]


def _picked(line: CropSeasons) -> list[tuple[int, int]]:
    """Spans of days on which the crop is more likely picked than not, when started when advised."""
    import numpy as np

    from sowcal.suitability.windows import runs

    chances = [np.nan_to_num(w.picking) for w in line.starts if w.picking is not None and w.windows]
    if not chances:
        return []
    return [(int(a), int(b)) for a, b in runs(np.maximum.reduce(chances) >= 0.5)]


def _draw_year(axes: Axes, line: CropSeasons, sheet: _Sheet, top: float) -> None:
    """One crop's work above, its picking below; what is best is black, so that no colour is needed."""
    base = top - 0.045 - _BAR

    def bars(spans: Iterable[tuple[float, float]], kind: str, low: float, high: float, **more: Any) -> None:
        look = KINDS[kind]
        style: dict[str, Any] = {"facecolor": look.face, "edgecolor": look.edge, "linewidth": 0.6, **more}
        axes.broken_barh(list(spans), (low, high), **style)

    for way in line.starts:
        for w in way.windows:
            if w.raise_under_cover:
                bars(_spans(sheet, *w.raise_under_cover), "under cover", base, _BAR, hatch="/////", zorder=2)
    for way in line.starts:
        for w in way.windows:
            bars(_spans(sheet, w.start, w.end), "set out", base, _BAR, facecolor=_ADVISED, zorder=3)
        for w in way.possible if not way.windows else ():
            bars(_spans(sheet, w.start, w.end), "set out", base, _BAR, facecolor="white", linestyle=":", zorder=3)
    for way in line.starts:
        for advice in way.advice:
            spans = _spans(sheet, advice.best_start, advice.best_end)
            bars(spans, "sown outdoors", base - 0.015, _BAR + 0.03, facecolor=INK, edgecolor=INK, zorder=4)
    for a, b in _picked(line):
        bars(_spans(sheet, a, b), "picked", base - 0.02 - _PICK, _PICK, hatch=".....", zorder=2)


_LETTERS = {"sown outdoors": phrase("S"), "set out": phrase("O"), "planted": phrase("P")}  # as the key has them
_NEAR = 0.15  # inches: letters nearer than this stand as one word


def _draw_letters(axes: Axes, line: CropSeasons, sheet: _Sheet, top: float) -> None:
    """What is done in each best fortnight, by a letter on it."""
    found: list[tuple[float, str]] = []
    for way in line.starts:
        for advice in way.advice:
            left, wide = max(_spans(sheet, advice.best_start, advice.best_end), key=lambda span: span[1])
            found.append((left + wide / 2, say(_LETTERS.get(way.way, phrase("P")))))
    groups: list[list[tuple[float, str]]] = []
    for x, letter in sorted(found):
        if groups and x - groups[-1][-1][0] < _NEAR:
            groups[-1].append((x, letter))
        else:
            groups.append([(x, letter)])
    for group in groups:
        word = "".join(dict.fromkeys(letter for _, letter in group))
        middle = (group[0][0] + group[-1][0]) / 2
        y = top - 0.045 - _BAR / 2
        axes.text(middle, y, word, fontsize=7.5, weight="bold", color="white", ha="center", va="center", zorder=5)


def _draw_name(axes: Axes, name: str, top: float) -> None:
    """A crop's name as large as its column allows; the type of a long one stands small below it."""
    room = (_NAME - 0.08) / _LETTER
    plain, bracket, kind = name.partition(" (")
    whole = min(LARGEST, room / max(len(name), 1))
    if whole >= SMALLEST or not bracket:
        size = max(whole, SMALLEST)
        axes.text(0, top - _ROW / 2, cut(name, int(room / size)), va="center", fontsize=size, weight="bold")
        return
    size = max(min(_OVER, room / len(plain)), SMALLEST)
    axes.text(0, top - 0.115, cut(plain, int(room / size)), va="center", fontsize=size, weight="bold")
    axes.text(0, top - 0.245, cut(f"({kind}", int(room / _BELOW)), va="center", fontsize=_BELOW)


_OVER, _BELOW = 12.0, 7.5  # points of a name in two lines, and of its type below it


def _draw_row(axes: Axes, line: CropSeasons, sheet: _Sheet, top: float) -> None:
    axes.plot([0, sheet.across], [top - _ROW] * 2, color=FAINT, lw=0.5, zorder=1)
    _draw_name(axes, shown(say_crop(line.crop)), top)
    _draw_year(axes, line, sheet, top)
    _draw_letters(axes, line, sheet, top)


def _grid(axes: Axes, sheet: _Sheet, bottom: float) -> None:
    edge = 0
    for k in range(12):
        month = (sheet.start_month - 1 + k) % 12
        left, right = sheet.x(edge), sheet.x(edge + MONTH_LENGTHS[month])
        if k % 2 == 0:
            axes.fill_between([left, right], bottom, 0, color="#f1f3f1", zorder=0, lw=0)
        axes.text((left + right) / 2, 0.06, say(MONTHS[month]), ha="center", va="bottom", fontsize=11.5, weight="bold")
        edge += MONTH_LENGTHS[month]
    axes.plot([0, sheet.across], [0, 0], color=INK, lw=0.8)
    if sheet.today is not None:
        x = sheet.x(sheet.since(day_of_date(sheet.today)) + 0.5)
        axes.plot([x, x], [bottom, 0.04], color=INK, lw=1.0, ls=(0, (4, 2)), zorder=6)


def _key(axes: Axes, across: float) -> None:
    """What the bars mean, drawn as they are drawn below, in one row so many inches wide whatever the language."""
    cover, picked = KINDS["under cover"], KINDS["picked"]
    looks: tuple[tuple[str, dict[str, Any]], ...] = (
        (say("best fortnight to Sow, set Out, Plant"), {"facecolor": INK, "edgecolor": INK}),
        (say("advised"), {"facecolor": _ADVISED, "edgecolor": KINDS["set out"].edge}),
        (say("sow under cover"), {"facecolor": cover.face, "edgecolor": cover.edge, "hatch": cover.hatch}),
        (say("picked"), {"facecolor": picked.face, "edgecolor": picked.edge, "hatch": picked.hatch}),
        (say("chancy"), {"facecolor": "white", "edgecolor": KINDS["set out"].edge, "linestyle": ":"}),
    )
    room = across - 0.46 * len(looks)
    small = min(1.0, room / (_KEY_LETTER * sum(len(words) for words, _ in looks)))
    x = 0.0
    for words, look in looks:
        axes.broken_barh([(x, 0.26)], (0.36, _BAR), linewidth=0.6, **look)
        axes.text(x + 0.32, 0.42, words, fontsize=9 * small, va="center")
        x += 0.46 + _KEY_LETTER * small * len(words)


def _page(sheet: _Sheet, lines: list[CropSeasons], page: int, pages: int) -> Figure:
    width, height = sheet.size
    figure = new_figure(sheet.size)
    room = height - 2 * _MARGIN - _FOOT
    axes = figure.add_axes((_MARGIN / width, (_MARGIN + _FOOT) / height, sheet.across / width, room / height))
    axes.set(xlim=(0, sheet.across), ylim=(_HEAD - room, _HEAD))
    axes.axis("off")
    axes.text(0, _HEAD, va="top", **heading(say("The year at {site}", site=sheet.chart.site), sheet.across, 19, 11))
    _key(axes, sheet.across)
    _grid(axes, sheet, -_ROW * len(lines))
    for k, line in enumerate(lines):
        _draw_row(axes, line, sheet, -_ROW * k)
    issued = say("issued {date}", date=date_text(sheet.issued)) if sheet.issued else ""
    of = say("page {page} of {pages}", page=page, pages=pages) if pages > 1 else ""
    draw_foot(figure, sheet.size, _MARGIN, _foot(sheet, page), "   ".join(filter(None, (issued, of))))
    return figure


def _foot(sheet: _Sheet, page: int) -> tuple[str, str]:
    chart = sheet.chart
    _, shut = apart(chart)
    shut = sorted(shut, key=lambda c: c.crop) if page == 1 else []
    named = "; ".join(f"{say_crop(c.crop)} ({three_words(c.limiting_factor)})" for c in shut[:4])
    more = say(" and {count} more", count=len(shut) - 4) if len(shut) > 4 else ""
    said = say(
        "Advised: {odds} or better. {record}.{not_here} {promise}",
        odds=odds_text(chart.reliability_asked),
        record=record_text(chart.record, brief=True),
        not_here=say(" Not here: {named}{more}.", named=named, more=more) if shut else "",
        promise=say(NO_PROMISE),
    )
    return said, chart.made_by.short()


def overview_figures(
    chart: SowingChart,
    *,
    orientation: str = "portrait",
    sort: str = "first job",
    start_month: int = 1,
    issued: dt.date | None = None,
    today: dt.date | None = None,
) -> list[Figure]:
    """A line a crop over the year, thirty on an upright A4 sheet, with its best fortnights; arguments as for
    `chart_figures`.

    Examples
    --------
    >>> import sowcal
    >>> chart = sowcal.sowing_chart("sallowdene", ["courgette"], issued=dt.date(2026, 1, 15))
    >>> len(overview_figures(chart))
    1
    """
    import matplotlib

    size = A4 if orientation == "portrait" else (A4[1], A4[0])
    sheet = _Sheet(chart, size, start_month, issued, today)
    order = {
        "name": lambda c: c.crop,
        "family": lambda c: (family_name(c.family), c.crop),
        "first job": lambda c: (first_job(c, start_month), c.crop),
    }[sort]
    _, shut = apart(chart)
    away = {c.crop for c in shut}
    lines = sorted((c for c in chart.crops if c.crop not in away), key=order)
    parts = [lines[k : k + sheet.rows] for k in range(0, len(lines), sheet.rows)] or [[]]
    with matplotlib.rc_context(STYLE):
        return [_page(sheet, part, k, len(parts)) for k, part in enumerate(parts, 1)]
