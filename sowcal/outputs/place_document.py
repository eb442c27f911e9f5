"""A place told once for screen and page: its figures, months, trend and pictures, and two places beside each other."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sowcal.climate.place_figures import ABOVE, STRICT, ClimateSummary, Odds, definitions, of_year, plain_name
from sowcal.outputs.document import (
    Beside,
    Cell,
    Column,
    Document,
    Facts,
    Fold,
    Html,
    Items,
    Paragraph,
    Part,
    Picture,
    Section,
    Table,
    join,
    tag,
)
from sowcal.outputs.harvest_words import litres_facts
from sowcal.outputs.page_svg import frost_free_picture, rain_picture, temperature_picture
from sowcal.outputs.terminal import screen_width
from sowcal.outputs.verdict_document import verdict_cell
from sowcal.outputs.wording import (
    foot_text,
    in_ten,
    opening_rains_by_year,
    opening_rains_words,
    record_of_summary,
    record_text,
    some_of,
    three_words,
)
from sowcal.plurals import counted
from sowcal.suitability.compare import CompareResult
from sowcal.suitability.results import AgainstWhole, CropVerdict
from sowcal.year import MONTHS, YEAR, day_of_year, day_text, span_text

__all__ = ["against_whole", "climate_document", "closing_sentence", "compare_document"]

_UNKNOWN = "not known"
_LAWN = "water a lawn would use"
_ROWS = (
    ("mean minimum, degC", "tasmin"),
    ("mean maximum, degC", "tasmax"),
    *((words, name) for name, words in ABOVE.items()),
    ("rain, mm", "pr"),
    (f"{_LAWN}, mm", "reference_evapotranspiration"),
)
_SHORTER = {f"{_LAWN}, mm": "lawn's water, mm"}
_MEANS = ("tasmin", "tasmax")  # of the year is their mean; of all others the sum


def _figure(value: float | None, unit: str = "", unknown: str = _UNKNOWN) -> str:
    if value is None or not math.isfinite(value):
        return unknown
    shown = f"{value:.0f}"
    return f"{shown} {unit.removesuffix('s') if shown == '1' else unit}".strip()


def _dates(odds: Odds | None) -> tuple[str, str]:
    if odds is None:
        return _UNKNOWN, ""
    if odds.p10 is None and odds.p50 is None and odds.p90 is None:
        return "none", "in at least 9 years of 10"
    middle = "none" if odds.p50 is None else day_text(odds.p50)
    early = f"1 year in 10 by {day_text(odds.p10)}" if odds.p10 is not None else ""
    late = f"9 {'in' if early else 'years in'} 10 by {day_text(odds.p90)}" if odds.p90 is not None else ""
    none = "" if (early and late) or odds.p50 is None else "none in more than 1 year of 10"
    return middle, f"in the middle year; {', '.join(filter(None, (early, late, none)))}"


def _lengths(odds: Odds | None) -> tuple[str, str]:
    if odds is None:
        return _UNKNOWN, ""
    middle, low, high = (None if v is None or v >= YEAR else v for v in (odds.p50, odds.p10, odds.p90))
    if low is None:
        return "all year", "in at least 9 years of 10"
    longest = "1 in 10 or more all year" if high is None else f"1 in 10 over {high}"
    usual = "all year" if middle is None else counted(middle, "day")
    return usual, f"in the middle year; 1 year in 10 under {low}, {longest}"


def _with(value: str, more: str) -> tuple[str, str]:
    """What is said beside a value; nothing beside one that is not known."""
    return value, "" if value == _UNKNOWN else more


def _rains(s: ClimateSummary) -> tuple[str, str]:
    if s.opening_rains_by_year is not None:
        middle, comma, more = opening_rains_words(s.opening_rains_by_year).partition(" in the middle year")
        return middle, f"{comma}{more}".strip()
    return _with(_UNKNOWN if s.opening_rains is None else day_text(s.opening_rains), "in the middle year")


def _facts(s: ClimateSummary) -> Facts:
    """Each figure with what it counts in a few words."""
    short = {name: d.short for name, d in definitions(s.latitude).items()}
    free = s.years_without_frost
    frost = f"a year ({short['frost_days']})"
    frost += "" if free is None else f"; none in {free:.0%} of years" if free else "; some every year"
    day = _UNKNOWN
    if s.shortest_day is not None and s.longest_day is not None:
        day = f"{s.shortest_day:.1f} to {s.longest_day:.1f} hours"
    others = (("hours", "chill_hours", s.chill_hours), ("units", "chill_units", s.chill_units))
    chill = [f"({short['chill_portions']})"]
    chill += [f"{_figure(value, unit)} ({short[name]})" for unit, name, value in others if value is not None]
    need = of_year(s.reference_evapotranspiration)
    facts = (
        ("last spring frost", _dates(s.last_spring_frost)),
        ("first autumn frost", _dates(s.first_autumn_frost)),
        ("frost-free", _lengths(s.frost_free_days)),
        ("frost days", _with(_figure(s.frost_days), frost)),
        ("growing degree days", _with(_figure(s.growing_degree_days), f"a year ({short['growing_degree_days']})")),
        ("winter chill", (_figure(s.chill_portions, "portions"), "; ".join(chill))),
        (
            ABOVE["hot_days_30"],
            _with(_figure(of_year(s.hot_days_30)), f"a year; {_figure(of_year(s.hot_days_35))} above 35 degC"),
        ),
        ("rain", _with(_figure(of_year(s.pr), "mm"), "a year" + ("" if need is None else f"; {_LAWN}: {need:.0f} mm"))),
        ("opening rains", _rains(s)),
        (
            "hardiness zone",
            _with(
                s.hardiness_zone or _UNKNOWN,
                f"({short['hardiness_zone']})",
            ),
        ),
        ("day length", _with(day, f"({short['longest_day']})")),
    )
    return Facts(tuple((name, *said) for name, said in facts))


def _month_cells(values: Sequence[float | None] | None, name: str) -> tuple[str, ...]:
    """Twelve months and the year; '?' is not known."""
    months = values or (None,) * 12
    year = of_year(months, mean=name in _MEANS)
    return tuple(_figure(v, unknown="?") for v in (*months, year))


def _months(s: ClimateSummary) -> Table:
    columns = (Column(""), *(Column(m, right=True) for m in (*MONTHS, "year")))
    rows: tuple[tuple[str | Cell, ...], ...] = tuple(
        (Cell(w, short=_SHORTER.get(w, w)), *_month_cells(getattr(s, name), name)) for w, name in _ROWS
    )
    return Table(columns, rows, f"{s.site}: months in figures", hint=False, divided=True)


def _trends(s: ClimateSummary) -> tuple[str | tuple[str, str], ...]:
    """The year's trend of nights and days, and of the seasons those that are clear of zero."""
    out: list[tuple[str, str]] = []
    for variable, words in (("tasmin", "nights"), ("tasmax", "days")):
        these = [t for t in s.trends if t.variable == variable]
        told = sorted((t for t in these if t.season == "all year" or t.clear), key=lambda t: t.season != "all year")
        said = [
            f"{t.season} {t.per_decade:+.2f} ({t.low:+.2f} to {t.high:+.2f}{'' if t.clear else ', not clear of zero'})"
            for t in told
        ]
        if said:
            years = f"{min(t.first for t in told)} to {max(t.last for t in told)}"
            out.append((f"{words}, {years}", ", ".join(said)))
    return tuple(out)


