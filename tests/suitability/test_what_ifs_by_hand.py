"""What each change does to a dull, a fair, a clear and a hot day, figure by figure, as told beside it.

Sources of the figures stand in `sowcal/microclimate.py` beside each change and are told to the grower; here they are
held in plain numbers: fleece by the trials of Oregon State University 1988 (means of minima 0.3 to 1.8 degC warmer), a
walk-in tunnel by Savage 1980 (minima 1.3 and maxima 4.2 degC above those outside), mulch by O'Connell & Snyder 1999
(clear nights 0.5 to 1.2 degC colder), the lapse rate by the ICAO standard atmosphere (from memory); the rest is common
practice.
"""

import numpy as np
import pytest

from sowcal.errors import InputError
from sowcal.microclimate import WHAT_IFS, check_together, parse_what_if, with_what_ifs
from sowcal.weather.record import daily_record

# dull (range 6 degC), fair (11), clear (16), clear and hot (36 by day), hot by half (31 by day)
LOW = np.array([10.0, 10.0, 10.0, 20.0, 20.0])
HIGH = np.array([16.0, 21.0, 26.0, 36.0, 31.0])
CLEAR = np.array([0.0, 0.5, 1.0, 1.0, 0.5])
NONE, ALL = np.zeros(5), np.ones(5)


def record(**more):
    days = np.arange("2021-06-01", "2021-06-06", dtype="datetime64[D]")
    return daily_record(days, {"tasmin": LOW, "tasmax": HIGH, **more}, latitude=38.0)


def room(limit, most):
    """Degrees left to the day on which glass or film is opened."""
    return np.clip(limit - HIGH, 0.0, most)


HOT = np.array([0.0, 0.0, 0.0, 1.0, 0.5])  # from 28 to 34 degC
# nights, days, light, sky, what crowns are spared, seed bed
FIGURES = {
    "shade-cloth=40": (NONE, -1.68 * CLEAR, 0.6, 0.6, 0.8, ""),
    "shade-cloth": (NONE, -1.68 * CLEAR, 0.6, 0.6, 0.8, ""),
    "shade-cloth=80": (NONE, -3.36 * CLEAR, 0.2, 0.2, 1.6, ""),
    "shade-cloth@weak=40": (NONE, -0.6 * CLEAR, 0.6, 0.6, 0.2, ""),
    "shade-cloth@strong=40": (NONE, -2.4 * CLEAR, 0.6, 0.6, 1.0, ""),
    "afternoon-shade": (NONE, -1.5 * CLEAR, 0.75, 0.9, 1.0, ""),
    # from no cooler to 6 degF (3.3 K) cooler, as the two sources beside the change have it
    "afternoon-shade@weak": (NONE, NONE, 0.75, 0.9, 0.3, ""),
    "afternoon-shade@strong": (NONE, -3.3 * CLEAR, 0.75, 0.9, 1.5, ""),
    "mulch": (-0.8 * CLEAR, NONE, 1.0, 1.0, 1.5, "mulched"),
    "mulch@weak": (-1.2 * CLEAR, NONE, 1.0, 1.0, 0.5, "mulched"),
    "mulch@strong": (-0.5 * CLEAR, NONE, 1.0, 1.0, 2.5, "mulched"),
    "irrigation": (NONE, -1.0 * HOT, 1.0, 1.0, 1.0, "wet"),
    "irrigation@weak": (NONE, -0.4 * HOT, 1.0, 1.0, 0.3, "wet"),
    "irrigation@strong": (NONE, -2.9 * HOT, 1.0, 1.0, 1.5, "wet"),
    "fleece": (1.0 - 0.5 * CLEAR, room(25.0, 2.0), 0.85, 0.3, 0.0, ""),
    "fleece@weak": (0.3 - 0.3 * CLEAR, room(25.0, 2.0), 0.85, 0.3, 0.0, ""),
    "fleece@strong": (1.8 * ALL, room(25.0, 2.0), 0.85, 0.3, 0.0, ""),
    "cold-frame": (2.5 * ALL, room(26.0, 6.0), 0.8, 0.0, 0.0, ""),
    "cold-frame@weak": (NONE, room(26.0, 4.0), 0.8, 0.0, 0.0, ""),
    "cold-frame@strong": (5.0 * ALL, room(26.0, 6.0), 0.8, 0.0, 0.0, ""),
    "tunnel": (1.3 * ALL, room(28.0, 4.2), 0.8, 0.3, 0.0, ""),
    "tunnel@weak": (NONE, room(28.0, 4.2), 0.8, 0.3, 0.0, ""),
    "tunnel@strong": (2.5 * ALL, room(28.0, 6.0), 0.8, 0.3, 0.0, ""),
    "warm-wall": (1.5 * ALL, 1.5 * CLEAR, 1.0, 0.5, 0.0, ""),
    "warm-wall@weak": (0.5 * ALL, 0.5 * CLEAR, 1.0, 0.5, 0.0, ""),
    "warm-wall@strong": (3.0 * ALL, 3.0 * CLEAR, 1.0, 0.5, 0.0, ""),
    "sea-air": (0.1 * (HIGH - LOW), -0.1 * (HIGH - LOW), 1.0, 1.0, 0.0, ""),
    "frost-hollow": (-2.0 * CLEAR, NONE, 1.0, 1.0, 0.0, ""),
    "higher": (-0.65 * ALL, -0.65 * ALL, 1.0, 1.0, 0.0, ""),
    "higher=-1000": (6.5 * ALL, 6.5 * ALL, 1.0, 1.0, 0.0, ""),
    "warmer": (2.0 * ALL, 2.0 * ALL, 1.0, 1.0, 0.0, ""),
    "slope@S": (NONE, NONE, 1.0, 1.0, 0.0, ""),
}


