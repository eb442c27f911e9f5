"""Draw reliability by start day for common crops on stations of different kinds, beside one another.

`python tests/validation/pictures.py FILE.png`; needs SOWCAL_REFERENCE.
"""

from __future__ import annotations

import sys

import guides
import numpy as np

from sowcal.answers import sowing_chart

STATIONS = ("seville", "san_diego_ca", "de_bilt", "hobart")
CROPS = (
    "tomato (large)",
    "sweet pepper (blocky)",
    "aubergine",
    "courgette",
    "cucumber",
    "melon",
    "winter squash",
    "sweet corn",
    "french bean (bush)",
    "potato (early)",
    "broad bean",
    "pea (shelling)",
    "lettuce (leaf)",
    "spinach",
    "carrot",
    "beetroot",
    "cabbage (white)",
    "cauliflower (autumn)",
    "broccoli (autumn)",
    "garlic (softneck)",
)


def main(path: str) -> None:
    """Draw and write."""
    from matplotlib.figure import Figure

    folder = guides.reference()
    figure = Figure(figsize=(16, 9))
    axes = figure.subplots(1, len(STATIONS), sharey=True)
    for ax, station in zip(axes, STATIONS, strict=True):
        chart = sowing_chart(guides.station_record(folder, station), CROPS)
        rows = []
        for line in chart.crops:
            ways = [s.reliability for s in line.starts if s.reliability is not None]
            rows.append(np.nanmax(ways, axis=0) if ways else np.zeros(365))
        ax.imshow(np.array(rows), aspect="auto", vmin=0, vmax=1, cmap="cividis", extent=(0, 12, len(rows), 0))
        for row, line in enumerate(chart.crops):
            for w in (w for s in line.starts for w in s.windows):
                first, last = w.start / 365 * 12, (w.end + 1) / 365 * 12
                for a, b in [(first, last)] if w.end >= w.start else [(first, 12), (0, last)]:
                    ax.plot([a, b], [row + 0.85, row + 0.85], color="red", lw=2)
        ax.set_title(station)
        ax.set_xticks(np.arange(12) + 0.5, list("JFMAMJJASOND"))
    axes[0].set_yticks(np.arange(len(CROPS)) + 0.5, CROPS)
    figure.tight_layout()
    figure.savefig(path, dpi=80)


if __name__ == "__main__":
    main(sys.argv[1])
