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
    share_there,
    shopping_list,
    use_of_diary,
)
from sowcal.garden.garden_file import Bed, Garden, Mulch, Paths
from sowcal.garden.plants import cares_of, keeping_words
from sowcal.outputs.shed_sheets import job_words, months_of_diary, purchase_words, weeks_of_diary

BEGIN = dt.date(2027, 1, 1)
BEDS = (Bed("north", 10.0, 1.2), Bed("south", 5.0, 1.0))
BARE = Garden("g", "s", BEDS, mulch=Mulch("none"), compost=0.0, paths=Paths(width=0.0))


def sowing(way="sown outdoors", start=100, first=60, last=89, count=20, name="carrot", stock="seed", **row):
    garden = GardenRow(**({"row_spacing": 30.0, "plant_spacing": 10.0} | row.pop("garden", {})))
    crop = Crop(name, garden=garden, ways=(Way(way=way, stock=stock),), **({"family": "F"} | row.pop("crop", {})))
    made = {
        "crop": crop, "way": way, "start": start, "first": np.array([first - 2.0, first, first + 2.0]),
        "last": np.array([last - 5.0, last, last + 5.0]), "raised": None, "stands": False,
        "plants": SimpleNamespace(count=count, picked=10.0), "rain_fed": False,
    }  # fmt: skip
    return SimpleNamespace(**(made | row))


def placing(sowing=0, bed=0, count=20, begin=2.0, end=4.5):
    area = (end - begin) * BEDS[bed].width
    return SimpleNamespace(sowing=sowing, bed=bed, count=count, area=area, begin=begin, end=end)


def diary(*sowings, garden=BARE, placings=None, begin=BEGIN, season=None, mulched=None, **more):
    placings = [placing(k) for k in range(len(sowings))] if placings is None else placings
    return diary_of(garden, list(sowings), SimpleNamespace(placings=placings), begin, season, mulched, **more)


def bought(jobs):
    return [(j.date.isoformat(), j.bed or j.crop, j.amount, j.unit) for j in jobs if j.job == "buy"]


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
    """Day 100: picked after 60 days, last on the 89th; three weeks ahead is 21 March: bought on the first of it."""
    jobs = diary(sowing())
    assert told(jobs) == [
        ("2027-03-01", "buy"), ("2027-04-11", "sow outdoors"), ("2027-04-11", "look for pests"),
        ("2027-06-10", "first picking"), ("2027-07-09", "last picking"), ("2027-07-10", "clear"),
    ]  # fmt: skip
    buy, sow, look, pick, final, clear = jobs
    assert (buy.amount, buy.unit, buy.bed, buy.part, buy.note) == (2.0, "m of row of seed", "", None, "")
    assert (sow.amount, sow.unit, sow.note, sow.bed, sow.part) == (2.0, "m of row", "20 plants", "north", (2.0, 4.5))
    assert (pick.amount, pick.unit, pick.note) == (10.0, "kg", "8 Jun to 11 Jun in 8 years of 10")
    assert (look.note, look.amount, look.unit) == ("carrot fly: lay fine net over the row till it is pulled", None, "")
    assert (final.note, final.amount, final.unit) == ("5 Jul to 13 Jul in 8 years of 10", None, "")
    assert (clear.amount, clear.unit, clear.sowing) == (2.5, "m of bed", 0)
    half = diary(sowing(), placings=[placing(count=5)])
    assert (half[1].amount, half[3].amount) == (0.5, 2.5)
    one = diary(sowing(count=1), placings=[placing(count=1)])
    assert (one[1].note, one[3].amount) == ("1 plant", 10.0)
    assert diary(sowing(count=60))[3].amount == 3.3  # twenty of sixty plants bring a third of ten kg
    assert diary(sowing(garden={"plant_spacing": float("nan")}))[1].amount == 6.0  # 30 cm where it is not known
    # what is picked for nine days has no last picking of its own, for ten it has
    assert "last picking" not in {j.job for j in diary(sowing(last=69))}
    assert ("2027-06-20", "last picking") in told(diary(sowing(last=70)))


def test_what_is_past_this_year_is_of_the_next():
    assert diary(sowing(), begin=dt.date(2027, 4, 11))[1].date == dt.date(2027, 4, 11)
    assert diary(sowing(), begin=dt.date(2027, 4, 12))[1].date == dt.date(2028, 4, 11)
    # no job lies before the beginning: what should have been bought is bought at once
    assert diary(sowing(), begin=dt.date(2027, 4, 1))[0].date == dt.date(2027, 4, 1)


