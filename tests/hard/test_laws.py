"""Laws that hold for any weather: what repeats, turns, warms or shuffles a record moves the answer as it must."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from sowcal.climate.frost import frost_days
from sowcal.crops.handbook import handbook
from sowcal.microclimate import with_what_ifs
from sowcal.seasons.perennial_years import perennial_years
from sowcal.seasons.season import seasons
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.annuals import crop_seasons
from sowcal.suitability.perennials import rate_perennial
from sowcal.weather.csv_file import read_csv
from sowcal.weather.record import daily_record

BOOK = handbook()
FEW = settings(deadline=None, max_examples=3, phases=[Phase.explicit, Phase.generate])
FOUR = 4 * 365 + 1
OF_ALL_HABITS = ("radish", "courgette", "lettuce (head)")
PERENNIALS = ("peach (low-chill)", "globe artichoke (seed-grown)", "orange")
SEEDS = st.integers(0, 10_000)


def days(seed, years=4, mean=15.0, latitude=40.0):
    """Invented nights and days, with noise of its own for each seed; midwinter in July south of the equator."""
    rng = np.random.default_rng(seed)
    n = 365 * years + years // 4
    turn = np.cos(2 * np.pi * (np.arange(n) - 15) / 365.25) * (1 if latitude >= 0 else -1)
    low = mean - 5 - 8 * turn + rng.normal(0, 2.5, n)
    return low, low + rng.uniform(5, 14, n)


def site(low, high, latitude=40.0, **more):
    return SiteDays(low, high, np.datetime64("2000-01-01"), latitude, **more)


@FEW
@given(SEEDS, st.sampled_from([40.0, -40.0]))
def test_years_that_come_again_bring_the_same(seed, latitude):
    """Four years three times over: what a start of the middle ones gives, it gives four years later; so do the years of
    a perennial, whose odds stay what they were."""
    low, high = days(seed, latitude=latitude)
    again = site(np.tile(low, 3), np.tile(high, 3), latitude)
    for name in OF_ALL_HABITS:
        outcome = seasons(again, BOOK[name], BOOK[name].ways[0])
        one, other = (outcome.yield_fraction[a : a + FOUR] for a in (300, 300 + FOUR))
        both = np.isfinite(one) & np.isfinite(other)
        assert both.sum() > 900
        np.testing.assert_allclose(one[both], other[both], atol=1e-9)
    for name in PERENNIALS:
        years = perennial_years(again, BOOK[name])
        place = {y: k for k, y in enumerate(years.years)}
        for y in range(2002, 2006):
            assert years.crop[place[y]] == pytest.approx(years.crop[place[y + 4]], nan_ok=True)
        every = years.years.size // 4 * 4
        whole = replace(
            years,
            **{k: getattr(years, k)[:every] for k in ("years", "crop", "alive", "first", "last", "growth")},
            shares={h: s[:every] for h, s in years.shares.items()},
            figures={f: v[:every] for f, v in years.figures.items()},
            winter_growth=np.broadcast_to(years.winter_growth, years.years.shape)[:every],
        )
        if not np.isfinite(whole.crop).all():
            continue
        verdict = rate_perennial(BOOK[name], whole, BOOK)
        assert 0.0 <= (verdict.reliability or 0.0) <= 1.0


@FEW
@given(SEEDS, st.floats(0.1, 4.0))
def test_warming_adds_no_frost(seed, by):
    """Fewer days of frost in every year, no plant killed by winter that lived, no night colder."""
    low, high = days(seed, mean=9.0)
    time = np.datetime64("2000-01-01") + np.arange(low.size)
    record = daily_record(time, {"tasmin": low, "tasmax": high}, latitude=40.0)
    warmer = with_what_ifs(record, [f"warmer={by:.3f}"])
    years = time.astype("datetime64[Y]").astype(int)
    cold, mild = (np.bincount(years - years[0], r["tasmin"] < 0.0) for r in (record, warmer))
    assert (mild <= cold).all()
    told = [np.nansum(frost_days(r["tasmin"], time=time, latitude=40.0)) for r in (record, warmer)]
    assert told[1] <= told[0]
    here, there = (SiteDays.from_record(r) for r in (record, warmer))
    for name in PERENNIALS:
        crop = BOOK[name]
        # warmth moves the end of rest and the bloom, and so what frost they meet: that is no law
        still = replace(crop.perennial, budburst_thermal_time=np.nan)
        bare = replace(crop, blossom=None, chill=(), perennial=still)
        one, other = (perennial_years(s, bare).shares["winter kill"] for s in (here, there))
        assert (other >= one - 1e-9).all()


@FEW
@given(SEEDS, st.integers(0, 100))
def test_rows_in_any_order_are_one_record(tmp_path_factory, seed, turn):
    low, high = days(seed, years=1)
    rows = [
        f"{np.datetime64('2001-01-01') + k},{a:.1f},{b:.1f}" for k, (a, b) in enumerate(zip(low, high, strict=True))
    ]
    mixed = rows.copy()
    random.Random(turn).shuffle(mixed)
    folder = tmp_path_factory.mktemp("rows")
    out = []
    for name, some in (("sorted", rows), ("mixed", mixed)):
        (folder / f"{name}.csv").write_text("date,tmin,tmax\n" + "\n".join(some) + "\n")
        out.append(read_csv(folder / f"{name}.csv", temperature_unit="degC"))
    assert (out[0].time == out[1].time).all()
    for variable in ("tasmin", "tasmax"):
        np.testing.assert_array_equal(out[0][variable], out[1][variable])


@pytest.mark.parametrize("unit", ["degF", "K"])
def test_degrees_of_any_unit_are_one_record_and_one_answer(tmp_path, unit):
    low, high = (np.round(x, 1) for x in days(11))
    out = []
    for name in ("degC", unit):
        there = {"degC": lambda c: c, "degF": lambda c: c * 1.8 + 32, "K": lambda c: c + 273.15}[name]
        rows = [f"{np.datetime64('2000-01-01') + k},{there(a):.4f},{there(b):.4f}" for k, (a, b) in
                enumerate(zip(low, high, strict=True))]  # fmt: skip
        (tmp_path / f"{name}.csv").write_text("date,tmin,tmax\n" + "\n".join(rows) + "\n")
        record = read_csv(tmp_path / f"{name}.csv", temperature_unit=name)
        np.testing.assert_allclose(record["tasmin"], low, atol=1e-3)
        out.append(crop_seasons(SiteDays.from_record(replace(record, latitude=40.0)), [BOOK["radish"]]))
    one, other = (lines[0].starts[0] for lines in out)
    assert [(w.start, w.end) for w in one.possible] == [(w.start, w.end) for w in other.possible]
    np.testing.assert_allclose(one.reliability, other.reliability, atol=0.26)  # a last bit may decide a year in four


def since(day, origin):
    return (day - origin) % 365


@FEW
@given(SEEDS, st.sampled_from([40.0, -40.0]))
def test_odds_windows_and_the_five_dates_stand_in_their_order(seed, latitude):
    low, high = days(seed, years=8, latitude=latitude)
    for line in crop_seasons(site(low, high, latitude), [BOOK[name] for name in OF_ALL_HABITS]):
        for way in line.starts:
            odds = way.reliability[np.isfinite(way.reliability)]
            assert ((odds >= 0) & (odds <= 1 + 1e-12)).all()
            for w in (*way.windows, *way.possible):
                assert 0 <= w.interval[0] <= w.reliability <= w.interval[1] <= 1 + 1e-12
                assert since(w.best, w.start) <= since(w.end, w.start)
                if w.first_picking:
                    p = w.first_picking
                    assert since(p.p50, p.p10) <= since(p.p90, p.p10)
            possible = {(w.start + k) % 365 for w in way.possible for k in range(since(w.end, w.start) + 1)}
            advised = {(w.start + k) % 365 for w in way.windows for k in range(since(w.end, w.start) + 1)}
            assert advised <= possible
            for a in way.advice:
                best = {(a.best_start + k) % 365 for k in range(since(a.best_end, a.best_start) + 1)}
                assert len(best) <= 14
                assert best <= advised
                assert a.earliest_safe is None or a.earliest_safe in advised
                assert set(a.succession) <= advised
                if a.last_chance is not None:
                    assert since(a.best_end, a.best_start) <= since(a.last_chance, a.best_start) < 300
                if a.earliest_safe is not None and a.last_chance is not None:
                    assert since(a.best_end, a.earliest_safe) <= since(a.last_chance, a.earliest_safe) < 364


@FEW
@given(SEEDS)
def test_half_a_year_and_the_other_hemisphere_are_one_perennial(seed):
    """The same days half a year on, south of the equator: the same years, but for the halves' length and the light."""
    low, high = days(seed, years=6)
    for name in ("globe artichoke (seed-grown)", "orange", "fig"):
        crop = BOOK[name]
        north = perennial_years(site(low, high), crop)
        south = perennial_years(SiteDays(low, high, np.datetime64("2000-07-02"), -40.0), crop)
        both = min(north.crop.size, south.crop.size)
        for hazard in north.shares.keys() & {"winter kill", "summer kill", "heat", "too slow"}:
            one, other = north.shares[hazard][-both:], south.shares[hazard][-both:]
            assert np.abs(one - other).max() < 0.35
            assert abs(one.mean() - other.mean()) < 0.12
        verdicts = [rate_perennial(crop, years, BOOK) for years in (north, south)]
        assert abs((verdicts[0].reliability or 0) - (verdicts[1].reliability or 0)) <= 0.41
