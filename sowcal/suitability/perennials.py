"""Will this perennial live here, will it crop, and how sure is that?

Survival over some years is the share of runs of so many consecutive years in the record that are survived: bad
years come in company, so a yearly share is never raised to a power. Where the limit that decides is recalled and
not read, the answer is a worded range instead of a percentage.
"""

from __future__ import annotations

import numpy as np

from sowcal.crops.handbook import Handbook
from sowcal.crops.records import Crop
from sowcal.crops.tables import table_descriptions
from sowcal.seasons.perennial_years import PerennialYears, chill_row
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.results import CropSeasons, CropVerdict, Outside, WayResult, Window
from sowcal.suitability.windows import share_interval

__all__ = ["PERENNIAL_WORDS", "perennial_line", "rate_perennial", "survival_of_runs"]

PERENNIAL_WORDS = {
    "S1": "thrives",
    "S2": "crops with a check",
    "brief": "crops, lives briefly",
    "poor": "lives, crops poorly",
    "winter": "grown as a winter annual",
    "N": "not here",
    None: "cannot say",
}
_RUN = 5  # years in a row that a perennial should live: common practice, no source
_ALIVE, _CROPS = 0.5, 0.4  # share of plants, share of a crop, that count as lived and as cropped: common practice
_LIVES, _MOST, _HALF = 0.7, 0.8, 0.5
_ENOUGH = 10  # years from which odds stand without their interval beside them
LEAST_YEARS = 3

# which column decides each hazard, to tell how well the limit is known
_DECIDES = {
    "chill unmet": ("chill", "need_low"),
    "winter kill": ("perennials", "killing_dormant"),
    "summer kill": ("perennials", "heat_kills"),
    "heat": ("perennials", "summer_mean_most"),
    "frost on blossom": ("blossom", "kill_10_bloom"),
    "frost": ("perennials", "killing_fruit"),
    "too slow": ("perennials", "summer_mean_least"),
}


def survival_of_runs(alive: np.ndarray, length: int = _RUN) -> tuple[float, int]:
    """Share of runs of consecutive decided years that are survived, and the number of runs.

    Parameters
    ----------
    alive : numpy.ndarray
        Share of plants that live through each year, NaN where undecided.
    length : int
        Years in a row; shortened to the record where that is shorter.
    """
    length = min(length, alive.size)
    if length == 0:
        return float("nan"), 0
    runs = np.lib.stride_tricks.sliding_window_view(alive, length)
    runs = runs[np.isfinite(runs).all(axis=1)]
    if not runs.size:
        return float("nan"), 0
    return float((runs.prod(axis=1) >= _ALIVE).mean()), len(runs)


def _grade(lives: float, crops: float, mean_crop: float, yearly: float, summer_kills: bool, crop: Crop) -> str:
    p = crop.perennial
    assert p is not None
    soon = not p.years_to_crop > 2
    if lives >= _LIVES and crops >= _MOST:
        return "S1" if mean_crop >= 0.7 else "S2"
    if lives >= _LIVES and crops >= _HALF:
        return "S2"
    if lives >= _LIVES:
        return "poor" if mean_crop >= 0.05 else "N"
    if yearly >= _HALF and crops >= 0.3 and soon:
        return "brief"
    if lives >= _HALF and crops >= 0.3:
        return "brief"
    if p.winter_annual == "yes" and summer_kills:
        return "winter"
    return "N"


def _limiting(years: PerennialYears) -> str | None:
    lost = {h: 1.0 - float(np.nanmean(s)) for h, s in years.shares.items()}
    worst = max(lost, key=lambda h: lost[h], default=None)
    return worst if worst and lost[worst] > 0.02 else None


def _basis(book: Handbook, crop: Crop, hazard: str | None) -> str:
    """Basis of the limit that decides."""
    if hazard not in _DECIDES:
        return ""
    table_name, column = _DECIDES[hazard]
    table = table_descriptions()[table_name]
    rows = [r for r in book.rows(table_name, crop.name) if r.get("used", "yes") == "yes"]
    source = book.source_of(rows[0], table, column) if rows else None
    return source.basis if source else ""


