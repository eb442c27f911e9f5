"""Crops on rain alone: the printed equation and factors, hand calculations, real Mediterranean winters."""

from __future__ import annotations

from dataclasses import dataclass, replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sowcal.answers import sowing_chart
from sowcal.climate.rain import rains_by_year
from sowcal.crops.handbook import handbook
from sowcal.errors import InputError, NotJudgedError
from sowcal.garden import rain_fed
from sowcal.garden.bed_file import Bed
from sowcal.garden.garden_file import Garden, Start
from sowcal.garden.garden_weather import GardenWeather, garden_weather
from sowcal.garden.plan import plan_garden
from sowcal.garden.rain_fed import (
    StartDayWater,
    fallow_soil,
    on_rain_alone,
    rain_fed_seasons,
    start_day_water,
    within_stored_water,
    yield_left,
)
from sowcal.garden.soil_water import TEXTURES, Season, Watering, root_zone_balance
from sowcal.outputs.chart_document import chart_document
from sowcal.outputs.document import screen_text
from sowcal.outputs.wording import opening_rains_by_year, opening_rains_words
from sowcal.seasons.season import HAZARDS
from sowcal.seasons.site_days import SiteDays
from sowcal.settings import Settings
from sowcal.weather.open_site import open_weather
from sowcal.weather.record import daily_record

LOAM = TEXTURES["loam"]  # 130 mm a metre between field capacity 0.25 and wilting point 0.12


def _weather(rain, reference=4.0):
    rain = np.asarray(rain, dtype=float)
    days = rain.size
    return GardenWeather(
        reference=np.full(days, reference),
        rain=rain,
        wind=np.full(days, 2.0),
        humidity=np.full(days, 45.0),
        year=2001 + np.arange(days) // 365,
        day_of_year=np.arange(days) % 365,
        known=np.ones(days, dtype=bool),
        method="made up",
        notes=(),
    )


def test_yield_response_as_printed():
    # FAO-56 eq. 90 (p. 176): 1 - Ya/Ym = Ky (1 - ETa/ETm). With Ky 1.1 a fifth less water is 22 per cent less crop.
    assert yield_left(0.8, 1.1) == pytest.approx(0.78)
    assert yield_left(1.0, 1.25) == 1.0
    assert yield_left(0.1, 1.25) == 0.0


@pytest.mark.parametrize(
    ("crop", "factor"),
    # FAO-56 Table 24 (p. 181), seasonal factors of FAO Irrigation and Drainage Paper 33
    [
        ("french bean (bush)", 1.15),
        ("cabbage (winter)", 0.95),
        ("vine", 0.85),
        ("sweet corn", 1.25),
        ("onion (short-day)", 1.1),
        ("pea (shelling)", 1.15),
        ("sweet pepper (blocky)", 1.1),
        ("potato (early)", 1.1),
        ("soybean", 0.85),
        ("sunflower", 0.95),
        ("tomato (large)", 1.05),
        ("watermelon", 1.1),
    ],
)
def test_factors_of_the_printed_table(crop, factor):
    assert handbook()[crop].water.yield_response == factor


def test_what_the_fallow_holds_by_hand():
    # a year without rain: nothing is left to draw on, in 0.15 m (19.5 mm) and from there to 0.5 m (45.5 mm)
    dry = fallow_soil(_weather(np.zeros(730)), LOAM, 0.15, 0.5)
    assert dry.upper[364] == pytest.approx(19.5, abs=0.01)
    assert dry.lower[364] == pytest.approx(45.5, abs=0.5)
    # 60 mm in one day on that: the upper layer is full, 40.5 mm go below; the next morning a day's loss is missing
    rain = np.zeros(730)
    rain[364] = 60.0
    wet = fallow_soil(_weather(rain), LOAM, 0.15, 0.5)
    assert wet.lower[365] == pytest.approx(45.5 - 40.5, abs=1.2)
    # evaporation of at most (1.2 - 0.3) 4 mm and a share of 0.3 x 4 mm from the weeds
    assert 3.0 < wet.upper[365] < 5.0
    # soaked every day: nothing is missing but the day's loss
    soaked = fallow_soil(_weather(np.full(730, 20.0)), LOAM, 0.15, 0.5)
    assert soaked.upper[-1] + soaked.lower[-1] < 5.0


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 100_000))
def test_no_water_is_lost_between_the_layers(seed):
    rng = np.random.default_rng(seed)
    days = 120
    roots = np.maximum.accumulate(rng.uniform(0.1, 0.6, days))
    shape = (days, 1)
    rain = np.where(rng.random(shape) < 0.2, rng.uniform(0, 40, shape), 0.0)
    season = Season(
        reference=rng.uniform(1, 7, shape),
        rain=rain,
        basal=rng.uniform(0.15, 1.1, shape),
        limit=np.full(shape, 1.2),
        covered=rng.uniform(0, 0.9, shape),
        rooting_depth=roots[:, None],
        depletion=np.array([0.4]),
        irrigated=np.array([False]),
        grows=np.ones(shape, dtype=bool),
    )
    zone, below = rng.uniform(0, 13 * roots[0] * 10), rng.uniform(0, 130 * (0.6 - roots[0]))
    found = root_zone_balance(
        season, LOAM, Watering(0.4, True, 1.0), start_depletion=zone, below=np.array([below]), full_depth=0.6
    )
    counted = np.where(rain > 0.2 * season.reference, rain, 0.0).sum()
    missing = found.depletion[-1, 0] + found.below[-1, 0] - zone - below
    assert counted == pytest.approx(found.evapotranspiration.sum() + found.drained.sum() - missing, abs=1e-8)


