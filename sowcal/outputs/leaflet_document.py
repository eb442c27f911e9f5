"""A printed leaflet beside one plot, told for screen and page, drawn on one axis of months, and as JSON and a table."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Any

from sowcal.languages import counted, figure, phrase, say, say_count, say_crop
from sowcal.outputs.document import Column, Document, Paragraph, Part, Table
from sowcal.outputs.figure_style import A4, FAINT, INK, PAIR, STYLE, draw_foot, new_figure, shown
from sowcal.outputs.tables import TableSheet
from sowcal.outputs.terminal import cut, wrap
from sowcal.outputs.wording import NO_PROMISE, foot_text, odds_text, record_text, three_words
from sowcal.suitability.leaflet import BesideLeaflet, LeafletAnswer, Less, More
from sowcal.year import MONTHS, date_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["leaflet_document", "leaflet_figures", "leaflet_json", "leaflet_tables", "less_words", "more_words"]

_MOST = 14  # lines on a screen unless all are asked for
_MARKS = "#-+."  # both, the leaflet alone, the plot alone, neither
_SIGNS = (phrase("both"), phrase("only in the leaflet"), phrase("only here"), phrase("neither"))
_WHY = {
    "no earlier harvest": phrase("no earlier harvest"),
    "poorer crop": phrase("a poorer crop than the best"),
    "too long in the bed": phrase("too long in the bed"),
    "too much water": phrase("too much water"),
}


def _spans(months: Iterable[int]) -> str:
    """Months in spans, in the order of the year: 'Mar-May, Sep'."""
    out = []
    for _, run in groupby(enumerate(sorted(months)), key=lambda p: p[1] - p[0]):
        ends = [m for _, m in run]
        out.append(say(MONTHS[ends[0] - 1]) + (f"-{say(MONTHS[ends[-1] - 1])}" if len(ends) > 1 else ""))
    return ", ".join(out)


def _shares(values: Sequence[float]) -> str:
    """Shares as per cent, least to greatest."""
    low, high = (figure(v, ".0%") for v in (min(values), max(values)))
    return low if low == high else f"{100 * min(values):.0f}-{high}"


def less_words(line: BesideLeaflet) -> str:
    """Months that only the leaflet has, and what stops the crop in them: 'Mar-Apr soil too cold (62-99%)'."""
    if not line.known:
        return say("the handbook does not start it so ({months})", months=_spans(m.month for m in line.less))
    groups: dict[tuple[str | None, str | None], list[Less]] = {}
    for less in line.less:
        groups.setdefault((less.hazard, less.why), []).append(less)
    out = []
    for (hazard, why), found in groups.items():
        months = _spans(m.month for m in found)
        shares = [m.share_of_years for m in found if m.share_of_years is not None]
        works = [m.works for m in found if m.works is not None]
        if hazard is not None:
            often = f" ({_shares(shares)})" if shares else ""
            out.append(f"{months} {three_words(hazard, perennial=not works)}{often}")
        elif works:
            reason = say(_WHY.get(why or "", phrase("less than the season's best")))
            out.append(say("{months} works in {shares}: {reason}", months=months, shares=_shares(works), reason=reason))
        else:
            out.append(say("{months} not its planting time here", months=months))
    return "; ".join(out)


def more_words(line: BesideLeaflet) -> str:
    """Months that only the plot has, and how much of a full crop they leave: 'Jun-Jul 87-95% of a crop'."""
    told = [m.yield_fraction for m in line.more if m.yield_fraction is not None]
    months = _spans(m.month for m in line.more)
    return say("{months} {shares} of a crop", months=months, shares=_shares(told)) if told else months


def _strip(line: BesideLeaflet) -> str:
    """Twelve signs, January to December."""
    pairs = ((m in line.leaflet, m in line.plot) for m in range(1, 13))
    return "".join(_MARKS[0 if both == (True, True) else 1 if both[0] else 2 if both[1] else 3] for both in pairs)


def _crop(line: BesideLeaflet) -> str:
    """The crop as the leaflet calls it: its name in the language that is told, where it is one of the handbook's."""
    return say_crop(line.crop)


def _name(line: BesideLeaflet) -> str:
    return f"{_crop(line)}, {say(line.way)}" if line.way else _crop(line)


def _verdict(answer: LeafletAnswer) -> str:
    """How far both agree, and what most of the rest is."""
    (same, of), lines = answer.agreed, counted(len(answer.lines), "line")
    less, more = (sum(len(getattr(line, k)) for line in answer.lines) for k in ("less", "more"))
    if same == of:
        return say("This plot and the leaflet agree in every month of {lines}.", lines=lines)
    said = [say("This plot and the leaflet agree in {same} of {of} months of {lines}", same=same, of=of, lines=lines)]
    if less:
        most = ", ".join(f"{three_words(h)} {n}" for h, n in answer.hazards[:3])
        said.append(
            say_count(
                less,
                "{count} month of the leaflet is not advised here",
                "{count} months of the leaflet are not advised here",
            )
        )
        said[-1] += say(" (stopped by: {most})", most=most) if most else ""
    if more:
        said.append(
            say_count(
                more,
                "{count} month is advised here and not in the leaflet",
                "{count} months are advised here and not in the leaflet",
            )
        )
    return f"{'; '.join(said)}."


