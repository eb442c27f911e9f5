"""A plan that can be carried out: what it says of itself is reckoned again from its diary and its watering sheet."""

from __future__ import annotations

import datetime as dt
import json
from collections import defaultdict
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.text import Text

from sowcal import garden_plan
from sowcal.climate.sun import extraterrestrial_radiation, solar_radiation_from_range
from sowcal.crops.handbook import handbook
from sowcal.garden.beds import allot_beds, is_tall, rotation_moves
from sowcal.garden.diary import TENDING, date_of_day, share_there, use_of_diary
from sowcal.garden.garden_file import (
    Bed,
    Emitters,
    Garden,
    Household,
    Mulch,
    Pipe,
    Pond,
    Pump,
    WaterSupply,
    bundled_garden,
)
from sowcal.garden.gravity_feed import KPA_PER_METRE, flow_of, gravity_feed, solve_line
from sowcal.garden.plan import plan_garden
from sowcal.garden.plants import cares_of, cut_words
from sowcal.garden.store import roof_water
from sowcal.garden.watering import ZoneMonth, programs_of, zones_of
from sowcal.outputs.figure_garden import garden_figures
from sowcal.outputs.shed_sheets import months_of_diary, weeks_of_diary
from sowcal.seasons.season import missing_values
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.annuals import way_result
from sowcal.suitability.windows import Fold
from sowcal.weather.open_site import open_weather
from sowcal.weather.record import daily_record

BOOK = handbook()
BEGIN = dt.date(2026, 1, 15)
TODAY = dt.date(2026, 9, 10)
MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
STARTS = ("sow outdoors", "set out", "plant")


@cache
def short_record():
    _, record = open_weather("sallowdene")
    return record.cut(slice(0, 6 * 365))


def planned(begin=BEGIN, **change):
    return _planned(begin, repr(sorted(change.items())), tuple(change), tuple(change.values()))


_KEPT = {}


def _planned(begin, key, names, values):
    if (begin, key) not in _KEPT:
        garden = replace(bundled_garden(), **dict(zip(names, values, strict=True)))
        _KEPT[begin, key] = plan_garden(garden, "Sallowdene", short_record(), begin=begin)
    return _KEPT[begin, key]


def _families_at_once(answer):
    """Most families in any bed on any day, from the JSON's spans alone."""
    most = 0
    for bed in answer["beds"]:
        there = defaultdict(set)
        for crop in bed["crops"]:
            first, last = (dt.date(2025, *map(int, crop[k].split("-"))).timetuple().tm_yday for k in ("from", "to"))
            for k in range((last - first) % 365 + 1):
                there[(first + k) % 365].add(BOOK[crop["crop"]].family)
        most = max([most, *map(len, there.values())])
    return most


def _days(sowing):
    first, last = sowing.place_taken
    return {(first + k) % 365 for k in range((last - first) % 365 + 1)}


def _use_by_day(answer, widths):
    """m2 in use by bed and date, from the JSON's diary alone: parts between start and clearing."""
    open_, out = {}, defaultdict(lambda: defaultdict(float))
    for job in answer["diary"]:
        if job["part_m"] is None or job["job"] not in (*STARTS, "clear"):
            continue
        key = (job["crop"], job["bed"], tuple(job["part_m"]))
        day = dt.date.fromisoformat(job["date"])
        if job["job"] != "clear":
            open_.setdefault(key, []).append(day)
        else:
            start = open_[key].pop(0)
            for k in range((day - start).days):
                out[job["bed"]][start + dt.timedelta(k)] += (key[2][1] - key[2][0]) * widths[job["bed"]]
    return out


SIZES = st.tuples(st.floats(1.5, 12.0), st.floats(0.6, 1.6), st.floats(0.0, 0.6))
GROWN = [c.name for c in BOOK.values() if c.use in ("vegetable", "salad") or c.name in ("fig", "mint")]
random_gardens = st.builds(
    Garden,
    name=st.just("g"),
    site=st.just("sallowdene"),
    beds=st.lists(
        st.tuples(st.floats(1.5, 12.0), st.floats(0.6, 1.6), st.floats(0.0, 0.6)), min_size=1, max_size=9
    ).map(lambda rows: tuple(Bed(f"b{k}", round(a, 2), round(b, 2), round(c, 1)) for k, (a, b, c) in enumerate(rows))),
    household=st.floats(0.5, 9.0).map(lambda n: Household(round(n, 1))),
    crops=st.lists(
        st.sampled_from(
            [c.name for c in BOOK.values() if c.use in ("vegetable", "salad") or c.name in ("fig", "mint")]
        ),
        min_size=1,
        max_size=10,
        unique=True,
    ).map(tuple),
    texture=st.sampled_from(["sand", "loam", "clay"]),
)


