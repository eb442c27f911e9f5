"""The week out of hand-drawn charts whose answers can be read off, and against a day-by-day count of the windows."""

import datetime as dt
import json
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sowcal.answers import sowing_chart
from sowcal.outputs.json_form import week_json
from sowcal.outputs.reports import job_sentence, week_text
from sowcal.outputs.terminal import screen_width
from sowcal.suitability.results import (
    Advice,
    CropSeasons,
    FirstPicking,
    Outside,
    Record,
    SowingChart,
    WayResult,
    Window,
)
from sowcal.suitability.week import (
    CHANCES,
    GROUPS,
    JOBS,
    days_picked,
    short_week,
    standings,
    week_of,
    window_jobs,
    with_log,
)

RECORD = Record("1991-01-01", "2020-12-31", 30.0, "generated")
DAYS = np.arange(365)


def span(first, last):
    """Whether each day of the year lies in a span, drawn by walking it day by day."""
    inside, day = np.zeros(365, dtype=bool), first
    while True:
        inside[day] = True
        if day == last:
            return inside
        day = (day + 1) % 365


def window(first, last, best, cover=0):
    lead = ((first - cover) % 365, (last - cover) % 365) if cover else None
    picking = FirstPicking((best + 60) % 365, (best + 70) % 365, (best + 80) % 365, 70)
    return Window(first, last, best, 0.9, (0.7, 0.97), 30, 0.95, lead, picking)


def line(crop, way, windows, outside=(), works=None, picking=None):
    """One crop of one way; it works in the windows, or in `works`, and nowhere else."""
    reliability = np.zeros(365)
    for w in works or [(w.start, w.end) for w in windows]:
        reliability[span(*w)] = 0.9
    return CropSeasons(
        crop, "family", (WayResult(way, tuple(windows), tuple(windows), tuple(outside), reliability, None, picking),)
    )


def chart(*lines):
    return SowingChart("Made-up Nook (invented)", 38.0, RECORD, 0.8, tuple(lines))


BROAD_BEAN = line(
    "broad bean",
    "sown outdoors",
    [window(280, 40, 330)],
    [Outside(41, 240, "heat", 0.9), Outside(241, 279, "bolting", 0.6)],
)
TOMATO = line(
    "tomato (large)",
    "set out",
    [window(95, 160, 120, 56)],
    [Outside(161, 300, "too slow", 0.9), Outside(301, 94, "frost", 0.9)],
)


def only(week, job):
    (found,) = [j for j in week.jobs if j.job == job]
    return found


def test_last_safe_week_names_the_hazard_beyond():
    job = only(week_of(chart(BROAD_BEAN), 36), "sow outdoors")
    assert (job.chance, job.beyond, job.hazard, job.end) == ("last", "hazard", "heat", 40)
    assert job_sentence(job) == "Last advised week to sow broad bean outdoors, till 10 Feb; later: heat too great."


def test_first_safe_week_names_the_hazard_before():
    job = only(week_of(chart(TOMATO), 92), "set out")
    assert (job.chance, job.hazard) == ("first", "frost")
    assert job_sentence(job) == (
        "First advised week to set out tomato (large), from 6 Apr, best about 1 May; earlier: killed by frost."
    )


def test_raising_under_cover_is_told_weeks_ahead_of_setting_out():
    job = only(week_of(chart(TOMATO), 39), "raise under cover")
    assert (job.start, job.end, job.chance, job.hazard) == (39, 104, "first", "frost")
    assert job.best == 120 - 56


@pytest.mark.parametrize(
    ("day", "chance"),
    [
        (33, None),
        (34, "last"),
        (40, "last"),
        (41, None),
        (273, None),
        (274, "open"),  # it opens seven weeks before its best day: no first chance yet
        (280, "open"),
        (281, "open"),
        (325, "best"),
        (331, "open"),
        (10, "open"),
    ],
)
def test_each_day_of_a_window_over_new_year(day, chance):
    jobs = [j for j in week_of(chart(BROAD_BEAN), day).jobs if j.job == "sow outdoors"]
    told = jobs[0].chance if jobs else None
    assert told == ("open" if day == 33 else chance)


