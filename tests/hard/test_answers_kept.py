"""Every answer is the kept one; what differs is named, place by place."""

from __future__ import annotations

import json
import os

import answers_kept
import pytest

pytestmark = pytest.mark.usefixtures("answers_kept_between_tests")  # of the engine as it is, in this same run

KEPT = json.loads(answers_kept.KEPT.read_text(encoding="utf-8"))


@pytest.mark.parametrize("place", KEPT)
def test_answers_are_those_kept(place, tmp_path):
    if place in answers_kept.REAL and not os.environ.get("SOWCAL_REFERENCE"):
        pytest.skip("SOWCAL_REFERENCE names no folder of station records")
    found = list(answers_kept.differences(KEPT[place], answers_kept.parts(tmp_path)[place]()))
    assert not found, (
        f"{len(found)} answers moved; if they should, run `python tests/hard/answers_kept.py --write` and give the "
        "reason in the commit:\n" + "\n".join(found[:40])
    )


def test_what_differs_is_named():
    kept = {"chart": {"crops: leek": "a", "text": "b"}, "week": {"jobs": "c"}}
    assert list(answers_kept.differences(kept, kept)) == []
    now = {"chart": {"crops: leek": "x", "text": "b"}, "climate": {"frost": "d"}}
    assert list(answers_kept.differences(kept, now)) == ["chart / crops: leek", "week / jobs", "climate / frost"]
