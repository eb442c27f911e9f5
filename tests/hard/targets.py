"""What is fuzzed, and what counts as a defect.

A reader may read or refuse (`SowcalError` in one sentence). A defect is any other exception, a warning that falls
through to the screen, a result that breaks the promises of a record, an answer that is no JSON, a file left half
written, or more than 20 s.
"""

from __future__ import annotations

import os
import shutil
import signal
import sys
import traceback
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
import samples
from grower_targets import GROWER
from judge import Defect, ask, sound
from mutate import VALUES, Pick, damaged, odd_text

from sowcal.crops.own_values import with_own_values
from sowcal.errors import SowcalError
from sowcal.garden.garden_file import read_garden_file
from sowcal.outputs.map_file import PartFolder
from sowcal.weather import cache
from sowcal.weather.cf_dataset import dataset_of
from sowcal.weather.grid_file import open_grid
from sowcal.weather.open_site import open_weather, read_record

__all__ = ["TARGETS", "Defect", "one"]

SECONDS = 20


class _TooLong(BaseException):
    """More time than any file of this size is worth."""


def _weather(kind: str) -> Callable[[Path, Pick], None]:
    name, raw = samples.weather()[kind]

    def run(folder: Path, pick: Pick) -> None:
        path = folder / name
        path.write_bytes(damaged(raw, pick))
        paths: Path | list[Path] = path
        if kind == "ecad":
            paths = [path, folder / "b.txt"]
            (folder / "b.txt").write_text(samples.nights())
        form = {"csv": "csv", "ghcn": "ghcn", "netc": "netcdf"}.get(kind[:4].strip(), kind) if pick(3) == 0 else None
        sound(read_record(paths, form=form, latitude=40.1, longitude=-2.9, elevation=10.0))

    return run


def _grid(folder: Path, pick: Pick) -> None:
    kinds = [k for k in samples.weather() if k.startswith("netcdf grid")]
    path = folder / "a.nc"
    path.write_bytes(damaged(samples.weather()[kinds[pick(len(kinds))]][1], pick))
    opened = open_grid(path)
    opened.latitudes()


def _zarr(folder: Path, pick: Pick) -> None:
    parts = samples.zarr()
    path = folder / "a.zarr"
    chosen = sorted(parts)[pick(len(parts))]
    for name, raw in parts.items():
        (path / name).parent.mkdir(parents=True, exist_ok=True)
        (path / name).write_bytes(damaged(raw, pick) if name == chosen else raw)
    sound(read_record(path, latitude=40.1, longitude=-2.9))


def _site(text: str) -> Callable[[Path, Pick], None]:
    def run(folder: Path, pick: Pick) -> None:
        (folder / "record.csv").write_bytes(samples.weather()["csv in parts"][1])
        (folder / "a.toml").write_bytes(damaged(text.encode(), pick))
        site, record = open_weather(folder / "a.toml")
        sound(record)
        if not -90 <= site.latitude <= 90:
            raise Defect("a latitude off the globe")

    return run


def _garden(folder: Path, pick: Pick) -> None:
    (folder / "a.toml").write_bytes(damaged(samples.GARDEN.encode(), pick))
    read_garden_file(folder / "a.toml")


def _crops(folder: Path, pick: Pick) -> None:
    name = sorted(samples.CROPS)[pick(len(samples.CROPS))]
    (folder / name).write_bytes(damaged(samples.CROPS[name].encode(), pick))
    with_own_values((str(folder / name),))


def _cache(folder: Path, pick: Pick) -> None:
    """A kept record is the same as before or absent, never another."""
    before = samples.record()
    path = cache.keep("90001", before)
    assert path is not None
    path.write_bytes(damaged(path.read_bytes(), pick))
    got = cache.kept("90001")
    if got is not None and cache.fingerprint(dataset_of(got)) != cache.fingerprint(dataset_of(before)):
        raise Defect("a damaged record of the cache was taken for sound")
    cache.kept_records()
    cache.clear()


def _block(folder: Path, pick: Pick) -> None:
    """A finished block of a map likewise."""
    kept = PartFolder(folder / "map.nc", "0" * 32)
    kept.put("y0-1-x0-1", {"a": np.arange(12.0).reshape(3, 2, 2)})
    path = next(kept.folder.iterdir())
    path.write_bytes(damaged(path.read_bytes(), pick))
    got = kept.get("y0-1-x0-1")
    if got is not None and "a" in got and not np.array_equal(got["a"], np.arange(12.0).reshape(3, 2, 2)):
        raise Defect("a damaged block was taken for sound")


CROP_WORDS = ("lettuce", "tomato", "rhubarb", "apple", "broad", "bean")