def test_a_window_within_the_week_is_the_only_chance():
    job = only(week_of(chart(line("pea", "sown outdoors", [window(102, 105, 103)])), 100), "sow outdoors")
    assert job.chance == "only"
    assert "Only advised week to sow pea outdoors, 13 Apr to 16 Apr" in job_sentence(job)


def test_an_edge_that_yield_sets_is_not_laid_on_a_hazard():
    crop = line("kale", "sown outdoors", [window(50, 90, 70)], [Outside(131, 19, "heat", 0.9)], works=[(20, 130)])
    job = only(week_of(chart(crop), 88), "sow outdoors")
    assert (job.beyond, job.hazard) == ("crop", "heat")
    assert "later: poorer or slower, then heat too great" in job_sentence(job)


def test_a_short_pause_is_no_last_chance_and_a_long_one_says_when_again():
    near = line("chard", "sown outdoors", [window(20, 80, 50), window(95, 150, 120)])
    assert only(week_of(chart(near), 76), "sow outdoors").chance == "open"
    far = line("radish", "sown outdoors", [window(20, 80, 50), window(240, 300, 270)])
    job = only(week_of(chart(far), 76), "sow outdoors")
    assert (job.chance, job.again) == ("last", 240)
    assert "again from 29 Aug" in job_sentence(job)


def test_a_window_of_all_year_never_opens_or_closes():
    crop = chart(line("chard", "sown outdoors", [window(0, 364, 100)]))
    chances = {only(week_of(crop, d), "sow outdoors").chance for d in range(365) if not 94 <= d <= 100}
    assert chances == {"open"}


def test_a_perennials_planting_months_are_custom():
    start = WayResult(
        "planted", (window(300, 60, 0),), (window(300, 60, 0),), (Outside(61, 299, "chill unmet", 0.0),), None
    )
    job = only(week_of(chart(CropSeasons("asparagus", "lily", (start,))), 58), "plant")
    assert (job.beyond, job.hazard) == ("custom", None)


def test_picking_follows_the_odds_of_the_chart():
    odds = np.where(span(170, 250), 0.7, 0.2)
    crop = chart(line("tomato (large)", "set out", [window(95, 160, 120)], picking=odds))
    assert only(week_of(crop, 165), "pick").chance == "first"
    assert only(week_of(crop, 250), "pick").chance == "last"
    assert not [j for j in week_of(crop, 251).jobs if j.job == "pick"]


def test_last_chances_with_a_hazard_come_first():
    poorer = line("a", "sown outdoors", [window(10, 40, 20)], works=[(10, 100)])
    stopped = line("z", "sown outdoors", [window(10, 40, 20)], [Outside(41, 9, "heat", 0.9)])
    opening = line("b", "sown outdoors", [window(38, 100, 60)])
    assert [j.crop for j in week_of(chart(opening, poorer, stopped), 36).jobs] == ["z", "a", "b"]


def test_weeks_ahead_and_the_soonest_where_nothing_is_near():
    both = chart(TOMATO)
    assert [j.start for j in week_of(both, 20, 3).coming] == [39]
    assert [j.start for j in week_of(both, 200).coming] == [39]  # nothing now: the soonest of the year
    assert "OPENING NEXT" in week_text(week_of(both, 200))
    with pytest.raises(ValueError, match="no day of the year"):
        week_of(both, 365)
    with pytest.raises(ValueError, match="weeks ahead"):
        week_of(both, 0, 52)


def test_three_weeks_ahead_are_the_twenty_one_days_behind_this_week():
    """From day 350 on: 28 days later is day 13 of the next year, which is no longer told."""
    opens = [
        line(name, "sown outdoors", [window(first, first + 20, first + 10)]) for name, first in (("a", 12), ("b", 13))
    ]
    week = week_of(chart(*opens), 350, 3)
    assert (week.start, week.end, week.jobs) == (350, 356, ())
    assert [j.crop for j in week.coming] == ["a"]
    assert [j.crop for j in week_of(chart(*opens), 351, 3).coming] == ["a", "b"]


@given(st.integers(0, 364), st.integers(0, 364), st.integers(0, 364), st.integers(0, 6))
def test_told_now_just_where_a_day_of_the_week_lies_in_the_window(first, last, day, ahead):
    crop = chart(line("pea", "sown outdoors", [window(first, last, first)]))
    week = week_of(crop, day, ahead)
    inside = span(first, last)
    now = bool(inside[(day + np.arange(7)) % 365].any())
    assert bool(week.jobs) == now
    if not now:
        assert [j.start for j in week.coming] == [first]  # soon, or else the soonest of the year
    for job in week.jobs:
        assert job.chance in CHANCES
        assert job.job in JOBS


