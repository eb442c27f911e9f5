"""The five dates of a season, from made-up shares of years and waits."""

from types import SimpleNamespace

import numpy as np
import pytest
from folded import bump, found
from hypothesis import given
from hypothesis import strategies as st

from sowcal.outputs.wording import advice_sentences
from sowcal.settings import Settings
from sowcal.suitability.advice import _picking, advice_of, season_name, succession_days
from sowcal.suitability.windows import possible_mask, recommended_windows, start_seasons


def advised_by(f, settings, allowed=None, latitude=40.0, timed=True):
    """The advice on a crop, its advised days, and its seasons."""
    possible = possible_mask(f)
    parts = start_seasons(f, settings, timed, possible)
    mask = np.zeros(365, bool)
    for w in recommended_windows(f, settings, timed, allowed, possible, parts):
        mask[(w.start + np.arange((w.end - w.start) % 365 + 1)) % 365] = True
    return advice_of(f, parts, mask, settings, latitude), mask


def two_seasons():
    worth = bump(90, 50, 1.0) + bump(250, 50, 0.8)
    return found(np.where(worth > 0.45, 1.0, np.clip(worth * 2, 0, 1)), worth)


def test_each_season_has_its_own_dates():
    told, mask = advised_by(two_seasons(), Settings())
    assert [a.season for a in told] == ["spring", "autumn"]
    for a in told:
        assert a.best_end - a.best_start <= 13
        assert mask[a.best_start : a.best_end + 1].all()
        assert mask[a.earliest_safe]
        assert (a.earliest_safe, a.best_start) == tuple(sorted((a.earliest_safe, a.best_start)))
        assert a.best_end <= a.last_chance
        assert all(mask[day] for day in a.succession)
    assert told[0].last_yield < 0.9  # the last chance brings less than the best


def test_south_of_the_equator_the_same_days_are_the_other_season():
    told, _ = advised_by(two_seasons(), Settings(), latitude=-40.0)
    assert [a.season for a in told] == ["autumn", "spring"]


@pytest.mark.parametrize(
    ("day", "north", "south"), [(0, "winter", "summer"), (59, "spring", "autumn"), (151, "summer", "winter")]
)
def test_seasons_are_of_three_whole_months(day, north, south):
    assert (season_name(day, 50.0), season_name(day, -50.0)) == (north, south)


def test_of_equal_fortnights_the_first_in_spring_and_the_last_in_autumn():
    """Sixty days of March and April, and of August to October; south of the equator these are autumn and spring."""
    for begin, first, south in ((60, 60, 106), (220, 266, 220)):
        worth = np.zeros(365)
        worth[begin : begin + 60] = 0.8
        for latitude, day in ((40.0, first), (-40.0, south)):
            (a,), _ = advised_by(found((worth > 0) * 1.0, worth), Settings(), latitude=latitude)
            assert (a.best_start, a.best_end) == (day, day + 13)


def test_an_earlier_start_gains_the_days_by_which_it_is_picked_sooner():
    """Sixty days from any start: the fortnight's middle lies so many days after the first safe day as are gained."""
    (a, *_), _ = advised_by(two_seasons(), Settings())
    assert a.gains_days == (a.best_start + a.best_end) // 2 - a.earliest_safe


def test_no_day_is_safe_where_nine_years_in_ten_never_work():
    worth = bump(90, 50, 1.0)
    (a,), _ = advised_by(found(np.where(worth > 0.4, 0.85, 0.0), worth), Settings())
    assert a.earliest_safe is None
    assert a.gains_days is None
    assert a.last_chance is not None


def test_what_is_not_worth_it_is_reliable_and_not_advised_with_its_reason():
    days = np.arange(365)
    worth = np.where((days >= 90) & (days < 150), 0.9, np.where((days >= 150) & (days < 200), 0.7, 0.0))
    wait = np.where(days < 114, 60.0 + 114 - days, 60.0)  # of a fortnight's wait more than ten days are saved till 103
    f = found((worth > 0) * 1.0, worth, duration=wait)
    (a,), mask = advised_by(f, Settings(bed_day=0.0))
    told = [(n.start, n.end, n.why) for n in a.not_worth_it]
    assert told == [(90, 103, "no earlier harvest"), (150, 199, "poorer crop")]
    assert not any(mask[n.start : n.end + 1].any() for n in a.not_worth_it)


@pytest.mark.parametrize(("alike", "told"), [(20, []), (21, [(97, 110, "no earlier harvest")])])
def test_no_earlier_harvest_for_less_than_a_fortnight_parts_no_window(alike, told):
    """Starts of so many days are picked on one day: eleven of a fortnight's wait among them gain no four of harvest."""
    days = np.arange(365)
    worth = np.where((days >= 80) & (days < 150), 0.9, 0.0)
    f = found((worth > 0) * 1.0, worth, duration=90.0 - np.clip(days - 100, 0, alike))
    (a,), mask = advised_by(f, Settings(bed_day=0.0))
    assert [(n.start, n.end, n.why) for n in a.not_worth_it] == told
    assert mask[80:150].all() == (not told)


def test_what_stored_water_takes_is_told_as_that():
    worth = np.where((np.arange(365) >= 90) & (np.arange(365) < 150), 0.9, 0.0)
    (a,), _ = advised_by(found((worth > 0) * 1.0, worth), Settings(), allowed=np.arange(365) < 120)
    assert [(n.start, n.end, n.why) for n in a.not_worth_it] == [(120, 149, "too much water")]


