"""A season lived through day by day on a real record, its year taken out, against plain loops over days."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from sowcal.crops.handbook import handbook
from sowcal.crops.tables import Crop, Growth, Way
from sowcal.garden.garden_file import Bed, Garden, WaterSupply
from sowcal.season_log import SeasonLog
from sowcal.season_progress import learnt_sorts, review_of, season_so_far
from sowcal.seasons.outlook import Spread, learnt_of, outlook, quantiles, sort_of
from sowcal.seasons.season import seasons
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.week import week_of, with_log
from sowcal.weather.filling import fill_short_gaps, followed_by
from sowcal.weather.open_site import open_weather, read_record
from sowcal.weather.years import futures
from sowcal.year import day_of_date

YEAR = 2005
ONE = dt.timedelta(days=1)


@cache
def seville(folder):
    path = Path(folder) / "weather" / "seville.csv"
    options = {"temperature_unit": "degC"}
    return fill_short_gaps(read_record(path, latitude=37.42, longitude=-5.88, elevation=34.0, options=options))


@pytest.fixture(scope="module")
def record(reference_folder):
    return seville(str(reference_folder))


def taken_out(record, first, last):
    """The record as if the days from one to another had not been measured."""
    out = (record.time >= np.datetime64(first)) & (record.time <= np.datetime64(last))
    return record.with_values({k: np.where(out, np.nan, v) for k, v in record.values.items()})


@pytest.fixture(scope="module")
def history(record):
    return taken_out(record, f"{YEAR}-01-01", f"{YEAR + 1}-01-31")


def by_date(record):
    """Minimum and maximum by date, for loops."""
    return {
        day: (float(low), float(high))
        for day, low, high in zip(record.time.astype(object), record["tasmin"], record["tasmax"], strict=True)
    }


def same_day(day, year):
    """The day in another year; 29 February is the 28th where there is none."""
    try:
        return day.replace(year=year)
    except ValueError:
        return day.replace(year=year, day=28)


def degree_days(low, high, base, upper):
    """Mean over a day of a sine between both readings, cut off at both ends, by 720 points of time."""
    total = 0.0
    for k in range(720):
        heat = 0.5 * (low + high) + 0.5 * (high - low) * math.sin(2.0 * math.pi * (k + 0.5) / 720)
        total += min(max(heat, base), upper) - base
    return total / 720


INVENTED = Crop(name="an invented crop", growth=Growth(base_temperature=7.0, upper_threshold=30.0, habit="once"))
PLANTED = Way(way="planted", thermal_time_low=700.0, thermal_time_high=900.0)


def loop_date(days, start, heat):
    """First picking of the invented crop: 60 and then 40 per cent of 800 degC d, each ending with a day."""
    day = start - ONE
    for part in (0.6 * 800.0, 0.4 * 800.0):
        got = 0.0
        begin = day + ONE if part == 0.6 * 800.0 else day  # the second part begins with the day that ended the first
        day = begin - ONE
        while got < part:
            day += ONE
            if day not in days:
                return None
            got += heat(*days[day])
    return day


def by_plotting_position(values, share):
    """Quantile of sorted values of which the i-th of n stands for i / (n + 1)."""
    ordered, place = sorted(values), share * (len(values) + 1)
    k = int(place)
    if k < 1 or k >= len(values):
        return float(ordered[0] if k < 1 else ordered[-1])
    return ordered[k - 1] + (place - k) * (ordered[k] - ordered[k - 1])


def test_a_season_lived_through_gives_the_dates_of_a_plain_loop(record, history):
    start, real, years = dt.date(YEAR, 2, 10), by_date(record), range(1981, 2012)
    kept = cache(lambda low, high: degree_days(low, high, 7.0, 30.0))
    before, last_width, seen = None, 10**6, []
    for age in range(0, 131, 10):
        today = start + age * ONE
        ahead = futures(history, record.span(None, str(today)), np.datetime64(start) - 60, np.datetime64(start) + 400)
        found = outlook(ahead, SiteDays.from_record(ahead.record), INVENTED, PLANTED, start)
        dates = []
        for year in years:
            if year in (YEAR, YEAR - 1):  # its own days are taken out, and the rest of the year before runs into them
                continue
            days = {
                day: real[day] if day <= today else real.get(same_day(day, year + day.year - YEAR))
                for day in (start + k * ONE for k in range(300))
            }
            date = loop_date({d: v for d, v in days.items() if v is not None and not math.isnan(sum(v))}, start, kept)
            dates.append((year, None if date is None else (date - start).days))
        engine = dict(zip(ahead.years.tolist(), found.after(found.found.first).tolist(), strict=True))
        sure = {y: d for y, d in dates if d is not None and bool(found.decided[list(ahead.years).index(y)])}
        assert len(sure) >= 25
        assert {y: engine[y] for y in sure} == sure
        told = quantiles(np.array(list(sure.values())))
        assert told == pytest.approx([by_plotting_position(sure.values(), q) for q in (0.1, 0.5, 0.9)])
        seen.append(told[2] - told[0])
        before, last_width = told, told[2] - told[0]
    truth = loop_date(real, start, kept)
    assert (truth - start).days == round(before[1])  # in the end it is the date of the whole season
    assert last_width == 0.0
    assert seen[0] > 8.0  # days wide at the start
    assert seen[7] < 0.7 * seen[0]


SOME = [
    ("carrot", "sown outdoors", (3, 1)),
    ("tomato (large)", "set out", (4, 10)),
    ("broad bean", "sown outdoors", (1, 15)),
]


@pytest.mark.parametrize(("name", "way_name", "begun"), SOME)
def test_each_future_is_what_the_engine_gives_of_that_weather_alone(record, history, name, way_name, begun):
    crop = handbook()[name]
    way = next(w for w in crop.ways if w.way == way_name)
    start, today = dt.date(YEAR, *begun), dt.date(YEAR, 5, 1)
    first = np.datetime64(start) - 150
    ahead = futures(history, record.span(None, str(today)), first, np.datetime64(start) + 420)
    found = outlook(ahead, SiteDays.from_record(ahead.record), crop, way, start)
    real, tried = by_date(record), 0
    for year in (1984, 1996, 2008):
        dates = [first.astype(object) + k * ONE for k in range(571)]
        days = [real[d] if d <= today else real[same_day(d, year + d.year - YEAR)] for d in dates]
        alone = SiteDays(*np.array(days).T, first, 37.42)
        outcome = seasons(alone, crop, way)
        k, member = (np.datetime64(start) - first).astype(int), list(ahead.years).index(year)
        assert found.yield_fraction[member] == pytest.approx(outcome.yield_fraction[k], abs=1e-12)
        assert found.after(found.found.first)[member] == min(outcome.first[k], alone.size) - k
        tried += np.isfinite(outcome.yield_fraction[k])
    assert tried >= 2


def log_of(tmp_path, today, *lines):
    log = SeasonLog.open(tmp_path / "x.log.csv", today=today)
    for event, crop, date, cells in lines:
        log = log.append(event, crop, date=date, today=today, **cells)
    return log


def test_day_by_day_the_stages_follow_one_another_and_the_range_closes_on_the_real_date(tmp_path, record, history):
    end = dt.date(YEAR, 9, 30)
    log = log_of(tmp_path, end, ("sown outdoors", "carrot", f"{YEAR}-03-01", {"bed": "1"}))
    crop = handbook()["carrot"]
    days = SiteDays.from_record(record)
    at = int((np.datetime64(f"{YEAR}-03-01") - days.dates[0]).astype(int))
    outcome = seasons(days, crop, crop.ways[0])
    truth = days.dates[outcome.first[at]].astype(object)
    order = ("sown", "young", "growing", "filling", "picking", "over")
    stages, widths, within = [], [], 0
    for k in range(0, 150, 5):
        today = dt.date(YEAR, 3, 1) + k * ONE
        (now,) = season_so_far(history, record.span(None, str(today)), log, today).sowings
        stages.append(order.index(now.stage))
        spread = now.first_picking
        widths.append((spread.p90 - spread.p10).days)
        within += spread.p10 <= truth <= spread.p90
        if today > truth + 15 * ONE:  # running means have seen all that the date hangs on
            assert spread == Spread(truth, truth, truth)
    assert stages == sorted(stages)
    assert set(stages) >= {0, 1, 2, 3, 4}
    assert widths[0] > widths[len(widths) // 3] > widths[-1] == 0
    assert within > 15  # of 30 stands: more often than not, of one season


def test_what_was_seen_goes_before_what_is_reckoned(tmp_path, record, history):
    today = dt.date(YEAR, 5, 20)
    so_far = record.span(None, str(today))
    sown = ("sown outdoors", "carrot", f"{YEAR}-03-01", {})
    (plain,) = season_so_far(history, so_far, log_of(tmp_path, today, sown), today).sowings
    late = log_of(tmp_path / "late", today, sown, ("came up", "carrot", f"{YEAR}-04-01", {}))
    (later,) = season_so_far(history, so_far, late, today).sowings
    assert later.emergence.p50 == dt.date(YEAR, 4, 1)
    assert later.first_picking.p50 > plain.first_picking.p50
    picked = log_of(tmp_path / "picked", today, sown, ("first picked", "carrot", f"{YEAR}-05-18", {}))
    (now,) = season_so_far(history, so_far, picked, today).sowings
    assert (now.stage, now.first_picking.p10, now.first_picking.p90) == ("picking", *[dt.date(YEAR, 5, 18)] * 2)
    assert [t.job for t in now.tasks] == ["pick"]


def test_ahead_and_behind_are_against_the_usual_date_of_that_start(tmp_path, record, history):
    """Each day so far 6 degC warmer brings the picking ahead, and colder behind; the days of the record as usual."""
    today, got = dt.date(YEAR, 5, 10), []
    log = log_of(tmp_path, today, ("set out", "tomato (large)", f"{YEAR}-04-10", {}))
    for more in (-6.0, 0.0, 6.0):
        warmer = {k: v + more if k in ("tasmin", "tasmax") else v for k, v in record.values.items()}
        so_far = record.with_values(warmer).span(None, str(today))
        (now,) = season_so_far(history, so_far, log, today).sowings
        got.append(now.ahead_days)
    assert got[0] < got[1] < got[2]
    assert got[0] < 0 < got[2]


def test_hazards_met_are_the_days_of_the_record_and_only_those_so_far(tmp_path, record, history):
    today = dt.date(YEAR, 5, 20)
    log = log_of(tmp_path, today, ("sown outdoors", "carrot", f"{YEAR}-03-01", {}))
    hot = {k: v + 8.0 if k in ("tasmin", "tasmax") else v for k, v in history.values.items()}
    # years that are hot all through: what they bring lies ahead, and is not met
    (now,) = season_so_far(history.with_values(hot), record.span(None, str(today)), log, today).sowings
    heat = next(h for h in now.met if h.hazard == "heat")
    limit = handbook()["carrot"].heat.filling_limit
    real = by_date(record)
    assert all(real[d][1] > limit and d <= today for d in heat.days)
    last = max(d for d in real if d <= today and real[d][1] > limit)
    assert heat.days[-1] == last
    assert next(h for h in now.ahead if h.hazard == "heat").share == 1.0


def test_any_sort_is_the_quantile_of_sorts_walked_one_by_one_in_years_walked_one_by_one(tmp_path, record, history):
    """Each sort alone, in each future's weather alone; the range of the middle sort lies within that of all."""
    today, start = dt.date(YEAR, 4, 20), dt.date(YEAR, 3, 1)
    log = log_of(tmp_path, today, ("sown outdoors", "carrot", start.isoformat(), {}))
    (now,) = season_so_far(history, record.span(None, str(today)), log, today).sowings
    crop, real, own, found, years = handbook()["carrot"], by_date(history), by_date(record), [], 0
    low, high = crop.ways[0].thermal_time_low, crop.ways[0].thermal_time_high
    first = start - 150 * ONE
    for year in range(1981, 2013):
        dates = [first + k * ONE for k in range(571)]
        days = [own[d] if d <= today else real.get(same_day(d, year + d.year - YEAR)) for d in dates]
        if None in days[:400]:
            continue
        alone = SiteDays(*np.array([d or (math.nan, math.nan) for d in days]).T, np.datetime64(first), 37.42)
        got = []
        for fifth in range(5):
            need = low + (fifth + 0.5) / 5 * (high - low)
            of = seasons(alone, crop, replace(crop.ways[0], thermal_time_low=need, thermal_time_high=need))
            if np.nan_to_num(of.yield_fraction[150]) >= 0.05:
                got.append(int(of.first[150]) - 150)
        years += bool(got)
        found += got
    found.sort()
    assert (years, len(found)) == (30, 150)  # the year itself is taken out, and the record ends in September 2012
    for share, told in ((0.1, now.any_sort.p10), (0.5, now.any_sort.p50), (0.9, now.any_sort.p90)):
        at = (share * (years + 1) - 0.5) / years * len(found) - 0.5  # place among them all, from 0
        k = math.floor(at)
        day = found[k] + (at - k) * (found[min(k + 1, len(found) - 1)] - found[k])
        assert abs((told - start).days - day) <= 0.5 + 1e-9
    assert now.any_sort.p10 < now.first_picking.p10 <= now.first_picking.p90 < now.any_sort.p90


