"""What the engine answers, as immutable records that outputs only have to show.

Days of the year run from 0 (1 January) to 364 (31 December) on a 365-day year in which 29 February
counts as 28 February; a span over New Year has its end before its start.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from sowcal.provenance import MadeBy
from sowcal.weather.findings import Finding, findings_in

if TYPE_CHECKING:
    from sowcal.climate.rain import OpeningRains
    from sowcal.weather.record import DailyRecord

__all__ = [
    "Advice",
    "AgainstWhole",
    "CompareResult",
    "CropSeasons",
    "CropVerdict",
    "FirstPicking",
    "NotWorthIt",
    "OffsetRange",
    "Outside",
    "Record",
    "SettingsSteps",
    "SowingChart",
    "StoppedStart",
    "WantOfWater",
    "WayResult",
    "WaySteps",
    "Window",
    "record_of",
]


@dataclass(frozen=True)
class Record:
    """The weather record that an answer rests on."""

    first: str  # ISO date of the first day
    last: str  # ISO date of the last day
    years: float  # length in years
    kind: str  # 'observed', 'generated' or 'mixed'
    filled_days: int = 0
    missing_days: int = 0
    fingerprint: str = ""  # of its days, see `weather.fingerprint`
    findings: tuple[Finding, ...] = ()  # what looks wrong in it, one a kind

    def to_json(self) -> dict[str, object]:
        """Days, length and findings; where some days were filled or are missing, how many."""
        counts = {"filled_days": self.filled_days, "missing_days": self.missing_days}
        plain = {"first": self.first, "last": self.last, "years": self.years}
        told = [finding.to_json() for finding in self.findings]
        return {**plain, **{name: count for name, count in counts.items() if count}, "findings": told}

    @property
    def days(self) -> int:
        """Days from the first to the last."""
        return (dt.date.fromisoformat(self.last) - dt.date.fromisoformat(self.first)).days + 1

    @property
    def usable_years(self) -> float:
        """Length without the missing days."""
        return (self.days - self.missing_days) / 365.25

    @property
    def filled_share(self) -> float:
        """Share of the known days that were filled, not measured."""
        return self.filled_days / max(self.days - self.missing_days, 1)


@dataclass(frozen=True)
class FirstPicking:
    """When picking begins after the best start day of a window, over the years (days of the year)."""

    p10: int
    p50: int
    p90: int
    days_after_start: int


@dataclass(frozen=True)
class OffsetRange:
    """What becomes of a window within the error of the plot's own thermometer (95 per cent)."""

    reliability: tuple[float, float]  # least and most, of the best start day
    if_colder: tuple[int, int] | None  # first and last day of the same window; None where there is none
    if_warmer: tuple[int, int] | None


@dataclass(frozen=True)
class Window:
    """A run of start days that serve, and what comes of them (days of the year, both ends within)."""

    start: int
    end: int
    best: int
    reliability: float
    interval: tuple[float, float]
    years_decided: int
    yield_fraction: float
    raise_under_cover: tuple[int, int] | None = None
    first_picking: FirstPicking | None = None
    last_picking: int | None = None  # median day of the year of the last picking after the best start day
    start_interval: tuple[int, int] | None = None  # 95 per cent, from resampling the years
    end_interval: tuple[int, int] | None = None
    offset_range: OffsetRange | None = None  # only where the site file names the grower's own readings
    # year of the best start day (of a perennial: of its spring) and day of the year of the first picking, None
    # where that year brings no crop; years that are not decided are left out
    first_pickings: tuple[tuple[int, int | None], ...] = ()


@dataclass(frozen=True)
class Outside:
    """A run of start days that do not serve, and the hazard that most often stops them."""

    start: int
    end: int
    hazard: str
    share_of_years: float


@dataclass(frozen=True)
class StoppedStart:
    """The start day that serves best, and what most often stops it."""

    day: int
    reliability: float
    hazard: str | None
    share_of_years: float  # share of decided years lost to that hazard


@dataclass(frozen=True)
class NotWorthIt:
    """Start days that work as often as asked and are not advised, and why (days of the year, both ends within)."""

    start: int
    end: int
    why: str  # 'no earlier harvest', 'poorer crop', 'too long in the bed' or 'too much water'


@dataclass(frozen=True)
class Advice:
    """The five dates of one season of one way of starting a crop (days of the year)."""

    season: str  # 'spring', 'summer', 'autumn' or 'winter', by the middle of the best fortnight
    best_start: int  # best fortnight, both ends within
    best_end: int
    first_picking: FirstPicking | None  # after a start in the middle of it
    earliest_safe: int | None  # first advised day on which nine years in ten work
    gains_days: int | None  # days by which its picking begins before that of the middle of the best fortnight
    last_chance: int | None  # last day that works as often as asked and brings a crop
    last_yield: float | None  # what it still brings, share of a full crop
    last_picked: int | None  # day on which its picking begins
    succession: tuple[int, ...]  # advised start days whose pickings begin a fortnight apart
    not_worth_it: tuple[NotWorthIt, ...]


@dataclass(frozen=True)
class WantOfWater:
    """Dates of one way of starting that want of water took."""

    day: int  # best start day, had it all the water that it asks for
    reliability: float  # share of years that succeed from it then
    share_of_years: float  # share of years by which want of water lowers that
    litres: float | None  # stored water that it draws in the dry year in ten, per m2; None on rain alone
    most: float | None  # what may be drawn