@settings(deadline=None, max_examples=15)
@given(random_gardens, st.integers(0, 364))
def test_no_bed_holds_more_than_its_size_on_any_day(garden, day):
    begin = dt.date(2026, 1, 1) + dt.timedelta(day)
    plan = plan_garden(garden, "Sallowdene", short_record(), begin=begin)
    answer = json.loads(json.dumps(plan.to_json(), allow_nan=False))
    size = {b.name: b.area for b in garden.beds}
    for bed, days in _use_by_day(answer, {b.name: b.width for b in garden.beds}).items():
        assert max(days.values()) <= size[bed] * (1 + 1e-3) + 0.02  # parts are told in cm
    for use, told in zip(answer["use"], plan.uses, strict=True):
        assert use["most_m2_any_day"] <= use["size_m2"] + 0.011
        assert use_of_diary(garden, plan.diary)[told.bed] <= told.most + 1e-6
    assert _families_at_once(answer) <= 2
    for p, q in ((p, q) for p in plan.beds.placings for q in plan.beds.placings if p.bed == q.bed):
        a, b = plan.sowings[p.sowing], plan.sowings[q.sowing]
        if is_tall(a.crop) and not is_tall(b.crop) and _days(a) & _days(b):
            assert p.end <= q.begin + 1e-6  # no shade on what is low, at noon
    dates = [job["date"] for job in answer["diary"]]
    assert dates == sorted(dates)
    assert not dates or dates[0] >= begin.isoformat()


def test_parts_do_not_overlap_while_they_stand():
    plan = planned()
    for bed in range(8):
        rows = [p for p in plan.beds.placings if p.bed == bed]
        for k, a in enumerate(rows):
            for b in rows[:k]:
                days = [set(), set()]
                for held, p in zip(days, (a, b), strict=True):
                    first, last = plan.sowings[p.sowing].place_taken
                    held |= {(first + d) % 365 for d in range((last - first) % 365 + 1)}
                if days[0] & days[1]:
                    assert a.begin >= b.end - 1e-6 or b.begin >= a.end - 1e-6


def test_the_diary_tells_the_use_that_the_plan_tells():
    # kept a second year on the same dates, for leeks of one year still stand when the courgettes of the next go in
    plan = planned()
    told = {u.bed: u.most for u in plan.uses}
    again = tuple(replace(job, date=job.date.replace(year=job.date.year + 1)) for job in plan.diary)
    assert use_of_diary(plan.garden, (*plan.diary, *again)) == pytest.approx(told)
    once = use_of_diary(plan.garden, plan.diary)
    assert all(once[bed] <= told[bed] + 1e-6 for bed in told)


def test_jobs_of_a_sowing_come_in_their_order():
    order = ("buy", "sow under cover", "set out", "first picking", "clear")
    plan = planned(begin=TODAY)
    seen = defaultdict(list)
    for job in plan.diary:
        if job.sowing is not None and job.job in order:
            seen[job.sowing, job.bed if job.job != "buy" else None].append((job.date, order.index(job.job)))
    for rows in seen.values():
        assert [k for _, k in sorted(rows)] == sorted(k for _, k in rows)
    # what is set out was sown under cover so many days before as it is raised here
    for i, s in enumerate(plan.sowings):
        if s.raised and s.way == "set out" and any(p.sowing == i for p in plan.beds.placings):
            (out,) = {j.date for j in plan.diary if j.sowing == i and j.job == "set out"}
            (sown,) = {j.date for j in plan.diary if j.sowing == i and j.job == "sow under cover"}
            assert (out - sown).days == pytest.approx(s.raised, abs=1)


def test_amounts_by_hand():
    plan = planned()
    carrot = next(j for j in plan.diary if j.crop == "carrot" and j.job == "sow outdoors")
    count = next(p.count for p in plan.beds.placings if p.sowing == carrot.sowing)
    assert (carrot.amount, carrot.unit) == (pytest.approx(0.04 * count, abs=0.06), "m of row")  # 4 cm apart
    tomato = next(j for j in plan.diary if j.crop == "tomato (large)" and j.job == "sow under cover")
    plants = sum(p.count for p in plan.beds.placings if p.sowing == tomato.sowing)
    assert plants * 1.25 <= tomato.amount < plants * 1.25 + 2  # a quarter more than is set out: common practice
    compost = sum(j.amount for j in plan.diary if j.job == "spread compost")
    assert compost == pytest.approx(20.0 * sum(u.size for u in plan.uses if u.most > 0))  # 20 mm
    assert date_of_day(2026, 59) == dt.date(2026, 3, 1)
    assert date_of_day(2026, -1) == dt.date(2025, 12, 31)


def test_rows_are_thinned_and_potatoes_earthed_up():
    plan = planned()
    for i, s in enumerate(plan.sowings):
        jobs = [j for j in plan.diary if j.sowing == i]
        thinned = {j.bed for j in jobs if j.job == "thin"}
        sown = {j.bed for j in jobs if j.job == "sow outdoors"}
        # roots, leaves and bulbs in rows; peas, beans and maize are sown where they stay (common practice)
        assert thinned == (sown if s.crop.part in ("root", "leaf", "bulb") else set()), s.crop.name
        picked = {j.bed: j.date for j in jobs if j.job == "first picking"}
        tended = [j for j in jobs if j.job in ("thin", "earth up")]
        assert all(j.date < picked[j.bed] for j in tended)
        if s.crop.kind == "potato" and picked:
            assert len([j for j in tended if j.job == "earth up"]) == 2 * len(picked)
    carrot = next(j for j in plan.diary if j.job == "thin" and j.crop == "carrot")
    assert carrot.note.startswith("to 4 cm")


