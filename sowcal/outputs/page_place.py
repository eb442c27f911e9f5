"""The place on the page: figures, two pictures, and the months behind them."""

from __future__ import annotations

import math
from collections.abc import Sequence

from sowcal.climate.summary_definitions import ABOVE, definitions, plain_name
from sowcal.climate.summary_record import ClimateSummary, Odds
from sowcal.counted import counted
from sowcal.outputs.days import MONTHS, YEAR, day_text
from sowcal.outputs.page_html import Html, join, tag
from sowcal.outputs.page_svg import rain_picture, temperature_picture
from sowcal.outputs.page_svg_years import frost_free_picture

__all__ = ["place_figures", "place_pictures", "place_table"]

_UNKNOWN = "not known"
_ROWS = (
    ("mean minimum, °C", "tasmin", "mean"),
    ("mean maximum, °C", "tasmax", "mean"),
    *((words.replace("degC", "°C"), name, "sum") for name, words in ABOVE.items()),
    ("rain, mm", "pr", "sum"),
    ("water a lawn would use, mm", "reference_evapotranspiration", "sum"),
)


def _known(value: float | None) -> bool:
    return value is not None and math.isfinite(value)


def _figure(value: float | None, unit: str = "", digits: int = 0) -> str:
    if value is None or not math.isfinite(value):
        return _UNKNOWN
    shown = f"{value:.{digits}f}"
    return f"{shown} {unit.removesuffix('s') if shown == '1' else unit}".strip()


def _sum(values: Sequence[float | None] | None) -> float | None:
    known = [v for v in values or () if v is not None and math.isfinite(v)]
    return math.fsum(known) if len(known) == 12 else None


def _odds(odds: Odds | None, never: str, *, days: bool = False) -> tuple[str, str]:
    """The middle year, and the years on either side of it."""
    if odds is None:
        return _UNKNOWN, ""

    def one(v: int | None) -> str:
        if v is None or (days and v >= YEAR):
            return never
        return counted(v, "day") if days else day_text(v)

    least, most = one(odds.p10), one(odds.p90)
    if least == most:
        return one(odds.p50), ""
    if days and most != never:
        least = least.removesuffix(" days").removesuffix(" day")
    return one(odds.p50), f"{least} to {most} in 8 years of 10"


def _facts(s: ClimateSummary) -> list[tuple[str, str, str]]:
    short = {name: d.short.replace("degC", "°C") for name, d in definitions(s.latitude).items()}
    free = s.years_without_frost
    frost = f"a year ({short['frost_days']})"
    frost += "" if free is None else f"; none in {free:.0%} of years" if free else "; some every year"
    light = _UNKNOWN
    if s.shortest_day is not None and s.longest_day is not None:
        light = f"{s.shortest_day:.1f} to {s.longest_day:.1f} h"
    need = _sum(s.reference_evapotranspiration)
    chill = [f"{_figure(s.chill_hours, 'hours')} ({short['chill_hours']})"] * (s.chill_hours is not None)
    chill += [f"{_figure(s.chill_units)} units ({short['chill_units']})"] * (s.chill_units is not None)
    return [
        ("Last spring frost", *_odds(s.last_spring_frost, "none")),
        ("First autumn frost", *_odds(s.first_autumn_frost, "none")),
        ("Frost-free season", *_odds(s.frost_free_days, "all year", days=True)),
        ("Frost", _figure(s.frost_days, "days"), frost),
        ("Summer heat", _figure(_sum(s.hot_days_30), "days"), f"a year, {short['hot_days_30']}"),
        ("Very hot", _figure(_sum(s.hot_days_35), "days"), f"a year, {short['hot_days_35']}"),
        ("Winter chill", _figure(s.chill_portions, "portions"), "; ".join([short["chill_portions"], *chill])),
        ("Warmth to grow", _figure(s.growing_degree_days, "°C days"), f"a year ({short['growing_degree_days']})"),
        ("Rain", _figure(_sum(s.pr), "mm"), "a year" + (f"; a lawn would use {_figure(need, 'mm')}" if need else "")),
        (
            "Rains open",
            _UNKNOWN if s.opening_rains is None else day_text(s.opening_rains),
            "in the middle year" if s.opening_rains is not None else "",
        ),
        ("Daylight", light, f"shortest to longest day ({short['longest_day']})"),
        ("Hardiness zone", s.hardiness_zone or _UNKNOWN, f"heat zone {s.heat_zone}" if s.heat_zone else ""),
    ]


