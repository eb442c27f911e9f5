"""Tables of text in the dialects that people write."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sowcal.errors import InputError
from sowcal.files import MOST_DAYS
from sowcal.weather.csv_file import read_csv

sys.path.insert(0, str(Path(__file__).parent))
from records_alike import assert_alike

PLAIN = "date,tmin,tmax,precip\n2004-02-27,1.5,9.0,0.0\n2004-02-28,2.0,10.5,3.2\n2004-02-29,-0.5,8.0,\n"
LOW, HIGH, RAIN = [1.5, 2.0, -0.5], [9.0, 10.5, 8.0], [0.0, 3.2, np.nan]


def written(tmp_path, text, name="record.csv", encoding="utf-8"):
    path = tmp_path / name
    path.write_bytes(text.encode(encoding))
    return path


def check_plain(ds):
    np.testing.assert_allclose(ds["tasmin"], LOW, atol=1e-9)
    np.testing.assert_allclose(ds["tasmax"], HIGH, atol=1e-9)
    np.testing.assert_allclose(ds["pr"], RAIN, atol=1e-9)
    assert str(ds.time[-1])[:10] == "2004-02-29"


DIALECTS = {
    "plain": PLAIN,
    "semicolon and decimal comma": (
        "Date;Tmin;Tmax;Rain\n27/02/2004;1,5;9,0;0,0\n28/02/2004;2,0;10,5;3,2\n29/02/2004;-0,5;8,0;\n"
    ),
    "tab": PLAIN.replace(",", "\t"),
    "blanks": PLAIN.replace("8.0,", "8.0,NA").replace(",", "   "),
    "byte order mark": "\ufeff" + PLAIN,
    "windows lines": PLAIN.replace("\n", "\r\n"),
    "comments and blank lines": ("# a record\n\n" + PLAIN.replace("2004-02-28", "# broken gauge\n\n2004-02-28")),
    "month first": (
        "day,minimum temperature,maximum temperature,rainfall\n"
        "2/27/2004,1.5,9,0\n2/28/2004,2,10.5,3.2\n2/29/2004,-.5,8,NA\n"
    ),
    "day first with points": (
        "datum;T min;T max;PRCP\n27.02.2004;1.5;9.0;0\n28.02.2004;2.0;10.5;3.2\n29.02.2004;-0.5;8;-9999\n"
    ),
    "year month day": (
        "year,month,day,min temp,max temp,pr\n2004,2,27,1.5,9,0\n2004,2,28,2,10.5,3.2\n2004,2,29,-0.5,8,-99.9\n"
    ),
    "compact dates": PLAIN.replace("-02-", "02"),
    "time of day": re.sub(r"(?<=-\d\d-\d\d),", "T00:00:00,", PLAIN),
    "quotes": re.sub(r"[^,\n]+", r'"\g<0>"', PLAIN),
    "rows in any order": "\n".join([PLAIN.split("\n")[i] for i in (0, 3, 1, 2)]) + "\n",
    "other columns": (
        "station,date,tmax,tmin,precip,remark\n"
        "x,2004-02-27,9,1.5,0,\nx,2004-02-28,10.5,2,3.2,hail\nx,2004-02-29,8,-0.5,,\n"
    ),
    "empty columns to the right": PLAIN.replace("\n2", ",,\n2").replace("precip,,", "precip"),
    "utf-16": PLAIN,
}


@pytest.mark.parametrize("name", DIALECTS)
def test_dialects_give_one_record(tmp_path, name):
    path = written(tmp_path, DIALECTS[name], encoding="utf-16" if name == "utf-16" else "utf-8")
    check_plain(read_csv(path, latitude=40.0, temperature_unit="degC"))


def in_unit(unit, header="tmin_{0},tmax_{0}"):
    to = {"degC": lambda t: t, "degF": lambda t: t * 9 / 5 + 32, "K": lambda t: t + 273.15}[unit]
    rows = [f"2004-02-{27 + i},{to(LOW[i])!r},{to(HIGH[i])!r},{RAIN[i]}" for i in range(3)]
    return "\n".join([f"date,{header.format(unit)},precip_mm", *rows]) + "\n"


@pytest.mark.parametrize(
    "header", ["tmin_{0},tmax_{0}", "Tmin ({0}),Tmax ({0})", "Minimum temperature [{0}],T_max {0}"]
)
@pytest.mark.parametrize("unit", ["degF", "K"])
def test_units_in_headers_give_equal_records(tmp_path, unit, header):
    celsius = read_csv(written(tmp_path, in_unit("degC")), latitude=40.0)
    other = read_csv(written(tmp_path, in_unit(unit, header)), latitude=40.0)
    assert_alike(celsius, other)


@pytest.mark.parametrize("unit", ["degF", "K", "degC"])
def test_units_as_argument_give_equal_records(tmp_path, unit):
    text = in_unit(unit, "tmin,tmax")
    celsius = read_csv(written(tmp_path, in_unit("degC")), latitude=40.0)
    assert_alike(celsius, read_csv(written(tmp_path, text), latitude=40.0, temperature_unit=unit))


@pytest.mark.parametrize("sign", ["°F", "ºF", "deg F", "Fahrenheit", "F"])
def test_fahrenheit_however_written(tmp_path, sign):
    # 32 and 212 degF are the fixed points of water; 50 degF is 10 degC
    text = f"date,Tmin ({sign}),Tmax ({sign})\n2004-02-27,32,50\n"
    for encoding in ("utf-8", "cp1252"):
        ds = read_csv(written(tmp_path, text, encoding=encoding))
        assert (ds["tasmin"].item(), ds["tasmax"].item()) == (0.0, 10.0)


def test_rain_in_undeclared_unit_beside_fahrenheit_is_told(tmp_path):
    ds = read_csv(written(tmp_path, "date,tmin_degF,tmax_degF,rain\n2004-02-27,32,50,1\n"))
    assert ds["pr"].item() == 1.0
    assert "precip_in" in ds.notes[0].what
    ds = read_csv(written(tmp_path, "date,tmin_degF,tmax_degF,rain_in\n2004-02-27,32,50,1\n"))
    assert ds["pr"].item() == 25.4
    assert [n.to_json() for n in ds.notes] == []


def test_a_unit_that_is_not_understood_is_told(tmp_path):
    ds = read_csv(written(tmp_path, "date,tmin_degC,tmax_degC,rain (points)\n2004-02-27,3,5,1\n"))
    assert "not understood" in ds.notes[0].what
    with pytest.raises(InputError, match="temperature_unit"):
        read_csv(written(tmp_path, "date,tmin (Reaumur),tmax (Reaumur)\n2004-02-27,3,5\n"))


def test_other_variables_and_their_units(tmp_path):
    head = "date,tmin_c,tmax_c,rh_mean,wind_ms,srad_mj\n2004-02-27,1,9,70,2.5,11\n"
    ds = read_csv(written(tmp_path, head))
    assert (ds["hurs"].item(), ds["sfcWind"].item(), ds["rsds"].item()) == (70.0, 2.5, 11.0)
    ds = read_csv(written(tmp_path, head.replace("wind_ms", "wind (km/h)").replace("srad_mj", "solar (W/m2)")))
    assert ds["sfcWind"].item() == pytest.approx(2.5 / 3.6, abs=1e-4)
    assert ds["rsds"].item() == pytest.approx(11 * 0.0864, abs=1e-4)


def test_columns_named_by_the_grower(tmp_path):
    text = "when,cold,warm\n2004-02-27,1.5,9\n"
    columns = {"date": "when", "tasmin": "cold", "tasmax": "warm"}
    ds = read_csv(written(tmp_path, text), columns=columns, temperature_unit="degC")
    assert ds["tasmin"].item() == 1.5
    with pytest.raises(InputError, match="did you mean 'cold'"):
        read_csv(written(tmp_path, text), columns={**columns, "tasmin": "colt"}, temperature_unit="degC")
    with pytest.raises(InputError, match="did you mean 'tasmin'"):
        read_csv(written(tmp_path, text), columns={**columns, "tasmim": "cold"}, temperature_unit="degC")


def test_comment_lines_say_where_it_is(tmp_path):
    places = "# latitude: -36.3\n# longitude: 12.5 E\n# elevation: 40 m\n"
    head = "# name: Nowhere\n" + places + "# temperature_unit: degC\n"
    ds = read_csv(written(tmp_path, head + PLAIN))
    assert [ds.latitude, ds.longitude, ds.elevation] == [-36.3, 12.5, 40.0]
    assert ds.title == "Nowhere"
    check_plain(ds)


HEAD = "date,tmin_c,tmax_c\n"
# text of the file, words of the message, line, column
BROKEN = {
    "unit not stated": (PLAIN, "temperature_unit", None, "tmin"),
    "no number": (PLAIN.replace("10.5", "ten").replace("tmin,tmax", "tmin_c,tmax_c"), "'ten'", 3, "tmax_c"),
    "a date twice": (HEAD + "2004-02-27,1,9\n\n2004-02-27,1,9\n", "2004-02-27 stands there twice", 4, "date"),
    "no such day": (HEAD + "2004-02-27,1,9\n2004-02-30,1,9\n", "2004-02-30", 3, "date"),
    "no leap day": (HEAD + "2003-02-29,1,9\n", "2003-02-29", 2, "date"),
    "order not proved": (HEAD + "01/02/2004,1,9\n02/02/2004,1,9\n", "date_format", 2, "date"),
    "two orders": (HEAD + "13/02/2004,1,9\n02/14/2004,1,9\n", "another order", 3, "date"),
    "short years": (HEAD + "13/02/04,1,9\n", "date_format", 2, "date"),
    "no date": (HEAD + "2004-02-27,1,9\nMean,1,9\n", "'Mean'", 3, "date"),
    "empty date": (HEAD + "2004-02-27,1,9\n,1,9\n", "missing", 3, "date"),
    "short row": (HEAD + "2004-02-27,1,9\n2004-02-28,1\n", "2 cells", 3, None),
    "long row": (HEAD + "# c\n2004-02-27,1,9,4\n", "4 cells", 3, None),
    "no maximum": ("date,tmin_c\n2004-02-27,1\n", "tasmax", None, None),
    "two maxima": ("date,tmin_c,tmax_c,high_c\n2004-02-27,1,9,9\n", "two columns", None, None),
    "no separator": ("date\n2004-02-27\n", "separator", 1, None),
    "empty": ("", "no header", None, None),
    "header only": (HEAD + "", "no rows", 1, None),
    "mixed decimals": (
        "date;tmin_c;tmax_c\n2004-02-27;1,5;9,0\n2004-02-28;1.5;9,0\n",
        "decimal",
        3,
        "tmin_c",
    ),
    "half a day": (
        "year,month,day,tmin_c,tmax_c\n2004,2,27,1,9\n2004,2,27.5,1,9\n",
        "whole numbers",
        3,
        None,
    ),
    "too many columns": (HEAD.replace("date", "date" + ",x" * 3000) + "2004-02-27\n", "no header", 1, None),
    "a header of a page": (HEAD.replace("date", "date" * 300) + "2004-02-27,1,9\n", "no header", 1, None),
}


@pytest.mark.parametrize("name", BROKEN)
def test_mistakes_are_named_with_their_place(tmp_path, name):
    text, words, line, column = BROKEN[name]
    path = written(tmp_path, text)
    with pytest.raises(InputError, match=words) as caught:
        read_csv(path)
    assert caught.value.where == str(path)
    assert (caught.value.line, caught.value.column) == (line, column)


def test_contradicting_and_unknown_units(tmp_path):
    path = written(tmp_path, in_unit("degF"))
    with pytest.raises(InputError, match="mend one"):
        read_csv(path, temperature_unit="degC")
    with pytest.raises(InputError, match="'degC', 'degF' or 'K'"):
        read_csv(written(tmp_path, PLAIN), temperature_unit="Reaumur")


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(InputError, match=r"none\.csv"):
        read_csv(tmp_path / "none.csv")


@pytest.mark.parametrize(
    ("date_format", "day"),
    [
        ("d/m/y", "2004-02-01"),
        ("%d/%m/%Y", "2004-02-01"),
        ("m/d/y", "2004-01-02"),
        ("MM/DD/YYYY", "2004-01-02"),
    ],
)
def test_date_format_decides_the_order(tmp_path, date_format, day):
    path = written(tmp_path, "date,tmin_c,tmax_c\n01/02/2004,1,9\n")
    assert str(read_csv(path, date_format=date_format).time[0])[:10] == day


def test_date_format_that_does_not_fit(tmp_path):
    path = written(tmp_path, "date,tmin_c,tmax_c\n2004-02-01,1,9\n01/02/2004,1,9\n")
    with pytest.raises(InputError, match="01/02/2004") as caught:
        read_csv(path, date_format="%Y-%m-%d")
    assert caught.value.line == 3


def test_more_rows_than_days_are_refused(tmp_path):
    with pytest.raises(InputError, match="400 years of one row a day"):
        read_csv(written(tmp_path, HEAD + "2004-02-27,1,9\n" * (MOST_DAYS + 1)))


@pytest.mark.parametrize("separator", [";", "semicolon", "tab", "whitespace", "|"])
def test_the_separator_may_be_named(tmp_path, separator):
    sign = {"semicolon": ";", "tab": "\t", "whitespace": " "}.get(separator, separator)
    path = written(tmp_path, PLAIN.replace("8.0,", "8.0,NA").replace(",", sign))
    check_plain(read_csv(path, latitude=40.0, temperature_unit="degC", separator=separator))
    with pytest.raises(InputError, match="separator"):
        read_csv(path, separator="comma")
    with pytest.raises(InputError, match="must be one character"):
        read_csv(path, separator=";;")


def test_a_date_pattern_that_is_none(tmp_path):
    path = written(tmp_path, "date,tmin_c,tmax_c\n2004-02-01,1,9\n")
    for pattern, words in (("%Y-%m-%Q", "not a pattern"), ("d/m", "not understood"), ("year", "not understood")):
        with pytest.raises(InputError, match=words):
            read_csv(path, date_format=pattern)


def test_impossible_values_are_told_and_missing(tmp_path):
    rows = [f"2004-03-{d:02d},5,15,0" for d in range(1, 29)]
    rows[4] = "2004-03-05,18,15,0"
    rows[9] = "2004-03-10,5,151,0"
    rows[14] = "2004-03-15,5,15,-3"
    ds = read_csv(written(tmp_path, "date,tmin_c,tmax_c,rain\n" + "\n".join(rows) + "\n"))
    problems = [n.to_json() for n in ds.notes]
    assert [(p["line"], p["date"], p["column"], p["value"]) for p in problems] == [
        (6, "2004-03-05", "tmin_c", 18.0),
        (11, "2004-03-10", "tmax_c", 151.0),
        (16, "2004-03-15", "rain", -3.0),
    ]
    assert np.isnan(ds["tasmin"][[4]]).all()
    assert np.isnan(ds["tasmax"][[4, 9]]).all()
    assert np.isnan(ds["pr"][14])
    assert int(np.isnan(ds["tasmax"]).sum()) == 2


def test_a_record_in_the_wrong_unit_or_column_is_refused(tmp_path):
    swapped = "date,tmax_c,tmin_c\n" + "\n".join(f"2004-03-{d:02d},5,15" for d in range(1, 29)) + "\n"
    with pytest.raises(InputError, match="28 of 28 days have a minimum above the maximum") as caught:
        read_csv(written(tmp_path, swapped))
    assert caught.value.line == 2
    kelvin = "date,tmin_c,tmax_c\n" + "\n".join(f"2004-03-{d:02d},278,290" for d in range(1, 29)) + "\n"
    with pytest.raises(InputError, match="check the unit"):
        read_csv(written(tmp_path, kelvin))


@st.composite
def records(draw):
    """A record and a dialect to write it in."""
    first = draw(st.dates(min_value=np.datetime64("1900-01-01").item(), max_value=np.datetime64("2050-01-01").item()))
    count = draw(st.integers(min_value=32, max_value=60))  # long enough to prove the order of day and month
    tenths = st.one_of(st.none(), st.integers(-400, 300))
    low = draw(st.lists(tenths, min_size=count, max_size=count))
    span = draw(st.lists(st.integers(0, 250), min_size=count, max_size=count))
    rain = draw(st.lists(st.one_of(st.none(), st.integers(0, 900)), min_size=count, max_size=count))
    return {
        "time": np.datetime64(first, "D") + np.arange(count),
        "low": np.array([np.nan if v is None else v / 10 for v in low]),
        "high": np.array([np.nan if v is None else (v + s) / 10 for v, s in zip(low, span, strict=True)]),
        "rain": np.array([np.nan if v is None else v / 10 for v in rain]),
        "separator": draw(st.sampled_from([",", ";", "\t"])),
        "comma": draw(st.booleans()),
        "date": draw(st.sampled_from(["%Y-%m-%d", "%d/%m/%Y", "%m/%d/%Y", "%Y%m%d", "%d.%m.%Y"])),
        "missing": draw(st.sampled_from(["", "NA", "-9999", "-99.9", "NaN"])),
        "quotes": draw(st.booleans()),
        "end": draw(st.sampled_from(["\n", "\r\n"])),
        "unit": draw(st.sampled_from(["degC", "degF", "K"])),
        "mark": draw(st.sampled_from(["", "\ufeff", "# my own gauge, 1; 2\n"])),
    }


@given(records())
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_round_trip_in_any_dialect(tmp_path, record):
    r = record
    to = {"degC": lambda t: t, "degF": lambda t: t * 9 / 5 + 32, "K": lambda t: t + 273.15}[r["unit"]]

    def cell(value):
        text = r["missing"] if np.isnan(value) else f"{value:.3f}"
        return text.replace(".", ",") if r["comma"] and r["separator"] != "," and not np.isnan(value) else text

    def row(cells):
        return r["separator"].join(f'"{c}"' if r["quotes"] else c for c in cells)

    lines = [row(["date", f"tmin ({r['unit']})", f"tmax ({r['unit']})", "rain_mm"])]
    for i, day in enumerate(r["time"]):
        lines.append(
            row(
                [
                    day.item().strftime(r["date"]),
                    cell(to(r["low"][i])),
                    cell(to(r["high"][i])),
                    cell(r["rain"][i]),
                ]
            )
        )
    path = tmp_path / "any.csv"
    path.write_bytes((r["mark"] + r["end"].join(lines) + r["end"]).encode("utf-8"))
    ds = read_csv(path, latitude=40.0)
    np.testing.assert_array_equal(ds.time, r["time"])
    for name, wanted in (("tasmin", r["low"]), ("tasmax", r["high"]), ("pr", r["rain"])):
        np.testing.assert_array_equal(ds[name], wanted)
    assert [n.to_json() for n in ds.notes] == []
