"""Annuals: the line of a sowing chart, what limits it, what the water there is makes of it, and the verdict."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sowcal.crops.tables import Crop, Way, known
from sowcal.languages import phrase
from sowcal.seasons.season import HAZARDS, Seasons, missing_values, seasons
from sowcal.seasons.site_days import SiteDays
from sowcal.settings import Settings
from sowcal.suitability.advice import advice_of, outside_runs
from sowcal.suitability.results import Advice, CropSeasons, CropVerdict, StoppedStart, WantOfWater, WayResult, Window
from sowcal.suitability.windows import (
    LEAST_YEARS,
    ByDay,
    Fold,
    StartSeason,
    by_day,
    in_a_row,
    possible_mask,
    possible_windows,
    recommended_windows,
    start_seasons,
)

__all__ = [
    "GRADES",
    "NOT_JUDGED",
    "NOT_JUDGED_RAIN_FED",
    "NOT_JUDGED_STORED",
    "WORDS",
    "WaterRule",
    "annual_line",
    "best_first",
    "best_possible",
    "best_start",
    "best_stopped",
    "crop_seasons",
    "leave",
    "limiting_factor",
    "rate_annual",
    "seasons_of",
    "time_counts",
    "told_windows",
    "want_of_water",
    "way_result",
]


@dataclass(frozen=True)
class WaterRule:
    """Water as a chart is asked to reckon with it.

    Attributes
    ----------
    changed : callable
        From crop, way and seasons to the seasons that this water leaves; what it takes is lost to 'want of water'.
    drawn : callable, optional
        From crop and way to the stored water that each start day of the year draws in the dry year in ten, litres
        per m2, shape (365,), NaN where it is not known; None on rain alone.
    most : float, optional
        Litres per m2 that may be drawn in that year; None on rain alone.
    """

    changed: Callable[[Crop, Way, Seasons], Seasons]
    drawn: Callable[[Crop, Way], np.ndarray] | None = None
    most: float | None = None

    def litres(self, crop: Crop, way: Way) -> np.ndarray | None:
        """What each start day draws in a dry year; None on rain alone."""
        return None if self.drawn is None else self.drawn(crop, way)

    def allowed(self, litres: np.ndarray | None) -> np.ndarray | None:
        """Start days of the year that draw no more than they may; None where nothing is drawn."""
        if litres is None or self.most is None:
            return None
        return np.nan_to_num(litres, nan=np.inf) <= self.most


def _best(windows: tuple[Window, ...]) -> Window:
    return max(windows, key=lambda w: w.reliability * w.yield_fraction)


def want_of_water(
    rule: WaterRule,
    litres: np.ndarray | None,
    watered: tuple[tuple[Window, ...], tuple[Window, ...]],
    left: tuple[tuple[Window, ...], tuple[Window, ...]],
    odds: tuple[np.ndarray, np.ndarray],
) -> WantOfWater | None:
    """What want of water took from one way of starting; None where no dates were lost to it.

    Parameters
    ----------
    rule : WaterRule
    litres : numpy.ndarray or None
        As `WaterRule.litres` gives them.
    watered, left : pairs of tuples of Window
        Advised and possible windows, with all the water that the crop asks for and with what there is.
    odds : pair of numpy.ndarray
        Share of decided years that succeed by start day of the year, shape (365,), with all that water and with what
        there is.
    """
    for had, has in zip(watered, left, strict=True):
        if had and not has:
            window = _best(had)
            day = window.best
            if litres is not None and rule.most is not None:
                days = np.concatenate([(w.start + np.arange((w.end - w.start) % 365 + 1)) % 365 for w in had])
                over = days[np.isfinite(litres[days]) & (litres[days] > rule.most)]
                if over.size and not litres[day] > rule.most:  # the best day itself may be frugal, and stand alone
                    day = int(over[np.argmin(litres[over])])
            drawn = None if litres is None or not np.isfinite(litres[day]) else float(litres[day])
            works, still = (float(np.nan_to_num(share[day])) for share in odds)
            return WantOfWater(day, works, max(works - still, 0.0), drawn, rule.most)
    return None


# A start that never works and leaves less of a crop than this is no better than any other: common practice, no source.
_SOME_YIELD = 0.05


def told_odds(found: ByDay) -> np.ndarray:
    """Odds told where nothing is advised: what fewer days in a row reach is chance."""
    return np.minimum(np.nan_to_num(found.reliability), in_a_row(found.reliability))


def best_start(found: ByDay, windows: Sequence[Window], watered: ByDay, advised: bool) -> StoppedStart | None:
    """The best start day of one way of starting, and what in the climate most often stops it.

    Parameters
    ----------
    found : ByDay
    windows : sequence of Window
        Advised windows, or else (not `advised`) possible ones; where there are none, the day that works most often.
    watered : ByDay
        The same with all the water that the crop asks for, which parts days that are alike without it.
    advised : bool

    Returns
    -------
    StoppedStart or None
        None where no start day works and none leaves some of a crop.
    """
    if windows:
        day = max(windows, key=lambda w: w.reliability * w.yield_fraction).best
    else:
        keys = (watered.mean_yield, watered.reliability, told_odds(found))
        leaves, might, works = (np.nan_to_num(k).round(6) for k in keys)
        day = int(np.lexsort((leaves, might, works))[-1])
        if might[day] <= 0.0 and leaves[day] < _SOME_YIELD:
            return None
    shares = np.nan_to_num(found.hazard_share[:, day])
    shares[HAZARDS.index("want of water")] = 0.0  # what that took is told by itself
    worst = int(shares.argmax())
    return StoppedStart(
        day=day,
        reliability=float(np.nan_to_num(found.reliability if advised else told_odds(found))[day]),
        hazard=HAZARDS[worst] if shares[worst] > 0.0 else None,
        share_of_years=float(shares[worst]),
    )


def best_possible(starts: Sequence[WayResult], which: str) -> tuple[WayResult, Window] | None:
    """The best of the 'windows' or the 'possible' windows of some ways of starting, with its way."""
    found = [(s, w) for s in starts for w in getattr(s, which)]
    return max(found, key=lambda p: p[1].reliability * p[1].yield_fraction, default=None)


def best_stopped(starts: Sequence[WayResult]) -> tuple[WayResult, StoppedStart] | None:
    """The best start day of some ways of starting, with its way."""
    best = best_possible(starts, "windows") or best_possible(starts, "possible")
    if best is not None:
        return None if best[0].best_start is None else (best[0], best[0].best_start)
    found = [(s, s.best_start) for s in starts if s.best_start is not None]
    return max(found, key=lambda p: p[1].reliability, default=None)


def _most_of_the_year(starts: Sequence[WayResult], but: str = "") -> str | None:
    """The hazard that closes most of the year, weighed by the share of years it takes; all others before one."""
    weight = defaultdict[str, float](float)
    for start in starts:
        for o in start.outside:
            weight[o.hazard] += o.share_of_years * ((o.end - o.start) % 365 + 1)
    return max(weight, key=lambda h: (h != but, weight[h]), default=None)


def limiting_factor(starts: Sequence[WayResult]) -> str | None:
    """The hazard that limits an annual most; None where no day is closed and nothing fails.

    Of a crop that has advised dates, what closes most of the rest of the year. Of one that has none, want of water
    where that took them; else what most often stops it from the best start that there is, for a hazard of other
    days is no reason; and where no start is better than any other, what closes most of the year.
    """
    best = best_stopped(starts)
    fails = None if best is None else best[1].hazard
    if any(s.windows for s in starts):
        return _most_of_the_year(starts) or fails
    if any(s.want_of_water for s in starts):
        return "want of water"
    return fails or _most_of_the_year(starts, but="want of water")


NOT_JUDGED = (
    "pests and diseases",
    "wind and salt",
    "pollination",
    "water quality",
    "variety within a type",
    "want of water (beds are taken as watered when needed)",
)
NOT_JUDGED_STORED = (*NOT_JUDGED[:-1], "want of water of perennials", "soils other than bare loam watered by drip")
NOT_JUDGED_RAIN_FED = (*NOT_JUDGED[:-1], "want of water of perennials", "soils other than bare loam")


def _chance_by_day(
    site: SiteDays, fold: Fold, outcome: Seasons, windows: Sequence[Window], begin: np.ndarray, end: np.ndarray
) -> np.ndarray:
    """Share of years in which a day of the year lies between `begin` and `end` of some advised start.

    Parameters
    ----------
    begin, end : numpy.ndarray of int
        Day indices for every start day, shape (N,).
    """
    if not windows:
        return np.zeros(365)
    advised = np.zeros(365, dtype=bool)
    for w in windows:
        advised[(w.start + np.arange((w.end - w.start) % 365 + 1)) % 365] = True
    with np.errstate(invalid="ignore"):
        good = advised[site.day_of_year] & (outcome.yield_fraction >= site.settings.least_yield)
    a, b = np.clip(begin[good], 0, site.size), np.clip(end[good] + 1, 0, site.size)
    under_way = np.bincount(a, minlength=site.size + 1) - np.bincount(b, minlength=site.size + 1)
    by_year = fold(np.cumsum(under_way)[:-1] > 0)
    some = fold(good).any(axis=1) & np.isfinite(by_year).any(axis=1)
    known_days = np.isfinite(by_year[some])
    return np.where(known_days, by_year[some], 0.0).sum(axis=0) / np.maximum(known_days.sum(axis=0), 1)


# Times the loss that `near_best` allows, allowed to crops sown in succession: judgement, chosen among 2 to 4.
_SUCCESSION = 3.5
_KEPT_WEEKS = 10  # what keeps so long once it is lifted is sown once for the year: judgement


def leave(crop: Crop) -> float:
    """Times the loss against the season's best that a start may have and be advised.

    A tender crop has one summer; what is lifted once and kept for months (garlic, onions, pulses) gains nothing by many
    sowings. Others are sown in succession for a table that wants some all year: every month that does well is good.
    """
    kept = crop.garden.keeps_weeks >= _KEPT_WEEKS and "in the ground" not in crop.garden.keeps
    return 1.0 if kept or crop.cold.frost_class in ("tender", "very tender") else _SUCCESSION


def seasons_of(found: ByDay, settings: Settings, crop: Crop, possible: np.ndarray) -> list[StartSeason]:
    """The seasons of the year of one crop and way, judged as the chart judges them."""
    return start_seasons(found, settings, time_counts(crop), possible, leave(crop))


def time_counts(crop: Crop) -> bool:
    """Whether time in the bed is held against a start.

    Not where day length sets the date of lifting, for there an early start is a larger crop, nor for hardy crops
    picked from their flowers (pea, broad bean): an autumn start that winters and bears in spring is good custom.
    """
    winters = crop.growth.habit == "flowering" and crop.cold.frost_class in ("hardy", "half-hardy")
    return not (known(crop.gates.bulbing_day_length) or winters)


def way_result(
    site: SiteDays, fold: Fold, crop: Crop, way: Way, water: WaterRule | None = None, *, calendar: bool = True
) -> WayResult:
    """One way of starting one crop.

    `water`, where given, says what the water there is makes of the seasons. Without `calendar` the days of picking
    and raising are left out, which a verdict does not rest on.
    """
    lacking = missing_values(crop, way)
    if lacking:
        return WayResult(way.way, (), (), (), None, unknown=tuple(lacking))
    outcome = seasons(site, crop, way)
    found = watered = by_day(site, fold, outcome)
    litres = None
    if water is not None:
        litres, outcome = water.litres(crop, way), water.changed(crop, way, outcome)
        found = by_day(site, fold, outcome)
    if found.decided.max(initial=0) < LEAST_YEARS:
        return WayResult(way.way, (), (), (), None, unknown=(phrase("a record of at least 3 whole seasons"),))
    wished = None if water is None else water.allowed(litres)
    windows, possible, advice = told_windows(found, site, crop, wished)
    took = None
    if water is not None and not windows:
        odds = (watered.reliability, found.reliability)
        took = want_of_water(water, litres, told_windows(watered, site, crop, None)[:2], (windows, possible), odds)
    picking = raising = None
    if calendar:
        picking = _chance_by_day(site, fold, outcome, windows, outcome.first, outcome.last)
    if calendar and outcome.raised_days is not None:
        sown = site.start - outcome.raised_days.astype(int)
        raising = _chance_by_day(site, fold, outcome, windows, sown, site.start - 1)
    return WayResult(
        way=way.way,
        windows=windows,
        possible=possible,
        outside=tuple(outside_runs(found)),
        reliability=found.reliability,
        yield_fraction=found.mean_yield,
        picking=picking,
        raising=raising,
        best_start=best_start(found, windows or possible, watered, bool(windows)),
        want_of_water=took,
        advice=advice,
        days_to_picking=found.duration,
    )


def told_windows(
    found: ByDay, site: SiteDays, crop: Crop, wished: np.ndarray | None
) -> tuple[tuple[Window, ...], tuple[Window, ...], tuple[Advice, ...]]:
    """Advised and possible windows, and the five dates of each season, by the site's settings."""
    mask = possible_mask(found)
    parts = seasons_of(found, site.settings, crop, mask)
    told = tuple(recommended_windows(found, site.settings, allowed=wished, possible=mask, seasons=parts))
    advised = np.zeros(365, dtype=bool)
    for w in told:
        advised[(w.start + np.arange((w.end - w.start) % 365 + 1)) % 365] = True
    advice = advice_of(found, parts, advised, site.settings, site.latitude)
    works = tuple(possible_windows(found, mask))
    if not told:  # what works as often as asked on fewer days than a window has is not told to work so often
        works = tuple(replace(w, reliability=float(told_odds(found)[w.best])) for w in works)
    return told, works, advice


