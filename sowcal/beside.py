"""The calls that set one thing beside another: two places, or a place and a printed leaflet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sowcal import kept_answers
from sowcal.answers import open_handbook, rate_crops, site_climate, sowing_chart
from sowcal.crops.handbook import crop_words, find_crops
from sowcal.errors import InputError
from sowcal.files import csv_rows, read_lines
from sowcal.settings import Settings
from sowcal.site_weather import Place, day_of_issue, open_for_answer, open_record
from sowcal.suitability.compare import CompareResult, RecentYears, compare, crops_recent
from sowcal.suitability.results import SowingChart

if TYPE_CHECKING:
    from sowcal.suitability.leaflet import LeafletAnswer

__all__ = ["compare_leaflet", "compare_sites", "recent_years"]


def compare_sites(
    first: Place,
    second: Place,
    crops: str | Iterable[str] = (),
    settings: Settings | None = None,
    *,
    what_ifs: tuple[Sequence[str], Sequence[str]] = ((), ()),
    crop_files: Sequence[str] = (),
    years: tuple[str, str] = ("", ""),
    most_water: float | None = None,
    rain_fed: bool = False,
    issued: dt.date | None = None,
) -> CompareResult:
    """Two places side by side: climates, crops gained and lost, windows moved.

    Parameters
    ----------
    first, second
        Sites, as for :func:`sowing_chart`.
    crops : str or iterable of str
        Names; none means the whole handbook.
    settings : Settings, optional
        Reliability, yield and time asked for.
    what_ifs : two sequences of str
        Changes at the first and at the second place.
    crop_files : sequence of str
        Files with the grower's own crops and values.
    years : two str
        Years that count at the first and at the second place, as for :func:`sowing_chart`.
    most_water, rain_fed
        The water that annuals have at both, as for :func:`sowing_chart`.
    issued : datetime.date, optional
        Day of issue: days after it lie in the future and are told; today where left out.

    Raises
    ------
    InputError, NetworkError, NotJudgedError
        As for :func:`sowing_chart`.

    Examples
    --------
    >>> found = compare_sites("wrackhythe", "sallowdene", ["courgette"], issued=dt.date(2026, 1, 15))
    >>> found.sites, found.better["crops_sound"]
    (('Wrackhythe (invented)', 'Sallowdene (invented)'), (1, 1))
    """
    words = crop_words(crops)
    issued = day_of_issue(issued)
    rated, climates = [], []
    for site, changes, period in zip((first, second), what_ifs, years, strict=True):
        name, weather = open_record(site, period, issued)
        weather = replace(weather, title=name)
        asked: dict[str, Any] = {"what_ifs": changes, "issued": issued}
        water: dict[str, Any] = {"most_water": most_water, "rain_fed": rain_fed}
        rated.append(rate_crops(weather, words, settings, crop_files=crop_files, most_remedies=0, **water, **asked))
        climates.append(site_climate(weather, **asked).to_json())
    return compare((rated[0][0], rated[1][0]), (rated[0][1], rated[1][1]), (climates[0], climates[1]))


_RECENT = 15  # years that stand for the climate of today: a custom of ours, no source
_LEAST = 20.0  # years of record that it takes to set them against; ours, no source
_MOST = 40  # crops; of more the sentence would take as long as the chart


def recent_years(
    site: Place,
    chart: SowingChart,
    settings: Settings | None = None,
    *,
    what_ifs: Sequence[str] = (),
    crop_files: Sequence[str] = (),
    issued: dt.date | None = None,
) -> RecentYears | None:
    """What the last fifteen years of a record move against the whole of it, for the crops of its chart.

    The windows and odds are those of `sowing_chart` with `years="15"`, so that both tell the same.

    Parameters
    ----------
    site, settings, what_ifs, crop_files, issued
        As for :func:`sowing_chart`, and as the chart was asked for.
    chart : SowingChart
        Of the whole record.

    Returns
    -------
    RecentYears or None
        None of more crops than forty, of perennials alone, and where the site file holds its answers to years before
        the last.

    Examples
    --------
    >>> chart = sowing_chart("sallowdene", "carrot", issued=dt.date(2026, 1, 15))
    >>> recent_years("sallowdene", chart).why_not
    'generated'
    """
    if not 0 < len(chart.crops) <= _MOST or all(s.reliability is None for c in chart.crops for s in c.starts):
        return None
    if chart.record.kind == "generated" or chart.record.usable_years < _LEAST:
        why = "generated" if chart.record.kind == "generated" else "short"
        return RecentYears(_RECENT, chart.record.years, why_not=why)
    book = open_handbook(crop_files)
    opened = open_for_answer(site, settings, what_ifs, str(_RECENT), issued)
    if opened.record.last != chart.record.last:  # the site file holds the answers to years of its own
        return None
    crops = [book[line.crop] for line in chart.crops]
    recent = kept_answers.windows_alone(opened.weather, opened.settings, crops, book)
    moved = crops_recent(chart.crops, recent)
    return RecentYears(_RECENT, chart.record.years, moved)


def compare_leaflet(
    site: Place,
    leaflet: str | Path,
    settings: Settings | None = None,
    *,
    what_ifs: Sequence[str] = (),
    crop_files: Sequence[str] = (),
    years: str = "",
    issued: dt.date | None = None,
) -> LeafletAnswer:
    """A printed month table beside one place: crop by crop, months that only one of them has, and why.

    Parameters
    ----------
    site, settings, what_ifs, crop_files, years, issued
        As for :func:`sowing_chart`.
    leaflet : str or pathlib.Path
        CSV with the columns crop, way, months (and note): see :func:`sowcal.suitability.leaflet.leaflet_lines`.

    Raises
    ------
    InputError, NetworkError, NotJudgedError
        As for :func:`sowing_chart`; for a line of the leaflet that cannot be read or names no crop, with its number.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "months.csv"
    ...     _ = file.write_text("crop,way,months\\ncourgette,sow,Mar-May\\n")
    ...     found = compare_leaflet("sallowdene", file, issued=dt.date(2026, 1, 15))
    >>> [(less.month, less.hazard) for less in found.lines[0].less], [more.month for more in found.lines[0].more]
    ([(3, 'cold soil'), (4, 'cold soil')], [6, 7])
    """
    from sowcal.suitability.leaflet import beside_leaflet, leaflet_lines  # nobody else has to load it

    where = str(leaflet)
    said = leaflet_lines(csv_rows(read_lines(Path(leaflet)), where), where)
    book = open_handbook(crop_files)
    pairs = []
    for line in said:
        try:
            pairs.append((line, find_crops(book, line.crop)))
        except InputError as problem:
            raise InputError(problem.message, where=where, line=line.line) from None
    names = list(dict.fromkeys(crop.name for _, crops in pairs for crop in crops))
    asked: dict[str, Any] = {"what_ifs": what_ifs, "years": years, "issued": day_of_issue(issued)}
    chart = sowing_chart(site, names, settings, crop_files=crop_files, **asked)
    days = open_for_answer(site, settings, what_ifs, years, asked["issued"]).days()
    return beside_leaflet(days, chart, pairs)
