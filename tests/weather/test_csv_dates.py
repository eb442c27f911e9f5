"""Dates, headers and numbers as machines and spreadsheets write them: read rightly and told, or refused with the line
to write; never moved by a day or a century in silence."""

from __future__ import annotations

import datetime as dt
import zoneinfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sowcal.__main__ import main
from sowcal.errors import InputError
from sowcal.weather.csv_file import read_csv

FIRST, COUNT = dt.date(2019, 12, 20), 400
DAYS = [FIRST + dt.timedelta(days=k) for k in range(COUNT)]


def table(tmp_path, dates, header="date,tmin_c,tmax_c", row="{date},{low},{high}", encoding="utf-8"):
    rows = [row.format(date=d, low=k % 9, high=20 + k % 9) for k, d in enumerate(dates)]
    path = tmp_path / "record.csv"
    path.write_bytes(("\n".join([header, *rows]) + "\n").encode(encoding))
    return path


def first_and_last(dataset):
    return [str(dataset.time[k])[:10] for k in (0, -1)]


def told(dataset):
    return " ".join(list(dataset.warnings))


ALL = [str(DAYS[0]), str(DAYS[-1])]
ZONES = {  # place: (zone, longitude)
    "Athens": ("Europe/Athens", 23.7),
    "Madrid": ("Europe/Madrid", -3.7),
    "A Coruna": ("Europe/Madrid", -8.4),
    "Lisbon": ("Europe/Lisbon", -9.1),
    "Perth": ("Australia/Perth", 115.9),
    "Hobart": ("Australia/Hobart", 147.3),
    "Auckland": ("Pacific/Auckland", 174.8),
    "Santiago": ("America/Santiago", -70.6),
    "Fresno": ("America/Los_Angeles", -119.8),
    "Kashgar": ("Asia/Shanghai", 76.0),
    "Adelaide": ("Australia/Adelaide", 138.6),
}


@pytest.mark.parametrize("place", ZONES)
def test_midnights_in_utc_are_local_days(tmp_path, place):
    """Local days as a machine writes them, by the time zones of the world (tz database), with summer time."""
    zone, longitude = ZONES[place]
    utc = [dt.datetime.combine(d, dt.time(), zoneinfo.ZoneInfo(zone)).astimezone(dt.UTC) for d in DAYS]
    dataset = read_csv(table(tmp_path, [f"{t:%Y-%m-%dT%H:%MZ}" for t in utc]), latitude=38.0, longitude=longitude)
    assert first_and_last(dataset) == ALL
    assert dataset.size == COUNT
    moved = any(t.date() != d for t, d in zip(utc, DAYS, strict=True))
    assert ("date_format = '%Y-%m-%dT%H:%MZ' if the dates are meant as they are written" in told(dataset)) == moved


@given(longitude=st.floats(-160, 178), zone=st.integers(-11, 13))
def test_any_whole_zone_near_the_sun(tmp_path_factory, longitude, zone):
    """Stamps that are midnight in a zone within two hours and a half of the sun stand for the day that begins then."""
    if abs(zone - longitude / 15) > 2.5:
        return
    utc = [dt.datetime.combine(d, dt.time()) - dt.timedelta(hours=zone) for d in DAYS[:3]]
    path = table(tmp_path_factory.mktemp("z"), [f"{t:%Y-%m-%d %H:%M:%S+00:00}" for t in utc])
    found = read_csv(path, latitude=1.0, longitude=longitude)
    assert first_and_last(found) == [str(DAYS[0]), str(DAYS[2])]


def test_what_the_longitude_does_not_decide_is_refused(tmp_path):
    stamps = [f"{d}T22:00:00Z" for d in DAYS]
    path = table(tmp_path, stamps)
    for longitude in (None, float("nan")):
        with pytest.raises(InputError, match="stands for that day or for the next; add longitude") as caught:
            read_csv(path, latitude=38.0, longitude=longitude)
        assert "date_format = '%Y-%m-%dT%H:%M:%SZ'" in caught.value.message
    with pytest.raises(InputError, match="near the date line"):
        read_csv(table(tmp_path, [s.replace("22:", "11:") for s in stamps]), latitude=-13.8, longitude=-172.0)
    # the line to write does what it says
    assert first_and_last(read_csv(path, latitude=38.0, date_format="%Y-%m-%dT%H:%M:%SZ")) == ALL


