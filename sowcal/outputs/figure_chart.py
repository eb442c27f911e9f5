"""The sowing chart on paper: A4 pages, one ribbon a kind of work, as tall as it is reliable."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.errors import InputError
from sowcal.outputs.days import MONTH_LENGTHS, MONTH_STARTS, MONTHS, YEAR, day_of_date
from sowcal.outputs.figure_style import A4, FAINT, INK, KINDS, STYLE, new_figure, shown
from sowcal.outputs.ribbons import Cells, CropRibbons, Ribbon, apart, crop_ribbons, weeks
from sowcal.outputs.screen import wrap
from sowcal.outputs.wording import NO_PROMISE, in_ten, odds_text, reason, record_text
from sowcal.suitability.results import SowingChart

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["SORTS", "chart_figures"]

SORTS = ("first job", "family", "name")
# Inches: sizes that are read at arm's length, tried on paper: common practice.
_MARGIN, _LABEL, _HEAD, _FOOT = 0.5, 2.12, 0.98, 0.62
_LANE, _GAP, _LINE = 0.145, 0.075, 0.15


@dataclass(frozen=True)
class _Sheet:
    """What every page of one chart shares."""

    chart: SowingChart
    cells: Cells
    size: tuple[float, float]
    issued: dt.date | None
    today: dt.date | None

    @property
    def room(self) -> float:
        """Inches between head and foot."""
        return self.size[1] - 2 * _MARGIN - _HEAD - _FOOT

    @property
    def letters(self) -> int:
        """Letters that a line of small print holds."""
        return int((self.size[0] - 2 * _MARGIN) * 18)


def _height(crop: CropRibbons) -> float:
    return _LANE * len(crop.ribbons) + _GAP


def _edges(cells: Cells) -> np.ndarray:
    """Days from the start of the drawn year at which the cells begin, and its end."""
    return np.concatenate([[0], np.cumsum([d.size for d in cells.days])])


def _month_edges(cells: Cells) -> list[int]:
    return [0, *np.cumsum([MONTH_LENGTHS[m] for m in cells.month_order()]).tolist()]


def _draw_ribbon(axes: Axes, ribbon: Ribbon, edges: np.ndarray, base: float) -> None:
    """A ribbon standing on its base; picking lies about the middle of its lane, like a spindle."""
    kind = KINDS.get(ribbon.kind, KINDS["planted"])
    strength = np.nan_to_num(ribbon.strength)
    strength = np.where(strength < 0.1, 0.0, strength)
    full = 0.86 * _LANE
    axes.plot([0, YEAR], [base, base], color=FAINT, lw=0.35, zorder=1)
    style: dict[str, Any] = {"zorder": 3, "linewidth": 0.5}
    corners = np.repeat(edges, 2)[1:-1]  # both ends of each cell, so that the last of a run is drawn whole

    def fill(values: np.ndarray, low: np.ndarray | float, **more: Any) -> None:
        high = np.repeat(values, 2)
        under = np.repeat(np.broadcast_to(low, values.shape), 2)
        axes.fill_between(corners, under, high, where=high > under + 1e-9, **{**style, **more})

    if ribbon.kind == "picked":
        middle, half = base + full / 2, strength * full / 2
        fill(middle + half, middle - half, facecolor=kind.face, edgecolor=kind.edge, hatch=kind.hatch)
    elif ribbon.kind == "under cover":
        sown = np.where(ribbon.recommended, strength, 0.0)
        standing = np.where(~ribbon.recommended & (strength > 0), 0.16, 0.0)
        fill(base + standing * full, base, facecolor=kind.edge, edgecolor="none", linewidth=0)
        fill(base + sown * full, base, facecolor=kind.face, edgecolor=kind.edge, hatch=kind.hatch)
    else:
        advised = np.where(ribbon.recommended, strength, 0.0)
        maybe = np.where(~ribbon.recommended & (strength >= 0.495), strength, 0.0)
        fill(base + maybe * full, base, facecolor="white", edgecolor=kind.edge)
        fill(base + advised * full, base, facecolor=kind.face, edgecolor=kind.edge, zorder=4)


def _draw_grid(axes: Axes, sheet: _Sheet, bottom: float) -> None:
    """Months as columns, alternately tinted, named above."""
    edges = _month_edges(sheet.cells)
    for k, month in enumerate(sheet.cells.month_order()):
        if k % 2 == 0:
            axes.fill_between([edges[k], edges[k + 1]], bottom, 0, color="#f1f3f1", zorder=0, lw=0)
        axes.plot([edges[k]] * 2, [bottom, 0], color=FAINT, lw=0.5, zorder=1)
        middle = (edges[k] + edges[k + 1]) / 2
        axes.text(middle, 0.05, MONTHS[month], ha="center", va="bottom", fontsize=8.5, weight="bold")
    axes.plot([YEAR] * 2, [bottom, 0], color=FAINT, lw=0.5, zorder=1)
    if sheet.today is not None:
        day = (day_of_date(sheet.today) - MONTH_STARTS[sheet.cells.start_month - 1]) % YEAR + 0.5
        axes.plot([day, day], [0, bottom], color=INK, lw=0.9, ls=(0, (4, 2)), zorder=6)
        axes.text(day, bottom - 0.02, "today", ha="center", va="top", fontsize=7)


def _draw_crops(axes: Axes, crops: list[CropRibbons], sheet: _Sheet) -> float:
    """Crops from the top down; returns the y of the last line."""
    edges = _edges(sheet.cells)
    days_an_inch = YEAR / (sheet.size[0] - 2 * _MARGIN - _LABEL)
    y = 0.0
    for crop in crops:
        axes.plot([-_LABEL * days_an_inch, YEAR], [y, y], color=FAINT, lw=0.6, zorder=2, clip_on=False)
        top = y - _GAP / 2
        name = shown(crop.crop)
        size = 8.5 if len(name) <= 18 else max(8.5 * 18 / len(name), 5.5)
        axes.text(-_LABEL * days_an_inch, top - _LANE / 2, name, va="center", fontsize=size, weight="bold")
        for k, ribbon in enumerate(crop.ribbons):
            base = top - (k + 1) * _LANE + 0.012
            axes.text(-3, base + 0.4 * _LANE, ribbon.kind, ha="right", va="center", fontsize=6.6)
            _draw_ribbon(axes, ribbon, edges, base)
        y -= _height(crop)
    axes.plot([-_LABEL * days_an_inch, YEAR], [y, y], color=FAINT, lw=0.6, zorder=2, clip_on=False)
    return y


def _draw_key(figure: Figure, sheet: _Sheet, kinds: set[str]) -> None:
    """What the ribbons mean, drawn as they are drawn below; the full height is ten years in ten."""
    width, height = sheet.size
    across = width - 2 * _MARGIN
    axes = figure.add_axes((_MARGIN / width, 1 - (_MARGIN + 0.62) / height, across / width, 0.2 / height))
    axes.set(xlim=(0, across), ylim=(0, 0.2))
    axes.axis("off")
    entries = [(k, v.words, True) for k, v in KINDS.items() if k in kinds and k != "planted"]
    if "planted" in kinds:
        entries = [("set out", "set out, plant", True) if e[0] == "set out" else e for e in entries]
        if "set out" not in kinds:
            entries.insert(-1, ("planted", "plant", True))
    entries.append(("sown outdoors", "possible only", False))
    x = 0.0
    for kind, words, advised in entries:
        ribbon = Ribbon(kind, np.array([0.6, 0.8, 1.0, 0.8]), np.full(4, advised))
        if kind == "under cover":  # two weeks of sowing, two of standing
            ribbon = Ribbon(kind, ribbon.strength, np.array([True, True, False, False]))
        _draw_ribbon_key(axes, ribbon, x)
        axes.text(x + 0.46, 0.07, words, va="center", fontsize=7)
        x += 0.62 + 0.054 * len(words)  # inches a letter of this print takes


def _draw_ribbon_key(axes: Axes, ribbon: Ribbon, x: float) -> None:
    from matplotlib.transforms import Affine2D

    before = len(axes.lines), len(axes.collections)
    _draw_ribbon(axes, ribbon, np.array([0.0, 1, 2, 3, 4]), 0.0)
    shift = Affine2D().scale(0.1, 1).translate(x, 0.01) + axes.transData
    for line in list(axes.lines)[before[0] :]:
        line.remove()
    for patch in axes.collections[before[1] :]:
        patch.set_transform(shift)


def _page_frame(sheet: _Sheet, page: int, pages: int, kinds: set[str]) -> Figure:
    """Head and foot, the same on every page."""
    width, height = sheet.size
    figure = new_figure(sheet.size)
    left, right = _MARGIN / width, 1 - _MARGIN / width
    chart = sheet.chart
    title = shown(chart.site)
    if len(title) > 60:
        title = title[:59] + "…"
    top = 1 - _MARGIN / height
    figure.text(left, top, f"Sowing chart: {title}", fontsize=13, weight="bold", va="top")
    said = f"Filled ribbons: weeks advised, {odds_text(chart.reliability_asked)} or better. Height is the"
    figure.text(
        left, top - 0.27 / height, f"{said} share of years in which it works; full height is every year.",
        fontsize=7.5, va="top",
    )  # fmt: skip
    if kinds:
        _draw_key(figure, sheet, kinds)
    judged = f" Not judged: {', '.join(chart.not_judged)}." if chart.not_judged else ""
    foot = f"Rests on {record_text(chart.record)}.{judged} {NO_PROMISE}"
    lines = wrap(shown(foot), sheet.letters)
    low = (_MARGIN + 0.02) / height
    figure.text(left, low, "\n".join(lines), fontsize=7, va="bottom", linespacing=1.35)
    issued = (
        f"issued {sheet.issued.day} {MONTHS[sheet.issued.month - 1]} {sheet.issued.year}   " if sheet.issued else ""
    )
    figure.text(
        right,
        (_MARGIN - 0.14) / height,
        f"{issued}page {page} of {pages}",
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
        out.append(("A gamble here: dates that work in fewer years than asked for", True))
        for line in gambles:
            best = max((w.reliability for s in line.starts for w in s.possible), default=0.0)
            out.append((f"{line.crop}: at best {in_ten(best)} years, {reason(line)}", False))
    if shut:
        out.append(("No dates here", True))
        by_reason: dict[str, list[str]] = {}
        for line in shut:
            by_reason.setdefault(reason(line), []).append(line.crop)
        for why in sorted(by_reason):
            text = f"{why}: {', '.join(by_reason[why])}"
            out += [(part, False) for part in wrap(shown(text), sheet.letters - 12, later="    ")]
    return out


def _pages(crops: list[CropRibbons], listed: list[tuple[str, bool]], room: float) -> list[tuple[list, list]]:
    """Crops and list lines of each page; no crop is torn, no heading is left at the foot."""
    pages: list[tuple[list, list]] = [([], [])]
    used = 0.0
    for crop in crops:
        if used + _height(crop) > room and pages[-1][0]:
            pages.append(([], []))
            used = 0.0
        pages[-1][0].append(crop)
        used += _height(crop)
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


def _draw_page(sheet: _Sheet, crops: list[CropRibbons], lines: list, page: int, pages: int) -> Figure:
    width, height = sheet.size
    figure = _page_frame(sheet, page, pages, {r.kind for c in crops for r in c.ribbons})
    across = width - 2 * _MARGIN - _LABEL
    axes = figure.add_axes(
        (
            (_MARGIN + _LABEL) / width,
            (_MARGIN + _FOOT) / height,
            across / width,
            sheet.room / height,
        )
    )
    axes.set(xlim=(0, YEAR), ylim=(-sheet.room, 0))
    axes.axis("off")
    y = 0.0
    if crops:
        bottom = -sum(map(_height, crops))
        _draw_grid(axes, sheet, bottom)
        y = _draw_crops(axes, crops, sheet) - 0.25
    _draw_list(axes, lines, -_LABEL * YEAR / across, y)
    return figure


def _sorted(crops: list[CropRibbons], sort: str) -> list[CropRibbons]:
    if sort == "name":
        return sorted(crops, key=lambda c: c.crop)
    if sort == "family":
        return sorted(crops, key=lambda c: (c.family, c.crop))
    return sorted(crops, key=lambda c: (c.first_job, c.crop))


def chart_figures(
    chart: SowingChart,
    *,
    orientation: str = "portrait",
    sort: str = "first job",
    start_month: int = 1,
    issued: dt.date | None = None,
    today: dt.date | None = None,
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

    Returns
    -------
    list of matplotlib.figure.Figure
        One a page.

    Raises
    ------
    InputError
        Where orientation, order or month is not one of those.
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
    gambles = not any(s.windows for c in chart.crops for s in c.starts)  # nothing better to draw
    drawn = (crop_ribbons(c, sheet.cells, gambles=gambles) for c in chart.crops)
    crops = [r for r in drawn if r is not None]
    with matplotlib.rc_context(STYLE):
        parts = _pages(_sorted(crops, sort), _listed(sheet, gambles), sheet.room)
        return [_draw_page(sheet, c, lines, k, len(parts)) for k, (c, lines) in enumerate(parts, 1)]
