"""The grower's own thermometer against the station."""

from __future__ import annotations

import json

import numpy as np
import pytest
from scipy import stats

from sowcal.errors import InputError
from sowcal.weather.cf_dataset import attributes_of
from sowcal.weather.csv_file import read_csv
from sowcal.weather.offset import SEASONS, offset_ends, station_offset, with_offset
from sowcal.weather.record import GENERATED, daily_record

DAYS = np.arange("2019-01-01", "2022-01-01", dtype="datetime64[D]")


def season_of(days):
    return (days.astype("datetime64[M]").astype(int) % 12 + 1) % 12 // 3


def station(seed=1):
    rng = np.random.default_rng(seed)
    low = 10 - 6 * np.cos(2 * np.pi * np.arange(DAYS.size) / 365.25) + rng.normal(0, 3, DAYS.size)
    return daily_record(DAYS, {"tasmin": low, "tasmax": low + 10}, title="station")


def plot(base, first, last, night, day=0.5, noise=1.0, like=0.0, seed=2):
    """Readings of some days: nights moved by season, with noise of a given lag-one correlation."""
    rng = np.random.default_rng(seed)
    at = (first <= DAYS) & (last >= DAYS)
    error = rng.normal(0, noise, (2, DAYS.size))
    for k in range(1, DAYS.size):
        error[:, k] = like * error[:, k - 1] + np.sqrt(1 - like**2) * error[:, k]
    low = base["tasmin"] + np.asarray(night)[season_of(DAYS)] + error[0]
    high = base["tasmax"] + day + error[1]
    return daily_record(DAYS[at], {"tasmin": low[at], "tasmax": high[at]})


def test_seasons_and_errors_are_found():
    base = station()
    own = plot(base, np.datetime64("2020-01-01"), np.datetime64("2020-12-31"), [-3.0, -2.0, -1.0, -2.0])
    report = station_offset(base, own)
    assert report.days == 366
    for k, true in enumerate([-3.0, -2.0, -1.0, -2.0]):
        got = report.of("tasmin", SEASONS[k])
        assert abs(got.mean - true) < 4 * got.standard_error
        assert got.standard_error == pytest.approx(1.0 / np.sqrt(91), rel=0.5)
        assert abs(report.of("tasmax", SEASONS[k]).mean - 0.5) < 4 * got.standard_error
    winter = np.isin(own.time.astype("datetime64[M]").astype(int) % 12 + 1, (12, 1, 2))
    both = own["tasmin"][winter] - base.span(str(own.time[0]), str(own.time[-1]))["tasmin"][winter]
    assert report.of("tasmin", SEASONS[0]).mean == pytest.approx(both.mean())
    low, high = report.of("tasmin", SEASONS[0]).interval
    wanted = stats.ttest_1samp(both, 0.0).confidence_interval(0.95)  # as if days were independent
    assert high - low >= (wanted.high - wanted.low) * 0.999


def test_the_interval_holds_the_truth_as_often_as_it_says():
    base, inside = station(), 0
    for seed in range(60):
        own = plot(base, np.datetime64("2020-02-01"), np.datetime64("2020-05-30"), [-2.0] * 4, like=0.5, seed=seed)
        low, high = station_offset(base, own).of("tasmin").interval
        inside += low <= -2.0 <= high
    assert 51 <= inside <= 60


def test_a_few_weeks_say_what_they_do_not_tell():
    base = station()
    own = plot(base, np.datetime64("2020-01-05"), np.datetime64("2020-02-10"), [-2.0] * 4)
    report = station_offset(base, own)
    assert report.of("tasmin", SEASONS[1]) is None
    assert "March to May, June to August, September to November" in report.notes[0]
    answer = report.to_json()
    assert answer["record"] == {"first": "2020-01-05", "last": "2020-02-10", "days": 37}
    assert json.loads(json.dumps(answer)) == answer


def test_applied_to_the_record():
    base = station()
    own = plot(base, np.datetime64("2020-01-01"), np.datetime64("2020-12-31"), [-3.0, -2.0, -1.0, -2.0], noise=0.1)
    got = with_offset(base, station_offset(base, own))
    moved = got["tasmin"] - base["tasmin"]
    np.testing.assert_allclose(moved, np.array([-3.0, -2.0, -1.0, -2.0])[season_of(DAYS)], atol=0.1)
    assert "nights -2.0 K" in got.history
    assert got.offset.report.offsets[0].variable == "tasmin"
    assert json.loads(attributes_of(got)["offset"])["offsets"][0]["variable"] == "tasmin"
    assert (got["tasmin"] <= got["tasmax"]).all()


def test_a_thermometer_that_always_differs_by_the_same():
    """No spread, so no error and nothing that one day tells of the next; the mean and both ends follow."""
    base = station()
    base = base.with_values({"tas": base["tasmin"] + 4.0}, {"tas": base.origin["tasmin"].copy()})
    at = slice(100, 200)
    own = daily_record(DAYS[at], {"tasmin": base["tasmin"][at] - 2.0, "tasmax": base["tasmax"][at] + 1.0})
    report = station_offset(base, own)
    assert report.of("tasmin").standard_error == pytest.approx(0.0, abs=1e-9)
    got = with_offset(base, report)
    np.testing.assert_allclose(got["tas"], base["tas"] - 0.5)
    cold, warm = offset_ends(got)
    half = got.offset.half_width
    for side, ends in ((-1.0, cold), (1.0, warm)):
        for name in ("tasmin", "tasmax"):
            change = side * np.array(half[name])[season_of(DAYS)]
            np.testing.assert_allclose(ends[name], got[name] + change, atol=1e-9)
    assert offset_ends(base) is None


def test_what_cannot_be_compared():
    base = station()
    few = plot(base, np.datetime64("2020-01-05"), np.datetime64("2020-01-10"), [-2.0] * 4)
    with pytest.raises(InputError, match="share 6 days"):
        station_offset(base, few)
    other = plot(base, np.datetime64("2020-01-05"), np.datetime64("2020-04-10"), [40.0] * 4, day=45.0)
    with pytest.raises(InputError, match="check the unit"):
        station_offset(base, other)
    made = daily_record(DAYS, {v: base[v] for v in ("tasmin", "tasmax")}, origin=GENERATED)
    with pytest.raises(InputError, match="generated"):
        station_offset(made, base)


def test_madrid_against_palma(reference_folder):
    """Plain means of the shared days of two real records, worked out here."""
    one, two = (
        read_csv(reference_folder / "weather" / f"{n}.csv", temperature_unit="degC") for n in ("madrid", "palma")
    )
    report = station_offset(one, two)
    _, at, there = np.intersect1d(one.time, two.time, return_indices=True)
    wanted = float(np.nanmean(two["tasmin"][there] - one["tasmin"][at]))
    assert report.of("tasmin").mean == pytest.approx(wanted)
    assert report.of("tasmin", SEASONS[0]).days > 2000