def test_a_pea_on_rain_alone_by_hand():
    pea, garden = handbook()["pea (shelling)"], Garden("g", "s", ())
    index, length = np.array([400]), np.array([100])

    def found(rain):
        weather = _weather(rain)
        return on_rain_alone(weather, pea, index, length, garden, fallow_soil(weather, LOAM, 0.15, 0.6))

    # more rain every day than it can use: nothing is wanting
    plenty = found(np.full(730, 8.0))
    assert plenty.left == pytest.approx(1.0)
    # no rain at all: the seed bed is dry and the crop is lost
    assert found(np.zeros(730)).left == 0.0
    # filled to the brim until it is sown, then no drop: it has the 0.6 m x 130 = 78 mm of the soil and no more. Basal
    # curve of FAO-56 Tables 11 and 12 (20/30/35/15 days, 0.15, 1.10, 1.05) with the mean
    # (20 x .15 + 30 x .625 + 35 x 1.10 + 15 x 1.075) / 100 = 0.764 wants 306 mm at 4 mm a day, and evaporation more
    stored = found(np.where(np.arange(730) < 400, 20.0, 0.0))
    assert stored.used[0] == pytest.approx(78.0 / 306.0, abs=0.06)
    assert stored.left[0] < 0.2


def test_what_lives_on_rain_in_an_invented_valley():
    chart = sowing_chart("sallowdene", ["broad bean", "tomato (large)"], rain_fed=True)
    bean, tomato = chart.crops
    assert not any(s.windows or s.possible for s in tomato.starts)
    assert {o.hazard for s in tomato.starts for o in s.outside} >= {"want of water"}
    # sown into the rains, never before them
    starts = [w for s in bean.starts for w in s.windows]
    assert starts
    assert all(w.start >= 270 for w in starts)
    assert "rain alone" in chart.site
    assert not any("watered" in n for n in chart.not_judged)
    text = screen_text(chart_document(chart), width=80, unicode=False)
    assert "The rains open" in text
    assert "Opening rains" in text


def test_without_the_wish_nothing_is_taken_for_want_of_water():
    chart = sowing_chart("sallowdene", ["broad bean"])
    assert chart.opening_rains is None
    assert all(o.hazard != "want of water" for s in chart.crops[0].starts for o in s.outside)


def test_no_rain_in_the_record_and_two_wishes_at_once_are_refused():
    _, record = open_weather("sallowdene")
    short = record.cut(slice(0, 4 * 365))
    with pytest.raises(NotJudgedError, match="has no rain"):
        sowing_chart(short.with_values({"pr": short["pr"] * np.nan}), ["broad bean"], rain_fed=True)
    with pytest.raises(InputError, match="one or the other"):
        sowing_chart("sallowdene", ["broad bean"], rain_fed=True, most_water=100.0)


def test_opening_rains_of_made_up_years():
    time = np.arange(np.datetime64("2001-01-01"), np.datetime64("2007-01-01"))
    pr = np.zeros(time.size)
    # 26 mm within a week: 5 October, 20 September, 1 November, not at all, 3 January; 20 mm in a week open nothing
    for date, mm in (
        ("2001-10-03", 14),
        ("2001-10-05", 12),
        ("2002-09-01", 20),
        ("2002-09-20", 26),
        ("2003-11-01", 30),
        ("2006-01-03", 40),
        ("2006-07-01", 90),  # in summer
    ):
        pr[(time == np.datetime64(date)).argmax()] = mm
    values = {"tasmin": np.full(time.size, 10.0), "tasmax": np.full(time.size, 20.0), "pr": pr}
    found = rains_by_year(daily_record(time, values, latitude=38.0))
    assert found.years == ((2001, 277), (2002, 262), (2003, 304), (2004, None), (2005, 2))
    assert (found.p10, found.p50, found.p90) == (262, 304, None)
    assert "2004 never" in opening_rains_by_year(found)
    assert opening_rains_words(found) == (
        "1 Nov in the middle year; 1 year in 10 by 20 Sep, 1 year in 10 or more without"
    )
    assert rains_by_year(daily_record(time, {k: v for k, v in values.items() if k != "pr"}, latitude=38.0)) is None


