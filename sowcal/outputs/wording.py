"""Words that every output uses alike: hazards in three words, odds, ways, what an answer rests on."""

from __future__ import annotations

from collections.abc import Sequence

from sowcal.climate.place_figures import ClimateSummary
from sowcal.climate.rain import OpeningRains
from sowcal.languages import counted, figure, phrase, say, say_crop
from sowcal.provenance import MadeBy
from sowcal.suitability.perennials import ENOUGH
from sowcal.suitability.results import Advice, CropSeasons, CropVerdict, OffsetRange, Outside, Record, WayResult, Window
from sowcal.suitability.week import JOB_OF_WAY
from sowcal.units import amount, told, unit_word
from sowcal.year import day_text, span_text

__all__ = [
    "ENOUGH",
    "JOB_WORDS",
    "NO_PROMISE",
    "PLAIN_NAMES",
    "THREE_WORDS",
    "advice_sentences",
    "at_best",
    "best_odds",
    "family_name",
    "foot_text",
    "in_ten",
    "interval_of",
    "job_words",
    "kilograms",
    "litres",
    "named_with_water",
    "odds_of_few",
    "odds_text",
    "opening_rains_by_year",
    "opening_rains_words",
    "outside_words",
    "per_cent",
    "reason",
    "record_of_summary",
    "record_text",
    "sentence",
    "short_odds",
    "some_of",
    "three_words",
    "told_litres",
    "when_words",
    "window_sentences",
    "windows_in_words",
    "within_error",
    "years_in_ten",
]

_GENERATED = phrase("Weather generated from monthly normals: its odds of frost and heat are rough.")
NO_PROMISE = phrase("Odds are odds and no promise; local codes and licensed practice come first.")

THREE_WORDS = {
    "frost": phrase("killed by frost"),
    "chilling": phrase("harmed by chilling"),
    "heat": phrase("heat too great"),
    "warm nights": phrase("nights too warm"),
    "cold soil": phrase("soil too cold"),
    "hot soil": phrase("soil too hot"),
    "too slow": phrase("ripens too slowly"),
    "low light": phrase("light too low"),
    "bolting": phrase("bolts too soon"),
    "day length": phrase("day length wrong"),
    "want of water": phrase("want of water"),
    "chill unmet": phrase("winter chill unmet"),
    "winter too mild": phrase("winters too mild"),
    "winter kill": phrase("killed by winter"),
    "frost on blossom": phrase("frost on blossom"),
    "summer kill": phrase("killed by summer"),
    "wet spring": phrase("springs too wet"),
}


# a perennial is not always killed: its crop is, or its summers are too hot for it to crop
_OF_PERENNIALS = {
    "frost": phrase("frost spoils crop"),
    "heat": phrase("summers too hot"),
    "too slow": phrase("summers too cool"),
}


def three_words(hazard: str | None, *, perennial: bool = False) -> str:
    """A hazard in three words; some mean another thing to a perennial."""
    if perennial and hazard in _OF_PERENNIALS:
        return say(_OF_PERENNIALS[hazard])
    return say(THREE_WORDS.get(hazard or "", hazard or "reason not known"))


def reason(line: CropSeasons) -> str:
    """Why a crop has no window, in three words."""
    if line.limiting_factor is None and line.starts and not any(s.windows or s.possible for s in line.starts):
        lacks_figures = all(s.unknown and not any("record" in u for u in s.unknown) for s in line.starts)
        return say("handbook lacks figures") if lacks_figures else say("record too short")
    perennial = bool(line.starts) and all(s.reliability is None for s in line.starts)
    return three_words(line.limiting_factor, perennial=perennial)


def named_with_water(line: CropSeasons) -> str:
    """A crop's name; where stored water does not reach, with what it draws: 'tomato (draws 412 litres/m2)'."""
    if line.limiting_factor != "want of water":
        return say_crop(line.crop)
    dry = [s.want_of_water for s in line.starts if s.want_of_water is not None and s.want_of_water.litres is not None]
    best = max(dry, key=lambda d: d.reliability, default=None)
    return (
        say_crop(line.crop)
        if best is None or best.litres is None
        else say("{crop} (draws {water})", crop=say_crop(line.crop), water=told(best.litres, "litres/m2", ".0f"))
    )


