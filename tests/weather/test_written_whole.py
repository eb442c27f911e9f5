"""Outputs and kept records are whole or not there, and what killed programs left half written goes in time."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import time

import numpy as np
import pytest

from sowcal.outputs.files import write_text
from sowcal.outputs.part_folder import PartFolder, parts_of
from sowcal.weather import written_whole as module
from sowcal.weather.written_whole import HALF, written_whole

POSIX = pytest.mark.skipif(os.name != "posix", reason="elsewhere nobody can be asked whether a process lives")


@pytest.fixture(scope="module")
def dead():
    """Number of a process that has ended."""
    done = subprocess.Popen([sys.executable, "-c", ""])
    done.wait()
    return done.pid


def names(folder):
    return sorted(p.name for p in folder.iterdir())


def test_what_stood_there_is_replaced_by_the_whole(tmp_path):
    place = tmp_path / "c.json"
    place.write_text("old")
    with written_whole(place) as beside:
        beside.write_text("new")
        assert place.read_text() == "old"
        assert HALF.fullmatch(beside.name)
        assert beside.suffix == ".json"
    assert place.read_text() == "new"
    assert names(tmp_path) == ["c.json"]


@pytest.mark.parametrize("name", ["a" * 255, "no ending", "half.", "name.sp ace"])
def test_names_that_are_long_or_odd(tmp_path, name):
    with written_whole(tmp_path / name) as beside:
        assert HALF.fullmatch(beside.name)
    assert names(tmp_path) == [name]


def test_a_write_that_fails_leaves_what_stood_there_and_nothing_else(tmp_path):
    place, folder = tmp_path / "c.json", tmp_path / "m.zarr"
    place.write_text("old")
    folder.mkdir()
    (folder / "old").touch()
    with contextlib.suppress(KeyboardInterrupt), written_whole(place) as beside:
        beside.write_text("ne")
        raise KeyboardInterrupt
    with contextlib.suppress(OSError), written_whole(folder, folder=True) as beside:
        (beside / "ne").touch()
        raise OSError("no room")
    assert names(tmp_path) == ["c.json", "m.zarr"]
    assert place.read_text() == "old"
    assert names(folder) == ["old"]


def test_a_folder_takes_the_place_of_another(tmp_path):
    place = tmp_path / "m.zarr"
    for n in range(2):
        with written_whole(place, folder=True) as beside:
            (beside / f"piece {n}").touch()
        assert names(place) == [f"piece {n}"]
    assert names(tmp_path) == ["m.zarr"]


def test_an_old_folder_comes_back_where_the_new_one_cannot_be_put_there(tmp_path):
    place = tmp_path / "m.zarr"
    place.mkdir()
    (place / "old").touch()
    with pytest.raises(FileNotFoundError), written_whole(place, folder=True) as beside:
        beside.rmdir()
    assert names(tmp_path) == ["m.zarr"]
    assert names(place) == ["old"]


@pytest.mark.skipif(os.name != "posix", reason="there is no umask")
def test_the_user_s_umask_says_who_may_read(tmp_path):
    before = os.umask(0o027)
    try:
        with written_whole(tmp_path / "c.json"):
            pass
        with written_whole(tmp_path / "m.zarr", folder=True):
            pass
    finally:
        os.umask(before)
    assert (tmp_path / "c.json").stat().st_mode & 0o777 == 0o640
    assert (tmp_path / "m.zarr").stat().st_mode & 0o777 == 0o750


def left(folder, process, hours, ending=".json"):
    """What a program of that number left so many hours ago."""
    path = folder / f".sowcal-part-{process}-0123abcd{ending}"
    path.mkdir() if ending == ".zarr" else path.write_text("half")
    then = time.time() - 3600 * hours
    os.utime(path, (then, then))
    return path


@POSIX
@pytest.mark.parametrize(
    ("whose", "hours", "goes"),
    [
        ("dead", 2, True),
        ("dead", 0.5, False),  # perhaps another computer's, over a network folder
        ("living", 2, False),
        ("living", 23, False),
        ("living", 25, True),  # the number has been given again
        ("absurd", 2, True),
    ],
)
@pytest.mark.parametrize("ending", [".json", "", ".zarr"])
def test_what_a_killed_program_left_goes_with_the_next_write(tmp_path, dead, whose, hours, goes, ending):
    path = left(tmp_path, {"dead": dead, "living": os.getppid(), "absurd": 10**30}[whose], hours, ending)
    write_text(tmp_path / "another.txt", "text")
    assert path.exists() != goes


def test_where_nobody_can_be_asked_for_processes_a_day_decides(tmp_path, dead, monkeypatch):
    """On Windows a signal to ask would be one that ends."""
    monkeypatch.setattr(module, "_MAY_ASK", False)
    monkeypatch.setattr(os, "kill", lambda *_: pytest.fail("a signal was sent"))
    new = left(tmp_path, dead, 23)
    old = left(tmp_path, dead, 25, "")
    write_text(tmp_path / "c.txt", "text")
    assert new.exists()
    assert not old.exists()


@POSIX
def test_nothing_else_goes(tmp_path, dead):
    """Files of the user's that look alike; and a link is taken away, not what it leads to."""
    kept = [".sowcal-part-x-0123abcd.json", f".sowcal-part-{dead}-0123abcd.zarr.old", f"sowcal-part-{dead}-0123abcd.nc",
            f".sowcal-part-{dead}-0123abcd.json~", ".c-abc.json"]  # fmt: skip
    for name in kept:
        (tmp_path / name).touch()
        os.utime(tmp_path / name, (0, 0))
    target = tmp_path / "folder"
    target.mkdir()
    (target / "dear").touch()
    link = tmp_path / f".sowcal-part-{dead}-0123abcd.zarr"
    link.symlink_to(target)
    os.utime(link, (0, 0), follow_symlinks=False)
    write_text(tmp_path / "c.txt", "text")
    assert names(tmp_path) == sorted([*kept, "c.txt", "folder"])
    assert names(target) == ["dear"]


def test_finished_blocks_are_swept_too(tmp_path, dead):
    out = tmp_path / "map.nc"
    parts = PartFolder(out, "0" * 32)
    parts.put("y0-1-x0-1", {"a": np.arange(3)})
    left(parts_of(out), dead, 0.5, ".npz")
    assert parts.get("y0-1-x0-1")["a"].tolist() == [0, 1, 2]
    parts.clear()
    assert not parts_of(out).exists()
