"""A printed month table of a region beside the dates of one plot: where they part, crop by crop, and why.

A month is the plot's own where ten days of it or more are advised: a custom of ours, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from sowcal.crops.tables import Crop
from sowcal.errors import InputError
from sowcal.provenance import MadeBy
from sowcal.seasons.season import HAZARDS, seasons
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.results import CropSeasons, Record, SowingChart, WayResult
from sowcal.suitability.windows import Fold, by_day
from sowcal.weather.month_names import month_number
from sowcal.year import MONTH_LENGTHS, MONTH_STARTS, YEAR, span_days

__all__ = ["BesideLeaflet", "LeafletAnswer", "LeafletLine", "Less", "More", "beside_leaflet", "leaflet_lines"]

_COLUMNS = ("crop", "way", "months", "note")
_LEAST_DAYS = 10  # advised days that make a month the plot's own: a custom of ours, no source
_WAYS = {
    "": ("sown outdoors", "set out", "planted"),
    "sown outdoors": ("sown outdoors",),
    "set out": ("set out",),
    "planted": ("planted", "set out"),  # leaflets say 'plant' of seedlings too
    "under cover": ("set out",),
}
_SAID = {
    "sow": "sown outdoors", "sown": "sown outdoors", "sow outdoors": "sown outdoors", "outdoors": "sown outdoors",
    "direct": "sown outdoors", "transplant": "set out", "transplanted": "set out", "plant out": "set out",
    "planted out": "set out", "plant": "planted", "sow under cover": "under cover",
    "sown under cover": "under cover", "raise under cover": "under cover", "indoors": "under cover",
}  # fmt: skip


@dataclass(frozen=True)
class LeafletLine:
    """What a leaflet says of one crop and way: its months, 1 to 12, and the line of the file on which it begins.

    `way` is one of 'sown outdoors', 'set out', 'planted', 'under cover', or empty where the leaflet does not tell.
    """

    crop: str
    way: str
    months: tuple[int, ...]
    line: int


@dataclass(frozen=True)
class Less:
    """A month that the leaflet has and the plot has not.

    `works` is the share of years in which a start of that month succeeds, `share_of_years` that which the hazard
    takes; `why` tells what a month lacks that works as often as asked ('poorer crop', for example). All are None where
    they are not known.
    """

    month: int
    hazard: str | None = None
    share_of_years: float | None = None
    works: float | None = None
    why: str | None = None


@dataclass(frozen=True)
class More:
    """A month that the plot has and the leaflet has not: the share of a full crop left, and of years that succeed."""

    month: int
    yield_fraction: float | None = None
    works: float | None = None


@dataclass(frozen=True)
class BesideLeaflet:
    """One line of the leaflet beside the plot: months of both (1 to 12), and those that only one of them has.

    `crops` are the types of the handbook that the leaflet's name stands for; a month is the plot's where it is that
    of one of them. `known` is whether the handbook starts the crop that way.
    """

    crop: str
    way: str
    crops: tuple[str, ...]
    leaflet: tuple[int, ...]
    plot: tuple[int, ...]
    less: tuple[Less, ...]
    more: tuple[More, ...]
    known: bool = True

    @property
    def apart(self) -> int:
        """Months in which the two differ."""
        return len(self.less) + len(self.more)


@dataclass(frozen=True)
class LeafletAnswer:
    """All lines of a leaflet beside one plot, in the leaflet's order."""

    site: str
    record: Record
    reliability_asked: float
    lines: tuple[BesideLeaflet, ...]
    warnings: tuple[str, ...] = ()
    made_by: MadeBy = field(default_factory=MadeBy)

    @property
    def agreed(self) -> tuple[int, int]:
        """Months of lines in which both or neither have the crop, and months of all lines."""
        return 12 * len(self.lines) - sum(line.apart for line in self.lines), 12 * len(self.lines)

    @property
    def hazards(self) -> tuple[tuple[str, int], ...]:
        """Hazards behind the months that the plot lacks, and how many each closes, the commonest first."""
        found: dict[str, int] = {}
        for line in self.lines:
            for less in line.less:
                if less.hazard is not None:
                    found[less.hazard] = found.get(less.hazard, 0) + 1
        return tuple(sorted(found.items(), key=lambda p: (-p[1], p[0])))


def _months(text: str) -> tuple[int, ...]:
    """Months of a cell: '3-5', 'Mar-May, Sep', '3 4 5', 'Oct to Feb', 'all year'; ValueError names what is none."""
    said = re.sub(r"\s*(?:-|–|—|\bto\b)\s*", "-", text.strip().lower())
    if said in ("all year", "all", "1-12"):
        return tuple(range(1, 13))

    def month(word: str) -> int:
        number = int(word) if re.fullmatch(r"[0-9]{1,2}", word) else month_number(word.rstrip("."))
        if number is None or not 1 <= number <= 12:
            raise ValueError(word)
        return number

    out: set[int] = set()
    for part in filter(None, re.split(r"[,;/+&\s]+", said)):
        ends = [month(word) for word in part.split("-")]
        if len(ends) > 2:
            raise ValueError(part)
        out |= {(ends[0] - 1 + k) % 12 + 1 for k in range((ends[-1] - ends[0]) % 12 + 1)}
    if not out:
        raise ValueError(text)
    return tuple(sorted(out))


