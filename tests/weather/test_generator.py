"""The generator against the normals it is given and the process it claims to be."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from sowcal.errors import InputError
from sowcal.weather import generator
from sowcal.weather.generator import gamma_quantile, generate_daily, yearly_curve
from sowcal.weather.site_file import bundled_names, bundled_site

sys.path.insert(0, str(Path(__file__).parent))
from records_alike import assert_alike

LONG = 300  # years


def normals_of(name):
    return {k: list(v) for k, v in bundled_site(name).weather.items() if isinstance(v, tuple)}


@pytest.fixture(scope="module", params=bundled_names())
def long_run(request):
    normals = normals_of(request.param)
    return normals, generate_daily(normals, years=LONG, seed=7, latitude=38.0, first_year=1700)


def month_of(ds):
    """Month of each day, 1 to 12."""
    return ds.time.astype("datetime64[M]").astype(int) % 12 + 1


def by_month_and_year(ds, values, how):
    """Mean or sum of each month, shape (years, 12)."""
    starts = np.flatnonzero(np.diff(month_of(ds), prepend=0))
    sums = np.add.reduceat(values, starts)
    days = np.diff(starts, append=values.size)
    return (sums / days if how == "mean" else sums).reshape(-1, 12)


@pytest.mark.parametrize("name", ["tasmin", "tasmax"])
def test_monthly_means_agree_with_the_normals(long_run, name):
    """Within 4 standard errors, taken from the spread of the generated years themselves (24 comparisons)."""
    normals, ds = long_run
    months = by_month_and_year(ds, ds[name], "mean")
    error = months.std(axis=0, ddof=1) / np.sqrt(LONG)
    assert error.max() < 0.12  # else the test could not fail
    assert (np.abs(months.mean(axis=0) - normals[name]) < 4 * error + 0.02).all()


@pytest.mark.parametrize("name", ["tasmin", "tasmax"])
def test_spread_of_the_days_agrees(long_run, name):
    """Within 6 per cent, the slope of the season within a month taken out."""
    normals, ds = long_run
    curve = yearly_curve(normals[name])
    day = (ds.time - ds.time.astype("datetime64[Y]").astype("datetime64[D]")).astype(int)
    anomaly = ds[name] - curve[np.minimum(day, 364)]
    month = month_of(ds)
    spread = np.array([anomaly[month == m].std() for m in range(1, 13)])
    np.testing.assert_allclose(spread, normals[f"{name}_sd"], rtol=0.06)


def test_rain_and_wet_days_agree(long_run):
    """Within 4 standard errors, and 3 per cent for what the state carries over the turn of a month."""
    normals, ds = long_run
    wet = (ds["pr"] >= generator._WET_DAY).astype(float)
    for values, wanted in (
        (by_month_and_year(ds, ds["pr"], "sum"), normals["pr"]),
        (by_month_and_year(ds, wet, "sum"), normals["wet_days"]),
    ):
        error = values.std(axis=0, ddof=1) / np.sqrt(LONG)
        assert (np.abs(values.mean(axis=0) - wanted) < 4 * error + 0.03 * np.asarray(wanted) + 0.3).all()


def test_wet_days_follow_the_chain_of_geng(long_run):
    """P(wet | dry) = 0.75 f, P(wet | wet) = 0.25 + 0.75 f (Geng et al. 1986): January, within 4 errors."""
    normals, ds = long_run
    wet = ds["pr"] > 0
    january = month_of(ds) == 1
    today, before = wet[1:][january[1:]], wet[:-1][january[1:]]
    share = normals["wet_days"][0] / 31
    for state, chance in ((False, 0.75 * share), (True, 0.25 + 0.75 * share)):
        count = (before == state).sum()
        error = np.sqrt(chance * (1 - chance) / count)
        assert today[before == state].mean() == pytest.approx(chance, abs=4 * error)


def test_departures_follow_richardson():
    """Lag-one covariance of the stationary process is A times its covariance (Richardson 1981, eq. 5)."""
    uniform = np.random.default_rng(1).random((200_000, 2))
    x = np.stack(generator._departures(uniform))[:, 1000:]
    np.testing.assert_allclose(x.std(axis=1), 1.0, atol=0.02)
    # worked out by iterating S = A S A' + B B' instead of solving for it
    a, b, s = generator._LAG, generator._SAME_DAY, np.eye(2)
    for _ in range(200):
        s = a @ s @ a.T + b @ b.T
    scale = np.sqrt(np.diag(s))
    np.testing.assert_allclose(np.corrcoef(x), s / np.outer(scale, scale), atol=0.02)
    lagged = x[:, 1:] @ x[:, :-1].T / (x.shape[1] - 1)
    np.testing.assert_allclose(lagged, (a @ s) / np.outer(scale, scale), atol=0.02)


def test_maximum_stays_above_minimum_even_in_fog():
    narrow = {"tasmin": [8.0] * 12, "tasmax": [9.5] * 12, "pr": [60.0] * 12, "wet_days": [15.0] * 12}
    ds = generate_daily(narrow, years=10, seed=3, latitude=50.0)
    assert (ds["tasmax"] > ds["tasmin"]).all()


def test_wet_days_are_cooler_by_day():
    ds = generate_daily(normals_of("sallowdene"), years=60, seed=3, latitude=38.0)
    winter = np.isin(month_of(ds), [12, 1, 2])
    wet, high = ds["pr"][winter] > 0, ds["tasmax"][winter]
    difference = float(high[wet].mean() - high[~wet].mean())
    assert difference == pytest.approx(generator._WET_MINUS_DRY[0], abs=0.5)


def test_a_wet_day_is_cooler_and_its_night_warmer_about_the_mean_by_hand(monkeypatch):
    """With no departures and rain on two days in five: -2.7 K by day and 0.6 K by night part wet from dry days."""
    monkeypatch.setattr(generator, "_departures", lambda uniform: (np.zeros(110), np.zeros(110)))
    months = {"tasmin": [5.0] * 12, "tasmax": [15.0] * 12, "tasmin_sd": [2.8] * 12, "tasmax_sd": [3.2] * 12}
    days = np.arange("2001-03-01", "2001-03-11", dtype="datetime64[D]")
    wet = np.resize([True, False, False, True, False], 10)
    low, high = generator._temperatures(np.zeros((110, 2)), months, days, wet, np.full(10, 0.4))
    np.testing.assert_allclose(low[:3], [5.0 + 0.6 * 0.6, 5.0 - 0.4 * 0.6, 5.0 - 0.4 * 0.6])
    np.testing.assert_allclose(high[:3], [15.0 - 0.6 * 2.7, 15.0 + 0.4 * 2.7, 15.0 + 0.4 * 2.7])
    assert (low.mean(), high.mean()) == (pytest.approx(5.0), pytest.approx(15.0))


@pytest.mark.parametrize(
    ("first", "share", "wet"),
    [(0.45, 0.5, [1, 1, 0, 0, 1, 1]), (0.55, 0.5, [0, 0, 0, 0, 1, 1]), (0.45, 0.4, [0, 0, 0, 0, 1, 1])],
)
def test_a_chain_of_wet_days_by_hand(first, share, wet):
    """Half the days wet: 0.375 after a dry one and 0.625 after a wet one; a draw between leaves it as it was.

    The first day has no day before, so that its draw is held against its own share.
    """
    draws = np.array([first, 0.5, 0.7, 0.5, 0.3, 0.6])
    assert generator._wet_days(draws, np.array([share, *[0.5] * 5])).tolist() == [bool(x) for x in wet]


def test_departures_rest_where_nothing_pushes_them():
    """The middle draw of the normal distribution is no push."""
    assert [x.tolist() for x in generator._departures(np.full((3, 2), 0.5))] == [[0.0] * 3] * 2


def test_the_same_seed_gives_the_same_days():
    """The first days of seed 1 as they were when written: no machine and no version may change them."""
    normals = {"tasmin": [8.0] * 12, "tasmax": [17.0] * 12, "pr": [40.0] * 12, "wet_days": [6.0] * 12}
    first = generate_daily(normals, years=2, seed=1, latitude=38.0)
    assert_alike(first, generate_daily(normals, years=2, seed=1, latitude=38.0))
    other = generate_daily(normals, years=2, seed=2, latitude=38.0)
    assert (first["tasmin"] != other["tasmin"]).mean() > 0.9
    longer = generate_daily(normals, years=3, seed=1, latitude=38.0)
    assert longer["tasmax"][: first.size].tolist() == first["tasmax"].tolist()
    assert first["tasmin"][:5].tolist() == FIRST_TASMIN
    assert first["tasmax"][:5].tolist() == FIRST_TASMAX


FIRST_TASMIN = [6.2, 6.8, 7.1, 5.7, 4.6]
FIRST_TASMAX = [17.6, 16.3, 21.3, 16.5, 19.4]


def test_no_rain_where_the_normals_have_none():
    normals = normals_of("wrackhythe")
    normals["pr"][6] = normals["wet_days"][6] = 0.0
    ds = generate_daily(normals, years=30, seed=3, latitude=38.0)
    assert float(ds["pr"][month_of(ds) == 7].sum()) == 0.0


def test_yearly_curve_keeps_the_means_and_is_smooth():
    means = np.array(normals_of("sallowdene")["tasmax"])
    curve = yearly_curve(means)
    month = (np.datetime64("2001-01-01") + np.arange(365)).astype("datetime64[M]").astype(int) % 12
    np.testing.assert_allclose([curve[month == m].mean() for m in range(12)], means, atol=1e-9)
    assert np.abs(np.diff(curve, append=curve[0])).max() < 0.35  # no step, nor over New Year
    np.testing.assert_allclose(yearly_curve([3.0] * 12), 3.0, atol=1e-9)
    # a pure yearly wave is found again from its monthly means
    wave = np.cos(2 * np.pi * (np.arange(365) - 200) / 365)
    found = yearly_curve([wave[month == m].mean() for m in range(12)])
    np.testing.assert_allclose(found, wave, atol=0.01)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"tasmin": [8.0] * 11}, "tasmin must be twelve"),
        ({"pr": [np.nan] * 12}, "pr must be twelve"),
        ({"tasmax": [17.0] * 3 + [7.0] + [17.0] * 8}, "month 4"),
        ({"pr": [-1.0] * 12}, "negative"),
        ({"wet_days": [32.0] * 12}, "wet_days"),
        ({"wet_days": [0.0] * 12}, "wet_days is 0"),
        ({"pr": [0.0] * 12}, "pr is 0"),
        ({"tasmin_sd": [0.0] * 12}, "tasmin_sd"),
    ],
)
def test_normals_that_contradict_themselves(change, words):
    normals = {"tasmin": [8.0] * 12, "tasmax": [17.0] * 12, "pr": [40.0] * 12, "wet_days": [6.0] * 12}
    with pytest.raises(InputError, match=words):
        generate_daily({**normals, **change}, seed=1, latitude=38.0)


def test_likeness_to_a_real_record(reference_folder):
    """Seville 1981 to 2012 in, Seville-like days out: frosts, hot days and the longest dry spell of the year.

    Tolerances say how far the generator may be trusted: within a third, or 3 days a year.
    """
    import pandas as pd

    real = pd.read_csv(reference_folder / "weather" / "seville.csv", parse_dates=["date"]).set_index("date")
    month = real.index.month
    curves = {n: yearly_curve(real[c].groupby(month).mean()) for n, c in (("tasmin", "tmin"), ("tasmax", "tmax"))}
    day = np.minimum(real.index.day_of_year - 1, 364)
    normals = {
        "tasmin": real["tmin"].groupby(month).mean().tolist(),
        "tasmax": real["tmax"].groupby(month).mean().tolist(),
        "tasmin_sd": (real["tmin"] - curves["tasmin"][day]).groupby(month).std().tolist(),
        "tasmax_sd": (real["tmax"] - curves["tasmax"][day]).groupby(month).std().tolist(),
        "pr": (real["precip"].groupby(month).mean() * [31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]).tolist(),
        "wet_days": ((real["precip"] >= 1).groupby(month).mean() * 30.4).tolist(),
    }
    made = generate_daily(normals, years=100, seed=1, latitude=37.4)
    for column, name, test in (("tmin", "tasmin", lambda t: t < 0), ("tmax", "tasmax", lambda t: t > 35)):
        wanted = test(real[column].dropna()).mean() * 365.25
        found = float(test(made[name]).mean()) * 365.25
        assert found == pytest.approx(wanted, rel=0.33, abs=3.0)


@pytest.mark.parametrize("shape", [0.3, 0.8, 1.0])
def test_quantiles_of_rain_are_those_of_scipy(shape):
    """To nine digits up to all but a millionth; beyond, where few digits of the rest are left, to a thousandth."""
    from scipy.special import gammaincinv

    chance = np.concatenate([[0.0, 1e-300, 2.0**-54, 1e-12], np.linspace(0.0, 1.0 - 1e-6, 20_001)])
    np.testing.assert_allclose(gamma_quantile(shape, chance), gammaincinv(shape, chance), rtol=1e-9, atol=0.0)
    far = 1.0 - np.array([1e-9, 1e-12, 2.0**-53])
    found = gamma_quantile(shape, far)
    assert (np.diff(found) > 0).all()
    np.testing.assert_allclose(found[:2], gammaincinv(shape, far[:2]), rtol=1e-3)
    assert found[-1] <= 40.0


DRY_SUMMER = {  # as almanacs print it, rounded: rain on no whole day, and days without a whole millimetre
    "tasmin": [5, 6, 8, 10, 13, 17, 19, 19, 17, 13, 9, 6],
    "tasmax": [15, 17, 20, 22, 27, 32, 36, 36, 31, 25, 19, 16],
    "pr": [80, 60, 45, 40, 22, 6, 2, 0, 18, 60, 80, 0.1],
    "wet_days": [10, 8, 7, 6, 4, 1, 0, 0.3, 2, 6, 9, 0],
}


def test_rain_on_no_whole_day_is_read():
    """2 mm on 0 days, 0 mm on 0.3 days, 0.1 mm on 0 days: monthly totals and days come out near what is printed."""
    years = 1000
    made = generate_daily(DRY_SUMMER, years=200, seed=3, latitude=37.0, first_year=1700)
    more = [generate_daily(DRY_SUMMER, years=200, seed=s, latitude=37.0, first_year=1700)["pr"] for s in range(4, 8)]
    rain = np.concatenate([made["pr"], *more])
    month = np.tile(month_of(made), 5)
    totals = [rain[month == m].sum() / years for m in range(1, 13)]
    days = [(rain[month == m] > 0).sum() / years for m in range(1, 13)]
    for m in range(12):
        wet, rounded = DRY_SUMMER["wet_days"][m], DRY_SUMMER["pr"][m]
        assert totals[m] == pytest.approx(rounded, rel=0.15, abs=0.5), m + 1
        assert days[m] == pytest.approx(wet, rel=0.15, abs=0.5), m + 1
    assert 1.5 < totals[6] < 2.5
    assert 0.15 < days[6] < 0.35  # rare, and so of several mm
    assert 0.15 < totals[7] < 0.5
    assert 0.2 < days[7] < 0.4
    assert 0.03 < totals[11] < 0.25


def test_a_site_file_with_rain_on_no_day_answers(tmp_path, capsys):
    from sowcal.__main__ import main

    twelve = "\n".join(f"{k} = {[float(x) for x in v]}" for k, v in DRY_SUMMER.items())
    (tmp_path / "dry.toml").write_text(f'name = "Dry"\nlatitude = 37.0\n[weather]\nsource = "normals"\n{twelve}\n')
    assert main(["climate", str(tmp_path / "dry.toml")]) == 0
    assert "rain, mm" in capsys.readouterr().out


def rounded(pr, days):
    out = {"pr": np.full(12, float(pr)), "wet_days": np.full(12, float(days))}
    generator._read_rounded(out)
    return out["pr"][0], out["wet_days"][0]


def test_what_tables_round_away_by_hand():
    """20 mm on no whole day fell on one day in four years, 0.1 mm on a tenth; 0.3 days of 0 mm had 1 mm each."""
    assert rounded(20.0, 0.0) == (20.0, 0.25)
    assert rounded(0.1, 0.0) == (0.1, 0.1)
    assert rounded(0.05, 0.0) == (0.05, 0.05)
    assert rounded(0.0, 0.3) == (0.3, 0.3)
    assert rounded(0.0, 0.05) == (0.05, 0.05)
    assert rounded(0.0, 0.0) == (0.0, 0.0)
    assert rounded(30.0, 5.0) == (30.0, 5.0)
    for pr, days, says in ((20.1, 0.0, "more than 20 mm"), (0.0, 0.5, "wet days, 0.5 or more")):
        with pytest.raises(InputError, match=says):
            rounded(pr, days)


def test_no_wet_day_has_less_than_a_millimetre():
    """The usual threshold of a wet day (WMO No. 1203, from memory); of many one comes near it."""
    rain = generate_daily(normals_of("sallowdene"), years=60, seed=3, latitude=38.0)["pr"]
    least = rain[rain > 0].min()
    assert 1.0 <= least < 1.05


def test_a_month_may_be_wet_every_day_and_february_has_a_quarter_day_more(monkeypatch):
    """Wet days of 31 are all of January; those of 7 in February are 7 in 28.25 of its days."""
    wet = [31, 7, *[0] * 10]
    normals = {"tasmin": [5] * 12, "tasmax": [15] * 12, "pr": [62 * (d > 0) for d in wet], "wet_days": wet}
    asked = []
    chain = generator._wet_days
    monkeypatch.setattr(generator, "_wet_days", lambda draws, share: asked.append(share) or chain(draws, share))
    made = generate_daily(normals, years=1, seed=2, latitude=-33.0, first_year=2001)
    assert (made["pr"][:31] >= 1.0).all()
    assert (made["pr"][59:] == 0.0).all()
    assert asked[0][:31].tolist() == [1.0] * 31
    assert asked[0][31:59].tolist() == pytest.approx([7 / 28.25] * 28)
    with pytest.raises(InputError, match="month 2: wet_days"):
        generate_daily(normals | {"wet_days": [31, 29, *[0] * 10]}, years=1, seed=2, latitude=-33.0)


def test_a_wet_day_brings_a_millimetre_and_a_gamma_of_shape_0_8():
    """40 mm on four days: 10 mm each, of which 9 above the threshold; 2 mm on four days are half a millimetre and as
    much again. The quantiles are those of scipy."""
    from scipy import stats

    chance = np.linspace(0.0, 0.999, 200)
    for rain, threshold, excess in ((40.0, 1.0, 9.0), (2.0, 0.25, 0.25)):
        months = {"pr": np.full(12, rain), "wet_days": np.full(12, 4.0)}
        got = generator._amounts(chance, months, np.zeros(200, dtype=int))
        np.testing.assert_allclose(got, threshold + stats.gamma.ppf(chance, 0.8, scale=excess / 0.8), rtol=1e-8)


NORMAL = {"tasmin": [8.0] * 12, "tasmax": [17.0] * 12, "pr": [40.0] * 12, "wet_days": [6.0] * 12}


def test_every_value_is_told_to_a_tenth():
    made = generate_daily(NORMAL, years=1, seed=1, latitude=38.0)
    for name in ("tasmin", "tasmax", "pr"):
        np.testing.assert_array_equal(made[name], made[name].round(1))
    assert str(made.time[0]) == "1991-01-01"
    assert made.size == 365
    assert generate_daily(NORMAL, seed=1, latitude=38.0).size == 30 * 365 + 8


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"tasmax": [58.0] * 12, "tasmax_sd": [20.0] * 12}, "tasmax"),
        ({"tasmin": [-85.0] * 12, "tasmin_sd": [15.0] * 12}, "tasmin"),
        ({"pr": [3000.0] * 12, "wet_days": [1.0] * 12}, "pr"),
    ],
)
def test_normals_that_make_days_which_cannot_be(change, name):
    """Beyond either end, on one side only."""
    with pytest.raises(InputError, match=f"days on which {name} lies outside"):
        generate_daily({**NORMAL, **change}, years=3, seed=1, latitude=38.0)


def test_the_least_and_the_most_that_normals_may_be():
    """A degree between night and day, and a spread of 20 K, are taken; less and more are not, nor no year."""
    narrow = {"tasmin": [8.0] * 12, "tasmax": [9.0] * 12}
    wide = {"tasmin_sd": [20.0] * 12}
    for change in (narrow, wide):
        assert generate_daily({**NORMAL, **change}, years=1, seed=1, latitude=38.0).size == 365
    for change, words in (
        ({"tasmax": [8.9] * 12}, "at least 1 degC"),
        ({"tasmin_sd": [20.1] * 12}, "between 0 and 20"),
    ):
        with pytest.raises(InputError, match=words):
            generate_daily({**NORMAL, **change}, years=1, seed=1, latitude=38.0)
    with pytest.raises(InputError, match="years is 0"):
        generate_daily(NORMAL, years=0, seed=1, latitude=38.0)


@pytest.mark.parametrize(
    ("sd", "within"),
    [
        (3.2, (3.2**2 - 0.24 * 2.7**2) ** 0.5),  # 0.4 of the days wet: 0.4 x 0.6 = 0.24
        (1.0, 0.5),  # wet and dry part by more than all of it: half stays with the departures
        (0.1, 0.15),  # no spread below 0.3 K is believed
    ],
)
def test_what_is_left_of_the_spread_for_the_departures_by_hand(monkeypatch, sd, within):
    """A departure of one spread upwards on a day that is as warm as the mean of wet and dry."""
    monkeypatch.setattr(generator, "_departures", lambda uniform: (np.ones(110), np.zeros(110)))
    months = {"tasmin": [5.0] * 12, "tasmax": [15.0] * 12, "tasmin_sd": [2.8] * 12, "tasmax_sd": [sd] * 12}
    days = np.arange("2001-03-01", "2001-03-11", dtype="datetime64[D]")
    wet = np.resize([True, False, False, True, False], 10)
    _, high = generator._temperatures(np.zeros((110, 2)), months, days, wet, np.full(10, 0.4))
    np.testing.assert_allclose(high, 15.0 + within + np.where(wet, -0.6 * 2.7, 0.4 * 2.7))


def test_night_and_day_that_cross_are_set_a_quarter_degree_either_side_of_their_middle(monkeypatch):
    monkeypatch.setattr(generator, "_departures", lambda uniform: (np.full(110, -3.0), np.full(110, 3.0)))
    months = {"tasmin": [10.0] * 12, "tasmax": [12.0] * 12, "tasmin_sd": [2.0] * 12, "tasmax_sd": [2.0] * 12}
    days = np.arange("2001-03-01", "2001-03-11", dtype="datetime64[D]")
    dry = np.zeros(10, dtype=bool)
    low, high = generator._temperatures(np.zeros((110, 2)), months, days, dry, np.zeros(10))
    np.testing.assert_allclose(low, 10.75)  # 16 and 6: their middle is 11
    np.testing.assert_allclose(high, 11.25)


def test_places_in_a_year_of_365_days():
    """29 February counts as the 28th, and the days after it as in other years; 1900 had none."""
    dates = ["2004-02-28", "2004-02-29", "2004-03-01", "2004-12-31", "2003-02-28", "2003-03-01", "2003-12-31",
             "1900-03-01", "2000-02-29", "2000-03-01"]  # fmt: skip
    places = generator._day_of_365(np.array(dates, dtype="datetime64[D]"))
    assert places.tolist() == [58, 58, 59, 364, 58, 59, 364, 59, 58, 59]


def test_no_sum_of_twelve_waves_with_these_means_is_smoother():
    """At the least mean square of the second derivative this is at right angles to all that leaves the means alone."""
    month = (np.datetime64("2001-01-01") + np.arange(365)).astype("datetime64[M]").astype(int) % 12
    curve = yearly_curve([3.0, 9.0, 4.0, 12.0, 17.0, 15.0, 28.0, 26.0, 21.0, 22.0, 8.0, 6.0])
    share = np.abs(np.fft.rfft(curve)) / 365
    assert share[12] > 1e-5
    assert share[13:].max() < 1e-9
    angle = 2 * np.pi * np.arange(365) / 365
    waves = np.stack([f(k * angle) for k in range(1, 13) for f in (np.cos, np.sin)], axis=1)
    means = np.stack([waves[month == m].mean(axis=0) for m in range(12)])
    *_, turned = np.linalg.svd(means)
    free = waves @ turned[12:].T  # curves of which every month has a mean of nothing
    assert np.abs([[free[month == m, k].mean() for m in range(12)] for k in range(free.shape[1])]).max() < 1e-9
    k = np.arange(183)

    def second(values):
        return np.fft.irfft(np.fft.rfft(values, axis=0) * (-(k**2)).reshape(-1, *[1] * (values.ndim - 1)), 365, axis=0)

    size = np.sqrt((second(curve) ** 2).sum() * (second(free) ** 2).sum(axis=0))
    assert np.abs(second(free).T @ second(curve) / size).max() < 1e-9
