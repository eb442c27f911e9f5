"""The chart against printed month guides of two regions (values the engine has reached; they must not fall).

Guides: California Master Gardener Handbook (UC ANR 3382), interior valleys and south coast. Beside each floor
stands what two rows of months fitted to that very guide reach, and what all year for every crop reaches.
"""

import os
from pathlib import Path

import guides
import pytest

from sowcal.seasons.settings import Settings

FLOORS = {  # strict, tolerant; fitted rows reach 0.70/0.88 and 0.74/0.91, all year 0.49/0.69 and 0.56/0.73
    "five_points_ca": (0.62, 0.86),
    "san_diego_ca": (0.66, 0.86),
}


@pytest.mark.parametrize("station", sorted(FLOORS))
def test_no_worse_than_reached(reference_folder, station, capsys):
    os.environ.setdefault("SOWCAL_REFERENCE", str(reference_folder))
    (pair,) = [p for p in guides.PAIRS if p[2] == station]
    words = guides.judge(pair, Path(reference_folder), Settings(), True).split()
    score = dict(zip(words[::2], words[1::2], strict=False))
    strict, tolerant = float(words[-3]), float(words[-1])
    assert int(score["absent"]) == 0
    assert float(score["worst"]) >= 0.5
    assert strict >= FLOORS[station][0]
    assert tolerant >= FLOORS[station][1]
