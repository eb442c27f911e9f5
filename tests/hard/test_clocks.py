"""A computer's clock that is years ahead or behind, or goes back between two calls: nothing is lost, nothing is wrong.

What a clock decides of fetched records stands in `test_stops.py`.
"""

from __future__ import annotations

import datetime as dt
import json
import os
import time

import pytest
import samples

from sowcal.__main__ import main
from sowcal.errors import InputError
from sowcal.kept_files import make_room
from sowcal.season_log import SeasonLog
from sowcal.year import read_when

REAL = dt.date
LOG = "date,event,crop,sort,bed,plants,amount,note\n" + "".join(
    f"2026-{line}\n"
    for line in (
        "03-01,sown outdoors,carrot,,one,,,",
        "03-20,came up,carrot,,,,,",
        "05-01,tank,,,,,3200,",
        "05-09,sown outdoors,radish,,two,,,",
    )
)


@pytest.fixture
def clock(monkeypatch):
    """Set the clock of this process to a day."""

    class Kind(type):
        def __instancecheck__(cls, value):
            return isinstance(value, REAL)

    def set_to(day):
        class Date(REAL, metaclass=Kind):
            def __new__(cls, *given):
                return REAL(*given)

            @classmethod
            def today(cls):
                return REAL.fromisoformat(day)

            @classmethod
            def fromisoformat(cls, text):
                return REAL.fromisoformat(text)

        monkeypatch.setattr(dt, "date", Date)

    return set_to


@pytest.fixture
def plot(tmp_path, monkeypatch):
    monkeypatch.setenv("SOWCAL_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "s.toml").write_text(samples.SITE_OF_NORMALS.replace("years = 2", "years = 6"), encoding="utf-8")
    (tmp_path / "s.log.csv").write_text(LOG, encoding="utf-8")
    beds = '[[beds]]\nname = "one"\nlength = 3\nwidth = 1\n[water]\ntanks = [500]\n'
    garden = f'name = "Invented"\nsite = "s.toml"\ncrops = ["radish"]\n{beds}'
    (tmp_path / "g.toml").write_text(garden, encoding="utf-8")
    return tmp_path


def asked(capsys, *words):
    code = main(list(words))
    out, said = capsys.readouterr()
    return code, out, said


CALLS = [
    ("week", "s.toml", "radish", "--json"),
    ("season", "s.toml", "--json"),
    ("chart", "s.toml", "radish", "--json"),
    ("garden", "g.toml", "--json"),
]


def test_a_clock_that_goes_back_brings_no_answer_of_another_day(plot, clock, capsys):
    """Nine years ahead, fifty-six behind, and right again: each answer is that of a call that keeps nothing.

    Of the years behind, in which nothing can be told of the log's lines, each call says so and changes none of them.
    """
    right = {}
    for day in ("2026-05-10", "2035-01-01", "1970-06-01", "2026-05-10"):
        clock(day)
        for call in CALLS:
            code, out, said = asked(capsys, *call)
            assert (code, out) == asked(capsys, *call, "--fresh")[:2], f"{call} on {day}"
            assert "Traceback" not in said
            if day.startswith("2026"):
                assert code == 0
                assert right.setdefault(call, out) == out
    assert (plot / "s.log.csv").read_text(encoding="utf-8") == LOG


def test_lines_ahead_of_the_clock_are_told_in_two(plot, clock, capsys):
    """Where the clock has gone back all of them are ahead: one by name, the rest by their number, and the clock."""
    clock("1970-06-01")
    code, out, said = asked(capsys, "log", "--site", "s.toml")
    assert code == 0
    assert said.splitlines() == [
        "sowcal: line 2: 1 Mar 2026 lies ahead of 1 Jun 1970; the log is of what was done",
        "sowcal: 3 lines more of the log lie ahead of that day; look at this computer's clock",
    ]
    clock("2026-05-02")
    assert asked(capsys, "log", "--site", "s.toml")[2].splitlines() == [
        "sowcal: line 5: 9 May 2026 lies ahead of 2 May 2026; the log is of what was done"
    ]
    clock("2035-01-01")
    assert asked(capsys, "log", "tank", "90", "--site", "s.toml")[0] == 0
    clock("2026-05-10")  # the line of the clock that was ahead is told, the others are read
    code, out, said = asked(capsys, "log", "--site", "s.toml", "--json")
    assert "line 6: 1 Jan 2035 lies ahead of 10 May 2026" in said
    assert [e["date"] for e in json.loads(out)["entries"]] == ["2026-03-01", "2026-03-20", "2026-05-01", "2026-05-09"]
    assert asked(capsys, "log", "--undo", "--site", "s.toml")[0] == 0
    assert (plot / "s.log.csv").read_text(encoding="utf-8") == LOG


@pytest.mark.parametrize("day", ["0001-01-01", "1899-12-31", "9001-01-01", "9999-12-31"])
def test_a_clock_in_no_year_of_ours_is_refused_in_a_sentence(day, plot, clock, capsys):
    """It ended in tracebacks, or in a line of the log that could not be read again; a day that is said serves."""
    before = sorted(p.name for p in plot.iterdir())
    clock(day)
    for words in (*CALLS, ("log", "tank", "40", "--site", "s.toml"), ("page", "s.toml", "radish", "--out", "p.html")):
        code, out, said = asked(capsys, *words)
        assert (code, out) == (2, "")
        assert said.startswith("sowcal: this computer's clock says ")
    assert sorted(p.name for p in plot.iterdir()) == before
    assert (plot / "s.log.csv").read_text(encoding="utf-8") == LOG
    with pytest.raises(InputError, match="clock"):
        SeasonLog.open("s.log.csv")
    for words in (("chart", "s.toml", "radish"), ("garden", "g.toml")):
        assert asked(capsys, *words, "--issued", "2026-05-10")[0] == 0
    assert asked(capsys, "week", "s.toml", "radish", "--date", "2026-05-10", "--issued", "2026-05-10")[0] == 0


def test_days_long_ago_are_no_days_of_a_log():
    """They were written, and not read again."""
    with pytest.raises(InputError, match="'9999 weeks ago' lies outside the years 1900 to 9000"):
        read_when("9999 weeks ago", REAL(2026, 5, 10))
    assert read_when("300 weeks ago", REAL(2026, 5, 10)) == REAL(2020, 8, 9)


@pytest.mark.parametrize("year", ["1899", "9001", "26", "20260", "next", "-2026", "2026.0"])
def test_a_year_that_is_none_is_refused_in_short(year, plot, capsys):
    """The refusal named each of 7,101 years."""
    code, _, said = asked(capsys, "season", "s.toml", f"--year={year}")
    assert code == 2
    assert f"{year!r} is not a year from 1900 to 9000" in said
    assert len(said) < 200


def test_what_was_used_in_the_future_goes_before_what_is_new(tmp_path):
    """By a clock that has gone back since; else it would stay, and whatever is kept now go out at once."""
    for name, seconds in (("ahead", 3e8), ("older", -3e3), ("old", -2e3), ("new", 0.0)):
        (tmp_path / f"{name}.kept").write_bytes(bytes(1000))
        os.utime(tmp_path / f"{name}.kept", (time.time() + seconds,) * 2)
    make_room(tmp_path, 3000)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["new.kept", "old.kept", "older.kept"]
    make_room(tmp_path, 1000)
    assert [p.name for p in tmp_path.iterdir()] == ["new.kept"]
