"""Scores of a chart's months against a printed guide, beside calendars that know no climate.

Strict and tolerant F1 on crop-months as the reference's scorer counts them; where a guide gives examples only, the
share of its crop-months that are ours, beside the share of all crop-months that are ours, which is what a calendar
blind to crop and month would hit.
"""

from __future__ import annotations

import random
from dataclasses import dataclass

from printed import YEAR, Guide, crops_of

__all__ = ["Score", "judge_months", "months_by_crop"]

Months = dict[str, frozenset[int]]


@dataclass(frozen=True)
class Score:
    """Strict and tolerant score, the 90 per cent interval of the strict one, and null calendars."""

    strict: float
    tolerant: float
    low: float
    high: float
    all_year: tuple[float, float]
    two_classes: tuple[float, float]
    borrowed: tuple[float, float] | None
    worst: float
    absent: list[str]

    def __str__(self) -> str:
        def two(pair: tuple[float, float] | None) -> str:
            return " - / - " if pair is None else f"{pair[0]:.2f}/{pair[1]:.2f}"

        return (
            f"{self.strict:.3f}/{self.tolerant:.3f}  [{self.low:.2f}, {self.high:.2f}]  all year {two(self.all_year)}"
            f"  two rows fitted here {two(self.two_classes)}  fitted elsewhere {two(self.borrowed)}"
        )


def months_by_crop(guide: Guide, ours: dict[str, set[int]], skill) -> tuple[Months, list[str]]:
    """Our months for each crop of a guide, within the months it speaks of; and crops that we lack."""
    out, absent = {}, []
    for crop in guide.months:
        names = crops_of(crop, skill)
        found = [m for n, m in ours.items() if n in names or n.split(" (")[0] in names]
        if not found:
            absent.append(crop)
        out[crop] = frozenset(set().union(*found) & guide.covers)
    return out, absent


def _two_rows(guide: Guide, skill) -> tuple[frozenset[int], frozenset[int]]:
    """Month sets for warm and for cool crops with the best strict score against a guide."""
    options = []
    for warm in (True, False):
        mine = [b for c, b in guide.months.items() if _warm(c, skill) == warm]
        counts = {m: sum(m in b for b in mine) for m in YEAR}
        options.append({frozenset(m for m in YEAR if counts[m] >= k) for k in range(1, len(mine) + 1)} or {frozenset()})
    return max(
        ((w, k) for w in options[0] for k in options[1]), key=lambda rows: skill.score(_laid(guide, rows, skill))[0]
    )


def _borrowed(elsewhere: Guide, south: bool, skill) -> tuple[frozenset[int], ...]:
    rows = _two_rows(elsewhere, skill)
    return rows if south == elsewhere.south else tuple(frozenset((m + 5) % 12 + 1 for m in row) for row in rows)


def _warm(crop: str, skill) -> bool:
    """Whether the scorer counts a crop, in its words or ours, among the warm ones."""
    ours = {n for w in skill.WARM for n in skill.OURS.get(w, [w])} | {"runner bean", "lima bean", "aubergine"}
    return crop in skill.WARM or bool({*crops_of(crop, skill), crop.split(" (")[0]} & ours)


def _laid(guide: Guide, rows: tuple[frozenset[int], ...], skill) -> list[tuple]:
    return [(rows[not _warm(c, skill)] & guide.covers, b) for c, b in guide.months.items()]


def judge_months(guide: Guide, ours: dict[str, set[int]], skill, elsewhere: Guide | None = None) -> Score:
    """Score of our months against a guide.

    Parameters
    ----------
    guide : Guide
    ours : dict
        Months by the name of the handbook's crop.
    skill : module
        The scorer that stands beside the reference data.
    elsewhere : Guide, optional
        Another region's guide, whose two fitted rows are judged here too, half a year on across the equator.
    """
    mine, absent = months_by_crop(guide, ours, skill)
    pairs = {c: (mine[c], b) for c, b in guide.months.items()}
    rng = random.Random(1)
    drawn = sorted(skill.score([pairs[c] for c in rng.choices(list(pairs), k=len(pairs))])[0] for _ in range(500))
    strict, tolerant = skill.score(list(pairs.values()))
    return Score(
        strict,
        tolerant,
        drawn[25],
        drawn[474],
        skill.score([(guide.covers, b) for b in guide.months.values()]),
        skill.score(_laid(guide, _two_rows(guide, skill), skill)),
        skill.score(_laid(guide, _borrowed(elsewhere, guide.south, skill), skill)) if elsewhere else None,
        min(skill.score([p])[1] for p in pairs.values()),
        absent,
    )


def hits(guide: Guide, ours: dict[str, set[int]], skill) -> tuple[float, float, float]:
    """Share of a guide's crop-months that are ours, strictly and with neighbours; and of all crop-months."""
    mine, _ = months_by_crop(guide, ours, skill)
    told = sum(len(b) for b in guide.months.values())
    # neighbours count even outside the months that the guide speaks of
    wide = Guide(guide.name, guide.station, guide.months, YEAR, guide.whole)
    all_ours, _ = months_by_crop(wide, ours, skill)
    strict = sum(len(mine[c] & b) for c, b in guide.months.items()) / told
    tolerant = sum(skill.near(b, all_ours[c]) for c, b in guide.months.items()) / told
    return strict, tolerant, sum(map(len, mine.values())) / (len(mine) * len(guide.covers))
