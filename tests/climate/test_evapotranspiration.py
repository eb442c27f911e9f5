"""Reference evapotranspiration against FAO-56's worked examples, refet and a package's own record.

The examples are those of FAO Irrigation and Drainage Paper 56 (1998), as `tests/data` keeps them with their pages.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sowcal.climate import evapotranspiration as et
from sowcal.climate import sun
from sowcal.climate.sun import extraterrestrial_radiation
from sowcal.errors import InputError

near = pytest.approx


FUNCTIONS = {
    name: getattr(module, name)
    for module, names in (
        (
            et,
            "air_pressure psychrometric_constant mean_saturation_vapour_pressure actual_vapour_pressure net_longwave "
            "net_shortwave wind_at_2m penman_monteith reference_evapotranspiration",
        ),
        (sun, "extraterrestrial_radiation day_length solar_radiation_from_range"),
    )
    for name in names.split()
}
with open(Path(__file__).parents[1] / "data" / "fao56_examples.csv", encoding="utf-8", newline="") as table:
    EXAMPLES = list(csv.DictReader(table))


@pytest.mark.parametrize("row", EXAMPLES, ids=lambda r: f"Example {r['example']}, {r['function']}")
def test_worked_examples_of_fao56(row):
    got = FUNCTIONS[row["function"]](*json.loads(row["arguments"]), **json.loads(row["keywords"]))
    assert np.ravel(got)[0] == near(float(row["answer"]), abs=float(row["within"]))


def test_no_function_of_the_worked_examples_is_left_out():
    assert {row["function"] for row in EXAMPLES} == set(FUNCTIONS)


def test_against_refet(seattle):
    """refet 0.5 (ASCE-EWRI 2005, short crop) on four years of Seattle; it has the
    same equation with an own clear-sky and Ra, hence 3 per cent a day."""
    import refet

    days = (seattle.time - seattle.time.astype("datetime64[Y]").astype("datetime64[D]")).astype(float) + 1
    solar = 0.5 * extraterrestrial_radiation(seattle.latitude, days)
    dew = seattle.tasmin - 1.0
    ours = et.reference_evapotranspiration(
        seattle.tasmin,
        seattle.tasmax,
        method="penman_monteith",
        latitude=seattle.latitude,
        day_of_year=days,
        elevation=50.0,
        rsds=solar,
        dew_point=dew,
        wind=np.full(days.size, 3.0),
    )
    theirs = refet.Daily(
        tmin=seattle.tasmin,
        tmax=seattle.tasmax,
        rs=solar,
        uz=np.full(days.size, 3.0),
        zw=10.0,
        elev=50.0,
        lat=seattle.latitude,
        doy=days,
        tdew=dew,
        method="asce",
        input_units={},
    ).eto()
    np.testing.assert_allclose(ours.sum(), theirs.sum(), rtol=0.005)
    np.testing.assert_allclose(ours, theirs, rtol=0.03, atol=0.03)


def test_against_the_record_of_tunis(tunis):
    """aquacrop's Tunis file carries its own reference ET0; Hargreaves-Samani from its temperatures must
    follow its yearly course and stay within 15 per cent of its sum."""
    days = (tunis.time - tunis.time.astype("datetime64[Y]").astype("datetime64[D]")).astype(float) + 1
    got = et.reference_evapotranspiration(
        tunis.tasmin, tunis.tasmax, method="hargreaves_samani", latitude=tunis.latitude, day_of_year=days
    )
    assert got.sum() / tunis.et0.sum() == near(1.0, abs=0.15)
    month = tunis.time.astype("datetime64[M]").astype(int) % 12
    means = [[x[month == m].mean() for m in range(12)] for x in (got, tunis.et0)]
    assert np.corrcoef(means)[0, 1] > 0.98


@given(st.floats(-20.0, 35.0), st.floats(0.0, 25.0), st.floats(-66.0, 66.0), st.integers(1, 365))
def test_finite_and_never_negative(low, span, latitude, day):
    for method in et.METHODS:
        got = et.reference_evapotranspiration(
            [low], [low + span], method=method, latitude=latitude, day_of_year=[day], elevation=100.0
        )
        assert np.isfinite(got).all()
        assert (got >= 0.0).all()


def test_missing_stays_missing_and_labels_tell_what_stood_in(labelled, seattle):
    low = seattle.tasmin.copy()
    low[3] = np.nan
    args = [labelled(x, seattle.time, seattle.latitude) for x in (low, seattle.tasmax)]
    got = et.reference_evapotranspiration(*args, method="penman_monteith", elevation=10.0, hurs=70.0)
    assert np.flatnonzero(np.isnan(got)).tolist() == [3]
    assert got.attrs["units"] == "mm day-1"
    assert "eq. 50" in got.attrs["stood_in"]
    assert "dew point" not in got.attrs["stood_in"]


def test_bad_input():
    place = {"latitude": 40.0, "day_of_year": [1]}
    with pytest.raises(InputError, match="needs elevation"):
        et.reference_evapotranspiration([1.0], [2.0], method="penman_monteith", **place)
    with pytest.raises(InputError, match="needed together"):
        et.reference_evapotranspiration([1.0], [2.0], method="penman_monteith", elevation=1.0, hursmin=[30.0], **place)
    with pytest.raises(InputError, match="latitude is not known"):
        et.reference_evapotranspiration([1.0], [2.0], day_of_year=[1])