ANNUALS = [c for c in BOOK.values() if c.life == "annual" and c.perennial is None]


@settings(deadline=None, max_examples=60)
@given(st.sampled_from(ANNUALS), st.integers(0, 364), st.integers(30, 150), st.integers(0, 120))
def test_what_a_crop_wants_lies_within_its_stay(crop, start, first, more):
    """Of any crop and day: nothing after its last picking, none fed in the dark of the year, the south mirrored."""
    way, last = crop.ways[0].way, first + more
    here = cares_of(crop, way, start, first, last, fed=True, south=False)
    assert here == cares_of(crop, way, (start + 182) % 365, first, last, fed=True, south=True)
    assert [c.day for c in here] == sorted(c.day for c in here)
    for care in here:
        assert 0 <= care.day < max(last - 6, first)
        day = (start + care.day) % 365
        if care.job == "feed":
            assert 45 <= day < 305  # mid February to the end of October: common practice
            # beans and peas want least of all (Colorado State University Extension, GardenNotes 711)
            assert crop.family != "Fabaceae"
        if "caterpillars" in care.note or "moth" in care.note:
            assert 105 <= day < 288
        if care.job == "look for pests":
            assert ": " in care.note
    assert not any(c.job == "feed" for c in cares_of(crop, way, start, first, last, fed=False, south=False))


def test_tomatoes_are_fed_as_printed():
    # Kansas State University (Honig 2023): one to two weeks before the first ripens, two weeks after its picking, and a
    # month after that; maize at 20 to 25 cm and again about its tassels
    days = [c.day for c in cares_of(BOOK["tomato (large)"], "set out", 140, 66, 140, fed=True, south=False) if c.litres]
    assert 7 <= 66 - days[0] <= 14
    assert days[1:] == [66 + 14, 66 + 14 + 30]
    assert (
        len([c for c in cares_of(BOOK["sweet corn"], "set out", 121, 66, 86, fed=True, south=False) if c.litres]) == 2
    )


def test_rounds_come_each_fortnight_while_a_crop_stands():
    plan = planned()
    stays = {(p.sowing, plan.garden.beds[p.bed].name) for p in plan.beds.placings}
    rounds = defaultdict(set)
    for sowing, bed in stays:
        jobs = [j for j in plan.diary if j.sowing == sowing and j.bed == bed]
        begun = min(j.date for j in jobs if j.job in STARTS)
        over = max((j.date for j in jobs if j.job == "clear"), default=dt.date.max)
        for job in (j for j in jobs if j.job in TENDING):
            assert begun <= job.date < over
            if job.date != begun:
                rounds[bed].add(job.date)
    assert sum(map(len, rounds.values())) >= 10
    monday = BEGIN - dt.timedelta(days=BEGIN.weekday())
    assert all((day - monday).days % 14 == 0 for days in rounds.values() for day in days)
    # told once a week and bed, however much there is to do
    for _, said in weeks_of_diary(plan.diary):
        for bed in plan.garden.beds:
            assert sum(line.startswith(f"{bed.name}: ") for line in said) <= 1


def test_the_last_picking_comes_before_clearing():
    plan = planned()
    for i, s in enumerate(plan.sowings):
        by_bed = defaultdict(dict)
        for job in plan.diary:
            if job.sowing == i and job.job in ("first picking", "last picking", "clear"):
                by_bed[job.bed, job.part][job.job] = job.date
        first, last = float(np.median(s.first)), float(np.median(s.last))
        for dates in by_bed.values():
            assert ("last picking" in dates) == (int(last) - int(first) >= 10)
            if "last picking" in dates:
                assert dates["first picking"] < dates["last picking"] == dates["clear"] - dt.timedelta(days=1)
                assert (dates["last picking"] - dates["first picking"]).days == pytest.approx(last - first, abs=2)


def test_mulch_is_laid_and_taken_off_in_its_months_or_once_plants_stand():
    told = planned(mulch=Mulch("straw", 0.8, 0.06, (4, 5, 6, 7, 8)))
    laid = {j.bed: j.date for j in told.diary if j.job == "mulch"}
    assert laid
    assert {(d.month, d.day) for d in laid.values()} == {(5, 1)}
    off = {j.bed: j.date for j in told.diary if j.job == "take off mulch"}
    assert off.keys() == laid.keys()
    assert all((d.month, d.day) == (10, 1) and d > laid[bed] for bed, d in off.items())
    plan = planned()  # no month is told: once the soil dries out, and a fortnight after what stands was started
    assert not any(j.job == "take off mulch" for j in plan.diary)
    for job in (j for j in plan.diary if j.job == "mulch"):
        begun = [j.date for j in plan.diary if j.bed == job.bed and j.job in STARTS]
        assert any(job.date - d >= dt.timedelta(days=14) for d in begun), job.bed


