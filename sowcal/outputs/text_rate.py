"""How far crops suit a place: one crop's verdict, or a table of many, best first."""

from __future__ import annotations

from collections.abc import Iterable

from sowcal.made_by import MadeBy
from sowcal.outputs.evidence import change_words, evidence_sentences, is_perennial, limit_words, odds_verb
from sowcal.outputs.screen import plain, table, wrap
from sowcal.outputs.wording import NO_PROMISE, interval_of, odds_of_few, record_text, short_odds
from sowcal.suitability.results import CropVerdict, Record

__all__ = ["rate_text", "verdict_text"]

_LIMIT = "limit: what stops it most; where an annual fits, on the days outside its dates."
_CLASS_WORDS = "S1 best, S2, S3, N: not here (FAO land evaluation framework 1976)"


def _grade(verdict: CropVerdict) -> str:
    return verdict.suitability or "-"


def _limit(verdict: CropVerdict) -> str:
    """What limits a crop: of an annual that fits, what closes the rest of the year."""
    lead = "what limits it most"
    if not is_perennial(verdict) and verdict.suitability in ("S1", "S2") and "hazard" not in verdict.evidence:
        lead = "outside its dates, mostly"
    return f"{lead}: {limit_words(verdict)}"


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
        out += say(f"{odds_verb(verdict)} {odds_of_few(verdict.reliability, *interval_of(verdict))}")
    if verdict.limiting_factor:
        out += say(_limit(verdict))
    for change in verdict.what_would_change_it[:2]:
        out += say(change_words(change), later="  ")
    for caution in verdict.cautions:
        out += say(f"CAUTION: {caution}", later="  ")
    if verdict.evidence:
        out += ["", "EVIDENCE"]
        for sentence in evidence_sentences(verdict):
            out += say(sentence.replace("°C", "degC"), first="  ", later="    ")
    for change in verdict.what_would_change_it[2:]:
        out += say(change_words(change), first="  ", later="    ")
    out += say(f"Record: {record_text(record)}", first="  ", later="    ")
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
            short_odds(v, "-"),
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
    if any(short_odds(v, "-").endswith(")") for v in verdicts):
        out += ["", *say("The record is short: in brackets the 95 per cent interval of the odds.")]
    out += ["", *say(f"years: in how many of ten it works. class: {_CLASS_WORDS}. {_LIMIT}"), *say(_foot(made_by))]
    return "\n".join(line.rstrip() for line in out)
