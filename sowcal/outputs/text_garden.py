"""The garden on a screen: what to grow and how much, where it stands, what it drinks, how long the tank lasts."""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise

import numpy as np

from sowcal.garden.plan import GardenPlan
from sowcal.garden.schedule import median_span
from sowcal.outputs.days import MONTHS, day_text
from sowcal.outputs.screen import plain, table, wrap
from sowcal.outputs.wording import NO_PROMISE, odds_text

__all__ = ["garden_text"]

_MONTH_STARTS = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365)

_MOST_LEFT_OUT = 10  # lines


def _litres(value: float) -> str:
    return f"{round(value, -1) if value >= 100 else round(value):,.0f}"


def _odds(share: float) -> str:
    text = odds_text(share)
    return f"in {text}" if "%" in text else text


def _by_month(weekly: np.ndarray) -> np.ndarray:
    """Mean litres a day of each month from litres a week of 52 weeks."""
    days = np.full(52, 7.0)
    days[-1] = 8.0
    daily = np.repeat(weekly / days, days.astype(int))
    return np.array([daily[a:b].mean() for a, b in pairwise(_MONTH_STARTS)])


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
    garden = plan.garden
    page.say(f"{garden.name}, on the weather of {plan.site}")
    people = f"{garden.household.people:g} {'person' if garden.household.people == 1 else 'people'}"
    beds = f"{len(garden.beds)} {'bed' if len(garden.beds) == 1 else 'beds'}"
    page.say(
        f"{beds}, {garden.area:.0f} m2; {people}; {_litres(garden.water.capacity)} litres of "
        f"tank; {garden.texture}; {plan.need.years.size} years of weather, evapotranspiration by {plan.method}"
    )
    page.head("In short")
    _in_short(page, plan)
    _plants(page, plan)
    _beds(page, plan)
    _water(page, plan)
    _store(page, plan)
    _gravity(page, plan)
    _hand(page, plan)
    page.head("Cautions")
    for caution in plan.cautions:
        page.point(caution)
    page.lines.append("")
    page.say(f"{NO_PROMISE} {plan.made_by.short()}")
    return page.text().strip("\n")


def _in_short(page: _Page, plan: GardenPlan) -> None:
    gluts = [w for p in plan.plants for w in p.words if "will do" in w]
    for words in gluts[:3]:
        page.point(words[:1].upper() + words[1:] + ".")
    peak = plan.need.week(0.5)
    if peak.max(initial=0.0) > 0:
        week = int(peak.argmax())
        used = plan.beds.used.sum(axis=0)[_month_of(week * 7 + 3)]
        daily = peak[week] / 7.0
        page.point(
            f"In the thirstiest week, about {day_text(week * 7 + 3)}, the beds draw {_litres(daily)} litres a "
            f"day, {daily / max(used, 1e-9):.1f} litres for each of the {used:.0f} m2 in use."
        )
    store = plan.store
    if store.capacity > 0 and store.lasts is not None and store.lasts_dry_year is not None:
        if store.lasts_dry_year >= 365:
            page.point(f"A full store of {_litres(store.capacity)} litres lasts all year.")
        else:
            page.point(
                f"A full store of {_litres(store.capacity)} litres lasts {store.lasts:.0f} days from 1 "
                f"{store.month_name} ({store.lasts_dry_year:.0f} in the worst year in ten)."
            )
    if plan.gravity is not None and plan.garden.beds:
        verdict = "Gravity feeds the drip lines" if plan.gravity.works else "Gravity will not feed the drip lines"
        page.point(f"{verdict}: {plan.gravity.why}.")


def _month_of(day: int) -> int:
    return int(np.searchsorted(_MONTH_STARTS, day % 365, side="right")) - 1


