"""Survival over runs of years, and what-ifs that lift a verdict."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from sowcal.answers import rate_crops, sowing_chart
from sowcal.errors import InputError
from sowcal.microclimate import WHAT_IFS, parse_what_if, with_what_ifs
from sowcal.suitability.perennials import survival_of_runs
from sowcal.weather.open_site import open_weather


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
