"""Crops judged: line and verdict of each, how far a verdict hangs on the handbook's numbers, and what would lift it.

Printed and recalled limits of one crop differ by some 1.5 degC in the handbook's own table of alternatives; that is
how far limits are moved (common practice). Thermal times, cold and chill needs move to the ends of their ranges.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from copy import copy
from dataclasses import fields, replace
from functools import cache
from itertools import combinations
from typing import Any

import numpy as np

from sowcal.crops.handbook import Handbook
from sowcal.crops.tables import Crop, Way, known
from sowcal.errors import InputError
from sowcal.languages import phrase
from sowcal.microclimate import WHAT_IFS, change_words
from sowcal.progress import followed
from sowcal.seasons.perennial_years import chill_by_model, perennial_years, whole_years
from sowcal.seasons.season import Seasons, missing_values, seasons
from sowcal.seasons.site_days import SiteDays, share_chill_portions
from sowcal.seasons.sums import chill_ends, chill_row
from sowcal.settings import Settings
from sowcal.suitability.advice import best_fortnights
from sowcal.suitability.annuals import GRADES, WaterRule, annual_line, leave, rate_annual, time_counts
from sowcal.suitability.perennials import PERENNIAL_WORDS, judge_perennial, perennial_line, perennial_word
from sowcal.suitability.results import (
    CropSeasons,
    CropVerdict,
    OffsetRange,
    SettingsSteps,
    WayResult,
    WaySteps,
    Window,
)
from sowcal.suitability.windows import (
    LEAST_YEARS,
    Fold,
    by_day,
    possible_mask,
    recommended_mask,
    runs,
    seasons_of_year,
    start_seasons,
)

__all__ = [
    "hangs_on_its_numbers",
    "helps_for",
    "judge_crops",
    "lines_with_range",
    "perennials_lifted",
    "remedies",
    "steps_of_settings",
    "verdict_with_range",
    "within_its_range",
]

_STEP = 1.5  # degC
_MOST_KEPT = 36  # sums of a value a day, shared by crops: with more of them a chart is hardly faster

# sign of the change that makes a limit kinder
_KINDER = {
    "cold": {"killing_young": -1, "killing_grown": -1, "killing_picked_part": -1, "killing_flower": -1},
    "heat": {"young_limit": 1, "young_check": 1, "filling_limit": 1, "night_limit": 1},
    "growth": {"range_minimum": -1, "range_maximum": 1},
    "flowering": {"day_full_below": 1, "day_none_above": 1, "night_none_below": -1, "night_none_above": 1},
    "perennial": {
        "killing_dormant": -1,
        "killing_growing": -1,
        "killing_top": -1,
        "killing_fruit": -1,
        "winter_mean_most": 1,
        "summer_mean_most": 1,
        "heat_kills": 1,
        "summer_mean_least": -1,
    },
}


def _moved(record: Any, signs: dict[str, int], kinder: bool) -> Any:
    side = _STEP if kinder else -_STEP
    names = {f.name for f in fields(record)}
    return replace(record, **{n: getattr(record, n) + side * s for n, s in signs.items() if n in names})


def within_its_range(crop: Crop, kinder: bool) -> Crop:
    """The crop as the kinder or the harsher end of what is known of it has it."""
    changed = {
        part: _moved(getattr(crop, part), signs, kinder)
        for part, signs in _KINDER.items()
        if getattr(crop, part) is not None
    }
    ways = []
    for way in crop.ways:
        end = way.thermal_time_low if kinder else way.thermal_time_high
        ways.append(replace(way, thermal_time_low=end, thermal_time_high=end))
    return replace(crop, ways=tuple(ways), chill_end=0.0 if kinder else 1.0, **changed)


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
    asked = list(crops)
    out: dict[int, tuple[CropSeasons, CropVerdict]] = {}
    order = sorted(range(len(asked)), key=lambda place: _sums_asked(asked[place]))
    for place in followed(order, "judging", "crop") if calendar else order:
        crop = asked[place]
        if crop.perennial is not None:
            years, verdict = judge_perennial(site, crop, book)
            out[place] = perennial_line(site, crop, verdict, years), verdict
        else:
            line = annual_line(site, fold, crop, water, calendar=calendar)
            out[place] = line, rate_annual(line)
        site.let_go(_MOST_KEPT * site.tasmin.nbytes)
    return [out[place] for place in range(len(asked))]


def _sums_asked(crop: Crop) -> tuple[bool, list[float]]:
    """By which crops that ask for the same sums over days come one after another, so that few need be kept."""
    of = crop.growth if crop.perennial is None else crop.perennial
    depth = max((way.depth for way in crop.ways if known(way.depth)), default=np.nan)
    limits = (of.base_temperature, of.upper_threshold, depth, crop.growth.light_need)
    return crop.perennial is not None, [x if known(x) else -np.inf for x in limits]


def steps_of_settings(
    site: SiteDays,
    crops: Iterable[Crop],
    reliabilities: Sequence[float],
    least_yields: Sequence[float],
    waters: Sequence[Sequence[WaterRule | None]],
) -> tuple[SettingsSteps, ...]:
    """Windows of annuals under every pair of a reliability and a least yield, by the very rules of the chart.

    The seasons are lived through once; only what is asked of them changes from step to step, and what is not told of a
    step is not made: windows are days here, without the odds and pickings of each.

    Parameters
    ----------
    site : SiteDays
        All other settings are those that it has.
    crops : iterable of Crop
        Perennials among them are left out: no odds by start day are asked of them.
    reliabilities, least_yields : sequence of float
        Shares, 0 to 1.
    waters : sequence of sequence of WaterRule or None
        One result is made for each; of each one rule for each least yield, on which it hangs too, as for `way_result`.
    """
    plain = replace(site.settings, edge_draws=0)
    asked = [[replace(plain, least_yield=y, reliability=r) for r in reliabilities] for y in least_yields]
    fold, out = Fold.of(site), [[] for _ in waters]  # type: tuple[Fold, list[list[WaySteps]]]
    for crop in followed([c for c in crops if c.perennial is None], "trying other settings", "crop"):
        for way in (w for w in crop.ways if not missing_values(crop, w)):
            for ways, found in zip(out, _steps_of_way(site, fold, crop, way, asked, waters), strict=True):
                ways += [found] if found else []
    return tuple(SettingsSteps(tuple(reliabilities), tuple(least_yields), tuple(ways)) for ways in out)


_Row = tuple[np.ndarray, tuple[tuple[int, int], ...], tuple[Any, ...], tuple[Any, ...]]


def _steps_of_way(
    site: SiteDays,
    fold: Fold,
    crop: Crop,
    way: Way,
    asked: list[list[Settings]],
    waters: Sequence[Sequence[WaterRule | None]],
) -> list[WaySteps | None]:
    """One way under settings in rows of one least yield each, for each of the waters; None where too few years are
    decided. Waters that leave the same seasons and start days share what is made of them."""
    watered = seasons(site, crop, way)

    @cache
    def left(rule: WaterRule | None) -> tuple[Seasons, np.ndarray | None]:
        if rule is None:
            return watered, None
        return rule.changed(crop, way, watered), rule.allowed(rule.litres(crop, way))

    made: dict[Any, _Row | None] = {}
    out = []
    for water in waters:
        rows = []
        for place, (row, rule) in enumerate(zip(asked, water, strict=True)):
            outcome, allowed = left(rule)
            key = (place, outcome.yield_fraction.tobytes(), None if allowed is None else allowed.tobytes())
            if key not in made:
                made[key] = _steps_of_row(site, fold, crop, outcome, row, allowed)
            rows.append(made[key])
        whole = [row for row in rows if row is not None]
        told = len(whole) == len(rows)
        out.append(WaySteps(crop.name, way.way, *map(tuple, zip(*whole, strict=True))) if told else None)
    return out


def _steps_of_row(
    site: SiteDays, fold: Fold, crop: Crop, outcome: Seasons, row: list[Settings], allowed: np.ndarray | None
) -> _Row | None:
    """Odds, possible spans, and under each setting advised spans and best fortnights, as `told_windows` has them."""
    under = copy(site)  # shares all sums already made, which hang on neither setting
    under.settings = row[0]
    found = by_day(under, fold, outcome, reasons=False)
    if found.decided.max(initial=0) < LEAST_YEARS:
        return None
    mask = possible_mask(found)  # on which the reliability asked for has no bearing
    parted = seasons_of_year(mask, found.mean_yield)
    made: dict[bytes, tuple[Any, Any]] = {}
    told = []
    for settings in row:
        # it is asked of nothing else: where the same days reach it, the same days are advised
        reach = (found.reliability >= settings.reliability).tobytes()
        if reach not in made:
            parts = start_seasons(found, settings, time_counts(crop), mask, leave(crop), parted)
            advised = recommended_mask(found, settings, allowed, mask, parts)
            made[reach] = tuple(runs(advised)), best_fortnights(found, parts, advised, site.latitude)
        told.append(made[reach])
    windows, fortnights = zip(*told, strict=True)
    return found.reliability, tuple(runs(mask)), windows, fortnights


def _with_other_models(site: SiteDays, crop: Crop, verdict: CropVerdict) -> CropVerdict:
    """Beside the chill that is judged, what the other models make of the same winters, and why it is this one."""
    need = chill_row(crop)
    if crop.perennial is None or need is None or not chill_ends(need)[1] > 0:
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
    most: int = 2,
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
    most : int
        Changes at once that are tried.

    Returns
    -------
    tuple of str
        Each single change that lifts it; else the pairs that do; else one sentence that none does.
    """
    now = GRADES[verdict.word]
    if now == 0 or verdict.suitability is None:
        return ()
    names = _may_help(crop, verdict)
    untried = False
    for size in range(1, most + 1):
        found = []
        for chosen in combinations(names, size):
            try:
                site, wet = changed_site(chosen), water(chosen)
            except InputError:  # the plot is under it already, or it would be too much in all
                untried = True
                continue
            word = _word(site, crop, book, wet)
            if word is not None and GRADES[word] < now:
                says = _says(chosen, _if_weak(changed_site, crop, chosen, now))
                told = phrase("{what}: {word}", what=says, word=phrase(word))
                found.append((GRADES[word], told))
        if found:
            best = min(grade for grade, _ in found)
            return tuple(text for grade, text in found if grade == best)[:3]
    if not names:
        return (phrase("nothing that a grower can lay over it or do about it is known"),)
    known = phrase("changes that may be added") if untried else phrase("known changes")
    alone = phrase(", alone or in pairs") if most > 1 else phrase(" alone")
    return (phrase("none of the {known}{alone}", known=known, alone=alone),)


