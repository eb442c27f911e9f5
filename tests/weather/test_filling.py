"""Longer gaps from a second station."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from records_alike import unlocked
from scipy import stats

from sowcal.errors import InputError
from sowcal.weather.csv_file import read_csv
from sowcal.weather.filling import fill_from_station, fill_short_gaps, followed_by, month_fits
from sowcal.weather.open_site import open_weather
from sowcal.weather.record import FILLED, MISSING, daily_record

DAYS = np.arange("2001-01-01", "2011-01-01", dtype="datetime64[D]")


def two(error=1.0, seed=1):
    """A station and its neighbour: 2 K colder, departures 0.8 as large, and some noise."""
    rng = np.random.default_rng(seed)
    season = 10 - 6 * np.cos(2 * np.pi * np.arange(DAYS.size) / 365.25)
    weather = rng.normal(0, 3, DAYS.size)
    there = {"tasmin": season + weather, "tasmax": season + weather + 9}
    here = {k: 0.8 * v - 2 + rng.normal(0, error, DAYS.size) for k, v in there.items()}
    here["tasmax"] = here["tasmin"] + 7 + rng.normal(0, 0.3, DAYS.size)
    return unlocked(daily_record(DAYS, here, title="here")), unlocked(daily_record(DAYS, there, source="station there"))


def test_the_fits_are_those_of_scipy():
    here, there = two()
    month = DAYS.astype("datetime64[M]").astype(int) % 12 + 1
    fits = month_fits(here["tasmin"], there["tasmin"], month)
    for m in (1, 7):
        wanted = stats.linregress(there["tasmin"][month == m], here["tasmin"][month == m])
        assert fits[m - 1].slope == pytest.approx(wanted.slope)
        assert fits[m - 1].intercept == pytest.approx(wanted.intercept)
        assert fits[m - 1].correlation == pytest.approx(wanted.rvalue)
        assert fits[m - 1].error == pytest.approx(1.0, abs=0.15)


def test_a_month_out_of_a_record():
    here, there = two()
    truth = here["tasmin"].copy()
    gap = slice(1000, 1045)
    here["tasmin"][gap], here.origin["tasmin"][gap] = np.nan, MISSING
    got = fill_from_station(here, there)
    assert (got.origin["tasmin"][gap] == FILLED).all()
    assert np.sqrt(np.mean((got["tasmin"][gap] - truth[gap]) ** 2)) < 1.4
    assert "tasmin 45 days, error 1.0 K" in got.history
    assert "station there" in got.history
    untouched = np.ones(DAYS.size, dtype=bool)
    untouched[gap] = False
    np.testing.assert_array_equal(got["tasmin"][untouched], truth[untouched])
    assert np.isnan(here["tasmin"][gap]).all()  # the argument is left alone


def test_what_has_too_little_in_common_stays_missing():
    here, there = two(error=9.0)
    here["tasmin"][1000:1045], here.origin["tasmin"][1000:1045] = np.nan, MISSING
    got = fill_from_station(here, there)
    assert np.isnan(got["tasmin"][1000:1045]).all()
    assert (got.origin["tasmin"][1000:1045] == MISSING).all()


def test_days_that_the_second_lacks_or_filled_itself_stay_missing():
    here, there = two()
    here["tasmin"][1000:1045], here.origin["tasmin"][1000:1045] = np.nan, MISSING
    there["tasmin"][1003] = np.nan
    there.origin["tasmin"][1007] = FILLED
    got = fill_from_station(here, there)
    assert np.flatnonzero(np.isnan(got["tasmin"])).tolist() == [1003, 1007]


def test_a_month_that_the_two_hardly_share_is_left_missing():
    """The second record lacks every July but two days, and was stuck at one value every August."""
    here, there = two()
    month = DAYS.astype("datetime64[M]").astype(int) % 12 + 1
    july, august = np.flatnonzero(month == 7), np.flatnonzero(month == 8)
    there["tasmin"][july[2:]] = np.nan
    there["tasmin"][august] = 12.0
    fits = month_fits(here["tasmin"], there["tasmin"], month)
    assert [f.usable for f in fits] == [m not in (7, 8) for m in range(1, 13)]
    assert (fits[6].days, fits[7].days) == (2, august.size)
    gap = np.concatenate([july[:2], august[:3], [0]])
    here["tasmin"][gap], here.origin["tasmin"][gap] = np.nan, MISSING
    got = fill_from_station(here, there)
    assert np.flatnonzero(np.isnan(got["tasmin"])).tolist() == [*july[:2], *august[:3]]


def test_mean_temperatures_are_filled_too():
    here, there = (
        unlocked(one.with_values({"tas": 0.5 * (one["tasmin"] + one["tasmax"])}, {"tas": one.origin["tasmin"]}))
        for one in two()
    )
    here["tas"][1000:1045], here.origin["tas"][1000:1045] = np.nan, MISSING
    got = fill_from_station(here, there)
    assert np.isfinite(got["tas"]).all()
    assert (got.origin["tas"][1000:1045] == FILLED).all()
    assert "tas 45 days" in got.history


def test_records_of_other_times_are_refused():
    here, there = two()
    later = replace(there, time=there.time + np.timedelta64(9000, "D"))
    told = r"\(2025-08-23 to 2035-08-22\) shares no day with the first \(2001-01-01 to 2010-12-31\)"
    with pytest.raises(InputError, match=told):
        fill_from_station(here, later)


def short(low, high=None, days=None, **more):
    """Some days from 1 March 2021, in degrees that rise by one a day where nothing else is told."""
    low = np.asarray(low, dtype=float)
    time = np.datetime64("2021-03-01") + np.arange(low.size)
    high = low + 10.0 if high is None else np.asarray(high, dtype=float)
    return daily_record(time, {"tasmin": low, "tasmax": high, **more}, latitude=40.0)


def with_gap(n, *gaps):
    values = np.arange(float(n))
    for first, last in gaps:
        values[first : last + 1] = np.nan
    return values


@pytest.mark.parametrize(
    ("gaps", "left"),
    [
        ([(5, 5)], []), ([(5, 11)], []), ([(5, 12)], range(5, 13)), ([(1, 7)], []), ([(0, 0)], [0]),
        ([(0, 3)], range(4)), ([(29, 29)], [29]), ([(26, 29)], range(26, 30)), ([(28, 28)], []),
        ([(3, 4), (6, 7), (10, 20)], range(10, 21)),
    ],
)  # fmt: skip
def test_gaps_of_a_week_between_known_days_are_filled_straight(gaps, left):
    """Seven days and no more, none at either end; of a short record straight from the day before to the day after."""
    got = fill_short_gaps(short(with_gap(30, *gaps), np.full(30, 50.0)))
    assert np.flatnonzero(np.isnan(got["tasmin"])).tolist() == list(left)
    known = np.isfinite(got["tasmin"])
    np.testing.assert_allclose(got["tasmin"][known], np.arange(30.0)[known])
    filled = np.flatnonzero(got.origin["tasmin"] == FILLED)
    wanted = [d for first, last in gaps for d in range(first, last + 1) if d not in left]
    assert filled.tolist() == wanted
    assert (got.origin["tasmax"] != FILLED).all()


def test_the_longest_gap_may_be_told():
    assert np.isfinite(fill_short_gaps(short(with_gap(30, (5, 15)), np.full(30, 50.0)), longest=11)["tasmin"]).all()
    assert np.isnan(fill_short_gaps(short(with_gap(30, (5, 15)), np.full(30, 50.0)), longest=10)["tasmin"]).sum() == 11


def test_no_fill_puts_the_night_above_the_day():
    """Straight from 4 to 8 lies 6, above the day of 5: that night stays missing, the others are filled."""
    got = fill_short_gaps(short([2.0, 4.0, np.nan, 8.0, 9.0], [20.0, 20.0, 5.0, 20.0, 20.0]))
    assert np.isnan(got["tasmin"][2])
    assert got.origin["tasmin"][2] == MISSING
    assert got["tasmax"][2] == 5.0
    level = fill_short_gaps(short([2.0, 4.0, np.nan, 6.0, 9.0], [20.0, 20.0, 5.0, 20.0, 20.0]))
    assert (level["tasmin"][2], level.origin["tasmin"][2]) == (5.0, FILLED)  # as warm as its day it may be
    frost = fill_short_gaps(short([-2.0, -4.0, np.nan, -8.0, -9.0]))
    assert (frost["tasmin"][2], frost["tasmax"][2]) == (-6.0, pytest.approx(4.0))


def test_no_rain_is_made_up_and_moist_air_stays_within_what_can_be():
    rain = np.array([0.0, np.nan, 3.0, 0.0, 0.0])
    wet = np.array([99.0, 99.5, np.nan, 100.0, 100.0])
    wind, light = np.array([2.0, np.nan, 4.0, 0.0, 0.0]), np.array([10.0, 12.0, np.nan, 16.0, 16.0])
    windy = fill_short_gaps(short(np.arange(5.0), sfcWind=wind, rsds=light))
    assert (windy["sfcWind"][1], windy["rsds"][2]) == (pytest.approx(3.0), pytest.approx(14.0))
    got = fill_short_gaps(short(np.arange(5.0), pr=rain, hurs=wet))
    assert np.isnan(got["pr"][1])
    assert got["hurs"][2] == pytest.approx(99.75)
    assert (got["hurs"] <= 100.0).all()


@pytest.mark.parametrize(("known", "follows"), [(730, True), (729, False)])
def test_from_two_years_on_a_gap_follows_the_season(known, follows):
    """At the top of a pure wave a straight line falls short of it; the record's own course of the year does not."""
    days = np.arange(known + 7.0)
    wave = 15.0 - 10.0 * np.cos(2 * np.pi * days / 365.25)
    low = wave.copy()
    low[180:187] = np.nan
    time = np.datetime64("2021-01-01") + np.arange(days.size)
    got = fill_short_gaps(daily_record(time, {"tasmin": low, "tasmax": wave + 10.0}, latitude=40.0))
    short_of = np.abs(got["tasmin"][183] - wave[183])
    assert (short_of < 1e-3) == follows


