"""What the grower may set, and the engine's own constants, each with its home."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Settings"]


@dataclass(frozen=True, slots=True)
class Settings:
    """How the answer is asked for.

    Attributes
    ----------
    risk : float
        Share of decided years in which a recommended start must succeed (DESIGN: 8 in 10 unless told).
    success_yield : float
        Yield fraction that counts as success. Half a crop: common practice, no source.
    near_best : float
        Mean yield of a recommended start as a share of the best of its own season of the year. Common
        practice, no source.
    longest : float
        Time from start to first picking of a recommended start, as a multiple of the shortest in its own
        season of the year; it stands for a bed held too long. Common practice, no source.
    seedbed : str
        Surface of the seed bed: 'wet', 'bare', 'mulched' or 'shaded'.
    edge_draws : int
        How often the years are drawn again to give the edges of windows an interval; 0 leaves it out.
    tissue_offset_most : float
        Degrees by which leaves are colder than the handbook takes them to be on the clearest nights (degC). Bare
        leaves run 1 to 3 degC below the screen then; the handbook's killing temperatures are mostly growers'
        records by the screen and hold part of that already (common practice, no source).
    """

    risk: float = 0.8
    success_yield: float = 0.5
    near_best: float = 0.75
    longest: float = 3.0
    seedbed: str = "wet"
    edge_draws: int = 0
    tissue_offset_most: float = 0.5
