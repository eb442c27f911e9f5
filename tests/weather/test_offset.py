"""The grower's own thermometer against the station."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from sowcal.errors import InputError
from sowcal.weather.cf_dataset import attributes_of
from sowcal.weather.csv_file import read_csv
from sowcal.weather.offset import SEASONS, Offset, OffsetReport, offset_ends, station_offset, with_offset
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


def readings(days, low, high=10.0, **more):
    n = len(days)
    values = {"tasmin": np.broadcast_to(low, n).astype(float), "tasmax": np.broadcast_to(high, n).astype(float)}
    return daily_record(days, values, **more)


def test_the_least_that_is_told_of_year_and_season():
    """14 days in all and 10 of a season: 1 to 14 March, of which the station lacks some."""
    days = np.arange("2021-02-20", "2021-03-11", dtype="datetime64[D]")  # 9 of winter, 10 of spring
    report = station_offset(readings(days, 5.0), readings(days, 4.0))
    assert [o.season for o in report.offsets] == ["all year", SEASONS[1], "all year", SEASONS[1]]
    assert (report.first, report.last, report.days) == ("2021-02-20", "2021-03-10", 19)
    assert [o.days for o in report.offsets] == [19, 10, 19, 10]
    fourteen = station_offset(readings(days, 5.0), readings(days[:14], 4.0))
    assert fourteen.of("tasmin").days == 14
    with pytest.raises(InputError, match="share 13 days; at least 14"):
        station_offset(readings(days, 5.0), readings(days[:13], 4.0))
    low = np.full(19, 5.0)
    low[:6] = np.nan  # 13 minima, 19 maxima
    with pytest.raises(InputError, match="share 19 days; at least 14 with minimum and maximum"):
        station_offset(readings(days, low), readings(days, 4.0))


@pytest.mark.parametrize(("apart", "refused"), [(14.9, False), (15.0, True), (-15.0, True)])
def test_a_plot_far_from_its_station_is_another_place(apart, refused):
    days = np.arange("2021-03-01", "2021-03-21", dtype="datetime64[D]")
    if not refused:
        assert station_offset(readings(days, 5.0, 25.0), readings(days, 5.0 + apart, 25.0)).of("tasmin")
        return
    with pytest.raises(InputError, match="check the unit"):
        station_offset(readings(days, 5.0, 25.0), readings(days, 5.0 + apart, max(25.0, 5.0 + apart)))


def test_half_of_a_record_that_is_generated_may_be_compared():
    days = np.arange("2021-03-01", "2021-04-30", dtype="datetime64[D]")
    made = np.where(np.arange(days.size) < 20, GENERATED, 0).astype(np.int8)
    mixed = readings(days, 5.0, origin={"tasmin": made, "tasmax": made, "pr": made})
    assert station_offset(mixed, readings(days, 4.0)).days == days.size - 20
    assert station_offset(readings(days, 4.0), mixed).days == days.size - 20


def test_the_error_is_that_of_a_mean_widened_for_likeness():
    """Steps of +1 and -1 in pairs, written out: sd / sqrt(n) times sqrt((1 + r) / (1 - r))."""
    days = np.arange("2021-03-01", "2021-04-10", dtype="datetime64[D]")  # forty days
    jump = np.tile([1.0, 1.0, 1.0, 1.0, 1.0, -1.0, -1.0, -1.0, -1.0, -1.0], 4)
    offset = station_offset(readings(days, 5.0, 20.0), readings(days, 5.0 + jump, 20.0)).of("tasmin")
    r = np.corrcoef(jump[1:], jump[:-1])[0, 1]
    assert 0.55 < r < 0.65
    error = np.std(jump, ddof=1) / np.sqrt(40) * np.sqrt((1 + r) / (1 - r))
    assert offset.standard_error == pytest.approx(error)
    assert offset.spread == pytest.approx(np.std(jump, ddof=1))
    assert offset.interval == pytest.approx((-stats.t.ppf(0.975, 39) * error, stats.t.ppf(0.975, 39) * error))
    turns = station_offset(readings(days, 5.0, 20.0), readings(days, 5.0 + np.tile([1.0, -1.0], 20), 20.0))
    assert turns.of("tasmin").standard_error == pytest.approx(np.std(np.tile([1.0, -1.0], 20), ddof=1) / np.sqrt(40))


def test_likeness_passes_over_days_that_are_missing_and_small_differences_count():
    """Jumps of 0.4 K in fives, with two days missing: the likeness is that of the pairs that are known."""
    days = np.arange("2021-03-01", "2021-04-10", dtype="datetime64[D]")
    jump = np.tile([0.2] * 5 + [-0.2] * 5, 4)
    jump[[7, 22]] = np.nan
    offset = station_offset(readings(days, 5.0, 20.0), readings(days, 5.0 + jump, 20.0)).of("tasmin")
    one, two = jump[1:], jump[:-1]
    both = np.isfinite(one) & np.isfinite(two)
    r = np.corrcoef(one[both], two[both])[0, 1]
    spread = np.nanstd(jump, ddof=1)
    assert offset.standard_error == pytest.approx(spread / np.sqrt(38) * np.sqrt((1 + r) / (1 - r)))


@pytest.mark.parametrize("pairs", [9, 10])
def test_ten_pairs_of_neighbours_tell_a_likeness(pairs):
    days = np.arange("2021-03-01", "2021-04-10", dtype="datetime64[D]")
    jump = np.full(40, np.nan)
    jump[: pairs + 1] = np.arange(pairs + 1.0)
    jump[20:40:3] = 1.0, 3.0, 1.0, 3.0, 1.0, 3.0, 1.0  # each alone
    offset = station_offset(readings(days, 5.0, 30.0), readings(days, 5.0 + jump, 30.0)).of("tasmin")
    plain = np.nanstd(jump, ddof=1) / np.sqrt(np.isfinite(jump).sum())
    like = 0.9 if pairs == 10 else 0.0  # a rising line is as like as can be; nine tenths are counted at most
    assert offset.standard_error == pytest.approx(plain * np.sqrt((1 + like) / (1 - like)))


def test_likeness_is_of_neighbouring_days_that_are_both_known():
    """Every other day missing leaves no neighbours, and so nothing to widen the error by."""
    days = np.arange("2021-03-01", "2021-05-10", dtype="datetime64[D]")
    rng = np.random.default_rng(3)
    low = np.where(np.arange(days.size) % 2 == 0, 5.0 + np.cumsum(rng.normal(0, 1, days.size)) * 0.3, np.nan)
    known = low[np.isfinite(low)]
    offset = station_offset(readings(days, 5.0, 30.0), readings(days, low, 30.0)).of("tasmin")
    assert offset.standard_error == pytest.approx(np.std(known, ddof=1) / np.sqrt(known.size))


def test_a_season_without_days_takes_the_offset_of_all_and_owns_that_it_may_be_wrong():
    """Known of one season: 2 K of not knowing; of more: twice their spread, 1 K at least."""
    spring = np.arange("2021-03-01", "2021-04-30", dtype="datetime64[D]")
    one = station_offset(readings(spring, 5.0, 20.0), readings(spring, 4.0, 20.0)).by_season("tasmin")
    assert [mean for mean, _ in one] == pytest.approx([-1.0] * 4)
    assert [half for _, half in one] == pytest.approx([2.0, 0.0, 2.0, 2.0])
    both = np.arange("2021-03-01", "2021-07-01", dtype="datetime64[D]")  # spring and June
    summer = both >= np.datetime64("2021-06-01")
    alike = station_offset(readings(both, 5.0, 20.0), readings(both, 4.0, 20.0)).by_season("tasmin")
    assert [half for _, half in alike] == pytest.approx([1.0, 0.0, 0.0, 1.0])
    report = station_offset(readings(both, 5.0, 20.0), readings(both, np.where(summer, 2.0, 4.0), 20.0))
    parted = report.by_season("tasmin")
    apart = 2.0 * np.std([-1.0, -3.0], ddof=1)
    assert parted[1][0], parted[2][0] == pytest.approx((-1.0, -3.0))
    assert (
        parted[0]
        == parted[3]
        == (report.of("tasmin").mean, pytest.approx(np.hypot(report.of("tasmin").half_width, apart)))
    )
    assert report.by_season("pr") == [(0.0, 0.0)] * 4


def test_where_nights_would_come_out_above_days_both_are_their_middle():
    days = np.arange("2021-03-01", "2021-05-01", dtype="datetime64[D]")
    station = readings(days, np.where(np.arange(days.size) % 2, 5.0, 9.0), 10.0)
    moved = with_offset(station, station_offset(station, station.with_values({"tasmin": station["tasmin"] + 3.0})))
    crossed = np.arange(days.size) % 2 == 0  # 12 above 10
    for name, plain in (("tasmin", station["tasmin"] + 3.0), ("tasmax", station["tasmax"])):
        np.testing.assert_allclose(moved[name], np.where(crossed, 11.0, plain), atol=1e-9)


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


def test_the_interval_of_two_days_is_that_of_the_tables():
    """Student's t of one degree of freedom is 12.706, of two 4.303, of 29 2.045 (any table of it)."""
    for days, t in ((2, 12.706), (3, 4.303), (30, 2.045)):
        found = Offset("tasmin", "all year", days, -1.0, 0.1, 0.5)
        assert found.half_width == pytest.approx(0.1 * t, abs=1e-4)
        assert found.interval == pytest.approx((-1.0 - 0.1 * t, -1.0 + 0.1 * t), abs=1e-4)


