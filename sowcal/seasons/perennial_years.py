"""A perennial's life, year by year: chill, cold, blossom, heat, warmth, picking.

A year here is one growing year with the cold season before it: it runs from the first of September (first of
March in the south) before its spring to the midwinter after its autumn, and is named after its spring.
Every share is between 0 and 1; the yield of a year is their product.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from sowcal.crops.tables import Crop, Perennial, known
from sowcal.seasons.site_days import CHILL_MODELS, SiteDays
from sowcal.seasons.sums import (
    chill_ends,
    chill_needed,
    chill_row,
    flowers_killed,
    logistic_survival,
    next_day_where,
    prefix,
    ramp,
)

__all__ = [
    "PerennialYears",
    "at_chill_end",
    "chill_by_model",
    "perennial_years",
    "span_days",
    "whole_years",
]

# month and day (for the north) at which each part of the year begins and ends
_PARTS = {
    "cold": ((-1, 9, 1), (0, 3, 1)),
    "winter": ((-1, 12, 1), (0, 3, 1)),
    "growing": ((0, 3, 1), (0, 11, 1)),
    "warm": ((0, 4, 1), (0, 11, 1)),
    "summer": ((0, 6, 1), (0, 9, 1)),
    "whole": ((-1, 9, 1), (1, 1, 1)),
}
_INTO_SPRING = 31  # days of spring in which chill goes on counting: common practice
_NO_CROP_BELOW = 0.6  # share of the chill that a sort asks for below which it bears nothing: common practice, no source
_OF_A_WINTER = 0.8  # share of a winter's chill that a sort planted there asks for: common practice, no source
_MILD_COSTS = 0.3  # most of a crop that a winter too mild by its mean takes; none was found denied by it: memory
_TOP_COSTS = 0.9  # most of a crop that cold takes with leaves, buds or top growth: common practice, no source
_COHORTS, _OPEN, _SET = 8, 4, 30  # groups of flowers, days that each is open, days until fruit is past frost: memory
# rain that wets buds for twelve hours or more, mm, and the daily mean under which that infects them, degC: 3 mm (Rossi
# et al. 2006 as quoted) and 61 degF (Rutgers Plant & Pest Advisory, peach leaf curl); shares of such days that cost
# nothing and the most: judgement
_WETS, _COOL, _WET_SHARE = 3.0, 16.0, (0.12, 0.35)
_PAST_MIDSUMMER = 62  # days after which cool or short days mean autumn, from the first of summer: common practice
_PARTS_PICKED = (0.1, 0.3, 0.5, 0.7, 0.9)  # of a picking, of fruit that hangs into cold: common practice
_LATER = 1.25  # of the longest printed time to harvest, which cool seasons may take: common practice, no source
_HEAT_BASE = 10.0  # degC, of heat sums: Winkler's regions, and Salinger & Kenny 1995 on kiwifruit (abstract)
_COOLER = 3.0  # degC short of the least summer where nothing ripens: common practice, no source
_BEYOND = 10**9  # day index of what lies beyond the record, on a day that it does not tell
_USUAL = 22.0  # degC, mean of a season for which days to harvest are printed, at most: common practice, no source


@dataclass
class PerennialYears:
    """One crop through every growing year of a record; arrays of shape (years,), NaN where undecided.

    Attributes
    ----------
    years : numpy.ndarray
        Calendar year of each spring.
    first_date : numpy.datetime64
        Date of day index 0.
    shares : dict
        Share left by each hazard, by the hazard's name (`winter kill`, `heat` and so on).
    alive : numpy.ndarray
        Share of plants that live through the year.
    crop : numpy.ndarray
        Share of the attainable crop.
    figures : dict
        What was held against the limits: chill, coldest night, summer mean, hottest spell.
    first, last : numpy.ndarray
        Day index of first and last picking.
    growth : numpy.ndarray
        Day index of bloom, or of new growth where nothing is known of blossom.
    leaves : numpy.ndarray
        Day index from which tender growth is out: that of `growth`, or later where a tree blooms on bare wood.
    winter_growth : numpy.ndarray
        Share of its growth that the warmth of winter leaves to a plant that the summer kills.
    limits : dict
        Table and column of the limit that each hazard rests on here.
    """

    years: np.ndarray
    first_date: np.datetime64
    shares: dict[str, np.ndarray] = field(default_factory=dict)
    alive: np.ndarray = field(default_factory=lambda: np.ones(0))
    crop: np.ndarray = field(default_factory=lambda: np.ones(0))
    figures: dict[str, np.ndarray] = field(default_factory=dict)
    first: np.ndarray = field(default_factory=lambda: np.zeros(0))
    last: np.ndarray = field(default_factory=lambda: np.zeros(0))
    growth: np.ndarray = field(default_factory=lambda: np.zeros(0))
    leaves: np.ndarray = field(default_factory=lambda: np.zeros(0))
    winter_growth: np.ndarray = field(default_factory=lambda: np.ones(1))
    limits: dict[str, tuple[str, str]] = field(default_factory=dict)


def span_days(site: SiteDays, years: np.ndarray, part: str) -> tuple[np.ndarray, np.ndarray]:
    """First day and day after the last of a part of each year, as day indices that may lie off the record."""
    return site.keep(("span", part, years.tobytes()), lambda: _span_days(site, years, part))


def _span_days(site: SiteDays, years: np.ndarray, part: str) -> tuple[np.ndarray, np.ndarray]:
    behind = 6 if site.latitude < 0 else 0  # months by which the southern year is
    ends = []
    for shift, month, day in _PARTS[part]:
        months = (years + shift - 1970).astype("datetime64[Y]").astype("datetime64[M]") + (month - 1 + behind)
        ends.append((months.astype("datetime64[D]") + (day - 1) - site.dates[0]).astype(int))
    return ends[0], ends[1]


def chill_by_model(site: SiteDays, years: np.ndarray) -> dict[str, np.ndarray]:
    """Chill of each year's cold season by every model, shape (years,) each.

    The models part in warm winters: hours count no day above 7.2 degC, Utah units take back what warm days
    undo, portions keep what a cool spell has fixed. None is converted into another.
    """
    i, j = (_clip(site, d) for d in span_days(site, years, "cold"))
    j = _clip(site, j + _INTO_SPRING)
    return {model: (total := site.chill(model))[j] - total[i] for model in CHILL_MODELS}


def _clip(site: SiteDays, day: np.ndarray) -> np.ndarray:
    return np.minimum(np.maximum(day, 0), site.size)  # a third of the time of `numpy.clip` on some thirty years


def whole_years(site: SiteDays) -> np.ndarray:
    """Growing years that lie whole within the record."""
    years = np.arange(site.year[0], site.year[-1] + 1)
    begin, end = span_days(site, years, "whole")
    return years[(begin >= 0) & (end <= site.size)]


def perennial_years(site: SiteDays, crop: Crop) -> PerennialYears:
    """Ask every year of the record how a perennial fares; the crop has a row in table perennials."""
    return site.keep(("perennial", crop), lambda: _perennial_years(site, crop))


def _perennial_years(site: SiteDays, crop: Crop) -> PerennialYears:
    assert crop.perennial is not None
    years = whole_years(site)
    begin, end = span_days(site, years, "whole")
    out = PerennialYears(years, site.dates[0])
    rest_ends = _chill(site, crop, years, out)
    starts = _new_growth(site, crop, years, rest_ends, out)
    out.growth = starts
    out.leaves = np.maximum(starts, _budburst(site, crop.perennial, rest_ends, starts))
    _picking(site, crop, starts, out)
    _cold(site, crop, years, starts, out)
    _summer(site, crop, years, out)
    if known(crop.perennial.killing_fruit):  # fruit that hangs into another winter
        end = np.maximum(end, _picked_by(site, out, _PARTS_PICKED[-1]) + 1)
    undecided = (end > site.size) | (out.first >= _BEYOND) | site.touches_missing(begin, _clip(site, end))
    alive = out.shares["winter kill"] * out.shares["summer kill"]
    out.alive = np.where(undecided, np.nan, alive)
    out.crop = np.where(undecided, np.nan, _crop_left(out.shares, years.size))
    return out


def _crop_left(shares: dict[str, np.ndarray], years: int) -> np.ndarray:
    left = np.ones(years)
    for share in shares.values():
        left = left * share
    return left


def at_chill_end(years: PerennialYears, crop: Crop) -> PerennialYears:
    """The same years of a crop judged at another end of what is known of its chill, on which no date hangs."""
    shares = {**years.shares, **_shares_of_chill(crop, years)}
    left = np.where(np.isnan(years.crop), np.nan, _crop_left(shares, years.years.size))
    return replace(years, shares=shares, crop=left)


def _chill(site: SiteDays, crop: Crop, years: np.ndarray, out: PerennialYears) -> np.ndarray:
    """Day on which rest ends; part of the chill gives part of the crop.

    A sum of chill and a mean of the winter measure one need: each year only the harsher of the two takes its share,
    and under its own name, for a winter may be too mild by its mean and yet have all the chill that was asked for.
    Rest ends when the sort that suits the place has its chill: one that asks for four fifths of what the winter has,
    within the range of its kind, for where there is chill to spare more demanding sorts are planted, which bloom later.
    Wood rests until winter begins, when its leaves are down (common practice): warmth before opens no bud.
    """
    i, j = (_clip(site, d) for d in span_days(site, years, "cold"))
    midwinter = i + (2 * (j - i)) // 3
    need, p = chill_row(crop), crop.perennial
    assert p is not None
    ends = midwinter
    if need and known(chill_needed(crop)):
        total = site.chill(need.model)
        reach = _clip(site, j + _INTO_SPRING)
        gathered = total[reach] - total[i]
        out.limits["chill unmet"] = ("chill", "judged_low")
        least = 0.5 * sum(chill_ends(need))
        planted = np.clip(_OF_A_WINTER * gathered, least, max(need.need_high, least))
        met = np.searchsorted(total, total[i] + planted - 1e-6, side="left") - 1
        bare = i if p.habit == "herb" else _clip(site, span_days(site, years, "winter")[0])
        ends = np.minimum(np.maximum(met, bare), reach)
        out.figures["chill"] = gathered
    if known(p.winter_mean_best, p.winter_mean_most):
        out.figures["winter mean"] = _mean(site, years, "winter")
        out.limits["winter too mild"] = ("perennials", "winter_mean_best")
    out.shares |= _shares_of_chill(crop, out)
    return ends


def _shares_of_chill(crop: Crop, out: PerennialYears) -> dict[str, np.ndarray]:
    """Share that too little chill, or too mild a winter, leaves of each year's crop."""
    p, by_sum, by_mean, shares = crop.perennial, np.ones(out.years.size), np.ones(out.years.size), {}
    assert p is not None
    if "chill unmet" in out.limits:
        by_sum = ramp(out.figures["chill"] / chill_needed(crop), _NO_CROP_BELOW, 1.0)
    if "winter too mild" in out.limits:
        by_mean -= _MILD_COSTS * (1.0 - ramp(out.figures["winter mean"], p.winter_mean_most, p.winter_mean_best))
        shares["winter too mild"] = np.where(by_mean < by_sum, by_mean, 1.0)
    if "chill unmet" in out.limits:
        shares = {"chill unmet": np.where(by_sum <= by_mean, by_sum, 1.0), **shares}
    return shares


