"""Text of a picture that is outside its page or over other text."""

import numpy as np
from matplotlib.text import Text

TOUCH = 1.5  # points by which boxes of letters may overlap: they have blank edges


def drawn(figure):
    """All text that is seen, with its box: words of axes, their titles, labels, ticks and keys."""
    figure.canvas.draw()
    unseen = set()
    for axes in figure.axes:
        for axis, (low, high) in ((axes.xaxis, sorted(axes.get_xlim())), (axes.yaxis, sorted(axes.get_ylim()))):
            for tick in [*axis.get_major_ticks(), *axis.get_minor_ticks()]:
                # ticks beyond the ends of an axis are made and not drawn
                if not axes.axison or not low - 1e-9 <= tick.get_loc() <= high + 1e-9:
                    unseen |= {id(tick.label1), id(tick.label2)}
            if not axes.axison:
                unseen.add(id(axis.label))
    found = [t for t in figure.findobj(Text) if t.get_visible() and t.get_text().strip() and id(t) not in unseen]
    return [(text, text.get_window_extent()) for text in found]


def faults(figure):
    """Texts outside the page, and pairs of them of which one lies over the other."""
    words = drawn(figure)
    page, slack = figure.bbox, TOUCH * figure.dpi / 72
    out = [
        f"outside: {text.get_text()!r}"
        for text, box in words
        if box.x0 < page.x0 or box.x1 > page.x1 or box.y0 < page.y0 or box.y1 > page.y1
    ]
    x0, y0, x1, y1 = np.array([(b.x0, b.y0, b.x1, b.y1) for _, b in words]).T
    wide = np.minimum(x1[:, None], x1) - np.maximum(x0[:, None], x0)
    high = np.minimum(y1[:, None], y1) - np.maximum(y0[:, None], y0)
    for one, two in zip(*np.nonzero(np.triu((wide > slack) & (high > slack), 1)), strict=True):
        out.append(f"over each other: {words[one][0].get_text()[:60]!r} and {words[two][0].get_text()[:60]!r}")
    return out
