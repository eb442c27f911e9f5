"""Degree days against printed tables and a year of published daily values."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from sowcal.climate.degree_days import CUTOFFS, METHODS, growing_degree_days, single_sine_horizontal
from sowcal.errors import InputError

CURVES = ("single_triangle", "double_triangle", "single_sine", "double_sine")
# UC Statewide IPM Program's names for the same
UC_METHODS = {
    "sngsine": "single_sine",
    "dblsine": "double_sine",
    "sngtri": "single_triangle",
    "dbltri": "double_triangle",
}
UC_CUTOFFS = {"horiz": "horizontal", "vert": "vertical", "intrmd": "intermediate"}

temperatures = st.floats(-40.0, 50.0)
lows = arrays(float, 20, elements=temperatures)
ranges = arrays(float, 20, elements=st.floats(0.0, 30.0))


@pytest.mark.parametrize("method", CURVES)
def test_printed_table_of_zalom(published, method):
    """Zalom et al. 1983, UC Leaflet 21373, Table 7 (degF; 55 and 90 degF, horizontal), printed to 0.01."""
    table = published("degree_days_zalom1983.csv")
    assert len(table) == 9
    low, high, after = (table[c].to_numpy(float) for c in ("tmin_degF", "tmax_degF", "next_tmin_degF"))
    two_days = np.stack([low, after], axis=-1)
    got = growing_degree_days(
        two_days,
        np.stack([high, after + 1.0], -1),
        base_temperature=55.0,
        upper_threshold=90.0,
        method=method,
    )[:, 0]
    np.testing.assert_allclose(got, table[method], atol=0.0051)


def test_both_readings_of_the_average(published):
    """McMaster & Wilhelm 1997, Agric. For. Meteorol. 87:291-300, Table 1 (degC, base 0)."""
    table = published("degree_days_mcmaster1997.csv")
    assert (table["average_mean"] != table["average_readings"]).sum() == 3
    for method in ("average_mean", "average_readings"):
        got = growing_degree_days(table["tmin_degC"], table["tmax_degC"], base_temperature=0.0, method=method)
        np.testing.assert_allclose(got, table[method], atol=1e-9)


@pytest.mark.parametrize("cutoff", list(UC_CUTOFFS))
@pytest.mark.parametrize("method", list(UC_METHODS))
def test_days_of_uc_ipm(published, method, cutoff):
    """UC Statewide IPM Program, CIMIS station Esparto.A, 2020, 50 and 70 degF, to 0.01: days of every place of the two
    temperatures to the two thresholds."""
    table = published("degree_days_ucipm_2020.csv")
    low, high, after = (table[c].to_numpy(float) for c in ("tmin_degF", "tmax_degF", "next_tmin_degF"))
    below = {(int(a >= 50) + int(a >= 70), int(b > 50) + int(b > 70)) for a, b in zip(low, high, strict=True)}
    assert below == {(0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2)}
    got = growing_degree_days(
        np.stack([low, after], axis=-1),
        np.stack([high, after + 1.0], axis=-1),
        base_temperature=50.0,
        upper_threshold=70.0,
        method=UC_METHODS[method],
        cutoff=UC_CUTOFFS[cutoff],
    )[:, 0]
    np.testing.assert_allclose(got, table[f"{method}_{cutoff}"], atol=0.0052)


@pytest.mark.parametrize("cutoff", list(UC_CUTOFFS))
@pytest.mark.parametrize("method", list(UC_METHODS))
def test_a_year_of_uc_ipm(reference_folder, method, cutoff):
    """The same of all 366 days, where the folder of published values is at hand."""
    table = pd.read_csv(reference_folder / "reference" / "degree_days_ucipm_esparto2020_daily.csv")
    got = growing_degree_days(
        table["tmin"],
        table["tmax"],
        base_temperature=50.0,
        upper_threshold=70.0,
        method=UC_METHODS[method],
        cutoff=UC_CUTOFFS[cutoff],
    )
    assert got.size == 366
    # The double forms need the first minimum of 2021, which the file does not hold.
    days = slice(None, -1) if method.startswith("dbl") else slice(None)
    np.testing.assert_allclose(got[days], table[f"{method}_{cutoff}"][days], atol=0.0052)


@given(lows, ranges, st.floats(0.0, 20.0), st.floats(1.0, 20.0))
def test_single_sine_is_the_mean_of_the_response_over_the_curve(low, span, base, above):
    """Against the definition (Baskerville & Emin 1969): the mean of a capped sine, summed by midpoints."""
    phase = (np.arange(2000) + 0.5) / 2000 * 2 * np.pi
    curve = (low + 0.5 * span)[:, None] + 0.5 * span[:, None] * np.sin(phase)
    expected = (np.clip(curve, base, base + above) - base).mean(axis=-1)
    got = single_sine_horizontal(low, low + span, base, base + above)
    np.testing.assert_allclose(got, expected, atol=2e-3)


@given(lows, ranges, st.floats(0.0, 10.0), st.sampled_from(METHODS), st.booleans())
def test_more_warmth_never_gives_fewer(low, span, warmer, method, bounded):
    upper = 30.0 if bounded else None
    cool, warm = (
        growing_degree_days(low + w, low + w + span, base_temperature=10.0, upper_threshold=upper, method=method)
        for w in (0.0, warmer)
    )
    assert (warm >= cool - 1e-9).all()
    if bounded:
        assert (warm <= 20.0 + 1e-9).all()


@given(st.floats(31.0, 38.0), st.floats(0.5, 5.0), st.sampled_from(METHODS))
def test_days_wholly_above_the_threshold_lose_by_the_other_cutoffs(low, warmer, method):
    """Intermediate falls as the day warms, vertical gives nothing."""
    low = np.full(3, low)
    fall, later, nothing, flat = (
        growing_degree_days(
            low + w, low + w + 1.0, base_temperature=10.0, upper_threshold=30.0, method=method, cutoff=c
        )
        for c, w in (("intermediate", 0.0), ("intermediate", warmer), ("vertical", 0.0), ("horizontal", 0.0))
    )
    assert (later < fall).all()
    assert (fall < flat).all()
    np.testing.assert_allclose(nothing, 0.0, atol=1e-9)


@given(lows, ranges, st.sampled_from(METHODS))
def test_cutoffs_keep_their_order(low, span, method):
    vertical, intermediate, horizontal = (
        growing_degree_days(low, low + span, base_temperature=10.0, upper_threshold=25.0, method=method, cutoff=c)
        for c in ("vertical", "intermediate", "horizontal")
    )
    assert (vertical >= -1e-12).all()
    assert (vertical <= intermediate + 1e-9).all()
    assert (intermediate <= horizontal + 1e-9).all()


@pytest.mark.parametrize("cutoff", CUTOFFS)
@pytest.mark.parametrize("method", METHODS)
def test_missing_days_stay_missing_and_spoil_no_other(method, cutoff):
    low = np.array([5.0, np.nan, 8.0, 9.0])
    high = np.array([20.0, 25.0, np.nan, 35.0])
    got = growing_degree_days(low, high, base_temperature=10.0, upper_threshold=30.0, method=method, cutoff=cutoff)
    assert np.isnan(got).tolist() == [False, True, True, False]


def test_the_double_form_falls_back_to_the_single_one():
    """On the last day and before a missing minimum."""
    low, high = np.array([5.0, np.nan, 6.0]), np.array([20.0, 21.0, 22.0])
    double, single = (
        growing_degree_days(low, high, base_temperature=10.0, method=m) for m in ("double_sine", "single_sine")
    )
    np.testing.assert_allclose(double[[0, 2]], single[[0, 2]])


def test_many_places_at_once_are_as_each_alone():
    rng = np.random.default_rng(0)
    low = rng.normal(10.0, 5.0, (2, 40, 500))
    got = single_sine_horizontal(low, low + 10.0, 10.0, 25.0)
    assert got.shape == low.shape
    np.testing.assert_array_equal(got[1, 7], single_sine_horizontal(low[1, 7], low[1, 7] + 10.0, 10.0, 25.0))
    shared = single_sine_horizontal(low[0], np.full(500, 30.0), 10.0, 25.0)
    np.testing.assert_array_equal(shared[3], single_sine_horizontal(low[0, 3], np.full(500, 30.0), 10.0, 25.0))


@pytest.mark.parametrize("shape", [(9000, 4), (4, 9000), (36000,), (3, 3000, 4)])
@pytest.mark.parametrize("method", METHODS)
def test_no_place_answers_for_another(method, shape):
    """Few days of many places and many days of few: each place as if it had been asked for alone."""
    rng = np.random.default_rng(1)
    low = rng.normal(10.0, 6.0, shape)
    high = low + rng.uniform(0.0, 15.0, shape)
    how = {"base_temperature": 10.0, "upper_threshold": 22.0, "method": method}
    got = growing_degree_days(low, high, **how)
    assert got.shape == shape
    for k in (0, 1, 7, -1):
        place = np.unravel_index(k % (got.size // shape[-1]), shape[:-1])
        np.testing.assert_array_equal(got[place], growing_degree_days(low[place], high[place], **how))


@pytest.mark.parametrize("method", METHODS)
def test_one_reading_for_all_days(method):
    high = np.array([12.0, 20.0, 31.0])
    for low, top in ((5.0, high), (high - 10.0, 35.0)):
        got = growing_degree_days(low, top, base_temperature=8.0, method=method)
        whole = growing_degree_days(np.full(3, 0.0) + low, np.full(3, 0.0) + top, base_temperature=8.0, method=method)
        np.testing.assert_array_equal(got, whole)


def test_a_day_that_only_just_crosses_a_threshold():
    """The reading is a rounding beyond the threshold: no root of less than nothing, and the plain mean."""
    high = np.random.default_rng(2).uniform(12.0, 40.0, 2000)
    low = np.full(2000, np.nextafter(10.1, 0.0))
    middle = 0.5 * (low + high)
    assert ((middle - 10.1) / (high - middle) > 1.0).any()  # farther from the threshold than the curve reaches
    np.testing.assert_allclose(single_sine_horizontal(low, high, 10.1), middle - 10.1, atol=1e-6)
    how = {"base_temperature": 0.0, "upper_threshold": 10.1, "method": "single_sine", "cutoff": "vertical"}
    np.testing.assert_allclose(growing_degree_days(low, high, **how), 0.0, atol=1e-6)  # too warm all day


@pytest.mark.parametrize(
    ("cutoff", "expected"),
    [("horizontal", [10, 20, 20, 20, 20]), ("intermediate", [10, 20, 18, 10, 0]), ("vertical", [10, 20, 0, 0, 0])],
)
@pytest.mark.parametrize("method", [m for m in METHODS if not m.startswith("double")])
def test_what_warmth_above_the_threshold_does(method, cutoff, expected):
    """By hand from the cut-offs' definition, 10 and 30 degC: all day 20, 30 (not yet above), 32, 40 or 55 degC."""
    days = np.array([20.0, 30.0, 32.0, 40.0, 55.0])
    got = growing_degree_days(days, days, base_temperature=10.0, upper_threshold=30.0, method=method, cutoff=cutoff)
    np.testing.assert_allclose(got, expected, atol=1e-12)