def leaflet_lines(rows: Iterable[Sequence[str]], where: str) -> tuple[LeafletLine, ...]:
    """The lines of a leaflet, those of the same crop and way together.

    Parameters
    ----------
    rows : iterable of sequences of str
        The header (crop, way, months, in any order; way and a note may be left out), then a row a crop and way. Months
        are numbers or names, one by one or in spans: '3-5', 'Mar-May, Sep', 'Oct to Feb'.
    where : str
        Name of the file, for errors.

    Raises
    ------
    InputError
        For a header or a line that cannot be read, with its number.

    Examples
    --------
    >>> rows = [["crop", "way", "months"], ["leek", "set out", "May-Jul"], ["leek", "set out", "9"]]
    >>> [(x.crop, x.way, x.months) for x in leaflet_lines(rows, "months.csv")]
    [('leek', 'set out', (5, 6, 7, 9))]
    """
    found: dict[tuple[str, str], LeafletLine] = {}
    head: list[str] | None = None
    for number, row in enumerate(rows, 1):
        cells = [" ".join(cell.split()) for cell in row]
        if not any(cells):
            continue
        if head is None:
            head = _head(cells, where, number)
            continue
        if len(cells) > len(head):
            many = f"{len(cells)} cells under {len(head)} headings; put months with commas between quotation marks"
            raise InputError(many, where=where, line=number)
        line = _line(dict(zip(head, cells + [""] * (len(head) - len(cells)), strict=True)), where, number)
        key = (line.crop.lower(), line.way)
        if key in found:
            both = tuple(sorted({*found[key].months, *line.months}))
            line = LeafletLine(found[key].crop, line.way, both, found[key].line)
        found[key] = line
    if not found:
        raise InputError("the leaflet has no lines; write crop,way,months and below it a line a crop", where=where)
    return tuple(found.values())


def _head(cells: list[str], where: str, number: int) -> list[str]:
    head = [cell.lower() for cell in cells]
    wrong = [cell for cell in head if cell not in _COLUMNS] or [c for c in head if head.count(c) > 1]
    if wrong or "crop" not in head or "months" not in head:
        said = f"; {wrong[0]!r} is none of them, or stands twice" if wrong else ""
        raise InputError(
            f"a leaflet has the columns crop, way, months (and note){said}; mend its first line",
            where=where,
            line=number,
        )
    return head


def _line(cells: dict[str, str], where: str, number: int) -> LeafletLine:
    if not cells["crop"]:
        raise InputError("the line names no crop; name one, or take the line out", where=where, line=number)
    said = cells.get("way", "").lower()
    way = _SAID.get(said, said)
    if way not in _WAYS:
        known = ", ".join(w for w in _WAYS if w)
        raise InputError(
            f"{cells['way']!r} is no way of starting a crop; write {known}, or nothing", where=where, line=number
        )
    try:
        return LeafletLine(cells["crop"], way, _months(cells["months"]), number)
    except ValueError as wrong:
        raise InputError(
            f"{str(wrong)!r} is no month; write months as 3-5, Mar-May, Sep or Oct to Feb", where=where, line=number
        ) from None


def _of_months(daily: np.ndarray) -> np.ndarray:
    """Mean of each month of the days that are known; NaN where none is. Shape (..., 365) becomes (..., 12)."""
    known = np.isfinite(daily)
    sums = np.add.reduceat(np.where(known, daily, 0.0), MONTH_STARTS, axis=-1)
    counts = np.add.reduceat(known.astype(float), MONTH_STARTS, axis=-1)
    return np.where(counts > 0, sums / np.maximum(counts, 1.0), np.nan)


@dataclass(frozen=True)
class _Dates:
    """One type and way: days that are advised, and by month what is left and what is lost."""

    advised: np.ndarray  # (365,)
    works: np.ndarray  # (12,)
    left: np.ndarray  # (12,)
    lost: np.ndarray | None  # (hazards, 12)
    why: tuple[str | None, ...]  # of a month that works and is not advised
    limit: str | None

    def shifted(self, days: int) -> np.ndarray:
        return np.roll(self.advised, -days)


def _why_not(way: WayResult) -> tuple[str | None, ...]:
    """Of each month why most of its working days are not advised, where the chart says so."""
    out: list[str | None] = []
    for first, length in zip(MONTH_STARTS, MONTH_LENGTHS, strict=True):
        inside = np.zeros(YEAR, dtype=bool)
        inside[first : first + length] = True
        days = {
            n.why: int(inside[span_days(n.start, n.end)].sum()) for advice in way.advice for n in advice.not_worth_it
        }
        out.append(max(days, key=days.__getitem__) if any(days.values()) else None)
    return tuple(out)


