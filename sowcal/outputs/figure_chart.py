"""The sowing chart drawn: on A4 pages, one ribbon a kind of work, as tall as it is reliable; on a screen in marks."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from sowcal.errors import InputError
from sowcal.languages import phrase, say, say_crop
from sowcal.outputs.figure_style import (
    A4,
    FAINT,
    INK,
    LANE,
    STYLE,
    Cells,
    CropRibbons,
    Ribbon,
    apart,
    crop_ribbons,
    draw_key,
    draw_ribbon,
    month_parts,
    new_figure,
    shown,
    weeks,
)
from sowcal.outputs.terminal import cut, pad, plain, screen_width, wrap
from sowcal.outputs.wording import NO_PROMISE, at_best, family_name, named_with_water, odds_text, reason, record_text
from sowcal.suitability.results import CropSeasons, SowingChart
from sowcal.year import MONTH_LENGTHS, MONTH_STARTS, MONTHS, YEAR, date_text, day_of_date

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["SORTS", "chart_figures", "chart_strip"]

SORTS = ("first job", "family", "name")
# Inches: sizes that are read at arm's length, tried on paper: common practice.
_MARGIN, _LABEL, _HEAD = 0.5, 2.12, 0.98
_GAP, _LINE, _FAMILY = 0.075, 0.15, 0.2
_NAME = 18  # letters of a crop's name that stand beside the names of its lanes


@dataclass(frozen=True)
class _Sheet:
    """What every page of one chart shares."""

    chart: SowingChart
    cells: Cells
    size: tuple[float, float]
    issued: dt.date | None
    today: dt.date | None

    @cached_property
    def foot(self) -> list[str]:
        """What the chart rests on and does not say, in lines."""
        chart = self.chart
        judged = say(" Not judged: {names}.", names=", ".join(map(say, chart.not_judged))) if chart.not_judged else ""
        mind = "".join(say(" Mind: {warning}.", warning=say(w)) for w in chart.warnings)
        record, promise = record_text(chart.record), say(NO_PROMISE)
        said = say(
            "Rests on {record}.{mind}{judged} {promise}", record=record, mind=mind, judged=judged, promise=promise
        )
        return wrap(shown(said), self.letters)

    @property
    def foot_high(self) -> float:
        """Inches that the foot takes, and the line of the day under the crops."""
        return 0.23 + 0.132 * len(self.foot)

    @property
    def room(self) -> float:
        """Inches between head and foot."""
        return self.size[1] - 2 * _MARGIN - _HEAD - self.foot_high

    @property
    def letters(self) -> int:
        """Letters that a line of small print holds."""
        return int((self.size[0] - 2 * _MARGIN) * 18)


@dataclass(frozen=True)
class _Row:
    """A crop, under the name of its family where that is new."""

    crop: CropRibbons
    family: str = ""

    @property
    def height(self) -> float:
        return LANE * len(self.crop.ribbons) + _GAP + (_FAMILY if self.family else 0.0)


def _edges(cells: Cells) -> np.ndarray:
    """Days from the start of the drawn year at which the cells begin, and its end."""
    return np.concatenate([[0], np.cumsum([d.size for d in cells.days])])


def _month_edges(cells: Cells) -> list[int]:
    return [0, *np.cumsum([MONTH_LENGTHS[m] for m in cells.month_order()]).tolist()]


def _draw_grid(axes: Axes, sheet: _Sheet, bottom: float) -> None:
    """Months as columns, alternately tinted, named above."""
    edges = _month_edges(sheet.cells)
    for k, month in enumerate(sheet.cells.month_order()):
        if k % 2 == 0:
            axes.fill_between([edges[k], edges[k + 1]], bottom, 0, color="#f1f3f1", zorder=0, lw=0)
        axes.plot([edges[k]] * 2, [bottom, 0], color=FAINT, lw=0.5, zorder=1)
        middle = (edges[k] + edges[k + 1]) / 2
        axes.text(middle, 0.05, say(MONTHS[month]), ha="center", va="bottom", fontsize=8.5, weight="bold")
    axes.plot([YEAR] * 2, [bottom, 0], color=FAINT, lw=0.5, zorder=1)
    if sheet.today is not None:
        day = (day_of_date(sheet.today) - MONTH_STARTS[sheet.cells.start_month - 1]) % YEAR + 0.5
        axes.plot([day, day], [0, bottom], color=INK, lw=0.9, ls=(0, (4, 2)), zorder=6)
        axes.text(day, bottom - 0.02, say("today"), ha="center", va="top", fontsize=7)


def _in_two(name: str) -> list[str]:
    """A long name in two lines, parted at the space that leaves the longer line shortest; no word is torn."""
    words = name.split(" ")
    if len(name) <= _NAME or len(words) < 2:
        return [name]
    ways = [(" ".join(words[:k]), " ".join(words[k:])) for k in range(1, len(words))]
    return list(min(ways, key=lambda way: max(map(len, way))))


def _draw_name(axes: Axes, name: str, x: float, top: float, lanes: int) -> None:
    """A crop's name; a long one in two lines, where it has two lanes, and no smaller than can be read."""
    lines = _in_two(name) if lanes > 1 else [name]
    size = 8.5 * min(1.0, _NAME / max(map(len, lines)))
    if size < 6.5:
        most = int(8.5 * _NAME / 6.5)
        lines, size = [line if len(line) <= most else line[: most - 1] + "…" for line in lines], 6.5
    # the first line stands as high as the name of the first lane
    first = top - LANE / 2 + size / 72 * 0.55
    axes.text(x, first, "\n".join(lines), va="top", fontsize=size, weight="bold", linespacing=1.15)


