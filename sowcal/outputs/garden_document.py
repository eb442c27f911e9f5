"""A garden plan told once for screen and page: plants, beds, water, the store, gravity feed, and its two drawings."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence

import numpy as np

from sowcal.garden.plan import GardenPlan
from sowcal.garden.quantities import PlantLine, kind_words, spare_words, tree_words, volume_words
from sowcal.garden.store import level_spread
from sowcal.languages import counted, say
from sowcal.outputs import shed_sheets as shed
from sowcal.outputs.document import (
    Caution,
    Column,
    Document,
    Fold,
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
from sowcal.outputs.figure_garden import (
    between_notes,
    gravity_fed,
    gravity_notes,
    hand_notes,
    keeping_notes,
    load_notes,
    minutes_text,
    sheet_notes,
)
from sowcal.outputs.garden_pictures import choices_parts, drawn_picture, level_picture
from sowcal.outputs.tables import garden_rows
from sowcal.outputs.terminal import bars
from sowcal.outputs.wording import NO_PROMISE, kilograms, litres, odds_text, record_text, sentence, told_litres
from sowcal.units import amount, told, unit_word
from sowcal.year import MONTH_STARTS, MONTHS, date_text, day_text

__all__ = ["bed_lines", "garden_document", "garden_table_text", "garden_text"]

_MOST_LEFT_OUT = 10  # lines


def _odds(share: float) -> str:
    text = odds_text(share)
    return f"in {text}" if "%" in text else text


def garden_facts(plan: GardenPlan) -> str:
    """Beds, people, tanks, soil and what the answer rests on, in one line."""
    garden = plan.garden
    people = f"{garden.household.people:g} {'person' if garden.household.people == 1 else 'people'}"
    beds = f"{len(garden.beds)} {'bed' if len(garden.beds) == 1 else 'beds'}"
    tank = f"{told_litres(garden.water.capacity)} of tank" if garden.water.capacity else "no tank"
    return (
        f"{beds}, {told(garden.area, 'm2', '.0f')}; {people}; {tank}; {garden.texture}; "
        f"weather of {record_text(plan.record)}, "
        f"evapotranspiration by {plan.method}"
    )


def in_short(plan: GardenPlan, *, brief: bool = False) -> list[str]:
    """The story in a few sentences; in `brief` what water there is comes first and goes without its figures."""
    gluts = [sentence(w) for p in plan.plants for w in p.words if "will do" in w][:3]
    out = [] if brief else gluts
    if (thirst := plan.thirst) is not None:
        out.append(
            f"In the thirstiest week, about {day_text(thirst.day)}, the beds draw {told_litres(thirst.litres)} a "
            f"day, {told(thirst.litres_per_m2, 'litres each m2', '.1f')} for each of the "
            f"{told(thirst.used, 'm2', '.0f')} in use."
        )
    store = plan.store
    if store.capacity > 0 and store.lasts is not None and store.lasts_dry_year is not None:
        if store.lasts_dry_year >= 365:
            out.append(f"A full store of {told_litres(store.capacity)} lasts all year.")
        else:
            out.append(
                f"A full store of {told_litres(store.capacity)} lasts {counted(round(store.lasts), 'day')} from 1 "
                f"{store.month_name} ({store.lasts_dry_year:.0f} in the worst year in ten)."
            )
    if plan.gravity is not None and gravity_fed(plan):
        verdict = "Gravity feeds the drip lines" if plan.gravity.works else "Gravity will not feed the drip lines"
        if not (plan.gravity.works and brief):
            out.append(f"{verdict}: {say(plan.gravity.why)}.")
    return [*out, *load_notes(plan), *(gluts if brief else ())]


def _ways(line: PlantLine) -> str:
    """The way in which a crop is started, or those of its starts in turn."""
    return ", ".join(line.ways if len(set(line.ways)) > 1 else line.ways[:1])


def plant_notes(plan: GardenPlan) -> list[str]:
    """Gluts, gambles, successions, crops on rain alone, and what is left out."""
    out = []
    for p in plan.plants:
        if p.words:
            text = "; ".join(map(say, p.words))
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
    out += [f"left out: {left.crop}: {say(left.why)}" for left in left_out[:_MOST_LEFT_OUT]]
    if len(left_out) > _MOST_LEFT_OUT:
        others = sorted({x.crop for x in left_out[_MOST_LEFT_OUT:]})
        out.append(f"left out likewise: {', '.join(others)}")
    return [sentence(text) for text in out]


def bed_lines(plan: GardenPlan) -> list[tuple[str, str]]:
    """Each bed and what stands in it through the year."""
    stands: dict[int, list[str]] = defaultdict(list)
    for p in sorted(plan.beds.placings, key=lambda p: plan.sowings[p.sowing].start):
        sowing = plan.sowings[p.sowing]
        when = "all year" if sowing.stands else "{} to {}".format(*map(day_text, sowing.place_taken))
        stands[p.bed].append(f"{p.count} {sowing.crop.name} {when}")
    return [
        (f"{bed.name} ({told(bed.area, 'm2', '.0f')})", "; ".join(stands[number]) or "free")
        for number, bed in enumerate(plan.garden.beds)
    ]


def bed_notes(plan: GardenPlan) -> list[str]:
    """Rotation, compost and mulch."""
    if not plan.garden.beds:
        return ["The garden file names no beds: add [[beds]] tables with length and width."]
    return [
        *map(sentence, plan.rotation),
        *between_notes(plan),
        *spare_words(plan.beds),
        *volume_words(plan.garden),
        *kind_words(plan.garden),
        *map(sentence, (*tree_words(plan.garden), *plan.neighbours)),
    ]


def water_notes(plan: GardenPlan) -> list[str]:
    """The year's draw, and what stood in for what was missing."""
    if not plan.need.draws:
        return ["Nothing needs watering.", *map(sentence, plan.notes)]
    drawn = (
        f"The beds draw {told_litres(plan.need.year(0.5))} in the median year and "
        f"{litres(plan.need.year(0.9))} in the dry year in ten, what is lost on the way included."
    )
    return [drawn, *map(sentence, plan.notes)]