def leaflet_document(answer: LeafletAnswer, *, everything: bool = False) -> Document:
    """The leaflet and the plot, a row a line of the leaflet that differs.

    Parameters
    ----------
    answer : LeafletAnswer
    everything : bool
        Whether lines in which both agree, and all of many that differ, are told too.
    """
    lines = [line for line in answer.lines if line.apart or everything]
    told = lines if everything else sorted(lines, key=lambda x: -x.apart)[:_MOST]
    rows = tuple((_name(x), _strip(x), less_words(x) or "-", more_words(x) or "-") for x in lines if x in told)
    columns = (
        Column("crop"),
        Column("JFMAMJJASOND"),
        Column("only in the leaflet: what stops it here", short="only in the leaflet"),
        Column("only here: crop left", short="only here"),
    )
    parts: list[Part] = [Paragraph(_verdict(answer), look="lead")]
    if rows:
        parts.append(Table(columns, rows, say("{site}: beside the leaflet", site=answer.site), look="crops"))
    parts.append(Paragraph(", ".join(f"{m} {say(w)}" for m, w in zip(_MARKS, _SIGNS, strict=True)) + "."))
    if left := len(answer.lines) - len(rows):
        agree = sum(not line.apart for line in answer.lines)
        more = say("{lines} more ({agree} alike); --all tells them.", lines=counted(left, "line"), agree=agree)
        parts.append(Paragraph(more))
    return Document(
        say(
            "THE LEAFLET AND {site}; {record}; advised: {odds} or better",
            site=answer.site,
            record=record_text(answer.record, brief=True),
            odds=odds_text(answer.reliability_asked),
        ),
        tuple(parts),
        foot=(
            say("In brackets: share of years lost to it. A month is the plot's where ten of its days are advised. ")
            + foot_text(answer.record, answer.made_by),
        ),
        spaced=False,
    )  # fmt: skip


