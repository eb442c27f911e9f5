"""README and DEVELOPERS.md name files and functions that are there, and their Python runs."""

from __future__ import annotations

import ast
import re
import shlex
import shutil
import tomllib
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path

import pytest

import sowcal
from sowcal.__main__ import main
from sowcal.commands.parser import parse

ROOT = Path(__file__).parents[1]
PACKAGES = sorted(p.name for p in Path(sowcal.__file__).parent.iterdir() if (p / "__init__.py").is_file())
DOCUMENTS = ["README.md", "DEVELOPERS.md"]


def quoted(name):
    """Words in back quotes outside blocks of code."""
    text = re.sub(r"^```.*?^```", "", (ROOT / name).read_text(encoding="utf-8"), flags=re.DOTALL | re.MULTILINE)
    return {word for quote in re.findall(r"`([^`\n]+)`", text) for word in quote.split()}


def is_there(word):
    """A path from the root or from the package; a bare name of a file of the package or the tests."""
    if "/" in word:
        return any((base / word).exists() for base in (ROOT, ROOT / "sowcal"))
    return any(True for folder in ("sowcal", "tests") for _ in (ROOT / folder).rglob(word))


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_file_that_is_named_is_there(name):
    inside = re.compile(r"(sowcal|tests|crop_data|notebooks|\.ci)/[\w./-]*|[\w/-]+\.(py|ipynb)")
    named = {word for word in quoted(name) if inside.fullmatch(word)}
    assert named
    assert sorted(word for word in named if not is_there(word)) == []


def test_every_function_that_is_named_is_there():
    dotted = re.compile(
        rf"(sowcal\.)?({'|'.join([*PACKAGES, 'opened', 'answers', 'indices'])})(\.(?!csv\b|py\b|toml\b)\w+)+"
    )
    named = {w.removeprefix("sowcal.") for name in DOCUMENTS for w in quoted(name) if dotted.fullmatch(w)}
    assert len(named) > 5
    for word in sorted(named):
        path, _, last = f"sowcal.{word}".rpartition(".")
        assert hasattr(import_module(path), last) or find_spec(f"{path}.{last}"), word


def test_a_stranger_is_led_through_a_dozen_rooms():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    walk = text.split("### One question through the house")[1].split("\n### ")[0]
    steps = re.split(r"^\d+\. ", walk, flags=re.MULTILINE)[1:]
    assert len(steps) == 12
    for number, step in enumerate(steps, 1):
        rooms = re.findall(r"\*\*`(sowcal/[\w/]+\.py)`\*\*", step)
        assert rooms, f"step {number} names no room"
        for room in rooms:
            source = (ROOT / room).read_text(encoding="utf-8")
            for function in re.findall(rf"`{room}`\*\*, `(\w+)`", step):
                assert f"def {function}(" in source, f"{room} has no {function}"


def blocks():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    return re.findall(r"^```python\n(.*?)^```", text, flags=re.DOTALL | re.MULTILINE)


