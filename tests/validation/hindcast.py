"""What the dates of a season in progress are worth inside the engine: real seasons told again as they went on.

`python tests/validation/hindcast.py [--years N] [STATION ...]` (it needs SOWCAL_REFERENCE) takes each year of a
station's record out of it, starts eight crops on the chart's best day, stands at 0, 25, 50 and 75 per cent of the
usual wait for the first picking, and asks for that picking: the season's days so far, then each other year of the
record as one future. **The truth is the engine's own date** by the whole of that year's weather: this tells what the
weather leaves open, and nothing of how well the engine knows plants.

Printed are: the share of true dates within 10 to 90 per cent (nominal 0.80) with the 95 per cent interval from
drawing whole station-years again, how wide that range is, and the pinball loss at 10, 50 and 90 per cent, against
that of the other years' dates alone (the chart's own spread). Dates are whole days, so that a true one may be that
of several futures: its rank among those alike is drawn (as for rank histograms, common practice, no source). Years
without a picking are counted by themselves, with the share of futures that had none.

The first table is of the sort in the middle of its type, whose range is the weather's. The second is of any sort: the
truth is the date of a sort that is drawn evenly from the handbook's range of thermal time (seed 20), and the range is
that of all sorts in all futures.

The last part is *outside* the engine: days from start to harvest that field trials tell (`trials.py`, and the rows of
the reference's table that tell them), where a station's record within 100 km and 150 m of height covers the season.
Error is that of the middle sort by the season's real weather; coverage counts trial dates within 10 to 90 per cent of
any sort as told on the day of the start, the year taken out of the record.
"""

from __future__ import annotations

import argparse
import csv
import os
import re
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import trials

from sowcal.crops.handbook import handbook
from sowcal.crops.tables import Crop, Way
from sowcal.seasons.outlook import FEWEST, NO_CROP, Outlook, firsts_of_sorts, outlook, quantiles, sort_of
from sowcal.seasons.season import seasons
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.verdicts import judge_crops
from sowcal.weather.filling import fill_short_gaps
from sowcal.weather.open_site import read_record
from sowcal.weather.record import DailyRecord
from sowcal.weather.years import futures

STATIONS = ("seville", "palma", "a_coruna", "athens_hellinikon", "five_points_ca", "de_bilt")
CROPS = (
    ("tomato (large)", "set out"),
    ("courgette", "set out"),
    ("french bean (bush)", "sown outdoors"),
    ("sweet corn", "sown outdoors"),
    ("potato (early)", "planted"),
    ("carrot", "sown outdoors"),
    ("lettuce (leaf)", "sown outdoors"),
    ("broad bean", "sown outdoors"),
)
SHARES = (0.0, 0.25, 0.5, 0.75)
LEVELS = np.array([0.1, 0.5, 0.9])
BEFORE, AFTER = 150, 420  # days about a start that its season may look at


@dataclass(frozen=True)
class Told:
    """One season told again at one stand of it."""

    station: str
    crop: str
    year: int
    share: float
    drawn: bool  # whether it is of a drawn sort, else of the middle one
    rank: float  # of the true date among the futures, 0 to 1, drawn among those alike
    width: float  # days from 10 to 90 per cent
    loss: float  # days, mean over the three levels
    usual_loss: float
    usual_width: float
    picked: bool  # whether there was a true picking
    picked_share: float  # of the futures


def station(reference: Path, name: str) -> DailyRecord:
    """A record of the reference folder, short gaps filled."""
    with open(reference / "weather" / "stations.csv", newline="", encoding="utf-8") as file:
        row = next(r for r in csv.DictReader(file) if r["station"] == name)
    place = {k: float(row[v]) for k, v in (("latitude", "latitude"), ("longitude", "longitude"))}
    path = reference / "weather" / f"{name}.csv"
    return fill_short_gaps(
        read_record(path, elevation=float(row["elevation_m"]), options={"temperature_unit": "degC"}, **place)
    )


