"""The look that all pictures share: paper, ink, and one pattern for each kind of work.

Each kind differs in lightness, hatch and shape as well as in colour, so that a photocopy and every kind of
colour vision tell them apart: common practice; the choice is our own.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.languages import phrase, say
from sowcal.suitability.results import CropSeasons, SowingChart, WayResult, Window
from sowcal.year import MONTH_LENGTHS, MONTH_STARTS, YEAR, month_of, span_days

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = [
    "A4",
    "CLASS_LOOKS",
    "FAINT",
    "INK",
    "KINDS",
    "LANE",
    "MONTH_COLOURS",
    "PAIR",
    "SCALE",
    "SEA",
    "STYLE",
    "Cells",
    "CropRibbons",
    "Kind",
    "Ribbon",
    "apart",
    "crop_ribbons",
    "draw_foot",
    "draw_key",
    "draw_ribbon",
    "first_job",
    "foot_lines",
    "heading",
    "month_parts",
    "new_figure",
    "shown",
    "weeks",
]

A4 = (8.27, 11.69)  # inches
INK = "#1d2326"
PAIR = ("#16324f", "#c9682b")  # a first and a second place
FAINT = "#b9bfc2"
STYLE: Any = {
    "font.family": "DejaVu Sans",
    "font.size": 8,
    "text.color": INK,
    "axes.labelcolor": INK,
    "axes.edgecolor": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "axes.linewidth": 0.6,
    "hatch.linewidth": 0.6,
    "text.parse_math": False,  # a dollar sign in a name is a dollar sign
    "svg.hashsalt": "sowcal",
}


@dataclass(frozen=True)
class Kind:
    """How one kind of work is drawn."""

    face: str
    edge: str
    hatch: str
    words: str


KINDS = {
    "under cover": Kind("#ddd0ef", "#6a4c93", "/////", phrase("sow under cover, raise there (line)")),
    "sown outdoors": Kind("#16324f", "#16324f", "", phrase("sow outdoors")),
    "set out": Kind("#c9682b", "#7c3c12", "", phrase("set out")),
    "planted": Kind("#c9682b", "#7c3c12", "", phrase("plant")),
    "picked": Kind("#e6f0cf", "#5b7031", "....", phrase("pick")),
}

# Maps. Lightness falls steadily along each scale, so that grey print and every kind of colour vision keep its order.
SEA = "#aab8be"
SCALE = ("#f4efe6", "#e9bd7c", "#c9682b", "#7c3f4a", "#3b3155", "#16324f")  # little to much
_SOUND, _FAIR, _CHANCY, _NOT = "#16324f", "#4b86a8", "#e9bd7c", "#f4efe6"
CLASS_LOOKS = {  # word: colour and hatch
    "sound": (_SOUND, ""),
    "thrives": (_SOUND, ""),
    "fair": (_FAIR, ""),
    "crops with a check": (_FAIR, ""),
    "chancy": (_CHANCY, "...."),
    "crops, lives briefly": (_CHANCY, "...."),
    "lives, crops poorly": (_CHANCY, "////"),
    "grown as a winter annual": (_CHANCY, "----"),
    "not here": (_NOT, ""),
    "cannot say": ("#ffffff", "xxxx"),
}
# January to December: lighter to midyear through blue, darker again through orange, and into the same dusk, so that the
# year closes: 1 January and 31 December lie side by side.
MONTH_COLOURS = (
    "#35264f", "#30406f", "#35608e", "#5485ab", "#8cb0c8", "#ccdbe2",
    "#f3dfc3", "#e8bc8b", "#d29161", "#b06443", "#804145", "#532b50",
)  # fmt: skip


def new_figure(size: tuple[float, float]) -> Figure:
    """A figure of its own, outside the drawing state that programs share."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=size, facecolor="white")
    FigureCanvasAgg(figure)
    return figure


def shown(text: object) -> str:
    """Text safe to draw: control characters as escapes, what the font lacks as a question mark."""
    from sowcal.outputs.terminal import plain

    glyphs = _glyphs()
    return "".join(c if ord(c) in glyphs else "?" for c in plain(text))


def _glyphs() -> set[int]:
    import matplotlib
    from matplotlib.ft2font import FT2Font

    if not _KNOWN:
        font = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf"
        _KNOWN.update(FT2Font(str(font)).get_charmap())
    return _KNOWN


_KNOWN: set[int] = set()  # code points of the font that comes with matplotlib, read once


_UNSEEN = 0.1  # share of years below which a ribbon is not drawn