def test_a_sort_whose_thermal_time_is_known_has_no_spread_of_sorts(tmp_path, record, history):
    today = dt.date(YEAR, 4, 20)
    log = log_of(tmp_path, today, ("sown outdoors", "carrot", f"{YEAR}-03-01", {}))
    crop = handbook()["carrot"]
    known = {name: replace(c, ways=(sort_of(crop.ways[0], 0.5),)) if name == "carrot" else c
             for name, c in handbook().items()}  # fmt: skip
    (now,) = season_so_far(history, record.span(None, str(today)), replace(log, book=known), today).sowings
    assert now.any_sort == now.first_picking


def test_seedlings_under_cover_are_ready_when_the_engine_would_have_sown_them(tmp_path, record, history):
    today, crop = dt.date(YEAR, 3, 10), handbook()["tomato (large)"]
    log = log_of(tmp_path, today, ("sown under cover", "tomato (large)", f"{YEAR}-02-20", {}))
    (now,) = season_so_far(history, record.span(None, str(today)), log, today).sowings
    assert (now.stage, now.sown.in_bed) == ("under cover", None)
    weeks = (crop.ways[0].nursery_weeks_least, crop.ways[0].nursery_weeks_most)
    assert weeks[0] * 7 <= (now.set_out.p50 - dt.date(YEAR, 2, 20)).days
    assert now.first_picking.p50 > now.set_out.p50


