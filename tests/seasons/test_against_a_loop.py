"""The engine's prefix sums and sorted searches against the loop over days that they stand for."""

import numpy as np
import pytest
from by_hand import reached

from sowcal.climate.degree_days import single_sine_horizontal
from sowcal.crops.handbook import handbook
from sowcal.seasons.establishing import rate_and_share
from sowcal.seasons.flowering import _in_season, _ripening, daily_setting
from sowcal.seasons.season import seasons
from sowcal.seasons.site_days import SiteDays
from sowcal.weather.open_site import open_weather

BOOK = handbook()
STARTS = [200, 640, 1003, 2222, 3050, 4801, 6127]
SPRING = [116 + 365 * k for k in range(1, 20, 3)]  # late April of seven years


@pytest.fixture(scope="module")
def site():
    return SiteDays.from_record(open_weather("sallowdene")[1])


def growth_by_day(site, growth):
    """Degree days, less for want of light, less for months beyond the best, one day after another."""
    out = []
    for day in range(site.size):
        g = float(
            single_sine_horizontal(
                site.tasmin[day : day + 1], site.tasmax[day : day + 1], growth.base_temperature, growth.upper_threshold
            )[0]
        )
        g *= min(site.solar_radiation[day] / growth.light_need, 1.0)
        if growth.habit != "flowering":
            zero = 2 * growth.range_maximum - growth.range_optimum_high
            g *= max(min((zero - site.month_mean[day]) / (zero - growth.range_optimum_high), 1.0), 0.3)
        out.append(g)
    return out


def emergence_by_loop(site, crop, way, start):
    rate, _ = rate_and_share(crop.emergence, crop.germination)
    daily = [rate[row + 500].mean() for row in site.soil_tenths(way.depth, "wet")[start : start + 120]]
    return start + reached(daily, 0, 1.0)


@pytest.mark.parametrize("name", ["radish", "beetroot", "carrot", "turnip"])
def test_first_picking_of_roots(site, name):
    crop = BOOK[name]
    way = next(w for w in crop.ways if w.way == "sown outdoors")
    outcome = seasons(site, crop, way)
    daily = growth_by_day(site, crop.growth)
    need = 0.5 * (way.thermal_time_low + way.thermal_time_high)
    compared = 0
    for start in STARTS:
        if not np.isfinite(outcome.yield_fraction[start]) or outcome.yield_fraction[start] == 0:
            continue
        up = emergence_by_loop(site, crop, way, start)
        # the engine ends leafy growth and filling on whole days, hence a day's leave
        assert abs(int(outcome.first[start]) - reached(daily, up, need)) <= 2
        compared += 1
    assert compared >= 3


@pytest.mark.parametrize("name", ["tomato (large)", "french bean (bush)", "courgette"])
def test_cohorts_of_flowering_crops(site, name):
    """What is borne: day by day from first flower until the plant has its fill, is old, or frost cuts it off."""
    crop = BOOK[name]
    way = next(w for w in crop.ways if w.way == "set out")
    outcome = seasons(site, crop, way)
    daily = growth_by_day(site, crop.growth)
    f = crop.flowering
    total = np.concatenate([[0.0], np.cumsum(daily)])
    setting = _ripening(
        total, f.fruit_thermal_time, _in_season(site, crop.growth, daily_setting(site, f, crop.cold.killing_flower))
    )
    need = 0.5 * (way.thermal_time_low + way.thermal_time_high)
    compared = 0
    for start in SPRING:
        if not outcome.yield_fraction[start] > 0.3:
            continue
        flower = reached(daily, start, need - f.fruit_thermal_time)
        killed = next(d for d in range(flower, site.size) if site.tissue_minimum[d] < crop.cold.killing_grown)
        borne, age, first = 0.0, 0.0, None
        for day in range(flower, killed):
            if reached(daily, day, f.fruit_thermal_time) >= killed or borne >= f.flowering_thermal_time:
                break
            if age >= f.aging_thermal_time:
                break
            borne += setting.share[day] * daily[day]
            age += daily[day]
            if first is None and borne >= 0.05 * f.flowering_thermal_time:
                first = reached(daily, day, f.fruit_thermal_time)
        fraction = 1.0 - (1.0 - min(borne / f.flowering_thermal_time, 1.0)) ** 1.6
        # other losses (light, chilling, slowness) only take from what was borne
        assert outcome.yield_fraction[start] <= fraction + 0.03
        assert abs(int(outcome.first[start]) - first) <= 6
        compared += 1
    assert compared >= 2