@dataclass(frozen=True)
class Cells:
    """Runs of days that part the year in the order in which it is drawn.

    Attributes
    ----------
    days : tuple of numpy.ndarray
        Days of the year in each cell.
    months : tuple of int
        Month (0 to 11) to which each cell belongs.
    start_month : int
        Month, 1 to 12, with which the year begins.
    """

    days: tuple[np.ndarray, ...]
    months: tuple[int, ...]
    start_month: int

    def month_order(self) -> list[int]:
        """Months (0 to 11) in the order in which they are drawn."""
        return [(self.start_month - 1 + k) % 12 for k in range(12)]

    @cached_property
    def _order(self) -> np.ndarray:
        """Days of all cells one after another."""
        return np.concatenate(self.days)

    @cached_property
    def _first(self) -> np.ndarray:
        """Where each cell begins in that order."""
        return np.cumsum([0, *self._sizes[:-1]])

    @cached_property
    def _sizes(self) -> np.ndarray:
        """Days of each cell."""
        return np.array([cell.size for cell in self.days])

    @cached_property
    def edges(self) -> list[float]:
        """Days from the start of the drawn year to the start of each cell, and to the end of the last."""
        return [0.0, *np.cumsum(self._sizes).tolist()]

    @cached_property
    def _alike(self) -> list[tuple[np.ndarray, np.ndarray]]:
        """Cells of one length together: their numbers, and their days as a table."""
        groups = [np.flatnonzero(self._sizes == size) for size in sorted(set(self._sizes.tolist()))]
        return [(group, np.stack([self.days[k] for k in group])) for group in groups]

    def mean(self, daily: np.ndarray) -> np.ndarray:
        """Mean of each cell, of the days that are known; NaN where none is."""
        out = np.full(len(self.days), np.nan)
        if np.isfinite(daily).all():
            for group, days in self._alike:
                out[group] = daily[days].mean(axis=1)
            return out
        for k, days in enumerate(self.days):
            known = daily[days][np.isfinite(daily[days])]
            if known.size:
                out[k] = known.mean()
        return out

    @cached_property
    def _cell_of(self) -> list[int]:
        """Number of the cell that holds each day of the year."""
        out = [0] * YEAR
        for k, days in enumerate(self.days):
            for day in days.tolist():
                out[day] = k
        return out

    def of_day(self, day: int) -> int:
        """Number of the cell that holds a day of the year."""
        return self._cell_of[day]

    def share(self, marked: np.ndarray) -> np.ndarray:
        """Share of each cell's days that are marked, of rows of 365 days."""
        counts = np.add.reduceat(marked[:, self._order].astype(float), self._first, axis=1)
        return counts / self._sizes

    def greatest(self, daily: np.ndarray) -> np.ndarray:
        """Greatest value of each cell."""
        return np.maximum.reduceat(daily[self._order], self._first)

    def holding(self, days: set[int], certain: set[int]) -> np.ndarray:
        """Cells of which half or more of the days are among `days`, or that hold one that must show."""
        there, must = np.zeros((2, YEAR), dtype=int)
        there[list(days)] = 1
        must[list(certain)] = 1
        among = np.add.reduceat(there[self._order], self._first)
        return (2 * among >= self._sizes) | (np.add.reduceat(must[self._order], self._first) > 0)


def weeks(start_month: int = 1) -> Cells:
    """52 weeks from the first of a month; the last one has 8 days."""
    first = MONTH_STARTS[start_month - 1]
    edges = [7 * k for k in range(52)] + [YEAR]
    days = tuple((first + np.arange(a, b)) % YEAR for a, b in pairwise(edges))
    return Cells(days, tuple(month_of(int(cell[3])) for cell in days), start_month)


def month_parts(parts: int, start_month: int = 1) -> Cells:
    """Each month in so many nearly equal parts."""
    days, months = [], []
    for k in range(12):
        m = (start_month - 1 + k) % 12
        for piece in np.array_split(np.arange(MONTH_LENGTHS[m]), parts):
            days.append(MONTH_STARTS[m] + piece)
            months.append(m)
    return Cells(tuple(days), tuple(months), start_month)


@dataclass(frozen=True)
class Ribbon:
    """One line of a crop over the cells of the year.

    Attributes
    ----------
    kind : str
        'under cover', a way of starting, or 'picked'.
    strength : numpy.ndarray
        Share of years, 0 to 1, NaN where not known.
    recommended : numpy.ndarray of bool
        Cells that are advised; for 'under cover' those in which seed is sown; all True for 'picked'.
    """

    kind: str
    strength: np.ndarray
    recommended: np.ndarray

    def parts(self) -> tuple[np.ndarray, np.ndarray]:
        """Strength of the cells that are advised, and of the others; what is too little to see is nothing."""
        strength = np.nan_to_num(self.strength)
        strength = np.where(strength < _UNSEEN, 0.0, np.minimum(strength, 1.0))
        return np.where(self.recommended, strength, 0.0), np.where(self.recommended, 0.0, strength)


@dataclass(frozen=True)
class CropRibbons:
    """All lines of one crop."""

    crop: str
    family: str
    ribbons: tuple[Ribbon, ...]
    first_job: int  # days from the start of the drawn year to the first thing to do


