"""The sowing chart: every crop asked for, its ways of starting, windows, and what stops it elsewhere."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from sowcal.crops.records import Crop, Way, known
from sowcal.seasons.season import missing_values, seasons
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.by_day import ByDay, Fold, by_day
from sowcal.suitability.results import CropSeasons, WayResult, Window
from sowcal.suitability.windows import outside_runs, possible_windows, recommended_windows

__all__ = ["NOT_JUDGED", "crop_seasons", "way_result"]

NOT_JUDGED = (
    "pests and diseases",
    "wind and salt",
    "pollination",
    "water quality",
    "variety within a type",
    "want of water (beds are taken as watered when needed)",
)
LEAST_YEARS = 3  # fewer decided years carry no odds at all (DESIGN section 10)


def _spans(found: ByDay, windows: list[Window], begin: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Share of years in which some start of the windows has that day of the year between begin and end."""
    marks = np.zeros((found.success.shape[0], 4 * 365))
    for w in windows:
        days = (w.start + np.arange((w.end - w.start) % 365 + 1)) % 365
        good = (found.success[:, days] == 1) & np.isfinite(begin[:, days]) & np.isfinite(end[:, days])
        year, k = np.nonzero(good)
        day = days[k]
        a = 365 + day + begin[year, day].astype(int)
        b = np.minimum(365 + day + end[year, day].astype(int), 4 * 365 - 1)
        np.add.at(marks, (year, np.clip(a, 0, 4 * 365 - 1)), 1)
        np.add.at(marks, (year, np.clip(b, 0, 4 * 365 - 1)), -1)
    open_ = (np.cumsum(marks, axis=1) > 0).reshape(marks.shape[0], 4, 365)
    by_year = np.logical_or.reduce(open_, axis=1)
    some = np.logical_or.reduce(by_year, axis=1)
    return by_year[some].mean(axis=0) if some.any() else np.zeros(365)


def way_result(site: SiteDays, fold: Fold, crop: Crop, way: Way) -> WayResult:
    """One way of starting one crop."""
    lacking = missing_values(crop, way)
    if lacking:
        return WayResult(way.way, (), (), (), None, unknown=tuple(lacking))
    found = by_day(site, fold, seasons(site, crop, way))
    if found.decided.max(initial=0) < LEAST_YEARS:
        return WayResult(way.way, (), (), (), None, unknown=("a record of at least 3 whole seasons",))
    possible = possible_windows(found)
    windows = recommended_windows(found, site.settings, timed=not known(crop.gates.bulbing_day_length))
    raising = None
    if found.raised is not None:
        raising = _spans(found, windows, -found.raised, np.zeros_like(found.raised))
    return WayResult(
        way=way.way,
        windows=tuple(windows),
        possible=tuple(possible),
        outside=tuple(outside_runs(found)),
        reliability=found.reliability,
        yield_fraction=found.mean_yield,
        picking=_spans(found, windows, found.first, found.last),
        raising=raising,
    )


def crop_seasons(site: SiteDays, crops: Iterable[Crop]) -> tuple[CropSeasons, ...]:
    """The lines of the chart for one site."""
    fold = Fold.of(site)
    return tuple(
        CropSeasons(
            crop=crop.name,
            family=crop.family,
            starts=tuple(way_result(site, fold, crop, way) for way in crop.ways),
            cautions=crop.cautions,
            notes=(crop.note,) if crop.note else (),
        )
        for crop in crops
    )
