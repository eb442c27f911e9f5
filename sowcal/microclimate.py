"""What-ifs: documented changes to what the plant feels.

Each takes the daily record and returns a changed one. Temperatures are changed in place of the screen's; its
`felt` tells the engine the rest: the share of open light, that of open sky at night (how much of the clear-night
cooling of leaves is left), degC taken off the heat that reaches crown and roots, and the surface of the seed bed. The
figures are common practice without a source unless one is named. What is
measured of such covers spreads widely: each says how much of its middle effect its weak and its strong end have, and
`fleece@weak` or `fleece@strong` asks for them.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sowcal.errors import InputError
from sowcal.languages import phrase
from sowcal.weather.record import MISSING, Felt

if TYPE_CHECKING:
    from sowcal.weather.record import DailyRecord

__all__ = [
    "LAPSE_RATE",
    "MOST_AIR",
    "WHAT_IFS",
    "WhatIf",
    "check_together",
    "parse_what_if",
    "with_what_ifs",
]


LAPSE_RATE = 6.5  # K per km, ICAO standard atmosphere (from memory)
MOST_AIR = 10.0  # degC by which all changes together may move the air's daily mean; common practice, no source


@dataclass(frozen=True)
class WhatIf:
    """One possible change.

    Attributes
    ----------
    name : str
        Word on the command line.
    says : str
        What it is, for people; `{amount:g}` takes the amount.
    unit : str
        Unit of the amount, '' where there is none.
    usual, least, most : float
        Amount where none is given, and its range.
    effect : callable
        From (record, amount) to a changed record.
    weak, strong : callable or None
        The same at the weak and at the strong end of what is known of it; None where no range is told.
    range_says : str
        That range in words.
    basis : str
        Where the figures come from.
    lifts : bool
        Whether a grower can do it, so that a verdict may name it as a remedy.
    air : tuple of two float
        Degrees by which one unit of the amount moves nights and days where it acts in full, warmer positive.
    """

    name: str
    says: str
    unit: str
    usual: float
    least: float
    most: float
    effect: Callable[[DailyRecord, float], DailyRecord]
    basis: str = "common practice, no source"
    lifts: bool = True
    air: tuple[float, float] = (0.0, 0.0)
    weak: Callable[[DailyRecord, float], DailyRecord] | None = None
    strong: Callable[[DailyRecord, float], DailyRecord] | None = None
    range_says: str = ""


def _changed(
    record: DailyRecord,
    *,
    nights: float | np.ndarray = 0.0,
    days: float | np.ndarray = 0.0,
    light: float = 1.0,
    sky: float = 1.0,
    crown: float = 0.0,
    seedbed: str | None = None,
) -> DailyRecord:
    tasmin, tasmax = record["tasmin"] + nights, record["tasmax"] + days
    before = record.felt
    felt = Felt(
        before.light_share * light, before.sky_share * sky, before.crown_relief + crown, seedbed or before.seedbed
    )
    # a cooled day is never colder than its night
    air = {"tasmin": tasmin, "tasmax": np.where(tasmax < tasmin, tasmin, tasmax)}
    # sunshine and clear nights are told from the open site's range
    return replace(record.with_values(air), open_range=record.daily_range, felt=felt)


def _clear(record: DailyRecord) -> np.ndarray:
    """0 on dull days to 1 on clear ones, by the daily range (6 to 16 degC)."""
    return np.clip((record.daily_range - 6.0) / 10.0, 0.0, 1.0)


def _vented(record: DailyRecord, gain: float, opened_at: float) -> np.ndarray:
    """Day-time gain under glass or film that is opened when it gets warm inside."""
    return np.clip(opened_at - record["tasmax"], 0.0, gain)


_Effect = Callable[["DailyRecord", float], "DailyRecord"]


def _shade_cloth(by_share: float, crown: float) -> _Effect:
    """Degrees by which leaves under full shade would run cooler at noon of a clear day, and what crowns are spared."""

    def effect(record: DailyRecord, percent: float) -> DailyRecord:
        share = percent / 100.0
        days = -by_share * share * _clear(record)
        return _changed(record, days=days, light=1.0 - share, sky=1.0 - share, crown=crown * share)

    return effect


def _afternoon_shade(days: float, crown: float) -> _Effect:
    return lambda record, _: _changed(record, days=-days * _clear(record), light=0.75, sky=0.9, crown=crown)


def _mulch(crown: float, nights: float) -> _Effect:
    """Straw keeps the crown cool in the day; at night it keeps the soil's warmth from the air, on clear nights most."""
    return lambda record, _: _changed(record, crown=crown, nights=-nights * _clear(record), seedbed="mulched")


