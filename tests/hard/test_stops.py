"""Programs stopped, starved and set against each other: a few trials of `faults.py`, and the pieces that bear them."""

from __future__ import annotations

import multiprocessing
import os
import random
import sqlite3
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import filelock
import numpy as np
import pytest

from sowcal.files import alone
from sowcal.kept_files import cache_folder
from sowcal.weather import cache
from sowcal.weather.fetch_process import is_whole_list, provide_list
from sowcal.weather.record import DailyRecord, StationFacts, daily_record
from sowcal.weather.stations import _asked

if sys.platform == "win32":
    pytest.skip("trials are forked", allow_module_level=True)

import faults
import together
from local_service import write_station_list


@pytest.fixture(scope="module")
def stage(tmp_path_factory):
    with faults.prepared(tmp_path_factory.mktemp("stage")) as made:
        yield made


# a clock that jumps takes many fetches: the program tries it, and `_asked` below is where it is decided
@pytest.mark.parametrize("kind", [k for k in faults.KINDS if "clock" not in k])
def test_a_trial_of_each_kind(stage, kind):
    stage.chance = random.Random(kind)
    assert faults.KINDS[kind](stage)


def test_programs_together_lose_nothing(stage):
    """A moment of what `together.py` does for minutes: killed, and others in their place."""
    done = together.run(stage, 2.0, seed=1)
    assert done["killed"] > 4
    assert done["lines that stand"]


@pytest.mark.parametrize(
    ("told", "stands", "words"),
    [
        ("line\tmine", "note", "are lost"),
        ("line\tmine", "note\nmine\nanother", "unasked"),
        ("line\tmine", "note\nmine\nmine", "twice"),
        ("star\tkale\tTrue", "note", "is lost"),
        ("move\tradish\t107", "note", "is lost"),
    ],
)
def test_what_is_lost_by_programs_together_is_seen(stage, told, stands, words):
    """The judge itself: what was told to be done and does not stand, or stands and was not asked for."""
    shared = together.Shared(stage.place())
    shared.log.write_text(stands)
    shared.tell(0)(f"{told}\ndone")
    with pytest.raises(faults.Fault, match=words):
        together._stands(shared)


def test_a_lock_that_somebody_holds_is_seen(stage):
    shared = together.Shared(stage.place())
    with filelock.FileLock(shared.plot / ".lock-x"), ThreadPoolExecutor(1) as pool, pytest.raises(filelock.Timeout):
        pool.submit(together._unheld, shared).result()


def test_a_program_that_writes_in_place_would_be_found_out(stage, monkeypatch):
    """The trial itself: an output that is written piece by piece over the old one is a fault."""

    def careless(words, name):
        def work():
            whole = stage.reference["c.json"][0]
            with open(name, "wb") as file:
                for k in range(0, len(whole), 64):
                    file.write(whole[k : k + 64])
                    file.flush()
                    time.sleep(0.002)

        return work

    stage.chance = random.Random(1)
    faults._whole(stage, "c.json")
    monkeypatch.setattr(faults, "OUTPUTS", {"c.json": faults.OUTPUTS["c.json"]})
    monkeypatch.setattr(faults, "_command", careless)

    def trials():
        for _ in range(12):
            faults.kill_output(stage)

    with pytest.raises(faults.Fault, match="neither the old nor the new"):
        trials()


def test_a_list_of_stations_that_was_cut_is_known(tmp_path):
    path = write_station_list(tmp_path / "stations.db")
    raw = path.read_bytes()
    assert is_whole_list(path)
    for size in (0, 50, 100, 4096, len(raw) - 1):
        path.write_bytes(raw[:size])
        assert not is_whole_list(path)
    path.write_bytes(b"<html>" * 99)
    assert not is_whole_list(path)
    assert not is_whole_list(tmp_path / "none.db")


