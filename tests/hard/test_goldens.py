"""The kept answers are the answers; a difference is printed, to be read by a person."""

from __future__ import annotations

import copy
import json

import goldens


def test_answers_are_those_kept():
    kept = json.loads(goldens.KEPT.read_text(encoding="utf-8"))
    found = list(goldens.differences(kept, goldens.answers()))
    lines = "\n".join(found[:40])
    assert not found, (
        f"{len(found)} answers moved; if they should, run `python tests/hard/goldens.py --write` and give the reason "
        f"in the commit:\n{lines}"
    )


def test_a_difference_is_seen_and_named():
    kept = json.loads(goldens.KEPT.read_text(encoding="utf-8"))
    changed = copy.deepcopy(kept)
    changed["sallowdene"]["climate"]["frost_days"] += 0.1
    del changed["garden"]["plants"]["courgette"]
    found = list(goldens.differences(kept, changed))
    assert [line.split("\n")[0] for line in found] == [
        "sallowdene / climate / frost_days",
        "garden / plants / courgette",
    ]
    assert goldens.KEPT.stat().st_size < 60_000
