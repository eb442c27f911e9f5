"""Two places beside each other on the page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sowcal.climate.summary_definitions import ABOVE, definitions
from sowcal.climate.summary_record import ClimateSummary
from sowcal.counted import counted
from sowcal.outputs.days import MONTHS, day_of_year, day_text, span_text
from sowcal.outputs.page_chart import verdict_chip
from sowcal.outputs.page_html import Html, join, tag
from sowcal.outputs.page_svg import rain_picture, temperature_picture
from sowcal.outputs.page_tables import scroll_table
from sowcal.outputs.text_compare import closing_sentence
from sowcal.outputs.wording import in_ten
from sowcal.suitability.results import CompareResult, CropVerdict

__all__ = ["compare_section"]

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
