"""What a square metre of bed draws and gives at a place: stored water, yield and weeks of picking beside each crop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sowcal.crops.tables import Crop, known
from sowcal.garden.garden_file import Garden
from sowcal.garden.garden_weather import GardenWeather, garden_weather
from sowcal.garden.soil_water import basal_of
from sowcal.garden.water_need import litres_of_seasons, season_balance
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.results import CropSeasons, CropVerdict, Harvest, WayResult, Window
from sowcal.suitability.week import days_picked
from sowcal.suitability.windows import Fold, median
from sowcal.year import YEAR, day_of_year, span_length

if TYPE_CHECKING:
    from sowcal.weather.record import DailyRecord

__all__ = ["best_window", "middle_litres", "with_harvest"]

_TOGETHER = 8  # seasons of one length or so, followed at once: more of them take more memory and little less time


def best_window(way: WayResult) -> Window | None:
    """The advised window that works best and leaves most, else the possible one; None where there is none."""
    windows = way.windows or way.possible
    return max(windows, key=lambda w: w.reliability * w.yield_fraction, default=None)


def _drawn(
    weather: GardenWeather, index: np.ndarray, starts: Sequence[tuple[Crop, int, int]], garden: Garden
) -> list[float | None]:
    """Litres per m2 of each season in the middle year, of those that the record holds whole."""
    out: list[float | None] = [None] * len(starts)
    order = sorted(range(len(starts)), key=lambda k: starts[k][2])  # seasons of like length go together
    for group in (order[k : k + _TOGETHER] for k in range(0, len(order), _TOGETHER)):
        some = [starts[k] for k in group]
        for k, litres in zip(group, _litres(weather, index, some, garden), strict=True):
            out[k] = litres
    return out


def _litres(
    weather: GardenWeather, index: np.ndarray, starts: Sequence[tuple[Crop, int, int]], garden: Garden
) -> list[float | None]:
    """The same of some seasons, followed at once; what they are followed by is let go with them."""
    days = np.stack([index[:, best] for _, best, _ in starts])
    lengths = np.array([length for _, _, length in starts])[:, None] * np.ones_like(days)
    balance, _, grows = season_balance(
        weather,
        [basal_of(crop.water, garden.soil_depth) for crop, _, _ in starts],
        days,
        lengths,
        np.ones(len(starts), dtype=bool),
        np.ones(len(starts)),
        garden,
        kept=("irrigation",),
    )
    return middle_litres(litres_of_seasons(balance, grows, lengths, garden))


def middle_litres(drawn: np.ndarray) -> list[float | None]:
    """Whole litres of each row's middle year, of those that are known; None where there are none."""
    return [None if np.isnan(found := median(row)) else round(found) for row in drawn]


def _range(crop: Crop, share: float | None) -> tuple[float, float] | None:
    """Poor and good practice, kg per m2, of a share of a full crop."""
    low, high = crop.garden.yield_per_area_low, crop.garden.yield_per_area_high
    if share is None or not known(low, high):
        return None
    places = 2 if high >= 0.1 else 5  # a spice weighs grams
    return round(share * low, places), round(share * high, places)


def _perennial(crop: Crop, line: CropSeasons, verdict: CropVerdict) -> tuple[CropSeasons, CropVerdict]:
    share = verdict.evidence.get("share_of_a_full_crop")
    first, to, last = str(verdict.evidence.get("picked_in_the_middle_year", "")).partition(" to ")
    litres = (verdict.answer or {}).get("litres_per_m2")
    found = Harvest(
        litres,
        _range(crop, float(share) if isinstance(share, (int, float)) else None),
        round(span_length(day_of_year(first), day_of_year(last)) / 7, 1) if to else None,
    )
    starts = tuple(replace(way, harvest=found) if way.possible or way.windows else way for way in line.starts)
    return replace(line, starts=starts), replace(verdict, harvest=found)


def _weeks(line: CropSeasons, way: WayResult) -> float | None:
    """Weeks of picking of one way, as the line of the crop is told."""
    days = days_picked(replace(line, starts=(way,)))
    return round(days / 7, 1) if days else None


def with_harvest(
    site: SiteDays,
    record: DailyRecord,
    crops: Sequence[Crop],
    judged: Sequence[tuple[CropSeasons, CropVerdict]],
    *,
    watered: bool = True,
) -> list[tuple[CropSeasons, CropVerdict]]:
    """Lines and verdicts with what a square metre draws and gives.

    Water of an annual is that of one season, from the best day of its best window to the usual last picking; beds are
    bare loam, watered by drip and moist at the start. No litres are told where no day has a reading of rain, and none
    where annuals live on rain alone.

    Parameters
    ----------
    site : SiteDays
    record : DailyRecord
        The same days with their rain.
    crops : sequence of Crop
    judged : sequence of (CropSeasons, CropVerdict)
        Of the same crops in the same order; perennials with their litres where these are known.
    watered : bool
        Whether annuals have stored water.
    """
    spots: list[tuple[int, int]] = []
    starts: list[tuple[Crop, int, int]] = []
    for k, (crop, (line, _)) in enumerate(zip(crops, judged, strict=True)):
        for w, way in enumerate(line.starts if crop.perennial is None else ()):
            window = best_window(way)
            if window is not None and window.last_picking is not None:
                spots.append((k, w))
                starts.append((crop, window.best, (window.last_picking - window.best) % YEAR + 1))
    litres: dict[tuple[int, int], float | None] = {}
    if starts and watered:
        weather = garden_weather(record)
        if weather.rain_known is not None and weather.rain_known.any():
            drawn = _drawn(weather, Fold.of(site).index, starts, Garden("", "", ()))
            litres = dict(zip(spots, drawn, strict=True))
    out = []
    for k, (crop, (line, verdict)) in enumerate(zip(crops, judged, strict=True)):
        if crop.perennial is not None:
            out.append(_perennial(crop, line, verdict))
            continue
        ways = []
        for w, way in enumerate(line.starts):
            window = best_window(way)
            if window is None:
                ways.append(way)
                continue
            found = Harvest(litres.get((k, w)), _range(crop, window.yield_fraction), _weeks(line, way))
            ways.append(replace(way, harvest=found))
        told = replace(line, starts=tuple(ways))
        best = max(ways, key=_worth, default=None)
        weeks = days_picked(told) / 7
        own = replace(best.harvest, weeks_of_picking=round(weeks, 1) if weeks else None) if best else Harvest()
        out.append((told, replace(verdict, harvest=own)))
    return out


def _worth(way: WayResult) -> float:
    """By which the best way of a crop is chosen: an advised window before a possible one, then what it leaves."""
    window = best_window(way)
    return -1.0 if window is None else 2.0 * bool(way.windows) + window.reliability * window.yield_fraction