@pytest.mark.parametrize(
    ("station", "latitude", "sound", "wet"),
    # common practice: in winter rain of some 700 mm (Perth) broad bean, pea and potato are grown unwatered; on some
    # 500 mm (Seville, the Barossa) they are, with lean years; nowhere there is a summer crop
    [("perth", -31.92, 0.85, (90, 215)), ("nuriootpa_sa", -34.48, 0.6, (90, 215)), ("seville", 37.42, 0.5, (275, 20))],
)
def test_mediterranean_winters(reference_folder, tmp_path, station, latitude, sound, wet):
    site = tmp_path / "site.toml"
    record = reference_folder / "weather" / f"{station}.csv"
    site.write_text(
        f'name = "{station}"\nlatitude = {latitude}\nelevation = 50\n[weather]\nsource = "file"\nfile = "{record}"\n'
        'temperature_unit = "degC"\n',
        encoding="utf-8",
    )
    crops = ["broad bean", "pea (shelling)", "garlic (softneck)", "potato (early)", "tomato (large)"]
    chart = sowing_chart(str(site), crops, rain_fed=True)
    best = {line.crop: [w for s in line.starts for w in s.possible] for line in chart.crops}
    assert best["tomato (large)"] == []
    for crop in ("broad bean", "pea (shelling)"):
        top = max(best[crop], key=lambda w: w.reliability)
        assert top.reliability >= sound
        assert (top.best - wet[0]) % 365 <= (wet[1] - wet[0]) % 365
    watered = sowing_chart(str(site), crops)
    for dry_line, wet_line in zip(chart.crops, watered.crops, strict=True):
        for a, b in zip(dry_line.starts, wet_line.starts, strict=True):
            both = np.isfinite(a.yield_fraction) & np.isfinite(b.yield_fraction)
            assert (a.yield_fraction[both] <= b.yield_fraction[both] + 0.02).all()


def test_no_rain_in_a_real_record_is_one_sentence(reference_folder, tmp_path):
    site = tmp_path / "algiers.toml"
    record = reference_folder / "weather" / "algiers.csv"
    site.write_text(
        f'name = "algiers"\nlatitude = 36.7\n[weather]\nsource = "file"\nfile = "{record}"\n'
        'temperature_unit = "degC"\n',
        encoding="utf-8",
    )
    with pytest.raises(NotJudgedError, match=r"algiers.*has no rain"):
        sowing_chart(str(site), ["pea (shelling)"], rain_fed=True)


def test_a_crop_on_rain_alone_stands_on_the_soil_of_its_bed():
    """Of a bed of shallow sand and one of loam it goes to the one that holds more; where it must stand in both it gets
    what gardens wholly of the one and of the other give of that day, by area."""
    _, record = open_weather("sallowdene")
    short = record.cut(slice(0, 8 * 365))
    autumn = Start("broad bean", "sown outdoors", 305)

    def planned(beds, count):
        wished = {"crops": ("broad bean",), "rain_fed": ("broad bean",), "counts": {"broad bean": count}}
        return plan_garden(Garden("g", "s", beds, starts=(autumn,), **wished), "s", short)

    sand, loam = Bed("a", 10, 1.2, texture="sand", soil_depth=0.3), Bed("b", 10, 1.2)
    (there,) = planned((sand, loam), 40).beds.placings
    assert there.bed == 1  # FAO-56 Table 19: a metre of loam holds some twice the water of sand
    (poor, sandy), (good, loamy) = (_left_and_each(planned((bed,), 90)) for bed in (sand, loam))
    assert poor < good - 0.03
    both = planned((sand, loam), 160)
    area = {p.bed: p.area for p in both.beds.placings}
    share = area[0] / (area[0] + area[1])
    assert 0.2 < share < 0.8
    left, each = _left_and_each(both)
    assert left == pytest.approx(share * poor + (1.0 - share) * good, abs=1e-6)
    assert each == pytest.approx(share * sandy + (1.0 - share) * loamy, rel=0.01)


def _left_and_each(plan):
    """Share of the watered crop that is left, and kg of a plant."""
    (left,), (line,) = plan.rain_alone.values(), plan.plants
    return left, line.picked / line.count


# --- by hand ---


def outcome(fraction, hazard=0, first=None, last=None):
    fraction = np.asarray(fraction, dtype=float)
    n = fraction.size
    return Lived(
        yield_fraction=fraction,
        hazard=np.full(n, hazard, dtype=np.int8),
        first=np.arange(n) + 60.0 if first is None else first,
        last=np.arange(n) + 79.0 if last is None else last,
    )


@dataclass(frozen=True)
class Lived:
    """What the rules read of a crop's seasons."""

    yield_fraction: np.ndarray
    hazard: np.ndarray
    first: np.ndarray
    last: np.ndarray


