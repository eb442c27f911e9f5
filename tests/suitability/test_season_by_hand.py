"""Parts of a season in progress from made-up sowings and windows, each told beside it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from sowcal import season_progress
from sowcal.crops.handbook import handbook
from sowcal.garden.garden_file import Bed, Garden, WaterSupply
from sowcal.season_log import Entry, SeasonLog
from sowcal.season_progress import (
    _as_it_stands,
    _Asked,
    _bed_area,
    _best,
    _instead,
    _reviewed,
    _sowing_now,
    _stage,
    _strains,
    _tank,
    _tasks,
    _under_cover,
    _usual_days,
    _water,
    learnt_sorts,
    review_of,
    season_so_far,
)
from sowcal.seasons.outlook import Learnt, Outlook, Spread, as_day
from sowcal.settings import Settings
from sowcal.suitability.results import SowingNow
from sowcal.weather.record import DailyRecord

TODAY = dt.date(2026, 4, 11)  # day 100 of the year


def window(start, best, end, works=0.9, brings=1.0, wait=60):
    picking = None if wait is None else SimpleNamespace(days_after_start=wait)
    return SimpleNamespace(
        start=start, best=best, end=end, reliability=works, yield_fraction=brings, first_picking=picking
    )


def asked(*windows, lines=None):
    return SimpleNamespace(today=TODAY, windows=lambda crop, way: windows, lines=lines or {}, book=handbook())


def sown(crop="radish", in_bed=TODAY, ended=None, events=(), way="sown outdoors", **more):
    made = {"crop": crop, "bed": "", "in_bed": in_bed, "ended": ended, "way": way, "on": lambda what: what in events}
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


def without_the_engine(monkeypatch):
    """What season and chart are walked by stands still, so that the rules around it are seen by themselves."""
    monkeypatch.setattr(season_progress, "days_as_felt", lambda *a: None)
    monkeypatch.setattr(season_progress, "futures", lambda *a: SimpleNamespace(record=None))
    monkeypatch.setattr(season_progress, "windows_alone", lambda *a: [])
    monkeypatch.setattr(season_progress, "_water", lambda *a: ((), None, ()))


def log_of(*told):
    """Lines of (days from TODAY, event, more cells) about radishes."""
    return SeasonLog(
        Path("made.log.csv"), tuple(Entry(TODAY + dt.timedelta(d), event, "radish", **more) for d, event, more in told)
    )


def test_what_has_ended_is_told_for_120_days_and_what_was_sown_for_500(monkeypatch):
    """Both with the day itself; what is logged after today is not looked at."""
    without_the_engine(monkeypatch)

    def told(*lines):
        return [s.stage for s in season_so_far(None, None, log_of(*lines), TODAY).sowings]

    assert told((-160, "sown outdoors", {}), (-120, "cleared", {})) == ["cleared"]
    assert told((-160, "sown outdoors", {}), (-121, "cleared", {})) == []
    assert told((-500, "sown outdoors", {}), (-9, "lost", {})) == ["lost"]
    assert told((-501, "sown outdoors", {}), (-9, "lost", {})) == []
    assert told((1, "sown outdoors", {})) == []


def test_something_in_its_place_is_looked_for_for_30_days_after_a_loss_alone(monkeypatch):
    without_the_engine(monkeypatch)
    monkeypatch.setattr(season_progress, "_instead", lambda lost, made: ("peas",))
    lines = [((-90, "sown outdoors", {"bed": "1"}), (-30, "lost", {"bed": "1"})),
             ((-90, "sown outdoors", {"bed": "2"}), (-31, "lost", {"bed": "2"})),
             ((-90, "sown outdoors", {"bed": "3"}), (-30, "cleared", {"bed": "3"}))]  # fmt: skip
    found = season_so_far(None, None, log_of(*[one for pair in lines for one in pair]), TODAY).sowings
    assert [(s.stage, s.instead) for s in found] == [("lost", ("peas",)), ("lost", ()), ("cleared", ())]


def test_a_hazard_ahead_is_told_from_a_tenth_and_that_of_the_soil_only_until_it_has_come_up(monkeypatch):
    """Ten futures alike: frost in two of them harms, by hand a share of 0.2; the soil's cost is behind."""
    m, length, at = 10, 50, 20
    place = np.arange(m) * (length + 1)
    hit = np.zeros(m * (length + 1), dtype=bool)
    hit[[place[3] + at + 5, place[8] + at + 29]] = True  # one within the week, one after it
    monkeypatch.setattr(
        season_progress, "strains", lambda *a: [("frost", hit, place + 10, place + length)] if a else []
    )
    days = SimpleNamespace(
        dates=as_day(TODAY) - at + np.arange(hit.size) % (length + 1), settings=SimpleNamespace(least_yield=0.5)
    )
    soil = season_progress.HAZARDS.index("cold soil")
    stages = SimpleNamespace(stand=np.full(m, 0.8), settled=place + 12, hot=np.zeros(m, dtype=bool))
    found = SimpleNamespace(
        days=days,
        decided=np.ones(m, dtype=bool),
        found=stages,
        yield_fraction=np.array([0.4] * 2 + [0.9] * 8),
        hazard=np.full(m, soil),
    )
    ahead = SimpleNamespace(at=lambda day: place + int((day - as_day(TODAY)).astype(int)) + at)
    now = SimpleNamespace(today=TODAY, ahead=ahead, known_to=TODAY)
    met, coming, week = _strains(None, found, now)
    assert [(s.hazard, s.share, s.failing) for s in coming] == [("frost", pytest.approx(0.2), 0.0)]
    assert week == {"frost": pytest.approx(0.1)}
    assert [(s.hazard, s.days) for s in met] == [("cold soil", (TODAY - dt.timedelta(at - 12),))]
    stages.settled = place + at + 1  # it comes up tomorrow: the cold soil is ahead, and cost a fifth the season
    met, coming, _ = _strains(None, found, now)
    assert met == ()
    assert [(s.hazard, s.share, s.failing) for s in coming] == [
        ("cold soil", 1.0, pytest.approx(0.2)),
        ("frost", pytest.approx(0.2), 0.0),
    ]


