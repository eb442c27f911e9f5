"""The yardsticks by which planting windows are judged: `python tests/validation/yardsticks.py [--profile] [--best]`.

Needs the folder of real records and guides that SOWCAL_REFERENCE names. One table, in eight parts: breadth, pooled
guides (`pools.py`), single guides (`guides.py`), staples, planting-date trials (`trials.py`), odds within
(`odds.py`), best fortnights, and with `--profile` (minutes) the score over a small grid of the two preference
numbers. Each stands beside what a guess would reach, with 90 per cent intervals from resampling under stated seeds.
Every station is charted once. `--best` names each crop's best fortnight against its pool.
"""

from __future__ import annotations

import csv
import json
import random
import sys
from collections.abc import Iterable
from itertools import product
from pathlib import Path
from statistics import mean, median
from typing import Any

import guides
import odds
import pools
import trials
from printed import all_guides

import sowcal
from sowcal.crops.handbook import handbook

ISSUED = "2026-01-15"
STATIONS = ("san_diego_ca", "algiers", "seville", "valencia", "palma", "athens_hellinikon", "perth", "five_points_ca")
STATIONS += ("madrid", "a_coruna", "de_bilt", "dublin_airport", "hobart")
WITH_ODDS = ("san_diego_ca", "five_points_ca", "seville", "valencia", "algiers", "de_bilt")
SEED, DRAWS = 1, 1000
BROAD, VERY_BROAD = 150, 240  # days of the year
NEAR_BEST = 0.9  # of a trial's best yield
PROFILE = {"near_best": (0.8, 0.84, 0.86, 0.88, 0.9), "bed_day": (0.0, 0.002, 0.003, 0.004, 0.006)}
FLAT = 0.01  # of the best score: values so near are no worse
STARTS = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334)
TRIALS = Path(__file__).parents[1] / "data" / "planting_date_trials.csv"

Chart = dict[str, Any]


class Stations:
    """Records and charts of the reference's stations, each made once."""

    def __init__(self, folder: Path):
        self.folder = folder
        self._records: dict[str, Any] = {}
        self._charts: dict[str, Chart] = {}
        with open(folder / "weather" / "stations.csv", newline="", encoding="utf-8") as file:
            self.rows = list(csv.DictReader(file))

    def record(self, station: str) -> Any:
        """The record of a station."""
        if station not in self._records:
            self._records[station] = guides.station_record(self.folder, station)
        return self._records[station]

    def chart(self, station: str) -> Chart:
        """The JSON of a station's chart of all crops."""
        if station not in self._charts:
            self._charts[station] = chart_of(self.record(station))
        return self._charts[station]

    def season(self, station: str, crop: str, way: str, start: str) -> Any:
        """One real season, by no more of the record than it can need: three years from a year before the start."""
        year = int(start[:4])
        part = self.record(station).span(f"{year - 1}-01-01", f"{year + 2}-12-31")
        return sowcal.Site.open(part, issued=ISSUED).one_season(crop, way=way, start=start)


def chart_of(record: Any, *crops: str, **settings: float) -> Chart:
    """The JSON of the chart of some crops, or all, on a record."""
    return json.loads(sowcal.Site.open(record, issued=ISSUED).chart(*crops, **settings).to_json())


def day_of(date: str) -> int:
    """Day of a 365-day year, from 0, of MM-DD."""
    month, day = map(int, date.split("-"))
    return STARTS[month - 1] + min(day, 28 if month == 2 else 31) - 1


def month_of(day: int) -> int:
    """Month, from 1, of a day of a 365-day year."""
    return sum(day % 365 >= s for s in STARTS)


def days_in(windows: Iterable[dict[str, Any]]) -> set[int]:
    """Days of the year that lie in one of some windows."""
    out: set[int] = set()
    for w in windows:
        first, last = day_of(w["from"]), day_of(w["to"])
        out |= {(first + k) % 365 for k in range((last - first) % 365 + 1)}
    return out


def annuals() -> dict[str, set[str]]:
    """Ways of each annual of the handbook."""
    return {name: {w.way for w in crop.ways} for name, crop in handbook().items() if crop.perennial is None}


