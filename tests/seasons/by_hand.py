"""Days of an invented place, and the plain loops over days that the steps of a season are held against."""

from __future__ import annotations

import math

import numpy as np

from sowcal.crops.tables import Crop, Growth, Way
from sowcal.seasons.site_days import SiteDays
from sowcal.seasons.sums import prefix
from sowcal.seasons.walk import Losses, Walk

START = np.datetime64("2001-01-01")


def place(seed=3, years=3, mean=13.0, swing=9.0, latitude=40.0):
    """A site of whole years whose days scatter about a yearly wave."""
    rng = np.random.default_rng(seed)
    day = np.arange(365 * years)
    middle = mean - swing * np.cos(2 * np.pi * (day - 20) / 365) + rng.normal(0.0, 3.0, day.size)
    half = rng.uniform(3.0, 8.0, day.size)
    return SiteDays(middle - half, middle + half, START, latitude)


def walk_on(site, crop, way=None, *, daily=None, lag=9, need=900.0, horizon=250):
    """A season under way: `daily` degree days from `lag` days after each start; given up after `horizon` days."""
    daily = np.maximum(site.tas - 5.0, 0.0) if daily is None else daily
    return Walk(
        site=site,
        crop=crop,
        way=way or Way(way="sown outdoors"),
        total=prefix(daily),
        emerged=np.minimum(site.start + lag, site.size),
        need=need,
        horizon=np.minimum(site.start + horizon, site.size),
    )


def crop_of(**more):
    more.setdefault("growth", Growth(base_temperature=5.0, habit="once", light_need=12.0))
    return Crop(name="an invented crop", **more)


class Told(Losses):
    """Losses that remember what each hazard left."""

    def __init__(self, size):
        super().__init__(size)
        self.left = {}

    def take(self, hazard, left):
        super().take(hazard, left)
        self.left[hazard] = self.left.get(hazard, 1.0) * np.broadcast_to(left, self.cap.shape)

    def check(self, hazard, expected):
        """Hold what is left of each start day against a loop's {start: share}; it must have something to say."""
        got = self.left[hazard]
        shares = np.array(list(expected.values()))
        np.testing.assert_allclose(got[list(expected)], shares, atol=2e-9, err_msg=hazard)
        assert np.ptp(shares) > 0.05, f"{hazard}: all starts are alike, nothing is tested"


def starts(site, step=11):
    """Start days to be tried: every so many, and the last ones, which run off the record."""
    return [*range(0, site.size - 30, step), *range(site.size - 30, site.size)]


def reached(daily, day, need):
    """Day by whose end the sum since the beginning of `day` meets the need; one past the last for never."""
    total = 0.0
    for k in range(day, len(daily)):
        total += daily[k]
        if total >= need - 1e-6:
            return k
    return len(daily)


def first_where(condition, day):
    """First day from `day` on of which the condition is true; one past the last for never."""
    for k in range(day, len(condition)):
        if condition[k]:
            return k
    return len(condition)


def line(x, none, full):
    """0 at `none`, 1 at `full`, straight between."""
    share = (x - none) / (full - none)
    return min(max(share, 0.0), 1.0)


def alive(coldest, half):
    """Share that the coldest temperature leaves: half of all at `half`, a logistic of 0.5 degC about it."""
    steps = (half - coldest) / 0.5
    return 1.0 if steps < -40 else 0.0 if steps > 40 else 1.0 / (1.0 + math.exp(steps))


def mean_of(values, i, j):
    """Mean of days i to j - 1; of day i alone where there is none, of nothing (0) past the record."""
    days = [values[k] for k in range(i, max(j, i + 1)) if k < len(values)]
    return sum(days) / len(days) if days else 0.0
