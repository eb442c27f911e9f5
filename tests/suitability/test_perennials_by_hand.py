"""Verdict, years and line of a perennial from invented years of which the answer can be told beforehand.

What counts as lived, as cropped and as a full crop, and how many of each make which word, is told in the README;
grades follow FAO 1983, Soils Bulletin 52 (a full crop from 80 per cent, none worth it below 20, from memory).
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from sowcal.answers import open_handbook
from sowcal.crops.tables import Way, table_descriptions
from sowcal.seasons.perennial_years import PerennialYears, chill_row
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.perennials import (
    _picking_by_day,
    judge_perennial,
    perennial_line,
    perennial_word,
    rate_perennial,
    worded_share,
)

BOOK = open_handbook()
# crops in its first year, and in winter alone where summers kill it
PLANT = replace(
    BOOK["lemon"], chill=(), perennial=replace(BOOK["lemon"].perennial, years_to_crop=1.0, winter_annual="yes")
)
TREE = replace(PLANT, perennial=replace(PLANT.perennial, winter_annual="no"))


def lived(n=10, first=400, last=430, winter_growth=1.0, figures=None, **shares):
    """Years from 2001 with the share that each hazard leaves, one number for all years or one a year."""
    years = PerennialYears(np.arange(2001, 2001 + n), np.datetime64("2000-01-01"))
    years.shares = {h.replace("_", " "): np.broadcast_to(s, n).astype(float) for h, s in shares.items()}
    years.crop = np.prod([np.ones(n), *years.shares.values()], axis=0)
    at = (np.datetime64("2001-01-01") + 0 - years.first_date).astype(int) + np.arange(n) * 365.25
    years.first, years.last = np.floor(at + first - 366), np.floor(at + last - 366)
    years.winter_growth = np.full(n, float(winter_growth))
    years.figures = figures or {}
    return years


def in_years(bad, n=10, share=0.0):
    """One in all years but the first so many, or those of a list, which have less."""
    out = np.ones(n)
    out[bad if isinstance(bad, list) else np.arange(bad)] = share
    return out


def judged(years, crop=TREE, asked=0.8):
    return rate_perennial(crop, years, BOOK, asked)


@pytest.mark.parametrize(
    ("shares", "word"),
    [
        ({"heat": 1.0}, "thrives"),
        ({"heat": 0.8}, "thrives"),
        ({"heat": 0.79}, "crops with a check"),
        ({"heat": 0.4}, "crops with a check"),
        ({"heat": 0.39}, "lives, crops poorly"),
        ({"heat": 0.2}, "lives, crops poorly"),
        ({"heat": 0.19}, "not here"),
        ({"heat": in_years(2)}, "thrives"),  # eight years in ten, as asked
        ({"heat": in_years(3)}, "lives, crops poorly"),
        ({"heat": 0.8, "frost": 0.5}, "crops with a check"),  # losses multiply
        ({"winter_kill": 0.5, "heat": 1.0}, "crops with a check"),  # half the plants live, and bring half a crop
        ({"winter_kill": 0.49}, "not here"),
        ({"winter_kill": in_years([0, 2, 4, 6, 8])}, "crops, lives briefly"),
        ({"winter_kill": in_years(7)}, "crops, lives briefly"),
        ({"winter_kill": in_years(8)}, "not here"),
    ],
)
def test_words_by_years(shares, word):
    assert judged(lived(**shares)).word == word


@pytest.mark.parametrize(("killed", "word"), [([2], "thrives"), ([3], "crops, lives briefly")])
def test_it_lives_where_seven_runs_of_five_years_in_ten_are_survived(killed, word):
    """Of ten runs in 14 years the third winter ends three, the fourth four."""
    verdict = judged(lived(14, winter_kill=in_years(killed, 14)))
    assert verdict.word == word
    assert verdict.evidence["runs_of_5_years_survived"] == 1.0 - 0.1 * (killed[0] + 1)
    assert (verdict.evidence["years_lived"], verdict.evidence["years_cropped"]) == (13, 13)
    assert verdict.answer["lives"]["share_of_years"] == pytest.approx(13 / 14)
    assert verdict.reliability == verdict.answer["crops"]["share_of_years"] == pytest.approx(13 / 14)


def test_four_years_hold_no_run_of_five_and_tell_the_spread_of_few():
    evidence = judged(lived(4, heat=1.0)).evidence
    assert "runs_of_5_years_survived" not in evidence
    assert evidence["interval_of_few_years"] == pytest.approx((0.510, 1.0), abs=0.001)  # Wilson, 4 of 4
    assert "runs_of_5_years_survived" in judged(lived(5, heat=1.0)).evidence
    assert "interval_of_few_years" not in judged(lived(10, heat=1.0)).evidence
    assert judged(lived(2, heat=1.0)).word == "cannot say"
    assert judged(lived(3, heat=1.0)).word == "thrives"


def test_where_no_run_of_five_years_is_known_whole_it_lives_as_often_as_its_years():
    """Of nine years the middle one is not decided, and every run of five holds it; seven of eight, or five, live."""
    for killed, word, share in (([0], "thrives", 0.875), ([0, 1, 2], "crops, lives briefly", 0.625)):
        years = lived(9, winter_kill=in_years(killed, 9))
        years.crop[4] = np.nan
        verdict = judged(years)
        assert verdict.word == word
        assert verdict.answer["lives"]["share_of_years"] == share
        assert "runs_of_5_years_survived" not in verdict.evidence


@pytest.mark.parametrize(("grows", "lost"), [(1.0, 0), (1.5, 1), (2.0, 1), (2.5, 2), (3.0, 2)])
def test_what_is_planted_anew_crops_in_the_year_in_which_it_has_grown_up(grows, lost):
    """Killed in 2004 and planted the winter after: of a year begun the whole is waited for."""
    crop = replace(TREE, perennial=replace(TREE.perennial, years_to_crop=grows))
    strip = judged(lived(winter_kill=in_years([3])), crop).strip
    assert [y for y, word in strip if word != "full crop"] == [2004 + k for k in range(lost + 1)]


def test_undecided_years_are_none_of_the_share():
    years = lived(6, heat=in_years([0], 6))
    years.crop[5] = np.nan
    verdict = judged(years)
    assert verdict.evidence["years_decided"] == 5
    assert verdict.reliability == 0.8
    assert [y for y, _ in verdict.strip] == [2001, 2002, 2003, 2004, 2005]
    assert verdict.evidence["share_of_a_full_crop"] == 0.8


PEACH = replace(BOOK["peach (low-chill)"], perennial=replace(TREE.perennial))
NEED = chill_row(PEACH).judged_low


@pytest.mark.parametrize(
    ("chill", "short", "word"),
    [
        (np.full(10, NEED - 0.5), 0, "thrives"),  # told in whole units
        (np.where(np.arange(10) < 2, NEED - 0.6, NEED), 2, "thrives"),
        (np.where(np.arange(10) < 3, NEED - 0.6, NEED), 3, "crops with a check"),
    ],
)
def test_the_best_word_asks_for_all_the_chill_in_the_years_asked_for(chill, short, word):
    years = lived(figures={"chill": chill}, chill_unmet=0.9)
    verdict = judged(years, PEACH)
    assert verdict.evidence["years_short_of_chill"] == short
    assert verdict.word == word
    assert verdict.evidence["chill_needed"] == [NEED, NEED]
    assert verdict.evidence["chill_here"] == [round(float(q)) for q in np.percentile(chill, [10, 50, 90])]


@pytest.mark.parametrize(
    ("summer", "winter", "growth", "word"),
    [
        (0.0, 1.0, 1.0, "grown as a winter annual"),
        (0.0, 1.0, 0.5, "grown as a winter annual"),
        (0.0, 1.0, 0.49, "not here"),  # the winter is too hot or too cold to grow in
        (0.3, 0.3, 1.0, "not here"),  # winters kill as many
        (0.69, 0.75, 1.0, "crops with a check"),  # half or more live
    ],
)
def test_a_winter_annual_is_one_because_summers_kill_it(summer, winter, growth, word):
    years = lived(summer_kill=summer, winter_kill=winter, winter_growth=growth)
    assert judged(years, PLANT).word == word
    assert judged(years, TREE).word == ("not here" if word != "crops with a check" else word)
    if word.startswith("grown"):
        assert judged(years, PLANT).limiting_factor == "summer kill"
        assert judged(years, PLANT).evidence["as_a_winter_annual"]["years"] == 10


def test_winters_that_carry_a_winter_annual_are_counted():
    """Ten summers that kill; of the winters one kills half and one more than half of the plants."""
    winter = np.ones(10)
    winter[:2] = 0.5, 0.49
    years = lived(summer_kill=0.0, winter_kill=winter, winter_growth=0.6)
    years.winter_growth[9] = 0.4
    verdict = judged(years, PLANT)
    assert verdict.evidence["as_a_winter_annual"] == {"years": 8, "growth_left": 0.58}
    assert verdict.reliability == 0.8
    assert verdict.suitability == "S3"


def test_what_kills_is_told_by_the_year():
    years = lived(4, winter_kill=[0.1, 1.0, 0.4, 1.0], summer_kill=[0.4, 0.3, 0.4, 1.0], heat=[1.0, 1.0, 1.0, 0.5])
    verdict = judged(years)
    assert verdict.answer["lives"] == {"share_of_years": 0.25, "summers_killed": [2002], "winters_killed": [2001, 2003]}
    assert [w for _, w in verdict.strip] == [
        "killed by winter",
        "killed by summer",
        "killed by winter",
        "part of a crop",
    ]
    assert verdict.evidence["years_of_winter_kill"] == 2
    assert verdict.evidence["years_of_summer_kill"] == 3
    assert "years_of_heat" not in verdict.evidence  # half is not more than half
    verdict = judged(lived(3, heat=[1.0, 0.39, 0.8]))
    assert [w for _, w in verdict.strip] == ["full crop", "no crop", "full crop"]


def test_the_hazard_that_limits_is_the_one_whose_absence_lifts_the_word():
    """Frost takes more in the mean, and in years that fail anyhow; without heat the word would be the best."""
    heat, frost = np.ones(10), np.ones(10)
    heat[:3] = 0.3
    frost[:2] = 0.0
    verdict = judged(lived(heat=0.75, frost=in_years(2)))
    assert verdict.limiting_factor == "heat"
    takes = verdict.evidence["takes_of_a_full_crop"]
    assert takes == {"heat": 0.25, "frost": 0.2}
    assert list(takes) == ["heat", "frost"]
    # without frost seven years are full, and eight are asked for; without heat, which takes less, there are eight
    assert judged(lived(heat=in_years([3, 4, 5], share=0.79), frost=in_years(2))).limiting_factor == "heat"
    # nothing lifts it: the one without which most years crop
    assert judged(lived(heat=heat, frost=in_years([4, 5, 6, 7]))).limiting_factor == "frost"


def test_what_lives_just_long_enough_and_bears_next_to_nothing_is_not_said_to_live_briefly():
    """Of ten runs in 14 years seven are survived; five years bring two fifths of a crop, the others nothing."""
    verdict = judged(lived(14, winter_kill=in_years([2], 14), heat=in_years(list(range(6, 14)), 14) * 0.4))
    assert verdict.evidence["years_cropped"] == 5
    assert verdict.evidence["runs_of_5_years_survived"] == 0.7
    assert verdict.word == "not here"


def test_a_hazard_that_leaves_the_word_as_it_is_does_not_limit_a_plant_that_may_be_a_winter_annual():
    """Without heat it would live and crop poorly; without frost four years would crop, and it were still not here."""
    heat, frost = np.array([0.45] * 4 + [0.0] * 6), np.array([0.0] * 4 + [0.35] * 6)
    verdict = judged(lived(heat=heat, frost=frost), PLANT)
    assert (verdict.word, verdict.limiting_factor) == ("not here", "heat")
    assert judged(lived(frost=frost), PLANT).word == "lives, crops poorly"
    assert judged(lived(heat=heat), PLANT).word == "not here"


def test_a_winter_is_told_beside_what_is_wanted_of_it():
    mild = replace(TREE, perennial=replace(TREE.perennial, winter_mean_best=10.0, winter_mean_most=14.0))
    told = judged(lived(figures={"winter mean": np.linspace(11.0, 13.0, 10)}), mild).evidence
    assert (told["winter_mean_degC"], told["winter_mean_wanted_degC"]) == (12.0, [10.0, 14.0])
    assert "winter_mean_wanted_degC" not in judged(lived(heat=0.9), mild).evidence


def test_picking_is_told_of_the_days_of_the_record():
    """One year's begins before the record and one's ends behind it: of ten days the first two and the last five."""
    site = SimpleNamespace(day_of_year=np.arange(100, 110), size=10)
    years = SimpleNamespace(first=np.array([-2.0, 5.0, 3.0]), last=np.array([1.0, 20.0, 3.0]))
    found = _picking_by_day(site, years, np.array([True, True, False]))
    assert np.flatnonzero(found).tolist() == [100, 101, 105, 106, 107, 108, 109]
    assert set(found[found > 0.0]) == {0.5}
    assert not _picking_by_day(site, years, np.zeros(3, dtype=bool)).any()


def test_what_thrives_is_limited_by_what_takes_a_years_crop_only():
    assert judged(lived(heat=0.9)).limiting_factor is None
    assert judged(lived(heat=in_years(1))).limiting_factor == "heat"
    small = judged(lived(heat=0.98, frost=0.975)).evidence
    assert small["takes_of_a_full_crop"] == {"frost": 0.03} or small["takes_of_a_full_crop"] == {"frost": 0.02}


@pytest.mark.parametrize(("left", "limits"), [(0.49, "heat"), (0.5, None), (0.54, None), (0.9, None)])
def test_a_crop_that_thrives_is_limited_by_what_takes_more_than_half_of_a_year(left, limits):
    verdict = judged(lived(heat=in_years([4], share=left)))
    assert (verdict.word, verdict.limiting_factor) == ("thrives", limits)


def test_the_crop_comes_before_the_years_where_it_crops_as_often_as_asked_and_after_them_elsewhere():
    """No one hazard lifts it: heat takes most of the crop, frost two years of ten; heat three years, frost the most."""
    often = judged(lived(heat=0.6, too_slow=0.78, frost=in_years(2)))
    assert (often.word, often.limiting_factor) == ("crops with a check", "heat")
    seldom = judged(lived(frost=0.55, heat=in_years(3), too_slow=in_years([5, 6, 7])))
    assert (seldom.word, seldom.limiting_factor) == ("lives, crops poorly", "heat")


def test_a_hazard_limits_by_the_word_that_stands_without_it():
    """Winters kill in every other year. Where heat leaves the others too little, without heat it would crop and live
    briefly, which is more than to live and crop poorly; where it leaves enough, without such winters it would do."""
    killed = in_years([0, 2, 4, 6, 8])
    poor = judged(lived(winter_kill=killed, heat=in_years([1, 3, 5, 7, 9], share=0.3)))
    assert (poor.word, poor.limiting_factor) == ("not here", "heat")
    assert judged(lived(winter_kill=killed)).word == "crops, lives briefly"
    assert judged(lived(heat=in_years([1, 3, 5, 7, 9], share=0.3))).word == "lives, crops poorly"
    brief = judged(lived(winter_kill=killed, heat=0.45))
    assert (brief.word, brief.limiting_factor) == ("crops, lives briefly", "winter kill")
    assert judged(lived(heat=0.45)).word == "crops with a check"


def test_of_many_hazards_that_each_take_next_to_nothing_none_is_said_to_limit():
    """Sixteen that leave 0.985 each leave 0.785 together, and without any one of them still less than a full crop."""
    verdict = judged(lived(**{f"hazard_{k}": 0.985 for k in range(16)}))
    assert (verdict.word, verdict.limiting_factor) == ("crops with a check", None)
    assert "takes_of_a_full_crop" not in verdict.evidence


def test_a_limit_that_is_recalled_is_told_in_words():
    years = lived(heat=in_years(1))
    years.limits = {"heat": ("perennials", "heat_stops")}
    named = replace(BOOK["lemon"], chill=())
    basis = judged(years, named).evidence["deciding_limit_rests_on"]
    told = judged(years, named).evidence["runs_of_5_years_survived"]
    assert told == ("nearly always" if basis == "memory" else 1.0)
    assert judged(years, named).evidence["deciding_limit"]["value"] == BOOK["lemon"].perennial.heat_stops
    assert [worded_share(x) for x in (0.9, 0.89, 0.7, 0.69, 0.4, 0.39, 0.1, 0.09)] == [
        "nearly always", "mostly", "mostly", "about as often as not", "about as often as not", "seldom", "seldom",
        "hardly ever",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("first", "last", "told"),
    [
        (366 + 100, 366 + 130, ("04-11", "05-11")),
        (366 + 355, 366 + 385, ("12-22", "01-21")),
    ],
)
def test_picking_in_the_middle_year(first, last, told):
    answer = judged(lived(first=first, last=last, heat=1.0))
    begins, _, ends = answer.evidence["picked_in_the_middle_year"].partition(" to ")
    assert (answer.answer["crops"]["from"], answer.answer["crops"]["to"]) == (begins, ends)
    for date, wanted in zip((begins, ends), told, strict=True):  # the middle of four years, of which one leaps
        assert abs(np.datetime64(f"2023-{date}") - np.datetime64(f"2023-{wanted}")).astype(int) <= 1


def test_picking_on_one_and_the_same_day_of_every_year_is_told_as_that_day():
    for day in range(0, 365, 7):
        years = lived(3, heat=1.0)
        starts = np.array([f"{y}-01-01" for y in (2001, 2002, 2003)], dtype="datetime64[D]") + day
        years.first = (starts - years.first_date).astype(float)
        years.last = years.first + 20
        assert judged(years).answer["crops"]["from"] == str(np.datetime64("2023-01-01") + day)[5:]


@pytest.mark.parametrize(("days", "never_ends"), [(364, True), (363, False)])
def test_picking_that_never_ends(days, never_ends):
    told = judged(lived(first=366 + 50, last=366 + 50 + days, heat=1.0)).evidence["picked_in_the_middle_year"]
    assert (told == "01-01 to 12-31") == never_ends


def test_pickings_about_new_year_have_their_middle_there_and_not_in_summer():
    years = lived(4, heat=1.0)
    starts = np.array(["2001-12-20", "2003-01-12", "2003-12-22", "2005-01-10"], dtype="datetime64[D]")
    years.first = (starts - years.first_date).astype(float)
    years.last = years.first + 20
    assert judged(years).answer["crops"]["from"] in ("12-31", "01-01")
    years.shares["heat"] = years.crop = np.zeros(4)
    assert judged(years).answer["crops"]["from"] is None


# spans of the month lists of nurseries, common practice; in the south half a year (182 days) later
PLANTED = {
    "bare-root": ("11-15", "02-28", "05-16", "08-29"),
    "crown": ("11-01", "03-15", "05-02", "09-13"),
    "runner": ("09-01", "11-15", "03-02", "05-16"),
    "cold-stored runner": ("06-15", "08-15", "12-14", "02-13"),
    "offset": ("09-01", "11-15", "03-02", "05-16"),
    "rhizome": ("11-01", "03-15", "05-02", "09-13"),
    "corm": ("08-15", "10-15", "02-13", "04-15"),
    "tuber": ("02-01", "04-15", "08-02", "10-14"),
    "seedling": ("09-15", "11-15", "03-16", "05-16"),
    "cutting": ("10-01", "12-31", "04-01", "07-01"),
    "pad": ("04-15", "06-30", "10-14", "12-29"),
    "seed": ("03-01", "05-15", "08-30", "11-13"),
    "container": ("10-01", "12-31", "04-01", "07-01"),
    "tender container": ("03-15", "05-31", "09-13", "11-29"),
}


def a_site(latitude):
    return SiteDays(np.full(5000, 8.0), np.full(5000, 20.0), np.datetime64("2000-01-01"), latitude)


def whole_line(years, stock, latitude=40.0, hardy=-20.0, **more):
    crop = replace(TREE, ways=(Way(way="planted", stock=stock),), **more)
    crop = replace(crop, perennial=replace(TREE.perennial, killing_dormant=hardy))
    verdict = rate_perennial(crop, years, BOOK)
    return perennial_line(a_site(latitude), crop, verdict, years)


def line(*args, **more):
    return whole_line(*args, **more).starts[0]


def test_a_line_carries_its_note_and_what_limits_it():
    assert whole_line(lived(heat=0.5), "seed", note="").notes == ()
    told = whole_line(lived(heat=0.5), "seed", note="wants a sunny place")
    assert told.notes == ("wants a sunny place",)
    assert (told.crop, told.family, told.limiting_factor) == (TREE.name, TREE.family, "heat")


def date_of(day):
    return str(np.datetime64("2023-01-01") + day)[5:]


@pytest.mark.parametrize("stock", PLANTED)
@pytest.mark.parametrize("south", [False, True])
def test_planting_months_of_both_hemispheres(stock, south):
    hardy = -10.0 if stock.startswith("container") else -9.9
    way = line(lived(heat=1.0), stock.removeprefix("tender "), -40.0 if south else 40.0, hardy)
    (window,) = way.windows
    assert (date_of(window.start), date_of(window.end)) == PLANTED[stock][2 * south : 2 * south + 2]
    to_best, to_end = (window.best - window.start) % 365, (window.end - window.start) % 365
    assert to_best == to_end // 2


def test_no_date_of_planting_hangs_on_the_sign_of_zero_latitude():
    assert line(lived(heat=1.0), "seed", 0.0).windows[0].start == line(lived(heat=1.0), "seed", 40.0).windows[0].start


def test_a_window_tells_odds_yield_and_pickings_of_each_year():
    heat = np.ones(10)
    heat[[1, 4]] = 0.3, 0.6
    years = lived(heat=heat)
    way = line(years, "seed")
    (window,) = way.windows
    assert way.possible == way.windows
    assert way.outside == ()
    assert window.reliability == 0.9
    assert window.interval == pytest.approx((0.596, 0.982), abs=0.001)  # Wilson, 9 of 10
    assert (window.years_decided, window.yield_fraction) == (10, pytest.approx(0.89))
    dates = [str(years.first_date + int(d)) for d in years.first]
    for (year, day), begun, good in zip(window.first_pickings, dates, heat >= 0.4, strict=True):
        assert int(begun[:4]) == year
        assert day == (None if not good else window.first_pickings[0][1])
    picked = np.flatnonzero(way.picking)
    assert picked.size == 31 + (way.picking[picked] < 1).sum() // 2
    assert way.picking.max() == 1.0


def test_pickings_beyond_the_record_are_no_dates():
    years = lived(heat=1.0)
    years.first[9], years.last[9] = 5000, 5030
    years.first[0], years.last[0] = 4990, 5030
    pickings = dict(line(years, "seed").windows[0].first_pickings)
    assert pickings[2010] is None
    assert pickings[2001] is not None
    assert line(years, "seed").picking.max() <= 1.0


@pytest.mark.parametrize(("failing", "possible"), [(5, 1), (6, 0)])
def test_no_planting_is_called_possible_that_works_in_fewer_than_half_of_the_years(failing, possible):
    way = line(lived(heat=in_years(failing)), "seed")
    assert len(way.possible) == possible
    assert way.windows == ()
    assert [(o.start, o.end, o.hazard, o.share_of_years) for o in way.outside] == (
        [] if possible else [(0, 364, "heat", 0.6)]
    )


def wave(latitude):
    """Five years with a cold season in which chill gathers."""
    day = np.arange(365 * 5 + 1)
    tas = 12.0 + 7.0 * np.sin(2 * np.pi * (day - 110) / 365.25) * (1 if latitude >= 0 else -1)
    return SiteDays(tas - 5.0, tas + 5.0, np.datetime64("2001-01-01"), latitude)


@pytest.mark.parametrize("latitude", [42.0, -42.0])
def test_where_the_ends_of_a_chill_need_disagree_nothing_is_said(latitude):
    site, bush = wave(latitude), BOOK["gooseberry"]
    need = chill_row(bush)
    had = judge_perennial(site, bush, BOOK)[1].evidence["chill_here"][1]

    def between(low, high):
        return replace(bush, chill=(replace(need, judged_low=low * had, judged_high=high * had),))

    verdict = judge_perennial(site, between(0.5, 2.0), BOOK)[1]
    assert (verdict.word, verdict.suitability, verdict.reliability, verdict.strip) == ("cannot say", None, None, ())
    assert verdict.evidence["chill_needed"] == [0.5 * had, 2.0 * had]
    assert f"{0.5 * had:g} to {2 * had:g} portions" in verdict.evidence["unknown"][0]
    assert verdict.evidence["if_its_limits_are_kinder"] in ("thrives", "crops with a check")
    assert verdict.evidence["if_they_are_harsher"] in ("lives, crops poorly", "not here")
    assert judge_perennial(site, between(0.5, 0.6), BOOK)[1].word == verdict.evidence["if_its_limits_are_kinder"]
    assert judge_perennial(site, between(1.9, 2.0), BOOK)[1].suitability not in ("S1", "S2", None)
    # with four fifths of the chill that a sort asks for half a crop is left, which still is one; with less it is not
    just = judge_perennial(site, between(1.25, 3.0), BOOK)[1]
    assert just.word == "cannot say"
    assert just.evidence["if_its_limits_are_kinder"] == "crops with a check"
    assert judge_perennial(site, between(0.5, 1.25), BOOK)[1].suitability in ("S1", "S2")
    assert judge_perennial(site, between(0.5, 1.35), BOOK)[1].word == "cannot say"
    asked_at_an_end = replace(between(0.5, 2.0), chill_end=0.0)
    assert judge_perennial(site, asked_at_an_end, BOOK)[1].word == verdict.evidence["if_its_limits_are_kinder"]


def test_chill_is_told_only_where_it_was_counted():
    assert "chill_here" not in judged(lived(heat=1.0), PEACH).evidence
    assert "years_short_of_chill" not in judged(lived(heat=1.0), PEACH).evidence


@pytest.mark.parametrize("latitude", [42.0, -42.0])
@pytest.mark.parametrize(("years", "said"), [(3, False), (4, True), (5, True)])
def test_what_is_tried_has_the_word_that_is_told(latitude, years, said):
    """Of four calendar years three growing years lie whole within the record, and three are enough."""
    whole = wave(latitude)
    days = 365 * years + 1
    site = SiteDays(whole.tasmin[:days], whole.tasmax[:days], whole.dates[0], latitude)
    words = set()
    for name in ("gooseberry", "lemon", "olive", "asparagus"):
        word = judge_perennial(site, BOOK[name], BOOK)[1].word
        assert perennial_word(site, BOOK[name]) == word
        words.add(word)
    assert (words == {"cannot say"}) == (not said)


def test_picking_is_told_of_the_years_that_crop():
    """Picked from day 100 of the year on, and in the one year that fails from day 250."""
    years = lived(5, first=366 + 100, last=366 + 130, heat=in_years([1], 5))
    usual = judged(years).answer["crops"]
    years.first[1], years.last[1] = years.first[1] + 150, years.last[1] + 190
    assert judged(years).answer["crops"] == usual
    assert usual["from"][:2] == "04"


def test_shares_are_told_in_hundredths():
    assert judged(lived(heat=0.8765)).evidence["share_of_a_full_crop"] == 0.88
    assert judged(lived(15, winter_kill=in_years([0], 15))).evidence["runs_of_5_years_survived"] == 0.91  # of eleven
    winter = judged(lived(summer_kill=0.0, winter_kill=1.0, winter_growth=0.6123), PLANT).evidence
    assert winter["as_a_winter_annual"]["growth_left"] == 0.61
    takes = judged(lived(heat=0.8765)).evidence["takes_of_a_full_crop"]
    assert takes == {"heat": 0.12}


def test_figures_of_the_years_are_told_in_tenths_with_their_units_and_the_chill_with_its_source():
    figures = {"winter mean": 12.04, "coldest": -3.26, "summer mean": 24.96, "heat sum": 1800.04, "hottest spell": 4.5}
    told = judged(lived(figures={k: np.array([v - 1.0] * 5 + [v + 1.0] * 5) for k, v in figures.items()})).evidence
    assert (told["winter_mean_degC"], told["coldest_degC"], told["summer_mean_degC"]) == (12.0, -3.3, 25.0)
    assert (told["heat_sum_degC_d"], told["hottest_spell_d"]) == (1800.0, 4.5)
    peach = judged(lived(figures={"chill": np.full(10, NEED)}, chill_unmet=1.0), PEACH).evidence
    (row,) = [r for r in BOOK.rows("chill", PEACH.name) if r["used"] == "yes"]
    assert peach["chill_source"] == BOOK.source_of(row, table_descriptions()["chill"], "judged_low").citation != ""
    assert peach["chill_model"] == chill_row(PEACH).model
    spread = judged(lived(figures={"chill": 1000.0 + 100.0 * np.arange(10)}, chill_unmet=1.0), PEACH).evidence
    assert spread["chill_here"] == [1090, 1450, 1810]  # a tenth, half and nine tenths of the way along ten winters


def test_a_line_of_which_nothing_can_be_said_tells_what_is_lacking_and_no_hazard():
    way = line(lived(2, heat=0.1), "seed")
    assert way.unknown == ("a record of at least 3 whole years",)
    assert (way.windows, way.possible, way.outside) == ((), (), ())
    told = line(lived(3, heat=0.1), "seed")
    assert told.unknown == ()
    assert [(o.hazard, o.share_of_years) for o in told.outside] == [("heat", 1.0)]