def annual_line(
    site: SiteDays, fold: Fold, crop: Crop, water: WaterRule | None = None, *, calendar: bool = True
) -> CropSeasons:
    """An annual's line of the chart; `water` and `calendar` as in `way_result`."""
    starts = tuple(way_result(site, fold, crop, way, water, calendar=calendar) for way in crop.ways)
    return CropSeasons(
        crop=crop.name,
        family=crop.family,
        starts=starts,
        cautions=crop.cautions,
        notes=(crop.note,) if crop.note else (),
        limiting_factor=limiting_factor(starts),
    )


def crop_seasons(site: SiteDays, crops: Iterable[Crop]) -> tuple[CropSeasons, ...]:
    """The annuals' lines of the chart for one site."""
    fold = Fold.of(site)
    return tuple(annual_line(site, fold, crop) for crop in crops)


WORDS = {"S1": "sound", "S2": "fair", "S3": "chancy", "N": "not here", None: "cannot say"}
# A sound crop leaves three quarters of its yield, nine years in ten, from a window of three weeks or more; a
# fair one meets the odds asked for: common practice, no source.
_SOUND_YIELD, _SOUND_RELIABILITY, _SOUND_DAYS = 0.75, 0.9, 21
_ORDER = {"S1": 0, "S2": 1, "S3": 2, "N": 3, None: 4}
# every word of the scale from best to worst
GRADES = {
    "sound": 0,
    "thrives": 0,
    "fair": 1,
    "crops with a check": 1,
    "chancy": 2,
    "crops, lives briefly": 2,
    "lives, crops poorly": 3,
    "grown as a winter annual": 3,
    "not here": 4,
    "cannot say": 5,
}


