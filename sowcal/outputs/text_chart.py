"""The sowing chart on a screen: months across, crops down, one mark a week."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from sowcal.climate.rain import OpeningRains
from sowcal.outputs.figure_style import Cells, CropRibbons, Ribbon, apart, crop_ribbons, month_parts, weeks
from sowcal.outputs.screen import cut, pad, plain, screen_width, table, wrap
from sowcal.outputs.wording import (
    NO_PROMISE,
    advice_sentences,
    named_with_water,
    odds_of_few,
    odds_text,
    reason,
    record_text,
    within_error,
)
from sowcal.plurals import counted
from sowcal.suitability.results import AgainstWhole, CropSeasons, SowingChart, Window
from sowcal.year import MONTHS, day_text, span_text

__all__ = [
    "LONGEST",
    "against_whole_lines",
    "chart_text",
    "moved_rows",
    "opening_rains_by_year",
    "opening_rains_words",
    "widest_first",
]

_FEW = 4  # crops; a chart of no more than these is told in words too
_SHORT = {"sown outdoors": "sown out", "under cover": "in cover"}


@dataclass(frozen=True)
class _Marks:
    """One set of marks: work by tenths of years, possible at 5 and 7 years in ten, picking at 1, 4 and 7."""

    solid: str
    possible: tuple[str, str]
    picking: tuple[str, str, str]
    standing: str
    bar: str
    rule: str
    key: tuple[str, ...]


_BLOCKS = _Marks(
    " ▁▂▂▃▄▅▆▇█",
    ("·", ":"),
    ("░", "▒", "▓"),
    "─",
    "│",
    "─",
    (
        "Blocks: weeks advised; the taller, the more years it works: ▄ 5 in 10, ▆ 7, ▇ 8, █ 9 and more.",
        "Dots: works, yet a gamble or not worth it: · 5 years in 10, : 7 and more.",
        "under cover: sow in the blocks; ─ seedlings stand there till they are set out.",
        "picked: chance of picking from advised starts: ░ 1 to 3 years in 10, ▒ 4 to 6, ▓ 7 and more.",
    ),
)
_LETTERS = _Marks(
    " 123456789",
    (".", ":"),
    ("+", "x", "X"),
    "-",
    "|",
    "-",
    (
        "Digits: weeks advised; the digit is the years in 10 in which it works, 9 is 9 and more.",
        "Dots: works, yet a gamble or not worth it: . 5 years in 10, : 7 and more.",
        "under cover: sow in the digits; - seedlings stand there till they are set out.",
        "picked: chance of picking from advised starts: + 1 to 3 years in 10, x 4 to 6, X 7 and more.",
    ),
)


@dataclass(frozen=True)
class _Layout:
    """How the columns of the screen are shared out."""

    cells: Cells
    width: int
    crop: int  # columns of the crop's name; 0 where it has a line of its own
    kind: int

    @property
    def label(self) -> int:
        return self.crop + self.kind


def _layout(width: int, start_month: int) -> _Layout:
    """Weeks from 80 columns up, thirds of a month below; the name beside its lines where there is room."""
    cells = weeks(start_month) if width >= 80 else month_parts(3, start_month)
    room = width - len(cells.days) - 13
    if room >= 33:
        return _Layout(cells, width, min(room - 14, 24), 14)
    return _Layout(cells, width, 0, max(room, 10))


def _mark(share: float, advised: bool, kind: str, marks: _Marks) -> str:
    if not math.isfinite(share) or share < 0.1:
        return " "
    tenths = min(int(share * 10 + 1e-9), 9)
    if kind == "picked":
        return marks.picking[(tenths >= 4) + (tenths >= 7)]
    if advised:
        return marks.solid[tenths]
    if kind == "under cover":
        return marks.standing
    return " " if share < 0.495 else marks.possible[share >= 0.7]


def _barred(pieces: Iterable[str], cells: Cells, bar: str) -> str:
    """One piece a cell, with a bar before each month and at the end."""
    out, last = "", None
    for piece, month in zip(pieces, cells.months, strict=True):
        out += (bar if month != last else "") + piece
        last = month
    return out + bar


def _ribbon(ribbon: Ribbon, cells: Cells, marks: _Marks) -> str:
    pieces = [
        _mark(float(s), bool(a), ribbon.kind, marks) for s, a in zip(ribbon.strength, ribbon.recommended, strict=True)
    ]
    return _barred(pieces, cells, marks.bar)


def _head(layout: _Layout) -> str:
    """Names of the months over their cells."""
    out = ""
    for month in layout.cells.month_order():
        out += " " + pad(MONTHS[month], layout.cells.months.count(month))
    return (" " * layout.label + out).rstrip()


def _bold(text: str, colour: bool) -> str:
    return f"\x1b[1m{text}\x1b[0m" if colour else text


def _crop_lines(crop: CropRibbons, layout: _Layout, marks: _Marks, unicode: bool, colour: bool) -> list[str]:
    name = plain(crop.crop, unicode=unicode)
    out = []
    beside = layout.crop and screen_width(name) < layout.crop
    if not beside:
        heading = cut(name, layout.width)
        blank = " " * layout.label + _barred(" " * len(layout.cells.days), layout.cells, marks.bar)
        taken = screen_width(heading) + (screen_width(heading) < layout.width)
        out.append(_bold(heading, colour) + pad("", taken - screen_width(heading)) + blank[taken:])
    for k, ribbon in enumerate(crop.ribbons):
        kind = ribbon.kind if layout.kind >= 14 else _SHORT.get(ribbon.kind, ribbon.kind)
        lead = pad(name if beside and k == 0 else "", layout.crop)
        if beside and k == 0:
            lead = lead.replace(name, _bold(name, colour), 1)
        kind = pad(kind, layout.kind) if layout.crop else pad(f" {plain(kind, unicode=unicode)}", layout.kind)
        line = _ribbon(ribbon, layout.cells, marks)
        out.append(lead + kind + (f"\x1b[32m{line}\x1b[0m" if colour and ribbon.kind != "picked" else line))
    return out


def _window_words(way: str, window: Window, advised: bool) -> str:
    """A window as a sentence."""
    said = "advised" if advised else "works, a gamble"
    words = f"{way} {span_text(window.start, window.end)} ({said}); best about {day_text(window.best)}, "
    words += f"works {odds_of_few(window.reliability, window.interval, window.years_decided)}"
    edges = [
        f"{which} between {day_text(e[0])} and {day_text(e[1])}"
        for which, e in (("opens", window.start_interval), ("closes", window.end_interval))
        if e and e[0] != e[1]
    ]
    if edges:
        words += f" (give or take: {', '.join(edges)})"
    if window.offset_range:
        words += f" ({within_error(window.offset_range)})"
    if window.raise_under_cover:
        words += f"; sow under cover {span_text(*window.raise_under_cover)}"
    if window.first_picking:
        p = window.first_picking
        words += f"; first picking about {day_text(p.p50)} ({day_text(p.p10)} to {day_text(p.p90)}"
        words += f" in 8 years of 10), {counted(p.days_after_start, 'day')} on"
    return words + "."


def _in_words(crops: Iterable[CropSeasons], width: int, unicode: bool) -> list[str]:
    out = []
    for line in crops:
        for way in line.starts:
            for window in way.windows or way.possible:
                words = f"{line.crop}: {_window_words(way.way, window, bool(way.windows))}"
                out += wrap(plain(words, unicode=unicode), width, later="  ")
            for advice in way.advice:
                for words in advice_sentences(advice):
                    out += wrap(plain(words, unicode=unicode), width, first="  ", later="    ")
    return out


def _gamble(line: CropSeasons) -> str:
    way, window = max(
        ((s, w) for s in line.starts for w in s.possible),
        key=lambda p: p[1].reliability * p[1].yield_fraction,
    )
    when = span_text(window.start, window.end)
    odds = odds_of_few(window.reliability, window.interval, window.years_decided)
    return f"{named_with_water(line)}: {way.way} {when}, {odds} ({reason(line)})"


def _apart_lines(chart: SowingChart, width: int, unicode: bool, gambles_drawn: bool) -> list[str]:
    gambles, shut = apart(chart)
    out: list[str] = []
    if gambles and not gambles_drawn:
        out += ["", "A GAMBLE HERE (too seldom; of a perennial, or too briefly)"]
        for line in gambles:
            out += wrap(plain(_gamble(line), unicode=unicode), width, first="  ", later="    ")
    if shut:
        out += ["", "NO DATES HERE"]
        by_reason: dict[str, list[str]] = {}
        for line in shut:
            by_reason.setdefault(reason(line), []).append(named_with_water(line))
        for why, names in sorted(by_reason.items(), key=lambda p: (-len(p[1]), p[0])):
            words = plain(f"{why}: {', '.join(names)}", unicode=unicode)
            out += wrap(words, width, first="  ", later="    ")
    return out


def chart_text(
    chart: SowingChart,
    *,
    width: int = 100,
    unicode: bool = True,
    colour: bool = False,
    start_month: int = 1,
    show: str = "recommended",
) -> str:
    """The chart as lines of text, none wider than the screen.

    Parameters
    ----------
    chart : SowingChart
    width : int
        Columns of the screen, 60 or more (fewer are taken as 60).
    unicode : bool
        Blocks where True; digits and plain letters only where False.
    colour : bool
        Whether names are bold and ribbons green; nothing is told by colour alone.
    start_month : int
        Month, 1 to 12, with which the year begins.
    show : {'recommended', 'possible'}
        Whether crops with nothing but possible dates are listed apart or drawn too. They are drawn anyway
        where no crop has better.

    Returns
    -------
    str
    """
    layout = _layout(max(width, 60), start_month)
    marks = _BLOCKS if unicode else _LETTERS
    gambles = show != "recommended" or not any(s.windows for c in chart.crops for s in c.starts)
    drawn = [r for c in chart.crops if (r := crop_ribbons(c, layout.cells, gambles=gambles)) is not None]

    def say(text: str, **more: str) -> list[str]:
        return wrap(plain(text, unicode=unicode), layout.width, **more)

    out = say(
        f"SOWING CHART of {chart.site}; {record_text(chart.record)}; "
        f"advised: {odds_text(chart.reliability_asked)} or better"
    )
    if drawn:
        head = _head(layout)
        rule = marks.rule * min(layout.label + len(layout.cells.days) + 13, layout.width)
        out += ["", head, rule]
        for k, crop in enumerate(drawn):
            if k and k % 12 == 0:
                out += [rule, head]
            out += _crop_lines(crop, layout, marks, unicode, colour)
        out += [rule, ""]
        kinds = {r.kind for c in drawn for r in c.ribbons}
        for text in marks.key:
            kind = text.partition(":")[0]
            if kind in kinds or kind[0].isupper():
                out += say(text, later="  ")
    if len(chart.crops) <= _FEW and drawn:
        shown = {c.crop for c in drawn}
        out += ["", *_in_words((c for c in chart.crops if c.crop in shown), layout.width, unicode)]
    if chart.against_whole:
        out += ["", *against_whole_lines(chart.against_whole, len(chart.crops) <= _FEW, layout.width, unicode)]
    out += _apart_lines(chart, layout.width, unicode, gambles)
    out.append("")
    if chart.opening_rains is not None:
        out += say(f"The rains open {opening_rains_words(chart.opening_rains)}.", later="  ")
        out += say(opening_rains_by_year(chart.opening_rains), later="  ")
    if chart.not_judged:
        out += say(f"Not judged: {', '.join(chart.not_judged)}.", later="  ")
    out += say(f"{NO_PROMISE} {chart.made_by.short()}", later="  ")
    return "\n".join(line.rstrip() for line in out)


LONGEST = 20  # moved windows shown; the rest are counted
_WEEK = 7
_CHANCE = "Windows of fewer years move by chance too; `sowcal weather trend` says whether the climate itself has moved."


def _whole(value: object) -> int:
    return int(value) if isinstance(value, (int, float)) else 0


def _move(entry: Mapping[str, Any]) -> int:
    """Days by which the edge that moves most has moved."""
    return max(abs(_whole(entry["opens_later_days"])), abs(_whole(entry["closes_later_days"])))


def widest_first(entries: Iterable[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Those that move most first."""
    return sorted(entries, key=lambda e: -_move(e))


