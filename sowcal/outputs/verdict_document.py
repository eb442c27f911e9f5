"""Verdicts told once for screen and page: all crops in a table, or one with what lies behind its verdict."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sowcal.outputs.document import (
    Caution,
    Cell,
    Column,
    Document,
    Items,
    Paragraph,
    Part,
    Section,
    Table,
)
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
    per_cent,
    record_text,
    short_odds,
    three_words,
    when_words,
    window_sentences,
)
from sowcal.plurals import counted
from sowcal.provenance import MadeBy
from sowcal.suitability.annuals import GRADES
from sowcal.suitability.results import CropSeasons, CropVerdict, Record, Window
from sowcal.year import day_of_year, day_text, span_text

__all__ = [
    "change_words",
    "evidence_sentences",
    "is_perennial",
    "kind_name",
    "limit_part",
    "limit_words",
    "odds_verb",
    "perennial_table",
    "picked_words",
    "rate_document",
    "verdict_cell",
    "verdict_document",
]

_BASIS = {
    "published": "read in a published source",
    "practice": "common practice",
    "memory": "recalled, not looked up",
    "grower's own": "your own value",
}
_FIGURES = {
    "summer_mean_degC": "summer mean {} °C",
    "coldest_degC": "coldest night of the rest season {} °C",
    "hottest_spell_d": "longest spell of killing heat {} days",
}


def is_perennial(verdict: CropVerdict) -> bool:
    """Whether a verdict speaks of years lived, as those of perennials do."""
    return "years_lived" in verdict.evidence


def odds_verb(verdict: CropVerdict) -> str:
    """What a crop does in the years of its odds."""
    if "as_a_winter_annual" in verdict.evidence:
        return "has a winter to grow in"
    return "crops" if is_perennial(verdict) else "works"


def limit_words(verdict: CropVerdict) -> str:
    """What limits a crop most, in three words; 'none found' where nothing does."""
    if not verdict.limiting_factor:
        return "none found"
    return three_words(verdict.limiting_factor, perennial=is_perennial(verdict))


def change_words(change: str) -> str:
    """A change that lifts a verdict and the word it lifts it to, as a sentence; else that none is known."""
    what, colon, word = change.rpartition(": ")
    return f"with {what}: {word}" if colon else f"what would change it: {change}"


def _model(model: str) -> str:
    """A model of chill with its unit: hours are hours of a range of temperature."""
    return f"{model} °C" if model.startswith("hours") else model


def _chill(evidence: Mapping[str, Any]) -> list[str]:
    out = []
    if all(evidence.get(key) for key in ("chill_here", "chill_needed", "chill_model")):
        (low, middle, high), (least, most) = evidence["chill_here"], evidence["chill_needed"]
        needed = f"{least:g}" if least == most else f"{least:g} to {most:g}, as far as that is known,"
        out.append(
            f"Winter chill here {middle} ({low} to {high} in 8 years of 10), needed {needed} by the least demanding "
            f"sort ({_model(evidence['chill_model'])})"
        )
    if (short := evidence.get("years_short_of_chill")) is not None:
        late = ": rest hardly ends, and leaves and bloom come late and unevenly" if short else ""
        out.append(f"Short of chill in {short} of {counted(int(evidence['years_decided']), 'year')}{late}")
    wanted = evidence.get("winter_mean_wanted_degC")
    if wanted is not None and "winter_mean_degC" in evidence:
        out.append(
            f"Winter mean here {evidence['winter_mean_degC']:g} °C; winters up to {wanted[0]:g} °C leave a full crop, "
            f"from {wanted[1]:g} °C none"
        )
    return out


def _years(evidence: Mapping[str, Any]) -> list[str]:
    out = []
    decided = evidence.get("years_decided")
    as_annual = evidence.get("as_a_winter_annual")
    if isinstance(as_annual, Mapping):
        out.append(
            f"As a winter annual it has a winter to grow in: {as_annual['years']} of {decided} years, with "
            f"{per_cent(as_annual['growth_left'])} of its growth on average"
        )
    if "years_lived" in evidence:
        kept = "Kept as a perennial it lives" if as_annual else "Lives"
        lived = f"{evidence['years_lived']} of {counted(int(decided or 0), 'year')}"
        out.append(f"{kept} through {lived}, crops in {evidence['years_cropped']}")
    runs = evidence.get("runs_of_5_years_survived")
    if "years_lived" in evidence and runs is None:
        out.append("The record holds no five whole years in a row, so that nothing is said of them")
    if runs is not None:
        often = runs if isinstance(runs, str) else in_ten(float(runs)).replace(" in ", " times in ")
        out.append(f"Lives through five years in a row {often}")
    if (share := evidence.get("share_of_a_full_crop")) is not None:
        out.append(f"Gives {per_cent(float(share))} of a full crop on average")
    if words := picked_words(evidence):
        out.append(f"Picked {words} in the middle of the years that crop")
    return out


def _spoiled(evidence: Mapping[str, Any]) -> list[str]:
    out = []
    if isinstance(takes := evidence.get("takes_of_a_full_crop"), Mapping):
        said = ", ".join(f"{three_words(str(h), perennial=True)} {per_cent(share)}" for h, share in takes.items())
        out.append(f"Taken from a full crop on average: {said}")
    for key, count in evidence.items():
        if key.startswith("years_of_"):
            words = three_words(key[len("years_of_") :].replace("_", " "), perennial=True)
            out.append(f"{words[0].upper()}{words[1:]}: more than half lost in {counted(count, 'year')}")
    return out


def _figures(evidence: Mapping[str, Any]) -> list[str]:
    known = [
        words.format(f"{evidence[k]:g}").replace(" 1 days", " 1 day") for k, words in _FIGURES.items() if k in evidence
    ]
    known = [
        "no spell of killing heat" if words == _FIGURES["hottest_spell_d"].format("0") else words for words in known
    ]
    return [f"On average of the years: {', '.join(known)}"] if known else []


def _behind(evidence: Mapping[str, Any]) -> list[str]:
    """How well the limits are known, and what other measures say."""
    out = []
    if isinstance(limit := evidence.get("deciding_limit"), Mapping):
        unit = {"degC": " °C", "d": " days", "1": ""}.get(limit["unit"], f" {_model(limit['unit'])}")
        out.append(f"The number that decides: {limit['quantity']}, {limit['value']:g}{unit} ({limit['source']})")
    if (basis := evidence.get("deciding_limit_rests_on")) is not None:
        out.append(f"How the limit that decides is known: {_BASIS.get(str(basis), basis)}")
    if (source := evidence.get("chill_source")) is not None:
        out.append(f"Chill that it needs: {source}")
    kinder, harsher = evidence.get("if_its_limits_are_kinder"), evidence.get("if_they_are_harsher")
    if kinder is not None:
        out.append(f"At the kind end of what is known of its limits: {kinder}; at the harsh end: {harsher}")
    if isinstance(models := evidence.get("chill_by_each_model_in_the_middle_year"), Mapping):
        said = ", ".join(f"{v} {_model(str(k))}" for k, v in models.items())
        out.append(f"Chill of the middle year by each measure: {said}")
    if (why := evidence.get("chill_judged_in")) is not None:
        model, colon, reason = str(why).partition(": ")
        out.append(f"Chill is judged in {_model(model)}{colon}{reason}")
    if "unknown" in evidence:
        out.append(f"Not known: {', '.join(map(str, evidence['unknown']))}")
    return out


def _stopped(evidence: Mapping[str, Any]) -> list[str]:
    """Of an annual that is advised on no day, or on any: what stops the best start that there is."""
    hazard, share = evidence.get("hazard"), evidence.get("share_of_years")
    if hazard is None or not isinstance(share, (int, float)) or "with_water_enough" in evidence:
        return []
    if isinstance(evidence.get("window"), Window) and "best_start" not in evidence:
        fails = f"{three_words(str(hazard))}, {per_cent(share)} of years"
        return [f"No day of the year is closed to it; what fails from the best: {fails}"]
    if not isinstance(best := evidence.get("best_start"), Mapping):
        return [f"No start day of the year works; mostly {three_words(str(hazard))}, {per_cent(share)} of years"]
    start, works = _start_words(best)
    fails = f"{three_words(str(hazard))} in {per_cent(share)}"
    return [f"The best start there is, {start}, works in {works} of years; {fails}"]


def _start_words(start: Mapping[str, Any]) -> tuple[str, str]:
    """A start day, and the share of years in which it works."""
    day = day_text(day_of_year(str(start["date"])))
    return f"{start['way']} about {day}", per_cent(float(start["works_in_share_of_years"]))


def _thirst(evidence: Mapping[str, Any]) -> list[str]:
    """Of an annual that want of water takes: what its best start would draw, and what it would bring."""
    enough = evidence.get("with_water_enough")
    if not isinstance(enough, Mapping):
        return []
    start, works = _start_words(enough)
    takes = per_cent(float(evidence.get("share_of_years", 0.0)))
    out = [f"With all the water it asks for, {start}, it works in {works} of years; want of it takes {takes} of years"]
    if (litres := evidence.get("litres_per_m2_in_a_dry_year")) is not None:
        out.append(
            f"That start draws {litres} litres per square metre in a dry year; "
            f"{evidence.get('litres_per_m2_allowed', 0):g} are allowed"
        )
    return out


def _window(evidence: Mapping[str, Any]) -> list[str]:
    """The best window of an annual, and how often it works."""
    window = evidence.get("window")
    if not isinstance(window, Window):
        return []
    low, high = window.interval
    out = [
        f"Best {evidence.get('way', 'started')} {span_text(window.start, window.end)}, "
        f"best of all about {day_text(window.best)}",
        f"Works in {per_cent(window.reliability)} of {counted(window.years_decided, 'year')} "
        f"(95 per cent interval {per_cent(low)} to {per_cent(high)})",
        *window_sentences(window),
    ]
    if isinstance(days := evidence.get("days_recommended"), int):
        out.append(f"Advised on {counted(days, 'day')} of the year" if days else "Advised on no day of the year")
    return out


def _thermometer(evidence: Mapping[str, Any]) -> list[str]:
    """What the error of the plot's own thermometer leaves open."""
    colder, warmer = (evidence.get(f"if_{end}_within_the_error") for end in ("the_plot_is_colder", "it_is_warmer"))
    if colder is None:
        return []
    said = f"If the plot is colder, within the error of your thermometer: {colder}; if it is warmer: {warmer}"
    if (shares := evidence.get("share_of_years_within_the_error")) is not None:
        said += f" (works in {per_cent(shares[0])} to {per_cent(shares[1])} of years)"
    return [said]


