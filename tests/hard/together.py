"""Several programs at once on one grower's files, killed at random: `python tests/hard/together.py --minutes 4`.

They share one settings folder, one log, one garden file and one cache, by clocks that differ. Each writes down what it
is about to do, and that it was told to be done. A kill -9 comes at any moment and another program takes the place.
Whatever was told to be done must stand at the end, nothing may be half written at any time, nothing may stand there
that nobody wrote, and no lock may be left that holds anybody up.
"""

from __future__ import annotations

import argparse
import collections
import contextlib
import csv
import datetime as dt
import os
import random
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent / "weather"), str(HERE.parents[1])]

from faults import Fault, Stage, _fetch, _sound_or_absent, prepared  # noqa: E402

__all__ = ["Shared", "main", "run"]

# of each program its own: what only it changes must stand as it left it
SLOTS = ("radish", "carrot", "leek", "pea (shelling)")
LISTED = (("kale", "parsley", "lentil"), ("chard", "basil"), ("okra", "sorrel"), ("spinach", "melon"))
NOW = dt.date(2021, 3, 1)
GARDEN = (
    'name = "Shared"\nsite = "site.toml"\ncrops = ["radish", "carrot", "leek", "pea (shelling)"]\n'
    "[household]\npeople = 1\n[[beds]]\nlength = 6\nwidth = 1.2\n[[beds]]\nlength = 6\nwidth = 1\n"
)
Tell = Callable[[str], None]


class Shared:
    """The folder that is fought for, and what the programs have written down of themselves."""

    def __init__(self, folder: Path):
        from samples import SITE_OF_NORMALS

        from sowcal.saved_settings import remember

        self.plot, self.home, self.kept, self.told = (folder / n for n in ("plot", "home", "kept", "told"))
        for made in (self.plot, self.home, self.told):
            made.mkdir()
        (self.plot / "site.toml").write_text(SITE_OF_NORMALS.replace("years = 2", "years = 4"))
        self.garden, self.log = self.plot / "site.garden.toml", self.plot / "site.log.csv"
        self.garden.write_text(GARDEN)
        remember(lambda _: {"here": str(self.plot / "site.toml")}, self.home)

    def tell(self, slot: int) -> Tell:
        """Writes a line of what a program is about, or was told, where no kill undoes it."""
        handle = os.open(self.told / str(slot), os.O_WRONLY | os.O_APPEND | os.O_CREAT)
        return lambda words: (os.write(handle, f"{words}\n".encode()), None)[1]

    def lines(self, slot: int) -> list[list[str]]:
        path = self.told / str(slot)
        return [line.split("\t") for line in path.read_text().splitlines()] if path.exists() else []


def _star(shared: Shared, slot: int, chance: random.Random, tell: Tell) -> None:
    from sowcal.__main__ import main as sowcal

    crop, on = chance.choice(LISTED[slot]), chance.random() < 0.6
    tell(f"star\t{crop}\t{on}")
    if sowcal(["mine", "add" if on else "remove", crop]) not in (0, 2):  # what is not on the list is not taken off it
        raise Fault(f"the list was not to be changed by {crop}")
    tell("done")


def _say(shared: Shared, slot: int, chance: random.Random, tell: Tell) -> None:
    from sowcal.saved_settings import remember

    key, value = chance.choice([("language", "pt"), ("language", "es"), ("units", "us"), ("units", "si")])
    remember(lambda _: {key: value})


def _write_down(shared: Shared, slot: int, chance: random.Random, tell: Tell) -> None:
    from sowcal.__main__ import main as sowcal
    from sowcal.season_log import SeasonLog

    note = f"{slot}-{os.getpid()}-{chance.randrange(10**9)}"
    tell(f"line\t{note}")
    if chance.random() < 0.3:
        if sowcal(["log", "tank", "40", "--note", note, "--site", str(shared.plot / "site.toml")]):
            raise Fault("a line was not to be written")
    else:  # by a clock that is years ahead or behind
        day = NOW + dt.timedelta(days=chance.randrange(-2000, 2000))
        SeasonLog.open(shared.log, today=day).append("tank", amount=40, note=note, today=day)
    tell("done")


def _take_back(shared: Shared, slot: int, chance: random.Random, tell: Tell) -> None:
    from sowcal.errors import InputError
    from sowcal.season_log import SeasonLog

    tell("undo")
    with contextlib.suppress(InputError):  # nothing to take back
        tell(f"took\t{SeasonLog.open(shared.log).undo()[1].rsplit(',', 1)[1]}")


