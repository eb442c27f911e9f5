"""Fuzz every reader and the command line, and count: `python tests/hard/fuzz.py --minutes 5`.

Inputs are sound files with random damage. `--learn` uses atheris, which looks for inputs that reach new code, where
it is installed (`pip install atheris`). A defect is printed once for each place, with the seed that makes it again:
`python tests/hard/fuzz.py --only KIND --seed N`.
"""

from __future__ import annotations

import argparse
import collections
import faulthandler
import os
import random
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
if __name__ == "__main__":
    sys.path[:0] = [str(HERE), str(HERE.parent / "weather"), str(HERE.parents[1])]
    os.environ["SOWCAL_CROPS"] = ""
    os.environ["SOWCAL_HOME"] = os.devnull  # no folder: nothing is remembered, and nothing can be


TOLD_EVERY = 300  # s
WATCHED_ANEW = 15  # s; to begin the watch takes longer than most inputs do


class Count:
    """Inputs tried, how they ended, and defects by place."""

    def __init__(self) -> None:
        self.tried: collections.Counter[str] = collections.Counter()
        self.ended: collections.Counter[tuple[str, str]] = collections.Counter()
        self.defects: dict[tuple[str, str], str] = {}

    def defect(self, kind: str, words: str, again: str) -> None:
        key = kind, words.split(": ")[0]
        if key not in self.defects:
            self.defects[key] = words
            print(f"DEFECT {kind}: {words[:300]}\n  again: {again}", flush=True)

    def table(self) -> str:
        lines = ["| input | tried | read | refused | defects |", "| --- | ---: | ---: | ---: | ---: |"]
        for kind in self.tried:
            found = sum(k == kind for k, _ in self.defects)
            numbers = (self.tried[kind], self.ended[kind, "read"], self.ended[kind, "refused"], found)
            lines.append(f"| {kind} | {' | '.join(map(str, numbers))} |")
        lines.append(f"| all | {sum(self.tried.values())} | | | {len(self.defects)} |")
        return "\n".join(lines)


def by_chance(kinds: list[str], seconds: float, seed: int, times: int | None, count: Count) -> None:
    """Each kind in its turn, the slow ones as often as the quick ones in time."""
    from targets import Defect, one

    spent = dict.fromkeys(kinds, 0.0)
    end, told, watched = time.monotonic() + seconds, time.monotonic(), 0.0
    with tempfile.TemporaryDirectory() as folder:
        print(f"the input of the moment is named in {folder}/now", file=sys.stderr)
        os.environ["SOWCAL_CACHE"] = str(Path(folder) / "kept")
        while time.monotonic() < end and (times is None or min(count.tried[k] for k in kinds) < times):
            kind = min(kinds, key=spent.__getitem__)
            number = seed + count.tried[kind]
            begun = time.monotonic()
            # a library that turns for ever in its own code hears no signal: say which input it was, and end
            (Path(folder) / "now").write_text(f"--only '{kind}' --seed {number} --times 1")
            if begun > watched + WATCHED_ANEW:
                watched = begun
                faulthandler.dump_traceback_later(90, exit=True, file=sys.__stderr__)
            try:
                count.ended[kind, one(kind, Path(folder), random.Random(f"{kind} {number}").randrange)] += 1
            except Defect as found:
                count.defect(kind, str(found), f"python tests/hard/fuzz.py --only '{kind}' --seed {number} --times 1")
            count.tried[kind] += 1
            spent[kind] += time.monotonic() - begun
            if time.monotonic() > told + TOLD_EVERY:  # what is counted so far outlives a program that is stopped
                told = time.monotonic()
                print(count.table(), file=sys.stderr, flush=True)
        faulthandler.cancel_dump_traceback_later()


def by_learning(kind: str, seconds: float, count: Count) -> None:
    """Choices made by atheris from what reached new code; it ends the process, so one kind a run."""
    import atheris

    with atheris.instrument_imports(include=["sowcal"]):
        from targets import Defect, one
    folder = tempfile.mkdtemp()
    os.environ["SOWCAL_CACHE"] = str(Path(folder) / "kept")
    end = time.monotonic() + seconds

    def attempt(data: bytes) -> None:
        if time.monotonic() > end:
            print(count.table(), flush=True)
            os._exit(1 if count.defects else 0)
        provider = atheris.FuzzedDataProvider(data)
        count.tried[kind] += 1
        try:
            count.ended[kind, one(kind, Path(folder), lambda n: provider.ConsumeIntInRange(0, n - 1))] += 1
        except Defect as found:
            (Path(folder) / f"defect-{len(count.defects)}").write_bytes(data)
            count.defect(kind, str(found), f"the choices are in {folder}")

    atheris.Setup([sys.argv[0], "-timeout=60", "-max_len=400", "-len_control=0", "-verbosity=0"], attempt)
    atheris.Fuzz()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=1.0)
    parser.add_argument("--only", action="append", help="a kind of input (may be given again); left out, all")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--times", type=int, help="inputs of each kind, at most")
    parser.add_argument("--learn", action="store_true", help="with atheris; needs one --only")
    options = parser.parse_args()
    count = Count()
    if options.learn:
        if not options.only or len(options.only) != 1:
            parser.error("--learn needs one --only")
        by_learning(options.only[0], options.minutes * 60, count)
        return 0
    from targets import TARGETS

    kinds = options.only or list(TARGETS)
    if unknown := set(kinds) - set(TARGETS):
        parser.error(f"{unknown} not among {', '.join(TARGETS)}")
    by_chance(kinds, options.minutes * 60, options.seed, options.times, count)
    print(count.table())
    return 1 if count.defects else 0


if __name__ == "__main__":
    sys.exit(main())