def test_a_forecast_is_taken_for_the_days_it_tells(tmp_path, record, history):
    today = dt.date(YEAR, 5, 10)
    log = log_of(tmp_path, today, ("set out", "tomato (large)", f"{YEAR}-04-10", {}))
    so_far = record.span(None, str(today))
    coming = record.span(str(today + ONE), str(today + 14 * ONE))
    (without,) = season_so_far(history, so_far, log, today).sowings
    (with_it,) = season_so_far(history, followed_by(so_far, coming), log, today).sowings
    wide = [(n.first_picking.p90 - n.first_picking.p10).days for n in (without, with_it)]
    assert wide[1] < wide[0]
    hot = coming.with_values({k: v + 8.0 if k in ("tasmin", "tasmax") else v for k, v in coming.values.items()})
    (hotter,) = season_so_far(history, followed_by(so_far, hot), log, today).sowings
    assert hotter.first_picking.p50 < with_it.first_picking.p50


def test_a_record_that_ends_early_lets_its_years_stand_in(tmp_path, record, history):
    today = dt.date(YEAR, 5, 20)
    log = log_of(tmp_path, today, ("sown outdoors", "carrot", f"{YEAR}-03-01", {}))
    wide = []
    for last in (f"{YEAR}-05-20", f"{YEAR}-04-10", f"{YEAR - 1}-12-31"):
        (now,) = season_so_far(history, record.span(None, last), log, today).sowings
        wide.append((now.first_picking.p90 - now.first_picking.p10).days)
    assert wide[0] < wide[1] < wide[2]


