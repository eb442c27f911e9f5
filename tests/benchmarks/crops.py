"""Rows on crops: one way against a bare search, its walk against a compiled loop, dates, perennials, gaps, memory."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import scalar_loop
from measure import Row, Size, added_memory, side_by_side
from record import PLOT, Days, days_of, with_gaps

from sowcal.answers import sowing_chart
from sowcal.climate.chill import chill_portions
from sowcal.climate.degree_days import single_sine_horizontal
from sowcal.crops.handbook import handbook
from sowcal.crops.tables import Crop, known
from sowcal.seasons.season import seasons
from sowcal.seasons.site_days import SiteDays
from sowcal.seasons.sums import day_reached, prefix
from sowcal.suitability.annuals import crop_seasons
from sowcal.suitability.verdicts import judge_crops
from sowcal.weather.open_site import open_weather

__all__ = ["CROPS", "rows"]

CROP = "radish"  # cut whole, with every hazard but those of bulbs and heads
CROPS = (
    "tomato (large)", "courgette", "lettuce (head)", "broad bean", "potato (early)", "carrot", "onion (short-day)",
    "pea (shelling)", "french bean (bush)", "cabbage (white)", "beetroot", "sweet pepper (blocky)",
)  # fmt: skip


def rows(size: Size) -> list[Row]:
    """All rows on crops."""
    days = days_of(size.years)
    return [
        _one_way(days, size),
        *_walk(days, size),
        *_many_crops(days, size),
        _perennials(days, size),
        _gaps(days, size),
        _memory(size),
    ]


def _site(days: Days) -> SiteDays:
    return SiteDays(days.tasmin, days.tasmax, days.time[0], days.latitude)


def _some(size: Size) -> list[Crop]:
    return [handbook()[name] for name in CROPS[: size.grid_crops]]


def _one_way(days: Days, size: Size) -> Row:
    crops = _some(size)
    ways = sum(len(crop.ways) for crop in crops)
    total = prefix(single_sine_horizontal(days.tasmin, days.tasmax, 4.0, 30.0))
    target = total[:-1] + 1000.0
    whole, search = side_by_side(
        lambda: crop_seasons(_site(days), crops), lambda: np.searchsorted(total, target), repeats=size.repeats
    )
    return Row(
        f"one way (mean of {ways}), every start day of {size.years} years, all hazards, windows, odds, from bare days",
        f"one searchsorted of its {days.time.size:,} starts",
        whole / ways,
        search,
        most=15,
    )


def _walk(days: Days, size: Size) -> list[Row]:
    """The walk alone against the same walk as a scalar loop; no row where nothing compiles that."""
    crop = handbook()[CROP]
    way, site = crop.ways[0], _site(days)
    table = scalar_loop.daily_table(site, crop, way)
    # the smallest size only tries whether both say the same: Python's own loop does, and nothing is compiled
    loop = scalar_loop.compiled() if size.processes > 1 else scalar_loop.walk.__globals__["_loop"]
    if loop is None:
        print("(numba is not installed: the walk is not set beside a compiled loop)")
        return []
    outcome, found = seasons(site, crop, way), scalar_loop.walk(table, site.size, loop)
    if apart := scalar_loop.differing(outcome, found, site.size):
        raise AssertionError(f"{len(apart)} start days differ; the first: {apart[0]}")
    here, there = side_by_side(
        lambda: seasons(site, crop, way), lambda: scalar_loop.walk(table, site.size, loop), repeats=size.repeats
    )
    return [Row(f"the walk alone ({CROP})", "the same walk as one scalar compiled loop", here, there, most=1.5)]


def _chosen(number: int) -> list[Crop]:
    """Crops with all that a date needs, as the handbook has them; again from the first if they do not suffice."""
    fit = [
        c
        for c in handbook().values()
        if c.perennial is None
        and c.ways
        and known(c.growth.base_temperature, c.growth.upper_threshold, c.ways[0].thermal_time_low)
    ]
    return [fit[k % len(fit)] for k in range(number)]


def _needs(crops: Sequence[Crop]) -> list[tuple[float, float, float]]:
    """Base, upper threshold and thermal time; a crop that comes again wants a little more than before."""
    out = []
    for k, crop in enumerate(crops):
        need = 0.5 * (crop.ways[0].thermal_time_low + crop.ways[0].thermal_time_high) + 0.37 * k + 0.0123
        out.append((crop.growth.base_temperature, crop.growth.upper_threshold, need))
    return out


def _sums(days: Days, needs: Sequence[tuple[float, float, float]]) -> dict[tuple[float, float], np.ndarray]:
    """One running sum of degree days a pair of thresholds."""
    pairs = dict.fromkeys((base, upper) for base, upper, _ in needs)
    return {pair: prefix(single_sine_horizontal(days.tasmin, days.tasmax, *pair)) for pair in pairs}


def _dates(days: Days, needs: Sequence[tuple[float, float, float]]) -> list[np.ndarray]:
    """Day on which each crop's thermal time is met, from every start day, as the engine finds it."""
    start, sums = np.arange(days.time.size), _sums(days, needs)
    return [day_reached(sums[base, upper], start, need) for base, upper, need in needs]