def _fleece(nights: float, on_clear: float) -> _Effect:
    """Warmth of the nights in the mean, and the share of it that a clear night leaves."""

    def effect(record: DailyRecord, _: float) -> DailyRecord:
        kept = 1.0 - (1.0 - on_clear) * _clear(record)
        return _changed(record, nights=nights * kept, days=_vented(record, 2.0, 25.0), light=0.85, sky=0.3)

    return effect


def _cold_frame(nights: float, days: float) -> _Effect:
    return lambda record, _: _changed(record, nights=nights, days=_vented(record, days, 26.0), light=0.8, sky=0.0)


def _tunnel(nights: float, days: float) -> _Effect:
    return lambda record, _: _changed(record, nights=nights, days=_vented(record, days, 28.0), light=0.8, sky=0.3)


def _irrigation(days: float, crown: float) -> _Effect:
    def effect(record: DailyRecord, _: float) -> DailyRecord:
        hot = np.clip((record["tasmax"] - 28.0) / 6.0, 0.0, 1.0)
        return _changed(record, days=-days * hot, crown=crown, seedbed="wet")

    return effect


def _warm_wall(nights: float, days: float) -> _Effect:
    return lambda record, _: _changed(record, nights=nights, days=days * _clear(record), sky=0.5)


def _frost_hollow(record: DailyRecord, depth: float) -> DailyRecord:
    return _changed(record, nights=-depth * _clear(record))


def _higher(record: DailyRecord, metres: float) -> DailyRecord:
    change = -LAPSE_RATE * metres / 1000.0
    return _changed(record, nights=change, days=change)


def _sea_air(record: DailyRecord, percent: float) -> DailyRecord:
    half = 0.5 * percent / 100.0 * (record["tasmax"] - record["tasmin"])
    return _changed(record, nights=half, days=-half)


def _slope(record: DailyRecord, degrees: float, aspect: float) -> DailyRecord:
    """Radiation alone: no published change of screen temperature on a slope was found to hold everywhere."""
    from sowcal.climate.sun import beam_ratio, extraterrestrial_radiation, radiation_ratio, solar_radiation_from_range

    day = (record.time - record.time.astype("datetime64[Y]").astype("datetime64[D]")).astype(int) + 1
    top = np.asarray(extraterrestrial_radiation(record.latitude, day))
    situation = "coast" if record.coast else "inland"
    level = np.asarray(solar_radiation_from_range(np.zeros(day.size), record.daily_range, top, situation=situation))
    if "rsds" in record:
        level = np.where(np.isfinite(record["rsds"]), record["rsds"], level)
    with np.errstate(invalid="ignore"):
        beam = beam_ratio(record.latitude, day, degrees, aspect)
        ratio = radiation_ratio(level / np.maximum(top, 0.1), beam, degrees)
    light = np.asarray(level * ratio)
    code = np.where(np.isnan(light), np.int8(MISSING), record.origin["tasmin"])
    return record.with_values({"rsds": light}, {} if "rsds" in record else {"rsds": code})


def _warmer(record: DailyRecord, degrees: float) -> DailyRecord:
    return _changed(record, nights=degrees, days=degrees)


def _with_range(
    name: str,
    says: str,
    effects: tuple[_Effect, _Effect, _Effect],
    air: tuple[float, float],
    range_says: str,
    basis: str = "common practice, no source",
) -> WhatIf:
    """A change without an amount, with its middle, weak and strong effect."""
    middle, weak, strong = effects
    return WhatIf(name, says, "", 1, 1, 1, middle, basis, True, air, weak, strong, range_says)