def _mean(site: SiteDays, years: np.ndarray, part: str) -> np.ndarray:
    total = site.keep(("tas",), lambda: prefix(site.tas))
    i, j = (_clip(site, d) for d in span_days(site, years, part))
    return (total[j] - total[i]) / np.maximum(j - i, 1)


def _new_growth(
    site: SiteDays, crop: Crop, years: np.ndarray, rest_ends: np.ndarray, out: PerennialYears
) -> np.ndarray:
    """Day of bloom, or of new growth where nothing is known of blossom; frost on blossom on the way."""
    b, p = crop.blossom, crop.perennial
    assert p is not None
    if b is not None and known(b.heat_to_bloom):
        heat, need = site.growing_degree_hours, b.heat_to_bloom
        bloom = np.searchsorted(heat, heat[_clip(site, rest_ends)] + need, side="left") - 1
        swell = np.searchsorted(heat, heat[_clip(site, rest_ends)] + 0.6 * need, side="left") - 1
        bloom, swell = _clip(site, bloom), _clip(site, swell)
        _frost_on_blossom(site, crop, swell, bloom, out)
        _wet_spring(site, b.wet_spring_loss, swell, bloom, out)
        out.figures["bloom"] = bloom.astype(float)
        return bloom
    return _budburst(site, p, rest_ends, _clip(site, span_days(site, years, "growing")[0]))


