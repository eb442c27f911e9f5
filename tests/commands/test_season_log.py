"""The log of a season: dates as growers write them, damaged lines, two writers at once, a writer that is killed."""

from __future__ import annotations

import csv
import datetime as dt
import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

import sowcal
from sowcal.__main__ import main
from sowcal.errors import InputError
from sowcal.season_log import COLUMNS, EVENTS, SeasonLog, event_in, log_path, sown_of
from sowcal.year import read_when

TODAY = dt.date(2026, 7, 1)


@pytest.fixture
def log(tmp_path):
    return SeasonLog.open(tmp_path / "plot.log.csv", today=TODAY)


def written(path, lines):
    path.write_text(",".join(COLUMNS) + "\n" + "".join(f"{line}\n" for line in lines), encoding="utf-8")
    return SeasonLog.open(path, today=TODAY)


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("today", "2026-07-01"),
        ("Yesterday", "2026-06-30"),
        ("3 days ago", "2026-06-28"),
        ("2 weeks ago", "2026-06-17"),
        ("20 Mar", "2026-03-20"),
        ("20 march 2024", "2024-03-20"),
        ("Mar 20", "2026-03-20"),
        ("1 Jul", "2026-07-01"),
        ("2 Jul", "2025-07-02"),  # the last such day, not the next
        ("2026-3-5", "2026-03-05"),
        ("29 Feb 2024", "2024-02-29"),
    ],
)
def test_days_as_growers_write_them(said, meant):
    assert read_when(said, TODAY) == dt.date.fromisoformat(meant)


@pytest.mark.parametrize(
    "said", ["", "soon", "32 Mar", "20/3", "3/4/2026", "20 M", "29 Feb", "2025-02-29", "1 Jan 1500"]
)
def test_what_is_no_day_is_refused_in_a_sentence(said):
    with pytest.raises(InputError) as refused:
        read_when(said, TODAY)
    assert "Traceback" not in str(refused.value)
    assert len(str(refused.value)) > 20


def test_the_29th_of_february_is_meant_within_the_year_only():
    assert read_when("29 Feb", dt.date(2024, 3, 1)) == dt.date(2024, 2, 29)
    assert read_when("29 Feb", dt.date(2025, 2, 27)) == dt.date(2024, 2, 29)
    with pytest.raises(InputError, match="29 February"):
        read_when("29 Feb", dt.date(2026, 3, 1))


def test_each_event_is_known_by_its_first_words():
    for event in EVENTS:
        assert event_in([*event.split(), "broad", "bean"]) == (event, ["broad", "bean"])
    with pytest.raises(InputError, match="sown outdoors"):
        event_in(["sown", "outdors", "carrot"])


def test_what_is_written_is_read_back(log):
    log = log.append("sown outdoors", "carrot", date="20 Mar", bed="3", plants=80, sort='Nantes, "early"', today=TODAY)
    log = log.append("watered", amount=12.5, bed="3", note="two\nlines, é", today=TODAY)
    first, second = SeasonLog.open(log.path, today=TODAY).entries
    assert first.cells() == ["2026-03-20", "sown outdoors", "carrot", 'Nantes, "early"', "3", "80", "", ""]
    assert (second.amount, second.note, second.line) == (12.5, "two lines, é", 3)
    with open(log.path, newline="", encoding="utf-8") as file:  # by another reader
        rows = list(csv.DictReader(file))
    assert rows[0]["sort"] == 'Nantes, "early"'
    assert tuple(rows[0]) == COLUMNS


def test_older_names_and_synonyms_follow_the_handbook(log):
    log = log.append("sown outdoors", "zucchini", date="2026-05-01", today=TODAY)
    assert [e.crop for e in log.entries] == ["courgette"]


REFUSED = [
    ({"event": "sown outdoors", "crop": "carott"}, "no crop"),
    ({"event": "sown outdoors", "crop": "tomato"}, "tomato (cherry)"),
    ({"event": "sown outdoors", "crop": "carrot", "date": "2 Jul 2026"}, "lies ahead"),
    ({"event": "came up", "crop": "carrot", "date": "2026-01-01"}, "before any sowing"),
    ({"event": "picked", "crop": "tomato (large)", "date": "2026-06-01"}, "before it was set out"),
    ({"event": "picked", "crop": "leek", "date": "2026-06-01"}, "before any sowing"),
    ({"event": "sown outdoors", "crop": "tomato (large)"}, "it is set out"),
    ({"event": "planted", "crop": "carrot"}, "it is sown outdoors"),
    ({"event": "watered"}, "litres given"),
    ({"event": "tank"}, "litres in it"),
    ({"event": "tank", "amount": "-1"}, "from 0"),
    ({"event": "tank", "amount": "nan"}, "number"),
    ({"event": "tank", "amount": "9", "crop": "carrot"}, "of no crop"),
    ({"event": "picked"}, "name the crop"),
    ({"event": "eaten", "crop": "carrot"}, "no event"),
    ({"event": "sown outdoors", "crop": "carrot", "plants": "2.5"}, "whole number"),
    ({"event": "sown outdoors", "crop": "carrot", "note": "x" * 600}, "600 letters"),
    ({"event": "sown outdoors", "crop": "carrot", "colour": "red"}, "no column"),
]