def _helps(plan: GardenPlan) -> list[str]:
    """What each change saves, or costs."""
    good, tank = plan.worth_while, plan.store.capacity > 0
    out = [
        f"{say(h.change)} would save {told_litres(h.saves)} a year"
        + (f" and leave {counted(round(h.days_dry), 'dry day')}" if tank else " from mains, well or can")
        for h in good
    ]
    least = 0.01 * plan.need.year(0.5)
    for h in plan.helps:
        if h not in good:
            worse = f"would draw {told_litres(-h.saves)} a year more"
            out.append(f"{say(h.change)} {worse if h.saves < -least else 'would save next to nothing'}")
    return out


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
            f"There is no store: {told_litres(store.refill_wanted)} are wanting in the median year, on "
            f"{counted(round(store.days_dry), 'day')}."
        )
    else:
        first = f", first about {day_text(store.first_dry)}" if store.first_dry is not None else ""
        out.append(
            f"It runs dry {_odds(store.chance_dry)}; in the median year on "
            f"{counted(round(store.days_dry), 'day')}{first}, and {told_litres(store.refill_wanted)} are wanting."
        )
    if store.size_for_9_in_10 is None:
        out.append(
            f"No size lasts 9 years in 10: the beds draw {told_litres(plan.need.year(0.5))} a year, roof and "
            f"refill cannot bring as much (they brought {litres(store.runs_in or 0.0)})."
        )
        if store.size_if_full:
            out.append(
                f"Filled to the brim before the dry season by other means, {told_litres(store.size_if_full)} "
                "would last 9 years in 10."
            )
    else:
        water = plan.garden.water
        how = "with the same roof and refill" if water.roof or water.refill else "filled once a year"
        out.append(f"{told_litres(store.size_for_9_in_10)} would last 9 years in 10, {how}.")
    return [sentence(text) for text in (*out, *_helps(plan))]


