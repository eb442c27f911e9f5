"""The commands that ask a question of a place: each parses nothing, calls once, and prints or writes the answer."""

from __future__ import annotations

import argparse
import datetime as dt
import os
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from sowcal.answers import (
    open_handbook,
    perennial_record,
    rate_crops,
    site_climate,
    sowing_chart,
)
from sowcal.commands.common import (
    asked_of,
    columns,
    crops_or_own,
    issued,
    own_garden,
    own_place,
    print_json,
    say_used,
    settings_of,
    show,
    show_document,
    site_and_crops,
    sites_and_crops,
    tell,
    tell_warnings,
    unicode_screen,
    unsaid_place,
    write_out,
)
from sowcal.errors import InputError
from sowcal.outputs.harvest_words import with_recent
from sowcal.outputs.json_form import basis_json, chart_json, compare_json, crops_json, rate_json
from sowcal.provenance import MadeBy
from sowcal.suitability.results import SowingChart
from sowcal.year import day_of_date

if TYPE_CHECKING:
    from sowcal.outputs.tables import TableSheet
    from sowcal.suitability.compare import RecentYears

__all__ = [
    "chart_command",
    "climate_command",
    "compare_command",
    "crops_command",
    "garden_command",
    "rate_command",
]


def climate_command(options: argparse.Namespace) -> int:
    """Print the figures of a place, or write its picture."""
    site, rest = site_and_crops(options)
    if rest:
        raise InputError(f"{rest[0]!r} is no site; give a bundled plot, a file or LAT,LON")
    day = issued(options)
    summary = site_climate(site, years=options.years, issued=day)
    say_used(options)
    if options.out:
        for finding in summary.record_findings:  # a picture has no room for notes; text and JSON carry them
            tell(finding.line)
        from sowcal.outputs.figure_climate import climate_figures
        from sowcal.outputs.tables import climate_tables

        write_out(
            options,
            figures=lambda: climate_figures([summary], issued=day),
            answer=summary.to_json,
            tables=lambda: climate_tables(summary),
            issued=day,
        )
    elif options.json:
        print_json(summary.to_json())
    else:
        from sowcal.outputs.climate_document import climate_document

        show_document(climate_document(summary), options)
    return 0


def rate_command(options: argparse.Namespace) -> int:
    """Print verdicts, best first."""
    site, words = site_and_crops(options)
    day = issued(options)
    chart, verdicts = rate_crops(site, words, **asked_of(options, day))
    say_used(options)
    tell_warnings(chart.warnings, options)

    def answer() -> dict[str, Any]:
        return rate_json(chart.site, chart.record, verdicts, chart.made_by)

    if options.out:
        from sowcal.outputs.tables import rate_tables

        pictures = None
        if len(verdicts) == 1 and open_handbook(options.crop_files)[verdicts[0].crop].perennial is not None:
            from sowcal.outputs.figure_garden import years_figures

            crop = verdicts[0].crop
            years = perennial_record(
                site,
                [crop],
                settings_of(options),
                what_ifs=options.what_ifs,
                crop_files=options.crop_files,
                years=options.years,
            )

            def pictures():
                return years_figures(chart.site, crop, years, verdicts[0], issued=day, made_by=chart.made_by)

        write_out(options, figures=pictures, answer=answer, tables=lambda: rate_tables(verdicts), issued=day)
    elif options.json:
        print_json(answer())
    else:
        from sowcal.outputs.verdict_document import kind_name, rate_document, verdict_document

        if words and len(verdicts) == 1:
            told = verdict_document(chart.site, chart.record, verdicts[0], chart.made_by)
        else:
            book = open_handbook(options.crop_files)
            kinds = {v.crop: kind_name(book[v.crop].use, book[v.crop].part) for v in verdicts}
            told = rate_document(
                chart.site, chart.record, verdicts, lines=chart.crops, kinds=kinds, made_by=chart.made_by
            )
        show_document(with_recent(told, _recent(options, site, chart, day)), options)
    return 0


def _recent(options: argparse.Namespace, site: str, chart: SowingChart, day: dt.date) -> RecentYears | None:
    """What the last years of the record move, where all of it was asked for, and no water that there is."""
    if options.years or options.rain_fed or options.most_water is not None:
        return None
    from sowcal.beside import recent_years

    return recent_years(
        site, chart, settings_of(options), what_ifs=options.what_ifs, crop_files=options.crop_files, issued=day
    )


def chart_command(options: argparse.Namespace) -> int:
    """Print the chart, or write it to a file."""
    site, words = site_and_crops(options)
    day = issued(options)
    chart = sowing_chart(site, words, **asked_of(options, day))
    say_used(options)
    tell_warnings(chart.warnings, options)
    if options.out:
        _write_chart(chart, options, day)
    elif options.json:
        print_json(chart_json(chart))
    else:
        from sowcal.outputs.chart_document import chart_document, overview_document

        if options.crops_named:
            dates = "possible" if options.possible else "recommended"
            told = chart_document(chart, start_month=options.first_month, show=dates)
        else:
            told = overview_document(chart, day_of_date(day), start_month=options.first_month)
        show_document(with_recent(told, _recent(options, site, chart, day)), options)
    return 0