def _number(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def _less_json(less: Less) -> dict[str, Any]:
    return {
        "month": less.month,
        "hazard": less.hazard,
        "share_of_years": _number(less.share_of_years),
        "works_in_share_of_years": _number(less.works),
        "why": less.why,
    }


def _more_json(more: More) -> dict[str, Any]:
    return {
        "month": more.month,
        "yield_fraction": _number(more.yield_fraction),
        "works_in_share_of_years": _number(more.works),
    }


def leaflet_json(answer: LeafletAnswer) -> dict[str, Any]:
    """The answer in the form of the schema 'compare --leaflet'."""
    return {
        "site": answer.site,
        "record": answer.record.to_json(),
        "reliability_asked": _number(answer.reliability_asked),
        "months_alike": answer.agreed[0],
        "months_compared": answer.agreed[1],
        "lines": [
            {
                "crop": line.crop,
                "way": line.way or None,
                "crops": list(line.crops),
                "known": line.known,
                "leaflet_months": list(line.leaflet),
                "plot_months": list(line.plot),
                "only_leaflet": [_less_json(m) for m in line.less],
                "only_plot": [_more_json(m) for m in line.more],
            }
            for line in answer.lines
        ],
        "made_by": answer.made_by.to_json(),
    }


_HEAD = (
    "crop", "way", "month", "in_leaflet", "advised_here", "hazard", "hazard_share (share of years)",
    "works (share of years)", "why", "yield_fraction (share of a full crop)",
)  # fmt: skip


def leaflet_tables(answer: LeafletAnswer) -> tuple[TableSheet, ...]:
    """A row a line of the leaflet and month that either of them has."""
    rows: list[tuple[str | int | float | None, ...]] = []
    for line in answer.lines:
        less, more = {m.month: m for m in line.less}, {m.month: m for m in line.more}
        for m in sorted({*line.leaflet, *line.plot}):
            here = (line.crop, line.way or None, m, "yes" if m in line.leaflet else "no")
            if found := less.get(m):
                why = (found.hazard, _number(found.share_of_years), _number(found.works), found.why)
                rows.append((*here, "no", *why, None))
            else:
                extra = more.get(m, More(m))
                left = (_number(extra.works), None, _number(extra.yield_fraction))
                rows.append((*here, "yes", None, None, *left))
    return (TableSheet("leaflet", _HEAD, tuple(rows)),)


# Inches: tried on paper, common practice.
_MARGIN, _TOP, _FOOT, _ROW, _NAME, _WORDS = 0.5, 1.05, 0.5, 0.36, 1.75, 2.55
_LETTERS = 44  # of the smallest print that the reasons have room for


def _bar(axes: Axes, months: Iterable[int], y: float, place: int, scale: Callable[[float], float]) -> None:
    """Months of one side: the leaflet an open, hatched bar, the plot a filled one, so that no colour is needed."""
    for month in months:
        axes.bar(
            scale(month - 0.5), 0.105, width=scale(1) - scale(0), bottom=y, edgecolor=PAIR[place], linewidth=0.6,
            facecolor=PAIR[1] if place else "white", hatch="" if place else "//////", zorder=3,
        )  # fmt: skip


def _draw_line(axes: Axes, line: BesideLeaflet, y: float, scale: Callable[[float], float], right: float) -> None:
    axes.plot([0, right + _WORDS], [y, y], color=FAINT, lw=0.4, zorder=1)
    axes.text(0, y - 0.1, cut(shown(_crop(line)), 22), fontsize=7.5, weight="bold", va="center")
    axes.text(0, y - 0.235, say(line.way or phrase("any way")), fontsize=7, va="center")
    _bar(axes, line.leaflet, y - 0.15, 0, scale)
    _bar(axes, line.plot, y - 0.29, 1, scale)
    words = wrap("; ".join(filter(None, (less_words(line), more_words(line)))), _LETTERS)
    if len(words) > 3:
        words = [*words[:2], cut(" ".join(words[2:]), _LETTERS)]
    for k, text in enumerate(words):
        axes.text(right + 0.1, y - 0.08 - 0.105 * k, shown(text), fontsize=6.5, va="center")


def _page(answer: LeafletAnswer, lines: Sequence[BesideLeaflet], page: str, issued: dt.date | None) -> Figure:
    width, height = A4
    figure = new_figure(A4)
    room, across = height - 2 * _MARGIN - _FOOT, width - 2 * _MARGIN
    axes = figure.add_axes((_MARGIN / width, (_MARGIN + _FOOT) / height, across / width, room / height))
    axes.set(xlim=(0, across), ylim=(_TOP - room, _TOP))
    axes.axis("off")
    axes.text(0, _TOP, say("The leaflet and the plot, month by month"), va="top", fontsize=13, weight="bold")
    axes.text(0, _TOP - 0.32, cut(shown(f"{answer.site}; {record_text(answer.record)}"), 105), va="top", fontsize=8)
    left, right = _NAME, across - _WORDS

    def scale(month: float) -> float:
        return left + month * (right - left) / 12

    for place, words in enumerate((say("leaflet (above, hatched)"), say("this plot (below, filled)"))):
        x = left + 1.9 * place
        axes.bar(
            x + 0.12, 0.105, width=0.24, bottom=0.31, edgecolor=PAIR[place], linewidth=0.6,
            facecolor=PAIR[1] if place else "white", hatch="" if place else "//////",
        )  # fmt: skip
        axes.text(x + 0.3, 0.36, words, fontsize=7.5, va="center")
    bottom = -_ROW * len(lines)
    for month in range(13):
        axes.plot([scale(month)] * 2, [bottom, 0], color=FAINT, lw=0.4, zorder=0)
    for month in range(12):
        axes.text(scale(month + 0.5), 0.05, say(MONTHS[month]), fontsize=7, ha="center", va="bottom")
    axes.text(right + 0.1, 0.05, say("where they part, and why"), fontsize=7, va="bottom", color=INK)
    for k, line in enumerate(lines):
        _draw_line(axes, line, -_ROW * k, scale, right)
    axes.plot([0, across], [bottom, bottom], color=FAINT, lw=0.4)
    foot = say(
        "Advised: {odds} or better, ten days of the month. In brackets: share of years lost to it. {promise}",
        odds=odds_text(answer.reliability_asked),
        promise=say(NO_PROMISE),
    )
    date = say("issued {date}   ", date=date_text(issued)) if issued else ""
    draw_foot(figure, A4, _MARGIN, (foot, answer.made_by.short()), f"{date}{page}")
    return figure


def leaflet_figures(answer: LeafletAnswer, *, issued: dt.date | None = None) -> list[Figure]:
    """Months of the leaflet and of the plot on one axis, on as many A4 pages as the lines take.

    Parameters
    ----------
    answer : LeafletAnswer
    issued : datetime.date, optional
        Date of issue for the foot.
    """
    import matplotlib

    a_page = int((A4[1] - 2 * _MARGIN - _FOOT - _TOP) / _ROW)
    parts = [answer.lines[k : k + a_page] for k in range(0, len(answer.lines), a_page)]
    of_all = [say("page {page} of {pages}", page=n, pages=len(parts)) for n in range(1, len(parts) + 1)]
    with matplotlib.rc_context(STYLE):
        return [_page(answer, part, page, issued) for part, page in zip(parts, of_all, strict=True)]
