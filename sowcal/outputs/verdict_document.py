"""Verdicts told once for screen and page: all crops in a table, or one with what lies behind its verdict."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from sowcal.languages import counted, phrase, say, say_crop
from sowcal.outputs.document import (
    Caution,
    Cell,
    Column,
    Document,
    Fold,
    Items,
    Paragraph,
    Part,
    Section,
    Table,
)
from sowcal.outputs.evidence_words import evidence_sentences
from sowcal.outputs.harvest_words import harvest_cells, harvest_words
from sowcal.outputs.perennial_words import chill_span, perennial_answer, picked_words
from sowcal.outputs.wording import (
    ENOUGH,
    NO_PROMISE,
    family_name,
    foot_text,
    in_ten,
    interval_of,
    odds_of_few,
    record_text,
    short_odds,
    three_words,
    when_words,
)
from sowcal.provenance import MadeBy
from sowcal.suitability.annuals import GRADES
from sowcal.suitability.results import CropSeasons, CropVerdict, Record
from sowcal.units import unit_word

__all__ = [
    "change_words",
    "is_perennial",
    "kind_name",
    "limit_part",
    "limit_words",
    "odds_verb",
    "perennial_table",
    "picked_words",
    "rate_document",
    "tried_fold",
    "verdict_cell",
    "verdict_document",
]


def is_perennial(verdict: CropVerdict) -> bool:
    """Whether a verdict speaks of years lived, as those of perennials do."""
    return "years_lived" in verdict.evidence


def odds_verb(verdict: CropVerdict) -> str:
    """What a crop does in the years of its odds."""
    if "as_a_winter_annual" in verdict.evidence:
        return say("has a winter to grow in")
    return say("crops") if is_perennial(verdict) else say("works")


def limit_words(verdict: CropVerdict) -> str:
    """What limits a crop most, in three words; 'none found' where nothing does."""
    if not verdict.limiting_factor:
        return say("none found")
    return three_words(verdict.limiting_factor, perennial=is_perennial(verdict))


def change_words(change: str) -> str:
    """A change that lifts a verdict and the word it lifts it to, as a sentence; else that none is known."""
    if ": " in change:
        return say("with {change}", change=say(change))
    return say("what would change it: {change}", change=say(change))


_LIMIT = phrase("Limit: what stops it most; where an annual fits, on the days outside its dates.")
_LIMIT_HERE = phrase(
    "{kg} and {litres}: of {area} and season, here; wks: of picking in a year. Stopped by: a sound annual, outside "
    "its dates. In full: sowcal rate {crop}."
)
_CLASS_WORDS = phrase("S1 best, S2, S3, N: not here (FAO land evaluation framework 1976)")


def limit_part(verdict: CropVerdict) -> Paragraph:
    """What limits a crop: of an annual that fits, what closes the rest of the year."""
    lead = say("what limits it most")
    if not is_perennial(verdict) and verdict.suitability in ("S1", "S2") and "hazard" not in verdict.evidence:
        lead = say("outside its dates, mostly")
    return Paragraph(limit_words(verdict), name=lead)


def verdict_cell(verdict: CropVerdict | None, *, order: float | None = None) -> Cell:
    """A verdict's plain word; its class shows in the colour of the edge only beside the word itself."""
    if verdict is None:
        return Cell("")
    return Cell(say(verdict.word), f"chip {(verdict.suitability or 'none').lower()}", sort=order)


def _foot(made_by: MadeBy | None) -> str:
    return f"{say(NO_PROMISE)} {made_by.short()}" if made_by else say(NO_PROMISE)


def _change_part(change: str) -> Paragraph:
    what, colon, word = change_words(change).rpartition(": ")
    return Paragraph(word, name=what) if colon else Paragraph(change)


def verdict_document(site: str, record: Record, verdict: CropVerdict, made_by: MadeBy | None = None) -> Document:
    """One crop's verdict in a few lines, then its evidence."""
    parts: list[Part] = []
    if verdict.answer is not None:
        parts += [Paragraph(text, name=name) for name, text in perennial_answer(verdict)]
    elif verdict.reliability is not None and verdict.suitability is not None:
        odds = odds_of_few(verdict.reliability, *interval_of(verdict))
        parts.append(Paragraph(f"{odds_verb(verdict)} {odds}"))
    elif isinstance(unknown := verdict.evidence.get("unknown"), (list, tuple)):
        ends_of = ("if_its_limits_are_kinder", "if_they_are_harsher")
        kind, harsh = (say(str(verdict.evidence.get(k, ""))) for k in ends_of)
        ends = say("; at the kind end of that {kind}, at the harsh end {harsh}", kind=kind, harsh=harsh) if kind else ""
        parts.append(Paragraph(f"{', '.join(map(say, unknown))}{ends}", name="not known"))
    if verdict.limiting_factor:
        parts.append(limit_part(verdict))
    changes = verdict.what_would_change_it
    # of a perennial what it needs has told the litres
    if said := harvest_words(replace(verdict.harvest, litres_per_m2=None) if verdict.answer else verdict.harvest):
        parts.append(Paragraph(said, name=unit_word("a square metre")))
    parts += [*map(_change_part, changes[:2]), *map(Caution, verdict.cautions)]
    evidence = (
        *evidence_sentences(verdict),
        *map(change_words, changes[2:]),
        say("Record: {record}", record=record_text(record)),
    )
    parts.append(Section("Evidence", (Items(evidence, bullets=False),), "evidence"))
    word = say(verdict.word).upper()
    head = say("{crop} at {site}: {word}", crop=say_crop(verdict.crop), site=site, word=word)
    return Document(head, tuple(parts), foot=(foot_text(record, made_by),), spaced=False)


