"""Generated years against the real record whose normals they were made from.

What a generator of the kind of Richardson (1981, Water Resources Research 17, 182-190) keeps by its make: means,
spread of days, chance of wet days, and a lag-one persistence near the 0.567 (days) and 0.504 (nights) plus cross terms
of his averages over the United States. What it does not: the spread among years, and tails that lean to one side.
The tolerances say how far: they are our own, and the last tests hold the figures that users are told.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import generator
import numpy as np
import pytest

STATIONS = ("a_coruna", "five_points_ca", "irkutsk", "palma", "san_diego_ca", "seville")


@cache
def found(folder: str) -> dict[str, generator.Likeness]:
    return {one.station: one for one in generator.stations(Path(folder), only=STATIONS)}


@pytest.fixture(scope="module")
def likeness(reference_folder):
    return found(str(reference_folder))


@pytest.mark.parametrize("station", STATIONS)
def test_what_is_kept(likeness, station):
    one = likeness[station]
    assert one.mean <= 0.3  # K, any month of either temperature; the error of 300 years' monthly mean is about 0.1
    assert abs(np.log(one.spread)) <= np.log(1.1)
    assert one.wet_share <= 0.02
    assert abs(one.rain - 1.0) <= 0.03


@pytest.mark.parametrize("station", STATIONS)
def test_persistence_is_the_united_states_of_1981(likeness, station):
    """One pair of matrices serves everywhere: nights 0.67, days 0.53 to 0.60; real records lie within 0.2 of it."""
    one = likeness[station]
    assert one.lag_night[1] == pytest.approx(0.66, abs=0.02)
    assert 0.5 <= one.lag_day[1] <= 0.63
    for real, made in (one.lag_night, one.lag_day):
        assert abs(real - made) <= 0.2
    assert abs(one.wet_after_wet[0] - one.wet_after_wet[1]) <= 0.12


def test_what_falls_short_is_what_users_are_told(likeness):
    """The figures of the module's words: years too much alike, hot and cold extremes up to 5 K off to either side."""
    ratio = [one.year_spread[1] / one.year_spread[0] for one in likeness.values()]
    assert 0.45 <= np.median(ratio) <= 0.7
    hot = [one.hottest[1] - one.hottest[0] for one in likeness.values()]
    cold = [one.coldest[1] - one.coldest[0] for one in likeness.values()]
    assert min(hot) == pytest.approx(-4.9, abs=0.5)  # A Coruna's hot winds
    assert max(hot) <= 3.5
    assert max(np.abs(hot + cold)) <= 5.4
    dry = [one.dry_spell[1] / one.dry_spell[0] for one in likeness.values()]
    assert 0.7 <= np.median(dry) <= 1.0