def _window_days(windows: tuple[Window, ...]) -> set[int]:
    return {d for w in windows for d in span_days(w.start, w.end)}


def _daily(way: WayResult) -> np.ndarray:
    """Reliability by start day; from the windows where the days themselves are not given."""
    if way.reliability is not None:
        return np.asarray(way.reliability, dtype=float)
    daily = np.zeros(YEAR)
    for w in (*way.possible, *way.windows):
        daily[span_days(w.start, w.end)] = w.reliability
    return daily


def _way_ribbon(way: WayResult, cells: Cells) -> Ribbon:
    possible = _window_days(way.possible) | _window_days(way.windows)
    best = {w.best for w in way.windows}
    shown = cells.holding(possible, best | {w.best for w in way.possible})
    strength = np.where(shown, cells.mean(_daily(way)), 0.0)
    return Ribbon(way.way, strength, cells.holding(_window_days(way.windows), best) & shown)


def _cover_ribbon(way: WayResult, cells: Cells) -> Ribbon | None:
    """Sowing under cover for the recommended windows, and the weeks the seedlings then stand there."""
    sowing: set[int] = set()
    daily = np.zeros(YEAR)
    for w in way.windows:
        if w.raise_under_cover is None:
            continue
        days = span_days(*w.raise_under_cover)
        sowing.update(days)
        standing = span_days(w.raise_under_cover[0], w.end)
        daily[standing] = np.maximum(daily[standing], w.reliability)
    if not sowing:
        return None
    if way.raising is not None:
        daily = np.maximum(np.asarray(way.raising, dtype=float), np.where(daily > 0, 0.1, 0.0))
        for w in way.windows:
            if w.raise_under_cover is not None:
                daily[span_days(*w.raise_under_cover)] = w.reliability
    certain = {w.raise_under_cover[0] for w in way.windows if w.raise_under_cover is not None}
    advised = cells.holding(sowing, certain)
    return Ribbon("under cover", np.where(advised, cells.greatest(daily), cells.mean(daily)), advised)


def _picking_ribbon(starts: tuple[WayResult, ...], cells: Cells) -> Ribbon | None:
    known = [np.asarray(s.picking, dtype=float) for s in starts if s.picking is not None and s.windows]
    if not known:
        return None
    strength = np.fmax.reduce([cells.mean(p) for p in known])
    return Ribbon("picked", strength, np.ones(len(cells.days), dtype=bool))


def crop_ribbons(line: CropSeasons, cells: Cells, *, gambles: bool = False) -> CropRibbons | None:
    """The lines of one crop in the order of the work; None where it has no window.

    Parameters
    ----------
    line : CropSeasons
    cells : Cells
    gambles : bool
        Whether ways with nothing but possible start days are shown too.
    """
    ribbons: list[Ribbon] = []
    for way in line.starts:
        if not way.windows and not (gambles and way.possible):
            continue
        cover = _cover_ribbon(way, cells)
        ribbons += [r for r in (cover, _way_ribbon(way, cells)) if r is not None]
    if not ribbons:
        return None
    picked = _picking_ribbon(line.starts, cells)
    ribbons += [picked] if picked is not None else []
    return CropRibbons(line.crop, line.family, tuple(ribbons), first_job(line, cells.start_month))


def first_job(line: CropSeasons, start_month: int) -> int:
    """Days from the start of the drawn year to a crop's first sowing, setting out or planting."""
    origin = MONTH_STARTS[start_month - 1]
    jobs = [
        w.raise_under_cover[0] if w.raise_under_cover else w.start
        for way in line.starts
        for w in (way.windows or way.possible)
    ]
    return min(((day - origin) % YEAR for day in jobs), default=YEAR)


def apart(chart: SowingChart) -> tuple[list[CropSeasons], list[CropSeasons]]:
    """Crops with nothing but possible start days, and crops with none at all."""
    plain = [c for c in chart.crops if not any(s.windows for s in c.starts)]
    gambles = [c for c in plain if any(s.possible for s in c.starts)]
    return gambles, [c for c in plain if not any(s.possible for s in c.starts)]


def heading(text: str, inches: float, size: float, least: float = 9.0) -> dict[str, Any]:
    """A bold heading that stays within so many inches: smaller where it is long, and cut where even that will not do.

    Returns
    -------
    dict
        `s`, `fontsize` and `weight`, as a figure's and an axes' `text` take them.
    """
    from sowcal.outputs.terminal import cut

    text = shown(text)
    size = max(min(size, inches / (_BOLD * max(len(text), 1))), least)
    return {"s": cut(text, int(inches / (_BOLD * size))), "fontsize": size, "weight": "bold"}