def test_all_that_is_used_is_bought_before_and_on_the_first_of_a_month():
    plan = planned()
    buys = [j for j in plan.diary if j.job == "buy"]
    assert all(j.date.day == 1 or j.date == BEGIN for j in buys)
    assert len({j.date for j in buys}) <= 13  # a round of shopping a month, and the first day
    (compost,) = (j for j in buys if j.unit == "litres of compost")
    used = [j for j in plan.diary if j.job in ("spread compost", "feed")]
    assert compost.amount == pytest.approx(sum(j.amount for j in used))
    assert compost.date <= min(j.date for j in used)
    (stakes,) = (j for j in buys if j.unit == "stakes")
    tomatoes = [p for p in plan.beds.placings if plan.sowings[p.sowing].crop.garden.support == "stakes"]
    assert stakes.amount == sum(p.count for p in tomatoes)
    for job in plan.diary:
        if job.sowing is not None and job.job in ("sow under cover", *STARTS) and job.unit not in ("plants",):
            assert any(j.crop == job.crop and j.date <= job.date for j in buys), job.crop


def test_text_table_calendar_and_sheets_tell_the_same_jobs():
    from sowcal.outputs.calendar_file import garden_calendar
    from sowcal.outputs.shed_sheets import looking_words
    from sowcal.outputs.tables import garden_rows

    plan = planned()
    _, *rows = garden_rows(plan, "diary")
    assert [(r[0], r[2], r[3], r[4]) for r in rows] == [(j.date.isoformat(), j.job, j.crop, j.bed) for j in plan.diary]
    said = {monday: " ".join(lines) for monday, lines in weeks_of_diary(plan.diary)}
    text = garden_calendar(plan, BEGIN).replace("\r\n ", "")
    dates = defaultdict(str)
    for event in text.split("BEGIN:VEVENT")[1:]:
        dates[event.split("DTSTART;VALUE=DATE:")[1][:8]] += event
    for job in plan.diary:
        monday = job.date - dt.timedelta(days=job.date.weekday())
        for word in filter(None, (job.crop, job.bed)):
            assert word in said[monday], (job, said[monday])
            assert word in dates[f"{job.date:%Y%m%d}"], job
        if job.job in ("sow under cover", *STARTS, "feed", "clear"):
            done = dict(months_of_diary(plan.diary))[job.date.replace(day=1)]
            assert any(line.startswith(job.job) and job.crop in line for line in done)
    notes = {j.note for j in plan.diary if j.job == "look for pests"}
    assert len(looking_words(plan)) == len(notes) + 1


def test_lines_on_the_mains_give_what_their_emitters_are_rated_for():
    # 10 m with an emitter of 2 l/h each 0.3 m: 33 of them, 66 l/h a line
    assert flow_of(WaterSupply(), 3.0) == (pytest.approx(198.0), 1)
    plan = planned(water=WaterSupply())
    july = next(r for r in plan.sheet if r.month == 7)
    assert july.flow == pytest.approx(66.0 * july.lines)
    assert [axes.get_ylabel() for axes in garden_figures(plan)[0].axes] == ["drawn by the beds, litres a day"]


def test_least_step_between_starts_of_a_crop():
    plan = planned(crops=(), counts={}, rain_fed=())
    for line in plan.plants:
        step = 10 if BOOK[line.crop].use == "salad" else 21
        for a in set(line.starts):
            for b in set(line.starts) - {a}:
                assert min((a - b) % 365, (b - a) % 365) >= step, line.crop


def test_successions_are_those_of_the_chart():
    """Starts are best days of the chart's windows or days of its successions, whose pickings come a fortnight apart."""
    plan = planned(rain_fed=())
    site = SiteDays.from_record(short_record(), None)
    fold = Fold.of(site)
    often = 0
    for line in plan.plants:
        rows = [s for s in plan.sowings if s.crop.name == line.crop and s.advised]
        told = {}
        for way in BOOK[line.crop].ways:
            if not missing_values(BOOK[line.crop], way):
                chart = way_result(site, fold, BOOK[line.crop], way)
                told[way.way] = {w.best for w in chart.windows} | {d for a in chart.advice for d in a.succession}
        for s in rows:
            assert s.start in told[s.way], (line.crop, s.start)
        often += len(rows) > 1
    assert often >= 3


def test_left_alone_two_people_get_two_courgettes_at_most():
    plan = planned(counts={})
    line = next(p for p in plan.plants if p.crop == "courgette")
    assert 1 <= line.count <= 2  # common practice: one or two plants feed two people


@pytest.mark.parametrize("station", ["seville", "palma"])
def test_what_is_suggested_is_what_households_eat(reference_folder, tmp_path, station):
    record = reference_folder / "weather" / f"{station}.csv"
    site = tmp_path / "site.toml"
    site.write_text(
        f'name = "s"\nlatitude = 38.5\nlongitude = 0\nelevation = 30\n[weather]\nsource = "file"\nfile = "{record}"\n'
        'temperature_unit = "degC"\n',
        encoding="utf-8",
    )
    garden = replace(bundled_garden(), site=str(site), crops=(), counts={}, rain_fed=(), household=Household(4))
    plan = garden_plan(garden, issued=BEGIN)
    kinds = {BOOK[p.crop].kind for p in plan.plants}
    assert {"tomato", "sweet pepper", "potato", "lettuce", "garlic", "onion", "carrot", "courgette"} <= kinds
    assert not {"swede", "celeriac", "hamburg parsley"} & kinds


