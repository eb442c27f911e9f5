"""Days taken from a record never turn an answer into another one: what rests on them becomes undecided.

For every crop, way and hemisphere, for days cut off at the end or the beginning and for gaps inside, each start day of
each year keeps its yield, success, hazard and pickings, or is left out of the odds.
"""

from __future__ import annotations

import csv
import os
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sowcal.crops.handbook import handbook
from sowcal.seasons.perennial_years import perennial_years
from sowcal.seasons.season import missing_values, seasons
from sowcal.seasons.site_days import SiteDays
from sowcal.weather.open_site import open_weather

BOOK = handbook()
ANNUALS = [(c, w) for c in BOOK.values() if c.perennial is None for w in c.ways if not missing_values(c, w)]
PERENNIALS = [c for c in BOOK.values() if c.perennial is not None]
REFERENCE = os.environ.get("SOWCAL_REFERENCE")
YEARS = 9  # of each record: enough for years before, in and after what is cut
PLACES = ["sallowdene", "wrackhythe", "sallowdene, south", "seville", "perth", "de_bilt"]


@cache
def days_of(name: str) -> tuple[np.ndarray, np.ndarray, np.datetime64, float]:
    """Minima, maxima, first day and latitude of nine years of a place."""
    plot, _, south = name.partition(", ")
    if plot in ("sallowdene", "wrackhythe"):
        data = open_weather(plot)[1]
        low, high = data["tasmin"], data["tasmax"]
        latitude = data.latitude
        first = data.time[0].astype("datetime64[D]")
        if south:  # the same weather half a year on, as far south of the equator
            low, high, latitude = low[182:], high[182:], -latitude
        return low[: 365 * YEARS], high[: 365 * YEARS], first, latitude
    if REFERENCE is None:
        pytest.skip("SOWCAL_REFERENCE names no folder of station records")
    folder = Path(REFERENCE) / "weather"
    with (folder / "stations.csv").open(encoding="utf-8") as table:
        latitude = next(float(r["latitude"]) for r in csv.DictReader(table) if r["station"] == plot)
    with (folder / f"{plot}.csv").open(encoding="utf-8") as table:
        rows = list(csv.DictReader(table))[: 365 * YEARS]
    low, high = (np.array([float(r[k] or "nan") for r in rows]) for k in ("tmin", "tmax"))
    return low, high, np.datetime64(rows[0]["date"]), latitude


@cache
def whole(name: str) -> tuple[SiteDays, list]:
    """Every annual's seasons on the whole record."""
    site = SiteDays(*days_of(name))
    return site, [seasons(site, crop, way) for crop, way in ANNUALS]


def cut(name: str, begin: int, end: int, gap: tuple[int, int] | None) -> SiteDays:
    """The days from `begin` to `end` - 1, those of a gap missing."""
    low, high, first, latitude = days_of(name)
    low, high = low[begin:end].copy(), high[begin:end].copy()
    if gap:
        low[gap[0] : gap[1]] = high[gap[0] : gap[1]] = np.nan
    return SiteDays(low, high, first + begin, latitude)


def turned(name: str, begin: int, end: int, gap: tuple[int, int] | None) -> list[str]:
    """Start days that answer otherwise on the cut record, a line for each crop and way that has any."""
    full_site, full = whole(name)
    site = cut(name, begin, end, gap)
    out = []
    for (crop, way), all_days in zip(ANNUALS, full, strict=True):
        some = seasons(site, crop, way)
        decided = np.isfinite(some.yield_fraction)
        here = np.flatnonzero(decided)
        there = here + begin
        before = all_days.yield_fraction[there]
        wrong = ~(np.abs(some.yield_fraction[here] - before) <= 1e-9)  # NaN before: undecided on more days
        success = full_site.settings.least_yield
        wrong |= (some.yield_fraction[here] >= success) != (before >= success)
        wrong |= some.hazard[here] != all_days.hazard[there]
        bears = some.yield_fraction[here] > 0
        wrong |= bears & (some.first[here] + begin != all_days.first[there])
        wrong |= bears & (some.last[here] + begin != all_days.last[there])
        if wrong.any():
            k = here[wrong][0]
            out.append(
                f"{crop.name}, {way.way}: {wrong.sum()} start days, such as {site.dates[k]}: "
                f"{all_days.yield_fraction[k + begin]:.3f} became {some.yield_fraction[k]:.3f}, hazards "
                f"{all_days.hazard[k + begin]}, {some.hazard[k]}, pickings {all_days.first[k + begin] - begin}, "
                f"{some.first[k]}, {all_days.last[k + begin] - begin}, {some.last[k]} of {site.size}"
            )
    return out


