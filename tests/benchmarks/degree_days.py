"""Rows on degree days against xclim: the simple average, and the exact sine against its approximation."""

from __future__ import annotations

import numpy as np
from measure import Row, Size, side_by_side
from record import Days, days_of, labelled, named, xclim_indices

from sowcal.climate.degree_days import growing_degree_days
from sowcal.climate.growing_years import by_growing_year

__all__ = ["rows"]

BASE, UPPER = 10.0, 30.0
_APPROXIMATE = 0.05  # of a year's sum by which their approximation may lie off the sine


def rows(size: Size) -> list[Row]:
    """All rows on degree days."""
    out = []
    for sites in sorted({min(size.sites), max(size.sites)}):
        days = days_of(size.years, (sites,) if sites > 1 else ())
        least = 50.0 if sites == 1 else 5.0
        out.append(_average(days, f"{named(sites)}, {size.years} years", least, size.repeats))
    lat, lon, years = size.grid
    grid = days_of(years, (lat, lon))
    out.append(_average(grid, f"grid of {lat} x {lon}, {years} years", 1.0, max(size.repeats // 3, 1)))
    many = days_of(size.years, (max(size.sites),))
    out.append(_sine(many, f"{named(max(size.sites))}, {size.years} years", size.repeats))
    return out


def _yearly(daily: np.ndarray, days: Days) -> np.ndarray:
    return np.asarray(by_growing_year(daily, time=days.time, latitude=days.latitude))


def _average(days: Days, name: str, least: float, repeats: int) -> Row:
    low, high = labelled(days.tasmin, days, "tasmin"), labelled(days.tasmax, days, "tasmax")
    kept: dict[str, np.ndarray] = {}

    def ours() -> None:
        daily = growing_degree_days(days.tasmin, days.tasmax, base_temperature=BASE, method="average_mean")
        kept["ours"] = _yearly(daily, days)

    def theirs() -> None:
        mean = (0.5 * (low + high)).assign_attrs(units="degC")
        found = xclim_indices().growing_degree_days(mean, f"{BASE} degC", freq="YS")
        kept["theirs"] = np.moveaxis(found.values, found.get_axis_num("time"), -1)

    here, there = side_by_side(ours, theirs, repeats=repeats)
    np.testing.assert_allclose(kept["ours"], kept["theirs"], rtol=1e-9)
    return Row(f"average degree days by year, {name}", "xclim's growing degree days", here, there, least=least)


def _sine(days: Days, name: str, repeats: int) -> Row:
    low, high = labelled(days.tasmin, days, "tasmin"), labelled(days.tasmax, days, "tasmax")
    mean = labelled(days.tas, days, "tas")

    def ours(upper: float = UPPER) -> np.ndarray:
        return _yearly(
            growing_degree_days(days.tasmin, days.tasmax, base_temperature=BASE, upper_threshold=upper), days
        )

    def theirs() -> np.ndarray:
        found = xclim_indices().cooling_degree_days_approximation(high, low, mean, thresh=f"{BASE} degC", freq="YS")
        return np.moveaxis(found.values, found.get_axis_num("time"), -1)

    # with the upper threshold off both tell the same days
    np.testing.assert_allclose(ours(99.0), theirs(), rtol=_APPROXIMATE)
    here, there = side_by_side(ours, theirs, repeats=repeats)
    return Row(
        f"exact single sine with two thresholds by year, {name}",
        "xclim's approximation with one threshold",
        here,
        there,
        least=1.5,
    )