WHAT_IFS: dict[str, WhatIf] = {
    w.name: w
    for w in (
        WhatIf(
            "shade-cloth",
            phrase("{amount:g} per cent shade cloth"),
            "%",
            40,
            10,
            80,
            _shade_cloth(4.2, 2.0),
            "leaf extremes about 5 degF milder under two thirds shade (a louvre over soybean, abstract); air within "
            "1 degC under 47 to 91 per cent shade (mini-shadehouses 1994, abstract), 2.3 to 2.5 degC cooler under nets "
            "(Mahmood et al. 2018 as waterproductivity.org quotes it); what crowns are spared is common practice",
            air=(0.0, -0.042),
            weak=_shade_cloth(1.5, 0.5),
            strong=_shade_cloth(6.0, 2.5),
            range_says=phrase("at 40 per cent: noon of a clear day 0.6 to 2.4 degC cooler"),
        ),
        _with_range(
            "afternoon-shade",
            phrase("shade from midday"),
            (_afternoon_shade(1.5, 1.0), _afternoon_shade(0.5, 0.3), _afternoon_shade(2.5, 1.5)),
            (0.0, -1.5),
            phrase("clear days 0.5 to 2.5 degC cooler"),
        ),
        _with_range(
            "mulch",
            phrase("straw mulch"),
            (_mulch(1.5, 0.8), _mulch(0.5, 1.2), _mulch(2.5, 0.5)),
            (-0.8, 0.0),
            phrase("crowns spared 0.5 to 2.5 degC of heat, clear nights 0.5 to 1.2 degC colder over it"),
            "nights: O'Connell & Snyder 1999, California Agriculture 53(5):37-40 (abstract: cover crops or mulch lower "
            "minima in citrus by 0.9 to 2.2 degF); what crowns are spared is common practice",
        ),
        _with_range(
            "irrigation",
            phrase("watering in the heat"),
            (_irrigation(1.0, 1.0), _irrigation(0.4, 0.3), _irrigation(2.9, 1.5)),
            (0.0, -1.0),
            phrase("hot days 0.4 to 2.9 degC cooler"),
            "air over watered maize 0.4 to 0.5 degC cooler by day in July (two pairs of flux towers in Nebraska, "
            "authorea 311517), seldom more than 1 downwind of sprinklers (Kohl & Wright 1974, abstract), 2.9 above "
            "and 4.4 within soybeans (Ghafarian, Wieland & Nendel, Water, abstract); crowns: common practice",
        ),
        _with_range(
            "fleece",
            phrase("fleece"),
            (_fleece(1.0, 0.5), _fleece(0.3, 0.0), _fleece(1.8, 1.0)),
            (1.0, 2.0),
            phrase("nights 0.3 to 1.8 degC warmer in the mean, clear ones down to not at all"),
            "nights: Oregon State University, Row cover effects on minimum air temperature 1988 (means of minima 0.3 "
            "to 1.8 degC warmer, single clear, cool nights no warmer or colder); days: common practice",
        ),
        _with_range(
            "cold-frame",
            phrase("a cold frame"),
            (_cold_frame(2.5, 6.0), _cold_frame(0.0, 4.0), _cold_frame(5.0, 6.0)),
            (2.5, 6.0),
            phrase("nights not at all to 5 degC warmer, by how tight it is and what is laid over it"),
            "gardeners' readings: as cold as outside without sun, 9 degC warmer where mats are laid over the glass at "
            "night (skippysgarden.com, my-edible-garden.blogspot.com 2010); the rest is common practice",
        ),
        _with_range(
            "tunnel",
            phrase("a walk-in tunnel"),
            (_tunnel(1.3, 4.2), _tunnel(0.0, 4.2), _tunnel(2.5, 6.0)),
            (1.3, 4.2),
            phrase("nights not at all to 2.5 degC warmer"),
            "Savage 1980, Agrochemophysica 12:5-13 (abstract): minima 1.3 and maxima 4.2 degC above those outside, "
            "colder for an hour or two after sunset only; the range is common practice",
        ),
        _with_range(
            "warm-wall",
            phrase("a warm wall"),
            (_warm_wall(1.5, 1.5), _warm_wall(0.5, 0.5), _warm_wall(3.0, 3.0)),
            (1.5, 1.5),
            phrase("nights and clear days 0.5 to 3 degC warmer"),
            "one reading: 1.8 degC warmer under the eave of a house than in the open on a frosty night "
            "(gregalder.com 2021, southern California); the rest is common practice",
        ),
        WhatIf(
            "sea-air",
            phrase("sea air that takes {amount:g} per cent off the daily range"),
            "%",
            20,
            5,
            60,
            _sea_air,
            "common practice, no source: no published figure by distance from the sea was found to hold everywhere",
            False,
        ),
        WhatIf(
            "slope",
            phrase("a slope of {amount:g} degrees"),
            "degrees",
            10,
            1,
            45,
            lambda record, degrees: _slope(record, degrees, 180.0),
            "radiation by Allen, Trezza & Tasumi 2006, Agric. For. Meteorol. 139:55-73 (from memory)",
            False,
        ),
        WhatIf(
            "frost-hollow",
            phrase("a frost hollow {amount:g} degC deep"),
            "degC",
            2,
            0.5,
            6,
            _frost_hollow,
            lifts=False,
            air=(-1.0, 0.0),
        ),
        WhatIf(
            "higher",
            phrase("{amount:g} m higher"),
            "m",
            100,
            -1500,
            1500,
            _higher,
            "ICAO standard atmosphere, 6.5 K per km (from memory)",
            False,
            (-LAPSE_RATE / 1000.0, -LAPSE_RATE / 1000.0),
        ),
        WhatIf(
            "warmer",
            phrase("a climate warmer by {amount:g} degC"),
            "degC",
            2,
            -5,
            8,
            _warmer,
            "assumption of the asker",
            False,
            (1.0, 1.0),
        ),
    )
}


