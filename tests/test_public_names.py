"""What `import sowcal` offers: the same names for programs and for type checkers, and nothing heavy until used."""

from __future__ import annotations

import ast
import inspect
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import sowcal
from sowcal import indices

ROOT = Path(sowcal.__file__).parent
HEAVY = ("numpy", "pandas", "xarray", "scipy", "matplotlib", "meteostat", "dask")


def typed_imports(module):
    """Name by name the module from which the imports under TYPE_CHECKING take it."""
    tree = ast.parse(Path(module.__file__).read_text(encoding="utf-8"))
    (block,) = (n for n in tree.body if isinstance(n, ast.If) and ast.unparse(n.test) == "TYPE_CHECKING")
    found = {}
    for node in block.body:
        for alias in node.names:
            source = alias.name if isinstance(node, ast.Import) else node.module
            if source.startswith("sowcal"):
                assert alias.asname == alias.name.rpartition(".")[2], f"{alias.name} is not handed on to type checkers"
                found[alias.asname] = source
    return found


def test_both_lists_of_the_package_have_the_same_names_from_the_same_places():
    assert typed_imports(sowcal) == {**sowcal._HOME, "indices": "sowcal.indices"}
    assert set(sowcal.__all__) == {"__version__", *typed_imports(sowcal)}


def test_both_lists_of_the_indices_have_the_same_names_from_the_same_places():
    assert typed_imports(indices) == {name: f"sowcal.climate.{home}" for name, home in indices._HOME.items()}
    assert set(indices.__all__) == set(typed_imports(indices))


@pytest.mark.parametrize("module", [sowcal, indices], ids=["sowcal", "indices"])
def test_every_name_is_there_and_no_other(module):
    for name in module.__all__:
        assert getattr(module, name) is not None
    assert dir(module) == sorted(module.__all__)
    with pytest.raises(AttributeError, match="no attribute 'planting_dates'"):
        _ = module.planting_dates


def test_an_index_is_one_thing_by_both_doors():
    both = set(sowcal.__all__) & set(indices.__all__)
    assert len(both) > 10
    assert all(getattr(sowcal, name) is getattr(indices, name) for name in both)


def test_errors_of_the_package_are_offered_and_are_value_errors():
    for name in ("InputError", "NetworkError", "NotJudgedError"):
        error = getattr(sowcal, name)
        assert issubclass(error, sowcal.SowcalError)
        assert issubclass(error, ValueError)
        assert "exit_code" in dir(error)


@pytest.mark.parametrize("line", ["import sowcal", "from sowcal import indices", "import sowcal; sowcal.InputError"])
def test_importing_loads_nothing_heavy(line):
    code = f"import sys; {line}; print(sorted(set({HEAVY}) & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.stdout.strip() == "[]", done.stderr


def test_one_version_stands_in_both_places():
    project = ROOT.parent / "pyproject.toml"
    if not project.is_file():
        pytest.skip("installed without its source: pyproject.toml is not there")
    assert tomllib.loads(project.read_text(encoding="utf-8"))["project"]["version"] == sowcal.__version__


USER = """import sowcal
from sowcal import indices

chart: int = sowcal.sowing_chart("sallowdene", ["courgette"])
error: int = sowcal.InputError("no")
sowcal.sowing_char("sallowdene")
sowcal.indices.day_length(40.0, 172, twilight=True)
indices.day_lengths(40.0, 172)
indices.growing_degree_days([1.0], [2.0])
chart_of_one = sowcal.sowing_chart("sallowdene", ["courgette"])
chart_of_one.crop
"""
SEEN = {
    4: 'expression has type "SowingChart"',
    5: 'expression has type "InputError"',
    6: '"sowing_char"',
    7: 'Unexpected keyword argument "twilight" for "day_length"',
    8: '"day_lengths"',
    9: 'Missing named argument "base_temperature"',
    11: '"SowingChart" has no attribute "crop"',
}


def test_a_type_checker_sees_the_names_and_what_they_are(tmp_path):
    """Slips of a user of the package, as mypy tells them: each is seen, so each name has its type."""
    pytest.importorskip("mypy", reason="mypy is not installed: pip install 'sowcal[test]'")
    assert (ROOT / "py.typed").is_file()
    program = tmp_path / "program.py"
    program.write_text(USER, encoding="utf-8")
    options = ["--strict", "--ignore-missing-imports", "--follow-imports=silent", "--cache-dir", str(tmp_path / "kept")]
    call = [sys.executable, "-m", "mypy", *options, str(program)]
    env = {"MYPYPATH": "", "PYTHONPATH": str(ROOT.parent), "PATH": ""}
    done = subprocess.run(call, cwd=ROOT.parent, env=env, capture_output=True, text=True)
    told = dict.fromkeys(SEEN, "")
    for line in done.stdout.splitlines():
        place, _, rest = line.partition(": error: ")
        if rest:
            number = int(place.rpartition(":")[2])
            told[number] = told.get(number, "") + rest
    assert set(told) == set(SEEN), done.stdout + done.stderr
    for number, words in SEEN.items():
        assert words in told[number], f"line {number}: {told[number]!r}"


@pytest.mark.parametrize("name", [n for n in sowcal.__all__ if n != "__version__"])
def test_every_name_says_what_it_is(name):
    text = inspect.getdoc(getattr(sowcal, name)) or ""
    assert text.partition("\n")[0].rstrip(".,;:")
