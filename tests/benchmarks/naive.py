"""The loop that a practitioner writes in pandas: one start day after another, by boolean masks.

It asks the same of one crop cut whole as the engine: when it comes up, when it fills, when it is ready, and how
much of each hazard its stages meet. The columns of each day (warmth, emergence, tissue temperature) are made
beforehand for both.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from sowcal.crops.tables import Crop, Way
from sowcal.seasons.establishing import rate_and_share
from sowcal.seasons.season import Seasons, seasons
from sowcal.seasons.site_days import SiteDays
from sowcal.seasons.walk import effective_thermal_time

__all__ = ["Season", "day_table", "differing_dates", "walk_one_start"]

_TIE = 1e-9  # relative: an exact requirement must not slip a day


@dataclass(frozen=True)
class Season:
    """Dates of one start, and what its stages met."""

    emerged: pd.Timestamp | None
    ready: pd.Timestamp | None
    hazards: dict[str, float]


def day_table(site: SiteDays, crop: Crop, way: Way) -> pd.DataFrame:
    """A row a day: temperatures, warmth for growth, emergence, light."""
    rate, share = rate_and_share(crop.emergence, crop.germination)
    tenths = site.soil_tenths(way.depth, site.settings.seedbed) + 500
    return pd.DataFrame(
        {
            "date": site.dates.astype("datetime64[ns]"),
            "tasmin": site.tasmin,
            "tasmax": site.tasmax,
            "tissue": site.hardened_minimum,
            "soil": site.soil_tenths(3.0, "wet").min(axis=1) / 10.0,
            "month_mean": site.month_mean,
            "light": site.solar_radiation,
            "day_length": site.day_length,
            "emergence": rate[tenths].mean(axis=1),
            "emergence_good": (rate * share)[tenths].mean(axis=1),
            "warmth": np.diff(effective_thermal_time(site, crop.growth)),
        }
    )


def _reached(days: pd.DataFrame, column: str, need: float) -> pd.Timestamp | None:
    """First day by whose end a column has summed to a need."""
    met = days[days[column].cumsum() >= need * (1.0 - _TIE) - _TIE]
    return None if met.empty else met["date"].iloc[0]


def walk_one_start(days: pd.DataFrame, crop: Crop, way: Way, start: pd.Timestamp) -> Season:
    """One start day: its dates and hazards."""
    growth, heat, gates = crop.growth, crop.heat, crop.gates
    need = 0.5 * (way.thermal_time_low + way.thermal_time_high)
    after = days[days["date"] >= start]
    emerged = _reached(after, "emergence", 1.0)
    if emerged is None:
        return Season(None, None, {})
    growing = days[days["date"] >= emerged]
    established = _reached(growing, "warmth", growth.fraction_establishing * need)
    fills = _reached(growing, "warmth", (1.0 - growth.fraction_filling) * need)
    ready = None
    if fills is not None:
        ready = _reached(days[days["date"] >= fills], "warmth", growth.fraction_filling * need)
    if established is None or fills is None or ready is None:
        return Season(emerged, None, {})
    sprouting = days[(days["date"] >= start) & (days["date"] <= emerged)]
    young = days[(days["date"] >= emerged) & (days["date"] <= established)]
    weeks = days[(days["date"] >= emerged) & (days["date"] < emerged + pd.Timedelta(days=21))]
    filling = days[(days["date"] >= fills) & (days["date"] <= ready)]
    grown = days[(days["date"] >= established) & (days["date"] <= ready)]
    half = filling[filling["date"] >= fills + (ready - fills) / 2]
    juvenile = _reached(growing, "warmth", gates.juvenile_thermal_time)
    stalk = None
    if juvenile is not None:
        long_days = days[(days["date"] >= juvenile) & (days["day_length"] > gates.bolting_day_length)]
        stalk = _reached(long_days, "warmth", gates.bolting_thermal_time)
    hazards = {
        "share emerging": sprouting["emergence_good"].sum() / sprouting["emergence"].sum(),
        "coldest young": young["tissue"].min(),
        "hot days young": float((weeks["tasmax"] > heat.young_limit).sum()),
        "hot days filling": (filling["tasmax"] > heat.filling_limit).mean(),
        "mean while filling": filling["month_mean"].mean(),
        "light while filling": filling["light"].mean(),
        "coldest grown": grown["tissue"].min(),
        "coldest root": half["soil"].min(),
        "days to bolting": np.nan if stalk is None else (stalk - emerged).days,
        "days": float((ready - start).days),
    }
    return Season(emerged, ready, hazards)


def differing_dates(
    site: SiteDays, crop: Crop, way: Way, walked: dict[int, Season], outcome: Seasons | None = None
) -> list[str]:
    """Start days on which the loop and the engine name another first picking."""
    outcome = outcome or seasons(site, crop, way)
    out = []
    for start, season in walked.items():
        if not np.isfinite(outcome.yield_fraction[start]):
            continue  # runs off the record: undecided
        ours = site.dates[min(int(outcome.first[start]), site.size - 1)]
        most = site.dates[start] + int(1.25 * crop.growth.days_most)  # given up there
        theirs = most if season.ready is None else min(season.ready.to_datetime64().astype("datetime64[D]"), most)
        if ours != theirs:
            out.append(f"{crop.name} started on {site.dates[start]}: {ours} here, {theirs} by the loop")
    return out
