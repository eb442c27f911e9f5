"""The commands that ask a question of a place: each parses nothing, calls once, and prints or writes the answer."""

from __future__ import annotations

import argparse
import datetime as dt
import os
import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from sowcal.answers import (
    compare_sites,
    open_handbook,
    perennial_record,
    rate_crops,
    site_climate,
    sowing_chart,
    sowing_week,
)
from sowcal.commands.common import (
    asked_of,
    columns,
    crops_or_own,
    date_of,
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
)
from sowcal.crops.handbook import find_crops
from sowcal.crops.sheet import basis_counts, bibtex, cited, deciding_counts, distinct_facts, sheet, unknown_values
from sowcal.errors import InputError
from sowcal.garden.garden_file import open_garden
from sowcal.garden.plan import plan_garden
from sowcal.languages import say
from sowcal.outputs.json_form import basis_json, chart_json, compare_json, crops_json, rate_json, week_json
from sowcal.outputs.terminal import plain
from sowcal.plurals import counted
from sowcal.provenance import MadeBy
from sowcal.suitability.results import SowingChart
from sowcal.suitability.week import short_week
from sowcal.year import day_of_date

if TYPE_CHECKING:
    from sowcal.season_log import SeasonLog
    from sowcal.suitability.week import Week

__all__ = [
    "chart_command",
    "climate_command",
    "compare_command",
    "crops_command",
    "garden_command",
    "log_command",
    "rate_command",
    "season_command",
    "week_command",
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
        from sowcal.outputs.files import write_output

        for path in write_output(
            options.out,
            figures=lambda: climate_figures([summary], issued=day),
            answer=summary.to_json,
        ):
            tell(say("wrote {path}", path=path))
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
    answer = rate_json(chart.site, chart.record, verdicts, chart.made_by)
    if options.out:
        from sowcal.outputs.files import write_output

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

        for path in write_output(options.out, figures=pictures, answer=lambda: answer):
            tell(say("wrote {path}", path=path))
    elif options.json:
        print_json(answer)
    else:
        from sowcal.outputs.verdict_document import kind_name, rate_document, verdict_document

        if words and len(verdicts) == 1:
            show_document(verdict_document(chart.site, chart.record, verdicts[0], chart.made_by), options)
        else:
            book = open_handbook(options.crop_files)
            kinds = {v.crop: kind_name(book[v.crop].use, book[v.crop].part) for v in verdicts}
            told = rate_document(
                chart.site, chart.record, verdicts, lines=chart.crops, kinds=kinds, made_by=chart.made_by
            )
            show_document(told, options)
    return 0


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
        show_document(told, options)
    return 0


def _write_chart(chart: SowingChart, options: argparse.Namespace, day: dt.date) -> None:
    """Write the chart as pictures, calendar or JSON, by the ending of the file."""
    from sowcal.outputs.figure_chart import chart_figures
    from sowcal.outputs.files import write_output

    def pictures():
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

        return chart_calendar(chart, options.year or day.year, day)

    for path in write_output(options.out, figures=pictures, answer=lambda: chart_json(chart), texts={".ics": calendar}):
        tell(say("wrote {path}", path=path))


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


def compare_command(options: argparse.Namespace) -> int:
    """Print what the second place gains and loses against the first, or write the picture of both."""
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
        from sowcal.outputs.files import write_output

        def pictures():
            from sowcal.outputs.figure_climate import beside_figures, climate_figures

            places = [
                site_climate(first, years=years[0], issued=day),
                site_climate(second, what_ifs=options.what_ifs, years=years[1], issued=day),
            ]
            return [*climate_figures(places, issued=day), *beside_figures(result, issued=day)]

        for path in write_output(options.out, figures=pictures, answer=lambda: compare_json(result)):
            tell(say("wrote {path}", path=path))
    elif options.json:
        print_json(compare_json(result))
    else:
        from sowcal.outputs.place_document import compare_document

        show_document(compare_document(result), options)
    return 0


def week_command(options: argparse.Namespace) -> int:
    """Print the week, or write it to a file."""
    first = date_of(options.date, "--date") or dt.date.today()
    day = issued(options)
    if not 0 <= options.ahead <= 51:
        raise InputError(f"--ahead {options.ahead} is not a number of weeks between 0 and 51")
    site, words = site_and_crops(options)
    chart = sowing_chart(site, words, **asked_of(options, day))
    say_used(options)
    tell_warnings(chart.warnings, options)
    week = _with_log(options, site, sowing_week(chart, first, ahead=options.ahead), first)
    week = week if options.all else short_week(week)
    if options.out:
        from sowcal.outputs.files import write_output

        def calendar() -> str:
            from sowcal.outputs.calendar_file import week_calendar

            return week_calendar(week, first, day)

        for path in write_output(options.out, answer=lambda: week_json(week), texts={".ics": calendar}):
            tell(say("wrote {path}", path=path))
    elif options.json:
        print_json(week_json(week))
    else:
        from sowcal.outputs.reports import week_document

        show_document(week_document(week), options)
    return 0


def _log_of(options: argparse.Namespace, site: str, day: dt.date) -> SeasonLog:
    """The log of a site as it stands; what cannot be used of it is told by its line."""
    from sowcal.season_log import SeasonLog, log_path

    # what was done after the day that is asked for is no mistake of the log
    today = max(day, dt.date.today())
    log = SeasonLog.open(log_path(site), today=today, book=open_handbook(getattr(options, "crop_files", [])))
    for problem in log.problems:
        tell(f"{log.path}, line {problem.line}: {problem.text}")
    return log


def _garden_of(site: str) -> str | None:
    """The garden that a place names, or that is bundled with it; None where there is none."""
    from sowcal.garden.garden_file import bundled_garden_names

    if site.strip().lower() in bundled_garden_names():
        return site.strip().lower()
    if not site.lower().endswith(".toml"):
        return None
    from sowcal.weather.site_file import read_site_file

    named = read_site_file(site).garden
    return os.path.join(os.path.dirname(site), named) if named else None


def _with_log(options: argparse.Namespace, site: str, week: Week, first: dt.date) -> Week:
    """The week by what the log of the site knows, where it has one: nothing is told to be sown that is sown."""
    from sowcal.season_log import log_path

    if not os.path.lexists(log_path(site)):
        return week
    from sowcal.site_weather import season_of_site
    from sowcal.suitability.week import with_log

    log = _log_of(options, site, first)
    if not any(s.started <= first and (s.ended is None or s.ended >= first) for s in log.sown):
        return week
    book = open_handbook(options.crop_files)
    season = season_of_site(site, options.years, options.what_ifs, log, first, None, book, settings_of(options))
    if not options.json:
        tell(f"by the log {log.path}: what is sown is not advised again, and pickings are those of what stands")
    return with_log(week, season)  # type: ignore[arg-type]


def season_command(options: argparse.Namespace) -> int:
    """Print how what is sown stands and what comes, or what came of a growing year, or write it to a file."""
    from sowcal.outputs.season_document import review_text, season_text
    from sowcal.site import Site
    from sowcal.suitability.results import Review

    day = date_of(options.date, "--date") or issued(options)
    site, words = site_and_crops(options)
    if words:
        raise InputError(f"season tells of all that is in the log; {words[0]!r} is no bundled plot, file or LAT,LON")
    log = _log_of(options, site, day)
    garden = options.garden or _garden_of(site)
    mine = [] if options.year else _own_crops(options)
    place = Site(site, tuple(options.what_ifs), options.years, day)
    answer = place.season(
        log, date=day, year=options.year, own_values=options.crop_files, garden=garden, recent=options.recent,
        forecast=options.forecast, offered=mine,
    )  # fmt: skip
    say_used(options)
    if options.out:
        for path in answer.save(options.out):
            tell(say("wrote {path}", path=path))
    elif options.json:
        show(answer.to_json().rstrip("\n"))
    else:
        text: Any = review_text if isinstance(answer.result, Review) else season_text
        show(text(answer.result, width=columns(options), unicode=unicode_screen(options)))
    return 0


def _own_crops(options: argparse.Namespace) -> list[str]:
    """Crops of the grower's list by their names today; none for the whole handbook."""
    from sowcal.commands.common import own_names
    from sowcal.saved_settings import recall

    kept = recall()
    return [crop for name in kept.mine for crop in own_names(kept, name, options.crop_files)]


def log_command(options: argparse.Namespace) -> int:
    """Write down what was done or seen, take the last line back, take lines of elsewhere, or show the log."""
    from sowcal.outputs.season_document import log_json, log_text
    from sowcal.season_log import SeasonLog, event_in, log_path

    words, today = [w.strip() for w in options.words if w.strip()], dt.date.today()
    site = _log_site(options)
    path = log_path(site)
    if words and (options.undo or options.add):
        raise InputError(f"--{'undo' if options.undo else 'add'} takes no event; leave {words[0]!r} away")
    log, added, undone = SeasonLog.open(path, today=today, book=open_handbook()), 0, ""
    if options.undo:
        log, undone = log.undo(today=today)
    elif options.add:
        log, added = log.add_file(options.add, today=today)
    elif words:
        event, rest = event_in(words)
        if rest and options.amount is None and event in ("tank", "watered", "picked", "first picked"):
            options.amount = rest.pop() if re.fullmatch(r"\d+([.,]\d+)?", rest[-1]) else None
        cells = {name: getattr(options, name) for name in ("date", "sort", "bed", "plants", "amount", "note")}
        said = {name: value for name, value in cells.items() if value is not None}
        log, added = log.append(event, " ".join(rest), today=today, **said), 1
    for problem in log.problems:
        tell(f"line {problem.line}: {problem.text}")
    if options.json:
        print_json(log_json(log, added, undone))
        return 0
    done = f"{counted(added, 'line')} added" if words or options.add else f"taken away: {undone}" if undone else ""
    count = counted(len(log.entries), "line")
    head = f"The log {log.path}: {count}{f'; {done}' if done else ''}"
    if words:
        last = log.entries[-1] if log.entries else None
        head += f": {', '.join(c for c in last.cells() if c)}" if last else ""
        show(plain(head))
    else:
        show(plain(head) if not log.entries else log_text(log, head))
    return 0


def _log_site(options: argparse.Namespace) -> str:
    """The site whose log is meant: named, the grower's own, else the first bundled plot."""
    from sowcal.weather.open_site import looks_like_site

    if options.site:
        if not looks_like_site(options.site):
            raise InputError(f"--site {options.site!r} is no site; give a bundled plot, a file or LAT,LON")
        return options.site
    return own_place(options) or unsaid_place(options)


def garden_command(options: argparse.Namespace) -> int:
    """Print the plan, or write it to a file."""
    from sowcal.site_weather import open_record, record_of, record_warnings

    if len(options.words) > 1:
        raise InputError(f"one garden at a time; {', '.join(options.words)} are {len(options.words)}")
    garden = open_garden(options.words[0] if options.words else own_garden(options))
    name, dataset = open_record(garden.site, options.years, issued(options))
    plan = plan_garden(garden, name, dataset, begin=issued(options))
    say_used(options)
    for note in (*record_warnings(record_of(dataset), dataset), *plan.notes):
        tell(note)
    if options.out:
        from sowcal.outputs.calendar_file import garden_calendar, garden_csv
        from sowcal.outputs.figure_garden import garden_figures, shed_figures
        from sowcal.outputs.files import write_output

        on_paper = options.out.suffix.lower() == ".pdf"
        texts: dict[str, Callable[[], str] | str] = {
            ".csv": lambda: garden_csv(plan, options.table or "diary"),
            ".ics": lambda: garden_calendar(plan, issued(options)),
        }
        for path in write_output(
            options.out,
            figures=lambda: [*garden_figures(plan), *(shed_figures(plan) if on_paper else ())],
            answer=plan.to_json,
            texts=texts,
        ):
            tell(say("wrote {path}", path=path))
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
    """Print a list of crops, one crop's sheet, its sources as BibTeX, or the table of bases."""
    from sowcal.outputs.reports import basis_text, list_text, sheet_text

    book = open_handbook(options.crop_files)
    made_by = MadeBy(book.fingerprint)
    if options.basis:
        counts, facts, deciding = basis_counts(book), distinct_facts(book), deciding_counts(book)
        if options.json:
            print_json(basis_json(counts, facts, deciding, made_by))
        else:
            show(f"{len(book)} crop types\n\n{basis_text(counts, facts, deciding)}")
        return 0
    found = find_crops(book, " ".join(options.words), options.language or "") if options.words else list(book.values())
    asked = found if options.words or options.bibtex else []
    sheets = {c.name: sheet(book, c.name) for c in asked}
    if options.bibtex:
        show(bibtex(cited(line for of_crop in sheets.values() for line in of_crop)))
    elif options.json:
        print_json(crops_json(found, sheets, {c.name: unknown_values(book, c.name) for c in asked}, made_by))
    elif len(found) == 1:
        name = found[0].name
        show(sheet_text(found[0], sheets[name], unknown_values(book, name)))
        show(f"\n{made_by.short()}")
    else:
        show(list_text(found))
    return 0
