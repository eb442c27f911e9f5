"""What the steps of a season share: the walk so far, and the losses by hazard."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from sowcal.crops.tables import Cold, Crop, Growth, Way
from sowcal.seasons.site_days import SiteDays
from sowcal.seasons.sums import day_reached

__all__ = ["HAZARDS", "Losses", "Walk", "effective_thermal_time", "hardens"]

HAZARDS = (
    "frost",
    "chilling",
    "heat",
    "warm nights",
    "cold soil",
    "hot soil",
    "too slow",
    "low light",
    "bolting",
    "day length",
    "want of water",  # only on rain alone, or where stored water is held to so many litres
)


@dataclass(frozen=True, slots=True)
class Walk:
    """One crop and way under way from every start; day arrays have shape (S,), that of `SiteDays.starts`."""

    site: SiteDays
    crop: Crop
    way: Way
    total: np.ndarray  # prefix of thermal time, (N + 1,)
    emerged: np.ndarray  # day index
    need: np.ndarray | float  # thermal time from emergence or setting out to first picking, degC d
    horizon: np.ndarray  # day index at which the season is given up
    kept: dict[float | str, np.ndarray] = field(default_factory=dict)  # days asked for more than once

    def at(self, share: float) -> np.ndarray:
        """Day on which a share of the thermal time to first picking is met, given up at the horizon."""
        if share not in self.kept:
            self.kept[share] = self.within(day_reached(self.total, self.emerged, share * self.need))
        return self.kept[share]

    def after(self, day: np.ndarray, thermal_time: float) -> np.ndarray:
        """Day by which some thermal time has gathered since a day, given up at the horizon."""
        return self.within(self.gathered(day, thermal_time))

    def gathered(self, day: np.ndarray, thermal_time: float) -> np.ndarray:
        """Day by which some thermal time has gathered since a day, wherever that lies; N for not in the record.

        The answer for every day of the record is found once and kept: ways, and stages, ask for it again.
        """
        # the sum is kept with what is made of it, so that its identity stands for it
        key = ("gathered", id(self.total), thermal_time)
        from_day, _ = self.site.keep(
            key, lambda: (day_reached(self.total, np.arange(self.total.size), thermal_time), self.total)
        )
        return from_day[day]

    def within(self, day: np.ndarray) -> np.ndarray:
        """The day, or the horizon where it lies beyond."""
        return np.minimum(day, self.horizon)


def effective_thermal_time(site: SiteDays, growth: Growth) -> np.ndarray:
    """Prefix of the thermal time by which a crop grows.

    Heat slows leaf, root and head growth; crops that keep flowering answer to heat by what they set.
    """
    if growth.habit == "flowering":
        return site.thermal_time(growth.base_temperature, growth.upper_threshold, growth.light_need)
    return site.thermal_time(
        growth.base_temperature,
        growth.upper_threshold,
        growth.light_need,
        growth.range_optimum_high,
        growth.range_maximum,
    )


def hardens(cold: Cold) -> bool:
    """Whether a crop hardens in the cool: the hardy and half-hardy do."""
    return cold.frost_class in ("hardy", "half-hardy")


class Losses:
    """Shares of yield left after each hazard, multiplied as the season is walked."""

    def __init__(self, size: int):
        self._left: dict[str, np.ndarray] = {}
        self._size = size
        self.cap = np.ones(size)  # yield fraction reached before losses (cohorts)

    def take(self, hazard: str, left: np.ndarray) -> None:
        """Multiply in the share that a hazard leaves."""
        if hazard not in HAZARDS:
            raise ValueError(f"unknown hazard {hazard!r}")
        before = self._left.get(hazard)
        self._left[hazard] = left if before is None else before * left

    def still_left(self, hazard: str) -> np.ndarray | float:
        """Share that a hazard has left so far."""
        return self._left.get(hazard, 1.0)

    def take_where(self, condition: np.ndarray, hazard: str, other: str, left: np.ndarray) -> None:
        """The same for one hazard where a condition holds and for another elsewhere."""
        self.take(hazard, np.where(condition, left, 1.0))
        self.take(other, np.where(condition, 1.0, left))

    def outcome(self) -> tuple[np.ndarray, np.ndarray]:
        """Yield fraction, and index of the hazard that cost most (-1 for none)."""
        fraction = np.ones(self._size)
        least = np.full(self._size, 0.995)  # less than half a per cent lost is no hazard
        worst = np.full(self._size, -1, dtype=np.int8)
        for hazard, left in self._left.items():
            fraction *= left
            worse = left < least
            worst[worse] = HAZARDS.index(hazard)
            least = np.minimum(least, left)
        return fraction, worst