def test_a_season_that_draws_more_than_is_stored_is_lost_to_want_of_water():
    """Starts that draw less, as much and more than there is; what fails anyhow keeps its hazard."""
    site = SimpleNamespace(settings=Settings(least_yield=0.5))
    drawn = StartDayWater(np.zeros(365), np.arange(365.0), np.array([90.0, 100.0, 100.1, 200.0, np.nan, np.nan, 200.0]))
    crop, way = SimpleNamespace(name="x"), SimpleNamespace(way="sown outdoors")
    rule = within_stored_water(site, None, 100.0, {("x", "sown outdoors"): drawn})
    found = rule.changed(crop, way, outcome([0.9, 0.9, 0.9, 0.4, 0.9, 0.4, 0.5], hazard=3))
    want = HAZARDS.index("want of water")
    np.testing.assert_array_equal(found.yield_fraction, [0.9, 0.9, 0.0, 0.4, np.nan, 0.4, 0.0])
    assert found.hazard.tolist() == [3, 3, want, 3, 3, 3, want]
    assert rule.litres(crop, way)[200] == 200.0
    assert rule.most == 100.0


def seasons_on_rain(rain, fraction=0.9, days=730, known=None, crop="pea (shelling)", **more):
    weather = replace(_weather(np.broadcast_to(rain, days)), rain_known=known)
    changed = rain_fed_seasons(weather, Garden("g", "s", ()), where="here")
    return changed(handbook()[crop], handbook()[crop].ways[0], outcome(np.full(days, fraction), **more))


def test_on_rain_alone_the_yield_is_what_water_leaves_of_it():
    want = HAZARDS.index("want of water")
    wet = seasons_on_rain(8.0)
    np.testing.assert_allclose(wet.yield_fraction[:600], 0.9)
    assert (wet.hazard[:600] == 0).all()
    dry = seasons_on_rain(0.0)
    np.testing.assert_allclose(dry.yield_fraction[400:600], 0.0, atol=1e-9)
    assert (dry.hazard[400:600] == want).all()
    assert np.isnan(dry.yield_fraction[-20:]).all()  # what runs off the record is not known
    nothing = seasons_on_rain(0.0, 0.0)
    assert (nothing.hazard == 0).all()  # what brings nothing anyhow keeps its hazard
    half = seasons_on_rain(8.0, np.nan)
    assert np.isnan(half.yield_fraction).all()


def test_a_season_of_which_rain_is_not_known_is_not_known():
    """Eighty days of which four lack a reading are told, and five are not."""
    known = np.ones(730, dtype=bool)
    known[300:304] = False
    assert np.isfinite(seasons_on_rain(8.0, known=known).yield_fraction[:600]).all()
    known[304] = False
    found = np.isnan(seasons_on_rain(8.0, known=known).yield_fraction[:600])
    # starts from 79 days before the last day of the gap to its first hold all five
    assert np.flatnonzero(found).tolist() == list(range(304 - 79, 301))


@pytest.mark.parametrize(
    ("used", "response", "left"), [(0.5, 1.0, 0.5), (0.0, 0.8, 0.2), (1.2, 1.0, 1.0), (0.9, 2.0, 0.8)]
)
def test_the_yield_response_line(used, response, left):
    assert yield_left(used, response) == pytest.approx(left)


def test_seedlings_want_water_in_their_first_stage():
    """Of shares of full use below 0.15 in the mean of the stage none of a stand is left, from 0.6 on all of it."""
    pea, garden = handbook()["pea (shelling)"], Garden("g", "s", ())
    rain = np.zeros(730)
    rain[:425] = 20.0
    weather = _weather(rain)
    fallow = fallow_soil(weather, LOAM, 0.15, 0.6)
    soaked = on_rain_alone(weather, pea, np.array([400]), np.array([100]), garden, fallow)
    late = on_rain_alone(weather, pea, np.array([500]), np.array([100]), garden, fallow)
    assert soaked.stand[0] > 0.9
    assert late.stand[0] == 0.0
    assert late.left[0] == 0.0
    assert 0.0 < soaked.used[0] < 1.0
    assert late.used[0] < soaked.used[0]


def test_drying_soil_costs_a_ripening_bulb_less():
    """Want of water in the last stage counts by 0.3 / 1.1 of what it counts for a crop that is no bulb."""
    onion = handbook()["onion (short-day)"]
    plain = replace(onion, gates=replace(onion.gates, bulbing_day_length=float("nan")))
    rain = np.where(np.arange(730) < 470, 8.0, 0.0)
    weather, garden = _weather(rain), Garden("g", "s", ())
    fallow = fallow_soil(weather, LOAM, 0.15, 0.6)
    bulb, other = (
        on_rain_alone(weather, c, np.array([400]), np.array([120]), garden, fallow).used[0] for c in (onion, plain)
    )
    assert bulb > other
    # want in the last stage alone, for it rains till then
    wet = _weather(np.where(np.arange(730) < 503, 8.0, 0.0))
    bulb, other = (
        on_rain_alone(wet, c, np.array([400]), np.array([120]), garden, fallow_soil(wet, LOAM, 0.15, 0.6)).used[0]
        for c in (onion, plain)
    )
    assert (1.0 - bulb) / (1.0 - other) == pytest.approx(0.3 / 1.1)


