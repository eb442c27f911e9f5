"""Several printed month guides of one climate held against the chart at once, and what a guess would reach there.

One guide is a noisy yardstick: independent guides for one climate share 0.4 to 0.75 of their months (F1). So a crop
and a month are judged only where guides agree. A month is a *clear yes* for a crop when two guides or more name it
and at least two thirds of those that could do (of a list of examples only its naming counts, for its silence is no
evidence); a *clear no* when no guide names it and two whole guides or more cover month and crop; else it is left
out. Crops without a clear yes are left out too.

Of the months that the chart advises: `found` is the share of clear yes that it has, `in_no_guide` the share of its
clear months that are clear no. F1 is on clear months, pooled over crops. Narrowing loses `found`, widening gains
`in_no_guide`: both are read. The null is two rows of months, one for warm crops and one for cool, fitted for each
crop to all the others of the pool; the interval of what the chart has above it comes from drawing crops again.
"""

from __future__ import annotations

import csv
import random
from dataclasses import dataclass
from itertools import product
from pathlib import Path

from printed import YEAR, all_guides

__all__ = ["POOLS", "Guided", "Pool", "PoolScore", "best_days", "judge_pool", "open_pools"]

SEED, DRAWS = 1, 400

Crop = tuple[str, ...]
Months = dict[Crop, set[int]]
Clear = dict[Crop, tuple[set[int], set[int]]]

# pool, station, guides: KEY:REGION[:months covered][:yes] of the reference's tables, `&` joining guides of one
# service, or `*NAME` of this folder's own tables; `:yes` marks a list of examples
POOLS = (
    (
        "south coast",
        "san_diego_ca",
        (
            "UC-CA4:South Coast&UCCE-SanDiego:San Diego coastal",
            "SoCal-reports:Southern:2,3,4,5,6,7,8,9,10,11,12",
            "LA-King:Los:1,2,3,4:yes",
        ),
    ),
    ("interior", "five_points_ca", ("UC-CA4:Interior", "CA-ContraCosta:Central")),
    ("Netherlands", "de_bilt", ("NL-Flow:Netherlands:3,4,5,6,7,8", "NL-Vlashof:Netherlands")),
    ("Levante", "valencia", ("ES-HuertoEco:Spain:3,6,9", "CAT-HortsMarti:Catalonia:3,11", "CAT-Ara:Cat:10,11,12")),
    ("Attica", "athens_hellinikon", ("GR-warm:Greece:1,2", "GR-handbook:Greece:1,2")),
    ("Tasmania", "hobart", ("AU-Cundall:Tasmania:1,2,3,4,5", "*WHEN-HOBART")),
)


@dataclass(frozen=True)
class Guided:
    """One guide, or several of one service: months by crop, the months it speaks of, whether silence means no."""

    name: str
    months: Months
    covers: frozenset[int]
    whole: bool


@dataclass(frozen=True)
class Pool:
    """Guides of one climate with the station they are judged on, and what they agree on."""

    name: str
    station: str
    guides: tuple[Guided, ...]

    @property
    def clear(self) -> Clear:
        """Clear months, yes and no, by crop."""
        crops = sorted({c for g in self.guides for c in g.months})
        return {c: found for c in crops if (found := clear_months(self.guides, c))[0]}


@dataclass(frozen=True)
class PoolScore:
    """The chart on one pool, beside its nulls."""

    crops: int
    found: float
    in_no_guide: float
    f1: float
    two_rows: float
    all_year: float
    gain: tuple[float, float, float]  # above two rows, and the ends of its 90 per cent interval

    def __str__(self) -> str:
        gain, low, high = self.gain
        return (
            f"{self.crops:3} crops  found {self.found:.2f}  in no guide {self.in_no_guide:.2f}  F1 {self.f1:.3f}  "
            f"two rows {self.two_rows:.3f}  all year {self.all_year:.3f}  above two rows {gain:+.3f} "
            f"[{low:+.2f}, {high:+.2f}]"
        )


def clear_months(guides: tuple[Guided, ...], crop: Crop) -> tuple[set[int], set[int]]:
    """Months that the guides agree are for a crop, and those that they agree are not."""
    yes, no = set(), set()
    for month in YEAR:
        here = [g for g in guides if month in g.covers]
        names = sum(month in g.months.get(crop, ()) for g in here)
        can = sum(crop in g.months and (g.whole or month in g.months[crop]) for g in here)
        if names >= 2 and names >= 2 / 3 * can:
            yes.add(month)
        elif names == 0 and sum(crop in g.months and g.whole for g in here) >= 2:
            no.add(month)
    return yes, no


def told_months(guides: tuple[Guided, ...], crop: Crop) -> set[int]:
    """Months in which two guides or more could have named a crop, so that it can be said whether they agree."""
    return {m for m in YEAR if sum(m in g.covers and crop in g.months for g in guides) >= 2}


_UNDER_GLASS = {"hotbed", "under cover"}  # words of the Greek and Spanish tables, whose months go before the bed's


