"""One picture of a place, or of two on the same axes: temperature, rain and water need, frost, by month."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sowcal.climate.summary_record import ClimateSummary, Odds
from sowcal.errors import InputError
from sowcal.outputs.days import MONTH_LENGTHS, MONTH_STARTS, MONTHS, YEAR, date_text, day_text
from sowcal.outputs.figure_style import A4, FAINT, INK, STYLE, new_figure, shown
from sowcal.outputs.wording import record_of_summary, record_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["climate_figures"]

_MIDDLE = np.array(MONTH_STARTS) + np.array(MONTH_LENGTHS) / 2
# First and second place: dark with full lines, light with dashes and hatching.
_COLOUR = ("#16324f", "#c9682b")
_LINE = ("-", (0, (5, 2)))
_HATCH = ("", "/////")
_RAIN = ("#9fb4c7", "white")  # pale, so that the lines show upon the bars
_FROST, _HEAT = "#dfe9f2", "#f7e3d4"


def _twelve(values: Sequence[float | None] | None) -> np.ndarray:
    """Twelve values with NaN for what is not known."""
    if values is None:
        return np.full(12, np.nan)
    return np.array([math.nan if v is None else v for v in values], dtype=float)


def _months(axes: Axes, title: str, unit: str) -> None:
    axes.set_xlim(0, YEAR)
    axes.set_xticks(_MIDDLE, MONTHS, weight="bold")
    axes.tick_params(axis="x", length=0)
    for edge in MONTH_STARTS[1:]:
        axes.axvline(edge, color=FAINT, lw=0.4, zorder=0)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.set_title(title, loc="left", fontsize=9.5, weight="bold")
    axes.set_ylabel(unit)


def _unknown(axes: Axes) -> None:
    axes.text(0.5, 0.5, "not known", transform=axes.transAxes, ha="center", va="center", fontsize=9)
    axes.set_yticks([])


def _temperature(axes: Axes, places: Sequence[ClimateSummary]) -> None:
    """Mean daily maximum and minimum, over bands of frost and of heat."""
    _months(axes, "Mean daily maximum and minimum", "°C")
    lows = [_twelve(p.tasmin) for p in places]
    highs = [_twelve(p.tasmax) for p in places]
    values = np.concatenate([*lows, *highs])
    values = values[np.isfinite(values)]
    if not values.size:
        return _unknown(axes)
    bottom, top = min(values.min() - 3, -3), max(values.max() + 3, 36)
    axes.set_ylim(bottom, top)
    axes.axhspan(bottom, 0, color=_FROST, lw=0, zorder=0)
    axes.axhspan(30, top, color=_HEAT, lw=0, zorder=0)
    axes.text(YEAR - 3, (bottom + 0) / 2, "frost", ha="right", va="center", fontsize=7.5)
    axes.text(3, 30 + 0.35 * min(top - 30, 6), "heat, above 30 °C", fontsize=7.5)
    x = np.concatenate([_MIDDLE[-1:] - YEAR, _MIDDLE, _MIDDLE[:1] + YEAR])  # lines run on over New Year
    for k, (low, high) in enumerate(zip(lows, highs, strict=True)):
        low, high = (np.concatenate([v[-1:], v, v[:1]]) for v in (low, high))
        for line, words in ((high, "maximum"), (low, "minimum")):
            axes.plot(x, line, color=_COLOUR[k], ls=_LINE[k], lw=1.6, marker="os"[k], ms=3.2)
            if len(places) == 1 and np.isfinite(line[6]):
                axes.text(_MIDDLE[5] - 8, line[6], words, ha="right", va="bottom", fontsize=7.5)
        if len(places) == 1:
            axes.fill_between(x, low, high, color=_COLOUR[k], alpha=0.10, lw=0)
    return None


def _rain(axes: Axes, places: Sequence[ClimateSummary]) -> None:
    """Rain as bars against reference evapotranspiration as a line."""
    _months(axes, "Rain (bars) and reference evapotranspiration (lines)", "mm a month")
    found = False
    count = len(places)
    wide = 20.0 / count
    for k, place in enumerate(places):
        rain, need = _twelve(place.pr), _twelve(place.reference_evapotranspiration)
        found = found or bool(np.isfinite(rain).any() or np.isfinite(need).any())
        at = _MIDDLE + (k - (count - 1) / 2) * wide
        axes.bar(
            at,
            np.nan_to_num(rain),
            wide * 0.92,
            color=_RAIN[k],
            edgecolor=_COLOUR[k],
            hatch=_HATCH[k],
            lw=0.7,
        )
        if np.isfinite(need).any():
            axes.plot(
                _MIDDLE,
                need,
                color=INK if count == 1 else _COLOUR[k],
                ls=_LINE[k],
                lw=1.6,
                marker="os"[k],
                ms=3.2,
            )
    if not found:
        _unknown(axes)


def _heat(axes: Axes, places: Sequence[ClimateSummary]) -> None:
    """Days above 30 and 35 degC: the inner, heavier bar is part of the outer."""
    _months(axes, "Hot days: above 30 °C (bars), of them above 35 °C (heavy part)", "days a month")
    count = len(places)
    wide = 20.0 / count
    found = False
    for k, place in enumerate(places):
        hot, very = _twelve(place.hot_days_30), _twelve(place.hot_days_35)
        found = found or bool(np.isfinite(hot).any())
        at = _MIDDLE + (k - (count - 1) / 2) * wide
        axes.bar(at, np.nan_to_num(hot), wide * 0.92, color="white", edgecolor=_COLOUR[k], hatch=_HATCH[k], lw=0.7)
        axes.bar(at, np.nan_to_num(very), wide * 0.92, color=_COLOUR[k], edgecolor=_COLOUR[k], lw=0.7)
    axes.set_ylim(0, 31)
    if not found:
        _unknown(axes)


def _pieces(first: int, last: int) -> list[tuple[int, int]]:
    """A span as (start, length), parted at New Year."""
    if first <= last:
        return [(first, last - first + 1)]
    return [(first, YEAR - first), (0, last + 1)]


def _span(axes: Axes, y: float, spring: Odds, autumn: Odds, k: int) -> None:
    """Frost-free season: thin where one year in ten is still free, thick where nine in ten are."""
    for first, last, height in (
        (spring.p10, autumn.p90, 0.16),
        (spring.p50, autumn.p50, 0.34),
        (spring.p90, autumn.p10, 0.6),
    ):
        if first is None or last is None:  # no frost at these odds: free all year
            first, last = 0, YEAR - 1
        for start, length in _pieces(first, last):
            axes.broken_barh(
                [(start, length)], (y - height / 2, height), facecolor="white" if _HATCH[k] else _COLOUR[k],
                edgecolor=_COLOUR[k], hatch=_HATCH[k], lw=0.7,
            )  # fmt: skip


def _frost(axes: Axes, places: Sequence[ClimateSummary]) -> None:
    _months(axes, "Free of frost: thick in 9 years of 10, middle in 5, thin in 1", "")
    axes.set_ylim(-0.75, len(places) - 0.3)
    axes.set_yticks([])
    for k, place in enumerate(places):
        y = len(places) - 1 - k
        spring, autumn = place.last_spring_frost, place.first_autumn_frost
        if place.years_without_frost == 1.0:
            axes.broken_barh([(0, YEAR)], (y - 0.3, 0.6), facecolor=_COLOUR[k])
            words = "no frost in any year"
        elif spring is None or autumn is None:
            words = "not known"
        else:
            _span(axes, y, spring, autumn, k)
            words = "no frost in the middle year"
            if spring.p50 is not None and autumn.p50 is not None:
                words = f"middle year: last frost {day_text(spring.p50)}, first frost {day_text(autumn.p50)}"
        axes.text(2, y - 0.42, words, fontsize=7.5, va="top")


def _legend(figure: Figure, places: Sequence[ClimateSummary], y: float) -> None:
    """Names of the two places beside their line and their bar."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    handles: list = []
    labels = []
    for k, place in enumerate(places):
        line = Line2D([], [], color=_COLOUR[k], ls=_LINE[k], lw=1.6, marker="os"[k], ms=3.2)
        handles += [line, Patch(facecolor=_RAIN[k], edgecolor=_COLOUR[k], hatch=_HATCH[k])]
        labels += ["", shown(place.site)[:50]]
    figure.legend(
        handles, labels, loc="upper left", bbox_to_anchor=(0.085, y), ncols=4, frameon=False, fontsize=8.5,
        columnspacing=0.6, handlelength=3.2,
    )  # fmt: skip