def _range(share: float) -> str:
    """A share in words, for limits that are only recalled."""
    for least, words in ((0.9, "nearly always"), (0.7, "mostly"), (0.4, "about as often as not"), (0.1, "seldom")):
        if share >= least:
            return words
    return "hardly ever"


def rate_perennial(crop: Crop, years: PerennialYears, book: Handbook) -> CropVerdict:
    """Verdict on one perennial from each year of the record."""
    decided = int(np.isfinite(years.crop).sum())
    if decided < LEAST_YEARS:
        return CropVerdict(
            crop=crop.name,
            suitability=None,
            word=PERENNIAL_WORDS[None],
            reliability=None,
            limiting_factor=None,
            evidence={"unknown": ["a record of at least 3 whole years"], "years_decided": decided},
            cautions=crop.cautions,
        )
    good = np.isfinite(years.crop)
    lives, runs = survival_of_runs(years.alive)
    yearly = float((years.alive[good] >= _ALIVE).mean())
    crops = float((years.crop[good] >= _CROPS).mean())
    mean_crop = float(years.crop[good].mean())
    if runs == 0:  # the record is broken: no run of whole years
        lives = yearly
    summer = years.shares.get("summer kill")
    summer_kills = summer is not None and float(np.nanmean(summer)) < float(np.nanmean(years.shares["winter kill"]))
    # a winter as hot as the summers that stop it carries no winter crop either
    summer_kills = summer_kills and float(years.winter_growth.mean()) >= _HALF
    grade = _grade(lives, crops, mean_crop, yearly, summer_kills, crop)
    hazard = _limiting(years)
    basis = _basis(book, crop, hazard)
    worded = basis == "memory"
    need = chill_row(crop)
    evidence: dict[str, object] = {
        "years_decided": decided,
        "years_lived": int((years.alive[good] >= _ALIVE).sum()),
        "years_cropped": int((years.crop[good] >= _CROPS).sum()),
        f"runs_of_{_RUN}_years_survived": _range(lives) if worded else round(lives, 2),
        "share_of_a_full_crop": round(mean_crop, 2),
    }
    if decided < _ENOUGH:
        evidence["interval_of_few_years"] = share_interval(crops * decided, decided)
    if "chill" in years.figures and need is not None:
        evidence["chill"] = {
            "model": need.model,
            "had_in_10_50_90_per_cent_of_years": [
                round(float(q)) for q in np.percentile(years.figures["chill"][good], [10, 50, 90])
            ],
            "needs": [need.need_low, need.need_high],
        }
    for name, unit in (("winter mean", "degC"), ("coldest", "degC"), ("summer mean", "degC"), ("hottest spell", "d")):
        if name in years.figures:
            evidence[f"{name.replace(' ', '_')}_{unit}"] = round(float(np.mean(years.figures[name][good])), 1)
    if (picked := _picked(years, good)) is not None:
        evidence["picked_in_the_middle_year"] = picked
    for h, share in years.shares.items():
        bad = int((share[good] < 0.5).sum())
        if bad:
            evidence[f"years_of_{h.replace(' ', '_')}"] = bad
    if basis:
        evidence["deciding_limit_rests_on"] = basis
    return CropVerdict(
        crop=crop.name,
        suitability={"brief": "S3", "poor": "S3", "winter": "S3"}.get(grade, grade),
        word=PERENNIAL_WORDS[grade],
        reliability=crops,
        limiting_factor=hazard,
        evidence=evidence,
        cautions=crop.cautions,
    )


def _picked(years: PerennialYears, good: np.ndarray) -> str | None:
    """First and last picking of the middle year, as dates without a year."""
    cropped = good & (years.crop >= _CROPS)
    if not cropped.any():
        return None
    if np.median(years.last[cropped] - years.first[cropped]) >= 364:
        return "01-01 to 12-31"  # picking never ends
    # the middle of the years is taken on the calendar, not on the axis of the record
    ends = []
    for values in (years.first[cropped], years.last[cropped]):
        dates = years.first_date + values.astype(int)
        of_year = (dates - dates.astype("datetime64[Y]").astype("datetime64[D]")).astype(int)
        turn = 2 * np.pi * of_year / 365.25
        mean = np.arctan2(np.sin(turn).mean(), np.cos(turn).mean()) % (2 * np.pi) * 365.25 / (2 * np.pi)
        ends.append(str(np.datetime64("2023-01-01") + np.timedelta64(int(mean), "D"))[5:])
    return f"{ends[0]} to {ends[1]}"