def test_three_days_are_the_fewest_that_are_fitted():
    month = np.array([1, 1, 1, 2, 2])
    fits = month_fits(np.array([1.0, 2.0, 4.0, 1.0, 2.0]), np.array([0.0, 1.0, 2.0, 0.0, 1.0]), month)
    assert (fits[0].days, fits[0].slope, fits[0].usable) == (3, pytest.approx(1.5), False)
    assert fits[0].intercept == pytest.approx(5 / 6)
    assert fits[0].error == pytest.approx(np.sqrt(1 / 6))  # squares of 1/6, 1/3 and 1/6 over one day too many
    assert (fits[1].days, np.isnan(fits[1].slope)) == (2, True)


@pytest.mark.parametrize(("days", "usable"), [(59, False), (60, True)])
def test_sixty_shared_days_of_a_month_make_a_fit(days, usable):
    x = np.arange(float(days))
    assert month_fits(2 * x, x, np.full(days, 4))[3].usable == usable


def test_a_fill_from_elsewhere_that_crosses_the_day_is_left_out():
    here, there = two()
    here["tasmin"][1000:1003], here.origin["tasmin"][1000:1003] = np.nan, MISSING
    here["tasmax"][1001] = -40.0
    got = fill_from_station(here, there)
    assert np.flatnonzero(np.isnan(got["tasmin"])).tolist() == [1001]
    assert got.origin["tasmin"][[1000, 1001, 1002]].tolist() == [FILLED, MISSING, FILLED]
    one = replace(
        here, values={**here.values, "tasmin": np.where(np.arange(DAYS.size) == 1000, np.nan, two()[0]["tasmin"])}
    )
    assert "tasmin 1 day," in fill_from_station(one, there).history


