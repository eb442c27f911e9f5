"""What a site file says of its plot: height, sea air, frost hollow, warm wall and slope, each seen in the days."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr

from sowcal.answers import sowing_chart
from sowcal.climate.sun import extraterrestrial_radiation
from sowcal.errors import InputError
from sowcal.microclimate import parse_what_if, with_what_ifs
from sowcal.seasons.site_days import SiteDays
from sowcal.site_weather import open_record
from sowcal.weather.cf_dataset import dataset_of
from sowcal.weather.record import daily_record

DAYS = np.arange("2009-01-01", "2017-01-01", dtype="datetime64[D]")
HEAD = 'name = "Ness"\nlatitude = 38.0\n[weather]\nsource = "file"\nfile = "days.csv"\ntemperature_unit = "degC"\n'
OF_YEAR = (DAYS - DAYS.astype("datetime64[Y]").astype("datetime64[D]")).astype(int)


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """Days with a range of 4 (dull) and 18 degC (clear) in turn."""
    folder = tmp_path_factory.mktemp("ness")
    wide = np.where(np.arange(DAYS.size) % 2 == 0, 4.0, 18.0)
    mean = 15 - 7 * np.cos(2 * np.pi * (OF_YEAR - 25) / 365.25)
    rows = (f"{d},{m - w / 2:.2f},{m + w / 2:.2f}" for d, m, w in zip(DAYS, mean, wide, strict=True))
    (folder / "days.csv").write_text("date,tmin,tmax\n" + "\n".join(rows) + "\n")
    return folder


def moved(place, change):
    """Nights and days under a change named in the site file, minus those without."""
    (place / "plain.toml").write_text(HEAD)
    (place / "plot.toml").write_text(HEAD + f'[plot]\nchanges = ["{change}"]\n')
    name, there = open_record(str(place / "plot.toml"))
    here = open_record(str(place / "plain.toml"))[1]
    return name, *(there[v] - here[v] for v in ("tasmin", "tasmax"))


def test_height_by_the_lapse_rate(place):
    """6.5 K per km (ICAO standard atmosphere, from memory)."""
    _, nights, days = moved(place, "higher=200")
    np.testing.assert_allclose(nights, -1.3)
    np.testing.assert_allclose(days, -1.3)


def test_a_frost_hollow_deepens_on_clear_nights_only(place):
    _, nights, days = moved(place, "frost-hollow=3")
    np.testing.assert_allclose(nights[::2], 0.0, atol=1e-9)
    np.testing.assert_allclose(nights[1::2], -3.0)
    np.testing.assert_allclose(days, 0.0, atol=1e-9)


def test_a_warm_wall_warms_nights_and_clear_days(place):
    _, nights, days = moved(place, "warm-wall")
    assert (nights > 0).all()
    assert (days[1::2] > days[::2]).all()


def test_sea_air_narrows_the_range_and_keeps_the_mean(place):
    _, nights, days = moved(place, "sea-air=25")
    np.testing.assert_allclose(days - nights, np.where(np.arange(DAYS.size) % 2 == 0, -1.0, -4.5), atol=1e-9)
    np.testing.assert_allclose(nights + days, 0.0, atol=1e-9)


def test_a_slope_changes_the_sunshine_alone(place):
    _, nights, days = moved(place, "slope@S=20")
    chart = sowing_chart(str(place / "plot.toml"), ["pea (shelling)"])
    assert chart.site == "Ness, with a slope of 20 degrees facing S"
    np.testing.assert_allclose(nights, 0.0)
    np.testing.assert_allclose(days, 0.0)
    here = SiteDays.from_record(open_record(str(place / "plain.toml"))[1])
    there = SiteDays.from_record(open_record(str(place / "plot.toml"))[1])
    ratio = there.solar_radiation / here.solar_radiation
    winter, summer = (np.isin(DAYS.astype("datetime64[M]").astype(int) % 12, m) for m in ((11, 0), (5, 6)))
    assert ratio[winter].mean() > 1.25
    assert 0.9 < ratio[summer].mean() < 1.02
    assert ratio[winter].mean() > ratio[summer].mean()


def test_measured_radiation_is_what_the_slope_changes():
    top = np.asarray(extraterrestrial_radiation(38.0, OF_YEAR + 1))
    values = {"tasmin": np.full(DAYS.size, 5.0), "tasmax": np.full(DAYS.size, 15.0), "rsds": 0.1 * top}
    dull = with_what_ifs(daily_record(DAYS, values, latitude=38.0), ["slope@180=30"])
    # under a dull sky only the view of the sky counts, here (1 + cos 30) / 2 with 0.23 of the rest reflected
    np.testing.assert_allclose(dull["rsds"] / values["rsds"], 0.933 + 0.23 * 0.067, atol=0.03)


def test_the_plot_of_the_site_file_is_that_of_the_command_line(place):
    moved(place, "frost-hollow=4")
    crops = ["potato (early)"]
    by_file = sowing_chart(str(place / "plot.toml"), crops)
    by_word = sowing_chart(str(place / "plain.toml"), crops, what_ifs=["frost-hollow=4"])
    assert by_file.crops[0].starts[0].windows == by_word.crops[0].starts[0].windows
    assert by_file.site == by_word.site
    assert (
        by_file.crops[0].starts[0].windows != sowing_chart(str(place / "plain.toml"), crops).crops[0].starts[0].windows
    )


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ("slope=10", "a slope needs the way it faces"),
        ("slope@up=10", "no way to face"),
        ("slope@S=80", "outside 1 to 45"),
        ("sea-air=90", "outside 5 to 60"),
        ("sea-air@6-8=20", "holds all year"),
        ("hollow", "no what-if"),
    ],
)
def test_slips_are_told(place, words, message):
    with pytest.raises(InputError, match=message):
        parse_what_if(words)
    (place / "slip.toml").write_text(HEAD + f'[plot]\nchanges = ["{words}"]\n')
    with pytest.raises(InputError, match=message) as told:
        open_record(str(place / "slip.toml"))
    assert told.value.where == "changes under [plot]"


def test_a_grid_has_no_one_slope():
    one = daily_record(DAYS, {"tasmin": np.zeros(DAYS.size), "tasmax": np.ones(DAYS.size)}, latitude=38.0)
    cells = xr.concat([dataset_of(replace(one, latitude=latitude)) for latitude in (38.0, 39.0)], "cell")
    assert cells["latitude"].shape == (2,)
    with pytest.raises(InputError, match="this is a grid; latitude and longitude of the site are needed"):
        sowing_chart(cells, ["pea (shelling)"], what_ifs=["slope@S=10"])
