"""What each figure of a place counts: its threshold and its words, together, so that they cannot part."""

from __future__ import annotations

from dataclasses import dataclass

from sowcal.climate.chill import HOURS_SEASON, PORTIONS_SEASON
from sowcal.climate.growing_years import MOST_MISSING, Span
from sowcal.climate.rain import OPENING_AFTER, OPENING_AMOUNT, OPENING_DAYS, OPENING_WORDS
from sowcal.languages import phrase
from sowcal.year import LONG_DAYS, MONTHS

__all__ = [
    "ABOVE",
    "DEGREE_DAY_BASE",
    "DEGREE_DAY_TOP",
    "EVAPOTRANSPIRATION",
    "FROST",
    "HOT",
    "LEAST_YEARS",
    "STRICT",
    "VERY_HOT",
    "WARM_NIGHT",
    "Definition",
    "chill_definitions",
    "definitions",
    "plain_name",
]

FROST = 0.0  # degC, a minimum below it: the freezing point
DEGREE_DAY_BASE, DEGREE_DAY_TOP = 10.0, 30.0  # degC, of warm crops at large: common practice, no source
HOT, VERY_HOT = 30.0, 35.0  # degC, maxima above: the AHS heat zones count above 86 degF; 35 is common practice
WARM_NIGHT = 20.0  # degC, minima above: 'tropical nights', common practice, no source
EVAPOTRANSPIRATION = "Hargreaves-Samani (FAO-56 eq. 52)"
LEAST_YEARS = 3  # fewer carry no odds at all: common practice, no source

STRICT = phrase("Above and below: strictly.")


_LAST_DAY = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


ABOVE = {  # short names of the counts by month, as tables head them
    "hot_days_30": phrase("days above {limit:g} degC", limit=HOT),
    "hot_days_35": phrase("days above {limit:g} degC", limit=VERY_HOT),
    "warm_nights_20": phrase("nights above {limit:g} degC", limit=WARM_NIGHT),
}


_NAMES = {
    "tasmin": phrase("mean minimum"),
    "tasmax": phrase("mean maximum"),
    "pr": phrase("rain"),
    "chill_portions": phrase("winter chill, portions"),
    "chill_hours": phrase("winter chill, hours"),
    "chill_units": phrase("winter chill, units"),
    **ABOVE,
}


@dataclass(frozen=True, slots=True)
class Definition:
    """What a figure counts.

    Attributes
    ----------
    short : str
        A few words to stand at the figure.
    sentence : str
        All that is needed to reckon it again from the days of the record.
    """

    short: str
    sentence: str


def _later(when: tuple[int, int], southern: bool) -> tuple[int, int]:
    """A day written for the north; six months later in the south."""
    month, day = when
    return ((month - 1 + 6 * southern) % 12 + 1, day)


def _long(when: tuple[int, int]) -> str:
    return phrase(LONG_DAYS[when[0] - 1], day=when[1])


def _short(when: tuple[int, int]) -> str:
    return phrase("{day} {month}", day=when[1], month=MONTHS[when[0] - 1])


def _span(span: Span, southern: bool) -> tuple[str, str]:
    """A season of the year in short and in full, its last day counted in."""
    (month, day), (after, _) = (_later(edge, southern) for edge in span)
    last = (after - 2) % 12
    end = phrase("end of Feb") if last == 1 else _short((last + 1, _LAST_DAY[last]))
    to = phrase("the end of February") if last == 1 else _long((last + 1, _LAST_DAY[last]))
    brief = phrase("{start} to {end}", start=_short((month, day)), end=end)
    return brief, phrase("{start} to {end}", start=_long((month, day)), end=to)


def chill_definitions(latitude: float | None = None) -> dict[str, Definition]:
    """Winter chill by the names of the models; the seasons are those of the hemisphere (north where not known).

    Examples
    --------
    >>> chill_definitions(-35.0)["portions"].short
    'dynamic model, 1 Mar to 30 Sep'
    """
    southern = (latitude or 0.0) < 0.0
    hours, of_hours = _span(HOURS_SEASON, southern)
    portions, of_portions = _span(PORTIONS_SEASON, southern)
    base = phrase(
        "hours measured where the record has them, else rebuilt from daily minimum and maximum (Linvill 1990); mean "
        "over the seasons"
    )

    def of(words: str, what: str, short: str, season: str) -> Definition:
        return Definition(
            phrase("{words}, {span}", words=words, span=short),
            phrase("{what} from {season}; {base}.", what=what, season=season, base=base),
        )

    utah = phrase(
        "Utah chill units (Richardson, Seeley & Walker 1974: an hour counts from -1 to 1, warm hours take away)"
    )
    return {
        "hours below 7.2": of(
            phrase("strictly below 7.2 degC"), phrase("Hours strictly below 7.2 degC"), hours, of_hours
        ),
        "hours 0 to 7.2": of(
            phrase("0 to 7.2 degC"), phrase("Hours from 0 to 7.2 degC, both ends counted,"), hours, of_hours
        ),
        "Utah units": of("Utah", utah, hours, of_hours),
        "portions": of(
            phrase("dynamic model"),
            phrase(
                "Chill portions of the dynamic model (Fishman, Erez & Couvillon 1987), which starts empty each season,"
            ),
            portions,
            of_portions,
        ),
    }