def test_perennials_do_not_push_out_staples():
    beds = (*(Bed(f"b{k}", 6.0, 1.2) for k in range(3)), Bed("wide", 5.0, 5.0))
    crops = ("tomato (large)", "potato (early)", "carrot", "pear", "asparagus", "rhubarb", "mint")
    plan = planned(beds=beds, crops=crops, counts={}, rain_fed=())
    alone = planned(beds=beds, crops=crops[:3], counts={}, rain_fed=())
    for crop in crops[:3]:
        count = {p.crop: p.count for p in plan.plants}.get(crop, 0)
        assert count >= 0.5 * next(p.count for p in alone.plants if p.crop == crop), crop
    assert any("push out" in left.why for left in plan.left_out)
    # planted once, with what is cut of it each year and the year from which it bears (asparagus from its fourth)
    standing = {j.crop: j for j in plan.diary if j.sowing is not None and plan.sowings[j.sowing].stands}
    assert standing
    for crop, job in standing.items():
        assert f"bears from year {np.ceil(BOOK[crop].perennial.years_to_crop) + 1:.0f} on" in job.note
        assert cut_words(BOOK[crop]) in job.note
    assert not any(j.job == "clear" and plan.sowings[j.sowing].stands for j in plan.diary if j.sowing is not None)


def test_tall_crops_stand_at_one_end_and_vines_at_the_other():
    plan = planned()
    for p in plan.beds.placings:
        crop = plan.sowings[p.sowing].crop
        for q in plan.beds.placings:
            other = plan.sowings[q.sowing].crop
            # a bed that was empty when it was placed: tall ones begin at 0, vines end at the other end
            if p.bed == q.bed and crop.garden.support == "stakes" and other.garden.support == "runs":
                assert p.begin < q.end
    tomato = [p for p in plan.beds.placings if plan.sowings[p.sowing].crop.name == "tomato (large)"]
    assert min(p.begin for p in tomato) == 0.0
    told = [j for j in plan.diary if j.crop == "winter squash" and j.job == "set out"]
    assert all("run 3 m" in j.note for j in told)


def test_words_that_a_chart_takes_name_crops_here():
    plan = planned(crops=("zucchini", "tomato", "Carrot"), counts={"zucchini": 2}, rain_fed=())
    grown = {p.crop for p in plan.plants}
    assert "courgette" in grown
    assert "carrot" in grown
    assert sum(c.startswith("tomato") for c in grown) == 1
    assert any("of tomato the sort that does best here" in n for n in plan.notes)
    with pytest.raises(Exception, match="a second time"):
        planned(crops=("zucchini", "courgette"), counts={}, rain_fed=())


def test_moves_bring_every_plan_once_to_every_year():
    plan = planned()
    moves = rotation_moves(list(plan.sowings), plan.beds, plan.garden.beds)
    for year in range(4):
        assert sorted(m.takes[year] for m in moves) == list(range(8))
    assert [m.takes[0] for m in moves] == list(range(8))
    stays = allot_beds([], ())
    assert rotation_moves([], stays, ()) == ()


def test_minutes_times_flow_are_the_litres_of_the_plan():
    plan = planned()
    by_year = plan.need.bed_monthly.sum(axis=0)
    assert by_year.sum(axis=1) == pytest.approx(plan.need.weekly.sum(axis=1))
    for row in plan.sheet:
        times = MONTH_DAYS[row.month - 1] / row.days_between
        litres = row.minutes / 60.0 * row.flow * times
        assert litres == pytest.approx(np.median(by_year[:, row.month - 1]))
        dry = row.dry_year_minutes / 60.0 * row.flow * times
        assert dry == pytest.approx(np.quantile(by_year[:, row.month - 1], 0.9))


def test_idle_lines_are_shut():
    # 8 beds of three lines of 10 m each at 2 m of head: lines over half of the beds give half the water
    supply = WaterSupply(tanks=(1000.0,), height=2.0, main=Pipe(20.0, 60.0))
    whole, _ = flow_of(supply, 24.0)
    half, _ = flow_of(supply, 12.0)
    assert half == pytest.approx(whole / 2.0, rel=0.02)
    assert half == pytest.approx(12 * solve_line(supply, 12).flow)
    assert flow_of(supply, 0.0) == (0.0, 0)
    # through a narrow main not all run together: in turns, each as many
    flow, turns = flow_of(replace(supply, height=0.8, main=Pipe(60.0, 13.0)), 24.0)
    assert turns > 1
    assert flow < whole


