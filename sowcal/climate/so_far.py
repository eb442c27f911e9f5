"""A growing year so far beside those before it: warmth, nights of frost and rain, each summed day by day.

Years are folded on 365 days from the beginning of the growing year; 29 February is counted into the 28th.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from sowcal.climate.degree_days import growing_degree_days
from sowcal.climate.growing_years import MOST_MISSING, calendar_day
from sowcal.climate.place_figures import DEGREE_DAY_BASE, DEGREE_DAY_TOP, FROST
from sowcal.weather.record import DailyRecord

__all__ = ["FEWEST_YEARS", "RunningSum", "SoFar", "growing_year", "so_far_of"]

FEWEST_YEARS = 5  # earlier years without which no comparison is told: common practice, no source
_YEAR = 365


@dataclass(frozen=True)
class RunningSum:
    """One quantity summed from the beginning of the growing year.

    Attributes
    ----------
    name, unit : str
    own : numpy.ndarray, shape (365,)
        This year's sum by the end of each day; NaN after the last known day.
    years : numpy.ndarray, shape (m, 365)
        The same of each earlier growing year that has it.
    filled : int
        Days of this year that are missing, for which the mean of the other years stands.
    """

    name: str
    unit: str
    own: np.ndarray
    years: np.ndarray
    filled: int

    @property
    def quantiles(self) -> np.ndarray:
        """10, 50 and 90 per cent of the earlier years by the plotting position i / (n + 1), shape (3, 365)."""
        return np.quantile(self.years, [0.1, 0.5, 0.9], axis=0, method="weibull")

    @property
    def day(self) -> int:
        """Last day on which this year's sum is known, from 0."""
        return int(np.flatnonzero(np.isfinite(self.own))[-1])

    @property
    def at_day(self) -> tuple[float, float, float, float]:
        """This year's sum on that day, and 10, 50 and 90 per cent of the years'."""
        low, middle, high = self.quantiles[:, self.day]
        return float(self.own[self.day]), float(low), float(middle), float(high)


@dataclass(frozen=True)
class SoFar:
    """A growing year so far.

    Attributes
    ----------
    first, last : datetime.date
        Its first day, and the last that is known.
    sums : tuple of RunningSum
        Of warmth, nights of frost and rain those that the record has.
    """

    first: dt.date
    last: dt.date
    sums: tuple[RunningSum, ...]

    @property
    def days_ahead(self) -> int | None:
        """Days by which the middle year reaches this year's warmth later (negative for earlier); None for never."""
        warmth = self.sums[0]
        middle, now = warmth.quantiles[1], warmth.own[warmth.day]
        if not 0.0 < now <= middle[-1]:
            return None
        return int(np.searchsorted(middle, now - 1e-9)) - warmth.day


def growing_year(year: int, latitude: float) -> tuple[dt.date, dt.date]:
    """First and last day of a growing year: the calendar's, in the south from July to June.

    Examples
    --------
    >>> [day.isoformat() for day in growing_year(2026, -31.9)]
    ['2026-07-01', '2027-06-30']
    """
    if latitude >= 0.0:
        return dt.date(year, 1, 1), dt.date(year, 12, 31)
    return dt.date(year, 7, 1), dt.date(year + 1, 6, 30)


def so_far_of(weather: DailyRecord, day: dt.date) -> SoFar | None:
    """The growing year that holds a day, as far as it is known, beside the earlier years of a record.

    Parameters
    ----------
    weather : DailyRecord
        Days after `day` are not looked at.
    day : datetime.date

    Returns
    -------
    SoFar or None
        None where no day of it is known, or fewer than five earlier years are.

    Examples
    --------
    >>> from sowcal.weather.open_site import open_weather
    >>> found = so_far_of(open_weather("sallowdene")[1], dt.date(2015, 5, 20))
    >>> found.first.isoformat(), found.last.isoformat(), [s.name for s in found.sums]
    ('2015-01-01', '2015-05-20', ['warmth', 'frost', 'rain'])
    """
    southern = not weather.latitude >= 0.0  # as `growing_year` has it
    year = day.year - (southern and day.month < 7)
    first = growing_year(year, weather.latitude)[0]
    known = weather.span(None, day.isoformat())
    if not known.size:
        return None
    number = known.time.astype("datetime64[Y]").astype(int) + 1970
    month = known.time.astype("datetime64[M]").astype(int) % 12 + 1
    label = number - (month < 7) if southern else number
    place = (calendar_day(known.time) - 1 - (181 if southern else 0)) % _YEAR
    sums = tuple(
        found
        for name, unit, daily in _daily(known)
        if (found := _running(name, unit, daily, label - year, place)) is not None
    )
    if not sums or sums[0].name != "warmth":
        return None
    mine = known.time[(label == year) & (place == sums[0].day)]
    return SoFar(first, mine[-1].astype(object), sums)


def _daily(weather: DailyRecord) -> Iterator[tuple[str, str, np.ndarray]]:
    low, high = weather["tasmin"], weather["tasmax"]
    warmth = growing_degree_days(low, high, base_temperature=DEGREE_DAY_BASE, upper_threshold=DEGREE_DAY_TOP)
    yield "warmth", "degC d", warmth
    yield "frost", "nights", np.where(np.isnan(low), np.nan, low < FROST)
    if "pr" in weather.values:
        yield "rain", "mm", weather["pr"]


def _running(name: str, unit: str, daily: np.ndarray, back: np.ndarray, place: np.ndarray) -> RunningSum | None:
    """Sums of the year 0 and of those before it; `back` is the year of each day, `place` its day."""
    years = -int(back.min()) + 1
    total, unknown = np.zeros((years, _YEAR)), np.ones((years, _YEAR), dtype=bool)
    at = (back - back.min(), place)
    ok = np.isfinite(daily)
    np.add.at(total, at, np.where(ok, daily, 0.0))
    unknown[at] = False
    unknown[at[0][~ok], at[1][~ok]] = True  # of 28 and 29 February both must be known
    own = ~unknown[-1] if back.max() == 0 else np.zeros(_YEAR, dtype=bool)
    whole = unknown[:-1].mean(axis=1) <= MOST_MISSING
    if not own.any() or whole.sum() < FEWEST_YEARS:
        return None
    usual = np.ma.masked_array(total[:-1][whole], unknown[:-1][whole]).mean(axis=0).filled(0.0)
    total = np.where(unknown, usual, total)
    last = int(np.flatnonzero(own)[-1])
    mine = np.cumsum(total[-1])
    mine[last + 1 :] = np.nan
    return RunningSum(name, unit, mine, np.cumsum(total[:-1][whole], axis=1), int(unknown[-1, : last + 1].sum()))
