"""The notebooks run from top to bottom as they stand, use the public door only, and carry nothing of an earlier run."""

import ast
import json
from pathlib import Path

import matplotlib
import pytest

import sowcal

nbformat = pytest.importorskip("nbformat", reason="the notebook reader, nbformat, is not installed")
FOLDER = Path(__file__).parents[2] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
STORIES = {
    "a_map_from_a_grid",
    "a_years_sowing_plan",
    "can_this_perennial_live_here",
    "first_look_at_a_place",
    "from_your_own_weather_file",
    "two_plots_compared",
}


NEEDED = {"a_map_from_a_grid": "dask"}  # beyond what sowcal itself rests on


def cells(path, kind="code"):
    book = nbformat.read(path, as_version=4)
    nbformat.validate(book)
    return [c for c in book.cells if c.cell_type == kind]


def test_every_story_is_there():
    assert {p.stem for p in NOTEBOOKS} >= STORIES


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_runs_from_top_to_bottom(path, tmp_path, monkeypatch):
    matplotlib.use("Agg")
    from matplotlib import pyplot as plt

    if path.stem in NEEDED:
        pytest.importorskip(NEEDED[path.stem])
    monkeypatch.chdir(tmp_path)
    names = {"__name__": "__main__"}
    try:
        for number, cell in enumerate(cells(path), 1):
            exec(compile(cell.source, f"{path.name}, code cell {number}", "exec"), names)
    finally:
        plt.close("all")


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_carries_no_outputs_and_no_counts(path):
    assert path.read_bytes().endswith(b"}\n")
    for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
        if cell["cell_type"] == "code":
            assert cell["outputs"] == []
            assert cell["execution_count"] is None


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_uses_the_public_door_only(path):
    for cell in cells(path):
        for node in ast.walk(ast.parse(cell.source)):
            if isinstance(node, ast.ImportFrom):
                assert not (node.module or "").startswith("sowcal")
            elif isinstance(node, ast.Import):
                assert not any(a.name.startswith("sowcal.") for a in node.names)
            elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "sowcal":
                assert node.attr in sowcal.__all__


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_tells_a_story_on_invented_plots(path):
    text = "\n".join(c.source for c in cells(path, "markdown"))
    assert text.startswith("# ")
    assert "invented" in text
    assert "Change" in text or "change" in text