@pytest.mark.parametrize(
    ("begins", "ends", "known", "met"),
    [
        (5, 40, 0, [10, 18, 20]),  # from its fifth day until today, day 20; what comes is not met yet
        (5, 19, 0, [10, 18]),  # a stage that ended yesterday
        (5, 18, 0, [10]),  # the day on which it ends is none of it
        (11, 40, 0, [18, 20]),
        (5, 40, -3, [10]),  # weather is known to three days ago
        (21, 40, 0, []),
    ],
)
def test_days_of_a_hazard_that_were_met_lie_in_its_stage_and_are_known(monkeypatch, begins, ends, known, met):
    """Of the season so far all futures are alike, and the first of them that can tell is looked at."""
    m, length, at = 6, 50, 20
    place = np.arange(m) * (length + 1)
    hit = np.zeros(m * (length + 1), dtype=bool)
    for day in (3, 10, 18, 20, 21, 30):
        hit[place + day] = True
    monkeypatch.setattr(season_progress, "strains", lambda *a: [("frost", hit, place + begins, place + ends)])
    dates = as_day(TODAY) - at + np.arange(hit.size) % (length + 1)
    stages = SimpleNamespace(stand=np.ones(m), settled=place + 2, hot=np.zeros(m, dtype=bool))
    found = SimpleNamespace(
        days=SimpleNamespace(dates=dates, settings=SimpleNamespace(least_yield=0.5)),
        decided=np.arange(m) > 0,  # the first cannot tell
        found=stages,
        yield_fraction=np.where(np.arange(m) > 0, 0.9, np.nan),
        hazard=np.full(m, -1),
    )
    ahead = SimpleNamespace(at=lambda day: place + int((day - as_day(TODAY)).astype(int)) + at)
    now = SimpleNamespace(today=TODAY, ahead=ahead, known_to=TODAY + dt.timedelta(known))
    had, coming, week = _strains(None, found, now)
    assert [day for s in had for day in s.days] == [TODAY - dt.timedelta(at - d) for d in met]
    assert week == {"frost": float(ends > 21)}  # tomorrow's
    assert [s.share for s in coming] == [1.0] * (ends > 21)
    unknown, _, _ = _strains(None, found, SimpleNamespace(**vars(now) | {"known_to": None}))
    assert unknown == ()


def test_hazards_ahead_stand_by_the_years_that_fail_by_them_and_then_by_those_that_have_them(monkeypatch):
    """Of ten futures two have frost, five heat and one a chill, which cost no year its crop; low light cost one."""
    m, length, at = 10, 50, 20
    place = np.arange(m) * (length + 1)
    frost, heat, cool = np.zeros((3, m * (length + 1)), dtype=bool)
    frost[place[:2] + 30], heat[place[:5] + 35], cool[place[:1] + 40] = True, True, True
    told = [(n, x, place, place + length) for n, x in (("frost", frost), ("heat", heat), ("chilling", cool))]
    monkeypatch.setattr(season_progress, "strains", lambda *a: told)
    dim = season_progress.HAZARDS.index("low light")
    found = SimpleNamespace(
        days=SimpleNamespace(dates=as_day(TODAY) + np.arange(frost.size), settings=SimpleNamespace(least_yield=0.5)),
        decided=np.ones(m, dtype=bool),
        found=SimpleNamespace(stand=np.ones(m), settled=place + 2, hot=np.zeros(m, dtype=bool)),
        yield_fraction=np.where(np.arange(m) == 7, 0.4, np.where(np.arange(m) == 8, 0.5, 0.9)),
        hazard=np.where(np.isin(np.arange(m), (7, 8)), dim, -1),
    )
    ahead = SimpleNamespace(at=lambda day: place + int((day - as_day(TODAY)).astype(int)) + at)
    _, coming, week = _strains(None, found, SimpleNamespace(today=TODAY, ahead=ahead, known_to=TODAY))
    assert [(s.hazard, s.share, s.failing) for s in coming] == [
        ("low light", pytest.approx(0.2), pytest.approx(0.1)),  # half a crop, as was asked for, is no failure
        ("heat", pytest.approx(0.5), 0.0),
        ("frost", pytest.approx(0.2), 0.0),
        ("chilling", pytest.approx(0.1), 0.0),  # in one year of ten it is told
    ]
    assert week == {"frost": 0.0, "heat": 0.0, "chilling": 0.0}


def reviewed(monkeypatch, off, worth=0.5):
    """A radish whose best day is so many days off, in a season that was worth so much."""
    site = SimpleNamespace(
        dates=as_day(TODAY) + np.arange(3), size=3, settings=SimpleNamespace(near_best=0.9), day_of_year=None
    )
    outcome = SimpleNamespace(
        yield_fraction=np.full(3, worth), first=np.arange(3) + 50, hazard=np.full(3, -1), last=None
    )
    monkeypatch.setattr(season_progress, "seasons", lambda *a: outcome)
    monkeypatch.setattr(season_progress, "outlook", lambda *a: SimpleNamespace(first=np.full(9, 48.0)))
    best = 100 + off  # TODAY is day 100
    made = SimpleNamespace(**vars(asked(window(best - 30, best, best + 30))), ahead=None, days=None)
    made.windows = lambda crop, way: [window(best - 30, best, best + 30)]
    (one,) = log_of(
        (0, "sown outdoors", {}), (57, "first picked", {"amount": 0.5}), (60, "picked", {"amount": 0.25})
    ).sown
    return _reviewed(one, made, site, None)