def test_raised_under_cover_with_a_fifth_to_spare():
    jobs = diary(sowing("set out", raised=42, count=35, stock="seed"), placings=[placing(count=35)])
    assert told(jobs)[:3] == [("2027-02-01", "buy"), ("2027-02-28", "sow under cover"), ("2027-04-11", "set out")]
    tray, out = jobs[1], jobs[2]
    assert (tray.amount, tray.unit, tray.note) == (44.0, "cells", "2 trays of 40")  # 35 and a quarter more: 43.75
    assert (out.amount, out.unit, out.note) == (35.0, "plants", "hardened off")
    (one,) = [j for j in diary(sowing("set out", raised=42), placings=[placing(count=32)]) if j.unit == "cells"]
    assert (one.amount, one.note) == (40.0, "1 tray of 40")
    assert jobs[0].unit == "cells of seed"
    # sown under cover in autumn for a start after New Year
    early = diary(sowing("set out", start=10, raised=42), begin=dt.date(2026, 12, 1))
    assert [j.date for j in early if j.job == "sow under cover"] == [dt.date(2027, 11, 30)]
    assert [(j.job, j.unit) for j in diary(sowing("set out"))[:2]] == [("buy", "plants"), ("set out", "plants")]


@pytest.mark.parametrize(
    ("stock", "count", "unit", "note", "twice"),
    [
        ("tuber", 50, "tubers", "about 3.0 kg", "tubers"), ("set", 100, "sets", "about 0.6 kg", "sets"),
        ("clove", 1, "clove", "", "cloves"), ("clove", 9, "cloves", "about 0.1 kg", "cloves"),
        ("container", 2, "potted plants", "", "potted plants"), ("crown", 3, "crowns", "", "crowns"),
        ("bare-root", 1, "bare-root plant", "", "bare-root plants"), ("", 1, "plant", "", "plants"),
    ],
)  # fmt: skip
def test_stock_that_is_planted(stock, count, unit, note, twice):
    made = sowing("planted", count=count, stock=stock)
    buy, plant = diary(made, placings=[placing(count=count)])[:2]
    assert (plant.job, plant.amount, plant.unit, plant.note) == ("plant", count, unit, note)
    assert (buy.job, buy.unit, buy.note) == ("buy", twice, "")
    assert job_words(buy) == f"buy {count} {unit} of carrot"
    # what lives for years is neither picked nor cleared here
    assert [j.job for j in diary(sowing("planted", stock=stock, stands=True))] == ["buy", "plant"]
    both = diary(made, placings=[placing(count=count), placing(bed=1, count=count)])
    assert job_words(both[0]) == f"buy {2 * count} {twice} of carrot"
    by = "2027-03-01" if stock in ("tuber", "set", "clove") else "2027-04-04"  # what cannot wait a week before 11 April
    assert purchase_words(shopping_list(both)[0]) == f"carrot: {2 * count} {twice}, by {by}"


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


CABBAGE = sowing("set out", 290, 150, 200, name="cabbage", crop={"part": "leaf", "family": "Brassicaceae"})
TOMATO = sowing("set out", 121, 70, 130, name="tomato (large)", garden={"support": "stakes"})


def cares(made, start, last, *, way="set out", fed=True, south=False):
    found = cares_of(made.crop, way, start, int(made.first[1]), last, fed=fed, south=south)
    return [(c.day, c.job, c.note.partition(":")[0]) for c in found]


def test_cares_of_a_tomato_stop_a_fortnight_before_its_last_picking():
    """Picked from the 70th day: fed 10 days before, 14 and 44 after; looked over half way, on the 35th."""
    tie = "tie in, side shoots out, again each fortnight"
    moths = (35, "look for pests", "moths and blight")
    fed = [(60, "feed", ""), (84, "feed", ""), (114, "feed", "")]
    assert cares(TOMATO, 121, 129) == [(21, "tie in", tie), moths, *fed]
    assert cares(TOMATO, 121, 128) == [(21, "tie in", tie), moths, *fed[:2]]  # 128 - 14 is the day itself
    assert cares(TOMATO, 121, 129, fed=False) == [(21, "tie in", tie), moths]
    found = cares_of(TOMATO.crop, "set out", 121, 70, 129, fed=True, south=False)
    assert [(c.litres, c.waits) for c in found] == [(0.0, True)] * 2 + [(2.0, True)] * 3