def test_a_labelled_result_tells_how_it_was_made(labelled):
    time = np.arange("2001-01-01", "2001-01-04", dtype="datetime64[D]")
    low, high = labelled([5.0, 6.0, 7.0], time), labelled([15.0, 16.0, 17.0], time)
    plain = growing_degree_days(low, high, base_temperature=7.5)
    assert plain.attrs["upper_threshold"] == "none"
    assert plain.attrs["base_temperature"] == "7.5 degC"
    assert (plain.attrs["method"], plain.attrs["units"]) == ("single_sine", "degC day")
    capped = growing_degree_days(low, high, base_temperature=7.5, upper_threshold=30.0, cutoff="vertical")
    assert capped.attrs["upper_threshold"] == "30 degC, vertical cut-off"


def test_no_upper_threshold_in_any_spelling():
    low, high = np.array([5.0, 25.0]), np.array([20.0, 40.0])
    expected = growing_degree_days(low, high, base_temperature=10.0)
    for none in (None, np.nan, np.inf):
        np.testing.assert_array_equal(single_sine_horizontal(low, high, 10.0, none), expected)


def test_bad_choices_are_named():
    with pytest.raises(InputError, match="method is 'sine'"):
        growing_degree_days([1.0], [2.0], base_temperature=0.0, method="sine")
    with pytest.raises(InputError, match="cutoff is"):
        growing_degree_days([1.0], [2.0], base_temperature=0.0, cutoff="round")
    with pytest.raises(InputError, match="time axis"):
        growing_degree_days(1.0, 2.0, base_temperature=0.0)
    with pytest.raises(InputError, match="upper_threshold"):
        growing_degree_days([1.0], [2.0], base_temperature=10.0, upper_threshold=10.0)
