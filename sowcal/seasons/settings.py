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
    tissue_offset_most : float
        Degrees by which leaves may be colder than the screen on the clearest nights (degC).
    """

    risk: float = 0.8
    success_yield: float = 0.5
    near_best: float = 0.7
    longest: float = 1.7
    seedbed: str = "wet"
    tissue_offset_most: float = 1.0