def test_days_of_another_record_follow_the_last():
    """Ten days, and six of another of which the last four lie beyond; a pause between them is missing."""
    first, more = short(np.arange(10.0)), short(100.0 + np.arange(6.0))
    more = replace(more, time=first.time[0] + 8 + np.arange(6))
    got = followed_by(first, more)
    np.testing.assert_allclose(got["tasmin"], [*range(10), 102, 103, 104, 105])
    assert got.time[-1] == first.time[0] + 13
    assert got.origin["tasmin"][10] == more.origin["tasmin"][2]
    later = replace(more, time=first.time[0] + 12 + np.arange(6))
    got = followed_by(first, later)
    np.testing.assert_allclose(got["tasmin"], [*range(10), np.nan, np.nan, *range(100, 106)])
    assert (got.origin["tasmin"][10:12] == MISSING).all()
    assert followed_by(first, replace(more, time=first.time[0] + np.arange(6))) is first
    assert followed_by(first, replace(more, time=first.time[0] + 4 + np.arange(6))) is first
    assert followed_by(first, replace(more, time=first.time[0] + 5 + np.arange(6)))["tasmin"].tolist() == [
        *range(10),
        105,
    ]
    next_day = followed_by(first, replace(more, time=first.time[0] + 10 + np.arange(6)))
    np.testing.assert_allclose(next_day["tasmin"][10:], more["tasmin"])
    assert "days from 2021-03-11 on" in next_day.history