@dataclass(frozen=True)
class WayResult:
    """One way of starting one crop over the year."""

    way: str
    windows: tuple[Window, ...]
    possible: tuple[Window, ...]
    outside: tuple[Outside, ...]
    reliability: np.ndarray | None  # (365,) share of decided years that succeed, NaN where undecided
    yield_fraction: np.ndarray | None = None  # (365,) mean yield fraction of the decided years
    picking: np.ndarray | None = None  # (365,) chance that a crop from the recommended windows is picked that day
    raising: np.ndarray | None = None  # (365,) chance-weighted days on which the seedlings stand under cover
    unknown: tuple[str, ...] = ()  # what could not be judged for want of a value or a longer record
    best_start: StoppedStart | None = None  # the best of what there is, and what in the climate most often stops it
    want_of_water: WantOfWater | None = None  # where the water asked for took its dates
    advice: tuple[Advice, ...] = ()  # of each season that has advised dates
    days_to_picking: np.ndarray | None = None  # (365,) mean days to first picking of the years that succeed

    @property
    def likeliest_day(self) -> tuple[int, float] | None:
        """Day of the year, 0 to 364, on which a start succeeds in most years, and that share; None if none is known."""
        if self.reliability is None or not np.isfinite(self.reliability).any():
            return None
        day = int(np.nanargmax(self.reliability))
        return day, min(float(self.reliability[day]), 1.0)


@dataclass(frozen=True)
class CropSeasons:
    """A crop's line on the chart."""

    crop: str
    family: str
    starts: tuple[WayResult, ...]
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    limiting_factor: str | None = None  # the hazard that its verdict names too; None where nothing stops it


@dataclass(frozen=True)
class AgainstWhole:
    """How windows of some years of a record part from those of all of it (pairs: all years, those chosen)."""

    record: Record
    moved: tuple[dict[str, object], ...]  # every window that both have, also where it has not moved
    gained: tuple[str, ...]  # crops that have dates in the chosen years only
    lost: tuple[str, ...]


@dataclass(frozen=True)
class SowingChart:
    """The chart of one site."""

    site: str
    latitude: float
    record: Record
    reliability_asked: float
    crops: tuple[CropSeasons, ...]
    not_judged: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    own_thermometer: dict[str, object] | None = None  # how the record was moved to the plot, and how surely
    against_whole: AgainstWhole | None = None  # where some years of the record were asked for
    opening_rains: OpeningRains | None = None  # where crops are asked for on rain alone
    made_by: MadeBy = field(default_factory=MadeBy)


@dataclass(frozen=True)
class CropVerdict:
    """How far one crop suits one site."""

    crop: str
    suitability: str | None  # 'S1', 'S2', 'S3', 'N' or None for 'cannot say'
    word: str
    reliability: float | None
    limiting_factor: str | None
    evidence: dict[str, object] = field(default_factory=dict)
    what_would_change_it: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class WaySteps:
    """One way of starting one crop under every step of the settings (days of the year, both ends within)."""

    crop: str
    way: str
    reliability: tuple[np.ndarray, ...]  # by least yield: share of years that succeed by start day, shape (365,)
    possible: tuple[tuple[tuple[int, int], ...], ...]  # by least yield: possible windows
    # by least yield, then by reliability: advised windows, and the best fortnight of each season
    windows: tuple[tuple[tuple[tuple[int, int], ...], ...], ...]
    fortnights: tuple[tuple[tuple[tuple[int, int], ...], ...], ...]


@dataclass(frozen=True)
class SettingsSteps:
    """Windows under steps of two settings, each as the chart asked for with them has it."""

    reliabilities: tuple[float, ...]
    least_yields: tuple[float, ...]
    ways: tuple[WaySteps, ...]


@dataclass(frozen=True)
class CropBeside:
    """One crop at two places; pairs stand in the order of the places."""

    crop: str
    words: tuple[str, str]  # verdicts
    days: tuple[int, int]  # days of the year on which some way of starting is advised
    reliability: tuple[float | None, float | None]
    longer: int | None  # 0 or 1: the place where more days serve; None where they are alike
    safer: int | None  # 0 or 1: the place where more years work


@dataclass(frozen=True)
class CompareResult:
    """Two sites beside each other."""

    sites: tuple[str, str]
    climates: tuple[dict[str, object], dict[str, object]]
    gained: tuple[str, ...]  # crops that the second site carries and the first does not
    lost: tuple[str, ...]
    moved: tuple[dict[str, object], ...] = ()
    better: dict[str, object] = field(default_factory=dict)
    crops: tuple[CropBeside, ...] = ()
    made_by: MadeBy = field(default_factory=MadeBy)
    records: tuple[Record, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def longer(self) -> tuple[int, int]:
        """Crops of which the first place, and the second, has the longer window."""
        ahead = [c.longer for c in self.crops]
        return ahead.count(0), ahead.count(1)

    @property
    def safer(self) -> tuple[int, int]:
        """Crops that work in more years at the first place, and at the second."""
        ahead = [c.safer for c in self.crops]
        return ahead.count(0), ahead.count(1)


def record_of(weather: DailyRecord) -> Record:
    """What the weather record is: its days, length, what stands on filled or generated days, what was found in them."""
    worst = np.maximum(weather.origin["tasmin"], weather.origin["tasmax"])
    shares = {name: int((worst == code).sum()) for code, name in enumerate(("observed", "filled", "generated"))}
    kind = "generated" if shares["generated"] == weather.size else "mixed" if shares["generated"] else "observed"
    return Record(
        first=str(weather.time[0]),
        last=str(weather.time[-1]),
        years=round(weather.size / 365.25, 1),
        kind=kind,
        filled_days=shares["filled"],
        missing_days=int((np.isnan(weather["tasmin"]) | np.isnan(weather["tasmax"])).sum()),
        fingerprint=weather.fingerprint,
        findings=findings_in(weather),
    )