def _plants(plan: GardenPlan) -> tuple[Part, ...]:
    notes = Items(tuple(plant_notes(plan) + keeping_notes(plan)))
    if not plan.plants:
        return Paragraph("Nothing stands in the beds."), notes
    columns = (
        Column("crop"),
        Column("plants", right=True),
        Column("will do", right=True, least_screen=110),
        Column(unit_word("m2"), right=True),
        Column(f"{unit_word('kg')} a year", right=True),
        Column("left over", right=True),
        Column(unit_word("litres"), right=True),
        Column("starts", least_screen=90),  # narrower: the dates stand under the beds only
        Column("how", least_screen=140),
    )
    rows = tuple(
        (
            p.crop,
            f"{p.count}",
            f"{p.will_do}",
            amount(p.area, "m2", ".1f"),
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
    columns = (Column(unit_word("m2")), *(Column(m, right=True) for m in MONTHS))
    return Table(columns, tuple((name, *(amount(v, "m2", ".0f") for v in values)) for name, values in rows), label)


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
        *((Fold("Rotation", (table,), titled=True),) if (table := rotation_table(plan)) else ()),
        notes,
    )


def _water(plan: GardenPlan, start_month: int) -> tuple[Part, ...]:
    notes = Items(tuple(water_notes(plan)))
    if not plan.need.draws:
        return (notes,)
    median, dry = plan.need.week(0.5), plan.need.week(0.9)
    week = plan.need.thirstiest_week
    said = (
        f"{unit_word('litres').capitalize()} a day that the beds draw through the year: "
        f"most about {day_text(7 * week + 3)}, in the median year "
        f"{litres(float(plan.need.week_by_day(0.5)[week]))} and in the dry year in ten "
        f"{litres(float(plan.need.week_by_day(0.9)[week]))}."
    )
    months = [(float(a), float(b)) for a, b in zip(plan.need.by_month(0.5), plan.need.by_month(0.9), strict=True)]
    picture = Picture(
        lambda: drawn_picture(plan.need.by_day(0.5), plan.need.by_day(0.9), start_month, said),
        join(
            tag("span", class_="patch drawn"),
            f"{unit_word('litres')} a day, median year; ",
            tag("span", class_="dash"),
            "dry year in ten",
        ),
        bars(
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
        f"{unit_word('litres').capitalize()} by week",
    )
    return picture, notes, Fold(f"{unit_word('litres').capitalize()} by week", (weeks,), on_screen=False)


def _store(plan: GardenPlan, start_month: int) -> tuple[Part, ...]:
    notes = Items(tuple(store_notes(plan)))
    capacity, spread = plan.store.capacity, level_spread(plan.store.levels)
    if spread is None or not plan.need.draws:
        return (notes,)
    middle = [f"{MONTHS[m]} {litres(float(spread[2][MONTH_STARTS[m]]))}" for m in range(0, 12, 2)]
    said = f"{unit_word('litres').capitalize()} in the store of {litres(capacity)} on the first of the month, median: "
    said += f"{', '.join(middle)}."
    key = join(
        tag("span", class_="dash sown"),
        f"{unit_word('litres')} in the store, median; ",
        tag("span", class_="patch water"),
        "8 years in 10; ",
        tag("span", class_="patch water every"),
        "every year",
    )
    return Picture(lambda: level_picture(spread, capacity, start_month, said), key), notes


def _diary(plan: GardenPlan) -> tuple[Part, ...]:
    weeks = tuple((f"week of {date_text(day)}", "; ".join(said)) for day, said in shed.weeks_of_diary(plan.diary))
    if not weeks:
        return ()
    months = tuple((f"{MONTHS[m.month - 1]} {m.year}", "; ".join(said)) for m, said in shed.months_of_diary(plan.diary))
    bought = tuple(map(shed.purchase_words, plan.shopping))
    return (
        Paragraph("The year by month", on_page=False),  # on the page the board has the months
        Items(months, bullets=False, on_page=False),
        Fold("Jobs week by week", (Paragraph(shed.BRACKETS), Items(weeks, bullets=False)), titled=True),
        Fold("What to look for", (Items(tuple(shed.looking_words(plan))),), titled=True),
        Fold("Shopping list", (Items(bought),), titled=True),
    )


def sheet_table(plan: GardenPlan) -> Table | None:
    """Minutes of each watering by zone and month, days between, and the dry year; None where nothing is watered."""
    if not plan.sheet:
        return None
    how = "minutes" if plan.gravity is not None else "minutes by hose"
    columns = (
        Column("zone"),
        Column("month"),
        Column("every so many days", right=True, short="days"),
        Column(how, right=True),
        Column("in a dry year", right=True, short="dry year"),
        Column(f"{unit_word('litres')} a month", right=True, short=unit_word("litres")),
    )
    rows = tuple(
        (
            r.zone,
            MONTHS[r.month - 1],
            f"{r.days_between}",
            minutes_text(r.minutes),
            minutes_text(r.dry_year_minutes),
            litres(r.litres),
        )
        for r in plan.sheet
    )
    return Table(columns, rows, "Watering sheet")


def rotation_table(plan: GardenPlan) -> Table | None:
    """Families of each bed in four years; None without beds."""
    if len(plan.garden.beds) < 2:
        return None
    year = plan.begin.year
    columns = (Column("bed"), *(Column(str(year + k)) for k in range(4)))
    rows = []
    for move in plan.moves:
        cells = [plan.garden.beds[source].name if source != move.bed else "as now" for source in move.takes[1:]]
        rows.append(
            (
                plan.garden.beds[move.bed].name,
                shed.families_text(plan, move),
                *(f"as {c} now" if c != "as now" else c for c in cells),
            )
        )
    return Table(columns, tuple(rows), "Rotation of the beds", look="words")


def _sheet(plan: GardenPlan) -> tuple[Part, ...]:
    table = sheet_table(plan)
    return (*((table,) if table else ()), Items(tuple(sheet_notes(plan) + load_notes(plan))))


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
            Section("Diary", _diary(plan), "diary"),
            Section("Watering sheet", _sheet(plan), "sheet"),
            Section(f"Water, {unit_word('litres')} a day", _water(plan, start_month), "water"),
            Section("The store", _store(plan, start_month), "store"),
            Section("Before any money", choices_parts(plan), "choices"),
            Section("Gravity feed", (Items(tuple(gravity_notes(plan))),), "gravity"),
            Section("By hand or by timer", (Items(tuple(hand_notes(plan))),), "hand"),
            Section("Cautions for the garden", (Items(tuple(plan.cautions)),), "cautions"),
        ),
        foot=(f"{NO_PROMISE} {plan.made_by.short()}",),
    )


