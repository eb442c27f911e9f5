"""Crops cut whole and leaves picked over and over: stages and hazards against loops over days."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from by_hand import Told, alive, crop_of, first_where, line, mean_of, place, reached, starts, walk_on

from sowcal.crops.tables import Cold, Crop, Gates, Growth, Heat
from sowcal.seasons.vegetative import vegetative_crop

LAG, HORIZON, NEED = 9, 150, 900.0
RANGE = {"range_minimum": 6.0, "range_optimum_low": 10.0, "range_optimum_high": 15.0, "range_maximum": 20.0}
GROWTH = Growth(
    base_temperature=5.0,
    habit="once",
    fraction_filling=0.35,
    picking_days_low=10.0,
    picking_days_high=31.0,
    light_need=12.0,
    days_most=100.0,
    **RANGE,
)
COLD = Cold(
    frost_class="half-hardy",
    killing_grown=-2.0,
    killing_picked_part=0.0,
    chilling_temperature=6.0,
    chilling_days_half=10.0,
)
HEAT = Heat(filling_limit=24.0, filling_share_half=0.5, night_limit=12.0, night_share_half=0.4)
ROOT = crop_of(growth=GROWTH, cold=COLD, heat=HEAT, part="root")


class Season:
    """One start day of a walk, day by day."""

    def __init__(self, walk, start):
        self.walk, self.start, growth = walk, start, walk.crop.growth
        self.n = walk.site.size
        self.daily = np.diff(walk.total)
        self.end = min(start + HORIZON, self.n)
        self.up = min(start + LAG, self.n)
        filling = 0.4 if np.isnan(growth.fraction_filling) else growth.fraction_filling
        self.fills = min(reached(self.daily, self.up, (1.0 - filling) * NEED), self.end)
        self.ready = min(reached(self.daily, self.fills, filling * NEED), self.end)
        known = not np.isnan(growth.picking_days_low + growth.picking_days_high)
        self.picking = int((growth.picking_days_low + growth.picking_days_high) / 2) if known else 14
        self.judged = self.ready if growth.habit != "leaf" else min(self.ready + self.picking // 2, self.n)
        self.until = min(self.judged + 1, self.n)

    def filling(self, values):
        """Mean over the days of filling and, of leaves, of half of the picking."""
        return mean_of(values, self.fills, self.until)


def walked(crop, site, **more):
    walk = walk_on(site, crop, need=NEED, lag=LAG, horizon=HORIZON, **more)
    losses = Told(site.size)
    return walk, losses, vegetative_crop(walk, losses)


def within_record(walk):
    """Starts whose crop comes to fill within the record, each with its season."""
    seasons = {s: Season(walk, s) for s in starts(walk.site)}
    return {s: one for s, one in seasons.items() if one.fills < one.n}


@pytest.mark.parametrize(
    "growth",
    [
        GROWTH,
        replace(GROWTH, habit="leaf"),
        replace(GROWTH, habit="leaf", picking_days_low=np.nan),
        replace(GROWTH, fraction_filling=np.nan),
    ],
    ids=["once", "leaf", "leaf of unknown picking", "unknown filling"],
)
def test_first_and_last_picking(growth):
    """Unless told 14 days of picking, and two fifths of growth fill; leaves are judged by half of their picking."""
    site = place()
    walk, _, (first, last, judged) = walked(replace(ROOT, growth=growth), site)
    for s in starts(site):
        one = Season(walk, s)
        assert (first[s], last[s], judged[s]) == (one.ready, one.ready + one.picking, one.judged)


def test_an_exact_need_does_not_slip_a_day():
    """A tenth of a degree day each day, whose sums are a rounding off: 30 of them are met in 300 days, not 301."""
    site = place(years=30)
    growth = replace(GROWTH, fraction_filling=0.5)
    walk = walk_on(site, replace(ROOT, growth=growth), daily=np.full(site.size, 0.1), need=60.0, horizon=1000)
    first, _, _ = vegetative_crop(walk, Told(site.size))
    # filling begins on the day that meets the first half, and that day's warmth counts towards the second
    np.testing.assert_array_equal((first - site.start)[:-1000], LAG + 299 + 299)


def test_months_of_filling():
    """Half the worth at the least and greatest monthly mean, none as far again beyond the best in the heat."""
    site = place(mean=14.0, swing=9.0)
    walk, losses, _ = walked(replace(ROOT, heat=Heat()), site)
    cool = [line(m, 4.0, 8.0) for m in site.month_mean]
    warm = [line(m, 25.0, 15.0) for m in site.month_mean]
    slow, heat = {}, {}
    for s, one in within_record(walk).items():
        slow[s] = one.filling(cool) * line(float(one.ready - s), 125.0, 100.0)
        heat[s] = one.filling(warm)
    losses.check("too slow", slow)
    losses.check("heat", heat)
    walk, losses, _ = walked(replace(ROOT, growth=replace(GROWTH, range_minimum=np.nan)), site)
    losses.check("too slow", {s: line(float(o.ready - s), 125.0, 100.0) for s, o in within_record(walk).items()})


def test_heat_is_the_worse_of_warm_months_and_hot_days():
    """Nights cost what they cost beyond that."""
    site = place(mean=14.0, swing=9.0)
    walk, losses, _ = walked(ROOT, site)
    warm = [line(m, 25.0, 15.0) for m in site.month_mean]
    heat, nights, by_days, by_nights = {}, {}, 0, 0
    for s, one in within_record(walk).items():
        hot = 0.5 ** (one.filling(site.tasmax > 24.0) / 0.5)
        night = 0.5 ** (one.filling(site.tasmin > 12.0) / 0.4)
        heat[s] = min(one.filling(warm), hot)
        nights[s] = min(night / max(heat[s], 1e-9), 1.0)
        by_days += heat[s] < one.filling(warm)
        by_nights += nights[s] < 1.0
    assert 0 < by_days < len(heat)
    assert 0 < by_nights < len(heat)
    losses.check("heat", heat)
    losses.check("warm nights", nights)


def test_hot_days_alone_where_nothing_is_known_of_months():
    site = place(mean=14.0, swing=9.0)
    growth = replace(GROWTH, range_minimum=np.nan)
    walk, losses, _ = walked(replace(ROOT, growth=growth), site)
    hot = {s: 0.5 ** (o.filling(site.tasmax > 24.0) / 0.5) for s, o in within_record(walk).items()}
    losses.check("heat", hot)
    for unknown in (replace(HEAT, filling_limit=np.nan), replace(HEAT, filling_share_half=0.0)):
        _, losses, _ = walked(replace(ROOT, growth=growth, heat=unknown), site)
        np.testing.assert_array_equal(losses.left["heat"], 1.0)
    _, losses, _ = walked(replace(ROOT, heat=replace(HEAT, night_limit=np.nan)), site)
    assert "warm nights" not in losses.left


PARTS = [
    ("root", "half-hardy", "soil"),
    ("tuber", "hardy", "soil"),
    ("bulb", "hardy", "soil"),
    ("leaf", "half-hardy", "hardened_minimum"),
    ("stalk", "hardy", "hardened_minimum"),
    ("shoot", "hardy", "hardened_minimum"),
    ("leaf", "tender", "tissue_minimum"),
    ("head", "hardy", "tissue_minimum"),
]


@pytest.mark.parametrize(("part", "frost_class", "felt"), PARTS)
def test_frost_on_the_picked_part(part, frost_class, felt):
    """From the middle of filling on; roots feel the soil, leaves that harden their own cold, heads the tissue's."""
    site = place(mean=10.0)
    crop = replace(ROOT, part=part, cold=Cold(frost_class=frost_class, killing_picked_part=0.5))
    walk, losses, _ = walked(crop, site)
    cold = site.soil_tenths(3.0, "wet").min(axis=1) / 10.0 if felt == "soil" else getattr(site, felt)
    expected = {}
    for s, one in within_record(walk).items():
        half = (one.fills + one.until) // 2
        expected[s] = alive(min(cold[half : one.until], default=np.inf), 0.5)
    losses.check("frost", expected)


