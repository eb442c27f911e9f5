"""Sentences of the page: windows, and what stops a crop."""

from __future__ import annotations

from sowcal.counted import counted
from sowcal.outputs.days import day_text, span_text
from sowcal.outputs.evidence import per_cent
from sowcal.outputs.wording import three_words, years_in_ten
from sowcal.suitability.results import Outside, WayResult, Window

__all__ = [
    "JOBS",
    "lane_words",
    "outside_words",
    "when_words",
    "window_words",
]

JOBS = {"sown outdoors": "Sow outdoors", "set out": "Set out", "planted": "Plant"}
_LANES = {"under cover": "raise", "sown outdoors": "sow", "set out": "set out", "planted": "plant", "picked": "pick"}


def lane_words(kind: str) -> str:
    """The work that one line of a crop shows, in a word or two."""
    return _LANES.get(kind, kind)


def window_words(way: WayResult, window: Window, *, advised: bool) -> tuple[str, str]:
    """One window: the job and its dates; then its best day, its odds, what is raised first, what is picked."""
    job = JOBS.get(way.way, way.way.capitalize())
    out = f", best about {day_text(window.best)}." if advised else ": a gamble."
    low, high = window.interval
    out += (
        f" Works {years_in_ten(window.reliability)} ({counted(window.years_decided, 'year')} judged; "
        f"give or take, {per_cent(low)} to {per_cent(high)})."
    )
    if window.raise_under_cover:
        out += f" Sow under cover {span_text(*window.raise_under_cover)}."
    if (picking := window.first_picking) is not None:
        out += (
            f" From the best day, picking begins about {day_text(picking.p50)}, "
            f"{counted(picking.days_after_start, 'day')} on "
            f"({day_text(picking.p10)} to {day_text(picking.p90)} in 8 years of 10)"
        )
        out += "." if window.last_picking is None else f" and ends about {day_text(window.last_picking)}."
    out += f" Gives {per_cent(window.yield_fraction)} of a full crop on average."
    return f"{job} {span_text(window.start, window.end)}", out


def outside_words(outside: Outside) -> str:
    """Start days that do not serve, and why."""
    why = three_words(outside.hazard)
    return f"{span_text(outside.start, outside.end)}: {why}, {years_in_ten(outside.share_of_years)}"


def when_words(way: WayResult) -> str:
    """The advised start days of one way in a few words; '' where there are none."""
    if not way.windows:
        return ""
    return f"{JOBS.get(way.way, way.way).lower()} {', '.join(span_text(w.start, w.end) for w in way.windows)}"
