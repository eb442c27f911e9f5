"""Reference evapotranspiration against FAO-56's worked examples, refet and a package's own record.

Page numbers are those of FAO Irrigation and Drainage Paper 56 (1998).
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sowcal.climate import evapotranspiration as et
from sowcal.climate.sun import extraterrestrial_radiation
from sowcal.errors import InputError

near = pytest.approx


def test_steps_of_the_chain():
    assert et.air_pressure(1800.0) == near(81.8, abs=0.05)  # Example 2, p. 63
    assert et.psychrometric_constant(81.8) == near(0.054, abs=0.0005)
    assert et.mean_saturation_vapour_pressure(15.0, 24.5) == near(2.39, abs=0.005)  # Example 3, p. 69
    both = et.actual_vapour_pressure(18.0, 25.0, hursmin=54.0, hursmax=82.0)  # Example 5, p. 72
    assert both == near(1.70, abs=0.005)
    assert et.actual_vapour_pressure(18.0, 25.0, hurs=68.0) == near(1.78, abs=0.005)
    assert et.net_longwave(19.1, 25.1, 2.1, 14.5, 18.8) == near(3.5, abs=0.05)  # Example 11, p. 87
    assert et.net_shortwave(14.5) == near(11.17, abs=0.005)  # Example 12, p. 87
    assert et.wind_at_2m(3.2, 10.0) == near(2.4, abs=0.05)  # Example 14, p. 92


def test_bangkok_in_april():
    """Example 17, p. 110-111: 5.72 mm d-1 from its intermediate values."""
    got = et.penman_monteith(30.2, 2.0, 4.42, 2.85, 14.33, 0.0674, soil_heat_flux=0.14)
    assert got == near(5.72, abs=0.02)


def test_uccle_on_6_july():
    """Example 18, p. 113-115: Rs 22.07, wind 10 km/h at 10 m: 3.88 mm d-1."""
    got = et.reference_evapotranspiration(
        [12.3],
        [21.5],
        method="penman_monteith",
        latitude=50.8,
        day_of_year=[187],
        elevation=100.0,
        rsds=[22.07],
        hursmin=[63.0],
        hursmax=[84.0],
        wind=[10.0 / 3.6],
    )
    assert got[0] == near(3.88, abs=0.01)


def test_lyon_in_july_with_missing_data():
    """Example 20, p. 121: dew point, radiation and wind stood in for: 4.56; Hargreaves 5.03 mm d-1."""
    place = {"latitude": 45.7167, "day_of_year": [196]}
    full = et.reference_evapotranspiration([14.8], [26.6], method="penman_monteith", elevation=200.0, **place)
    assert full[0] == near(4.56, abs=0.01)
    simple = et.reference_evapotranspiration([14.8], [26.6], method="hargreaves_samani", **place)
    assert simple[0] == near(5.03, abs=0.01)


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
