"""The place on the page: figures, two pictures, and the months behind them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from sowcal.climate.place_figures import ABOVE, ClimateSummary, Odds, definitions, plain_name
from sowcal.counted import counted
from sowcal.outputs.document import Html, join, scroll_table, tag
from sowcal.outputs.page_chart import verdict_chip
from sowcal.outputs.page_svg import frost_free_picture, rain_picture, temperature_picture
from sowcal.outputs.text_place import closing_sentence
from sowcal.outputs.wording import in_ten
from sowcal.suitability.results import CompareResult, CropVerdict
from sowcal.year import MONTHS, YEAR, day_of_year, day_text, span_text

__all__ = [
    "compare_section",
    "place_figures",
    "place_pictures",
    "place_table",
]

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


_SHORT = {name: d.short.replace("degC", "°C") for name, d in definitions().items()}
_FIGURES = (
    ("last spring frost, middle year", "last_spring_frost", "date"),
    ("first autumn frost, middle year", "first_autumn_frost", "date"),
    ("frost-free days, middle year", "frost_free_days", "odds"),
    (f"frost days a year ({_SHORT['frost_days']})", "frost_days", "number"),
    (f"warmth to grow, °C days ({_SHORT['growing_degree_days']})", "growing_degree_days", "number"),
    *((words.replace("degC", "°C"), name, "sum") for name, words in ABOVE.items()),
    ("winter chill, portions (dynamic model)", "chill_portions", "number"),
    ("rain, mm a year", "pr", "sum"),
    ("water a lawn would use, mm a year", "reference_evapotranspiration", "sum"),
)


Pair = tuple[Sequence[CropVerdict], Sequence[CropVerdict]]


def _shown(climate: Mapping[str, Any], name: str, form: str) -> str:
    value = climate.get(name)
    if value is None or value == []:
        return "not known"
    if form == "date":
        return "none" if value["p50"] is None else day_text(day_of_year(value["p50"]))
    if form == "odds":
        return "all year" if value["p50"] is None else f"{value['p50']}"
    if form == "sum":
        return "not known" if any(v is None for v in value) else f"{sum(value):.0f}"
    return f"{value:.0f}"


def _months_beside(sites: Sequence[str], climates: Sequence[ClimateSummary]) -> Html | None:
    """Mean maximum and minimum of both places, month by month."""
    rows = []
    for words, name in (("mean maximum, °C", "tasmax"), ("mean minimum, °C", "tasmin"), ("rain, mm", "pr")):
        for site, c in zip(sites, climates, strict=True):
            if (values := getattr(c, name)) is not None:
                cells = [tag("td", "?" if v is None else f"{v:.0f}") for v in values]
                rows.append(tag("tr", tag("th", f"{words}: {site}", scope="row"), *cells))
    if not rows:
        return None
    head = tag("tr", tag("td"), *[tag("th", m, scope="col") for m in MONTHS])
    table = tag("table", tag("thead", head), tag("tbody", *rows), class_="numbers")
    return tag(
        "details",
        tag("summary", "Month by month, in figures"),
        scroll_table(table, "both places by month"),
        class_="fold",
    )


def _later(days: object) -> str:
    n = int(days) if isinstance(days, (int, float)) else 0
    return "same" if n == 0 else f"{counted(abs(n), 'day')} {'later' if n > 0 else 'earlier'}"


def _moved(result: CompareResult) -> Html | None:
    if not result.moved:
        return None
    one, two = result.sites
    rows = [
        tag(
            "tr",
            tag("th", f"{m['crop']}, {m['way']}", scope="row"),
            *[tag("td", span_text(a, b)) for a, b in zip(m["from"], m["to"], strict=True)],  # type: ignore[call-overload]
            tag("td", _later(m["opens_later_days"])),
            tag("td", _later(m["closes_later_days"])),
        )
        for m in sorted(result.moved, key=lambda m: str(m["crop"]))
    ]
    names = ("Crop and way", one, two, f"Opens at {two}", f"Closes at {two}")
    head = tag("tr", *[tag("th", n, scope="col") for n in names])
    table = tag("table", tag("thead", head), tag("tbody", *rows), class_="crops")
    return tag(
        "details",
        tag("summary", f"Start dates that move by a week or more ({len(rows)})"),
        scroll_table(table, "start dates that move"),
        class_="fold",
    )


def _pictures(sites: Sequence[str], climates: Sequence[ClimateSummary], start_month: int) -> Html | None:
    """Both places on the same axes."""

    def key(kind: str) -> list[Html]:
        return [tag("span", tag("i", class_=f"patch {kind}{' second' * k}"), site) for k, site in enumerate(sites)]

    out = []
    warm = [(c.tasmin, c.tasmax) for c in climates if c.tasmin and c.tasmax]
    wet = [(c.pr, c.reference_evapotranspiration) for c in climates if c.pr and c.reference_evapotranspiration]
    if len(warm) == len(climates):
        words = "Mean night and day temperature of each month at both places; the figures stand below."
        caption = tag("figcaption", "Mean night and day temperature, °C", tag("span", *key("warmth"), class_="key"))
        picture = temperature_picture(warm, start_month, words)
        out += [tag("figure", caption, picture)] if picture else []
    if len(wet) == len(climates):
        words = "Rain of each month at both places and the water a lawn would use; the figures stand below."
        said = "Rain, and the water a lawn would use (dark lines), mm a month"
        picture = rain_picture([r for r, _ in wet], [n for _, n in wet], start_month, words)
        caption = tag("figcaption", said, tag("span", *key("rain"), class_="key"))
        out += [tag("figure", caption, picture)] if picture else []
    return tag("div", *out, class_="pictures") if out else None


def _crop_by_crop(result: CompareResult, verdicts: Pair) -> Html:
    """Every crop at both places: verdict, days on which it may be started, years that work, and who is ahead."""
    first, second = ({v.crop: v for v in side} for side in verdicts)

    def years(share: float | None) -> str:
        return "-" if share is None else in_ten(share)

    def ahead(k: int | None) -> str:
        return "alike" if k is None else result.sites[k]

    rows = []
    for c in result.crops:
        cells = [
            *(verdict_chip(side.get(c.crop)) for side in (first, second)),
            *c.days,
            *map(years, c.reliability),
            ahead(c.longer),
            ahead(c.safer),
        ]
        rows.append(tag("tr", tag("th", c.crop, scope="row"), *[tag("td", cell) for cell in cells]))
    one, two = result.sites
    names = ["Crop", one, two, f"Days to start in, {one}", f"Days to start in, {two}"]
    names += [f"Years that work, {one}", f"Years that work, {two}", "Longer window at", "Safer at"]
    head = tag("tr", *[tag("th", n, scope="col") for n in names])
    return tag(
        "details",
        tag("summary", f"Crop by crop ({len(rows)})"),
        scroll_table(tag("table", tag("thead", head), tag("tbody", *rows), class_="crops pairs"), "crop by crop"),
        class_="fold",
    )


def compare_section(
    result: CompareResult, climates: Sequence[ClimateSummary], verdicts: Pair, start_month: int
) -> Html:
    """Two places: which carries more, figures side by side, crops gained and lost, dates moved."""
    one, two = result.sites
    rows = [
        tag("tr", tag("th", words, scope="row"), *[tag("td", _shown(c, name, form)) for c in result.climates])
        for words, name, form in _FIGURES
    ]
    for words, name in (
        ("crops carried (sound or fair)", "crops_carried"),
        ("crops that are sound or thrive", "crops_sound"),
        ("days of advised starts, all crops", "days_of_recommended_starts"),
    ):
        pair = result.better.get(name)
        if isinstance(pair, Sequence) and len(pair) == 2:
            rows.append(tag("tr", tag("th", words, scope="row"), *[tag("td", n) for n in pair]))
    head = tag("tr", tag("td"), tag("th", one, scope="col"), tag("th", two, scope="col"))
    only = [
        tag("div", tag("h3", f"Only {site} carries"), tag("p", ", ".join(crops) or "nothing that the other lacks"))
        for site, crops in ((one, result.lost), (two, result.gained))
    ]
    table = tag("table", tag("thead", head), tag("tbody", *rows), class_="beside")
    return join(
        tag("p", closing_sentence(result), class_="lead"),
        scroll_table(table, "both places in figures", hint=False),
        tag("div", *only, class_="pair"),
        _pictures(result.sites, climates, start_month),
        _crop_by_crop(result, verdicts),
        _moved(result),
        _months_beside(result.sites, climates),
    )
