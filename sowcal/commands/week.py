"""`sowcal week`: what to raise, sow, set out, plant and pick this week."""

from __future__ import annotations

import argparse
import datetime as dt

from sowcal.answers import sowing_chart, sowing_week
from sowcal.commands.common import (
    columns,
    date_of,
    issued,
    print_json,
    settings_of,
    show,
    site_and_crops,
    tell,
    unicode_screen,
)
from sowcal.errors import InputError
from sowcal.outputs.json_week import week_json

__all__ = ["run"]


def run(options: argparse.Namespace) -> int:
    """Print the week, or write it to a file."""
    first = date_of(options.date, "--date") or dt.date.today()
    day = issued(options)
    if not 0 <= options.ahead <= 51:
        raise InputError(f"--ahead {options.ahead} is not a number of weeks between 0 and 51")
    site, words = site_and_crops(options.words)
    chart = sowing_chart(
        site,
        words,
        settings_of(options),
        what_ifs=options.what_ifs,
        crop_files=options.crop_files,
        years=options.years,
        most_water=options.most_water,
        rain_fed=options.rain_fed,
        issued=day,
    )
    for warning in chart.warnings:
        tell(warning)
    week = sowing_week(chart, first, ahead=options.ahead)
    if options.out:
        from sowcal.outputs.files import write_output

        def calendar() -> str:
            from sowcal.outputs.calendar_file import week_calendar

            return week_calendar(week, first, day)

        for path in write_output(options.out, answer=lambda: week_json(week), texts={".ics": calendar}):
            tell(f"wrote {path}")
    elif options.json:
        print_json(week_json(week))
    else:
        from sowcal.outputs.text_week import week_text

        show(week_text(week, width=columns(options), unicode=unicode_screen(options)))
    return 0