def _commands_on_files(folder: Path, pick: Pick) -> None:
    """A damaged weather file taken through a whole command."""
    kinds = [k for k in samples.weather() if k != "ecad"]
    name, raw = samples.weather()[kinds[pick(len(kinds))]]
    raw = damaged(raw, pick)
    (folder / name).write_bytes(raw)
    site = folder / "site.toml"
    site.write_text(samples.SITE_OF_FILE.split("[weather]")[0] + f'[weather]\nsource = "file"\nfile = "{name}"\n')
    place = str(folder / name) if pick(2) else str(site)
    calls = (
        ["climate", place, "--json"],
        ["weather", "check", place],
        ["weather", "trend", place, "--json"],
        ["weather", "export", place, "--out", str(folder / ("out.csv" if pick(2) else "out.nc"))],
        ["rate", place, "lettuce", "--json"],
        ["chart", place, "radish"],
        ["week", place, "pea", "--date", "2021-04-01", "--out", str(folder / "out.ics")],
    )
    ask(calls[pick(len(calls))], folder)


OPTIONS = (
    "--json", "--ascii", "--width", "--reliability", "--least-yield", "--near-best", "--longest", "--with", "--crops",
    "--date", "--ahead", "--most-water", "--year", "--years", "--order", "--sort", "--first-month", "--out",
    "--possible", "--landscape", "--basis", "--version", "--help", "-h", "--", "--chill", "--workers", "--block",
    "--variable", "--try", "--forecast", "--bed-day",
)  # fmt: skip
COMMANDS = (
    "climate", "rate", "chart", "compare", "garden", "week", "season", "page", "map", "weather", "crops", "", "help",
)  # fmt: skip
ENDS = (".png", ".svg", ".pdf", ".json", ".ics", ".html", ".csv", ".nc", ".zarr", ".txt", "")
PLACES = ("", "sallowdene", "Sallowdene", "-31.9,115.9x", "91,0", "nan,0", "none.toml", "check", "list", "trend", ".")


def _command_line(folder: Path, pick: Pick) -> None:
    """Words of a call put together at random."""
    command = COMMANDS[pick(len(COMMANDS))]
    words = [command]
    for _ in range(pick(4)):
        words.append(
            (CROP_WORDS, PLACES, VALUES, (odd_text(pick),))[which][pick(len((CROP_WORDS, PLACES, VALUES, "x")[which]))]
            if (which := pick(4)) >= 0
            else ""
        )
    if command in ("chart", "rate", "week", "page", "compare"):
        words.append(CROP_WORDS[pick(4)])  # without a crop all are worked out, which takes long
    for _ in range(pick(4)):
        words.append(OPTIONS[pick(len(OPTIONS))])
        if pick(4):
            words.append(odd_text(pick) if pick(4) == 0 else VALUES[pick(len(VALUES))])
    if pick(3) == 0:
        words += ["--out", str(folder / ("out" + ENDS[pick(len(ENDS))]))]
    words = [w.replace("\0", "") for w in words]  # no system hands a program such a word
    if command == "weather" and "fetch" in words:
        words.remove("fetch")  # nothing is asked of the network
    ask(words, folder)


TARGETS: dict[str, Callable[[Path, Pick], None]] = {
    **{kind: _weather(kind) for kind in samples.weather()},
    "grid of a map": _grid,
    "site file, of a record": _site(samples.SITE_OF_FILE),
    "site file, of normals": _site(samples.SITE_OF_NORMALS),
    "garden file": _garden,
    "crop file": _crops,
    "kept record": _cache,
    "finished block": _block,
    "commands on damaged files": _commands_on_files,
    "command line": _command_line,
    **GROWER,
}
if samples.zarr():
    TARGETS["zarr"] = _zarr


def _ring(*_: object) -> None:
    raise _TooLong


def one(name: str, folder: Path, pick: Pick) -> str:
    """Try one input.

    Returns
    -------
    str
        'read' or 'refused'.

    Raises
    ------
    Defect
        With what went wrong and where.
    """
    here = folder / "input"
    shutil.rmtree(here, ignore_errors=True)
    here.mkdir(parents=True)
    at = os.getcwd()
    os.chdir(here)
    unheard: list[str] = []
    hook, sys.unraisablehook = sys.unraisablehook, lambda lost: unheard.append(f"{lost.object}: {lost.exc_value}")
    before = signal.signal(signal.SIGALRM, _ring)
    signal.alarm(SECONDS)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            # of other packages' own making, and shown to nobody who does not ask for them
            for kind in (DeprecationWarning, PendingDeprecationWarning, ResourceWarning, ImportWarning):
                warnings.simplefilter("ignore", kind)
            TARGETS[name](here, pick)
        return "read"
    except SowcalError as problem:
        text = str(problem)
        if not 15 < len(text) < 2000:
            raise Defect(f"a refusal of {len(text)} letters: {text[:200]!r}") from None
        return "refused"
    except Defect:
        raise
    except _TooLong:
        raise Defect(f"more than {SECONDS} s") from None
    except Exception as problem:
        place = traceback.extract_tb(problem.__traceback__)
        ours = [f for f in place if f"{os.sep}sowcal{os.sep}" in f.filename] or place
        where = f"{Path(ours[-1].filename).name}:{ours[-1].lineno}"
        raise Defect(f"{type(problem).__name__} in {where}: {problem}") from problem
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)
        os.chdir(at)
        sys.unraisablehook = hook
        if unheard:
            raise Defect(f"a traceback is shown while tidying up: {unheard[0]}")
