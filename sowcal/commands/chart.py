"""`sowcal chart`: the month-by-month sowing chart."""

from __future__ import annotations

import argparse

from sowcal.answers import sowing_chart
from sowcal.commands.common import columns, issued, print_json, settings_of, show, site_and_crops, tell, unicode_screen
from sowcal.outputs.json_form import chart_json

__all__ = ["run"]


def run(options: argparse.Namespace) -> int:
    """Print the chart, or write it to a file."""
    site, words = site_and_crops(options.words)
    day = issued(options)
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
    if options.out:
        from sowcal.outputs.figure_chart import chart_figures
        from sowcal.outputs.files import write_output

        def pictures():
            return chart_figures(
                chart,
                orientation="landscape" if options.landscape else "portrait",
                sort=options.sort,
                start_month=options.first_month,
                issued=day,
                today=day if options.today else None,
                gambles=options.possible,
            )

        def calendar() -> str:
            from sowcal.outputs.calendar_file import chart_calendar

            return chart_calendar(chart, options.year or day.year, day)

        for path in write_output(
            options.out, figures=pictures, answer=lambda: chart_json(chart), texts={".ics": calendar}
        ):
            tell(f"wrote {path}")
    elif options.json:
        print_json(chart_json(chart))
    else:
        from sowcal.outputs.text_chart import chart_text

        show(
            chart_text(
                chart,
                width=columns(options),
                unicode=unicode_screen(options),
                start_month=options.first_month,
                show="possible" if options.possible else "recommended",
            )
        )
    return 0