def test_minutes_are_of_the_lines_over_what_grows():
    # three lines of 10 m a bed of 1.2 m: a part of so many metres has 3 x metres / 10, on its days of July only
    plan = planned()
    lines = 0.0
    for p in plan.beds.placings:
        sowing = plan.sowings[p.sowing]
        if not sowing.rain_fed:
            first, last = sowing.place_taken
            days = sum((d - first) % 365 <= (last - first) % 365 for d in range(181, 212))
            lines += 3.0 * (p.end - p.begin) / 10.0 * days / 31.0
    july = next(r for r in plan.sheet if r.month == 7)
    assert july.lines == pytest.approx(lines)
    assert july.lines < 0.8 * 24
    assert july.flow == pytest.approx(flow_of(plan.garden.water, lines)[0])


def test_zones_part_the_water_of_the_garden():
    garden = bundled_garden()
    beds = tuple(replace(b, zone="upper tap" if k < 3 else "lower tap") for k, b in enumerate(garden.beds))
    whole, parted = planned(), planned(beds=beds)
    assert zones_of(parted.garden) == {"upper tap": (0, 1, 2), "lower tap": (3, 4, 5, 6, 7)}
    july = [r for r in parted.sheet if r.month == 7]
    assert [r.zone for r in july] == ["upper tap", "lower tap"]
    assert sum(r.lines for r in july) == pytest.approx(next(r.lines for r in whole.sheet if r.month == 7))
    assert sum(r.litres for r in july) == pytest.approx(next(r.litres for r in whole.sheet if r.month == 7), rel=0.02)


def test_programs_of_a_timer_by_hand():
    # 600 l/h; 10, 20 and 22 litres a day: with two programs the first month stands alone, 1 and 2.2 minutes
    sheet = tuple(ZoneMonth("z", m, 30.0 * d, 30.0 * d, 1, 3.0, 600.0, 1) for m, d in ((4, 10.0), (6, 20.0), (9, 22.0)))
    one, two = programs_of(sheet, 2, (90, 272))
    assert (one.months, two.months) == ((4,), (6, 9))
    assert (one.minutes, two.minutes) == (pytest.approx(1.0), pytest.approx(2.2))
    assert two.too_much == pytest.approx(60.0)
    # a season that ends in the month in which it begins holds all months
    assert sum(len(p.months) for p in programs_of(sheet, 2, (175, 174))) == 3
    (all_year,) = programs_of(sheet, 1, (90, 272))
    assert all_year.minutes == pytest.approx(2.2)


def test_lines_have_an_upper_pressure():
    def fed(**supply):
        usual = {"tanks": (1000.0,), "valve": "ball", "main": Pipe(60.0, 60.0)}
        return gravity_feed(Garden("g", "s", bundled_garden().beds, water=WaterSupply(**{**usual, **supply})))

    high = fed(height=80.0, emitters=Emitters(kind="tape"))
    assert not high.works
    assert "bear about 100" in high.why
    assert high.static_pressure == pytest.approx(80.0 * KPA_PER_METRE)
    assert 0.9 * high.static_pressure < high.most_pressure < high.static_pressure
    assert any("break tank" in text for text in high.would_help)
    # the product's own limit goes before that of its kind
    at_16 = {"height": 16.0, "emitters": Emitters(kind="tape")}
    assert not fed(**at_16).works
    assert fed(height=16.0, emitters=Emitters(kind="tape", most=170.0)).works
    # what is said to help does
    kpa = float(next(t for t in fed(**at_16).would_help if "reducer" in t).split(" of ")[1].split()[0])
    assert fed(**at_16, reducer=kpa).works
    assert fed(height=10.0).works
    # falling away from their inlet lines have more at their end
    assert fed(height=2.0, slope=20.0).most_pressure > 2.0 * KPA_PER_METRE


def test_loads_bring_what_is_drawn():
    water = replace(bundled_garden().water, tanks=(5000.0,), roof=0.0, refill=0.0)
    plan = planned(water=water)
    # in its first year it lacks what later years bring over New Year
    there = share_there(list(plan.sowings), plan.beds, BEGIN)
    assert 0.0 <= there.min() < 0.5 < there.max() <= 1.0
    days = [(BEGIN + dt.timedelta(k)).timetuple().tm_yday - 1 for k in range(365)]
    drawn = (plan.need.by_day(0.5)[days] * there).sum()
    assert drawn < 0.98 * plan.need.by_day(0.5).sum()
    stands = use_of_diary(plan.garden, tuple(j for j in plan.diary if j.date <= BEGIN + dt.timedelta(days=14)))
    assert there[10] == pytest.approx(sum(stands.values()) / plan.beds.daily[:, days[10]].sum(), abs=0.05)
    brought = sum(load.litres for load in plan.loads)
    # full at first, and somewhere between full and empty at the end
    assert drawn - 5000.0 <= brought <= drawn
    assert all(load.litres <= 5000.0 for load in plan.loads)
    assert len(plan.dry_year_loads) >= len(plan.loads) >= (drawn - 5000.0) / 5000.0
    assert planned(water=replace(water, refill=5000.0)).loads == ()


