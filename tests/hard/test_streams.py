"""Standard output that is full, closed or not read, and interrupts at any moment: one sentence and an exit code."""

from __future__ import annotations

import os
import random
import re
import subprocess
import sys
from pathlib import Path

import pytest

if os.name != "posix":
    pytest.skip("descriptors and signals as POSIX has them", allow_module_level=True)

GARDEN = 'name = "G"\nsite = "sallowdene"\ncrops = ["radish"]\n[[beds]]\nlength = 4\nwidth = 1\n'
CALLS = [
    "climate sallowdene",
    "rate sallowdene radish",
    "rate sallowdene radish pea",
    "chart sallowdene radish",
    "compare wrackhythe sallowdene radish",
    "garden g.toml",
    "week sallowdene radish",
    "season sallowdene",
    "log --site sallowdene",
    "weather check sallowdene",
    "weather trend sallowdene",
    "weather list",
    "weather clear",
    "crops radish",
    "crops --basis",
]
COMMANDS = ("climate", "rate", "chart", "compare", "garden", "week", "season", "page", "map", "weather", "crops")
WORDS = ["--help", "--version", *(f"{c} --help" for c in COMMANDS)]
# One process for all calls: what stands in their place is a descriptor of their own each time.
PROGRAM = """
import os, sys
from sowcal.__main__ import main

for line in sys.stdin.read().splitlines():
    if sys.argv[1] == "closed":
        sys.stdout = None  # as Python finds it
    else:
        sys.stdout = open(sys.argv[1], "w")
    try:
        code = main(line.split())
    except SystemExit as end:
        code = end.code
    print(f"[{code}]", file=sys.stderr, flush=True)
os._exit(0)
"""


def environment(folder: Path) -> dict[str, str]:
    return {
        **os.environ,
        "PYTHONPATH": os.pathsep.join(p for p in sys.path if p),
        "SOWCAL_CACHE": str(folder.with_name(f"{folder.name}-kept")),
        "MPLBACKEND": "Agg",
        "TERM": "dumb",
    }


@pytest.mark.parametrize("where", ["/dev/full", "closed"])
def test_every_answer_that_cannot_be_written_is_told(tmp_path, where):
    if where != "closed" and not Path(where).exists():
        pytest.skip("there is no device that is always full")
    (tmp_path / "g.toml").write_text(GARDEN)
    calls = [*CALLS, *(f"{c} --json" for c in CALLS), *WORDS]
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, where],
        input="\n".join(calls), capture_output=True, text=True, cwd=tmp_path, env=environment(tmp_path),
    )  # fmt: skip
    told = re.split(r"\[(\S+)\]\n", done.stderr)
    assert len(told) == 2 * len(calls) + 1, done.stderr
    for call, said, code in zip(calls, told[::2], told[1::2], strict=False):
        last = said.splitlines()[-1]
        assert code == "2", (call, said)
        assert last.startswith("sowcal: standard output: "), (call, said)
        assert "Traceback" not in said


@pytest.mark.parametrize("call", ["climate sallowdene", "crops", "chart --help"])
@pytest.mark.parametrize("to", [">/dev/full", ">&-"])
def test_as_the_shell_gives_it(tmp_path, call, to):
    """Python's own last words at its end too: it tries once more to write what is left."""
    command = ["/bin/sh", "-c", f'exec "$0" -m sowcal {call} {to}', sys.executable]
    done = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path, env=environment(tmp_path))
    assert done.returncode == 2
    lines = [line for line in done.stderr.splitlines() if "generated from" not in line]
    assert len(lines) == 1, done.stderr
    assert lines[0].startswith("sowcal: standard output: ")


def test_a_reader_that_goes_away_is_no_error(tmp_path):
    done = subprocess.run(
        ["/bin/sh", "-c", '"$0" -m sowcal crops | head -1; "$0" -m sowcal --version 2>&-', sys.executable],
        capture_output=True, text=True, cwd=tmp_path, env=environment(tmp_path),
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert len(done.stdout.splitlines()) == 2


INTERRUPTED = """
import os, signal, sys
left, sys.argv = int(sys.argv[1]), ["sowcal", *sys.argv[2:]]
from sowcal.__main__ import main

def hear(event, given):
    global left
    if event == "import":
        left -= 1
        if left == 0:
            os.kill(os.getpid(), signal.SIGINT)

sys.addaudithook(hear)  # an interrupt before `main` is Python's own affair
sys.exit(main())
"""
PICTURE = ["chart", "sallowdene", "radish", "--out", "c.png"]


def interrupted(folder: Path, at: int) -> subprocess.CompletedProcess:
    """A picture that is interrupted at the so-manieth module it loads."""
    command = [sys.executable, "-c", INTERRUPTED, str(at), *PICTURE]
    return subprocess.run(command, capture_output=True, text=True, cwd=folder, env=environment(folder))


def test_an_interrupt_while_modules_are_loaded_is_told(tmp_path):
    """From the first module on to the last of a picture; libraries in the middle of their own imports included."""
    chance = random.Random(5)
    moments = [1, 2, 3, *chance.sample(range(4, 400), 14), *chance.sample(range(400, 1200), 8)]
    stopped = 0
    for at in moments:
        done = interrupted(tmp_path, at)
        said = [line for line in done.stderr.splitlines() if "generated from" not in line]
        if done.returncode == 0:  # it was done before
            assert said == ["sowcal: wrote c.png"], (at, done.stderr)
            (tmp_path / "c.png").unlink()
            continue
        stopped += 1
        assert (done.returncode, said, done.stdout) == (130, ["sowcal: stopped"], ""), at
        assert list(tmp_path.iterdir()) == []
    assert stopped >= len(moments) // 2


def test_who_starts_it_may_have_it_hear_no_interrupts(tmp_path):
    """As `nohup` and a shell's background jobs do."""
    command = ["/bin/sh", "-c", "trap '' INT; \"$@\"", "sh", sys.executable, "-c", INTERRUPTED, "300", *PICTURE]
    done = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path, env=environment(tmp_path))
    assert done.returncode == 0
    assert (tmp_path / "c.png").exists()
