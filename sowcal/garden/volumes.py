"""Compost and mulch for the beds, in litres and barrow loads."""

from __future__ import annotations

from dataclasses import dataclass

from sowcal.garden.garden_file import Garden

__all__ = ["Volumes", "bed_volumes"]

BARROW = 80.0  # litres of a garden barrow, heaped: common practice


@dataclass(frozen=True, slots=True)
class Volumes:
    """Litres a year."""

    compost: float
    mulch: float

    @property
    def barrows(self) -> int:
        """Barrow loads of both."""
        return round((self.compost + self.mulch) / BARROW)


def bed_volumes(garden: Garden) -> Volumes:
    """1 mm over 1 m2 is 1 litre; mulch lies on its share of the soil."""
    mulch = garden.mulch
    deep = 0.0 if mulch.kind in ("none", "plastic") else mulch.depth * 1000.0 * mulch.cover
    return Volumes(garden.compost * garden.area, deep * garden.area)
