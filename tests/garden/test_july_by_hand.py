"""How long a tank lasts in high summer, reckoned by hand from real records: 100 m2 of one crop, 5 m3 of store.

The hand reads the record's own columns and uses nothing of the engine: Hargreaves-Samani (FAO-56 eq. 52), or where a
record has humidity, wind and sunshine Penman-Monteith (eq. 6), with extraterrestrial radiation of mid-July, or
of mid-January south of the equator (eq. 21 to 25), the basal coefficient of tomato in mid-season (FAO-56 Table 17:
1.10, from memory), and the nine tenths that drip brings to the roots (FAO Training Manual 4, Table 8, from memory).
"""

from __future__ import annotations

import csv
import datetime as dt
import math
import statistics
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from sowcal import garden_plan
from sowcal.garden.garden_file import Bed, Garden, Mulch, Pipe, WaterSupply, bundled_garden
from sowcal.year import month_of

STATIONS = [("five_points_ca", 36.34, -120.11, 87), ("seville", 37.42, -5.88, 34)]
SOUTHERN = ("perth", -31.92, 115.87, 25)


def _field(site):
    """100 m2 of tomatoes under plastic, watered from 5 m3 ten metres above it."""
    supply = WaterSupply(
        tanks=(5000.0,), height=10.0, timer="gravity", main=Pipe(60.0, 60.0), laterals=Pipe(10.0, 20.0), programs=2
    )
    return Garden(
        "g",
        site,
        (Bed("bed", 10, 10),),
        crops=("tomato (large)",),
        counts={"tomato (large)": 222},  # 0.9 by 0.5 m each: 99.9 m2
        mulch=Mulch("plastic", 1.0),  # next to no evaporation, which the hand leaves out
        water=supply,
    )


def _site(folder, tmp_path, station, latitude, longitude, elevation):
    record = folder / "weather" / f"{station}.csv"
    path = tmp_path / f"{station}.toml"
    path.write_text(
        f'name = "{station}"\nlatitude = {latitude}\nlongitude = {longitude}\nelevation = {elevation}\n[weather]\n'
        f'source = "file"\nfile = "{record}"\ntemperature_unit = "degC"\n',
        encoding="utf-8",
    )
    return str(path), record


def _light(latitude, day):
    """Radiation above the air, MJ m-2 a day, and hours of day."""
    phi = math.radians(latitude)
    near = 1.0 + 0.033 * math.cos(2.0 * math.pi * day / 365.0)
    tilt = 0.409 * math.sin(2.0 * math.pi * day / 365.0 - 1.39)
    sunset = math.acos(-math.tan(phi) * math.tan(tilt))
    both = sunset * math.sin(phi) * math.sin(tilt) + math.cos(phi) * math.cos(tilt) * math.sin(sunset)
    return 24.0 * 60.0 / math.pi * 0.0820 * near * both, 24.0 / math.pi * sunset


def _rows(record, month, columns):
    with record.open(encoding="utf-8") as file:
        return [
            tuple(float(r[c]) for c in columns)
            for r in csv.DictReader(file)
            if r["date"][5:7] == month and all(r[c] for c in columns)
        ]


def _reference_of_july(record, latitude):
    """mm a day, mean of all days of July, Hargreaves-Samani."""
    light, _ = _light(latitude, 196)
    return statistics.fmean(
        0.0023 * ((low + high) / 2.0 + 17.8) * math.sqrt(max(high - low, 0.0)) * 0.408 * light
        for low, high in _rows(record, "07", ("tmin", "tmax"))
    )


