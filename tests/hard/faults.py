"""Kill, fill, forbid and confuse, and count: `python tests/hard/faults.py --trials 20`.

Each trial is a process of its own, forked from this one so that it begins with its work. What must hold after each:
a file that stood there is the old one or the whole new one, a record of the cache is whole or absent, a refusal is one
sentence, and the next run, undisturbed, gives what a run gives that was never disturbed.
"""

from __future__ import annotations

import argparse
import contextlib
import multiprocessing
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent / "weather"), str(HERE.parents[1])]

__all__ = ["KINDS", "Fault", "Stage", "main", "prepared"]


class Fault(AssertionError):
    """Something was lost, half written, or did not recover."""


OUTPUTS = {
    "c.json": ["chart", "sallowdene", "radish", "--out"],
    "c.ics": ["chart", "sallowdene", "radish", "--year", "2021", "--out"],
    "c.svg": ["chart", "sallowdene", "radish", "--out"],
    "c.png": ["chart", "sallowdene", "radish", "--out"],
    "c.pdf": ["chart", "sallowdene", "radish", "--out"],
    "p.html": ["page", "sallowdene", "radish", "--out"],
    "r.csv": ["weather", "export", "site.toml", "--out"],
    "r.nc": ["weather", "export", "site.toml", "--out"],
    "q.json": ["weather", "check", "site.toml", "--out"],
}


class Stage:
    """A folder, a server with stations, and answers of runs that nothing disturbed."""

    def __init__(self, folder: Path, address: str, seed: int):
        self.folder, self.address, self.chance = folder, address, random.Random(seed)
        self.reference: dict[str, tuple[bytes, float]] = {}
        self.fetched: dict[tuple[int, date], str] = {}
        self.spent = 0

    def place(self) -> Path:
        """An empty folder with a site file."""
        self.spent += 1
        out = self.folder / f"trial-{self.spent}"
        out.mkdir()
        _site(out)
        return out


def _site(folder: Path) -> None:
    from samples import SITE_OF_NORMALS

    (folder / "site.toml").write_text(SITE_OF_NORMALS)


def child(work: Callable[[], int | None]) -> int:
    """Start work in a process of its own; what it prints goes to `said` in its folder."""
    pid = os.fork()
    if pid:
        return pid
    code = 70
    try:
        said = os.open("said", os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        for stream in (1, 2):
            os.dup2(said, stream)
        # what stands in their place in a program that collects them (pytest) would swallow the words
        sys.stdout, sys.stderr = (os.fdopen(stream, "w", closefd=False) for stream in (1, 2))
        code = work() or 0
    except BaseException:  # a fault of the program itself: told by its code and its words
        import traceback

        traceback.print_exc()
    finally:
        with contextlib.suppress(BaseException):
            sys.stdout.flush()
            sys.stderr.flush()
        os._exit(code)


def ended(pid: int) -> int:
    """Exit code; minus the signal where one ended it."""
    return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])


@contextlib.contextmanager
def inside(folder: Path) -> Iterator[None]:
    before = os.getcwd()
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)


def _command(words: list[str], name: str) -> Callable[[], int | None]:
    def work() -> int | None:
        from sowcal.__main__ import main as sowcal

        return sowcal([*words, name])

    return work


_STEPS = (
    "open",
    "os.link",
    "os.rename",
    "os.remove",
    "os.chmod",
    "os.mkdir",
    "os.truncate",
    "tempfile.mkstemp",
    "shutil.rmtree",
)


def _dying(work: Callable[[], int | None], event: int) -> Callable[[], int | None]:
    """Work that kills itself at the n-th opening, renaming or removing of a file: the moments between two steps.

    Which step it was stands in the file `step`.
    """

    def run() -> int | None:
        left = event
        step = os.open("step", os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)

        def hear(what: str, _: tuple) -> None:
            nonlocal left
            if what in _STEPS:
                left -= 1
                if left <= 0:
                    os.write(step, what.encode())
                    os.kill(os.getpid(), signal.SIGKILL)

        sys.addaudithook(hear)
        return work()

    return run


def _killed(stage: Stage, work: Callable[[], int | None], usual: float) -> int:
    """Run work and kill it: by the clock, or between two steps with files."""
    if stage.chance.random() < 0.5:
        return ended(child(_dying(work, stage.chance.randint(1, 40))))
    pid = child(work)
    time.sleep(stage.chance.uniform(0.0, usual * 1.1))
    with contextlib.suppress(ProcessLookupError):
        os.kill(pid, signal.SIGKILL)
    return ended(pid)


