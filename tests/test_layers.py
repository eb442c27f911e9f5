"""Data flows one way (DEVELOPERS.md): a module imports only from its own or earlier layers."""

import ast
from pathlib import Path

import pytest

import sowcal

ROOT = Path(sowcal.__file__).parent
LAYERS = [
    {"errors", "child", "counted", "year", "files", "schema", "progress", "provenance", "settings", "__init__"},
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
    "subprocess": {"child"},
    "urllib": {"weather"},
    "print": {"commands", "__main__"},
}
MOST_ROOMS = 132
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


def test_no_room_is_too_large_to_be_held_in_the_head():
    """Fewer rooms and none too long: what is more than that falls apart into subjects of its own."""
    lines = {str(p.relative_to(ROOT)): len(p.read_text(encoding="utf-8").splitlines()) for p in MODULES}
    assert {name: n for name, n in lines.items() if n > 500} == {}
    assert len(lines) <= MOST_ROOMS