def _dates(site: SiteDays, fold: Fold, crop: Crop, line: CropSeasons, result: WayResult) -> _Dates:
    advised = np.zeros(YEAR, dtype=bool)
    for w in result.windows:
        advised[span_days(w.start, w.end)] = True
    if result.reliability is None or result.yield_fraction is None:
        blank = np.full(12, np.nan)
        return _Dates(advised, blank, blank, None, (None,) * 12, line.limiting_factor)
    way = next(w for w in crop.ways if w.way == result.way)
    lost = _of_months(by_day(site, fold, seasons(site, crop, way)).hazard_share)
    left = _of_months(np.where(advised, result.yield_fraction, np.nan))
    return _Dates(advised, _of_months(result.reliability), left, lost, _why_not(result), line.limiting_factor)


def _nursery(result: WayResult) -> int | None:
    """Days under cover before setting out, of the best window that tells; None where nothing is raised."""
    for w in (*result.windows, *result.possible):
        if w.raise_under_cover is not None:
            return (w.start - w.raise_under_cover[0]) % YEAR
    return None


def _less(found: Sequence[_Dates], month: int, asked: float) -> Less:
    """Why a month is not the plot's, by the type that does best in it."""
    known = [d for d in found if np.isfinite(d.works[month])]
    if not known:
        return Less(month + 1, next((d.limit for d in found if d.limit), None))
    best = max(known, key=lambda d: d.works[month])
    works = float(best.works[month])
    if works >= asked:
        return Less(month + 1, None, None, works, best.why[month])
    assert best.lost is not None
    share = best.lost[:, month]
    worst = int(np.nanargmax(share)) if np.isfinite(share).any() else 0
    if not share[worst] > 0.0:
        return Less(month + 1, None, None, works)
    return Less(month + 1, HAZARDS[worst], float(share[worst]), works)


def _more(found: Sequence[_Dates], month: int) -> More:
    """What a month of the plot leaves, by the type that yields most in it."""
    known = [d for d in found if np.isfinite(d.left[month])]
    if not known:
        return More(month + 1)
    best = max(known, key=lambda d: d.left[month])
    return More(month + 1, float(best.left[month]), float(best.works[month]))


def _moved(dates: _Dates, days: int) -> _Dates:
    """Dates told by the day of sowing under cover, so many days before setting out, to the nearest month."""
    months = -round(days / 30.4)
    return _Dates(
        dates.shifted(days),
        np.roll(dates.works, months),
        np.roll(dates.left, months),
        None if dates.lost is None else np.roll(dates.lost, months, axis=1),
        tuple(dates.why[(m - months) % 12] for m in range(12)),
        dates.limit,
    )


def _one(
    site: SiteDays, fold: Fold, said: LeafletLine, crops: Sequence[Crop], lines: dict[str, CropSeasons], asked: float
) -> BesideLeaflet:
    found = []
    for crop in crops:
        line = lines[crop.name]
        for result in line.starts:
            if result.way not in _WAYS[said.way]:
                continue
            dates = _dates(site, fold, crop, line, result)
            if said.way == "under cover":
                days = _nursery(result)
                if days is None:
                    continue
                dates = _moved(dates, days)
            found.append(dates)
    names = tuple(c.name for c in crops)
    if not found:
        nothing = tuple(Less(m) for m in said.months)
        return BesideLeaflet(said.crop, said.way, names, said.months, (), nothing, (), known=False)
    days = np.array([np.add.reduceat(d.advised.astype(int), MONTH_STARTS) for d in found]).max(axis=0)
    plot = tuple(m + 1 for m in range(12) if days[m] >= _LEAST_DAYS)
    return BesideLeaflet(
        crop=said.crop,
        way=said.way,
        crops=names,
        leaflet=said.months,
        plot=plot,
        less=tuple(_less(found, m - 1, asked) for m in said.months if m not in plot),
        more=tuple(_more(found, m - 1) for m in plot if m not in said.months),
    )


def beside_leaflet(
    site: SiteDays, chart: SowingChart, leaflet: Sequence[tuple[LeafletLine, Sequence[Crop]]]
) -> LeafletAnswer:
    """A leaflet beside the chart of a plot.

    Parameters
    ----------
    site : SiteDays
        The days that the chart rests on.
    chart : SowingChart
        Of all crops of the leaflet.
    leaflet : sequence of (LeafletLine, sequence of Crop)
        Each line with the types that its name stands for.
    """
    fold, lines = Fold.of(site), {line.crop: line for line in chart.crops}
    return LeafletAnswer(
        site=chart.site,
        record=chart.record,
        reliability_asked=chart.reliability_asked,
        lines=tuple(_one(site, fold, said, crops, lines, chart.reliability_asked) for said, crops in leaflet),
        warnings=chart.warnings,
        made_by=chart.made_by,
    )
