"""What is told of a garden's plants, volumes and dangers, from made-up gardens (rules of thumb: common practice)."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from sowcal.crops.tables import Crop, Perennial
from sowcal.crops.tables import Garden as GardenRow
from sowcal.garden.bed_file import Mulch, Paths, Tree
from sowcal.garden.garden_file import Bed, Garden, Household, Pond, Pump, WaterSupply
from sowcal.garden.plants import PlantCount
from sowcal.garden.quantities import (
    bed_volumes,
    garden_cautions,
    hand_watering,
    kind_words,
    plant_lines,
    spare_words,
    tree_words,
    volume_words,
)

GARDEN = Garden("g", "s", (Bed("a", 10.0, 1.2), Bed("b", 5.0, 1.0)), household=Household(2), mulch=Mulch("none"))


def sowing(count=6, will_do=2, picked=12.0, surplus=0.5, best=1.0, start=100, stands=False, advised=True, **more):
    row = GardenRow(keeps=more.pop("keeps", ""), keeps_weeks=more.pop("weeks", float("nan")))
    perennial = more.pop("perennial", None)
    crop = Crop(more.pop("name", "courgette"), family="F", garden=row, perennial=perennial)
    made = {"crop": crop, "start": start, "way": "set out", "plants": PlantCount(count, will_do, picked, surplus, best),
            "stands": stands, "advised": advised, "reliability": 0.68, "word": "thrives"}  # fmt: skip
    return SimpleNamespace(**(made | more))


def lines(*sowings, placed=None, garden=GARDEN):
    placed = placed or [(k, s.plants.count, 1.0) for k, s in enumerate(sowings)]
    plan = SimpleNamespace(placings=[SimpleNamespace(sowing=k, count=n, area=a) for k, n, a in placed])
    return plant_lines(list(sowings), plan, garden)


def test_six_plants_where_two_will_do_in_words():
    (told,) = lines(sowing())
    assert told.words == ("6 plants of courgette are 3 times what two people eat; 1 to 2 will do",)
    (told,) = lines(sowing(count=5, keeps="frozen|dried"))
    assert told.words == (
        "5 plants of courgette are 2.5 times what two people eat; 1 to 2 will do; the rest can be frozen, dried",
    )
    (told,) = lines(sowing(count=40, will_do=10, keeps="in the ground"))
    assert told.words == ("40 plants of courgette are 4 times what two people eat; 10 will do",)
    assert lines(sowing(count=3, will_do=1))[0].words[0].endswith("; 1 will do")
    assert lines(sowing(count=9, will_do=3))[0].words[0].endswith("; 1 to 3 will do")
    assert lines(sowing(count=9, will_do=4))[0].words[0].endswith("; 4 will do")
    assert lines(sowing(count=5, will_do=4))[0].words == ()  # a quarter more is no glut
    assert lines(sowing(count=2))[0].words == ()
    assert lines(sowing(will_do=0))[0].words == ("6 courgette: nobody here eats it",)


@pytest.mark.parametrize(("people", "eat"), [(1, "one person eats"), (3, "three people eat"), (4, "four people eat"),
                                             (5, "5 people eat"), (2.5, "2.5 people eat")])  # fmt: skip
def test_who_eats(people, eat):
    assert eat in lines(sowing(), garden=replace(GARDEN, household=Household(people)))[0].words[0]


def test_parts_that_have_their_place_count_and_first_starts_come_first():
    """Three of six plants placed bring half; two starts of a crop are one line."""
    early, late = (
        sowing(count=6, picked=12.0, surplus=0.5, start=50),
        sowing(count=4, picked=8.0, surplus=0.0, start=150),
    )
    other = sowing(name="bean", start=20)
    first, both = lines(late, early, other, placed=[(0, 4, 3.0), (1, 3, 2.0), (2, 6, 1.0)])
    assert (first.crop, both.crop) == ("bean", "courgette")
    assert (both.count, both.will_do, both.picked, both.area) == (7, 4, 14.0, 5.0)
    assert both.surplus_share == pytest.approx(3.0 / 14.0)
    assert both.starts == (50, 150)
    assert both.ways == ("set out", "set out")
    assert lines(sowing(picked=0.0))[0].surplus_share == 0.0


def test_a_glut_and_a_life_in_words():
    (told,) = lines(sowing(count=2, best=50.0, weeks=3.0))
    assert told.words == ("comes all at once (50 weeks' food in the best week), keeps 3 weeks",)
    assert lines(sowing(count=2, best=float("inf")))[0].words == ()
    (told,) = lines(sowing(count=2, advised=False))
    assert told.words == ("not an advised date: works in 6 years in 10",)
    lives = Perennial(years_to_crop=2.0, years_of_life=15.0)
    (told,) = lines(sowing(count=2, stands=True, perennial=lives, advised=False))
    assert told.words == ("stands for years (thrives here), bears from year 3 on, lives some 15 years",)
    (told,) = lines(sowing(count=2, stands=True, perennial=Perennial(years_to_crop=1.0)))
    assert told.words == ("stands for years (thrives here), bears from year 2 on",)
    quick = Perennial(years_to_crop=0.8)
    assert lines(sowing(count=2, stands=True, perennial=quick))[0].words == ("stands for years (thrives here)",)


def test_volumes_by_hand():
    """17 m2: five litres of compost each and straw; a raised bed of 12 m2 and 0.2 m; card of 5 m2 and a fifth more."""
    beds = (Bed("a", 10.0, 1.2, kind="raised", height=0.2), Bed("b", 5.0, 1.0, kind="card", height=0.1))
    garden = replace(GARDEN, beds=beds, compost=5.0, mulch=Mulch("straw"), paths=Paths(width=0.0))
    v = bed_volumes(garden)
    assert (v.compost, v.fill, v.card) == pytest.approx((85.0, 2400.0 + 500.0, 6.0))
    assert v.mulch == v.straw == pytest.approx(Mulch("straw").litres(12.0) + Mulch("straw").litres(5.0))
    own = replace(garden, beds=(replace(beds[0], mulch=Mulch("none")), beds[1]))
    assert bed_volumes(own).straw == pytest.approx(Mulch("straw").litres(5.0))
    words = volume_words(garden)
    assert words[1].startswith("Filling the beds takes 2,900 litres once, 36 barrow loads")
    assert len(words) == 2
    assert "small bales" in words[0]
    bare = replace(GARDEN, paths=Paths(width=0.5, depth=0.1))
    assert "small bales" not in volume_words(bare)[0]
    # paths of half a metre along 15 m of beds and 10 more, and twice 3.7 m across: 16.2 m2, 1,620 litres
    assert volume_words(bare)[1].startswith(
        "The paths are 16 m2 where the beds lie in one row: 1,620 litres of wood chips, 20 barrow loads"
    )


def test_kinds_soils_trees_and_spare_land_in_words():
    beds = (
        Bed("a", 4.0, 1.0, kind="raised", height=0.3),
        Bed("b", 5.0, 1.0, texture="clay"),
        Bed("c", 5.0, 1.0, kind="card"),
    )
    raised, card, clay = kind_words(replace(GARDEN, beds=beds))
    assert raised.startswith("Raised, a: 105% to 127% of a flat bed's water")
    assert card.startswith("On card, c: 95% to 100% of a flat bed's water")
    assert clay == "Of clay: b."
    assert kind_words(GARDEN) == []
    (cooled,) = kind_words(replace(GARDEN, mulch=Mulch("straw")))
    assert "keeps it cooler (0 to 1.5 degC at 10 cm in the weeks after planting" in cooled
    assert kind_words(replace(GARDEN, mulch=Mulch("plastic"))) == []
    tree = Tree("ash", 8.0, 6.0, "west", (("a", 3.0), ("b", 30.0)), evergreen=False)
    shaded = (replace(GARDEN.beds[0], month_shade=(0.1,) * 11 + (0.4,)), GARDEN.beds[1])
    near, far = tree_words(replace(GARDEN, trees=(tree,), beds=shaded))
    assert near.startswith(
        "ash, 3 m from the middle of a: with it 10% to 40% of the light go; its roots come into the bed"
    )
    assert far == "ash, 30 m from the middle of b: with it 0% to 0% of the light go."


@pytest.mark.parametrize(("used", "told"), [(8.0, True), (8.1, False), (0.0, True)])
def test_land_to_spare_is_a_fifth_of_it(used, told):
    daily = np.zeros((2, 365))
    if used:
        daily[0, 100], daily[1, 100], daily[0, 200] = used - 1.0, 1.0, 0.5
    words = spare_words(SimpleNamespace(there=10.0, daily=daily, placings=(1,)))
    assert bool(words) == told
    if told:
        assert words[0].startswith(f"On the fullest day {used:.0f} of 10 m2 are in use; {10 - used:.0f} m2 are spare")
    assert spare_words(SimpleNamespace(there=10.0, daily=daily, placings=())) == []


@pytest.mark.parametrize(("litres", "stops"), [(120.0, None), (120.1, 1)])
def test_half_an_hour_of_cans_is_reasonable(litres, stops):
    """Twelve cans of ten litres at two and a half minutes."""
    found = hand_watering(np.array([litres, 0.0]), 20.0)
    assert found.can[0] == pytest.approx(litres / 4.0)
    assert found.hose[0] == pytest.approx(litres / 20.0)
    assert (found.can_stops, found.hose_stops) == (stops, None)


def cautions(water=None, daily=0.0, gravity=None, **more):
    usual = {"water": water or WaterSupply(), "paths": Paths(width=0.0), "compost": 0.0}
    return garden_cautions(replace(GARDEN, **(usual | more)), gravity, ["a", "b", "a"], daily=daily)


def has(words, part):
    return any(part in w for w in words)


def test_cautions_stand_where_they_belong():
    plain = cautions()
    unsaid = ("full tank", "fires run", "heat stroke", "Roofs shed", "fence", "residual-current", "untreated surface")
    for part in (*unsaid, "abstraction", "dS/m", "Gravity will not", "weedkiller"):
        assert not has(plain, part), part
    assert has(plain, "licensed person does what holds pressure")
    assert has(plain, "lead and arsenic")
    assert plain[-2:] == ["a", "b"]
    assert not has(cautions(beds=()), "lead and arsenic")
    assert has(cautions(daily=0.1), "heat stroke")
    tanks = cautions(WaterSupply(tanks=(1000.0, 5000.0)))
    assert has(tanks, "A full tank of 5,000 litres weighs about 5 t")
    assert has(tanks, "2 of them in a row are 6 t on one terrace")
    assert has(tanks, "keep the last thousand litres, and lay no dry straw")
    assert not has(cautions(WaterSupply(tanks=(1000.0,))), "in a row")
    assert has(tanks, "untreated surface")
    assert has(cautions(WaterSupply(roof=1.0)), "Roofs shed")
    pond = cautions(WaterSupply(pond=Pond(10.0)))
    assert all(has(pond, p) for p in ("fence", "residual-current", "untreated surface", "abstraction"))
    pump = cautions(WaterSupply(pump=Pump(100.0, 10.0, 5.0)))
    assert has(pump, "residual-current")
    assert not has(pump, "fence")
    spring = cautions(WaterSupply(refill=1.0))
    assert has(spring, "untreated surface")
    assert has(spring, "abstraction")
    assert has(cautions(mulch=Mulch("straw")), "Where fires run in summer lay no dry straw")
    assert has(cautions(paths=Paths(width=0.5)), "lay no dry straw")
    assert not has(cautions(mulch=Mulch("plastic")), "fires run")
    assert has(cautions(compost=1.0), "weedkiller")
    assert has(cautions(mulch=Mulch("compost")), "weedkiller")


@pytest.mark.parametrize(
    ("salinity", "told"),
    [(0.7, ""), (0.8, "lowers the yield of beans"), (3.0, "lowers"), (3.1, "harms most vegetables")],
)
def test_salty_water(salinity, told):
    """Ayers & Westcot 1985, FAO-29 Table 1 (from memory): no restriction to 0.7 dS/m, severe above 3."""
    words = [w for w in cautions(WaterSupply(salinity=salinity)) if "dS/m" in w]
    assert len(words) == bool(told)
    assert not told or told in words[0]


def test_gravity_that_does_not_work_is_a_caution_where_there_are_beds():
    weak, fine = (SimpleNamespace(works=w, why="uphill") for w in (False, True))
    assert has(cautions(gravity=weak), "Gravity will not feed the drip lines: uphill.")
    assert not has(cautions(gravity=fine), "Gravity will not")
    assert not has(cautions(gravity=weak, beds=()), "Gravity will not")


def test_the_first_week_over_the_limit_is_counted_from_the_year_s_beginning():
    """From week 21 on the 31st comes before the first three of the next calendar year."""
    daily = np.zeros(52)
    daily[[0, 1, 2, 30]] = 400.0
    assert hand_watering(daily, 20.0, first=20).can_stops == 31
    assert hand_watering(daily, 20.0, first=40).can_stops == 1
