"""Threads, processes, a cluster and any cut of the grid give the same bits; a killed worker loses nothing."""

import importlib.util
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import dask
import numpy as np
import pytest
import xarray as xr

import sowcal
from sowcal.grids import run as running
from sowcal.outputs.map_file import PartFolder, parts_of

_spec = importlib.util.spec_from_file_location("made_up_grids", Path(__file__).with_name("made_up.py"))
made_up = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(made_up)

CROPS = ["courgette", "fig"]


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    out = tmp_path_factory.mktemp("grid") / "grid.nc"
    made_up.made_up_grid(ny=4, nx=5, years=4).to_netcdf(out, engine="scipy")
    return out


@pytest.fixture(scope="module")
def alone(path):
    """Worked out in this process, all cells in one block."""
    with dask.config.set(scheduler="synchronous"):
        return sowcal.map_crop(path, CROPS), sowcal.chill_map(path)


def same_bits(got, expected):
    xr.testing.assert_identical(got, expected)
    for name in expected.data_vars:
        assert got[name].values.tobytes() == expected[name].values.tobytes(), name


@pytest.fixture(scope="module")
def cluster():
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as here,
        distributed.Client(here, set_as_default=False) as client,
    ):
        client.wait_for_workers(2)
        yield client


@pytest.mark.parametrize("scheduler", ["threads", "processes"])
def test_schedulers_agree(path, alone, scheduler):
    with dask.config.set(scheduler=scheduler, num_workers=2):
        same_bits(sowcal.map_crop(path, CROPS, cells=6), alone[0])
        if scheduler == "threads":
            same_bits(sowcal.chill_map(path, cells=6), alone[1])


def test_a_cluster_of_two_workers_agrees_and_both_work(path, alone, cluster):
    def executed(dask_worker):
        return dask_worker.state.executed_count

    before = cluster.run(executed)
    with cluster.as_current():
        same_bits(sowcal.map_crop(path, CROPS, cells=1), alone[0])
        same_bits(sowcal.chill_map(path, cells=3), alone[1])
    after = cluster.run(executed)
    assert len(before) == 2
    assert all(after[worker] > before[worker] for worker in before)


def test_a_killed_worker_loses_nothing(path, alone, cluster):
    """SIGKILL to one of two workers when the first blocks are done; dask works out again what it held."""
    before = cluster.run(os.getpid)
    killed = []

    def after_two_blocks(done, total, reused):
        if done == 2 and not killed:
            killed.append(next(iter(before.values())))
            os.kill(killed[0], signal.SIGKILL)

    with cluster.as_current():
        same_bits(sowcal.map_crop(path, CROPS, cells=1, progress=after_two_blocks), alone[0])
    assert killed
    cluster.wait_for_workers(2)
    assert killed[0] not in cluster.run(os.getpid).values()


@pytest.mark.parametrize("cells", [1, 7, 1000])
def test_the_cut_of_the_grid_does_not_matter(path, alone, cells):
    with dask.config.set(scheduler="synchronous"):
        same_bits(sowcal.map_crop(path, CROPS, cells=cells), alone[0])
        same_bits(sowcal.chill_map(path, cells=cells), alone[1])


@pytest.mark.parametrize("chunks", [{"time": 100}, {"lat": 3, "lon": 2}, {"time": -1, "lat": 4, "lon": 5}])
def test_a_dataset_in_any_chunks(path, alone, chunks):
    with dask.config.set(scheduler="synchronous"), xr.open_dataset(path) as data:
        got = sowcal.map_crop(data.chunk(chunks), CROPS)
        assert got.attrs["record_fingerprint"] == alone[0].attrs["record_fingerprint"]
        same_bits(got.assign_attrs(alone[0].attrs), alone[0])


def test_nothing_is_read_before_it_is_worked_out(path):
    from sowcal.weather.grid_file import open_grid

    grid = open_grid(path)
    assert not grid.tasmin.variable._in_memory
    assert not grid.tasmax.variable._in_memory


class Stop(Exception):
    pass


def finished_blocks(out):
    """Blocks that are kept for an output; one that is being written has a name that begins with a dot."""
    return list(parts_of(out).glob("[!.]*.npz"))


