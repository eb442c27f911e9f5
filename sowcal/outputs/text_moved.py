"""Windows that move between two places, or between some years of a record and all of them, as text."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from sowcal.outputs.days import span_text
from sowcal.outputs.screen import plain, table, wrap
from sowcal.outputs.wording import record_text
from sowcal.suitability.results import AgainstWhole

__all__ = ["LONGEST", "against_whole_lines", "moved_rows", "widest_first"]

LONGEST = 20  # moved windows shown; the rest are counted
_WEEK = 7
_CHANCE = "Windows of fewer years move by chance too; `sowcal weather trend` says whether the climate itself has moved."


def _whole(value: object) -> int:
    return int(value) if isinstance(value, (int, float)) else 0


def _move(entry: Mapping[str, Any]) -> int:
    """Days by which the edge that moves most has moved."""
    return max(abs(_whole(entry["opens_later_days"])), abs(_whole(entry["closes_later_days"])))


def widest_first(entries: Iterable[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Those that move most first."""
    return sorted(entries, key=lambda e: -_move(e))


def _moved_days(days: object) -> str:
    """Days later with a plus, earlier with a minus."""
    return f"{_whole(days):+d} d" if _whole(days) else "same"


def moved_rows(entries: Iterable[Mapping[str, Any]], one: str, two: str, columns: int = 5) -> list[list[str]]:
    """A head and a row for each window: crop and way, both spans, and how far it opens and closes later."""
    rows = [["crop and way", one, two, "opens", "closes"]]
    for entry in entries:
        starts, ends = entry["from"], entry["to"]
        rows.append(
            [
                f"{entry['crop']}, {entry['way']}",
                span_text(starts[0], ends[0]),
                span_text(starts[1], ends[1]),
                _moved_days(entry["opens_later_days"]),
                _moved_days(entry["closes_later_days"]),
            ]
        )
    return [row[:columns] for row in rows]


def against_whole_lines(found: AgainstWhole, few: bool, width: int, unicode: bool) -> list[str]:
    """How the windows of the years asked for move against the whole record: of many crops, by a week or more."""

    def say(text: str, **more: str) -> list[str]:
        return wrap(plain(text, unicode=unicode), width, **more)

    out = say(f"AGAINST THE WHOLE RECORD ({record_text(found.record)}): + later, - earlier")
    entries = [e for e in widest_first(found.moved) if few or _move(e) >= _WEEK]
    if entries:
        rows = moved_rows(entries[:LONGEST], "whole record", "these years")
        out += table([[plain(c, unicode=unicode) for c in row] for row in rows], width, right=(3, 4))
    if len(entries) > LONGEST:
        out.append(f"and {len(entries) - LONGEST} more")
    if still := len(found.moved) - len(entries):
        out += say(f"{still} {'window moves' if still == 1 else 'windows move'} by less than a week.")
    for words, crops in (("dates in these years only", found.gained), ("dates in the whole record only", found.lost)):
        if crops:
            out += say(f"{words}: {', '.join(crops)}", later="  ")
    return [*out, *say(_CHANCE)]