@pytest.mark.parametrize("width", [60, 80, 100])
@pytest.mark.parametrize("day", [0, 60, 105, 250, 300])
def test_the_screen_is_kept_and_hostile_names_are_harmless(width, day):
    names = ["x" * 90, "\x1b[31mred\r\nNOT A LINE", "苗" * 40, "é" * 12]
    lines = [
        line(n, "sown outdoors", [window((day + k) % 365, (day + 40) % 365, (day + 20) % 365)])
        for k, n in enumerate(names * 4)
    ]
    for unicode in (True, False):
        text = week_text(week_of(chart(*lines), day, 1), width=width, unicode=unicode)
        assert all(screen_width(t) <= width for t in text.split("\n"))
        assert "\x1b" not in text
        assert unicode or text.isascii()
        assert len(text.split("\n")) < 60
    json.dumps(week_json(week_of(chart(*lines), day, 1)), allow_nan=False)


def with_fortnight(found, first, last):
    """The line with a best fortnight in its one way of starting."""
    (start,) = found.starts
    advice = Advice("spring", first, last, None, None, None, None, None, None, (), ())
    return replace(found, starts=(replace(start, advice=(advice,)),))


@pytest.mark.parametrize(("day", "chance"), [(92, "open"), (93, "best"), (112, "best"), (113, "open")])
def test_the_best_fortnight_is_the_best_time_and_not_its_middle_alone(day, chance):
    crop = with_fortnight(line("leek", "sown outdoors", [window(60, 200, 105)]), 99, 112)
    assert only(week_of(chart(crop), day), "sow outdoors").chance == chance


def test_the_best_fortnight_of_setting_out_is_carried_back_to_the_sowing_under_cover():
    crop = with_fortnight(TOMATO, 110, 123)  # set out from day 95 to 160, sown 56 days before
    told = {d: only(week_of(chart(crop), d), "raise under cover").chance for d in (46, 47, 54, 67, 68)}
    assert told == {46: "open", 47: "open", 54: "best", 67: "best", 68: "open"}


def test_a_short_week_holds_a_dozen_jobs_last_chances_and_best_first_and_counts_the_rest():
    last = [line(f"last {k}", "sown outdoors", [window(10, 40, 20)]) for k in range(7)]
    best = [line(f"best {k}", "sown outdoors", [window(10, 200, 38)]) for k in range(7)]
    rest = [line(f"open {k}", "sown outdoors", [window(10, 200, 150)]) for k in range(7)]
    week = week_of(chart(*rest, *best, *last), 36)
    short = short_week(week)
    assert [j.chance for j in short.jobs] == ["last"] * 7 + ["best"] * 5
    assert short.left_out == len(week.jobs) - 12 == 9
    assert "9 jobs more" in week_text(short)
    assert "open 3" in week_text(week)
    alone = short_week(week_of(chart(*rest), 36))
    assert (alone.jobs, alone.left_out) == ((), 7)
    assert "Nothing is at its best" in week_text(alone)
    assert week_json(short)["left_out"] == 9


@given(st.integers(0, 364), st.integers(0, 364), st.integers(0, 364), st.integers(0, 364))
def test_no_first_chance_is_told_months_before_the_best_day(first, length, best, day):
    """Of the same window a day that is best more than a month after it opens makes no first chance."""
    best %= length + 1
    crop = line("pea", "sown outdoors", [window(first, (first + length) % 365, (first + best) % 365)])
    for job in week_of(chart(crop), day).jobs:
        assert job.chance != "first" or best <= 31


