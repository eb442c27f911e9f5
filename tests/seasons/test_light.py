"""Light that the engine reckons with: measured where the record has it, else by FAO-56 eq. 50."""

import numpy as np
import pytest

from sowcal.seasons.site_days import SiteDays


def days(**more):
    n = 365
    return SiteDays(np.full(n, 14.8), np.full(n, 26.6), np.datetime64("2001-01-01"), 45.72, **more)


def test_range_of_the_day_inland_and_on_the_coast():
    """FAO-56 example 15 (Lyon, July): 22.3 MJ m-2 d-1 by 0.16 inland; 0.19 where the sea rules the air."""
    july = 195
    inland, coast = (days(coast=sea).solar_radiation[july] for sea in (False, True))
    assert inland == pytest.approx(22.3, abs=0.3)
    assert coast / inland == pytest.approx(0.19 / 0.16)


def test_measured_light_stands_before_the_estimate():
    measured = np.full(365, 12.0)
    measured[100:200] = np.nan
    light = days(measured_light=measured).solar_radiation
    assert light[50] == pytest.approx(12.0)
    assert light[150] == pytest.approx(days().solar_radiation[150])
