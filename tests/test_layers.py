"""Data flows one way (DEVELOPERS.md): a module imports only from its own or earlier layers."""

import ast
from pathlib import Path

import pytest

import sowcal

ROOT = Path(sowcal.__file__).parent
LAYERS = [
    {"errors", "counted", "year", "files", "schema", "progress", "provenance", "settings", "__init__"},
    {"weather"},
    {"climate"},
    {"microclimate"},
    {"crops"},
    {"seasons"},
    {"suitability"},
    {"garden"},
    {"opened"},
    {"answers"},
    {"grids"},
    {"outputs"},
    {"commands"},
    {"__main__"},
]
LEVEL = {name: level for level, names in enumerate(LAYERS) for name in names}
ONLY_IN = {  # heavy or outward-looking things and where they belong
    "dask": {"grids"},
    "distributed": {"grids"},
    "icalendar": {"outputs"},
    "matplotlib": {"outputs"},
    "meteostat": {"weather"},
    "socket": {"weather"},
    "urllib": {"weather"},
    "print": {"commands", "__main__"},
}
MOST_ROOMS = 130
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
