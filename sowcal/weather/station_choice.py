"""Which station stands best for a point: near in distance and height, with a record that is long enough."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

__all__ = ["RADIUS", "best_first", "distance", "nearest_kept"]

RADIUS = 75_000.0  # m; how far a station may be: common practice, no source
_HEIGHT_WEIGHT = 10.0  # a metre of height counts as ten of distance: meteostat's default elevation_weight
_LONG_ENOUGH = 0.8  # share of the years asked for that a station must cover to be preferred: common practice


def best_first(
    near: pd.DataFrame, held: dict[str, tuple[date, date]], elevation: float | None, years: int, today: date
) -> list[str]:
    """Ids of the stations, those with a long record first, and of these the nearest; then the longest."""
    begin = date(today.year - years, 1, 1)
    ranked = []
    for name, row in near.iterrows():
        first, last = held.get(str(name), (today, today))
        covered = max((min(last, today) - max(first, begin)).days, 0) / (365.25 * years)
        height = 0.0 if elevation is None or np.isnan(row["elevation"]) else abs(row["elevation"] - elevation)
        far = float(np.hypot(row["distance"], _HEIGHT_WEIGHT * height))
        long_enough = covered >= _LONG_ENOUGH
        ranked.append((not long_enough, far if long_enough else -covered, far, str(name)))
    return [name for *_, name in sorted(ranked)]


def nearest_kept(
    records: list[xr.Dataset], latitude: float, longitude: float, elevation: float | None
) -> xr.Dataset | None:
    """Of the kept records, the one that stands best for a point; None where none is near enough."""
    ranked = []
    for k, record in enumerate(records):
        at = record.attrs
        away = 1000.0 * distance(latitude, longitude, at["station_latitude"], at["station_longitude"])
        height = 0.0 if elevation is None else abs(at["station_elevation"] - elevation)
        if away <= RADIUS:
            ranked.append((float(np.hypot(away, _HEIGHT_WEIGHT * np.nan_to_num(height))), k))
    return records[min(ranked)[1]] if ranked else None


def distance(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    """Great-circle distance, km (haversine, mean radius 6371 km)."""
    p1, p2, half = np.radians(lat1), np.radians(lat2), np.radians(lon2 - lon1) / 2.0
    h = np.sin((p2 - p1) / 2.0) ** 2 + np.cos(p1) * np.cos(p2) * np.sin(half) ** 2
    return float(2.0 * 6371.0 * np.arcsin(np.sqrt(h)))
