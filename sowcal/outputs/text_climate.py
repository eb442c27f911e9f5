"""A page of figures of one place."""

from __future__ import annotations

import math
from collections.abc import Sequence

from sowcal.climate.summary_definitions import ABOVE, STRICT, definitions
from sowcal.climate.summary_record import ClimateSummary, Odds
from sowcal.counted import counted
from sowcal.outputs.days import MONTHS, YEAR, day_text
from sowcal.outputs.rain_words import opening_rains_by_year, opening_rains_words
from sowcal.outputs.screen import pad, plain, wrap
from sowcal.outputs.wording import record_of_summary, record_text

__all__ = ["climate_text"]

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
