"""Crop by crop: at which of two places the window is longer, and at which it is safer."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sowcal.suitability.results import CropBeside, CropSeasons, CropVerdict, SowingChart

__all__ = ["LONGER", "SAFER", "crops_beside"]

LONGER = 7  # days by which a window must be the longer to be called so: common practice, no source
SAFER = 0.05  # share of years by which a crop must work more often, half a year in ten: common practice, no source


def _advised_days(line: CropSeasons) -> int:
    """Days of the year on which the crop may be started in one way or another."""
    days = np.zeros(365, dtype=bool)
    for way in line.starts:
        for w in way.windows:
            days[(w.start + np.arange((w.end - w.start) % 365 + 1)) % 365] = True
    return int(days.sum())


def _ahead(pair: tuple[float, float], by: float) -> int | None:
    """Which of two is greater by so much; None where neither is."""
    first, second = pair
    if abs(first - second) < by:
        return None
    return 0 if first > second else 1


def crops_beside(
    charts: tuple[SowingChart, SowingChart], verdicts: tuple[Sequence[CropVerdict], Sequence[CropVerdict]]
) -> tuple[CropBeside, ...]:
    """Every crop of both places, in the order of their names.

    Parameters
    ----------
    charts : two SowingChart
        Of the same crops.
    verdicts : two sequences of CropVerdict
        Of the same crops.
    """
    lines = [{line.crop: line for line in chart.crops} for chart in charts]
    judged = [{v.crop: v for v in side} for side in verdicts]
    out = []
    for crop in sorted(lines[0].keys() & lines[1].keys() & judged[0].keys() & judged[1].keys()):
        one, two = (side[crop] for side in judged)
        days = (_advised_days(lines[0][crop]), _advised_days(lines[1][crop]))
        known = one.reliability is not None and two.reliability is not None
        shares = (one.reliability or 0.0, two.reliability or 0.0)
        out.append(
            CropBeside(
                crop=crop,
                words=(one.word, two.word),
                days=days,
                reliability=(one.reliability, two.reliability),
                longer=_ahead(days, LONGER),
                safer=_ahead(shares, SAFER) if known else None,
            )
        )
    return tuple(out)