@pytest.mark.parametrize(("frost_class", "felt"), [("hardy", "hardened_minimum"), ("tender", "tissue_minimum")])
def test_frost_on_grown_plants(frost_class, felt):
    """From a quarter of growth until picked."""
    site = place()
    crop = replace(ROOT, cold=Cold(frost_class=frost_class, killing_grown=-1.0))
    walk, losses, _ = walked(crop, site)
    cold = getattr(site, felt)
    expected = {}
    for s, one in within_record(walk).items():
        begin = min(reached(one.daily, one.up, 0.25 * NEED), one.end)
        expected[s] = alive(min(cold[begin : one.until], default=np.inf), -1.0)
    losses.check("frost", expected)


@pytest.mark.parametrize("half", [10.0, 0.8])
def test_chilled_nights(half):
    """Each night below the limit, less what the day after makes good (all at 28 degC, nothing at 18)."""
    site = place()
    walk, losses, _ = walked(replace(ROOT, cold=replace(COLD, chilling_days_half=half)), site)
    expected = {}
    for s, one in within_record(walk).items():
        nights = sum(line(site.tasmax[d], 28.0, 18.0) for d in range(one.up, one.until) if site.tasmin[d] < 6.0)
        expected[s] = 0.5 ** (nights / half)
    losses.check("chilling", expected)
    for unknown in (replace(COLD, chilling_temperature=np.nan), replace(COLD, chilling_days_half=0.0)):
        _, losses, _ = walked(replace(ROOT, cold=unknown), site)
        assert "chilling" not in losses.left


