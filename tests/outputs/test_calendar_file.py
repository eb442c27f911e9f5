"""Calendar files, read back by a second library (vobject) and line by line against RFC 5545."""

import datetime as dt
import re
from dataclasses import replace

import numpy as np
import pytest

from sowcal.outputs.calendar_file import chart_calendar, week_calendar
from sowcal.outputs.files import write_output
from sowcal.outputs.terminal import plain
from sowcal.suitability.results import CropSeasons, FirstPicking, Record, SowingChart, WayResult, Window
from sowcal.suitability.week import week_of
from sowcal.year import day_of_date

vobject = pytest.importorskip("vobject", reason="the second calendar library, vobject, is not installed")

ISSUED = dt.date(2026, 11, 25)
HOSTILE = [
    'comma, semicolon; colon: backslash\\ quote"',
    "END:VEVENT\r\nBEGIN:VEVENT\r\nSUMMARY:smuggled",
    "bell\x07 escape\x1b[31m null\x00",
    "苗" * 60,
    "żółć 🌱 " * 12,
    "\\n is not a line",
    "=cmd|' /C calc'!A0",
    "",
]


def events(text):
    return vobject.readOne(text).vevent_list


def one_crop(name, best=100, wait=70, site="Made-up Nook"):
    picking = FirstPicking((best + wait - 5) % 365, (best + wait) % 365, (best + wait + 5) % 365, wait)
    first, last = (best - 20) % 365, (best + 20) % 365
    cover = ((first - 40) % 365, (last - 40) % 365)
    window = Window(first, last, best, 0.9, (0.7, 0.97), 30, 0.95, cover, picking)
    line = CropSeasons(name, "family", (WayResult("set out", (window,), (window,), (), np.ones(365)),))
    return SowingChart(site, 38.0, Record("1991-01-01", "2020-12-31", 30.0, "generated"), 0.8, (line,))


def test_nothing_is_lost_in_a_second_library(chart):
    found = {(e.summary.value, e.dtstart.value) for e in events(chart_calendar(chart, 2027, ISSUED))}
    windows = [(c.crop, s.way, w) for c in chart.crops for s in c.starts for w in s.windows]
    assert len(windows) > 30
    job = {"sown outdoors": "Sow outdoors", "set out": "Set out", "planted": "Plant"}
    for crop, way, window in windows:
        # counted in years without a 29 February, 2026 and 2027, then put a year later
        began = dt.date(2026, 1, 1) + dt.timedelta(days=window.best)
        picked = began + dt.timedelta(days=window.first_picking.days_after_start)
        assert (f"{job[way]}: {crop}", began.replace(year=2027)) in found
        assert (f"First picking: {crop}", picked.replace(year=picked.year + 1)) in found
    raised = sum(w.raise_under_cover is not None for _, _, w in windows)
    assert len(events(chart_calendar(chart, 2027, ISSUED))) == 2 * len(windows) + raised


def test_whole_days_and_stamps_of_the_issue(chart):
    for e in events(chart_calendar(chart, 2027, ISSUED)):
        assert type(e.dtstart.value) is dt.date
        assert e.dtend.value - e.dtstart.value == dt.timedelta(days=1)
        assert e.dtstamp.value == dt.datetime(2026, 11, 25, tzinfo=dt.UTC)
        assert e.description.value


def test_importing_again_updates(chart):
    first, again = (chart_calendar(chart, 2027, ISSUED + dt.timedelta(days=d)) for d in (0, 30))
    assert chart_calendar(chart, 2027, ISSUED) == first
    before, after = ({e.uid.value: int(e.sequence.value) for e in events(t)} for t in (first, again))
    assert len(before) == len(events(first))
    assert before.keys() == after.keys()
    assert all(after[uid] > before[uid] for uid in before)


def test_identities_outlive_a_window_that_moves_and_part_sites_and_years():
    def ids(*args, year=2027, **kinds):
        return {e.uid.value for e in events(chart_calendar(one_crop(*args, **kinds), year, ISSUED))}

    assert ids("pea", 100) == ids("pea", 112)
    assert not ids("pea") & ids("pea", year=2028)
    assert not ids("pea") & ids("pea", site="Other Nook")
    assert not ids("pea") & ids("bean")


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_come_back_as_they_are_shown(name):
    text = chart_calendar(one_crop(name, site=name), 2027, ISSUED)
    shown = {e.summary.value for e in events(text)}
    assert shown == {f"{k}: {plain(name)}" for k in ("Sow under cover", "Set out", "First picking")}
    assert len(events(text)) == 3
    assert not re.search(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]", text)


@pytest.mark.parametrize("name", HOSTILE)
def test_lines_are_folded_by_octets_and_ended_by_crlf(name):
    # RFC 5545 section 3.1: lines of at most 75 octets without the break, ended by CRLF
    text = chart_calendar(one_crop(name, site=name), 2027, ISSUED)
    assert text.endswith("\r\n")
    lines = text.split("\r\n")
    assert not any("\n" in t or "\r" in t for t in lines)
    assert max(len(t.encode("utf-8")) for t in lines) <= 75


def test_over_new_year_picking_follows_its_start():
    found = {e.summary.value: e.dtstart.value for e in events(chart_calendar(one_crop("pea", 350, 120), 2027, ISSUED))}
    assert found["Set out: pea"] == dt.date(2027, 12, 17)
    assert found["First picking: pea"] == dt.date(2028, 4, 16)  # the month and day that the text names


def test_leap_years_keep_month_and_day():
    for year in (2027, 2028):
        found = {e.summary.value: e.dtstart.value for e in events(chart_calendar(one_crop("pea", 59), year, ISSUED))}
        assert found["Set out: pea"] == dt.date(year, 3, 1)


def test_a_chart_without_windows_is_still_a_calendar(chart):
    text = chart_calendar(replace(chart, crops=()), 2027, ISSUED)
    assert vobject.readOne(text).prodid.value.startswith("-//sowcal//")
    assert "VEVENT" not in text


def test_the_week_puts_each_job_on_one_of_its_days(chart):
    for first in (dt.date(2027, 4, 14), dt.date(2027, 12, 29), dt.date(2028, 2, 26)):
        week = week_of(chart, day_of_date(first))
        found = events(week_calendar(week, first, ISSUED))
        assert len(found) == len(week.jobs) > 5
        assert len({e.uid.value for e in found}) == len(found)
        last = first + dt.timedelta(days=6 + (first.month == 2))  # 29 February is no day of the 365-day year
        assert all(first <= e.dtstart.value <= last for e in found)
        of_year = {e.uid.value for e in events(chart_calendar(chart, first.year, ISSUED))}
        assert not of_year & {e.uid.value for e in found}


@pytest.mark.parametrize("first", [dt.date(2028, 2, 26), dt.date(2028, 2, 29), dt.date(2027, 2, 26)])
def test_a_week_over_the_end_of_february_keeps_the_dates_that_it_names(first):
    week = week_of(one_crop("pea", 80), day_of_date(first))  # set out from day 60, 2 March
    (found,) = [e for e in events(week_calendar(week, first, ISSUED)) if e.summary.value == "Set out: pea"]
    assert "from 2 Mar" in found.description.value
    assert found.dtstart.value == dt.date(first.year, 3, 2)


def test_a_file_keeps_the_bytes(tmp_path, chart):
    text = chart_calendar(chart, 2027, ISSUED)
    (path,) = write_output(tmp_path / "year.ics", texts={".ics": text})
    assert path.read_bytes() == text.encode("utf-8")
    assert b"\r\r\n" not in path.read_bytes()
