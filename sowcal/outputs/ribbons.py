"""The chart's lines cut into cells of the year (weeks, or thirds of a month), for text and pictures."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from sowcal.outputs.days import MONTH_LENGTHS, MONTH_STARTS, YEAR, month_of, span_days
from sowcal.suitability.results import CropSeasons, SowingChart, WayResult, Window

__all__ = ["Cells", "CropRibbons", "Ribbon", "apart", "crop_ribbons", "first_job", "month_parts", "weeks"]


_UNSEEN = 0.1  # share of years below which a ribbon is not drawn


@dataclass(frozen=True)
class Cells:
    """Runs of days that part the year in the order in which it is drawn.

    Attributes
    ----------
    days : tuple of numpy.ndarray
        Days of the year in each cell.
    months : tuple of int
        Month (0 to 11) to which each cell belongs.
    start_month : int
        Month, 1 to 12, with which the year begins.
    """

    days: tuple[np.ndarray, ...]
    months: tuple[int, ...]
    start_month: int

    def month_order(self) -> list[int]:
        """Months (0 to 11) in the order in which they are drawn."""
        return [(self.start_month - 1 + k) % 12 for k in range(12)]

    @cached_property
    def _order(self) -> np.ndarray:
        """Days of all cells one after another."""
        return np.concatenate(self.days)

    @cached_property
    def _first(self) -> np.ndarray:
        """Where each cell begins in that order."""
        return np.cumsum([0, *(cell.size for cell in self.days[:-1])])

    @cached_property
    def _alike(self) -> list[tuple[np.ndarray, np.ndarray]]:
        """Cells of one length together: their numbers, and their days as a table."""
        sizes = np.array([cell.size for cell in self.days])
        groups = [np.flatnonzero(sizes == size) for size in sorted(set(sizes.tolist()))]
        return [(group, np.stack([self.days[k] for k in group])) for group in groups]

    def mean(self, daily: np.ndarray) -> np.ndarray:
        """Mean of each cell, of the days that are known; NaN where none is."""
        out = np.full(len(self.days), np.nan)
        if np.isfinite(daily).all():
            for group, days in self._alike:
                out[group] = daily[days].mean(axis=1)
            return out
        for k, days in enumerate(self.days):
            known = daily[days][np.isfinite(daily[days])]
            if known.size:
                out[k] = known.mean()
        return out

    def greatest(self, daily: np.ndarray) -> np.ndarray:
        """Greatest value of each cell."""
        return np.maximum.reduceat(daily[self._order], self._first)

    def holding(self, days: set[int], certain: set[int]) -> np.ndarray:
        """Cells of which half or more of the days are among `days`, or that hold one that must show."""
        there, must = np.zeros((2, YEAR), dtype=int)
        there[list(days)] = 1
        must[list(certain)] = 1
        among = np.add.reduceat(there[self._order], self._first)
        return (2 * among >= [cell.size for cell in self.days]) | (np.add.reduceat(must[self._order], self._first) > 0)


def weeks(start_month: int = 1) -> Cells:
    """52 weeks from the first of a month; the last one has 8 days."""
    first = MONTH_STARTS[start_month - 1]
    edges = [7 * k for k in range(52)] + [YEAR]
    days = tuple((first + np.arange(a, b)) % YEAR for a, b in pairwise(edges))
    return Cells(days, tuple(month_of(int(cell[3])) for cell in days), start_month)


def month_parts(parts: int, start_month: int = 1) -> Cells:
    """Each month in so many nearly equal parts."""
    days, months = [], []
    for k in range(12):
        m = (start_month - 1 + k) % 12
        for piece in np.array_split(np.arange(MONTH_LENGTHS[m]), parts):
            days.append(MONTH_STARTS[m] + piece)
            months.append(m)
    return Cells(tuple(days), tuple(months), start_month)


@dataclass(frozen=True)
class Ribbon:
    """One line of a crop over the cells of the year.

    Attributes
    ----------
    kind : str
        'under cover', a way of starting, or 'picked'.
    strength : numpy.ndarray
        Share of years, 0 to 1, NaN where not known.
    recommended : numpy.ndarray of bool
        Cells that are advised; for 'under cover' those in which seed is sown; all True for 'picked'.
    """

    kind: str
    strength: np.ndarray
    recommended: np.ndarray

    def parts(self) -> tuple[np.ndarray, np.ndarray]:
        """Strength of the cells that are advised, and of the others; what is too little to see is nothing."""
        strength = np.nan_to_num(self.strength)
        strength = np.where(strength < _UNSEEN, 0.0, np.minimum(strength, 1.0))
        return np.where(self.recommended, strength, 0.0), np.where(self.recommended, 0.0, strength)


@dataclass(frozen=True)
class CropRibbons:
    """All lines of one crop."""

    crop: str
    family: str
    ribbons: tuple[Ribbon, ...]
    first_job: int  # days from the start of the drawn year to the first thing to do


def _window_days(windows: tuple[Window, ...]) -> set[int]:
    return {d for w in windows for d in span_days(w.start, w.end)}


def _daily(way: WayResult) -> np.ndarray:
    """Reliability by start day; from the windows where the days themselves are not given."""
    if way.reliability is not None:
        return np.asarray(way.reliability, dtype=float)
    daily = np.zeros(YEAR)
    for w in (*way.possible, *way.windows):
        daily[span_days(w.start, w.end)] = w.reliability
    return daily


def _way_ribbon(way: WayResult, cells: Cells) -> Ribbon:
    possible = _window_days(way.possible) | _window_days(way.windows)
    best = {w.best for w in way.windows}
    shown = cells.holding(possible, best | {w.best for w in way.possible})
    strength = np.where(shown, cells.mean(_daily(way)), 0.0)
    return Ribbon(way.way, strength, cells.holding(_window_days(way.windows), best) & shown)


def _cover_ribbon(way: WayResult, cells: Cells) -> Ribbon | None:
    """Sowing under cover for the recommended windows, and the weeks the seedlings then stand there."""
    sowing: set[int] = set()
    daily = np.zeros(YEAR)
    for w in way.windows:
        if w.raise_under_cover is None:
            continue
        days = span_days(*w.raise_under_cover)
        sowing.update(days)
        standing = span_days(w.raise_under_cover[0], w.end)
        daily[standing] = np.maximum(daily[standing], w.reliability)
    if not sowing:
        return None
    if way.raising is not None:
        daily = np.maximum(np.asarray(way.raising, dtype=float), np.where(daily > 0, 0.1, 0.0))
        for w in way.windows:
            if w.raise_under_cover is not None:
                daily[span_days(*w.raise_under_cover)] = w.reliability
    certain = {w.raise_under_cover[0] for w in way.windows if w.raise_under_cover is not None}
    advised = cells.holding(sowing, certain)
    return Ribbon("under cover", np.where(advised, cells.greatest(daily), cells.mean(daily)), advised)


def _picking_ribbon(starts: tuple[WayResult, ...], cells: Cells) -> Ribbon | None:
    known = [np.asarray(s.picking, dtype=float) for s in starts if s.picking is not None and s.windows]
    if not known:
        return None
    strength = np.fmax.reduce([cells.mean(p) for p in known])
    return Ribbon("picked", strength, np.ones(len(cells.days), dtype=bool))


def crop_ribbons(line: CropSeasons, cells: Cells, *, gambles: bool = False) -> CropRibbons | None:
    """The lines of one crop in the order of the work; None where it has no window.

    Parameters
    ----------
    line : CropSeasons
    cells : Cells
    gambles : bool
        Whether ways with nothing but possible start days are shown too.
    """
    ribbons: list[Ribbon] = []
    for way in line.starts:
        if not way.windows and not (gambles and way.possible):
            continue
        cover = _cover_ribbon(way, cells)
        ribbons += [r for r in (cover, _way_ribbon(way, cells)) if r is not None]
    if not ribbons:
        return None
    picked = _picking_ribbon(line.starts, cells)
    ribbons += [picked] if picked is not None else []
    return CropRibbons(line.crop, line.family, tuple(ribbons), first_job(line, cells.start_month))


def first_job(line: CropSeasons, start_month: int) -> int:
    """Days from the start of the drawn year to a crop's first sowing, setting out or planting."""
    origin = MONTH_STARTS[start_month - 1]
    jobs = [
        w.raise_under_cover[0] if w.raise_under_cover else w.start
        for way in line.starts
        for w in (way.windows or way.possible)
    ]
    return min(((day - origin) % YEAR for day in jobs), default=YEAR)


def apart(chart: SowingChart) -> tuple[list[CropSeasons], list[CropSeasons]]:
    """Crops with nothing but possible start days, and crops with none at all."""
    plain = [c for c in chart.crops if not any(s.windows for s in c.starts)]
    gambles = [c for c in plain if any(s.possible for s in c.starts)]
    return gambles, [c for c in plain if not any(s.possible for s in c.starts)]
