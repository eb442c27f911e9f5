"""Water, yield and weeks of picking beside each crop: against the rooms that they come from and by their properties."""

import datetime as dt
import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

import sowcal
from sowcal.crops.handbook import handbook
from sowcal.crops.tables import Crop, Perennial
from sowcal.crops.tables import Garden as GardenRow
from sowcal.garden import harvest
from sowcal.garden.garden_file import Garden, WaterSupply
from sowcal.garden.garden_weather import garden_weather
from sowcal.garden.harvest import best_window, with_harvest
from sowcal.garden.rain_fed import start_day_water
from sowcal.outputs.harvest_words import harvest_cells, harvest_words
from sowcal.site_weather import open_for_answer
from sowcal.suitability.results import CropSeasons, CropVerdict, Harvest, WayResult
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


# --- by hand ---


def window(best=100, last=199, odds=0.9, left=0.8):
    return SimpleNamespace(best=best, last_picking=last, reliability=odds, yield_fraction=left)


def way_of(*windows, possible=(), name="sown outdoors", picked=70):
    picking = np.where(np.arange(365) < picked, 0.5, 0.49)
    return WayResult(name, tuple(windows), tuple(possible), (), None, picking=picking)


def judged(*ways, **more):
    return CropSeasons("x", "F", tuple(ways)), CropVerdict("x", "S1", "thrives", 0.9, None, **more)


def annual(low=1.0, high=2.0):
    return Crop("x", garden=GardenRow(yield_per_area_low=low, yield_per_area_high=high))


def harvested(monkeypatch, *ways, crop=None, rain=True, **more):
    """Lines and verdicts of one crop whose starts draw 100 litres, 101 and so on; and the starts that are asked for."""
    asked = []

    def drawn(weather, index, starts, garden):
        asked.extend((day, length) for _, day, length in starts)
        return [100.0 + k for k in range(len(starts))]

    monkeypatch.setattr(harvest, "_drawn", drawn)
    monkeypatch.setattr(harvest, "garden_weather", lambda record: SimpleNamespace(rain_known=np.array([False, rain])))
    monkeypatch.setattr(harvest.Fold, "of", lambda site: SimpleNamespace(index=None))
    ((line, verdict),) = with_harvest(None, None, [crop or annual()], [judged(*ways)], **more)
    return line, verdict, asked


def test_the_best_window_is_advised_and_leaves_most_as_often_as_it_works():
    sure, rich, poor = window(odds=0.9, left=0.5), window(odds=0.6, left=0.9), window(odds=0.5, left=0.5)
    assert best_window(way_of(sure, rich)) is rich  # 0.54 before 0.45
    assert best_window(way_of(poor, possible=(rich,))) is poor
    assert best_window(way_of(possible=(poor, sure))) is sure
    assert best_window(way_of()) is None


def test_a_season_is_from_the_best_day_to_the_usual_last_picking_both_within(monkeypatch):
    """From 11 April to 19 July are 100 days; from 17 December to 21 January, over New Year, 36."""
    line, verdict, asked = harvested(monkeypatch, way_of(window(100, 199)), way_of(window(350, 20), name="set out"))
    assert asked == [(100, 100), (350, 36)]
    assert [w.harvest.litres_per_m2 for w in line.starts] == [100.0, 101.0]
    assert line.starts[0].harvest.yield_here == (0.8, 1.6)  # 0.8 of one and two kg
    assert line.starts[0].harvest.weeks_of_picking == 10.0  # seventy days
    assert verdict.harvest == line.starts[0].harvest
    assert harvested(monkeypatch, way_of(window(100, None)))[2] == []


def test_a_verdict_has_the_harvest_of_its_best_way(monkeypatch):
    """An advised window before a possible one that leaves more; of two advised the one that leaves more."""
    poor, rich = window(odds=0.5, left=0.5), window(odds=1.0, left=1.0)
    chancy = way_of(possible=(rich,), name="set out")
    assert harvested(monkeypatch, chancy, way_of(poor))[1].harvest.yield_here == (0.5, 1.0)
    assert harvested(monkeypatch, way_of(poor), way_of(rich))[1].harvest.yield_here == (1.0, 2.0)
    assert harvested(monkeypatch, way_of(), way_of(possible=(poor,)))[1].harvest.yield_here == (0.5, 1.0)
    line, verdict, asked = harvested(monkeypatch, way_of())
    assert (verdict.harvest, line.starts[0].harvest, asked) == (Harvest(), Harvest(), [])
    assert harvested(monkeypatch)[1].harvest == Harvest()
    # what is possible only is picked on no advised day
    assert harvested(monkeypatch, chancy)[1].harvest.weeks_of_picking is None