def test_crops_stand_by_what_can_be_done_from_a_day_on():
    now_late = line("now, long open", "sown outdoors", [window(10, 90, 20)])
    now_first = line("now, closes first", "sown outdoors", [window(10, 41, 20)])
    soon = line("soon", "sown outdoors", [window(60, 90, 70)])
    later = line("later", "sown outdoors", [window(20, 30, 25)])
    over = line("over New Year", "sown outdoors", [window(300, 39, 350)])
    chancy = replace(
        line("chancy", "sown outdoors", []),
        starts=(
            replace(
                line("x", "sown outdoors", [window(60, 90, 70)]).starts[0], windows=(), possible=(window(60, 90, 70),)
            ),
        ),
    )
    nothing = replace(chancy, crop="nothing", starts=(replace(chancy.starts[0], possible=()),))
    found = standings(chart(nothing, chancy, later, soon, now_late, now_first, over), 38)
    assert [s.line.crop for s in found] == [
        "over New Year", "now, closes first", "now, long open", "soon", "later", "chancy", "nothing"
    ]  # fmt: skip
    assert [s.group for s in found] == ["now", "now", "now", "soon", "later", "chancy", "not here"]
    assert {s.group for s in found} == set(GROUPS)
    assert (found[0].job, found[0].end) == ("sow outdoors", 39)
    with pytest.raises(ValueError, match="no day of the year"):
        standings(chart(soon), 365)


def test_days_picked_count_those_on_which_it_is_more_likely_than_not():
    odds = np.where(span(170, 250), 0.7, 0.2)
    assert days_picked(line("tomato (large)", "set out", [window(95, 160, 120)], picking=odds)) == 81
    assert days_picked(line("tomato (large)", "set out", [], picking=odds)) == 0
    assert days_picked(line("tomato (large)", "set out", [window(95, 160, 120)])) == 0


def test_a_best_week_lies_at_the_best_day_that_it_tells():
    """Of a window with several seasons the best day told is that of the fortnight which the week touches."""
    found = sowing_chart("sallowdene", ["lettuce (leaf)", "beetroot", "leek"], issued=dt.date(2026, 1, 15))
    told = [(day, j) for day in range(0, 364, 7) for j in week_of(found, day, 0).jobs if j.chance == "best"]
    assert len(told) > 20
    assert all(min((j.best - day) % 365, (day - j.best) % 365) <= 14 for day, j in told if j.job != "pick")


# --- edges by a day ---


@pytest.mark.parametrize(
    ("works_till", "beyond"),
    [(106, "odds"), (107, "crop"), (108, "crop")],  # the week after the window's last day, 100
)
def test_it_works_beyond_an_edge_where_the_whole_week_beyond_does(works_till, beyond):
    leek = line("leek", "sown outdoors", [window(60, 100, 80)], works=[(40, works_till)])
    (job,) = week_of(chart(leek), 98).jobs
    assert (job.chance, job.beyond) == ("last", beyond)


@pytest.mark.parametrize(("works_from", "beyond"), [(54, "odds"), (53, "crop")])
def test_and_before_the_first_day_likewise(works_from, beyond):
    leek = line("leek", "sown outdoors", [window(60, 100, 80)], works=[(works_from, 100)])
    (job,) = week_of(chart(leek), 58).jobs
    assert (job.chance, job.beyond) == ("first", beyond)


@pytest.mark.parametrize(("begins", "told"), [(160, "heat"), (161, None)])
def test_a_hazard_within_sixty_days_explains_an_edge(begins, told):
    leek = line("leek", "sown outdoors", [window(60, 100, 80)], [Outside(begins, 300, "heat", 0.9)])
    (job,) = week_of(chart(leek), 98).jobs
    assert (job.hazard, job.beyond) == (told, "hazard" if told else "odds")


def test_what_opens_on_the_eighth_day_opens_not_this_week():
    leek = line("leek", "sown outdoors", [window(60, 100, 70)])
    week = week_of(chart(leek), 53, ahead=1)
    assert week.jobs == ()
    assert week.coming[0].chance == "open"
    assert week_of(chart(leek), 54).jobs[0].chance == "first"
    assert week_of(chart(leek), 94).jobs[0].chance == "last"
    assert week_of(chart(leek), 93).jobs[0].chance == "open"


def test_the_best_day_is_a_whole_day_in_the_middle_of_its_fortnight():
    leek = line("leek", "sown outdoors", [window(60, 130, 70)])
    told = Advice("spring", 80, 93, None, None, None, None, None, None, (), ())
    leek = replace(leek, starts=(replace(leek.starts[0], advice=(told,)),))
    (job,) = week_of(chart(leek), 84).jobs
    assert (job.best, job.chance) == (86, "best")
    assert isinstance(job.best, int)


