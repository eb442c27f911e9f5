"""The sowing chart told once: months across and crops down, which each crop's dates in words, what has none and why.

A screen draws the months in letters, one mark a week; the page draws ribbons, and each crop opens to show its odds day
by day and what stops it when.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sowcal.outputs.document import (
    Caution,
    Column,
    Document,
    Html,
    Items,
    Paragraph,
    Part,
    Picture,
    Section,
    Table,
    controls,
    join,
    page_cell,
    page_parts,
    tag,
)
from sowcal.outputs.figure_chart import chart_strip
from sowcal.outputs.figure_style import Cells, CropRibbons, Ribbon, apart, crop_ribbons, first_job, month_parts, weeks
from sowcal.outputs.harvest_words import DRAWN, harvest_words, litres_cell
from sowcal.outputs.page_svg import month_heads, pickings_picture, reliability_picture, ribbon_key, ribbon_picture
from sowcal.outputs.place_document import against_whole
from sowcal.outputs.terminal import cut, pad, plain, screen_width, wrap
from sowcal.outputs.verdict_document import evidence_sentences, limit_part, verdict_cell
from sowcal.outputs.wording import (
    JOB_WORDS,
    NO_PROMISE,
    advice_sentences,
    at_best,
    family_name,
    foot_text,
    job_words,
    named_with_water,
    odds_of_few,
    odds_text,
    opening_rains_by_year,
    opening_rains_words,
    outside_words,
    reason,
    record_text,
    when_words,
    windows_in_words,
)
from sowcal.plurals import counted
from sowcal.suitability.results import Advice, CropSeasons, CropVerdict, SowingChart, WayResult
from sowcal.suitability.week import Standing, standings
from sowcal.year import MONTHS, YEAR, day_text, month_of, span_days, span_length, span_text, whole_year

__all__ = ["CropRows", "chart_document", "overview_document", "slug"]

_FEW = 4  # crops; a screen tells a chart of no more than these in words too


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


def _curve(line: CropSeasons, asked: float, start_month: int) -> Picture | None:
    """Share of years that succeed by start day, of each way of starting."""
    ways = [(w.way, w.reliability) for w in line.starts if w.reliability is not None]
    if not ways:
        return None
    words = f"{line.crop}, share of years that succeed by start day: " + "; ".join(
        f"{w.way}, {_likeliest(w)}" for w in line.starts if w.reliability is not None
    )
    key = [tag("span", tag("i", class_=f"dash {way.split()[0]}"), way) for way, _ in ways]
    caption = join(
        f"Years in ten that succeed, by start day (dotted: the {odds_text(asked)} asked for)",
        tag("span", *key, class_="key") if len(key) > 1 else None,
    )
    return Picture(lambda: reliability_picture(ways, asked, start_month, words), caption)


def _pickings(line: CropSeasons, start_month: int) -> Picture:
    """First pickings by year from the best day of each window."""
    windows = [(w.way, window.first_pickings) for w in line.starts for window in w.windows or w.possible]
    known = [day for _, pickings in windows for _, day in pickings]
    failed = sum(day is None for day in known)
    words = (
        f"{line.crop}, first picking in each year; a crop from {len(known) - failed} of {counted(len(known), 'start')}."
    )
    began = "" if all(w.reliability is None for w in line.starts) else ", begun on the best day"
    lacks = "; a year without a dot brings no crop" if failed else ""
    return Picture(lambda: pickings_picture(windows, start_month, words), f"First picking, year by year{began}{lacks}")


def _advice_parts(way: WayResult, several: bool) -> list[Part]:
    """The dates of each season of one way."""
    said = tuple(words for advice in way.advice for words in advice_sentences(advice))
    if not said:
        return []
    head = f"Dates to choose ({job_words(way.way)})" if several else "Dates to choose"
    return [Paragraph(head, look="sub"), Items(said)]


def _crop_parts(line: CropSeasons, verdict: CropVerdict | None) -> list[Part]:
    """What is told of one crop: its windows, or a perennial's evidence; what stops it when; cautions and notes."""
    annual = any(w.reliability is not None for w in line.starts)
    out: list[Part] = [Items(windows_in_words(line))] if annual else []
    if verdict is not None and not annual:
        out.append(Items(tuple(evidence_sentences(verdict))))
        out += [limit_part(verdict)] if verdict.limiting_factor else []
    out += [part for way in line.starts for part in _advice_parts(way, len(line.starts) > 1)]
    several = len(line.starts) > 1
    stops = tuple(
        f"{job_words(way.way).capitalize()} {outside_words(o)}" if several else outside_words(o)
        for way in line.starts
        if way.reliability is not None
        for o in way.outside
    )
    out += [Paragraph("What stops it outside these dates", look="sub"), Items(stops)] if stops else []
    return [*out, *map(Caution, line.cautions), *(Paragraph(note, name="Note") for note in line.notes)]