def breadth(chart: Chart, kind: str = "windows") -> list[int]:
    """Days a year on which each annual that may be sown or set out is so advised; 0 where it never is."""
    ways = annuals()
    out = []
    for line in chart["crops"]:
        if ways.get(line["crop"], set()) - {"planted"}:
            out.append(len(set().union(*[days_in(s[kind]) for s in line["starts"] if s["way"] != "planted"])))
    return out


def interval(values: list[float], what: Any) -> tuple[float, float]:
    """90 per cent interval of a figure of some values, from drawing them again."""
    rng = random.Random(SEED)
    drawn = sorted(what(rng.choices(values, k=len(values))) for _ in range(DRAWS))
    return drawn[int(0.05 * DRAWS)], drawn[int(0.95 * DRAWS) - 1]


def breadth_row(chart: Chart) -> tuple[float, float, float]:
    """Median of the advised days of the crops that are advised, and the share of them above 150 and above 240."""
    days = [d for d in breadth(chart) if d]
    return median(days), mean(d > BROAD for d in days), mean(d > VERY_BROAD for d in days)


def breadth_lines(stations: Stations) -> list[str]:
    """Breadth at every station, beside that of all that works."""
    out = []
    for name in STATIONS:
        chart = stations.chart(name)
        days = [d for d in breadth(chart) if d]
        works = [d for d in breadth(chart, "possible") if d]
        middle, broad, very = breadth_row(chart)
        low, high = interval(days, median)
        lines = [n for c in chart["crops"] if (n := len(set().union(*[days_in(s["windows"]) for s in c["starts"]])))]
        out.append(
            f"  {name:18} {len(days):3} crops  median {middle:5.1f} d [{low:.0f}, {high:.0f}]  above {BROAD} d "
            f"{broad:.2f}  above {VERY_BROAD} d {very:.2f}  (all that works: median {median(works):.0f} d; all "
            f"lines, perennials too: {median(lines):.0f} d)"
        )
    return out


def months_advised(chart: Chart, skill: Any) -> dict[str, set[int]]:
    """Months of advised starts by crop, as the reference's scorer counts them."""
    return skill.ours(chart)


def pool_lines(stations: Stations, found: list[pools.Pool], skill: Any) -> list[str]:
    """The chart on every pool of guides."""
    return [
        f"  {p.name:12} {p.station:18} {pools.judge_pool(p, months_advised(stations.chart(p.station), skill), skill)}"
        for p in found
    ]


def guide_lines(stations: Stations, skill: Any) -> list[str]:
    """The chart on every single guide, as `guides.py` has it."""
    every = all_guides(stations.folder, skill)
    out = []
    for guide in every:
        elsewhere = next(g for g in every[:2] if g is not guide)
        months = months_advised(stations.chart(guide.station), skill)
        out.append("  " + guides.row_of(guide, months, skill, elsewhere))
    return out


