"""Tables of the page: every crop with filter and sort, and the perennials."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sowcal.outputs.evidence import is_perennial, limit_words, picked_words
from sowcal.outputs.families import family_name
from sowcal.outputs.page_chart import verdict_chip
from sowcal.outputs.page_html import Html, join, tag
from sowcal.outputs.page_words import when_words
from sowcal.outputs.wording import short_odds
from sowcal.suitability.rating import GRADES
from sowcal.suitability.results import CropVerdict, SowingChart

__all__ = ["crop_table", "perennial_table", "scroll_table"]


def scroll_table(table: Html, label: str, *, hint: bool = True) -> Html:
    """A table that moves sideways by itself where the screen is narrow, by keyboard too."""
    said = tag("p", "The table goes on to the right.", class_="hint") if hint else None
    return join(said, tag("div", table, class_="wide", tabindex="0", role="region", aria_label=label))


def _sortable(words: str, *, numbers: bool = False) -> Html:
    button = tag("button", words, type="button", data_do="sort", data_numbers=numbers)
    return tag("th", button, scope="col", data_words=words)


def _odds(verdict: CropVerdict) -> tuple[str, float]:
    if verdict.reliability is None:
        return "not known", -1.0
    return short_odds(verdict, "not known"), round(min(verdict.reliability, 1.0), 3)


def crop_table(chart: SowingChart, verdicts: Sequence[CropVerdict], key: str) -> Html:
    """All crops in the order given (best first)."""
    lines = {c.crop: c for c in chart.crops}
    rows = []
    for rank, v in enumerate(verdicts):
        line = lines.get(v.crop)
        when = "; ".join(filter(None, map(when_words, line.starts))) if line else ""
        words, share = _odds(v)
        rows.append(
            tag(
                "tr",
                tag("th", v.crop, scope="row"),
                tag("td", verdict_chip(v), data_sort=GRADES.get(v.word, 9) * 1000 + rank),
                tag("td", words, data_sort=share),
                tag("td", limit_words(v)),
                tag("td", when or "no advised dates"),
                tag("td", family_name(line.family) if line else ""),
                data_name=v.crop,
                data_word=v.word,
            )
        )
    words_used = sorted({v.word for v in verdicts}, key=lambda w: (GRADES.get(w, 9), w))
    heads = [
        _sortable("Crop"),
        _sortable("Verdict", numbers=True),
        _sortable("Years that work", numbers=True),
        _sortable("What limits it most"),
        tag("th", "Advised dates", scope="col"),
        _sortable("Family"),
    ]
    table = tag("table", tag("thead", tag("tr", *heads)), tag("tbody", *rows), id=f"{key}-crops", class_="crops")
    choices = [tag("option", "all", value=""), *[tag("option", w, value=w) for w in words_used]]
    controls = tag(
        "div",
        tag("label", "Find a crop", tag("input", type="search", data_do="text", autocomplete="off")),
        tag("label", "Verdict", tag("select", *choices, data_do="word")),
        tag("output", class_="count", aria_live="polite"),
        class_="controls",
        hidden=True,
        data_for=f"{key}-crops",
    )
    return join(controls, scroll_table(table, f"{chart.site}: table of all crops"))


def _chill_cells(evidence: Mapping[str, Any]) -> tuple[str, str]:
    chill = evidence.get("chill")
    if not isinstance(chill, Mapping):
        return "-", "-"
    low, high = chill["needs"]
    return f"{chill['had_in_10_50_90_per_cent_of_years'][1]}", f"{low:g} to {high:g} ({chill['model']})"


def perennial_table(site: str, verdicts: Sequence[CropVerdict]) -> Html | None:
    """Perennials in the order given; None where there are none."""
    found = [v for v in verdicts if is_perennial(v)]
    if not found:
        return None
    rows = []
    for v in found:
        e = v.evidence
        had, needs = _chill_cells(e)
        cells = [
            tag("td", verdict_chip(v)),
            tag("td", f"{e['years_lived']} of {e['years_decided']}"),
            tag("td", f"{e['years_cropped']} of {e['years_decided']}"),
            tag("td", limit_words(v)),
            tag("td", picked_words(e) or "-"),
            tag("td", had),
            tag("td", needs),
        ]
        rows.append(tag("tr", tag("th", v.crop, scope="row"), *cells))
    names = (
        "Crop",
        "Verdict",
        "Years lived",
        "Years cropped",
        "What checks it most",
        "Picked",
        "Chill here",
        "Chill needed",
    )
    head = tag("tr", *[tag("th", n, scope="col") for n in names])
    return scroll_table(
        tag("table", tag("thead", head), tag("tbody", *rows), class_="crops"), f"{site}: table of perennials"
    )