def test_times_that_leave_the_day_as_it_is_written(tmp_path):
    for form, longitude in (
        ("{}T00:00:00Z", None),  # a date in the form of a stamp
        ("{}T00:00:00.000Z", 145.0),
        ("{}T00:00+02:00", 30.0),  # of its own zone
        ("{} 23:59", -5.0),
        ("{} 09:00 UTC", 10.0),  # a reading in the day
        ("{} 00:00 CET", 10.0),
    ):
        dataset = read_csv(table(tmp_path, [form.format(d) for d in DAYS]), latitude=38.0, longitude=longitude)
        assert first_and_last(dataset) == ALL, form
        assert told(dataset) == "", form
    # evening there: told, whichever is meant
    dataset = read_csv(table(tmp_path, [f"{d}T00:00Z" for d in DAYS]), latitude=38.0, longitude=-120.0)
    assert first_and_last(dataset) == ALL
    assert "taken as written" in told(dataset)
    dataset = read_csv(table(tmp_path, [f"{d} 22:00" for d in DAYS]), latitude=38.0, longitude=30.0)
    assert "name no time zone" in told(dataset)


def test_a_morning_reading_of_the_far_east(tmp_path):
    """06:00 at 150 E is 20:00 UTC of the day before."""
    stamps = [f"{d - dt.timedelta(days=1)}T20:00Z" for d in DAYS]
    dataset = read_csv(table(tmp_path, stamps), latitude=-33.0, longitude=150.0)
    assert first_and_last(dataset) == ALL
    assert "next day" in told(dataset)


def test_stamps_of_different_hours_are_refused(tmp_path):
    stamps = [f"{d}T{(9, 21)[k % 2]:02d}:00Z" for k, d in enumerate(DAYS)]
    with pytest.raises(InputError, match="one time") as caught:
        read_csv(table(tmp_path, stamps), latitude=38.0, longitude=23.0)
    assert caught.value.line == 3
    mixed = [f"{d}T22:00Z" if k else str(d) for k, d in enumerate(DAYS)]
    with pytest.raises(InputError, match="some rows name a time zone, some none"):
        read_csv(table(tmp_path, mixed), latitude=38.0, longitude=23.0)


MONTHS = {
    "English": "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec",
    "English, whole": "January February March April May June July August September October November December",
    "Spanish": "ene feb mar abr may jun jul ago sept oct nov dic",
    "Spanish, whole": "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre",
    "Portuguese": "jan fev mar abr mai jun jul ago set out nov dez",
    "French": "janv. févr. mars avr. mai juin juil. août sept. oct. nov. déc.",
    "Italian": "gen feb mar apr mag giu lug ago set ott nov dic",
    "German": "Jan Feb Mär Apr Mai Jun Jul Aug Sep Okt Nov Dez",
}
FORMS = ("{day:02d}-{month}-{short:02d}", "{day}-{month}-{year}", "{day} {month} {year}", "{month} {day} {year}")


@pytest.mark.parametrize("language", MONTHS)
@pytest.mark.parametrize("form", FORMS)
def test_months_by_their_names(tmp_path, language, form):
    names = MONTHS[language].split()
    dates = [form.format(day=d.day, month=names[d.month - 1], year=d.year, short=d.year % 100) for d in DAYS]
    dataset = read_csv(table(tmp_path, dates), latitude=38.0)
    assert first_and_last(dataset) == ALL
    assert dataset.size == COUNT
    assert ("read as 2019 to 2021" in told(dataset)) == ("short" in form)


def test_a_spanish_date_in_full_and_in_the_old_encoding(tmp_path):
    names = MONTHS["Spanish, whole"].split()
    dates = [f"{d.day} de {names[d.month - 1]} de {d.year}" for d in DAYS]
    assert first_and_last(read_csv(table(tmp_path, dates), latitude=38.0)) == ALL
    french = [f"{d.day} {MONTHS['French'].split()[d.month - 1]} {d.year}" for d in DAYS]
    path = table(tmp_path, french, header="date;tmín_c;tmáx_c", row="{date};{low};{high}", encoding="cp1252")
    assert first_and_last(read_csv(path, latitude=38.0)) == ALL


