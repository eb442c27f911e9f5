"""Will this perennial live here, will it crop, and how sure is that?

Survival over some years is the share of runs of so many consecutive years in the record that are survived: bad
years come in company, so a yearly share is never raised to a power. Where the limit that decides is recalled and
not read, the answer is a worded range instead of a percentage.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from sowcal.crops.handbook import Handbook
from sowcal.crops.tables import Crop, table_descriptions
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
_LOSS = 0.02  # share of a full crop from which a loss is spoken of
_KILLS = ("winter kill", "summer kill")
_RANK = {"S1": 0, "S2": 1, "brief": 2, "poor": 3, "winter": 3, "N": 4}  # as the words stand in GRADES
_ENOUGH = 10  # years from which odds stand without their interval beside them
LEAST_YEARS = 3


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


@dataclass(frozen=True)
class _Fate:
    """What comes of a perennial over the decided years of a record."""

    lives: float  # share of runs of years that are survived; of single years where the record holds no run
    runs: int  # how many runs that is
    lived: np.ndarray  # years in which half the plants or more live on
    cropped: np.ndarray  # those of them that bring a crop
    mean_crop: float

    @classmethod
    def of(cls, years: PerennialYears, without: str | None = None) -> _Fate:
        """The fate, or what it would be without one of the hazards."""
        good = np.isfinite(years.crop)
        shares = {h: s for h, s in years.shares.items() if h != without}
        alive, crop = np.ones(good.size), np.ones(good.size)
        for hazard, share in shares.items():
            crop = crop * share
            if hazard in _KILLS:
                alive = alive * share
        lived = good & (alive >= _ALIVE)
        lives, runs = survival_of_runs(np.where(good, alive, np.nan))
        return cls(
            lives=lives if runs else float(lived[good].mean()),
            runs=runs if good.size >= _RUN else 0,
            lived=lived,
            cropped=lived & (crop >= _CROPS),  # what dies in a year is no crop of that year
            mean_crop=float(crop[good].mean()),
        )


def _grade(fate: _Fate, decided: int, winter_carries: bool, crop: Crop) -> str:
    p = crop.perennial
    assert p is not None
    soon = not p.years_to_crop > 2
    crops, yearly = fate.cropped.sum() / decided, fate.lived.sum() / decided
    if fate.lives >= _LIVES and crops >= _MOST:
        return "S1" if fate.mean_crop >= 0.7 else "S2"
    if fate.lives >= _LIVES and crops >= _HALF:
        return "S2"
    if fate.lives >= _LIVES:
        return "poor" if fate.mean_crop >= 0.05 else "N"
    if yearly >= _HALF and crops >= 0.3 and soon:
        return "brief"
    if fate.lives >= _HALF and crops >= 0.3:
        return "brief"
    if p.winter_annual == "yes" and winter_carries:
        return "winter"
    return "N"


def _limiting(years: PerennialYears, fate: _Fate, grade: str, decided: int, crop: Crop) -> str | None:
    """The hazard without which the verdict would be the best, then the years that crop the most, then the crop.

    A crop that thrives and loses no year's crop to a hazard is limited by none; a winter annual is one because
    summers kill it.
    """
    if grade == "winter":
        return "summer kill"
    good = np.isfinite(years.crop)
    worth = {}
    for hazard, share in years.shares.items():
        other = _Fate.of(years, hazard)
        lifted = _RANK[grade] - _RANK[_grade(other, decided, False, crop)]
        more = int(other.cropped.sum() - fate.cropped.sum())
        if grade == "S1" and more == 0 and not (share[good] < 0.5).any():
            continue
        loss = 1.0 - float(share[good].mean())
        if loss > _LOSS or lifted > 0 or more > 0:
            worth[hazard] = (max(lifted, 0), more, loss)
    return max(worth, key=lambda h: worth[h], default=None)


def _basis(book: Handbook, crop: Crop, limit: tuple[str, str] | None) -> str:
    """Basis of the limit that decides."""
    if limit is None:
        return ""
    table_name, column = limit
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
    fate = _Fate.of(years)
    winter_carries = _winter_carries(years)
    grade = _grade(fate, decided, winter_carries, crop)
    hazard = _limiting(years, fate, grade, decided, crop)
    basis = _basis(book, crop, years.limits.get(hazard or ""))
    as_annual = _as_winter_annual(years) if grade == "winter" else {}
    reliability = float(fate.cropped.sum() / decided)
    if as_annual:
        reliability = as_annual["as_a_winter_annual"]["years"] / decided
    return CropVerdict(
        crop=crop.name,
        suitability={"brief": "S3", "poor": "S3", "winter": "S3"}.get(grade, grade),
        word=PERENNIAL_WORDS[grade],
        reliability=reliability,
        limiting_factor=hazard,
        evidence={
            **_years_told(years, fate, decided, reliability, worded=basis == "memory"),
            **as_annual,
            **_winters_told(crop, years),
            **_hazards_told(years, fate),
            **({"deciding_limit_rests_on": basis} if basis else {}),
        },
        cautions=crop.cautions,
    )


def _winter_carries(years: PerennialYears) -> bool:
    """Whether summers kill it more than winters do, and winters are cool enough for it to grow in."""
    summer = years.shares.get("summer kill")
    kills = summer is not None and float(np.nanmean(summer)) < float(np.nanmean(years.shares["winter kill"]))
    # a winter as hot as the summers that stop it carries no winter crop either
    return kills and float(years.winter_growth.mean()) >= _HALF


def _as_winter_annual(years: PerennialYears) -> dict[str, Any]:
    """Years whose winter leaves it half its growth or more, and does not kill it."""
    good = np.isfinite(years.crop)
    growth = np.broadcast_to(years.winter_growth, good.shape)
    carries = good & (growth >= _HALF) & (years.shares["winter kill"] >= _ALIVE)
    return {"as_a_winter_annual": {"years": int(carries.sum()), "growth_left": round(float(growth[good].mean()), 2)}}


def _years_told(
    years: PerennialYears, fate: _Fate, decided: int, reliability: float, *, worded: bool
) -> dict[str, object]:
    """Years lived and cropped, and what that makes of the crop."""
    out: dict[str, object] = {
        "years_decided": decided,
        "years_lived": int(fate.lived.sum()),
        "years_cropped": int(fate.cropped.sum()),
        **(
            {f"runs_of_{_RUN}_years_survived": _range(fate.lives) if worded else round(fate.lives, 2)}
            if fate.runs
            else {}
        ),
        "share_of_a_full_crop": round(fate.mean_crop, 2),
    }
    if decided < _ENOUGH:
        out["interval_of_few_years"] = share_interval(reliability * decided, decided)
    if (picked := _picked(years, fate.cropped)) is not None:
        out["picked_in_the_middle_year"] = picked
    return out


def _winters_told(crop: Crop, years: PerennialYears) -> dict[str, object]:
    """Chill and the mean of the winter against what was held against them, and the other figures of the years."""
    out: dict[str, object] = {}
    good, need, p = np.isfinite(years.crop), chill_row(crop), crop.perennial
    assert p is not None
    if "chill" in years.figures and need is not None:
        had, judged_at = years.figures["chill"][good], 0.5 * (need.need_low + need.need_high)
        out["chill"] = {
            "model": need.model,
            "had_in_10_50_90_per_cent_of_years": [round(float(q)) for q in np.percentile(had, [10, 50, 90])],
            "needs": [need.need_low, need.need_high],
            "judged_at": judged_at,
            "years_short": int((had < judged_at - 0.5).sum()),  # chill is told in whole units
        }
    for name, unit in (("winter mean", "degC"), ("coldest", "degC"), ("summer mean", "degC"), ("hottest spell", "d")):
        if name in years.figures:
            out[f"{name.replace(' ', '_')}_{unit}"] = round(float(np.mean(years.figures[name][good])), 1)
    if "winter mean" in years.figures:
        out["winter_mean_wanted_degC"] = [p.winter_mean_best, p.winter_mean_most]
    return out


def _hazards_told(years: PerennialYears, fate: _Fate) -> dict[str, object]:
    """What each hazard takes of a full crop in the mean of the years, and in how many it takes more than half."""
    good = np.isfinite(years.crop)
    takes = {h: round(1.0 - float(share[good].mean()), 2) for h, share in years.shares.items()}
    out: dict[str, object] = {}
    if told := {h: loss for h, loss in takes.items() if loss > _LOSS}:
        out["takes_of_a_full_crop"] = dict(sorted(told.items(), key=lambda p: -p[1]))
    for hazard, share in years.shares.items():
        if bad := int((share[good] < 0.5).sum()):
            out[f"years_of_{hazard.replace(' ', '_')}"] = bad
    return out


def _picked(years: PerennialYears, cropped: np.ndarray) -> str | None:
    """First and last picking in the middle of the years that crop, as dates without a year."""
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
        good = _cropped(years)
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
                outside=() if fits else _outside(verdict),
                reliability=None,
                picking=picking,
                unknown=() if verdict.suitability else ("a record of at least 3 whole years",),
            )
        )
    return CropSeasons(
        crop.name,
        crop.family,
        tuple(starts),
        crop.cautions,
        (crop.note,) if crop.note else (),
        limiting_factor=verdict.limiting_factor,
    )


def _cropped(years: PerennialYears) -> np.ndarray:
    """Decided years in which the plants live and crop."""
    return np.isfinite(years.crop) & (years.alive >= _ALIVE) & (years.crop >= _CROPS)


def _outside(verdict: CropVerdict) -> tuple[Outside, ...]:
    """What stops the crop all year where it does not fit; elsewhere its planting months are custom, not hazard."""
    share = 1.0 - (verdict.reliability or 0.0)
    if not verdict.limiting_factor or share <= 0.0:
        return ()
    return (Outside(0, 364, verdict.limiting_factor, share),)


def _picking_by_day(site: SiteDays, years: PerennialYears, good: np.ndarray) -> np.ndarray:
    marks = np.zeros((max(int(good.sum()), 1), 365), dtype=bool)
    for row, (a, b) in enumerate(zip(years.first[good].astype(int), years.last[good].astype(int), strict=True)):
        days = np.arange(max(a, 0), min(b, site.size - 1) + 1)
        marks[row, site.day_of_year[days]] = True
    return marks.mean(axis=0) if good.any() else np.zeros(365)
