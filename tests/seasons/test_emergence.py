"""Emergence against the printed table of days and shares by constant soil temperature, and against a loop over days."""

import csv
import math
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from by_hand import crop_of, line, mean_of, place, reached, starts

from sowcal.crops.handbook import handbook
from sowcal.crops.tables import Emergence, Germination, Way
from sowcal.seasons.establishing import _rested, emerge, rate_and_share, rest_begun
from sowcal.seasons.site_days import SiteDays

DATA = Path(__file__).parents[1] / "data"
OURS = {
    "beet": "beetroot",
    "cabbage": "cabbage (white)",
    "carrot": "carrot",
    "celery": "celery",
    "lettuce": "lettuce (head)",
    "onion": "onion (short-day)",
    "parsley": "parsley",
    "parsnip": "parsnip",
    "pea": "pea (shelling)",
    "radish": "radish",
    "snap bean": "french bean (bush)",
    "spinach": "spinach",
    "tomato": "tomato (large)",
    "turnip": "turnip",
}


def constant_site(temperature, days=400):
    """A place whose air, and so soil, has one temperature day and night."""
    air = np.full(days, float(temperature))
    return SiteDays(air, air.copy(), np.datetime64("2001-01-01"), 38.0)


def test_days_to_emergence_as_printed():
    """Harrington & Minges 1954: at a constant soil temperature the engine gives the printed days, to one day."""
    with open(DATA / "emergence_harrington_minges.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    off = {}
    for row in rows:
        crop = handbook()[OURS[row["printed_name"]]]
        way = next(w for w in crop.ways if w.stock in ("seed", "seedling"))
        sown = type(way)(way="sown outdoors", stock="seed", depth=way.depth)
        up = emerge(constant_site(float(row["soil_degC"])), crop, sown, "wet")
        off[row["printed_name"], row["soil_degC"]] = up.day[30] - 30 + 1 - float(row["days"])
    assert {crop for crop, _ in off} == set(OURS)
    assert len(off) > 50
    assert {k: v for k, v in off.items() if abs(v) > 1.0} == {}


@pytest.mark.parametrize(("celsius", "least", "most"), [(20, 0.95, 1.0), (30, 0.05, 0.2), (36, 0.0, 0.02)])
def test_lettuce_fails_in_hot_soil(celsius, least, most):
    """Harrington: 99 normal seedlings in 100 at 20 degC, 12 at 30 degC, none at 35 degC."""
    crop = handbook()["lettuce (head)"]
    _, share = rate_and_share(crop.emergence, crop.germination)
    assert least <= share[round((celsius + 50) * 10)] <= most


def test_nothing_emerges_outside_the_soil_limits():
    for crop in handbook().values():
        if crop.life != "annual" or crop.emergence is None:
            continue
        rate, share = rate_and_share(crop.emergence, crop.germination)
        assert rate.min() >= 0
        assert math.isclose(share.max(), 1.0, abs_tol=1e-6)
        assert rate[0] == 0
        assert rate[-1] == 0


NAN = math.nan
LIMITS = Germination(soil_minimum=4.0, soil_optimum_low=12.0, soil_optimum_high=20.0, soil_maximum=33.0)
TABLE = Emergence("an invented seed", (5, 10, 15, 20, 25), (NAN, 25.0, 10.0, 8.0, 12.5), (NAN, 40.0, 80.0, 80.0, 20.0))
GRID = np.arange(-500, 701) / 10.0


@pytest.mark.parametrize(
    ("table", "limits", "knots"),
    [
        (TABLE, LIMITS, {4: 0, 10: 0.04, 15: 0.1, 20: 0.125, 25: 0.08, 33: 0}),
        (TABLE, replace(LIMITS, soil_minimum=NAN), {9.95: 0, 10: 0.04, 15: 0.1, 20: 0.125, 25: 0.08, 33: 0}),
        (TABLE, replace(LIMITS, soil_minimum=10.0), {9.95: 0, 10: 0.04, 15: 0.1, 20: 0.125, 25: 0.08, 33: 0}),
        (TABLE, replace(LIMITS, soil_minimum=12.0), {9.95: 0, 10: 0.04, 15: 0.1, 20: 0.125, 25: 0.08, 33: 0}),
        (TABLE, replace(LIMITS, soil_maximum=NAN), {4: 0, 10: 0.04, 15: 0.1, 20: 0.125, 25: 0.08, 30: 0}),
        (TABLE, replace(LIMITS, soil_maximum=25.0), {4: 0, 10: 0.04, 15: 0.1, 20: 0.125, 25: 0.08, 30: 0}),
        (  # tried in the cold and in the heat, and nothing came up
            replace(TABLE, days=(math.inf, 25.0, 10.0, 8.0, math.inf)),
            LIMITS,
            {5: 0, 10: 0.04, 15: 0.1, 20: 0.125, 25: 0},
        ),
        (  # nothing came up at the two coldest, and what is hotter than tried ends with the crop's limit
            replace(TABLE, days=(math.inf, math.inf, 10.0, 8.0, 12.5)),
            LIMITS,
            {10: 0, 15: 0.1, 20: 0.125, 25: 0.08, 33: 0},
        ),
    ],
    ids=[
        "limits",
        "least unknown",
        "least as tried",
        "less was tried",
        "greatest unknown",
        "greatest as tried",
        "limits tried",
        "cold tried twice",
    ],
)
def test_rate_runs_straight_between_what_was_tried(table, limits, knots):
    rate, share = rate_and_share(table, limits)
    np.testing.assert_allclose(rate, np.interp(GRID, list(knots), list(knots.values()), 0.0, 0.0), atol=1e-12)
    np.testing.assert_allclose(share, np.interp(GRID, [10, 15, 20, 25], [0.5, 1.0, 1.0, 0.25]), atol=1e-12)
    _, untold = rate_and_share(replace(table, percent=(NAN,) * 5), limits)
    np.testing.assert_array_equal(untold, 1.0)


@pytest.mark.parametrize(("highest", "need"), [(28.0, 90.0), (NAN, 90.0), (28.0, 0.5)])
def test_crops_without_a_table_come_up_by_thermal_time(highest, need):
    """Above the greatest soil temperature less and less, none five degrees on; in no less than a day at a degree."""
    limits = Germination(base_temperature=6.0, thermal_time=need, soil_maximum=highest)
    rate, share = rate_and_share(None, limits)
    for t in (-3.0, 6.0, 6.1, 17.0, 28.0, 29.0, 32.0, 33.0, 40.0):
        expected = max(t - 6.0, 0.0) / max(need, 1.0) * (1.0 if math.isnan(highest) else line(t, 33.0, 28.0))
        assert rate[round((t + 50) * 10)] == pytest.approx(expected)
    np.testing.assert_array_equal(share, 1.0)


BY_HEAT = Germination(base_temperature=6.0, thermal_time=160.0, soil_maximum=28.0)
SOWN = Way(way="sown outdoors", stock="seed", depth=3.0)


@pytest.mark.parametrize(
    ("crop", "way", "depth", "keeps", "best"),
    [
        (crop_of(germination=LIMITS, emergence=TABLE), SOWN, 3.0, 1.0, 16.0),
        (crop_of(germination=LIMITS, emergence=TABLE), replace(SOWN, stock="", depth=NAN), 2.0, 1.0, 16.0),
        (crop_of(germination=BY_HEAT), SOWN, 3.0, 1.0, 22.0),
        (crop_of(germination=BY_HEAT, emergence=TABLE), replace(SOWN, way="planted", stock="tuber"), 3.0, 3.0, 22.0),
        (crop_of(germination=Germination(base_temperature=6.0, thermal_time=480.0)), SOWN, 3.0, 1.0, 22.0),
    ],
    ids=["by table", "of unknown depth", "by thermal time", "tubers", "slow, and quickest at 30 degC"],
)
def test_stand_by_a_loop(crop, way, depth, keeps, best):
    """Full from six tenths of the best share, none at fifteen hundredths; lost from 25 to 50 days in the ground."""
    site = place(mean=12.0, swing=10.0)
    table = crop.emergence if way.stock in ("", "seed") else None
    rate, share = rate_and_share(table, crop.germination)
    soil = site.soil_tenths(depth, "wet") + 500
    daily, good = rate[soil].mean(axis=1), (rate * share)[soil].mean(axis=1)
    quickest = 1.0 / (rate if table else rate[GRID <= 30.0]).max()  # at the best temperature, wherever the place is
    patience = max(keeps, quickest / 8.0)
    up = emerge(site, crop, way, "wet")
    seen = []
    for s in starts(site):
        day = reached(daily, s, 1.0)
        settled = min(day, s + math.ceil(50.0 * patience), site.size)  # by then it is up, or has rotted
        end = min(settled + 1, site.size)
        assert (up.day[s], up.settled[s]) == (day, settled)
        came = sum(good[s:end]) / max(sum(daily[s:end]), 1e-9)
        stand = line(came, 0.15, 0.6) * line(float(day - s), 50.0 * patience, 25.0 * patience)
        assert up.stand[s] == pytest.approx(stand, abs=1e-5)
        assert up.hot[s] == (mean_of(site.tas, s, end) > best)
        seen.append((round(stand, 2), bool(up.hot[s])))
    assert len({stand for stand, _ in seen}) > 5
    assert {hot for _, hot in seen} == {True, False}


@pytest.mark.parametrize(
    ("crop", "way"),
    [
        (crop_of(germination=LIMITS, emergence=TABLE), Way(way="set out", stock="seed", depth=2.0)),
        (crop_of(germination=Germination()), SOWN),
        (crop_of(germination=LIMITS, emergence=TABLE), replace(SOWN, way="planted", stock="set")),
    ],
    ids=["set out", "nothing known", "sets of nothing known"],
)
def test_plants_that_are_up_at_once(crop, way):
    site = place(years=1)
    up = emerge(site, crop, way, "wet")
    np.testing.assert_array_equal(up.day, site.start)
    np.testing.assert_array_equal(up.stand, 1.0)
    assert not up.hot.any()


def test_soil_is_too_hot_above_the_best_and_not_at_it():
    crop = crop_of(germination=LIMITS, emergence=TABLE)  # the best is 16
    assert not emerge(constant_site(16.0), crop, SOWN, "wet").hot.any()
    assert emerge(constant_site(16.5), crop, SOWN, "wet").hot.all()


@pytest.mark.parametrize(
    "crop", [crop_of(), crop_of(emergence=TABLE)], ids=["no table", "a table, of seed that is not planted"]
)
def test_the_least_thermal_time_is_waited_for(crop):
    """None is up at once; a little takes a day at a degree above the base, and none passes below it."""
    site, tuber = place(years=1, mean=8.0, swing=10.0), replace(SOWN, way="planted", stock="tuber")
    up = {}
    for need in (0.0, 0.5, 1.0):
        limits = Germination(base_temperature=6.0, thermal_time=need)
        up[need] = emerge(site, replace(crop, germination=limits), tuber, "wet").day
    np.testing.assert_array_equal(up[0.0], site.start)
    daily = [(np.clip(tenths / 10.0 - 6.0, 0.0, None)).mean() for tenths in site.soil_tenths(3.0, "wet")]
    slow = [reached(daily, s, 1.0) for s in site.start]
    np.testing.assert_array_equal(up[0.5], slow)
    np.testing.assert_array_equal(up[1.0], slow)
    assert max(np.array(slow) - site.start) > 20


@pytest.mark.parametrize(("latitude", "longest"), [(40.0, "06-21"), (-40.0, "12-21")])
def test_resting_stock_is_lifted_a_fortnight_after_the_longest_day_of_either_hemisphere(latitude, longest):
    """In soil of 10 degC a rest of 60 days passes a day a day: none comes up at half of it, all at its end.

    A start a year after lifting is as good as one at the end of rest: of new stock it begins anew.
    """
    even = np.full(4 * 365 + 1, 8.0)
    site = SiteDays(even, even + 4.0, np.datetime64("2001-01-01"), latitude)
    stand = _rested(site, 5.0, "bare", 60.0)
    day = int((np.datetime64(f"2002-{longest}") - np.datetime64("2001-01-01")).astype(int)) + 14
    got = [stand[np.flatnonzero(site.starts == day + after)[0]] for after in (0, 30, 45, 60, 300)]
    assert got == pytest.approx([0.0, 0.0, 0.5, 1.0, 1.0], abs=0.02)
    resting = SimpleNamespace(stock="clove", stock_rest_days=60.0)
    begun = rest_begun(site, resting)
    looked = {after: begun[np.flatnonzero(site.starts == day + after)[0]] - day for after in (0, 100, 150, 151)}
    assert looked == {0: 0, 100: 0, 150: 0, 151: 151}  # 60 days at the pace of hot soil, 0.4, are 150
    assert (rest_begun(site, SimpleNamespace(stock="seed", stock_rest_days=60.0)) == site.starts).all()


@pytest.mark.parametrize("south", [False, True])
@pytest.mark.parametrize(("celsius", "pace"), [(10, 1.0), (18, 1.0), (19, 0.94), (23, 0.7), (28, 0.4), (35, 0.4)])
def test_cloves_come_up_by_how_far_their_rest_is_over(celsius, pace, south):
    """Lifted on 5 July, in the south on 3 January; 60 days of rest, none at half of it, in hot soil at four tenths."""
    air = np.full(365 * 3, float(celsius))
    site = SiteDays(air, air.copy(), np.datetime64("2001-01-01"), -38.0 if south else 38.0)
    clove = Way(way="planted", stock="clove", depth=3.0, stock_rest_days=60.0)
    limits = Germination(base_temperature=0.0, thermal_time=5.0, soil_optimum_low=50.0, soil_optimum_high=50.0)
    crop = crop_of(germination=limits)
    up = emerge(site, crop, clove, "bare")
    lifted = (np.datetime64("2002-01-04" if south else "2002-07-05") - np.datetime64("2001-01-01")).astype(int)
    for days in (0, 29, 30, 31, 45, 59, 60, 75, 100, 140, 149, 150, 151, 300):
        assert up.stand[lifted + days] == pytest.approx(line(pace * days, 30.0, 60.0), abs=1e-6), days
    begun = rest_begun(site, clove)
    assert begun[[lifted, lifted + 1, lifted + 150]].tolist() == [lifted] * 3  # on which its rest may hang
    assert begun[lifted + 151] == lifted + 151
    for way in (replace(clove, stock_rest_days=NAN), replace(clove, stock="tuber"), replace(clove, stock="seed")):
        np.testing.assert_array_equal(rest_begun(site, way), site.start)
        np.testing.assert_array_equal(emerge(site, crop, way, "bare").stand, 1.0)
