"""The sowing chart told once: months across and crops down, which each crop's dates in words, what has none and why.

A screen draws the months in letters, one mark a week; the page draws ribbons, and each crop opens to show its odds day
by day and what stops it when.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sowcal.languages import phrase, say, say_crop
from sowcal.outputs.crop_rows import CropRows
from sowcal.outputs.document import (
    Column,
    Document,
    Items,
    Paragraph,
    Part,
    Picture,
    Section,
    Table,
    page_parts,
)
from sowcal.outputs.figure_chart import chart_strip
from sowcal.outputs.figure_style import Cells, apart, month_parts, weeks
from sowcal.outputs.harvest_words import DRAWN, harvest_words, litres_cell
from sowcal.outputs.place_document import against_whole
from sowcal.outputs.terminal import cut, pad, plain, screen_width, wrap
from sowcal.outputs.wording import (
    JOB_WORDS,
    NO_PROMISE,
    advice_sentences,
    best_odds,
    foot_text,
    named_with_water,
    odds_of_few,
    odds_text,
    opening_rains_by_year,
    opening_rains_words,
    reason,
    record_text,
    windows_in_words,
)
from sowcal.suitability.results import Advice, CropSeasons, CropVerdict, SowingChart
from sowcal.suitability.week import Standing, standings
from sowcal.units import unit_word
from sowcal.year import MONTHS, YEAR, day_text, span_days, span_length, span_text, whole_year

__all__ = ["chart_document", "overview_document"]

_FEW = 4  # crops; a screen tells a chart of no more than these in words too


def _gamble(line: CropSeasons) -> str:
    way, window = max(
        ((s, w) for s in line.starts for w in s.possible),
        key=lambda p: p[1].reliability * p[1].yield_fraction,
    )
    when = span_text(window.start, window.end)
    odds = odds_of_few(window.reliability, window.interval, window.years_decided)
    return f"{named_with_water(line)}: {say(way.way)} {when}, {odds} ({reason(line)})"


def _gambles(lines: Sequence[CropSeasons], asked: str, listed: bool) -> Section:
    """Crops with nothing but possible dates, named; a screen that draws them anyway does not name them too."""
    why = say("No start day keeps the {asked} asked for; a perennial may keep them and not live long.", asked=asked)
    named = tuple(map(_gamble, lines)) if listed else ()
    return Section("Chancy here", (Paragraph(why, on_screen=listed), Items(named, bullets=False)), level=4)


def _in_words(lines: Iterable[CropSeasons]) -> tuple[Part, ...]:
    """Each way's windows, then its dates to choose, for a screen; the page has them inside the crops."""
    out: list[Part] = []
    for line in lines:
        for way in line.starts:
            windows = windows_in_words(replace(line, starts=(way,)))
            out += [
                Paragraph(w, name=f"{say_crop(line.crop)}, {d[:1].lower()}{d[1:]}", on_page=False) for d, w in windows
            ]
            said = tuple(words for advice in way.advice for words in advice_sentences(advice))
            out += [Items(said, on_page=False)] if said else []
            if drawn := harvest_words(way.harvest):
                name = say(
                    "{crop}, {way}, {area}",
                    crop=say_crop(line.crop),
                    way=say(way.way),
                    area=unit_word("a square metre"),
                )
                out.append(Paragraph(drawn, name=name, on_page=False))
    return tuple(out)


def _by_reason(lines: Iterable[CropSeasons]) -> list[tuple[str, str]]:
    """Crops without dates by the reason, the commonest first."""
    by_reason: dict[str, list[str]] = {}
    for line in lines:
        by_reason.setdefault(reason(line), []).append(named_with_water(line))
    found = sorted(by_reason.items(), key=lambda p: (-len(p[1]), p[0]))
    return [(why, ", ".join(names)) for why, names in found]


def _foot(chart: SowingChart) -> tuple[str, ...]:
    rains = chart.opening_rains
    return (
        *(
            ()
            if rains is None
            else (
                say("The rains open {opening_rains_words}.", opening_rains_words=opening_rains_words(rains)),
                opening_rains_by_year(rains),
            )
        ),
        *((say("Not judged: {names}.", names=", ".join(map(say, chart.not_judged))),) if chart.not_judged else ()),
        f"{say(NO_PROMISE)} {chart.made_by.short()}",
    )


