"""Crop by crop: at which of two places the window is longer, and at which it is safer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from sowcal.languages import phrase
from sowcal.provenance import MadeBy
from sowcal.suitability.results import (
    AgainstWhole,
    CropSeasons,
    CropVerdict,
    Harvest,
    Record,
    SowingChart,
    Window,
)

__all__ = [
    "LONGER",
    "SAFER",
    "CompareResult",
    "CropBeside",
    "CropRecent",
    "RecentYears",
    "against_whole",
    "compare",
    "crops_beside",
    "crops_recent",
]


@dataclass(frozen=True)
class CropBeside:
    """One crop at two places; pairs stand in the order of the places."""

    crop: str
    words: tuple[str, str]  # verdicts
    days: tuple[int, int]  # days of the year on which some way of starting is advised
    reliability: tuple[float | None, float | None]
    longer: int | None  # 0 or 1: the place where more days serve; None where they are alike
    safer: int | None  # 0 or 1: the place where more years work
    limits: tuple[str | None, str | None] = (None, None)  # what limits it most at each place
    harvests: tuple[Harvest, Harvest] = (Harvest(), Harvest())


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
    def litres(self) -> tuple[float, float, int]:
        """Stored water of a season at the first place and at the second, litres per m2, of the middle crop of those
        whose water is known at both, and how many they are."""
        known = [
            (a.litres_per_m2, b.litres_per_m2)
            for a, b in (c.harvests for c in self.crops)
            if a.litres_per_m2 is not None and b.litres_per_m2 is not None
        ]
        first, second = np.median(np.array(known), axis=0) if known else (float("nan"), float("nan"))
        return float(first), float(second), len(known)

    @property
    def safer(self) -> tuple[int, int]:
        """Crops that work in more years at the first place, and at the second."""
        ahead = [c.safer for c in self.crops]
        return ahead.count(0), ahead.count(1)


@dataclass(frozen=True)
class CropRecent:
    """What the last years of a record move for one crop: days of the year that are advised, and the share of years
    that succeed from the best day of the whole record; None where odds by day are not known."""

    crop: str
    days: int
    odds: float | None


@dataclass(frozen=True)
class RecentYears:
    """What the last years of a record move against all of it; `why_not` is 'generated' or 'short' where nothing is
    told, and empty where it is."""

    years: int
    of: float
    crops: tuple[CropRecent, ...] = ()
    why_not: str = ""

    @property
    def days(self) -> float:
        """Median change of the advised days, of crops that have dates in either."""
        return float(np.median([c.days for c in self.crops])) if self.crops else 0.0

    @property
    def odds(self) -> float | None:
        """Mean change of the share of years that succeed from the best day; None where no crop's is known."""
        known = [c.odds for c in self.crops if c.odds is not None]
        return float(np.mean(known)) if known else None


LONGER = 7  # days by which a window must be the longer to be called so: common practice, no source
SAFER = 0.05  # share of years by which a crop must work more often, half a year in ten: common practice, no source


def _advised_days(line: CropSeasons) -> int:
    """Days of the year on which the crop may be started in one way or another."""
    days = np.zeros(365, dtype=bool)
    for way in line.starts:
        for w in way.windows:
            days[(w.start + np.arange((w.end - w.start) % 365 + 1)) % 365] = True
    return int(days.sum())


def _ahead(pair: tuple[float, float], by: float) -> int | None:
    """Which of two is greater by so much; None where neither is."""
    first, second = pair
    if abs(first - second) < by:
        return None
    return 0 if first > second else 1


def crops_beside(
    charts: tuple[SowingChart, SowingChart], verdicts: tuple[Sequence[CropVerdict], Sequence[CropVerdict]]
) -> tuple[CropBeside, ...]:
    """Every crop of both places, in the order of their names.

    Parameters
    ----------
    charts : two SowingChart
        Of the same crops.
    verdicts : two sequences of CropVerdict
        Of the same crops.
    """
    lines = [{line.crop: line for line in chart.crops} for chart in charts]
    judged = [{v.crop: v for v in side} for side in verdicts]
    out = []
    for crop in sorted(lines[0].keys() & lines[1].keys() & judged[0].keys() & judged[1].keys()):
        one, two = (side[crop] for side in judged)
        days = (_advised_days(lines[0][crop]), _advised_days(lines[1][crop]))
        known = one.reliability is not None and two.reliability is not None
        shares = (one.reliability or 0.0, two.reliability or 0.0)
        out.append(
            CropBeside(
                crop=crop,
                words=(one.word, two.word),
                days=days,
                reliability=(one.reliability, two.reliability),
                longer=_ahead(days, LONGER),
                safer=_ahead(shares, SAFER) if known else None,
                limits=(one.limiting_factor, two.limiting_factor),
                harvests=(one.harvest, two.harvest),
            )
        )
    return tuple(out)


_CARRIED = ("S1", "S2")


