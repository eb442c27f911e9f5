"""Perennials at places whose answer is known.

'Practice' marks what growers of that place know; the others follow from the source named.
"""

from functools import cache
from pathlib import Path

import numpy as np
import perennials
import pytest

FAILS = {"not here"}
POOR = {"not here", "lives, crops poorly", "grown as a winter annual"}
LIMPS = POOR | {"crops, lives briefly"}
GOOD = {"thrives", "crops with a check"}

KNOWN = [
    # practice: rhubarb is a field crop of cool maritime climates and limps or fails in low deserts
    ("dublin_airport", "rhubarb", GOOD),
    ("de_bilt", "rhubarb", GOOD),
    ("alice_springs", "rhubarb", LIMPS),
    ("seville", "rhubarb", LIMPS - FAILS),
    # practice: strawberries are planted in autumn and crop on mild-winter coasts
    ("san_diego_ca", "strawberry (short-day)", GOOD),
    ("valencia", "strawberry (short-day)", GOOD),
    # UC Davis chill portions: high-chill cherries 45 to 70, about 26 are had on this frost-free coast
    ("san_diego_ca", "cherry (high-chill)", POOR),
    ("madrid", "cherry (high-chill)", GOOD),
    # practice: lemons die in continental winters
    ("irkutsk", "lemon", FAILS),
    ("fort_collins_co", "lemon", FAILS),
    ("valencia", "lemon", GOOD),
    ("san_diego_ca", "lemon", GOOD),
    # UC Davis chill portions: low-chill peaches 8 to 12, almonds 22 to 32, high-chill apples 50
    ("san_diego_ca", "peach (low-chill)", GOOD),
    ("san_diego_ca", "almond", GOOD),
    ("san_diego_ca", "apple (high-chill)", POOR),
    ("seville", "almond", GOOD),
    # practice: olives and vines round the Mediterranean, not in a continental winter
    ("seville", "olive", GOOD),
    ("algiers", "olive", GOOD),
    ("irkutsk", "olive", FAILS),
    ("palma", "vine", GOOD),
    ("fort_collins_co", "avocado", FAILS),
    ("san_diego_ca", "avocado", GOOD),
    ("de_bilt", "apple (high-chill)", GOOD),
    ("dublin_airport", "raspberry (summer)", GOOD),
    ("seville", "raspberry (summer)", POOR),
    ("madrid", "asparagus", GOOD),
]


@cache
def at(folder, station):
    return perennials.verdicts(Path(folder), station)


@pytest.mark.parametrize(("station", "crop", "words"), KNOWN, ids=[f"{c} at {s}" for s, c, _ in KNOWN])
def test_known_places(reference_folder, station, crop, words):
    verdict = at(str(reference_folder), station)[crop]
    assert verdict.word in words
    assert verdict.evidence["years_decided"] >= 3


def test_rhubarb_from_best_to_worst_place(reference_folder):
    """USDA Leaflet 555: not adapted where the winter mean is much above 4.4 or the summer mean much above 23.9 degC.

    The share of a full crop must fall along places that go further and further beyond those means.
    """
    order = ("dublin_airport", "madrid", "five_points_ca", "palma", "seville", "san_diego_ca")
    shares = [at(str(reference_folder), s)["rhubarb"].evidence["share_of_a_full_crop"] for s in order]
    assert (np.diff(shares) <= 0).all(), dict(zip(order, shares, strict=True))
    assert shares[0] > 0.7
    assert shares[-1] < 0.1


def test_rhubarb_is_cautioned_everywhere(reference_folder):
    verdict = at(str(reference_folder), "dublin_airport")["rhubarb"]
    assert any("leaf" in c.lower() and "poison" in c.lower() for c in verdict.cautions)
