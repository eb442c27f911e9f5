"""A place told once for screen and page: its figures, months, trend and pictures."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from sowcal.climate.place_figures import (
    ABOVE,
    HOT,
    STRICT,
    VERY_HOT,
    ClimateSummary,
    Odds,
    definitions,
    of_year,
    plain_name,
)
from sowcal.languages import counted, figure, phrase, say
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
    Picture,
    Table,
    join,
    tag,
)
from sowcal.outputs.page_svg import frost_free_picture, rain_picture, temperature_picture
from sowcal.outputs.wording import (
    foot_text,
    opening_rains_by_year,
    opening_rains_words,
    record_of_summary,
    record_text,
    sentence,
)
from sowcal.units import amount, quantity, told, unit_word
from sowcal.year import MONTHS, YEAR, day_text

__all__ = [
    "KINDS",
    "LAWN",
    "RAIN",
    "ROWS",
    "UNKNOWN",
    "climate_document",
    "month_cells",
    "month_pictures",
    "shown_figure",
]

UNKNOWN = phrase("not known")


LAWN = phrase("water a lawn would use")
_DEGREES, RAIN = quantity(0, "degC", form="unit"), quantity(0, "mm", form="unit")


KINDS = {  # units of the figures that have one
    "tasmin": "degC",
    "tasmax": "degC",
    "pr": "mm",
    "reference_evapotranspiration": "mm",
    "growing_degree_days": "degree days",
}


ROWS = (
    (phrase("mean minimum, {unit}", unit=_DEGREES), "tasmin"),
    (phrase("mean maximum, {unit}", unit=_DEGREES), "tasmax"),
    *((words, name) for name, words in ABOVE.items()),
    (phrase("rain, {unit}", unit=RAIN), "pr"),
    (phrase("{lawn}, {unit}", lawn=LAWN, unit=RAIN), "reference_evapotranspiration"),
)


_SHORTER = {phrase("{lawn}, {unit}", lawn=LAWN, unit=RAIN): phrase("lawn's water, {unit}", unit=RAIN)}


_MEANS = ("tasmin", "tasmax")  # of the year is their mean; of all others the sum


def shown_figure(value: float | None, unit: str = "", unknown: str = UNKNOWN, kind: str | None = None) -> str:
    """A whole number, of a `kind` of `sowcal.units` in the units that are told, or of a noun that is counted."""
    if value is None or not math.isfinite(value):
        return unknown
    if kind is not None:
        return amount(value, kind, ".0f")
    if unit == "":
        return f"{value:.0f}"
    return counted(round(value), unit)


def _dates(odds: Odds | None) -> tuple[str, str]:
    if odds is None:
        return UNKNOWN, ""
    if odds.p10 is None and odds.p50 is None and odds.p90 is None:
        return say("none"), say("in at least 9 years of 10")
    middle = say("none") if odds.p50 is None else day_text(odds.p50)
    early = say("1 year in 10 by {day}", day=day_text(odds.p10)) if odds.p10 is not None else ""
    late = (
        say("9 in 10 by {day}" if early else "9 years in 10 by {day}", day=day_text(odds.p90))
        if odds.p90 is not None
        else ""
    )
    none = "" if (early and late) or odds.p50 is None else say("none in more than 1 year of 10")
    return middle, say("in the middle year; {names}", names=", ".join(filter(None, (early, late, none))))


def _lengths(odds: Odds | None) -> tuple[str, str]:
    if odds is None:
        return UNKNOWN, ""
    middle, low, high = (None if v is None or v >= YEAR else v for v in (odds.p50, odds.p10, odds.p90))
    if low is None:
        return say("all year"), say("in at least 9 years of 10")
    longest = say("1 in 10 or more all year") if high is None else say("1 in 10 over {high}", high=high)
    usual = say("all year") if middle is None else counted(middle, "day")
    return usual, say("in the middle year; 1 year in 10 under {low}, {longest}", low=low, longest=longest)


def _with(value: str, more: str) -> tuple[str, str]:
    """What is said beside a value; nothing beside one that is not known."""
    return value, "" if value == UNKNOWN else more


def _rains(s: ClimateSummary) -> tuple[str, str]:
    if s.opening_rains_by_year is not None:
        middle, comma, more = opening_rains_words(s.opening_rains_by_year).partition(say(" in the middle year"))
        return middle, f"{comma}{more}".strip()
    return _with(UNKNOWN if s.opening_rains is None else day_text(s.opening_rains), say("in the middle year"))


def _day_length(s: ClimateSummary) -> str:
    if s.shortest_day is None or s.longest_day is None:
        return UNKNOWN
    return say("{shortest:.1f} to {longest:.1f} hours", shortest=s.shortest_day, longest=s.longest_day)


def _rain(s: ClimateSummary) -> tuple[str, str]:
    """The year's rain, and beside it what a lawn would use."""
    rain, need = of_year(s.pr), of_year(s.reference_evapotranspiration)
    if rain is None or not math.isfinite(rain):
        return UNKNOWN, ""
    lawn = "" if need is None else say("; {lawn}: {need}", lawn=LAWN, need=told(need, "mm", ".0f"))
    return told(rain, "mm", ".0f"), say("a year") + lawn


