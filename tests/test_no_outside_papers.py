"""No line of the project points at a paper that is not part of it: the reason stands where the line stands."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
# The words are put together, or this file would point at them itself. EPW files begin a line with the first of them.
PAPERS = "|".join(("DES" + "IGN(?! CONDITIONS)", "HO" + "USE", "STY" + r"LE\.md", "METEO" + r"STAT\.md"))
POINTS_AT = re.compile(
    rf"\b({PAPERS})\b|seed {'doc'}uments?\b|\binterview{'s?'}\b|\bissues? #?{'[0-9]'}|\.\./{'sha'}red|/{'work'}/"
)
SECTION = re.compile(r"\b[Ss]ections? [0-9]")
OUTSIDE_RULES = re.compile(r"RFC [0-9]|sqlite\.org")  # rules that anybody can look up have sections too
TEXTS = {".py", ".md", ".toml", ".csv", ".ipynb", ".ini", ".js", ".css", ".json", ""}


def texts() -> list[Path]:
    """Files under version control; all of the project's where git does not know them."""
    done = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True)
    names = done.stdout.split("\0") if done.returncode == 0 else []
    found = [ROOT / name for name in names if name] or [
        path for folder in ("sowcal", "tests", "notebooks", "crop_data") for path in (ROOT / folder).rglob("*")
    ]
    return [p for p in found if p.is_file() and p.suffix in TEXTS and p.name != "LICENSE"]


def pointing(text: str) -> list[str]:
    """Lines that point outside."""
    return [
        line.strip()[:120]
        for line in text.splitlines()
        if POINTS_AT.search(line) or (SECTION.search(line) and not OUTSIDE_RULES.search(line))
    ]


def test_no_line_points_at_a_paper_outside_the_project():
    found = {}
    for path in texts():
        if path.parent.name == ".ci":  # it names the folder of station records, which lies beside a checkout
            continue
        if lines := pointing(path.read_text(encoding="utf-8")):
            found[str(path.relative_to(ROOT))] = lines
    assert found == {}
    assert len(texts()) > 150


@pytest.mark.parametrize(
    "line",
    [
        "odds (DES" + "IGN, part 10)",
        "the plan of HO" + "USE",
        "see sec" + "tion 5",
        "as iss" + "ue 18 asks",
        "../sha" + "red/findings",
    ],
)
def test_such_a_line_is_seen(line):
    assert pointing(line)


@pytest.mark.parametrize(
    "line", ["RFC 8259, section 8.1", "DES" + "IGN CONDITIONS,0", "the house stands", "date of issue"]
)
def test_another_is_not(line):
    assert not pointing(line)
