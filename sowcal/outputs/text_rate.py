"""What lies behind a verdict, in sentences: of a perennial its years one by one, of an annual its best window."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from sowcal.counted import counted
from sowcal.outputs.screen import plain, table, wrap
from sowcal.outputs.wording import (
    NO_PROMISE,
    in_ten,
    interval_of,
    odds_of_few,
    record_text,
    short_odds,
    three_words,
    within_error,
)
from sowcal.provenance import MadeBy
from sowcal.suitability.results import CropVerdict, Record, Window
from sowcal.year import day_of_year, day_text, span_text, whole_year

__all__ = [
    "change_words",
    "evidence_sentences",
    "is_perennial",
    "limit_words",
    "odds_verb",
    "per_cent",
    "picked_words",
    "rate_text",
    "verdict_text",
]

_BASIS = {
    "published": "read in a published source",
    "practice": "common practice",
    "memory": "recalled, not looked up",
    "grower's own": "your own value",
}
_FIGURES = {
    "summer_mean_degC": "summer mean {} °C",
    "coldest_degC": "coldest night of the rest season {} °C",
    "hottest_spell_d": "longest spell of killing heat {} days",
}


def per_cent(share: float) -> str:
    """A share as whole per cent, never outside 0 to 100."""
    return f"{min(max(share, 0.0), 1.0):.0%}"


def is_perennial(verdict: CropVerdict) -> bool:
    """Whether a verdict speaks of years lived, as those of perennials do."""
    return "years_lived" in verdict.evidence


def odds_verb(verdict: CropVerdict) -> str:
    """What a crop does in the years of its odds."""
    if "as_a_winter_annual" in verdict.evidence:
        return "has a winter to grow in"
    return "crops" if is_perennial(verdict) else "works"


def limit_words(verdict: CropVerdict) -> str:
    """What limits a crop most, in three words; 'none found' where nothing does."""
    if not verdict.limiting_factor:
        return "none found"
    return three_words(verdict.limiting_factor, perennial=is_perennial(verdict))


def change_words(change: str) -> str:
    """A change that lifts a verdict and the word it lifts it to, as a sentence; else that none is known."""
    what, colon, word = change.rpartition(": ")
    return f"with {what}: {word}" if colon else f"what would change it: {change}"


def picked_words(evidence: Mapping[str, Any]) -> str:
    """When a perennial is picked in the middle year, in words; '' where that is not known."""
    first, to, last = str(evidence.get("picked_in_the_middle_year", "")).partition(" to ")
    if not to:
        return ""
    start, end = day_of_year(first), day_of_year(last)
    return "all year" if whole_year(start, end) else span_text(start, end)


def _model(model: str) -> str:
    """A model of chill with its unit: hours are hours of a range of temperature."""
    return f"{model} °C" if model.startswith("hours") else model


def _chill(evidence: Mapping[str, Any]) -> list[str]:
    out = []
    chill = evidence.get("chill")
    if isinstance(chill, Mapping):
        low, middle, high = chill["had_in_10_50_90_per_cent_of_years"]
        least, most = chill["needs"]
        needed = f"{least:g}" if least == most else f"{least:g} to {most:g} by the sort"
        judged = "" if least == most else f"judged for one that wants {chill['judged_at']:g}: "
        out.append(
            f"Winter chill here {middle} ({low} to {high} in 8 years of 10), needed {needed} "
            f"({_model(chill['model'])}); {judged}short of it in {chill['years_short']} of "
            f"{evidence['years_decided']} years"
        )
    wanted = evidence.get("winter_mean_wanted_degC")
    if wanted is not None and "winter_mean_degC" in evidence:
        out.append(
            f"Winter mean here {evidence['winter_mean_degC']:g} °C; winters up to {wanted[0]:g} °C leave a full crop, "
            f"from {wanted[1]:g} °C none"
        )
    return out


def _years(evidence: Mapping[str, Any]) -> list[str]:
    out = []
    decided = evidence.get("years_decided")
    as_annual = evidence.get("as_a_winter_annual")
    if isinstance(as_annual, Mapping):
        out.append(
            f"As a winter annual it has a winter to grow in: {as_annual['years']} of {decided} years, with "
            f"{per_cent(as_annual['growth_left'])} of its growth on average"
        )
    if "years_lived" in evidence:
        kept = "Kept as a perennial it lives" if as_annual else "Lives"
        lived = f"{evidence['years_lived']} of {counted(int(decided or 0), 'year')}"
        out.append(f"{kept} through {lived}, crops in {evidence['years_cropped']}")
    runs = evidence.get("runs_of_5_years_survived")
    if "years_lived" in evidence and runs is None:
        out.append("The record holds no five whole years in a row, so that nothing is said of them")
    if runs is not None:
        often = runs if isinstance(runs, str) else in_ten(float(runs)).replace(" in ", " times in ")
        out.append(f"Lives through five years in a row {often}")
    if (share := evidence.get("share_of_a_full_crop")) is not None:
        out.append(f"Gives {per_cent(float(share))} of a full crop on average")
    if words := picked_words(evidence):
        out.append(f"Picked {words} in the middle of the years that crop")
    return out


def _spoiled(evidence: Mapping[str, Any]) -> list[str]:
    out = []
    if isinstance(takes := evidence.get("takes_of_a_full_crop"), Mapping):
        said = ", ".join(f"{three_words(str(h), perennial=True)} {per_cent(share)}" for h, share in takes.items())
        out.append(f"Taken from a full crop on average: {said}")
    for key, count in evidence.items():
        if key.startswith("years_of_"):
            words = three_words(key[len("years_of_") :].replace("_", " "), perennial=True)
            out.append(f"{words[0].upper()}{words[1:]}: more than half lost in {counted(count, 'year')}")
    return out


def _figures(evidence: Mapping[str, Any]) -> list[str]:
    known = [
        words.format(f"{evidence[k]:g}").replace(" 1 days", " 1 day") for k, words in _FIGURES.items() if k in evidence
    ]
    known = [
        "no spell of killing heat" if words == _FIGURES["hottest_spell_d"].format("0") else words for words in known
    ]
    return [f"On average of the years: {', '.join(known)}"] if known else []


def _behind(evidence: Mapping[str, Any]) -> list[str]:
    """How well the limits are known, and what other measures say."""
    out = []
    if (basis := evidence.get("deciding_limit_rests_on")) is not None:
        out.append(f"How the limit that decides is known: {_BASIS.get(str(basis), basis)}")
    kinder, harsher = evidence.get("if_its_limits_are_kinder"), evidence.get("if_they_are_harsher")
    if kinder is not None:
        out.append(f"At the kind end of what is known of its limits: {kinder}; at the harsh end: {harsher}")
    if isinstance(models := evidence.get("chill_by_each_model_in_the_middle_year"), Mapping):
        said = ", ".join(f"{v} {_model(str(k))}" for k, v in models.items())
        out.append(f"Chill of the middle year by each measure: {said}")
    if (why := evidence.get("chill_judged_in")) is not None:
        model, colon, reason = str(why).partition(": ")
        out.append(f"Chill is judged in {_model(model)}{colon}{reason}")
    if "unknown" in evidence:
        out.append(f"Not known: {', '.join(map(str, evidence['unknown']))}")
    return out


def _stopped(evidence: Mapping[str, Any]) -> list[str]:
    """Of an annual that is advised on no day, or on any: what stops the best start that there is."""
    hazard, share = evidence.get("hazard"), evidence.get("share_of_years")
    if hazard is None or not isinstance(share, (int, float)) or "with_water_enough" in evidence:
        return []
    if isinstance(evidence.get("window"), Window) and "best_start" not in evidence:
        fails = f"{three_words(str(hazard))}, {per_cent(share)} of years"
        return [f"No day of the year is closed to it; what fails from the best: {fails}"]
    if not isinstance(best := evidence.get("best_start"), Mapping):
        return [f"No start day of the year works; mostly {three_words(str(hazard))}, {per_cent(share)} of years"]
    start, works = _start_words(best)
    fails = f"{three_words(str(hazard))} in {per_cent(share)}"
    return [f"The best start there is, {start}, works in {works} of years; {fails}"]


def _start_words(start: Mapping[str, Any]) -> tuple[str, str]:
    """A start day, and the share of years in which it works."""
    day = day_text(day_of_year(str(start["date"])))
    return f"{start['way']} about {day}", per_cent(float(start["works_in_share_of_years"]))


def _thirst(evidence: Mapping[str, Any]) -> list[str]:
    """Of an annual that want of water takes: what its best start would draw, and what it would bring."""
    enough = evidence.get("with_water_enough")
    if not isinstance(enough, Mapping):
        return []
    start, works = _start_words(enough)
    takes = per_cent(float(evidence.get("share_of_years", 0.0)))
    out = [f"With all the water it asks for, {start}, it works in {works} of years; want of it takes {takes} of years"]
    if (litres := evidence.get("litres_per_m2_in_a_dry_year")) is not None:
        out.append(
            f"That start draws {litres} litres per square metre in a dry year; "
            f"{evidence.get('litres_per_m2_allowed', 0):g} are allowed"
        )
    return out


def _window(evidence: Mapping[str, Any]) -> list[str]:
    """The best window of an annual, and how often it works."""
    window = evidence.get("window")
    if not isinstance(window, Window):
        return []
    low, high = window.interval
    out = [
        f"Best {evidence.get('way', 'started')} {span_text(window.start, window.end)}, "
        f"best of all about {day_text(window.best)}",
        f"Works in {per_cent(window.reliability)} of {counted(window.years_decided, 'year')} "
        f"(95 per cent interval {per_cent(low)} to {per_cent(high)})",
        f"Gives {per_cent(window.yield_fraction)} of a full crop on average",
    ]
    if window.offset_range:
        words = within_error(window.offset_range)
        out.append(f"{words[0].upper()}{words[1:]}")
    if window.raise_under_cover:
        out.append(f"Sown under cover first, {span_text(*window.raise_under_cover)}")
    if (p := window.first_picking) is not None:
        out.append(
            f"Picked first about {day_text(p.p50)}, {counted(p.days_after_start, 'day')} on "
            f"({day_text(p.p10)} to {day_text(p.p90)} in 8 years of 10)"
        )
    if isinstance(days := evidence.get("days_recommended"), int):
        out.append(f"Advised on {counted(days, 'day')} of the year" if days else "Advised on no day of the year")
    return out


def _thermometer(evidence: Mapping[str, Any]) -> list[str]:
    """What the error of the plot's own thermometer leaves open."""
    colder, warmer = (evidence.get(f"if_{end}_within_the_error") for end in ("the_plot_is_colder", "it_is_warmer"))
    if colder is None:
        return []
    said = f"If the plot is colder, within the error of your thermometer: {colder}; if it is warmer: {warmer}"
    if (shares := evidence.get("share_of_years_within_the_error")) is not None:
        said += f" (works in {per_cent(shares[0])} to {per_cent(shares[1])} of years)"
    return [said]