def test_weeks_of_picking_are_of_each_way_and_of_all_of_them_together(monkeypatch):
    line, verdict, _ = harvested(monkeypatch, way_of(window(), picked=10), way_of(window(left=0.1), picked=31))
    assert [w.harvest.weeks_of_picking for w in line.starts] == [1.4, 4.4]
    assert verdict.harvest.weeks_of_picking == 4.4
    assert harvested(monkeypatch, way_of(window(), picked=0))[1].harvest.weeks_of_picking is None


def test_litres_are_told_where_rain_is_known_and_crops_are_watered(monkeypatch):
    assert harvested(monkeypatch, way_of(window()), rain=False)[1].harvest.litres_per_m2 is None
    assert harvested(monkeypatch, way_of(window()), watered=False)[1].harvest.litres_per_m2 is None
    assert harvested(monkeypatch, way_of(window()))[1].harvest.litres_per_m2 == 100.0


@pytest.mark.parametrize(
    ("high", "told"), [(2.0, (0.67, 1.33)), (0.1, (0.67, 0.07)), (0.09, (0.66667, 0.06)), (math.nan, None)]
)
def test_a_spice_is_told_by_the_gram(monkeypatch, high, told):
    """Two thirds of a full crop: to ten grams, and of what brings less than a tenth of a kg to a hundredth of one."""
    line, _, _ = harvested(monkeypatch, way_of(window(left=2 / 3)), crop=annual(1.0, high))
    assert line.starts[0].harvest.yield_here == told


def test_a_perennial_has_the_harvest_of_its_middle_year():
    """Picked from 20 December to 9 January: 21 days."""
    crop = Crop("x", garden=GardenRow(yield_per_area_low=1.0, yield_per_area_high=2.0), perennial=Perennial())
    told = {"share_of_a_full_crop": 0.5, "picked_in_the_middle_year": "12-20 to 01-09"}
    ways = (way_of(possible=(window(),)), way_of(window()), way_of())
    ((line, verdict),) = with_harvest(
        None, None, [crop], [judged(*ways, evidence=told, answer={"litres_per_m2": 321.0})]
    )
    assert verdict.harvest == Harvest(321.0, (0.5, 1.0), 3.0)
    assert [w.harvest for w in line.starts] == [verdict.harvest, verdict.harvest, Harvest()]
    ((_, bare),) = with_harvest(None, None, [crop], [judged(*ways)])
    assert bare.harvest == Harvest(None, None, None)


def test_litres_of_the_middle_year_of_those_that_the_record_holds_whole(monkeypatch):
    """Two seasons of 10 and 12 days, of which 0.9 reaches the roots; the last year of the longer one is cut short."""
    asked = []

    def balance(weather, basal, days, lengths, irrigated, light, garden, kept):
        asked.append((lengths[:, 0].tolist(), irrigated.tolist(), light.tolist()))
        irrigation = np.zeros((12, 2, 3))
        irrigation[3, :] = [[90.0, 180.0, 45.0], [9.0, 18.0, 900.0]]
        grows = np.arange(12)[:, None, None] < lengths[None]
        grows[11, 1, 2] = False
        return SimpleNamespace(irrigation=irrigation), days, grows

    monkeypatch.setattr(harvest, "season_balance", balance)
    crop, index = handbook()["carrot"], np.zeros((3, 365), dtype=int)
    garden = Garden("", "", (), water=WaterSupply(salinity=0.0))
    litres = harvest._drawn(None, index, [(crop, 5, 12), (crop, 7, 10)], garden)
    assert asked == [([10, 12], [True, True], [1.0, 1.0])]
    assert litres == [15, 100]  # of 10 and 20, for the third is not whole; of 100, 200 and 50