@pytest.mark.parametrize(("start", "south"), [(290, False), (290 + 182 - 365, True)])
def test_cares_are_put_off_by_weeks_till_growth_and_moths_return(start, south):
    """From 18 October, till 15 February, the 120th day, and 16 April, the 180th: 15 weeks after the 21st and 75th."""
    slugs, look = (0, "look for pests", "slugs and snails"), (180, "look for pests", "caterpillars and aphids")
    assert cares(CABBAGE, start, 200, south=south) == [slugs, (126, "feed", ""), look]
    assert cares(CABBAGE, start, 187, south=south) == [slugs, (126, "feed", "")]  # a week before the last picking
    # on the other side of the equator it is spring
    plain = [slugs, (21, "feed", ""), (75, "look for pests", "caterpillars and aphids")]
    assert cares(CABBAGE, start, 200, south=not south) == plain
    thin = (21, "thin", "to 10 cm, with two true leaves; water after it")
    found = cares(CABBAGE, start, 100, way="sown outdoors", south=south)
    assert found == [(0, "look for pests", "flea beetles"), thin]


@pytest.mark.parametrize(
    ("made", "south", "dates"),
    [
        # Sunday 2 May, rounds on Mondays, 28 December and each fortnight after it
        (TOMATO, False, {"tie in": ["2027-05-17"], "look for pests": ["2027-05-31"],
                         "feed": ["2027-06-28", "2027-07-26", "2027-08-23"]}),
        # 18 April, where it is autumn: 22 August and 15 October; the slugs come at once
        (CABBAGE, True, {"feed": ["2027-08-23"], "look for pests": ["2027-04-18", "2027-10-18"]}),
        # and where it is spring: 9 May and 2 July
        (CABBAGE, False, {"feed": ["2027-05-03"], "look for pests": ["2027-04-18", "2027-06-28"]}),
    ],
)  # fmt: skip
def test_what_may_wait_is_done_in_the_rounds_of_its_bed(made, south, dates):
    made = made if made is TOMATO else SimpleNamespace(**(vars(made) | {"start": 107}))
    jobs = diary(made, south=south)
    assert {what: [j.date.isoformat() for j in jobs if j.job == what] for what in dates} == dates
    assert {(j.amount, j.unit) for j in jobs if j.job == "feed"} == {(6.0, "litres")}  # 2 on each of 2.5 x 1.2 m2
    dry = diary(SimpleNamespace(**(vars(made) | {"rain_fed": True})), south=south)
    assert not [j for j in dry if j.job == "feed" or "compost" in j.unit]


def test_materials_are_bought_once_for_all_beds_on_the_first_of_a_month():
    """Fed first on 28 June, three weeks before is 7 June; staked on 2 May, three weeks before is 11 April."""
    jobs = diary(TOMATO, TOMATO, placings=[placing(0), placing(1, bed=1, count=8, begin=0.0, end=1.0)])
    of_beds = [(date, amount, unit) for date, bed, amount, unit in bought(jobs) if bed == "the beds"]
    compost = ("2027-06-01", pytest.approx(3 * 6.0 + 3 * 2.0), "litres of compost")
    assert of_beds == [("2027-04-01", 28.0, "stakes"), compost]
    laid = diary(TOMATO, garden=replace(BARE, compost=5.0, mulch=Mulch("plastic")), mulched=120)
    assert [(date, amount, unit) for date, bed, amount, unit in bought(laid) if bed == "the beds"] == [
        ("2027-04-01", 60.0 + 18.0, "litres of compost"),  # spread on 25 April: 4 April
        ("2027-04-01", 20.0, "stakes"),
        ("2027-04-01", 12.0, "m2 of plastic for mulch"),  # a fortnight after 2 May: 25 April
    ]


def test_share_there_lacks_what_only_later_years_bring_over_new_year():
    """3 m2 stand from 8 September to 26 March; 1 m2 of a perennial from 21 January on."""
    autumn = SimpleNamespace(start=250, raised=None, way="planted", stands=False, place_taken=(250, 84))
    tree = SimpleNamespace(start=20, raised=None, way="planted", stands=True, place_taken=(0, 364))
    plan = SimpleNamespace(placings=[SimpleNamespace(sowing=0, area=3.0), SimpleNamespace(sowing=1, area=1.0)])
    assert list(share_there([autumn, tree], plan, BEGIN)) == [0.0] * 20 + [0.25] * 65 + [1.0] * 280
    # begun on 1 July it has all of the first, over 29 February, and the tree from 21 January, 204 days on
    assert list(share_there([autumn, tree], plan, dt.date(2027, 7, 1))) == [0.0] * 69 + [0.75] * 135 + [1.0] * 161
    # set out on 22 March, under cover six weeks before: on 1 March it is too late to raise, not to buy plants
    plan = SimpleNamespace(placings=[SimpleNamespace(sowing=0, area=3.0)])
    row = {"start": 80, "way": "set out", "stands": False, "place_taken": (80, 179)}
    raised, plants = (SimpleNamespace(raised=days, **row) for days in (42, None))
    assert list(share_there([raised], plan, dt.date(2027, 3, 1))) == [1.0] * 21 + [0.0] * 100 + [1.0] * 244
    assert share_there([plants], plan, dt.date(2027, 3, 1)).min() == 1.0


