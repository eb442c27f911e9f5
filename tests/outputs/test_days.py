"""Days of the year against Python's own calendar."""

import datetime as dt
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sowcal.errors import InputError
from sowcal.year import (
    day_of_date,
    day_of_year,
    day_text,
    iso_text,
    month_day,
    span_days,
    span_length,
    span_month_days,
    span_text,
)

DAYS = st.integers(0, 364)


@pytest.mark.parametrize("day", range(365))
def test_every_day_as_the_calendar_of_a_year_without_leap_day_has_it(day):
    date = dt.date(2023, 1, 1) + dt.timedelta(days=day)
    assert month_day(day) == date.strftime("%m-%d")
    assert day_text(day) == f"{date.day} {date:%b}"
    assert day_of_year(month_day(day)) == day == day_of_date(date)


def test_leap_day_counts_as_the_day_before():
    assert day_of_year("02-29") == day_of_year("02-28") == day_of_date(dt.date(2024, 2, 29))
    assert day_of_date(dt.date(2024, 12, 31)) == 364


@given(DAYS, DAYS)
def test_a_span_comes_back_from_its_dates_over_new_year_too(start, end):
    days = span_days(start, end)
    assert len(days) == span_length(start, end)
    assert (days[0], days[-1]) == (start, end)
    assert all((b - a) % 365 == 1 for a, b in pairwise(days))
    back = tuple(map(day_of_year, span_month_days(start, end)))
    assert back == ((0, 364) if len(days) == 365 else (start, end))
    if end < start and len(days) < 365:
        first, last = span_month_days(start, end)
        assert last < first


def test_all_year_is_told_the_same_from_wherever_it_starts():
    assert span_month_days(100, 99) == ("01-01", "12-31")
    assert span_text(100, 99) == "all year"
    assert span_text(350, 10) == "17 Dec to 11 Jan"


@pytest.mark.parametrize("text", ["", "13-01", "00-10", "02-30", "04-31", "3 Mar", "-1-01", "2024-01-01"])
def test_what_is_no_date_is_refused(text):
    with pytest.raises(InputError, match="MM-DD"):
        day_of_year(text)


def test_dates_of_files_in_a_reader_s_form():
    assert iso_text("2012-02-29") == "29 Feb 2012"
    assert iso_text("2026-03-04T05:06:07") == "4 Mar 2026"
    assert iso_text("no date") == "no date"
