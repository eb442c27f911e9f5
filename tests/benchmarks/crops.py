"""Rows on crops: one crop against the loop in pandas, 120 crops against xclim, 120 against 15."""

from __future__ import annotations

from collections.abc import Sequence

import naive
import numpy as np
from measure import Row, Size, side_by_side
from record import Days, days_of, labelled, xclim_indices

from sowcal.climate.degree_days import growing_degree_days, single_sine_horizontal
from sowcal.crops.handbook import handbook
from sowcal.crops.tables import Crop, known
from sowcal.seasons.season import seasons
from sowcal.seasons.site_days import SiteDays
from sowcal.seasons.sums import day_reached, prefix
from sowcal.suitability.annuals import crop_seasons

__all__ = ["rows"]

CROP = "radish"  # cut whole, with every hazard but those of bulbs and heads


def rows(size: Size) -> list[Row]:
    """All rows on crops."""
    days = days_of(size.years)
    return [_one_crop(days, size), *_many_crops(days, size)]


def _site(days: Days) -> SiteDays:
    return SiteDays(days.tasmin, days.tasmax, days.time[0], days.latitude)


def _one_crop(days: Days, size: Size) -> Row:
    crop = handbook()[CROP]
    way = crop.ways[0]

    def engine():
        return seasons(_site(days), crop, way)

    site = _site(days)
    table = naive.day_table(site, crop, way)
    # start days spread over the year, taken from the middle of the record
    begin = 365 * (size.years // 2)
    starts = begin + (np.arange(size.starts) * 365) // size.starts
    walked: dict[int, naive.Season] = {}

    def loop():
        for start in starts:
            walked[int(start)] = naive.walk_one_start(table, crop, way, table["date"].iloc[start])

    here, there = side_by_side(engine, loop, repeats=max(size.repeats // 3, 1))
    differing = naive.differing_dates(site, crop, way, walked)
    if differing:
        raise AssertionError(f"dates differ on {len(differing)} start days; the first: {differing[0]}")
    return Row(
        f"one crop ({CROP}), every start day of {size.years} years, all hazards, from bare days",
        f"the loop in pandas, {size.starts} starts, scaled",
        here,
        there * days.time.size / size.starts,
        least=10_000,
    )


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
        # no sum of days to 0.1 degC meets it exactly: there xclim waits another day
        need = 0.5 * (crop.ways[0].thermal_time_low + crop.ways[0].thermal_time_high) + 0.37 * k + 0.0123
        out.append((crop.growth.base_temperature, crop.growth.upper_threshold, need))
    return out


def _dates_by_sine(days: Days, needs: Sequence[tuple[float, float, float]]) -> list[np.ndarray]:
    """Day on which each crop's thermal time is met, from every start day: one running sum a pair of thresholds."""
    start = np.arange(days.time.size)
    kept: dict[tuple[float, float], np.ndarray] = {}
    out = []
    for base, upper, need in needs:
        if (base, upper) not in kept:
            kept[base, upper] = prefix(single_sine_horizontal(days.tasmin, days.tasmax, base, upper))
        out.append(day_reached(kept[base, upper], start, need))
    return out


def _dates_by_mean(days: Days, needs: Sequence[tuple[float, float, float]]) -> list[np.ndarray]:
    """The same by xclim's degree days: of the daily mean, with no upper threshold."""
    start = np.arange(days.time.size)
    kept: dict[float, np.ndarray] = {}
    out = []
    for base, _, need in needs:
        if base not in kept:
            daily = growing_degree_days(days.tasmin, days.tasmax, base_temperature=base, method="average_mean")
            kept[base] = prefix(daily)
        out.append(day_reached(kept[base], start, need))
    return out


class _Exceedance:
    """xclim's date on which degree days exceed a sum, for some crops and start days, and the check of its dates."""

    def __init__(self, days: Days, needs: Sequence[tuple[float, float, float]], calls: int):
        self.days, self.needs = days, needs
        self.tas = labelled(days.tas, days, "tas")
        random = np.random.default_rng(5)
        crops = random.integers(0, len(needs), calls)
        # to October, so that most dates fall within xclim's calendar year
        self.asked = [(int(c), int(d)) for c, d in zip(crops, random.integers(0, 280, calls), strict=True)]
        self.found: dict[tuple[int, int], np.ndarray] = {}

    def __call__(self) -> None:
        indices = xclim_indices()
        for crop, day in self.asked:
            base, _, need = self.needs[crop]
            after = str(np.datetime64("2001-01-01") + day)[5:]
            self.found[crop, day] = indices.degree_days_exceedance_date(
                self.tas, thresh=f"{base} degC", sum_thresh=f"{need} K days", op=">", after_date=after, freq="YS"
            ).values

    def check(self, ours: Sequence[np.ndarray]) -> int:
        """Compare date by date; the number of dates compared."""
        time = self.days.time
        years = np.unique(time.astype("datetime64[Y]"))
        compared = 0
        for (crop, day), theirs in self.found.items():
            for year, value in zip(years, theirs, strict=True):
                first = year.astype("datetime64[D]")
                month_day = np.datetime64("2001-01-01") + day
                start = int((np.datetime64(f"{year}-{str(month_day)[5:]}") - time[0]).astype(int))
                reached = int(ours[crop][start])
                in_year = reached < time.size and time[reached] < (year + 1).astype("datetime64[D]")
                expected = first + int(value) - 1 if np.isfinite(value) else None
                if in_year != (expected is not None) or (in_year and time[reached] != expected):
                    here = time[reached] if in_year else "not within the year"
                    raise AssertionError(f"need {self.needs[crop]} from {time[start]}: {here}, xclim {expected}")
                compared += in_year
        return compared


def _many_crops(days: Days, size: Size) -> list[Row]:
    many, few = size.crops
    crops = _chosen(many)
    needs = _needs(crops)
    exceedance = _Exceedance(days, needs, size.calls)
    slow = max(size.repeats // 3, 1)
    dates, theirs = side_by_side(lambda: _dates_by_mean(days, needs), exceedance, repeats=slow)
    if not exceedance.check(_dates_by_mean(days, needs)):
        raise AssertionError("no date could be compared with xclim's")
    theirs = theirs / size.calls * many * 365

    pairs = sorted({(base, upper) for base, upper, _ in needs})

    def one_pass():
        for base, upper in pairs:
            single_sine_horizontal(days.tasmin, days.tasmax, base, upper)

    bare, sine, sine_few = side_by_side(
        one_pass,
        lambda: _dates_by_sine(days, needs),
        lambda: _dates_by_sine(days, needs[:few]),
        repeats=size.repeats,
    )
    whole, whole_few = side_by_side(
        lambda: crop_seasons(_site(days), crops), lambda: crop_seasons(_site(days), crops[:few]), repeats=slow
    )
    xclim = f"xclim's degree-days exceedance date, {size.calls} calls, scaled to crops x 365"
    passes = f"one numpy pass of single-sine degree days for their {len(pairs)} pairs of thresholds"
    ways = sum(len(c.ways) for c in crops)
    full = f"{many} crops ({ways} ways), every start day, all hazards, windows and odds"
    return [
        Row(f"{many} crops, every start day of {size.years} years: dates of the same degree days", xclim, dates, theirs,
            least=100_000),
        Row(full, xclim, whole, theirs, least=100_000),
        Row(f"{many} crops, every start day: dates of single-sine degree days", passes, sine, bare, most=4),
        Row(full, passes, whole, bare, most=4),
        Row(f"{many} crops, dates", f"{few} crops, dates", sine, sine_few, most=8),
        Row(full, f"{few} crops, the same", whole, whole_few, most=8),
    ]  # fmt: skip
