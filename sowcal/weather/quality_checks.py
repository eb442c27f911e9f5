"""Checks of a daily series, each a function of arrays that marks what looks wrong; none changes a value.

The thresholds are common practice without a source unless one is named: they were set so that records that
are sound raise next to no alarm (the test measures it) while the slips that people make are seen.
"""

from __future__ import annotations

import numpy as np

from sowcal.weather.generator import yearly_curve

__all__ = [
    "local_outliers",
    "rain_outliers",
    "repeated_days",
    "rounded_years",
    "runs_of",
    "shifts",
    "spikes",
    "stuck_days",
    "usual_values",
    "wrong_unit_months",
]

_CLIMATE_YEARS = 3  # without so many years the record cannot tell what is usual in a month
# Durre et al. (2010), J. Appl. Meteor. Climatol. 49, 1615-1633 (from memory): six robust standard deviations
# for temperature, nine times the 95th percentile of wet days for rain.
_OUTLIER, _RAIN_OUTLIER = 6.0, 9.0
_SPIKE = 9.0  # times the usual size of a day that stands out from both its neighbours
_LEAST_SPIKE = 10.0  # K
_REPEAT = 7  # days in a row, minimum and maximum, that stand elsewhere in the record too
_SHIFT_WINDOW, _LEAST_SHIFT_WINDOW = 60, 24  # months before and after
_SHIFT_ERRORS, _LEAST_SHIFT = 5.0, 1.0  # standard errors; K
_ROUNDED_SHARE, _LEAST_IN_YEAR = 0.9, 100
_HOTTEST_YEAR = 35.0  # degC; no place has so warm a yearly mean (Dallol, 34.4: from memory)


def runs_of(mark: np.ndarray) -> list[tuple[int, int]]:
    """First and last place of each run of True, shape (n,)."""
    edge = np.diff(np.concatenate(([False], mark, [False])).astype(np.int8))
    return list(zip(np.flatnonzero(edge == 1).tolist(), (np.flatnonzero(edge == -1) - 1).tolist(), strict=True))


def _month(days: np.ndarray) -> np.ndarray:
    return days.astype("datetime64[M]").astype(int) % 12


def _month_number(days: np.ndarray) -> np.ndarray:
    number = days.astype("datetime64[M]").astype(int)
    return number - number[0]


def usual_values(values: np.ndarray, days: np.ndarray) -> np.ndarray | None:
    """The usual value of each day, from the medians of the twelve months; None for a short record."""
    month = _month(days)
    known = np.isfinite(values)
    count = np.bincount(month[known], minlength=12)
    if (count < _CLIMATE_YEARS * 20).any():
        return None
    medians = [np.median(values[known & (month == m)]) for m in range(12)]
    year = days.astype("datetime64[Y]").astype("datetime64[D]")
    return yearly_curve(medians)[np.minimum((days - year).astype(int), 364)]


