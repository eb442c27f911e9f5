"""One picture of a record's quality: coverage by year and month, and where each kind of problem lies."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sowcal.outputs.figure_style import A4, FAINT, INK, STYLE, new_figure, shown
from sowcal.weather.quality import KINDS, QualityReport

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["quality_figures"]

_MONTHS = "JFMAMJJASOND"


def _year_of(day: str) -> float:
    return int(day[:4]) + (int(day[5:7]) - 1) / 12 + (int(day[8:10]) - 1) / 365


def quality_figures(report: QualityReport) -> list[Figure]:
    """A page: months down, years across, the lighter the fewer days; below it one line for each kind of problem."""
    import matplotlib

    with matplotlib.rc_context(STYLE):
        figure = new_figure((A4[1], A4[0]))
        top, below = figure.subplots(2, 1, height_ratios=[3, 2], sharex=True)
        years = [y for y, _ in report.coverage_by_month]
        shares = np.array([[np.nan if m is None else m for m in months] for _, months in report.coverage_by_month])
        picture = top.imshow(
            shares.T, cmap="Greys", vmin=0.0, vmax=1.25, aspect="auto", interpolation="nearest",
            extent=(years[0], years[-1] + 1, 12, 0),
        )  # fmt: skip
        top.set_yticks(np.arange(12) + 0.5, list(_MONTHS))
        picture.set_rasterized(True)
        for year, share in enumerate(shares.T.T):
            for month in np.flatnonzero(share < 0.995):
                if share[month] < 0.5:  # a cross where half the days or more are missing: seen without shades
                    top.plot(years[0] + year + 0.5, month + 0.5, "x", color="#a03010", markersize=3)
        top.set_title(
            shown(
                f"{report.title}: {report.first} to {report.last}, {report.coverage_percent:g} per cent of days, "
                f"{report.filled_days} filled"
            ),
            loc="left",
        )
        top.set_ylabel("share of days known: dark is all, x is less than half")
        for row, kind in enumerate(KINDS):
            these = [p for p in report.problems if p.kind == kind]
            spans = [(_year_of(p.first), max(_year_of(p.last) - _year_of(p.first), 0.04)) for p in these]
            below.broken_barh(spans, (row - 0.35, 0.7), facecolors=INK)
        count = {k: sum(p.kind == k for p in report.problems) for k in KINDS}
        below.set_yticks(range(len(KINDS)), [f"{k} ({count[k]})" for k in KINDS])
        below.set_ylim(len(KINDS) - 0.5, -0.5)
        below.grid(axis="y", color=FAINT, linewidth=0.4)
        below.set_xlim(years[0], years[-1] + 1)
        below.xaxis.get_major_locator().set_params(integer=True)
        below.set_xlabel("year")
        figure.subplots_adjust(left=0.12, right=0.97, top=0.93, bottom=0.08, hspace=0.08)
    return [figure]