def climate_figures(
    places: ClimateSummary | Sequence[ClimateSummary], *, issued: dt.date | None = None
) -> list[Figure]:
    """One A4 page of one place, or of two places on the same axes.

    Parameters
    ----------
    places : ClimateSummary or sequence of one or two
    issued : datetime.date, optional
        Date of issue for the foot.

    Returns
    -------
    list of one matplotlib.figure.Figure

    Raises
    ------
    InputError
        Where there are no places or more than two.
    """
    places = [places] if isinstance(places, ClimateSummary) else list(places)
    if not 1 <= len(places) <= 2:
        raise InputError(f"a picture shows one place or two, not {len(places)}; name one or two sites")
    import matplotlib

    with matplotlib.rc_context(STYLE):
        figure = new_figure(A4)
        title = " and ".join(shown(p.site)[: 60 // len(places)] for p in places)
        figure.text(0.085, 0.965, f"Climate: {title}", fontsize=13, weight="bold", va="top")
        if len(places) == 2:
            _legend(figure, places, 0.95)
        tall = 0.07 if len(places) == 1 else 0.11
        for low, high, draw in (
            (0.655, 0.895, _temperature),
            (0.42, 0.59, _rain),
            (0.235, 0.36, _heat),
            (0.17 - tall, 0.17, _frost),
        ):
            axes = figure.add_axes((0.085, low, 0.855, high - low))
            draw(axes, places)
        record = "; ".join(record_text(r) for p in places if (r := record_of_summary(p)) is not None)
        made_by = replace(places[0].made_by, records=tuple(r for p in places for r in p.made_by.records)).short()
        date = f"issued {date_text(issued)}" if issued else ""
        figure.text(0.085, 0.02, f"{f'Rests on {record}. ' if record else ''}{made_by}", fontsize=7)
        figure.text(0.94, 0.02, date, fontsize=7, ha="right")
        return [figure]
