"""Made-up outcomes of a crop, folded by day of the year."""

from __future__ import annotations

import numpy as np

from sowcal.seasons.season import HAZARDS
from sowcal.suitability.windows import ByDay

YEARS = 30


def found(reliability, worth, duration=None, hazard=2):
    """A crop's folded outcome of which each day has that reliability and mean yield."""
    reliability = np.asarray(reliability, float)
    order = (np.arange(YEARS)[:, None] + 0.5) / YEARS
    success = (order < reliability).astype(float)
    lost = np.zeros((len(HAZARDS), 365))
    lost[hazard] = 1 - reliability
    return ByDay(
        years=1991 + np.arange(YEARS),
        yield_fraction=success * worth,
        success=success,
        reliability=reliability,
        mean_yield=np.asarray(worth, float),
        duration=np.full(365, 60.0) if duration is None else duration,
        decided=np.full(365, YEARS),
        hazard_share=lost,
        first=np.full((YEARS, 365), 60.0),
        last=np.full((YEARS, 365), 90.0),
        raised=None,
    )


def bump(centre, width, height):
    away = np.abs((np.arange(365) - centre + 182) % 365 - 182)
    return height * np.clip(1 - away / width, 0, 1)
