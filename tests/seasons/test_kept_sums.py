"""A site keeps sums that several crops share: whichever crop is asked for first, each has its own answer."""

from __future__ import annotations

import numpy as np
from by_hand import place

from sowcal.crops.handbook import handbook
from sowcal.seasons.season import missing_values, seasons
from sowcal.suitability.verdicts import judge_crops


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


def test_sums_let_go_are_made_again_and_no_answer_moves():
    """The longest unused go first; what is made of a sum that was let go is never taken for that of another."""
    site, lean = place(years=2), place(years=2)
    crops = [c for c in handbook().values() if c.growth.habit and not missing_values(c, c.ways[0])][::6]
    for crop in crops * 2:
        ways = [way for way in crop.ways if not missing_values(crop, way)]
        there, again = seasons(site, crop, ways[0]), seasons(lean, crop, ways[0])
        lean.let_go(0)
        np.testing.assert_array_equal(there.yield_fraction, again.yield_fraction, err_msg=crop.name)
        np.testing.assert_array_equal(there.last, again.last, err_msg=crop.name)
    made = []
    for name in ("one", "two", "one", "three"):
        site.keep((name,), lambda name=name: made.append(name) or np.zeros(10))
    site.let_go(160)
    for name in ("one", "three", "two"):
        site.keep((name,), lambda name=name: made.append(name) or np.zeros(10))
    assert made == ["one", "two", "three", "two"]


def test_crops_are_told_in_the_order_asked_however_they_are_judged():
    """They are judged as they share sums; what no other crop asks for is let go, however much may be kept."""
    book, site = handbook(), place(years=4)
    crops = [book[name] for name in ("pear", "tomato (large)", "radish", "olive", "broad bean", "garlic (hardneck)")]
    there = judge_crops(site, crops, book, calendar=False)
    back = judge_crops(place(years=4), crops[::-1], book, calendar=False)[::-1]
    assert [line.crop for line, _ in there] == [verdict.crop for _, verdict in there] == [crop.name for crop in crops]
    assert [verdict for _, verdict in there] == [verdict for _, verdict in back]
    made = []
    for name in ("gathered", "thermal"):
        site.keep((name, "one"), lambda name=name: made.append(name) or np.zeros(10))
    site.let_go(10**9)
    for name in ("gathered", "thermal"):
        site.keep((name, "one"), lambda name=name: made.append(name) or np.zeros(10))
    assert made == ["gathered", "thermal", "gathered"]
