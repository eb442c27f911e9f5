"""Will this perennial live here, will it crop, and how sure is that?

Survival over some years is the share of runs of so many consecutive years in the record that are survived: bad
years come in company, so a yearly share is never raised to a power. Lost fruit, lost leaves and dead plants are three
things, and only death ends a run. Where the limit that decides is recalled and not read, the answer is a worded range
instead of a percentage. Chill is judged for the least demanding sort; where its need is known only between two ends,
both are asked, and where they disagree nothing is said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sowcal.crops.handbook import Handbook, sorts_by_chill
from sowcal.crops.tables import Crop, table_descriptions
from sowcal.languages import phrase
from sowcal.seasons.perennial_years import PerennialYears, at_chill_end, perennial_years
from sowcal.seasons.site_days import SiteDays
from sowcal.seasons.sums import HALF_LIVE, RUN, chill_ends, chill_needed, chill_row, survival_of_runs
from sowcal.suitability.advice import planting_span
from sowcal.suitability.results import CropSeasons, CropVerdict, Outside, WayResult, Window
from sowcal.suitability.windows import share_interval

__all__ = ["PERENNIAL_WORDS", "judge_perennial", "perennial_line", "perennial_word", "rate_perennial", "worded_share"]

PERENNIAL_WORDS = {
    "S1": "thrives",
    "S2": "crops with a check",
    "brief": "crops, lives briefly",
    "poor": "lives, crops poorly",
    "winter": "grown as a winter annual",
    "N": "not here",
    None: "cannot say",
}
_CHILL_NEED = phrase("how much winter chill it needs: {least:g} to {most:g} {model}")
_CROPS = 0.4  # share of a crop that counts as cropped: common practice
_LIVES, _HALF = 0.7, 0.5
# share of a full crop from which a year is full, and mean below which it is not here: the yields of S1 and N in FAO
# 1983, Soils Bulletin 52 (from memory); its 40 per cent between S2 and S3 is what a year counts as cropped from
_THRIVES, _ANY = 0.8, 0.2
_SOME = 0.3  # share of years that crop, without which what lives briefly is not here: common practice
_FIGURES = {"winter mean": "degC", "coldest": "degC", "summer mean": "degC", "heat sum": "degC_d", "hottest spell": "d"}
_LOSS = 0.02  # share of a full crop from which a loss is spoken of
_KILLS = ("winter kill", "summer kill")
_FITS = ("S1", "S2")
_RANK = {"S1": 0, "S2": 1, "brief": 2, "poor": 3, "winter": 3, "N": 4}  # as the words stand in GRADES
ENOUGH = 10  # years from which odds stand without their interval beside them
LEAST_YEARS = 3


@dataclass(frozen=True)
class _Fate:
    """What comes of a perennial over the decided years of a record."""

    lives: float  # share of runs of years that are survived; of single years where the record holds no run
    runs: int  # how many runs that is
    lived: np.ndarray  # years in which half the plants or more live on
    cropped: np.ndarray  # those of them that bring a crop, the years left out in which what was planted anew grows up
    full: np.ndarray  # those of them that bring a full crop, as the strip of years has it
    mean_crop: float
    grown: np.ndarray  # years in which what was planted anew has grown up
    crops: int  # years that bring a crop
    full_crops: int  # years that bring a full one

    @classmethod
    def of(cls, years: PerennialYears, crop_type: Crop, without: str | None = None) -> _Fate:
        """The fate, or what it would be without one of the hazards."""
        good = np.isfinite(years.crop)
        alive = np.ones(good.size)
        for hazard in _KILLS:
            if hazard != without:
                alive = alive * years.shares.get(hazard, 1.0)
        lived = good & (alive >= HALF_LIVE)
        grown = np.ones(good.size, dtype=bool)
        p = crop_type.perennial
        assert p is not None
        for dead in np.flatnonzero(good & ~lived):  # planted anew the winter after, it crops some years later
            grown[dead + 1 : dead + int(np.ceil(p.years_to_crop))] = False
        lives, runs = survival_of_runs(np.where(good, alive, np.nan))
        lives = lives if runs else float(lived[good].mean()) if good.any() else float("nan")
        return cls._cropping(years, (without,), (lives, runs if good.size >= RUN else 0), lived, grown)[0]

    @classmethod
    def _cropping(
        cls,
        years: PerennialYears,
        without: Sequence[str | None],
        lives: tuple[float, int],
        lived: np.ndarray,
        grown: np.ndarray,
    ) -> list[_Fate]:
        """What crops without each of some hazards, all of them at once: arrays of shape (hazards left out, years)."""
        good, hazards = np.isfinite(years.crop), list(years.shares)
        shares = np.array([np.ones(lived.size), *years.shares.values()])
        left = np.repeat(shares[None], len(without), axis=0)
        for place, hazard in enumerate(without):
            if hazard is not None:
                left[place, 1 + hazards.index(hazard)] = 1.0
        crop = np.multiply.reduce(left, axis=1)
        cropped = lived & grown & (crop >= _CROPS)  # what dies in a year is no crop of that year
        full = cropped & (crop >= _THRIVES)
        mean_crop = crop.compress(good, axis=1).mean(axis=1) if good.any() else np.full(len(without), np.nan)
        rows = cropped, full, mean_crop.tolist(), cropped.sum(axis=1).tolist(), full.sum(axis=1).tolist()
        return [cls(*lives, lived, c, f, mean, grown, *counts) for c, f, mean, *counts in zip(*rows, strict=True)]

    def without(self, years: PerennialYears, crop_type: Crop, hazards: Sequence[str]) -> dict[str, _Fate]:
        """What it would be without each of some hazards, most of which decide nothing about living."""
        deadly = {h: _Fate.of(years, crop_type, h) for h in hazards if h in _KILLS}
        others = [h for h in hazards if h not in _KILLS]
        found = self._cropping(years, others, (self.lives, self.runs), self.lived, self.grown) if others else ()
        return {**deadly, **dict(zip(others, found, strict=True))}


def _grade(
    fate: _Fate, years: PerennialYears, winter_carries: bool, crop: Crop, asked: float, without: str | None = None
) -> str:
    """The best class asks for full crops in the years that are asked for, and in as many of them for all the chill."""
    p, good = crop.perennial, np.isfinite(years.crop)
    assert p is not None
    decided = good.sum()
    crops, full = fate.crops / decided, fate.full_crops / decided
    enough = asked - 1e-9  # a share of years and what is asked may differ in their last bit
    if fate.lives >= _LIVES and crops >= enough:
        short = 0 if without == "chill unmet" else _years_short(crop, years)
        return "S1" if full >= enough and 1.0 - short / decided >= enough else "S2"
    if fate.lives >= _LIVES and fate.mean_crop >= _ANY:
        return "poor"
    if fate.lives < _LIVES and crops >= _SOME:
        return "brief"
    if p.winter_annual == "yes" and winter_carries:
        return "winter"
    return "N"


def _years_short(crop: Crop, years: PerennialYears) -> int:
    """Years with less chill than it is judged at; chill is told in whole units."""
    if "chill" not in years.figures:
        return 0
    return int((years.figures["chill"][np.isfinite(years.crop)] < chill_needed(crop) - 0.5).sum())


def _limiting(years: PerennialYears, fate: _Fate, grade: str, crop: Crop, asked: float) -> str | None:
    """The hazard without which the verdict would be the best, then the years that crop the most, then the crop.

    Of what crops as often as asked the crop comes before the years. A crop that thrives and loses no year's crop to a
    hazard is limited by none; a winter annual is one because summers kill it.
    """
    if grade == "winter":
        return "summer kill"
    lost = _lost(years)
    worth, losses = {}, dict.fromkeys(years.shares, 0.0)
    counting = [hazard for hazard, (_, _, nothing) in lost.items() if hazard == "chill unmet" or not nothing]
    for hazard, other in fate.without(years, crop, counting).items():
        lifted = _RANK[grade] - _RANK[_grade(other, years, False, crop, asked, hazard)]
        more = other.crops - fate.crops
        losses[hazard], bad, _ = lost[hazard]
        if grade == "S1" and more == 0 and not bad:
            continue
        if (loss := losses[hazard]) > _LOSS or lifted > 0 or more > 0:
            worth[hazard] = (max(lifted, 0), loss, more) if grade in _FITS else (max(lifted, 0), more, loss)
    if not worth and fate.crops < np.isfinite(years.crop).sum():  # no one hazard alone takes the years that fail
        return max(losses, key=lambda h: losses[h])
    # of hazards that are worth the same the first that befalls
    return max((h for h in years.shares if h in worth), key=lambda h: worth[h], default=None)


def _lost(years: PerennialYears) -> dict[str, tuple[float, int, bool]]:
    """Of each hazard: share of a full crop that it takes in the mean of the years, in how many more than half, and
    whether it takes nothing."""
    if not years.shares:
        return {}
    share = np.array(list(years.shares.values())).compress(np.isfinite(years.crop), axis=1)
    mean, bad, nothing = 1.0 - share.mean(axis=1), (share < 0.5).sum(axis=1), (share == 1.0).all(axis=1)
    return dict(zip(years.shares, zip(mean.tolist(), bad.tolist(), nothing.tolist(), strict=True), strict=True))


def _deciding(book: Handbook, crop: Crop, limit: tuple[str, str] | None) -> dict[str, Any]:
    """The number that decides, with its own source and basis; nothing where none does."""
    if limit is None:
        return {}
    table_name, column = limit
    table = table_descriptions()[table_name]
    rows = [r for r in book.rows(table_name, crop.name) if r.get("used", "yes") == "yes"]
    source = book.source_of(rows[0], table, column) if rows else None
    if source is None:
        return {}
    about = table.columns[column]
    return {
        "deciding_limit_rests_on": source.basis,
        "deciding_limit": {
            "quantity": about.description,
            "value": float(rows[0][column]),
            "unit": rows[0]["model"] if table_name == "chill" else about.unit,
            "source": source.citation,
        },
    }


def worded_share(share: float) -> str:
    """A share in words, for limits that are only recalled."""
    for least, words in ((0.9, "nearly always"), (0.7, "mostly"), (0.4, "about as often as not"), (0.1, "seldom")):
        if share >= least:
            return words
    return "hardly ever"


def judge_perennial(site: SiteDays, crop: Crop, book: Handbook) -> tuple[PerennialYears, CropVerdict]:
    """A perennial through the years of a site, and what is said of it at both ends of what is known of its chill.

    Parameters
    ----------
    site : SiteDays
    crop : Crop
        With a row in table perennials.
    book : Handbook
        For sources, and for sorts of the same kind.
    """
    years, asked, need = perennial_years(site, crop), site.settings.reliability, chill_row(crop)
    verdict = rate_perennial(crop, years, book, asked)
    grades = () if verdict.suitability is None else _parted(crop, years, asked)
    if not grades or need is None:
        return years, verdict
    span = chill_ends(need)
    told = ("years_decided", "chill_here", "chill_needed", "chill_model", "chill_source")
    return years, replace(
        _nothing_said(crop, {key: verdict.evidence[key] for key in told}),
        evidence={
            "unknown": [phrase(_CHILL_NEED, least=span[0], most=span[1], model=phrase(need.model))],
            **{key: verdict.evidence[key] for key in told},
            "if_its_limits_are_kinder": PERENNIAL_WORDS[grades[0]],
            "if_they_are_harsher": PERENNIAL_WORDS[grades[1]],
        },
        sorts_that_fit=verdict.sorts_that_fit,
        sorts_that_do_not=verdict.sorts_that_do_not,
    )


def _parted(crop: Crop, years: PerennialYears, asked: float) -> tuple[str, ...]:
    """Grades at the kind and the harsh end of its chill, where it fits at one of them only; none elsewhere."""
    if chill_row(crop) is None or crop.chill_end != 0.5:
        return ()
    ends = [replace(crop, chill_end=end) for end in (0.0, 1.0)]
    grades = tuple(_grade_of(at_chill_end(years, end), end, asked)[1] for end in ends)
    return grades if (grades[0] in _FITS) != (grades[1] in _FITS) else ()


def perennial_word(site: SiteDays, crop: Crop) -> str:
    """The word of `judge_perennial` without what is told with it, for what is tried and not told."""
    years, asked = perennial_years(site, crop), site.settings.reliability
    unsaid = np.isfinite(years.crop).sum() < LEAST_YEARS or _parted(crop, years, asked)
    return PERENNIAL_WORDS[None if unsaid else _grade_of(years, crop, asked)[1]]


def _nothing_said(crop: Crop, evidence: dict[str, object]) -> CropVerdict:
    return CropVerdict(crop.name, None, PERENNIAL_WORDS[None], None, None, evidence, cautions=crop.cautions)


def _grade_of(years: PerennialYears, crop: Crop, asked: float) -> tuple[_Fate, str]:
    fate, p = _Fate.of(years, crop), crop.perennial
    assert p is not None
    carries = p.winter_annual == "yes" and _winter_carries(years)
    return fate, _grade(fate, years, carries, crop, asked)


def rate_perennial(crop: Crop, years: PerennialYears, book: Handbook, asked: float = 0.8) -> CropVerdict:
    """Verdict on one perennial from each year of the record; `asked` is the share of years that should crop."""
    decided = int(np.isfinite(years.crop).sum())
    if decided < LEAST_YEARS:
        return _nothing_said(crop, {"unknown": ["a record of at least 3 whole years"], "years_decided": decided})
    fate, grade = _grade_of(years, crop, asked)
    hazard = _limiting(years, fate, grade, crop, asked)
    deciding = _deciding(book, crop, years.limits.get(hazard or ""))
    as_annual = _as_winter_annual(years) if grade == "winter" else {}
    reliability = float(fate.crops / decided)
    reliability = as_annual["as_a_winter_annual"]["years"] / decided if as_annual else reliability
    worded = deciding.get("deciding_limit_rests_on") == "memory"
    fit, unfit = _sorts(crop, years, book)
    picked, heat_killed = _picked(years, fate.cropped), _killed(years, fate, "summer kill")
    return CropVerdict(
        crop=crop.name,
        suitability={"brief": "S3", "poor": "S3", "winter": "S3"}.get(grade, grade),
        word=PERENNIAL_WORDS[grade],
        reliability=reliability,
        limiting_factor=hazard,
        evidence={
            **_years_told(fate, decided, reliability, picked, worded=worded),
            **as_annual,
            **_winters_told(crop, years, book),
            **_hazards_told(years, hazard),
            **deciding,
        },
        cautions=crop.cautions,
        answer=_answer(years, fate, decided, picked, heat_killed),
        sorts_that_fit=fit,
        sorts_that_do_not=unfit,
        strip=_strip(years, fate, heat_killed),
    )


def _killed(years: PerennialYears, fate: _Fate, hazard: str) -> np.ndarray:
    """Decided years, as a mask, in which the plants die and this hazard leaves the fewest of them."""
    shares = {h: years.shares[h] for h in _KILLS if h in years.shares}
    if hazard not in shares:
        return np.zeros(years.crop.size, dtype=bool)
    worst = np.minimum.reduce(list(shares.values()))
    first = np.argmax([share <= worst for share in shares.values()], axis=0)
    return np.isfinite(years.crop) & ~fate.lived & (first == list(shares).index(hazard))


def _answer(
    years: PerennialYears, fate: _Fate, decided: int, picked: str | None, heat_killed: np.ndarray
) -> dict[str, Any]:
    """Will it live, will it crop, in the form that programs read; litres are told by who knows the water."""
    first, _, last = (picked or "").partition(" to ")
    return {
        "lives": {
            "share_of_years": float(fate.lived.sum() / decided),
            "summers_killed": years.years[heat_killed].tolist(),
            "winters_killed": years.years[_killed(years, fate, "winter kill")].tolist(),
        },
        "crops": {"share_of_years": float(fate.crops / decided), "from": first or None, "to": last or None},
        "litres_per_m2": None,
    }


def _strip(years: PerennialYears, fate: _Fate, heat_killed: np.ndarray) -> tuple[tuple[int, str], ...]:
    """Each decided year and what became of it, as the picture has it."""
    became = np.where(fate.cropped, "part of a crop", np.where(fate.lived, "no crop", "killed by winter"))
    became = np.where(fate.full, "full crop", became)
    became = np.where(heat_killed, "killed by summer", became)
    decided = np.isfinite(years.crop)
    return tuple(zip(years.years[decided].tolist(), became[decided].tolist(), strict=True))


def _sorts(crop: Crop, years: PerennialYears, book: Handbook) -> tuple[tuple[dict[str, Any], ...], ...]:
    """Sorts of the kind whose chill nine years in ten meet (safe winter chill), and those whose not."""
    need = chill_row(crop)
    if need is None or need.model != "portions" or "chill" not in years.figures:
        return (), ()
    return sorts_by_chill(book, crop, np.percentile(years.figures["chill"][np.isfinite(years.crop)], 10))


def _winter_carries(years: PerennialYears) -> bool:
    """Whether summers kill it more than winters do, and winters are cool enough for it to grow in."""
    summer = years.shares.get("summer kill")
    kills = summer is not None and float(np.nanmean(summer)) < min(
        _LIVES, float(np.nanmean(years.shares["winter kill"]))
    )
    # a winter as hot as the summers that stop it carries no winter crop either
    return kills and float(years.winter_growth.mean()) >= _HALF


def _as_winter_annual(years: PerennialYears) -> dict[str, Any]:
    """Years whose winter leaves it half its growth or more, and does not kill it."""
    good = np.isfinite(years.crop)
    growth = np.broadcast_to(years.winter_growth, good.shape)
    carries = good & (growth >= _HALF) & (years.shares["winter kill"] >= HALF_LIVE)
    return {"as_a_winter_annual": {"years": int(carries.sum()), "growth_left": round(float(growth[good].mean()), 2)}}


def _years_told(
    fate: _Fate, decided: int, reliability: float, picked: str | None, *, worded: bool
) -> dict[str, object]:
    """Years lived and cropped, and what that makes of the crop."""
    out: dict[str, object] = {
        "years_decided": decided,
        "years_lived": int(fate.lived.sum()),
        "years_cropped": fate.crops,
        **(
            {f"runs_of_{RUN}_years_survived": worded_share(fate.lives) if worded else round(fate.lives, 2)}
            if fate.runs
            else {}
        ),
        "share_of_a_full_crop": round(fate.mean_crop, 2),
    }
    if decided < ENOUGH:
        out["interval_of_few_years"] = share_interval(reliability * decided, decided)
    if picked is not None:
        out["picked_in_the_middle_year"] = picked
    return out


def _winters_told(crop: Crop, years: PerennialYears, book: Handbook) -> dict[str, object]:
    """Chill and the mean of the winter against what was held against them, and the other figures of the years."""
    out: dict[str, object] = {}
    good, need, p = np.isfinite(years.crop), chill_row(crop), crop.perennial
    assert p is not None
    if "chill" in years.figures and need is not None:
        had = years.figures["chill"][good]
        row = next(r for r in book.rows("chill", crop.name) if r["used"] == "yes")
        source = book.source_of(row, table_descriptions()["chill"], "judged_low")
        out["chill_here"] = [round(float(q)) for q in np.percentile(had, [10, 50, 90])]
        out["chill_needed"] = list(chill_ends(need))
        out["chill_model"] = need.model
        out["chill_source"] = source.citation if source else ""
        out["years_short_of_chill"] = _years_short(crop, years)
    for name, unit in _FIGURES.items():
        if name in years.figures:
            out[f"{name.replace(' ', '_')}_{unit}"] = round(float(np.mean(years.figures[name][good])), 1)
    if "winter mean" in years.figures:
        out["winter_mean_wanted_degC"] = [p.winter_mean_best, p.winter_mean_most]
    return out


def _hazards_told(years: PerennialYears, limit: str | None) -> dict[str, object]:
    """What each hazard takes of a full crop in the mean of the years, and in how many it takes more than half."""
    lost = _lost(years)
    takes = {hazard: round(mean, 2) for hazard, (mean, _, _) in lost.items()}
    if limit in takes:  # what limits takes something, be it little
        takes[limit] = max(takes[limit], 0.01)
    told = sorted(((h, loss) for h, loss in takes.items() if loss > _LOSS or h == limit), key=lambda p: -p[1])
    bad = {f"years_of_{hazard.replace(' ', '_')}": bad for hazard, (_, bad, _) in lost.items() if bad}
    return {**({"takes_of_a_full_crop": dict(told)} if told else {}), **bad}


def _picked(years: PerennialYears, cropped: np.ndarray) -> str | None:
    """First and last picking in the middle of the years that crop, as dates without a year."""
    if not cropped.any():
        return None
    if np.median(years.last[cropped] - years.first[cropped]) >= 364:
        return "01-01 to 12-31"  # picking never ends
    # on the calendar, not on the axis of the record; a hair more, for the mean of one same day comes out short of it
    dates = years.first_date + np.array([years.first[cropped], years.last[cropped]]).astype(int)
    of_year = (dates - dates.astype("datetime64[Y]").astype("datetime64[D]")).astype(int)
    turn = 2 * np.pi * of_year / 365.25
    mean = np.arctan2(np.sin(turn).mean(axis=1), np.cos(turn).mean(axis=1)) % (2 * np.pi) * 365.25 / (2 * np.pi)
    first, last = (np.datetime64("2023-01-01") + (mean + 1e-6).astype(int)).astype(str).tolist()
    return f"{first[5:]} to {last[5:]}"


def perennial_line(site: SiteDays, crop: Crop, verdict: CropVerdict, years: PerennialYears) -> CropSeasons:
    """A perennial's line of the chart: when its stock is planted and when it is picked."""
    starts = []
    tender = crop.perennial is not None and crop.perennial.killing_dormant > -10.0
    reliability = verdict.reliability or 0.0
    # where it works in fewer than half of the years no planting is called possible
    fits = verdict.suitability in ("S1", "S2", "S3") and reliability >= _HALF
    good = _Fate.of(years, crop).cropped
    decided = int(np.isfinite(years.crop).sum())
    told = good & (years.first >= 0) & (years.first < site.size)
    day = site.day_of_year[np.where(told, years.first, 0).astype(int)]
    rows = (column[np.isfinite(years.crop)].tolist() for column in (years.years, day, told))
    by_year = tuple((year, d if cropped else None) for year, d, cropped in zip(*rows, strict=True))
    for way in crop.ways:
        start, end = planting_span(way.stock, tender, site.latitude)
        picking = _picking_by_day(site, years, good)
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
                windows=windows if verdict.suitability in _FITS else (),
                possible=windows,
                outside=() if fits else _outside(verdict),
                reliability=None,
                picking=picking,
                unknown=() if verdict.suitability else _unknown(verdict),
            )
        )
    notes = (crop.note,) if crop.note else ()
    return CropSeasons(
        crop.name, crop.family, tuple(starts), crop.cautions, notes, limiting_factor=verdict.limiting_factor
    )


def _unknown(verdict: CropVerdict) -> tuple[str, ...]:
    told = verdict.evidence.get("unknown", ())
    return tuple(told) if isinstance(told, (list, tuple)) else ()


def _outside(verdict: CropVerdict) -> tuple[Outside, ...]:
    """What stops the crop all year where it does not fit; elsewhere its planting months are custom, not hazard."""
    share = 1.0 - (verdict.reliability or 0.0)
    if not verdict.limiting_factor or share <= 0.0:
        return ()
    return (Outside(0, 364, verdict.limiting_factor, share),)


def _picking_by_day(site: SiteDays, years: PerennialYears, good: np.ndarray) -> np.ndarray:
    marks = np.zeros((max(int(good.sum()), 1), 365), dtype=bool)
    first = np.maximum(years.first[good].astype(int), 0)
    length = np.maximum(np.minimum(years.last[good].astype(int), site.size - 1) + 1 - first, 0)
    row = np.repeat(np.arange(length.size), length)
    begins = np.cumsum(length) - length  # place of each year's first day among the days of all
    marks[row, site.day_of_year[np.arange(row.size) + (first - begins)[row]]] = True
    return marks.mean(axis=0) if good.any() else np.zeros(365)