def _searched(days: Days, needs: Sequence[tuple[float, float, float]]) -> list[np.ndarray]:
    """The same by a plain running sum and a search a crop."""
    out, kept = [], {}
    for base, upper, need in needs:
        if (base, upper) not in kept:
            daily = single_sine_horizontal(days.tasmin, days.tasmax, base, upper)
            kept[base, upper] = np.concatenate([[0.0], np.cumsum(daily)])
        total = kept[base, upper]
        out.append(np.searchsorted(total, total[:-1] + need) - 1)
    return out


def _many_crops(days: Days, size: Size) -> list[Row]:
    many, few = size.crops
    crops = _chosen(many)
    needs = _needs(crops)
    for (base, _, need), ours, theirs in zip(needs, _dates(days, needs), _searched(days, needs), strict=True):
        if (ours != theirs).any():
            raise AssertionError(f"{(ours != theirs).sum()} dates of {need:g} degC d above {base:g} differ")
    dates, bare = side_by_side(lambda: _dates(days, needs), lambda: _searched(days, needs), repeats=size.repeats)
    whole, whole_few = side_by_side(
        lambda: crop_seasons(_site(days), crops),
        lambda: crop_seasons(_site(days), crops[:few]),
        repeats=max(size.repeats // 3, 1),
    )
    ways = sum(len(c.ways) for c in crops)
    full = f"{many} crops ({ways} ways), every start day, all hazards, windows and odds"
    return [
        Row(f"{many} crops, every start day of {size.years} years: dates of degree days",
            "a cumsum a pair of thresholds and one searchsorted a crop", dates, bare, most=1),
        Row(full, f"{few} crops, the same", whole, whole_few, most=8),
    ]  # fmt: skip


def _perennials(days: Days, size: Size) -> Row:
    book = handbook()
    crops = [crop for crop in book.values() if crop.perennial is not None]
    crops = crops if size.processes > 1 else crops[:5]
    judged, chill = side_by_side(
        lambda: judge_crops(_site(days), crops, book, calendar=False),
        lambda: chill_portions(days.tasmin, days.tasmax, time=days.time, latitude=days.latitude),
        repeats=max(size.repeats // 3, 1),
    )
    return Row(f"{len(crops)} perennials, every year", "chill portions of the site once", judged, chill, most=1.5)


def _gaps(days: Days, size: Size) -> Row:
    crops, holed = _some(size), with_gaps(days)
    gappy, whole = side_by_side(
        lambda: crop_seasons(_site(holed), crops),
        lambda: crop_seasons(_site(days), crops),
        repeats=max(size.repeats // 3, 1),
    )
    lacking = np.isnan(holed.tasmin).mean()
    return Row(
        f"{len(crops)} crops on a record that lacks {lacking:.0%} of its days", "the same days whole", gappy, whole,
        most=1.5,
    )  # fmt: skip


def _memory(size: Size) -> Row:
    record = open_weather(PLOT)[1]
    crops = () if size.processes > 1 else CROPS[:2]
    held = sum(values.nbytes for values in record.values.values())
    sowing_chart(record, CROPS[:1])  # imports and the handbook are not counted
    return Row(
        f"added memory of a chart of {'all' if not crops else len(crops)} crops",
        "the record's own days",
        added_memory(lambda: sowing_chart(record, crops)) / 1e6,
        held / 1e6,
        most=60,
        unit="MB",
    )
