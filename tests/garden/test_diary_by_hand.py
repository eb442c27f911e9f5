"""Jobs, amounts and dates of the diary from made-up sowings, each told beside it (rules of thumb: common practice)."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from sowcal.crops.tables import Crop, Way
from sowcal.crops.tables import Garden as GardenRow
from sowcal.garden.bed_ground import path_area, path_litres
from sowcal.garden.diary import (
    Job,
    bed_uses,
    date_of_day,
    diary_of,
    shopping_list,
    use_of_diary,
)
from sowcal.garden.garden_file import Bed, Garden, Mulch, Paths
from sowcal.garden.plants import keeping_words
from sowcal.outputs.shed_sheets import job_words, purchase_words, weeks_of_diary

BEGIN = dt.date(2027, 1, 1)
BEDS = (Bed("north", 10.0, 1.2), Bed("south", 5.0, 1.0))
BARE = Garden("g", "s", BEDS, mulch=Mulch("none"), compost=0.0, paths=Paths(width=0.0))


def sowing(way="sown outdoors", start=100, first=60, last=89, count=20, name="carrot", stock="seed", **row):
    garden = GardenRow(**({"row_spacing": 30.0, "plant_spacing": 10.0} | row.pop("garden", {})))
    crop = Crop(name, family="F", garden=garden, ways=(Way(way=way, stock=stock),), **row.pop("crop", {}))
    made = {
        "crop": crop, "way": way, "start": start, "first": np.array([first - 2.0, first, first + 2.0]),
        "last": np.array([last - 5.0, last, last + 5.0]), "raised": None, "stands": False,
        "plants": SimpleNamespace(count=count, picked=10.0),
    }  # fmt: skip
    return SimpleNamespace(**(made | row))


def placing(sowing=0, bed=0, count=20, begin=2.0, end=4.5):
    return SimpleNamespace(sowing=sowing, bed=bed, count=count, begin=begin, end=end)


def diary(*sowings, garden=BARE, placings=None, begin=BEGIN, season=None, mulched=None):
    placings = [placing(k) for k in range(len(sowings))] if placings is None else placings
    return diary_of(garden, list(sowings), SimpleNamespace(placings=placings), begin, season, mulched)


def told(jobs):
    return [(j.date.isoformat(), j.job) for j in jobs]


@pytest.mark.parametrize(
    ("year", "day", "date"),
    [(2027, 0, "2027-01-01"), (2027, 58, "2027-02-28"), (2028, 59, "2028-03-01"), (2027, 364, "2027-12-31"),
     (2027, 365, "2028-01-01"), (2027, -1, "2026-12-31")],
)  # fmt: skip
def test_days_of_the_year_as_dates(year, day, date):
    assert date_of_day(year, day).isoformat() == date


def test_a_row_sown_outdoors_from_buying_to_clearing():
    """From 11 April, day 100: picked after 60 days, cleared after the 89th; the seed is bought three weeks ahead."""
    jobs = diary(sowing())
    assert told(jobs) == [
        ("2027-03-21", "buy"), ("2027-04-11", "sow outdoors"), ("2027-06-10", "first picking"), ("2027-07-10", "clear"),
    ]  # fmt: skip
    buy, sow, pick, clear = jobs
    assert (buy.amount, buy.unit, buy.bed, buy.part, buy.note) == (2.0, "m of row of seed", "", None, "")
    assert (sow.amount, sow.unit, sow.note, sow.bed, sow.part) == (2.0, "m of row", "20 plants", "north", (2.0, 4.5))
    assert (pick.amount, pick.unit) == (10.0, "kg")
    assert pick.note == "8 Jun to 11 Jun in 8 years of 10"
    assert (clear.amount, clear.unit, clear.sowing) == (2.5, "m of bed", 0)
    half = diary(sowing(), placings=[placing(count=5)])
    assert (half[1].amount, half[2].amount) == (0.5, 2.5)
    wide = diary(sowing(garden={"plant_spacing": float("nan")}))
    assert wide[1].amount == 6.0  # 30 cm where it is not known


def test_what_is_past_this_year_is_of_the_next():
    assert diary(sowing(), begin=dt.date(2027, 4, 11))[1].date == dt.date(2027, 4, 11)
    assert diary(sowing(), begin=dt.date(2027, 4, 12))[1].date == dt.date(2028, 4, 11)
    # no job lies before the beginning: what should have been bought is bought at once
    assert diary(sowing(), begin=dt.date(2027, 4, 1))[0].date == dt.date(2027, 4, 1)


def test_raised_under_cover_with_a_fifth_to_spare():
    jobs = diary(sowing("set out", raised=42, count=35, stock="seed"), placings=[placing(count=35)])
    assert told(jobs)[:3] == [("2027-02-07", "buy"), ("2027-02-28", "sow under cover"), ("2027-04-11", "set out")]
    tray, out = jobs[1], jobs[2]
    assert tray.unit == "cells"
    assert 35 < tray.amount <= 44
    assert tray.note == f"{-(-tray.amount // 40):.0f} tray{'s' if tray.amount > 40 else ''} of 40"
    assert (out.amount, out.unit, out.note) == (35.0, "plants", "hardened off for a week")
    assert jobs[0].unit == "cells of seed"
    # sown under cover in autumn for a start after New Year
    early = diary(sowing("set out", start=10, raised=42), begin=dt.date(2026, 12, 1))
    assert [j.date for j in early if j.job == "sow under cover"] == [dt.date(2027, 11, 30)]
    bought = diary(sowing("set out"))
    assert [j.job for j in bought[:2]] == ["buy", "set out"]
    assert bought[0].unit == "plants"


@pytest.mark.parametrize(
    ("stock", "count", "unit", "note"),
    [
        ("tuber", 50, "tubers", "about 3.0 kg"), ("set", 100, "sets", "about 0.6 kg"),
        ("clove", 1, "clove", "about 0.0 kg"),
        ("container", 2, "potted plants", ""), ("bare-root", 1, "bare-root plant", ""), ("crown", 3, "crowns", ""),
    ],
)  # fmt: skip
def test_stock_that_is_planted(stock, count, unit, note):
    jobs = diary(sowing("planted", count=count, stock=stock), placings=[placing(count=count)])
    plant = next(j for j in jobs if j.job == "plant")
    assert (plant.amount, plant.unit, plant.note) == (count, unit, note)
    assert (jobs[0].job, jobs[0].unit, jobs[0].note) == ("buy", unit, "")


def test_rows_are_thinned_at_two_leaves_and_earthed_up_by_kind():
    root = diary(sowing(crop={"part": "root"}))
    assert [j.date for j in root if j.job == "thin"] == [dt.date(2027, 5, 2)]  # 21 days
    assert [j.note for j in root if j.job == "thin"] == ["to 10 cm, with two true leaves; water after it"]
    quick = diary(sowing(first=30, crop={"part": "root"}))
    assert [j.date for j in quick if j.job == "thin"] == [dt.date(2027, 4, 26)]  # half of its time
    for other in (sowing(crop={"part": "fruit"}), sowing("set out", crop={"part": "root"}),
                  sowing(crop={"part": "root"}, garden={"plant_spacing": float("nan")})):  # fmt: skip
        assert not [j for j in diary(other) if j.job == "thin"]
    potato = diary(sowing("planted", first=90, name="potato (early)"))
    assert [(j.date - dt.date(2027, 4, 11)).days for j in potato if j.job == "earth up"] == [30, 50]
    early = diary(sowing("planted", first=50, name="potato (early)"))
    assert [(j.date - dt.date(2027, 4, 11)).days for j in early if j.job == "earth up"] == [30]


def test_supports_and_vines():
    poles = next(j for j in diary(sowing(garden={"support": "poles"})) if j.job == "put up support")
    assert (poles.date, poles.amount, poles.unit, poles.note) == (dt.date(2027, 4, 11), 2.5, "m", "poles")
    vine = diary(sowing(garden={"support": "runs", "reach": 3.0}))
    assert not [j for j in vine if j.job == "put up support"]
    assert vine[1].note == "20 plants; vines run 3 m: let them out over path or rough ground"


def test_what_lives_for_years_is_neither_picked_nor_cleared_here():
    assert [j.job for j in diary(sowing("planted", stock="crown", stands=True))] == ["buy", "plant"]


def test_things_of_one_crop_bought_on_one_day_are_one_job():
    jobs = diary(sowing(), placings=[placing(count=10), placing(bed=1, count=20)])
    (buy,) = [j for j in jobs if j.job == "buy"]
    assert buy.amount == pytest.approx(3.0)
    assert len([j for j in jobs if j.job == "sow outdoors"]) == 2


def test_compost_a_week_ahead_of_the_first_start_of_a_bed():
    garden = replace(BARE, compost=5.0)
    jobs = diary(sowing(start=200), sowing(start=100), garden=garden, placings=[placing(0), placing(1)])
    (spread,) = [j for j in jobs if j.job == "spread compost"]
    assert (spread.date, spread.bed, spread.part) == (dt.date(2027, 4, 4), "north", (0.0, 10.0))
    assert (spread.amount, spread.unit) == (60.0, "litres")


def test_mulch_in_its_months_or_where_the_dry_season_begins():
    straw = replace(BARE, mulch=Mulch("straw"))
    (laid,) = [j for j in diary(sowing(), garden=straw, mulched=120) if j.job == "mulch"]
    assert (laid.date, laid.note, laid.unit) == (dt.date(2027, 5, 1), "straw", "litres")
    assert laid.amount == pytest.approx(Mulch("straw").litres(12.0))
    assert not [j for j in diary(sowing(), garden=straw) if j.job == "mulch"]
    winter = replace(BARE, mulch=replace(Mulch("straw"), months=(10, 11, 0, 1)))  # November to February
    (laid,) = [j for j in diary(sowing(), garden=winter, mulched=120) if j.job == "mulch"]
    assert laid.date == dt.date(2027, 11, 1)
    plastic = replace(BARE, mulch=Mulch("plastic"))
    (laid,) = [j for j in diary(sowing(), garden=plastic, mulched=120) if j.job == "mulch"]
    assert (laid.amount, laid.unit) == (12.0, "m2")


@pytest.mark.parametrize(
    ("bed", "bought"),
    [
        (Bed("b", 5, 1, kind="raised", height=0.3), [(1500.0, "litres of soil and compost")]),
        (Bed("b", 5, 1, kind="raised"), []),
        (Bed("b", 5, 1, kind="card", height=0.1), [(6.0, "m2 of plain card, lapped"), (500.0, "litres of compost")]),
        (Bed("b", 5, 1, kind="compost", height=0.1), [(500.0, "litres of compost")]),
        (Bed("b", 5, 1), []),
    ],
)
def test_what_a_bed_of_its_kind_wants_once(bed, bought):
    jobs = diary(sowing(), garden=replace(BARE, beds=(bed,)))
    found = [(j.amount, j.unit) for j in jobs if j.job == "buy" and j.bed == "b"]
    assert {u: a for a, u in found} == {u: pytest.approx(a) for a, u in bought}
    assert len(found) == len(bought)
    assert all(j.date == BEGIN for j in jobs if j.bed == "b" and j.job == "buy")


def test_paths_lie_along_and_across_the_beds():
    """Beds of 10 and 5 m, paths of half a metre: 15 m along them, 10 more, and twice 2.2 + 1.5 m across either end."""
    garden = replace(BARE, paths=Paths(width=0.5, depth=0.1))
    assert path_area(garden) == pytest.approx(0.5 * (15 + 10 + 2 * 3.7))
    assert path_litres(garden) == pytest.approx(100.0 * path_area(garden))
    (chips,) = [j for j in diary(garden=garden, placings=[]) if j.bed == "the paths"]
    assert (chips.date, chips.unit, chips.amount) == (BEGIN, "litres of wood chips", pytest.approx(path_litres(garden)))
    assert path_area(BARE) == path_area(replace(garden, beds=())) == 0.0


@pytest.mark.parametrize(
    ("season", "dates"),
    [
        ((120, 272), ["2027-05-01", "2027-09-30"]),
        ((300, 90), ["2027-10-28", "2028-04-01"]),  # over New Year, as in the south
        ((0, 364), []),
        (None, []),
    ],
)
def test_watering_begins_and_stops(season, dates):
    assert [d for d, job in told(diary(placings=[], season=season)) if "watering" in job] == dates


def test_a_season_of_watering_that_has_begun_is_of_the_next_year():
    jobs = told(diary(placings=[], season=(120, 272), begin=dt.date(2027, 6, 1)))
    assert jobs == [("2028-05-01", "begin watering"), ("2028-09-30", "stop watering")]


def test_use_from_the_dates_of_the_diary():
    """Two and a half metres of 1.2 m, then two beside them, cleared before the third begins on that day."""
    jobs = diary(
        sowing(start=100, last=49), sowing(start=110, last=99), sowing(start=150),
        placings=[placing(0), placing(1, begin=4.5, end=6.5), placing(2)],
    )  # fmt: skip
    used = use_of_diary(BARE, jobs)
    assert used == {"north": pytest.approx(4.5 * 1.2), "south": 0.0}
    daily = np.zeros((2, 365))
    daily[0, 5] = 7.0
    uses = bed_uses(BARE, SimpleNamespace(daily=daily))
    assert [(u.bed, u.size, u.most) for u in uses] == [("north", 12.0, 7.0), ("south", 5.0, 0.0)]
    assert uses[0].to_json() == {"bed": "north", "size_m2": 12.0, "most_m2_any_day": 7.0}


def test_the_shopping_list_puts_like_to_like():
    garden = replace(BARE, compost=5.0, mulch=Mulch("straw"))
    jobs = diary(
        sowing(garden={"support": "poles"}), sowing(start=130), garden=garden, mulched=120,
        placings=[placing(0), placing(1, bed=1)],
    )  # fmt: skip
    found = {p.what: (p.amount, p.unit, p.first.isoformat()) for p in shopping_list(garden, jobs)}
    assert found["carrot"] == (4.0, "m of row of seed", "2027-03-21")
    assert found["compost"] == (pytest.approx(85.0), "litres", "2027-04-04")
    assert found["poles"] == (2.5, "m", "2027-04-11")
    assert found["straw for mulch"][1:] == ("litres", "2027-05-01")
    firsts = [p.first for p in shopping_list(garden, jobs)]
    assert firsts == sorted(firsts)
    words = [purchase_words(p) for p in shopping_list(garden, jobs)]
    assert "carrot: 4 m of row of seed, by 2027-03-21" in words
    assert "compost: 85 litres, by 2027-04-04" in words
    assert "poles: 2.5 m, by 2027-04-11" in words


@pytest.mark.parametrize(
    ("job", "words"),
    [
        (Job(BEGIN, "buy", "carrot", "", None, 2.0, "m of row of seed"), "buy for carrot: 2 m of row of seed"),
        (Job(BEGIN, "buy", "", "b", None, 1500.0, "litres", "old"), "buy for b: 1,500 litres (old)"),
        (Job(BEGIN, "sow under cover", "leek", "b", (0, 1), 42.0, "cells", "2 trays of 40"),
         "sow under cover: leek, 42 cells (2 trays of 40), for b"),
        (Job(BEGIN, "spread compost", "", "b", (0, 5), 9.96, "litres"), "spread 9.96 litres of compost on b"),
        (Job(BEGIN, "mulch", "", "b", (0, 5), 10.0, "m2", "plastic"), "lay 10 m2 of plastic on b"),
        (Job(BEGIN, "put up support", "bean", "b", (0, 1.5), 1.5, "m", "poles"),
         "put up 1.5 m of poles for bean in b, 0 to 1.5 m"),
        (Job(BEGIN, "first picking", "bean", "b", (0, 1.5), 3.0, "kg"),
         "first picking: bean in b, 0 to 1.5 m, some 3 kg in all"),
        (Job(BEGIN, "thin", "beet", "b", (0, 1), note="to 10 cm"), "thin beet in b, 0 to 1 m (to 10 cm)"),
        (Job(BEGIN, "clear", "beet", "b"), "clear beet in b"),
        (Job(BEGIN, "set out", "leek", "b", (0, 1), 35.0, "plants"), "set out 35 leek in b, 0 to 1 m"),
        (Job(BEGIN, "plant", "potato", "b", (0, 1), 9.0, "tubers"), "plant 9 tubers of potato in b, 0 to 1 m"),
        (Job(BEGIN, "begin watering"), "begin watering"),
    ],
)  # fmt: skip
def test_a_job_in_words(job, words):
    assert job_words(job) == words


def test_a_week_of_jobs_begins_on_monday_and_joins_what_is_alike():
    """The first of January 2027 is a Friday: its week begins on 28 December."""
    jobs = (
        Job(BEGIN, "spread compost", "", "a", (0, 5), 25.0, "litres"),
        Job(BEGIN, "spread compost", "", "b", (0, 5), 30.0, "litres"),
        Job(dt.date(2027, 1, 3), "mulch", "", "a", (0, 5), 500.0, "litres", "straw"),
        Job(dt.date(2027, 1, 3), "mulch", "", "b", (0, 5), 700.0, "litres", "straw"),
        Job(dt.date(2027, 1, 4), "clear", "beet", "b"),
    )
    assert weeks_of_diary(jobs) == [
        (dt.date(2026, 12, 28), ["spread compost on a, b: 55 litres", "mulch on a, b: 1,200 litres of straw"]),
        (dt.date(2027, 1, 4), ["clear beet in b"]),
    ]


@pytest.mark.parametrize(
    ("date", "week"), [("2027-01-07", 1), ("2027-01-08", 2), ("2027-12-30", 52), ("2027-12-31", 52)]
)
def test_weeks_of_a_job(date, week):
    job = Job(dt.date.fromisoformat(date), "clear", "beet", "b", (0.0, 1.256), 2.04, "m of bed", "x", 3)
    told = {"job": "clear", "crop": "beet", "bed": "b", "part_m": [0.0, 1.26], "amount": 2.0, "unit": "m of bed"}
    assert job.to_json() == {"week": week, "date": date} | told
    assert Job(BEGIN, "begin watering").to_json()["part_m"] is None


def test_what_keeps_is_told_in_the_order_of_the_handbook():
    words = keeping_words(Crop("x", garden=GardenRow(keeps="dried|frozen|nothing")))
    assert words == ["dried till brittle, in closed jars", "frozen (blanched first)"]
    assert keeping_words(Crop("x", garden=GardenRow())) == []
