"""The handbook on the screen: a list of crops, one crop's sheet, and the table of bases."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterable, Mapping

from sowcal.crops.records import Crop
from sowcal.crops.sheet import Line
from sowcal.outputs.screen import plain

__all__ = ["basis_text", "list_text", "sheet_text"]


def list_text(crops: Iterable[Crop], width: int = 100) -> str:
    """Crops with botanical name, family and other names."""
    out = []
    for crop in crops:
        line = f"{crop.name:28} {crop.botanical_name:34} {crop.family:16} {', '.join(crop.synonyms)}".rstrip()
        out.append(line if len(line) <= width else line[: width - 4].rstrip(" ,") + " ...")
    return "\n".join(map(plain, out))


def _value(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:g}"


def sheet_text(crop: Crop, lines: Iterable[Line], unknown: Iterable[str], width: int = 100) -> str:
    """Every value with unit, basis and source; last what is not known."""
    out = [f"{crop.name}: {crop.botanical_name}, {crop.family}"]
    if crop.synonyms:
        out.append(f"also: {', '.join(crop.synonyms)}")
    heading = None
    cited: dict[str, int] = {}
    for line in lines:
        if line.table in ("crops", "cautions", "notes"):
            continue
        if (line.table, line.part) != heading:
            heading = (line.table, line.part)
            out += ["", line.table.upper() + (f", {line.part}" if line.part else "")]
        number = f" [{cited.setdefault(line.citation, len(cited) + 1)}]" if line.basis == "published" else ""
        text = _value(line.value)
        if isinstance(line.value, str) and len(text) > 40:
            out += textwrap.wrap(
                f"{line.field.replace('_', ' ')}: {text} ({line.basis})",
                width,
                initial_indent="  ",
                subsequent_indent="    ",
            )
        else:
            unit = "" if line.unit == "1" else f" {line.unit}"
            out.append(f"  {line.field.replace('_', ' '):30} {text + unit:22} {line.basis}{number}")
    if crop.cautions:
        out += ["", "CAUTIONS"]
        for caution in crop.cautions:
            out += textwrap.wrap(caution, width, initial_indent="  ", subsequent_indent="  ")
    if crop.note:
        out += ["", "NOTE", *textwrap.wrap(crop.note, width, initial_indent="  ", subsequent_indent="  ")]
    unknown = list(unknown)
    if unknown:
        out += ["", "NOT KNOWN, so not judged"]
        words = ", ".join(u.replace("_", " ") for u in unknown)
        out += textwrap.wrap(words, width, initial_indent="  ", subsequent_indent="  ")
    if cited:
        out += ["", "SOURCES"]
        for citation, place in cited.items():
            out += textwrap.wrap(f"[{place}] {citation}", width, initial_indent="  ", subsequent_indent="      ")
    return "\n".join(map(plain, out))


def basis_text(counts: Mapping[str, Counter]) -> str:
    """Values of each table by basis, and their shares."""
    names = ("published", "practice", "memory", "grower's own", "unknown")
    total: Counter = Counter()
    out = [f"{'table':14}" + "".join(f"{n:>14}" for n in names) + f"{'published %':>14}"]
    for table, count in [*counts.items(), ("all", total)]:
        known = sum(count[n] for n in names[:-1])
        share = f"{100 * count['published'] / known:.0f}" if known else "-"
        out.append(f"{table:14}" + "".join(f"{count[n]:>14}" for n in names) + f"{share:>14}")
        total.update(count)
    return "\n".join(out)
