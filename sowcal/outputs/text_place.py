"""A page of figures of one place."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from sowcal.climate.place_figures import ABOVE, STRICT, ClimateSummary, Odds, definitions
from sowcal.counted import counted
from sowcal.outputs.screen import pad, plain, table, wrap
from sowcal.outputs.text_chart import LONGEST, moved_rows, opening_rains_by_year, opening_rains_words, widest_first
from sowcal.outputs.wording import in_ten, record_of_summary, record_text
from sowcal.suitability.results import CompareResult
from sowcal.year import MONTHS, YEAR, day_of_year, day_text

__all__ = [
    "climate_text",
    "closing_sentence",
    "compare_text",
]

_UNKNOWN = "not known"
_ROWS = (
    ("mean minimum, degC", "tasmin", "mean"),
    ("mean maximum, degC", "tasmax", "mean"),
    *((words, name, "sum") for name, words in ABOVE.items()),
    ("rain, mm", "pr", "sum"),
    ("reference ET, mm", "reference_evapotranspiration", "sum"),
)


def _figure(value: float | None, words: str = "", digits: int = 0) -> str:
    if value is None or not math.isfinite(value):
        return _UNKNOWN
    return f"{value:.{digits}f}{f' {words}' if words else ''}"


def _dates(odds: Odds | None) -> str:
    if odds is None:
        return _UNKNOWN
    if odds.p10 is None and odds.p50 is None and odds.p90 is None:
        return "none in at least 9 years of 10"
    middle = "none" if odds.p50 is None else day_text(odds.p50)
    early = f"1 year in 10 by {day_text(odds.p10)}" if odds.p10 is not None else ""
    late = f"9 {'in' if early else 'years in'} 10 by {day_text(odds.p90)}" if odds.p90 is not None else ""
    none = "" if (early and late) or odds.p50 is None else "none in more than 1 year of 10"
    return f"{middle} in the middle year; {', '.join(filter(None, (early, late, none)))}"


def _lengths(odds: Odds | None) -> str:
    if odds is None:
        return _UNKNOWN
    middle, low, high = (None if v is None or v >= YEAR else v for v in (odds.p50, odds.p10, odds.p90))
    if low is None:
        return "all year in at least 9 years of 10"
    longest = "1 in 10 or more all year" if high is None else f"1 in 10 over {high}"
    usual = "all year" if middle is None else counted(middle, "day")
    return f"{usual} in the middle year; 1 year in 10 under {low}, {longest}"


def _facts(s: ClimateSummary) -> list[tuple[str, str]]:
    """Each figure with what it counts in a few words."""
    short = {name: d.short for name, d in definitions(s.latitude).items()}
    free = ""
    if s.years_without_frost is not None:
        free = f"; none in {s.years_without_frost:.0%} of years" if s.years_without_frost else "; some every year"
    day = _UNKNOWN
    if s.shortest_day is not None and s.longest_day is not None:
        day = f"{s.shortest_day:.1f} to {s.longest_day:.1f} hours ({short['longest_day']})"
    zones = (("hardiness_zone", s.hardiness_zone), ("heat_zone", s.heat_zone))
    return [
        ("last spring frost", _dates(s.last_spring_frost)),
        ("first autumn frost", _dates(s.first_autumn_frost)),
        ("frost-free", _lengths(s.frost_free_days)),
        ("frost days", _figure(s.frost_days, f"a year (frost: {short['frost_days']}){free}")),
        ("growing degree days", _figure(s.growing_degree_days, f"a year ({short['growing_degree_days']})")),
        ("winter chill, portions", _figure(s.chill_portions, f"({short['chill_portions']})")),
        ("winter chill, hours", _figure(s.chill_hours, f"({short['chill_hours']})")),
        ("winter chill, units", _figure(s.chill_units, f"({short['chill_units']})")),
        ("hardiness, heat zone", "; ".join(_zone(z, short[name]) for name, z in zones)),
        ("day length", day),
        ("opening rains", _rains(s)),
    ]


def _zone(zone: str | None, short: str) -> str:
    return f"{zone} ({short})" if zone else _UNKNOWN


def _rains(s: ClimateSummary) -> str:
    if s.opening_rains_by_year is not None:
        return opening_rains_words(s.opening_rains_by_year)
    return _UNKNOWN if s.opening_rains is None else f"{day_text(s.opening_rains)} in the middle year"


def _cell(value: float | None) -> str:
    return "?" if value is None or not math.isfinite(value) else f"{value:.0f}"


def _year(values: Sequence[float | None], how: str) -> str:
    if any(v is None or not math.isfinite(v) for v in values):
        return "?"
    total = math.fsum(v for v in values if v is not None)
    return f"{total / 12 if how == 'mean' else total:.0f}"


def _months(s: ClimateSummary, width: int) -> list[str]:
    """Months across; half a year at a time on a narrow screen."""
    label, cell = 22, 5
    halves = [range(12)] if width >= label + 13 * cell + 1 else [range(6), range(6, 12)]
    out = []
    for months in halves:
        last = months[-1] == 11
        out.append(
            " " * label + "".join(pad(MONTHS[m], cell, right=True) for m in months) + (f"{'year':>6}" if last else "")
        )
        for words, name, how in _ROWS:
            values = getattr(s, name)
            if values is None:
                out += [pad(words, label) + f"  {_UNKNOWN}"]
                continue
            line = pad(words, label) + "".join(f"{_cell(values[m]):>{cell}}" for m in months)
            out.append(line + (f"{_year(values, how):>6}" if last else ""))
        out.append("")
    return out


def _trends(s: ClimateSummary, width: int, unicode: bool) -> list[str]:
    """The year's trend of nights and days, and of the seasons those that are clear of zero."""
    out = []
    for variable, words in (("tasmin", "nights"), ("tasmax", "days")):
        these = [t for t in s.trends if t.variable == variable]
        told = sorted((t for t in these if t.season == "all year" or t.clear), key=lambda t: t.season != "all year")
        said = [
            f"{t.season} {t.per_decade:+.2f} ({t.low:+.2f} to {t.high:+.2f}{'' if t.clear else ', not clear of zero'})"
            for t in told
        ]
        if said:
            years = f"{min(t.first for t in told)} to {max(t.last for t in told)}"
            out += wrap(plain(f"{words}, {years}: {', '.join(said)}", unicode=unicode), width, later="  ")
    if not out:
        return []
    head = f"TREND, degC in 10 years, with 95 per cent interval ({definitions()['trends'].short})"
    return [*wrap(head, width), *out, ""]


