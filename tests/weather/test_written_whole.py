"""Outputs and kept records are whole or not there, and nothing else in a folder is touched."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from sowcal.errors import InputError
from sowcal.files import write_whole
from sowcal.outputs.files import write_text
from sowcal.outputs.map_file import PartFolder, _moved_there, parts_of


def names(folder):
    return sorted(p.name for p in folder.iterdir())


@pytest.fixture(params=["as here", "no file without a name", "no way to name one"])
def way(request, monkeypatch):
    """As this system writes; as one that knows no files without a name; and one that has none of /proc."""
    if request.param == "no file without a name":
        monkeypatch.delattr(os, "O_TMPFILE", raising=False)
    elif request.param == "no way to name one":

        def link(*_, **__):
            raise FileNotFoundError(2, "No such file or directory")

        monkeypatch.setattr(os, "link", link)
    return request.param


def test_what_stood_there_is_replaced_by_the_whole(tmp_path, way):
    place = tmp_path / "c.json"
    for text in (b"old", b"new and longer", b"", b"x" * 3_000_000):
        write_whole(place, memoryview(text))
        assert place.read_bytes() == text
        assert names(tmp_path) == ["c.json"]


@pytest.mark.parametrize("name", ["a" * 255, "no ending", "half.", "name.sp ace"])
def test_names_that_are_long_or_odd(tmp_path, way, name):
    for _ in range(2):
        write_whole(tmp_path / name, b"whole")
    assert names(tmp_path) == [name]


def test_a_write_that_fails_leaves_what_stood_there_and_nothing_else(tmp_path, way, monkeypatch):
    place = tmp_path / "c.json"
    place.write_text("old")
    monkeypatch.setattr(Path, "replace", lambda *_: (_ for _ in ()).throw(OSError("no room")))
    with pytest.raises(OSError, match="no room"):
        write_whole(place, b"new")
    with pytest.raises(OSError, match=r"No such file"):
        write_whole(tmp_path / "none" / "c.json", b"new")
    assert names(tmp_path) == ["c.json"]
    assert place.read_text() == "old"


@pytest.mark.skipif(not hasattr(os, "O_TMPFILE"), reason="files without a name are Linux's")
def test_nothing_bears_a_name_before_it_is_whole(tmp_path):
    """What stands in the folder is listed at each step with files: a kill there leaves just that."""
    seen = []

    def hear(event, given):
        if listening and event in ("open", "os.link", "os.rename") and str(tmp_path) in str(given):
            seen.append((event, sorted(e.name for e in Path(tmp_path).iterdir())))

    listening = True
    sys.addaudithook(hear)
    write_whole(tmp_path / "new.json", b"new")
    first, seen = seen, []
    write_whole(tmp_path / "new.json", b"newer")
    listening = False
    assert [n for _, n in first]
    assert all(n == [] for _, n in first)
    assert {len(n) for event, n in seen if event != "os.rename"} == {1}
    assert [len(n) for event, n in seen if event == "os.rename"] == [2]  # the moment between two calls


def test_a_store_takes_the_place_of_another(tmp_path):
    place = tmp_path / "m.zarr"
    for n in range(2):
        _moved_there(place, lambda half, n=n: (half.mkdir(), (half / f"piece {n}").touch()))
        assert names(place) == [f"piece {n}"]
    assert names(tmp_path) == ["m.zarr"]


def test_a_store_that_cannot_be_made_leaves_the_old_one(tmp_path):
    place = tmp_path / "m.zarr"
    place.mkdir()
    (place / "old").touch()

    def fails(half):
        half.mkdir()
        raise OSError(28, "No space left on device")

    for make in (fails, lambda half: None):  # the second makes nothing that could be moved
        with pytest.raises(InputError, match="could not be written"):
            _moved_there(place, make)
        assert names(tmp_path) == ["m.zarr"]
        assert names(place) == ["old"]


@pytest.mark.skipif(os.name != "posix", reason="there is no umask")
def test_the_user_s_umask_says_who_may_read(tmp_path, way):
    before = os.umask(0o027)
    try:
        write_whole(tmp_path / "c.json", b"{}")
    finally:
        os.umask(before)
    assert (tmp_path / "c.json").stat().st_mode & 0o777 == 0o640


def left(folder, hours, name=".sowcal-part-0123456789abcdef"):
    """What a killed program left so many hours ago."""
    path = folder / name
    path.write_text("half")
    then = time.time() - 3600 * hours
    os.utime(path, (then, then))
    return path


def test_nothing_of_the_user_s_folder_is_taken_away(tmp_path):
    """Neither what a killed program may have left there, nor what looks alike, however old it is."""
    kept = [".sowcal-part-0123456789abcdef", ".sowcal-part-x123456789abcdef", ".sowcal-part-0123456789abcdef.old",
            ".sowcal-part-0123456789abcdef~", ".c-abc.json"]  # fmt: skip
    for name in kept:
        left(tmp_path, 1000, name)
    write_text(tmp_path / "c.txt", "text")
    write_text(tmp_path / "c.txt", "another")
    assert names(tmp_path) == sorted([*kept, "c.txt"])


def test_what_is_half_made_among_finished_blocks_goes_with_them(tmp_path):
    out = tmp_path / "map.zarr"
    parts = PartFolder(out, "0" * 32)
    parts.put("y0-1-x0-1", {"a": np.arange(3)})
    left(parts_of(out), 0.5)
    half = parts_of(out) / ".sowcal-part-fedcba9876543210"  # as a program killed while it wrote a store leaves it
    half.mkdir()
    (half / "piece").touch()
    assert parts.get("y0-1-x0-1")["a"].tolist() == [0, 1, 2]
    parts.clear()
    assert names(tmp_path) == []
