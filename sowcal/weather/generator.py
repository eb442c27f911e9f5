"""Daily weather made from monthly normals, seeded: years that a place could have, and no more.

Quantiles of the gamma distribution come from its series, so that no library of functions need be loaded: importing
`scipy.special` took a sixth of the time of a whole chart; its `gammaincinv` is the same function, and what this one is
tested against.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import gamma
from statistics import NormalDist
from typing import Any

import numpy as np

from sowcal.errors import InputError
from sowcal.languages import phrase
from sowcal.units import quantity
from sowcal.weather.record import GENERATED, POSSIBLE, DailyRecord, daily_record

__all__ = [
    "FALLS_SHORT",
    "gamma_quantile",
    "generate_daily",
    "yearly_curve",
]

_FAR = 40.0  # beyond it lies less than a double can tell from nothing, for shapes up to 1
_TERMS = 160  # of the series; enough for the last digit up to _FAR
_NODES = 400
_STEPS = 6


def gamma_quantile(shape: float, chance: np.ndarray) -> np.ndarray:
    """Value that a gamma variable of scale 1 stays below with a chance.

    Parameters
    ----------
    shape : float
        Of the distribution, above 0 and up to 1.
    chance : numpy.ndarray
        From 0 to less than 1, any shape.

    Returns
    -------
    numpy.ndarray
        Of the shape of `chance`.

    Notes
    -----
    P(a, x) = x^a e^-x (1 / G(a + 1) + x / G(a + 2) + ...), Abramowitz & Stegun 1964, 6.5.29 (from memory). Its slope
    falls with x for such shapes, so that Newton's steps from the left never pass the root; they begin at the nearest
    node below it, or higher where x^a / G(a + 1), which is never less than P, gives a better beginning.
    """
    node = np.linspace(0.0, np.sqrt(_FAR), _NODES) ** 2
    above = np.searchsorted(_share(shape, node[:-1]), chance, side="right")
    x = np.maximum(node[above - 1], (chance * gamma(shape + 1.0)) ** (1.0 / shape))
    for _ in range(_STEPS):
        density = np.maximum(x, 1e-300) ** (shape - 1.0) * np.exp(-x) / gamma(shape)
        # where almost all is below, the share's last digit would send a step far away
        x = np.clip(x + (chance - _share(shape, x)) / density, node[above - 1], node[above])
    return x


def _share(shape: float, x: np.ndarray) -> np.ndarray:
    """P(a, x), the chance of less than x."""
    term = np.full(np.shape(x), 1.0 / gamma(shape + 1.0))
    total = term.copy()
    for n in range(1, _TERMS):
        term = term * x / (shape + n)
        total += term
    return np.minimum(x**shape * np.exp(-x) * total, 1.0)


FALLS_SHORT = phrase(
    "the weather is generated from monthly normals: its years are too much alike (on 14 real records their means vary "
    "little more than half as much) and its hottest and coldest days of ten years are up to {most} off either way; "
    "odds of frost and heat from it are rough",
    most=quantity(5, "degC apart"),
)

# Lag-one and same-day matrices of the departures of Tmax and Tmin, Richardson (1981), Water Resources
# Research 17, 182-190, eq. 5, averages over the United States (Richardson & Wright 1984, WGEN); read in the
# source of GWGEN (ARVE Research). The third variable, radiation, is left out: its weight on tomorrow's
# temperatures is 0.05 at most.
_LAG = np.array([[0.567, 0.086], [0.253, 0.504]])
_SAME_DAY = np.array([[0.781, 0.0], [0.328, 0.637]])

# Chances of a wet day after a dry and after a wet one from the share of wet days: Geng, Penning de Vries &
# Supit (1986), Agricultural and Forest Meteorology 36, 363-376 (from memory; formulae read in the source of
# GWGEN).
_WET_AFTER_DRY, _WET_AFTER_WET = 0.75, 0.25

# Medians over eleven station records of Mediterranean type climate (Spain, Greece, California, southern
# Australia), worked out for this generator: shape of the gamma distribution of rain above the threshold of a
# wet day; how much warmer a wet day's Tmax and Tmin are than a dry day's (K); spread within a month (K).
_RAIN_SHAPE = 0.8
_WET_MINUS_DRY = (-2.7, 0.6)
_USUAL_SD = {"tasmax": 3.2, "tasmin": 2.8}

_WET_DAY = 1.0  # mm, the usual threshold of a wet day in tables of normals (WMO No. 1203, from memory)
# Tables round: rain on 0 whole days fell on less than half a day a month, the middle of which is one wet day in four
# years; half a day of 40 mm is the most that may hide so. 0 mm on some days is less than half a millimetre, at the
# threshold of a wet day on as many days. Common practice, no source.
_RARE = 0.25  # wet days a month
_MOST_ON_RARE_DAYS = 20.0  # mm a month
_HALF = 0.5  # mm, or days, that a table shows as 0
_SPIN_UP = 100  # days until the first day's state is forgotten
_NARROWEST = 0.5  # K between Tmin and Tmax
_MONTH_DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
_HARMONICS = 12


def generate_daily(
    normals: Mapping[str, Sequence[float]],
    *,
    years: int = 30,
    seed: int,
    latitude: float,
    longitude: float | None = None,
    elevation: float | None = None,
    first_year: int = 1991,
    title: str = "",
) -> DailyRecord:
    """Days of weather whose months agree with the normals.

    Rain: a two-state Markov chain of the first order, amounts above the threshold of a wet day gamma
    distributed. Temperature: the smoothest yearly curve with the monthly means asked for, a shift on wet and
    dry days that leaves the mean as it is, and departures from a bivariate autoregressive process (Richardson
    1981).

    Almanacs of dry summers print 2 mm of rain on 0 days, or 0 mm on 0.3 days, for wet days are those of 1 mm or more
    and both are rounded. The first falls on a rare wet day, one in four years (fewer where less than 0.25 mm a month
    falls, so that it has 1 mm), which brings as much as makes the monthly mean; the second on as many days as are
    told, of 1 mm each in the mean.

    Parameters
    ----------
    normals : mapping of str to sequence of 12 float
        `tasmin`, `tasmax` (degC), `pr` (mm a month), `wet_days` (days a month with 1 mm or more), and
        optionally `tasmin_sd`, `tasmax_sd` (standard deviation of the days within a month, K; 2.8 and 3.2
        unless told).
    years : int, default 30
    seed : int
        The same seed gives the same days on every machine: only the uniform stream of PCG64 is used.
    latitude, longitude, elevation : float
        Kept as coordinates.
    first_year : int, default 1991
    title : str

    Returns
    -------
    DailyRecord
        Every value of origin `GENERATED`, to 0.1 degC and 0.1 mm.

    Raises
    ------
    InputError
        For normals that are not twelve numbers or contradict each other.
    """
    months = _checked(normals)
    if years < 1:
        raise InputError(f"years is {years}; at least one year must be generated")
    days = np.arange(f"{first_year}-01-01", f"{first_year + years}-01-01", dtype="datetime64[D]")
    month = days.astype("datetime64[M]").astype(int) % 12
    uniform = np.random.Generator(np.random.PCG64(seed)).random((days.size + _SPIN_UP, 4)) + 2.0**-54
    share = months["wet_days"] / (_MONTH_DAYS + np.where(np.arange(12) == 1, 0.25, 0.0))
    wet = _wet_days(uniform[_SPIN_UP:, 0], share[month])
    rain = np.where(wet, _amounts(uniform[_SPIN_UP:, 1], months, month), 0.0)
    tasmin, tasmax = _temperatures(uniform[:, 2:], months, days, wet, share[month])
    for name, values in (("tasmin", tasmin), ("tasmax", tasmax), ("pr", rain)):
        least, most = POSSIBLE[name]
        if values.size and not (values.min() >= least and values.max() <= most):
            raise InputError(
                f"the normals would make days on which {name} lies outside {least:g} to {most:g}; check their unit"
            )
    return daily_record(
        days,
        {"tasmin": tasmin.round(1), "tasmax": tasmax.round(1), "pr": rain.round(1)},
        latitude=latitude,
        longitude=longitude,
        elevation=elevation,
        origin=GENERATED,
        title=title,
        source="generated from monthly normals, not observed",
        history=f"daily weather generated from monthly normals (Richardson 1981 type), seed {seed}",
    )


def _checked(normals: Mapping[str, Sequence[float]]) -> dict[str, np.ndarray]:
    out = {}
    for name in ("tasmin", "tasmax", "pr", "wet_days", "tasmin_sd", "tasmax_sd"):
        if name not in normals and name.endswith("_sd"):
            out[name] = np.full(12, _USUAL_SD[name[:-3]])
            continue
        values = np.asarray(normals.get(name, ()), dtype=float)
        if values.shape != (12,) or not np.isfinite(values).all():
            raise InputError(f"the normals of {name} must be twelve numbers, January first")
        out[name] = values
    _none(out["tasmax"] - out["tasmin"] < 1.0, "tasmax is not at least 1 degC above tasmin")
    _none(out["pr"] < 0.0, "pr is negative")
    _none(
        (out["wet_days"] < 0.0) | (out["wet_days"] > _MONTH_DAYS),
        "wet_days is not between 0 and the month's days",
    )
    _read_rounded(out)
    for name in ("tasmin_sd", "tasmax_sd"):
        _none((out[name] <= 0.0) | (out[name] > 20.0), f"{name} is not between 0 and 20 K")
    return out


def _read_rounded(out: dict[str, np.ndarray]) -> None:
    """Rain on 0 days, and days of 0 mm, as what tables round so; more of either is a contradiction."""
    rain, days = out["pr"], out["wet_days"]
    hidden, dust = (rain > 0.0) & (days == 0.0), (rain == 0.0) & (days > 0.0)
    _none(
        hidden & (rain > _MOST_ON_RARE_DAYS), f"there is rain of more than {_MOST_ON_RARE_DAYS:g} mm but wet_days is 0"
    )
    _none(dust & (days * _WET_DAY >= _HALF), f"there are wet days, {_HALF:g} or more, but pr is 0")
    out["wet_days"] = np.where(hidden, np.minimum(_RARE, rain / _WET_DAY), days)
    out["pr"] = np.where(dust, days * _WET_DAY, rain)


def _none(wrong: np.ndarray, what: str) -> None:
    if wrong.any():
        raise InputError(f"the normals contradict themselves in month {int(np.flatnonzero(wrong)[0]) + 1}: {what}")


def _wet_days(uniform: np.ndarray, share: np.ndarray) -> np.ndarray:
    """Wet or dry, shape (n,), without a loop.

    A draw below the smaller chance makes the day wet and one above the larger makes it dry whatever went
    before; between the two it is as the day before. So each day takes the state of the last day that was
    decided.
    """
    after_dry = _WET_AFTER_DRY * share
    after_wet = np.where(share > 0.0, _WET_AFTER_WET + after_dry, 0.0)
    decided = (uniform < after_dry) | (uniform >= after_wet)
    state = uniform < after_dry
    state[0] = uniform[0] < share[0]
    last = np.maximum.accumulate(np.where(decided, np.arange(uniform.size), 0))
    return state[last]


def _amounts(uniform: np.ndarray, months: Mapping[str, np.ndarray], month: np.ndarray) -> np.ndarray:
    """Rain of each day if it is wet, mm: threshold plus a gamma distributed excess with the month's mean."""
    mean = np.divide(months["pr"], months["wet_days"], out=np.zeros(12), where=months["wet_days"] > 0.0)
    # a table that counts drizzle as wet has a small mean; its threshold is lower than 1 mm
    threshold = np.minimum(_WET_DAY, 0.5 * mean)
    scale = (mean - threshold) / _RAIN_SHAPE
    return threshold[month] + scale[month] * gamma_quantile(_RAIN_SHAPE, uniform)


