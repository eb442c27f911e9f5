"""A picture of the garden's water: the tank level through the year with its spread, and what the beds draw."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.garden.plan import GardenPlan
from sowcal.garden.store import known_levels, level_spread
from sowcal.outputs.figure_style import A4, FAINT, INK, STYLE, new_figure, shown
from sowcal.outputs.verdict_document import change_words, limit_words
from sowcal.outputs.wording import NO_PROMISE, odds_text
from sowcal.plurals import counted
from sowcal.provenance import MadeBy
from sowcal.suitability.results import CropVerdict
from sowcal.weather.quality import KINDS, Problem, QualityReport
from sowcal.year import MONTH_STARTS, MONTHS, date_text, day_text, iso_text

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sowcal.seasons.perennial_years import PerennialYears

__all__ = [
    "garden_figures",
    "quality_figures",
    "years_figures",
]

_DEEP, _THIN, _PALE, _EARTH = "#16324f", "#86a3c3", "#b8cbe0", "#c9682b"


def garden_figures(plan: GardenPlan) -> list[Figure]:
    """One page: tank level above, water drawn by week below.

    Parameters
    ----------
    plan : GardenPlan

    Returns
    -------
    list of matplotlib.figure.Figure
    """
    import matplotlib

    with matplotlib.rc_context(STYLE):
        figure = new_figure((11.0, 7.2))
        # a southern summer lies in the middle of the picture too
        turn = 181 if plan.latitude < 0 else 0
        upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(3, 2))
        figure.subplots_adjust(left=0.075, right=0.975, top=0.845, bottom=0.075, hspace=0.14)
        figure.text(0.02, 0.955, shown(plan.garden.name), size=15, weight="bold")
        figure.text(0.02, 0.912, shown(_story(plan)), size=9.5)
        _levels(upper, plan, turn)
        _drawn(lower, plan, turn)
        figure.text(0.975, 0.012, plan.made_by.short(), size=7, ha="right")
        for axes in (upper, lower):
            _months(axes, turn)
        return [figure]


def _story(plan: GardenPlan) -> str:
    store = plan.store
    if store.chance_dry is None or not plan.need.draws:
        return "Nothing draws on the store."
    odds = odds_text(store.chance_dry)
    parts = [f"{store.capacity:,.0f} litres; dry {'in ' if '%' in odds else ''}{odds}"]
    if store.first_dry is not None:
        parts.append(f"first about {day_text(store.first_dry)}")
    if store.lasts is not None:
        parts.append(f"a full store lasts {counted(round(store.lasts), 'day')} from 1 {store.month_name}")
    if store.size_for_9_in_10:
        parts.append(f"{round(store.size_for_9_in_10, -2):,.0f} litres would last 9 years in 10")
    return ", ".join(parts)


def _levels(axes, plan: GardenPlan, turn: int) -> None:
    axes.set_ylabel("water in the store, litres")
    top = max(plan.store.capacity, 1.0)
    axes.set_ylim(0, 1.08 * top)
    axes.axhline(plan.store.capacity, color=FAINT, linewidth=0.8)
    if (spread := level_spread(plan.store.levels)) is not None:
        _, low, mid, high, _ = np.roll(spread, -turn, axis=1)
        x = np.arange(365)
        for year in known_levels(plan.store.levels):
            axes.plot(x, np.roll(year, -turn), color=_THIN, linewidth=0.5, alpha=0.7, zorder=1)
        axes.fill_between(x, low, high, color=_PALE, alpha=0.75, linewidth=0, zorder=2, label="8 years in 10")
        axes.plot(x, mid, color=_DEEP, linewidth=2.0, zorder=3, label="median")
        axes.plot([], [], color=_THIN, linewidth=0.8, label="each year")
        axes.legend(loc="upper right", bbox_to_anchor=(1.0, 1.11), ncols=3, frameon=False, fontsize=8)
    axes.text(2, 1.015 * top, "full", color=INK, size=7.5, va="bottom")


def _drawn(axes, plan: GardenPlan, turn: int) -> None:
    axes.set_ylabel("drawn by the beds, litres a day")
    median, dry = (np.roll(plan.need.by_day(q), -turn) for q in (0.5, 0.9))
    x = np.arange(365)
    axes.fill_between(x, 0, median, step="mid", color=_DEEP, linewidth=0, label="median year")
    axes.step(x, dry, where="mid", color=_EARTH, linewidth=1.4, linestyle="--", label="dry year in ten")
    axes.set_ylim(0, max(float(dry.max(initial=0.0)) * 1.15, 1.0))
    axes.legend(loc="upper right", frameon=False, fontsize=8)


def _months(axes, turn: int) -> None:
    order = np.argsort([(s - turn) % 365 for s in MONTH_STARTS], kind="stable")
    starts = [(MONTH_STARTS[m] - turn) % 365 for m in order]
    axes.set_xlim(0, 365)
    axes.set_xticks([s + 15 for s in starts], [MONTHS[m] for m in order])
    axes.tick_params(axis="x", length=0)
    for s in starts[1:]:
        axes.axvline(s, color=FAINT, linewidth=0.4, zorder=0)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.yaxis.set_major_formatter(lambda value, _: f"{value:,.0f}")


_ROWS = (
    ("chill unmet", "winter chill"),
    ("winter too mild", "cold enough a winter"),
    ("winter kill", "life through the cold"),
    ("frost on blossom", "blossom past frost"),
    ("frost", "growth and fruit past frost"),
    ("summer kill", "life through the heat"),
    ("heat", "growth in the heat"),
    ("too slow", "warmth to ripen"),
)
_FULL, _PART, _LINE = "#16324f", "#c8682b", "#9aa3a8"


def years_figures(
    site: str,
    crop: str,
    years: PerennialYears,
    verdict: CropVerdict,
    *,
    issued: dt.date | None = None,
    made_by: MadeBy | None = None,
) -> list[Figure]:
    """One A4 page: a row for each thing the crop needs, a bar for each year; a full bar lost nothing.

    Parameters
    ----------
    site, crop : str
    years : PerennialYears
    verdict : CropVerdict
    issued : datetime.date, optional
        Date of issue for the foot.
    made_by : MadeBy, optional
        For the foot.
    """
    rows = [(words, years.shares[h]) for h, words in _ROWS if h in years.shares]
    rows.append(("CROP OF THE YEAR", years.crop))
    figure = new_figure((8.27, 11.69))
    figure.text(0.08, 0.945, shown(f"{crop} at {site}"), fontsize=15, weight="bold")
    figure.text(
        0.08,
        0.92,
        "A bar a year. A full dark bar: the year took nothing. A short orange one: less than half was left.",
        fontsize=9,
    )
    axes = figure.subplots(len(rows), 1, sharex=True, squeeze=False)[:, 0]
    figure.subplots_adjust(left=0.3, right=0.95, top=0.89, bottom=0.26, hspace=0.35)
    for ax, (words, share) in zip(axes, rows, strict=True):
        known = np.isfinite(years.crop)
        height = np.where(known, share, 0.0)
        low = known & (height < 0.5)
        ax.bar(years.years[~low], height[~low], width=0.75, color=_FULL)
        ax.bar(years.years[low], np.maximum(height[low], 0.03), width=0.75, color=_PART, hatch="///", edgecolor="white")
        ax.axhline(0.5, color=_LINE, lw=0.6)
        ax.set_ylim(0, 1.02)
        ax.set_yticks([])
        ax.set_ylabel(words, rotation=0, ha="right", va="center", fontsize=9)
        for side in ("top", "right", "left"):
            ax.spines[side].set_visible(False)
    axes[-1].yaxis.label.set_weight("bold")
    axes[-1].tick_params(labelsize=8)
    limit = f"; what limits it most: {limit_words(verdict)}" if verdict.limiting_factor else ""
    figure.text(0.08, 0.19, f"{verdict.word.upper()}{limit}", fontsize=13, weight="bold")
    lines = [change_words(t) for t in verdict.what_would_change_it] + [f"caution: {c}" for c in verdict.cautions]
    for k, line in enumerate(lines[:5]):
        figure.text(0.08, 0.165 - 0.018 * k, shown(line)[:115], fontsize=8.5)
    figure.text(0.08, 0.04, NO_PROMISE, fontsize=7.5)
    if made_by:
        figure.text(0.08, 0.025, made_by.short(), fontsize=7.5)
    if issued:
        figure.text(0.92, 0.04, f"issued {date_text(issued)}", fontsize=7.5, ha="right")
    return [figure]


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
