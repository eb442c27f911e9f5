"""The sowing chart on the page: a line of ribbons a crop, which opens to show why; and the garden's water."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sowcal.outputs.document import Caution, Html, Items, Paragraph, Part, join, page_cell, page_parts, tag
from sowcal.outputs.figure_style import Cells, CropRibbons, Ribbon, apart, crop_ribbons, weeks
from sowcal.outputs.page_svg import (
    line_path,
    months_axis,
    pickings_picture,
    reliability_picture,
    ribbon_paths,
    ribbon_picture,
)
from sowcal.outputs.verdict_document import evidence_sentences, limit_part, verdict_cell
from sowcal.outputs.wording import (
    JOBS,
    family_name,
    lane_words,
    named_with_water,
    odds_text,
    outside_words,
    reason,
    when_words,
    window_words,
)
from sowcal.plurals import counted
from sowcal.suitability.results import CropSeasons, CropVerdict, SowingChart, WayResult, Window
from sowcal.year import MONTH_LENGTHS, MONTHS, YEAR, day_text, month_of, span_days

__all__ = [
    "chart_section",
    "drawn_picture",
    "level_picture",
]


@dataclass(frozen=True)
class _Drawing:
    """What every line of one chart shares."""

    chart: SowingChart
    verdicts: dict[str, CropVerdict]
    cells: Cells
    key: str  # parts the ids of one place from those of another


def _months_with_jobs(line: CropSeasons) -> str:
    """Months (1 to 12) in which something is sown, set out or planted."""
    days = {
        d
        for way in line.starts
        for w in (way.windows or way.possible)
        for span in ((w.start, w.end), w.raise_under_cover)
        if span
        for d in span_days(*span)
    }
    return " ".join(str(m + 1) for m in sorted({month_of(d) for d in days}))


def _likeliest(way: WayResult) -> str:
    if way.likeliest_day is None:
        return "not known"
    day, share = way.likeliest_day
    return f"best about {day_text(day)}, {share:.0%} of years"


def _curve(drawing: _Drawing, line: CropSeasons) -> Html | None:
    ways = [(w.way, w.reliability) for w in line.starts if w.reliability is not None]
    if not ways:
        return None
    asked = drawing.chart.reliability_asked
    words = f"{line.crop}, share of years that succeed by start day: " + "; ".join(
        f"{w.way}, {_likeliest(w)}" for w in line.starts if w.reliability is not None
    )
    key = [tag("span", tag("i", class_=f"dash {way.split()[0]}"), way) for way, _ in ways]
    caption = tag(
        "figcaption",
        f"Years in ten that succeed, by start day (dotted: the {odds_text(asked)} asked for)",
        tag("span", *key, class_="key") if len(key) > 1 else None,
    )
    return tag("figure", caption, reliability_picture(ways, asked, drawing.cells.start_month, words))


def _pickings(drawing: _Drawing, line: CropSeasons) -> Html | None:
    """First pickings by year from the best day of each window."""
    windows = [(w.way, window.first_pickings) for w in line.starts for window in w.windows or w.possible]
    known = [day for _, pickings in windows for _, day in pickings]
    failed = sum(day is None for day in known)
    words = (
        f"{line.crop}, first picking in each year; a crop from {len(known) - failed} of {counted(len(known), 'start')}."
    )
    picture = pickings_picture(windows, drawing.cells.start_month, words)
    if picture is None:
        return None
    began = "" if all(w.reliability is None for w in line.starts) else ", begun on the best day"
    lacks = "; a year without a dot brings no crop" if failed else ""
    return tag("figure", tag("figcaption", f"First picking, year by year{began}{lacks}"), picture)


def _stops(line: CropSeasons) -> Html | None:
    rows = [
        tag("li", f"{JOBS.get(way.way, way.way)} " if len(line.starts) > 1 else None, outside_words(o))
        for way in line.starts
        if way.reliability is not None
        for o in way.outside
    ]
    return join(tag("p", "What stops it outside these dates", class_="sub"), tag("ul", *rows)) if rows else None


def _window(way: WayResult, window: Window) -> tuple[str, str]:
    head, more = window_words(way, window, advised=bool(way.windows))
    return head, more


def _opened(drawing: _Drawing, line: CropSeasons) -> Html:
    """Inside of a row: windows in words, reliability over the year, what stops the crop when."""
    verdict = drawing.verdicts.get(line.crop)
    annual = any(w.reliability is not None for w in line.starts)
    parts: list[Part] = []
    if annual:
        parts.append(Items(tuple(_window(way, w) for way in line.starts for w in way.windows or way.possible)))
    elif verdict is not None:
        parts.append(Items(tuple(evidence_sentences(verdict))))
    if verdict is not None and verdict.limiting_factor and not annual:
        parts.append(limit_part(verdict))
    told: list[Part] = [*map(Caution, line.cautions), *(Paragraph(note, name="Note") for note in line.notes)]
    words = tag("div", page_parts(parts), _stops(line), page_parts(told))
    pictures = tag("div", _curve(drawing, line), _pickings(drawing, line), class_="drawn")
    return tag("div", pictures, words, class_="opened")


def _slug(text: str) -> str:
    """Letters and digits of a name, for the id of an element."""
    return "-".join("".join(c if c.isalnum() and c.isascii() else " " for c in text.lower()).split())


def _chip(drawing: _Drawing, line: CropSeasons) -> Html | str | None:
    verdict = drawing.verdicts.get(line.crop)
    return None if verdict is None else page_cell(verdict_cell(verdict))


def _row(drawing: _Drawing, line: CropSeasons, ribbons: CropRibbons) -> Html:
    when = "; ".join(filter(None, map(when_words, line.starts))) or "a gamble"
    lanes = [
        tag("span", tag("span", lane_words(r.kind), class_="kind"), ribbon_picture(r, drawing.cells), class_="lane")
        for r in ribbons.ribbons
    ]
    summary = tag(
        "summary",
        tag("span", tag("span", line.crop, class_="crop"), _chip(drawing, line), class_="who"),
        tag("span", f": {when}", class_="unseen"),
        tag("span", *lanes, class_="lanes", aria_hidden="true"),
    )
    return tag(
        "details",
        summary,
        _opened(drawing, line),
        class_="row",
        id=f"{drawing.key}-{_slug(line.crop)}",
        data_name=line.crop,
        data_family=line.family,
        data_first=ribbons.first_job,
        data_months=_months_with_jobs(line),
    )


def _rows(drawing: _Drawing, lines: list[CropSeasons], *, gambles: bool) -> list[Html]:
    drawn = [(line, crop_ribbons(line, drawing.cells, gambles=gambles)) for line in lines]
    kept = [(line, r) for line, r in drawn if r is not None]
    kept.sort(key=lambda pair: (pair[1].first_job, pair[0].crop))
    return [_row(drawing, line, ribbons) for line, ribbons in kept]


def _heads(start_month: int) -> Html:
    order = [(start_month - 1 + k) % 12 for k in range(12)]
    names = [tag("span", MONTHS[m][0], tag("span", MONTHS[m][1:], class_="rest")) for m in order]
    return tag("div", tag("div", *names, class_="months"), class_="heads", aria_hidden="true")


def _controls(key: str, families: list[str]) -> Html:
    def select(name: str, label: str, choices: list[tuple[str, str]]) -> Html:
        options = [tag("option", words, value=value) for value, words in choices]
        return tag("label", label, tag("select", *options, data_do=name))

    months = [("", "any month"), *((str(m + 1), MONTHS[m]) for m in range(12))]
    orders = [("first", "first job"), ("name", "name"), ("family", "family")]
    return tag(
        "div",
        tag("label", "Find a crop", tag("input", type="search", data_do="text", autocomplete="off")),
        select("month", "Something to start in", months),
        select("family", "Family", [("", "all"), *((f, family_name(f)) for f in families)]),
        select("order", "Order by", orders),
        tag("button", "Open all", type="button", data_do="open"),
        tag("output", class_="count", aria_live="polite"),
        class_="controls",
        hidden=True,
        data_for=f"{key}-rows",
    )


def _legend(asked: float) -> Html:
    steps, edges = np.array([0.6, 0.8, 1.0, 0.8]), [1.0, 8.0, 15.0, 22.0, 29.0]

    def key(words: str, kind: str, advised: list[bool]) -> Html:
        drawn = ribbon_paths(Ribbon(kind, steps, np.array(advised)), edges)
        return tag("li", tag("svg", drawn, viewBox="0 0 30 12", aria_hidden="true"), words)

    return join(
        tag("p", "The taller a ribbon, the more years it works; full height is every year."),
        tag(
            "ul",
            key(f"advised: {odds_text(asked)} or better", "set out", [True] * 4),
            key("possible only", "set out", [False] * 4),
            key("sow under cover, then seedlings stand there (line)", "under cover", [True, True, False, False]),
            key("pick", "picked", [True] * 4),
            class_="legend",
        ),
    )


def chart_section(chart: SowingChart, verdicts: dict[str, CropVerdict], key: str, start_month: int) -> Html:
    """The chart of one place.

    Parameters
    ----------
    chart : SowingChart
    verdicts : dict
        Verdict by crop.
    key : str
        Start of the ids of this place.
    start_month : int
        Month, 1 to 12, with which the year begins.
    """
    drawing = _Drawing(chart, verdicts, weeks(start_month), key)
    gambles, none = apart(chart)
    away = {c.crop for c in (*gambles, *none)}
    fits = [c for c in chart.crops if c.crop not in away]
    rows = _rows(drawing, fits, gambles=False)
    parts = [
        tag("p", "Each crop opens to show its odds day by day, its dates in words, and what stops it when."),
        _legend(chart.reliability_asked),
        _controls(key, sorted({c.family for c in fits}, key=family_name)),
        tag("div", _heads(start_month), tag("div", *rows, id=f"{key}-rows", class_="rows"), class_="chart"),
        tag("p", "No crop fits what you asked for.", class_="nothing", hidden=bool(rows)),
    ]
    if gambles:
        parts += [
            tag("h4", "A gamble here"),
            tag(
                "p",
                f"No start day keeps the {odds_text(chart.reliability_asked)} asked for; a perennial may keep them "
                "and not live long.",
            ),
            tag(
                "div",
                _heads(start_month),
                tag("div", *_rows(drawing, gambles, gambles=True), class_="rows"),
                class_="chart",
            ),
        ]
    if none:
        items = [tag("li", tag("b", named_with_water(c)), f" {reason(c)}") for c in sorted(none, key=lambda c: c.crop)]
        parts += [tag("h4", "Not here"), tag("ul", *items, class_="away")]
    return join(*parts)


_PLOT_LEFT, _PLOT_RIGHT, _PLOT_TOP, _PLOT_BOTTOM = 44, 354, 10, 158
_STEP = 3  # days between the points of a line: finer than a line on the page can show


def _ceiling(value: float) -> float:
    """The next round figure from a value up: 1, 2, 2.5, 4, 5 or 8 times a power of ten."""
    value = max(value, 1.0)
    power = 10.0 ** np.floor(np.log10(value))
    return float(next(k for k in (1.0, 2.0, 2.5, 4.0, 5.0, 8.0, 10.0) if k * power >= value) * power)


def _turned(daily: np.ndarray, start_month: int) -> np.ndarray:
    return np.roll(daily, -sum(MONTH_LENGTHS[: start_month - 1]), axis=-1)


def _x(day: float) -> float:
    return _PLOT_LEFT + day / YEAR * (_PLOT_RIGHT - _PLOT_LEFT)


def _y(value: float, top: float) -> float:
    return round(_PLOT_BOTTOM - min(max(value / top, 0.0), 1.0) * (_PLOT_BOTTOM - _PLOT_TOP), 1)


def _points(daily: np.ndarray, top: float) -> list[tuple[float, float]]:
    return [(_x(d), _y(float(daily[d]), top)) for d in [*range(0, YEAR, _STEP), YEAR - 1]]


def _band(low: np.ndarray, high: np.ndarray, top: float, look: str) -> Html:
    upper, lower = line_path(_points(high, top)), line_path(_points(low, top)[::-1])
    return tag("path", d=f"{upper}L{lower[1:]}Z", class_=look)


def _frame(top: float, start_month: int, parts: Sequence[Html], words: str) -> Html:
    rules = [
        join(
            tag("path", d=f"M{_PLOT_LEFT} {_y(v, top)}H{_PLOT_RIGHT}", class_="grid"),
            tag("text", f"{v:,.0f}", x=_PLOT_LEFT - 4, y=_y(v, top) + 4, class_="end"),
        )
        for v in (0.0, top / 2, top)
    ]
    axis = months_axis(start_month, _PLOT_LEFT, _PLOT_RIGHT - _PLOT_LEFT, _PLOT_BOTTOM, _PLOT_TOP)
    return tag("svg", axis, *rules, *parts, viewBox="0 0 360 176", role="img", aria_label=words)


def level_picture(spread: np.ndarray | None, capacity: float, start_month: int, words: str) -> Html | None:
    """Water in the store through the year: every year, eight years in ten, and the middle year.

    Parameters
    ----------
    spread : numpy.ndarray or None
        Litres, shape (5, 365), as `sowcal.garden.store.level_spread` gives them.
    capacity : float
        Litres; drawn as a line.
    start_month : int
        Month, 1 to 12, with which the year is drawn to begin.
    words : str
        What it shows, for those who do not see it.

    Returns
    -------
    Html or None
        None where there is nothing to draw.
    """
    if spread is None or capacity <= 0.0:
        return None
    least, low, mid, high, most = _turned(spread, start_month)
    top = _ceiling(capacity)
    parts = [
        _band(least, most, top, "water every"),
        _band(low, high, top, "water"),
        tag("path", d=f"M{_PLOT_LEFT} {_y(capacity, top)}H{_PLOT_RIGHT}", class_="asked"),
        tag("path", d=line_path(_points(mid, top)), class_="line sown"),
    ]
    return _frame(top, start_month, parts, words)


def drawn_picture(median: np.ndarray, dry: np.ndarray, start_month: int, words: str) -> Html | None:
    """Litres a day that the beds draw: the middle year filled, the dry year in ten as a line.

    Parameters
    ----------
    median, dry : numpy.ndarray
        Litres a day through the year, shape (365,).
    start_month, words
        As in `level_picture`.
    """
    usual, more = (_turned(daily, start_month) for daily in (median, dry))
    if not more.max(initial=0.0) > 0.0:
        return None
    top = _ceiling(float(more.max()))
    parts = [
        _band(np.zeros(YEAR), usual, top, "drawn"),
        tag("path", d=line_path(_points(more, top)), class_="line set"),
    ]
    return _frame(top, start_month, parts, words)
