"""Survival over runs of years, and what-ifs that lift a verdict."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from sowcal.answers import open_handbook, rate_crops, sowing_chart
from sowcal.errors import InputError
from sowcal.microclimate import WHAT_IFS, parse_what_if, with_what_ifs
from sowcal.seasons.perennial_years import PerennialYears
from sowcal.seasons.site_days import SiteDays
from sowcal.seasons.sums import survival_of_runs
from sowcal.suitability.annuals import GRADES
from sowcal.suitability.perennials import judge_perennial, rate_perennial
from sowcal.suitability.verdicts import helps_for
from sowcal.weather.open_site import open_weather

PARTS = ("values", "origin")  # of a record, by variable
ALL = ("summer kill", "heat", "winter kill", "frost", "frost on blossom", "too slow", "chill unmet", "winter too mild")


def test_bad_years_in_company_are_not_a_power_of_their_share():
    """Ten deaths in a row spoil 14 runs of 5 in 30 years; ten spread out spoil nearly all; the power would say 0.13."""
    together = np.ones(30)
    together[10:20] = 0
    spread = np.ones(30)
    spread[::3] = 0
    assert survival_of_runs(together) == (12 / 26, 26)
    assert survival_of_runs(spread)[0] == 0


@given(hnp.arrays(float, st.integers(1, 30), elements=st.sampled_from([0.0, 1.0])))
def test_survival_of_runs_is_what_a_loop_counts(alive):
    length = min(5, alive.size)
    runs = [alive[k : k + length].all() for k in range(alive.size - length + 1)]
    assert survival_of_runs(alive)[0] == pytest.approx(np.mean(runs))


@pytest.mark.parametrize("name", sorted(WHAT_IFS))
def test_what_ifs_change_what_they_say_and_leave_the_given_data_alone(name):
    _, record = open_weather("sallowdene")
    before = record["tasmax"].copy()
    changed = with_what_ifs(record, ["slope@S" if name == "slope" else name])
    assert (record["tasmax"] == before).all()
    assert changed.what_ifs
    assert (changed["tasmax"] >= changed["tasmin"]).all()
    moved = (changed["tasmax"] != before).any() or (changed["tasmin"] != record["tasmin"]).any()
    assert moved or "rsds" in changed or changed.felt.crown_relief > 0


def test_a_warmer_summer_leaves_the_winter_alone():
    _, record = open_weather("sallowdene")
    changed = with_what_ifs(record, ["warmer@6-8=2"])
    month = record.time.astype("datetime64[M]").astype(int) % 12 + 1
    rise = changed["tasmax"] - record["tasmax"]
    np.testing.assert_allclose(rise[(month >= 6) & (month <= 8)], 2.0)
    np.testing.assert_allclose(rise[(month < 6) | (month > 8)], 0.0)


def test_what_ifs_compose():
    _, record = open_weather("sallowdene")
    both = with_what_ifs(record, ["warmer@1-6=3", "warmer@7-12=3"])
    once = with_what_ifs(record, ["warmer=3"])
    np.testing.assert_allclose(both["tasmin"], once["tasmin"])


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("mulsh", "did you mean 'mulch'"),
        ("shade-cloth=x", "not a number"),
        ("shade-cloth=99", "outside 10 to 80"),
        ("warmer@13=2", "names no months"),
        ("mulch@6", "holds all year"),
    ],
)
def test_a_bad_what_if_is_refused_in_one_sentence(text, says):
    with pytest.raises(InputError, match=says):
        parse_what_if(text)


def test_higher_ground_keeps_tender_crops_out_longer():
    low = sowing_chart("sallowdene", ["tomato (large)"]).crops[0].starts[0].possible[0]
    high = sowing_chart("sallowdene", ["tomato (large)"], what_ifs=["higher=400"]).crops[0].starts[0].possible[0]
    assert high.start > low.start + 5


def test_a_verdict_names_what_would_lift_it_or_that_nothing_does():
    _, verdicts = rate_crops("sallowdene", ["avocado", "celery"])
    for verdict in verdicts:
        if verdict.suitability != "S1":
            assert verdict.what_would_change_it


def test_weak_and_strong_ends_stand_on_either_side_of_the_middle():
    """Nights under fleece in the mean, as the trials of Oregon State University 1988 spread: 0.3 to 1.8 degC warmer."""
    _, record = open_weather("sallowdene")
    open_nights = record["tasmin"]
    gain = [
        float((with_what_ifs(record, [f"fleece{end}"])["tasmin"] - open_nights).mean())
        for end in ("@weak", "", "@strong")
    ]
    assert gain == sorted(gain)
    assert 0.0 <= gain[0] <= 0.3
    assert gain[2] == pytest.approx(1.8)
    with pytest.raises(InputError, match="fleece@weak and fleece@strong are known of it"):
        parse_what_if("fleece@6-8")


def test_every_change_that_may_be_named_as_a_remedy_has_a_range():
    for what in WHAT_IFS.values():
        assert (what.weak is not None and what.strong is not None and what.range_says != "") == what.lifts


def test_a_help_that_the_weak_end_would_not_give_is_told_so():
    """Each change that lifts a verdict is tried at its weak end too; what is told must be what that end gives."""
    crops = ["rhubarb", "globe artichoke (offset)", "strawberry (day-neutral)", "sorrel", "horseradish", "tarragon"]
    _, verdicts = rate_crops("sallowdene", crops)
    names = {w.says.format(amount=w.usual): w.name for w in WHAT_IFS.values() if w.lifts}
    seen = 0
    for v in verdicts:
        for change in v.what_would_change_it:
            says, _, word = change.rpartition(": ")
            plain, told, _ = says.partition(" (not at the weak end")
            if plain not in names:
                continue
            seen += 1
            _, (weak,) = rate_crops("sallowdene", [v.crop], what_ifs=[f"{names[plain]}@weak"], most_remedies=0)
            assert (GRADES[weak.word] < GRADES[v.word]) == (told == "")
            _, (middle,) = rate_crops("sallowdene", [v.crop], what_ifs=[names[plain]], most_remedies=0)
            assert middle.word == word
    assert seen > 3


def test_nobody_fleeces_an_olive_tree_and_no_shade_makes_up_for_chill():
    book = open_handbook()
    covers = {"fleece", "cold-frame", "tunnel", "shade-cloth"}
    for crop in book.values():
        if crop.perennial is None:
            continue
        helps = set(helps_for(crop, ALL))
        if crop.perennial.habit == "tree":
            assert not helps & covers, crop.name
        assert not helps_for(crop, ["chill unmet", "winter too mild"])
    assert "fleece" in helps_for(book["strawberry (short-day)"], ["frost on blossom"])


def test_changes_are_named_of_many_crops_too():
    _, verdicts = rate_crops("sallowdene")
    perennials = [v for v in verdicts if v.answer is not None and v.suitability not in ("S1", None)]
    assert len(perennials) > 12
    assert all(v.what_would_change_it for v in perennials)


def test_what_is_killed_crops_again_only_when_it_has_grown_up():
    """A tree that crops from its third year, killed in one winter of ten, loses that year and two more."""
    crop = open_handbook()["lemon"]
    years = PerennialYears(np.arange(2001, 2011), np.datetime64("2000-01-01"))
    years.shares = {"winter kill": np.where(years.years == 2004, 0.0, 1.0)}
    years.alive = years.crop = years.shares["winter kill"].copy()
    years.first, years.last = np.arange(10) * 365.0 + 400, np.arange(10) * 365.0 + 430
    verdict = rate_perennial(crop, years, open_handbook())
    assert crop.perennial.years_to_crop == 3
    assert [y for y, word in verdict.strip if word != "full crop"] == [2004, 2005, 2006]
    assert verdict.answer["lives"]["winters_killed"] == [2004]
    assert verdict.answer["crops"]["share_of_years"] == pytest.approx(0.7)


def test_litres_are_what_the_soil_of_the_year_asks_for():
    """Dry summers ask for more than wet ones, and nothing is told without rain."""
    _, (dry,) = rate_crops("sallowdene", ["peach (low-chill)"])
    _, (wet,) = rate_crops("wrackhythe", ["peach (low-chill)"])
    assert dry.answer["litres_per_m2"] > wet.answer["litres_per_m2"] > 0
    _, record = open_weather("sallowdene")
    without = replace(record, **{part: {k: v for k, v in getattr(record, part).items() if k != "pr"} for part in PARTS})
    _, (unknown,) = rate_crops(without, ["peach (low-chill)"])
    assert unknown.answer["litres_per_m2"] is None


def test_where_the_ends_of_a_chill_need_disagree_nothing_is_said(reference_folder):
    """Gooseberry: 800 hours in lists of places with cold winters, 38 to 53 portions; a coast of 40 lies between."""
    import sys
    from pathlib import Path

    sys.path.insert(0, str(Path(__file__).parents[1] / "validation"))
    import guides

    book = open_handbook()
    site = SiteDays.from_record(guides.station_record(reference_folder, "albany_wa"))
    bush = book["gooseberry"]
    (need,) = [c for c in bush.chill if c.used == "yes"]
    _, verdict = judge_perennial(site, bush, book)
    assert need.judged_low < verdict.evidence["chill_here"][1] < need.judged_high
    assert (verdict.word, verdict.suitability, verdict.reliability) == ("cannot say", None, None)
    assert "winter chill" in verdict.evidence["unknown"][0]
    assert verdict.evidence["if_its_limits_are_kinder"] == "crops with a check"
    assert verdict.evidence["if_they_are_harsher"] == "lives, crops poorly"
    known = replace(bush, chill=(replace(need, judged_high=need.judged_low),))
    assert judge_perennial(site, known, book)[1].word == "crops with a check"