def test_what_is_open_all_year_closes_last():
    """Of two crops open now the one that closes stands first, though the other's year is drawn as ending tomorrow."""
    always, soon = (
        line("beet", "sown outdoors", [window(11, 10, 200)]),
        line("leek", "sown outdoors", [window(1, 90, 50)]),
    )
    assert [s.line.crop for s in standings(chart(always, soon), 9)] == ["leek", "beet"]
    both = CropSeasons("both", "family", (*always.starts, *line("x", "set out", [window(1, 90, 50)]).starts))
    (found,) = standings(chart(both), 9)
    assert (found.job, found.end) == ("set out", 90)
    nearly = line("beet", "sown outdoors", [window(11, 9, 200)])  # a day less, and it closes today
    assert [s.line.crop for s in standings(chart(nearly, soon), 9)] == ["beet", "leek"]


@pytest.mark.parametrize(
    ("start", "end", "best", "raised", "sown"),
    [
        (95, 160, 120, (39, 104), 64),  # 56 days before, as at either end
        (95, 160, 120, (39, 80), 55),  # 25 of 65 days are 16 of 41
        (95, 160, 160, (39, 80), 80),
        (10, 50, 30, (330, 360), 345),  # from the year before
        (360, 20, 5, (320, 330), 324),  # ten of 25 days over New Year are four of ten
        (100, 100, 100, (50, 50), 50),
        (100, 101, 101, (50, 60), 60),
    ],
)
def test_seed_is_raised_as_far_into_its_days_as_the_best_day_lies_in_those_of_setting_out(
    start, end, best, raised, sown
):
    told = list(window_jobs("set out", replace(window(start, end, best), raise_under_cover=raised)))
    assert told == [("raise under cover", *raised, sown), ("set out", start, end, best)]
    assert list(window_jobs("planted", window(start, end, best))) == [("plant", start, end, best)]


def test_crops_soon_are_those_whose_first_job_lies_within_six_weeks_and_chancy_ones_stand_by_their_odds():
    def possible(name, *works):
        (start,) = line(name, "sown outdoors", []).starts
        spans = tuple(replace(window(60, 90, 70), reliability=w) for w in works)
        return CropSeasons(name, "family", (replace(start, possible=spans),))

    crops = [
        line("a", "sown outdoors", [window(143, 200, 150)]),
        line("b", "sown outdoors", [window(142, 200, 150), window(300, 320, 310)]),
        line("c", "set out", [window(190, 200, 195, 55)]),  # sown under cover on day 135
        possible("d", 0.5, 0.6), possible("e", 0.7), possible("f", 0.6),
    ]  # fmt: skip
    found = standings(chart(*crops), 100)
    assert [(s.line.crop, s.group) for s in found] == [
        ("c", "soon"), ("b", "soon"), ("a", "later"), ("e", "chancy"), ("d", "chancy"), ("f", "chancy"),
    ]  # fmt: skip
    assert [s.job for s in found[:3]] == ["raise under cover", "sow outdoors", "sow outdoors"]
    assert [s.start for s in found[:3]] == [135, 142, 143]
    assert found[3].job is None
    assert [s.group for s in standings(chart(crops[0]), 0)] == ["later"]
    assert [s.group for s in standings(chart(crops[0]), 364)] == ["later"]
    with pytest.raises(ValueError, match="no day of the year"):
        standings(chart(crops[0]), -1)


