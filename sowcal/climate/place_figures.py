"""The figures of a place as one answer; what each counts comes from `figure_words` and is offered here too."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from sowcal.climate.figure_words import (
    ABOVE,
    DEGREE_DAY_BASE,
    DEGREE_DAY_TOP,
    EVAPOTRANSPIRATION,
    FROST,
    HOT,
    LEAST_YEARS,
    STRICT,
    VERY_HOT,
    WARM_NIGHT,
    Definition,
    chill_definitions,
    definitions,
    plain_name,
)
from sowcal.climate.frost import FrostYear
from sowcal.climate.rain import OpeningRains
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
