"""The same damaged records by every door: a table in a file, a NetCDF file, a dataset, a data frame.

Each is refused with the same kind of error, or read as the same record. Before there was one door a dataset was
believed unseen: in kelvin, reversed, with days cut out or the columns swapped it was answered without a word.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from sowcal import SowcalError, sowing_chart
from sowcal.site_weather import open_record
from sowcal.weather.cf_dataset import dataset_of
from sowcal.weather.from_xarray_and_pandas import as_record, record_of_frame
from sowcal.weather.record import MISSING, daily_record

DAYS = np.arange("2003-01-01", "2007-01-01", dtype="datetime64[D]")


@dataclass
class Rows:
    """An invented record as rows, before it goes to any door."""

    time: np.ndarray
    low: np.ndarray
    high: np.ndarray
    unit: str | None = "degC"
    latitude: float | None = 39.0
    names: tuple[str, str] = ("tasmin", "tasmax")
    more: dict[str, np.ndarray] = field(default_factory=dict)


def sound() -> Rows:
    rng = np.random.default_rng(4)
    middle = 15.0 - 8.0 * np.cos(2 * np.pi * (np.arange(DAYS.size) - 20) / 365.25) + rng.normal(0, 2, DAYS.size)
    half = rng.uniform(3.0, 7.0, DAYS.size)
    return Rows(DAYS.astype("datetime64[ns]"), (middle - half).round(2), (middle + half).round(2))


def picked(rows: Rows, where: np.ndarray) -> Rows:
    more = {k: v[where] for k, v in rows.more.items()}
    return replace(rows, time=rows.time[where], low=rows.low[where], high=rows.high[where], more=more)


def put(rows: Rows, at, low=None, high=None) -> Rows:
    a, b = rows.low.copy(), rows.high.copy()
    if low is not None:
        a[at] = low
    if high is not None:
        b[at] = high
    return replace(rows, low=a, high=b)


def in_unit(rows: Rows, unit: str, factor: float, offset: float) -> Rows:
    return replace(rows, low=rows.low * factor + offset, high=rows.high * factor + offset, unit=unit)


N = DAYS.size
MONTH = DAYS.astype("datetime64[M]").astype(int) % 12
SHUFFLED = np.random.default_rng(1).permutation(N)
NOW = np.arange(N)

SAME = {  # damage that can be read rightly: the answer is that of the sound record
    "sound": lambda r: r,
    "in kelvin": lambda r: in_unit(r, "K", 1.0, 273.15),
    "in Fahrenheit": lambda r: in_unit(r, "degF", 1.8, 32.0),
    "reversed": lambda r: picked(r, NOW[::-1]),
    "shuffled": lambda r: picked(r, SHUFFLED),
    "stamps at noon": lambda r: replace(r, time=r.time + np.timedelta64(12, "h")),
    "other names": lambda r: replace(r, names=("tmin", "tmax")),
    "rain beside it": lambda r: replace(r, more={"pr": np.zeros(N)}),
}
ALIKE = {  # read, with days missing: the same days and values by every door
    "thirty days cut out": lambda r: picked(r, (NOW < 500) | (NOW >= 530)),
    "the warm half of each year": lambda r: picked(r, (MONTH >= 3) & (MONTH < 9)),
    "a minimum above its maximum": lambda r: put(r, 700, low=40.0),
    "three values that cannot be": lambda r: put(r, [10, 400, 900], high=[150.0, 99.0, 1000.0]),
    "an infinite value": lambda r: put(r, 300, high=math.inf),
    "a day without a minimum": lambda r: put(r, 77, low=np.nan),
    "two years without a maximum": lambda r: put(r, slice(200, 930), high=np.nan),
}
REFUSED = {  # by a typed error, with these words
    "no unit": (lambda r: replace(r, unit=None), "unit"),
    "a unit that is none": (lambda r: replace(r, unit="furlong"), "unit"),
    "kelvin called degrees": (lambda r: replace(in_unit(r, "K", 1.0, 273.15), unit="degC"), "outside"),
    "degrees called kelvin": (lambda r: replace(r, unit="K"), "outside"),
    "columns swapped": (lambda r: replace(r, low=r.high, high=r.low), "minimum above the maximum"),
    "a day twice": (lambda r: picked(r, np.insert(NOW, 40, 39)), "twice"),
    "every day twice": (lambda r: picked(r, np.repeat(NOW, 2)), "twice|time steps"),
    "a tenth of all at 999": (lambda r: put(r, slice(0, N, 10), high=998.0), "outside"),
    "no latitude": (lambda r: replace(r, latitude=None), "latitude"),
    "a latitude off the globe": (lambda r: replace(r, latitude=97.0), "latitude"),
    "the other hemisphere": (lambda r: replace(r, latitude=-39.0), "other hemisphere"),
    "steps of six hours": (
        lambda r: replace(r, time=r.time[0] + np.arange(N) * np.timedelta64(6, "h")),
        "time steps|twice",
    ),
    "steps of a month": (
        lambda r: picked(replace(r, time=(np.datetime64("1950-01") + NOW.astype("m8[M]")).astype("M8[ns]")), NOW < 400),
        "time steps|judged|missing|too short",
    ),
    "a date missing": (
        lambda r: replace(r, time=np.where(NOW == 9, np.datetime64("NaT"), r.time)),
        "time stamp is missing|no date|date",
    ),
    "no maximum": (lambda r: replace(r, names=("tasmin", "something else")), "tasmax"),
    "two minima": (
        lambda r: replace(r, more={"tmin": r.low + 1.0, "tn": r.low}, names=("mint", "tasmax")),
        "seem to hold",
    ),
    "no day": (lambda r: picked(r, NOW < 0), "no days|no rows|empty|no time|no value|time"),
    "nothing known": (
        lambda r: put(r, slice(None), low=np.nan, high=np.nan),
        "no value|no day|judged|minimum and a maximum",
    ),
    "no minimum known": (lambda r: put(r, slice(None), low=np.nan), "no day|judged|minimum and a maximum"),
    "the year 1500": (
        lambda r: replace(r, time=(DAYS - np.timedelta64(183_000, "D")).astype("M8[s]")),
        "1678|years|time range",
    ),
    "ten days": (lambda r: picked(r, NOW < 10), "10 days of record"),
}


def as_csv(rows: Rows, folder):
    lines = [] if rows.latitude is None else [f"# latitude: {rows.latitude}"]
    lines += [] if rows.unit is None else [f"# temperature_unit: {rows.unit}"]
    lines.append(",".join(["date", *rows.names, *rows.more]))
    columns = [rows.low, rows.high, *rows.more.values()]
    noon = bool((rows.time.astype("datetime64[D]") != rows.time).any())
    for k, t in enumerate(rows.time):
        stamp = "" if np.isnat(t) else str(t.astype("datetime64[m]" if noon else "datetime64[D]"))
        lines.append(",".join([stamp, *("" if np.isnan(c[k]) else f"{c[k]:.6f}" for c in columns)]))
    path = folder / "days.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return str(path)


def as_dataset(rows: Rows) -> xr.Dataset:
    unit = {} if rows.unit is None else {"units": rows.unit}
    data = {n: ("time", v, dict(unit)) for n, v in zip(rows.names, (rows.low, rows.high), strict=True)}
    data |= {n: ("time", v, {"units": "mm"} if n == "pr" else dict(unit)) for n, v in rows.more.items()}
    coords = {"time": rows.time}
    if rows.latitude is not None:
        coords["latitude"] = rows.latitude
    return xr.Dataset(data, coords)


def as_netcdf(rows: Rows, folder):
    path = folder / "days.nc"
    as_dataset(rows).to_netcdf(path, engine="scipy")
    return str(path)


def as_frame(rows: Rows) -> pd.DataFrame:
    frame = pd.DataFrame(
        dict(zip(rows.names, (rows.low, rows.high), strict=True)) | rows.more, index=pd.Index(rows.time, name="time")
    )
    frame.attrs = {"temperature_unit": rows.unit, "latitude": rows.latitude}
    return frame


DOORS = {
    "csv": as_csv,
    "netcdf": as_netcdf,
    "dataset": lambda rows, folder: as_dataset(rows),
    "frame": lambda rows, folder: as_frame(rows),
}
NO_SUCH_FILE = {("netcdf", "a date missing"), ("netcdf", "no day")}  # a NetCDF file cannot be written so


def days_read(given):
    _, record = open_record(given)
    return record.time, record["tasmin"], record["tasmax"]


def windows(given):
    chart = sowing_chart(given, "radish")
    return [(s.way, s.possible) for line in chart.crops for s in line.starts]


@pytest.mark.parametrize("door", DOORS)
@pytest.mark.parametrize("damage", [*SAME, *ALIKE])
def test_what_can_be_read_rightly_is(tmp_path, door, damage):
    rows = ({**SAME, **ALIKE})[damage](sound())
    time, low, high = days_read(DOORS[door](rows, tmp_path))
    assert (np.diff(time) == np.timedelta64(1, "D")).all()
    reference = sound() if damage in SAME else None
    if reference is not None:
        np.testing.assert_array_equal(time.astype("M8[D]"), DAYS)
        np.testing.assert_allclose(low, reference.low, atol=2e-4)
        np.testing.assert_allclose(high, reference.high, atol=2e-4)
    else:  # what is read by this door is what is read by that of tables
        (tmp_path / "other").mkdir()
        for mine, other in zip((time, low, high), days_read(as_csv(rows, tmp_path / "other")), strict=True):
            np.testing.assert_array_equal(mine, other)
        assert np.isnan(low).sum() + np.isnan(high).sum() > 0 or time.size == N


@pytest.mark.parametrize("door", DOORS)
@pytest.mark.parametrize("damage", REFUSED)
def test_what_cannot_be_read_is_refused_by_every_door(tmp_path, door, damage):
    if (door, damage) in NO_SUCH_FILE:
        pytest.skip("no such NetCDF file can be written")
    make, words = REFUSED[damage]
    with pytest.raises(SowcalError, match=words) as told:
        sowing_chart(DOORS[door](make(sound()), tmp_path), "radish")
    assert "\n" not in told.value.message.split("such as my-plot.toml")[0]


@pytest.mark.parametrize("damage", ["in kelvin", "reversed", "stamps at noon"])
def test_the_answer_is_that_of_the_sound_record(tmp_path, damage):
    expected = windows(as_csv(sound(), tmp_path))
    for door in DOORS.values():
        assert windows(door(SAME[damage](sound()), tmp_path)) == expected


@pytest.mark.parametrize(
    "given", [None, math.nan, 3, [], {}, np.zeros(3), ("north", 3), (1, 2, 3), pd.Series([1.0]), xr.DataArray([1.0])]
)
def test_what_is_no_site_is_refused(given):
    with pytest.raises(SowcalError, match=r"is no site|no pair|no time axis|lies outside"):
        sowing_chart(given, "radish")


def test_dates_with_a_time_zone_are_refused():
    frame = as_frame(sound())
    frame.index = frame.index.tz_localize("Europe/Lisbon")
    with pytest.raises(SowcalError, match="time zone Europe/Lisbon"):
        sowing_chart(frame, "radish")


def test_words_among_the_numbers_are_refused():
    frame = as_frame(sound()).astype(object)
    frame.iloc[5, 0] = "warm"
    with pytest.raises(SowcalError, match=r"'warm' in row 5 is no number"):
        sowing_chart(frame, "radish")
    dataset = as_dataset(sound())
    words = np.where(NOW == 5, "warm", dataset["tasmin"].astype(str))
    dataset["tasmin"] = ("time", words, {"units": "degC"})
    with pytest.raises(SowcalError, match="cannot be read as daily weather"):
        sowing_chart(dataset, "radish")


def test_several_sites_in_one_dataset_are_refused_and_one_is_read():
    data = as_dataset(sound())
    one = data.expand_dims(site=1).transpose("time", "site")
    assert windows(one) == windows(data)
    with pytest.raises(SowcalError, match="dimensions"):
        sowing_chart(xr.concat([data, data], "site"), "radish")


def test_a_frame_takes_its_place_and_unit_as_arguments_too():
    rows = sound()
    frame = pd.DataFrame({"day": rows.time, "Tmin (°F)": rows.low * 1.8 + 32, "Tmax (°F)": rows.high * 1.8 + 32})
    record = record_of_frame(frame, latitude=39.0, title="an invented plot", columns={"date": "day"})
    np.testing.assert_allclose(record["tasmin"], rows.low, atol=1e-3)
    with pytest.raises(SowcalError, match=r"says degF but"):
        record_of_frame(frame, latitude=39.0, temperature_unit="K", columns={"date": "day"})


@pytest.mark.parametrize("crops", [7, [None], ["radish", 3], [""], None])
def test_what_names_no_crop_is_refused(crops):
    with pytest.raises(SowcalError, match="names no crop"):
        sowing_chart("sallowdene", crops)


def test_one_crop_needs_no_list():
    one, listed = (sowing_chart("sallowdene", c) for c in ("broad bean", ["broad bean"]))
    assert [line.crop for line in one.crops] == [line.crop for line in listed.crops] == ["broad bean"]


@pytest.mark.parametrize("harm", ["impossible", "missing unsaid", "origins of another kind"])
def test_a_record_that_was_changed_since_is_checked_anew(harm):
    """The form that this package gives to a record is no promise that nobody wrote into it."""
    low = np.linspace(2.0, 12.0, DAYS.size)
    made = daily_record(DAYS, {"tasmin": low, "tasmax": low + 8.0, "pr": np.ones(DAYS.size)}, latitude=39.0)
    data = dataset_of(made)
    if harm == "impossible":
        data["pr"][5] = -1e30
    elif harm == "missing unsaid":
        data["pr"][5] = np.nan
    else:
        data["pr_origin"] = data["pr_origin"].astype(float)
        data["pr"][5] = np.nan
    record = as_record(data)
    assert np.isnan(record["pr"][5]) == (record.origin["pr"][5] == MISSING)
    assert (np.isnan(record["pr"]) | (record["pr"] >= 0.0)).all()
    assert record["tasmin"][5] == pytest.approx(low[5])


def test_a_cell_of_many_letters_is_told_in_short():
    frame = pd.DataFrame({"tmin": ["9" * 5000], "tmax": [9.0]}, index=pd.to_datetime(["2003-01-01"]))
    with pytest.raises(SowcalError, match="in row 0 is no number") as told:
        record_of_frame(frame, latitude=39.0, temperature_unit="degC")
    assert len(str(told.value)) < 300