def test_supports_and_vines():
    poles, led = (j for j in diary(sowing(garden={"support": "poles"})) if j.job in ("put up support", "tie in"))
    assert (led.date, led.note) == (dt.date(2027, 4, 19), "lead up, again each fortnight")  # the round near 25 April
    assert (poles.date, poles.amount, poles.unit, poles.note) == (dt.date(2027, 4, 11), 2.5, "m of poles", "poles")
    vine = diary(sowing(garden={"support": "runs", "reach": 3.0}))
    assert not [j for j in vine if j.job == "put up support"]
    assert vine[1].note == "20 plants; vines run 3 m: let them out over path or rough ground"


def test_compost_a_week_ahead_of_the_first_start_of_a_bed():
    garden = replace(BARE, compost=5.0)
    jobs = diary(sowing(start=200), sowing(start=100), garden=garden, placings=[placing(0), placing(1)])
    (spread,) = [j for j in jobs if j.job == "spread compost"]
    assert (spread.date, spread.bed, spread.part) == (dt.date(2027, 4, 4), "north", (0.0, 10.0))
    assert (spread.amount, spread.unit) == (60.0, "litres")
    assert ("2027-03-01", "the beds", 60.0, "litres of compost") in bought(jobs)  # three weeks before is 14 March


def test_mulch_in_its_months_or_where_the_dry_season_begins():
    straw = replace(BARE, mulch=Mulch("straw"))
    (laid,) = [j for j in diary(sowing(), garden=straw, mulched=120) if j.job == "mulch"]
    assert (laid.date, laid.note) == (dt.date(2027, 5, 1), "straw")
    assert (laid.amount, laid.unit) == (pytest.approx(600.0), "litres")  # 5 cm on 12 m2
    assert not [j for j in diary(sowing(), garden=straw) if j.job == "mulch"]
    winter = replace(BARE, mulch=replace(Mulch("straw"), months=(10, 11, 0, 1)))  # November to February
    laid, off = [j for j in diary(sowing(), garden=winter, mulched=120) if "mulch" in j.job]
    assert (laid.date, laid.job) == (dt.date(2027, 11, 1), "mulch")
    assert (off.date, off.job, off.bed, off.note) == (dt.date(2028, 3, 1), "take off mulch", "north", "straw")
    plastic = replace(BARE, mulch=Mulch("plastic"))
    (laid,) = [j for j in diary(sowing(), garden=plastic, mulched=120) if j.job == "mulch"]
    assert (laid.amount, laid.unit) == (12.0, "m2")


