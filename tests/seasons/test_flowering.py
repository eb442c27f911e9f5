"""Crops that keep flowering: each day's setting, and what a season bears of it, against loops over days."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from by_hand import Told, crop_of, first_where, line, mean_of, place, reached, starts, walk_on

from sowcal.crops.tables import Cold, Flowering, Growth
from sowcal.seasons.flowering import _next_end_of_setting, daily_setting, flowering_crop
from sowcal.seasons.site_days import SiteDays

LAG, HORIZON, NEED = 9, 140, 800.0
FRUIT = Flowering(
    fruit_thermal_time=300.0,
    flowering_thermal_time=350.0,
    aging_thermal_time=600.0,
    day_none_below=10.0,
    day_full_above=16.0,
    day_full_below=27.0,
    day_none_above=36.0,
    night_none_below=2.0,
    night_full_above=9.0,
    night_full_below=18.0,
    night_none_above=26.0,
    flower_days=3.0,
)
GROWTH = Growth(
    base_temperature=5.0,
    habit="flowering",
    range_minimum=13.0,
    range_optimum_high=19.0,
    range_maximum=23.0,
    light_need=14.0,
    days_most=110.0,
)
TENDER = Cold(
    frost_class="tender",
    killing_grown=-0.5,
    killing_flower=0.5,
    chilling_temperature=5.0,
    chilling_days_half=12.0,
)
CROP = crop_of(growth=GROWTH, flowering=FRUIT, cold=TENDER)


def sides(x, none_below, full_above, full_below, none_above):
    """Straight up to the best, straight down from it; a side of which nothing is known does not limit."""
    up = 1.0 if np.isnan(none_below) else line(x, none_below, full_above)
    return up, 1.0 if np.isnan(none_above) else line(x, none_above, full_below)


def set_each_day(site, crop, daily):
    """Share that sets on each day, and what each cause leaves of it."""
    f, g, days = crop.flowering, crop.growth, []
    lasts = 1 if np.isnan(f.flower_days) else int(f.flower_days)
    by_day = (f.day_none_below, f.day_full_above, f.day_full_below, f.day_none_above)
    by_night = (f.night_none_below, f.night_full_above, f.night_full_below, f.night_none_above)
    for d in range(site.size):
        hot = sides(site.tasmax[d], *by_day)[1]
        warm_night = sides(site.tasmin[d], *by_night)[1]
        open_days = slice(d, d + lasts)  # in the cool a flower waits for the best of its days
        cool = sides(max(site.tasmax[open_days]), *by_day)[0] * sides(max(site.tasmin[open_days]), *by_night)[0]
        frost = 1.0
        if not np.isnan(crop.cold.killing_flower):
            frost = float(site.tissue_minimum[d] > crop.cold.killing_flower)
        month = site.month_mean[d]
        heat = hot
        if not np.isnan(g.range_minimum):  # of cool days and cool months the worse
            cool = min(cool, line(month, g.range_minimum - 7.0, g.range_minimum - 3.0))
        if not np.isnan(g.range_maximum):  # of hot days with warm nights and warm months the worse
            none = 2.0 * g.range_maximum - g.range_optimum_high
            both = min(hot * warm_night, line(month, none, g.range_optimum_high))
            heat = both / warm_night if warm_night > 0 else 0.0
        if reached(daily, d, f.fruit_thermal_time) - d > f.fruit_thermal_time / 4.0:
            cool = 0.0  # it would hang too long
        days.append({"heat": heat, "warm nights": warm_night, "chilling": cool, "frost": frost})
    share = [x["heat"] * x["warm nights"] * x["chilling"] * x["frost"] for x in days]
    return share, days


class Season:
    """One start: when it flowers, what it bears, and why not all."""

    def __init__(self, walk, share, causes, start):
        site, crop = walk.site, walk.crop
        f, n, daily = crop.flowering, site.size, np.diff(walk.total)
        horizon, self.up = min(start + HORIZON, n), min(start + LAG, n)
        self.flower = flower = min(reached(daily, self.up, max(NEED - f.fruit_thermal_time, 0.0)), horizon, n)
        felt = site.tissue_minimum if crop.cold.frost_class == "tender" else site.hardened_minimum
        self.killed = killed = first_where(felt < crop.cold.killing_grown, flower)
        aging = 2.0 * f.flowering_thermal_time if np.isnan(f.aging_thermal_time) else f.aging_thermal_time
        self.ages = ages = reached(daily, flower, aging)
        self.borne, self.stop, filled = 0.0, flower, n
        sets = []
        for d in range(flower, n):
            if sum(daily[d + 1 : killed]) < f.fruit_thermal_time:
                break  # it would not be ripe before the frost
            if crop.cold.frost_class == "tender" and self.done(site, causes, d):
                break
            sets.append((d, share[d] * daily[d]))
            self.borne += share[d] * daily[d]
            self.stop = d + 1
            if self.borne >= f.flowering_thermal_time - 1e-6:
                break
            if d >= ages:
                break
        filled = reached([s * t for s, t in zip(share, daily, strict=True)], flower, f.flowering_thermal_time)
        # what is borne first counts most
        self.fraction = 1.0 - (1.0 - min(self.borne / f.flowering_thermal_time, 1.0)) ** 1.6
        self.first, self.last = (
            min(reached(daily, self.day_of(sets, part * self.borne, flower), f.fruit_thermal_time), n)
            for part in (0.05, 0.95)
        )
        self.late = flower >= horizon
        if self.late:
            self.fraction = 1.0  # it is given up for being too slow, and what it might have borne is not asked
        self.judged = flower if self.late else self.known_by(site, causes, daily, crop, min(ages, n), min(filled, n))
        span = min(max(min(ages, killed), flower), n)
        lost = {c: sum((1.0 - causes[d][c]) * daily[d] for d in range(flower, span)) for c in causes[0]}
        if killed < ages:
            lost["frost"] += max(aging - sum(daily[flower : self.stop]), 0.0)
        self.worst = max(lost, key=lost.get)

    def known_by(self, site, causes, daily, crop, ages, filled):
        """Day by which the fruit of the last flowers is ripe, or dead plants' last flowers would have been, or not."""
        fruit, n = crop.flowering.fruit_thermal_time, len(daily)
        chilled = n
        if crop.cold.frost_class == "tender":
            chilled = next((d for d in range(self.flower, n) if self.done(site, causes, d)), n)
        last_flowers = ages if chilled < filled else min(ages, filled)
        borne_out = reached(daily, min(last_flowers + 1, n), fruit)
        if self.killed < borne_out:
            return min(reached(daily, self.killed, fruit), self.killed + int(fruit / 4.0) + 1)
        return borne_out

    @staticmethod
    def done(site, causes, day):
        """In shortening days, next to nothing has set for cold in a month."""
        month = [causes[d]["chilling"] for d in range(max(day - 29, 0), day + 1)]
        shortening = site.day_length[min(day + 1, site.size - 1)] < site.day_length[max(day - 1, 0)]
        return bool(sum(month) / len(month) < 0.02 and shortening)

    @staticmethod
    def day_of(sets, amount, flower):
        total = 0.0
        for d, x in sets:
            total += x
            if total >= amount * (1 - 1e-9) - 1e-9:
                return d
        return flower