def _temperatures(
    uniform: np.ndarray,
    months: Mapping[str, np.ndarray],
    days: np.ndarray,
    wet: np.ndarray,
    share: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Tmin and Tmax, degC, shape (n,) each."""
    position = _day_of_365(days)
    out = []
    for departure, difference, name in zip(_departures(uniform), _WET_MINUS_DRY, ("tasmax", "tasmin"), strict=True):
        sd = np.maximum(yearly_curve(months[f"{name}_sd"]), 0.3)[position]
        # shift and departures together have the spread asked for; half of it at least stays with the
        # departures
        within = np.sqrt(np.maximum(sd**2 - share * (1.0 - share) * difference**2, 0.25 * sd**2))
        shift = difference * np.where(wet, 1.0 - share, -share)
        out.append(yearly_curve(months[name])[position] + shift + within * departure[_SPIN_UP:])
    tasmax, tasmin = out
    middle, half = 0.5 * (tasmax + tasmin), np.maximum(0.5 * (tasmax - tasmin), 0.5 * _NARROWEST)
    return middle - half, middle + half


def _departures(uniform: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Departures of Tmax and Tmin with unit variance, shape (n,) each, from uniform draws, shape (n, 2).

    x(t) = A x(t-1) + B e(t) (Richardson 1981, eq. 5). A plain loop over plain numbers takes a few milliseconds;
    importing a filter library for it, or one of functions for the quantiles, would take a hundred times as long.
    """
    quantile = NormalDist().inv_cdf
    normal = np.array([quantile(chance) for chance in uniform.ravel().tolist()]).reshape(uniform.shape)
    (a, b), (c, d) = _LAG.tolist()
    x, y = 0.0, 0.0
    out = []
    for push_x, push_y in (normal @ _SAME_DAY.T).tolist():
        x, y = a * x + b * y + push_x, c * x + d * y + push_y
        out.append((x, y))
    first, second = np.array(out).T
    # stationary covariance S = A S A' + B B'
    noise = (_SAME_DAY @ _SAME_DAY.T).ravel()
    variance = np.linalg.solve(np.eye(4) - np.kron(_LAG, _LAG), noise)[[0, 3]]
    return first / np.sqrt(variance[0]), second / np.sqrt(variance[1])


def _day_of_365(days: np.ndarray) -> np.ndarray:
    """Place in a 365-day year, from 0; 29 February counts as 28."""
    year = days.astype("datetime64[Y]")
    day = (days - year.astype("datetime64[D]")).astype(int)
    number = year.astype(int) + 1970
    leap = (number % 4 == 0) & ((number % 100 != 0) | (number % 400 == 0))
    return day - (leap & (day >= 59))


def yearly_curve(monthly_means: Any) -> np.ndarray:
    """The smoothest yearly curve whose monthly means are exactly those given.

    Of all sums of twelve harmonics with these means, the one whose second derivative is least in mean square.

    Parameters
    ----------
    monthly_means : sequence of 12 float

    Returns
    -------
    numpy.ndarray, shape (365,)
        In the unit of the means, 1 January first.
    """
    angle = 2.0 * np.pi * (np.arange(365) + 0.5) / 365.0
    order = np.repeat(np.arange(1, _HARMONICS + 1), 2)
    waves = np.stack([(np.cos if i % 2 == 0 else np.sin)(k * angle) for i, k in enumerate(order)], axis=1)
    basis = np.column_stack([np.ones(365), waves])
    first = np.concatenate(([0], np.cumsum(_MONTH_DAYS)[:-1]))
    means = np.add.reduceat(basis, first, axis=0) / _MONTH_DAYS[:, None]
    size = basis.shape[1]
    system: Any = np.zeros((size + 12, size + 12))
    system[:size, :size] = np.diag(np.concatenate(([0.0], order.astype(float) ** 4)))
    system[:size, size:], system[size:, :size] = means.T, means
    right = np.concatenate((np.zeros(size), np.asarray(monthly_means, dtype=float)))
    return basis @ np.linalg.solve(system, right)[:size]