def test_python_of_the_readme_runs(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    found = blocks()
    assert len(found) >= 2
    for block in found:
        exec(compile(block, "README.md", "exec"), {})
    assert (tmp_path / "chart.pdf").stat().st_size > 10_000


def called(text):
    """Commands of a text in back quotes or in blocks, each as its words."""
    lines = re.findall(r"`(sowcal(?: [^`\n]*)?)`", text)
    return [shlex.split(line)[1:] for line in dict.fromkeys(lines)]


NOT_RUN = {  # beginnings of commands that tests of their own run, or whose words stand for others
    "map": "tests/grid/test_map_command.py",
    "weather fetch": "tests/weather/test_addresses.py",
    "compare A B": "stands for two places",
    "completion": "tests/commands/test_completion.py",
    "start": "tests/commands/test_remembered.py",
    "open": "tests/page/test_open_browser.py",
}


BEFORE = {  # what the reader has done by then
    "mine remove": "mine add tomato leek",
    "log picked": "log sown outdoors courgette --date '100 days ago'",
}


def test_commands_of_the_readme_run(tmp_path, monkeypatch, capsys):
    """Every command in back quotes, in the README's order, on files that it tells to write."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SOWCAL_HOME", str(tmp_path / "home"))
    plots = ROOT / "sowcal" / "plots"
    garden = (plots / "sallowdene.garden.toml").read_text(encoding="utf-8")
    text = (plots / "sallowdene.toml").read_text(encoding="utf-8")
    for name in ("my-plot.toml", "other-plot.toml"):
        Path(name).write_text(text, encoding="utf-8")
    Path("my.garden.toml").write_text(garden, encoding="utf-8")
    Path("months.csv").write_text("crop,way,months\nleek,set out,5-7\n", encoding="utf-8")
    calls = called((ROOT / "README.md").read_text(encoding="utf-8"))
    assert len(calls) > 40
    # other tests run these: here it is enough that their words are understood, but for what is written
    long = {"chart", "compare", "garden", "page", "rate", "season", "week"}
    for words in calls:
        if " ".join(words).startswith(tuple(NOT_RUN)):
            continue
        if words and words[0] in long and not set(words) & {"crops.csv", "year.ics"}:
            parse(words)
            continue
        shutil.rmtree("home", ignore_errors=True)
        if before := BEFORE.get(" ".join(words[:2])):
            assert main(shlex.split(before)) == 0
        assert main(words or []) == 0, words
        capsys.readouterr()
    for made in ("crops.csv", "year.ics", "place.pdf"):
        assert Path(made).stat().st_size > 500


def test_the_first_command_needs_no_test_tools_and_the_second_is_the_one_of_the_checks():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    first, second = re.findall(r"^```\n(python -m pip install .*)\n```", text, flags=re.MULTILINE)
    assert first == "python -m pip install . && sowcal chart"
    checks = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    for command in (*first.split(" && "), *second.split(" && ")):
        assert command in checks, command
    about = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    needed = {re.split(r"[<>=]", d)[0] for d in about["dependencies"]}
    assert not needed & {"pytest", "hypothesis", "ruff", "mypy", "openpyxl", "shtab", "jsonschema", "dask"}
    for name in needed:  # each is used by the program itself
        used = re.compile(rf"^\s*(from|import) {name}\b", re.MULTILINE)
        assert any(used.search(p.read_text(encoding="utf-8")) for p in (ROOT / "sowcal").rglob("*.py")), name


def test_renamed_calls_are_told_by_their_new_names():
    text = (ROOT / "README.md").read_text(encoding="utf-8").split("### Renamed in 0.2.0")[1].split("\n## ")[0]
    rows = [line.strip("|").split("|") for line in text.splitlines() if line.startswith("|")][2:]
    for old, new in ([(cell.strip(" `")) for cell in row] for row in rows):
        for name, there in ((old, False), (new, True)):
            if called := re.fullmatch(r"Settings\((\w+)=\.\.\.\)", name):
                assert (called[1] in sowcal.Settings.__slots__) == there, name
            elif name.startswith("--"):
                parser = Path(sowcal.__file__).parent / "commands" / "parser.py"
                assert (f'"{name}"' in parser.read_text(encoding="utf-8")) == there, name


def test_layers_are_told_in_the_order_that_is_held():
    text = (ROOT / "tests" / "test_layers.py").read_text(encoding="utf-8").split("LAYERS = [")[1].split("\n]")[0]
    held = ast.literal_eval(f"[{text}]")
    (told,) = (line for line in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").splitlines() if " -> " in line)
    names = told.split(" -> ")
    assert names[0] == "ground floor"
    assert [{name} for name in names[1:]] == held[1:-1]


def test_nothing_is_left_of_a_merge():
    for name in DOCUMENTS:
        assert not re.search(r"^(<{7}|={7}|>{7})", (ROOT / name).read_text(encoding="utf-8"), flags=re.MULTILINE), name
