"""`sowcal garden`: how many plants, how much bed, how much water, how long the tank lasts."""

from __future__ import annotations

import argparse

from sowcal.commands.common import columns, issued, print_json, show, tell, unicode_screen
from sowcal.errors import InputError
from sowcal.garden.garden_file import open_garden
from sowcal.garden.plan import plan_garden

__all__ = ["run"]


def run(options: argparse.Namespace) -> int:
    """Print the plan, or write it to a file."""
    from sowcal.opened import open_record, record_of, record_warnings

    if len(options.words) > 1:
        raise InputError(f"one garden at a time; {', '.join(options.words)} are {len(options.words)}")
    garden = open_garden(options.words[0] if options.words else None)
    name, dataset = open_record(garden.site, options.years, issued(options))
    plan = plan_garden(garden, name, dataset)
    for note in (*record_warnings(record_of(dataset), dataset), *plan.notes):
        tell(note)
    if options.out:
        from sowcal.outputs.figure_garden import garden_figures
        from sowcal.outputs.files import write_output

        for path in write_output(options.out, figures=lambda: garden_figures(plan), answer=plan.to_json):
            tell(f"wrote {path}")
    elif options.json:
        print_json(plan.to_json())
    else:
        from sowcal.outputs.text_garden import garden_text

        show(garden_text(plan, width=columns(options), unicode=unicode_screen(options)))
    return 0
