"""Does the engine put the dates of a field trial in the right order? Each date by one real season of its own year.

A trial counts where its weather is known: its own, or a record within 100 km and 150 m of height that covers the
seasons told to their end. Dates told by day stand as they are, those told by month at its 15th. A date's yield is a
number, or a rank where the source tells an order in words (the table's `rank`, 1 best, equal ranks where it says that
they did not differ). A pair of dates counts where the source tells them apart: other ranks, or yields that differ by a
twentieth or more of the trial's best. It is right where `Site.one_season` gives the better date the greater yield
(mean over the trial's years); undecided seasons and yields that are alike as printed count as wrong. A trial counts
once, as the share of its pairs, and a crop once, as the mean of its trials. The null says that the earlier date is
better. A date lost to a disease, and trials whose order is one of drought, are left out beforehand: the engine judges
neither (a bed is taken as watered), whichever way it would have ordered them.
"""

from __future__ import annotations

import csv
import datetime as dt
import math
import random
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from statistics import mean, median

__all__ = ["Judged", "Trial", "judge_trials", "qualifying", "read_trials", "share_by_crop", "trials_told_by_day"]

NEAR_KM, NEAR_M = 100.0, 150.0  # the record that may stand for a trial's own weather
APART = 0.05  # of the trial's best yield, below which two dates are taken as alike: common practice, no source
ALIKE = 0.005  # of a full yield, half of the last figure printed: what we put nearer than that, we do not put apart
LONGEST_SEASON = 300  # days from start to last picking of an annual, garlic in autumn too: common practice, no source
SEED, DRAWS = 3, 1000
LEAST_TRIALS, LEAST_CROPS = 10, 5


@dataclass(frozen=True)
class PlantingDate:
    """One date of a trial: starts (ISO, one for each year), how good it was (greater is better), days to harvest."""

    starts: tuple[str, ...]
    worth: float
    days_to_harvest: float | None = None


@dataclass(frozen=True)
class Trial:
    """One trial of one crop by planting date, in order of date; `is_yield` where `worth` is a yield, no rank."""

    name: str
    crop: str
    way: str
    latitude: float
    longitude: float
    elevation: float
    dates: tuple[PlantingDate, ...]
    is_yield: bool = True

    @property
    def years(self) -> set[int]:
        """Calendar years of the starts."""
        return {int(s[:4]) for d in self.dates for s in d.starts}

    @property
    def pairs(self) -> list[tuple[int, int]]:
        """Pairs of dates that the source tells apart, the better one first."""
        best = max(d.worth for d in self.dates)
        least = APART * best if self.is_yield else 0.5
        n = range(len(self.dates))
        worth = [d.worth for d in self.dates]
        return [(i, j) for i in n for j in n if worth[i] - worth[j] >= least and worth[i] > worth[j]]


@dataclass(frozen=True)
class Judged:
    """A trial with what the engine makes of its dates."""

    trial: Trial
    station: str
    ours: tuple[float | None, ...]
    errors: tuple[float, ...] = field(default=())  # days to harvest, ours less theirs

    @property
    def right(self) -> float:
        """Share of pairs in the right order; a trial without a pair has none."""
        return mean(_above(self.ours[i], self.ours[j]) for i, j in self.trial.pairs)

    @property
    def null(self) -> float:
        """Share of pairs in which the earlier date is the better one."""
        return mean(i < j for i, j in self.trial.pairs)

    @property
    def best_is_late(self) -> bool:
        """Whether the trial's best date is not its first."""
        return self.trial.dates[0].worth < max(d.worth for d in self.trial.dates)

    @property
    def best_found(self) -> bool:
        """Whether the date that the engine puts first is among the trial's best."""
        known = [(y, d.worth) for y, d in zip(self.ours, self.trial.dates, strict=True) if y is not None]
        best = max(d.worth for d in self.trial.dates)
        top = max((y for y, _ in known), default=0.0)
        return bool(known) and all(w >= best * (1 - APART) for y, w in known if y >= top - ALIKE)