@pytest.mark.parametrize("change", FIGURES)
def test_the_figures_of_a_change(change):
    nights, days, light, sky, crown, seedbed = FIGURES[change]
    changed = with_what_ifs(record(), [change])
    np.testing.assert_allclose(changed["tasmin"] - LOW, nights, atol=1e-12)
    np.testing.assert_allclose(changed["tasmax"] - HIGH, days, atol=1e-12)
    felt = changed.felt
    assert (felt.light_share, felt.sky_share, felt.crown_relief) == pytest.approx((light, sky, crown))
    assert felt.seedbed == seedbed
    assert changed.changes == (change,)


def test_every_change_and_both_its_ends_are_held():
    names = {change.partition("=")[0].partition("@")[0] for change in FIGURES}
    assert names == set(WHAT_IFS)
    for name, what in WHAT_IFS.items():
        assert {f"{name}@{end}" for end in ("weak", "strong") if getattr(what, end)} <= {
            change.partition("=")[0] for change in FIGURES
        }


def test_what_changes_do_to_light_and_crown_adds_up():
    """Light and sky are shares of shares, relief of the crown is a sum; the open range tells how clear it was."""
    both = with_what_ifs(record(), ["mulch", "shade-cloth=40", "frost-hollow=2"])
    assert (both.felt.light_share, both.felt.sky_share, both.felt.crown_relief) == pytest.approx((0.6, 0.6, 2.3))
    assert both.felt.seedbed == "mulched"
    np.testing.assert_allclose(both["tasmin"], LOW - 2.8 * CLEAR)
    np.testing.assert_allclose(both.daily_range, HIGH - LOW)
    under_two = with_what_ifs(record(), ["afternoon-shade", "shade-cloth=40"])
    assert (under_two.felt.light_share, under_two.felt.sky_share) == pytest.approx((0.45, 0.54))
    assert with_what_ifs(record(), []).changes == ()
    assert with_what_ifs(record(), ["mulch", "warmer=1"]).what_ifs == "straw mulch; a climate warmer by 1 degC"


def test_a_cooled_day_is_never_colder_than_its_night():
    flat = daily_record(["2021-06-01", "2021-06-02"], {"tasmin": [18.0, 30.0], "tasmax": [18.2, 30.2]}, latitude=38.0)
    cooled = with_what_ifs(flat, ["irrigation@strong"])
    np.testing.assert_allclose(cooled["tasmax"], [18.2, 30.0])
    np.testing.assert_allclose(cooled["tasmin"], [18.0, 30.0])


@pytest.mark.parametrize(
    ("name", "least", "most"),
    [
        ("shade-cloth", 10, 80), ("sea-air", 5, 60), ("slope@S", 1, 45), ("frost-hollow", 0.5, 6), ("warmer", -5, 8),
        ("higher", -1500, 1500), ("mulch", 1, 1), ("fleece", 1, 1), ("tunnel", 1, 1),
    ],
)  # fmt: skip
def test_amounts_have_their_ends(name, least, most):
    for amount in (least, most):
        assert parse_what_if(f"{name}={amount}")[1] == amount
    for amount in (least - 0.01, most + 0.01):
        with pytest.raises(InputError, match=f"outside {least:g} to {most:g}"):
            parse_what_if(f"{name}={amount}")


