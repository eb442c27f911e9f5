"""The commands that follow a season: what to do this week, what was done, and how what is sown stands."""

from __future__ import annotations

import argparse
import datetime as dt
import os
import re
from typing import TYPE_CHECKING, Any

from sowcal.answers import open_handbook, sowing_chart, sowing_week
from sowcal.commands.common import (
    asked_of,
    columns,
    date_of,
    issued,
    own_place,
    print_json,
    say_used,
    settings_of,
    show,
    show_document,
    site_and_crops,
    tell,
    tell_warnings,
    unicode_screen,
    unsaid_place,
    write_out,
)
from sowcal.errors import InputError
from sowcal.languages import counted, phrase, say
from sowcal.outputs.json_form import week_json
from sowcal.outputs.terminal import plain
from sowcal.suitability.week import short_week
from sowcal.year import clock_day

if TYPE_CHECKING:
    from sowcal.season_log import SeasonLog
    from sowcal.suitability.week import Week

__all__ = ["log_command", "season_command", "week_command"]


def week_command(options: argparse.Namespace) -> int:
    """Print the week, or write it to a file."""
    first = date_of(options.date, "--date") or clock_day()
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
        from sowcal.outputs.tables import week_tables

        def calendar() -> str:
            from sowcal.outputs.calendar_file import week_calendar

            return week_calendar(week, first, day)

        write_out(
            options,
            answer=lambda: week_json(week),
            texts={".ics": calendar},
            tables=lambda: week_tables(week, first),
            issued=day,
        )
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
    _tell_problems(log, f"{log.path}, ")
    return log


def _tell_problems(log: SeasonLog, where: str = "") -> None:
    """What cannot be used of a log, by line; days ahead once, for where the clock has gone back they are all."""
    ahead = [p for p in log.problems if " lies ahead of " in p.text]
    for problem in log.problems:
        if problem not in ahead[1:]:
            tell(f"{where}line {problem.line}: {problem.text}")
    if more := len(ahead[1:]):
        tell(f"{counted(more, 'line')} more of the log lie ahead of that day; look at this computer's clock")


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
        said = phrase("by the log {path}: what is sown is not advised again, and pickings are those of what stands")
        tell(say(said, path=log.path))
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

    words, today = [w.strip() for w in options.words if w.strip()], clock_day()
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
    _tell_problems(log)
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