def test_another_day_is_advised_where_the_start_was_more_than_a_fortnight_off_and_the_season_poor(monkeypatch):
    assert reviewed(monkeypatch, 14).change == ()
    assert reviewed(monkeypatch, -14).change == ()
    (later,) = reviewed(monkeypatch, 15).change
    assert later.startswith("start it 15 days later")
    (sooner,) = reviewed(monkeypatch, -15).change
    assert sooner.startswith("start it 15 days earlier")
    assert reviewed(monkeypatch, 15, worth=0.9).change == ()
    found = reviewed(monkeypatch, 0)
    assert (found.late_days, found.weather_days, found.amount) == (
        9,
        2,
        0.75,
    )  # expected on day 48; came 57; by weather 50


def own_record(first, days):
    time = as_day(first) + np.arange(days)
    values = {"tasmin": np.full(days, 8.0), "tasmax": np.full(days, 20.0)}
    origin = {name: np.zeros(days, dtype=np.int8) for name in values}
    return DailyRecord(time, values, origin, latitude=-33.0)


def test_a_sort_is_learnt_from_the_days_on_which_it_stood(monkeypatch):
    """Days are given from 150 before the start on, as far as the record goes; each season with its picking."""
    given = []
    monkeypatch.setattr(season_progress, "days_as_felt", lambda part, settings: part)
    monkeypatch.setattr(season_progress, "learnt_of", lambda part, *a: given.append((part, a)) or "learnt")
    sort = {"sort": "red"}
    log = log_of((0, "sown outdoors", sort), (6, "came up", sort), (40, "first picked", sort))
    own = own_record(TODAY - dt.timedelta(400), 700)
    assert learnt_sorts(own, log, TODAY + dt.timedelta(40)) == ["learnt"]
    (part, (crop, way, name, lived)) = given[0]
    assert (part.time[0], part.time[-1]) == (as_day(TODAY) - 150, own.time[-1])
    assert (crop.name, way.way, name) == ("radish", "sown outdoors", "red")
    assert lived == [(TODAY, TODAY + dt.timedelta(40), TODAY + dt.timedelta(6))]
    assert learnt_sorts(own, log, TODAY + dt.timedelta(39)) == []  # not picked yet
    assert learnt_sorts(own, log, TODAY + dt.timedelta(501)) == []  # not grown of late
    assert learnt_sorts(own_record(TODAY + dt.timedelta(900), 50), log, TODAY + dt.timedelta(40)) == []


@pytest.mark.parametrize(
    ("latitude", "first", "last"), [(-33.0, (2026, 7, 1), (2027, 6, 30)), (38.0, (2026, 1, 1), (2026, 12, 31))]
)
def test_a_review_has_the_sowings_of_its_growing_year_and_learns_from_pickings_after_it(
    monkeypatch, latitude, first, last
):
    """Sown on the last day of the year and picked in the next one, a sort is learnt from in either hemisphere."""
    without_the_engine(monkeypatch)
    asked_to = []

    def learnt(own, log, today, settings):
        asked_to.append(today)
        seen = [s for s in log.sown if s.on("first picked") and s.on("first picked") <= today]
        return [SimpleNamespace(crop=s.crop, sort=s.sort) for s in seen]

    monkeypatch.setattr(season_progress, "learnt_sorts", learnt)
    monkeypatch.setattr(season_progress, "_reviewed", lambda s, made, days, own: (s.started, own.sort if own else None))
    begins, ends = dt.date(*first), dt.date(*last)
    day = dt.timedelta(1)
    entries = [
        Entry(begins - day, "sown outdoors", "radish", "white"),
        Entry(begins, "sown outdoors", "carrot"),
        Entry(ends, "sown outdoors", "radish", "red"),
        Entry(ends + 45 * day, "first picked", "radish", "red"),
        Entry(ends + 46 * day, "sown outdoors", "carrot"),
    ]
    log = SeasonLog(Path("made.log.csv"), tuple(entries))
    record = SimpleNamespace(latitude=latitude)
    assert review_of(record, record, log, 2026) == ((begins, None), (ends, "red"))
    assert asked_to == [ends + 500 * day]