TOO_FEW_DAYS = "whole seasons from more than a few start days of the year"


def _length(windows: tuple[Window, ...]) -> int:
    return sum((w.end - w.start) % 365 + 1 for w in windows)


def _start(way: WayResult, day: int, reliability: float) -> dict[str, object]:
    """A start day, as MM-DD, and how often it works."""
    date = str(np.datetime64("2023-01-01") + day)[5:]
    return {"way": way.way, "date": date, "works_in_share_of_years": reliability}


def rate_annual(line: CropSeasons) -> CropVerdict:
    """Verdict on one annual crop from its line of the chart."""
    unknown = sorted({u for s in line.starts for u in s.unknown})
    judged = tuple(s for s in line.starts if s.reliability is not None)
    best = best_possible(judged, "windows")
    if not judged or (line.limiting_factor is None and not best and not best_possible(judged, "possible")):
        # nothing stops it, yet no run of days is known long enough to be called dates
        return CropVerdict(
            crop=line.crop,
            suitability=None,
            word=WORDS[None],
            reliability=None,
            limiting_factor=None,
            evidence={"unknown": unknown or [TOO_FEW_DAYS if judged else phrase("ways of starting")]},
            cautions=line.cautions,
        )
    if best:
        way, window = best
        sound = (
            window.yield_fraction >= _SOUND_YIELD
            and window.reliability >= _SOUND_RELIABILITY
            and _length(way.windows) >= _SOUND_DAYS
        )
        grade = "S1" if sound else "S2"
        evidence = _of_window(*best)
        if not any(s.outside for s in judged) and way.best_start is not None and way.best_start.hazard:
            evidence |= {"hazard": way.best_start.hazard, "share_of_years": way.best_start.share_of_years}
    else:
        best = best_possible(judged, "possible")
        grade = "S3" if best else "N"
        evidence = {**(_of_window(*best) if best else {}), **(_thirst(judged) or _stopped(judged))}
    return CropVerdict(
        crop=line.crop,
        suitability=grade,
        word=WORDS[grade],
        reliability=_works(judged, best),
        limiting_factor=line.limiting_factor,
        evidence=evidence,
        cautions=line.cautions,
    )