def test_the_fallow_under_mulch_keeps_more():
    rain = np.where(np.arange(730) % 30 == 0, 20.0, 0.0)
    bare, mulched = (fallow_soil(_weather(rain), LOAM, 0.15, 0.5, evaporation_left=e) for e in (1.0, 0.2))
    assert mulched.upper.mean() < bare.upper.mean()
    assert (mulched.upper <= 19.5 + 1e-9).all()
    # less rain than a fifth of the evapotranspiration wets nothing (FAO-56 chapter 8)
    drizzle, dry = (fallow_soil(_weather(np.full(730, r)), LOAM, 0.15, 0.5).upper[-1] for r in (0.8, 0.0))
    assert drizzle == dry
    assert fallow_soil(_weather(np.full(730, 0.9)), LOAM, 0.15, 0.5).upper[-1] < dry


def test_weeds_draw_freely_and_then_as_the_water_that_is_left():
    """0.3 of 4 mm a day from both layers as the water lies there; below the 0.348 of 65 mm that are not free, the less
    the less is left (FAO-56 eq. 84, and its share of depletion for 1.2 mm a day: 0.5 + 0.04 x 3.8)."""
    soil = fallow_soil(_weather(np.where(np.arange(900) < 500, 20.0, 0.0)), LOAM, 0.15, 0.5)
    most, lower_most = 65.0, 45.5
    free = (1.0 - 0.652) * most
    for day in (505, 510, 560, 600, 650):
        there = most - soil.upper[day + 1] - soil.lower[day]
        drawn = 1.2 * min(there / free, 1.0)
        step = soil.lower[day + 1] - soil.lower[day]
        assert step == pytest.approx(drawn * (lower_most - soil.lower[day]) / there, rel=0.03)
    there = most - soil.upper - soil.lower
    assert there[505] > free > there[600]


def test_a_crop_is_followed_from_its_start_to_its_last_picking_both_within(monkeypatch):
    """Starts each week whose crop brings something; eighty days from a start to the last picking 79 days on."""
    followed = {}

    def on_rain(weather, crop, index, length, garden, fallow):
        followed.update(index=index, length=length)
        return SimpleNamespace(left=np.full(index.size, 0.5))

    monkeypatch.setattr(rain_fed, "on_rain_alone", on_rain)
    found = seasons_on_rain(1.0, np.where(np.arange(730) < 100, 0.0, 0.9))
    assert followed["index"][0] == 105
    assert set(np.diff(followed["index"])) == {7}
    assert (followed["length"][:50] == 80).all()
    np.testing.assert_allclose(found.yield_fraction[105:600], 0.45)
    once = seasons_on_rain(1.0, crop="radish")  # picked once: grown by its first picking, 60 days on
    assert handbook()["radish"].growth.habit != "once" or (followed["length"][:50] == 61).all()
    assert np.isfinite(once.yield_fraction[:600]).all()


def test_water_by_start_day_is_that_of_seasons_followed_whole(monkeypatch):
    """Ninety days from each start, 45 litres in one year and 90 in the other; what runs off the record is left out."""
    site = SiteDays(np.full(730, 10.0), np.full(730, 20.0), np.datetime64("2001-01-01"), 40.0)
    seen = {}

    def balance(weather, basal, index, length, irrigated, light, garden, kept):
        seen.update(length=length, index=index)
        days = np.arange(90)[:, None, None]
        mm = np.where(np.arange(index.shape[1]) == 0, 0.45, 0.9) * np.ones((90, *index.shape))
        grows = (index[None] + days < seen.get("known", 730)) & (index[None] >= 0)
        return SimpleNamespace(irrigation=mm), None, grows

    monkeypatch.setattr(rain_fed, "by_day", lambda *a: None)
    monkeypatch.setattr(rain_fed, "season_lengths", lambda found, day: (np.zeros(2), np.full(2, 89.0)))
    monkeypatch.setattr(rain_fed, "season_balance", balance)
    pea = handbook()["pea (shelling)"]
    found = start_day_water(site, _weather(np.zeros(730)), pea, pea.ways[0])
    assert (seen["length"] == 90).all()
    kept = 0.9  # drip
    assert found.median.shape == found.dry_year.shape == (365,)
    assert found.median[100] == pytest.approx(0.5 * (40.5 + 81.0) / kept)
    assert found.dry_year[100] == pytest.approx((40.5 + 0.9 * 40.5) / kept)
    assert found.median[330] == pytest.approx(40.5 / kept)  # of the second year the record does not tell
    assert found.by_start[[100, 465]] == pytest.approx([40.5 / kept, 81.0 / kept])
    assert np.isnan(found.by_start[700])
    seen["known"] = 300  # starts up to 5 August of the first year lie whole in what is known
    found = start_day_water(site, _weather(np.zeros(730)), pea, pea.ways[0])
    assert (found.median[100], found.dry_year[330]) == (pytest.approx(40.5 / kept), pytest.approx(40.5 / kept))
    seen["known"] = 80  # no season lies whole in what is known
    found = start_day_water(site, _weather(np.zeros(730)), pea, pea.ways[0])
    assert (found.median.shape, found.dry_year.shape, found.by_start.shape) == ((365,), (365,), (730,))
    assert all(np.isnan(x).all() for x in (found.median, found.dry_year, found.by_start))


