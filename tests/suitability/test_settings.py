"""Settings refuse what the command line refuses, in a sentence."""

import math

import pytest

from sowcal import InputError, Settings


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("reliability", 2),
        ("reliability", 0.0),
        ("reliability", -1),
        ("reliability", math.nan),
        ("reliability", "0.8"),
        ("least_yield", 5),
        ("least_yield", None),
        ("near_best", 1.01),
        ("longest", 0.5),
        ("longest", math.nan),
        ("seedbed", "snow"),
        ("edge_draws", -1),
        ("edge_draws", 2.5),
        ("tissue_offset_most", -3.0),
    ],
)
def test_what_can_be_no_setting_is_refused(name, value):
    with pytest.raises(InputError, match=f"^{name} is "):
        Settings(**{name: value})


def test_what_the_command_line_takes_is_taken():
    asked = Settings(reliability=1, least_yield=0.01, near_best=1.0, longest=math.inf, seedbed="shaded")
    assert asked.reliability == 1
