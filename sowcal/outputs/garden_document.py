"""A garden plan told once for screen and page: plants, beds, water, the store, gravity feed, and its two drawings."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np

from sowcal.garden.plan import GardenPlan
from sowcal.garden.quantities import PlantLine
from sowcal.garden.store import level_spread
from sowcal.outputs.document import (
    Bars,
    Caution,
    Column,
    Document,
    Fold,
    Html,
    Items,
    Paragraph,
    Part,
    Picture,
    Section,
    Table,
    join,
    screen_text,
    tag,
)
from sowcal.outputs.page_svg import line_path, months_axis
from sowcal.outputs.wording import NO_PROMISE, odds_text, record_text
from sowcal.plurals import counted
from sowcal.year import MONTH_LENGTHS, MONTH_STARTS, MONTHS, YEAR, day_text

__all__ = ["bed_lines", "drawn_picture", "garden_document", "garden_text", "level_picture"]

_MOST_LEFT_OUT = 10  # lines
_LEFT, _RIGHT, _TOP, _BOTTOM = 44, 354, 10, 158
_STEP = 3  # days between the points of a line: finer than a line on the page can show


def litres(value: float) -> str:
    """Litres, to the nearest ten from a hundred up."""
    return f"{round(value, -1) if value >= 100 else round(value):,.0f}"


def kilograms(value: float) -> str:
    """Kilograms, with a decimal where they are few."""
    return f"{value:.0f}" if value >= 3 else f"{value:.1f}"


def _sentence(text: str) -> str:
    """With a capital at its beginning and a stop at its end."""
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') else '.'}"


def _odds(share: float) -> str:
    text = odds_text(share)
    return f"in {text}" if "%" in text else text


def _gravity_fed(plan: GardenPlan) -> bool:
    """Whether there are drip lines and a store that could feed them."""
    water = plan.garden.water
    return plan.gravity is not None and bool(plan.garden.beds) and (water.capacity > 0 or water.pond is not None)


def garden_facts(plan: GardenPlan) -> str:
    """Beds, people, tanks, soil and what the answer rests on, in one line."""
    garden = plan.garden
    people = f"{garden.household.people:g} {'person' if garden.household.people == 1 else 'people'}"
    beds = f"{len(garden.beds)} {'bed' if len(garden.beds) == 1 else 'beds'}"
    tank = f"{litres(garden.water.capacity)} litres of tank" if garden.water.capacity else "no tank"
    return (
        f"{beds}, {garden.area:.0f} m2; {people}; {tank}; {garden.texture}; weather of {record_text(plan.record)}, "
        f"evapotranspiration by {plan.method}"
    )


def in_short(plan: GardenPlan) -> list[str]:
    """The story in a few sentences."""
    out = []
    gluts = [w for p in plan.plants for w in p.words if "will do" in w]
    for words in gluts[:3]:
        out.append(_sentence(words))
    if (thirst := plan.thirst) is not None:
        out.append(
            f"In the thirstiest week, about {day_text(thirst.day)}, the beds draw {litres(thirst.litres)} litres a "
            f"day, {thirst.litres_per_m2:.1f} litres for each of the {thirst.used:.0f} m2 in use."
        )
    store = plan.store
    if store.capacity > 0 and store.lasts is not None and store.lasts_dry_year is not None:
        if store.lasts_dry_year >= 365:
            out.append(f"A full store of {litres(store.capacity)} litres lasts all year.")
        else:
            out.append(
                f"A full store of {litres(store.capacity)} litres lasts {counted(round(store.lasts), 'day')} from 1 "
                f"{store.month_name} ({store.lasts_dry_year:.0f} in the worst year in ten)."
            )
    if plan.gravity is not None and _gravity_fed(plan):
        verdict = "Gravity feeds the drip lines" if plan.gravity.works else "Gravity will not feed the drip lines"
        out.append(f"{verdict}: {plan.gravity.why}.")
    return out


def _ways(line: PlantLine) -> str:
    """The way in which a crop is started, or those of its starts in turn."""
    return ", ".join(line.ways if len(set(line.ways)) > 1 else line.ways[:1])


def plant_notes(plan: GardenPlan) -> list[str]:
    """Gluts, gambles, successions, crops on rain alone, and what is left out."""
    out = []
    for p in plan.plants:
        if p.words:
            text = "; ".join(p.words)
            out.append(text if text.startswith(f"{p.count} ") else f"{p.crop}: {text}")
    often = [f"{p.crop} ({len(p.starts)} times)" for p in plan.plants if len(p.starts) > 1]
    if often:
        out.append(f"started more than once, so that no picking is a glut and gaps are filled: {', '.join(often)}")
    out += [
        f"{crop} on rain alone gives {left:.0%} of a watered crop in the mean of the years"
        for crop, left in plan.rain_alone.items()
    ]
    left_out = list(dict.fromkeys(plan.left_out))
    if not plan.garden.beds:
        wished = ", ".join(dict.fromkeys(left.crop for left in left_out if left.why == "there are no beds"))
        left_out = [left for left in left_out if left.why != "there are no beds"]
        if wished:
            out.append(f"there are no beds; this would grow here and is eaten: {wished}")
    out += [f"left out: {left.crop}: {left.why}" for left in left_out[:_MOST_LEFT_OUT]]
    if len(left_out) > _MOST_LEFT_OUT:
        others = sorted({x.crop for x in left_out[_MOST_LEFT_OUT:]})
        out.append(f"left out likewise: {', '.join(others)}")
    return [_sentence(text) for text in out]


def bed_lines(plan: GardenPlan) -> list[tuple[str, str]]:
    """Each bed and what stands in it through the year."""
    stands: dict[int, list[str]] = defaultdict(list)
    for p in sorted(plan.beds.placings, key=lambda p: plan.sowings[p.sowing].start):
        sowing = plan.sowings[p.sowing]
        when = "all year" if sowing.stands else "{} to {}".format(*map(day_text, sowing.place_taken))
        stands[p.bed].append(f"{p.count} {sowing.crop.name} {when}")
    return [
        (f"{bed.name} ({bed.area:.0f} m2)", "; ".join(stands[number]) or "free")
        for number, bed in enumerate(plan.garden.beds)
    ]


def bed_notes(plan: GardenPlan) -> list[str]:
    """Rotation, compost and mulch."""
    if not plan.garden.beds:
        return ["The garden file names no beds: add [[beds]] tables with length and width."]
    volumes = plan.volumes
    return [
        *map(_sentence, plan.rotation),
        f"A year's compost is {litres(volumes.compost)} litres and the mulch {litres(volumes.mulch)}: some "
        f"{volumes.barrows} barrow {'load' if volumes.barrows == 1 else 'loads'}.",
    ]


def water_notes(plan: GardenPlan) -> list[str]:
    """The year's draw, and what stood in for what was missing."""
    if not plan.need.draws:
        return ["Nothing needs watering.", *map(_sentence, plan.notes)]
    drawn = (
        f"The beds draw {litres(plan.need.year(0.5))} litres in the median year and "
        f"{litres(plan.need.year(0.9))} in the dry year in ten, what is lost on the way included."
    )
    return [drawn, *map(_sentence, plan.notes)]