def _frost(first: str, middle: str, southern: bool) -> dict[str, Definition]:
    """Of frost: a day with a minimum below the threshold."""
    below = phrase("a minimum strictly below {limit:g} degC", limit=FROST)
    ends = (_long((6, 30)), _long((12, 31))) if not southern else (_long((12, 31)), _long((6, 30)))
    odds = phrase("by order statistics at rank / (n + 1), cut to whole days, a year without frost lying")
    return {
        "last_spring_frost": Definition(
            phrase("minimum below {limit:g} degC", limit=FROST),
            phrase(
                "Last day with {below} from {first} to {ends}; p10, p50 and p90 are the dates by which it "
                "has passed in 10, 50 and 90 per cent of years, {odds} before all dates.",
                below=below,
                first=first,
                ends=ends[0],
                odds=odds,
            ),
        ),
        "first_autumn_frost": Definition(
            phrase("minimum below {limit:g} degC", limit=FROST),
            phrase(
                "First day with {below} from {middle} to {ends}; p10, p50 and p90 are the dates by which it "
                "has come in 10, 50 and 90 per cent of years, {odds} after them.",
                below=below,
                middle=middle,
                ends=ends[1],
                odds=odds,
            ),
        ),
        "frost_free_days": Definition(
            phrase("days between them"),
            phrase(
                "Days after the last and before the first day with {below} on either side of {middle}, "
                "neither counted, the whole growing year where there is none; p10, p50 and p90 over the "
                "years by linear interpolation, rounded.",
                below=below,
                middle=middle,
            ),
        ),
        **_frosts_of_years(middle, below),
    }


def _frosts_of_years(middle: str, below: str) -> dict[str, Definition]:
    return {
        "years_without_frost": Definition(
            phrase("no minimum below {limit:g} degC", limit=FROST),
            phrase("Share of growing years in which no day has {below}.", below=below),
        ),
        "frost_days": Definition(
            phrase("minimum below {limit:g} degC", limit=FROST),
            phrase("Days of a growing year with {below}, mean over the years.", below=below),
        ),
        "frost_by_year": Definition(
            phrase("minimum below {limit:g} degC", limit=FROST),
            phrase(
                "Of each growing year the last day with {below} before {middle} and the first from then on; "
                "null is none.",
                below=below,
                middle=middle,
            ),
        ),
    }


def _months() -> dict[str, Definition]:
    """Of the calendar months."""

    def above(value: float, which: str, what: str) -> Definition:
        return Definition(
            phrase("{which} above {value:g} degC", which=which, value=value),
            phrase(
                "{what} of the month with a {which} strictly above {value:g} degC, mean over the years.",
                what=what,
                which=which,
                value=value,
            ),
        )

    return {
        "tasmin": Definition(
            phrase("mean of daily minima"), phrase("Mean of the month's daily minima, mean over the years, degC.")
        ),
        "tasmax": Definition(
            phrase("mean of daily maxima"), phrase("Mean of the month's daily maxima, mean over the years, degC.")
        ),
        "pr": Definition(phrase("monthly totals"), phrase("Sum of the month's daily rain, mean over the years, mm.")),
        "reference_evapotranspiration": Definition(
            EVAPOTRANSPIRATION,
            phrase(
                "Sum of the month's daily evapotranspiration of short, watered grass by "
                "{method} from minimum, maximum and latitude, mean over the years, mm.",
                method=EVAPOTRANSPIRATION,
            ),
        ),
        "hot_days_30": above(HOT, phrase("maximum"), phrase("Days")),
        "hot_days_35": above(VERY_HOT, phrase("maximum"), phrase("Days")),
        "warm_nights_20": above(WARM_NIGHT, phrase("minimum"), phrase("Nights")),
    }