def test_a_sort_that_is_slower_is_learnt_and_drawn_towards_the_handbook(record):
    crop, true = handbook()["carrot"], 1.2
    way = crop.ways[0]
    book = 0.5 * (way.thermal_time_low + way.thermal_time_high)
    slow = replace(way, thermal_time_low=true * book, thermal_time_high=true * book)
    days = SiteDays.from_record(record)
    outcome, lived = seasons(days, crop, slow), []
    for year in (2001, 2002, 2003, 2006):
        at = int((np.datetime64(f"{year}-02-15") - days.dates[0]).astype(int))
        lived.append((days.dates[at].astype(object), days.dates[outcome.first[at]].astype(object), None))
    one, four = (learnt_of(days, crop, way, "an invented sort", lived[:n]) for n in (1, 4))
    assert four.observed == pytest.approx(true * book, rel=0.02)
    assert book < one.own < four.own < four.observed
    sorts = 0.25 * (way.thermal_time_high - way.thermal_time_low)
    k = (0.08 * book / sorts) ** 2
    assert four.own == pytest.approx((k * book + 4 * four.observed) / (k + 4))
    assert four.high - four.low < one.high - one.low


def test_only_sorts_that_are_named_are_learnt(tmp_path, record):
    today = dt.date(2004, 1, 1)
    events = [("sown outdoors", "carrot", "2003-03-01", {}), ("first picked", "carrot", "2003-06-20", {})]
    assert learnt_sorts(record, log_of(tmp_path, today, *events), today) == []
    events[0][3]["sort"] = "an invented sort"
    (found,) = learnt_sorts(record, log_of(tmp_path / "named", today, *events), today)
    assert (found.crop, found.sort, found.seasons) == ("carrot", "an invented sort", 1)


