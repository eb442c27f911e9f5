"""A place told once for screen and page: its figures, months, trend and pictures, and two places beside each other."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sowcal.climate.place_figures import ABOVE, definitions, of_year
from sowcal.languages import counted, phrase, say, say_count, say_crop
from sowcal.outputs.climate_document import KINDS, LAWN, RAIN, ROWS, UNKNOWN, month_cells, month_pictures, shown_figure
from sowcal.outputs.document import (
    Beside,
    Cell,
    Column,
    Document,
    Facts,
    Fold,
    Paragraph,
    Part,
    Section,
    Table,
)
from sowcal.outputs.harvest_words import litres_facts
from sowcal.outputs.terminal import screen_width
from sowcal.outputs.verdict_document import verdict_cell
from sowcal.outputs.wording import (
    foot_text,
    in_ten,
    record_text,
    some_of,
    three_words,
)
from sowcal.suitability.compare import CompareResult
from sowcal.suitability.results import AgainstWhole, CropVerdict
from sowcal.units import amount, unit_word
from sowcal.year import MONTHS, YEAR, day_of_year, day_text, span_text

__all__ = ["against_whole", "closing_sentence", "compare_document"]


_FEW = 12  # crops; no more than these are told one by one on a screen
_LONGEST = 20  # moved windows shown; the rest are counted
_WEEK = 7
_WIDEST = 16  # letters of a name that heads a column of a screen
_SHORT = {name: d.short for name, d in definitions().items()}
# Figures of a `ClimateSummary.to_json()` and how each is shown.
_FIGURES: tuple[tuple[str, str, str], ...] = (
    (phrase("last spring frost, middle year"), "last_spring_frost", "date"),
    (phrase("first autumn frost, middle year"), "first_autumn_frost", "date"),
    (phrase("frost-free days, middle year"), "frost_free_days", "odds"),
    (phrase("frost days a year ({counted})", counted=_SHORT["frost_days"]), "frost_days", "number"),
    (
        phrase("degree days ({counted})", counted=_SHORT["growing_degree_days"]),
        "growing_degree_days",
        "number",
    ),
    *((words, name, "sum") for name, words in ABOVE.items()),
    (phrase("chill portions (dynamic model)"), "chill_portions", "number"),
    (phrase("rain, {unit} a year", unit=RAIN), "pr", "sum"),
    (
        phrase("{lawn}, {unit} a year", lawn=LAWN, unit=RAIN),
        "reference_evapotranspiration",
        "sum",
    ),
    (phrase("hardiness zone"), "hardiness_zone", "word"),
)
Verdicts = tuple[Sequence[CropVerdict], Sequence[CropVerdict]]


def _shown(climate: Mapping[str, Any], name: str, form: str) -> str:
    value = climate.get(name)
    if value is None or value == []:
        return UNKNOWN
    if form == "date":
        return say("none") if value["p50"] is None else day_text(day_of_year(value["p50"]))
    if form == "odds":
        return say("all year") if value["p50"] is None or value["p50"] >= YEAR else f"{value['p50']}"
    if form == "sum":
        return shown_figure(of_year(value), unknown=UNKNOWN, kind=KINDS.get(name))
    if form == "number":
        return amount(value, KINDS[name], ".0f") if name in KINDS else f"{value:.0f}"
    return str(value)


def _pair(better: Mapping[str, Any], name: str) -> tuple[Any, Any] | None:
    pair = better.get(name)
    return (pair[0], pair[1]) if isinstance(pair, Sequence) and len(pair) == 2 else None


def closing_sentence(result: CompareResult) -> str:
    """Which place carries more, in one sentence, as the record has counted it."""
    one, two = result.sites
    carried = _pair(result.better, "crops_carried")
    sound = _pair(result.better, "crops_sound")
    judged = result.better.get("crops_judged")
    if carried is None:
        return say("{one} and {two} cannot be told apart by crops: none was judged.", one=one, two=two)
    silent = _pair(result.better, "crops_cannot_say") or (0, 0)
    mute = [site for site, n in zip((one, two), silent, strict=True) if judged and n == judged]
    if mute:
        return say(
            "Neither can be called the better plot: the record of {names} carries no verdict.",
            names=say(" and ").join(mute),
        )
    of = say(" of {crops}", crops=counted(int(str(judged)), "crop")) if judged else say(" crops")
    by = phrase("carries")
    if carried[0] == carried[1] and sound and sound[0] != sound[1]:
        carried, by = sound, phrase("is sound for")
    longer = result.longer
    if carried[0] == carried[1] and longer[0] != longer[1]:
        more, less = (0, 1) if longer[0] > longer[1] else (1, 0)
        return say(
            "{better} is the better plot by its dates: both carry {carried}{of}, and it leaves a week "
            "more or longer to start {longer} of them, {other} {longer2}.",
            better=result.sites[more],
            carried=carried[0],
            of=of,
            longer=longer[more],
            other=result.sites[less],
            longer2=longer[less],
        )
    if carried[0] == carried[1]:
        return say(
            "Neither is the better for what it grows: {one} and {two} each carry {carried}{of}.",
            one=one,
            two=two,
            carried=carried[0],
            of=of,
        )
    more, less = (0, 1) if carried[0] > carried[1] else (1, 0)
    return say(
        "{better} is the better plot by what it grows: it {by} {carried}{of}, {other} {carried2}.",
        better=result.sites[more],
        by=by,
        carried=carried[more],
        of=of,
        other=result.sites[less],
        carried2=carried[less],
    )


def _ahead_words(result: CompareResult, names: tuple[str, str], *, longer: bool) -> str:
    """At which place how many crops are ahead, and by how much those that are ahead the most."""
    out = []
    for k in (0, 1):
        found = []
        for c in result.crops:
            if (c.longer if longer else c.safer) == k:
                first, second = (share or 0.0 for share in c.reliability)
                by = abs(c.days[0] - c.days[1]) / _WEEK if longer else 10 * abs(first - second)
                found.append((-max(round(by), 1), c.crop))
        much = [counted(-by, "week") if longer else say("{count} in 10", count=-by) for by, _ in sorted(found)]
        told = [f"{say_crop(crop)} {by}" for (_, crop), by in zip(sorted(found), much, strict=True)]
        out.append(
            say("{count} at {place}", count=len(found), place=names[k]) + (f" ({some_of(told, 2)})" if found else "")
        )
    return "; ".join(out)


def _hangs_on(result: CompareResult, names: tuple[str, str]) -> str:
    """What stops the crops that have the better verdict at the other place, at each."""
    pairs = _pair(result.better, "better_in") or ((), ())
    limits = {c.crop: c.limits for c in result.crops}
    out = []
    for k in (0, 1):
        stopped: dict[str, list[str]] = {}
        for crop in pairs[1 - k]:
            stopped.setdefault(three_words(limits.get(crop, (None, None))[k]), []).append(say_crop(crop))
        for why, crops in sorted(stopped.items(), key=lambda item: (-len(item[1]), item[0])):
            out.append(say("at {place} {why} ({crops})", place=names[k], why=why, crops=some_of(crops)))
    return "; ".join(out) or say("dates alone: each crop has the same verdict at both")


def _verdict_facts(result: CompareResult, names: tuple[str, str]) -> Facts:
    """What stands behind the verdict, crop by crop: gained and lost, longer and safer, and what it hangs on."""
    return Facts(
        (
            (say("only at {two}", two=names[1]), some_of([say_crop(c) for c in result.gained], 8), ""),
            (say("only at {one}", one=names[0]), some_of([say_crop(c) for c in result.lost], 8), ""),
            (say("longer to start"), _ahead_words(result, names, longer=True), ""),
            (say("more years work"), _ahead_words(result, names, longer=False), ""),
            (say("it hangs on"), _hangs_on(result, names), ""),
            *litres_facts(result, names),
        )
    )


def _short_names(sites: Sequence[str]) -> tuple[str, str]:
    """Names of two places without what stands in brackets; 'first' and 'second' where they are long or alike."""
    one, two = (say(site).partition(" (")[0] for site in sites)
    return (one, two) if one != two and max(map(screen_width, (one, two))) <= _WIDEST else (say("first"), say("second"))


def _figures(result: CompareResult, columns: Iterable[Column]) -> Table:
    rows = [(words, *(_shown(c, name, form) for c in result.climates)) for words, name, form in _FIGURES]
    return Table((Column(""), *columns), tuple(rows), "both places in figures", look="beside", hint=False)


def _crop_by_crop(result: CompareResult, verdicts: Verdicts, names: tuple[str, str]) -> Fold:
    """Every crop at both places: verdict, days on which it may be started, years that work, and who is ahead."""
    first, second = ({v.crop: v for v in side} for side in verdicts)
    sites = result.sites

    def ahead(k: int | None) -> str | Cell:
        return say("alike") if k is None else Cell(sites[k], short=names[k])

    columns = (
        Column("crop"),
        *(Column(site, short=name, least_screen=110) for site, name in zip(sites, names, strict=True)),
        *(
            Column(say("days to start in, {s}", s=s), True, short=say("days, {n}", n=n))
            for s, n in zip(sites, names, strict=True)
        ),
        *(
            Column(say("years that work, {s}", s=s), True, short=say("years, {n}", n=n))
            for s, n in zip(sites, names, strict=True)
        ),
        *(
            Column(f"{unit_word('litres/m2')}, {s}", True, short=f"{unit_word('l/m2')}, {n}")
            for s, n in zip(sites, names, strict=True)
        ),
        Column("longer window at", short="longer"),
        Column("safer at", short="safer"),
    )
    rows = tuple(
        (
            say_crop(c.crop),
            *(verdict_cell(side.get(c.crop)) for side in (first, second)),
            *map(str, c.days),
            *("-" if share is None else in_ten(share) for share in c.reliability),
            *("-" if h.litres_per_m2 is None else amount(h.litres_per_m2, "l/m2", ".0f") for h in c.harvests),
            ahead(c.longer),
            ahead(c.safer),
        )
        for c in result.crops
    )
    table = Table(columns, rows, "crop by crop", look="crops pairs")
    return Fold(say("Crop by crop ({count})", count=len(rows)), (table,) if rows else (), on_screen=len(rows) <= _FEW)


_CHANCE = phrase(
    "Windows of fewer years move by chance too; `sowcal weather trend` says whether the climate itself has moved."
)


def _move(entry: Mapping[str, Any]) -> int:
    """Days by which the edge that moves most has moved."""
    return max(abs(entry["opens_later_days"]), abs(entry["closes_later_days"]))


def _moved_table(entries: Iterable[Mapping[str, Any]], sides: Iterable[Column], least_screen: int = 0) -> Table:
    """A row for each window, that which moves most first: crop and way, both spans, and by how many days it opens and
    closes later (with a plus); a screen of less than `least_screen` columns has the dates alone."""
    rows = []
    for entry in sorted(entries, key=_move, reverse=True):
        spans = map(span_text, entry["from"], entry["to"])
        moved = (entry[f"{edge}_later_days"] for edge in ("opens", "closes"))
        rows.append(
            (
                f"{say_crop(entry['crop'])}, {say(entry['way'])}",
                *spans,
                *(f"{d:+d} d" if d else say("same") for d in moved),
            )
        )
    later = (Column(edge, right=True, least_screen=least_screen) for edge in (phrase("opens"), phrase("closes")))
    columns = (Column("crop and way"), *sides, *later)
    return Table(columns, tuple(rows), "start dates that move", look="crops", most=_LONGEST)


def against_whole(found: AgainstWhole, few: bool) -> Section:
    """How the windows of the years asked for move against the whole record: of many crops, by a week or more."""
    entries = [e for e in found.moved if few or _move(e) >= _WEEK]
    parts: list[Part] = [Paragraph(record_text(found.record), name="The whole record")]
    if entries:
        parts.append(_moved_table(entries, (Column("whole record"), Column("these years"))))
    if still := len(found.moved) - len(entries):
        parts.append(
            Paragraph(
                say_count(
                    still,
                    "{count} window moves by less than a week.",
                    "{count} windows move by less than a week.",
                )
            )
        )
    for words, crops in (
        (say("dates in these years only"), found.gained),
        (say("dates in the whole record only"), found.lost),
    ):
        parts += [Paragraph(", ".join(map(say_crop, crops)), name=words)] if crops else []
    return Section("Against the whole record: + later, - earlier", (*parts, Paragraph(_CHANCE)), level=4)


def _moved(result: CompareResult, names: tuple[str, str], *, on_screen: bool) -> Fold:
    """Start dates that move, those that move most first; a narrow screen has the dates alone."""
    sides = (Column(site, short=name) for site, name in zip(result.sites, names, strict=True))
    title = say(
        "Start dates that move by a week or more, {one} to {two} (+ later, - earlier)",
        one=result.sites[0],
        two=result.sites[1],
    )
    table = _moved_table(result.moved, sides, least_screen=90)
    return Fold(title, (table,) if table.rows else (), on_screen=on_screen, titled=True)


def _months_beside(result: CompareResult) -> Fold:
    """Mean maximum and minimum and rain of both places, month by month."""
    rows = [
        (f"{say(words)}: {site}", *month_cells(values, name)[:12])
        for words, name in (ROWS[1], ROWS[0], ROWS[-2])
        for site, climate in zip(result.sites, result.climates, strict=True)
        if isinstance(values := climate.get(name), Sequence) and not isinstance(values, str)
    ]
    table = Table((Column(""), *(Column(m, right=True) for m in MONTHS)), tuple(rows), "both places by month")
    return Fold("Month by month, in figures", (table,) if rows else (), on_screen=False)


def compare_document(result: CompareResult, verdicts: Verdicts = ((), ()), start_month: int = 1) -> Document:
    """Two places: which carries more, figures side by side, crops that only one carries, dates moved.

    Parameters
    ----------
    result : CompareResult
        Its climates as `ClimateSummary.to_json()` gives them; a figure that is absent is 'not known'.
    verdicts : two sequences of CropVerdict
        Of both places; without them no verdict stands beside a crop.
    start_month : int
        Month, 1 to 12, with which the year is drawn to begin.
    """
    one, two = result.sites
    names = _short_names(result.sites)
    keys = [
        Paragraph(s, name=n, on_page=False) for s, n in zip(result.sites, names, strict=True) if say("first") in names
    ]
    records = [
        Paragraph(record_text(r, brief=True), name=site, look="small")
        for site, r in zip(names, result.records, strict=False)
    ]
    few = len(result.crops) <= _FEW
    columns = [Column(site, right=True, short=name) for site, name in zip(result.sites, names, strict=True)]
    return Document(
        say("WHICH PLOT: {one} or {two}", one=one, two=two),
        (
            *keys,
            Paragraph(closing_sentence(result), look="lead"),
            _verdict_facts(result, names),
            _figures(result, columns),
            *records,
            Beside(month_pictures(result.sites, result.climates, start_month)),
            _crop_by_crop(result, verdicts, names),
            _moved(result, names, on_screen=few),
            _months_beside(result),
        ),
        foot=(foot_text(next((r for r in result.records if r.kind == "generated"), None), result.made_by),),
        spaced=False,
    )
