"""Parts of a season in progress from made-up sowings and windows, each told beside it."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import pytest

from sowcal.crops.handbook import handbook
from sowcal.season_progress import _bed_area, _best, _instead, _sowing_now

TODAY = dt.date(2026, 4, 11)  # day 100 of the year


def window(start, best, end, works=0.9, brings=1.0, wait=60):
    picking = None if wait is None else SimpleNamespace(days_after_start=wait)
    return SimpleNamespace(
        start=start, best=best, end=end, reliability=works, yield_fraction=brings, first_picking=picking
    )


def asked(*windows, lines=None):
    return SimpleNamespace(today=TODAY, windows=lambda crop, way: windows, lines=lines or {}, book=handbook())


def sown(crop="radish", in_bed=TODAY, ended=None, events=(), way="sown outdoors", **more):
    made = {"crop": crop, "in_bed": in_bed, "ended": ended, "way": way, "on": lambda what: what in events}
    return SimpleNamespace(**(made | more))


@pytest.mark.parametrize(
    ("windows", "best"),
    [
        ([window(80, 90, 110)], -10),
        (
            [window(80, 90, 110), window(150, 101, 160)],
            -10,
        ),  # the window that holds the start goes before a nearer best
        ([window(20, 30, 40), window(150, 160, 170)], 60),
        ([window(330, 345, 20)], -120),  # the short way round
    ],
)
def test_the_best_day_of_the_window_that_holds_a_start_else_the_nearest(windows, best):
    day, picked = _best(sown(), asked(*windows))
    assert day == TODAY + dt.timedelta(best)
    assert picked == day + dt.timedelta(60)


def test_a_start_under_cover_is_held_against_today_and_no_window_is_none():
    assert _best(sown(in_bed=None), asked(window(80, 90, 110)))[0] == TODAY - dt.timedelta(10)
    assert _best(sown(), asked()) is None
    assert _best(sown(), asked(window(80, 90, 110, wait=None)))[1] is None


def test_what_has_ended_is_lost_or_cleared_and_what_cannot_be_followed_says_why():
    assert _sowing_now(sown(ended=TODAY, events=("lost",)), asked())[0].stage == "lost"
    assert _sowing_now(sown(ended=TODAY), asked())[0].stage == "cleared"
    tree, nothing = _sowing_now(sown("fig", way="planted"), asked())
    assert (tree.stage, nothing) == ("cannot say", None)
    assert "lives for years" in tree.note
    assert "handbook lacks" in _sowing_now(sown(way="planted"), asked())[0].note


def test_in_place_of_what_is_lost_the_same_crop_then_what_works_most():
    def line(crop, *windows):
        return SimpleNamespace(crop=crop, starts=[SimpleNamespace(way="sown outdoors", windows=windows)])

    lines = {
        "a": line("a", window(90, 95, 100, works=0.8)),
        "b": line("b", window(113, 120, 130, works=0.95)),  # opens in thirteen days
        "c": line("c", window(114, 120, 130, works=1.0)),  # in fourteen
        "radish": line("radish", window(80, 90, 110, works=0.5)),
        "d": line("d", window(80, 90, 110, works=0.9, brings=0.8)),
    }
    found = _instead(sown(), asked(lines=lines))
    assert found == ("radish (sown outdoors)", "b (sown outdoors)", "a (sown outdoors)")


def test_the_part_of_a_bed_that_a_sowing_has():
    crop = handbook()["radish"]
    each = crop.garden.row_spacing * crop.garden.plant_spacing / 1e4
    beds = {"1": (4.0, 0.8)}
    assert _bed_area(SimpleNamespace(bed="Bed 1", plants=None), crop, beds, 2) == (2.0, 0.8)
    assert _bed_area(SimpleNamespace(bed="1", plants=10), crop, beds, 2) == (pytest.approx(10 * each), 0.8)
    assert _bed_area(SimpleNamespace(bed="1", plants=10**6), crop, beds, 2) == (4.0, 0.8)
    assert _bed_area(SimpleNamespace(bed="9", plants=10), crop, beds, 2) == (pytest.approx(10 * each), 1.0)
    assert _bed_area(SimpleNamespace(bed="9", plants=None), crop, beds, 2) == (1.0, 1.0)