def spread(cuts: list) -> list[tuple]:
    """Half of all places and cuts, every second, so that each place has half the cuts and each cut half the places.

    The law is one for all of them; `test_any_cut` draws others.
    """
    return [(name, c) for p, name in enumerate(PLACES) for k, c in enumerate(cuts) if (p + k) % 2 == 0]


@pytest.mark.parametrize(("name", "end"), spread([365 * 5 + 90, 365 * 5 + 181, 365 * 5 + 272, 365 * 6 + 1]))
def test_days_cut_off_at_the_end(name, end):
    assert turned(name, 0, end, None) == []


@pytest.mark.parametrize(("name", "begin"), spread([1, 59, 120, 200, 301]))
def test_days_cut_off_at_the_beginning(name, begin):
    assert turned(name, begin, days_of(name)[0].size, None) == []


@pytest.mark.parametrize(("name", "gap"), spread([(700, 708), (800, 860), (975, 1012), (1100, 1400)]))
def test_days_lost_inside(name, gap):
    assert turned(name, 0, days_of(name)[0].size, gap) == []


@settings(max_examples=12, deadline=None, derandomize=True)
@given(st.sampled_from(PLACES[:3]), st.integers(0, 900), st.integers(1200, 365 * YEARS), st.integers(8, 200), st.data())
def test_any_cut(name, begin, end, length, data):
    """A beginning, an end and a gap drawn together."""
    at = data.draw(st.integers(0, end - begin - length))
    assert turned(name, begin, end, (at, at + length)) == []


@pytest.mark.parametrize("name", PLACES)
def test_years_of_perennials(name):
    """Each growing year of every perennial, whatever is cut."""
    full = SiteDays(*days_of(name))
    size = full.size
    for begin, end, gap in (
        (0, 2006, None),
        (0, 2191, None),
        (1, size, None),
        (250, size, None),
        (0, size, (800, 860)),
    ):
        site = cut(name, begin, end, gap)
        for crop in PERENNIALS:
            before, after = perennial_years(full, crop), perennial_years(site, crop)
            both = np.isin(before.years, after.years)
            decided = np.isfinite(after.crop)
            assert decided.any(), crop.name
            for what in ("crop", "alive", "first", "last", "growth"):
                was, now = getattr(before, what)[both][decided], getattr(after, what)[decided]
                shift = begin if what in ("first", "last", "growth") else 0
                bears = (after.crop[decided] > 0) | (shift == 0)
                np.testing.assert_allclose(
                    (now + shift)[bears], was[bears], atol=1e-9, err_msg=f"{crop.name}: {what}, {begin} to {end}, {gap}"
                )
            for hazard, share in after.shares.items():
                was = before.shares[hazard][both][decided]
                np.testing.assert_allclose(share[decided], was, atol=1e-9, err_msg=f"{crop.name}: {hazard}")


def test_enough_is_still_decided():
    """The other side of the same coin: a cut costs the start days near it, not the years before."""
    _, full = whole("sallowdene")
    site = cut("sallowdene", 0, 365 * 7, None)
    for (crop, way), all_days in zip(ANNUALS, full, strict=True):
        early = slice(200, 365 * 5)
        lost = np.isfinite(all_days.yield_fraction[early]) & ~np.isfinite(
            seasons(site, crop, way).yield_fraction[early]
        )
        assert not lost.any(), f"{crop.name}, {way.way}: {lost.sum()} start days two years before the end"
