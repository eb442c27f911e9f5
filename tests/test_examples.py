"""The examples that stand in docstrings run and give what they say; public calls have one, and say what they need."""

from __future__ import annotations

import ast
import doctest
import importlib
import inspect
from pathlib import Path

import numpy as np
import pytest

import sowcal
from sowcal import indices

ROOT = Path(sowcal.__file__).parent
MODULES = [
    ".".join(path.relative_to(ROOT.parent).with_suffix("").parts).removesuffix(".__init__")
    for path in sorted(ROOT.rglob("*.py"))
    if ">>>" in path.read_text(encoding="utf-8")
]
CLIMATE = [
    f"sowcal.climate.{path.stem}"
    for path in sorted((ROOT / "climate").glob("*.py"))
    if not path.stem.startswith("_") and path.stem != "freed_memory"
]


def functions_of(name):
    module = importlib.import_module(name)
    public = ((n, getattr(module, n)) for n in getattr(module, "__all__", ()))
    return [(n, f) for n, f in public if inspect.isfunction(f) and f.__module__ == name]


@pytest.mark.parametrize("name", MODULES)
def test_examples_give_what_they_say(name, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    module = importlib.import_module(name)
    with np.printoptions(legacy=False):
        found = doctest.testmod(module, extraglobs={"np": np, "sowcal": sowcal}, report=True)
    assert found.attempted > 0
    assert found.failed == 0


@pytest.mark.parametrize("name", CLIMATE)
def test_every_call_of_the_climate_has_an_example(name):
    lacking = [n for n, f in functions_of(name) if ">>>" not in (inspect.getdoc(f) or "")]
    assert lacking == []


def public_calls():
    """Functions that the package offers, and what can be asked of the classes that it offers."""
    for name in sowcal.__all__:
        offered = getattr(sowcal, name)
        if inspect.isfunction(offered):
            yield name, offered
        elif inspect.isclass(offered) and not issubclass(offered, Exception):
            for method, call in inspect.getmembers(offered, lambda c: inspect.isfunction(c) or inspect.ismethod(c)):
                if not method.startswith("_") and call.__module__.startswith("sowcal"):
                    yield f"{name}.{method}", call


def test_every_public_call_has_an_example():
    calls = dict(public_calls())
    assert len(calls) > 40
    assert [name for name, call in calls.items() if ">>>" not in (inspect.getdoc(call) or "")] == []


@pytest.mark.parametrize("name", indices.__all__)
def test_every_index_says_what_it_takes_gives_and_refuses(name):
    call = getattr(indices, name)
    text = inspect.getdoc(call) or ""
    for section in ("Parameters", "Returns", "Raises", "Examples"):
        assert f"\n{section}\n{'-' * len(section)}\n" in text, f"{name} has no section {section}"
    parameters = text.split("\nParameters\n")[1].split("\nReturns\n")[0]
    told = {word.strip() for line in parameters.splitlines() for word in line.split(" : ")[0].split(",")}
    assert set(inspect.signature(call).parameters) <= told
    assert any(unit in text for unit in ("degC", "mm", "MJ", "unit", "Degrees"))


def test_no_example_is_hidden_in_a_private_place():
    """Each text with an example belongs to something that `doctest` finds."""
    for name in MODULES:
        module = importlib.import_module(name)
        tree = ast.parse(inspect.getsource(module))
        written = sum(
            (ast.get_docstring(node) or "").count(">>> ")
            for node in ast.walk(tree)
            if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        )
        run = sum(len(t.examples) for t in doctest.DocTestFinder().find(module))
        assert run == written, name