@pytest.mark.parametrize(
    "flowering",
    [
        FRUIT,
        replace(FRUIT, flower_days=np.nan),
        replace(FRUIT, day_none_below=np.nan, night_none_above=np.nan),
        replace(FRUIT, flower_days=7.0, night_none_below=np.nan, day_none_above=np.nan),
    ],
    ids=["all limits", "one day", "no cool days, no warm nights", "no cool nights, no hot days"],
)
def test_setting_of_each_day(flowering):
    site = place(mean=17.0, swing=10.0)
    growth = Growth(habit="flowering")
    crop = replace(CROP, flowering=replace(flowering, fruit_thermal_time=0.0), growth=growth)
    share, causes = set_each_day(site, crop, np.ones(site.size))
    found = daily_setting(site, flowering, TENDER.killing_flower)
    np.testing.assert_allclose(found.share, share, atol=1e-12)
    for cause in causes[0]:
        np.testing.assert_allclose(found.causes[cause], [c[cause] for c in causes], atol=1e-12)
    assert 0.05 < found.share.mean() < 0.95


def test_frost_at_the_limit_kills_the_flower():
    site = place(years=1)
    site.tissue_minimum = np.where(site.start == 180, 0.5, 0.6)
    found = daily_setting(site, FRUIT, 0.5)
    assert found.share[179] > 0.0
    assert (found.share[180], found.causes["frost"][180]) == (0.0, 0.0)


def from_july(left):
    """The day on which setting ends, of a record that begins on 1 July, when days shorten until 21 December."""
    air = np.full(365, 15.0)
    site = SiteDays(air - 5.0, air + 5.0, np.datetime64("2001-07-01"), 45.0)
    return _next_end_of_setting(site, np.broadcast_to(left, 365).astype(float))


@pytest.mark.parametrize(
    ("left", "day"),
    [
        ([*[1.0] * 60, *[0.0] * 305], 89),  # the thirtieth day of nothing; the day before the mean is 1/30
        ([0.5, *[0.0] * 364], 25),  # of fewer days the mean of these: 0.5/26 is below 0.02, 0.5/25 is not
        ([*[0.0] * 10, *[1.0] * 355], 0),
        (0.0195, 0),
        (0.0204, 365),  # never
    ],
)
def test_setting_is_over_after_a_month_of_next_to_nothing(left, day):
    assert from_july(left)[0] == day


def test_setting_is_not_over_while_days_lengthen():
    left = np.where(np.arange(365) < 183, 1.0, 0.0)  # cold from the new year on
    assert from_july(left)[0] > 350  # nothing sets, but only past midsummer is it the end