def _may_help(crop: Crop, verdict: CropVerdict) -> tuple[str, ...]:
    """Names of the what-ifs that could be tried against what a crop suffers from; none for one that needs no help."""
    if GRADES[verdict.word] == 0 or verdict.suitability is None:
        return ()
    takes = verdict.evidence.get("takes_of_a_full_crop")
    return helps_for(crop, {*(takes if isinstance(takes, dict) else ()), verdict.limiting_factor or ""})


def _word(site: SiteDays, crop: Crop, book: Handbook, water: WaterRule | None) -> str | None:
    """The word of a verdict that is tried and not told; None where nothing can be said."""
    if crop.perennial is not None:
        word = perennial_word(site, crop)
        return None if word == PERENNIAL_WORDS[None] else word
    ((_, verdict),) = judge_crops(site, [crop], book, water, calendar=False)
    return None if verdict.suitability is None else verdict.word


def _says(chosen: Sequence[str], if_weak: str) -> str:
    """Changes in words, with what is said of their weak end."""
    one, *others = (change_words(WHAT_IFS[n], WHAT_IFS[n].usual) for n in chosen)
    for other in others:
        one = phrase("{one} and {other}", one=one, other=other)
    return phrase("{what}{if_weak}", what=one, if_weak=if_weak) if if_weak else one


