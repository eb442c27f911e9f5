"""Water, yield and weeks of picking beside each crop: against the rooms that they come from and by their properties."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

import sowcal
from sowcal.crops.handbook import handbook
from sowcal.garden.garden_weather import garden_weather
from sowcal.garden.harvest import best_window, with_harvest
from sowcal.garden.rain_fed import start_day_water
from sowcal.outputs.harvest_words import harvest_cells, harvest_words
from sowcal.site_weather import open_for_answer
from sowcal.suitability.results import Harvest
from sowcal.suitability.verdicts import judge_crops

CROPS = ["tomato (large)", "carrot", "leek", "potato (maincrop)", "rhubarb"]
DAY = dt.date(2026, 1, 15)


@pytest.fixture(scope="module")
def valley():
    return sowcal.rate_crops("sallowdene", CROPS, most_remedies=1, issued=DAY)


def test_litres_are_those_of_the_start_day_reckoned_season_by_season(valley):
    """`start_day_water` follows each year's own season; the same day of the year must draw much the same."""
    opened = open_for_answer("sallowdene", None, (), issued=DAY)
    days, weather = opened.days(), garden_weather(opened.weather)
    for line in valley[0].crops[:3]:
        crop = handbook()[line.crop]
        for result in line.starts:
            window = best_window(result)
            way = next(w for w in crop.ways if w.way == result.way)
            expected = start_day_water(days, weather, crop, way).median[window.best]
            assert result.harvest.litres_per_m2 == pytest.approx(expected, rel=0.12, abs=15)


def test_yield_is_the_handbooks_range_times_what_is_left(valley):
    for line in valley[0].crops[:3]:
        garden = handbook()[line.crop].garden
        for way in line.starts:
            left = best_window(way).yield_fraction
            low, high = way.harvest.yield_here
            assert (low, high) == pytest.approx(
                (left * garden.yield_per_area_low, left * garden.yield_per_area_high), abs=0.01
            )
            assert low <= high <= garden.yield_per_area_high


def test_weeks_are_the_days_more_likely_picked_than_not(valley):
    for line in valley[0].crops[:3]:
        for way in line.starts:
            assert way.harvest.weeks_of_picking == round((np.nan_to_num(way.picking) >= 0.5).sum() / 7, 1)


def test_a_verdict_has_what_its_best_way_has_and_a_perennial_its_year(valley):
    lines = {line.crop: line for line in valley[0].crops}
    for verdict in valley[1]:
        harvests = [w.harvest for w in lines[verdict.crop].starts]
        assert verdict.harvest.litres_per_m2 in [h.litres_per_m2 for h in harvests]
        assert verdict.harvest.yield_here in [h.yield_here for h in harvests]
    rhubarb = next(v for v in valley[1] if v.crop == "rhubarb")
    assert rhubarb.harvest.litres_per_m2 == rhubarb.answer["litres_per_m2"]
    garden = handbook()["rhubarb"].garden
    share = rhubarb.evidence["share_of_a_full_crop"]
    assert rhubarb.harvest.yield_here[1] == pytest.approx(share * garden.yield_per_area_high, abs=0.01)


def test_more_rain_draws_less_and_none_known_is_not_told():
    opened = open_for_answer("sallowdene", None, (), issued=DAY)
    crops = [handbook()["carrot"]]
    days = opened.days()
    judged = judge_crops(days, crops, handbook())
    record = opened.weather
    origin = record.origin["pr"]
    wet = record.with_values({"pr": record["pr"] + 2.0}, {"pr": origin})
    dry = record.with_values({"pr": np.full(record.time.size, np.nan)}, {"pr": origin})
    litres = [
        with_harvest(days, r, crops, judged, **more)[0][1].harvest.litres_per_m2
        for r, more in ((record, {}), (wet, {}), (dry, {}), (record, {"watered": False}))
    ]
    assert litres[1] < litres[0]
    assert litres[2:] == [None, None]


def test_words_tell_what_is_known_only():
    assert harvest_words(Harvest()) == ""
    assert harvest_words(Harvest(weeks_of_picking=1.2)) == "picked over 1 week"
    (verdict,) = sowcal.rate_crops("sallowdene", ["carrot"], most_remedies=0, issued=DAY)[1]
    assert harvest_cells(replace(verdict, harvest=Harvest())) == ["-", "-", "-"]
    assert harvest_cells(verdict)[1] == f"{verdict.harvest.litres_per_m2:.0f}"