def climate_text(summary: ClimateSummary, *, width: int = 100, unicode: bool = True) -> str:
    """The figures of one place, what is not known named as such.

    Parameters
    ----------
    summary : ClimateSummary
    width : int
        Columns of the screen, 60 or more.
    unicode : bool
        Whether letters beyond ASCII may be sent.
    """
    width = max(width, 60)
    s = summary
    place = [] if s.latitude is None else [f"{abs(s.latitude):.2f} {'N' if s.latitude >= 0 else 'S'}"]
    place += [] if s.elevation is None else [f"{s.elevation:.0f} m"]
    record = record_of_summary(s)
    if record is not None:
        place.append(record_text(record))
    head = f"THE CLIMATE OF {s.site}" + (f"; {', '.join(place)}" if place else "")
    out = [*wrap(plain(head, unicode=unicode), width), ""]
    for name, value in _facts(s):
        out += wrap(plain(value, unicode=unicode), width, first=pad(name, 24), later=" " * 24)
    out += ["", *_months(s, width), *_trends(s, width, unicode)]
    notes = list(s.notes)
    if s.opening_rains_by_year is not None:
        notes.insert(0, opening_rains_by_year(s.opening_rains_by_year))
    method = s.evapotranspiration_method
    notes.append(STRICT + (f" Reference ET (short, watered grass): {method}." if method else ""))
    notes.append(s.made_by.short())
    for note in notes:
        out += wrap(plain(note, unicode=unicode), width)
    return "\n".join(line.rstrip() for line in out).rstrip()


_FEW = 12  # crops; no more than these are told one by one
_WIDEST = 16  # letters of a name that heads a column
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
    ("reference ET, mm a year", "reference_evapotranspiration", "sum"),
    ("hardiness zone", "hardiness_zone", "word"),
)