def in_ten(share: float) -> str:
    """A share as years in ten, never more sure than it is: 0.97 is '9 in 10'."""
    if share >= 0.995:
        return say("10 in 10")
    return say("{count} in 10", count=int(share * 10 + 1e-9))


def years_in_ten(share: float) -> str:
    """The same with its noun: '9 years in 10', '1 year in 10', 'hardly ever'."""
    count = in_ten(share).partition(" ")[0]
    return {"0": say("hardly ever"), "1": say("1 year in 10")}.get(count, say("{count} years in 10", count=count))


def best_odds(line: CropSeasons) -> str:
    """In how many years the best of a crop's possible dates work: '7 years in 10'."""
    return years_in_ten(max((w.reliability for s in line.starts for w in s.possible), default=0.0))


def at_best(line: CropSeasons) -> str:
    """The same in full: 'works 7 years in 10 at best'."""
    perennial = all(s.reliability is None for s in line.starts)
    often = best_odds(line)
    return say("crops {often}", often=often) if perennial else say("works {often} at best", often=often)


def odds_text(share: float) -> str:
    """Odds asked for, as years in ten where they are whole, else per cent."""
    tenths = share * 10
    return (
        say("{years} in 10", years=counted(round(tenths), "year"))
        if abs(tenths - round(tenths)) < 1e-6
        else say("{share:.0%} of years", share=share)
    )


def interval_of(verdict: CropVerdict) -> tuple[tuple[float, float] | None, int]:
    """Interval of a verdict's odds, where it is known, and the years that carry them."""
    window = verdict.evidence.get("window")
    if isinstance(window, Window):
        return window.interval, window.years_decided
    interval, years = (verdict.evidence.get(k) for k in ("interval_of_few_years", "years_decided"))
    if isinstance(interval, tuple) and isinstance(years, int):
        return (interval[0], interval[1]), years
    return None, 0


def short_odds(verdict: CropVerdict, unknown: str) -> str:
    """Odds for a cell of a table: '8 in 10', with their interval where few years carry them."""
    if verdict.reliability is None:
        return unknown
    interval, years = interval_of(verdict)
    if interval is None or years >= ENOUGH:
        return in_ten(verdict.reliability)
    low, high = (figure(share, ".0%") for share in interval)
    return f"{in_ten(verdict.reliability)} ({low}-{high})"


def _per_cent(share: float) -> str:
    """A share that is not nothing, as per cent."""
    return say("under 0.1 per cent") if share < 0.0005 else say("{x:.1f} per cent", x=100.0 * share)


def odds_of_few(share: float, interval: Sequence[float] | None, years: int) -> str:
    """Odds as years in ten; where few years carry them with their number and interval (95 per cent)."""
    if interval is None or years >= ENOUGH:
        return years_in_ten(share)
    low, high = interval
    return say(
        "{often} (from {years} only: {low:.0%} to {high:.0%})",
        often=years_in_ten(share),
        years=counted(years, "year"),
        low=low,
        high=high,
    )


def record_of_summary(summary: ClimateSummary) -> Record | None:
    """The record that a place's figures rest on; None where they do not say."""
    s = summary
    if s.record_first is None or s.record_last is None or s.record_years is None:
        return None
    filled, missing = s.record_filled_days or 0, s.record_missing_days or 0
    kind = s.record_kind or "observed"
    return Record(s.record_first, s.record_last, s.record_years, kind, filled_days=filled, missing_days=missing)