@pytest.mark.parametrize(("said", "why"), REFUSED, ids=[why for _, why in REFUSED])
def test_what_cannot_be_is_told_in_one_sentence_and_not_written(log, said, why):
    log = log.append("sown outdoors", "carrot", date="2026-03-20", today=TODAY)
    log = log.append("sown under cover", "tomato (large)", date="2026-03-01", today=TODAY)
    before = log.path.read_bytes()
    rest = {k: v for k, v in said.items() if k not in ("event", "crop")}
    with pytest.raises(InputError) as refused:
        log.append(said["event"], said.get("crop", ""), today=TODAY, **rest)
    assert why in str(refused.value)
    assert "\n" not in str(refused.value)
    assert log.path.read_bytes() == before


def test_events_go_to_the_sowing_that_they_are_of(tmp_path):
    log = written(
        tmp_path / "a.log.csv",
        [
            "2026-03-01,sown outdoors,carrot,,1,,,",
            "2026-04-01,sown outdoors,carrot,,2,,,",
            "2026-04-10,came up,carrot,,,,,",
            "2026-04-20,came up,carrot,,,,,",
            "2026-06-10,first picked,carrot,,2,,,",
            "2026-06-11,cleared,carrot,,1,,,",
            "2026-06-12,picked,carrot,,,,2,",
            "2026-05-01,set out,courgette,,3,4,,bought",
        ],
    )
    one, two, three = log.sown
    assert [e.event for e in one.entries] == ["sown outdoors", "came up", "cleared"]
    assert [e.event for e in two.entries] == ["sown outdoors", "came up", "first picked", "picked"]
    assert (three.crop, three.in_bed, three.plants) == ("courgette", dt.date(2026, 5, 1), 4)
    assert log.problems == ()


def test_damaged_lines_are_told_by_number_and_the_rest_is_read(tmp_path):
    log = written(
        tmp_path / "a.log.csv",
        [
            "2026-03-01,sown outdoors,carrot,,1,,,",
            "2026-13-01,sown outdoors,carrot,,1,,,",  # 3: no such month
            '2026-03-02,sown outdoors,"carrot,,1,,,',  # 4: a mark left open
            "",
            "# a note of mine",
            "2026-03-03,sown outdoors,nosuch,,1,,,",  # 7
            "2026-03-04,sowed,carrot,,1,,,",  # 8
            "2026-03-05,sown outdoors,leek,,1,,,,more,cells",  # 9
            "2026-03-06,came up,beetroot,,,,,",  # 10: never sown
            "2027-03-06,sown outdoors,carrot,,,,,",  # 11: ahead
            "20 Mar,sown outdoors,carrot,,,,,",  # 12: in the file a date is whole
            "2026-03-07,sown outdoors,radish",  # short, and sound
            "\x00\x01\x02",  # 14
        ],
    )
    assert [p.line for p in log.problems] == [3, 4, 7, 8, 9, 10, 11, 12, 14]
    assert [(s.crop, s.started.day) for s in log.sown] == [("carrot", 1), ("radish", 7)]


def test_a_log_mended_in_a_spreadsheet_is_read(tmp_path):
    path = tmp_path / "a.log.csv"
    path.write_bytes("date;crop;event;note\r\n2026-03-01;leek;sown under cover;für später\r\n".encode("cp1252"))
    log = SeasonLog.open(path, today=TODAY)
    assert (log.entries[0].crop, log.entries[0].note, log.problems) == ("leek", "für später", ())


