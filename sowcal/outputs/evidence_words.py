"""What lies behind a verdict, a sentence each: years, windows, hazards, chill, and how well the limits are known."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sowcal.languages import counted, figure, phrase, say
from sowcal.outputs.perennial_words import picked_words
from sowcal.outputs.wording import (
    in_ten,
    per_cent,
    three_words,
    window_sentences,
)
from sowcal.suitability.results import CropVerdict, Window
from sowcal.units import amount, quantity, told
from sowcal.year import day_of_year, day_text, span_text

__all__ = ["evidence_sentences"]

_BASIS = {
    "published": phrase("read in a published source"),
    "practice": phrase("common practice"),
    "memory": phrase("recalled, not looked up"),
    "grower's own": phrase("your own value"),
}


_UNITS = {"summer_mean_degC": "°C", "coldest_degC": "°C", "heat_sum_degC_d": "degree days"}
_FIGURES = {
    "summer_mean_degC": phrase("summer mean {value}"),
    "coldest_degC": phrase("coldest night of the rest season {value}"),
    "heat_sum_degC_d": phrase("heat of the season {value} above {base}"),
    "hottest_spell_d": phrase("longest spell of killing heat {value} days"),
}


_HOURS = {
    **{f"hours below {v:g}": phrase("hours below {limit}", limit=quantity(v, "°C")) for v in (7.2, 10.0)},
    "hours 0 to 7.2": phrase("hours {low} to {high}", low=quantity(0.0, "°C", form="number"), high=quantity(7.2, "°C")),
}


def _model(model: str) -> str:
    """A model of chill with its unit: hours are hours of a range of temperature."""
    return say(_HOURS[model]) if model in _HOURS else say(model)


def _chill(evidence: Mapping[str, Any]) -> list[str]:
    out = []
    if all(evidence.get(key) for key in ("chill_here", "chill_needed", "chill_model")):
        (low, middle, high), (least, most) = evidence["chill_here"], evidence["chill_needed"]
        needed = (
            figure(least, "g")
            if least == most
            else say("{least:g} to {most:g}, as far as that is known,", least=least, most=most)
        )
        out.append(
            say(
                "Winter chill here {middle} ({low} to {high} in 8 years of 10), needed {needed} by the "
                "least demanding sort ({model})",
                middle=middle,
                low=low,
                high=high,
                needed=needed,
                model=_model(evidence["chill_model"]),
            )
        )
    if (short := evidence.get("years_short_of_chill")) is not None:
        late = say(": rest hardly ends, and leaves and bloom come late and unevenly") if short else ""
        out.append(
            say(
                "Short of chill in {short} of {years}{late}",
                short=short,
                years=counted(int(evidence["years_decided"]), "year"),
                late=late,
            )
        )
    wanted = evidence.get("winter_mean_wanted_degC")
    if wanted is not None and "winter_mean_degC" in evidence:
        out.append(
            say(
                "Winter mean here {mean}; winters up to {wanted} cost it nothing, milder ones part of the crop, "
                "the most from {wanted2}",
                mean=told(evidence["winter_mean_degC"], "°C"),
                wanted=told(wanted[0], "°C"),
                wanted2=told(wanted[1], "°C"),
            )
        )
    return out


def _years(evidence: Mapping[str, Any]) -> list[str]:
    out = []
    decided = evidence.get("years_decided")
    as_annual = evidence.get("as_a_winter_annual")
    if isinstance(as_annual, Mapping):
        out.append(
            say(
                "As a winter annual it has a winter to grow in: {years} of {decided} years, with {share} of "
                "its growth on average",
                years=as_annual["years"],
                decided=decided,
                share=per_cent(as_annual["growth_left"]),
            )
        )
    if "years_lived" in evidence:
        lived = say(
            "{years_lived} of {years}", years_lived=evidence["years_lived"], years=counted(int(decided or 0), "year")
        )
        out.append(
            say(
                "Kept as a perennial it lives through {lived}, crops in {years_cropped}"
                if as_annual
                else "Lives through {lived}, crops in {years_cropped}",
                lived=lived,
                years_cropped=evidence["years_cropped"],
            )
        )
    runs = evidence.get("runs_of_5_years_survived")
    if "years_lived" in evidence and runs is None:
        out.append(say("The record holds no five whole years in a row, so that nothing is said of them"))
    if runs is not None:
        count = "" if isinstance(runs, str) else in_ten(float(runs)).partition(" ")[0]
        often = say("{count} times in 10", count=count) if count else say(str(runs))
        out.append(say("Lives through five years in a row {often}", often=often))
    if (share := evidence.get("share_of_a_full_crop")) is not None:
        out.append(say("Gives {share} of a full crop on average", share=per_cent(float(share))))
    if words := picked_words(evidence):
        out.append(say("Picked {words} in the middle of the years that crop", words=words))
    return out


def _spoiled(evidence: Mapping[str, Any]) -> list[str]:
    out = []
    if isinstance(takes := evidence.get("takes_of_a_full_crop"), Mapping):
        said = ", ".join(f"{three_words(str(h), perennial=True)} {per_cent(share)}" for h, share in takes.items())
        out.append(say("Taken from a full crop on average: {said}", said=said))
    for key, count in evidence.items():
        if key.startswith("years_of_"):
            words = three_words(key[len("years_of_") :].replace("_", " "), perennial=True)
            out.append(
                say(
                    "{words}: more than half lost in {years}",
                    words=f"{words[0].upper()}{words[1:]}",
                    years=counted(count, "year"),
                )
            )
    return out


def _figures(evidence: Mapping[str, Any]) -> list[str]:
    known = [
        say("longest spell of killing heat 1 day")
        if words is _FIGURES["hottest_spell_d"] and evidence[k] == 1
        else say("no spell of killing heat")
        if words is _FIGURES["hottest_spell_d"] and evidence[k] == 0
        else say(
            words, value=told(evidence[k], _UNITS[k]) if k in _UNITS else figure(evidence[k], "g"), base=told(10, "°C")
        )
        for k, words in _FIGURES.items()
        if k in evidence
    ]
    return [say("On average of the years: {names}", names=", ".join(known))] if known else []


def _behind(evidence: Mapping[str, Any]) -> list[str]:
    """How well the limits are known, and what other measures say."""
    out = []
    if isinstance(limit := evidence.get("deciding_limit"), Mapping):
        unit = {"d": say(" days"), "1": ""}.get(limit["unit"], f" {_model(limit['unit'])}")
        value = told(limit["value"], "°C") if limit["unit"] == "degC" else f"{figure(limit['value'], 'g')}{unit}"
        out.append(
            say(
                "The number that decides: {quantity}, {value} ({source})",
                quantity=say(limit["quantity"]),
                value=value,
                source=limit["source"],
            )
        )
    if (basis := evidence.get("deciding_limit_rests_on")) is not None:
        out.append(say("How the limit that decides is known: {basis}", basis=say(_BASIS.get(str(basis), str(basis)))))
    if (source := evidence.get("chill_source")) is not None:
        out.append(say("Chill that it needs: {source}", source=source))
    kinder, harsher = evidence.get("if_its_limits_are_kinder"), evidence.get("if_they_are_harsher")
    if kinder is not None:
        out.append(
            say(
                "At the kind end of what is known of its limits: {kinder}; at the harsh end: {harsher}",
                kinder=say(kinder),
                harsher=say(str(harsher)),
            )
        )
    if isinstance(models := evidence.get("chill_by_each_model_in_the_middle_year"), Mapping):
        said = ", ".join(f"{v} {_model(str(k))}" for k, v in models.items())
        out.append(say("Chill of the middle year by each measure: {said}", said=said))
    if (why := evidence.get("chill_judged_in")) is not None:
        model, colon, reason = str(why).partition(": ")
        out.append(
            say("Chill is judged in {model}{colon}{reason}", model=_model(model), colon=colon, reason=say(reason))
        )
    if "unknown" in evidence:
        out.append(say("Not known: {names}", names=", ".join(map(say, evidence["unknown"]))))
    return out


def _stopped(evidence: Mapping[str, Any]) -> list[str]:
    """Of an annual that is advised on no day, or on any: what stops the best start that there is."""
    hazard, share = evidence.get("hazard"), evidence.get("share_of_years")
    if hazard is None or not isinstance(share, (int, float)) or "with_water_enough" in evidence:
        return []
    if isinstance(evidence.get("window"), Window) and "best_start" not in evidence:
        fails = say("{hazard}, {share} of years", hazard=three_words(str(hazard)), share=per_cent(share))
        return [say("No day of the year is closed to it; what fails from the best: {fails}", fails=fails)]
    if not isinstance(best := evidence.get("best_start"), Mapping):
        return [
            say(
                "No start day of the year works; mostly {hazard}, {share} of years",
                hazard=three_words(str(hazard)),
                share=per_cent(share),
            )
        ]
    start, works = _start_words(best)
    fails = say("{hazard} in {share}", hazard=three_words(str(hazard)), share=per_cent(share))
    return [
        say(
            "The best start there is, {start}, works in {works} of years; {fails}",
            start=start,
            works=works,
            fails=fails,
        )
    ]


def _start_words(start: Mapping[str, Any]) -> tuple[str, str]:
    """A start day, and the share of years in which it works."""
    day = day_text(day_of_year(str(start["date"])))
    return say("{way} about {day}", way=say(start["way"]), day=day), per_cent(float(start["works_in_share_of_years"]))


def _thirst(evidence: Mapping[str, Any]) -> list[str]:
    """Of an annual that want of water takes: what its best start would draw, and what it would bring."""
    enough = evidence.get("with_water_enough")
    if not isinstance(enough, Mapping):
        return []
    start, works = _start_words(enough)
    takes = per_cent(float(evidence.get("share_of_years", 0.0)))
    out = [
        say(
            "With all the water it asks for, {start}, it works in {works} of years; want of it takes {takes} of years",
            start=start,
            works=works,
            takes=takes,
        )
    ]
    if (litres := evidence.get("litres_per_m2_in_a_dry_year")) is not None:
        out.append(
            say(
                "That start draws {litres} in a dry year; {allowed} are allowed",
                litres=told(litres, "litres per square metre"),
                allowed=amount(evidence.get("litres_per_m2_allowed", 0), "litres per square metre"),
            )
        )
    return out


def _window(evidence: Mapping[str, Any]) -> list[str]:
    """The best window of an annual, and how often it works."""
    window = evidence.get("window")
    if not isinstance(window, Window):
        return []
    low, high = window.interval
    out = [
        say(
            "Best {way} {span}, best of all about {day}",
            way=say(evidence.get("way", "started")),
            span=span_text(window.start, window.end),
            day=day_text(window.best),
        ),
        say(
            "Works in {share} of {years} (95 per cent interval {share2} to {share3})",
            share=per_cent(window.reliability),
            years=counted(window.years_decided, "year"),
            share2=per_cent(low),
            share3=per_cent(high),
        ),
        *window_sentences(window),
    ]
    if isinstance(days := evidence.get("days_recommended"), int):
        out.append(
            say("Advised on {days} of the year", days=counted(days, "day"))
            if days
            else say("Advised on no day of the year")
        )
    return out


def _thermometer(evidence: Mapping[str, Any]) -> list[str]:
    """What the error of the plot's own thermometer leaves open."""
    colder, warmer = (evidence.get(f"if_{end}_within_the_error") for end in ("the_plot_is_colder", "it_is_warmer"))
    if colder is None:
        return []
    said = say(
        "If the plot is colder, within the error of your thermometer: {colder}; if it is warmer: {warmer}",
        colder=say(colder),
        warmer=say(str(warmer)),
    )
    if (shares := evidence.get("share_of_years_within_the_error")) is not None:
        said += say(" (works in {share} to {share2} of years)", share=per_cent(shares[0]), share2=per_cent(shares[1]))
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
    'Best set out 5 May to 14 Jul, best of all about 2 Jun'
    """
    parts = (_years, _window, _stopped, _thirst, _thermometer, _chill, _spoiled, _figures, _behind)
    return [sentence for part in parts for sentence in part(verdict.evidence)]
