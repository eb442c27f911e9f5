"""`sowcal rate`: what suits a place, or whether one crop does, and why."""

from __future__ import annotations

import argparse
from typing import Any

from sowcal.answers import open_handbook, perennial_record, rate_crops
from sowcal.commands.common import columns, issued, print_json, settings_of, show, site_and_crops, tell, unicode_screen
from sowcal.outputs.json_form import rate_json

__all__ = ["run"]


def run(options: argparse.Namespace) -> int:
    """Print verdicts, best first."""
    site, words = site_and_crops(options.words)
    day = issued(options)
    chart, verdicts = rate_crops(
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
    answer = rate_json(chart.site, chart.record, verdicts, chart.made_by)
    if options.out:
        from sowcal.outputs.files import write_output

        pictures = None
        if len(verdicts) == 1 and open_handbook(options.crop_files)[verdicts[0].crop].perennial is not None:
            from sowcal.outputs.figure_years import years_figures

            crop = verdicts[0].crop
            years = perennial_record(site, crop, settings_of(options), what_ifs=options.what_ifs, years=options.years)

            def pictures():
                return years_figures(chart.site, crop, years, verdicts[0], issued=day, made_by=chart.made_by)

        for path in write_output(options.out, figures=pictures, answer=lambda: answer):
            tell(f"wrote {path}")
    elif options.json:
        print_json(answer)
    else:
        from sowcal.outputs.text_rate import rate_text, verdict_text

        look: dict[str, Any] = {"made_by": chart.made_by, "width": columns(options), "unicode": unicode_screen(options)}
        if words and len(verdicts) == 1:
            show(verdict_text(chart.site, chart.record, verdicts[0], **look))
        else:
            show(rate_text(chart.site, chart.record, verdicts, **look))
    return 0