def _light_and_zones(middle: str) -> dict[str, Definition]:
    light = phrase("sunrise to sunset of the sun's centre, air bending no light (FAO-56 eq. 24, 25 and 34)")
    return {
        "hardiness_zone": Definition(
            phrase("USDA, mean yearly minimum"),
            phrase(
                "USDA half zone (5 degF each, 1a from -60 degF) of the mean of the lowest minima of the "
                "years that begin on {middle}; ten years at least.",
                middle=middle,
            ),
        ),
        "heat_zone": Definition(
            phrase("AHS, days above {limit:g} degC", limit=HOT),
            phrase(
                "AHS heat zone (1 is less than 1 day, 12 more than 210) of the mean number of days of a "
                "growing year with a maximum strictly above {limit:g} degC.",
                limit=HOT,
            ),
        ),
        "shortest_day": Definition(
            phrase("sunrise to sunset"), phrase("Hours of the year's shortest day, {light}.", light=light)
        ),
        "longest_day": Definition(
            phrase("sunrise to sunset"), phrase("Hours of the year's longest day, {light}.", light=light)
        ),
    }


def definitions(latitude: float | None = None) -> dict[str, Definition]:
    """By the names of the figures of a `ClimateSummary`.

    Parameters
    ----------
    latitude : float, optional
        Degrees north; its sign decides the dates told, those of the north where it is left out.

    Returns
    -------
    dict of str to Definition
        Beside the figures also `growing_year` and `left_out`, which hold for all of them.

    Examples
    --------
    >>> definitions(38.0)["frost_days"].sentence
    'Days of a growing year with a minimum strictly below 0 degC, mean over the years.'
    """
    southern = (latitude or 0.0) < 0.0
    first, middle = (_long(_later((month, 1), southern)) for month in (1, 7))
    chill = chill_definitions(latitude)
    after = _long(_later(OPENING_AFTER, southern))
    missing = phrase("{share:g} per cent", share=100 * MOST_MISSING)
    return {
        "growing_year": Definition(
            phrase("from {first}", first=first),
            phrase("A growing year begins on {first} and is named by that day's year.", first=first),
        ),
        "left_out": Definition(
            phrase("over {missing} missing", missing=missing),
            phrase(
                "A year, half-year, season or month that lacks more than {missing} of its days is left out; "
                "odds need {years} years.",
                missing=missing,
                years=LEAST_YEARS,
            ),
        ),
        **_frost(first, middle, southern),
        "growing_degree_days": _warmth(),
        **_months(),
        "chill_portions": chill["portions"],
        "chill_hours": chill["hours 0 to 7.2"],
        "chill_units": chill["Utah units"],
        **_light_and_zones(middle),
        **_opening_rains(after),
        "trends": Definition(
            phrase("Theil-Sen slope of means; seasons clear of zero"),
            phrase(
                "Theil-Sen slope of the means of a season over the years with its 95 per cent interval (Sen 1968), "
                "degC in ten years; a season needs 80 per cent of its days, a trend ten years."
            ),
        ),
    }


def _warmth() -> Definition:
    return Definition(
        phrase("single sine, {base:g} to {top:g} degC", base=DEGREE_DAY_BASE, top=DEGREE_DAY_TOP),
        phrase(
            "Sum over a growing year of the daily degree days of a single sine from the day's minimum "
            "to its maximum (Baskerville & Emin 1969), base {base:g} degC, cut horizontally "
            "at {top:g} degC (warmth above it counts as {top:g} degC), mean over "
            "the years, degC day.",
            base=DEGREE_DAY_BASE,
            top=DEGREE_DAY_TOP,
        ),
    )


def _opening_rains(after: str) -> dict[str, Definition]:
    rains = phrase(
        "First day by which {amount:g} mm have fallen within {days} days (that day "
        "and the {before} before it), rain counted from {after}, within six months",
        amount=OPENING_AMOUNT,
        days=OPENING_DAYS,
        before=OPENING_DAYS - 1,
        after=after,
    )
    return {
        "opening_rains": Definition(
            OPENING_WORDS,
            phrase("{rains}; the middle year's, a year without them coming last.", rains=rains),
        ),
        "opening_rains_by_year": Definition(
            OPENING_WORDS,
            phrase(
                "{rains}; null is none; p10, p50 and p90 are the dates by which they have come in that share of years.",
                rains=rains,
            ),
        ),
    }


def plain_name(key: str) -> str:
    """A figure's name for people.

    Examples
    --------
    >>> plain_name("tasmin"), plain_name("frost_days")
    ('mean minimum', 'frost days')
    """
    return _NAMES.get(key, key.replace("_", " "))
