"""Data flows one way (DEVELOPERS.md): a module imports only from its own or earlier layers."""

import ast
from pathlib import Path

import pytest

import sowcal

ROOT = Path(sowcal.__file__).parent
LAYERS = [
    {
        "errors",
        "child_process",
        "languages",
        "year",
        "files",
        "kept_files",
        "progress",
        "provenance",
        "saved_settings",
        "settings",
        "units",
    },
    {"weather"},
    {"climate"},
    {"indices"},
    {"microclimate"},
    {"crops"},
    {"season_log"},
    {"seasons"},
    {"suitability"},
    {"garden"},
    {"kept_answers"},
    {"season_progress"},
    {"site_weather"},
    {"answers"},
    {"beside"},
    {"grids"},
    {"outputs"},
    {"results"},
    {"site"},
    {"commands"},
    {"__main__", "__init__"},
]
LEVEL = {name: level for level, names in enumerate(LAYERS) for name in names}
ONLY_IN = {  # heavy or outward-looking things and where they belong
    "dask": {"grids"},
    "distributed": {"grids"},
    "icalendar": {"outputs"},
    "matplotlib": {"outputs"},
    "meteostat": {"weather"},
    "openpyxl": {"outputs"},
    "socket": {"weather"},
    "starlette": {"commands"},
    "subprocess": {"child_process"},
    "urllib": {"weather"},
    "uvicorn": {"commands"},
    "print": {"commands", "__main__"},
}
MOST_ROOMS = 169
MOST_LINES = 50  # of a function, its docstring left out
# Longer ones: each may only get shorter, and leaves the list when it is short enough.
LONG_FUNCTIONS: dict[str, int] = {}
MODULES = sorted(ROOT.rglob("*.py"))


def imports(tree):
    """Full names of what a module imports, type-checking imports included."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are absolute"
            yield node.module or ""


def home(path):
    return path.relative_to(ROOT).with_suffix("").parts[0]


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_nothing_imports_against_the_arrow(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    layer = home(path)
    for name in imports(tree):
        parts = name.split(".")
        if parts[0] == "sowcal" and len(parts) > 1:
            assert LEVEL[parts[1]] <= LEVEL[layer], f"{layer} imports {name}"
        if parts[0] in ONLY_IN:
            assert layer in ONLY_IN[parts[0]], f"{layer} imports {name}"
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "print":
            assert layer in ONLY_IN["print"], f"{layer} prints"


def test_every_package_is_in_the_list():
    assert {home(p) for p in MODULES} <= set(LEVEL)


REDUCED = {"median", "nanmedian", "quantile", "nanquantile", "percentile", "nanpercentile", "fsum", "nanargmax"}


@pytest.mark.parametrize("path", [p for p in MODULES if home(p) == "outputs"], ids=lambda p: p.name)
def test_outputs_reckon_no_figures_of_years_or_months(path):
    """Quantiles, medians and sums of years and months belong to the answers; outputs only show them."""
    called = {
        node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
    }
    assert called & REDUCED == set()


def test_no_room_is_too_large_to_be_held_in_the_head():
    """Fewer rooms and none too long: what is more than that falls apart into subjects of its own."""
    lines = {str(p.relative_to(ROOT)): len(p.read_text(encoding="utf-8").splitlines()) for p in MODULES}
    assert {name: n for name, n in lines.items() if n > 500} == {}
    assert len(lines) <= MOST_ROOMS


def code_lines(node):
    """Lines of a function without those of its docstring and without its decorators."""
    first = node.body[0]
    told = ast.get_docstring(node, clean=False) is not None
    return node.end_lineno - node.lineno + 1 - (first.end_lineno - first.lineno + 1 if told else 0)


def test_no_function_is_too_long_to_be_read_at_once():
    found = {}
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and code_lines(node) > MOST_LINES:
                found[f"{path.relative_to(ROOT).as_posix()} {node.name}"] = code_lines(node)
    grown = {name: lines for name, lines in found.items() if lines > LONG_FUNCTIONS.get(name, MOST_LINES)}
    assert grown == {}
    mended = LONG_FUNCTIONS.keys() - found.keys()
    assert mended == set(), "short enough now: take them off the list"


def test_a_docstring_is_no_code():
    node = ast.parse('def f(x):\n    """Two\n    lines."""\n    return x\n').body[0]
    assert code_lines(node) == 2
    assert code_lines(ast.parse("def f(x):\n    return x\n").body[0]) == 2
