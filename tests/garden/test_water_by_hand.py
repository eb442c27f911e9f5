"""Water need and store on made-up days, each figure reckoned beside it; north and south of the equator."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from sowcal.garden.bed_ground import Ground
from sowcal.garden.garden_file import Bed, Garden, Mulch, Pond, Pump, WaterSupply
from sowcal.garden.garden_weather import GardenWeather
from sowcal.garden.soil_water import Basal
from sowcal.garden.store import (
    StoreResult,
    StoreYear,
    _levels,
    chance_dry,
    dry_days,
    filled_days,
    follow_store,
    known_levels,
    lasts_days,
    level_from_here,
    level_spread,
    roof_water,
    run_store,
    size_for,
    size_if_full,
    store_result,
    store_years,
)
from sowcal.garden.water_need import (
    GardenNeed,
    InBed,
    SowingNeed,
    _mean_need,
    _sowing_need,
    _summed,
    _under_cloth,
    efficiency,
    leaching_share,
    season_balance,
    season_days,
    water_from_here,
    watering_of,
)

YEARS = 4
SIZE = 365 * YEARS
GARDEN = Garden("g", "s", (Bed("b", 10, 1),))
# a third of the season each: bare, closing over, closed
CROP = Basal(0.2, 1.1, 1.1, (1 / 3, 2 / 3, 1.0), 0.5, 0.75, 0.5, assumed=False, stands=False)


def weather(reference=5.0, rain=0.0, wind=2.0, humidity=45.0, size=SIZE):
    def days(x):
        return np.broadcast_to(np.asarray(x, dtype=float), size).copy()

    year, day = 2000 + np.arange(size) // 365, np.arange(size) % 365
    return GardenWeather(
        days(reference), days(rain), days(wind), days(humidity), year, day, np.ones(size, dtype=bool), "made up", ()
    )


def season(light=1.0, left=None, index=100, length=60, crop=CROP, **more):
    light = np.atleast_1d(light)
    return season_days(
        weather(**more),
        [crop],
        np.array([[index]]),
        np.array([[length]]),
        np.array([True]),
        light if light.size == 1 else light[None],
        None if left is None else np.array([left]),
    )


@pytest.mark.parametrize(("shade", "share"), [(0.0, 1.0), (0.5, 0.65), (1.0, 0.3)])
def test_seven_tenths_of_the_evapotranspiration_go_with_the_light(shade, share):
    drives, _ = season(1.0 - shade)
    np.testing.assert_allclose(drives.reference, 5.0 * share)


def test_shade_and_mulch_are_those_of_the_month():
    """60 days from the hundredth (11 April): 20 of April, 31 of May, 9 of June."""
    light, left = np.ones(12), np.ones(12)
    light[4], left[5] = 0.0, 0.25
    drives, day = season(light, left)
    np.testing.assert_allclose(drives.reference[:, 0, 0], [5.0] * 20 + [1.5] * 31 + [5.0] * 9)
    np.testing.assert_allclose(drives.left[:, 0, 0], [1.0] * 51 + [0.25] * 9)
    np.testing.assert_array_equal(day[:, 0, 0], np.arange(100, 160))


def test_a_season_stays_within_the_record():
    drives, day = season(index=SIZE - 10, length=60)
    assert drives.grows.sum() == 10
    assert day.max() == SIZE - 1
    drives, day = season(index=0)
    assert drives.grows.sum() == 60
    assert day[0, 0, 0] == 0
    drives, _ = season(index=-1)
    assert drives.grows.sum() == 0
    drives, _ = season(length=0)
    assert drives.reference.shape[0] == 1
    both, _ = season_days(
        weather(), [CROP, CROP], np.array([[0], [100]]), np.array([[5], [3]]), np.array([True, True]), np.ones(2)
    )
    assert both.grows[:, :, 0].T.tolist() == [[True] * 5, [True] * 3 + [False] * 2]
    drives, _ = season(length=900)
    assert drives.reference.shape[0] == 400


def test_leaves_close_over_and_roots_go_down_with_them():
    """Wind of 2 m/s and 45 per cent add nothing to the coefficients (FAO-56 eq. 70); roots from 0.15 to 0.75 m."""
    drives, _ = season(length=60)
    kcb, roots = drives.basal[:, 0, 0], drives.rooting_depth[:, 0, 0]
    np.testing.assert_allclose(kcb[:20], 0.2)
    np.testing.assert_allclose(kcb[40:], 1.1)
    np.testing.assert_allclose(kcb[29:31].mean(), 0.65)  # half way at half time
    np.testing.assert_allclose(roots[:20], 0.15)
    np.testing.assert_allclose(roots[29:31].mean(), 0.45)
    np.testing.assert_allclose(roots[40:], 0.75)
    standing, _ = season(crop=replace(CROP, stands=True))
    np.testing.assert_allclose(standing.rooting_depth, 0.75)
    shallow, _ = season(crop=replace(CROP, rooting_depth=0.1))
    np.testing.assert_allclose(shallow.rooting_depth, 0.1)
    ripening, _ = season(crop=replace(CROP, turns=(0.2, 0.4, 0.6), end=0.3))
    np.testing.assert_allclose(ripening.rooting_depth[-1], 0.75)  # roots do not come up again


def test_wind_and_dry_air_are_those_of_the_season():
    """FAO-56 eq. 70: 0.04 (4 - 2) - 0.004 (25 - 45) = 0.16, times (0.5 / 3) ** 0.3 = 0.584."""
    wind = np.full(SIZE, 2.0)
    wind[100:160] = 4.0
    humidity = np.full(SIZE, 45.0)
    humidity[100:160] = 25.0
    drives, _ = season(wind=wind, humidity=humidity)
    np.testing.assert_allclose(drives.basal[-1, 0, 0], 1.1 + 0.16 * 0.584, atol=1e-3)
    half = np.full(SIZE, 2.0)
    half[130:160] = 4.0
    drives, _ = season(wind=half)
    np.testing.assert_allclose(drives.basal[-1, 0, 0], 1.1 + 0.04 * 0.584, atol=1e-3)
    # of one day, the first of the record and its last: 4 m/s are 0.08 more than 2
    for day in (0, SIZE - 1):
        windy = np.where(np.arange(SIZE) == day, 4.0, 2.0)
        limit = season(wind=windy, index=day, length=1)[0].limit[0, 0, 0]
        np.testing.assert_allclose(limit, 1.2 + 0.08 * 0.584, atol=1e-3)
    np.testing.assert_allclose(
        season(wind=np.where(np.arange(SIZE) < 1, 4.0, 2.0), length=2, index=0)[0].limit[0, 0, 0],
        1.2 + 0.04 * 0.584,
        atol=1e-3,
    )


def test_what_is_drawn_is_the_crop_s_use_over_what_reaches_the_roots():
    """Under full plastic only a fifth evaporates: 60 days of which a third at 0.2, a third rising, a third at 1.1."""
    mulched = replace(GARDEN, mulch=Mulch("plastic", 1.0))
    balance, _, grows = season_balance(
        weather(), [CROP], np.array([[100, 465]]), np.array([[60, 60]]), np.array([True]), np.ones(1), mulched
    )
    used = 5.0 * (20 * 0.2 + 20 * 0.65 + 20 * 1.1)
    assert balance.evapotranspiration.sum(axis=0)[0] == pytest.approx([used, used], rel=0.15)
    assert (balance.evapotranspiration.sum(axis=0) > used).all()
    assert grows.sum() == 120


@pytest.mark.parametrize(
    ("method", "salinity", "share"),
    [("drip", 0.0, 0.9), ("hand", 0.0, 0.75), ("drip", 0.9, 0.9), ("drip", 1.5, 0.9 * (1 - (1.5 / 8.5 - 0.1)))],
)
def test_share_of_the_water_that_roots_keep(method, salinity, share):
    """Drip 0.90 (FAO Training Manual 4, Table 8, from memory); leaching counts above a tenth (FAO-29, from memory)."""
    garden = replace(GARDEN, water=WaterSupply(method=method, salinity=salinity))
    assert efficiency(garden) == pytest.approx(share)
    watering = watering_of(garden)
    assert (watering.wetted, watering.drip) == ((0.35, True) if method == "drip" else (1.0, False))


@pytest.mark.parametrize(
    ("salinity", "share"), [(0.0, 0.0), (-1.0, 0.0), (1.0, 1 / 9), (3.0, 3 / 7), (4.0, 0.5), (20.0, 0.5)]
)
def test_leaching(salinity, share):
    """ECw / (5 ECe - ECw) with an ECe of 2 dS/m, at most a half (Ayers & Westcot 1985, from memory)."""
    assert leaching_share(salinity) == pytest.approx(share)


def test_days_between_waterings_of_a_month():
    """Ten days of May and four of June: watered once in May, twice in June; half of its thirst met on two days."""
    days, one = np.arange(14)[:, None, None], np.zeros((14, 1, 1))
    given, stress = one.copy(), one + 1.0
    given[[3, 10, 12], 0, 0] = 20.0, 10.0, 10.0
    stress[[0, 1]] = 0.5
    balance = SimpleNamespace(irrigation=given, evapotranspiration=one + 4.0, stress=stress)
    found = _sowing_need(balance, one == 0.0, 0, 2.0 * given, np.where(days < 10, 4, 5))
    assert (found.irrigation[0], found.use[0], found.met[0]) == (80.0, 56.0, pytest.approx(13 / 14))
    assert found.between[[4, 5]].tolist() == [10.0, 2.0]
    assert np.isnan(np.delete(found.between, [4, 5])).all()
    day = SimpleNamespace(irrigation=given[:1], evapotranspiration=one[:1], stress=stress[:1])
    assert _sowing_need(day, one[:1] == 0.0, 0, given[:1], np.full((1, 1, 1), 4)).met[0] == 0.5  # of one day


def test_a_cloth_over_all_beds_takes_its_share_of_what_light_is_left():
    ground = Ground("loam", 0.6, (0.5,) * 12, (1.0,) * 12)
    assert _under_cloth(ground, 0.4).light == pytest.approx((0.3,) * 12)


def test_a_sowing_in_two_beds_has_their_mean_by_area_and_the_shorter_rounds():
    def one(mm, met, days):
        return SowingNeed(np.array([mm]), np.array([2 * mm]), np.array([met]), np.array([days]))

    both = _mean_need([(3.0, one(100.0, 1.0, 4.0)), (1.0, one(200.0, 0.6, 3.0))])
    assert (both.irrigation[0], both.use[0], both.met[0], both.between[0]) == pytest.approx((125.0, 250.0, 0.9, 3.0))
    assert _mean_need([(3.0, one(100.0, 1.0, 4.0))]).irrigation[0] == 100.0
    assert _mean_need([(1.0, one(1.0, 1.0, np.nan)), (1.0, one(1.0, 1.0, 5.0))]).between[0] == 5.0


def test_litres_are_summed_by_week_month_and_bed():
    daily = np.zeros(SIZE)
    daily[[0, 6, 7, 31, 357, 364]] = 1.0, 2.0, 4.0, 8.0, 16.0, 32.0  # of the first year; 1 February is day 31
    daily[365 * 3 :] = 1.0
    two = np.stack([0.25 * daily, 0.75 * daily])
    here = weather()
    here.known[365:730] = False  # a year without readings
    need = _summed(here, daily, two, {})
    assert need.years.tolist() == [2000, 2002, 2003]
    assert need.weekly.shape == (3, 52)
    assert need.weekly[0, [0, 1, 4, 51]].tolist() == [3.0, 4.0, 8.0, 48.0]
    assert need.weekly[2].tolist() == [7.0] * 51 + [8.0]
    assert need.weekly[1].sum() == 0.0
    assert need.bed_weekly[:, 0] == pytest.approx([0.25 * 3.0, 0.75 * 3.0])  # the middle of 3, 0 and 7
    assert need.bed_monthly.shape == (2, 3, 12)
    assert need.bed_monthly[1, 0] == pytest.approx(0.75 * np.array([7.0, 8.0, *[0.0] * 9, 48.0]))
    assert need.draws
    assert need.year(0.5) == 63.0
    assert need.week(0.5)[51] == 8.0
    assert need.by_month(1.0)[1] == pytest.approx((8.0 / 7 * 4 + 24 * 1.0) / 28, abs=0.2)
    assert not replace(need, daily=np.zeros(SIZE)).draws


def test_nothing_known_draws_nothing():
    need = GardenNeed(
        np.zeros(10), {}, np.zeros((0, 52)), np.zeros((0, 52)), np.array([], dtype=int), np.zeros((0, 0, 12))
    )
    assert need.week(0.5).shape == (52,)
    assert need.week(0.9).sum() == need.year(0.5) == 0.0


# --- water from today on ---


def standing(**change):
    index = np.array([100, 465, 830])
    plain = InBed("b", replace(CROP, stands=True), 2.0, 1.0, index, np.full(3, 200), 50, {})
    return replace(plain, **change)


def drawn(one, back=0, **more):
    beds, litres = water_from_here(weather(**more), [one], GARDEN, back)
    return beds[0], litres


def test_a_week_of_water_is_what_it_uses_and_the_area_over_what_is_kept():
    """In the long run 5 mm at 1.1 and what evaporates are drawn over 0.9 on 2 m2: more than 12.2 litres a day."""
    bed, litres = drawn(standing(age=150))
    assert litres.shape == (3, 400)
    assert (litres[:, 50:] == 0.0).all()  # it stands for fifty days more
    assert litres[:, :50].sum(axis=1) / 50 == pytest.approx(5 * 1.1 * 2 / 0.9, rel=0.15)
    assert bed.litres == pytest.approx(litres[:, :7].sum(axis=1))
    assert bed.assumed
    ten = drawn(standing(age=150, area=20.0))[1]
    np.testing.assert_allclose(ten, 10 * litres)


def test_what_was_given_is_wanted_no_more():
    """A great deal given yesterday leaves nothing to give for a week of 3 mm a day; what had nothing drinks at once."""
    full, _ = drawn(standing(age=150, given={0: 1.0, 149: 800.0}), reference=3.0)
    bare, _ = drawn(standing(age=150, given={0: 1.0}), reference=3.0)
    plain, _ = drawn(standing(age=150), reference=3.0)
    assert (full.litres == 0.0).all()
    assert (bare.litres > plain.litres).all()
    assert not full.assumed
    later, _ = drawn(
        standing(age=150, given={150: 800.0, 400: 5.0, -3: 5.0}), reference=3.0
    )  # of days that are not yet, or were not
    np.testing.assert_allclose(later.litres, plain.litres)


def test_days_before_today_stand_before_it():
    one = standing(age=150)
    _, now = drawn(one)
    _, back = drawn(one, 30)
    assert back.shape == (3, 430)
    np.testing.assert_allclose(back[:, 30:], now)
    assert back[:, :30].sum(axis=1) / 30 == pytest.approx(5 * 1.1 * 2 / 0.9, rel=0.2)
    _, young = drawn(standing(age=10), 30)
    assert (young[:, :20] == 0.0).all()
    given = drawn(standing(age=150, given={149: 90.0}), 30)[1]
    assert given[:, 29] == pytest.approx(90.0)


def test_beds_are_summed_and_rain_fed_ones_draw_nothing():
    one = standing(age=150)
    beds, litres = water_from_here(weather(), [one, one, standing(bed="c", rain_fed=True)], GARDEN)
    assert [b.bed for b in beds] == ["b", "c"]
    alone, by_day = drawn(one)
    np.testing.assert_allclose(beds[0].litres, 2 * alone.litres)
    np.testing.assert_allclose(litres, 2 * by_day)
    assert (beds[1].litres == 0.0).all()
    known = replace(one, given={149: 1.0})
    assert water_from_here(weather(), [one, known], GARDEN)[0][0].assumed
    assert water_from_here(weather(), [known, one], GARDEN)[0][0].assumed
    assert not water_from_here(weather(), [known, known], GARDEN)[0][0].assumed
    assert water_from_here(weather(), [], GARDEN, 5)[1].shape == (0, 405)


def test_a_bed_of_its_own_ground():
    one = standing(age=150, length=np.full(3, 350))
    plain = drawn(one)[1].sum()
    even, shaded, thirsty = (
        drawn(replace(one, ground=Ground("loam", 0.6, (light,) * 12, (1.0,) * 12, more)))[1].sum()
        for light, more in ((1.0, 1.0), (0.5, 1.0), (1.0, 1.2))
    )
    assert shaded == pytest.approx(0.65 * even, rel=0.1)
    assert thirsty == pytest.approx(1.2 * even, rel=1e-9)
    assert drawn(replace(one, light=0.5))[1].sum() < plain


# --- store ---


def need_of(daily, here):
    return _summed(here, daily, daily[None], {})


SUMMER = {38.0: slice(181, 212), -38.0: slice(0, 31)}  # July, January
MONTH = {38.0: 6, -38.0: 0}


def july(latitude, litres=100.0):
    daily = np.zeros((YEARS, 365))
    daily[:, SUMMER[latitude]] = litres
    return daily.ravel()


@pytest.mark.parametrize("latitude", [38.0, -38.0])
def test_a_tank_filled_before_the_dry_season_in_both_hemispheres(latitude):
    """2000 litres, filled once a year (1 January; in the south 1 July), last 20 days of a month of 100 litres a day."""
    here = weather()
    garden = replace(GARDEN, water=WaterSupply(tanks=(2000.0,), roof=0.0))
    result = store_result(here, need_of(july(latitude), here), garden, latitude)
    assert result.capacity == 2000.0
    assert result.thirsty_month == MONTH[latitude]
    assert result.month_name == ("July" if latitude > 0 else "January")
    assert result.lasts == result.lasts_dry_year == 20
    whole = [y for y in result.years if y.days_dry]
    assert len(whole) >= YEARS - 1
    assert {y.days_dry for y in whole} == {11}
    assert result.first_dry == SUMMER[latitude].start + 20
    assert result.days_dry == 11
    assert result.refill_wanted == pytest.approx(1100.0)
    assert result.size_if_full == pytest.approx(3100.0)
    assert result.size_for_9_in_10 == pytest.approx(3100.0, rel=0.011)
    assert result.chance_dry >= 0.75
    days = np.flatnonzero(filled_days(here, garden, latitude)) % 365
    assert set(days) == {0 if latitude > 0 else 181}


def test_where_a_roof_or_a_refill_is_given_nobody_fills_it():
    here = weather()
    for supply in (WaterSupply(tanks=(1.0,), roof=1.0), WaterSupply(tanks=(1.0,), roof=0.0, refill=1.0)):
        assert not filled_days(here, replace(GARDEN, water=supply), 38.0).any()


def test_roof_and_refill_run_in():
    here = weather(rain=np.where(np.arange(SIZE) % 365 == 10, 20.0, 0.0))
    garden = replace(GARDEN, water=WaterSupply(tanks=(2000.0,), roof=50.0, refill=10.0))
    result = store_result(here, need_of(july(38.0), here), garden, 38.0)
    # 20 mm on 50 m2 at 0.85 are 850 litres; ten litres a day as far as there is room
    assert result.years[1].inflow == pytest.approx(result.years[1].outflow + result.years[1].change)
    assert result.runs_in == pytest.approx(np.median([y.inflow for y in result.years]))
    assert result.years[1].inflow + 2000.0 >= 3100.0
    assert result.lasts == 22  # 2000 litres and ten a day last 22 whole days at 100


def test_a_pond_loses_to_the_air_unless_it_is_pumped_from():
    here = weather(reference=4.0)
    pond = WaterSupply(tanks=(10_000.0,), roof=0.0, pond=Pond(area=10.0, seepage=1.0))
    nothing = need_of(np.zeros(SIZE), here)
    run = run_store(here, nothing, replace(GARDEN, water=pond), 38.0)
    assert run.lost[1] == pytest.approx((1.05 * 4.0 + 1.0) * 10.0)  # FAO-56 Table 12: 1.05 of the reference
    assert run.level[1] == pytest.approx(10_000.0 - 2 * 52.0)
    pumped = replace(pond, pump=Pump(1000.0, 20.0, 5.0))
    assert run_store(here, nothing, replace(GARDEN, water=pumped), 38.0).lost.sum() == 0.0
    half = replace(pumped, full_at_start=0.5, roof=1.0)
    assert run_store(here, nothing, replace(GARDEN, water=half), 38.0).start == 5000.0


def test_filling_from_elsewhere_brings_what_is_wanting_and_what_falls_runs_over():
    run = follow_store(np.array([0.0, 0.0]), np.array([30.0, 300.0]), 100.0, start=0.5, filled=np.array([True, True]))
    assert run.inflow.tolist() == [50.0, 300.0]
    assert run.level.tolist() == [100.0, 100.0]
    assert run.spilled.tolist() == [0.0, 300.0]


def test_losses_are_no_more_than_there_is_and_come_before_the_garden():
    run = follow_store(np.array([10.0, 10.0]), np.array([0.0, 25.0]), 100.0, start=0.05, losses=20.0)
    assert run.lost.tolist() == [5.0, 20.0]
    assert run.drawn.tolist() == [0.0, 5.0]
    assert run.wanting.tolist() == [10.0, 5.0]


def test_the_first_rain_after_three_dry_days_washes_the_roof():
    rain = np.array([5.0, 5.0, 0.0, 0.0, 5.0, 0.0, 0.0, 0.0, 5.0, 0.5, 0.0, 0.0, 0.0, 0.5])
    assert roof_water(np.array([0.05, 0.0, 0.0, 5.0]), 100.0, 1.0, first_flush=1.0)[3] == 500.0  # a wet day is any rain
    assert roof_water(np.array([0.0, 0.0, 0.0, 5.0]), 100.0, 1.0, first_flush=0.05)[3] == pytest.approx(495.0)
    caught = roof_water(rain, 100.0, 1.0, first_flush=1.0)
    np.testing.assert_allclose(caught, 100.0 * np.array([4, 5, 0, 0, 5, 0, 0, 0, 4, 0.5, 0, 0, 0, 0]))


def test_a_level_stands_in_its_own_year_alone():
    """Of two years the second is known and ends three weeks early: what the first held then is none of it."""
    here = weather(size=365 * 2 - 21)
    run = follow_store(np.zeros(here.size), np.full(here.size, 1.0), 1e6, start=0.0)
    levels = _levels(here, run, np.array([2001]))
    np.testing.assert_allclose(levels[0, :344], 366.0 + np.arange(344))
    assert np.isnan(levels[0, 344:]).all()


def test_levels_of_the_years_that_are_known():
    levels = np.full((3, 365), np.nan)
    levels[0], levels[2] = 100.0, 300.0
    assert known_levels(levels).shape == (2, 365)
    np.testing.assert_allclose(level_spread(levels)[:, 0], [100.0, 120.0, 200.0, 280.0, 300.0])
    assert level_spread(np.full((2, 365), np.nan)) is None
    assert known_levels(np.zeros((0, 365))).shape == (0, 365)


def test_the_first_dry_day_of_the_south_is_counted_from_its_winter():
    """Dry from 20 December in one year and from 10 January in the next: the middle is 30 December."""

    def year(first):
        return StoreYear(2000, 0.0, 0.0, 0.0, 5, first, 0.0, 0.0, 181)

    result = StoreResult(
        0.0, (year(353), year(9), year(None)), None, None, None, 0, None, None, 0.0, np.zeros((0, 365))
    )
    assert result.first_dry == 363
    assert replace(result, years=(year(9),)).first_dry == 9
    assert result.days_dry == 5.0
    empty = replace(result, years=())
    assert (empty.first_dry, empty.days_dry, empty.runs_in) == (None, 0.0, None)


def test_days_that_a_store_lasts_are_told_by_what_the_record_holds():
    day = np.arange(3 * 365) % 365
    demand = np.full(day.size, 10.0)
    assert lasts_days(demand, np.full(day.size, 4.0), 120.0, day, 0).tolist() == [19, 19, 19]
    cut = slice(0, 2 * 365 + 60)
    assert lasts_days(demand[cut], 0 * demand[cut], 5000.0, day[cut], 0).tolist() == [365, 365, 60]
    cut = slice(0, 2 * 365 + 59)
    assert lasts_days(demand[cut], 0 * demand[cut], 5000.0, day[cut], 0).tolist() == [365, 365]


def test_the_size_that_is_full_once_meets_the_longest_want():
    """A thirst of 40, rain of 25, a thirst of 30: 45 are wanting at the end, more than the first 40."""
    day = np.arange(365)
    net = np.zeros(365)
    net[[10, 20, 30]] = 40.0, -25.0, 30.0
    demand, comes = np.maximum(net, 0.0), np.maximum(-net, 0.0)
    assert size_if_full(demand, comes, day) == pytest.approx(45.0)
    assert size_if_full(demand, comes, day, losses=1.0) == pytest.approx(45.0 + 31.0 + 334.0)
    assert size_if_full(demand, comes, day, refill=1.0) == pytest.approx(39.0)
    assert size_if_full(demand[:-1], comes[:-1], day[:-1]) is None
    twice = np.tile(demand, 2), np.tile(comes, 2), np.tile(day, 2)
    assert size_if_full(*twice) == pytest.approx(45.0)
    assert size_if_full(*twice, first=15) == pytest.approx(70.0)  # of one whole year from then on: 30, then 40


def test_the_size_for_nine_years_in_ten_counts_losses_and_refill():
    year, day = np.repeat([2000, 2001], 365), np.tile(np.arange(365), 2)
    demand = np.where((day >= 200) & (day < 210), 100.0, 0.0)
    rain = np.where(day < 10, 1000.0, 0.0)
    years = np.array([2000, 2001])

    def size(**more):
        return size_for(demand, rain, year, years, **more)

    assert size() == pytest.approx(1000.0, rel=0.011)
    assert size(losses=2.0) == pytest.approx(1000.0 + 2 * 200, rel=0.011)
    assert size(refill=20.0) == pytest.approx(800.0, rel=0.02)
    assert size_for(demand, rain, year, np.array([], dtype=int)) is None


def test_the_tank_from_a_told_level_on():
    here = weather(rain=np.where(np.arange(SIZE) % 365 == 102, 10.0, 0.0))
    garden = replace(GARDEN, water=WaterSupply(tanks=(500.0,), roof=10.0))
    draws = np.full((2, 20), 20.0)
    levels, dry = level_from_here(here, garden, np.array([100, 465]), draws, 100.0)
    # 80, 60, then 85 litres of roof water: 125, and 105, 85, 65, 45, 25, 5; the tenth day lacks 15
    np.testing.assert_allclose(levels[0, :10], [80, 60, 125, 105, 85, 65, 45, 25, 5, 0])
    assert dry.tolist() == [9, 9]
    assert level_from_here(here, garden, np.array([100]), 0 * draws[:1], 100.0)[1].tolist() == [-1]
    last = weather(rain=np.where(np.arange(SIZE) == SIZE - 1, 10.0, 0.0))  # what lies beyond the record is as its end
    np.testing.assert_allclose(
        level_from_here(last, garden, np.array([SIZE - 1]), 0 * draws[:1], 100.0)[0][0, :3], [185, 270, 355]
    )
    first = weather(rain=np.where(np.arange(SIZE) == 0, 10.0, 0.0))
    np.testing.assert_allclose(
        level_from_here(first, garden, np.array([0]), 0 * draws[:1], 100.0)[0][0, :3], [185, 185, 185]
    )
    over, _ = level_from_here(here, garden, np.array([100]), draws[:1], 900.0)
    assert over[0, 0] == 880.0  # told to hold more than the file says


def test_days_that_a_store_lasts_in_the_middle_and_in_the_dry_year_in_ten():
    """2,000 litres at 100, 125, 160 and 200 a day last 20, 16, 12 and 10 days."""
    daily = np.zeros((YEARS, 365))
    daily[:, 181:212] = np.array([100.0, 125.0, 160.0, 200.0])[:, None]
    here = weather()
    garden = replace(GARDEN, water=WaterSupply(tanks=(2000.0,), roof=0.0))
    result = store_result(here, need_of(daily.ravel(), here), garden, 38.0)
    assert result.lasts == 14.0
    assert result.lasts_dry_year == pytest.approx(10.6)


@pytest.mark.parametrize("weeks", [1, 3])
def test_a_day_of_each_week_and_month_from_the_weeks(weeks):
    """Seven litres a week, eight in the last, which has eight days: a litre on each of 365 days."""
    weekly = np.broadcast_to([7.0] * 51 + [8.0], (weeks, 52))
    need = GardenNeed(np.ones(365), {}, weekly, np.zeros((0, 52)), np.arange(weeks), np.zeros((0, weeks, 12)))
    np.testing.assert_allclose(need.by_day(0.5), np.ones(365))
    np.testing.assert_allclose(need.by_month(0.9), np.ones(12))
    assert need.year(0.5) == need.week(0.5).sum() == 365.0
    peak = replace(
        need, weekly=weekly + np.where(np.arange(52) == 51, 0.9, 0.0) + np.where(np.arange(52) == 7, 0.8, 0.0)
    )
    assert peak.thirstiest_week == 7  # 7.8 litres in seven days are more a day than 8.9 in eight


@pytest.mark.parametrize("age", [1, 2, 37, 120])
def test_a_season_followed_in_two_parts_is_as_it_is_followed_in_one(age):
    """What it was watered with till today and will be from today on is that of the whole season, in rain and sun."""
    rng = np.random.default_rng(3)
    days = {
        "rain": np.where(rng.random(SIZE) < 0.2, rng.uniform(0, 15, SIZE), 0.0),
        "reference": rng.uniform(2, 7, SIZE),
    }
    _, whole = drawn(standing(age=0), **days)
    _, parted = drawn(standing(age=age), age, **days)
    np.testing.assert_allclose(parted[:, :200], whole[:, :200])
    assert parted[:, :age].sum() > 0.0 or age < 3


def test_what_should_have_been_cleared_and_stands_is_watered_today():
    """It was to stand for 100 days and has stood 150: what it wants today is drawn, and nothing for tomorrow."""
    old = standing(age=150, length=np.full(3, 100), given={0: 1.0})
    bed, litres = drawn(old)
    assert (litres[:, 0] > 0.0).all()
    assert (litres[:, 1:] == 0.0).all()
    np.testing.assert_allclose(bed.litres, litres[:, 0])


def test_a_level_of_a_few_years_in_ten():
    """Of eleven years at 0, 100 to 1,000 litres the tenth lowest and highest are 100 and 900."""
    levels = np.broadcast_to(100.0 * np.arange(11)[:, None], (11, 365))
    np.testing.assert_allclose(level_spread(levels)[:, 5], [0.0, 100.0, 500.0, 900.0, 1000.0])


def test_a_full_store_beside_a_pond_lasts_as_long_as_both_let_it():
    """2,000 litres in July at 100 a day and 52 that a pond of 10 m2 loses: thirteen days; with a roof of 20 litres a
    day sixteen less 28."""
    here = weather(reference=4.0)
    pond = WaterSupply(tanks=(2000.0,), roof=0.0, pond=Pond(area=10.0, seepage=1.0))
    result = store_result(here, need_of(july(38.0), here), replace(GARDEN, water=pond), 38.0)
    assert result.lasts == 13
    rainy = weather(reference=4.0, rain=2.0)
    roofed = replace(GARDEN, water=replace(pond, roof=20.0))  # 2 mm on 20 m2 at 0.85: 34 litres a day
    assert store_result(rainy, need_of(july(38.0), rainy), roofed, 38.0).lasts == int(2000.0 / (100.0 + 52.0 - 34.0))


def test_less_than_a_drop_wanting_is_no_dry_day():
    run = SimpleNamespace(wanting=np.array([0.0, 1e-6, 2e-6, 5.0]))
    assert dry_days(run).tolist() == [False, False, True, True]


def test_a_dry_day_of_a_southern_store_is_told_by_its_day_of_the_calendar():
    """Filled on 1 July, dry from 20 January on: day 19, and not a day of the year before."""
    days = np.arange(730)
    year, day = 2000 + days // 365, days % 365
    run = follow_store(np.full(730, 10.0), np.zeros(730), 2030.0, start=0.0, filled=day == 181)
    (one,) = store_years(run, year - (day < 181), (day - 181) % 365, np.array([2000]), begins=181)
    assert (one.first_dry, one.days_dry, one.begins) == (19, 365 - 203, 181)


def one_day(demand, comes, size=365):
    """A year in which so much is drawn on the 200th day, on which so much runs in too; full before."""
    day = np.arange(size)
    return {
        "demand": np.where(day == 200, demand, 0.0), "inflow": np.where(day == 200, comes, 0.0),
        "year": np.full(size, 2000), "years": np.array([2000]),
    }  # fmt: skip


@pytest.mark.parametrize(("draws", "wants"), [(10_000.0, 1856.0), (10_000.0, 9000.0), (16.5, 10.63), (100.0, 0.0)])
def test_a_size_is_told_to_one_per_cent_or_a_litre(draws, wants):
    size = size_for(**one_day(draws, draws - wants))
    assert wants <= size <= max(1.01 * wants, wants + 1.0)


@pytest.mark.parametrize(("lost", "told"), [(1000.4, True), (1150.0, False)])
def test_no_store_is_for_more_than_two_years_of_the_greatest_draught(lost, told):
    """1,000 litres are drawn in summer, and before it a pond loses what was filled in winter."""
    day = np.arange(365)
    size = size_for(**one_day(1000.0, 0.0), losses=np.where(day == 100, lost, 0.0), filled=day == 0)
    assert size == (pytest.approx(1000.0 + lost, rel=0.01) if told else None)


def test_a_store_of_a_hundred_thousand_cubic_metres_is_none():
    assert size_for(**one_day(0.9e8, 0.0)) == pytest.approx(0.9e8, rel=0.01)
    assert size_for(**one_day(1.05e8, 0.0)) is None


def test_a_record_that_ends_on_the_day_on_which_a_store_is_full():
    """100 litres do not last a day at 250: of the last day too that is known."""
    day = np.append(np.arange(365), 0)
    assert lasts_days(np.full(366, 250.0), np.zeros(366), 100.0, day, 0).tolist() == [0, 0]
    # the 29th of February is a second 28th: the year begins with the second
    leap = np.array([57, 58, 58, *range(59, 130)])
    assert lasts_days(np.full(leap.size, 1.0), np.zeros(leap.size), 70.0, leap, 58).tolist() == [70]


def test_a_refill_gives_what_is_still_wanted_and_the_rest_of_it_to_the_tank():
    """80 litres in a tank of 100, 100 are wanted and 50 come: 20 to the garden and 30 to the tank."""
    run = follow_store(np.array([100.0]), np.zeros(1), 100.0, start=0.8, refill=50.0)
    assert (run.drawn[0], run.level[0], run.inflow[0], run.wanting[0]) == (100.0, 30.0, 50.0, 0.0)


def test_the_chance_of_a_dry_day_is_that_of_years_that_have_one():
    def year(days):
        return StoreYear(2000, 0.0, 0.0, 0.0, days, 5 if days else None, 0.0, 0.0, 0)

    assert chance_dry((year(0), year(1), year(0), year(30))) == 0.5
    assert np.isnan(chance_dry(()))


def test_what_stands_beyond_its_time_is_not_watered_for_tomorrow():
    """It was filled three days ago, so that it is thirsty tomorrow; it was to be gone fifty days ago."""
    lately = {"age": 150, "given": {0: 1.0, 147: 800.0}}
    stays = drawn(standing(**lately))[1]
    assert (stays[:, :2] > 0.0).tolist() == [[False, True]] * 3
    assert not drawn(standing(**lately, length=np.full(3, 100)))[1].any()
