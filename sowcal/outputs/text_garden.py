"""What is said of a garden plan, in sentences that the screen and the page share."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from sowcal.counted import counted
from sowcal.garden.plan import GardenPlan
from sowcal.garden.quantities import PlantLine
from sowcal.outputs.screen import plain, table, wrap
from sowcal.outputs.wording import NO_PROMISE, odds_text, record_text
from sowcal.year import MONTH_STARTS, MONTHS, YEAR, day_text, month_of

__all__ = [
    "bed_lines",
    "bed_notes",
    "by_month",
    "garden_facts",
    "garden_text",
    "gravity_notes",
    "hand_notes",
    "in_short",
    "kilograms",
    "litres",
    "plant_notes",
    "starts_words",
    "store_notes",
    "water_notes",
]

_MOST_LEFT_OUT = 10  # lines
_WEEKS = np.append(np.full(51, 7), 8)  # days of the 52 weeks of a year


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


def by_month(weekly: np.ndarray) -> np.ndarray:
    """Mean litres a day of each month from litres a week of 52 weeks, shape (12,)."""
    daily = np.repeat(weekly / _WEEKS, _WEEKS)
    return np.array([daily[a:b].mean() for a, b in pairwise((*MONTH_STARTS, YEAR))])


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
    peak = plan.need.week(0.5)
    if peak.max(initial=0.0) > 0:
        week = int(peak.argmax())
        used = plan.beds.used.sum(axis=0)[month_of(week * 7 + 3)]
        daily = peak[week] / 7.0
        out.append(
            f"In the thirstiest week, about {day_text(week * 7 + 3)}, the beds draw {litres(daily)} litres a "
            f"day, {daily / max(used, 1e-9):.1f} litres for each of the {used:.0f} m2 in use."
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


def starts_words(line: PlantLine) -> str:
    """Days on which a crop is started, with the way where it is started in more than one."""
    if len(set(line.ways)) == 1:
        return ", ".join(map(day_text, line.starts))
    return ", ".join(f"{day_text(day)} ({way})" for day, way in zip(line.starts, line.ways, strict=True))


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
    if not plan.need.daily.sum() > 0.0:
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
    if plan.need.daily.sum() <= 0:
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
    runs_in = float(np.median([y.inflow for y in store.years]))
    if store.size_for_9_in_10 is None:
        out.append(
            f"No size lasts 9 years in 10: the beds draw {litres(plan.need.year(0.5))} litres a year, roof and "
            f"refill cannot bring as much (they brought {litres(runs_in)})."
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
    good = [h for h in plan.helps if h.saves > 0.01 * plan.need.year(0.5)]
    out += [
        f"{h.change} would save {litres(h.saves)} litres a year and leave {counted(round(h.days_dry), 'dry day')}"
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


class _Page:
    """Lines of the page as they are written."""

    def __init__(self, width: int, unicode: bool):
        self.width, self.unicode = width, unicode
        self.lines: list[str] = []

    def head(self, text: str) -> None:
        self.lines += ["", text.upper(), ""]

    def say(self, text: str, first: str = "", later: str | None = None) -> None:
        self.lines += wrap(
            plain(text, unicode=self.unicode), self.width, first=first, later=first if later is None else later
        )

    def point(self, text: str) -> None:
        self.say(text, "- ", "  ")

    def points(self, title: str, notes: Sequence[str]) -> None:
        """A part of nothing but sentences; none, no part."""
        if notes:
            self.head(title)
        for note in notes:
            self.point(note)

    def rows(self, rows: list[list[str]], right: tuple[int, ...]) -> None:
        shown = [[plain(c, unicode=self.unicode) for c in row] for row in rows]
        self.lines += table(shown, self.width, right=right)

    def text(self) -> str:
        return "\n".join(self.lines)


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
    page = _Page(width, unicode)
    page.say(f"{plan.garden.name}, on the weather of {plan.site}")
    page.say(garden_facts(plan))
    page.points("In short", in_short(plan))
    _plants(page, plan)
    _beds(page, plan)
    _water(page, plan)
    page.points("The store", store_notes(plan))
    page.points("Gravity feed", gravity_notes(plan))
    page.points("By hand or by timer", hand_notes(plan))
    page.points("Cautions", plan.cautions)
    page.lines.append("")
    page.say(f"{NO_PROMISE} {plan.made_by.short()}")
    return page.text().strip("\n")


def _plants(page: _Page, plan: GardenPlan) -> None:
    page.head("Plants")
    if not plan.plants:
        page.say("Nothing stands in the beds.")
    else:
        wide = page.width >= 90  # else the dates stand under the beds only
        rows = [["crop", "plants", "m2", "kg a year", "left over", "litres", *(["starts"] if wide else [])]]
        for p in plan.plants:
            starts = ", ".join(dict.fromkeys(map(day_text, p.starts)))
            drawn = litres(plan.by_crop.get(p.crop, 0.0))
            cells = [p.crop, f"{p.count}", f"{p.area:.1f}", kilograms(p.picked), f"{p.surplus_share:.0%}", drawn]
            rows.append([*cells, *([starts] if wide else [])])
        page.rows(rows, (1, 2, 3, 4, 5))
        page.lines.append("")
    for note in plant_notes(plan):
        page.point(note)


def _beds(page: _Page, plan: GardenPlan) -> None:
    page.head("Beds")
    months = [["m2", *MONTHS]]
    months.append(["wished for", *(f"{v:.0f}" for v in plan.beds.needed)])
    if plan.garden.beds:
        months.append(["in use", *(f"{v:.0f}" for v in plan.beds.used.sum(axis=0))])
    page.rows(months, tuple(range(1, 13)))
    page.lines.append("")
    for bed, stands in bed_lines(plan):
        page.say(f"{bed}: {stands}", "", "    ")
    if plan.garden.beds:
        page.lines.append("")
    for note in bed_notes(plan):
        page.point(note)


def _water(page: _Page, plan: GardenPlan) -> None:
    page.head("Water, litres a day")
    if plan.need.daily.sum() > 0.0:
        _months(page, plan)
    for note in water_notes(plan):
        page.point(note)


def _months(page: _Page, plan: GardenPlan) -> None:
    """Litres a day of each month as bars."""
    median, dry = by_month(plan.need.week(0.5)), by_month(plan.need.week(0.9))
    top = max(float(dry.max(initial=0.0)), 1e-9)
    room = max(page.width - 34, 10)
    bar, more = ("█", "░") if page.unicode else ("#", "-")
    page.lines.append(f"{'':6}{'median':>8}{'dry year':>10}   {bar} median year  {more} dry year in ten")
    for m in range(12):
        a, b = round(median[m] / top * room), round(dry[m] / top * room)
        line = f"{MONTHS[m]:6}{litres(median[m]):>8}{litres(dry[m]):>10}   {bar * a}{more * max(b - a, 0)}"
        page.lines.append(line.rstrip())
    page.lines.append("")