def _use_of_january(record, latitude, elevation, height=0.6, basal=1.10):
    """mm a day of a crop in full leaf, mean of all days of January: Penman-Monteith, and the basal coefficient of
    Table 17 for the wind and the driest hour there (eq. 70)."""
    light, hours = _light(latitude, 15)
    pressure = 101.3 * ((293.0 - 0.0065 * elevation) / 293.0) ** 5.26  # eq. 7
    gamma = 0.000665 * pressure  # eq. 8
    found, winds, driest = [], [], []

    def full(t):
        return 0.6108 * math.exp(17.27 * t / (t + 237.3))  # eq. 11

    for low, high, humid, wind, sun in _rows(record, "01", ("tmin", "tmax", "rh_mean", "wind_ms", "sun_h")):
        mean, u = (low + high) / 2.0, wind * 4.87 / math.log(67.8 * 10.0 - 5.42)  # eq. 47, measured at 10 m
        saturated = (full(low) + full(high)) / 2.0
        vapour = humid / 100.0 * saturated  # eq. 19
        slope = 4098.0 * full(mean) / (mean + 237.3) ** 2  # eq. 13
        solar = (0.25 + 0.50 * min(sun / hours, 1.0)) * light  # eq. 35
        clear = (0.75 + 2e-5 * elevation) * light  # eq. 37
        warm = ((low + 273.16) ** 4 + (high + 273.16) ** 4) / 2.0
        lost = 4.903e-9 * warm * (0.34 - 0.14 * math.sqrt(vapour)) * (1.35 * min(solar / clear, 1.0) - 0.35)  # eq. 39
        top = 0.408 * slope * (0.77 * solar - lost) + gamma * 900.0 / (mean + 273.0) * u * (saturated - vapour)
        found.append(top / (slope + gamma * (1.0 + 0.34 * u)))  # eq. 6
        winds.append(u)
        driest.append(100.0 * vapour / full(high))
    term = (0.04 * (statistics.fmean(winds) - 2.0) - 0.004 * (statistics.fmean(driest) - 45.0)) * (height / 3.0) ** 0.3
    return statistics.fmean(found) * (basal + term)


_PLANS = {}


def _planned(site, station):
    """The field's plan, made once for all tests of a station."""
    if station not in _PLANS:
        _PLANS[station] = garden_plan(_field(site), issued=dt.date(2026, 1, 1))
    return _PLANS[station]


@pytest.mark.parametrize(("station", "latitude", "longitude", "elevation"), STATIONS)
def test_a_field_of_tomatoes(reference_folder, tmp_path, station, latitude, longitude, elevation):
    site, record = _site(reference_folder, tmp_path, station, latitude, longitude, elevation)
    daily = _reference_of_july(record, latitude) * 1.10 / 0.90 * 100.0  # litres from 100 m2
    plan = _planned(site, station)
    assert sum(p.area for p in plan.beds.placings) == pytest.approx(99.9)
    # the fortnight of full leaf, whenever about July it falls for the dates that the plan has; water comes in gulps
    # of some ten days, so that a week has one or two of them
    weekly = plan.need.weekly[:, 24:32]
    fullest = np.median(weekly[:, 1:] + weekly[:, :-1], axis=0).max() / 14.0
    assert fullest == pytest.approx(daily, rel=0.08)
    assert plan.store.month_name in ("June", "July", "August")
    # 5000 litres last so many whole days; watering comes every second day or so, in gulps
    assert plan.store.lasts == pytest.approx(5000.0 / daily, abs=1.5)
    assert plan.store.chance_dry == 1.0


@pytest.mark.parametrize(("station", "latitude", "longitude", "elevation"), STATIONS)
def test_a_mixed_garden(reference_folder, tmp_path, station, latitude, longitude, elevation):
    site, _ = _site(reference_folder, tmp_path, station, latitude, longitude, elevation)
    garden = bundled_garden()
    water = replace(garden.water, tanks=(5000.0,), roof=0.0, refill=0.0)
    plan = garden_plan(replace(garden, site=site, water=water))
    july = np.median(plan.need.weekly[:, 26:30].sum(axis=1)) / 28.0
    # common practice: 5 to 8 litres per square metre and day in high summer where the air is dry
    assert 5.0 <= july / plan.beds.used[:, 6].sum() <= 8.0
    # 5000 litres over what is drawn a day in the three weeks that they last
    assert plan.store.lasts is not None
    month = {"June": 21, "July": 26, "August": 30}[plan.store.month_name]
    three_weeks = np.median(plan.need.weekly[:, month : month + 3].sum(axis=1)) / 21.0
    assert plan.store.lasts == pytest.approx(5000.0 / three_weeks, abs=2.0)
    courgette = next(p for p in plan.plants if p.crop == "courgette")
    assert courgette.will_do <= 2  # common practice: one or two plants for two people


