"""Two places crop by crop on paper: days on which each may be started, and how many years work."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from sowcal.outputs.days import date_text
from sowcal.outputs.figure_style import A4, FAINT, INK, PAIR, STYLE, new_figure, shown
from sowcal.outputs.screen import cut
from sowcal.outputs.wording import NO_PROMISE, in_ten
from sowcal.suitability.results import CompareResult, CropBeside

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["beside_figures"]

# Inches: common practice, tried on paper.
_MARGIN, _HEAD, _FOOT, _ROW = 0.5, 1.2, 0.35, 0.165
_NAME, _WIDE, _YEARS = 1.9, 2.75, 0.6  # crop; days; years that work, twice


def _mark(axes: Axes, x: float, y: float, k: int) -> None:
    """The first place a filled disc, the second an open square: told apart without colour."""
    axes.plot(
        [x],
        [y],
        marker="os"[k],
        ms=(4.2, 6.4)[k],
        mfc=PAIR[k] if k == 0 else "white",
        mec=PAIR[k],
        mew=1.2,
        ls="",
        zorder=4 - k,
    )


def _days_axis(axes: Axes, bottom: float) -> None:
    for days in (0, 100, 200, 300, 365):
        x = _NAME + days / 365 * _WIDE
        axes.plot([x, x], [0, bottom], color=FAINT, lw=0.4, zorder=0)
        axes.text(x, 0.03, f"{days}", ha="center", va="bottom", fontsize=7)


def _row(axes: Axes, crop: CropBeside, y: float) -> None:
    axes.plot([0, A4[0] - 2 * _MARGIN], [y - _ROW / 2] * 2, color=FAINT, lw=0.3, zorder=0)
    axes.text(0, y, cut(shown(crop.crop), 27), va="center", fontsize=7.5, weight="bold")
    places = [_NAME + days / 365 * _WIDE for days in crop.days]
    axes.plot(places, [y, y], color=INK, lw=1.1, zorder=2)
    for k in (0, 1):
        _mark(axes, places[k], y, k)
        left = _NAME + _WIDE + 0.2 + k * (_YEARS + 0.1)
        share = crop.reliability[k]
        best = crop.safer == k
        words = "-" if share is None else in_ten(share)
        axes.text(left, y, words, va="center", fontsize=7.5, weight="bold" if best else "normal")
    gone = _NAME + _WIDE + 0.2 + 2 * (_YEARS + 0.1)
    longer = "" if crop.longer is None else "AB"[crop.longer]
    safer = "" if crop.safer is None else "AB"[crop.safer]
    axes.text(gone + 0.2, y, longer or "alike", va="center", ha="center", fontsize=7.5)
    axes.text(gone + 0.75, y, safer or "alike", va="center", ha="center", fontsize=7.5)


def _page(
    result: CompareResult, crops: tuple[CropBeside, ...], page: int, pages: int, issued: dt.date | None
) -> Figure:
    width, height = A4
    figure = new_figure(A4)
    room = height - 2 * _MARGIN - _FOOT
    axes = figure.add_axes((_MARGIN / width, (_MARGIN + _FOOT) / height, 1 - 2 * _MARGIN / width, room / height))
    axes.set(xlim=(0, width - 2 * _MARGIN), ylim=(_HEAD - room, _HEAD))
    axes.axis("off")
    axes.text(0, _HEAD, "Crop by crop: the longer and the safer window", va="top", fontsize=13, weight="bold")
    for k in (0, 1):
        _mark(axes, 0.06, _HEAD - 0.38 - 0.19 * k, k)
        axes.text(
            0.2, _HEAD - 0.38 - 0.19 * k, f"{'AB'[k]}  {cut(shown(result.sites[k]), 90)}", va="center", fontsize=8.5
        )
    left = _NAME + _WIDE + 0.2
    heads = [
        (_NAME, "days of the year on which it may be started", "left"),
        (left, "years that work", "left"),
        (left + 2 * (_YEARS + 0.1) + 0.2, "longer", "center"),
        (left + 2 * (_YEARS + 0.1) + 0.75, "safer", "center"),
    ]
    for x, words, where in heads:
        axes.text(x, 0.2, words, fontsize=7, ha=where, va="bottom")
    for k in (0, 1):
        axes.text(left + k * (_YEARS + 0.1), 0.03, "AB"[k], fontsize=7, va="bottom")
    _days_axis(axes, -_ROW * len(crops))
    for n, crop in enumerate(crops):
        _row(axes, crop, -_ROW * (n + 0.5))
    foot = f"Longer: by a week or more. Safer: works in half a year of ten more. {NO_PROMISE}"
    figure.text(_MARGIN / width, (_MARGIN + 0.14) / height, foot, fontsize=7)
    figure.text(_MARGIN / width, _MARGIN / height, result.made_by.short(), fontsize=7)
    date = f"issued {date_text(issued)}   " if issued else ""
    figure.text(1 - _MARGIN / width, _MARGIN / height, f"{date}page {page} of {pages}", fontsize=7, ha="right")
    return figure


def beside_figures(result: CompareResult, *, issued: dt.date | None = None) -> list[Figure]:
    """Crop by crop, on as many A4 pages as they take; none where no crop is judged at both places.

    Parameters
    ----------
    result : CompareResult
    issued : datetime.date, optional
        Date of issue for the foot.
    """
    import matplotlib

    a_page = int((A4[1] - 2 * _MARGIN - _FOOT - _HEAD) / _ROW)
    parts = [result.crops[k : k + a_page] for k in range(0, len(result.crops), a_page)]
    with matplotlib.rc_context(STYLE):
        return [_page(result, part, n, len(parts), issued) for n, part in enumerate(parts, 1)]
