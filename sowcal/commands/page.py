"""`sowcal page`: one page to keep, for a browser without a network."""

from __future__ import annotations

import argparse
import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

from sowcal.answers import (
    compare_sites,
    garden_plan,
    open_handbook,
    open_record,
    rate_crops,
    site_climate,
    sowing_week,
    windows_by_settings,
)
from sowcal.climate.frost import DaysAhead, days_ahead
from sowcal.climate.place_figures import ClimateSummary
from sowcal.climate.summary import as_sentences
from sowcal.commands.common import (
    asked_of,
    crops_or_own,
    date_of,
    issued,
    own_place,
    say_used,
    settings_of,
    sites_and_crops,
    tell,
    unsaid_place,
)
from sowcal.crops.handbook import named_crops
from sowcal.crops.sheet import sheet
from sowcal.errors import InputError
from sowcal.languages import say, spoken
from sowcal.microclimate import check_together, with_what_ifs
from sowcal.suitability.results import CompareResult, CropVerdict, SettingsSteps
from sowcal.year import day_of_date

if TYPE_CHECKING:
    from sowcal.outputs.page import Place

__all__ = ["page_command"]

_MOST = 2  # places on one page: more would not stay small enough for a phone
# Steps of the sliders, beside what the page is made with: from an even chance to nearly sure, from a third of a crop to
# nearly a sound one. How fine they are is a choice between what is asked and the size of the page; no source.
_RELIABILITIES = (0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95)
_LEAST_YIELDS = (0.3, 0.4, 0.5, 0.6, 0.7, 0.8)


def _sites(options: argparse.Namespace, of_garden: str | None) -> tuple[list[str], list[str], list[str]]:
    """Sites and crops of the call, and those that are starred; no site is the garden's, else the grower's own, else
    the one that stands in. Remembered crops are starred among all crops; crops that are named are all there is."""
    sites, crops = sites_and_crops(options.words, len(options.words))
    if len(sites) > _MOST:
        raise InputError(f"a page holds one place or two, and {len(sites)} were given; make a page for each pair")
    sites = sites or [of_garden or own_place(options) or unsaid_place(options)]
    mine = crops_or_own(options, crops)
    return sites, mine if crops else crops, mine


def _citations(crop_files: list[str], crops: list[str]) -> list[str]:
    """Published sources of the crops' numbers, in the order of their letters."""
    book = open_handbook(crop_files)
    return sorted({line.citation for crop in crops for line in sheet(book, crop) if line.basis == "published"})


def _names(crop_files: list[str], crops: list[str]) -> dict[str, tuple[str, ...]]:
    """Every other name by which the handbook finds each crop, in any language."""
    book = open_handbook(crop_files)
    found = {crop: {book[crop].kind, book[crop].botanical_name, *book[crop].synonyms} - {crop} for crop in crops}
    for row in book.rows("names"):
        for crop in crops:
            if row["crop"] in (crop, book[crop].kind):
                found[crop].add(row["name"])
    return {crop: tuple(sorted(names)) for crop, names in found.items()}


def _check_tries(options: argparse.Namespace) -> None:
    """Nothing where each change to be tried goes with those that hold anyway; else an InputError, before any work."""
    for change in options.tries:
        check_together(options.what_ifs)
        try:
            check_together([*options.what_ifs, change])
        except InputError as problem:
            raise InputError(problem.message, where="--try") from None


def _tried(
    site: str, crops: list[str], options: argparse.Namespace, change: str
) -> tuple[str, tuple[CropVerdict, ...]]:
    """A change in words, and the verdicts under it and under those the page has anyway."""
    says = with_what_ifs(open_record(site)[1], [change]).what_ifs or change
    asked = asked_of(options, issued(options)) | {"what_ifs": [*options.what_ifs, change], "most_remedies": 0}
    _, verdicts = rate_crops(site, crops, **asked)
    return says, tuple(verdicts)


