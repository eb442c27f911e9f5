"""The sowing chart: every crop asked for, its ways of starting, windows, and what stops it elsewhere."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from sowcal.crops.records import Crop, Way, known
from sowcal.seasons.season import Seasons, missing_values, seasons
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.by_day import LEAST_YEARS, ByDay, Fold, by_day
from sowcal.suitability.limits import best_start, limiting_factor
from sowcal.suitability.results import CropSeasons, WayResult, Window
from sowcal.suitability.water_rule import WaterRule, want_of_water
from sowcal.suitability.windows import outside_runs, possible_mask, possible_windows, recommended_windows

__all__ = ["NOT_JUDGED", "NOT_JUDGED_RAIN_FED", "NOT_JUDGED_STORED", "annual_line", "crop_seasons", "way_result"]

NOT_JUDGED = (
    "pests and diseases",
    "wind and salt",
    "pollination",
    "water quality",
    "variety within a type",
    "want of water (beds are taken as watered when needed)",
)
NOT_JUDGED_STORED = (*NOT_JUDGED[:-1], "want of water of perennials", "soils other than bare loam watered by drip")
NOT_JUDGED_RAIN_FED = (*NOT_JUDGED[:-1], "want of water of perennials", "soils other than bare loam")


def _chance_by_day(
    site: SiteDays, fold: Fold, outcome: Seasons, windows: Sequence[Window], begin: np.ndarray, end: np.ndarray
) -> np.ndarray:
    """Share of years in which a day of the year lies between `begin` and `end` of some advised start.

    Parameters
    ----------
    begin, end : numpy.ndarray of int
        Day indices for every start day, shape (N,).
    """
    if not windows:
        return np.zeros(365)
    advised = np.zeros(365, dtype=bool)
    for w in windows:
        advised[(w.start + np.arange((w.end - w.start) % 365 + 1)) % 365] = True
    with np.errstate(invalid="ignore"):
        good = advised[site.day_of_year] & (outcome.yield_fraction >= site.settings.success_yield)
    a, b = np.clip(begin[good], 0, site.size), np.clip(end[good] + 1, 0, site.size)
    under_way = np.bincount(a, minlength=site.size + 1) - np.bincount(b, minlength=site.size + 1)
    by_year = fold(np.cumsum(under_way)[:-1] > 0)
    some = fold(good).any(axis=1) & np.isfinite(by_year).any(axis=1)
    known_days = np.isfinite(by_year[some])
    return np.where(known_days, by_year[some], 0.0).sum(axis=0) / np.maximum(known_days.sum(axis=0), 1)


def _timed(crop: Crop) -> bool:
    """Whether time in the bed is held against a start.

    Not where day length sets the date of lifting, nor for hardy crops picked from their flowers (pea, broad
    bean): an autumn start that winters and bears in spring is their good custom.
    """
    winters = crop.growth.habit == "flowering" and crop.cold.frost_class in ("hardy", "half-hardy")
    return not (known(crop.gates.bulbing_day_length) or winters)


def way_result(
    site: SiteDays, fold: Fold, crop: Crop, way: Way, water: WaterRule | None = None, *, calendar: bool = True
) -> WayResult:
    """One way of starting one crop.

    `water`, where given, says what the water there is makes of the seasons. Without `calendar` the days of picking
    and raising are left out, which a verdict does not rest on.
    """
    lacking = missing_values(crop, way)
    if lacking:
        return WayResult(way.way, (), (), (), None, unknown=tuple(lacking))
    outcome = seasons(site, crop, way)
    found = watered = by_day(site, fold, outcome)
    litres = None
    if water is not None:
        litres, outcome = water.litres(crop, way), water.changed(crop, way, outcome)
        found = by_day(site, fold, outcome)
    if found.decided.max(initial=0) < LEAST_YEARS:
        return WayResult(way.way, (), (), (), None, unknown=("a record of at least 3 whole seasons",))
    wished = None if water is None else water.allowed(litres)
    windows, possible = _windows(found, site, crop, wished)
    took = None
    if water is not None and not windows:
        odds = (watered.reliability, found.reliability)
        took = want_of_water(water, litres, _windows(watered, site, crop, None), (windows, possible), odds)
    picking = raising = None
    if calendar:
        picking = _chance_by_day(site, fold, outcome, windows, outcome.first, outcome.last)
    if calendar and outcome.raised_days is not None:
        sown = site.start - outcome.raised_days.astype(int)
        raising = _chance_by_day(site, fold, outcome, windows, sown, site.start - 1)
    return WayResult(
        way=way.way,
        windows=windows,
        possible=possible,
        outside=tuple(outside_runs(found)),
        reliability=found.reliability,
        yield_fraction=found.mean_yield,
        picking=picking,
        raising=raising,
        best_start=best_start(found, windows or possible, watered),
        want_of_water=took,
    )


def _windows(
    found: ByDay, site: SiteDays, crop: Crop, wished: np.ndarray | None
) -> tuple[tuple[Window, ...], tuple[Window, ...]]:
    """Advised and possible windows."""
    mask = possible_mask(found)
    advised = recommended_windows(found, site.settings, timed=_timed(crop), allowed=wished, possible=mask)
    return tuple(advised), tuple(possible_windows(found, mask))


def annual_line(
    site: SiteDays, fold: Fold, crop: Crop, water: WaterRule | None = None, *, calendar: bool = True
) -> CropSeasons:
    """An annual's line of the chart; `water` and `calendar` as in `way_result`."""
    starts = tuple(way_result(site, fold, crop, way, water, calendar=calendar) for way in crop.ways)
    return CropSeasons(
        crop=crop.name,
        family=crop.family,
        starts=starts,
        cautions=crop.cautions,
        notes=(crop.note,) if crop.note else (),
        limiting_factor=limiting_factor(starts),
    )


def crop_seasons(site: SiteDays, crops: Iterable[Crop]) -> tuple[CropSeasons, ...]:
    """The annuals' lines of the chart for one site."""
    fold = Fold.of(site)
    return tuple(annual_line(site, fold, crop) for crop in crops)
