"""Are the odds that a chart tells borne out by years it has not seen? The engine judges itself: consistency, no proof.

The years of a record are cut into five blocks of consecutive years. For each block the chart is made anew from the
record without it, and every day that it advises is held against the seasons of the block: a start succeeds when the
season of a drawn sort, in drawn hands, leaves half a crop. A sort's demand is drawn evenly between the least and the
greatest thermal time that the handbook gives for its type, once for each crop, way and block (seed `SEED`); what
seedling and hand make of each year's season from the spread of yields that the odds themselves take to be true.
Without that draw (`hands` False) the told odds must look too low, for they allow for what is not drawn. The Brier score
is the mean square of odds less outcome (0 or 1), beside that of telling the base rate (the share that succeeded in
the blocks themselves, the hardest null) for every start. Intervals draw the years again, with all their starts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sowcal.crops.handbook import handbook
from sowcal.crops.tables import Way, known
from sowcal.seasons.season import missing_values, seasons
from sowcal.settings import Settings
from sowcal.site_weather import days_as_felt

__all__ = ["BINS", "Tally", "blocks_of", "judge_odds", "told_and_come"]

SEED, BLOCKS, DRAWS = 7, 5, 500
BINS = (0.0, 0.5, 0.8, 0.9, 0.95, 0.99, 1.0001)


@dataclass
class Tally:
    """Sums by year of the judged starts: count, told odds, successes, square errors; the last axis is the bin."""

    count: np.ndarray  # (years, bins)
    told: np.ndarray
    came: np.ndarray
    square: np.ndarray

    def brier(self, rows: np.ndarray | slice = slice(None)) -> tuple[float, float]:
        """Brier score of the told odds, and of the base rate, over some years."""
        n, came = self.count[rows].sum(), self.came[rows].sum()
        rate = came / n
        return float(self.square[rows].sum() / n), float(rate * (1.0 - rate))

    def bins(self) -> list[tuple[float, float, int, float, float]]:
        """For each bin that is not empty its mean odds, the share that came, starts, and the 90 per cent interval."""
        rng = np.random.default_rng(SEED)
        years = len(self.count)
        drawn = rng.integers(0, years, (DRAWS, years))
        out = []
        for k in range(self.count.shape[1]):
            n = self.count[:, k].sum()
            if n:
                many = self.count[drawn, k].sum(axis=1)
                with np.errstate(invalid="ignore", divide="ignore"):
                    shares = self.came[drawn, k].sum(axis=1) / many
                low, high = np.nanquantile(shares, (0.05, 0.95))
                out.append((float(self.told[:, k].sum() / n), float(self.came[:, k].sum() / n), int(n), low, high))
        return out

    def gain(self) -> tuple[float, float, float]:
        """Brier score of the base rate less that of the told odds, with its 90 per cent interval."""
        rng = np.random.default_rng(SEED)
        years = len(self.count)
        drawn = [self.brier(rng.integers(0, years, years)) for _ in range(DRAWS)]
        low, high = np.quantile([null - ours for ours, null in drawn], (0.05, 0.95))
        ours, null = self.brier()
        return null - ours, float(low), float(high)


def told_and_come(told: np.ndarray, came: np.ndarray) -> Tally:
    """Tally of odds told and outcomes by year.

    Parameters
    ----------
    told : numpy.ndarray
        Odds of each start, shape (starts,).
    came : numpy.ndarray
        1, 0 or NaN (undecided) by year, shape (years, starts).
    """
    edges = np.searchsorted(BINS, told, side="right") - 1
    known_ones = np.isfinite(came)
    shape = (came.shape[0], len(BINS) - 1)
    tally = Tally(np.zeros(shape), np.zeros(shape), np.zeros(shape), np.zeros(shape))
    for k in range(shape[1]):
        mine = edges == k
        ok = known_ones[:, mine]
        success = np.where(ok, came[:, mine], 0.0)
        tally.count[:, k] = ok.sum(axis=1)
        tally.told[:, k] = (ok * told[mine]).sum(axis=1)
        tally.came[:, k] = success.sum(axis=1)
        tally.square[:, k] = (ok * (told[mine] - success) ** 2).sum(axis=1)
    return tally


def together(tallies: list[Tally], rows: bool) -> Tally:
    """Tallies of the same years added up, or (`rows`) of different years set below one another."""
    parts = [[getattr(t, name) for t in tallies] for name in ("count", "told", "came", "square")]
    return Tally(*(np.concatenate(p) if rows else np.sum(p, axis=0) for p in parts))


def blocks_of(years: np.ndarray, blocks: int = BLOCKS) -> list[np.ndarray]:
    """Consecutive years in blocks as even as can be."""
    return np.array_split(np.asarray(years), blocks)


def drawn_sort(way: Way, rng: np.random.Generator) -> Way:
    """The same way with the thermal time of one sort, drawn evenly from the type's range."""
    share = float(rng.random())  # drawn even where it is not used, so that one crop's row moves no other's draw
    low, high = way.thermal_time_low, way.thermal_time_high
    if not known(low) or not known(high):
        return way
    need = low + share * (high - low)
    return replace(way, thermal_time_low=need, thermal_time_high=need)


