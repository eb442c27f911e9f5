"""Starts walked every third day: those that are walked are the usual ones, those between take the nearest one's.

Held against the walk from every day, on an invented plot and on a real station.
"""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from sowcal.answers import sowing_chart
from sowcal.crops.handbook import handbook
from sowcal.errors import InputError
from sowcal.seasons.season import ready_to_set_out, seasons, stages
from sowcal.seasons.site_days import days_as_felt
from sowcal.settings import Settings
from sowcal.suitability.verdicts import judge_crops
from sowcal.weather.open_site import open_weather, read_record

BOOK = handbook()
ANNUALS = [crop for crop in BOOK.values() if crop.perennial is None]
RECORD = open_weather("sallowdene")[1].span(None, "1999-12-31")
DAILY, THIRD = (days_as_felt(RECORD, Settings(every=every)) for every in (1, 3))


@pytest.mark.parametrize("name", ["radish", "tomato (large)", "garlic (hardneck)", "onion (long-day)", "broad bean"])
def test_a_start_that_is_walked_has_the_answer_of_every_day(name):
    crop = BOOK[name]
    walked = THIRD.starts
    assert walked.size < 0.35 * THIRD.size
    nearest = walked[np.abs(walked[:, None] - np.arange(THIRD.size)).argmin(axis=0)]
    assert np.abs(nearest - np.arange(THIRD.size)).max() == 1
    for way in crop.ways:
        usual, third = seasons(DAILY, crop, way), seasons(THIRD, crop, way)
        for field in ("yield_fraction", "first", "last", "hazard", "raised_days"):
            a, b = getattr(usual, field), getattr(third, field)
            assert (a is None) == (b is None)
            if a is not None:
                np.testing.assert_array_equal(a[nearest], b)


def test_the_same_days_are_walked_in_every_year_of_365_days_and_of_366():
    days = THIRD.day_of_year[THIRD.starts]
    assert set(days) == set(range(1, 365, 3))
    assert {b - a for a, b in pairwise(THIRD.starts.tolist())} <= {1, 2, 3}  # 29 February counts as the 28th


def test_stages_and_seedlings_are_those_of_every_day():
    crop = BOOK["tomato (large)"]
    way = next(w for w in crop.ways if w.way == "set out")
    chosen = np.arange(400, 500)
    outcome = seasons(DAILY, crop, way)
    usual, third = (stages(site, crop, way, outcome, chosen) for site in (DAILY, THIRD))
    np.testing.assert_array_equal(usual.first, third.first)
    np.testing.assert_array_equal(usual.emerged, third.emerged)
    sown = np.arange(30, 60)
    np.testing.assert_array_equal(*(ready_to_set_out(site, crop, way, sown) for site in (DAILY, THIRD)))


def ends(window):
    return window.start, window.end


def moved(usual, third):
    """By how many days each edge lies off, of the windows that both have; and how many only one of them has."""
    off, alone = [], abs(len(usual) - len(third))
    for window in usual:
        near = [
            max(min((a - b) % 365, (b - a) % 365) for a, b in zip(ends(window), ends(w), strict=True)) for w in third
        ]
        if near:
            match = third[int(np.argmin(near))]
            off += [min((a - b) % 365, (b - a) % 365) for a, b in zip(ends(window), ends(match), strict=True)]
    return off, alone


def test_edges_at_a_real_station_lie_within_a_day(reference_folder):
    path = reference_folder / "weather" / "san_diego_ca.csv"
    record = read_record(path, latitude=32.73, options={"temperature_unit": "degC"})
    crops = ANNUALS[::3]
    usual, third = (
        judge_crops(days_as_felt(record, Settings(every=every)), crops, BOOK, calendar=False) for every in (1, 3)
    )
    off, alone = [], 0
    for (a, _), (b, _) in zip(usual, third, strict=True):
        for x, y in zip(a.starts, b.starts, strict=True):
            found, lost = moved(x.windows, y.windows)
            off, alone = off + found, alone + lost
    assert len(off) > 80
    assert np.mean(np.array(off) <= 1) >= 0.95
    assert max(off) <= 3
    assert alone <= 0.02 * len(off)
    assert [v.word for _, v in usual] == [v.word for _, v in third]


def test_it_is_told_where_it_is_asked_for_and_only_there():
    usual, third = (sowing_chart(RECORD, ["radish"], Settings(every=every)) for every in (1, 3))
    assert any("every 3 days" in line for line in third.warnings)
    assert third.made_by.to_json()["every"] == 3
    assert "every 3 days" in third.made_by.short()
    assert not any("every" in line for line in usual.warnings)
    assert "every" not in usual.made_by.to_json()


@pytest.mark.parametrize("every", [0, 8, 2.5, "3"])
def test_what_is_no_step_is_refused(every):
    with pytest.raises(InputError, match="give a whole number of days, 1 to 7"):
        replace(Settings(), every=every)
