"""Words that every output uses alike: hazards in three words, odds, ways, what an answer rests on."""

from __future__ import annotations

from collections.abc import Sequence

from sowcal.climate.place_figures import ClimateSummary
from sowcal.climate.rain import OpeningRains
from sowcal.plurals import counted
from sowcal.provenance import MadeBy
from sowcal.suitability.perennials import ENOUGH
from sowcal.suitability.results import Advice, CropSeasons, CropVerdict, OffsetRange, Outside, Record, WayResult, Window
from sowcal.suitability.week import JOB_OF_WAY
from sowcal.year import day_text, span_text

__all__ = [
    "ENOUGH",
    "JOB_WORDS",
    "NO_PROMISE",
    "PLAIN_NAMES",
    "THREE_WORDS",
    "advice_sentences",
    "at_best",
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
    "when_words",
    "window_sentences",
    "windows_in_words",
    "within_error",
    "years_in_ten",
]

_GENERATED = "Weather generated from monthly normals: its odds of frost and heat are rough."
NO_PROMISE = "Odds are odds and no promise; local codes and licensed practice come first."

THREE_WORDS = {
    "frost": "killed by frost",
    "chilling": "harmed by chilling",
    "heat": "heat too great",
    "warm nights": "nights too warm",
    "cold soil": "soil too cold",
    "hot soil": "soil too hot",
    "too slow": "ripens too slowly",
    "low light": "light too low",
    "bolting": "bolts too soon",
    "day length": "day length wrong",
    "want of water": "want of water",
    "chill unmet": "winter chill unmet",
    "winter too mild": "winters too mild",
    "winter kill": "killed by winter",
    "frost on blossom": "frost on blossom",
    "summer kill": "killed by summer",
    "wet spring": "springs too wet",
}


# a perennial is not always killed: its crop is, or its summers are too hot for it to crop
_OF_PERENNIALS = {"frost": "frost spoils crop", "heat": "summers too hot", "too slow": "summers too cool"}


def three_words(hazard: str | None, *, perennial: bool = False) -> str:
    """A hazard in three words; some mean another thing to a perennial."""
    if perennial and hazard in _OF_PERENNIALS:
        return _OF_PERENNIALS[hazard]
    return THREE_WORDS.get(hazard or "", hazard or "reason not known")


def reason(line: CropSeasons) -> str:
    """Why a crop has no window, in three words."""
    if line.limiting_factor is None and line.starts and not any(s.windows or s.possible for s in line.starts):
        lacks_figures = all(s.unknown and not any("record" in u for u in s.unknown) for s in line.starts)
        return "handbook lacks figures" if lacks_figures else "record too short"
    perennial = bool(line.starts) and all(s.reliability is None for s in line.starts)
    return three_words(line.limiting_factor, perennial=perennial)


def named_with_water(line: CropSeasons) -> str:
    """A crop's name; where stored water does not reach, with what it draws: 'tomato (draws 412 litres/m2)'."""
    if line.limiting_factor != "want of water":
        return line.crop
    dry = [s.want_of_water for s in line.starts if s.want_of_water is not None and s.want_of_water.litres is not None]
    best = max(dry, key=lambda d: d.reliability, default=None)
    return line.crop if best is None else f"{line.crop} (draws {best.litres:.0f} litres/m2)"


def in_ten(share: float) -> str:
    """A share as years in ten, never more sure than it is: 0.97 is '9 in 10'."""
    if share >= 0.995:
        return "10 in 10"
    return f"{int(share * 10 + 1e-9)} in 10"


def years_in_ten(share: float) -> str:
    """The same with its noun: '9 years in 10', '1 year in 10', 'hardly ever'."""
    count = in_ten(share).partition(" ")[0]
    return {"0": "hardly ever", "1": "1 year in 10"}.get(count, f"{count} years in 10")


def at_best(line: CropSeasons) -> str:
    """In how many years the best of a crop's possible dates work: 'works 7 years in 10 at best'."""
    best = max((w.reliability for s in line.starts for w in s.possible), default=0.0)
    perennial = all(s.reliability is None for s in line.starts)
    often = years_in_ten(best)
    return f"crops {often}" if perennial else f"works {often} at best"


def odds_text(share: float) -> str:
    """Odds asked for, as years in ten where they are whole, else per cent."""
    tenths = share * 10
    return f"{counted(round(tenths), 'year')} in 10" if abs(tenths - round(tenths)) < 1e-6 else f"{share:.0%} of years"


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
    return f"{in_ten(verdict.reliability)} ({interval[0]:.0%}-{interval[1]:.0%})"


def _per_cent(share: float) -> str:
    """A share that is not nothing, as per cent."""
    return "under 0.1 per cent" if share < 0.0005 else f"{100.0 * share:.1f} per cent"


