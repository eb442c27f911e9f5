"""The notebooks run from top to bottom as they stand, use the public door only, and carry nothing of an earlier run."""

import ast
import json
from pathlib import Path

import matplotlib.figure
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
    "ten_questions",
    "two_plots_compared",
}


NEEDED = {"a_map_from_a_grid": "dask"}  # beyond what sowcal itself rests on


def cells(path, kind="code"):
    book = nbformat.read(path, as_version=4)
    nbformat.validate(book)
    return [c for c in book.cells if c.cell_type == kind]


def test_every_story_is_there():
    assert {p.stem for p in NOTEBOOKS} >= STORIES


def can_be_shown(value):
    """A picture, an answer that has a form for notebooks, or something short that says what it is."""
    if value is None or isinstance(value, matplotlib.figure.Figure) or hasattr(value, "_repr_html_"):
        return True
    return len(repr(value)) < 4000 and " at 0x" not in repr(value)


def run_cell(source, name, names):
    """Run a cell as a notebook does; the value of a last expression that it would show, else None."""
    tree = ast.parse(source, name)
    last = tree.body.pop() if isinstance(tree.body[-1], ast.Expr) else None
    exec(compile(tree, name, "exec"), names)
    if last is None:
        return None
    value = eval(compile(ast.Expression(last.value), name, "eval"), names)
    return None if source.rstrip().endswith(";") else value


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_runs_from_top_to_bottom_and_says_nothing_but_its_answers(path, tmp_path, monkeypatch, capsys, recwarn):
    """No name of an object in memory below a picture, no warning, nothing on standard error."""
    matplotlib.use("Agg")
    from matplotlib import pyplot as plt

    if path.stem in NEEDED:
        pytest.importorskip(NEEDED[path.stem])
    monkeypatch.chdir(tmp_path)
    names = {"__name__": "__main__"}
    answers = 0
    try:
        for number, cell in enumerate(cells(path), 1):
            shown = run_cell(cell.source, f"{path.name}, code cell {number}", names)
            assert can_be_shown(shown), f"cell {number} shows {shown!r}"
            answers += shown is not None
    finally:
        plt.close("all")
    said = capsys.readouterr()
    assert said.out or answers
    assert said.err == ""
    assert " at 0x" not in said.out
    assert [str(w.message) for w in recwarn if w.filename.startswith(f"{path.name}, ")] == []


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


def test_ten_questions_take_a_line_each():
    _, *questions = cells(FOLDER / "ten_questions.ipynb")
    assert len(questions) == 10
    assert all(len(c.source.splitlines()) == 1 for c in questions)
