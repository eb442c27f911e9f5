"""How far crops suit a place: one crop's verdict, or a table of many, best first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from sowcal.made_by import MadeBy
from sowcal.outputs.days import day_text, span_text
from sowcal.outputs.json_form import plain_value
from sowcal.outputs.screen import plain, table, wrap
from sowcal.outputs.wording import NO_PROMISE, in_ten, record_text, three_words
from sowcal.suitability.results import CropVerdict, FirstPicking, Outside, Record, Window

__all__ = ["rate_text", "verdict_text"]

_CLASS_WORDS = "S1 best, S2, S3, N: not here (FAO land evaluation framework 1976)"


def _grade(verdict: CropVerdict) -> str:
    return verdict.suitability or "-"


def _odds(verdict: CropVerdict) -> str:
    return "-" if verdict.reliability is None else in_ten(verdict.reliability)


def _evidence_value(key: str, value: Any) -> str:
    """One piece of evidence in words."""
    if isinstance(value, Window):
        low, high = value.interval
        words = f"{span_text(value.start, value.end)}, best about {day_text(value.best)}"
        words += f", works in {value.reliability:.0%} of {value.years_decided} years"
        words += f" (95 per cent interval {low:.0%} to {high:.0%})"
        if value.raise_under_cover:
            words += f", sown under cover {span_text(*value.raise_under_cover)}"
        return words
    if isinstance(value, FirstPicking):
        return f"{day_text(value.p50)} ({day_text(value.p10)} to {day_text(value.p90)})"
    if isinstance(value, Outside):
        return f"{span_text(value.start, value.end)}: {value.hazard}, {value.share_of_years:.0%} of years"
    if isinstance(value, Mapping):
        return ", ".join(f"{_name(str(k))} {_evidence_value(str(k), v)}" for k, v in value.items())
    if isinstance(value, (list, tuple)):
        return ", ".join(_evidence_value(key, v) for v in value)
    value = plain_value(value)
    if value is None:
        return "not known"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and ("share" in key or "fraction" in key):
        return f"{value:.0%}"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _name(key: str) -> str:
    return key.replace("_", " ")


def _foot(made_by: MadeBy | None) -> str:
    return f"{NO_PROMISE} {made_by.short()}" if made_by else NO_PROMISE


def verdict_text(
    site: str,
    record: Record,
    verdict: CropVerdict,
    *,
    made_by: MadeBy | None = None,
    width: int = 100,
    unicode: bool = True,
) -> str:
    """One crop's verdict in a few lines, then its evidence.

    Parameters
    ----------
    site : str
    record : Record
    verdict : CropVerdict
    made_by : MadeBy, optional
    width : int
        Columns of the screen.
    unicode : bool
        Whether letters beyond ASCII may be sent.
    """

    def say(text: str, **more: str) -> list[str]:
        return wrap(plain(text, unicode=unicode), width, **more)

    head = f"{verdict.crop} at {site}: {verdict.word.upper()}"
    out = say(head + (f" ({verdict.suitability})" if verdict.suitability else ""))
    if verdict.reliability is not None and verdict.suitability is not None:
        hardly = verdict.reliability < 0.05
        out += say("works in hardly a year" if hardly else f"works in {in_ten(verdict.reliability)} years")
    if verdict.limiting_factor:
        out += say(f"limit: {verdict.limiting_factor} ({three_words(verdict.limiting_factor)})")
    for change in verdict.what_would_change_it[:2]:
        out += say(f"would change it: {change}", later="  ")
    for caution in verdict.cautions:
        out += say(f"CAUTION: {caution}", later="  ")
    if verdict.evidence:
        out += ["", "EVIDENCE"]
        for key, value in verdict.evidence.items():
            out += say(f"{_name(key)}: {_evidence_value(key, value)}", first="  ", later="    ")
    for change in verdict.what_would_change_it[2:]:
        out += say(f"would change it too: {change}", first="  ", later="    ")
    out += say(f"record: {record_text(record)}", first="  ", later="    ")
    return "\n".join([*out, "", *say(_foot(made_by))])


def rate_text(
    site: str,
    record: Record,
    verdicts: Iterable[CropVerdict],
    *,
    made_by: MadeBy | None = None,
    width: int = 100,
    unicode: bool = True,
) -> str:
    """Verdicts as a table in the order given (best first).

    Parameters
    ----------
    site : str
    record : Record
    verdicts : iterable of CropVerdict
    made_by : MadeBy, optional
    width : int
        Columns of the screen.
    unicode : bool
        Whether letters beyond ASCII may be sent.
    """
    verdicts = list(verdicts)
    rows = [["crop", "verdict", "class", "years", "limit"]]
    rows += [
        [
            plain(v.crop, unicode=unicode),
            plain(v.word, unicode=unicode),
            _grade(v),
            _odds(v),
            plain(v.limiting_factor or "-", unicode=unicode),
        ]
        for v in verdicts
    ]

    def say(text: str) -> list[str]:
        return wrap(plain(text, unicode=unicode), width)

    out = [
        *say(f"WHAT SUITS {site}; {record_text(record)}"),
        "",
        *table(rows, width, gap=2 if width >= 80 else 1),
    ]
    out += ["", *say(f"years: in how many of ten it works. class: {_CLASS_WORDS}."), *say(_foot(made_by))]
    return "\n".join(line.rstrip() for line in out)