@pytest.mark.parametrize(
    ("name", "usual"), [("shade-cloth", 40), ("sea-air", 20), ("slope@S", 10), ("frost-hollow", 2), ("higher", 100)]
)
def test_amounts_that_are_not_named(name, usual):
    assert parse_what_if(name)[1] == usual


@pytest.mark.parametrize(
    ("text", "months"),
    [
        ("warmer@7=1", {7}), ("warmer@6-8=1", {6, 7, 8}), ("warmer@11-2=1", {11, 12, 1, 2}), ("warmer=1", range(1, 13)),
        ("frost-hollow@12-1", {12, 1}), ("warmer@1-12", range(1, 13)),
    ],
)  # fmt: skip
def test_months_of_a_change(text, months):
    assert parse_what_if(text)[2] == frozenset(months)


@pytest.mark.parametrize("months", ["0", "13", "0-3", "3-13", "x"])
def test_months_that_are_none(months):
    with pytest.raises(InputError, match="names no months"):
        parse_what_if(f"warmer@{months}=1")


def test_only_what_changes_temperature_alone_is_held_to_months():
    with pytest.raises(InputError, match="go with: warmer, frost-hollow; fleece@weak and fleece@strong"):
        parse_what_if("fleece@6-8")
    with pytest.raises(InputError, match=r"go with: warmer, frost-hollow$"):
        parse_what_if("higher@6-8=100")


def test_outside_its_months_a_change_leaves_the_days_alone():
    days = np.arange("2021-01-01", "2021-12-31", dtype="datetime64[D]")
    year = daily_record(days, {"tasmin": np.full(days.size, 5.0), "tasmax": np.full(days.size, 25.0)}, latitude=38.0)
    changed = with_what_ifs(year, ["frost-hollow@11-1=3"])
    month = days.astype("datetime64[M]").astype(int) % 12 + 1
    np.testing.assert_allclose(changed["tasmin"], np.where(np.isin(month, [11, 12, 1]), 2.0, 5.0))
    assert changed.what_ifs == "a frost hollow 3 degC deep in months 1, 11, 12"


@pytest.mark.parametrize(
    ("points", "degrees"),
    [("N", 0), ("NE", 45), ("E", 90), ("SE", 135), ("S", 180), ("SW", 225), ("w", 270), ("NW", 315)],
)
def test_a_slope_named_by_the_wind_rose_faces_so_many_degrees(points, degrees):
    one, other = (with_what_ifs(record(), [f"slope@{way}=20"])["rsds"] for way in (points, degrees))
    np.testing.assert_array_equal(one, other)


def test_a_slope_faces_up_to_360_degrees():
    assert parse_what_if("slope@360=20")[1] == 20
    with pytest.raises(InputError, match="no way to face"):
        parse_what_if("slope@361=20")
    assert parse_what_if("slope@360=20")[0].says.endswith("facing 360 degrees from north")
    assert parse_what_if("slope@sw=20")[0].says.endswith("facing SW")


def midwinter(latitude, **more):
    days = np.array([f"{y}-12-21" if latitude > 0 else f"{y}-06-21" for y in (2020, 2021)], dtype="datetime64[D]")
    days = np.arange(days[0], days[0] + 3)
    return daily_record(days, {"tasmin": [2.0] * 3, "tasmax": [16.0] * 3, **more}, latitude=latitude)


@pytest.mark.parametrize(("latitude", "sunny"), [(38.0, "S"), (-38.0, "N")])
def test_in_both_hemispheres_the_slope_towards_the_equator_has_more_winter_sun(latitude, sunny):
    shady = "N" if sunny == "S" else "S"
    level = with_what_ifs(midwinter(latitude), ["slope@E=1"])["rsds"]
    to, away, east, west = (
        with_what_ifs(midwinter(latitude), [f"slope@{way}=20"])["rsds"] for way in (sunny, shady, "E", "W")
    )
    assert (to > 1.3 * level).all()
    assert (away < 0.6 * level).all()
    np.testing.assert_allclose(east, west, rtol=0.02)


def test_mirrored_slopes_have_the_same_light():
    """The same slope half a year later south of the equator, but for the sun being nearer in January."""
    north = with_what_ifs(midwinter(38.0), ["slope@S=20"])["rsds"]
    south = with_what_ifs(midwinter(-38.0), ["slope@N=20"])["rsds"]
    np.testing.assert_allclose(south, north, rtol=0.08)