def evidence_sentences(verdict: CropVerdict) -> list[str]:
    """A verdict's evidence, a sentence each, without full stops.

    Parameters
    ----------
    verdict : CropVerdict
        One of those that `sowcal.rate_crops` gives.

    Returns
    -------
    list of str

    Examples
    --------
    >>> import datetime as dt
    >>> import sowcal
    >>> chart, verdicts = sowcal.rate_crops("sallowdene", ["courgette"], issued=dt.date(2026, 1, 15))
    >>> evidence_sentences(verdicts[0])[0]
    'Best set out 29 Apr to 11 Aug, best of all about 3 Jun'
    """
    parts = (_years, _window, _stopped, _thirst, _thermometer, _chill, _spoiled, _figures, _behind)
    return [sentence for part in parts for sentence in part(verdict.evidence)]


_LIMIT = "limit: what stops it most; where an annual fits, on the days outside its dates."
_CLASS_WORDS = "S1 best, S2, S3, N: not here (FAO land evaluation framework 1976)"


def _grade(verdict: CropVerdict) -> str:
    return verdict.suitability or "-"


def _limit(verdict: CropVerdict) -> str:
    """What limits a crop: of an annual that fits, what closes the rest of the year."""
    lead = "what limits it most"
    if not is_perennial(verdict) and verdict.suitability in ("S1", "S2") and "hazard" not in verdict.evidence:
        lead = "outside its dates, mostly"
    return f"{lead}: {limit_words(verdict)}"