@pytest.mark.parametrize(("station", "latitude", "longitude", "elevation"), STATIONS)
def test_minutes_and_loads_of_a_field_below_its_tank(
    reference_folder, tmp_path, station, latitude, longitude, elevation
):
    """100 m2 in one bed, 5 m3 ten metres above it, no refill: what the sheet for the shed must say, by hand.

    25 lines of 10 m with 33 emitters each of 2 l/h at 100 kPa. 10 m of water are 98.07 kPa; filter, valve and timer
    take 1 + 0.2 + 1, main and line some 0.4 together: 95.4 kPa, so sqrt(0.954) x 2 = 1.954 l/h an emitter and
    1,612 l/h in all.
    """
    site, record = _site(reference_folder, tmp_path, station, latitude, longitude, elevation)
    daily = _reference_of_july(record, latitude) * 1.10 / 0.90 * 100.0  # litres, as above
    plan = _planned(site, station)
    assert plan.gravity.works
    assert plan.gravity.static_pressure == pytest.approx(98.07, abs=0.01)
    fullest = max(plan.sheet, key=lambda row: row.litres)
    assert fullest.flow == pytest.approx(1612.0, rel=0.01)
    assert fullest.month in (6, 7, 8)
    # the month of full leaf draws nearly what its July would, and the minutes bring it
    by_day = fullest.minutes / 60.0 * fullest.flow / fullest.days_between
    assert 0.80 * daily <= by_day <= 1.08 * daily
    assert plan.minutes == pytest.approx(60.0 * daily / 1612.0, rel=0.15)
    # a load of nine tenths of 5000 litres, a tenth being kept back, lasts so many days then
    loads = [load.date for load in plan.loads if load.date.month == fullest.month]
    steps = [(b - a).days for a, b in pairwise(loads)]
    assert statistics.fmean(steps) == pytest.approx(4500.0 / by_day, abs=1.0)
    # what is brought is what is drawn but for the 5000 litres that were there, of which some is left at the end
    year = float(plan.need.by_day(0.5).sum())
    assert year - 5000.0 <= sum(load.litres for load in plan.loads) <= year
    # nothing waters the bed before it is set out or after it is cleared
    start, last = plan.sowings[0].place_taken
    drawing = {row.month for row in plan.sheet}
    assert drawing <= {
        month_of((start + k) % 365) + 1 for k in range((last - start) % 365 + 45)
    }  # some years clear it later


def _basal_by_hand(day, length):
    """Tomato on the day of a stay of so many: FAO-56 Table 17 (0.15, 1.10, 0.70), stages of Table 11 (30, 40, 45 and 30
    days, Mediterranean), stretched to the stay; from memory."""
    at = day / length * 145.0
    if at < 30.0:
        return 0.15
    if at < 70.0:
        return 0.15 + 0.95 * (at - 30.0) / 40.0
    return 1.10 if at < 115.0 else 1.10 - 0.40 * (at - 115.0) / 30.0