def store_notes(plan: GardenPlan) -> list[str]:
    """When the store runs dry, what size would do, and what helps."""
    store = plan.store
    if store.chance_dry is None:
        return ["The record is too short to tell."]
    if not plan.need.draws:
        return ["Nothing draws on it."]
    out = []
    if store.chance_dry == 0:
        out.append(f"It ran dry in none of {counted(len(store.years), 'year')}.")
    elif store.capacity <= 0 and plan.garden.water.refill <= 0 and plan.garden.water.roof <= 0:
        out.append(
            f"There is no store: {litres(store.refill_wanted)} litres are wanting in the median year, on "
            f"{counted(round(store.days_dry), 'day')}."
        )
    else:
        first = f", first about {day_text(store.first_dry)}" if store.first_dry is not None else ""
        out.append(
            f"It runs dry {_odds(store.chance_dry)}; in the median year on "
            f"{counted(round(store.days_dry), 'day')}{first}, and {litres(store.refill_wanted)} litres are wanting."
        )
    if store.size_for_9_in_10 is None:
        out.append(
            f"No size lasts 9 years in 10: the beds draw {litres(plan.need.year(0.5))} litres a year, roof and "
            f"refill cannot bring as much (they brought {litres(store.runs_in or 0.0)})."
        )
        if store.size_if_full:
            out.append(
                f"Filled to the brim before the dry season by other means, {litres(store.size_if_full)} litres "
                "would last 9 years in 10."
            )
    else:
        water = plan.garden.water
        how = "with the same roof and refill" if water.roof or water.refill else "filled once a year"
        out.append(f"{litres(store.size_for_9_in_10)} litres would last 9 years in 10, {how}.")
    good = plan.worth_while
    tank = store.capacity > 0
    out += [
        f"{h.change} would save {litres(h.saves)} litres a year"
        + (f" and leave {counted(round(h.days_dry), 'dry day')}" if tank else " from mains, well or can")
        for h in good
    ]
    out += [f"{h.change} would save next to nothing" for h in plan.helps if h not in good]
    return [_sentence(text) for text in out]