def _facts(s: ClimateSummary) -> Facts:
    """Each figure with what it counts in a few words."""
    short = {name: d.short for name, d in definitions(s.latitude).items()}
    free = s.years_without_frost
    frost = say("a year ({counted})", counted=short["frost_days"])
    frost += (
        "" if free is None else say("; none in {free:.0%} of years", free=free) if free else say("; some every year")
    )
    others = (("hour", "chill_hours", s.chill_hours), ("unit", "chill_units", s.chill_units))
    chill = [f"({say(short['chill_portions'])})"]
    chill += [f"{shown_figure(value, unit)} ({say(short[name])})" for unit, name, value in others if value is not None]
    facts = (
        (say("last spring frost"), _dates(s.last_spring_frost)),
        (say("first autumn frost"), _dates(s.first_autumn_frost)),
        (say("frost-free"), _lengths(s.frost_free_days)),
        (say("frost days"), _with(shown_figure(s.frost_days), frost)),
        (
            say("growing degree days"),
            _with(
                shown_figure(s.growing_degree_days, kind="degree days"),
                say("a year ({counted})", counted=short["growing_degree_days"]),
            ),
        ),
        (say("winter chill"), (shown_figure(s.chill_portions, "portion"), "; ".join(chill))),
        (
            ABOVE["hot_days_30"],
            _with(
                shown_figure(of_year(s.hot_days_30)),
                say(
                    "a year; {figure} above {limit}",
                    figure=shown_figure(of_year(s.hot_days_35)),
                    limit=told(VERY_HOT, "degC"),
                ),
            ),
        ),
        (say("rain"), _rain(s)),
        (say("opening rains"), _rains(s)),
        (
            say("hardiness zone"),
            _with(
                s.hardiness_zone or UNKNOWN,
                f"({say(short['hardiness_zone'])})",
            ),
        ),
        (say("day length"), _with(_day_length(s), f"({say(short['longest_day'])})")),
    )
    return Facts(tuple((name, *said) for name, said in facts))


def month_cells(values: Sequence[float | None] | None, name: str) -> tuple[str, ...]:
    """Twelve months and the year; '?' is not known."""
    months = values or (None,) * 12
    year = of_year(months, mean=name in _MEANS)
    return tuple(shown_figure(v, unknown="?", kind=KINDS.get(name)) for v in (*months, year))


def _months(s: ClimateSummary) -> Table:
    columns = (Column(""), *(Column(m, right=True) for m in (*MONTHS, phrase("year"))))
    rows: tuple[tuple[str | Cell, ...], ...] = tuple(
        (Cell(w, short=_SHORTER.get(w, w)), *month_cells(getattr(s, name), name)) for w, name in ROWS
    )
    return Table(columns, rows, say("{site}: months in figures", site=s.site), divided=True)


def _trends(s: ClimateSummary) -> tuple[str | tuple[str, str], ...]:
    """The year's trend of nights and days, and of the seasons those that are clear of zero."""
    out: list[tuple[str, str]] = []
    for variable, words in (("tasmin", say("nights")), ("tasmax", say("days"))):
        these = [t for t in s.trends if t.variable == variable]
        told = sorted((t for t in these if t.season == "all year" or t.clear), key=lambda t: t.season != "all year")
        said = [
            say(
                "{season} {per_decade} ({low} to {high}{more})",
                season=say(t.season),
                **{end: amount(getattr(t, end), "degC apart", "+.2f") for end in ("per_decade", "low", "high")},
                more="" if t.clear else say(", not clear of zero"),
            )
            for t in told
        ]
        if said:
            years = say("{min} to {max}", min=min(t.first for t in told), max=max(t.last for t in told))
            out.append((f"{words}, {years}", ", ".join(said)))
    return tuple(out)