@pytest.mark.parametrize(
    ("ready", "windows", "set_out"),
    [
        (20, [], 30),  # days after 1 March; today is a month on
        (40, [], 40),
        (40, [(120, 150)], 50),  # day 70 is that of the sowing
        (60, [(120, 150)], 60),
        (81, [(120, 150), (160, 170)], 90),
        (101, [(120, 150)], 300),  # no day any more within the future, which ends after 300 days
        (40, [(355, 5)], 285),
        (40, [(355, 111)], 40),  # a window over New Year is open still
    ],
)
def test_seedlings_are_set_out_when_they_are_ready_and_their_dates_have_come(monkeypatch, ready, windows, set_out):
    """Two futures of 300 days from a sowing under cover on day 70 of the year; today is day 100."""
    begun, length = TODAY - dt.timedelta(30), 300
    place = np.arange(2) * (length + 1)
    size = 2 * (length + 1)
    nothing = SimpleNamespace(yield_fraction=np.full(size + 1, 0.8), hazard=np.full(size + 1, -1))
    monkeypatch.setattr(season_progress, "ready_to_set_out", lambda days, crop, way, at: at + ready)
    monkeypatch.setattr(season_progress, "seasons", lambda *a: nothing)
    monkeypatch.setattr(season_progress, "stages", lambda *a: a[-1])
    monkeypatch.setattr(season_progress, "firsts_of_sorts", lambda *a: None)
    made = SimpleNamespace(
        today=TODAY,
        days=SimpleNamespace(day_of_year=(70 + np.arange(size) % (length + 1)) % 365, size=size),
        ahead=SimpleNamespace(
            at=lambda day: place + int((day - as_day(begun)).astype(int)), first=as_day(begun), days=length
        ),
        windows=lambda crop, way: [window(a, a, b) for a, b in windows],
    )
    crop = SimpleNamespace(name="leek")
    found, days = _under_cover(SimpleNamespace(started=begun), crop, SimpleNamespace(way="set out"), made)
    assert days.tolist() == [set_out] * 2
    assert found.found.tolist() == (place + set_out).tolist()
    assert np.isnan(found.yield_fraction).all() == (set_out == length)


def jobs(stage="young", week=None, lines=((-20, "sown outdoors", {"bed": "1"}),), **more):
    (one,) = log_of(*lines).sown
    return [t.job for t in _tasks(SowingNow(one, stage, **({"picked_share": 0.9} | more)), week or {}, TODAY)]


def about(days):
    """A spread whose middle lies so many days from today, with three days either way."""
    return Spread(*(TODAY + dt.timedelta(days + off) for off in (-3, 0, 3)))


def test_jobs_of_the_week_by_what_is_known_of_a_sowing():
    """The week is today and six days more."""
    assert jobs() == []
    assert jobs("under cover", set_out=about(6)) == ["set out"]
    assert jobs("under cover", set_out=about(7)) == []
    assert jobs("sown", emergence=about(-4)) == ["look whether it is up"]
    assert jobs("sown", emergence=about(-3)) == []  # nine years in ten have it up today
    assert jobs("young", emergence=about(-4)) == []
    assert jobs(week={"frost": 0.2, "heat": 0.5}) == ["cover at night", "shade it"]
    assert jobs(week={"frost": 0.19, "heat": 0.49}) == []
    assert jobs("picking") == ["pick"]
    for days, told in ((-1, []), (0, ["pick"]), (6, ["pick"]), (7, [])):
        assert jobs("filling", first_picking=about(days)) == told
    assert jobs("over") == ["clear"]
    assert jobs(picked_share=0.0) == ["look whether it lives"]
    begun = ((-60, "sown outdoors", {}), (-2, "first picked", {}))
    assert jobs("picking", lines=begun, picked_share=0.0) == ["pick"]


# --- a sowing as it stands: nine futures, of which all is told by i / (n + 1), so that 10 per cent are the first ---

PLACE = np.arange(9) * 1000


def seen_from(age, worth=0.9, last=90, sorts=None):
    """Up on day 10, established on 30, forming on 50, picked from day 60 (57 to 65 by the future) to 90 or so."""
    number = np.arange(9)
    found = SimpleNamespace(
        emerged=PLACE + 10, established=PLACE + 30, fills=PLACE + 50, first=PLACE + 56 + number, last=PLACE + last
    )
    worth, sorts = np.broadcast_to(worth, 9).astype(float), np.full((1, 9), np.nan) if sorts is None else sorts
    return Outlook(None, TODAY - dt.timedelta(age), PLACE, found, worth, np.full(9, -1), sorts)


def day_after(age, *days):
    return Spread(*(TODAY - dt.timedelta(age) + dt.timedelta(d) for d in days))


def one_of(*events, in_bed=True, way="sown outdoors"):
    seen = dict(events)
    return sown(way=way, in_bed=TODAY if in_bed else None, on=seen.get)


@pytest.mark.parametrize(
    ("age", "stage"),
    [(9, "sown"), (10, "young"), (29, "young"), (30, "growing"), (49, "growing"), (50, "filling"), (59, "filling"),
     (60, "picking"), (90, "picking"), (91, "over")],
)  # fmt: skip
def test_stages_follow_the_middle_one_of_the_futures(age, stage):
    crop, found = handbook()["radish"], seen_from(age)
    first = day_after(age, 57, 60, 65)
    assert _stage(one_of(), crop, found, first, TODAY) == stage
    set_out = "young" if stage == "sown" else stage
    assert _stage(one_of(way="set out"), crop, found, first, TODAY) == set_out
    assert _stage(one_of(("came up", TODAY)), crop, found, first, TODAY) == set_out
    assert _stage(one_of(in_bed=False), crop, found, first, TODAY) == "under cover"
    for event in ("first picked", "picked"):
        assert _stage(one_of((event, TODAY)), crop, found, first, TODAY) == "picking"
    never = stage if stage not in ("picking", "over") else "filling"
    assert _stage(one_of(), crop, found, None, TODAY) == never
    bean = handbook()["broad bean"]
    assert _stage(one_of(), bean, found, first, TODAY) == ("flowering" if stage == "filling" else stage)


def test_a_stage_is_that_of_the_futures_that_can_tell():
    """Of four that can tell, up on days 8, 8, 12 and 12, the middle is day 10."""
    worth = np.where(np.arange(9) < 4, 0.9, np.nan)
    for age, stage in ((9, "sown"), (10, "young")):
        found = seen_from(age, worth)
        found.found.emerged = PLACE + np.array([8, 8, 12, 12, 300, 300, 300, 300, 300])
        assert _stage(one_of(), handbook()["radish"], found, None, TODAY) == stage