def test_seasons_without_an_advised_day_have_no_advice():
    assert advised_by(found(np.full(365, 0.6), np.full(365, 0.8)), Settings())[0] == ()


@given(st.lists(st.one_of(st.integers(0, 400).map(float), st.just(float("nan"))), max_size=60), st.integers(1, 30))
def test_pickings_of_a_succession_lie_apart_and_none_could_be_put_between(picked, apart):
    """Held against a loop that takes each next start whose crop is ready so much later."""
    chosen, ready, last = [], -np.inf, -np.inf
    for k, day in enumerate(picked):
        if day != day:
            continue
        ready = max(ready, day)
        if ready >= last + apart:
            chosen.append(k)
            last = ready
    assert succession_days(np.array(picked), apart) == chosen


def test_sentences_name_every_date_once():
    worth = np.where((np.arange(365) >= 60) & (np.arange(365) < 150), 0.9, 0.0)
    (a,), _ = advised_by(found(np.where(worth > 0, 1.0, 0.0), worth), Settings())
    said = advice_sentences(a)
    assert said[0].startswith("Best fortnight in spring: ")
    assert [s.partition(":")[0].partition(" ")[0] for s in said[1:3]] == ["Earliest", "Last"]
    assert sum("fortnight apart" in s for s in said) == 1
    assert sum(s.startswith("Not worth it") for s in said) == len(a.not_worth_it)


def test_the_best_fortnight_is_that_of_most_years_times_yield():
    """0.9 of a crop in eight years of ten is less than 0.85 in every year."""
    days = np.arange(365)
    worth = np.where((days >= 60) & (days < 80), 0.9, np.where((days >= 80) & (days < 110), 0.85, 0.0))
    odds = np.where((days >= 60) & (days < 80), 0.8, np.where((days >= 80) & (days < 110), 1.0, 0.0))
    (a,), _ = advised_by(found(odds, worth), Settings())
    assert a.best_start >= 75


def test_first_picking_is_that_of_the_years_that_succeed():
    """Of 101 years 60 to 160 days after day 300: a tenth by 70 (day 5), half by 110 (day 45), nine tenths by 150."""
    first = np.full((103, 365), 400.0)
    first[:101, 300] = 60.0 + np.arange(101)
    success = np.ones((103, 365))
    success[101, 300], success[102, 300] = 0.0, np.nan  # fails, and is not known
    told = _picking(SimpleNamespace(first=first, success=success), 300)
    assert (told.p10, told.p50, told.p90, told.days_after_start) == (5, 45, 85, 110)
    assert _picking(SimpleNamespace(first=first, success=np.zeros((103, 365))), 300) is None


def test_first_picking_after_the_best_fortnight_as_days_of_the_year():
    """Sixty days from any start in all years, over New Year too."""
    worth = np.zeros(365)
    worth[300:330] = 0.9
    (a,), _ = advised_by(found((worth > 0) * 1.0, worth), Settings())
    day = ((a.best_start + a.best_end) // 2 + 60) % 365
    told = a.first_picking
    assert (told.p10, told.p50, told.p90, told.days_after_start) == (day, day, day, 60)
    assert a.last_picked == (a.last_chance + 60) % 365


@pytest.mark.parametrize(
    ("middle", "latitude", "last"),
    [
        # from midsummer (21 June, day 171, is the longest) to midwinter days shorten, in the south half a year later
        (150, 40.0, False), (170, 40.0, False), (180, 40.0, True), (188, 40.0, True), (340, 40.0, True),
        (5, 40.0, False), (359, 40.0, False),
        (150, -40.0, True), (165, -40.0, True), (185, -40.0, False), (340, -40.0, False),
        (359, -40.0, True), (5, -40.0, True),
    ],
)  # fmt: skip
def test_of_equal_fortnights_the_last_while_days_shorten_north_and_south(middle, latitude, last):
    """Forty days that are all alike, of which the fortnight is the first or the last, wherever the year begins."""
    days = (middle - 20 + np.arange(40)) % 365
    worth = np.zeros(365)
    worth[days] = 0.8
    (a,), _ = advised_by(found((worth > 0) * 1.0, worth), Settings(), latitude=latitude)
    assert (a.best_start, a.best_end) == ((days[26], days[39]) if last else (days[0], days[13]))


def test_what_is_not_worth_it_for_fewer_than_five_days_is_not_told():
    """Poorer days after the season's best, five of them or four, and then too chancy ones."""
    for poor, told in ((5, [(150, 154, "poorer crop")]), (4, [])):
        days = np.arange(365)
        worth = np.where((days >= 90) & (days < 150), 0.9, np.where((days >= 150) & (days < 150 + poor), 0.7, 0.0))
        (a,), _ = advised_by(found((worth > 0) * 1.0, worth), Settings(bed_day=0.0))
        assert [(n.start, n.end, n.why) for n in a.not_worth_it] == told


@pytest.mark.parametrize(
    ("odds", "asked", "safe"),
    [(0.9, 0.8, True), (0.89, 0.8, False), (0.95, 0.95, True), (0.94, 0.94, True), (0.9, 0.9, True)],
)
def test_a_start_is_safe_where_nine_years_in_ten_work_or_as_many_as_are_asked_for(odds, asked, safe):
    day = np.arange(365)
    on = (day >= 60) & (day < 120)
    surer = (day >= 100) & (day < 110)  # some days are sure, but later
    f = found(np.where(on, np.where(surer, 1.0, odds), 0.0), np.where(on, 0.9, 0.0))
    (a,), _ = advised_by(f, Settings(reliability=asked))
    assert a.earliest_safe == (60 if safe else 100)
