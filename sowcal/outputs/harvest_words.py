"""What a square metre draws and gives, in words and in the cells of a table."""

from __future__ import annotations

from sowcal.plurals import counted
from sowcal.suitability.results import CropSeasons, CropVerdict, Harvest

__all__ = ["DRAWN", "harvest_cells", "harvest_words", "litres_cell"]

DRAWN = 6  # columns of a line that the litres of a square metre take


def harvest_words(harvest: Harvest) -> str:
    """What a square metre draws and gives.

    Examples
    --------
    >>> harvest_words(Harvest(241, (2.29, 5.49), 34.3))
    'draws 241 litres/m2 a season, gives 2.3 to 5.5 kg/m2, picked over 34 weeks'
    """
    low_high = harvest.yield_here
    said = (
        "" if harvest.litres_per_m2 is None else f"draws {harvest.litres_per_m2:.0f} litres/m2 a season",
        "" if low_high is None else f"gives {low_high[0]:.1f} to {low_high[1]:.1f} kg/m2",
        "" if harvest.weeks_of_picking is None else f"picked over {counted(round(harvest.weeks_of_picking), 'week')}",
    )
    return ", ".join(filter(None, said))


def harvest_cells(verdict: CropVerdict) -> list[str]:
    """kg and litres a square metre, and weeks of picking; '-' where one is not known."""
    found = verdict.harvest
    given = "-" if found.yield_here is None else "-".join(f"{kg:.1f}" for kg in found.yield_here)
    return [given, *("-" if v is None else f"{v:.0f}" for v in (found.litres_per_m2, found.weeks_of_picking))]


def litres_cell(line: CropSeasons) -> str:
    """Stored water of the thriftiest way, litres per m2 and season, in `DRAWN` columns; blank where not known."""
    known = [w.harvest.litres_per_m2 for w in line.starts if w.harvest.litres_per_m2 is not None]
    return f"{min(known):>{DRAWN - 1}.0f} " if known else " " * DRAWN