@pytest.mark.parametrize("begin", [dt.date(1998, 6, 1), dt.date(1950, 1, 1), dt.date(2001, 1, 1)])
@pytest.mark.parametrize("form", ["%d-%b-%y", "%y-%b-%d"])
def test_years_of_two_digits_where_the_column_proves_them(tmp_path, begin, form):
    days = [begin + dt.timedelta(days=k) for k in range(1500)]
    dataset = read_csv(table(tmp_path, [d.strftime(form) for d in days]), latitude=38.0)
    assert first_and_last(dataset) == [str(days[0]), str(days[-1])]
    assert f"read as {begin.year} to {days[-1].year}" in told(dataset)
    told_by_pattern = read_csv(table(tmp_path, [d.strftime(form) for d in days]), latitude=38.0, date_format=form)
    assert first_and_last(told_by_pattern) == [str(days[0]), str(days[-1])]  # not 2050 for 50


def test_years_of_two_digits_that_could_be_others(tmp_path):
    with pytest.raises(InputError, match="'%d-%b-%y' or '%y-%b-%d'"):
        read_csv(table(tmp_path, ["01-Jan-02", "05-Jan-06"]), latitude=38.0)
    turn = [(dt.date(2029, 12, 1) + dt.timedelta(days=k)).strftime("%d-%b-%y") for k in range(60)]
    with pytest.raises(InputError, match="1929 to 1930, or from 1930 on and up to 2029; write them with four digits"):
        read_csv(table(tmp_path, turn), latitude=38.0)
    numbers = [d.strftime("%d/%m/%y") for d in DAYS]
    with pytest.raises(InputError, match="give date_format = '%d/%m/%y', '%m/%d/%y'"):
        read_csv(table(tmp_path, numbers), latitude=38.0)
    assert first_and_last(read_csv(table(tmp_path, numbers), latitude=38.0, date_format="%d/%m/%y")) == ALL


def test_words_that_are_no_months_are_named(tmp_path):
    for word in ("Foo", "jui", "ju"):  # 'jui' begins juin and juillet
        with pytest.raises(InputError, match="is not a date that is understood") as caught:
            read_csv(table(tmp_path, ["1 Jan 2001", f"2 {word} 2001"]), latitude=38.0)
        assert caught.value.line == 3
    with pytest.raises(InputError, match="another order"):
        read_csv(table(tmp_path, ["1 Jan 2001", "Jan 2 2001"]), latitude=38.0)


def test_day_numbers_of_spreadsheets(tmp_path):
    """35796 is 1 January 1998 in the count from 1900, as spreadsheets show it; the other count is 1462 days later."""
    path = table(tmp_path, range(35796, 35796 + 100))
    with pytest.raises(InputError, match="1998-01-01 counted from 1900, or 2002-01-02 counted from 1904") as caught:
        read_csv(path, latitude=38.0)
    assert "date_format = 'excel' or date_format = 'excel 1904'" in caught.value.message
    assert first_and_last(read_csv(path, latitude=38.0, date_format="excel")) == ["1998-01-01", "1998-04-10"]
    assert first_and_last(read_csv(path, latitude=38.0, date_format="excel 1904")) == ["2002-01-02", "2002-04-11"]
    assert first_and_last(read_csv(table(tmp_path, ["61.0", "62.5"]), date_format="excel")) == [
        "1900-03-01",
        "1900-03-02",
    ]
    for dates, words in (([20, 21], "before March 1900"), (["x1", 2], "no day number"), ([300000], "four digits")):
        with pytest.raises(InputError, match=words):
            read_csv(table(tmp_path, dates), latitude=38.0, date_format="excel")


def test_a_site_file_may_name_them(tmp_path, capsys):
    """The line that a refusal tells works where it is to be written; what was assumed is told in the answer."""
    table(tmp_path, [f"{d}T22:00Z" for d in [FIRST + dt.timedelta(days=k) for k in range(1500)]])
    site = tmp_path / "site.toml"
    text = 'name = "S"\nlatitude = 38.0\n[weather]\nsource = "file"\nfile = "record.csv"\n'
    site.write_text(text)
    assert main(["climate", str(site)]) == 2
    assert "add longitude = ... to the site file" in capsys.readouterr().err
    site.write_text(text.replace("[weather]", "longitude = 30.0\n[weather]"))
    assert main(["climate", str(site)]) == 0
    heard = capsys.readouterr()
    assert "is taken for the next day" in " ".join((heard.out + heard.err).split())
    site.write_text(f"{text}date_format = '%Y-%m-%dT%H:%MZ'\n")
    assert main(["climate", str(site)]) == 0
    heard = capsys.readouterr()
    assert "next day" not in heard.out + heard.err