def place_figures(summary: ClimateSummary) -> Html:
    """The figures a grower looks for first."""
    cards = [
        tag("div", tag("dt", name), tag("dd", tag("b", value), tag("span", more) if more else None))
        for name, value, more in _facts(summary)
    ]
    return tag("dl", *cards, class_="figures")


def _frost_free(summary: ClimateSummary, start_month: int) -> Html | None:
    """The span free of frost in each year; a sentence says it where there never is any."""
    years = summary.frost_by_year
    if not years or summary.years_without_frost == 1.0:
        return None
    lengths = summary.frost_free_days
    middle = "" if lengths is None or lengths.p50 is None else f"; {counted(lengths.p50, 'day')} in the middle year"
    words = f"From the last spring frost to the first autumn frost in each of {counted(len(years), 'year')}{middle}."
    gaps = "" if years[-1].year - years[0].year + 1 == len(years) else "; a gap is a year of which too much is missing"
    picture = frost_free_picture(years, (summary.latitude or 0.0) < 0, start_month, words)
    return tag("figure", tag("figcaption", f"Free of frost, year by year{gaps}."), picture)


def place_pictures(summary: ClimateSummary, start_month: int) -> Html | None:
    """Temperatures and rain by month; nothing where they are not known."""
    out = []
    if summary.tasmin and summary.tasmax:
        words = "Mean daily minimum and maximum of each month; the figures stand in the table below."
        if picture := temperature_picture([(summary.tasmin, summary.tasmax)], start_month, words):
            out.append(
                tag(
                    "figure",
                    tag("figcaption", "Mean night and day temperature, °C. Blue line: freezing; red line: 30 °C."),
                    picture,
                )
            )
    if summary.pr and summary.reference_evapotranspiration:
        words = "Rain of each month and the water a lawn would use; the figures stand in the table below."
        if picture := rain_picture([summary.pr], [summary.reference_evapotranspiration], start_month, words):
            caption = "Rain (bars) and the water a lawn would use (dark lines), mm a month."
            out.append(tag("figure", tag("figcaption", caption), picture))
    if (free := _frost_free(summary, start_month)) is not None:
        out.append(free)
    return tag("div", *out, class_="pictures") if out else None


def _cell(values: Sequence[float | None], how: str) -> list[str]:
    total = _sum(values)
    year = None if total is None else total / 12 if how == "mean" else total
    return [_figure(v) if _known(v) else "?" for v in values] + [_figure(year) if year is not None else "?"]


def place_table(summary: ClimateSummary) -> Html:
    """Months across, in a fold; last, how the lawn's water was reckoned and what else a reader must know."""
    head = tag("tr", tag("td"), *[tag("th", m, scope="col") for m in MONTHS], tag("th", "year", scope="col"))
    rows = [
        tag("tr", tag("th", words, scope="row"), *[tag("td", c) for c in _cell(getattr(summary, name), how)])
        for words, name, how in _ROWS
        if getattr(summary, name) is not None
    ]
    table = tag("table", tag("thead", head), tag("tbody", *rows), class_="numbers")
    method = summary.evapotranspiration_method
    notes = [*summary.notes, *([f"Water a lawn would use (reference evapotranspiration): {method}."] if method else [])]
    months = tag(
        "details",
        tag("summary", "Month by month, in figures"),
        tag("div", table, class_="wide", tabindex="0", role="region", aria_label=f"{summary.site}: months in figures"),
        *[tag("p", note, class_="small") for note in notes],
        class_="fold",
    )
    return join(months, _counted_how(summary))


def _counted_how(summary: ClimateSummary) -> Html:
    """What each figure counts, in a fold of its own."""
    said = [
        tag("p", tag("b", plain_name(key)), f": {sentence}".replace("degC", "°C"), class_="small")
        for key, sentence in summary.definitions().items()
    ]
    return tag("details", tag("summary", "How each figure is counted"), *said, class_="fold")
