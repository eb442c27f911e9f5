"""One picture of a place, or of two on the same axes: temperature, rain and water need, frost, by month; and one of
what is known of a record."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.climate.place_figures import HOT, VERY_HOT, ClimateSummary, definitions
from sowcal.errors import InputError
from sowcal.languages import say, say_crop
from sowcal.outputs.document import typeset
from sowcal.outputs.figure_style import A4, FAINT, INK, PAIR, STYLE, draw_foot, heading, new_figure, shown
from sowcal.outputs.terminal import cut
from sowcal.outputs.wording import NO_PROMISE, in_ten, record_of_summary, record_text
from sowcal.provenance import MadeBy
from sowcal.suitability.compare import CompareResult, CropBeside
from sowcal.units import amount, converted, told, unit_word
from sowcal.weather.quality import KINDS, Problem, QualityReport
from sowcal.year import MONTH_LENGTHS, MONTH_STARTS, MONTHS, YEAR, date_text, day_text, iso_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = [
    "beside_figures",
    "climate_figures",
    "quality_figures",
]

_MIDDLE = np.array(MONTH_STARTS) + np.array(MONTH_LENGTHS) / 2
# First and second place: dark with full lines, light with dashes and hatching.
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
    axes.set_xticks(_MIDDLE, [say(m) for m in MONTHS], weight="bold")
    axes.tick_params(axis="x", length=0)
    for edge in MONTH_STARTS[1:]:
        axes.axvline(edge, color=FAINT, lw=0.4, zorder=0)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.set_title(title, loc="left", fontsize=9.5, weight="bold")
    axes.set_ylabel(unit)


def _unknown(axes: Axes) -> None:
    axes.text(0.5, 0.5, say("not known"), transform=axes.transAxes, ha="center", va="center", fontsize=9)
    axes.set_yticks([])


def _temperature(axes: Axes, places: Sequence[ClimateSummary]) -> None:
    """Mean daily maximum and minimum, over bands of frost and of heat."""
    _months(axes, say("Mean daily maximum and minimum"), unit_word("°C"))
    freezing, hot, warmest = (converted(v, "°C") for v in (0.0, HOT, 36.0))
    lows = [converted(_twelve(p.tasmin), "°C") for p in places]
    highs = [converted(_twelve(p.tasmax), "°C") for p in places]
    values = np.concatenate([*lows, *highs])
    values = values[np.isfinite(values)]
    if not values.size:
        return _unknown(axes)
    room = converted(3.0, "°C apart")
    bottom, top = min(values.min(), freezing) - room, max(values.max() + room, warmest)
    axes.set_ylim(bottom, top)
    axes.axhspan(bottom, freezing, color=_FROST, lw=0, zorder=0)
    axes.axhspan(hot, top, color=_HEAT, lw=0, zorder=0)
    axes.text(YEAR - 3, (bottom + freezing) / 2, say("frost"), ha="right", va="center", fontsize=7.5)
    height = hot + 0.35 * min(top - hot, warmest - hot)
    axes.text(3, height, say("heat, above {hot}", hot=told(HOT, "°C")), fontsize=7.5)
    x = np.concatenate([_MIDDLE[-1:] - YEAR, _MIDDLE, _MIDDLE[:1] + YEAR])  # lines run on over New Year
    for k, (low, high) in enumerate(zip(lows, highs, strict=True)):
        low, high = (np.concatenate([v[-1:], v, v[:1]]) for v in (low, high))
        for line, words in ((high, say("maximum")), (low, say("minimum"))):
            axes.plot(x, line, color=PAIR[k], ls=_LINE[k], lw=1.6, marker="os"[k], ms=3.2)
            if len(places) == 1 and np.isfinite(line[6]):
                axes.text(_MIDDLE[5] - 8, line[6], words, ha="right", va="bottom", fontsize=7.5)
        if len(places) == 1:
            axes.fill_between(x, low, high, color=PAIR[k], alpha=0.10, lw=0)
    return None


def _rain(axes: Axes, places: Sequence[ClimateSummary]) -> None:
    """Rain as bars against reference evapotranspiration as a line."""
    _months(
        axes, say("Rain (bars) and reference evapotranspiration (lines)"), say("{unit} a month", unit=unit_word("mm"))
    )
    found = False
    count = len(places)
    wide = 20.0 / count
    for k, place in enumerate(places):
        rain, need = (converted(_twelve(months), "mm") for months in (place.pr, place.reference_evapotranspiration))
        found = found or bool(np.isfinite(rain).any() or np.isfinite(need).any())
        at = _MIDDLE + (k - (count - 1) / 2) * wide
        axes.bar(
            at,
            np.nan_to_num(rain),
            wide * 0.92,
            color=_RAIN[k],
            edgecolor=PAIR[k],
            hatch=_HATCH[k],
            lw=0.7,
        )
        if np.isfinite(need).any():
            axes.plot(
                _MIDDLE,
                need,
                color=INK if count == 1 else PAIR[k],
                ls=_LINE[k],
                lw=1.6,
                marker="os"[k],
                ms=3.2,
            )
    if not found:
        _unknown(axes)


def _heat(axes: Axes, places: Sequence[ClimateSummary]) -> None:
    """Days above 30 and 35 degC: the inner, heavier bar is part of the outer."""
    title = say(
        "Hot days: above {hot} (bars), of them above {very} (heavy part)",
        hot=told(HOT, "°C"),
        very=told(VERY_HOT, "°C"),
    )
    _months(axes, title, say("days a month"))
    count = len(places)
    wide = 20.0 / count
    found = False
    for k, place in enumerate(places):
        hot, very = _twelve(place.hot_days_30), _twelve(place.hot_days_35)
        found = found or bool(np.isfinite(hot).any())
        at = _MIDDLE + (k - (count - 1) / 2) * wide
        axes.bar(at, np.nan_to_num(hot), wide * 0.92, color="white", edgecolor=PAIR[k], hatch=_HATCH[k], lw=0.7)
        axes.bar(at, np.nan_to_num(very), wide * 0.92, color=PAIR[k], edgecolor=PAIR[k], lw=0.7)
    axes.set_ylim(0, 31)
    if not found:
        _unknown(axes)


def _frost(axes: Axes, place: ClimateSummary, k: int, name: str) -> None:
    """A bar a year from the last spring frost to the first autumn frost."""
    what = typeset(definitions()["frost_days"].short)
    what = "" if name else say(" (no {what})", what=what)  # beside another place there is no room
    title = say("Free of frost{what}, year by year{name}", what=what, name=name)
    years = place.frost_by_year
    spring, autumn = place.last_spring_frost, place.first_autumn_frost
    if place.years_without_frost == 1.0:
        title += say(": no frost in any year")
    elif spring is not None and autumn is not None and spring.p50 is not None and autumn.p50 is not None:
        title += say("; middle year: {day} to {day2}", day=day_text(spring.p50), day2=day_text(autumn.p50))
    _months(axes, title, "")
    if not years:
        _unknown(axes)
        return
    axes.set_ylim(years[-1].year + 0.6, years[0].year - 0.6)
    axes.set_yticks([years[0].year, *([years[-1].year] if len(years) > 1 else [])])
    axes.tick_params(axis="y", labelsize=7.5)
    for year in years:
        first, last = year.span((place.latitude or 0.0) < 0)
        spans = [(first, last - first + 1)] if first <= last else [(first, YEAR - first), (0, last + 1)]
        axes.broken_barh(
            spans, (year.year - 0.36, 0.72), facecolor="white" if _HATCH[k] else PAIR[k], edgecolor=PAIR[k], lw=0.5
        )


def _facts(place: ClimateSummary, *, brief: bool = False) -> str:
    """Warmth, chill and zone in a line; what is not known is left out, and `brief` names chill by one measure."""
    short = {name: typeset(d.short) for name, d in definitions(place.latitude).items()}
    said = []
    if place.growing_degree_days is not None:
        said.append(
            say(
                "warmth {warmth} {unit} days ({counted})",
                warmth=amount(place.growing_degree_days, "degree days", ".0f"),
                unit=unit_word("°C apart"),
                counted=short["growing_degree_days"],
            )
        )
    if place.chill_portions is not None:
        hours = ""
        if place.chill_hours is not None and not brief:
            hours = say(
                " ({hours:.0f} hours of {range})",
                hours=place.chill_hours,
                range=short["chill_hours"].partition(",")[0],
            )
        said.append(say("winter chill {portions:.0f} portions{hours}", portions=place.chill_portions, hours=hours))
    if place.hardiness_zone is not None:
        said.append(say("hardiness zone {zone}", zone=place.hardiness_zone))
    return ", ".join(said)


def _legend(figure: Figure, places: Sequence[ClimateSummary], y: float) -> None:
    """Names of the two places beside their line and their bar."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    handles: list = []
    labels = []
    for k, place in enumerate(places):
        line = Line2D([], [], color=PAIR[k], ls=_LINE[k], lw=1.6, marker="os"[k], ms=3.2)
        handles += [line, Patch(facecolor=_RAIN[k], edgecolor=PAIR[k], hatch=_HATCH[k])]
        labels += ["", cut(shown(say(place.site)), 32)]
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
        title = say("Climate: {title}", title=say(" and ").join(say(p.site) for p in places))
        figure.text(0.085, 0.965, va="top", **heading(title, 0.855 * A4[0], 13))
        if len(places) == 2:
            _legend(figure, places, 0.95)
        for k, place in enumerate(places):
            name = f"{shown(say(place.site))[:24]}: " if len(places) == 2 else ""
            facts = _facts(place, brief=bool(name))
            line = f"{name}{facts}" if name else facts[:1].upper() + facts[1:]
            figure.text(0.085, (0.925 if name else 0.94) - 0.016 * k, line if facts else "", fontsize=7.5, va="top")
        for low, high, draw in (
            (0.69, 0.87 if len(places) == 2 else 0.89, _temperature),
            (0.505, 0.635, _rain),
            (0.345, 0.45, _heat),
        ):
            draw(figure.add_axes((0.085, low, 0.855, high - low)), places)
        for k, place in enumerate(places):
            tall = 0.22 if len(places) == 1 else 0.0925
            name = say(" at {place}", place=shown(say(place.site))[:40]) if len(places) == 2 else ""
            axes = figure.add_axes((0.085, 0.29 - tall - k * (tall + 0.045), 0.855, tall))
            _frost(axes, place, k, name)
        record = "; ".join(record_text(r) for p in places if (r := record_of_summary(p)) is not None)
        made_by = replace(places[0].made_by, records=tuple(r for p in places for r in p.made_by.records)).short()
        date = say("issued {date}", date=date_text(issued)) if issued else ""
        figure.text(0.085, 0.032, say("Rests on {record}.", record=record) if record else "", fontsize=7)
        figure.text(0.085, 0.02, made_by, fontsize=7)
        figure.text(0.94, 0.02, date, fontsize=7, ha="right")
        return [figure]


