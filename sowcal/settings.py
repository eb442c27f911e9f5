"""How an answer is asked for: what the grower may set, and the engine's own constants, each with its home."""

from __future__ import annotations

from dataclasses import dataclass

from sowcal.errors import InputError

__all__ = ["MOST_EVERY", "SEEDBEDS", "Settings"]

MOST_EVERY = 7  # days between starts that are walked: odds are smoothed over a week, and no further
SEEDBEDS = ("wet", "bare", "mulched", "shaded")


@dataclass(frozen=True, slots=True)
class Settings:
    """How the answer is asked for.

    Attributes
    ----------
    reliability : float
        Share of decided years in which a recommended start must succeed ; 8 in 10 unless told.
    least_yield : float
        Yield fraction that counts as success. Half a crop: common practice, no source.
    near_best : float
        Worth of an advised start, its mean yield less the price of its days in the bed, as a share of the best of
        its own season of the year; of hardy crops, sown in succession, what is lacking counts for less
        (`annuals.leave`). A preference, no fact.
    longest : float
        Time from start to first picking of a recommended start, as a multiple of the shortest in its own
        season of the year; it stands for a bed held too long. Common practice, no source.
    bed_day : float
        Price of a day in the bed until the first picking, as a share of a full crop. A preference, no fact.
    seedbed : str
        Surface of the seed bed: 'wet', 'bare', 'mulched' or 'shaded'.
    edge_draws : int
        How often the years are drawn again to give the edges of windows an interval; 0 leaves it out.
    every : int
        Every how many days a start is walked, 1 to 7; the days between have the answer of the start nearest to them.
        1 is every day; 3 takes about half the time, and edges of windows then lie a day or two off.
    tissue_offset_most : float
        Degrees by which leaves are colder than the handbook takes them to be on the clearest nights (degC). Bare
        leaves run 1 to 3 degC below the screen then; the handbook's killing temperatures are mostly growers'
        records by the screen and hold part of that already (common practice, no source).
    """

    reliability: float = 0.8
    least_yield: float = 0.5
    near_best: float = 0.9
    longest: float = 3.0
    bed_day: float = 0.003
    seedbed: str = "wet"
    edge_draws: int = 0
    tissue_offset_most: float = 0.5
    every: int = 1

    def __post_init__(self) -> None:
        """Raise `InputError` for what can be no setting, as the command line does."""
        for name in ("reliability", "least_yield", "near_best"):
            value = getattr(self, name)
            if not isinstance(value, int | float) or not 0.0 < value <= 1.0:
                raise InputError(f"{name} is {value!r}; give a share above 0 and up to 1, such as 0.8")
        if not isinstance(self.longest, int | float) or not self.longest >= 1.0:
            raise InputError(f"longest is {self.longest!r}; give a number of shortest waits, 1 or more")
        if not isinstance(self.bed_day, int | float) or not 0.0 <= self.bed_day <= 1.0:
            raise InputError(f"bed_day is {self.bed_day!r}; give a share of a crop for each day, such as 0.003")
        if self.seedbed not in SEEDBEDS:
            raise InputError(f"seedbed is {self.seedbed!r}; it is one of {', '.join(SEEDBEDS)}")
        if not isinstance(self.edge_draws, int) or self.edge_draws < 0:
            raise InputError(f"edge_draws is {self.edge_draws!r}; give a whole number, 0 or more")
        if not isinstance(self.every, int) or not 1 <= self.every <= MOST_EVERY:
            raise InputError(f"every is {self.every!r}; give a whole number of days, 1 to {MOST_EVERY}")
        if not isinstance(self.tissue_offset_most, int | float) or not 0.0 <= self.tissue_offset_most <= 10.0:
            raise InputError(f"tissue_offset_most is {self.tissue_offset_most!r}; give degrees, 0 to 10")
