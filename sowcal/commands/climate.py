"""`sowcal climate`: what a place is like."""

from __future__ import annotations

import argparse

from sowcal.answers import site_climate
from sowcal.commands.common import columns, issued, print_json, show, site_and_crops, tell, unicode_screen
from sowcal.errors import InputError

__all__ = ["run"]


def run(options: argparse.Namespace) -> int:
    """Print the figures of a place, or write its picture."""
    site, rest = site_and_crops(options.words)
    if rest:
        raise InputError(f"{rest[0]!r} is no site; give a bundled plot, a file or LAT,LON")
    day = issued(options)
    summary = site_climate(site, years=options.years, issued=day)
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
            tell(f"wrote {path}")
    elif options.json:
        print_json(summary.to_json())
    else:
        from sowcal.outputs.text_climate import climate_text

        show(climate_text(summary, width=columns(options), unicode=unicode_screen(options)))
    return 0