def _move(shared: Shared, slot: int, chance: random.Random, tell: Tell) -> None:
    from sowcal.commands.open_desk import Desk
    from sowcal.commands.parser import parse
    from sowcal.errors import InputError

    clock = chance.choice(["2005-01-15", "2021-03-01", "2035-01-01"])
    desk = Desk(shared.plot, parse(["page", "radish", "--issued", clock]))
    own = [s for s in desk.plan().sowings if s.crop.name == SLOTS[slot] and not s.stands]
    if not own or chance.random() < 0.1:
        tell(f"move\t{SLOTS[slot]}\t")
        desk.free(SLOTS[slot])
    else:
        sowing = chance.choice(own)
        day = (sowing.start + chance.choice([-2, -1, 1, 2])) % 365
        tell(f"move\t{SLOTS[slot]}\t{day}")
        try:
            desk.move(SLOTS[slot], sowing.way, sowing.start, day)
        except InputError:
            tell("refused")
            return
    tell("done")


def _fetched(shared: Shared, slot: int, chance: random.Random, tell: Tell) -> None:
    years, ahead = chance.choice([1, 2, 3]), chance.choice([0, 0, 0, 400])
    (shared.told / f"at-{slot}").mkdir(exist_ok=True)
    os.chdir(shared.told / f"at-{slot}")
    if _fetch(None, shared.kept, years, NOW + dt.timedelta(days=ahead))():
        raise Fault("weather was not to be had")
    tell(f"years\t{years}")


ACTS = (_star, _say, _write_down, _write_down, _take_back, _move, _fetched)


def _program(shared: Shared, slot: int, seed: str) -> int:
    """A program that works until it is killed; its number."""
    pid = os.fork()
    if pid:
        return pid
    code = 70
    try:
        silent = os.open(os.devnull, os.O_WRONLY)
        for stream in (1, 2):
            os.dup2(silent, stream)
        sys.stdout, sys.stderr = (os.fdopen(stream, "w", closefd=False) for stream in (1, 2))
        os.environ["SOWCAL_HOME"] = str(shared.home)
        chance, tell = random.Random(seed), shared.tell(slot)
        while True:
            chance.choice(ACTS)(shared, slot, chance, tell)
    except BaseException:
        (shared.told / f"fault-{slot}").write_text(traceback.format_exc())
    finally:
        os._exit(code)


def _whole(shared: Shared) -> None:
    """Nothing is half written, at whatever moment it is looked at."""
    from sowcal.garden.garden_file import read_garden_file
    from sowcal.saved_settings import recall
    from sowcal.season_log import SeasonLog

    recall(shared.home)
    if not read_garden_file(shared.garden).beds:
        raise Fault("the garden has no beds any more")
    log = SeasonLog.open(shared.log, today=dt.date(2100, 1, 1))
    if log.problems:
        raise Fault(f"a line of the log is spoilt: {log.problems[0]}")


def _other_times(shared: Shared, chance: random.Random) -> None:
    """Files as a clock that is ahead or behind leaves them."""
    files = [p for root in (shared.plot, shared.home, shared.kept) for p in root.rglob("*") if p.is_file()]
    when = time.time() + chance.choice([-3e8, -3600, 3600, 3e8])
    with contextlib.suppress(OSError):
        os.utime(chance.choice(files), (when, when))


