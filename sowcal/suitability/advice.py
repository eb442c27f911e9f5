"""The five dates of a season: best fortnight, earliest safe day, last chance, succession, and what is not worth it; and
what closes the rest of the year.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sowcal.seasons.season import HAZARDS
from sowcal.settings import Settings
from sowcal.suitability.results import Advice, FirstPicking, NotWorthIt, Outside
from sowcal.suitability.windows import ByDay, StartSeason, circular_mean, possible_mask, quantiles, runs, stretches
from sowcal.year import MONTH_STARTS, YEAR

__all__ = ["advice_of", "best_fortnights", "outside_runs", "planting_span", "succession_days"]

_FORTNIGHT = 14
_SAFE = 0.9  # odds of the earliest safe day; more where more is asked for: nine years in ten
_ALIKE = 0.01  # of a full crop: fortnights no further from the best are as good
_SEASONS_BEGIN = (59, 151, 243, 334)  # 1 March, June, September and December
_SHORTEST = 5  # days; what is not worth it for fewer days is not told


# Months in which stock is planted, as (month, day) spans for the north: common practice, no source.
_PLANTING = {
    "bare-root": ((11, 15), (2, 28)),
    "crown": ((11, 1), (3, 15)),
    "container": ((10, 1), (12, 31)),
    "runner": ((9, 1), (11, 15)),
    "cold-stored runner": ((6, 15), (8, 15)),
    "offset": ((9, 1), (11, 15)),
    "rhizome": ((11, 1), (3, 15)),
    "corm": ((8, 15), (10, 15)),
    "tuber": ((2, 1), (4, 15)),
    "seedling": ((9, 15), (11, 15)),
    "cutting": ((10, 1), (12, 31)),
    "pad": ((4, 15), (6, 30)),
    "seed": ((3, 1), (5, 15)),
}


def planting_span(stock: str, tender: bool, latitude: float) -> tuple[int, int]:
    """First and last day of the year on which the stock of a perennial is planted.

    Examples
    --------
    >>> planting_span("crown", False, 40.0), planting_span("container", True, 40.0)
    ((304, 73), (73, 150))
    """
    first, last = _PLANTING.get(stock, _PLANTING["container"])
    if stock == "container" and tender:
        first, last = (3, 15), (5, 31)  # tender evergreens after the last killing frost
    south = 182 if latitude < 0 else 0
    ends = [(MONTH_STARTS[month - 1] + day - 1 + south) % YEAR for month, day in (first, last)]
    return ends[0], ends[1]


def season_name(day: int, latitude: float) -> str:
    """The season of the year (three whole months each) in which a day of the year lies.

    Examples
    --------
    >>> season_name(100, 40.0), season_name(100, -30.0)
    ('spring', 'autumn')
    """
    northern = ("winter", "spring", "summer", "autumn")
    place = int(np.searchsorted(_SEASONS_BEGIN, day, side="right")) + (0 if latitude >= 0 else 2)
    return northern[place % 4]


def _picking(found: ByDay, day: int) -> FirstPicking | None:
    """When picking begins after a start on one day, over the years that succeed."""
    first = found.first[found.success[:, day] == 1, day]
    if not first.size:
        return None
    p10, p50, p90 = quantiles(first, (0.1, 0.5, 0.9))
    return FirstPicking(int(day + p10) % 365, int(day + p50) % 365, int(day + p90) % 365, round(p50))


def _best_fortnight(found: ByDay, season: StartSeason, advised: np.ndarray, latitude: float) -> tuple[int, int]:
    """Places in the season of the first and last day of the best fortnight, or of fewer days where it has no more.

    Where several are alike the first in spring, when days lengthen, and the last in autumn.
    """
    places = np.flatnonzero(advised)
    middle = int(season.days[places[places.size // 2]])
    falling = (middle - (172 if latitude >= 0 else 355)) % 365 < 183
    width = min(_FORTNIGHT, max(b - a for a, b in stretches(advised)))
    worth = season.worth * found.reliability[season.days]
    worth[np.isnan(worth)] = 0.0
    worth[~advised] = -1e3
    total = np.concatenate([[0.0], np.cumsum(worth)])
    mean = (total[width:] - total[:-width]) / width
    alike = np.flatnonzero(mean >= mean.max() - _ALIKE)
    first = int(alike[-1] if falling else alike[0])
    return first, first + width - 1


def succession_days(picked: np.ndarray, apart: int = _FORTNIGHT) -> list[int]:
    """Places of start days whose pickings come some days apart, from the first on.

    Parameters
    ----------
    picked : numpy.ndarray
        Day on which picking begins after each start day, in their order; NaN where it is not known.
    apart : int, optional
        Days between one picking and the next.

    Examples
    --------
    >>> succession_days(np.array([100.0, 102.0, 108.0, 115.0, 116.0, 130.0]))
    [0, 3, 5]
    """
    known = np.flatnonzero(np.isfinite(picked))
    if not known.size:
        return []
    # a later start is never ready before an earlier one of the list
    ready = np.maximum.accumulate(picked[known])
    out, place = [], 0
    while place < ready.size:
        out.append(int(known[place]))
        place = int(np.searchsorted(ready, ready[place] + apart))
    return out


def _not_worth_it(season: StartSeason, advised: np.ndarray) -> tuple[NotWorthIt, ...]:
    """Start days that are reliable and yet not advised, with the reason that holds for most of each run."""
    whys = ("too long in the bed", "no earlier harvest", "poorer crop", "too much water")
    shut = season.reliable & ~advised
    against = np.stack([~season.quick, ~season.gains, ~season.near, np.ones(shut.size, dtype=bool)])
    why = against.argmax(axis=0)
    told = [(a, b, name) for k, name in enumerate(whys) for a, b in stretches(shut & (why == k)) if b - a >= _SHORTEST]
    return tuple(NotWorthIt(int(season.days[a]), int(season.days[b - 1]), name) for a, b, name in sorted(told))


def _one(found: ByDay, season: StartSeason, advised: np.ndarray, settings: Settings, latitude: float) -> Advice:
    """The five dates of a season that has advised days."""
    days, odds = season.days, found.reliability[season.days]
    # days since the first of the season, so that nothing turns at New Year
    ready = np.arange(days.size) + found.duration[days]
    a, b = _best_fortnight(found, season, advised, latitude)
    centre = (a + b) // 2
    safe = np.flatnonzero(advised & (odds >= max(settings.reliability, _SAFE)))
    early = int(safe[0]) if safe.size else None
    works = np.flatnonzero(season.reliable & (found.mean_yield[days] >= settings.least_yield))
    late = int(works[-1]) if works.size else None
    gain = None if early is None or not np.isfinite(ready[centre] - ready[early]) else ready[centre] - ready[early]
    sown = np.flatnonzero(advised)
    return Advice(
        season=season_name(int(days[centre]), latitude),
        best_start=int(days[a]),
        best_end=int(days[b]),
        first_picking=_picking(found, int(days[centre])),
        earliest_safe=None if early is None else int(days[early]),
        gains_days=None if gain is None else round(float(gain)),
        last_chance=None if late is None else int(days[late]),
        last_yield=None if late is None else float(found.mean_yield[days[late]]),
        last_picked=None if late is None or not np.isfinite(ready[late]) else int(days[0] + ready[late]) % 365,
        succession=tuple(int(days[sown[k]]) for k in succession_days(ready[sown])),
        not_worth_it=_not_worth_it(season, advised),
    )


def advice_of(
    found: ByDay, seasons: Sequence[StartSeason], advised: np.ndarray, settings: Settings, latitude: float
) -> tuple[Advice, ...]:
    """The five dates of every season of the year that has advised days, in the order of the year.

    Parameters
    ----------
    found : ByDay
        One crop and way.
    seasons : sequence of StartSeason
    advised : numpy.ndarray of bool
        Advised start days as told, shape (365,).
    settings : Settings
    latitude : float
        Degrees, north positive.
    """
    told = [
        _one(found, season, advised[season.days], settings, latitude)
        for season in seasons
        if advised[season.days].any()
    ]
    return tuple(sorted(told, key=lambda a: a.best_start))


def best_fortnights(
    found: ByDay, seasons: Sequence[StartSeason], advised: np.ndarray, latitude: float
) -> tuple[tuple[int, int], ...]:
    """First and last days of the best fortnights alone, of the five dates that `advice_of` gives."""
    told = []
    for season in (s for s in seasons if advised[s.days].any()):
        a, b = _best_fortnight(found, season, advised[season.days], latitude)
        told.append((int(season.days[a]), int(season.days[b])))
    return tuple(sorted(told, key=lambda span: span[0]))


def outside_runs(found: ByDay, possible: np.ndarray | None = None) -> list[Outside]:
    """Start days that are not possible, by the hazard that most often stops them."""
    # a day without odds is not known to be closed, and one that no hazard takes a year from is closed by none
    shut = ~(possible_mask(found) if possible is None else possible)
    shut &= (found.decided > 0) & np.isfinite(found.reliability)
    around = np.nan_to_num(circular_mean(found.hazard_share, 15))
    worst = np.where(around.max(axis=0) > 0.0, around.argmax(axis=0), -1)
    out = []
    for k in range(len(HAZARDS)):
        for a, b in runs(shut & (worst == k)):
            days = (a + np.arange((b - a) % 365 + 1)) % 365
            out.append(Outside(int(a), int(b), HAZARDS[k], float(found.hazard_share[k, days].mean())))
    return sorted(out, key=lambda o: o.start)