@pytest.mark.parametrize(
    ("begin", "months", "season", "spans", "dates"),
    [
        # where the soil dries out from 1 May: grown on 25 April; a fortnight after 11 May
        ("2027-01-01", (), None, [(100, 89)], ["2027-05-01"]), ("2027-01-01", (), None, [(130, 89)], ["2027-05-25"]),
        ("2027-01-01", (), None, [(100, 9)], ["2027-05-01"]),  # cleared before it dries out, and nothing follows
        ("2027-01-01", (), None, [(100, 9), (200, 89)], ["2027-08-03"]),  # what follows is sown on 20 July
        ("2027-01-01", (), None, [(130, 9), (200, 89)], ["2027-08-03"]),  # cleared before it has grown above it
        # begun while it is dry: a fortnight after 10 June, or the next time where it grows after the watering
        ("2027-06-01", (), (120, 272), [(160, 89)], ["2027-06-24"]),
        ("2027-06-01", (), (120, 272), [(260, 89)], ["2028-05-01"]),
        ("2027-06-01", (), (0, 364), [(160, 89)], ["2028-05-01"]),  # no end of the dry time is known
        ("2027-11-01", (), (120, 272), [(120, 89)], ["2028-05-15"]),
        ("2027-06-01", (), (120, 31), [(340, 89)], ["2027-12-21"]),  # over New Year
        # before its months: on the first of them; within them: a fortnight after 11 May, unless it is too late
        ("2027-01-01", range(3, 9), None, [(130, 89)], ["2027-04-01", "2027-10-01"]),
        ("2027-05-01", range(3, 9), None, [(130, 89)], ["2027-05-25", "2027-10-01"]),
        ("2027-05-01", range(3, 9), None, [(300, 89)], ["2028-04-01", "2028-10-01"]),
        ("2027-01-01", (9, 10, 11, 0, 1, 2), None, [(20, 89)], ["2027-02-04", "2027-04-01"]),  # a southern summer
        ("2027-01-01", (0, 1, 2, 9, 10, 11), None, [(20, 89)], ["2027-02-04", "2027-04-01"]),  # in any order
        ("2027-06-01", (0, 1, 2, 9, 10, 11), None, [(200, 89)], ["2027-10-01", "2028-04-01"]),
        ("2028-02-29", range(1, 9), None, [(100, 89)], ["2028-04-25", "2028-10-01"]),
    ],
)  # fmt: skip
def test_mulch_is_laid_once_what_stands_has_grown_above_it(begin, months, season, spans, dates):
    sown = [sowing(start=start, first=9, last=last) for start, last in spans]
    garden = replace(BARE, mulch=replace(Mulch("straw"), months=tuple(months)))
    jobs = diary(*sown, garden=garden, begin=dt.date.fromisoformat(begin), season=season, mulched=120)
    assert [d for d, job in told(jobs) if "mulch" in job] == dates


@pytest.mark.parametrize(
    ("bed", "bought", "done"),
    [
        (Bed("b", 5, 1, kind="raised", height=0.3), [(1500.0, "litres of soil and compost")],
         [(1500.0, "litres", "fill it, let it settle, and fill it up")]),
        (Bed("b", 5, 1, kind="raised"), [], []),
        (Bed("b", 5, 1, kind="card", height=0.1), [(6.0, "m2 of plain card, lapped"), (500.0, "litres of compost")],
         [(6.0, "m2", "lay wet card, its edges lapped; compost on it")]),
        (Bed("b", 5, 1, kind="compost", height=0.1), [(500.0, "litres of compost")],
         [(500.0, "litres", "lay the compost on the ground")]),
        (Bed("b", 5, 1), [], []),
    ],
)  # fmt: skip
def test_what_a_bed_of_its_kind_wants_once(bed, bought, done):
    """Bought at once, made four weeks before 11 April; a garden that begins within them makes it at once."""
    jobs = diary(sowing(), garden=replace(BARE, beds=(bed,)))
    found = [(j.amount, j.unit) for j in jobs if j.job == "buy" and j.bed == "b"]
    assert {u: a for a, u in found} == {u: pytest.approx(a) for a, u in bought}
    assert len(found) == len(bought)
    assert all(j.date == BEGIN for j in jobs if j.bed == "b" and j.job == "buy")
    made = [j for j in jobs if j.job == "prepare bed"]
    assert [(j.amount, j.unit, j.note) for j in made] == [(pytest.approx(a), u, n) for a, u, n in done]
    assert all(j.date == dt.date(2027, 3, 14) for j in made)
    late = diary(sowing(), garden=replace(BARE, beds=(bed,)), begin=dt.date(2027, 4, 1))
    assert all(j.date == dt.date(2027, 4, 1) for j in late if j.job == "prepare bed")


def test_paths_lie_along_and_across_the_beds():
    """Beds of 10 and 5 m, paths of half a metre: 15 m along them, 10 more, and twice 2.2 + 1.5 m across either end."""
    garden = replace(BARE, paths=Paths(width=0.5, depth=0.1))
    assert path_area(garden) == pytest.approx(0.5 * (15 + 10 + 2 * 3.7))
    assert path_litres(garden) == pytest.approx(100.0 * path_area(garden))
    (chips,) = [j for j in diary(garden=garden, placings=[]) if j.bed == "the paths"]
    assert (chips.date, chips.unit, chips.amount) == (BEGIN, "litres of wood chips", pytest.approx(path_litres(garden)))
    assert path_area(BARE) == path_area(replace(garden, beds=())) == 0.0