def stands(monkeypatch, one, found, set_out=None, usual=63.4):
    monkeypatch.setattr(season_progress, "_strains", lambda *a: ((), (), {}))
    monkeypatch.setattr(season_progress, "_usual_days", lambda *a: usual)
    made = SimpleNamespace(**vars(asked()), usual=None)
    return _as_it_stands(one, handbook()["radish"], None, found, set_out, made)


def test_what_is_told_of_a_sowing_before_its_first_picking(monkeypatch):
    worth = np.array([0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9])
    now = stands(monkeypatch, one_of(), seen_from(20, worth, sorts=np.arange(40.0, 49.0)[None, :]))
    assert now.first_picking == day_after(20, 56, 60, 64)
    assert now.last_picking == day_after(20, 90, 90, 90)
    assert now.emergence == day_after(20, 10, 10, 10)
    assert now.any_sort == day_after(20, 40, 44, 48)
    assert now.yield_fraction == pytest.approx((0.1, 0.5, 0.9))
    assert (now.picked_share, now.futures, now.stage) == (1.0, 9, "young")
    assert now.ahead_days == 3  # 63.4 days are usual, and 60 are to be expected
    assert now.set_out is None
    assert stands(monkeypatch, one_of(), seen_from(20), usual=None).ahead_days is None


def test_futures_without_a_picking_and_those_that_cannot_tell(monkeypatch):
    """Two of nine cannot tell, and one brings no crop: six of seven are picked."""
    worth = np.array([0.9] * 6 + [0.01, np.nan, np.nan])
    now = stands(monkeypatch, one_of(), seen_from(20, worth))
    assert (now.picked_share, now.futures) == (pytest.approx(6 / 7), 7)
    assert now.first_picking == day_after(20, 56, 58, 61)  # of 56 to 61: places 0.7, 3.5 and 6.3 of six
    none = stands(monkeypatch, one_of(), seen_from(20, 0.0))
    assert (none.first_picking, none.last_picking, none.ahead_days, none.picked_share) == (None, None, None, 0.0)
    assert none.emergence == day_after(20, 10, 10, 10)


@pytest.mark.parametrize("event", ["first picked", "picked"])
def test_what_was_seen_stands_in_place_of_what_is_reckoned(monkeypatch, event):
    """First picked on day 58, and 26 to 34 days long in the futures: 84 to 92, but not before today, day 87."""
    picked, up = TODAY - dt.timedelta(87 - 58), TODAY - dt.timedelta(87 - 12)
    now = stands(monkeypatch, one_of((event, picked), ("came up", up)), seen_from(87, sorts=np.full((1, 9), 50.0)))
    assert now.first_picking == Spread(picked, picked, picked)
    assert now.emergence == Spread(up, up, up)
    assert now.last_picking == day_after(87, 87, 88, 92)
    assert (now.stage, now.any_sort) == ("picking", None)
    assert now.ahead_days == 5  # 63.4 less 58


def test_what_is_set_out_has_no_day_of_coming_up_and_seedlings_no_usual_date(monkeypatch):
    assert stands(monkeypatch, one_of(way="set out"), seen_from(20)).emergence is None
    now = stands(monkeypatch, one_of(way="set out", in_bed=False), seen_from(20), np.arange(25, 34))
    assert now.set_out == day_after(20, 25, 29, 33)
    assert now.ahead_days is None
    assert now.stage == "under cover"


def test_the_usual_days_to_a_picking_are_those_of_that_day_in_the_years_that_have_one(monkeypatch):
    """From 28 February of seven years 60, 61 ... 66 days; one year leaves no crop, and 29 February is not counted."""
    days = np.arange("2001-01-01", "2008-01-01", dtype="datetime64[D]")
    year = days.astype("datetime64[Y]").astype(int) + 1970
    of_year = (days - days.astype("datetime64[Y]").astype("datetime64[D]")).astype(int)
    leap = days == np.datetime64("2004-02-29")
    usual = SimpleNamespace(day_of_year=of_year - (leap | ((year == 2004) & (of_year > 59))), leap_day=leap)
    usual.start = np.arange(days.size)
    wait = np.where(leap, 999, 59 + year - 2000)
    worth = np.where(year == 2007, 0.04, np.where(year == 2006, 0.05, 0.9))
    monkeypatch.setattr(
        season_progress, "seasons", lambda *a: SimpleNamespace(first=usual.start + wait, yield_fraction=worth)
    )
    assert _usual_days(usual, None, None, dt.date(2026, 2, 28)) == 62.5  # of 60 to 65
    worth[year < 2003] = np.nan
    assert _usual_days(usual, None, None, dt.date(2026, 2, 28)) is None  # four years
    worth[year == 2002] = 0.05
    assert _usual_days(usual, None, None, dt.date(2026, 2, 28)) == 63.0


def test_windows_of_a_way_are_the_advised_ones_or_else_those_that_work():
    def line(windows, possible):
        starts = SimpleNamespace(way="set out", windows=windows, possible=possible)
        return SimpleNamespace(starts=[SimpleNamespace(way="sown outdoors", windows=("x",), possible=()), starts])

    ahead = SimpleNamespace(known_to=None)
    made = _Asked(TODAY, ahead, None, None, {"a": line(("w",), ("p",)), "b": line((), ("p",))}, handbook())
    assert (made.windows("a", "set out"), made.windows("b", "set out")) == (("w",), ("p",))
    assert made.windows("a", "planted") == ()
    assert made.known_to is None