def without(record: DailyRecord, first: np.datetime64, last: np.datetime64) -> DailyRecord:
    """The record with the days from one to another taken out."""
    out = (record.time >= first) & (record.time <= last)
    return record.with_values({name: np.where(out, np.nan, v) for name, v in record.values.items()})


def pinball(told: np.ndarray, truth: float) -> float:
    """Mean over the levels of the pinball (quantile) loss, days."""
    off = truth - told
    return float(np.mean(np.where(off >= 0, LEVELS * off, (LEVELS - 1.0) * off)))


def drawn_rank(futures_days: np.ndarray, truth: float, rng: np.random.Generator, futures: int | None = None) -> float:
    """Rank of the truth among n futures as a share of n + 1; among those of the same day it is drawn.

    Where each future has several values (of several sorts) the rank among them all is brought to that among n.
    """
    size, n = futures_days.size, futures or futures_days.size
    below, alike = int((futures_days < truth).sum()), int((futures_days == truth).sum())
    among = (below + rng.uniform() * (alike + 1)) / (size + 1)  # even from 0 to 1
    if n == size:
        return among
    # the inverse of what `quantiles` asks of so many values for n futures
    place = (below + (rng.uniform() * alike if alike else 0.0)) / size
    return (place * n + 0.5) / (n + 1)


def best_start(days: SiteDays, crop: Crop, way: Way) -> int | None:
    """Day of the year of the chart's best start of a way; None where it advises none."""
    ((line, _),) = judge_crops(days, [crop], handbook(), calendar=False)
    windows = [w for s in line.starts if s.way == way.way for w in (s.windows or s.possible)]
    return max(windows, key=lambda w: w.reliability * w.yield_fraction).best if windows else None


def at_stand(record: DailyRecord, start: np.datetime64, stand: np.datetime64, crop: Crop, way: Way) -> Outlook:
    """What is told of a season on a day of it, its year taken out of the years."""
    first, last = start - BEFORE, start + AFTER
    history = without(record, start - 30, start + 335)
    ahead = futures(history, record.span(None, str(stand)), first, last)
    return outlook(ahead, SiteDays.from_record(ahead.record), crop, way, start.astype(object))


class Place:
    """One crop at one station: its real seasons, and those of drawn sorts."""

    def __init__(self, record: DailyRecord, days: SiteDays, crop: Crop, way: Way, best: int):
        self.record, self.days, self.crop, self.way = record, days, crop, way
        self.real = seasons(days, crop, way)
        known = (days.day_of_year == best) & ~days.leap_day & np.isfinite(self.real.yield_fraction)
        self.starts = np.flatnonzero(known)
        self.bears = self.real.yield_fraction >= NO_CROP
        self.firsts = firsts_of_sorts(days, crop, way, self.starts, self.starts, self.real)
        self.wait = float(np.median((self.real.first - days.start)[self.starts][self.bears[self.starts]]))

    def truth(self, at: int, sort: float) -> float:
        """Days to the first picking of a sort so far into its type's range; NaN for none."""
        of = seasons(self.days, self.crop, sort_of(self.way, sort))
        return float(of.first[at] - at) if np.nan_to_num(of.yield_fraction[at]) >= NO_CROP else float("nan")

    def usual(self, at: int) -> tuple[np.ndarray, np.ndarray]:
        """The other years' days to the first picking, of the middle sort and of all."""
        other = np.abs(self.days.dates[self.starts] - self.days.dates[at]) > np.timedelta64(200, "D")
        mine = self.starts[other & self.bears[self.starts]]
        return (self.real.first[mine] - mine).astype(float), self.firsts[:, other]


def hindcast(record: DailyRecord, name: str, years: int | None = None) -> list[Told]:
    """Every season of a station told again."""
    rng = np.random.default_rng(20)
    days, out = SiteDays.from_record(record), []
    for crop_name, way_name in CROPS:
        crop = handbook()[crop_name]
        way = next(w for w in crop.ways if w.way == way_name)
        best = best_start(days, crop, way)
        if best is None:
            continue
        place = Place(record, days, crop, way, best)
        for at in place.starts[-years:] if years else place.starts:
            out += _told_again(place, name, int(at), rng)
    return out