def chart_document(
    chart: SowingChart,
    verdicts: Mapping[str, CropVerdict] | None = None,
    *,
    start_month: int = 1,
    show: str = "recommended",
    key: str = "",
) -> Document:
    """The chart of one place.

    Parameters
    ----------
    chart : SowingChart
    verdicts : mapping of CropVerdict, optional
        By crop; the page shows them beside the crops.
    start_month : int
        Month, 1 to 12, with which the year begins.
    show : {'recommended', 'possible'}
        Whether a screen lists crops with nothing but possible dates apart or draws them too. They are drawn anyway
        where no crop has better.
    key : str
        Start of the ids of this place on the page.
    """
    gambles, shut = apart(chart)
    away = {c.crop for c in (*gambles, *shut)}
    fits = [c for c in chart.crops if c.crop not in away]
    listed = bool(fits) and show == "recommended"  # a screen names the gambles; else it draws them too
    drawn = fits if listed else chart.crops
    few = len(chart.crops) <= _FEW
    asked = odds_text(chart.reliability_asked)
    rows = CropRows(chart.reliability_asked, verdicts or {}, weeks(start_month), key)
    how = say("Each crop opens to show its odds day by day, its dates in words, and what stops it when.")
    return Document(
        say(
            "SOWING CHART of {site}; {record}; advised: {asked} or better",
            site=chart.site,
            record=record_text(chart.record),
            asked=asked,
        ),
        (
            Paragraph(how, on_screen=False),
            Picture(
                lambda: rows.sought(chart.crops),
                screen=lambda width, unicode: chart_strip(drawn, not listed, start_month, width, unicode),
            ),
            *(_in_words(drawn) if few else ()),
            *((against_whole(chart.against_whole, few),) if chart.against_whole else ()),
            *((_gambles(gambles, asked, listed),) if gambles else ()),
            Section("No dates here", (Items(tuple(_by_reason(shut)), bullets=False),), level=4),
        ),
        foot=_foot(chart),
        spaced=False,
    )


_GROUPS = {
    "now": phrase("Now"),
    "soon": phrase("Soon"),
    "later": phrase("Later"),
    "chancy": phrase("Chancy"),
    "not here": phrase("Not here"),
}
_FIRST = {
    "now": phrase("till"),
    "soon": phrase("from"),
    "later": phrase("from"),
    "chancy": phrase("works"),
}  # heads the words on the first job
_YEAR_MARKS = ("█▄░─·", "#=+-.")  # best fortnight, advised, picked, under cover, chancy; without Unicode
_KEY = (phrase("best fortnight"), phrase("advised"), phrase("picked"), phrase("sown under cover"), phrase("chancy"))


_BETTER_PART = 0.4  # of a cell, that days of a kind fill


def _year_days(line: CropSeasons) -> list[np.ndarray]:
    """Days of the year of each mark, in their order."""
    out = [np.zeros(YEAR, dtype=bool) for _ in _KEY]
    for way in line.starts:
        for advice in way.advice:
            out[0][span_days(advice.best_start, advice.best_end)] = True
        for window in way.windows:
            out[1][span_days(window.start, window.end)] = True
            if window.raise_under_cover:
                out[3][span_days(*window.raise_under_cover)] = True
        for window in way.possible if not way.windows else ():
            out[4][span_days(window.start, window.end)] = True
        if way.picking is not None and way.windows:
            out[2] |= np.nan_to_num(way.picking) >= 0.5
    return out


