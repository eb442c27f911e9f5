"""The fault list: damaged or odd inputs, each mended and told or refused in a sentence, never silently different.

Every fault is made here from a sound record whose true values are known. Where a reader accepts the file, each
value is the true one or missing, and where any is missing or was moved, the record or its report says so.
"""

from __future__ import annotations

import gzip
import json
import sys
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from sowcal.errors import InputError
from sowcal.weather.generator import generate_daily
from sowcal.weather.open_site import open_weather, read_record
from sowcal.weather.quality import quality_report
from sowcal.weather.record import MISSING

sys.path.insert(0, str(Path(__file__).parent))
import other_formats as write

NORMALS = {"tasmin": [4.0] * 12, "tasmax": [16.0] * 12, "pr": [40.0] * 12, "wet_days": [8] * 12}
TRUE = generate_daily(NORMALS, years=2, seed=8, latitude=40.0, longitude=-3.0, first_year=2001)
DAYS = [str(d) for d in write.days_of(TRUE)]
LOW, HIGH, RAIN = (TRUE[v] for v in ("tasmin", "tasmax", "pr"))


def table(header="date,tmin_degC,tmax_degC,rain_mm", cell="{:.1f}", sep=",", change=lambda rows: rows):
    rows = [[d, *(cell.format(v) for v in (a, b, c))] for d, a, b, c in zip(DAYS, LOW, HIGH, RAIN, strict=True)]
    return "# latitude: 40.0\n" + header + "\n" + "\n".join(sep.join(r) for r in change(rows)) + "\n"


def row(k, **cells):
    """Change cells (0 the date, 1 the minimum, 2 the maximum, 3 the rain) of row k."""

    def change(rows):
        for at, text in cells.items():
            rows[k][int(at[1:])] = text
        return rows

    return change


def without(first, last):
    return lambda rows: rows[:first] + rows[last:]


def with_copy(k):
    return lambda rows: [*rows[: k + 1], list(rows[k]), *rows[k + 1 :]]


def dates(make):
    return lambda rows: [[make(r[0]), *r[1:]] for r in rows]


def day_first(d):
    return f"{d[8:]}/{d[5:7]}/{d[:4]}"


def month_first(d):
    return f"{d[5:7]}/{d[8:]}/{d[:4]}"


def every(column, make):
    return lambda rows: [[*r[:column], make(r[column]), *r[column + 1 :]] for r in rows]


def swapped(first, last):
    return lambda rows: [[r[0], r[2], r[1], r[3]] if first <= i < last else r for i, r in enumerate(rows)]