def odds_of_few(share: float, interval: Sequence[float] | None, years: int) -> str:
    """Odds as years in ten; where few years carry them with their number and interval (95 per cent)."""
    if interval is None or years >= ENOUGH:
        return years_in_ten(share)
    low, high = interval
    return f"{years_in_ten(share)} (from {counted(years, 'year')} only: {low:.0%} to {high:.0%})"


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
        "generated": ", generated" if brief else ", generated from monthly normals",
        "mixed": ", partly generated",
    }.get(record.kind, "")
    filled = (
        f", {counted(record.filled_days, 'day')} ({_per_cent(record.filled_share)}) filled"
        if record.filled_days
        else ""
    )
    missing = f", {counted(record.missing_days, 'day')} missing" if record.missing_days else ""
    return f"{counted(record.years, 'year')}, {record.first[:4]} to {record.last[:4]}{kind}{filled}{missing}"


def foot_text(record: Record | None, made_by: MadeBy | None, *, promise: bool = True) -> str:
    """The last sentences of a screen: what generated weather is worth, that odds are odds, what it was made with."""
    rough = _GENERATED if record is not None and record.kind == "generated" else ""
    return " ".join(filter(None, (rough, NO_PROMISE if promise else "", made_by.short() if made_by else "")))


def some_of(names: Sequence[str], most: int = 4) -> str:
    """Some names, the rest counted: 'leek, kale and 3 more'; 'none' where there are none."""
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more if names else "none"


def within_error(found: OffsetRange) -> str:
    """What becomes of a window within the error of the plot's own thermometer."""
    low, high = (in_ten(share).partition(" ")[0] for share in found.reliability)
    often = counted(int(low), "year") if low == high else f"{low} to {high} years"
    said = f"within the error of your thermometer {often} in 10"
    for word, span in (("colder", found.if_colder), ("warmer", found.if_warmer)):
        said += f"; if {word}, {span_text(*span) if span else 'no dates'}"
    return said


def per_cent(share: float) -> str:
    """A share as whole per cent, never outside 0 to 100."""
    return f"{min(max(share, 0.0), 1.0):.0%}"


JOB_WORDS = {  # of the jobs of a week: what is done to the crop
    "raise under cover": "under cover",
    "sow outdoors": "sown outdoors",
    "set out": "set out",
    "plant": "planted",
    "pick": "picked",
}


def job_words(way: str) -> str:
    """What is done to start a crop one way: 'sow outdoors'."""
    return JOB_OF_WAY.get(way, way)


def window_sentences(window: Window) -> list[str]:
    """What is told of a window beside its dates and its odds, a sentence each, without full stops: how sure its edges
    are, what is raised first, what is picked."""
    edges = [
        f"{which} between {day_text(e[0])} and {day_text(e[1])}"
        for which, e in (("opens", window.start_interval), ("closes", window.end_interval))
        if e and e[0] != e[1]
    ]
    out = [f"Its edges, give or take: {', '.join(edges)}"] if edges else []
    if window.offset_range:
        words = within_error(window.offset_range)
        out.append(f"{words[0].upper()}{words[1:]}")
    if window.raise_under_cover:
        out.append(f"Sow under cover {span_text(*window.raise_under_cover)}")
    if (picking := window.first_picking) is not None:
        ends = "" if window.last_picking is None else f" and ends about {day_text(window.last_picking)}"
        out.append(
            f"From the best day, picking begins about {day_text(picking.p50)}, "
            f"{counted(picking.days_after_start, 'day')} on "
            f"({day_text(picking.p10)} to {day_text(picking.p90)} in 8 years of 10){ends}"
        )
    return [*out, f"Gives {per_cent(window.yield_fraction)} of a full crop on average"]


def windows_in_words(line: CropSeasons) -> tuple[tuple[str, str], ...]:
    """Every window of a crop, the possible ones where a way has no better: the job and its dates; then its best day,
    its odds and all else."""
    out = []
    for way in line.starts:
        for window in way.windows or way.possible:
            low, high = window.interval
            sentences = [
                f"{'' if way.windows else 'chancy, '}best about {day_text(window.best)}",
                f"Works {years_in_ten(window.reliability)} ({counted(window.years_decided, 'year')} judged; "
                f"give or take, {per_cent(low)} to {per_cent(high)})",
                *window_sentences(window),
            ]
            job = job_words(way.way).capitalize()
            out.append((f"{job} {span_text(window.start, window.end)}", f"{'. '.join(sentences)}."))
    return tuple(out)


