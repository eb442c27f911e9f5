"""A site in a word, and the bundled plots."""

from __future__ import annotations

import csv
import subprocess
import sys

import numpy as np
import pytest

from sowcal.errors import InputError
from sowcal.weather.open_site import looks_like_site, open_weather
from sowcal.weather.record import GENERATED
from sowcal.weather.site_file import bundled_names, bundled_site

ROWS = "date,tmin,tmax\n2004-02-27,1.5,9.0\n2004-02-28,2.0,10.5\n2004-03-01,2.0,9\n"


def test_what_looks_like_a_site(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "my.csv").write_text(ROWS)
    for word in (
        "wrackhythe",
        "Sallowdene",
        "-31.9,115.9",
        "36.3,-6",
        "+36.3, -6.25",
        "my.csv",
        str(tmp_path / "my.csv"),
    ):
        assert looks_like_site(word), word
    for word in (
        "tomato",
        "onion (short-day)",
        "",
        "31.9",
        "1,2,3",
        "other.csv",
        str(tmp_path),
        "36.3,-6.x",
        "a\0b",
    ):
        assert not looks_like_site(word), word


def test_asking_what_looks_like_a_site_is_light():
    code = (
        "import sys; from sowcal.weather.open_site import looks_like_site; looks_like_site('tomato'); "
        "print([m for m in ('pandas', 'xarray', 'meteostat', 'scipy', 'matplotlib') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_a_site_file_finds_its_record_beside_it(tmp_path):
    folder = tmp_path / "far"
    folder.mkdir()
    (folder / "my.csv").write_text(ROWS)
    path = folder / "my.toml"
    path.write_text(
        'name = "Nowhere"\nlatitude = -36.3\n[weather]\nsource = "file"\nfile = '
        '"my.csv"\ntemperature_unit = "degC"\n'
        'licence = "CC0"\n'
    )
    site, ds = open_weather(str(path))
    assert (site.name, ds.title, ds.licence) == ("Nowhere", "Nowhere", "CC0")
    assert ds.latitude == -36.3
    assert ds["tasmin"].tolist() == [1.5, 2.0, 2.0, 2.0]  # the leap day is filled
    _, ds = open_weather(path, longest_gap=0)
    assert np.isnan(ds["tasmin"][2])
    (folder / "my.csv").unlink()
    with pytest.raises(InputError, match="beside the site file"):
        open_weather(path)


def test_a_table_on_its_own_must_say_where_it_is(tmp_path):
    path = tmp_path / "my.csv"
    path.write_text(ROWS)
    with pytest.raises(InputError, match="# temperature_unit: degC"):
        open_weather(str(path))
    path.write_text("# temperature_unit: degC\n" + ROWS)
    with pytest.raises(InputError, match=r"# latitude: 36\.3") as caught:
        open_weather(str(path))
    assert 'file = "my.csv"' in str(caught.value)
    path.write_text("# temperature_unit: degC\n# latitude: -36.3\n" + ROWS)
    site, ds = open_weather(str(path))
    assert (site.name, site.latitude, site.longitude) == ("my", -36.3, None)
    assert ds.size == 4


@pytest.mark.parametrize("word", ["nowhere", "none.toml", "none.csv", "95,10", "10,500", "1,2,3"])
def test_what_is_no_site_is_told(word):
    with pytest.raises(InputError):
        open_weather(word)


def test_bundled_plots_are_invented_and_whole():
    assert len(bundled_names()) == 2
    for name in bundled_names():
        site, ds = open_weather(name)
        assert "invented" in site.name.lower()
        assert ds.size == 10958  # 1991 to 2020 with 8 leap days
        assert (ds.origin["tasmin"] == GENERATED).all()
        assert all(np.isfinite(ds[v]).all() for v in ("tasmin", "tasmax", "pr"))
        assert "not observed" in ds.source
    with pytest.raises(InputError, match="there is no bundled plot"):
        bundled_site("elsewhere")


def test_bundled_plots_are_the_coast_and_the_valley_they_are_said_to_be():
    """A mild coast, and a valley of frosts from autumn to spring and of hot summers."""
    valley, coast = (open_weather(name)[1] for name in bundled_names())
    frosts = [float((ds["tasmin"] < 0).sum()) / 30 for ds in (coast, valley)]
    hot = [float((ds["tasmax"] > 35).sum()) / 30 for ds in (coast, valley)]
    assert frosts[0] < 0.5
    assert 28 < frosts[1] < 42
    assert hot[0] < 0.5
    assert 30 < hot[1] < 50
    month = (valley.time.astype("datetime64[M]").astype(int) % 12 + 1)[valley["tasmin"] < 0]
    assert set(np.unique(month)) <= {10, 11, 12, 1, 2, 3, 4, 5}
    for ds, yearly in ((coast, 480), (valley, 520)):
        assert float(ds["pr"].sum()) / 30 == pytest.approx(yearly, rel=0.06)


def test_years_asked_for():
    _, ds = open_weather("wrackhythe", years=5)
    assert ds.size == 1826
    with pytest.raises(InputError, match="years"):
        open_weather("wrackhythe", years=0)


def test_records_of_other_packages_open(tmp_path):
    """Tunis 1979 to 2002 and Champion (Nebraska) of `aquacrop`, Seattle 2012 to 2015 of `vega_datasets`."""
    from importlib.metadata import PackageNotFoundError, files

    wanted = {
        "aquacrop": {
            "tunis_climate.txt": ("1979-01-01", 15.0, 20.0, 0.0),
            "champion_climate.txt": ("1982-01-01", -21.11, 3.33, 0.0),
        },
        "vega_datasets": {"seattle-weather.csv": ("2012-01-01", 5.0, 12.8, 0.0)},
    }
    for package, records in wanted.items():
        try:
            held = files(package)
        except PackageNotFoundError:
            pytest.skip(f"the package {package} is not installed")
        for name, (day, low, high, rain) in records.items():
            record = next(f for f in held if f.name == name).locate()
            path = tmp_path / "site.toml"
            path.write_text(
                f'name = "x"\nlatitude = 40\n[weather]\nsource = "file"\nfile = "{record.as_posix()}"\n'
                'temperature_unit = "degC"\n'
            )
            _, ds = open_weather(path, longest_gap=0)
            assert str(ds.time[0])[:10] == day
            assert [float(ds[v][0]) for v in ("tasmin", "tasmax", "pr")] == [low, high, rain]
            assert float(np.isnan(ds["tasmax"]).mean()) < 0.01


def test_real_station_records_open_through_a_site_file(reference_folder, tmp_path):
    """Every station record loads; months and frosts agree with the figures listed beside the records."""
    with (reference_folder / "weather" / "stations.csv").open(encoding="utf-8") as file:
        stations = list(csv.DictReader(file))
    assert len(stations) == 19
    for row in stations:
        record = reference_folder / "weather" / f"{row['station']}.csv"
        path = tmp_path / f"{row['station']}.toml"
        path.write_text(
            f'name = "{row["station"]}"\nlatitude = {row["latitude"]}\nlongitude = '
            f"{float(row['longitude'])}\n"
            f'[weather]\nsource = "file"\nfile = "{record.as_posix()}"\ntemperature_unit = "degC"\n'
        )
        _, ds = open_weather(path, longest_gap=0)
        assert str(ds.time[0])[:10] == row["first"]
        assert str(ds.time[-1])[:10] == row["last"]
        month = ds.time.astype("datetime64[M]").astype(int) % 12
        low, high = ([np.nanmean(ds[v][month == m]) for m in range(12)] for v in ("tasmin", "tasmax"))
        assert min(low) == pytest.approx(float(row["tmin_coldest_month"]), abs=0.3), row["station"]
        assert max(high) == pytest.approx(float(row["tmax_warmest_month"]), abs=0.3), row["station"]
        known = np.isfinite(ds["tasmin"])
        frosts = float((ds["tasmin"][known] < 0).mean()) * 365.25
        assert frosts == pytest.approx(float(row["frost_days"]), rel=0.1, abs=1.0), row["station"]