def test_the_plain_form_has_hundredths_and_is_read_again():
    one = Offset("tasmin", "all year", 30, -1.2345, 0.1267, 0.6789)
    found = OffsetReport("2021-03-01", "2021-03-30", 30, (one,), ("x",))
    (plain,) = found.to_json()["offsets"]
    assert plain == {
        "variable": "tasmin",
        "season": "all year",
        "days": 30,
        "mean": -1.23,
        "standard_error": 0.13,
        "interval": [-1.49, -0.98],  # 2.045 x 0.1267 = 0.2591
        "spread": 0.68,
    }
    again = OffsetReport.of_json(found.to_json())
    assert again.of("tasmin") == Offset("tasmin", "all year", 30, -1.23, 0.13, 0.68)
    assert (again.first, again.last, again.days, again.notes) == ("2021-03-01", "2021-03-30", 30, ("x",))


def test_seasons_without_days_are_named_and_of_a_whole_year_none():
    year = np.arange("2020-12-01", "2021-12-01", dtype="datetime64[D]")
    report = station_offset(readings(year, 5.0), readings(year, 4.0))
    assert report.notes == ()
    assert [o.season for o in report.offsets[:5]] == ["all year", *SEASONS]
    assert [o.days for o in report.offsets[:5]] == [365, 90, 92, 92, 91]
    (note,) = station_offset(readings(year[:200], 5.0), readings(year[:200], 4.0)).notes
    assert note.startswith("no days from September to November: ")