def _moved_days(days: object) -> str:
    """Days later with a plus, earlier with a minus."""
    return f"{_whole(days):+d} d" if _whole(days) else "same"


def moved_rows(entries: Iterable[Mapping[str, Any]], one: str, two: str, columns: int = 5) -> list[list[str]]:
    """A head and a row for each window: crop and way, both spans, and how far it opens and closes later."""
    rows = [["crop and way", one, two, "opens", "closes"]]
    for entry in entries:
        starts, ends = entry["from"], entry["to"]
        rows.append(
            [
                f"{entry['crop']}, {entry['way']}",
                span_text(starts[0], ends[0]),
                span_text(starts[1], ends[1]),
                _moved_days(entry["opens_later_days"]),
                _moved_days(entry["closes_later_days"]),
            ]
        )
    return [row[:columns] for row in rows]


def against_whole_lines(found: AgainstWhole, few: bool, width: int, unicode: bool) -> list[str]:
    """How the windows of the years asked for move against the whole record: of many crops, by a week or more."""

    def say(text: str, **more: str) -> list[str]:
        return wrap(plain(text, unicode=unicode), width, **more)

    out = say(f"AGAINST THE WHOLE RECORD ({record_text(found.record)}): + later, - earlier")
    entries = [e for e in widest_first(found.moved) if few or _move(e) >= _WEEK]
    if entries:
        rows = moved_rows(entries[:LONGEST], "whole record", "these years")
        out += table([[plain(c, unicode=unicode) for c in row] for row in rows], width, right=(3, 4))
    if len(entries) > LONGEST:
        out.append(f"and {len(entries) - LONGEST} more")
    if still := len(found.moved) - len(entries):
        out += say(f"{still} {'window moves' if still == 1 else 'windows move'} by less than a week.")
    for words, crops in (("dates in these years only", found.gained), ("dates in the whole record only", found.lost)):
        if crops:
            out += say(f"{words}: {', '.join(crops)}", later="  ")
    return [*out, *say(_CHANCE)]


_ALL_NAMED = 32  # years; of more every fifth is named, so that a screen holds them


def _day(day: int | None) -> str:
    return "never" if day is None else day_text(day)


def opening_rains_words(rains: OpeningRains) -> str:
    """'12 Oct in the middle year; 1 year in 10 by 20 Sep, 9 in 10 by 8 Nov'."""
    if rains.p50 is None:
        return "not within half a year of late summer in the middle year"
    late = "1 year in 10 or more without" if rains.p90 is None else f"9 in 10 by {_day(rains.p90)}"
    return f"{_day(rains.p50)} in the middle year; 1 year in 10 by {_day(rains.p10)}, {late}"


def opening_rains_by_year(rains: OpeningRains) -> str:
    """Every year's day, after what is counted; of many years in a row each fifth is named."""
    few = len(rains.years) <= _ALL_NAMED
    told, before = [], None
    for year, day in rains.years:
        named = few or year % 5 == 0 or before is None or year != before + 1
        told.append(f"{year} {_day(day)}" if named else _day(day))
        before = year
    how = "" if few else ", year by year"
    return f"Opening rains, {rains.definition}{how}: {', '.join(told)}."
