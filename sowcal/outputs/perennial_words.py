"""What is told of a perennial in plain words: whether it lives and crops, from when, what it needs, which sorts fit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sowcal.languages import counted, figure, phrase, say
from sowcal.outputs.wording import ENOUGH, interval_of, per_cent
from sowcal.suitability.perennials import worded_share
from sowcal.suitability.results import CropVerdict
from sowcal.units import told, unit_word
from sowcal.year import day_of_year, span_text, whole_year

__all__ = [
    "chill_span",
    "perennial_answer",
    "picked_words",
    "year_spans",
    "year_strip",
]


def picked_words(evidence: Mapping[str, Any]) -> str:
    """When a perennial is picked in the middle year, in words; '' where that is not known."""
    first, to, last = str(evidence.get("picked_in_the_middle_year", "")).partition(" to ")
    if not to:
        return ""
    start, end = day_of_year(first), day_of_year(last)
    return say("all year") if whole_year(start, end) else span_text(start, end)


def year_spans(years: Sequence[int]) -> str:
    """Calendar years with those in a row as a span: '1985, 1988 to 1996'.

    Examples
    --------
    >>> year_spans([1985, 1988, 1989, 1990, 1993, 1994])
    '1985, 1988 to 1990, 1993, 1994'
    """
    runs: list[list[int]] = []
    for year in sorted(years):
        if runs and year == runs[-1][-1] + 1:
            runs[-1].append(year)
        else:
            runs.append([year])
    said = [say("{r} to {r2}", r=r[0], r2=r[-1]) if len(r) > 2 else ", ".join(map(str, r)) for r in runs]
    return ", ".join(said)


STRIP = {
    phrase("full crop"): "#",
    phrase("part of a crop"): "+",
    phrase("no crop"): ".",
    phrase("killed by winter"): "W",
    phrase("killed by summer"): "S",
}


def year_strip(strip: Sequence[tuple[int, str]]) -> str:
    """A sign for each year of a perennial, with the meaning of those that occur.

    Examples
    --------
    >>> year_strip([(2001, "full crop"), (2002, "killed by summer"), (2004, "no crop")])
    '2001 #S?. 2004 (# full crop, . no crop, S killed by summer, ? not known)'
    """
    if not strip:
        return ""
    words = dict(strip)
    first, last = strip[0][0], strip[-1][0]
    signs = "".join(STRIP.get(words.get(year, ""), "?") for year in range(first, last + 1))
    meaning = [f"{sign} {say(word)}" for word, sign in STRIP.items() if sign in signs]
    meaning += [f"? {say('not known')}"] * ("?" in signs)
    return f"{first} {signs} {last} ({', '.join(meaning)})"


def chill_span(evidence: Mapping[str, Any]) -> str:
    """What the least demanding sort needs: '50', or '10 to 22' where it is known between two ends."""
    low, high = evidence["chill_needed"]
    return figure(low, "g") if low == high else say("{low:g} to {high:g}", low=low, high=high)


def _lives(evidence: Mapping[str, Any], lives: Mapping[str, Any]) -> str:
    decided = int(evidence["years_decided"])
    if evidence["years_lived"] == decided:
        return say("yes, in all {years} of the record", years=counted(decided, "year"))
    said = [say("in {years_lived} of {years}", years_lived=evidence["years_lived"], years=counted(decided, "year"))]
    for season in ("summer", "winter"):
        if killed := lives[f"{season}s_killed"]:
            said.append(
                say(
                    "killed by {seasons}: {years}",
                    seasons=counted(len(killed), season),
                    years=year_spans(killed),
                )
            )
    return "; ".join(said)


def _crops(verdict: CropVerdict) -> str:
    evidence: Mapping[str, Any] = verdict.evidence
    decided, cropped = int(evidence["years_decided"]), int(evidence["years_cropped"])
    said = say("in {cropped} of {years}", cropped=cropped, years=counted(decided, "year"))
    sure = []
    if evidence.get("deciding_limit_rests_on") == "memory":
        sure.append(say("{worded_share}: its limit is recalled", worded_share=say(worded_share(cropped / decided))))
    interval, few = interval_of(verdict)
    if interval is not None and few < ENOUGH:
        sure.append(
            say(
                "from {years} only: {interval:.0%} to {interval2:.0%}",
                years=counted(few, "year"),
                interval=interval[0],
                interval2=interval[1],
            )
        )
    said += f" ({'; '.join(sure)})" * bool(sure)
    if cropped:
        said += say(", {share} of a full crop on average", share=per_cent(evidence["share_of_a_full_crop"]))
        if picked := picked_words(evidence):
            said += say(", picked {picked}", picked=picked)
    if isinstance(winter := evidence.get("as_a_winter_annual"), Mapping):
        said += say(
            "; planted anew each autumn it has a winter to grow in, {years} of {decided}",
            years=winter["years"],
            decided=decided,
        )
    return said


def _sorts(verdict: CropVerdict) -> str:
    """Sorts by published chill: '29 portions in the middle year, 12 in nine of ten: these fit: ...'."""
    evidence: Mapping[str, Any] = verdict.evidence
    low, middle, _ = evidence["chill_here"]
    named = [
        f"{word}: " + ", ".join(f"{s['sort']} ({figure(s['portions'][1], 'g')})" for s in some)
        for word, some in ((say("these fit"), verdict.sorts_that_fit), (say("these do not"), verdict.sorts_that_do_not))
        if some
    ]
    return say(
        "{middle} portions of chill in the middle year, {low} in nine of ten; {names}",
        middle=middle,
        low=low,
        names="; ".join(named),
    )


def perennial_answer(verdict: CropVerdict) -> list[tuple[str, str]]:
    """The answer on a perennial in a few lines, each with its name: will it live, will it crop, its years, its needs.

    Parameters
    ----------
    verdict : CropVerdict
        With its `answer`.
    """
    answer: Mapping[str, Any] = verdict.answer or {}
    out = [(say("will it live"), _lives(verdict.evidence, answer["lives"])), (say("will it crop"), _crops(verdict))]
    out.append((say("year by year"), year_strip(verdict.strip)))
    if (litres := answer["litres_per_m2"]) is not None:
        needs = say(
            "about {water} from autumn to spring for each {m2} of its room beyond the rain, by drip"
            if "as_a_winter_annual" in verdict.evidence
            else "about {water} a year for each {m2} of its room beyond the rain, full-grown, by drip",
            water=told(litres, "litres each m2", ","),
            m2=unit_word("m2"),
        )
        out.append((say("it needs"), needs))
    if verdict.sorts_that_fit or verdict.sorts_that_do_not:
        out.append((say("sorts by chill"), _sorts(verdict)))
    return out