_BOLD = 0.0093  # inches that a letter of bold print takes for each of its points, capitals among them
_LETTER = 18  # letters of small print that an inch holds
_LINE = 0.132  # inches from one line of small print to the next


def foot_lines(texts: Iterable[str], inches: float) -> list[str]:
    """Lines of small print, so many inches wide, that a foot takes."""
    from sowcal.outputs.terminal import wrap

    return [line for text in texts if text for line in wrap(shown(text), int(inches * _LETTER))]


def draw_foot(figure: Figure, size: tuple[float, float], margin: float, texts: Iterable[str], right: str = "") -> float:
    """Small print above the lower margin, wrapped to the page, and the day and page on the right below it.

    Returns
    -------
    float
        Inches from the lower edge of the page to the upper edge of the foot.
    """
    width, height = size
    lines = foot_lines(texts, width - 2 * margin)
    figure.text(
        margin / width, margin / height, "\n".join(lines), fontsize=7, va="bottom", linespacing=1.35,
    )  # fmt: skip
    figure.text(1 - margin / width, (margin - 0.16) / height, right, fontsize=7, ha="right", va="bottom")
    return margin + _LINE * len(lines)


LANE = 0.145  # inches that a ribbon stands high, read at arm's length: common practice


def draw_ribbon(axes: Axes, ribbon: Ribbon, edges: np.ndarray, base: float) -> None:
    """A ribbon standing on its base; picking lies about the middle of its lane, like a spindle."""
    kind = KINDS.get(ribbon.kind, KINDS["planted"])
    advised, lesser = ribbon.parts()
    full = 0.86 * LANE
    axes.plot([0, YEAR], [base, base], color=FAINT, lw=0.35, zorder=1)
    style: dict[str, Any] = {"zorder": 3, "linewidth": 0.5}
    corners = np.repeat(edges, 2)[1:-1]  # both ends of each cell, so that the last of a run is drawn whole

    def fill(values: np.ndarray, low: np.ndarray | float, **more: Any) -> None:
        high = np.repeat(values, 2)
        under = np.repeat(np.broadcast_to(low, values.shape), 2)
        axes.fill_between(corners, under, high, where=high > under + 1e-9, **{**style, **more})

    if ribbon.kind == "picked":
        middle, half = base + full / 2, advised * full / 2
        fill(middle + half, middle - half, facecolor=kind.face, edgecolor=kind.edge, hatch=kind.hatch)
    elif ribbon.kind == "under cover":
        standing = np.where(lesser > 0, 0.16, 0.0)
        fill(base + standing * full, base, facecolor=kind.edge, edgecolor="none", linewidth=0)
        fill(base + advised * full, base, facecolor=kind.face, edgecolor=kind.edge, hatch=kind.hatch)
    else:
        fill(base + lesser * full, base, facecolor="white", edgecolor=kind.edge)
        fill(base + advised * full, base, facecolor=kind.face, edgecolor=kind.edge, zorder=4)


def draw_key(figure: Figure, size: tuple[float, float], margin: float, kinds: set[str]) -> None:
    """What the ribbons mean, drawn as they are drawn below; the full height is ten years in ten."""
    width, height = size
    across = width - 2 * margin
    axes = figure.add_axes((margin / width, 1 - (margin + 0.62) / height, across / width, 0.2 / height))
    axes.set(xlim=(0, across), ylim=(0, 0.2))
    axes.axis("off")
    entries = [(k, v.words, True) for k, v in KINDS.items() if k in kinds and k != "planted"]
    if "planted" in kinds:
        entries = [("set out", phrase("set out, plant"), True) if e[0] == "set out" else e for e in entries]
        if "set out" not in kinds:
            entries.insert(-1, ("planted", phrase("plant"), True))
    entries.append(("sown outdoors", phrase("possible only"), False))
    x = 0.0
    for kind, words, advised in entries:
        ribbon = Ribbon(kind, np.array([0.6, 0.8, 1.0, 0.8]), np.full(4, advised))
        if kind == "under cover":  # two weeks of sowing, two of standing
            ribbon = Ribbon(kind, ribbon.strength, np.array([True, True, False, False]))
        _draw_ribbon_key(axes, ribbon, x)
        words = say(words)
        axes.text(x + 0.46, 0.07, words, va="center", fontsize=7)
        x += 0.62 + 0.054 * len(words)  # inches a letter of this print takes


def _draw_ribbon_key(axes: Axes, ribbon: Ribbon, x: float) -> None:
    from matplotlib.transforms import Affine2D

    before = len(axes.lines), len(axes.collections)
    draw_ribbon(axes, ribbon, np.array([0.0, 1, 2, 3, 4]), 0.0)
    shift = Affine2D().scale(0.1, 1).translate(x, 0.01) + axes.transData
    for line in list(axes.lines)[before[0] :]:
        line.remove()
    for patch in axes.collections[before[1] :]:
        patch.set_transform(shift)
