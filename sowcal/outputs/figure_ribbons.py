"""Ribbons of the chart on paper, and the key that draws them as they are drawn below it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.outputs.days import YEAR
from sowcal.outputs.figure_style import FAINT, KINDS
from sowcal.outputs.ribbons import Ribbon

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["LANE", "draw_key", "draw_ribbon"]

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
    draw_ribbon(axes, ribbon, np.array([0.0, 1, 2, 3, 4]), 0.0)
    shift = Affine2D().scale(0.1, 1).translate(x, 0.01) + axes.transData
    for line in list(axes.lines)[before[0] :]:
        line.remove()
    for patch in axes.collections[before[1] :]:
        patch.set_transform(shift)
