"""A record whose file's name is no UTF-8 (older systems wrote such names) is named by escapes in every output."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import numpy as np
import pytest

CALLS = [
    ["chart", "leek", "--json"],
    ["weather", "check", "--json"],
    ["chart", "leek", "--out", "answer.json"],
    ["chart", "leek", "--out", "answer.ics"],
    ["weather", "export", "--out", "answer.csv"],
    ["weather", "export", "--out", "answer.nc"],
]


@pytest.fixture
def odd_name(tmp_path):
    days = np.arange("2001-01-01", "2005-01-01", dtype="datetime64[D]")
    rows = "\n".join(f"{d},8.{k % 10},20.{k % 7}" for k, d in enumerate(days))
    name = os.fsencode(str(tmp_path)) + b"/\xff\xfe.csv"
    try:
        with open(name, "wb") as file:
            file.write(f"# latitude: 38.0\ndate,tmin_degC,tmax_degC\n{rows}\n".encode())
    except OSError:
        pytest.skip("this file system takes no such names")
    return name


@pytest.mark.parametrize("locale", ["C.UTF-8", "POSIX"])
def test_every_output_is_utf8(odd_name, locale, tmp_path):
    code = (
        "import sys; from sowcal.__main__ import main\n"
        "for call in sys.argv[2:]:\n"
        "    words = call.split('|'); at = 2 if words[0] == 'weather' else 1\n"
        "    assert main([*words[:at], sys.argv[1], *words[at:]]) == 0\n"
        "    print()\n"
    )
    kept = {k: v for k, v in os.environ.items() if not k.startswith("LC_") and k != "LANG"}
    env = {**kept, "PYTHONPATH": os.pathsep.join(sys.path), "LC_ALL": locale}
    call = [sys.executable, "-c", code, odd_name, *("|".join(words) for words in CALLS)]
    done = subprocess.run(call, cwd=tmp_path, env=env, capture_output=True)
    assert done.returncode == 0, done.stderr.decode("utf-8", "replace")[-1500:]
    first = done.stdout.decode("utf-8").split("\n\n")[0]
    assert json.loads(first)["site"] == "\\udcff\\udcfe"
    for suffix in ("json", "ics", "csv"):
        assert "udcff" in (tmp_path / f"answer.{suffix}").read_bytes().decode("utf-8")
    assert b"\\udcff\\udcfe" in (tmp_path / "answer.nc").read_bytes()