def _said(folder: Path) -> str:
    return (folder / "said").read_text(errors="replace")


def _whole(stage: Stage, name: str) -> tuple[bytes, float]:
    """What an output is where nothing disturbs it, and the seconds it takes."""
    if name not in stage.reference:
        folder = stage.place()
        begun = time.monotonic()
        with inside(folder):
            code = ended(child(_command(OUTPUTS[name], name)))
        if code:
            raise Fault(f"{name} could not be made at all: {_said(folder)}")
        stage.reference[name] = (folder / name).read_bytes(), time.monotonic() - begun
        shutil.rmtree(folder)
    return stage.reference[name]


def _refused(folder: Path, code: int, ours: tuple[int, ...] = (2,)) -> None:
    said = _said(folder)
    lines = [line for line in said.splitlines() if "short (" not in line and "generated from" not in line]
    if code not in ours or len(lines) != 1 or not lines[0].startswith("sowcal: "):
        raise Fault(f"exit code {code}, said {said[-800:]!r}")


def _nameless_files(folder: Path) -> bool:
    """Whether the folder's file system knows files without a name; elsewhere the whole write may leave its part."""
    try:
        os.close(os.open(folder, os.O_WRONLY | os.O_TMPFILE))
    except (AttributeError, OSError):
        return False
    return True


def kill_output(stage: Stage) -> str:
    """SIGKILL while an output is written over an old one."""
    name = stage.chance.choice(list(OUTPUTS))
    whole, usual = _whole(stage, name)
    folder = stage.place()
    (folder / name).write_bytes(b"the old one")
    with inside(folder):
        code = _killed(stage, _command(OUTPUTS[name], name), usual)
        if (folder / name).read_bytes() not in (b"the old one", whole):
            raise Fault(f"{name} is neither the old nor the new one")
        if left := list(Path().glob(".*")):
            # a file that stands there is replaced by one that has a name for the moment between two calls
            step = Path("step").read_text() if Path("step").exists() else "by the clock"
            if _nameless_files(folder) and step != "os.rename":
                raise Fault(f"left in the user's folder by the one killed: {left}")
        if ended(child(_command(OUTPUTS[name], name))) or (folder / name).read_bytes() != whole:
            raise Fault(f"{name} was not made in the next run: {_said(folder)}")
        if list(Path().glob(".*")) != left:
            raise Fault(f"the next run left or took away something of its own: {list(Path().glob('.*'))}")
    shutil.rmtree(folder)
    return "killed" if code == -signal.SIGKILL else "done before"