def _foot(made_by: MadeBy | None) -> str:
    return f"{NO_PROMISE} {made_by.short()}" if made_by else NO_PROMISE


def verdict_text(
    site: str,
    record: Record,
    verdict: CropVerdict,
    *,
    made_by: MadeBy | None = None,
    width: int = 100,
    unicode: bool = True,
) -> str:
    """One crop's verdict in a few lines, then its evidence.

    Parameters
    ----------
    site : str
    record : Record
    verdict : CropVerdict
    made_by : MadeBy, optional
    width : int
        Columns of the screen.
    unicode : bool
        Whether letters beyond ASCII may be sent.
    """

    def say(text: str, **more: str) -> list[str]:
        return wrap(plain(text, unicode=unicode), width, **more)

    head = f"{verdict.crop} at {site}: {verdict.word.upper()}"
    out = say(head + (f" ({verdict.suitability})" if verdict.suitability else ""))
    if verdict.reliability is not None and verdict.suitability is not None:
        out += say(f"{odds_verb(verdict)} {odds_of_few(verdict.reliability, *interval_of(verdict))}")
    if verdict.limiting_factor:
        out += say(_limit(verdict))
    for change in verdict.what_would_change_it[:2]:
        out += say(change_words(change), later="  ")
    for caution in verdict.cautions:
        out += say(f"CAUTION: {caution}", later="  ")
    if verdict.evidence:
        out += ["", "EVIDENCE"]
        for sentence in evidence_sentences(verdict):
            out += say(sentence.replace("°C", "degC"), first="  ", later="    ")
    for change in verdict.what_would_change_it[2:]:
        out += say(change_words(change), first="  ", later="    ")
    out += say(f"Record: {record_text(record)}", first="  ", later="    ")
    return "\n".join([*out, "", *say(_foot(made_by))])