def record_text(record: Record, *, brief: bool = False) -> str:
    """What an answer rests on: '30 years, 1991 to 2020, generated from monthly normals'; `brief` where the foot says
    what that means."""
    kind = {
        "generated": say(", generated") if brief else say(", generated from monthly normals"),
        "mixed": say(", partly generated"),
    }.get(record.kind, "")
    filled = (
        say(", {days} ({share}) filled", days=counted(record.filled_days, "day"), share=_per_cent(record.filled_share))
        if record.filled_days
        else ""
    )
    missing = say(", {days} missing", days=counted(record.missing_days, "day")) if record.missing_days else ""
    return say(
        "{years}, {first} to {last}{kind}{filled}{missing}",
        years=counted(record.years, "year"),
        first=record.first[:4],
        last=record.last[:4],
        kind=kind,
        filled=filled,
        missing=missing,
    )


def foot_text(record: Record | None, made_by: MadeBy | None, *, promise: bool = True) -> str:
    """The last sentences of a screen: what generated weather is worth, that odds are odds, what it was made with."""
    rough = say(_GENERATED) if record is not None and record.kind == "generated" else ""
    return " ".join(filter(None, (rough, say(NO_PROMISE) if promise else "", made_by.short() if made_by else "")))


def some_of(names: Sequence[str], most: int = 4) -> str:
    """Some names, the rest counted: 'leek, kale and 3 more'; 'none' where there are none."""
    more = say(" and {count} more", count=len(names) - most) if len(names) > most else ""
    return ", ".join(names[:most]) + more if names else say("none")


def within_error(found: OffsetRange) -> str:
    """What becomes of a window within the error of the plot's own thermometer."""
    low, high = (in_ten(share).partition(" ")[0] for share in found.reliability)
    often = counted(int(low), "year") if low == high else say("{low} to {high} years", low=low, high=high)
    said = say("within the error of your thermometer {often} in 10", often=often)
    for word, span in ((phrase("colder"), found.if_colder), (phrase("warmer"), found.if_warmer)):
        said += say("; if {word}, {span}", word=say(word), span=span_text(*span) if span else say("no dates"))
    return said


def per_cent(share: float) -> str:
    """A share as whole per cent, never outside 0 to 100."""
    return figure(min(max(share, 0.0), 1.0), ".0%")


JOB_WORDS = {  # of the jobs of a week: what is done to the crop
    "raise under cover": phrase("under cover"),
    "sow outdoors": phrase("sown outdoors"),
    "set out": phrase("set out"),
    "plant": phrase("planted"),
    "pick": phrase("picked"),
}


def job_words(way: str) -> str:
    """What is done to start a crop one way: 'sow outdoors'."""
    return say(JOB_OF_WAY.get(way, way))


def window_sentences(window: Window) -> list[str]:
    """What is told of a window beside its dates and its odds, a sentence each, without full stops: how sure its edges
    are, what is raised first, what is picked."""
    edges = [
        say("{which} between {day} and {day2}", which=which, day=day_text(e[0]), day2=day_text(e[1]))
        for which, e in ((say("opens"), window.start_interval), (say("closes"), window.end_interval))
        if e and e[0] != e[1]
    ]
    out = [say("Its edges, give or take: {names}", names=", ".join(edges))] if edges else []
    if window.offset_range:
        words = within_error(window.offset_range)
        out.append(f"{words[0].upper()}{words[1:]}")
    if window.raise_under_cover:
        out.append(say("Sow under cover {span}", span=span_text(*window.raise_under_cover)))
    if (picking := window.first_picking) is not None:
        ends = "" if window.last_picking is None else say(" and ends about {day}", day=day_text(window.last_picking))
        out.append(
            say(
                "From the best day, picking begins about {day}, {days} on ({day2} to {day3} in 8 years of 10){ends}",
                day=day_text(picking.p50),
                days=counted(picking.days_after_start, "day"),
                day2=day_text(picking.p10),
                day3=day_text(picking.p90),
                ends=ends,
            )
        )
    return [*out, say("Gives {share} of a full crop on average", share=per_cent(window.yield_fraction))]