def staples() -> list[dict[str, str]]:
    """Places and crops that must be accepted or denied, with where that is known from."""
    with open(Path(__file__).with_name("staples.csv"), newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def accepted(chart: Chart, crop: str) -> bool:
    """Whether any annual way of a crop, named with its type or without, is advised on any day.

    A perennial of that name does not count, for a strawberry that must live through the summer is another crop.
    """
    ways = annuals()
    mine = [c for c in chart["crops"] if crop in (c["crop"], c["crop"].split(" (")[0]) and c["crop"] in ways]
    return any(s["windows"] for c in mine for s in c["starts"])


def staple_lines(stations: Stations) -> list[str]:
    """Staples accepted, crops that nobody tries denied, and what a chart that accepts as many at random would."""
    out, right = [], []
    for kind in ("yes", "no"):
        rows = [r for r in staples() if r["grown"] == kind]
        marks = [accepted(stations.chart(r["station"]), r["crop"]) == (kind == "yes") for r in rows]
        wrong = [f"{r['crop']} at {r['station']}" for r, m in zip(rows, marks, strict=True) if not m]
        said = "accepted" if kind == "yes" else "denied"
        out.append(f"  {said} {sum(marks)} of {len(marks)}" + (f"; not: {', '.join(wrong)}" if wrong else ""))
        right += marks
    rate = mean(bool(d) for s in dict.fromkeys(r["station"] for r in staples()) for d in breadth(stations.chart(s)))
    by_chance = mean(rate if r["grown"] == "yes" else 1 - rate for r in staples())
    low, high = interval(right, mean)
    out.append(
        f"  right {mean(right):.2f} [{low:.2f}, {high:.2f}]; {rate:.2f} of all crops there are accepted, so a chart "
        f"blind to crop would be right in {by_chance:.2f}, one that accepts everything in "
        f"{mean(r['grown'] == 'yes' for r in staples()):.2f}"
    )
    return out


def trial_lines(stations: Stations) -> list[str]:
    """Planting-date trials, and whether their good dates lie in the advised windows."""
    elsewhere = trials.trials_told_by_day(stations.folder / "reference" / "planting_date_trials.csv")
    judged = trials.judge_trials([*trials.read_trials(TRIALS), *elsewhere], stations.rows, stations.season)
    out = [*trials.summary(judged), trials.days_line(judged)]
    near = [t for t in elsewhere if trials.nearest(t, stations.rows) <= trials.NEAR_KM]
    out.append(
        f"  of the reference's table {len(elsewhere)} trials tell days and yields; {len(near)} of them lie within "
        f"{trials.NEAR_KM:g} km of a station"
    )
    good, poor, share = [], [], []
    for j in judged:
        line = next(c for c in stations.chart(j.station)["crops"] if c["crop"] == j.trial.crop)
        days = days_in(w for s in line["starts"] if s["way"] == j.trial.way for w in s["windows"])
        best = max(d.worth for d in j.trial.dates)
        for date in j.trial.dates:
            near = date.worth >= NEAR_BEST * best if j.trial.is_yield else date.worth == best
            (good if near else poor).append(mean(day_of(s[5:]) in days for s in date.starts))
        share.append(len(days) / 365)
    if good:
        out.append(
            f"  inside windows: {mean(good):.2f} of {len(good)} dates that brought {NEAR_BEST:g} of the best (or are "
            f"ranked first), {mean(poor) if poor else float('nan'):.2f} of {len(poor)} others; the windows cover "
            f"{mean(share):.2f} of the year"
        )
    return out


def odds_lines(stations: Stations) -> list[str]:
    """Odds within, by bins, and the Brier score against the base rate."""
    out = []
    for hands, drawn in ((True, "sort, seedling and hand drawn"), (False, "sort alone drawn")):
        found = {name: odds.judge_odds(stations.record(name), chart_of, days_in, hands) for name in WITH_ODDS}
        for kind, words in (("windows", "advised start days"), ("possible", "start days that work")):
            out += _odds_of({name: both[kind] for name, both in found.items()}, f"{words}, {drawn}")
    return out


def _odds_of(tallies: dict[str, odds.Tally], words: str) -> list[str]:
    """Bins of told odds and the Brier scores of one kind of start days."""
    every = odds.together(list(tallies.values()), rows=True)
    out = [f"  {words}"]
    for told, came, n, low, high in every.bins():
        out.append(f"    told {told:.3f}  came {came:.3f} [{low:.3f}, {high:.3f}]  {n} starts")
    for name, tally in tallies.items():
        ours, null = tally.brier()
        out.append(f"    {name:18} Brier {ours:.4f}, base rate {null:.4f}, {int(tally.count.sum())} starts")
    ours, null = every.brier()
    gain, low, high = every.gain()
    out.append(f"    all: Brier {ours:.4f}, base rate {null:.4f}, better by {gain:+.4f} [{low:+.4f}, {high:+.4f}]")
    return out


def fortnight(start: dict[str, Any]) -> int | None:
    """Middle day of the best fortnight of one way of starting: as advised, else the best day of its best window."""
    if not start["windows"]:
        return None
    if start.get("advice"):
        best = start["advice"][0]["best_fortnight"]
        first, last = day_of(best["from"]), day_of(best["to"])
        return (first + ((last - first) % 365) // 2) % 365
    return day_of(max(start["windows"], key=_worth)["best"])


def _worth(window: dict[str, Any]) -> float:
    return window["reliability"] * window["yield_fraction"]


def best_months(chart: Chart) -> dict[str, int]:
    """Month of the middle day of the best fortnight by crop without its type.

    Of several types and ways the one with the best window; crops that are only planted, and perennials, are out.
    """
    ways = annuals()
    best: dict[str, tuple[float, int]] = {}
    for line in chart["crops"]:
        base = line["crop"].split(" (")[0]
        if not ways.get(line["crop"], set()) - {"planted"}:
            continue
        for start in line["starts"]:
            day = fortnight(start)
            if day is not None:
                worth = max(map(_worth, start["windows"]))
                if worth > best.get(base, (-1.0, 0))[0]:
                    best[base] = (worth, day)
    return {base: month_of(day) for base, (_, day) in best.items()}


def best_lines(stations: Stations, found: list[pools.Pool], each: bool) -> list[str]:
    """Best fortnights over all pools together."""
    rows = [b for p in found for b in pools.best_days(p, best_months(stations.chart(p.station)))]
    told = [b for b in rows if b.verdict != "not told"]
    hit = [b.verdict == "clear" for b in told]
    low, high = interval(hit, mean)
    out = [f"    {b.pool:12} {b.crop:16} month {b.month:2}  {b.verdict}" for b in rows] if each else []
    out.append(
        f"  middle day of the best fortnight in a clear month: {mean(hit):.2f} [{low:.2f}, {high:.2f}] of {len(hit)} "
        f"crops (by chance {mean(b.blind for b in told):.2f}); {len(rows) - len(told)} more in months of which fewer "
        "than two guides speak"
    )
    by_pool = {p.name: [h for h, b in zip(hit, told, strict=True) if b.pool == p.name] for p in found}
    out.append("  " + ", ".join(f"{name} {sum(h)} of {len(h)}" for name, h in by_pool.items()))
    return out


def named(pool: pools.Pool) -> list[str]:
    """The annuals of the handbook that a pool's crops stand for, of every type."""
    bases = set().union(*pool.clear)
    return [name for name in annuals() if name.split(" (")[0] in bases]


def profile_lines(stations: Stations, found: list[pools.Pool], skill: Any) -> list[str]:
    """F1 on clear months over a small grid of the two preference numbers, and what each pool left out would choose."""
    names = list(PROFILE)
    found = [p for p in found if any(no for _, no in p.clear.values())]  # else narrowing could only lose
    table = {}
    for values in product(*PROFILE.values()):
        settings = dict(zip(names, values, strict=True))
        charts = {p.name: chart_of(stations.record(p.station), *named(p), **settings) for p in found}
        months = {name: months_advised(chart, skill) for name, chart in charts.items()}
        table[values] = {p.name: pools.f1(pools.ours_by_crop(months[p.name], list(p.clear)), p.clear) for p in found}
    out = []
    overall = {v: mean(row.values()) for v, row in table.items()}
    best = max(overall.values())
    for values, score in overall.items():
        mark = "  within 0.01 of the best" if score >= best - FLAT else ""
        cells = "  ".join(f"{name} {f:.3f}" for name, f in table[values].items())
        words = ", ".join(f"{n} {v:g}" for n, v in zip(names, values, strict=True))
        out.append(f"  {words:28} mean {score:.3f}  {cells}{mark}")
    for pool in found:
        rest = {v: mean(f for n, f in row.items() if n != pool.name) for v, row in table.items()}
        chosen = max(rest, key=lambda v: rest[v])
        most = max(row[pool.name] for row in table.values())
        out.append(
            f"  without {pool.name}: {chosen} is best; there it gives {table[chosen][pool.name]:.3f} where "
            f"{most:.3f} could be had"
        )
    return out


def main(arguments: list[str]) -> None:
    """Print every part."""
    folder = guides.reference()
    skill = guides.scorer(folder)
    stations = Stations(folder)
    found = pools.open_pools(folder, skill)
    parts = [
        ("breadth: days a year on which a crop is advised (sown or set out)", lambda: breadth_lines(stations)),
        ("pooled guides, clear months", lambda: pool_lines(stations, found, skill)),
        ("single guides, strict/tolerant F1", lambda: guide_lines(stations, skill)),
        ("staples", lambda: staple_lines(stations)),
        ("planting-date trials", lambda: trial_lines(stations)),
        ("best fortnight", lambda: best_lines(stations, found, "--best" in arguments)),
        ("odds within: windows chosen without the block", lambda: odds_lines(stations)),
    ]
    if "--profile" in arguments:
        parts.append(("profile of the preference numbers", lambda: profile_lines(stations, found, skill)))
    for title, lines in parts:
        print(f"\n{title}")
        print("\n".join(lines()), flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