def test_an_interrupted_run_goes_on_from_its_finished_blocks(path, alone, tmp_path, monkeypatch):
    """Stopped after three of seven blocks: the next run works out four, and reads the other three as they were kept."""
    out = tmp_path / "map.nc"
    worked = []
    block = running._block
    monkeypatch.setattr(running, "_block", lambda *a: worked.append(1) or block(*a))

    def keep(word):
        return PartFolder(out, word)

    def stop(done, total, reused):
        if done == 3:
            raise Stop

    with dask.config.set(scheduler="synchronous"):
        with pytest.raises(Stop):
            sowcal.map_crop(path, CROPS, cells=3, keep=keep, progress=stop)
        kept = sorted(finished_blocks(out))
        assert len(kept) == 3
        worked.clear()
        told = []
        got = sowcal.map_crop(path, CROPS, cells=3, keep=keep, progress=lambda *a: told.append(a))
        total = told[-1][1]
        assert told[0] == (3, total, 3)
        assert len(worked) == total - 3
        same_bits(got, alone[0])

        # what is kept is truly taken over: a mark put into a kept block shows on the map
        word, _, name = kept[0].stem.partition("-")
        values = PartFolder(out, word).get(name)
        PartFolder(out, word).put(name, values | {"reliability": np.full_like(values["reliability"], 0.4321)})
        worked.clear()
        marked = sowcal.map_crop(path, CROPS, cells=3, keep=keep)
        assert not worked
        assert (marked["reliability"] == 0.4321).any()

        # a block that cannot be read is worked out again
        kept[0].write_bytes(b"half of a bl")
        same_bits(sowcal.map_crop(path, CROPS, cells=3, keep=keep), alone[0])
        assert len(worked) == 1


def other_settings(path):
    return sowcal.map_crop, (path, CROPS, sowcal.Settings(reliability=0.9)), {}


def other_crop(path):
    return sowcal.map_crop, (path, ["courgette", "olive"]), {}


def other_change(path):
    return sowcal.map_crop, (path, CROPS), {"what_ifs": ["mulch"]}


def chill(path):
    return sowcal.chill_map, (path,), {}


def touched_file(path):
    os.utime(path)
    return sowcal.map_crop, (path, CROPS), {}


@pytest.mark.parametrize("asked", [other_settings, other_crop, other_change, chill, touched_file])
def test_blocks_of_another_question_are_never_taken_over(path, tmp_path, asked):
    out = tmp_path / "map.nc"

    def first_word(done, total, reused):
        told.append((done, reused))
        raise Stop

    told = []
    keep = {"cells": 1000, "keep": lambda word: PartFolder(out, word)}
    with dask.config.set(scheduler="synchronous"):
        sowcal.map_crop(path, CROPS, **keep)
        call, words, more = asked(path)
        with pytest.raises(Stop):
            call(*words, **keep, progress=first_word, **more)
        with pytest.raises(Stop):
            sowcal.map_crop(path, CROPS, **keep, progress=first_word)
    assert told[0] == (0, 0)
    assert told[1] == ((0, 0) if asked is touched_file else (1, 1))


def test_the_command_killed_and_called_again(path, alone, tmp_path):
    """SIGKILL to the whole command once blocks are finished; called again it says how many it took over."""
    out = tmp_path / "map.nc"
    call = [sys.executable, "-m", "sowcal", "map", str(path), *CROPS, "--out", str(out)]
    call += ["--workers", "1", "--block", "1"]
    run = subprocess.Popen(call, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        until = time.monotonic() + 120
        while len(finished_blocks(out)) < 2 and time.monotonic() < until and run.poll() is None:
            time.sleep(0.01)
    finally:
        run.kill()
        run.wait()
    finished = len(finished_blocks(out))
    assert finished >= 2
    assert not out.exists()
    again = subprocess.run(call, capture_output=True, text=True, timeout=300)
    assert again.returncode == 0, again.stderr
    assert f"{finished} of 20 blocks were finished by an earlier run" in again.stderr
    assert not parts_of(out).exists()
    assert [p.name for p in tmp_path.iterdir()] == ["map.nc"]
    with xr.open_dataset(out) as got:
        for name in alone[0].data_vars:
            np.testing.assert_array_equal(got[name].values, alone[0][name].values, err_msg=name)


def test_an_interrupt_stops_it_in_two_lines(tmp_path):
    """Ctrl-C reaches every process of a terminal; the workers leave it to the command, which keeps what is finished."""
    pytest.importorskip("distributed")
    # large enough that it is still at work when this process, on a busy machine, has seen two blocks and says so
    wide, out = tmp_path / "wide.nc", tmp_path / "map.nc"
    made_up.made_up_grid(ny=16, nx=16, years=4).to_netcdf(wide, engine="scipy")
    call = [sys.executable, "-m", "sowcal", "map", str(wide), *CROPS, "tomato", "lettuce", "carrot", "--out", str(out)]
    run = subprocess.Popen(
        [*call, "--workers", "2", "--block", "1"], stderr=subprocess.PIPE, text=True, start_new_session=True
    )
    try:
        until = time.monotonic() + 120
        while len(finished_blocks(out)) < 2 and time.monotonic() < until and run.poll() is None:
            time.sleep(0.01)
        os.killpg(run.pid, signal.SIGINT)
        _, said = run.communicate(timeout=120)
    finally:
        run.kill()
    assert run.returncode == 130
    assert said.splitlines() == [
        "sowcal: the blocks that are finished are kept; the same call goes on from them",
        "sowcal: stopped",
    ]
    assert not out.exists()
    assert len(finished_blocks(out)) >= 2
