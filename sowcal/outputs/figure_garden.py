"""A picture of the garden's water: the tank level through the year with its spread, and what the beds draw."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sowcal.counted import counted
from sowcal.garden.plan import GardenPlan
from sowcal.outputs.days import MONTH_STARTS, MONTHS, day_text
from sowcal.outputs.figure_style import FAINT, INK, STYLE, new_figure, shown
from sowcal.outputs.wording import odds_text

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["garden_figures"]

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
    if store.chance_dry is None or plan.need.daily.sum() <= 0:
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
    levels = plan.store.levels
    good = np.isfinite(levels).any(axis=1) if levels.size else np.zeros(0, dtype=bool)
    if good.any():
        low, mid, high = (np.roll(q, -turn) for q in np.nanquantile(levels[good], [0.1, 0.5, 0.9], axis=0))
        x = np.arange(365)
        for year in levels[good]:
            axes.plot(x, np.roll(year, -turn), color=_THIN, linewidth=0.5, alpha=0.7, zorder=1)
        axes.fill_between(x, low, high, color=_PALE, alpha=0.75, linewidth=0, zorder=2, label="8 years in 10")
        axes.plot(x, mid, color=_DEEP, linewidth=2.0, zorder=3, label="median")
        axes.plot([], [], color=_THIN, linewidth=0.8, label="each year")
        axes.legend(loc="upper right", bbox_to_anchor=(1.0, 1.11), ncols=3, frameon=False, fontsize=8)
    axes.text(2, 1.015 * top, "full", color=INK, size=7.5, va="bottom")


def _drawn(axes, plan: GardenPlan, turn: int) -> None:
    axes.set_ylabel("drawn by the beds, litres a day")
    days = np.full(52, 7)
    days[-1] = 8
    median, dry = (np.roll(np.repeat(plan.need.week(q) / days, days), -turn) for q in (0.5, 0.9))
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
