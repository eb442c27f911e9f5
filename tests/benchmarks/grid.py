"""Rows on a whole grid: chill and crops by two workers of dask, their memory, and whether time grows with the cells.

The work is done in a process of its own, so that its memory is that of the grid alone.
"""

from __future__ import annotations

import importlib.util
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from crops import CROPS
from measure import Row, Size, side_by_side

import sowcal
from sowcal.crops.handbook import handbook
from sowcal.seasons.site_days import SiteDays
from sowcal.settings import Settings
from sowcal.suitability.verdicts import judge_crops

__all__ = ["rows"]

WORKERS = 2
_BYTES = 4 * 2**30  # held by all processes together at their greatest
_EVERY = 3  # days between starts, where they are not walked every day
# Time for a cell of the whole grid against one of a quarter of it; more than this is not 'linear'.
_LINEAR = 1.2
_BAND = 10  # rows of the grid that are made up at once, and cells along both sides of a stored chunk


def rows(size: Size) -> list[Row]:
    """All rows on the grid."""
    found = _in_a_process_of_its_own(size)
    years, out = size.years, []
    for work, (ny, nx) in (
        ("chill", size.chill_grid),
        ("crops", size.crops_grid),
    ):
        named = f"grid of {ny} x {nx}, {years} years, {WORKERS} workers"
        what = "chill portions" if work == "chill" else f"best windows of {size.grid_crops} crops"
        whole, part = (found[f"{work} {which}"] for which in ("whole", "part"))
        # one process would take what both processors spend
        out.append(Row(f"{what}, {named}, by the clock", "one worker", whole["seconds"], whole["processor"], least=1.9))
        each = (f["processor"] / f["cells"] for f in (whole, part))
        out.append(Row(f"{what}, a cell of the whole grid", "a cell of a quarter of it", *each, most=_LINEAR))
    single, each = found["single"], found["crops whole"]
    here, third = (f["processor"] / f["cells"] for f in (each, found["crops third"]))
    many, call = f"best windows of {size.grid_crops} crops, a cell of a grid", "the same crops by the single-site call"
    out.append(Row(many, call, here, single, most=1.1))
    out.append(Row(f"{many}, starts every {_EVERY} days", call, third, single, most=0.45))
    held = found["bytes"]
    out.append(Row("memory of all processes of both", "4 GiB", held / 1e6, _BYTES / 1e6, most=1.0, unit="MB"))
    return out


def _in_a_process_of_its_own(size: Size) -> dict[str, Any]:
    folders = (Path(sowcal.__file__).parents[1], Path(__file__).parent)
    paths = [*map(str, folders), os.environ.get("PYTHONPATH", "")]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(paths)}
    asked = json.dumps([size.chill_grid, size.crops_grid, size.years, size.grid_crops])
    call = [sys.executable, str(Path(__file__)), asked]
    done = subprocess.run(call, env=environment, capture_output=True, text=True, check=False)
    if done.returncode:
        raise AssertionError(f"the run over the grid ended with {done.returncode}: {done.stderr[-500:]}")
    return json.loads(done.stdout.splitlines()[-1])


def _made_up(path: Path, ny: int, nx: int, years: int) -> None:
    """Write an invented grid as a Zarr store, band by band, so that it need never be held as a whole."""
    source = Path(__file__).parents[1] / "grid" / "made_up.py"
    spec = importlib.util.spec_from_file_location("made_up_grids", source)
    assert spec is not None
    assert spec.loader is not None
    made_up = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made_up)
    for south in range(0, ny, _BAND):
        band = made_up.made_up_grid(
            ny=min(_BAND, ny - south), nx=nx, years=years, sea=0, latitude=36.0 + 0.1 * south, dtype="float32"
        )
        chunks = {"tasmin": (band.sizes["time"], _BAND, _BAND), "tasmax": (band.sizes["time"], _BAND, _BAND)}
        if south:
            band.to_zarr(path, append_dim="lat")
        else:
            band.to_zarr(path, encoding={name: {"chunks": chunk} for name, chunk in chunks.items()}, zarr_format=2)


def _peak_bytes() -> int:
    """Greatest memory that this process has held."""
    status = Path("/proc/self/status")
    if status.exists():
        (line,) = (x for x in status.read_text().splitlines() if x.startswith("VmHWM"))
        return int(line.split()[1]) * 1024
    import resource

    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most if sys.platform == "darwin" else most * 1024


def _timed(work: Any, path: Path, client: Any) -> dict[str, float]:
    """Seconds, processor seconds of all processes, and cells; all cells must have been judged."""

    def processor() -> float:
        return sum(client.run(time.process_time).values()) + time.process_time()

    begin, before = time.perf_counter(), processor()
    found = work(path)
    seconds, spent = time.perf_counter() - begin, processor() - before
    name = "chill_portions_middle" if "chill_portions_middle" in found else "suitability_class"
    values = found[name].values
    if not (values == values).all():
        raise AssertionError("some cells were not judged")
    return {"seconds": seconds, "processor": spent, "cells": found[name].shape[-1] * found[name].shape[-2]}


def _single_site(path: Path, crops: int) -> float:
    """Processor seconds of the same crops at one of the cells, by the call that answers for a single site."""
    import xarray as xr

    book = handbook()
    with xr.open_zarr(path) as grid:
        cell = grid.isel(lat=0, lon=0).load()
    low, high = (cell[name].values.astype(float) for name in ("tasmin", "tasmax"))
    days = cell["time"].values.astype("datetime64[D]")
    latitude, chosen = float(cell["lat"]), [book[name] for name in CROPS[:crops]]
    if np.nanmean(high) > 100.0:
        low, high = low - 273.15, high - 273.15

    def ask() -> None:
        judge_crops(SiteDays(low, high, days[0], latitude), chosen, book)

    return side_by_side(ask, repeats=5)[0]


def _measure(chill_grid: Sequence[int], crops_grid: Sequence[int], years: int, crops: int) -> dict[str, Any]:
    """Chill and crops, each over a grid and over a quarter of it, by workers as the command starts them."""
    from distributed import default_client

    from sowcal.grids.cells import workers

    works = {
        "chill": (sowcal.chill_map, chill_grid),
        "crops": (lambda path: sowcal.map_crop(path, CROPS[:crops]), crops_grid),
    }
    out: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as folder, workers(WORKERS):
        client = default_client()
        client.wait_for_workers(WORKERS)
        few = Path(folder) / "few.zarr"
        _made_up(few, 2, WORKERS, years)
        for name, (work, (ny, nx)) in works.items():
            work(few)  # imports and the handbook are read beforehand
            for which, size in (("part", (ny // 2, nx // 2)), ("whole", (ny, nx))):
                path = Path(folder) / f"{name} {which}.zarr"
                _made_up(path, *size, years)
                out[f"{name} {which}"] = _timed(work, path, client)
        every = Settings(every=_EVERY)
        path = Path(folder) / "crops whole.zarr"
        out["crops third"] = _timed(lambda p: sowcal.map_crop(p, CROPS[:crops], every), path, client)
        out["single"] = _single_site(path, crops)
        out["bytes"] = sum(client.run(_peak_bytes).values()) + _peak_bytes()
    return out


if __name__ == "__main__":
    print(json.dumps(_measure(*json.loads(sys.argv[1]))))