def _budburst(site: SiteDays, p: Perennial, rest_ends: np.ndarray, unknown: np.ndarray) -> np.ndarray:
    """Day of new growth by thermal time after rest; `unknown` where that is not known."""
    if not known(p.budburst_thermal_time, p.base_temperature, p.upper_threshold):
        return unknown
    total = site.thermal_time(p.base_temperature, p.upper_threshold, np.nan)
    first = _clip(site, rest_ends)
    return _clip(site, np.searchsorted(total, total[first] + p.budburst_thermal_time, side="left") - 1)


def _frost_on_blossom(site: SiteDays, crop: Crop, swell: np.ndarray, bloom: np.ndarray, out: PerennialYears) -> None:
    """Share of the crop left after the coldest night of bud swell, bloom and young fruit."""
    b = crop.blossom
    assert b is not None
    days = int(b.bloom_days) if known(b.bloom_days) else 10
    # flowers open one after another: what is open, in bud and set on a cold night is killed by its own limit
    cohorts = max(1, min(_COHORTS, days // _OPEN))
    opens = bloom - days // 2 + (np.arange(cohorts) * days)[:, None] // cohorts  # a row for each of them
    fades = opens + max(days // cohorts, 1)
    lives = np.ones(opens.shape)
    for i, j, kill_10, kill_90 in (
        (swell, opens, b.kill_10_bud, b.kill_90_bud),
        (opens, fades, b.kill_10_bloom, b.kill_90_bloom),
        (fades, fades + _SET, b.kill_10_fruitlet, b.kill_90_fruitlet),
    ):
        if known(kill_10, kill_90):
            begin = _clip(site, i)
            lowest = site.coldest_air(begin, np.maximum(_clip(site, j), begin))
            lives = lives * (1.0 - flowers_killed(lowest, kill_10, kill_90))
    left = np.zeros(bloom.size)
    for row in lives:  # one after the other, so that few years add up as many do
        left += row / cohorts
    out.limits["frost on blossom"] = ("blossom", "kill_10_bloom")
    # half the flowers carry a full crop (thinning removes as many): common practice, no source
    out.shares["frost on blossom"] = ramp(left, 0.0, 0.5)


def _wet_spring(site: SiteDays, most: float, swell: np.ndarray, bloom: np.ndarray, out: PerennialYears) -> None:
    """What leaf curl and rot of blossom take of an unsprayed tree, by the cool rainy days from swell to set."""
    if not most > 0 or site.rain is None:
        return
    wet = np.where(np.isfinite(site.rain), (site.rain >= _WETS) & (site.tas < _COOL), np.nan)
    known_days = prefix(np.isfinite(wet).astype(float))
    total = prefix(np.nan_to_num(wet))
    i, j = swell, _clip(site, bloom + _SET)
    share = (total[j] - total[i]) / np.maximum(known_days[j] - known_days[i], 1.0)
    out.limits["wet spring"] = ("blossom", "wet_spring_loss")
    out.shares["wet spring"] = 1.0 - most * ramp(share, *_WET_SHARE)


def _cold(site: SiteDays, crop: Crop, years: np.ndarray, starts: np.ndarray, out: PerennialYears) -> None:
    """What kills, what takes the leaves or the top, and what cuts back growth: only the first is told as death."""
    p = crop.perennial
    assert p is not None
    coldest = site.coldest_air
    i, j = (_clip(site, d) for d in span_days(site, years, "cold"))
    at_rest = coldest(i, np.maximum(np.minimum(starts, j + 30), i + 1))
    out.figures["coldest"] = at_rest
    left = np.ones(years.size)
    out.limits["winter kill"] = ("perennials", "killing_dormant")
    if known(p.killing_dormant):
        left = logistic_survival(at_rest, p.killing_dormant, 1.0)
    out.shares["winter kill"] = left
    if known(p.killing_growing):  # what is cut back sprouts again, and half the crop is lost at worst
        _, autumn = span_days(site, years, "growing")
        if p.picked_when in ("bloom", "shoots"):  # what comes after the year's crop is in costs none of it
            autumn = np.minimum(autumn, out.last.astype(int))
        growing = coldest(_clip(site, out.leaves), _clip(site, np.maximum(autumn, out.leaves + 1)))
        _frost(out, 0.5 * logistic_survival(growing, p.killing_growing, 0.7) + 0.5, "killing_growing")
    if known(p.killing_top):
        lives = logistic_survival(at_rest, p.killing_top, 0.7)
        _frost(out, 1.0 - _TOP_COSTS * (1.0 - lives), "killing_top")
    if known(p.killing_fruit):
        most = p.fruit_loss if known(p.fruit_loss) else 1.0
        lives = _hanging_lives(site, out, starts + _SET, p.killing_fruit)
        _frost(out, 1.0 - most * (1.0 - lives), "killing_fruit")


def _hanging_lives(site: SiteDays, out: PerennialYears, grown: np.ndarray, limit: float) -> np.ndarray:
    """Share of each year's fruit that cold leaves: it is picked bit by bit, and only what still hangs is lost."""
    begin = _clip(site, np.minimum(grown, out.first.astype(int) - 30))
    lives = np.zeros(out.years.size)
    for part in _PARTS_PICKED:
        picked = _clip(site, _picked_by(site, out, part))
        lives += logistic_survival(site.coldest_air(begin, np.maximum(picked, begin)), limit, 0.7)
    return lives / len(_PARTS_PICKED)


def _picked_by(site: SiteDays, out: PerennialYears, part: float) -> np.ndarray:
    """Day index by which a part of each year's fruit is picked; what hangs for another whole year is given up then."""
    _, end = span_days(site, out.years, "whole")
    return np.minimum(out.first + part * (out.last - out.first), end + 365).astype(int)


def _frost(out: PerennialYears, left: np.ndarray, limit: str) -> None:
    """One more thing that frost does to a crop: the worst of them counts, and the one that costs most is the limit."""
    before = out.shares.get("frost")
    if before is None or left.sum() < before.sum():
        out.limits["frost"] = ("perennials", limit)
    out.shares["frost"] = left if before is None else np.minimum(before, left)


def _summer(site: SiteDays, crop: Crop, years: np.ndarray, out: PerennialYears) -> None:
    p = crop.perennial
    assert p is not None
    mean = _mean(site, years, "summer")
    out.figures["summer mean"] = mean
    left = np.ones(years.size)
    decides = "summer_mean_most"
    if known(p.summer_mean_best, p.summer_mean_most):
        left = ramp(mean - site.crown_relief, p.summer_mean_most, p.summer_mean_best)
        winter = _mean(site, years, "winter") - site.crown_relief
        out.winter_growth = ramp(winter, p.summer_mean_most, p.summer_mean_best)
    if known(p.heat_kills, p.heat_kill_days):
        run = _longest_run(site, years, p.heat_kills + site.crown_relief)
        out.figures["hottest spell"] = run
        spell = ramp(run, 2.0 * p.heat_kill_days, 0.5 * p.heat_kill_days)
        decides = "heat_kills" if spell.sum() < left.sum() else "summer_mean_most"
        left = np.minimum(left, spell)
    # growth is lost before life is: half of the plants die where a quarter of the growth is left, and one that can rest
    # through the heat has half a crop from the seasons beside it (common practice, no source)
    rests = p.summer_rest == "yes"
    out.shares["summer kill"] = ramp(left, 0.0, 0.5)
    grows = 0.5 + 0.5 * left if rests else left
    out.limits["heat"] = ("perennials", decides)
    if known(p.heat_stops) and not rests:
        i, j = span_days(site, years, "growing")
        if p.picked_when == "bloom":  # while this year's fruit grows
            i, j = out.growth, np.minimum(out.last.astype(int), j)
        idle = _share_above(site, i, j, p.heat_stops + site.crown_relief)
        if (1.0 - idle).sum() < grows.sum():
            out.limits["heat"] = ("perennials", "heat_stops")
        grows = np.minimum(grows, 1.0 - idle)
    out.shares["heat"] = grows
    out.limits["summer kill"] = ("perennials", decides)
    if known(p.heat_sum_least, p.heat_sum_best):
        out.figures["heat sum"] = total = _heat_sum(site, years)
        out.limits["too slow"] = ("perennials", "heat_sum_best")
        out.shares["too slow"] = ramp(total, p.heat_sum_least, p.heat_sum_best)
    elif known(p.summer_mean_least):
        out.limits["too slow"] = ("perennials", "summer_mean_least")
        out.shares["too slow"] = ramp(mean, p.summer_mean_least - _COOLER, p.summer_mean_least)


def _heat_sum(site: SiteDays, years: np.ndarray) -> np.ndarray:
    """Degree days of the daily mean above 10 degC, April to October in the north, October to April in the south."""
    total = site.keep(("heat sum",), lambda: prefix(np.maximum(np.nan_to_num(site.tas) - _HEAT_BASE, 0.0)))
    i, j = (_clip(site, d) for d in span_days(site, years, "warm"))
    return total[j] - total[i]


def _share_above(site: SiteDays, start: np.ndarray, end: np.ndarray, limit: float) -> np.ndarray:
    """Share of the days of each span whose maximum lies above a limit."""
    total = site.days_above("tasmax", limit)
    i, j = _clip(site, start), _clip(site, np.maximum(end, start))
    return (total[j] - total[i]) / np.maximum(j - i, 1)


def _longest_run(site: SiteDays, years: np.ndarray, limit: float) -> np.ndarray:
    """Longest run of days with the maximum above a limit, in each year's growing half."""

    def make() -> np.ndarray:
        run = site.hot_run(limit)
        i, j = (_clip(site, d) for d in span_days(site, years, "growing"))
        return np.array([run[a:b].max(initial=0) for a, b in zip(i, j, strict=True)], dtype=float)

    return site.keep(("longest hot run", limit, years.tobytes()), make)


def _first_picking(site: SiteDays, crop: Crop, starts: np.ndarray, years: np.ndarray) -> np.ndarray:
    """Day index of the first picking: by thermal time from bloom or new growth.

    Days to harvest are printed as a range, for usual seasons; each sort's are taken as the thermal time of so many days
    at the mean of the summers that the crop likes. What hangs into winter goes by the days alone where no thermal time
    of its own is told, for they span its winter.
    """
    p, b = crop.perennial, crop.blossom
    assert p is not None
    by_days = p.picked_when in ("bloom", "winter") and b is not None and known(b.days_to_harvest_low)
    warmth = p.picking_thermal_time
    if p.picked_when == "autumn":
        starts = _autumn(site, p, years)
    if by_days and b is not None:
        middle = 0.5 * (b.days_to_harvest_low + b.days_to_harvest_high)
        if p.picked_when == "winter" and not known(warmth):
            return starts + int(middle)
        usual = min(0.5 * (p.summer_mean_least + p.summer_mean_best), _USUAL)
        warmth = warmth if known(warmth) else middle * (usual - p.base_temperature)
        return _sorts_picked(site, crop, starts, years, warmth / middle)
    if not known(warmth, p.base_temperature, p.upper_threshold):
        return starts
    return _reached(site, p, starts, warmth)


def _reached(site: SiteDays, p: Perennial, starts: np.ndarray, warmth: float | np.ndarray) -> np.ndarray:
    total = site.thermal_time(p.base_temperature, p.upper_threshold, np.nan)
    return np.maximum(np.searchsorted(total, total[_clip(site, starts)] + warmth, side="left") - 1, starts)


def _sorts_picked(site: SiteDays, crop: Crop, starts: np.ndarray, years: np.ndarray, a_day: float) -> np.ndarray:
    """First picking of the middle one of the sorts that a year ripens, by the thermal time of a day of a sort's days.

    Where the year's warmth does not ripen late sorts, early ones are picked, the earliest of all if need be. Fruit
    follows the warmth of its season by half: the date is the geometric mean of a sort's days and of the days that its
    thermal time takes here, the year's end at the latest, from the shortest that is printed to a fourth more than the
    longest (common practice, no source).
    """
    p, b = crop.perennial, crop.blossom
    assert p is not None
    assert b is not None
    low, high, hangs = b.days_to_harvest_low, b.days_to_harvest_high, p.picked_when == "winter"
    end = span_days(site, years, "whole")[1]
    total = site.thermal_time(p.base_temperature, p.upper_threshold, np.nan)
    ripens = (total[_clip(site, end)] - total[_clip(site, starts)]) / a_day
    middle, latest = 0.5 * (low + (high if hangs else np.clip(ripens, low, high))), _LATER * high
    warm = _reached(site, p, starts, a_day * middle)
    days = np.sqrt(np.maximum((warm if hangs else np.minimum(warm, end)) - starts, 1) * middle)
    # where the record ends before the warmth is reached, the date lies beyond it, unless it can be no later
    beyond = hangs & (warm >= site.size - 1) & (days < latest) & (starts < site.size)
    return np.where(beyond, _BEYOND, starts + np.clip(days, low, latest).astype(int))


def _autumn(site: SiteDays, p: Perennial, years: np.ndarray) -> np.ndarray:
    """Day index on which it flowers: once a fortnight is cool, or days are short, after midsummer."""
    total, mean = prefix(site.tas), np.full(site.size, np.inf)
    mean[13:] = (total[14:] - total[:-14]) / 14.0
    # what is not known is NaN, and no day lies below it
    comes = next_day_where((mean < p.autumn_mean) | (site.day_length < p.autumn_day_length))
    return comes[_clip(site, span_days(site, years, "summer")[0] + _PAST_MIDSUMMER)]


def _picking(site: SiteDays, crop: Crop, starts: np.ndarray, out: PerennialYears) -> None:
    """First and last picking of each year."""
    p = crop.perennial
    assert p is not None
    length = p.picking_days if known(p.picking_days) else 30.0
    first = _first_picking(site, crop, starts, out.years)
    out.first = first.astype(float)
    last = first + int(length)
    if p.picked_when == "shoots" and known(p.heat_stops):
        hot = site.next_hot_week(p.heat_stops)
        last = np.minimum(last, np.maximum(hot[_clip(site, first)], first + 14))
    out.last = last.astype(float)
