"""A perennial's years in a row: what each left of the crop, hazard by hazard, and the verdict below."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np

from sowcal.made_by import MadeBy
from sowcal.outputs.days import date_text
from sowcal.outputs.evidence import change_words, limit_words
from sowcal.outputs.figure_style import new_figure, shown
from sowcal.outputs.wording import NO_PROMISE
from sowcal.suitability.results import CropVerdict

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sowcal.seasons.perennial_years import PerennialYears

__all__ = ["years_figures"]

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