PLAIN = table()
OK, REFUSED = "read", "refused"
# name: (text or bytes, what must come of it, words of the refusal or kind of the problem told)
TEXTS = {
    "sound": (PLAIN, OK, None),
    "byte order mark": ("\ufeff" + PLAIN, OK, None),
    "utf-16": (PLAIN.encode("utf-16"), OK, None),
    "latin letters": (PLAIN.replace("# lat", "# name: Côté\n# lat").encode("cp1252"), OK, None),
    "windows line ends": (PLAIN.replace("\n", "\r\n"), OK, None),
    "old mac line ends": (PLAIN.replace("\n", "\r"), OK, None),
    "blank lines": (PLAIN.replace("\n2001-02", "\n\n2001-02"), OK, None),
    "remarks between rows": (PLAIN.replace("\n2002-01-01", "\n# new gauge\n2002-01-01"), OK, None),
    "no last line end": (PLAIN.rstrip("\n"), OK, None),
    "packed": (gzip.compress(PLAIN.encode()), OK, None),
    "packed and cut": (gzip.compress(PLAIN.encode())[:-900], REFUSED, "damaged or cut short"),
    "packed rubbish": (b"\x1f\x8b" + b"rubbish" * 30, REFUSED, "damaged"),
    "semicolons": (table(sep=";", header="date;tmin_degC;tmax_degC;rain_mm"), OK, None),
    "tabs": (table(sep="\t", header="date\ttmin_degC\ttmax_degC\train_mm"), OK, None),
    "decimal commas": (table(sep=";", header="date;tmin_degC;tmax_degC;rain_mm").replace(".", ",")
                       .replace("40,0", "40.0"), OK, None),
    "decimal commas between commas": (table(change=every(1, lambda v: v.replace(".", ","))), REFUSED, "cells"),
    "two decimal signs": (table(sep=";", header="date;tmin_degC;tmax_degC;rain_mm",
                                change=every(1, lambda v: v.replace(".", ","))), REFUSED, "decimal sign"),
    "quoted": (table(cell='"{:.1f}"'), OK, None),
    "blanks around": (table(cell=" {:.1f} "), OK, None),
    "day first": (table(change=dates(day_first)), OK, None),
    "month first": (table(change=dates(month_first)), OK, None),
    "day order not proved": (table(change=lambda r: [[day_first(x[0]), *x[1:]] for x in r[:5]]), REFUSED, "proves"),
    "two orders of date": (table(change=lambda r: [[(day_first if i % 2 else month_first)(x[0]), *x[1:]]
                                                   for i, x in enumerate(r)]), REFUSED, "another order"),
    "years of two digits": (table(change=dates(lambda d: day_first(d)[:6] + d[2:4])), REFUSED, "date_format"),
    "dates without signs": (table(change=dates(lambda d: d.replace("-", ""))), OK, None),
    "dates with hours": (table(change=dates(lambda d: d + " 00:00:00")), OK, None),
    "30 February": (table(change=row(40, c0="2001-02-30")), REFUSED, "no day 2001-02-30"),
    "29 February of a common year": (table(change=row(40, c0="2001-02-29")), REFUSED, "no day 2001-02-29"),
    "a date in words": (table(change=row(40, c0="tenth of Feb")), REFUSED, "not a date"),
    "a date missing": (table(change=row(40, c0="")), REFUSED, "date"),
    "a year of 1200": (table(change=row(0, c0="1200-01-01")), REFUSED, "1200"),
    "a year of 2900": (table(change=row(729, c0="2900-12-31")), REFUSED, "2900"),
    "a day twice": (table(change=with_copy(50)), REFUSED, "twice"),
    "out of order": (table(change=lambda r: r[100:] + r[:100]), OK, None),
    "days left out": (table(change=without(100, 130)), OK, "gap"),
    "an empty cell": (table(change=row(40, c1="")), OK, "gap"),
    "-9999": (table(change=row(40, c1="-9999")), OK, "gap"),
    "-9999.0": (table(change=row(40, c1="-9999.0")), OK, "gap"),
    "-99.9": (table(change=row(40, c2="-99.9")), OK, "gap"),
    "NA": (table(change=row(40, c2="NA")), OK, "gap"),
    "9999": (table(change=row(40, c2="9999")), OK, "out of range"),
    "999.9": (table(change=row(40, c1="999.9")), OK, "out of range"),
    "infinite": (table(change=row(40, c2="inf")), OK, "out of range"),
    "a word for a number": (table(change=row(40, c1="frost")), REFUSED, "'frost' is not a number"),
    "a trace of rain": (table(change=row(40, c3="T")), REFUSED, "'T' is not a number"),
    "a number with its unit": (table(change=row(40, c1="3.1C")), REFUSED, "not a number"),
    "a comma for a point once": (table(change=row(40, c1="3,1")), REFUSED, "cells"),
    "a lost point": (table(change=row(40, c2="161")), OK, "out of range"),
    "a lost sign of rain": (table(change=row(40, c3="-2.0")), OK, "out of range"),
    "minimum above maximum": (table(change=row(40, c1="40.0")), OK, "crossed"),
    "a week swapped": (table(change=swapped(100, 107)), OK, "swapped"),
    "columns swapped": (table(header="date,tmax_degC,tmin_degC,rain_mm"), REFUSED, "minimum above the maximum"),
    "no unit": (table(header="date,tmin,tmax,rain_mm"), REFUSED, "temperature_unit"),
    "two units": (table(header="date,tmin_degC,tmax_degC,rain_mm")
                  .replace("# lat", "# temperature_unit: degF\n# lat"), REFUSED, "says degF"),
    "Kelvin said to be Celsius": (table(change=lambda r: every(2, lambda v: f"{float(v) + 273.15:.2f}")(r)),
                                  REFUSED, "check the unit"),
    "tenths": (table(header="date,tmin_degC,tmax_degC,rain_mm",
                     change=lambda r: every(2, lambda v: str(round(float(v) * 10)))(r)), REFUSED, "check the unit"),
    "two minima": (table(header="date,tmin_degC,tmin_degC,rain_mm"), REFUSED, "two columns"),
    "two columns T": (table(header="date,T,T,rain_mm"), REFUSED, "no column is recognised"),
    "no maximum": (table(header="date,tmin_degC,other,rain_mm"), REFUSED, "no column is recognised as tasmax"),
    "no header": ("\n".join(PLAIN.splitlines()[2:]), REFUSED, "no column is recognised"),
    "a title above the header": ("Weather of my plot\n" + PLAIN, REFUSED, ""),
    "only a header": ("date,tmin_degC,tmax_degC\n", REFUSED, "no rows"),
    "empty": ("", REFUSED, "no header"),
    "blank": ("\n\n  \n", REFUSED, "no header"),
    "zeros": (b"\0" * 500, REFUSED, "no text"),
    "a picture": (b"\x89PNG\r\n\x1a\n" + b"\0\1\2" * 50, REFUSED, "no text"),
    "a spreadsheet": (b"PK\x03\x04" + b"\0" * 50, REFUSED, "not read"),
    "a page of the web": ("<!DOCTYPE html>\n<html><body>404</body></html>\n", REFUSED, ""),
    "a short row": (table(change=lambda r: [*r[:40], r[40][:2], *r[41:]]), REFUSED, "cells"),
    "a long row": (table(change=lambda r: [*r[:40], [*r[40], "1", "2"], *r[41:]]), REFUSED, "cells"),
    "cut within the last row": (PLAIN[:-12], REFUSED, "cells"),
    "a latitude in words": (PLAIN.replace("40.0", "forty", 1), REFUSED, "no number"),
    "a latitude off the globe": (PLAIN.replace("40.0", "140.0", 1), REFUSED, "outside -90 to 90"),
    "no latitude": (PLAIN.replace("# latitude: 40.0\n", ""), REFUSED, "latitude"),
}  # fmt: skip