def gravity_notes(plan: GardenPlan) -> list[str]:
    """Head, pressure and what would help; empty where water is carried, or there is no store or bed."""
    feed = plan.gravity
    if feed is None or not _gravity_fed(plan):
        return []
    out = [
        f"The tank outlet stands {feed.static_head:g} m above the beds: {feed.static_head * 0.0980665:.2f} bar with "
        "nothing flowing (10 m of water are 0.98 bar).",
        f"It {'works' if feed.works else 'does not work'}: {feed.why}.",
    ]
    if feed.works:
        out.append(
            f"The main takes {feed.main_loss:.2f} m of head ({feed.hazen_williams:.2f} by Hazen-Williams); an "
            f"emitter gives {feed.emitter_flow:.2f} l/h against {plan.garden.water.emitters.flow:g} at its rated "
            "pressure."
        )
    return out + [_sentence(text) for text in feed.would_help]


def hand_notes(plan: GardenPlan) -> list[str]:
    """Minutes by can, hose and drip line, and when carrying stops being reasonable."""
    hand = plan.hand
    week = int(hand.can.argmax())
    if hand.can.max(initial=0.0) <= 0:
        return ["There is nothing to water."]
    out = [
        f"In the thirstiest week a 10 litre can takes {counted(round(hand.can[week]), 'minute')} a day, a hose of "
        f"{plan.garden.water.hose:g} l/min {hand.hose[week]:.0f}."
    ]
    for tool, stops in (("the can", hand.can_stops), ("the hose", hand.hose_stops)):
        if stops is not None:
            out.append(f"More than half an hour a day with {tool} from about {day_text((stops - 1) * 7)} on.")
        else:
            out.append(f"With {tool} it never takes more than half an hour a day.")
    if plan.minutes is not None and _gravity_fed(plan):
        out.append(f"The drip lines run {counted(round(plan.minutes), 'minute')} a day in that week.")
    return out


def _ceiling(value: float) -> float:
    """The next round figure from a value up: 1, 2, 2.5, 4, 5 or 8 times a power of ten."""
    value = max(value, 1.0)
    power = 10.0 ** np.floor(np.log10(value))
    return float(next(k for k in (1.0, 2.0, 2.5, 4.0, 5.0, 8.0, 10.0) if k * power >= value) * power)


def _turned(daily: np.ndarray, start_month: int) -> np.ndarray:
    return np.roll(daily, -sum(MONTH_LENGTHS[: start_month - 1]), axis=-1)


def _x(day: float) -> float:
    return _LEFT + day / YEAR * (_RIGHT - _LEFT)


def _y(value: float, top: float) -> float:
    return round(_BOTTOM - min(max(value / top, 0.0), 1.0) * (_BOTTOM - _TOP), 1)


def _points(daily: np.ndarray, top: float) -> list[tuple[float, float]]:
    return [(_x(d), _y(float(daily[d]), top)) for d in [*range(0, YEAR, _STEP), YEAR - 1]]


def _band(low: np.ndarray, high: np.ndarray, top: float, look: str) -> Html:
    upper, lower = line_path(_points(high, top)), line_path(_points(low, top)[::-1])
    return tag("path", d=f"{upper}L{lower[1:]}Z", class_=look)