def _guide_months(table: Path, key: str, region: str, skill) -> Months:
    """Months by the guide's word for a crop, as the reference's scorer reads them, less what is raised under cover."""
    out: dict = {}
    with open(table, newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            mine = row["guide"] == key and row["region"].startswith(region) and row["months_num"]
            if mine and row["method"] not in skill.NOT_STARTS | _UNDER_GLASS:
                out.setdefault(row["crop"], set()).update(int(float(m)) for m in row["months_num"].split())
    return out


def _read(word: str, folder: Path, own: dict[str, Guided], skill) -> Guided:
    if word.startswith("*"):
        return own[word[1:]]
    months: Months = {}
    covers: set[int] = set()
    whole = True
    for part in word.split("&"):
        key, region, *rest = part.split(":")
        whole = whole and "yes" not in rest
        told = [{int(m) for m in r.split(",")} for r in rest if r != "yes"]
        covers |= told[0] if told else set(YEAR)
        for table in ("planting_months.csv", "planting_months_more.csv"):
            for crop, found in _guide_months(folder / "reference" / table, key, region, skill).items():
                if crop in skill.OURS:
                    months.setdefault(tuple(sorted(skill.OURS[crop])), set()).update(found & covers)
    return Guided(word, months, frozenset(covers), whole)


def open_pools(folder: Path, skill) -> list[Pool]:
    """Every pool, from the reference folder's tables and this folder's own."""
    own = {}
    for guide in all_guides(folder, skill):
        months: Months = {}
        for crop, found in guide.months.items():
            months.setdefault((crop.split(" (")[0],), set()).update(found)
        own[guide.name] = Guided(guide.name, months, guide.covers, guide.whole)
    return [Pool(name, at, tuple(_read(w, folder, own, skill) for w in words)) for name, at, words in POOLS]


def ours_by_crop(ours: dict[str, set[int]], crops: list[Crop]) -> Months:
    """The chart's months, of all types of a crop together, by the pool's crops."""
    return {c: set().union(*[m for name, m in ours.items() if name.split(" (")[0] in c]) for c in crops}


def counts(months: Months, clear: Clear) -> tuple[int, int, int]:
    """Clear months that are ours, clear yes that are not, and clear no that are."""
    hit = sum(len(months.get(c, set()) & yes) for c, (yes, _) in clear.items())
    missed = sum(len(yes - months.get(c, set())) for c, (yes, _) in clear.items())
    false = sum(len(months.get(c, set()) & no) for c, (_, no) in clear.items())
    return hit, missed, false


def f1(months: Months, clear: Clear) -> float:
    """F1 on clear months, pooled over crops."""
    hit, missed, false = counts(months, clear)
    return 2 * hit / max(1, 2 * hit + missed + false)


def is_warm(crop: Crop, skill) -> bool:
    """Whether the reference's scorer counts a crop among the warm ones."""
    return any(name in skill.WARM for name, ours in skill.OURS.items() if tuple(sorted(ours)) == crop)


def two_rows(clear: Clear, warm: dict[Crop, bool]) -> Months:
    """For each crop the row of its kind, from the pair of rows that fits all other crops best."""
    out: Months = {}
    for left in clear:
        rest = {c: p for c, p in clear.items() if c != left}
        rows = []
        for kind in (True, False):
            named = {m: sum(m in yes for c, (yes, _) in rest.items() if warm[c] == kind) for m in YEAR}
            most = max(named.values(), default=0)
            cuts = [frozenset(m for m in YEAR if named[m] >= k) for k in range(1, most + 1)]
            rows.append(cuts or [YEAR])
        best = max(product(*rows), key=lambda pair: f1({c: set(pair[not warm[c]]) for c in rest}, rest))
        out[left] = set(best[not warm[left]])
    return out


def judge_pool(pool: Pool, ours: dict[str, set[int]], skill) -> PoolScore:
    """The chart's months against a pool.

    Parameters
    ----------
    pool : Pool
    ours : dict
        Months of recommended starts by the handbook's name of a crop.
    skill : module
        The scorer that stands beside the reference data: its names of crops, and which are warm.
    """
    clear = pool.clear
    mine = ours_by_crop(ours, list(clear))
    warm = {c: is_warm(c, skill) for c in clear}
    rows = two_rows(clear, warm)
    rng, gains = random.Random(SEED), []
    for _ in range(DRAWS):
        drawn = rng.choices(list(clear), k=len(clear))
        # a crop drawn twice must count twice: it takes a name of its own
        part = {(*c, str(i)): clear[c] for i, c in enumerate(drawn)}
        both = [{(*c, str(i)): m[c] for i, c in enumerate(drawn)} for m in (mine, rows)]
        gains.append(f1(both[0], part) - f1(both[1], part))
    gains.sort()
    hit, missed, false = counts(mine, clear)
    score, null = f1(mine, clear), f1(rows, clear)
    return PoolScore(
        crops=len(clear),
        found=hit / max(1, hit + missed),
        in_no_guide=false / max(1, hit + false),
        f1=score,
        two_rows=null,
        all_year=f1({c: set(YEAR) for c in clear}, clear),
        gain=(score - null, gains[int(0.05 * DRAWS)], gains[int(0.95 * DRAWS) - 1]),
    )


@dataclass(frozen=True)
class BestDays:
    """Where the middle day of a crop's best fortnight lies, one crop of one pool a row."""

    pool: str
    crop: str
    month: int
    verdict: str  # 'clear', 'not clear', or 'not told' where fewer than two guides speak of crop and month
    blind: float  # share of told months that are clear: what a day by chance would reach


def best_days(pool: Pool, fortnights: dict[str, int]) -> list[BestDays]:
    """Each crop of a pool by the month of the middle day of its best fortnight.

    Parameters
    ----------
    pool : Pool
    fortnights : dict
        By the handbook's base name (without its type) the month of that day; crops that are only planted, and
        perennials, are not in it.
    """
    out = []
    for crop, (yes, _) in pool.clear.items():
        told = told_months(pool.guides, crop)
        for name in crop:
            if name in fortnights:
                month = fortnights[name]
                verdict = "clear" if month in yes else "not clear" if month in told else "not told"
                out.append(BestDays(pool.name, name, month, verdict, len(yes & told) / len(told)))
    return out
