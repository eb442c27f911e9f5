"""The grower's own thermometer against the station on the same days: how much colder or warmer the plot is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.errors import InputError
from sowcal.languages import counted

if TYPE_CHECKING:
    from sowcal.weather.record import DailyRecord

__all__ = ["SEASONS", "Offset", "OffsetReport", "PlotOffset", "offset_ends", "station_offset", "with_offset"]

SEASONS = ("December to February", "March to May", "June to August", "September to November")
_FEWEST = 14  # days that both have, below which no offset is told: common practice ('a few weeks')
_FEWEST_SEASON = 10
_MOST = 15.0  # K; a plot further from its station is another place, or another unit
# K; how far a season without days may part from the others, where one season is known and where more are: common
# practice, no source
_ONE_KNOWN, _MORE_KNOWN = 2.0, 1.0


@dataclass(frozen=True, slots=True)
class Offset:
    """Plot minus station.

    Attributes
    ----------
    variable : str
        `tasmin` (nights) or `tasmax` (days).
    season : str
        One of `SEASONS`, or 'all year'.
    days : int
        Days that both have.
    mean, standard_error : float
        K. The error is widened for the likeness of neighbouring days.
    spread : float
        Standard deviation of single days, K.
    """

    variable: str
    season: str
    days: int
    mean: float
    standard_error: float
    spread: float

    @property
    def interval(self) -> tuple[float, float]:
        """95 per cent interval of the mean, by Student's t."""
        from scipy.stats import t

        half = float(t.ppf(0.975, max(self.days - 1, 1))) * self.standard_error
        return self.mean - half, self.mean + half

    @property
    def half_width(self) -> float:
        """Half of the interval, K."""
        return self.interval[1] - self.mean


@dataclass(frozen=True, slots=True)
class OffsetReport:
    """Offsets of nights and days, all year and by season.

    Attributes
    ----------
    first, last : str
        First and last shared day, ISO 8601.
    days : int
        Days with a shared minimum or maximum.
    offsets : tuple of Offset
        All year first, then the seasons that have enough days.
    notes : tuple of str
        What the comparison does not tell.
    """

    first: str
    last: str
    days: int
    offsets: tuple[Offset, ...]
    notes: tuple[str, ...]

    def of(self, variable: str, season: str = "all year") -> Offset | None:
        """The offset of a variable in a season; None where there are too few days."""
        return next((o for o in self.offsets if (o.variable, o.season) == (variable, season)), None)

    def by_season(self, variable: str) -> list[tuple[float, float]]:
        """Offset and half of its 95 per cent interval in each of `SEASONS`, K.

        A season without enough days takes the offset of all days. How far seasons part is then the greater part
        of what is not known: twice the spread of the known seasons but 1 K at least, or 2 K where only one is known.
        """
        every = self.of(variable)
        if every is None:
            return [(0.0, 0.0)] * len(SEASONS)
        known = [o.mean for s in SEASONS if (o := self.of(variable, s))]
        apart = max(2.0 * float(np.std(known, ddof=1)), _MORE_KNOWN) if len(known) > 1 else _ONE_KNOWN
        stand_in = (every.mean, float(np.hypot(every.half_width, apart)))
        return [(o.mean, o.half_width) if (o := self.of(variable, s)) else stand_in for s in SEASONS]

    @classmethod
    def of_json(cls, plain: Mapping[str, Any]) -> OffsetReport:
        """The report of its plain form, to the digits that this has."""
        offsets = tuple(
            Offset(**{k: o[k] for k in ("variable", "season", "days", "mean", "standard_error", "spread")})
            for o in plain["offsets"]
        )
        record = plain["record"]
        return cls(record["first"], record["last"], record["days"], offsets, tuple(plain["notes"]))

    def to_json(self) -> dict[str, Any]:
        """Plain form."""
        return {
            "record": {"first": self.first, "last": self.last, "days": self.days},
            "offsets": [
                {
                    "variable": o.variable,
                    "season": o.season,
                    "days": o.days,
                    "mean": round(o.mean, 2),
                    "standard_error": round(o.standard_error, 2),
                    "interval": [round(v, 2) for v in o.interval],
                    "spread": round(o.spread, 2),
                }
                for o in self.offsets
            ],
            "notes": list(self.notes),
        }


@dataclass(frozen=True, slots=True)
class PlotOffset:
    """How a record was moved to the plot by the grower's own thermometer.

    Attributes
    ----------
    report : OffsetReport
    half_width : mapping of str to tuple of 4 float
        Half of the 95 per cent interval used for each of `SEASONS`, K, by variable.
    """

    report: OffsetReport
    half_width: Mapping[str, tuple[float, ...]]


