"""Raising under cover against a loop back over the days before setting out."""

from __future__ import annotations

import numpy as np
import pytest
from by_hand import place

from sowcal.climate.degree_days import single_sine_horizontal
from sowcal.crops.tables import Growth, Way
from sowcal.seasons.establishing import raise_seedlings

GROWTH = Growth(base_temperature=6.0, upper_threshold=26.0)


def way(heat="heated", least=3.0, most=7.0, need=450.0):
    return Way(
        way="set out",
        nursery_heat=heat,
        nursery_weeks_least=least,
        nursery_weeks_most=most,
        nursery_thermal_time=need,
    )


@pytest.mark.parametrize("heat", ["heated", "unheated"])
@pytest.mark.parametrize("need", [330.0, 450.0, 700.0])
def test_seed_is_sown_so_that_seedlings_are_ready(heat, need):
    """A heated bench keeps 16 by night and 22 by day at least; a house without heat is 2 and 5 degC above outdoors."""
    site = place(years=2)
    found = raise_seedlings(site, GROWTH, way(heat, need=need))
    if heat == "heated":
        low, high = np.maximum(site.tasmin, 16.0), np.maximum(site.tasmax, 22.0)
    else:
        low, high = site.tasmin + 2.0, site.tasmax + 5.0
    daily = single_sine_horizontal(low, high, 6.0, 26.0)
    lengths, owing = [], []
    for day in range(49, site.size):
        got, days = 0.0, 0
        while days < 49 and got < need - 1e-9:  # back to the day of sowing
            days += 1
            got += daily[day - days]
        days = max(days, 21)
        assert found.days[day] == days
        assert found.owing[day] == pytest.approx(max(need - sum(daily[day - days : day]), 0.0), abs=1e-6)
        lengths.append(days)
        owing.append(found.owing[day])
    assert max(lengths) > min(lengths) or max(owing) > 20.0


def test_what_rests_on_days_before_the_record_says_so():
    """Seedlings that have not all they need by the record's first day may have had it before: seven weeks are asked."""
    site = place(years=1)
    found = raise_seedlings(site, GROWTH, way("unheated", need=5000.0))
    np.testing.assert_array_equal(found.days[49:], 49.0)
    np.testing.assert_array_equal(found.begun, site.start - 49)
    assert (found.owing > 3000.0).all()
    quick = raise_seedlings(site, GROWTH, way("heated", need=60.0))
    np.testing.assert_array_equal(quick.days[21:], 21.0)
    assert (quick.begun[30:] > site.start[30:] - 21).all()  # the last few days alone bring what is needed
    assert quick.begun[0] == -49


def test_seedlings_of_unknown_need_stay_for_the_middle_of_their_weeks():
    site = place(years=1)
    for least, days in ((3.0, 35.0), (5.0, 42.0), (np.nan, 35.0)):
        found = raise_seedlings(site, GROWTH, way(least=least, need=np.nan))
        np.testing.assert_array_equal(found.days, days)
        np.testing.assert_array_equal(found.owing, 0.0)


def test_two_benches_of_one_site_are_kept_apart():
    shared = place(years=1)
    seen = set()
    for heat in ("heated", "unheated"):
        for growth in (GROWTH, Growth(base_temperature=9.0, upper_threshold=26.0), Growth(6.0, 20.0)):
            found = raise_seedlings(shared, growth, way(heat, need=900.0))
            alone = raise_seedlings(place(years=1), growth, way(heat, need=900.0))
            np.testing.assert_array_equal(found.owing, alone.owing)
            seen.add(found.owing.tobytes())
    assert len(seen) == 6
