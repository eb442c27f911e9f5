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
from sowcal.seasons.establishing import (
    YOUNG_DAYS,
    Emerged,
    Raised,
    emerge,
    first_flower,
    raise_seedlings,
    rest_begun,
    young_stand,
)
from sowcal.seasons.flowering import MONTH_BEFORE, flowering_crop
from sowcal.seasons.site_days import SiteDays
from sowcal.seasons.vegetative import vegetative_crop
from sowcal.seasons.walk import HAZARDS, Losses, Walk, effective_thermal_time

__all__ = [
    "HAZARDS",
    "Seasons",
    "Stages",
    "begin",
    "missing_values",
    "ready_to_set_out",
    "seasons",
    "stages",
    "strains",
]


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
    losses = Losses(site.starts.size)
    settled = young_stand(walk, up, losses)
    grow = flowering_crop if growth.habit == "flowering" else vegetative_crop
    first, last, judged = grow(walk, losses)
    judged = np.where(up.stand > 0, np.maximum(judged, settled), settled)
    fraction, hazard = losses.outcome()
    begun = np.minimum(_looks_back(walk), raised.begun if raised else rest_begun(site, way))
    undecided = ~site.whole_between(begun, judged)
    return Seasons(
        yield_fraction=site.of_nearest(np.where(undecided, np.nan, fraction)),
        first=site.of_nearest(first),
        last=site.of_nearest(last),
        hazard=site.of_nearest(hazard),
        raised_days=site.of_nearest(raised.days) if raised else None,
    )


def begin(site: SiteDays, crop: Crop, way: Way) -> tuple[Walk, Emerged, Raised | None]:
    """The walk from every start as far as the stand, and the seedlings of what is set out."""
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
        horizon=np.minimum(site.starts + int(_horizon(crop)), site.size),
    )
    return walk, up, raised


def _looks_back(walk: Walk) -> np.ndarray:
    """First day that the walk looks at: the start, or where cold has stopped the setting of tender plants before."""
    if walk.crop.growth.habit == "flowering":
        return np.minimum(walk.site.starts, first_flower(walk) - MONTH_BEFORE)
    return walk.site.starts


def _horizon(crop: Crop) -> float:
    """Days after which a season is given up: a quarter more than what growers call too slow."""
    most = crop.growth.days_most
    return 1.25 * most if known(most) else 300.0


@dataclass(frozen=True, slots=True)
class Stages:
    """Day index of the beginning of each stage for some start days, shape (m,); N where the record ends first.

    Attributes
    ----------
    start, emerged, established : numpy.ndarray of int
    fills : numpy.ndarray of int
        When what is picked begins to form; of crops that are picked from their flowers the first flower.
    first, last : numpy.ndarray of int
        Pickings.
    stand : numpy.ndarray
        Share of a full stand that comes up, 0 to 1.
    hot : numpy.ndarray of bool
        Whether it is the heat of the soil that the rest is lost to.
    settled : numpy.ndarray of int
        Day by which that is known.
    """

    start: np.ndarray
    emerged: np.ndarray
    established: np.ndarray
    fills: np.ndarray
    first: np.ndarray
    last: np.ndarray
    stand: np.ndarray
    hot: np.ndarray
    settled: np.ndarray


def stages(site: SiteDays, crop: Crop, way: Way, outcome: Seasons, start: np.ndarray) -> Stages:
    """When the stages of some seasons begin; `outcome` is what `seasons` gives for the same site, crop and way."""
    walk, up, _ = begin(site.every_day, crop, way)
    growth = crop.growth
    young = growth.fraction_establishing if known(growth.fraction_establishing) else 0.25
    if growth.habit == "flowering":
        fills = first_flower(walk)
    else:
        fills = walk.at(1.0 - (growth.fraction_filling if known(growth.fraction_filling) else 0.4))
    days = (up.day, walk.at(young), fills, outcome.first, outcome.last)
    emerged, established, fills, first, last = (np.minimum(d[start], site.size) for d in days)
    fills = np.minimum(fills, first)
    return Stages(
        start, emerged, np.minimum(established, fills), fills, first, last, up.stand[start], up.hot[start],
        up.settled[start],
    )  # fmt: skip


def ready_to_set_out(site: SiteDays, crop: Crop, way: Way, sown: np.ndarray) -> np.ndarray:
    """First day on which seedlings sown under cover on some days are of the size to set out, N for never.

    The engine asks of each day of setting out when its seedlings were to be sown; here that is read backwards.
    """
    raised = begin(site.every_day, crop, way)[2]
    assert raised is not None
    was_sown = np.maximum.accumulate(site.start - np.ceil(raised.days).astype(int))
    return np.searchsorted(was_sown, sown, side="left")


def strains(site: SiteDays, crop: Crop, found: Stages) -> list[tuple[str, np.ndarray, np.ndarray, np.ndarray]]:
    """Days that strain a crop in the stages in which they do: hazard, which days of the site, from and before which.

    Returns
    -------
    list of (str, numpy.ndarray of bool with shape (N,), numpy.ndarray with shape (m,), numpy.ndarray with shape (m,))
    """
    cold, heat, flower = crop.cold, crop.heat, crop.flowering
    felt = site.hardened_minimum if cold.frost_class in ("hardy", "half-hardy") else site.tissue_minimum
    over = np.maximum(found.last + 1, found.first)
    out: list[tuple[str, np.ndarray, np.ndarray, np.ndarray]] = []
    if known(cold.killing_young):
        out.append(("frost", felt < cold.killing_young, found.emerged, found.established))
    if known(cold.killing_grown):
        out.append(("frost", felt < cold.killing_grown, found.established, over))
    if known(cold.killing_flower) and flower is not None:
        out.append(("frost", site.tissue_minimum < cold.killing_flower, found.fills, over))
    if known(cold.chilling_temperature):
        out.append(("chilling", site.tasmin < cold.chilling_temperature, found.emerged, found.first))
    if known(heat.young_limit):
        weeks = np.minimum(found.emerged + YOUNG_DAYS, found.first)
        out.append(("heat", site.tasmax > heat.young_limit, found.emerged, weeks))
    if flower is not None and known(flower.day_none_above):
        out.append(("heat", site.tasmax > flower.day_none_above, found.fills, over))
    elif known(heat.filling_limit):
        out.append(("heat", site.tasmax > heat.filling_limit, found.fills, found.first))
    if flower is not None and known(flower.night_none_above):
        out.append(("warm nights", site.tasmin > flower.night_none_above, found.fills, over))
    elif known(heat.night_limit):
        out.append(("warm nights", site.tasmin > heat.night_limit, found.fills, found.first))
    return out
