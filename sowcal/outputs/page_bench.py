"""What the served page has beside the page of one file: another place, changes to try, the log, a garden begun.

Forms send what they hold to the address in `data-send`; what comes back is a sentence, and parts of the page anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sowcal.languages import counted
from sowcal.outputs.document import (
    Caution,
    Document,
    Html,
    join,
    page_cell,
    page_parts,
    tag,
)
from sowcal.outputs.verdict_document import verdict_cell
from sowcal.season_log import EVENTS, Entry, SeasonLog
from sowcal.suitability.results import CropVerdict, SowingChart
from sowcal.year import date_text, span_text

__all__ = [
    "Bench",
    "beside_stopped",
    "beside_tools",
    "garden_tools",
    "log_section",
    "place_forms",
    "stopped_page",
    "tried_list",
    "waiting_page",
    "what_if_section",
]

_CHANGES = (  # what a grower tries first, in words for buttons
    ("mulch", "Straw mulch"),
    ("shade-cloth", "Shade cloth"),
    ("fleece", "Fleece"),
    ("tunnel", "Tunnel"),
    ("warm-wall", "Warm wall"),
    ("frost-hollow", "Frost hollow"),
    ("warmer=2", "A climate 2 °C warmer"),
)
_WEEK = 7  # days
_LAST_LINES = 12  # of the log; all of them stand in its file


@dataclass(frozen=True, slots=True)
class Bench:
    """Parts that only the served page has: above the places, after the year, in the garden, and the log."""

    top: Html
    what_if: Html
    garden: Html
    log: Html
    beside: Html | None = None  # another place side by side with this one
    done: Sequence[Sequence[str]] = ()  # what the log has of the last days: crop, name of the job, the whole line


def _field(label: str, name: str, kind: str = "text", *, hint: str = "", **more: object) -> Html:
    made = tag("input", type=kind, name=name, placeholder=hint or None, autocomplete="off", **more)
    return tag("label", label, made)


def _choice(label: str, name: str, options: Iterable[tuple[str, str]], chosen: str = "") -> Html:
    listed = [tag("option", words, value=value, selected=value == chosen) for value, words in options]
    return tag("label", label, tag("select", *listed, name=name))


def _form(send: str, button: str, *fields: Html | None, name: str | None = None) -> Html:
    told = tag("output", aria_live="polite", class_="came")
    return tag("form", *fields, tag("button", button, type="submit"), told, data_send=send, id=name, class_="send")


def _described() -> Html:
    """Describe a place by the questions of a first site file."""
    twelve = "twelve numbers, January first"
    normals = [
        _field("Mean daily minimum of each month, °C", "tasmin", hint="2 2 4 6 10 14 17 17 14 10 5 2"),
        _field("Mean daily maximum of each month, °C", "tasmax", hint="13 15 18 20 25 31 35 35 30 23 17 13"),
        _field("Rain of each month, mm", "pr", hint="72 62 54 44 30 10 2 4 26 62 78 76"),
        _field("Days with 1 mm of rain or more", "wet_days", hint="9 8 8 7 5 2 0.5 0.7 3 7 9 10"),
    ]
    record = [
        _field("Days with date, minimum, maximum, perhaps rain", "record", "file"),
        _choice("Its temperatures are in", "unit", [("degC", "°C"), ("degF", "°F"), ("K", "K")]),
    ]
    return _form(
        "place/describe",
        "Write the place down and take it",
        tag("p", "One of your own: where it is", class_="sub"),
        _field("What is it called?", "name", required=True, hint="Upper terrace", maxlength=100),
        _field("Latitude, longitude; south and west with a minus", "degrees", required=True, hint="38.4, -8.1"),
        _field("Height above the sea, m", "height", "number", required=True, hint="85", step="any"),
        tag("p", "Its temperatures: a record of yours", class_="sub"),
        *record,
        tag("p", f"or an almanac's normals, {twelve}", class_="sub"),
        *normals,
        tag("p", "With neither, the nearest station with a long record is fetched, once.", class_="small"),
    )


def place_forms(places: Sequence[tuple[str, str]], here: str, beside: str | None = None) -> Html:
    """Choose a place, describe one by the questions of a first site file, or bring its record.

    Parameters
    ----------
    places : sequence of (word, name)
        The bundled plots and the site files of the folder.
    here : str
        The word of the place as it stands; '' where there is none.
    beside : str, optional
        The word of the place that is held beside it.
    """
    chosen = _form(
        "place/choose",
        "Take this place",
        tag("p", "One that is here", class_="sub"),
        _choice("Place", "place", places, here),
    )
    others = [(word, name) for word, name in places if word != here]
    second = _form(
        "place/beside",
        "Hold it beside this place",
        tag("p", "Two side by side, by your crops", class_="sub"),
        _choice("The second place", "place", others, beside or ""),
    )
    end = tag("button", "End sowcal", type="button", data_end=True, class_="ends")
    return tag(
        "div",
        tag(
            "details",
            tag("summary", "Another place, or one of your own"),
            chosen,
            second if here and others else None,
            _described(),
            class_="fold",
            id="bench-place",
        ),
        end,
        tag("output", aria_live="polite", class_="came", id="bench-said"),
        class_="bench",
    )


def beside_tools() -> Html:
    """What ends the holding of a second place beside the first."""
    return tag("p", tag("button", "Leave the second place away", type="button", data_alone=True), class_="moved-crops")


def beside_stopped(said: str) -> Html:
    """The section of two places where one of them gives no answer."""
    told = tag("p", f"{said[:1].upper()}{said[1:]}.", role="alert", class_="lead")
    return tag("section", tag("h2", "Side by side"), told, beside_tools(), id="compare", aria_label="Side by side")


def what_if_section() -> Html:
    """Changes to try, as buttons that may be pressed together, and room for what they would do."""
    buttons = [tag("button", words, type="button", data_change=word, aria_pressed="false") for word, words in _CHANGES]
    return join(
        tag("h3", "What if", id="p1-what-if"),
        tag("p", "Press one change or several: the answer stands beside the one of now, for your crops."),
        tag("div", *buttons, class_="changes"),
        tag("div", class_="tried", aria_live="polite", id="tried"),
    )


def _dates(chart: SowingChart, crop: str) -> str:
    line = next((c for c in chart.crops if c.crop == crop), None)
    starts = [s for s in line.starts if s.windows] if line else []
    said = [f"{s.way} {', '.join(span_text(w.start, w.end) for w in s.windows)}" for s in starts]
    return "; ".join(said) or "none advised"


def _windows(chart: SowingChart, crop: str) -> list[tuple[str, int, int]]:
    line = next((c for c in chart.crops if c.crop == crop), None)
    return [(s.way, w.start, w.end) for s in line.starts for w in s.windows] if line else []


def _alike(one: list[tuple[str, int, int]], other: list[tuple[str, int, int]]) -> bool:
    """Whether two lists of windows part by less than a week at every edge."""

    def near(a: int, b: int) -> bool:
        return min((a - b) % 365, (b - a) % 365) < _WEEK

    return [w[0] for w in one] == [w[0] for w in other] and all(
        near(a[1], b[1]) and near(a[2], b[2]) for a, b in zip(one, other, strict=True)
    )


def tried_list(
    says: str,
    now: tuple[SowingChart, Sequence[CropVerdict]],
    then: tuple[SowingChart, Sequence[CropVerdict]],
) -> Html:
    """Verdict and dates of each crop now, and beside them under a change; those that stay as they are by name.

    Dates that shift by less than a week are within what edges of windows are known to, and count as they are.
    """
    by_crop = {v.crop: v for v in then[1]}
    rows, same = [], []
    for verdict in sorted(now[1], key=lambda v: v.crop):
        crop, other = verdict.crop, by_crop[verdict.crop]
        dates = _dates(now[0], crop), _dates(then[0], crop)
        if other.word == verdict.word and _alike(_windows(now[0], crop), _windows(then[0], crop)):
            same.append(crop)
            continue
        two = zip(("now", "then"), (verdict, other), dates, strict=True)
        cells = [tag("span", tag("i", f"{w}: "), page_cell(verdict_cell(v)), " ", said) for w, v, said in two]
        rows.append(tag("li", tag("b", crop), *cells))
    by_less = "" if not same else f"As now, or moved by less than a week: {', '.join(same)}."
    return join(
        tag("p", f"With {says}: {counted(len(rows), 'crop')} of {len(rows) + len(same)} would not be as now."),
        tag("ul", *rows, class_="tries") if rows else None,
        tag("p", by_less, class_="small") if same else None,
    )


def _line_told(entry: Entry) -> str:
    """A line of the log to read: its numbers with what they count."""
    plants = "" if entry.plants is None else counted(entry.plants, "plant")
    unit = "litres" if entry.event in ("watered", "tank") else "kg"
    amount = "" if entry.amount is None else f"{entry.amount:.10g} {unit}"
    cells = (date_text(entry.date), entry.event, entry.crop, entry.sort, entry.bed, plants, amount, entry.note)
    return ", ".join(filter(None, cells))


def log_section(log: SeasonLog, crops: Iterable[str], today: str, season: Document | None, note: str = "") -> Html:
    """A form for what was done, the last lines of the log, and how what is sown stands."""
    entries = log.entries
    form = _form(
        "log",
        "Write it down",
        _choice("What was done or seen", "event", [(e, e) for e in EVENTS], "sown outdoors"),
        tag("label", "Crop", tag("input", name="crop", list="all-crops", autocomplete="off")),
        _field("Day", "date", "date", value=today, max=today, required=True),
        _field("Bed", "bed"),
        _field("Plants", "plants", "number", min="0", step="1"),
        _field("Amount: kilograms picked, litres given or in the tank", "amount", "number", min="0", step="any"),
        _field("Sort, as on the packet", "sort"),
        _field("Note", "note"),
    )
    lines = [tag("li", _line_told(e)) for e in entries[: -_LAST_LINES - 1 : -1]]
    back = tag("button", "Take the last line back", type="button", data_undo=True) if lines else None
    return tag(
        "section",
        tag("h2", "Log and season"),
        form,
        tag("datalist", *[tag("option", value=crop) for crop in crops], id="all-crops"),
        tag("p", "Last lines of the log, the one written last first:" if lines else "Nothing is written down yet."),
        tag("ul", *lines, class_="lines") if lines else None,
        tag("p", back) if back else None,
        tag("p", f"Kept in {log.path}", class_="small"),
        page_parts(tuple(Caution(f"line {p.line}: {p.text}", word="Mind") for p in log.problems)),
        tag("p", note) if note else None,
        page_parts(season.parts, "season") if season else None,
        id="log",
        aria_label="Log and season",
    )


def garden_tools(*, begun: bool, moved: Sequence[str]) -> Html:
    """Where there is no garden, a form that begins one; else the crops whose start days are one's own."""
    if begun:
        buttons = [tag("button", f"{crop}: the advised dates again", type="button", data_free=crop) for crop in moved]
        return tag("p", *buttons, class_="moved-crops") if buttons else Html("")
    return tag(
        "section",
        tag("h2", "Garden"),
        tag("p", "Begin one: what suits is suggested, and may be changed in its file."),
        _form(
            "garden/begin",
            "Plan this garden",
            _field("What is it called?", "name", required=True, maxlength=100, hint="Kitchen garden"),
            _field("People who eat from it", "people", "number", required=True, value="2", min="0.5", step="0.5"),
            _field("Beds", "beds", "number", required=True, value="4", min="1", max="100", step="1"),
            _field("Length of each, m", "length", "number", required=True, value="5", min="0.3", step="0.1"),
            _field("Width of each, m", "width", "number", required=True, value="1.2", min="0.3", step="0.1"),
            _field("Tanks, litres each", "tanks", hint="1000 1000"),
        ),
        id="garden",
        aria_label="Garden",
    )


def _bare_page(*inner: Html | None, again: bool) -> str:
    head = tag(
        "head",
        tag("meta", charset="utf-8"),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", name="color-scheme", content="light dark"),
        tag("meta", http_equiv="refresh", content="1") if again else None,
        tag("title", "sowcal"),
        tag("link", rel="stylesheet", href="/page.css"),
    )
    script = None if again else tag("script", src="/served.js")
    body = tag("body", tag("main", tag("h1", "sowcal"), *inner), script)
    return f"<!doctype html>\n{tag('html', head, body, lang='en-GB', class_='scripted')}\n"


def waiting_page(said: str) -> str:
    """What is shown while the first answer is worked out; it asks again by itself."""
    return _bare_page(tag("p", said, role="status", class_="lead"), again=True)


def stopped_page(said: str, forms: Html) -> str:
    """What is shown where the place gives no answer: why, and how to take another."""
    how = "Take another place here, or mend this one and load the page anew."
    told = tag("p", f"{said[:1].upper()}{said[1:]}.", role="alert", class_="lead refused")
    return _bare_page(told, tag("p", how), forms, again=False)
