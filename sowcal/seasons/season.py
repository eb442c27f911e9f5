"""One crop, one way of starting it, every start day of the record: what comes of each.

A walk from stage to stage (emergence, raising, growth, picking) without a loop over days: stage ends by sorted
search in running sums of thermal time, hazards by sums over spans. A crop's habit says how its yield forms:
`once` and `leaf` crops through :mod:`sowcal.seasons.vegetative`, `flowering` ones, which are daily cohorts,
through :mod:`sowcal.seasons.flowering`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sowcal.crops.tables import Crop, Way, known
from sowcal.seasons.establishing import Emerged, Raised, emerge, first_flower, raise_seedlings, young_stand
from sowcal.seasons.flowering import MONTH_BEFORE, flowering_crop
from sowcal.seasons.site_days import SiteDays
from sowcal.seasons.vegetative import vegetative_crop
from sowcal.seasons.walk import HAZARDS, Losses, Walk, effective_thermal_time

__all__ = ["HAZARDS", "Seasons", "missing_values", "seasons"]


@dataclass(frozen=True, slots=True)
class Seasons:
    """What comes of every start day, arrays of shape (N,).

    Attributes
    ----------
    yield_fraction : float
        Share of the attainable yield, 0 to 1; NaN where undecided.
    first, last : int
        Day index of first and last picking (meaningful where the yield fraction is above 0).
    hazard : int
        Index into HAZARDS of what cost most, -1 where nothing did.
    raised_days : float or None
        Days under cover before setting out.
    """

    yield_fraction: np.ndarray
    first: np.ndarray
    last: np.ndarray
    hazard: np.ndarray
    raised_days: np.ndarray | None = None


def missing_values(crop: Crop, way: Way) -> list[str]:
    """Names of handbook values without which this crop cannot be walked through its season."""
    lacking = [] if crop.growth.habit else ["growth.habit"]
    if not known(crop.growth.base_temperature):
        lacking.append("growth.base_temperature")
    if not known(way.thermal_time_low):
        lacking.append("ways.thermal_time_low")
    if crop.growth.habit == "flowering" and (crop.flowering is None or not known(crop.flowering.fruit_thermal_time)):
        lacking.append("flowering.fruit_thermal_time")
    return lacking


def seasons(site: SiteDays, crop: Crop, way: Way) -> Seasons:
    """Walk one crop and way from every start day of the record.

    Parameters
    ----------
    site : SiteDays
        The site's days.
    crop : Crop
        From the handbook, with a growth row.
    way : Way
        One of the crop's ways.

    Returns
    -------
    Seasons
    """
    walk, up, raised = begin(site, crop, way)
    growth = crop.growth
    losses = Losses(site.size)
    settled = young_stand(walk, up, losses)
    grow = flowering_crop if growth.habit == "flowering" else vegetative_crop
    first, last, judged = grow(walk, losses)
    judged = np.where(up.stand > 0, np.maximum(judged, settled), settled)
    fraction, hazard = losses.outcome()
    begun = np.minimum(_looks_back(walk), raised.begun) if raised else _looks_back(walk)
    undecided = ~site.whole_between(begun, judged)
    return Seasons(
        yield_fraction=np.where(undecided, np.nan, fraction),
        first=first,
        last=last,
        hazard=hazard,
        raised_days=raised.days if raised else None,
    )


def begin(site: SiteDays, crop: Crop, way: Way) -> tuple[Walk, Emerged, Raised | None]:
    """The walk from every start day as far as the stand, and the seedlings of what is set out."""
    growth = crop.growth
    total = effective_thermal_time(site, growth)
    raised = raise_seedlings(site, growth, way) if way.way == "set out" else None
    up = emerge(site, crop, way, site.settings.seedbed)
    need = 0.5 * (way.thermal_time_low + way.thermal_time_high)
    walk = Walk(
        site=site,
        crop=crop,
        way=way,
        total=total,
        emerged=up.day,
        need=need + (raised.owing if raised else 0.0),
        horizon=np.minimum(site.start + int(_horizon(crop)), site.size),
    )
    return walk, up, raised


def _looks_back(walk: Walk) -> np.ndarray:
    """First day that the walk looks at: the start, or where cold has stopped the setting of tender plants before."""
    if walk.crop.growth.habit == "flowering":
        return np.minimum(walk.site.start, first_flower(walk) - MONTH_BEFORE)
    return walk.site.start


def _horizon(crop: Crop) -> float:
    """Days after which a season is given up: a quarter more than what growers call too slow."""
    most = crop.growth.days_most
    return 1.25 * most if known(most) else 300.0