def windows_in_words(line: CropSeasons) -> tuple[tuple[str, str], ...]:
    """Every window of a crop, the possible ones where a way has no better: the job and its dates; then its best day,
    its odds and all else."""
    out = []
    for way in line.starts:
        for window in way.windows or way.possible:
            low, high = window.interval
            sentences = [
                say("best about {day}" if way.windows else "chancy, best about {day}", day=day_text(window.best)),
                say(
                    "Works {often} ({years} judged; give or take, {share} to {share2})",
                    often=years_in_ten(window.reliability),
                    years=counted(window.years_decided, "year"),
                    share=per_cent(low),
                    share2=per_cent(high),
                ),
                *window_sentences(window),
            ]
            job = job_words(way.way).capitalize()
            out.append((f"{job} {span_text(window.start, window.end)}", f"{'. '.join(sentences)}."))
    return tuple(out)


_NOT_WORTH_IT = {
    "no earlier harvest": phrase("waiting costs hardly a day of harvest"),
    "poorer crop": phrase("a poorer crop for its time in the bed"),
    "too long in the bed": phrase("it holds the bed too long"),
    "too much water": phrase("it draws more water than there is for it"),
}


def advice_sentences(advice: Advice) -> list[str]:
    """The five dates of a season in plain sentences, best fortnight first; what is not known is left out.

    Examples
    --------
    >>> for said in advice_sentences(Advice("spring", 99, 112, None, 77, 11, 214, 0.64, 274, (77, 114), ())):
    ...     print(said)
    Best fortnight in spring: 10 Apr to 23 Apr.
    Earliest safe day: 19 Mar, picked 11 days before the best fortnight.
    Last chance: 3 Aug, for 64% of a full crop, picked from 2 Oct.
    For pickings a fortnight apart: 19 Mar, 25 Apr.
    """
    best = say(
        "Best fortnight in {season}: {span}",
        season=say(advice.season),
        span=span_text(advice.best_start, advice.best_end),
    )
    picked = advice.first_picking
    out = [say("{best}, picked from about {day}.", best=best, day=day_text(picked.p50)) if picked else f"{best}."]
    if advice.earliest_safe is not None:
        early = say("Earliest safe day: {day}", day=day_text(advice.earliest_safe))
        gain = advice.gains_days or 0
        out.append(
            say("{early}, picked {days} before the best fortnight.", early=early, days=counted(gain, "day"))
            if gain > 0
            else f"{early}."
        )
    if advice.last_chance is not None and advice.last_yield is not None:
        late = say(
            "Last chance: {day}, for {share} of a full crop",
            day=day_text(advice.last_chance),
            share=per_cent(advice.last_yield),
        )
        out.append(
            f"{late}."
            if advice.last_picked is None
            else say("{late}, picked from {day}.", late=late, day=day_text(advice.last_picked))
        )
    if len(advice.succession) > 1:
        out.append(
            say("For pickings a fortnight apart: {names}.", names=", ".join(day_text(day) for day in advice.succession))
        )
    out += [
        say("Not worth it {span}: {why}.", span=span_text(n.start, n.end), why=say(_NOT_WORTH_IT[n.why]))
        for n in advice.not_worth_it
    ]
    return out


def outside_words(outside: Outside) -> str:
    """Start days that do not serve, and why."""
    why = three_words(outside.hazard)
    return f"{span_text(outside.start, outside.end)}: {why}, {years_in_ten(outside.share_of_years)}"


def when_words(way: WayResult) -> str:
    """The advised start days of one way in a few words; '' where there are none."""
    if not way.windows:
        return ""
    return f"{job_words(way.way)} {', '.join(span_text(w.start, w.end) for w in way.windows)}"


_ALL_NAMED = 32  # years; of more every fifth is named, so that a screen holds them


def _day(day: int | None) -> str:
    return say("never") if day is None else day_text(day)


