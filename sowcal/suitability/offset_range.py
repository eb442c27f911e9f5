"""How far windows and verdicts range within the error of the plot's own thermometer.

The chart is asked three times: at the offset, and at the cold and the warm end of its 95 per cent interval.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sowcal.suitability.results import CropSeasons, CropVerdict, OffsetRange, WayResult, Window

__all__ = ["lines_with_range", "verdict_with_range"]

_SAME_SEASON = 45  # days between the best starts of two windows that are one season of the year


def _apart(a: int, b: int) -> int:
    return abs((b - a + 182) % 365 - 182)


def _same_window(window: Window, others: Sequence[Window]) -> Window | None:
    """The window of another chart that stands for the same season of the year."""
    near = [w for w in others if _apart(window.best, w.best) <= _SAME_SEASON or _holds(w, window.best)]
    return min(near, key=lambda w: _apart(window.best, w.best), default=None)


def _holds(window: Window, day: int) -> bool:
    return (day - window.start) % 365 <= (window.end - window.start) % 365


def _at(way: WayResult, same: Window | None, day: int) -> float:
    """Reliability of one start day; that of its season where the way has none by day."""
    if way.reliability is not None:
        return float(way.reliability[day])
    return same.reliability if same else 0.0


def _with_range(window: Window, which: str, ends: tuple[WayResult, WayResult]) -> Window:
    same = [_same_window(window, getattr(way, which)) for way in ends]
    shares = [window.reliability, *(_at(way, s, window.best) for way, s in zip(ends, same, strict=True))]
    known = [s for s in shares if np.isfinite(s)]
    spans = [None if s is None else (s.start, s.end) for s in same]
    return replace(window, offset_range=OffsetRange((min(known), max(known)), spans[0], spans[1]))


def lines_with_range(
    lines: Sequence[CropSeasons], cold: Sequence[CropSeasons], warm: Sequence[CropSeasons]
) -> tuple[CropSeasons, ...]:
    """The lines of a chart, each window with what becomes of it at the cold and at the warm end.

    Parameters
    ----------
    lines, cold, warm : sequence of CropSeasons
        Of the same crops in the same order.
    """
    out = []
    for line, *others in zip(lines, cold, warm, strict=True):
        starts = []
        for way in line.starts:
            a, b = (next((s for s in o.starts if s.way == way.way), None) for o in others)
            if a is None or b is None:
                starts.append(way)
                continue
            both = (a, b)
            starts.append(
                replace(
                    way,
                    windows=tuple(_with_range(w, "windows", both) for w in way.windows),
                    possible=tuple(_with_range(w, "possible", both) for w in way.possible),
                )
            )
        out.append(replace(line, starts=tuple(starts)))
    return tuple(out)


def verdict_with_range(verdict: CropVerdict, cold: CropVerdict, warm: CropVerdict, line: CropSeasons) -> CropVerdict:
    """The verdict with what it would be at either end; the window that it rests on is taken from the line."""
    evidence = dict(verdict.evidence)
    window = evidence.get("window")
    ranged = [
        w
        for s in line.starts
        if s.way == evidence.get("way")
        for w in (*s.windows, *s.possible)
        if replace(w, offset_range=None) == window
    ]
    if ranged:
        evidence["window"] = ranged[0]
    evidence["if_the_plot_is_colder_within_the_error"] = cold.word
    evidence["if_it_is_warmer_within_the_error"] = warm.word
    shares = [v.reliability for v in (verdict, cold, warm) if v.reliability is not None]
    if shares and not ranged:
        evidence["share_of_years_within_the_error"] = (min(shares), max(shares))
    return replace(verdict, evidence=evidence)