@pytest.mark.parametrize(
    ("season", "begin", "start", "dates"),
    [
        ((120, 272), "2027-01-01", 20, ["2027-05-01", "2027-09-30"]),  # sown before it, on 21 January
        ((300, 90), "2027-06-01", 20, ["2027-10-28", "2028-04-01"]),  # over New Year, as in the south
        ((120, 272), "2027-06-01", 160, ["2027-06-10", "2027-09-30"]),  # begun within it: from the first row sown
        ((300, 90), "2027-01-01", 20, ["2027-01-21", "2027-04-01"]),
        ((120, 272), "2027-06-01", 300, ["2028-05-01", "2028-09-30"]),  # nothing stands till it is over: the next one
        ((300, 90), "2027-01-01", 120, ["2027-10-28", "2028-04-01"]),
        ((120, 120), "2027-01-01", 20, ["2027-05-01", "2027-05-01"]),
        ((0, 364), "2027-01-01", 20, []),
        (None, "2027-01-01", 20, []),
    ],
)
@pytest.mark.parametrize("way", ["sown outdoors", "set out", "planted"])
def test_watering_begins_within_its_season_with_what_is_started(season, begin, start, dates, way):
    notes = ["clean the filter and flush the lines first", "open the ends of the lines where it freezes"]
    for method, more in (("drip", notes[: len(dates)]), ("can", [""] * len(dates))):
        garden = replace(BARE, water=replace(BARE.water, method=method))
        both = sowing(way, start=start), sowing(start=start + 5)
        jobs = diary(*both, garden=garden, season=season, begin=dt.date.fromisoformat(begin))
        assert [(j.date.isoformat(), j.note) for j in jobs if "watering" in j.job] == list(
            zip(dates, more, strict=True)
        )


def test_use_from_the_dates_of_the_diary():
    """Two and a half metres of 1.2 m, then two beside them, cleared before the third begins on that day."""
    jobs = diary(
        sowing(start=100, first=40, last=49), sowing(start=110, last=99), sowing(start=150),
        placings=[placing(0), placing(1, begin=4.5, end=6.5), placing(2)],
    )  # fmt: skip
    assert use_of_diary(BARE, jobs) == {"north": pytest.approx(4.5 * 1.2), "south": 0.0}
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
    assert [purchase_words(p) for p in shopping_list(jobs)] == [
        "carrot: 4 m of row of seed, by 2027-03-01",  # the second row's seed follows on 1 April
        "the beds: 85 litres of compost, by 2027-03-01",  # 5 litres a m2 of 12 and 5 m2, first on 4 April
        "the beds: 2.5 m of poles, by 2027-03-01",  # for 11 April
        "the beds: 850 litres of straw for mulch, by 2027-04-01",  # for 1 and 25 May
    ]


def work(what, crop="", much=None, unit="", note="", bed="b", part=(0, 1)):
    return Job(BEGIN, what, crop, bed, part, much, unit, note)