def _litres_by_hand(record, latitude, start, length):
    """Litres a day drawn for 100 m2, by week, mean of the years, from the record's own columns.

    Roots go down from 0.15 to 0.6 m as the leaves close over, in moist loam of 130 mm a metre; what they use is basal
    coefficient times reference evapotranspiration, filled by rain, and by drip when two fifths of what they reach are
    used (FAO-56 Tables 19 and 22, from memory).
    """
    weeks, missing, stands, years = [0.0] * 52, 0.0, length, 0
    with record.open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            number = dt.date.fromisoformat(row["date"]).timetuple().tm_yday - 1
            if number == start:
                missing, stands, years = 0.0, 0, years + 1
            if stands >= length or not (row["tmin"] and row["tmax"]):
                continue
            light, _ = _light(latitude, number + 1)
            low, high = float(row["tmin"]), float(row["tmax"])
            wants = 0.0023 * ((low + high) / 2.0 + 17.8) * math.sqrt(max(high - low, 0.0)) * 0.408 * light
            basal = _basal_by_hand(stands + 0.5, length)
            grown = 1.0 if stands / length > 70.0 / 145.0 else (basal - 0.15) / 0.95
            missing = max(missing + basal * wants - float(row["precip"] or 0.0), 0.0)
            stands += 1
            if missing > 0.4 * 130.0 * (0.15 + 0.45 * grown):
                weeks[min(number // 7, 51)] += missing / 0.90 * 100.0
                missing = 0.0
    return [w / years / 7.0 for w in weeks]


@pytest.mark.parametrize(("station", "latitude", "longitude", "elevation"), STATIONS)
def test_dates_of_loads_and_of_watering_by_hand(reference_folder, tmp_path, station, latitude, longitude, elevation):
    """The season of the field followed day by day: weeks of full leaf, minutes of a month, and dates of the loads."""
    site, record = _site(reference_folder, tmp_path, station, latitude, longitude, elevation)
    plan = _planned(site, station)
    start, last = plan.sowings[0].place_taken
    by_week = _litres_by_hand(record, latitude, start, last - start + 1)
    full = [k for k in range(52) if by_week[k] > 0.7 * max(by_week)]
    assert len(full) >= 6
    # the hand leaves out what evaporates from under plastic, a fifth of bare soil's, some hundredths of the whole
    by_hand, told = statistics.fmean(by_week[k] for k in full), plan.need.week_by_day(0.5)[full].mean()
    assert told == pytest.approx(by_hand, rel=0.08)
    daily = [by_week[min(number // 7, 51)] for number in range(365)]
    months = [statistics.fmean(daily[n] for n in range(365) if month_of(n) == m) for m in range(12)]
    fullest = months.index(max(months))
    row = next(r for r in plan.sheet if r.month == fullest + 1)
    assert row.minutes == pytest.approx(
        60.0 * months[fullest] / 1612.0 * row.days_between, rel=0.1
    )  # 1,612 l/h as above
    level, loads = 5000.0, []
    for number, draw in enumerate(daily):
        if level - draw < 500.0 and draw > 0.0:
            loads.append(number)
            level = 5000.0
        level -= draw
    days = [load.date.timetuple().tm_yday - 1 for load in plan.loads]
    assert loads[0] - 9 <= days[0] <= loads[0]  # a little sooner, for the evaporation of the young crop
    assert len(loads) <= len(days) <= len(loads) + 2
    assert days[-1] == pytest.approx(loads[-1], abs=4)
    # watering begins once the crop stands, and stops when it is cleared (weeks, and years that clear it later)
    assert plan.season[0] == pytest.approx(start, abs=14)
    assert plan.season[1] == pytest.approx(last, abs=14)
    # every load is a job of the diary, on its day and of its litres
    brought = [(j.date, j.amount) for j in plan.diary if j.job == "have water brought"]
    assert brought == [(load.date, load.litres) for load in plan.loads]


def test_a_field_south_of_the_equator(reference_folder, tmp_path):
    """The same field in a southern summer, whose record has humidity, wind and sunshine: minutes, loads and dates."""
    station, latitude, longitude, elevation = SOUTHERN
    site, record = _site(reference_folder, tmp_path, station, latitude, longitude, elevation)
    daily = _use_of_january(record, latitude, elevation) / 0.90 * 100.0  # litres from 100 m2
    plan = garden_plan(_field(site), issued=dt.date(2026, 7, 1))
    assert plan.method == "Penman-Monteith"
    fullest = max(plan.sheet, key=lambda row: row.litres)
    assert fullest.month in (12, 1, 2)
    assert fullest.flow == pytest.approx(1612.0, rel=0.01)  # as in the north: water falls alike
    by_day = fullest.minutes / 60.0 * fullest.flow / fullest.days_between
    assert 0.80 * daily <= by_day <= 1.08 * daily
    loads = [load.date for load in plan.loads if load.date.month == fullest.month]
    steps = [(b - a).days for a, b in pairwise(loads)]
    assert statistics.fmean(steps) == pytest.approx(4500.0 / by_day, abs=1.0)
    # the tank, filled on 1 July, is dry in the summer that follows, not at New Year by the calendar
    assert plan.store.month_name in ("December", "January", "February")
    assert plan.store.lasts == pytest.approx(5000.0 / daily, abs=1.5)