_TELLING = 0.02  # of the litres of the thirstiest month; months with less are told by --all
_MINUTES = "Minutes each watering / days between"
_NEXT = 35  # days of the diary that the short answer tells
_MOST_NEXT = 3  # jobs of it
_MOST_SHORT = 4  # sentences; what follows is told by --all


def _short_document(plan: GardenPlan) -> Document:
    """What the household needs first: the answer, the next jobs, minutes by month, and the gravest cautions."""
    soon = [j for j in plan.diary if j.date <= plan.begin + dt.timedelta(days=_NEXT)]
    jobs = [
        f"{date_text(j.date)}: {shed.job_words(j)}" for j in soon if j.job not in ("buy", "spread compost", "mulch")
    ]
    more = len(jobs) - _MOST_NEXT
    said = (*jobs[:_MOST_NEXT], *((f"and {more} more",) if more > 0 else ()))
    most = max((r.litres for r in plan.sheet), default=0.0)
    minutes = [
        f"{zone}: "
        + ", ".join(
            f"{MONTHS[r.month - 1]} {minutes_text(r.minutes)}/{r.days_between} d"
            for r in plan.sheet
            if r.zone == zone and r.litres >= _TELLING * most
        )
        for zone in list(dict.fromkeys(r.zone for r in plan.sheet))[:3]
        if plan.gravity is None or plan.gravity.works
    ]
    grown = ", ".join(f"{p.count} {p.crop}" for p in plan.plants)
    missing = list(dict.fromkeys(left.crop for left in plan.left_out))
    grown += f". Left out or cut short: {', '.join(missing)}" if missing else ""
    minds = f"{counted(len(plan.cautions), 'caution')} with --all."
    if plan.garden.water.tanks:
        minds = f"full tanks can slide and kill: have their footing judged before they are filled. {minds}"
    return Document(
        plan.garden.name,
        (
            Paragraph(f"On the weather of {plan.site}; {garden_facts(plan)}"),
            Section("In short", (Items(tuple(in_short(plan, brief=True)[:_MOST_SHORT])),)),
            Paragraph(minds, name="MIND"),
            Section("Plants", (Paragraph(sentence(grown) if plan.plants else "Nothing stands in the beds."),)),
            *((Section("Next jobs", (Items(said, bullets=False),)),) if said else ()),
            *((Section(_MINUTES, (Items(tuple(minutes), bullets=False),)),) if minutes else ()),
        ),
        foot=(
            "More: --all; --out plan.csv (diary), .ics (calendar), .pdf (sheets for the shed). "
            f"{NO_PROMISE} {plan.made_by.short()}",
        ),
        spaced=False,
    )


def garden_text(plan: GardenPlan, *, width: int = 100, unicode: bool = True, everything: bool = False) -> str:
    """The plan as plain text: what is needed first, or all of it.

    Parameters
    ----------
    plan : GardenPlan
    width : int
        Columns.
    unicode : bool
        Whether the screen shows more than plain letters.
    everything : bool
        All tables, the diary and the cautions too.
    """
    document = garden_document(plan) if everything else _short_document(plan)
    return screen_text(document, width=width, unicode=unicode)


def garden_table_text(plan: GardenPlan, table: str, *, width: int = 100, unicode: bool = True) -> str:
    """The same table for a screen; columns that the grower fills in are left out."""
    head, *rows = garden_rows(plan, table)
    shown = [k for k, name in enumerate(head) if name not in ("price", "done")]
    titles = tuple(Column(head[k].replace("_", " ")) for k in shown)
    made = Table(titles, tuple(tuple(row[k] for k in shown) for row in rows), table)
    return screen_text(Document(f"{plan.garden.name}: {table}", (made,)), width=width, unicode=unicode)
