"""The engine against two printed tables, as `tables.py` beside this file prints them."""

from pathlib import Path

import pytest
import tables


def test_emergence_as_printed(reference_folder):
    """Harrington & Minges 1954, which the handbook's rates were taken from: the walk keeps them, crop by crop."""
    found = tables.emergence_errors(Path(reference_folder))
    assert len(found) >= 24
    assert {e.crop: e.mean for e in found if abs(e.mean) > 0.5} == {}
    assert {e.crop: e.mean_size for e in found if e.mean_size > 1.0} == {}


@pytest.fixture(scope="module")
def checks(reference_folder):
    return tables.range_checks(Path(reference_folder), ("five_points_ca", "hobart", "de_bilt"))


def test_crops_fill_in_months_of_the_printed_means(checks):
    """Maynard & Hochmuth 1997; a calendar that had the crops fill all year would be outside in every sixth month."""
    assert sum(len(c.months) for c in checks) > 250
    assert tables.share_outside(checks, 0.0) < 0.04
    assert tables.share_outside(checks, 2.0) < 0.01
    assert tables.share_outside_at_random(checks, 0.0) > 0.15
