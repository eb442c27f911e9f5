"""A place's winter chill, from measured hours where the record has them, else from hours rebuilt out of extremes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.climate.chill import chill_portions, chill_units, chilling_hours
from sowcal.climate.hourly_chill import HOURLY_MODELS, season_chill_of_hours
from sowcal.counted import counted

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["BothWays", "chill_both_ways", "has_hours", "mean_chill"]

_REBUILT: dict[str, Any] = {
    "hours below 7.2": lambda *a, **k: chilling_hours(*a, form="below_7.2", **k),
    "hours 0 to 7.2": lambda *a, **k: chilling_hours(*a, form="0_to_7.2", **k),
    "Utah units": chill_units,
    "portions": chill_portions,
}


@dataclass(frozen=True)
class BothWays:
    """One model's chill of each cold season, from measured hours and from rebuilt ones.

    Attributes
    ----------
    model : str
    years : numpy.ndarray of int
        Of the spring that follows.
    measured, rebuilt : numpy.ndarray
        NaN where a season is not whole.
    """

    model: str
    years: np.ndarray
    measured: np.ndarray
    rebuilt: np.ndarray

    @property
    def both(self) -> np.ndarray:
        """Seasons that are known both ways."""
        return np.isfinite(self.measured) & np.isfinite(self.rebuilt)

    def to_json(self) -> dict[str, Any]:
        """Plain form."""

        def plain(values: np.ndarray) -> list[float | None]:
            return [None if np.isnan(v) else round(float(v), 1) for v in values]

        both = self.both
        mean = float((self.rebuilt - self.measured)[both].mean()) if both.any() else None
        return {
            "model": self.model,
            "years": [int(y) for y in self.years],
            "measured": plain(self.measured),
            "rebuilt": plain(self.rebuilt),
            "rebuilt_minus_measured": None if mean is None else round(mean, 1),
        }


def has_hours(dataset: xr.Dataset) -> bool:
    """Whether a record has measured hours that hold as they are (a what-if changes only the extremes)."""
    return "tas_hour" in dataset and "what_ifs" not in dataset.attrs


def chill_both_ways(dataset: xr.Dataset) -> list[BothWays]:
    """Chill by each model from measured and from rebuilt hours.

    Parameters
    ----------
    dataset : xarray.Dataset
        With `tasmin`, `tasmax` and `tas_hour`, shape (time, hour), at local solar time.
    """
    time, latitude = dataset["time"].values, float(dataset["latitude"])
    out = []
    for model in HOURLY_MODELS:
        years, measured = season_chill_of_hours(dataset["tas_hour"].values, model=model, time=time, latitude=latitude)
        rebuilt = _REBUILT[model](dataset["tasmin"].values, dataset["tasmax"].values, time=time, latitude=latitude)
        out.append(BothWays(model, years, measured, np.asarray(rebuilt)))
    return out


def mean_chill(dataset: xr.Dataset) -> tuple[dict[str, float | None], tuple[str, ...]]:
    """Mean chill of a cold season by model, and what must be known of it.

    A season comes from measured hours where nearly all of them are there, else from rebuilt ones.
    """
    time, latitude = dataset["time"].values, float(dataset["latitude"])
    low, high = dataset["tasmin"].values.astype(float), dataset["tasmax"].values.astype(float)
    if not has_hours(dataset):
        plain = {m: _mean(np.asarray(f(low, high, time=time, latitude=latitude))) for m, f in _REBUILT.items()}
        return plain, ()
    out: dict[str, float | None] = {}
    notes: tuple[str, ...] = ()
    for one in chill_both_ways(dataset):
        out[one.model] = _mean(np.where(np.isfinite(one.measured), one.measured, one.rebuilt))
        if one.model == "portions":
            known = int(np.isfinite(one.measured).sum())
            seasons = int((np.isfinite(one.measured) | np.isfinite(one.rebuilt)).sum())
            notes = (
                f"Chill is counted from the station's hourly values in {known} of {counted(seasons, 'cold season')}.",
            )
            if one.both.any():
                by = float((one.rebuilt - one.measured)[one.both].mean())
                notes = (notes[0][:-1] + f"; hours rebuilt out of the extremes give {by:+.1f} portions there.",)
    return out, notes


def _mean(x: np.ndarray) -> float | None:
    good = x[np.isfinite(x)]
    return float(good.mean()) if good.size else None
