"""Lines of the chart and verdicts of any crops, annual and perennial, at one site."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from itertools import combinations

import numpy as np

from sowcal.crops.handbook import Handbook
from sowcal.crops.records import Crop
from sowcal.errors import InputError
from sowcal.microclimate.what_ifs import WHAT_IFS
from sowcal.seasons.perennial_years import chill_by_model, chill_row, perennial_years, whole_years
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.by_day import Fold
from sowcal.suitability.chart import annual_line
from sowcal.suitability.perennials import perennial_line, rate_perennial
from sowcal.suitability.rating import GRADES, rate_annual
from sowcal.suitability.results import CropSeasons, CropVerdict
from sowcal.suitability.uncertainty import within_its_range
from sowcal.suitability.water_rule import WaterRule

__all__ = ["hangs_on_its_numbers", "judge_crops", "remedies"]


def judge_crops(
    site: SiteDays,
    crops: Iterable[Crop],
    book: Handbook,
    water: WaterRule | None = None,
    *,
    calendar: bool = True,
) -> list[tuple[CropSeasons, CropVerdict]]:
    """Line of the chart and verdict of each crop; `water` says what the water there is makes of annuals, and without
    `calendar` their days of picking and raising are left out."""
    fold = Fold.of(site)
    out = []
    for crop in crops:
        if crop.perennial is not None:
            years = perennial_years(site, crop)
            verdict = rate_perennial(crop, years, book)
            out.append((perennial_line(site, crop, verdict, years), verdict))
        else:
            line = annual_line(site, fold, crop, water, calendar=calendar)
            out.append((line, rate_annual(line)))
    return out


def _with_other_models(site: SiteDays, crop: Crop, verdict: CropVerdict) -> CropVerdict:
    """Beside the chill that is judged, what the other models make of the same winters, and why it is this one."""
    need = chill_row(crop)
    if crop.perennial is None or need is None or not need.need_high > 0:
        return verdict
    decided = np.isfinite(perennial_years(site, crop).crop)  # the same years as the verdict's own figure
    middle = {m: round(float(np.median(v[decided]))) for m, v in chill_by_model(site, whole_years(site)).items()}
    said = {
        "chill_by_each_model_in_the_middle_year": middle,
        "chill_judged_in": f"{need.model}: {need.why}" if need.why else need.model,
    }
    return replace(verdict, evidence={**verdict.evidence, **said})


def hangs_on_its_numbers(
    site: SiteDays, crop: Crop, verdict: CropVerdict, book: Handbook, water: WaterRule | None = None
) -> CropVerdict:
    """The verdict, and where it would differ, what it would be at the kind and the harsh end of the crop's numbers."""
    if verdict.suitability is None:
        return verdict
    verdict = _with_other_models(site, crop, verdict)
    words = []
    for kinder in (True, False):
        ((_, moved),) = judge_crops(site, [within_its_range(crop, kinder)], book, water, calendar=False)
        words.append(moved.word)
    if set(words) == {verdict.word}:
        return verdict
    ends = {"if_its_limits_are_kinder": words[0], "if_they_are_harsher": words[1]}
    return replace(verdict, evidence={**verdict.evidence, **ends})


def remedies(
    changed_site: Callable[[tuple[str, ...]], SiteDays],
    crop: Crop,
    verdict: CropVerdict,
    book: Handbook,
    water: Callable[[tuple[str, ...]], WaterRule | None] = lambda names: None,
) -> tuple[str, ...]:
    """The smallest change, or pair of changes, that lifts the verdict to a better word.

    Parameters
    ----------
    changed_site : callable
        From names of what-ifs to the site's days under them.
    crop : Crop
    verdict : CropVerdict
        As the site stands.
    book : Handbook
    water : callable, optional
        From names of what-ifs to what the water there is makes of annuals under them.

    Returns
    -------
    tuple of str
        Each single change that lifts it; else the pairs that do; else one sentence that none does.
    """
    now = GRADES[verdict.word]
    if now == 0 or verdict.suitability is None:
        return ()
    names = [w.name for w in WHAT_IFS.values() if w.lifts]
    untried = False
    for size in (1, 2):
        found = []
        for chosen in combinations(names, size):
            try:
                site, wet = changed_site(chosen), water(chosen)
            except InputError:  # the plot is under it already, or it would be too much in all
                untried = True
                continue
            ((_, changed),) = judge_crops(site, [crop], book, wet, calendar=False)
            if GRADES[changed.word] < now:
                says = " and ".join(WHAT_IFS[n].says.format(WHAT_IFS[n].usual) for n in chosen)
                found.append((GRADES[changed.word], f"{says}: {changed.word}"))
        if found:
            best = min(grade for grade, _ in found)
            return tuple(text for grade, text in found if grade == best)[:3]
    known = "changes that may be added" if untried else "known changes"
    return (f"none of the {known}, alone or in pairs",)
