"""The line that shows a long fetch: on a terminal only, wiped in the end, and true to what was fetched."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from pathlib import Path

import pytest

from sowcal.progress import heard_by, shown_on, tell_progress

sys.path.insert(0, str(Path(__file__).parent.parent / "weather"))
from local_service import ask, environment, running, write_station_list


class Screen(io.StringIO):
    def __init__(self, terminal):
        super().__init__()
        self.terminal = terminal

    def isatty(self):
        return self.terminal


def fetched(screen, clock):
    with shown_on(screen, clock):
        for done in range(4):
            tell_progress("fetching Long Ness", done, 4, "year")
        tell_progress("fetching Long Ness", 4, 4, "year")


def test_a_terminal_sees_it_and_is_clean_afterwards():
    screen, seconds = Screen(True), iter(range(100))
    fetched(screen, lambda: float(next(seconds)))
    parts = screen.getvalue().split("\r")
    assert parts[1].startswith("fetching Long Ness: [")
    assert [p.split("] ")[1].strip() for p in parts if "years" in p][-1] == "3 of 4 years, 1 s left"
    assert parts[-1] == ""
    assert parts[-2].strip() == ""
    assert len(parts[-2]) == max(len(p) for p in parts)
    tell_progress("fetching Long Ness", 1, 4, "year")  # outside the block nobody listens
    assert screen.getvalue().split("\r") == parts


def test_parts_that_were_done_before_do_not_hasten_what_is_left():
    """Of ten blocks four are there; two more take 60 s, so that the last four take 120."""
    screen, clock = Screen(True), iter([0.0, 30.0, 60.0])
    with shown_on(screen, lambda: next(clock)):
        for done in (4, 5, 6):
            tell_progress("working out the map", done, 10, "block")
    shown = [p.strip() for p in screen.getvalue().split("\r") if p.strip()]
    assert shown == [
        "working out the map: [############            ] 5 of 10 blocks",
        "working out the map: [##############          ] 6 of 10 blocks, 2 min left",
    ]


def test_quick_fetches_and_pipes_show_nothing():
    quick, pipe = Screen(True), Screen(False)
    fetched(quick, lambda: 0.0)
    seconds = iter(range(100))
    fetched(pipe, lambda: float(next(seconds)))
    assert quick.getvalue() == pipe.getvalue() == ""


def test_an_error_leaves_no_line_behind():
    screen, seconds = Screen(True), iter(range(100))

    def breaks():
        with shown_on(screen, lambda: float(next(seconds))):
            tell_progress("fetching Long Ness", 0, 4, "year")
            tell_progress("fetching Long Ness", 1, 4, "year")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        breaks()
    assert screen.getvalue().endswith("\r")


def test_each_yearly_file_is_told(tmp_path):
    told = []
    with running() as address, heard_by(lambda *done: told.append(done)):
        ask(
            tmp_path,
            "get_station('90001', years=3, today=today)",
            endpoint=address + "/daily",
            stations=write_station_list(tmp_path / "stations.db"),
        )
    wanted = [("fetching Long Ness, daily values", done, 4, "year") for done in range(5)]  # 2018 to 2021
    assert told == wanted


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_the_whole_command_on_a_terminal_and_in_a_pipe(tmp_path):
    import pty

    seen = {}
    for kind in ("terminal", "pipe"):
        folder = tmp_path / kind
        folder.mkdir()
        with running() as address:
            env = environment(folder, address + "/late", write_station_list(folder / "stations.db"))
            call = [sys.executable, "-m", "sowcal", "weather", "fetch", "90001", "--years", "4"]
            if kind == "pipe":
                done = subprocess.run(call, env=env, capture_output=True, text=True, timeout=120)
                seen[kind] = done.stderr
                continue
            ours, theirs = pty.openpty()
            process = subprocess.Popen(call, env=env, stdout=subprocess.DEVNULL, stderr=theirs)
            os.close(theirs)
            text = b""
            while True:
                try:
                    piece = os.read(ours, 4096)
                except OSError:
                    break
                if not piece:
                    break
                text += piece
            process.wait(timeout=120)
            os.close(ours)
            seen[kind] = text.decode()
    assert "fetching Long Ness, daily values: [" in seen["terminal"]
    assert " of 5 years" in seen["terminal"]
    assert "fetching" not in seen["pipe"]
