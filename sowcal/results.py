"""Answers as Python hands them out: read as JSON or as a table, saved to a file, shown in a notebook."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

from sowcal import answers
from sowcal.errors import InputError
from sowcal.languages import counted
from sowcal.outputs.json_form import chart_json, compare_json, json_text, rate_json, week_json
from sowcal.outputs.season_document import season_json
from sowcal.outputs.tables import (
    TableSheet,
    chart_tables,
    climate_tables,
    compare_tables,
    garden_tables,
    rate_tables,
    week_tables,
)
from sowcal.suitability.compare import CompareResult
from sowcal.suitability.results import CropVerdict, Review, SeasonNow, SowingChart
from sowcal.suitability.week import Week
from sowcal.year import month_day

if TYPE_CHECKING:
    from pathlib import Path

    import pandas as pd

    from sowcal.climate.place_figures import ClimateSummary
    from sowcal.garden.plan import GardenPlan

__all__ = [
    "Answer",
    "Chart",
    "Climate",
    "Comparison",
    "Plan",
    "SeasonInProgress",
    "Verdicts",
    "WeekOfJobs",
    "date_of",
]


class Answer:
    """What every answer can do; two are equal where their JSON is."""

    _json: Callable[[], Any]
    _issued: dt.date

    def to_json(self) -> str:
        """The text that the command prints with `--json`.

        Examples
        --------
        >>> import json
        >>> import sowcal
        >>> chart = sowcal.Site.open("sallowdene", issued="2026-01-15").chart("courgette")
        >>> json.loads(chart.to_json())["crops"][0]["crop"]
        'courgette'
        """
        return json_text(self._json())

    def to_pandas(self) -> pd.DataFrame:
        """The answer as a table.

        Examples
        --------
        >>> import sowcal
        >>> list(sowcal.Site.open("sallowdene").rate("courgette").to_pandas().columns[:3])
        ['crop', 'class', 'word']
        """
        import pandas as pd

        return pd.DataFrame(self._rows())

    def save(self, path: str | Path) -> list[Path]:
        """Write the answer to a file by its suffix; returns the files written.

        Raises
        ------
        InputError
            For a suffix that this answer does not take, or a place that cannot be written.

        Examples
        --------
        >>> import tempfile
        >>> import sowcal
        >>> chart = sowcal.Site.open("sallowdene", issued="2026-01-15").chart("courgette")
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     [path.name for path in chart.save(f"{folder}/chart.csv")]
        ['chart.csv']
        """
        from sowcal.outputs.files import write_output

        return list(
            write_output(
                path, answer=self._json, texts=self._texts(), tables=self._tables, issued=self._issued,
                **self._pictures(),
            )
        )  # fmt: skip

    def _rows(self) -> list[dict[str, Any]]:
        raise NotImplementedError

    def _texts(self) -> dict[str, Callable[[], str] | str]:
        return {}

    def _tables(self) -> Sequence[TableSheet]:
        """The tables of a file: those that the command writes, where it has some; else that of `to_pandas`."""
        rows = self._rows()
        head = tuple(dict.fromkeys(key for row in rows for key in row))
        return [TableSheet("answer", head, tuple(tuple(row.get(key) for key in head) for row in rows))]

    def _pictures(self) -> dict[str, Any]:
        return {}

    def _repr_html_(self) -> str:
        from html import escape

        return f"<p>{escape(repr(self))}</p>{self.to_pandas().to_html(index=False, max_rows=60)}"

    def __eq__(self, other: object) -> bool:
        return type(self) is type(other) and self.to_json() == other.to_json()  # type: ignore[attr-defined]

    __hash__ = None  # type: ignore[assignment]


class Chart(Answer):
    """A sowing chart: for each crop and way of starting when it is advised and when it works.

    Attributes
    ----------
    result : SowingChart
        All that is known of it.
    """

    def __init__(self, result: SowingChart, issued: dt.date):
        self.result = result
        self._issued = issued
        self._json = lambda: chart_json(self.result)

    @property
    def notes(self) -> tuple[str, ...]:
        """What a reader must be told of the record behind it, a sentence each."""
        return self.result.warnings

    def week(self, date: dt.date | str, *, ahead: int = 0) -> WeekOfJobs:
        """What may be done in the week from a date on ('2026-03-16').

        Examples
        --------
        >>> import sowcal
        >>> week = sowcal.Site.open("sallowdene").chart("courgette").week("2026-05-04")
        >>> [job.job for job in week.result.jobs]
        ['raise under cover', 'sow outdoors', 'set out']
        """
        return WeekOfJobs(answers.sowing_week(self.result, date_of(date), ahead=ahead), date_of(date), self._issued)

    def _rows(self) -> list[dict[str, Any]]:
        rows = []
        for line in self.result.crops:
            for start in line.starts:
                for kind, windows in (("advised", start.windows), ("works", start.possible)):
                    for w in windows:
                        picking = w.first_picking
                        rows.append(
                            {
                                "crop": line.crop,
                                "way": start.way,
                                "kind": kind,
                                "from": month_day(w.start),
                                "to": month_day(w.end),
                                "best": month_day(w.best),
                                "reliability": w.reliability,
                                "yield_fraction": w.yield_fraction,
                                "years_decided": w.years_decided,
                                "first_picking": None if picking is None else month_day(picking.p50),
                            }
                        )
        return rows

    def _texts(self) -> dict[str, Callable[[], str] | str]:
        def calendar() -> str:
            from sowcal.outputs.calendar_file import chart_calendar

            return chart_calendar(self.result, self._issued.year, self._issued)

        return {**super()._texts(), ".ics": calendar}

    def _pictures(self) -> dict[str, Any]:
        def figures() -> Any:
            from sowcal.outputs.figure_chart import chart_figures

            return chart_figures(self.result, issued=self._issued)

        return {"figures": figures}

    def _tables(self) -> Sequence[TableSheet]:
        return chart_tables(self.result, self._issued.year)

    def __repr__(self) -> str:
        record = self.result.record
        return (
            f"<Chart of {self.result.site}: {counted(len(self.result.crops), 'crop')}, {record.first[:4]} to "
            f"{record.last[:4]}>"
        )


class WeekOfJobs(Answer):
    """What may be sown, set out, planted and picked in one week.

    Attributes
    ----------
    result : Week
    """

    def __init__(self, result: Week, first: dt.date, issued: dt.date):
        self.result, self._first, self._issued = result, first, issued
        self._json = lambda: week_json(self.result)

    def _rows(self) -> list[dict[str, Any]]:
        return [{k: v for k, v in job.items() if not isinstance(v, dict | list)} for job in self._json()["jobs"]]

    def _texts(self) -> dict[str, Callable[[], str] | str]:
        def calendar() -> str:
            from sowcal.outputs.calendar_file import week_calendar

            return week_calendar(self.result, self._first, self._issued)

        return {**super()._texts(), ".ics": calendar}

    def _tables(self) -> Sequence[TableSheet]:
        return week_tables(self.result, self._first)

    def __repr__(self) -> str:
        return f"<Week of {self.result.site} from {self._first}: {counted(len(self.result.jobs), 'job')}>"


class Verdicts(Answer, Sequence[CropVerdict]):
    """How far each crop suits a place, best first; a sequence of `CropVerdict`."""

    def __init__(self, chart: SowingChart, verdicts: Sequence[CropVerdict], issued: dt.date):
        self._chart, self._verdicts, self._issued = chart, tuple(verdicts), issued
        self._json = lambda: rate_json(chart.site, chart.record, list(self._verdicts), chart.made_by)

    @property
    def notes(self) -> tuple[str, ...]:
        """What a reader must be told of the record behind them, a sentence each."""
        return self._chart.warnings

    def __getitem__(self, at: Any) -> Any:
        return self._verdicts[at]

    def __len__(self) -> int:
        return len(self._verdicts)

    def __iter__(self) -> Iterator[CropVerdict]:
        return iter(self._verdicts)

    def _rows(self) -> list[dict[str, Any]]:
        return [
            {
                "crop": v.crop,
                "class": v.suitability,
                "word": v.word,
                "reliability": v.reliability,
                "limiting_factor": v.limiting_factor,
            }
            for v in self._verdicts
        ]

    def _tables(self) -> Sequence[TableSheet]:
        return rate_tables(self._verdicts)

    def __repr__(self) -> str:
        return f"<Verdicts on {counted(len(self), 'crop')} at {self._chart.site}>"


class Climate(Answer):
    """The figures of one place.

    Attributes
    ----------
    result : ClimateSummary
    """

    def __init__(self, result: ClimateSummary, issued: dt.date):
        self.result, self._issued = result, issued
        self._json = self.result.to_json

    def _rows(self) -> list[dict[str, Any]]:
        monthly = {k: v for k, v in self._json().items() if isinstance(v, list | tuple) and len(v) == 12}
        return [{"month": m + 1, **{k: v[m] for k, v in monthly.items()}} for m in range(12)]

    def _pictures(self) -> dict[str, Any]:
        def figures() -> Any:
            from sowcal.outputs.figure_climate import climate_figures

            return climate_figures([self.result], issued=self._issued)

        return {"figures": figures}

    def _tables(self) -> Sequence[TableSheet]:
        return climate_tables(self.result)

    def __repr__(self) -> str:
        return f"<Climate of {self.result.site}: {self.result.record_first} to {self.result.record_last}>"


class Comparison(Answer):
    """Two places side by side.

    Attributes
    ----------
    result : CompareResult
    """

    def __init__(self, result: CompareResult, issued: dt.date):
        self.result, self._issued = result, issued
        self._json = lambda: compare_json(self.result)

    def _rows(self) -> list[dict[str, Any]]:
        one, two = self.result.sites
        return [
            {
                "crop": c.crop,
                f"verdict at {one}": c.words[0],
                f"verdict at {two}": c.words[1],
                f"days advised at {one}": c.days[0],
                f"days advised at {two}": c.days[1],
            }
            for c in self.result.crops
        ]

    def _pictures(self) -> dict[str, Any]:
        def figures() -> Any:
            from sowcal.outputs.figure_climate import beside_figures

            return beside_figures(self.result, issued=self._issued)

        return {"figures": figures}

    def _tables(self) -> Sequence[TableSheet]:
        return compare_tables(self.result)

    def __repr__(self) -> str:
        return f"<Comparison of {self.result.sites[0]} and {self.result.sites[1]}>"


_RANGE = ("p10", "p50", "p90")
_RANGES = (
    "set_out",
    "emergence",
    "first_picking",
    "first_picking_any_sort",
    "last_picking",
    "yield_fraction",
    "expected",
)
# of a season's rows those that part into columns
_PARTS = {
    **dict.fromkeys((*_RANGES, "yield_fraction"), _RANGE),
    "best": ("start", "first_picking", "picked_after_days"),
}


class SeasonInProgress(Answer):
    """A season in progress, or one that is reviewed.

    Attributes
    ----------
    result : SeasonNow or Review
    """

    def __init__(self, result: SeasonNow | Review, issued: dt.date):
        self.result, self._issued = result, issued
        self._json = lambda: season_json(self.result)

    def _rows(self) -> list[dict[str, Any]]:
        """A row a sowing: ranges and shares part into columns, lists are counted."""
        told = self._json()
        rows = []
        for sowing in told["review" if isinstance(self.result, Review) else "sowings"]:
            row: dict[str, Any] = {}
            for key, value in sowing.items():
                if parts := _PARTS.get(key):
                    row |= {f"{key}_{part}": None if value is None else value[part] for part in parts}
                else:
                    row[key] = len(value) if isinstance(value, list) else value
            rows.append(row)
        return rows

    def _texts(self) -> dict[str, Callable[[], str] | str]:
        if isinstance(self.result, Review):
            return super()._texts()
        season = self.result

        def calendar() -> str:
            from sowcal.outputs.calendar_file import season_calendar

            return season_calendar(season, self._issued)

        return {**super()._texts(), ".ics": calendar}

    def _pictures(self) -> dict[str, Any]:
        season = self.result
        if isinstance(season, Review):
            return {}

        def figures() -> Any:
            from sowcal.outputs.figure_season import season_figures

            return season_figures(season, issued=self._issued)

        return {"figures": figures}

    def __repr__(self) -> str:
        what = f"year {self.result.year}" if isinstance(self.result, Review) else f"season on {self.result.date}"
        return f"<The {what} at {self.result.site}: {counted(len(self.result.sowings), 'sowing')}>"


class Plan(Answer):
    """A garden plan.

    Attributes
    ----------
    result : GardenPlan
    """

    def __init__(self, result: GardenPlan):
        self.result, self._issued = result, result.begin
        self._json = self.result.to_json

    def _rows(self) -> list[dict[str, Any]]:
        return [{k: v for k, v in p.items() if not isinstance(v, dict | list)} for p in self._json()["plants"]]

    def _pictures(self) -> dict[str, Any]:
        def figures() -> Any:
            from sowcal.outputs.figure_garden import garden_figures

            return garden_figures(self.result)

        return {"figures": figures}

    def _tables(self) -> Sequence[TableSheet]:
        return garden_tables(self.result)

    def __repr__(self) -> str:
        return f"<Plan of a garden at {self.result.site}: {counted(len(self.result.plants), 'crop')}>"


def date_of(day: dt.date | str) -> dt.date:
    """A date, or one written as '2026-03-16'."""
    if isinstance(day, dt.datetime):
        return day.date()
    if isinstance(day, dt.date):
        return day
    try:
        return dt.date.fromisoformat(day)
    except (TypeError, ValueError):
        raise InputError(f"{day!r} is no date; write it as '2026-03-16'") from None