def _frost_free(s: ClimateSummary, start_month: int) -> Picture | None:
    """The span free of frost in each year; a sentence says it where there never is any."""
    years = s.frost_by_year
    if not years or s.years_without_frost == 1.0:
        return None
    lengths = s.frost_free_days
    middle = (
        ""
        if lengths is None or lengths.p50 is None
        else say("; {days} in the middle year", days=counted(lengths.p50, "day"))
    )
    words = say(
        "From the last spring frost to the first autumn frost in each of {years}{middle}.",
        years=counted(len(years), "year"),
        middle=middle,
    )
    gaps = (
        ""
        if years[-1].year - years[0].year + 1 == len(years)
        else say("; a gap is a year of which too much is missing")
    )
    south = (s.latitude or 0.0) < 0
    return Picture(
        lambda: frost_free_picture(years, south, start_month, words),
        say("Free of frost, year by year{gaps}.", gaps=gaps),
    )


def month_pictures(
    sites: Sequence[str], climates: Sequence[Mapping[str, Any]], start_month: int
) -> tuple[Picture, ...]:
    """Temperature and rain by month of one place, or of two on the same axes; nothing where they are not known."""

    def caption(words: str, kind: str) -> Html | str:
        if len(sites) == 1:
            return words
        keys = [tag("span", tag("i", class_=f"patch {kind}{' second' * k}"), site) for k, site in enumerate(sites)]
        return join(words, tag("span", *keys, class_="key"))

    out = []
    where, below = ("", say("in the table below")) if len(sites) == 1 else (say(" at both places"), say("below"))
    warm = [(c["tasmin"], c["tasmax"]) for c in climates if c.get("tasmin") and c.get("tasmax")]
    need = "reference_evapotranspiration"
    wet = [(c["pr"], c[need]) for c in climates if c.get("pr") and c.get(need)]
    if len(warm) == len(sites):
        words = say(
            "Mean night and day temperature of each month{where}; the figures stand {below}.", where=where, below=below
        )
        said = say(
            "Mean night and day temperature, {unit}. Blue line: freezing; red line: {hot}.",
            unit=unit_word("°C"),
            hot=told(HOT, "°C"),
        )
        out.append(Picture(lambda: temperature_picture(warm, start_month, words), caption(said, "warmth")))
    if len(wet) == len(sites):
        about = say(
            "Rain of each month{where} and the {lawn}; the figures stand {below}.",
            where=where,
            lawn=LAWN,
            below=below,
        )
        said = say("Rain (bars) and the {lawn} (short lines), {unit} a month.", lawn=LAWN, unit=unit_word("mm"))
        falls, needs = [r for r, _ in wet], [n for _, n in wet]
        out.append(Picture(lambda: rain_picture(falls, needs, start_month, about), caption(said, "rain")))
    return tuple(out)


def _notes(s: ClimateSummary) -> tuple[Paragraph, ...]:
    notes = [] if s.opening_rains_by_year is None else [opening_rains_by_year(s.opening_rains_by_year)]
    long = [*notes, *(note for note in s.notes if "generated from monthly normals" in note)]  # the foot has it short
    method = s.evapotranspiration_method
    lawn = say(" Lawn: reference evapotranspiration by {method}.", method=method) if method else ""
    told = (*notes, *s.notes, say(STRICT) + lawn)
    return tuple(Paragraph(sentence(say(note)), look="small", on_screen=note not in long) for note in told)


def climate_document(summary: ClimateSummary, start_month: int = 1) -> Document:
    """The figures of one place, what is not known named as such.

    Parameters
    ----------
    summary : ClimateSummary
    start_month : int
        Month, 1 to 12, with which the year is drawn to begin.
    """
    s = summary
    place = [] if s.latitude is None else [f"{figure(abs(s.latitude), '.2f')} {'N' if s.latitude >= 0 else 'S'}"]
    place += [] if s.elevation is None else [told(s.elevation, "m", ".0f")]
    record = record_of_summary(s)
    place += [] if record is None else [record_text(record, brief=True)]
    months = {name: getattr(s, name) for name in ("tasmin", "tasmax", "pr", "reference_evapotranspiration")}
    drawn = [*month_pictures([s.site], [months], start_month), _frost_free(s, start_month)]
    trend = say(
        "Trend, {unit} in 10 years (95 per cent interval; seasons only where clear of zero)",
        unit=unit_word("degC apart"),
    )
    counts = tuple(Paragraph(said, name=plain_name(key), look="small") for key, said in s.definitions().items())
    return Document(
        say("THE CLIMATE OF {site}", site=s.site) + (f"; {', '.join(place)}" if place else ""),
        (
            _facts(s),
            Beside(tuple(picture for picture in drawn if picture is not None)),
            Fold(say("Month by month, in figures"), (_months(s),)),
            Fold(trend, (Items(_trends(s)),), titled=True),
            Fold("Notes on these figures", _notes(s)),
            Fold("How each figure is counted", counts, on_screen=False),
        ),
        foot=(foot_text(record, s.made_by, promise=False),),
    )
