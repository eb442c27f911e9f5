"""How like a real record generated years are, station by station (needs SOWCAL_REFERENCE).

`python tests/validation/generator.py` fits the twelve monthly normals of each real record, makes 300 years from
them and prints what comes back: means, spread, persistence, wet days; and by how much the extremes fall short.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from pathlib import Path

import guides
import numpy as np

from sowcal.weather.csv_file import read_csv
from sowcal.weather.generator import generate_daily, yearly_curve

YEARS, SEED = 300, 1
LENGTHS = np.array([31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
WET = 1.0  # mm


@dataclass(frozen=True)
class Likeness:
    """Generated minus observed (or generated over observed, where it says ratio), the year round."""

    station: str
    mean: float  # K, largest error of a monthly mean of tasmin or tasmax
    spread: float  # ratio furthest from 1 of a month's standard deviation
    lag_night: tuple[float, float]  # lag-one correlation of departures of tasmin: observed, generated
    lag_day: tuple[float, float]
    wet_share: float  # largest error of a month's share of wet days
    wet_after_wet: tuple[float, float]
    rain: float  # ratio of the year's rain
    dry_spell: tuple[float, float]  # days, longest of the median year
    hottest: tuple[float, float]  # degC, of the hottest day of one year in ten
    coldest: tuple[float, float]
    hot_spell: tuple[float, float]  # days in a row above the 95th percentile, longest of one year in ten
    cold_spell: tuple[float, float]  # nights in a row below the 5th percentile
    year_spread: tuple[float, float]  # K, standard deviation of yearly means of tasmax
    last_frost: tuple[float, float]  # day from 1 July (1 January in the south), latest of one year in ten


def _runs(mark: np.ndarray) -> int:
    edge = np.diff(np.concatenate(([0], mark.astype(int), [0])))
    long = np.flatnonzero(edge == -1) - np.flatnonzero(edge == 1)
    return int(long.max()) if long.size else 0


class Days:
    """A record as arrays, with what is asked of it; years with a twentieth or more of days missing are left out."""

    def __init__(self, dataset) -> None:
        self.days = dataset.time
        self.low, self.high, self.rain = (dataset[v].astype(float) for v in ("tasmin", "tasmax", "pr"))
        self.month = self.days.astype("datetime64[M]").astype(int) % 12
        self.year = self.days.astype("datetime64[Y]").astype(int)
        start = self.days.astype("datetime64[Y]").astype("datetime64[D]")
        self.of_year = np.minimum((self.days - start).astype(int), 364)

    def monthly(self, values: np.ndarray, how=np.nanmean) -> np.ndarray:
        return np.array([how(values[self.month == m]) for m in range(12)])

    def departures(self, values: np.ndarray) -> np.ndarray:
        """From the smooth yearly curve of the monthly means, K."""
        return values - yearly_curve(self.monthly(values))[self.of_year]

    def wet(self) -> np.ndarray:
        return np.where(np.isnan(self.rain), np.nan, self.rain >= WET)

    def each_year(self, values: np.ndarray) -> Iterator[np.ndarray]:
        for y in np.unique(self.year):
            one = values[self.year == y]
            if one.size >= 360 and np.isfinite(one).mean() > 0.95:
                yield one

    def lag(self, values: np.ndarray) -> float:
        d = self.departures(values)
        d = d / self.monthly(d, np.nanstd)[self.month]
        both = np.isfinite(d[1:] + d[:-1])
        return float(np.corrcoef(d[1:][both], d[:-1][both])[0, 1])

    def tenth(self, values: np.ndarray, of_year, share: float) -> float:
        return float(np.quantile([of_year(v) for v in self.each_year(values)], share))

    def last_frosts(self, south: bool) -> float:
        """Latest last frost of spring of one year in ten, days from 1 January (1 July in the south)."""
        half = (self.month >= 6) if south else (self.month < 6)
        day = self.of_year - (181 if south else 0)
        last = []
        for y in np.unique(self.year):
            these = half & (self.year == y)
            if these.sum() < 175 or np.isnan(self.low[these]).mean() > 0.05:
                continue
            frost = day[these & (self.low < 0.0)]
            last.append(float(frost.max()) if frost.size else -1.0)
        return float(np.quantile(last, 0.9))


def normals_of(record: Days) -> dict[str, list[float]]:
    """Twelve monthly normals of a record, as an almanac has them, with the spread of days."""
    known = {
        "tasmin": record.monthly(record.low),
        "tasmax": record.monthly(record.high),
        "tasmin_sd": record.monthly(record.departures(record.low), np.nanstd),
        "tasmax_sd": record.monthly(record.departures(record.high), np.nanstd),
        "pr": record.monthly(record.rain) * LENGTHS,
        "wet_days": record.monthly(record.wet()) * LENGTHS,
    }
    dry = (known["wet_days"] == 0.0) | (known["pr"] < 0.05)
    known["pr"] = np.where(dry, 0.0, known["pr"])
    known["wet_days"] = np.where(dry, 0.0, known["wet_days"])
    return {k: v.tolist() for k, v in known.items()}


def likeness(station: str, dataset, latitude: float) -> Likeness:
    """Fit, generate, and set side by side."""
    real = Days(dataset)
    if np.isnan(real.rain).all():
        real.rain = np.zeros(real.rain.size)
    made = Days(generate_daily(normals_of(real), years=YEARS, seed=SEED, latitude=latitude, first_year=1801))
    errors, spreads = [], []
    for name in ("low", "high"):
        a, b = getattr(real, name), getattr(made, name)
        errors += list(np.abs(made.monthly(b) - real.monthly(a)))
        spreads += list(made.monthly(made.departures(b), np.nanstd) / real.monthly(real.departures(a), np.nanstd))
    hot, cold = np.nanquantile(real.high, 0.95), np.nanquantile(real.low, 0.05)

    def both(ask) -> tuple[float, float]:
        return ask(real), ask(made)

    def after_wet(d: Days) -> float:
        w = d.wet()
        return float(np.nanmean(w[1:][w[:-1] == 1.0])) if (w == 1.0).any() else np.nan

    return Likeness(
        station=station,
        mean=float(max(errors)),
        spread=float(max(spreads, key=lambda s: abs(np.log(s)))),
        lag_night=both(lambda d: d.lag(d.low)),
        lag_day=both(lambda d: d.lag(d.high)),
        wet_share=float(np.abs(made.monthly(made.wet()) - real.monthly(real.wet())).max()),
        wet_after_wet=both(after_wet),
        rain=float(np.nanmean(made.rain) / np.nanmean(real.rain)) if np.nansum(real.rain) else np.nan,
        dry_spell=both(lambda d: d.tenth(d.wet(), lambda w: _runs(w == 0.0), 0.5)),
        hottest=both(lambda d: d.tenth(d.high, np.nanmax, 0.9)),
        coldest=both(lambda d: d.tenth(d.low, np.nanmin, 0.1)),
        hot_spell=both(lambda d: d.tenth(d.high, lambda v: _runs(v > hot), 0.9)),
        cold_spell=both(lambda d: d.tenth(d.low, lambda v: _runs(v < cold), 0.9)),
        year_spread=both(lambda d: float(np.std([np.nanmean(v) for v in d.each_year(d.high)], ddof=1))),
        last_frost=both(lambda d: d.last_frosts(latitude < 0)),
    )


def stations(folder: Path, least_years: float = 20.0, only: Sequence[str] = ()) -> Iterator[Likeness]:
    """Each record of twenty years or more, or those named."""
    with (folder / "weather" / "stations.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        if only and row["station"] not in only:
            continue
        path = folder / "weather" / f"{row['station']}.csv"
        dataset = read_csv(path, temperature_unit="degC", latitude=float(row["latitude"]))
        if dataset.size >= least_years * 365.0:
            yield likeness(row["station"], dataset, float(row["latitude"]))


def _cell(value: object) -> str:
    if isinstance(value, tuple):
        return f"{value[0]:.1f}>{value[1]:.1f}" if abs(value[0]) > 1.5 else f"{value[0]:.2f}>{value[1]:.2f}"
    return f"{value:.2f}" if isinstance(value, float) else str(value)


def main() -> None:
    """Print the table; 'a>b' is observed and generated."""
    found = list(stations(guides.reference()))
    names = [f.name for f in fields(Likeness)]
    table = [names, *([_cell(getattr(one, n)) for n in names] for one in found)]
    widths = [max(len(row[k]) for row in table) + 2 for k in range(len(names))]
    for row in table:
        print("".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)))
    for name in ("hottest", "coldest", "hot_spell", "cold_spell", "dry_spell", "year_spread", "last_frost"):
        pairs = np.array([getattr(one, name) for one in found])
        short = pairs[:, 1] - pairs[:, 0]
        ratio = np.median(pairs[:, 1] / np.where(pairs[:, 0] == 0, np.nan, pairs[:, 0]))
        print(
            f"{name}: generated minus observed, median {np.median(short):+.1f}, "
            f"from {short.min():+.1f} to {short.max():+.1f}; ratio {ratio:.2f}"
        )


if __name__ == "__main__":
    main()
