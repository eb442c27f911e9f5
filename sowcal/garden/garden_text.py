"""The text of a garden file as it is made, or changed by its start days; the rest of it stays line by line."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Sequence
from pathlib import Path

from sowcal.errors import InputError
from sowcal.garden.garden_file import Garden, Start, parse_garden
from sowcal.year import month_day

__all__ = ["garden_of_text", "new_garden_text", "with_starts"]

_HEADER = re.compile(r"\s*\[\[?\s*(?P<name>[^\]]+?)\s*\]\]?\s*(#.*)?")
_NOTE = "# Start days chosen by hand: a crop that is named here is started on these days and no others."


def _quoted(text: str) -> str:
    """A text as TOML has it."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def with_starts(text: str, starts: Sequence[Start], where: str) -> str:
    r"""The text of a garden file with other start days; all else stays as it is.

    Parameters
    ----------
    text : str
    starts : sequence of Start
    where : str
        File named in errors.

    Raises
    ------
    InputError
        Where its start days are written in a way that cannot be changed line by line; nothing is lost then.

    Examples
    --------
    >>> print(with_starts('name = "mine"\n', [Start("leek", "set out", 130)], "my.garden.toml").split("\n")[-2])
    day = "05-11"
    """
    kept: list[str] = []
    within = False
    for line in text.removesuffix("\n").split("\n"):
        if found := _HEADER.fullmatch(line):
            within = found["name"].strip("\"'") == "starts"
        if not within and line != _NOTE:
            kept.append(line)
    while kept and not kept[-1].strip():
        kept.pop()
    for number, start in enumerate(starts):
        kept += ["", *([_NOTE] if not number else []), "[[starts]]", f"crop = {_quoted(start.crop)}"]
        kept += [f"way = {_quoted(start.way)}", f"day = {_quoted(month_day(start.day))}"]
    made = "\n".join(kept) + "\n"
    wanted = {k: v for k, v in tomllib.loads(text).items() if k != "starts"}
    if starts:
        wanted["starts"] = [{"crop": s.crop, "way": s.way, "day": month_day(s.day)} for s in starts]
    try:
        if tomllib.loads(made) == wanted:
            return made
    except tomllib.TOMLDecodeError:
        pass
    raise InputError("its start days are not in [[starts]] tables, and cannot be changed here", where=where)


def new_garden_text(
    name: str, site: str, people: float, beds: int, length: float, width: float, tanks: Sequence[float], folder: Path
) -> tuple[str, Garden]:
    """The text of a first garden file, and the garden that it describes.

    Parameters
    ----------
    name, site : str
        Of the garden; its site as a word or as a file from the folder of the garden file.
    people : float
    beds : int
        Beds of one size.
    length, width : float
        Of each, m.
    tanks : sequence of float
        Litres each.
    folder : pathlib.Path

    Raises
    ------
    InputError
        Where these make no garden.
    """
    lines = [
        "# A garden, begun on the page of `sowcal open`; edit it as you like.",
        f"name = {_quoted(name)}",
        f"site = {_quoted(site)}",
        'crops = "suggest"  # or a list such as ["carrot", "leek"]',
        "",
        "[household]",
        f"people = {people:g}",
    ]
    if tanks:
        lines += ["", "[water]", f"tanks = [{', '.join(f'{t:g}' for t in tanks)}]  # litres"]
    for number in range(1, beds + 1):
        lines += ["", "[[beds]]", f'name = "bed {number}"', f"length = {length:g}  # m", f"width = {width:g}"]
    text = "\n".join(lines) + "\n"
    return text, garden_of_text(text, "the new garden", folder)


def garden_of_text(text: str, where: str, folder: Path) -> Garden:
    """The garden of a text, at least one bed of it."""
    garden = parse_garden(text, where=where, folder=folder)
    if not garden.beds:
        raise InputError("a garden needs at least one bed", where=where)
    return garden