def _frost_free(s: ClimateSummary, start_month: int) -> Picture | None:
    """The span free of frost in each year; a sentence says it where there never is any."""
    years = s.frost_by_year
    if not years or s.years_without_frost == 1.0:
        return None
    lengths = s.frost_free_days
    middle = "" if lengths is None or lengths.p50 is None else f"; {counted(lengths.p50, 'day')} in the middle year"
    words = f"From the last spring frost to the first autumn frost in each of {counted(len(years), 'year')}{middle}."
    gaps = "" if years[-1].year - years[0].year + 1 == len(years) else "; a gap is a year of which too much is missing"
    south = (s.latitude or 0.0) < 0
    return Picture(lambda: frost_free_picture(years, south, start_month, words), f"Free of frost, year by year{gaps}.")


def _pictures(sites: Sequence[str], climates: Sequence[Mapping[str, Any]], start_month: int) -> tuple[Picture, ...]:
    """Temperature and rain by month of one place, or of two on the same axes; nothing where they are not known."""

    def caption(words: str, kind: str) -> Html | str:
        if len(sites) == 1:
            return words
        keys = [tag("span", tag("i", class_=f"patch {kind}{' second' * k}"), site) for k, site in enumerate(sites)]
        return join(words, tag("span", *keys, class_="key"))

    out = []
    where, below = ("", "in the table below") if len(sites) == 1 else (" at both places", "below")
    warm = [(c["tasmin"], c["tasmax"]) for c in climates if c.get("tasmin") and c.get("tasmax")]
    need = "reference_evapotranspiration"
    wet = [(c["pr"], c[need]) for c in climates if c.get("pr") and c.get(need)]
    if len(warm) == len(sites):
        words = f"Mean night and day temperature of each month{where}; the figures stand {below}."
        said = "Mean night and day temperature, °C. Blue line: freezing; red line: 30 °C."
        out.append(Picture(lambda: temperature_picture(warm, start_month, words), caption(said, "warmth")))
    if len(wet) == len(sites):
        about = f"Rain of each month{where} and the {_LAWN}; the figures stand {below}."
        said = f"Rain (bars) and the {_LAWN} (dark lines), mm a month."
        falls, needs = [r for r, _ in wet], [n for _, n in wet]
        out.append(Picture(lambda: rain_picture(falls, needs, start_month, about), caption(said, "rain")))
    return tuple(out)