class Lists:
    """Settings and stations as the service package has them: a list that is not there is fetched to its place."""

    def __init__(self, place, fetched):
        self.config = SimpleNamespace(stations_db_file=str(place), stations_db_ttl=1000)
        self.fetched, self.times = fetched, 0
        self.stations = self

    def meta(self, station):
        if not os.path.exists(self.config.stations_db_file):
            self.times += 1
            if self.fetched is None:
                raise OSError("offline")
            with open(self.config.stations_db_file, "wb") as file:
                file.write(self.fetched)
        sqlite3.connect(self.config.stations_db_file).execute("SELECT * FROM stations")


def test_the_list_is_fetched_beside_its_place_and_an_old_one_does_offline(tmp_path):
    raw = write_station_list(tmp_path / "made.db").read_bytes()
    place = tmp_path / "stations.db"
    online, offline, cut = Lists(place, raw), Lists(place, None), Lists(place, raw[:5000])
    for broken in (offline, cut):
        with pytest.raises((OSError, sqlite3.Error)):
            provide_list(broken)
        assert not place.exists()
    place.write_bytes(raw[:5000])  # as a program that was killed left it
    provide_list(online)
    assert place.read_bytes() == raw
    provide_list(online)
    assert online.times == 1  # it is fresh
    os.utime(place, (time.time() + 1e8,) * 2)  # by a clock that has gone back since
    provide_list(online)
    assert online.times == 2
    os.utime(place, (0, 0))
    for broken in (offline, cut):
        provide_list(broken)
        assert place.read_bytes() == raw
        os.utime(place, (0, 0))
    assert sorted(p.name for p in tmp_path.iterdir()) == ["made.db", "stations.db"]
    assert online.config.stations_db_file == str(place)


def record(last_known: str, asked_last: str) -> DailyRecord:
    days = np.arange("2018-01-01", "2021-03-01", dtype="datetime64[D]")
    values = np.where(days <= np.datetime64(last_known), 5.0, np.nan)
    station = StationFacts("90001", asked_first="2018-01-01", asked_last=asked_last)
    return replace(daily_record(days, {"tasmin": values, "tasmax": values + 5.0}), station=station)


@pytest.mark.parametrize(
    ("known", "asked", "end"),
    [
        ("2020-06-01", "2020-12-31", date(2020, 12, 31)),  # what it lacked then is not to be had
        ("2020-06-01", "2034-12-31", date(2020, 6, 1)),  # the clock was wrong
        ("2021-02-28", "2034-12-31", date(2021, 2, 28)),
    ],
)
def test_a_record_asked_for_in_the_future_is_known_as_far_as_it_goes(known, asked, end):
    assert _asked(record(known, asked), date(2021, 2, 28)) == (date(2018, 1, 1), end)


def _add_one(path, times):
    for _ in range(times):
        with alone(path.with_name(".lock")):
            number = int(path.read_text())
            time.sleep(0.001)
            path.write_text(str(number + 1))


def test_one_at_a_time(tmp_path):
    path = tmp_path / "number"
    path.write_text("0")
    others = [multiprocessing.get_context("fork").Process(target=_add_one, args=(path, 25)) for _ in range(3)]
    for one in others:
        one.start()
    for one in others:
        one.join()
    assert path.read_text() == "75"
    with alone(tmp_path / "none" / ".lock"):  # a folder that is not there costs nothing
        pass


def test_a_lock_that_is_not_had_in_time_costs_no_answer(tmp_path, monkeypatch):
    monkeypatch.setattr("sowcal.files._PATIENCE", 0.1)
    within = []
    with filelock.FileLock(tmp_path / ".lock"), ThreadPoolExecutor(1) as pool:

        def wait():
            with alone(tmp_path / ".lock"):
                within.append(True)

        pool.submit(wait).result()
    assert within == [True]


def test_what_killed_programs_left_in_the_cache_goes_by_the_command(own_folders):
    import samples

    folder = cache_folder()
    left = folder / ".sowcal-part-0123456789abcdef"
    left.write_bytes(b"half")
    os.utime(left, (0, 0))
    cache.keep("90001", samples.record())
    with cache.held("90001"):
        pass
    assert left.exists()
    assert cache.clear() == 1  # the record; what was left is gone too, and the lock, uncounted
    assert list(folder.iterdir()) == []
