"""Every two values of the options of every command, together: answered, or refused in one sentence.

Values lie before, in and after the record, at the edges of what is allowed and beyond, and are repeated. Each pair of
sound values stands in a call without any other fault, and each value that is none in calls of its own, so that no
refusal hides another's.
"""

from __future__ import annotations

import json
from itertools import combinations

import numpy as np
import pytest

from sowcal.__main__ import main

DAYS = np.arange("2000-04-01", "2011-10-01", dtype="datetime64[D]")
SITE = """\
name = "{name}"
latitude = 38.0
longitude = -9.0
elevation = 40
[weather]
source = "file"
file = "{file}.csv"
temperature_unit = "degC"
"""
GARDEN = """\
name = "Ness"
site = "long.toml"
crops = ["radish"]
[[beds]]
length = 4
width = 1
[water]
tanks = [1000]
roof = 20
"""
# Each option: what may stand there, and what may not. A value is the words of the call.
YEARS = (
    ["", "--years 11", "--years 3", "--years 2003:2008", "--years 2006:", "--years :2004", "--years 2000:2011"],
    ["--years 2090:", "--years :1850", "--years 2012:", "--years :1999", "--years 1999:", "--years 2050:2060",
     "--years 1900:1950", "--years 0", "--years 400", "--years 2008:2003", "--years x", "--years :"],
)  # fmt: skip
CHANGES = (
    ["", "--with mulch", "--with warmer=2 --with fleece", "--with warmer@6-8=2 --with warmer@12-2=1",
     "--with higher=-1500", "--with slope@S=10 --with sea-air=20"],
    ["--with warmer=8 --with warmer=8", "--with warmer=2 --with warmer=3", "--with fleece --with fleece",
     "--with warmer=8 --with tunnel", "--with warmer=9", "--with mulsh", "--with slope=10", "--with mulch@6-8"],
)  # fmt: skip
# Of the two longest lists, what is unlike in kind: the same parser and the same opener of a place hear all of each in
# `rate` and `chart`, with every value of the others.
FEW_YEARS = (
    ["", "--years 3", "--years 2003:2008"],
    ["--years 2090:", "--years 1999:", "--years 0", "--years x"],
)
FEW_CHANGES = (
    ["", "--with warmer=2 --with fleece", "--with warmer@6-8=2 --with warmer@12-2=1", "--with higher=-1500"],
    ["--with warmer=2 --with warmer=3", "--with warmer=9", "--with mulsh", "--with mulch@6-8"],
)
ODDS = (
    ["", "--reliability 0.5", "--reliability 100"],
    ["--reliability 0", "--reliability 101", "--reliability nan", "--reliability often"],
)
YIELD = (["", "--least-yield 0.01 --near-best 1"], ["--least-yield -1", "--near-best 0"])
LONGEST = (
    ["", "--longest 1 --bed-day 0", "--longest 1e9 --bed-day 1"],
    ["--longest 0.5", "--longest nan", "--bed-day -1", "--bed-day 2"],
)
OWN = (["", "--crops crops.csv", "--crops crops.csv --crops crops.csv"], ["--crops none.csv"])
CROPS = (["radish", "radish radish", "radish olive"], ["nosuch"])
WATER = (["", "--most-water 0", "--most-water 1e9"], ["--most-water -1", "--most-water nan"])
SCREEN = (["", "--ascii --width 60", "--width 100000", "--width -5"], ["--width x"])
MONTH = (["", "--first-month 1", "--first-month 12"], ["--first-month 0", "--first-month 13"])
ISSUED = (["", "--issued 1900-01-01", "--issued 2024-02-29"], ["--issued 2023-02-29", "--issued 1899-12-31"])
FORM = ["", "--json"]
ONE = (["long.toml", "short.toml", "long.csv"], ["none.toml", "none.csv"])
TWO = (
    ["long.toml short.toml", "short.toml long.toml", "short.toml short.toml", "wrackhythe long.csv"],
    ["long.toml none.toml"],
)


def _out(*forms: str) -> tuple[list[str], list[str]]:
    return [*FORM, *(f"--out made{form}" for form in forms)], [
        "--out made.xyz", "--out none/made.json", "--out made", "--out long.csv/made.json",
    ]  # fmt: skip


