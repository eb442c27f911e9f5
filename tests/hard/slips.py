"""Slips by chance in every subject that computes, and whether the tests of its behaviour notice.

    python tests/hard/slips.py                          every subject, the table in the end
    python tests/hard/slips.py perennials compare       these subjects
    python tests/hard/slips.py store --number 100       more slips of one (30 are drawn else), --seed N: others
    python tests/hard/slips.py store --write            and keep what was found in `slips_kept.csv`
    python tests/hard/slips.py store --survivors --write    those kept as alive once more, after tests were written
    python tests/hard/slips.py --table                  the table of what is kept, nothing is tried
    python tests/hard/slips.py --again 8 --seed 20260   of the slips kept as killed 8 drawn: the named test still fails

The kinds of slips are those of `mutants.py`. A subject's slips are drawn without putting back from all slips of its
modules. Tests that compare whole answers with kept ones (goldens, digests) are not asked, nor those that need the
folder of reference data: what is killed here is killed in a fresh clone by a test of behaviour. The sound package is
run once under `coverage`, and a slip is shown to the tests that ran its statement, the quickest first, so many as take
5 s of processor on sound code; tests that take more than 3 s by themselves are not asked. Each trial is a fork of a
process that has loaded all that does not rest on the module, with a limit of processor time and memory. What is equal
to the sound code by whatever can be seen is named in `slips_equal.csv` with the reason. What became of a slip when it
was drawn, before any test was written for it, is kept beside what becomes of it now. Unix only (fork).
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import hashlib
import importlib
import json
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from itertools import accumulate
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
if str(HERE) not in sys.path:
    sys.path.insert(0, str(HERE))

import mutants as kinds  # noqa: E402
from slips_kept import SUBJECTS, equals, keep, kept, living, name_of, table  # noqa: E402

SEED, NUMBER = 20261129, 30
LONGEST = 3.0  # s of processor; a test that takes more is not asked
BUDGET = 5.0  # s of processor for the tests that are shown one slip, as they take on sound code
NOTES = Path(tempfile.gettempdir()) / f"sowcal-slips-{os.getuid()}"  # seconds and lines of the tests on sound code
_MEMORY = 4 << 30  # bytes of addresses
_PLAIN = ["-q", "-p", "no:cacheprovider", "-p", "no:xdist", "-o", "addopts=--import-mode=importlib"]


@dataclass(frozen=True)
class Slip:
    """One change of a module, named by what does not move when lines are put above it."""

    module: str
    function: str
    was: str
    now: str
    nth: int  # of those alike in the function
    line: int
    number: int  # of all slips of the module

    @property
    def source(self) -> str:
        """The module with the slip in it."""
        return kinds.mutated(path_of(self.module).read_text(encoding="utf-8"), self.number)

    @property
    def name(self) -> tuple[str, str, str, str, str]:
        return self.module, self.function, self.was, self.now, str(self.nth)


def path_of(module: str) -> Path:
    return ROOT / "sowcal" / f"{module.replace('.', '/')}.py"


def slips(module: str) -> list[Slip]:
    """All slips of a module."""
    source = path_of(module).read_text(encoding="utf-8")
    spans = [
        (node.lineno, node.end_lineno, node.name)
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
    ]
    seen: Counter[tuple[str, ...]] = Counter()
    out = []
    for mutant in kinds.mutants(source):
        around = [name for first, last, name in spans if first <= mutant.line <= (last or first)]
        function = ".".join(around)
        alike = (function, mutant.was, mutant.now)
        out.append(Slip(module, *alike, seen[alike], mutant.line, mutant.number))
        seen[alike] += 1
    return out


def drawn(subject: str, number: int, seed: int) -> tuple[list[Slip], int]:
    """Slips of a subject by chance, those of a module together, and how many there are in all."""
    every = [slip for module in SUBJECTS[subject][0] for slip in slips(module)]
    chance = random.Random(f"{seed} {subject}")
    some = every if len(every) <= number else chance.sample(every, number)
    return sorted(some, key=lambda s: (s.module, s.line, s.name)), len(every)


class _Watch:
    """Hears what a run of pytest does: seconds of each test, lines it ran, and the first that failed."""

    def __init__(self, lines: Callable[[str], None] | None = None, wanted: list[str] | None = None, limit: float = 0):
        self.seconds: dict[str, float] = {}
        self.failed = ""
        self.failures: list[str] = []
        self._limit = limit
        self.stops = not limit
        self._lines, self._wanted = lines, wanted
        self._begun = 0.0

    def pytest_collection_modifyitems(self, items: list) -> None:
        if self._wanted is not None:
            place = {name: k for k, name in enumerate(self._wanted)}
            items[:] = sorted((i for i in items if i.nodeid in place), key=lambda i: place[i.nodeid])

    def pytest_runtest_setup(self, item) -> None:
        self._begun = time.process_time()
        self._switch(item.path.name)

    def pytest_runtest_call(self, item) -> None:
        self._switch(item.nodeid)

    def pytest_pyfunc_call(self, pyfuncitem) -> object:
        """The test itself, given up where it takes longer than the limit."""
        if not self._limit:
            return None
        test, given = pyfuncitem.obj, pyfuncitem.funcargs
        signal.setitimer(signal.ITIMER_PROF, self._limit)
        try:
            test(**{name: given[name] for name in pyfuncitem._fixtureinfo.argnames})
            self.seconds[pyfuncitem.nodeid] = 0.0
        except _TooLong:
            pass
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
        return True

    def pytest_runtest_teardown(self, item) -> None:
        if item.nodeid in self.seconds:
            self.seconds[item.nodeid] = time.process_time() - self._begun
        self._switch(item.path.name)

    def pytest_runtest_logreport(self, report) -> None:
        if report.failed:
            self.failed = self.failed or report.nodeid
            self.failures.append(report.nodeid)

    def pytest_collectreport(self, report) -> None:
        if report.failed and not self.failed:
            self.failed = f"{report.nodeid}: at its loading"

    def _switch(self, name: str) -> None:
        if self._lines is not None:
            self._lines(name)


def _forked(work: Callable[[], object], seconds: float) -> tuple[object, bool]:
    """What work gives, done in a fork; None where it died, and whether a limit ended it."""
    reads, writes = os.pipe()
    child = os.fork()
    if child == 0:
        code = 1
        try:
            os.close(reads)
            signal.alarm(int(20 * seconds) + 60)
            resource.setrlimit(resource.RLIMIT_CPU, (int(seconds) + 1,) * 2)
            resource.setrlimit(resource.RLIMIT_AS, (_MEMORY,) * 2)
            answer = json.dumps(work()).encode()
            with os.fdopen(writes, "wb") as pipe:
                pipe.write(answer)
            code = 0
        finally:
            os._exit(code)
    os.close(writes)
    with os.fdopen(reads, "rb") as pipe:
        said = pipe.read()
    _, status = os.waitpid(child, 0)
    return (json.loads(said) if said and status == 0 else None), os.WIFSIGNALED(status)


def _run(paths: list[str], watch: _Watch) -> int:
    import pytest

    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)
    return int(pytest.main([*_PLAIN, *(["-x"] if watch.stops else []), *paths], plugins=[watch]))


class _Blocked(importlib.abc.MetaPathFinder):
    """Refuses one module, so that what rests on it is not loaded before the fork."""

    def __init__(self, module: str):
        self.module = module

    def find_spec(self, fullname, path, target=None):
        if fullname == self.module:
            raise ImportError(fullname)


def _load_what_is_sound(module: str, names: list[str]) -> None:
    """All modules that the sound run had loaded, but those of the tests and those that rest on the module."""
    blocked = _Blocked(module)
    sys.meta_path.insert(0, blocked)
    for name in names:
        with contextlib.suppress(Exception):
            importlib.import_module(name)
    sys.meta_path.remove(blocked)


class _TooLong(BaseException):
    """A test takes more than is worth waiting for."""


def _sound(files: list[str]) -> dict:
    """Run files of tests on the package as it is: seconds and lines of each test."""
    import coverage

    def ring(*_: object) -> None:
        raise _TooLong

    signal.signal(signal.SIGPROF, ring)
    heard = coverage.Coverage(include=[str(ROOT / "sowcal" / "*")], data_file=None, config_file=False)
    heard.start()
    watch = _Watch(heard.switch_context, limit=LONGEST)
    _run(files, watch)
    heard.stop()
    data = heard.get_data()
    lines: dict[str, dict[str, list[int]]] = {}
    for path in data.measured_files():
        module = ".".join(Path(path).relative_to(ROOT / "sowcal").with_suffix("").parts)
        for line, contexts in data.contexts_by_lineno(path).items():
            for context in contexts:
                if context:
                    lines.setdefault(context, {}).setdefault(module, []).append(line)
    names = [
        name
        for name, held in sorted(sys.modules.items())
        if not str(getattr(held, "__file__", "") or "").startswith(str(ROOT / "tests"))
        and getattr(held, "__spec__", None) is not None
        and not name.startswith("tests")
    ]
    return {"failed": watch.failures, "seconds": watch.seconds, "lines": lines, "modules": names}


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _kept_run(note: Path) -> dict | None:
    """A run that was kept, where no module that it ran has changed since."""
    if not note.exists():
        return None
    one = json.loads(note.read_text(encoding="utf-8"))
    same = all(path_of(m).is_file() and _digest(path_of(m)) == was for m, was in one["sources"].items())
    return one if same else None


def sound_runs(tests: list[str]) -> dict:
    """What the sound package does under some tests, from what was kept of an earlier run where nothing has changed."""
    files = [p for t in tests for p in ([ROOT / t] if t.endswith(".py") else sorted((ROOT / t).glob("test_*.py")))]
    NOTES.mkdir(exist_ok=True)
    runs = []
    for path in files:
        name = str(path.relative_to(ROOT))
        note = NOTES / hashlib.sha256(f"{name} {_digest(path)}".encode()).hexdigest()
        one = _kept_run(note)
        if one is None:
            one, _ = _forked(lambda name=name: _sound([name]), 900)
            if one is None or one["failed"]:
                sys.exit(f"{name} fails as it is: {one and one['failed']}")
            ran = sorted({module for of in one["lines"].values() for module in of})
            one["sources"] = {m: _digest(path_of(m)) for m in ran if path_of(m).is_file()}
            note.write_text(json.dumps(one), encoding="utf-8")
        runs.append(one)
    out: dict = {"seconds": {}, "lines": {}, "modules": []}
    for one in runs:
        out["seconds"] |= one["seconds"]
        out["lines"] |= one["lines"]
        out["modules"] = sorted({*out["modules"], *one["modules"]})
    return out


def _asked(slip: Slip, sound: dict) -> list[str]:
    """Tests that ran the line, quickest file first and of it the quickest test; all of a file whose fixtures did."""
    spans = [
        (n.lineno, n.end_lineno or n.lineno)
        for n in ast.walk(ast.parse(path_of(slip.module).read_text(encoding="utf-8")))
        if isinstance(n, ast.stmt) and not isinstance(n, ast.FunctionDef | ast.ClassDef)
    ]
    of_it = [span for span in spans if span[0] <= slip.line <= span[1]]
    first, last = max(of_it, default=(slip.line, slip.line))
    of_module = {c: of[slip.module] for c, of in sound["lines"].items() if slip.module in of}
    ran = {c for c, lines in of_module.items() if not {*range(first, last + 1)}.isdisjoint(lines)}
    seconds = sound["seconds"]

    def those_of(ran: set[str]) -> list[str]:
        return [n for n in seconds if n in ran or n.partition("::")[0].rpartition("/")[2] in ran]

    # what runs at the loading (a constant, a default of a class) may be seen by whatever uses the module
    some = (slip.function and those_of(ran)) or those_of(set(of_module))
    cost: Counter[str] = Counter()
    for name in some:
        cost[name.partition("::")[0]] += seconds[name]
    some.sort(key=lambda n: (cost[n.partition("::")[0]], n.partition("::")[0], seconds[n]))
    so_far = list(accumulate(seconds[n] for n in some))
    return [n for n, spent in zip(some, so_far, strict=True) if spent <= BUDGET]


def _tried(slip: Slip, wanted: list[str], seconds: float) -> str:
    """Name of the test that fails on a slip, 'limit' or '' where it survives."""

    def work() -> str:
        sys.meta_path.insert(0, kinds._Finder(f"sowcal.{slip.module}", slip.source))
        watch = _Watch(wanted=wanted)
        code = _run(sorted({n.partition("::")[0] for n in wanted}), watch)
        return watch.failed or ("" if code in (0, 5) else "pytest itself")

    answer, stopped = _forked(work, 4 * seconds + 6)
    if answer is None:
        return "limit" if stopped else "died"
    return str(answer)


def _module(module: str, sound: dict, some: list[Slip], tell: Callable[[str], None]) -> list[list[str]]:
    """Try the slips of one module: rows of `slips_kept.csv` without the subject."""
    _load_what_is_sound(f"sowcal.{module}", sound["modules"])
    seconds = sound["seconds"]
    rows = []
    for slip in some:
        asked = _asked(slip, sound)
        by = _tried(slip, asked, sum(seconds[n] for n in asked)) if asked else ""
        rows.append([*slip.name, "killed" if by else "survived", by])
        if not by:
            where = f"{module.replace('.', '/')}.py:{slip.line} {slip.function}"
            tell(f"  survived {len(asked)} tests: {where}: {slip.was}  ->  {slip.now}  [{slip.nth}]")
    return rows


def again(number: int, seed: int) -> int:
    """Slips that were killed, some by chance, each shown once more to the test that killed it.

    Returns
    -------
    int
        How many survive that did not.
    """
    there = [row for row in kept() if row["word"] == "killed" and "::" in row["by"] and ": at" not in row["by"]]
    chosen = random.Random(seed).sample(there, min(number, len(there)))
    found = {slip.name: slip for module in {row["module"] for row in chosen} for slip in slips(module)}
    gone = sum(name_of(row) not in found for row in chosen)
    lost = 0
    for row in chosen:
        slip = found.get(name_of(row))
        if slip is not None and not _tried(slip, [row["by"]], 60):
            lost += 1
            print(f"no longer killed by {row['by']}: {slip.module}:{slip.line}: {slip.was}  ->  {slip.now}")
    print(f"{len(chosen)} of {len(there)} slips shown again, {gone} are no more in the source; {lost} live")
    return lost


def _prepared() -> None:
    """The folder, what is slow to load, and no word of the reference folder."""
    os.environ.pop("SOWCAL_REFERENCE", None)
    os.environ.setdefault("MPLBACKEND", "Agg")
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    kinds._warm()
    with contextlib.suppress(ImportError):
        import matplotlib.figure  # noqa: F401


def main() -> int:
    """Try slips of the subjects named, or of all."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("subjects", nargs="*", metavar="SUBJECT", help=", ".join(SUBJECTS))
    parser.add_argument("--number", type=int, default=NUMBER, help="slips of a subject")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument(
        "--tests", action="append", metavar="FILE", help="ask these files in place of the subject's own"
    )
    parser.add_argument(
        "--survivors", action="store_true", help="only those kept as alive, for whom tests were written"
    )
    parser.add_argument("--write", action="store_true", help="keep what was found")
    parser.add_argument("--table", action="store_true", help="print what is kept")
    parser.add_argument("--again", type=int, metavar="N", help="show N of the killed to their tests again")
    options = parser.parse_args()
    if wrong := [word for word in options.subjects if word not in SUBJECTS]:
        parser.error(f"{wrong[0]!r} is no subject: {', '.join(SUBJECTS)}")
    if options.table:
        print("\n".join([*table(kept()), "", *living(kept())]))
        return 0
    _prepared()
    folder = tempfile.mkdtemp(prefix="slips-")
    os.environ["PYTEST_DEBUG_TEMPROOT"] = folder
    try:
        if options.again:
            return int(again(options.again, options.seed) > 0)
        for subject in options.subjects or SUBJECTS:
            some, of = drawn(subject, options.number, options.seed)
            before = [row for row in kept() if row["subject"] == subject] if options.survivors else []
            if options.survivors:
                alive = {name_of(row) for row in before if row["word"] == "survived"} - set(equals())
                some = [s for module in SUBJECTS[subject][0] for s in slips(module) if s.name in alive]
            rows = []
            sound = sound_runs(options.tests or SUBJECTS[subject][1]) if some else {}
            for module in dict.fromkeys(slip.module for slip in some):
                own = [slip for slip in some if slip.module == module]

                def work(module=module, sound=sound, own=own) -> list[list[str]]:
                    return _module(module, sound, own, lambda text: print(text, flush=True))

                rows += _forked(work, 20_000)[0] or sys.exit(f"{module} could not be tried")
            names = ("module", "function", "was", "now", "nth", "word", "by")
            told = [{"subject": subject, "of": str(of), **dict(zip(names, row, strict=True))} for row in rows]
            new = {name_of(row) for row in told}
            was = {name_of(row): row["first"] for row in before}
            there = {s.name for module in SUBJECTS[subject][0] for s in slips(module)} if options.survivors else set()
            for row in before:  # code that could not be told apart was taken out
                row["word"] = row["word"] if name_of(row) in there or row["word"] == "killed" else "gone"
            told = [{**row, "first": was.get(name_of(row), row["word"])} for row in told]
            told = [row for row in before if name_of(row) not in new] + told
            print("\n".join(list(table(told))[2:]), flush=True)
            if options.write:
                keep(told)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