def drawn_hands(years: int, rng: np.random.Generator) -> np.ndarray:
    """Yield of one plot against the middle one in each year, shape (years, 1), by the odds' own spread of yields."""
    share = rng.random((years, 1))
    return (share / (1.0 - share)) ** (1.0 / 6.0)  # the curve of `odds_of_yield`, turned round


def _outcomes(days, crop, way: Way, years: np.ndarray, least: float, hands: np.ndarray) -> np.ndarray:
    """Whether each start of some years succeeds, shape (years, 365), NaN where undecided."""
    share = np.full((years.size, 365), np.nan)
    mine = np.isin(days.year, years) & ~days.leap_day
    share[days.year[mine] - years[0], days.day_of_year[mine]] = seasons(days, crop, way).yield_fraction[mine]
    came = (share * hands >= least) & (share >= 0.5 * least)  # no plot brings twice what the middle one does
    return np.where(np.isnan(share), np.nan, came)


def without_years(record, years: np.ndarray):
    """A record with some of its years unknown."""
    gone = np.isin(record.time.astype("datetime64[Y]").astype(int) + 1970, years)
    return record.with_values({name: np.where(gone, np.nan, array) for name, array in record.values.items()})


def judge_odds(record, chart_of: Callable, days_in: Callable, hands: bool = True) -> dict[str, Tally]:
    """All blocks of one station's record, for the advised start days ('windows') and for all that work ('possible').

    Parameters
    ----------
    record : DailyRecord
    chart_of : callable
        From a record to the chart's JSON.
    days_in : callable
        From a list of windows to the days of the year that lie in one.
    hands : bool
        Whether seedling and hand are drawn as well as the sort.
    """
    time = record.time.astype("datetime64[Y]").astype(int) + 1970
    days = days_as_felt(record, Settings())
    least = Settings().least_yield
    rng = np.random.default_rng(SEED)
    book = dict(handbook().items())
    blocks: dict[str, list[Tally]] = {"windows": [], "possible": []}
    for years in blocks_of(np.unique(time)):
        block: dict[str, list[Tally]] = {kind: [] for kind in blocks}
        for line in chart_of(without_years(record, years))["crops"]:
            crop = book[line["crop"]]
            if crop.perennial is not None:
                continue
            ways = {w.way: w for w in crop.ways}
            for start in line["starts"]:
                way = drawn_sort(ways[start["way"]], rng)
                if not start["possible"] or missing_values(crop, way):
                    continue
                drawn = drawn_hands(years.size, rng)
                came = _outcomes(days, crop, way, years, least, drawn if hands else np.ones_like(drawn))
                for kind in blocks:
                    if at := sorted(days_in(start[kind])):
                        told = np.array([start["daily"][d] for d in at], dtype=float)
                        block[kind].append(told_and_come(told, came[:, at]))
        for kind in blocks:
            blocks[kind].append(together(block[kind], rows=False))
    return {kind: together(found, rows=True) for kind, found in blocks.items()}
