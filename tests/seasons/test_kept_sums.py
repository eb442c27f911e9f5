"""A site keeps sums that several crops share: whichever crop is asked for first, each has its own answer."""

from __future__ import annotations

import numpy as np
from by_hand import place

from sowcal.crops.handbook import handbook
from sowcal.seasons.season import missing_values, seasons


def test_no_crop_answers_with_another_ones_sums():
    """All crops and ways of the handbook on one site, in its order and backwards."""
    asked = [
        (crop, way)
        for crop in handbook().values()
        if crop.growth.habit
        for way in crop.ways
        if not missing_values(crop, way)
    ]
    assert len(asked) > 100
    forward, backward = place(years=2), place(years=2)
    there = [seasons(forward, crop, way) for crop, way in asked]
    back = [seasons(backward, crop, way) for crop, way in reversed(asked)][::-1]
    for (crop, way), a, b in zip(asked, there, back, strict=True):
        for column in ("yield_fraction", "first", "last", "hazard"):
            np.testing.assert_array_equal(
                getattr(a, column), getattr(b, column), err_msg=f"{crop.name}, {way.way}: {column}"
            )