def test_the_crop_s_own_response_to_want_of_water_else_one_for_one(monkeypatch):
    """FAO-56 p. 177: where no factor is known the share of the crop lost is that of the water wanting."""
    pea = handbook()["pea (shelling)"]
    weather = _weather(np.full(300, 3.0))
    monkeypatch.setattr(rain_fed, "yield_left", lambda used, response: np.full(used.shape, response))
    for told, taken in ((1.15, 1.15), (np.nan, 1.0)):
        one = replace(pea, water=replace(pea.water, yield_response=told))
        found = on_rain_alone(
            weather, one, np.array([10]), np.array([80]), Garden("", "", ()), fallow_soil(weather, LOAM, 0.15, 0.6)
        )
        assert found.left == pytest.approx(found.stand * taken)
        assert found.stand[0] > 0.0


@dataclass(frozen=True)
class OnGround:
    """What is moved to the ground of its beds."""

    yield_fraction: float
    reliability: float
    rain_leaves: float | None
    plants: object


@dataclass(frozen=True)
class Grown:
    picked: float
    times_eaten: float


def test_a_sowing_has_the_mean_of_its_beds_by_area_and_rain_leaves_all_at_most():
    """1 m2 that brings 0.5 and 3 m2 of 0.7: 0.65, which is 1.3 times what was reckoned."""
    made = OnGround(0.5, 0.9, 0.6, Grown(10.0, 2.0))
    found = rain_fed._on_ground(made, [(0.5, 0.8, 1.0), (0.7, 0.4, 3.0)])
    assert (found.yield_fraction, found.reliability) == (pytest.approx(0.65), pytest.approx(0.5))
    assert found.rain_leaves == pytest.approx(0.78)
    assert (found.plants.picked, found.plants.times_eaten) == (pytest.approx(13.0), pytest.approx(2.6))
    assert rain_fed._on_ground(replace(made, rain_leaves=0.8), [(0.65, 0.9, 1.0)]).rain_leaves == 1.0
    assert rain_fed._on_ground(replace(made, rain_leaves=None), [(0.65, 0.9, 1.0)]).rain_leaves is None


def test_start_days_of_several_crops_draw_together_what_each_draws_alone(monkeypatch):
    """Nothing is shared between rows but the days on which they are followed, so equal to the bit."""
    site, days = _invented_days(1100)
    monkeypatch.setattr(rain_fed, "_TOGETHER", 9)  # rows of a crop and of the next, and not all of either
    book = handbook()
    ways = [(book[name], way) for name in ("radish", "courgette", "leek") for way in book[name].ways]
    alone = [start_day_water(site, days, crop, way) for crop, way in ways]
    together = rain_fed.water_of_start_days(site, days, ways)
    for one, same in zip(alone, together, strict=True):
        for name in ("median", "dry_year", "by_start"):
            np.testing.assert_array_equal(getattr(one, name), getattr(same, name))
    assert len({found.dry_year.tobytes() for found in together}) == len(ways)
    assert all(np.isfinite(found.dry_year).all() for found in together)
    assert rain_fed.water_of_start_days(site, days, []) == []  # of perennials alone


def _invented_days(size):
    """A site and its water of so many days: dry summers, showers in winter."""
    wave = np.cos(2 * np.pi * np.arange(size) / 365.25)
    rng = np.random.default_rng(5)
    low, rain = 9.0 - 7.0 * wave, np.where(rng.random(size) < 0.2 + 0.2 * wave, rng.exponential(6.0, size), 0.0)
    first = np.datetime64("2001-01-01")
    record = daily_record(first + np.arange(size), {"tasmin": low, "tasmax": low + 11.0, "pr": rain}, latitude=38.0)
    return SiteDays.from_record(record), garden_weather(record)