def evidence_sentences(verdict: CropVerdict) -> list[str]:
    """A verdict's evidence, a sentence each, without full stops.

    Parameters
    ----------
    verdict : CropVerdict
        One of those that `sowcal.rate_crops` gives.

    Returns
    -------
    list of str

    Examples
    --------
    >>> import datetime as dt
    >>> import sowcal
    >>> chart, verdicts = sowcal.rate_crops("sallowdene", ["courgette"], issued=dt.date(2026, 1, 15))
    >>> evidence_sentences(verdicts[0])[0]
    'Best set out 5 May to 14 Jul, best of all about 2 Jun'
    """
    parts = (_years, _window, _stopped, _thirst, _thermometer, _chill, _spoiled, _figures, _behind)
    return [sentence for part in parts for sentence in part(verdict.evidence)]


_LIMIT = "Limit: what stops it most; where an annual fits, on the days outside its dates."
_LIMIT_HERE = (
    "kg and litres: of a square metre and season, here; wks: of picking in a year. Stopped by: a sound annual, outside "
    "its dates. In full: sowcal rate leek."
)
_CLASS_WORDS = "S1 best, S2, S3, N: not here (FAO land evaluation framework 1976)"


def limit_part(verdict: CropVerdict) -> Paragraph:
    """What limits a crop: of an annual that fits, what closes the rest of the year."""
    lead = "what limits it most"
    if not is_perennial(verdict) and verdict.suitability in ("S1", "S2") and "hazard" not in verdict.evidence:
        lead = "outside its dates, mostly"
    return Paragraph(limit_words(verdict), name=lead)