# What may help a perennial against each hazard, and what may be done with which: nobody fleeces an olive tree or shades
# it, no shade makes up for winter's chill, and a wall warms what stands against it. Common practice, no source.
_AGAINST = {
    "summer kill": ("shade-cloth", "afternoon-shade", "mulch", "irrigation"),
    "heat": ("shade-cloth", "afternoon-shade", "mulch", "irrigation"),
    "winter kill": ("fleece", "cold-frame", "tunnel", "warm-wall"),
    "frost": ("fleece", "cold-frame", "tunnel", "warm-wall"),
    "frost on blossom": ("fleece", "cold-frame", "tunnel", "warm-wall"),
    "too slow": ("cold-frame", "tunnel", "warm-wall"),
}
_TO_A_SHRUB = ("fleece", "tunnel", "warm-wall", "shade-cloth", "afternoon-shade", "mulch", "irrigation")
_TO = {
    "herb": (*_TO_A_SHRUB, "cold-frame"),
    "shrub": _TO_A_SHRUB,
    "vine": ("warm-wall", "shade-cloth"),
    "tree": ("warm-wall",),
}


def helps_for(crop: Crop, hazards: Iterable[str]) -> tuple[str, ...]:
    """Names of the what-ifs that a grower could try for a crop against some hazards.

    Of an annual all that a grower can do; of a perennial what helps against what it suffers from, and can be done with
    a plant of its habit.
    """
    names = tuple(w.name for w in WHAT_IFS.values() if w.lifts)
    if crop.perennial is None:
        return names
    against = {name for hazard in hazards for name in _AGAINST.get(hazard, ())}
    return tuple(n for n in names if n in against and n in _TO.get(crop.perennial.habit, ()))