_NOT_WORTH_IT = {
    "no earlier harvest": "waiting costs hardly a day of harvest",
    "poorer crop": "a poorer crop for its time in the bed",
    "too long in the bed": "it holds the bed too long",
    "too much water": "it draws more water than there is for it",
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
    best = f"Best fortnight in {advice.season}: {span_text(advice.best_start, advice.best_end)}"
    picked = advice.first_picking
    out = [f"{best}, picked from about {day_text(picked.p50)}." if picked else f"{best}."]
    if advice.earliest_safe is not None:
        early = f"Earliest safe day: {day_text(advice.earliest_safe)}"
        gain = advice.gains_days or 0
        out.append(f"{early}, picked {counted(gain, 'day')} before the best fortnight." if gain > 0 else f"{early}.")
    if advice.last_chance is not None and advice.last_yield is not None:
        late = f"Last chance: {day_text(advice.last_chance)}, for {per_cent(advice.last_yield)} of a full crop"
        out.append(f"{late}." if advice.last_picked is None else f"{late}, picked from {day_text(advice.last_picked)}.")
    if len(advice.succession) > 1:
        out.append(f"For pickings a fortnight apart: {', '.join(day_text(day) for day in advice.succession)}.")
    out += [f"Not worth it {span_text(n.start, n.end)}: {_NOT_WORTH_IT[n.why]}." for n in advice.not_worth_it]
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
    return "never" if day is None else day_text(day)


def opening_rains_words(rains: OpeningRains) -> str:
    """'12 Oct in the middle year; 1 year in 10 by 20 Sep, 9 in 10 by 8 Nov'."""
    if rains.p50 is None:
        return "not within half a year of late summer in the middle year"
    late = "1 year in 10 or more without" if rains.p90 is None else f"9 in 10 by {_day(rains.p90)}"
    return f"{_day(rains.p50)} in the middle year; 1 year in 10 by {_day(rains.p10)}, {late}"


def opening_rains_by_year(rains: OpeningRains) -> str:
    """Every year's day, after what is counted; of many years in a row each fifth is named."""
    few = len(rains.years) <= _ALL_NAMED
    told, before = [], None
    for year, day in rains.years:
        named = few or year % 5 == 0 or before is None or year != before + 1
        told.append(f"{year} {_day(day)}" if named else _day(day))
        before = year
    how = "" if few else ", year by year"
    return f"Opening rains, {rains.definition}{how}: {', '.join(told)}."


# Usual English names of the families: common practice, no source.
PLAIN_NAMES = {
    "Actinidiaceae": "kiwi",
    "Aizoaceae": "ice plant",
    "Amaranthaceae": "goosefoot",
    "Amaryllidaceae": "onion",
    "Anacardiaceae": "cashew",
    "Annonaceae": "soursop",
    "Apiaceae": "carrot",
    "Araceae": "arum",
    "Asparagaceae": "asparagus",
    "Asteraceae": "daisy",
    "Betulaceae": "birch",
    "Boraginaceae": "borage",
    "Brassicaceae": "cabbage",
    "Cactaceae": "cactus",
    "Capparaceae": "caper",
    "Caprifoliaceae": "honeysuckle",
    "Convolvulaceae": "bindweed",
    "Cucurbitaceae": "gourd",
    "Ebenaceae": "ebony",
    "Ericaceae": "heather",
    "Fabaceae": "pea",
    "Fagaceae": "beech",
    "Grossulariaceae": "currant",
    "Iridaceae": "iris",
    "Juglandaceae": "walnut",
    "Lamiaceae": "mint",
    "Lauraceae": "laurel",
    "Lythraceae": "loosestrife",
    "Malvaceae": "mallow",
    "Moraceae": "mulberry",
    "Myrtaceae": "myrtle",
    "Oleaceae": "olive",
    "Passifloraceae": "passion flower",
    "Poaceae": "grass",
    "Polygonaceae": "dock",
    "Portulacaceae": "purslane",
    "Rhamnaceae": "buckthorn",
    "Rosaceae": "rose",
    "Rutaceae": "citrus",
    "Solanaceae": "nightshade",
    "Tropaeolaceae": "nasturtium",
    "Verbenaceae": "verbena",
    "Vitaceae": "vine",
}


def family_name(family: str) -> str:
    """A family as 'pea family (Fabaceae)'; one that has no plain name here as it is."""
    plain = PLAIN_NAMES.get(family)
    return f"{plain} family ({family})" if plain else family


def litres(value: float) -> str:
    """Litres, to the nearest ten from a hundred up."""
    return f"{round(value, -1) if value >= 100 else round(value):,.0f}"


def kilograms(value: float) -> str:
    """Kilograms, with a decimal where they are few."""
    return f"{value:.0f}" if value >= 3 else f"{value:.1f}"


def sentence(text: str) -> str:
    """With a capital at its beginning and a stop at its end."""
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') else '.'}"