# Kinds of crops by use and by the part that is eaten: how a grower sorts them, common practice.
_KINDS = {
    ("fruit",): phrase("Fruit vegetables"),
    ("pod", "seed"): phrase("Pods and seeds"),
    ("leaf", "head", "shoot", "stalk", "flower"): phrase("Leaves, heads, stalks"),
    ("root", "tuber", "bulb"): phrase("Roots, tubers, bulbs"),
}
_USES = {
    "pulse": phrase("Pulses"),
    "herb": phrase("Herbs"),
    "flower": phrase("Flowers"),
    "fruit": phrase("Fruit"),
    "nut": phrase("Nuts"),
}
_OTHER = phrase("Others")


def kind_name(use: str, part: str) -> str:
    """The kind of a crop by what it is grown for and the part that is used.

    Examples
    --------
    >>> kind_name("vegetable", "tuber"), kind_name("herb", "leaf"), kind_name("", "")
    ('Roots, tubers, bulbs', 'Herbs', 'Others')
    """
    if use in ("vegetable", "salad"):
        return next((kind for parts, kind in _KINDS.items() if part in parts), _OTHER)
    return _USES.get(use, _OTHER)


_KIND_ORDER = (*_KINDS.values(), *_USES.values(), _OTHER)


def _scale(verdict: CropVerdict) -> str:
    """Years in ten as a scale of ten signs; of few years with its interval, in years of ten too."""
    if verdict.reliability is None:
        return say("not known")
    tenths = int(in_ten(verdict.reliability).partition(" ")[0])
    interval, years = interval_of(verdict)
    off = "" if interval is None or years >= ENOUGH else f" ({10 * interval[0]:.0f}-{10 * interval[1]:.0f})"
    return "■" * tenths + "□" * (10 - tenths) + off


def _by_kind(site: str, verdicts: Sequence[CropVerdict], kinds: Mapping[str, str]) -> Table:
    """A line a crop under its kind, what is stopped by the same together, the best first."""
    columns = (
        Column("crop"),
        Column("verdict"),
        Column("years in ten", short="in ten"),
        Column(unit_word("kg/m2"), right=True, least_screen=76),
        Column(unit_word("l/m2"), right=True, least_screen=68),
        Column("weeks", right=True, short="wks"),
        Column("stopped by"),
    )
    rows: list[tuple[str, ...]] = []
    rank = {v.crop: k for k, v in enumerate(verdicts)}
    for kind in _KIND_ORDER:
        mine = [v for v in verdicts if kinds.get(v.crop, _OTHER) == kind]
        best = {limit: min(rank[v.crop] for v in mine if limit_words(v) == limit) for limit in map(limit_words, mine)}
        mine.sort(key=lambda v: (GRADES.get(v.word, 9), best[limit_words(v)], rank[v.crop]))
        if mine and kinds:
            rows.append((say(kind).upper(), *[""] * 6))
        for v in mine:
            rows.append((say_crop(v.crop), say(v.word), _scale(v), *harvest_cells(v), limit_words(v)))
    return Table(columns, tuple(rows), say("{site}: crops by kind", site=site), look="crops")


def _crop_table(site: str, verdicts: Sequence[CropVerdict], lines: Mapping[str, CropSeasons], key: str) -> Table:
    """All crops in the order given (best first); a wide screen has their dates and families too."""
    columns = (
        Column("crop", sort="words"),
        Column("verdict", sort="numbers", choose=True),
        *(() if key else (Column("class"),)),  # the page has the plain word alone
        Column("years that work", sort="numbers", short="years"),
        Column("what limits it most", sort="words", short="limit"),
        Column("advised dates", least_screen=140),
        Column("family", sort="words", least_screen=140),
    )
    rows = []
    for rank, v in enumerate(verdicts):
        line = lines.get(v.crop)
        share = -1.0 if v.reliability is None else round(min(v.reliability, 1.0), 3)
        when = "; ".join(filter(None, map(when_words, line.starts))) if line else ""
        rows.append(
            (
                say_crop(v.crop),
                verdict_cell(v, order=GRADES.get(v.word, 9) * 1000 + rank),
                *(() if key else (v.suitability or "-",)),
                Cell(short_odds(v, say("not known")), short=short_odds(v, "-"), sort=share),
                Cell(limit_words(v), short=say(v.limiting_factor or "-")),
                when or say("no advised dates"),
                family_name(line.family) if line else "",
            )
        )
    return Table(
        columns,
        tuple(rows),
        say("{site}: table of all crops", site=site),
        look="crops",
        key=f"{key}-crops" if key else "",
    )