def _write_chart(chart: SowingChart, options: argparse.Namespace, day: dt.date) -> None:
    """Write the chart as pictures, calendar, table or JSON, by the ending of the file."""
    from sowcal.outputs.figure_chart import chart_figures
    from sowcal.outputs.tables import chart_tables

    year = options.year or day.year

    def pictures():
        if not (options.crops_named or options.full):
            from sowcal.outputs.figure_overview import overview_figures

            return overview_figures(
                chart,
                orientation="landscape" if options.landscape else "portrait",
                sort=options.order,
                start_month=options.first_month,
                issued=day,
                today=day if options.today else None,
            )
        return chart_figures(
            chart,
            orientation="landscape" if options.landscape else "portrait",
            sort=options.order,
            start_month=options.first_month,
            issued=day,
            today=day if options.today else None,
            gambles=options.possible,
        )

    def calendar() -> str:
        from sowcal.outputs.calendar_file import chart_calendar

        return chart_calendar(chart, year, day)

    write_out(
        options,
        figures=pictures,
        answer=lambda: chart_json(chart),
        texts={".ics": calendar},
        tables=lambda: chart_tables(chart, year),
        issued=day,
    )


def _sites(options: argparse.Namespace) -> tuple[str, str, list[str]]:
    """Two sites and the crops of a call; where one is named, the other is the grower's own."""
    from sowcal.weather.site_file import bundled_names

    changed = bool(options.what_ifs or options.years)
    sites, words = sites_and_crops(options.words, 2)
    own = ""
    if not sites:
        own = own_place(options)
        sites = [own] if own else bundled_names()[:2]
    elif len(sites) == 1 and not changed:
        own = own_place(options)
        same = own and (own == sites[0].lower() or os.path.realpath(own) == os.path.realpath(sites[0]))
        sites = [own, *sites] if own and not same else sites
    if len(sites) == 1 and changed:
        sites *= 2  # a plot against itself under the changes, or its whole record beside some years of it
    if len(sites) < 2:
        if own:
            raise InputError(f"name the place to set beside yours ({own}), for example: sowcal compare other-plot.toml")
        raise InputError(f"compare needs two sites; what follows {sites[0]!r} is no bundled plot, file or LAT,LON")
    return sites[0], sites[1], crops_or_own(options, words)


def _beside_leaflet(options: argparse.Namespace) -> int:
    """Print where a plot differs from a printed leaflet and why, or write the picture of both."""
    from sowcal.beside import compare_leaflet
    from sowcal.outputs.leaflet_document import leaflet_document, leaflet_figures, leaflet_json, leaflet_tables

    sites, words = sites_and_crops(options.words, 1)
    if words:
        raise InputError(f"--leaflet tells of the leaflet's crops beside one place; leave {words[0]!r} away")
    site, day = sites[0] if sites else own_place(options) or unsaid_place(options), issued(options)
    answer = compare_leaflet(
        site, options.leaflet, settings_of(options), what_ifs=options.what_ifs, crop_files=options.crop_files,
        years=options.years, issued=day,
    )  # fmt: skip
    say_used(options)
    tell_warnings(answer.warnings, options)
    if options.out:
        write_out(
            options,
            figures=lambda: leaflet_figures(answer, issued=day),
            answer=lambda: leaflet_json(answer),
            tables=lambda: leaflet_tables(answer),
            issued=day,
        )
    elif options.json:
        print_json(leaflet_json(answer))
    else:
        show_document(leaflet_document(answer, everything=options.all), options)
    return 0


def compare_command(options: argparse.Namespace) -> int:
    """Print what the second place gains and loses against the first, or write the picture of both."""
    from sowcal.beside import compare_sites

    if options.leaflet:
        return _beside_leaflet(options)
    first, second, crops = _sites(options)
    years = ("" if first == second else options.years, options.years)
    day = issued(options)
    result = compare_sites(
        first,
        second,
        crops,
        settings_of(options),
        what_ifs=((), options.what_ifs),
        crop_files=options.crop_files,
        years=years,
        issued=day,
    )
    say_used(options)
    tell_warnings(result.warnings, options)
    if options.out:
        from sowcal.outputs.tables import compare_tables

        def pictures():
            from sowcal.outputs.figure_climate import beside_figures, climate_figures

            places = [
                site_climate(first, years=years[0], issued=day),
                site_climate(second, what_ifs=options.what_ifs, years=years[1], issued=day),
            ]
            return [*climate_figures(places, issued=day), *beside_figures(result, issued=day)]

        write_out(
            options,
            figures=pictures,
            answer=lambda: compare_json(result),
            tables=lambda: compare_tables(result),
            issued=day,
        )
    elif options.json:
        print_json(compare_json(result))
    else:
        from sowcal.outputs.place_document import compare_document

        show_document(compare_document(result), options)
    return 0