def _draw_crops(axes: Axes, rows: list[_Row], sheet: _Sheet) -> float:
    """Crops from the top down; returns the y of the last line."""
    edges = _edges(sheet.cells)
    days_an_inch = YEAR / (sheet.size[0] - 2 * _MARGIN - _LABEL)
    y = 0.0
    left = -_LABEL * days_an_inch
    for row in rows:
        crop = row.crop
        axes.plot([left, YEAR], [y, y], color=FAINT, lw=0.6, zorder=2, clip_on=False)
        if row.family:
            axes.text(left, y - _FAMILY * 0.58, shown(row.family), va="center", fontsize=8, style="italic", zorder=3)
        top = y - _GAP / 2 - (_FAMILY if row.family else 0.0)
        _draw_name(axes, shown(say_crop(crop.crop)), left, top, len(crop.ribbons))
        for k, ribbon in enumerate(crop.ribbons):
            base = top - (k + 1) * LANE + 0.012
            axes.text(-3, base + 0.4 * LANE, say(ribbon.kind), ha="right", va="center", fontsize=7)
            draw_ribbon(axes, ribbon, edges, base)
        y -= row.height
    axes.plot([left, YEAR], [y, y], color=FAINT, lw=0.6, zorder=2, clip_on=False)
    return y


def _page_frame(sheet: _Sheet, page: int, pages: int, kinds: set[str]) -> Figure:
    """Head and foot, the same on every page."""
    width, height = sheet.size
    figure = new_figure(sheet.size)
    left, right = _MARGIN / width, 1 - _MARGIN / width
    chart = sheet.chart
    title = shown(say(chart.site))
    if len(title) > 60:
        title = title[:59] + "…"
    top = 1 - _MARGIN / height
    figure.text(left, top, say("Sowing chart: {title}", title=title), fontsize=13, weight="bold", va="top")
    said = say(
        "Filled ribbons: weeks advised, {odds} or better. Height is the share of years in which it works; "
        "full height is every year.",
        odds=odds_text(chart.reliability_asked),
    )
    figure.text(
        left, top - 0.27 / height, said, fontsize=7.5, va="top",
    )  # fmt: skip
    if kinds:
        draw_key(figure, sheet.size, _MARGIN, kinds)
    low = (_MARGIN + 0.02) / height
    figure.text(left, low, "\n".join(sheet.foot), fontsize=7, va="bottom", linespacing=1.35)
    issued = say("issued {date}   ", date=date_text(sheet.issued)) if sheet.issued else ""
    figure.text(
        right,
        (_MARGIN - 0.14) / height,
        say("{issued}page {page} of {pages}", issued=issued, page=page, pages=pages),
        fontsize=7,
        ha="right",
        va="bottom",
    )
    figure.text(left, (_MARGIN - 0.14) / height, chart.made_by.short(), fontsize=7, va="bottom")
    return figure