def rate_document(
    site: str,
    record: Record,
    verdicts: Iterable[CropVerdict],
    *,
    lines: Iterable[CropSeasons] = (),
    kinds: Mapping[str, str] | None = None,
    made_by: MadeBy | None = None,
    key: str = "",
) -> Document:
    """Verdicts as a table: by kind, or in the order given (best first) where the page can sort it.

    Parameters
    ----------
    site : str
    record : Record
    verdicts : iterable of CropVerdict
    lines : iterable of CropSeasons
        Dates and families of the same crops, where they are to be told.
    kinds : mapping of str, optional
        Kind of each crop, as `kind_name` has it; without them all stand under none.
    made_by : MadeBy, optional
    key : str
        Start of the ids of this place on the page, where one table of all can be searched and sorted.
    """
    verdicts, by_crop = list(verdicts), {line.crop: line for line in lines}
    if not key:
        few = any(short_odds(v, "-").endswith(")") for v in verdicts)
        units = {"kg": unit_word("kg"), "litres": unit_word("litres"), "area": unit_word("a square metre")}
        said = say(_LIMIT_HERE, crop=say_crop("leek"), **units)
        said += say(" In brackets: how far the odds of few years may lie off (95 per cent).") if few else ""
        made = (_by_kind(site, verdicts, kinds or {}), Paragraph(said))
        title = say("WHAT SUITS {site}; {record}", site=site, record=record_text(record, brief=True))
        return Document(title, made, foot=(foot_text(record, made_by),), spaced=False)
    parts: list[Part] = [_crop_table(site, verdicts, by_crop, key)]
    if any(short_odds(v, "-").endswith(")") for v in verdicts):
        parts.append(Paragraph("The record is short: in brackets the 95 per cent interval of the odds."))
    parts.append(
        Paragraph(
            say(
                "Years: in how many of ten it works. Class: {classes}. {limit}",
                classes=say(_CLASS_WORDS),
                limit=say(_LIMIT),
            ),
            look="small",
        )
    )
    return Document(
        say("WHAT SUITS {site}; {record}", site=site, record=record_text(record)),
        tuple(parts),
        foot=(_foot(made_by),),
        spaced=False,
    )


def _chill_cells(verdict: CropVerdict) -> tuple[str, str, str]:
    """Chill of the middle year, what the least demanding sort needs, and sorts that fit."""
    here = verdict.evidence.get("chill_here")
    if not isinstance(here, list):
        return "-", "-", "-"
    fit = ", ".join(str(s["sort"]) for s in verdict.sorts_that_fit) or (
        say("none") if verdict.sorts_that_do_not else "-"
    )
    return f"{here[1]}", f"{chill_span(verdict.evidence)} ({say(str(verdict.evidence['chill_model']))})", fit


def perennial_table(site: str, verdicts: Sequence[CropVerdict]) -> Table | None:
    """Perennials in the order given; None where there are none."""
    titles = (
        phrase("crop"), phrase("verdict"), phrase("years lived"), phrase("years cropped"),
        phrase("what checks it most"), phrase("picked"),
    )  # fmt: skip
    rows = tuple(
        (
            say_crop(v.crop),
            verdict_cell(v),
            say(
                "{years_lived} of {years_decided}",
                years_lived=v.evidence["years_lived"],
                years_decided=v.evidence["years_decided"],
            ),
            say(
                "{years_cropped} of {years_decided}",
                years_cropped=v.evidence["years_cropped"],
                years_decided=v.evidence["years_decided"],
            ),
            limit_words(v),
            picked_words(v.evidence) or "-",
            *_chill_cells(v),
        )
        for v in verdicts
        if is_perennial(v)
    )
    columns = tuple(map(Column, (*titles, "chill here", "chill needed", "sorts that fit")))
    return Table(columns, rows, say("{site}: table of perennials", site=site), look="crops") if rows else None


def tried_fold(words: str, now: Mapping[str, CropVerdict], then: Sequence[CropVerdict]) -> Part:
    """One change that was tried: crops whose word becomes another, the lifted ones first."""
    pairs = [(now[v.crop], v) for v in then if v.crop in now and now[v.crop].word != v.word]
    lifted = [p for p in pairs if GRADES.get(p[1].word, 9) < GRADES.get(p[0].word, 9)]
    lowered = [p for p in pairs if p not in lifted]
    if not pairs:
        return Paragraph(say("With {words}: no crop's verdict changes.", words=words))
    better, worse = counted(len(lifted), "crop"), len(lowered)
    said = say("With {words}: better for {crops}, worse for {count}", words=words, crops=better, count=worse)
    rows = tuple(
        (say_crop(b.crop), verdict_cell(a), verdict_cell(b))
        for a, b in (*sorted(lifted, key=lambda p: p[0].crop), *sorted(lowered, key=lambda p: p[0].crop))
    )
    with_it = say("with {words}", words=words)
    columns = (Column("crop"), Column("now"), Column(with_it))
    return Fold(said, (Table(columns, rows, with_it, look="beside", hint=False),))
