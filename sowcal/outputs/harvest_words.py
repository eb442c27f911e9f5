"""What a square metre draws and gives, in words and in the cells of a table."""

from __future__ import annotations

from dataclasses import replace

from sowcal.languages import counted, say, say_crop
from sowcal.outputs.document import Document, Paragraph
from sowcal.suitability.compare import CompareResult, RecentYears
from sowcal.suitability.results import CropSeasons, CropVerdict, Harvest
from sowcal.units import amount, told, unit_word

__all__ = [
    "DRAWN",
    "harvest_cells",
    "harvest_words",
    "litres_cell",
    "litres_facts",
    "recent_words",
    "with_recent",
]

DRAWN = 6  # columns of a line that the stored water of a square metre takes
_SPICE = 0.05  # kg per m2, below which grams are told


def harvest_words(harvest: Harvest) -> str:
    """What a square metre draws and gives.

    Examples
    --------
    >>> harvest_words(Harvest(241, (2.29, 5.49), 34.3))
    'draws 241 litres/m2 a season, gives 2.3 to 5.5 kg/m2, picked over 34 weeks'
    """
    litres, kg, weeks = harvest.litres_per_m2, harvest.yield_here, harvest.weeks_of_picking
    given = ""
    if kg is not None and kg[1] < _SPICE:
        low, high = (amount(1000 * value, "g/m2", ".1f") for value in kg)
        given = say("gives {low} to {high} {unit}", low=low, high=high, unit=unit_word("g/m2"))
    elif kg is not None:
        low, high = (amount(value, "kg/m2", ".1f") for value in kg)
        given = say("gives {low} to {high} {unit}", low=low, high=high, unit=unit_word("kg/m2"))
    said = (
        "" if litres is None else say("draws {water} a season", water=told(litres, "litres/m2", ".0f")),
        given,
        "" if weeks is None else say("picked over {weeks}", weeks=counted(round(weeks), "week")),
    )
    return ", ".join(filter(None, said))


def harvest_cells(verdict: CropVerdict) -> list[str]:
    """kg and litres a square metre, and weeks of picking; '-' where one is not known."""
    found = verdict.harvest
    given = (
        "-"
        if found.yield_here is None
        else "-".join(
            amount(kg, "kg/m2", f".{4 if found.yield_here[1] < _SPICE else int(kg < 9.95)}f") for kg in found.yield_here
        )
    )
    litres, weeks = found.litres_per_m2, found.weeks_of_picking
    drawn = "-" if litres is None else amount(litres, "l/m2", ".0f")
    return [given, drawn, "-" if weeks is None else f"{weeks:.0f}"]


def litres_cell(line: CropSeasons) -> str:
    """Stored water of the thriftiest way, a square metre and season, in its columns; blank where not known."""
    known = [w.harvest.litres_per_m2 for w in line.starts if w.harvest.litres_per_m2 is not None]
    return f"{amount(min(known), 'l/m2', '.0f'):>{DRAWN - 1}} " if known else " " * DRAWN


def recent_words(found: RecentYears) -> str:
    """What the last years of a record move, in one sentence; why nothing can be told, where that is so."""
    if found.why_not == "generated":
        return say("Generated weather tells nothing of what the last {years} years move.", years=found.years)
    if found.why_not:
        return say("The record is too short to tell what its last {years} years move.", years=found.years)
    middle, odds = round(found.days), None if found.odds is None else round(100 * found.odds)
    most = sorted((m for m in found.crops if m.days), key=lambda m: -abs(m.days))[:2]
    named = f" ({', '.join(f'{say_crop(m.crop)} {m.days:+d}' for m in most)})" if most else ""
    move = say("{days:+d} in the middle crop", days=middle) if middle else say("as many in the middle crop")
    often = say(", odds the same") if not odds else say(", odds {odds:+d} in 100", odds=odds)
    return say(
        "Last {years} of {all:.0f} years: days to start in {move}{named}{often}; fewer years move by chance too "
        "(--years {years}).",
        years=found.years,
        all=found.of,
        move=move,
        named=named,
        often="" if odds is None else often,
    )


def with_recent(document: Document, found: RecentYears | None) -> Document:
    """A document of a place with that sentence as its last."""
    return document if found is None else replace(document, parts=(*document.parts, Paragraph(recent_words(found))))


def litres_facts(result: CompareResult, names: tuple[str, str]) -> tuple[tuple[str, str, str], ...]:
    """What the middle crop draws at both places; nothing where no crop's water is known at both."""
    first, second, crops = result.litres
    if not crops:
        return ()
    said = say(
        "{first} a season at {one}, {second} at {two} (middle of {crops})",
        first=told(first, "litres/m2", ".0f"),
        second=amount(second, "litres/m2", ".0f"),
        one=names[0],
        two=names[1],
        crops=counted(crops, "crop"),
    )
    return ((say("stored water"), said, ""),)