def _listed(sheet: _Sheet, gambles_drawn: bool) -> list[tuple[str, bool]]:
    """Lines of the list of crops that are not drawn, and whether each is a heading."""
    gambles, shut = apart(sheet.chart)
    out: list[tuple[str, bool]] = []
    if gambles and not gambles_drawn:
        head = say("Chancy here: works in fewer years than asked for; a perennial may live too briefly")
        out.append((head, True))
        for line in gambles:
            out.append((f"{named_with_water(line)}: {at_best(line)}, {reason(line)}", False))
    if shut:
        out.append((say("No dates here"), True))
        by_reason: dict[str, list[str]] = {}
        for line in shut:
            by_reason.setdefault(reason(line), []).append(named_with_water(line))
        for why in sorted(by_reason):
            text = f"{why}: {', '.join(by_reason[why])}"
            out += [(part, False) for part in wrap(shown(text), sheet.letters - 12, later="    ")]
    return out


def _pages(
    crops: list[CropRibbons], listed: list[tuple[str, bool]], room: float, *, families: bool
) -> list[tuple[list[_Row], list]]:
    """Crops and list lines of each page; no crop is torn, no heading is left at the foot or lost at the top."""
    pages: list[tuple[list[_Row], list]] = [([], [])]
    used, family = 0.0, ""
    for crop in crops:
        row = _Row(crop, family_name(crop.family) if families and crop.family != family else "")
        if used + row.height > room and pages[-1][0]:
            again = crop.family == family
            row = _Row(crop, family_name(crop.family) + (say(", continued") if again else "") if families else "")
            pages.append(([], []))
            used = 0.0
        pages[-1][0].append(row)
        used, family = used + row.height, crop.family
    used += 0.25 if listed else 0.0
    for k, (text, heading) in enumerate(listed):
        need = _LINE * (2.4 if heading and k + 1 < len(listed) else 1.0)
        if used + need > room and (pages[-1][0] or pages[-1][1]):
            pages.append(([], []))
            used = 0.0
        pages[-1][1].append((text, heading))
        used += _LINE * (1.4 if heading else 1.0)
    return pages


def _draw_list(axes: Axes, lines: list[tuple[str, bool]], x: float, y: float) -> None:
    for text, heading in lines:
        y -= _LINE * (1.4 if heading else 1.0)
        axes.text(x, y, shown(text), fontsize=8 if heading else 7.5, weight="bold" if heading else "normal")


def _draw_page(sheet: _Sheet, rows: list[_Row], lines: list, page: int, pages: int) -> Figure:
    width, height = sheet.size
    figure = _page_frame(sheet, page, pages, {r.kind for row in rows for r in row.crop.ribbons})
    across = width - 2 * _MARGIN - _LABEL
    axes = figure.add_axes(
        (
            (_MARGIN + _LABEL) / width,
            (_MARGIN + sheet.foot_high) / height,
            across / width,
            sheet.room / height,
        )
    )
    axes.set(xlim=(0, YEAR), ylim=(-sheet.room, 0))
    axes.axis("off")
    y = 0.0
    if rows:
        _draw_grid(axes, sheet, -sum(row.height for row in rows))
        y = _draw_crops(axes, rows, sheet) - 0.25
    _draw_list(axes, lines, -_LABEL * YEAR / across, y)
    return figure


def _sorted(crops: list[CropRibbons], sort: str) -> list[CropRibbons]:
    if sort == "name":
        return sorted(crops, key=lambda c: c.crop)
    if sort == "family":
        return sorted(crops, key=lambda c: (family_name(c.family), c.crop))
    return sorted(crops, key=lambda c: (c.first_job, c.crop))