# --- water of the week, and the tank ---


def watered(monkeypatch, lines, waterings=(), known=None):
    """What the garden is asked for: sowings that stand in beds, and how many days back the tank was told."""
    asked_of = []

    def water_from_here(weather, standing, garden, back):
        asked_of.append((standing, back))
        return [], None

    weather = SimpleNamespace(size=9300, known=np.ones(9300, bool) if known is None else known)
    monkeypatch.setattr(season_progress, "garden_weather", lambda record: weather)
    monkeypatch.setattr(season_progress, "water_from_here", water_from_here)
    monkeypatch.setattr(season_progress, "gravity_feed", lambda garden: None)
    monkeypatch.setattr(season_progress, "_tank", lambda told, *a: (told.amount, a[4].tolist(), a[5]))
    log = log_of(*lines)
    ahead = SimpleNamespace(at=lambda day: PLACE + 100, record=None)
    picked, found = np.arange(9) < 8, []  # one future has nothing to pick, and so nothing to water
    for one in log.sown:
        place = PLACE + 100 - (TODAY - one.started).days
        of_it = SimpleNamespace(picked=picked, place=place, found=SimpleNamespace(last=place + 70))
        found.append((SowingNow(one, "young"), of_it))
    garden = Garden("g", "s", (Bed("1", 4.0, 1.0), Bed("2", 3.0, 1.0)))
    made = SimpleNamespace(today=TODAY, ahead=ahead, book=handbook())
    return _water(found, (*log.entries, *waterings), garden, made), asked_of


def test_what_was_given_to_a_bed_is_parted_among_what_stands_in_it(monkeypatch):
    """Two sowings in bed 1, by two names; today's water is not given yet, and before it was sown it had none."""
    lines = [
        (-30, "sown outdoors", {"bed": "Bed 1"}), (-20, "sown outdoors", {"bed": "1"}),
        (-20, "sown outdoors", {"bed": "2"}),
    ]  # fmt: skip
    waterings = [
        (-25, 20.0, "", "1"), (-20, 8.0, "", "bed 1"), (-20, 6.0, "radish", "1"), (-10, 4.0, "", "2"),
        (-5, 9.0, "carrot", "1"), (0, 50.0, "", "1"), (-31, 50.0, "", "1"), (-4, None, "", "2"),
    ]  # fmt: skip
    made = [
        Entry(TODAY + dt.timedelta(d), "watered", crop, bed=bed, amount=amount) for d, amount, crop, bed in waterings
    ]
    _, (((first, second, other), back),) = watered(monkeypatch, lines, made)
    assert first.given == {5: 10.0, 10: 4.0 + 6.0}  # by days since it was sown; half of what the bed had, all its own
    assert second.given == {0: 4.0 + 6.0}
    assert other.given == {10: 4.0, 16: 0.0}
    assert back == 0
    stands = [(b.bed, b.area, b.age) for b in (first, second, other)]
    assert stands == [("Bed 1", 2.0, 30), ("1", 2.0, 20), ("2", 3.0, 20)]
    assert first.length.tolist() == [71] * 8 + [1]  # its first day and its last with those between
    assert first.index.tolist() == (PLACE + 70).tolist()
    assert not first.rain_fed
    assert first.ground is not None


def test_a_future_whose_weather_ends_within_a_dry_season_tells_no_water(monkeypatch):
    """210 days from today: a day that is lacking on the last of them takes the future out, one later does not."""
    lines = [(-20, "sown outdoors", {"bed": "2"})]
    known = np.ones(9300, bool)
    known[[100 + 209, 1000 + 100 + 210, 2000 + 100]] = False
    _, (((one,), _),) = watered(monkeypatch, lines, known=known)
    assert one.index.tolist() == (PLACE + 80)[[1, *range(3, 9)]].tolist()
    known[[3100, 4100]] = False
    assert len(watered(monkeypatch, lines, known=known)[1]) == 1  # five are enough
    known[5100] = False
    assert watered(monkeypatch, lines, known=known) == (((), None, ()), [])


def test_the_tank_is_followed_from_the_last_level_of_the_last_150_days(monkeypatch):
    lines = [(-20, "sown outdoors", {"bed": "2"}), (-12, "tank", {"amount": 900.0}), (-9, "tank", {"amount": 700.0})]
    (_, tank, _), ((_, back),) = watered(monkeypatch, sorted(lines, key=lambda x: x[0]))
    assert (tank, back) == ((700.0, (PLACE + 100 - 9).tolist(), 9), 9)
    for days, followed in ((149, 149), (150, 0)):
        (_, tank, _), ((_, back),) = watered(monkeypatch, [(-days, "tank", {"amount": 500.0}), lines[0]])
        assert (tank[0], tank[2], back) == (500.0, followed, followed)
    assert watered(monkeypatch, [(-9, "tank", {"amount": 700.0})])[0][1][0] == 700.0  # though nothing stands


def tank_of(monkeypatch, drawn, levels, dry, back, amount=800.0):
    given = {}

    def followed(weather, garden, place, out, level):
        given.update(drawn=out, level=level)
        return np.broadcast_to(levels, (9, out.shape[1])), np.asarray(dry)

    monkeypatch.setattr(season_progress, "level_from_here", followed)
    told = SimpleNamespace(date=TODAY - dt.timedelta(back), amount=amount)
    return _tank(told, drawn, None, None, TODAY, PLACE, back), given