def test_seville_from_cordoba(reference_folder):
    """Two real stations 120 km apart: the error told is the error made."""
    folder = reference_folder / "weather"
    cordoba = unlocked(read_csv(folder / "cordoba_es.csv", temperature_unit="degC"))
    seville = read_csv(folder / "seville.csv", temperature_unit="degC")
    truth = cordoba["tasmax"].copy()
    known = np.flatnonzero(np.isfinite(truth))
    gap = known[(known > 6000) & (known < 6090)]
    cordoba["tasmax"][gap], cordoba.origin["tasmax"][gap] = np.nan, MISSING
    got = fill_from_station(cordoba, seville)
    left = got["tasmax"][gap] - truth[gap]
    assert np.nanstd(left) < 2.0
    assert abs(np.nanmean(left)) < 1.0


def test_the_site_file_names_the_second_record(tmp_path):
    here, there = two()
    gap = slice(1000, 1045)
    here["tasmin"][gap] = np.nan

    def table(dataset, path):
        rows = [
            f"{d},{'' if np.isnan(a) else f'{a:.2f}'},{b:.2f}"
            for d, a, b in zip(DAYS, dataset["tasmin"], dataset["tasmax"], strict=True)
        ]
        path.write_text("date,tmin_degC,tmax_degC\n" + "\n".join(rows) + "\n")

    table(here, tmp_path / "here.csv")
    table(there, tmp_path / "there.csv")
    head = "latitude = 40.0\n[weather]\nsource = 'file'\n"
    (tmp_path / "there.toml").write_text(f"name = 'there'\n{head}file = 'there.csv'\n")
    (tmp_path / "a.toml").write_text(f"name = 'a'\n{head}file = 'here.csv'\nfill_from = 'there.toml'\n")
    _, got = open_weather(tmp_path / "a.toml")
    assert (got.origin["tasmin"][gap] == FILLED).all()
    assert "monthly regression on" in got.history
    _, bare = open_weather(tmp_path / "a.toml", longest_gap=0)
    assert np.isnan(bare["tasmin"][gap]).all()
    short = fill_short_gaps(bare)
    assert np.isnan(short["tasmin"][gap]).all()
    (tmp_path / "b.toml").write_text(f"name = 'b'\n{head}file = 'here.csv'\nfill_from = 'none.toml'\n")
    with pytest.raises(InputError, match="no site file"):
        open_weather(tmp_path / "b.toml")
    (tmp_path / "c.toml").write_text(f"name = 'c'\n{head}file = 'here.csv'\nfill_from = 'c.toml'\n")
    with pytest.raises(InputError, match="itself"):
        open_weather(tmp_path / "c.toml")


def one_month(here, there, **more):
    """Days of April of three years at two stations, and the first's with the second's in their gaps."""
    days = np.concatenate([np.arange(f"{y}-04-01", f"{y}-05-01", dtype="datetime64[D]") for y in (2001, 2002, 2003)])
    here, there = (np.asarray(x, dtype=float) for x in (here, there))
    one, two = (daily_record(days, {"tasmin": v, "tasmax": v + 30.0}, **more) for v in (here, there))
    at = (days - days[0]).astype(int)
    return one, two, at


def test_a_fit_is_of_what_both_have_observed_and_told_to_a_hundredth():
    """Here a third of the degrees there, and 2 more; days that were filled before, far off, tell nothing of it."""
    there = np.arange(90.0) % 17 / 4.0
    here = there / 3.0 + 2.0
    here[5], here[10], there[20] = np.nan, 50.0, -50.0
    one, two, at = one_month(here, there)
    one, two = unlocked(one), unlocked(two)
    one.origin["tasmin"][at[10]] = two.origin["tasmin"][at[20]] = FILLED
    got = fill_from_station(one, two)
    assert got["tasmin"][at[5]] == round(there[5] / 3.0 + 2.0, 2)
    assert got.origin["tasmin"][at[5]] == FILLED
    assert "tasmin 1 day, error 0.0 K" in got.history
    assert "on a second station (" in got.history
    assert "on Ness (" in fill_from_station(one, replace(two, title="Ness")).history
    assert "on the service (" in fill_from_station(one, replace(two, title="Ness", source="the service")).history
    assert fill_from_station(got, two).history == got.history  # nothing was left to fill