def _frame(top: float, start_month: int, parts: Sequence[Html], words: str) -> Html:
    rules = [
        join(
            tag("path", d=f"M{_LEFT} {_y(v, top)}H{_RIGHT}", class_="grid"),
            tag("text", f"{v:,.0f}", x=_LEFT - 4, y=_y(v, top) + 4, class_="end"),
        )
        for v in (0.0, top / 2, top)
    ]
    axis = months_axis(start_month, _LEFT, _RIGHT - _LEFT, _BOTTOM, _TOP)
    return tag("svg", axis, *rules, *parts, viewBox="0 0 360 176", role="img", aria_label=words)


def level_picture(spread: np.ndarray | None, capacity: float, start_month: int, words: str) -> Html | None:
    """Water in the store through the year: every year, eight years in ten, and the middle year.

    Parameters
    ----------
    spread : numpy.ndarray or None
        Litres, shape (5, 365), as `sowcal.garden.store.level_spread` gives them.
    capacity : float
        Litres; drawn as a line.
    start_month : int
        Month, 1 to 12, with which the year is drawn to begin.
    words : str
        What it shows, for those who do not see it.

    Returns
    -------
    Html or None
        None where there is nothing to draw.
    """
    if spread is None or capacity <= 0.0:
        return None
    least, low, mid, high, most = _turned(spread, start_month)
    top = _ceiling(capacity)
    parts = [
        _band(least, most, top, "water every"),
        _band(low, high, top, "water"),
        tag("path", d=f"M{_LEFT} {_y(capacity, top)}H{_RIGHT}", class_="asked"),
        tag("path", d=line_path(_points(mid, top)), class_="line sown"),
    ]
    return _frame(top, start_month, parts, words)


def drawn_picture(median: np.ndarray, dry: np.ndarray, start_month: int, words: str) -> Html | None:
    """Litres a day that the beds draw: the middle year filled, the dry year in ten as a line.

    Parameters
    ----------
    median, dry : numpy.ndarray
        Litres a day through the year, shape (365,).
    start_month, words
        As in `level_picture`.
    """
    usual, more = (_turned(daily, start_month) for daily in (median, dry))
    if not more.max(initial=0.0) > 0.0:
        return None
    top = _ceiling(float(more.max()))
    parts = [
        _band(np.zeros(YEAR), usual, top, "drawn"),
        tag("path", d=line_path(_points(more, top)), class_="line set"),
    ]
    return _frame(top, start_month, parts, words)


def _plants(plan: GardenPlan) -> tuple[Part, ...]:
    notes = Items(tuple(plant_notes(plan)))
    if not plan.plants:
        return Paragraph("Nothing stands in the beds."), notes
    columns = (
        Column("crop"),
        Column("plants", right=True),
        Column("will do", right=True, least_screen=110),
        Column("m2", right=True),
        Column("kg a year", right=True),
        Column("left over", right=True),
        Column("litres", right=True),
        Column("starts", least_screen=90),  # narrower: the dates stand under the beds only
        Column("how", least_screen=140),
    )
    rows = tuple(
        (
            p.crop,
            f"{p.count}",
            f"{p.will_do}",
            f"{p.area:.1f}",
            kilograms(p.picked),
            f"{p.surplus_share:.0%}",
            litres(plan.by_crop.get(p.crop, 0.0)),
            ", ".join(map(day_text, p.starts if len(set(p.ways)) > 1 else dict.fromkeys(p.starts))),
            _ways(p),
        )
        for p in plan.plants
    )
    return Table(columns, rows, "Plants of the garden", look="numbers plants"), notes


def _by_month(rows: Sequence[tuple[str, np.ndarray]], label: str) -> Table:
    columns = (Column("m2"), *(Column(m, right=True) for m in MONTHS))
    return Table(columns, tuple((name, *(f"{v:.0f}" for v in values)) for name, values in rows), label)


def _beds(plan: GardenPlan) -> tuple[Part, ...]:
    rows = [("wished for", plan.beds.needed)]
    notes = Items(tuple(bed_notes(plan)))
    if not plan.garden.beds:
        return _by_month(rows, "Beds by month"), notes
    rows.append(("in use", plan.beds.used_in_all))
    each = [(bed.name, used) for bed, used in zip(plan.garden.beds, plan.beds.used, strict=True)]
    return (
        _by_month(rows, "Beds by month"),
        Fold("Each bed by month", (_by_month(each, "Each bed by month"),), on_screen=False),
        Fold("What stands in each bed", (Items(tuple(bed_lines(plan))),)),
        notes,
    )