def _shown(climate: Mapping[str, Any], name: str, form: str) -> str:
    value = climate.get(name)
    if value is None or value == []:
        return "not known"
    if form == "date":
        return "never" if value["p50"] is None else day_text(day_of_year(value["p50"]))
    if form == "odds":
        return "all year" if value["p50"] is None else f"{value['p50']}"
    if form == "sum":
        return "not known" if any(v is None for v in value) else f"{sum(value):.0f}"
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
    if carried[0] == carried[1]:
        return f"Neither is the better for what it grows: {one} and {two} each carry {carried[0]}{of}."
    more, less = (0, 1) if carried[0] > carried[1] else (1, 0)
    return (
        f"{result.sites[more]} is the better plot by what it grows: it {by} {carried[more]}{of}, "
        f"{result.sites[less]} {carried[less]}."
    )


def _crop_rows(result: CompareResult, one: str, two: str) -> list[list[str]]:
    """A line a crop: days on which it may be started, years that work, and which place is ahead."""
    names = (one, two)
    out = [["crop", "days", "days", "years", "years", "longer", "safer"]]
    out.insert(0, ["", one, two, one, two, "", ""])
    for c in result.crops:
        years = ["-" if r is None else in_ten(r) for r in c.reliability]
        ahead = ["alike" if k is None else names[k] for k in (c.longer, c.safer)]
        out.append([c.crop, str(c.days[0]), str(c.days[1]), *years, *ahead])
    return out


def compare_text(result: CompareResult, *, width: int = 100, unicode: bool = True) -> str:
    """The comparison as text.

    Parameters
    ----------
    result : CompareResult
        Its climates as `ClimateSummary.to_json()` gives them; a figure that is absent is 'not known'.
    width : int
        Columns of the screen, 60 or more.
    unicode : bool
        Whether letters beyond ASCII may be sent.
    """
    width = max(width, 60)

    def say(text: str, **more: str) -> list[str]:
        return wrap(plain(text, unicode=unicode), width, **more)

    def rows(cells: list[list[str]], right: tuple[int, ...] = ()) -> list[str]:
        return table([[plain(c, unicode=unicode) for c in row] for row in cells], width, right=right)

    one, two = result.sites
    out = [*say(f"{one} BESIDE {two}")]
    if max(map(len, result.sites)) > _WIDEST:  # names too long to head columns
        out += [*say(f"first: {one}"), *say(f"second: {two}")]
        one, two = "first", "second"
    out += [t for site, r in zip(result.sites, result.records, strict=False) for t in say(f"{site}: {record_text(r)}")]
    out.append("")
    figures = [["", one, two]]
    figures += [[words, *(_shown(c, name, form) for c in result.climates)] for words, name, form in _FIGURES]
    for words, name in (
        ("crops carried (sound or fair)", "crops_carried"),
        ("crops that are sound", "crops_sound"),
        ("days of advised starts, all crops", "days_of_recommended_starts"),
    ):
        pair = _pair(result.better, name)
        if pair is not None:
            figures.append([words, str(pair[0]), str(pair[1])])
    for words, which in (("crops with the longer window", "longer"), ("crops that work in more years", "safer")):
        if result.crops:
            ahead = [getattr(c, which) for c in result.crops]
            figures.append([words, str(ahead.count(0)), str(ahead.count(1))])
    out += rows(figures, right=(1, 2))
    if 0 < len(result.crops) <= _FEW:
        out += ["", *rows(_crop_rows(result, one, two), right=(1, 2, 3, 4))]
    for heading, crops in (
        (f"ONLY THE {two.upper()} CARRIES" if two == "second" else f"ONLY {two} CARRIES", result.gained),
        (f"ONLY THE {one.upper()} CARRIES" if one == "first" else f"ONLY {one} CARRIES", result.lost),
    ):
        out += ["", *say(heading), *say(", ".join(crops) or "none", first="  ", later="  ")]
    if result.moved:
        order = widest_first(result.moved)
        body = moved_rows(order[:LONGEST], one, two, 5 if width >= 90 else 3)
        heading = "WINDOWS MOVED BY A WEEK OR MORE (+ later, - earlier), the widest first"
        out += ["", *say(heading), *rows(body, right=(3, 4))]
        if len(order) > LONGEST:
            out.append(f"and {len(order) - LONGEST} more")
    end = [*say(closing_sentence(result)), *say(result.made_by.short())]
    return "\n".join([*(line.rstrip() for line in out), "", *end])