def crops_recent(whole: Sequence[CropSeasons], recent: Sequence[CropSeasons]) -> tuple[CropRecent, ...]:
    """What the last years move for each crop that has advised dates in them or in the whole record.

    Parameters
    ----------
    whole, recent : sequence of CropSeasons
        Of the same crops in the same order.
    """
    out = []
    for a, b in zip(whole, recent, strict=True):
        days = (_advised_days(a), _advised_days(b))
        best = [
            (w.reliability, s.way, w.best)
            for s in a.starts
            for w in (s.windows or s.possible)
            if s.reliability is not None
        ]
        odds = None
        if best:
            share, way, day = max(best)
            found = next((s.reliability for s in b.starts if s.way == way), None)
            if found is not None and np.isfinite(found[day]):
                odds = float(found[day]) - share
        if any(days):
            out.append(CropRecent(a.crop, days[1] - days[0], odds))
    return tuple(out)


_SAME_SEASON = 45  # days between the best starts of two windows that are one season of the year
_GRADE = {"S1": 3, "S2": 2, "S3": 1, "N": 0, None: 0}


def _shift(first: int, second: int) -> int:
    """Days from one day of the year to another, the short way round."""
    return (second - first + 182) % 365 - 182


def _length(windows: Sequence[Window]) -> int:
    return sum((w.end - w.start) % 365 + 1 for w in windows)


def _moved(a: CropSeasons, b: CropSeasons, least: int = 7) -> list[dict[str, object]]:
    """Windows of the same way in both places that differ by a week (`least` days) or more."""
    out: list[dict[str, object]] = []
    for first in a.starts:
        second = next((s for s in b.starts if s.way == first.way), None)
        if second is None or not first.windows or not second.windows:
            continue
        for window in first.windows:
            other = min(second.windows, key=lambda w: abs(_shift(window.best, w.best)))
            entry: dict[str, object] = {
                "crop": a.crop,
                "way": first.way,
                "from": (window.start, other.start),
                "to": (window.end, other.end),
                "opens_later_days": _shift(window.start, other.start),
                "closes_later_days": _shift(window.end, other.end),
            }
            moves = (abs(_shift(window.start, other.start)), abs(_shift(window.end, other.end)))
            same_season = abs(_shift(window.best, other.best)) <= _SAME_SEASON and max(moves) <= 2 * _SAME_SEASON
            if max(moves) >= least and same_season:
                out.append(entry)
    return out


def against_whole(record: Record, whole: Sequence[CropSeasons], chosen: Sequence[CropSeasons]) -> AgainstWhole:
    """How the windows of some years of a record part from those of all its years.

    Parameters
    ----------
    record : Record
        The whole of it.
    whole, chosen : sequence of CropSeasons
        Of the same crops in the same order.
    """
    pairs = list(zip(whole, chosen, strict=True))

    def dated(line: CropSeasons) -> bool:
        return any(s.windows for s in line.starts)

    return AgainstWhole(
        record=record,
        moved=tuple(entry for a, b in pairs for entry in _moved(a, b, least=0)),
        gained=tuple(b.crop for a, b in pairs if dated(b) and not dated(a)),
        lost=tuple(a.crop for a, b in pairs if dated(a) and not dated(b)),
    )


def compare(
    charts: tuple[SowingChart, SowingChart],
    verdicts: tuple[list[CropVerdict], list[CropVerdict]],
    climates: tuple[dict[str, object], dict[str, object]],
) -> CompareResult:
    """Crops gained and lost, windows moved, and a count of what each place carries.

    Parameters
    ----------
    charts : two SowingChart
        Of the same crops.
    verdicts : two lists of CropVerdict
        Of the same crops.
    climates : two dicts
        Figures of each place.
    """
    first, second = ({v.crop: v for v in side} for side in verdicts)
    gained = [c for c, v in second.items() if v.suitability in _CARRIED and first[c].suitability not in _CARRIED]
    lost = [c for c, v in first.items() if v.suitability in _CARRIED and second[c].suitability not in _CARRIED]
    moved = [entry for a, b in zip(charts[0].crops, charts[1].crops, strict=True) for entry in _moved(a, b)]
    better: dict[str, object] = {
        "crops_carried": tuple(sum(v.suitability in _CARRIED for v in side.values()) for side in (first, second)),
        "crops_sound": tuple(sum(v.suitability == "S1" for v in side.values()) for side in (first, second)),
        "crops_judged": len(first),
        "crops_cannot_say": tuple(sum(v.suitability is None for v in side.values()) for side in (first, second)),
        "better_in": tuple(
            sorted(c for c in first if _GRADE[one[c].suitability] > _GRADE[two[c].suitability])
            for one, two in ((first, second), (second, first))
        ),
        "days_of_recommended_starts": tuple(
            sum(_length(s.windows) for line in chart.crops for s in line.starts) for chart in charts
        ),
    }
    return CompareResult(
        sites=(charts[0].site, charts[1].site),
        climates=climates,
        records=tuple(chart.record for chart in charts),
        warnings=tuple(
            dict.fromkeys(phrase("{site}: {warning}", site=c.site, warning=w) for c in charts for w in c.warnings)
        ),
        gained=tuple(sorted(gained)),
        lost=tuple(sorted(lost)),
        moved=tuple(moved),
        better=better,
        crops=crops_beside(charts, verdicts),
        made_by=replace(charts[0].made_by, records=charts[0].made_by.records + charts[1].made_by.records),
    )