def test_days_of_one_length_never_shorten():
    air = np.full(365, 15.0)
    site = SiteDays(air - 5.0, air + 5.0, np.datetime64("2001-01-01"), 0.0)
    np.testing.assert_array_equal(_next_end_of_setting(site, np.zeros(365)), 365)


@pytest.mark.parametrize(("hot_from", "hazard", "left"), [(400, "frost", 25 / 35), (63, "heat", 5 / 35)])
def test_a_last_frost_by_hand(hot_from, hazard, left):
    """Ten degree days a day: up on day 9, in flower on 58, too old on 117; frost on 113 ends what sets after day 82.

    Fruit of day 82 has its 300 degree days by the evening of 112. Of the 35 days that a plant needs, 25 have set, or
    5 where all days from 63 on are too hot; then 50 days are lost to heat and 34 to frost.
    """
    site = place(years=1)
    site.tasmin, site.tasmax = np.full(365, 15.0), np.where(site.start < hot_from, 25.0, 40.0)
    site.tissue_minimum = np.where(site.start == 113, -5.0, 15.0)
    growth = Growth(habit="flowering")
    walk = walk_on(site, replace(CROP, growth=growth), daily=np.full(365, 10.0), need=NEED, lag=LAG, horizon=HORIZON)
    losses = Told(site.size)
    flowering_crop(walk, losses)
    for name in ("heat", "warm nights", "chilling", "frost"):
        assert losses.left[name][0] == pytest.approx(1.0 - (1.0 - left) ** 1.6 if name == hazard else 1.0), name


@pytest.mark.parametrize("unknown", [{"chilling_days_half": 0.0}, {"chilling_temperature": np.nan}])
def test_a_crop_that_cold_nights_do_not_check(unknown):
    site = place(years=1)
    told = []
    for cold in (replace(TENDER, **unknown), replace(TENDER, chilling_days_half=np.nan)):
        losses = Told(site.size)
        flowering_crop(walk_on(site, replace(CROP, cold=cold), need=NEED, horizon=HORIZON), losses)
        told.append(losses.left["chilling"])
    np.testing.assert_array_equal(*told)


CASES = {
    "tender": (CROP, {"mean": 15.0, "swing": 9.0}),
    "in a hot place": (CROP, {"mean": 22.0, "swing": 9.0}),
    "hardens": (replace(CROP, cold=replace(TENDER, frost_class="half-hardy")), {"mean": 13.0, "swing": 8.0}),
    "age unknown": (replace(CROP, flowering=replace(FRUIT, aging_thermal_time=np.nan)), {"mean": 15.0, "swing": 9.0}),
    "months unknown": (
        replace(CROP, growth=replace(GROWTH, range_minimum=np.nan, range_maximum=np.nan)),
        {"mean": 16.0, "swing": 9.0},
    ),
    "chilled at once": (replace(CROP, cold=replace(TENDER, chilling_days_half=0.8)), {"mean": 17.0, "swing": 9.0}),
    "no flower is killed": (replace(CROP, cold=replace(TENDER, killing_flower=np.nan)), {"mean": 14.0, "swing": 9.0}),
    "fruit that takes all its time": (
        replace(CROP, flowering=replace(FRUIT, fruit_thermal_time=900.0)),
        {"mean": 17.0, "swing": 8.0},
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_what_a_season_bears(case):
    crop, climate = CASES[case]
    site = place(**climate)
    walk = walk_on(site, crop, need=NEED, lag=LAG, horizon=HORIZON)
    losses = Told(site.size)
    first, last, judged = flowering_crop(walk, losses)
    share, causes = set_each_day(site, crop, np.diff(walk.total))
    light = np.minimum(site.solar_radiation / (1.25 * 14.0), 1.0)
    chilled = np.diff(site.chilled_nights(5.0))
    expected = {h: {} for h in ("heat", "warm nights", "chilling", "frost", "low light", "too slow")}
    fractions = set()
    for s in starts(site, step=5):
        one = Season(walk, share, causes, s)
        assert (first[s], last[s], judged[s]) == (one.first, one.last, one.judged), s
        for hazard in causes[0]:
            expected[hazard][s] = one.fraction if hazard == one.worst else 1.0
        expected["chilling"][s] *= 0.5 ** (sum(chilled[one.up : one.flower]) / crop.cold.chilling_days_half)
        if one.flower < site.size:
            expected["low light"][s] = mean_of(
                light, one.flower, min(max(min(one.last, one.killed), one.flower), site.size)
            )
        expected["too slow"][s] = 0.0 if one.late else line(float(one.first - s), 137.5, 110.0)
        fractions.add(round(one.fraction, 3))
    assert len(fractions) > 5
    for hazard, shares in expected.items():
        got = losses.left[hazard][list(shares)]
        np.testing.assert_allclose(got, list(shares.values()), atol=1e-7, err_msg=hazard)
