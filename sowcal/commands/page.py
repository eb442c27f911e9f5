"""`sowcal page`: one page to keep, for a browser without a network."""

from __future__ import annotations

import argparse
import datetime as dt
import os
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from sowcal.answers import (
    garden_plan,
    open_handbook,
    open_record,
    rate_crops,
    site_climate,
    sowing_week,
    windows_by_water,
)
from sowcal.beside import compare_sites
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
    write_out,
)
from sowcal.crops.handbook import named_crops
from sowcal.crops.sheet import sheet
from sowcal.errors import InputError
from sowcal.kept_files import remembered
from sowcal.languages import say, spoken
from sowcal.microclimate import check_together, with_what_ifs
from sowcal.suitability.compare import CompareResult
from sowcal.suitability.results import CropVerdict, SeasonNow
from sowcal.year import day_of_date

if TYPE_CHECKING:
    from sowcal.outputs.document import Document
    from sowcal.outputs.page import Place
    from sowcal.outputs.page_script import StepsTold

__all__ = ["citations", "on_less_water", "other_names", "page_command", "place_of"]

_MOST = 2  # places on one page: more would not stay small enough for a phone
# Steps of the sliders, beside what the page is made with: from an even chance to nearly sure, from a third of a crop to
# nearly a sound one. How fine they are is a choice between what is asked and the size of the page; no source.
_RELIABILITIES = (0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95)
_WATERS = (400.0, 200.0, 100.0, 50.0, 0.0)  # litres per m2 of bed that may be drawn in a dry year
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


def citations(crop_files: list[str], crops: list[str]) -> list[str]:
    """Published sources of the crops' numbers, in the order of their letters."""
    book = open_handbook(crop_files)

    def cited() -> list[str]:
        return sorted({line.citation for crop in crops for line in sheet(book, crop) if line.basis == "published"})

    return remembered("cited", [part.encode() for part in (book.fingerprint, *crops)], cited, dict)


def other_names(crop_files: list[str], crops: list[str]) -> dict[str, tuple[str, ...]]:
    """Every other name by which the handbook finds each crop, in any language."""
    book = open_handbook(crop_files)
    named: dict[str, set[str]] = {}
    for row in book.rows("names"):
        named.setdefault(row["crop"], set()).add(row["name"])
    out = {}
    for crop in (book[name] for name in crops):
        own = {crop.kind, crop.botanical_name, *crop.synonyms} - {crop.name}
        out[crop.name] = tuple(sorted(own | named.get(crop.name, set()) | named.get(crop.kind, set())))
    return out


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


def _steps(
    site: str, crops: list[str], options: argparse.Namespace, day: dt.date, waters: Sequence[float | None]
) -> tuple[StepsTold, ...]:
    """Windows under the steps of the sliders, the settings asked for among them, for each most of stored water."""
    from sowcal.outputs.page_script import steps_for_page

    often = sorted({*_RELIABILITIES, options.reliability})
    much = sorted({*_LEAST_YIELDS, options.least_yield})
    asked = asked_of(options, day)
    del asked["most_water"]
    return windows_by_water(site, crops, often, much, waters, steps_for_page(options.first_month), **asked)


def on_less_water(
    site: str, crops: list[str], options: argparse.Namespace, day: dt.date
) -> tuple[tuple[float, StepsTold], ...]:
    """Windows of the crops named, or else of the grower's list, on less stored water than the page is asked with.

    What a start day draws takes a tenth of a second a crop, so that a whole handbook would keep a reader waiting.
    """
    asked = options.most_water
    litres = [n for n in _WATERS if asked is None or n < asked] if not options.rain_fed else []
    chosen = crops or [crop for crop in crops_or_own(argparse.Namespace(**{**vars(options), "all": False}), [])]
    return tuple(zip(litres, _steps(site, chosen, options, day, litres), strict=True)) if litres else ()


def place_of(site: str, crops: list[str], options: argparse.Namespace, day: dt.date) -> Place:
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
        steps=_steps(site, crops, options, day, (options.most_water,))[0],
        water=on_less_water(site, crops, options, day),
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


def _season(site: str, options: argparse.Namespace, day: dt.date) -> SeasonNow | None:
    """How what the log of a site tells of stands; None where it has none, or tells of nothing that was sown."""
    from sowcal.season_log import SeasonLog, log_path
    from sowcal.site_weather import season_of_site

    if not os.path.lexists(log_path(site)):
        return None
    book = open_handbook(options.crop_files)
    log = SeasonLog.open(log_path(site), today=max(day, dt.date.today()), book=book)
    if not any(sown.started <= day for sown in log.sown):
        return None
    found = season_of_site(site, options.years, options.what_ifs, log, day, None, book, settings_of(options))
    return found  # type: ignore[return-value]


def _with_season(place: Place, season: SeasonNow | None) -> Place:
    """The place with its week by what the log knows: nothing is told to be sown that is sown."""
    from sowcal.suitability.week import with_log

    return place if season is None or place.week is None else replace(place, week=with_log(place.week, season))


def _season_told(logged: Sequence[SeasonNow | None]) -> Document | None:
    """The first season in progress of some places as a document."""
    season = next(filter(None, logged), None)
    if season is None:
        return None
    from sowcal.outputs.season_document import season_document

    return season_document(season)


def page_command(options: argparse.Namespace) -> int:
    """Write the page of one place or two, and of a garden where one is named."""
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
    logged = [_season(site, options, date_of(options.week, "--week") or day) for site in sites]
    places = [_with_season(place_of(site, crops, options, day), s) for site, s in zip(sites, logged, strict=True)]
    if plan and plan.garden.site not in sites:
        for finding in plan.record.findings:
            tell(f"{plan.site}: {finding.line}")
    comparison = _comparison(sites, crops or mine, options, day) if len(sites) == 2 else None
    shown = [line.crop for line in places[0].chart.crops]
    sources, names = citations(options.crop_files, shown), other_names(options.crop_files, shown)
    if any(logged) and spoken() != "en":  # it has no words in other languages
        tell(say("how what is sown stands is told in English only, and is left off this page"))
        logged = []
    told = _season_told(logged)
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
            season=told,
        )

    write_out(options, texts={".html": page})
    return 0