def verdict_cell(verdict: CropVerdict | None, *, order: float | None = None) -> Cell:
    """A verdict's plain word; its class shows in the colour of the edge only beside the word itself."""
    if verdict is None:
        return Cell("")
    return Cell(verdict.word, f"chip {(verdict.suitability or 'none').lower()}", sort=order)


def _foot(made_by: MadeBy | None) -> str:
    return f"{NO_PROMISE} {made_by.short()}" if made_by else NO_PROMISE


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
        kind, harsh = (verdict.evidence.get(k) for k in ("if_its_limits_are_kinder", "if_they_are_harsher"))
        ends = f"; at the kind end of that {kind}, at the harsh end {harsh}" if kind else ""
        parts.append(Paragraph(f"{', '.join(map(str, unknown))}{ends}", name="not known"))
    if verdict.limiting_factor:
        parts.append(limit_part(verdict))
    changes = verdict.what_would_change_it
    if said := harvest_words(verdict.harvest):
        parts.append(Paragraph(said, name="a square metre"))
    parts += [*map(_change_part, changes[:2]), *map(Caution, verdict.cautions)]
    evidence = (*evidence_sentences(verdict), *map(change_words, changes[2:]), f"Record: {record_text(record)}")
    parts.append(Section("Evidence", (Items(evidence, bullets=False),), "evidence"))
    head = f"{verdict.crop} at {site}: {verdict.word.upper()}"
    return Document(head, tuple(parts), foot=(foot_text(record, made_by),), spaced=False)


