"""One picture of a growing year so far: its warmth, nights of frost and rain beside those of the record's years."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.climate.place_figures import DEGREE_DAY_BASE
from sowcal.climate.so_far import RunningSum, SoFar
from sowcal.errors import InputError
from sowcal.languages import counted, phrase, say
from sowcal.outputs.document import typeset
from sowcal.outputs.figure_style import A4, FAINT, INK, PAIR, STYLE, new_figure, shown
from sowcal.outputs.season_document import so_far_words
from sowcal.outputs.terminal import cut
from sowcal.outputs.wording import record_text
from sowcal.suitability.results import SeasonNow
from sowcal.units import converted, quantity
from sowcal.year import MONTH_LENGTHS, MONTHS, date_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["season_figures"]

_TITLES = {
    "warmth": phrase("Warmth: degree days above {base}, summed", base=quantity(DEGREE_DAY_BASE, "°C")),
    "frost": phrase("Frost: nights below {limit}, counted", limit=quantity(0.0, "°C")),
    "rain": "Rain, summed",
}
_UNITS = {
    "warmth": phrase("{unit} d", unit=quantity(0, "°C", form="unit")),
    "frost": "nights",
    "rain": quantity(0, "mm", form="unit"),
}
_KINDS = {"warmth": "degree days", "rain": "mm"}
_OWN, _YEARS = PAIR[1], PAIR[0]
_BAND = "#dfe6ec"
_AHEAD = 60  # days drawn after the last known one, so that what is usual to come is seen: common practice, no source
_LEAST = 150  # days drawn at least
_TENTHS = 9  # years from which the least is one in ten by i / (n + 1)
_GAP = 0.075  # of the height of a panel that words at its edge stand apart


def season_figures(season: SeasonNow, *, issued: dt.date | None = None) -> list[Figure]:
    """One A4 page: this growing year's warmth, frost and rain against 10, 50 and 90 per cent of the earlier years.

    Lines differ by their make (thick with a dot at its end; broken; thin), the band by its hatching, and each is named
    where it ends, so that grey print says the same.

    Raises
    ------
    InputError
        Where no day of this growing year is known, or fewer than five earlier years.
    """
    if season.so_far is None:
        raise InputError(
            f"there is no picture of the season on {date_text(season.date)}: the record has no day of its growing "
            "year, or fewer than five years before it; give --recent FILE, or --date with an earlier day"
        )
    import matplotlib

    found = season.so_far
    with matplotlib.rc_context(STYLE):
        figure = new_figure(A4)
        figure.text(0.085, 0.965, cut(f"The season at {shown(season.site)}", 60), fontsize=13, weight="bold", va="top")
        days = f"{date_text(found.first)} to {date_text(found.last)}"
        figure.text(0.085, 0.942, f"{days}, beside {counted(len(found.sums[0].years), 'earlier year')}", va="top")
        length = min(365, max(found.sums[0].day + 1 + _AHEAD, _LEAST))
        for k, one in enumerate(found.sums):
            axes = figure.add_axes((0.085, 0.675 - 0.285 * k, 0.735, 0.2))
            _panel(axes, found, one, length, so_far_words(found)[k])
        gaps = [f"{counted(s.filled, 'day')} of {s.name}" for s in found.sums if s.filled]
        foot = (
            f"Rests on {record_text(season.record)}." if season.record else "",
            "" if len(found.sums) == len(_TITLES) else "The record has no rain that can be told beside earlier years.",
            f"Missing, and taken as the mean of the other years: {', '.join(gaps)}." if gaps else "",
            "Band: 8 years in 10 lie within it, of fewer than nine all. Its lines are of each day, not of one year.",
        )
        for k, line in enumerate(filter(None, reversed(foot))):
            figure.text(0.085, 0.033 + 0.012 * k, cut(line, 130), fontsize=7)
        figure.text(0.085, 0.021, season.made_by.short(), fontsize=7)
        figure.text(0.94, 0.021, f"issued {date_text(issued)}" if issued else "", fontsize=7, ha="right")
        return [figure]


def _panel(axes: Axes, found: SoFar, one: RunningSum, length: int, words: str) -> None:
    """The years' band and middle, and this year's line upon them."""
    x = np.arange(1, length + 1)
    if kind := _KINDS.get(one.name):
        one = replace(one, own=converted(one.own, kind), years=converted(one.years, kind))
    low, middle, high = one.quantiles[:, :length]
    own = one.own[:length]
    steps: dict[str, Any] = {"drawstyle": "steps-post"} if one.name == "frost" else {}
    shape: dict[str, Any] = {"step": "post"} if one.name == "frost" else {}
    axes.fill_between(x, low, high, facecolor=_BAND, edgecolor="#a9b7c4", hatch="////", lw=0, zorder=1, **shape)
    for line in (low, high):
        axes.plot(x, line, color=_YEARS, lw=0.7, zorder=2, **steps)
    axes.plot(x, middle, color=_YEARS, lw=1.4, ls=(0, (4, 2)), zorder=3, **steps)
    axes.plot(x, own, color="white", lw=4.0, zorder=4, **steps)
    axes.plot(x, own, color=_OWN, lw=2.4, zorder=5, **steps)
    now = float(one.own[one.day])
    axes.plot([one.day + 1], [now], marker="o", ms=7, mfc="white", mec=_OWN, mew=2.0, ls="none", zorder=6)
    top = max(float(high[-1]), now, 5.0) * 1.06
    axes.set(xlim=(0, length), ylim=(0.0, top))
    axes.set_title(say(_TITLES[one.name]), loc="left", fontsize=10, weight="bold", pad=20)
    axes.text(0.0, 1.03, words[:1].upper() + typeset(words[1:]), transform=axes.transAxes, fontsize=8)
    if one.name == "frost":
        from matplotlib.ticker import MaxNLocator

        axes.yaxis.set_major_locator(MaxNLocator(integer=True))
    axes.set_ylabel(say(_UNITS[one.name]), fontsize=8)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    _months(axes, found.first.month - 1, length)
    _names(axes, one, length, top)


def _months(axes: Axes, first: int, length: int) -> None:
    edges, at, names = [0], [], []
    for k in range(12):
        month = (first + k) % 12
        begins = edges[-1]
        edges.append(begins + MONTH_LENGTHS[month])
        if begins + 12 <= length:  # room for its name
            at.append((begins + min(edges[-1], length)) / 2)
            names.append(MONTHS[month])
    axes.set_xticks(at, names, weight="bold")
    axes.tick_params(axis="x", length=0)
    for edge in edges[1:]:
        if edge < length:
            axes.axvline(edge, color=FAINT, lw=0.4, zorder=0)


def _names(axes: Axes, one: RunningSum, length: int, top: float) -> None:
    """Names of the lines at the right edge, moved apart where they would meet; this year's at its dot."""
    years = len(one.years)
    less, more = ("1 year in 10 is less", "1 year in 10 is more")
    if years < _TENTHS:
        less, more = f"least of {years} years", f"most of {years} years"
    values = one.quantiles[:, length - 1]
    ends = list(zip((less, "middle year", more), values, strict=True))
    heights: list[float] = []
    for _, value in ends:
        height = float(value) / top
        heights.append(max(height, heights[-1] + _GAP) if heights else height)
    over = max(heights[-1] - 1.0, 0.0)
    for (words, _), height in zip(ends, heights, strict=True):
        axes.text(1.01, height - over, words, transform=axes.transAxes, va="center", fontsize=7.5, color=INK)
    now, x = float(one.own[one.day]) / top, (one.day + 1) / length
    late = x > 0.84  # no room between the dot and the names at the edge
    rise = (0.08 if now < 0.85 else -0.14) if late else (-0.09 if one.name == "warmth" else 0.0)
    axes.text(
        x - 0.02 if late else x + 0.02,
        max(now + rise, 0.05),
        "this year",
        transform=axes.transAxes,
        ha="right" if late else "left",
        va="center",
        fontsize=9,
        weight="bold",
        color=INK,
        bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 1.0},
        zorder=7,
    )