@pytest.mark.parametrize(("days", "depth"), [(40, 0.5), (400, 0.5), (400, 0.15), (30, 0.15)])
def test_the_fallow_day_by_day_as_its_equations_have_it(days, depth):
    """FAO-56 eq. 71, 74, 76, 82 and 84 in plain loops: loam holds 130 mm a metre, of its surface 19 mm evaporate, nine
    of them freely; thin weeds of 0.3 and 0.2 m (common practice) take half of the water freely at 5 mm a day."""
    rng = np.random.default_rng(5)
    rain = np.where(rng.random(days) < 0.15, rng.uniform(0.0, 30.0, days), 0.0)
    reference = rng.uniform(1.0, 7.0, days)
    weather = replace(_weather(rain), reference=reference)
    found = fallow_soil(weather, LOAM, 0.15, depth, evaporation_left=0.7)
    above, below = 19.5, 130.0 * (depth - 0.15)
    covered = ((0.3 - 0.15) / (1.2 - 0.15)) ** (1.0 + 0.5 * 0.2)
    lacks_above, lacks_below, mornings = above / 2, below / 2, []
    for t in (*range(min(days, 365)), *range(days)):
        start = lacks_above, lacks_below
        wets = rain[t] if rain[t] > 0.2 * reference[t] else 0.0
        lacks_below = max(lacks_below - max(wets - lacks_above, 0.0), 0.0)
        lacks_above = max(lacks_above - wets, 0.0)
        dries = min(max((19.0 - lacks_above) / (19.0 - 9.0), 0.0), 1.0)
        lacks_above += min(dries * (1.2 - 0.3), (1.0 - covered) * 1.2) * reference[t] * 0.7
        lacks_above = min(lacks_above, above)
        there = above + below - lacks_above - lacks_below
        share = min(max(0.5 + 0.04 * (5.0 - 0.3 * reference[t]), 0.1), 0.8)
        takes = 0.3 * reference[t] * min(there / ((1.0 - share) * (above + below)), 1.0)
        from_above = takes * (above - lacks_above) / there
        lacks_above, lacks_below = lacks_above + from_above, lacks_below + takes - from_above
        mornings.append(start)
    np.testing.assert_allclose(np.array([found.upper, found.lower]).T, mornings[-days:], atol=1e-9)


def followed_by(monkeypatch, crop, length, reference, stress=1.0, start=0, days=400, fallow=(0.0, 5.0)):
    """A crop that gets no water at all, and what its root zone is started with."""
    seen = {}

    def balance(season, soil, watering, **more):
        seen.update(more)
        nothing = np.zeros(season.basal.shape)
        share = np.broadcast_to(np.broadcast_to(stress, nothing.shape[0])[:, None, None], nothing.shape)
        return SimpleNamespace(evaporation=nothing, evapotranspiration=nothing, stress=share)

    monkeypatch.setattr(rain_fed, "root_zone_balance", balance)
    weather = replace(_weather(np.zeros(days)), reference=np.broadcast_to(reference, days).astype(float))
    held = rain_fed.Fallow(*(np.full(days, mm) for mm in fallow))
    garden = Garden("g", "s", (), soil_depth=0.6)
    return on_rain_alone(weather, crop, np.array([start]), np.array([length]), garden, held), seen


def bulb_of(*stages, day_length=12.0):
    onion = handbook()["onion (short-day)"]
    names = ("days_initial", "days_development", "days_mid", "days_late")
    water = replace(onion.water, **dict(zip(names, stages, strict=True)))
    return replace(onion, water=water, gates=replace(onion.gates, bulbing_day_length=day_length))


@pytest.mark.parametrize(("day", "used"), [(79, 0.0), (80, 0.0), (81, 1.0 - 0.3 / 1.1), (99, 1.0 - 0.3 / 1.1)])
def test_want_of_water_on_one_day_counts_less_once_a_bulb_ripens(monkeypatch, day, used):
    """Ky 0.3 in place of 1.1 (FAO-33, from memory) after three stages of 80 days in all."""
    sunny = np.where(np.arange(400) == day, 5.0, 0.0)
    found, _ = followed_by(monkeypatch, bulb_of(20.0, 30.0, 30.0, 20.0), 100, sunny)
    assert found.used[0] == pytest.approx(used)
    plain, _ = followed_by(monkeypatch, bulb_of(20.0, 30.0, 30.0, 20.0, day_length=np.nan), 100, sunny)
    assert plain.used[0] == 0.0


@pytest.mark.parametrize(
    ("stress", "stand"), [(0.15, 0.0), (0.16, 0.01 / 0.45), (0.375, 0.5), (0.59, 0.44 / 0.45), (0.6, 1.0), (0.7, 1.0)]
)
def test_a_stand_by_the_water_of_its_first_stage(monkeypatch, stress, stand):
    """Straight from 0.15 to 0.6 of full use (common practice), in the mean of the stage, a week of it at the least."""
    crop = bulb_of(20.0, 30.0, 30.0, 20.0)
    first = np.where(np.arange(100) < 20, stress, 0.0)
    assert followed_by(monkeypatch, crop, 100, 4.0, first)[0].stand[0] == pytest.approx(stand)
    week = np.where(np.arange(20) < 7, stress, 0.0)  # four days of twenty are too few
    assert followed_by(monkeypatch, crop, 20, 4.0, week)[0].stand[0] == pytest.approx(stand)
    last = followed_by(monkeypatch, crop, 100, 4.0, np.full(100, stress), start=399)[0]  # the record's last day
    assert last.stand[0] == pytest.approx(stand)