def _plants(page: _Page, plan: GardenPlan) -> None:
    page.head("Plants")
    if not plan.plants:
        page.say("Nothing stands in the beds.")
    else:
        wide = page.width >= 90  # else the dates stand under the beds only
        rows = [["crop", "plants", "m2", "kg a year", "left over", "litres", *(["starts"] if wide else [])]]
        for p in plan.plants:
            starts = ", ".join(day_text(d) for d in p.starts)
            rows.append(
                [
                    p.crop,
                    f"{p.count}",
                    f"{p.area:.1f}",
                    f"{p.picked:.0f}" if p.picked >= 3 else f"{p.picked:.1f}",
                    f"{p.surplus_share:.0%}",
                    _litres(plan.by_crop.get(p.crop, 0.0)),
                    *([starts] if wide else []),
                ]
            )
        page.rows(rows, (1, 2, 3, 4, 5))
        page.lines.append("")
        for p in plan.plants:
            if p.words:
                text = "; ".join(p.words)
                page.point(text if text.startswith(f"{p.count} ") else f"{p.crop}: {text}")
    often = [f"{p.crop} ({len(p.starts)} times)" for p in plan.plants if len(p.starts) > 1]
    if often:
        page.point(f"started more than once, so that no picking is a glut and gaps are filled: {', '.join(often)}")
    for crop, met in plan.rain_alone.items():
        page.point(f"{crop} on rain alone gets {met:.0%} of the water it could use in the median year")
    left_out = list(dict.fromkeys(plan.left_out))
    for left in left_out[:_MOST_LEFT_OUT]:
        page.point(f"left out: {left.crop}: {left.why}")
    if len(left_out) > _MOST_LEFT_OUT:
        others = sorted({x.crop for x in left_out[_MOST_LEFT_OUT:]})
        page.point(f"left out likewise: {', '.join(others)}")


def _beds(page: _Page, plan: GardenPlan) -> None:
    page.head("Beds")
    months = [["m2", *MONTHS]]
    months.append(["wished for", *(f"{v:.0f}" for v in plan.beds.needed)])
    months.append(["in use", *(f"{v:.0f}" for v in plan.beds.used.sum(axis=0))] if plan.garden.beds else ["in use"])
    page.rows([r + [""] * (13 - len(r)) for r in months], tuple(range(1, 13)))
    page.lines.append("")
    stands: dict[int, list[str]] = defaultdict(list)
    for p in sorted(plan.beds.placings, key=lambda p: plan.sowings[p.sowing].start):
        start, _, last = median_span(plan.sowings[p.sowing])
        name = plan.sowings[p.sowing].crop.name
        stands[p.bed].append(f"{p.count} {name} {day_text(start)} to {day_text(last)}")
    for number, bed in enumerate(plan.garden.beds):
        inside = "; ".join(stands[number]) or "free"
        page.say(f"{bed.name} ({bed.area:.0f} m2): {inside}", "", "    ")
    if plan.rotation:
        page.lines.append("")
    for note in plan.rotation:
        page.point(note)
    page.point(
        f"A year's compost is {_litres(plan.volumes.compost)} litres and the mulch "
        f"{_litres(plan.volumes.mulch)}: some {plan.volumes.barrows} barrow loads."
    )


def _water(page: _Page, plan: GardenPlan) -> None:
    page.head("Water, litres a day")
    median, dry = _by_month(plan.need.week(0.5)), _by_month(plan.need.week(0.9))
    top = max(float(dry.max(initial=0.0)), 1e-9)
    room = max(page.width - 34, 10)
    bar, more = ("█", "░") if page.unicode else ("#", "-")
    page.lines.append(f"{'':6}{'median':>8}{'dry year':>10}   {bar} median year  {more} dry year in ten")
    for m in range(12):
        a, b = round(median[m] / top * room), round(dry[m] / top * room)
        line = f"{MONTHS[m]:6}{_litres(median[m]):>8}{_litres(dry[m]):>10}   {bar * a}{more * max(b - a, 0)}"
        page.lines.append(line.rstrip())
    page.lines.append("")
    page.say(
        f"The beds draw {_litres(plan.need.year(0.5))} litres in the median year and "
        f"{_litres(plan.need.year(0.9))} in the dry year in ten, what is lost on the way included."
    )
    for note in plan.notes:
        page.point(note)