def _notes(s: ClimateSummary) -> tuple[Paragraph, ...]:
    notes = [] if s.opening_rains_by_year is None else [opening_rains_by_year(s.opening_rains_by_year)]
    long = [*notes, *(note for note in s.notes if "generated from monthly normals" in note)]  # the foot has it short
    method = s.evapotranspiration_method
    lawn = f" Lawn: reference evapotranspiration by {method}." if method else ""
    told = (*notes, *s.notes, STRICT + lawn)
    return tuple(Paragraph(note, look="small", on_screen=note not in long) for note in told)


def climate_document(summary: ClimateSummary, start_month: int = 1) -> Document:
    """The figures of one place, what is not known named as such.

    Parameters
    ----------
    summary : ClimateSummary
    start_month : int
        Month, 1 to 12, with which the year is drawn to begin.
    """
    s = summary
    place = [] if s.latitude is None else [f"{abs(s.latitude):.2f} {'N' if s.latitude >= 0 else 'S'}"]
    place += [] if s.elevation is None else [f"{s.elevation:.0f} m"]
    record = record_of_summary(s)
    place += [] if record is None else [record_text(record, brief=True)]
    months = {name: getattr(s, name) for name in ("tasmin", "tasmax", "pr", "reference_evapotranspiration")}
    drawn = [*_pictures([s.site], [months], start_month), _frost_free(s, start_month)]
    trend = "Trend, degC in 10 years (95 per cent interval; seasons only where clear of zero)"
    counts = tuple(Paragraph(said, name=plain_name(key), look="small") for key, said in s.definitions().items())
    return Document(
        f"THE CLIMATE OF {s.site}" + (f"; {', '.join(place)}" if place else ""),
        (
            _facts(s),
            Beside(tuple(picture for picture in drawn if picture is not None)),
            Fold("Month by month, in figures", (_months(s),)),
            Fold(trend, (Items(_trends(s)),), titled=True),
            Fold("Notes on these figures", _notes(s)),
            Fold("How each figure is counted", counts, on_screen=False),
        ),
        foot=(foot_text(record, s.made_by, promise=False),),
    )


_FEW = 12  # crops; no more than these are told one by one on a screen
_LONGEST = 20  # moved windows shown; the rest are counted
_WEEK = 7
_WIDEST = 16  # letters of a name that heads a column of a screen
_SHORT = {name: d.short for name, d in definitions().items()}
# Figures of a `ClimateSummary.to_json()` and how each is shown.
_FIGURES: tuple[tuple[str, str, str], ...] = (
    ("last spring frost, middle year", "last_spring_frost", "date"),
    ("first autumn frost, middle year", "first_autumn_frost", "date"),
    ("frost-free days, middle year", "frost_free_days", "odds"),
    (f"frost days a year ({_SHORT['frost_days']})", "frost_days", "number"),
    (f"degree days ({_SHORT['growing_degree_days']})", "growing_degree_days", "number"),
    *((words, name, "sum") for name, words in ABOVE.items()),
    ("chill portions (dynamic model)", "chill_portions", "number"),
    ("rain, mm a year", "pr", "sum"),
    (f"{_LAWN}, mm a year", "reference_evapotranspiration", "sum"),
    ("hardiness zone", "hardiness_zone", "word"),
)
Verdicts = tuple[Sequence[CropVerdict], Sequence[CropVerdict]]


