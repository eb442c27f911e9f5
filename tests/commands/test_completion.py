"""What a shell completes, what a call without a word says, and how far long work has come."""

import io
import re
import shutil
import subprocess

import pytest

from sowcal.__main__ import main
from sowcal.commands import completion
from sowcal.commands.parser import build
from sowcal.progress import followed, heard_by, shown_on


def names():
    (action,) = [a for a in build()._actions if a.dest == "command"]
    return [a.dest for a in action._choices_actions]


def test_bash_completes_commands_options_plots_and_crops(tmp_path, capsys):
    pytest.importorskip("shtab")
    if shutil.which("bash") is None:
        pytest.skip("there is no bash here")
    assert main(["completion", "bash"]) == 0
    script = tmp_path / "complete.bash"
    script.write_text(capsys.readouterr().out, encoding="utf-8")

    def completed(*words):
        line = " ".join(f"'{w}'" for w in words)
        run = f"COMP_WORDS=({line}); COMP_CWORD={len(words) - 1}; COMPREPLY=(); _shtab_sowcal; echo ${{COMPREPLY[@]}}"
        made = subprocess.run(
            ["bash", "-c", f"source {script}; {run}"], capture_output=True, text=True, check=True, cwd=tmp_path
        )
        return made.stdout.split()

    assert completed("sowcal", "cha") == ["chart"]
    assert set(completed("sowcal", "")) >= set(names()) - {"next"}
    assert "next" not in completed("sowcal", "ne")
    assert completed("sowcal", "chart", "--rel") == ["--reliability"]
    assert completed("sowcal", "chart", "sallow") == ["sallowdene"]
    assert completed("sowcal", "rate", "courg") == ["courgette"]
    assert completed("sowcal", "garden", "--table", "wat") == ["watering"]


def test_the_script_of_zsh_names_every_command(capsys):
    pytest.importorskip("shtab")
    assert main(["completion", "zsh"]) == 0
    told = capsys.readouterr().out
    assert told.startswith("#compdef sowcal")
    assert [n for n in names() if n != "next" and f"{n}:" not in told] == []


def test_the_line_to_add_is_told_and_a_missing_package_named(monkeypatch, capsys):
    assert main(["completion"]) == 0
    told = capsys.readouterr().out
    for line, file in completion.LINES.values():
        assert line in told
        assert file in told
    monkeypatch.setattr(completion, "find_spec", lambda name: None)
    assert main(["completion", "bash"]) == 2
    assert re.fullmatch(r"sowcal: .*sowcal\[completion\].*\n", capsys.readouterr().err)


def test_a_call_without_a_word_says_what_to_do_next(capsys, monkeypatch, tmp_path):
    monkeypatch.setenv("SOWCAL_HOME", str(tmp_path))
    assert main([]) == 0
    first = capsys.readouterr().out
    assert "sowcal start" in first
    assert "--help" in first
    assert main(["here", "sallowdene"]) == 0
    assert main(["mine", "add", "leek"]) == 0
    capsys.readouterr()
    assert main([]) == 0
    then = capsys.readouterr().out
    assert "sallowdene" in then
    assert "1 crop" in then
    assert "sowcal week" in then
    assert "sowcal start" not in then


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_work_on_crops_tells_how_far_it_has_come(capsys):
    heard = []
    with heard_by(lambda *told: heard.append(told)):
        assert main(["rate", "sallowdene", "leek", "carrot", "fig"]) == 0
    assert ("judging", 0, 3, "crop") in heard
    assert ("judging", 3, 3, "crop") in heard


def test_the_same_work_again_begins_anew_and_nothing_stays():
    """Ten items of a second each, twice: the second time nothing is shown before half a second has gone."""
    screen, clock = Terminal(), iter(range(1000))
    with shown_on(screen, lambda: float(next(clock))):
        for _ in range(2):
            assert list(followed(range(4), "judging", "crop")) == [0, 1, 2, 3]
    shown = [p.strip() for p in screen.getvalue().split("\r") if p.strip()]
    assert [re.search(r"(\d) of 4", p)[1] for p in shown] == ["1", "2", "3"] * 2
    assert screen.getvalue().rstrip("\r ").rpartition("\r")[2].strip() != "4 of 4"