def test_what_is_in_the_tank_today_and_when_it_runs_dry(monkeypatch):
    """Told 20 days ago; of nine futures one was dry before today, one never is, and seven are 10 to 70 days on."""
    levels = 800.0 - 10.0 * (np.arange(230) + 1)
    dry = [5, -1, *(20 + 10 * k for k in range(1, 8))]
    tank, given = tank_of(monkeypatch, np.ones((9, 400)), levels, dry, 20)
    assert given["drawn"].shape == (9, 230)  # to 210 days from today
    assert (tank.litres_told, tank.litres_now, given["level"]) == (800.0, 600.0, 800.0)
    assert tank.dry_share == pytest.approx(7 / 9)
    assert tank.runs_dry == Spread(*(TODAY + dt.timedelta(d) for d in (10, 40, 70)))
    tank, given = tank_of(monkeypatch, np.ones((0, 0)), levels[:210], [0, *[-1] * 8], 0)
    assert (given["drawn"].shape, given["drawn"].sum()) == ((9, 210), 0.0)  # nothing stands, nothing is drawn
    assert (tank.litres_now, tank.runs_dry) == (800.0, None)
    assert tank.dry_share == pytest.approx(1 / 9)
    for empty in (0.0, None):  # told as empty, or without a word of how much
        tank, given = tank_of(monkeypatch, np.ones((9, 400)), levels[:210], [0] * 9, 0, empty)
        assert (given["level"], tank.litres_told, tank.litres_now) == (0.0, 0.0, 0.0)


# --- a year afterwards ---


def test_what_to_change_of_a_sort_that_is_slower_and_of_what_was_lost(monkeypatch):
    """Picked on day 57, where day 48 was to be expected and 50 by the weather: seven days are the sort's own."""
    red = Learnt("radish", "", "sown outdoors", 3, 560.4, 480.6, 540.4, 500.0, 580.0)
    monkeypatch.setattr(season_progress, "outlook", lambda *a: SimpleNamespace(first=np.full(9, 48.0)))
    site = SimpleNamespace(
        dates=as_day(TODAY) + np.arange(3), size=3, settings=SimpleNamespace(near_best=0.9), day_of_year=None
    )

    def said(picked, wait=50, worth=0.95, hazard=-1, lost=False, learnt=red):
        outcome = SimpleNamespace(
            yield_fraction=np.full(3, worth), first=np.arange(3) + wait, hazard=np.full(3, hazard), last=None
        )
        monkeypatch.setattr(season_progress, "seasons", lambda *a: outcome)
        made = SimpleNamespace(**vars(asked()), ahead=None, days=None)
        lines = [(0, "sown outdoors", {}), (picked, "first picked", {}), *([(90, "lost", {})] if lost else [])]
        return _reviewed(log_of(*lines).sown[0], made, site, learnt)

    assert said(57).change == ("take 540 degree days for it, where the handbook has 481",)
    assert said(56).change == ()  # six days
    assert said(43).change == ("take 540 degree days for it, where the handbook has 481",)
    assert said(57, learnt=None).change == ()
    frost = season_progress.HAZARDS.index("frost")
    assert said(52, hazard=frost, lost=True).change == ("guard it against frost, which cost it most by this weather",)
    assert said(52, hazard=frost).change == ()
    assert said(52, hazard=frost).hazard == "frost"
    assert said(52, lost=True).change == ()
    poor = said(52, worth=0.04)  # by the weather nothing was to be picked
    assert (poor.by_weather, poor.weather_days, poor.late_days) == (None, None, 4)
    assert said(52, worth=0.05).by_weather == TODAY + dt.timedelta(50)
    unknown = said(52, worth=np.nan, hazard=frost)
    assert (unknown.by_weather, unknown.hazard) == (None, None)


@pytest.mark.parametrize(
    ("method", "beds", "works", "minutes"),
    [
        ("drip", True, True, 12.0),  # 120 litres at 600 an hour
        ("drip", True, False, None),  # the tank cannot feed the lines
        ("hose", True, True, 10.0),  # at 12 a minute
        ("drip", False, True, None),  # no garden is named
    ],
)
def test_minutes_of_watering_are_those_of_the_lines_or_of_the_hose(monkeypatch, method, beds, works, minutes):
    """The middle of nine futures is 120 litres, nine in ten are 160 by place 9 of 10."""
    places = np.arange(9) * 10
    litres = np.arange(80.0, 161.0, 10.0)
    told = SimpleNamespace(bed="1", litres=litres, assumed=False)
    fed = SimpleNamespace(flow=600.0, works=works)
    monkeypatch.setattr(
        season_progress, "garden_weather", lambda record: SimpleNamespace(size=100, known=np.ones(100, bool))
    )
    monkeypatch.setattr(season_progress, "water_from_here", lambda *a: ([told], None))
    monkeypatch.setattr(season_progress, "gravity_feed", lambda garden: fed)
    garden = Garden("g", "s", (Bed("1", 2.0, 1.2),) if beds else (), water=WaterSupply(method=method, hose=12.0))
    (one,) = log_of((-10, "sown outdoors", {"bed": "1"})).sown
    ahead = SimpleNamespace(at=lambda day: places, record=None)
    made = SimpleNamespace(today=TODAY, ahead=ahead, book=handbook())
    seen = SimpleNamespace(picked=np.ones(9, bool), place=places, found=SimpleNamespace(last=places + 50))
    (week,), tank, notes = _water([(SowingNow(one, "young"), seen)], (), garden, made)
    assert (week.bed, week.litres, week.dry_year_litres, week.minutes) == ("1", 120.0, 160.0, minutes)
    assert (tank, len(notes)) == (None, 0 if beds else 1)
    assert _water([(SowingNow(one, "over"), seen)], (), garden, made) == ((), None, ())  # nothing more to water


