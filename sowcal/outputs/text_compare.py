"""Two places side by side, crops gained and lost, windows moved, and one closing sentence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sowcal.climate.summary_definitions import ABOVE, definitions
from sowcal.counted import counted
from sowcal.outputs.days import day_of_year, day_text
from sowcal.outputs.screen import plain, table, wrap
from sowcal.outputs.text_moved import LONGEST, moved_rows, widest_first
from sowcal.outputs.wording import in_ten, record_text
from sowcal.suitability.results import CompareResult

__all__ = ["closing_sentence", "compare_text"]

_FEW = 12  # crops; no more than these are told one by one
_WIDEST = 16  # letters of a name that heads a column
_SHORT = {name: d.short for name, d in definitions().items()}
# Figures of a `ClimateSummary.to_json()` and how each is shown.
_FIGURES: tuple[tuple[str, str, str], ...] = (
    ("last spring frost, middle year", "last_spring_frost", "date"),
    ("first autumn frost, middle year", "first_autumn_frost", "date"),
    ("frost-free days, middle year", "frost_free_days", "odds"),
    (f"frost days a year ({_SHORT['frost_days']})", "frost_days", "number"),
    (f"degree days ({_SHORT['growing_degree_days']})", "growing_degree_days", "number"),
    *((words, name, "sum") for name, words in ABOVE.items()),
    ("chill portions (dynamic model)", "chill_portions", "number"),
    ("rain, mm a year", "pr", "sum"),
    ("reference ET, mm a year", "reference_evapotranspiration", "sum"),
    ("hardiness zone", "hardiness_zone", "word"),
)


def _shown(climate: Mapping[str, Any], name: str, form: str) -> str:
    value = climate.get(name)
    if value is None or value == []:
        return "not known"
    if form == "date":
        return "never" if value["p50"] is None else day_text(day_of_year(value["p50"]))
    if form == "odds":
        return "all year" if value["p50"] is None else f"{value['p50']}"
    if form == "sum":
        return "not known" if any(v is None for v in value) else f"{sum(value):.0f}"
    return f"{value:.0f}" if form == "number" else str(value)


def _pair(better: Mapping[str, Any], name: str) -> tuple[Any, Any] | None:
    pair = better.get(name)
    return (pair[0], pair[1]) if isinstance(pair, Sequence) and len(pair) == 2 else None


def closing_sentence(result: CompareResult) -> str:
    """Which place carries more, in one sentence, as the record has counted it."""
    one, two = result.sites
    carried = _pair(result.better, "crops_carried")
    sound = _pair(result.better, "crops_sound")
    judged = result.better.get("crops_judged")
    if carried is None:
        return f"{one} and {two} cannot be told apart by crops: none was judged."
    silent = _pair(result.better, "crops_cannot_say") or (0, 0)
    mute = [site for site, n in zip((one, two), silent, strict=True) if judged and n == judged]
    if mute:
        return f"Neither can be called the better plot: the record of {' and '.join(mute)} carries no verdict."
    of = f" of {counted(int(str(judged)), 'crop')}" if judged else " crops"
    by = "carries"
    if carried[0] == carried[1] and sound and sound[0] != sound[1]:
        carried, by = sound, "is sound for"
    if carried[0] == carried[1]:
        return f"Neither is the better for what it grows: {one} and {two} each carry {carried[0]}{of}."
    more, less = (0, 1) if carried[0] > carried[1] else (1, 0)
    return (
        f"{result.sites[more]} is the better plot by what it grows: it {by} {carried[more]}{of}, "
        f"{result.sites[less]} {carried[less]}."
    )


def _crop_rows(result: CompareResult, one: str, two: str) -> list[list[str]]:
    """A line a crop: days on which it may be started, years that work, and which place is ahead."""
    names = (one, two)
    out = [["crop", "days", "days", "years", "years", "longer", "safer"]]
    out.insert(0, ["", one, two, one, two, "", ""])
    for c in result.crops:
        years = ["-" if r is None else in_ten(r) for r in c.reliability]
        ahead = ["alike" if k is None else names[k] for k in (c.longer, c.safer)]
        out.append([c.crop, str(c.days[0]), str(c.days[1]), *years, *ahead])
    return out


def compare_text(result: CompareResult, *, width: int = 100, unicode: bool = True) -> str:
    """The comparison as text.

    Parameters
    ----------
    result : CompareResult
        Its climates as `ClimateSummary.to_json()` gives them; a figure that is absent is 'not known'.
    width : int
        Columns of the screen, 60 or more.
    unicode : bool
        Whether letters beyond ASCII may be sent.
    """
    width = max(width, 60)

    def say(text: str, **more: str) -> list[str]:
        return wrap(plain(text, unicode=unicode), width, **more)

    def rows(cells: list[list[str]], right: tuple[int, ...] = ()) -> list[str]:
        return table([[plain(c, unicode=unicode) for c in row] for row in cells], width, right=right)

    one, two = result.sites
    out = [*say(f"{one} BESIDE {two}")]
    if max(map(len, result.sites)) > _WIDEST:  # names too long to head columns
        out += [*say(f"first: {one}"), *say(f"second: {two}")]
        one, two = "first", "second"
    out += [t for site, r in zip(result.sites, result.records, strict=False) for t in say(f"{site}: {record_text(r)}")]
    out.append("")
    figures = [["", one, two]]
    figures += [[words, *(_shown(c, name, form) for c in result.climates)] for words, name, form in _FIGURES]
    for words, name in (
        ("crops carried (sound or fair)", "crops_carried"),
        ("crops that are sound", "crops_sound"),
        ("days of advised starts, all crops", "days_of_recommended_starts"),
    ):
        pair = _pair(result.better, name)
        if pair is not None:
            figures.append([words, str(pair[0]), str(pair[1])])
    for words, which in (("crops with the longer window", "longer"), ("crops that work in more years", "safer")):
        if result.crops:
            ahead = [getattr(c, which) for c in result.crops]
            figures.append([words, str(ahead.count(0)), str(ahead.count(1))])
    out += rows(figures, right=(1, 2))
    if 0 < len(result.crops) <= _FEW:
        out += ["", *rows(_crop_rows(result, one, two), right=(1, 2, 3, 4))]
    for heading, crops in (
        (f"ONLY THE {two.upper()} CARRIES" if two == "second" else f"ONLY {two} CARRIES", result.gained),
        (f"ONLY THE {one.upper()} CARRIES" if one == "first" else f"ONLY {one} CARRIES", result.lost),
    ):
        out += ["", *say(heading), *say(", ".join(crops) or "none", first="  ", later="  ")]
    if result.moved:
        order = widest_first(result.moved)
        body = moved_rows(order[:LONGEST], one, two, 5 if width >= 90 else 3)
        heading = "WINDOWS MOVED BY A WEEK OR MORE (+ later, - earlier), the widest first"
        out += ["", *say(heading), *rows(body, right=(3, 4))]
        if len(order) > LONGEST:
            out.append(f"and {len(order) - LONGEST} more")
    end = [*say(closing_sentence(result)), *say(result.made_by.short())]
    return "\n".join([*(line.rstrip() for line in out), "", *end])
