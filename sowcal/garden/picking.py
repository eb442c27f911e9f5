"""What one plant gives week by week after its start, in every year: the site's own seasons, not the book."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sowcal.crops.records import Crop, Way, known
from sowcal.seasons.flowering import daily_setting
from sowcal.seasons.response import ramp
from sowcal.seasons.season import Seasons, seasons
from sowcal.seasons.site_days import SiteDays
from sowcal.seasons.sums import day_reached
from sowcal.suitability.by_day import ByDay, Fold, by_day
from sowcal.suitability.results import Window
from sowcal.suitability.windows import possible_windows, recommended_windows

__all__ = ["WayOutcome", "picking_weeks", "season_lengths", "way_outcome"]

WEEKS = 104  # after the start


@dataclass(frozen=True, slots=True)
class WayOutcome:
    """One way of starting one crop, from every start day, and its windows."""

    crop: Crop
    way: Way
    found: ByDay
    windows: tuple[Window, ...]
    possible: tuple[Window, ...]
    ripening: np.ndarray | None  # weight of each day of the record as picking day of cohorts, or None


def _ripening(site: SiteDays, crop: Crop) -> np.ndarray | None:
    """What set one thermal time earlier comes to be picked: weight by day of the record (DESIGN 5.5)."""
    f, growth = crop.flowering, crop.growth
    if growth.habit != "flowering" or f is None or not known(f.fruit_thermal_time, growth.base_temperature):
        return None
    total = site.thermal_time(growth.base_temperature, growth.upper_threshold, growth.light_need)
    sets = daily_setting(site, f, crop.cold.killing_flower).share * np.diff(total)
    if known(growth.range_minimum):
        sets = sets * ramp(site.month_mean, growth.range_minimum - 3.0, growth.range_minimum)
    ripe = day_reached(total, site.start, f.fruit_thermal_time)
    inside = ripe < site.size
    weight = np.zeros(site.size)
    np.add.at(weight, ripe[inside], sets[inside])
    return weight


def way_outcome(
    site: SiteDays,
    fold: Fold,
    crop: Crop,
    way: Way,
    changed: Callable[[Crop, Way, Seasons], Seasons] | None = None,
) -> WayOutcome:
    """Outcome of every start day, with recommended and possible windows; `changed` as on the chart."""
    outcome = seasons(site, crop, way)
    found = by_day(site, fold, outcome if changed is None else changed(crop, way, outcome))
    return WayOutcome(
        crop,
        way,
        found,
        tuple(recommended_windows(found, site.settings)),
        tuple(possible_windows(found)),
        _ripening(site, crop),
    )


def season_lengths(outcome: WayOutcome, start: int) -> tuple[np.ndarray, np.ndarray]:
    """Days from a start day of the year to first and last picking, by year; the median where undecided."""
    first, last = outcome.found.first[:, start], outcome.found.last[:, start]
    good = np.isfinite(outcome.found.yield_fraction[:, start]) & np.isfinite(first) & np.isfinite(last)
    if not good.any():
        return np.full(first.shape, 60.0), np.full(first.shape, 90.0)
    a = np.where(good, first, np.median(first[good]))
    b = np.where(good, last, np.median(last[good]))
    return a, np.maximum(b, a)


def picking_weeks(fold: Fold, outcome: WayOutcome, start: int) -> np.ndarray:
    """Share of the attainable yield picked in each week after the start, shape (decided years, WEEKS).

    Crops that keep flowering follow their daily cohorts; the others are picked evenly from first to last.
    """
    first, last = season_lengths(outcome, start)
    out = []
    for y in range(fold.years.size):
        fraction, origin = outcome.found.yield_fraction[y, start], fold.index[y, start]
        if not np.isfinite(fraction) or origin < 0:
            continue
        days = np.arange(int(first[y]), int(last[y]) + 1)
        weight = np.ones(days.size)
        if outcome.ripening is not None:
            weight = outcome.ripening[np.minimum(origin + days, outcome.ripening.size - 1)]
            if weight.sum() <= 0.0:
                weight = np.ones(days.size)
        week = np.minimum(days // 7, WEEKS - 1)
        out.append(np.bincount(week, fraction * weight / weight.sum(), WEEKS))
    return np.array(out) if out else np.zeros((0, WEEKS))