def slug(text: str) -> str:
    """Letters and digits of a name, for the id of an element."""
    return "-".join("".join(c if c.isalnum() and c.isascii() else " " for c in text.lower()).split())


@dataclass(frozen=True)
class CropRows:
    """Rows of a chart on the page; `key` parts the ids of one place from those of another.

    Each row stands in a `noscript` of its own: a reader without a script sees them all, and the page's script makes
    each when it comes into view. What narrows them stands on that element.
    """

    asked: float
    verdicts: Mapping[str, CropVerdict]
    cells: Cells
    key: str

    def opened(self, line: CropSeasons) -> Html:
        """Inside of a row: pictures beside words."""
        month = self.cells.start_month
        drawn = [p for p in (_curve(line, self.asked, month), _pickings(line, month)) if p is not None]
        words = _crop_parts(line, self.verdicts.get(line.crop))
        return tag("div", tag("div", page_parts(drawn), class_="drawn"), tag("div", page_parts(words)), class_="opened")

    def lane(self, line: CropSeasons, ribbon: Ribbon) -> Html:
        """One line of a crop, its best fortnights marked above the ribbon."""
        best = [(a.best_start, a.best_end) for way in line.starts if way.way == ribbon.kind for a in way.advice]
        drawn = ribbon_picture(ribbon, self.cells, best)
        way = ribbon.kind if best or any(w.way == ribbon.kind for w in line.starts) else None
        return tag("span", tag("span", ribbon.kind, class_="kind"), drawn, class_="lane", data_way=way)

    def row(self, line: CropSeasons, ribbons: CropRibbons | None) -> Html:
        """One crop: its name, verdict and ribbons, which open."""
        verdict = self.verdicts.get(line.crop)
        when = "; ".join(filter(None, map(when_words, line.starts)))
        fits = bool(when)
        chip = None if verdict is None else page_cell(verdict_cell(verdict))
        lanes = [self.lane(line, ribbon) for ribbon in (ribbons.ribbons if ribbons else ())]
        summary = tag(
            "summary",
            tag("span", tag("span", line.crop, class_="crop"), chip, class_="who"),
            tag("span", *lanes, class_="lanes", aria_hidden="true") if lanes else None,
            tag("span", when or f"No dates as safe as asked for: {reason(line)}.", class_="when"),
        )
        row = tag("div", tag("details", summary, self.opened(line)), class_="row", id=f"{self.key}-{slug(line.crop)}")
        return tag(
            "noscript",
            row,
            data_name=line.crop,
            data_family=line.family,
            data_first=first_job(line, self.cells.start_month),
            data_months=_months_with_jobs(line),
            data_lanes=len(lanes),
            data_kind="fits" if fits else "chancy" if lanes else "none",
        )

    def chart(self, lines: Iterable[CropSeasons], key: str | None = None) -> Html:
        """Months over rows, the first job first, crops without dates last."""
        drawn = [(line, crop_ribbons(line, self.cells, gambles=True)) for line in lines]
        kept = sorted(drawn, key=lambda d: (first_job(d[0], self.cells.start_month), d[0].crop))
        rows = tag("div", *[self.row(line, ribbons) for line, ribbons in kept], id=key, class_="rows")
        return tag("div", month_heads(self.cells.start_month), rows, class_="chart")

    def sought(self, lines: Sequence[CropSeasons]) -> Html:
        """The chart of all crops, with a key and what narrows it."""
        key = f"{self.key}-rows"
        families = [("", "all"), *((f, family_name(f)) for f in sorted({c.family for c in lines}, key=family_name))]
        shows = [("mine", "my crops"), ("fits", "crops that fit"), ("chancy", "chancy ones too"), ("", "every crop")]
        choices = (
            ("show", "Show", shows),
            ("month", "Something to start in", [("", "any month"), *((str(m + 1), MONTHS[m]) for m in range(12))]),
            ("family", "Family", families),
            ("order", "Order by", [("first", "first job"), ("name", "name"), ("family", "family")]),
        )
        button = tag("button", "Open all", type="button", data_do="open")
        nothing = None if any(w.windows for c in lines for w in c.starts) else "No crop fits what you asked for."
        return join(
            controls(key, "crop", choices, button),
            ribbon_key(odds_text(self.asked)),
            tag("p", nothing, class_="nothing") if nothing else None,
            self.chart(lines, key),
        )