def chart_figures(
    chart: SowingChart,
    *,
    orientation: str = "portrait",
    sort: str = "first job",
    start_month: int = 1,
    issued: dt.date | None = None,
    today: dt.date | None = None,
    gambles: bool = False,
) -> list[Figure]:
    """The chart as A4 pages.

    Parameters
    ----------
    chart : SowingChart
    orientation : {'portrait', 'landscape'}
    sort : {'first job', 'family', 'name'}
        Order of the crops; 'first job' counts from the month with which the year begins.
    start_month : int
        Month, 1 to 12, with which the year begins.
    issued : datetime.date, optional
        Date of issue for the foot; none is printed where none is given.
    today : datetime.date, optional
        A day to mark across the chart.
    gambles : bool
        Whether crops with nothing but possible dates are drawn too, not listed; they are where no crop has better.

    Returns
    -------
    list of matplotlib.figure.Figure
        One a page.

    Raises
    ------
    InputError
        Where orientation, order or month is not one of those.

    Examples
    --------
    >>> import sowcal
    >>> chart = sowcal.sowing_chart("sallowdene", ["courgette"], issued=dt.date(2026, 1, 15))
    >>> len(chart_figures(chart, orientation="landscape"))
    1
    """
    if orientation not in ("portrait", "landscape"):
        raise InputError(f"the page cannot lie {orientation!r}; choose portrait or landscape")
    if sort not in SORTS:
        raise InputError(f"crops cannot be put in order by {sort!r}; choose {', '.join(SORTS)}")
    if not 1 <= start_month <= 12:
        raise InputError(f"{start_month} is no month; give a number from 1 to 12")
    import matplotlib

    size = A4 if orientation == "portrait" else (A4[1], A4[0])
    sheet = _Sheet(chart, weeks(start_month), size, issued, today)
    gambles = gambles or not any(s.windows for c in chart.crops for s in c.starts)  # nothing better to draw
    drawn = (crop_ribbons(c, sheet.cells, gambles=gambles) for c in chart.crops)
    crops = [r for r in drawn if r is not None]
    with matplotlib.rc_context(STYLE):
        listed = _listed(sheet, gambles)
        parts = _pages(_sorted(crops, sort), listed, sheet.room, families=sort == "family")
        return [_draw_page(sheet, rows, lines, k, len(parts)) for k, (rows, lines) in enumerate(parts, 1)]


_SHORT = {"sown outdoors": phrase("sown out"), "under cover": phrase("in cover")}


@dataclass(frozen=True)
class _Marks:
    """One set of marks: work by tenths of years, possible at 5 and 7 years in ten, picking at 1, 4 and 7."""

    solid: str
    possible: tuple[str, str]
    picking: tuple[str, str, str]
    line: str
    bar: str
    name: str
    odds: str  # how a mark of `solid` tells them

    def key(self) -> tuple[tuple[str, str], ...]:
        """What the marks mean, each with the kind of line that it is told for; '' for those of all."""
        (seldom, often), (few, some, most) = self.possible, self.picking
        picked = say("{few} 1 to 3 years in 10, {some} 4 to 6, {most} 7 and more", few=few, some=some, most=most)
        marks, odds = say(self.name).capitalize(), say(self.odds)
        return (
            ("", say("{marks}: weeks advised; {odds} and more.", marks=marks, odds=odds)),
            (
                "",
                say(
                    "Dots: works, yet chancy or not worth it: {seldom} 5 years in 10, {often} 7 and more.",
                    seldom=seldom,
                    often=often,
                ),
            ),
            (
                "under cover",
                say(
                    "under cover: sow in the {name}; {line} seedlings stand there till they are set out.",
                    name=say(self.name),
                    line=self.line,
                ),
            ),
            ("picked", say("picked: chance of picking from advised starts: {picked}.", picked=picked)),
        )


_TALL = phrase("the taller, the more years it works: ▄ 5 in 10, ▆ 7, ▇ 8, █ 9")
_COUNT = phrase("the digit is the years in 10 in which it works, 9 is 9")
_BLOCKS = _Marks(" ▁▂▂▃▄▅▆▇█", ("·", ":"), ("░", "▒", "▓"), "─", "│", phrase("blocks"), _TALL)
_LETTERS = _Marks(" 123456789", (".", ":"), ("+", "x", "X"), "-", "|", phrase("digits"), _COUNT)