# Kinds of crops by use and by the part that is eaten: how a grower sorts them, common practice.
_KINDS = {
    ("fruit",): "Fruit vegetables",
    ("pod", "seed"): "Pods and seeds",
    ("leaf", "head", "shoot", "stalk", "flower"): "Leaves, heads, stalks",
    ("root", "tuber", "bulb"): "Roots, tubers, bulbs",
}
_USES = {"pulse": "Pulses", "herb": "Herbs", "flower": "Flowers", "fruit": "Fruit", "nut": "Nuts"}
_OTHER = "Others"


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
        return "not known"
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
        Column("kg/m2", right=True, least_screen=76),
        Column("l/m2", right=True, least_screen=68),
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
            rows.append((kind.upper(), *[""] * 6))
        for v in mine:
            rows.append((v.crop, v.word, _scale(v), *harvest_cells(v), limit_words(v)))
    return Table(columns, tuple(rows), f"{site}: crops by kind", look="crops")


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
                v.crop,
                verdict_cell(v, order=GRADES.get(v.word, 9) * 1000 + rank),
                *(() if key else (v.suitability or "-",)),
                Cell(short_odds(v, "not known"), short=short_odds(v, "-"), sort=share),
                Cell(limit_words(v), short=v.limiting_factor or "-"),
                when or "no advised dates",
                family_name(line.family) if line else "",
            )
        )
    return Table(columns, tuple(rows), f"{site}: table of all crops", look="crops", key=f"{key}-crops" if key else "")


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
        said = f"{_LIMIT_HERE}{' In brackets: how far the odds of few years may lie off (95 per cent).' if few else ''}"
        made = (_by_kind(site, verdicts, kinds or {}), Paragraph(said))
        title = f"WHAT SUITS {site}; {record_text(record, brief=True)}"
        return Document(title, made, foot=(foot_text(record, made_by),), spaced=False)
    parts: list[Part] = [_crop_table(site, verdicts, by_crop, key)]
    if any(short_odds(v, "-").endswith(")") for v in verdicts):
        parts.append(Paragraph("The record is short: in brackets the 95 per cent interval of the odds."))
    parts.append(Paragraph(f"Years: in how many of ten it works. Class: {_CLASS_WORDS}. {_LIMIT}", look="small"))
    return Document(f"WHAT SUITS {site}; {record_text(record)}", tuple(parts), foot=(_foot(made_by),), spaced=False)


def _chill_cells(verdict: CropVerdict) -> tuple[str, str, str]:
    """Chill of the middle year, what the least demanding sort needs, and sorts that fit."""
    here = verdict.evidence.get("chill_here")
    if not isinstance(here, list):
        return "-", "-", "-"
    fit = ", ".join(str(s["sort"]) for s in verdict.sorts_that_fit) or ("none" if verdict.sorts_that_do_not else "-")
    return f"{here[1]}", f"{chill_span(verdict.evidence)} ({verdict.evidence['chill_model']})", fit


def perennial_table(site: str, verdicts: Sequence[CropVerdict]) -> Table | None:
    """Perennials in the order given; None where there are none."""
    titles = ("crop", "verdict", "years lived", "years cropped", "what checks it most", "picked")
    rows = tuple(
        (
            v.crop,
            verdict_cell(v),
            f"{v.evidence['years_lived']} of {v.evidence['years_decided']}",
            f"{v.evidence['years_cropped']} of {v.evidence['years_decided']}",
            limit_words(v),
            picked_words(v.evidence) or "-",
            *_chill_cells(v),
        )
        for v in verdicts
        if is_perennial(v)
    )
    columns = tuple(map(Column, (*titles, "chill here", "chill needed", "sorts that fit")))
    return Table(columns, rows, f"{site}: table of perennials", look="crops") if rows else None
