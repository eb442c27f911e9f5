"""Which start days a garden takes, from made-up windows and waits, north and south (customs: common practice)."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from sowcal.crops.handbook import handbook
from sowcal.crops.tables import Crop
from sowcal.crops.tables import Garden as GardenRow
from sowcal.errors import InputError
from sowcal.garden import plants, schedule
from sowcal.garden.bed_file import Bed, Mulch
from sowcal.garden.diary import Job, _bears_words, _bed_jobs, _picking_jobs, _range_words
from sowcal.garden.garden_file import Garden, Household, Start
from sowcal.garden.schedule import (
    _apart,
    _candidates,
    _chosen_starts,
    _earlier,
    _food_days,
    _in_window,
    _least_step,
    _rain_leaves,
    _raised,
    _said_starts,
    _sowings,
    _worth,
    median_span,
)

YEARS = 4


def outcome(*windows, worth=0.8, first=60.0, last=79.0, succession=(), way="sown outdoors", raised=None, possible=None):
    """Windows as (first, best, last); the crop is picked from day `first` to day `last` after any start."""
    spans = tuple(SimpleNamespace(start=a, best=b, end=c) for a, b, c in windows)
    many = (YEARS, 365)
    found = SimpleNamespace(
        reliability=np.ones(365), mean_yield=np.broadcast_to(worth, 365).astype(float), first=np.full(many, first),
        last=np.full(many, last), yield_fraction=np.full(many, 0.8),
        raised=None if raised is None else np.full(many, float(raised)),
    )  # fmt: skip
    return SimpleNamespace(
        windows=spans, possible=possible or spans, found=found, succession=succession, ripening=None,
        way=SimpleNamespace(way=way),
    )  # fmt: skip


def crop(use="vegetable", **more):
    row = GardenRow(30.0, 30.0, 1.0, 1.0, use_low=1.0, use_high=1.0, **more)
    return Crop("x", family="F", use=use, garden=row)


@pytest.mark.parametrize(
    ("use", "day", "south", "step"),
    [
        ("vegetable", 160, False, 21), ("salad", 150, False, 14), ("salad", 151, False, 10), ("salad", 242, False, 10),
        ("salad", 243, False, 14), ("salad", 332, True, 14), ("salad", 333, True, 10), ("salad", 59, True, 10),
        ("salad", 60, True, 14), ("salad", 160, True, 14), ("salad", 340, False, 14),
    ],
)  # fmt: skip
def test_days_between_two_starts(use, day, south, step):
    """High summer is June to August, from day 151; in the south from 30 November on."""
    assert _least_step(crop(use), day, south) == step


@pytest.mark.parametrize(("a", "b", "days"), [(10, 24, 14), (24, 10, 14), (360, 5, 10), (0, 182, 182), (0, 183, 182)])
def test_days_apart_the_short_way_round(a, b, days):
    assert _apart(a, b) == days


def test_worth_is_odds_times_yield_and_nothing_where_it_is_not_known():
    one = outcome((60, 80, 100), worth=0.8)
    one.found.reliability[10], one.found.reliability[11] = 0.5, np.nan
    assert (_worth(one, 10), _worth(one, 11), _worth(one, 12)) == (pytest.approx(0.4), 0.0, pytest.approx(0.8))


def test_candidates_are_the_best_day_and_every_fortnight():
    days = [d for _, _, d in _candidates([outcome((60, 80, 100))], True)]
    assert days == [80, 60, 74, 88]
    over_new_year = [d for _, _, d in _candidates([outcome((355, 360, 20))], True)]
    assert sorted(over_new_year) == [4, 18, 355, 360]
    told = [d for _, _, d in _candidates([outcome((60, 80, 100), succession=(60, 71, 100, 101, 59))], True)]
    assert told == [80, 60, 71, 100]  # those of the window
    chancy = outcome(possible=outcome((200, 210, 220)).windows, succession=(201,))
    assert _candidates([chancy], True) == []
    assert [d for _, _, d in _candidates([chancy], False)] == [210, 200, 214]


def test_the_best_of_a_window_goes_before_what_is_a_little_better():
    worth = np.full(365, 0.5)
    worth[60], worth[74] = 0.54, 0.56
    assert [d for _, _, d in _candidates([outcome((60, 80, 88), worth=worth)], True)] == [74, 80, 60, 88]


def test_food_stands_on_the_table_from_first_to_last_picking_and_as_long_as_it_keeps():
    days = _food_days(outcome(), 100, 0.0)
    assert np.flatnonzero(days).tolist() == list(range(160, 180))
    assert np.flatnonzero(_food_days(outcome(), 100, 2.0)).tolist() == list(range(160, 194))
    assert _food_days(outcome(), 100, 100.0).all()
    over = np.flatnonzero(_food_days(outcome(), 300, 0.0))
    assert over.tolist() == [*range(0, 15), *range(360, 365)]


def chosen(*windows, use="vegetable", south=False, keeps=0.0, **more):
    starts, advised = _chosen_starts(crop(use, keeps="dried", keeps_weeks=keeps), [outcome(*windows, **more)], south)
    return [day for _, day in starts], advised


def test_starts_fill_weeks_without_food():
    """Twenty days of picking from each: three weeks apart all of it is new, and no more than four starts of a crop."""
    assert chosen((60, 60, 160)) == ([60, 88, 116, 144], True)
    assert chosen((60, 60, 90)) == ([60, 88], True)
    assert chosen((60, 60, 160), use="salad")[0] == [60, 74, 88, 102]
    # kept for ten weeks less than half of the next start's food is new until five weeks on
    assert chosen((60, 60, 160), keeps=10.0)[0] == [60, 116]
    assert chosen(possible=outcome((60, 70, 160)).windows) == ([70], False)  # one where none is advised
    chancy = outcome(possible=outcome((60, 70, 160)).windows)
    both, advised = _chosen_starts(crop(), [chancy, outcome((200, 200, 220))], False)
    assert ([day for _, day in both], advised) == ([200], True)  # one way that is advised is enough


def test_salad_follows_closely_in_high_summer_of_its_hemisphere():
    step = tuple(range(160, 200, 10))
    assert chosen((160, 160, 190), use="salad", succession=step)[0] == [160, 170, 180, 190]
    assert chosen((160, 160, 190), use="salad", succession=step, south=True)[0] == [160, 180]


def test_start_days_of_a_file_in_the_order_of_the_year():
    garden = Garden("g", "s", (), starts=(Start("x", "sown outdoors", 200), Start("x", "sown outdoors", 90),
                                          Start("y", "sown outdoors", 10)))  # fmt: skip
    one = outcome((60, 80, 100))
    said, advised = _said_starts(crop(), [one], garden)
    assert ([d for _, d in said], advised) == ([90, 200], False)
    assert _said_starts(crop(), [one], Garden("g", "s", ())) is None
    one.found.reliability[200] = 0.0
    with pytest.raises(InputError, match="x sown outdoors on 20 July comes to a picking worth having in no year"):
        _said_starts(crop(), [one], garden)
    with pytest.raises(InputError, match="x is not sown outdoors; it is set out"):
        _said_starts(crop(), [outcome(way="set out")], garden)


def test_a_day_in_a_window_over_new_year():
    one = outcome((350, 360, 10))
    assert [_in_window(one, d) for d in (349, 350, 0, 10, 11)] == [False, True, True, True, False]
    two = outcome((60, 80, 100), (200, 210, 220))
    assert [_in_window(two, d) for d in (80, 150, 210)] == [True, False, True]
    assert not _in_window(outcome(), 80)


def test_days_under_cover_and_the_start_before():
    assert _raised(outcome(), 5) is None
    assert _raised(outcome(raised=42), 5) == 42
    assert _raised(outcome(raised=np.nan), 5) is None
    fold = SimpleNamespace(index=np.arange(YEARS * 365).reshape(YEARS, 365))
    worth = np.full(365, 0.8)
    worth[[46, 360]] = 0.73, 0.71
    index, last = _earlier(fold, outcome(worth=worth), 60)
    assert index[0] == 46
    assert last.tolist() == [79.0] * YEARS
    assert _earlier(fold, outcome(worth=worth), 9) is None  # 360 brings less than nine tenths
    worth = np.ones(365)
    worth[46] = 0.9
    assert _earlier(fold, outcome(worth=worth), 60)[0][0] == 46  # nine tenths are nearly as good


def test_what_rain_leaves_of_a_watered_crop():
    assert _rain_leaves(outcome(worth=0.4), [], 5) is None
    assert _rain_leaves(outcome(worth=0.4), [outcome(worth=0.8)], 5) == pytest.approx(0.5)
    assert _rain_leaves(outcome(worth=0.9), [outcome(worth=0.8)], 5) == 1.0
    assert _rain_leaves(outcome(worth=0.0), [outcome(worth=0.0)], 5) == 0.0


def sown(one=None, of=None, **more):
    garden = Garden("g", "s", (), household=Household(1), **more)
    fold = SimpleNamespace(years=np.arange(YEARS), index=np.arange(YEARS * 365).reshape(YEARS, 365))
    return _sowings(fold, of or crop(), [one or outcome((60, 60, 160))], [], garden, False)


def test_sowings_of_a_crop():
    """1 kg a week, 1 kg a plant over twenty days: some three plants a start; where a number is told one start."""
    rows = sown()
    assert [s.start for s in rows] == [60, 88, 116, 144]
    assert all(s.advised and s.yield_fraction == 0.8 and not s.rain_fed for s in rows)
    assert (rows[0].index == np.arange(YEARS) * 365 + 60).all()
    assert rows[0].area == pytest.approx(0.09 * rows[0].plants.count)
    (one,) = sown(counts={"x": 7})
    assert (one.start, one.plants.count) == (60, 7)
    said = sown(counts={"x": 7}, starts=(Start("x", "sown outdoors", 90), Start("x", "sown outdoors", 200)))
    assert [(s.start, s.advised) for s in said] == [(90, True), (200, False)]
    assert sown(rain_fed=("x",))[0].rain_fed


def test_a_sowing_of_fewer_than_a_fifth_of_the_plants_of_another_is_not_made(monkeypatch):
    """Of starts that serve 10, 2, 1 and 3 plants the one of 1 is left out; start days that are told are all kept."""
    counts = []
    made = schedule.plants_for

    monkeypatch.setattr(schedule, "plants_for", lambda *a, **more: replace(made(*a, **more), count=counts.pop(0)))
    counts[:] = [10, 2, 1, 3]
    assert [(s.start, s.plants.count) for s in sown()] == [(60, 10), (88, 2), (144, 3)]
    counts[:] = [10, 1]
    said = sown(starts=(Start("x", "sown outdoors", 90), Start("x", "sown outdoors", 100)))
    assert [s.plants.count for s in said] == [10, 1]


@pytest.mark.parametrize(("latitude", "south"), [(38.0, False), (0.0, False), (-0.05, True), (-33.0, True)])
def test_each_crop_is_planned_for_its_hemisphere_or_left_out_with_why(monkeypatch, latitude, south):
    asked = []
    monkeypatch.setattr(schedule, "_outcomes", lambda site, fold, one, *dry: [] if one.name == "bare" else ["way"])
    monkeypatch.setattr(schedule, "_sowings", lambda *given: asked.append((given[1].name, given[-1])) or [])
    names = ("bare", "x", "tree")
    crops = [replace(crop(), name=n, perennial=SimpleNamespace() if n == "tree" else None) for n in names]
    garden = Garden("g", "s", (), household=Household(1))
    found, left = schedule.garden_schedule(SimpleNamespace(latitude=latitude), None, crops, garden)
    assert (found, asked) == ([], [("x", south)])
    assert [(one.crop, one.why) for one in left] == [
        ("bare", "the handbook lacks figures"),
        ("x", "no start day succeeds in half of the years here"),
    ]


def test_of_fruit_a_few_plants_of_one_start_are_enough():
    fruit = Crop("x", family="F", part="fruit", garden=GardenRow(30.0, 30.0, 4.0, 4.0, use_low=1.0, use_high=1.0))
    assert len(sown(of=fruit)) == 1
    many = Crop("x", family="F", part="fruit", garden=GardenRow(30.0, 30.0, 0.2, 0.2, use_low=1.0, use_high=1.0))
    assert len(sown(of=many)) == 4


def test_a_span_in_the_median_of_the_years():
    found = SimpleNamespace(start=330, first=np.array([50.0, 60.0, 90.0]), last=np.array([70.0, 80.0, 100.0]))
    assert median_span(found) == (330, 25, 45)


def test_a_sowing_is_picked_from_its_first_to_its_last_day_by_week():
    """0.8 over days 60 to 69: three of them in the ninth week, seven in the tenth; else as its flowers ripen."""
    days = np.arange(365)
    fold = SimpleNamespace(years=np.arange(1), index=60 + days[None])
    one = outcome((0, 0, 9), first=60.0, last=69.0)

    def picked(*ripening):
        one.ripening = None if not ripening else np.array([0.0] * 120 + [*ripening])
        (weeks,) = plants.picking_weeks(fold, one, 0)
        assert weeks.sum() == pytest.approx(0.8)
        return weeks[8:10].tolist()

    assert picked() == pytest.approx([0.24, 0.56])
    # the season starts on day 60 of the record, which ends on day 124: its last day stands for the six behind it
    assert picked(1.0, 1.0, 1.0, 0.0, 5.0) == pytest.approx([0.8 * 3 / 33, 0.8 * 30 / 33])
    assert picked(0.01, *[0.0] * 20) == pytest.approx([0.8, 0.0])
    assert picked(*[0.0] * 20) == pytest.approx([0.24, 0.56])  # nothing ripens: evenly


def test_food_is_kept_till_it_is_picked_again(monkeypatch):
    """Picked from the ninth week to the eighteenth, nine weeks on, it is kept for 52 less 9 weeks and no longer."""
    asked = []
    monkeypatch.setattr(plants, "_most_used", lambda curve, wanted, keeps: asked.append(keeps) or 0)
    share = np.zeros((1, 60))
    share[0, 8:18] = 0.08
    row = GardenRow(30.0, 30.0, 1.0, 1.0, use_low=1.0, use_high=1.0, keeps="dried", keeps_weeks=50.0)
    plants.plants_for(share, row, Household(1), "x")
    plants.plants_for(share, replace(row, keeps_weeks=20.0), Household(1), "x")
    assert asked == [43.0, 20.0]


def row_in_bed(start=100, days=None, count=20):
    """Twenty plants that bring 10 kg, of which five stand in 2.5 m of a bed."""
    days = np.arange(101.0) if days is None else days
    perennial = SimpleNamespace(years_to_crop=2.5)
    sowing = SimpleNamespace(
        start=start,
        first=days,
        last=days + 60.0,
        crop=SimpleNamespace(perennial=perennial, kind="none"),
        plants=SimpleNamespace(count=count, picked=10.0),
    )
    return SimpleNamespace(count=5, begin=2.0, end=4.5), sowing


@pytest.mark.parametrize(
    ("start", "words"), [(100, "21 Apr to 10 Jul in 8 years of 10"), (350, "27 Dec to 17 Mar in 8 years of 10")]
)
def test_a_range_of_years_is_of_eight_in_ten(start, words):
    """Of 101 years 0 to 100 days from the start it is those from 10 to 90; 2025 and 2026 are no leap years."""
    _, sowing = row_in_bed(start)
    assert _range_words(sowing, np.append(sowing.first, np.nan), 2025) == words
    assert _range_words(sowing, np.array([np.nan]), 2025) == ""


def test_what_lives_on_bears_after_its_years_of_waiting_and_is_picked_over_new_year():
    """Two and a half years of waiting: from the fourth on. Day 300 and 100 more is 5 February, 130 more 7 March."""
    _, sowing = row_in_bed(300)
    assert _bears_words(sowing, 100, 130) == "bears from year 4 on, picked about 5 Feb to 7 Mar"
    assert _bears_words(sowing, 65, 66) == "bears from year 4 on, picked about 1 Jan to 2 Jan"


def test_each_part_of_a_sowing_is_picked_and_cleared_by_itself():
    """Five of twenty plants bring 2.5 of 10 kg; in the middle year from day 50 to 110; cleared the day after."""
    placing, sowing = row_in_bed()
    first, last, clear = _picking_jobs(placing, sowing, 2025)
    assert first[:4] == (150, "first picking", 2.5, "kg")
    assert last[:2] == (210, "last picking")
    assert clear[:4] == (211, "clear", 2.5, "m of bed")


@pytest.mark.parametrize(("begin", "dry"), [(dt.date(2027, 1, 1), 150), (dt.date(2027, 7, 1), 333)])
def test_mulch_waits_for_what_is_started_to_stand_above_it(begin, dry):
    """The soil dries out on 31 May (30 November in the south): what was started six days before has a fortnight."""
    dries = dt.date(2027, 1, 1) + dt.timedelta(dry)
    beds = (Bed("a", 10.0, 1.2),)
    garden = Garden("g", "s", beds, mulch=Mulch("straw"))
    day = dt.timedelta(1)

    def laid(*jobs):
        told = [Job(date, job, "x", "a", (0.0, 2.0), sowing=k) for k, (date, job) in enumerate(jobs)]
        (mulch,) = [j for j in _bed_jobs(garden, told, begin, dry, dries + 150 * day) if j.job == "mulch"]
        return mulch.date

    assert laid((dries - 6 * day, "sow outdoors")) == dries + 8 * day
    assert laid((dries - 40 * day, "plant")) == dries
    assert laid((dries + 90 * day, "set out")) == dries + 104 * day
    assert laid((dries - 6 * day, "sow outdoors"), (dries + 1 * day, "first picking")) == dries + 8 * day


@pytest.mark.parametrize(("start", "south"), [(120, False), (302, True)])
def test_pests_are_looked_for_up_to_a_week_before_the_last_picking(start, south):
    """28 days after a start on 1 May (30 October in the south): worth it where picking lasts to day 36, not to 35."""

    def looked(last):
        cares = plants.cares_of(handbook()["pea (shelling)"], "sown outdoors", start, 30, last, fed=True, south=south)
        return [c.day for c in cares if c.job == "look for pests" and c.day > 0]

    assert looked(36) == [28]
    assert looked(35) == []


def suggested(monkeypatch, *sorts, tastes=()):
    """Sorts as name, worth, use, life, how many households eat it, kg a week."""
    book = {}
    worths = {name: worth for name, worth, *_ in sorts}
    for name, _, use, life, household, week in sorts:
        row = GardenRow(30.0, 30.0, 1.0, 1.0, use_low=week, use_high=week, household=household)
        book[name] = Crop(name, family="F", use=use, life=life, garden=row)
    monkeypatch.setattr(schedule, "_best_worth", lambda site, fold, one: worths[one.name])
    garden = Garden("g", "s", (), household=Household(1, dict(tastes)))
    return [one.name for one in schedule.chosen_crops(None, None, book, garden)]


def test_crops_that_are_suggested_grow_here_and_are_eaten(monkeypatch):
    """Of a kind the sort that does best, the first of two alike; not what never comes to anything, nor a fruit."""
    usual = ("vegetable", "annual", "many", 1.0)
    assert suggested(monkeypatch, ("pea (snow)", 0.5, *usual), ("pea (shelling)", 0.6, *usual)) == ["pea (shelling)"]
    assert suggested(monkeypatch, ("pea (snow)", 0.6, *usual), ("pea (shelling)", 0.6, *usual)) == ["pea (snow)"]
    assert suggested(monkeypatch, ("pea", 0.0, *usual)) == []
    assert suggested(monkeypatch, ("melon", 0.9, "fruit", "annual", "many", 1.0)) == []
    assert suggested(monkeypatch, ("leek", 0.9, "vegetable", "perennial", "many", 1.0)) == []
    assert suggested(monkeypatch, ("leek", 0.9, *usual), tastes={"leek": "none"}) == []
    assert suggested(monkeypatch, ("chard", 0.9, "vegetable", "annual", "many", 0.0)) == []


def test_what_most_eat_goes_before_what_does_better_and_that_before_what_is_eaten_more_of(monkeypatch):
    few, many, most = (("vegetable", "annual", word) for word in ("few", "many", "most"))
    order = suggested(
        monkeypatch, ("a", 0.9, *few, 1.0), ("b", 0.9, *many, 1.0), ("c", 0.5, *most, 1.0), ("d", 0.62, *many, 2.0),
        ("e", 0.58, *many, 3.0), ("f", 0.7, "salad", "annual", "", 1.0),
    )  # fmt: skip
    assert order == ["c", "b", "e", "d", "a", "f"]  # 0.58 and 0.62 are alike to a tenth
    many_sorts = [(f"crop {k}", 0.5, *many, 1.0) for k in range(30)]
    assert suggested(monkeypatch, *many_sorts) == [name for name, *_ in many_sorts[:22]]


def test_a_word_for_several_sorts_is_the_one_that_does_best_and_that_is_told(monkeypatch):
    book = handbook()
    monkeypatch.setattr(schedule, "_best_worth", lambda site, fold, one: float(one.name == "pea (snow)"))
    garden = Garden("g", "s", (), crops=("pea", "leek"), counts={"pea": 9, "leek": 3})
    named, notes = schedule.with_crops_named(garden, book, None, None)
    assert notes == ["of pea the sort that does best here is planned: pea (snow)"]
    assert named.crops == ("pea (snow)", "leek")
    assert named.counts == {"pea (snow)": 9, "leek": 3}
    twice = Garden("g", "s", (), crops=("pea (snow)", "pea"))
    with pytest.raises(InputError, match="'pea' names pea \\(snow\\) a second time"):
        schedule.with_crops_named(twice, book, None, None)
    strange = Garden("g", "s", (), crops=("leek",), starts=(Start("carrot", "sown outdoors", 90),))
    with pytest.raises(InputError, match="carrot has a start day and is not among the crops"):
        schedule.with_crops_named(strange, book, None, None)


def test_a_start_day_that_others_make_needless_is_told(monkeypatch):
    """Of two that the garden file names one brings nothing that is still wanted."""
    monkeypatch.setattr(schedule, "_outcomes", lambda site, fold, one, *dry: ["way"])
    made = SimpleNamespace(way="sown outdoors", start=90)
    monkeypatch.setattr(schedule, "_sowings", lambda *given: [made])
    starts = tuple(Start(name, "sown outdoors", day) for name, day in (("x", 90), ("x", 104), ("y", 104)))
    garden = Garden("g", "s", (), household=Household(1), starts=starts)
    found, left = schedule.garden_schedule(SimpleNamespace(latitude=40.0), None, [crop()], garden)
    assert found == [made]
    assert [(one.crop, one.why) for one in left] == [
        ("x", "none sown outdoors on 15 April: other sowings bring what the house eats then")
    ]
    nobody = Garden("g", "s", (), household=Household(1, {"x": "none"}))
    assert [one.why for one in schedule.garden_schedule(SimpleNamespace(latitude=40.0), None, [crop()], nobody)[1]] == [
        "nobody here eats it"
    ]
    monkeypatch.setattr(schedule, "_sowings", lambda *given: [])
    dry = Garden("g", "s", (), household=Household(1), rain_fed=("x",))
    site = SimpleNamespace(latitude=40.0)
    assert [one.why for one in schedule.garden_schedule(site, None, [crop()], dry, lambda *a: None)[1]] == [
        "no start day succeeds in half of the years here on rain alone"
    ]


def test_a_season_that_begins_with_the_record_counts_and_one_before_it_does_not():
    fold = SimpleNamespace(years=np.arange(3), index=np.array([[-1], [0], [365]]))
    one = outcome((0, 0, 9), first=14.0, last=20.0)
    one.found.yield_fraction[:] = np.array([0.3, 0.5, 0.7, 0.9])[:, None]
    weeks = plants.picking_weeks(fold, one, 0)
    assert weeks[:, 2].tolist() == pytest.approx([0.5, 0.7])
    one.found.yield_fraction[2] = np.nan  # not decided
    assert plants.picking_weeks(fold, one, 0).sum() == pytest.approx(0.5)