@dataclass(frozen=True)
class _Layout:
    """How the columns of the screen are shared out."""

    cells: Cells
    width: int
    crop: int  # columns of the crop's name; 0 where it has a line of its own
    kind: int

    @property
    def label(self) -> int:
        return self.crop + self.kind


def _layout(width: int, start_month: int) -> _Layout:
    """Weeks from 80 columns up, thirds of a month below; the name beside its lines where there is room."""
    cells = weeks(start_month) if width >= 80 else month_parts(3, start_month)
    room = width - len(cells.days) - 13
    if room >= 33:
        return _Layout(cells, width, min(room - 14, 24), 14)
    return _Layout(cells, width, 0, max(room, 10))


def _mark(share: float, advised: bool, kind: str, marks: _Marks) -> str:
    if not math.isfinite(share) or share < 0.1:
        return " "
    tenths = min(int(share * 10 + 1e-9), 9)
    if kind == "picked":
        return marks.picking[(tenths >= 4) + (tenths >= 7)]
    if advised:
        return marks.solid[tenths]
    if kind == "under cover":
        return marks.line
    return " " if share < 0.495 else marks.possible[share >= 0.7]


def _barred(pieces: Iterable[str], cells: Cells, bar: str) -> str:
    """One piece a cell, with a bar before each month and at the end."""
    out, last = "", None
    for piece, month in zip(pieces, cells.months, strict=True):
        out += (bar if month != last else "") + piece
        last = month
    return out + bar


def _ribbon(ribbon: Ribbon, cells: Cells, marks: _Marks) -> str:
    pieces = [
        _mark(float(s), bool(a), ribbon.kind, marks) for s, a in zip(ribbon.strength, ribbon.recommended, strict=True)
    ]
    return _barred(pieces, cells, marks.bar)


def _head(layout: _Layout) -> str:
    """Names of the months over their cells."""
    out = ""
    for month in layout.cells.month_order():
        out += " " + pad(say(MONTHS[month]), layout.cells.months.count(month))
    return (" " * layout.label + out).rstrip()


def _crop_lines(crop: CropRibbons, layout: _Layout, marks: _Marks, unicode: bool) -> list[str]:
    name = plain(say_crop(crop.crop), unicode=unicode)
    out = []
    beside = layout.crop and screen_width(name) < layout.crop
    if not beside:
        heading = cut(name, layout.width)
        blank = " " * layout.label + _barred(" " * len(layout.cells.days), layout.cells, marks.bar)
        taken = screen_width(heading) + (screen_width(heading) < layout.width)
        out.append(pad(heading, taken) + blank[taken:])
    for k, ribbon in enumerate(crop.ribbons):
        kind = say(ribbon.kind if layout.kind >= 14 else _SHORT.get(ribbon.kind, ribbon.kind))
        kind = pad(kind, layout.kind) if layout.crop else pad(f" {plain(kind, unicode=unicode)}", layout.kind)
        lead = pad(name if beside and k == 0 else "", layout.crop)
        out.append(lead + kind + _ribbon(ribbon, layout.cells, marks))
    return out


def chart_strip(crops: Iterable[CropSeasons], gambles: bool, start_month: int, width: int, unicode: bool) -> list[str]:
    """The months across and the crops down, with a key; nothing where no crop has a date."""
    layout = _layout(width, start_month)
    marks = _BLOCKS if unicode else _LETTERS
    drawn = [r for c in crops if (r := crop_ribbons(c, layout.cells, gambles=gambles)) is not None]
    if not drawn:
        return []
    head = _head(layout)
    rule = marks.line * min(layout.label + len(layout.cells.days) + 13, layout.width)
    out = [head, rule]
    for k, crop in enumerate(drawn):
        out += [rule, head] if k and k % 12 == 0 else []
        out += _crop_lines(crop, layout, marks, unicode)
    out += [rule, ""]
    kinds = {r.kind for c in drawn for r in c.ribbons}
    for kind, text in marks.key():
        if not kind or kind in kinds:
            out += wrap(text, layout.width, later="  ")
    return out
