"""Rows of the sowing chart on the page: a crop each, which opens to show its odds day by day and its dates in words.

Above them stand the sliders that move them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sowcal.languages import counted, phrase, say, say_crop, spoken
from sowcal.outputs.document import (
    Caution,
    Html,
    Items,
    Paragraph,
    Part,
    Picture,
    controls,
    join,
    page_cell,
    page_parts,
    tag,
)
from sowcal.outputs.evidence_words import evidence_sentences
from sowcal.outputs.figure_style import Cells, CropRibbons, Ribbon, crop_ribbons, first_job
from sowcal.outputs.page_svg import month_heads, pickings_picture, reliability_picture, ribbon_key, ribbon_picture
from sowcal.outputs.verdict_document import limit_part, verdict_cell
from sowcal.outputs.wording import (
    advice_sentences,
    family_name,
    job_words,
    odds_text,
    outside_words,
    per_cent,
    reason,
    when_words,
    windows_in_words,
)
from sowcal.suitability.results import CropSeasons, CropVerdict, WayResult
from sowcal.units import told
from sowcal.year import MONTHS, day_text, month_of, span_days

if TYPE_CHECKING:
    from sowcal.outputs.page_script import StepsTold

__all__ = ["CropRows", "sliders", "slug"]


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
        return say("not known")
    day, share = way.likeliest_day
    return say("best about {day}, {share:.0%} of years", day=day_text(day), share=share)


def _curve(line: CropSeasons, asked: float, start_month: int) -> Picture | None:
    """Share of years that succeed by start day, of each way of starting."""
    ways = [(w.way, w.reliability) for w in line.starts if w.reliability is not None]
    if not ways:
        return None
    words = say("{crop}, share of years that succeed by start day: ", crop=say_crop(line.crop)) + "; ".join(
        f"{say(w.way)}, {_likeliest(w)}" for w in line.starts if w.reliability is not None
    )
    key = [tag("span", tag("i", class_=f"dash {way.split()[0]}"), way) for way, _ in ways]
    caption = join(
        say("Years in ten that succeed, by start day (dotted: the {odds} asked for)", odds=odds_text(asked)),
        tag("span", *key, class_="key") if len(key) > 1 else None,
    )
    return Picture(lambda: reliability_picture(ways, asked, start_month, words), caption)


def _pickings(line: CropSeasons, start_month: int) -> Picture:
    """First pickings by year from the best day of each window."""
    windows = [(w.way, window.first_pickings) for w in line.starts for window in w.windows or w.possible]
    known = [day for _, pickings in windows for _, day in pickings]
    failed = sum(day is None for day in known)
    words = say(
        "{crop}, first picking in each year; a crop from {count} of {starts}.",
        crop=say_crop(line.crop),
        count=len(known) - failed,
        starts=counted(len(known), "start"),
    )
    began = "" if all(w.reliability is None for w in line.starts) else say(", begun on the best day")
    lacks = say("; a year without a dot brings no crop") if failed else ""
    return Picture(
        lambda: pickings_picture(windows, start_month, words),
        say("First picking, year by year{began}{lacks}", began=began, lacks=lacks),
    )


def _advice_parts(way: WayResult, several: bool) -> list[Part]:
    """The dates of each season of one way."""
    said = tuple(words for advice in way.advice for words in advice_sentences(advice))
    if not said:
        return []
    head = say("Dates to choose ({job_words})", job_words=job_words(way.way)) if several else say("Dates to choose")
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
        return tag("span", tag("span", say(ribbon.kind), class_="kind"), drawn, class_="lane", data_way=way)

    def row(self, line: CropSeasons, ribbons: CropRibbons | None) -> Html:
        """One crop: its name, verdict and ribbons, which open."""
        verdict = self.verdicts.get(line.crop)
        when = "; ".join(filter(None, map(when_words, line.starts)))
        fits = bool(when)
        chip = None if verdict is None else page_cell(verdict_cell(verdict))
        lanes = [self.lane(line, ribbon) for ribbon in (ribbons.ribbons if ribbons else ())]
        summary = tag(
            "summary",
            tag("span", tag("span", say_crop(line.crop), class_="crop"), chip, class_="who"),
            tag("span", *lanes, class_="lanes", aria_hidden="true") if lanes else None,
            tag("span", when or say("No dates as safe as asked for: {reason}.", reason=reason(line)), class_="when"),
        )
        row = tag("div", tag("details", summary, self.opened(line)), class_="row", id=f"{self.key}-{slug(line.crop)}")
        return tag(
            "noscript",
            row,
            data_name=line.crop,
            data_said=None if spoken() == "en" else say_crop(line.crop),
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
        families = [
            ("", say("all")),
            *((f, family_name(f)) for f in sorted({c.family for c in lines}, key=family_name)),
        ]
        shows = [
            ("mine", say("my crops")),
            ("fits", say("crops that fit")),
            ("chancy", say("chancy ones too")),
            ("", say("every crop")),
        ]
        choices = (
            ("show", say("Show"), shows),
            (
                "month",
                say("Something to start in"),
                [("", say("any month")), *((str(m + 1), say(MONTHS[m])) for m in range(12))],
            ),
            ("family", say("Family"), families),
            ("order", say("Order by"), [("first", say("first job")), ("name", say("name")), ("family", say("family"))]),
        )
        button = tag("button", say("Open all"), type="button", data_do="open")
        nothing = None if any(w.windows for c in lines for w in c.starts) else say("No crop fits what you asked for.")
        return join(
            controls(key, "crop", choices, button),
            ribbon_key(odds_text(self.asked)),
            tag("p", nothing, class_="nothing") if nothing else None,
            self.chart(lines, key),
        )


def sliders(
    steps: StepsTold, water: Sequence[tuple[float, StepsTold]], asked: tuple[float, float], served: bool
) -> Html:
    """Sliders, each over the steps that the page holds, at the settings that it was made with."""

    def slider(label: str, does: str, values: Sequence[float], at: float, words: Sequence[str]) -> Html:
        place = values.index(at)
        made = tag(
            "input",
            type="range",
            min="0",
            max=len(values) - 1,
            step="1",
            value=place,
            data_do=does,
            data_words="|".join(words),
            aria_valuetext=words[place],
        )
        return tag("label", f"{say(label)}: ", tag("b", words[place]), made)

    share, least = asked
    litres = [n for n, _ in water]
    often = [say("{odds} or better", odds=odds_text(r)) for r in steps.reliabilities]
    much = [say("{share} of a full crop", share=per_cent(y)) for y in steps.least_yields]
    at_most = [say("{water} at most in a dry year", water=told(n, "litres per m²")) for n in litres]
    drawn = [say("as the page was made"), *at_most]
    return tag(
        "div",
        slider(phrase("Works in"), "reliability", steps.reliabilities, share, often),
        slider(phrase("Counts as a success"), "least", steps.least_yields, least, much),
        slider(phrase("Stored water"), "water", (-1.0, *litres), -1.0, drawn) if litres else None,
        tag("button", "As the page was made", type="button", data_do="reset"),
        tag(
            "p",
            "Dates and the best fortnight move with the sliders, as the command would give them; perennials stay. "
            "Verdicts, raising and picking are hidden while a slider is moved.",
            class_="small",
        ),
        _watered(water[0][1], served) if water else None,
        class_="sliders",
        hidden=True,
    )


def _watered(steps: StepsTold, served: bool) -> Html:
    """Which crops the slider of stored water moves, and what becomes of the others."""
    note = say(
        "Stored water is what a dry year in ten draws. It is followed for {crops}.",
        crops=", ".join(map(say_crop, steps.ways)),
    )
    more = phrase("Of other crops it is not known here: a page made with them on your list, or named to it, has it.")
    if served:
        more = "Of any other crop it is followed when its row is looked at, a second each."
    return tag("p", f"{note} {say(more)}", class_="small")