def test_light_while_filling():
    site = place()
    walk, losses, _ = walked(replace(ROOT, growth=replace(GROWTH, light_need=16.0)), site)
    share = np.minimum(site.solar_radiation / 20.0, 1.0)
    losses.check("low light", {s: one.filling(share) for s, one in within_record(walk).items()})


def test_bulbs_heads_and_bolters_go_through_their_gates():
    site = place()
    bulb = replace(ROOT, gates=Gates(bulbing_day_length=13.5, bulbing_thermal_time=300.0, full_size_thermal_time=500.0))
    _, losses, (first, _, _) = walked(bulb, site)
    gate = (site.day_length >= 13.5) & (site.fortnight_mean >= 12.0)
    daily = np.maximum(site.tas - 5.0, 0.0)
    assert "day length" in losses.left
    for s in starts(site):
        end = min(s + HORIZON, site.size)
        begun = min(first_where(gate, min(s + LAG, site.size)), end)
        assert first[s] == min(reached(daily, begun, 300.0), end)
    head = replace(ROOT, gates=Gates(starting_best_high=13.0, starting_none_above=20.0))
    walk, losses, (first, _, _) = walked(head, site)
    for s in starts(site):
        one = Season(walk, s)
        starts_on = min(first_where(site.fortnight_mean <= 14.0, one.fills), one.fills + 75, one.end)
        assert first[s] == min(reached(one.daily, starts_on, 0.35 * NEED), one.end)
    cold = Gates(cold_effect="cropping", cold_warmest=9.0, cold_days_low=20.0, cold_days_high=40.0)
    walk, _, (first, _, _) = walked(replace(ROOT, gates=cold), site)
    for s in starts(site):
        one = Season(walk, s)
        met = first_where(np.cumsum((site.tas < 9.0) & (site.start >= one.up)) >= 30, one.up)
        starts_on = min(max(one.fills, met), max(one.fills, one.up + 120), one.end)
        assert first[s] == min(reached(one.daily, starts_on, 0.35 * NEED), one.end)
    _, losses, _ = walked(replace(ROOT, gates=Gates(bolting_thermal_time=300.0)), site)
    assert losses.left["bolting"].min() < 0.5


def test_a_bare_crop_has_no_hazards_but_slowness():
    site = place(years=1)
    crop = Crop(name="bare", growth=Growth(base_temperature=5.0, habit="once"))
    _, losses, _ = walked(crop, site)
    assert set(losses.left) == {"heat", "too slow"}
    np.testing.assert_array_equal(losses.left["heat"], 1.0)