def _told_again(place: Place, name: str, at: int, rng: np.random.Generator) -> list[Told]:
    """One season at each of its stands, for the middle sort and for a drawn one."""
    out = []
    start, drawn_truth = place.days.dates[at], place.truth(at, float(rng.uniform()))
    middle_truth = float(place.real.first[at] - at) if place.bears[at] else float("nan")
    usual, usual_of_sorts = place.usual(at)
    told_usual = np.isfinite(usual_of_sorts)
    for share in SHARES:
        found = at_stand(place.record, start, start + round(share * place.wait) - 1, place.crop, place.way)
        if found.first.size < FEWEST or usual.size < FEWEST:
            continue
        of_sorts, futures_told = found.first_of_sorts
        for drawn, truth, own, n, years, m in (
            (False, middle_truth, found.first.astype(float), found.first.size, usual, usual.size),
            (True, drawn_truth, of_sorts, futures_told, usual_of_sorts[told_usual], int(told_usual.any(0).sum())),
        ):
            told, of_years = quantiles(own, n), quantiles(years, m)
            picked = float(found.picked.sum() / found.decided.sum())
            key = (name, place.crop.name, int(place.days.year[at]), share, drawn)
            out.append(
                Told(
                    *key, drawn_rank(own, truth, rng, n), told[2] - told[0], pinball(told, truth),
                    pinball(of_years, truth), of_years[2] - of_years[0], bool(np.isfinite(truth)), picked,
                )
            )  # fmt: skip
    return out


def interval(told: list[Told], draws: int = 2000) -> tuple[float, float]:
    """95 per cent interval of the coverage, from drawing station-years again."""
    groups: dict[tuple[str, int], list[bool]] = {}
    for t in told:
        groups.setdefault((t.station, t.year), []).append(0.1 <= t.rank <= 0.9)
    sums = np.array([(sum(g), len(g)) for g in groups.values()], dtype=float)
    rng = np.random.default_rng(7)
    picked = sums[rng.integers(0, len(sums), (draws, len(sums)))].sum(axis=1)
    low, high = np.quantile(picked[:, 0] / picked[:, 1], [0.025, 0.975])
    return float(low), float(high)


def row(title: str, told: list[Told]) -> str:
    """A line of the table."""
    picked = [t for t in told if t.picked]
    covered = np.mean([0.1 <= t.rank <= 0.9 for t in picked])
    low, high = interval(picked)
    loss, usual = np.mean([t.loss for t in picked]), np.mean([t.usual_loss for t in picked])
    width, before = np.mean([t.width for t in picked]), np.mean([t.usual_width for t in picked])
    missed = [t for t in told if not t.picked]
    none = f"{len(missed)} ({1 - np.mean([t.picked_share for t in missed]):.2f})" if missed else "0"
    return (
        f"| {title} | {len(picked)} | {covered:.3f} | {low:.3f} to {high:.3f} | {width:.1f} | {before:.1f} | "
        f"{loss:.2f} | {usual:.2f} | {1 - loss / usual:+.0%} | {none} |"
    )


HEAD = (
    "| seasons at | n | within 10 to 90 | 95 per cent interval | days wide | the chart's | loss, days | the chart's | "
    "less by | no picking (told) |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |"
)


TRIALS = Path(__file__).parents[1] / "data" / "planting_date_trials.csv"
LEAST_OUTSIDE, LEAST_CROPS = 10, 5  # dates and crops without which nothing is measured: common practice, no source


@dataclass(frozen=True)
class Outside:
    """A date of a field trial beside what the engine tells of it; `station` is empty where no weather is near."""

    trial: str
    crop: str
    start: str
    days: float
    station: str
    error: float = float("nan")  # days, ours less theirs
    inside: bool = False


