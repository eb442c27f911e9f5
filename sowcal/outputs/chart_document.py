"""The sowing chart told once: months across and crops down, which each crop's dates in words, what has none and why.

A screen draws the months in letters, one mark a week; the page draws ribbons, and each crop opens to show its odds day
by day and what stops it when.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sowcal.outputs.document import (
    Caution,
    Document,
    Html,
    Items,
    Paragraph,
    Part,
    Picture,
    Section,
    controls,
    join,
    page_cell,
    page_parts,
    tag,
)
from sowcal.outputs.figure_style import Cells, CropRibbons, Ribbon, apart, crop_ribbons, first_job, month_parts, weeks
from sowcal.outputs.page_svg import month_heads, pickings_picture, reliability_picture, ribbon_key, ribbon_picture
from sowcal.outputs.place_document import against_whole
from sowcal.outputs.terminal import cut, pad, plain, screen_width, wrap
from sowcal.outputs.verdict_document import evidence_sentences, limit_part, verdict_cell
from sowcal.outputs.wording import (
    NO_PROMISE,
    advice_sentences,
    family_name,
    job_words,
    lane_words,
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
from sowcal.suitability.results import CropSeasons, CropVerdict, SowingChart, WayResult
from sowcal.year import MONTHS, day_text, month_of, span_days, span_text

__all__ = ["CropRows", "chart_document", "slug"]

_FEW = 4  # crops; a screen tells a chart of no more than these in words too
_SHORT = {"sown outdoors": "sown out", "under cover": "in cover"}


@dataclass(frozen=True)
class _Marks:
    """One set of marks: work by tenths of years, possible at 5 and 7 years in ten, picking at 1, 4 and 7."""

    solid: str
    possible: tuple[str, str]
    picking: tuple[str, str, str]
    line: str
    bar: str
    name: str
    odds: str  # how a mark of `solid` tells them

    def key(self) -> tuple[str, ...]:
        """What the marks mean, the kind of line or of mark first."""
        (seldom, often), (few, some, most) = self.possible, self.picking
        picked = f"{few} 1 to 3 years in 10, {some} 4 to 6, {most} 7 and more"
        return (
            f"{self.name.capitalize()}: weeks advised; {self.odds} and more.",
            f"Dots: works, yet a gamble or not worth it: {seldom} 5 years in 10, {often} 7 and more.",
            f"under cover: sow in the {self.name}; {self.line} seedlings stand there till they are set out.",
            f"picked: chance of picking from advised starts: {picked}.",
        )


_TALL = "the taller, the more years it works: ▄ 5 in 10, ▆ 7, ▇ 8, █ 9"
_COUNT = "the digit is the years in 10 in which it works, 9 is 9"
_BLOCKS = _Marks(" ▁▂▂▃▄▅▆▇█", ("·", ":"), ("░", "▒", "▓"), "─", "│", "blocks", _TALL)
_LETTERS = _Marks(" 123456789", (".", ":"), ("+", "x", "X"), "-", "|", "digits", _COUNT)


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
        return marks.line
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


def _crop_lines(crop: CropRibbons, layout: _Layout, marks: _Marks, unicode: bool) -> list[str]:
    name = plain(crop.crop, unicode=unicode)
    out = []
    beside = layout.crop and screen_width(name) < layout.crop
    if not beside:
        heading = cut(name, layout.width)
        blank = " " * layout.label + _barred(" " * len(layout.cells.days), layout.cells, marks.bar)
        taken = screen_width(heading) + (screen_width(heading) < layout.width)
        out.append(pad(heading, taken) + blank[taken:])
    for k, ribbon in enumerate(crop.ribbons):
        kind = ribbon.kind if layout.kind >= 14 else _SHORT.get(ribbon.kind, ribbon.kind)
        kind = pad(kind, layout.kind) if layout.crop else pad(f" {plain(kind, unicode=unicode)}", layout.kind)
        lead = pad(name if beside and k == 0 else "", layout.crop)
        out.append(lead + kind + _ribbon(ribbon, layout.cells, marks))
    return out


def _strip(crops: Iterable[CropSeasons], gambles: bool, start_month: int, width: int, unicode: bool) -> list[str]:
    """The months across and the crops down, with a key; nothing where no crop has a date."""
    layout = _layout(width, start_month)
    marks = _BLOCKS if unicode else _LETTERS
    drawn = [r for c in crops if (r := crop_ribbons(c, layout.cells, gambles=gambles)) is not None]
    if not drawn:
        return []
    head = _head(layout)
    rule = marks.line * min(layout.label + len(layout.cells.days) + 13, layout.width)
    out = [head, rule]
    for k, crop in enumerate(drawn):
        out += [rule, head] if k and k % 12 == 0 else []
        out += _crop_lines(crop, layout, marks, unicode)
    out += [rule, ""]
    kinds = {r.kind for c in drawn for r in c.ribbons}
    for text in marks.key():
        kind = text.partition(":")[0]
        if kind in kinds or kind[0].isupper():
            out += wrap(text, layout.width, later="  ")
    return out


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
        return tag("span", tag("span", lane_words(ribbon.kind), class_="kind"), drawn, class_="lane", data_way=way)

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
            data_kind="fits" if fits else "gamble" if lanes else "none",
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
        shows = [("mine", "my crops"), ("fits", "crops that fit"), ("gamble", "gambles too"), ("", "every crop")]
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
    return Section("A gamble here", (Paragraph(why, on_screen=listed), Items(named, bullets=False)), level=4)


def _in_words(lines: Iterable[CropSeasons]) -> tuple[Part, ...]:
    """Each window, then the dates to choose, for a screen; the page has them inside the crops."""
    out: list[Part] = []
    for line in lines:
        windows = windows_in_words(line)
        out += [Paragraph(w, name=f"{line.crop}, {d[:1].lower()}{d[1:]}", on_page=False) for d, w in windows]
        said = tuple(words for way in line.starts for advice in way.advice for words in advice_sentences(advice))
        out += [Items(said, on_page=False)] if said else []
    return tuple(out)


def _shut(lines: Iterable[CropSeasons]) -> Items:
    """Crops without dates by the reason, the commonest first."""
    by_reason: dict[str, list[str]] = {}
    for line in lines:
        by_reason.setdefault(reason(line), []).append(named_with_water(line))
    found = sorted(by_reason.items(), key=lambda p: (-len(p[1]), p[0]))
    return Items(tuple((why, ", ".join(names)) for why, names in found), bullets=False)


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
                screen=lambda width, unicode: _strip(drawn, not listed, start_month, width, unicode),
            ),
            *(_in_words(drawn) if few else ()),
            *((against_whole(chart.against_whole, few),) if chart.against_whole else ()),
            *((_gambles(gambles, asked, listed),) if gambles else ()),
            Section("No dates here", (_shut(shut),), level=4),
        ),
        foot=_foot(chart),
        spaced=False,
    )