def _stands(shared: Shared) -> collections.Counter[str]:
    """What must hold when all have ended; what was done, by kind."""
    from sowcal.garden.garden_file import read_garden_file
    from sowcal.saved_settings import recall
    from sowcal.weather.cache import kept

    done: collections.Counter[str] = collections.Counter()
    wanted, asked, took, open_undo, years = set(), set(), collections.Counter(), 0, 0
    starts: dict[str, set[int]] = collections.defaultdict(set)
    for start in read_garden_file(shared.garden).starts:
        starts[start.crop].add(start.day)
    mine = recall(shared.home).mine
    for slot in range(len(SLOTS)):
        last: dict[tuple[str, str], list[str]] = {}  # of a thing that one program alone changes: what may stand
        now: list[str] = []
        for words in [*shared.lines(slot), ["end"]]:
            if words[0] in ("done", "took", "refused"):
                done[f"{now[0]} {words[0]}"] += 1
            if words[0] == "took":
                took[words[1]] += 1
            elif now[:1] == ["undo"]:
                open_undo += 1
            elif now[:1] == ["line"]:
                asked.add(now[1])
                if words[0] == "done":
                    wanted.add(now[1])
            elif now[:1] in (["star"], ["move"]) and words[0] != "refused":
                key = (now[0], now[1])
                before = last.get(key, ["False" if now[0] == "star" else ""])
                last[key] = [now[2]] if words[0] == "done" else [*before, now[2]]
            if words[0] == "years":
                years, done["years kept"] = max(years, int(words[1])), done["years kept"] + 1
            now = [] if words[0] in ("done", "took", "refused", "years") else words
        for (what, crop), may in last.items():
            stands = str(crop in mine) in may if what == "star" else any(_has(starts[crop], day) for day in may)
            if not stands:
                raise Fault(f"{what} {crop} was told to be {may}, and is lost: {mine}, {dict(starts)}")
    with shared.log.open(newline="") as file:
        notes = [row[-1] for row in csv.reader(file)][1:]
    if len(set(notes)) != len(notes) or not set(notes) <= asked:
        raise Fault("lines stand in the log twice, or unasked")
    lost = wanted - set(notes) - set(took)
    if len(lost) > open_undo or set(took) & set(notes):
        raise Fault(f"{len(lost)} lines of the log are lost, or were taken back and stand: {sorted(lost)[:3]}")
    _sound_or_absent(shared.kept)
    os.environ["SOWCAL_CACHE"] = str(shared.kept)
    record = kept("90001")
    if years and (record is None or int(str(record.time[0])[:4]) > NOW.year + 1 - years):
        raise Fault(f"a record of {years} years was kept, and is lost to a shorter one")
    done["lines that stand"] = len(notes)
    done["killed while taking back"] = open_undo
    return done


def _has(days: set[int], told: str) -> bool:
    return int(told) in days if told else not days


def _unheld(shared: Shared) -> int:
    """Every lock that lies there is had at once; how many there are."""
    from filelock import FileLock

    locks = [p for root in (shared.plot, shared.home, shared.kept) for p in root.rglob(".lock-*")]
    for path in locks:
        with FileLock(path, timeout=1.0):
            pass
    return len(locks)


@contextlib.contextmanager
def _ended(pids: list[int]) -> Iterator[None]:
    try:
        yield
    finally:
        for pid in pids:
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
            with contextlib.suppress(ChildProcessError):
                os.waitpid(pid, 0)


def run(stage: Stage, seconds: float, seed: int = 0) -> collections.Counter[str]:
    """Let programs fight for so long; what was done, by kind.

    Raises
    ------
    Fault
        Where anything was lost, half written, spoilt, or held up.
    """
    chance, shared = random.Random(seed), Shared(stage.place())
    kills, looks, end = 0, 0, time.monotonic() + seconds
    pids = [_program(shared, slot, f"{seed} {slot}") for slot in range(len(SLOTS))]
    with _ended(pids):
        while time.monotonic() < end:
            time.sleep(chance.expovariate(1 / chance.choice([0.1, 0.5, 3.0])))  # lives long enough for each kind
            _other_times(shared, chance)
            slot = chance.randrange(len(SLOTS))
            os.kill(pids[slot], signal.SIGKILL)
            if os.waitstatus_to_exitcode(os.waitpid(pids[slot], 0)[1]) != -signal.SIGKILL:
                raise Fault((shared.told / f"fault-{slot}").read_text())
            kills += 1
            pids[slot] = _program(shared, slot, f"{seed} {slot} {kills}")
            _whole(shared)
            looks += 1
    kills += len(pids)
    _whole(shared)
    left = [p for root in (shared.plot, shared.home) for p in root.rglob(".sowcal-part-*")]
    if len(left) > kills:
        raise Fault(f"more is left half written than programs were killed: {len(left)}")
    done = _stands(shared)
    done |= {"killed": kills, "looked at": looks, "parts left": len(left), "locks had at once": _unheld(shared)}
    return done


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=1.0)
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, prepared(Path(folder)) as stage:
        try:
            done = run(stage, options.minutes * 60, options.seed)
        except Fault as fault:
            print(f"FAULT: {fault}")
            return 1
    print("\n".join(f"{number:7} {what}" for what, number in sorted(done.items())))
    return 0


if __name__ == "__main__":
    sys.exit(main())
