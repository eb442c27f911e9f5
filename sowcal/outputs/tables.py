"""Answers as tidy tables for spreadsheets, CSV or a workbook: a row a fact, units in the headings, dates in ISO 8601.

A day of the year has no year of its own: chart and week put it into the year asked for, and a span over New Year ends
in the year after. Nothing here reads the clock, so that the same answer and date of issue give the same bytes.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import zipfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sowcal.year import MONTH_STARTS, YEAR, day_of_date, month_day, month_of

if TYPE_CHECKING:
    from sowcal.climate.frost import FrostYear
    from sowcal.climate.place_figures import ClimateSummary
    from sowcal.crops.sheet import Line
    from sowcal.crops.tables import Crop
    from sowcal.garden.plan import GardenPlan
    from sowcal.suitability.compare import CompareResult
    from sowcal.suitability.results import CropVerdict, Harvest, SowingChart, Window
    from sowcal.suitability.week import Week, WeekJob

__all__ = [
    "GARDEN_TABLES",
    "TableSheet",
    "basis_tables",
    "chart_tables",
    "climate_tables",
    "compare_tables",
    "crops_tables",
    "csv_text",
    "garden_rows",
    "garden_tables",
    "rate_tables",
    "week_tables",
    "workbook",
]

Entry = str | int | float | dt.date | None


@dataclass(frozen=True)
class TableSheet:
    """One table: what it is of, its headings with their units, and its rows."""

    name: str
    head: tuple[str, ...]
    rows: tuple[tuple[Entry, ...], ...]


def _date(year: int, day: int) -> dt.date:
    """A day of the 365-day year as a date; days beyond it fall in the years after, days below 0 in those before."""
    year, day = year + day // YEAR, day % YEAR
    month = month_of(day)
    return dt.date(year, month + 1, day - MONTH_STARTS[month] + 1)


def _next(since: int, day: int) -> int:
    """The first such day of the year on or after another, counted on beyond New Year."""
    return since + (day - since) % YEAR


def _share(value: float | None) -> float | None:
    return None if value is None or value != value else round(float(value), 3)


_PICKED = ("first_picking_p10 (date)", "first_picking_p50 (date)", "first_picking_p90 (date)")
_HARVEST = (
    "stored_water (litres per m2 and season)", "yield_low (kg per m2)", "yield_high (kg per m2)",
    "picking (weeks a year)",
)  # fmt: skip
_CHART = (
    "crop", "way", "kind", "from (date)", "to (date)", "best (date)", "reliability (share of years)",
    "reliability_low (95 per cent, share of years)", "reliability_high (95 per cent, share of years)",
    "years_decided (years)", "yield_fraction (share of a full crop)", "under_cover_from (date)",
    "under_cover_to (date)", *_PICKED, "days_to_first_picking (days)", *_HARVEST,
)  # fmt: skip


def _harvest(harvest: Harvest) -> tuple[Entry, ...]:
    return (harvest.litres_per_m2, *(harvest.yield_here or (None, None)), harvest.weeks_of_picking)


def _chart_row(crop: str, way: str, kind: str, window: Window, year: int) -> tuple[Entry, ...]:
    """A window in the year in which it opens; its seedlings stand before it, its pickings come after its best day."""
    best = _next(window.start, window.best)
    cover: list[Entry] = [None, None]
    if window.raise_under_cover is not None:
        begun = window.start - (window.start - window.raise_under_cover[0]) % YEAR
        cover = [_date(year, begun), _date(year, _next(begun, window.raise_under_cover[1]))]
    picked: list[Entry] = [None, None, None, None]
    if (p := window.first_picking) is not None:
        middle = best + p.days_after_start
        early, late = middle - (p.p50 - p.p10) % YEAR, middle + (p.p90 - p.p50) % YEAR
        picked = [_date(year, early), _date(year, middle), _date(year, late), p.days_after_start]
    return (
        crop, way, kind, _date(year, window.start), _date(year, _next(window.start, window.end)), _date(year, best),
        *map(_share, (window.reliability, *window.interval)), window.years_decided, _share(window.yield_fraction),
        *cover, *picked,
    )  # fmt: skip


def chart_tables(chart: SowingChart, year: int) -> tuple[TableSheet, ...]:
    """The chart: a row a window, advised or working, its dates in a year.

    Examples
    --------
    >>> import sowcal
    >>> chart = sowcal.sowing_chart("sallowdene", ["courgette"], issued=dt.date(2026, 1, 15))
    >>> [str(cell) for cell in chart_tables(chart, 2026)[0].rows[0][:5]]
    ['courgette', 'sown outdoors', 'advised', '2026-05-09', '2026-07-11']
    """
    rows = [
        (*_chart_row(line.crop, start.way, kind, window, year), *_harvest(start.harvest))
        for line in chart.crops
        for start in line.starts
        for kind, windows in (("advised", start.windows), ("works", start.possible))
        for window in windows
    ]
    return (TableSheet("chart", _CHART, tuple(rows)),)


def rate_tables(verdicts: Iterable[CropVerdict]) -> tuple[TableSheet, ...]:
    """Verdicts: a row a crop, in the order given."""
    head = ("crop", "class", "word", "reliability (share of years)", "limiting_factor", *_HARVEST)
    rows = (
        (v.crop, v.suitability, v.word, _share(v.reliability), v.limiting_factor, *_harvest(v.harvest))
        for v in verdicts
    )
    return (TableSheet("rate", head, tuple(rows)),)


_WEEK = (
    "week_of (date)", "when", "job", "crop", "way", "chance", "from (date)", "to (date)", "best (date)",
    "reliability (share of years)", "beyond", "hazard", "again (date)",
)  # fmt: skip


def _week_row(job: WeekJob, first: dt.date, when: str) -> tuple[Entry, ...]:
    """A job with its dates; one that is open began on or before the last day of the week."""
    day = day_of_date(first)
    start = _next(day, job.start)
    if when == "this week" and start - day >= 7:
        start -= YEAR
    end = _next(start, job.end)

    def dated(day: int | None, since: int) -> dt.date | None:
        return None if day is None else _date(first.year, _next(since, day))

    return (
        first, when, job.job, job.crop, job.way, job.chance, _date(first.year, start), _date(first.year, end),
        dated(job.best, start), _share(job.reliability), job.beyond, job.hazard, dated(job.again, end + 1),
    )  # fmt: skip


def week_tables(week: Week, first: dt.date) -> tuple[TableSheet, ...]:
    """The week that begins with a date: a row a job of it, then those that open soon."""
    rows = [_week_row(job, first, "this week") for job in week.jobs]
    rows += [_week_row(job, first, "opens next") for job in week.coming]
    return (TableSheet("week", _WEEK, tuple(rows)),)


def compare_tables(result: CompareResult) -> tuple[TableSheet, ...]:
    """Two places: a row a crop and place."""
    head = ("crop", "place", "word", "days_advised (days a year)", "reliability (share of years)", "limiting_factor")
    rows = tuple(
        (
            c.crop,
            result.sites[k],
            c.words[k],
            c.days[k],
            _share(c.reliability[k]),
            c.limits[k],
            *_harvest(c.harvests[k]),
        )
        for c in result.crops
        for k in (0, 1)
    )
    return (TableSheet("compare", (*head, *_HARVEST), rows),)


_MONTHLY = {
    "tasmin": "mean_minimum (degC)",
    "tasmax": "mean_maximum (degC)",
    "pr": "rain (mm)",
    "reference_evapotranspiration": "reference_evapotranspiration (mm)",
    "hot_days_30": "days_above_30_degC (days)",
    "hot_days_35": "days_above_35_degC (days)",
    "warm_nights_20": "nights_above_20_degC (days)",
}
_YEARLY = {
    "years_without_frost": "share of years",
    "frost_days": "days a year",
    "growing_degree_days": "degC day a year",
    "chill_portions": "portions",
    "chill_hours": "hours from 0 to 7.2 degC",
    "chill_units": "Utah units",
    "shortest_day": "hours",
    "longest_day": "hours",
}


def _frost_dates(year: FrostYear, south: bool) -> tuple[Entry, ...]:
    """Both dates of a growing year; in the south its autumn falls in the calendar year after."""
    last, first = year.last_spring_frost, year.first_autumn_frost
    return (
        year.year,
        None if last is None else _date(year.year, last),
        None if first is None else _date(year.year + south, first),
    )


def climate_tables(summary: ClimateSummary) -> tuple[TableSheet, ...]:
    """A place: a row a month; a row a growing year with its frosts; and the figures of the year with their units."""
    known = {k: getattr(summary, k) for k in _MONTHLY if getattr(summary, k) is not None}
    months = tuple(
        (m + 1, *(None if v[m] is None or v[m] != v[m] else round(v[m], 3) for v in known.values())) for m in range(12)
    )
    south = (summary.latitude or 0.0) < 0.0
    frosts = tuple(_frost_dates(y, south) for y in summary.frost_by_year)
    figures = [(name, _share(getattr(summary, name)), unit) for name, unit in _YEARLY.items()]
    return (
        TableSheet("months", ("month", *(_MONTHLY[k] for k in known)), months),
        TableSheet("frost by year", ("year", "last_spring_frost (date)", "first_autumn_frost (date)"), frosts),
        TableSheet("year", ("figure", "value", "unit"), tuple(row for row in figures if row[1] is not None)),
    )


def _value_row(line: Line) -> tuple[Entry, ...]:
    never = line.value == float("inf")
    source = (line.source.key, line.citation) if line.source else (None, None)
    return (line.table, line.part, line.field, "never" if never else line.value, line.unit, line.basis, *source)


def crops_tables(crops: Iterable[Crop], sheets: Mapping[str, Sequence[Line]]) -> tuple[TableSheet, ...]:
    """Values of the crops that were named, each with its unit, basis and source; else a row a crop."""
    if sheets:
        head = ("crop", "table", "part", "quantity", "value", "unit", "basis", "source", "citation")
        lines = tuple((name, *_value_row(line)) for name, of_crop in sheets.items() for line in of_crop)
        return (TableSheet("crops", head, lines),)
    rows = tuple((c.name, c.botanical_name, c.family, "; ".join(c.synonyms)) for c in crops)
    return (TableSheet("crops", ("crop", "botanical_name", "family", "synonyms"), rows),)


def basis_tables(counts: Mapping[str, Mapping[str, int]]) -> tuple[TableSheet, ...]:
    """How many values of each table of the handbook rest on what."""
    kinds = list(dict.fromkeys(kind for count in counts.values() for kind in count))
    head = ("table", *(f"{kind} (values)" for kind in kinds))
    return (TableSheet("basis", head, tuple((t, *(c.get(k, 0) for k in kinds)) for t, c in counts.items())),)


def _plant_rows(plan: GardenPlan) -> list[list[str]]:
    out = [["crop", "plants", "will_do", "area_m2", "kg_a_year", "left_over_share", "litres_a_year", "starts", "price"]]
    for p in plan.plants:
        starts = " ".join(month_day(day) for day in p.starts)
        figures = (p.count, p.will_do, round(p.area, 1), round(p.picked, 1), round(p.surplus_share, 2))
        out.append([p.crop, *map(str, figures), f"{plan.by_crop.get(p.crop, 0.0):.0f}", starts, ""])
    return out


def _watering_rows(plan: GardenPlan) -> list[list[str]]:
    out = [
        ["zone", "month", "days_between", "minutes", "dry_year_minutes", "litres_a_month", "litres_an_hour", "turns"]
    ]
    for r in plan.sheet:
        given = [r.zone, str(r.month), str(r.days_between)]
        given += ["" if m is None else f"{m:.0f}" for m in (r.minutes, r.dry_year_minutes)]
        out.append([*given, f"{r.litres:.0f}", f"{r.flow:.0f}", str(r.turns)])
    return out


def _load_rows(plan: GardenPlan) -> list[list[str]]:
    return [["date", "litres"], *([load.date.isoformat(), f"{load.litres:.0f}"] for load in plan.loads)]


def _diary_rows(plan: GardenPlan) -> list[list[str]]:
    out = [["date", "week", "job", "crop", "bed", "from_m", "to_m", "amount", "unit", "note", "price", "done"]]
    for j in plan.diary:
        part = ["", ""] if j.part is None else [f"{m:g}" for m in j.part]
        amount = "" if j.amount is None else f"{j.amount:g}"
        out.append([j.date.isoformat(), str(j.week), j.job, j.crop, j.bed, *part, amount, j.unit, j.note, "", ""])
    return out


# The one list of a garden's tables: the command's choices are its keys.
GARDEN_TABLES: dict[str, Callable[[GardenPlan], list[list[str]]]] = {
    "diary": _diary_rows,
    "plants": _plant_rows,
    "watering": _watering_rows,
    "loads": _load_rows,
}


def garden_rows(plan: GardenPlan, table: str) -> list[list[str]]:
    """One table of a garden with its headings: figures without separators, dates in ISO 8601.

    Parameters
    ----------
    plan : GardenPlan
    table : str
        One of `GARDEN_TABLES`.
    """
    return GARDEN_TABLES[table](plan)


_NUMBER = re.compile(r"-?\d+(\.\d+)?(e[+-]?\d+)?")


def garden_tables(plan: GardenPlan, tables: Iterable[str] = GARDEN_TABLES) -> tuple[TableSheet, ...]:
    """Tables of a garden, those named or all; what is a number there is one, what is blank stays so."""

    def entry(name: str, cell: str) -> Entry:
        if name == "date":
            return dt.date.fromisoformat(cell)
        # the name of a bed may be of digits alone, and is a name all the same
        if name in ("bed", "zone", "crop", "note") or not _NUMBER.fullmatch(cell):
            return cell or None
        return float(cell) if "." in cell or "e" in cell else int(cell)

    out = []
    for table in tables:
        head, *rows = garden_rows(plan, table)
        made = tuple(tuple(entry(name, cell) for name, cell in zip(head, row, strict=True)) for row in rows)
        out.append(TableSheet(table, tuple(head), made))
    return tuple(out)


_FORMULA = ("=", "+", "@", "-", "\t", "\r")  # what a spreadsheet takes for the beginning of a formula


def _harmless(text: str) -> str:
    """A text of which no spreadsheet makes a formula."""
    return f"'{text}" if text[:1] in _FORMULA else text


def csv_text(sheet: TableSheet) -> str:
    """A table as CSV (RFC 4180, with line feeds): nothing for what is not known, and no text begins a formula."""
    made = io.StringIO()
    writer = csv.writer(made, lineterminator="\n")
    writer.writerow(sheet.head)
    for row in sheet.rows:
        writer.writerow(
            "" if c is None else c.isoformat() if isinstance(c, dt.date) else _harmless(c) if isinstance(c, str) else c
            for c in row
        )
    return made.getvalue()


_WIDEST = 40  # characters of a column of a workbook
_ILLEGAL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")  # no characters of XML 1.0
_STAMP = re.compile(rb"(<dcterms:(created|modified)[^>]*>)[^<]*(<)")


def workbook(sheets: Sequence[TableSheet], issued: dt.date) -> bytes:
    """A workbook (.xlsx), a sheet a table: numbers and dates as such, the headings fixed and filtered.

    Parameters
    ----------
    sheets : sequence of TableSheet
    issued : datetime.date
        Stands in the file as the day on which it was made, so that the same answer gives the same bytes.
    """
    import openpyxl
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for sheet in sheets:
        page = book.create_sheet(sheet.name)
        for r, row in enumerate([sheet.head, *sheet.rows], 1):
            for c, value in enumerate(row, 1):
                cell = page.cell(r, c, _ILLEGAL.sub("", value) if isinstance(value, str) else value)
                if isinstance(value, str):
                    cell.data_type = "s"  # a text, whatever it begins with
                elif isinstance(value, dt.date):
                    cell.number_format = "yyyy-mm-dd"
        page.freeze_panes = "B2"
        page.auto_filter.ref = page.dimensions
        for c, name in enumerate(sheet.head, 1):
            page.cell(1, c).font = Font(bold=True)
            longest = max((len(str(row[c - 1])) for row in sheet.rows if row[c - 1] is not None), default=0)
            page.column_dimensions[get_column_letter(c)].width = min(max(longest, len(name)) + 2, _WIDEST)
    book.properties.creator = "sowcal"
    made = io.BytesIO()
    book.save(made)
    return _same_bytes(made.getvalue(), issued)


def _same_bytes(packed: bytes, issued: dt.date) -> bytes:
    """A workbook whose dates of making are the date of issue, and those of its parts the first that zip knows."""
    made = io.BytesIO()
    stamp = f"{issued.isoformat()}T00:00:00Z".encode()
    with zipfile.ZipFile(io.BytesIO(packed)) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            data = old.read(part.filename)
            if part.filename == "docProps/core.xml":
                data = _STAMP.sub(rb"\g<1>" + stamp + rb"\g<3>", data)
            entry = zipfile.ZipInfo(part.filename, (1980, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(entry, data)
    return made.getvalue()
