"""The look that all pictures share: paper, ink, and one pattern for each kind of work.

Each kind differs in lightness, hatch and shape as well as in colour, so that a photocopy and every kind of
colour vision tell them apart: common practice; the choice is our own.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = [
    "A4",
    "CLASS_LOOKS",
    "FAINT",
    "INK",
    "KINDS",
    "MONTH_COLOURS",
    "PAIR",
    "SCALE",
    "SEA",
    "STYLE",
    "Kind",
    "new_figure",
    "shown",
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
    "under cover": Kind("#ddd0ef", "#6a4c93", "/////", "sow under cover, raise there (line)"),
    "sown outdoors": Kind("#16324f", "#16324f", "", "sow outdoors"),
    "set out": Kind("#c9682b", "#7c3c12", "", "set out"),
    "planted": Kind("#c9682b", "#7c3c12", "", "plant"),
    "picked": Kind("#e6f0cf", "#5b7031", "....", "pick"),
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
# January to December: blue growing lighter to midyear, then orange growing darker, so that the year closes
MONTH_COLOURS = (
    "#16324f", "#245074", "#386f97", "#5b92b5", "#8fb7cd", "#c7dce6",
    "#f6dfc0", "#ecbf88", "#dd9a56", "#c4742f", "#97531f", "#633617",
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
    from sowcal.outputs.screen import plain

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