HEADERS = [
    "fecha;mínima (°C);máxima (°C);precipitación",
    "Fecha;Tmín (°C);Tmáx (°C);Lluvia",
    "data;temp. mín (°C);temp. máx (°C);precipitação",
    "date;température min (°C);température max (°C);pluie",
    "date;Température minimale (°C);Température maximale (°C);précipitations",
    "data;minima [°C];massima [°C];pioggia",
    "DATA;T. mínima degC;T. máxima degC;chuva",
    "date;mín (°C);máx (°C);lluvia (mm)",
    "date;mi\u0301n (°C);ma\u0301x (°C);lluvia",  # accents as signs of their own
]


@pytest.mark.parametrize("header", HEADERS)
def test_headers_with_accents(tmp_path, header):
    dataset = read_csv(table(tmp_path, DAYS, header=header, row="{date};{low};{high};1.5"), latitude=38.0)
    assert float(dataset["tasmin"][4]) == 4
    assert float(dataset["tasmax"][4]) == 24
    assert float(dataset["pr"][4]) == 1.5


def test_year_month_and_day_in_spanish(tmp_path):
    rows = [f"{d.year},{d.month},{d.day}" for d in DAYS]
    path = table(tmp_path, rows, header="Año,Mes,Día,mínima (°C),máxima (°C)")
    assert first_and_last(read_csv(path, latitude=38.0)) == ALL


def test_a_column_of_other_data_is_no_date(tmp_path):
    path = table(tmp_path, DAYS, header="date,data,tag,tmin_c,tmax_c", row="{date},x,ok,{low},{high}")
    assert first_and_last(read_csv(path, latitude=38.0)) == ALL


def test_a_header_may_be_named_with_its_accent_written_either_way(tmp_path):
    path = table(tmp_path, DAYS, header="date,i\u0301nfima,ma\u0301s")
    dataset = read_csv(
        path, latitude=38.0, temperature_unit="degC", columns={"tasmin": "\u00ednfima", "tasmax": "m\u00e1s"}
    )
    assert float(dataset["tasmax"][4]) == 24


@pytest.mark.parametrize("minus", ["\u2212", "\u2013"])
@pytest.mark.parametrize(("sign", "point"), [(",", "."), (";", ","), ("\t", ".")])
def test_a_printed_minus_is_a_minus(tmp_path, minus, sign, point):
    rows = [sign.join([str(d), f"{minus}{k % 9}{point}5", f"2{point}5"]) for k, d in enumerate(DAYS)]
    path = tmp_path / "m.csv"
    path.write_text("\n".join([sign.join(["date", "tmin_c", "tmax_c"]), *rows]) + "\n", encoding="utf-8")
    dataset = read_csv(path, latitude=38.0)
    np.testing.assert_allclose(dataset["tasmin"], [-(k % 9) - 0.5 for k in range(COUNT)])


@pytest.mark.parametrize(
    "word", ["n/a", "N/A", "na", "NA", "#N/A", "-", "--", "---", "\u2212", "\u2013", "\u2014", "null", "None"]
)
def test_words_for_what_is_missing(tmp_path, word):
    rows = [f"{d},{word if k == 5 else 1.5},9.0" for k, d in enumerate(DAYS)]
    path = table(tmp_path, rows, row="{date}")
    dataset = read_csv(path, latitude=38.0)
    assert np.flatnonzero(np.isnan(dataset["tasmin"])).tolist() == [5]


@pytest.mark.parametrize("cell", ["5\u20137", "5-7", "missing", "1.2.3", "\u2212\u22123"])
def test_what_is_neither_is_refused_with_its_place(tmp_path, cell):
    rows = [f"{d},{cell if k == 5 else 1.5},9.0" for k, d in enumerate(DAYS)]
    with pytest.raises(InputError, match="is not a number") as caught:
        read_csv(table(tmp_path, rows, row="{date}"), latitude=38.0)
    assert (caught.value.line, caught.value.column) == (7, "tmin_c")