_BY_MONTH = ("warmer", "frost-hollow")
_POINTS = {p: 45.0 * k for k, p in enumerate(("N", "NE", "E", "SE", "S", "SW", "W", "NW"))}


def _facing(text: str) -> float:
    """Degrees clockwise from north of 'SW' or '225'."""
    if text.upper() in _POINTS:
        return _POINTS[text.upper()]
    if text.isdecimal() and int(text) <= 360:
        return float(text)
    raise InputError(
        f"{text!r} is no way to face; write slope@SW=15 with one of {', '.join(_POINTS)}, or degrees from north",
        where="--with slope",
    )


def _months(text: str, name: str) -> frozenset[int]:
    """Months of '6-8' or '11-2' or '7'."""
    try:
        first, _, last = text.partition("-")
        a, b = int(first), int(last or first)
    except ValueError:
        a = b = 0
    if not (1 <= a <= 12 and 1 <= b <= 12):
        raise InputError(f"{text!r} names no months; give 7 or 6-8 or 11-2", where=f"--with {name}")
    return frozenset((a - 1 + k) % 12 + 1 for k in range((b - a) % 12 + 1))


def parse_what_if(text: str) -> tuple[WhatIf, float, frozenset[int]]:
    """A what-if as written on the command line: `mulch`, `shade-cloth=40`, `warmer@6-8=2` (June to August only).

    Only changes of temperature alone can be held to months. A slope names the way it faces: `slope@SW=15`. What has
    a range may be asked at its ends: `fleece@weak`.
    """
    name, _, amount = text.strip().partition("=")
    name, _, when = name.partition("@")
    if name not in WHAT_IFS:
        near = difflib.get_close_matches(name, WHAT_IFS, 1)
        hint = f"; did you mean {near[0]!r}?" if near else ""
        raise InputError(f"there is no what-if {name!r}{hint}; known: {', '.join(WHAT_IFS)}", where="--with")
    what = WHAT_IFS[name]
    try:
        value = float(amount) if amount else what.usual
    except ValueError:
        raise InputError(f"{amount!r} is not a number", where=f"--with {name}") from None
    if not what.least <= value <= what.most:
        raise InputError(
            f"{value:g} is outside {what.least:g} to {what.most:g} {what.unit}".rstrip(),
            where=f"--with {name}",
        )
    if name == "slope":
        if not when:
            raise InputError("a slope needs the way it faces, such as slope@SW=15", where="--with slope")
        aspect = _facing(when)
        says = f"{what.says} facing {when.upper() if when.upper() in _POINTS else f'{when} degrees from north'}"
        changed = replace(what, says=says, effect=lambda record, degrees: _slope(record, degrees, aspect))
        return changed, value, frozenset(range(1, 13))
    if when in ("weak", "strong") and (end := getattr(what, when)) is not None:
        return replace(what, says=f"{what.says} at its {when} end", effect=end), value, frozenset(range(1, 13))
    months = _months(when, name) if when else frozenset(range(1, 13))
    if when and name not in _BY_MONTH:
        ends = f"; {name}@weak and {name}@strong are known of it" if what.weak else ""
        raise InputError(f"{name} holds all year; months go with: {', '.join(_BY_MONTH)}{ends}", where="--with")
    return what, value, months