@pytest.mark.parametrize(
    "head", ["date;crop;event;amount;note", "note\tdate\tevent\tcrop\tamount\tmine", "event,date,amount,note,crop"]
)
def test_a_line_is_added_as_the_file_has_its_columns(tmp_path, head):
    """A line that was taken is read again, whatever a spreadsheet has made of the file."""
    path = tmp_path / "a.log.csv"
    path.write_bytes(f"{head}\n".encode() + "# für später\n".encode("cp1252"))
    log = SeasonLog.open(path, today=TODAY).append("tank", amount="40.5", note="à tarde; cheio", today=TODAY)
    assert (log.problems, [e.cells() for e in log.entries]) == (
        (),
        [["2026-07-01", "tank", "", "", "", "", "40.5", "à tarde; cheio"]],
    )
    before = path.read_bytes()
    with pytest.raises(InputError, match="no column 'bed'"):
        log.append("watered", amount=5, bed="3", today=TODAY)
    with pytest.raises(InputError, match="save it as UTF-8"):
        log.append("watered", amount=5, note="βροχή", today=TODAY)
    assert path.read_bytes() == before


def test_a_mark_of_unicode_set_twice_hides_no_heading(tmp_path):
    path = tmp_path / "a.log.csv"
    path.write_text("\ufeff\ufeffdate,event,bed,crop\n2026-03-01,sown outdoors,two,carrot\n", encoding="utf-8")
    before = SeasonLog.open(path, today=TODAY)
    assert [(e.crop, e.bed) for e in before.entries] == [("carrot", "two")]
    after, _ = before.append("sown outdoors", "radish", date="2026-03-02", today=TODAY).undo(today=TODAY)
    assert (after.entries, after.problems) == (before.entries, ())


def test_a_line_left_without_its_end_does_not_spoil_the_next(tmp_path):
    path = tmp_path / "a.log.csv"
    path.write_text(",".join(COLUMNS) + "\n2026-03-01,sown outdoors,car", encoding="utf-8")
    log = SeasonLog.open(path, today=TODAY).append("sown outdoors", "radish", date="2026-03-02", today=TODAY)
    assert path.read_text(encoding="utf-8").splitlines()[2] == "2026-03-02,sown outdoors,radish,,,,,"
    assert ([s.crop for s in log.sown], [p.line for p in log.problems]) == (["radish"], [2])


def test_undo_takes_the_last_line_away_and_add_is_all_or_nothing(tmp_path, log):
    log = log.append("sown outdoors", "carrot", date="2026-03-20", today=TODAY)
    log = log.append("tank", amount=3200, today=TODAY)
    log, gone = log.undo(today=TODAY)
    assert gone.startswith("2026-07-01,tank")
    assert [e.event for e in log.entries] == ["sown outdoors"]
    other = tmp_path / "other.csv"
    lines = ["2026-03-20,sown outdoors,carrot,,,,,", "2026-04-01,came up,carrot,,,,,"]
    other.write_text(",".join(COLUMNS) + "\n" + "\n".join(lines) + "\n", encoding="utf-8")
    log, added = log.add_file(other, today=TODAY)
    assert (added, len(log.entries)) == (1, 2)  # the sowing was there
    other.write_text(",".join(COLUMNS) + "\n2026-05-01,tank,,,,,7,\n2026-05-01,picked,leek,,,,,\n", encoding="utf-8")
    before = log.path.read_bytes()
    with pytest.raises(InputError, match="leek"):
        log.add_file(other, today=TODAY)
    assert log.path.read_bytes() == before
    log, _ = log.undo(today=TODAY)
    log, _ = log.undo(today=TODAY)
    with pytest.raises(InputError, match="no line"):
        log.undo(today=TODAY)


@pytest.mark.parametrize(
    ("code", "end", "mark"), [("cp1252", "\n", b""), ("utf-8", "\r\n", b"\xef\xbb\xbf"), ("cp1252", "\r", b"")]
)
def test_undo_leaves_every_other_byte_as_it_was(tmp_path, code, end, mark):
    """A spreadsheet's letters, line ends and mark of Unicode are the grower's own; blank lines at the end go too."""
    path = tmp_path / "a.log.csv"
    kept = end.join([",".join(COLUMNS), "2026-03-01,sown outdoors,carrot,,,,,à la main", ""]).encode(code)
    path.write_bytes(mark + kept + f"2026-05-04,watered,,,,,40,là{end}{end}".encode(code))
    log, gone = SeasonLog.open(path, today=TODAY).undo(today=TODAY)
    assert gone == "2026-05-04,watered,,,,,40,là"
    assert path.read_bytes() == mark + kept
    assert [e.note for e in log.entries] == ["à la main"], log.problems


