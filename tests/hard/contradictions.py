"""What a reader could find that contradicts itself in the lines and verdicts of one record.

Each check is a plain rule between two things that are told of the same crop: a class and its odds, a need and whether
it is said to be met, a number and the sentence that holds it, a day that is closed and the hazard that closes it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import numpy as np

from sowcal.outputs.evidence_words import evidence_sentences
from sowcal.outputs.verdict_document import is_perennial, limit_words
from sowcal.outputs.wording import THREE_WORDS, in_ten, reason, three_words
from sowcal.suitability.results import CropSeasons, CropVerdict, Outside, SowingChart, WayResult, Window
from sowcal.year import day_of_year, day_text

OF_PERENNIALS = ("chill unmet", "winter too mild", "winter kill", "frost on blossom", "summer kill", "wet spring")
ALL_HAZARDS = {
    "frost", "chilling", "heat", "warm nights", "cold soil", "hot soil", "too slow", "low light", "bolting",
    "day length", "want of water", *OF_PERENNIALS,
}  # fmt: skip
CLASS_OF = {
    "sound": "S1", "fair": "S2", "chancy": "S3", "thrives": "S1", "crops with a check": "S2",
    "crops, lives briefly": "S3", "lives, crops poorly": "S3", "grown as a winter annual": "S3", "not here": "N",
    "cannot say": None,
}  # fmt: skip
RANK = {"S1": 0, "S2": 1, "S3": 2, "N": 3}
SLACK = 1e-6
HALF = 0.005  # of a share that is told in whole per cent


def days_of(span: Window | Outside) -> np.ndarray:
    """Days of the year that a span holds."""
    return (span.start + np.arange((span.end - span.start) % 365 + 1)) % 365


def contradictions(chart: SowingChart, verdicts: list[CropVerdict]) -> Iterator[tuple[str, str]]:
    """Crop and name of the rule that is broken, for every line and verdict."""
    lines = {line.crop: line for line in chart.crops}
    for verdict in verdicts:
        line = lines[verdict.crop]
        for rules in (_verdict, _limit, _told, _annual, _perennial, _chill, _water, _line):
            yield from ((verdict.crop, broken) for broken in rules(chart, line, verdict))


def _verdict(chart: SowingChart, line: CropSeasons, v: CropVerdict) -> Iterator[str]:
    """Word, class, odds and dates."""
    asked = chart.reliability_asked
    windows = [w for s in line.starts for w in s.windows]
    if CLASS_OF[v.word] != v.suitability:
        yield "word and class"
    if (v.reliability is None) != (v.suitability is None):
        yield "odds without a class, or a class without odds"
    if v.suitability is None or v.reliability is None:
        if windows or v.limiting_factor:
            yield "dates or a limit where nothing can be said"
        if line.starts and reason(line) not in ("record too short", "handbook lacks figures"):
            yield "chart gives a reason where nothing can be said"
        return
    if v.suitability in ("S1", "S2") and not windows:
        yield "fits and has no dates"
    if v.suitability in ("S3", "N") and windows:
        yield "has dates and does not fit"
    if v.suitability == "S1" and v.reliability < asked - SLACK:
        yield "best class and fewer years than asked"
    if v.suitability == "N" and any(s.possible for s in line.starts):
        yield "not here and possible"
    if v.suitability == "N" and v.reliability >= (asked if is_perennial(v) else 0.5):
        yield "not here and works in many years"
    if v.word == "chancy" and v.reliability >= asked:
        yield "chancy and works as often as asked"
    if v.word == "lives, crops poorly" and v.reliability >= asked:
        yield "crops poorly and crops as often as asked"


def _limit(chart: SowingChart, line: CropSeasons, v: CropVerdict) -> Iterator[str]:
    """What limits it: a hazard of the list, the same everywhere, and only where something fails."""
    if v.limiting_factor != line.limiting_factor:
        yield "line and verdict name two limits"
    if v.suitability is None:
        return
    if v.limiting_factor is None:
        # that some sorts and hands fail in a good season is chance, and no hazard's
        sure = 1.0 if is_perennial(v) else 0.9
        if v.reliability < sure - SLACK or (is_perennial(v) and v.suitability != "S1"):
            yield "no limit and something fails"
        if not is_perennial(v) and any(s.outside for s in line.starts):
            yield "no limit and days that are closed"
        return
    if v.limiting_factor not in ALL_HAZARDS:
        yield "a limit that is no hazard"
    if v.limiting_factor not in THREE_WORDS or len(three_words(v.limiting_factor).split()) != 3:
        yield "a hazard without its three words"
    if not is_perennial(v) and v.limiting_factor in OF_PERENNIALS:
        yield "an annual with a hazard of perennials"
    if v.suitability in ("S3", "N") and reason(line) != limit_words(v):
        yield "chart and verdict give two reasons"


def _told(chart: SowingChart, line: CropSeasons, v: CropVerdict) -> Iterator[str]:
    """Sentences hold the numbers of the evidence, and numbers of one kind agree."""
    e, said = v.evidence, evidence_sentences(v)
    text = " / ".join(said)
    if len(set(said)) != len(said):
        yield "one sentence twice"
    if re.search(r"\bnan\b|\bNone\b|-\d+ (years|days)|10[1-9]%|1[1-9]\d%", text):
        yield "a number that is none"
    decided = e.get("years_decided")
    if isinstance(decided, int):
        if decided > chart.record.years + 1:
            yield "more years than the record has"
        for count in (int(c) for key, c in e.items() if key.startswith("years_") and isinstance(c, int)):
            if count > decided:
                yield "more years of something than years"
    if v.reliability is not None and isinstance(e.get("window"), Window):
        if abs(v.reliability - e["window"].reliability) > SLACK:
            yield "odds of the verdict and of its window"
        if f"Works in {v.reliability:.0%} of {decided} years" not in text:
            yield "odds and the sentence on them"
        if abs(e["years_that_succeed"] - v.reliability * decided) > 0.5 + SLACK:
            yield "years that succeed and odds"
    if v.reliability is not None and float(in_ten(v.reliability).split()[0]) / 10 > v.reliability + HALF:
        yield "years in ten above the share"


def _annual(chart: SowingChart, line: CropSeasons, v: CropVerdict) -> Iterator[str]:
    """Annuals: the reason of a verdict is that of its evidence, and takes no more than what fails."""
    e = v.evidence
    if is_perennial(v) or v.suitability is None:
        return
    if v.suitability in ("S1", "S2"):
        if "hazard" in e and (e["hazard"] != v.limiting_factor or e["share_of_years"] > 1.0 - v.reliability + SLACK):
            yield "limit and evidence name two hazards"
        return
    if e.get("hazard") != v.limiting_factor:
        yield "limit and evidence name two hazards"
        return
    share = float(e["share_of_years"])
    if "best_start" in e:
        if abs(float(e["best_start"]["works_in_share_of_years"]) - v.reliability) > SLACK:
            yield "odds of the verdict and of its best start"
        if share > 1.0 - v.reliability + SLACK:
            yield "a hazard takes more than what fails"
        if share <= 0.0:
            yield "a limit that takes nothing"
        day = day_text(day_of_year(e["best_start"]["date"]))
        if not any(day in s and f"{share:.0%}" in s for s in evidence_sentences(v)):
            yield "best start and the sentence on it"
    elif v.reliability > 0.0 and "with_water_enough" not in e:
        yield "works in some years and on no day"


def _perennial(chart: SowingChart, line: CropSeasons, v: CropVerdict) -> Iterator[str]:
    """Perennials: lives and crops, what fails in how many years, and the word for it."""
    e: dict[str, Any] = v.evidence
    if not is_perennial(v):
        return
    decided, lived, cropped = e["years_decided"], e["years_lived"], e["years_cropped"]
    if cropped > lived:
        yield "crops in more years than it lives"
    if v.word == "grown as a winter annual":
        if abs(v.reliability - e["as_a_winter_annual"]["years"] / decided) > SLACK or v.reliability < 0.5:
            yield "a winter annual without its winters"
        if v.limiting_factor != "summer kill" or "summer kill" not in e["takes_of_a_full_crop"]:
            yield "a winter annual that no summer kills"
        if not any("Kept as a perennial" in s for s in evidence_sentences(v)):
            yield "a winter annual told as a perennial"
    elif abs(v.reliability - cropped / decided) > SLACK:
        yield "odds and years cropped"
    yield from _lives(e, v)
    limit = v.limiting_factor or ""
    fails = int(e.get(f"years_of_{limit.replace(' ', '_')}", 0))
    taken = e.get("takes_of_a_full_crop", {})
    if v.suitability == "S1" and fails > decided / 2:
        yield "thrives and its limit fails in most years"
    if limit and not fails and limit not in taken:
        yield "a limit that takes nothing"
    if any(not 0 < share <= 1 for share in taken.values()):
        yield "a share that is none"
    if 1.0 - e["share_of_a_full_crop"] > sum(taken.values()) + 0.02 * 8:
        yield "more is lost than is taken"
    yield from _answer(e, v)
    if v.suitability == "N" and lived == decided and cropped == decided:
        yield "not here, lives and crops in every year"
    for name, least in (("hottest_spell_d", 0.0), ("winter_mean_degC", -90.0), ("summer_mean_degC", -90.0)):
        if name in e and e[name] < least:
            yield "a figure that is none"


def _answer(e: dict[str, Any], v: CropVerdict) -> Iterator[str]:
    """The short answer and the strip of years against the evidence."""
    lives, crops = v.answer["lives"], v.answer["crops"]
    dead = {*lives["summers_killed"], *lives["winters_killed"]}
    if len(dead) != e["years_decided"] - e["years_lived"] or len(dead) != sum(
        w.startswith("killed") for _, w in v.strip
    ):
        yield "years killed and years lived"
    if abs(crops["share_of_years"] * e["years_decided"] - e["years_cropped"]) > SLACK:
        yield "two shares of years that crop"
    if (
        len(v.strip) != e["years_decided"]
        or sum("crop" in w and w != "no crop" for _, w in v.strip) != e["years_cropped"]
    ):
        yield "the strip and the years"
    if (crops["from"] is None) != (e["years_cropped"] == 0):
        yield "dates of picking without a crop, or a crop without"


_WORDED = {"nearly always": (0.9, 1.0), "mostly": (0.7, 0.9), "about as often as not": (0.4, 0.7), "seldom": (0.1, 0.4)}


def _lives(e: dict[str, Any], v: CropVerdict) -> Iterator[str]:
    """Years lived one by one against years lived five in a row."""
    lived = e["years_lived"]
    runs = e.get("runs_of_5_years_survived")
    if runs is None:
        return
    low, high = _WORDED.get(runs, (0.0, 0.1)) if isinstance(runs, str) else (runs, runs)
    alive = {year: not word.startswith("killed") for year, word in v.strip}
    five = [all(alive[y + k] for k in range(5)) for y in alive if all(y + k in alive for k in range(5))]
    if not low - HALF <= sum(five) / max(len(five), 1) <= high + HALF:
        yield "five years in a row and the years one by one"
    if lived == 0 and low > 0.0:
        yield "lives five years and none"
    if v.word == "crops, lives briefly" and low >= 0.7:
        yield "lives briefly and lives five years in a row"
    if v.word in ("thrives", "crops with a check", "lives, crops poorly") and high < 0.7 - HALF:
        yield "lives on and does not live five years in a row"


def _chill(chart: SowingChart, line: CropSeasons, v: CropVerdict) -> Iterator[str]:
    """What is told of chill and of mild winters as met is not told as unmet, nor the other way round."""
    e: dict[str, Any] = v.evidence
    unmet, mild = int(e.get("years_of_chill_unmet", 0)), int(e.get("years_of_winter_too_mild", 0))
    names = {v.limiting_factor, *e.get("takes_of_a_full_crop", {})}
    if e.get("chill_here") is None and (unmet or "chill unmet" in names):
        yield "chill unmet and no chill asked for"
    if "winter_mean_wanted_degC" not in e and (mild or "winter too mild" in names):
        yield "winter too mild and no mean asked for"
    if e.get("chill_here") is not None and v.suitability:
        low, middle, high = e["chill_here"]
        judged, short = 0.5 * sum(e["chill_needed"]), e["years_short_of_chill"]
        if not low <= middle <= high:
            yield "chill out of order"
        if unmet > short or ("chill unmet" in names and not short):
            yield "chill met and told as unmet"
        if (middle >= judged + 1 and short > e["years_decided"] / 2) or (
            middle <= judged - 1 and short < e["years_decided"] / 2
        ):
            yield "chill of the middle year and years short of it"
        if v.suitability == "S1" and short > (1.0 - chart.reliability_asked) * e["years_decided"] + SLACK:
            yield "thrives without its chill"
        told = e.get("chill_by_each_model_in_the_middle_year", {}).get(e["chill_model"], middle)
        if abs(told - middle) > 1:
            yield "two figures of one chill"
        _, safe = ([s["portions"][1] for s in some] for some in (v.sorts_that_fit, v.sorts_that_do_not))
        if any(need < low - 1 for need in safe) or any(s["portions"][1] > low + 1 for s in v.sorts_that_fit):
            yield "a sort on the wrong side of nine years in ten"
    if mild or "winter too mild" in names:
        best, most = e["winter_mean_wanted_degC"]
        if not best < most:
            yield "a mild winter out of order"
        if mild > e["years_decided"] / 2 and e["winter_mean_degC"] <= best:
            yield "winter cool enough and told as too mild"


def _water(chart: SowingChart, line: CropSeasons, v: CropVerdict) -> Iterator[str]:
    """Want of water: told only where water was held to, and then with the litres that do not suffice."""
    e: dict[str, Any] = v.evidence
    fits = any(s.windows for s in line.starts)  # by another way of starting
    takes = [s.want_of_water for s in line.starts if s.want_of_water and not fits]
    dry = any(word in chart.site for word in ("stored water", "rain alone"))
    named = {v.limiting_factor, *(o.hazard for s in line.starts for o in s.outside)}
    if "want of water" in named and not dry:
        yield "want of water where water is had for the asking"
    if any(share > w.reliability + SLACK for w in takes if (share := w.share_of_years)):
        yield "want of water takes more than would work"
    if bool(takes) != ("with_water_enough" in e):
        yield "dates that water took, and not told"
    if takes and v.limiting_factor != "want of water":
        yield "water took the dates and is not the limit"
    if "litres_per_m2_in_a_dry_year" in e and e["litres_per_m2_in_a_dry_year"] + 0.5 < e["litres_per_m2_allowed"]:
        yield "less is drawn than allowed"
    if v.limiting_factor == "want of water" and v.suitability in ("S3", "N") and not takes:
        yield "want of water took no dates"


def _line(chart: SowingChart, line: CropSeasons, v: CropVerdict) -> Iterator[str]:
    """Days of the chart: windows within what is possible, closed days with their hazard."""
    for way in line.starts:
        for window in (*way.windows, *way.possible):
            low, high = window.interval
            if not low - SLACK <= window.reliability <= high + SLACK:
                yield "odds outside their interval"
            if window.years_decided > chart.record.years + 1:
                yield "more years decided than the record has"
            years = [year for year, _ in window.first_pickings]
            if len(set(years)) != len(years) or len(years) > window.years_decided:
                yield "pickings of more years than are decided"
            if window.best not in days_of(window):
                yield "best day outside its window"
        yield from _days(chart, way)


def _days(chart: SowingChart, way: WayResult) -> Iterator[str]:
    """Each day of one way: advised, possible or closed."""
    possible, advised = np.zeros(365, bool), np.zeros(365, bool)
    for window in way.possible:
        possible[days_of(window)] = True
    for window in way.windows:
        advised[days_of(window)] = True
    if (advised & ~possible).any():
        yield "advised and not possible"
    if any(w.reliability < 0.5 - SLACK for w in way.possible):
        yield "possible and works in fewer than half of the years"
    if any(w.reliability < chart.reliability_asked - SLACK for w in way.windows):
        yield "advised and works less often than asked"
    closed = np.zeros(365, bool)
    for outside in way.outside:
        days = days_of(outside)
        if closed[days].any() or possible[days].any():
            yield "a day closed twice, or closed and possible"
        closed[days] = True
        if outside.hazard not in ALL_HAZARDS:
            yield "a day closed by no hazard"
        if not 0.0 < outside.share_of_years <= 1.0 + SLACK:
            yield "a hazard that closes a day and takes nothing"
        if way.reliability is not None:
            works = way.reliability[days].mean()
            if works + outside.share_of_years > 1.0 + 1e-3:
                yield "a hazard takes more than what fails"
    if way.reliability is None:
        return
    known = np.isfinite(way.reliability)
    if (known & ~possible & ~closed).any():
        yield "a day neither possible nor closed"
    if (way.reliability[advised & known] < chart.reliability_asked - SLACK).any():
        yield "an advised day below the odds asked for"
    if not advised.any() and way.best_start is None and possible.any():
        yield "possible and without a best start"
