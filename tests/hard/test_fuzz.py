"""Random damage to every kind of file and random command lines: read or refused, never anything else.

`python tests/hard/fuzz.py --minutes N` does the same for longer and counts.
"""

from __future__ import annotations

import random
import sys

import fuzz
import mutate
import pytest
import samples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from targets import TARGETS, Defect, one

SLOW = {
    "commands on damaged files": 8, "command line": 8, "crop file": 6, "epw": 4, "zarr": 12, "kept record": 15,
    "season, by commands": 3, "languages and units": 4, "upload": 5, "forms of the page": 3, "log": 12,
    "leaflet": 12, "data frame": 15, "dataset": 15,
}  # fmt: skip
USUAL = 25
# The same inputs in every run: a defect that a run finds by luck is found by `fuzz.py`, not by somebody's next commit.
CALM = settings(
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow, HealthCheck.data_too_large],
)


@pytest.mark.parametrize("kind", TARGETS)
def test_damaged_input_is_read_or_refused(tmp_path, kind):
    @settings(CALM, max_examples=SLOW.get(kind, USUAL))
    @given(st.randoms(use_true_random=False))
    def check(chance):
        assert one(kind, tmp_path, chance.randrange) in ("read", "refused")

    check()


@pytest.mark.parametrize("kind", [k for k in samples.weather() if k != "epw"])
def test_the_sound_file_itself_is_read(tmp_path, monkeypatch, kind):
    """Else all of the above would be refusals of a file that was never sound."""
    monkeypatch.setattr("targets.damaged", lambda raw, pick: raw)
    assert one(kind, tmp_path, lambda n: n - 1) == "read"


@pytest.mark.parametrize("kind", ["log", "leaflet", "settings file", "data frame", "dataset", "upload"])
def test_what_a_grower_has_is_taken_where_it_is_sound(tmp_path, monkeypatch, kind):
    monkeypatch.setattr("grower_targets.damaged", lambda raw, pick: raw)
    assert one(kind, tmp_path, lambda n: n - 1) == "read"


@pytest.mark.parametrize(
    "kind", ["site file, of a record", "site file, of normals", "garden file", "crop file", "zarr"]
)
def test_and_so_are_the_others(tmp_path, monkeypatch, kind):
    if kind not in TARGETS:
        pytest.skip("the package zarr is not installed")
    monkeypatch.setattr("targets.damaged", lambda raw, pick: raw)
    for chosen in range(3):
        assert one(kind, tmp_path, lambda n, k=chosen: min(k, n - 1)) == "read"


def test_damage_is_damage():
    raw = samples.weather()["csv"][1]
    changed = sum(mutate.damaged(raw, random.Random(n).randrange) != raw for n in range(200))
    assert changed > 170  # a line exchanged for itself is none


@pytest.mark.parametrize(
    ("harm", "words"),
    [
        (lambda folder, pick: 1 // 0, "ZeroDivisionError"),
        (lambda folder, pick: __import__("warnings").warn("odd", RuntimeWarning, stacklevel=1), "RuntimeWarning"),
        (lambda folder, pick: (_ for _ in ()).throw(Defect("found")), "found"),
    ],
)
def test_a_defect_is_seen(tmp_path, monkeypatch, harm, words):
    """The judge itself: what it must see, it sees."""

    def run(folder, pick):
        found = harm(folder, pick)
        if hasattr(found, "__next__"):
            next(found)

    monkeypatch.setitem(TARGETS, "harm", run)
    with pytest.raises(Defect, match=words):
        one("harm", tmp_path, random.Random(1).randrange)


def test_the_program_counts(monkeypatch, capsys):
    monkeypatch.setattr(sys, "argv", ["fuzz.py", "--only", "garden file", "--times", "30"])
    assert fuzz.main() == 0
    assert "| garden file | 30 |" in capsys.readouterr().out
