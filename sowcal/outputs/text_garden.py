"""The garden on a screen: what to grow and how much, where it stands, what it drinks, how long the tank lasts."""

from __future__ import annotations

from collections.abc import Sequence

from sowcal.garden.plan import GardenPlan
from sowcal.outputs.days import MONTHS, day_text
from sowcal.outputs.garden_words import (
    bed_lines,
    bed_notes,
    by_month,
    garden_facts,
    gravity_notes,
    hand_notes,
    in_short,
    kilograms,
    litres,
    plant_notes,
    store_notes,
    water_notes,
)
from sowcal.outputs.screen import plain, table, wrap
from sowcal.outputs.wording import NO_PROMISE

__all__ = ["garden_text"]


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