def test_north_and_south_are_mirrored():
    # the same days and the same sunlight, which left to itself is some 7 per cent stronger in a southern summer than in
    # a northern one (the sun is nearer in January; from memory); air and wind are invented
    record = short_record()
    month = record.time.astype("datetime64[M]").astype(int) % 12 + 1
    day = (record.time - record.time.astype("datetime64[Y]")).astype(int) + 1
    top = np.asarray(extraterrestrial_radiation(record.latitude, day))
    light = np.asarray(solar_radiation_from_range(np.zeros(day.size), record.daily_range, top))
    values = {v: record[v] for v in ("tasmin", "tasmax", "pr")}
    values |= {"rsds": light, "hurs": np.full(day.size, 60.0), "sfcWind": np.full(day.size, 2.0)}
    plans = []
    for time, latitude, begin in (
        (record.time, record.latitude, BEGIN),
        (record.time + np.timedelta64(182, "D"), -record.latitude, dt.date(2026, 7, 16)),
    ):
        place = daily_record(time, values, latitude=latitude, longitude=-15.1, elevation=210)
        plans.append(plan_garden(bundled_garden(), "a place", place, begin=begin))
    here, there = plans
    for number in range(3, 11):
        drawn = [plan.need.daily[month == number].sum() for plan in plans]
        assert drawn[1] == pytest.approx(drawn[0], rel=0.1)
    assert {p.crop for p in here.plants} == {p.crop for p in there.plants}


@pytest.mark.parametrize(
    "change",
    [
        {"beds": tuple(Bed(f"b{k}", 10.5, 1.2) for k in range(80)), "household": Household(8), "crops": ()},
        {"beds": tuple(Bed(f"b{k}", 3.3, 1.2) for k in range(5))},
        {"water": WaterSupply()},
        {"texture": "sand"},
        {"texture": "clay"},
    ],
    ids=["1000 m2", "20 m2", "no tank", "sand", "clay"],
)
def test_gardens_of_every_size_and_soil(change):
    plan = planned(**{**change, "counts": {}, "rain_fed": ()})
    assert all(u.most <= u.size + 1e-6 for u in plan.uses)
    assert len(plan.plants) >= 5
    assert plan.diary
    from sowcal.garden.quantities import spare_words

    fullest = plan.beds.daily.sum(axis=0).max()
    assert bool(spare_words(plan.beds)) == (fullest < 0.8 * plan.garden.area)
    if len(change.get("beds", ())) == 80:
        assert f"{plan.garden.area - fullest:.0f} m2 are spare" in spare_words(plan.beds)[0]
    if change.get("texture") == "sand":
        clay = planned(texture="clay", counts={}, rain_fed=())
        july = [next(r for r in p.sheet if r.month == 7) for p in (plan, clay)]
        assert july[0].days_between <= july[1].days_between


def test_sheets_for_the_shed_can_be_read():
    """No text runs off its page, none is smaller than 5.5 points, and the two columns of jobs do not run together."""
    from sowcal.outputs.shed_sheets import shed_figures

    beds = tuple(replace(b, name=f"a bed of a long name, {b.name}") for b in bundled_garden().beds)
    for figure in shed_figures(planned(beds=beds)):
        figure.draw_without_rendering()
        renderer, (wide, high) = figure.canvas.get_renderer(), figure.canvas.get_width_height()
        texts = [t for t in figure.findobj(Text) if t.get_text().strip() and t.get_visible()]
        boxes = [t.get_window_extent(renderer) for t in texts]
        for text, box in zip(texts, boxes, strict=True):
            assert 0 <= box.x0 <= box.x1 <= wide, text.get_text()
            assert 0 <= box.y0 <= box.y1 <= high, text.get_text()
            assert text.get_fontsize() >= 5.5, text.get_text()
        if "jobs by week" in figure.texts[0].get_text():
            left = [box.x1 for text, box in zip(texts, boxes, strict=True) if text.get_position()[0] < 0.5][2:]
            assert max(left) < 0.06 * wide + 0.91 / 2 * wide


def test_a_large_sowing_is_parted_among_small_beds():
    # ten people want more of a crop than a bed of 4.8 m2 holds: it takes many of them
    beds = tuple(Bed(f"b{k}", 4.0, 1.2) for k in range(20))
    plan = planned(
        beds=beds, household=Household(10), crops=("potato (early)", "tomato (large)"), counts={}, rain_fed=()
    )
    assert len({p.bed for p in plan.beds.placings}) >= 9  # 38 m2 of potatoes alone
    assert not plan.left_out
    for number, sowing in enumerate(plan.sowings):
        placed = sum(p.count for p in plan.beds.placings if p.sowing == number)
        assert 0.8 * sowing.plants.count <= placed <= sowing.plants.count  # a crumb of a fifth may fall
    assert all(u.most <= u.size + 1e-6 for u in plan.uses)


def test_a_help_without_a_tank_speaks_of_no_dry_days():
    from sowcal.outputs.garden_document import garden_text

    text = garden_text(planned(water=WaterSupply()), width=100, everything=True)
    helps = [line for line in text.replace("\n  ", " ").splitlines() if "would save" in line]
    assert helps
    assert not any("dry day" in line for line in helps)