def garden_command(options: argparse.Namespace) -> int:
    """Print the plan, or write it to a file."""
    from sowcal.crops.handbook import handbook
    from sowcal.garden.garden_file import open_garden
    from sowcal.kept_answers import planned
    from sowcal.outputs.files import TABLES
    from sowcal.site_weather import open_record, record_of, record_warnings

    if len(options.words) > 1:
        raise InputError(f"one garden at a time; {', '.join(options.words)} are {len(options.words)}")
    if options.table and (options.json or (options.out and options.out.suffix.lower() not in TABLES)):
        other = f"--out {options.out.name}" if options.out else "--json"
        raise InputError(
            f"--table {options.table} is one table for the screen or for --out FILE.csv or .xlsx, and {other} "
            "holds the whole plan; leave one of the two out"
        )
    garden = open_garden(options.words[0] if options.words else own_garden(options))
    name, dataset = open_record(garden.site, options.years, issued(options))
    plan = planned(garden, name, dataset, None, handbook(), issued(options))
    say_used(options)
    for note in (*record_warnings(record_of(dataset), dataset), *plan.notes):
        tell(note)
    if options.out:
        from sowcal.outputs.calendar_file import garden_calendar
        from sowcal.outputs.figure_garden import garden_figures
        from sowcal.outputs.shed_sheets import shed_figures
        from sowcal.outputs.tables import GARDEN_TABLES, garden_tables

        chosen = [options.table] if options.table else GARDEN_TABLES
        on_paper = options.out.suffix.lower() == ".pdf"
        write_out(
            options,
            figures=lambda: [*garden_figures(plan), *(shed_figures(plan) if on_paper else ())],
            answer=plan.to_json,
            texts={".ics": lambda: garden_calendar(plan, issued(options))},
            tables=lambda: garden_tables(plan, chosen),
            issued=issued(options),
        )
    elif options.json:
        print_json(plan.to_json())
    else:
        from sowcal.outputs.garden_document import garden_table_text, garden_text

        asked: dict[str, Any] = {"width": columns(options), "unicode": unicode_screen(options)}
        if options.table:
            show(garden_table_text(plan, options.table, **asked))
        else:
            show(garden_text(plan, everything=options.all, **asked))
    return 0


def crops_command(options: argparse.Namespace) -> int:
    """Print or write a list of crops, one crop's sheet, its sources as BibTeX, or the table of bases."""
    from sowcal.crops.handbook import find_crops
    from sowcal.crops.sheet import basis_counts, bibtex, cited, deciding_counts, distinct_facts, sheet, unknown_values
    from sowcal.outputs.reports import basis_text, list_text, sheet_text
    from sowcal.outputs.tables import basis_tables, crops_tables

    book = open_handbook(options.crop_files)
    made_by = MadeBy(book.fingerprint)
    if options.basis:
        counts, facts, deciding = basis_counts(book), distinct_facts(book), deciding_counts(book)
        if options.out:
            _write_crops(options, lambda: basis_json(counts, facts, deciding, made_by), lambda: basis_tables(counts))
        elif options.json:
            print_json(basis_json(counts, facts, deciding, made_by))
        else:
            show(f"{len(book)} crop types\n\n{basis_text(counts, facts, deciding)}")
        return 0
    found = find_crops(book, " ".join(options.words), options.language or "") if options.words else list(book.values())
    asked = found if options.words or options.bibtex else []
    sheets = {c.name: sheet(book, c.name) for c in asked}
    unknown = {c.name: unknown_values(book, c.name) for c in asked}
    if options.bibtex:
        if options.out:
            raise InputError("--bibtex goes to the screen; write `sowcal crops --bibtex > sources.bib`")
        show(bibtex(cited(line for of_crop in sheets.values() for line in of_crop)))
    elif options.out:
        _write_crops(options, lambda: crops_json(found, sheets, unknown, made_by), lambda: crops_tables(found, sheets))
    elif options.json:
        print_json(crops_json(found, sheets, unknown, made_by))
    elif len(found) == 1:
        name = found[0].name
        show(sheet_text(found[0], sheets[name], unknown[name]))
        show(f"\n{made_by.short()}")
    else:
        show(list_text(found))
    return 0


def _write_crops(
    options: argparse.Namespace, answer: Callable[[], Any], tables: Callable[[], Sequence[TableSheet]]
) -> None:
    """Write what the handbook says as a table or JSON."""
    write_out(options, answer=answer, tables=tables, issued=issued(options))