def _shown(climate: Mapping[str, Any], name: str, form: str) -> str:
    value = climate.get(name)
    if value is None or value == []:
        return _UNKNOWN
    if form == "date":
        return "none" if value["p50"] is None else day_text(day_of_year(value["p50"]))
    if form == "odds":
        return "all year" if value["p50"] is None or value["p50"] >= YEAR else f"{value['p50']}"
    if form == "sum":
        return _figure(of_year(value))
    return f"{value:.0f}" if form == "number" else str(value)


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
        return f"{one} and {two} cannot be told apart by crops: none was judged."
    silent = _pair(result.better, "crops_cannot_say") or (0, 0)
    mute = [site for site, n in zip((one, two), silent, strict=True) if judged and n == judged]
    if mute:
        return f"Neither can be called the better plot: the record of {' and '.join(mute)} carries no verdict."
    of = f" of {counted(int(str(judged)), 'crop')}" if judged else " crops"
    by = "carries"
    if carried[0] == carried[1] and sound and sound[0] != sound[1]:
        carried, by = sound, "is sound for"
    longer = result.longer
    if carried[0] == carried[1] and longer[0] != longer[1]:
        more, less = (0, 1) if longer[0] > longer[1] else (1, 0)
        return (
            f"{result.sites[more]} is the better plot by its dates: both carry {carried[0]}{of}, and it leaves a week "
            f"more or longer to start {longer[more]} of them, {result.sites[less]} {longer[less]}."
        )
    if carried[0] == carried[1]:
        return f"Neither is the better for what it grows: {one} and {two} each carry {carried[0]}{of}."
    more, less = (0, 1) if carried[0] > carried[1] else (1, 0)
    return (
        f"{result.sites[more]} is the better plot by what it grows: it {by} {carried[more]}{of}, "
        f"{result.sites[less]} {carried[less]}."
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
        told = [f"{crop} {counted(-by, 'week') if longer else f'{-by} in 10'}" for by, crop in sorted(found)]
        out.append(f"{len(found)} at {names[k]}" + (f" ({some_of(told, 2)})" if found else ""))
    return "; ".join(out)


def _hangs_on(result: CompareResult, names: tuple[str, str]) -> str:
    """What stops the crops that have the better verdict at the other place, at each."""
    pairs = _pair(result.better, "better_in") or ((), ())
    limits = {c.crop: c.limits for c in result.crops}
    out = []
    for k in (0, 1):
        stopped: dict[str, list[str]] = {}
        for crop in pairs[1 - k]:
            stopped.setdefault(three_words(limits.get(crop, (None, None))[k]), []).append(crop)
        for why, crops in sorted(stopped.items(), key=lambda item: (-len(item[1]), item[0])):
            out.append(f"at {names[k]} {why} ({some_of(crops)})")
    return "; ".join(out) or "dates alone: each crop has the same verdict at both"


def _verdict_facts(result: CompareResult, names: tuple[str, str]) -> Facts:
    """What stands behind the verdict, crop by crop: gained and lost, longer and safer, and what it hangs on."""
    return Facts(
        (
            (f"only at {names[1]}", some_of(result.gained, 8), ""),
            (f"only at {names[0]}", some_of(result.lost, 8), ""),
            ("longer to start", _ahead_words(result, names, longer=True), ""),
            ("more years work", _ahead_words(result, names, longer=False), ""),
            ("it hangs on", _hangs_on(result, names), ""),
            *litres_facts(result, names),
        )
    )


def _short_names(sites: Sequence[str]) -> tuple[str, str]:
    """Names of two places without what stands in brackets; 'first' and 'second' where they are long or alike."""
    one, two = (site.partition(" (")[0] for site in sites)
    return (one, two) if one != two and max(map(screen_width, (one, two))) <= _WIDEST else ("first", "second")


def _figures(result: CompareResult, columns: Iterable[Column]) -> Table:
    rows = [(words, *(_shown(c, name, form) for c in result.climates)) for words, name, form in _FIGURES]
    return Table((Column(""), *columns), tuple(rows), "both places in figures", look="beside", hint=False)


def _crop_by_crop(result: CompareResult, verdicts: Verdicts, names: tuple[str, str]) -> Fold:
    """Every crop at both places: verdict, days on which it may be started, years that work, and who is ahead."""
    first, second = ({v.crop: v for v in side} for side in verdicts)
    sites = result.sites

    def ahead(k: int | None) -> str | Cell:
        return "alike" if k is None else Cell(sites[k], short=names[k])

    columns = (
        Column("crop"),
        *(Column(site, short=name, least_screen=110) for site, name in zip(sites, names, strict=True)),
        *(Column(f"days to start in, {s}", True, short=f"days, {n}") for s, n in zip(sites, names, strict=True)),
        *(Column(f"years that work, {s}", True, short=f"years, {n}") for s, n in zip(sites, names, strict=True)),
        *(Column(f"litres/m2, {s}", True, short=f"l/m2, {n}") for s, n in zip(sites, names, strict=True)),
        Column("longer window at", short="longer"),
        Column("safer at", short="safer"),
    )
    rows = tuple(
        (
            c.crop,
            *(verdict_cell(side.get(c.crop)) for side in (first, second)),
            *map(str, c.days),
            *("-" if share is None else in_ten(share) for share in c.reliability),
            *("-" if h.litres_per_m2 is None else f"{h.litres_per_m2:.0f}" for h in c.harvests),
            ahead(c.longer),
            ahead(c.safer),
        )
        for c in result.crops
    )
    table = Table(columns, rows, "crop by crop", look="crops pairs")
    return Fold(f"Crop by crop ({len(rows)})", (table,) if rows else (), on_screen=len(rows) <= _FEW)


_CHANCE = "Windows of fewer years move by chance too; `sowcal weather trend` says whether the climate itself has moved."


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
        rows.append((f"{entry['crop']}, {entry['way']}", *spans, *(f"{d:+d} d" if d else "same" for d in moved)))
    later = (Column(edge, right=True, least_screen=least_screen) for edge in ("opens", "closes"))
    columns = (Column("crop and way"), *sides, *later)
    return Table(columns, tuple(rows), "start dates that move", look="crops", most=_LONGEST)


def against_whole(found: AgainstWhole, few: bool) -> Section:
    """How the windows of the years asked for move against the whole record: of many crops, by a week or more."""
    entries = [e for e in found.moved if few or _move(e) >= _WEEK]
    parts: list[Part] = [Paragraph(record_text(found.record), name="The whole record")]
    if entries:
        parts.append(_moved_table(entries, (Column("whole record"), Column("these years"))))
    if still := len(found.moved) - len(entries):
        parts.append(Paragraph(f"{still} {'window moves' if still == 1 else 'windows move'} by less than a week."))
    for words, crops in (("dates in these years only", found.gained), ("dates in the whole record only", found.lost)):
        parts += [Paragraph(", ".join(crops), name=words)] if crops else []
    return Section("Against the whole record: + later, - earlier", (*parts, Paragraph(_CHANCE)), level=4)


def _moved(result: CompareResult, names: tuple[str, str], *, on_screen: bool) -> Fold:
    """Start dates that move, those that move most first; a narrow screen has the dates alone."""
    sides = (Column(site, short=name) for site, name in zip(result.sites, names, strict=True))
    title = f"Start dates that move by a week or more, {result.sites[0]} to {result.sites[1]} (+ later, - earlier)"
    table = _moved_table(result.moved, sides, least_screen=90)
    return Fold(title, (table,) if table.rows else (), on_screen=on_screen, titled=True)


def _months_beside(result: CompareResult) -> Fold:
    """Mean maximum and minimum and rain of both places, month by month."""
    rows = [
        (f"{words}: {site}", *_month_cells(values, name)[:12])
        for words, name in (_ROWS[1], _ROWS[0], ("rain, mm", "pr"))
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
    keys = [Paragraph(s, name=n, on_page=False) for s, n in zip(result.sites, names, strict=True) if "first" in names]
    records = [
        Paragraph(record_text(r, brief=True), name=site, look="small")
        for site, r in zip(names, result.records, strict=False)
    ]
    few = len(result.crops) <= _FEW
    columns = [Column(site, right=True, short=name) for site, name in zip(result.sites, names, strict=True)]
    return Document(
        f"WHICH PLOT: {one} or {two}",
        (
            *keys,
            Paragraph(closing_sentence(result), look="lead"),
            _verdict_facts(result, names),
            _figures(result, columns),
            *records,
            Beside(_pictures(result.sites, result.climates, start_month)),
            _crop_by_crop(result, verdicts, names),
            _moved(result, names, on_screen=few),
            _months_beside(result),
        ),
        foot=(foot_text(next((r for r in result.records if r.kind == "generated"), None), result.made_by),),
        spaced=False,
    )
