"""Slips put into the kernels one at a time, to see whether the tests notice: mutation testing without a framework.

    python tests/hard/mutants.py degree-days            every mutant of one kernel
    python tests/hard/mutants.py hazards --every 7      each seventh only; --from 2: the third, the tenth ...
    python tests/hard/mutants.py chill --line climate/chill.py:84 --line climate/hourly.py:40     those of these lines

A mutant is one module with one change, compiled in a forked process in place of the sound one; the kernel's own tests
run there until the first failure. A mutant is killed if a test fails, breaks, fills the memory, or a file of tests
takes five times the processor time. What survives is printed with its line. Kinds of change, and no others:
comparisons made strict, loose or turned round; + and -, * and /, // and /, & and | exchanged; signs and `not`
dropped; `and` and `or` exchanged; conditions negated; numbers moved by one (whole) or a tenth (others); True and
False, minimum and maximum, any and all, floor and ceil, left and right exchanged. Texts, names, annotations and
defaults are left alone. Unix only (fork).
"""

from __future__ import annotations

import argparse
import ast
import copy
import importlib.abc
import importlib.util
import os
import resource
import signal
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

ROOT = Path(__file__).parents[2]
_STEPS = ("walk", "stand", "gates", "vegetative", "kept_sums", "against_a_loop", "cool_nights")
_SEASONS = [*(f"tests/seasons/test_{step}.py" for step in _STEPS), "tests/hard/test_goldens.py"]
_FLOWERS = [f"tests/seasons/test_{step}.py" for step in ("flowering", "cool_nights", "against_a_loop", "kept_sums")]
_SPROUTS = [f"tests/seasons/test_{step}.py" for step in ("response", "emergence", "nursery", *_STEPS)]
_WINDOWS = ["tests/suitability/test_windows.py", "tests/hard/test_kernels.py", "tests/hard/test_goldens.py"]
KERNELS: dict[str, tuple[list[str], list[str]]] = {  # modules and the tests that answer for them, the quickest first
    "degree-days": (["climate.degree_days"], ["tests/climate/test_degree_days.py"]),
    "chill": (
        ["climate.chill", "climate.dynamic_model"],
        ["tests/climate/test_chill.py", "tests/climate/test_hourly_chill.py", "tests/hard/test_goldens.py"],
    ),
    "hazards": (["seasons.vegetative", "seasons.walk", "seasons.establishing"], _SEASONS),
    "flowering": (["seasons.flowering"], [*_FLOWERS, "tests/hard/test_goldens.py"]),
    "sprouting": (
        ["seasons.sums", "seasons.establishing"],
        [*_SPROUTS, "tests/hard/test_goldens.py"],
    ),
    "windows": (["suitability.windows"], ["tests/suitability/test_by_day.py", *_WINDOWS]),
}
_COMPARE = {
    ast.Lt: (ast.LtE, ast.GtE), ast.LtE: (ast.Lt, ast.Gt), ast.Gt: (ast.GtE, ast.LtE), ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.Is: (ast.IsNot,), ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,), ast.NotIn: (ast.In,),
}  # fmt: skip
_ARITHMETIC = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Div, ast.Mod: ast.Mult,
    ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd, ast.Pow: ast.Mult,
}  # fmt: skip
_PAIRS = (("minimum", "maximum"), ("min", "max"), ("argmin", "argmax"), ("any", "all"), ("floor", "ceil"))
_NAMES = {a: b for pair in _PAIRS for a, b in (pair, pair[::-1])}
_WORDS = {"left": "right", "right": "left"}