def check_together(texts: Sequence[str], already: Sequence[str] = ()) -> None:
    """Nothing where changes can hold at once.

    The same change stands once, whatever its figure; held to months it may stand again for others
    (`warmer@6-8=2` and `warmer@12-2=1`). In no month does the mean of night and day move by more than `MOST_AIR` in
    all, warmer and colder set against each other, each change counted where it acts in full. Sea air and a slope move
    no mean.

    Parameters
    ----------
    texts : sequence of str
        As `parse_what_if` reads them.
    already : sequence of str, optional
        Changes that the days are under.

    Raises
    ------
    InputError
        For a change said twice, too much in all, or as `parse_what_if`.
    """
    seen: list[tuple[str, str, frozenset[int]]] = []
    shift = np.zeros(12)
    for k, text in enumerate([*already, *texts]):
        what, value, months = parse_what_if(text)
        if twice := [other for other, name, held in seen if name == what.name and held & months]:
            of_plot = (
                ", the first of which the plot is under already" if k >= len(already) and twice[0] in already else ""
            )
            raise InputError(
                f"{what.name} is there twice ({twice[0]} and {text.strip()}{of_plot}); leave the one that is meant",
                where="--with",
            )
        seen.append((text.strip(), what.name, months))
        shift[[m - 1 for m in months]] += 0.5 * sum(what.air) * value
    if (most := np.abs(shift).max()) > MOST_AIR + 1e-9:
        raise InputError(
            f"{', '.join(text for text, _, _ in seen)} come to {most:.4g} degC of the day's mean together, and all "
            f"changes may come to {MOST_AIR:g} degC at most; leave one out or make it smaller",
            where="--with",
        )


def with_what_ifs(record: DailyRecord, texts: Sequence[str]) -> DailyRecord:
    """The record changed by several what-ifs, one after the other, and what was done in its words.

    Raises
    ------
    InputError
        As `check_together`, with the changes that the record is under already.
    """
    check_together(texts, record.changes)
    said = record.what_ifs
    for text in texts:
        what, value, months = parse_what_if(text)
        changed = what.effect(record, value)
        words = phrase(what.says, amount=value)
        if len(months) < 12:
            inside = np.isin(record.time.astype("datetime64[M]").astype(int) % 12 + 1, list(months))
            air = ("tasmin", "tasmax")
            changed = changed.with_values({v: np.where(inside, changed[v], record[v]) for v in air})
            words = phrase("{what} in months {months}", what=words, months=", ".join(map(str, sorted(months))))
        record = changed
        said = phrase("{before}; {change}", before=said, change=words) if said else words
    if not texts:
        return record
    return replace(record, what_ifs=said, changes=(*record.changes, *(text.strip() for text in texts)))