def test_jobs_of_a_week_stand_by_chance_then_by_what_lies_beyond_then_by_the_wait():
    """The week from day 36: what closes in it goes before what is at its best, and that before what opens."""
    wait = [window(300, 310, 305)]
    crops = [
        line("opens", "sown outdoors", [window(38, 100, 60)]),
        line("stays, longer", "sown outdoors", [window(10, 90, 80)]),
        line("stays", "sown outdoors", [window(10, 85, 80)]),
        line("best", "sown outdoors", [window(10, 100, 40)]),
        line("last, poorer", "sown outdoors", [window(10, 40, 20)], works=[(10, 100)]),
        line("last, fewer years", "sown outdoors", [window(10, 40, 20)]),
        line("last, and again", "sown outdoors", [window(10, 40, 20), *wait], [Outside(41, 200, "heat", 0.9)]),
        line("last of the year", "sown outdoors", [window(10, 40, 20)], [Outside(41, 9, "heat", 0.9)]),
        line("only", "sown outdoors", [window(37, 40, 38)], [Outside(41, 36, "heat", 0.9)]),
    ]  # fmt: skip
    jobs = week_of(chart(*crops), 36).jobs
    assert [(j.crop, j.chance) for j in jobs] == [
        ("only", "only"), ("last of the year", "last"), ("last, and again", "last"), ("last, fewer years", "last"),
        ("last, poorer", "last"), ("best", "best"), ("opens", "first"), ("stays", "open"), ("stays, longer", "open"),
    ]  # fmt: skip
    assert [j.again for j in jobs if j.crop == "last, and again"] == [300]
    assert [j.beyond for j in jobs[:5]] == ["hazard", "hazard", "hazard", "odds", "crop"]
    always = week_of(chart(line("all year", "sown outdoors", [window(37, 36, 200)]), crops[1]), 36).jobs
    assert [j.crop for j in always] == ["stays, longer", "all year"]  # what never ends closes last


@pytest.mark.parametrize(("chance", "picked"), [(0.5, True), (0.51, True), (0.49, False)])
def test_picking_is_told_where_it_is_as_likely_as_not(chance, picked):
    crop = line("tomato (large)", "set out", [window(95, 160, 120)], picking=np.where(span(170, 250), chance, 0.2))
    jobs = [(j.start, j.end, j.reliability) for j in week_of(chart(crop), 200).jobs if j.job == "pick"]
    assert jobs == ([(170, 250, chance)] if picked else [])
    assert days_picked(crop) == (81 if picked else 0)


def test_picking_is_of_the_way_that_brings_the_best_day_of_the_week_ahead():
    """Day 200 to 206: of the one way all days are even, of the other one is better and the others are worse."""
    even, one_day = np.where(span(150, 300), 0.6, 0.0), np.where(span(150, 300), 0.5, 0.0)
    one_day[206] = 0.8
    one_day[199] = 0.9  # which is over
    first = line("leek", "sown outdoors", [window(20, 60, 40)], picking=even).starts
    second = line("leek", "set out", [window(90, 130, 110)], picking=one_day).starts
    job = only(week_of(chart(CropSeasons("leek", "family", (*first, *second))), 200), "pick")
    assert (job.way, job.reliability, job.best) == ("set out", 0.8, None)
    job = only(week_of(chart(CropSeasons("leek", "family", (*first, *second))), 207), "pick")
    assert (job.way, job.reliability) == ("sown outdoors", 0.6)


def test_picking_of_two_ways_and_of_two_spans_of_the_year():
    """By the one way from day 100 to 149, by the other from 300 to 319: the first span ends, and the next is told."""
    early = line("leek", "sown outdoors", [window(20, 60, 40)], picking=np.where(span(100, 149), 0.8, 0.0)).starts
    late = line("leek", "set out", [window(90, 130, 110)], picking=np.where(span(300, 319), 0.7, 0.0)).starts
    both = CropSeasons("leek", "family", (*early, *late))
    assert days_picked(both) == 70
    for day, chance, again in ((147, "last", 300), (120, "open", 300), (98, "first", 300), (318, "last", 100)):
        job = only(week_of(chart(both), day), "pick")
        assert (job.chance, job.again) == (chance, again)
    soon = line("leek", "set out", [window(1, 9, 5)], picking=np.where(span(170, 319), 0.7, 0.0)).starts
    near = CropSeasons("leek", "family", (*early, *soon))
    assert only(week_of(chart(near), 147), "pick").chance == "open"  # after three weeks it goes on


@pytest.mark.parametrize(("best", "chance"), [(91, "first"), (92, "open")])
def test_a_first_chance_lies_no_more_than_a_month_before_the_best_day(best, chance):
    crop = line("leek", "sown outdoors", [window(60, 200, best)])
    assert only(week_of(chart(crop), 58), "sow outdoors").chance == chance