def test_a_slope_changes_measured_light_and_estimates_what_was_not():
    measured = midwinter(38.0, rsds=[8.0, np.nan, 4.0])
    steep = with_what_ifs(measured, ["slope@S=20"])
    assert steep["rsds"][0] > 8.0
    assert np.isfinite(steep["rsds"]).all()
    plain = with_what_ifs(midwinter(38.0), ["slope@S=20"])
    assert steep["rsds"][1] == pytest.approx(plain["rsds"][1])
    np.testing.assert_array_equal(plain.origin["rsds"], plain.origin["tasmin"])


@pytest.mark.parametrize(
    ("texts", "sum_of"),
    [
        (["warmer=8", "cold-frame"], "12.25"),  # 8 + (2.5 + 6) / 2
        (["warmer=8", "tunnel"], "10.75"),
        (["warmer=8", "fleece", "warm-wall"], "11"),
        (["higher=-1500", "warmer=0.3"], "10.05"),
        (["warmer@6-8=8", "cold-frame"], "12.25"),
        (["higher=1500", "irrigation"], "10.25"),
        (["higher=1500", "afternoon-shade"], "10.5"),
        (["higher=1500", "mulch"], "10.15"),
        (["higher=1500", "frost-hollow=1"], "10.25"),
        (["higher=1500", "shade-cloth=40"], "10.59"),
    ],
)
def test_what_changes_come_to_together(texts, sum_of):
    with pytest.raises(InputError, match=f"come to {sum_of} degC of the day's mean"):
        check_together(texts)


def test_ten_degrees_in_all_are_allowed_and_colder_is_set_against_warmer():
    check_together(["warmer=8", "warm-wall", "frost-hollow=1"])
    check_together(["higher=-1500", "warmer=0.25"])  # 9.75 + 0.25
    check_together(["warmer@6-8=8", "cold-frame", "higher=600"])
    check_together(["sea-air=60", "slope@S=45", "higher=-1500"])  # which move no mean


def test_what_a_grower_can_do_and_what_he_must_take_as_it_is():
    can = {"shade-cloth", "afternoon-shade", "mulch", "irrigation", "fleece", "cold-frame", "tunnel", "warm-wall"}
    asked = {name: parse_what_if("slope@S" if name == "slope" else name)[0] for name in WHAT_IFS}
    assert {name for name, what in asked.items() if what.lifts} == can
    assert set(WHAT_IFS) - can == {"sea-air", "slope", "frost-hollow", "higher", "warmer"}


def test_a_name_that_is_nearly_one_is_asked_about_and_another_is_not():
    with pytest.raises(InputError, match=r"no what-if 'mulsh'; did you mean 'mulch'\?; known: shade-cloth, "):
        parse_what_if("mulsh")
    with pytest.raises(InputError, match=r"no what-if 'xyzzy'; known: shade-cloth, "):
        parse_what_if("xyzzy")
    with pytest.raises(InputError, match="'much' is not a number"):
        parse_what_if("warmer=much")
    with pytest.raises(InputError, match="a slope needs the way it faces"):
        parse_what_if("slope=10")
    with pytest.raises(InputError, match=r"9 is outside -5 to 8 degC$"):
        parse_what_if("warmer=9")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("mulch@weak", "straw mulch at its weak end"),
        ("fleece@strong", "fleece at its strong end"),
        ("shade-cloth", "40 per cent shade cloth"),
        ("higher=200", "200 m higher"),
        ("warmer@6-8=2", "a climate warmer by 2 degC in months 6, 7, 8"),
        ("sea-air=30", "sea air that takes 30 per cent off the daily range"),
        ("slope@SW=15", "a slope of 15 degrees facing SW"),
    ],
)
def test_a_change_is_told_with_its_amount_its_end_and_its_months(change, words):
    assert with_what_ifs(record(), [change]).what_ifs == words


def test_the_same_change_may_stand_again_for_other_months_only():
    check_together(["warmer@6-8=2", "warmer@12-2=1"])
    with pytest.raises(InputError, match=r"warmer is there twice \(warmer@6-8=2 and warmer@8-9=1\); leave"):
        check_together(["warmer@6-8=2", "warmer@8-9=1"])
    with pytest.raises(InputError, match="the first of which the plot is under already"):
        check_together(["mulch"], ["mulch@weak"])
    with pytest.raises(InputError, match="come to 14 degC"):
        check_together(["warmer@6-8=8"], ["higher=-923.0769230769231", "warmer@1-5=-5"])
    check_together(["warmer@6-8=8"], ["warmer@9-11=8"])  # in no month more than eight degrees
