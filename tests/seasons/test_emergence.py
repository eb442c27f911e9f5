"""Emergence against the printed table of days and shares by constant soil temperature."""

import csv
import math

import numpy as np
import pytest

from sowcal.crops.handbook import handbook
from sowcal.seasons.emergence import emerge, rate_and_share
from sowcal.seasons.site_days import SiteDays

OURS = {
    "beet": "beetroot",
    "cabbage": "cabbage (white)",
    "carrot": "carrot",
    "celery": "celery",
    "lettuce": "lettuce (head)",
    "onion": "onion (short-day)",
    "parsley": "parsley",
    "parsnip": "parsnip",
    "pea": "pea (shelling)",
    "radish": "radish",
    "snap bean": "french bean (bush)",
    "spinach": "spinach",
    "tomato": "tomato (large)",
    "turnip": "turnip",
}


def constant_site(temperature, days=400):
    """A place whose air, and so soil, has one temperature day and night."""
    air = np.full(days, float(temperature))
    return SiteDays(air, air.copy(), np.datetime64("2001-01-01"), 38.0)


def test_days_to_emergence_as_printed(reference_folder):
    """Harrington & Minges 1954: at a constant soil temperature the engine gives the printed days, to one day."""
    with open(reference_folder / "reference" / "germination_days_by_soil_temp.csv", newline="") as file:
        rows = {r["crop"]: r for r in csv.DictReader(file)}
    off = {}
    for printed, name in OURS.items():
        crop = handbook()[name]
        way = next(w for w in crop.ways if w.stock in ("seed", "seedling"))
        sown = type(way)(way="sown outdoors", stock="seed", depth=way.depth)
        for celsius in (5, 10, 15, 20, 25, 30):
            cell = next(v for k, v in rows[printed].items() if k.startswith(f"d_at_{celsius}C"))
            if not cell or cell == "NG":
                continue
            up = emerge(constant_site(celsius), crop, sown, "wet")
            off[printed, celsius] = up.day[30] - 30 + 1 - float(cell)
    assert len(off) > 60
    assert {k: v for k, v in off.items() if abs(v) > 1.0} == {}


@pytest.mark.parametrize(("celsius", "least", "most"), [(20, 0.95, 1.0), (30, 0.05, 0.2), (36, 0.0, 0.02)])
def test_lettuce_fails_in_hot_soil(celsius, least, most):
    """Harrington: 99 normal seedlings in 100 at 20 degC, 12 at 30 degC, none at 35 degC."""
    crop = handbook()["lettuce (head)"]
    _, share = rate_and_share(crop.emergence, crop.germination)
    assert least <= share[round((celsius + 50) * 10)] <= most


def test_nothing_emerges_outside_the_soil_limits():
    for crop in handbook().values():
        if crop.life != "annual" or crop.emergence is None:
            continue
        rate, share = rate_and_share(crop.emergence, crop.germination)
        assert rate.min() >= 0
        assert math.isclose(share.max(), 1.0, abs_tol=1e-6)
        assert rate[0] == 0
        assert rate[-1] == 0