@pytest.mark.parametrize(("lacks", "surface"), [((0.0, 5.0), 0.0), ((12.0, 20.0), 12.0), ((19.5, 45.0), 19.0)])
def test_a_crop_begins_with_what_the_fallow_has_left(monkeypatch, lacks, surface):
    """Of loam 19 mm can evaporate; an onion's roots go down as far as a bed of 0.6 m has soil."""
    _, seen = followed_by(monkeypatch, handbook()["onion (short-day)"], 100, 4.0, fallow=lacks)
    assert seen["start_depletion"].tolist() == [[lacks[0]]]
    assert seen["start_surface"].tolist() == [[pytest.approx(surface)]]
    assert seen["below"].tolist() == [[lacks[1]]]
    assert seen["full_depth"] == handbook()["onion (short-day)"].water.rooting_depth_high == 0.6


def changed_by(monkeypatch, fraction, left=0.5, depth=0.6, known=None, crop="pea (shelling)", **more):
    """Seasons of a crop of which rain leaves so much, and depths of the fallow that was followed."""
    depths = []
    monkeypatch.setattr(
        rain_fed, "on_rain_alone", lambda w, c, index, *a: SimpleNamespace(left=np.full(index.size, left))
    )
    monkeypatch.setattr(rain_fed, "fallow_soil", lambda w, soil, upper, full, **k: depths.append((upper, full)))
    weather = replace(_weather(np.zeros(400)), rain_known=known)
    changed = rain_fed_seasons(weather, Garden("g", "s", (), soil_depth=depth))
    one = handbook()[crop]
    return changed(one, one.ways[0], outcome(np.full(400, fraction), **more)), depths


@pytest.mark.parametrize(
    ("fraction", "left", "lost"),
    [(1.0, 0.9948, True), (1.0, 0.996, False), (0.9, 0.91, False), (0.9, 0.89, True), (0.05, 0.0, True)],
)
def test_want_of_water_is_the_hazard_where_it_costs_more_than_all_the_rest(monkeypatch, fraction, left, lost):
    """Half of a hundredth is nothing to speak of."""
    found, _ = changed_by(monkeypatch, fraction, left, hazard=3)
    assert set(found.hazard[:300].tolist()) == {HAZARDS.index("want of water") if lost else 3}
    np.testing.assert_allclose(found.yield_fraction[:300], fraction * left)


@pytest.mark.parametrize(("depth", "layers"), [(0.1, (0.1, 0.1)), (0.6, (0.15, 0.6)), (3.0, (0.15, 1.0))])
def test_the_fallow_is_followed_as_deep_as_an_unwatered_crop_roots(monkeypatch, depth, layers):
    """Seedlings in 0.15 m; a pea to 1 m (the greater of FAO-56 Table 22), or to the bottom of the soil."""
    assert handbook()["pea (shelling)"].water.rooting_depth_high == 1.0
    assert changed_by(monkeypatch, 0.9, depth=depth)[1] == [layers]


@pytest.mark.parametrize(("days", "known"), [(19, False), (20, True)])
def test_a_day_without_a_reading_is_one_in_twenty_at_most(monkeypatch, days, known):
    there = np.ones(400, dtype=bool)
    there[200] = False
    last = np.arange(400) + days - 1.0
    found, _ = changed_by(monkeypatch, 0.9, known=there, last=last)
    assert np.isfinite(found.yield_fraction[200]) == known
    assert np.isfinite(found.yield_fraction[[100, 201]]).all()


def test_water_of_every_seventh_start_day_is_followed_itself(monkeypatch):
    """Each draws the square of its day: between two that are followed the line lies above it, on them it does not."""
    site = SiteDays(np.full(730, 10.0), np.full(730, 20.0), np.datetime64("2001-01-01"), 40.0)

    def balance(weather, basal, begun, length, irrigated, light, garden, kept):
        assert irrigated.all()
        drawn = 0.9 * (begun % 365.0)[None] ** 2
        return SimpleNamespace(irrigation=drawn), None, np.ones(drawn.shape, dtype=bool)

    monkeypatch.setattr(rain_fed, "seasons", lambda *a: None)
    monkeypatch.setattr(rain_fed, "by_day", lambda *a: None)
    monkeypatch.setattr(rain_fed, "season_lengths", lambda outcome, day: (np.zeros(2), np.zeros(2)))
    monkeypatch.setattr(rain_fed, "season_balance", balance)
    pea = handbook()["pea (shelling)"]
    found = start_day_water(site, _weather(np.zeros(730)), pea, pea.ways[0])
    for day in (0, 7, 56, 301, 364):
        assert found.median[day] == found.dry_year[day] == pytest.approx(day**2)
    assert found.median[3] == pytest.approx(3 / 7 * 49)