# --- what is asked of the weather ---


def test_futures_go_from_150_days_before_the_first_start_to_600_days_after_today(monkeypatch):
    """What stood and is told no more is not looked back to; without sowings the start is today."""
    without_the_engine(monkeypatch)
    given = []
    monkeypatch.setattr(season_progress, "futures", lambda *a: given.append(a) or SimpleNamespace(record=None))
    monkeypatch.setattr(season_progress, "_sowing_now", lambda one, made: (SowingNow(one, "young"), None))

    def ends(*lines):
        season_so_far("years", "own", log_of(*lines), TODAY)
        history, so_far, begin, end = given.pop()
        assert (history, so_far) == ("years", "own")
        return (begin - as_day(TODAY)).astype(int), (end - as_day(TODAY)).astype(int)

    assert ends() == (-150, 600)
    assert ends((-90, "sown outdoors", {"bed": "1"}), (-30, "sown outdoors", {"bed": "2"})) == (-240, 600)
    assert ends((-700, "sown outdoors", {"bed": "1"}), (-30, "sown outdoors", {"bed": "2"})) == (-180, 600)
    monkeypatch.setattr(season_progress, "_reviewed", lambda *a: None)
    record, history, begin, end = None, SimpleNamespace(latitude=38.0), None, None
    lines = [(-30, "sown outdoors", {"bed": "1"}), (90, "sown outdoors", {"bed": "2"})]
    review_of(history, record, log_of(*lines), 2026)
    _, so_far, begin, end = given.pop()
    assert so_far is None
    assert (begin - as_day(TODAY)).astype(int) == -30 - 150
    assert end == as_day(dt.date(2026, 12, 31)) + 600
    review_of(history, record, log_of((-400, "sown outdoors", {})), 2026)  # nothing was sown that year
    assert given.pop()[2] == as_day(dt.date(2026, 1, 1)) - 150


def test_other_crops_are_judged_only_where_something_was_lost_of_late(monkeypatch):
    without_the_engine(monkeypatch)
    judged = []

    def windows_alone(history, settings, crops, book):
        judged.append(sorted(c.name for c in crops))
        return []

    monkeypatch.setattr(season_progress, "windows_alone", windows_alone)
    monkeypatch.setattr(season_progress, "_instead", lambda lost, made: ())
    offered = [handbook()["leek"]]
    for days, names in ((30, ["leek", "radish"]), (31, ["radish"])):
        season_so_far(None, None, log_of((-60, "sown outdoors", {}), (-days, "lost", {})), TODAY, offered=offered)
        assert judged.pop() == names
    season_so_far(None, None, log_of((-60, "sown outdoors", {}), (-3, "cleared", {})), TODAY, offered=offered)
    assert judged.pop() == ["radish"]


@pytest.mark.parametrize(("years", "told"), [(4, "cannot say"), (5, "growing")])
def test_five_years_must_be_able_to_tell(monkeypatch, years, told):
    found = SimpleNamespace(decided=np.arange(9) < years)
    monkeypatch.setattr(season_progress, "outlook", lambda *a: found)
    monkeypatch.setattr(season_progress, "_as_it_stands", lambda one, *a: SowingNow(one, "growing"))
    made = SimpleNamespace(**vars(asked()), ahead=None, days=None)
    now, outlook = _sowing_now(one_of(), made)
    assert now.stage == told
    assert outlook is (None if told == "cannot say" else found)
    if told == "cannot say":
        assert now.note == "4 years of the record can tell, and 5 are needed"


def test_of_a_sort_its_last_eight_seasons_are_learnt_from(monkeypatch):
    given, under = [], []
    monkeypatch.setattr(season_progress, "days_as_felt", lambda part, settings: under.append(settings) or part)
    monkeypatch.setattr(season_progress, "learnt_of", lambda part, *a: given.append((part, a[-1])) or "learnt")
    lines = [
        (60 * k + day, event, {"sort": "red", "bed": str(k)})
        for k in range(10)
        for day, event in ((0, "sown outdoors"), (40, "first picked"))
    ]
    own = own_record(TODAY - dt.timedelta(400), 2000)
    assert learnt_sorts(own, log_of(*lines), TODAY + dt.timedelta(600)) == ["learnt"]
    learnt_sorts(own, log_of(*lines), TODAY + dt.timedelta(600), Settings(reliability=0.9))
    assert under == [Settings(), Settings(reliability=0.9)]
    (part, lived), _ = given
    assert [(a - TODAY).days for a, _, _ in lived] == [60 * k for k in range(2, 10)]
    assert part.time[0] == as_day(TODAY) + 120 - 150
    assert part.time[-1] == as_day(TODAY) + 9 * 60 + 40 + 500
    given.clear()  # the last of them stands in its five hundredth day, and then it is no sort of now
    assert len(learnt_sorts(own, log_of(*lines), TODAY + dt.timedelta(540 + 500))) == 1
    assert learnt_sorts(own, log_of(*lines), TODAY + dt.timedelta(540 + 501)) == []
    two = own.span(str(TODAY), str(TODAY + dt.timedelta(1)))
    assert len(learnt_sorts(two, log_of(*lines[:2]), TODAY + dt.timedelta(50))) == 1
    assert learnt_sorts(two.span(str(TODAY), str(TODAY)), log_of(*lines[:2]), TODAY + dt.timedelta(50)) == []