def as_netcdf(path, change=lambda d: d):
    data = xr.Dataset(coords={"time": TRUE.time.astype("datetime64[ns]")})
    for name, unit in (("tasmin", "degC"), ("tasmax", "degC"), ("pr", "mm day-1")):
        data[name] = ("time", TRUE[name], {"units": unit})
    change(data.assign_coords(latitude=40.0)).to_netcdf(path, engine="scipy")
    return path.read_bytes()


def cut_dly(text):
    lines = text.splitlines()
    return "\n".join([*lines[:-1], lines[-1][:150]])


DLY, WIDE, LONG = write.dly(TRUE), write.ghcn_wide(TRUE), write.ghcn_long(TRUE)
EPW = write.epw(np.full((365, 24), 10.0))
OTHERS = {
    "dly sound": (DLY, OK, None),
    "dly cut": (cut_dly(DLY), REFUSED, "cut short"),
    "dly of two stations": (DLY + DLY.replace("XX000000001", "XX000000002"), REFUSED, "2 stations"),
    "dly twice": (DLY + DLY, REFUSED, "twice"),
    "dly with a letter in a value": (DLY[:22] + "x" + DLY[23:], REFUSED, ""),
    "dly flagged": (write.dly(TRUE, flags={("TMIN", "2001-03-03"): "X"}), OK, "out of range"),
    "dly without minima": ("\n".join(x for x in DLY.splitlines() if "TMIN" not in x), REFUSED, "no tasmin"),
    "ghcn sound": (WIDE, OK, None),
    "ghcn cut": (WIDE[:-60], REFUSED, "cut short"),
    "ghcn with decimals": (WIDE.replace('"   40"', '"4.0"').replace('"  160"', '"16.0"'), REFUSED, "tenths"),
    "ghcn rows sound": (LONG, OK, None),
    "ghcn rows cut": (LONG[:-12], REFUSED, "cut short"),
    "ghcn rows of two stations": (LONG + LONG.replace("XX000000001", "XX000000002"), REFUSED, "2 stations"),
    "ghcn rows with a bad date": (LONG.replace("20010205", "20010231"), REFUSED, "not a date"),
    "ecad of one element": (write.ecad(TRUE, "TX"), REFUSED, "TN"),
    "ecad cut": (write.ecad(TRUE, "TX")[:-9], REFUSED, "cut short"),
    "ecad without rows": ("\n".join(write.ecad(TRUE, "TX").splitlines()[:14]), REFUSED, "no rows"),
    "epw cut": (EPW[:-5000], REFUSED, ""),
    "epw of half a year": ("\n".join(EPW.splitlines()[:4000]), REFUSED, "whole year"),
    "epw with a word": (EPW.replace(",10.0,5.0,", ",warm,5.0,", 1), REFUSED, "'warm' is not a number"),
}  # fmt: skip
HOURS = np.arange(730) * np.timedelta64(3600 * 10**9, "ns")
NETCDF = {
    "sound": (lambda d: d, None, None),
    "cut": (lambda d: d, lambda b: b[: len(b) // 2], ""),
    "head only": (lambda d: d, lambda b: b[:60], ""),
    "no units": (lambda d: d.assign(tasmin=d["tasmin"].drop_attrs()), None, "no units"),
    "odd units": (lambda d: d.assign(pr=d["pr"].assign_attrs(units="buckets")), None, "'buckets'"),
    "Celsius said to be Kelvin": (lambda d: d.assign(tasmin=d["tasmin"].assign_attrs(units="K")), None,
                                  "check the unit"),
    "no maximum": (lambda d: d.drop_vars("tasmax"), None, "recognised as tasmax"),
    "monthly": (lambda d: d.isel(time=slice(None, None, 30)), None, "time steps"),
    "hourly": (lambda d: d.assign_coords(time=d["time"].values[0] + HOURS), None, "time steps"),
    "a day twice": (lambda d: xr.concat([d, d.isel(time=[5])], "time"), None, "twice"),
    "rubbish behind the mark": (lambda d: d, lambda b: b[:4] + bytes(range(256)) * 8, ""),
}  # fmt: skip


def judged(path):
    """The record of a file opened as a user opens it, or the refusal; anything else fails the test."""
    try:
        return open_weather(path, longest_gap=0)[1], ""
    except InputError as problem:
        text = str(problem)
        assert "Traceback" not in text
        assert len(text) > 20
        return None, text


def check_values(got, kind):
    """Each value is true or missing; what is missing is told."""
    days = got.time
    at = np.searchsorted(write.days_of(TRUE), days)
    for name, true in (("tasmin", LOW), ("tasmax", HIGH), ("pr", RAIN)):
        values = got[name]
        known = np.isfinite(values)
        np.testing.assert_array_equal(values[known], true[at][known], err_msg=name)
        assert (got.origin[name][~known] == MISSING).all()
    report = quality_report(got)
    kinds = {p.kind for p in report.problems}
    missing = bool(np.isnan(got["tasmin"] + got["tasmax"] + got["pr"]).any())
    assert ("gap" in kinds) == missing
    assert kinds <= {"gap", kind}
    if kind:
        assert kind in kinds
    json.dumps(report.to_json(), allow_nan=False)


@pytest.mark.parametrize("name", [*TEXTS, *OTHERS])
def test_texts(tmp_path, name):
    content, outcome, words = {**TEXTS, **OTHERS}[name]
    path = tmp_path / "record.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
    if name.startswith("dly ") and outcome == OK:  # this form does not hold the place: read with it
        check_values(read_record(path, latitude=40.0), words)
        return
    if name.startswith(("dly", "ghcn rows", "ecad")):
        try:
            got, text = read_record(path, latitude=40.0), ""
        except InputError as problem:
            got, text = None, str(problem)
    else:
        got, text = judged(path)
    if outcome == OK:
        assert got is not None, text
        check_values(got, words)
    else:
        assert got is None, "it was read"
        assert words in text
        assert "record.csv" in text


@pytest.mark.parametrize("name", NETCDF)
def test_netcdf(tmp_path, name):
    change, damage, words = NETCDF[name]
    path = tmp_path / "record.nc"
    raw = as_netcdf(path, change)
    if damage:
        path.write_bytes(damage(raw))
    got, text = judged(path)
    if words is None:
        check_values(got, None)
    else:
        assert got is None, "it was read"
        assert words in text


def test_there_are_enough_of_them():
    assert len(TEXTS) + len(OTHERS) + len(NETCDF) >= 100


@pytest.mark.parametrize("word", ["none.csv", "none.nc", "a folder", "none.toml", "\0", "x" * 5000])
def test_what_is_not_there(tmp_path, word, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "a folder").mkdir()
    got, text = judged(word)
    assert got is None
    assert text
