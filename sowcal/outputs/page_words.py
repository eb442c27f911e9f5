"""Sentences of the page: windows, what stops a crop, and what a perennial's years say."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sowcal.outputs.days import day_of_year, day_text, span_text
from sowcal.outputs.wording import in_ten, three_words
from sowcal.suitability.results import CropVerdict, Outside, WayResult, Window

__all__ = [
    "JOBS",
    "lane_words",
    "outside_words",
    "perennial_words",
    "picked_words",
    "plain_limit",
    "when_words",
    "window_words",
]

JOBS = {"sown outdoors": "Sow outdoors", "set out": "Set out", "planted": "Plant"}
_LANES = {"under cover": "raise", "sown outdoors": "sow", "set out": "set out", "planted": "plant", "picked": "pick"}


def lane_words(kind: str) -> str:
    """The work that one line of a crop shows, in a word or two."""
    return _LANES.get(kind, kind)


def _per_cent(share: float) -> str:
    return f"{min(max(share, 0.0), 1.0):.0%}"


def window_words(way: WayResult, window: Window, *, advised: bool) -> tuple[str, str]:
    """One window: the job and its dates; then its best day, its odds, what is raised first, what is picked."""
    job = JOBS.get(way.way, way.way.capitalize())
    out = f", best about {day_text(window.best)}." if advised else ": a gamble."
    low, high = window.interval
    out += (
        f" Works in {in_ten(window.reliability)} years ({window.years_decided} years judged; 95 per cent interval "
        f"{_per_cent(low)} to {_per_cent(high)})."
    )
    if window.raise_under_cover:
        out += f" Sow under cover {span_text(*window.raise_under_cover)}."
    if (picking := window.first_picking) is not None:
        out += (
            f" From the best day, picking begins about {day_text(picking.p50)}, {picking.days_after_start} days on "
            f"({day_text(picking.p10)} to {day_text(picking.p90)} in 8 years of 10)"
        )
        out += "." if window.last_picking is None else f" and ends about {day_text(window.last_picking)}."
    out += f" Gives {_per_cent(window.yield_fraction)} of a full crop on average."
    return f"{job} {span_text(window.start, window.end)}", out


def outside_words(outside: Outside) -> str:
    """Start days that do not serve, and why."""
    often = f"{in_ten(outside.share_of_years)} years" if outside.share_of_years >= 0.1 else "fewer than 1 year in 10"
    return f"{span_text(outside.start, outside.end)}: {three_words(outside.hazard)}, {often}"


def when_words(way: WayResult) -> str:
    """The advised start days of one way in a few words; '' where there are none."""
    if not way.windows:
        return ""
    return f"{JOBS.get(way.way, way.way).lower()} {', '.join(span_text(w.start, w.end) for w in way.windows)}"


def plain_limit(verdict: CropVerdict) -> str:
    """The limiting factor in three words; of a perennial, which it may check without killing, by its name."""
    if "years_lived" in verdict.evidence and verdict.limiting_factor:
        return verdict.limiting_factor
    return three_words(verdict.limiting_factor) if verdict.limiting_factor else "none found"


def picked_words(evidence: Mapping[str, Any]) -> str:
    """When a perennial is picked in the middle year, in words; '' where that is not known."""
    first, to, last = str(evidence.get("picked_in_the_middle_year", "")).partition(" to ")
    if not to:
        return ""
    if first == last:  # picking that ends on the day it began has gone round the year
        return "all year"
    return f"{day_text(day_of_year(first))} to {day_text(day_of_year(last))}"


def _chill(chill: Mapping[str, Any]) -> str:
    low, middle, high = chill["had_in_10_50_90_per_cent_of_years"]
    least, most = chill["needs"]
    unit = chill["model"] if "portion" in chill["model"] or "unit" in chill["model"] else f"{chill['model']} °C"
    return f"winter chill here {middle} ({low} to {high} in 8 years of 10), needed {least:g} to {most:g} ({unit})"


def perennial_words(evidence: Mapping[str, Any]) -> list[str]:
    """What the years of the record say of a perennial, a sentence each."""
    out = []
    decided = evidence.get("years_decided")
    if "years_lived" in evidence:
        out.append(f"Lives through {evidence['years_lived']} of {decided} years, crops in {evidence['years_cropped']}")
    if (runs := evidence.get("runs_of_5_years_survived")) is not None:
        often = runs if isinstance(runs, str) else f"in {in_ten(float(runs))}"
        out.append(f"Survives five years in a row {often}")
    if (share := evidence.get("share_of_a_full_crop")) is not None:
        out.append(f"Gives {_per_cent(float(share))} of a full crop on average")
    if "picked_in_the_middle_year" in evidence:
        out.append(f"Picked {picked_words(evidence)} in the middle year")
    if isinstance(chill := evidence.get("chill"), Mapping):
        words = _chill(chill)
        out.append(words[0].upper() + words[1:])
    spoiled = [(k, v) for k, v in evidence.items() if k.startswith("years_of_")]
    out += [f"{three_words(k[len('years_of_') :].replace('_', ' ')).capitalize()} in {v} years" for k, v in spoiled]
    if (basis := evidence.get("deciding_limit_rests_on")) is not None:
        out.append(f"The limit that decides rests on: {basis}")
    if "unknown" in evidence:
        out.append(f"Not known: {', '.join(map(str, evidence['unknown']))}")
    return out