def _water(plan: GardenPlan, start_month: int) -> tuple[Part, ...]:
    notes = Items(tuple(water_notes(plan)))
    if not plan.need.draws:
        return (notes,)
    median, dry = plan.need.week(0.5), plan.need.week(0.9)
    week = plan.need.thirstiest_week
    said = (
        f"Litres a day that the beds draw through the year: most about {day_text(7 * week + 3)}, in the median year "
        f"{litres(float(plan.need.week_by_day(0.5)[week]))} and in the dry year in ten "
        f"{litres(float(plan.need.week_by_day(0.9)[week]))}."
    )
    months = [(float(a), float(b)) for a, b in zip(plan.need.by_month(0.5), plan.need.by_month(0.9), strict=True)]
    picture = Picture(
        lambda: drawn_picture(plan.need.by_day(0.5), plan.need.by_day(0.9), start_month, said),
        join(
            tag("span", class_="patch drawn"),
            "litres a day, median year; ",
            tag("span", class_="dash"),
            "dry year in ten",
        ),
        Bars(
            MONTHS,
            ("median", "dry year"),
            ("median year", "dry year in ten"),
            tuple(months),
            tuple((litres(a), litres(b)) for a, b in months),
        ),
    )
    weeks = Table(
        (Column("week from"), Column("median year", right=True), Column("dry year in ten", right=True)),
        tuple((day_text(7 * w), litres(float(median[w])), litres(float(dry[w]))) for w in range(52) if dry[w] >= 1.0),
        "Litres by week",
    )
    return picture, notes, Fold("Litres by week", (weeks,), on_screen=False)


def _store(plan: GardenPlan, start_month: int) -> tuple[Part, ...]:
    notes = Items(tuple(store_notes(plan)))
    capacity, spread = plan.store.capacity, level_spread(plan.store.levels)
    if spread is None or not plan.need.draws:
        return (notes,)
    middle = [f"{MONTHS[m]} {litres(float(spread[2][MONTH_STARTS[m]]))}" for m in range(0, 12, 2)]
    said = f"Litres in the store of {litres(capacity)} on the first of the month, median: {', '.join(middle)}."
    key = join(
        tag("span", class_="dash sown"),
        "litres in the store, median; ",
        tag("span", class_="patch water"),
        "8 years in 10; ",
        tag("span", class_="patch water every"),
        "every year",
    )
    return Picture(lambda: level_picture(spread, capacity, start_month, said), key), notes


def garden_document(plan: GardenPlan, start_month: int = 1) -> Document:
    """The whole plan.

    Parameters
    ----------
    plan : GardenPlan
    start_month : int
        Month, 1 to 12, with which the year is drawn to begin.
    """
    return Document(
        plan.garden.name,
        (
            Paragraph(f"On the weather of {plan.site}; {garden_facts(plan)}", look="where"),
            *(Caution(f"{finding.line}.", word="Mind", on_screen=False) for finding in plan.record.findings),
            Section("In short", (Items(tuple(in_short(plan)), look="lead"),), "short"),
            Section("Plants", _plants(plan), "plants"),
            Section("Beds", _beds(plan), "beds"),
            Section("Water, litres a day", _water(plan, start_month), "water"),
            Section("The store", _store(plan, start_month), "store"),
            Section("Gravity feed", (Items(tuple(gravity_notes(plan))),), "gravity"),
            Section("By hand or by timer", (Items(tuple(hand_notes(plan))),), "hand"),
            Section("Cautions for the garden", (Items(tuple(plan.cautions)),), "cautions"),
        ),
        foot=(f"{NO_PROMISE} {plan.made_by.short()}",),
    )


def garden_text(plan: GardenPlan, *, width: int = 100, unicode: bool = True) -> str:
    """The whole plan as one page of plain text.

    Parameters
    ----------
    plan : GardenPlan
    width : int
        Columns.
    unicode : bool
        Whether the screen shows more than plain letters.
    """
    return screen_text(garden_document(plan), width=width, unicode=unicode)
