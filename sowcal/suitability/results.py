"""What the engine answers, as immutable records that outputs only have to show.

Days of the year run from 0 (1 January) to 364 (31 December) on a 365-day year in which 29 February
counts as 28 February; a span over New Year has its end before its start.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.provenance import MadeBy
from sowcal.weather.findings import Finding, findings_in

if TYPE_CHECKING:
    from sowcal.climate.rain import OpeningRains
    from sowcal.climate.so_far import SoFar
    from sowcal.season_log import SeasonLog, Sown
    from sowcal.seasons.outlook import Learnt, Spread
    from sowcal.weather.record import DailyRecord

__all__ = [
    "STAGES",
    "Advice",
    "AgainstWhole",
    "BedWeek",
    "CropSeasons",
    "CropVerdict",
    "FirstPicking",
    "Harvest",
    "NotWorthIt",
    "OffsetRange",
    "Outside",
    "Record",
    "Review",
    "Reviewed",
    "SeasonNow",
    "SettingsSteps",
    "SowingChart",
    "SowingNow",
    "StoppedStart",
    "Strain",
    "Tank",
    "Task",
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
class Harvest:
    """What a square metre of bed draws and gives; None is not known.

    `litres_per_m2` is stored water beyond the rain, in the middle year, of one season from the best start (of a
    perennial: of a year), by drip on bare loam; `yield_here` poor and good practice, kg per m2, of the share of a full
    crop that the place leaves; `weeks_of_picking` those of the year in which it is more likely picked than not.
    """

    litres_per_m2: float | None = None
    yield_here: tuple[float, float] | None = None
    weeks_of_picking: float | None = None


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
    harvest: Harvest = Harvest()

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
    answer: dict[str, Any] | None = None  # of a perennial: does it live, does it crop, what it needs
    sorts_that_fit: tuple[dict[str, Any], ...] = ()  # sorts of the kind with published chill, by portions
    sorts_that_do_not: tuple[dict[str, Any], ...] = ()
    strip: tuple[tuple[int, str], ...] = ()  # of a perennial: each decided year and what became of it
    harvest: Harvest = Harvest()  # of its best way


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


_SAME_SEASON = 60  # days between two starts of one season of the year: common practice, no source
STAGES = (
    "under cover", "sown", "young", "growing", "flowering", "filling", "picking", "over", "cleared", "lost",
    "cannot say",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Strain:
    """A hazard: days on which it was met, or the share of futures that have it ahead and of those that fail by it."""

    hazard: str
    days: tuple[dt.date, ...] = ()
    share: float = 0.0
    failing: float = 0.0


@dataclass(frozen=True, slots=True)
class Task:
    """Something to do this week, for a crop in its bed."""

    job: str
    crop: str
    bed: str
    why: str


@dataclass(frozen=True, slots=True)
class SowingNow:
    """One sowing as it stands.

    `stage` is one of `STAGES`; a day that was logged stands for itself in all three of a spread; `yield_fraction` is at
    10, 50 and 90 per cent of the futures, 0 to 1, `picked_share` the share of them that bring a picking and `futures`
    how many years of the record can tell. `ahead_days` are those by which the first picking comes before its usual
    day for this start. `best` is the best start by the chart, nearest to this one, and the usual first picking from
    there; `instead` what may be sown in place of what was lost; `note` why something cannot be said.
    """

    sown: Sown
    stage: str
    set_out: Spread | None = None
    emergence: Spread | None = None
    first_picking: Spread | None = None
    any_sort: Spread | None = None
    last_picking: Spread | None = None
    yield_fraction: tuple[float, float, float] | None = None
    picked_share: float | None = None
    futures: int = 0
    ahead_days: int | None = None
    best: tuple[dt.date, dt.date | None] | None = None
    met: tuple[Strain, ...] = ()
    ahead: tuple[Strain, ...] = ()
    tasks: tuple[Task, ...] = ()
    instead: tuple[str, ...] = ()
    note: str = ""

    @property
    def after_best(self) -> int | None:
        """Days by which it is picked after what a best start near its own would have given; None where not known."""
        begun = self.sown.in_bed
        if self.best is None or self.best[1] is None or self.first_picking is None or begun is None:
            return None
        if abs((self.best[0] - begun).days) > _SAME_SEASON:
            return None
        return (self.first_picking.p50 - self.best[1]).days


@dataclass(frozen=True, slots=True)
class BedWeek:
    """Water of a bed in the seven days from today: litres in the median of the years and in the dry year in ten, and
    minutes of drip or hose for the former; `assumed` is whether what it had so far is taken for granted."""

    bed: str
    litres: float
    dry_year_litres: float
    minutes: float | None
    assumed: bool


@dataclass(frozen=True, slots=True)
class Tank:
    """The store from the day on which its level was told: litres then and, in the median of the years, now; the share
    of the years in which it runs dry while what stands now grows, and when it does."""

    told: dt.date
    litres_told: float
    litres_now: float
    dry_share: float
    runs_dry: Spread | None


@dataclass(frozen=True)
class SeasonNow:
    """The answer to `sowcal season` for a day.

    `weather_to` is the last day of the season's weather that was measured, None where all of it is of the record's
    years; `tank` is None where its level was not told.
    """

    date: dt.date
    log: SeasonLog = field(repr=False)
    sowings: tuple[SowingNow, ...]
    water: tuple[BedWeek, ...] = ()
    tank: Tank | None = None
    learnt: tuple[Learnt, ...] = ()
    so_far: SoFar | None = None
    weather_to: dt.date | None = None
    forecast_to: dt.date | None = None
    notes: tuple[str, ...] = ()
    site: str = ""
    record: Record | None = None
    made_by: MadeBy = field(default_factory=MadeBy)

    @property
    def tasks(self) -> tuple[Task, ...]:
        """What to do this week, of all sowings."""
        return tuple(t for s in self.sowings for t in s.tasks)


@dataclass(frozen=True, slots=True)
class Reviewed:
    """A sowing after its season: first picking expected by the other years, by the season's own weather, and as logged;
    days that it came late, and how many of these are the weather's; kilograms; what cost most; what to change."""

    sown: Sown
    expected: Spread | None
    by_weather: dt.date | None
    picked: dt.date | None
    late_days: int | None
    weather_days: int | None
    amount: float | None
    hazard: str | None
    change: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Review:
    """The answer to `sowcal season --year`: `first` and `last` are the days of the growing year."""

    site: str
    year: int
    first: dt.date
    last: dt.date
    sowings: tuple[Reviewed, ...]
    log: SeasonLog
    record: Record | None = None
    made_by: MadeBy = field(default_factory=MadeBy)


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