def perennials_lifted(
    changed_site: Callable[[tuple[str, ...]], SiteDays],
    crops: Sequence[Crop],
    verdicts: Sequence[CropVerdict],
    book: Handbook,
) -> list[CropVerdict]:
    """Of many crops, what would lift each perennial: single changes only, for their years are quickly judged."""
    chilled = [
        name
        for crop, v in zip(crops, verdicts, strict=True)
        if crop.perennial and (need := chill_row(crop)) is not None and need.model == "portions"
        for name in _may_help(crop, v)
    ]
    under = []
    for name in dict.fromkeys(chilled):
        for change in (name, f"{name}@weak") if WHAT_IFS[name].weak else (name,):
            with suppress(InputError):  # the plot is under it already, or it would be too much in all
                under.append(changed_site((change,)))
    if under:
        share_chill_portions(under)
    return [
        replace(v, what_would_change_it=remedies(changed_site, crop, v, book, most=1)) if crop.perennial else v
        for crop, v in zip(crops, verdicts, strict=True)
    ]


def _if_weak(changed_site: Callable[[tuple[str, ...]], SiteDays], crop: Crop, chosen: tuple[str, ...], now: int) -> str:
    """That changes of a perennial's plot would not do at the weak end of what is known of them; '' where they would."""
    if crop.perennial is None:
        return ""
    weak = tuple(f"{name}@weak" if WHAT_IFS[name].weak else name for name in chosen)
    word = perennial_word(changed_site(weak), crop)
    if GRADES[word] < now:
        return ""
    if len(chosen) > 1:
        return phrase(" (not at the weak end of what is known of it)")
    spread = WHAT_IFS[chosen[0]].range_says
    return phrase(" (not at the weak end of what is known of it, {spread})", spread=spread)


_SAME_SEASON = 45  # days between the best starts of two windows that are one season of the year


def _apart(a: int, b: int) -> int:
    return abs((b - a + 182) % 365 - 182)


def _same_window(window: Window, others: Sequence[Window]) -> Window | None:
    """The window of another chart that stands for the same season of the year."""
    near = [w for w in others if _apart(window.best, w.best) <= _SAME_SEASON or _holds(w, window.best)]
    return min(near, key=lambda w: _apart(window.best, w.best), default=None)


def _holds(window: Window, day: int) -> bool:
    return (day - window.start) % 365 <= (window.end - window.start) % 365


def _at(way: WayResult, same: Window | None, day: int) -> float:
    """Reliability of one start day; that of its season where the way has none by day."""
    if way.reliability is not None:
        return float(way.reliability[day])
    return same.reliability if same else 0.0


def _with_range(window: Window, which: str, ends: tuple[WayResult, WayResult]) -> Window:
    same = [_same_window(window, getattr(way, which)) for way in ends]
    shares = [window.reliability, *(_at(way, s, window.best) for way, s in zip(ends, same, strict=True))]
    known = [s for s in shares if np.isfinite(s)]
    spans = [None if s is None else (s.start, s.end) for s in same]
    return replace(window, offset_range=OffsetRange((min(known), max(known)), spans[0], spans[1]))


def lines_with_range(
    lines: Sequence[CropSeasons], cold: Sequence[CropSeasons], warm: Sequence[CropSeasons]
) -> tuple[CropSeasons, ...]:
    """The lines of a chart, each window with what becomes of it at the cold and at the warm end.

    Parameters
    ----------
    lines, cold, warm : sequence of CropSeasons
        Of the same crops in the same order.
    """
    out = []
    for line, *others in zip(lines, cold, warm, strict=True):
        starts = []
        for way in line.starts:
            a, b = (next((s for s in o.starts if s.way == way.way), None) for o in others)
            if a is None or b is None:
                starts.append(way)
                continue
            both = (a, b)
            starts.append(
                replace(
                    way,
                    windows=tuple(_with_range(w, "windows", both) for w in way.windows),
                    possible=tuple(_with_range(w, "possible", both) for w in way.possible),
                )
            )
        out.append(replace(line, starts=tuple(starts)))
    return tuple(out)


def verdict_with_range(verdict: CropVerdict, cold: CropVerdict, warm: CropVerdict, line: CropSeasons) -> CropVerdict:
    """The verdict with what it would be at either end; the window that it rests on is taken from the line."""
    evidence = dict(verdict.evidence)
    window = evidence.get("window")
    ranged = [
        w
        for s in line.starts
        if s.way == evidence.get("way")
        for w in (*s.windows, *s.possible)
        if replace(w, offset_range=None) == window
    ]
    if ranged:
        evidence["window"] = ranged[0]
    evidence["if_the_plot_is_colder_within_the_error"] = cold.word
    evidence["if_it_is_warmer_within_the_error"] = warm.word
    shares = [v.reliability for v in (verdict, cold, warm) if v.reliability is not None]
    if shares and not ranged:
        evidence["share_of_years_within_the_error"] = (min(shares), max(shares))
    return replace(verdict, evidence=evidence)