def station_offset(record: DailyRecord, own: DailyRecord) -> OffsetReport:
    """Compare the minima and maxima of a plot with those of its station on the same days.

    Parameters
    ----------
    record : DailyRecord
        The station's.
    own : DailyRecord
        The grower's own readings.

    Returns
    -------
    OffsetReport
        Standard errors are those of a mean of days with lag-one correlation r: sd / sqrt(n) times
        sqrt((1 + r) / (1 - r)) (first-order autoregressive days; textbook formula, from memory).

    Raises
    ------
    InputError
        For fewer than 14 shared days, readings that were generated, or a difference of 15 K or more.
    """
    from sowcal.weather.record import GENERATED, OBSERVED

    days, at, own_at = np.intersect1d(record.time, own.time, return_indices=True)
    if (own.origin["tasmin"] == GENERATED).all() or (record.origin["tasmin"] == GENERATED).all():
        raise InputError(
            "a record generated from monthly normals has no days to compare with; give a station's record and "
            "your own readings of the same days"
        )
    difference = {}
    for name in ("tasmin", "tasmax"):
        one, two = (
            np.where(d.origin[name][k] == OBSERVED, d[name][k], np.nan) for d, k in ((own, own_at), (record, at))
        )
        difference[name] = one - two
    shared = np.isfinite(difference["tasmin"]) | np.isfinite(difference["tasmax"])
    if min(int(np.isfinite(d).sum()) for d in difference.values()) < _FEWEST:
        raise InputError(
            f"the two records share {counted(int(shared.sum()), 'day')}; at least {_FEWEST} with minimum and maximum "
            "are needed"
        )
    season = (days.astype("datetime64[M]").astype(int) % 12 + 1) % 12 // 3
    offsets, notes = [], []
    for name, values in difference.items():
        every = _offset(name, "all year", values)
        if abs(every.mean) >= _MOST:
            raise InputError(
                f"{name} differs by {every.mean:+.1f} K on average; check the unit and that both are the same place"
            )
        offsets.append(every)
        for k, words in enumerate(SEASONS):
            these = np.where(season == k, values, np.nan)
            if np.isfinite(these).sum() >= _FEWEST_SEASON:
                offsets.append(_offset(name, words, these))
    seen = {o.season for o in offsets}
    lacking = [s for s in SEASONS if s not in seen]
    if lacking:
        notes.append(f"no days from {', '.join(lacking)}: there the offset of all days stands in, and may be wrong")
    return OffsetReport(str(days[shared][0]), str(days[shared][-1]), int(shared.sum()), tuple(offsets), tuple(notes))


def _offset(name: str, season: str, values: np.ndarray) -> Offset:
    known = values[np.isfinite(values)]
    spread = float(np.std(known, ddof=1))
    pairs = np.isfinite(values[1:]) & np.isfinite(values[:-1])
    like = 0.0
    if pairs.sum() >= 10 and np.ptp(values[1:][pairs]) > 0 and np.ptp(values[:-1][pairs]) > 0:
        like = float(np.clip(np.corrcoef(values[1:][pairs], values[:-1][pairs])[0, 1], 0.0, 0.9))
    error = spread / np.sqrt(known.size) * np.sqrt((1.0 + like) / (1.0 - like))
    return Offset(name, season, int(known.size), float(known.mean()), float(error), spread)


def with_offset(record: DailyRecord, report: OffsetReport) -> DailyRecord:
    """A station's record brought to the plot.

    Each season is moved by its own offset, and by that of the whole year where the season has none; the mean
    temperature by half the sum of night and day. A minimum never comes out above the maximum.

    Parameters
    ----------
    record : DailyRecord
    report : OffsetReport

    Returns
    -------
    DailyRecord
        Its `offset` carries the offsets and their errors, and half of the 95 per cent interval that was used for each
        season.
    """
    by = {name: report.by_season(name) for name in ("tasmin", "tasmax")}
    out = _moved(record, {name: [mean for mean, _ in seasons] for name, seasons in by.items()})
    night, day = report.of("tasmin"), report.of("tasmax")
    words = f"moved to the plot by its own thermometer ({counted(report.days, 'day')})"
    if night and day:
        words += (
            f": nights {night.mean:+.1f} K (standard error {night.standard_error:.1f}), "
            f"days {day.mean:+.1f} K ({day.standard_error:.1f})"
        )
    half = {n: tuple(round(half, 3) for _, half in seasons) for n, seasons in by.items()}
    return replace(out, offset=PlotOffset(report, half)).and_then(words)


def offset_ends(record: DailyRecord) -> tuple[DailyRecord, DailyRecord] | None:
    """The record at the cold and at the warm end of what its own thermometer leaves open.

    Parameters
    ----------
    record : DailyRecord
        As `with_offset` gives it.

    Returns
    -------
    tuple of two DailyRecord, or None
        Nights and days moved to the ends of the 95 per cent intervals of their offsets, both to the same side;
        None where the record carries no offset.
    """
    if record.offset is None:
        return None
    half = record.offset.half_width
    cold, warm = (_moved(record, {n: [side * h for h in v] for n, v in half.items()}) for side in (-1.0, 1.0))
    return cold, warm


def _moved(record: DailyRecord, by_season: dict[str, list[float]]) -> DailyRecord:
    """A copy with nights and days moved by so much in each of `SEASONS`; no minimum above its maximum."""
    season = (record.time.astype("datetime64[M]").astype(int) % 12 + 1) % 12 // 3
    change = {name: np.array(values)[season] for name, values in by_season.items()}
    moved = {name: record[name] + by for name, by in change.items()}
    if "tas" in record:
        moved["tas"] = record["tas"] + 0.5 * (change["tasmin"] + change["tasmax"])
    crossed = moved["tasmin"] > moved["tasmax"]
    middle = 0.5 * (moved["tasmin"] + moved["tasmax"])
    for name in by_season:
        moved[name][crossed] = middle[crossed]
    return replace(record.with_values(moved), hours=None)  # hours are the station's, not the plot's