def test_shared_days_are_those_with_a_night_or_a_day():
    """Of 30 days the first has only its maximum, the last only its minimum, and one in between neither."""
    days = np.arange("2021-03-01", "2021-03-31", dtype="datetime64[D]")
    low, high = np.full(30, 4.0), np.full(30, 11.0)
    low[[0, 9]] = high[[9, 29]] = np.nan
    report = station_offset(readings(days, 5.0), readings(days, low, high))
    assert (report.first, report.last, report.days) == ("2021-03-01", "2021-03-30", 29)
    assert (report.of("tasmin").days, report.of("tasmax").days) == (28, 28)
    assert (report.of("tasmin").mean, report.of("tasmax").mean) == (-1.0, 1.0)


def test_what_was_done_is_told_with_its_days_and_errors():
    days = np.arange("2021-03-01", "2021-04-10", dtype="datetime64[D]")
    jump = np.tile([1.0, 1.0, 1.0, 1.0, 1.0, -1.0, -1.0, -1.0, -1.0, -1.0], 4)
    base = readings(days, 5.0, 20.0)
    got = with_offset(base, station_offset(base, readings(days, 3.0 + jump, 20.5 - jump / 2.0)))
    assert got.history == (
        "moved to the plot by its own thermometer (40 days): nights -2.0 K (standard error 0.3), days +0.5 K (0.2)"
    )
    night = got.offset.report.by_season("tasmin")
    assert got.offset.half_width["tasmin"] == tuple(round(half, 3) for _, half in night)
    assert got.offset.half_width["tasmin"][1] == pytest.approx(night[1][1], abs=5.1e-4)
    assert got.offset.half_width["tasmin"][1] != round(night[1][1], 2)


def test_hours_of_the_station_are_none_of_the_plot_and_the_mean_moves_by_half_the_sum():
    days = np.arange("2021-03-01", "2021-04-10", dtype="datetime64[D]")
    base = readings(days, 5.0, 20.0)
    base = base.with_values({"tas": np.full(40, 12.0)}, {"tas": base.origin["tasmin"].copy()})
    base = replace(base, hours=np.zeros((40, 24)))
    got = with_offset(base, station_offset(base, readings(days, 3.0, 20.5)))
    assert got.hours is None
    np.testing.assert_allclose(got["tas"], 12.0 + 0.5 * (-2.0 + 0.5))
    np.testing.assert_allclose(got["tasmin"], 3.0)


def test_generated_nights_of_either_record_are_no_readings():
    """All of them: then there is nothing to compare."""
    days = np.arange("2021-03-01", "2021-04-10", dtype="datetime64[D]")
    real, made = readings(days, 5.0), readings(days, 4.0, origin=GENERATED)
    for one, two in ((real, made), (made, real)):
        with pytest.raises(InputError, match="generated from monthly normals has no days"):
            station_offset(one, two)


def test_a_line_that_falls_is_as_good_as_its_likeness_and_none_below_nothing():
    """Days that turn about have a likeness below nothing, which narrows no error; a stuck difference has none."""
    days = np.arange("2021-03-01", "2021-04-10", dtype="datetime64[D]")
    for stuck in (np.r_[np.full(39, 1.0), 4.0], np.r_[4.0, np.full(39, 1.0)]):  # the first of each pair, or the second
        offset = station_offset(readings(days, 5.0, 20.0), readings(days, 5.0 + stuck, 20.0)).of("tasmin")
        assert offset.standard_error == pytest.approx(np.std(stuck, ddof=1) / np.sqrt(40))


def test_a_report_of_nights_alone_leaves_the_days_as_they_are():
    days = np.arange("2021-03-01", "2021-04-10", dtype="datetime64[D]")
    base = readings(days, 5.0, 20.0)
    report = OffsetReport("2021-03-01", "2021-03-30", 30, (Offset("tasmin", "all year", 30, -1.5, 0.1, 0.5),), ())
    got = with_offset(base, report)
    np.testing.assert_allclose(got["tasmin"], 3.5)
    np.testing.assert_array_equal(got["tasmax"], base["tasmax"])
    assert got.history == "moved to the plot by its own thermometer (30 days)"