OPTIONS = {
    "climate": (ONE, YEARS, SCREEN, ISSUED, _out(".json")),
    "rate": (ONE, CROPS, YEARS, CHANGES, ODDS, YIELD, LONGEST, OWN, SCREEN, _out(".json")),
    "chart": (
        ONE, CROPS, YEARS, CHANGES, ODDS, YIELD, LONGEST, OWN, WATER, SCREEN, MONTH, ISSUED, _out(".json", ".ics"),
        (["", "--order family --landscape --today --possible"], ["--order size", "--sort family"]),
        (["", "--year 1900", "--year 9000"], ["--year 1899", "--year 9001"]),
    ),
    "compare": (TWO, CROPS, FEW_YEARS, FEW_CHANGES, ODDS, YIELD, LONGEST, OWN, SCREEN, _out(".json")),
    "garden": (
        (["ness.garden.toml"], ["none.toml", "ness.garden.toml ness.garden.toml"]),
        YEARS, SCREEN, ISSUED, _out(".json"),
    ),
    "week": (
        ONE, CROPS, FEW_YEARS, FEW_CHANGES, ODDS, LONGEST, OWN, WATER, SCREEN, _out(".json", ".ics"),
        (["", "--date 1900-01-01", "--date 2024-02-29"], ["--date 2023-02-29", "--date 9001-01-01"]),
        (["", "--ahead 0", "--ahead 51"], ["--ahead -1", "--ahead 52", "--ahead x"]),
    ),
    "season": (
        ONE, YEARS, CHANGES, ODDS, YIELD, OWN, SCREEN, ISSUED, _out(".json", ".csv"),
        (["--date 2008-05-10", "--date 2008-02-29", "--year 2008"], ["--date 2023-02-29", "--year 1899"]),
        (["", "--garden ness.garden.toml"], ["--garden none.toml"]),
        (["", "--recent more.csv", "--forecast more.csv"], ["--recent none.csv", "--forecast none.csv"]),
    ),
    "page": (
        (["long.toml", "short.toml long.toml"], ["long.toml short.toml wrackhythe", "none.toml"]),
        CROPS, FEW_YEARS, FEW_CHANGES, ODDS, OWN, MONTH, ISSUED,
        (["--out made.html"], ["", "--out made.json", "--out none/made.html", "--out long.csv/made.html"]),
        (["", "--try shade-cloth=40 --try cold-frame"], ["--try mulsh", "--try shade-cloth=90"]),
        (["", "--garden ness.garden.toml"], ["--garden none.toml"]),
    ),
    "weather check": (ONE, YEARS, SCREEN, _out(".json")),
    "weather trend": (ONE, YEARS, SCREEN, _out(".json")),
    "weather export": (
        ONE, YEARS, (["--out made.csv", "--out made.nc"],
        ["", "--out made.xyz", "--out none/made.csv", "--out long.csv/made.csv"]),
    ),
    "weather offset": ((["long.csv short.csv", "long.toml short.csv"], ["long.csv", "long.csv none.csv"]), (FORM, [])),
    "weather list": (([""], ["long.toml"]), (FORM, ["--out made.json", "--years 5"])),
    "weather clear": (([""], ["90009"]), (FORM, ["--out made.json", "--years 5"])),
    "crops": ((["", "radish", "Solanaceae"], ["nosuch"]), OWN, (["", "--basis"], []), (FORM, [])),
}  # fmt: skip
LOG = """date,event,crop,sort,bed,plants,amount,note
2008-03-01,sown outdoors,radish,,1,,,
2008-04-10,set out,courgette,red,2,4,,
2008-05-01,tank,,,,,900,
"""
# Sound by themselves, and refused together: for the reason that the sentence must have.
NOT_TOGETHER = (
    ("short.toml", "--years 11", "cannot be taken from it"),
    ("short.toml", "--years 2006:", "cannot be taken from it"),
    ("short.toml", "--years 2000:2011", "cannot be taken from it"),
    ("--years 3", "--date 2008", "at least a year"),  # the last three years begin later
    ("--with higher=-1500", "--try shade-cloth=40 --try cold-frame", "10 degC at most"),
)


def all_pairs(options: list[list[str]]) -> list[tuple[str, ...]]:
    """Few rows with one value of each option, so that every two values of any two options stand in one of them.

    Greedy: each row begins with a pair that is wanting and takes, option by option, the value that adds most.
    """
    wanting = {
        ((i, a), (j, b)) for i, j in combinations(range(len(options)), 2) for a in options[i] for b in options[j]
    }
    rows = []
    while wanting:
        row = dict(min(wanting))
        for k in (k for k in range(len(options)) if k not in row):
            row[k] = max(
                options[k],
                key=lambda v: sum(tuple(sorted(((k, v), held))) in wanting for held in row.items()),
            )
        wanting -= set(combinations(sorted(row.items()), 2))
        rows.append(tuple(row[k] for k in range(len(options))))
    return rows