def test_before_any_money():
    plan = planned()
    now, *others = plan.choices
    tanks, changes = [c for c in others if c.tank], [c for c in others if not c.tank]
    assert [c.tank for c in tanks] == [2500.0, 10000.0, 20000.0]
    # as it is, it says what the plan says elsewhere; ten litres and two minutes and a half a can
    assert (now.litres, now.days_dry) == (plan.need.year(0.5), plan.store.days_dry)
    # later years, in which all stands over New Year, want as much as the first or more
    assert now.loads >= len(plan.loads)
    assert now.dry_year_loads >= len(plan.dry_year_loads)
    assert now.minutes == pytest.approx(plan.thirst.litres / 10.0 * 2.5)
    by_size = sorted((*tanks, now), key=lambda c: c.tank or 5000.0)
    assert [c.days_dry for c in by_size] == sorted((c.days_dry for c in by_size), reverse=True)
    assert [c.loads for c in by_size] == sorted((c.loads for c in by_size), reverse=True)
    assert {(c.litres, c.minutes) for c in tanks} == {(now.litres, now.minutes)}  # a tank saves no water
    cloth = next(c for c in changes if "shade cloth" in c.change)
    assert cloth.litres == pytest.approx(now.litres * (1 - 0.7 * 0.3), rel=0.06)  # seven tenths go with the light
    one, half = (next(c for c in changes if word in c.change) for word in ("one bed", "half of the beds"))
    assert half.litres < one.litres < now.litres
    assert half.minutes < one.minutes < now.minutes
    assert [c.saves for c in changes] == sorted((c.saves for c in changes), reverse=True)
    assert all(c.saves == pytest.approx(now.litres - c.litres) for c in others)
    assert [c.tank for c in planned(water=WaterSupply()).choices if c.tank] == [1000.0, 2000.0, 5000.0, 10000.0]


def test_before_any_money_is_shown_as_table_and_picture():
    from sowcal.outputs.garden_document import garden_document, garden_text
    from sowcal.outputs.garden_pictures import choices_parts
    from sowcal.outputs.shed_sheets import shed_figures

    plan = planned()
    table, picture, _ = choices_parts(plan)
    assert [row[0] for row in table.rows] == [c.change for c in plan.choices]
    assert [row[2] for row in table.rows] == [f"{c.minutes:.0f}" for c in plan.choices]
    drawn = str(picture.draw())
    assert all(f">{c.minutes:.0f}<" in drawn for c in plan.choices)
    assert "BEFORE ANY MONEY" in garden_text(plan, everything=True)
    assert garden_document(plan)
    bars = shed_figures(plan)[0].axes[0].patches
    assert [b.get_width() for b in bars] == [c.minutes for c in plan.choices]
    without = choices_parts(planned(water=WaterSupply()))[0]
    assert without.rows[0][3:] == ("-", "-", "-")


def test_a_pump_from_a_pond_by_hand():
    water = replace(bundled_garden().water, pump=Pump(1000.0, 30.0, 12.0), pond=Pond(40.0, 2.0, 1.5))
    plan = planned(water=water)
    assert plan.pump.lifts
    assert plan.pump.hours == pytest.approx(plan.thirst.litres / 1000.0)
    # half of 40 m2 x 1.5 m is 30,000 litres; 40 m2 lose some 2 + 7 mm a day, 360 litres, beside what is drawn
    assert plan.pump.pond_days == pytest.approx(30_000.0 / (plan.thirst.litres + 360.0), rel=0.12)
    assert planned().store.days_dry == plan.store.days_dry  # a pond that is pumped from takes nothing from the tanks
    weak = planned(water=replace(water, pump=Pump(1000.0, 10.0, 12.0)))
    assert not weak.pump.lifts


def test_the_first_flush_runs_past_the_tank():
    rain = np.array([0.0, 0.0, 0.0, 5.0, 4.0, 0.0, 0.0, 0.0, 0.3])
    # 1 mm of the 5 and all of the 0.3 that come after three dry days; nothing of the 4 on the day after
    got = roof_water(rain, 100.0, 1.0, first_flush=1.0)
    assert got == pytest.approx([0, 0, 0, 400.0, 400.0, 0, 0, 0, 0])
    assert roof_water(rain, 100.0, 1.0).sum() == pytest.approx(930.0)


def test_beds_of_a_kind_tell_what_they_take():
    beds = (Bed("a", 5, 1, kind="raised", height=0.3), Bed("b", 5, 1, kind="card"), Bed("c", 5, 1.2))
    plan = planned(beds=beds, counts={}, rain_fed=())
    assert plan.volumes.fill == pytest.approx(1500.0)  # 5 m2 x 0.3 m
    assert plan.volumes.card == pytest.approx(6.0)  # 5 m2, edges lapped by a fifth
    bought = {(p.what, p.unit.split()[0]): p.amount for p in plan.shopping}
    assert bought["a", "litres"] == pytest.approx(1500.0)
    assert bought["b", "m2"] == pytest.approx(6.0)