def opening_rains_words(rains: OpeningRains) -> str:
    """'12 Oct in the middle year; 1 year in 10 by 20 Sep, 9 in 10 by 8 Nov'."""
    if rains.p50 is None:
        return say("not within half a year of late summer in the middle year")
    late = say("1 year in 10 or more without") if rains.p90 is None else say("9 in 10 by {day}", day=_day(rains.p90))
    return say(
        "{day} in the middle year; 1 year in 10 by {day2}, {late}", day=_day(rains.p50), day2=_day(rains.p10), late=late
    )


def opening_rains_by_year(rains: OpeningRains) -> str:
    """Every year's day, after what is counted; of many years in a row each fifth is named."""
    few = len(rains.years) <= _ALL_NAMED
    told, before = [], None
    for year, day in rains.years:
        named = few or year % 5 == 0 or before is None or year != before + 1
        told.append(f"{year} {_day(day)}" if named else _day(day))
        before = year
    how = "" if few else say(", year by year")
    return say(
        "Opening rains, {definition}{how}: {names}.", definition=say(rains.definition), how=how, names=", ".join(told)
    )


# Usual English names of the families: common practice, no source.
PLAIN_NAMES = {
    "Actinidiaceae": phrase("kiwi"),
    "Aizoaceae": phrase("ice plant"),
    "Amaranthaceae": phrase("goosefoot"),
    "Amaryllidaceae": phrase("onion"),
    "Anacardiaceae": phrase("cashew"),
    "Annonaceae": phrase("soursop"),
    "Apiaceae": phrase("carrot"),
    "Araceae": phrase("arum"),
    "Asparagaceae": phrase("asparagus"),
    "Asteraceae": phrase("daisy"),
    "Betulaceae": phrase("birch"),
    "Boraginaceae": phrase("borage"),
    "Brassicaceae": phrase("cabbage"),
    "Cactaceae": phrase("cactus"),
    "Capparaceae": phrase("caper"),
    "Caprifoliaceae": phrase("honeysuckle"),
    "Convolvulaceae": phrase("bindweed"),
    "Cucurbitaceae": phrase("gourd"),
    "Ebenaceae": phrase("ebony"),
    "Ericaceae": phrase("heather"),
    "Fabaceae": phrase("pea"),
    "Fagaceae": phrase("beech"),
    "Grossulariaceae": phrase("currant"),
    "Iridaceae": phrase("iris"),
    "Juglandaceae": phrase("walnut"),
    "Lamiaceae": phrase("mint"),
    "Lauraceae": phrase("laurel"),
    "Lythraceae": phrase("loosestrife"),
    "Malvaceae": phrase("mallow"),
    "Moraceae": phrase("mulberry"),
    "Myrtaceae": phrase("myrtle"),
    "Oleaceae": phrase("olive"),
    "Passifloraceae": phrase("passion flower"),
    "Poaceae": phrase("grass"),
    "Polygonaceae": phrase("dock"),
    "Portulacaceae": phrase("purslane"),
    "Rhamnaceae": phrase("buckthorn"),
    "Rosaceae": phrase("rose"),
    "Rutaceae": phrase("citrus"),
    "Solanaceae": phrase("nightshade"),
    "Tropaeolaceae": phrase("nasturtium"),
    "Verbenaceae": phrase("verbena"),
    "Vitaceae": phrase("vine"),
}


def family_name(family: str) -> str:
    """A family as 'pea family (Fabaceae)'; one that has no plain name here as it is."""
    plain = PLAIN_NAMES.get(family)
    return say("{plain} family ({family})", plain=say(plain), family=family) if plain else family


def litres(value: float) -> str:
    """The number of litres, to the nearest ten from a hundred up."""
    return amount(value if value > 0.5 else round(value), "litres", ",.0f", 10 if value >= 100 else 1)


def told_litres(value: float) -> str:
    """The same with the unit."""
    return f"{litres(value)} {unit_word('litres')}"


def kilograms(value: float) -> str:
    """The number of kilograms, with a decimal where they are few."""
    return amount(value, "kg", ".0f" if value >= 3 else ".1f")


def sentence(text: str) -> str:
    """With a capital at its beginning and a stop at its end."""
    text = say(text)
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') else '.'}"
