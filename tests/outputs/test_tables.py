"""Tables for spreadsheets: the same facts as the JSON, units in the headings, real dates and the same bytes."""

import csv
import datetime as dt
import io
import json
import re
from dataclasses import replace

import pytest

import sowcal
from sowcal.__main__ import main
from sowcal.outputs import files
from sowcal.outputs.tables import TableSheet, chart_tables, climate_tables, csv_text, week_tables, workbook

openpyxl = pytest.importorskip("openpyxl")
DAY = dt.date(2026, 1, 15)
CALLS = [
    ["chart", "broad bean", "courgette", "fig"],
    ["rate", "broad bean", "courgette", "fig"],
    ["week", "broad bean", "courgette", "--date", "2026-05-04"],
    ["compare", "sallowdene", "wrackhythe", "courgette"],
    ["climate"],
    ["crops", "courgette"],
    ["crops"],
    ["crops", "--basis"],
    ["garden"],
]


def rows_of(text):
    return list(csv.DictReader(io.StringIO(text)))


@pytest.mark.parametrize("words", CALLS, ids=lambda w: " ".join(w))
def test_csv_and_workbook_hold_the_same_table(tmp_path, words):
    for name in ("x.csv", "x.xlsx", *(["again.xlsx"] if words == ["climate"] else [])):
        assert main([*words, "--out", str(tmp_path / name), "--issued", "2026-01-15"]) == 0
    if words == ["climate"]:
        assert (tmp_path / "x.xlsx").read_bytes() == (tmp_path / "again.xlsx").read_bytes()
    page = openpyxl.load_workbook(tmp_path / "x.xlsx").worksheets[0]
    told = list(csv.reader(io.StringIO((tmp_path / "x.csv").read_text(encoding="utf-8"))))
    assert page.max_row == len(told) > 2
    for row, cells in zip(told, page.iter_rows(values_only=True), strict=True):
        for text, cell in zip(row, cells, strict=True):
            if isinstance(cell, dt.datetime):
                assert text == cell.date().isoformat()
            elif isinstance(cell, int | float):
                assert float(text) == cell
            else:
                assert text.lstrip("'") == (cell or "")
    assert not any(re.fullmatch(r"\d\d-\d\d", cell) for row in told[1:] for cell in row), "a date without its year"


def test_the_chart_has_each_window_of_the_json(made_up):
    chart = made_up.chart()
    (sheet,) = chart_tables(chart, 2027)
    told = rows_of(csv_text(sheet))
    windows = [
        (c.crop, s.way, kind, w)
        for c in chart.crops
        for s in c.starts
        for kind, ws in (("advised", s.windows), ("works", s.possible))
        for w in ws
    ]
    assert len(told) == len(windows)
    over_new_year = 0
    for row, (crop, way, kind, w) in zip(told, windows, strict=True):
        assert (row["crop"], row["way"], row["kind"]) == (crop, way, kind)
        begun, ended = (dt.date.fromisoformat(row[f"{end} (date)"]) for end in ("from", "to"))
        assert begun.year == 2027
        assert (ended - begun).days == (w.end - w.start) % 365 + (1 if begun <= dt.date(2028, 2, 29) <= ended else 0)
        over_new_year += ended.year == 2028
        assert begun <= dt.date.fromisoformat(row["best (date)"]) <= ended
        if cover := row["under_cover_from (date)"]:
            assert dt.date.fromisoformat(cover) < begun
        if picked := row["first_picking_p50 (date)"]:
            waited = dt.date.fromisoformat(picked) - dt.date.fromisoformat(row["best (date)"])
            assert waited.days - int(row["days_to_first_picking (days)"]) in (0, 1)  # a 29 February between
    assert over_new_year


def test_a_job_of_the_week_has_its_own_dates():
    chart = sowcal.sowing_chart("sallowdene", ["broad bean", "courgette"], issued=DAY)
    for first in (dt.date(2026, 5, 4), dt.date(2026, 12, 28)):
        (sheet,) = week_tables(sowcal.sowing_week(chart, first, ahead=4), first)
        for row in rows_of(csv_text(sheet)):
            begun, ended = (dt.date.fromisoformat(row[f"{end} (date)"]) for end in ("from", "to"))
            if row["when"] == "this week":
                assert begun <= first + dt.timedelta(6)
                assert first <= ended
            else:
                assert first + dt.timedelta(6) < begun <= ended


def test_the_frosts_of_the_south_fall_in_their_calendar_years():
    summary = sowcal.site_climate("sallowdene", issued=DAY)
    north = climate_tables(summary)[1].rows[0]
    south = climate_tables(replace(summary, latitude=-38.4))[1].rows[0]
    assert (north[0], north[2].year, south[2].year) == (1991, 1991, 1992)
    assert json.loads(json.dumps(summary.to_json()))["frost_by_year"][0]["first_autumn_frost"] == f"{north[2]:%m-%d}"


def test_no_text_is_a_formula_and_no_number_a_text():
    sheet = TableSheet("x", ("a", "b (degC)"), (("=1+1", -2.5), ("@x\x01", None), ("-", 3)))
    assert csv_text(sheet) == "a,b (degC)\n'=1+1,-2.5\n'@x\x01,\n'-,3\n"
    page = openpyxl.load_workbook(io.BytesIO(workbook([sheet], DAY))).worksheets[0]
    assert [(c.value, c.data_type) for c in page["A"][1:]] == [("=1+1", "s"), ("@x", "s"), ("-", "s")]
    assert [c.value for c in page["B"][1:]] == [-2.5, None, 3]


def test_without_the_extra_a_workbook_is_refused_in_one_sentence(monkeypatch, tmp_path, capsys):
    monkeypatch.setattr(files, "find_spec", lambda name: None)
    assert main(["chart", "carrot", "--out", str(tmp_path / "x.xlsx")]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "sowcal[xlsx]" in said
    assert not list(tmp_path.iterdir())


def test_python_saves_the_table_that_the_command_writes(tmp_path):
    chart = sowcal.Site.open("sallowdene", issued="2026-01-15").chart("courgette")
    chart.save(tmp_path / "a.xlsx")
    chart.save(tmp_path / "a.csv")
    words = ["chart", "sallowdene", "courgette", "--issued", "2026-01-15", "--out"]
    for suffix in (".xlsx", ".csv"):
        assert main([*words, str(tmp_path / f"b{suffix}")]) == 0
        assert (tmp_path / f"a{suffix}").read_bytes() == (tmp_path / f"b{suffix}").read_bytes()


def test_sources_for_a_paper_go_to_the_screen(tmp_path, capsys):
    assert main(["crops", "leek", "--bibtex", "--out", str(tmp_path / "x.csv")]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert not list(tmp_path.iterdir())
