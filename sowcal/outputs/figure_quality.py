"""One picture of a record's quality: coverage by year and month, and where each kind of problem lies."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.made_by import MadeBy
from sowcal.outputs.days import iso_text
from sowcal.outputs.figure_style import A4, FAINT, INK, STYLE, new_figure, shown
from sowcal.weather.quality import KINDS, Problem, QualityReport

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["quality_figures"]

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_MARK = "#a03010"
_OF_LONG_SPANS = ("gap", "rounding", "shift")  # these are no slips of single days: only below
_POOR = 0.5  # share of days below which a month gets a cross, seen without shades


def _year_of(day: str) -> float:
    return int(day[:4]) + (int(day[5:7]) - 1) / 12 + (int(day[8:10]) - 1) / 365


def _coverage(axes: Any, report: QualityReport) -> Any:
    """Months down, years across, the lighter the fewer days."""
    years = [y for y, _ in report.coverage_by_month]
    shares = np.array([[np.nan if m is None else m for m in months] for _, months in report.coverage_by_month])
    picture = axes.imshow(
        shares.T, cmap="Greys", vmin=0.0, vmax=1.25, aspect="auto", interpolation="nearest",
        extent=(years[0], years[-1] + 1, 12, 0),
    )  # fmt: skip
    picture.set_rasterized(True)
    axes.set_yticks(np.arange(12) + 0.5, list(_MONTHS))
    for row, month in np.argwhere(shares < _POOR):
        axes.plot(years[0] + row + 0.5, month + 0.5, "x", color=_MARK, markersize=4, label="_poor")
    return picture


def _problem_months(problems: tuple[Problem, ...]) -> set[tuple[int, int]]:
    """Years and months (from 0) that slips of single days touch."""
    out = set()
    for p in problems:
        if p.kind not in _OF_LONG_SPANS:
            first, last = (12 * int(d[:4]) + int(d[5:7]) - 1 for d in (p.first, p.last))
            out |= {divmod(k, 12) for k in range(first, last + 1)}
    return out


def quality_figures(report: QualityReport, made_by: MadeBy | None = None) -> list[Figure]:
    """A page: coverage of each month, slips marked on it; below it one line for each kind of problem."""
    import matplotlib

    with matplotlib.rc_context(STYLE):
        figure = new_figure((A4[1], A4[0]))
        top, below = figure.subplots(2, 1, height_ratios=[3, 2], sharex=True)
        picture = _coverage(top, report)
        for year, month in sorted(_problem_months(report.problems)):
            top.plot(
                year + 0.5, month + 0.5, "^", color="white", markeredgecolor=_MARK, markeredgewidth=1.1, markersize=6,
                label="_slip",
            )  # fmt: skip
        for p in report.problems:
            if p.kind == "shift":
                top.axvline(_year_of(p.first), color=_MARK, linewidth=1.2, linestyle="--", label="_shift")
        top.set_title(
            shown(
                f"{report.title}: {iso_text(report.first)} to {iso_text(report.last)}, "
                f"{report.coverage_percent:g} per cent of days, "
                f"{report.filled_days} filled"
            ),
            loc="left",
        )
        scale = figure.colorbar(
            picture, cax=figure.add_axes((0.92, 0.5, 0.015, 0.44)), boundaries=np.linspace(0, 1, 11)
        )
        scale.set_label("share of the month's days with minimum and maximum")
        _kinds(below, report)
        figure.text(
            0.12, 0.015, "x: under half of the days.  Triangle: days that look wrong.  Broken line: the mean steps.",
            fontsize=7,
        )  # fmt: skip
        if made_by:
            figure.text(0.985, 0.015, made_by.short(), fontsize=7, ha="right")
        figure.subplots_adjust(left=0.12, right=0.9, top=0.94, bottom=0.09, hspace=0.06)
    return [figure]


def _kinds(axes: Any, report: QualityReport) -> None:
    """A line for each kind, a bar for each problem."""
    years = [y for y, _ in report.coverage_by_month]
    count = {k: sum(p.kind == k for p in report.problems) for k in KINDS}
    for row, kind in enumerate(KINDS):
        these = [p for p in report.problems if p.kind == kind]
        ends = [p.first if kind == "shift" else p.last for p in these]  # a step is a day, all after it is its wake
        spans = [
            (_year_of(p.first), max(_year_of(e) - _year_of(p.first), 0.06)) for p, e in zip(these, ends, strict=True)
        ]
        axes.broken_barh(spans, (row - 0.35, 0.7), facecolors=INK if kind in _OF_LONG_SPANS else _MARK)
    axes.set_yticks(range(len(KINDS)), [f"{k} ({count[k]})" for k in KINDS])
    axes.set_ylim(len(KINDS) - 0.5, -0.5)
    axes.grid(axis="y", color=FAINT, linewidth=0.4)
    axes.set_xlim(years[0], years[-1] + 1)
    axes.xaxis.get_major_locator().set_params(integer=True)
    axes.set_xlabel("year")