BEDS = Garden("invented", "", (Bed("bed 1", 10.0, 1.2),), water=WaterSupply(tanks=(5000.0,)))


def watered(tmp_path, record, history, *more, garden=BEDS, day=(5, 20)):
    today = dt.date(YEAR, *day)
    sown = ("sown outdoors", "carrot", f"{YEAR}-03-01", {"bed": "1"})
    log = log_of(tmp_path, today, sown, *more)
    return season_so_far(history, record.span(None, str(today)), log, today, garden=garden)


def test_water_due_answers_to_what_was_given(tmp_path, record, history):
    (assumed,) = watered(tmp_path / "a", record, history).water
    dry = ("watered", "", f"{YEAR}-04-01", {"bed": "1", "amount": 1})
    full = ("watered", "", f"{YEAR}-05-19", {"bed": "1", "amount": 2000})
    (thirsty,) = watered(tmp_path / "b", record, history, dry).water
    (sated,) = watered(tmp_path / "c", record, history, dry, full).water
    assert (assumed.assumed, thirsty.assumed) == (True, False)
    assert thirsty.litres > assumed.litres > 0
    assert sated.litres < thirsty.litres
    assert assumed.dry_year_litres >= assumed.litres
    half = replace(BEDS, beds=(Bed("bed 1", 5.0, 1.2),))
    (smaller,) = watered(tmp_path / "d", record, history, garden=half).water
    assert smaller.litres == pytest.approx(assumed.litres / 2)
    # a week at FAO-56's greatest use of a crop, 1.2 times some 5 to 7 mm a day, and what had gone before from the soil
    assert 20.0 < assumed.litres / 12.0 < 90.0


def test_the_tank_is_followed_from_its_told_level(tmp_path, record, history):
    tank = ("tank", "", f"{YEAR}-05-20", {"amount": 500})
    low = watered(tmp_path / "a", record, history, tank).tank
    high = watered(tmp_path / "b", record, history, ("tank", "", f"{YEAR}-05-20", {"amount": 50_000})).tank
    assert (low.litres_told, low.litres_now, low.dry_share) == (500.0, 500.0, 1.0)
    assert dt.date(YEAR, 5, 20) <= low.runs_dry.p50 <= dt.date(YEAR, 6, 10)
    assert (high.dry_share, high.runs_dry) == (0.0, None)
    drawn = watered(tmp_path / "c", record, history, ("tank", "", f"{YEAR}-05-06", {"amount": 3000})).tank
    assert drawn.litres_now < 3000.0