def rate_text(
    site: str,
    record: Record,
    verdicts: Iterable[CropVerdict],
    *,
    made_by: MadeBy | None = None,
    width: int = 100,
    unicode: bool = True,
) -> str:
    """Verdicts as a table in the order given (best first).

    Parameters
    ----------
    site : str
    record : Record
    verdicts : iterable of CropVerdict
    made_by : MadeBy, optional
    width : int
        Columns of the screen.
    unicode : bool
        Whether letters beyond ASCII may be sent.
    """
    verdicts = list(verdicts)
    rows = [["crop", "verdict", "class", "years", "limit"]]
    rows += [
        [
            plain(v.crop, unicode=unicode),
            plain(v.word, unicode=unicode),
            _grade(v),
            short_odds(v, "-"),
            plain(v.limiting_factor or "-", unicode=unicode),
        ]
        for v in verdicts
    ]

    def say(text: str) -> list[str]:
        return wrap(plain(text, unicode=unicode), width)

    out = [
        *say(f"WHAT SUITS {site}; {record_text(record)}"),
        "",
        *table(rows, width, gap=2 if width >= 80 else 1),
    ]
    if any(short_odds(v, "-").endswith(")") for v in verdicts):
        out += ["", *say("The record is short: in brackets the 95 per cent interval of the odds.")]
    out += ["", *say(f"years: in how many of ten it works. class: {_CLASS_WORDS}. {_LIMIT}"), *say(_foot(made_by))]
    return "\n".join(line.rstrip() for line in out)
