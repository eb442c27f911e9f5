"""The whole plan: the invented garden, made-up weather that can be reckoned by hand, a real record."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import numpy as np
import pytest

from sowcal.climate.sun import extraterrestrial_radiation
from sowcal.commands.parser import parse
from sowcal.commands.questions import garden_command as run
from sowcal.crops.handbook import handbook
from sowcal.errors import InputError, NotJudgedError
from sowcal.garden.bed_ground import evaporation_left
from sowcal.garden.diary import TENDING
from sowcal.garden.garden_file import Bed, Garden, Household, Mulch, Pond, WaterSupply, bundled_garden
from sowcal.garden.garden_weather import GardenWeather, garden_weather
from sowcal.garden.plan import _store_notes, plan_garden
from sowcal.garden.rain_fed import start_day_water
from sowcal.garden.water_need import GardenNeed, efficiency, garden_need, leaching_share
from sowcal.outputs.figure_garden import garden_figures
from sowcal.outputs.garden_document import garden_table_text, garden_text
from sowcal.outputs.shed_sheets import shed_figures
from sowcal.outputs.tables import GARDEN_TABLES, csv_text, garden_tables
from sowcal.seasons.site_days import SiteDays
from sowcal.weather.open_site import open_weather
from sowcal.weather.record import daily_record

NEW = ["diary", "watering", "loads", "use"]


@pytest.fixture(scope="module")
def sallowdene():
    return open_weather("sallowdene")


@pytest.fixture(scope="module")
def plan(sallowdene):
    site, record = sallowdene
    return plan_garden(bundled_garden(), site.name, record)


def _steady(days, reference=6.0, rain=0.0):
    """Made-up weather, the same every day."""
    year, day = np.repeat(2000 + np.arange(days // 365), 365), np.tile(np.arange(365), days // 365)
    return GardenWeather(
        reference=np.full(days, reference),
        rain=np.full(days, rain),
        wind=np.full(days, 2.0),
        humidity=np.full(days, 45.0),
        year=year,
        day_of_year=day,
        known=np.ones(days, dtype=bool),
        method="made up",
        notes=(),
    )


def _one_sowing(plan, crop):
    """The sowing of a crop, moved onto made-up years of 365 days."""
    found = next(s for s in plan.sowings if s.crop.name == crop)
    return replace(
        found,
        start=100,
        index=100 + 365 * np.arange(3),
        first=np.full(3, 80.0),
        last=np.full(3, 139.0),
        rain_fed=False,
    )


def test_a_tomato_bed_in_steady_weather_by_hand(plan):
    # 140 days at 6 mm. Basal curve of FAO-56 Tables 11 and 12 (30/40/45/30 of 145 days, 0.15, 1.10, 0.70) has the
    # mean (30 x .15 + 40 x .625 + 45 x 1.10 + 30 x .90) / 145 = 0.731, so 140 x 6 x 0.731 = 614 mm of
    # transpiration; under plastic over all the soil the evaporation adds at most a fifth of what bare soil would
    garden = Garden("g", "s", (Bed("b", 10, 1),), soil_depth=0.6, mulch=Mulch("plastic", 1.0))
    rows = [_one_sowing(plan, "tomato (large)")]
    need = garden_need(_steady(1095), rows, [(0, 0, 10.0)], garden)
    net = need.by_sowing[0].irrigation * efficiency(garden)
    assert net == pytest.approx(np.full(3, 614.0), rel=0.06)
    # mm over 10 m2 are tens of litres, and all of it is found again in the weeks
    assert need.weekly.sum(axis=1) == pytest.approx(10.0 * need.by_sowing[0].irrigation)
    assert need.daily.sum() == pytest.approx(need.weekly.sum())


def test_rain_that_covers_the_need_leaves_nothing_to_water(plan):
    rows = [_one_sowing(plan, "tomato (large)")]
    garden = Garden("g", "s", (Bed("b", 10, 1),))
    assert garden_need(_steady(1095, 4.0, 7.0), rows, [(0, 0, 10.0)], garden).daily.sum() == 0.0
    # rain below a fifth of the reference is not counted (FAO-56 chapter 8)
    dry, drizzle = (garden_need(_steady(1095, 6.0, r), rows, [(0, 0, 10.0)], garden).daily.sum() for r in (0.0, 1.1))
    assert dry == drizzle > 0.0


def test_the_last_week_of_the_year_has_eight_days():
    # 10 litres a day all year and 11 in the 20th week: that one is the thirstiest, not the week with a day more
    weekly = np.full((3, 52), 70.0)
    weekly[:, -1], weekly[:, 19] = 80.0, 77.0
    need = GardenNeed(
        np.full(1095, 10.0), {}, weekly, np.zeros((0, 52)), np.array([2000, 2001, 2002]), np.zeros((0, 3, 12))
    )
    assert need.week_by_day(0.5)[[0, 19, 51]] == pytest.approx([10.0, 11.0, 10.0])
    assert need.thirstiest_week == 19
    assert need.by_day(0.5).sum() == pytest.approx(51 * 70.0 + 80.0 + 7.0)


def test_hours_of_sunshine_make_the_light(sallowdene):
    # FAO-56 eq. 35: without a ray of sun a quarter of the light above the air, under a clear sky three quarters
    _, record = sallowdene
    short = record.cut(slice(0, 800))
    n = short.size
    values = {v: short[v] for v in ("tasmin", "tasmax", "pr")} | {"hurs": np.full(n, 55.0), "sfcWind": np.full(n, 2.0)}

    def july(**more):
        made = daily_record(short.time, values | more, latitude=38.4, elevation=210.0)
        return garden_weather(made).reference[180:210].mean()

    dull, bright = july(sunshine=np.zeros(n)), july(sunshine=np.full(n, 15.0))
    assert dull < july() < bright
    top = np.asarray(extraterrestrial_radiation(38.4, np.arange(n) % 365 + 1))
    assert bright == pytest.approx(july(rsds=0.75 * top), rel=0.005)  # record of two years: 29 February is a day apart
    assert dull == pytest.approx(july(rsds=0.25 * top), rel=0.005)


def test_mulch_shade_and_drip_save_water(plan):
    rows = [_one_sowing(plan, "lettuce (leaf)")]
    bare = Garden("g", "s", (Bed("b", 10, 1),))

    def drawn(garden, **more):
        return garden_need(_steady(1095), rows, [(0, 0, 10.0)], garden, **more).daily.sum()

    assert drawn(replace(bare, mulch=Mulch("straw"))) < drawn(bare)
    assert drawn(bare, cloth=0.3) == pytest.approx(drawn(bare) * (1 - 0.7 * 0.3), rel=0.06)
    assert drawn(bare) < drawn(replace(bare, water=WaterSupply(method="hand")))
    assert evaporation_left(Mulch("straw", 0.5)) == pytest.approx((0.75,) * 12)  # 5 per cent for each 10 of cover


def test_salt_is_washed_down():
    # Ayers & Westcot: ECw / (5 ECe - ECw), ECe 2: 1.5 / 8.5
    assert leaching_share(1.5) == pytest.approx(1.5 / 8.5)
    assert leaching_share(0.0) == 0.0
    assert leaching_share(9.9) == 0.5
    salty = Garden("g", "s", (), water=WaterSupply(salinity=3.0))
    assert efficiency(salty) < efficiency(Garden("g", "s", ())) == pytest.approx(0.9)


def test_high_summer_draws_what_growers_know(plan):
    # common practice: 5 to 8 litres per square metre and day in high summer where the air is dry
    july = plan.need.weekly[:, 26:30].sum(axis=1) / 28.0 / plan.beds.used[:, 6].sum()
    assert 5.0 <= np.median(july) <= 8.0


def test_one_or_two_courgettes_feed_two_people(plan):
    # common practice; the garden file has six in mind
    line = next(p for p in plan.plants if p.crop == "courgette")
    assert line.count == 6
    assert line.will_do in (1, 2)
    assert line.surplus_share > 0.4
    least = "1" if line.will_do == 1 else "1 to 2"
    assert f"; {least} will do" in line.words[0]


def test_the_store_lasts_what_a_division_says(plan):
    # 5000 litres against what the beds draw in July less the spring of 150 litres a day, rain apart
    july = plan.need.weekly[:, 26:29].sum(axis=1) / 21.0
    assert plan.store.month_name == "July"
    assert plan.store.lasts == pytest.approx(5000.0 / (np.median(july) - 150.0), abs=3.0)


def test_json_has_the_keys_promised_and_conserves_water(plan):
    answer = json.loads(json.dumps(plan.to_json(), allow_nan=False))
    assert list(answer) == ["plants", "beds", "water", "store", "gravity", *NEW, "cautions", "record", "made_by"]
    assert set(answer["plants"][0]) == {"crop", "count", "surplus_share"}
    assert set(answer["water"]) == {"weekly_litres", "dry_year_weekly_litres"}
    assert set(answer["store"]) == {"capacity_litres", "years", "chance_dry", "size_for_9_in_10"}
    assert set(answer["gravity"]) == {"static_head_m", "pressure_kpa", "works", "why"}
    assert len(answer["beds"]) == 8
    assert len(answer["water"]["weekly_litres"]) == 52
    assert len(answer["store"]["years"]) == 30
    for year in answer["store"]["years"]:
        assert set(year) == {"year", "inflow", "outflow", "change", "days_dry"}
        assert year["inflow"] - year["outflow"] == pytest.approx(year["change"], abs=1e-8)
    for median, dry in zip(*answer["water"].values(), strict=True):
        assert 0.0 <= median <= dry


def test_the_size_named_does_last_nine_years_in_ten(plan, sallowdene):
    site, record = sallowdene
    garden = bundled_garden()
    size = plan.store.size_for_9_in_10
    assert size is not None

    def chance(litres):
        changed = replace(garden, water=replace(garden.water, tanks=(litres,)))
        return plan_garden(changed, site.name, record).store.chance_dry

    assert chance(size) <= 0.1 + 1e-9
    assert chance(0.97 * size) > 0.1


def test_cautions_stand_beside_the_results(plan):
    said = " ".join(plan.cautions).lower()
    for word in ("slope", "second-hand", "mosquito", "child", "abstraction", "licensed", "untreated", "raw"):
        assert word in said


@pytest.mark.parametrize(
    "change",
    [
        {"beds": ()},
        {"beds": (Bed("only", 3, 1),)},
        {"beds": tuple(Bed(f"b{k}", 4, 1.2) for k in range(100))},
        {"household": Household(0)},
        {"crops": ("rhubarb", "carrot"), "counts": {}},
        {"water": WaterSupply()},
        {"water": WaterSupply(tanks=(9000.0,), method="hand", pond=Pond(10.0))},
        {"crops": (), "counts": {}},
    ],
)
def test_every_kind_of_garden_has_an_answer(sallowdene, change):
    site, record = sallowdene
    short = record.cut(slice(0, 5 * 365))
    found = plan_garden(replace(bundled_garden(), **change), site.name, short)
    json.dumps(found.to_json(), allow_nan=False)
    assert (found.beds.used <= np.array([b.area for b in found.garden.beds])[:, None] + 1e-6).all()
    for width in (60, 100):
        for everything in (False, True):
            lines = garden_text(found, width=width, unicode=False, everything=everything).splitlines()
            assert max(map(len, lines)) <= width
    assert len(garden_figures(found)) == 1
    assert bool(shed_figures(found)) == bool(found.garden.beds)
    for table in GARDEN_TABLES:
        rows = list(csv.reader(io.StringIO(csv_text(*garden_tables(found, [table])))))
        assert {len(row) for row in rows} == {len(rows[0])}
        assert garden_table_text(found, table)


def test_nothing_to_water_and_nothing_to_feed_are_said_plainly(sallowdene):
    site, record = sallowdene
    short = record.cut(slice(0, 5 * 365))
    garden = bundled_garden()
    empty = garden_text(plan_garden(replace(garden, beds=()), site.name, short), width=100, everything=True)
    assert "Nothing needs watering." in empty
    assert "There are no beds; this would grow here" in empty
    assert "there are no beds." not in empty
    no_tank = garden_text(
        plan_garden(replace(garden, water=WaterSupply()), site.name, short), width=100, everything=True
    )
    assert "There is no store" in no_tank
    assert "tank outlet" not in no_tank


def test_no_rain_in_the_record_is_told_not_guessed(sallowdene):
    site, record = sallowdene
    dry = record.cut(slice(0, 4 * 365))
    dry = dry.with_values({"pr": dry["pr"] * np.nan})
    found = plan_garden(bundled_garden(), site.name, dry)
    assert any("no rain" in n for n in found.notes)


def test_a_short_record_and_an_unknown_crop_are_refused(sallowdene):
    site, record = sallowdene
    with pytest.raises(NotJudgedError, match="three whole years"):
        plan_garden(bundled_garden(), site.name, record.cut(slice(0, 700)))
    with pytest.raises(InputError, match="courgette"):
        plan_garden(replace(bundled_garden(), crops=("courgete",)), site.name, record)


def test_the_same_garden_half_a_year_later_in_the_south(sallowdene):
    """The northern record moved on by half a year, latitude turned: the thirst moves with it."""
    _, record = sallowdene
    time = record.time + np.timedelta64(184, "D")
    values = {v: record[v] for v in ("tasmin", "tasmax", "pr")}
    south = daily_record(time, values, latitude=-38.4, longitude=-15.1, elevation=210)
    found = plan_garden(bundled_garden(), "south", south)
    assert found.store.month_name in ("December", "January")
    north = plan_garden(bundled_garden(), "north", record)
    assert found.need.year(0.5) == pytest.approx(north.need.year(0.5), rel=0.15)
    # trials begin their years where the store does: the garden as it is has the dry days of its own store
    for plan in (north, found):
        dry = [year.days_dry for year in plan.store.years]
        assert plan.choices[0].days_dry == np.median(dry)
    # what is hungry is fed in summer, and nothing in the dark of the year
    for plan, summer, winter in ((north, {6, 7}, {12, 1}), (found, {12, 1}, {6, 7})):
        fed = {job.date.month for job in plan.diary if job.job == "feed"}
        assert summer <= fed
        assert not winter & fed


@pytest.mark.parametrize(("latitude", "when"), [(38.0, "1 January"), (-38.0, "1 July")])
def test_a_store_without_roof_or_refill_is_filled_at_the_turn_of_its_winter(latitude, when):
    garden = replace(bundled_garden(), water=WaterSupply(tanks=(1000.0,)))
    assert [f"filled once a year, on {when}" in note for note in _store_notes(garden, latitude)] == [True]
    assert _store_notes(replace(garden, water=WaterSupply(tanks=(1000.0,), refill=5.0)), latitude) == []


def test_penman_monteith_where_its_inputs_are(sallowdene):
    _, record = sallowdene
    short = record.cut(slice(0, 800))
    n = short.size
    values = {v: short[v] for v in ("tasmin", "tasmax", "pr")}
    values |= {"hurs": np.full(n, 45.0), "sfcWind": np.where(np.arange(n) % 10, 3.0, np.nan)}
    full = daily_record(short.time, values, latitude=38.4, elevation=210.0)
    found = garden_weather(full)
    assert found.method == "Penman-Monteith"
    assert "10% of days" in found.notes[0]
    assert np.isfinite(found.reference).all()
    plain = garden_weather(short)
    assert plain.method == "Hargreaves-Samani"
    assert (found.reference[:10] != plain.reference[:10]).sum() == 9  # the day without wind falls back


def test_water_by_start_day_is_least_for_a_start_before_the_rains(sallowdene):
    _, record = sallowdene
    site, weather = SiteDays.from_record(record), garden_weather(record)
    crop = handbook()["potato (early)"]
    found = start_day_water(site, weather, crop, crop.ways[0])
    assert found.median.shape == (365,)
    assert (found.median <= found.dry_year + 1e-9).all()
    # planted at the end of summer it grows into the rains, planted in late spring it grows into the drought
    assert found.median[245] < 0.4 * found.median[110]


@pytest.fixture
def each_plan_once(monkeypatch):
    """Where the forms of one answer are looked at, it need not be worked out for each of them."""
    made = {}

    def once(garden, name, record, **asked):
        key = repr((garden, name, record.fingerprint, asked))
        if key not in made:
            made[key] = plan_garden(garden, name, record, **asked)
        return made[key]

    monkeypatch.setattr("sowcal.garden.plan.plan_garden", once)


@pytest.mark.usefixtures("each_plan_once")
def test_command_prints_the_story_and_the_json(capsys, tmp_path):
    assert run(parse(["garden", "--width", "80", "--ascii"])) == 0
    page = capsys.readouterr().out
    assert "6 plants of courgette are 6 times what two people eat" in page
    assert "days from 1 July" in page
    assert run(parse(["garden", "Sallowdene", "--json"])) == 0
    assert json.loads(capsys.readouterr().out)["store"]["capacity_litres"] == 5000.0
    assert run(parse(["garden", "--out", str(tmp_path / "g.png")])) == 0
    assert (tmp_path / "g.png").stat().st_size > 10_000
    capsys.readouterr()
    assert run(parse(["garden", "--width", "100", "--issued", "2026-02-20"])) == 0
    short = capsys.readouterr().out
    assert len(short.splitlines()) <= 40
    assert "In the thirstiest week" in short.split("PLANTS")[0]
    issued = ["--issued", "2026-02-20"]
    for name, table in (
        ("d.csv", None),
        ("w.csv", "watering"),
        ("l.csv", "loads"),
        ("p.csv", "plants"),
        ("p.ics", None),
    ):
        words = ["garden", "--out", str(tmp_path / name), *issued, *(["--table", table] if table else [])]
        assert run(parse(words)) == 0
    diary = list(csv.DictReader((tmp_path / "d.csv").open(encoding="utf-8")))
    assert diary[0]["date"] >= "2026-02-20"
    assert {row["job"] for row in diary} >= {"buy", "sow under cover", "set out", "first picking", "clear"}
    days = (tmp_path / "p.ics").read_text(encoding="utf-8")
    rounds = {(r["date"], "round", r["bed"]) for r in diary if r["job"] in TENDING}
    bought = {(r["date"], "buy", "") for r in diary if r["job"] == "buy"}
    others = {(r["date"], r["job"], r["crop"]) for r in diary if r["job"] not in ("buy", *TENDING)}
    assert days.count("BEGIN:VEVENT") == len(rounds | bought | others)
    assert run(parse(["garden", "--table", "watering", *issued])) == 0
    assert "all beds" in capsys.readouterr().out
    for words in (["--json"], ["--out", "plan.pdf"], ["--out", "plan.json"], ["--out", "plan.ics"]):
        with pytest.raises(InputError, match="is one table for the screen or for"):
            run(parse(["garden", "--table", "loads", *words]))
    with pytest.raises(InputError, match="is no garden"):
        run(parse(["garden", "elsewhere"]))
    with pytest.raises(InputError, match="one garden at a time"):
        run(parse(["garden", "sallowdene", "sallowdene"]))


@pytest.mark.parametrize("station", ["cordoba_es", "seville"])
def test_a_real_record_shows_how_long_the_tank_lasts_in_july(reference_folder, station, tmp_path):
    """About 100 m2 of bed and 5 m3 of tank on a station's record from the reference folder."""
    table = reference_folder / "weather" / f"{station}.csv"
    site_file = tmp_path / "site.toml"
    site_file.write_text(
        f'name = "record"\nlatitude = 37.6\n[weather]\nsource = "file"\nfile = "{table}"\ntemperature_unit = "degC"\n',
        encoding="utf-8",
    )
    site, record = open_weather(str(site_file))
    garden = bundled_garden()
    found = plan_garden(replace(garden, water=replace(garden.water, roof=0.0, refill=0.0)), site.name, record)
    assert found.store.month_name in ("June", "July")
    assert found.store.lasts == pytest.approx(5000.0 * 7.0 / found.need.week(0.5).max(), rel=0.25)
    assert found.store.lasts is not None
    assert 7 <= found.store.lasts <= 25
    assert found.store.chance_dry == 1.0