def _gamble(line: CropSeasons) -> str:
    way, window = max(
        ((s, w) for s in line.starts for w in s.possible),
        key=lambda p: p[1].reliability * p[1].yield_fraction,
    )
    when = span_text(window.start, window.end)
    odds = odds_of_few(window.reliability, window.interval, window.years_decided)
    return f"{named_with_water(line)}: {way.way} {when}, {odds} ({reason(line)})"


def _gambles(lines: Sequence[CropSeasons], asked: str, listed: bool) -> Section:
    """Crops with nothing but possible dates, named; a screen that draws them anyway does not name them too."""
    why = f"No start day keeps the {asked} asked for; a perennial may keep them and not live long."
    named = tuple(map(_gamble, lines)) if listed else ()
    return Section("Chancy here", (Paragraph(why, on_screen=listed), Items(named, bullets=False)), level=4)


def _in_words(lines: Iterable[CropSeasons]) -> tuple[Part, ...]:
    """Each way's windows, then its dates to choose, for a screen; the page has them inside the crops."""
    out: list[Part] = []
    for line in lines:
        for way in line.starts:
            windows = windows_in_words(replace(line, starts=(way,)))
            out += [Paragraph(w, name=f"{line.crop}, {d[:1].lower()}{d[1:]}", on_page=False) for d, w in windows]
            said = tuple(words for advice in way.advice for words in advice_sentences(advice))
            out += [Items(said, on_page=False)] if said else []
            if drawn := harvest_words(way.harvest):
                out.append(Paragraph(drawn, name=f"{line.crop}, {way.way}, a square metre", on_page=False))
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
        *(() if rains is None else (f"The rains open {opening_rains_words(rains)}.", opening_rains_by_year(rains))),
        *((f"Not judged: {', '.join(chart.not_judged)}.",) if chart.not_judged else ()),
        f"{NO_PROMISE} {chart.made_by.short()}",
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
    how = "Each crop opens to show its odds day by day, its dates in words, and what stops it when."
    return Document(
        f"SOWING CHART of {chart.site}; {record_text(chart.record)}; advised: {asked} or better",
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
    "now": "Now",
    "soon": "Soon",
    "later": "Later",
    "chancy": "Chancy",
    "not here": "Not here",
}
_FIRST = {"now": "till", "soon": "from", "later": "from", "chancy": "works"}  # heads the words on the first job
_YEAR_MARKS = ("█▄░─·", "#=+-.")  # best fortnight, advised, picked, under cover, chancy; without Unicode
_KEY = ("best fortnight", "advised", "picked", "sown under cover", "chancy")