def test_the_week_knows_what_is_sown(tmp_path, record, history):
    from sowcal.answers import sowing_chart

    crops = ["carrot", "beetroot", "chard", "radish", "lettuce (leaf)", "broad bean"]
    chart = sowing_chart(record, crops, issued=dt.date(2020, 1, 1))
    best = next(w.best for line in chart.crops if line.crop == "carrot" for s in line.starts for w in s.windows)
    today = dt.date(YEAR, 1, 1) + best * ONE
    week = week_of(chart, best)
    advised = {j.crop for j in week.jobs if j.job == "sow outdoors"}
    assert "carrot" in advised
    assert advised - {"carrot", "broad bean"}
    before = str(today - 2 * ONE)
    events = [("sown outdoors", "carrot", before, {}), ("sown outdoors", "broad bean", before, {})]
    log = log_of(tmp_path, today, *events)
    season = season_so_far(history, record.span(None, str(today)), log, today)
    told = with_log(week, season)
    assert ("carrot", "sow outdoors") not in {(j.crop, j.job) for j in (*told.jobs, *told.coming)}
    assert advised - {"carrot", "broad bean"} <= {j.crop for j in told.jobs if j.job == "sow outdoors"}
    assert not {j.crop for j in told.jobs if j.job == "pick"}  # nothing that stands is ready
    (bean,) = [s for s in season.sowings if s.sown.crop == "broad bean"]
    later = with_log(week_of(chart, day_of_date(bean.first_picking.p50)), season)
    assert "broad bean" in {j.crop for j in later.jobs if j.job == "pick"}


def test_a_lost_sowing_has_something_in_its_place(tmp_path, record, history):
    today = dt.date(YEAR, 4, 20)
    sown = ("sown outdoors", "french bean (bush)", f"{YEAR}-04-01", {"bed": "1"})
    log = log_of(tmp_path, today, sown, ("lost", "french bean (bush)", f"{YEAR}-04-15", {}))
    offered = [handbook()[c] for c in ("french bean (bush)", "sweet corn", "broad bean")]
    (now,) = season_so_far(history, record.span(None, str(today)), log, today, offered=offered).sowings
    assert now.stage == "lost"
    assert now.instead
    assert not any("broad bean" in name for name in now.instead)


def test_after_the_season_expected_and_real_are_told(tmp_path, record, history):
    today = dt.date(YEAR, 12, 31)
    events = [
        ("set out", "tomato (large)", f"{YEAR}-04-10", {}),
        ("first picked", "tomato (large)", f"{YEAR}-07-10", {"amount": 2}),
        ("picked", "tomato (large)", f"{YEAR}-07-20", {"amount": 3.5}),
    ]
    (found,) = review_of(history, record, log_of(tmp_path, today, *events), YEAR)
    days, crop = SiteDays.from_record(record), handbook()["tomato (large)"]
    at = int((np.datetime64(f"{YEAR}-04-10") - days.dates[0]).astype(int))
    by_weather = days.dates[seasons(days, crop, crop.ways[0]).first[at]].astype(object)
    assert (found.by_weather, found.picked, found.amount) == (by_weather, dt.date(YEAR, 7, 10), 5.5)
    assert found.late_days == (found.picked - found.expected.p50).days
    assert found.weather_days == (by_weather - found.expected.p50).days
    assert review_of(history, record, log_of(tmp_path, today, *events[:0]), YEAR - 1) == ()


def test_the_growing_year_of_the_south_begins_in_july():
    from sowcal.climate.so_far import growing_year

    assert growing_year(2026, -31.9) == (dt.date(2026, 7, 1), dt.date(2027, 6, 30))
    assert growing_year(2026, 37.4) == (dt.date(2026, 1, 1), dt.date(2026, 12, 31))


def test_a_future_without_its_days_is_left_out_and_too_few_are_told(tmp_path):
    _, record = open_weather("sallowdene")
    today = dt.date(2015, 5, 20)
    log = log_of(tmp_path, today, ("set out", "courgette", "2015-05-10", {}))
    (few,) = season_so_far(record.span("2012-01-01", None), record.span(None, "2015-05-20"), log, today).sowings
    assert few.futures == 9  # 2012 to 2020
    (none,) = season_so_far(record.span("2018-01-01", None), record.span(None, "2015-05-20"), log, today).sowings
    assert none.stage == "cannot say"
    assert "years of the record" in none.note
