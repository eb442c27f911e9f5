"""What would change if: crops that a change lifts or lowers, one fold a change."""

from __future__ import annotations

from collections.abc import Sequence

from sowcal.counted import counted
from sowcal.outputs.page_chart import verdict_chip
from sowcal.outputs.page_html import Html, join, tag
from sowcal.outputs.page_tables import scroll_table
from sowcal.suitability.rating import GRADES
from sowcal.suitability.results import CropVerdict

__all__ = ["what_if_section"]

Change = tuple[str, Sequence[CropVerdict]]


def _fold(words: str, now: dict[str, CropVerdict], then: Sequence[CropVerdict]) -> Html:
    """One change: crops whose word becomes another, the lifted ones first."""
    pairs = [(now[v.crop], v) for v in then if v.crop in now and now[v.crop].word != v.word]
    lifted = [p for p in pairs if GRADES.get(p[1].word, 9) < GRADES.get(p[0].word, 9)]
    lowered = [p for p in pairs if p not in lifted]
    said = f"With {words}: better for {counted(len(lifted), 'crop')}, worse for {len(lowered)}"
    if not pairs:
        return tag("p", f"With {words}: no crop's verdict changes.")
    rows = [
        tag("tr", tag("th", b.crop, scope="row"), tag("td", verdict_chip(a)), tag("td", verdict_chip(b)))
        for a, b in (*sorted(lifted, key=lambda p: p[0].crop), *sorted(lowered, key=lambda p: p[0].crop))
    ]
    head = tag("tr", *[tag("th", n, scope="col") for n in ("Crop", "Now", f"With {words}")])
    table = tag("table", tag("thead", head), tag("tbody", *rows), class_="beside")
    return tag("details", tag("summary", said), scroll_table(table, f"with {words}", hint=False), class_="fold")


def what_if_section(verdicts: Sequence[CropVerdict], changes: Sequence[Change]) -> Html | None:
    """Changes tried beside the place as it is; None where none was tried.

    Parameters
    ----------
    verdicts : sequence of CropVerdict
        Of the place as it is.
    changes : sequence of (words, verdicts)
        Each change in words, and the verdicts under it.
    """
    if not changes:
        return None
    now = {v.crop: v for v in verdicts}
    return join(*[_fold(words, now, then) for words, then in changes])