def _works(starts: Sequence[WayResult], best: tuple[WayResult, Window] | None) -> float:
    """Share of years in which the best start of the year works, be it ever so small."""
    if best:
        return best[1].reliability
    return max((float(in_a_row(s.reliability).max()) for s in starts if s.reliability is not None), default=0.0)


def _of_window(way: WayResult, window: Window) -> dict[str, object]:
    """What the window on which a verdict rests brings."""
    return {
        "way": way.way,
        "window": window,
        "years_decided": window.years_decided,
        "years_that_succeed": round(window.reliability * window.years_decided),
        "yield_fraction": window.yield_fraction,
        "days_recommended": _length(way.windows),
    }


def _stopped(starts: Sequence[WayResult]) -> dict[str, object]:
    """Where nothing is advised: the best start that there is, and what stops it how often."""
    best = best_stopped(starts)
    if best is None or best[1].hazard is None:
        hazard = limiting_factor(starts)
        shut = [o for s in starts for o in s.outside if o.hazard == hazard]
        days = np.array([(o.end - o.start) % 365 + 1 for o in shut])
        if not shut:
            return {}
        share = float(np.average([o.share_of_years for o in shut], weights=days))
        return {"hazard": hazard, "share_of_years": share}
    way, start = best
    return {
        "best_start": _start(way, start.day, start.reliability),
        "hazard": start.hazard,
        "share_of_years": start.share_of_years,
    }


def _thirst(starts: Sequence[WayResult]) -> dict[str, object]:
    """What the best start of those that want of water took draws, against what it may."""
    dry = [(s, s.want_of_water) for s in starts if s.want_of_water is not None]
    if not dry:
        return {}
    way, found = max(dry, key=lambda p: p[1].reliability)
    out: dict[str, object] = {
        "hazard": "want of water",
        "share_of_years": found.share_of_years,
        "with_water_enough": _start(way, found.day, found.reliability),
    }
    if found.litres is not None:
        out["litres_per_m2_in_a_dry_year"] = round(found.litres)
    if found.most is not None:
        out["litres_per_m2_allowed"] = found.most
    return out


def best_first(verdicts: list[CropVerdict]) -> list[CropVerdict]:
    """Verdicts from the best to the worst class, then by reliability and yield, then by name."""

    def worth(v: CropVerdict) -> tuple:
        fraction = v.evidence.get("yield_fraction", 0.0)
        by_yield = -fraction if isinstance(fraction, float) else 0.0
        return (_ORDER[v.suitability], -(v.reliability or 0.0), by_yield, v.crop)

    return sorted(verdicts, key=worth)