def _of(cell: np.ndarray, days: np.ndarray) -> bool:
    """Whether days of a kind fill the better part of a cell."""
    return bool(days[cell].mean() >= 0.4)


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
    kinds = _year_days(line)
    out = []
    for cell in cells.days:
        out.append(next((m for m, days in zip(marks, kinds, strict=True) if _of(cell, days)), " "))
    for way in line.starts:
        for window in way.windows or way.possible:
            place = next(k for k, cell in enumerate(cells.days) if window.best in cell)
            out[place] = marks[1 if way.windows else 4] if out[place] not in marks[:2] else out[place]
        for advice in way.advice:
            middle = span_days(advice.best_start, advice.best_end)[span_length(*_ends(advice)) // 2]
            out[next(k for k, cell in enumerate(cells.days) if middle in cell)] = marks[0]
    return "".join(out)


def _ends(advice: Advice) -> tuple[int, int]:
    return advice.best_start, advice.best_end


def _next_words(found: Standing, *, short: bool = False) -> str:
    """What is done first, and the day till or from which: 'sown outdoors 24 Mar'; how often a chancy crop works."""
    if found.job is None or found.start is None or found.end is None:
        often = at_best(found.line).removesuffix(" at best").partition(" ")[2]
        return often if found.group == "chancy" else reason(found.line)
    job = JOB_WORDS[found.job].removeprefix("sown " if short else "")
    if whole_year(found.start, found.end):
        return f"{job} all year"
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
        names = (MONTHS[m][: 1 if parts < 4 else 3] for m in self.cells.month_order())
        return " " * (self.name + 1) + "".join(pad(name, parts) for name in names)

    def mark(self, day: int, unicode: bool) -> str:
        """The line that marks the day in the year."""
        cell = next(k for k, cell in enumerate(self.cells.days) if day in cell)
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
    shown = [(s, plain(s.line.crop, unicode=unicode)) for s in found if s.group != "not here"]
    if not shown:
        return []
    layout = _year_layout(max(screen_width(name) for _, name in shown), width, start_month)
    edge = layout.name + len(layout.cells.days) + 2
    head = layout.head() + (f" {'l/m2':>{DRAWN - 1}}" if layout.litres else "")
    out, group, used = [head], "", set()
    for s, name in shown:
        if s.group != group:
            title = pad(_GROUPS[s.group].upper(), edge + DRAWN * layout.litres) + _FIRST[s.group]
            mark = layout.mark(day, unicode) if not group else ""
            out.append(_over(title, mark))
            group = s.group
        year = _year_strip(s.line, layout.cells, marks)
        used |= set(year)
        drawn = litres_cell(s.line) if layout.litres else ""
        out.append(f"{pad(name, layout.name)} {year} {drawn}{_next_words(s, short=layout.short)}")
    key = ", ".join(f"{mark} {words}" for mark, words in zip(marks, _KEY, strict=True) if mark in used)
    return [*(cut(line, width) for line in out), "", *wrap(key, width)]


def _over(below: str, above: str) -> str:
    """One line laid over another, which shows where it is blank."""
    length = max(len(below), len(above))
    pairs = zip(below.ljust(length), above.ljust(length), strict=True)
    return "".join(b if a == " " else a for b, a in pairs)


def _best_words(line: CropSeasons) -> str:
    return "; ".join(f"{way.way} {span_text(*_ends(a))}" for way in line.starts for a in way.advice)


def _overview_table(found: Sequence[Standing], site: str) -> Table:
    """The same for the page, in words."""
    columns = ("crop", "when", "first", "best fortnights")
    rows = tuple((s.line.crop, s.group, _next_words(s), _best_words(s.line) or "-") for s in found)
    return Table(tuple(map(Column, columns)), rows, f"{site}: what can be done", look="crops")


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
        f"THE YEAR at {chart.site}; {record_text(chart.record, brief=True)}; advised: {asked} or better",
        (
            Picture(
                lambda: page_parts([_overview_table(found, chart.site)]),
                screen=lambda width, unicode: _overview_lines(found, day, start_month, width, unicode),
            ),
            *((against_whole(chart.against_whole, False),) if chart.against_whole else ()),
            *((Paragraph(f"{not_here}.", name="Not here"),) if shut else ()),
        ),
        foot=(
            *(() if rains is None else (f"The rains open {opening_rains_words(rains)}.",)),
            "Name crops for their full picture, odds, and what is not judged: sowcal chart leek. "
            + foot_text(chart.record, chart.made_by),
        ),
        spaced=False,
    )
