"""What the water there is makes of annuals: rain alone, or no more than so many litres from the store."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sowcal.crops.records import Crop, Way
from sowcal.seasons.season import Seasons
from sowcal.suitability.results import WantOfWater, Window

__all__ = ["WaterRule", "want_of_water"]


@dataclass(frozen=True)
class WaterRule:
    """Water as a chart is asked to reckon with it.

    Attributes
    ----------
    changed : callable
        From crop, way and seasons to the seasons that this water leaves; what it takes is lost to 'want of water'.
    drawn : callable, optional
        From crop and way to the stored water that each start day of the year draws in the dry year in ten, litres
        per m2, shape (365,), NaN where it is not known; None on rain alone.
    most : float, optional
        Litres per m2 that may be drawn in that year; None on rain alone.
    """

    changed: Callable[[Crop, Way, Seasons], Seasons]
    drawn: Callable[[Crop, Way], np.ndarray] | None = None
    most: float | None = None

    def litres(self, crop: Crop, way: Way) -> np.ndarray | None:
        """What each start day draws in a dry year; None on rain alone."""
        return None if self.drawn is None else self.drawn(crop, way)

    def allowed(self, litres: np.ndarray | None) -> np.ndarray | None:
        """Start days of the year that draw no more than they may; None where nothing is drawn."""
        if litres is None or self.most is None:
            return None
        return np.nan_to_num(litres, nan=np.inf) <= self.most


def _best(windows: tuple[Window, ...]) -> Window:
    return max(windows, key=lambda w: w.reliability * w.yield_fraction)


def want_of_water(
    rule: WaterRule,
    litres: np.ndarray | None,
    watered: tuple[tuple[Window, ...], tuple[Window, ...]],
    left: tuple[tuple[Window, ...], tuple[Window, ...]],
    odds: tuple[np.ndarray, np.ndarray],
) -> WantOfWater | None:
    """What want of water took from one way of starting; None where no dates were lost to it.

    Parameters
    ----------
    rule : WaterRule
    litres : numpy.ndarray or None
        As `WaterRule.litres` gives them.
    watered, left : pairs of tuples of Window
        Advised and possible windows, with all the water that the crop asks for and with what there is.
    odds : pair of numpy.ndarray
        Share of decided years that succeed by start day of the year, shape (365,), with all that water and with what
        there is.
    """
    for had, has in zip(watered, left, strict=True):
        if had and not has:
            window = _best(had)
            day = window.best
            if litres is not None and rule.most is not None:
                days = np.concatenate([(w.start + np.arange((w.end - w.start) % 365 + 1)) % 365 for w in had])
                over = days[np.isfinite(litres[days]) & (litres[days] > rule.most)]
                if over.size and not litres[day] > rule.most:  # the best day itself may be frugal, and stand alone
                    day = int(over[np.argmin(litres[over])])
            drawn = None if litres is None or not np.isfinite(litres[day]) else float(litres[day])
            works, still = (float(np.nan_to_num(share[day])) for share in odds)
            return WantOfWater(day, works, max(works - still, 0.0), drawn, rule.most)
    return None
