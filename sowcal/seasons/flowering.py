"""Crops that keep flowering: daily cohorts.

What sets today, by today's heat and night, is picked one thermal time later. Yield is the sum of what sets
from first flower until the plant has borne its fill, ages, or is killed; an early crop, a gap in the heat and
an autumn crop is a true answer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sowcal.crops.tables import Flowering, Growth, known
from sowcal.seasons.establishing import first_flower, low_light, slowness
from sowcal.seasons.site_days import SiteDays
from sowcal.seasons.sums import (
    day_reached,
    halving,
    next_day_where,
    place_in,
    prefix,
    ramp,
    span_sum,
    stepped,
    trapezoid,
)
from sowcal.seasons.walk import Losses, Walk, hardens

__all__ = ["MONTH_BEFORE", "Setting", "daily_setting", "flowering_crop"]

MONTH_BEFORE = 29  # days before one at which the cold that stops setting is looked for
_SLOWEST = 4.0  # degC d a day; fruit that gathers less spoils or stays small

_CAUSES = ("heat", "warm nights", "chilling", "frost")
_SETS_BELOW = 3.0  # degrees that the month may be below the least published for the crop and all still sets: judgement
# What is borne first counts most: the last trusses and fruit of a long season are the least, so that a cool summer,
# which brings half of them, brings two thirds of a crop (judgement).
_DIMINISHING = 1.6
_FIRST, _LAST = 0.05, 0.95  # share of the crop set that marks first and last picking


@dataclass(frozen=True, slots=True)
class Setting:
    """Share of flowers that set each day, and the part of the loss owed to each cause, shape (N,)."""

    share: np.ndarray
    causes: dict[str, np.ndarray]


def daily_setting(site: SiteDays, f: Flowering, killing_flower: float) -> Setting:
    """Setting by the day's maximum, the night's minimum and frost on the flowers.

    Heat spoils pollen, so the day itself counts; in the cool a flower that lasts some days waits for the best of them.
    """
    days = int(f.flower_days) if known(f.flower_days) else 1
    warmest, mildest = _best_within(site.tasmax, days), _best_within(site.tasmin, days)
    hot = trapezoid(site.tasmax, np.nan, np.nan, f.day_full_below, f.day_none_above)
    cool = trapezoid(warmest, f.day_none_below, f.day_full_above, np.nan, np.nan)
    warm_night = trapezoid(site.tasmin, np.nan, np.nan, f.night_full_below, f.night_none_above)
    cool_night = trapezoid(mildest, f.night_none_below, f.night_full_above, np.nan, np.nan)
    share = hot * cool * warm_night * cool_night
    causes = {"heat": hot, "warm nights": warm_night, "chilling": cool * cool_night}
    if known(killing_flower):
        alive = (site.tissue_minimum > killing_flower).astype(float)
        share = share * alive
        causes["frost"] = alive
    return Setting(share, causes)


def _best_within(x: np.ndarray, days: int) -> np.ndarray:
    """The highest value of each day and those that follow it, `days` in all."""
    out = x.copy()
    for ahead in range(1, days):
        out[:-ahead] = np.fmax(out[:-ahead], x[ahead:])
    return out


def _in_season(site: SiteDays, growth: Growth, setting: Setting) -> Setting:
    """The same, less what sets out of season.

    Above the published monthly means as for crops cut whole (half at the greatest). The least mean says where a crop
    is worth growing, not where it stops setting, which the limits of days and nights tell already: in the cool all
    sets down to three degrees below it, nothing four degrees below that (common practice, no source). Hot days and
    warm months are one strain, cool days and cool months another: of each the worse counts.
    """
    share, causes = setting.share, dict(setting.causes)
    if known(growth.range_minimum):
        cool = ramp(site.month_mean, growth.range_minimum - _SETS_BELOW - 4.0, growth.range_minimum - _SETS_BELOW)
        worse = np.minimum(cool / np.maximum(causes["chilling"], 1e-9), 1.0)
        causes["chilling"] = causes["chilling"] * worse
        share = share * worse
    if known(growth.range_maximum, growth.range_optimum_high):
        warm = ramp(site.month_mean, 2.0 * growth.range_maximum - growth.range_optimum_high, growth.range_optimum_high)
        worse = np.minimum(warm / np.maximum(causes["heat"] * causes["warm nights"], 1e-9), 1.0)
        causes["heat"] = causes["heat"] * worse
        share = share * worse
    return Setting(share, causes)


def _ripening(total: np.ndarray, fruit: float, setting: Setting) -> Setting:
    """The same, less what would hang too long: fruit that gathers less than 4 degC d a day spoils or stays small.

    Common practice, no source: at the base of most crops that is a mean of 8 (cool crops) to 14 degC.
    """
    day = np.arange(setting.share.size)
    slow = np.where(day_reached(total, day, fruit) - day > fruit / _SLOWEST, 0.0, 1.0)
    causes = dict(setting.causes)
    causes["chilling"] = causes["chilling"] * slow
    return Setting(setting.share * slow, causes)


def _next_end_of_setting(site: SiteDays, left_by_cold: np.ndarray) -> np.ndarray:
    """For every day the next on which a tender plant that frost spares has set its last, shape (N + 1,).

    Once, in shortening days, cold has let next to nothing set and ripen for a month, it does not set again in
    spring (common practice, no source).
    """
    last_month = prefix(left_by_cold)
    day = np.arange(site.size)
    mean = (last_month[1:] - last_month[np.maximum(day - MONTH_BEFORE, 0)]) / np.minimum(day + 1, MONTH_BEFORE + 1)
    return next_day_where((mean < 0.02) & (np.gradient(site.day_length) < 0))


def _sums_of_setting(walk: Walk, flowering: Flowering) -> np.ndarray:
    """Running sum of what sets, the next end of setting, running sums of what each cause takes; shape (K, N + 1)."""
    site, crop = walk.site, walk.crop
    thermal = np.diff(walk.total)
    setting = daily_setting(site, flowering, crop.cold.killing_flower)
    setting = _in_season(site, crop.growth, setting)
    setting = _ripening(walk.total, flowering.fruit_thermal_time, setting)
    out = np.zeros((2 + len(_CAUSES), site.size + 1))
    out[0] = prefix(setting.share * thermal)
    out[1] = _next_end_of_setting(site, setting.causes["chilling"])
    for row, cause in zip(out[2:], _CAUSES, strict=True):
        if cause in setting.causes:
            row[:] = prefix((1.0 - setting.causes[cause]) * thermal)
    return out


def flowering_crop(walk: Walk, losses: Losses) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """First picking, last picking and last day judged, for every start day; losses by hazard on the way."""
    site, crop = walk.site, walk.crop
    f = crop.flowering
    assert f is not None
    n = site.size
    full = f.flowering_thermal_time
    key = ("setting", f, crop.cold.killing_flower, crop.growth)
    sums = site.keep(key, lambda: _sums_of_setting(walk, f))
    set_total, lost_to = sums[0], sums[2:]
    flower = first_flower(walk)
    killed = _killed(walk, flower)
    ripens_by = place_in(walk.total, walk.total[killed] - stepped(f.fruit_thermal_time), "right") - 1
    aging = f.aging_thermal_time if known(f.aging_thermal_time) else 2.0 * full
    ages = walk.gathered(flower, aging)
    filled = site.keep((*key, "filled"), lambda: day_reached(set_total, np.arange(n + 1), full))[flower]
    stop = np.minimum(np.minimum(ages, filled) + 1, np.maximum(ripens_by, flower))
    chilled = np.full(site.starts.size, n)
    if crop.cold.frost_class in ("tender", "very tender"):
        chilled = sums[1][flower].astype(int)
    stop = np.clip(np.minimum(stop, chilled), flower, n)
    borne = span_sum(set_total, flower, stop)
    fraction = 1.0 - (1.0 - np.minimum(borne / full, 1.0)) ** _DIMINISHING
    late = flower >= walk.horizon  # what flowers only when the season is given up bears nothing
    fraction = np.where(late, 1.0, fraction)
    cut = np.where(killed < ages, np.maximum(walk.total[flower] + aging - walk.total[stop], 0.0), 0.0)
    _name_losses(walk, losses, fraction, flower, np.minimum(ages, killed), cut, lost_to)
    _checks(walk, losses, flower)
    first = _ripe(walk, set_total, flower, _FIRST * borne, f.fruit_thermal_time)
    last = _ripe(walk, set_total, flower, _LAST * borne, f.fruit_thermal_time)
    # the light of days after the plants are dead costs nothing
    low_light(walk, flower, np.clip(np.minimum(last, killed), flower, n), losses)
    slowness(walk, first, losses)
    losses.take("too slow", np.where(late, 0.0, 1.0))
    # known once the fruit of the last flowers that may set is ripe, or the plants are dead and it is known of their
    # last flowers whether these would have ripened
    last_flowers = np.where(chilled < filled, ages, np.minimum(ages, filled))
    borne_out = walk.gathered(np.minimum(last_flowers + 1, n), f.fruit_thermal_time)
    told = np.minimum(walk.gathered(killed, f.fruit_thermal_time), killed + int(f.fruit_thermal_time / _SLOWEST) + 1)
    judged = np.where(killed < borne_out, told, borne_out)
    return first, last, np.where(late, flower, judged)


def _killed(walk: Walk, flower: np.ndarray) -> np.ndarray:
    """Day on which frost ends the season of a plant in flower."""
    limit = walk.crop.cold.killing_grown
    if not known(limit):
        return np.full(walk.site.starts.size, walk.site.size)
    return walk.site.next_tissue_below(limit, hardens(walk.crop.cold))[flower]


def _name_losses(
    walk: Walk,
    losses: Losses,
    fraction: np.ndarray,
    flower: np.ndarray,
    end: np.ndarray,
    cut: np.ndarray,
    lost_to: np.ndarray,
) -> None:
    """Book what was not borne to the hazard that lost most of it until the end; frost also lost what it cut off."""
    span = np.minimum(np.maximum(end, flower), walk.site.size)
    parts = np.stack([span_sum(cause, flower, span) for cause in lost_to])
    parts[_CAUSES.index("frost")] += cut
    worst = parts.argmax(axis=0)
    for k, hazard in enumerate(_CAUSES):
        losses.take(hazard, np.where(worst == k, fraction, 1.0))


def _checks(walk: Walk, losses: Losses, flower: np.ndarray) -> None:
    """Cold nights that check tender plants before they flower."""
    site, cold = walk.site, walk.crop.cold
    if known(cold.chilling_temperature) and cold.chilling_days_half > 0:
        begin = np.minimum(walk.emerged, site.size)
        nights = span_sum(site.chilled_nights(cold.chilling_temperature), begin, np.maximum(begin, flower))
        losses.take("chilling", halving(nights, cold.chilling_days_half))


def _ripe(walk: Walk, set_total: np.ndarray, flower: np.ndarray, amount: np.ndarray, fruit: float) -> np.ndarray:
    """Day on which the fruit is ripe that brought the sum of setting to an amount."""
    n = walk.site.size
    day = np.minimum(day_reached(set_total, flower, amount), n)
    return np.minimum(walk.gathered(day, fruit), n)