def full_disk(stage: Stage) -> str:
    """No room: a small tmpfs where that may be mounted, else a limit to the size of files."""
    name = stage.chance.choice(list(OUTPUTS))
    whole, _ = _whole(stage, name)
    room = stage.chance.randrange(1, max(len(whole) * 5 // 4, 2))
    folder = stage.place()
    disk = folder / "disk"
    disk.mkdir()
    size = max(room // 4096, 1) * 4096 + 8192
    mounted = _mount(disk, f"size={size}")
    try:
        with inside(folder):
            shutil.copy("site.toml", disk if mounted else folder / "disk")
            (disk / name).write_bytes(b"the old one")

            def work() -> int | None:
                os.environ["TMPDIR"] = str(folder)
                if not mounted:
                    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                    resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
                return _command(OUTPUTS[name], f"disk/{name}")()

            code = ended(child(work))
            now = (disk / name).read_bytes()
            if code == 0 and now != whole:
                raise Fault(f"{name} is not whole, and nothing is said")
            if code:
                _refused(folder, code)
                if now != b"the old one":
                    raise Fault(f"the old {name} is lost")
                if [p.name for p in disk.iterdir() if p.name not in (name, "site.toml")]:
                    raise Fault(f"left behind: {list(disk.iterdir())}")
    finally:
        if mounted:
            subprocess.run(["umount", "-l", disk], check=True)
    shutil.rmtree(folder)
    return "refused" if code else "room enough"


def _mount(folder: Path, options: str) -> bool:
    if os.geteuid() != 0 or not shutil.which("mount"):
        return False
    done = subprocess.run(["mount", "-t", "tmpfs", "-o", options, "tmpfs", folder], capture_output=True)
    return done.returncode == 0


def read_only(stage: Stage) -> str:
    """A folder that may not be written to: for an output, and for the cache."""
    folder = stage.place()
    closed = folder / "closed"
    closed.mkdir()
    mounted = _mount(closed, "ro")
    closed.chmod(0o555) if not mounted else None
    try:
        with inside(folder):
            if stage.chance.random() < 0.5:
                name = stage.chance.choice(list(OUTPUTS))
                if not mounted and os.geteuid() == 0:
                    return "not tried: no folder is closed to this user"
                _refused(folder, ended(child(_command(OUTPUTS[name], f"closed/{name}"))))
                if list(closed.iterdir()):
                    raise Fault("something was written after all")
            else:
                now = date(2021, 3, 1)
                if ended(child(_fetch(stage, closed, 2, now))) or _answer(folder) != _fresh(stage, 2, now):
                    raise Fault(f"a read-only cache costs the answer: {_said(folder)}")
    finally:
        if mounted:
            subprocess.run(["umount", "-l", closed], check=True)
    shutil.rmtree(folder)
    return "read-only"


def _fetch(stage: Stage, kept: Path, years: int, today: date, list_of_stations: Path | None = None):
    """Fetch a station's record into a cache and write a fingerprint of the answer to `answer`."""

    def work() -> int | None:
        from sowcal.errors import SowcalError
        from sowcal.weather.cache import fingerprint
        from sowcal.weather.cf_dataset import dataset_of
        from sowcal.weather.stations import get_station

        os.environ["SOWCAL_CACHE"] = str(kept)
        if list_of_stations is not None:
            os.environ["MS_STATIONS_DB_FILE"] = str(list_of_stations)
        try:
            record = get_station("90001", years=years, today=today)
        except SowcalError as problem:
            print(f"sowcal: {problem}")
            return problem.exit_code
        words = f"{fingerprint(dataset_of(record))} {record.warnings}"
        Path("answer.part").write_text(words)
        os.replace("answer.part", "answer")
        return 0

    return work


def _answer(folder: Path) -> str:
    return (folder / "answer").read_text()


def _fresh(stage: Stage, years: int, today: date) -> str:
    """The answer of a fetch into an empty cache that nothing disturbs."""
    if (years, today) not in stage.fetched:
        folder = stage.place()
        with inside(folder):
            if ended(child(_fetch(stage, folder / "kept", years, today))):
                raise Fault(f"nothing could be fetched at all: {_said(folder)}")
        stage.fetched[years, today] = _answer(folder)
        shutil.rmtree(folder)
    return stage.fetched[years, today]


def _sound_or_absent(kept: Path) -> None:
    from sowcal.weather.cache import _sound

    for path in kept.glob("station-*.nc"):
        if _sound(path) is None:
            raise Fault("a record of the cache is damaged")


def kill_fetch(stage: Stage) -> str:
    """SIGKILL while a record is fetched and kept, now and then with the list of stations to be fetched too."""
    folder = stage.place()
    kept, now = folder / "kept", date(2021, 3, 1)
    stations = folder / "stations.db" if stage.chance.random() < 0.4 else None
    with inside(folder):
        if stage.chance.random() < 0.5:  # over an older, shorter record
            ended(child(_fetch(stage, kept, 1, date(2020, 11, 20))))
        fresh = _fresh(stage, 3, now)
        code = _killed(stage, _fetch(stage, kept, 3, now, stations), 2.0)
        _sound_or_absent(kept)
        if ended(child(_fetch(stage, kept, 3, now, stations))) or _answer(folder) != fresh:
            raise Fault(f"the next fetch did not recover: {_said(folder)}")
        _sound_or_absent(kept)
    shutil.rmtree(folder)
    return "killed" if code == -signal.SIGKILL else "done before"


def clock(stage: Stage) -> str:
    """A clock that jumps forth and back between fetches: each answer is that of a fetch into an empty cache."""
    folder = stage.place()
    days = [date(2019, 6, 1), date(2020, 2, 29), date(2021, 1, 1), date(2021, 3, 1), date(2024, 7, 1), date(2035, 1, 1)]
    with inside(folder):
        for now in stage.chance.choices(days, k=3):
            years = max(now.year - 2018, 1)
            code = ended(child(_fetch(stage, folder / "kept", years, now)))
            if code or _answer(folder) != _fresh(stage, years, now):
                raise Fault(f"on {now} another answer than from an empty cache: {_said(folder)}")
    shutil.rmtree(folder)
    return "jumped"


def two_at_once(stage: Stage) -> str:
    """Three processes on one cache, or on one output."""
    folder = stage.place()
    if stage.chance.random() < 0.3:
        name = stage.chance.choice(list(OUTPUTS))
        whole, _ = _whole(stage, name)
        with inside(folder):
            pids = [child(_command(OUTPUTS[name], name)) for _ in range(3)]
            if any([ended(pid) for pid in pids]) or (folder / name).read_bytes() != whole:
                raise Fault(f"{name} of three processes is not whole: {_said(folder)}")
            if leftover := [p.name for p in folder.iterdir() if p.name.startswith(".")]:
                raise Fault(f"left behind: {leftover}")
        shutil.rmtree(folder)
        return "one output"
    now, kept, spans = date(2021, 3, 1), folder / "kept", stage.chance.sample([1, 2, 3, 5], 3)
    fresh = [_fresh(stage, years, now) for years in spans]
    pids = []
    for years in spans:
        (folder / str(years)).mkdir()
        with inside(folder / str(years)):
            pids.append(child(_fetch(stage, kept, years, now)))
        time.sleep(stage.chance.uniform(0, 0.15))
    for pid, years, right in zip(pids, spans, fresh, strict=True):
        if ended(pid) or _answer(folder / str(years)) != right:
            raise Fault(f"{years} years beside others came out wrong: {_said(folder / str(years))}")
    _sound_or_absent(kept)
    os.environ["SOWCAL_CACHE"] = str(kept)
    from sowcal.weather.cache import kept as record_of

    record = record_of("90001")
    if record is None or int(str(record.time[0])[:4]) != now.year - max(spans):
        raise Fault("the longest record was lost to a shorter one")
    shutil.rmtree(folder)
    return "one cache"


KINDS: dict[str, Callable[[Stage], str]] = {
    "kill while an output is written": kill_output,
    "kill while weather is fetched": kill_fetch,
    "full disk": full_disk,
    "read-only folder": read_only,
    "clock that jumps": clock,
    "several processes at once": two_at_once,
}


def _serve(pipe) -> None:
    from local_service import running

    with running() as address:
        pipe.send(address)
        pipe.recv()


@contextlib.contextmanager
def prepared(folder: Path, seed: int = 0) -> Iterator[Stage]:
    """A stage with everything imported that trials need, and the server in a process of its own."""
    from local_service import environment, write_station_list

    ours, theirs = multiprocessing.Pipe()
    server = multiprocessing.get_context("spawn").Process(target=_serve, args=(theirs,), daemon=True)
    server.start()
    address = ours.recv()
    before = dict(os.environ)
    stations = write_station_list(folder / "stations.db")
    (folder / "served").mkdir()
    os.environ.update(environment(folder, address + "/daily", stations))
    os.environ |= {"SOWCAL_CROPS": "", "SOWCAL_HOME": os.devnull, "MPLBACKEND": "Agg"}
    os.environ["MS_STATIONS_DB_ENDPOINTS"] = f'["{address}/stations.db"]'
    try:
        stage = Stage(folder, address, seed)
        _warm(stage)
        yield stage
    finally:
        os.environ.clear()
        os.environ.update(before)
        ours.send("end")
        server.join(5)
        if server.is_alive():
            server.terminate()


def _warm(stage: Stage) -> None:
    """Import in this process what every trial would import anew."""
    import matplotlib.backends.backend_agg
    import matplotlib.backends.backend_pdf
    import matplotlib.backends.backend_svg
    import xarray

    import sowcal.answers
    import sowcal.commands.page
    import sowcal.commands.questions
    import sowcal.commands.weather
    import sowcal.outputs.calendar_file
    import sowcal.outputs.figure_chart
    import sowcal.outputs.page
    import sowcal.weather.export
    import sowcal.weather.stations

    del matplotlib, xarray
    sowcal.answers.open_handbook()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trials", type=int, default=10, help="of each kind")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--only", choices=list(KINDS), action="append")
    options = parser.parse_args()
    faults = 0
    lines = ["| what was done | trials | how they ended | faults |", "| --- | ---: | --- | ---: |"]
    with tempfile.TemporaryDirectory() as folder, prepared(Path(folder), options.seed) as stage:
        for kind in options.only or KINDS:
            ends: dict[str, int] = {}
            found = 0
            for trial in range(options.trials):
                stage.chance = random.Random(f"{kind} {options.seed + trial}")
                try:
                    how = KINDS[kind](stage)
                except Fault as fault:
                    how, found = "fault", found + 1
                    print(f"FAULT {kind} (--seed {options.seed + trial} --trials 1): {fault}", flush=True)
                ends[how] = ends.get(how, 0) + 1
            faults += found
            words = ", ".join(f"{n} {how}" for how, n in sorted(ends.items()))
            lines.append(f"| {kind} | {options.trials} | {words} | {found} |")
    print("\n".join(lines))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
