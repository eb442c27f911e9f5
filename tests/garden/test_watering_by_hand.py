"""Zones, seasons, timers, loads and pumps on made-up litres, each figure reckoned beside it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from types import SimpleNamespace

import numpy as np
import pytest

from sowcal.garden import watering
from sowcal.garden.bed_file import Mulch
from sowcal.garden.garden_file import Bed, Emitters, Garden, Pond, Pump, WaterSupply
from sowcal.garden.garden_weather import GardenWeather
from sowcal.garden.gravity_feed import gravity_feed
from sowcal.garden.store import roof_water
from sowcal.garden.water_need import GardenNeed, SowingNeed
from sowcal.garden.watering import (
    Load,
    Trial,
    ZoneMonth,
    _days_between,
    _thirsty_beds,
    choices_of,
    loads_of,
    programs_of,
    pump_work,
    soaks_in,
    tank_sizes,
    watering_season,
    watering_sheet,
    what_helps,
    zones_of,
)

SIZE = 365 * 2
BEDS = (Bed("a", 10.0, 1.2), Bed("b", 5.0, 1.2))
NEW_YEAR = dt.date(2027, 1, 1)


def weather(rain=0.0, reference=5.0):
    day = np.arange(SIZE) % 365
    flat = np.full(SIZE, 2.0)
    return GardenWeather(
        np.full(SIZE, reference), np.broadcast_to(rain, SIZE).astype(float), flat, 20 * flat,
        2000 + np.arange(SIZE) // 365, day, np.ones(SIZE, dtype=bool), "made up", (),
    )  # fmt: skip


def need(weekly, bed_monthly=None, by_sowing=None, beds=2):
    """Two years alike of so many litres in each week."""
    weekly = np.broadcast_to(np.asarray(weekly, dtype=float), 52)
    daily = np.tile(np.repeat(weekly, [7] * 51 + [8]) / np.repeat([7] * 51 + [8], [7] * 51 + [8]), 2)
    monthly = np.zeros((beds, 2, 12)) if bed_monthly is None else bed_monthly
    return GardenNeed(
        daily,
        by_sowing or {},
        np.stack([weekly] * 2),
        np.stack([weekly / beds] * beds),
        np.array([2000, 2001]),
        monthly,
    )


def weeks(*on, litres=70.0):
    out = np.zeros(52)
    for first, last in on:
        out[[k % 52 for k in range(first, last + 1 if last >= first else last + 53)]] = litres
    return out


@pytest.mark.parametrize(
    ("on", "season"),
    [
        ([(20, 30)], (140, 216)),
        ([(50, 3)], (350, 27)),  # over New Year, as in the south
        ([(20, 25), (30, 35)], (140, 251)),  # a pause of four weeks within, a longer one without
        ([(0, 5), (40, 51)], (280, 41)),
        ([(51, 51)], (357, 364)),
        ([(0, 30), (32, 51)], (224, 216)),  # a pause of one week
        ([(1, 51)], (7, 364)),
        ([(0, 50)], (0, 356)),
        ([(0, 51)], (0, 364)),
    ],
)
def test_the_season_of_watering_leaves_out_the_longest_pause(on, season):
    assert watering_season(need(weeks(*on))) == season
    assert watering_season(need(np.zeros(52))) is None


def test_weeks_that_draw_next_to_nothing_are_no_season():
    weekly = weeks((20, 30), litres=100.0)
    weekly[31:35], weekly[35:40] = 5.1, 5.0  # above, and at, a twentieth of the thirstiest week
    assert watering_season(need(weekly)) == (140, 34 * 7 + 6)
    assert watering_season(need(weekly), share=0.5) == (140, 216)


def test_zones_by_valve():
    garden = Garden("g", "s", BEDS)
    assert zones_of(garden) == {"all beds": (0, 1)}
    assert zones_of(replace(garden, beds=(replace(BEDS[0], zone="top"), BEDS[1]))) == {"top": (0,), "other beds": (1,)}


def sowing(rain_fed=False, taken=(181, 211)):
    return SimpleNamespace(rain_fed=rain_fed, place_taken=taken)


def plan(*placings):
    return SimpleNamespace(placings=[SimpleNamespace(sowing=s, bed=b, begin=x, end=y) for s, b, x, y in placings])


def between(*days):
    """Days from one watering to the next in July."""
    row = np.full(12, np.nan)
    out = {}
    for k, d in enumerate(days):
        out[k] = SowingNeed(np.zeros(1), np.zeros(1), np.ones(1), np.where(np.arange(12) == 6, d, row))
    return out


@pytest.mark.parametrize(
    ("days", "told"), [((3.9, 9.0), 3), ((20.0, 15.0), 14), ((0.4, 5.0), 1), ((np.nan, 5.0), 5), ((np.nan, np.nan), 1)]
)
def test_the_thirstiest_crop_sets_the_days_between(days, told):
    there = plan((0, 0, 0, 1), (1, 0, 1, 2))
    assert _days_between(need(1.0, by_sowing=between(*days)), there, (0,), 6) == told
    assert _days_between(need(1.0, by_sowing=between(*days)), there, (1,), 6) == 1  # nothing stands there


def monthly(litres):
    out = np.zeros((2, 2, 12))
    out[0, :, 6] = litres
    return out


SUPPLY = WaterSupply(tanks=(1000.0,), height=2.0, lateral_spacing=0.4)


def sheet(litres=(310.0, 620.0), supply=SUPPLY, carried=False, sowings=None):
    garden = Garden("g", "s", BEDS, water=supply)
    there = plan((0, 0, 1.0, 5.0), (1, 0, 5.0, 9.0), (0, 1, 0.0, 1.0))
    rows = sowings or [sowing(), sowing(rain_fed=True)]
    asked = need(1.0, monthly(litres), between(2.0, 3.0))
    return watering_sheet(garden, rows, there, asked, None if carried else gravity_feed(garden))


def test_a_month_of_the_sheet_by_hand():
    """310 litres in one July and 620 in the other: 465 in the median, 589 in the dry year in ten; every other day."""
    (row,) = sheet()
    assert (row.zone, row.month, row.days_between) == ("all beds", 7, 2)
    assert (row.litres, row.dry_year_litres) == pytest.approx((465.0, 589.0))
    assert row.lines == pytest.approx(
        3 * 5 / 10
    )  # three across 1.2 m, half of 10 m, all July; none over what lives on rain
    assert row.minutes == pytest.approx(60.0 * 465.0 / 31 * 2 / row.flow)
    assert row.dry_year_minutes == pytest.approx(60.0 * 589.0 / 31 * 2 / row.flow)
    assert row.to_json() == {
        "zone": "all beds", "month": 7, "minutes": round(row.minutes, 1), "days_between": 2,
        "dry_year_minutes": round(row.dry_year_minutes, 1),
    }  # fmt: skip
    (hose,) = sheet(carried=True)
    assert (hose.flow, hose.turns) == (60.0 * SUPPLY.hose, 1)
    (dry,) = sheet(supply=replace(SUPPLY, height=-1.0))
    assert (dry.flow, dry.turns, dry.minutes, dry.to_json()["minutes"]) == (0.0, 0, None, None)


def test_a_month_that_asks_for_less_than_a_litre_is_left_out():
    assert sheet((0.5, 0.99)) == ()
    assert len(sheet((1.0, 1.0))) == 1
    assert sheet((0.0, 1.06)) == ()  # nine years in ten ask for 0.95 litres
    assert len(sheet((0.0, 1.12))) == 1  # for 1.01


def month(m, litres, flow=600.0, days=1, zone="z"):
    return ZoneMonth(zone, m, litres, litres, days, 3.0, flow, 1)


def test_a_program_gives_each_of_its_months_enough():
    """300 litres in June (ten a day) and 620 in July (twenty): by one program of two minutes June gets 300 too much."""
    (one,) = programs_of((month(6, 300.0), month(7, 620.0)), 1, (150, 220))
    assert (one.minutes, one.months, one.days_between) == (pytest.approx(2.0), (6, 7), 1)
    assert one.too_much == pytest.approx(300.0)
    (every_other,) = programs_of((month(6, 300.0, days=3), month(7, 620.0, days=2)), 1, (150, 220))
    assert (every_other.minutes, every_other.days_between) == (pytest.approx(4.0), 2)
    assert every_other.too_much == pytest.approx(300.0)  # twenty a day in June, of which ten are asked for
    two = programs_of((month(6, 300.0), month(7, 620.0)), 5, (150, 220))
    assert [p.too_much for p in two] == pytest.approx([0.0, 0.0])


def test_programs_of_each_zone_in_the_order_of_the_season():
    rows = (month(12, 310.0), month(1, 310.0), month(12, 310.0, zone="y"), month(6, 300.0, flow=0.0), month(2, 0.0))
    found = programs_of(rows, 1, (335, 58))
    assert [(p.zone, p.months) for p in found] == [("z", (12, 1)), ("y", (12,))]
    assert programs_of(rows, 1, None) == ()
    assert programs_of((month(6, 300.0, flow=0.0),), 1, (150, 220)) == ()  # no water comes
    for last, months in ((180, (6,)), (181, (6, 7))):  # to 30 June, and to 1 July
        (one,) = programs_of((month(6, 300.0), month(7, 310.0)), 1, (151, last))
        assert one.months == months


@pytest.mark.parametrize(
    ("texture", "takes"),
    [("sand", 30), ("loamy sand", 25), ("sandy loam", 20), ("loam", 10), ("silt loam", 8), ("silt", 7),
     ("silt clay loam", 5), ("silty clay", 4), ("clay", 3)],
)  # fmt: skip
def test_what_drips_and_what_soaks_in(texture, takes):
    """2 l/h every 0.3 m on lines 0.4 m apart are 16.7 mm an hour (intake: FAO Training Manual 5, from memory)."""
    garden = Garden("g", "s", BEDS, texture=texture, water=replace(SUPPLY, emitters=Emitters(2.0, 100.0, 0.3)))
    assert soaks_in(garden, 2.0) == (pytest.approx(2.0 / 0.12), takes, texture)


def loads(litres=350.0, tank=1000.0, begin=NEW_YEAR, odds=0.5, rain=0.0, **supply):
    garden = Garden("g", "s", BEDS, water=WaterSupply(tanks=(tank,) if tank else (), roof=0.0, **supply))
    if rain:
        garden = replace(garden, water=replace(garden.water, roof=10.0))
    return loads_of(garden, weather(rain), need(weeks((0, 9), litres=litres)), begin, odds=odds)


def test_loads_by_hand():
    """50 litres a day from a full tank of 1,000, a tenth kept back: on the 19th day it would hold 50."""
    found = loads()
    # after 18 days 100 litres are there, and the day's 50 would leave less than a tenth
    assert found[0] == Load(dt.date(2027, 1, 19), 900.0)
    assert [load.date for load in found] == [dt.date(2027, 1, 19), dt.date(2027, 2, 6), dt.date(2027, 2, 24)]
    assert {load.litres for load in found} == {900.0}
    assert found[0].to_json() == {"date": "2027-01-19", "litres": 900}
    half = loads(full_at_start=0.5)
    assert half[0] == Load(dt.date(2027, 1, 9), 900.0)
    later = [load.date for load in loads(begin=dt.date(2027, 2, 6))]  # 34 days are left, and 36 of the next year
    assert later == [dt.date(2027, 2, 24), dt.date(2028, 1, 3), dt.date(2028, 1, 21)]
    assert loads(tank=0.0) == loads(litres=0.0) == ()
    assert loads(refill=50.0) == ()
    assert loads(full_at_start=0.05, begin=dt.date(2027, 6, 1))[0].date == dt.date(
        2028, 1, 1
    )  # none before it is drawn
    assert loads(refill=25.0)[0].date == dt.date(2027, 2, 6)
    assert loads(rain=1.0)[0].date > dt.date(2027, 1, 19)  # 8.5 litres a day from the roof
    assert roof_water(np.array([1.0]), 10.0)[0] == pytest.approx(8.5)


def test_a_tank_smaller_than_a_day_is_filled_once_a_day():
    found = loads(litres=7000.0, tank=500.0)
    assert len({load.date for load in found}) == len(found)
    assert len(found) <= 400


@pytest.mark.parametrize(("head", "lifts"), [(12.1, True), (12.0, False), (5.0, False)])
def test_a_pump_by_hand(head, lifts):
    """700 litres in the thirstiest week are 100 a day; 10 m2 lose 2 + 1.05 x 5 mm, 72.5 litres, of 2,500 there."""
    garden = Garden("g", "s", BEDS, water=replace(SUPPLY, pump=Pump(400.0, head, 12.0), pond=Pond(10.0, 2.0, 0.5)))
    found = pump_work(garden, weather(), need(weeks((20, 30), litres=700.0)))
    assert (found.hours, found.lifts) == (pytest.approx(0.25), lifts)
    assert found.pond_days == pytest.approx(2500.0 / 172.5)
    well = replace(garden, water=replace(garden.water, pond=None))
    assert pump_work(well, weather(), need(weeks((20, 30)))).pond_days is None
    untold = replace(garden, water=replace(garden.water, pond=Pond(10.0, 2.0)))
    assert pump_work(untold, weather(), need(weeks((20, 30)))).pond_days is None
    assert pump_work(Garden("g", "s", BEDS, water=SUPPLY), weather(), need(1.0)) is None


def trial(tanks=(1000.0,), litres=350.0, latitude=38.0, span=(0, 9)):
    garden = Garden("g", "s", BEDS, water=WaterSupply(tanks=tanks, roof=0.0))
    asked = need(weeks(span, litres=litres))
    asked = replace(asked, weekly=asked.weekly * np.array([[0.5], [1.5]]))
    return Trial(weather(), [], SimpleNamespace(placings=[]), garden, asked, latitude, NEW_YEAR)


def test_sizes_of_tank_that_are_tried():
    assert [c.tank for c in tank_sizes(trial())] == [500.0, 2000.0, 4000.0]
    assert [c.tank for c in tank_sizes(trial(tanks=()))] == [1000.0, 2000.0, 5000.0, 10000.0]
    assert tank_sizes(trial())[1].change == "2,000 litres of tank"


@pytest.mark.parametrize(("latitude", "span"), [(38.0, (0, 9)), (-38.0, (26, 35))])
def test_the_garden_as_it_is_north_and_south(latitude, span):
    """Filled at its turn of the year with 1,000 litres, 50 a day for seventy days: fifty are dry, five cans a day."""
    first = choices_of(trial(latitude=latitude, span=span))[0]
    assert first.change == "as it is"
    assert first.litres == pytest.approx(3500.0)
    assert first.saves == 0.0
    assert first.days_dry == pytest.approx(50, abs=1)
    assert first.minutes == pytest.approx(5 * 2.5)
    if latitude > 0:
        assert (first.loads, first.dry_year_loads) == (3, 5)  # 50 litres a day, and 70 in the dry year in ten
    assert choices_of(trial(litres=0.0)) == ()


def test_the_thirstiest_bed_comes_first():
    asked = need(1.0)
    asked = replace(asked, bed_weekly=np.array([np.full(52, 1.0), np.full(52, 3.0), np.full(52, 2.0)]))
    assert _thirsty_beds(asked) == [1, 2, 0]


@pytest.fixture
def helped(monkeypatch):
    """Changes that are tried, with half the water; what each was tried with is kept."""
    seen = []

    def garden_need(weather, sowings, placed, garden, cloth=0.0):
        seen.append((sowings, placed, garden, cloth))
        return need(weeks((0, 9), litres=175.0))

    monkeypatch.setattr(watering, "garden_need", garden_need)

    def of(garden=None, beds=2, **sowing_has):
        usual = {"crop": SimpleNamespace(name="leek"), "earlier": None, "rain_fed": False}
        row = Sown(**(usual | sowing_has))
        there = SimpleNamespace(placings=[SimpleNamespace(sowing=0, bed=b, area=1.0) for b in range(beds)])
        one = replace(trial(), sowings=[row], plan=there)
        if garden is not None:
            one = replace(one, garden=garden)
        seen.clear()
        return {c.change: c for c in what_helps(one)}, seen

    return of


@dataclass(frozen=True)
class Sown:
    crop: SimpleNamespace
    earlier: tuple | None
    rain_fed: bool
    index: object = None
    last: object = None


def test_what_is_tried_to_save_water(helped):
    found, seen = helped()
    assert list(found) == ["straw mulch over all the soil", "one bed less (b)", "30% shade cloth over the beds"]
    assert all(c.saves == pytest.approx(1750.0) for c in found.values())
    mulched, fewer, shaded = seen
    assert (mulched[2].mulch.kind, mulched[2].mulch.cover, mulched[3]) == ("straw", 1.0, 0.0)
    assert [b for _, b, _ in fewer[1]] == [0]
    assert shaded[3] == 0.3
    assert "straw mulch over all the soil" not in helped(mulch_of("straw", 1.0))[0]
    assert "straw mulch over all the soil" in helped(mulch_of("straw", 0.9))[0]
    assert "plastic mulch over all the soil" in helped(mulch_of("plastic", 0.5))[0]
    assert "straw mulch over all the soil" in helped(mulch_of("none", 1.0))[0]


def mulch_of(kind, cover):
    return Garden("g", "s", BEDS, water=WaterSupply(tanks=(1000.0,), roof=0.0), mulch=Mulch(kind, cover))


def test_earlier_starts_are_tried_where_they_serve_as_well(helped):
    early = ("index", "last")
    found, seen = helped(earlier=early)
    words = "starting 1 crop a fortnight earlier (where that serves as well)"
    assert words in found
    moved = [s[0][0] for s in seen if (s[0][0].index, s[0][0].last) == early]
    assert len(moved) == 1
    assert words not in helped(earlier=early, rain_fed=True)[0]
    assert words not in helped()[0]


def test_without_beds_or_draw_nothing_helps():
    assert what_helps(trial()) == []


def test_a_year_alone_tells_its_months():
    garden = Garden("g", "s", BEDS, water=SUPPLY)
    one = need(1.0, monthly((310.0, 620.0))[:, :1], between(2.0, 3.0))
    (row,) = watering_sheet(garden, [sowing(), sowing()], plan((0, 0, 1.0, 5.0)), one, None)
    assert (row.litres, row.dry_year_litres) == (310.0, 310.0)
    none = need(1.0, np.zeros((2, 0, 12)), between(2.0, 3.0))
    assert watering_sheet(garden, [sowing(), sowing()], plan((0, 0, 1.0, 5.0)), none, None) == ()


def test_minutes_are_told_to_a_tenth():
    row = ZoneMonth("z", 7, 310.0, 620.0, 2, 3.0, 700.0, 1)  # twenty litres every other day at 700 an hour
    assert (row.minutes, row.dry_year_minutes) == (pytest.approx(1200 / 700), pytest.approx(2400 / 700))
    assert (row.to_json()["minutes"], row.to_json()["dry_year_minutes"]) == (1.7, 3.4)


def test_a_line_that_drips_next_to_nothing_has_its_program():
    (slow,) = programs_of((month(7, 31.0, flow=0.05), month(6, 0.05, flow=600.0)), 1, (150, 220))
    assert slow.months == (6, 7)
    assert slow.minutes == pytest.approx(60.0 * 1.0 / 0.05)


@pytest.mark.parametrize(("draws", "dates"), [(0.99, [2]), (1.0, [1, 2]), (1.05, [1, 2]), (2.0, [1, 2])])
def test_no_less_than_a_litre_is_brought(draws, dates):
    """A tank of 1,000 litres, of which so much is gone on the day before 950 are wanted: the rest of it is brought."""
    garden = Garden("g", "s", BEDS, water=WaterSupply(tanks=(1000.0,), roof=0.0))
    weekly = np.zeros(52)
    weekly[[0, 1]] = 7.0 * np.array([draws, 950.0])
    found = loads_of(garden, weather(), need(weekly), dt.date(2027, 1, 7))
    # on 7 January the draught of the first week, on the 8th 950: brought the same day, before they are drawn
    assert found[0].date == dt.date(2027, 1, 8 if draws >= 1.0 else 9)
    assert len(dates) == 1 + (draws >= 1.0)


@pytest.mark.parametrize(("level", "day"), [(0.205, 3), (0.21, 3), (0.19, 2)])
def test_a_tenth_of_the_tank_is_kept_back(level, day):
    """50 litres a day from so much of 1,000: a load comes on the day after which less than 100 would be left."""
    assert loads(full_at_start=level)[0].date == dt.date(2027, 1, day)


def test_loads_while_not_all_stands_and_where_a_roof_gives_its_mean():
    """Half of what stands later draws 25 litres a day; 8.5 litres a day of a roof leave 41.5 of 50."""
    garden = Garden("g", "s", BEDS, water=WaterSupply(tanks=(1000.0,), roof=0.0))
    asked = need(weeks((0, 9), litres=350.0))
    half = loads_of(garden, weather(), asked, NEW_YEAR, there=np.full(365, 0.5))
    assert half[0] == Load(dt.date(2027, 2, 6), 900.0)  # 36 days leave 100
    roofed = loads(rain=1.0)
    assert roofed[0].date == dt.date(2027, 1, 1) + dt.timedelta(
        days=21
    )  # 21 days leave 128.5 litres, and 41.5 are asked
    shower = weather(np.where(np.arange(SIZE) % 365 == 3, 20.0, 0.0))  # 170 litres on 4 January of each year
    wet = loads_of(replace(garden, water=replace(garden.water, roof=10.0)), shower, asked, NEW_YEAR)
    assert wet[0].date == dt.date(2027, 1, 22)  # 18 days leave 270 litres, three more 120


def test_a_pump_in_the_last_week_of_the_year():
    """Its eight days lose their own mean: seven of 5 mm and one of 13, 6 mm."""
    garden = Garden("g", "s", BEDS, water=replace(SUPPLY, pump=Pump(400.0, 20.0, 12.0), pond=Pond(10.0, 2.0, 0.5)))
    reference = np.where(np.arange(SIZE) % 365 == 364, 13.0, 5.0)
    found = pump_work(garden, weather(reference=reference), need(weeks((51, 51), litres=800.0)))
    assert found.pond_days == pytest.approx(2500.0 / (100.0 + 10.0 * (2.0 + 1.05 * 6.0)))


def test_what_is_drawn_in_one_year_of_three_is_not_saved(helped):
    there = SimpleNamespace(placings=[SimpleNamespace(sowing=0, bed=0, area=1.0)])
    one = replace(trial(), sowings=[Sown(SimpleNamespace(name="leek"), None, False)], plan=there)
    assert what_helps(one) != []
    rare = replace(one.need, weekly=np.stack([np.zeros(52), np.zeros(52), weeks((0, 9))]), years=np.array([1, 2, 3]))
    assert what_helps(replace(one, need=rare)) == []
    some = replace(rare, weekly=np.stack([np.zeros(52), weeks((0, 0), litres=0.05), weeks((0, 9))]))
    assert what_helps(replace(one, need=some)) != []


def test_the_thirstiest_half_of_four_beds_and_the_most_helpful_first(helped, monkeypatch):
    beds = tuple(Bed(name, 10.0, 1.0) for name in "abcd")
    there = SimpleNamespace(placings=[SimpleNamespace(sowing=0, bed=b, area=1.0) for b in range(4)])
    asked = replace(trial().need, bed_weekly=np.array([[1.0], [4.0], [2.0], [3.0]]) * np.ones(52))
    rows = [Sown(SimpleNamespace(name="leek"), None, False)]
    tried = []

    def garden_need(weather, sowings, placed, garden, cloth=0.0):
        tried.append([b for _, b, _ in placed])
        return need(weeks((0, 9), litres=100.0 * len(placed) - 50.0 * bool(cloth)))

    monkeypatch.setattr(watering, "garden_need", garden_need)
    garden = replace(trial().garden, beds=beds)
    found = what_helps(replace(trial(), sowings=rows, plan=there, need=asked, garden=garden))
    assert tried == [[0, 1, 2, 3], [0, 2, 3], [0, 2], [0, 1, 2, 3]]
    assert [c.change for c in found] == [
        "the thirstiest half of the beds left fallow", "one bed less (b)", "30% shade cloth over the beds",
        "straw mulch over all the soil",
    ]  # fmt: skip
    three = replace(asked, bed_weekly=asked.bed_weekly[:3])
    few = what_helps(replace(trial(), sowings=rows, plan=there, need=three, garden=replace(garden, beds=beds[:3])))
    assert not any("half" in c.change for c in few)
    single = replace(asked, bed_weekly=asked.bed_weekly[:1])
    one = what_helps(replace(trial(), sowings=rows, plan=there, need=single, garden=replace(garden, beds=beds[:1])))
    assert not any("one bed less" in c.change for c in one)


def test_mulch_of_a_bed_s_own_goes_before_the_garden_s(helped):
    """One bed bare of two under full straw: mulch over all of it is tried, of no bed its own."""
    own = replace(mulch_of("straw", 1.0), beds=(replace(BEDS[0], mulch=Mulch("none")), BEDS[1]))
    found, seen = helped(own)
    assert "straw mulch over all the soil" in found
    assert [b.mulch for b in seen[0][2].beds] == [None, None]
    covered = replace(mulch_of("none", 1.0), beds=tuple(replace(b, mulch=Mulch("straw", 1.0)) for b in BEDS))
    assert "straw mulch over all the soil" not in helped(covered)[0]
    deep = helped(replace(mulch_of("none", 1.0), mulch=Mulch("none", 0.5, 0.08)))[1][0][2].mulch
    assert (deep.kind, deep.cover, deep.depth) == ("straw", 1.0, 0.08)


def test_a_pot_that_wants_a_twentieth_of_a_litre_has_its_load():
    """A tenth of the tank is there, which is kept back."""
    assert loads(litres=0.35, full_at_start=0.1)[0].date == dt.date(2027, 1, 1)
    assert loads(litres=0.35, full_at_start=0.11) == ()  # ten litres more last for 70 days of a twentieth