def _sided_scale(departure: np.ndarray, month: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Robust spread below and above the usual value by month, each shape (12,)."""
    low, high = np.full(12, np.nan), np.full(12, np.nan)
    for m in range(12):
        these = departure[(month == m) & np.isfinite(departure)]
        for out, part in ((low, -these[these <= 0]), (high, these[these >= 0])):
            out[m] = 1.4826 * np.median(part) if part.size else np.nan
    return np.maximum(low, 1.0), np.maximum(high, 1.0)


def local_outliers(values: np.ndarray, days: np.ndarray) -> np.ndarray:
    """Days further from what is usual at this place in this month than six robust spreads, shape (n,)."""
    usual = usual_values(values, days)
    if usual is None:
        return np.zeros(values.size, dtype=bool)
    month = _month(days)
    departure = values - usual
    low, high = _sided_scale(departure, month)
    with np.errstate(invalid="ignore"):
        return (departure > _OUTLIER * high[month]) | (-departure > _OUTLIER * low[month])


def rain_outliers(values: np.ndarray) -> np.ndarray:
    """Days with more than nine times the 95th percentile of wet days (1 mm or more), shape (n,)."""
    wet = values[np.isfinite(values) & (values >= 1.0)]
    if wet.size < 50:
        return np.zeros(values.size, dtype=bool)
    with np.errstate(invalid="ignore"):
        return values > _RAIN_OUTLIER * np.percentile(wet, 95)


def spikes(values: np.ndarray, days: np.ndarray) -> np.ndarray:
    """Days that stand out from the day before and the day after by far more than is usual, shape (n,)."""
    mark = np.zeros(values.size, dtype=bool)
    if np.isfinite(values).sum() < 60:
        return mark
    before, after = values[1:-1] - values[:-2], values[1:-1] - values[2:]
    out = np.where(before * after > 0, np.minimum(np.abs(before), np.abs(after)), 0.0)
    out[~np.isfinite(before + after)] = np.nan
    month = _month(days[1:-1])
    for m in np.unique(month):
        these = (month == m) & (out > 0)
        size = 1.4826 * np.median(out[these]) if these.sum() >= 10 else np.nan
        if np.isfinite(size):
            with np.errstate(invalid="ignore"):
                mark[1:-1] |= (month == m) & (out > max(_SPIKE * size, _LEAST_SPIKE))
    return mark


def stuck_days(values: np.ndarray, days: np.ndarray, *, least: int = 5) -> np.ndarray:
    """Days in runs of one and the same value too long to be chance, shape (n,).

    The chance of equal neighbours is taken from the month in which they are most frequent; a run is too long
    where not one in a hundred records of this length would hold such a run by chance.
    """
    mark = np.zeros(values.size, dtype=bool)
    known = np.isfinite(values)
    if known.sum() < 30:
        return mark
    same = np.zeros(values.size, dtype=bool)
    same[1:] = values[1:] == values[:-1]
    month = _month(days)
    shares = [same[known & (month == m)].mean() for m in range(12) if (known & (month == m)).sum() >= 20]
    chance = min(max(max(shares, default=0.1), 0.02), 0.6)
    longest = max(least, int(np.ceil(1.0 + np.log(0.01 / known.sum()) / np.log(chance))))
    for first, last in runs_of(same):
        if last - first + 2 >= longest:
            mark[first - 1 : last + 1] = True
    return mark


def repeated_days(tasmin: np.ndarray, tasmax: np.ndarray) -> list[tuple[int, int, int]]:
    """Stretches of a week or longer that stand a second time in the record: (first, last, place of the original).

    A week in which a value never changes is stuck, not repeated.
    """
    if tasmin.size < 2 * _REPEAT:
        return []
    pairs = np.column_stack([tasmin, tasmax])
    weeks = np.lib.stride_tricks.sliding_window_view(pairs, _REPEAT, axis=0)  # shape (n - 6, 2, 7)
    usable = np.isfinite(weeks).all(axis=(1, 2)) & (np.ptp(weeks, axis=2) > 0).all(axis=1)
    where = np.flatnonzero(usable)
    seen: dict[bytes, int] = {}
    found: list[tuple[int, int, int]] = []
    for place in where:
        key = weeks[place].tobytes()
        original = seen.setdefault(key, int(place))
        if original == place:
            continue
        last = int(place) + _REPEAT - 1
        if found and found[-1][1] >= place - 1 and found[-1][2] - found[-1][0] == original - place:
            found[-1] = (found[-1][0], last, found[-1][2])
        else:
            found.append((int(place), last, original))
    return found


def _monthly_departures(values: np.ndarray, days: np.ndarray) -> np.ndarray:
    """Mean departure of each month of the record from its usual value, NaN with fewer than 20 days."""
    number = _month_number(days)
    known = np.isfinite(values)
    count = np.bincount(number[known], minlength=number[-1] + 1)
    total = np.bincount(number[known], values[known], minlength=number[-1] + 1)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(count >= 20, total / count, np.nan)
    calendar = (np.arange(mean.size) + _month(days[:1])[0]) % 12
    for m in range(12):
        these = calendar == m
        if np.isfinite(mean[these]).any():
            mean[these] -= np.nanmedian(mean[these])
    return mean


def shifts(values: np.ndarray, days: np.ndarray) -> list[tuple[int, float]]:
    """Steps in the mean, as when a station moves: (place of the first day after it, size in K).

    The mean departure of up to 60 months after a month is set against that of the months before it; a step is
    told where the difference is 1 K or more and five standard errors, the errors widened for the likeness of
    neighbouring months.
    """
    departure = _monthly_departures(values, days)
    number = _month_number(days)
    inner = departure - _rolling_mean(departure)
    known = np.isfinite(inner)
    if known.sum() < 2 * _LEAST_SHIFT_WINDOW:
        return []
    spread = np.std(inner[known])
    if spread == 0.0:  # the same value every day
        return []
    both = known[1:] & known[:-1]
    like = float(np.clip(np.corrcoef(inner[1:][both], inner[:-1][both])[0, 1], 0.0, 0.6)) if both.sum() > 10 else 0.0
    widen = (1.0 + like) / (1.0 - like)
    size, score = np.zeros(departure.size), np.zeros(departure.size)
    for k in range(_LEAST_SHIFT_WINDOW, departure.size - _LEAST_SHIFT_WINDOW + 1):
        before, after = departure[max(k - _SHIFT_WINDOW, 0) : k], departure[k : k + _SHIFT_WINDOW]
        n, m = np.isfinite(before).sum(), np.isfinite(after).sum()
        if min(n, m) < _LEAST_SHIFT_WINDOW:
            continue
        size[k] = np.nanmean(after) - np.nanmean(before)
        score[k] = abs(size[k]) / (spread * np.sqrt((1 / n + 1 / m) * widen))
    found = []
    wanted = (score >= _SHIFT_ERRORS) & (np.abs(size) >= _LEAST_SHIFT)
    while wanted.any():
        k = int(np.argmax(np.where(wanted, score, 0.0)))
        found.append((int(np.searchsorted(number, k)), float(size[k])))
        wanted[max(k - _SHIFT_WINDOW, 0) : k + _SHIFT_WINDOW] = False
    return sorted(found)


def _rolling_mean(values: np.ndarray, half: int = 12) -> np.ndarray:
    """Mean of two years around each month, so that steps and trends do not count as spread."""
    known = np.isfinite(values)
    kernel = np.ones(2 * half + 1)
    inside = slice(half, half + values.size)
    count = np.convolve(known, kernel)[inside]
    total = np.convolve(np.where(known, values, 0.0), kernel)[inside]
    with np.errstate(invalid="ignore", divide="ignore"):
        return total / count


def rounded_years(values: np.ndarray, days: np.ndarray) -> list[tuple[int, str]]:
    """Years whose readings are nearly all whole degrees (Celsius or Fahrenheit) or halves: (year, which)."""
    year = days.astype("datetime64[Y]").astype(int) + 1970
    found = []
    for y in np.unique(year):
        these = values[(year == y) & np.isfinite(values)]
        if these.size < _LEAST_IN_YEAR:
            continue
        for step, near, words in (
            (1.0, 0.01, "whole degC"),
            (0.5, 0.01, "half degC"),
            (5.0 / 9.0, 0.051, "whole degF"),  # 0 degC is one of them
        ):
            away = np.abs(these / step - np.round(these / step)) * step
            if (away <= near).mean() >= _ROUNDED_SHARE:
                found.append((int(y), words))
                break
    return found


def wrong_unit_months(values: np.ndarray, days: np.ndarray) -> np.ndarray:
    """Days of months that fit the rest of the record only if they are read as degF, shape (n,).

    Every day is marked where the mean of the whole record is above that of any place on earth.
    """
    mark = np.zeros(values.size, dtype=bool)
    known = np.isfinite(values)
    if known.sum() < 20:
        return mark
    if np.bincount(_month(days[known]), minlength=12).min() > 20 and np.median(values[known]) > _HOTTEST_YEAR + 8:
        return known
    usual = usual_values(values, days)
    if usual is None:
        return mark
    number = _month_number(days)
    spread = np.nanstd(_robust(values - usual))
    month, here = number[known], values[known]
    count = np.bincount(month, minlength=number[-1] + 1)
    as_is, as_fahrenheit = (
        np.bincount(month, departure, minlength=count.size) / np.maximum(count, 1)
        for departure in (here - usual[known], (here - 32.0) / 1.8 - usual[known])
    )
    wrong = (np.abs(as_is) > max(3.0 * spread, 10.0)) & (np.abs(as_fahrenheit) < 2.0 * spread) & (count >= 10)
    return wrong[number] & known


def _robust(departure: np.ndarray) -> np.ndarray:
    """Departures without the far ones, so that a slip does not widen the spread it is judged by."""
    size = 1.4826 * np.nanmedian(np.abs(departure))
    with np.errstate(invalid="ignore"):
        return np.where(np.abs(departure) <= 4.0 * size, departure, np.nan)