def calls(command: str) -> list[tuple[list[str], str | None]]:
    """Words of each call, and the value in it that must be refused, if any."""
    sound = [good for good, _ in OPTIONS[command]]
    rows = all_pairs(sound)
    out: list[tuple[list[str], str | None]] = [(f"{command} {' '.join(row)}".split(), None) for row in rows]
    for k, (_, wrong) in enumerate(OPTIONS[command]):
        for n, value in enumerate(wrong):
            for row in (rows[n % len(rows)], rows[-1 - n % len(rows)]):
                words = [value if i == k else held for i, held in enumerate(row)]
                out.append((f"{command} {' '.join(words)}".split(), value))
    return out


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A record of eleven and a half years, and one that ends earlier and begins later, a hundred days missing in it."""
    folder = tmp_path_factory.mktemp("ness")
    rng = np.random.default_rng(4)
    wave = np.cos(2 * np.pi * (np.arange(DAYS.size) - 110) / 365.25)
    low = 10 + 6 * wave + rng.normal(0, 2.5, DAYS.size)
    high = low + 9 + rng.gamma(2.0, 1.0, DAYS.size)
    rain = np.where(rng.random(DAYS.size) < 0.25, rng.exponential(6.0, DAYS.size), 0.0)
    rows = [f"{d},{a:.1f},{b:.1f},{p:.1f}" for d, a, b, p in zip(DAYS, low, high, rain, strict=True)]
    short = [r for r in rows if "2003-01-01" <= r[:10] <= "2009-12-31" and not "2006-03-01" <= r[:10] < "2006-06-09"]
    for name, held in (("long", rows), ("short", short)):
        head = "# latitude: 38.0\ndate,tmin_degC,tmax_degC,pr_mm\n"
        (folder / f"{name}.csv").write_text(head + "\n".join(held) + "\n")
        (folder / f"{name}.toml").write_text(SITE.format(name=name.title(), file=name))
    (folder / "ness.garden.toml").write_text(GARDEN)
    (folder / "crops.csv").write_text("crop,like\nred radish,radish\n")
    more = [f"2013-0{m}-{d:02d},9.0,19.0" for m in (1, 2) for d in (1, 2)]
    (folder / "more.csv").write_text("\n".join(["# temperature_unit: degC", "date,tmin,tmax", *more]) + "\n")
    for name in ("long", "short"):
        (folder / f"{name}.log.csv").write_text(LOG)
    return folder


def outcome(words: list[str], place, capsys) -> tuple[int, str, str, list[str]]:
    """Exit code, answer, what was said, and files made; they are taken away again."""
    before = set(place.rglob("*"))
    code = main(words)
    shown, said = capsys.readouterr()
    made = sorted(set(place.rglob("*")) - before)
    for path in made:
        if "--json" not in words and path.suffix == ".json":
            json.loads(path.read_text())
        assert path.stat().st_size > 0
        path.unlink()
    return code, shown, said, [p.name for p in made]


def fault(words: list[str], wrong: str | None, place, capsys) -> str:
    """What is amiss with the outcome of a call; nothing where all is well."""
    try:
        code, shown, said, made = outcome(words, place, capsys)
    except BaseException as problem:
        return f"{type(problem).__name__}: {problem}"
    lines = said.splitlines()
    if strange := [line for line in lines if not line.startswith("sowcal: ")]:
        return f"said {strange}"
    if code == 0:
        if wrong is not None:
            return f"{wrong!r} was taken"
        if "--out" in words:
            return (
                "" if made == [words[words.index("--out") + 1]] and not shown else f"made {made}, showed {shown[:80]!r}"
            )
        if "--json" in words:
            json.loads(shown)
        return "" if shown and not made else "nothing was shown, or something was made"
    if wrong is None and not any(
        a in " ".join(words) and b in " ".join(words) and c in said for a, b, c in NOT_TOGETHER
    ):
        return f"exit code {code}: {lines}"
    if code not in (2, 4) or shown or made or len(lines) != 1:
        return f"exit code {code}, made {made}, showed {shown[:80]!r}, said {lines}"
    return ""


@pytest.mark.parametrize("command", OPTIONS)
def test_every_two_values_together(command, place, capsys, monkeypatch):
    monkeypatch.chdir(place)
    monkeypatch.setenv("SOWCAL_CACHE", str(place.with_name(f"{place.name}-kept")))
    monkeypatch.setenv("TERM", "dumb")
    faults = []
    for words, wrong in calls(command):
        if found := fault(words, wrong, place, capsys):
            faults.append(f"sowcal {' '.join(words)}\n    {found}")
    assert not faults, f"{len(faults)} of {len(calls(command))}:\n" + "\n".join(faults)


def test_all_pairs_are_there():
    """And in far fewer rows than there are combinations."""
    options = [good for good, _ in OPTIONS["chart"]]
    rows = all_pairs(options)
    for i, j in combinations(range(len(options)), 2):
        assert {(row[i], row[j]) for row in rows} == {(a, b) for a in options[i] for b in options[j]}
    assert len(rows) < 3 * max(len(a) * len(b) for a, b in combinations(options, 2))
