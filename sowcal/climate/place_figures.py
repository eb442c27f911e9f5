"""What each figure of a place counts: thresholds, and the words for them that every output takes from here.

The thresholds are those that `climate_summary` reckons with, so that words and figures cannot part.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from sowcal.climate.chill import HOURS_SEASON, PORTIONS_SEASON
from sowcal.climate.frost import FrostYear
from sowcal.climate.growing_years import MOST_MISSING, Span
from sowcal.climate.rain import OPENING_AFTER, OPENING_AMOUNT, OPENING_DAYS, OPENING_WORDS, OpeningRains
from sowcal.provenance import MadeBy
from sowcal.weather.findings import Finding
from sowcal.weather.years import Trend

__all__ = [
    "ABOVE",
    "DEGREE_DAY_BASE",
    "DEGREE_DAY_TOP",
    "EVAPOTRANSPIRATION",
    "FROST",
    "HOT",
    "LEAST_YEARS",
    "STRICT",
    "VERY_HOT",
    "WARM_NIGHT",
    "ClimateSummary",
    "Definition",
    "Odds",
    "chill_definitions",
    "definitions",
    "of_year",
    "plain_name",
]

FROST = 0.0  # degC, a minimum below it: the freezing point
DEGREE_DAY_BASE, DEGREE_DAY_TOP = 10.0, 30.0  # degC, of warm crops at large: common practice, no source
HOT, VERY_HOT = 30.0, 35.0  # degC, maxima above: the AHS heat zones count above 86 degF; 35 is common practice
WARM_NIGHT = 20.0  # degC, minima above: 'tropical nights', common practice, no source
EVAPOTRANSPIRATION = "Hargreaves-Samani (FAO-56 eq. 52)"
LEAST_YEARS = 3  # fewer carry no odds at all: common practice, no source

STRICT = "Above and below: strictly."

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_LONG = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
]
_LAST_DAY = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


ABOVE = {  # short names of the counts by month, as tables head them
    "hot_days_30": f"days above {HOT:g} degC",
    "hot_days_35": f"days above {VERY_HOT:g} degC",
    "warm_nights_20": f"nights above {WARM_NIGHT:g} degC",
}

_NAMES = {
    "tasmin": "mean minimum",
    "tasmax": "mean maximum",
    "pr": "rain",
    "chill_portions": "winter chill, portions",
    "chill_hours": "winter chill, hours",
    "chill_units": "winter chill, units",
    **ABOVE,
}


@dataclass(frozen=True, slots=True)
class Definition:
    """What a figure counts.

    Attributes
    ----------
    short : str
        A few words to stand at the figure.
    sentence : str
        All that is needed to reckon it again from the days of the record.
    """

    short: str
    sentence: str


def _later(when: tuple[int, int], southern: bool) -> tuple[int, int]:
    """A day written for the north; six months later in the south."""
    month, day = when
    return ((month - 1 + 6 * southern) % 12 + 1, day)


def _long(when: tuple[int, int]) -> str:
    return f"{when[1]} {_LONG[when[0] - 1]}"


def _span(span: Span, southern: bool) -> tuple[str, str]:
    """A season of the year in short and in full, its last day counted in."""
    (month, day), (after, _) = (_later(edge, southern) for edge in span)
    last = (after - 2) % 12
    end = "end of Feb" if last == 1 else f"{_LAST_DAY[last]} {_MONTHS[last]}"
    to = "the end of February" if last == 1 else f"{_LAST_DAY[last]} {_LONG[last]}"
    return f"{day} {_MONTHS[month - 1]} to {end}", f"{day} {_LONG[month - 1]} to {to}"


def chill_definitions(latitude: float | None = None) -> dict[str, Definition]:
    """Winter chill by the names of the models; the seasons are those of the hemisphere (north where not known).

    Examples
    --------
    >>> chill_definitions(-35.0)["portions"].short
    'dynamic model, 1 Mar to 30 Sep'
    """
    southern = (latitude or 0.0) < 0.0
    hours, of_hours = _span(HOURS_SEASON, southern)
    portions, of_portions = _span(PORTIONS_SEASON, southern)
    base = (
        "hours measured where the record has them, else rebuilt from daily minimum and maximum (Linvill 1990); mean "
        "over the seasons"
    )

    def of(words: str, what: str, short: str, season: str) -> Definition:
        return Definition(f"{words}, {short}", f"{what} from {season}; {base}.")

    utah = "Utah chill units (Richardson, Seeley & Walker 1974: an hour counts from -1 to 1, warm hours take away)"
    return {
        "hours below 7.2": of("strictly below 7.2 degC", "Hours strictly below 7.2 degC", hours, of_hours),
        "hours 0 to 7.2": of("0 to 7.2 degC", "Hours from 0 to 7.2 degC, both ends counted,", hours, of_hours),
        "Utah units": of("Utah", utah, hours, of_hours),
        "portions": of(
            "dynamic model",
            "Chill portions of the dynamic model (Fishman, Erez & Couvillon 1987), which starts empty each season,",
            portions,
            of_portions,
        ),
    }


def _frost(first: str, middle: str, southern: bool) -> dict[str, Definition]:
    """Of frost: a day with a minimum below the threshold."""
    below = f"a minimum strictly below {FROST:g} degC"
    ends = ("30 June", "31 December") if not southern else ("31 December", "30 June")
    odds = "by order statistics at rank / (n + 1), cut to whole days, a year without frost lying"
    return {
        "last_spring_frost": Definition(
            f"minimum below {FROST:g} degC",
            f"Last day with {below} from {first} to {ends[0]}; p10, p50 and p90 are the dates by which it has passed "
            f"in 10, 50 and 90 per cent of years, {odds} before all dates.",
        ),
        "first_autumn_frost": Definition(
            f"minimum below {FROST:g} degC",
            f"First day with {below} from {middle} to {ends[1]}; p10, p50 and p90 are the dates by which it has come "
            f"in 10, 50 and 90 per cent of years, {odds} after them.",
        ),
        "frost_free_days": Definition(
            "days between them",
            f"Days after the last and before the first day with {below} on either side of {middle}, neither counted, "
            "the whole growing year where there is none; p10, p50 and p90 over the years by linear interpolation, "
            "rounded.",
        ),
        "years_without_frost": Definition(
            f"no minimum below {FROST:g} degC", f"Share of growing years in which no day has {below}."
        ),
        "frost_days": Definition(
            f"minimum below {FROST:g} degC", f"Days of a growing year with {below}, mean over the years."
        ),
        "frost_by_year": Definition(
            f"minimum below {FROST:g} degC",
            f"Of each growing year the last day with {below} before {middle} and the first from then on; null is none.",
        ),
    }


def _months() -> dict[str, Definition]:
    """Of the calendar months."""

    def above(value: float, which: str, what: str) -> Definition:
        return Definition(
            f"{which} above {value:g} degC",
            f"{what} of the month with a {which} strictly above {value:g} degC, mean over the years.",
        )

    return {
        "tasmin": Definition("mean of daily minima", "Mean of the month's daily minima, mean over the years, degC."),
        "tasmax": Definition("mean of daily maxima", "Mean of the month's daily maxima, mean over the years, degC."),
        "pr": Definition("monthly totals", "Sum of the month's daily rain, mean over the years, mm."),
        "reference_evapotranspiration": Definition(
            EVAPOTRANSPIRATION,
            f"Sum of the month's daily evapotranspiration of short, watered grass by {EVAPOTRANSPIRATION} from "
            "minimum, maximum and latitude, mean over the years, mm.",
        ),
        "hot_days_30": above(HOT, "maximum", "Days"),
        "hot_days_35": above(VERY_HOT, "maximum", "Days"),
        "warm_nights_20": above(WARM_NIGHT, "minimum", "Nights"),
    }


def _light_and_zones(middle: str) -> dict[str, Definition]:
    light = "sunrise to sunset of the sun's centre, air bending no light (FAO-56 eq. 24, 25 and 34)"
    return {
        "hardiness_zone": Definition(
            "USDA, mean yearly minimum",
            f"USDA half zone (5 degF each, 1a from -60 degF) of the mean of the lowest minima of the years that begin "
            f"on {middle}; ten years at least.",
        ),
        "heat_zone": Definition(
            f"AHS, days above {HOT:g} degC",
            f"AHS heat zone (1 is less than 1 day, 12 more than 210) of the mean number of days of a growing year with "
            f"a maximum strictly above {HOT:g} degC.",
        ),
        "shortest_day": Definition("sunrise to sunset", f"Hours of the year's shortest day, {light}."),
        "longest_day": Definition("sunrise to sunset", f"Hours of the year's longest day, {light}."),
    }


def definitions(latitude: float | None = None) -> dict[str, Definition]:
    """By the names of the figures of a `ClimateSummary`.

    Parameters
    ----------
    latitude : float, optional
        Degrees north; its sign decides the dates told, those of the north where it is left out.

    Returns
    -------
    dict of str to Definition
        Beside the figures also `growing_year` and `left_out`, which hold for all of them.

    Examples
    --------
    >>> definitions(38.0)["frost_days"].sentence
    'Days of a growing year with a minimum strictly below 0 degC, mean over the years.'
    """
    southern = (latitude or 0.0) < 0.0
    first, middle = (_long(_later((month, 1), southern)) for month in (1, 7))
    chill = chill_definitions(latitude)
    after = _long(_later(OPENING_AFTER, southern))
    missing = f"{MOST_MISSING:.0%}".replace("%", " per cent")
    rains = (
        f"First day by which {OPENING_AMOUNT:g} mm have fallen within {OPENING_DAYS} days (that day and the "
        f"{OPENING_DAYS - 1} before it), rain counted from {after}, within six months"
    )
    return {
        "growing_year": Definition(
            f"from {first}", f"A growing year begins on {first} and is named by that day's year."
        ),
        "left_out": Definition(
            f"over {missing} missing",
            f"A year, half-year, season or month that lacks more than {missing} of its days is left out; "
            f"odds need {LEAST_YEARS} years.",
        ),
        **_frost(first, middle, southern),
        "growing_degree_days": Definition(
            f"single sine, {DEGREE_DAY_BASE:g} to {DEGREE_DAY_TOP:g} degC",
            "Sum over a growing year of the daily degree days of a single sine from the day's minimum to its maximum "
            f"(Baskerville & Emin 1969), base {DEGREE_DAY_BASE:g} degC, cut horizontally at {DEGREE_DAY_TOP:g} degC "
            f"(warmth above it counts as {DEGREE_DAY_TOP:g} degC), mean over the years, degC day.",
        ),
        **_months(),
        "chill_portions": chill["portions"],
        "chill_hours": chill["hours 0 to 7.2"],
        "chill_units": chill["Utah units"],
        **_light_and_zones(middle),
        "opening_rains": Definition(
            OPENING_WORDS,
            f"{rains}; the middle year's, a year without them coming last.",
        ),
        "opening_rains_by_year": Definition(
            OPENING_WORDS,
            f"{rains}; null is none; p10, p50 and p90 are the dates by which they have come in that share of years.",
        ),
        "trends": Definition(
            "Theil-Sen slope of means; seasons clear of zero",
            "Theil-Sen slope of the means of a season over the years with its 95 per cent interval (Sen 1968), degC in "
            "ten years; a season needs 80 per cent of its days, a trend ten years.",
        ),
    }


def plain_name(key: str) -> str:
    """A figure's name for people.

    Examples
    --------
    >>> plain_name("tasmin"), plain_name("frost_days")
    ('mean minimum', 'frost days')
    """
    return _NAMES.get(key, key.replace("_", " "))


Twelve = tuple[float | None, ...]


def of_year(months: Sequence[float | None] | None, *, mean: bool = False) -> float | None:
    """The year's sum of twelve monthly values, or their mean; None where a month is not known.

    Parameters
    ----------
    months : sequence of float or None
        Twelve values in one unit, which is that of the result.
    mean : bool
        Their mean instead of their sum.

    Examples
    --------
    >>> of_year([10.0] * 12)
    120.0
    """
    known = [v for v in months or () if v is not None and math.isfinite(v)]
    if len(known) < 12:
        return None
    return math.fsum(known) / 12 if mean else math.fsum(known)


@dataclass(frozen=True)
class Odds:
    """A day of the year (0 to 364) or a number of days at 10, 50 and 90 per cent odds; None is 'never'."""

    p10: int | None
    p50: int | None
    p90: int | None


@dataclass(frozen=True)
class ClimateSummary:
    """Figures of one place; twelve values are those of January to December, averaged over the years.

    Attributes
    ----------
    site : str
    latitude, elevation : float or None
        Degrees north, m.
    record_first, record_last : str or None
        ISO dates.
    record_years : float or None
    record_kind : str or None
        'observed', 'generated' or 'mixed'.
    record_filled_days, record_missing_days : int or None
        Days that were filled, not measured, and days without temperatures.
    record_findings : tuple of Finding
        What looks wrong in the record, one a kind.
    last_spring_frost, first_autumn_frost : Odds or None
        Day of the year by which the last has passed, or the first has come, in one year of ten, in the middle
        year, in nine of ten. In the south they fall in the other half of the year.
    frost_free_days : Odds or None
        Length of the frost-free season, days.
    years_without_frost : float or None
        Share of years in which there is no frost at all.
    frost_days : float or None
        Days a year with a minimum below 0 degC.
    frost_by_year : tuple of FrostYear
        Each year's last spring and first autumn frost.
    growing_degree_days : float or None
        Above 10 degC, degC day a year.
    tasmin, tasmax : tuple of 12 or None
        Monthly mean daily minimum and maximum, degC.
    pr, reference_evapotranspiration : tuple of 12 or None
        mm a month.
    evapotranspiration_method : str or None
    hot_days_30, hot_days_35, warm_nights_20 : tuple of 12 or None
        Days a month with a maximum above 30 and above 35 degC, nights with a minimum above 20 degC.
    chill_portions, chill_hours, chill_units : float or None
        A cool season: dynamic model; hours from 0 to 7.2 degC; Utah units.
    hardiness_zone, heat_zone : str or None
    shortest_day, longest_day : float or None
        Hours.
    opening_rains : int or None
        Median day of the year.
    opening_rains_by_year : OpeningRains or None
        Each year's day, and the days by which they have come in 10, 50 and 90 per cent of years.
    trends : tuple of Trend
        Change of nights and days, of the year and each season; empty where the record is short or generated.
    notes : tuple of str
        What a reader must know of these figures.
    made_by : MadeBy
    """

    site: str
    latitude: float | None = None
    elevation: float | None = None
    record_first: str | None = None
    record_last: str | None = None
    record_years: float | None = None
    record_kind: str | None = None
    record_filled_days: int | None = None
    record_missing_days: int | None = None
    record_findings: tuple[Finding, ...] = ()
    last_spring_frost: Odds | None = None
    first_autumn_frost: Odds | None = None
    frost_free_days: Odds | None = None
    years_without_frost: float | None = None
    frost_days: float | None = None
    frost_by_year: tuple[FrostYear, ...] = ()
    growing_degree_days: float | None = None
    tasmin: Twelve | None = None
    tasmax: Twelve | None = None
    pr: Twelve | None = None
    reference_evapotranspiration: Twelve | None = None
    evapotranspiration_method: str | None = None
    hot_days_30: Twelve | None = None
    hot_days_35: Twelve | None = None
    warm_nights_20: Twelve | None = None
    chill_portions: float | None = None
    chill_hours: float | None = None
    chill_units: float | None = None
    hardiness_zone: str | None = None
    heat_zone: str | None = None
    shortest_day: float | None = None
    longest_day: float | None = None
    opening_rains: int | None = None
    opening_rains_by_year: OpeningRains | None = None
    trends: tuple[Trend, ...] = ()
    notes: tuple[str, ...] = ()
    made_by: MadeBy = field(default_factory=MadeBy)

    def definitions(self) -> dict[str, str]:
        """What each figure that is known counts, a sentence by its name; then what holds for all of them."""
        return {
            name: d.sentence
            for name, d in definitions(self.latitude).items()
            if getattr(self, name, True) not in (None, ())
        }

    def to_json(self) -> dict[str, Any]:
        """Plain dict under the same names; days of the year of frost and rain as MM-DD; NaN is None.

        Beside the figures `definitions` says what each counts.
        """
        out = {f.name: _plain(getattr(self, f.name)) for f in dataclasses.fields(self)}
        for name in ("last_spring_frost", "first_autumn_frost"):
            if out[name] is not None:
                out[name] = {k: _month_day(v) for k, v in out[name].items()}
        out["opening_rains"] = _month_day(self.opening_rains)
        out["frost_by_year"] = [
            {
                "year": y.year,
                "last_spring_frost": _month_day(y.last_spring_frost),
                "first_autumn_frost": _month_day(y.first_autumn_frost),
            }
            for y in self.frost_by_year
        ]
        rains = self.opening_rains_by_year
        out["opening_rains_by_year"] = rains and {
            **{k: _month_day(getattr(rains, k)) for k in ("p10", "p50", "p90")},
            "years": [{"year": year, "day": _month_day(day)} for year, day in rains.years],
        }
        out["definitions"] = self.definitions()
        return out


def _month_day(day: int | None) -> str | None:
    """MM-DD of a day of a 365-day year."""
    if day is None:
        return None
    import datetime as dt

    date = dt.date(2023, 1, 1) + dt.timedelta(days=int(day) % 365)  # any year without a leap day
    return f"{date.month:02d}-{date.day:02d}"


def _plain(value: Any) -> Any:
    if isinstance(value, Odds):
        return {"p10": value.p10, "p50": value.p50, "p90": value.p90}
    if isinstance(value, MadeBy):
        return value.to_json()
    if isinstance(value, (Trend, Finding)):
        return value.to_json()
    if isinstance(value, tuple):
        return [_plain(v) for v in value]
    if isinstance(value, float):
        return round(value, 3) if math.isfinite(value) else None
    return value