def _changes(node: ast.AST) -> Iterator[ast.AST]:
    """Every change of one node."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        for other in _COMPARE.get(type(node.ops[0]), ()):
            yield ast.Compare(node.left, [other()], node.comparators)
    elif isinstance(node, (ast.BinOp, ast.AugAssign)) and type(node.op) in _ARITHMETIC:
        changed = copy.copy(node)
        changed.op = _ARITHMETIC[type(node.op)]()
        yield changed
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, (ast.USub, ast.Not, ast.Invert)):
        yield node.operand
    elif isinstance(node, ast.BoolOp):
        yield ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
    elif isinstance(node, (ast.If, ast.IfExp, ast.While)):
        changed = copy.copy(node)
        changed.test = ast.UnaryOp(ast.Not(), node.test)
        yield changed
    elif isinstance(node, ast.Constant):
        yield from _constants(node.value)
    elif isinstance(node, ast.Attribute) and node.attr in _NAMES:
        yield ast.Attribute(node.value, _NAMES[node.attr], node.ctx)
    elif isinstance(node, ast.Name) and node.id in ("min", "max", "any", "all"):
        yield ast.Name(_NAMES[node.id], node.ctx)


def _constants(value: object) -> Iterator[ast.AST]:
    if isinstance(value, bool):
        yield ast.Constant(not value)
    elif isinstance(value, int):
        yield ast.Constant(value + 1)
    elif isinstance(value, float):
        yield ast.Constant(value * 1.1 if value else 0.1)
    elif isinstance(value, str) and value in _WORDS:
        yield ast.Constant(_WORDS[value])


def _sites(tree: ast.AST) -> Iterator[tuple[ast.AST, str, int | None]]:
    """Places of a tree that may be changed: parent, field and index there; no annotations, no defaults."""
    for field, value in ast.iter_fields(tree):
        apart = field in ("annotation", "returns", "defaults", "kw_defaults", "decorator_list", "args")
        if apart and not isinstance(tree, ast.Call):  # a call's `args` are expressions
            continue
        children = value if isinstance(value, list) else [value]
        for k, child in enumerate(children):
            if isinstance(child, ast.AST):
                yield tree, field, k if isinstance(value, list) else None
                yield from _sites(child)


@dataclass(frozen=True)
class Mutant:
    """One change: its number in the module, the line, and what stood there and stands now."""

    number: int
    line: int
    was: str
    now: str


def _shown(node: ast.AST) -> str:
    if isinstance(node, (ast.If, ast.While)):
        node = node.test
    return ast.unparse(node)


def _changed(tree: ast.Module) -> Iterator[tuple[ast.AST, ast.AST]]:
    """Every change of a module, made in its tree while it is told: what was there, and what is."""
    functions = [n for n in tree.body if isinstance(n, (ast.FunctionDef, ast.ClassDef, ast.Assign))]
    functions = [n for n in functions if not (isinstance(n, ast.Assign) and _shown(n).startswith("__all__"))]
    for function in functions:
        for parent, field, k in list(_sites(function)):
            child = getattr(parent, field) if k is None else getattr(parent, field)[k]
            for changed in _changes(child):
                ast.copy_location(changed, child)
                _put(parent, field, k, changed)
                yield child, changed
                _put(parent, field, k, child)


def mutants(source: str) -> Iterator[Mutant]:
    """All mutants of a module."""
    for number, (child, changed) in enumerate(_changed(ast.parse(source))):
        yield Mutant(number, child.lineno, _shown(child), _shown(changed))


def mutated(source: str, number: int) -> str:
    """The source of a module with one of its changes."""
    tree = ast.parse(source)
    next(islice(_changed(tree), number, None))
    return ast.unparse(ast.fix_missing_locations(tree))


def _put(parent: ast.AST, field: str, k: int | None, node: ast.AST) -> None:
    if k is None:
        setattr(parent, field, node)
    else:
        getattr(parent, field)[k] = node


class _Loader(importlib.abc.InspectLoader):
    def __init__(self, source: str):
        self.source = source

    def get_source(self, fullname: str) -> str:
        return self.source


class _Finder(importlib.abc.MetaPathFinder):
    """Gives the mutant where its module is asked for."""

    def __init__(self, module: str, source: str):
        self.module, self.source = module, source

    def find_spec(self, fullname, path, target=None):
        if fullname != self.module:
            return None
        return importlib.util.spec_from_loader(fullname, _Loader(self.source))


_MEMORY = 4 << 30  # bytes of addresses; a mutant that never ends a list is stopped there
_PATIENCE = 300  # s by the clock, for a mutant that waits for ever


def trial(module: str, source: str, tests: str, limit: float) -> tuple[str, float]:
    """Run the tests on a mutant in a fork: 'killed', 'too slow' or 'survived', and the seconds of processor it took.

    Seconds of the processor, for those by the clock depend on what else the machine does.
    """
    child = os.fork()
    if child == 0:
        signal.alarm(_PATIENCE)
        resource.setrlimit(resource.RLIMIT_CPU, (int(limit) + 1,) * 2)
        resource.setrlimit(resource.RLIMIT_AS, (_MEMORY,) * 2)
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        sys.meta_path.insert(0, _Finder(module, source))
        import pytest

        code = 1
        try:
            code = int(pytest.main(["-x", "-q", "-p", "no:cacheprovider", "-p", "no:randomly", tests]))
        finally:
            os._exit(0 if code == 0 else 1)
    _, status, used = os.wait4(child, 0)
    word = "too slow" if os.WIFSIGNALED(status) else "killed" if os.WEXITSTATUS(status) else "survived"
    return word, used.ru_utime + used.ru_stime


def _warm() -> None:
    """What is slow to import and not of this package, once for all forks."""
    import hypothesis
    import pandas  # noqa: F401
    import pytest  # noqa: F401
    import scipy.special  # noqa: F401
    import xarray  # noqa: F401

    once = [hypothesis.Phase.explicit, hypothesis.Phase.generate]  # a failure is enough, it need not be a small one
    hypothesis.settings.register_profile(
        "same", derandomize=True, database=None, deadline=None, max_examples=30, phases=once
    )
    hypothesis.settings.load_profile("same")


def _chosen(path: Path, all_of_it: list[Mutant], options: argparse.Namespace) -> list[tuple[int, Mutant]]:
    """The mutants of a module that are asked for, with their numbers."""
    lines = [int(line) for file, _, line in (x.rpartition(":") for x in options.line) if str(path).endswith(file)]
    return [
        (n, mutant)
        for n, mutant in enumerate(all_of_it)
        if n >= options.begin
        and (n - options.begin) % options.every == 0
        and (mutant.line in lines or not options.line)
    ]


def main() -> int:
    """Try the mutants of one kernel and print what survived."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("kernel", choices=KERNELS)
    parser.add_argument("--every", type=int, default=1, metavar="N", help="only each Nth mutant")
    parser.add_argument("--from", type=int, default=0, metavar="K", dest="begin", help="leave out a module's first K")
    parser.add_argument("--line", action="append", default=[], metavar="FILE:N", help="only mutants of this line")
    options = parser.parse_args()
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    _warm()
    modules, tests = KERNELS[options.kernel]
    tests = [t for t in tests if Path(t).exists()]
    count: dict[str, int] = {"killed": 0, "too slow": 0, "survived": 0}
    for name in modules:
        path = ROOT / "sowcal" / f"{name.replace('.', '/')}.py"
        source = path.read_text(encoding="utf-8")
        tried = _chosen(path, list(mutants(source)), options)
        if not tried:
            continue
        limits = {}
        for some in tests:
            sound, seconds = trial(f"sowcal.{name}", source, some, 600)
            if sound != "survived":
                sys.exit(f"{some} fails on {path.relative_to(ROOT)} as it is")
            limits[some] = 5 * seconds + 2
        for number, mutant in tried:
            word, slipped = "survived", mutated(source, number)
            for some, limit in limits.items():
                word, _ = trial(f"sowcal.{name}", slipped, some, limit)
                if word != "survived":
                    break
            count[word] += 1
            if word == "survived":
                where = f"{path.relative_to(ROOT)}:{mutant.line}"
                print(f"survived: {where}: {mutant.was}  ->  {mutant.now}  (number {number})", flush=True)
        print(f"{path.relative_to(ROOT)}: {len(tried)} tried", flush=True)
    total = sum(count.values())
    killed = total - count["survived"]
    print(f"{options.kernel}: {total} mutants, {killed} killed ({100 * killed / max(total, 1):.0f} per cent)")
    return 0


if __name__ == "__main__":
    sys.exit(main())