@pytest.mark.parametrize(("pause", "chances"), [(28, ("open", "open")), (29, ("last", "first"))])
def test_a_pause_of_four_weeks_and_less_makes_no_last_chance_and_no_first(pause, chances):
    """Of two windows over New Year or not: the week in which the one closes, and that in which the other opens."""
    for first in (20, 300):
        opens, closes = (first + 60 + pause) % 365, (first + 60) % 365
        crop = line(
            "leek",
            "sown outdoors",
            [window(first, closes, (first + 30) % 365), window(opens, (opens + 60) % 365, (opens + 10) % 365)],
        )
        found = [
            only(week_of(chart(crop), day), "sow outdoors").chance for day in ((closes - 3) % 365, (opens - 3) % 365)
        ]
        assert tuple(found) == chances


def test_again_is_the_next_of_several_windows():
    crop = line("radish", "sown outdoors", [window(20, 60, 40), window(120, 150, 130), window(240, 300, 270)])
    for day, again in ((58, 120), (148, 240), (298, 20)):
        job = only(week_of(chart(crop), day), "sow outdoors")
        assert (job.chance, job.again) == ("last", again)


# --- with a log ---

THE_DAY = dt.date(2026, 4, 1)  # day 90 of the year


def spread(*days):
    return SimpleNamespace(**dict(zip(("p10", "p50", "p90"), (THE_DAY + dt.timedelta(d) for d in days), strict=True)))


def sowing(crop="leek", started=0, stage="growing", set_out=None, first=None, last=None, in_bed=True, share=0.7):
    sown = SimpleNamespace(
        crop=crop, started=THE_DAY + dt.timedelta(started), in_bed=THE_DAY if in_bed else None, way="set out"
    )
    return SimpleNamespace(
        sown=sown, stage=stage, set_out=set_out, first_picking=first, last_picking=last, picked_share=share
    )


def logged(*sowings, crops=None, day=90, ahead=0):
    crops = crops or (line("leek", "sown outdoors", [window(60, 120, 100)]),)
    return with_log(week_of(chart(*crops), day, ahead), SimpleNamespace(sowings=sowings))


@pytest.mark.parametrize(
    ("started", "left_out"),
    [(0, True), (-30, True), (-90, True), (-91, False), (30, True), (31, False)],  # days 0 to 120 are of its season
)
def test_a_crop_that_is_sown_for_its_season_is_advised_no_more(started, left_out):
    week = logged(sowing(started=started))
    assert [j.job for j in week.jobs] == ([] if left_out else ["sow outdoors"])
    assert week.by_log
    assert len(logged(sowing("kale", started)).jobs) == 1
    assert len(logged(sowing(started=started, stage="lost")).jobs) == 1
    assert len(logged(sowing(started=started, stage="cleared")).jobs) == 1


def test_a_crop_for_all_the_year_is_sown_by_any_sowing():
    always = (line("leek", "sown outdoors", [window(11, 10, 200)]),)
    assert logged(sowing(started=-200), crops=always).jobs == ()
    soon = (line("leek", "sown outdoors", [window(100, 120, 110)]),)
    assert logged(sowing(started=0), crops=soon, ahead=4).coming == ()
    assert len(logged(sowing("kale"), crops=soon, ahead=4).coming) == 1


def test_seedlings_are_set_out_by_their_own_dates():
    (job,) = logged(sowing(started=-40, set_out=spread(2, 5, 9), in_bed=False)).jobs
    assert (job.job, job.start, job.best, job.end, job.way) == ("set out", 92, 95, 99, "set out")
    assert job.reliability == 0.7
    assert logged(sowing(started=-40, set_out=spread(7, 9, 12), in_bed=False)).jobs == ()  # not of this week
    assert logged(sowing(started=-40, set_out=spread(2, 5, 9), share=None)).jobs[0].reliability == 0.0


def test_what_stands_is_picked_by_its_own_dates():
    (job,) = logged(sowing(started=-60, first=spread(-5, 1, 8), last=spread(20, 30, 40))).jobs
    assert (job.job, job.start, job.best, job.end) == ("pick", 91, None, 120)
    (job,) = logged(sowing(started=-60, first=spread(-5, 1, 8))).jobs
    assert (job.start, job.end) == (91, 98)  # where the last is not told, the latest first day
    (job,) = logged(sowing(started=-60, first=spread(-5, 1, 8), last=spread(-9, -3, 0))).jobs
    assert (job.start, job.end) == (91, 91)
    assert logged(sowing(started=-60, first=spread(-5, 1, 8), in_bed=False)).jobs == ()
    assert logged(sowing(started=-60, first=spread(-5, 1, 8), stage="over")).jobs == ()