@pytest.mark.parametrize(("like", "usable"), [(0.71, True), (0.69, False)])
def test_seven_tenths_in_common_make_a_fit(like, usable):
    """Of two waves at right angles, so that the correlation is the share of the one."""
    turn = 2 * np.pi * np.arange(90) / 90
    there, other = np.sin(3 * turn), np.sin(7 * turn)
    here = like * there + np.sqrt(1 - like**2) * other
    fit = month_fits(here, there, np.full(90, 4))[3]
    assert fit.correlation == pytest.approx(like)
    assert fit.slope == pytest.approx(like)
    assert fit.usable == usable


@pytest.mark.parametrize("stuck", ["here", "there"])
def test_a_station_that_was_stuck_tells_no_fit(stuck):
    wave, same = np.sin(np.arange(90.0)), np.full(90, 3.0)
    fit = month_fits(same if stuck == "here" else wave, wave if stuck == "here" else same, np.full(90, 4))[3]
    assert (fit.days, fit.usable) == (90, False)
    assert np.isnan(fit.slope)
    tenths = np.where(np.arange(90) % 2, 0.1, 0.0)  # a tenth either way is no stuck one
    fit = month_fits(tenths, tenths, np.full(90, 4))[3]
    assert (fit.slope, fit.usable) == (pytest.approx(1.0), True)