# Inches: common practice, tried on paper.
_MARGIN, _HEAD, _FOOT, _ROW = 0.5, 1.2, 0.5, 0.165
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
    axes.text(0, y, cut(shown(say_crop(crop.crop)), 27), va="center", fontsize=7.5, weight="bold")
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
    axes.text(gone + 0.2, y, longer or say("alike"), va="center", ha="center", fontsize=7.5)
    axes.text(gone + 0.75, y, safer or say("alike"), va="center", ha="center", fontsize=7.5)


def _page(
    result: CompareResult, crops: tuple[CropBeside, ...], page: int, pages: int, issued: dt.date | None
) -> Figure:
    width, height = A4
    figure = new_figure(A4)
    room = height - 2 * _MARGIN - _FOOT
    axes = figure.add_axes((_MARGIN / width, (_MARGIN + _FOOT) / height, 1 - 2 * _MARGIN / width, room / height))
    axes.set(xlim=(0, width - 2 * _MARGIN), ylim=(_HEAD - room, _HEAD))
    axes.axis("off")
    axes.text(0, _HEAD, say("Crop by crop: the longer and the safer window"), va="top", fontsize=13, weight="bold")
    for k in (0, 1):
        _mark(axes, 0.06, _HEAD - 0.38 - 0.19 * k, k)
        axes.text(
            0.2,
            _HEAD - 0.38 - 0.19 * k,
            f"{'AB'[k]}  {cut(shown(say(result.sites[k])), 90)}",
            va="center",
            fontsize=8.5,
        )
    left = _NAME + _WIDE + 0.2
    heads = [
        (_NAME, say("days of the year on which it may be started"), "left"),
        (left, say("years that work"), "left"),
        (left + 2 * (_YEARS + 0.1) + 0.2, say("longer"), "center"),
        (left + 2 * (_YEARS + 0.1) + 0.75, say("safer"), "center"),
    ]
    for x, words, where in heads:
        axes.text(x, 0.2, words, fontsize=7, ha=where, va="bottom")
    for k in (0, 1):
        axes.text(left + k * (_YEARS + 0.1), 0.03, "AB"[k], fontsize=7, va="bottom")
    _days_axis(axes, -_ROW * len(crops))
    for n, crop in enumerate(crops):
        _row(axes, crop, -_ROW * (n + 0.5))
    foot = say("Longer: by a week or more. Safer: works in half a year of ten more. {promise}", promise=say(NO_PROMISE))
    date = say("issued {date}   ", date=date_text(issued)) if issued else ""
    of_all = say("{date}page {page} of {pages}", date=date, page=page, pages=pages)
    draw_foot(figure, A4, _MARGIN, (foot, result.made_by.short()), of_all)
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
    axes.set_yticks(np.arange(12) + 0.5, list(MONTHS))
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