def _above(a: float | None, b: float | None) -> bool:
    return a is not None and b is not None and a - b > ALIKE


def read_trials(path: Path) -> list[Trial]:
    """Trials of the table beside the tests, but for those left out there with a reason."""
    with open(path, newline="", encoding="utf-8") as file:
        rows = [r for r in csv.DictReader(file) if not r["left_out"]]
    out = []
    for name in dict.fromkeys(r["trial"] for r in rows):
        mine = sorted((r for r in rows if r["trial"] == name), key=lambda r: r["starts"].split()[0])
        ranked = any(r["rank"] for r in mine)
        dates = tuple(
            PlantingDate(
                tuple(r["starts"].split()),
                -float(r["rank"]) if ranked else float(r["yield"]),
                float(r["days_to_harvest"]) if r["days_to_harvest"] else None,
            )
            for r in mine
        )
        one = mine[0]
        place = (float(one[k]) for k in ("latitude", "longitude", "elevation_m"))
        out.append(Trial(name, one["crop"], one["way"], *place, dates=dates, is_yield=not ranked))
    return out


def trials_told_by_day(path: Path) -> list[Trial]:
    """Trials of the reference's table that tell days with their year and yields in figures, for two dates or more.

    The table tells no heights; a place without one has no station within 150 m of height, and so does not count.
    """
    with open(path, newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    found: dict[str, dict[str, float]] = {}
    first: dict[str, dict[str, str]] = {}
    for row in rows:
        start = row["planting_date"]
        if re.fullmatch(r"\d\d-\d\d", start) and re.fullmatch(r"\d{4}", row["season_year"]):
            start = f"{row['season_year']}-{start}"
        told = row["yield_relative"] or row["yield_value"]
        if re.fullmatch(r"\d{4}-\d\d-\d\d", start) and told:
            found.setdefault(row["trial"], {})[start] = float(told)
            first.setdefault(row["trial"], row)
    out = []
    for name, by_start in found.items():
        one = first[name]
        if len(by_start) >= 2 and one["latitude"]:
            dates = tuple(PlantingDate((s,), by_start[s]) for s in sorted(by_start))
            place = (float(one[k] or "nan") for k in ("latitude", "longitude", "elevation_m"))
            out.append(Trial(name, one["crop"], one["way"], *place, dates=dates))
    return out


def kilometres(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Distance on a sphere of two places in degrees north and east."""
    north = math.radians(b[0] - a[0])
    east = math.radians(b[1] - a[1])
    half = (
        math.sin(north / 2) ** 2 + math.cos(math.radians(a[0])) * math.cos(math.radians(b[0])) * math.sin(east / 2) ** 2
    )
    return 2 * 6371.0 * math.asin(math.sqrt(half))


def nearest(trial: Trial, stations: list[dict[str, str]]) -> float:
    """Distance of the nearest station, of whatever height and years (km)."""
    here = (trial.latitude, trial.longitude)
    return min(kilometres(here, (float(r["latitude"]), float(r["longitude"]))) for r in stations)


def qualifying(trial: Trial, stations: list[dict[str, str]]) -> str | None:
    """The nearest station whose record may stand for a trial's weather; None where there is none."""
    near = []
    starts = sorted(s for d in trial.dates for s in d.starts)
    end = str(dt.date.fromisoformat(starts[-1]) + dt.timedelta(LONGEST_SEASON))
    for row in stations:
        far = kilometres((trial.latitude, trial.longitude), (float(row["latitude"]), float(row["longitude"])))
        height = abs(float(row["elevation_m"]) - trial.elevation)
        covered = row["first"] <= starts[0] and row["last"] >= end
        if far <= NEAR_KM and height <= NEAR_M and covered:
            near.append((far, row["station"]))
    return min(near)[1] if near else None


def judge_trials(trials: list[Trial], stations: list[dict[str, str]], season_of: Callable) -> list[Judged]:
    """Every trial that has weather, also those whose dates are all alike, which have no pair to judge.

    Parameters
    ----------
    trials : list of Trial
    stations : list of dict
        Rows of the table of stations.
    season_of : callable
        From station, crop, way and start (ISO) to a season with `yield_fraction` and `first_picking`.
    """
    out = []
    for trial in trials:
        station = qualifying(trial, stations)
        if station is None:
            continue
        ours: list[float | None] = []
        errors = []
        for date in trial.dates:
            found = [season_of(station, trial.crop, trial.way, s) for s in date.starts]
            shares = [f.yield_fraction for f in found]
            ours.append(None if None in shares else mean(shares))
            took = [_days(f.start, f.first_picking) for f in found if f.first_picking]
            if date.days_to_harvest is not None and took:
                errors.append(mean(took) - date.days_to_harvest)
        out.append(Judged(trial, station, tuple(ours), tuple(errors)))
    return out


def _days(start: str, end: str) -> int:
    return (dt.date.fromisoformat(end) - dt.date.fromisoformat(start)).days


def share_by_crop(judged: list[Judged], what: str) -> float:
    """Mean over crops of the mean over a crop's trials of `right` or `null`."""
    crops = dict.fromkeys(j.trial.crop for j in judged)
    return mean(mean(getattr(j, what) for j in judged if j.trial.crop == c) for c in crops)


def gain(judged: list[Judged]) -> tuple[float, float, float]:
    """Share right above the null, with the 90 per cent interval from drawing crops, then their trials, again."""
    rng = random.Random(SEED)
    by_crop: dict[str, list[Judged]] = {}
    for j in judged:
        by_crop.setdefault(j.trial.crop, []).append(j)
    drawn = []
    for _ in range(DRAWS):
        crops = rng.choices(list(by_crop.values()), k=len(by_crop))
        parts = [rng.choices(c, k=len(c)) for c in crops]
        drawn.append(mean(mean(j.right - j.null for j in part) for part in parts))
    drawn.sort()
    point = share_by_crop(judged, "right") - share_by_crop(judged, "null")
    return point, drawn[int(0.05 * DRAWS)], drawn[int(0.95 * DRAWS) - 1]


def summary(every: list[Judged]) -> list[str]:
    """The lines that are printed of the trials."""
    judged = [j for j in every if j.trial.pairs]
    crops = {j.trial.crop for j in judged}
    out = [
        f"  {j.trial.name:28} {j.trial.crop:22} {j.station:14} {len(j.trial.pairs):2} pairs  right {j.right:.2f}  "
        f"earlier is better {j.null:.2f}  ours " + " ".join("undecided" if y is None else f"{y:.2f}" for y in j.ours)
        for j in judged
    ]
    out.append(f"  {len(judged)} trials of {len(crops)} crops have weather and dates told apart")
    if len(judged) < LEAST_TRIALS or len(crops) < LEAST_CROPS:
        out.append(f"  not measured: fewer than {LEAST_TRIALS} trials of {LEAST_CROPS} crops")
        return out
    point, low, high = gain(judged)
    late = [j for j in judged if j.best_is_late]
    out.append(
        f"  right order {share_by_crop(judged, 'right'):.2f}, earlier is better {share_by_crop(judged, 'null'):.2f}, "
        f"above it {point:+.2f} [{low:+.2f}, {high:+.2f}]; best date not the first in {len(late)} trials, found in "
        f"{sum(j.best_found for j in late)}"
    )
    return out


def days_line(every: list[Judged]) -> str:
    """Errors of days to harvest, ours less theirs."""
    errors = [e for j in every for e in j.errors]
    if not errors:
        return "  days to harvest: none told"
    return f"  days to harvest told {len(errors)} times, median error {median(map(abs, errors)):.0f} days"