def told_outside(reference: Path) -> list[tuple[trials.Trial, str, float]]:
    """Trials that tell days to harvest of a start that is known by its day, one date at a time."""
    out = [
        (replace(t, dates=(replace(d, starts=(start,)),)), start, d.days_to_harvest)
        for t in trials.read_trials(TRIALS)
        for d in t.dates
        if d.days_to_harvest is not None
        for start in d.starts
    ]
    with open(reference / "reference" / "planting_date_trials.csv", newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            start = row["planting_date"]
            if row["days_to_first_harvest"] and re.fullmatch(r"\d{4}-\d\d-\d\d", start):
                days = float(row["days_to_first_harvest"])
                where = (float(row[k] or "nan") for k in ("latitude", "longitude", "elevation_m"))
                dates = (trials.PlantingDate((start,), 1.0, days),)
                out.append((trials.Trial(row["trial"], row["crop"], row["way"], *where, dates=dates), start, days))
    return out


def judged_outside(reference: Path) -> list[Outside]:
    """Each of them by the record near it, where there is one."""
    with open(reference / "weather" / "stations.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    out = []
    for trial, start, days in told_outside(reference):
        name = trials.qualifying(trial, rows)
        crop = handbook().get(trial.crop)
        way = next((w for w in crop.ways if w.way == trial.way), None) if crop else None
        if name is None or crop is None or way is None:
            out.append(Outside(trial.name, trial.crop, start, days, name or ""))
            continue
        record = station(reference, name)
        site, day = SiteDays.from_record(record), np.datetime64(start)
        at = int((day - site.dates[0]).astype(int))
        error = float(seasons(site, crop, way).first[at] - at) - days
        values, n = at_stand(record, day, day - 1, crop, way).first_of_sorts
        low, _, high = quantiles(values, n)
        out.append(Outside(trial.name, trial.crop, start, days, name, error, bool(low <= days <= high)))
    return out


def outside_lines(judged: list[Outside]) -> list[str]:
    """What the field trials say, or that they are too few to say anything."""
    near = [o for o in judged if o.station]
    out = [
        f"  {o.trial:28} {o.crop:20} {o.start}  {o.days:.0f} days, ours {o.error:+.0f} by {o.station}, "
        f"{'within' if o.inside else 'outside'} 10 to 90 of any sort"
        for o in near
    ]
    crops = len({o.crop for o in near})
    out.append(f"  {len(judged)} dates tell days to harvest; {len(near)} of them, of {crops} crops, have weather near")
    if len(near) < LEAST_OUTSIDE or crops < LEAST_CROPS:
        return [*out, f"  not measured: fewer than {LEAST_OUTSIDE} dates of {LEAST_CROPS} crops"]
    error = float(np.median([abs(o.error) for o in near]))
    bias = float(np.median([o.error for o in near]))
    share = np.mean([o.inside for o in near])
    return [*out, f"  median error {error:.0f} days (ours less theirs {bias:+.0f}), {share:.2f} within 10 to 90"]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("stations", nargs="*", default=[])
    parser.add_argument("--years", type=int, help="the last so many years only")
    asked = parser.parse_args()
    reference = Path(os.environ["SOWCAL_REFERENCE"])
    told = [t for name in asked.stations or STATIONS for t in hindcast(station(reference, name), name, asked.years)]
    for drawn, title in ((False, "The middle sort: what the weather leaves open"), (True, "A drawn sort")):
        mine = [t for t in told if t.drawn == drawn]
        print(f"\n{title}:\n{HEAD}")
        for share in SHARES:
            print(row(f"{share:.0%}", [t for t in mine if t.share == share]))
        for word, key in (("crop", lambda t: t.crop), ("station", lambda t: t.station)):
            print(f"\nBy {word}, at 50 per cent:\n{HEAD}")
            for name in dict.fromkeys(map(key, mine)):
                print(row(name, [t for t in mine if key(t) == name and t.share == 0.5]))
    print("\nOutside: days to harvest of field trials", *outside_lines(judged_outside(reference)), sep="\n")


if __name__ == "__main__":
    main()