WRITER = """
import datetime as dt, os, sys, time
from sowcal.season_log import SeasonLog
path, name, count = sys.argv[1], sys.argv[2], int(sys.argv[3])
SeasonLog.open(path)
while len(sys.argv) > 4 and not os.path.exists(sys.argv[4]):
    time.sleep(0.001)  # all begin together
for k in range(count):
    SeasonLog.open(path).append("tank", amount=k, note=name, date="2026-01-01", today=dt.date(2026, 7, 1))
    print(k, flush=True)
"""


def writer(path, name, count, *begin):
    command = [sys.executable, "-c", WRITER, str(path), name, str(count), *map(str, begin)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


def test_nothing_is_lost_when_several_write_at_once(tmp_path):
    path = tmp_path / "a.log.csv"
    running = [writer(path, f"w{n}", 40, tmp_path / "go") for n in range(4)]
    time.sleep(2.0)  # their modules are loaded
    (tmp_path / "go").touch()
    for one in running:
        assert one.wait(timeout=120) == 0
        one.stdout.close()
    log = SeasonLog.open(path, today=TODAY)
    wanted = sorted((f"w{n}", float(k)) for n in range(4) for k in range(40))
    assert sorted((e.note, e.amount) for e in log.entries) == wanted
    assert log.problems == ()
    assert path.read_text().count("date,event") == 1


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no signal that ends at once")
def test_what_was_written_outlives_a_writer_that_is_killed(tmp_path):
    path, rng, told = tmp_path / "a.log.csv", random.Random(5), set()
    for n in range(5):
        one = writer(path, f"w{n}", 10_000)
        assert one.stdout.readline().strip() == "0"  # it writes
        time.sleep(rng.uniform(0.0, 0.2))
        os.kill(one.pid, signal.SIGKILL)
        said = one.stdout.read().split("\n")[:-1]  # what was told was written
        told |= {(f"w{n}", 0.0), *((f"w{n}", float(k)) for k in said)}
        one.stdout.close()
        one.wait()
    log = SeasonLog.open(path, today=TODAY)
    assert told <= {(e.note, e.amount) for e in log.entries}
    assert log.problems == ()


def test_where_a_log_lies(tmp_path, monkeypatch):
    monkeypatch.setenv("SOWCAL_HOME", str(tmp_path / "home"))
    site = tmp_path / "my-plot.toml"
    site.write_text("name = 'x'")
    assert log_path(site) == tmp_path / "my-plot.log.csv"
    assert log_path("sallowdene") == tmp_path / "home" / "logs" / "sallowdene.log.csv"
    assert log_path("-31.9,115.9").parent == tmp_path / "home" / "logs"


def run(capsys, *words):
    code = main(list(words))
    told = capsys.readouterr()
    return code, told.out, told.err


def test_the_command_writes_shows_and_takes_back(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("SOWCAL_HOME", str(tmp_path))
    here = ["--site", "sallowdene"]
    code, out, _ = run(capsys, "log", "sown", "outdoors", "broad", "bean", "--date", "yesterday", "--bed", "4", *here)
    assert code == 0
    assert "broad bean" in out
    assert str(tmp_path / "logs" / "sallowdene.log.csv") in out.replace("\n", "")
    code, out, _ = run(capsys, "log", "tank", "3200", *here)
    assert code == 0
    answer = json.loads(run(capsys, "log", *here, "--json")[1])
    assert [e["event"] for e in answer["entries"]] == ["sown outdoors", "tank"]
    assert answer["entries"][1]["amount"] == 3200
    yesterday = (dt.date.today() - dt.timedelta(days=1)).isoformat()
    assert answer["entries"][0]["date"] == yesterday
    assert run(capsys, "log", "--undo", *here)[0] == 0
    assert "tank" not in run(capsys, "log", *here)[1]
    for words, why in (
        (["sown", "outdoors", "nosuch"], "no crop"),
        (["--undo", "tank"], "takes no event"),
        (["tank", "3200", "--site", "nosuch"], "is no site"),
    ):
        code, _, err = run(capsys, "log", *words)
        assert code == 2
        assert why in err
        assert err.count("\n") == 1


def test_the_order_of_a_chart_is_no_sort(capsys):
    code, _, err = run(capsys, "chart", "radish", "--sort", "family")
    assert code == 2
    assert "--order" in err
    assert run(capsys, "chart", "sallowdene", "radish", "--order", "family", "--json")[0] == 0


def test_python_has_the_log_by_name(tmp_path):
    log = sowcal.SeasonLog.open(tmp_path / "x.csv", today=TODAY).append("planted", "garlic (softneck)", today=TODAY)
    assert isinstance(log, sowcal.SeasonLog)
    assert Path(log.path).exists()
    assert [s.way for s in sown_of(log.entries)[0]] == ["planted"]