# Months in which stock is planted, as (month, day) spans for the north: common practice, no source.
_PLANTING = {
    "bare-root": ((11, 15), (2, 28)),
    "crown": ((11, 1), (3, 15)),
    "container": ((10, 1), (12, 31)),
    "runner": ((9, 1), (11, 15)),
    "cold-stored runner": ((6, 15), (8, 15)),
    "offset": ((9, 1), (11, 15)),
    "rhizome": ((11, 1), (3, 15)),
    "tuber": ((2, 1), (4, 15)),
    "seedling": ((9, 15), (11, 15)),
    "cutting": ((10, 1), (12, 31)),
    "pad": ((4, 15), (6, 30)),
    "seed": ((3, 1), (5, 15)),
}
_DAYS_BEFORE = np.cumsum([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30])


def _day(month: int, day: int, south: bool) -> int:
    return int(_DAYS_BEFORE[month - 1] + day - 1 + (182 if south else 0)) % 365


def _tender_evergreen(crop: Crop) -> bool:
    p = crop.perennial
    return p is not None and p.killing_dormant > -8.0


def perennial_line(site: SiteDays, crop: Crop, verdict: CropVerdict, years: PerennialYears) -> CropSeasons:
    """A perennial's line of the chart: when its stock is planted and when it is picked."""
    south = site.latitude < 0
    starts = []
    for way in crop.ways:
        first, last = _PLANTING.get(way.stock, _PLANTING["container"])
        if way.stock == "container" and _tender_evergreen(crop):
            first, last = (3, 15), (5, 31)  # tender evergreens after the last killing frost
        start, end = _day(*first, south), _day(*last, south)
        fits = verdict.suitability in ("S1", "S2", "S3")
        good = np.isfinite(years.crop) & (years.crop >= _CROPS)
        picking = _picking_by_day(site, years, good)
        decided = int(np.isfinite(years.crop).sum())
        reliability = verdict.reliability or 0.0
        by_year = tuple(
            (int(y), int(site.day_of_year[int(d)]) if cropped and 0 <= d < site.size else None)
            for y, d, cropped, known in zip(years.years, years.first, good, np.isfinite(years.crop), strict=True)
            if known
        )
        window = Window(
            start=start,
            end=end,
            best=(start + ((end - start) % 365) // 2) % 365,
            reliability=reliability,
            interval=share_interval(reliability * decided, decided),
            years_decided=decided,
            yield_fraction=float(np.nanmean(years.crop)) if decided else 0.0,
            first_pickings=by_year,
        )
        windows = (window,) if fits else ()
        starts.append(
            WayResult(
                way=way.way,
                windows=windows if verdict.suitability in ("S1", "S2") else (),
                possible=windows,
                outside=_outside(verdict, window, fits),
                reliability=None,
                picking=picking,
            )
        )
    return CropSeasons(crop.name, crop.family, tuple(starts), crop.cautions, (crop.note,) if crop.note else ())


def _outside(verdict: CropVerdict, window: Window, fits: bool) -> tuple[Outside, ...]:
    """What limits the crop, outside its planting months or, where it does not fit, all year."""
    if not verdict.limiting_factor:
        return ()
    share = 1.0 - (verdict.reliability or 0.0)
    if share <= 0.0:
        return ()
    if not fits:
        return (Outside(0, 364, verdict.limiting_factor, share),)
    return (Outside((window.end + 1) % 365, (window.start - 1) % 365, verdict.limiting_factor, share),)


def _picking_by_day(site: SiteDays, years: PerennialYears, good: np.ndarray) -> np.ndarray:
    marks = np.zeros((max(int(good.sum()), 1), 365), dtype=bool)
    for row, (a, b) in enumerate(zip(years.first[good].astype(int), years.last[good].astype(int), strict=True)):
        days = np.arange(max(a, 0), min(b, site.size - 1) + 1)
        marks[row, site.day_of_year[days]] = True
    return marks.mean(axis=0) if good.any() else np.zeros(365)
