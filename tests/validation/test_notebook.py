"""The notebook that shows the dates beside printed guides runs from top to bottom and carries no outputs."""

import json
from pathlib import Path

import matplotlib
import pytest

nbformat = pytest.importorskip("nbformat", reason="the notebook reader, nbformat, is not installed")
NOTEBOOK = Path(__file__).with_name("held_against_printed_guides.ipynb")


def code_cells():
    return [c for c in nbformat.read(NOTEBOOK, as_version=4).cells if c.cell_type == "code"]


def test_carries_no_outputs():
    assert all(not c.outputs and c.execution_count is None for c in code_cells())
    nbformat.validate(json.loads(NOTEBOOK.read_text(encoding="utf-8")))


def test_runs_from_top_to_bottom(reference_folder, monkeypatch, capsys):
    monkeypatch.setenv("SOWCAL_REFERENCE", str(reference_folder))
    matplotlib.use("Agg")
    from matplotlib import pyplot as plt

    names = {"__name__": "__main__"}
    try:
        for number, cell in enumerate(code_cells(), 1):
            exec(compile(cell.source, f"{NOTEBOOK.name}, code cell {number}", "exec"), names)
        assert len(plt.gcf().axes) == 1
    finally:
        plt.close("all")
    assert len(names["rows"]) >= 6
    assert "missed" in capsys.readouterr().out