@pytest.mark.parametrize(
    ("job", "words"),
    [
        (work("buy", "carrot", 2.0, "m of row of seed"), "buy seed of carrot for 2 m of row"),
        (work("buy", "leek", 42.0, "cells of seed"), "buy seed of leek for 42 cells"),
        (work("buy", "potato", 9.0, "tubers"), "buy 9 tubers of potato"),
        (work("buy", "", 1500.0, "litres of soil and compost"), "buy 1,500 litres of soil and compost for b"),
        (work("have water brought", "", 3000.0, "litres"), "have 3,000 litres of water brought"),
        (work("prepare bed", "", 1500.0, "litres", "fill it"), "prepare b: 1,500 litres (fill it)"),
        (work("spread compost", "", 9.96, "litres"), "spread 9.96 litres of compost on b"),
        (work("sow under cover", "leek", 42.0, "cells", "2 trays of 40"),
         "sow under cover: leek, 42 cells (2 trays of 40), for b"),
        (work("put up support", "bean", 1.5, "m of poles", "poles"), "put up 1.5 m of poles for bean in b, 0 to 1 m"),
        (work("put up support", "tomato", 1.0, "stakes", "stakes"), "put up 1 stake for tomato in b, 0 to 1 m"),
        (work("sow outdoors", "beet", 2.0, "m of row", "9 plants", part=(0, 1.5)),
         "sow outdoors 2 m of row of beet in b, 0 to 1.5 m (9 plants)"),
        (work("set out", "leek", 35.0, "plants"), "set out 35 leek in b, 0 to 1 m"),
        (work("set out", "melon", 1.0, "plants", "hardened off"), "set out 1 melon in b, 0 to 1 m (hardened off)"),
        (work("plant", "potato", 9.0, "tubers"), "plant 9 tubers of potato in b, 0 to 1 m"),
        (work("mulch", "", 10.0, "m2", "plastic"), "lay 10 m2 of plastic on b"),
        (work("take off mulch", note="straw"), "take the straw off b"),
        (work("thin", "beet", note="to 10 cm"), "thin beet in b, 0 to 1 m (to 10 cm)"),
        (work("earth up", "leek", note="to half its height"), "earth up leek in b, 0 to 1 m (to half its height)"),
        (work("feed", "leek", 5.6, "litres"), "feed leek with 6 litres of compost in b, 0 to 1 m"),
        (work("feed", "leek", 0.3, "litres"), "feed leek with 1 litre of compost in b, 0 to 1 m"),
        (work("tie in", "bean", note="lead up, again"), "lead up bean, again in b, 0 to 1 m"),
        (work("look for pests", "leek", note="moth and rust: squash"), "look for moth and rust on leek in b, 0 to 1 m"),
        (work("first picking", "bean", 3.0, "kg"), "first picking: bean in b, 0 to 1 m, some 3 kg in all"),
        (work("last picking", "bean", note="5 Jul to 9 Jul"), "last picking: bean in b, 0 to 1 m (5 Jul to 9 Jul)"),
        (work("clear", "beet", part=None), "clear beet in b"),
        (work("begin watering", bed=""), "begin watering"),
        (work("stop watering", note="open the ends", bed=""), "stop watering (open the ends)"),
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


def test_a_week_tells_a_round_of_a_bed_and_what_is_bought_as_one():
    shoots, slugs = "tie in, side shoots out, again each fortnight", "slugs and snails: gather them"
    jobs = (
        work("buy", "carrot", 2.0, "m of row of seed"), work("buy", "potato", 9.0, "tubers"),
        work("have water brought", "", 3000.0, "litres"), work("have water brought", "", 3500.0, "litres"),
        work("take off mulch", note="straw", bed="a"), work("take off mulch", note="straw"),
        work("feed", "leek", 2.4, "litres"), work("feed", "kale", 3.2, "litres"), work("tie in", "tomato", note=shoots),
        work("look for pests", "lettuce", note=slugs, bed="a"), work("look for pests", "endive", note=slugs, bed="a"),
        work("last picking", "beet", note="1 Jan to 9 Jan in 8 years of 10"), work("clear", "beet", 1.0, "m of bed"),
    )  # fmt: skip
    ((_, said),) = weeks_of_diary(jobs)
    assert said == [
        "buy seed of carrot for 2 m of row, 9 tubers of potato", "have 2 loads of water brought, 6,500 litres",
        "take the straw off a, b",
        "b: feed leek, kale with 6 litres of compost; tie in tomato, side shoots out, again each fortnight",
        "a: look for slugs and snails on lettuce, endive",
        "last picking: beet in b, 0 to 1 m (1 Jan to 9 Jan), then clear it",
    ]  # fmt: skip
    assert months_of_diary(jobs) == [(BEGIN, ["feed leek, kale", "clear beet"])]


@pytest.mark.parametrize(("date", "week"), [("2027-01-07", 1), ("2027-01-08", 2), ("2027-12-31", 52)])
def test_weeks_of_a_job(date, week):
    job = Job(dt.date.fromisoformat(date), "clear", "beet", "b", (0.0, 1.256), 2.04, "m of bed", "x", 3)
    told = {"job": "clear", "crop": "beet", "bed": "b", "part_m": [0.0, 1.26], "amount": 2.0, "unit": "m of bed"}
    assert job.to_json() == {"week": week, "date": date} | told
    assert Job(BEGIN, "begin watering").to_json()["part_m"] is None


def test_what_keeps_is_told_in_the_order_of_the_handbook():
    words = keeping_words(Crop("x", garden=GardenRow(keeps="dried|frozen|nothing")))
    assert words == ["dried till brittle, in closed jars", "frozen (blanched first)"]
    assert keeping_words(Crop("x", garden=GardenRow())) == []


@pytest.mark.parametrize(
    ("kinds", "days"),
    [
        ("sweet corn|dry maize", [28, 86]), ("sweet pepper|chilli|aubergine", [79]), ("potato", [30]),
        ("courgette|cucumber|gherkin|winter squash|pumpkin|melon", [28]), ("celery|celeriac|brussels sprout", [21, 63]),
        ("cabbage|cauliflower|broccoli|romanesco|kale|collard|chinese cabbage", [21]), ("onion|leek", [42]),
        ("chard", [121]), ("tomato", [90, 114, 144]), ("carrot|pea|lettuce", []),
    ],
)  # fmt: skip
def test_hungry_crops_are_fed_after_their_start_or_about_their_first_picking(kinds, days):
    """Picked from the 100th day: maize a fortnight before it, peppers three weeks (sources beside the table)."""
    for kind in kinds.split("|"):
        made = sowing("set out", 100, 100, 200, name=kind)
        assert [day for day, job, _ in cares(made, 100, 200) if job == "feed"] == days, kind
        assert [c.litres for c in cares_of(made.crop, "set out", 100, 100, 200, fed=True, south=False) if c.litres] == [
            2.0
        ] * len(days)


@pytest.mark.parametrize(
    ("made", "days"),
    [
        (sowing("planted", first=120, last=150, name="leek"), {"earth up": [45, 75]}),
        (sowing("planted", first=75, last=150, name="leek"), {"earth up": [45]}),  # not on the day it is pulled
        (sowing("set out", first=120, last=150, garden={"support": "stakes"}), {"tie in": [21]}),
        (sowing("set out", first=120, last=150, garden={"support": "net"}), {"tie in": [14]}),
        (sowing("set out", first=120, last=35, garden={"support": "stakes"}), {"tie in": []}),
        (sowing("set out", first=120, last=36, garden={"support": "stakes"}), {"tie in": [21]}),
        (sowing("set out", first=50, last=150, name="pea"), {"look for pests": [0, 28]}),
        (sowing("set out", first=80, last=150, name="pea"), {"look for pests": [0, 40]}),
        (sowing(first=41, last=80, crop={"part": "leaf"}), {"thin": [20]}),
        (sowing(first=80, last=90, crop={"part": "bulb"}), {"thin": [21]}),
    ],
)  # fmt: skip
def test_days_on_which_a_crop_is_tended(made, days):
    """Common practice; looked over after 28 days, or half of the time to its first picking where that is later."""
    found = cares(made, 100, int(made.last[1]), way=made.way)
    assert {job: [d for d, what, _ in found if what == job] for job in days} == days


@pytest.mark.parametrize(("south", "turned"), [(False, 0), (True, 182)])
def test_moths_and_growth_rest_from_their_day_to_their_day(south, turned):
    """Moths from day 288 to 105, growth from 305 to 45, half a year later in the south: put off week by week."""

    def looked(start):
        made = sowing("set out", start, 56, 300, name="cabbage", crop={"part": "leaf", "family": "Brassicaceae"})
        found = cares(made, start, 300, south=south)
        return [next(d for d, job, _ in found if job == what and d) for what in ("look for pests", "feed")]

    def on(day):
        return (day + turned) % 365

    assert looked(on(287 - 28))[0] == 28  # the day before they go: looked for on it
    assert looked(on(288 - 28))[0] == 28 + 26 * 7  # 182 days are the rest itself, and it is over then
    assert looked(on(104 - 28))[0] == 35
    assert looked(on(105 - 28))[0] == 28
    assert looked(on(304 - 21))[1] == 21
    assert looked(on(305 - 21))[1] == 21 + 15 * 7  # 105 days
    assert looked(on(44 - 21))[1] == 28
    assert looked(on(45 - 21))[1] == 21


def test_parts_of_one_day_are_told_from_the_end_of_the_bed_on():
    parts = [placing(begin=4.5, end=6.5), placing(begin=2.0, end=4.5), placing(begin=0.0, end=2.0)]
    sown = [j.part[0] for j in diary(sowing(), placings=parts) if j.job == "sow outdoors"]
    assert sown == [0.0, 2.0, 4.5]


def test_what_never_stands_is_lacking_on_no_day():
    """A tenth of a m2 for the whole year of a garden begun on its first day: all there, and so where nothing is."""
    row = {"raised": None, "way": "planted", "stands": False}
    small = SimpleNamespace(start=10, place_taken=(10, 49), **row)
    plan = SimpleNamespace(placings=[SimpleNamespace(sowing=0, area=0.05)])
    assert share_there([small], plan, BEGIN).tolist() == [1.0] * 365
    assert share_there([], SimpleNamespace(placings=[]), BEGIN).tolist() == [1.0] * 365
    late = share_there([small], plan, dt.date(2027, 1, 12))  # its start is past: not before next January
    assert late.tolist() == [0.0] * 39 + [1.0] * 326