def _store(page: _Page, plan: GardenPlan) -> None:
    store = plan.store
    page.head("The store")
    if store.chance_dry is None:
        page.say("The record is too short to tell.")
        return
    if plan.need.daily.sum() <= 0:
        page.say("Nothing draws on it.")
        return
    if store.chance_dry == 0:
        page.point(f"It ran dry in none of {len(store.years)} years.")
    else:
        first = f", first about {day_text(store.first_dry)}" if store.first_dry is not None else ""
        page.point(
            f"It runs dry {_odds(store.chance_dry)}; in the median year on {store.days_dry:.0f} "
            f"days{first}, and {_litres(store.refill_wanted)} litres are wanting."
        )
    runs_in = float(np.median([y.inflow for y in store.years]))
    if store.size_for_9_in_10 is None:
        page.point(
            f"No size lasts 9 years in 10: the beds draw {_litres(plan.need.year(0.5))} litres a year, roof and "
            f"refill cannot bring as much (they brought {_litres(runs_in)})."
        )
        if store.size_if_full:
            page.point(
                f"Filled to the brim before the dry season by other means, {_litres(store.size_if_full)} litres "
                "would last 9 years in 10."
            )
    else:
        water = plan.garden.water
        how = "with the same roof and refill" if water.roof or water.refill else "filled once a year"
        page.point(f"{_litres(store.size_for_9_in_10)} litres would last 9 years in 10, {how}.")
    good = [h for h in plan.helps if h.saves > 0.01 * plan.need.year(0.5)]
    for help_ in good:
        page.point(
            f"{help_.change} would save {_litres(help_.saves)} litres a year and leave {help_.days_dry:.0f} dry days"
        )
    for help_ in plan.helps:
        if help_ not in good:
            page.point(f"{help_.change} would save next to nothing")


def _gravity(page: _Page, plan: GardenPlan) -> None:
    feed = plan.gravity
    if feed is None or not plan.garden.beds:
        return
    page.head("Gravity feed")
    page.point(
        f"The tank outlet stands {feed.static_head:g} m above the beds: {feed.static_head * 0.0980665:.2f} bar with "
        "nothing flowing (10 m of water are 0.98 bar)."
    )
    page.point(f"It {'works' if feed.works else 'does not work'}: {feed.why}.")
    if feed.works:
        page.point(
            f"The main takes {feed.main_loss:.2f} m of head ({feed.hazen_williams:.2f} by Hazen-Williams); an "
            f"emitter gives {feed.emitter_flow:.2f} l/h against {plan.garden.water.emitters.flow:g} at its rated "
            "pressure."
        )
    for remedy in feed.would_help:
        page.point(f"{remedy}")


def _hand(page: _Page, plan: GardenPlan) -> None:
    page.head("By hand or by timer")
    hand = plan.hand
    week = int(hand.can.argmax())
    if hand.can.max(initial=0.0) <= 0:
        page.say("There is nothing to water.")
        return
    page.point(
        f"In the thirstiest week a 10 litre can takes {hand.can[week]:.0f} minutes a day, a hose of "
        f"{plan.garden.water.hose:g} l/min {hand.hose[week]:.0f}."
    )
    for tool, stops in (("the can", hand.can_stops), ("the hose", hand.hose_stops)):
        if stops is not None:
            page.point(f"More than half an hour a day with {tool} from about {day_text((stops - 1) * 7)} on.")
        else:
            page.point(f"With {tool} it never takes more than half an hour a day.")
    if plan.minutes is not None:
        page.point(f"The drip lines run {plan.minutes:.0f} minutes a day in that week.")