def test_the_error_told_is_the_mean_of_the_months_that_serve():
    """A degree either way in April, three in May, alike on cold and warm days: 2 K, but for two degrees of freedom."""
    days = np.concatenate(
        [np.arange(f"{y}-04-01", f"{y}-05-31", dtype="datetime64[D]") for y in (2001, 2002, 2003, 2004)]
    )
    there = np.tile([0.0, 0.0, 20.0, 20.0], days.size // 4)
    off = np.where(days.astype("datetime64[M]").astype(int) % 12 == 3, 1.0, 3.0)
    here = there + off * np.tile([1.0, -1.0], days.size // 2)
    here[[0, 200]] = np.nan
    one, two = (daily_record(days, {"tasmin": v, "tasmax": v + 40.0}) for v in (here, there))
    assert "tasmin 2 days, error 2.0 K" in fill_from_station(one, two).history


@pytest.mark.parametrize("gap", ["tasmin", "tasmax"])
def test_of_a_fill_that_crosses_the_day_the_mean_stays(gap):
    """From elsewhere or from the days beside it: neither a night above its day nor a day below its night is made."""
    low, high = np.arange(90.0) % 17, np.arange(90.0) % 17 + 3.0
    mean = 0.5 * (low + high)
    days = np.datetime64("2001-04-01") + np.arange(90)
    two = daily_record(days, {"tasmin": low, "tasmax": high, "tas": mean})
    for day in (7, 40):
        values = {"tasmin": low.copy(), "tasmax": high.copy(), "tas": mean.copy()}
        values[gap][day] = values["tas"][day] = np.nan
        values["tasmin" if gap == "tasmax" else "tasmax"][day] = 30.0 if gap == "tasmax" else -30.0
        for got in (fill_short_gaps(daily_record(days, values)), fill_from_station(daily_record(days, values), two)):
            assert np.isnan(got[gap][day])
            assert got.origin[gap][day] == MISSING
    got = fill_short_gaps(daily_record(days, values))
    assert got["tas"][40] == pytest.approx(0.5 * (mean[39] + mean[41]))
    assert got.origin["tas"][40] == FILLED


@pytest.mark.parametrize(("name", "low", "high"), [("hurs", 0.0, 100.0), ("sfcWind", 0.0, None), ("rsds", 0.0, None)])
def test_what_the_season_carries_beyond_what_can_be_is_cut_back(name, low, high):
    """Half a year of one value and half of another, whose waves swing past both: at places a week lacks."""
    time = np.datetime64("2001-01-01") + np.arange(4 * 365)
    most = 100.0 if high else 20.0
    flat = np.where(np.arange(time.size) % 365 < 182, most, 0.0)
    base = np.arange(time.size) % 11
    cut = []
    for at in (at for at in range(370, 740, 15) if np.ptp(flat[at - 1 : at + 8]) == 0.0):
        values = flat.copy()
        values[at : at + 7] = np.nan
        got = fill_short_gaps(daily_record(time, {"tasmin": base, "tasmax": base + 9.0, name: values}))[name]
        assert low <= got[at : at + 7].min()
        assert high is None or got[at : at + 7].max() <= high
        cut += [end for end in (low, high) if end is not None and (got[at : at + 7] == end).all()]
    assert set(cut) == {x for x in (low, high) if x is not None}  # else nothing was cut back


@pytest.mark.parametrize(("cycles", "follows"), [(1, True), (2, True), (3, True), (4, False)])
def test_the_season_is_of_three_waves_a_year(cycles, follows):
    """At the top of a wave of so many a year."""
    time = np.datetime64("2001-01-01") + np.arange(3 * 365)
    wave = 10.0 * np.cos(cycles * 2 * np.pi * time.astype(float) / 365.2425)
    low, at = wave.copy(), 400 + int(np.argmax(wave[400:500]))
    low[at - 3 : at + 4] = np.nan
    got = fill_short_gaps(daily_record(time, {"tasmin": low, "tasmax": wave + 30.0}))
    assert (np.abs(got["tasmin"][at] - wave[at]) < 1e-6) == follows


def test_a_gap_that_is_filled_is_told_by_its_length():
    assert "gaps of up to 1 day filled" in fill_short_gaps(short(with_gap(9, (3, 3))), longest=1).history
    assert "gaps of up to 7 days filled" in fill_short_gaps(short(with_gap(9, (3, 3)), np.full(9, 50.0))).history
    whole = short(np.arange(9.0))
    assert fill_short_gaps(whole) is whole


def test_days_that_follow_have_their_open_range_and_lack_what_they_lack():
    """The first felt another range than it had; of the second its own counts. Rain that it lacks is missing."""
    first = short(np.arange(10.0), pr=np.ones(10))
    first = replace(first, open_range=np.full(10, 7.0), hours=np.zeros((10, 24)))
    more = replace(short(100.0 + np.arange(6.0)), time=first.time[0] + 10 + np.arange(6), title="Ness")
    got = followed_by(first, more)
    np.testing.assert_array_equal(got.open_range, [7.0] * 10 + [10.0] * 6)
    assert got.hours is None
    np.testing.assert_array_equal(got["pr"], [1.0] * 10 + [np.nan] * 6)
    assert got.origin["pr"].tolist() == [0] * 10 + [MISSING] * 6
    assert got.history.endswith("days from 2021-03-11 on from Ness")
    assert followed_by(first, replace(more, source="a file")).history.endswith("on from a file")
    assert followed_by(first, replace(more, title="")).history.endswith("on from another record")
    assert followed_by(short(np.arange(10.0)), more).open_range is None


def test_each_month_has_its_own_fit_and_what_only_one_measures_is_left():
    """Here a degree more in January and December, twice as much in April, half as much in May; means have we alone."""
    days = np.arange("2001-01-01", "2004-01-01", dtype="datetime64[D]")
    month = days.astype("datetime64[M]").astype(int) % 12 + 1
    there = np.arange(days.size) % 17 / 2.0
    here = np.select([month == 4, month == 5], [2.0 * there, 0.5 * there], there + 1.0)
    truth, gap = here.copy(), [0, 20, 100, 101, 130, 140, 360, 364]  # January, April, May, December
    here[gap] = np.nan
    mean = here + 10.0
    one = daily_record(days, {"tasmin": here, "tasmax": truth + 30.0, "tas": mean})
    two = daily_record(days, {"tasmin": there, "tasmax": there + 40.0, "sfcWind": there})
    assert list(fill_from_station(two, one).values) == ["tasmin", "tasmax", "pr", "sfcWind"]
    got = fill_from_station(one, two)
    np.testing.assert_allclose(got["tasmin"][gap], truth[gap], atol=0.005)
    np.testing.assert_array_equal(np.isnan(got["tas"]), np.isnan(mean))
    assert list(got.values) == ["tasmin", "tasmax", "pr", "tas"]