def _year_strip(line: CropSeasons, cells: Cells, marks: str) -> str:
    """One sign a cell: the first mark that fills the better part of it; a short span is marked in its middle."""
    fills = cells.share(np.array(_year_days(line))) >= _BETTER_PART
    first = np.where(fills.any(axis=0), fills.argmax(axis=0), len(marks))
    out = [f"{marks} "[k] for k in first.tolist()]
    for way in line.starts:
        for window in way.windows or way.possible:
            place = cells.of_day(window.best)
            out[place] = marks[1 if way.windows else 4] if out[place] not in marks[:2] else out[place]
        for advice in way.advice:
            middle = span_days(advice.best_start, advice.best_end)[span_length(*_ends(advice)) // 2]
            out[cells.of_day(middle)] = marks[0]
    return "".join(out)


def _ends(advice: Advice) -> tuple[int, int]:
    return advice.best_start, advice.best_end


def _next_words(found: Standing, *, short: bool = False) -> str:
    """What is done first, and the day till or from which: 'sown outdoors 24 Mar'; how often a chancy crop works."""
    if found.job is None or found.start is None or found.end is None:
        return best_odds(found.line) if found.group == "chancy" else reason(found.line)
    job = say(JOB_WORDS[found.job].removeprefix("sown ") if short else JOB_WORDS[found.job])
    if whole_year(found.start, found.end):
        return say("{job} all year", job=job)
    return f"{job} {day_text(found.end if found.group == 'now' else found.start)}"


@dataclass(frozen=True)
class _YearLayout:
    """How a line of the overview is shared out: the name, the cells of the year, what is done first."""

    cells: Cells
    name: int
    short: bool  # words without 'sown', months by their letters
    litres: bool  # whether the water that a crop draws stands before them

    def head(self) -> str:
        parts = len(self.cells.days) // 12
        names = (say(MONTHS[m])[: 1 if parts < 4 else 3] for m in self.cells.month_order())
        return " " * (self.name + 1) + "".join(pad(name, parts) for name in names)

    def mark(self, day: int, unicode: bool) -> str:
        """The line that marks the day in the year."""
        cell = self.cells.of_day(day)
        sign, date = "▼" if unicode else "v", day_text(day)
        room = len(self.cells.days) - cell - 2
        said = f"{sign} {date}" if room >= len(date) else f"{date} {sign}"
        return " " * (self.name + 1 + cell - (0 if room >= len(date) else len(date) + 1)) + said


def _year_layout(names: int, width: int, start_month: int) -> _YearLayout:
    """Four cells a month where there is room, else three, or two; names give way to the words about the first job."""
    parts = 4 if width >= 96 else 3 if width >= 78 else 2
    words = 20 if parts == 4 else 18
    room = width - 12 * parts - words - 2
    litres = room - DRAWN >= names  # a name goes before them
    return _YearLayout(month_parts(parts, start_month), min(names, room - DRAWN * litres), parts < 4, litres)


def _overview_lines(found: Sequence[Standing], day: int, start_month: int, width: int, unicode: bool) -> list[str]:
    """A line a crop under the head of its group: its name, the year, and what is done first."""
    marks = _YEAR_MARKS[0 if unicode else 1]
    shown = [(s, plain(say_crop(s.line.crop), unicode=unicode)) for s in found if s.group != "not here"]
    if not shown:
        return []
    layout = _year_layout(max(screen_width(name) for _, name in shown), width, start_month)
    edge = layout.name + len(layout.cells.days) + 2
    unit = unit_word("l/m2")
    short = unit if len(unit) < DRAWN else unit.partition("/")[0]
    head = layout.head() + (f" {short:>{DRAWN - 1}}" if layout.litres else "")
    out, group, used = [head], "", set()
    for s, name in shown:
        if s.group != group:
            title = pad(say(_GROUPS[s.group]).upper(), edge + DRAWN * layout.litres) + say(_FIRST[s.group])
            mark = layout.mark(day, unicode) if not group else ""
            out.append(_over(title, mark))
            group = s.group
        year = _year_strip(s.line, layout.cells, marks)
        used |= set(year)
        drawn = litres_cell(s.line) if layout.litres else ""
        out.append(f"{pad(name, layout.name)} {year} {drawn}{_next_words(s, short=layout.short)}")
    key = ", ".join(f"{mark} {say(words)}" for mark, words in zip(marks, _KEY, strict=True) if mark in used)
    key += f", {short}: {unit_word('litres/m2')}" if layout.litres and short != unit else ""
    return [*(cut(line, width) for line in out), "", *wrap(key, width)]


def _over(below: str, above: str) -> str:
    """One line laid over another, which shows where it is blank."""
    length = max(len(below), len(above))
    pairs = zip(below.ljust(length), above.ljust(length), strict=True)
    return "".join(b if a == " " else a for b, a in pairs)


def _best_words(line: CropSeasons) -> str:
    return "; ".join(f"{say(way.way)} {span_text(*_ends(a))}" for way in line.starts for a in way.advice)


def _overview_table(found: Sequence[Standing], site: str) -> Table:
    """The same for the page, in words."""
    columns = ("crop", "when", "first", "best fortnights")
    rows = tuple(
        (say_crop(s.line.crop), say(_GROUPS[s.group]).lower(), _next_words(s), _best_words(s.line) or "-")
        for s in found
    )
    return Table(tuple(map(Column, columns)), rows, say("{site}: what can be done", site=site), look="crops")


def overview_document(chart: SowingChart, day: int, *, start_month: int = 1) -> Document:
    """A line a crop over the year, by what can be done from a day on.

    Parameters
    ----------
    chart : SowingChart
    day : int
        Day of the year, 0 to 364, from which first jobs are told.
    start_month : int
        Month, 1 to 12, with which the year begins.
    """
    found = standings(chart, day)
    shut = [s.line for s in found if s.group == "not here"]
    not_here = "; ".join(f"{names}: {why}" for why, names in _by_reason(shut))
    asked = odds_text(chart.reliability_asked)
    rains = chart.opening_rains
    return Document(
        say(
            "THE YEAR at {site}; {record}; advised: {asked} or better",
            site=chart.site,
            record=record_text(chart.record, brief=True),
            asked=asked,
        ),
        (
            Picture(
                lambda: page_parts([_overview_table(found, chart.site)]),
                screen=lambda width, unicode: _overview_lines(found, day, start_month, width, unicode),
            ),
            *((against_whole(chart.against_whole, False),) if chart.against_whole else ()),
            *((Paragraph(f"{not_here}.", name="Not here"),) if shut else ()),
        ),
        foot=(
            *(
                ()
                if rains is None
                else (say("The rains open {opening_rains_words}.", opening_rains_words=opening_rains_words(rains)),)
            ),
            say(
                "Name crops for their full picture, odds, and what is not judged: sowcal chart {crop}.",
                crop=say_crop("leek"),
            )
            + " "
            + foot_text(chart.record, chart.made_by),
        ),
        spaced=False,
    )