def _climate(site: str, options: argparse.Namespace, said: tuple[str, ...]) -> ClimateSummary:
    """The figures of a place, without the notes that stand at the head of the page anyway."""
    found = site_climate(site, what_ifs=options.what_ifs, years=options.years, issued=issued(options))
    return replace(found, notes=tuple(n for n in found.notes if n not in as_sentences(said)))


def _ahead(site: str, options: argparse.Namespace, day: dt.date, first: dt.date) -> DaysAhead:
    """Frost and heat in the fortnight from a date on, in the years of the record as the plot has them."""
    weather = with_what_ifs(open_record(site, options.years, day)[1], options.what_ifs)
    return days_ahead(weather["tasmin"], weather["tasmax"], weather.time, day_of_date(first))


def _steps(site: str, crops: list[str], options: argparse.Namespace, day: dt.date) -> SettingsSteps:
    """Windows under the steps of the sliders, the settings asked for among them."""
    often = sorted({*_RELIABILITIES, options.reliability})
    much = sorted({*_LEAST_YIELDS, options.least_yield})
    return windows_by_settings(site, crops, often, much, **asked_of(options, day))


def _place(site: str, crops: list[str], options: argparse.Namespace, day: dt.date) -> Place:
    """All of one place that the page shows."""
    from sowcal.outputs.page import Place

    chart, verdicts = rate_crops(site, crops, **asked_of(options, day))
    for warning in chart.warnings:
        tell(warning)
    first = date_of(options.week, "--week") or day
    return Place(
        chart,
        tuple(verdicts),
        _climate(site, options, chart.warnings),
        changes=tuple(_tried(site, crops, options, change) for change in options.tries),
        week=sowing_week(chart, first, ahead=1),
        ahead=_ahead(site, options, day, first),
        steps=_steps(site, crops, options, day),
    )


def _comparison(sites: list[str], crops: list[str], options: argparse.Namespace, day: dt.date) -> CompareResult:
    """The two places of the page side by side."""
    return compare_sites(
        sites[0],
        sites[1],
        crops,
        settings_of(options),
        what_ifs=(options.what_ifs, options.what_ifs),
        crop_files=options.crop_files,
        years=(options.years, options.years),
        most_water=options.most_water,
        rain_fed=options.rain_fed,
        issued=day,
    )


def page_command(options: argparse.Namespace) -> int:
    """Write the page of one place or two, and of a garden where one is named."""
    from sowcal.outputs.files import write_output
    from sowcal.outputs.page import page_text

    if not options.out:
        raise InputError("name the file to write, for example --out plot.html")
    day = issued(options)
    date_of(options.week, "--week")  # a bad date is told before the work is done
    _check_tries(options)
    plan = None
    if options.garden and spoken() != "en":
        raise InputError("a garden is told in English only; leave --garden away, or add --language en")
    if options.garden:
        plan = garden_plan(options.garden, settings_of(options), crop_files=options.crop_files, issued=day)
    sites, crops, mine = _sites(options, plan.garden.site if plan else None)
    say_used(options)
    places = [_place(site, crops, options, day) for site in sites]
    if plan and plan.garden.site not in sites:
        for finding in plan.record.findings:
            tell(f"{plan.site}: {finding.line}")
    comparison = _comparison(sites, crops, options, day) if len(sites) == 2 else None
    shown = [line.crop for line in places[0].chart.crops]
    sources, names = _citations(options.crop_files, shown), _names(options.crop_files, shown)
    starred = [crop.name for crop in named_crops(open_handbook(options.crop_files), mine)] if mine else []

    def page() -> str:
        return page_text(
            places,
            issued=day,
            comparison=comparison,
            sources=sources,
            start_month=options.first_month,
            garden=plan,
            mine=starred,
            names=names,
            asked=(options.reliability, options.least_yield),
        )

    for path in write_output(options.out, texts={".html": page}):
        tell(say("wrote {path}", path=path))
    return 0
